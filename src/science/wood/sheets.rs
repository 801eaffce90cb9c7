//! The worksheets of wood and air.

use uom::si::f64::{Length, Ratio, ThermodynamicTemperature};
use uom::si::ratio::percent;

use super::{equilibrium_moisture, equilibrium_moisture_fahrenheit, moisture_gap, movement};
use crate::science::measure::{Measure, SHARE, SIZE, TEMPERATURE};
use crate::science::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};

const COEFFICIENT: Measure = Measure::plain("1/%");

/// The worksheets of wood and air.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "wood-moisture",
        purpose: "The moisture at which wood comes to rest in a room, and how far a reading is from it",
        source: "Forest Products Laboratory, Wood Handbook, equation 4-5 (Hailwood-Horrobin), coefficients cited from open programs",
        inputs: &[
            Input::amount("air", "air temperature", TEMPERATURE, (-1.0, 60.0), "21C"),
            Input::amount("rh", "relative humidity", SHARE, (0.0, 95.0), "50%"),
            Input::amount(
                "meter",
                "reading of the wood meter",
                SHARE,
                (0.0, 30.0),
                "8%",
            )
            .or_unknown(),
            Input::amount(
                "gap-limit",
                "how far the reading may be from rest, in points",
                SHARE,
                (0.1, 10.0),
                "1%",
            )
            .or_unknown(),
        ],
        compute: moisture_sheet,
    },
    Sheet {
        id: "wood-movement",
        purpose: "How far a board moves across the grain for a change of moisture",
        source: "Forest Products Laboratory, Wood Handbook, dimensional change coefficients, cited from a stored excerpt",
        inputs: &[
            Input::amount(
                "width",
                "width across the grain",
                SIZE,
                (1.0, 1_000.0),
                "200mm",
            ),
            Input::amount(
                "coefficient",
                "dimensional change coefficient of the species and cut",
                COEFFICIENT,
                (0.000_1, 0.01),
                "0.00165",
            ),
            Input::amount("from", "moisture before", SHARE, (6.0, 14.0), "7%"),
            Input::amount("to", "moisture after", SHARE, (6.0, 14.0), "10%"),
        ],
        compute: movement_sheet,
    },
];

fn moisture_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let air: ThermodynamicTemperature = inputs.get("air")?;
    let rh: Ratio = inputs.get("rh")?;
    let rest = equilibrium_moisture(air, rh)?;
    let mut sheet = Worksheet::new("moisture at rest", rest, SHARE)
        .also(
            "by the older Fahrenheit coefficients (from memory, to be confirmed)",
            equilibrium_moisture_fahrenheit(air, rh)?,
            SHARE,
        )
        .step(
            "moisture at rest",
            "1800/W [Kh/(1-Kh) + (K1 Kh + 2 K1 K2 (Kh)2) / (1 + K1 Kh + K1 K2 (Kh)2)]",
            rest,
            SHARE,
        )
        .assumes("an average of species; real timber differs by a point and more");
    let limit: Option<Ratio> = inputs.maybe("gap-limit")?;
    let mut apart = None;
    if let Some(meter) = inputs.maybe::<Ratio>("meter")? {
        let gap = moisture_gap(meter, air, rh)?;
        apart = Some(Ratio::new::<percent>(gap.get::<percent>().abs()));
        sheet = sheet
            .also("reading less moisture at rest, in points", gap, SHARE)
            .step("gap", "M - EMC", gap, SHARE);
    }
    if limit.is_some() || apart.is_some() {
        sheet = sheet.at_most("gap between reading and rest", apart, limit, SHARE);
    }
    Ok(sheet)
}

fn movement_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let width: Length = inputs.get("width")?;
    let coefficient: f64 = inputs.get("coefficient")?;
    let coefficient = Ratio::new::<uom::si::ratio::ratio>(coefficient);
    let moved = movement(width, coefficient, inputs.get("from")?, inputs.get("to")?)?;
    Ok(Worksheet::new("movement across the grain", moved, SIZE)
        .step("movement", "W0 C (M1 - M0)", moved, SIZE)
        .assumes("nothing holds the board: no glue, brace or binding")
        .assumes("a film slows the change without stopping it"))
}
