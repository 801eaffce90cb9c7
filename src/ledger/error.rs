//! What can go wrong with a ledger, in words with the way out.

use std::path::PathBuf;

/// A fault of the ledger or of what was asked of it.
#[derive(Debug, thiserror::Error)]
pub enum LedgerError {
    /// What was asked cannot be recorded: impossible or unknown data. Nothing was written.
    #[error("{0}")]
    Input(String),
    /// There is no ledger at this path.
    #[error("there is no ledger at {}; \"hangtime open\" starts one, \"hangtime sample\" loads the sample shop", .0.display())]
    Missing(PathBuf),
    /// The file is something else.
    #[error("{path} is not a hangtime ledger ({why}); nothing was changed. Give the right file with --ledger", path = .0.display(), why = .1)]
    Foreign(PathBuf, String),
    /// The file was written by a newer version.
    #[error("{path} was written by a newer version (schema {held}, this one knows {known}); nothing was changed. Use the newer version", path = .0.display(), held = .1, known = .2)]
    Newer(PathBuf, i64, i64),
    /// The file or its folder breaks an opening rule.
    #[error("{0}")]
    Place(String),
    /// The record does not read as it was written.
    #[error(
        "the ledger is damaged: {0}. Stop writing, run \"hangtime verify\", and restore the newest backup"
    )]
    Damaged(String),
    /// The ledger could not be brought to the newest schema.
    #[error("the ledger could not be brought from schema {from} to {to}: {why}. Nothing is half done, and a backup of it as it was lies at {path}. Try again, or go on with the version that wrote it", path = .backup.display())]
    Upgrade {
        /// Schema of the ledger.
        from: i64,
        /// Newest schema.
        to: i64,
        /// The backup that was written before.
        backup: PathBuf,
        /// What went wrong.
        why: String,
    },
    /// Actions that were saved are no longer there.
    #[error("{path}: actions {from} to {to} were saved and are no longer there; the end of the record was lost. Nothing is written until that is settled: put the newest backup in its place with \"hangtime recover FILE\", or look at what is left with \"hangtime verify\" and go on without them with \"hangtime witness --go-on\"", path = .ledger.display())]
    Lost {
        /// The ledger.
        ledger: PathBuf,
        /// First missing action.
        from: i64,
        /// Last missing action.
        to: i64,
    },
    /// The record is another one than the one that was written here.
    #[error("{path} is not the record that was written here: action {action} is another one than the one that was saved. Nothing is written until that is settled: put the right backup in its place with \"hangtime recover FILE\", or look at it with \"hangtime verify\" and go on with \"hangtime witness --go-on\"", path = .ledger.display())]
    Replaced {
        /// The ledger.
        ledger: PathBuf,
        /// The action that differs.
        action: i64,
    },
    /// The engine said no.
    #[error("{}", explain(.0))]
    Engine(#[from] rusqlite::Error),
    /// A file beside the ledger could not be read or written.
    #[error("{path}: {1}{hint}", path = .0.display(), hint = way_out(.1))]
    File(PathBuf, std::io::Error),
}

impl LedgerError {
    /// Whether the fault lies in what was asked and not in the ledger.
    pub const fn is_input(&self) -> bool {
        matches!(self, Self::Input(_))
    }
}

// What to do about a file that cannot be read or written, where it can be told.
fn way_out(error: &std::io::Error) -> &'static str {
    use std::io::ErrorKind;
    match error.kind() {
        ErrorKind::ReadOnlyFilesystem => {
            "; the disk is read-only: mount it so that it can be written, or keep the file on another one"
        }
        ErrorKind::PermissionDenied => "; give write permission to the file and its folder",
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "; the disk is full: free some space and try again"
        }
        _ => "",
    }
}

fn explain(error: &rusqlite::Error) -> String {
    use rusqlite::ErrorCode;
    let way_out = match error.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => {
            "the disk is full; nothing of this action was saved. Free some space and save again"
        }
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            "another terminal is writing for too long; nothing of this action was saved. Try again"
        }
        Some(ErrorCode::ReadOnly) => {
            "the ledger or its folder is read-only; nothing was saved. Give write permission to the file and its folder"
        }
        Some(ErrorCode::CannotOpen) => {
            "the ledger cannot be opened; look at the permissions of the file and its folder"
        }
        Some(ErrorCode::SystemIoFailure) => {
            "the disk reported a fault; it is not known whether this action was saved. Stop writing, run \"hangtime verify\""
        }
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
            "the ledger is damaged; stop writing, run \"hangtime verify\", and restore the newest backup"
        }
        _ => "the ledger could not do this",
    };
    format!("{way_out} ({error})")
}
