//! A piece's card: where it stands, what is next and why, and its whole history.

use super::piece_json::{
    behind_words, film_now, film_side, film_um, left_out_words, lies, piece, queued_words, when,
};
use super::traveller::tape;
use super::{average_day, entries};
use crate::ledger::{DeviationRow, EntryRow, Seen, Spread};
use crate::shop::calendar::Calendar;
use crate::shop::standing::Site;
use crate::shop::text::shown;
use crate::shop::words::{StepKind, Word};
use crate::units::{Amount, Film, Moment, System};
use serde_json::{Value, json};

/// The card as JSON.
pub fn card(
    seen: &Seen,
    history: &[EntryRow],
    deviations: &[DeviationRow],
    spread: Option<&Spread>,
    at: Moment,
    calendar: &Calendar,
) -> Value {
    let mut value = piece(seen, at, calendar);
    if let Some(map) = value.as_object_mut() {
        let spread = spread.map(|s| average_day::json(s, calendar));
        map.insert("average_day".into(), json!(spread));
        map.insert("pair".into(), json!(seen.now.piece.pair));
        map.insert("scrapped".into(), json!(seen.now.scrapped));
        map.insert("mated".into(), json!(seen.now.mated));
        map.insert("tag".into(), json!(seen.now.piece.tag));
        map.insert(
            "retired_tags".into(),
            seen.now
                .retired
                .iter()
                .map(|r| {
                    json!({
                        "tag": r.tag, "since": calendar.rfc3339(r.at), "why": r.why,
                    })
                })
                .collect(),
        );
        map.insert(
            "open_defects".into(),
            seen.now.flaws.iter().map(|f| json!({
                "entry": f.entry.0, "defect": f.defect.word(), "surface": f.surface, "place": f.place,
            })).collect(),
        );
        map.insert(
            "reworks".into(),
            seen.now.branches.iter().map(|b| json!({
                "rework": b.rework, "defect": b.defect.map(Word::word), "opened": calendar.rfc3339(b.at),
            })).collect(),
        );
        map.insert(
            "taped_since".into(),
            json!(seen.now.taped.map(|m| calendar.rfc3339(m))),
        );
        map.insert(
            "surfaces".into(),
            seen.sites()
                .map(|s| site_json(seen, &s, calendar))
                .collect(),
        );
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

// One surface: its own film, clocks and next step.
fn site_json(seen: &Seen, site: &Site<'_>, calendar: &Calendar) -> Value {
    let next = site
        .standing
        .next(site.steps)
        .and_then(|i| site.steps.get(i));
    json!({
        "surface": site.surface, "rework": site.rework, "next": next.map(|s| s.name.clone()),
        "film_um": film_um(site.standing.film_nm),
        "finish_um": film_um(seen.now.finish_of(&seen.recipe, site)),
        "last_wet": site.standing.last_wet.map(|m| calendar.rfc3339(m)),
        "clear_coats": site.standing.coats(site.steps, StepKind::Clear),
    })
}

/// The card as lines.
pub fn lines(
    seen: &Seen,
    history: &[EntryRow],
    deviations: &[DeviationRow],
    spread: Option<&Spread>,
    at: Moment,
    calendar: &Calendar,
    system: System,
) -> Vec<String> {
    let p = &seen.now.piece;
    let mut out = vec![format!(
        "{}  {} {}  recipe {}  due {}  pair {}",
        p.serial,
        p.kind.word(),
        p.model,
        seen.recipe.label(),
        p.due.map_or_else(|| "-".to_owned(), |d| d.to_string()),
        p.pair.as_deref().unwrap_or("-")
    )];
    if let Some(why) = &seen.now.scrapped {
        out.push(format!("SCRAPPED: {why}"));
    }
    out.push(format!(
        "next: {}  {}  {}",
        seen.view.next_on(),
        seen.view.outlook.word(),
        when(seen, at, calendar)
    ));
    out.extend(spread.map(|s| format!("  {}", average_day::line(s, at, calendar))));
    out.extend(seen.view.reasons.iter().map(|o| format!("  {}", o.before)));
    out.extend(left_out_words(seen).map(|text| format!("  {text}")));
    out.extend(behind_words(seen, calendar));
    out.extend(queued_words(seen, at));
    out.push(format!(
        "{}, {} predicted at the end: {}",
        film_now(seen, system),
        Film(seen.finish_nm()).shown(system, 1),
        lies(
            film_side(seen),
            &seen.band().0.shown(system, 0),
            &seen.band().1.shown(system, 0)
        )
    ));
    let several = seen.sites().count() > 1;
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
        let line = site.rework.map_or_else(
            || surface.to_owned(),
            |code| format!("{surface}, rework {code}"),
        );
        out.push(format!(
            "{line}: {}{}",
            if done.is_empty() {
                "nothing done yet".into()
            } else {
                done.join(", ")
            },
            if several {
                format!("; film {}", Film(s.film_nm).shown(system, 1))
            } else {
                String::new()
            }
        ));
    }
    out.extend(seen.now.flaws.iter().map(|f| {
        let place = f
            .place
            .as_ref()
            .map_or(String::new(), |p| format!(" at {}", shown(p)));
        format!(
            "open defect: {} on {}{place} (entry {})",
            f.defect.word(),
            shown(&f.surface),
            f.entry.0
        )
    }));
    if let Some(taped) = seen.now.taped {
        out.push(tape(at.since(taped), &calendar.stamp(taped)));
    }
    out.push("history".to_owned());
    out.extend(history.iter().map(|e| entries::line(e, calendar, system)));
    if !deviations.is_empty() {
        out.push("deviations".to_owned());
        out.extend(deviations.iter().map(entries::deviation_line));
    }
    out
}
