//! Opening a ledger, and the rules that hold from the first moment.

use super::append::{Line, NewAction, Stamp, Who};
use super::book::Book;
use super::error::LedgerError;
use super::migrate::{Upgrade, migrate};
use super::stored::Shared;
use super::witness;
use crate::shop::calendar::Calendar;
use crate::shop::record::{ShopFact, What};
use crate::shop::text::clean;
use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags};
use std::fs::{File, OpenOptions};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// "hang" in ASCII: tells our files from other SQLite files.
pub(super) const APPLICATION_ID: i64 = 0x6861_6E67;

/// Numbered steps of the schema. A step that was released is never edited.
pub(super) const MIGRATIONS: &[&str] = &[
    include_str!("../../migrations/0001.sql"),
    include_str!("../../migrations/0002.sql"),
    include_str!("../../migrations/0003.sql"),
    include_str!("../../migrations/0004.sql"),
];

// The first version without the write-ahead reset race (SQLite release notes 3.51.3, March 2026, as quoted in public
// issue threads: cited from a stored excerpt).
const OLDEST_ENGINE: i32 = 3_051_003;

const EMPTY: &str = "it is empty";

// How many of the newest actions are held against the chain after a fault of the disk.
const TAIL: i64 = 200;

/// An open ledger.
#[derive(Debug)]
pub struct Ledger {
    pub(super) conn: Connection,
    pub(super) book: Book,
    path: PathBuf,
    turn: Option<File>,
    upgraded: Option<Upgrade>,
    /// Whether the disk reported a fault since the database was opened.
    pub(super) doubtful: bool,
    calendar: Calendar,
    name: String,
    demo: bool,
    pub(super) boot: Option<String>,
}

/// What a new ledger is told once.
#[derive(Debug, Clone)]
pub struct NewShop {
    /// The shop's name.
    pub name: String,
    /// Its named zone, such as `America/New_York`.
    pub zone: String,
    /// The hour at which its production day starts, 0 to 23.
    pub day_start: u32,
    /// Whether the ledger is a demo, for ever.
    pub demo: bool,
}

/// Gives the turn back when it is dropped.
pub(super) struct Turn<'a>(&'a File);

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        // The kernel frees the lock at the latest when the process ends, so a fault here delays nobody.
        let _ = self.0.unlock();
    }
}

