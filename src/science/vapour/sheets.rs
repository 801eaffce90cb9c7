//! The worksheets of solvent vapour and fire.

use uom::si::f64::{
    MassDensity, MolarEnergy, MolarMass, Pressure, Ratio, ThermodynamicTemperature, Time, Volume,
    VolumeRate,
};
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::molar_energy::joule_per_mole;
use uom::si::molar_mass::gram_per_mole;
use uom::si::molar_volume::cubic_decimeter_per_mole;
use uom::si::ratio::{percent, ratio};

use super::{
    Blend, LelChoice, Part, ROOM_CAUTION, blend, choose_lel, closed_room, dilution_exact,
    dilution_flow, dilution_for_fire, dilution_printed, flow_for_rate, flow_from_half_life,
    lel_at_temperature, lel_at_temperature_simple, molar_volume, percent_of_lel, purge_time,
    room_after, vapour_per_liquid,
};
use crate::science::measure::{
    AIR_FLOW, AIR_PRESSURE, AIR_VOLUME, CAN, CUP, DENSITY, HOURS, LIQUID_FLOW, MINUTES, Measure,
    NUMBER, SHARE, TEMPERATURE,
};
use crate::science::solvents::{self, SOLVENT_WORDS};
use crate::science::worksheet::{Input, Inputs, Quantity, Refusal, Sheet, Worksheet};

const RULE: &str = "29 CFR 1910.94(c)(6)(ii): at most a quarter of the lower explosive limit, from memory, to be confirmed";
const BALANCE: &str = "mass balance";
const LE_CHATELIER: &str = "ideal gas and Le Chatelier's rule (from memory, to be confirmed)";
const HANDBOOK_FIRE: &str =
    "ACGIH Industrial Ventilation, dilution chapter, from memory, to be confirmed";
const GRAM_MOLE: Measure = Measure::plain("g/mol");
const HEAT: Measure = Measure::plain("kcal/mol");
const LITRE_MOLE: Measure = Measure::plain("L/mol");
const NOT_BREATHING: &str = "this is about fire: what may be breathed is hundreds of times less; ask an industrial hygienist";
const ASK_FIRE_OFFICIAL: &str =
    "the safety data sheet, the local fire code official and a meter decide";

const SOLVENT: Input = Input::word(
    "solvent",
    "a solvent of the liquid, by its short name, or other",
    SOLVENT_WORDS,
    "toluene",
)
.list(1, 20);
const PART: Input = Input::amount(
    "part",
    "its share of the liquid by volume, in the same order; all of it when there is one",
    SHARE,
    (0.0, 100.0),
    "100%",
)
.list(1, 20)
.or_unknown();
const SHEET_LEL: Input = Input::amount(
    "sheet-lel",
    "lower explosive limit of the whole liquid, from its data sheet",
    SHARE,
    (0.3, 40.0),
    "1.4%",
)
.or_unknown();
const AIR: Input =
    Input::amount("air", "air temperature", TEMPERATURE, (-40.0, 100.0), "25C").or("25C");
const PRESSURE: Input = Input::amount(
    "pressure",
    "air pressure of the place",
    AIR_PRESSURE,
    (600.0, 1_100.0),
    "1013.25hPa",
)
.or("1013.25hPa");
const LIQUID: Input = Input::amount(
    "liquid",
    "the solvent that makes the vapour; solids do not count",
    CAN,
    (0.000_1, 1_000.0),
    "1gal",
)
.or("1gal");
const VAPOUR: Input = Input::amount(
    "vapour",
    "the vapour that this liquid makes, where a table gives it",
    AIR_VOLUME,
    (0.000_01, 1_000.0),
    "30.4ft3",
)
.or_unknown();
const VOLATILE: Input = Input::amount(
    "volatile",
    "share of it that is solvent, by volume; solids do not count",
    SHARE,
    (0.0, 100.0),
    "83%",
)
.or("100%");
const ROOM: Input = Input::amount(
    "room",
    "volume of the room",
    AIR_VOLUME,
    (0.1, 100_000.0),
    "60m3",
);
const LEL_LIMIT: Input = Input::amount(
    "limit",
    "share of the lower explosive limit not to be exceeded, with its source noted",
    SHARE,
    (0.1, 100.0),
    "25%",
)
.or_unknown();
const MIXING: Input = Input::amount(
    "mixing",
    "mixing factor K: 1 perfect, 10 poor (from memory, to be confirmed)",
    NUMBER,
    (1.0, 10.0),
    "3",
);

