//! The witness: number and hash of the newest action, kept outside the database.
//!
//! The engine opens a ledger whose write-ahead file has lost its tail without a word. Only something outside can tell:
//! after every commit, while the turn is still held, the newest action's number and hash are written into
//! `<ledger>.witness`. From there on a process that dies loses nothing of it. It is forced to the disk before a command says
//! that it saved; where a ledger stays open, a moment later by a thread of its own ([`Settler`]): the commit was forced there
//! already, and a second sync would double what a save costs. A power cut within that moment leaves a witness that is behind.
//!
//! The file has two lines of one length, the first at byte 0, the second at byte 4 096, and action *n* is written into
//! line *n mod 2*: a cut in the middle of a write, or a page that the disk lost, spoils that line and leaves the other.
//! What lies between them is no line and is not read. It is overwritten in place: a page that has its room already, and
//! one sync, where a new file that is renamed would be three writes of the file system's journal for each deed. A line is
//! `hangtime witness 2 NUMBER HASH FILE CHECK` with the number in twenty digits, the hash in 64 hexadecimal ones, the number that
//! the file system has given to the ledger's file in sixteen, and the first sixteen of the SHA-256 of what stands before them as the check. The newest
//! line whose check holds counts. Lines of an earlier form, `hangtime witness 1 NUMBER HASH CHECK`, are read.
//!
//! The engine takes a write-ahead file that stayed behind for that of whatever ledger lies beside it. So the number of the
//! ledger's file is kept, too: where another file has its name and a write-ahead file is not empty, the record is checked as
//! a whole before anything is made of it.
//!
//! *Invariants*: a witness is never ahead of what was committed; one that is behind, as a crash between the two leaves
//! it, is caught up by the next opening. A fault while it is written does not make a saved action unsaved; it stops the next
//! one.
//!
//! *Not here*: what only a head that lies elsewhere can show: somebody who rewrites ledger and witness alike.

use super::append::{Line, NewAction, Saved, Stamp, Who};
use super::chain::{Hash, hex, sha256_hex};
use super::error::LedgerError;
use super::open::Ledger;
use super::stored::Shared;
use crate::shop::record::{Fact, ShopFact, What};
use crate::shop::text::clean;
use rusqlite::{Connection, OptionalExtension};
use std::ffi::OsString;
use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

const HEAD: &str = "hangtime witness 2";

const EARLIER: &str = "hangtime witness 1";

// A page of its own for each line: no disk writes, or loses, both in one go.
const SLOT: u64 = 4_096;

/// The newest action that was known to be saved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Seen {
    pub(super) action: i64,
    pub(super) hash: String,
    /// Number of the ledger's file in its file system; `None` in a line of the earlier form.
    pub(super) file: Option<u64>,
}

/// Where the witness of a ledger lies.
pub(super) fn path_of(ledger: &Path) -> PathBuf {
    let mut name: OsString = ledger.as_os_str().to_owned();
    name.push(".witness");
    PathBuf::from(name)
}

/// What lies in the witness's place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Look {
    /// Nothing: an older ledger has none yet.
    Missing,
    /// What it saw last.
    Seen(Seen),
    /// A file none of whose lines can be read.
    Spoilt,
}

/// What the witness saw last; `None` when there is none, or none that can be read.
pub(super) fn read(ledger: &Path) -> Result<Option<Seen>, LedgerError> {
    Ok(match look(ledger)? {
        Look::Seen(seen) => Some(seen),
        Look::Missing | Look::Spoilt => None,
    })
}

/// Looks at the witness.
pub(super) fn look(ledger: &Path) -> Result<Look, LedgerError> {
    let path = path_of(ledger);
    let mut text = Vec::new();
    match File::open(&path) {
        Ok(file) => {
            file.take(2 * SLOT)
                .read_to_end(&mut text)
                .map_err(|e| LedgerError::File(path, e))?;
        }
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Look::Missing),
        Err(e) => return Err(LedgerError::File(path, e)),
    }
    let text = String::from_utf8_lossy(&text);
    let lines = text.lines().map(|l| l.trim_start_matches('\0'));
    let newest = lines.filter_map(line).max_by_key(|s| s.action);
    Ok(match newest {
        Some(seen) => Look::Seen(seen),
        // The name is there before the first line is: a cut between the two leaves a file that never said anything.
        None if text.trim_matches('\0').is_empty() => Look::Missing,
        None => Look::Spoilt,
    })
}

