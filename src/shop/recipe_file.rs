//! Reading a recipe from its file.
//!
//! ```toml
//! [recipe]
//! code = "G9"
//! revision = 3
//! name = "Body, closed pore"
//! finish = "solvent release"
//! kinds = ["body"]
//! surfaces = ["whole"]        # left out: the whole piece
//! tack_counts = false         # left out: false
//!
//! [film]                      # the finished film that is aimed for
//! low = "75 um"
//! high = "130 um"
//!
//! [[step]]
//! name = "clear set 1"
//! kind = "clear"
//! coats = 3
//! film = "15 um"              # dry film that one coat adds
//! between = "90 min"
//! with = ["lacquer"]          # one of these is in the cup; left out: what is usual for the kind of step
//!
//! grits = ["P320", "P400"]    # of a sanding, coarsest first
//!
//! [reaction]                  # of a mix that reacts in the pot
//! pot_life = "4 h"
//! pot_life_at = "20 C"
//! activation_kj_mol = 50.0    # left out: warmth does not shorten it by reckoning
//! induction = "10 min"        # how long the mix stands before use; left out: not at all
//!
//! [booth]                     # the air of a coat, each line may be left out
//! temperature_low = "15 C"
//! humidity_high = "65 %"
//!
//! [[retarder]]                # weakest rule first
//! above = "2.0 %"
//! between = "120 min"
//!
//! [solvent]                   # left out: no model. It may only hold a cure back
//! left = "10 %"               # 5 to 20 %, an assumption
//! burn_in = "15 um"           # 5 to 30 um, a derived estimate
//!
//! [cure_credit]
//! unlogged = 0.5
//! [[cure_credit.band]]        # coldest first, half-open unless to_included
//! from = "20.0 C"
//! credit = 1.0
//! ```
//!
//! In place of bands `cure_credit` takes `law = "arrhenius"` with `reference`, `activation_kj_mol`, `floor` and
//! `humidity_high`, or, for a waterborne finish, `law = "evaporation"` with `reference`, `reference_humidity`, `floor`
//! and `humidity_high`. `with` takes kinds of material; left out, a wash coat has sealer or lacquer in the cup, a fill filler,
//! a colour stain, a seal sealer, a clear or a drop-fill lacquer, and oil as well where the finish is oxidising (common
//! practice, no source). Thinner, retarder and the like stand beside them and decide nothing. Further fields of steps: `on`, `rest_after` with `rest`, `dry` of a drop-fill, `dose` and `peak`
//! of a cure under a lamp, `compounds` of a buffing, `moisture_low` with `moisture_high` of taking in. `film` takes a
//! `cap` and a `[[film.surface]]` for each surface that aims for another film.
//!
//! *Invariants*: each range is stated once, in [`limits`]; a stronger retarder rule holds all that the weaker ones
//! ask for, so that the strongest one that a mix trips can be used alone; where a band includes its upper end the
//! next one may start there, and the colder band has that point.
//!
//! *Not here*: opening files, adopting a revision, judging a deed.

use super::faults::{Fault, Limits, Need, Table, read_file};
use super::grit::Grit;
use super::recipe::{
    BoothLimits, CreditBand, CreditLaw, CreditPolicy, FILM_MARGIN, FilmBand, Reaction, Recipe,
    RetarderRule, Rework, SolventModel, Step, WHOLE,
};
use super::words::{Defect, Drying, MaterialKind, StepKind, Word};
use crate::units::{Amount, Dimension, Film, Humidity, Share, Span, Temperature};
use Need::{May, Must};
use std::collections::BTreeMap;

/// The range of every field of a recipe, stated once.
pub mod limits {
    use super::Limits;

    const MINUTE: i64 = 60_000;
    const HOUR: i64 = 60 * MINUTE;
    const DAY: i64 = 24 * HOUR;

    const fn row(
        field: &'static str,
        low: i64,
        high: i64,
        unit: &'static str,
        fix: &'static str,
    ) -> Limits {
        Limits {
            field,
            low,
            high,
            unit,
            fix,
        }
    }

