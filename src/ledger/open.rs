//! Opening a ledger, and the rules that hold from the first moment.

use super::append::{Line, NewAction, Stamp, Who};
use super::backup::{beside, sync_folder};
use super::board::{Board, check_folder, check_writable};
use super::book::Book;
use super::error::LedgerError;
use super::migrate::{Upgrade, migrate};
use super::stored::Shared;
use super::turn::{BUSY, TurnFile};
use super::witness::{self, Look, Settler};
use crate::shop::calendar::Calendar;
use crate::shop::record::{ShopFact, What};
use crate::shop::text::clean;
use rusqlite::config::DbConfig;
use rusqlite::limits::Limit;
use rusqlite::{Connection, OpenFlags};
use std::fs::OpenOptions;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// "hang" in ASCII: tells our files from other SQLite files.
pub(super) const APPLICATION_ID: i64 = 0x6861_6E67;

/// Numbered steps of the schema. A step that was released is never edited.
pub(super) const MIGRATIONS: &[&str] = &[
    include_str!("../../migrations/0001.sql"),
    include_str!("../../migrations/0002.sql"),
    include_str!("../../migrations/0003.sql"),
    include_str!("../../migrations/0004.sql"),
    include_str!("../../migrations/0005.sql"),
    include_str!("../../migrations/0006.sql"),
    include_str!("../../migrations/0007.sql"),
];

// The first version without the write-ahead reset race (SQLite release notes 3.51.3, March 2026, as quoted in public
// issue threads: cited from a stored excerpt).
const OLDEST_ENGINE: i32 = 3_051_003;

const EMPTY: &str = "it is empty";

// Pages of the write-ahead file at which a save folds it all the same: 16 MB.
const FOLD_AT: i64 = 4_000;

// How many of the newest actions are held against the chain after a fault of the disk.
const TAIL: i64 = 200;

/// An open ledger.
#[derive(Debug)]
pub struct Ledger {
    pub(super) conn: Connection,
    pub(super) book: Book,
    path: PathBuf,
    turn: Option<Arc<TurnFile>>,
    /// Which files were opened.
    files: Files,
    upgraded: Option<Upgrade>,
    /// How the ledger is read, where its place cannot be written.
    board: Option<Board>,
    /// Why nothing is saved through this opening, though its place can be written.
    pub(super) questions_only: Option<String>,
    /// Whether the disk reported a fault since the database was opened.
    pub(super) doubtful: bool,
    /// What folds the write-ahead file meanwhile.
    folding: Option<std::thread::JoinHandle<()>>,
    /// What forces the witness to the disk, where the ledger stays open.
    pub(super) settler: Option<Settler>,
    calendar: Calendar,
    name: String,
    demo: bool,
    pub(super) boot: Option<String>,
}

/// The ledger's file and the index of its write-ahead file: device and number, where the system tells. All terminals must
/// have the same ones: the index is memory that they share.
#[derive(Debug, Default, PartialEq, Eq)]
struct Files([Option<(u64, u64)>; 2]);

impl Files {
    fn of(path: &Path) -> Self {
        Self([identity(path), identity(&beside(path, "-shm"))])
    }
}

