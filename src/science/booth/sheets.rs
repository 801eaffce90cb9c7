//! The worksheets of booth air.

use uom::si::f64::{Area, Length, Pressure, Time, Velocity, Volume, VolumeRate};

use super::{
    BoothSize, Residue, Spraying, common_exhaust, density_factor, dry_booth_velocity, duct_flow,
    duct_traverse, face_flow, face_survey, filter_mark, fire_code_purge, handbook_flow, hold_g10,
    hold_gauge, hold_survey, make_up, residues_meet, stricter_velocity,
};
use crate::science::measure::{
    AIR_FLOW, AIR_PRESSURE, AIR_VOLUME, AREA, HOURS, MINUTES, NUMBER, PRESSURE, ROOM_SIZE, SHARE,
    SPEED, TEMPERATURE,
};
use crate::science::statistics::straight_line;
use crate::science::validity::Against;
use crate::science::worksheet::{Input, Inputs, Quantity, Refusal, Sheet, Worksheet};
use crate::units::num;

const FIRE_RULE: &str =
    "29 CFR 1910.107(b)(5)(i), cited from a stored excerpt of an identical state rule";
const G10: &str =
    "29 CFR 1910.94(c)(6)(i), Table G-10, cited from a stored excerpt of an identical state rule";
const NOT_EXPOSURE: &str = "face velocity is about fire and says nothing about what a person breathes; ask an industrial hygienist (US labour inspectorate's clarification, cited from a stored excerpt)";
const ASK_FIRE_OFFICIAL: &str = "the local fire code official and the booth's papers decide";
const YES_NO: &[&str] = &["yes", "no"];

const EXHAUST: Input = Input::amount(
    "exhaust",
    "exhaust air",
    AIR_FLOW,
    (1.0, 500_000.0),
    "9000m3/h",
);

/// The figure of a filter trend that says when the mark may be reached at the earliest.
pub const EARLIEST: &str = "earliest";

/// The figure of a filter trend that says when the mark may be reached at the latest.
pub const LATEST: &str = "latest";