    /// The shop's short code, in characters.
    pub const CODE: Limits = row("code", 1, 12, "", "write a short code such as \"G9\"");
    /// The revision.
    pub const REVISION: Limits = row(
        "revision",
        1,
        9_999,
        "",
        "write the revision as a whole number from 1",
    );
    /// The name that people read, in characters.
    pub const NAME: Limits = row(
        "name",
        1,
        60,
        "",
        "write the name that people read, in double quotes",
    );
    /// The name of a surface, in characters.
    pub const SURFACES: Limits = row(
        "surfaces",
        1,
        30,
        "",
        "write the surfaces as [\"top\", \"back\"], or leave the line out for the whole piece",
    );
    /// The name of a surface that a step is for, in characters.
    pub const ON: Limits = row(
        "on",
        1,
        30,
        "",
        "write the surfaces that the step is for, such as [\"back\", \"sides\"], or leave the line out for all",
    );
    /// The step of the main line with which a surface goes on after a rework, in characters.
    pub const REJOIN: Limits = row(
        "rejoin",
        1,
        60,
        "",
        "write the name of the step of the main line that comes after the rework, or leave the line out",
    );
    /// Lower end of the finished film, in nm.
    pub const FILM_LOW: Limits = row(
        "low",
        0,
        2_000_000,
        "um",
        "write the thinnest finished film, such as \"75 um\"",
    );
    /// Upper end of the finished film, in nm.
    pub const FILM_HIGH: Limits = row(
        "high",
        0,
        2_000_000,
        "um",
        "write the thickest finished film, such as \"130 um\"",
    );
    /// Coats of a set.
    pub const COATS: Limits = row("coats", 1, 30, "", "write how many coats the set has");
    /// Stages of buffing.
    pub const STAGES: Limits = row("stages", 1, 12, "", "write how many stages the buffing has");
    /// Least wait since the last wet coat, in ms.
    pub const AFTER: Limits = row(
        "after",
        0,
        60 * DAY,
        "h",
        "write the least wait since the last wet coat, such as \"12 h\"",
    );
    /// Least wait between coats, in ms.
    pub const BETWEEN: Limits = row(
        "between",
        MINUTE,
        30 * DAY,
        "min",
        "write the least wait from the end of one coat to the start of the next, such as \"90 min\"",
    );
    /// Most coats of this kind in a production day.
    pub const PER_DAY: Limits = row(
        "per_day",
        1,
        20,
        "",
        "write the most coats of this kind in one production day",
    );
    /// The gap after which a scuff comes first, in ms.
    pub const SCUFF_AFTER: Limits = row(
        "scuff_after",
        HOUR,
        90 * DAY,
        "h",
        "write the gap after which a scuff comes first, such as \"72 h\"",
    );
    /// Longest time that a piece stands ready for a step, in ms.
    pub const QUEUE: Limits = row(
        "queue",
        HOUR,
        90 * DAY,
        "h",
        "write how long a piece may stand ready for the step before it is called out, such as \"48 h\"",
    );
    /// Dry film of one coat, in nm.
    pub const FILM: Limits = row(
        "film",
        0,
        500_000,
        "um",
        "write the dry film that one coat adds, such as \"15 um\"",
    );
    /// Volume solids for which the film is stated, in ppm.
    pub const SOLIDS: Limits = row(
        "solids",
        10_000,
        1_000_000,
        "%",
        "write the volume solids of the mix for which the film is stated, such as \"12.5 %\"",
    );
    /// Film that a step takes away, in nm.
    pub const REMOVES: Limits = row(
        "removes",
        0,
        500_000,
        "um",
        "write the dry film that the whole step takes away, such as \"12 um\"",
    );
    /// Length of a rest or credited hours of a cure, in ms.
    pub const HOURS: Limits = row(
        "hours",
        MINUTE,
        365 * DAY,
        "h",
        "write the length of the rest, or the credited hours of the cure, such as \"336 h\"",
    );
    /// Retarder in the mix above which a rule applies, in ppm.
    pub const ABOVE: Limits = row(
        "above",
        0,
        500_000,
        "%",
        "write the share of the mix above which the rule applies, such as \"2.0 %\"",
    );
    /// Wait before sanding that a retarder rule asks for, in ms.
    pub const DRY: Limits = row(
        "dry",
        MINUTE,
        60 * DAY,
        "h",
        "write the least wait before sanding, such as \"24 h\"",
    );
    /// What an hour without readings counts, in thousandths.
    pub const UNLOGGED: Limits = row(
        "unlogged",
        0,
        1_000,
        "",
        "write the part of an hour that an hour without readings counts, such as 0.5",
    );
    /// What an hour in a band counts, in thousandths. More than a whole hour is for a shop that says so.
    pub const CREDIT: Limits = row(
        "credit",
        0,
        2_000,
        "",
        "write the part of an hour that an hour in this band counts, such as 1.0",
    );
    /// Lower end of a band, in thousandths of a degree.
    pub const FROM: Limits = row(
        "from",
        -40_000,
        80_000,
        "C",
        "write the lower end of the band, such as \"20.0 C\"",
    );
    /// Upper end of a band, in thousandths of a degree.
    pub const TO: Limits = row(
        "to",
        -40_000,
        80_000,
        "C",
        "write the upper end of the band, such as \"32.0 C\"",
    );
    /// Highest humidity in the booth, in hundredths of a percent.
    pub const HUMIDITY_HIGH: Limits = row(
        "humidity_high",
        1_000,
        10_000,
        "%",
        "write the highest relative humidity, such as \"65 %\"",
    );
    /// Least difference between air and dew point, in mK.
    pub const SPREAD_LOW: Limits = row(
        "spread_low",
        0,
        30_000,
        "K diff",
        "write the least difference between air and dew point, such as \"3 K diff\"",
    );
    /// The dry film that must not be exceeded, in nm.
    pub const CAP: Limits = row(
        "cap",
        1_000,
        2_000_000,
        "um",
        "write the dry film that must not be exceeded, such as \"76 um\"",
    );
    /// How long a mix may be used, in ms.
    pub const POT_LIFE: Limits = row(
        "pot_life",
        MINUTE,
        30 * DAY,
        "h",
        "write how long the mix may be used, such as \"4 h\"",
    );
    /// The law by which an hour counts, in characters.
    pub const NAME_OF_LAW: Limits = row(
        "law",
        1,
        20,
        "",
        "write bands, arrhenius or evaporation, or leave the line out for bands",
    );
    /// The temperature for which the pot life is stated, in thousandths of a degree.
    pub const POT_LIFE_AT: Limits = row(
        "pot_life_at",
        0,
        50_000,
        "C",
        "write the temperature for which the sheet states the pot life, such as \"20 C\"",
    );
    /// How long a mix stands before it is used, in ms.
    pub const INDUCTION: Limits = row(
        "induction",
        MINUTE,
        DAY,
        "min",
        "write how long the mix stands before it is used, such as \"15 min\"",
    );
    /// Activation energy, in J/mol.
    pub const ACTIVATION: Limits = row(
        "activation_kj_mol",
        10_000,
        150_000,
        "",
        "write the activation energy in kJ/mol as a number, such as 50.0",
    );
    /// Where an hour counts in full, in thousandths of a degree.
    pub const REFERENCE: Limits = row(
        "reference",
        0,
        50_000,
        "C",
        "write the temperature at which an hour counts in full, such as \"21 C\"",
    );
    /// Relative humidity where an hour counts in full, in hundredths of a percent.
    pub const REFERENCE_HUMIDITY: Limits = row(
        "reference_humidity",
        500,
        9_500,
        "%",
        "write the relative humidity at which an hour counts in full, such as \"50 %\"",
    );
    /// Below this nothing counts, in thousandths of a degree.
    pub const FLOOR: Limits = row(
        "floor",
        -10_000,
        50_000,
        "C",
        "write the temperature below which nothing counts, such as \"13 C\"",
    );
    /// Coldest air for a coat, in thousandths of a degree.
    pub const TEMPERATURE_LOW: Limits = row(
        "temperature_low",
        -10_000,
        50_000,
        "C",
        "write the coldest air for a coat, such as \"15 C\"",
    );
    /// Warmest air for a coat, in thousandths of a degree.
    pub const TEMPERATURE_HIGH: Limits = row(
        "temperature_high",
        0,
        60_000,
        "C",
        "write the warmest air for a coat, such as \"30 C\"",
    );
    /// Film-forming temperature, in thousandths of a degree.
    pub const FILM_FORMING: Limits = row(
        "film_forming",
        0,
        40_000,
        "C",
        "write the lowest temperature at which the film forms, such as \"10 C\"",
    );
    /// Coats after which a longer rest comes.
    pub const REST_AFTER: Limits = row(
        "rest_after",
        1,
        20,
        "",
        "write after how many coats the longer rest comes, such as 4",
    );
    /// How long that rest is, in ms.
    pub const REST: Limits = row(
        "rest",
        MINUTE,
        30 * DAY,
        "h",
        "write how long the rest after these coats is, such as \"12 h\"",
    );
    /// Light of a cure, in uJ/cm2.
    pub const DOSE: Limits = row(
        "dose",
        1_000,
        20_000_000,
        "mJ/cm2",
        "write the dose on the film, such as \"960 mJ/cm2\"",
    );
    /// Peak irradiance of a cure, in uW/cm2.
    pub const PEAK: Limits = row(
        "peak",
        1_000,
        20_000_000,
        "mW/cm2",
        "write the peak irradiance on the film, such as \"120 mW/cm2\"",
    );
    /// Grits of a sanding, in characters each.
    pub const GRITS: Limits = row(
        "grits",
        1,
        12,
        "",
        "write the grits in their order with the scale, such as [\"P800\", \"P1200\"]",
    );
    /// Compounds of buffing, in characters each.
    pub const COMPOUNDS: Limits = row(
        "compounds",
        1,
        30,
        "",
        "write one compound for each stage, such as [\"medium\", \"fine\", \"clean\"]",
    );
    /// Driest wood, as a share of the dry mass, in ppm.
    pub const MOISTURE_LOW: Limits = row(
        "moisture_low",
        10_000,
        250_000,
        "%",
        "write the driest wood that is taken, such as \"6 %\"",
    );
    /// Wettest wood, as a share of the dry mass, in ppm.
    pub const MOISTURE_HIGH: Limits = row(
        "moisture_high",
        10_000,
        250_000,
        "%",
        "write the wettest wood that is taken, such as \"8 %\"",
    );
    /// Share of the solvent that is left when the cure is over, in ppm: an assumption, with an effect of a few percent.
    pub const LEFT: Limits = row(
        "left",
        50_000,
        200_000,
        "%",
        "write the share of the solvent that is left when the cure is over, such as \"10 %\"",
    );
    /// Depth to which a fresh coat wets the old film again, in nm: a derived estimate.
    pub const BURN_IN: Limits = row(
        "burn_in",
        5_000,
        30_000,
        "um",
        "write the depth to which a fresh coat wets the old film again, such as \"15 um\"",
    );
    /// Level of a rework.
    pub const LEVEL: Limits = row(
        "level",
        1,
        4,
        "",
        "write 1 local clear, 2 local with colour, 3 surface or 4 strip",
    );
}

