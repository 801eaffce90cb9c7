//! Readings of the rooms' air, and the loggers that they come from: adopted like data sheets, their files taken over once.
//!
//! *Invariants*: a reading that is there is never replaced; a file comes in as a whole or not at all, with one entry for the
//! readings that are new and one for the file; the chain holds the digest of the readings and of the file.
//!
//! *Not here*: reading files (`feeds`), what the readings earn (`shop::climate`).

use super::append::{Line, NewAction, Saved, Stamp, Who, Writer};
use super::chain::{hex, sha256_hex};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{EntryRow, SheetRow};
use super::setup::faults;
use super::stored::Shared;
use crate::shop::climate::Sample;
use crate::shop::logger_file::{self, Logger, LoggerFact};
use crate::shop::record::{ShopFact, What};
use crate::shop::text::clean;
use crate::units::{Moment, Span};
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};
use std::collections::HashMap;

/// What came of a climate file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClimateReport {
    /// Readings taken over.
    pub taken: u32,
    /// Readings that the ledger had already.
    pub known: u32,
    /// Those of them that the ledger has otherwise; what it has stays.
    pub other: Vec<Moment>,
    /// The action.
    pub saved: Option<Saved>,
}

/// A logger's file that is taken over.
#[derive(Debug, Clone, Copy)]
pub struct LoggerFile<'a> {
    /// The logger by whose description it was read.
    pub logger: &'a Logger,
    /// The room.
    pub room: &'a str,
    /// Name of the file.
    pub name: &'a str,
    /// Its bytes.
    pub bytes: &'a [u8],
    /// What it says.
    pub samples: &'a [Sample],
    /// Lines that are meant as readings.
    pub lines: u32,
    /// Lines that were left out.
    pub left_out: u32,
    /// Whether it may have been taken over before.
    pub again: bool,
}

// Readings that are to be taken over, sorted, and those that are there.
struct Sorted {
    new: Vec<Sample>,
    known: u32,
    other: Vec<Moment>,
}

fn sorted(w: &Writer<'_>, room: &str, samples: &[Sample]) -> Result<Sorted, LedgerError> {
    let mut all: Vec<Sample> = samples.to_vec();
    // Stable: of two readings of one moment the first one counts.
    all.sort_by_key(|s| s.at);
    let ends = (all.first().map(|s| s.at.0), all.last().map(|s| s.at.0));
    let mut there = w.tx.prepare(
        "SELECT at, temperature_mc, humidity_cpct FROM reading WHERE room = ?1 AND at >= ?2 AND at <= ?3",
    )?;
    let there: HashMap<i64, (i64, Option<i64>)> = there
        .query_map(params![room, ends.0, ends.1], |r| {
            Ok((r.get(0)?, (r.get(1)?, r.get(2)?)))
        })?
        .collect::<Result<_, _>>()?;
    let mut out = Sorted {
        new: Vec::with_capacity(all.len()),
        known: 0,
        other: Vec::new(),
    };
    for s in all {
        let kept = match out.new.last().filter(|n| n.at == s.at) {
            Some(n) => Some((n.temperature.0, n.humidity.map(|h| h.0))),
            None => there.get(&s.at.0).copied(),
        };
        let Some(kept) = kept else {
            out.new.push(s);
            continue;
        };
        out.known += 1;
        if kept != (s.temperature.0, s.humidity.map(|h| h.0)) {
            out.other.push(s.at);
        }
    }
    Ok(out)
}

// So many readings are written by one statement.
const AT_ONCE: usize = 100;

fn put(conn: &Connection, room: &str, entry: i64, readings: &[Sample]) -> Result<(), LedgerError> {
    for some in readings.chunks(AT_ONCE) {
        let rows: Vec<String> = (1..=some.len())
            .map(|n| format!("(?1, ?{}, ?{}, ?{}, ?2)", 3 * n, 3 * n + 1, 3 * n + 2))
            .collect();
        let rows = rows.join(", ");
        let mut insert = conn.prepare_cached(&format!(
            "INSERT INTO reading (room, at, temperature_mc, humidity_cpct, entry) VALUES {rows}"
        ))?;
        insert.raw_bind_parameter(1, room)?;
        insert.raw_bind_parameter(2, entry)?;
        for (n, s) in some.iter().enumerate() {
            insert.raw_bind_parameter(3 + 3 * n, s.at.0)?;
            insert.raw_bind_parameter(4 + 3 * n, s.temperature.0)?;
            insert.raw_bind_parameter(5 + 3 * n, s.humidity.map(|h| h.0))?;
        }
        insert.raw_execute()?;
    }
    Ok(())
}

