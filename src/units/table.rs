//! Every unit that can be typed or shown, with its factor built from exact definitions.
//!
//! *Invariants*: 1 in = 25.4 mm, 1 US gal = 231 in3, 1 lb = 0.453 592 37 kg and 1 US fl oz = 1/128 gal, all exact;
//! a factor is a ratio of integers, so that reading a decimal text loses nothing before it is rounded once.

/// What a number measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// A length or a film thickness; base unit m.
    Length,
    /// A surface; base unit m2.
    Area,
    /// A volume; base unit m3.
    Volume,
    /// A mass; base unit kg.
    Mass,
    /// Mass in a volume: density, or VOC content; base unit kg/m3.
    Density,
    /// A share of a whole, relative humidity among them; base unit 1.
    Fraction,
    /// A temperature; base unit degree Celsius.
    Temperature,
    /// A difference of two temperatures; base unit K.
    TemperatureChange,
    /// A span of time; base unit s.
    Time,
    /// Light on a surface over time; base unit J/m2.
    Dose,
    /// Light on a surface; base unit W/m2.
    Irradiance,
    /// A speed, of air at a booth face among others; base unit m/s.
    Speed,
    /// Volume in a time; base unit m3/s.
    Flow,
    /// A pressure; base unit Pa.
    Pressure,
    /// Kinematic viscosity; base unit m2/s.
    Viscosity,
    /// Area covered by a volume; base unit m2/m3.
    Spread,
    /// Mass on an area; base unit kg/m2.
    ArealMass,
    /// Mass in a time; base unit kg/s.
    MassRate,
    /// A bare number.
    Number,
}

/// Which customary system a unit belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum System {
    /// US customary units: mil, gal, fpm, F.
    Us,
    /// Metric units: um, mL, m/s, C.
    #[default]
    Metric,
}

/// One unit: its name, what it measures and `base = (value + shift/100) * up / down`.
#[derive(Debug, PartialEq, Eq)]
pub struct Unit {
    /// The name that is shown; it can be typed as well.
    pub name: &'static str,
    /// Other spellings that can be typed.
    pub also: &'static [&'static str],
    /// What it measures.
    pub dimension: Dimension,
    pub(super) shift: i128,
    pub(super) up: i128,
    pub(super) down: i128,
}

const fn unit(
    name: &'static str,
    also: &'static [&'static str],
    dimension: Dimension,
    up: i128,
    down: i128,
) -> Unit {
    Unit {
        name,
        also,
        dimension,
        shift: 0,
        up,
        down,
    }
}

// Cubic metres in a US gallon and kilograms in a pound, as exact ratios.
const GALLON: i128 = 3_785_411_784;
const GALLON_DOWN: i128 = 1_000_000_000_000;
const POUND: i128 = 45_359_237;
const POUND_DOWN: i128 = 100_000_000;

