//! What a logger's file says, and what came of taking it over, in words and as JSON.
//!
//! *Invariants*: every line that was left out is named, with its reason.
//!
//! *Not here*: reading the file (`feeds::logger`).

use super::together::ranges;
use crate::feeds::logger::file::{Remark, Understood};
use crate::ledger::ClimateReport;
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Moment};
use serde_json::{Value, json};

/// How many remarks of one file are told as lines; all of them stand in the JSON.
const MOST: usize = 40;

/// The remarks, one and the same of many lines told once: `lines 5-17: no temperature`.
pub fn remarks(list: &[Remark]) -> Vec<String> {
    let mut said: Vec<(&Remark, Vec<u64>)> = Vec::new();
    for remark in list {
        match said
            .iter_mut()
            .find(|(r, _)| (r.oddity, &r.why) == (remark.oddity, &remark.why))
        {
            Some((_, lines)) => lines.push(remark.line),
            None => said.push((remark, vec![remark.line])),
        }
    }
    let more = said.len().saturating_sub(MOST);
    let mut out: Vec<String> = said
        .into_iter()
        .take(MOST)
        .map(|(remark, lines)| {
            let left = if remark.oddity.left_out() {
                " (left out)"
            } else {
                ""
            };
            let lines = match lines.as_slice() {
                [one] => format!("line {one}"),
                many => format!("lines {}", ranges(many)),
            };
            format!("  {lines}: {}{left}", shown(&remark.why))
        })
        .collect();
    if more > 0 {
        out.push(format!("  and {more} remarks more; --json has all of them"));
    }
    out
}

/// The remarks as JSON.
pub fn remarks_json(list: &[Remark]) -> Value {
    list.iter()
        .map(|r| {
            json!({"line": r.line, "what": r.oddity.word(), "left_out": r.oddity.left_out(), "text": r.why})
        })
        .collect()
}

/// The first readings as they are understood.
pub fn first_readings(understood: &Understood, most: usize, calendar: &Calendar) -> Vec<String> {
    let first = understood.readings.iter().take(most);
    first
        .map(|(line, s)| {
            format!(
                "  line {line}: {}  {}  {}",
                calendar.full(s.at),
                s.temperature.text(2),
                s.humidity
                    .map_or_else(|| "no humidity".to_owned(), |h| h.text(2))
            )
        })
        .collect()
}

fn named(other: &[Moment], calendar: &Calendar) -> String {
    let first: Vec<String> = other.iter().take(3).map(|m| calendar.full(*m)).collect();
    let more = if other.len() > 3 { ", .." } else { "" };
    format!("{}{more}", first.join(", "))
}

/// What a file brought, after its first words.
pub fn brought(report: &ClimateReport, calendar: &Calendar) -> String {
    let mut text = format!("{} taken over, {} were known", report.taken, report.known);
    if !report.other.is_empty() {
        text.push_str(&format!(
            ", {} of them otherwise, which stay as they are: {}",
            report.other.len(),
            named(&report.other, calendar)
        ));
    }
    text
}

/// The same as JSON.
pub fn brought_json(report: &ClimateReport, calendar: &Calendar) -> Value {
    json!({
        "taken": report.taken, "known": report.known,
        "other": report.other.iter().map(|m| calendar.rfc3339(*m)).collect::<Vec<_>>(),
        "action": report.saved.as_ref().map(|s| s.action),
    })
}
