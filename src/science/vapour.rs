//! Solvent vapour and fire: how much vapour a liquid makes, the lower explosive limit of a solvent and of a mixture,
//! the air that dilutes it to a share of that limit, and the vapour that fresh work leaves in a room.
//!
//! *Invariants*: a lower explosive limit is a typed share, so that 1.4 % cannot be taken for 1.4; the printed form of
//! the dilution rule and the exact mass balance are two functions and are never mixed; air is counted for each gallon
//! of **solvent**, so a coating's solids must be taken off first.
//!
//! *Not here*: any word that a room may be entered or a spark allowed. If perfectly mixed; near the floor and the work
//! it can be many times higher; a meter and a qualified person decide.

mod sheets;

use uom::si::f64::{
    MassDensity, MolarEnergy, MolarMass, MolarVolume, Pressure, Ratio, ThermodynamicTemperature,
    Time, Volume, VolumeRate,
};
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::molar_energy::joule_per_mole;
use uom::si::molar_mass::kilogram_per_mole;
use uom::si::molar_volume::cubic_meter_per_mole;
use uom::si::pressure::pascal;
use uom::si::ratio::{percent, ratio};
use uom::si::thermodynamic_temperature::{degree_celsius, kelvin};
use uom::si::time::second;
use uom::si::volume::cubic_meter;
use uom::si::volume_rate::cubic_meter_per_second;

use super::solvents::{Limit, Solvent, Standing};
use super::validity::{Outside, Range, range};

pub use sheets::SHEETS;

/// The gas constant, J/(mol K); exact since 2019.
pub const GAS: f64 = 8.314_462_618;
/// What every figure of vapour in a room is printed with.
pub const ROOM_CAUTION: &str = "if perfectly mixed; near the floor and the work it can be many times higher; a meter and a qualified person decide";

pub(super) const MOLAR_MASS: Range = range("molar mass", "g/mol", 10.0, 500.0, "a solvent");
const DENSITY: Range = range(
    "liquid density",
    "kg/m3",
    300.0,
    3_000.0,
    "a liquid solvent",
);
const TEMPERATURE: Range = range("temperature", "C", -40.0, 100.0, "air in a room or a duct");
const BAROMETER: Range = range(
    "air pressure",
    "Pa",
    60_000.0,
    110_000.0,
    "inhabited heights",
);
const LEL: Range = range(
    "lower explosive limit",
    "%",
    0.3,
    40.0,
    "per cent of the air by volume; a figure such as 0.014 is a fraction",
);
const TARGET: Range = range(
    "share of the lower explosive limit",
    "%",
    0.1,
    100.0,
    "above it the vapour can burn",
);
const FLOW: Range = range("air flow", "m3/s", 1.0e-6, 200.0, "a room's fan");
const VAPOUR_RATE: Range = range("vapour", "m3/s", 0.0, 10.0, "vapour given off in a room");
const VAPOUR: Range = range("vapour", "m3", 0.0, 10_000.0, "vapour given off in a room");
const ROOM: Range = range("room volume", "m3", 0.1, 100_000.0, "a booth or a room");
const LIQUID: Range = range(
    "solvent",
    "m3/s",
    0.0,
    0.01,
    "liquid sprayed or evaporated in a room",
);
const PER_LIQUID: Range = range(
    "vapour from the liquid",
    "m3/m3",
    50.0,
    2_000.0,
    "solvents give 130 to 620 times their liquid volume",
);

// Litres would need a factor at every use; cubic metres per mole keep the other SI figures as they are.
pub(super) fn molar_volume_m3(
    t: ThermodynamicTemperature,
    pressure: Pressure,
) -> Result<f64, Outside> {
    TEMPERATURE.hold(t.get::<degree_celsius>())?;
    let p = BAROMETER.hold(pressure.get::<pascal>())?;
    Ok(GAS * t.get::<kelvin>() / p)
}

/// The volume that a mole of vapour takes.
///
/// Symbols: `T` absolute temperature, `p` air pressure, `R` gas constant. Valid from -40 to 100 C, 60 to 110 kPa.
/// Equation: `Vm = R T / p`. Source: ideal gas. Accuracy: 1 to 2 % for solvent vapours near their boiling point.
/// It ignores how unlike an ideal gas a vapour is.
pub fn molar_volume(
    t: ThermodynamicTemperature,
    pressure: Pressure,
) -> Result<MolarVolume, Outside> {
    Ok(MolarVolume::new::<cubic_meter_per_mole>(molar_volume_m3(
        t, pressure,
    )?))
}

