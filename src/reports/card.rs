//! A piece's card: where it stands, what is next and why, and its whole history.

use super::entries;
use super::piece_json::{film_side, piece, when};
use crate::ledger::{DeviationRow, EntryRow, Seen};
use crate::shop::calendar::Calendar;
use crate::units::{Amount, Film, Moment, System};
use serde_json::{Value, json};

/// The card as JSON.
pub fn card(
    seen: &Seen,
    history: &[EntryRow],
    deviations: &[DeviationRow],
    at: Moment,
    calendar: &Calendar,
) -> Value {
    let mut value = piece(seen, at, calendar);
    if let Some(map) = value.as_object_mut() {
        map.insert("mate".into(), json!(seen.now.piece.mate));
        map.insert("scrapped".into(), json!(seen.now.scrapped));
        map.insert("mated".into(), json!(seen.now.mated));
        map.insert(
            "history".into(),
            history
                .iter()
                .map(|e| entries::entry(e, calendar))
                .collect(),
        );
        map.insert(
            "deviations".into(),
            deviations.iter().map(entries::deviation).collect(),
        );
    }
    value
}

/// The card as lines.
pub fn lines(
    seen: &Seen,
    history: &[EntryRow],
    deviations: &[DeviationRow],
    at: Moment,
    calendar: &Calendar,
    system: System,
) -> Vec<String> {
    use crate::shop::words::Word;
    let p = &seen.now.piece;
    let mut out = vec![format!(
        "{}  {} {}  recipe {}  due {}  mate {}",
        p.serial,
        p.kind.word(),
        p.model,
        seen.recipe.label(),
        p.due.map_or_else(|| "-".to_owned(), |d| d.to_string()),
        p.mate.as_deref().unwrap_or("-")
    )];
    if let Some(why) = &seen.now.scrapped {
        out.push(format!("SCRAPPED: {why}"));
    }
    out.push(format!(
        "next: {}  {}  {}",
        seen.view.next,
        seen.view.outlook.word(),
        when(seen, at, calendar)
    ));
    out.extend(seen.view.reasons.iter().map(|o| format!("  {}", o.before)));
    out.push(format!(
        "film {} now ({}), {} predicted at the end: {} the band {} to {}",
        Film(seen.film_nm()).shown(system, 1),
        if seen.gauged() {
            "from a gauge reading"
        } else {
            "predicted"
        },
        Film(seen.finish_nm()).shown(system, 1),
        film_side(seen),
        seen.recipe.film_low.shown(system, 0),
        seen.recipe.film_high.shown(system, 0)
    ));
    for site in seen.sites() {
        let (surface, s) = (site.surface, site.standing);
        let done: Vec<String> = site
            .steps
            .iter()
            .zip(&s.done)
            .filter(|(_, n)| **n > 0)
            .map(|(step, n)| {
                if step.count > 1 {
                    format!("{} {n}/{}", step.name, step.count)
                } else {
                    step.name.clone()
                }
            })
            .collect();
        out.push(format!(
            "{surface}: {}",
            if done.is_empty() {
                "nothing done yet".into()
            } else {
                done.join(", ")
            }
        ));
    }
    out.push("history".to_owned());
    out.extend(history.iter().map(|e| entries::line(e, calendar, system)));
    if !deviations.is_empty() {
        out.push("deviations".to_owned());
        out.extend(deviations.iter().map(entries::deviation_line));
    }
    out
}
