//! What a number on a worksheet measures and in which unit it is listed, and the bridge to `uom` quantities.
//!
//! *Invariants*: a worksheet carries its figures in the base unit of their dimension; a unit is chosen only when a
//! figure is read or shown, so US and metric inputs meet the same arithmetic.
//!
//! *Not here*: the table of units itself, which is in `units`.

use uom::si::f64 as si;

use crate::units::{self, Dimension, System, Unit};

/// A dimension with the unit that is listed in each customary system.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measure {
    /// What is measured.
    pub dimension: Dimension,
    /// The metric unit of the listing. Ranges are declared in it.
    pub metric: &'static str,
    /// The US customary unit of the listing.
    pub us: &'static str,
}

/// A film thickness: um or mil.
pub const FILM: Measure = Measure::new(Dimension::Length, "um", "mil");
/// A size that is seen with the eye: mm or in.
pub const SIZE: Measure = Measure::new(Dimension::Length, "mm", "in");
/// A size of a booth or a room: m or ft.
pub const ROOM_SIZE: Measure = Measure::new(Dimension::Length, "m", "ft");
/// A coated surface or a face: m2 or ft2.
pub const AREA: Measure = Measure::new(Dimension::Area, "m2", "ft2");
/// A volume in the cup: mL or fl oz.
pub const CUP: Measure = Measure::new(Dimension::Volume, "mL", "fl oz");
/// A volume in the can or drum: L or gal.
pub const CAN: Measure = Measure::new(Dimension::Volume, "L", "gal");
/// A volume of air: m3 or ft3.
pub const AIR_VOLUME: Measure = Measure::new(Dimension::Volume, "m3", "ft3");
/// A mass on the bench scale: g in both systems.
pub const GRAMS: Measure = Measure::new(Dimension::Mass, "g", "g");
/// A mass in the solvent book: kg or lb.
pub const MASS: Measure = Measure::new(Dimension::Mass, "kg", "lb");
/// A liquid's density: kg/L or lb/gal.
pub const DENSITY: Measure = Measure::new(Dimension::Density, "kg/L", "lb/gal");
/// Mass of a substance in a volume of coating: g/L or lb/gal.
pub const CONTENT: Measure = Measure::new(Dimension::Density, "g/L", "lb/gal");
/// A share of a whole: %.
pub const SHARE: Measure = Measure::new(Dimension::Fraction, "%", "%");
/// A small share: ppm.
pub const PPM: Measure = Measure::new(Dimension::Fraction, "ppm", "ppm");
/// A temperature: C or F.
pub const TEMPERATURE: Measure = Measure::new(Dimension::Temperature, "C", "F");
/// A difference of temperatures: K or F.
pub const TEMPERATURE_CHANGE: Measure =
    Measure::new(Dimension::TemperatureChange, "K diff", "F diff");
/// A long wait: h.
pub const HOURS: Measure = Measure::new(Dimension::Time, "h", "h");
/// A short wait: min.
pub const MINUTES: Measure = Measure::new(Dimension::Time, "min", "min");
/// What a stopwatch reads: s.
pub const SECONDS: Measure = Measure::new(Dimension::Time, "s", "s");
/// An air speed: m/s or fpm.
pub const SPEED: Measure = Measure::new(Dimension::Speed, "m/s", "fpm");
/// A flow of air: m3/h or cfm.
pub const AIR_FLOW: Measure = Measure::new(Dimension::Flow, "m3/h", "cfm");
/// A flow of liquid: mL/min or gal/h.
pub const LIQUID_FLOW: Measure = Measure::new(Dimension::Flow, "mL/min", "gal/h");
/// A pressure: Pa or in. w.c.
pub const PRESSURE: Measure = Measure::new(Dimension::Pressure, "Pa", "in. w.c.");
/// The pressure of the outside air: hPa or psi.
pub const AIR_PRESSURE: Measure = Measure::new(Dimension::Pressure, "hPa", "psi");
/// Kinematic viscosity: mm2/s.
pub const VISCOSITY: Measure = Measure::new(Dimension::Viscosity, "mm2/s", "mm2/s");
/// Area that a volume covers: m2/L or ft2/gal.
pub const SPREAD: Measure = Measure::new(Dimension::Spread, "m2/L", "ft2/gal");
/// Mass on an area: g/m2.
pub const AREAL_MASS: Measure = Measure::new(Dimension::ArealMass, "g/m2", "g/m2");
/// A bare number.
pub const NUMBER: Measure = Measure::plain("1");

impl Measure {
    /// A dimension with its two listed units.
    pub const fn new(dimension: Dimension, metric: &'static str, us: &'static str) -> Self {
        Self {
            dimension,
            metric,
            us,
        }
    }

