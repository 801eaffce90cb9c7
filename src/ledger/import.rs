//! An export taken into a new ledger: the same record with the same head, or nothing.
//!
//! *Invariants*: every action's hash, every entry's digest and every climate file's digest is computed anew from the
//! lines and must be the one that the line bears; the first that is not is named by file and line. The ledger gets its name when
//! all of it was taken in, its read models were built and verified.

use super::append::{ActionColumns, EntryColumns, insert};
use super::backup::{beside, sync_folder};
use super::book::Book;
use super::chain::{Canonical, Hash, action_hash, entry_digest, hex, sha256_hex};
use super::error::LedgerError;
use super::export::{ActionLine, EntryLine, FORMAT, MANIFEST, Manifest, ReadingLine, TABLES};
use super::migrate::migrate;
use super::models::{self, Kept};
use super::open::{Ledger, MIGRATIONS, connect, create_private, settings};
use super::stored::{Shared, decode};
use super::verify::{check_readings, row_of};
use crate::shop::calendar::Calendar;
use crate::shop::record::{ShopFact, What};
use rusqlite::{Connection, Transaction, TransactionBehavior, params};
use serde::de::DeserializeOwned;
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};

// The longest line that can hold a row: the engine keeps no text beyond 1 MB, and JSON can make six bytes of one.
const LONGEST: usize = 8_000_000;

/// A file on the way, which goes away with a fault.
struct Part(PathBuf);

impl Drop for Part {
    fn drop(&mut self) {
        for more in ["", "-wal", "-shm", ".turn"] {
            let _ = std::fs::remove_file(beside(&self.0, more));
        }
    }
}

impl Ledger {
    /// Makes the ledger at `path`, which must not exist, from the export in `folder`.
    pub fn import(path: &Path, folder: &Path) -> Result<Manifest, LedgerError> {
        let path = std::path::absolute(path).map_err(|e| LedgerError::File(path.into(), e))?;
        if path.exists() {
            return Err(LedgerError::Input(format!(
                "{} exists already; an export is taken into a new ledger only, give another file with --ledger",
                path.display()
            )));
        }
        let manifest = read_manifest(folder)?;
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent)
                .map_err(|e| LedgerError::File(parent.to_path_buf(), e))?;
        }
        let part = Part(beside(&path, ".importing"));
        drop(Part(part.0.clone()));
        create_private(&part.0)?;
        {
            let mut conn = connect(&part.0, true)?;
            let turn = super::turn::TurnFile::of(&part.0)?;
            migrate(&mut conn, &part.0, &turn, MIGRATIONS)?;
            let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
            tx.pragma_update(None, "defer_foreign_keys", 1)?;
            take_in(&tx, folder, &manifest)?;
            tx.commit()?;
            let mut ledger = Self::from_copy(conn, &part.0)?;
            if let Some(first) = ledger.verify_record(&manifest.head)?.differences.first() {
                return Err(LedgerError::Damaged(first.clone()));
            }
            let (name, calendar, demo) = settings(&ledger.conn)?;
            let said = (
                manifest.shop.as_str(),
                manifest.zone.as_str(),
                manifest.day_start,
                manifest.demo,
            );
            if said
                != (
                    name.as_str(),
                    calendar.zone.name(),
                    calendar.day_start,
                    demo,
                )
            {
                return Err(refuse(
                    MANIFEST,
                    0,
                    "shop, zone, day_start or demo differ from the first action",
                ));
            }
            // The last connection folds the write-ahead file when it closes, and is silent where it could not: then what
            // was taken in lies in a file that does not get the ledger's name.
            std::mem::replace(&mut ledger.conn, Connection::open_in_memory()?)
                .close()
                .map_err(|(_, e)| LedgerError::Engine(e))?;
            if beside(&part.0, "-wal").exists() {
                return Err(LedgerError::Place(format!(
                    "{} could not be written to its end; nothing was taken in. Look at the disk and its free space, then import again",
                    part.0.display()
                )));
            }
        }
        std::fs::File::open(&part.0)
            .and_then(|f| f.sync_all())
            .map_err(|e| LedgerError::File(part.0.clone(), e))?;
        std::fs::rename(&part.0, &path).map_err(|e| LedgerError::File(path.clone(), e))?;
        sync_folder(&path)?;
        Ok(manifest)
    }
}

fn refuse(file: &str, line: usize, why: &str) -> LedgerError {
    let place = if line > 0 {
        format!("{file}:{line}")
    } else {
        file.to_owned()
    };
    LedgerError::Input(format!(
        "{place}: {why}; nothing was taken in. Export again, or give the folder as it was exported"
    ))
}

