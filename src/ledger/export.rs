//! The whole record as open files, for an inspector or another program: JSON Lines to the letter, and CSV for
//! spreadsheets.
//!
//! *Invariants*: one state of the ledger, whose chain was walked before a line is written; the folder gets its name
//! when all of it is on the disk. JSON Lines hold every column of the record as it is hashed, so that anybody can
//! compute the head anew (`chain.rs` says how). In the CSV no text starts as a formula. What is not the record is not
//! in it: no read model, and nothing by which people are recognised.

use super::append::{ActionColumns, EntryColumns};
use super::backup::sync_folder;
use super::chain::{Hash, hex};
use super::error::LedgerError;
use super::open::{Ledger, MIGRATIONS};
use super::verify::{action_columns, entry_columns};
use super::witness;
use crate::shop::text::cell;
use rusqlite::Connection;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Version of the files' form.
pub(super) const FORMAT: &str = "hangtime export 1";
pub(super) const MANIFEST: &str = "manifest.json";
/// The record's tables.
pub(super) const TABLES: [&str; 3] = ["actions", "entries", "readings"];

/// An action with its hashes, as one line.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ActionLine {
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
    pub(super) prev: String,
    pub(super) hash: String,
}

/// An entry with its digest, as one line.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct EntryLine {
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
    pub(super) digest: String,
}

/// A climate reading, as one line.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadingLine {
    pub(super) room: String,
    pub(super) at: i64,
    pub(super) temperature_mc: i64,
    pub(super) humidity_cpct: Option<i64>,
    pub(super) entry: i64,
}

/// What the folder holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    /// Form of the files.
    pub format: String,
    /// The shop.
    pub shop: String,
    /// Its named zone.
    pub zone: String,
    /// The hour at which its production day starts.
    pub day_start: u32,
    /// Whether it is a demo.
    pub demo: bool,
    /// Schema of the ledger that wrote it.
    pub schema: usize,
    /// When it was made, RFC 3339.
    pub made: String,
    /// Number of the newest action.
    pub head_action: i64,
    /// Hash of the newest action.
    pub head: String,
    /// Lines of each table.
    pub actions: i64,
    /// Lines of each table.
    pub entries: i64,
    /// Lines of each table.
    pub readings: i64,
    /// The files, each with its length and SHA-256.
    pub files: Vec<ManifestFile>,
    /// What the files are and what they cannot show.
    pub note: String,
    /// What of this record did not hold against the witness of the ledger that wrote it; absent where all of it did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub against_witness: Option<String>,
}

/// One file of an export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ManifestFile {
    /// Its name.
    pub name: String,
    /// Its length in bytes.
    pub bytes: u64,
    /// SHA-256 of its bytes.
    pub sha256: String,
}

const NOTE: &str = "JSON Lines are exact: every column as it is hashed. In the CSV a text that a spreadsheet would take for a formula starts with an apostrophe, and an empty cell is an absent value or an empty text. Times are milliseconds since 1970-01-01 UTC, days are days since then, amounts are integers in the unit that the name ends in. The chain shows changes by hand and by disk; that somebody rewrote the whole record with its chain, only a head kept elsewhere shows.";

impl ActionLine {
    fn new(a: ActionColumns, prev: &Hash, hash: &Hash) -> Self {
        Self {
            seq: a.seq,
            draft: a.draft,
            deed: a.deed,
            person: a.person,
            writer: a.writer,
            station: a.station,
            began: a.began,
            ended: a.ended,
            written: a.written,
            zone: a.zone,
            offset_min: a.offset_min,
            day: a.day,
            clock: a.clock,
            boot_ms: a.boot_ms,
            body: a.body,
            prev: hex(prev),
            hash: hex(hash),
        }
    }

    fn for_sheet(mut self) -> Self {
        for text in [
            &mut self.draft,
            &mut self.deed,
            &mut self.person,
            &mut self.writer,
            &mut self.station,
            &mut self.zone,
            &mut self.clock,
            &mut self.body,
        ] {
            *text = cell(text);
        }
        self
    }
}

