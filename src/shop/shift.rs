//! Working hours: when people are there to do a deed.
//!
//! *Invariants*: a deed begins within the hours, the end left out; hours are those that the shop's clock shows, so a
//! clock change moves nothing on the wall. There is at least one working day and the day has a length.
//!
//! *Not here*: who is there, holidays (`hours`), how long a deed takes.

use super::calendar::Calendar;
use crate::units::Moment;
use chrono::{Datelike, NaiveDate, Weekday};

/// The working hours of every working day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shift {
    // Minutes after midnight, and Monday first.
    start: u32,
    end: u32,
    days: [bool; 7],
}

/// Why typed hours are none.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ShiftFault {
    /// The hours do not read.
    #[error(
        "hours \"{0}\" are not understood: allowed are two times from 00:00 to 24:00, the later one last; write 07:00-15:30"
    )]
    Hours(String),
    /// The days do not read.
    #[error(
        "days \"{0}\" are not understood: allowed are mon, tue, wed, thu, fri, sat, sun; write mon-fri or mon,tue,thu"
    )]
    Days(String),
}

const DAYS: [(Weekday, &str); 7] = [
    (Weekday::Mon, "Mon"),
    (Weekday::Tue, "Tue"),
    (Weekday::Wed, "Wed"),
    (Weekday::Thu, "Thu"),
    (Weekday::Fri, "Fri"),
    (Weekday::Sat, "Sat"),
    (Weekday::Sun, "Sun"),
];

fn number(day: Weekday) -> usize {
    DAYS.iter().position(|(d, _)| *d == day).unwrap_or(0)
}