fn read_manifest(folder: &Path) -> Result<Manifest, LedgerError> {
    let path = folder.join(MANIFEST);
    let text = std::fs::read_to_string(&path).map_err(|e| {
        LedgerError::Input(format!(
            "{} cannot be read: {e}; give a folder that \"hangtime export\" wrote",
            path.display()
        ))
    })?;
    let manifest: Manifest =
        serde_json::from_str(&text).map_err(|e| refuse(MANIFEST, e.line(), &e.to_string()))?;
    if manifest.format != FORMAT {
        return Err(refuse(
            MANIFEST,
            0,
            &format!(
                "the form \"{}\" is not \"{FORMAT}\"",
                crate::shop::text::shown(&manifest.format)
            ),
        ));
    }
    Ok(manifest)
}

// The lines of one file, with one line of looking ahead.
struct Lines<T> {
    name: String,
    file: BufReader<File>,
    number: usize,
    ahead: Option<T>,
}

impl<T: DeserializeOwned> Lines<T> {
    fn new(folder: &Path, table: &str) -> Result<Self, LedgerError> {
        let name = format!("{table}.jsonl");
        let file = File::open(folder.join(&name)).map_err(|e| refuse(&name, 0, &e.to_string()))?;
        let mut lines = Self {
            name,
            file: BufReader::new(file),
            number: 0,
            ahead: None,
        };
        lines.read()?;
        Ok(lines)
    }

    fn read(&mut self) -> Result<(), LedgerError> {
        let mut text = Vec::new();
        self.number += 1;
        let fault = |e: String| refuse(&self.name, self.number, &e);
        let mut one = std::io::Read::take(&mut self.file, u64::try_from(LONGEST).unwrap_or(0));
        let length = one
            .read_until(b'\n', &mut text)
            .map_err(|e| fault(e.to_string()))?;
        if length == LONGEST {
            return Err(fault(format!("the line has more than {LONGEST} bytes")));
        }
        self.ahead = if length == 0 {
            None
        } else {
            Some(serde_json::from_slice(&text).map_err(|e| fault(e.to_string()))?)
        };
        Ok(())
    }

    // The next line with its number, where it belongs here.
    fn next_if(&mut self, belongs: impl Fn(&T) -> bool) -> Result<Option<(usize, T)>, LedgerError> {
        match self.ahead.take() {
            Some(line) if belongs(&line) => {
                let number = self.number;
                self.read()?;
                Ok(Some((number, line)))
            }
            other => {
                self.ahead = other;
                Ok(None)
            }
        }
    }

    fn end(&self, counted: i64) -> Result<(), LedgerError> {
        if self.ahead.is_some() {
            return Err(refuse(
                &self.name,
                self.number,
                "the line belongs to nothing before it",
            ));
        }
        let found = i64::try_from(self.number).unwrap_or(0) - 1;
        if found != counted {
            return Err(refuse(
                &self.name,
                self.number,
                &format!("the file ends after {found} lines, the manifest counts {counted}"),
            ));
        }
        Ok(())
    }
}

