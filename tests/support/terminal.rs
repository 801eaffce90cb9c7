//! A program in a real pseudo-terminal, and what its screen shows.

#![allow(dead_code, reason = "each set of tests uses its own part")]

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// The screen as it is now, when the last byte came, and all bytes that came.
type Seen = (vt100::Parser, Instant, Vec<u8>);

pub struct Terminal {
    pub screen: Arc<Mutex<Seen>>,
    /// How many milliseconds the terminal waits before each byte that it takes; 0 for one without a wait.
    pub pause_ms: Arc<AtomicU64>,
    keys: Box<dyn Write + Send>,
    pub child: Box<dyn Child + Send + Sync>,
    pub master: Box<dyn MasterPty + Send>,
}

pub fn size(rows: u16, cols: u16) -> PtySize {
    PtySize {
        rows,
        cols,
        pixel_width: 0,
        pixel_height: 0,
    }
}

impl Terminal {
    /// Starts a program in a terminal of its own.
    pub fn start(rows: u16, cols: u16, command: CommandBuilder) -> Self {
        let pair = native_pty_system().openpty(size(rows, cols)).unwrap();
        let child = pair.slave.spawn_command(command).unwrap();
        // Else the reader never sees the end.
        drop(pair.slave);
        let mut reader = pair.master.try_clone_reader().unwrap();
        let screen = Arc::new(Mutex::new((
            vt100::Parser::new(
                NonZeroU16::new(rows).unwrap(),
                NonZeroU16::new(cols).unwrap(),
                0,
            ),
            Instant::now(),
            Vec::new(),
        )));
        let shared = Arc::clone(&screen);
        let pause_ms = Arc::new(AtomicU64::new(0));
        let pause = Arc::clone(&pause_ms);
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            loop {
                let wait = pause.load(Ordering::Relaxed);
                let most = if wait > 0 { 1 } else { bytes.len() };
                std::thread::sleep(Duration::from_millis(wait));
                let n = reader.read(&mut bytes[..most]).unwrap_or(0);
                if n == 0 {
                    break;
                }
                let mut held = shared.lock().unwrap();
                held.0.process(&bytes[..n]);
                held.1 = Instant::now();
                held.2.extend_from_slice(&bytes[..n]);
            }
        });
        let keys = pair.master.take_writer().unwrap();
        Self {
            screen,
            pause_ms,
            keys,
            child,
            master: pair.master,
        }
    }

    /// What the screen shows now.
    pub fn text(&self) -> String {
        self.screen.lock().unwrap().0.screen().contents()
    }

    /// How long it takes until the screen shows all of `wanted` at once; what it shows instead when that does not come.
    pub fn until(&self, wanted: &[&str], longest: Duration) -> Result<Duration, String> {
        let begin = Instant::now();
        loop {
            let text = self.text();
            if wanted.iter().all(|w| text.contains(w)) {
                return Ok(begin.elapsed());
            }
            if begin.elapsed() > longest {
                return Err(format!("{wanted:?} did not come:\n{text}"));
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    /// Which of these the screen shows first; `None` where none of them comes.
    pub fn one_of(&self, wanted: &[&str], longest: Duration) -> Option<usize> {
        let begin = Instant::now();
        loop {
            let text = self.text();
            let found = wanted.iter().position(|w| text.contains(w));
            if found.is_some() || begin.elapsed() > longest {
                return found;
            }
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    /// Waits until the screen holds still and holds `wanted`; a frame arrives in pieces.
    pub fn wait(&self, wanted: &str) -> String {
        let begin = Instant::now();
        loop {
            {
                let held = self.screen.lock().unwrap();
                let text = held.0.screen().contents();
                if held.1.elapsed() > Duration::from_millis(60) && text.contains(wanted) {
                    return text;
                }
                assert!(
                    begin.elapsed() < Duration::from_secs(20),
                    "\"{wanted}\" did not come:\n{text}"
                );
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// A memory figure of the program, in kB: `VmRSS` is what it holds, `VmHWM` the most that it held.
    #[cfg(target_os = "linux")]
    pub fn memory(&self, what: &str) -> usize {
        let pid = self.child.process_id().unwrap();
        let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
        let line = status.lines().find_map(|l| l.strip_prefix(what)).unwrap();
        let figure = line.trim_start_matches(':').split_whitespace().next();
        figure.unwrap().parse().unwrap()
    }

    pub fn press(&mut self, keys: &str) {
        self.write(keys.as_bytes());
    }

    /// Bytes as they are: what is cut in the middle of a letter, too.
    pub fn write(&mut self, bytes: &[u8]) {
        self.keys.write_all(bytes).unwrap();
        self.keys.flush().unwrap();
    }

    /// One key at a time, as fingers do: what comes faster and ends with Enter is taken for a scanner.
    pub fn type_slowly(&mut self, text: &str) {
        for c in text.chars() {
            self.press(&c.to_string());
            std::thread::sleep(Duration::from_millis(30));
        }
        std::thread::sleep(Duration::from_millis(30));
    }

    /// Waits for the end and checks that the main screen and the cursor are back.
    pub fn ends(&mut self) -> u32 {
        let begin = Instant::now();
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            assert!(begin.elapsed() < Duration::from_secs(10), "it does not end");
            std::thread::sleep(Duration::from_millis(10));
        };
        std::thread::sleep(Duration::from_millis(100));
        let held = self.screen.lock().unwrap();
        assert!(
            !held.0.screen().alternate_screen(),
            "the main screen is back"
        );
        assert!(!held.0.screen().hide_cursor(), "the cursor is back");
        status.exit_code()
    }
}
