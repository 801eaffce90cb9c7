//! A folder that loggers write into: which of its files stand still.
//!
//! *Invariants*: a file is handed on when two looks found it alike, so that one which still grows is left; one that was handed on
//! comes again only when it changed since.
//!
//! *Not here*: whose file it is, and whether the record has it already.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// A folder that is looked at again and again.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    seen: BTreeMap<PathBuf, Seen>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Seen {
    bytes: u64,
    changed: Option<SystemTime>,
    handed_on: bool,
}

impl Folder {
    /// A folder that nobody has looked at yet.
    pub fn new(path: &Path) -> Self {
        Self {
            path: path.to_owned(),
            seen: BTreeMap::new(),
        }
    }

    /// Looks, and gives the files that stand still since the look before, in the order of their names.
    ///
    /// # Errors
    /// When the folder cannot be read.
    pub fn look(&mut self) -> std::io::Result<Vec<PathBuf>> {
        let mut now = BTreeMap::new();
        for entry in std::fs::read_dir(&self.path)? {
            let entry = entry?;
            let hidden = entry.file_name().to_string_lossy().starts_with('.');
            // What went away between the two calls is not there.
            let Some(meta) = entry.metadata().ok().filter(|m| m.is_file() && !hidden) else {
                continue;
            };
            let seen = Seen {
                bytes: meta.len(),
                changed: meta.modified().ok(),
                handed_on: false,
            };
            now.insert(entry.path(), seen);
        }
        let mut still = Vec::new();
        for (path, seen) in &mut now {
            let alike = self
                .seen
                .get(path)
                .filter(|b| (b.bytes, b.changed) == (seen.bytes, seen.changed));
            if let Some(before) = alike {
                seen.handed_on = true;
                if !before.handed_on {
                    still.push(path.clone());
                }
            }
        }
        self.seen = now;
        Ok(still)
    }

    /// What was handed on could not be taken over now; it comes again with the next look.
    pub fn again(&mut self, path: &Path) {
        if let Some(seen) = self.seen.get_mut(path) {
            seen.handed_on = false;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_comes_once_when_it_stands_still_and_again_when_it_changed() {
        let home = tempfile::tempdir().unwrap();
        let file = home.path().join("a.csv");
        let mut folder = Folder::new(home.path());
        std::fs::write(&file, "1").unwrap();
        std::fs::write(home.path().join(".part"), "1").unwrap();
        assert!(folder.look().unwrap().is_empty());
        std::fs::write(&file, "12").unwrap();
        assert!(folder.look().unwrap().is_empty(), "it still grows");
        assert_eq!(folder.look().unwrap(), [file.as_path()]);
        assert!(folder.look().unwrap().is_empty());
        folder.again(&file);
        assert_eq!(folder.look().unwrap(), [file.as_path()]);
        std::fs::write(&file, "123").unwrap();
        assert!(folder.look().unwrap().is_empty());
        assert_eq!(folder.look().unwrap(), [file.as_path()]);
        std::fs::remove_dir_all(home.path()).unwrap();
        assert!(folder.look().is_err());
    }
}