fn line(text: &str) -> Option<Seen> {
    let (said, check) = text.rsplit_once(' ')?;
    let whole = sha256_hex(said.as_bytes());
    if whole.get(..16) != Some(check) {
        return None;
    }
    let (rest, earlier) = match said.strip_prefix(HEAD) {
        Some(rest) => (rest, false),
        None => (said.strip_prefix(EARLIER)?, true),
    };
    let (number, rest) = rest.trim_start().split_once(' ')?;
    let (hash, file) = match rest.split_once(' ') {
        Some((hash, file)) if !earlier => (hash, Some(u64::from_str_radix(file, 16).ok()?)),
        None if earlier => (rest, None),
        _ => return None,
    };
    Some(Seen {
        action: number.parse().ok()?,
        hash: hash.to_owned(),
        file,
    })
}

/// Writes down what was committed. Call it while the turn is held, and [`force`] it to the disk afterwards.
pub(super) fn write(ledger: &Path, action: i64, hash: &Hash) -> std::io::Result<()> {
    let said = format!(
        "{HEAD} {action:020} {} {:016x}",
        hex(hash),
        file_number(ledger)?
    );
    let check = sha256_hex(said.as_bytes());
    let line = format!("{said} {}\n", check.get(..16).unwrap_or_default());
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    let path = path_of(ledger);
    let new = !path.exists();
    let mut file = options.open(&path)?;
    let slot = u64::try_from(action.rem_euclid(2)).unwrap_or(0);
    file.seek(SeekFrom::Start(slot * SLOT))?;
    file.write_all(line.as_bytes())?;
    match path.parent() {
        // A name that is not in its folder yet is gone after a power cut.
        Some(folder) if new => {
            file.sync_data()?;
            File::open(folder)?.sync_all()
        }
        _ => Ok(()),
    }
}

/// Forces a witness that was written to the disk.
pub(super) fn force(witness: &Path) -> std::io::Result<()> {
    match OpenOptions::new().write(true).open(witness) {
        Ok(file) => file.sync_data(),
        // Somebody has said that the shop goes on without it.
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(e) => Err(e),
    }
}

// How long a save waits for others to share its sync, and how many do.
const SOON: Duration = Duration::from_millis(200);
const TOGETHER: u32 = 20;

