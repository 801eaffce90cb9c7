//! Proving that the record is whole and that the read models follow from it.

use super::append::{ActionColumns, EntryColumns};
use super::book::Book;
use super::chain::hex;
use super::error::LedgerError;
use super::models::{self, Kept, Row, TABLES};
use super::open::Ledger;
use super::stored::{Shared, decode};
use super::walk::Walk;
use super::witness;
use crate::shop::calendar::{Calendar, Day};
use crate::shop::record::{EntrySeq, PieceId, ShopFact, What};
use crate::units::Moment;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior};
use std::collections::BTreeMap;

/// What a verification found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct VerifyReport {
    /// Actions read.
    pub actions: i64,
    /// Entries read.
    pub entries: i64,
    /// Hash of the newest action.
    pub head: String,
    /// Differences, in words; empty when there is none.
    pub differences: Vec<String>,
}

impl Ledger {
    /// Checks the chain, rebuilds every read model beside the kept ones and compares them, holds the record against its
    /// witness and runs the engine's own check. `kept_head` is a head that was kept elsewhere: `NUMBER:HASH`, or the hash
    /// alone.
    pub fn verify(&self, kept_head: Option<&str>) -> Result<VerifyReport, LedgerError> {
        self.verify_with(kept_head, true)
    }

    /// The same without building the read models anew: for a ledger whose read models were just made from its record.
    pub(super) fn verify_record(&self, head: &str) -> Result<VerifyReport, LedgerError> {
        self.verify_with(Some(head), false)
    }

    fn verify_with(
        &self,
        kept_head: Option<&str>,
        models: bool,
    ) -> Result<VerifyReport, LedgerError> {
        let kept = kept_head.map(KeptHead::read).transpose()?;
        // The witness is read first: the record only grows, so what was seen must be in what is read afterwards.
        let seen = witness::read(self.path())?;
        // All of it is read from one state: what others save meanwhile is no difference.
        let _state = Transaction::new_unchecked(&self.conn, TransactionBehavior::Deferred)?;
        let mut report = VerifyReport::default();
        let mut walk = Walk::default();
        if let Some(first) = self.check_chain_from(i64::MAX, &mut walk)? {
            report.differences.push(first);
        }
        let held = (kept.as_ref(), seen.as_ref());
        if let Err(e) = self.verify_rest(held, walk.brought, models, &mut report) {
            // What cannot be read any more is a difference like any other; the first one is named by now, if it lies in
            // the record.
            let Some(why) = unreadable(&e) else {
                return Err(e);
            };
            if report.differences.is_empty() {
                report
                    .differences
                    .push(format!("a part of the ledger cannot be read ({why})"));
            }
        }
        Ok(report)
    }

    fn verify_rest(
        &self,
        (kept, seen): (Option<&KeptHead>, Option<&witness::Seen>),
        brought: i64,
        models: bool,
        report: &mut VerifyReport,
    ) -> Result<(), LedgerError> {
        (report.actions, report.head) = self.head()?;
        report.entries = self
            .conn
            .query_row("SELECT count(*) FROM entry", [], |r| r.get(0))?;
        // After the first difference in the chain, nothing that follows from it is worth a line.
        if !report.differences.is_empty() {
            return Ok(());
        }
        // What each entry brought is there, by its digest; whatever is there besides came with none.
        let there: i64 = self
            .conn
            .query_row("SELECT count(*) FROM reading", [], |r| r.get(0))?;
        let strays = there - brought;
        if strays > 0 {
            report.differences.push(format!(
                "{strays} readings came with no entry of the record"
            ));
        }
        if let Some(kept) = kept {
            report
                .differences
                .extend(kept.difference(&self.conn, report.actions)?);
        }
        if let Some(seen) = seen
            && let Err(lost) = witness::hold(&self.conn, self.path(), seen)
        {
            report.differences.push(match lost {
                LedgerError::Lost { .. } if self.board().is_some() => {
                    format!(
                        "{}; nothing was checked of them",
                        witness::differs(&lost, true)
                    )
                }
                lost => lost.to_string(),
            });
        }
        if self.read_only()?.is_some_and(|r| r.unread) {
            report.differences.push(
                "a write-ahead file lies beside the ledger and is not in view; what it holds was not checked"
                    .to_owned(),
            );
        }
        report.differences.extend(self.witness_spoilt());
        let schema = Ledger::in_memory(self.calendar())?;
        if models {
            let beside = Beside::build(&self.conn, &schema.conn, self.calendar())?;
            for table in TABLES {
                if let Some(difference) = compare(&self.conn, table)? {
                    report.differences.push(difference);
                }
            }
            beside.drop()?;
        }
        if let Some(difference) = compare_schema(&self.conn, &schema.conn)? {
            report.differences.push(difference);
        }
        let said: String = self
            .conn
            .query_row("PRAGMA integrity_check(1)", [], |r| r.get(0))?;
        if said != "ok" {
            report
                .differences
                .push(format!("the engine's own check says: {said}"));
        }
        Ok(())
    }

