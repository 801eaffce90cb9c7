//! The watch: runs without a screen, looks at the record and the clock, and sends what the shop's rules say.
//!
//! *Invariants*: who is told is claimed in the record first, so that two watches and every start of one tell each person
//! once; what did not reach them is written down and said on standard error, and holds up nothing. It ends in order on a
//! signal, with nothing half-done.

use super::{Answer, Desk, Shop, Trouble, talk};
use crate::alerts::ways::{COMMAND_TAKES, DESKTOP_TAKES, Desktop, Notice, run};
use crate::alerts::{Sending, to_send};
use crate::clock::Clock;
use crate::ledger::{Claim, Ledger, LedgerError, Stamp, Who};
use crate::reports::lookout::Lookout;
use crate::reports::{alerts as report, clock, place};
use crate::shop::alert::{AlertRule, Way};
use crate::shop::words::{Role, Word};
use crate::units::Moment;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

/// How often the record is asked whether somebody wrote: the question costs some microseconds.
const POLL: Duration = Duration::from_millis(500);

/// How soon after one look the next may follow: a busy floor writes without a pause, and nobody is told by the second.
const APART: Duration = Duration::from_secs(5);

/// How long a ledger that could not be read is left alone.
const LEAVE: Duration = Duration::from_secs(10);

/// Tell people by the shop's rules, without a screen; runs until it is ended.
#[derive(Debug, clap::Args)]
pub(super) struct Watch {
    /// The program that is run for rules by "command": it reads one line of JSON for each alert.
    #[arg(long, value_name = "FILE")]
    command: Option<PathBuf>,
    /// Look once, send what is new, and end.
    #[arg(long)]
    once: bool,
    /// Print a unit file with which the system's service manager runs the watch, and end.
    #[arg(long, conflicts_with = "once")]
    unit: bool,
}

/// What was sent, and what did not reach them.
#[derive(Debug, Default)]
struct Sent {
    told: Vec<Value>,
    lines: Vec<String>,
}

/// What the watch keeps between two looks.
struct Keeper {
    command: Option<PathBuf>,
    who: Who,
    lookout: Lookout,
    desktop: Option<Desktop>,
    /// What was said on standard error and is not said again while it stays so.
    said: BTreeSet<String>,
}

impl Watch {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        if let Some(file) = self.command.as_ref().filter(|f| !f.is_file()) {
            return Err(Trouble::Input(format!(
                "command {} is no file; write the full path of a program",
                file.display()
            )));
        }
        let command = self
            .command
            .map(std::path::absolute)
            .transpose()
            .map_err(Trouble::Io)?;
        if self.unit {
            return unit(desk, command.as_deref());
        }
        let shop = desk.shop()?;
        // Nobody is told without its being written down.
        shop.ledger.may_save()?;
        let person = desk.options.initials.clone();
        let person = person.unwrap_or_else(|| "watch".to_owned());
        let mut keeper = Keeper {
            command,
            who: Who {
                writer: person.clone(),
                person,
                station: desk.options.station.clone(),
            },
            lookout: Lookout::default(),
            desktop: None,
            said: BTreeSet::new(),
        };
        if self.once {
            let Shop {
                mut ledger, clock, ..
            } = shop;
            let sent = keeper.look(&mut ledger, clock, &|| false)?;
            let mut lines = sent.lines;
            if lines.is_empty() {
                lines.push("nothing new to tell".to_owned());
            }
            desk.print(&json!({"sent": sent.told}), &lines)?;
            return Ok(0);
        }
        let ended = signals()?;
        talk("the watch has begun");
        keeper.keep(shop, &ended, || Ok(Ledger::open(&desk.path()?)?));
        talk("the watch has ended in order");
        Ok(0)
    }
}

// The first signal that ends the program.
fn signals() -> Result<Receiver<()>, Trouble> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let mut signals = signal_hook::iterator::Signals::new([SIGHUP, SIGINT, SIGTERM])?;
    let (tell, ended) = channel();
    thread::Builder::new()
        .name("signals".to_owned())
        .spawn(move || {
            for _ in signals.forever() {
                if tell.send(()).is_err() {
                    return;
                }
            }
        })?;
    Ok(ended)
}

