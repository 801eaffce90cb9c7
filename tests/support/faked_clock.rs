//! A wall clock that is faked for the built program.

use std::path::PathBuf;

/// The library that fakes the wall clock, where it is installed.
#[allow(clippy::print_stderr, reason = "says that a test was left out")]
pub fn faked() -> Option<PathBuf> {
    let found = [
        "/usr/lib/x86_64-linux-gnu/faketime/libfaketime.so.1",
        "/usr/lib/aarch64-linux-gnu/faketime/libfaketime.so.1",
        "/usr/lib/faketime/libfaketime.so.1",
    ]
    .into_iter()
    .map(PathBuf::from)
    .find(|p| p.exists());
    if found.is_none() {
        eprintln!("left out: libfaketime is not installed (apt-get install faketime)");
    }
    found
}
