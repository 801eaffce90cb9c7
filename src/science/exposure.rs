//! What people breathe: time-weighted average, mixture index, ceilings and peaks, and the air that dilutes a vapour.
//!
//! *Invariants*: no exposure limit stands in this file; every limit is an argument that somebody enters with its
//! source. The average is always divided by eight hours, however short the shift.
//!
//! *Not here*: a judgement about health. Whoever reads these figures asks the safety lead or an industrial hygienist.

mod sheets;

use uom::si::f64::{
    MassDensity, MolarMass, Pressure, Ratio, ThermodynamicTemperature, Time, VolumeRate,
};
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::molar_mass::kilogram_per_mole;
use uom::si::ratio::{part_per_million, ratio};
use uom::si::time::{hour, second};
use uom::si::volume_rate::cubic_meter_per_second;

use super::validity::{Against, Outside, Range, against, range};
use super::vapour;

pub use sheets::SHEETS;

const PPM: Range = range(
    "concentration",
    "ppm",
    0.0,
    1_000_000.0,
    "a share of the air",
);
const LIMIT: Range = range(
    "exposure limit",
    "ppm",
    0.001,
    1_000_000.0,
    "a limit of zero cannot be divided by",
);

/// The eight-hour time-weighted average.
///
/// Symbols: `C` concentration and `T` time of each part of the shift. Valid for a shift of at most 24 h.
/// Equation: `E = sum(C T) / 8 h`, always divided by 8.
/// Source: 29 CFR 1910.1000(d)(1)(i), cited from a stored excerpt; its example of 2 h at 150, 2 h at 75 and 4 h at
/// 50 ppm gives 81.25. Accuracy: that of the samples.
/// It ignores hours that nobody sampled: they count as zero here, so say so beside the figure.
pub fn time_weighted_average(parts: &[(Ratio, Time)]) -> Result<Ratio, Outside> {
    const SHIFT: Range = range("sampled time", "h", 0.0, 24.0, "one day");
    let mut sum = 0.0;
    let mut hours = 0.0;
    for (concentration, time) in parts {
        let h = SHIFT.hold(time.get::<hour>())?;
        hours += h;
        sum += PPM.hold(concentration.get::<part_per_million>())? * h;
    }
    SHIFT.hold(hours)?;
    Ok(Ratio::new::<part_per_million>(sum / 8.0))
}

/// The mixture exposure index: above 1 the mixture is over its combined limit.
///
/// Symbols: `C` concentration and `L` limit of each substance, both in one unit. Valid for limits above zero.
/// Equation: `Em = sum(C / L)`.
/// Source: 29 CFR 1910.1000(d)(2)(i), cited from a stored excerpt; its example gives 0.925.
/// It ignores whether the substances act alike; the rule does not ask.
pub fn mixture_index(parts: &[(Ratio, Ratio)]) -> Result<Ratio, Outside> {
    let mut sum = 0.0;
    for (concentration, limit) in parts {
        let c = PPM.hold(concentration.get::<part_per_million>())?;
        sum += c / LIMIT.hold(limit.get::<part_per_million>())?;
    }
    Ok(Ratio::new::<ratio>(sum))
}

/// A ceiling with a permitted peak above it, as somebody entered it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CeilingRule {
    /// The concentration not to be exceeded, except as below.
    pub ceiling: Ratio,
    /// The highest peak; none where no peak above the ceiling is allowed.
    pub peak: Option<Ratio>,
    /// How long in a shift the ceiling may be exceeded up to the peak.
    pub peak_time: Time,
}

/// What a shift did against a ceiling and a peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CeilingHeld {
    /// The highest concentration against the ceiling.
    pub ceiling: Against,
    /// The time above the ceiling.
    pub time_above: Time,
    /// That time against what the rule allows.
    pub time: Against,
    /// The highest concentration against the peak; none where the rule has none.
    pub peak: Option<Against>,
}

impl CeilingHeld {
    /// Whether the shift is over the rule: above the ceiling for too long, above the peak, or above a ceiling without
    /// a peak.
    pub fn over(&self) -> bool {
        self.ceiling == Against::Over
            && (self.peak.is_none_or(|side| side == Against::Over) || self.time == Against::Over)
    }
}

/// Holds the samples of a shift against a ceiling with a permitted peak (the logic of Table Z-2).
///
/// Symbols: `C` and `T` of each sample. Valid for a shift of at most 24 h.
/// Rule: above the ceiling only up to the peak, and in all only for the listed time in a shift.
/// Source: 29 CFR 1910.1000(b), Table Z-2 logic, cited from a stored excerpt; the figures are the entered ones.
/// It ignores what happened between samples.
pub fn hold_ceiling(parts: &[(Ratio, Time)], rule: &CeilingRule) -> Result<CeilingHeld, Outside> {
    const SHIFT: Range = range("sampled time", "h", 0.0, 24.0, "one day");
    let ceiling = LIMIT.hold(rule.ceiling.get::<part_per_million>())?;
    let mut highest = 0.0_f64;
    let mut above = 0.0;
    for (concentration, time) in parts {
        let c = PPM.hold(concentration.get::<part_per_million>())?;
        SHIFT.hold(time.get::<hour>())?;
        highest = highest.max(c);
        if against(c, ceiling) == Against::Over {
            above += time.get::<second>();
        }
    }
    Ok(CeilingHeld {
        ceiling: against(highest, ceiling),
        time_above: Time::new::<second>(above),
        time: against(above, rule.peak_time.get::<second>()),
        peak: rule
            .peak
            .map(|peak| against(highest, peak.get::<part_per_million>())),
    })
}

