//! A room's average day: how much of each hour its past days let count, and what a cure may expect of the days to come.
//!
//! The pattern is that of whole days that really were: ordered by what a day counted in all, the middle one, and for a slow and
//! a fast case those of a tenth and of nine tenths. A day as it was keeps a cold night together; the worst of each hour for
//! itself would make a day that never was. That a room goes on as its last two weeks did is common practice, without a source.
//!
//! *Invariants*: whole thousandths, rounded down; no hour counts above the room's declared rate, so that nothing told by it is
//! earlier than what that rate tells; a day with a gap is no whole day; fewer than [`LEAST_DAYS`] give no pattern.
//!
//! *Not here*: what a piece waits for (`rules`), fetching readings (the ledger), drawing days for a plan (`plan`).

use super::calendar::Calendar;
use super::climate::{CreditTable, RoomAir};
use super::recipe::CreditPolicy;
use crate::units::{Moment, Span};
use chrono::{NaiveDate, Timelike};

/// How many whole days are taken, the newest ones: two weeks, so that each day of the week is in it twice (common practice,
/// no source).
pub const MOST_DAYS: usize = 14;

/// The fewest whole days that make a pattern: a working week (ours, no source).
pub const LEAST_DAYS: usize = 5;

/// How far back whole days are looked for: older air is of another season (ours, no source).
pub const BACK: Span = Span::hours(28 * 24);

/// How far ahead it is told hour by hour; what lies beyond counts as the mean of these days.
const AHEAD_DAYS: usize = 60;

/// What is said of where the pattern comes from.
pub const BASIS: &str = "the whole days of the last four weeks, the newest 14 at the most, by what they counted: the middle one, the slow tenth, the fast tenth; no hour above the declared rate (common practice, no source)";

/// A whole day of readings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PastDay {
    /// Its date.
    pub date: NaiveDate,
    /// Thousandths of an hour that an hour counted, by the hour that the shop's clock showed.
    pub hours: [i64; 24],
}

impl PastDay {
    /// Thousandths of an hour that its hours counted in all.
    pub fn total(&self) -> i64 {
        self.hours.iter().sum()
    }

    fn at(&self, hour: u32) -> i64 {
        let hour = usize::try_from(hour).unwrap_or(0);
        self.hours.get(hour).copied().unwrap_or(0)
    }
}

/// Which day is taken for all days to come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Case {
    /// The middle one.
    Middle,
    /// The one at the slow tenth.
    Slow,
    /// The one at the fast tenth.
    Fast,
}

impl Case {
    const fn percent(self) -> usize {
        match self {
            Self::Slow => 10,
            Self::Middle => 50,
            Self::Fast => 90,
        }
    }
}

/// What a room counts from a moment on, in thousandths of an hour, and so on until the next one.
pub type Steps = Vec<(Moment, i64)>;

/// The last whole days of a logged room under one credit policy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoomDays {
    /// The days, the newest first.
    pub days: Vec<PastDay>,
    /// The room's declared rate, in thousandths of an hour.
    pub declared: i64,
    // From its newest reading on it is a forecast.
    ahead: Vec<Hour>,
    ends: Moment,
}

impl RoomDays {
    /// The whole days before the day of `at`; `None` for a room that is not logged or was never read.
    pub fn of(
        air: &RoomAir,
        policy: &CreditPolicy,
        calendar: &Calendar,
        at: Moment,
    ) -> Option<Self> {
        air.interval?;
        let (first, newest) = (air.samples.first()?.at, air.samples.last()?.at);
        let table = CreditTable::build(Some(air), policy);
        let earliest = calendar.local(at.minus(BACK)).date_naive();
        let mut days = Vec::new();
        let mut date = calendar.local(at).date_naive();
        while days.len() < MOST_DAYS && date > earliest {
            let end = calendar.midnight(date);
            date = date.pred_opt()?;
            let begin = calendar.midnight(date);
            if begin < first {
                break;
            }
            // The reading of midnight ends the day; what came after the newest one is no reading.
            if end <= newest && table.between(begin, end).1 == 0 {
                days.push(day(&table, date, (begin, end), calendar));
            }
        }
        let (ahead, ends) = hours_ahead(newest, calendar);
        Some(Self {
            days,
            declared: air.forecast_permille,
            ahead,
            ends,
        })
    }

