//! The worksheets of exposure. Limits are inputs, entered with their source; none is a default.

use uom::si::f64::{Ratio, Time, VolumeRate};
use uom::si::molar_mass::gram_per_mole;

use super::{
    CeilingRule, dilution_for_health, hold_ceiling, mass_concentration,
    mass_concentration_conventional, mixture_index, steady_concentration, time_weighted_average,
};
use crate::science::measure::{
    AIR_FLOW, AIR_PRESSURE, HOURS, LIQUID_FLOW, MINUTES, Measure, NUMBER, PPM, SHARE, TEMPERATURE,
};
use crate::science::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};
use crate::units::Dimension;

const MG_M3: Measure = Measure::new(Dimension::Density, "mg/m3", "mg/m3");
const GRAM_MOLE: Measure = Measure::plain("g/mol");
const ASK: &str = "limits differ by country, state and list: the safety data sheet's section 8 and an industrial hygienist decide";
const LIMIT_SOURCE: &str = "the limit is the one that was entered; name its source beside it";

const CONCENTRATION: Input = Input::amount(
    "concentration",
    "concentration of a sample",
    PPM,
    (0.0, 1_000_000.0),
    "[150ppm,75ppm,50ppm]",
)
.list(1, 100);
const HOURS_SAMPLED: Input = Input::amount(
    "time",
    "time of each sample",
    HOURS,
    (0.0, 24.0),
    "[2h,2h,4h]",
)
.list(1, 100);
const MOLAR_MASS: Input = Input::amount(
    "molar-mass",
    "molar mass of the substance",
    GRAM_MOLE,
    (10.0, 500.0),
    "92.14",
);
const MIXING: Input = Input::amount(
    "mixing",
    "mixing factor K: 1 perfect, 10 poor (from memory, to be confirmed)",
    NUMBER,
    (1.0, 10.0),
    "5",
);

