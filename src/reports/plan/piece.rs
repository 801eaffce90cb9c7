//! One piece backwards from its date, in words and as JSON.

use super::{Basis, basis_json, basis_lines};
use crate::plan::backward::{Backward, Latest};
use crate::plan::forecast::{Forecast, PlannedPiece};
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::Moment;
use serde_json::{Value, json};

/// What the dates of one piece rest on.
const ALONE: &str = "no later than: as if nothing else were on the floor, and its other half there when it is mated";

/// A piece that was asked about.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// It, in the plan of the floor.
    pub piece: &'a PlannedPiece,
    /// Its number there.
    pub number: usize,
    /// Its dates backwards.
    pub dates: &'a Backward,
}

fn named(step: &Latest) -> String {
    if step.on.is_empty() {
        step.what.clone()
    } else {
        format!("{} on {}", step.what, step.on)
    }
}

// When the whole plan has it begin.
fn planned(plan: &Forecast, number: usize, step: &Latest) -> Option<Moment> {
    plan.steps
        .iter()
        .find(|s| {
            s.pieces.contains(&number) && s.coming.what == step.what && s.coming.on == step.on
        })
        .map(|s| s.made.began)
}

fn dates_words(asked: &Asked<'_>, basis: &Basis<'_>) -> String {
    let (dates, calendar) = (asked.dates, basis.calendar);
    let due = dates.due.format("%a %-d %b");
    if let Some(why) = &dates.stuck {
        return format!("its end is unknown: {}", shown(why));
    }
    let Some(end) = dates.end else {
        return "nothing is left to do".to_owned();
    };
    let late = calendar
        .local(end)
        .date_naive()
        .signed_duration_since(dates.due)
        .num_days();
    if late > 0 {
        return format!(
            "due {due} cannot be met: at the earliest {}, {late} day{} late",
            calendar.stamp(end),
            if late == 1 { "" } else { "s" }
        );
    }
    let last = dates.last_coat();
    let what = last.map_or("the next step", |_| "last coat");
    let step = last.or_else(|| dates.steps.first());
    let until = step.and_then(|s| s.latest);
    match (step, until) {
        (Some(step), Some(until)) => format!(
            "due {due}: {what} ({}) no later than {}",
            named(step),
            calendar.stamp(until)
        ),
        _ => "nothing is left to do".to_owned(),
    }
}

/// The dates of a piece as lines.
pub fn lines(plan: &Forecast, asked: &Asked<'_>, basis: &Basis<'_>) -> Vec<String> {
    let calendar = basis.calendar;
    let piece = asked.piece;
    let mut out = basis_lines(plan, basis);
    out.push(String::new());
    out.push(format!(
        "{} {}{}",
        piece.kind.word(),
        shown(&piece.serial),
        piece
            .rack
            .as_ref()
            .map_or(String::new(), |r| format!(" on {}", shown(r)))
    ));
    out.push(dates_words(asked, basis));
    out.push(ALONE.to_owned());
    for step in &asked.dates.steps {
        let told = |m: Option<Moment>| m.map_or("-".to_owned(), |m| calendar.stamp(m));
        out.push(format!(
            "  {:<28} planned {:<18} no later than {}",
            named(step),
            told(planned(plan, asked.number, step)),
            told(step.latest)
        ));
    }
    if let Some((half, nine)) = piece.ends {
        let told = |m: Option<Moment>| m.map_or("unknown".to_owned(), |m| calendar.stamp(m));
        out.push(format!("ends: P50 {}  P90 {}", told(half), told(nine)));
    }
    out
}

/// The dates of a piece as JSON.
pub fn answer(plan: &Forecast, asked: &Asked<'_>, basis: &Basis<'_>) -> Value {
    let when = |m: Option<Moment>| m.map(|m| basis.calendar.rfc3339(m));
    let piece = asked.piece;
    json!({
        "basis": basis_json(plan, basis),
        "serial": piece.serial,
        "due": asked.dates.due.to_string(),
        "ends": when(piece.end),
        "p50": piece.ends.and_then(|(half, _)| when(half)),
        "p90": piece.ends.and_then(|(_, nine)| when(nine)),
        "earliest_end": when(asked.dates.end),
        "cannot_be_told": asked.dates.stuck,
        "last_coat": asked.dates.last_coat().map(|s| json!({"what": s.what, "latest": when(s.latest)})),
        "text": dates_words(asked, basis),
        "rests_on": ALONE,
        "steps": asked.dates.steps.iter().map(|s| json!({
            "what": named(s),
            "kind": s.kind.word(),
            "planned": when(planned(plan, asked.number, s)),
            "earliest": when(Some(s.earliest)),
            "latest": when(s.latest),
        })).collect::<Vec<_>>(),
    })
}