impl Keeper {
    // Looks whenever somebody wrote and whenever the minute turns, until a signal comes.
    fn keep(
        &mut self,
        shop: Shop,
        ended: &Receiver<()>,
        open: impl Fn() -> Result<Ledger, Trouble>,
    ) {
        let clock = shop.clock;
        let mut ledger = Some(shop.ledger);
        let mut seen: Option<(i64, i64)> = None;
        let mut next = Clock::tick();
        let over = std::cell::Cell::new(false);
        let is_over = || {
            if ended.try_recv().is_ok() {
                over.set(true);
            }
            over.get()
        };
        while !over.get() {
            if Clock::until(next).is_zero() {
                match self.turn(&mut ledger, clock, &mut seen, &open, &is_over) {
                    Ok(false) => {}
                    Ok(true) => next = Clock::tick() + APART,
                    Err(why) => {
                        self.say(&format!("the ledger cannot be read now: {why}"));
                        ledger = None;
                        seen = None;
                        next = Clock::tick() + LEAVE;
                    }
                }
            }
            match ended.recv_timeout(POLL) {
                Ok(()) | Err(RecvTimeoutError::Disconnected) => return,
                Err(RecvTimeoutError::Timeout) => {}
            }
        }
    }

    // One turn; `true` when it looked.
    fn turn(
        &mut self,
        ledger: &mut Option<Ledger>,
        clock: Clock,
        seen: &mut Option<(i64, i64)>,
        open: &impl Fn() -> Result<Ledger, Trouble>,
        over: &impl Fn() -> bool,
    ) -> Result<bool, Trouble> {
        let ledger = if let Some(ledger) = ledger {
            ledger
        } else {
            let mut new = open()?;
            new.runs_under(clock.boot());
            ledger.insert(new)
        };
        let state = (ledger.data_version()?, clock.now().0.div_euclid(60_000));
        if *seen == Some(state) {
            return Ok(false);
        }
        let sent = self.look(ledger, clock, over)?;
        ledger.fold();
        *seen = Some(state);
        for line in sent.lines {
            talk(&line);
        }
        Ok(true)
    }

    // Says something once, until something else is said.
    fn say(&mut self, text: &str) {
        if self.said.insert(text.to_owned()) {
            talk(text);
        }
    }

    // Looks once and sends what is new, until it is over.
    fn look(
        &mut self,
        ledger: &mut Ledger,
        clock: Clock,
        over: &impl Fn() -> bool,
    ) -> Result<Sent, Trouble> {
        let at = clock.now();
        let rules: Vec<AlertRule> = ledger
            .alert_rules(at)?
            .into_iter()
            .map(|r| r.rule)
            .filter(|r| r.way != Way::Screen)
            .collect();
        if rules.is_empty() {
            self.say(
                "no rule asks for a notice or a command; \"hangtime alert rule set\" enters one",
            );
            return Ok(Sent::default());
        }
        let people: Vec<(String, Role)> = ledger
            .people()?
            .into_iter()
            .filter_map(|p| Some((p.initials, p.role?)))
            .collect();
        let floor = floor(ledger, clock, at)?;
        let alerts = self.lookout.alerts(ledger, &floor, at, at)?;
        let mut sent = Sent::default();
        for sending in to_send(&alerts, &rules, &people, at, &ledger.calendar()) {
            if over() {
                break;
            }
            if !self.can(sending.way) {
                continue;
            }
            let stamp = ledger.stamp(clock.now(), clock.boot_ms());
            let claims = ledger.claim_alerts(&sending.claims, &self.who, &stamp)?;
            if claims.is_empty() {
                continue;
            }
            let sending = Sending { claims, ..sending };
            let fault = self.send(&sending, ledger).err();
            let stamp = ledger.stamp(clock.now(), clock.boot_ms());
            self.written(ledger, &sending, fault.as_deref(), &stamp, &mut sent)?;
        }
        Ok(sent)
    }

    // Whether a way is there; where it is not, nothing is claimed, and it is told once it is.
    fn can(&mut self, way: Way) -> bool {
        match way {
            Way::Screen => false,
            Way::Command if self.command.is_none() => {
                self.say("a rule asks for a command; start the watch with --command FILE");
                false
            }
            Way::Command => true,
            Way::Desktop => {
                if self.desktop.is_none() {
                    match Desktop::begin() {
                        Ok(desktop) => self.desktop = Some(desktop),
                        Err(e) => self.say(&format!("no notice can be sent: {e}")),
                    }
                }
                self.desktop.as_ref().is_some_and(|d| !d.stuck())
            }
        }
    }

