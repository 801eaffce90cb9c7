//! Putting a backup in the ledger's place.
//!
//! *Invariants*: nothing is overwritten: what lay there is moved aside, with its write-ahead file, and named. A backup
//! is checked before anything is moved, its copy is checked before it gets the ledger's name, and the ledger is
//! verified once it has it. While another terminal has the ledger open nothing is moved.

use super::backup::{BackupReport, beside, compact, difference, sync_folder, write_copy};
use super::error::LedgerError;
use super::open::{APPLICATION_ID, Ledger, MIGRATIONS, reader};
use super::verify::VerifyReport;
use crate::units::Moment;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What belongs to a ledger and is moved with it: its file, its write-ahead file and its witness.
const PARTS: &[&str] = &["", "-wal", ".witness"];

/// What a recovery did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recovered {
    /// The backup, its newest action and its head.
    pub from: BackupReport,
    /// Newest action and head of the ledger that lay there, where it could be read.
    pub replaced: Option<(i64, String)>,
    /// The files that were moved aside.
    pub aside: Vec<PathBuf>,
    /// What the verification of the recovered ledger found.
    pub verified: VerifyReport,
    /// The recovered ledger's shop.
    pub shop: String,
    /// Whether it is a demo.
    pub demo: bool,
    /// Whose PIN the backup does not carry.
    pub lost_pins: Vec<String>,
}

impl Ledger {
    /// Checks a backup without changing it or its folder's other files.
    pub fn check_backup(file: &Path) -> Result<BackupReport, LedgerError> {
        examined(file).map(|(_, report)| report)
    }

    /// Puts the backup `file` in the place of the ledger at `path`. A backup of another shop than the ledger that lies
    /// there is refused unless `other_shop` says that it is meant.
    pub fn recover(
        path: &Path,
        file: &Path,
        other_shop: bool,
        now: Moment,
    ) -> Result<Recovered, LedgerError> {
        let at =
            |p: &Path| std::path::absolute(p).map_err(|e| LedgerError::File(p.to_path_buf(), e));
        let (path, file) = (at(path)?, at(file)?);
        let (source, from) = examined(&file)?;
        if same_file(&path, &file) {
            return Err(LedgerError::Input(format!(
                "{} is the ledger itself; give a backup",
                file.display()
            )));
        }
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)
                .map_err(|e| LedgerError::File(folder.to_path_buf(), e))?;
        }
        // Held until the new file has its name: whoever would open the old one now waits.
        let alone = alone(&path)?;
        let replaced = match &alone {
            Some(old) => lying_there(old, &path, &source, other_shop)?,
            None => None,
        };
        let ready = beside(&path, ".recovering");
        let copied = write_copy(&source.conn, &ready)?;
        if copied.head != from.head {
            return Err(LedgerError::Damaged(format!(
                "the copy of {} has another head than the backup",
                file.display()
            )));
        }
        drop(source);
        let aside = move_aside(&path, now)?;
        if let Err(e) = std::fs::rename(&ready, &path) {
            for (old, new) in &aside {
                // It is the better half of a fault: the ledger as it was, in its place.
                let _ = std::fs::rename(new, old);
            }
            return Err(LedgerError::File(path, e));
        }
        sync_folder(&path)?;
        drop(alone);
        let ledger = Self::open(&path)?;
        Ok(Recovered {
            verified: ledger.verify(Some(&from.head))?,
            shop: ledger.name().to_owned(),
            demo: ledger.demo(),
            // A record that does not read is said by its verification.
            lost_pins: ledger
                .lost_pins()
                .unwrap_or_default()
                .into_iter()
                .map(|(initials, _)| initials)
                .collect(),
            from,
            replaced,
            aside: aside.into_iter().map(|(_, new)| new).collect(),
        })
    }
}

fn same_file(a: &Path, b: &Path) -> bool {
    match (std::fs::canonicalize(a), std::fs::canonicalize(b)) {
        (Ok(a), Ok(b)) => a == b,
        _ => a == b,
    }
}

