//! A ledger in a place that cannot be written: a board that is only read.
//!
//! *Invariants*: nothing is written there, and no file is made there. Where the index of the write-ahead file lies there
//! too, the engine reads with its locks and sees all. Where it does not, only the main file can be read, without any lock
//! (`immutable`): a write-ahead file that lies beside it is ignored then, so that what may be missing is said with every
//! answer, and a main file that somebody else changes meanwhile is noticed ([`Ledger::aged`]). A place that can be written
//! is never read like this.

use super::backup::beside;
use super::error::LedgerError;
use super::migrate;
use super::open::{APPLICATION_ID, Ledger, MIGRATIONS, may_write, reader, settings};
use super::turn::BUSY;
use super::witness::{self, Look};
use crate::units::Moment;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, OptionalExtension};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// The length of a write-ahead file's own head: what is longer holds something.
const WAL_HEAD: u64 = 32;

/// What is read on a board that is only read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadOnly {
    /// Number and written time of the newest action in view.
    pub newest: Option<(i64, Moment)>,
    /// Whether a write-ahead file with content lies there that is not in view.
    pub unread: bool,
    /// How many actions the witness names that are not in view; `None` where the witness cannot be read.
    pub missing: Option<i64>,
}

impl ReadOnly {
    /// Whether something that was saved is known, or may be, out of view.
    pub fn partial(&self) -> bool {
        self.unread || self.missing.is_some_and(|n| n > 0)
    }
}

/// How a board was opened.
#[derive(Debug)]
pub(super) struct Board {
    why: String,
    /// Whether the main file is read alone, without locks.
    alone: bool,
    seen: Lying,
}

/// What tells that the place, or what lies there, is no longer as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Lying {
    writable: bool,
    main: Option<(u64, Option<SystemTime>)>,
    wal: Option<u64>,
    index: bool,
}

/// A main file that is read without locks.
#[derive(Debug)]
pub struct Unlocked {
    path: PathBuf,
    seen: Lying,
}

impl Unlocked {
    /// An error where somebody else changed the file since it was opened.
    pub fn check(&self) -> Result<(), LedgerError> {
        if Lying::at(&self.path, true) == self.seen {
            return Ok(());
        }
        Err(LedgerError::Place(format!(
            "{} was changed by somebody else while it was read; ask again",
            self.path.display()
        )))
    }
}

impl Lying {
    fn at(path: &Path, alone: bool) -> Self {
        let meta = |p: &Path| std::fs::metadata(p).ok();
        Self {
            writable: check_writable(path).is_ok(),
            // Where the engine reads with its locks, it looks after these itself.
            main: meta(path)
                .filter(|_| alone)
                .map(|m| (m.len(), m.modified().ok())),
            wal: meta(&beside(path, "-wal"))
                .filter(|_| alone)
                .map(|m| m.len()),
            index: alone && beside(path, "-shm").exists(),
        }
    }
}

/// Whether the ledger and its folder can be written; the reason with the way out, if not. The write-ahead file, the turn
/// and the witness lie beside the ledger: without the folder nothing can be saved.
pub(super) fn check_writable(path: &Path) -> Result<(), String> {
    may_write(path).map_err(|e| {
        format!(
            "nothing was saved: the ledger {} cannot be written ({e}). Give read and write permission to the file{}",
            path.display(),
            read_only_disk(&e)
        )
    })?;
    path.parent().map_or(Ok(()), check_folder)
}

/// The same for the folder alone.
pub(super) fn check_folder(folder: &Path) -> Result<(), String> {
    may_write(folder).map_err(|e| {
        format!(
            "nothing was saved: the folder {} cannot be written ({e}), and the ledger keeps its write-ahead file, its turn and its witness there. Give write permission to the folder{}",
            folder.display(),
            read_only_disk(&e)
        )
    })
}

fn read_only_disk(e: &std::io::Error) -> &'static str {
    if e.kind() == std::io::ErrorKind::ReadOnlyFilesystem {
        "; the disk is read-only: mount it so that it can be written"
    } else {
        ""
    }
}

// The main file alone. The name goes in as a URI, so that every byte that could mean something there is written as its
// number.
fn main_file(path: &Path) -> Result<Connection, LedgerError> {
    let mut uri = String::from("file:");
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'/' | b'.' | b'-' | b'_' | b'0'..=b'9' | b'A'..=b'Z' | b'a'..=b'z' => {
                uri.push(char::from(*byte));
            }
            other => uri.push_str(&format!("%{other:02X}")),
        }
    }
    uri.push_str("?immutable=1");
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_NO_MUTEX
        | OpenFlags::SQLITE_OPEN_URI;
    let conn = Connection::open_with_flags(uri, flags)?;
    conn.busy_timeout(BUSY)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    conn.pragma_update(None, "trusted_schema", 0)?;
    conn.pragma_update(None, "cell_size_check", 1)?;
    Ok(conn)
}

