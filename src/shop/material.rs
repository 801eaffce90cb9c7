//! Materials with the figures of one data sheet, the lots that came of them and the mixes made of lots.
//!
//! *Invariants*: an adopted sheet never changes; a new sheet is a new revision. Mass of a substance in a use is
//! volume x density x share, rounded half-to-even once per (use, lot, substance); every VOC and HAP total is a sum
//! of those rounded masses and is never computed a second way.
//!
//! *Not here*: which substances a rule set lists (`rule_set`).

use super::rule_set::RuleSet;
use super::words::{Drying, MaterialKind};
use crate::science::mix::{KeptPart, kept_mix};
use crate::science::voc::{HAP_BLENDS, kept_mass};
use crate::units::{Amount, Density, Mass, Share, Temperature, Volume};
use chrono::NaiveDate;

/// A material by one revision of its data sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Material {
    /// The shop's short code.
    pub code: String,
    /// The name on the can.
    pub name: String,
    /// What it is for.
    pub kind: MaterialKind,
    /// Revision of the data sheet, as printed on it.
    pub sheet: String,
    /// Date of that revision.
    pub sheet_date: NaiveDate,
    /// Density as supplied.
    pub density: Density,
    /// Mass share that stays in the film.
    pub weight_solids: Share,
    /// Volume share that stays in the film.
    pub volume_solids: Share,
    /// Flash point of the sheet, where it names one.
    pub flash_point: Option<Temperature>,
    /// How it becomes a film.
    pub drying: Drying,
    /// Hazard words that choose the cautions.
    pub hazards: Vec<String>,
    /// The sheet's own short cautions.
    pub cautions: Vec<String>,
    /// The substances that the sheet names.
    pub parts: Vec<Part>,
}

/// A substance that a data sheet names, with the range of its mass share.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// CAS registry number; the name of the blend, where that has no one number.
    pub cas: String,
    /// Generic name.
    pub name: String,
    /// Lower end of the mass share.
    pub low: Share,
    /// Upper end of the mass share.
    pub high: Share,
    /// What it counts as.
    pub counts: Counts,
    /// A solid, which does not evaporate: it lies within the solids of the sheet and is counted in no total.
    pub solid: bool,
    /// Density of the substance, needed for exempt volume and water.
    pub density: Option<Density>,
    /// The solvent blend that it is, where the sheet names no parts of it.
    pub blend: Option<Blend>,
}

/// Where the default shares of HAP in a blend come from.
pub const BLEND_SOURCE: &str = "default organic HAP mass fractions for solvents and solvent blends, Table 3 of the US EPA's coating rules in 40 CFR 63 (cited from a stored excerpt)";

/// A solvent blend of which a sheet names no parts: the default share of organic HAP of a published table is counted in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Blend {
    /// Its generic name in the table.
    pub name: &'static str,
    /// Its CAS number in the table; none where it has no one number.
    pub cas: Option<&'static str>,
    /// Mass share of organic HAP in it.
    pub hap: Share,
}

impl Blend {
    /// All blends of the table.
    pub fn all() -> impl Iterator<Item = Self> {
        HAP_BLENDS.iter().filter_map(|row| {
            Share::of_base(row.share).map(|hap| Self {
                name: row.name,
                cas: row.cas,
                hap,
            })
        })
    }

    /// The HAP in a share of the blend; a part of a ppm counts as a whole one.
    pub const fn of(self, share: Share) -> Share {
        Share((share.0 * self.hap.0 + 999_999) / 1_000_000)
    }

    /// What its HAP is counted under.
    pub fn key(self) -> String {
        format!("HAP in {}", self.name)
    }
}

/// What a substance counts as in the totals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Not counted as VOC.
    pub exempt: bool,
    /// Water.
    pub water: bool,
    /// A hazardous air pollutant.
    pub hap: bool,
}

/// The volatile part of a sheet that no named substance accounts for. It counts as VOC.
pub const OTHER_VOLATILE: &str = "other volatile";

/// One substance of a material as it is counted: the end of its range that the rules call for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// CAS number, or [`OTHER_VOLATILE`] for the balance.
    pub cas: String,
    /// Generic name.
    pub name: String,
    /// Mass share that is counted.
    pub share: Share,
    /// What it counts as.
    pub counts: Counts,
}

impl Part {
    /// Whether it counts as VOC although the sheet states no class for it: not exempt, water, HAP, blend or solid.
    pub const fn without_class(&self) -> bool {
        !(self.counts.exempt
            || self.counts.water
            || self.counts.hap
            || self.solid
            || self.blend.is_some())
    }
}

impl Material {
    /// The substances with the shares that are counted, each as the sheet classes it: a range counts at its upper end for
    /// VOC and HAP, an exempt substance or water at its lower end, a solid not at all, the default share of a blend as HAP,
    /// and what is volatile and not named is [`OTHER_VOLATILE`].
    pub fn counted(&self) -> Vec<Counted> {
        self.counted_by(None)
    }

