//! A point in time and a span of time, as the record keeps them.

/// A point in time: milliseconds since 1970-01-01T00:00:00Z. Waits are differences of two of these, so a change of
/// the wall clock's zone never shortens one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Moment(pub i64);

/// A span of time in milliseconds; negative when it runs backwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span(pub i64);

impl Span {
    /// A span of whole seconds.
    pub const fn seconds(value: i64) -> Self {
        Self(value * 1_000)
    }

    /// A span of whole minutes.
    pub const fn minutes(value: i64) -> Self {
        Self(value * 60_000)
    }

    /// A span of whole hours.
    pub const fn hours(value: i64) -> Self {
        Self(value * 3_600_000)
    }

    /// Whole minutes, rounded up: a wait of one second is shown as one minute, never as none.
    pub const fn minutes_up(self) -> i64 {
        self.0.div_euclid(60_000) + if self.0.rem_euclid(60_000) > 0 { 1 } else { 0 }
    }

    /// A wait as far as it is shown, rounded up: to the minute, and from a day on to the hour, so that a wait is never
    /// shown shorter than it is.
    #[must_use]
    pub const fn wait(self) -> Self {
        let minutes = self.minutes_up();
        if minutes < 1_440 {
            Self::minutes(minutes)
        } else {
            Self::minutes((minutes + 59) / 60 * 60)
        }
    }

    /// The span as people say it: `45 s`, `89 min 58 s`, `2 h 05 min`, `3 d 04 h`. Minutes are kept up to two hours,
    /// because intervals between coats are spoken of in minutes.
    pub fn words(self) -> String {
        let total = self.0.abs() / 1_000;
        let (days, hours, minutes, seconds) =
            (total / 86_400, total / 3_600, total / 60, total % 60);
        let sign = if self.0 < 0 { "-" } else { "" };
        match (days, hours, minutes, seconds) {
            (1.., ..) => format!("{sign}{days} d {:02} h", hours % 24),
            (_, 2.., _, _) if minutes % 60 > 0 => {
                format!("{sign}{hours} h {:02} min", minutes % 60)
            }
            (_, 2.., _, _) => format!("{sign}{hours} h"),
            (_, _, 1.., 1..) => format!("{sign}{minutes} min {seconds} s"),
            (_, _, 1.., _) => format!("{sign}{minutes} min"),
            _ => format!("{sign}{seconds} s"),
        }
    }
}

impl Moment {
    /// The moment a span later.
    #[must_use]
    pub const fn plus(self, span: Span) -> Self {
        Self(self.0.saturating_add(span.0))
    }

    /// The moment a span earlier.
    #[must_use]
    pub const fn minus(self, span: Span) -> Self {
        Self(self.0.saturating_sub(span.0))
    }

    /// The span from `earlier` to this moment.
    pub const fn since(self, earlier: Self) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }

    /// What is left of a wait until `until`, as people read it: rounded up once, to the minute that is shown as its end.
    /// Where two places say it, both ask here.
    #[must_use]
    pub const fn left_until(self, until: Self) -> Span {
        until.minute_up().since(self).wait()
    }

    /// The next whole minute, or this one when it is whole: a ready time is never shown too early.
    #[must_use]
    pub const fn minute_up(self) -> Self {
        Self(
            self.0.div_euclid(60_000) * 60_000
                + if self.0.rem_euclid(60_000) > 0 {
                    60_000
                } else {
                    0
                },
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_second_left_is_shown_as_one_minute() {
        assert_eq!(Span(1_000).minutes_up(), 1);
        assert_eq!(Span(60_000).minutes_up(), 1);
        assert_eq!(Span(60_001).minutes_up(), 2);
        assert_eq!(Span(0).minutes_up(), 0);
    }

    #[test]
    fn a_wait_of_a_day_and_more_is_shown_in_whole_hours_rounded_up() {
        assert_eq!(Span(1_000).wait(), Span::minutes(1));
        assert_eq!(Span::minutes(1_439).wait(), Span::minutes(1_439));
        assert_eq!(Span(86_399_999).wait(), Span::hours(24));
        assert_eq!(Span(86_400_001).wait(), Span::hours(25));
        assert_eq!(Span::minutes(38 * 60 + 1).wait().words(), "1 d 15 h");
    }

    #[test]
    fn what_is_left_goes_with_the_minute_that_is_shown() {
        // Until 10:30:20, which is shown as 10:31: at 10:29:30 two minutes are left by that clock, not one.
        let at = |seconds: i64| Moment(seconds * 1_000);
        assert_eq!(at(30).left_until(at(80)), Span::minutes(2));
        assert_eq!(at(30).left_until(at(120)), Span::minutes(2));
        assert_eq!(at(59).left_until(at(60)), Span::minutes(1));
        assert_eq!(at(60).left_until(at(60)), Span::minutes(0));
    }

    #[test]
    fn a_span_reads_as_people_say_it() {
        assert_eq!(Span::minutes(20).words(), "20 min");
        assert_eq!(Span(5_398_000).words(), "89 min 58 s");
        assert_eq!(Span::hours(19).words(), "19 h");
        assert_eq!(Span(1_000).words(), "1 s");
        assert_eq!(Span::hours(76).words(), "3 d 04 h");
    }
}
