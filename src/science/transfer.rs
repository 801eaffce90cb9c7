//! Transfer efficiency: the shares that rules print for spray methods, shown for reference, and a measured one.
//!
//! *Invariants*: no figure of this table is a default anywhere; a shop's efficiency is entered or learned.
//!
//! *Not here*: VOC. All solvent in the cup is given off or ends in waste, whatever lands on the piece.

mod sheets;

use uom::si::f64::{Mass, Ratio};
use uom::si::mass::kilogram;
use uom::si::ratio::{percent, ratio};

use super::validity::{Outside, Range, range};

pub use sheets::SHEETS;

/// One printed transfer efficiency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Printed {
    /// The method.
    pub method: &'static str,
    /// The share of solids that the rule credits.
    pub share: f64,
    /// Where it is printed.
    pub source: &'static str,
}

const METAL: &str = "40 CFR 60 metal furniture rule, as adopted in Wisconsin NR 440.48 (cited from a stored excerpt)";
const PLASTIC: &str = "40 CFR 60 plastic parts rule, as adopted in Tennessee 1200-03-16-.57 (cited from a stored excerpt)";
const DISTRICT: &str = "SCAQMD and Utah R307-349 (cited from stored excerpts)";

/// Transfer efficiencies in rules for metal and plastic parts: regulatory figures for flat ware, not predictions for a
/// curved body or a slender neck, where they can be far lower.
pub static PRINTED: &[Printed] = &[
    Printed {
        method: "air-atomised",
        share: 0.25,
        source: METAL,
    },
    Printed {
        method: "airless",
        share: 0.25,
        source: METAL,
    },
    Printed {
        method: "air-assisted airless",
        share: 0.40,
        source: PLASTIC,
    },
    Printed {
        method: "manual electrostatic",
        share: 0.60,
        source: METAL,
    },
    Printed {
        method: "non-rotational automatic electrostatic",
        share: 0.70,
        source: METAL,
    },
    Printed {
        method: "rotating-head electrostatic",
        share: 0.80,
        source: METAL,
    },
    Printed {
        method: "dip or flow",
        share: 0.90,
        source: METAL,
    },
    Printed {
        method: "electrodeposition",
        share: 0.95,
        source: METAL,
    },
    Printed {
        method: "HVLP",
        share: 0.65,
        source: DISTRICT,
    },
];

/// The printed efficiency of a method, for reference only.
pub fn printed(method: &str) -> Option<&'static Printed> {
    PRINTED
        .iter()
        .find(|row| row.method.eq_ignore_ascii_case(method))
}

/// The transfer efficiency of a trial.
///
/// Symbols: `m` dry mass gained by the piece, `M` mass of coating sprayed, `w` its solids by mass. Valid for a result
/// up to 100 %.
/// Equation: `TE = m / (M w)`. Source: trade column on measuring transfer efficiency, cited from a stored excerpt.
/// Accuracy: part to part it varies much; one point of solids at 20 % moves it by 5 %.
/// It ignores solvent still in the film, which makes the piece too heavy: weigh it dry.
pub fn measured(gained: Mass, sprayed: Mass, solids: Ratio) -> Result<Ratio, Outside> {
    const GAINED: Range = range("mass gained", "kg", 0.0, 100.0, "coating on a piece");
    const SPRAYED: Range = range(
        "mass sprayed",
        "kg",
        1.0e-6,
        1_000.0,
        "something was sprayed",
    );
    const SOLIDS: Range = range("solids by mass", "%", 0.1, 100.0, "there must be solids");
    const SHARE: Range = range(
        "transfer efficiency",
        "1",
        0.0,
        1.0,
        "no more can land on the piece than was sprayed",
    );
    let m = GAINED.hold(gained.get::<kilogram>())?;
    let solid =
        SPRAYED.hold(sprayed.get::<kilogram>())? * SOLIDS.hold(solids.get::<percent>())? / 100.0;
    Ok(Ratio::new::<ratio>(SHARE.hold(m / solid)?))
}