impl Ledger {
    /// Starts a new ledger at `path`, which must not exist.
    pub fn create(
        path: &Path,
        shop: &NewShop,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Self, LedgerError> {
        let path = absolute(path)?;
        let name = clean("shop name", &shop.name, 60).map_err(LedgerError::Input)?;
        let zone: chrono_tz::Tz = shop.zone.parse().map_err(|_| {
            LedgerError::Input(format!(
                "zone \"{}\" is not known; write one such as America/New_York",
                shop.zone
            ))
        })?;
        if shop.day_start > 23 {
            return Err(LedgerError::Input(format!(
                "start of the production day {} is outside 0 to 23; write an hour",
                shop.day_start
            )));
        }
        if path.exists() {
            return Err(LedgerError::Input(format!(
                "{} exists already; give another file with --ledger or use the one that is there",
                path.display()
            )));
        }
        if let Some(folder) = path.parent() {
            private_folder(folder).map_err(|e| LedgerError::File(folder.to_path_buf(), e))?;
        }
        create_private(&path)?;
        let mut conn = connect(&path, true)?;
        let turn = turn_file(&path)?;
        let upgraded = migrate(&mut conn, &path, &turn, MIGRATIONS)?;
        let calendar = Calendar {
            zone,
            day_start: shop.day_start,
        };
        let mut ledger = Self {
            conn,
            book: Book::default(),
            path,
            turn: Some(turn),
            upgraded,
            doubtful: false,
            calendar,
            name: name.clone(),
            demo: shop.demo,
            boot: None,
        };
        let opened = ShopFact::Opened {
            name,
            zone: zone.name().to_owned(),
            day_start: shop.day_start,
            demo: shop.demo,
        };
        let action = NewAction::at_once(
            "open",
            who.clone(),
            stamp.written,
            vec![Line::shop(What::Shop(opened))],
        );
        ledger.write(|w| w.append(&action, &Shared::default(), stamp))?;
        Ok(ledger)
    }

    /// Opens the ledger at `path`.
    pub fn open(path: &Path) -> Result<Self, LedgerError> {
        let path = absolute(path)?;
        if !path.exists() {
            return Err(LedgerError::Missing(path));
        }
        check_place(&path)?;
        // The witness is read before the record: the record only grows, so what was seen must still be in it.
        let seen = witness::read(&path)?;
        let ledger = Self::open_unheld(&path).map_err(|e| match (e, &seen) {
            // A new ledger whose first actions lay in the write-ahead file alone.
            (LedgerError::Foreign(ledger, why), Some(seen)) if why == EMPTY => LedgerError::Lost {
                ledger,
                from: 1,
                to: seen.action,
            },
            (e, _) => e,
        })?;
        if let Some(seen) = seen {
            witness::hold(&ledger.conn, &ledger.path, &seen)?;
        }
        Ok(ledger)
    }

    /// Opens the ledger at `path` without holding it against its witness: to look at what is left, to copy it, and to
    /// go on without what was lost.
    pub fn open_unheld(path: &Path) -> Result<Self, LedgerError> {
        let path = absolute(path)?;
        if !path.exists() {
            return Err(LedgerError::Missing(path));
        }
        check_place(&path)?;
        let mut conn = connect(&path, false)?;
        let turn = turn_file(&path)?;
        let upgraded = migrate(&mut conn, &path, &turn, MIGRATIONS)?;
        let (name, calendar, demo) = settings(&conn)?;
        Ok(Self {
            conn,
            book: Book::default(),
            path,
            turn: Some(turn),
            upgraded,
            doubtful: false,
            calendar,
            name,
            demo,
            boot: None,
        })
    }

    /// Opens the database anew after the disk reported a fault, and holds the end of the record against its chain and
    /// its witness. Until that is done nothing is written: what a failed sync left in memory may not be on the disk.
    pub(super) fn reopen(&mut self) -> Result<(), LedgerError> {
        let seen = witness::read(&self.path)?;
        self.conn = connect(&self.path, false)?;
        if let Some(seen) = seen {
            witness::hold(&self.conn, &self.path, &seen)?;
        }
        if let Some(first) = self.check_chain_from(TAIL)? {
            return Err(LedgerError::Damaged(first));
        }
        self.doubtful = false;
        Ok(())
    }

    /// An empty copy of the schema in memory, for building the read models beside the kept ones.
    pub(super) fn in_memory(calendar: Calendar) -> Result<Self, LedgerError> {
        let conn = Connection::open_in_memory()?;
        for step in MIGRATIONS {
            conn.execute_batch(step)?;
        }
        Ok(Self {
            conn,
            book: Book::default(),
            path: PathBuf::new(),
            turn: None,
            upgraded: None,
            doubtful: false,
            calendar,
            name: String::new(),
            demo: false,
            boot: None,
        })
    }

    /// A copy that is only read back: a backup under test.
    pub(super) fn from_copy(conn: Connection, path: &Path) -> Result<Self, LedgerError> {
        let (name, calendar, demo) = settings(&conn)?;
        Ok(Self {
            conn,
            book: Book::default(),
            path: path.to_path_buf(),
            turn: None,
            upgraded: None,
            doubtful: false,
            calendar,
            name,
            demo,
            boot: None,
        })
    }

    /// Takes the turn: one writer at a time, in the order of asking, as the kernel keeps it.
    pub(super) fn take_turn(turn: Option<&File>) -> Result<Option<Turn<'_>>, LedgerError> {
        let Some(file) = turn else { return Ok(None) };
        file.lock().map_err(|e| {
            LedgerError::Place(format!(
                "the turn file beside the ledger cannot be locked: {e}"
            ))
        })?;
        Ok(Some(Turn(file)))
    }