    /// A number in a unit that is never converted, such as `kJ/mol`. The label may be typed after the number.
    pub const fn plain(label: &'static str) -> Self {
        Self {
            dimension: Dimension::Number,
            metric: label,
            us: label,
        }
    }

    /// The name of the unit that is listed in `system`.
    pub const fn name(&self, system: System) -> &'static str {
        match system {
            System::Us => self.us,
            System::Metric => self.metric,
        }
    }

    /// The unit that is listed in `system`; `None` where the number is not converted.
    pub fn unit(&self, system: System) -> Option<&'static Unit> {
        units::find(self.name(system), self.dimension)
    }

    /// A base-unit value in the unit that is listed in `system`.
    pub fn shown(&self, base: f64, system: System) -> f64 {
        self.unit(system).map_or(base, |unit| unit.of_base(base))
    }

    /// A value in the listed metric unit as a base-unit value.
    pub fn base(&self, listed: f64) -> f64 {
        self.unit(System::Metric)
            .map_or(listed, |unit| unit.base(listed))
    }

    /// A base-unit value as people read it: six figures at most, with the unit.
    pub fn text(&self, base: f64, system: System) -> String {
        let number = figures(self.shown(base, system), 6);
        match self.name(system) {
            "1" => number,
            unit => format!("{number} {unit}"),
        }
    }
}

/// `value` with `count` significant figures at most, without trailing zeros and without an exponent.
pub fn figures(value: f64, count: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return units::digits(value, 0);
    }
    let size = units::num::whole(value.abs().log10().floor()).unwrap_or(0);
    let decimals = usize::try_from((i64::from(count) - 1 - size).clamp(0, 15)).unwrap_or(0);
    let text = units::digits(value, decimals);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A `uom` quantity that a worksheet can read and show.
pub trait Quantity: Copy {
    /// What it measures.
    const DIMENSION: Dimension;
    /// The quantity of a value in the base unit of [`Dimension`].
    fn of_base(base: f64) -> Self;
    /// The value in the base unit of [`Dimension`].
    fn to_base(self) -> f64;
}

macro_rules! quantity {
    ($($name:ident $dimension:ident $module:ident $unit:ident;)*) => {$(
        impl Quantity for si::$name {
            const DIMENSION: Dimension = Dimension::$dimension;
            fn of_base(base: f64) -> Self {
                Self::new::<uom::si::$module::$unit>(base)
            }
            fn to_base(self) -> f64 {
                self.get::<uom::si::$module::$unit>()
            }
        }
    )*};
}

quantity! {
    Length Length length meter;
    Area Area area square_meter;
    Volume Volume volume cubic_meter;
    Mass Mass mass kilogram;
    MassDensity Density mass_density kilogram_per_cubic_meter;
    Ratio Fraction ratio ratio;
    ThermodynamicTemperature Temperature thermodynamic_temperature degree_celsius;
    TemperatureInterval TemperatureChange temperature_interval kelvin;
    Time Time time second;
    Velocity Speed velocity meter_per_second;
    VolumeRate Flow volume_rate cubic_meter_per_second;
    Pressure Pressure pressure pascal;
    KinematicViscosity Viscosity kinematic_viscosity square_meter_per_second;
    ReciprocalLength Spread reciprocal_length reciprocal_meter;
    ArealMassDensity ArealMass areal_mass_density kilogram_per_square_meter;
    MassRate MassRate mass_rate kilogram_per_second;
}

impl Quantity for f64 {
    const DIMENSION: Dimension = Dimension::Number;
    fn of_base(base: f64) -> Self {
        base
    }
    fn to_base(self) -> f64 {
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_cut_without_an_exponent() {
        assert_eq!(figures(12.5, 6), "12.5");
        assert_eq!(figures(0.000_012_345_678, 4), "0.00001235");
        assert_eq!(figures(123_456_789.0, 6), "123456789");
        assert_eq!(figures(-0.1 - 0.2, 6), "-0.3");
    }

    #[test]
    fn every_listed_unit_is_in_the_table() {
        for measure in [
            FILM,
            SIZE,
            ROOM_SIZE,
            AREA,
            CUP,
            CAN,
            AIR_VOLUME,
            GRAMS,
            MASS,
            DENSITY,
            CONTENT,
            SHARE,
            PPM,
            TEMPERATURE,
            TEMPERATURE_CHANGE,
            HOURS,
            MINUTES,
            SECONDS,
            SPEED,
            AIR_FLOW,
            LIQUID_FLOW,
            PRESSURE,
            AIR_PRESSURE,
            VISCOSITY,
            SPREAD,
            AREAL_MASS,
            NUMBER,
        ] {
            for system in [System::Us, System::Metric] {
                assert!(measure.unit(system).is_some(), "{}", measure.name(system));
            }
        }
    }
}
