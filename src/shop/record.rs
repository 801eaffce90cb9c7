//! What the record says about pieces: facts and the entries that carry them.
//!
//! *Invariants*: an entry is one fact on one piece and surface (or on none) with the times it began and ended; it
//! never changes. Interval and dry clocks run from the end, the daily cap counts by the start.
//!
//! *Not here*: how a fact is stored (the ledger's own shapes) and what follows from it ([`super::standing`]).

use super::alert::{AlertFact, HandOverFact};
use super::calendar::Day;
use super::duty::DutyFact;
use super::logger_file::LoggerFact;
use super::material::Pour;
use super::recipe::WHOLE;
use super::stock::StockFact;
use super::words::{Defect, Fit, PieceKind, Reason, Role, Rub, Rule, StepKind, Verdict};
use crate::units::{
    Area, Film, Humidity, Moment, Pressure, Share, Span, Speed, Temperature, Volume,
};
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
    pub pair: Option<String>,
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
    /// What a fill, a colour or a drop-fill records besides.
    pub more: CoatMore,
}

/// What some kinds of coat record besides the mix.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CoatMore {
    /// Batch of the colour formula.
    pub batch: Option<String>,
    /// The panel that the colour was held against.
    pub panel: Option<String>,
    /// Initials of who judged the colour by that panel.
    pub judged: Option<String>,
    /// The rub test on a filler.
    pub rub: Option<Rub>,
    /// Drops of a drop-fill.
    pub drops: Option<u32>,
    /// Where on the surface the drops are.
    pub place: Option<String>,
    /// Where it was sprayed; `None` for the room in which the piece hung, as in records that do not say.
    pub sprayed: Option<Sprayed>,
}

impl CoatMore {
    /// Whether nothing of it was recorded.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// The booth of a coat on a piece that hung in a room.
    pub fn sprayed_in<'a>(&'a self, room: Option<&'a str>) -> Option<&'a str> {
        match &self.sprayed {
            None => room,
            Some(Sprayed::Booth(booth)) => Some(booth),
            Some(Sprayed::NoBooth) => None,
        }
    }
}

/// Where a coat was sprayed, where that is not the room in which the piece hung.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sprayed {
    /// In a booth.
    Booth(String),
    /// In none that is known: the piece hung in a room that is no booth.
    NoBooth,
}