/// The worksheets of exposure.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "exposure-average",
        purpose: "The eight-hour time-weighted average of a shift's samples",
        source: "29 CFR 1910.1000(d)(1)(i), cited from a stored excerpt",
        inputs: &[
            CONCENTRATION,
            HOURS_SAMPLED,
            Input::amount(
                "limit",
                "the eight-hour limit, with its source noted",
                PPM,
                (0.001, 1_000_000.0),
                "100ppm",
            )
            .or_unknown(),
        ],
        compute: average_sheet,
    },
    Sheet {
        id: "exposure-mixture",
        purpose: "The exposure index of a mixture: above 1 it is over its combined limit",
        source: "29 CFR 1910.1000(d)(2)(i), cited from a stored excerpt",
        inputs: &[
            Input::amount(
                "concentration",
                "average of each substance",
                PPM,
                (0.0, 1_000_000.0),
                "[500ppm,45ppm,40ppm]",
            )
            .list(1, 30),
            Input::amount(
                "limit",
                "limit of each substance, in the same order",
                PPM,
                (0.001, 1_000_000.0),
                "[1000ppm,200ppm,200ppm]",
            )
            .list(1, 30),
        ],
        compute: mixture_sheet,
    },
    Sheet {
        id: "exposure-ceiling",
        purpose: "A shift's samples held against a ceiling and a permitted peak",
        source: "29 CFR 1910.1000(b), the logic of Table Z-2, cited from a stored excerpt",
        inputs: &[
            CONCENTRATION,
            Input::amount(
                "time",
                "time of each sample",
                MINUTES,
                (0.0, 1_440.0),
                "[10min,60min,5min]",
            )
            .list(1, 100),
            Input::amount(
                "ceiling",
                "the ceiling, with its source noted",
                PPM,
                (0.001, 1_000_000.0),
                "300ppm",
            ),
            Input::amount(
                "peak",
                "the highest peak above the ceiling",
                PPM,
                (0.001, 1_000_000.0),
                "500ppm",
            )
            .or_unknown(),
            Input::amount(
                "peak-time",
                "time for which the ceiling may be exceeded in a shift",
                MINUTES,
                (0.0, 480.0),
                "10min",
            )
            .or("0min"),
        ],
        compute: ceiling_sheet,
    },
    Sheet {
        id: "vapour-mass",
        purpose: "A concentration of vapour as mass in a volume of air",
        source: "ideal gas; hygiene tables print 24.45 L/mol at 25 C",
        inputs: &[
            Input::amount(
                "concentration",
                "share of the air",
                PPM,
                (0.0, 1_000_000.0),
                "200ppm",
            ),
            MOLAR_MASS,
            Input::amount("air", "air temperature", TEMPERATURE, (-40.0, 100.0), "25C").or("25C"),
            Input::amount(
                "pressure",
                "air pressure of the place",
                AIR_PRESSURE,
                (600.0, 1_100.0),
                "1013.25hPa",
            )
            .or("1013.25hPa"),
        ],
        compute: mass_sheet,
    },
    Sheet {
        id: "dilution-for-health",
        purpose: "The air that keeps a steady evaporation at a target concentration",
        source: "ACGIH Industrial Ventilation, dilution chapter; the formula cited from a stored excerpt, its worked examples from memory, to be confirmed",
        inputs: &[
            Input::amount(
                "evaporated",
                "liquid evaporated in a time",
                LIQUID_FLOW,
                (0.0, 100_000.0),
                "15.8mL/min",
            ),
            Input::amount(
                "gravity",
                "specific gravity of the liquid",
                NUMBER,
                (0.3, 3.0),
                "0.866",
            ),
            MOLAR_MASS,
            Input::amount(
                "target",
                "target concentration, with its source noted",
                PPM,
                (0.001, 1_000_000.0),
                "50ppm",
            ),
            MIXING,
        ],
        compute: dilution_sheet,
    },
    Sheet {
        id: "steady-vapour",
        purpose: "The concentration that a steady source of vapour leaves in a ventilated room",
        source: "mass balance with the mixing factor of ACGIH Industrial Ventilation, cited from a stored excerpt",
        inputs: &[
            Input::amount(
                "vapour",
                "vapour given off",
                AIR_FLOW,
                (0.0, 1_000.0),
                "0.01m3/h",
            ),
            Input::amount(
                "air-flow",
                "ventilation",
                AIR_FLOW,
                (0.01, 500_000.0),
                "500m3/h",
            ),
            MIXING,
        ],
        compute: steady_sheet,
    },
];

fn pairs<A: Copy, B: Copy>(name: &str, first: &[A], second: &[B]) -> Result<Vec<(A, B)>, Refusal> {
    if first.len() == second.len() {
        Ok(first.iter().copied().zip(second.iter().copied()).collect())
    } else {
        Err(Refusal::no_answer(
            name,
            format!("with {} values", second.len()),
            format!("give {}, one for each concentration", first.len()),
        ))
    }
}

fn samples(inputs: &Inputs) -> Result<Vec<(Ratio, Time)>, Refusal> {
    pairs(
        "time",
        &inputs.list::<Ratio>("concentration")?,
        &inputs.list::<Time>("time")?,
    )
}

fn molar_mass(inputs: &Inputs) -> Result<uom::si::f64::MolarMass, Refusal> {
    Ok(uom::si::f64::MolarMass::new::<gram_per_mole>(
        inputs.get("molar-mass")?,
    ))
}

fn average_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let parts = samples(inputs)?;
    let average = time_weighted_average(&parts)?;
    let sampled: Time = parts.iter().map(|(_, time)| *time).sum();
    Ok(Worksheet::new("eight-hour average", average, PPM)
        .also("time sampled", sampled, HOURS)
        .step(
            "average",
            "sum(C T) / 8 h, always divided by 8",
            average,
            PPM,
        )
        .at_most(
            "the entered eight-hour limit",
            Some(average),
            inputs.maybe("limit")?,
            PPM,
        )
        .assumes("hours without a sample count as zero")
        .assumes(LIMIT_SOURCE)
        .caution(ASK))
}

