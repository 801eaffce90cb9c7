//! Pieces that go over to another recipe revision: what changes for them from here on, and who is on which.
//!
//! *Not here*: moving them.

use super::piece_json::{film_um, when};
use crate::ledger::Seen;
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Film, Moment, System};
use serde_json::{Value, json};
use std::collections::BTreeMap;

const NOTHING_BEHIND: &str =
    "nothing behind changes: what was done, its film and its deviations stay as they are";

// The wait before the step that is next, as the recipe has it.
fn wait(seen: &Seen) -> String {
    let Some(step) = seen.step() else {
        return "no wait".to_owned();
    };
    let begun = seen
        .site()
        .is_some_and(|s| seen.view.step.is_some_and(|i| s.standing.done(i) > 0));
    match (step.between.filter(|_| begun), step.after) {
        (Some(w), _) => format!("{} between", w.words()),
        (None, Some(w)) => format!("from {} after the last wet coat", w.words()),
        (None, None) => "no wait of its own".to_owned(),
    }
}

fn cure_hours(seen: &Seen) -> i64 {
    let hours = |s: &crate::shop::standing::Site<'_>| -> i64 {
        s.steps
            .iter()
            .filter(|s| s.kind == crate::shop::words::StepKind::Cure)
            .filter_map(|s| s.hours)
            .map(|h| h.0 / 3_600_000)
            .sum()
    };
    seen.sites().map(|s| hours(&s)).max().unwrap_or(0)
}

fn side(seen: &Seen, at: Moment, calendar: &Calendar, system: System) -> String {
    let timed = when(seen, at, calendar);
    let outlook = if timed.is_empty() {
        seen.view.outlook.word().to_owned()
    } else {
        timed
    };
    format!(
        "{}, {outlook} ({}); cure {} h; film {} at the end, band {} to {}",
        seen.view.next,
        wait(seen),
        cure_hours(seen),
        Film(seen.finish_nm()).shown(system, 1),
        seen.band().0.shown(system, 0),
        seen.band().1.shown(system, 0)
    )
}

fn side_json(seen: &Seen, calendar: &Calendar) -> Value {
    json!({
        "recipe": seen.recipe.label(), "next": seen.view.next, "outlook": seen.view.outlook.word(),
        "ready_at": seen.view.ready_at.map(|m| calendar.rfc3339(m)),
        "wait": wait(seen), "cure_h": cure_hours(seen),
        "film_um": film_um(seen.film_nm()), "finish_um": film_um(seen.finish_nm()),
        "low_um": film_um(seen.band().0.0), "high_um": film_um(seen.band().1.0),
    })
}

/// What changes for each piece from here on, and that nothing behind it does.
pub fn effect(
    changes: &[(Seen, Seen)],
    at: Moment,
    calendar: &Calendar,
    system: System,
) -> (Vec<String>, Value) {
    let mut lines = Vec::new();
    for (before, after) in changes {
        lines.push(format!(
            "  {} goes over from {} to {}",
            before.now.piece.serial,
            before.recipe.label(),
            after.recipe.label()
        ));
        lines.push(format!(
            "    until now: {}",
            side(before, at, calendar, system)
        ));
        lines.push(format!(
            "    from here: {}",
            side(after, at, calendar, system)
        ));
    }
    if !changes.is_empty() {
        lines.push(format!("  {NOTHING_BEHIND}"));
    }
    let value = changes
        .iter()
        .map(|(before, after)| {
            json!({
                "serial": before.now.piece.serial,
                "before": side_json(before, calendar),
                "after": side_json(after, calendar),
            })
        })
        .collect();
    (lines, value)
}

/// The same for people at a glance: pieces for which the same changes are named together.
pub fn grouped(
    changes: &[(Seen, Seen)],
    at: Moment,
    calendar: &Calendar,
    system: System,
) -> Vec<String> {
    let mut groups: Vec<([String; 3], Vec<String>)> = Vec::new();
    for (before, after) in changes {
        let words = [
            format!("from {} to {}", before.recipe.label(), after.recipe.label()),
            side(before, at, calendar, system),
            side(after, at, calendar, system),
        ];
        let serial = shown(&before.now.piece.serial);
        match groups.iter_mut().find(|(w, _)| *w == words) {
            Some((_, serials)) => serials.push(serial),
            None => groups.push((words, vec![serial])),
        }
    }
    let mut lines = Vec::new();
    for ([way, before, after], serials) in groups {
        let n = serials.len();
        let (s, verb) = if n == 1 { ("", "goes") } else { ("s", "go") };
        lines.push(format!(
            "{n} piece{s} {verb} over {way}: {}",
            serials.join(", ")
        ));
        lines.push(format!("  until now: {before}"));
        lines.push(format!("  from here: {after}"));
    }
    if !changes.is_empty() {
        lines.push(NOTHING_BEHIND.to_owned());
    }
    lines
}

/// Which pieces of the floor are on which revision of a recipe.
pub fn in_flight(floor: &[Seen], code: &str) -> (Vec<String>, Value) {
    let mut by_revision: BTreeMap<u32, Vec<&Seen>> = BTreeMap::new();
    for seen in floor.iter().filter(|s| s.now.piece.recipe == code) {
        by_revision
            .entry(seen.now.piece.revision)
            .or_default()
            .push(seen);
    }
    let mut lines: Vec<String> = by_revision
        .iter()
        .map(|(revision, pieces)| {
            let names: Vec<String> = pieces
                .iter()
                .map(|s| format!("{} ({})", shown(&s.now.piece.serial), s.view.next))
                .collect();
            let n = pieces.len();
            let s = if n == 1 { "" } else { "s" };
            format!("{code} rev {revision}: {n} piece{s}: {}", names.join(", "))
        })
        .collect();
    if lines.is_empty() {
        lines.push(format!("no piece in process is on recipe {code}"));
    }
    let value = by_revision
        .iter()
        .map(|(revision, pieces)| {
            json!({
                "recipe": code, "revision": revision,
                "pieces": pieces.iter().map(|s| json!({
                    "serial": s.now.piece.serial, "next": s.view.next,
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    (lines, value)
}
