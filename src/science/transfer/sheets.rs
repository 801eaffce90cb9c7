//! The worksheet of transfer efficiency.

use super::{PRINTED, measured};
use crate::science::measure::{GRAMS, SHARE};
use crate::science::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};

/// The worksheet of transfer efficiency.
pub static SHEETS: &[Sheet] = &[Sheet {
    id: "transfer-efficiency",
    purpose: "The share of sprayed solids that lands on the piece, by weighing",
    source: "trade column on measuring transfer efficiency, cited from a stored excerpt",
    inputs: &[
        Input::amount(
            "gained",
            "dry mass that the piece gained",
            GRAMS,
            (0.0, 100_000.0),
            "5.2g",
        ),
        Input::amount(
            "sprayed",
            "mass of coating sprayed",
            GRAMS,
            (0.01, 1_000_000.0),
            "62g",
        ),
        Input::amount(
            "solids",
            "solids of the mix by mass",
            SHARE,
            (0.1, 100.0),
            "20%",
        ),
    ],
    compute: sheet,
}];

fn sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let efficiency = measured(
        inputs.get("gained")?,
        inputs.get("sprayed")?,
        inputs.get("solids")?,
    )?;
    let mut sheet = Worksheet::new("transfer efficiency", efficiency, SHARE)
        .step("transfer efficiency", "m / (M w)", efficiency, SHARE)
        .assumes("the piece was weighed dry; solvent left in the film makes the figure too high")
        .assumes("it says nothing about VOC: all solvent in the cup is given off or ends in waste");
    for row in PRINTED {
        sheet = sheet.assumes(format!(
            "for comparison, {}: {} % by {}; a figure for flat metal or plastic",
            row.method,
            (row.share * 100.0).round(),
            row.source
        ));
    }
    Ok(sheet)
}
