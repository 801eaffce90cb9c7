//! The amounts of the record: integers in small SI units, one newtype each, with their possible range.

use super::read::{UnitFault, read};
use super::show::{show, show_as};
use super::table::{Dimension, System, Unit, find};
use super::{num, table};

/// What all amounts of the record can do.
pub trait Amount: Copy + Ord + Sized + std::fmt::Debug {
    /// What it is called in messages.
    const NAME: &'static str;
    /// What it measures.
    const DIMENSION: Dimension;
    /// The record's unit is the base unit divided by ten to this power.
    const EXPONENT: u32;
    /// The lowest possible value, in the record's unit.
    const LOW: i64;
    /// The highest possible value, in the record's unit.
    const HIGH: i64;
    /// The unit in which messages show it.
    const SHOWN: &'static str;

    /// The amount of a raw record value, without a check: for values that come from the record.
    fn of(raw: i64) -> Self;
    /// The raw record value.
    fn raw(self) -> i64;

    /// The value in the base unit of its dimension.
    fn base(self) -> f64 {
        num::float(self.raw()) / 10_f64.powi(i32::try_from(Self::EXPONENT).unwrap_or(0))
    }

    /// The amount of a value in the base unit of its dimension, rounded half-to-even to the record's unit; `None`
    /// when it cannot be held.
    fn of_base(base: f64) -> Option<Self> {
        num::whole(base * 10_f64.powi(i32::try_from(Self::EXPONENT).unwrap_or(0))).map(Self::of)
    }

    /// The unit in which messages show it.
    fn shown_unit() -> &'static Unit {
        find(Self::SHOWN, Self::DIMENSION).unwrap_or(&table::PLAIN)
    }

    /// The amount with `decimals` in the unit that messages show.
    fn text(self, decimals: usize) -> String {
        show(self.base(), Self::shown_unit(), decimals)
    }

    /// The amount in the unit that a customary system shows it in: with `decimals` in metric units, with two more in US
    /// units, whose units are larger.
    fn shown(self, system: System, decimals: usize) -> String {
        match system {
            System::Metric => self.text(decimals),
            System::Us => show(self.base(), show_as(Self::DIMENSION, system), decimals + 2),
        }
    }

    /// Reads an amount and holds it against its possible range. `bare` is the unit of a bare number.
    fn read(text: &str, bare: Option<&'static str>) -> Result<Self, UnitFault> {
        Self::read_within(text, bare, Self::LOW, Self::HIGH)
    }

    /// Reads an amount and holds it against a narrower range, in the record's unit.
    fn read_within(
        text: &str,
        bare: Option<&'static str>,
        low: i64,
        high: i64,
    ) -> Result<Self, UnitFault> {
        let bare = bare.and_then(|name| find(name, Self::DIMENSION));
        let reading = read(text, Self::DIMENSION, bare)?;
        match reading.exact(Self::EXPONENT) {
            Some(raw) if (low..=high).contains(&raw) => Ok(Self::of(raw)),
            _ => Err(UnitFault::OutOfRange {
                name: Self::NAME.to_owned(),
                value: text
                    .trim()
                    .chars()
                    .filter(|c| !c.is_control())
                    .take(40)
                    .collect(),
                low: Self::of(low).trimmed(),
                high: Self::of(high).trimmed(),
            }),
        }
    }

    /// The amount with as many decimals as it needs, three at most, for range messages.
    fn trimmed(self) -> String {
        let unit = Self::shown_unit();
        let text = super::show::digits(unit.of_base(self.base()), 3);
        let text = if text.contains('.') {
            text.trim_end_matches('0').trim_end_matches('.')
        } else {
            &text
        };
        format!("{text} {}", unit.name)
    }
}