impl EntryLine {
    fn new(e: EntryColumns, digest: &[u8; 8]) -> Self {
        Self {
            seq: e.seq,
            action: e.action,
            piece: e.piece,
            surface: e.surface,
            branch: e.branch,
            began: e.began,
            ended: e.ended,
            day: e.day,
            kind: e.kind,
            corrects: e.corrects,
            body: e.body,
            digest: hex(digest),
        }
    }

    fn for_sheet(mut self) -> Self {
        for text in [&mut self.surface, &mut self.kind, &mut self.body] {
            *text = cell(text);
        }
        self
    }
}

// Counts and hashes what goes into a file.
struct Out {
    name: String,
    file: BufWriter<File>,
    sha: Sha256,
    bytes: u64,
}

impl Write for Out {
    fn write(&mut self, buf: &[u8]) -> std::io::Result<usize> {
        let n = self.file.write(buf)?;
        let done = buf.get(..n).unwrap_or(buf);
        self.sha.update(done);
        self.bytes += u64::try_from(n).unwrap_or(0);
        Ok(n)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
    }
}

impl Out {
    fn new(folder: &Path, name: &str) -> std::io::Result<Self> {
        Ok(Self {
            name: name.to_owned(),
            file: BufWriter::new(create(&folder.join(name))?),
            sha: Sha256::new(),
            bytes: 0,
        })
    }

    fn end(mut self) -> std::io::Result<ManifestFile> {
        self.file.flush()?;
        self.file.get_ref().sync_all()?;
        Ok(ManifestFile {
            name: self.name,
            bytes: self.bytes,
            sha256: hex(&<Hash>::from(self.sha.finalize())),
        })
    }
}

fn create(path: &Path) -> std::io::Result<File> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    options.open(path)
}

// One table in both forms.
struct Table {
    lines: Out,
    sheet: csv::Writer<Out>,
    count: i64,
}

impl Table {
    fn new(folder: &Path, name: &str) -> std::io::Result<Self> {
        Ok(Self {
            lines: Out::new(folder, &format!("{name}.jsonl"))?,
            sheet: csv::WriterBuilder::new()
                .terminator(csv::Terminator::CRLF)
                .from_writer(Out::new(folder, &format!("{name}.csv"))?),
            count: 0,
        })
    }

    fn put<T: Serialize>(
        &mut self,
        line: T,
        for_sheet: impl FnOnce(T) -> T,
    ) -> std::io::Result<()> {
        serde_json::to_writer(&mut self.lines, &line)?;
        self.lines.write_all(b"\n")?;
        self.sheet
            .serialize(for_sheet(line))
            .map_err(std::io::Error::other)?;
        self.count += 1;
        Ok(())
    }

    fn end(self, files: &mut Vec<ManifestFile>) -> std::io::Result<i64> {
        files.push(self.lines.end()?);
        let sheet = self
            .sheet
            .into_inner()
            .map_err(|e| std::io::Error::other(e.to_string()))?;
        files.push(sheet.end()?);
        Ok(self.count)
    }
}

// A folder on the way; it goes away with a fault, and nothing in it but what was written here.
struct Part(PathBuf);

impl Part {
    fn new(path: PathBuf) -> Result<Self, LedgerError> {
        // What an export that was cut short has left.
        drop(Self(path.clone()));
        std::fs::create_dir(&path).map_err(|e| LedgerError::File(path.clone(), e))?;
        Ok(Self(path))
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        for table in TABLES {
            for end in ["jsonl", "csv"] {
                let _ = std::fs::remove_file(self.0.join(format!("{table}.{end}")));
            }
        }
        let _ = std::fs::remove_file(self.0.join(MANIFEST));
        let _ = std::fs::remove_dir(&self.0);
    }
}

