//! Going along the chain: whether each action and entry is what its hash says.
//!
//! One thread reads and one hashes, as each takes about as long as the other. What is read is one pass over the actions and one over
//! the entries, both in their order; where the two do not meet, or a hash is another one, that action alone is read again by its
//! number, and what differs is named.
//!
//! *Invariant*: the first difference of the record is the one that is named.

use super::append::ActionColumns;
use super::chain::{Canonical, Hash, action_hash, entry_digest};
use super::error::LedgerError;
use super::verify::{BRINGS_READINGS, action_columns, check_readings, entry_columns};
use rusqlite::fallible_streaming_iterator::FallibleStreamingIterator;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Row};
use std::sync::mpsc::{Receiver, sync_channel};

/// How far a walk along the chain has come, also where it ends with an error.
#[derive(Debug, Default)]
pub(super) struct Walk {
    /// The action that is looked at.
    pub(super) at: i64,
    /// Readings that the entries so far have brought.
    pub(super) brought: i64,
}

// An action as it lies in the record: its canonical bytes and those of its entries one after another, and the hashes that are kept.
struct Link {
    seq: i64,
    // The number of its first entry.
    first: i64,
    bytes: Canonical,
    // Where its own columns end.
    own: usize,
    // Where each entry ends, and its digest.
    entries: Vec<(usize, [u8; 8])>,
    prev: Hash,
    hash: Hash,
}

impl Link {
    fn entries(&self) -> impl Iterator<Item = (&[u8], &[u8; 8])> {
        let begins = std::iter::once(self.own).chain(self.entries.iter().map(|(end, _)| *end));
        begins.zip(&self.entries).map(|(begin, (end, digest))| {
            (
                self.bytes.bytes().get(begin..*end).unwrap_or_default(),
                digest,
            )
        })
    }

    fn follows(&self, prev: &Hash) -> bool {
        let own = self.bytes.bytes().get(..self.own).unwrap_or_default();
        self.prev == *prev
            && self
                .entries()
                .all(|(bytes, digest)| entry_digest(bytes) == *digest)
            && action_hash(prev, own, self.entries().map(|(bytes, _)| bytes)) == self.hash
    }
}

// Where the chain does not hold: an action, the hash before it and the number of its first entry.
struct Break {
    seq: i64,
    prev: Hash,
    first: i64,
}

// Actions are handed on in heaps of about so many bytes, and so many heaps may wait.
const HEAP: usize = 256 * 1024;
const WAITING: usize = 4;

// Columns of an action and of an entry that its hash goes over, in this order, before those that are kept of it.
const ACTION: &str = "seq, draft, deed, person, writer, station, began, ended, written, zone, offset_min, day, clock, boot_ms, body";
const ACTION_COLUMNS: usize = 15;
const ENTRY: &str = "seq, action, piece, surface, branch, began, ended, day, kind, corrects, body";
const ENTRY_COLUMNS: usize = 11;
const KIND: usize = 8;
const BODY: usize = 10;

fn columns(row: &Row<'_>, count: usize, to: &mut Canonical) -> Result<(), rusqlite::Error> {
    for column in 0..count {
        to.column(row.get_ref(column)?);
    }
    Ok(())
}

// Hashes what is handed on; the first action at which the chain does not hold.
fn hashed(heaps: &Receiver<Vec<Link>>, mut prev: Hash) -> Option<Break> {
    for heap in heaps {
        for link in heap {
            if !link.follows(&prev) {
                let (seq, first) = (link.seq, link.first);
                return Some(Break { seq, prev, first });
            }
            prev = link.hash;
        }
    }
    None
}

// What stopped the reading.
enum Stop {
    // Nothing: the record is read to its end, and this is the number after its last entry.
    End(i64),
    // Somebody else found something.
    Heard,
    // This is not as it was, in words.
    Differs(String),
}

impl Walk {
    /// Goes along the newest `most` actions; the first difference in words, or `None`.
    pub(super) fn along(
        &mut self,
        conn: &Connection,
        most: i64,
    ) -> Result<Option<String>, LedgerError> {
        let newest: i64 =
            conn.query_row("SELECT coalesce(max(seq), 0) FROM action", [], |r| r.get(0))?;
        let start = newest.saturating_sub(most).max(0) + 1;
        // What lies before the start is taken as it is.
        let prev: Hash = conn
            .query_row("SELECT hash FROM action WHERE seq = ?1", [start - 1], |r| {
                r.get(0)
            })
            .optional()?
            .unwrap_or([0; 32]);
        self.at = start;
        let (give, heaps) = sync_channel(WAITING);
        let (read, broken) = std::thread::scope(|scope| {
            let hashing = scope.spawn(move || hashed(&heaps, prev));
            let read = self.read(conn, start, |heap| give.send(heap).is_ok());
            drop(give);
            (read, hashing.join())
        });
        let broken = broken
            .map_err(|_| LedgerError::Damaged("the hashing of the chain ended early".to_owned()))?;
        // What was hashed lies before whatever stopped the reading.
        if let Some(broken) = broken {
            self.at = broken.seq;
            return differs(conn, &broken).map(Some);
        }
        match read? {
            Stop::Heard => Ok(None),
            Stop::Differs(what) => Ok(Some(what)),
            Stop::End(next) => {
                let last: i64 =
                    conn.query_row("SELECT coalesce(max(seq), 0) FROM entry", [], |r| r.get(0))?;
                Ok((last >= next).then(|| format!("entry {next} belongs to no action")))
            }
        }
    }
    // Reads from an action on and hands it on to be hashed, as long as somebody takes it. Whatever stops it, what was read by
    // then is handed on.
    fn read(
        &mut self,
        conn: &Connection,
        start: i64,
        mut give: impl FnMut(Vec<Link>) -> bool,
    ) -> Result<Stop, LedgerError> {
        let mut heap = Vec::new();
        let done = self.read_into(&mut heap, conn, start, &mut give);
        give(heap);
        done
    }