/// The worksheets of booth air.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "face-survey",
        purpose: "Average, lowest and evenness of a grid of air readings over the booth's face",
        source: "arithmetic of the readings; a grid of nine points and more is common practice",
        inputs: &[
            Input::amount(
                "reading",
                "air speed at a point of the grid",
                SPEED,
                (0.0, 10.0),
                "[104fpm,98fpm,101fpm]",
            )
            .list(1, 1_000),
            Input::count("wanted", "points of the grid", (1, 1_000), "9").or("9"),
            Input::amount("limit", "the site's limit", SPEED, (0.0, 10.0), "100fpm").or_unknown(),
            Input::word(
                "basis",
                "what the limit is held against",
                &["average", "lowest"],
                "average",
            )
            .or("average"),
        ],
        compute: survey_sheet,
    },
    Sheet {
        id: "booth-flow",
        purpose: "The exhaust that a face velocity over an opening needs",
        source: "Q = A v, by definition",
        inputs: &[
            Input::amount(
                "width",
                "width of the opening",
                ROOM_SIZE,
                (0.3, 30.0),
                "3m",
            ),
            Input::amount(
                "height",
                "height of the opening",
                ROOM_SIZE,
                (0.3, 30.0),
                "2.4m",
            ),
            Input::amount(
                "velocity",
                "average velocity wanted",
                SPEED,
                (0.01, 10.0),
                "100fpm",
            ),
        ],
        compute: flow_sheet,
    },
    Sheet {
        id: "booth-velocity-rules",
        purpose: "A face velocity held against the two US rules, and the stricter of them",
        source: G10,
        inputs: &[
            Input::amount(
                "velocity",
                "average face velocity",
                SPEED,
                (0.0, 10.0),
                "80fpm",
            ),
            Input::amount(
                "crossdraft",
                "crossdraft, measured with the fan off",
                SPEED,
                (0.0, 10.0),
                "40fpm",
            ),
            Input::word(
                "size",
                "large or small; the table does not define them",
                &["large", "small"],
                "large",
            ),
            Input::word(
                "spraying",
                "air guns, or electrostatic or automatic airless with nobody in the booth",
                &["air-guns", "unmanned"],
                "air-guns",
            )
            .or("air-guns"),
            Input::word("dry-filters", "a booth with dry filters", YES_NO, "yes").or("yes"),
            Input::word("electrostatic", "spraying is electrostatic", YES_NO, "no").or("no"),
        ],
        compute: rules_sheet,
    },
    Sheet {
        id: "duct-velocity",
        purpose: "Air velocity in a duct from velocity pressures, corrected for the air's density",
        source: "V = 4005 sqrt(VP / df), cited from a stored excerpt; the density correction from memory, to be confirmed",
        inputs: &[
            Input::amount(
                "pressure",
                "velocity pressure at a point",
                PRESSURE,
                (0.0, 2_500.0),
                "62Pa",
            )
            .list(1, 200),
            Input::amount(
                "air",
                "air temperature in the duct",
                TEMPERATURE,
                (-40.0, 200.0),
                "21C",
            )
            .or("21C"),
            Input::amount(
                "barometer",
                "air pressure of the place",
                AIR_PRESSURE,
                (600.0, 1_100.0),
                "1013.25hPa",
            )
            .or("1013.25hPa"),
            Input::amount(
                "area",
                "cross-section of the duct",
                AREA,
                (0.001, 10.0),
                "0.2m2",
            )
            .or_unknown(),
        ],
        compute: duct_sheet,
    },
    Sheet {
        id: "filter-gauge",
        purpose: "The mark at which filters are changed, counted from the clean reading, and a reading held against it",
        source: "shop practice; 29 CFR 1910.107(b)(5) asks for a gauge or alarm, cited from a stored excerpt",
        inputs: &[
            Input::amount(
                "clean",
                "reading just after the last filter change",
                PRESSURE,
                (0.0, 1_000.0),
                "25Pa",
            ),
            Input::amount(
                "rise",
                "rise at which filters are changed",
                PRESSURE,
                (1.0, 1_000.0),
                "100Pa",
            ),
            Input::amount("reading", "reading now", PRESSURE, (0.0, 2_500.0), "110Pa").or_unknown(),
            Input::amount(
                "fan-off",
                "reading with the fan off",
                PRESSURE,
                (-100.0, 2_500.0),
                "0Pa",
            )
            .or_unknown(),
        ],
        compute: gauge_sheet,
    },
    Sheet {
        id: "filter-trend",
        purpose: "When a filter gauge comes to its mark, by a straight line through the readings since the clean one",
        source: "least squares and inverse regression, Draper and Smith, Applied Regression Analysis (from memory, to be confirmed)",
        inputs: &[
            Input::amount(
                "reading",
                "readings since the filter change, the clean one first; three at least",
                PRESSURE,
                (0.0, 2_500.0),
                "[25Pa,40Pa,56Pa,69Pa]",
            )
            .list(3, 400),
            Input::amount(
                "time",
                "time of each since the clean reading, in the same order",
                HOURS,
                (0.0, 100_000.0),
                "[0h,168h,336h,504h]",
            )
            .list(3, 400),
            Input::amount(
                "mark",
                "the reading at which filters are changed",
                PRESSURE,
                (0.0, 2_500.0),
                "125Pa",
            ),
            Input::amount(
                "division",
                "finest division of the gauge",
                PRESSURE,
                (0.0, 500.0),
                "5Pa",
            )
            .or("5Pa"),
        ],
        compute: trend_sheet,
    },
    Sheet {
        id: "make-up-air",
        purpose: "How much of the exhausted air the supply gives back",
        source: "29 CFR 1910.94(c)(7)(i), cited from a stored excerpt",
        inputs: &[
            Input::amount(
                "supply",
                "make-up air",
                AIR_FLOW,
                (0.0, 500_000.0),
                "8500m3/h",
            ),
            EXHAUST,
        ],
        compute: make_up_sheet,
    },
    Sheet {
        id: "booth-purge",
        purpose: "The purge before drying apparatus: four air changes or three minutes, whichever is longer",
        source: "model fire code chapter 24, cited from a stored excerpt",
        inputs: &[
            Input::amount(
                "volume",
                "volume of the booth",
                AIR_VOLUME,
                (0.1, 10_000.0),
                "11.1m3",
            ),
            EXHAUST,
        ],
        compute: purge_sheet,
    },
    Sheet {
        id: "booth-residues",
        purpose: "Whether what is to be sprayed meets a residue with which it may heat itself",
        source: "29 CFR 1910.107(g)(6), cited from a stored excerpt of an identical state rule",
        inputs: &[
            Input::word("last", "what was sprayed last", RESIDUES, "drying-oil"),
            Input::word("next", "what is to be sprayed", RESIDUES, "nitrocellulose"),
            Input::word(
                "cleaned",
                "booth, filters and ducts were cleaned in between",
                YES_NO,
                "no",
            ),
        ],
        compute: residues_sheet,
    },
    Sheet {
        id: "common-exhaust",
        purpose: "Several booths on one exhaust held against the rules for it",
        source: "29 CFR 1910.107(d), cited from a stored excerpt of an identical state rule",
        inputs: &[
            Input::amount(
                "open",
                "open area of a booth",
                AREA,
                (0.01, 100.0),
                "[0.8m2,0.8m2]",
            )
            .list(1, 20),
            Input::word(
                "same-material",
                "all booths spray the same material",
                YES_NO,
                "yes",
            ),
            Input::word(
                "nitrocellulose",
                "nitrocellulose is sprayed in any of them",
                YES_NO,
                "yes",
            ),
        ],
        compute: common_sheet,
    },
];

