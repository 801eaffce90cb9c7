//! The solvent book's questions: a stretch of months, what was used in it by lot and mix, and when booths were looked at.
//!
//! *Invariants*: sums are sums of the masses that were rounded once for each entry, lot and substance, so that every
//! level of them adds up to the level above to the last milligram. A use bears the production day of its entry, and the uses
//! are found by that day: the entries of all other days are never looked at.
//!
//! *Not here*: limits and words (`reports::book`).

use super::error::LedgerError;
use super::months::days_of;
use super::open::Ledger;
use super::read::{EntryRow, MonthSubstance, MonthSums, UsedRow, entries_where};
use crate::shop::calendar::{Calendar, Day};
use crate::shop::material::Totals;
use crate::units::{Mass, Moment, Pressure, Volume};
use std::collections::BTreeMap;

/// Months that follow each other, by the production days in them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Months {
    /// The months, oldest first, as `2026-03`; never empty.
    list: Vec<String>,
    /// First production day, and the first one that no longer belongs to them.
    days: [i64; 2],
}

impl Months {
    /// One month (`2026-03`).
    pub fn one(month: &str) -> Result<Self, LedgerError> {
        Self::ending(month, 1)
    }

    /// A month and the eleven before it.
    pub fn twelve(month: &str) -> Result<Self, LedgerError> {
        Self::ending(month, 12)
    }

    /// The months from one to another, both among them.
    pub fn between(first: &str, last: &str) -> Result<Self, LedgerError> {
        let days = [days_of(first)?[0], days_of(last)?[1]];
        if first > last {
            return Err(LedgerError::Input(format!(
                "{first} comes after {last}; write the earlier month first"
            )));
        }
        Ok(Self {
            list: (0..)
                .map_while(|by| shifted(first, by))
                .take_while(|month| month.as_str() <= last)
                .collect(),
            days,
        })
    }

    fn ending(month: &str, count: u32) -> Result<Self, LedgerError> {
        let days = days_of(month)?;
        let mut list: Vec<String> = (1..count)
            .rev()
            .filter_map(|back| shifted(month, -i64::from(back)))
            .collect();
        let first = match list.first() {
            Some(first) => days_of(first)?,
            None => days,
        };
        list.push(month.to_owned());
        Ok(Self {
            list,
            days: [first[0], days[1]],
        })
    }

    /// The months, oldest first.
    pub fn list(&self) -> &[String] {
        &self.list
    }

    /// The last month.
    pub fn last(&self) -> &str {
        self.list.last().map_or("", String::as_str)
    }

    /// First production day, and the first one that no longer belongs to them.
    pub const fn days(&self) -> [i64; 2] {
        self.days
    }

    /// When the first production day begins.
    pub fn begin(&self, calendar: &Calendar) -> Moment {
        calendar.day_begin(Day(i32::try_from(self.days[0]).unwrap_or_default()))
    }

    /// Whether they are more than one.
    pub const fn rolling(&self) -> bool {
        self.list.len() > 1
    }
}

/// The month so many months later; `None` where the text is no month.
pub fn shifted(month: &str, by: i64) -> Option<String> {
    let first = chrono::NaiveDate::parse_from_str(&format!("{month}-01"), "%Y-%m-%d").ok()?;
    let steps = chrono::Months::new(u32::try_from(by.unsigned_abs()).ok()?);
    let moved = if by < 0 {
        first.checked_sub_months(steps)
    } else {
        first.checked_add_months(steps)
    };
    Some(Day::of(moved?).month())
}

/// Uses of one lot, from one mix or straight from the lot, that took the same volume each.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UsedGroup {
    /// The lot.
    pub lot: String,
    /// Number of the mix; none where it was used without one.
    pub mix: Option<u32>,
    /// Volume of one use.
    pub volume: Volume,
    /// How many uses.
    pub uses: i64,
}

/// One use of one lot with what an auditor asks of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UseRow {
    /// The entry that used it.
    pub entry: i64,
    /// Its action.
    pub action: i64,
    /// Its production day.
    pub day: Day,
    /// When it ended.
    pub ended: Moment,
    /// Initials of who did it.
    pub person: String,
    /// Serial of the piece.
    pub serial: Option<String>,
    /// Number of the mix; none where the lot was used without one.
    pub mix: Option<u32>,
    /// The lot.
    pub lot: String,
    /// How much of it.
    pub volume: Volume,
}

/// When somebody looked at a booth last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LastCheck {
    /// The booth.
    pub booth: String,
    /// The newest check.
    pub at: Moment,
    /// The entry that holds it.
    pub entry: i64,
    /// What was remarked at it, in words.
    pub note: Option<String>,
}