    /// Replaces all read models by what follows from the record, in one transaction. It is the same build that
    /// [`Self::verify`] compares with: a correction is folded from what had been written by then, never from what came
    /// after it.
    pub fn rebuild(&mut self) -> Result<i64, LedgerError> {
        self.write(|w| {
            replace_read_models(&w.tx, w.calendar)?;
            Ok(w.tx.query_row("SELECT count(*) FROM action", [], |r| r.get(0))?)
        })
    }

    /// Walks the chain; the first difference in words, or `None`.
    pub fn check_chain(&self) -> Result<Option<String>, LedgerError> {
        self.check_chain_from(i64::MAX, &mut Walk::default())
    }

    /// Walks the newest `most` actions of the chain; the first difference in words, or `None`.
    pub(super) fn check_tail(&self, most: i64) -> Result<Option<String>, LedgerError> {
        self.check_chain_from(most, &mut Walk::default())
    }

    fn check_chain_from(&self, most: i64, walk: &mut Walk) -> Result<Option<String>, LedgerError> {
        match walk.along(&self.conn, most) {
            Err(e) => match unreadable(&e) {
                Some(why) => Ok(Some(format!(
                    "action {} or one of its entries cannot be read ({why})",
                    walk.at.max(1)
                ))),
                None => Err(e),
            },
            done => done,
        }
    }

    /// Opens a file for reading back only, without the rules for a live ledger.
    pub(super) fn open_copy(path: &std::path::Path) -> Result<Self, LedgerError> {
        Self::from_copy(super::open::reader(path)?, path)
    }
}

/// A head that was kept elsewhere.
struct KeptHead {
    action: Option<i64>,
    hash: String,
}

impl KeptHead {
    fn read(text: &str) -> Result<Self, LedgerError> {
        let fault = || {
            LedgerError::Input(format!(
                "head \"{}\" is not a head; write NUMBER:HASH as verify prints it, or the 64 digits of the hash alone",
                crate::shop::text::shown(text)
            ))
        };
        let text = text.trim().to_lowercase();
        let (action, hash) = match text.split_once(':') {
            Some((action, hash)) => (Some(action.parse().map_err(|_| fault())?), hash),
            None => (None, text.as_str()),
        };
        if hash.len() != 64 || !hash.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Err(fault());
        }
        Ok(Self {
            action,
            hash: hash.to_owned(),
        })
    }

    // What of it the ledger lacks, in words.
    fn difference(&self, conn: &Connection, actions: i64) -> Result<Option<String>, LedgerError> {
        let hash = &self.hash;
        let found: Option<i64> = conn
            .query_row(
                "SELECT seq FROM action WHERE lower(hex(hash)) = ?1",
                [hash],
                |r| r.get(0),
            )
            .optional()?;
        Ok(match (self.action, found) {
            (None, Some(_)) => None,
            (Some(kept), Some(found)) if kept == found => None,
            (Some(kept), Some(found)) => Some(format!(
                "the head {kept}:{hash} that was kept elsewhere is the hash of action {found}"
            )),
            (Some(kept), None) if kept > actions => Some(format!(
                "actions {} to {kept} are missing: the head {kept}:{hash} was kept elsewhere, and the ledger ends at action {actions}",
                actions + 1
            )),
            (Some(kept), None) => Some(format!(
                "action {kept} has another hash than the head {kept}:{hash} that was kept elsewhere: the record up to it was rewritten"
            )),
            (None, None) => Some(format!(
                "the head {hash} that was kept elsewhere is not in this ledger: its end was cut off, or the record was rewritten"
            )),
        })
    }
}

// Why a row could not be read as it was written, where that is what went wrong: a torn page, a value of another kind,
// a fact that is none.
fn unreadable(error: &LedgerError) -> Option<String> {
    use rusqlite::Error as E;
    use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
    match error {
        LedgerError::Damaged(why) => Some(why.clone()),
        LedgerError::Engine(e) => {
            let so = matches!(
                e,
                E::FromSqlConversionFailure(..)
                    | E::IntegralValueOutOfRange(..)
                    | E::InvalidColumnType(..)
                    | E::Utf8Error(..)
                    | E::QueryReturnedNoRows
            ) || matches!(e.sqlite_error_code(), Some(DatabaseCorrupt | NotADatabase));
            so.then(|| e.to_string())
        }
        _ => None,
    }
}