    /// Whether there are enough days for a pattern.
    pub const fn enough(&self) -> bool {
        self.days.len() >= LEAST_DAYS
    }

    /// The day that is taken in a case: of rank `ceil(p n)` by what the days counted; `None` where there are too few.
    pub fn day(&self, case: Case) -> Option<&PastDay> {
        if !self.enough() {
            return None;
        }
        let mut sorted: Vec<&PastDay> = self.days.iter().collect();
        sorted.sort_by_key(|d| (d.total(), d.date));
        let rank = (case.percent() * sorted.len()).div_ceil(100).max(1);
        sorted.get(rank - 1).copied()
    }

    /// What the room counts from its newest reading on, each day as the one of a case; `None` where there are too few days.
    pub fn case(&self, case: Case) -> Option<Steps> {
        let day = self.day(case)?;
        Some(self.steps(|_| Some(day)))
    }

    /// The same with a past day for each day to come, counted from 0; `None` where there are too few.
    pub fn drawn<'a>(
        &'a self,
        draw: impl Fn(&'a [PastDay], usize) -> Option<&'a PastDay>,
    ) -> Option<Steps> {
        self.enough().then(|| self.steps(|n| draw(&self.days, n)))
    }

    fn steps<'a>(&self, day: impl Fn(usize) -> Option<&'a PastDay>) -> Steps {
        let mut out: Steps = Vec::new();
        let mut push = |from: Moment, permille: i64| {
            let permille = permille.min(self.declared);
            if out.last().is_none_or(|(_, p)| *p != permille) {
                out.push((from, permille));
            }
        };
        let (mut hours, mut sum) = (0, 0);
        let mut now: Option<(usize, &PastDay)> = None;
        for ahead in &self.ahead {
            if now.is_none_or(|(n, _)| n != ahead.day) {
                now = day(ahead.day).map(|d| (ahead.day, d));
                hours += 24;
                let counted = now.map_or(&[][..], |(_, d)| &d.hours);
                sum += counted.iter().map(|h| (*h).min(self.declared)).sum::<i64>();
            }
            if let Some((_, day)) = now {
                push(ahead.from, day.at(ahead.clock));
            }
        }
        push(self.ends, sum.div_euclid(hours.max(1)));
        out
    }
}

// An hour to come by the shop's clock: since when, on which day, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Hour {
    from: Moment,
    day: usize,
    clock: u32,
}

// The hours from a moment on, and where they end.
fn hours_ahead(from: Moment, calendar: &Calendar) -> (Vec<Hour>, Moment) {
    let mut at = from;
    let mut out = Vec::new();
    let first = calendar.local(at).date_naive();
    for (day, date) in first.iter_days().take(AHEAD_DAYS).enumerate() {
        let end = calendar.midnight(date.succ_opt().unwrap_or(date));
        while at < end {
            out.push(Hour {
                from: at,
                day,
                clock: calendar.local(at).hour(),
            });
            at = next_hour(at, calendar).min(end);
        }
    }
    (out, at)
}

// The moment at which the shop's clock shows the next full hour.
fn next_hour(at: Moment, calendar: &Calendar) -> Moment {
    let local = calendar.local(at);
    let into = Span::minutes(i64::from(local.minute())).0
        + Span::seconds(i64::from(local.second())).0
        + i64::from(local.timestamp_subsec_millis());
    at.plus(Span(Span::hours(1).0 - into))
}