fn short(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

impl Shift {
    /// 07:00 to 15:30, Monday to Friday: common practice, no source. It stands wherever nobody says otherwise.
    pub const COMMON: Self = Self {
        start: 7 * 60,
        end: 15 * 60 + 30,
        days: [true, true, true, true, true, false, false],
    };

    /// Every hour of every day: what a recipe's waits alone come to.
    pub const ALWAYS: Self = Self {
        start: 0,
        end: 24 * 60,
        days: [true; 7],
    };

    /// Reads hours such as `07:00-15:30` and days such as `mon-fri` or `mon,tue,thu`.
    ///
    /// # Errors
    /// The text that is not understood, what is allowed and how it is written.
    pub fn read(hours: &str, days: &str) -> Result<Self, ShiftFault> {
        let fault = || ShiftFault::Hours(short(hours));
        let (start, end) = hours.split_once('-').ok_or_else(fault)?;
        let (start, end) = (
            minutes(start).ok_or_else(fault)?,
            minutes(end).ok_or_else(fault)?,
        );
        if start >= end {
            return Err(fault());
        }
        Ok(Self {
            start,
            end,
            days: read_days(days).ok_or_else(|| ShiftFault::Days(short(days)))?,
        })
    }

    /// The first moment at or after this one that lies in working hours.
    pub fn next(&self, at: Moment, calendar: &Calendar) -> Moment {
        let first = calendar.local(at).date_naive();
        for date in first.iter_days().take(9) {
            if !self.works(date) {
                continue;
            }
            let begin = calendar.on(date, self.start);
            if at < begin {
                return begin;
            }
            if at < calendar.on(date, self.end) {
                return at;
            }
        }
        // Not reached: one day of the week at least is worked.
        at
    }

    /// The end of the hours in which this moment lies; `None` where nobody works then.
    pub fn ends(&self, at: Moment, calendar: &Calendar) -> Option<Moment> {
        let date = calendar.local(at).date_naive();
        let (begin, end) = self.on(date, calendar);
        (self.works(date) && begin <= at && at < end).then_some(end)
    }

    /// Beginning and end of the hours on a date, whether it is worked by habit or not.
    pub fn on(&self, date: NaiveDate, calendar: &Calendar) -> (Moment, Moment) {
        (calendar.on(date, self.start), calendar.on(date, self.end))
    }

    /// Whether it is worked on a date by habit.
    pub fn works(&self, date: NaiveDate) -> bool {
        self.days
            .get(number(date.weekday()))
            .is_some_and(|worked| *worked)
    }

    /// The moments of a date by which it is planned: noon, where that lies within the hours, and the end of the hours.
    pub fn marks(&self, date: NaiveDate, calendar: &Calendar) -> impl Iterator<Item = Moment> {
        const NOON: u32 = 12 * 60;
        let half = Some(NOON).filter(|n| (self.start + 1..self.end).contains(n));
        let (noon, end) = (
            half.map(|m| calendar.on(date, m)),
            calendar.on(date, self.end),
        );
        noon.into_iter().chain([end])
    }

    /// Hours and days as [`Shift::read`] reads them back: `07:00-15:30` and `mon,tue,wed,thu,fri`.
    pub fn written(&self) -> (String, String) {
        let days = DAYS.iter().zip(self.days).filter(|(_, worked)| *worked);
        let days: Vec<String> = days.map(|((_, name), _)| name.to_lowercase()).collect();
        (
            format!("{}-{}", clock(self.start), clock(self.end)),
            days.join(","),
        )
    }

    /// `07:00 to 15:30, Mon to Fri`.
    pub fn words(&self) -> String {
        let on: Vec<usize> = (0..7)
            .filter(|i| self.days.get(*i).is_some_and(|d| *d))
            .collect();
        let name = |i: usize| DAYS.get(i).map_or("", |(_, n)| *n);
        let days = match (on.first(), on.last()) {
            (Some(a), Some(b)) if on.len() > 2 && b - a + 1 == on.len() => {
                format!("{} to {}", name(*a), name(*b))
            }
            _ => on.iter().map(|i| name(*i)).collect::<Vec<_>>().join(", "),
        };
        format!("{} to {}, {days}", clock(self.start), clock(self.end))
    }
}

fn clock(minutes: u32) -> String {
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

fn minutes(text: &str) -> Option<u32> {
    let (h, m) = text.trim().split_once(':')?;
    let digits = |t: &str| t.len() == 2 && t.chars().all(|c| c.is_ascii_digit());
    if !(digits(h) && digits(m)) {
        return None;
    }
    let (h, m): (u32, u32) = (h.parse().ok()?, m.parse().ok()?);
    let of_day = h * 60 + m;
    (m < 60 && of_day <= 24 * 60).then_some(of_day)
}

fn read_days(text: &str) -> Option<[bool; 7]> {
    let mut days = [false; 7];
    for part in text.split(',') {
        let (from, to) = part.split_once('-').unwrap_or((part, part));
        let from: Weekday = from.trim().parse().ok()?;
        let to: Weekday = to.trim().parse().ok()?;
        let mut day = from;
        loop {
            if let Some(d) = days.get_mut(number(day)) {
                *d = true;
            }
            if day == to {
                break;
            }
            day = day.succ();
        }
    }
    Some(days)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEW_YORK: Calendar = Calendar {
        zone: chrono_tz::America::New_York,
        day_start: 6,
    };

    fn at(text: &str) -> Moment {
        NEW_YORK.read(text, Moment(0)).unwrap()
    }

    #[test]
    fn what_falls_outside_the_hours_waits_for_the_next_working_morning() {
        let shift = Shift::COMMON;
        for (asked, given) in [
            ("2026-03-02 06:59", "2026-03-02 07:00"),
            ("2026-03-02 07:00", "2026-03-02 07:00"),
            ("2026-03-02 15:29", "2026-03-02 15:29"),
            ("2026-03-02 15:30", "2026-03-03 07:00"),
            ("2026-03-06 16:00", "2026-03-09 07:00"), // over the weekend and the clock change
            ("2026-03-07 10:00", "2026-03-09 07:00"),
        ] {
            assert_eq!(shift.next(at(asked), &NEW_YORK), at(given), "{asked}");
        }
        assert_eq!(
            Shift::ALWAYS.next(at("2026-03-07 23:59"), &NEW_YORK),
            at("2026-03-07 23:59")
        );
    }

    #[test]
    fn hours_end_on_the_day_on_which_they_are_worked() {
        let shift = Shift::COMMON;
        let ends = |text| shift.ends(at(text), &NEW_YORK);
        assert_eq!(ends("2026-03-02 07:00"), Some(at("2026-03-02 15:30")));
        assert_eq!(ends("2026-03-02 06:59"), None);
        assert_eq!(ends("2026-03-02 15:30"), None);
        assert_eq!(ends("2026-03-07 10:00"), None);
        let saturday = NaiveDate::from_ymd_opt(2026, 3, 7).unwrap();
        assert_eq!(
            shift.on(saturday, &NEW_YORK),
            (at("2026-03-07 07:00"), at("2026-03-07 15:30"))
        );
    }

    #[test]
    fn hours_and_days_read_as_people_write_them() {
        assert_eq!(Shift::read("07:00-15:30", "mon-fri"), Ok(Shift::COMMON));
        for shift in [
            Shift::COMMON,
            Shift::ALWAYS,
            Shift::read("22:00-24:00", "sat,mon").unwrap(),
        ] {
            let (hours, days) = shift.written();
            assert_eq!(Shift::read(&hours, &days), Ok(shift), "{hours} {days}");
        }
        assert_eq!(Shift::read("00:00-24:00", "mon-sun"), Ok(Shift::ALWAYS));
        let some = Shift::read("06:30 - 18:00", "sat,mon,wed").unwrap();
        assert_eq!(some.words(), "06:30 to 18:00, Mon, Wed, Sat");
        assert_eq!(Shift::COMMON.words(), "07:00 to 15:30, Mon to Fri");
        for (hours, days) in [
            ("15:30-07:00", "mon"),
            ("7-15", "mon"),
            ("07:00-24:01", "mon"),
            ("07:00", "mon"),
            ("07:00-15:30", "someday"),
            ("07:00-15:30", ""),
        ] {
            assert!(Shift::read(hours, days).is_err(), "{hours} {days}");
        }
    }
}
