//! A recipe as a person reads it, for the command line and the screens, and as JSON.
//!
//! *Not here*: reading the file (`shop::recipe_file`).

use super::sheets::{Part, Said};
use crate::shop::faults::thousandths_text;
use crate::shop::recipe::{CreditLaw, FILM_MARGIN, Recipe, Step};
use crate::shop::remarks::{Remark, remarks};
use crate::shop::words::Word;
use crate::units::{Amount, Dimension, Humidity, System, Temperature, num, show, show_as};
use serde_json::{Value, json};

/// The recipe as JSON.
pub fn json(recipe: &Recipe) -> Value {
    json!({
        "code": recipe.code, "revision": recipe.revision, "name": recipe.name,
        "finish": recipe.finish.word(), "melts": recipe.finish.melts(),
        "planned_film_nm": recipe.planned_film().0, "film_cap_nm": recipe.film_cap.map(|c| c.0),
        "surfaces": recipe.surfaces.iter().map(|s| {
            let (low, high) = recipe.band(s);
            json!({"name": s, "film_low_nm": low.0, "film_high_nm": high.0})
        }).collect::<Vec<_>>(),
        "reaction": recipe.reaction.map(|r| json!({
            "pot_life_ms": r.pot_life.0, "pot_life_at_mc": r.pot_life_at.0, "activation_j_mol": r.activation,
            "induction_ms": r.induction.map(|i| i.0),
        })),
        "booth": {
            "temperature_low_mc": recipe.booth.temperature_low.map(|t| t.0),
            "temperature_high_mc": recipe.booth.temperature_high.map(|t| t.0),
            "humidity_high_cpct": recipe.booth.humidity_high.map(|h| h.0),
            "spread_low_mk": recipe.booth.spread_low_mk,
            "film_forming_mc": recipe.booth.film_forming.map(|t| t.0),
        },
        "cure_credit": credit_json(recipe),
        "steps": recipe.steps.iter().map(step_json).collect::<Vec<_>>(),
        "reworks": recipe.reworks.iter().map(|r| json!({
            "code": r.code, "name": r.name, "level": r.level, "bare": r.bare, "rejoin": r.rejoin,
            "defects": r.defects.iter().map(|d| d.word()).collect::<Vec<_>>(),
            "steps": r.steps.iter().map(step_json).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

fn credit_json(recipe: &Recipe) -> Value {
    let law = match recipe.credit.law {
        CreditLaw::Bands => json!({
            "name": "bands",
            "bands": recipe.credit.bands.iter().map(|b| json!({
                "from_mc": b.from.map(|t| t.0), "to_mc": b.to.map(|t| t.0), "to_included": b.to_included,
                "permille": b.permille, "alert": b.alert,
            })).collect::<Vec<_>>(),
        }),
        CreditLaw::Arrhenius {
            reference,
            activation,
            floor,
            humidity_high,
        } => json!({
            "name": "arrhenius", "reference_mc": reference.0, "activation_j_mol": activation,
            "floor_mc": floor.map(|t| t.0), "humidity_high_cpct": humidity_high.map(|h| h.0),
        }),
        CreditLaw::Evaporation {
            reference,
            reference_humidity,
            floor,
            humidity_high,
        } => json!({
            "name": "evaporation", "reference_mc": reference.0, "reference_humidity_cpct": reference_humidity.0,
            "floor_mc": floor.0, "humidity_high_cpct": humidity_high.map(|h| h.0),
        }),
    };
    json!({"law": law, "unlogged_permille": recipe.credit.unlogged_permille})
}

fn step_json(s: &Step) -> Value {
    json!({
        "name": s.name, "kind": s.kind.word(), "on": s.on, "count": s.count,
        "after_ms": s.after.map(|w| w.0), "between_ms": s.between.map(|w| w.0), "per_day": s.per_day,
        "scuff_after_ms": s.scuff_after.map(|w| w.0), "queue_ms": s.queue.map(|w| w.0), "solids_ppm": s.solids.map(|p| p.0),
        "with": s.with.iter().map(|k| k.word()).collect::<Vec<_>>(),
        "film_nm": s.film.0, "removes_nm": s.removes.0, "hours_ms": s.hours.map(|h| h.0),
        "rest_after": s.rest_after.map(|(n, _)| n), "rest_ms": s.rest_after.map(|(_, r)| r.0),
        "dry_ms": s.dry.map(|d| d.0), "dose_uj_cm2": s.dose, "peak_uw_cm2": s.peak,
        "grits": s.grits.iter().map(|g| g.text()).collect::<Vec<_>>(), "compounds": s.compounds,
        "moisture_low_ppm": s.moisture.map(|(low, _)| low.0), "moisture_high_ppm": s.moisture.map(|(_, high)| high.0),
    })
}

/// The recipe's lines; `text` is the file as it was adopted, for what its writer noted.
pub fn lines(recipe: &Recipe, text: &str, system: System) -> Vec<Said> {
    let noted = remarks(text);
    let melts = if recipe.finish.melts() {
        "each coat melts into the one below"
    } else {
        "coats lie on each other"
    };
    let mut out = vec![Said::new(
        Part::Title,
        "recipe",
        format!("{}  ", recipe.label()),
        vec![format!(
            "{}  ({}, {melts})",
            recipe.name,
            recipe.finish.word()
        )],
    )];
    let fact = |key: &str, lead: &str, details: Vec<String>| {
        Said::new(Part::Fact, key, format!("  {lead}"), details)
    };
    let kinds: Vec<&str> = recipe.kinds.iter().map(|k| k.word()).collect();
    let mut what = vec![kinds.join(", ")];
    if recipe.surfaces.len() > 1 {
        what = vec![format!(
            "{}; surfaces {}",
            kinds.join(", "),
            recipe.surfaces.join(", ")
        )];
    }
    out.push(fact("for", "for ", what));
    if let Some(r) = recipe.reaction {
        let warmer = if r.activation.is_some() {
            ", shorter in warmth"
        } else {
            ""
        };
        let mut details = vec![format!(
            "{} at {}{warmer}",
            r.pot_life.words(),
            r.pot_life_at.shown(system, 0)
        )];
        if let Some(i) = r.induction {
            details.push(format!("stands {} before use", i.words()));
        }
        details.extend(doubts(&noted, "reaction", &[]));
        out.push(fact("pot life", "pot life ", details));
    }
    let mut wants = air(recipe, system);
    if !wants.is_empty() {
        wants.extend(doubts(&noted, "booth", &[]));
        out.push(fact("air", "air of a coat: ", wants));
    }
    out.extend(
        recipe
            .steps
            .iter()
            .map(|s| step_said(s, None, &noted, system)),
    );
    for surface in &recipe.surfaces {
        let (low, high) = recipe.band(surface);
        let on = if recipe.surfaces.len() > 1 {
            format!(" on {surface}")
        } else {
            String::new()
        };
        let details = vec![
            format!(
                "{} planned",
                recipe.planned_film_on(surface).shown(system, 0)
            ),
            format!("band {} to {}", low.shown(system, 0), high.shown(system, 0)),
        ];
        out.push(fact(
            &format!("film {surface}"),
            &format!("finished film{on} "),
            details,
        ));
    }
    if let Some(cap) = recipe.film_cap {
        let details = vec![format!("{} of film", cap.shown(system, 0))];
        out.push(fact("film cap", "never more than ", details));
    }
    for r in &recipe.retarder {
        let mut details = Vec::new();
        if let Some(w) = r.between {
            details.push(format!("{} between coats", w.words()));
        }
        if let Some(w) = r.dry {
            details.push(format!("{} before sanding", w.words()));
        }
        if r.supervisor {
            details.push("a supervisor's name".to_owned());
        }
        let above = r.above.text(1);
        out.push(fact(
            &format!("retarder {above}"),
            &format!("with more than {above} retarder in the mix: "),
            details,
        ));
    }
    if recipe.steps.iter().any(|s| s.hours.is_some()) {
        let mut details = credit(recipe, system);
        details.extend(doubts(&noted, "cure_credit", &[]));
        out.push(fact("cure credit", "an hour of the cure counts ", details));
    }
    if let Some(s) = recipe.solvent {
        let details = vec![
            format!("{} of the solvent is left at the end", s.left.text(1)),
            format!("a coat wets {} of the old film", s.burn_in.shown(system, 0)),
        ];
        out.push(fact(
            "solvent",
            "a model of the solvent may hold the cure back: ",
            details,
        ));
    }
    for r in &recipe.reworks {
        let defects: Vec<&str> = r.defects.iter().map(|d| d.word()).collect();
        let mends = if defects.is_empty() {
            String::new()
        } else {
            format!(" for {}", defects.join(", "))
        };
        let mut details = vec![format!("{} (level {}){mends}", r.name, r.level)];
        if r.bare {
            details.push("down to the wood".to_owned());
        }
        if let Some(step) = &r.rejoin {
            details.push(format!("then on with {step}"));
        }
        out.push(Said::new(
            Part::Head,
            format!("rework {}", r.code),
            format!("  rework {} ", r.code),
            details,
        ));
        out.extend(
            r.steps
                .iter()
                .map(|s| step_said(s, Some(&r.code), &noted, system)),
        );
    }
    if let Some(first) = noted.iter().find(|r| r.table.is_empty()) {
        out.push(Said::new(
            Part::Remark,
            "file",
            "  the file says: ",
            vec![first.words.clone()],
        ));
    }
    out
}

// A step of the main line, or of a rework.
fn step_said(s: &Step, rework: Option<&str>, noted: &[Remark], system: System) -> Said {
    let mut details = step(s, system);
    let (table, names) = match rework {
        None => ("step", vec![s.name.as_str()]),
        Some(code) => ("rework.step", vec![code, &s.name]),
    };
    details.extend(doubts(noted, table, &names));
    // A step that is called after its deed says it once.
    let kind = if s.name == s.kind.word() {
        ""
    } else {
        s.kind.word()
    };
    let inset = if rework.is_some() { "    " } else { "  " };
    Said::new(
        Part::Item,
        format!("{table} {}", names.join(" ")),
        format!("{inset}{:<18} {kind:<11} ", s.name),
        details,
    )
}

// What a table's figures have of doubts in the file: `dose from memory, to be confirmed`. Tables below it count, too.
fn doubts(noted: &[Remark], table: &str, names: &[&str]) -> Vec<String> {
    let mut fields: Vec<(&str, Vec<String>)> = Vec::new();
    let own = noted
        .iter()
        .filter(|r| r.doubts())
        .filter(|r| {
            names.is_empty() || r.names.iter().map(String::as_str).eq(names.iter().copied())
        })
        .filter(|r| {
            r.table
                .strip_prefix(table)
                .is_some_and(|rest| rest.is_empty() || (names.is_empty() && rest.starts_with('.')))
        });
    for remark in own {
        let Some(field) = &remark.field else {
            continue;
        };
        let field = field.replace('_', " ");
        match fields.iter_mut().find(|(words, _)| *words == remark.words) {
            Some((_, list)) => list.push(field),
            None => fields.push((&remark.words, vec![field])),
        }
    }
    fields
        .into_iter()
        .map(|(words, list)| format!("({}: {words})", list.join(", ")))
        .collect()
}

// The air that a coat wants; empty where the recipe does not say.
fn air(recipe: &Recipe, system: System) -> Vec<String> {
    let air = &recipe.booth;
    let mut parts = Vec::new();
    if let Some(t) = air.temperature_low {
        parts.push(format!("not below {}", t.shown(system, 1)));
    }
    if let Some(t) = air.temperature_high {
        parts.push(format!("not above {}", t.shown(system, 1)));
    }
    if let Some(h) = air.humidity_high {
        parts.push(format!("at most {} humidity", h.text(0)));
    }
    if let Some(mk) = air.spread_low_mk {
        parts.push(format!("{} above the dew point", difference(mk, system)));
    }
    if let Some(t) = air.film_forming {
        parts.push(format!(
            "the film forms from {} on and wants {} more (from memory, to be confirmed)",
            t.shown(system, 1),
            difference(FILM_MARGIN.0, system)
        ));
    }
    parts
}

// A difference of temperatures in mK.
fn difference(mk: i64, system: System) -> String {
    let unit = show_as(Dimension::TemperatureChange, system);
    show(num::float(mk) / 1e3, unit, 1)
}

// How an hour of the cure counts.
fn credit(recipe: &Recipe, system: System) -> Vec<String> {
    let floor = |t: Temperature| format!(", nothing below {}", t.shown(system, 1));
    let damp = |h: Humidity| format!(", nothing above {} humidity", h.text(0));
    let by = match recipe.credit.law {
        CreditLaw::Bands => {
            let bands: Vec<String> = recipe
                .credit
                .bands
                .iter()
                .map(|b| {
                    let from = b
                        .from
                        .map_or(String::new(), |t| format!(" from {}", t.shown(system, 1)));
                    let alert = if b.alert { " with an alert" } else { "" };
                    format!("{}{from}{alert}", thousandths_text(b.permille))
                })
                .collect();
            if bands.is_empty() {
                "nothing".to_owned()
            } else {
                bands.join(", ")
            }
        }
        CreditLaw::Arrhenius {
            reference,
            activation,
            floor: lowest,
            humidity_high,
        } => format!(
            "whole at {}, less in the cold by Arrhenius' law with {} kJ/mol{}{}",
            reference.shown(system, 1),
            activation / 1_000,
            lowest.map_or(String::new(), floor),
            humidity_high.map_or(String::new(), damp)
        ),
        CreditLaw::Evaporation {
            reference,
            reference_humidity,
            floor: lowest,
            humidity_high,
        } => format!(
            "whole at {} and {}, less in colder or damper air as water leaves{}{}",
            reference.shown(system, 1),
            reference_humidity.text(0),
            floor(lowest),
            humidity_high.map_or(String::new(), damp)
        ),
    };
    vec![format!(
        "{by}; {} in a room without readings",
        thousandths_text(recipe.credit.unlogged_permille)
    )]
}

fn step(s: &Step, system: System) -> Vec<String> {
    let mut parts = Vec::new();
    if !s.on.is_empty() {
        parts.push(format!("on {}", s.on.join(", ")));
    }
    if s.count > 1 {
        parts.push(format!("{} times", s.count));
    }
    if let Some(w) = s.after {
        parts.push(format!("from {} after the last wet coat", w.words()));
    }
    if let Some(w) = s.between {
        parts.push(format!("{} between coats", w.words()));
    }
    if let Some((n, rest)) = s.rest_after {
        parts.push(format!("{} after every {n}", rest.words()));
    }
    if let Some(n) = s.per_day {
        parts.push(format!("{n} a production day at most"));
    }
    if let Some(w) = s.scuff_after {
        parts.push(format!("scuff first after {}", w.words()));
    }
    if let Some(w) = s.queue {
        parts.push(format!("ready for {} at most", w.words()));
    }
    if s.film.0 > 0 {
        let solids = s
            .solids
            .map_or(String::new(), |p| format!(" at {} solids", p.text(1)));
        parts.push(format!("+{} each{solids}", s.film.shown(system, 0)));
    }
    if !s.with.is_empty() {
        let kinds: Vec<&str> = s.with.iter().map(|k| k.word()).collect();
        parts.push(format!("with {}", kinds.join(" or ")));
    }
    if s.removes.0 > 0 {
        parts.push(format!("-{}", s.removes.shown(system, 0)));
    }
    if let Some(h) = s.hours {
        parts.push(format!("{} h", h.0 / 3_600_000));
    }
    if let Some(d) = s.dry {
        parts.push(format!("a spot dries {}", d.words()));
    }
    if let Some(d) = s.dose {
        let peak = s
            .peak
            .map_or(String::new(), |p| format!(", peak {} mW/cm2", p / 1_000));
        parts.push(format!("{} mJ/cm2 under the lamp{peak}", d / 1_000));
    }
    if !s.grits.is_empty() {
        let grits: Vec<String> = s.grits.iter().map(|g| g.text()).collect();
        parts.push(grits.join(" "));
    }
    if !s.compounds.is_empty() {
        parts.push(s.compounds.join(", "));
    }
    if let Some((low, high)) = s.moisture {
        parts.push(format!("moisture {} to {}", low.text(1), high.text(1)));
    }
    parts
}
