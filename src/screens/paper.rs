//! Pages that are written as text files to be printed.
//!
//! *Invariants*: a page is there whole or not at all; what it says passes through `shop::text::shown`.
//!
//! *Not here*: what stands on a page (`reports`), and the printer: each shop has its own way to it.

use crate::shop::text::shown;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Writes a page beside the ledger and gives its file: `shop.ledger` and `day-list-..` make `shop.day-list-...txt`.
pub(super) fn write(ledger: &Path, name: &str, lines: &[String]) -> Result<PathBuf, String> {
    let path = ledger.with_extension(format!("{name}.txt"));
    // Terminals may share a station's name, so each process writes under a name of its own.
    let new = ledger.with_extension(format!("{name}.txt.new-{}", std::process::id()));
    let text: String = lines.iter().map(|l| shown(l) + "\n").collect();
    let fault = |e: std::io::Error| {
        format!(
            "the page was not written: {}: {e}; the command \"hangtime shift\" prints the same list",
            path.display()
        )
    };
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
    let written = options
        .open(&new)
        .and_then(|mut file| {
            file.write_all(text.as_bytes())?;
            file.sync_all()
        })
        .and_then(|()| std::fs::rename(&new, &path));
    if let Err(e) = written {
        // What is left of it is of no use to anybody.
        let _ = std::fs::remove_file(&new);
        return Err(fault(e));
    }
    Ok(path)
}