/// All units, the preferred one of each dimension and system first.
pub static UNITS: &[Unit] = &[
    unit(
        "um",
        &["µm", "μm", "micron"],
        Dimension::Length,
        1,
        1_000_000,
    ),
    unit("mil", &["mils", "thou"], Dimension::Length, 254, 10_000_000),
    unit("nm", &[], Dimension::Length, 1, 1_000_000_000),
    unit("mm", &[], Dimension::Length, 1, 1_000),
    unit("cm", &[], Dimension::Length, 1, 100),
    unit("m", &[], Dimension::Length, 1, 1),
    unit("in", &["inch"], Dimension::Length, 254, 10_000),
    unit("ft", &[], Dimension::Length, 3_048, 10_000),
    unit("m2", &["m^2", "m²"], Dimension::Area, 1, 1),
    unit(
        "ft2",
        &["ft^2", "ft²", "sqft"],
        Dimension::Area,
        9_290_304,
        100_000_000,
    ),
    unit("cm2", &["cm²"], Dimension::Area, 1, 10_000),
    unit("mm2", &["mm²"], Dimension::Area, 1, 1_000_000),
    unit("in2", &["in²"], Dimension::Area, 64_516, 100_000_000),
    unit("mL", &["ml"], Dimension::Volume, 1, 1_000_000),
    unit("L", &["l", "litre", "liter"], Dimension::Volume, 1, 1_000),
    unit("gal", &[], Dimension::Volume, GALLON, GALLON_DOWN),
    unit("qt", &[], Dimension::Volume, GALLON, GALLON_DOWN * 4),
    unit(
        "fl oz",
        &["floz", "oz"],
        Dimension::Volume,
        GALLON,
        GALLON_DOWN * 128,
    ),
    unit("uL", &["µL"], Dimension::Volume, 1, 1_000_000_000),
    unit("m3", &["m³"], Dimension::Volume, 1, 1),
    unit(
        "ft3",
        &["ft³"],
        Dimension::Volume,
        28_316_846_592,
        1_000_000_000_000,
    ),
    unit("g", &[], Dimension::Mass, 1, 1_000),
    unit("kg", &[], Dimension::Mass, 1, 1),
    unit("mg", &[], Dimension::Mass, 1, 1_000_000),
    unit("t", &[], Dimension::Mass, 1_000, 1),
    unit("lb", &[], Dimension::Mass, POUND, POUND_DOWN),
    unit("short ton", &[], Dimension::Mass, POUND * 2_000, POUND_DOWN),
    unit("g/L", &["g/l"], Dimension::Density, 1, 1),
    unit(
        "kg/L",
        &["kg/l", "g/mL", "g/ml", "g/cm3"],
        Dimension::Density,
        1_000,
        1,
    ),
    unit("kg/m3", &["kg/m³"], Dimension::Density, 1, 1),
    unit("mg/m3", &["mg/m³"], Dimension::Density, 1, 1_000_000),
    unit(
        "lb/gal",
        &[],
        Dimension::Density,
        POUND * GALLON_DOWN / POUND_DOWN,
        GALLON,
    ),
    unit("%", &["percent", "pct"], Dimension::Fraction, 1, 100),
    unit("ppm", &[], Dimension::Fraction, 1, 1_000_000),
    unit("fraction", &[], Dimension::Fraction, 1, 1),
    unit("C", &["°C", "degC"], Dimension::Temperature, 1, 1),
    Unit {
        name: "F",
        also: &["°F", "degF"],
        dimension: Dimension::Temperature,
        shift: -3_200,
        up: 5,
        down: 9,
    },
    Unit {
        name: "K",
        also: &[],
        dimension: Dimension::Temperature,
        shift: -27_315,
        up: 1,
        down: 1,
    },
    unit(
        "K diff",
        &["C diff", "Cdiff", "Kdiff"],
        Dimension::TemperatureChange,
        1,
        1,
    ),
    unit("F diff", &["Fdiff"], Dimension::TemperatureChange, 5, 9),
    unit("s", &["sec"], Dimension::Time, 1, 1),
    unit("min", &["m"], Dimension::Time, 60, 1),
    unit("h", &["hr", "hours", "hour"], Dimension::Time, 3_600, 1),
    unit("d", &["days", "day"], Dimension::Time, 86_400, 1),
    unit("mJ/cm2", &["mJ/cm²"], Dimension::Dose, 10, 1),
    unit("J/cm2", &["J/cm²"], Dimension::Dose, 10_000, 1),
    unit("mW/cm2", &["mW/cm²"], Dimension::Irradiance, 10, 1),
    unit("W/cm2", &["W/cm²"], Dimension::Irradiance, 10_000, 1),
    unit("m/s", &[], Dimension::Speed, 1, 1),
    unit("fpm", &["ft/min"], Dimension::Speed, 3_048, 600_000),
    unit("m3/s", &["m³/s"], Dimension::Flow, 1, 1),
    unit(
        "cfm",
        &[],
        Dimension::Flow,
        28_316_846_592,
        60_000_000_000_000,
    ),
    unit("m3/h", &["m³/h"], Dimension::Flow, 1, 3_600),
    unit("L/min", &["l/min"], Dimension::Flow, 1, 60_000),
    unit("mL/min", &["ml/min"], Dimension::Flow, 1, 60_000_000),
    unit(
        "gal/h",
        &["gph"],
        Dimension::Flow,
        GALLON,
        GALLON_DOWN * 3_600,
    ),
    unit("Pa", &[], Dimension::Pressure, 1, 1),
    unit(
        "in. w.c.",
        &["inwc", "in.w.c.", "in w.c."],
        Dimension::Pressure,
        24_908_891,
        100_000,
    ),
    unit("kPa", &[], Dimension::Pressure, 1_000, 1),
    unit("hPa", &["mbar"], Dimension::Pressure, 100, 1),
    unit("psi", &[], Dimension::Pressure, 6_894_757_293, 1_000_000),
    unit("bar", &[], Dimension::Pressure, 100_000, 1),
    unit(
        "mm2/s",
        &["cSt", "mm²/s"],
        Dimension::Viscosity,
        1,
        1_000_000,
    ),
    unit("m2/L", &["m²/L"], Dimension::Spread, 1_000, 1),
    unit(
        "ft2/gal",
        &["ft²/gal"],
        Dimension::Spread,
        9_290_304 * 10_000,
        GALLON,
    ),
    unit("g/m2", &["g/m²"], Dimension::ArealMass, 1, 1_000),
    unit("g/h", &[], Dimension::MassRate, 1, 3_600_000),
    unit("lb/h", &[], Dimension::MassRate, POUND, POUND_DOWN * 3_600),
    unit("1", &[""], Dimension::Number, 1, 1),
];

/// The unit of this dimension that is written `text`, or `None`.
///
/// The lookup needs the dimension because some spellings mean two things: `m` is a metre beside a length and a
/// minute beside a time.
pub fn find(text: &str, dimension: Dimension) -> Option<&'static Unit> {
    UNITS
        .iter()
        .filter(|u| u.dimension == dimension)
        .find(|u| u.name == text || u.also.contains(&text))
}

/// The spellings that a dimension accepts, for messages.
pub fn spellings(dimension: Dimension) -> String {
    let names: Vec<&str> = UNITS
        .iter()
        .filter(|u| u.dimension == dimension)
        .map(|u| u.name)
        .collect();
    names.join(", ")
}

/// A bare number's unit, and the fallback of lookups by a name that stands in this file.
pub(super) static PLAIN: Unit = unit("1", &[""], Dimension::Number, 1, 1);
