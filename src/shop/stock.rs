//! What happens to a lot besides going into a mix: further deliveries, uses that no coat tells of, counts, and where
//! what is left over ends.
//!
//! *Invariants*: what leaves the stock leaves it once, by one fact; a count changes nothing that was logged, it stands
//! beside it; a drum's clock runs from the moment it was started.
//!
//! *Not here*: how much that makes (the ledger's sums), what is said about it (`reports`).

use super::words::{Word, words};
use crate::units::{Mass, Share, Volume};

/// Where a lot lies when nobody says otherwise.
pub const STORE: &str = "store";

words!(
    /// What a material was used for.
    Purpose {
        /// It was sprayed or brushed as a part of the film.
        Coating = "coating",
        /// It thinned or slowed what was sprayed.
        Thinning = "thinning",
        /// Guns, lines, floors and hands.
        Cleaning = "cleaning",
        /// It was left in the pot and given up.
        LeftOver = "left over",
        /// Anything else.
        Other = "other use",
    }
);

words!(
    /// Which figures of a month are the shop's official ones.
    UseBasis {
        /// By what was logged.
        Log = "log",
        /// By what was counted and received.
        Stock = "stock",
    }
);

/// A fact about stock and waste.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StockFact {
    /// More of a lot came in after its first receipt.
    Delivered {
        /// The lot.
        lot: String,
        /// How much.
        volume: Volume,
        /// The delivery note or invoice.
        document: Option<String>,
        /// Where it was put.
        place: String,
    },
    /// Some of a lot was used without a coat: for cleaning, for a test, ...
    Issued {
        /// The lot.
        lot: String,
        /// How much.
        volume: Volume,
        /// What for.
        purpose: Purpose,
        /// Where it lay.
        place: String,
        /// The booth that it was used in, where it was one.
        booth: Option<String>,
        /// In words.
        note: Option<String>,
    },
    /// Some of a lot was carried to another place.
    Carried {
        /// The lot.
        lot: String,
        /// How much.
        volume: Volume,
        /// Where it lay.
        from: String,
        /// Where it lies now.
        to: String,
    },
    /// What is there was counted.
    Counted {
        /// Material code.
        material: String,
        /// The lot, where one lot alone was counted.
        lot: Option<String>,
        /// How much was there.
        volume: Volume,
        /// The month that the count closes, as `2026-03`; the next one begins with it.
        closes: Option<String>,
        /// How it was measured, in words.
        note: Option<String>,
    },
    /// A pot was closed: nothing more is taken from its mix.
    PotClosed {
        /// The mix.
        mix: u32,
        /// What was left in it.
        left: Volume,
        /// The waste drum that it went into; `None` where it went nowhere that was named.
        drum: Option<String>,
    },
    /// A waste drum was started: its clock runs from here.
    DrumStarted {
        /// Its name.
        drum: String,
        /// What goes in.
        contents: String,
        /// What it holds when full.
        capacity: Option<Volume>,
        /// Where it stands.
        place: Option<String>,
    },
    /// Something went into a waste drum.
    DrumFilled {
        /// The drum.
        drum: String,
        /// How much, by volume.
        volume: Option<Volume>,
        /// How much, by mass.
        mass: Option<Mass>,
        /// What it was and where it came from.
        what: String,
    },
    /// A drum's contents were analysed.
    DrumAnalysed {
        /// The drum.
        drum: String,
        /// Mass share of volatile organic compounds.
        voc: Share,
        /// Reference of the analysis.
        reference: String,
    },
    /// A drum left the shop.
    DrumShipped {
        /// The drum.
        drum: String,
        /// Its contents by weight.
        mass: Mass,
        /// Number of the manifest.
        manifest: Option<String>,
        /// Who took it.
        carrier: Option<String>,
    },
}

impl StockFact {
    /// The drum that it is about.
    pub fn drum(&self) -> Option<&str> {
        match self {
            Self::DrumStarted { drum, .. }
            | Self::DrumFilled { drum, .. }
            | Self::DrumAnalysed { drum, .. }
            | Self::DrumShipped { drum, .. } => Some(drum),
            Self::PotClosed { drum, .. } => drum.as_deref(),
            _ => None,
        }
    }
}

impl Purpose {
    /// The purpose of a part of a coat, by the kind of its material.
    pub const fn in_a_coat(kind: super::words::MaterialKind) -> Self {
        use super::words::MaterialKind as Kind;
        match kind {
            Kind::Thinner | Kind::Retarder => Self::Thinning,
            _ => Self::Coating,
        }
    }
}
