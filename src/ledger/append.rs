//! The one way into the record.

use super::book::Book;
use super::chain::{Canonical, Hash, action_hash, entry_digest};
use super::error::LedgerError;
use super::models::{self, Kept};
use super::open::Ledger;
use super::stored::{Shared, encode};
use super::witness::{self, Look, Settler};
use crate::shop::calendar::{Calendar, Day};
use crate::shop::record::{EntrySeq, PieceId, What};
use crate::shop::text::{clean, initials};
use crate::units::Moment;
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};

/// Who did a deed, who wrote it, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Who {
    /// Initials of who did it.
    pub person: String,
    /// Initials of who wrote it.
    pub writer: String,
    /// The terminal.
    pub station: String,
}

/// When and by which clock an action is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// The written time.
    pub written: Moment,
    /// Where it came from: `system`, `demo` or `doubtful`.
    pub clock: &'static str,
    /// Milliseconds since the machine was started, where it tells.
    pub boot_ms: Option<i64>,
}

/// One line of an action: a fact on a piece, or on none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// The piece.
    pub piece: Option<PieceId>,
    /// The surface.
    pub surface: String,
    /// The branch.
    pub branch: u32,
    /// Times of its own, where they differ from the action's: a coat that is moved to another piece keeps its time.
    pub times: Option<(Moment, Moment)>,
    /// The entry that it corrects or stands for.
    pub corrects: Option<EntrySeq>,
    /// What it says.
    pub what: What,
}

impl Line {
    /// A line about the shop.
    pub fn shop(what: What) -> Self {
        Self {
            piece: None,
            surface: String::new(),
            branch: 0,
            times: None,
            corrects: None,
            what,
        }
    }

    /// A line about a whole piece in a branch.
    pub fn piece(piece: PieceId, branch: u32, what: What) -> Self {
        Self {
            piece: Some(piece),
            surface: crate::shop::recipe::WHOLE.to_owned(),
            branch,
            times: None,
            corrects: None,
            what,
        }
    }
}

/// An action that is about to be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewAction {
    /// Identity of the draft; a second save of the same draft adds nothing.
    pub draft: String,
    /// The deed in one word.
    pub deed: String,
    /// Who and where.
    pub who: Who,
    /// When it began.
    pub began: Moment,
    /// When it ended.
    pub ended: Moment,
    /// Its lines.
    pub lines: Vec<Line>,
}

impl NewAction {
    /// A new draft of an action that is one instant.
    pub fn at_once(deed: &str, who: Who, at: Moment, lines: Vec<Line>) -> Self {
        Self {
            draft: new_draft(),
            deed: deed.to_owned(),
            who,
            began: at,
            ended: at,
            lines,
        }
    }
}

/// A fresh identity for a draft.
pub(super) fn new_draft() -> String {
    uuid::Uuid::now_v7().to_string()
}

/// What was saved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Saved {
    /// Number of the action.
    pub action: i64,
    /// First entry.
    pub first: EntrySeq,
    /// Last entry.
    pub last: EntrySeq,
    /// Whether it had been saved before: the same draft came twice.
    pub again: bool,
}

/// An open write: all reads and the append in it see one state.
pub(super) struct Writer<'a> {
    pub(super) tx: Transaction<'a>,
    pub(super) book: &'a Book,
    pub(super) calendar: Calendar,
    /// Which start of the machine this is, where the kernel tells.
    pub(super) boot: Option<&'a str>,
}

