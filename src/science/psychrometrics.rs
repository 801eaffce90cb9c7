//! Moist air: dew point, spread, humidity ratio, wet bulb and density, and the two blush rules of a spray room.
//!
//! *Invariants*: the product's dew point is the Hyland-Wexler one; below 0 C it is the **frost** point (over ice),
//! while Magnus stays over water, so the two are never mixed in one answer and each says which it is. A blush limit
//! that nobody entered is not held against anything, and an answer names every limit that was exceeded, not the first.
//!
//! *Not here*: how much an evaporating coat cools itself; the air's own figures say nothing about that, which is why
//! a spread of a few kelvin is no sign that a coat will stay clear.

mod sheets;

use uom::si::f64::{MassDensity, Pressure, Ratio, TemperatureInterval, ThermodynamicTemperature};
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::pressure::{hectopascal, pascal};
use uom::si::ratio::{percent, ratio};
use uom::si::temperature_interval::kelvin as kelvin_diff;
use uom::si::thermodynamic_temperature::{degree_celsius, kelvin};

use super::validity::{Outside, Range, range};

pub use sheets::SHEETS;

const AIR: Range = range(
    "air temperature",
    "C",
    -40.0,
    60.0,
    "the range in which the figures are checked and a room is worked",
);
const HUMIDITY: Range = range(
    "relative humidity",
    "%",
    0.1,
    100.0,
    "perfectly dry air has no dew point",
);
const BAROMETER: Range = range(
    "air pressure",
    "Pa",
    60_000.0,
    110_000.0,
    "inhabited heights",
);
const SATURATION: Range = range(
    "temperature",
    "C",
    -100.0,
    200.0,
    "Hyland and Wexler 1983, as in the ASHRAE Handbook of Fundamentals 2017, chapter 1",
);

// The point at which the Hyland-Wexler pair of equations changes from ice to water, C.
const TRIPLE_POINT: f64 = 0.01;
// Ratio of the molar masses of water and dry air, as in the ASHRAE Handbook of Fundamentals 2017, chapter 1.
const MOLAR_RATIO: f64 = 0.621_945;
// Gas constant of dry air, J/(kg K), same source.
const DRY_AIR: f64 = 287.042;

fn celsius(t: f64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<degree_celsius>(t)
}

// ln of the saturation pressure in Pa; `t` in C.
fn ln_saturation(t: f64) -> f64 {
    let k = t + 273.15;
    if t <= TRIPLE_POINT {
        -5_674.535_9 / k + 6.392_524_7 - 9.677_843e-3 * k
            + 6.221_570_1e-7 * k.powi(2)
            + 2.074_782_5e-9 * k.powi(3)
            - 9.484_024e-13 * k.powi(4)
            + 4.163_501_9 * k.ln()
    } else {
        -5_800.220_6 / k + 1.391_499_3 - 4.864_023_9e-2 * k + 4.176_476_8e-5 * k.powi(2)
            - 1.445_209_3e-8 * k.powi(3)
            + 6.545_967_3 * k.ln()
    }
}

/// The saturation pressure of water vapour, over water above 0.01 C and over ice below it.
///
/// Symbols: `T` absolute temperature in K, `p` in Pa. Valid from -100 to 200 C.
/// Equation: `ln p = C1/T + C2 + C3 T + C4 T2 + C5 T3 (+ C6 T4) + C7 ln T`, two sets of constants.
/// Source: Hyland and Wexler 1983, as in ASHRAE Handbook of Fundamentals 2017, chapter 1, equations 5 and 6; the
/// constants are held against an independent program's figures.
/// Accuracy: within 0.022 % of IAPWS-95 from 1 to 50 C. It ignores that air is not an ideal gas (about 0.4 %).
pub fn saturation_pressure(t: ThermodynamicTemperature) -> Result<Pressure, Outside> {
    let t = SATURATION.hold(t.get::<degree_celsius>())?;
    Ok(Pressure::new::<pascal>(ln_saturation(t).exp()))
}

/// The partial pressure of water vapour in air.
///
/// Symbols: `RH` relative humidity as a fraction, `ps` saturation pressure. Valid from -40 to 60 C, 0.1 to 100 %.
/// Equation: `pv = RH ps(T)`. Source and accuracy as [`saturation_pressure`].
/// It ignores that below 0 C a sensor usually reports humidity over water while this takes it over ice.
pub fn vapour_pressure(t: ThermodynamicTemperature, rh: Ratio) -> Result<Pressure, Outside> {
    let t = AIR.hold(t.get::<degree_celsius>())?;
    let rh = HUMIDITY.hold(rh.get::<percent>())? / 100.0;
    Ok(Pressure::new::<pascal>(rh * ln_saturation(t).exp()))
}

