//! The mix: parts and volumes, solids and VOC as sprayed, thinner up to a limit, efflux cups, pot life.
//!
//! *Invariants*: "added" is thinner per lacquer, "of the mix" is a share of the finished mix, and every name says
//! which one it is; a cup's seconds are converted only inside the cup's own range.
//!
//! *Not here*: which lots went into a cup (`shop`), VOC less water and exempt solvents (`voc`).

use uom::si::f64::{
    KinematicViscosity, MassDensity, Ratio, ThermodynamicTemperature, Time, Volume,
};
use uom::si::ratio::ratio;

use super::measure::{
    CONTENT, CUP, DENSITY, GRAMS, HOURS, Measure, NUMBER, Quantity, SECONDS, SHARE, TEMPERATURE,
    VISCOSITY,
};
use super::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};
use crate::units::{Amount, Share as KeptShare, System, Volume as KeptVolume, num};

/// The molar gas constant in J/(mol K), exact since 2019 (CODATA).
pub(super) const GAS: f64 = 8.314_462_618_153_24;
/// 0 C in kelvin, exact by definition.
pub(super) const ZERO_C: f64 = 273.15;

fn share(value: f64) -> Ratio {
    Ratio::new::<ratio>(value)
}

/// Thinner per lacquer from thinner as a share of the mix: `x / (1 - x)`.
///
/// Symbols: `of_mix` (share, 0 to below 1). Source: arithmetic. 15 % of the mix is 17.6 % added.
pub fn added_from_share(of_mix: Ratio) -> Ratio {
    of_mix / (share(1.0) - of_mix)
}

/// Thinner as a share of the mix from thinner per lacquer: `r / (1 + r)`.
///
/// Symbols: `added` (share, 0 or more). Source: arithmetic. The inverse of [`added_from_share`].
pub fn share_from_added(added: Ratio) -> Ratio {
    added / (share(1.0) + added)
}

/// Volumes that make up a mix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// Lacquer.
    pub lacquer: Volume,
    /// Thinner other than the retarder.
    pub thinner: Volume,
    /// Retarder, which counts as part of the thinner.
    pub retarder: Volume,
}

/// Volumes of a mix of a wanted size; `None` when the retarder alone is more than the whole reduction.
///
/// Symbols: `total` (m3), `added` reduction per lacquer (share), of which `retarder_of_mix` (share of the mix).
/// Equation: `lacquer = total/(1 + added)`, `retarder = retarder_of_mix * total`, `thinner = total - both`.
/// Source: arithmetic. Ignores: the volume change on mixing.
pub fn parts(total: Volume, added: Ratio, retarder_of_mix: Ratio) -> Option<Parts> {
    let lacquer = total / (share(1.0) + added);
    let retarder = total * retarder_of_mix;
    let thinner = total - lacquer - retarder;
    // A rounding of the subtraction is not a negative volume.
    let none = thinner.to_base().abs() <= total.to_base() * 1e-12;
    (none || thinner.to_base() > 0.0).then(|| Parts {
        lacquer,
        thinner: if none { Volume::of_base(0.0) } else { thinner },
        retarder,
    })
}

/// Thinner per lacquer that brings solids down to a target: `solids / target - 1`; negative when they are below.
///
/// Symbols: both by volume (share, target above 0). Source: conservation of volume.
pub fn thinner_for_solids(solids: Ratio, target: Ratio) -> Ratio {
    solids / target - share(1.0)
}

/// The largest share of thinner in the mix at which VOC per volume of mix stays at a limit.
///
/// Symbols: `lacquer`, `thinner` VOC content and `limit` (kg/m3 of liquid).
/// Equation: `(limit - lacquer) / (thinner - lacquer)`, 1 when no amount reaches the limit, `None` when the lacquer
/// alone is above it. Valid: VOC per volume of the whole mix; a limit "less water and exempt solvents" is another
/// figure. Source: conservation of mass. Ignores: the volume change on mixing.
pub fn thinner_up_to(
    lacquer: MassDensity,
    thinner: MassDensity,
    limit: MassDensity,
) -> Option<Ratio> {
    if lacquer > limit {
        None
    } else if thinner <= limit {
        Some(share(1.0))
    } else {
        Some((limit - lacquer) / (thinner - lacquer))
    }
}

/// Volume-weighted mean of a figure over the parts of a mix; `None` for no volume.
///
/// Equation: `sum V_i x_i / sum V_i`. Source: conservation. Ignores: the volume change on mixing.
pub fn blend<Q>(parts: &[(Volume, Q)]) -> Option<f64>
where
    Q: Quantity,
{
    let all: f64 = parts.iter().map(|(v, _)| v.to_base()).sum();
    (all > 0.0).then(|| {
        parts
            .iter()
            .map(|(v, x)| v.to_base() * x.to_base())
            .sum::<f64>()
            / all
    })
}

