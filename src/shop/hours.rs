//! When people are there: the shop's shifts, the days on which it is closed, more hours on a day, and spells in which a
//! place is closed.
//!
//! *Invariants*: pure; hours that follow on each other without a gap are one spell, so that a deed may run from one shift
//! into the next. Nobody comes for a shift on a day on which the shop is closed; more hours hold on such a day, too, because
//! somebody asked for them. What is closed for a place wins over all of these.
//!
//! *Not here*: who works in a shift, and holidays that nobody entered.

use super::calendar::Calendar;
use super::shift::Shift;
use crate::units::{Moment, Span};
use chrono::NaiveDate;

/// How many openings are looked through for the next one: with one working day a week and a closed year this is enough.
const MOST: usize = 400;

/// How many closed spells are named before the rest is counted.
const NAMED: usize = 3;

/// A spell of time, the end left out.
pub type Spell = (Moment, Moment);

/// Days from the first to the last one, both among them.
pub type Days = (NaiveDate, NaiveDate);

/// `Fri 3 Apr 2026`, or `Thu 24 Dec 2026 to Fri 1 Jan 2027`.
pub fn days_words((first, last): Days) -> String {
    let day = |d: NaiveDate| d.format("%a %-d %b %Y").to_string();
    if first == last {
        day(first)
    } else {
        format!("{} to {}", day(first), day(last))
    }
}

/// Open hours.
#[derive(Debug, Clone)]
pub struct Hours {
    calendar: Calendar,
    shifts: Vec<Shift>,
    away: Vec<Days>,
    more: Vec<Spell>,
    closed: Vec<Spell>,
}

impl Hours {
    /// The hours of some shifts.
    pub fn of(calendar: &Calendar, shifts: &[Shift]) -> Self {
        Self {
            calendar: *calendar,
            shifts: shifts.to_vec(),
            away: Vec::new(),
            more: Vec::new(),
            closed: Vec::new(),
        }
    }

    /// The same without the shifts of some days.
    #[must_use]
    pub fn away(mut self, days: impl IntoIterator<Item = Days>) -> Self {
        self.away.extend(days);
        self
    }

    /// The same with more hours, whatever day they lie on.
    #[must_use]
    pub fn more(mut self, spells: &[Spell]) -> Self {
        self.more.extend(spells);
        self
    }

    /// The same for a place that is closed for some spells, whatever hours lie in them.
    #[must_use]
    pub fn closed(mut self, spells: impl IntoIterator<Item = Spell>) -> Self {
        self.closed.extend(spells);
        self
    }

    /// The shifts.
    pub fn shifts(&self) -> &[Shift] {
        &self.shifts
    }

    // The date after the days on which nobody comes for a shift, if a date is one of them.
    fn back(&self, date: NaiveDate) -> Option<NaiveDate> {
        let (_, last) = self.away.iter().find(|(a, b)| *a <= date && date <= *b)?;
        last.succ_opt()
    }

    // The end of the spell in which a moment lies, as far as one shift or one closed spell tells; `None` where closed.
    // No shift runs past midnight, so that a day on which nobody comes never begins within one.
    fn ends(&self, at: Moment) -> Option<Moment> {
        if self.closed.iter().any(|(a, b)| *a <= at && at < *b) {
            return None;
        }
        let shifts = self
            .shifts
            .iter()
            .filter_map(|s| s.ends(at, &self.calendar));
        let here = shifts
            .max()
            .filter(|_| self.away.is_empty() || self.back(self.date(at)).is_none());
        let more = self.more.iter().filter(|(a, b)| *a <= at && at < *b);
        let end = here.into_iter().chain(more.map(|(_, b)| *b)).max()?;
        let closed = self.closed.iter().map(|(a, _)| *a).filter(|a| *a > at);
        Some(closed.min().map_or(end, |c| c.min(end)))
    }

