//! Recipes and materials: check a file, adopt it, list what is adopted.

use super::{Answer, Desk, Trouble, read_text};
use crate::ledger::{Ledger, LedgerError, Saved, SheetRow, Stamp, Who};
use crate::shop::faults::thousandths_text;
use crate::shop::recipe::{CreditLaw, FILM_MARGIN, Recipe as ShopRecipe, Step};
use crate::shop::words::Word;
use crate::shop::{material_file, recipe_file};
use crate::units::{Amount, Dimension, Humidity, System, Temperature, num, show, show_as};
use serde_json::json;
use std::path::{Path, PathBuf};

/// Check, adopt and list recipes.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Recipe {
    /// Check a recipe file; every fault is named with its line, field, value and fix.
    Check {
        /// The file.
        file: PathBuf,
    },
    /// Adopt a recipe file as a revision that never changes.
    Adopt {
        /// The file.
        file: PathBuf,
    },
    /// Play a recipe through by its own rules: the calendar to expect.
    Rehearse(super::rehearse::Rehearse),
    /// List adopted revisions.
    List,
    /// Which pieces in process are on which revision.
    InFlight {
        /// Recipe code.
        code: String,
    },
    /// Show an adopted revision.
    Show {
        /// Recipe code.
        code: String,
        /// Revision.
        revision: u32,
    },
}

/// Check, adopt and list materials by data sheet.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Material {
    /// Check a material file; every fault is named with its line, field, value and fix.
    Check {
        /// The file.
        file: PathBuf,
    },
    /// Adopt a material file as a data-sheet revision that never changes.
    Adopt {
        /// The file.
        file: PathBuf,
    },
    /// List adopted sheets.
    List,
}

pub(super) fn faults(list: &[crate::shop::faults::Fault]) -> Trouble {
    Trouble::Input(
        list.iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("\n"),
    )
}

/// How the ledger adopts a file: its name, its text, who and when.
type Take = fn(&mut Ledger, &str, &str, &Who, &Stamp) -> Result<Saved, LedgerError>;

fn adopt(desk: &mut Desk<'_>, file: &Path, take: Take) -> Result<(), Trouble> {
    let text = read_text(file)?;
    let mut shop = desk.shop()?;
    let (who, stamp) = (desk.who(None)?, shop.stamp());
    let saved = take(&mut shop.ledger, &name(file), &text, &who, &stamp)?;
    desk.print(
        &json!({"saved": true, "action": saved.action}),
        &[format!("{} adopted", name(file))],
    )
}

fn list(
    desk: &mut Desk<'_>,
    rows: fn(&Ledger) -> Result<Vec<SheetRow>, LedgerError>,
    key: &str,
    word: &str,
) -> Result<(), Trouble> {
    let rows = rows(&desk.shop()?.ledger)?;
    let value = rows
        .iter()
        .map(|r| json!({"code": r.code, key: r.revision, "entry": r.entry}))
        .collect();
    let lines: Vec<String> = rows
        .iter()
        .map(|r| format!("{} {word} {}  (entry {})", r.code, r.revision, r.entry))
        .collect();
    desk.print(&value, &lines)
}

fn name(file: &Path) -> String {
    file.display().to_string()
}

impl Recipe {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self {
            Self::Check { file } => {
                let recipe =
                    recipe_file::read(&name(&file), &read_text(&file)?).map_err(|f| faults(&f))?;
                let line = format!(
                    "{}: {} reads well, {} steps, planned film {}",
                    name(&file),
                    recipe.label(),
                    recipe.steps.len(),
                    recipe.planned_film().text(0)
                );
                desk.print(
                    &json!({"code": recipe.code, "revision": recipe.revision, "faults": []}),
                    &[line],
                )?;
            }
            Self::Adopt { file } => adopt(desk, &file, Ledger::adopt_recipe)?,
            Self::Rehearse(c) => return c.run(desk),
            Self::List => list(desk, Ledger::recipes, "revision", "rev")?,
            Self::InFlight { code } => return super::mend::in_flight(desk, &code),
            Self::Show { code, revision } => {
                let shop = desk.shop()?;
                let recipe = shop.ledger.recipe(&code, revision)?;
                desk.print(&recipe_json(&recipe), &recipe_lines(&recipe, desk.system()))?;
            }
        }
        Ok(0)
    }
}