/// Reads a recipe. `file_name` is what messages call the file.
///
/// # Errors
/// All faults of the file, in the order of their lines.
pub fn read(file_name: &str, text: &str) -> Result<Recipe, Vec<Fault>> {
    read_file(file_name, text, |root| Some(recipe(root)))
}

/// The stand-ins for faulty fields in here are never seen: a fault was reported for each.
fn recipe(root: &Table<'_>) -> Recipe {
    let mut recipe = Recipe {
        code: String::new(),
        revision: 0,
        name: String::new(),
        finish: Drying::None,
        kinds: Vec::new(),
        surfaces: vec![WHOLE.to_owned()],
        tack_counts: false,
        film_low: Film(0),
        film_high: Film(0),
        film_bands: Vec::new(),
        film_cap: None,
        steps: Vec::new(),
        retarder: Vec::new(),
        credit: CreditPolicy {
            law: CreditLaw::Bands,
            bands: Vec::new(),
            unlogged_permille: 0,
        },
        booth: BoothLimits::default(),
        reaction: None,
        solvent: None,
        reworks: Vec::new(),
        routes: BTreeMap::new(),
    };
    if let Some(head) = root.table("recipe", Must) {
        heading(&head, &mut recipe);
    }
    let before = root.faults();
    if let Some(film) = root.table("film", Must) {
        let low = film.amount::<Film>(&limits::FILM_LOW, Must);
        let high = film.amount::<Film>(&limits::FILM_HIGH, Must);
        recipe.film_cap = film.amount::<Film>(&limits::CAP, May);
        recipe.film_bands = film_bands(&film.tables("surface", May), &recipe.surfaces);
        film.done();
        if let (Some(low), Some(high)) = (low, high) {
            recipe.film_low = low;
            recipe.film_high = high;
            if low > high {
                film.contradiction(
                    "low",
                    &low.trimmed(),
                    format!("is above the upper end {}", high.trimmed()),
                    "exchange the two ends",
                );
            }
        }
    }
    let tables = root.tables("step", Must);
    recipe.steps = branch(&tables, true, &recipe);
    if root.faults() == before {
        film_left(root, &tables, &recipe);
    }
    recipe.retarder = retarder(&root.tables("retarder", May));
    let cures = recipe
        .steps
        .iter()
        .any(|s| s.kind == StepKind::Cure && s.hours.is_some());
    if let Some(table) = root.table("reaction", May) {
        recipe.reaction = reaction(&table, recipe.finish);
    }
    if let Some(table) = root.table("solvent", May) {
        recipe.solvent = solvent(&table, recipe.finish);
    }
    if let Some(table) = root.table("booth", May) {
        recipe.booth = booth(&table, recipe.finish);
    }
    if let Some(credit) = root.table("cure_credit", if cures { Must } else { May }) {
        recipe.credit = credit_policy(&credit, &recipe);
    }
    recipe.reworks = reworks(&root.tables("rework", May), &recipe);
    root.done();
    recipe.with_routes()
}

