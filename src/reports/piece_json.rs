//! A piece with its outlook, as JSON and as one line.

use crate::ledger::Seen;
use crate::shop::calendar::Calendar;
use crate::shop::rules::Objection;
use crate::shop::standing::Site;
use crate::shop::words::{Outlook, StepKind, Word};
use crate::units::{Amount, Film, Moment, System, num};
use serde_json::{Value, json};

/// Coats of the kind that the recipe counts as clear coats: done and planned.
pub fn clear_coats(seen: &Seen) -> (u32, u32) {
    seen.site().map_or((0, 0), |s| {
        (
            s.standing.coats(s.steps, StepKind::Clear),
            s.planned(StepKind::Clear),
        )
    })
}

/// Film build in micrometres, one decimal.
pub fn film_um(nm: i64) -> f64 {
    (num::float(nm) / 100.0).round() / 10.0
}

/// How the film that the piece will end with lies to the finished band: `under`, `in`, `over`, or `below nothing` when
/// the record takes off more film than it ever put on.
pub fn film_side(seen: &Seen) -> &'static str {
    // The worst surface speaks, in the order in which it hurts.
    let sides: Vec<&str> = seen.sites().map(|s| side(seen, &s)).collect();
    ["below nothing", "under", "over"]
        .into_iter()
        .find(|worst| sides.contains(worst))
        .unwrap_or("in")
}

/// The same for one surface, by its film now and at the end and by its own band.
pub fn side(seen: &Seen, site: &Site<'_>) -> &'static str {
    let finish = seen.now.finish_of(&seen.recipe, site);
    side_of(
        site.standing.film_nm,
        finish,
        seen.recipe.band(site.surface),
    )
}

/// The same for a film now and at the end.
pub fn side_of(film_nm: i64, finish_nm: i64, (low, high): (Film, Film)) -> &'static str {
    if film_nm < 0 {
        "below nothing"
    } else if finish_nm < low.0 {
        "under"
    } else if finish_nm > high.0 {
        "over"
    } else {
        "in"
    }
}

/// Said of a film below zero: there is none such, so that an entry of it is wrong.
pub const BELOW_ZERO: &str = "below zero, so something is logged wrong: gauge it";

/// How a side of [`side_of`] lies to the band, as a part of a sentence about the film at the end.
pub fn lies(side: &str, low: &str, high: &str) -> String {
    if side == "below nothing" {
        format!("the film is {BELOW_ZERO}; the band is {low} to {high}")
    } else {
        format!("{side} the band {low} to {high}")
    }
}

// Nothing was sprayed on it yet: the zero of its film is no figure.
fn bare(seen: &Seen) -> bool {
    seen.film_nm() == 0 && seen.last_wet().is_none()
}

/// The film so far, for a sentence: a bare piece has none yet.
pub fn film_now(seen: &Seen, system: System) -> String {
    if bare(seen) {
        return "no film yet".to_owned();
    }
    let from = if seen.gauged() {
        "from a gauge reading"
    } else {
        "predicted"
    };
    format!(
        "film {} now ({from})",
        Film(seen.film_nm()).shown(system, 1)
    )
}

// The film so far and its side, for two columns of a list.
fn film_cells(seen: &Seen, system: System) -> (String, &'static str) {
    if bare(seen) {
        return ("no film".to_owned(), "yet");
    }
    let side = match film_side(seen) {
        "in" => "in band",
        "below nothing" => "below 0",
        other => other,
    };
    (Film(seen.film_nm()).shown(system, 1), side)
}

/// One reason against a deed.
pub fn reason(o: &Objection, calendar: &Calendar) -> Value {
    json!({
        "rule": o.rule.word(),
        "until": o.until.map(|u| calendar.rfc3339(u.minute_up())),
        "provisional": o.provisional,
        "text": o.before,
    })
}

/// A piece with its outlook.
pub fn piece(seen: &Seen, at: Moment, calendar: &Calendar) -> Value {
    let p = &seen.now.piece;
    let place = seen.now.place();
    let (coats, planned) = clear_coats(seen);
    json!({
        "serial": p.serial,
        "kind": p.kind.word(),
        "model": p.model,
        "recipe": seen.recipe.label(),
        "rack": place.and_then(|s| s.rack.clone()),
        "hook": place.and_then(|s| s.hook),
        "room": place.and_then(|s| s.room.clone()),
        "due": p.due.map(|d| d.to_string()),
        "outlook": seen.view.outlook.word(),
        "behind": seen.view.behind,
        "queued_too_long": seen.view.queued.is_some(),
        "forecast_end": seen.view.finish.map(|m| calendar.rfc3339(m)),
        "next": seen.view.next,
        "next_on": seen.view.on,
        "next_step": seen.view.kind.map(Word::word),
        "ready_at": seen.view.ready_at.map(|m| calendar.rfc3339(m)),
        "minutes_left": seen.view.ready_at.map(|m| m.since(at).minutes_up().max(0)),
        "provisional": seen.view.provisional,
        "reasons": seen.view.reasons.iter().map(|o| reason(o, calendar)).collect::<Vec<_>>(),
        "clear_coats": coats,
        "clear_coats_planned": planned,
        "film": {
            "value": film_um(seen.film_nm()), "unit": "um",
            "finish": film_um(seen.finish_nm()), "band": film_side(seen),
            "low": film_um(seen.band().0.0), "high": film_um(seen.band().1.0),
            "from": if seen.gauged() { "gauge" } else { "predicted" },
        },
        "last_wet": seen.last_wet().map(|m| calendar.rfc3339(m)),
        "cure": seen.view.cure.map(|(earned, wanted)| json!({
            "credited_h": hours(earned.0), "wanted_h": hours(wanted.0),
        })),
        "begun": seen.now.begun.as_ref().map(|b| json!({
            "deed": b.kind.word(), "since": calendar.rfc3339(b.at), "by": b.person,
        })),
        "holds": seen.now.holds.iter().map(|(_, why)| why.clone()).collect::<Vec<_>>(),
    })
}

