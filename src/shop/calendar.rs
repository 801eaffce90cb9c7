//! The shop's calendar: its named zone, its production day, and times as people read and type them.
//!
//! *Invariants*: waits are differences of UTC moments; the zone only decides which day a deed belongs to and how a
//! moment is written. A typed local time that the clock change leaves out is refused, and one that it repeats is
//! asked for with its zone letters.
//!
//! *Not here*: what time it is now.

use crate::units::{Moment, Span, date};
use chrono::{
    DateTime, Datelike, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeZone,
    Timelike,
};
use chrono_tz::Tz;

/// A production day, as days since 1970-01-01.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Day(pub i32);

impl Day {
    /// The day of a calendar date.
    pub fn of(date: NaiveDate) -> Self {
        Self(date.to_epoch_days())
    }

    /// The calendar date on which the production day starts.
    pub fn date(self) -> NaiveDate {
        NaiveDate::from_epoch_days(self.0).unwrap_or_default()
    }

    /// The next production day.
    #[must_use]
    pub const fn next(self) -> Self {
        Self(self.0 + 1)
    }

    /// The month that totals of this day belong to, as `2026-03`.
    pub fn month(self) -> String {
        self.date().format("%Y-%m").to_string()
    }
}

/// The zone and the start of the production day. Both are settings of the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Calendar {
    /// The shop's named zone. Every terminal shows shop time, whatever its own zone.
    pub zone: Tz,
    /// The hour at which the production day starts, 0 to 23.
    pub day_start: u32,
}

// 1 January 2200 in UTC. Zones had odd seconds in their offsets before 1970, and a shop's record lies in neither.
const END_OF_2199: i64 = 7_258_118_400_000;

/// Why a typed time is not one moment.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimeFault {
    /// The text is not a time.
    #[error(
        "time \"{0}\" is not understood; write 15:40, \"2026-03-10 15:40\", \"tomorrow 07:00\" or 2026-03-10T15:40:00-04:00"
    )]
    NotATime(String),
    /// The year is outside those of the record.
    #[error("time \"{0}\" is outside the years 1970 to 2199; write the year with four digits")]
    OutOfRange(String),
    /// The clock change leaves this time out.
    #[error(
        "time {0} does not exist: the clock change skips it; write the time that the clock showed"
    )]
    Skipped(String),
    /// The clock change repeats this time.
    #[error("time {0} happens twice; write \"{0} {1}\" or \"{0} {2}\"")]
    Twice(String, String, String),
}

impl Calendar {
    /// UTC, days from 06:00: where there is no ledger whose settings could be asked.
    pub const BARE: Self = Self {
        zone: Tz::UTC,
        day_start: 6,
    };

    /// The moment in the shop's zone.
    pub fn local(&self, at: Moment) -> DateTime<Tz> {
        self.zone
            .timestamp_millis_opt(at.0)
            .single()
            .unwrap_or_else(|| self.zone.timestamp_nanos(0))
    }

    /// Minutes that shop time is ahead of UTC at this moment.
    pub fn offset_min(&self, at: Moment) -> i32 {
        self.local(at).offset().fix().local_minus_utc() / 60
    }

    /// The production day that a moment belongs to.
    pub fn day(&self, at: Moment) -> Day {
        let local = self.local(at);
        let day = Day::of(local.date_naive());
        if local.hour() >= self.day_start {
            day
        } else {
            Day(day.0 - 1)
        }
    }

    /// When a production day starts.
    pub fn day_begin(&self, day: Day) -> Moment {
        self.on(day.date(), self.day_start * 60)
    }

    /// The moment at which a clock of the shop shows so many minutes after midnight on a date; 24 h is the midnight at
    /// its end. A time that the clock change repeats is the first of the two; one that it leaves out is the moment at
    /// which the clock runs on.
    pub fn on(&self, date: NaiveDate, minutes: u32) -> Moment {
        let (date, minutes) = match date.succ_opt() {
            Some(next) if minutes >= 1_440 => (next, 0),
            _ => (date, minutes.min(1_439)),
        };
        let time = NaiveTime::from_hms_opt(minutes / 60, minutes % 60, 0).unwrap_or_default();
        let local = date.and_time(time);
        match self.resolve(local) {
            LocalResult::Single(m) => m,
            LocalResult::Ambiguous(a, b) => a.min(b),
            LocalResult::None => match self.resolve(local + chrono::TimeDelta::hours(1)) {
                LocalResult::Single(m) | LocalResult::Ambiguous(m, _) => m,
                LocalResult::None => Moment(local.and_utc().timestamp_millis()),
            },
        }
    }

