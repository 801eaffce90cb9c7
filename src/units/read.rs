//! Reading a number with its unit, exactly, and a date.

use super::num;
use super::table::{Dimension, Unit, find, spellings};
use chrono::NaiveDate;

/// A number as it was typed, with its unit: `mantissa / 10^scale` of `unit`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    mantissa: i128,
    scale: u32,
    /// The unit that was typed, or the one a bare number takes.
    pub unit: &'static Unit,
}

/// Why a text is not a quantity. The message names the text, what is accepted and the fix.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum UnitFault {
    /// Nothing was typed.
    #[error("no value given; write a number and a unit such as {example}")]
    Empty {
        /// A text that would be accepted.
        example: String,
    },
    /// The text does not start with a plain decimal number.
    #[error(
        "\"{text}\" is not a plain number with a unit; write digits with a point, such as {example}"
    )]
    NotANumber {
        /// What was typed, cut to a readable length.
        text: String,
        /// A text that would be accepted.
        example: String,
    },
    /// A comma before three digits: a decimal mark for some, and for others none.
    #[error("\"{text}\" is unclear: it may be {point} or {whole}; write the one that is meant")]
    Unclear {
        /// What was typed.
        text: String,
        /// It with a decimal point.
        point: String,
        /// It as a whole number.
        whole: String,
    },
    /// A number without a unit where one must be named.
    #[error("\"{text}\" has no unit; write one of {units}")]
    NoUnit {
        /// What was typed.
        text: String,
        /// The units that are accepted.
        units: String,
    },
    /// The unit is not known or measures something else.
    #[error("\"{unit}\" is not a unit here; write one of {units}")]
    UnknownUnit {
        /// The unit that was typed.
        unit: String,
        /// The units that are accepted.
        units: String,
    },
    /// The value is outside the possible range of the quantity.
    #[error("{name} {value} is outside {low} to {high}")]
    OutOfRange {
        /// The quantity.
        name: String,
        /// What was typed, or the value with its unit.
        value: String,
        /// The lowest possible value.
        low: String,
        /// The highest possible value.
        high: String,
    },
}

/// Why a text is not a date.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DateFault {
    /// It is written as no date is.
    #[error("\"{0}\" is not a date; write it as 2026-05-15 or 15.05.2026")]
    NotADate(String),
    /// With slashes some write the day first and some the month.
    #[error(
        "\"{0}\" is not taken: with slashes the day or the month may stand first; write it as 2026-05-15 or 15.05.2026"
    )]
    Slashes(String),
}

/// Reads a date: year, month and day as `2026-05-15`, or day, month and year with points as `15.05.2026` (`15.5.2026`), the year
/// with four digits. Slashes are refused: `03/04/2026` is two dates.
pub fn date(text: &str) -> Result<NaiveDate, DateFault> {
    let text = text.trim();
    if text.contains('/') {
        return Err(DateFault::Slashes(cut(text)));
    }
    let parts = |mark: char| -> Option<[u32; 3]> {
        let mut parts = text.split(mark).map(|part| {
            let digits = !part.is_empty() && part.len() <= 4;
            let plain = digits && part.chars().all(|c| c.is_ascii_digit());
            part.parse::<u32>().ok().filter(|_| plain)
        });
        let three = [parts.next()??, parts.next()??, parts.next()??];
        parts.next().is_none().then_some(three)
    };
    let of = |year: u32, month, day| {
        let year = i32::try_from(year).ok().filter(|y| *y >= 1_000)?;
        NaiveDate::from_ymd_opt(year, month, day)
    };
    parts('-')
        .and_then(|[year, month, day]| of(year, month, day))
        .or_else(|| parts('.').and_then(|[day, month, year]| of(year, month, day)))
        .ok_or_else(|| DateFault::NotADate(cut(text)))
}

