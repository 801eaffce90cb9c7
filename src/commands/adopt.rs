//! Recipes and materials: check a file, adopt it, list what is adopted.

use super::{Answer, Desk, Trouble, read_text};
use crate::ledger::{Ledger, LedgerError, Saved, SheetRow, Stamp, Who};
use crate::shop::recipe::Recipe as ShopRecipe;
use crate::shop::words::Word;
use crate::shop::{material_file, recipe_file};
use crate::units::{Amount, System};
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
        "planned_film_nm": recipe.planned_film().0,
        "steps": recipe.steps.iter().map(|s| json!({
            "name": s.name, "kind": s.kind.word(), "count": s.count,
            "after_ms": s.after.map(|w| w.0), "between_ms": s.between.map(|w| w.0), "per_day": s.per_day,
            "film_nm": s.film.0, "removes_nm": s.removes.0, "hours_ms": s.hours.map(|h| h.0),
        })).collect::<Vec<_>>(),
    })
}

fn recipe_lines(recipe: &ShopRecipe, system: System) -> Vec<String> {
    let mut out = vec![format!("{}  {}", recipe.label(), recipe.name)];
    for s in &recipe.steps {
        let mut parts = Vec::new();
        if s.count > 1 {
            parts.push(format!("{} times", s.count));
        }
        if let Some(w) = s.after {
            parts.push(format!("from {} after the last wet coat", w.words()));
        }
        if let Some(w) = s.between {
            parts.push(format!("{} between coats", w.words()));
        }
        if let Some(n) = s.per_day {
            parts.push(format!("{n} a production day at most"));
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
        out.push(format!(
            "  {:<16} {:<11} {}",
            s.name,
            s.kind.word(),
            parts.join(", ")
        ));
    }
    out.push(format!(
        "  finished film {} planned, band {} to {}",
        recipe.planned_film().shown(system, 0),
        recipe.film_low.shown(system, 0),
        recipe.film_high.shown(system, 0)
    ));
    out
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