fn trend_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let readings: Vec<Pressure> = inputs.list("reading")?;
    let times: Vec<Time> = inputs.list("time")?;
    if readings.len() != times.len() {
        return Err(Refusal::no_answer(
            "time",
            format!("{} values", times.len()),
            format!("one for each reading, {}", readings.len()),
        ));
    }
    let points: Vec<(f64, f64)> = times
        .iter()
        .zip(&readings)
        .map(|(t, p)| (t.to_base(), p.to_base()))
        .collect();
    let line = straight_line(&points).ok_or_else(|| {
        Refusal::no_answer("time", "", "three readings or more, not all of one moment")
    })?;
    let mark: Pressure = inputs.get("mark")?;
    let division: Pressure = inputs.get("division")?;
    let least = division.to_base() / 12.0_f64.sqrt();
    let reach = line
        .reach(mark.to_base(), least)
        .ok_or_else(|| Refusal::no_answer("reading", "", "readings that rise with time"))?;
    let time = Time::of_base(reach.at);
    let day = Pressure::of_base(line.slope * 86_400.0);
    let mut sheet = Worksheet::new("time from the clean reading to the mark", time, HOURS)
        .also("rise in a day", day, PRESSURE)
        .also("scatter about the line", Pressure::of_base(line.scatter), PRESSURE)
        .step("rise in a day", "b = sum((t - T)(p - P)) / sum((t - T)^2)", day, PRESSURE)
        .step("time to the mark", "(mark - a) / b", time, HOURS)
        .assumes("the gauge goes on to rise as it did; a wet week or another material bends the line")
        .assumes("the scatter is at least that of reading to the division, division / sqrt(12)")
        .caution("air that looks lazy goes before the gauge (common practice, no source); ask the safety lead");
    sheet = match reach.range {
        Some((early, late)) => sheet
            .also(EARLIEST, Time::of_base(early), HOURS)
            .also(LATEST, Time::of_base(late), HOURS)
            .assumes("the range is that of one more reading, 95 %"),
        None => sheet.assumes("the readings scatter too much to give a range"),
    };
    Ok(sheet)
}