// Takes over the new ones under one action, whose other lines follow.
fn take(
    w: &Writer<'_>,
    (room, file): (&str, &str),
    found: Sorted,
    more: Vec<Line>,
    (who, stamp): (&Who, &Stamp),
) -> Result<ClimateReport, LedgerError> {
    let (known, other) = (found.known, found.other);
    let new = found.new;
    let mut lines = Vec::with_capacity(2);
    if let (Some(first), Some(last)) = (new.first(), new.last()) {
        if last.at > stamp.written {
            return Err(LedgerError::Input(format!(
                "{file} holds readings {} in the future; look at the logger's clock and zone",
                last.at.since(stamp.written).words()
            )));
        }
        lines.push(Line::shop(What::Shop(ShopFact::Climate {
            room: room.to_owned(),
            file: file.to_owned(),
            hash: samples_digest(room, &new),
            rows: u32::try_from(new.len()).unwrap_or(u32::MAX),
            from: first.at,
            to: last.at,
        })));
    }
    lines.extend(more);
    let taken = u32::try_from(new.len()).unwrap_or(u32::MAX);
    if lines.is_empty() {
        return Ok(ClimateReport {
            taken,
            known,
            other,
            saved: None,
        });
    }
    let entry: i64 =
        w.tx.query_row("SELECT coalesce(max(seq), 0) + 1 FROM entry", [], |r| {
            r.get(0)
        })?;
    let action = NewAction::at_once("climate", who.clone(), stamp.written, lines);
    // The readings stand before the entry is applied, so that the judgements that it moves see them.
    w.tx.pragma_update(None, "defer_foreign_keys", 1)?;
    put(&w.tx, room, entry, &new)?;
    let saved = w.append(&action, &Shared::default(), stamp)?;
    Ok(ClimateReport {
        taken,
        known,
        other,
        saved: Some(saved),
    })
}

fn interval(conn: &Connection, room: &str) -> Result<Span, LedgerError> {
    let found: Option<i64> = conn
        .query_row(
            "SELECT interval_ms FROM room WHERE name = ?1 AND interval_ms IS NOT NULL",
            [room],
            |r| r.get(0),
        )
        .optional()?;
    found.map(Span).ok_or_else(|| {
        LedgerError::Input(format!(
            "room \"{room}\" is not declared as logged; run \"hangtime room declare NAME --every 15m\""
        ))
    })
}

impl Ledger {
    /// The sampling interval of a logged room.
    pub fn room_interval(&self, room: &str) -> Result<Span, LedgerError> {
        interval(&self.conn, room)
    }

    /// Takes over readings of a room. Readings that are there already are counted and left.
    pub fn add_readings(
        &mut self,
        room: &str,
        file: &str,
        samples: &[Sample],
        who: &Who,
        stamp: &Stamp,
    ) -> Result<ClimateReport, LedgerError> {
        let file = clean("file name", file, 120).map_err(LedgerError::Input)?;
        self.write(|w| {
            interval(&w.tx, room)?;
            let found = sorted(w, room, samples)?;
            take(w, (room, &file), found, Vec::new(), (who, stamp))
        })
    }

    /// Adopts a logger's description as a revision that never changes.
    pub fn adopt_logger(
        &mut self,
        file: &str,
        text: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let logger = logger_file::read(file, text).map_err(|f| faults(&f))?;
        let known = self.loggers()?;
        if known
            .iter()
            .any(|r| r.code == logger.code && r.revision == logger.revision)
        {
            return Err(LedgerError::Input(format!(
                "{file}: logger {} is adopted already and never changes; give the new description its own revision",
                logger.label()
            )));
        }
        let fact = ShopFact::Logger(LoggerFact::Adopted {
            code: logger.code,
            revision: logger.revision,
            text: text.to_owned(),
        });
        self.shop_fact("adopt", fact, stamp.written, who, stamp)
    }

    /// Adopted descriptions, in the order of their entries.
    pub fn loggers(&self) -> Result<Vec<SheetRow>, LedgerError> {
        let rows = self.noted("logger", None, Moment(i64::MAX))?;
        let mut rows: Vec<SheetRow> = rows.into_iter().filter_map(described).collect();
        rows.sort_by_key(|r| r.entry);
        Ok(rows)
    }

