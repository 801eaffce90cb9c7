//! A backup while others write: the engine's own backup interface, verified after it is written.

use super::error::LedgerError;
use super::open::Ledger;
use rusqlite::backup::Backup;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use std::time::Duration;

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
    /// Writes a backup to `target`, which must not exist. It is written under another name, checked and synced, and
    /// gets its name last: a half one is never named as a backup.
    pub fn backup(&self, target: &Path) -> Result<BackupReport, LedgerError> {
        let target =
            std::path::absolute(target).map_err(|e| LedgerError::File(target.to_path_buf(), e))?;
        if target.exists() {
            return Err(LedgerError::Input(format!(
                "{} exists already and is not overwritten; give another name",
                target.display()
            )));
        }
        let mut part = target.as_os_str().to_owned();
        part.push(".part");
        let part = PathBuf::from(part);
        let fault = |e| LedgerError::File(part.clone(), e);
        let mut options = std::fs::OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
        options.open(&part).map_err(fault)?;
        {
            let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
            let mut copy = Connection::open_with_flags(&part, flags)?;
            Backup::new(&self.conn, &mut copy)?.run_to_completion(
                1_000,
                Duration::from_millis(5),
                None,
            )?;
            // PINs stay with this ledger: six digits are soon found out by who holds a copy of the file.
            copy.pragma_update(None, "secure_delete", true)?;
            copy.execute_batch("DELETE FROM pin; DELETE FROM pin_try; DELETE FROM pin_wait")?;
            // A backup is read from any place, a read-only one too: it carries no write-ahead file.
            let _: String =
                copy.pragma_update_and_check(None, "journal_mode", "delete", |r| r.get(0))?;
        }
        let report = {
            let copy = Self::open_copy(&part)?;
            let verified = copy.check_chain()?;
            if let Some(first) = verified {
                return Err(LedgerError::Damaged(format!(
                    "the backup differs at {first}"
                )));
            }
            let (actions, head) = copy.head()?;
            BackupReport {
                path: target.clone(),
                actions,
                head,
            }
        };
        std::fs::File::open(&part)
            .and_then(|f| f.sync_all())
            .map_err(fault)?;
        std::fs::rename(&part, &target).map_err(|e| LedgerError::File(target.clone(), e))?;
        if let Some(folder) = target.parent() {
            std::fs::File::open(folder)
                .and_then(|f| f.sync_all())
                .map_err(|e| LedgerError::File(folder.into(), e))?;
        }
        Ok(report)
    }
}