/// One part of a mix as the record keeps it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeptPart {
    /// Its volume.
    pub volume: KeptVolume,
    /// Solids by volume of its data sheet.
    pub solids: KeptShare,
    /// Whether it is a retarder.
    pub retarder: bool,
}

/// Volume, volume solids and retarder share of a mix as the record keeps them; all zero for no volume.
///
/// Symbols: volumes (uL), solids (ppm). Equation: `sum V_i s_i / sum V_i` and `sum of retarder / sum V_i`, each
/// rounded half-to-even to a whole ppm. Source: conservation of volume. Ignores: the volume change on mixing.
pub fn kept_mix(parts: &[KeptPart]) -> (KeptVolume, KeptShare, KeptShare) {
    let (mut volume, mut solid, mut retarder) = (0_i128, 0_i128, 0_i128);
    for part in parts {
        let of_part = i128::from(part.volume.0);
        volume += of_part;
        solid += of_part * i128::from(part.solids.0);
        if part.retarder {
            retarder += of_part;
        }
    }
    if volume == 0 {
        return (KeptVolume(0), KeptShare(0), KeptShare(0));
    }
    let share = |n: i128| KeptShare(i64::try_from(num::round_half_even(n, volume)).unwrap_or(0));
    (
        KeptVolume(i64::try_from(volume).unwrap_or(i64::MAX)),
        share(solid),
        share(retarder * 1_000_000),
    )
}

/// How a cup's seconds become a viscosity.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Law {
    /// `a (t - b)`.
    Straight,
    /// `a t - b / t`.
    Hyperbola,
}

/// An efflux cup: its law with constants in mm2/s and s, and the seconds in which it holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffluxCup {
    /// The word that calls it.
    pub word: &'static str,
    law: Law,
    a: f64,
    b: f64,
    low: f64,
    high: f64,
    /// The standard of its constants.
    pub source: &'static str,
}

const fn cup(
    word: &'static str,
    law: Law,
    (a, b): (f64, f64),
    (low, high): (f64, f64),
    source: &'static str,
) -> EffluxCup {
    EffluxCup {
        word,
        law,
        a,
        b,
        low,
        high,
        source,
    }
}

const D1200: &str = "ASTM D1200, constants from a public repository and times from an excerpt of D1200-94, both cited \
     from stored excerpts";
const ISO: &str = "ISO 2431, constants from a public repository, cited from a stored excerpt";
const DIN: &str =
    "DIN 53211 (withdrawn), constants from a public repository, cited from a stored excerpt";
const D4212: &str =
    "ASTM D4212 (approximate), constants from a public repository, cited from a stored excerpt";

/// The standard cups.
pub static CUPS: &[EffluxCup] = &[
    cup("ford-1", Law::Straight, (0.49, 35.0), (55.0, 100.0), D1200),
    cup("ford-2", Law::Straight, (1.44, 18.0), (40.0, 100.0), D1200),
    cup("ford-3", Law::Straight, (2.31, 6.58), (20.0, 100.0), D1200),
    cup("ford-4", Law::Straight, (3.85, 4.49), (20.0, 100.0), D1200),
    cup("ford-5", Law::Straight, (12.1, 2.0), (20.0, 100.0), D1200),
    cup("iso-3", Law::Hyperbola, (0.443, 200.0), (30.0, 100.0), ISO),
    cup("iso-4", Law::Hyperbola, (1.37, 200.0), (30.0, 100.0), ISO),
    cup("iso-5", Law::Hyperbola, (3.28, 220.0), (30.0, 100.0), ISO),
    cup("iso-6", Law::Hyperbola, (6.90, 570.0), (30.0, 100.0), ISO),
    cup("din-4", Law::Hyperbola, (4.57, 452.0), (25.0, 150.0), DIN),
    cup("zahn-1", Law::Straight, (1.1, 29.0), (35.0, 80.0), D4212),
    cup("zahn-2", Law::Straight, (3.5, 14.0), (20.0, 80.0), D4212),
    cup("zahn-3", Law::Straight, (11.7, 7.5), (20.0, 80.0), D4212),
    cup("zahn-4", Law::Straight, (14.8, 5.0), (20.0, 80.0), D4212),
    cup("zahn-5", Law::Straight, (23.0, 0.0), (20.0, 80.0), D4212),
];

/// The words of [`CUPS`].
pub static CUP_WORDS: &[&str] = &[
    "ford-1", "ford-2", "ford-3", "ford-4", "ford-5", "iso-3", "iso-4", "iso-5", "iso-6", "din-4",
    "zahn-1", "zahn-2", "zahn-3", "zahn-4", "zahn-5",
];

/// The cup of this word.
pub fn find_cup(word: &str) -> Option<&'static EffluxCup> {
    CUPS.iter().find(|cup| cup.word == word)
}

impl EffluxCup {
    fn raw(&self, seconds: f64) -> f64 {
        match self.law {
            Law::Straight => self.a * (seconds - self.b),
            Law::Hyperbola => self.a * seconds - self.b / seconds,
        }
    }

