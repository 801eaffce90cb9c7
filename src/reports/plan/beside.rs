//! Two plans side by side, in words and as JSON.

use super::{Basis, basis_json, basis_lines};
use crate::plan::compare::{Beside, Comparison, Shifted};
use crate::plan::forecast::Forecast;
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::units::Moment;
use serde_json::{Value, json};

fn stamp(m: Option<Moment>, calendar: &Calendar) -> String {
    m.map_or("unknown".to_owned(), |m| calendar.stamp(m))
}

// `+2 d 03 h`, or nothing where one of them is unknown.
fn moved(end: &Beside<Option<Moment>>) -> String {
    match end.today.zip(end.then) {
        Some((a, b)) if b > a => format!("+{}", b.since(a).words()),
        Some((a, b)) if a > b => format!("-{}", a.since(b).words()),
        Some(_) => "as today".to_owned(),
        None => String::new(),
    }
}

fn short((days, most): (usize, u32)) -> String {
    match days {
        0 => "none".to_owned(),
        1 => format!("1 day, by {most}"),
        n => format!("{n} days, by {most} at the most"),
    }
}

fn row(what: &str, today: &str, then: &str) -> String {
    format!("  {what:<42} {today:<26} {then}")
        .trim_end()
        .to_owned()
}

/// Both plans as lines; `supposed` says what the second one supposes.
pub fn lines(
    today: &Forecast,
    found: &Comparison,
    supposed: &[String],
    basis: &Basis<'_>,
) -> Vec<String> {
    let calendar = basis.calendar;
    let mut out = basis_lines(today, basis);
    out.push(String::new());
    out.push(format!("if {}", supposed.join("; ")));
    out.push(row("", "today", "then"));
    let count = |b: &Beside<usize>| (b.today.to_string(), b.then.to_string());
    let mut say = |what: &str, (a, b): (String, String)| out.push(row(what, &a, &b));
    say("pieces that miss their date", count(&found.late));
    if let Some(may) = &found.may_be_late {
        // What is not known comes first: a small count beside it would read as a promise.
        let told = |(late, open): (usize, usize)| match open {
            0 => late.to_string(),
            _ => format!("unknown of {open}, else {late}"),
        };
        say(
            "the same in more than one of ten plays",
            (told(may.today), told(may.then)),
        );
    }
    say("pairs that cannot meet in time", count(&found.pairs));
    // Without hooks nothing can be short of them.
    if today.rooms.iter().any(|r| r.hooks.is_some()) || found.short.then.0 > 0 {
        say(
            "days on which hooks are short",
            (short(found.short.today), short(found.short.then)),
        );
    }
    say(
        "last piece of today's floor ends",
        (
            stamp(found.last.today, calendar),
            stamp(found.last.then, calendar),
        ),
    );
    say("pieces whose end is unknown", count(&found.stuck));
    // An end may stay where it is although steps on the way are moved: a night or another half takes it up.
    let mut moves = |what: &str, shift: &Shifted| {
        if shift.pieces > 0 {
            let then = format!("{}, by {} at the most", shift.pieces, shift.most.words());
            say(what, ("-".to_owned(), then));
        }
    };
    moves("pieces with a step that begins later", &found.later);
    moves("pieces with a step that begins earlier", &found.earlier);
    for rack in &found.racks {
        let nine = if rack.nine.today.is_some() || rack.nine.then.is_some() {
            format!("  P90 {}", stamp(rack.nine.then, calendar))
        } else {
            String::new()
        };
        let line = row(
            &format!("{} ends", shown(&rack.name)),
            &stamp(rack.end.today, calendar),
            &format!(
                "{}  {}{nine}",
                stamp(rack.end.then, calendar),
                moved(&rack.end)
            ),
        );
        out.push(line);
    }
    if found.racks.is_empty() {
        out.push("  no rack ends at another time".to_owned());
    }
    for (name, end) in &found.supposed {
        out.push(row(
            &format!("{} ends", shown(name)),
            "-",
            &stamp(*end, calendar),
        ));
    }
    let list = |names: &[String]| {
        let names: Vec<String> = names.iter().map(|n| shown(n)).collect();
        names.join(", ")
    };
    if !found.newly_late.is_empty() {
        out.push(format!(
            "miss their date then and not today: {}",
            list(&found.newly_late)
        ));
    }
    if !found.no_longer_late.is_empty() {
        out.push(format!(
            "miss their date today and not then: {}",
            list(&found.no_longer_late)
        ));
    }
    out
}

/// Both plans as JSON.
pub fn answer(
    today: &Forecast,
    found: &Comparison,
    supposed: &[String],
    basis: &Basis<'_>,
) -> Value {
    let when = |m: Option<Moment>| m.map(|m| basis.calendar.rfc3339(m));
    let both = |b: &Beside<usize>| json!({"today": b.today, "then": b.then});
    let times = |b: &Beside<Option<Moment>>| json!({"today": when(b.today), "then": when(b.then)});
    let shift = |s: &Shifted| json!({"pieces": s.pieces, "by_ms": s.most.0});
    let hooks = |(days, most): (usize, u32)| json!({"days": days, "most": most});
    json!({
        "basis": basis_json(today, basis),
        "if": supposed,
        "late": both(&found.late),
        "may_be_late": found.may_be_late.as_ref().map(|m| {
            let told = |(late, open): (usize, usize)| json!({"late": late, "not_told": open});
            json!({"today": told(m.today), "then": told(m.then)})
        }),
        "pairs_at_risk": both(&found.pairs),
        "short_of_hooks": {"today": hooks(found.short.today), "then": hooks(found.short.then)},
        "last_end": times(&found.last),
        "cannot_be_told": both(&found.stuck),
        "later": shift(&found.later),
        "earlier": shift(&found.earlier),
        "newly_late": found.newly_late,
        "no_longer_late": found.no_longer_late,
        "racks": found.racks.iter().map(|r| json!({
            "rack": r.name, "ends": times(&r.end), "p90": times(&r.nine),
        })).collect::<Vec<_>>(),
        "supposed": found.supposed.iter().map(|(name, end)| json!({"rack": name, "ends": when(*end)})).collect::<Vec<_>>(),
    })
}