/// What a look at one place found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The surface.
    pub surface: String,
    /// Grade of the surface by how it is seen: A first, then B, C.
    pub grade: char,
    /// What is wrong; `None` when nothing was found there.
    pub defect: Option<Defect>,
    /// Size across, in um.
    pub size_um: Option<i64>,
    /// Where.
    pub place: Option<String>,
    /// What becomes of it.
    pub verdict: Verdict,
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
    /// Any other deed of the recipe, with no more to say than that it was done.
    Worked {
        /// Which.
        kind: StepKind,
    },
    /// White wood was looked at and taken in.
    Received {
        /// Final grit of the wood, with its scale.
        grit: Option<String>,
        /// Moisture content at each spot, of the dry mass.
        moisture: Vec<Share>,
        /// What the light table showed on a top.
        light_table: Option<String>,
        /// What becomes of the piece.
        verdict: Verdict,
    },
    /// Masked and hung.
    Masked {
        /// Kind of tape, and what it covers.
        tape: Option<String>,
    },
    /// One stage of buffing.
    Buffed {
        /// The wheel.
        wheel: Option<String>,
        /// The compound on it.
        compound: Option<String>,
    },
    /// A cure under a lamp.
    Lit {
        /// Dose in uJ/cm2.
        dose: Option<i64>,
        /// Peak irradiance in uW/cm2.
        peak: Option<i64>,
        /// The lamp.
        lamp: Option<String>,
    },
    /// Inspected, place by place.
    Inspected {
        /// The light box.
        light: Option<String>,
        /// What was found, in the order of looking.
        findings: Vec<Finding>,
    },
    /// Joined to its other half.
    Mated {
        /// Serial of the other half.
        with: String,
        /// The trial fit.
        fit: Option<Fit>,
        /// Glued, bolted, ...
        joint: Option<String>,
    },
    /// A deed was begun; it is ended by the deed itself.
    Begun {
        /// Which.
        kind: StepKind,
    },
    /// A begun deed was broken off before it was done to this piece.
    BrokenOff {
        /// Why.
        why: String,
    },
    /// A defect was seen.
    Flawed {
        /// What.
        defect: Defect,
        /// Size across, in um.
        size_um: Option<i64>,
        /// Where on the surface.
        place: Option<String>,
        /// A note.
        note: Option<String>,
    },
    /// A defect was mended without a rework: sanded out, left to harden, ...
    Mended {
        /// The entry that saw it.
        flaw: EntrySeq,
        /// How.
        how: String,
    },
    /// A rework was opened: the surface goes on by the rework's own steps.
    Reworked {
        /// Code of the rework in the recipe.
        rework: String,
        /// The defect that it mends.
        defect: Option<Defect>,
        /// Why.
        why: String,
    },
    /// Moved to another recipe or revision: from here on its steps hold.
    Reassigned {
        /// Recipe code.
        recipe: String,
        /// Revision.
        revision: u32,
        /// Why.
        why: String,
    },
    /// Its tag was replaced; the old one is retired.
    Tagged {
        /// The new tag; `None` when it has none for now.
        tag: Option<String>,
        /// Why.
        why: String,
    },
    /// It belongs to another half from now on.
    Paired {
        /// Serial of the other half; `None` when it has none for now.
        pair: Option<String>,
        /// Why.
        why: String,
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
    /// A deed of the recipe with nothing more said of it than that it was done. A mating is not told from here: it
    /// names the other half.
    pub fn plain(kind: StepKind) -> Self {
        match kind {
            StepKind::Receive => Self::Received {
                grit: None,
                moisture: Vec::new(),
                light_table: None,
                verdict: Verdict::Take,
            },
            StepKind::Mask => Self::Masked { tape: None },
            StepKind::Buff => Self::Buffed {
                wheel: None,
                compound: None,
            },
            StepKind::Inspect => Self::Inspected {
                light: None,
                findings: Vec::new(),
            },
            StepKind::Cure => Self::Lit {
                dose: None,
                peak: None,
                lamp: None,
            },
            kind if kind.sands() => Self::Sanded {
                kind,
                removed: None,
                grit: None,
            },
            kind if kind.wets() => Self::Coat(CoatFact {
                kind,
                touch_up: false,
                mix: None,
                lot: None,
                amount: None,
                wet: Vec::new(),
                supervisor: None,
                more: CoatMore::default(),
            }),
            kind => Self::Worked { kind },
        }
    }

    /// Whether the deed leaves something wet.
    pub const fn wets(&self) -> bool {
        match self {
            Self::Coat(_) => true,
            Self::Worked { kind } => kind.wets(),
            _ => false,
        }
    }

    /// The step of a recipe that the fact is a deed of; `None` for facts that are no deed.
    pub const fn step_kind(&self) -> Option<StepKind> {
        Some(match self {
            Self::Coat(c) => c.kind,
            Self::Sanded { kind, .. } | Self::Worked { kind } => *kind,
            Self::Received { .. } => StepKind::Receive,
            Self::Masked { .. } => StepKind::Mask,
            Self::Buffed { .. } => StepKind::Buff,
            Self::Lit { .. } => StepKind::Cure,
            Self::Inspected { .. } => StepKind::Inspect,
            Self::Mated { .. } => StepKind::Mate,
            _ => return None,
        })
    }
}

/// Whether what an entry says of `named` holds for `surface`: it names the whole piece, or the surface among others.
pub fn covers(named: &str, surface: &str) -> bool {
    named == WHOLE || named.split(',').any(|s| s.trim() == surface)
}

/// A fact in its place: piece, surface, branch and times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Its number.
    pub seq: EntrySeq,
    /// The piece.
    pub piece: PieceId,
    /// The surfaces, parted by commas; "whole" means all that the recipe has this step for.
    pub surface: String,
    /// The branch in which the piece stood when it was written: 0 for the main line, else the number of the rework.
    /// What the entry counts for follows from the record, so that a late or corrected entry finds its branch again.
    pub branch: u32,
    /// When the deed began.
    pub began: Moment,
    /// When it ended.
    pub ended: Moment,
    /// When it was written.
    pub written: Moment,
    /// The production day of its start.
    pub day: Day,
    /// Initials of who did it.
    pub person: String,
    /// Air where it was done, as it was noted with the deed.
    pub air: Option<Temperature>,
    /// Relative humidity where it was done, as it was noted with the deed.
    pub humidity: Option<Humidity>,
    /// What happened.
    pub fact: Fact,
}

/// A figure of a month: a mass, or with neither sheet nor substance the volume of a material.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// Material code.
    pub material: String,
    /// Sheet revision.
    pub sheet: Option<String>,
    /// CAS number and name of the substance.
    pub substance: Option<(String, String)>,
    /// Milligrams, or microlitres of a volume.
    pub value: i64,
}