    fn read_into(
        &mut self,
        heap: &mut Vec<Link>,
        conn: &Connection,
        start: i64,
        give: &mut impl FnMut(Vec<Link>) -> bool,
    ) -> Result<Stop, LedgerError> {
        let mut next: i64 = conn.query_row(
            "SELECT coalesce(max(seq), 0) + 1 FROM entry WHERE action < ?1",
            [start],
            |r| r.get(0),
        )?;
        let mut actions = conn.prepare(&format!(
            "SELECT {ACTION}, prev, hash FROM action WHERE seq >= ?1 ORDER BY seq"
        ))?;
        let mut actions = actions.query([start])?;
        let mut entries = conn.prepare(&format!(
            "SELECT {ENTRY}, digest FROM entry WHERE seq >= ?1 ORDER BY seq"
        ))?;
        let mut entries = entries.query([next])?;
        entries.advance()?;
        let mut waiting = 0;
        while let Some(r) = actions.next()? {
            let seq: i64 = r.get(0)?;
            if seq != self.at {
                return Ok(Stop::Differs(format!("action {} is missing", self.at)));
            }
            let mut bytes = Canonical::default();
            columns(r, ACTION_COLUMNS, &mut bytes)?;
            let mut link = Link {
                seq,
                first: next,
                own: bytes.bytes().len(),
                bytes,
                entries: Vec::new(),
                prev: r.get(ACTION_COLUMNS)?,
                hash: r.get(ACTION_COLUMNS + 1)?,
            };
            let mut brought = Vec::new();
            while let Some(e) = entries.get() {
                if e.get::<_, i64>(1)? != seq {
                    break;
                }
                columns(e, ENTRY_COLUMNS, &mut link.bytes)?;
                let end = link.bytes.bytes().len();
                link.entries.push((end, e.get(ENTRY_COLUMNS)?));
                if e.get_ref(KIND)? == ValueRef::Text(BRINGS_READINGS.as_bytes()) {
                    brought.push((e.get::<_, i64>(0)?, e.get::<_, String>(BODY)?));
                }
                next += 1;
                entries.advance()?;
            }
            waiting += link.bytes.bytes().len();
            heap.push(link);
            for (entry, body) in brought {
                match check_readings(conn, (entry, BRINGS_READINGS, &body))? {
                    Ok(rows) => self.brought += i64::from(rows),
                    Err(difference) => return Ok(Stop::Differs(difference)),
                }
            }
            if waiting >= HEAP {
                waiting = 0;
                if !give(std::mem::take(heap)) {
                    return Ok(Stop::Heard);
                }
            }
            self.at += 1;
        }
        Ok(Stop::End(next))
    }
}

// What of an action is not as it was, in words.
fn differs(conn: &Connection, broken: &Break) -> Result<String, LedgerError> {
    let Break { seq, prev, first } = broken;
    let mut next = *first;
    for (entry, digest) in entry_columns(conn, *seq)? {
        if entry.seq != next {
            return Ok(format!("entry {next} is missing (action {seq})"));
        }
        next += 1;
        if digest != entry_digest(entry.canonical().bytes()) {
            return Ok(format!("entry {} of action {seq} was changed", entry.seq));
        }
    }
    let (action, kept): (ActionColumns, Hash) = conn.query_row(
        &format!("SELECT {ACTION}, prev FROM action WHERE seq = ?1"),
        [seq],
        |r| Ok((action_columns(r)?, r.get(ACTION_COLUMNS)?)),
    )?;
    if kept != *prev {
        return Ok(format!(
            "action {} does not follow the one before it",
            action.seq
        ));
    }
    // An action that lost its last entry is told by the number that is left out after it.
    let gap: bool = conn.query_row(
        "SELECT max(seq) > ?1 AND NOT EXISTS (SELECT 1 FROM entry WHERE seq = ?1) FROM entry",
        [next],
        |r| r.get(0),
    )?;
    Ok(if gap {
        format!("entry {next} is missing (action {seq})")
    } else {
        format!("action {seq} or one of its entries was changed")
    })
}
