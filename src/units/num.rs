//! The one place where numbers change their kind.
//!
//! Everything the record holds is an integer and everything `science` computes is a float, so both directions
//! are needed; keeping the casts here keeps `as` out of the rest of the house.
//!
//! *Not here*: rounding rules of totals (see [`round_half_even`] for the rule, `shop` for its use).

/// An integer of the record as a float. Exact up to 2^53, far beyond any amount that is kept.
#[allow(
    clippy::as_conversions,
    clippy::cast_precision_loss,
    reason = "the one integer-to-float cast; amounts stay below 2^53"
)]
pub const fn float(value: i64) -> f64 {
    value as f64
}

/// A count as a float.
#[allow(
    clippy::as_conversions,
    clippy::cast_precision_loss,
    reason = "the one count-to-float cast; counts stay below 2^53"
)]
pub const fn count(value: usize) -> f64 {
    value as f64
}

/// A float rounded half-to-even to an integer of the record, or `None` when it is not finite or out of range.
#[allow(
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    reason = "the one float-to-integer cast; the range is checked first"
)]
pub fn whole(value: f64) -> Option<i64> {
    let rounded = value.round_ties_even();
    (rounded.is_finite() && rounded.abs() < 9.0e15).then_some(rounded as i64)
}

/// `numerator / denominator`, rounded half-to-even. `denominator` must be positive.
///
/// This is the rounding of every kept mass in the ledger: ties go to the even neighbour, so that long sums of
/// rounded parts do not drift.
pub const fn round_half_even(numerator: i128, denominator: i128) -> i128 {
    let floor = numerator.div_euclid(denominator);
    let twice = numerator.rem_euclid(denominator) * 2;
    if twice > denominator || (twice == denominator && floor.rem_euclid(2) == 1) {
        floor + 1
    } else {
        floor
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ties_go_to_the_even_neighbour() {
        for (n, want) in [
            (5, 2),
            (15, 8),
            (25, 12),
            (-5, -2),
            (-15, -8),
            (26, 13),
            (24, 12),
        ] {
            assert_eq!(round_half_even(n * 10, 20), i128::from(want), "{n}/2");
        }
    }

    #[test]
    fn what_is_not_a_number_has_no_whole() {
        assert_eq!(whole(f64::NAN), None);
        assert_eq!(whole(f64::INFINITY), None);
        assert_eq!(whole(2.5), Some(2));
    }
}