    fn date(&self, at: Moment) -> NaiveDate {
        self.calendar.local(at).date_naive()
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
            // The next shift is looked for after the days on which nobody comes for one.
            let from = match self.back(self.date(at)) {
                Some(date) => self.calendar.midnight(date),
                None => at,
            };
            let shifts = self.shifts.iter().map(|s| s.next(from, &self.calendar));
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
        let date = self.date(at);
        let shifts = self.shifts.iter().map(|s| s.on(date, &self.calendar).0);
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

    /// The next two moments by which a day is planned: noon, where it lies within a shift, and the end of a shift.
    pub fn ahead(&self, at: Moment) -> [Moment; 2] {
        let mut date = self.date(at);
        let mut found: Vec<Moment> = Vec::new();
        for _ in 0..MOST {
            if let Some(back) = self.back(date) {
                date = back;
                continue;
            }
            let on = self.shifts.iter().filter(|s| s.works(date));
            found.extend(on.flat_map(|s| s.marks(date, &self.calendar)));
            found.retain(|m| *m > at);
            let Some(next) = date.succ_opt().filter(|_| found.len() < 2) else {
                break;
            };
            date = next;
        }
        found.sort_unstable();
        let next = found.first().copied().unwrap_or(at);
        [next, found.get(1).copied().unwrap_or(next)]
    }

    /// `07:00 to 15:30, Mon to Fri`, with the days from `at` on on which the shop is closed.
    pub fn words(&self, at: Moment) -> String {
        let shifts: Vec<String> = self.shifts.iter().map(Shift::words).collect();
        let today = self.date(at);
        let mut to_come: Vec<Days> = self.away.clone();
        to_come.retain(|(_, last)| *last >= today);
        to_come.sort_unstable();
        let named: Vec<String> = to_come.iter().take(NAMED).map(|d| days_words(*d)).collect();
        let rest = match to_come.len().saturating_sub(NAMED) {
            0 => String::new(),
            n => format!(" and {n} more"),
        };
        match named.as_slice() {
            [] => shifts.join(" and "),
            list => format!("{}, closed {}{rest}", shifts.join(" and "), list.join(", ")),
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
        NEW_YORK.read(text, Moment(0)).unwrap()
    }

    #[test]
    fn more_hours_open_a_saturday_and_a_closed_spell_takes_hours_away() {
        let shifts = [Shift::COMMON];
        let more = [(at("2026-03-28 07:00"), at("2026-03-28 12:00"))];
        let closed = [(at("2026-03-30 00:00"), at("2026-03-31 00:00"))];
        let hours = Hours::of(&NEW_YORK, &shifts).more(&more).closed(closed);
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
        let hours = Hours::of(&NEW_YORK, &shifts);
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
        let hours = Hours::of(&NEW_YORK, &two);
        assert_eq!(
            hours.until(at("2026-03-26 14:00")),
            Some(at("2026-03-26 23:00"))
        );
        assert_eq!(
            hours.begins(at("2026-03-26 14:00"), Span::hours(1)),
            Some(at("2026-03-26 14:00"))
        );
    }

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn nobody_comes_for_a_shift_on_a_closed_day_but_for_overtime_somebody_does() {
        // Fri 3 Apr and Mon 6 Apr are closed: from Thu 2 Apr 15:30 to Tue 7 Apr 07:00 nobody is there.
        let shut = [
            (date("2026-04-03"), date("2026-04-03")),
            (date("2026-04-06"), date("2026-04-06")),
        ];
        let hours = Hours::of(&NEW_YORK, &[Shift::COMMON]).away(shut);
        assert_eq!(
            hours.next(at("2026-04-02 15:30")),
            Some(at("2026-04-07 07:00"))
        );
        assert_eq!(hours.until(at("2026-04-03 09:00")), None);
        assert_eq!(
            hours.begins(at("2026-04-02 15:01"), Span::minutes(30)),
            Some(at("2026-04-07 07:00"))
        );
        let open = hours.open_between(at("2026-04-02 07:00"), at("2026-04-07 15:30"));
        assert_eq!(open, Span::hours(17));
        assert_eq!(
            hours.after(at("2026-04-02 15:00"), Span::hours(1)),
            at("2026-04-07 07:30")
        );
        // Overtime on the closed Friday, from 08:00 to 12:00.
        let more = [(at("2026-04-03 08:00"), at("2026-04-03 12:00"))];
        let some = hours.clone().more(&more);
        assert_eq!(
            some.next(at("2026-04-02 15:30")),
            Some(at("2026-04-03 08:00"))
        );
        assert_eq!(
            some.until(at("2026-04-03 09:00")),
            Some(at("2026-04-03 12:00"))
        );
        assert_eq!(
            some.next(at("2026-04-03 12:00")),
            Some(at("2026-04-07 07:00"))
        );
        // A booth that is down that morning is down for overtime, too.
        let down = [(at("2026-04-03 00:00"), at("2026-04-03 10:00"))];
        assert_eq!(
            some.closed(down).next(at("2026-04-02 15:30")),
            Some(at("2026-04-03 10:00"))
        );
        assert_eq!(
            hours.words(at("2026-04-01 08:00")),
            "07:00 to 15:30, Mon to Fri, closed Fri 3 Apr 2026, Mon 6 Apr 2026"
        );
        assert_eq!(
            hours.words(at("2026-04-07 08:00")),
            "07:00 to 15:30, Mon to Fri"
        );
    }

    #[test]
    fn a_day_is_planned_by_its_next_noon_and_its_next_end_that_are_worked() {
        let common = Hours::of(&NEW_YORK, &[Shift::COMMON]);
        for (asked, noon, end) in [
            ("2026-03-02 06:45", "2026-03-02 12:00", "2026-03-02 15:30"),
            ("2026-03-02 12:00", "2026-03-02 15:30", "2026-03-03 12:00"),
            ("2026-03-02 15:30", "2026-03-03 12:00", "2026-03-03 15:30"),
            ("2026-03-06 17:00", "2026-03-09 12:00", "2026-03-09 15:30"), // over the weekend and the clock change
        ] {
            assert_eq!(common.ahead(at(asked)), [at(noon), at(end)], "{asked}");
        }
        // Noon is no part of a late shift, and a week has one working day at least.
        let late = Hours::of(&NEW_YORK, &[Shift::read("14:00-22:00", "sat").unwrap()]);
        assert_eq!(
            late.ahead(at("2026-03-07 22:00")),
            [at("2026-03-14 22:00"), at("2026-03-21 22:00")]
        );
        let shut = common.away([(date("2026-03-02"), date("2026-03-06"))]);
        assert_eq!(
            shut.ahead(at("2026-03-02 08:00")),
            [at("2026-03-09 12:00"), at("2026-03-09 15:30")]
        );
    }
}