    /// Kinematic viscosity of an efflux time.
    ///
    /// Symbols: `time` (s). Equation: `a (t - b)` for Ford and Zahn, `a t - b/t` for ISO and DIN, in mm2/s.
    /// Valid: the cup's own seconds (20 to 100 s for Ford 4, ...), Newtonian liquid, 25 C for Ford; outside it is
    /// refused. Source: [`EffluxCup::source`]. Accuracy: 5 to 15 %, Zahn 10 to 20 % (from memory, to be confirmed).
    /// Ignores: thixotropy, a worn orifice, solvent lost while it runs.
    pub fn viscosity(&self, time: Time) -> Result<KinematicViscosity, Refusal> {
        let seconds = time.to_base();
        if (self.low..=self.high).contains(&seconds) {
            Ok(KinematicViscosity::of_base(self.raw(seconds) * 1e-6))
        } else {
            Err(Refusal::outside(
                "seconds",
                SECONDS,
                seconds,
                self.low,
                self.high,
                &format!("{}, {}", self.word, self.source),
            ))
        }
    }

    /// Efflux time of a kinematic viscosity, the inverse of [`EffluxCup::viscosity`].
    ///
    /// Equation: `t = v/a + b`, or `t = (v + sqrt(v^2 + 4 a b)) / (2 a)`. Valid, source and accuracy: as there; a
    /// viscosity whose time would lie outside the cup's seconds is refused.
    pub fn seconds(&self, viscosity: KinematicViscosity) -> Result<Time, Refusal> {
        let v = viscosity.to_base() * 1e6;
        let seconds = match self.law {
            Law::Straight => v / self.a + self.b,
            Law::Hyperbola => (v + (v * v + 4.0 * self.a * self.b).sqrt()) / (2.0 * self.a),
        };
        // The slack is the rounding of a time that was itself computed from the edge.
        let slack = 1e-9 * self.high;
        if (self.low - slack..=self.high + slack).contains(&seconds) {
            Ok(Time::of_base(seconds))
        } else {
            Err(Refusal::outside(
                "viscosity",
                VISCOSITY,
                viscosity.to_base(),
                self.raw(self.low) * 1e-6,
                self.raw(self.high) * 1e-6,
                &format!("what {} can time, {}", self.word, self.source),
            ))
        }
    }
}

/// Factor of a rate or viscosity between two temperatures by Arrhenius' law: `exp(E/R (1/to - 1/from))`.
///
/// Symbols: `energy` (J/mol), temperatures (converted to K). A viscosity grows by this factor from `from` to `to`; a
/// rate shrinks by it. Valid: a few tens of kelvin. Source: Arrhenius and Andrade (from memory, to be confirmed).
/// Accuracy: that of the energy. Ignores: a glass transition in between.
pub fn thermal_factor(
    energy: f64,
    from: ThermodynamicTemperature,
    to: ThermodynamicTemperature,
) -> f64 {
    let kelvin = |t: ThermodynamicTemperature| t.to_base() + ZERO_C;
    (energy / GAS * (1.0 / kelvin(to) - 1.0 / kelvin(from))).exp()
}

/// Thinner as a share of the mix that brings a viscosity to a target by the logarithmic rule.
///
/// Symbols: `lacquer`, `thinner`, `target` kinematic viscosities (m2/s), `thinner < target <= lacquer`.
/// Equation: `x = ln(lacquer/target) / ln(lacquer/thinner)`. Source: logarithmic mixing rule after Arrhenius (from
/// memory, to be confirmed). Accuracy: rough, a polymer solution thins faster at first; two or three real dilutions
/// are better. `None` outside the valid order.
pub fn thinner_for_viscosity(
    lacquer: KinematicViscosity,
    thinner: KinematicViscosity,
    target: KinematicViscosity,
) -> Option<Ratio> {
    (thinner < target && target <= lacquer && thinner.to_base() > 0.0)
        .then(|| share((lacquer / target).to_base().ln() / (lacquer / thinner).to_base().ln()))
}

/// Pot life at another temperature: `life * exp(E/R (1/to - 1/from))`.
///
/// Symbols: `life` (s) at `from`, `energy` (J/mol). Valid: mixes that react in the pot; nitrocellulose lacquer does
/// not. Source: Arrhenius (from memory, to be confirmed). Accuracy: that of the energy, 45 to 65 kJ/mol for
/// two-part mixes (from memory, to be confirmed). Ignores: self-heating of a large pot.
pub fn pot_life(
    life: Time,
    from: ThermodynamicTemperature,
    to: ThermodynamicTemperature,
    energy: f64,
) -> Time {
    life * thermal_factor(energy, from, to)
}

fn ratio_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let of_mix: Ratio = inputs.get("of-mix")?;
    let added = added_from_share(of_mix);
    Ok(Worksheet::new("thinner added per lacquer", added, SHARE)
        .also(
            "parts of lacquer to one of thinner",
            if added.to_base() > 0.0 {
                1.0 / added.to_base()
            } else {
                0.0
            },
            NUMBER,
        )
        .step(
            "thinner added per lacquer",
            "of-mix / (1 - of-mix)",
            added,
            SHARE,
        )
        .assumes("both by volume, or both by mass; the two are not the same figure"))
}

