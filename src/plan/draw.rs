//! Draws that are the same for the same seed, and what a list of figures comes to.
//!
//! *Invariants*: a draw depends on its own name alone (seed, run, job, deed), never on what was drawn before it. So two
//! plans that differ in one thing draw the same for all the rest, and their difference is that thing's.
//!
//! *Not here*: what is drawn from (`habits`).

use crate::units::{Span, num};

/// A number of 64 bits that follows from a seed: the finishing step of `SplitMix64`.
///
/// Source: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014 (from memory, to be
/// confirmed). Ignores: secrecy; it is for spread alone.
pub const fn mixed(seed: u64) -> u64 {
    let z = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A number that follows from several.
pub fn named(parts: &[u64]) -> u64 {
    parts.iter().fold(0, |sum, part| mixed(sum ^ mixed(*part)))
}

/// A number above 0 and not above 1.
pub fn share(parts: &[u64]) -> f64 {
    // 53 bits, as many as a float holds exactly; never 0, so that a logarithm can be taken of it.
    let bits = i64::try_from(named(parts) >> 11).unwrap_or(0);
    (num::float(bits) + 1.0) / 9_007_199_254_740_992.0
}

/// One of the values, all alike likely; `None` where there are none.
pub fn one_of<T: Copy>(values: &[T], parts: &[u64]) -> Option<T> {
    place_of(values, parts).copied()
}

/// The same of what is not copied.
pub fn place_of<'a, T>(values: &'a [T], parts: &[u64]) -> Option<&'a T> {
    let count = u64::try_from(values.len()).ok()?;
    let at = named(parts).checked_rem(count)?;
    values.get(usize::try_from(at).ok()?)
}

/// The smallest of the values below or at which a share of them lies (`percent` of 100); `None` where there are none.
///
/// Equation: the value of rank `ceil(p n)`. Source: the inverse of the empirical distribution (from memory, to be
/// confirmed). The list must be sorted.
pub fn quantile<T: Copy>(sorted: &[T], percent: usize) -> Option<T> {
    let rank = (percent.min(100) * sorted.len()).div_ceil(100).max(1);
    sorted.get(rank - 1).copied()
}

/// A wait that is over, or one that still lasts: how long it is so far, and whether it is over.
pub type Wait = (Span, bool);

/// A wait that is not shorter than `least`, drawn from waits of which some still last; `None` where none that is as long is over.
///
/// Equation: the product-limit estimate: of those that lasted as long as a wait that ended, one share ended there. What still
/// lasts counts among them as long as it has lasted, and the wait that is drawn counts as one more that outlasts them all: of `n`
/// known waits the next one lies in each of the `n + 1` gaps alike, and is drawn at the gap's upper end, so that a quantile of
/// few waits is not too early. A draw beyond what is known is the longest wait of all. Source: Kaplan, Meier, "Nonparametric
/// estimation from incomplete observations", J. Am. Stat. Assoc. 53, 1958; that the longest stands for what is beyond it: Efron,
/// "The two sample problem with censored data", 5th Berkeley Symp. IV, 1967; the gaps: Wilks, "Determination of sample sizes for
/// setting tolerance limits", Ann. Math. Stat. 12, 1941 (all from memory, to be confirmed). Ignores: why a wait still lasts, and
/// that what is beyond is longer. The list must be sorted, of two that are as long that which is over first.
pub fn wait_of(sorted: &[Wait], least: Span, parts: &[u64]) -> Option<Span> {
    let from = sorted.partition_point(|(span, _)| *span < least);
    let list = sorted.get(from..)?;
    let wanted = share(parts);
    let mut lasting = 1.0;
    for (n, (span, over)) in list.iter().enumerate() {
        if !over {
            continue;
        }
        let left = num::count(list.len() - n + 1);
        lasting *= (left - 1.0) / left;
        if 1.0 - lasting >= wanted {
            return Some(*span);
        }
    }
    let known = list.iter().any(|(_, over)| *over);
    list.last().filter(|_| known).map(|(span, _)| *span)
}

