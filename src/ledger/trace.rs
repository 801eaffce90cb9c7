//! What a lot went onto.
//!
//! *Invariants*: a coat that stands carries the lot that it names, or every lot that its mix was poured from, also where no
//! amount was logged; one that was taken back carries nothing.
//!
//! *Not here*: what of a lot is left (`stock`), what it adds to a month (`solvent`).

use super::error::LedgerError;
use super::open::Ledger;
use super::stored::COATS;
use crate::units::{Moment, Volume};

/// A piece that carries a lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CarriedRow {
    /// Its serial.
    pub serial: String,
    /// Its coats with the lot.
    pub coats: i64,
    /// When the first of them ended.
    pub first: Moment,
    /// When the last of them ended.
    pub last: Moment,
    /// How much of the lot they used; `None` where one of them has no amount.
    pub volume: Option<Volume>,
}

impl Ledger {
    /// The pieces that carry a lot, by serial. It reads every coat of the record: a question for a bad lot, not for a page.
    pub fn pieces_with_lot(&self, lot: &str) -> Result<Vec<CarriedRow>, LedgerError> {
        self.lot_material(lot)?;
        let mut list = self.conn.prepare_cached(&format!(
            "SELECT p.serial, count(*), min(e.ended), max(e.ended), sum(u.volume), count(u.volume)
             FROM entry e JOIN piece p ON p.id = e.piece
             LEFT JOIN used u ON u.entry = e.seq AND u.lot = ?1
             WHERE e.kind {COATS}
               AND NOT EXISTS (SELECT 1 FROM void v WHERE v.entry = e.seq)
               AND (u.lot IS NOT NULL OR json_extract(e.body, '$.lot') = ?1
                    OR json_extract(e.body, '$.mix') IN (SELECT mix FROM pour WHERE lot = ?1))
             GROUP BY p.serial ORDER BY p.serial"
        ))?;
        let rows = list.query_map([lot], |r| {
            let (coats, with_amount): (i64, i64) = (r.get(1)?, r.get(5)?);
            Ok(CarriedRow {
                serial: r.get(0)?,
                coats,
                first: Moment(r.get(2)?),
                last: Moment(r.get(3)?),
                volume: r
                    .get::<_, Option<i64>>(4)?
                    .filter(|_| coats == with_amount)
                    .map(Volume),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