fn added_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let of_mix = share_from_added(inputs.get("added")?);
    Ok(
        Worksheet::new("thinner as a share of the mix", of_mix, SHARE)
            .step(
                "thinner as a share of the mix",
                "added / (1 + added)",
                of_mix,
                SHARE,
            )
            .assumes("both by volume, or both by mass; the two are not the same figure"),
    )
}

fn mix(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let total: Volume = inputs.get("total")?;
    let added: Ratio = inputs.get("added")?;
    let retarder: Ratio = inputs.get("retarder")?;
    let parts = parts(total, added, retarder).ok_or_else(|| {
        Refusal::no_answer(
            "retarder",
            SHARE.text(retarder.to_base(), System::Metric),
            format!(
                "at most the whole reduction, {} of the mix",
                SHARE.text(share_from_added(added).to_base(), System::Metric)
            ),
        )
    })?;
    let solids: Ratio = inputs.get("solids")?;
    let sprayed = solids * parts.lacquer / total;
    let mut sheet = Worksheet::new("lacquer", parts.lacquer, CUP)
        .also("thinner", parts.thinner, CUP)
        .also("retarder", parts.retarder, CUP)
        .also("solids as sprayed", sprayed, SHARE)
        .step("lacquer", "total / (1 + added)", parts.lacquer, CUP)
        .step("retarder", "retarder x total", parts.retarder, CUP)
        .step("thinner", "total - lacquer - retarder", parts.thinner, CUP)
        .step(
            "solids as sprayed",
            "solids x lacquer / total",
            sprayed,
            SHARE,
        )
        .assumes("volumes add on mixing; the retarder is part of the reduction");
    for (name, input, volume) in [
        ("lacquer by mass", "lacquer-density", parts.lacquer),
        ("thinner by mass", "thinner-density", parts.thinner),
        ("retarder by mass", "retarder-density", parts.retarder),
    ] {
        if let Some(density) = inputs.maybe::<MassDensity>(input)? {
            sheet = sheet.also(name, volume * density, GRAMS).step(
                name,
                "volume x density",
                volume * density,
                GRAMS,
            );
        }
    }
    Ok(sheet)
}

fn as_applied(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let volumes: Vec<Volume> = inputs.list("volume")?;
    let solids: Vec<Ratio> = inputs.list("solids")?;
    let voc: Vec<MassDensity> = inputs.list("voc")?;
    for (name, count) in [("solids", solids.len()), ("voc", voc.len())] {
        if count != volumes.len() {
            return Err(Refusal::no_answer(
                name,
                format!("{count} values"),
                format!("as many as volume, {}", volumes.len()),
            ));
        }
    }
    let nothing = || Refusal::no_answer("volume", "0", "at least one volume above 0");
    let with_solids: Vec<_> = volumes.iter().copied().zip(solids).collect();
    let with_voc: Vec<_> = volumes.iter().copied().zip(voc).collect();
    let solids = share(blend(&with_solids).ok_or_else(nothing)?);
    let voc = MassDensity::of_base(blend(&with_voc).ok_or_else(nothing)?);
    let total: Volume = volumes.into_iter().fold(Volume::of_base(0.0), |a, b| a + b);
    Ok(Worksheet::new("VOC as applied", voc, CONTENT)
        .also("solids as applied", solids, SHARE)
        .also("volume of the mix", total, CUP)
        .step("volume of the mix", "sum of the volumes", total, CUP)
        .step("VOC as applied", "sum of volume x voc / volume of the mix", voc, CONTENT)
        .step("solids as applied", "sum of volume x solids / volume of the mix", solids, SHARE)
        .at_most("VOC per volume of the mix", Some(voc), inputs.maybe("limit")?, CONTENT)
        .assumes("VOC per volume of the whole mix; a limit \"less water and exempt solvents\" is another figure")
        .assumes("volumes add on mixing; all solvent leaves, whatever lands on the piece")
        .caution("which figure a rule means and how it is shown is for the air district and the data sheets; ask the safety lead"))
}