/// A reading of a booth's filter gauge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GaugeReading {
    /// The booth.
    pub booth: String,
    /// When.
    pub at: Moment,
    /// The reading, with the fan running.
    pub reading: Pressure,
    /// Whether it is the clean one of new filters.
    pub new_filters: bool,
    /// The entry that holds it.
    pub entry: i64,
}

impl Ledger {
    /// The sums of some months from the log, as [`Ledger::month`] gives those of one.
    pub fn sums_of(&self, months: &Months) -> Result<MonthSums, LedgerError> {
        let mut materials: BTreeMap<String, (Volume, Totals)> = BTreeMap::new();
        let mut substances: BTreeMap<(String, String, String), MonthSubstance> = BTreeMap::new();
        let mut totals = Totals::default();
        for month in months.list() {
            let sums = self.month(month)?;
            totals.merge(&sums.totals);
            for (material, volume, of) in &sums.materials {
                let kept = materials.entry(material.clone()).or_default();
                kept.0.0 += volume.0;
                kept.1.merge(of);
            }
            for s in sums.substances {
                substances
                    .entry((s.material.clone(), s.sheet.clone(), s.substance.cas.clone()))
                    .and_modify(|kept| kept.mass = Mass(kept.mass.0 + s.mass.0))
                    .or_insert(s);
            }
        }
        Ok(MonthSums {
            month: months.last().to_owned(),
            totals,
            materials: materials.into_iter().map(|(m, (v, t))| (m, v, t)).collect(),
            substances: substances.into_values().collect(),
        })
    }

