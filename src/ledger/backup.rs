//! A backup while others write: the engine's own backup interface, verified after it is written.
//!
//! *Invariants*: a copy is written under another name (`.part`), checked, synced, and gets its name last, so that
//! what bears a backup's name is whole. It is one state of the ledger, and carries no write-ahead file. Nothing waits
//! for it: readers and the one writer go on.

use super::error::LedgerError;
use super::open::Ledger;
use crate::units::Moment;
use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

// What lies beside the record and leaves the machine with no copy of it.
const PIN_TABLES: [&str; 3] = ["pin", "pin_try", "pin_wait"];

/// What a backup holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackupReport {
    /// The file.
    pub path: PathBuf,
    /// Number of its newest action.
    pub actions: i64,
    /// Hash of its newest action.
    pub head: String,
}

impl Ledger {
    /// Writes a backup to `target`, which must not exist.
    pub fn backup(&self, target: &Path) -> Result<BackupReport, LedgerError> {
        let target =
            std::path::absolute(target).map_err(|e| LedgerError::File(target.to_path_buf(), e))?;
        if target.exists() {
            return Err(LedgerError::Input(format!(
                "{} exists already and is not overwritten; give another name",
                target.display()
            )));
        }
        write_copy(&self.conn, &target)
    }
}

/// The path with more at the end of its name.
pub(super) fn beside(path: &Path, more: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(more);
    PathBuf::from(name)
}

/// A moment as part of a file's name, in UTC: `20260324T060000Z`.
pub(super) fn compact(at: Moment) -> String {
    chrono::DateTime::from_timestamp_millis(at.0).map_or_else(
        || at.0.to_string(),
        |t| t.format("%Y%m%dT%H%M%SZ").to_string(),
    )
}

/// Makes a name in a folder last: without this a power cut can take back a rename.
pub(super) fn sync_folder(file: &Path) -> Result<(), LedgerError> {
    match file.parent() {
        Some(folder) => std::fs::File::open(folder)
            .and_then(|f| f.sync_all())
            .map_err(|e| LedgerError::File(folder.into(), e)),
        None => Ok(()),
    }
}

/// A file of our own under another name, which goes away with a fault.
struct Part(PathBuf);

impl Drop for Part {
    fn drop(&mut self) {
        // It has got its name by now, or nobody needs it; a leftover is overwritten the next time.
        for more in ["", "-journal"] {
            let _ = std::fs::remove_file(beside(&self.0, more));
        }
    }
}

/// Writes what `source` sees to `target`, checked and synced.
pub(super) fn write_copy(source: &Connection, target: &Path) -> Result<BackupReport, LedgerError> {
    let part = Part(beside(target, ".part"));
    let fault = |e| LedgerError::File(part.0.clone(), e);
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    options.open(&part.0).map_err(fault)?;
    let full = |e: LedgerError| match e {
        LedgerError::Engine(e) if e.sqlite_error_code() == Some(rusqlite::ErrorCode::DiskFull) => {
            LedgerError::Place(format!(
                "no backup was written: there is no room left for {}. Free some space; older backups are as they were",
                target.display()
            ))
        }
        other => other,
    };
    copy(source, &part.0).map_err(full)?;
    let report = {
        let copy = Ledger::open_copy(&part.0)?;
        if let Some(first) = difference(&copy)? {
            return Err(LedgerError::Damaged(format!(
                "the backup differs at {first}"
            )));
        }
        let (actions, head) = copy.head()?;
        BackupReport {
            path: target.to_path_buf(),
            actions,
            head,
        }
    };
    std::fs::File::open(&part.0)
        .and_then(|f| f.sync_all())
        .map_err(fault)?;
    std::fs::rename(&part.0, target).map_err(|e| LedgerError::File(target.to_path_buf(), e))?;
    sync_folder(target)?;
    Ok(report)
}

fn copy(source: &Connection, part: &Path) -> Result<(), LedgerError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut copy = Connection::open_with_flags(part, flags)?;
    // It is not named as a backup before it is whole and synced, so that a journal would guard nothing.
    copy.pragma_update(None, "synchronous", 0)?;
    {
        // All pages in one step: one state of the ledger, which a writer beside us cannot make us begin anew.
        let backup = Backup::new(source, &mut copy)?;
        loop {
            match backup.step(-1)? {
                StepResult::Done => break,
                StepResult::Busy | StepResult::Locked => {
                    std::thread::sleep(Duration::from_millis(5));
                }
                _ => {}
            }
        }
    }
    // PINs stay with this ledger: six digits are soon found out by who holds a copy of the file.
    copy.pragma_update(None, "secure_delete", true)?;
    for table in PIN_TABLES {
        if copy.table_exists(None, table)? {
            copy.execute(&format!("DELETE FROM {table}"), [])?;
        }
    }
    // A backup is read from any place, a read-only one too: it carries no write-ahead file.
    let _: String = copy.pragma_update_and_check(None, "journal_mode", "delete", |r| r.get(0))?;
    Ok(())
}

/// The first difference in a copy, in words: the chain over the record, then the engine's own check.
pub(super) fn difference(copy: &Ledger) -> Result<Option<String>, LedgerError> {
    if let Some(first) = copy.check_chain()? {
        return Ok(Some(first));
    }
    let said: String = copy
        .conn
        .query_row("PRAGMA quick_check(1)", [], |r| r.get(0))?;
    Ok((said != "ok").then(|| format!("the engine's own check says: {said}")))
}
