//! Excursions of the rooms' air in words: what it was, and in one line what it did to the pieces.
//!
//! *Invariants*: a bound is shown with where it comes from; a bound that nobody stated is shown as none entered.
//!
//! *Not here*: finding them (`shop::excursion`), what they moved (the ledger).

use crate::ledger::RoomExcursions;
use crate::shop::calendar::Calendar;
use crate::shop::excursion::{Excursion, Outside};
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Humidity, Moment, System, Temperature};
use serde_json::{Value, json};

/// What a lost slot rests on: the working hours in words, with where they are from.
pub fn rests_on(working: &str) -> String {
    format!(
        "against the room's own forecast; a slot is the day on which the next deed could be begun, less the days on which the shop is closed (working {working})"
    )
}

fn figure(kind: Outside, value: i64, system: System) -> String {
    match kind {
        Outside::Dry | Outside::Damp => Humidity(value).text(0),
        Outside::Change => format!("{}.{} K in an hour", value / 1_000, value % 1_000 / 100),
        Outside::Dew => format!("{}.{} K above it", value / 1_000, value % 1_000 / 100),
        _ => Temperature(value).shown(system, 1),
    }
}

fn stretch(e: &Excursion, at: Moment, calendar: &Calendar) -> String {
    let from = calendar.near(e.from, at);
    match e.to {
        Some(to) => format!(
            "from {from} to {} ({})",
            calendar.near(to, at),
            to.since(e.from).words()
        ),
        None => format!("since {from} ({})", at.since(e.from).words()),
    }
}

/// One excursion.
pub fn line(
    room: &RoomExcursions,
    e: &Excursion,
    at: Moment,
    calendar: &Calendar,
    system: System,
) -> String {
    let lead = format!("  {} {}", e.kind.word(), stretch(e, at, calendar));
    match room.bounds.of(e.kind) {
        Some(bound) => {
            let worst = if e.kind.low() { "lowest" } else { "highest" };
            format!(
                "{lead}: {worst} {}, held against {} ({})",
                figure(e.kind, e.worst, system),
                figure(e.kind, bound.value, system),
                shown(&bound.from)
            )
        }
        None => format!("{lead}: nothing was read, the air is unknown"),
    }
}

/// The one line of a room: how many pieces were delayed, lost their day, miss their date.
pub fn one_line(room: &RoomExcursions) -> String {
    let name = shown(&room.room);
    if room.list.is_empty() {
        return format!("{name}: no excursion recorded");
    }
    format!("{name}: {}", what_they_did(room))
}

/// One line where it is told by itself: what was outside and what it did. Of several, their kinds.
pub fn told(room: &RoomExcursions, at: Moment, calendar: &Calendar, system: System) -> String {
    let (Some(first), false) = (room.list.first(), room.list.len() > 1) else {
        let mut kinds: Vec<&str> = room.list.iter().map(|e| e.kind.word()).collect();
        kinds.sort_unstable();
        kinds.dedup();
        return format!(
            "{}: {} excursions ({}); {}",
            shown(&room.room),
            room.list.len(),
            kinds.join(", "),
            what_they_did(room)
        );
    };
    // While nothing is read the forecast counts: that nothing moved would say too much.
    let did = if first.kind == Outside::Silent && first.to.is_none() {
        format!("what it earns is unknown; {} there", pieces(room.pieces))
    } else {
        what_they_did(room)
    };
    let what = line(room, first, at, calendar, system);
    format!("{}: {}; {did}", shown(&room.room), what.trim_start())
}

fn pieces(n: usize) -> String {
    match n {
        1 => "1 piece".to_owned(),
        n => format!("{n} pieces"),
    }
}

fn what_they_did(room: &RoomExcursions) -> String {
    let moved = &room.moved;
    if moved.moved.is_empty() {
        return format!("no piece was delayed, of {} there", room.pieces);
    }
    let mut text = format!(
        "{} delayed, by at most {}",
        pieces(moved.moved.len()),
        moved.by.words()
    );
    let whose = |n: usize| if n == 1 { "its" } else { "their" };
    let (lost, missed) = (moved.lost_slot.len(), moved.miss_date.len());
    let miss = if missed == 1 { "misses" } else { "miss" };
    text.push_str(&format!(
        "; {lost} lost {} day; {missed} now {miss} {} date",
        whose(lost),
        whose(missed)
    ));
    text
}

/// The kinds for which nobody stated a bound.
fn none_entered(room: &RoomExcursions) -> Vec<&'static str> {
    let kinds = Outside::ALL.iter().filter(|k| **k != Outside::Silent);
    kinds
        .filter(|k| room.bounds.of(**k).is_none())
        .map(|k| k.word())
        .collect()
}

/// All of a room: its line, its excursions, what is not held against anything.
pub fn lines(
    room: &RoomExcursions,
    at: Moment,
    calendar: &Calendar,
    system: System,
) -> Vec<String> {
    let mut out = vec![one_line(room)];
    let each = room.list.iter();
    out.extend(each.map(|e| line(room, e, at, calendar, system)));
    let named = |what: &str, list: &[String]| {
        let names: Vec<String> = list.iter().map(|s| shown(s)).collect();
        (!list.is_empty()).then(|| format!("  {what}: {}", names.join(", ")))
    };
    out.extend(named("lost their day", &room.moved.lost_slot));
    out.extend(named("miss their date", &room.moved.miss_date));
    let none = none_entered(room);
    if !none.is_empty() {
        out.push(format!(
            "  no bound is entered or stated by a recipe: {}",
            none.join(", ")
        ));
    }
    out
}

/// A room as JSON.
pub fn json(room: &RoomExcursions, calendar: &Calendar) -> Value {
    json!({
        "room": room.room,
        "pieces": room.pieces,
        "moved": room.moved.moved, "moved_by_ms": room.moved.by.0,
        "lost_slot": room.moved.lost_slot, "miss_date": room.moved.miss_date,
        "text": one_line(room),
        "none_entered": none_entered(room),
        "excursions": room.list.iter().map(|e| json!({
            "what": e.kind.word(),
            "from": calendar.rfc3339(e.from),
            "to": e.to.map(|m| calendar.rfc3339(m)),
            "worst": e.worst,
            "held_against": room.bounds.of(e.kind).map(|b| json!({"value": b.value, "from": b.from})),
        })).collect::<Vec<_>>(),
    })
}
