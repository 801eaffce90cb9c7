//! The worksheets of an evaporating coat's cold.

use uom::si::f64::{HeatFluxDensity, Ratio, TemperatureInterval, ThermodynamicTemperature, Time};
use uom::si::heat_flux_density::watt_per_square_meter;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin as kelvin_diff;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;

use super::{VOLATILES, film_on_wood, solvent_wet_bulb};
use crate::science::measure::{
    AREAL_MASS, Measure, NUMBER, SECONDS, SHARE, TEMPERATURE, TEMPERATURE_CHANGE,
};
use crate::science::worksheet::{Input, Inputs, Quantity, Refusal, Sheet, Worksheet};

const WATT: Measure = Measure::plain("W/m2");
const EXCHANGE: Measure = Measure::plain("W/m2K");
const EFFUSIVITY: Measure = Measure::plain("W s^0.5/m2K");
const JOULE: Measure = Measure::plain("J/g");
const ORDER: &str =
    "an order of size, no forecast: measure the piece and ask the data sheet's maker";

const KEYS: &[&str] = &[
    "acetone",
    "mek",
    "ethyl_acetate",
    "ethanol",
    "isopropanol",
    "toluene",
    "isobutyl_acetate",
    "n_butyl_acetate",
    "water",
];

/// The worksheets of an evaporating coat's cold.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "solvent-wet-bulb",
        purpose: "How cold an evaporating film of one solvent gets in moving air, at most",
        source: "heat and mass balance after Chilton and Colburn; constants from memory, to be confirmed",
        inputs: &[
            Input::word("solvent", "the solvent", KEYS, "acetone"),
            Input::amount("air", "air temperature", TEMPERATURE, (5.0, 40.0), "21C"),
            Input::amount(
                "saturation",
                "how far the air is saturated with it already",
                SHARE,
                (0.0, 100.0),
                "0%",
            )
            .or("0%"),
            Input::amount(
                "other-heat",
                "heat from conduction and radiation, as a share of that from the air",
                NUMBER,
                (0.0, 5.0),
                "1",
            )
            .or("0"),
        ],
        compute: wet_bulb_sheet,
    },
    Sheet {
        id: "coat-cooling",
        purpose: "How far an evaporating coat cools wood below the air in its first minutes",
        source: "conduction in a half-space with surface exchange, from memory, to be confirmed",
        inputs: &[
            Input::amount(
                "evaporated",
                "solvent that leaves meanwhile",
                AREAL_MASS,
                (0.1, 200.0),
                "20g/m2",
            ),
            Input::amount(
                "heat",
                "heat of evaporation of the blend (390 J/g from memory, to be confirmed)",
                JOULE,
                (100.0, 2_500.0),
                "390",
            )
            .or("390"),
            Input::amount(
                "time",
                "time in which it leaves",
                SECONDS,
                (1.0, 600.0),
                "30s",
            ),
            Input::amount(
                "exchange",
                "exchange with the air (20 from memory, to be confirmed)",
                EXCHANGE,
                (1.0, 100.0),
                "20",
            )
            .or("20"),
            Input::amount(
                "effusivity",
                "of the wood; spruce about 268 (from memory, to be confirmed)",
                EFFUSIVITY,
                (50.0, 2_000.0),
                "268.33",
            )
            .or("268.33"),
        ],
        compute: cooling_sheet,
    },
];

fn wet_bulb_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let key = inputs.word("solvent")?;
    let solvent = VOLATILES
        .iter()
        .find(|v| v.key == key)
        .ok_or_else(|| Refusal::no_answer("solvent", key, KEYS.join(", ")))?;
    let air: ThermodynamicTemperature = inputs.get("air")?;
    let other = Ratio::new::<ratio>(inputs.get("other-heat")?);
    let film = solvent_wet_bulb(solvent, air, inputs.get("saturation")?, other)?;
    let below = TemperatureInterval::new::<kelvin_diff>(air.get::<kelvin>() - film.get::<kelvin>());
    Ok(Worksheet::new("temperature of the film", film, TEMPERATURE)
        .also("below the air", below, TEMPERATURE_CHANGE)
        .step(
            "balance",
            "(1 + g)(Ta - Tw) = M P / (R Tf) ln((P - pa) / (P - ps)) dH / (rho cp Le^(2/3))",
            film,
            TEMPERATURE,
        )
        .assumes("the film stays wet for long; a thin coat is dry before it gets there")
        .assumes("Antoine constants, heats and diffusion volumes are from memory, to be confirmed")
        .caution(ORDER))
}

fn cooling_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let evaporated: uom::si::f64::ArealMassDensity = inputs.get("evaporated")?;
    let heat: f64 = inputs.get("heat")?;
    let time: Time = inputs.get("time")?;
    let watts = evaporated.to_base() * 1_000.0 * heat / time.get::<second>();
    let drop = film_on_wood(
        HeatFluxDensity::new::<watt_per_square_meter>(watts),
        time,
        inputs.get("exchange")?,
        inputs.get("effusivity")?,
    )?;
    Ok(Worksheet::new("below the air", drop, TEMPERATURE_CHANGE)
        .step("heat that evaporation takes", "m dH / t", watts, WATT)
        .step(
            "below the air",
            "(q / U) (1 - exp(X2) erfc X), X = U sqrt(t) / e",
            drop,
            TEMPERATURE_CHANGE,
        )
        .assumes("it leaves evenly over the time, and the wood is thick")
        .caution(ORDER))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_of_the_input_are_the_rows_of_the_table() {
        assert_eq!(KEYS, VOLATILES.iter().map(|v| v.key).collect::<Vec<_>>());
    }
}
