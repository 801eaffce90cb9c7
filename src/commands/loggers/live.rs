//! What runs on by itself: a watched folder, and readings from a broker.
//!
//! *Invariants*: the ledger is opened anew for each save, so that what runs for weeks goes on after a restore, an upgrade or a
//! fault of the disk; what cannot be saved now is kept and tried again.
//!
//! *Not here*: which files stand still, what a message says (`feeds::logger`).

use super::super::shop::read_span;
use super::super::{Answer, Desk, Trouble, talk, upkeep};
use super::{moved, take};
use crate::clock::Clock;
use crate::feeds::logger::live::{self, Ear, HOST, Heard, News};
use crate::feeds::logger::watch::Folder;
use crate::ledger::Who;
use crate::shop::climate::Sample;
use crate::shop::logger_file::Logger;
use crate::shop::text::shown;
use crate::units::{Amount, Span};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::mpsc::RecvTimeoutError;
use std::time::Duration;

/// Most readings that wait for the ledger; older ones are dropped with a word.
const MOST_WAITING: usize = 100_000;

/// How many looks a file whose last line has no end is waited for.
const PATIENCE: u32 = 10;

fn pause(span: Span) -> Duration {
    Duration::from_millis(u64::try_from(span.0).unwrap_or(0))
}

fn say(desk: &mut Desk<'_>, value: &Value, lines: &[String]) -> Result<(), Trouble> {
    desk.print(value, lines)?;
    desk.out.flush()?;
    Ok(())
}

fn tell(desk: &mut Desk<'_>, text: &str) -> Result<(), Trouble> {
    say(desk, &json!({"word": text}), &[text.to_owned()])
}

// A backup that is due is written beside the work, as at the end of any command.
fn back_up(desk: &Desk<'_>) {
    if let Some((path, now)) = desk.due.take() {
        upkeep::backup_if_due(&path, now);
    }
}

/// Watches a folder.
pub(super) fn watch(desk: &mut Desk<'_>, path: &Path, every: &str, once: bool) -> Answer {
    let every = read_span(every)?;
    if every < Span::seconds(1) {
        return Err(Trouble::Input(
            "the folder is looked at once a second at the most; write --every 30s".to_owned(),
        ));
    }
    // Whose deed it is must be known before the first file comes.
    desk.who(None)?;
    desk.shop()?.ledger.may_save()?;
    let mut folder = Folder::new(path, if once { 1 } else { PATIENCE });
    let unreadable = |e: &std::io::Error| format!("folder {} cannot be read: {e}", path.display());
    folder.look().map_err(|e| Trouble::Input(unreadable(&e)))?;
    let mut strange: BTreeSet<PathBuf> = BTreeSet::new();
    let mut troubled: Option<String> = None;
    let mut code = 0;
    loop {
        std::thread::sleep(pause(every));
        match folder.look() {
            Ok(files) => {
                for file in files {
                    match one(desk, &file, &mut strange) {
                        Ok(()) => troubled = None,
                        Err(trouble @ (Trouble::Input(_) | Trouble::Rows(..))) => {
                            code = 2;
                            talk(&trouble.to_string());
                        }
                        Err(trouble) if once => return Err(trouble),
                        // The ledger or the disk: the file stays, and is tried again.
                        Err(trouble) => {
                            folder.again(&file);
                            let text = trouble.to_string();
                            if troubled.as_ref() != Some(&text) {
                                talk(&format!("{text}; it is tried again"));
                                troubled = Some(text);
                            }
                        }
                    }
                }
            }
            Err(e) => {
                let text = unreadable(&e);
                if troubled.as_ref() != Some(&text) {
                    talk(&text);
                    troubled = Some(text);
                }
            }
        }
        back_up(desk);
        if once {
            return Ok(code);
        }
    }
}

// One file that stands still.
fn one(desk: &mut Desk<'_>, file: &Path, strange: &mut BTreeSet<PathBuf>) -> Result<(), Trouble> {
    let mut shop = desk.shop()?;
    let name = super::base(file);
    let mut loggers: Vec<Logger> = shop.ledger.loggers_now()?;
    loggers.retain(|l| l.file.as_ref().is_some_and(|f| f.writes(&name)));
    match loggers.as_slice() {
        [logger] => {
            let taken = take(desk, &mut shop, logger, file, false, false)?;
            say(desk, &taken.value, &taken.lines)
        }
        _ if !strange.insert(file.to_owned()) => Ok(()),
        [] => tell(
            desk,
            &format!(
                "{}: no adopted logger writes files of this name; left",
                shown(&name)
            ),
        ),
        many => {
            let codes: Vec<&str> = many.iter().map(|l| l.code.as_str()).collect();
            tell(
                desk,
                &format!(
                    "{}: the loggers {} write files of this name; left",
                    shown(&name),
                    codes.join(", ")
                ),
            )
        }
    }
}