const RESIDUES: &[&str] = &["nitrocellulose", "drying-oil", "other"];

fn yes(inputs: &Inputs, name: &str) -> Result<bool, Refusal> {
    Ok(inputs.word(name)? == "yes")
}

// 1 for yes, 0 for no: a finding as a figure of a worksheet.
fn flag(value: bool) -> f64 {
    if value { 1.0 } else { 0.0 }
}

fn survey_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let readings: Vec<Velocity> = inputs.list("reading")?;
    let survey = face_survey(&readings, inputs.count("wanted")?)?;
    let limit: Option<Velocity> = inputs.maybe("limit")?;
    let held = hold_survey(&survey, inputs.word("basis")? == "lowest", limit);
    let mut sheet = Worksheet::new("average", survey.average, SPEED)
        .also("lowest", survey.lowest, SPEED)
        .also("highest", survey.highest, SPEED)
        .also("lowest divided by average", survey.uniformity, SHARE)
        .also("readings", num::count(survey.readings), NUMBER)
        .also("points of the grid", num::count(survey.wanted), NUMBER)
        .step(
            "average",
            "sum of readings / their number",
            survey.average,
            SPEED,
        )
        .assumes("every reading is of air going into the booth; an eddy reads as flow")
        .caution(NOT_EXPOSURE);
    sheet.held_against.push(held);
    Ok(if survey.complete() {
        sheet
    } else {
        sheet.caution(
            "incomplete: the grid asks for more readings, so no figure of it is held against the limit",
        )
    })
}

fn flow_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (width, height): (Length, Length) = (inputs.get("width")?, inputs.get("height")?);
    let area: Area = width * height;
    let velocity: Velocity = inputs.get("velocity")?;
    let flow = face_flow(area, velocity)?;
    Ok(Worksheet::new("exhaust", flow, AIR_FLOW)
        .also(
            "by the ventilation handbook's design figure",
            handbook_flow(width, height)?,
            AIR_FLOW,
        )
        .step("open area", "width height", area, AREA)
        .step("exhaust", "A v", flow, AIR_FLOW)
        .source("ACGIH Industrial Ventilation 1998: 100 cfm for a square foot, 50 above 150 ft2, cited from a stored excerpt")
        .assumes("no air comes in anywhere else")
        .caution(NOT_EXPOSURE))
}