/// The worksheets of solvent vapour and fire.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "vapour-volume",
        purpose: "The vapour that a liquid makes",
        source: "V = rho / M R T / p, ideal gas",
        inputs: &[
            Input::amount("liquid", "the liquid", CUP, (0.1, 1_000_000.0), "1000mL").or("1000mL"),
            Input::word(
                "solvent",
                "a solvent of the table, or other",
                SOLVENT_WORDS,
                "toluene",
            ),
            Input::amount(
                "density",
                "its density, when it is not in the table",
                DENSITY,
                (0.3, 3.0),
                "0.8639kg/L",
            )
            .or_unknown(),
            Input::amount(
                "molar-mass",
                "its molar mass, when it is not in the table",
                GRAM_MOLE,
                (10.0, 500.0),
                "92.138",
            )
            .or_unknown(),
            AIR,
            PRESSURE,
        ],
        compute: volume_sheet,
    },
    Sheet {
        id: "lel",
        purpose: "The lower explosive limit of a solvent or a blend, and every known value",
        source: LE_CHATELIER,
        inputs: &[SOLVENT, PART, SHEET_LEL, AIR, PRESSURE],
        compute: lel_sheet,
    },
    Sheet {
        id: "lel-at-temperature",
        purpose: "A lower explosive limit at another temperature",
        source: "Burgess and Wheeler, from memory, to be confirmed",
        inputs: &[
            Input::amount("lel", "the limit at 25 C", SHARE, (0.3, 40.0), "1.1%"),
            Input::amount("air", "temperature", TEMPERATURE, (0.0, 100.0), "60C"),
            Input::amount(
                "heat",
                "net heat of combustion",
                HEAT,
                (100.0, 10_000.0),
                "901.5",
            )
            .or_unknown(),
        ],
        compute: hot_sheet,
    },
    Sheet {
        id: "lel-dilution",
        purpose: "The air that dilutes a solvent's vapour to a share of its lower explosive limit",
        source: RULE,
        inputs: &[
            SOLVENT,
            PART,
            SHEET_LEL,
            LIQUID,
            VAPOUR,
            Input::amount(
                "target",
                "share of the lower explosive limit",
                SHARE,
                (0.1, 100.0),
                "25%",
            )
            .or("25%"),
            Input::amount(
                "rate",
                "solvent used in a time",
                LIQUID_FLOW,
                (0.0, 100_000.0),
                "1gal/h",
            )
            .or_unknown(),
            AIR,
            PRESSURE,
        ],
        compute: dilution_sheet,
    },
    Sheet {
        id: "exhaust-lel",
        purpose: "The share of the lower explosive limit in the exhaust at a spray rate",
        source: BALANCE,
        inputs: &[
            Input::amount(
                "sprayed",
                "coating or solvent sprayed in a time",
                LIQUID_FLOW,
                (0.0, 100_000.0),
                "200mL/min",
            ),
            VOLATILE,
            Input::amount(
                "exhaust",
                "exhaust air",
                AIR_FLOW,
                (1.0, 500_000.0),
                "9000m3/h",
            ),
            SOLVENT,
            PART,
            SHEET_LEL,
            LIQUID,
            VAPOUR,
            LEL_LIMIT,
            AIR,
            PRESSURE,
        ],
        compute: exhaust_sheet,
    },
    Sheet {
        id: "room-vapour",
        purpose: "The vapour that fresh work leaves in a room, and what is left of it later",
        source: "mass balance of a mixed room, cited from stored excerpts",
        inputs: &[
            Input::amount(
                "sprayed",
                "coating of the last coats",
                CUP,
                (0.0, 1_000_000.0),
                "1150mL",
            ),
            VOLATILE,
            ROOM,
            SOLVENT,
            PART,
            SHEET_LEL,
            LIQUID,
            VAPOUR,
            Input::amount(
                "release",
                "time over which it is given off evenly; at once when left out",
                HOURS,
                (0.01, 1_000.0),
                "4h",
            )
            .or_unknown(),
            Input::amount(
                "air-flow",
                "ventilation; none when left out",
                AIR_FLOW,
                (0.0, 500_000.0),
                "0m3/h",
            )
            .or("0m3/h"),
            Input::amount(
                "time",
                "time after which to look again",
                HOURS,
                (0.0, 8_000.0),
                "0h",
            )
            .or("0h"),
            LEL_LIMIT,
            AIR,
            PRESSURE,
        ],
        compute: room_sheet,
    },
    Sheet {
        id: "vapour-decay",
        purpose: "The time in which ventilation brings a vapour down, with nothing giving it off",
        source: "t = K (V / Q) ln(C0 / C), cited from stored excerpts",
        inputs: &[
            ROOM,
            Input::amount(
                "air-flow",
                "ventilation",
                AIR_FLOW,
                (0.01, 500_000.0),
                "1200m3/h",
            ),
            Input::amount(
                "start",
                "vapour at the start",
                SHARE,
                (0.000_001, 100.0),
                "1%",
            ),
            Input::amount(
                "end",
                "vapour at the end",
                SHARE,
                (0.000_001, 100.0),
                "0.1%",
            ),
            MIXING,
        ],
        compute: decay_sheet,
    },
    Sheet {
        id: "half-life-flow",
        purpose: "The ventilation of a room in which a tracer halves in a known time",
        source: "Q = V ln 2 / t, cited from a stored excerpt",
        inputs: &[
            ROOM,
            Input::amount(
                "half-life",
                "time in which it halves",
                HOURS,
                (0.001, 1_000.0),
                "1.4h",
            ),
        ],
        compute: half_life_sheet,
    },
    Sheet {
        id: "dilution-for-fire",
        purpose: "The air for a steady evaporation in the ventilation handbook's fire form",
        source: HANDBOOK_FIRE,
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
                "0.88",
            ),
            Input::amount("molar-mass", "molar mass", GRAM_MOLE, (10.0, 500.0), "106"),
            Input::amount(
                "sheet-lel",
                "lower explosive limit",
                SHARE,
                (0.3, 40.0),
                "1%",
            ),
            Input::amount(
                "divisor",
                "4 for a quarter of the limit, 10 for a tenth",
                NUMBER,
                (1.0, 100.0),
                "4",
            )
            .or("4"),
            Input::word("hot", "above 250 F", &["yes", "no"], "no").or("no"),
        ],
        compute: fire_form_sheet,
    },
];