/// All read models, built from the record alone beside the kept ones: temporary tables of the same names, which the
/// engine takes before the kept ones as long as they are there. The record itself is read where it lies; each fold leaves
/// out what came after the action that it is for.
struct Beside<'a>(&'a Connection);

impl<'a> Beside<'a> {
    // `schema` is a ledger as the migrations make it: what was done to the tables of this one does not matter.
    fn build(
        conn: &'a Connection,
        schema: &Connection,
        calendar: Calendar,
    ) -> Result<Self, LedgerError> {
        let beside = Self(conn);
        let mut parts = schema.prepare(
            "SELECT sql FROM sqlite_schema WHERE tbl_name = ?1 AND sql IS NOT NULL ORDER BY type = 'index'",
        )?;
        for table in TABLES {
            let mut rows = parts.query([table])?;
            while let Some(r) = rows.next()? {
                let sql: String = r.get(0)?;
                let sql = sql
                    .replacen("CREATE TABLE ", "CREATE TABLE temp.", 1)
                    .replacen("CREATE INDEX ", "CREATE INDEX temp.", 1);
                conn.execute_batch(&sql)?;
            }
        }
        let book = Book::default();
        let kept = Kept::in_memory();
        each_action(conn, |action, shared, rows| {
            models::apply(
                (conn, &kept),
                &book,
                &calendar,
                action.seq,
                &action.person,
                shared,
                rows,
            )
        })?;
        kept.flush(conn)?;
        Ok(beside)
    }

    fn drop(self) -> Result<(), LedgerError> {
        for table in TABLES {
            self.0
                .execute_batch(&format!("DROP TABLE IF EXISTS temp.{table}"))?;
        }
        Ok(())
    }
}

/// Puts what follows from the record in the place of all read models; the caller's transaction makes it one change.
pub(super) fn replace_read_models(
    conn: &Connection,
    calendar: Calendar,
) -> Result<(), LedgerError> {
    let schema = Ledger::in_memory(calendar)?;
    let beside = Beside::build(conn, &schema.conn, calendar)?;
    for table in TABLES {
        conn.execute(&format!("DELETE FROM main.{table}"), [])?;
        let columns = columns(conn, table)?;
        conn.execute(
            &format!("INSERT INTO main.{table} ({columns}) SELECT {columns} FROM temp.{table}"),
            [],
        )?;
    }
    beside.drop()
}

// The columns of a table by name: the order in which an upgraded ledger has them may be another one.
fn columns(conn: &Connection, table: &str) -> Result<String, LedgerError> {
    let list = conn.prepare(&format!("SELECT * FROM temp.{table}"))?;
    Ok(list.column_names().collect::<Vec<_>>().join(", "))
}

pub(super) fn action_columns(r: &rusqlite::Row<'_>) -> Result<ActionColumns, rusqlite::Error> {
    Ok(ActionColumns {
        seq: r.get(0)?,
        draft: r.get(1)?,
        deed: r.get(2)?,
        person: r.get(3)?,
        writer: r.get(4)?,
        station: r.get(5)?,
        began: r.get(6)?,
        ended: r.get(7)?,
        written: r.get(8)?,
        zone: r.get(9)?,
        offset_min: r.get(10)?,
        day: r.get(11)?,
        clock: r.get(12)?,
        boot_ms: r.get(13)?,
        body: r.get(14)?,
    })
}

