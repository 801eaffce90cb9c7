//! The worksheets of flammable liquids in store.

use uom::si::f64::{ThermodynamicTemperature, Volume};

use super::{
    CABINETS_IN_A_FIRE_AREA, Heated, Held, Stock, category, category_when_heated, hold_cabinet,
    hold_cabinet_california, hold_outside_cabinet,
};
use crate::science::measure::{CAN, NUMBER, TEMPERATURE};
use crate::science::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};

const ASK: &str =
    "the local fire code is often stricter; the local fire code official and the insurer decide";

const fn amount(name: &'static str, about: &'static str, example: &'static str) -> Input {
    Input::amount(name, about, CAN, (0.0, 100_000.0), example)
}

/// The worksheets of flammable liquids in store.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "flammable-category",
        purpose: "The category of a flammable liquid from its flash and boiling points",
        source: "29 CFR 1910.106(a), cited from a stored excerpt",
        inputs: &[
            Input::amount(
                "flash",
                "flash point, closed cup",
                TEMPERATURE,
                (-60.0, 300.0),
                "12.8C",
            ),
            Input::amount(
                "boiling",
                "boiling point; without it a low flash counts as category 1",
                TEMPERATURE,
                (-20.0, 500.0),
                "110C",
            )
            .or_unknown(),
            Input::amount(
                "used-at",
                "temperature at which it is used",
                TEMPERATURE,
                (-40.0, 200.0),
                "21C",
            )
            .or_unknown(),
        ],
        compute: category_sheet,
    },
    Sheet {
        id: "flammable-storage",
        purpose: "What stands in one cabinet, or outside cabinets, held against the limits",
        source: "29 CFR 1910.106 and California Title 8, 5533, cited from stored excerpts",
        inputs: &[
            Input::word(
                "place",
                "one cabinet by the federal rule or by California's, or outside cabinets in one fire area",
                &["cabinet", "cabinet-california", "outside"],
                "cabinet",
            ),
            amount("category-1", "category 1 there", "0gal").or("0L"),
            amount("category-2", "category 2 there", "55gal").or("0L"),
            amount("category-3", "category 3 there", "0gal").or("0L"),
            amount("category-4", "category 4 there", "0gal").or("0L"),
        ],
        compute: storage_sheet,
    },
];

fn category_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let flash: ThermodynamicTemperature = inputs.get("flash")?;
    let boiling: Option<ThermodynamicTemperature> = inputs.maybe("boiling")?;
    let found = category(flash, boiling)?;
    let number = found.map_or(0.0, |c| f64::from(c.number()));
    let mut sheet = Worksheet::new("category (0: none of them)", number, NUMBER)
        .step(
            "category",
            "1 flash < 23 C and boiling <= 35 C; 2 flash < 23 C; 3 flash <= 60 C; 4 flash <= 93 C",
            number,
            NUMBER,
        )
        .assumes("the older letter classes are not these categories")
        .caution(ASK);
    if boiling.is_none() {
        sheet = sheet.assumes("the boiling point is unknown, so a low flash counts as category 1");
    }
    if let Some(used_at) = inputs.maybe("used-at")? {
        sheet = match category_when_heated(flash, used_at)? {
            Heated::AsItIs => sheet.assumes("not used near its flash point in a way that changes its category"),
            Heated::AsFlashBelow100F => {
                sheet.caution("used within 30 F of its flash point it counts as one with a flash below 100 F (29 CFR 1910.106(a)); ask the safety lead")
            }
            Heated::AsCategoryThree => {
                sheet.caution("used within 30 F of its flash point it counts as category 3 (29 CFR 1910.106(a)); ask the safety lead")
            }
        };
    }
    Ok(sheet)
}

fn storage_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let stock = Stock {
        one: inputs.get("category-1")?,
        two: inputs.get("category-2")?,
        three: inputs.get("category-3")?,
        four: inputs.get("category-4")?,
    };
    let place = inputs.word("place")?;
    let held: Vec<Held> = match place {
        "cabinet-california" => hold_cabinet_california(&stock)?,
        "outside" => hold_outside_cabinet(&stock)?,
        _ => hold_cabinet(&stock)?,
    };
    let total: Volume = stock.one + stock.two + stock.three + stock.four;
    let mut sheet = Worksheet::new("all categories together", total, CAN).step(
        "together",
        "sum of the categories",
        total,
        CAN,
    );
    for row in held {
        sheet = sheet
            .step(row.what, "sum of its categories", row.amount, CAN)
            .at_most(
                &format!("{}, {}, {}", row.what, row.source, row.standing.words()),
                Some(row.amount),
                Some(row.limit),
                CAN,
            );
    }
    if place != "outside" {
        sheet = sheet.assumes(format!(
            "29 CFR 1910.106 sets no number of cabinets (from memory, to be confirmed); 29 CFR 1926.152, California and older editions of NFPA 30 have {CABINETS_IN_A_FIRE_AREA} in a fire area"
        ));
    }
    Ok(sheet.caution(ASK))
}
