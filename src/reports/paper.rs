//! Files that go out: pages to be printed, sheets of tags, pictures.
//!
//! *Invariants*: a file is there whole or not at all.
//!
//! *Not here*: what stands in it, and the printer: each shop has its own way to it.

use std::fs::OpenOptions;
use std::io::{Result, Write as _};
use std::path::{Path, PathBuf};

/// Writes a new file and gives its full name. What has that name already is somebody's and is left alone.
///
/// # Errors
///
/// The file is there already, or cannot be written; nothing of it is left then.
pub fn write_new(file: &Path, text: &str) -> Result<PathBuf> {
    let place = std::path::absolute(file)?;
    let mut options = OpenOptions::new();
    fill(options.write(true).create_new(true), &place, text)?;
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
    fill(&options, &new, text)?;
    std::fs::rename(&new, file).inspect_err(|_| {
        let _ = std::fs::remove_file(&new);
    })
}

fn fill(options: &OpenOptions, place: &Path, text: &str) -> Result<()> {
    let mut file = options.open(place)?;
    let written = file
        .write_all(text.as_bytes())
        .and_then(|()| file.sync_all());
    // What is left of it is of no use to anybody.
    written.inspect_err(|_| {
        let _ = std::fs::remove_file(place);
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::ErrorKind;

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