// What a liquid gives, with the words about where its limit comes from.
struct Source {
    per_liquid: Ratio,
    lel: Ratio,
    notes: Vec<String>,
}

fn of_ratio(value: f64) -> Ratio {
    Ratio::new::<ratio>(value)
}

fn known_words(name: &str, choice: &LelChoice) -> String {
    let known: Vec<String> = choice
        .known
        .iter()
        .map(|limit| format!("{} % {}", limit.percent, limit.source))
        .collect();
    format!(
        "{name}: lower explosive limit {} % used, {}; known: {}",
        (choice.used.get::<percent>() * 1.0e9).round() / 1.0e9,
        choice.from,
        if known.is_empty() {
            "no other".to_owned()
        } else {
            known.join("; ")
        }
    )
}

// The parts of the liquid as `blend` takes them, with the words about each limit.
fn parts(inputs: &Inputs) -> Result<(Vec<Part>, Vec<String>), Refusal> {
    let keys = inputs.words("solvent")?;
    let mut shares: Vec<Ratio> = inputs.list("part")?;
    if keys == ["other"] {
        return Ok((Vec::new(), Vec::new()));
    }
    if keys.len() == 1 && shares.is_empty() {
        shares.push(Ratio::new::<percent>(100.0));
    }
    if keys.len() != shares.len() {
        return Err(Refusal::no_answer(
            "part",
            format!("with {} values", shares.len()),
            format!("give {}, one for each solvent", keys.len()),
        ));
    }
    let mut parts = Vec::with_capacity(keys.len());
    let mut notes = Vec::new();
    for (key, share) in keys.iter().zip(shares) {
        let solvent = solvents::find(key)
            .ok_or_else(|| Refusal::no_answer("solvent", *key, "other stands alone, with sheet-lel and vapour; in a blend name solvents of the table"))?;
        let choice = choose_lel(None, Some(solvent))?
            .ok_or_else(|| Refusal::no_answer("solvent", *key, "one with a known limit"))?;
        notes.push(known_words(solvent.name, &choice));
        if !solvent.from_memory.is_empty() {
            notes.push(format!(
                "{}: {} from memory, to be confirmed",
                solvent.name, solvent.from_memory
            ));
        }
        parts.push(Part {
            share,
            density: MassDensity::new::<kilogram_per_cubic_meter>(solvent.density_25_kg_m3),
            molar_mass: MolarMass::new::<gram_per_mole>(solvent.molar_mass_g),
            lel: choice.used,
        });
    }
    Ok((parts, notes))
}