    /// Parts that a write needs at the same time.
    pub(super) fn parts(&mut self) -> (&mut Connection, &Book, Option<&File>, Calendar) {
        (
            &mut self.conn,
            &self.book,
            self.turn.as_ref(),
            self.calendar,
        )
    }

    /// Where the ledger lives.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What was done to bring an older ledger to the newest schema when it was opened.
    pub const fn upgraded(&self) -> Option<&Upgrade> {
        self.upgraded.as_ref()
    }

    /// The shop's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The shop's zone and production day.
    pub const fn calendar(&self) -> Calendar {
        self.calendar
    }

    /// Whether this ledger is a demo.
    pub const fn demo(&self) -> bool {
        self.demo
    }

    /// Tells which start of the machine this is, so that a restart can be told from a clock that was set.
    pub fn runs_under(&mut self, boot: Option<String>) {
        self.boot = boot;
    }

    /// The stamp of a deed that is written `now`.
    pub const fn stamp(&self, now: crate::units::Moment, boot_ms: Option<i64>) -> Stamp {
        Stamp {
            written: now,
            clock: if self.demo { "demo" } else { "system" },
            boot_ms,
        }
    }

    /// A number that changes when another process has written.
    pub fn data_version(&self) -> Result<i64, LedgerError> {
        Ok(self
            .conn
            .pragma_query_value(None, "data_version", |r| r.get(0))?)
    }
}

// SQLite reads a path that starts with `file:` as a URI; an absolute path never does.
fn absolute(path: &Path) -> Result<PathBuf, LedgerError> {
    std::path::absolute(path).map_err(|e| LedgerError::File(path.to_path_buf(), e))
}

// The file is made before SQLite opens it, so that it is never readable for everybody, not even for a moment.
pub(super) fn create_private(path: &Path) -> Result<(), LedgerError> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    options
        .open(path)
        .map(drop)
        .map_err(|e| LedgerError::File(path.to_path_buf(), e))
}

// Folders that are made for a ledger are closed to others, as its file is.
fn private_folder(folder: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o770);
    builder.create(folder)
}

pub(super) fn turn_file(path: &Path) -> Result<File, LedgerError> {
    let mut name = path.as_os_str().to_owned();
    name.push(".turn");
    let turn = PathBuf::from(name);
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    options.open(&turn).map_err(|e| LedgerError::File(turn, e))
}

fn check_place(path: &Path) -> Result<(), LedgerError> {
    let meta = std::fs::metadata(path).map_err(|e| LedgerError::File(path.to_path_buf(), e))?;
    if !meta.is_file() {
        return Err(LedgerError::Foreign(
            path.to_path_buf(),
            "it is not a file".to_owned(),
        ));
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        if meta.nlink() > 1 {
            return Err(LedgerError::Place(format!(
                "{} has a second name (a hard link), which can break the locks; remove one of the names",
                path.display()
            )));
        }
        if meta.mode() & 0o002 != 0 {
            return Err(LedgerError::Place(format!(
                "{} can be written by everybody on this machine; run chmod o-w on it",
                path.display()
            )));
        }
    }
    if let Some(kind) = file_system(path)
        && [
            "nfs",
            "nfs4",
            "cifs",
            "smb3",
            "smbfs",
            "9p",
            "fuse.sshfs",
            "afs",
            "ceph",
        ]
        .contains(&kind.as_str())
    {
        return Err(LedgerError::Place(format!(
            "{} lies on a network file system ({kind}), where the locks cannot be relied on; keep the ledger on a disk of this machine",
            path.display()
        )));
    }
    Ok(())
}

// The type of the file system, from the kernel's own list: the longest mount point that leads to the file.
fn file_system(path: &Path) -> Option<String> {
    let real = std::fs::canonicalize(path).ok()?;
    let list = std::fs::read_to_string("/proc/self/mountinfo").ok()?;
    list.lines()
        .filter_map(|line| {
            let (left, right) = line.split_once(" - ")?;
            let mount = left.split(' ').nth(4)?.replace("\\040", " ");
            let kind = right.split(' ').next()?;
            real.starts_with(&mount)
                .then(|| (mount.len(), kind.to_owned()))
        })
        .max_by_key(|(length, _)| *length)
        .map(|(_, kind)| kind)
}

