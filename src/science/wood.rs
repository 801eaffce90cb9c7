//! Wood and the air around it: the moisture at which wood comes to rest, and how far it moves on the way.
//!
//! *Invariants*: moisture contents are per cent of oven-dry mass, as a wood meter shows them.
//!
//! *Not here*: how long the wood takes; that depends on its thickness and its film and no figure is offered.

mod sheets;

use uom::si::f64::{Length, Ratio, ThermodynamicTemperature};
use uom::si::ratio::{percent, ratio};
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit};

use super::validity::{Outside, Range, range};

pub use sheets::SHEETS;

const AIR: Range = range(
    "air temperature",
    "C",
    -1.2,
    60.0,
    "the Wood Handbook's table begins at 30 F; checked up to 140 F",
);
// Kh reaches 0.95 only at 100 % and more than 60 C, so the first term never blows up within this range.
const HUMIDITY: Range = range(
    "relative humidity",
    "%",
    0.0,
    95.0,
    "the Wood Handbook's table ends at 95 %; above it the equation rises without bound",
);

// The Hailwood-Horrobin sum for two hydrates; `h` as a fraction, result in per cent.
fn hailwood_horrobin(w: f64, k: f64, k1: f64, k2: f64, h: f64) -> f64 {
    let kh = k * h;
    1_800.0 / w
        * (kh / (1.0 - kh)
            + (k1 * kh + 2.0 * k1 * k2 * kh.powi(2)) / (1.0 + k1 * kh + k1 * k2 * kh.powi(2)))
}

/// The moisture content at which wood comes to rest in air (EMC), in per cent of its oven-dry mass.
///
/// Symbols: `T` air temperature in C, `h` relative humidity as a fraction, `W`, `K`, `K1`, `K2` fitted to `T`.
/// Valid from -1 to 60 C and 0 to 95 %.
/// Equation: `EMC = (1800/W) [Kh/(1-Kh) + (K1 Kh + 2 K1 K2 (Kh)2) / (1 + K1 Kh + K1 K2 (Kh)2)]` with
/// `W = 349 + 1.29 T + 0.0135 T2`, `K = 0.805 + 0.000736 T - 0.00000273 T2`,
/// `K1 = 6.27 - 0.00938 T - 0.000303 T2`, `K2 = 1.91 + 0.0407 T - 0.000293 T2`.
/// Source: Forest Products Laboratory, Wood Handbook, equation 4-5 (Hailwood and Horrobin); coefficients as cited in
/// public programs. Accuracy: within 0.06 points of the handbook's table 4-2 (table cells from memory, to be
/// confirmed); real timber differs by species and history by a point and more.
/// It ignores species, finish, grain direction and whether the wood is drying or taking up water.
pub fn equilibrium_moisture(
    air: ThermodynamicTemperature,
    humidity: Ratio,
) -> Result<Ratio, Outside> {
    let t = AIR.hold(air.get::<degree_celsius>())?;
    let h = HUMIDITY.hold(humidity.get::<percent>())? / 100.0;
    Ok(Ratio::new::<percent>(hailwood_horrobin(
        349.0 + 1.29 * t + 0.013_5 * t.powi(2),
        0.805 + 0.000_736 * t - 0.000_002_73 * t.powi(2),
        6.27 - 0.009_38 * t - 0.000_303 * t.powi(2),
        1.91 + 0.040_7 * t - 0.000_293 * t.powi(2),
        h,
    )))
}

/// The same by the equation's older Fahrenheit coefficients: a second method, kept to show how little hangs on it.
///
/// Symbols, validity and what it ignores as [`equilibrium_moisture`], with `T` in F:
/// `W = 330 + 0.452 T + 0.00415 T2`, `K = 0.791 + 0.000463 T - 0.000000844 T2`,
/// `K1 = 6.34 + 0.000775 T - 0.0000935 T2`, `K2 = 1.09 + 0.0284 T - 0.0000904 T2`.
/// Source: older editions of the Wood Handbook; from memory, to be confirmed. Accuracy: within 0.0125 points of the
/// Celsius form from 0 to 40 C.
pub fn equilibrium_moisture_fahrenheit(
    air: ThermodynamicTemperature,
    humidity: Ratio,
) -> Result<Ratio, Outside> {
    AIR.hold(air.get::<degree_celsius>())?;
    let t = air.get::<degree_fahrenheit>();
    let h = HUMIDITY.hold(humidity.get::<percent>())? / 100.0;
    Ok(Ratio::new::<percent>(hailwood_horrobin(
        330.0 + 0.452 * t + 0.004_15 * t.powi(2),
        0.791 + 0.000_463 * t - 0.000_000_844 * t.powi(2),
        6.34 + 0.000_775 * t - 0.000_093_5 * t.powi(2),
        1.09 + 0.028_4 * t - 0.000_090_4 * t.powi(2),
        h,
    )))
}

/// How far the wood's reading is from what the room's air will bring it to: positive when the wood will dry.
///
/// Symbols: `M` meter reading and `EMC` in per cent. Valid for readings from 0 to 30 %.
/// Equation: `M - EMC`. Source: definition. It ignores the meter's own correction for species.
pub fn moisture_gap(
    meter: Ratio,
    air: ThermodynamicTemperature,
    humidity: Ratio,
) -> Result<Ratio, Outside> {
    const METER: Range = range(
        "moisture reading",
        "%",
        0.0,
        30.0,
        "above fibre saturation a reading is no longer in step with the air",
    );
    let reading = METER.hold(meter.get::<percent>())?;
    let rest = equilibrium_moisture(air, humidity)?.get::<percent>();
    Ok(Ratio::new::<percent>(reading - rest))
}

/// How far a board moves across the grain for a change of moisture: positive when it swells.
///
/// Symbols: `W0` width, `C` dimensional change coefficient for each point of moisture, `M0`, `M1` moisture in per cent.
/// Valid from 6 to 14 % moisture.
/// Equation: `dW = W0 C (M1 - M0)`.
/// Source: Forest Products Laboratory, Wood Handbook, table of dimensional change coefficients (5 in, 0.00129, 6 to
/// 9 %: 0.019 in). Accuracy: the coefficient is an average for the species.
/// It ignores restraint by glue, braces and binding, and the film, which slows the change without stopping it.
pub fn movement(
    width: Length,
    coefficient: Ratio,
    from: Ratio,
    to: Ratio,
) -> Result<Length, Outside> {
    const MOISTURE: Range = range(
        "moisture content",
        "%",
        6.0,
        14.0,
        "the coefficients hold from 6 to 14 %",
    );
    const COEFFICIENT: Range = range(
        "dimensional change coefficient",
        "1/%",
        0.000_1,
        0.01,
        "the Wood Handbook's species lie between 0.001 and 0.005",
    );
    let from = MOISTURE.hold(from.get::<percent>())?;
    let to = MOISTURE.hold(to.get::<percent>())?;
    let coefficient = COEFFICIENT.hold(coefficient.get::<ratio>())?;
    Ok(width * (coefficient * (to - from)))
}
