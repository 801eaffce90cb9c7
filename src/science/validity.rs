//! Holding a value against the range in which a formula is valid.
//!
//! *Invariants*: a value outside its range, or one that is not a number, is refused with its name, value, unit,
//! range and the source of the range; it is never clamped and nothing is extrapolated.
//!
//! A worksheet turns it into its own refusal, so that a command names the same figures as the function.
//!
//! *Not here*: the possible ranges of the record's amounts, see [`crate::units::Amount`].

use super::worksheet::Refusal;

/// A value outside the range in which a formula is valid.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "{name} {} {unit} is outside {} to {} {unit}; {because}",
    short(*value),
    short(*low),
    short(*high)
)]
pub struct Outside {
    /// The quantity.
    pub name: &'static str,
    /// Its value, in `unit`.
    pub value: f64,
    /// The unit of value and range.
    pub unit: &'static str,
    /// The lowest value that is taken, in `unit`.
    pub low: f64,
    /// The highest value that is taken, in `unit`.
    pub high: f64,
    /// Where the range comes from, or what breaks outside it.
    pub because: &'static str,
}

impl From<Outside> for Refusal {
    fn from(outside: Outside) -> Self {
        let with_unit = |value: f64| {
            if outside.unit == "1" {
                short(value)
            } else {
                format!("{} {}", short(value), outside.unit)
            }
        };
        Self::OutsideValidity {
            input: outside.name.to_owned(),
            value: with_unit(outside.value),
            allowed: format!(
                "{} to {} ({})",
                short(outside.low),
                with_unit(outside.high),
                outside.because
            ),
        }
    }
}

// Nine decimals at most: a change of unit leaves digits such as 110.00000000000001 that nobody typed.
fn short(value: f64) -> String {
    let text = format!("{value:.9}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The range of one argument of a formula: name, unit, lowest, highest and why.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// The quantity.
    pub name: &'static str,
    /// The unit of the range.
    pub unit: &'static str,
    /// The lowest value that is taken.
    pub low: f64,
    /// The highest value that is taken.
    pub high: f64,
    /// Where the range comes from, or what breaks outside it.
    pub because: &'static str,
}

impl Range {
    /// Gives `value`, or refuses it when it lies outside. Infinity and what is not a number are outside every range.
    ///
    /// A change of unit may move the last digits, so a billionth beyond an end is not outside it.
    pub fn hold(&self, value: f64) -> Result<f64, Outside> {
        let slack = |end: f64| {
            if end == 0.0 {
                (1.0e-12 * self.high.abs()).min(1.0e-9)
            } else {
                1.0e-9 * end.abs()
            }
        };
        if value.is_finite()
            && value >= self.low - slack(self.low)
            && value <= self.high + slack(self.high)
        {
            Ok(value)
        } else {
            Err(Outside {
                name: self.name,
                value,
                unit: self.unit,
                low: self.low,
                high: self.high,
                because: self.because,
            })
        }
    }
}

/// A short way to write a [`Range`] in a table of constants.
pub const fn range(
    name: &'static str,
    unit: &'static str,
    low: f64,
    high: f64,
    because: &'static str,
) -> Range {
    Range {
        name,
        unit,
        low,
        high,
        because,
    }
}

/// On which side of a limit a figure lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// Below the limit.
    Under,
    /// At the limit.
    At,
    /// Above the limit.
    Over,
}

/// On which side of `limit` the `figure` lies; both in one unit.
///
/// A billionth of the limit counts as being at it: 100 ft/min written as metres per second must not turn out above
/// or below itself.
pub fn against(figure: f64, limit: f64) -> Against {
    let slack = 1.0e-9 * limit.abs();
    if figure > limit + slack {
        Against::Over
    } else if figure < limit - slack {
        Against::Under
    } else {
        Against::At
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_belong_to_the_range_and_no_number_does_not() {
        let limit = range("share", "%", 0.0, 100.0, "a share of a whole");
        assert_eq!(limit.hold(0.0).ok(), Some(0.0));
        assert_eq!(limit.hold(100.0).ok(), Some(100.0));
        for wrong in [-0.1, 100.1, f64::NAN, f64::INFINITY] {
            assert!(limit.hold(wrong).is_err(), "{wrong}");
        }
        let positive = range("limit", "ppm", 0.001, 1.0e6, "it divides");
        assert!(positive.hold(0.0).is_err());
        assert!(limit.hold(100.0 + 1.0e-8).is_ok());
        assert!(limit.hold(-1.0e-11).is_ok());
        assert_eq!(
            limit.hold(120.0).err().map(|e| e.to_string()).as_deref(),
            Some("share 120 % is outside 0 to 100 %; a share of a whole")
        );
    }
}
