//! A number that is typed beside the line that would be saved: minutes since the deed, a hook that was left out, the
//! hooks that were worked on, the hook of a defect, the amount that went through the gun.
//!
//! *Invariants*: the line changes with every digit, so that Enter saves what is shown; a number that names nothing saves
//! nothing.

use super::mixing::unit;
use super::model::{DeedKey, Figure, Log, Model};
use super::msg::Effect;
use super::update::{MOST_MINUTES, blame, deed, members, preview, save};
use crate::ledger::{Seen, Target};
use crate::units::{Amount, Volume};

/// The key beside the defect at a place of the list: `1` to `9`, then `a` and on.
pub(super) fn code_key(place: usize) -> Option<char> {
    "123456789abcdefghijklmnop".chars().nth(place)
}

/// Begins a number; the one before it is kept.
pub(super) fn begin(model: &mut Model, figure: Figure) -> Vec<Effect> {
    if let Err(text) = read(model) {
        return blame(model, text);
    }
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    if figure == Figure::Amount {
        if log.deed != Some(DeedKey::Coat) {
            return blame(model, "only a coat has an amount");
        }
    } else if !matches!(log.target, Target::Rack(..)) {
        return blame(model, "only a rack has hooks");
    }
    let skipped = skipped_now(model);
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    log.skipped.extend(skipped);
    log.figure = Some((figure, String::new()));
    Vec::new()
}

/// Ends the typing of a number and leaves what it came to; a hook that is half typed is left out of it.
pub(super) fn keep(log: &mut Log) {
    log.figure = None;
}

/// Drops the number, and what it came to.
pub(super) fn drop(model: &mut Model) -> Vec<Effect> {
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    let Some((figure, text)) = log.figure.take() else {
        return Vec::new();
    };
    match figure {
        Figure::Minutes => log.minutes = 0,
        Figure::Hooks => whole(log),
        Figure::Amount => log.amount = None,
        Figure::Skip => {}
        Figure::Flawed => return Vec::new(),
    }
    if text.is_empty() {
        return Vec::new();
    }
    preview(model)
}

fn whole(log: &mut Log) {
    if let Target::Rack(_, hooks) = &mut log.target {
        *hooks = None;
    }
}

/// A digit came or went: the line is asked for anew.
pub(super) fn typed(model: &mut Model) -> Vec<Effect> {
    let read = read(model);
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    match (log.figure.as_ref().map(|(f, _)| *f), read) {
        (Some(Figure::Flawed) | None, _) => return Vec::new(),
        (Some(_), Ok(Read::Minutes(minutes))) => log.minutes = minutes,
        (Some(_), Ok(Read::Hooks(hooks))) => {
            if let Target::Rack(_, named) = &mut log.target {
                *named = hooks;
            }
        }
        (Some(_), Ok(Read::Amount(amount))) => log.amount = amount,
        (Some(_), Ok(Read::Skip(_))) => {}
        (Some(_), Err(text)) => {
            // What is shown would not be what was typed.
            log.shown = None;
            return blame(model, text);
        }
    }
    preview(model)
}

/// Whether an amount is being typed.
pub(super) fn asks_amount(model: &Model) -> bool {
    let figure = model.log().and_then(|l| l.figure.as_ref());
    matches!(figure, Some((Figure::Amount, _)))
}

/// Whether what came at once is the number of the amount that is being typed.
pub(super) fn is_amount(model: &Model, text: &str) -> bool {
    let digits = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',');
    asks_amount(model) && !text.is_empty() && text.chars().all(digits)
}