/// The volume of vapour that a volume of liquid makes.
///
/// Symbols: `rho` liquid density, `M` molar mass. Valid as [`molar_volume`].
/// Equation: `vapour / liquid = rho / M R T / p`. Source: ideal gas. Accuracy: 1 to 2 %, plus the density's own.
/// It ignores how long the liquid takes to evaporate.
pub fn vapour_per_liquid(
    density: MassDensity,
    molar_mass: MolarMass,
    t: ThermodynamicTemperature,
    pressure: Pressure,
) -> Result<Ratio, Outside> {
    let rho = DENSITY.hold(density.get::<kilogram_per_cubic_meter>())?;
    let m = MOLAR_MASS.hold(molar_mass.get::<kilogram_per_mole>() * 1_000.0)? / 1_000.0;
    Ok(Ratio::new::<ratio>(rho / m * molar_volume_m3(t, pressure)?))
}

/// The lower explosive limit that is used, where it comes from and all others that are known.
#[derive(Debug, Clone, PartialEq)]
pub struct LelChoice {
    /// The limit that is used.
    pub used: Ratio,
    /// Where it comes from.
    pub from: String,
    /// Whether it was read or remembered.
    pub standing: Standing,
    /// Every known value with its source, lowest first.
    pub known: Vec<Limit>,
}

/// Chooses the lower explosive limit of a solvent: the data sheet's where somebody entered it, else the lowest known.
///
/// Symbols: `sheet` the data sheet's figure, 0.3 to 40 % of the air by volume. Gives none when neither exists.
/// Rule: data sheet, else lowest of the sources; all known ones are listed beside it.
/// Source: the sources named in the solvent table. It ignores that some limits were measured hot.
pub fn choose_lel(
    sheet: Option<Ratio>,
    solvent: Option<&Solvent>,
) -> Result<Option<LelChoice>, Outside> {
    let mut known: Vec<Limit> = solvent.map(|s| s.limits.to_vec()).unwrap_or_default();
    known.sort_by(|a, b| a.percent.total_cmp(&b.percent));
    if let Some(sheet) = sheet {
        let value = LEL.hold(sheet.get::<percent>())?;
        return Ok(Some(LelChoice {
            used: Ratio::new::<percent>(value),
            from: "the data sheet's figure, as entered".to_owned(),
            standing: Standing::Entered,
            known,
        }));
    }
    Ok(known.first().copied().map(|lowest| LelChoice {
        used: Ratio::new::<percent>(lowest.percent),
        from: format!("the lowest of {} known: {}", known.len(), lowest.source),
        standing: lowest.standing,
        known,
    }))
}

/// The lower explosive limit of a mixture of vapours.
///
/// Symbols: `y` share of each in the vapour (they are brought to a sum of 1), `L` its limit. Valid for 0.3 to 40 %.
/// Equation: `L = 1 / sum(y / L)`. Source: Le Chatelier's rule (from memory, to be confirmed; it reproduces a textbook
/// gas mixture). Accuracy: good for solvents of one kind, poorer for unlike ones.
/// It ignores parts that do not burn: leave them out of `y`, which is the cautious way.
pub fn mixture_lel(parts: &[(Ratio, Ratio)]) -> Result<Ratio, Outside> {
    const SHARE: Range = range(
        "share in the vapour",
        "1",
        0.0,
        1.0e9,
        "a share is not negative",
    );
    const SUM: Range = range("sum of shares", "1", 1.0e-12, 1.0e9, "at least one part");
    let (mut sum, mut weighted) = (0.0, 0.0);
    for (share, limit) in parts {
        let y = SHARE.hold(share.get::<ratio>())?;
        sum += y;
        weighted += y / LEL.hold(limit.get::<percent>())?;
    }
    Ok(Ratio::new::<percent>(SUM.hold(sum)? / weighted))
}

/// One solvent in a liquid blend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Its share of the liquid by volume.
    pub share: Ratio,
    /// Its density.
    pub density: MassDensity,
    /// Its molar mass.
    pub molar_mass: MolarMass,
    /// Its lower explosive limit.
    pub lel: Ratio,
}

