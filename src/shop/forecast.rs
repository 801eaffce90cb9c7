//! When a limit would be reached if the shop went on as it did in the last weeks.
//!
//! The rate is the mean of the last whole production days. From tomorrow on each day adds so much, while the months that no
//! longer belong to the period fall out of it as it moves.
//!
//! *Invariants*: pure and exact (whole numbers of 128 bit); a record that is too short for the rate gives no forecast; the
//! rate says nothing of what is planned, and the answer is a date, never a judgement.
//!
//! *Not here*: what was used (the ledger's sums), words (`reports::forecast`).

use super::calendar::Day;
use crate::units::Mass;
use chrono::Datelike;
use std::collections::BTreeMap;

/// Whole production days that the rate is the mean of, days without work included: four weeks, so that each weekday is in
/// it four times. The shop's rate of last week is common practice, no source.
pub const DAYS: i32 = 28;

/// How far ahead is looked.
const AHEAD: i32 = 731;

/// What was used in the last whole production days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rate {
    /// First of the days.
    pub first: Day,
    /// Last of the days.
    pub last: Day,
    /// What was used in them.
    pub mass: Mass,
    /// Coats of one piece in them of which the amount is known.
    pub coats: i64,
    /// What these coats used.
    pub coat_mass: Mass,
}

impl Rate {
    /// How many days it is the mean of.
    pub fn days(&self) -> i64 {
        i64::from(self.last.0 - self.first.0 + 1).max(1)
    }

    /// How many coats of one piece so much is, at the mean of the logged ones; `None` where none was logged.
    pub fn coats_in(&self, mass: Mass) -> Option<i64> {
        if self.coats <= 0 || self.coat_mass.0 <= 0 {
            return None;
        }
        let coats =
            i128::from(mass.0.max(0)) * i128::from(self.coats) / i128::from(self.coat_mass.0);
        i64::try_from(coats).ok()
    }
}

/// What is forecast of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Forecast {
    /// What is left to the limit today; below zero when it is over.
    pub left: Mass,
    /// The first production day at whose end it would be reached; `None`: not up to [`Forecast::until`].
    pub on: Option<Day>,
    /// The last day that was looked at.
    pub until: Day,
}

/// When a limit on the sum of `span` months, the present one included, would be reached. `months` are the sums of past
/// months and of the present one so far, by their first day.
pub fn forecast(
    months: &BTreeMap<Day, Mass>,
    span: u32,
    today: Day,
    limit: Mass,
    rate: &Rate,
) -> Forecast {
    let sums: BTreeMap<i32, i128> = months
        .iter()
        .map(|(day, mass)| (month_of(*day), i128::from(mass.0)))
        .collect();
    let back = i32::try_from(span.max(1)).unwrap_or(1) - 1;
    let days = i128::from(rate.days());
    let known = |last: i32| -> i128 { sums.range(last - back..=last).map(|(_, m)| *m).sum() };
    let limit_of_days = i128::from(limit.0) * days;
    let now = known(month_of(today));
    // What is forecast is kept by month, as whole days at the rate, so that it falls out with its month.
    let mut ahead: BTreeMap<i32, i128> = BTreeMap::new();
    let mut until = today;
    let mut on = (now * days >= limit_of_days).then_some(today);
    for n in 1..=AHEAD {
        if on.is_some() {
            break;
        }
        let day = Day(today.0 + n);
        let month = month_of(day);
        if span <= 1 && month != month_of(today) {
            break;
        }
        until = day;
        *ahead.entry(month).or_default() += 1;
        let coming: i128 = ahead.range(month - back..=month).map(|(_, d)| *d).sum();
        if known(month) * days + coming * i128::from(rate.mass.0) >= limit_of_days {
            on = Some(day);
        }
    }
    let left = i128::from(limit.0) - now;
    Forecast {
        left: Mass(i64::try_from(left).unwrap_or(0)),
        on,
        until,
    }
}

fn month_of(day: Day) -> i32 {
    let date = day.date();
    let month0 = i32::try_from(date.month0()).unwrap_or(0);
    date.year() * 12 + month0
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;

    fn day(text: &str) -> Day {
        Day::of(NaiveDate::parse_from_str(text, "%Y-%m-%d").unwrap_or_default())
    }

    fn kg(kg: i64) -> Mass {
        Mass(kg * 1_000_000)
    }

    fn rate(in_28_days: i64) -> Rate {
        Rate {
            first: day("2026-02-24"),
            last: day("2026-03-23"),
            mass: kg(in_28_days),
            coats: 200,
            coat_mass: Mass(5_514_000),
        }
    }

    // April 2025 to February 2026 8 kg each, March 6 kg so far: 94 kg in the twelve months.
    fn months() -> BTreeMap<Day, Mass> {
        let before = (4..=12).map(|m| format!("2025-{m:02}-01"));
        let mut list: BTreeMap<Day, Mass> = before
            .chain(["2026-01-01".to_owned(), "2026-02-01".to_owned()])
            .map(|m| (day(&m), kg(8)))
            .collect();
        list.insert(day("2026-03-01"), kg(6));
        list
    }

    #[test]
    fn a_limit_of_twelve_months_is_reached_by_hand_on_21_april() {
        let rate = rate(14);
        assert_eq!(rate.days(), 28);
        // 0.5 kg a day. 31 March: 94 + 7 x 0.5 = 97.5. 1 April: less the 8 kg of April 2025, + 0.5 = 90.0.
        // 20 April: 90 + 19 x 0.5 = 99.5. 21 April: 100.0.
        let found = forecast(&months(), 12, day("2026-03-24"), kg(100), &rate);
        assert_eq!(found.on, Some(day("2026-04-21")));
        assert_eq!(found.left, kg(6));
        // 6 kg at 27.57 g a coat.
        assert_eq!(rate.coats_in(found.left), Some(217));
        // A milligram more and it is a day later.
        let found = forecast(&months(), 12, day("2026-03-24"), Mass(100_000_001), &rate);
        assert_eq!(found.on, Some(day("2026-04-22")));
    }

    #[test]
    fn what_falls_out_of_the_period_can_keep_it_below_for_good() {
        // 0.25 kg a day: at most 95.75 on 31 March, and 91.25 in a year of such days.
        let found = forecast(&months(), 12, day("2026-03-24"), kg(100), &rate(7));
        assert_eq!(found.on, None);
        assert_eq!(found.until, Day(day("2026-03-24").0 + AHEAD));
    }

    #[test]
    fn a_limit_of_a_month_is_looked_at_to_the_end_of_that_month() {
        // 6 kg on 24 March and 0.5 a day: 9.5 on 31 March.
        let month = |limit| forecast(&months(), 1, day("2026-03-24"), limit, &rate(14));
        assert_eq!(month(kg(9)).on, Some(day("2026-03-30")));
        assert_eq!(month(kg(10)).on, None);
        assert_eq!(month(kg(10)).until, day("2026-03-31"));
        assert_eq!(month(kg(6)).on, Some(day("2026-03-24")));
        assert_eq!(month(kg(5)).left, kg(-1));
    }
}
