//! The spread of a provisional time by its room's average day, in words.
//!
//! *Invariants*: it stands beside the provisional time, with how many days it rests on; too few days are said.
//!
//! *Not here*: finding it (`ledger`), the pattern (`shop::average_day`).

use crate::ledger::Spread;
use crate::shop::average_day::{BASIS, LEAST_DAYS};
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::units::Moment;
use serde_json::{Value, json};

fn days(n: usize) -> String {
    format!("{n} whole day{}", if n == 1 { "" } else { "s" })
}

/// That a room has too few whole days for a pattern.
pub fn too_few(room: &str, n: usize) -> String {
    format!(
        "no average day of {}: {} of readings in four weeks, {LEAST_DAYS} are needed",
        shown(room),
        days(n)
    )
}

/// `by the average day of cure room 26 Mar 10:20, slow case .., fast case .. (14 whole days)`.
pub fn words(spread: &Spread, at: Moment, calendar: &Calendar) -> String {
    let Some([middle, slow, fast]) = spread.cases else {
        return too_few(&spread.room, spread.days);
    };
    let when =
        |m: Option<Moment>| m.map_or_else(|| "not in sight".to_owned(), |m| calendar.near(m, at));
    format!(
        "by the average day of {} {}, slow case {}, fast case {} ({})",
        shown(&spread.room),
        when(middle),
        when(slow),
        when(fast),
        days(spread.days)
    )
}

/// The same with what it rests on.
pub fn line(spread: &Spread, at: Moment, calendar: &Calendar) -> String {
    let basis = if spread.cases.is_some() {
        format!("; {BASIS}")
    } else {
        String::new()
    };
    format!("{}{basis}", words(spread, at, calendar))
}

/// The same as JSON.
pub fn json(spread: &Spread, calendar: &Calendar) -> Value {
    let [middle, slow, fast] = spread.cases.unwrap_or_default();
    let moment = |m: Option<Moment>| m.map(|m| calendar.rfc3339(m));
    json!({
        "room": spread.room, "whole_days": spread.days, "enough": spread.cases.is_some(),
        "ready_at": moment(middle), "slow": moment(slow), "fast": moment(fast), "basis": BASIS,
    })
}