    /// Midnight at the start of a calendar date.
    pub fn midnight(&self, date: NaiveDate) -> Moment {
        Calendar {
            day_start: 0,
            ..*self
        }
        .day_begin(Day::of(date))
    }

    #[allow(
        clippy::disallowed_methods,
        reason = "the one place that resolves a local time, with all three answers"
    )]
    fn resolve(self, local: NaiveDateTime) -> LocalResult<Moment> {
        self.zone
            .from_local_datetime(&local)
            .map(|t| Moment(t.timestamp_millis()))
    }

    /// The moments at which a clock of this zone shows a local time: none where the clock change skips it, two where it
    /// repeats it, the earlier one first.
    pub fn moments_of(&self, local: NaiveDateTime) -> Vec<Moment> {
        match self.resolve(local) {
            LocalResult::None => Vec::new(),
            LocalResult::Single(m) => vec![m],
            LocalResult::Ambiguous(a, b) => vec![a.min(b), a.max(b)],
        }
    }

    /// Whether the zone's offset changes within a day and a half of this moment, so that letters are needed.
    fn near_change(self, at: Moment) -> bool {
        let reach = Span::hours(36);
        self.offset_min(at.minus(reach)) != self.offset_min(at.plus(reach))
    }

    fn letters(self, at: Moment) -> String {
        if self.near_change(at) {
            self.local(at).format(" %Z").to_string()
        } else {
            String::new()
        }
    }

    /// `10:44`, with the zone's letters near a clock change.
    pub fn clock(&self, at: Moment) -> String {
        format!("{}{}", self.local(at).format("%H:%M"), self.letters(at))
    }

    /// `10:44:01`, with the zone's letters near a clock change.
    pub fn clock_seconds(&self, at: Moment) -> String {
        format!("{}{}", self.local(at).format("%H:%M:%S"), self.letters(at))
    }

    /// A moment as it is read from `now`: `10:44` today, `Wed 00:10` within the coming week, `Wed 11 Mar 06:00` beyond,
    /// `9 Mar 16:00` for past days, so that a weekday always lies ahead.
    pub fn near(&self, at: Moment, now: Moment) -> String {
        let (a, b) = (self.local(at), self.local(now));
        let days = a
            .date_naive()
            .signed_duration_since(b.date_naive())
            .num_days();
        let text = match days {
            0 => a.format("%H:%M"),
            1..=6 => a.format("%a %H:%M"),
            _ if days < 0 && a.year() == b.year() => a.format("%-d %b %H:%M"),
            _ if a.year() == b.year() => a.format("%a %-d %b %H:%M"),
            _ => a.format("%-d %b %Y %H:%M"),
        };
        format!("{text}{}", self.letters(at))
    }

    /// `Wed 11 Mar 06:00`, with the zone's letters near a clock change.
    pub fn stamp(&self, at: Moment) -> String {
        format!(
            "{}{}",
            self.local(at).format("%a %-d %b %H:%M"),
            self.letters(at)
        )
    }

    /// When something is due, always with its day: `Mon 30 Mar 06:25`, with the year where it is another one than that of
    /// `now`.
    pub fn due(&self, at: Moment, now: Moment) -> String {
        let local = self.local(at);
        if local.year() == self.local(now).year() {
            return self.stamp(at);
        }
        let text = local.format("%a %-d %b %Y %H:%M");
        format!("{text}{}", self.letters(at))
    }

    /// A moment that stands beside another one: the clock alone on the same date, and else with its date, because a weekday
    /// alone can be read as one of two.
    pub fn beside(&self, at: Moment, other: Moment) -> String {
        if self.local(at).date_naive() == self.local(other).date_naive() {
            self.clock(at)
        } else {
            self.stamp(at)
        }
    }

    /// `2026-03-11 06:00:00 EDT`: for records.
    pub fn full(&self, at: Moment) -> String {
        self.local(at).format("%Y-%m-%d %H:%M:%S %Z").to_string()
    }

    /// RFC 3339 with the shop's offset: for machines.
    pub fn rfc3339(&self, at: Moment) -> String {
        self.local(at)
            .format("%Y-%m-%dT%H:%M:%S%.3f%:z")
            .to_string()
    }

    /// Reads a time as people type it, seen from `now`.
    ///
    /// Accepted: RFC 3339; `2026-03-10 15:40[:30]`; `10.03.2026 15:40`; `10 Mar 15:40`; `today|tomorrow|yesterday 15:40`; `wed 15:40` (the next such
    /// day, today included); `15:40` (today); `now`; each local form optionally followed by zone letters (`01:20 EST`).
    pub fn read(&self, text: &str, now: Moment) -> Result<Moment, TimeFault> {
        let at = self.read_any(text, now)?;
        if Self::bears(at) {
            Ok(at)
        } else {
            Err(TimeFault::OutOfRange(
                text.chars().filter(|c| !c.is_control()).take(40).collect(),
            ))
        }
    }

    /// Whether a moment lies in the years that a record can hold.
    pub const fn bears(at: Moment) -> bool {
        at.0 >= 0 && at.0 < END_OF_2199
    }

    fn read_any(&self, text: &str, now: Moment) -> Result<Moment, TimeFault> {
        let text = text.trim();
        if text.eq_ignore_ascii_case("now") {
            return Ok(now);
        }
        if let Ok(t) = DateTime::parse_from_rfc3339(text) {
            return Ok(Moment(t.timestamp_millis()));
        }
        let fault =
            || TimeFault::NotATime(text.chars().filter(|c| !c.is_control()).take(40).collect());
        let mut words: Vec<&str> = text.split_whitespace().collect();
        let wanted = words
            .last()
            .filter(|w| {
                w.len() >= 2
                    && w.chars()
                        .all(|c| c.is_ascii_uppercase() || c == '+' || c == '-')
            })
            .copied();
        if wanted.is_some() {
            words.pop();
        }
        let time = words.pop().and_then(read_clock).ok_or_else(fault)?;
        let today = self.local(now).date_naive();
        let date = match words.as_slice() {
            [] => today,
            [one] => read_day(one, today).ok_or_else(fault)?,
            [day, month] => {
                NaiveDate::parse_from_str(&format!("{day} {month} {}", today.year()), "%d %b %Y")
                    .map_err(|_| fault())?
            }
            _ => return Err(fault()),
        };
        self.pick(date.and_time(time), wanted, text)
    }

    fn pick(
        self,
        local: NaiveDateTime,
        wanted: Option<&str>,
        text: &str,
    ) -> Result<Moment, TimeFault> {
        let letters = |m: Moment| self.local(m).format("%Z").to_string();
        match self.resolve(local) {
            LocalResult::Single(m) if wanted.is_none_or(|w| w == letters(m)) => Ok(m),
            LocalResult::Ambiguous(a, b) => match wanted {
                Some(w) if w == letters(a) => Ok(a),
                Some(w) if w == letters(b) => Ok(b),
                _ => Err(TimeFault::Twice(text.to_owned(), letters(a), letters(b))),
            },
            LocalResult::None => Err(TimeFault::Skipped(text.to_owned())),
            LocalResult::Single(_) => Err(TimeFault::NotATime(text.to_owned())),
        }
    }
}