/// Forces the witness to the disk beside the saves; what is left to force is forced when it is dropped.
#[derive(Debug)]
pub(super) struct Settler {
    // `None` only while it ends.
    saved: Option<Sender<()>>,
    refused: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Settler {
    /// That of a ledger.
    pub(super) fn start(ledger: &Path) -> std::io::Result<Self> {
        let witness = path_of(ledger);
        let refusal = Arc::new(AtomicBool::new(false));
        let refused = Arc::clone(&refusal);
        let (saved, told) = channel();
        let thread = std::thread::Builder::new().name("witness".to_owned());
        let thread = thread.spawn(move || {
            while told.recv().is_ok() {
                for _ in 0..TOGETHER {
                    if told.recv_timeout(SOON / TOGETHER) == Err(RecvTimeoutError::Disconnected) {
                        break;
                    }
                }
                if force(&witness).is_err() {
                    refused.store(true, Ordering::Relaxed);
                }
            }
        })?;
        Ok(Self {
            saved: Some(saved),
            refused: refusal,
            thread: Some(thread),
        })
    }

    /// Says that the witness was written.
    pub(super) fn soon(&self) {
        if let Some(saved) = &self.saved {
            let _ = saved.send(());
        }
    }

    /// Whether the disk refused it since this was asked last.
    pub(super) fn refused(&self) -> bool {
        self.refused.swap(false, Ordering::Relaxed)
    }
}

impl Drop for Settler {
    fn drop(&mut self) {
        self.saved = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

// The number that the file system has given to a file; zero where there is none such.
fn file_number(ledger: &Path) -> std::io::Result<u64> {
    #[cfg(unix)]
    {
        std::fs::metadata(ledger).map(|m| std::os::unix::fs::MetadataExt::ino(&m))
    }
    #[cfg(not(unix))]
    {
        std::fs::metadata(ledger).map(|_| 0)
    }
}

/// Whether another file has the ledger's name than the one that the witness saw, and a write-ahead file lies beside it that may
/// belong to that one.
pub(super) fn may_be_mixed(ledger: &Path, seen: &Seen) -> bool {
    let mut log: OsString = ledger.as_os_str().to_owned();
    log.push("-wal");
    let left = std::fs::metadata(PathBuf::from(log)).is_ok_and(|m| m.len() > 0);
    let number = file_number(ledger).ok();
    left && seen.file.is_some() && seen.file != number
}

/// Brings a witness that is behind up to the ledger; the caller holds the turn and knows that nothing is lost.
pub(super) fn catch_up(conn: &Connection, ledger: &Path) -> Result<(), LedgerError> {
    let newest: Option<(i64, Hash)> = conn
        .query_row(
            "SELECT seq, hash FROM action ORDER BY seq DESC LIMIT 1",
            [],
            |r| Ok((r.get(0)?, r.get(1)?)),
        )
        .optional()?;
    let Some((action, hash)) = newest else {
        return Ok(());
    };
    match look(ledger)? {
        Look::Seen(seen) if seen.action >= action && seen.file == file_number(ledger).ok() => {
            return Ok(());
        }
        // It is not written over without a word: somebody renews it by name.
        Look::Spoilt => return Ok(()),
        Look::Seen(_) | Look::Missing => {}
    }
    write(ledger, action, &hash)
        .and_then(|()| force(&path_of(ledger)))
        .map_err(|e| LedgerError::File(path_of(ledger), e))
}

/// Forgets what was seen: somebody has said that the shop goes on without what was lost.
pub(super) fn forget(ledger: &Path) -> Result<(), LedgerError> {
    let path = path_of(ledger);
    match std::fs::remove_file(&path) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(LedgerError::File(path, e)),
        _ => Ok(()),
    }
}

/// Moves a witness that cannot be read aside, so that the next one is written: somebody has said so.
pub(super) fn put_aside(ledger: &Path) -> Result<(), LedgerError> {
    let path = path_of(ledger);
    let aside = super::backup::beside(&path, ".spoilt");
    std::fs::rename(&path, &aside).map_err(|e| LedgerError::File(aside, e))
}

fn spoilt(ledger: &Path) -> String {
    format!(
        "the witness {} cannot be read: both its lines are spoilt, so that an end of the record that was lost would not be noticed. Look at the record with \"hangtime verify\", then start a new one with \"hangtime witness --renew --why ...\"",
        path_of(ledger).display()
    )
}

/// What a ledger's witness tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WitnessReport {
    /// Number of the newest action in the ledger.
    pub newest: i64,
    /// Number and hash that the witness saw last; `None` when there is no witness yet.
    pub seen: Option<(i64, String)>,
    /// What does not hold, in words.
    pub lost: Option<String>,
    /// Why it cannot be read, what that means and the way out.
    pub spoilt: Option<String>,
}

impl Ledger {
    /// What the witness tells of this ledger.
    pub fn witness(&self) -> Result<WitnessReport, LedgerError> {
        // The witness is read first: the record only grows.
        let look = look(self.path())?;
        let (newest, _) = self.head()?;
        let spoilt = (look == Look::Spoilt).then(|| spoilt(self.path()));
        let seen = match look {
            Look::Seen(seen) => Some(seen),
            Look::Missing | Look::Spoilt => None,
        };
        let lost = match &seen {
            Some(seen) => hold(&self.conn, self.path(), seen)
                .err()
                .map(|e| e.to_string()),
            None => None,
        };
        Ok(WitnessReport {
            newest,
            seen: seen.map(|s| (s.action, s.hash)),
            lost,
            spoilt,
        })
    }

    /// Why the witness cannot be read, what that means and the way out; `None` where it can be, or is none yet.
    pub fn witness_spoilt(&self) -> Option<String> {
        matches!(look(self.path()), Ok(Look::Spoilt)).then(|| spoilt(self.path()))
    }

    /// Starts a witness that cannot be read anew: a named person says so, and that stands in the record. The spoilt file is
    /// put aside.
    pub fn renew_witness(
        &mut self,
        why: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        if look(self.path())? != Look::Spoilt {
            return Err(LedgerError::Input(
                "the witness can be read, or is none yet; there is nothing to renew".to_owned(),
            ));
        }
        let (newest, _) = self.head()?;
        let fact = Fact::Note {
            text: format!(
                "witness renewed at action {newest}, the one before could not be read: {why}"
            ),
        };
        let action = NewAction::at_once(
            "renew witness",
            who.clone(),
            stamp.written,
            vec![Line::shop(What::Piece(fact))],
        );
        self.write_held(false, |w| w.append(&action, &Shared::default(), stamp))
    }

    /// Goes on without what was lost: a named person says so, and that stands in the record.
    pub fn go_on(&mut self, why: &str, who: &Who, stamp: &Stamp) -> Result<Saved, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        if let Some(spoilt) = self.witness_spoilt() {
            return Err(LedgerError::Input(spoilt));
        }
        let seen = read(self.path())?;
        let lost = seen
            .as_ref()
            .and_then(|seen| hold(&self.conn, self.path(), seen).err());
        let (from, to) = match lost {
            Some(LedgerError::Lost { from, to, .. }) => (from, to),
            Some(LedgerError::Replaced { action, .. }) => (action, action),
            Some(other) => return Err(other),
            None => {
                return Err(LedgerError::Input(
                    "nothing is lost: the record holds against its witness".to_owned(),
                ));
            }
        };
        let fact = ShopFact::Lost {
            from,
            to,
            hash: seen.map_or_else(String::new, |s| s.hash),
            why,
        };
        let action = NewAction::at_once(
            "go on",
            who.clone(),
            stamp.written,
            vec![Line::shop(What::Shop(fact))],
        );
        self.write_held(false, |w| w.append(&action, &Shared::default(), stamp))
    }
}