fn air_of(inputs: &Inputs) -> Result<(ThermodynamicTemperature, Pressure), Refusal> {
    Ok((inputs.get("air")?, inputs.get("pressure")?))
}

fn mixed(inputs: &Inputs) -> Result<Option<(Blend, Vec<String>)>, Refusal> {
    let (parts, notes) = parts(inputs)?;
    if parts.is_empty() {
        return Ok(None);
    }
    let (air, pressure) = air_of(inputs)?;
    Ok(Some((blend(&parts, air, pressure)?, notes)))
}

// The liquid's vapour and limit: the data sheet's where they are entered, else from the solvent table.
fn liquid(inputs: &Inputs) -> Result<Source, Refusal> {
    let from_table = mixed(inputs)?;
    let mut notes = from_table
        .as_ref()
        .map(|(_, n)| n.clone())
        .unwrap_or_default();
    let entered: Option<Ratio> = inputs.maybe("sheet-lel")?;
    let lel = match (entered, &from_table) {
        (Some(sheet), _) => {
            notes.push("the data sheet's lower explosive limit is used, as entered".to_owned());
            sheet
        }
        (None, Some((blend, _))) => blend.lel,
        (None, None) => {
            return Err(Refusal::no_answer(
                "sheet-lel",
                "left out",
                "give sheet-lel from the data sheet, or solvent=... of the table",
            ));
        }
    };
    let per_liquid = match (inputs.maybe::<Volume>("vapour")?, &from_table) {
        (Some(vapour), _) => vapour / inputs.get::<Volume>("liquid")?,
        (None, Some((blend, _))) => {
            notes.push("vapour from the density at 25 C, as an ideal gas".to_owned());
            blend.per_liquid
        }
        (None, None) => {
            return Err(Refusal::no_answer(
                "vapour",
                "left out",
                "give vapour=... for the liquid, or solvent=... of the table",
            ));
        }
    };
    Ok(Source {
        per_liquid,
        lel,
        notes,
    })
}

fn with_notes(mut sheet: Worksheet, notes: Vec<String>) -> Worksheet {
    for note in notes {
        sheet = sheet.assumes(note);
    }
    sheet.caution(ASK_FIRE_OFFICIAL)
}