/// The dew point of air, the product's method; below 0 C it is the frost point.
///
/// Symbols: `T` air temperature, `RH` relative humidity, `Td` dew point. Valid from -40 to 60 C, 0.1 to 100 % with
/// a dew point above -100 C.
/// Equation: `ps(Td) = RH ps(T)`, solved by halving.
/// Source: as [`saturation_pressure`]. Accuracy: solved to 1e-10 K; a real humidity sensor of 2 % makes it uncertain
/// by about 0.6 K at 20 C and 50 %.
/// It ignores the pressure of the air (no effect below 0.1 K) and what the sensor's own place adds.
pub fn dew_point(
    t: ThermodynamicTemperature,
    rh: Ratio,
) -> Result<ThermodynamicTemperature, Outside> {
    let vapour = vapour_pressure(t, rh)?.get::<pascal>();
    let air = t.get::<degree_celsius>();
    let wanted = vapour.ln();
    // ln p rises steadily with T, so halving always arrives; Newton's jumps across the step between the ice and the
    // water branch would not.
    let (mut low, mut high) = (-100.0, air);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if ln_saturation(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
        if high - low < 1.0e-10 {
            break;
        }
    }
    Ok(celsius(f64::midpoint(low, high)))
}

/// The constants of one Magnus formula, `es = a exp(b T / (c + T))` over water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Magnus {
    /// Where the constants come from.
    pub source: &'static str,
    /// Vapour pressure at 0 C, hPa.
    pub a: f64,
    /// The dimensionless constant.
    pub b: f64,
    /// The temperature constant, K.
    pub c: f64,
}

/// Sonntag 1990, the constants of the WMO guide: the product's second named method.
pub const MAGNUS_WMO: Magnus = Magnus {
    source: "Sonntag 1990, WMO Guide to Instruments and Methods of Observation",
    a: 6.112,
    b: 17.62,
    c: 243.12,
};

const MAGNUS_AIR: Range = range(
    "air temperature",
    "C",
    -40.0,
    50.0,
    "the range stated with the Magnus constants",
);

/// The saturation pressure over water by a Magnus formula.
///
/// Symbols: `T` in C, `a` in hPa, `b`, `c` in K. Valid from -40 to 50 C.
/// Equation: `es = a exp(b T / (c + T))`. Source: the set's own. Accuracy (WMO set): 0.32 % of IAPWS-95, 0 to 50 C.
/// It ignores ice: below 0 C it stays over water.
pub fn magnus_saturation(t: ThermodynamicTemperature, set: &Magnus) -> Result<Pressure, Outside> {
    let t = MAGNUS_AIR.hold(t.get::<degree_celsius>())?;
    Ok(Pressure::new::<hectopascal>(
        set.a * (set.b * t / (set.c + t)).exp(),
    ))
}

/// The dew point over water by a Magnus formula: the second named method.
///
/// Symbols: `RH` as a fraction, `T` in C, `g = ln RH + b T / (c + T)`. Valid from -40 to 50 C.
/// Equation: `Td = c g / (b - g)`. Source: the set's own.
/// Accuracy (WMO set): within 0.04 K of Hyland-Wexler between 5 and 40 C while the dew point is above 0 C.
/// It ignores ice: below 0 C it gives the dew point over water, up to 2.5 K below the frost point.
pub fn magnus_dew_point(
    t: ThermodynamicTemperature,
    rh: Ratio,
    set: &Magnus,
) -> Result<ThermodynamicTemperature, Outside> {
    let t = MAGNUS_AIR.hold(t.get::<degree_celsius>())?;
    let rh = HUMIDITY.hold(rh.get::<percent>())? / 100.0;
    let g = rh.ln() + set.b * t / (set.c + t);
    Ok(celsius(set.c * g / (set.b - g)))
}

/// The relative humidity at which the air is a given spread above its dew point, by a Magnus formula.
///
/// Symbols: `T` air temperature in C, `d` spread in K. Valid from -40 to 50 C, spread 0 to 40 K.
/// Equation: `RH = es(T - d) / es(T)`. Source and accuracy as [`magnus_dew_point`].
/// It is what one blush rule means in the words of the other.
pub fn humidity_at_spread(
    t: ThermodynamicTemperature,
    spread: TemperatureInterval,
    set: &Magnus,
) -> Result<Ratio, Outside> {
    const SPREAD: Range = range("spread", "K", 0.0, 40.0, "a room's air");
    let d = SPREAD.hold(spread.get::<kelvin_diff>())?;
    let air = t.get::<degree_celsius>();
    let top = magnus_saturation(celsius(air - d), set)?;
    let bottom = magnus_saturation(celsius(air), set)?;
    Ok(top / bottom)
}

