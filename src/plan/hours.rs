//! When people are there: the shop's shifts, more hours on a day, and spells in which a place is closed.
//!
//! *Invariants*: pure; hours that follow on each other without a gap are one spell, so that a deed may run from one shift
//! into the next. What is closed wins over what is open.
//!
//! *Not here*: who works in a shift, and holidays that nobody entered.

use crate::shop::calendar::Calendar;
use crate::shop::shift::Shift;
use crate::units::{Moment, Span};

/// How many openings are looked through for the next one: with one working day a week and a closed year this is enough.
const MOST: usize = 400;

/// A spell of time, the end left out.
pub type Spell = (Moment, Moment);

/// Open hours.
#[derive(Debug, Clone)]
pub struct Hours<'a> {
    calendar: &'a Calendar,
    shifts: &'a [Shift],
    more: &'a [Spell],
    closed: Vec<Spell>,
}

impl<'a> Hours<'a> {
    /// The hours of some shifts, with more of them, and without the spells in which it is closed.
    pub const fn new(
        calendar: &'a Calendar,
        shifts: &'a [Shift],
        more: &'a [Spell],
        closed: Vec<Spell>,
    ) -> Self {
        Self {
            calendar,
            shifts,
            more,
            closed,
        }
    }

    // The end of the spell in which a moment lies, as far as one shift or one closed spell tells; `None` where closed.
    fn ends(&self, at: Moment) -> Option<Moment> {
        if self.closed.iter().any(|(a, b)| *a <= at && at < *b) {
            return None;
        }
        let shifts = self.shifts.iter().filter_map(|s| s.ends(at, self.calendar));
        let more = self.more.iter().filter(|(a, b)| *a <= at && at < *b);
        let end = shifts.chain(more.map(|(_, b)| *b)).max()?;
        let closed = self.closed.iter().map(|(a, _)| *a).filter(|a| *a > at);
        Some(closed.min().map_or(end, |c| c.min(end)))
    }

    /// Until when it is open without a gap; `None` where it is closed at this moment.
    pub fn until(&self, at: Moment) -> Option<Moment> {
        let mut end = self.ends(at)?;
        // Shifts that touch are one; a week of them is as good as for ever.
        for _ in 0..21 {
            match self.ends(end) {
                Some(next) => end = next,
                None => break,
            }
        }
        Some(end)
    }

    /// The first moment at or after this one at which it is open; `None` where none is in sight.
    pub fn next(&self, at: Moment) -> Option<Moment> {
        let mut at = at;
        for _ in 0..MOST {
            if let Some((_, end)) = self.closed.iter().find(|(a, b)| *a <= at && at < *b) {
                at = *end;
                continue;
            }
            if self.ends(at).is_some() {
                return Some(at);
            }
            let shifts = self.shifts.iter().map(|s| s.next(at, self.calendar));
            let more = self.more.iter().map(|(a, _)| *a);
            at = shifts.chain(more).filter(|m| *m > at).min()?;
        }
        None
    }

    /// The first moment from this one on at which so long a deed can be begun and ended without a break; a deed that is
    /// longer than any spell begins with one.
    pub fn begins(&self, at: Moment, took: Span) -> Option<Moment> {
        let from = self.next(at)?;
        let end = self.until(from)?;
        if from.plus(took) <= end {
            return Some(from);
        }
        if self.opened(from) == from {
            return Some(from);
        }
        self.next(end)
    }

    // When the spell of an open moment began, by looking at its beginnings; the moment itself where none is found.
    fn opened(&self, at: Moment) -> Moment {
        let date = self.calendar.local(at).date_naive();
        let shifts = self.shifts.iter().map(|s| s.on(date, self.calendar).0);
        let more = self.more.iter().map(|(a, _)| *a);
        let closed = self.closed.iter().map(|(_, b)| *b);
        shifts
            .chain(more)
            .chain(closed)
            .filter(|m| *m <= at && self.until(*m).is_some_and(|end| end > at))
            .min()
            .unwrap_or(at)
    }

