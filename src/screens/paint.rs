//! What is drawn, on its way to the terminal.
//!
//! *Invariants*: a terminal that takes its bytes slowly, or not at all, delays nothing but its own picture: they are written
//! on a thread of their own, and while some are still on their way no other picture is drawn, so that those in between
//! are left out and the newest comes next. Pictures keep a distance, so that a storm of events draws few of them.
//!
//! *Not here*: what is drawn (`view`), and when something changed (`driver`).

use crate::clock::Clock;
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

/// So much is written at once. Where the terminal is slow the program can end between two of these.
const PIECE: usize = 512;

/// How long a program that ends waits for its last picture.
const LAST: Duration = Duration::from_secs(1);

/// Pictures follow each other no faster than this: what screens show in a second is about sixty of them.
const FRAME: Duration = Duration::from_millis(16);

/// So many pictures may come at once before the distance counts: a key, and the ledger's answer to it, are shown at once.
const AT_ONCE: u32 = 2;

/// How far the terminal is behind.
#[derive(Debug, Clone, Default)]
pub(super) struct Behind(Arc<State>);

#[derive(Debug, Default)]
struct State {
    chunks: AtomicUsize,
    ended: AtomicBool,
}

impl Behind {
    /// Whether the terminal has taken all that was drawn.
    pub(super) fn none(&self) -> bool {
        self.0.chunks.load(Ordering::Acquire) == 0
    }

    /// Whether the terminal is being given back.
    pub(super) fn ended(&self) -> bool {
        self.0.ended.load(Ordering::Acquire)
    }

    /// Waits for what is on its way, for a while, and lets nothing more through.
    pub(super) fn end(&self) {
        let last = Clock::tick() + LAST;
        while !self.none() && !Clock::until(last).is_zero() {
            thread::sleep(Duration::from_millis(2));
        }
        self.0.ended.store(true, Ordering::Release);
    }
}

/// Takes in what the terminal library writes, and hands it on at each flush.
#[derive(Debug)]
pub(super) struct Paint {
    chunk: Vec<u8>,
    to: Sender<Vec<u8>>,
    behind: Behind,
}

impl Paint {
    /// Starts the thread that writes to `out`; `taken` is called each time when all was taken.
    pub(super) fn start(
        out: impl Write + Send + 'static,
        taken: impl Fn() + Send + 'static,
    ) -> std::io::Result<(Self, Behind)> {
        let behind = Behind::default();
        let (to, chunks) = channel();
        let theirs = behind.clone();
        thread::Builder::new()
            .name("terminal".to_owned())
            .spawn(move || hand_on(out, &chunks, &theirs, &taken))?;
        let paint = Self {
            chunk: Vec::new(),
            to,
            behind: behind.clone(),
        };
        Ok((paint, behind))
    }
}

fn hand_on(mut out: impl Write, chunks: &Receiver<Vec<u8>>, behind: &Behind, taken: &dyn Fn()) {
    while let Ok(chunk) = chunks.recv() {
        for piece in chunk.chunks(PIECE) {
            if behind.ended() {
                return;
            }
            // A terminal that is gone is told by its keyboard.
            let _ = out.write_all(piece).and_then(|()| out.flush());
        }
        if behind.0.chunks.fetch_sub(1, Ordering::AcqRel) == 1 {
            taken();
        }
    }
}

impl Write for Paint {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.chunk.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        if self.chunk.is_empty() {
            return Ok(());
        }
        self.behind.0.chunks.fetch_add(1, Ordering::AcqRel);
        self.to
            .send(std::mem::take(&mut self.chunk))
            .map_err(|_| std::io::ErrorKind::BrokenPipe.into())
    }
}

/// The distance between two pictures.
#[derive(Debug)]
pub(super) struct Pace {
    next: Instant,
}

impl Pace {
    /// A pace at which the first picture may come at once.
    pub(super) fn new() -> Self {
        Self {
            next: Clock::tick(),
        }
    }

    /// How long the next picture has to wait.
    pub(super) fn wait(&self, now: Instant) -> Duration {
        self.next
            .saturating_duration_since(now)
            .saturating_sub(FRAME * AT_ONCE)
    }

    /// A picture was drawn.
    pub(super) fn drew(&mut self, now: Instant) {
        self.next = self.next.max(now) + FRAME;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    #[test]
    fn a_storm_of_events_draws_no_more_than_a_picture_in_sixteen_milliseconds() {
        let mut pace = Pace::new();
        let start = pace.next;
        let mut drawn = 0;
        for ms in 0..1_000 {
            let now = start + Duration::from_millis(ms);
            if pace.wait(now).is_zero() {
                pace.drew(now);
                drawn += 1;
            }
        }
        assert!((60..=1_000 / 16 + 4).contains(&drawn), "{drawn}");
        // After a rest a key and the answer to it are drawn at once, and the storm after them is not.
        let now = start + Duration::from_secs(5);
        for _ in 0..=AT_ONCE {
            assert!(pace.wait(now).is_zero());
            pace.drew(now);
        }
        assert_eq!(pace.wait(now), FRAME);
    }

    /// A terminal that takes nothing until it is let.
    struct Stuck(Arc<Mutex<Vec<u8>>>);

    impl Write for Stuck {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().extend_from_slice(bytes);
            Ok(bytes.len())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_terminal_that_takes_nothing_delays_nobody_and_gets_no_more_after_the_end() {
        let seen = Arc::new(Mutex::new(Vec::new()));
        let (tell, told) = channel();
        let (mut paint, behind) = Paint::start(Stuck(Arc::clone(&seen)), move || {
            let _ = tell.send(());
        })
        .unwrap();
        assert!(behind.none());
        let stuck = seen.lock().unwrap();
        paint.write_all(b"one").unwrap();
        paint.write_all(b" picture").unwrap();
        assert!(behind.none(), "nothing is on its way before the flush");
        paint.flush().unwrap();
        assert!(!behind.none());
        drop(stuck);
        told.recv().unwrap();
        assert!(behind.none());
        assert_eq!(seen.lock().unwrap().as_slice(), b"one picture");
        behind.end();
        paint.write_all(b"late").unwrap();
        paint.flush().unwrap();
        drop(paint);
        while told.recv().is_ok() {}
        assert_eq!(seen.lock().unwrap().as_slice(), b"one picture");
    }
}