impl Ledger {
    /// Runs one write: takes the turn, begins, runs `work`, commits, tells the witness. Any error leaves the ledger as it
    /// was, but for one of the disk in the middle of a commit: whether that was saved is read back before the next write,
    /// never guessed and never tried again.
    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&Writer<'_>) -> Result<T, LedgerError>,
    ) -> Result<T, LedgerError> {
        self.write_held(true, work)
    }

    /// The same; `held` says whether the record must hold against its witness first.
    pub(super) fn write_held<T>(
        &mut self,
        held: bool,
        work: impl FnOnce(&Writer<'_>) -> Result<T, LedgerError>,
    ) -> Result<T, LedgerError> {
        self.may_save()?;
        let turn = self.turn_file();
        let turn = match turn.as_deref() {
            Some(file) => Some(file.take()?),
            None => None,
        };
        self.still_there()?;
        self.doubtful |= self.settler.as_ref().is_some_and(Settler::refused);
        if self.doubtful {
            self.reopen()?;
        }
        let done = self.write_once(held, work);
        drop(turn);
        match done {
            Ok((out, witnessed)) => {
                // The action is saved: that its witness is not does not unsave it, and is no reason to say otherwise.
                // Before the next one the ledger is read back and the witness caught up, and where that cannot be done
                // no more is saved: at most one action is ever without a witness.
                self.doubtful = !witnessed;
                self.settle();
                Ok(out)
            }
            Err(e) => {
                self.book.forget();
                self.doubtful = e.is_disk();
                Err(e)
            }
        }
    }

    /// Has the witness forced beside the saves from here on: for who keeps a ledger open. A command that saves once forces it
    /// before it says so.
    pub fn stays_open(&mut self) {
        if self.turn_file().is_some() && self.settler.is_none() {
            self.settler = Settler::start(self.path()).ok();
        }
    }

    fn settle(&mut self) {
        match &self.settler {
            Some(settler) => settler.soon(),
            None => self.doubtful |= witness::force(&witness::path_of(self.path())).is_err(),
        }
    }

    fn write_once<T>(
        &mut self,
        held: bool,
        work: impl FnOnce(&Writer<'_>) -> Result<T, LedgerError>,
    ) -> Result<(T, bool), LedgerError> {
        let path = self.path().to_path_buf();
        let start = self.boot.clone();
        let (conn, book, kept, calendar) = self.parts();
        let look = if kept {
            witness::look(&path)?
        } else {
            Look::Missing
        };
        let spoilt = look == Look::Spoilt;
        let seen = match look {
            Look::Seen(seen) => Some(seen),
            Look::Missing | Look::Spoilt => None,
        };
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
        // A ledger that was put in the place of this one while it was open is ahead of it, or another one.
        if let (true, Some(seen)) = (held, &seen) {
            witness::hold(&tx, &path, seen)?;
        }
        super::migrate::still_ours(&tx)?;
        let writer = Writer {
            tx,
            book,
            calendar,
            boot: start.as_deref(),
        };
        let out = work(&writer)?;
        let (action, hash) = writer.head()?;
        writer.tx.commit()?;
        if !kept {
            return Ok((out, true));
        }
        // A witness that cannot be read is not written over: that is said with every answer, until somebody renews it.
        if held && spoilt {
            return Ok((out, true));
        }
        // What is gone on without must not be missed again.
        let forgotten = held
            || if spoilt {
                witness::put_aside(&path).is_ok()
            } else {
                witness::forget(&path).is_ok()
            };
        let current = seen.is_some_and(|s| held && s.action == action);
        Ok((
            out,
            forgotten && (current || witness::write(&path, action, &hash).is_ok()),
        ))
    }
}

impl Writer<'_> {
    /// Appends one action with its entries and brings the read models up to it.
    pub(super) fn append(
        &self,
        action: &NewAction,
        shared: &Shared,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        if let Some(saved) = self.saved_before(&action.draft)? {
            return Ok(saved);
        }
        check(action, super::clock::latest(self, stamp)?)?;
        let (head, prev) = self.head()?;
        let seq = head + 1;
        let clock = super::clock::word(self, action, stamp)?;
        super::clock::note_boot(self, seq)?;
        let first: i64 = self
            .tx
            .prepare_cached("SELECT coalesce(max(seq), 0) + 1 FROM entry")?
            .query_row([], |r| r.get(0))?;
        let day = self.calendar.day(action.began);
        let shared = Shared {
            v: 1,
            ..shared.clone()
        };
        let body = serde_json::to_string(&shared)
            .map_err(|e| LedgerError::Damaged(format!("an action cannot be written: {e}")))?;
        let row = ActionColumns {
            seq,
            draft: action.draft.clone(),
            deed: action.deed.clone(),
            person: action.who.person.clone(),
            writer: action.who.writer.clone(),
            station: action.who.station.clone(),
            began: action.began.0,
            ended: action.ended.0,
            written: stamp.written.0,
            zone: self.calendar.zone.name().to_owned(),
            offset_min: i64::from(self.calendar.offset_min(action.began)),
            day: i64::from(day.0),
            clock: clock.to_owned(),
            boot_ms: stamp.boot_ms,
            body,
        };
        let mut entries = Vec::with_capacity(action.lines.len());
        for (offset, line) in action.lines.iter().enumerate() {
            let number = first + i64::try_from(offset).unwrap_or(0);
            let (kind, body) = encode(&line.what)?;
            let (began, ended) = line.times.unwrap_or((action.began, action.ended));
            let day = self.calendar.day(began);
            entries.push(EntryColumns {
                seq: number,
                action: seq,
                piece: line.piece.map(|p| p.0),
                surface: line.surface.clone(),
                branch: i64::from(line.branch),
                began: began.0,
                ended: ended.0,
                day: i64::from(day.0),
                kind: kind.to_owned(),
                corrects: line.corrects.map(|e| e.0),
                body,
            });
        }
        insert(&self.tx, &row, &entries, &prev)?;
        let rows: Vec<models::Row> = entries
            .iter()
            .zip(&action.lines)
            .map(|(e, line)| models::Row {
                seq: EntrySeq(e.seq),
                piece: line.piece,
                surface: line.surface.clone(),
                branch: line.branch,
                began: Moment(e.began),
                ended: Moment(e.ended),
                written: stamp.written,
                day: Day(i32::try_from(e.day).unwrap_or(0)),
                corrects: line.corrects,
                what: line.what.clone(),
            })
            .collect();
        models::apply(
            (&self.tx, &Kept::in_tables()),
            self.book,
            &self.calendar,
            seq,
            &row.person,
            &shared,
            &rows,
        )?;
        let last = first + i64::try_from(entries.len()).unwrap_or(1) - 1;
        Ok(Saved {
            action: seq,
            first: EntrySeq(first),
            last: EntrySeq(last),
            again: false,
        })
    }

    pub(super) fn saved_before(&self, draft: &str) -> Result<Option<Saved>, LedgerError> {
        Ok(self
            .tx
            .prepare_cached(
                "SELECT a.seq, min(e.seq), max(e.seq) FROM action a JOIN entry e ON e.action = a.seq
                 WHERE a.draft = ?1 GROUP BY a.seq",
            )?
            .query_row([draft], |r| {
                Ok(Saved { action: r.get(0)?, first: EntrySeq(r.get(1)?), last: EntrySeq(r.get(2)?), again: true })
            })
            .optional()?)
    }

    fn head(&self) -> Result<(i64, Hash), LedgerError> {
        Ok(self
            .tx
            .prepare_cached("SELECT seq, hash FROM action ORDER BY seq DESC LIMIT 1")?
            .query_row([], |r| Ok((r.get(0)?, r.get(1)?)))
            .optional()?
            .unwrap_or((0, [0; 32])))
    }
}