impl Drop for Ledger {
    fn drop(&mut self) {
        if let Some(folding) = self.folding.take() {
            let _ = folding.join();
        }
        // The last one to leave folds the write-ahead file and removes it by its name. Whoever holds other files than
        // those that lie there would fold what is old and remove what is new.
        if self.still_there().is_err() {
            let _ = self
                .conn
                .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true);
        }
    }
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
        let taken = || {
            LedgerError::Input(format!(
                "{} exists already; give another file with --ledger or use the one that is there",
                path.display()
            ))
        };
        if path.exists() {
            return Err(taken());
        }
        if let Some(folder) = path.parent() {
            private_folder(folder).map_err(|e| LedgerError::File(folder.to_path_buf(), e))?;
            check_folder(folder).map_err(LedgerError::Place)?;
        }
        // The engine would take them for the new ledger's own.
        if beside(&path, "-wal").exists() {
            return Err(LedgerError::Place(format!(
                "{}-wal lies there without its ledger; nothing was started. It may hold the newest actions of a ledger that was moved: put the two together again, or move it away",
                path.display()
            )));
        }
        let turn = TurnFile::of(&path)?;
        let turn = turn.take()?;
        if path.exists() {
            return Err(taken());
        }
        // It gets its name last: one that is cut short here is never taken for a ledger, and starting again is possible.
        let new = beside(&path, ".starting");
        for part in ["", "-wal", "-shm", ".turn"] {
            remove(&beside(&new, part))?;
        }
        create_private(&new)?;
        let mut conn = connect(&new, true)?;
        migrate(&mut conn, &new, &TurnFile::of(&new)?, MIGRATIONS)?;
        let calendar = Calendar {
            zone,
            day_start: shop.day_start,
        };
        let mut ledger = Self {
            conn,
            book: Book::default(),
            path: new.clone(),
            turn: None,
            files: Files::default(),
            upgraded: None,
            board: None,
            questions_only: None,
            doubtful: false,
            folding: None,
            settler: None,
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
        // The last connection folds the write-ahead file when it closes; one that is left holds the ledger.
        std::mem::replace(&mut ledger.conn, Connection::open_in_memory()?)
            .close()
            .map_err(|(_, e)| LedgerError::Engine(e))?;
        if beside(&new, "-wal").exists() {
            return Err(LedgerError::Place(format!(
                "{} could not be written to its end; nothing was started. Look at the disk and its free space, then start again",
                new.display()
            )));
        }
        remove(&beside(&new, ".turn"))?;
        // The witness of a ledger that lay here before has nothing to say about this one, and is not thrown away.
        let old = witness::path_of(&path);
        if old.exists() {
            let aside = beside(&old, ".before");
            std::fs::rename(&old, &aside).map_err(|e| LedgerError::File(aside, e))?;
        }
        std::fs::rename(&new, &path).map_err(|e| LedgerError::File(path.clone(), e))?;
        sync_folder(&path)?;
        drop(turn);
        Self::open(&path)
    }

    /// Opens the ledger at `path`.
    pub fn open(path: &Path) -> Result<Self, LedgerError> {
        let path = absolute(path)?;
        if !path.exists() {
            return Err(LedgerError::Missing(path));
        }
        check_place(&path)?;
        if let Err(why) = check_writable(&path) {
            let seen = witness::look(&path);
            let board = Self::open_board(&path, why)?;
            // A witness that is ahead is said with every answer; one that saw another record is a refusal here, too.
            if let Ok(Look::Seen(seen)) = seen {
                match witness::hold(&board.conn, &path, &seen) {
                    Ok(()) | Err(LedgerError::Lost { .. }) => {}
                    Err(other) => return Err(other),
                }
            }
            return Ok(board);
        }
        // The witness is read before the record: the record only grows, so what was seen must still be in it.
        let seen = witness::read(&path)?;
        let mixed = seen
            .as_ref()
            .is_some_and(|s| witness::may_be_mixed(&path, s));
        let ledger = Self::open_unheld(&path).map_err(|e| match (e, &seen) {
            // A new ledger whose first actions lay in the write-ahead file alone.
            (LedgerError::Foreign(ledger, why), Some(seen)) if why == EMPTY => LedgerError::Lost {
                ledger,
                from: 1,
                to: seen.action,
            },
            (e, _) => e,
        })?;
        // An end that is lost is said as such, wherever the files were copied to.
        if let Some(seen) = seen {
            witness::hold(&ledger.conn, &ledger.path, &seen)?;
        }
        if mixed {
            ledger.check_mixture()?;
        }
        // What a crash has left between a commit and its witness. Whoever has the turn does it for us, and a witness that
        // cannot be written stops the next save and no question.
        if let Some(turn) = &ledger.turn
            && let Ok(Some(_turn)) = turn.take_if_free()
        {
            // What cannot be read now cannot be read by the next question either, after as long a wait again.
            if let Err(e @ LedgerError::Engine(_)) = witness::catch_up(&ledger.conn, &ledger.path) {
                return Err(e);
            }
        }
        Ok(ledger)
    }

    // Another file lies here than the witness saw, beside a write-ahead file: a ledger that was copied together with it, or
    // another shop's in the place of the one that the write-ahead file belongs to. Only the record as a whole tells.
    fn check_mixture(&self) -> Result<(), LedgerError> {
        let fold = |leave: bool| {
            self.conn
                .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, leave)
        };
        fold(true)?;
        // What cannot even be read to its end does not belong together either.
        let first = match self.verify(None) {
            Ok(report) => report.differences.into_iter().next(),
            Err(LedgerError::Engine(e)) => Some(e.to_string()),
            Err(other) => return Err(other),
        };
        if let Some(first) = first {
            return Err(LedgerError::Place(format!(
                "{} is another file than the one that lay here, and the write-ahead file beside it belongs to that one ({first}); nothing was changed. Put the ledger that lay here back, or move the -wal, -shm and .witness files to where it lies now, and open again",
                self.path.display()
            )));
        }
        fold(false)?;
        Ok(())
    }

    /// Opens the ledger at `path` without holding it against its witness: to look at what is left, to copy it, and to
    /// go on without what was lost.
    pub fn open_unheld(path: &Path) -> Result<Self, LedgerError> {
        let path = absolute(path)?;
        if !path.exists() {
            return Err(LedgerError::Missing(path));
        }
        check_place(&path)?;
        if let Err(why) = check_writable(&path) {
            return Self::open_board(&path, why);
        }
        let turn = TurnFile::of(&path)?;
        let mut conn = connect(&path, false)?;
        let upgraded = migrate(&mut conn, &path, &turn, MIGRATIONS)?;
        let (name, calendar, demo) = settings(&conn)?;
        Ok(Self {
            conn,
            book: Book::default(),
            files: Files::of(&path),
            path,
            turn: Some(Arc::new(turn)),
            upgraded,
            board: None,
            questions_only: None,
            doubtful: false,
            folding: None,
            settler: None,
            calendar,
            name,
            demo,
            boot: None,
        })
    }

    /// Opens the database anew after the disk reported a fault; the caller holds the turn. The end of the record is held
    /// against its chain and its witness, all that is in the write-ahead file is written and synced into the ledger
    /// itself, and the witness is written. Until that is done nothing is saved: a page whose sync was refused may be gone
    /// although the next sync succeeds, so nothing is tried again on what is left in memory.
    pub(super) fn reopen(&mut self) -> Result<(), LedgerError> {
        let seen = witness::read(&self.path)?;
        // The old connection is closed first: the files that it has open, and how the engine could open them, last as long
        // as any connection of this process. It leaves the write-ahead file to be checked.
        let before = std::mem::replace(&mut self.conn, Connection::open_in_memory()?);
        before.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
        drop(before);
        self.conn = connect(&self.path, false)?;
        if let Some(seen) = seen {
            witness::hold(&self.conn, &self.path, &seen)?;
        }
        if let Some(first) = self.check_tail(TAIL)? {
            return Err(LedgerError::Damaged(first));
        }
        let busy: i64 = self
            .conn
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |r| r.get(0))?;
        if busy != 0 {
            return Err(LedgerError::Place(
                "the disk reported a fault before, and the write-ahead file cannot be folded yet, because another terminal is reading; nothing of this action was saved. Save again in a moment".to_owned(),
            ));
        }
        witness::catch_up(&self.conn, &self.path)?;
        self.doubtful = false;
        Ok(())
    }

    /// Whether the ledger still lies where it was opened. One that was moved or replaced would take in what nobody finds
    /// again.
    pub(super) fn still_there(&self) -> Result<(), LedgerError> {
        if self.turn.is_none() || Files::of(&self.path) == self.files {
            return Ok(());
        }
        Err(LedgerError::Place(format!(
            "the ledger at {}, or the -shm file beside it, was moved or replaced while this terminal had it open; nothing of this action was saved. Leave hangtime at this terminal, look whether the right file lies there, and open it again",
            self.path.display()
        )))
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
            files: Files::default(),
            upgraded: None,
            board: None,
            questions_only: None,
            doubtful: false,
            folding: None,
            settler: None,
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
            files: Files::default(),
            upgraded: None,
            board: None,
            questions_only: None,
            doubtful: false,
            folding: None,
            settler: None,
            calendar,
            name,
            demo,
            boot: None,
        })
    }

    /// A board that is only read: the settings are name, calendar and demo mark.
    pub(super) fn on_board(
        conn: Connection,
        path: &Path,
        board: Board,
        (name, calendar, demo): (String, Calendar, bool),
    ) -> Self {
        Self {
            conn,
            book: Book::default(),
            path: path.to_path_buf(),
            turn: None,
            files: Files::default(),
            upgraded: None,
            board: Some(board),
            questions_only: None,
            doubtful: false,
            folding: None,
            settler: None,
            calendar,
            name,
            demo,
            boot: None,
        }
    }

    pub(super) const fn board(&self) -> Option<&Board> {
        self.board.as_ref()
    }

    /// The turn of a ledger that may be written to by others, too.
    pub(super) fn turn_file(&self) -> Option<Arc<TurnFile>> {
        self.turn.clone()
    }

    /// Parts that a write needs at the same time; the third is whether others may write, too.
    pub(super) fn parts(&mut self) -> (&mut Connection, &Book, bool, Calendar) {
        (
            &mut self.conn,
            &self.book,
            self.turn.is_some(),
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

    /// Folds the write-ahead file into the ledger as far as nobody is in the way, on a thread and a connection of its own: on a
    /// slow disk a key that comes meanwhile does not wait for it. Whoever keeps a ledger open calls it when nobody waits for a
    /// save. What is not folded now is folded by a later call, a save at its bound, or the last one to leave.
    pub fn fold(&mut self) {
        let busy = self.folding.as_ref().is_some_and(|f| !f.is_finished());
        if busy || self.turn.is_none() || self.doubtful || self.still_there().is_err() {
            return;
        }
        let path = self.path.clone();
        let thread = std::thread::Builder::new().name("fold".to_owned());
        self.folding = thread.spawn(move || fold(&path)).ok();
    }

    /// How many rows this terminal has written since it opened the ledger.
    pub fn rows_written(&self) -> u64 {
        self.conn.total_changes()
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

#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    std::fs::metadata(path).ok().map(|m| (m.dev(), m.ino()))
}

#[cfg(not(unix))]
const fn identity(_path: &Path) -> Option<(u64, u64)> {
    None
}

fn remove(path: &Path) -> Result<(), LedgerError> {
    match std::fs::remove_file(path) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
            Err(LedgerError::File(path.to_path_buf(), e))
        }
        _ => Ok(()),
    }
}