    /// An adopted description as it was read.
    pub fn logger(&self, row: &SheetRow) -> Result<Logger, LedgerError> {
        logger_file::read(&row.code, &row.text).map_err(|_| {
            LedgerError::Damaged(format!(
                "the adopted logger {} rev {} no longer reads",
                row.code, row.revision
            ))
        })
    }

    /// The newest description of each logger.
    pub fn loggers_now(&self) -> Result<Vec<Logger>, LedgerError> {
        let rows = self.loggers()?;
        let newest = rows.iter().enumerate().filter(|(at, row)| {
            let later = rows.get(at + 1..).unwrap_or_default();
            !later.iter().any(|other| other.code == row.code)
        });
        newest.map(|(_, row)| self.logger(row)).collect()
    }

    /// The entry by which a file of these bytes was taken over.
    pub fn took_file(&self, bytes: &[u8]) -> Result<Option<EntryRow>, LedgerError> {
        let rows = self.noted("logger file", Some(&sha256_hex(bytes)), Moment(i64::MAX))?;
        Ok(rows.into_iter().next())
    }

    /// Takes over a logger's file: what is new in it, and that it was taken over. `None`: it was taken over before.
    pub fn take_file(
        &mut self,
        file: &LoggerFile<'_>,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Option<ClimateReport>, LedgerError> {
        let name = clean("file name", file.name, 120).map_err(LedgerError::Input)?;
        let sha256 = sha256_hex(file.bytes);
        self.write(|w| {
            interval(&w.tx, file.room)?;
            // Asked here and not before: two who watch one folder may come at the same time.
            let before =
                w.tx.prepare("SELECT 1 FROM noted WHERE topic = 'logger file' AND about = ?1")?
                    .exists([&sha256])?;
            if before && !file.again {
                return Ok(None);
            }
            let found = sorted(w, file.room, file.samples)?;
            let fact = LoggerFact::Took {
                code: file.logger.code.clone(),
                revision: file.logger.revision.clone(),
                room: file.room.to_owned(),
                file: name.clone(),
                sha256: sha256.clone(),
                lines: file.lines,
                left_out: file.left_out,
                known: found.known,
                other: u32::try_from(found.other.len()).unwrap_or(u32::MAX),
            };
            let more = vec![Line::shop(What::Shop(ShopFact::Logger(fact)))];
            take(w, (file.room, &name), found, more, (who, stamp)).map(Some)
        })
    }
}

fn described(row: EntryRow) -> Option<SheetRow> {
    match row.what {
        What::Shop(ShopFact::Logger(LoggerFact::Adopted {
            code,
            revision,
            text,
        })) => Some(SheetRow {
            code,
            revision,
            entry: row.seq.0,
            text,
        }),
        _ => None,
    }
}

// Digest of readings in order of time: room, then for each the moment, temperature and humidity.
fn samples_digest(room: &str, samples: &[Sample]) -> String {
    let mut sha = Sha256::new();
    sha.update(room.as_bytes());
    for s in samples {
        sha.update(s.at.0.to_be_bytes());
        sha.update(s.temperature.0.to_be_bytes());
        sha.update(s.humidity.map_or(-1, |h| h.0).to_be_bytes());
    }
    hex(&sha.finalize())
}

/// Number and digest of the readings that an entry brought of its room, which lie between its first and its last moment: a
/// reading that was moved to another room or another time is not among them.
pub(super) fn readings_digest(
    conn: &Connection,
    entry: i64,
    room: &str,
    (from, to): (Moment, Moment),
) -> Result<(u32, String), LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT at, temperature_mc, humidity_cpct FROM reading
         WHERE room = ?1 AND at >= ?2 AND at <= ?3 AND entry = ?4 ORDER BY at",
    )?;
    let mut samples = Vec::new();
    let mut strangers = 0;
    let mut rows = list.query(params![room, from.0, to.0, entry])?;
    while let Some(r) = rows.next()? {
        // The digest would take a humidity below zero for none.
        if r.get::<_, Option<i64>>(2)?.is_some_and(|h| h < 0) {
            strangers += 1;
            continue;
        }
        samples.push(Sample {
            at: Moment(r.get(0)?),
            temperature: crate::units::Temperature(r.get(1)?),
            humidity: r.get::<_, Option<i64>>(2)?.map(crate::units::Humidity),
        });
    }
    Ok((
        u32::try_from(samples.len() + strangers).unwrap_or(u32::MAX),
        samples_digest(room, &samples),
    ))
}