/// What a blend of solvents gives when all of it evaporates.
#[derive(Debug, Clone, PartialEq)]
pub struct Blend {
    /// Share of each part in the vapour, in the order given.
    pub vapour_shares: Vec<Ratio>,
    /// Volume of vapour for a volume of liquid.
    pub per_liquid: Ratio,
    /// The mixture's lower explosive limit.
    pub lel: Ratio,
}

/// The vapour of a blend and its lower explosive limit.
///
/// Symbols: `v` share of the liquid by volume, `rho` density, `M` molar mass, `L` limit of each; `v` sum to at most 1
/// (what is missing does not evaporate). Valid as [`vapour_per_liquid`].
/// Equation: `n = v rho / M`, `y = n / sum(n)`, `vapour / liquid = sum(n) R T / p`, `L = 1 / sum(y / L)`.
/// Source: ideal gas and Le Chatelier's rule. Accuracy: see both.
/// It ignores that the fast solvents leave first, so that the vapour of the first minutes is another one.
pub fn blend(
    parts: &[Part],
    t: ThermodynamicTemperature,
    pressure: Pressure,
) -> Result<Blend, Outside> {
    const SHARE: Range = range(
        "share of the liquid",
        "%",
        0.0,
        100.0,
        "a share of the whole",
    );
    const SUM: Range = range("sum of shares", "%", 0.01, 100.0, "shares of one liquid");
    let volume = molar_volume_m3(t, pressure)?;
    let mut total_share = 0.0;
    let mut moles = Vec::with_capacity(parts.len());
    for part in parts {
        let share = SHARE.hold(part.share.get::<percent>())?;
        total_share += share;
        let rho = DENSITY.hold(part.density.get::<kilogram_per_cubic_meter>())?;
        let m = MOLAR_MASS.hold(part.molar_mass.get::<kilogram_per_mole>() * 1_000.0)? / 1_000.0;
        moles.push(share / 100.0 * rho / m);
    }
    SUM.hold(total_share)?;
    let sum: f64 = moles.iter().sum();
    let vapour_shares: Vec<Ratio> = moles.iter().map(|n| Ratio::new::<ratio>(n / sum)).collect();
    let pairs: Vec<(Ratio, Ratio)> = vapour_shares
        .iter()
        .copied()
        .zip(parts.iter().map(|part| part.lel))
        .collect();
    Ok(Blend {
        lel: mixture_lel(&pairs)?,
        vapour_shares,
        per_liquid: Ratio::new::<ratio>(sum * volume),
    })
}

/// The air that dilutes a volume of vapour to a quarter of its lower explosive limit, in the form of the rule.
///
/// Symbols: `V` vapour, `LEL` in per cent, `Vd` air. Valid for 0.3 to 40 %. With the vapour of one gallon of
/// **solvent** `Vd` is for a gallon of solvent, not of coating.
/// Equation: `Vd = 4 (100 - LEL) V / LEL`.
/// Source: 29 CFR 1910.94(c)(6)(ii), from memory, to be confirmed; its example (toluene, 30.4 ft3, 1.4 %: 8564 ft3)
/// reproduces. Accuracy: 1 % below the exact mass balance, see [`dilution_exact`].
/// It ignores uneven mixing and breathing: a quarter of the limit is hundreds of times above what may be breathed.
pub fn dilution_printed(vapour: Volume, lel: Ratio) -> Result<Volume, Outside> {
    let v = VAPOUR.hold(vapour.get::<cubic_meter>())?;
    let l = LEL.hold(lel.get::<percent>())?;
    Ok(Volume::new::<cubic_meter>(4.0 * (100.0 - l) * v / l))
}

/// The air that dilutes a volume of vapour to any share of its lower explosive limit, by mass balance.
///
/// Symbols: `V` vapour, `LEL` in per cent, `f` target share of it, `Vd` air. Valid for 0.3 to 40 % and `f` 0.1 to 100 %.
/// Equation: `Vd = V (100 - f LEL) / (f LEL)`.
/// Source: mass balance; `f` is 25 % in 29 CFR 1910.94(c)(6)(ii) (from memory, to be confirmed), below 20 % in
/// California's Title 8, 5153(d) (cited from a stored excerpt). It ignores uneven mixing and breathing.
pub fn dilution_exact(vapour: Volume, lel: Ratio, target: Ratio) -> Result<Volume, Outside> {
    let v = VAPOUR.hold(vapour.get::<cubic_meter>())?;
    let wanted = LEL.hold(lel.get::<percent>())? * TARGET.hold(target.get::<percent>())? / 100.0;
    Ok(Volume::new::<cubic_meter>(v * (100.0 - wanted) / wanted))
}