fn rules_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let velocity: Velocity = inputs.get("velocity")?;
    let crossdraft: Velocity = inputs.get("crossdraft")?;
    let spraying = match inputs.word("spraying")? {
        "unmanned" => Spraying::ElectrostaticUnmanned,
        _ => Spraying::AirGuns,
    };
    let size = match inputs.word("size")? {
        "small" => BoothSize::Small,
        _ => BoothSize::Large,
    };
    let (dry, electrostatic) = (yes(inputs, "dry-filters")?, yes(inputs, "electrostatic")?);
    let held = hold_g10(velocity, spraying, size, crossdraft)?;
    let stricter = stricter_velocity(held.row, dry, electrostatic).ok_or_else(|| {
        Refusal::no_answer(
            "crossdraft",
            "above 100 fpm",
            "the table has no row and without dry filters the other rule has no figure; lower the crossdraft",
        )
    })?;
    let mut sheet = Worksheet::new("the stricter of the two rules", stricter, SPEED)
        .source(FIRE_RULE)
        .caution(NOT_EXPOSURE)
        .caution(ASK_FIRE_OFFICIAL);
    if let Some(row) = held.row {
        let (low, design) = (super::fpm(row.low_fpm), super::fpm(row.design_fpm));
        sheet = sheet
            .also("Table G-10, lowest of the range", low, SPEED)
            .also("Table G-10, design", design, SPEED)
            .also(
                "Table G-10, highest of the range",
                super::fpm(row.high_fpm),
                SPEED,
            )
            .step(
                "row of Table G-10",
                "by spraying, size and crossdraft",
                low,
                SPEED,
            )
            .at_least(
                "Table G-10, lowest of the range",
                Some(velocity),
                Some(low),
                SPEED,
            );
        if held.design == Some(Against::Under) {
            sheet =
                sheet.assumes("below the table's design figure, which is advice for a new booth");
        }
        if held.high == Some(Against::Over) {
            sheet = sheet.assumes("above the table's range: look for turbulence and overspray");
        }
        if spraying == Spraying::ElectrostaticUnmanned {
            sheet = sheet.assumes("the crossdraft is negligible; the table does not define that");
        }
    }
    if dry {
        let fire = dry_booth_velocity(electrostatic);
        sheet = sheet
            .also("the fire rule for dry-filter booths", fire, SPEED)
            .step("fire rule", "100 fpm, electrostatic 60 fpm", fire, SPEED)
            .at_least(
                "the fire rule for dry-filter booths",
                Some(velocity),
                Some(fire),
                SPEED,
            );
        if electrostatic {
            sheet = sheet.assumes("60 fpm is the least; volume and flammability can ask for more");
        }
    } else {
        sheet = sheet.assumes("the fire rule gives no figure for waterwash and closed booths");
    }
    Ok(sheet
        .at_most(
            "crossdraft that the table's note allows",
            Some(crossdraft),
            Some(super::fpm(100.0)),
            SPEED,
        )
        .step("stricter", "the larger of the two", stricter, SPEED))
}

fn duct_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let readings: Vec<Pressure> = inputs.list("pressure")?;
    let factor = density_factor(inputs.get("air")?, inputs.get("barometer")?)?;
    let velocity = duct_traverse(&readings, factor)?;
    let mut sheet = Worksheet::new("average velocity", velocity, SPEED)
        .also("density factor", factor, SHARE)
        .also("points", num::count(readings.len()), NUMBER)
        .step(
            "density factor",
            "(530 / (T_F + 460)) (inHg / 29.92)",
            factor,
            SHARE,
        )
        .step("velocity", "mean of 4005 sqrt(VP / df)", velocity, SPEED)
        .source("handbook minimum for spray booth ducts is 2000 fpm, cited from a stored excerpt")
        .assumes("dry air; damp warm air is about 1 % lighter");
    if let Some(area) = inputs.maybe::<Area>("area")? {
        let flow = duct_flow(area, velocity)?;
        sheet = sheet
            .also("flow", flow, AIR_FLOW)
            .step("flow", "A V", flow, AIR_FLOW);
    }
    Ok(sheet)
}

fn gauge_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let clean: Pressure = inputs.get("clean")?;
    let mark = filter_mark(clean, inputs.get("rise")?)?;
    let reading: Option<Pressure> = inputs.maybe("reading")?;
    let mut sheet = Worksheet::new("mark", mark, PRESSURE)
        .step("mark", "clean + rise", mark, PRESSURE)
        .at_most("mark", reading, Some(mark), PRESSURE)
        .at_least("clean reading", reading, Some(clean), PRESSURE)
        .caution("when the air looks lazy, believe the eye and not the gauge; ask the supervisor");
    let Some(reading) = reading else {
        return Ok(sheet.assumes("no reading: unknown"));
    };
    let held = hold_gauge(reading, clean, mark, inputs.maybe("fan-off")?)?;
    sheet = sheet.also("above the clean reading", reading - clean, PRESSURE);
    if held.clean == Against::Under {
        sheet = sheet.caution("below the clean reading: a missing, torn or bypassed filter, or a weak fan; ask maintenance");
    }
    match held.zero_off {
        Some(true) => {
            sheet = sheet.caution("with the fan off the gauge is not at zero, so its other readings are doubtful; ask maintenance");
        }
        Some(false) => {}
        None => {
            sheet = sheet.assumes(
                "whether the gauge reads zero with the fan off is unknown; nobody entered it",
            );
        }
    }
    Ok(sheet)
}