/// Reads the limits of the booth's air and holds them against each other.
fn booth(table: &Table<'_>, finish: Drying) -> BoothLimits {
    let limits = BoothLimits {
        humidity_high: table.amount(&limits::HUMIDITY_HIGH, May),
        spread_low_mk: table.difference(&limits::SPREAD_LOW, May),
        temperature_low: table.amount(&limits::TEMPERATURE_LOW, May),
        temperature_high: table.amount(&limits::TEMPERATURE_HIGH, May),
        film_forming: table.amount(&limits::FILM_FORMING, May),
    };
    table.done();
    if let (Some(low), Some(high)) = (limits.temperature_low, limits.temperature_high)
        && low >= high
    {
        table.contradiction(
            "temperature_low",
            &low.trimmed(),
            format!("is not below temperature_high, {}", high.trimmed()),
            "exchange the two",
        );
    }
    let Some(forming) = limits.film_forming else {
        return limits;
    };
    if finish != Drying::Waterborne && finish != Drying::None {
        table.contradiction(
            "film_forming",
            &forming.trimmed(),
            format!(
                "is for a waterborne finish, and this one is {}",
                finish.word()
            ),
            "take the line out, or write the finish of the sheet",
        );
    }
    let coldest = Temperature(forming.0 + FILM_MARGIN.0);
    if let Some(high) = limits.temperature_high.filter(|high| *high < coldest) {
        table.contradiction(
            "film_forming",
            &forming.trimmed(),
            format!(
                "wants {} for a coat, more than temperature_high, {}",
                coldest.trimmed(),
                high.trimmed()
            ),
            "compare both temperatures with the sheet",
        );
    }
    limits
}

