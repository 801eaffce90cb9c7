//! Recipes and materials: check a file, adopt it, list what is adopted.

use super::{Answer, Desk, Shop, Trouble, read_text};
use crate::ledger::{Ledger, LedgerError, LotRow, Saved, SheetRow, Stamp, Who};
use crate::reports::sheets::{self, Said};
use crate::reports::{material, recipe};
use crate::shop::text::{like, shown};
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
    /// Which pieces in process are on which revision.
    InFlight {
        /// Recipe code.
        code: String,
    },
    /// Show an adopted revision; without one the newest.
    Show {
        /// Recipe code.
        code: String,
        /// Revision.
        revision: Option<u32>,
    },
    /// Hold two adopted revisions against each other: what differs.
    Compare {
        /// Recipe code.
        code: String,
        /// The one revision.
        before: u32,
        /// The other one; the newest, if left out.
        after: Option<u32>,
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
    /// Show an adopted sheet with its lots; without one the newest.
    Show {
        /// Material code.
        code: String,
        /// Sheet revision, as printed on it.
        sheet: Option<String>,
    },
    /// Hold two adopted sheets of a material against each other: what differs.
    Compare {
        /// Material code.
        code: String,
        /// The one sheet.
        before: String,
        /// The other one; the newest, if left out.
        after: Option<String>,
    },
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
pub(super) type Take = fn(&mut Ledger, &str, &str, &Who, &Stamp) -> Result<Saved, LedgerError>;

pub(super) fn adopt(desk: &mut Desk<'_>, file: &Path, take: Take) -> Result<(), Trouble> {
    adopt_text(desk, &name(file), &read_text(file)?, take)
}

pub(super) fn adopt_text(
    desk: &mut Desk<'_>,
    file: &str,
    text: &str,
    take: Take,
) -> Result<(), Trouble> {
    let mut shop = desk.shop()?;
    let (who, stamp) = (desk.who(None)?, shop.stamp());
    let saved = take(&mut shop.ledger, file, text, &who, &stamp)?;
    desk.print(
        &json!({"saved": true, "action": saved.action}),
        &[format!("{file} adopted")],
    )
}

pub(super) fn list(
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

pub(super) fn name(file: &Path) -> String {
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
                let row = row_of(
                    &shop.ledger.recipes()?,
                    "recipe",
                    &code,
                    revision.map(|r| r.to_string()).as_deref(),
                )?;
                let found = shop.ledger.recipe(&row.code, number(&row))?;
                let lines = recipe::lines(&found, &row.text, desk.system());
                desk.print(&recipe::json(&found), &sheets::texts(&lines))?;
            }
            Self::Compare {
                code,
                before,
                after,
            } => {
                let shop = desk.shop()?;
                let system = desk.system();
                let all = shop.ledger.recipes()?;
                let side = |revision: Option<u32>| -> Result<(String, Vec<Said>), Trouble> {
                    let revision = revision.map(|r| r.to_string());
                    let row = row_of(&all, "recipe", &code, revision.as_deref())?;
                    let found = shop.ledger.recipe(&row.code, number(&row))?;
                    let lines = recipe::lines(&found, &row.text, system);
                    Ok((format!("{} rev {}", row.code, row.revision), lines))
                };
                compare(desk, &side(Some(before))?, &side(after)?)?;
            }
        }
        Ok(0)
    }
}

pub(super) fn compare(
    desk: &mut Desk<'_>,
    (before, left): &(String, Vec<Said>),
    (after, right): &(String, Vec<Said>),
) -> Result<(), Trouble> {
    let pairs = sheets::beside(left, right);
    desk.print(
        &sheets::difference_json(before, after, &pairs),
        &sheets::difference_lines(before, after, &pairs),
    )
}