fn mix_figures(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let volumes: Vec<Volume> = inputs.list("volume")?;
    let solids: Vec<Ratio> = inputs.list("solids")?;
    let retarder = inputs.words("retarder")?;
    for (name, count) in [("solids", solids.len()), ("retarder", retarder.len())] {
        if count != volumes.len() {
            return Err(Refusal::no_answer(
                name,
                format!("{count} values"),
                format!("as many as volume, {}", volumes.len()),
            ));
        }
    }
    let parts: Vec<KeptPart> = volumes
        .iter()
        .zip(solids)
        .zip(retarder)
        .map(|((volume, solids), word)| KeptPart {
            volume: KeptVolume::of_base(volume.to_base()).unwrap_or_default(),
            solids: KeptShare::of_base(solids.to_base()).unwrap_or_default(),
            retarder: word == "yes",
        })
        .collect();
    let (volume, solids, retarder) = kept_mix(&parts);
    if volume.0 == 0 {
        return Err(Refusal::no_answer(
            "volume",
            "0",
            "at least one volume above 0",
        ));
    }
    let (volume, solids, retarder) = (
        Volume::of_base(volume.base()),
        share(solids.base()),
        share(retarder.base()),
    );
    Ok(Worksheet::new("solids as sprayed", solids, SHARE)
        .also("retarder as a share of the mix", retarder, SHARE)
        .also("volume of the mix", volume, CUP)
        .step("volume of the mix", "sum of the volumes", volume, CUP)
        .step(
            "solids as sprayed",
            "sum of volume x solids / volume of the mix",
            solids,
            SHARE,
        )
        .step(
            "retarder as a share of the mix",
            "sum of the retarder volumes / volume of the mix",
            retarder,
            SHARE,
        )
        .assumes("volumes add on mixing")
        .assumes("kept in whole parts per million, rounded half to even"))
}

fn thinner_allowed(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let lacquer: MassDensity = inputs.get("lacquer-voc")?;
    let thinner: MassDensity = inputs.get("thinner-voc")?;
    let limit: MassDensity = inputs.get("limit")?;
    let of_mix = thinner_up_to(lacquer, thinner, limit).ok_or_else(|| {
        Refusal::no_answer(
            "limit",
            CONTENT.text(limit.to_base(), System::Metric),
            format!(
                "the lacquer alone has {}, above it; no thinner brings it below",
                CONTENT.text(lacquer.to_base(), System::Metric)
            ),
        )
    })?;
    let at = lacquer + (thinner - lacquer) * of_mix;
    let mut sheet = Worksheet::new("thinner as a share of the mix, at the limit", of_mix, SHARE)
        .step("thinner as a share of the mix", "(limit - lacquer-voc) / (thinner-voc - lacquer-voc), 100 % when the thinner is below the limit", of_mix, SHARE)
        .step("VOC of that mix", "lacquer-voc + (thinner-voc - lacquer-voc) x share", at, CONTENT)
        .at_most("VOC per volume of the mix, as entered", Some(at), Some(limit), CONTENT)
        .assumes("VOC per volume of the whole mix; a limit \"less water and exempt solvents\" is another figure")
        .caution("which figure a rule means is for the air district and the data sheets; ask the safety lead");
    if of_mix.to_base() < 1.0 {
        let added = added_from_share(of_mix);
        sheet = sheet
            .also("thinner added per lacquer, at the limit", added, SHARE)
            .step(
                "thinner added per lacquer",
                "share / (1 - share)",
                added,
                SHARE,
            );
    }
    Ok(sheet)
}

fn target_solids(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let solids: Ratio = inputs.get("solids")?;
    let target: Ratio = inputs.get("target")?;
    let added = thinner_for_solids(solids, target);
    if added.to_base() < 0.0 {
        return Err(Refusal::no_answer(
            "target",
            SHARE.text(target.to_base(), System::Metric),
            format!(
                "at most the solids of the lacquer, {}; thinner only lowers them",
                SHARE.text(solids.to_base(), System::Metric)
            ),
        ));
    }
    Ok(Worksheet::new("thinner added per lacquer", added, SHARE)
        .also(
            "thinner as a share of the mix",
            share_from_added(added),
            SHARE,
        )
        .step(
            "thinner added per lacquer",
            "solids / target - 1",
            added,
            SHARE,
        )
        .step(
            "thinner as a share of the mix",
            "added / (1 + added)",
            share_from_added(added),
            SHARE,
        )
        .assumes("volumes add on mixing"))
}

fn top_up(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (left, added): (Volume, Volume) = (inputs.get("left")?, inputs.get("volume")?);
    let (left_solids, solids): (Ratio, Ratio) = (inputs.get("left-solids")?, inputs.get("solids")?);
    let after = blend(&[(left, left_solids), (added, solids)])
        .map(share)
        .ok_or_else(|| Refusal::no_answer("volume", "0", "some volume in the pot or added"))?;
    let mut sheet = Worksheet::new("solids after the top-up", after, SHARE)
        .also("volume in the pot", left + added, CUP)
        .step("volume in the pot", "left + volume", left + added, CUP)
        .step("solids after the top-up", "(left x left-solids + volume x solids) / (left + volume)", after, SHARE)
        .assumes("volumes add on mixing; the pot was stirred; what evaporated from the open pot is not counted");
    let left_voc: Option<MassDensity> = inputs.maybe("left-voc")?;
    let voc: Option<MassDensity> = inputs.maybe("voc")?;
    if let (Some(a), Some(b)) = (left_voc, voc)
        && let Some(mixed) = blend(&[(left, a), (added, b)])
    {
        let mixed = MassDensity::of_base(mixed);
        sheet = sheet.also("VOC after the top-up", mixed, CONTENT).step(
            "VOC after the top-up",
            "(left x left-voc + volume x voc) / (left + volume)",
            mixed,
            CONTENT,
        );
    }
    Ok(sheet)
}