fn film_bands(tables: &[Table<'_>], surfaces: &[String]) -> Vec<FilmBand> {
    let mut bands: Vec<FilmBand> = Vec::new();
    for table in tables {
        let name = table.text(&limits::NAME, Must);
        let low = table.amount::<Film>(&limits::FILM_LOW, Must);
        let high = table.amount::<Film>(&limits::FILM_HIGH, Must);
        table.done();
        let (Some(surface), Some(low), Some(high)) = (name, low, high) else {
            continue;
        };
        if !surfaces.contains(&surface) {
            table.contradiction(
                "name",
                &surface,
                format!(
                    "is not one of the recipe's surfaces, {}",
                    surfaces.join(", ")
                ),
                "name the surface under surfaces too, or write one that is there",
            );
        }
        if low > high {
            table.contradiction(
                "low",
                &low.trimmed(),
                format!("is above the upper end {}", high.trimmed()),
                "exchange the two ends",
            );
        }
        if bands.iter().any(|b| b.surface == surface) {
            table.contradiction(
                "name",
                &surface,
                "has a film of its own above already".to_owned(),
                "write each surface once",
            );
        }
        bands.push(FilmBand { surface, low, high });
    }
    bands
}

// The model of the solvent that is still in the film. It may only hold a cure back.
fn solvent(table: &Table<'_>, finish: Drying) -> Option<SolventModel> {
    let left = table.amount::<Share>(&limits::LEFT, Must);
    let burn_in = table.amount::<Film>(&limits::BURN_IN, Must);
    table.done();
    if finish != Drying::SolventRelease {
        table.contradiction(
            "solvent",
            finish.word(),
            "does not dry by losing solvent alone, which the model is about".to_owned(),
            "take the table out",
        );
    }
    Some(SolventModel {
        left: left?,
        burn_in: burn_in?,
    })
}

fn reaction(table: &Table<'_>, finish: Drying) -> Option<Reaction> {
    let pot_life = table.span(&limits::POT_LIFE, Must);
    let pot_life_at = table.amount::<Temperature>(&limits::POT_LIFE_AT, Must);
    let activation = table.thousandths(&limits::ACTIVATION, May);
    let induction = table.span(&limits::INDUCTION, May);
    table.done();
    if let (Some(life), Some(wait)) = (pot_life, induction)
        && wait >= life
    {
        table.contradiction(
            "induction",
            &wait.words(),
            format!("is not shorter than the pot life, {}", life.words()),
            "write how long the mix stands before it may be used",
        );
    }
    if !matches!(
        finish,
        Drying::TwoComponent | Drying::AcidCatalysed | Drying::None
    ) {
        table.contradiction(
            "pot_life",
            &pot_life.map_or_else(String::new, Span::words),
            format!(
                "is for a mix that reacts in the pot, and the finish is {}",
                finish.word()
            ),
            "take the table out, or write the finish of the sheet",
        );
    }
    Some(Reaction {
        pot_life: pot_life?,
        pot_life_at: pot_life_at?,
        activation,
        induction,
    })
}

fn heading(head: &Table<'_>, recipe: &mut Recipe) {
    recipe.code = head.code(&limits::CODE, Must).unwrap_or_default();
    recipe.revision = whole(head.whole(&limits::REVISION, Must));
    recipe.name = head.text(&limits::NAME, Must).unwrap_or_default();
    let finish = head.word::<Drying>("finish", Must);
    recipe.finish = finish.unwrap_or(Drying::None);
    if finish == Some(Drying::None) {
        head.contradiction(
            "finish",
            Drying::None.word(),
            "is for thinners and cleaners; a recipe leaves a film".to_owned(),
            "write how the clear coats of the recipe dry",
        );
    }
    recipe.kinds = head.words("kinds", Must);
    let surfaces = head.texts(&limits::SURFACES, May);
    if surfaces.len() > 1 && surfaces.iter().any(|s| s == WHOLE) {
        head.contradiction(
            "surfaces",
            WHOLE,
            "stands for all surfaces and cannot be one of several".to_owned(),
            "name each surface, or only \"whole\"",
        );
    }
    if let Some(name) = surfaces.iter().find(|s| s.contains(',')) {
        head.contradiction(
            "surfaces",
            name,
            "holds a comma, which parts the surfaces of a deed".to_owned(),
            "write a name without a comma",
        );
    }
    if !surfaces.is_empty() {
        recipe.surfaces = surfaces;
    }
    recipe.tack_counts = head.flag("tack_counts");
    head.done();
}

/// A small whole number that its limits have checked.
fn whole(value: Option<i64>) -> u32 {
    value.and_then(|n| u32::try_from(n).ok()).unwrap_or(0)
}

/// The fields of a step that depend on its kind.
const STEP_FIELDS: [&str; 21] = [
    "coats",
    "stages",
    "after",
    "between",
    "per_day",
    "scuff_after",
    "queue",
    "film",
    "solids",
    "with",
    "removes",
    "hours",
    "rest_after",
    "rest",
    "dry",
    "dose",
    "peak",
    "grits",
    "compounds",
    "moisture_low",
    "moisture_high",
];

/// Whether a step of this kind has a field; `None` where it does not belong.
fn need_of(kind: StepKind, field: &str) -> Option<Need> {
    match field {
        "coats" | "film" if kind.wets() => Some(Must),
        "between" | "per_day" | "scuff_after" | "solids" | "with" if kind.wets() => Some(May),
        "after" | "queue" if !kind.waits() && kind != StepKind::Receive => Some(May),
        "removes" if matches!(kind, StepKind::LevelSand | StepKind::FinalSand) => Some(Must),
        "removes" if matches!(kind, StepKind::Scuff | StepKind::Buff) => Some(May),
        "stages" if kind == StepKind::Buff => Some(Must),
        "rest_after" | "rest" if kind.wets() && kind != StepKind::DropFill => Some(May),
        "dry" if kind == StepKind::DropFill => Some(May),
        // A cure under a lamp has a dose in place of hours, and the film may flash off first; a cure that waits counts
        // from the last wet coat anyway.
        "after" | "dose" | "peak" | "hours" if kind == StepKind::Cure => Some(May),
        "grits" if kind.sands() || kind == StepKind::Receive => Some(May),
        "compounds" if kind == StepKind::Buff => Some(May),
        "moisture_low" | "moisture_high" if kind == StepKind::Receive => Some(May),
        "hours" if kind.waits() => Some(Must),
        _ => None,
    }
}

/// Reads one step. `None` where its kind is not known.
fn step(table: &Table<'_>, recipe: &Recipe) -> Option<Step> {
    let name = table.text(&limits::NAME, Must);
    let kind = table.word::<StepKind>("kind", Must);
    let need = |field: &'static str| match kind {
        None => Some(May),
        Some(kind) => {
            let need = need_of(kind, field);
            if need.is_none() {
                let own: Vec<&str> = STEP_FIELDS
                    .into_iter()
                    .filter(|f| need_of(kind, f).is_some())
                    .collect();
                let takes = if own.is_empty() {
                    "a name only".to_owned()
                } else {
                    own.join(", ")
                };
                table.refuse(
                    field,
                    &format!(
                        "does not belong to a {} step, which takes {takes}",
                        kind.word()
                    ),
                );
            }
            need
        }
    };
    let coats = need("coats").and_then(|n| table.whole(&limits::COATS, n));
    let stages = need("stages").and_then(|n| table.whole(&limits::STAGES, n));
    let after = need("after").and_then(|n| table.span(&limits::AFTER, n));
    let between = need("between").and_then(|n| table.span(&limits::BETWEEN, n));
    let per_day = need("per_day").and_then(|n| table.whole(&limits::PER_DAY, n));
    let scuff_after = need("scuff_after").and_then(|n| table.span(&limits::SCUFF_AFTER, n));
    let queue = need("queue").and_then(|n| table.span(&limits::QUEUE, n));
    let film = need("film").and_then(|n| table.amount(&limits::FILM, n));
    let solids = need("solids").and_then(|n| table.amount::<Share>(&limits::SOLIDS, n));
    let with = need("with").map_or_else(Vec::new, |n| table.words::<MaterialKind>("with", n));
    let removes = need("removes").and_then(|n| table.amount(&limits::REMOVES, n));
    let hours = need("hours").and_then(|n| table.span(&limits::HOURS, n));
    let rest_after = need("rest_after").and_then(|n| table.whole(&limits::REST_AFTER, n));
    let rest = need("rest").and_then(|n| table.span(&limits::REST, n));
    let dry = need("dry").and_then(|n| table.span(&limits::DRY, n));
    let dose = need("dose").and_then(|n| table.measured(&limits::DOSE, n, Dimension::Dose, 2));
    let peak =
        need("peak").and_then(|n| table.measured(&limits::PEAK, n, Dimension::Irradiance, 2));
    let grits = grits(table, need("grits"));
    let compounds = need("compounds").map_or_else(Vec::new, |n| table.texts(&limits::COMPOUNDS, n));
    let moisture_low =
        need("moisture_low").and_then(|n| table.amount::<Share>(&limits::MOISTURE_LOW, n));
    let moisture_high =
        need("moisture_high").and_then(|n| table.amount::<Share>(&limits::MOISTURE_HIGH, n));
    let on = table.texts(&limits::ON, May);
    for name in on.iter().filter(|s| !recipe.surfaces.contains(s)) {
        table.contradiction(
            "on",
            name,
            format!(
                "is not one of the recipe's surfaces, {}",
                recipe.surfaces.join(", ")
            ),
            "name the surface under surfaces too, or write one that is there",
        );
    }
    table.done();
    if coats.is_some_and(|n| n > 1) && !table.has("between") {
        table.missing(
            "between",
            "a wait, with more than one coat,",
            limits::BETWEEN.fix,
        );
    }
    for (field, wait) in [("between", between), ("after", after)] {
        if let (Some(wait), Some(gap)) = (wait, scuff_after)
            && gap <= wait
        {
            table.contradiction(
                "scuff_after",
                &gap.words(),
                format!("is not longer than {field}, {}", wait.words()),
                "write a gap that is longer than the least wait",
            );
        }
    }
    pairs(
        table,
        rest_after.is_some(),
        rest.is_some(),
        ["rest_after", "rest"],
    );
    pairs(
        table,
        moisture_low.is_some(),
        moisture_high.is_some(),
        ["moisture_low", "moisture_high"],
    );
    if let (Some(low), Some(high)) = (moisture_low, moisture_high)
        && low > high
    {
        table.contradiction(
            "moisture_low",
            &low.trimmed(),
            format!("is above moisture_high, {}", high.trimmed()),
            "exchange the two",
        );
    }
    rest_fits(table, coats, between, rest_after, rest);
    let kind = kind?;
    if kind == StepKind::Cure {
        cure_fits(table, recipe.finish, [hours, after]);
    }
    if let Some(stages) = stages
        && !compounds.is_empty()
        && usize::try_from(stages).is_ok_and(|n| n != compounds.len())
    {
        table.contradiction(
            "compounds",
            &compounds.join(", "),
            format!("are {} for {stages} stages", compounds.len()),
            limits::COMPOUNDS.fix,
        );
    }
    Some(Step {
        name: name.unwrap_or_default(),
        kind,
        on,
        count: if kind.wets() {
            whole(coats)
        } else if kind == StepKind::Buff {
            whole(stages)
        } else {
            u32::from(!kind.waits() || dose.is_some())
        },
        after,
        between,
        per_day: per_day.map(|n| whole(Some(n))),
        scuff_after,
        queue,
        film: film.unwrap_or_default(),
        solids,
        with,
        removes: removes.unwrap_or_default(),
        hours,
        rest_after: rest_after.and_then(|n| u32::try_from(n).ok()).zip(rest),
        dry,
        dose,
        peak,
        grits,
        compounds,
        moisture: moisture_low.zip(moisture_high),
    })
}

