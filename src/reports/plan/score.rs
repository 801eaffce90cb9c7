//! How earlier plans held, in words and as JSON.

use crate::plan::score::{Lead, Score, sum};
use crate::shop::calendar::Calendar;
use crate::units::{Moment, Span, num};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What plans of some mornings came to.
#[derive(Debug, Clone)]
pub struct Scored {
    /// How many mornings.
    pub mornings: usize,
    /// How many of them had too few past deeds for a spread.
    pub without: usize,
    /// The end of what is known.
    pub until: Moment,
    /// By how far ahead they looked.
    pub by_lead: BTreeMap<Lead, Score>,
}

// Hours with one decimal and a sign.
fn hours(span: Option<Span>) -> String {
    span.map_or("-".to_owned(), |s| format!("{:+.1} h", in_hours(s)))
}

fn in_hours(span: Span) -> f64 {
    (num::float(span.0) / 360_000.0).round() / 10.0
}

fn row(name: &str, score: &Score) -> String {
    let share = |part| {
        score
            .percent(part)
            .map_or("-".to_owned(), |p| format!("{p} %"))
    };
    format!(
        "  {name:<24} {:>6}  {:>6}  {:>6}  {:>9}  {:>9}  {:>9}",
        score.judged,
        share(score.by_half),
        share(score.by_nine),
        hours(score.mean(score.off)),
        hours(score.mean(score.away)).trim_start_matches('+'),
        hours(score.mean(score.off_stated)),
    )
}

/// The scores as lines.
pub fn lines(scored: &Scored, calendar: &Calendar) -> Vec<String> {
    let mut out = vec![
        format!(
            "{} mornings, {} of them with too few past deeds for a spread; what happened is known up to {}",
            scored.mornings,
            scored.without,
            calendar.stamp(scored.until)
        ),
        "a piece's deed counts where its P90 lies before that; begun less P50, its size, and begun less the stated plan, in the mean"
            .to_owned(),
        format!(
            "  {:<24} {:>6}  {:>6}  {:>6}  {:>9}  {:>9}  {:>9}",
            "forecast", "deeds", "by P50", "by P90", "off P50", "size", "off plan"
        ),
    ];
    for lead in Lead::ALL {
        let score = scored.by_lead.get(&lead).copied().unwrap_or_default();
        out.push(row(lead.words(), &score));
    }
    out.push(row("all that were taken up", &sum(&scored.by_lead)));
    out
}

/// The scores as JSON.
pub fn answer(scored: &Scored, calendar: &Calendar) -> Value {
    let one = |s: &Score| {
        json!({
            "deeds": s.judged,
            "begun": s.happened,
            "by_p50": s.by_half,
            "by_p90": s.by_nine,
            "by_p90_percent": s.percent(s.by_nine),
            "off_p50_h": s.mean(s.off).map(in_hours),
            "size_h": s.mean(s.away).map(in_hours),
            "off_plan_h": s.mean(s.off_stated).map(in_hours),
        })
    };
    let by_lead = scored.by_lead.iter().map(|(lead, score)| {
        let mut value = one(score);
        if let Some(map) = value.as_object_mut() {
            map.insert("forecast".to_owned(), json!(lead.words()));
        }
        value
    });
    json!({
        "mornings": scored.mornings,
        "without_spread": scored.without,
        "until": calendar.rfc3339(scored.until),
        "by_lead": by_lead.collect::<Vec<_>>(),
        "all": one(&sum(&scored.by_lead)),
    })
}