// An hour that the clock change repeats counts as the mean of both; one that it leaves out, as the hour before it did.
fn day(
    table: &CreditTable,
    date: NaiveDate,
    (begin, end): (Moment, Moment),
    calendar: &Calendar,
) -> PastDay {
    let mut found = [(0_i128, 0_i128); 24];
    let mut at = begin;
    while at < end {
        let next = next_hour(at, calendar).min(end);
        let hour = usize::try_from(calendar.local(at).hour()).unwrap_or(0);
        if let Some((earned, elapsed)) = found.get_mut(hour) {
            *earned += table.between(at, next).0;
            *elapsed += i128::from(next.since(at).0);
        }
        at = next;
    }
    let mut hours = [0; 24];
    let mut before = 0;
    for (hour, (earned, elapsed)) in hours.iter_mut().zip(found) {
        if elapsed > 0 {
            before = i64::try_from(earned.div_euclid(elapsed)).unwrap_or(0);
        }
        *hour = before;
    }
    PastDay { date, hours }
}

#[cfg(test)]
mod tests {
    use super::super::climate::{Air, Climate, Sample, Stay, Tables};
    use super::super::recipe::{CreditBand, CreditLaw};
    use super::*;
    use crate::units::Temperature;
    use chrono_tz::Tz;
    use proptest::prelude::*;
    use std::collections::BTreeMap;

    const NEW_YORK: Calendar = Calendar {
        zone: Tz::America__New_York,
        day_start: 6,
    };

    fn policy() -> CreditPolicy {
        let band = |from: Option<i64>, to: Option<i64>, permille| CreditBand {
            from: from.map(Temperature),
            to: to.map(Temperature),
            to_included: false,
            permille,
            alert: false,
        };
        CreditPolicy {
            law: CreditLaw::Bands,
            bands: vec![
                band(None, Some(16_000), 0),
                band(Some(16_000), Some(20_000), 500),
                band(Some(20_000), None, 1_000),
            ],
            unlogged_permille: 500,
        }
    }

    // Readings of every quarter of an hour from a date's midnight on to the midnight after `days` days; the temperature is asked
    // by day, counted from 0, and hour of the clock.
    fn air(
        calendar: &Calendar,
        first: &str,
        days: usize,
        temperature: impl Fn(usize, u32) -> Option<i64>,
    ) -> RoomAir {
        let first: NaiveDate = first.parse().unwrap();
        let last = first.iter_days().nth(days).unwrap();
        let mut at = calendar.midnight(first);
        let mut samples = Vec::new();
        while at <= calendar.midnight(last) {
            let local = calendar.local(at);
            let day = local.date_naive().signed_duration_since(first).num_days();
            if let Some(t) = temperature(usize::try_from(day).unwrap(), local.hour()) {
                samples.push(Sample {
                    at,
                    temperature: Temperature(t),
                    humidity: None,
                });
            }
            at = at.plus(Span::minutes(15));
        }
        RoomAir {
            interval: Some(Span::minutes(15)),
            forecast_permille: 1_000,
            samples,
        }
    }

    // When a cure that begins with the newest reading has so many hours.
    fn reached(air: &RoomAir, steps: Option<&Steps>, hours: i64) -> Option<Moment> {
        let newest = air.samples.last().unwrap().at;
        let climate = Climate {
            rooms: BTreeMap::from([("r".to_owned(), air.clone())]),
        };
        let mut tables = Tables::build(&climate, &policy());
        if let Some(steps) = steps {
            tables = tables.with_ahead(&BTreeMap::from([("r".to_owned(), steps.clone())]));
        }
        let stays = [Stay {
            from: newest,
            rack: None,
            hook: None,
            room: Some("r".to_owned()),
        }];
        tables
            .credited(&stays, newest, newest, Span::hours(hours))
            .reached
    }