// The longer rest of a set, against its coats and its shorter wait.
fn rest_fits(
    table: &Table<'_>,
    coats: Option<i64>,
    between: Option<Span>,
    rest_after: Option<i64>,
    rest: Option<Span>,
) {
    if let (Some(after), Some(coats)) = (rest_after, coats)
        && after >= coats
    {
        table.contradiction(
            "rest_after",
            &after.to_string(),
            format!("is not below coats, {coats}, so that the rest never comes"),
            "write fewer coats than the set has; the wait after the set is the next step's",
        );
    }
    if let (Some(rest), Some(between)) = (rest, between)
        && rest <= between
    {
        table.contradiction(
            "rest",
            &rest.words(),
            format!(
                "is not longer than between, {}, which each coat waits anyway",
                between.words()
            ),
            limits::REST.fix,
        );
    }
}

// A cure is a wait that counts hours, or a deed under a lamp that gives a dose.
fn cure_fits(table: &Table<'_>, finish: Drying, [hours, after]: [Option<Span>; 2]) {
    let words = |span: Option<Span>| span.map_or_else(String::new, Span::words);
    let (lamp, waits) = (table.has("dose"), table.has("hours"));
    match (waits, lamp) {
        (false, false) => table.missing(
            "hours",
            "the credited hours of the cure, or a dose under a lamp,",
            limits::HOURS.fix,
        ),
        (true, true) => table.contradiction(
            "hours",
            &words(hours),
            "stands beside a dose: a cure is a wait or a deed under a lamp".to_owned(),
            "write two steps, the lamp first",
        ),
        (true, false) => {
            for (field, value) in [("after", words(after)), ("peak", String::new())] {
                if table.has(field) {
                    table.contradiction(
                        field,
                        &value,
                        "belongs to a cure under a lamp, and this one waits for hours".to_owned(),
                        "take the line out, or write a dose in place of hours",
                    );
                }
            }
        }
        (false, true) => {}
    }
    if lamp && finish != Drying::Light && finish != Drying::None {
        table.contradiction(
            "dose",
            finish.word(),
            "is how the recipe's film forms, which no lamp cures".to_owned(),
            "write the hours of the cure, or finish = \"light-cured\"",
        );
    }
}

// Two fields that say something only together.
fn pairs(table: &Table<'_>, first: bool, second: bool, names: [&'static str; 2]) {
    let [a, b] = names;
    if first != second && table.has(a) != table.has(b) {
        let (missing, there) = if first { (b, a) } else { (a, b) };
        table.missing(
            missing,
            "both or neither",
            &format!("{there} stands alone: write {missing} too"),
        );
    }
}

fn grits(table: &Table<'_>, need: Option<Need>) -> Vec<Grit> {
    let Some(need) = need else {
        return Vec::new();
    };
    let mut list: Vec<Grit> = Vec::new();
    for text in table.texts(&limits::GRITS, need) {
        match Grit::read(&text) {
            Ok(grit) => {
                if list
                    .last()
                    .is_some_and(|last| grit.coarser_than(*last) == Some(true))
                {
                    table.contradiction(
                        "grits",
                        &text,
                        "is coarser than the one before it".to_owned(),
                        "put the grits in order, coarsest first",
                    );
                }
                list.push(grit);
            }
            Err(why) => {
                let (why, fix) = why.split_once("; ").unwrap_or((&why, limits::GRITS.fix));
                table.contradiction("grits", &text, format!("is not a grit: {why}"), fix);
            }
        }
    }
    list
}

