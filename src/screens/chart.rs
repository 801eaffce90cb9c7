//! The arithmetic of charts: values to rows, moments to columns, readings to stretches and gaps.
//!
//! *Invariants*: whole numbers only, so that a chart is the same everywhere; what lies outside a scale has no row and is
//! never moved onto its edge; a column in which nothing is known is a gap.
//!
//! *Not here*: cells, inks and words (`view`).

use crate::units::{Moment, Span};

/// A span of values on a number of rows; the highest value lies on the first row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scale {
    low: i64,
    high: i64,
    rows: u16,
}

impl Scale {
    /// From `low` on the last row to `high` on the first; a span of nothing is made one wide.
    pub const fn new(low: i64, high: i64, rows: u16) -> Self {
        let high = if high > low { high } else { low + 1 };
        Self { low, high, rows }
    }

    /// A scale that holds all of these values, its ends on whole multiples of `step`; `None` without a value.
    pub fn holding(values: impl IntoIterator<Item = i64>, step: i64, rows: u16) -> Option<Self> {
        let step = step.max(1);
        let (low, high) = values.into_iter().fold(None, |ends, v| {
            ends.map_or(Some((v, v)), |(low, high): (i64, i64)| {
                Some((low.min(v), high.max(v)))
            })
        })?;
        let low = low.div_euclid(step) * step;
        let high = -((-high).div_euclid(step) * step);
        Some(Self::new(low, high.max(low + step), rows))
    }

    /// The value of the last row.
    pub const fn low(&self) -> i64 {
        self.low
    }

    /// The value of the first row.
    pub const fn high(&self) -> i64 {
        self.high
    }

    /// How many rows it has.
    pub const fn rows(&self) -> u16 {
        self.rows
    }

    /// The row of a value, to the nearest; `None` outside the scale.
    pub fn row(&self, value: i64) -> Option<u16> {
        if self.rows == 0 || !(self.low..=self.high).contains(&value) {
            return None;
        }
        let steps = i128::from(self.rows - 1);
        let span = i128::from(self.high) - i128::from(self.low);
        let up = i128::from(value) - i128::from(self.low);
        let row = (2 * up * steps + span).div_euclid(2 * span);
        u16::try_from(steps - row).ok()
    }

    /// The rows from one value to another, first row first, as far as they lie on the scale.
    pub fn rows_of(&self, low: i64, high: i64) -> Option<(u16, u16)> {
        if high < self.low || low > self.high {
            return None;
        }
        Some((self.row(high.min(self.high))?, self.row(low.max(self.low))?))
    }
}

/// A span of time on a number of columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Columns {
    from: Moment,
    to: Moment,
    count: u16,
}

impl Columns {
    /// From `from` to `to`; a span of nothing is made one millisecond long for each column.
    pub fn new(from: Moment, to: Moment, count: u16) -> Self {
        let least = from.0.saturating_add(i64::from(count));
        let to = if to.0 > least { to } else { Moment(least) };
        Self { from, to, count }
    }

    /// How many columns there are.
    pub const fn count(&self) -> u16 {
        self.count
    }

    /// From when to when a column goes, its end left out.
    pub fn span(&self, column: u16) -> (Moment, Moment) {
        (self.edge(column), self.edge(column.saturating_add(1)))
    }

    fn edge(&self, column: u16) -> Moment {
        let length = i128::from(self.to.0) - i128::from(self.from.0);
        let part = length * i128::from(column) / i128::from(self.count.max(1));
        Moment(i64::try_from(i128::from(self.from.0) + part).unwrap_or(self.to.0))
    }

    /// The column of a moment; `None` outside of them. The very end lies in the last one.
    pub fn at(&self, moment: Moment) -> Option<u16> {
        if moment < self.from || moment > self.to || self.count == 0 {
            return None;
        }
        let column = (0..self.count).rev().find(|c| self.edge(*c) <= moment)?;
        Some(column)
    }
}

/// A value that held for a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Since when.
    pub from: Moment,
    /// Until when, left out.
    pub to: Moment,
    /// The value.
    pub value: i64,
}

/// How long each reading stands for the air: until the next one where that comes within `hold`; before a longer gap a
/// reading is only its own moment, and the newest one holds for `hold`, at most until `until`.
pub fn stretches(readings: &[(Moment, i64)], hold: Span, until: Moment) -> Vec<Stretch> {
    let nexts = readings.iter().skip(1).map(|(at, _)| Some(*at));
    readings
        .iter()
        .zip(nexts.chain([None]))
        .filter(|((at, _), _)| *at <= until)
        .map(|((at, value), next)| {
            let to = match next {
                Some(next) if next.since(*at) <= hold => next,
                Some(_) => at.plus(Span(1)),
                None => at.plus(hold),
            };
            Stretch {
                from: *at,
                to: to.min(until).max(at.plus(Span(1))),
                value: *value,
            }
        })
        .collect()
}

/// What is known in one column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bucket {
    /// The lowest value.
    pub low: i64,
    /// The highest value.
    pub high: i64,
    /// The mean by time, towards the lower whole number.
    pub mean: i64,
}

/// The values of each column; a column in which no stretch lies is a gap.
pub fn buckets(columns: &Columns, stretches: &[Stretch]) -> Vec<Option<Bucket>> {
    let mut rest = stretches;
    (0..columns.count())
        .map(|column| {
            let (from, to) = columns.span(column);
            // Stretches are in order of time: those that ended before this column are done with.
            while let Some((first, more)) = rest.split_first()
                && first.to <= from
            {
                rest = more;
            }
            let mut found: Option<(Bucket, i128, i128)> = None;
            for s in rest.iter().take_while(|s| s.from < to) {
                let length = i128::from(s.to.min(to).since(s.from.max(from)).0.max(1));
                let (b, sum, time) = found.unwrap_or((
                    Bucket {
                        low: s.value,
                        high: s.value,
                        mean: s.value,
                    },
                    0,
                    0,
                ));
                let (sum, time) = (sum + length * i128::from(s.value), time + length);
                let bucket = Bucket {
                    low: b.low.min(s.value),
                    high: b.high.max(s.value),
                    mean: i64::try_from(sum.div_euclid(time)).unwrap_or(s.value),
                };
                found = Some((bucket, sum, time));
            }
            found.map(|(bucket, _, _)| bucket)
        })
        .collect()
}

