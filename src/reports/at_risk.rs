//! Pairs that are forecast to miss their due date, with the half that holds the other back.

use super::rehearsal::COMMON_HOURS;
use crate::ledger::{AtRisk, HalfAhead, PairAhead};
use crate::shop::calendar::Calendar;
use crate::shop::words::Word;
use crate::units::Moment;
use serde_json::{Value, json};

/// What the forecast rests on.
pub const RESTS_ON: &str = "a forecast by each half's recipe: working time is not counted, people and hooks are taken to be free; \
     a cure that has begun goes by its room, a future cure is counted hour for hour";

fn kind(half: &HalfAhead) -> &'static str {
    half.seen
        .as_ref()
        .map_or("other half", |s| s.now.piece.kind.word())
}

fn constraint(pair: &PairAhead) -> Option<&HalfAhead> {
    pair.halves.get(pair.constraint)
}

/// `4 days late, constraint neck`.
pub fn words(pair: &PairAhead) -> String {
    let by = constraint(pair).map_or("-", kind);
    match pair.days_late {
        Some(1) => format!("1 day late, constraint {by}"),
        Some(days) => format!("{days} days late, constraint {by}"),
        None => format!("its date is unknown, constraint {by}"),
    }
}

/// One half: when it is there, and what is next for it.
pub fn half_line(half: &HalfAhead, at: Moment, calendar: &Calendar) -> String {
    let next = half
        .seen
        .as_ref()
        .map_or(String::new(), |s| format!(", next {}", s.view.next));
    let when = match &half.told {
        Ok(told) => {
            let sure = if told.provisional {
                " (provisional)"
            } else {
                ""
            };
            told.there.map_or_else(
                || "its schedule has ended".to_owned(),
                |m| {
                    let since = if m <= at { "there since" } else { "there" };
                    format!("{since} {}{sure}", calendar.stamp(m))
                },
            )
        }
        Err(why) => why.clone(),
    };
    format!("  {:<10} {:<9} {when}{next}", kind(half), half.serial)
}

/// The answer as lines.
pub fn lines(
    found: &AtRisk,
    at: Moment,
    (hours, given): (&str, bool),
    calendar: &Calendar,
) -> Vec<String> {
    let source = if given {
        String::new()
    } else {
        format!(" ({COMMON_HOURS})")
    };
    let mut out = vec![
        format!(
            "{} of {} pairs with a due date at risk at {}, working {hours}{source}",
            found.pairs.len(),
            found.looked_at,
            calendar.stamp(at)
        ),
        RESTS_ON.to_owned(),
    ];
    for pair in &found.pairs {
        let names: Vec<&str> = pair.halves.iter().map(|h| h.serial.as_str()).collect();
        out.push(format!(
            "{}  due {}: {}",
            names.join(" + "),
            pair.due.format("%a %-d %b"),
            words(pair)
        ));
        out.extend(pair.halves.iter().map(|h| half_line(h, at, calendar)));
    }
    out
}

/// The answer as JSON.
pub fn answer(
    found: &AtRisk,
    at: Moment,
    (hours, given): (&str, bool),
    calendar: &Calendar,
) -> Value {
    let half = |h: &HalfAhead| {
        json!({
            "serial": h.serial,
            "kind": h.seen.as_ref().map(|s| s.now.piece.kind.word()),
            "next": h.seen.as_ref().map(|s| s.view.next.clone()),
            "rework": h.seen.as_ref().and_then(|s| s.view.rework.clone()),
            "there": h.there().map(|m| calendar.rfc3339(m)),
            "provisional": h.told.as_ref().is_ok_and(|t| t.provisional),
            "cannot_be_told": h.told.as_ref().err(),
        })
    };
    json!({
        "at": calendar.rfc3339(at),
        "hours": hours,
        "hours_from": if given { "given" } else { COMMON_HOURS },
        "rests_on": RESTS_ON,
        "looked_at": found.looked_at,
        "pairs": found.pairs.iter().map(|p| json!({
            "halves": p.halves.iter().map(half).collect::<Vec<_>>(),
            "due": p.due.to_string(),
            "meet": p.meet.map(|m| calendar.rfc3339(m)),
            "days_late": p.days_late,
            "constraint": constraint(p).map(|h| json!({
                "serial": h.serial, "kind": h.seen.as_ref().map(|s| s.now.piece.kind.word()),
            })),
            "text": words(p),
        })).collect::<Vec<_>>(),
    })
}