fn cut(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

/// Reads `text` as a quantity of `dimension`. A bare number takes `bare`, or is refused where `bare` is `None`.
///
/// Accepted are decimal digits with an optional sign and point (`4.5`, `-3`), up to 18 digits, then an optional
/// blank and a unit. One comma between digits counts as the point (`4,5`), unless just three digits follow it: `1,000` is
/// two numbers, and both are named. Exponents, thousands marks, `NaN` and `inf` are refused: each of them is read
/// differently by different programs.
pub fn read(
    text: &str,
    dimension: Dimension,
    bare: Option<&'static Unit>,
) -> Result<Reading, UnitFault> {
    let example = || {
        let unit = bare.map_or_else(
            || {
                super::table::UNITS
                    .iter()
                    .find(|u| u.dimension == dimension)
                    .map_or("", |u| u.name)
            },
            |u| u.name,
        );
        format!("\"12.5 {unit}\"")
    };
    let text = text.trim();
    if text.is_empty() {
        return Err(UnitFault::Empty { example: example() });
    }
    let not_a_number = || UnitFault::NotANumber {
        text: cut(text),
        example: example(),
    };
    let (negative, rest) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let mut mantissa: i128 = 0;
    let mut scale: u32 = 0;
    let mut digits = 0_u32;
    let mut seen_point = false;
    let mut unit_text = "";
    for (at, c) in rest.char_indices() {
        match c.to_digit(10) {
            Some(d) if c.is_ascii_digit() => {
                digits += 1;
                if digits > 18 {
                    return Err(not_a_number());
                }
                mantissa = mantissa * 10 + i128::from(d);
                scale += u32::from(seen_point);
            }
            _ if c == '.' && !seen_point => seen_point = true,
            _ if c == ',' && !seen_point && digits > 0 => {
                let (before, after) = (
                    rest.get(..at).unwrap_or_default(),
                    rest.get(at + 1..).unwrap_or_default(),
                );
                let end = after
                    .find(|c: char| !c.is_ascii_digit())
                    .unwrap_or(after.len());
                let (places, end) = after.split_at(end);
                if places.is_empty() {
                    return Err(not_a_number());
                }
                // Nobody groups thousands after a nought alone, and what a second mark follows is no number at all.
                if places.len() == 3 && before != "0" && !end.starts_with(['.', ',']) {
                    let sign = if negative { "-" } else { "" };
                    return Err(UnitFault::Unclear {
                        text: cut(text),
                        point: cut(&format!("{sign}{before}.{places}{end}")),
                        whole: cut(&format!("{sign}{before}{places}{end}")),
                    });
                }
                seen_point = true;
            }
            _ => {
                unit_text = rest.get(at..).unwrap_or_default();
                break;
            }
        }
    }
    if digits == 0 {
        return Err(not_a_number());
    }
    let unit_text = unit_text.trim();
    let unit = if unit_text.is_empty() {
        bare.or_else(|| find("", dimension))
            .ok_or_else(|| UnitFault::NoUnit {
                text: cut(text),
                units: spellings(dimension),
            })?
    } else if unit_text.starts_with([',', '.', '\'', '_'])
        || unit_text.starts_with(|c: char| c.is_ascii_digit())
    {
        return Err(not_a_number());
    } else {
        find(unit_text, dimension).ok_or_else(|| UnitFault::UnknownUnit {
            unit: cut(unit_text),
            units: spellings(dimension),
        })?
    };
    Ok(Reading {
        mantissa: if negative { -mantissa } else { mantissa },
        scale,
        unit,
    })
}

impl Reading {
    /// The value in the base unit of its dimension times `10^exponent`, rounded once, half-to-even.
    /// `None` when it does not fit into the record.
    pub fn exact(&self, exponent: u32) -> Option<i64> {
        let ten = 10_i128.checked_pow(self.scale)?;
        // (mantissa/ten + shift/100) * up/down * 10^exponent, brought over one denominator.
        let shifted = self
            .mantissa
            .checked_mul(100)?
            .checked_add(self.unit.shift.checked_mul(ten)?)?;
        let numerator = shifted
            .checked_mul(self.unit.up)?
            .checked_mul(10_i128.checked_pow(exponent)?)?;
        let denominator = ten.checked_mul(100)?.checked_mul(self.unit.down)?;
        i64::try_from(num::round_half_even(numerator, denominator)).ok()
    }

    /// The value in the base unit of its dimension, as a float.
    #[allow(
        clippy::as_conversions,
        clippy::cast_precision_loss,
        reason = "18 digits at most; see num::float"
    )]
    pub fn base(&self) -> f64 {
        let typed = self.mantissa as f64 / 10_f64.powi(i32::try_from(self.scale).unwrap_or(18));
        self.unit.base(typed)
    }

    /// The value in the unit that was typed.
    #[allow(
        clippy::as_conversions,
        clippy::cast_precision_loss,
        reason = "18 digits at most; see num::float"
    )]
    pub fn typed(&self) -> f64 {
        self.mantissa as f64 / 10_f64.powi(i32::try_from(self.scale).unwrap_or(18))
    }
}

impl Unit {
    /// A value of this unit in the base unit of its dimension.
    #[allow(
        clippy::as_conversions,
        clippy::cast_precision_loss,
        reason = "the factors are exact in f64's range"
    )]
    pub fn base(&self, value: f64) -> f64 {
        (value + self.shift as f64 / 100.0) * self.up as f64 / self.down as f64
    }

    /// A value of the base unit in this unit.
    #[allow(
        clippy::as_conversions,
        clippy::cast_precision_loss,
        reason = "the factors are exact in f64's range"
    )]
    pub fn of_base(&self, base: f64) -> f64 {
        base * self.down as f64 / self.up as f64 - self.shift as f64 / 100.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_is_read_with_dashes_or_points_and_never_guessed_from_slashes() {
        let april = NaiveDate::from_ymd_opt(2026, 4, 17);
        for text in ["2026-04-17", "17.04.2026", " 17.4.2026 "] {
            assert_eq!(date(text).ok(), april, "{text}");
        }
        for text in ["17/04/2026", "4/17/2026", "2026/04/17"] {
            assert_eq!(date(text), Err(DateFault::Slashes(text.to_owned())));
        }
        for text in [
            "",
            "17.04.26",
            "31.04.2026",
            "04.17.2026",
            "17.04",
            "17.04.2026.1",
            "17-04-2026",
            "+1.04.2026",
        ] {
            assert!(matches!(date(text), Err(DateFault::NotADate(_))), "{text}");
        }
    }
}
