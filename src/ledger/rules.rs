//! Rule sets: adopted like data sheets, looked up by code and by the day that a figure is of.
//!
//! *Invariants*: an adopted revision never changes.
//!
//! *Not here*: what a set makes of a sheet (`shop::rule_set`), sums (`reports`).

use super::append::{Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::SheetRow;
use super::setup::faults;
use crate::shop::record::ShopFact;
use crate::shop::rule_set::{self, RuleSet};
use crate::shop::text::shown;
use chrono::NaiveDate;

/// The word that stands for no rule set: what counts is what the data sheets state.
pub const NO_RULES: &str = "sheet";

impl Ledger {
    /// Adopts a rule-set file as a revision that never changes.
    pub fn adopt_rules(
        &mut self,
        file: &str,
        text: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let set = rule_set::read(file, text).map_err(|f| faults(&f))?;
        let known = self
            .conn
            .prepare_cached("SELECT 1 FROM rule_set WHERE code = ?1 AND revision = ?2")?
            .exists([&set.code, &set.revision])?;
        if known {
            return Err(LedgerError::Input(format!(
                "{file}: rule set {} is adopted already and never changes; give the new lists their own revision",
                set.label()
            )));
        }
        let fact = ShopFact::Rules {
            code: set.code,
            revision: set.revision,
            text: text.to_owned(),
        };
        self.shop_fact("adopt", fact, stamp.written, who, stamp)
    }

    /// Adopted rule sets.
    pub fn rule_sets(&self) -> Result<Vec<SheetRow>, LedgerError> {
        self.sheets("SELECT code, revision, entry, text FROM rule_set ORDER BY code, entry")
    }

    /// An adopted revision as it was read.
    pub fn rule_set(&self, row: &SheetRow) -> Result<RuleSet, LedgerError> {
        rule_set::read(&row.code, &row.text).map_err(|_| {
            LedgerError::Damaged(format!(
                "the adopted rule set {} rev {} no longer reads",
                row.code, row.revision
            ))
        })
    }

    /// The revision of a rule set that is in force on a day: the one of the latest date up to it, the newest of those.
    pub fn rules_on(&self, code: &str, day: NaiveDate) -> Result<RuleSet, LedgerError> {
        self.check_rules(code)?;
        let mut found: Option<RuleSet> = None;
        let mut first: Option<NaiveDate> = None;
        for row in self.rule_sets()?.iter().filter(|r| r.code == code) {
            let set = self.rule_set(row)?;
            first = Some(first.map_or(set.in_force, |f| f.min(set.in_force)));
            if set.in_force <= day && found.as_ref().is_none_or(|f| f.in_force <= set.in_force) {
                found = Some(set);
            }
        }
        found.ok_or_else(|| {
            LedgerError::Input(format!(
                "rule set {code} is in force from {} on, and {day} is before that; write another one with --rules, or --rules {NO_RULES}",
                first.map_or_else(String::new, |f| f.to_string())
            ))
        })
    }

    /// Refuses the code of a rule set that nobody adopted.
    pub(super) fn check_rules(&self, code: &str) -> Result<(), LedgerError> {
        let known = self
            .conn
            .prepare_cached("SELECT 1 FROM rule_set WHERE code = ?1")?
            .exists([code])?;
        if known {
            return Ok(());
        }
        Err(LedgerError::Input(format!(
            "rule set \"{}\" is not adopted; write the code of one that \"hangtime rules list\" lists, or {NO_RULES} for what the data sheets state",
            shown(code)
        )))
    }
}
