//! Entries with both times, and what became of them.

use crate::ledger::{DeviationRow, EntryRow, Receipt};
use crate::shop::calendar::Calendar;
use crate::shop::material::Totals;
use crate::shop::record::{Fact, ShopFact, What};
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Mass, Span};
use serde_json::{Value, json};

/// What an entry says, in words.
pub fn words(what: &What) -> String {
    match what {
        What::Piece(fact) => fact_words(fact),
        What::Shop(fact) => shop_words(fact),
        What::Void { why } => format!("taken back: {}", shown(why)),
        What::Answered { rule, word } => format!("answered {}: {}", rule.word(), shown(word)),
        What::Explained { reason } => format!("reason: {}", reason.word()),
    }
}

fn fact_words(fact: &Fact) -> String {
    match fact {
        Fact::Added(p) => format!(
            "taken in: {} {}, {} rev {}",
            p.kind.word(),
            shown(&p.model),
            p.recipe,
            p.revision
        ),
        Fact::Placed { rack, hook, room } => {
            let parts = [
                rack.as_ref().map(|r| format!("rack {}", shown(r))),
                hook.map(|h| format!("hook {h}")),
                room.as_ref().map(|r| shown(r)),
            ];
            format!(
                "hung at {}",
                parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
            )
        }
        Fact::Coat(c) => {
            let mut text = if c.touch_up {
                "touch-up".to_owned()
            } else {
                format!("{} coat", c.kind.word())
            };
            if let Some(mix) = c.mix {
                text.push_str(&format!(", mix {mix}"));
            }
            if let Some(lot) = &c.lot {
                text.push_str(&format!(", lot {}", shown(lot)));
            }
            if let Some(amount) = c.amount {
                text.push_str(&format!(", {}", amount.text(1)));
            }
            if !c.wet.is_empty() {
                let wet: Vec<String> = c.wet.iter().map(|f| f.text(0)).collect();
                text.push_str(&format!(", wet {}", wet.join(" ")));
            }
            text
        }
        Fact::Sanded {
            kind,
            removed,
            grit,
        } => {
            let grit = grit
                .as_ref()
                .map_or(String::new(), |g| format!(", {}", shown(g)));
            let removed = removed.map_or(String::new(), |f| format!(", {} off", f.text(1)));
            format!("{}{grit}{removed}", kind.word())
        }
        Fact::Worked { kind } => kind.word().to_owned(),
        Fact::Gauged { film } => format!("film reading {}", film.text(1)),
        Fact::Held { why } => format!("hold: {}", shown(why)),
        Fact::Lifted { why } => format!("hold lifted: {}", shown(why)),
        Fact::Note { text } => format!("note: {}", shown(text)),
        Fact::Scrapped { why } => format!("scrapped: {}", shown(why)),
        Fact::Restored { why } => format!("back from scrap: {}", shown(why)),
    }
}

fn shop_words(fact: &ShopFact) -> String {
    match fact {
        ShopFact::Opened {
            name,
            zone,
            day_start,
            demo,
        } => format!(
            "ledger opened: {}, zone {zone}, production day from {day_start:02}:00{}",
            shown(name),
            if *demo { ", DEMO" } else { "" }
        ),
        ShopFact::Room { name, interval, .. } => match interval {
            Some(i) => format!(
                "room {} declared, readings every {}",
                shown(name),
                i.words()
            ),
            None => format!("room {} declared, no readings", shown(name)),
        },
        ShopFact::Material { code, sheet, .. } => format!("material {code}, sheet {sheet} adopted"),
        ShopFact::Recipe { code, revision, .. } => format!("recipe {code} rev {revision} adopted"),
        ShopFact::Lot {
            lot,
            material,
            sheet,
            volume,
            ..
        } => {
            format!(
                "lot {} of {material} received, {}, sheet {sheet}",
                shown(lot),
                volume.text(0)
            )
        }
        ShopFact::Mix {
            mix, name, parts, ..
        } => {
            let parts: Vec<String> = parts
                .iter()
                .map(|p| format!("{} {}", shown(&p.lot), p.volume.text(0)))
                .collect();
            format!("mix {mix} ({}) made: {}", shown(name), parts.join(" + "))
        }
        ShopFact::Ceiling {
            what,
            scope,
            typed,
            basis,
            source,
            ..
        } => format!(
            "limit {} for {}: {} ({}), source: {}",
            shown(what),
            shown(scope),
            shown(typed),
            shown(basis),
            shown(source)
        ),
        ShopFact::Survey {
            booth, readings, ..
        } => {
            format!(
                "face-velocity survey of {}, {} readings",
                shown(booth),
                readings.len()
            )
        }
        ShopFact::Climate {
            room, file, rows, ..
        } => {
            format!("{rows} readings of {} from {}", shown(room), shown(file))
        }
    }
}