#[cfg(unix)]
pub(super) fn may_write(path: &Path) -> std::io::Result<()> {
    use rustix::fs::Access;
    rustix::fs::access(path, Access::READ_OK | Access::WRITE_OK).map_err(std::io::Error::from)
}

#[cfg(not(unix))]
pub(super) fn may_write(_path: &Path) -> std::io::Result<()> {
    Ok(())
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
        && is_remote(&kind)
    {
        return Err(LedgerError::Place(format!(
            "{} lies on a file system ({kind}) whose locks and syncs cannot be relied on; keep the ledger on a disk of this machine",
            path.display()
        )));
    }
    Ok(())
}

// Network shares, folders of a virtual machine's host, and everything in user space: their locks, or their syncs, are
// promises of somebody else.
fn is_remote(kind: &str) -> bool {
    const REMOTE: &[&str] = &[
        "nfs", "nfs4", "cifs", "smb2", "smb3", "smbfs", "ncpfs", "9p", "virtiofs", "vboxsf",
        "drvfs", "afs", "coda", "ceph", "lustre", "gfs2", "ocfs2", "gpfs", "beegfs",
    ];
    REMOTE.contains(&kind) || kind.starts_with("fuse")
}

fn file_system(path: &Path) -> Option<String> {
    let real = std::fs::canonicalize(path).ok()?;
    kind_of(
        &std::fs::read_to_string("/proc/self/mountinfo").ok()?,
        &real,
    )
}