/// How hard the air dries a waterborne film, compared with another state of the air: 1 is as fast, below 1 slower.
///
/// Symbols: `es` saturation pressure, `RH` as a fraction, of the air now and of the reference air. Valid as
/// [`magnus_saturation`], reference humidity at most 99 %.
/// Equation: `(1 - RH) es(T) / ((1 - RH0) es(T0))`. Source: water leaves a film in proportion to the vapour pressure
/// that the air still lacks; definition. It ignores air movement and everything but the evaporation of water.
pub fn drying_power(
    air: (ThermodynamicTemperature, Ratio),
    reference: (ThermodynamicTemperature, Ratio),
    set: &Magnus,
) -> Result<Ratio, Outside> {
    const REFERENCE: Range = range(
        "reference humidity",
        "%",
        0.1,
        99.0,
        "saturated air dries nothing, so nothing can be compared with it",
    );
    let rh = HUMIDITY.hold(air.1.get::<percent>())? / 100.0;
    let rh0 = REFERENCE.hold(reference.1.get::<percent>())? / 100.0;
    let now = magnus_saturation(air.0, set)?.get::<pascal>() * (1.0 - rh);
    let then = magnus_saturation(reference.0, set)?.get::<pascal>() * (1.0 - rh0);
    Ok(Ratio::new::<ratio>(now / then))
}

/// The humidity ratio: mass of water vapour for each mass of dry air.
///
/// Symbols: `pv` vapour pressure and `p` air pressure in Pa. Valid as [`vapour_pressure`], 60 to 110 kPa.
/// Equation: `W = 0.621945 pv / (p - pv)`.
/// Source: ASHRAE Handbook of Fundamentals 2017, chapter 1. Accuracy: 0.4 to 0.5 % below real-gas figures.
/// It ignores the enhancement factor (air is not an ideal gas).
pub fn humidity_ratio(
    t: ThermodynamicTemperature,
    rh: Ratio,
    pressure: Pressure,
) -> Result<Ratio, Outside> {
    let p = BAROMETER.hold(pressure.get::<pascal>())?;
    let vapour = vapour_pressure(t, rh)?.get::<pascal>();
    Ok(Ratio::new::<ratio>(MOLAR_RATIO * vapour / (p - vapour)))
}

// The humidity ratio that goes with a wet bulb; all temperatures in C, p in Pa.
fn ratio_at_wet_bulb(air: f64, wet: f64, p: f64) -> f64 {
    let saturated_pressure = ln_saturation(wet).exp();
    let saturated = MOLAR_RATIO * saturated_pressure / (p - saturated_pressure);
    if wet >= 0.0 {
        ((2_501.0 - 2.326 * wet) * saturated - 1.006 * (air - wet))
            / (2_501.0 + 1.86 * air - 4.186 * wet)
    } else {
        ((2_830.0 - 0.24 * wet) * saturated - 1.006 * (air - wet))
            / (2_830.0 + 1.86 * air - 2.1 * wet)
    }
}

/// The thermodynamic wet bulb: what a wetted thermometer settles at in moving air.
///
/// Symbols: `T` air and `Tw` wet bulb in C, `Ws` saturated humidity ratio at `Tw`. Valid as [`humidity_ratio`].
/// Equation: `W = ((2501 - 2.326 Tw) Ws - 1.006 (T - Tw)) / (2501 + 1.86 T - 4.186 Tw)`, over ice below 0 C
/// `((2830 - 0.24 Tw) Ws - 1.006 (T - Tw)) / (2830 + 1.86 T - 2.1 Tw)`, solved by halving between dew point and air.
/// Source: ASHRAE Handbook of Fundamentals 2017, chapter 1, equations 33 and 35.
/// Accuracy: within 0.024 K of real-gas figures away from the step between ice and water.
/// It ignores radiation and too little wind on a real thermometer.
pub fn wet_bulb(
    t: ThermodynamicTemperature,
    rh: Ratio,
    pressure: Pressure,
) -> Result<ThermodynamicTemperature, Outside> {
    let wanted = humidity_ratio(t, rh, pressure)?.get::<ratio>();
    let p = pressure.get::<pascal>();
    let air = t.get::<degree_celsius>();
    let (mut low, mut high) = (dew_point(t, rh)?.get::<degree_celsius>(), air);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if ratio_at_wet_bulb(air, middle, p) < wanted {
            low = middle;
        } else {
            high = middle;
        }
        if high - low < 1.0e-10 {
            break;
        }
    }
    Ok(celsius(f64::midpoint(low, high)))
}