/// A draw that is exponential with a mean: `-mean ln u`. Used where a line is held against what is known of lines.
/// Source: the inverse of the distribution (from memory, to be confirmed).
pub fn exponential(mean: Span, parts: &[u64]) -> Span {
    let ms = -num::float(mean.0) * share(parts).ln();
    Span(num::whole(ms).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draw_is_the_same_for_the_same_name_and_another_for_another() {
        assert_eq!(named(&[1, 2, 3]), named(&[1, 2, 3]));
        let all: std::collections::BTreeSet<u64> = (0..1_000).map(|n| named(&[7, n])).collect();
        assert_eq!(all.len(), 1_000);
        assert_ne!(named(&[1, 2]), named(&[2, 1]));
    }

    #[test]
    fn shares_are_even_and_exponential_draws_have_their_mean() {
        let shares: Vec<f64> = (0..20_000).map(|n| share(&[3, n])).collect();
        let mean = crate::science::statistics::mean(&shares).unwrap();
        // The mean of n even shares lies within 4 / sqrt(12 n) of one half, but for one time in 16,000.
        assert!(
            (mean - 0.5).abs() < 4.0 / (12.0_f64 * 20_000.0).sqrt(),
            "{mean}"
        );
        assert!(shares.iter().all(|s| *s > 0.0 && *s <= 1.0));
        let drawn: Vec<f64> = (0..20_000)
            .map(|n| num::float(exponential(Span::minutes(10), &[5, n]).0))
            .collect();
        let mean = crate::science::statistics::mean(&drawn).unwrap() / 600_000.0;
        assert!((mean - 1.0).abs() < 4.0 / 20_000.0_f64.sqrt(), "{mean}");
    }

    #[test]
    fn a_quantile_is_a_value_of_the_list() {
        let ten: Vec<u32> = (1..=10).collect();
        assert_eq!(quantile(&ten, 50), Some(5));
        assert_eq!(quantile(&ten, 90), Some(9));
        assert_eq!(quantile(&ten, 91), Some(10));
        assert_eq!(quantile(&ten, 100), Some(10));
        assert_eq!(quantile(&[4], 10), Some(4));
        assert_eq!(quantile::<u32>(&[], 50), None);
        assert_eq!(one_of::<u32>(&[], &[1]), None);
        assert_eq!(one_of(&[9], &[1]), Some(9));
    }

    #[test]
    fn the_ninth_of_ten_draws_holds_nine_of_ten_waits_to_come() {
        // Ten waits are known and an eleventh comes, all of one kind: whatever that kind is, it is not longer than the longest of
        // the ten in ten of eleven cases, and than the ninth of them in nine of eleven, which is too few for a P90.
        let mut held = 0_i32;
        for trial in 0..1_000 {
            let wait = |n| exponential(Span::minutes(60), &[13, trial, n]);
            let mut known: Vec<Wait> = (0..10).map(|n| (wait(n), true)).collect();
            known.sort_by_key(|(span, over)| (*span, !over));
            let plays = (0..200).filter_map(|n| wait_of(&known, Span(0), &[17, trial, n]));
            let mut plays: Vec<Span> = plays.collect();
            plays.sort_unstable();
            held += i32::from(wait(10) <= quantile(&plays, 90).unwrap());
        }
        // Ten of eleven are 909; within 4 standard deviations of sqrt(1,000 x 10/121) = 9.1.
        assert!((873..=945).contains(&held), "{held}");
    }

    #[test]
    fn a_wait_that_still_lasts_counts_as_long_as_it_has_lasted() {
        // Over after 2, 5 and 9 minutes; one that lasts 5 so far; and the one that is drawn. By hand: of five one ends at 2, S = 4/5;
        // of four one at 5, S = 4/5 x 3/4 = 3/5; the fourth is left out from there on; of two one at 9, S = 3/10, and what is beyond
        // is 9, too.
        let minutes = |m: i64, over| (Span::minutes(m), over);
        let list = [
            minutes(2, true),
            minutes(5, true),
            minutes(5, false),
            minutes(9, true),
        ];
        let shares = |list: &[Wait], least: i64| {
            let mut out = std::collections::BTreeMap::new();
            for n in 0..4_000 {
                let drawn = wait_of(list, Span::minutes(least), &[11, n]);
                *out.entry(drawn.map(|s| s.0 / 60_000)).or_insert(0) += 1;
            }
            out
        };
        // Within 4 standard deviations: sqrt(4,000 / 4) is 32 at the most.
        let near =
            |found: Option<&i32>, wanted: i32| found.is_some_and(|n| (n - wanted).abs() < 128);
        let found = shares(&list, 0);
        assert!(near(found.get(&Some(2)), 800), "{found:?}");
        assert!(near(found.get(&Some(5)), 800), "{found:?}");
        assert!(near(found.get(&Some(9)), 2_400), "{found:?}");
        assert_eq!(found.get(&None), None);
        // What lies for three minutes already: of four one ends at 5, and then all at 9.
        let found = shares(&list, 3);
        assert!(near(found.get(&Some(5)), 1_000), "{found:?}");
        assert!(near(found.get(&Some(9)), 3_000), "{found:?}");
        // The longest still lasts: of four one ends at 2, of three one at 5, and a half is as long as the longest at least.
        let mut still = list;
        still[2] = minutes(7, false);
        let found = shares(&still[..3], 0);
        assert!(near(found.get(&Some(7)), 2_000), "{found:?}");
        // None that is over is as long: nothing is known.
        assert_eq!(wait_of(&still[..3], Span::minutes(6), &[1]), None);
        assert_eq!(wait_of(&list, Span::minutes(10), &[1]), None);
        assert_eq!(wait_of(&[], Span(0), &[1]), None);
    }
}