fn examined(file: &Path) -> Result<(Ledger, BackupReport), LedgerError> {
    let refuse = |why: &str| {
        LedgerError::Input(format!(
            "{} cannot be put in the ledger's place: {why}; nothing was changed. Give another backup",
            file.display()
        ))
    };
    if !file.is_file() {
        return Err(refuse("there is no such file"));
    }
    let unreadable = |e: rusqlite::Error| match e.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => refuse("it is not a database"),
        _ => refuse(&format!("it cannot be read ({e})")),
    };
    let pragma = |conn: &Connection, name: &str| -> Result<i64, LedgerError> {
        conn.pragma_query_value(None, name, |r| r.get(0))
            .map_err(unreadable)
    };
    let conn = reader(file).map_err(|e| match e {
        LedgerError::Engine(e) => unreadable(e),
        other => other,
    })?;
    if pragma(&conn, "application_id")? != APPLICATION_ID {
        return Err(refuse("it is no hangtime ledger"));
    }
    let (schema, newest) = (
        pragma(&conn, "user_version")?,
        i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX),
    );
    if schema > newest {
        return Err(LedgerError::Newer(file.to_path_buf(), schema, newest));
    }
    let damaged = |e: LedgerError| match e {
        LedgerError::Engine(e) => unreadable(e),
        LedgerError::Damaged(why) => refuse(&format!("it is damaged: {why}")),
        other => other,
    };
    let copy = Ledger::from_copy(conn, file).map_err(damaged)?;
    if let Some(first) = difference(&copy).map_err(damaged)? {
        return Err(refuse(&format!("it is damaged: {first}")));
    }
    let (actions, head) = copy.head().map_err(damaged)?;
    Ok((
        copy,
        BackupReport {
            path: file.to_path_buf(),
            actions,
            head,
        },
    ))
}

// Newest action and head of the ledger that is to be replaced. One that cannot be read any more tells nothing of
// itself, and is moved aside like any other.
fn lying_there(
    old: &Connection,
    path: &Path,
    source: &Ledger,
    other_shop: bool,
) -> Result<Option<(i64, String)>, LedgerError> {
    let row = |sql: &str| -> Option<(i64, String)> {
        old.query_row(sql, [], |r| {
            Ok((r.get(0)?, super::chain::hex(&r.get::<_, [u8; 32]>(1)?)))
        })
        .ok()
    };
    let first = row("SELECT seq, hash FROM action WHERE seq = 1");
    if first.is_some_and(|(_, identity)| source.identity().is_ok_and(|ours| ours != identity))
        && !other_shop
    {
        return Err(LedgerError::Input(format!(
            "{} is a backup of another shop (\"{}\") than the ledger at {}; nothing was changed. Give this shop's backup, or say --other-shop",
            source.path().display(),
            crate::shop::text::shown(source.name()),
            path.display(),
        )));
    }
    Ok(row(
        "SELECT seq, hash FROM action ORDER BY seq DESC LIMIT 1",
    ))
}

// A connection that has the ledger to itself. An open terminal holds a lock on the file, also while it only looks; a
// file that cannot be read any more nobody can have open. Nothing is folded when it closes: what is moved aside stays
// as it lay.
fn alone(path: &Path) -> Result<Option<Connection>, LedgerError> {
    if !path.exists() {
        return Ok(None);
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let Ok(conn) = Connection::open_with_flags(path, flags) else {
        return Ok(None);
    };
    conn.busy_timeout(Duration::ZERO)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
    let asked = conn.execute_batch("PRAGMA locking_mode = exclusive; BEGIN EXCLUSIVE");
    match asked.map_err(|e| e.sqlite_error_code()) {
        Ok(()) => Ok(Some(conn)),
        Err(Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)) => {
            Err(LedgerError::Input(format!(
                "another terminal has {} open; nothing was changed. Close hangtime at every terminal and recover again",
                path.display()
            )))
        }
        Err(_) => Ok(None),
    }
}

// The ledger goes first: without it a write-ahead file that stays behind belongs to nothing, while a ledger without its
// write-ahead file would have lost its newest actions without a word.
fn move_aside(path: &Path, now: Moment) -> Result<Vec<(PathBuf, PathBuf)>, LedgerError> {
    let name = beside(path, &format!(".replaced-{}", compact(now)));
    let taken = |base: &Path| PARTS.iter().any(|c| beside(base, c).exists());
    let mut target = name.clone();
    for number in 2_u32.. {
        if !taken(&target) {
            break;
        }
        target = beside(&name, &format!("-{number}"));
    }
    let mut moved = Vec::new();
    for part in PARTS {
        let (old, new) = (beside(path, part), beside(&target, part));
        let fault = |e| LedgerError::File(old.clone(), e);
        // Only what is not there is left out: what cannot be looked at would be overwritten.
        let meta = match std::fs::metadata(&old) {
            Ok(meta) => meta,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => continue,
            Err(e) => return Err(fault(e)),
        };
        if meta.len() == 0 && !part.is_empty() {
            std::fs::remove_file(&old).map_err(fault)?;
        } else {
            std::fs::rename(&old, &new).map_err(fault)?;
            moved.push((old, new));
        }
    }
    // The index of the write-ahead file holds nothing of its own.
    match std::fs::remove_file(beside(path, "-shm")) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
            Err(LedgerError::File(beside(path, "-shm"), e))?;
        }
        _ => {}
    }
    Ok(moved)
}