/// The steps that were left out before the next one, with how much of each was done; `None` where none was. They are named
/// once where all surfaces left the same ones out.
pub fn left_out_words(seen: &Seen) -> Option<String> {
    let of = |site: &Site<'_>| {
        let steps = site.standing.left_out(site.steps).into_iter();
        let words = steps.filter_map(|i| {
            let step = site.steps.get(i)?;
            Some(match site.standing.done(i) {
                0 => step.name.clone(),
                done => format!("{} ({done} of {})", step.name, step.count),
            })
        });
        words.collect::<Vec<_>>().join(", ")
    };
    let each: Vec<(&str, String)> = seen.sites().map(|s| (s.surface, of(&s))).collect();
    let (_, first) = each.first()?;
    let said = if each.iter().all(|(_, words)| words == first) {
        first.clone()
    } else {
        let some = each.iter().filter(|(_, words)| !words.is_empty());
        some.map(|(surface, words)| format!("{surface}: {words}"))
            .collect::<Vec<_>>()
            .join("; ")
    };
    (!said.is_empty()).then(|| format!("left out before it: {said}"))
}

/// How the forecast lies to the due date, with the hours that it goes by; `None` for a piece that is not due, or in time
/// as far as can be told.
pub fn behind_words(seen: &Seen, calendar: &Calendar) -> Option<String> {
    let due = seen.now.piece.due.filter(|_| seen.view.behind)?;
    Some(seen.view.finish.map_or_else(
        || "behind: the next step misses the due date".to_owned(),
        |end| {
            format!(
                "behind: forecast to end {}, due {} (working {})",
                calendar.stamp(end),
                due.format("%a %-d %b"),
                seen.hours
            )
        },
    ))
}

/// How long it has stood ready beyond what the recipe states for its next step; `None` where it has not.
pub fn queued_words(seen: &Seen, at: Moment) -> Option<String> {
    let (most, since) = seen.view.queued.zip(seen.view.ready_at)?;
    Some(format!(
        "queued too long: ready for {}, the recipe says {} at most",
        at.since(since).words(),
        most.words()
    ))
}

/// Hours with two decimals, rounded down: credit is never shown before it is earned.
pub fn hours(ms: i64) -> f64 {
    num::float(ms.div_euclid(36_000)) / 100.0
}

/// The wait that is left, rounded up: in minutes below two hours, in hours and days beyond.
pub fn left(until: Moment, at: Moment) -> String {
    at.left_until(until).words()
}

/// The time that people read: `ready`, or when and how long.
pub fn when(seen: &Seen, at: Moment, calendar: &Calendar) -> String {
    match (seen.view.outlook, seen.view.ready_at) {
        (Outlook::Ready, Some(since)) => format!("ready since {}", calendar.near(since, at)),
        (Outlook::Waiting, Some(m)) => {
            let sure = if seen.view.provisional {
                " (provisional)"
            } else {
                ""
            };
            format!("{} in {}{sure}", calendar.near(m, at), left(m, at))
        }
        (Outlook::InWork, _) => seen.now.begun.as_ref().map_or_else(String::new, |b| {
            format!(
                "{} since {} by {}",
                b.kind.word(),
                calendar.near(b.at, at),
                b.person
            )
        }),
        // Held and unknown say it all with their word and their reason.
        _ => String::new(),
    }
}

/// A piece in one line.
pub fn line(seen: &Seen, at: Moment, calendar: &Calendar, system: System) -> String {
    let place = seen.now.place();
    let rack = place
        .and_then(|s| s.rack.clone())
        .unwrap_or_else(|| "-".to_owned());
    let hook = place
        .and_then(|s| s.hook)
        .map_or(String::new(), |h| h.to_string());
    let reason = seen.view.reasons.first().map_or("", |o| o.before.as_str());
    let (film, side) = film_cells(seen, system);
    let mut flags = String::new();
    for (is, word) in [
        (seen.view.behind, " behind"),
        (seen.view.queued.is_some(), " queued too long"),
    ] {
        flags.push_str(if is { word } else { "" });
    }
    if side == "below 0" {
        flags.push_str(&format!("  film {BELOW_ZERO}"));
    }
    format!(
        "{rack:<5} {hook:>3}  {:<9} {:<26} {:>9} {:<7} {:<8} {}{flags}{}{reason}",
        seen.now.piece.serial,
        seen.view.next_on(),
        film,
        side,
        seen.view.outlook.word(),
        when(seen, at, calendar),
        if reason.is_empty() { "" } else { "  " },
    )
}
