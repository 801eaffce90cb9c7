//! A step language for a program in a terminal: what a person does, and what the screen must show next.

#![allow(dead_code, reason = "each set of tests uses its own part")]

use crate::pty::Terminal;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// How long the screen may take to show what a step must bring; a busy machine needs some of it.
pub const LONGEST: Duration = Duration::from_secs(20);

/// One thing that a person does.
#[derive(Debug, Clone, Copy)]
pub enum Does {
    /// Looks.
    Look,
    /// Reads a tag: its text at a scanner's speed, then CR.
    Scan(&'static str),
    /// Presses one key.
    Key(&'static str),
    /// Types a text by hand.
    Type(&'static str),
    /// Pastes a text.
    Paste(&'static str),
    /// Opens the command line, pastes a command into it and runs it.
    Run(&'static str),
    /// Reads the printed tag that says this.
    Tag(&'static str),
    /// One pull of the trigger reads it twice.
    Twice(&'static str),
    /// Reads all of it but the last character, and no CR comes.
    Half(&'static str),
    /// Reads only the first half of it, with the CR.
    Cut(&'static str),
}

pub use Does::{Cut, Half, Key, Look, Paste, Run, Scan, Tag, Twice, Type};

/// What is done, and what the screen must show next. All of it at once, and some of it was not there before.
pub type Step = (Does, &'static [&'static str]);

/// Where the shift is played.
pub trait Stage {
    /// A text at a scanner's speed.
    fn burst(&mut self, text: &str);
    /// One key.
    fn key(&mut self, name: &str);
    /// What the screen shows now.
    fn text(&self) -> String;
}

impl Stage for Terminal {
    fn burst(&mut self, text: &str) {
        self.press(text);
    }

    fn key(&mut self, name: &str) {
        self.press(match name {
            "Enter" => "\r",
            "Esc" => "\x1b",
            "Tab" => "\t",
            "BackTab" => "\x1b[Z",
            "Up" => "\x1b[A",
            "Down" => "\x1b[B",
            "Backspace" => "\x7f",
            "F2" => "\x1bOQ",
            "F3" => "\x1bOR",
            "F4" => "\x1bOS",
            "F5" => "\x1b[15~",
            "F6" => "\x1b[17~",
            "F7" => "\x1b[18~",
            "F8" => "\x1b[19~",
            "F9" => "\x1b[20~",
            "F10" => "\x1b[21~",
            letter => letter,
        });
    }

    fn text(&self) -> String {
        Self::text(self)
    }
}

/// Plays a shift up to its last step, which leaves the program; gives the receipts that were shown.
pub fn play(stage: &mut dyn Stage, steps: &[Step], tags: &BTreeMap<String, String>) -> Vec<String> {
    let leaves = steps.last().is_some_and(|(_, shows)| shows.is_empty());
    assert!(leaves, "the last step leaves the program");
    play_on(stage, steps, tags)
}

/// Plays a part of a shift, after which the program may stay open.
pub fn play_on(
    stage: &mut dyn Stage,
    steps: &[Step],
    tags: &BTreeMap<String, String>,
) -> Vec<String> {
    let mut receipts = Vec::new();
    for (does, shows) in steps {
        let before = stage.text();
        let code = |says: &str| tags.get(says).unwrap_or_else(|| panic!("no tag {says}"));
        let first = |says: &str, of: fn(usize) -> usize| -> String {
            let code = code(says);
            code.chars().take(of(code.len())).collect()
        };
        match *does {
            Look => {}
            Scan(text) => stage.burst(&format!("{text}\r")),
            Key(name) => stage.key(name),
            Type(text) => {
                for c in text.chars() {
                    stage.key(&c.to_string());
                    // Faster would be taken for a scanner.
                    std::thread::sleep(Duration::from_millis(30));
                }
            }
            Paste(text) => stage.burst(&pasted(text)),
            Run(line) => {
                stage.key(":");
                until(stage, "Enter run");
                stage.burst(&pasted(line));
                until(stage, "_");
                stage.key("Enter");
            }
            Tag(says) => stage.burst(&format!("{}\r", code(says))),
            Twice(says) => stage.burst(&format!("{0}\r{0}\r", code(says))),
            Half(says) => stage.burst(&first(says, |n| n - 1)),
            Cut(says) => stage.burst(&format!("{}\r", first(says, |n| n.div_ceil(2)))),
        }
        if shows.is_empty() {
            return receipts;
        }
        if !matches!(does, Look) {
            assert!(
                shows.iter().any(|s| !before.contains(s)),
                "{does:?} {shows:?} was there before:\n{before}"
            );
        }
        let begin = Instant::now();
        let text = loop {
            let text = stage.text();
            if shows.iter().all(|s| text.contains(s)) {
                break text;
            }
            assert!(
                begin.elapsed() < LONGEST,
                "{does:?}: {shows:?} did not come:\n{text}"
            );
            std::thread::sleep(Duration::from_millis(10));
        };
        if shows.iter().any(|s| s.starts_with("saved: ")) {
            let saved = text.lines().find(|l| l.contains("saved: ")).unwrap();
            receipts.push(saved.trim().to_owned());
        }
        // A hand is slower than this, and a scanner's next line must not run into what was typed.
        std::thread::sleep(Duration::from_millis(60));
    }
    receipts
}

// As a terminal sends what is pasted.
fn pasted(text: &str) -> String {
    format!("\x1b[200~{text}\x1b[201~")
}

fn until(stage: &dyn Stage, wanted: &str) {
    let begin = Instant::now();
    while !stage.text().contains(wanted) {
        assert!(
            begin.elapsed() < LONGEST,
            "{wanted:?} did not come:\n{}",
            stage.text()
        );
        std::thread::sleep(Duration::from_millis(10));
    }
}
