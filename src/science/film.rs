//! The film: dry from wet, coats, spreading, sanding, the ledger of a piece and what it weighs.
//!
//! *Invariants*: dry film is counted on the flats; volume solids are a share of the mix as it is sprayed.
//!
//! *Not here*: which coats a piece has had, and what a recipe wants.

use uom::si::f64::{Length, Ratio};

use super::measure::{FILM, SHARE};
use super::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};

const FILM_SOURCE: &str = "arithmetic: volume of solids is conserved; stated so in ASTM D4414 practice \
     (from memory, to be confirmed)";

/// Dry film of a wet film.
///
/// Symbols: `wet` film as the comb reads it (m), `solids` by volume of the mix as sprayed (share).
/// Valid: wet reading taken before appreciable solvent loss; level film without pores.
/// Equation: `dry = wet * solids`. Source: conservation of volume. Accuracy: that of the reading, see
/// `film-ledger`. Ignores: shrinkage on mixing, porosity of the wood, edges.
pub fn dry_from_wet(wet: Length, solids: Ratio) -> Length {
    wet * solids
}

fn dry_film(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let wet: Length = inputs.get("wet")?;
    let solids: Ratio = inputs.get("solids")?;
    let dry = dry_from_wet(wet, solids);
    Ok(Worksheet::new("dry film", dry, FILM)
        .step("dry film", "wet x solids", dry, FILM)
        .assumes("the wet film was read before much solvent had left, on a level face"))
}

/// The worksheets of this subject.
pub static SHEETS: &[Sheet] = &[Sheet {
    id: "dry-film",
    purpose: "Dry film left by a wet film",
    source: FILM_SOURCE,
    inputs: &[
        Input::amount(
            "wet",
            "wet film as the comb reads it",
            FILM,
            (0.0, 1000.0),
            "120 um",
        ),
        Input::amount(
            "solids",
            "solids by volume of the mix as sprayed",
            SHARE,
            (0.0, 100.0),
            "12.5 %",
        ),
    ],
    compute: dry_film,
}];