    fn send(&mut self, sending: &Sending, ledger: &Ledger) -> Result<(), String> {
        match (sending.way, &mut self.desktop, &self.command) {
            (Way::Desktop, Some(desktop), _) => {
                let to: Vec<&str> = sending.claims.iter().map(|c| c.to.as_str()).collect();
                let demo = if ledger.demo() { "DEMO " } else { "" };
                let notice = Notice {
                    title: format!(
                        "{demo}{}: {}",
                        ledger.name(),
                        sending.event.key.kind.title()
                    ),
                    text: format!("{} (for {})", sending.event.text, to.join(", ")),
                };
                desktop.tell(notice, DESKTOP_TAKES)
            }
            (Way::Command, _, Some(program)) => {
                let calendar = ledger.calendar();
                let value = report::sending_json(sending, ledger.name(), ledger.demo(), &calendar);
                run(program, &value.to_string(), COMMAND_TAKES)
            }
            _ => Err("the way is not there".to_owned()),
        }
    }

    // Says what came of a sending, and writes down what did not reach them.
    fn written(
        &self,
        ledger: &mut Ledger,
        sending: &Sending,
        fault: Option<&str>,
        stamp: &Stamp,
        sent: &mut Sent,
    ) -> Result<(), LedgerError> {
        let to: Vec<&str> = sending.claims.iter().map(|c| c.to.as_str()).collect();
        let what = format!("{} {}", sending.event.key.id(), sending.event.text);
        let way = sending.way.word();
        sent.lines.push(match fault {
            None => format!("told {} by {way}: {what}", to.join(", ")),
            Some(why) => format!("NOT told {} by {way}: {what}: {why}", to.join(", ")),
        });
        sent.told.push(json!({
            "id": sending.event.key.id(), "kind": sending.event.key.kind.word(), "to": to, "way": way,
            "rule": sending.rule, "text": sending.event.text, "not_reached": fault,
        }));
        if let Some(why) = fault {
            let claims: &[Claim] = &sending.claims;
            ledger.alerts_not_told(claims, why, &self.who, stamp)?;
        }
        Ok(())
    }
}

// The pieces in process, with every *ready* taken back that the clock or the place of the ledger does not bear.
fn floor(
    ledger: &Ledger,
    clock: Clock,
    at: Moment,
) -> Result<Vec<crate::ledger::Seen>, LedgerError> {
    let facts = ledger.clock_facts(at, clock.boot_ms())?;
    let mut floor = ledger.floor(at, None)?;
    clock::hold_back(&mut floor, &facts.doubts);
    place::hold_back(&mut floor, ledger.read_only()?.as_ref());
    Ok(floor)
}

// A word of a unit file: quoted, with what the service manager would read as its own doubled.
fn quoted(text: &str) -> String {
    let text = text
        .replace('\\', "\\\\")
        .replace('"', "\\\"")
        .replace('%', "%%")
        .replace('$', "$$");
    format!("\"{text}\"")
}

fn unit(desk: &mut Desk<'_>, command: Option<&std::path::Path>) -> Answer {
    let program = std::env::current_exe()?;
    let ledger = std::path::absolute(desk.path()?)?;
    let mut words = vec![
        quoted(&program.display().to_string()),
        "--ledger".to_owned(),
        quoted(&ledger.display().to_string()),
        "--station".to_owned(),
        quoted(&desk.options.station),
    ];
    if let Some(initials) = &desk.options.initials {
        words.extend(["--as".to_owned(), quoted(initials)]);
    }
    words.push("watch".to_owned());
    if let Some(command) = command {
        words.extend([
            "--command".to_owned(),
            quoted(&command.display().to_string()),
        ]);
    }
    let lines = vec![
        "# Put this into ~/.config/systemd/user/hangtime-watch.service, then:".to_owned(),
        "# systemctl --user daemon-reload && systemctl --user enable --now hangtime-watch"
            .to_owned(),
        "# journalctl --user -u hangtime-watch shows what was told and what was not.".to_owned(),
        "[Unit]".to_owned(),
        "Description=hangtime watch: tells people by the finish room's rules".to_owned(),
        String::new(),
        "[Service]".to_owned(),
        format!("ExecStart={}", words.join(" ")),
        "Restart=on-failure".to_owned(),
        "RestartSec=30".to_owned(),
        String::new(),
        "[Install]".to_owned(),
        "WantedBy=default.target".to_owned(),
    ];
    desk.print(&json!({"unit": lines.join("\n")}), &lines)?;
    Ok(0)
}
