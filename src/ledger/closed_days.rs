//! The days on which the shop is closed, as they were entered.
//!
//! *Invariants*: the newest entry about a day says what holds for it, so that some of a closed spell can be worked after all. A
//! day that nobody entered is worked as the hours say.
//!
//! *Not here*: what follows for a wait (`shop::hours`), and holidays of any country.

use super::append::{Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use crate::shop::duty::{ClosedDays, DutyFact};
use crate::shop::hours::{Days, Hours, days_words};
use crate::shop::record::{ShopFact, What};
use crate::shop::shift::Shift;
use crate::shop::text::clean;
use crate::units::Moment;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The longest spell that is taken for one and not for a slip of the hand, in days.
const LONGEST: i64 = 366;

/// Days on which the shop is closed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClosedRow {
    /// From the first to the last one.
    pub days: Days,
    /// Where that comes from.
    pub source: String,
    /// Initials of who entered it.
    pub person: String,
    /// Since when it is known.
    pub since: Moment,
    /// The entry.
    pub entry: i64,
}

impl Ledger {
    /// Enters days on which the shop is closed, or that they are worked after all.
    pub fn set_closed_days(
        &mut self,
        fact: &ClosedDays,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let (first, last) = fact.days;
        let count = last.signed_duration_since(first).num_days() + 1;
        if !(1..=LONGEST).contains(&count) {
            return Err(LedgerError::Input(format!(
                "days {first}..{last}: allowed are 1 to {LONGEST} days, the earlier one first; write 2026-12-24..2027-01-01"
            )));
        }
        let meets = |d: &Days| d.0 <= last && first <= d.1;
        let there = self.closed_days(stamp.written)?;
        if fact.ended && !there.iter().any(|r| meets(&r.days)) {
            let known: Vec<String> = there.iter().map(|r| days_words(r.days)).collect();
            return Err(LedgerError::Input(format!(
                "the shop is not closed on {}; {}",
                days_words(fact.days),
                if known.is_empty() {
                    "no closed day is entered".to_owned()
                } else {
                    format!("closed are {}", known.join(", "))
                }
            )));
        }
        let fact = ClosedDays {
            source: clean("source", &fact.source, 120).map_err(LedgerError::Input)?,
            ..fact.clone()
        };
        self.shop_fact(
            "closed days",
            ShopFact::Duty(DutyFact::Closed(fact)),
            stamp.written,
            who,
            stamp,
        )
    }

    /// The days on which the shop is closed as entered up to `at`, in their order; those that follow on each other by one entry
    /// are one row.
    pub fn closed_days(&self, at: Moment) -> Result<Vec<ClosedRow>, LedgerError> {
        let mut by_day: BTreeMap<NaiveDate, ClosedRow> = BTreeMap::new();
        for row in self.noted("closed days", None, at)? {
            let What::Shop(ShopFact::Duty(DutyFact::Closed(fact))) = row.what else {
                continue;
            };
            let (first, last) = fact.days;
            for date in first.iter_days().take_while(|d| *d <= last) {
                if fact.ended {
                    by_day.remove(&date);
                    continue;
                }
                let new = ClosedRow {
                    days: (date, date),
                    source: fact.source.clone(),
                    person: row.person.clone(),
                    since: row.ended,
                    entry: row.seq.0,
                };
                by_day.insert(date, new);
            }
        }
        let mut rows: Vec<ClosedRow> = Vec::new();
        for row in by_day.into_values() {
            match rows.last_mut() {
                Some(before)
                    if before.entry == row.entry
                        && before.days.1.succ_opt() == Some(row.days.0) =>
                {
                    before.days.1 = row.days.1;
                }
                _ => rows.push(row),
            }
        }
        Ok(rows)
    }

    /// The hours of some shifts, less the days on which the shop is closed as entered up to `at`.
    pub fn hours(&self, shifts: &[Shift], at: Moment) -> Result<Hours, LedgerError> {
        let closed = self.closed_days(at)?.into_iter().map(|r| r.days);
        Ok(Hours::of(&self.calendar(), shifts).away(closed))
    }
}
