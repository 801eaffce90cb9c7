//! What comes round, what happened, and whom to ask, as lines and JSON.
//!
//! *Invariants*: a deed that was never done is unknown; one that was missed stays missed, also once it was done later.

use crate::ledger::{ContactRow, DutyRow, IncidentRow, RoomAirRow};
use crate::shop::calendar::Calendar;
use crate::shop::duty::DutyState;
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Moment};
use serde_json::{Value, json};

/// How a deed stands, in words.
pub fn state_words(row: &DutyRow, calendar: &Calendar, at: Moment) -> String {
    let s = &row.standing;
    let near = |m: Moment| calendar.near(m, at);
    let mut text = match (s.state, s.last, s.due) {
        (DutyState::Unknown, ..) => "never done".to_owned(),
        (DutyState::Overdue, Some(last), Some(due)) if due < at => {
            format!("OVERDUE since {}, last {}", near(due), near(last))
        }
        (_, Some(last), Some(due)) => format!("last {}, due {}", near(last), calendar.due(due, at)),
        (_, Some(last), None) => format!("last {}", near(last)),
        (_, None, _) => String::new(),
    };
    if let Some(most) = row.duty.in_use {
        text.push_str(&if s.used >= most {
            format!(", OVERDUE: {} of {} in use", s.used.words(), most.words())
        } else {
            format!(
                ", {} in use, change due at {}",
                s.used.words(),
                most.words()
            )
        });
    }
    match s.missed.len() {
        0 => {}
        1 => text.push_str("; missed once"),
        n => text.push_str(&format!("; missed {n} times")),
    }
    text
}

/// A deed that comes round as a line.
pub fn line(row: &DutyRow, calendar: &Calendar, at: Moment) -> String {
    let d = &row.duty;
    let mut text = format!(
        "{:<8} {} of {}: {}",
        row.standing.state.word(),
        shown(&d.name),
        shown(&d.about),
        state_words(row, calendar, at)
    );
    if let Some(done) = &row.newest {
        text.push_str(&format!(" ({})", shown(&done.person)));
        for (asked, found) in &done.answers {
            text.push_str(&format!("; {}: {}", shown(asked), shown(found)));
        }
        if let Some(note) = &done.note {
            text.push_str(&format!("; {}", shown(note)));
        }
    }
    text.push_str(&format!("; source: {}", shown(&d.source)));
    text
}

/// A deed that comes round as JSON.
pub fn json_of(row: &DutyRow, calendar: &Calendar) -> Value {
    let d = &row.duty;
    let time = |m: Moment| calendar.rfc3339(m);
    json!({
        "name": d.name, "about": d.about, "every_ms": d.every.map(|s| s.0), "in_use_ms": d.in_use.map(|s| s.0),
        "asks": d.asks, "source": d.source, "state": row.standing.state.word(),
        "last": row.standing.last.map(time), "due": row.standing.due.map(time),
        "used_ms": row.standing.used.0,
        "missed": row.standing.missed.iter().map(|(due, done)| json!({"due": time(*due), "done": done.map(time)})).collect::<Vec<_>>(),
        "newest": row.newest.as_ref().map(|n| json!({
            "entry": n.entry, "at": time(n.at), "by": n.person, "note": n.note,
            "answers": n.answers.iter().map(|(a, f)| json!({"asked": a, "found": f})).collect::<Vec<_>>(),
        })),
    })
}

/// Whether somebody has to see to it.
pub fn calls_for_attention(row: &DutyRow) -> bool {
    matches!(row.standing.state, DutyState::Unknown | DutyState::Overdue)
}

/// Whether the day on which an open incident was to be looked at again is over.
pub fn incident_overdue(i: &IncidentRow, calendar: &Calendar, at: Moment) -> bool {
    let today = calendar.local(at).date_naive();
    !i.closed && i.next.is_some_and(|d| d < today)
}

/// Where and when it happened, what it was and how it stands.
pub fn incident_words(i: &IncidentRow, calendar: &Calendar, at: Moment) -> String {
    let state = match (i.closed, i.next) {
        (true, _) => "closed".to_owned(),
        (false, Some(next)) if incident_overdue(i, calendar, at) => format!("OVERDUE since {next}"),
        (false, Some(next)) => format!("open, to be looked at again {next}"),
        (false, None) => "open, no date set".to_owned(),
    };
    format!(
        "at {}, {}, by {}: {} ({state})",
        shown(&i.place),
        calendar.near(i.at, at),
        shown(&i.person),
        shown(&i.text)
    )
}

/// An incident as lines.
pub fn incident_lines(i: &IncidentRow, calendar: &Calendar, at: Moment) -> Vec<String> {
    let mut out = vec![format!(
        "{:>6}  {} {}",
        i.entry,
        i.kind.word(),
        incident_words(i, calendar, at)
    )];
    out.extend(i.followed.iter().map(|(m, who, text)| {
        format!(
            "        {} {}: {}",
            calendar.near(*m, at),
            shown(who),
            shown(text)
        )
    }));
    out
}

/// An incident as JSON.
pub fn incident_json(i: &IncidentRow, calendar: &Calendar, at: Moment) -> Value {
    json!({
        "entry": i.entry, "kind": i.kind.word(), "place": i.place, "text": i.text, "at": calendar.rfc3339(i.at),
        "by": i.person, "closed": i.closed, "next": i.next.map(|d| d.to_string()),
        "overdue": incident_overdue(i, calendar, at),
        "followed": i.followed.iter().map(|(m, who, text)| json!({"at": calendar.rfc3339(*m), "by": who, "text": text})).collect::<Vec<_>>(),
    })
}

/// Whom to ask, as a line.
pub fn contact_line(c: &ContactRow) -> String {
    format!("{:<24} {}", shown(&c.role), shown(&c.text))
}

/// The air of a room as a line.
pub fn air_line(a: &RoomAirRow, calendar: &Calendar, at: Moment) -> String {
    let volume = a.volume.map_or_else(
        || "volume unknown".to_owned(),
        |v| {
            crate::units::find("m3", crate::units::Dimension::Volume)
                .map_or_else(|| v.text(0), |unit| crate::units::show(v.base(), unit, 1))
        },
    );
    let flow = a
        .flow
        .map_or_else(|| "flow unknown".to_owned(), |f| f.text(3));
    format!(
        "{}: {volume}, {flow} (entered by {} {}, source: {})",
        shown(&a.room),
        shown(&a.person),
        calendar.near(a.since, at),
        shown(&a.source)
    )
}