// The type of the file system, from the kernel's own list: the longest mount point that leads to the file, the last one
// where several lie over one another.
fn kind_of(list: &str, real: &Path) -> Option<String> {
    list.lines()
        .filter_map(|line| {
            let (left, right) = line.split_once(" - ")?;
            let mount = plain(left.split(' ').nth(4)?);
            let kind = right.split(' ').next()?;
            real.starts_with(&mount)
                .then(|| (mount.len(), kind.to_owned()))
        })
        .max_by_key(|(length, _)| *length)
        .map(|(_, kind)| kind)
}

// The kernel writes blanks, tabs, line feeds and backslashes of a mount point as octal numbers.
fn plain(mount: &str) -> String {
    [
        ("\\040", " "),
        ("\\011", "\t"),
        ("\\012", "\n"),
        ("\\134", "\\"),
    ]
    .iter()
    .fold(mount.to_owned(), |text, (from, to)| text.replace(from, to))
}

/// A second connection to a ledger, for reading only.
pub(super) fn reader(path: &Path) -> Result<Connection, LedgerError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    conn.busy_timeout(BUSY)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    conn.pragma_update(None, "trusted_schema", 0)?;
    conn.pragma_update(None, "cell_size_check", 1)?;
    conn.pragma_update(None, "temp_store", 2)?;
    steady(&conn)?;
    Ok(conn)
}

