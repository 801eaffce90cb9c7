//! What quality is asked about: the histories of the pieces that were worked on within some production days.
//!
//! *Invariants*: only pieces whose newest deed lies in the period or after it are looked at, and of these only those with
//! an entry in it are read: what a question costs follows the period, and not the years before it. What was taken back
//! counts for nothing.
//!
//! *Not here*: what a history tells (`shop::quality`), shares, limits and words (`reports::quality`).

use super::book::MixTable;
use super::error::LedgerError;
use super::months::days_of;
use super::open::Ledger;
use super::read::{Reach, piece_entries, recipes_of};
use crate::shop::calendar::Day;
use crate::shop::quality::{History, history};
use crate::shop::record::{Fact, PieceId};
use crate::units::Moment;
use rusqlite::params;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// Production days that follow each other, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    from: Day,
    to: Day,
}

impl Period {
    /// From one day to another.
    ///
    /// # Errors
    /// When the last day lies before the first.
    pub fn new(from: Day, to: Day) -> Result<Self, LedgerError> {
        if to < from {
            return Err(LedgerError::Input(format!(
                "the period ends on {} before it begins on {}; write --from DAY --to DAY",
                to.date(),
                from.date()
            )));
        }
        Ok(Self { from, to })
    }

    /// The days of a month, `2026-03`.
    ///
    /// # Errors
    /// When the text is no month.
    pub fn month(month: &str) -> Result<Self, LedgerError> {
        let [first, end] = days_of(month)?.map(|d| i32::try_from(d).unwrap_or(i32::MAX));
        Self::new(Day(first), Day(end - 1))
    }

    /// So many days that end with one.
    pub fn ending(to: Day, days: u16) -> Self {
        let from = Day(to.0 - i32::from(days.max(1)) + 1);
        Self { from, to }
    }

    /// The first day.
    pub const fn from(&self) -> Day {
        self.from
    }

    /// The last day.
    pub const fn to(&self) -> Day {
        self.to
    }

    /// How many days there are.
    pub const fn days(&self) -> i32 {
        self.to.0 - self.from.0 + 1
    }

    /// Whether a day is one of them.
    pub fn holds(&self, day: Day) -> bool {
        (self.from..=self.to).contains(&day)
    }

    /// As people read it: `2026-03-01 to 2026-03-31`.
    pub fn words(&self) -> String {
        format!("{} to {}", self.from.date(), self.to.date())
    }
}

/// A piece and what its history tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PieceHistory {
    /// Its serial.
    pub serial: String,
    /// The shop's name of its model.
    pub model: String,
    /// What its history tells, from the beginning: days outside the period among it.
    pub history: History,
}

/// Which action an entry belongs to, and at which station it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrote {
    /// The action.
    pub action: i64,
    /// The station.
    pub station: String,
}

/// The pieces that were worked on in a period.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QualityRecord {
    /// The moment up to which the record was read.
    pub at: Moment,
    /// The period.
    pub period: Period,
    /// The pieces, by serial.
    pub pieces: Vec<PieceHistory>,
    /// Of the coats and gauge readings that something is said of: action and station.
    pub wrote: BTreeMap<i64, Wrote>,
    /// The lots in each mix that something is said of, by name.
    pub lots: BTreeMap<u32, Vec<String>>,
}

impl Ledger {
    /// The histories of the pieces that were worked on in a period, as far as they had happened by `at`.
    pub fn quality(&self, period: &Period, at: Moment) -> Result<QualityRecord, LedgerError> {
        let begins = self.calendar().day_begin(period.from);
        // Without the index by name the engine walks all pieces by serial, for the sake of the order.
        let mut list = self.conn.prepare_cached(
            "SELECT p.id, p.serial, p.model FROM piece p INDEXED BY piece_newest WHERE p.newest >= ?1
               AND EXISTS (SELECT 1 FROM entry e WHERE e.piece = p.id AND e.day BETWEEN ?2 AND ?3)
             ORDER BY p.serial",
        )?;
        let found: Vec<(i64, String, String)> = list
            .query_map(params![begins.0, period.from.0, period.to.0], |r| {
                Ok((r.get(0)?, r.get(1)?, r.get(2)?))
            })?
            .collect::<Result<_, _>>()?;
        let reach = Reach {
            ended: at,
            ..Reach::ALL
        };
        let mut record = QualityRecord {
            at,
            period: *period,
            pieces: Vec::with_capacity(found.len()),
            wrote: BTreeMap::new(),
            lots: BTreeMap::new(),
        };
        let mut mixes = MixTable::default();
        for (id, serial, model) in found {
            let entries = piece_entries(&self.conn, PieceId(id), reach)?;
            let recipes = recipes_of(&self.conn, &self.book, None, &entries)?;
            for entry in &entries {
                if let Fact::Coat(coat) = &entry.fact {
                    mixes.add(&self.conn, &self.book, coat)?;
                }
            }
            let history = history(&entries, &recipes, &mixes);
            self.name_entries(&history, &mut record)?;
            record.pieces.push(PieceHistory {
                serial,
                model,
                history,
            });
        }
        Ok(record)
    }

    // Looks up what the entries themselves do not say: the action, the station, and the lots of a mix.
    fn name_entries(
        &self,
        history: &History,
        record: &mut QualityRecord,
    ) -> Result<(), LedgerError> {
        let period = record.period;
        let behind = history
            .defects
            .iter()
            .filter(|d| period.holds(d.day))
            .filter_map(|d| d.coat);
        let mut coats: Vec<usize> = behind.collect();
        let within = history.coats.iter().enumerate();
        coats.extend(within.filter(|(_, c)| period.holds(c.day)).map(|(n, _)| n));
        let mut named = Vec::new();
        for coat in coats.into_iter().filter_map(|n| history.coats.get(n)) {
            named.push(coat.entry.0);
            if let Some(mix) = coat.mix
                && let Entry::Vacant(place) = record.lots.entry(mix)
            {
                let pours = super::models::pours(&self.conn, mix)?;
                let mut lots: Vec<String> = pours.into_iter().map(|p| p.lot).collect();
                lots.sort();
                lots.dedup();
                place.insert(lots);
            }
        }
        named.extend(
            history
                .gauges
                .iter()
                .filter(|g| period.holds(g.day))
                .map(|g| g.entry.0),
        );
        let mut found = self.conn.prepare_cached(
            "SELECT e.action, a.station FROM entry e JOIN action a ON a.seq = e.action WHERE e.seq = ?1",
        )?;
        for entry in named {
            if let Entry::Vacant(place) = record.wrote.entry(entry) {
                place.insert(found.query_row([entry], |r| {
                    Ok(Wrote {
                        action: r.get(0)?,
                        station: r.get(1)?,
                    })
                })?);
            }
        }
        Ok(())
    }
}