/// A concentration in air as mass in a volume.
///
/// Symbols: `x` share of the air, `M` molar mass, `Vm` molar volume of air. Valid for 0 to 1 000 000 ppm.
/// Equation: `c = x M / Vm(T, p)`; at 25 C and 760 torr `Vm` is 24.4654 L/mol.
/// Source: ideal gas; hygiene tables print 24.45 L/mol (0.06 % more), see [`mass_concentration_conventional`].
/// It ignores aerosol: it is for vapour only.
pub fn mass_concentration(
    concentration: Ratio,
    molar_mass: MolarMass,
    t: ThermodynamicTemperature,
    pressure: Pressure,
) -> Result<MassDensity, Outside> {
    let x = PPM.hold(concentration.get::<part_per_million>())? / 1.0e6;
    let m = vapour::MOLAR_MASS.hold(molar_mass.get::<kilogram_per_mole>() * 1_000.0)? / 1_000.0;
    let volume = vapour::molar_volume_m3(t, pressure)?;
    Ok(MassDensity::new::<kilogram_per_cubic_meter>(x * m / volume))
}

/// A concentration as mass in a volume with the 24.45 L/mol of hygiene tables (25 C, 760 torr).
///
/// Symbols: `x` in ppm, `M` in g/mol. Equation: `mg/m3 = ppm M / 24.45`.
/// Source: convention of the tables of 29 CFR 1910.1000, reference state cited from a stored excerpt.
pub fn mass_concentration_conventional(
    concentration: Ratio,
    molar_mass: MolarMass,
) -> Result<MassDensity, Outside> {
    let x = PPM.hold(concentration.get::<part_per_million>())?;
    let m = vapour::MOLAR_MASS.hold(molar_mass.get::<kilogram_per_mole>() * 1_000.0)?;
    Ok(MassDensity::new::<kilogram_per_cubic_meter>(
        x * m / 24.45 * 1.0e-6,
    ))
}

/// The mixing factor of a room: how many times more air than perfect mixing it needs. From 1 to 10.
const MIXING: Range = range(
    "mixing factor K",
    "1",
    1.0,
    10.0,
    "1 is perfect mixing, 10 poor; a figure below 1 is the inverse of it (from memory, to be confirmed)",
);
const EVAPORATION: Range = range(
    "evaporation",
    "m3/s",
    0.0,
    0.01,
    "liquid evaporated in a room",
);

/// The air flow that keeps a vapour at a target concentration, in the US handbook's form.
///
/// Symbols: `SG` specific gravity, `ER` pints a minute, `MW` g/mol, `C` target in ppm, `K` mixing factor (1 to 10), `Q`
/// in cfm.
/// Equation: `Q = 403 SG 1000000 K ER / (MW C)`; 403 ft3 is the vapour of a pint at SG 1, MW 1 and 70 F.
/// Source: ACGIH Industrial Ventilation, dilution chapter; the formula cited from a stored excerpt, its worked
/// examples from memory, to be confirmed. Accuracy: the printed 403 is 0.1 % below the exact figure.
/// It ignores how the air reaches the breather; `K` stands for that and is a guess.
pub fn dilution_for_health(
    liquid: VolumeRate,
    specific_gravity: Ratio,
    molar_mass: MolarMass,
    target: Ratio,
    mixing: Ratio,
) -> Result<VolumeRate, Outside> {
    const GRAVITY: Range = range("specific gravity", "1", 0.3, 3.0, "a liquid solvent");
    const PINT: f64 = 0.000_473_176_473;
    const CFM: f64 = 0.028_316_846_592 / 60.0;
    let pints = EVAPORATION.hold(liquid.get::<cubic_meter_per_second>())? * 60.0 / PINT;
    let gravity = GRAVITY.hold(specific_gravity.get::<ratio>())?;
    let m = vapour::MOLAR_MASS.hold(molar_mass.get::<kilogram_per_mole>() * 1_000.0)?;
    let c = LIMIT.hold(target.get::<part_per_million>())?;
    let k = MIXING.hold(mixing.get::<ratio>())?;
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        403.0 * gravity * 1.0e6 * k * pints / (m * c) * CFM,
    ))
}

/// The concentration that a steady evaporation leaves in a ventilated room.
///
/// Symbols: `G` vapour given off, `Q` air flow, `K` mixing factor (1 to 10). Valid for a flow above zero.
/// Equation: `C = K G / Q`. Source: mass balance with the mixing factor of the ACGIH handbook.
/// It ignores the build-up at the start and the place near the work, where it is higher.
pub fn steady_concentration(
    vapour: VolumeRate,
    air: VolumeRate,
    mixing: Ratio,
) -> Result<Ratio, Outside> {
    const VAPOUR: Range = range("vapour", "m3/s", 0.0, 10.0, "vapour given off in a room");
    const AIR: Range = range("air flow", "m3/s", 1.0e-6, 200.0, "a room's fan");
    let g = VAPOUR.hold(vapour.get::<cubic_meter_per_second>())?;
    let q = AIR.hold(air.get::<cubic_meter_per_second>())?;
    let k = MIXING.hold(mixing.get::<ratio>())?;
    Ok(Ratio::new::<ratio>(k * g / q))
}
