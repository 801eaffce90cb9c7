//! A folder that loggers write into: which of its files stand still.
//!
//! *Invariants*: a file is handed on when two looks found it alike, so that one which still grows is left; one whose last line has
//! no end may have been cut in a number, and waits for longer; one that was handed on comes again only when it changed since.
//!
//! *Not here*: whose file it is, and whether the record has it already.

use std::collections::BTreeMap;
use std::io::{Read as _, Seek as _, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// A folder that is looked at again and again.
#[derive(Debug)]
pub struct Folder {
    path: PathBuf,
    patience: u32,
    seen: BTreeMap<PathBuf, Seen>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Seen {
    bytes: u64,
    changed: Option<SystemTime>,
    // Looks that found it as it was before.
    alike: u32,
    handed_on: bool,
}

// Whether the last line of a file has an end; of UTF-16, too.
fn ends(path: &Path) -> bool {
    let last = || -> std::io::Result<Vec<u8>> {
        let mut file = std::fs::File::open(path)?;
        let length = file.metadata()?.len();
        file.seek(SeekFrom::Start(length.saturating_sub(2)))?;
        let mut bytes = Vec::new();
        file.take(2).read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    matches!(last().as_deref(), Ok([.., b'\n'] | [b'\n', 0]))
}

impl Folder {
    /// A folder that nobody has looked at yet. A file whose last line has no end is handed on after `patience` looks that
    /// found it alike.
    pub fn new(path: &Path, patience: u32) -> Self {
        Self {
            path: path.to_owned(),
            patience,
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
                alike: 0,
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
                seen.alike = before.alike.saturating_add(1);
                seen.handed_on = before.handed_on;
                if !seen.handed_on && (seen.alike >= self.patience || ends(path)) {
                    seen.handed_on = true;
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
        let mut folder = Folder::new(home.path(), 3);
        std::fs::write(&file, "1\n").unwrap();
        std::fs::write(home.path().join(".part"), "1").unwrap();
        assert!(folder.look().unwrap().is_empty());
        std::fs::write(&file, "12\n").unwrap();
        assert!(folder.look().unwrap().is_empty(), "it still grows");
        assert_eq!(folder.look().unwrap(), [file.as_path()]);
        assert!(folder.look().unwrap().is_empty());
        folder.again(&file);
        assert_eq!(folder.look().unwrap(), [file.as_path()]);
        // Cut in a line, or a logger that writes no end: it waits for longer.
        std::fs::write(&file, "1\n2").unwrap();
        for _ in 0..3 {
            assert!(folder.look().unwrap().is_empty());
        }
        assert_eq!(folder.look().unwrap(), [file.as_path()]);
        std::fs::remove_dir_all(home.path()).unwrap();
        assert!(folder.look().is_err());
    }
}