pub(super) fn entry_columns(
    conn: &Connection,
    action: i64,
) -> Result<Vec<(EntryColumns, [u8; 8])>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT seq, action, piece, surface, branch, began, ended, day, kind, corrects, body, digest
         FROM entry WHERE action = ?1 ORDER BY seq",
    )?;
    let rows = list.query_map([action], |r| {
        Ok((
            EntryColumns {
                seq: r.get(0)?,
                action: r.get(1)?,
                piece: r.get(2)?,
                surface: r.get(3)?,
                branch: r.get(4)?,
                began: r.get(5)?,
                ended: r.get(6)?,
                day: r.get(7)?,
                kind: r.get(8)?,
                corrects: r.get(9)?,
                body: r.get(10)?,
            },
            r.get(11)?,
        ))
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn each_action(
    conn: &Connection,
    mut work: impl FnMut(&ActionColumns, &Shared, &[Row]) -> Result<(), LedgerError>,
) -> Result<(), LedgerError> {
    let mut list = conn.prepare(
        "SELECT seq, draft, deed, person, writer, station, began, ended, written, zone, offset_min, day, clock,
                boot_ms, body FROM action ORDER BY seq",
    )?;
    let mut rows = list.query([])?;
    while let Some(r) = rows.next()? {
        let action = action_columns(r)?;
        let shared: Shared = serde_json::from_str(&action.body).map_err(|e| {
            LedgerError::Damaged(format!("action {} cannot be read: {e}", action.seq))
        })?;
        let mut lines = Vec::new();
        for (e, _) in entry_columns(conn, action.seq)? {
            let what = decode(&e.kind, &e.body)?;
            lines.push(row_of(&action, &e, what));
        }
        work(&action, &shared, &lines)?;
    }
    Ok(())
}

/// An entry as the read models take it.
pub(super) fn row_of(action: &ActionColumns, e: &EntryColumns, what: What) -> Row {
    Row {
        seq: EntrySeq(e.seq),
        piece: e.piece.map(PieceId),
        surface: e.surface.clone(),
        branch: u32::try_from(e.branch).unwrap_or(0),
        began: Moment(e.began),
        ended: Moment(e.ended),
        written: Moment(action.written),
        day: Day(i32::try_from(e.day).unwrap_or(0)),
        corrects: e.corrects.map(EntrySeq),
        what,
    }
}

/// The kind of the entries that brought readings.
pub(super) const BRINGS_READINGS: &str = "climate/1";

/// The chain holds a digest of the readings that a file brought; a changed reading is found by it. Gives how many an entry
/// brought, or what differs, in words.
pub(super) fn check_readings(
    conn: &Connection,
    (entry, kind, body): (i64, &str, &str),
) -> Result<Result<u32, String>, LedgerError> {
    if kind != BRINGS_READINGS {
        return Ok(Ok(0));
    }
    let What::Shop(ShopFact::Climate {
        room,
        rows,
        hash,
        from,
        to,
        ..
    }) = decode(kind, body)?
    else {
        return Ok(Ok(0));
    };
    let found = super::readings::readings_digest(conn, entry, &room, (from, to))?;
    if found == (rows, hash) {
        return Ok(Ok(rows));
    }
    Ok(Err(format!(
        "readings of {room} from entry {entry} were changed"
    )))
}

// Tables, indexes and triggers that are there must be those that the migrations make: a trigger that somebody added
// runs with every save, and one that was taken away guards nothing.
fn compare_schema(kept: &Connection, rebuilt: &Connection) -> Result<Option<String>, LedgerError> {
    let parts = |conn: &Connection| -> Result<BTreeMap<String, Option<String>>, LedgerError> {
        let mut list = conn.prepare(
            "SELECT type || ' ' || name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'",
        )?;
        let rows = list.query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    };
    let (ours, theirs) = (parts(kept)?, parts(rebuilt)?);
    let shown = crate::shop::text::shown;
    for (part, sql) in &ours {
        match theirs.get(part) {
            None => {
                return Ok(Some(format!(
                    "the {} was not made by this program",
                    shown(part)
                )));
            }
            Some(made) if made != sql => {
                return Ok(Some(format!("the {} was changed", shown(part))));
            }
            Some(_) => {}
        }
    }
    Ok(theirs
        .keys()
        .find(|part| !ours.contains_key(*part))
        .map(|part| format!("the {} is missing", shown(part))))
}

fn compare(conn: &Connection, table: &str) -> Result<Option<String>, LedgerError> {
    let list = |place: &str| conn.prepare(&format!("SELECT * FROM {place}.{table} ORDER BY 1, 2"));
    let (mut ours, mut theirs) = (list("main")?, list("temp")?);
    let width = ours.column_count();
    let (mut left, mut right) = (ours.query([])?, theirs.query([])?);
    loop {
        match (left.next()?, right.next()?) {
            (None, None) => return Ok(None),
            (Some(l), Some(r)) => {
                for i in 0..width {
                    let (x, y) = (l.get_ref(i)?, r.get_ref(i)?);
                    if x != y {
                        return Ok(Some(format!(
                            "{table} at {}: kept {}, rebuilt {}",
                            show(l.get_ref(0)?),
                            show(x),
                            show(y)
                        )));
                    }
                }
            }
            (Some(l), None) => {
                return Ok(Some(format!(
                    "{table} holds {} too much",
                    show(l.get_ref(0)?)
                )));
            }
            (None, Some(r)) => return Ok(Some(format!("{table} lacks {}", show(r.get_ref(0)?)))),
        }
    }
}

fn show(value: ValueRef<'_>) -> String {
    match value {
        ValueRef::Null => "nothing".to_owned(),
        ValueRef::Integer(i) => i.to_string(),
        ValueRef::Real(f) => f.to_string(),
        ValueRef::Text(t) => crate::shop::text::shown(&String::from_utf8_lossy(t)),
        ValueRef::Blob(b) => hex(b),
    }
}
