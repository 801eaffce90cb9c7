//! Rule sets: check a file, adopt it or the built-in example, list, show and compare what is adopted.

use super::adopt::{self, faults, name, row_of};
use super::{Answer, Desk, Trouble, one_of, read_text};
use crate::ledger::Ledger;
use crate::reports::rules;
use crate::reports::sheets::{self, Said};
use crate::shop::rule_set;
use serde_json::json;
use std::path::PathBuf;

/// The rule sets that come with the program, as examples: name and text.
const EXAMPLES: [(&str, &str); 2] = [
    (
        "us-federal",
        include_str!("../../sample/rules/us-federal.toml"),
    ),
    (
        "own-district",
        include_str!("../../sample/rules/own-district.toml"),
    ),
];

/// Check, adopt and list rule sets: what counts as VOC, exempt and HAP.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Rules {
    /// Check a rule-set file; every fault is named with its line, field, value and fix.
    Check {
        /// The file.
        file: PathBuf,
    },
    /// Adopt a rule-set file as a revision that never changes.
    Adopt {
        /// The file.
        #[arg(required_unless_present = "example")]
        file: Option<PathBuf>,
        /// An example that comes with the program; hold it against the text in force before you go by it.
        #[arg(long, value_name = "NAME", conflicts_with = "file", value_parser = one_of(["us-federal", "own-district"]))]
        example: Option<String>,
    },
    /// List adopted revisions.
    List,
    /// Show an adopted revision; without one the newest.
    Show {
        /// Its code.
        code: String,
        /// Its revision.
        revision: Option<String>,
    },
    /// Hold two adopted revisions against each other: what differs.
    Compare {
        /// Its code.
        code: String,
        /// The one revision.
        before: String,
        /// The other one; the newest, if left out.
        after: Option<String>,
    },
}

impl Rules {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self {
            Self::Check { file } => {
                let set =
                    rule_set::read(&name(&file), &read_text(&file)?).map_err(|f| faults(&f))?;
                let line = format!(
                    "{}: rule set {} reads well, {} exempt, {} counted, {} HAP",
                    name(&file),
                    set.label(),
                    set.exempt.len(),
                    set.counted.len(),
                    set.hap.len()
                );
                desk.print(
                    &json!({"code": set.code, "revision": set.revision, "faults": []}),
                    &[line],
                )?;
            }
            Self::Adopt { file, example } => match (file, example) {
                (Some(file), _) => adopt::adopt(desk, &file, Ledger::adopt_rules)?,
                (None, example) => {
                    let wanted = example.unwrap_or_default();
                    let found = EXAMPLES.iter().find(|(name, _)| *name == wanted);
                    let (name, text) = found.ok_or_else(|| {
                        Trouble::Input(format!(
                            "example \"{wanted}\" does not come with the program"
                        ))
                    })?;
                    adopt::adopt_text(desk, name, text, Ledger::adopt_rules)?;
                }
            },
            Self::List => adopt::list(desk, Ledger::rule_sets, "revision", "rev")?,
            Self::Show { code, revision } => {
                let shop = desk.shop()?;
                let all = shop.ledger.rule_sets()?;
                let row = row_of(&all, "rules", &code, revision.as_deref())?;
                let set = shop.ledger.rule_set(&row)?;
                desk.print(&rules::json(&set), &sheets::texts(&rules::lines(&set)))?;
            }
            Self::Compare {
                code,
                before,
                after,
            } => {
                let shop = desk.shop()?;
                let all = shop.ledger.rule_sets()?;
                let side = |revision: Option<&str>| -> Result<(String, Vec<Said>), Trouble> {
                    let row = row_of(&all, "rules", &code, revision)?;
                    let set = shop.ledger.rule_set(&row)?;
                    Ok((set.label(), rules::lines(&set)))
                };
                adopt::compare(desk, &side(Some(&before))?, &side(after.as_deref())?)?;
            }
        }
        Ok(0)
    }
}