impl Ledger {
    /// Writes the whole record into a new folder; `made` is the moment as RFC 3339.
    pub fn export(&self, folder: &Path, made: &str) -> Result<Manifest, LedgerError> {
        let folder =
            std::path::absolute(folder).map_err(|e| LedgerError::File(folder.to_path_buf(), e))?;
        if folder.exists() {
            return Err(LedgerError::Input(format!(
                "{} exists already and is not overwritten; give another folder",
                folder.display()
            )));
        }
        // The witness is read first: the record only grows, so what was seen must be in what is read afterwards.
        let seen = witness::read(self.path())?;
        // One state of the ledger, however long the writing takes: a reading transaction of its own.
        let conn = self.second_reader()?;
        conn.execute_batch("BEGIN")?;
        let source = Self::from_copy(conn, self.path())?;
        if let Some(first) = source.check_chain()? {
            return Err(LedgerError::Damaged(first));
        }
        let against_witness = seen
            .and_then(|seen| witness::hold(&source.conn, self.path(), &seen).err())
            .map(|e| witness::differs(&e, self.board().is_some()));
        let part = Part::new(super::backup::beside(&folder, ".part"))?;
        let fault = |e| LedgerError::File(part.0.clone(), e);
        let mut files = Vec::new();
        let [actions, entries, readings] = write(&source.conn, &part.0, &mut files)?;
        let (head_action, head) = source.head()?;
        let calendar = source.calendar();
        let manifest = Manifest {
            format: FORMAT.to_owned(),
            shop: source.name().to_owned(),
            zone: calendar.zone.name().to_owned(),
            day_start: calendar.day_start,
            demo: source.demo(),
            schema: MIGRATIONS.len(),
            made: made.to_owned(),
            head_action,
            head,
            actions,
            entries,
            readings,
            files,
            note: NOTE.to_owned(),
            against_witness,
        };
        let text = serde_json::to_string_pretty(&manifest)
            .map_err(|e| LedgerError::Damaged(format!("the manifest cannot be written: {e}")))?;
        let mut out = create(&part.0.join(MANIFEST)).map_err(fault)?;
        out.write_all(text.as_bytes())
            .and_then(|()| out.write_all(b"\n"))
            .and_then(|()| out.sync_all())
            .map_err(fault)?;
        sync_folder(&part.0.join(MANIFEST))?;
        std::fs::rename(&part.0, &folder).map_err(|e| LedgerError::File(folder.clone(), e))?;
        sync_folder(&folder)?;
        Ok(manifest)
    }
}

fn write(
    conn: &Connection,
    folder: &Path,
    files: &mut Vec<ManifestFile>,
) -> Result<[i64; 3], LedgerError> {
    let fault = |e| LedgerError::File(folder.to_path_buf(), e);
    let table = |name| Table::new(folder, name).map_err(fault);
    let [actions, entries, readings] = TABLES;
    let (mut actions, mut entries, mut readings) =
        (table(actions)?, table(entries)?, table(readings)?);
    let mut list = conn.prepare(
        "SELECT seq, draft, deed, person, writer, station, began, ended, written, zone, offset_min, day, clock,
                boot_ms, body, prev, hash FROM action ORDER BY seq",
    )?;
    let mut rows = list.query([])?;
    while let Some(r) = rows.next()? {
        let action = action_columns(r)?;
        for (entry, digest) in entry_columns(conn, action.seq)? {
            entries
                .put(EntryLine::new(entry, &digest), EntryLine::for_sheet)
                .map_err(fault)?;
        }
        let line = ActionLine::new(action, &r.get(15)?, &r.get(16)?);
        actions.put(line, ActionLine::for_sheet).map_err(fault)?;
    }
    let mut list = conn.prepare(
        "SELECT room, at, temperature_mc, humidity_cpct, entry FROM reading ORDER BY entry, at",
    )?;
    let mut rows = list.query([])?;
    while let Some(r) = rows.next()? {
        let line = ReadingLine {
            room: r.get(0)?,
            at: r.get(1)?,
            temperature_mc: r.get(2)?,
            humidity_cpct: r.get(3)?,
            entry: r.get(4)?,
        };
        readings
            .put(line, |l| ReadingLine {
                room: cell(&l.room),
                ..l
            })
            .map_err(fault)?;
    }
    Ok([
        actions.end(files).map_err(fault)?,
        entries.end(files).map_err(fault)?,
        readings.end(files).map_err(fault)?,
    ])
}
