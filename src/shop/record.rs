//! What the record says about pieces: facts and the entries that carry them.
//!
//! *Invariants*: an entry is one fact on one piece and surface (or on none) with the times it began and ended; it
//! never changes. Interval and dry clocks run from the end, the daily cap counts by the start.
//!
//! *Not here*: how a fact is stored (the ledger's own shapes) and what follows from it ([`super::standing`]).

use super::calendar::Day;
use super::words::{PieceKind, StepKind};
use crate::units::{Area, Film, Moment, Volume};
use chrono::NaiveDate;

/// The number of a piece in the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PieceId(pub i64);

/// The number of an entry; entries are numbered from 1 in the order in which they were written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EntrySeq(pub i64);

/// A piece as it was taken in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPiece {
    /// Serial, never used twice.
    pub serial: String,
    /// Tag on the hook, where it differs from the serial.
    pub tag: Option<String>,
    /// Body, neck, ...
    pub kind: PieceKind,
    /// Model name of the shop.
    pub model: String,
    /// Recipe code.
    pub recipe: String,
    /// Recipe revision.
    pub revision: u32,
    /// Coated area.
    pub area: Area,
    /// Due date.
    pub due: Option<NaiveDate>,
    /// Serial of the other half of the pair.
    pub mate: Option<String>,
}

/// One coat, or a touch-up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CoatFact {
    /// The step that it belongs to.
    pub kind: StepKind,
    /// A touch-up wets the piece but is no coat of the recipe.
    pub touch_up: bool,
    /// Number of the mix in the cup.
    pub mix: Option<u32>,
    /// Amount that left the pot for this piece.
    pub amount: Option<Volume>,
    /// Wet film readings.
    pub wet: Vec<Film>,
    /// Initials of the supervisor whose word the mix needs.
    pub supervisor: Option<String>,
}

/// A fact about one piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fact {
    /// Taken in.
    Added(NewPiece),
    /// Hung at a place; what is `None` is not known.
    Placed {
        /// Rack.
        rack: Option<String>,
        /// Hook of the rack.
        hook: Option<u32>,
        /// Room.
        room: Option<String>,
    },
    /// A coat or touch-up.
    Coat(CoatFact),
    /// A sanding.
    Sanded {
        /// Scuff, level sand or final sand.
        kind: StepKind,
        /// Film taken off, where it was measured.
        removed: Option<Film>,
        /// Grit, with its scale.
        grit: Option<String>,
    },
    /// Any other deed of the recipe.
    Worked {
        /// Which.
        kind: StepKind,
    },
    /// A film gauge reading: it replaces all film before it.
    Gauged {
        /// The reading.
        film: Film,
    },
    /// Put on hold.
    Held {
        /// Why.
        why: String,
    },
    /// Hold lifted.
    Lifted {
        /// Why.
        why: String,
    },
    /// A note.
    Note {
        /// Its text.
        text: String,
    },
    /// Scrapped.
    Scrapped {
        /// Why.
        why: String,
    },
    /// Taken back from scrap.
    Restored {
        /// Why.
        why: String,
    },
}

impl Fact {
    /// Whether the deed leaves something wet.
    pub const fn wets(&self) -> bool {
        match self {
            Self::Coat(_) => true,
            Self::Worked { kind } => kind.wets(),
            _ => false,
        }
    }
}

/// A fact in its place: piece, surface, branch and times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its number.
    pub seq: EntrySeq,
    /// The piece.
    pub piece: PieceId,
    /// The surface; "whole" means all surfaces of the recipe.
    pub surface: String,
    /// 0 for the main line, else the number of the rework.
    pub branch: u32,
    /// When the deed began.
    pub began: Moment,
    /// When it ended.
    pub ended: Moment,
    /// When it was written.
    pub written: Moment,
    /// The production day of its start.
    pub day: Day,
    /// What happened.
    pub fact: Fact,
}