/// A second connection to a ledger, for reading only.
pub(super) fn reader(path: &Path) -> Result<Connection, LedgerError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    conn.busy_timeout(Duration::from_secs(10))?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    conn.pragma_update(None, "trusted_schema", 0)?;
    conn.pragma_update(None, "cell_size_check", 1)?;
    Ok(conn)
}

// Only a file that was made for it becomes a ledger; one that is merely empty is left alone.
pub(super) fn connect(path: &Path, new: bool) -> Result<Connection, LedgerError> {
    if rusqlite::version_number() < OLDEST_ENGINE {
        return Err(LedgerError::Place(format!(
            "the database engine {} is too old for several terminals on one file; 3.51.3 or newer is needed",
            rusqlite::version()
        )));
    }
    let foreign = |e: rusqlite::Error| match e.sqlite_error_code() {
        Some(rusqlite::ErrorCode::NotADatabase) => {
            LedgerError::Foreign(path.to_path_buf(), "it is not a database".to_owned())
        }
        _ => LedgerError::Engine(e),
    };
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut conn = Connection::open_with_flags(path, flags).map_err(foreign)?;
    conn.busy_timeout(Duration::from_secs(10))?;
    conn.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0)?;
    conn.set_limit(Limit::SQLITE_LIMIT_LENGTH, 1_000_000)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DML, false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DDL, false)?;
    conn.set_transaction_behavior(rusqlite::TransactionBehavior::Immediate);
    conn.set_prepared_statement_cache_capacity(64);
    let id: i64 = conn
        .pragma_query_value(None, "application_id", |r| r.get(0))
        .map_err(foreign)?;
    let empty: i64 = conn
        .query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0))
        .map_err(foreign)?;
    if id != APPLICATION_ID && !(new && empty == 0) {
        let why = if empty == 0 {
            EMPTY
        } else {
            "another program made it"
        };
        return Err(LedgerError::Foreign(path.to_path_buf(), why.to_owned()));
    }
    let mode: String = conn.pragma_update_and_check(None, "journal_mode", "wal", |r| r.get(0))?;
    if mode != "wal" {
        return Err(LedgerError::Place(format!(
            "{} cannot keep a write-ahead file (mode \"{mode}\"); keep the ledger on a local disk",
            path.display()
        )));
    }
    for (name, value) in [
        ("synchronous", 2_i64),
        ("foreign_keys", 1),
        ("recursive_triggers", 1),
        ("trusted_schema", 0),
        ("cell_size_check", 1),
        ("mmap_size", 0),
    ] {
        conn.pragma_update(None, name, value)?;
    }
    for (name, wanted) in [
        ("synchronous", 2_i64),
        ("foreign_keys", 1),
        ("recursive_triggers", 1),
    ] {
        let held: i64 = conn.pragma_query_value(None, name, |r| r.get(0))?;
        if held != wanted {
            return Err(LedgerError::Place(format!(
                "the database engine refused {name}={wanted}; it holds {held}"
            )));
        }
    }
    Ok(conn)
}

/// Name, calendar and demo mark of the shop.
pub(super) fn settings(conn: &Connection) -> Result<(String, Calendar, bool), LedgerError> {
    let get = |name: &str| -> Result<String, LedgerError> {
        conn.query_row("SELECT value FROM setting WHERE name = ?1", [name], |r| {
            r.get(0)
        })
        .map_err(|_| LedgerError::Damaged(format!("the setting \"{name}\" is missing")))
    };
    let zone = get("zone")?;
    let zone = zone
        .parse()
        .map_err(|_| LedgerError::Damaged(format!("the zone \"{zone}\" is not known")))?;
    let day_start = get("day start")?.parse().map_err(|_| {
        LedgerError::Damaged("the start of the production day is not an hour".to_owned())
    })?;
    Ok((
        get("shop")?,
        Calendar { zone, day_start },
        get("demo")? == "yes",
    ))
}