/// Reads the steps of one branch and holds them against each other.
fn branch(tables: &[Table<'_>], main: bool, recipe: &Recipe) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    for table in tables {
        let Some(step) = step(table, recipe) else {
            continue;
        };
        if !step.name.is_empty() && steps.iter().any(|s| s.name == step.name) {
            table.contradiction(
                "name",
                &step.name,
                "is the name of an earlier step too".to_owned(),
                "give each step a name of its own, such as \"clear set 2\"",
            );
        }
        // The cure counts from the last wet coat of the finish, so there must be one. A lamp cures a sealer as well.
        let coated = steps.iter().any(|s| match s.kind {
            StepKind::Clear => true,
            StepKind::DropFill => !main || !step.waits(),
            kind => kind.wets() && !step.waits(),
        });
        if step.kind == StepKind::Cure && !coated {
            table.contradiction(
                "kind",
                step.kind.word(),
                "has no clear step before it".to_owned(),
                "put the clear coats before the cure",
            );
        }
        steps.push(step);
    }
    steps
}

/// Follows the film of each surface through the main line by the recipe's own figures.
fn film_left(root: &Table<'_>, tables: &[Table<'_>], recipe: &Recipe) {
    for surface in &recipe.surfaces {
        let on = if recipe.surfaces.len() > 1 {
            format!(" on {surface}")
        } else {
            String::new()
        };
        let mut film = Film(0);
        for (step, table) in recipe.steps.iter().zip(tables) {
            if !step.on.is_empty() && !step.on.contains(surface) {
                continue;
            }
            // Spots are filled where there are any; they add nothing to the plan.
            let laid = if step.kind == StepKind::DropFill {
                film
            } else {
                Film(film.0 + step.film.0 * i64::from(step.count))
            };
            if step.removes > laid {
                table.contradiction(
                    "removes",
                    &step.removes.trimmed(),
                    format!(
                        "is more than the {} that lie there by then{on}",
                        laid.trimmed()
                    ),
                    "write less, or put the coats before this step",
                );
                return;
            }
            if let Some(cap) = recipe.film_cap.filter(|cap| laid > *cap) {
                table.contradiction(
                    "film",
                    &laid.trimmed(),
                    format!(
                        "lie there after this step{on}, more than the cap {}",
                        cap.trimmed()
                    ),
                    "write fewer or thinner coats, or the cap of the sheet",
                );
                return;
            }
            film = Film(laid.0 - step.removes.0);
        }
        let (low, high) = recipe.band(surface);
        if low <= high && !(low..=high).contains(&film) {
            root.contradiction(
                "film",
                &film.trimmed(),
                format!(
                    "is what the steps leave{on}, outside the band of {} to {}",
                    low.trimmed(),
                    high.trimmed()
                ),
                "check coats, film and removes of the steps, or the band",
            );
        }
    }
}

/// Reads the retarder rules. Each holds what the weaker ones ask for as well.
fn retarder(tables: &[Table<'_>]) -> Vec<RetarderRule> {
    let mut rules: Vec<RetarderRule> = Vec::new();
    for table in tables {
        let above = table.amount::<Share>(&limits::ABOVE, Must);
        let between = table.span(&limits::BETWEEN, May);
        let dry = table.span(&limits::DRY, May);
        let supervisor = table.flag("supervisor");
        table.done();
        if !table.has("between") && !table.has("dry") && !supervisor {
            table.missing(
                "between, dry or supervisor",
                "at least one of them",
                "write what the rule changes",
            );
        }
        let Some(above) = above else { continue };
        let weaker = rules.last();
        if let Some(weaker) = weaker.filter(|w| w.above >= above) {
            table.contradiction(
                "above",
                &above.trimmed(),
                format!(
                    "is not above the rule before it, {}",
                    weaker.above.trimmed()
                ),
                "put the rules in order, weakest first, each share once",
            );
        }
        let kept =
            |field: &'static str, own: Option<Span>, before: Option<Span>| {
                if let (Some(own), Some(before)) = (own, before)
                    && own < before
                {
                    table.contradiction(
                    field,
                    &own.words(),
                    format!("is shorter than the weaker rule asks for, {}", before.words()),
                    "write at least the wait of the weaker rule, or leave the line out to keep it",
                );
                }
                own.or(before)
            };
        let rule = RetarderRule {
            above,
            between: kept("between", between, weaker.and_then(|w| w.between)),
            dry: kept("dry", dry, weaker.and_then(|w| w.dry)),
            supervisor: supervisor || weaker.is_some_and(|w| w.supervisor),
        };
        rules.push(rule);
    }
    rules
}

// The words of the laws, as a file names them.
const LAWS: [&str; 3] = ["bands", "arrhenius", "evaporation"];
// The lines that one law or another takes.
const LAW_FIELDS: [&str; 5] = [
    "reference",
    "reference_humidity",
    "activation_kj_mol",
    "floor",
    "humidity_high",
];

// The law that is named; `None`, with a fault, where there is no such law.
fn credit_law(table: &Table<'_>) -> Option<CreditLaw> {
    let named = table.text(&limits::NAME_OF_LAW, May);
    let by = named.as_deref().unwrap_or("bands");
    if !LAWS.contains(&by) {
        table.contradiction(
            "law",
            by,
            format!("is not one of {}", LAWS.join(", ")),
            "write the law by which an hour counts, or leave the line out for bands",
        );
        // Which of the other lines belong here is not known until the law is.
        for field in LAW_FIELDS {
            let _ = table.cell(field);
        }
        return None;
    }
    let need = |laws: &[&str]| laws.contains(&by);
    let reference = need(&["arrhenius", "evaporation"])
        .then(|| table.amount::<Temperature>(&limits::REFERENCE, Must))
        .flatten()
        .unwrap_or_default();
    Some(match by {
        "arrhenius" => CreditLaw::Arrhenius {
            reference,
            activation: table.thousandths(&limits::ACTIVATION, Must).unwrap_or(0),
            floor: table.amount(&limits::FLOOR, May),
            humidity_high: table.amount(&limits::HUMIDITY_HIGH, May),
        },
        "evaporation" => CreditLaw::Evaporation {
            reference,
            reference_humidity: table
                .amount::<Humidity>(&limits::REFERENCE_HUMIDITY, Must)
                .unwrap_or_default(),
            floor: table
                .amount::<Temperature>(&limits::FLOOR, Must)
                .unwrap_or_default(),
            humidity_high: table.amount(&limits::HUMIDITY_HIGH, May),
        },
        _ => CreditLaw::Bands,
    })
}