/// The air flow that keeps a steady evaporation at a share of the lower explosive limit, by mass balance.
///
/// Symbols: `G` liquid evaporated, `r` vapour from the liquid, `c = f LEL`. Valid as [`dilution_exact`].
/// Equation: `Q = G r (1 - c) / c`. Source: mass balance. It ignores uneven mixing and breathing.
pub fn dilution_flow(
    liquid: VolumeRate,
    per_liquid: Ratio,
    lel: Ratio,
    target: Ratio,
) -> Result<VolumeRate, Outside> {
    let g = LIQUID.hold(liquid.get::<cubic_meter_per_second>())?;
    let r = PER_LIQUID.hold(per_liquid.get::<ratio>())?;
    let c = LEL.hold(lel.get::<percent>())? * TARGET.hold(target.get::<percent>())? / 10_000.0;
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        g * r * (1.0 - c) / c,
    ))
}

/// The air flow for a solvent at the rate at which it is used, from the air for a volume of it.
///
/// Symbols: `Vd / liquid` air for a volume of solvent, `G` solvent in a time. Equation: `Q = Vd / liquid G`.
/// Source: 29 CFR 1910.94(c)(6)(ii), from memory, to be confirmed. `G` is the volatile part of the coating alone.
pub fn flow_for_rate(air: Volume, liquid: Volume, rate: VolumeRate) -> Result<VolumeRate, Outside> {
    const POT: Range = range(
        "solvent",
        "m3",
        1.0e-6,
        10.0,
        "a measured amount of solvent",
    );
    let pot = POT.hold(liquid.get::<cubic_meter>())?;
    let g = LIQUID.hold(rate.get::<cubic_meter_per_second>())?;
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        air.get::<cubic_meter>() / pot * g,
    ))
}

/// The share of the lower explosive limit in the exhaust at a spray rate.
///
/// Symbols: `G` solvent sprayed, `r` vapour from the liquid, `Q` exhaust. Valid for a flow above zero.
/// Equation: `share = G r / Q / LEL`. Source: mass balance. It assumes that all solvent sprayed leaves with the exhaust
/// at once and perfectly mixed; near the gun and the floor it can be many times higher.
pub fn percent_of_lel(
    liquid: VolumeRate,
    per_liquid: Ratio,
    exhaust: VolumeRate,
    lel: Ratio,
) -> Result<Ratio, Outside> {
    let g = LIQUID.hold(liquid.get::<cubic_meter_per_second>())?;
    let r = PER_LIQUID.hold(per_liquid.get::<ratio>())?;
    let q = FLOW.hold(exhaust.get::<cubic_meter_per_second>())?;
    let l = LEL.hold(lel.get::<percent>())? / 100.0;
    Ok(Ratio::new::<ratio>(g * r / q / l))
}

/// The share of vapour in the air of a closed room when all of it has been given off.
///
/// Symbols: `V` vapour, `V0` room. Valid for a room of 0.1 to 100 000 m3 and vapour up to the room's own volume.
/// Equation: `C = V / V0` (the vapour is taken to push none of the air out, which is the cautious way).
/// Source: mass balance. [`ROOM_CAUTION`] belongs to every such figure.
pub fn closed_room(vapour: Volume, room: Volume) -> Result<Ratio, Outside> {
    const FRACTION: Range = range("vapour in the room", "1", 0.0, 1.0, "more vapour than room");
    let v = VAPOUR.hold(vapour.get::<cubic_meter>())?;
    let share = v / ROOM.hold(room.get::<cubic_meter>())?;
    Ok(Ratio::new::<ratio>(FRACTION.hold(share)?))
}