fn make_up_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (supply, exhaust): (VolumeRate, VolumeRate) =
        (inputs.get("supply")?, inputs.get("exhaust")?);
    let (share, missing) = make_up(supply, exhaust)?;
    Ok(Worksheet::new("supply divided by exhaust", share, SHARE)
        .also("missing air", missing, AIR_FLOW)
        .step("share", "Qs / Qe", share, SHARE)
        .at_least(
            "supply equal to the exhaust",
            Some(supply),
            Some(exhaust),
            AIR_FLOW,
        )
        .assumes("what is missing comes in through leaks and doors")
        .caution("a ventilation engineer decides on supply air; ask one"))
}

fn purge_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let volume: Volume = inputs.get("volume")?;
    let purge = fire_code_purge(volume, inputs.get("exhaust")?)?;
    Ok(Worksheet::new("purge", purge.time, MINUTES)
        .also("four air changes", purge.four_changes, MINUTES)
        .step("four air changes", "4 V / Q", purge.four_changes, MINUTES)
        .step("purge", "max(4 V / Q, 3 min)", purge.time, MINUTES)
        .assumes("no fresh work gives off vapour meanwhile")
        .caution(ASK_FIRE_OFFICIAL))
}

fn residue(word: &str) -> Residue {
    match word {
        "nitrocellulose" => Residue::Nitrocellulose,
        "drying-oil" => Residue::DryingOil,
        _ => Residue::Other,
    }
}

fn residues_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let meet = residues_meet(
        residue(inputs.word("last")?),
        residue(inputs.word("next")?),
        yes(inputs, "cleaned")?,
    );
    let sheet = Worksheet::new("residues that may heat themselves meet", flag(meet), NUMBER)
        .step(
            "residues",
            "nitrocellulose and a drying oil, in either order, no cleaning in between; 1 yes, 0 no",
            flag(meet),
            NUMBER,
        )
        .at_most("residues that meet", Some(flag(meet)), Some(0.0), NUMBER)
        .source("34 Pa. Code 35.92 also bans alternating nitrocellulose lacquer with paint and varnish, cited from a stored excerpt")
        .assumes("what was not logged is not known here");
    Ok(if meet {
        sheet.caution("remove all deposits from booth, filters and ducts first (29 CFR 1910.107(g)(6)); tell the supervisor and ask the local fire code official")
    } else {
        sheet.caution(ASK_FIRE_OFFICIAL)
    })
}

fn common_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let open: Vec<Area> = inputs.list("open")?;
    let held = common_exhaust(
        &open,
        yes(inputs, "same-material")?,
        yes(inputs, "nitrocellulose")?,
    )?;
    let sum = Area::of_base(open.iter().map(|area| area.to_base()).sum());
    let limit = Area::of_base(18.0 * super::FOOT2);
    let mut sheet = Worksheet::new("combined open area", sum, AREA)
        .step("combined open area", "sum of the areas", sum, AREA)
        .at_most("combined open area on one exhaust", Some(sum), Some(limit), AREA)
        .at_most(
            "booths with other materials on it (1 yes, 0 no)",
            Some(flag(held.different_materials)),
            Some(0.0),
            NUMBER,
        )
        .at_most(
            "nitrocellulose on it (1 yes, 0 no)",
            Some(flag(held.nitrocellulose && open.len() > 1)),
            Some(0.0),
            NUMBER,
        )
        .source("model fire code chapter 24: no manifolded exhaust with nitrocellulose, cited from a stored excerpt")
        .caution(ASK_FIRE_OFFICIAL);
    if held.nitrocellulose && open.len() > 1 {
        sheet = sheet.caution("exhausts of nitrocellulose finishes are not joined (model fire code chapter 24); ask the local fire code official");
    }
    Ok(sheet)
}
