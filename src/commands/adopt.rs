//! Recipes and materials: check a file, adopt it, list what is adopted.

use super::{Answer, Desk, Trouble, read_text};
use crate::ledger::{Ledger, LedgerError, Saved, SheetRow, Stamp, Who};
use crate::shop::recipe::{Recipe as ShopRecipe, Step};
use crate::shop::words::Word;
use crate::shop::{material_file, recipe_file};
use crate::units::{Amount, Film, System};
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
        "steps": recipe.steps.iter().map(step_json).collect::<Vec<_>>(),
        "reworks": recipe.reworks.iter().map(|r| json!({
            "code": r.code, "name": r.name, "level": r.level, "bare": r.bare, "rejoin": r.rejoin,
            "defects": r.defects.iter().map(|d| d.word()).collect::<Vec<_>>(),
            "steps": r.steps.iter().map(step_json).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

fn step_json(s: &Step) -> serde_json::Value {
    json!({
        "name": s.name, "kind": s.kind.word(), "on": s.on, "count": s.count,
        "after_ms": s.after.map(|w| w.0), "between_ms": s.between.map(|w| w.0), "per_day": s.per_day,
        "film_nm": s.film.0, "removes_nm": s.removes.0, "hours_ms": s.hours.map(|h| h.0),
        "rest_after": s.rest_after.map(|(n, _)| n), "rest_ms": s.rest_after.map(|(_, r)| r.0),
        "dry_ms": s.dry.map(|d| d.0), "dose_uj_cm2": s.dose, "peak_uw_cm2": s.peak,
        "grits": s.grits.iter().map(|g| g.text()).collect::<Vec<_>>(), "compounds": s.compounds,
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
        out.push(format!(
            "  pot life {} at {}{stands}",
            r.pot_life.words(),
            r.pot_life_at.shown(system, 0)
        ));
    }
    out.extend(recipe.steps.iter().map(|s| step_line(s, system)));
    for surface in &recipe.surfaces {
        let (low, high) = recipe.band(surface);
        let planned: i64 = recipe
            .route(None, surface)
            .iter()
            .map(|s| s.film.0 * i64::from(s.count) - s.removes.0)
            .sum();
        let on = if recipe.surfaces.len() > 1 {
            format!(" on {surface}")
        } else {
            String::new()
        };
        out.push(format!(
            "  finished film{on} {} planned, band {} to {}",
            Film(planned).shown(system, 0),
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
        parts.push(format!("{} mJ/cm2 under the lamp", d / 1_000));
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