fn check(action: &NewAction, latest: Moment) -> Result<(), LedgerError> {
    let input = LedgerError::Input;
    initials("person", &action.who.person).map_err(input)?;
    initials("writer", &action.who.writer).map_err(input)?;
    clean("station", &action.who.station, 40).map_err(input)?;
    let times = action
        .lines
        .iter()
        .filter_map(|l| l.times)
        .chain([(action.began, action.ended)]);
    for (began, ended) in times {
        if ended < began {
            return Err(LedgerError::Input(
                "the end lies before the start; write when it began and when it ended".to_owned(),
            ));
        }
        if ended > latest {
            return Err(LedgerError::Input(format!(
                "the deed would end {} in the future; write when it really ended, or log it after it is done",
                ended.since(latest).words()
            )));
        }
    }
    if action.lines.is_empty() {
        return Err(LedgerError::Input("there is nothing to save".to_owned()));
    }
    Ok(())
}

/// The columns of an action as they are stored and hashed.
#[derive(Debug, Clone)]
pub(super) struct ActionColumns {
    pub(super) seq: i64,
    pub(super) draft: String,
    pub(super) deed: String,
    pub(super) person: String,
    pub(super) writer: String,
    pub(super) station: String,
    pub(super) began: i64,
    pub(super) ended: i64,
    pub(super) written: i64,
    pub(super) zone: String,
    pub(super) offset_min: i64,
    pub(super) day: i64,
    pub(super) clock: String,
    pub(super) boot_ms: Option<i64>,
    pub(super) body: String,
}