fn volume_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (air, pressure) = air_of(inputs)?;
    let liquid: Volume = inputs.get("liquid")?;
    let table = solvents::find(inputs.word("solvent")?);
    let entered: Option<f64> = inputs.maybe("molar-mass")?;
    let density: Option<MassDensity> = inputs.maybe("density")?;
    let density = density
        .or_else(|| table.map(|s| MassDensity::new::<kilogram_per_cubic_meter>(s.density_25_kg_m3)))
        .ok_or_else(|| {
            Refusal::no_answer(
                "density",
                "left out",
                "give density=..., or solvent=... of the table",
            )
        })?;
    let molar = entered.or(table.map(|s| s.molar_mass_g)).ok_or_else(|| {
        Refusal::no_answer(
            "molar-mass",
            "left out",
            "give molar-mass=..., or solvent=... of the table",
        )
    })?;
    let per_liquid = vapour_per_liquid(
        density,
        MolarMass::new::<gram_per_mole>(molar),
        air,
        pressure,
    )?;
    let vapour = liquid * per_liquid;
    let mut sheet = Worksheet::new("vapour", vapour, AIR_VOLUME)
        .step(
            "molar volume",
            "R T / p",
            molar_volume(air, pressure)?.get::<cubic_decimeter_per_mole>(),
            LITRE_MOLE,
        )
        .step(
            "vapour for a volume of liquid",
            "rho / M R T / p",
            per_liquid.get::<ratio>(),
            NUMBER,
        )
        .step("vapour", "liquid times that", vapour, AIR_VOLUME)
        .assumes("an ideal gas, 1 to 2 % off near the boiling point");
    if let Some(solvent) = table {
        let whose = if solvent.from_memory.is_empty() {
            String::new()
        } else {
            format!(" ({} from memory, to be confirmed)", solvent.from_memory)
        };
        sheet = sheet.assumes(format!(
            "{}: density at 25 C and molar mass of the table{whose}",
            solvent.name
        ));
        if let Some(row) = solvents::g11(solvent.cas) {
            sheet = sheet.assumes(format!(
                "Table G-11 gives {} ft3 for a gallon at 70 F (from memory, to be confirmed)",
                row.vapour_ft3_gal
            ));
        }
    }
    Ok(sheet)
}

fn lel_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let entered: Option<Ratio> = inputs.maybe("sheet-lel")?;
    let mix = mixed(inputs)?;
    let used = match (entered, &mix) {
        (Some(sheet), _) => sheet,
        (None, Some((blend, _))) => blend.lel,
        (None, None) => {
            return Err(Refusal::no_answer(
                "solvent",
                "other",
                "give a solvent of the table, or sheet-lel from the data sheet",
            ));
        }
    };
    let mut sheet = Worksheet::new("lower explosive limit", used, SHARE);
    let mut notes = Vec::new();
    if let Some((blend, words)) = mix {
        sheet = sheet
            .also(
                "by Le Chatelier's rule from the lowest known limits",
                blend.lel,
                SHARE,
            )
            .also(
                "vapour of a litre of the liquid",
                Volume::of_base(0.001) * blend.per_liquid,
                AIR_VOLUME,
            );
        for (key, share) in inputs.words("solvent")?.iter().zip(&blend.vapour_shares) {
            sheet = sheet.step(
                key,
                "y = (v rho / M) / sum(v rho / M), its share of the vapour",
                *share,
                SHARE,
            );
        }
        sheet = sheet.step("limit", "1 / sum(y / L)", blend.lel, SHARE);
        notes = words;
    }
    if entered.is_some() {
        notes.push("the data sheet's figure is used, as entered".to_owned());
    }
    Ok(with_notes(
        sheet.assumes("the whole liquid evaporates; at first the fast solvents lead"),
        notes,
    ))
}

fn hot_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let lel: Ratio = inputs.get("lel")?;
    let air: ThermodynamicTemperature = inputs.get("air")?;
    let simple = lel_at_temperature_simple(lel, air)?;
    let sheet = match inputs.maybe::<f64>("heat")? {
        Some(heat) => {
            let heat = MolarEnergy::new::<joule_per_mole>(heat * super::KILOCALORIE);
            let full = lel_at_temperature(lel, heat, air)?;
            Worksheet::new("lower explosive limit at the temperature", full, SHARE)
                .also("by the simple form", simple, SHARE)
                .step("limit", "L25 - (0.75 / Hc) (T - 25)", full, SHARE)
        }
        None => Worksheet::new("lower explosive limit at the temperature", simple, SHARE).step(
            "limit",
            "L25 (1 - 0.000721 (T - 25))",
            simple,
            SHARE,
        ),
    };
    Ok(sheet.caution(ASK_FIRE_OFFICIAL))
}

