//! Signed months: the page that is signed, what has changed since, and the history.

use super::entries;
use super::sums;
use crate::ledger::{Change, MonthNow, Signature};
use crate::shop::calendar::Calendar;
use crate::shop::record::Figure;
use crate::shop::text::shown;
use crate::units::{Amount, Mass, Moment, System, Volume};
use serde_json::{Value, json};

/// The page of a month that is about to be signed, as lines and as JSON. Both are kept as they are made here.
pub fn page(
    now: &MonthNow,
    person: &str,
    at: Moment,
    calendar: &Calendar,
    system: System,
) -> (Vec<String>, Value) {
    let mut lines = sums::lines(&now.sums, system);
    let mut value = sums::month(&now.sums);
    // The month was read before, so it is one.
    let before = now.begins_before(calendar).unwrap_or(false);
    if before {
        lines.push(format!(
            "record begins {}; what was used before is unknown",
            calendar.local(now.began).format("%-d %b %Y")
        ));
    }
    if let Some(before) = now.newest() {
        lines.push(format!("changed since {}", signed_by(before, calendar)));
        lines.extend(now.changes.iter().map(|c| change_line(c, system)));
    }
    lines.push(format!(
        "signed by {person}, {}, revision {}",
        calendar.full(at),
        now.next_revision()
    ));
    lines.push(format!("head: action {}, {}", now.head.0, now.head.1));
    if let Some(map) = value.as_object_mut() {
        if before {
            let begins = json!(calendar.rfc3339(now.began));
            map.insert("record_begins".to_owned(), begins);
        }
        map.insert(
            "signed".to_owned(),
            json!({
                "by": person, "at": calendar.rfc3339(at), "revision": now.next_revision(),
                "actions": now.head.0, "head": now.head.1,
                "changes": now.changes.iter().map(change).collect::<Vec<_>>(),
            }),
        );
    }
    (lines, value)
}

/// Says that later entries changed a signed month: what lies between, substance by substance, and from which entries.
pub fn open_revision(now: &MonthNow, calendar: &Calendar, system: System) -> Vec<String> {
    let Some(newest) = now.newest().filter(|_| !now.changes.is_empty()) else {
        return Vec::new();
    };
    let mut lines = vec![format!(
        "REVISION {} IS NOT SIGNED: {} differs from {}",
        now.next_revision(),
        now.sums.month,
        signed_by(newest, calendar)
    )];
    lines.extend(now.changes.iter().map(|c| change_line(c, system)));
    lines.push("entries since that touch it:".to_owned());
    lines.extend(now.since.iter().map(|e| entries::line(e, calendar, system)));
    lines.push(format!(
        "\"hangtime month close {}\" signs it; the page signed before stays as it is",
        now.sums.month
    ));
    lines
}

/// All signatures of a month with what each changed, and what is not signed.
pub fn history(now: &MonthNow, calendar: &Calendar, system: System) -> (Vec<String>, Value) {
    let mut lines = vec![format!(
        "{}: {}",
        now.sums.month,
        match now.signatures.len() {
            0 => "never signed".to_owned(),
            1 => "signed once".to_owned(),
            n => format!("signed {n} times"),
        }
    )];
    let mut list = Vec::new();
    let mut before: Option<&[Figure]> = None;
    for s in &now.signatures {
        let found = before.map_or_else(Vec::new, |was| {
            crate::ledger::changes(was, &s.signed.figures)
        });
        before = Some(&s.signed.figures);
        lines.push(format!(
            "{}, at action {}, head {}",
            signed_by(s, calendar),
            s.signed.actions,
            s.signed.head
        ));
        lines.extend(found.iter().map(|c| change_line(c, system)));
        list.push(json!({
            "revision": s.signed.revision, "by": s.person, "at": calendar.rfc3339(s.at), "action": s.action,
            "actions": s.signed.actions, "head": s.signed.head,
            "changes": found.iter().map(change).collect::<Vec<_>>(),
        }));
    }
    lines.extend(open_revision(now, calendar, system));
    let value = json!({
        "month": now.sums.month,
        "signed": list,
        "not_signed": {
            "changes": now.changes.iter().map(change).collect::<Vec<_>>(),
            "entries": now.since.iter().map(|e| e.seq.0).collect::<Vec<_>>(),
        },
    });
    (lines, value)
}

fn signed_by(s: &Signature, calendar: &Calendar) -> String {
    format!(
        "revision {}, signed by {}, {}",
        s.signed.revision,
        s.person,
        calendar.full(s.at)
    )
}

// The sign stands by itself, so that it is read before the figure.
fn change_line(c: &Change, system: System) -> String {
    let show = |v: i64| match c.substance {
        Some(_) => Mass(v).shown(system, 1),
        None => Volume(v).shown(system, 1),
    };
    let what = c.substance.as_ref().map_or_else(
        || "volume".to_owned(),
        // What no number names goes by its name alone.
        |(cas, name)| {
            if cas == name {
                shown(name)
            } else {
                format!("{} {}", shown(name), shown(cas))
            }
        },
    );
    let difference = c.is - c.was;
    format!(
        "  {:<6} {what:<34} was {:>12}, is {:>12}, {} {}",
        shown(&c.material),
        show(c.was),
        show(c.is),
        if difference < 0 { "less" } else { "more" },
        show(difference.abs())
    )
}

fn change(c: &Change) -> Value {
    match &c.substance {
        Some((cas, name)) => json!({
            "material": c.material, "sheet": c.sheet, "cas": cas, "name": name,
            "was_mg": c.was, "is_mg": c.is, "difference_mg": c.is - c.was,
        }),
        None => json!({
            "material": c.material, "was_ul": c.was, "is_ul": c.is, "difference_ul": c.is - c.was,
        }),
    }
}
