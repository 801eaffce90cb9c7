//! How cold an evaporating coat gets: the steady limit of a solvent film in moving air, and a real film on wood.
//!
//! *Invariants*: both are orders of size and say so; neither lifts a blush rule, they only show why a few kelvin of
//! spread are not much.
//!
//! *Not here*: mixtures, which cool as their fast solvents do at first.

mod sheets;

use uom::si::f64::{HeatFluxDensity, Ratio, TemperatureInterval, ThermodynamicTemperature, Time};
use uom::si::heat_flux_density::watt_per_square_meter;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin as kelvin_diff;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::time::second;

use super::statistics::erfc;
use super::validity::{Outside, Range, range};
use super::vapour::GAS;

pub use sheets::SHEETS;

/// What a wet-bulb of a solvent needs to know; all **from memory, to be confirmed**.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Volatile {
    /// The short name.
    pub key: &'static str,
    /// Antoine constants, log10 of mmHg and C.
    pub antoine: (f64, f64, f64),
    /// Molar mass, g/mol.
    pub molar_mass_g: f64,
    /// Heat of evaporation near 20 C, kJ/mol.
    pub heat_kj_mol: f64,
    /// Fuller's diffusion volume.
    pub diffusion_volume: f64,
}

const fn volatile(
    key: &'static str,
    antoine: (f64, f64, f64),
    molar_mass_g: f64,
    heat_kj_mol: f64,
    diffusion_volume: f64,
) -> Volatile {
    Volatile {
        key,
        antoine,
        molar_mass_g,
        heat_kj_mol,
        diffusion_volume,
    }
}

/// The solvents for which the steady limit is known, and water for comparison; **from memory, to be confirmed** (six
/// vapour pressures agree with an open property library within 2 to 10 %).
pub static VOLATILES: &[Volatile] = &[
    volatile(
        "acetone",
        (7.117_14, 1_210.595, 229.664),
        58.08,
        31.0,
        67.67,
    ),
    volatile("mek", (7.063_56, 1_261.340, 221.969), 72.11, 34.8, 88.19),
    volatile(
        "ethyl_acetate",
        (7.101_79, 1_244.951, 217.881),
        88.11,
        35.6,
        94.30,
    ),
    volatile("ethanol", (8.204_17, 1_642.89, 230.300), 46.07, 42.3, 51.77),
    volatile(
        "isopropanol",
        (8.117_78, 1_580.92, 219.61),
        60.10,
        45.4,
        72.29,
    ),
    volatile(
        "toluene",
        (6.954_64, 1_344.800, 219.482),
        92.14,
        38.0,
        111.48,
    ),
    volatile(
        "isobutyl_acetate",
        (6.973_90, 1_316.0, 205.0),
        116.16,
        39.0,
        135.34,
    ),
    volatile(
        "n_butyl_acetate",
        (7.028_45, 1_368.5, 204.0),
        116.16,
        43.9,
        135.34,
    ),
    volatile("water", (8.071_31, 1_730.63, 233.426), 18.015, 44.1, 13.1),
];

impl Volatile {
    // Vapour pressure in Pa at a temperature in C.
    fn pressure(&self, t: f64) -> f64 {
        let (a, b, c) = self.antoine;
        10.0_f64.powf(a - b / (c + t)) * 133.322
    }

    // Diffusion coefficient in air at 20 C and 1 atm, m2/s, by Fuller's rule.
    fn diffusion(&self) -> f64 {
        let mass = 2.0 / (1.0 / 28.96 + 1.0 / self.molar_mass_g);
        let size = self.diffusion_volume.cbrt() + 19.7_f64.cbrt();
        0.001_43 * 293.15_f64.powf(1.75) / (1.013_25 * mass.sqrt() * size.powi(2)) * 1.0e-4
    }
}