/// The columns of an entry as they are stored and hashed.
#[derive(Debug, Clone)]
pub(super) struct EntryColumns {
    pub(super) seq: i64,
    pub(super) action: i64,
    pub(super) piece: Option<i64>,
    pub(super) surface: String,
    pub(super) branch: i64,
    pub(super) began: i64,
    pub(super) ended: i64,
    pub(super) day: i64,
    pub(super) kind: String,
    pub(super) corrects: Option<i64>,
    pub(super) body: String,
}

impl ActionColumns {
    pub(super) fn canonical(&self) -> Canonical {
        let mut c = Canonical::of_body(&self.body);
        c.int(self.seq)
            .text(&self.draft)
            .text(&self.deed)
            .text(&self.person)
            .text(&self.writer)
            .text(&self.station)
            .int(self.began)
            .int(self.ended)
            .int(self.written)
            .text(&self.zone)
            .int(self.offset_min)
            .int(self.day)
            .text(&self.clock)
            .maybe_int(self.boot_ms)
            .text(&self.body);
        c
    }
}

impl EntryColumns {
    pub(super) fn canonical(&self) -> Canonical {
        let mut c = Canonical::of_body(&self.body);
        c.int(self.seq)
            .int(self.action)
            .maybe_int(self.piece)
            .text(&self.surface)
            .int(self.branch)
            .int(self.began)
            .int(self.ended)
            .int(self.day)
            .text(&self.kind)
            .maybe_int(self.corrects)
            .text(&self.body);
        c
    }
}

/// Writes an action and its entries as they stand, with the hashes that follow.
pub(super) fn insert(
    tx: &Transaction<'_>,
    row: &ActionColumns,
    entries: &[EntryColumns],
    prev: &Hash,
) -> Result<(), LedgerError> {
    let canonical: Vec<Canonical> = entries.iter().map(EntryColumns::canonical).collect();
    let hash = action_hash(
        prev,
        row.canonical().bytes(),
        canonical.iter().map(Canonical::bytes),
    );
    tx.prepare_cached(
        "INSERT INTO action (seq, draft, deed, person, writer, station, began, ended, written, zone, offset_min,
                             day, clock, boot_ms, body, prev, hash)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)",
    )?
    .execute(params![
        row.seq,
        row.draft,
        row.deed,
        row.person,
        row.writer,
        row.station,
        row.began,
        row.ended,
        row.written,
        row.zone,
        row.offset_min,
        row.day,
        row.clock,
        row.boot_ms,
        row.body,
        prev.as_slice(),
        hash.as_slice()
    ])?;
    let mut statement = tx.prepare_cached(
        "INSERT INTO entry (seq, action, piece, surface, branch, began, ended, day, kind, corrects, body, digest)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
    )?;
    for (e, c) in entries.iter().zip(&canonical) {
        statement.execute(params![
            e.seq,
            e.action,
            e.piece,
            e.surface,
            e.branch,
            e.began,
            e.ended,
            e.day,
            e.kind,
            e.corrects,
            e.body,
            entry_digest(c.bytes()).as_slice()
        ])?;
    }
    Ok(())
}