fn read_clock(text: &str) -> Option<NaiveTime> {
    ["%H:%M", "%H:%M:%S", "%H:%M:%S%.3f"]
        .iter()
        .find_map(|f| NaiveTime::parse_from_str(text, f).ok())
}

fn read_day(text: &str, today: NaiveDate) -> Option<NaiveDate> {
    match text.to_ascii_lowercase().as_str() {
        "today" => Some(today),
        "tomorrow" => today.succ_opt(),
        "yesterday" => today.pred_opt(),
        other => {
            if let Ok(date) = date(other) {
                return Some(date);
            }
            let weekday: chrono::Weekday = other.parse().ok()?;
            today.iter_days().take(7).find(|d| d.weekday() == weekday)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEW_YORK: Calendar = Calendar {
        zone: chrono_tz::America::New_York,
        day_start: 6,
    };

    fn at(text: &str) -> Moment {
        Moment(
            DateTime::parse_from_rfc3339(text)
                .unwrap()
                .timestamp_millis(),
        )
    }

    #[test]
    fn the_production_day_starts_at_six() {
        assert_eq!(
            NEW_YORK
                .day(at("2026-03-11T05:59:59-04:00"))
                .date()
                .to_string(),
            "2026-03-10"
        );
        assert_eq!(
            NEW_YORK
                .day(at("2026-03-11T06:00:00-04:00"))
                .date()
                .to_string(),
            "2026-03-11"
        );
    }

    #[test]
    fn a_year_that_no_shop_has_seen_is_refused() {
        let now = at("2026-11-01T12:00:00-05:00");
        for far in ["1013-03-09 15:40", "1969-12-31 10:00", "2200-01-01 00:00"] {
            assert_eq!(
                NEW_YORK.read(far, now),
                Err(TimeFault::OutOfRange(far.to_owned()))
            );
        }
        assert!(NEW_YORK.read("2199-12-31 18:59", now).is_ok());
    }

    #[test]
    fn a_repeated_hour_is_asked_for_and_a_skipped_one_is_refused() {
        let now = at("2026-11-01T12:00:00-05:00");
        assert!(matches!(
            NEW_YORK.read("2026-11-01 01:20", now),
            Err(TimeFault::Twice(..))
        ));
        assert_eq!(
            NEW_YORK.read("2026-11-01 01:20 EST", now),
            Ok(at("2026-11-01T01:20:00-05:00"))
        );
        assert_eq!(
            NEW_YORK.read("2026-11-01 01:20 EDT", now),
            Ok(at("2026-11-01T01:20:00-04:00"))
        );
        assert!(matches!(
            NEW_YORK.read("2026-03-08 02:30", now),
            Err(TimeFault::Skipped(_))
        ));
    }

    #[test]
    fn times_are_read_as_people_type_them() {
        let now = at("2026-03-10T15:40:00-04:00");
        assert_eq!(
            NEW_YORK.read("tomorrow 07:00", now),
            Ok(at("2026-03-11T07:00:00-04:00"))
        );
        assert_eq!(
            NEW_YORK.read("thu 06:00", now),
            Ok(at("2026-03-12T06:00:00-04:00"))
        );
        assert_eq!(
            NEW_YORK.read("09:00:30", now),
            Ok(at("2026-03-10T09:00:30-04:00"))
        );
        assert_eq!(
            NEW_YORK.read("9 Mar 16:00", now),
            Ok(at("2026-03-09T16:00:00-04:00"))
        );
        assert!(NEW_YORK.read("noonish", now).is_err());
    }

    #[test]
    fn a_due_date_has_its_day_and_another_year_its_number() {
        let now = at("2026-12-28T07:00:00-05:00");
        for (text, said) in [
            ("2026-12-28T13:32:00-05:00", "Mon 28 Dec 13:32"),
            ("2026-12-29T13:32:00-05:00", "Tue 29 Dec 13:32"),
            ("2027-01-01T13:32:00-05:00", "Fri 1 Jan 2027 13:32"),
        ] {
            assert_eq!(NEW_YORK.due(at(text), now), said);
        }
    }

    #[test]
    fn beside_another_moment_the_date_stands_unless_it_is_the_same_one() {
        let first = at("2026-03-26T07:00:00-04:00");
        for (text, said) in [
            ("2026-03-26T13:32:00-04:00", "13:32"),
            ("2026-03-27T13:32:00-04:00", "Fri 27 Mar 13:32"),
            ("2026-04-01T13:32:00-04:00", "Wed 1 Apr 13:32"),
            ("2026-03-25T13:32:00-04:00", "Wed 25 Mar 13:32"),
        ] {
            assert_eq!(NEW_YORK.beside(at(text), first), said);
        }
    }

    #[test]
    fn letters_stand_only_near_a_clock_change() {
        assert_eq!(NEW_YORK.clock(at("2026-03-08T03:50:00-04:00")), "03:50 EDT");
        assert_eq!(
            NEW_YORK.stamp(at("2026-03-11T06:00:00-04:00")),
            "Wed 11 Mar 06:00"
        );
    }
}