fn fold(path: &Path) {
    let Ok(conn) = connect(path, false) else {
        return;
    };
    let _ = conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true);
    let _ = conn.query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |_| Ok(()));
}

// A plan that looked at a value would be made anew for the next value; all statements of a busy minute are kept.
fn steady(conn: &Connection) -> Result<(), LedgerError> {
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    conn.set_prepared_statement_cache_capacity(256);
    Ok(())
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
    // Until it is known what lies here nothing is folded into it.
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
    conn.busy_timeout(BUSY)?;
    conn.set_limit(Limit::SQLITE_LIMIT_ATTACHED, 0)?;
    conn.set_limit(Limit::SQLITE_LIMIT_LENGTH, 1_000_000)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DML, false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DQS_DDL, false)?;
    steady(&conn)?;
    conn.set_transaction_behavior(rusqlite::TransactionBehavior::Immediate);
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
        // What is built beside the record stays in memory: it is nobody else's business.
        ("temp_store", 2),
        // A save does not fold: who keeps a ledger open does so when nobody waits, and this is the bound for all others.
        ("wal_autocheckpoint", FOLD_AT),
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
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
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

#[cfg(test)]
mod tests {
    use super::*;

    fn ledger() -> (tempfile::TempDir, Ledger) {
        let folder = tempfile::tempdir().unwrap();
        let shop = NewShop {
            name: "shop".to_owned(),
            zone: "Europe/Berlin".to_owned(),
            day_start: 6,
            demo: true,
        };
        let who = Who {
            person: "MK".to_owned(),
            writer: "MK".to_owned(),
            station: "desk".to_owned(),
        };
        let stamp = Stamp {
            written: crate::units::Moment(1),
            clock: "demo",
            boot_ms: None,
        };
        let path = folder.path().join("shop.ledger");
        let ledger = Ledger::create(&path, &shop, &who, &stamp).unwrap();
        (folder, ledger)
    }