/// A month as it was signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedMonth {
    /// The month, as `2026-03`.
    pub month: String,
    /// Number of the revision, from 1.
    pub revision: u32,
    /// The page as it was printed, line by line.
    pub text: String,
    /// The page as JSON.
    pub json: String,
    /// Its figures.
    pub figures: Vec<Figure>,
    /// Number of the newest action before the signature.
    pub actions: i64,
    /// Hash of that action.
    pub head: String,
}

/// What was left in a pot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PotLeft {
    /// How much.
    pub volume: Volume,
    /// Whether somebody measured it; else it is what the log leaves.
    pub measured: bool,
}

/// What was seen at a check of a booth.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BoothSeen {
    /// In words.
    pub note: Option<String>,
    /// Reading of the filter gauge with the fan running.
    pub gauge: Option<Pressure>,
    /// Whether new filters were put in before it: the reading is the clean one, from which the mark is counted.
    pub new_filters: bool,
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
        /// The delivery note or invoice.
        document: Option<String>,
        /// Where it was put, where that is not the store.
        place: Option<String>,
    },
    /// A lot was bound to another data sheet than at its receipt: a correction of all that was made of it.
    Rebound {
        /// The lot.
        lot: String,
        /// Sheet revision that it is bound to from now on.
        sheet: String,
        /// Why.
        why: String,
    },
    /// A mix was made.
    Mix {
        /// Its number.
        mix: u32,
        /// What people call it.
        name: String,
        /// What was poured in.
        parts: Vec<Pour>,
        /// The mix that was topped up.
        parent: Option<u32>,
        /// What was left of that one, which is a part of this one. `None` where nobody said, as in old entries.
        left: Option<PotLeft>,
        /// Where the lots lay, where that is not the store.
        place: Option<String>,
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
        /// Thousandths of it at which a word is said before.
        warn: Vec<i64>,
        /// The rule set that says what counts, where that is not the shop's own.
        rules: Option<String>,
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
    /// The exhaust of a booth stopped, and nobody knows its state until somebody has checked it.
    Outage {
        /// The booth.
        booth: String,
        /// When it stopped.
        from: Moment,
        /// When it ran again; `None` when that is not known.
        to: Option<Moment>,
    },
    /// A booth was checked before spraying.
    Checked {
        /// The booth.
        booth: String,
        /// What was seen.
        seen: BoothSeen,
    },
    /// Backups are written by themselves from now on, or no longer.
    Backups {
        /// How often; `None` for no longer.
        every: Option<Span>,
        /// The folder.
        folder: String,
        /// How many of this shop's are kept there.
        keep: u32,
        /// The ledger that the plan is for: a copy of it in another place keeps its hands off the folder.
        ledger: String,
    },
    /// The end of the record was lost, and the shop went on without it.
    Lost {
        /// First missing action.
        from: i64,
        /// Last missing action.
        to: i64,
        /// Hash of the last one, as the witness had seen it.
        hash: String,
        /// Why it goes on.
        why: String,
    },
    /// A month was signed.
    Signed(SignedMonth),
    /// Somebody was added to the people list, got another role, or left.
    Person {
        /// Initials.
        initials: String,
        /// The role from now on; `None` for somebody who left.
        role: Option<Role>,
    },
    /// Somebody's PIN was chosen anew, or taken away. The PIN itself is no part of the record.
    Pin {
        /// Whose.
        initials: String,
        /// Whether it was taken away by the owner of the file.
        reset: bool,
    },
    /// A named person looked at the clock and found it right.
    ClockConfirmed {
        /// What was doubted, in words.
        doubted: Vec<String>,
    },
    /// The clock was wrong while some actions were written.
    ClockCorrected {
        /// The first of them.
        from: i64,
        /// The last of them.
        to: i64,
        /// What must be added to their times.
        by: Span,
        /// Why.
        why: String,
    },
    /// A rule set was adopted: what counts as VOC, exempt and HAP from a date on.
    Rules {
        /// Its code.
        code: String,
        /// Its revision.
        revision: String,
        /// The file as it was read.
        text: String,
    },
    /// How the solvent book is kept.
    BookSetting {
        /// Which setting.
        name: String,
        /// What holds from now on.
        value: String,
        /// Where that comes from.
        source: String,
    },
    /// Stock and waste.
    Stock(StockFact),
    /// Checks and other deeds that come round, and what happened besides.
    Duty(DutyFact),
    /// How a climate logger writes was described, or a file of one was taken over.
    Logger(LoggerFact),
    /// Who is told of what, and who took note.
    Alert(AlertFact),
    /// A change of shifts.
    HandOver(HandOverFact),
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