    #[test]
    fn the_days_are_those_that_were_and_a_cold_night_is_the_slow_one() {
        // Six days from 2 March: the third has 17.0 C until 06:00, the fifth 13.0 C until 08:00, the rest is warm.
        let room = air(&Calendar::BARE, "2026-03-02", 6, |day, hour| {
            Some(match (day, hour) {
                (2, 0..6) => 17_000,
                (4, 0..8) => 13_000,
                _ => 22_000,
            })
        });
        let at = room.samples.last().unwrap().at.plus(Span::hours(6));
        let found = RoomDays::of(&room, &policy(), &Calendar::BARE, at).unwrap();
        let totals: Vec<(String, i64)> = found
            .days
            .iter()
            .map(|d| (d.date.to_string(), d.total()))
            .collect();
        // 24 h; 18 h and 6 halves; 16 h.
        let day = |date: &str, total| (date.to_owned(), total);
        assert_eq!(
            totals,
            [
                day("2026-03-07", 24_000),
                day("2026-03-06", 16_000),
                day("2026-03-05", 24_000),
                day("2026-03-04", 21_000),
                day("2026-03-03", 24_000),
                day("2026-03-02", 24_000),
            ]
        );
        let of = |case| found.day(case).unwrap().date.to_string();
        assert_eq!(of(Case::Slow), "2026-03-06");
        assert_eq!(of(Case::Middle), "2026-03-02");
        assert_eq!(of(Case::Fast), "2026-03-07");
        // 24 h from midnight of 8 March: nothing until 08:00, 16 h that day; 8 h of the next one, from 08:00 to 16:00.
        let slow = found.case(Case::Slow).unwrap();
        let read = |text: &str| Calendar::BARE.read(text, Moment(0)).ok();
        assert_eq!(reached(&room, Some(&slow), 24), read("2026-03-09 16:00"));
        let middle = found.case(Case::Middle).unwrap();
        assert_eq!(middle.len(), 1);
        assert_eq!(reached(&room, Some(&middle), 24), read("2026-03-09 00:00"));
        assert_eq!(reached(&room, None, 24), read("2026-03-09 00:00"));
        // Beyond what is told hour by hour the mean of the day counts: 1,440 h are 960 h of credit, and 80 h more take 120 h
        // at 666 thousandths and a little.
        let far = reached(&room, Some(&slow), 960 + 80).unwrap();
        let hours = far.since(room.samples.last().unwrap().at).0 / 3_600_000;
        assert_eq!(hours, 1_440 + 120);
    }

    #[test]
    fn a_day_with_a_gap_or_an_open_end_is_no_whole_day_and_few_of_them_are_no_pattern() {
        let broken = |missing: usize| {
            air(&Calendar::BARE, "2026-03-02", 6, move |day, hour| {
                (day != missing || !(10..12).contains(&hour)).then_some(22_000)
            })
        };
        let newest = broken(9).samples.last().unwrap().at;
        let of = |room: &RoomAir, at| RoomDays::of(room, &policy(), &Calendar::BARE, at).unwrap();
        assert_eq!(of(&broken(9), newest).days.len(), 6);
        let five = of(&broken(3), newest);
        assert_eq!((five.days.len(), five.enough()), (5, true));
        // The day of the question is not over, and neither is one whose last reading stands before its midnight.
        let mut cut = broken(3);
        cut.samples.pop();
        let four = of(&cut, newest);
        assert_eq!((four.days.len(), four.enough()), (4, false));
        assert!(four.day(Case::Middle).is_none() && four.case(Case::Slow).is_none());
        assert!(four.drawn(|list, _| list.first()).is_none());
        // Days of four weeks ago are too old, and no more than the newest fourteen are taken.
        let long = air(&Calendar::BARE, "2026-03-02", 20, |_, _| Some(22_000));
        let newest = long.samples.last().unwrap().at;
        assert_eq!(of(&long, newest).days.len(), MOST_DAYS);
        assert_eq!(of(&long, newest.plus(Span::hours(24 * 20))).days.len(), 8);
        assert!(RoomDays::of(&RoomAir::default(), &policy(), &Calendar::BARE, newest).is_none());
    }