fn named_cup(inputs: &Inputs, name: &str) -> Result<&'static EffluxCup, Refusal> {
    let word = inputs.word(name)?;
    find_cup(word).ok_or_else(|| Refusal::no_answer(name, word, CUP_WORDS.join(", ")))
}

fn cup_viscosity(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let cup = named_cup(inputs, "cup")?;
    let viscosity = cup.viscosity(inputs.get("seconds")?)?;
    let mut sheet = Worksheet::new("kinematic viscosity", viscosity, VISCOSITY)
        .step("kinematic viscosity", cup.formula(), viscosity, VISCOSITY)
        .source(cup.source)
        .assumes("Newtonian liquid at the cup's temperature, clean orifice, no draught");
    if let Some(density) = inputs.maybe::<MassDensity>("density")? {
        let dynamic = viscosity.to_base() * density.to_base() * 1e3;
        sheet = sheet.also("dynamic viscosity", dynamic, MILLIPASCAL).step(
            "dynamic viscosity",
            "kinematic viscosity x density",
            dynamic,
            MILLIPASCAL,
        );
    }
    for other in CUPS {
        // Only cups that hold at this viscosity are listed; the others would be an extrapolation.
        if other.word != cup.word
            && let Ok(time) = other.seconds(viscosity)
        {
            sheet = sheet.also(&format!("seconds in {}", other.word), time, SECONDS);
        }
    }
    Ok(sheet)
}

fn cup_seconds(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let cup = named_cup(inputs, "cup")?;
    let time = cup.seconds(inputs.get("viscosity")?)?;
    Ok(Worksheet::new("efflux time", time, SECONDS)
        .step("efflux time", cup.inverse(), time, SECONDS)
        .source(cup.source)
        .assumes("Newtonian liquid at the cup's temperature, clean orifice, no draught"))
}

impl EffluxCup {
    const fn formula(&self) -> &'static str {
        match self.law {
            Law::Straight => "a x (seconds - b), a and b of the cup",
            Law::Hyperbola => "a x seconds - b / seconds, a and b of the cup",
        }
    }

    const fn inverse(&self) -> &'static str {
        match self.law {
            Law::Straight => "viscosity / a + b, a and b of the cup",
            Law::Hyperbola => "(viscosity + sqrt(viscosity^2 + 4 a b)) / (2 a), a and b of the cup",
        }
    }
}

fn viscosity_temperature(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let energy: f64 = inputs.get("energy")?;
    let factor = thermal_factor(energy * 1e3, inputs.get("from")?, inputs.get("to")?);
    let viscosity: KinematicViscosity = inputs.get("viscosity")?;
    Ok(Worksheet::new("viscosity at the other temperature", viscosity * factor, VISCOSITY)
        .also("factor", factor, NUMBER)
        .step("factor", "exp(energy / R x (1 / to - 1 / from)), kelvin", factor, NUMBER)
        .step("viscosity at the other temperature", "viscosity x factor", viscosity * factor, VISCOSITY)
        .assumes("energy 15 to 30 kJ/mol for lacquers (from memory, to be confirmed); two readings at two temperatures give a shop its own"))
}

fn thin_to_viscosity(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (lacquer, thinner, target): (KinematicViscosity, KinematicViscosity, KinematicViscosity) = (
        inputs.get("viscosity")?,
        inputs.get("thinner-viscosity")?,
        inputs.get("target")?,
    );
    let of_mix = thinner_for_viscosity(lacquer, thinner, target).ok_or_else(|| {
        Refusal::no_answer(
            "target",
            VISCOSITY.text(target.to_base(), System::Metric),
            "above the thinner's viscosity and at most the lacquer's",
        )
    })?;
    let added = added_from_share(of_mix);
    Ok(Worksheet::new("thinner as a share of the mix", of_mix, SHARE)
        .also("thinner added per lacquer", added, SHARE)
        .step("thinner as a share of the mix", "ln(viscosity / target) / ln(viscosity / thinner-viscosity)", of_mix, SHARE)
        .step("thinner added per lacquer", "share / (1 - share)", added, SHARE)
        .assumes("logarithmic rule, rough: a polymer solution thins faster at first; start with less and measure")
        .assumes("thinning costs film: work out the wet film again with the new solids"))
}

fn pot_life_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let energy: f64 = inputs.get("energy")?;
    let life = pot_life(
        inputs.get("life")?,
        inputs.get("from")?,
        inputs.get("to")?,
        energy * 1e3,
    );
    Ok(Worksheet::new("pot life", life, HOURS)
        .step(
            "pot life",
            "life x exp(energy / R x (1 / to - 1 / from)), kelvin",
            life,
            HOURS,
        )
        .assumes(
            "a mix that reacts in the pot; nitrocellulose lacquer has no pot life of this kind",
        )
        .assumes("no self-heating; the data sheet's figure comes first"))
}