fn dilution_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let found = liquid(inputs)?;
    let pot: Volume = inputs.get("liquid")?;
    let target: Ratio = inputs.get("target")?;
    let vapour = pot * found.per_liquid;
    let exact = dilution_exact(vapour, found.lel, target)?;
    let quarter = (target.get::<percent>() - 25.0).abs() < 1.0e-9;
    let mut sheet = if quarter {
        let printed = dilution_printed(vapour, found.lel)?;
        Worksheet::new("air, in the form of the rule", printed, AIR_VOLUME)
            .also("air, by exact mass balance", exact, AIR_VOLUME)
            .step(
                "air, in the form of the rule",
                "4 (100 - LEL) V / LEL",
                printed,
                AIR_VOLUME,
            )
    } else {
        Worksheet::new("air, by exact mass balance", exact, AIR_VOLUME).step(
            "air, by exact mass balance",
            "V (100 - f LEL) / (f LEL)",
            exact,
            AIR_VOLUME,
        )
    };
    sheet = sheet
        .also("lower explosive limit used", found.lel, SHARE)
        .also("vapour", vapour, AIR_VOLUME)
        .also("solvent that makes it", pot, CAN);
    if let Some(rate) = inputs.maybe::<VolumeRate>("rate")? {
        let air = Volume::of_base(sheet.result.base);
        let flow = flow_for_rate(air, pot, rate)?;
        sheet = sheet
            .also("air flow at the rate", flow, AIR_FLOW)
            .also(
                "air flow at the rate, by exact mass balance",
                dilution_flow(rate, found.per_liquid, found.lel, target)?,
                AIR_FLOW,
            )
            .step("air flow", "air / solvent times the rate", flow, AIR_FLOW);
    }
    if !quarter {
        sheet = sheet.source(
            "California Title 8, 5153(d) asks for less than 20 %, cited from a stored excerpt",
        );
    }
    Ok(with_notes(
        sheet
            .assumes("the air is for this amount of solvent, not of coating; perfectly mixed")
            .caution(NOT_BREATHING),
        found.notes,
    ))
}

fn exhaust_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let found = liquid(inputs)?;
    let sprayed: VolumeRate = inputs.get("sprayed")?;
    let solvent = sprayed * inputs.get::<Ratio>("volatile")?;
    let share = percent_of_lel(solvent, found.per_liquid, inputs.get("exhaust")?, found.lel)?;
    Ok(with_notes(
        Worksheet::new("share of the lower explosive limit in the exhaust", share, SHARE)
            .also("lower explosive limit used", found.lel, SHARE)
            .also("solvent sprayed", solvent, LIQUID_FLOW)
            .step("solvent", "sprayed times its solvent share", solvent, LIQUID_FLOW)
            .step("vapour", "solvent times vapour for a volume of it", solvent * found.per_liquid, AIR_FLOW)
            .step("share of the limit", "G r / Q / LEL", share, SHARE)
            .at_most("share of the lower explosive limit", Some(share), inputs.maybe("limit")?, SHARE)
            .source("29 CFR 1910.94(c)(6)(ii) has 25 % (from memory, to be confirmed), California Title 8, 5153(d) below 20 % (cited from a stored excerpt)")
            .assumes("all solvent sprayed leaves with the exhaust at once")
            .caution(ROOM_CAUTION)
            .caution(NOT_BREATHING),
        found.notes,
    ))
}

