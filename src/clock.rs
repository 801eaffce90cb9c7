//! The one reader of the time.
//!
//! A real ledger takes its written times from the system clock. A demo ledger has a clock of its own: it starts at a
//! given moment, or at the newest written time in the ledger, and runs on while the program is open.
//!
//! *Not here*: anything of the house but its units; the shop's zone (a setting of the ledger) and any wait (a difference of two stored moments).

use crate::units::Moment;
use std::time::{Duration, Instant};

/// A source of the present moment.
#[derive(Debug, Clone, Copy)]
pub struct Clock {
    demo: Option<(Moment, Instant)>,
}

#[allow(
    clippy::disallowed_methods,
    reason = "this is the one reader of the time"
)]
impl Clock {
    /// The system clock.
    pub const fn system() -> Self {
        Self { demo: None }
    }

    /// A demo's own clock, which starts at `at` and runs on.
    pub fn starting_at(at: Moment) -> Self {
        Self {
            demo: Some((at, Instant::now())),
        }
    }

    /// The present moment.
    pub fn now(&self) -> Moment {
        match self.demo {
            None => Moment(chrono::Utc::now().timestamp_millis()),
            Some((start, since)) => Moment(
                start
                    .0
                    .saturating_add(i64::try_from(since.elapsed().as_millis()).unwrap_or(0)),
            ),
        }
    }

    /// Milliseconds since the machine was started, suspend included, where the kernel tells; a demo has none.
    pub fn boot_ms(&self) -> Option<i64> {
        if self.demo.is_some() { None } else { boot_ms() }
    }

    /// Which start of the machine this is, where the kernel tells; a demo has none.
    pub fn boot(&self) -> Option<String> {
        if self.demo.is_some() {
            return None;
        }
        let id = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").ok()?;
        Some(id.trim().to_owned()).filter(|id| !id.is_empty())
    }

    /// Whether this is a demo's clock.
    pub const fn is_demo(&self) -> bool {
        self.demo.is_some()
    }

    /// The named zone of this machine, where it has one; a shop's own zone is a setting of its ledger.
    pub fn zone_here() -> Option<String> {
        let known = |name: &String| name.parse::<chrono_tz::Tz>().is_ok();
        std::env::var("TZ")
            .ok()
            .filter(known)
            .or_else(|| iana_time_zone::get_timezone().ok().filter(known))
    }

    /// An instant of this process, for waiting on the keyboard.
    pub fn tick() -> Instant {
        Instant::now()
    }

    /// Time until a deadline of this process.
    pub fn until(deadline: Instant) -> Duration {
        deadline.saturating_duration_since(Instant::now())
    }
}

// Milliseconds since the machine was started, suspend included, where the kernel tells.
fn boot_ms() -> Option<i64> {
    let text = std::fs::read_to_string("/proc/uptime").ok()?;
    let seconds = text.split(' ').next()?;
    let (whole, part) = seconds.split_once('.')?;
    let centi: i64 = part.parse().ok()?;
    Some(whole.parse::<i64>().ok()?.checked_mul(1_000)? + centi * 10)
}