macro_rules! amount {
    ($(#[$doc:meta])* $name:ident, $label:literal, $dimension:ident, $exponent:literal, $low:expr, $high:expr, $shown:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
        pub struct $name(pub i64);

        impl Amount for $name {
            const NAME: &'static str = $label;
            const DIMENSION: Dimension = Dimension::$dimension;
            const EXPONENT: u32 = $exponent;
            const LOW: i64 = $low;
            const HIGH: i64 = $high;
            const SHOWN: &'static str = $shown;
            fn of(raw: i64) -> Self {
                Self(raw)
            }
            fn raw(self) -> i64 {
                self.0
            }
        }
    };
}

amount!(
    /// A film thickness in nm. Possible: 0 to 5 mm.
    Film, "film", Length, 9, 0, 5_000_000, "um"
);
amount!(
    /// A volume in uL. Possible: 0 to 100 000 L.
    Volume, "volume", Volume, 9, 0, 100_000_000_000, "mL"
);
amount!(
    /// A mass in mg. Possible: 0 to 1 000 t.
    Mass, "mass", Mass, 6, 0, 1_000_000_000_000, "g"
);
amount!(
    /// A density in mg/L. Possible: 0.3 to 3.0 kg/L.
    Density, "density", Density, 3, 300_000, 3_000_000, "kg/L"
);
amount!(
    /// A share of a whole in ppm. Possible: 0 to 100 %.
    Share, "share", Fraction, 6, 0, 1_000_000, "%"
);
amount!(
    /// A temperature in thousandths of a degree Celsius. Possible: -60 to 150 C.
    Temperature, "temperature", Temperature, 3, -60_000, 150_000, "C"
);
amount!(
    /// Relative humidity in hundredths of a percent. Possible: 0 to 100 %.
    Humidity, "relative humidity", Fraction, 4, 0, 10_000, "%"
);
amount!(
    /// An area in mm2. Possible: 1 cm2 to 10 m2.
    Area, "area", Area, 6, 100, 10_000_000, "m2"
);
amount!(
    /// An air speed in um/s. Possible: 0 to 10 m/s.
    Speed, "speed", Speed, 6, 0, 10_000_000, "fpm"
);
amount!(
    /// A pressure in mPa. Possible: 0 to 10 kPa.
    Pressure, "pressure", Pressure, 3, 0, 10_000_000, "in. w.c."
);

amount!(
    /// A flow of air in mL/s. Possible: 0 to 100 m3/s.
    Flow, "flow", Flow, 6, 0, 100_000_000, "m3/s"
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gallon_and_a_mil_are_exact() {
        assert_eq!(Volume::read("55 gal", None), Ok(Volume(208_197_648)));
        assert_eq!(Film::read("1mil", None), Ok(Film(25_400)));
        assert_eq!(Film::read("4.5 mil", None), Ok(Film(114_300)));
        assert_eq!(Temperature::read("68 F", None), Ok(Temperature(20_000)));
        assert_eq!(Speed::read("100 fpm", None), Ok(Speed(508_000)));
        assert_eq!(Density::read("7.68 lb/gal", None), Ok(Density(920_267)));
    }

    #[test]
    fn an_amount_is_shown_in_the_units_of_a_system() {
        assert_eq!(Film(25_400).shown(System::Us, 0), "1.00 mil");
        assert_eq!(Film(25_400).shown(System::Metric, 1), "25.4 um");
        assert_eq!(Mass(453_592_370).shown(System::Us, 0), "1000.00 lb");
    }

    #[test]
    fn a_bare_number_takes_the_named_unit() {
        assert_eq!(Film::read("15", Some("um")), Ok(Film(15_000)));
        assert!(matches!(
            Film::read("15", None),
            Err(UnitFault::NoUnit { .. })
        ));
    }

    #[test]
    fn what_other_programs_read_differently_is_refused() {
        for text in [
            "1,500 um",
            "1,5,5 um",
            "1.5,5 um",
            "1,500.5 um",
            ",5 um",
            "5, um",
            "1e3 um",
            "NaN",
            "inf um",
            "1_000 um",
            "1'000 um",
            "--3 um",
            "",
            " ",
            "um",
            ".",
            "1.2.3 um",
        ] {
            assert!(Film::read(text, Some("um")).is_err(), "{text}");
        }
    }

    #[test]
    fn one_comma_is_the_point_where_nobody_can_read_thousands() {
        for (text, nm) in [
            ("1,5 um", 1_500),
            ("+1,25um", 1_250),
            ("0,125 um", 125),
            ("1,2345 um", 1_234),
        ] {
            assert_eq!(Film::read(text, None), Ok(Film(nm)), "{text}");
        }
        let fault = Film::read("1,500 um", None).err().map(|f| f.to_string());
        assert_eq!(
            fault.as_deref(),
            Some(
                "\"1,500 um\" is unclear: it may be 1.500 um or 1500 um; write the one that is meant"
            )
        );
    }

    #[test]
    fn a_range_is_named_with_its_fix() {
        let fault = Humidity::read("140 %", None).err().map(|f| f.to_string());
        assert_eq!(
            fault.as_deref(),
            Some("relative humidity 140 % is outside 0 % to 100 %")
        );
    }
}