fn room_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let found = liquid(inputs)?;
    let sprayed: Volume = inputs.get("sprayed")?;
    let solvent = sprayed * inputs.get::<Ratio>("volatile")?;
    let vapour = solvent * found.per_liquid;
    let room: Volume = inputs.get("room")?;
    let flow: VolumeRate = inputs.get("air-flow")?;
    let later: Time = inputs.get("time")?;
    let none = Ratio::default();
    let still = VolumeRate::default();
    let release: Option<Time> = inputs.maybe("release")?;
    let (highest, after) = match release {
        None => {
            let start = closed_room(vapour, room)?;
            (start, room_after(start, still, flow, room, later)?)
        }
        Some(release) => {
            let source: VolumeRate = vapour / release;
            let top = room_after(none, source, flow, room, release)?;
            let after = if later <= release {
                room_after(none, source, flow, room, later)?
            } else {
                room_after(top, still, flow, room, later - release)?
            };
            (top, after)
        }
    };
    let of_lel = |share: Ratio| of_ratio(share.get::<ratio>() / found.lel.get::<ratio>());
    let mut sheet = Worksheet::new(
        "highest share of the lower explosive limit",
        of_lel(highest),
        SHARE,
    )
    .also(
        "share of the lower explosive limit after the time",
        of_lel(after),
        SHARE,
    )
    .also("vapour in the air at its highest", highest, SHARE)
    .also("lower explosive limit used", found.lel, SHARE)
    .step("solvent", "sprayed times its solvent share", solvent, CUP)
    .step(
        "vapour",
        "solvent times vapour for a volume of it",
        vapour,
        AIR_VOLUME,
    )
    .step(
        "highest",
        if release.is_some() {
            "(G / Q) (1 - exp(-Q t / V)) at the end of the release"
        } else {
            "vapour / room, all at once"
        },
        highest,
        SHARE,
    )
    .step("later", "C0 exp(-Q t / V)", after, SHARE)
    .at_most(
        "share of the lower explosive limit",
        Some(of_lel(highest)),
        inputs.maybe("limit")?,
        SHARE,
    )
    .caution(ROOM_CAUTION)
    .caution(NOT_BREATHING);
    if release.is_none() {
        sheet = sheet
            .assumes("all solvent of the last coats is given off at once; nobody entered a rate");
    }
    Ok(with_notes(sheet, found.notes))
}

fn decay_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let room: Volume = inputs.get("room")?;
    let flow: VolumeRate = inputs.get("air-flow")?;
    let mixing = of_ratio(inputs.get("mixing")?);
    let time = purge_time(room, flow, inputs.get("start")?, inputs.get("end")?, mixing)?;
    let changes: Ratio = time * flow / room;
    Ok(Worksheet::new("time", time, MINUTES)
        .also("air changes", changes.get::<ratio>(), NUMBER)
        .step("time", "K (V / Q) ln(C0 / C)", time, MINUTES)
        .assumes("no fresh work gives off vapour meanwhile")
        .assumes("K stands for poor mixing; a multiplier below 1 on the air flow is its inverse")
        .caution(ROOM_CAUTION))
}

fn half_life_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let flow = flow_from_half_life(inputs.get("room")?, inputs.get("half-life")?)?;
    Ok(Worksheet::new("ventilation", flow, AIR_FLOW)
        .step("ventilation", "V ln 2 / t", flow, AIR_FLOW)
        .assumes("a mixed room and nothing but ventilation takes the tracer away"))
}

fn fire_form_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let flow = dilution_for_fire(
        inputs.get("evaporated")?,
        of_ratio(inputs.get("gravity")?),
        MolarMass::new::<gram_per_mole>(inputs.get("molar-mass")?),
        inputs.get("sheet-lel")?,
        of_ratio(inputs.get("divisor")?),
        inputs.word("hot")? == "yes",
    )?;
    Ok(Worksheet::new("air", flow, AIR_FLOW)
        .step(
            "air",
            "403 SG 100 ER Sf / (MW LEL B), ER in pints a minute",
            flow,
            AIR_FLOW,
        )
        .assumes("B = 1 up to 250 F and 0.7 above")
        .caution(NOT_BREATHING)
        .caution(ASK_FIRE_OFFICIAL))
}
