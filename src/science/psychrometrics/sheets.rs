//! The worksheets of moist air.

use uom::si::f64::{Pressure, Ratio, TemperatureInterval, ThermodynamicTemperature};

use super::{
    BlushLimits, BlushRule, MAGNUS_WMO, blush, dew_point, drying_power, humidity_at_spread,
    humidity_ratio, magnus_dew_point, moist_air_density, saturation_pressure, vapour_pressure,
    wet_bulb,
};
use crate::science::measure::{
    AIR_PRESSURE, CONTENT, NUMBER, PRESSURE, SHARE, TEMPERATURE, TEMPERATURE_CHANGE,
};
use crate::science::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};

const HYLAND_WEXLER: &str = "Hyland and Wexler 1983, as in ASHRAE Handbook of Fundamentals 2017, chapter 1, cited from an open program";
const MAGNUS: &str = "Magnus formula, Sonntag 1990 (WMO Guide), cited from a stored excerpt";
const FROST: &str = "below 0 C the figure is the frost point (over ice)";
const FILM_COOLS: &str = "an evaporating coat is several kelvin colder than the air: ask the data sheet's maker and try a scrap";

const AIR: Input = Input::amount("air", "air temperature", TEMPERATURE, (-40.0, 60.0), "21C");
const RH: Input = Input::amount("rh", "relative humidity", SHARE, (0.1, 100.0), "50%");

/// The worksheets of moist air.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "dew-point",
        purpose: "The temperature at which water settles out of the air, and how far the air is from it",
        source: HYLAND_WEXLER,
        inputs: &[
            AIR,
            RH,
            Input::word(
                "method",
                "Hyland-Wexler, or the closed Magnus formula over water",
                &["hyland-wexler", "magnus"],
                "hyland-wexler",
            )
            .or("hyland-wexler"),
        ],
        compute: dew_point_sheet,
    },
    Sheet {
        id: "blush",
        purpose: "Air and piece held against both blush rules, naming which is exceeded",
        source: "shop practice; the limits are the shop's own",
        inputs: &[
            AIR,
            RH,
            Input::amount(
                "piece",
                "temperature of the piece",
                TEMPERATURE,
                (-40.0, 60.0),
                "19C",
            )
            .or_unknown(),
            Input::amount(
                "rh-limit",
                "relative humidity not to be exceeded",
                SHARE,
                (0.1, 100.0),
                "65%",
            )
            .or_unknown(),
            Input::amount(
                "spread-limit",
                "spread between air and dew point not to fall below",
                TEMPERATURE_CHANGE,
                (0.0, 40.0),
                "8 K diff",
            )
            .or_unknown(),
            Input::amount(
                "piece-margin",
                "how far the piece is to be above the dew point",
                TEMPERATURE_CHANGE,
                (0.0, 40.0),
                "3 K diff",
            )
            .or_unknown(),
        ],
        compute: blush_sheet,
    },
    Sheet {
        id: "moist-air",
        purpose: "Humidity ratio, wet bulb and density of moist air",
        source: HYLAND_WEXLER,
        inputs: &[
            AIR,
            RH,
            Input::amount(
                "pressure",
                "air pressure of the place",
                AIR_PRESSURE,
                (600.0, 1_100.0),
                "1013.25hPa",
            )
            .or("1013.25hPa"),
        ],
        compute: moist_air_sheet,
    },
    Sheet {
        id: "humidity-at-spread",
        purpose: "The relative humidity at which air is a given spread above its dew point",
        source: MAGNUS,
        inputs: &[
            Input::amount("air", "air temperature", TEMPERATURE, (0.0, 50.0), "21C"),
            Input::amount(
                "spread",
                "spread between air and dew point",
                TEMPERATURE_CHANGE,
                (0.0, 40.0),
                "11.1 K diff",
            ),
        ],
        compute: humidity_at_spread_sheet,
    },
    Sheet {
        id: "drying-power",
        purpose: "How fast the air dries a waterborne film, compared with another state of the air",
        source: MAGNUS,
        inputs: &[
            Input::amount(
                "air",
                "air temperature now",
                TEMPERATURE,
                (-40.0, 50.0),
                "18C",
            ),
            Input::amount("rh", "relative humidity now", SHARE, (0.1, 100.0), "65%"),
            Input::amount(
                "reference-air",
                "air temperature to compare with",
                TEMPERATURE,
                (-40.0, 50.0),
                "21C",
            )
            .or("21C"),
            Input::amount(
                "reference-rh",
                "relative humidity to compare with",
                SHARE,
                (0.1, 99.0),
                "50%",
            )
            .or("50%"),
        ],
        compute: drying_power_sheet,
    },
];

fn air_of(inputs: &Inputs) -> Result<(ThermodynamicTemperature, Ratio), Refusal> {
    Ok((inputs.get("air")?, inputs.get("rh")?))
}

fn spread(air: ThermodynamicTemperature, dew: ThermodynamicTemperature) -> TemperatureInterval {
    use uom::si::temperature_interval::kelvin as kelvin_diff;
    use uom::si::thermodynamic_temperature::kelvin;
    TemperatureInterval::new::<kelvin_diff>(air.get::<kelvin>() - dew.get::<kelvin>())
}

