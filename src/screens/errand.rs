//! Runs what was typed on the command line inside the program: the same program in a process of its own, with the same
//! ledger, station and person.
//!
//! *Invariants*: one command at a time; nothing goes through a shell; its standard input is closed; what it says is
//! taken in up to a limit and the rest is counted; it ends with the screens at the latest.
//!
//! *Not here*: what was typed (`prompt`), how it is shown (`view`).

use super::prompt::{End, Errand, Ran};
use crate::clock::Clock;
use crate::units::System;
use std::ffi::OsString;
use std::io::Read;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// How long a command may take. The longest ones, such as verifying ten years, take some seconds.
const MOST_MINUTES: u64 = 5;

/// Says to a command how much of its answer stands on the page at once, as `80x19`.
pub const PAGE: &str = "HANGTIME_PAGE";

/// How often it is looked at: a short command feels immediate.
const LOOK: Duration = Duration::from_millis(15);

/// Most bytes that are taken in of each of its two streams.
const MOST: u64 = 2_000_000;

/// What stays the same for every command of a run.
#[derive(Debug)]
pub(super) struct Errands {
    ledger: PathBuf,
    station: String,
    system: System,
    running: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Errands {
    pub(super) const fn new(ledger: PathBuf, station: String, system: System) -> Self {
        Self {
            ledger,
            station,
            system,
            running: None,
        }
    }

    /// Starts a command; `tell` is called with what came of it, from another thread.
    pub(super) fn start(
        &mut self,
        errand: Errand,
        person: Option<&str>,
        at: Option<&str>,
        room: (u16, u16),
        tell: impl Fn(Ran) + Send + 'static,
    ) {
        self.stop();
        let (stop, stopped) = channel();
        let begun = self
            .command(errand, person, at, room)
            .and_then(|mut c| c.spawn());
        let child = match begun {
            Ok(child) => child,
            Err(e) => {
                tell(not_started(&e.to_string()));
                return;
            }
        };
        let thread = thread::Builder::new()
            .name("command".to_owned())
            .spawn(move || tell(watch(child, &stopped)));
        if let Ok(thread) = thread {
            self.running = Some((stop, thread));
        }
    }

    fn command(
        &self,
        errand: Errand,
        person: Option<&str>,
        at: Option<&str>,
        room: (u16, u16),
    ) -> std::io::Result<Command> {
        let typed = |name: &str| {
            errand
                .words
                .iter()
                .take_while(|w| *w != "--")
                .any(|w| w == name || w.starts_with(&format!("{name}=")))
        };
        let mut own: Vec<OsString> = Vec::new();
        let mut add = |name: &str, value: Option<OsString>| {
            // What was typed goes before what the screens know.
            if let Some(value) = value.filter(|_| !typed(name)) {
                own.push(name.into());
                own.push(value);
            }
        };
        add("--ledger", Some(self.ledger.clone().into()));
        add("--station", Some(self.station.clone().into()));
        add("--as", person.map(Into::into));
        add("--at", at.map(Into::into));
        let units = match self.system {
            System::Us => "us",
            System::Metric => "metric",
        };
        add("--units", Some(units.into()));
        let (columns, lines) = room;
        let mut command = Command::new(std::env::current_exe()?);
        command
            .args(own)
            .args(&errand.words)
            .env("COLUMNS", columns.to_string())
            .env(PAGE, format!("{columns}x{lines}"))
            .env("NO_COLOR", "1")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        if let Some(pin) = errand.pin {
            // Words of a process can be read by others on the machine, its environment cannot.
            command.env("HANGTIME_PIN", pin);
        }
        Ok(command)
    }

    /// Stops the command that runs, and waits until it is gone.
    pub(super) fn stop(&mut self) {
        if let Some((stop, thread)) = self.running.take() {
            drop(stop);
            // A thread that panicked has no command left to stop.
            let _ = thread.join();
        }
    }
}

impl Drop for Errands {
    fn drop(&mut self) {
        self.stop();
    }
}

fn not_started(why: &str) -> Ran {
    Ran {
        out: String::new(),
        err: String::new(),
        end: End::NotStarted(why.to_owned()),
    }
}

// Waits for the command's end, for a word to stop, or until it took too long.
fn watch(mut child: Child, stop: &Receiver<()>) -> Ran {
    let out = child.stdout.take().map(take_in);
    let err = child.stderr.take().map(take_in);
    let last = Clock::tick() + Duration::from_mins(MOST_MINUTES);
    let end = loop {
        match child.try_wait() {
            Ok(Some(status)) => break status.code().map_or(End::Signal, End::Code),
            Ok(None) => {}
            Err(e) => break End::NotStarted(e.to_string()),
        }
        let told = stop.recv_timeout(LOOK);
        let stopped = !matches!(told, Err(RecvTimeoutError::Timeout));
        if stopped || Clock::until(last).is_zero() {
            // It may have ended by itself just now; then its own end holds.
            let _ = child.kill();
            break match child.wait().map(|s| s.code()) {
                Ok(Some(code)) => End::Code(code),
                _ if stopped => End::Stopped,
                _ => End::TimedOut {
                    minutes: MOST_MINUTES,
                },
            };
        }
    };
    let said = |from: Option<JoinHandle<String>>| from.and_then(|f| f.join().ok());
    Ran {
        out: said(out).unwrap_or_default(),
        err: said(err).unwrap_or_default(),
        end,
    }
}

fn take_in(mut from: impl Read + Send + 'static) -> JoinHandle<String> {
    thread::spawn(move || {
        let mut bytes = Vec::new();
        // A stream that breaks off has said what it could.
        let _ = from.by_ref().take(MOST).read_to_end(&mut bytes);
        let more = std::io::copy(&mut from, &mut std::io::sink()).unwrap_or(0);
        let mut text = String::from_utf8_lossy(&bytes).into_owned();
        if more > 0 {
            text.push_str(&format!(
                "\n... {more} bytes more are not shown; run it outside the screens\n"
            ));
        }
        text
    })
}
