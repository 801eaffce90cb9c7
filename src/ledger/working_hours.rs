//! The hours in which people are there, as they were entered.
//!
//! *Invariants*: the newest entry holds. Where nobody entered any, those that are common practice stand for them, and whoever
//! shows them says so.
//!
//! *Not here*: the days on which the shop is closed (`closed_days`), what follows for a wait (`shop::hours`).

use super::append::{Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use crate::shop::duty::{DutyFact, WorkingHours};
use crate::shop::hours::Hours;
use crate::shop::record::{ShopFact, What};
use crate::shop::shift::Shift;
use crate::shop::text::{clean, shown};
use crate::units::Moment;

/// The most shifts that are taken for some and not for a slip of the hand.
const MOST: usize = 10;

/// The hours of the shop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HoursRow {
    /// The shifts.
    pub shifts: Vec<Shift>,
    /// Where they come from.
    pub source: String,
    /// Initials of who entered them.
    pub person: String,
    /// Since when they are known.
    pub since: Moment,
    /// The entry.
    pub entry: i64,
}

impl Ledger {
    /// Enters the hours of the shop, or that those entered before hold no longer.
    pub fn set_working_hours(
        &mut self,
        fact: &WorkingHours,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        if fact.shifts.len() > MOST {
            return Err(LedgerError::Input(format!(
                "{} shifts: allowed are at most {MOST}; a shift is written once for all its days",
                fact.shifts.len()
            )));
        }
        if fact.shifts.is_empty() && self.working_hours(stamp.written)?.is_none() {
            return Err(LedgerError::Input(
                "no working hours are entered that could end".to_owned(),
            ));
        }
        let fact = WorkingHours {
            source: clean("source", &fact.source, 120).map_err(LedgerError::Input)?,
            ..fact.clone()
        };
        self.shop_fact(
            "working hours",
            ShopFact::Duty(DutyFact::Hours(fact)),
            stamp.written,
            who,
            stamp,
        )
    }

    /// The hours of the shop as entered up to `at`; `None` where none are.
    pub fn working_hours(&self, at: Moment) -> Result<Option<HoursRow>, LedgerError> {
        let rows = self.noted("working hours", None, at)?.into_iter();
        let newest = rows.max_by_key(|row| row.seq);
        Ok(newest.and_then(|row| {
            let What::Shop(ShopFact::Duty(DutyFact::Hours(fact))) = row.what else {
                return None;
            };
            (!fact.shifts.is_empty()).then_some(HoursRow {
                shifts: fact.shifts,
                source: fact.source,
                person: row.person,
                since: row.ended,
                entry: row.seq.0,
            })
        }))
    }

    /// The shifts of the shop at a moment, and whether somebody entered them.
    pub fn shifts(&self, at: Moment) -> Result<(Vec<Shift>, bool), LedgerError> {
        let entered = self.working_hours(at)?;
        Ok(entered.map_or_else(|| (vec![Shift::COMMON], false), |row| (row.shifts, true)))
    }

    /// The hours of the shop at a moment, less the days on which it is closed.
    pub fn working(&self, at: Moment) -> Result<Hours, LedgerError> {
        self.hours(&self.shifts(at)?.0, at)
    }

    /// The hours of the shop at a moment in words, and where they are from: `07:00 to 15:30, Mon to Fri: common practice, no
    /// source`.
    pub fn working_words(&self, at: Moment) -> Result<String, LedgerError> {
        Ok(self.working_hours(at)?.map_or_else(
            || format!("{}: common practice, no source", Shift::COMMON.words()),
            |row| {
                let shifts: Vec<String> = row.shifts.iter().map(Shift::words).collect();
                format!(
                    "{}: entered by {}",
                    shifts.join(" and "),
                    shown(&row.person)
                )
            },
        ))
    }
}