// The row of a revision, or the newest one.
pub(super) fn row_of(
    all: &[SheetRow],
    what: &str,
    code: &str,
    revision: Option<&str>,
) -> Result<SheetRow, Trouble> {
    let code = like(all.iter().map(|r| r.code.as_str()), code).unwrap_or(code);
    let mut own = all.iter().filter(|r| r.code == code).peekable();
    if own.peek().is_none() {
        return Err(Trouble::Input(format!(
            "{what} \"{}\" is not adopted; \"hangtime {what} list\" lists them",
            shown(code)
        )));
    }
    let Some(revision) = revision else {
        return own
            .last()
            .cloned()
            .ok_or_else(|| Trouble::System("a list came to its end".to_owned()));
    };
    let known: Vec<&str> = all
        .iter()
        .filter(|r| r.code == code)
        .map(|r| r.revision.as_str())
        .collect();
    own.find(|r| r.revision == revision)
        .cloned()
        .ok_or_else(|| {
            Trouble::Input(format!(
                "{what} {code} has no revision \"{}\"; adopted are {}",
                shown(revision),
                known.join(", ")
            ))
        })
}

// The ledger keeps a recipe's revision as a number.
fn number(row: &SheetRow) -> u32 {
    row.revision.parse().unwrap_or(0)
}

fn lots_of(shop: &Shop, code: &str, sheet: &str) -> Result<Vec<LotRow>, Trouble> {
    let lots = shop.ledger.lots()?;
    Ok(lots
        .into_iter()
        .filter(|l| l.material == code && l.sheet == sheet)
        .collect())
}

fn material_lines(shop: &Shop, row: &SheetRow, system: System) -> Result<Vec<Said>, Trouble> {
    let found = shop.ledger.material(&row.code, &row.revision)?;
    let lots = lots_of(shop, &row.code, &row.revision)?;
    let today = shop.calendar.local(shop.now).date_naive();
    Ok(material::lines(&found, &row.text, &lots, today, system))
}

impl Material {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self {
            Self::Check { file } => {
                let m = material_file::read(&name(&file), &read_text(&file)?)
                    .map_err(|f| faults(&f))?;
                let line = format!("{}: {} sheet {} reads well", name(&file), m.code, m.sheet);
                let counted: Vec<&str> = m
                    .parts
                    .iter()
                    .filter(|p| p.without_class())
                    .map(|p| p.cas.as_str())
                    .collect();
                let mut lines = vec![line];
                lines.extend(material::remarks_on(&m));
                desk.print(
                    &json!({
                        "code": m.code, "sheet": m.sheet, "faults": [],
                        "voc_without_class": counted,
                    }),
                    &lines,
                )?;
            }
            Self::Adopt { file } => adopt(desk, &file, Ledger::adopt_material)?,
            Self::List => list(desk, Ledger::materials, "sheet", "sheet")?,
            Self::Show { code, sheet } => {
                let shop = desk.shop()?;
                let row = row_of(
                    &shop.ledger.materials()?,
                    "material",
                    &code,
                    sheet.as_deref(),
                )?;
                let lines = material_lines(&shop, &row, desk.system())?;
                let found = shop.ledger.material(&row.code, &row.revision)?;
                let lots = lots_of(&shop, &row.code, &row.revision)?;
                desk.print(&material::json(&found, &lots), &sheets::texts(&lines))?;
            }
            Self::Compare {
                code,
                before,
                after,
            } => {
                let shop = desk.shop()?;
                let system = desk.system();
                let all = shop.ledger.materials()?;
                let side = |sheet: Option<&str>| -> Result<(String, Vec<Said>), Trouble> {
                    let row = row_of(&all, "material", &code, sheet)?;
                    let name = format!("{} sheet {}", row.code, row.revision);
                    // Lots lie on a shelf and stand on no sheet.
                    let lines = material_lines(&shop, &row, system)?
                        .into_iter()
                        .filter(|l| !l.key.starts_with("lot"));
                    Ok((name, lines.collect()))
                };
                compare(desk, &side(Some(&before))?, &side(after.as_deref())?)?;
            }
        }
        Ok(0)
    }
}
