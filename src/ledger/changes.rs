//! The word of the file system that somebody has saved something.
//!
//! The witness is written after a commit can be seen, so one look after each word of it is enough, where the write-ahead
//! file is written before.
//!
//! *Invariants*: a word may be missed (a file system that gives none, a witness that could not be written): whoever waits for
//! one also looks by himself from time to time.

use super::witness::path_of;
use std::path::Path;

/// Waits for saves of a ledger.
#[derive(Debug)]
#[cfg_attr(
    not(target_os = "linux"),
    allow(dead_code, reason = "only Linux has such a word")
)]
pub struct Changes {
    #[cfg(target_os = "linux")]
    fd: std::os::fd::OwnedFd,
    name: Vec<u8>,
}

impl Changes {
    /// Begins to listen; `None` where the system gives no word.
    #[cfg(target_os = "linux")]
    pub fn of(ledger: &Path) -> Option<Self> {
        use rustix::fs::inotify;
        use std::os::unix::ffi::OsStrExt as _;
        let path = path_of(ledger);
        let fd = inotify::init(inotify::CreateFlags::CLOEXEC).ok()?;
        // The folder, and not the file: a witness may come and go.
        inotify::add_watch(&fd, path.parent()?, inotify::WatchFlags::MODIFY).ok()?;
        Some(Self {
            fd,
            name: path.file_name()?.as_bytes().to_vec(),
        })
    }

    /// Begins to listen; `None` where the system gives no word.
    #[cfg(not(target_os = "linux"))]
    pub fn of(ledger: &Path) -> Option<Self> {
        let _ = path_of(ledger);
        None
    }

    /// Waits for the next saves, tells `heard` of each, and ends when it gives `false` or nothing more can be heard.
    #[cfg(target_os = "linux")]
    pub fn listen(self, heard: impl Fn() -> bool) {
        let mut buffer = [std::mem::MaybeUninit::uninit(); 4_096];
        let mut events = rustix::fs::inotify::Reader::new(&self.fd, &mut buffer);
        loop {
            match events.next() {
                Ok(event) => {
                    let ours = event.file_name().is_some_and(|n| n.to_bytes() == self.name);
                    if ours && !heard() {
                        return;
                    }
                }
                Err(rustix::io::Errno::INTR) => {}
                Err(_) => return,
            }
        }
    }

    /// Waits for the next saves.
    #[cfg(not(target_os = "linux"))]
    pub fn listen(self, _heard: impl Fn() -> bool) {}
}