    #[test]
    fn a_connection_holds_every_rule() {
        let (_folder, ledger) = ledger();
        for (name, wanted) in [
            ("synchronous", 2),
            ("foreign_keys", 1),
            ("recursive_triggers", 1),
            ("trusted_schema", 0),
            ("cell_size_check", 1),
            ("mmap_size", 0),
            ("temp_store", 2),
            ("wal_autocheckpoint", FOLD_AT),
            ("busy_timeout", 3_000),
            ("application_id", APPLICATION_ID),
            ("user_version", i64::try_from(MIGRATIONS.len()).unwrap()),
        ] {
            let held: i64 = ledger
                .conn
                .pragma_query_value(None, name, |r| r.get(0))
                .unwrap();
            assert_eq!(held, wanted, "{name}");
        }
        let mode: String = ledger
            .conn
            .pragma_query_value(None, "journal_mode", |r| r.get(0))
            .unwrap();
        assert_eq!(mode, "wal");
        for (limit, wanted) in [
            (Limit::SQLITE_LIMIT_ATTACHED, 0),
            (Limit::SQLITE_LIMIT_LENGTH, 1_000_000),
        ] {
            assert_eq!(ledger.conn.limit(limit).unwrap(), wanted, "{limit:?}");
        }
        for (config, wanted) in [
            (DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true),
            (DbConfig::SQLITE_DBCONFIG_DQS_DML, false),
            (DbConfig::SQLITE_DBCONFIG_DQS_DDL, false),
        ] {
            assert_eq!(ledger.conn.db_config(config).unwrap(), wanted, "{config:?}");
        }
        // What the limits are for.
        let attached = ledger.conn.execute_batch("ATTACH ':memory:' AS other");
        assert!(attached.is_err());
        let long = ledger
            .conn
            .query_row("SELECT length(zeroblob(1000001))", [], |r| {
                r.get::<_, i64>(0)
            });
        assert!(long.is_err());
    }

    #[test]
    fn a_file_system_whose_locks_are_somebody_elses_promise_is_told_by_its_type() {
        let list = r"22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
30 22 0:40 / /home rw shared:2 - nfs4 server:/home rw
31 22 0:41 / /mnt/my\040stick rw shared:3 - vfat /dev/sdb1 rw
32 22 0:42 / /mnt/host rw - 9p host rw
33 22 0:43 / /mnt/over rw - xfs /dev/sdc1 rw
34 33 0:44 / /mnt/over rw - fuse.sshfs server:/ rw
35 22 0:45 / /home/local rw - btrfs /dev/sdd rw
";
        for (path, kind, remote) in [
            ("/var/lib/shop.ledger", "ext4", false),
            ("/home/mk/shop.ledger", "nfs4", true),
            ("/home/local/shop.ledger", "btrfs", false),
            ("/homes/shop.ledger", "ext4", false),
            ("/mnt/my stick/shop.ledger", "vfat", false),
            ("/mnt/host/shop.ledger", "9p", true),
            ("/mnt/over/shop.ledger", "fuse.sshfs", true),
        ] {
            let found = kind_of(list, Path::new(path)).unwrap();
            assert_eq!(found, kind, "{path}");
            assert_eq!(is_remote(&found), remote, "{path}");
        }
        for kind in ["cifs", "smb3", "nfs", "fuseblk", "virtiofs", "ceph"] {
            assert!(is_remote(kind), "{kind}");
        }
        for kind in [
            "ext4", "xfs", "btrfs", "tmpfs", "zfs", "overlay", "f2fs", "apfs",
        ] {
            assert!(!is_remote(kind), "{kind}");
        }
    }
}