fn recipe_json(recipe: &ShopRecipe) -> serde_json::Value {
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

fn credit_json(recipe: &ShopRecipe) -> serde_json::Value {
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

fn step_json(s: &Step) -> serde_json::Value {
    json!({
        "name": s.name, "kind": s.kind.word(), "on": s.on, "count": s.count,
        "after_ms": s.after.map(|w| w.0), "between_ms": s.between.map(|w| w.0), "per_day": s.per_day,
        "scuff_after_ms": s.scuff_after.map(|w| w.0), "solids_ppm": s.solids.map(|p| p.0),
        "film_nm": s.film.0, "removes_nm": s.removes.0, "hours_ms": s.hours.map(|h| h.0),
        "rest_after": s.rest_after.map(|(n, _)| n), "rest_ms": s.rest_after.map(|(_, r)| r.0),
        "dry_ms": s.dry.map(|d| d.0), "dose_uj_cm2": s.dose, "peak_uw_cm2": s.peak,
        "grits": s.grits.iter().map(|g| g.text()).collect::<Vec<_>>(), "compounds": s.compounds,
        "moisture_low_ppm": s.moisture.map(|(low, _)| low.0), "moisture_high_ppm": s.moisture.map(|(_, high)| high.0),
    })
}

fn recipe_lines(recipe: &ShopRecipe, system: System) -> Vec<String> {
    let mut out = vec![format!(
        "{}  {}  ({}, {})",
        recipe.label(),
        recipe.name,
        recipe.finish.word(),
        if recipe.finish.melts() {
            "each coat melts into the one below"
        } else {
            "coats lie on each other"
        }
    )];
    if let Some(r) = recipe.reaction {
        let stands = r.induction.map_or(String::new(), |i| {
            format!(", stands {} before use", i.words())
        });
        let warmer = if r.activation.is_some() {
            ", shorter in warmth"
        } else {
            ""
        };
        out.push(format!(
            "  pot life {} at {}{warmer}{stands}",
            r.pot_life.words(),
            r.pot_life_at.shown(system, 0)
        ));
    }
    if let Some(air) = air_line(recipe, system) {
        out.push(air);
    }
    out.extend(recipe.steps.iter().map(|s| step_line(s, system)));
    for surface in &recipe.surfaces {
        let (low, high) = recipe.band(surface);
        let on = if recipe.surfaces.len() > 1 {
            format!(" on {surface}")
        } else {
            String::new()
        };
        out.push(format!(
            "  finished film{on} {} planned, band {} to {}",
            recipe.planned_film_on(surface).shown(system, 0),
            low.shown(system, 0),
            high.shown(system, 0)
        ));
    }
    if let Some(cap) = recipe.film_cap {
        out.push(format!(
            "  never more than {} of film",
            cap.shown(system, 0)
        ));
    }
    if recipe.steps.iter().any(|s| s.hours.is_some()) {
        out.push(credit_line(recipe, system));
    }
    for r in &recipe.reworks {
        let defects: Vec<&str> = r.defects.iter().map(|d| d.word()).collect();
        let mends = if defects.is_empty() {
            String::new()
        } else {
            format!(" for {}", defects.join(", "))
        };
        let after = r
            .rejoin
            .as_ref()
            .map_or(String::new(), |step| format!(", then on with {step}"));
        out.push(format!(
            "  rework {} {} (level {}){mends}{after}",
            r.code, r.name, r.level
        ));
        out.extend(
            r.steps
                .iter()
                .map(|s| format!("  {}", step_line(s, system))),
        );
    }
    out
}

/// The air that a coat wants, on one line; `None` where the recipe does not say.
fn air_line(recipe: &ShopRecipe, system: System) -> Option<String> {
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
    (!parts.is_empty()).then(|| format!("  air of a coat: {}", parts.join(", ")))
}

/// A difference of temperatures in mK.
fn difference(mk: i64, system: System) -> String {
    let unit = show_as(Dimension::TemperatureChange, system);
    show(num::float(mk) / 1e3, unit, 1)
}

/// How an hour of the cure counts, on one line.
fn credit_line(recipe: &ShopRecipe, system: System) -> String {
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
            bands.join(", ")
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
    format!(
        "  an hour of the cure counts {by}; {} in a room without readings",
        thousandths_text(recipe.credit.unlogged_permille)
    )
}

fn step_line(s: &Step, system: System) -> String {
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
    if s.film.0 > 0 {
        parts.push(format!("+{} each", s.film.shown(system, 0)));
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
    format!(
        "  {:<18} {:<11} {}",
        s.name,
        s.kind.word(),
        parts.join(", ")
    )
    .trim_end()
    .to_owned()
}

impl Material {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self {
            Self::Check { file } => {
                let m = material_file::read(&name(&file), &read_text(&file)?)
                    .map_err(|f| faults(&f))?;
                let line = format!("{}: {} sheet {} reads well", name(&file), m.code, m.sheet);
                desk.print(
                    &json!({"code": m.code, "sheet": m.sheet, "faults": []}),
                    &[line],
                )?;
            }
            Self::Adopt { file } => adopt(desk, &file, Ledger::adopt_material)?,
            Self::List => list(desk, Ledger::materials, "sheet", "sheet")?,
        }
        Ok(0)
    }
}