/// The vapour in a ventilated room after a time, from what was there and a steady source.
///
/// Symbols: `C0` share at the start, `G` vapour given off, `Q` air flow, `V` room, `t` time. Without air flow the source
/// adds up.
/// Equation: `C = C0 exp(-Q t / V) + (G / Q) (1 - exp(-Q t / V))`, for `Q = 0`: `C = C0 + G t / V`.
/// Source: mass balance of a mixed room, cited from stored excerpts of published tables.
/// It ignores uneven mixing; [`ROOM_CAUTION`] belongs to every such figure.
pub fn room_after(
    start: Ratio,
    source: VolumeRate,
    air: VolumeRate,
    room: Volume,
    time: Time,
) -> Result<Ratio, Outside> {
    const SHARE: Range = range("vapour at the start", "1", 0.0, 1.0, "a share of the air");
    const AIR: Range = range("air flow", "m3/s", 0.0, 200.0, "a room's fan");
    const TIME: Range = range("time", "s", 0.0, 31.0e6, "one year");
    let c0 = SHARE.hold(start.get::<ratio>())?;
    let g = VAPOUR_RATE.hold(source.get::<cubic_meter_per_second>())?;
    let q = AIR.hold(air.get::<cubic_meter_per_second>())?;
    let v = ROOM.hold(room.get::<cubic_meter>())?;
    let t = TIME.hold(time.get::<second>())?;
    let end = if q > 0.0 {
        let left = (-q * t / v).exp();
        // expm1 keeps the digits of a short time, where 1 - exp(-x) would cancel.
        c0 * left - g / q * (-q * t / v).exp_m1()
    } else {
        c0 + g * t / v
    };
    Ok(Ratio::new::<ratio>(SHARE.hold(end)?))
}

/// The time in which ventilation brings a vapour from one share down to another, without any source.
///
/// Symbols: `V` room, `Q` air flow, `C0`, `C` shares, `K` mixing factor (1 perfect, up to 10 poor).
/// Equation: `t = K (V / Q) ln(C0 / C)`. Valid for `C0 >= C > 0`, `K` from 1 to 10.
/// Source: decay of a mixed room, cited from stored excerpts; a multiplier below 1 on the air flow (0.20, say) is the
/// inverse of `K` (5): the letter must not be used for both.
/// It ignores fresh work, which goes on giving off vapour: then use [`room_after`].
pub fn purge_time(
    room: Volume,
    air: VolumeRate,
    start: Ratio,
    end: Ratio,
    mixing: Ratio,
) -> Result<Time, Outside> {
    const MIXING: Range = range(
        "mixing factor K",
        "1",
        1.0,
        10.0,
        "1 is perfect mixing, 10 poor; a figure below 1 is the inverse of it (from memory, to be confirmed)",
    );
    const DECAY: Range = range(
        "start divided by end",
        "1",
        1.0,
        1.0e12,
        "ventilation lowers a concentration to something above zero",
    );
    let v = ROOM.hold(room.get::<cubic_meter>())?;
    let q = FLOW.hold(air.get::<cubic_meter_per_second>())?;
    let k = MIXING.hold(mixing.get::<ratio>())?;
    let decay = DECAY.hold(start.get::<ratio>() / end.get::<ratio>())?;
    Ok(Time::new::<second>(k * v / q * decay.max(1.0).ln()))
}

/// The air flow of a room in which a tracer halves in a known time.
///
/// Symbols: `V` room, `t` half-life, `Q` air flow. Valid for a time above one second.
/// Equation: `Q = V ln 2 / t`. Source: decay of a mixed room, cited from a stored excerpt. It ignores uneven mixing.
pub fn flow_from_half_life(room: Volume, half_life: Time) -> Result<VolumeRate, Outside> {
    const TIME: Range = range("half-life", "s", 1.0, 31.0e6, "from a second to a year");
    let v = ROOM.hold(room.get::<cubic_meter>())?;
    let t = TIME.hold(half_life.get::<second>())?;
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        v * std::f64::consts::LN_2 / t,
    ))
}

/// The net heat of combustion of a vapour of carbon, hydrogen and oxygen.
///
/// Symbols: `c`, `h` atoms of carbon and hydrogen, `Hf` heat of formation of the gas, kJ/mol. Valid for 1 to 30 carbon.
/// Equation: `Hc = 393.474 c + 241.822 h / 2 + Hf`.
/// Source: Hess's law with water as gas. Accuracy: 0.2 %. It ignores chlorine and fluorine.
pub fn net_heat_of_combustion(
    carbon: u8,
    hydrogen: u8,
    formation: MolarEnergy,
) -> Result<MolarEnergy, Outside> {
    const CARBON: Range = range("carbon atoms", "1", 1.0, 30.0, "an organic solvent");
    const HYDROGEN: Range = range("hydrogen atoms", "1", 0.0, 62.0, "an organic solvent");
    const FORMATION: Range = range("heat of formation", "kJ/mol", -2_000.0, 1_000.0, "a vapour");
    let c = CARBON.hold(f64::from(carbon))?;
    let h = HYDROGEN.hold(f64::from(hydrogen))?;
    let formed = FORMATION.hold(formation.get::<joule_per_mole>() / 1_000.0)?;
    Ok(MolarEnergy::new::<joule_per_mole>(
        (393.474 * c + 241.822 * h / 2.0 + formed) * 1_000.0,
    ))
}

