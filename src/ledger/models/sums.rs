//! The sums of days and months: what an action adds to them is gathered and written once.
//!
//! *Invariants*: each use is rounded by itself before it is added, so that it does not matter in which order or in how
//! many steps a sum was made.

use super::super::book::Book;
use super::super::error::LedgerError;
use super::{lot_sheet, pours};
use crate::shop::calendar::Day;
use crate::shop::material::{Material, Pour};
use crate::units::Volume;
use rusqlite::{Connection, params};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// The sheet that a lot is bound to.
#[derive(Debug, Clone)]
pub(super) struct Bound {
    code: String,
    sheet: String,
    pub(super) material: Arc<Material>,
}

/// What uses of a production day are counted by.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct DayUse {
    pub(super) day: Day,
    pub(super) lot: String,
    pub(super) mix: Option<u32>,
    pub(super) coat: bool,
    pub(super) purpose: String,
    pub(super) volume: Volume,
}

type MassOf = (String, String, String, String);

/// What one action looks up of its lots and mixes, and adds to the months.
#[derive(Debug, Default)]
pub(super) struct Sums {
    lots: HashMap<String, Bound>,
    mixes: HashMap<u32, Arc<[Pour]>>,
    uses: BTreeMap<DayUse, i64>,
    // Coats of which it is known what went on, and of which it is not.
    coats: BTreeMap<Day, [i64; 2]>,
    drawn: BTreeMap<u32, i64>,
    volumes: BTreeMap<(String, String), i64>,
    masses: BTreeMap<MassOf, i64>,
}

impl Sums {
    /// The sheet of a lot.
    pub(super) fn bound(
        &mut self,
        conn: &Connection,
        book: &Book,
        lot: &str,
    ) -> Result<Bound, LedgerError> {
        if let Some(found) = self.lots.get(lot) {
            return Ok(found.clone());
        }
        let (code, sheet) = lot_sheet(conn, lot)?;
        let material = book.material(conn, &code, &sheet)?;
        let bound = Bound {
            code,
            sheet,
            material,
        };
        self.lots.insert(lot.to_owned(), bound.clone());
        Ok(bound)
    }

    /// What went into a mix.
    pub(super) fn poured(
        &mut self,
        conn: &Connection,
        mix: u32,
    ) -> Result<Arc<[Pour]>, LedgerError> {
        if let Some(found) = self.mixes.get(&mix) {
            return Ok(Arc::clone(found));
        }
        let found: Arc<[Pour]> = pours(conn, mix)?.into();
        self.mixes.insert(mix, Arc::clone(&found));
        Ok(found)
    }

    /// Adds a use to its day and month, or takes it away with `sign` -1.
    pub(super) fn add(
        &mut self,
        conn: &Connection,
        book: &Book,
        of: DayUse,
        sign: i64,
    ) -> Result<(), LedgerError> {
        self.weigh(conn, book, (of.day, &of.lot), of.volume, sign)?;
        *self.uses.entry(of).or_insert(0) += sign;
        Ok(())
    }

    /// Adds so many uses of a volume of a lot to their month's volumes and masses only.
    pub(super) fn weigh(
        &mut self,
        conn: &Connection,
        book: &Book,
        (day, lot): (Day, &str),
        volume: Volume,
        uses: i64,
    ) -> Result<(), LedgerError> {
        let bound = self.bound(conn, book, lot)?;
        let month = day.month();
        *self
            .volumes
            .entry((month.clone(), lot.to_owned()))
            .or_insert(0) += uses * volume.0;
        for (counted, mass) in bound.material.masses(volume) {
            let of = (
                month.clone(),
                bound.code.clone(),
                bound.sheet.clone(),
                counted.cas.clone(),
            );
            *self.masses.entry(of).or_insert(0) += uses * mass.0;
        }
        Ok(())
    }

    /// Counts a coat, or takes it out of the count with `sign` -1: whether it is known how much of which lot went on.
    pub(super) fn coat(&mut self, day: Day, known: bool, sign: i64) {
        let [with, without] = self.coats.entry(day).or_default();
        *(if known { with } else { without }) += sign;
    }

    /// Takes so much out of a cup, in microlitres; a negative amount gives it back.
    pub(super) fn draw(&mut self, mix: u32, volume: i64) {
        *self.drawn.entry(mix).or_insert(0) += volume;
    }

    /// Forgets the sheet of a lot that is about to be bound to another one.
    pub(super) fn rebind(&mut self, lot: &str) {
        self.lots.remove(lot);
    }

    /// Writes what was gathered.
    pub(super) fn write(self, conn: &Connection) -> Result<(), LedgerError> {
        let mut add = conn.prepare_cached(
            "INSERT INTO day_use (day, lot, mix, coat, purpose, volume, uses) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
             ON CONFLICT (day, lot, mix, coat, purpose, volume) DO UPDATE SET uses = uses + excluded.uses",
        )?;
        for (of, uses) in self.uses {
            add.execute(params![
                of.day.0,
                of.lot,
                of.mix.unwrap_or(0),
                of.coat,
                of.purpose,
                of.volume.0,
                uses
            ])?;
        }
        let mut add = conn.prepare_cached(
            "INSERT INTO coat_day (day, known, unknown) VALUES (?1, ?2, ?3)
             ON CONFLICT (day) DO UPDATE SET known = known + excluded.known, unknown = unknown + excluded.unknown",
        )?;
        for (day, [known, unknown]) in self.coats {
            add.execute(params![day.0, known, unknown])?;
        }
        let mut add = conn.prepare_cached("UPDATE mix SET drawn = drawn + ?2 WHERE mix = ?1")?;
        for (mix, drawn) in self.drawn {
            add.execute(params![mix, drawn])?;
        }
        let mut add = conn.prepare_cached(
            "INSERT INTO month_volume (month, lot, volume) VALUES (?1, ?2, ?3)
             ON CONFLICT (month, lot) DO UPDATE SET volume = volume + excluded.volume",
        )?;
        for ((month, lot), volume) in self.volumes {
            add.execute(params![month, lot, volume])?;
        }
        let mut add = conn.prepare_cached(
            "INSERT INTO month_mass (month, material, sheet, cas, mass) VALUES (?1, ?2, ?3, ?4, ?5)
             ON CONFLICT (month, material, sheet, cas) DO UPDATE SET mass = mass + excluded.mass",
        )?;
        for ((month, material, sheet, cas), mass) in self.masses {
            add.execute(params![month, material, sheet, cas, mass])?;
        }
        Ok(())
    }
}
