//! Drafts: what was about to be saved, kept beside the ledger until it is known to be saved.
//!
//! After a power cut the screen can say which of the two it was: saved, or not saved and still here to be saved.
//!
//! *Invariants*: a draft is written whole before the save and taken away after it; it carries the identity that the
//! action is saved under, so saving it again adds nothing.

use super::backup::sync_folder;
use super::error::LedgerError;
use super::open::Ledger;
use super::read::ActionRow;
use serde::{Deserialize, Serialize};
use std::io::Write;
use std::path::{Path, PathBuf};

/// A draft: the identity, the line that people read, and the command that saves it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Draft {
    /// Identity of the action.
    pub id: String,
    /// What would be saved, in one line.
    pub line: String,
    /// The words of the command that saves it.
    pub words: Vec<String>,
}

/// What became of a draft.
#[derive(Debug, Clone)]
pub enum DraftFate {
    /// It was saved.
    Saved(Draft, Box<ActionRow>),
    /// It was not saved.
    NotSaved(Draft),
}

/// The drafts of one station.
#[derive(Debug, Clone)]
pub struct Drafts {
    path: PathBuf,
}

impl Drafts {
    /// The place for a station's draft, beside the ledger.
    pub fn of(ledger: &Path, station: &str) -> Self {
        let station: String = station
            .chars()
            .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
            .collect();
        let mut name = ledger.as_os_str().to_owned();
        name.push(format!(".draft-{station}"));
        Self {
            path: PathBuf::from(name),
        }
    }

    fn fault(&self, e: std::io::Error) -> LedgerError {
        LedgerError::File(self.path.clone(), e)
    }

    /// Keeps a draft: written beside its place, synced, put there in one step, and its name synced in the folder.
    pub fn keep(&self, draft: &Draft) -> Result<(), LedgerError> {
        let text = serde_json::to_vec(draft).map_err(|e| LedgerError::Damaged(e.to_string()))?;
        // Terminals may share a station's name, so each process writes under a name of its own.
        let mut new = self.path.as_os_str().to_owned();
        new.push(format!(".new-{}", std::process::id()));
        let new = PathBuf::from(new);
        let kept = write(&new, &text).and_then(|()| std::fs::rename(&new, &self.path));
        if let Err(e) = kept {
            // A full disk is not made fuller; that it cannot be taken away either changes nothing of the fault.
            let _ = std::fs::remove_file(&new);
            return Err(self.fault(e));
        }
        sync_folder(&self.path)
    }

    /// Takes the draft away: it is saved, or the person let it go.
    pub fn clear(&self) -> Result<(), LedgerError> {
        match std::fs::remove_file(&self.path) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(self.fault(e)),
            _ => Ok(()),
        }
    }

    /// The draft that is there; a half-written one counts as none.
    pub fn held(&self) -> Result<Option<Draft>, LedgerError> {
        match std::fs::read(&self.path) {
            Ok(bytes) => Ok(serde_json::from_slice(&bytes).ok()),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(e) => Err(self.fault(e)),
        }
    }

    /// The draft that is there, and whether the ledger holds its action.
    pub fn fate(&self, ledger: &Ledger) -> Result<Option<DraftFate>, LedgerError> {
        let Some(draft) = self.held()? else {
            return Ok(None);
        };
        Ok(Some(match ledger.action_of_draft(&draft.id)? {
            Some(action) => DraftFate::Saved(draft, Box::new(action)),
            None => DraftFate::NotSaved(draft),
        }))
    }
}

fn write(path: &Path, text: &[u8]) -> std::io::Result<()> {
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    let mut file = options.open(path)?;
    file.write_all(text)?;
    file.sync_all()
}