/// What of a record does not hold against what the witness saw, in words.
pub(super) fn differs(error: &LedgerError, board: bool) -> String {
    match error {
        // It need not be lost: it may lie in a write-ahead file that a board without locks ignores.
        LedgerError::Lost { from, to, .. } if board => {
            format!("actions {from} to {to}, which the witness names, are not in view")
        }
        LedgerError::Lost { from, to, .. } => {
            format!("actions {from} to {to} were saved and are no longer there")
        }
        LedgerError::Replaced { action, .. } => {
            format!("action {action} is another one than the one that was saved")
        }
        other => other.to_string(),
    }
}

/// Holds a ledger against its witness.
pub(super) fn hold(conn: &Connection, ledger: &Path, seen: &Seen) -> Result<(), LedgerError> {
    let newest: i64 = conn
        .prepare_cached("SELECT coalesce(max(seq), 0) FROM action")?
        .query_row([], |r| r.get(0))?;
    if seen.action > newest {
        return Err(LedgerError::Lost {
            ledger: ledger.to_path_buf(),
            from: newest + 1,
            to: seen.action,
        });
    }
    let hash: Option<Hash> = conn
        .prepare_cached("SELECT hash FROM action WHERE seq = ?1")?
        .query_row([seen.action], |r| r.get(0))
        .optional()?;
    if hash.map(|h| hex(&h)).as_deref() != Some(seen.hash.as_str()) {
        return Err(LedgerError::Replaced {
            ledger: ledger.to_path_buf(),
            action: seen.action,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    // Words, spaces and the line's end: 18 + 1 + 20 + 1 + 64 + 1 + 16 + 1 + 16 + 1.
    const LINE: u64 = 139;

    #[test]
    fn a_spoilt_line_leaves_the_other_one() {
        let folder = tempfile::tempdir().unwrap();
        let ledger = folder.path().join("shop.ledger");
        assert_eq!(read(&ledger).unwrap(), None);
        std::fs::write(&ledger, "").unwrap();
        for action in 1..=5 {
            write(&ledger, action, &[u8::try_from(action).unwrap(); 32]).unwrap();
        }
        let five = read(&ledger).unwrap().unwrap();
        assert_eq!(five.action, 5);
        assert_eq!(five.hash, "05".repeat(32));
        assert_eq!(five.file, file_number(&ledger).ok());
        let lies_at = path_of(&ledger);
        let whole = std::fs::read(&lies_at).unwrap();
        // Both lines spoilt are no witness that is missing; a file that never held a line is.
        let none: Vec<u8> = whole.iter().map(|b| b ^ 4).collect();
        for (bytes, wanted) in [
            (&none[..], Look::Spoilt),
            (b"", Look::Missing),
            (&[0; 200], Look::Missing),
        ] {
            std::fs::write(&lies_at, bytes).unwrap();
            assert_eq!(look(&ledger).unwrap(), wanted);
        }
        assert_eq!(u64::try_from(whole.len()).unwrap(), SLOT + LINE);
        // Every byte of the newest line counts: whatever is spoilt in it, the line before it is what was seen.
        let start = usize::try_from(SLOT).unwrap();
        for at in start..start + usize::try_from(LINE).unwrap() - 1 {
            let mut spoilt = whole.clone();
            spoilt[at] ^= 1;
            std::fs::write(&lies_at, spoilt).unwrap();
            assert_eq!(read(&ledger).unwrap().unwrap().action, 4, "byte {at}");
        }
        // A write that was cut short is spoilt, too.
        std::fs::write(&lies_at, &whole[..start + 60]).unwrap();
        assert_eq!(read(&ledger).unwrap().unwrap().action, 4);
    }

    #[test]
    fn a_line_of_the_earlier_form_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let ledger = folder.path().join("shop.ledger");
        let said = format!("{EARLIER} {:020} {}", 7, "ab".repeat(32));
        let check = sha256_hex(said.as_bytes());
        let line = format!("{said} {}\n", check.get(..16).unwrap());
        std::fs::write(path_of(&ledger), line).unwrap();
        let seen = read(&ledger).unwrap().unwrap();
        assert_eq!((seen.action, seen.file), (7, None));
        assert_eq!(seen.hash, "ab".repeat(32));
    }
}