/// The temperature at which an evaporating film of one solvent settles in moving air: its wet bulb.
///
/// Symbols: `Ta` air, `Tw` film in C; `ps` vapour pressure at the film and `pa` in the air (solvent-free air has none),
/// `P` 101 325 Pa; `M`, `dH` of the solvent; `Le = alpha / D` with Fuller's `D`; `g` heat from conduction and radiation
/// as a share of that from the air. Valid for air from 5 to 40 C, `g` from 0 to 5.
/// Equation: `(1 + g)(Ta - Tw) = M P / (R Tf) ln((P - pa) / (P - ps)) dH / (rho cp Le^(2/3))`.
/// Source: heat and mass balance after Chilton and Colburn; constants from memory, to be confirmed.
/// Accuracy: 0.5 K for the arithmetic, 1 to 2 K for the constants (water at 50 % comes out right).
/// It ignores that a film on wood draws heat from it and dries before it gets there: see [`film_on_wood`].
pub fn solvent_wet_bulb(
    solvent: &Volatile,
    air: ThermodynamicTemperature,
    already_in_air: Ratio,
    other_heat: Ratio,
) -> Result<ThermodynamicTemperature, Outside> {
    const AIR: Range = range(
        "air temperature",
        "C",
        5.0,
        40.0,
        "below every boiling point of the table",
    );
    const SATURATION: Range = range(
        "saturation of the air",
        "1",
        0.0,
        1.0,
        "a share of saturation",
    );
    const OTHER: Range = range(
        "other heat",
        "1",
        0.0,
        5.0,
        "as a share of that from the air",
    );
    let ta = AIR.hold(air.get::<degree_celsius>())?;
    let saturation = SATURATION.hold(already_in_air.get::<ratio>())?;
    let g = OTHER.hold(other_heat.get::<ratio>())?;
    let pressure = 101_325.0;
    let in_air = saturation * solvent.pressure(ta);
    let lewis = 2.13e-5 / solvent.diffusion();
    let mass = solvent.molar_mass_g * 1.0e-3;
    let heat = solvent.heat_kj_mol * 1.0e3 / mass;
    // What evaporation takes less what the air gives, falling steadily as the film gets colder.
    let taken = |tw: f64| {
        let film = f64::midpoint(ta, tw) + 273.15;
        let flux = mass * pressure / (GAS * film)
            * ((pressure - in_air) / (pressure - solvent.pressure(tw))).ln();
        flux * heat / (1.2 * 1_006.0 * lewis.powf(2.0 / 3.0)) - (ta - tw) * (1.0 + g)
    };
    let (mut low, mut high) = (-60.0, ta);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if taken(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(ThermodynamicTemperature::new::<degree_celsius>(
        f64::midpoint(low, high),
    ))
}

/// How far a film that evaporates at a steady rate cools wood below the air.
///
/// Symbols: `q` heat that evaporation takes, `t` time, `U` exchange with the air in W/m2K, `e` effusivity of the wood in
/// W s^0.5/m2K (spruce about 268, from memory, to be confirmed). Valid for 0 to 2000 W/m2, 1 to 600 s, `U` 1 to 100,
/// `e` 50 to 2000.
/// Equation: `dT = (q / U) (1 - exp(X2) erfc X)`, `X = U sqrt(t) / e`.
/// Source: conduction in a half-space with surface exchange (Carslaw and Jaeger, from memory, to be confirmed).
/// Accuracy: an order of size. It ignores that evaporation slows as the film cools and thickens.
pub fn film_on_wood(
    heat: HeatFluxDensity,
    time: Time,
    exchange: f64,
    effusivity: f64,
) -> Result<TemperatureInterval, Outside> {
    const HEAT: Range = range(
        "heat of evaporation",
        "W/m2",
        0.0,
        2_000.0,
        "a coat on a piece",
    );
    const TIME: Range = range("time", "s", 1.0, 600.0, "the first minutes of a coat");
    const EXCHANGE: Range = range(
        "exchange with the air",
        "W/m2K",
        1.0,
        100.0,
        "air in a booth",
    );
    const EFFUSIVITY: Range = range("effusivity", "W s^0.5/m2K", 50.0, 2_000.0, "wood");
    let flux = HEAT.hold(heat.get::<watt_per_square_meter>())?;
    let t = TIME.hold(time.get::<second>())?;
    let u = EXCHANGE.hold(exchange)?;
    let effusivity = EFFUSIVITY.hold(effusivity)?;
    let x = u * t.sqrt() / effusivity;
    // exp(x2) grows without bound where erfc vanishes; beyond 5 their product is its own short series.
    let scaled = if x < 5.0 {
        x.powi(2).exp() * erfc(x)
    } else {
        (1.0 - 0.5 / x.powi(2) + 0.75 / x.powi(4)) / (x * std::f64::consts::PI.sqrt())
    };
    Ok(TemperatureInterval::new::<kelvin_diff>(
        flux / u * (1.0 - scaled),
    ))
}
