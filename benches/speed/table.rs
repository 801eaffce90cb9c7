//! Times taken in turn, and the table that they end up in.

use std::time::{Duration, Instant};

/// One line of the table.
#[derive(Debug)]
pub struct Line {
    /// `P1` to `P15`.
    pub id: &'static str,
    /// What was measured.
    pub what: String,
    /// Our time, in ms, or another figure with its unit.
    pub ours: String,
    /// What it was measured against, with its time.
    pub against: String,
    /// The ratio, as the goal has it.
    pub ratio: String,
    /// The goal.
    pub goal: &'static str,
}

/// Times of one thing, in the order of their length.
#[derive(Debug, Clone)]
pub struct Times(Vec<Duration>);

impl Times {
    pub fn of(mut times: Vec<Duration>) -> Self {
        times.sort_unstable();
        Self(times)
    }

    /// The time below which so many hundredths of all lie.
    pub fn share(&self, hundredths: usize) -> f64 {
        ms(self.0[(self.0.len() - 1) * hundredths / 100])
    }

    pub fn median(&self) -> f64 {
        self.share(50)
    }

    pub fn most(&self) -> f64 {
        self.share(100)
    }
}

pub fn ms(took: Duration) -> f64 {
    took.as_secs_f64() * 1_000.0
}

pub fn timed<T>(work: impl FnOnce() -> T) -> (Duration, T) {
    let begin = Instant::now();
    let out = work();
    (begin.elapsed(), out)
}

/// Two things done in turn, each so many times.
pub fn in_turn(
    times: usize,
    mut ours: impl FnMut(usize),
    mut theirs: impl FnMut(usize),
) -> (Times, Times) {
    let (mut a, mut b) = (Vec::new(), Vec::new());
    for n in 0..times {
        a.push(timed(|| ours(n)).0);
        b.push(timed(|| theirs(n)).0);
    }
    (Times::of(a), Times::of(b))
}

/// A time as it stands in the table.
pub fn shown(ms: f64) -> String {
    match ms {
        ms if ms >= 10_000.0 => format!("{:.1} s", ms / 1_000.0),
        ms if ms >= 100.0 => format!("{ms:.0} ms"),
        ms if ms >= 1.0 => format!("{ms:.2} ms"),
        ms => format!("{:.0} us", ms * 1_000.0),
    }
}

pub fn header() -> String {
    format!(
        "{:<4} {:<58} {:>14}  {:<44} {:>12}  {}",
        "", "what", "ours", "against", "ratio", "goal"
    )
}

impl Line {
    pub fn text(&self) -> String {
        format!(
            "{:<4} {:<58} {:>14}  {:<44} {:>12}  {}",
            self.id, self.what, self.ours, self.against, self.ratio, self.goal
        )
    }
}