fn dew_point_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (air, rh) = air_of(inputs)?;
    let dew = dew_point(air, rh)?;
    let water = magnus_dew_point(air, rh, &MAGNUS_WMO);
    if inputs.word("method")? == "magnus" {
        let dew = water?;
        return Ok(Worksheet::new("dew point over water", dew, TEMPERATURE)
            .also("spread", spread(air, dew), TEMPERATURE_CHANGE)
            .step(
                "dew point",
                "g = ln RH + 17.62 T / (243.12 + T); Td = 243.12 g / (17.62 - g)",
                dew,
                TEMPERATURE,
            )
            .source(MAGNUS)
            .assumes("dew stays water below 0 C"));
    }
    let mut sheet = Worksheet::new("dew point", dew, TEMPERATURE)
        .also("spread", spread(air, dew), TEMPERATURE_CHANGE)
        .step(
            "saturation pressure",
            "ps(T)",
            saturation_pressure(air)?,
            PRESSURE,
        )
        .step(
            "vapour pressure",
            "pv = RH ps(T)",
            vapour_pressure(air, rh)?,
            PRESSURE,
        )
        .step("dew point", "ps(Td) = pv", dew, TEMPERATURE)
        .assumes(FROST)
        .assumes(
            "a humidity sensor of 2 % makes the figure uncertain by about 0.6 K at 20 C, 50 %",
        );
    if let Ok(water) = water {
        sheet = sheet.also("by the Magnus formula over water", water, TEMPERATURE);
    }
    Ok(sheet)
}

fn rule_words(rule: BlushRule) -> &'static str {
    match rule {
        BlushRule::Humidity => "the limit on relative humidity is exceeded",
        BlushRule::Spread => "the air is nearer to its dew point than the limit on the spread",
        BlushRule::PieceBelowDewPoint => "piece colder than dew point: water settles on it",
        BlushRule::PieceMargin => "the piece is nearer to the dew point than its margin",
    }
}

fn blush_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (air, rh) = air_of(inputs)?;
    let limits = BlushLimits {
        humidity: inputs.maybe("rh-limit")?,
        spread: inputs.maybe("spread-limit")?,
        piece_margin: inputs.maybe("piece-margin")?,
    };
    let piece: Option<ThermodynamicTemperature> = inputs.maybe("piece")?;
    let found = blush(air, rh, piece, &limits)?;
    let mut sheet = Worksheet::new("spread", found.spread, TEMPERATURE_CHANGE)
        .also("dew point", found.dew_point, TEMPERATURE)
        .also(
            "limits exceeded",
            found.tripped.iter().map(|_| 1.0).sum::<f64>(),
            NUMBER,
        )
        .step(
            "dew point",
            "ps(Td) = RH ps(T)",
            found.dew_point,
            TEMPERATURE,
        )
        .step("spread", "T - Td", found.spread, TEMPERATURE_CHANGE)
        .at_most("relative humidity", Some(rh), limits.humidity, SHARE)
        .at_least(
            "spread between air and dew point",
            Some(found.spread),
            limits.spread,
            TEMPERATURE_CHANGE,
        )
        .source(HYLAND_WEXLER)
        .assumes(FROST);
    if let Some(above) = found.piece_above {
        sheet = sheet
            .also("piece above dew point", above, TEMPERATURE_CHANGE)
            .at_least(
                "dew point, for the piece",
                piece,
                Some(found.dew_point),
                TEMPERATURE,
            );
    }
    if limits.piece_margin.is_some() {
        sheet = sheet.at_least(
            "margin of the piece above the dew point",
            found.piece_above,
            limits.piece_margin,
            TEMPERATURE_CHANGE,
        );
    }
    if piece.is_none() {
        sheet =
            sheet.assumes("the temperature of the piece is unknown; a cold piece blushes first");
    }
    for rule in found.tripped {
        sheet = sheet.caution(rule_words(rule));
    }
    Ok(sheet.caution(FILM_COOLS))
}

fn moist_air_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (air, rh) = air_of(inputs)?;
    let pressure: Pressure = inputs.get("pressure")?;
    let density = moist_air_density(air, rh, pressure)?;
    let ratio = humidity_ratio(air, rh, pressure)?;
    let wet = wet_bulb(air, rh, pressure)?;
    Ok(Worksheet::new("density of the air", density, CONTENT)
        .also("wet bulb", wet, TEMPERATURE)
        .also("dew point", dew_point(air, rh)?, TEMPERATURE)
        .also("humidity ratio, water in dry air by mass", ratio, SHARE)
        .step(
            "vapour pressure",
            "pv = RH ps(T)",
            vapour_pressure(air, rh)?,
            PRESSURE,
        )
        .step("humidity ratio", "W = 0.621945 pv / (p - pv)", ratio, SHARE)
        .step(
            "density",
            "(1 + W) p / (287.042 T (1 + 1.607858 W))",
            density,
            CONTENT,
        )
        .assumes("air is an ideal gas: the humidity ratio is 0.4 to 0.5 % low")
        .assumes(FROST))
}

fn humidity_at_spread_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let air: ThermodynamicTemperature = inputs.get("air")?;
    let spread: TemperatureInterval = inputs.get("spread")?;
    let rh = humidity_at_spread(air, spread, &MAGNUS_WMO)?;
    Ok(Worksheet::new("relative humidity", rh, SHARE)
        .step("relative humidity", "es(T - d) / es(T)", rh, SHARE)
        .caution(FILM_COOLS))
}

fn drying_power_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let reference = (inputs.get("reference-air")?, inputs.get("reference-rh")?);
    let power = drying_power(air_of(inputs)?, reference, &MAGNUS_WMO)?;
    Ok(
        Worksheet::new("drying power, compared with the reference", power, SHARE)
            .step(
                "drying power",
                "(1 - RH) es(T) / ((1 - RH0) es(T0))",
                power,
                SHARE,
            )
            .assumes("only water evaporates, at the same air movement"),
    )
}
