//! The months' sums: what an action adds to them is gathered and written once.
//!
//! *Invariants*: each use is rounded by itself before it is added, so that it does not matter in which order or in how
//! many steps a sum was made.

use super::super::book::Book;
use super::super::error::LedgerError;
use super::{lot_sheet, pours};
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

type MassOf = (String, String, String, String);

/// What one action looks up of its lots and mixes, and adds to the months.
#[derive(Debug, Default)]
pub(super) struct Sums {
    lots: HashMap<String, Bound>,
    mixes: HashMap<u32, Arc<[Pour]>>,
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

    /// Adds a use to its month, or takes it away with `sign` -1.
    pub(super) fn add(
        &mut self,
        conn: &Connection,
        book: &Book,
        (month, lot): (&str, &str),
        volume: Volume,
        sign: i64,
    ) -> Result<(), LedgerError> {
        let bound = self.bound(conn, book, lot)?;
        *self
            .volumes
            .entry((month.to_owned(), lot.to_owned()))
            .or_insert(0) += sign * volume.0;
        for (counted, mass) in bound.material.masses(volume) {
            let of = (
                month.to_owned(),
                bound.code.clone(),
                bound.sheet.clone(),
                counted.cas.clone(),
            );
            *self.masses.entry(of).or_insert(0) += sign * mass.0;
        }
        Ok(())
    }

    /// Forgets the sheet of a lot that is about to be bound to another one.
    pub(super) fn rebind(&mut self, lot: &str) {
        self.lots.remove(lot);
    }

    /// Writes what was gathered.
    pub(super) fn write(self, conn: &Connection) -> Result<(), LedgerError> {
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