fn mixture_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let parts = pairs(
        "limit",
        &inputs.list::<Ratio>("concentration")?,
        &inputs.list::<Ratio>("limit")?,
    )?;
    let index = mixture_index(&parts)?;
    let index: f64 = index.get::<uom::si::ratio::ratio>();
    let mut sheet = Worksheet::new("exposure index", index, NUMBER);
    for (concentration, limit) in &parts {
        sheet = sheet.step("part of the index", "C / L", *concentration / *limit, SHARE);
    }
    Ok(sheet
        .step("exposure index", "sum(C / L)", index, NUMBER)
        .at_most(
            "the combined limit of the mixture",
            Some(index),
            Some(1.0),
            NUMBER,
        )
        .assumes(LIMIT_SOURCE)
        .assumes("the rule does not ask whether the substances act alike")
        .caution(ASK))
}

fn ceiling_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let parts = samples(inputs)?;
    let rule = CeilingRule {
        ceiling: inputs.get("ceiling")?,
        peak: inputs.maybe("peak")?,
        peak_time: inputs.get("peak-time")?,
    };
    let held = hold_ceiling(&parts, &rule)?;
    let highest = parts
        .iter()
        .map(|(c, _)| *c)
        .fold(Ratio::default(), Ratio::max);
    let over = if held.over() { 1.0 } else { 0.0 };
    let mut sheet = Worksheet::new("time above the ceiling", held.time_above, MINUTES)
        .also("highest sample", highest, PPM)
        .step(
            "time above the ceiling",
            "sum of T where C > ceiling",
            held.time_above,
            MINUTES,
        )
        .step(
            "over the rule (1 yes, 0 no)",
            "above the ceiling for too long, or above the peak",
            over,
            NUMBER,
        )
        .at_most(
            "time above the ceiling",
            Some(held.time_above),
            Some(rule.peak_time),
            MINUTES,
        );
    sheet = match rule.peak {
        Some(peak) => sheet.at_most("the entered peak", Some(highest), Some(peak), PPM),
        None => sheet.at_most(
            "the entered ceiling",
            Some(highest),
            Some(rule.ceiling),
            PPM,
        ),
    };
    Ok(sheet
        .assumes(LIMIT_SOURCE)
        .assumes("nothing is known between samples")
        .caution(ASK))
}

fn mass_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let x: Ratio = inputs.get("concentration")?;
    let molar = molar_mass(inputs)?;
    let mass = mass_concentration(x, molar, inputs.get("air")?, inputs.get("pressure")?)?;
    let printed = mass_concentration_conventional(x, molar)?;
    Ok(Worksheet::new("mass in a volume of air", mass, MG_M3)
        .also("with the 24.45 L/mol of hygiene tables", printed, MG_M3)
        .step("mass concentration", "x M p / (R T)", mass, MG_M3)
        .assumes("vapour only, no mist"))
}

fn dilution_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let liquid: VolumeRate = inputs.get("evaporated")?;
    let gravity = Ratio::new::<uom::si::ratio::ratio>(inputs.get("gravity")?);
    let mixing = Ratio::new::<uom::si::ratio::ratio>(inputs.get("mixing")?);
    let flow = dilution_for_health(
        liquid,
        gravity,
        molar_mass(inputs)?,
        inputs.get("target")?,
        mixing,
    )?;
    Ok(Worksheet::new("air", flow, AIR_FLOW)
        .step(
            "air",
            "403 SG 1000000 K ER / (MW C), ER in pints a minute",
            flow,
            AIR_FLOW,
        )
        .assumes(LIMIT_SOURCE)
        .assumes("K stands for how the air reaches the breather, and is a guess")
        .caution(ASK))
}

fn steady_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let mixing = Ratio::new::<uom::si::ratio::ratio>(inputs.get("mixing")?);
    let c = steady_concentration(inputs.get("vapour")?, inputs.get("air-flow")?, mixing)?;
    Ok(Worksheet::new("concentration", c, PPM)
        .step("concentration", "K G / Q", c, PPM)
        .assumes("a steady state; near the work it is higher")
        .caution(ASK))
}