// Only where both files lie there: the engine would make one that is missing, under a name that the ledger's owner needs.
fn with_locks(path: &Path) -> Option<Connection> {
    if !beside(path, "-wal").exists() || !beside(path, "-shm").exists() {
        return None;
    }
    let conn = reader(path).ok()?;
    let asked: rusqlite::Result<i64> =
        conn.query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0));
    asked.ok().map(|_| conn)
}

fn connect(path: &Path, alone: bool) -> Result<Connection, LedgerError> {
    if alone { main_file(path) } else { reader(path) }
}

impl Ledger {
    /// Opens the board of the ledger at `path`, an absolute path whose place cannot be written, for the reason `why`.
    pub(super) fn open_board(path: &Path, why: String) -> Result<Self, LedgerError> {
        let (conn, alone) = match with_locks(path) {
            Some(conn) => (conn, false),
            None => (main_file(path)?, true),
        };
        let foreign = |e: rusqlite::Error| match e.sqlite_error_code() {
            Some(rusqlite::ErrorCode::NotADatabase) => {
                LedgerError::Foreign(path.to_path_buf(), "it is not a database".to_owned())
            }
            // The engine cannot open what this user may not read; the reason that is known says more.
            Some(rusqlite::ErrorCode::CannotOpen) => LedgerError::Place(why.clone()),
            _ => LedgerError::Engine(e),
        };
        let id: i64 = conn
            .pragma_query_value(None, "application_id", |r| r.get(0))
            .map_err(foreign)?;
        if id != APPLICATION_ID {
            return Err(LedgerError::Foreign(
                path.to_path_buf(),
                "another program made it, or its beginning lies in the write-ahead file".to_owned(),
            ));
        }
        let held = migrate::version(&conn)?;
        let newest = i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX);
        if held > newest {
            return Err(LedgerError::Newer(path.to_path_buf(), held, newest));
        }
        if held < newest {
            return Err(LedgerError::Place(format!(
                "the ledger is of schema {held} and must be brought to {newest} before it can be read; {why}"
            )));
        }
        let (name, calendar, demo) = settings(&conn)?;
        let board = Board {
            why,
            alone,
            seen: Lying::at(path, alone),
        };
        Ok(Self::on_board(conn, path, board, (name, calendar, demo)))
    }

    /// What is read, where the place of the ledger cannot be written; `None` where it can.
    pub fn read_only(&self) -> Result<Option<ReadOnly>, LedgerError> {
        let Some(board) = self.board() else {
            return Ok(None);
        };
        // The witness is read before the record: the record only grows.
        let look = witness::look(self.path());
        let newest: Option<(i64, Moment)> = self
            .conn
            .query_row(
                "SELECT seq, written FROM action ORDER BY seq DESC LIMIT 1",
                [],
                |r| Ok((r.get(0)?, Moment(r.get(1)?))),
            )
            .optional()?;
        let missing = match look {
            Ok(Look::Seen(seen)) => {
                Some((seen.action - newest.map_or(0, |(action, _)| action)).max(0))
            }
            Ok(Look::Missing | Look::Spoilt) => Some(0),
            Err(_) => None,
        };
        let unread = board.alone
            && std::fs::metadata(beside(self.path(), "-wal")).is_ok_and(|m| m.len() > WAL_HEAD);
        Ok(Some(ReadOnly {
            newest,
            unread,
            missing,
        }))
    }

    /// From here on this opening answers questions only: a deed is refused as bad input, with this reason.
    pub fn for_questions(&mut self, why: &str) {
        self.questions_only = Some(why.to_owned());
    }

    /// Whether this opening takes deeds, if only to say what would be saved.
    ///
    /// # Errors
    /// The reason that [`Self::for_questions`] gave.
    pub fn takes_deeds(&self) -> Result<(), LedgerError> {
        match &self.questions_only {
            Some(why) => Err(LedgerError::Input(why.clone())),
            None => Ok(()),
        }
    }

    /// Whether anything can be saved; the reason with the way out, if not.
    pub fn may_save(&self) -> Result<(), LedgerError> {
        self.takes_deeds()?;
        match self.board() {
            Some(board) => Err(LedgerError::Place(board.why.clone())),
            None => Ok(()),
        }
    }

    /// Whether a board is no longer what it was opened as: its place can be written again, or somebody else changed what
    /// is read without locks.
    pub fn aged(&self) -> bool {
        self.board()
            .is_some_and(|b| Lying::at(self.path(), b.alone) != b.seen)
    }

    /// What tells at the end of a question whether all of it was read from one state; `None` where locks do that.
    pub fn unlocked(&self) -> Option<Unlocked> {
        let seen = self.board().filter(|b| b.alone)?.seen.clone();
        let path = self.path().to_path_buf();
        Some(Unlocked { path, seen })
    }

    /// The same ledger, opened anew under the same start of the machine.
    pub fn again(&self) -> Result<Self, LedgerError> {
        let mut ledger = Self::open(self.path())?;
        ledger.runs_under(self.boot.clone());
        ledger.questions_only.clone_from(&self.questions_only);
        Ok(ledger)
    }

    /// A second connection for reading, in the way in which this one reads.
    pub(super) fn second_reader(&self) -> Result<Connection, LedgerError> {
        connect(self.path(), self.board().is_some_and(|b| b.alone))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::{NewShop, Stamp, Who};

    fn who() -> Who {
        Who {
            person: "MK".to_owned(),
            writer: "MK".to_owned(),
            station: "desk".to_owned(),
        }
    }

    const STAMP: Stamp = Stamp {
        written: Moment(1_772_352_000_000),
        clock: "demo",
        boot_ms: None,
    };

    // A ledger under a name that means something in a URI.
    fn ledger() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("50% a?mode=rwc#é.ledger");
        let shop = NewShop {
            name: "shop".to_owned(),
            zone: "Europe/Berlin".to_owned(),
            day_start: 6,
            demo: true,
        };
        drop(Ledger::create(&path, &shop, &who(), &STAMP).unwrap());
        (folder, path)
    }

    fn board(path: &Path) -> Ledger {
        Ledger::open_board(path, "a reason".to_owned()).unwrap()
    }

    fn names(folder: &tempfile::TempDir) -> usize {
        std::fs::read_dir(folder.path()).unwrap().count()
    }

    #[test]
    fn a_board_reads_the_main_file_makes_none_and_saves_nothing() {
        let (folder, path) = ledger();
        let lying = names(&folder);
        let mut board = board(&path);
        assert_eq!(board.name(), "shop");
        let newest = Some((1, STAMP.written));
        assert_eq!(
            board.read_only().unwrap(),
            Some(ReadOnly {
                newest,
                unread: false,
                missing: Some(0)
            })
        );
        assert_eq!(
            board.verify(None).unwrap().differences,
            Vec::<String>::new()
        );
        let refused = board.plan_backups(None, &who(), &STAMP).unwrap_err();
        assert_eq!(refused.to_string(), "a reason");
        drop(board);
        assert_eq!(names(&folder), lying);
    }

    #[test]
    fn a_board_that_reads_without_locks_notices_what_somebody_else_writes() {
        let (_folder, path) = ledger();
        let board = board(&path);
        assert!(!board.aged());
        board.unlocked().unwrap().check().unwrap();
        let mut other = Ledger::open(&path).unwrap();
        other.plan_backups(None, &who(), &STAMP).unwrap();
        assert!(board.aged());
        let said = board.unlocked().unwrap().check().unwrap_err().to_string();
        assert!(said.contains("changed by somebody else"), "{said}");
        assert_eq!(board.read_only().unwrap().unwrap().missing, Some(1));
        // Opened anew it is the ledger, in a place that can be written.
        let again = board.again().unwrap();
        assert_eq!(again.read_only().unwrap(), None);
        assert_eq!(again.head().unwrap().0, 2);
        // While somebody has it open the board reads with locks, and sees what is in the write-ahead file.
        let live = self::board(&path);
        assert!(live.unlocked().is_none());
        assert_eq!(live.read_only().unwrap().unwrap().newest.unwrap().0, 2);
    }

    #[test]
    fn a_place_that_cannot_be_written_is_said_before_the_engine_is_asked() {
        let folder = tempfile::tempdir().unwrap();
        // Whoever runs the tests as root may write everywhere; a folder that is gone nobody can write to.
        let said = check_folder(&folder.path().join("gone")).unwrap_err();
        for wanted in ["gone", "cannot be written", "Give write permission"] {
            assert!(said.contains(wanted), "{said}");
        }
        check_folder(&std::env::temp_dir()).unwrap();
    }

    #[test]
    fn a_board_of_another_schema_is_refused_with_the_way_out() {
        let (_folder, path) = ledger();
        let conn = Connection::open(&path).unwrap();
        conn.pragma_update(None, "user_version", 3).unwrap();
        drop(conn);
        let said = Ledger::open_board(&path, "a reason".to_owned())
            .unwrap_err()
            .to_string();
        assert!(
            said.contains("schema 3") && said.ends_with("; a reason"),
            "{said}"
        );
        let conn = Connection::open(&path).unwrap();
        conn.pragma_update(None, "user_version", 99).unwrap();
        drop(conn);
        assert!(matches!(
            Ledger::open_board(&path, String::new()),
            Err(LedgerError::Newer(_, 99, _))
        ));
    }
}