const MILLIPASCAL: Measure = Measure::plain("mPa s");
const ENERGY: Measure = Measure::plain("kJ/mol");
const CUP_INPUT: Input = Input::word("cup", "the cup", CUP_WORDS, "zahn-2");
const FROM: Input = Input::amount(
    "from",
    "temperature that the figure is for",
    TEMPERATURE,
    (-10.0, 60.0),
    "21 C",
);
const TO: Input = Input::amount(
    "to",
    "temperature that is asked for",
    TEMPERATURE,
    (-10.0, 60.0),
    "16 C",
);
const SOLIDS: Input = Input::amount(
    "solids",
    "solids by volume of the lacquer",
    SHARE,
    (1.0, 100.0),
    "20 %",
);
const ADDED: Input = Input::amount(
    "added",
    "thinner and retarder added, share of the lacquer's volume",
    SHARE,
    (0.0, 400.0),
    "25 %",
);
const VOLUMES: &str = "conservation of volume (arithmetic)";

/// The worksheets of this subject.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "mix",
        purpose: "Volumes and masses of a mix, with its solids",
        source: VOLUMES,
        inputs: &[
            Input::amount(
                "total",
                "volume of the finished mix",
                CUP,
                (1.0, 200_000.0),
                "1000 mL",
            ),
            ADDED,
            Input::amount(
                "retarder",
                "retarder as a share of the mix, part of the reduction",
                SHARE,
                (0.0, 50.0),
                "5 %",
            )
            .or("0 %"),
            SOLIDS,
            Input::amount(
                "lacquer-density",
                "density of the lacquer",
                DENSITY,
                (0.5, 2.0),
                "0.908 kg/L",
            )
            .or_unknown(),
            Input::amount(
                "thinner-density",
                "density of the thinner",
                DENSITY,
                (0.5, 2.0),
                "0.86 kg/L",
            )
            .or_unknown(),
            Input::amount(
                "retarder-density",
                "density of the retarder",
                DENSITY,
                (0.5, 2.0),
                "0.90 kg/L",
            )
            .or_unknown(),
        ],
        compute: mix,
    },
    Sheet {
        id: "added-from-share",
        purpose: "Thinner per lacquer from a percentage of the mix",
        source: "arithmetic",
        inputs: &[Input::amount(
            "of-mix",
            "thinner as a share of the finished mix",
            SHARE,
            (0.0, 95.0),
            "15 %",
        )],
        compute: ratio_sheet,
    },
    Sheet {
        id: "share-from-added",
        purpose: "Percentage of the mix from thinner added per lacquer",
        source: "arithmetic",
        inputs: &[ADDED],
        compute: added_sheet,
    },
    Sheet {
        id: "as-applied",
        purpose: "Volume solids and VOC of a mix as it is sprayed",
        source: "conservation of mass and volume (arithmetic)",
        inputs: &[
            Input::amount(
                "volume",
                "volume of each part",
                CUP,
                (0.0, 200_000.0),
                "[800 mL,200 mL]",
            )
            .list(1, 12),
            Input::amount(
                "solids",
                "solids by volume of each part",
                SHARE,
                (0.0, 100.0),
                "[20 %,0 %]",
            )
            .list(1, 12),
            Input::amount(
                "voc",
                "VOC content of each part, per its own volume",
                CONTENT,
                (0.0, 1500.0),
                "[680 g/L,860 g/L]",
            )
            .list(1, 12),
            Input::amount(
                "limit",
                "limit on VOC per volume of the mix",
                CONTENT,
                (0.0, 1500.0),
                "725 g/L",
            )
            .or_unknown(),
        ],
        compute: as_applied,
    },
    Sheet {
        id: "mix-figures",
        purpose: "Volume solids and retarder share of a mix as the record keeps them",
        source: VOLUMES,
        inputs: &[
            Input::amount(
                "volume",
                "volume of each part",
                CUP,
                (0.0, 1_000_000.0),
                "[3000 mL,1000 mL,80 mL]",
            )
            .list(1, 40),
            Input::amount(
                "solids",
                "solids by volume of each part",
                SHARE,
                (0.0, 100.0),
                "[17 %,0 %,0 %]",
            )
            .list(1, 40),
            Input::word(
                "retarder",
                "whether each part is a retarder",
                &["yes", "no"],
                "[no,no,yes]",
            )
            .list(1, 40),
        ],
        compute: mix_figures,
    },
    Sheet {
        id: "thinner-allowed",
        purpose: "Thinner that a VOC limit leaves room for",
        source: "conservation of mass and volume (arithmetic)",
        inputs: &[
            Input::amount(
                "lacquer-voc",
                "VOC content of the lacquer",
                CONTENT,
                (0.0, 1500.0),
                "680 g/L",
            ),
            Input::amount(
                "thinner-voc",
                "VOC content of the thinner",
                CONTENT,
                (0.0, 1500.0),
                "860 g/L",
            ),
            Input::amount(
                "limit",
                "limit on VOC per volume of the mix",
                CONTENT,
                (0.0, 1500.0),
                "725 g/L",
            ),
        ],
        compute: thinner_allowed,
    },
    Sheet {
        id: "target-solids",
        purpose: "Thinner that brings volume solids down to a target",
        source: VOLUMES,
        inputs: &[
            SOLIDS,
            Input::amount(
                "target",
                "wanted solids by volume as sprayed",
                SHARE,
                (1.0, 100.0),
                "15 %",
            ),
        ],
        compute: target_solids,
    },
    Sheet {
        id: "top-up",
        purpose: "Solids and VOC of a pot after a top-up",
        source: "conservation of mass and volume (arithmetic)",
        inputs: &[
            Input::amount(
                "left",
                "volume left in the pot",
                CUP,
                (0.0, 200_000.0),
                "400 mL",
            ),
            Input::amount(
                "left-solids",
                "its solids by volume",
                SHARE,
                (0.0, 100.0),
                "16 %",
            ),
            Input::amount(
                "volume",
                "volume poured in",
                CUP,
                (0.0, 200_000.0),
                "600 mL",
            ),
            Input::amount(
                "solids",
                "its solids by volume",
                SHARE,
                (0.0, 100.0),
                "12 %",
            ),
            Input::amount(
                "left-voc",
                "VOC content of what was left",
                CONTENT,
                (0.0, 1500.0),
                "716 g/L",
            )
            .or_unknown(),
            Input::amount(
                "voc",
                "VOC content of what was poured in",
                CONTENT,
                (0.0, 1500.0),
                "752 g/L",
            )
            .or_unknown(),
        ],
        compute: top_up,
    },
    Sheet {
        id: "cup-viscosity",
        purpose: "Kinematic viscosity from the seconds of an efflux cup, and the seconds of other cups",
        source: "ASTM D1200, ISO 2431, ASTM D4212 and DIN 53211, cited from stored excerpts",
        inputs: &[
            CUP_INPUT,
            Input::amount("seconds", "efflux time", SECONDS, (1.0, 600.0), "22 s"),
            Input::amount(
                "density",
                "density of the liquid",
                DENSITY,
                (0.5, 2.0),
                "0.908 kg/L",
            )
            .or_unknown(),
        ],
        compute: cup_viscosity,
    },
    Sheet {
        id: "cup-seconds",
        purpose: "Seconds of an efflux cup for a kinematic viscosity",
        source: "ASTM D1200, ISO 2431, ASTM D4212 and DIN 53211, cited from stored excerpts",
        inputs: &[
            CUP_INPUT,
            Input::amount(
                "viscosity",
                "kinematic viscosity",
                VISCOSITY,
                (1.0, 3000.0),
                "64.5 mm2/s",
            ),
        ],
        compute: cup_seconds,
    },
    Sheet {
        id: "viscosity-temperature",
        purpose: "Viscosity at another temperature",
        source: "Andrade's law (from memory, to be confirmed)",
        inputs: &[
            Input::amount(
                "viscosity",
                "kinematic viscosity",
                VISCOSITY,
                (1.0, 3000.0),
                "79 mm2/s",
            ),
            FROM,
            TO,
            Input::amount(
                "energy",
                "activation energy of flow (from memory, to be confirmed)",
                ENERGY,
                (1.0, 100.0),
                "20",
            )
            .or("20"),
        ],
        compute: viscosity_temperature,
    },
    Sheet {
        id: "thin-to-viscosity",
        purpose: "Thinner that brings a viscosity down to a target, roughly",
        source: "logarithmic mixing rule (from memory, to be confirmed)",
        inputs: &[
            Input::amount(
                "viscosity",
                "kinematic viscosity of the lacquer",
                VISCOSITY,
                (2.0, 3000.0),
                "155.96 mm2/s",
            ),
            Input::amount(
                "target",
                "wanted kinematic viscosity",
                VISCOSITY,
                (1.0, 3000.0),
                "78.96 mm2/s",
            ),
            Input::amount(
                "thinner-viscosity",
                "kinematic viscosity of the thinner (0.9 from memory, to be confirmed)",
                VISCOSITY,
                (0.1, 10.0),
                "0.9 mm2/s",
            )
            .or("0.9 mm2/s"),
        ],
        compute: thin_to_viscosity,
    },
    Sheet {
        id: "pot-life",
        purpose: "Pot life of a reacting mix at another temperature",
        source: "Arrhenius' law (from memory, to be confirmed)",
        inputs: &[
            Input::amount(
                "life",
                "pot life on the data sheet",
                HOURS,
                (0.0, 240.0),
                "4 h",
            ),
            FROM,
            TO,
            Input::amount(
                "energy",
                "activation energy of the cure",
                ENERGY,
                (10.0, 150.0),
                "50",
            ),
        ],
        compute: pot_life_sheet,
    },
];
