//! What the record says about pieces: facts and the entries that carry them.
//!
//! *Invariants*: an entry is one fact on one piece and surface (or on none) with the times it began and ended; it
//! never changes. Interval and dry clocks run from the end, the daily cap counts by the start.
//!
//! *Not here*: how a fact is stored (the ledger's own shapes) and what follows from it ([`super::standing`]).

use super::calendar::Day;
use super::material::Pour;
use super::words::{PieceKind, Reason, Rule, StepKind};
use crate::units::{Area, Film, Moment, Span, Speed, Volume};
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
    /// The lot in the cup, where it is sprayed as it comes from the can.
    pub lot: Option<String>,
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

/// A fact about the shop and no single piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ShopFact {
    /// The ledger was opened for the first time.
    Opened {
        /// The shop's name.
        name: String,
        /// Its named zone.
        zone: String,
        /// The hour at which its production day starts.
        day_start: u32,
        /// Whether it is a demo, for ever.
        demo: bool,
    },
    /// A room was declared.
    Room {
        /// Its name.
        name: String,
        /// Sampling interval; `None` for a room without readings.
        interval: Option<Span>,
        /// Thousandths of an hour that an hour after the newest reading is expected to count.
        forecast_permille: i64,
    },
    /// A data sheet was adopted.
    Material {
        /// Material code.
        code: String,
        /// Sheet revision.
        sheet: String,
        /// The file as it was read.
        text: String,
    },
    /// A recipe revision was adopted.
    Recipe {
        /// Recipe code.
        code: String,
        /// Revision.
        revision: u32,
        /// The file as it was read.
        text: String,
    },
    /// A lot was received and bound to a data sheet.
    Lot {
        /// The lot.
        lot: String,
        /// Material code.
        material: String,
        /// Sheet revision that it is bound to.
        sheet: String,
        /// Volume received.
        volume: Volume,
        /// End of its shelf life.
        expires: Option<NaiveDate>,
    },
    /// A mix was made.
    Mix {
        /// Its number.
        mix: u32,
        /// What people call it.
        name: String,
        /// What went in.
        parts: Vec<Pour>,
        /// The mix that was topped up.
        parent: Option<u32>,
    },
    /// A limit was entered.
    Ceiling {
        /// What it limits.
        what: String,
        /// Where or for whom it holds.
        scope: String,
        /// The figure in the record's unit.
        value: i64,
        /// The figure as it was typed.
        typed: String,
        /// On which basis it is held: average, lowest, ...
        basis: String,
        /// Where the figure comes from.
        source: String,
    },
    /// Air speeds over a booth's open face.
    Survey {
        /// The booth.
        booth: String,
        /// The readings.
        readings: Vec<Speed>,
        /// How many readings the grid has.
        wanted: u32,
        /// Instrument and its calibration date.
        instrument: String,
    },
    /// A file of climate readings was taken in.
    Climate {
        /// The room.
        room: String,
        /// Name of the file.
        file: String,
        /// SHA-256 of its bytes.
        hash: String,
        /// Readings taken over.
        rows: u32,
        /// First reading.
        from: Moment,
        /// Last reading.
        to: Moment,
    },
}

/// All that an entry can say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A fact about a piece.
    Piece(Fact),
    /// A fact about the shop.
    Shop(ShopFact),
    /// The corrected entry no longer counts.
    Void {
        /// Why.
        why: String,
    },
    /// A supervisor's word on a deviation of the corrected entry.
    Answered {
        /// Which rule's deviation.
        rule: Rule,
        /// The word.
        word: String,
    },
    /// The reason for a deviation, given after the deed.
    Explained {
        /// The reason.
        reason: Reason,
    },
}