    /// What was used in some months, by lot, mix and volume of a use.
    pub fn used_groups(&self, months: &Months) -> Result<Vec<UsedGroup>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT lot, nullif(mix, 0), volume, sum(uses) FROM day_use WHERE day >= ?1 AND day < ?2
             GROUP BY lot, mix, volume HAVING sum(uses) > 0 ORDER BY lot, mix, volume",
        )?;
        let rows = list.query_map(months.days, used_group)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Every use of some months that counts, in the order of the entries.
    pub fn uses(&self, months: &Months) -> Result<Vec<UseRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT u.entry, e.action, e.day, e.ended, a.person, p.serial, json_extract(e.body, '$.mix'), u.lot, u.volume
             FROM entry e CROSS JOIN used u ON u.entry = e.seq JOIN action a ON a.seq = e.action
             LEFT JOIN piece p ON p.id = e.piece
             WHERE e.day >= ?1 AND e.day < ?2 ORDER BY u.entry, u.lot",
        )?;
        let rows = list.query_map(months.days, |r| {
            Ok(UseRow {
                entry: r.get(0)?,
                action: r.get(1)?,
                day: Day(r.get(2)?),
                ended: Moment(r.get(3)?),
                person: r.get(4)?,
                serial: r.get(5)?,
                mix: r.get(6)?,
                lot: r.get(7)?,
                volume: Volume(r.get(8)?),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// How many uses of some months count.
    pub fn count_uses(&self, months: &Months) -> Result<usize, LedgerError> {
        let count: i64 = self.conn.query_row(
            "SELECT coalesce(sum(uses), 0) FROM day_use WHERE day >= ?1 AND day < ?2",
            months.days,
            |r| r.get(0),
        )?;
        Ok(usize::try_from(count).unwrap_or(usize::MAX))
    }

    /// What was used in some months, by production day, lot, mix and volume of a use: the day and the uses of each.
    pub fn used_by_day(&self, months: &Months) -> Result<Vec<(Day, UsedGroup)>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT lot, nullif(mix, 0), volume, sum(uses), day FROM day_use WHERE day >= ?1 AND day < ?2
             GROUP BY day, lot, mix, volume HAVING sum(uses) > 0 ORDER BY day, lot, mix, volume",
        )?;
        let rows = list.query_map(months.days, |r| Ok((Day(r.get(4)?), used_group(r)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Every limit that was ever entered, as entries, the oldest first.
    pub fn limits_entered(&self) -> Result<Vec<EntryRow>, LedgerError> {
        entries_where(
            &self.conn,
            "WHERE e.kind LIKE 'ceiling/%' ORDER BY e.seq",
            &[],
        )
    }

    /// The entries of some months by their production day, in the order of their numbers.
    pub fn entries_of(&self, months: &Months) -> Result<Vec<EntryRow>, LedgerError> {
        entries_where(
            &self.conn,
            "WHERE e.day >= ?1 AND e.day < ?2 ORDER BY e.seq",
            &months.days,
        )
    }

    /// The single uses of a lot from a mix, or straight from the lot, in some months: in the order of their entries.
    pub fn used_from(
        &self,
        months: &Months,
        lot: &str,
        mix: Option<u32>,
    ) -> Result<Vec<UsedRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT u.entry, e.action, u.lot, u.volume FROM used u JOIN entry e ON e.seq = u.entry
             WHERE u.lot = ?3 AND u.day IN (SELECT day FROM day_use WHERE day >= ?1 AND day < ?2 AND lot = ?3 AND mix = ?4)
               AND coalesce(json_extract(e.body, '$.mix'), 0) = ?4
             ORDER BY u.entry",
        )?;
        let [first, end] = months.days;
        let rows = list.query_map(
            rusqlite::params![first, end, lot, mix.unwrap_or(0)],
            super::read::used_row,
        )?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// What one entry used, by lot; nothing where it was taken back.
    pub fn used_by_entry(&self, entry: i64) -> Result<Vec<UsedRow>, LedgerError> {
        self.used("WHERE u.entry = ?1", &[entry])
    }

    /// How many coats of some months count of which the log does not know how much of which lot went on: their solvent is
    /// in no sum.
    pub fn uncounted_coats(&self, months: &Months) -> Result<i64, LedgerError> {
        self.uncounted_on(months.days)
    }

    /// The same for some production days.
    pub fn uncounted_on(&self, days: [i64; 2]) -> Result<i64, LedgerError> {
        let count = self.conn.query_row(
            "SELECT coalesce(sum(unknown), 0) FROM coat_day WHERE day >= ?1 AND day < ?2",
            days,
            |r| r.get(0),
        )?;
        Ok(count)
    }

    /// How many coats of one piece on some production days used something, as far as it is logged.
    pub fn coats_on(&self, days: [i64; 2]) -> Result<i64, LedgerError> {
        let count = self.conn.query_row(
            "SELECT coalesce(sum(known), 0) FROM coat_day WHERE day >= ?1 AND day < ?2",
            days,
            |r| r.get(0),
        )?;
        Ok(count)
    }

    /// What went into mixes, by lot.
    pub fn poured(&self) -> Result<BTreeMap<String, Volume>, LedgerError> {
        let mut list = self
            .conn
            .prepare_cached("SELECT lot, sum(fresh) FROM pour GROUP BY lot")?;
        let rows = list.query_map([], |r| Ok((r.get(0)?, Volume(r.get(1)?))))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// When the first action was written: what happened before is known only where it was logged later.
    pub fn began(&self) -> Result<Moment, LedgerError> {
        let at =
            self.conn
                .query_row("SELECT written FROM action ORDER BY seq LIMIT 1", [], |r| {
                    r.get(0)
                })?;
        Ok(Moment(at))
    }

    /// The readings of the filter gauges up to `at`, by booth and time.
    pub fn gauge_readings(&self, at: Moment) -> Result<Vec<GaugeReading>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT c.booth, c.at, json_extract(e.body, '$.mpa'), coalesce(json_extract(e.body, '$.new_filters'), 0), c.entry
             FROM exhaust c CROSS JOIN entry e ON e.seq = c.entry
             WHERE e.kind = 'checked/2' AND json_extract(e.body, '$.mpa') IS NOT NULL AND c.at <= ?1
               AND c.entry NOT IN (SELECT entry FROM void) ORDER BY c.booth, c.at, c.entry",
        )?;
        let rows = list.query_map([at.0], |r| {
            Ok(GaugeReading {
                booth: r.get(0)?,
                at: Moment(r.get(1)?),
                reading: Pressure(r.get(2)?),
                new_filters: r.get(3)?,
                entry: r.get(4)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The newest check of each booth that was ever checked, as of `at`.
    pub fn last_checks(&self, at: Moment) -> Result<Vec<LastCheck>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT booth, at, entry, (SELECT json_extract(body, '$.note') FROM entry WHERE seq = c.entry)
             FROM exhaust c WHERE stopped = 0 AND at <= ?1
               AND entry NOT IN (SELECT entry FROM void)
               AND NOT EXISTS (SELECT 1 FROM exhaust n WHERE n.booth = c.booth AND n.stopped = 0 AND n.at <= ?1
                                 AND (n.at, n.entry) > (c.at, c.entry) AND n.entry NOT IN (SELECT entry FROM void))
             ORDER BY booth",
        )?;
        let rows = list.query_map([at.0], |r| {
            Ok(LastCheck {
                booth: r.get(0)?,
                at: Moment(r.get(1)?),
                entry: r.get(2)?,
                note: r.get(3)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

// A row of lot, mix, volume of a use and number of uses.
fn used_group(r: &rusqlite::Row<'_>) -> rusqlite::Result<UsedGroup> {
    Ok(UsedGroup {
        lot: r.get(0)?,
        mix: r.get(1)?,
        volume: Volume(r.get(2)?),
        uses: r.get(3)?,
    })
}