fn take_in(tx: &Transaction<'_>, folder: &Path, manifest: &Manifest) -> Result<(), LedgerError> {
    let [a, e, r] = TABLES;
    let mut actions: Lines<ActionLine> = Lines::new(folder, a)?;
    let mut entries: Lines<EntryLine> = Lines::new(folder, e)?;
    let mut readings: Lines<ReadingLine> = Lines::new(folder, r)?;
    let mut prev: Hash = [0; 32];
    let (mut next_action, mut next_entry) = (1, 1);
    let book = Book::default();
    let kept = Kept::in_memory();
    let mut calendar = None;
    while let Some((number, line)) = actions.next_if(|_| true)? {
        let here = |why: &str| refuse(&actions.name, number, why);
        if line.seq != next_action {
            return Err(here(&format!("action {next_action} is missing")));
        }
        next_action += 1;
        let (mut columns, mut facts) = (Vec::new(), Vec::new());
        let mut climate = Vec::new();
        while let Some((at, entry)) = entries.next_if(|e| e.action == line.seq)? {
            let there = |why: &str| refuse(&entries.name, at, why);
            if entry.seq != next_entry {
                return Err(there(&format!("entry {next_entry} is missing")));
            }
            next_entry += 1;
            let digest = entry.digest.clone();
            let entry = entry_of(entry);
            if hex(&entry_digest(entry.canonical().bytes())) != digest {
                return Err(there(&format!("entry {} was changed", entry.seq)));
            }
            let fact = decode(&entry.kind, &entry.body).map_err(|e| there(&e.to_string()))?;
            facts.push(fact);
            let mut rows = Vec::new();
            let first = readings.number;
            while let Some((_, reading)) = readings.next_if(|r| r.entry == entry.seq)? {
                rows.push(reading);
            }
            if !rows.is_empty() || entry.kind == "climate/1" {
                climate.push((columns.len(), first, rows));
            }
            columns.push(entry);
        }
        let (said_prev, said_hash) = (line.prev.clone(), line.hash.clone());
        let action = action_of(line);
        let canonical: Vec<Canonical> = columns.iter().map(EntryColumns::canonical).collect();
        if said_prev != hex(&prev) {
            return Err(here(&format!(
                "action {} does not follow the one before it",
                action.seq
            )));
        }
        let hash = action_hash(
            &prev,
            action.canonical().bytes(),
            canonical.iter().map(Canonical::bytes),
        );
        if said_hash != hex(&hash) {
            // An action that lost its last entry is told by the number that is left out after it.
            let ahead = entries.ahead.as_ref();
            if ahead.map_or(next_entry <= manifest.entries, |e| e.seq != next_entry) {
                let why = format!("entry {next_entry} is missing");
                return Err(refuse(&entries.name, entries.number, &why));
            }
            return Err(here(&format!("action {} was changed", action.seq)));
        }
        insert(tx, &action, &columns, &prev)?;
        prev = hash;
        for (place, first, rows) in climate {
            put_readings(tx, &readings.name, first, &rows)?;
            let Some(entry) = columns.get(place) else {
                continue;
            };
            if let Err(why) = check_readings(tx, (entry.seq, &entry.kind, &entry.body))? {
                let last = first + rows.len().saturating_sub(1);
                return Err(refuse(
                    &readings.name,
                    first,
                    &format!("{why} (lines {first} to {last})"),
                ));
            }
        }
        // What follows from an action is made as it was when it was saved: from what lies before it and from itself.
        let calendar = match calendar {
            Some(calendar) => calendar,
            None => *calendar.insert(opened(facts.first())?),
        };
        let shared = Shared::read(&action.body)?;
        let rows: Vec<models::Row> = columns
            .iter()
            .zip(facts)
            .map(|(entry, fact)| row_of(&action, entry, fact))
            .collect();
        let person = &action.person;
        let to = (&**tx, &kept);
        models::apply(to, &book, &calendar, action.seq, person, &shared, &rows)?;
    }
    kept.flush(tx)?;
    if calendar.is_none() {
        opened(None)?;
    }
    actions.end(manifest.actions)?;
    entries.end(manifest.entries)?;
    readings.end(manifest.readings)?;
    if hex(&prev) != manifest.head.to_lowercase() {
        return Err(refuse(
            MANIFEST,
            0,
            &format!(
                "the head is not {}, which follows from the lines",
                hex(&prev)
            ),
        ));
    }
    // The lines hold; bytes that differ from the exported ones all the same are somebody's hand.
    for table in TABLES {
        let name = format!("{table}.jsonl");
        let bytes =
            std::fs::read(folder.join(&name)).map_err(|e| refuse(&name, 0, &e.to_string()))?;
        let hash = sha256_hex(&bytes);
        let listed = manifest.files.iter().find(|f| f.name == name);
        if listed.is_none_or(|f| f.sha256.to_lowercase() != hash) {
            return Err(refuse(
                &name,
                0,
                "its SHA-256 is not the one in the manifest",
            ));
        }
    }
    Ok(())
}

fn put_readings(
    tx: &Transaction<'_>,
    file: &str,
    first: usize,
    rows: &[ReadingLine],
) -> Result<(), LedgerError> {
    let mut put = tx.prepare_cached(
        "INSERT INTO reading (room, at, temperature_mc, humidity_cpct, entry) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?;
    for (offset, r) in rows.iter().enumerate() {
        put.execute(params![
            r.room,
            r.at,
            r.temperature_mc,
            r.humidity_cpct,
            r.entry
        ])
        .map_err(|e| refuse(file, first + offset, &e.to_string()))?;
    }
    Ok(())
}

// The calendar stands in the first entry.
fn opened(first: Option<&What>) -> Result<Calendar, LedgerError> {
    let fault = |why: &str| refuse("entries.jsonl", 1, why);
    let Some(What::Shop(ShopFact::Opened {
        zone, day_start, ..
    })) = first
    else {
        return Err(fault("the first entry does not open a ledger"));
    };
    let calendar = Calendar {
        zone: zone
            .parse()
            .map_err(|_| fault(&format!("the zone \"{zone}\" is not known")))?,
        day_start: *day_start,
    };
    Ok(calendar)
}

fn action_of(l: ActionLine) -> ActionColumns {
    ActionColumns {
        seq: l.seq,
        draft: l.draft,
        deed: l.deed,
        person: l.person,
        writer: l.writer,
        station: l.station,
        began: l.began,
        ended: l.ended,
        written: l.written,
        zone: l.zone,
        offset_min: l.offset_min,
        day: l.day,
        clock: l.clock,
        boot_ms: l.boot_ms,
        body: l.body,
    }
}

fn entry_of(l: EntryLine) -> EntryColumns {
    EntryColumns {
        seq: l.seq,
        action: l.action,
        piece: l.piece,
        surface: l.surface,
        branch: l.branch,
        began: l.began,
        ended: l.ended,
        day: l.day,
        kind: l.kind,
        corrects: l.corrects,
        body: l.body,
    }
}
