//! Keys that come without a pause: a scanner's line, or a text that a terminal pastes as if it had been typed.
//!
//! *Invariants*: the first line of a run is handed on as it comes, so that a scan is taken at once. What follows it
//! waits for the pause, and what is longer than any hand or scanner sends is counted and not kept, so that
//! nothing of a pasted text but its first line is ever carried out.
//!
//! *Not here*: what is a scan and what are keys (`driver`), how long a text may be where it is typed (`update`).

use super::keys::Key;
use std::time::{Duration, Instant};

/// So many keys without a pause come from no hand and no scanner: a reader that sends a hundred stored tags in one go
/// stays below (ours, no source). No field takes as many.
pub(super) const MOST: usize = 1_000;

/// Keys closer together than this come from a scanner. Fingers need at least twice as long, the slowest scanners are
/// said to send a character every 20 ms (from memory, to be confirmed).
pub(super) const BURST: Duration = Duration::from_millis(25);

/// A flood ends with a longer pause: a terminal that pastes a long text stops now and then to take breath, and what comes
/// after that is no new line of a scanner (ours, no source).
const BREATH: Duration = Duration::from_millis(500);

/// The keys since the last pause.
#[derive(Debug, Default)]
pub(super) struct Run {
    count: usize,
    // The line ended, or was no scanner's: what comes now waits.
    line_ended: bool,
    held: Vec<(Key, Instant)>,
}

/// What came of a run once there is a pause.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Rest {
    /// The keys that waited.
    Keys(Vec<(Key, Instant)>),
    /// There were too many: how many, of which nothing after the first line was taken.
    Flood(usize),
}

impl Run {
    /// Whether keys came since the last pause.
    pub(super) const fn on(&self) -> bool {
        self.count > 0
    }

    /// How long a pause ends the run.
    pub(super) const fn pause(&self) -> Duration {
        if self.flooded() { BREATH } else { BURST }
    }

    /// Takes a key, and gives it back where it need not wait.
    pub(super) fn take(&mut self, key: Key, at: Instant) -> Option<(Key, Instant)> {
        self.count += 1;
        if self.count > MOST {
            self.held = Vec::new();
            return None;
        }
        let ends = matches!(key, Key::Enter | Key::Tab);
        // One letter and Enter may be two fingers, who are in no hurry, or the beginning of a text: only the pause tells.
        let waits = self.line_ended || (ends && self.count == 2);
        self.line_ended |= ends;
        if waits {
            self.held.push((key, at));
            return None;
        }
        Some((key, at))
    }

    /// Whether there were too many, so that what still comes is only to be counted.
    pub(super) const fn flooded(&self) -> bool {
        self.count > MOST
    }

    /// So many more came that are of no use.
    pub(super) fn more(&mut self, count: usize) {
        self.held = Vec::new();
        self.count = self.count.max(MOST).saturating_add(count);
    }

    /// There was a pause.
    pub(super) fn end(&mut self) -> Rest {
        let run = std::mem::take(self);
        if run.count > MOST {
            Rest::Flood(run.count)
        } else {
            Rest::Keys(run.held)
        }
    }
}

/// Takes what the terminal still sends, past the terminal library, until there is a pause; gives how many characters it was.
/// The library would read each key of it.
#[cfg(unix)]
pub(super) fn drain() -> usize {
    let mut bytes = [0; 8_192];
    let mut count = 0_usize;
    while sends(BREATH) {
        match rustix::io::read(std::io::stdin(), &mut bytes[..]) {
            Ok(n) if n > 0 => {
                let begins = |b: &&u8| **b & 0xc0 != 0x80;
                count += bytes.iter().take(n).filter(begins).count();
            }
            _ => break,
        }
    }
    count
}

/// Whether bytes of the terminal lie there, or come within a time.
#[cfg(unix)]
pub(super) fn sends(within: Duration) -> bool {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    let stdin = std::io::stdin();
    let mut asked = [PollFd::new(&stdin, PollFlags::IN)];
    let within = Timespec::try_from(within).ok();
    // A signal, as each resize is one, is no answer.
    rustix::io::retry_on_intr(|| poll(&mut asked, within.as_ref())).is_ok_and(|ready| ready > 0)
}

/// Makes the terminal say once more that bytes lie there. The library waits for new ones and does not see those that it left
/// behind: the rest of a long text, or a key in the moment of a resize. Settings that are set as they are wake whoever
/// waits for the terminal (seen on Linux).
#[cfg(unix)]
pub(super) fn nudge() {
    use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
    let stdin = std::io::stdin();
    // Where it cannot be done, the next key brings them.
    let _ = tcgetattr(&stdin).and_then(|held| tcsetattr(&stdin, OptionalActions::Now, &held));
}

#[cfg(not(unix))]
pub(super) const fn nudge() {}

#[cfg(not(unix))]
pub(super) const fn drain() -> usize {
    0
}

#[cfg(not(unix))]
pub(super) const fn sends(_within: Duration) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Clock;

    fn keys(text: &str) -> Vec<Key> {
        text.chars()
            .map(|c| if c == '\r' { Key::Enter } else { Key::Char(c) })
            .collect()
    }

    // What is handed on at once, and what comes with the pause.
    fn played(run: &mut Run, text: &str) -> (Vec<Key>, Rest) {
        let at = Clock::tick();
        let now = keys(text)
            .into_iter()
            .filter_map(|k| run.take(k, at).map(|(k, _)| k))
            .collect();
        (now, run.end())
    }

    fn waited(rest: Rest) -> Vec<Key> {
        match rest {
            Rest::Keys(list) => list.into_iter().map(|(k, _)| k).collect(),
            Rest::Flood(n) => panic!("a flood of {n}"),
        }
    }

    #[test]
    fn a_scan_is_handed_on_as_it_comes_and_what_follows_it_waits_for_the_pause() {
        let mut run = Run::default();
        assert!(!run.on());
        let (now, rest) = played(&mut run, "R12\r");
        assert_eq!((now, waited(rest)), (keys("R12\r"), Vec::new()));
        assert!(!run.on());
        let (now, rest) = played(&mut run, "R12\rR3\r\r");
        assert_eq!((now, waited(rest)), (keys("R12\r"), keys("R3\r\r")));
        // A key alone is at once what it is; two fingers wait for each other.
        let (now, rest) = played(&mut run, "\r");
        assert_eq!((now, waited(rest)), (keys("\r"), Vec::new()));
        let (now, rest) = played(&mut run, "c\r");
        assert_eq!((now, waited(rest)), (keys("c"), keys("\r")));
    }

    #[test]
    fn nothing_after_the_first_line_of_a_flood_is_handed_on_or_kept() {
        let mut run = Run::default();
        let text = "u\r\r".repeat(MOST);
        assert_eq!(run.pause(), BURST);
        let (now, rest) = played(&mut run, &text);
        assert_eq!((now, rest), (keys("u"), Rest::Flood(text.len())));
        assert_eq!(run.held.capacity(), 0);
        assert_eq!(run.pause(), BURST);
        run.take(Key::Char('u'), Clock::tick());
        run.more(5);
        assert_eq!(run.pause(), BREATH, "a flood ends with a longer pause");
        assert_eq!(run.end(), Rest::Flood(MOST + 5));
        let line = "W".repeat(MOST + 1);
        let (now, rest) = played(&mut run, &line);
        assert_eq!((now.len(), rest), (MOST, Rest::Flood(MOST + 1)));
        // After the pause it is as before.
        let (now, rest) = played(&mut run, "R12\r");
        assert_eq!((now, waited(rest)), (keys("R12\r"), Vec::new()));
    }
}
