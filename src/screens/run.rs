//! Keys that come without a pause: a scanner's line, or a text that a terminal pastes as if it had been typed.
//!
//! *Invariants*: the first line of a run is handed on as it comes, so that a scan is taken at once. What follows it
//! waits for the pause, and what is longer than any hand or scanner sends is counted and not kept, so that
//! nothing of a pasted text but its first line is ever carried out.
//!
//! *Not here*: when there is a pause (`keyboard`), what is a scan and what are keys (`driver`), how long a text may be where it is typed (`update`).

use super::keys::Key;
use std::time::Duration;

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
    held: Vec<Key>,
}

/// What came of a run once there is a pause.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Rest {
    /// The keys that waited.
    Keys(Vec<Key>),
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
        if self.count > MOST { BREATH } else { BURST }
    }

    /// Takes a key, and gives it back where it need not wait.
    pub(super) fn take(&mut self, key: Key) -> Option<Key> {
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
            self.held.push(key);
            return None;
        }
        Some(key)
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

#[cfg(test)]
mod tests {
    use super::*;

    fn keys(text: &str) -> Vec<Key> {
        text.chars()
            .map(|c| if c == '\r' { Key::Enter } else { Key::Char(c) })
            .collect()
    }

    // What is handed on at once, and what comes with the pause.
    fn played(run: &mut Run, text: &str) -> (Vec<Key>, Rest) {
        let now = keys(text).into_iter().filter_map(|k| run.take(k)).collect();
        (now, run.end())
    }

    fn waited(rest: Rest) -> Vec<Key> {
        match rest {
            Rest::Keys(list) => list,
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
        let now: Vec<Key> = keys(&text)
            .into_iter()
            .filter_map(|k| run.take(k))
            .collect();
        assert_eq!(now, keys("u"));
        assert_eq!(run.held.capacity(), 0);
        assert_eq!(run.pause(), BREATH, "a flood ends with a longer pause");
        assert_eq!(run.end(), Rest::Flood(text.len()));
        assert_eq!(run.pause(), BURST);
        let line = "W".repeat(MOST + 1);
        let (now, rest) = played(&mut run, &line);
        assert_eq!((now.len(), rest), (MOST, Rest::Flood(MOST + 1)));
        // After the pause it is as before.
        let (now, rest) = played(&mut run, "R12\r");
        assert_eq!((now, waited(rest)), (keys("R12\r"), Vec::new()));
    }
}
