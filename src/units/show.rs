//! Printing a quantity with its unit.

use super::table::{Dimension, PLAIN, System, UNITS, Unit};

/// The unit in which a dimension is shown in a customary system.
pub fn show_as(dimension: Dimension, system: System) -> &'static Unit {
    let name = match (dimension, system) {
        (Dimension::Length, System::Us) => "mil",
        (Dimension::Area, System::Us) => "ft2",
        (Dimension::Volume, System::Us) => "fl oz",
        (Dimension::Mass, System::Us) => "lb",
        (Dimension::Density, System::Us) => "lb/gal",
        (Dimension::Temperature, System::Us) => "F",
        (Dimension::TemperatureChange, System::Us) => "F diff",
        (Dimension::Speed, System::Us) => "fpm",
        (Dimension::Flow, System::Us) => "cfm",
        (Dimension::Pressure, System::Us) => "in. w.c.",
        (Dimension::Spread, System::Us) => "ft2/gal",
        (Dimension::MassRate, System::Us) => "lb/h",
        (Dimension::Time, _) => "min",
        _ => "",
    };
    UNITS
        .iter()
        .filter(|u| u.dimension == dimension)
        .find(|u| name.is_empty() || u.name == name)
        .unwrap_or(&PLAIN)
}

/// `value` with a fixed number of decimals and without a trailing point or a negative zero.
pub fn digits(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text
        .trim_start_matches('-')
        .chars()
        .all(|c| c == '0' || c == '.')
    {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// A base-unit value in `unit`, with the unit's name.
pub fn show(base: f64, unit: &Unit, decimals: usize) -> String {
    let text = digits(unit.of_base(base), decimals);
    if unit.name == "1" {
        text
    } else {
        format!("{text} {}", unit.name)
    }
}