// A law against itself, the finish and the air in which its film forms.
fn law_fits(table: &Table<'_>, law: CreditLaw, recipe: &Recipe) {
    let (reference, floor) = match law {
        CreditLaw::Bands => return,
        CreditLaw::Arrhenius {
            reference, floor, ..
        } => (reference, floor),
        CreditLaw::Evaporation {
            reference, floor, ..
        } => (reference, Some(floor)),
    };
    if let Some(floor) = floor.filter(|floor| *floor >= reference) {
        table.contradiction(
            "floor",
            &floor.trimmed(),
            format!("is not below the reference, {}", reference.trimmed()),
            "write the temperature below which nothing counts as the colder one",
        );
    }
    if !matches!(law, CreditLaw::Evaporation { .. }) {
        return;
    }
    if recipe.finish != Drying::Waterborne && recipe.finish != Drying::None {
        table.contradiction(
            "law",
            "evaporation",
            format!(
                "is about water that leaves, and the finish is {}",
                recipe.finish.word()
            ),
            "write bands or arrhenius, or finish = \"waterborne\"",
        );
    }
    let coldest = recipe
        .booth
        .film_forming
        .map(|t| Temperature(t.0 + FILM_MARGIN.0));
    if let (Some(floor), Some(coldest)) = (floor, coldest)
        && floor < coldest
    {
        table.contradiction(
            "floor",
            &floor.trimmed(),
            format!(
                "is below {}, the film-forming temperature and 3 K",
                coldest.trimmed()
            ),
            "write at least that: colder hours form no film",
        );
    }
}

fn credit_policy(table: &Table<'_>, recipe: &Recipe) -> CreditPolicy {
    let unlogged = table.thousandths(&limits::UNLOGGED, Must);
    let before = table.faults();
    let named = credit_law(table);
    let law = named.unwrap_or(CreditLaw::Bands);
    if table.faults() == before {
        law_fits(table, law, recipe);
    }
    let mut bands: Vec<CreditBand> = Vec::new();
    let wanted = if named == Some(CreditLaw::Bands) {
        Must
    } else {
        May
    };
    if law != CreditLaw::Bands && table.has("band") {
        table.contradiction(
            "band",
            "",
            "of temperature stand beside a law that counts without them".to_owned(),
            "take the bands out, or the line law",
        );
    }
    for row in table.tables("band", wanted) {
        let before = row.faults();
        let from = row.amount::<Temperature>(&limits::FROM, May);
        let to = row.amount::<Temperature>(&limits::TO, May);
        let to_included = row.flag("to_included");
        let permille = row.thousandths(&limits::CREDIT, Must);
        let alert = row.flag("alert");
        row.done();
        if row.faults() > before {
            continue;
        }
        let band = CreditBand {
            from,
            to,
            to_included,
            permille: permille.unwrap_or(0),
            alert,
        };
        band_fits(&row, &band, bands.last());
        bands.push(band);
    }
    table.done();
    CreditPolicy {
        law,
        bands,
        unlogged_permille: unlogged.unwrap_or(0),
    }
}

/// Holds a band against itself and the colder one before it.
fn band_fits(row: &Table<'_>, band: &CreditBand, colder: Option<&CreditBand>) {
    if let (Some(from), Some(to)) = (band.from, band.to)
        && from >= to
    {
        row.contradiction(
            "from",
            &from.trimmed(),
            format!("is not below the upper end {}", to.trimmed()),
            "write the colder end as from and the warmer end as to",
        );
    }
    if band.to_included && band.to.is_none() {
        row.contradiction(
            "to_included",
            "true",
            "names no upper end that could be included".to_owned(),
            "write to, or take the line out",
        );
    }
    let Some(colder) = colder else { return };
    let starts_late_enough = match (colder.to, band.from) {
        (Some(end), Some(from)) => from >= end,
        _ => false,
    };
    if !starts_late_enough {
        row.contradiction(
            "from",
            &band.from.map_or_else(String::new, Amount::trimmed),
            colder.to.map_or_else(
                || "overlaps the band before it, which has no upper end".to_owned(),
                |end| {
                    format!(
                        "overlaps the band before it, which ends at {}",
                        end.trimmed()
                    )
                },
            ),
            "put the bands in order, coldest first, each starting where the one before it ends",
        );
    }
}

fn reworks(tables: &[Table<'_>], recipe: &Recipe) -> Vec<Rework> {
    let mut list: Vec<Rework> = Vec::new();
    for table in tables {
        let code = table.code(&limits::CODE, Must).unwrap_or_default();
        let name = table.text(&limits::NAME, Must).unwrap_or_default();
        let level = table.whole(&limits::LEVEL, Must);
        let steps = branch(&table.tables("step", Must), false, recipe);
        let defects = table.words::<Defect>("defects", May);
        let bare = table.flag("bare");
        let rejoin = table.text(&limits::REJOIN, May);
        table.done();
        if let Some(level) = level.filter(|level| bare && *level < 4) {
            table.contradiction(
                "bare",
                "true",
                format!("takes the film off, and level {level} leaves it"),
                "write level = 4, or take the line out",
            );
        }
        if let Some(name) = rejoin.as_ref()
            && !recipe.steps.iter().any(|s| s.name == *name)
        {
            table.contradiction(
                "rejoin",
                name,
                "is no step of the main line".to_owned(),
                limits::REJOIN.fix,
            );
        }
        if !code.is_empty() && list.iter().any(|r| r.code == code) {
            table.contradiction(
                "code",
                &code,
                "is the code of an earlier rework too".to_owned(),
                "give each rework a code of its own",
            );
        }
        list.push(Rework {
            code,
            name,
            level: level.and_then(|n| u8::try_from(n).ok()).unwrap_or(0),
            defects,
            rejoin,
            bare,
            steps,
        });
    }
    list
}