/// After this much time between deed and writing an entry is marked as written late.
pub const LATE: Span = Span::minutes(30);

/// An entry as JSON.
pub fn entry(row: &EntryRow, calendar: &Calendar) -> Value {
    json!({
        "entry": row.seq.0,
        "action": row.action,
        "piece": row.piece.as_ref().map(|(_, s)| s.clone()),
        "surface": row.surface,
        "branch": row.branch,
        "what": words(&row.what),
        "began": calendar.rfc3339(row.began),
        "ended": calendar.rfc3339(row.ended),
        "day": calendar.day(row.began).date().to_string(),
        "written": calendar.rfc3339(row.written),
        "by": row.person,
        "written_by": row.writer,
        "station": row.station,
        "corrects": row.corrects.map(|e| e.0),
        "taken_back_by": row.voided_by.map(|e| e.0),
    })
}

/// An entry as a line.
pub fn line(row: &EntryRow, calendar: &Calendar) -> String {
    let piece = row.piece.as_ref().map_or("-", |(_, s)| s.as_str());
    let mut text = format!(
        "{:>6}  {:<9} {}  {:<6} {}",
        row.seq.0,
        piece,
        calendar.full(row.ended),
        row.person,
        words(&row.what)
    );
    if row.written.since(row.ended) > LATE {
        text.push_str(&format!("  [written late: {}]", calendar.full(row.written)));
    } else {
        text.push_str(&format!(
            "  [written {}]",
            calendar.clock_seconds(row.written)
        ));
    }
    if row.writer != row.person {
        text.push_str(&format!("  [by {}]", row.writer));
    }
    if let Some(e) = row.corrects {
        text.push_str(&format!("  [corrects {}]", e.0));
    }
    if let Some(e) = row.voided_by {
        text.push_str(&format!("  [TAKEN BACK by {}]", e.0));
    }
    text
}

/// A deviation as JSON.
pub fn deviation(d: &DeviationRow) -> Value {
    json!({
        "entry": d.entry.0, "rule": d.rule, "piece": d.serial, "text": d.text, "reason": d.reason,
        "raised_by_action": d.raised, "moot_since_action": d.moot, "answered_by_entry": d.answer,
    })
}

/// A deviation as a line.
pub fn deviation_line(d: &DeviationRow) -> String {
    let state = match (d.moot, d.answer) {
        (Some(a), _) => format!("moot since action {a}"),
        (None, Some(e)) => format!("answered by entry {e}"),
        (None, None) => "open".to_owned(),
    };
    format!(
        "{:>6}  {:<9} {:<14} {}  (reason: {}; {state})",
        d.entry.0,
        d.serial,
        d.rule,
        d.text,
        d.reason.as_deref().unwrap_or("not given yet")
    )
}

/// A mass in grams with one decimal, for people.
pub fn grams(mass: Mass) -> String {
    mass.text(1)
}

/// Totals as JSON, in milligrams as they are kept.
pub fn totals(t: &Totals) -> Value {
    json!({"voc_mg": t.voc.0, "hap_mg": t.hap.0, "exempt_mg": t.exempt.0})
}

/// A receipt as JSON.
pub fn receipt(r: &Receipt, again: bool) -> Value {
    json!({
        "saved": true,
        "saved_before": again,
        "action": r.saved.action,
        "line": r.line,
        "pieces": r.pieces.iter().map(|(s, h)| json!({"serial": s, "hook": h})).collect::<Vec<_>>(),
        "left_out": r.left_out.iter().map(|l| json!({"serial": l.serial, "hook": l.hook, "why": l.why})).collect::<Vec<_>>(),
        "deviations": r.deviations.iter().map(deviation).collect::<Vec<_>>(),
        "solvent": totals(&r.totals),
    })
}