    /// The same as a rule set counts them; without one as the sheet does.
    pub fn counted_by(&self, rules: Option<&RuleSet>) -> Vec<Counted> {
        let mut list: Vec<Counted> = Vec::with_capacity(self.parts.len() + 1);
        for p in self.parts.iter().filter(|p| !p.solid) {
            let counts = rules.map_or(p.counts, |r| r.counts(p));
            let share = if counts.exempt || counts.water {
                p.low
            } else {
                p.high
            };
            let blend = p.blend.filter(|_| !counts.hap);
            let hap = blend.map_or(Share(0), |b| b.of(share));
            if share.0 > hap.0 || hap.0 == 0 {
                list.push(Counted {
                    cas: p.cas.clone(),
                    name: p.name.clone(),
                    share: Share(share.0 - hap.0),
                    counts,
                });
            }
            if let Some(blend) = blend.filter(|_| hap.0 > 0) {
                list.push(Counted {
                    cas: blend.key(),
                    name: blend.key(),
                    share: hap,
                    counts: Counts {
                        hap: true,
                        ..counts
                    },
                });
            }
        }
        let named: i64 = list.iter().map(|c| c.share.0).sum();
        let rest = 1_000_000 - self.weight_solids.0 - named;
        if rest > 0 {
            list.push(Counted {
                cas: OTHER_VOLATILE.to_owned(),
                name: OTHER_VOLATILE.to_owned(),
                share: Share(rest),
                counts: Counts::default(),
            });
        }
        list
    }

    /// The rounded mass of every counted substance in `volume` of this material.
    pub fn masses(&self, volume: Volume) -> Vec<(Counted, Mass)> {
        self.masses_by(volume, None)
    }

    /// The same as a rule set counts them; without one as the sheet does.
    pub fn masses_by(&self, volume: Volume, rules: Option<&RuleSet>) -> Vec<(Counted, Mass)> {
        self.counted_by(rules)
            .into_iter()
            .map(|c| {
                let mass = mass_of(volume, self.density, c.share);
                (c, mass)
            })
            .collect()
    }
}

/// Mass of a share of a volume: `uL x mg/L x ppm / 10^12`, rounded half-to-even.
pub fn mass_of(volume: Volume, density: Density, share: Share) -> Mass {
    // Amounts are below 1e11 uL, 3e6 mg/L and 1e6 ppm, so the mass fits the record.
    kept_mass(volume, density, share).unwrap_or(Mass(i64::MAX))
}

/// VOC and HAP of one or more uses, as sums of rounded masses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals {
    /// Volatile organic compounds, exempt substances and water left out.
    pub voc: Mass,
    /// Hazardous air pollutants, all together.
    pub hap: Mass,
    /// Exempt substances.
    pub exempt: Mass,
}

impl Totals {
    /// Adds other totals.
    pub const fn merge(&mut self, more: &Self) {
        self.voc.0 += more.voc.0;
        self.hap.0 += more.hap.0;
        self.exempt.0 += more.exempt.0;
    }

    /// Adds the masses of one material.
    pub fn add(&mut self, masses: &[(Counted, Mass)]) {
        for (counted, mass) in masses {
            if counted.counts.exempt {
                self.exempt.0 += mass.0;
            } else if !counted.counts.water {
                self.voc.0 += mass.0;
            }
            if counted.counts.hap {
                self.hap.0 += mass.0;
            }
        }
    }
}

/// A part of a mix: so much of one lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pour {
    /// The lot.
    pub lot: String,
    /// Its volume in the mix.
    pub volume: Volume,
}

/// The figures of a mix that the film and the clocks need.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct MixFigures {
    /// Volume of all parts.
    pub volume: Volume,
    /// Volume solids of the mix.
    pub solids: Share,
    /// Retarder, as a volume share of the mix.
    pub retarder: Share,
}

/// Volume solids and retarder share of a mix. Volumes are taken as additive (the change on mixing solvents of one
/// family is a few tenths of a per cent).
pub fn mix_figures<'a>(parts: impl IntoIterator<Item = (&'a Material, Volume)>) -> MixFigures {
    let parts: Vec<KeptPart> = parts
        .into_iter()
        .map(|(material, volume)| KeptPart {
            volume,
            solids: material.volume_solids,
            retarder: material.kind == MaterialKind::Retarder,
        })
        .collect();
    let (volume, solids, retarder) = kept_mix(&parts);
    MixFigures {
        volume,
        solids,
        retarder,
    }
}

/// The same parts as another pour in the same ratio, so that they sum to `total`.
pub fn scaled(parts: &[Pour], total: Volume) -> Vec<Pour> {
    let weights: Vec<i64> = parts.iter().map(|p| p.volume.0).collect();
    parts
        .iter()
        .zip(split(total.0, &weights))
        .map(|(part, volume)| Pour {
            lot: part.lot.clone(),
            volume: Volume(volume),
        })
        .collect()
}

/// Splits `total` in the ratio of `weights` so that the parts sum to it exactly: largest remainder, ties to the
/// earlier part. Weights that are all zero share evenly.
pub fn split(total: i64, weights: &[i64]) -> Vec<i64> {
    let even = vec![1_i64; weights.len()];
    let weights: &[i64] = if weights.iter().all(|w| *w <= 0) {
        &even
    } else {
        weights
    };
    let sum: i128 = weights.iter().map(|w| i128::from((*w).max(0))).sum();
    if sum == 0 {
        return Vec::new();
    }
    let exact: Vec<(i128, i128)> = weights
        .iter()
        .map(|w| {
            let n = i128::from(total) * i128::from((*w).max(0));
            (n.div_euclid(sum), n.rem_euclid(sum))
        })
        .collect();
    let mut left = i128::from(total) - exact.iter().map(|(whole, _)| whole).sum::<i128>();
    let mut order: Vec<usize> = (0..exact.len()).collect();
    order.sort_by_key(|i| (std::cmp::Reverse(exact.get(*i).map_or(0, |e| e.1)), *i));
    let mut parts: Vec<i64> = exact
        .iter()
        .map(|(whole, _)| i64::try_from(*whole).unwrap_or(0))
        .collect();
    for i in order {
        if left <= 0 {
            break;
        }
        if let Some(part) = parts.get_mut(i) {
            *part += 1;
            left -= 1;
        }
    }
    parts
}