/// Where a step plot goes from one row to the next: the rows between, without the two ends.
pub fn riser(from: u16, to: u16) -> std::ops::Range<u16> {
    from.min(to).saturating_add(1)..from.max(to)
}

/// How many of `count` groups of cells fit a width, and how wide each is: as wide as `widest`, narrower where there are
/// many; where even cells of one do not fit, only the newest ones are shown.
pub fn groups(count: usize, width: u16, widest: u16) -> (usize, u16) {
    let each = (1..=widest.max(1))
        .rev()
        .find(|w| count.saturating_mul(usize::from(*w)) <= usize::from(width))
        .unwrap_or(1);
    (count.min(usize::from(width / each)), each)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MIN: i64 = 60_000;

    #[test]
    fn the_ends_of_a_scale_lie_on_its_first_and_last_row_and_what_is_outside_has_none() {
        let scale = Scale::new(0, 100, 11);
        assert_eq!(scale.row(0), Some(10));
        assert_eq!(scale.row(100), Some(0));
        assert_eq!(scale.row(50), Some(5));
        assert_eq!(scale.row(54), Some(5));
        assert_eq!(scale.row(55), Some(4));
        assert_eq!(scale.row(-1), None);
        assert_eq!(scale.row(101), None);
        assert_eq!(Scale::new(0, 100, 0).row(50), None);
    }

    #[test]
    fn a_scale_holds_every_value_and_ends_on_whole_steps() {
        let scale = Scale::holding([18_300, 22_100, 19_000], 1_000, 6).unwrap();
        assert_eq!((scale.low(), scale.high()), (18_000, 23_000));
        let cold = Scale::holding([-2_300, -100], 1_000, 6).unwrap();
        assert_eq!((cold.low(), cold.high()), (-3_000, 0));
        let even = Scale::holding([20_000], 1_000, 6).unwrap();
        assert_eq!((even.low(), even.high()), (20_000, 21_000));
        assert_eq!(Scale::holding([], 1_000, 6), None);
    }

    #[test]
    fn a_band_is_cut_at_the_ends_of_the_scale_and_is_gone_beyond_them() {
        let scale = Scale::new(0, 100, 11);
        assert_eq!(scale.rows_of(40, 250), Some((0, 6)));
        assert_eq!(scale.rows_of(20, 40), Some((6, 8)));
        assert_eq!(scale.rows_of(120, 250), None);
    }

    #[test]
    fn columns_part_a_span_without_a_hole_and_each_moment_has_one() {
        let columns = Columns::new(Moment(1_000), Moment(1_100), 7);
        let mut end = Moment(1_000);
        for c in 0..7 {
            let (from, to) = columns.span(c);
            assert_eq!(from, end);
            assert!(to > from);
            assert_eq!(columns.at(from), Some(c));
            end = to;
        }
        assert_eq!(end, Moment(1_100));
        assert_eq!(columns.at(Moment(1_100)), Some(6));
        assert_eq!(columns.at(Moment(999)), None);
        assert_eq!(columns.at(Moment(1_101)), None);
    }

    #[test]
    fn a_reading_holds_until_the_next_and_a_longer_gap_is_left_open() {
        let readings = [
            (Moment(0), 20),
            (Moment(15 * MIN), 21),
            (Moment(120 * MIN), 22),
        ];
        let held = stretches(&readings, Span::minutes(30), Moment(140 * MIN));
        let ends: Vec<(i64, i64)> = held.iter().map(|s| (s.from.0, s.to.0)).collect();
        assert_eq!(
            ends,
            [
                (0, 15 * MIN),
                (15 * MIN, 15 * MIN + 1),
                (120 * MIN, 140 * MIN)
            ]
        );
    }

    #[test]
    fn a_column_without_a_reading_is_a_gap_and_a_mean_is_by_time() {
        let held = [
            Stretch {
                from: Moment(0),
                to: Moment(30),
                value: 10,
            },
            Stretch {
                from: Moment(30),
                to: Moment(40),
                value: 50,
            },
            Stretch {
                from: Moment(80),
                to: Moment(100),
                value: 7,
            },
        ];
        let found = buckets(&Columns::new(Moment(0), Moment(120), 3), &held);
        assert_eq!(
            found[0],
            Some(Bucket {
                low: 10,
                high: 50,
                mean: 20
            })
        );
        assert_eq!(found[1], None);
        assert_eq!(found[2].map(|b| b.mean), Some(7));
    }

    #[test]
    fn a_riser_fills_the_rows_between_two_steps_in_either_direction() {
        assert_eq!(riser(2, 5), 3..5);
        assert_eq!(riser(5, 2), 3..5);
        assert!(riser(3, 3).is_empty());
        assert!(riser(3, 4).is_empty());
    }

    #[test]
    fn groups_grow_narrow_before_any_is_left_out() {
        assert_eq!(groups(10, 60, 4), (10, 4));
        assert_eq!(groups(20, 60, 4), (20, 3));
        assert_eq!(groups(60, 60, 4), (60, 1));
        assert_eq!(groups(75, 60, 4), (60, 1));
        assert_eq!(groups(0, 60, 4), (0, 4));
    }
}
