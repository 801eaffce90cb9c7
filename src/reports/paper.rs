//! Files that go out: pages to be printed, sheets of tags, pictures, and folders of them.
//!
//! *Invariants*: a file or a folder is there whole or not at all, and none takes the place of another.
//!
//! *Not here*: what stands in it, and the printer: each shop has its own way to it.

use crate::ledger::{ManifestFile, sha256_hex};
use std::fs::{File, OpenOptions};
use std::io::{Error, ErrorKind, Result, Write as _};
use std::path::{Path, PathBuf};

/// Writes a new file and gives its full name. What has that name already is somebody's and is left alone.
///
/// # Errors
///
/// The file is there already, or cannot be written; nothing of it is left then.
pub fn write_new(file: &Path, bytes: impl AsRef<[u8]>) -> Result<PathBuf> {
    let place = std::path::absolute(file)?;
    let mut options = OpenOptions::new();
    fill(options.write(true).create_new(true), &place, bytes.as_ref())?;
    Ok(place)
}

/// Writes a file in the place of the one that has its name.
///
/// # Errors
///
/// It cannot be written; the one before is there as it was then.
pub fn replace(file: &Path, text: &str) -> Result<()> {
    // Terminals may write the same page at once, so each process writes under a name of its own.
    let mut new = file.as_os_str().to_owned();
    new.push(format!(".new-{}", std::process::id()));
    let new = PathBuf::from(new);
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    fill(&options, &new, text.as_bytes())?;
    std::fs::rename(&new, file).inspect_err(|_| {
        let _ = std::fs::remove_file(&new);
    })
}

fn fill(options: &OpenOptions, place: &Path, bytes: &[u8]) -> Result<()> {
    let mut file = options.open(place)?;
    let written = file.write_all(bytes).and_then(|()| file.sync_all());
    // What is left of it is of no use to anybody.
    written.inspect_err(|_| {
        let _ = std::fs::remove_file(place);
    })
}

/// A folder that is being filled beside its place; it gets its name last.
#[derive(Debug)]
pub struct NewFolder {
    place: PathBuf,
    part: PathBuf,
    files: Vec<ManifestFile>,
    done: bool,
}

impl NewFolder {
    /// Begins a folder.
    ///
    /// # Errors
    ///
    /// Something has its name already, or nothing can be written beside it.
    pub fn begin(folder: &Path) -> Result<Self> {
        let place = std::path::absolute(folder)?;
        if place.symlink_metadata().is_ok() {
            return Err(Error::new(ErrorKind::AlreadyExists, "exists already"));
        }
        let mut part = place.clone().into_os_string();
        part.push(format!(".part-{}", std::process::id()));
        let part = PathBuf::from(part);
        std::fs::create_dir(&part)?;
        Ok(Self {
            place,
            part,
            files: Vec::new(),
            done: false,
        })
    }

    /// Where a file of it lies while it is being filled.
    pub fn path(&self, name: &str) -> PathBuf {
        self.part.join(name)
    }

    /// Writes a file; folders in its name, parted by `/`, are made.
    ///
    /// # Errors
    ///
    /// It cannot be written.
    pub fn put(&mut self, name: &str, bytes: impl AsRef<[u8]>) -> Result<()> {
        let path = self.path(name);
        if let Some(parent) = path.parent() {
            std::fs::create_dir_all(parent)?;
        }
        write_new(&path, bytes.as_ref())?;
        self.files.push(ManifestFile {
            name: name.to_owned(),
            bytes: u64::try_from(bytes.as_ref().len()).unwrap_or(u64::MAX),
            sha256: sha256_hex(bytes.as_ref()),
        });
        Ok(())
    }

    /// Takes files into the list that somebody else wrote into it.
    pub fn also(&mut self, files: impl IntoIterator<Item = ManifestFile>) {
        self.files.extend(files);
    }

    /// The files so far, each with its length and SHA-256.
    pub fn files(&self) -> &[ManifestFile] {
        &self.files
    }

    /// Gives the folder its name, and says which.
    ///
    /// # Errors
    ///
    /// It cannot be written down for good, or something has its name by now; nothing of it is left then.
    pub fn end(mut self) -> Result<PathBuf> {
        let mut folders: Vec<PathBuf> = self
            .files
            .iter()
            .filter_map(|f| self.path(&f.name).parent().map(Path::to_path_buf))
            .collect();
        folders.push(self.part.clone());
        folders.sort();
        folders.dedup();
        for folder in folders {
            File::open(folder)?.sync_all()?;
        }
        // An empty folder would be replaced without a word.
        if self.place.symlink_metadata().is_ok() {
            return Err(Error::new(ErrorKind::AlreadyExists, "exists already"));
        }
        std::fs::rename(&self.part, &self.place)?;
        self.done = true;
        if let Some(above) = self.place.parent() {
            File::open(above)?.sync_all()?;
        }
        Ok(self.place.clone())
    }
}

impl Drop for NewFolder {
    fn drop(&mut self) {
        if !self.done {
            // It was made here and bears this process's number: nothing in it is anybody else's.
            let _ = std::fs::remove_dir_all(&self.part);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_gets_its_name_last_and_takes_nobodys_place() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("copy");
        let mut new = NewFolder::begin(&place).unwrap();
        new.put("a/b.txt", "one").unwrap();
        assert!(!place.exists());
        assert_eq!(new.files()[0].name, "a/b.txt");
        assert_eq!(new.files()[0].sha256, sha256_hex(b"one"));
        std::fs::create_dir(&place).unwrap();
        assert_eq!(new.end().unwrap_err().kind(), ErrorKind::AlreadyExists);
        assert!(NewFolder::begin(&place).is_err());
        // What came to nothing has left nothing.
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        std::fs::remove_dir(&place).unwrap();
        let mut new = NewFolder::begin(&place).unwrap();
        new.put("a/b.txt", "one").unwrap();
        assert_eq!(new.end().unwrap(), place);
        assert_eq!(
            std::fs::read_to_string(place.join("a/b.txt")).unwrap(),
            "one"
        );
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_new_file_is_never_written_over_and_a_page_takes_the_place_of_the_one_before() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("page.txt");
        assert_eq!(write_new(&file, "one").unwrap(), file);
        let again = write_new(&file, "two").unwrap_err();
        assert_eq!(again.kind(), ErrorKind::AlreadyExists);
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "one");
        replace(&file, "two").unwrap();
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "two");
        let nowhere = folder.path().join("none/page.txt");
        assert!(write_new(&nowhere, "x").is_err() && replace(&nowhere, "x").is_err());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
