//! Parts of a mix that were said in per cent: what they come to in volume.
//!
//! *Invariants*: a per cent says whether it is of the finished mix or added to what it thins; a bare one is refused
//! with both readings, because 15 % of the mix is 17.6 % added. Only volumes leave this file.
//!
//! *Not here*: solids, VOC and retarder share of the mix (`material`).

use super::material::Pour;
use super::text::shown;
use crate::units::{Amount, Share, Volume, num};

/// What a per cent is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Of {
    /// The finished mix.
    Mix,
    /// The parts that it is added to.
    Added,
}

/// A part that was said in per cent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PercentPart {
    /// The lot.
    pub lot: String,
    /// How much.
    pub share: Share,
    /// Of what; `None` when it was not said.
    pub of: Option<Of>,
}

const WHOLE: i128 = 1_000_000;

/// The parts of a mix in volumes: those that were stated, the lot that fills it up to `makes`, then those said in
/// per cent, each rounded half-to-even to a whole uL.
pub fn parts(
    stated: &[Pour],
    fill: Option<&str>,
    percent: &[PercentPart],
    makes: Option<Volume>,
) -> Result<Vec<Pour>, String> {
    let base: i64 = stated.iter().map(|p| p.volume.0).sum();
    if let Some(bare) = percent.iter().find(|p| p.of.is_none()) {
        return Err(both_readings(bare, makes.map_or(base, |m| m.0)));
    }
    let all = |of| percent.iter().all(|p| p.of == Some(of));
    let shares: i64 = percent.iter().map(|p| p.share.0).sum();
    let computed: Vec<i64> = if percent.is_empty() {
        Vec::new()
    } else if all(Of::Added) {
        if makes.is_some() {
            return Err(
                "added is calculated on the parts that have a volume: leave --makes out, or write of-mix"
                    .to_owned(),
            );
        }
        percent
            .iter()
            .map(|p| part_of(base, p.share, WHOLE))
            .collect()
    } else if !all(Of::Mix) {
        return Err(
            "some per cents are of the mix and some are added; write all of them in one way"
                .to_owned(),
        );
    } else if shares >= 1_000_000 {
        return Err(format!(
            "the per cents of the mix come to {}; together they must leave room for what is thinned",
            Share(shares).text(1)
        ));
    } else {
        // Of a mix whose size is not given, what is left for the stated parts is their own volume.
        let (of, whole) = makes.map_or((base, WHOLE - i128::from(shares)), |m| (m.0, WHOLE));
        percent
            .iter()
            .map(|p| part_of(of, p.share, whole))
            .collect()
    };
    let mut out = stated.to_vec();
    let thinned: i64 = computed.iter().sum();
    if let Some(total) = makes {
        let left = total.0 - base - thinned;
        match fill {
            Some(lot) if left > 0 => out.push(Pour {
                lot: lot.to_owned(),
                volume: Volume(left),
            }),
            Some(lot) => {
                return Err(format!(
                    "the other parts come to {} of {}: nothing is left for {}",
                    litres(base + thinned),
                    litres(total.0),
                    shown(lot)
                ));
            }
            None if left != 0 => {
                return Err(format!(
                    "the parts come to {}, not to {}; write one lot without a volume to fill the mix up",
                    litres(base + thinned),
                    litres(total.0)
                ));
            }
            None => {}
        }
    } else if base == 0 && !percent.is_empty() {
        return Err(
            "per cent of what? give a part its volume, or the whole mix with --makes".to_owned(),
        );
    }
    out.extend(percent.iter().zip(computed).map(|(p, ul)| Pour {
        lot: p.lot.clone(),
        volume: Volume(ul),
    }));
    Ok(out)
}

fn part_of(volume: i64, share: Share, whole: i128) -> i64 {
    let n = i128::from(volume) * i128::from(share.0);
    i64::try_from(num::round_half_even(n, whole)).unwrap_or(i64::MAX)
}

// A bare per cent is said back in both meanings, with their figures.
fn both_readings(part: &PercentPart, volume: i64) -> String {
    let (lot, percent) = (shown(&part.lot), part.share.text(1));
    let digits = part.share.trimmed();
    let digits = digits.replace(' ', "");
    if volume == 0 {
        return format!(
            "{percent} {lot}: of the mix or added? write {lot}={digits}-of-mix or {lot}={digits}-added"
        );
    }
    let thin = part_of(volume, part.share, WHOLE);
    let of_mix = part_of(thin, Share(1_000_000), i128::from(volume + thin));
    format!(
        "{percent} {lot}: of the mix or added? {} made: of the mix {} + {}; {} thinned: added {} + {} = {} of mix; \
         write {lot}={digits}-of-mix with --makes, or {lot}={digits}-added",
        litres(volume),
        short(volume - thin),
        short(thin),
        litres(volume),
        short(volume),
        short(thin),
        Share(of_mix).text(1)
    )
}

fn short(ul: i64) -> String {
    format!("{}.{:03}", ul / 1_000_000, ul % 1_000_000 / 1_000)
}

fn litres(ul: i64) -> String {
    format!("{} L", short(ul))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pour(lot: &str, ul: i64) -> Pour {
        Pour {
            lot: lot.to_owned(),
            volume: Volume(ul),
        }
    }

    fn thinner(ppm: i64, of: Option<Of>) -> PercentPart {
        PercentPart {
            lot: "T-9".to_owned(),
            share: Share(ppm),
            of,
        }
    }

    #[test]
    fn fifteen_per_cent_of_the_mix_and_added_are_two_volumes() {
        let of_mix = [thinner(150_000, Some(Of::Mix))];
        assert_eq!(
            parts(&[], Some("L-221"), &of_mix, Some(Volume(1_000_000))).unwrap(),
            [pour("L-221", 850_000), pour("T-9", 150_000)]
        );
        let added = [thinner(150_000, Some(Of::Added))];
        assert_eq!(
            parts(&[pour("L-221", 1_000_000)], None, &added, None).unwrap(),
            [pour("L-221", 1_000_000), pour("T-9", 150_000)]
        );
        // 15 % of the mix on a litre of lacquer is 17.6 % added.
        assert_eq!(
            parts(&[pour("L-221", 1_000_000)], None, &of_mix, None).unwrap(),
            [pour("L-221", 1_000_000), pour("T-9", 176_471)]
        );
    }

    #[test]
    fn a_bare_per_cent_is_said_back_in_both_meanings() {
        let bare = [thinner(150_000, None)];
        let said = parts(&[pour("L-221", 1_000_000)], None, &bare, None).unwrap_err();
        for wanted in ["0.850 + 0.150", "1.000 + 0.150 = 13.0 % of mix"] {
            assert!(said.contains(wanted), "{wanted}: {said}");
        }
    }

    #[test]
    fn what_does_not_come_out_even_is_refused() {
        let of_mix = [thinner(150_000, Some(Of::Mix))];
        let stated = [pour("L-221", 900_000)];
        let total = Some(Volume(1_000_000));
        assert!(
            parts(&stated, None, &of_mix, total)
                .unwrap_err()
                .contains("1.050 L")
        );
        assert!(
            parts(&stated, Some("L-3"), &of_mix, total)
                .unwrap_err()
                .contains("nothing is left")
        );
        assert!(
            parts(&[], None, &of_mix, None)
                .unwrap_err()
                .contains("per cent of what")
        );
        let two = [
            thinner(150_000, Some(Of::Mix)),
            thinner(20_000, Some(Of::Added)),
        ];
        assert!(
            parts(&stated, None, &two, None)
                .unwrap_err()
                .contains("one way")
        );
    }
}