/// Listens to a broker.
pub(super) fn listen(desk: &mut Desk<'_>, port: u16, span: Option<&str>) -> Answer {
    let span = span.map(read_span).transpose()?;
    let who = desk.who(None)?;
    let (mut ear, clock, calendar) = {
        let shop = desk.shop()?;
        shop.ledger.may_save()?;
        let now = shop.clock.now();
        let mut list = Vec::new();
        for logger in shop.ledger.loggers_now()? {
            if logger.live.is_some() {
                let interval = shop.ledger.room_interval(&logger.room)?;
                let newest = shop.ledger.newest_reading(&logger.room, now)?;
                list.push((logger, interval, newest.map(|(s, _)| s.at)));
            }
        }
        if list.is_empty() {
            return Err(Trouble::Input(
                "no adopted logger has a table [live]; adopt a description with one".to_owned(),
            ));
        }
        (Ear::new(list, now), shop.clock, shop.calendar)
    };
    let began = clock.now();
    let topics = ear.topics();
    let news = live::listen(
        port,
        topics.clone(),
        &format!("hangtime-{}", std::process::id()),
    );
    let mut waiting: BTreeMap<usize, Vec<Sample>> = BTreeMap::new();
    let mut lost: Option<String> = None;
    let mut troubled: Option<String> = None;
    loop {
        let now = clock.now();
        if span.is_some_and(|span| now.since(began) >= span) {
            back_up(desk);
            return Ok(0);
        }
        match news.recv_timeout(Duration::from_secs(1)) {
            Ok(News::Connected) => {
                lost = None;
                let text = format!(
                    "the broker at {HOST}:{port} answers; listening to {}",
                    topics.join(", ")
                );
                tell(desk, &text)?;
            }
            Ok(News::Lost(why)) => {
                if lost.as_ref() != Some(&why) {
                    tell(
                        desk,
                        &format!("no broker at {HOST}:{port} ({why}); trying again"),
                    )?;
                    lost = Some(why);
                }
            }
            Ok(News::Message(message)) => {
                for heard in ear.hear(&message, clock.now()) {
                    match heard {
                        Heard::Word(text) => tell(desk, &text)?,
                        Heard::Reading { logger, sample } => {
                            waiting.entry(logger).or_default().push(sample);
                        }
                    }
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => {
                return Err(Trouble::System("the listening came to its end".to_owned()));
            }
        }
        let now = clock.now();
        for text in ear.silent(now, &|m| calendar.near(m, now)) {
            tell(desk, &text)?;
        }
        match keep(desk, &ear, &mut waiting, &who, clock) {
            Ok(()) => troubled = None,
            Err(Trouble::Io(e)) => return Err(Trouble::Io(e)),
            Err(trouble) => {
                let text = trouble.to_string();
                if troubled.as_ref() != Some(&text) {
                    talk(&format!("{text}; the readings wait and it is tried again"));
                    troubled = Some(text);
                }
                bound(&mut waiting);
            }
        }
        back_up(desk);
    }
}

// Saves what has come; what bears a time ahead of the clock waits for it.
fn keep(
    desk: &mut Desk<'_>,
    ear: &Ear,
    waiting: &mut BTreeMap<usize, Vec<Sample>>,
    who: &Who,
    clock: Clock,
) -> Result<(), Trouble> {
    let now = clock.now();
    let ripe = |list: &Vec<Sample>| list.iter().any(|s| s.at <= now);
    if !waiting.values().any(ripe) {
        return Ok(());
    }
    let mut shop = desk.shop()?;
    let mut told = Vec::new();
    for (at, list) in waiting.iter_mut() {
        let Some((logger, name)) = ear.of(*at) else {
            list.clear();
            continue;
        };
        let (come, ahead): (Vec<Sample>, Vec<Sample>) = list.iter().partition(|s| s.at <= now);
        if come.is_empty() {
            continue;
        }
        let stamp = shop.ledger.stamp(now, clock.boot_ms());
        let report = shop
            .ledger
            .add_readings(&logger.room, &name, &come, who, &stamp)?;
        *list = ahead;
        told.extend(come.iter().filter(|_| report.taken > 0).map(|s| {
            let damp = s.humidity.map(|h| format!(", {}", h.text(0)));
            let text = format!(
                "{}: {}{} at {}",
                shown(&logger.room),
                s.temperature.shown(desk.system(), 1),
                damp.unwrap_or_default(),
                shop.calendar.near(s.at, now)
            );
            let value = json!({
                "room": logger.room, "logger": logger.code, "at": shop.calendar.rfc3339(s.at),
                "temperature_mc": s.temperature.0, "humidity_cpct": s.humidity.map(|h| h.0),
            });
            (value, text)
        }));
        if report.taken > 0 {
            // They are saved: that it cannot be told what they did is no reason to try them again.
            match moved(&shop, &logger.room, &come, desk.system()) {
                Ok(None) => {}
                Ok(Some(text)) => {
                    told.push((json!({"room": logger.room, "excursion": text}), text));
                }
                Err(trouble) => talk(&trouble.to_string()),
            }
        }
    }
    drop(shop);
    for (value, text) in told {
        say(desk, &value, &[text])?;
    }
    Ok(())
}

fn bound(waiting: &mut BTreeMap<usize, Vec<Sample>>) {
    for list in waiting.values_mut() {
        let over = list.len().saturating_sub(MOST_WAITING);
        if over > 0 {
            list.drain(..over);
            talk(&format!(
                "{over} readings that waited too long were dropped"
            ));
        }
    }
}
