//! Abrasive grits with the scale that their number belongs to: a P 600 and a CAMI 600 are different papers.
//!
//! *Not here*: the grain sizes, which are `science::film`'s with their source.

use crate::science::film::{GritScale, grain};
use crate::science::measure::Quantity;

/// One grit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grit {
    /// The scale.
    pub scale: GritScale,
    /// The number on the paper, 60 to 3000.
    pub number: i64,
}

/// Finest and coarsest number that a paper can have.
pub const NUMBERS: std::ops::RangeInclusive<i64> = 60..=3_000;

impl Grit {
    /// Reads `P800` or `CAMI 400`.
    ///
    /// # Errors
    /// A sentence that names the text and the two forms.
    pub fn read(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let upper = text.to_ascii_uppercase();
        let (scale, digits) = match upper.strip_prefix("CAMI") {
            Some(rest) => (GritScale::Cami, rest.trim()),
            None => match upper.strip_prefix('P') {
                Some(rest) => (GritScale::P, rest.trim()),
                None => {
                    return Err(format!(
                        "grit \"{}\" names no scale; write P800 or CAMI 400: the two give one number to different papers",
                        super::text::shown(text)
                    ));
                }
            },
        };
        digits
            .parse::<i64>()
            .ok()
            .filter(|n| NUMBERS.contains(n))
            .map(|number| Self { scale, number })
            .ok_or_else(|| {
                format!(
                    "grit \"{}\" has no number from {} to {}; write such as P800 or CAMI 400",
                    super::text::shown(text),
                    NUMBERS.start(),
                    NUMBERS.end()
                )
            })
    }

    /// Reads several, parted by commas or blanks.
    pub fn read_list(text: &str) -> Result<Vec<Self>, String> {
        let joined = text.replace(',', " ");
        let mut words: Vec<String> = Vec::new();
        for word in joined.split_whitespace() {
            // "CAMI 400" is one grit of two words.
            match words.last_mut() {
                Some(last) if last.eq_ignore_ascii_case("cami") => last.push_str(word),
                _ => words.push(word.to_owned()),
            }
        }
        words.iter().map(|w| Self::read(w)).collect()
    }

    /// As it is printed on the paper.
    pub fn text(self) -> String {
        match self.scale {
            GritScale::P => format!("P{}", self.number),
            GritScale::Cami => format!("CAMI {}", self.number),
        }
    }

    /// Mean grain size in m, where the table lists the number.
    fn size(self) -> Option<f64> {
        grain(self.scale, self.number).map(Quantity::to_base)
    }

    /// Whether the paper is coarser than another; `None` when that is not known.
    pub fn coarser_than(self, other: Self) -> Option<bool> {
        if self.scale == other.scale {
            return Some(self.number < other.number);
        }
        Some(self.size()? > other.size()?)
    }
}

/// Longest text of grits that is kept.
const LONGEST: usize = 60;

/// The grits of a deed as they are kept: as they were typed, if each names its scale.
///
/// # Errors
/// A sentence that names the grit and the two forms.
pub fn kept(text: &str) -> Result<String, String> {
    let text = super::text::clean("grit", text, LONGEST)?;
    Grit::read_list(&text).map(|_| text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_names_the_scale_of_every_grit() {
        for text in ["P220", "P800, P1200", "cami 400 P800"] {
            assert_eq!(kept(text).as_deref(), Ok(text));
        }
        for text in ["220", "P800 1200", ""] {
            assert!(kept(text).is_err(), "{text}");
        }
        assert!(
            kept("220")
                .unwrap_err()
                .contains("names no scale; write P800 or CAMI 400")
        );
    }

    #[test]
    fn a_grit_carries_its_scale() {
        let read = |text| Grit::read(text).map(Grit::text);
        assert_eq!(read("p800"), Ok("P800".to_owned()));
        assert_eq!(read("cami 400"), Ok("CAMI 400".to_owned()));
        assert!(read("800").unwrap_err().contains("names no scale"));
        assert!(read("P12").unwrap_err().contains("from 60 to 3000"));
        let list = Grit::read_list("P600, P800 CAMI 600").unwrap();
        let texts: Vec<String> = list.into_iter().map(Grit::text).collect();
        assert_eq!(texts, ["P600", "P800", "CAMI 600"]);
    }

    #[test]
    fn the_two_scales_are_ordered_by_their_grain() {
        let grit = |text| Grit::read(text).unwrap();
        // CAMI 600 is about P1200 (16 um against 15.3 um).
        assert_eq!(grit("CAMI 600").coarser_than(grit("P1200")), Some(true));
        assert_eq!(grit("CAMI 600").coarser_than(grit("P1000")), Some(false));
        assert_eq!(grit("P80").coarser_than(grit("CAMI 600")), None);
    }
}
