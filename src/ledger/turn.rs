//! The turn: who may write next.
//!
//! *Invariants*: a write holds the lock on the file `<ledger>.turn` from before its transaction until after its witness;
//! the kernel takes it back when the process ends, however it ends. The engine's own busy timeout is the second net: it
//! is not fair, and in a storm of sixteen writers some wait ten times as long as behind this file.

use super::backup::beside;
use super::error::LedgerError;
use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::sync::mpsc::channel;
use std::time::Duration;

/// How long a writer waits for the others. In a storm a turn comes within a tenth of a second; whoever has waited sixty
/// times as long waits for a process that was stopped, and the person at the terminal should know.
const PATIENCE: Duration = if cfg!(test) {
    Duration::from_secs(1)
} else {
    Duration::from_secs(6)
};

/// How long the engine asks again for a lock that it does not get. It is the second net only: who writes without the turn
/// is another program. A save may wait for its turn and then for the engine: together that stays below ten seconds. A lock
/// that the disk itself refuses is not ended by this: in the middle of beginning to read the engine asks a hundred times
/// with pauses of its own, ten seconds in all.
pub(super) const BUSY: Duration = Duration::from_secs(3);

/// The turn file of a ledger.
#[derive(Debug)]
pub(super) struct TurnFile {
    file: File,
    path: PathBuf,
}

/// Gives the turn back when it is dropped.
pub(super) enum Turn<'a> {
    /// The lock is on the file that is kept open.
    Kept(&'a File),
    /// The lock is on a file that was opened to wait in the queue; closing it gives the turn back.
    Waited {
        /// Held until then.
        _file: File,
    },
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        if let Self::Kept(file) = self {
            // The kernel frees the lock at the latest when the process ends, so a fault here delays nobody.
            let _ = file.unlock();
        }
    }
}

impl TurnFile {
    /// The turn file beside a ledger; it is made where it is missing.
    pub(super) fn of(ledger: &Path) -> Result<Self, LedgerError> {
        let path = beside(ledger, ".turn");
        let file = open(&path).map_err(|e| LedgerError::File(path.clone(), e))?;
        Ok(Self { file, path })
    }

    /// Takes the turn, or says that somebody else does not give it back.
    pub(super) fn take(&self) -> Result<Turn<'_>, LedgerError> {
        if let Some(turn) = self.take_if_free()? {
            return Ok(turn);
        }
        // The wait is the kernel's own queue, on a thread, so that it can be given up. It is a lock of its own: one
        // that arrives after we left must not take the turn from under our next write.
        let (tell, told) = channel();
        let path = self.path.clone();
        std::thread::Builder::new()
            .name("turn".to_owned())
            .spawn(move || {
                let locked = open(&path).and_then(|f| f.lock().map(|()| f));
                // Nobody may be listening any more: then the file is closed here, and the turn goes on.
                let _ = tell.send(locked);
            })
            .map_err(|e| self.fault(&e))?;
        match told.recv_timeout(PATIENCE) {
            Ok(Ok(file)) => Ok(Turn::Waited { _file: file }),
            Ok(Err(e)) => Err(self.fault(&e)),
            Err(_) => Err(LedgerError::Place(format!(
                "another terminal has been writing for {} s; nothing of this action was saved. Look for a hangtime that was stopped (Control and Z) or hangs, then save again",
                PATIENCE.as_secs()
            ))),
        }
    }

    /// Takes the turn where nobody has it.
    pub(super) fn take_if_free(&self) -> Result<Option<Turn<'_>>, LedgerError> {
        match self.file.try_lock() {
            Ok(()) => Ok(Some(Turn::Kept(&self.file))),
            Err(TryLockError::WouldBlock) => Ok(None),
            Err(TryLockError::Error(e)) => Err(self.fault(&e)),
        }
    }

    fn fault(&self, e: &std::io::Error) -> LedgerError {
        LedgerError::Place(format!(
            "the turn file {} cannot be locked ({e}); nothing was saved. Keep the ledger on a disk of this machine",
            self.path.display()
        ))
    }
}

fn open(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    options.open(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_that_is_never_given_back_is_said_and_a_late_one_takes_nothing_with_it() {
        let folder = tempfile::tempdir().unwrap();
        let ledger = folder.path().join("shop.ledger");
        let (ours, other) = (
            TurnFile::of(&ledger).unwrap(),
            TurnFile::of(&ledger).unwrap(),
        );
        let held = other.take().unwrap();
        assert!(ours.take_if_free().unwrap().is_none());
        let said = ours.take().err().unwrap().to_string();
        assert!(said.contains("another terminal has been writing"), "{said}");
        // The one that gave up still stands in the queue. Its turn comes and goes, and does not open ours to anybody.
        drop(held);
        let turn = ours.take().unwrap();
        assert!(other.take_if_free().unwrap().is_none());
        drop(turn);
        drop(other.take().unwrap());
    }
}