/// Enter: saves what is shown, or goes on to which defect it is.
pub(super) fn enter(model: &mut Model) -> Vec<Effect> {
    let read = match read(model) {
        Ok(read) => read,
        Err(text) => return blame(model, text),
    };
    if let (true, Read::Amount(None)) = (asks_amount(model), &read) {
        if let Some(log) = model.log_mut() {
            log.figure = None;
        }
        return blame(
            model,
            "no amount was typed: a asks for it again, Enter saves without one",
        );
    }
    let flawed = model
        .log()
        .and_then(|l| l.figure.as_ref())
        .is_some_and(|(f, _)| *f == Figure::Flawed);
    if flawed {
        let Read::Skip(Some(serial)) = read else {
            return blame(model, "which hook has the piece with the defect?");
        };
        if let Some(log) = model.log_mut() {
            log.target = Target::Pieces(vec![serial]);
            log.figure = None;
        }
        return deed(model, DeedKey::Defect);
    }
    let skipped = skipped_now(model);
    if let Some(log) = model.log_mut() {
        log.skipped.extend(skipped);
        log.figure = None;
    }
    save(model)
}

/// The serial of the piece on the hook that is being typed as left out.
pub(super) fn skipping(model: &Model, log: &Log) -> Option<String> {
    match log.figure.as_ref()? {
        (Figure::Skip, text) => on_hook(model, log, text)
            .ok()
            .flatten()
            .filter(|serial| !log.skipped.contains(serial)),
        _ => None,
    }
}

fn skipped_now(model: &Model) -> Option<String> {
    skipping(model, model.log()?)
}

enum Read {
    Minutes(i64),
    Skip(Option<String>),
    Hooks(Option<(u32, u32)>),
    Amount(Option<Volume>),
}

// What the typed number means; nothing typed means nothing yet.
fn read(model: &Model) -> Result<Read, String> {
    let Some(log) = model.log() else {
        return Ok(Read::Skip(None));
    };
    let Some((figure, text)) = &log.figure else {
        return Ok(Read::Skip(None));
    };
    match figure {
        Figure::Minutes if text.is_empty() => Ok(Read::Minutes(0)),
        Figure::Minutes => match text.parse::<i64>() {
            Ok(n) if (0..=MOST_MINUTES).contains(&n) => Ok(Read::Minutes(n)),
            _ => Err(format!(
                "minutes ago {text} is outside 0 to {MOST_MINUTES}; write what lies further back with its full time by command"
            )),
        },
        Figure::Skip | Figure::Flawed => on_hook(model, log, text).map(Read::Skip),
        Figure::Hooks => hooks(model, log, text).map(Read::Hooks),
        Figure::Amount if text.is_empty() => Ok(Read::Amount(None)),
        Figure::Amount => Volume::read(text, Some(unit(model)))
            .map(|v| Read::Amount(Some(v)))
            .map_err(|e| e.to_string()),
    }
}

fn hook_of(seen: &Seen) -> Option<u32> {
    seen.now.place().and_then(|p| p.hook)
}

fn on_hook(model: &Model, log: &Log, text: &str) -> Result<Option<String>, String> {
    if text.is_empty() {
        return Ok(None);
    }
    let hook: u32 = text
        .parse()
        .map_err(|_| format!("hook \"{text}\" is no number"))?;
    members(model, &log.target)
        .into_iter()
        .find(|s| hook_of(s) == Some(hook))
        .map(|s| Some(s.now.piece.serial.clone()))
        .ok_or_else(|| format!("no piece hangs on hook {hook} of {}", log.whom()))
}

// `17` is the hooks from the first to 17, `5-17` those from 5 on.
fn hooks(model: &Model, log: &Log, text: &str) -> Result<Option<(u32, u32)>, String> {
    let Target::Rack(rack, _) = &log.target else {
        return Ok(None);
    };
    if text.is_empty() {
        return Ok(None);
    }
    let fault = || {
        format!(
            "hooks \"{text}\" are no hooks; write the last one, or the first and the last as 5-17"
        )
    };
    let number = |t: &str| t.parse::<u32>().map_err(|_| fault());
    let (first, last) = match text.split_once('-') {
        Some((first, last)) => (number(first)?, number(last)?),
        None => (1, number(text)?),
    };
    let part = Target::Rack(rack.clone(), Some((first, last)));
    if members(model, &part).is_empty() {
        return Err(format!(
            "no piece hangs on hooks {first}-{last} of rack {rack}"
        ));
    }
    Ok(Some((first, last)))
}