    #[test]
    fn the_days_of_a_clock_change_have_the_hours_of_the_clock() {
        // 8 March 2026 has no 02:00: it counts as 01:00 did. 1 November has two 01:00: the mean of the two counts.
        let spring = air(&NEW_YORK, "2026-03-08", 1, |_, hour| {
            Some(if hour == 1 { 17_000 } else { 22_000 })
        });
        let newest = spring.samples.last().unwrap().at;
        assert_eq!(newest.since(spring.samples[0].at), Span::hours(23));
        let found = RoomDays::of(&spring, &policy(), &NEW_YORK, newest).unwrap();
        assert_eq!(found.days[0].hours[..4], [1_000, 500, 500, 1_000]);
        assert_eq!(found.days[0].total(), 23_000);

        let mut autumn = air(&NEW_YORK, "2026-11-01", 1, |_, _| Some(22_000));
        let first = autumn.samples[0].at;
        let newest = autumn.samples.last().unwrap().at;
        assert_eq!(newest.since(first), Span::hours(25));
        // The second 01:00 hour of that night was cold.
        for s in &mut autumn.samples {
            if (2..3).contains(&(s.at.since(first).0 / 3_600_000)) {
                s.temperature = Temperature(13_000);
            }
        }
        let found = RoomDays::of(&autumn, &policy(), &NEW_YORK, newest).unwrap();
        assert_eq!(found.days[0].hours[..3], [1_000, 500, 1_000]);

        // Ahead, each hour of the clock counts as its own: over the spring change a night is an hour shorter.
        let mut rooms = air(&NEW_YORK, "2026-03-02", 5, |_, hour| {
            Some(if hour < 6 { 13_000 } else { 22_000 })
        });
        let newest = rooms.samples.last().unwrap().at;
        let found = RoomDays::of(&rooms, &policy(), &NEW_YORK, newest).unwrap();
        let steps = found.case(Case::Middle).unwrap();
        rooms.forecast_permille = 1_000;
        // From Saturday, 7 March, 00:00: 18 h that day, and one more on Sunday from 06:00 daylight time on.
        assert_eq!(
            reached(&rooms, Some(&steps), 19),
            NEW_YORK.read("2026-03-08 07:00", Moment(0)).ok()
        );
        assert_eq!(
            reached(&rooms, Some(&steps), 19).unwrap().since(newest),
            Span::hours(30)
        );
    }

    #[test]
    fn drawn_days_follow_each_other_and_the_declared_rate_holds_back() {
        let mut room = air(&Calendar::BARE, "2026-03-02", 5, |day, _| {
            Some(if day == 0 { 13_000 } else { 22_000 })
        });
        room.forecast_permille = 800;
        let newest = room.samples.last().unwrap().at;
        let found = RoomDays::of(&room, &policy(), &Calendar::BARE, newest).unwrap();
        // The oldest day, on which nothing counted, first; then days that count in full, of which 800 are let through.
        let steps = found
            .drawn(|list, n| if n == 0 { list.last() } else { list.first() })
            .unwrap();
        let second = newest.plus(Span::hours(24));
        assert_eq!(steps[..2], [(newest, 0), (second, 800)]);
        assert_eq!(
            reached(&room, Some(&steps), 8),
            Some(second.plus(Span::hours(10)))
        );
    }

    proptest! {
        #[test]
        fn no_case_is_earlier_than_the_declared_rate_tells(
            temps in proptest::collection::vec(10_000_i64..26_000, 24 * 6),
            declared in 1_i64..=1_000,
            hours in 1_i64..400,
        ) {
            let mut room = air(&Calendar::BARE, "2026-03-02", 6, |day, hour| {
                temps.get(day * 24 + usize::try_from(hour).unwrap()).copied().or(Some(20_000))
            });
            room.forecast_permille = declared;
            let newest = room.samples.last().unwrap().at;
            let found = RoomDays::of(&room, &policy(), &Calendar::BARE, newest).unwrap();
            let stated = reached(&room, None, hours).unwrap();
            let told = |case| {
                let steps = found.case(case).unwrap();
                reached(&room, Some(&steps), hours)
            };
            let [slow, middle, fast] = [Case::Slow, Case::Middle, Case::Fast].map(told);
            for case in [slow, middle, fast] {
                prop_assert!(case.is_none_or(|m| m >= stated));
            }
            let total = |case| found.day(case).unwrap().total();
            prop_assert!(total(Case::Slow) <= total(Case::Middle));
            prop_assert!(total(Case::Middle) <= total(Case::Fast));
        }
    }
}