/// Joules in the kilocalorie of the flammability formulas, the thermochemical one.
pub const KILOCALORIE: f64 = 4_184.0;

const HOT: Range = range(
    "temperature",
    "C",
    0.0,
    100.0,
    "the correction is for rooms and ovens of this range",
);

/// The lower explosive limit at another temperature, from the heat of combustion.
///
/// Symbols: `L25` limit at 25 C in per cent, `Hc` net heat of combustion in kcal/mol, `T` in C. Valid from 0 to 100 C.
/// Equation: `L = L25 - (0.75 / Hc) (T - 25)`. Source: Burgess and Wheeler (Zabetakis), from memory, to be confirmed.
/// Accuracy: 1 % against the simple form at 60 C. It ignores pressure.
pub fn lel_at_temperature(
    lel: Ratio,
    heat_of_combustion: MolarEnergy,
    t: ThermodynamicTemperature,
) -> Result<Ratio, Outside> {
    const HEAT: Range = range(
        "heat of combustion",
        "kcal/mol",
        100.0,
        10_000.0,
        "a solvent",
    );
    let l = LEL.hold(lel.get::<percent>())?;
    let heat = HEAT.hold(heat_of_combustion.get::<joule_per_mole>() / KILOCALORIE)?;
    let t = HOT.hold(t.get::<degree_celsius>())?;
    Ok(Ratio::new::<percent>(l - 0.75 / heat * (t - 25.0)))
}

/// The lower explosive limit at another temperature, without the heat of combustion.
///
/// Symbols: as [`lel_at_temperature`]. Equation: `L = L25 (1 - 0.000721 (T - 25))`.
/// Source: Burgess and Wheeler, simple form, from memory, to be confirmed. Accuracy: 1 % at 60 C.
pub fn lel_at_temperature_simple(
    lel: Ratio,
    t: ThermodynamicTemperature,
) -> Result<Ratio, Outside> {
    let l = LEL.hold(lel.get::<percent>())?;
    let t = HOT.hold(t.get::<degree_celsius>())?;
    Ok(Ratio::new::<percent>(l * (1.0 - 0.000_721 * (t - 25.0))))
}

/// The air flow of the US handbook's fire form.
///
/// Symbols: `SG` specific gravity, `ER` pints a minute, `MW` g/mol, `LEL` in per cent, `Sf` divisor (4 for 25 %, 10 for
/// 10 %), `B` 1 up to 250 F and 0.7 above, `Q` in cfm.
/// Equation: `Q = 403 SG 100 ER Sf / (MW LEL B)`.
/// Source: ACGIH Industrial Ventilation, dilution chapter, from memory, to be confirmed (its xylene example
/// reproduces). It ignores uneven mixing and breathing.
pub fn dilution_for_fire(
    liquid: VolumeRate,
    specific_gravity: Ratio,
    molar_mass: MolarMass,
    lel: Ratio,
    divisor: Ratio,
    hot: bool,
) -> Result<VolumeRate, Outside> {
    const GRAVITY: Range = range("specific gravity", "1", 0.3, 3.0, "a liquid solvent");
    const DIVISOR: Range = range("divisor of the limit", "1", 1.0, 100.0, "4 stands for 25 %");
    const PINT: f64 = 0.000_473_176_473;
    const CFM: f64 = 0.028_316_846_592 / 60.0;
    let pints = LIQUID.hold(liquid.get::<cubic_meter_per_second>())? * 60.0 / PINT;
    let gravity = GRAVITY.hold(specific_gravity.get::<ratio>())?;
    let m = MOLAR_MASS.hold(molar_mass.get::<kilogram_per_mole>() * 1_000.0)?;
    let l = LEL.hold(lel.get::<percent>())?;
    let s = DIVISOR.hold(divisor.get::<ratio>())?;
    let b = if hot { 0.7 } else { 1.0 };
    Ok(VolumeRate::new::<cubic_meter_per_second>(
        403.0 * gravity * 100.0 * pints * s / (m * l * b) * CFM,
    ))
}
