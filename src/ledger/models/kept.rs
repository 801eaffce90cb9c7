//! The standings of pieces while the read models are brought up from action to action.
//!
//! *Invariants*: a save goes straight to the tables. Where the whole record is gone through, a standing stays in memory until
//! its piece has left, something reads the tables, or the end; what is in memory counts before what is in the tables.

use super::save;
use crate::ledger::error::LedgerError;
use crate::ledger::read::load_piece;
use crate::shop::record::PieceId;
use crate::shop::standing::PieceNow;
use rusqlite::{Connection, OptionalExtension};
use std::cell::RefCell;
use std::collections::{BTreeMap, HashMap};

/// Where standings are read and written while actions are applied.
#[derive(Debug)]
pub(in crate::ledger) struct Kept {
    memory: Option<RefCell<Memory>>,
}

#[derive(Debug, Default)]
struct Memory {
    // In the order of their numbers, in which they are written.
    pieces: BTreeMap<PieceId, Held>,
    by_serial: HashMap<String, PieceId>,
}

#[derive(Debug)]
struct Held {
    now: PieceNow,
    // As the tables have it; `None` where they have nothing, or something else.
    saved: Option<PieceNow>,
}

impl Kept {
    /// In the tables alone.
    pub(in crate::ledger) const fn in_tables() -> Self {
        Self { memory: None }
    }

    /// In memory, for a walk over the whole record; [`Kept::flush`] ends it.
    pub(in crate::ledger) fn in_memory() -> Self {
        Self {
            memory: Some(RefCell::default()),
        }
    }

    /// Where a piece stands.
    pub(in crate::ledger) fn piece(
        &self,
        conn: &Connection,
        id: PieceId,
    ) -> Result<Option<PieceNow>, LedgerError> {
        if let Some(memory) = &self.memory
            && let Some(held) = memory.borrow().pieces.get(&id)
        {
            return Ok(Some(held.now.clone()));
        }
        load_piece(conn, id)
    }

    /// The piece with a serial and where it stands.
    pub(in crate::ledger) fn named(
        &self,
        conn: &Connection,
        serial: &str,
    ) -> Result<Option<PieceNow>, LedgerError> {
        let held = self
            .memory
            .as_ref()
            .and_then(|memory| memory.borrow().by_serial.get(serial).copied());
        let id = match held {
            Some(id) => Some(id),
            None => conn
                .prepare_cached("SELECT id FROM piece WHERE serial = ?1")?
                .query_row([serial], |r| Ok(PieceId(r.get(0)?)))
                .optional()?,
        };
        id.map_or(Ok(None), |id| self.piece(conn, id))
    }

    /// Keeps where a piece stands now. `before` is what [`Kept::piece`] gave, where it goes on from there.
    pub(super) fn put(
        &self,
        conn: &Connection,
        now: PieceNow,
        before: Option<PieceNow>,
    ) -> Result<(), LedgerError> {
        let Some(memory) = &self.memory else {
            return save(conn, &now, before.as_ref());
        };
        let memory = &mut *memory.borrow_mut();
        let saved = match memory.pieces.remove(&now.id) {
            Some(held) => held.saved,
            None => before,
        };
        if now.in_process() {
            memory
                .by_serial
                .entry(now.piece.serial.clone())
                .or_insert(now.id);
            memory.pieces.insert(now.id, Held { now, saved });
            return Ok(());
        }
        // What has left is seldom asked for again, and in years it would fill the memory.
        memory.by_serial.remove(&now.piece.serial);
        save(conn, &now, saved.as_ref())
    }

    /// Brings the tables to what is in memory.
    pub(in crate::ledger) fn flush(&self, conn: &Connection) -> Result<(), LedgerError> {
        let Some(memory) = &self.memory else {
            return Ok(());
        };
        for held in memory.borrow_mut().pieces.values_mut() {
            if held.saved.as_ref() != Some(&held.now) {
                save(conn, &held.now, held.saved.as_ref())?;
                held.saved = Some(held.now.clone());
            }
        }
        Ok(())
    }
}