    /// How much of the time between two moments is open.
    pub fn open_between(&self, from: Moment, to: Moment) -> Span {
        let mut open = 0;
        let mut at = from;
        while at < to {
            let Some(begin) = self.next(at).filter(|b| *b < to) else {
                break;
            };
            let Some(end) = self.ends(begin) else { break };
            open += end.min(to).since(begin).0;
            at = end;
        }
        Span(open)
    }

    /// The moment at which so much open time has gone by since `from`; with none to pass, `from` itself.
    pub fn after(&self, from: Moment, open: Span) -> Moment {
        let mut left = open.0;
        let mut at = from;
        for _ in 0..MOST {
            if left <= 0 {
                return at;
            }
            let Some(begin) = self.next(at) else {
                return at;
            };
            let Some(end) = self.ends(begin) else {
                return at;
            };
            let here = end.since(begin).0;
            if here >= left {
                return begin.plus(Span(left));
            }
            left -= here;
            at = end;
        }
        at
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
        NEW_YORK.read(text, Moment(0)).unwrap()
    }

    #[test]
    fn more_hours_open_a_saturday_and_a_closed_spell_takes_hours_away() {
        let shifts = [Shift::COMMON];
        let more = [(at("2026-03-28 07:00"), at("2026-03-28 12:00"))];
        let closed = vec![(at("2026-03-30 00:00"), at("2026-03-31 00:00"))];
        let hours = Hours::new(&NEW_YORK, &shifts, &more, closed);
        let next = |text: &str| hours.next(at(text)).unwrap();
        assert_eq!(next("2026-03-27 15:30"), at("2026-03-28 07:00"));
        assert_eq!(next("2026-03-28 12:00"), at("2026-03-31 07:00"));
        assert_eq!(
            hours.until(at("2026-03-28 11:00")),
            Some(at("2026-03-28 12:00"))
        );
        assert_eq!(hours.until(at("2026-03-30 11:00")), None);
        // 8.5 h on Friday, 5 h on Saturday, none on Monday.
        let open = hours.open_between(at("2026-03-27 00:00"), at("2026-03-31 07:00"));
        assert_eq!(open, Span::minutes(810));
        assert_eq!(
            hours.after(at("2026-03-27 15:00"), Span::hours(6)),
            at("2026-03-31 07:30")
        );
    }

    #[test]
    fn a_deed_begins_only_where_it_can_end_and_shifts_that_touch_are_one() {
        let shifts = [Shift::COMMON];
        let hours = Hours::new(&NEW_YORK, &shifts, &[], Vec::new());
        let begins = |text: &str, min| hours.begins(at(text), Span::minutes(min)).unwrap();
        assert_eq!(begins("2026-03-26 15:00", 30), at("2026-03-26 15:00"));
        assert_eq!(begins("2026-03-26 15:01", 30), at("2026-03-27 07:00"));
        // Ten hours are longer than any shift: begun when one opens, not in the midst of it.
        assert_eq!(begins("2026-03-26 07:00", 600), at("2026-03-26 07:00"));
        assert_eq!(begins("2026-03-26 05:00", 600), at("2026-03-26 07:00"));
        assert_eq!(begins("2026-03-26 09:00", 600), at("2026-03-27 07:00"));
        let two = [
            Shift::read("06:00-14:30", "mon-fri").unwrap(),
            Shift::read("14:30-23:00", "mon-fri").unwrap(),
        ];
        let hours = Hours::new(&NEW_YORK, &two, &[], Vec::new());
        assert_eq!(
            hours.until(at("2026-03-26 14:00")),
            Some(at("2026-03-26 23:00"))
        );
        assert_eq!(
            hours.begins(at("2026-03-26 14:00"), Span::hours(1)),
            Some(at("2026-03-26 14:00"))
        );
    }
}