/// The density of moist air.
///
/// Symbols: `T` in K, `p` in Pa, `W` humidity ratio. Valid as [`humidity_ratio`].
/// Equation: `rho = (1 + W) p / (287.042 T (1 + 1.607858 W))`.
/// Source: ASHRAE Handbook of Fundamentals 2017, chapter 1, equations 26 and 11. Accuracy: 0.055 %.
/// It ignores solvent vapour, which makes air heavier.
pub fn moist_air_density(
    t: ThermodynamicTemperature,
    rh: Ratio,
    pressure: Pressure,
) -> Result<MassDensity, Outside> {
    let w = humidity_ratio(t, rh, pressure)?.get::<ratio>();
    let volume = DRY_AIR * t.get::<kelvin>() * (1.0 + 1.607_858 * w) / pressure.get::<pascal>();
    Ok(MassDensity::new::<kilogram_per_cubic_meter>(
        (1.0 + w) / volume,
    ))
}

/// The limits of a spray room against blushing; each is somebody's setting and each may be absent.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BlushLimits {
    /// The relative humidity not to be exceeded.
    pub humidity: Option<Ratio>,
    /// The spread between air and dew point not to fall below.
    pub spread: Option<TemperatureInterval>,
    /// The margin that a piece must be above the dew point; without it, being colder than the dew point is named.
    pub piece_margin: Option<TemperatureInterval>,
}

/// One rule that was exceeded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BlushRule {
    /// The air is damper than the limit on relative humidity.
    Humidity,
    /// The air is nearer to its dew point than the limit on the spread.
    Spread,
    /// The piece is colder than the dew point: water settles on it.
    PieceBelowDewPoint,
    /// The piece is nearer to the dew point than the margin for pieces.
    PieceMargin,
}

/// What the air and the piece are, and every rule that they exceed.
#[derive(Debug, Clone, PartialEq)]
pub struct Blush {
    /// The dew point (frost point below 0 C).
    pub dew_point: ThermodynamicTemperature,
    /// Air temperature minus dew point.
    pub spread: TemperatureInterval,
    /// Piece temperature minus dew point, when the piece was measured.
    pub piece_above: Option<TemperatureInterval>,
    /// Every rule that is exceeded; empty also when no limit was entered, see `held`.
    pub tripped: Vec<BlushRule>,
    /// How many rules were held against: none means nothing can be said.
    pub held: usize,
}

/// Holds air, and the piece where it was measured, against both blush rules.
///
/// Symbols: `T` air, `RH` relative humidity, `Td` dew point, `Tp` piece. Valid as [`dew_point`].
/// Rules: `RH > limit`; `T - Td < limit`; `Tp < Td`; `Tp - Td < margin`. A figure at its limit has not exceeded it.
/// Source: the two rules are shop practice and contradict each other (at 21 C, 65 % leaves a spread of 6.8 K, while
/// a spread of 11.1 K needs 49 % or less); the figures are the shop's own.
/// It ignores that an evaporating coat is several kelvin colder than the air around it.
pub fn blush(
    t: ThermodynamicTemperature,
    rh: Ratio,
    piece: Option<ThermodynamicTemperature>,
    limits: &BlushLimits,
) -> Result<Blush, Outside> {
    const PIECE: Range = range("piece temperature", "C", -40.0, 60.0, "as for the air");
    let dew = dew_point(t, rh)?.get::<degree_celsius>();
    let spread = t.get::<degree_celsius>() - dew;
    let above = match piece {
        Some(piece) => Some(PIECE.hold(piece.get::<degree_celsius>())? - dew),
        None => None,
    };
    let mut tripped = Vec::new();
    let mut held = 0;
    if let Some(limit) = limits.humidity {
        held += 1;
        if rh.get::<percent>() > limit.get::<percent>() {
            tripped.push(BlushRule::Humidity);
        }
    }
    if let Some(limit) = limits.spread {
        held += 1;
        if spread < limit.get::<kelvin_diff>() {
            tripped.push(BlushRule::Spread);
        }
    }
    if let Some(above) = above {
        held += 1;
        if above < 0.0 {
            tripped.push(BlushRule::PieceBelowDewPoint);
        } else if limits
            .piece_margin
            .is_some_and(|margin| above < margin.get::<kelvin_diff>())
        {
            tripped.push(BlushRule::PieceMargin);
        }
    }
    Ok(Blush {
        dew_point: celsius(dew),
        spread: TemperatureInterval::new::<kelvin_diff>(spread),
        piece_above: above.map(TemperatureInterval::new::<kelvin_diff>),
        tripped,
        held,
    })
}
