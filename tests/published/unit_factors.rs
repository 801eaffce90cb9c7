//! Source: the Python package `pint` (`scripts/s9_units.py` made `data/unit_factors.csv`), twelve digits.
//! Tolerance: 1e-10 relative, because psi stands in the table with ten digits; all others are exact there.

use hangtime::units::{Dimension, find};

#[test]
fn every_unit_that_is_known_here_has_the_published_factor() {
    // The published names and ours; a name that is not ours is not a unit of this table.
    let ours = [
        ("gallon", "gal", Dimension::Volume),
        ("fluid_ounce", "fl oz", Dimension::Volume),
        ("quart", "qt", Dimension::Volume),
        ("cubic_foot", "ft3", Dimension::Volume),
        ("liter", "L", Dimension::Volume),
        ("milliliter", "mL", Dimension::Volume),
        ("foot/minute", "fpm", Dimension::Speed),
        ("meter/second", "m/s", Dimension::Speed),
        ("cubic_foot/minute", "cfm", Dimension::Flow),
        ("meter**3/hour", "m3/h", Dimension::Flow),
        ("pound/gallon", "lb/gal", Dimension::Density),
        ("gram/liter", "g/L", Dimension::Density),
        ("pound", "lb", Dimension::Mass),
        ("short_ton", "short ton", Dimension::Mass),
        ("kilogram", "kg", Dimension::Mass),
        ("thou", "mil", Dimension::Length),
        ("micrometer", "um", Dimension::Length),
        ("psi", "psi", Dimension::Pressure),
        ("pascal", "Pa", Dimension::Pressure),
        ("inH2O", "in. w.c.", Dimension::Pressure),
        ("foot**2/gallon", "ft2/gal", Dimension::Spread),
        ("meter**2/liter", "m2/L", Dimension::Spread),
    ];
    let unit = |name: &str| {
        let (_, our, dimension) = ours.iter().find(|(theirs, _, _)| *theirs == name)?;
        find(our, *dimension)
    };
    let mut reader = csv::Reader::from_reader(include_str!("data/unit_factors.csv").as_bytes());
    let mut held = Vec::new();
    let mut foreign = Vec::new();
    for row in reader.records() {
        let row = row.unwrap();
        let factor: f64 = row[2].parse().unwrap();
        let (Some(from), Some(to)) = (unit(&row[0]), unit(&row[1])) else {
            foreign.push(row[0].to_owned());
            continue;
        };
        let got = to.of_base(from.base(1.0));
        assert!(
            (got / factor - 1.0).abs() < 1e-10,
            "{} {}: {got}, published {factor}",
            &row[0],
            &row[1]
        );
        held.push(row[0].to_owned());
    }
    assert_eq!(held.len(), 13, "{held:?}");
    assert_eq!(foreign, ["pint", "inHg", "mmHg", "thou*foot**2", "atm"]);
}
