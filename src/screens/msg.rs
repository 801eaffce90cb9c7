//! What comes to the model, and what it asks for: both are data, so that `update` can be tested without a terminal
//! or a ledger.

use super::calls::Calls;
use super::keys::Key;
use super::model::WordOn;
use super::places::solvent::{Ask, SignPage, Wish};
use super::places::{Place, PlaceData};
use super::prompt::{Errand, Ran};
use crate::ledger::{
    ActionRow, Claim, DeedRequest, DeedWhat, DeviationRow, Draft, DraftFate, EntryRow, Fixed,
    Included, MixRow, Outcome, Plan, PotLevel, Seen, Shelf, SolventLeft, Spread, Target, Who,
};
use crate::reports::life::{AirCourse, DayRow, FilmCourse};
use crate::reports::workings::Working;
use crate::shop::alert::AlertKey;
use crate::shop::cautions::Caution;
use crate::shop::material::Pour;
use crate::shop::words::Reason;
use crate::units::{Moment, Span, System, Volume};
use std::sync::Arc;

/// The floor at a moment, as the ledger answered.
#[derive(Debug, Clone)]
pub struct FloorData {
    /// The moment that was asked for.
    pub at: Moment,
    /// Every piece in process, in the order of their places; what is worth telling of them is asked for with the same list.
    pub seen: Arc<Vec<Seen>>,
    /// How many deviations are open.
    pub deviations: usize,
    /// The mixes within reach of a key, newest first.
    pub mixes: Vec<MixRow>,
    /// What lies on the shelves.
    pub shelf: Shelf,
    /// Why the clock is not believed, in one line; `None` while it is confirmed.
    pub doubted: Option<String>,
    /// What holds for the place of the ledger, one line each.
    pub place: Vec<String>,
}

/// A piece's card, as the ledger answered.
#[derive(Debug, Clone)]
pub struct CardData {
    /// The moment that was asked for.
    pub at: Moment,
    /// The piece and the judgement on it.
    pub seen: Seen,
    /// When it would be ready by the average day of its room, where its time is a forecast.
    pub spread: Option<Spread>,
    /// Its entries in the order in which they were written.
    pub entries: Vec<EntryRow>,
    /// Its deviations, the answered and moot ones too.
    pub deviations: Vec<DeviationRow>,
    /// What to mention when it is sprayed.
    pub cautions: Vec<&'static Caution>,
    /// Its film after each deed, surfaces of one life together.
    pub film: Vec<FilmCourse>,
    /// Its production days.
    pub days: Vec<DayRow>,
    /// The air since its last wet coat.
    pub air: Option<AirCourse>,
    /// The solvent that is left in its films, where its recipe has a model.
    pub solvent: Vec<SolventLeft>,
    /// How its figures were made: what each is, and its worksheets or why there is none.
    pub workings: Vec<(String, Result<Working, String>)>,
}

/// What a deed would come to.
#[derive(Debug, Clone)]
pub struct Preview {
    /// The plan.
    pub plan: Plan,
    /// Identity of its draft.
    pub draft: String,
    /// The booths that the shop named, in order, where it is a coat.
    pub booths: Vec<String>,
    /// The cautions that are due at it and were not read today, as lines.
    pub cautions: Vec<String>,
    /// The command that shows them and writes down that they were read.
    pub read: String,
}

/// A deed as the screen wants it; the identity of its draft is given by the store.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    /// Who and where.
    pub who: Who,
    /// Whom it was done to.
    pub target: Target,
    /// What was done.
    pub what: DeedWhat,
    /// The surface that it was done on; `None` for those that the recipe has it for.
    pub surface: Option<String>,
    /// When it ended. A deed without a start counts as one of an instant.
    pub ended: Moment,
    /// Pieces with an objection of their own.
    pub included: Included,
    /// Pieces of the rack that were not worked on.
    pub skipped: Vec<String>,
    /// The coat that was shown as the next one.
    pub expects: Option<u32>,
    /// Said to be another coat.
    pub another: bool,
    /// Identity of the draft, once it has one.
    pub draft: Option<String>,
}

impl Wanted {
    /// The request that the ledger understands.
    pub fn request(&self) -> DeedRequest {
        let mut request = DeedRequest::new(
            self.who.clone(),
            self.target.clone(),
            self.what.clone(),
            self.ended,
        );
        if let Some(surface) = &self.surface {
            request.surface.clone_from(surface);
        }
        request.included = self.included.clone();
        request.skipped.clone_from(&self.skipped);
        request.expects = self.expects;
        request.another = self.another;
        if let Some(draft) = &self.draft {
            request.draft.clone_from(draft);
        }
        request
    }
}

/// What a deed of a question would save.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Looked {
    /// The deed, with the identity of its draft.
    pub wanted: Wanted,
    /// The one line that repeats what will be saved.
    pub line: String,
    /// What stays as it is and why, and what changes from here on.
    pub beside: Vec<String>,
}

/// How more came than anybody types.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flood {
    /// The terminal says that it was pasted.
    Pasted,
    /// The terminal said that a paste begins, and not that it ends.
    Unended,
    /// Keys without a pause.
    Keys,
}

/// Something that happened.
#[derive(Debug, Clone)]
pub enum Msg {
    /// The present moment.
    Now(Moment),
    /// The size of the terminal.
    Size(u16, u16),
    /// A key.
    Key(Key),
    /// Characters that came too fast for fingers, ended by Enter or Tab: a scanner.
    Burst(String),
    /// Characters that came too fast for fingers, and no Enter after them: half of what a scanner read.
    Half(String),
    /// A text that the terminal says was pasted.
    Pasted(String),
    /// So many characters came, more than anybody types.
    TooMuch(usize, Flood),
    /// Another process wrote to the ledger.
    Changed,
    /// The floor, by the number of its query.
    Floor(u64, Result<Box<FloorData>, String>),
    /// What is worth telling of a floor, by the number of its query.
    Called(u64, Result<Box<Calls>, String>),
    /// What a place shows, by the number of its query.
    Place(u64, Result<Box<PlaceData>, String>),
    /// Nothing was written since the plan that is known, by the number of the query.
    PlanStands(u64),
    /// A card, by the number of its query.
    Card(u64, Result<Box<CardData>, String>),
    /// What would be saved, with the identity of the draft.
    Previewed(u64, Result<Box<Preview>, String>),
    /// What the deed of a question would save.
    Looked(u64, Result<Box<Looked>, String>),
    /// What the log leaves in a pot, and how many deeds from it have no amount.
    Pot(u64, Result<(PotLevel, u32), String>),
    /// What came of the deed of a question, in words.
    Did(Result<String, String>),
    /// Where a page was written.
    PageWritten(Result<String, String>),
    /// What came of a save.
    Saved(Result<Box<Outcome>, String>),
    /// What an undo would take back, and why the newer one stays where it does.
    UndoLooked(Result<(Option<Box<ActionRow>>, Option<String>), String>),
    /// What an undo took back.
    Undone(Result<Box<Fixed>, String>),
    /// A reason was kept.
    Explained(Result<Reason, String>),
    /// The word needs the PIN of whose it is.
    PinAsked,
    /// A mix was made; what is said of it.
    Mixed(Result<String, String>),
    /// What came of a command that was typed, by its number.
    Ran(u64, Box<Ran>),
    /// A supervisor's word was kept; what is said of it.
    WordKept(Result<String, String>),
    /// The page of a month that is to be signed.
    SignLooked(Result<Box<SignPage>, String>),
    /// What came of a deed of the solvent book.
    BookKept(Result<String, String>),
    /// Something is called out that the person at the terminal was not told of before.
    Ring,
    /// An alert was taken note of; what is said of it.
    Noted(Result<String, String>),
    /// What became of the draft of an earlier run.
    Fate(Option<Box<DraftFate>>),
    /// A fault that belongs to no page.
    Fault(String),
    /// The program is told to end.
    End,
}

/// Something that the model asks the driver to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Effect {
    /// Ask for the floor.
    LoadFloor {
        /// Number of the query.
        ticket: u64,
        /// As of which moment.
        at: Moment,
    },
    /// Ask for what is worth telling of the floor that was answered last.
    LoadCalls {
        /// Number of that query.
        ticket: u64,
    },
    /// Ask for what a place shows.
    LoadPlace {
        /// Number of the query.
        ticket: u64,
        /// The place.
        place: Place,
        /// As of which moment.
        at: Moment,
        /// Units of its figures.
        system: System,
    },
    /// Ask for the plan, which takes its time.
    LoadPlan {
        /// Number of the query.
        ticket: u64,
        /// As of which moment.
        at: Moment,
        /// Whether that is the present one.
        now: bool,
        /// The newest action of the plan that is known: where none was written since, that one stands.
        known: Option<i64>,
    },
    /// Ask for a piece's card.
    LoadCard {
        /// Number of the query.
        ticket: u64,
        /// The piece.
        serial: String,
        /// As of which moment.
        at: Moment,
    },
    /// Ask what would be saved, and keep it as the draft.
    Preview {
        /// Number of the query.
        ticket: u64,
        /// The deed.
        wanted: Box<Wanted>,
    },
    /// Ask what the deed of a question would save, and keep it as the draft.
    Look {
        /// Number of the query.
        ticket: u64,
        /// The deed.
        wanted: Box<Wanted>,
        /// Units of what is said of it.
        system: System,
    },
    /// Save the deed of a question.
    Do(Box<Wanted>),
    /// Write a page to be printed.
    WritePage {
        /// Its name.
        name: String,
        /// Its lines.
        lines: Vec<String>,
    },
    /// Save a deed.
    Save(Box<Wanted>),
    /// Ask what an undo would take back.
    LookUndo(Who),
    /// Take back an action.
    Undo {
        /// Who asks.
        who: Who,
        /// The action that was shown.
        action: i64,
        /// Although others built on it.
        anyway: bool,
    },
    /// Keep the reason for the deviations of some entries.
    Explain {
        /// Who gives it.
        who: Who,
        /// The entries.
        entries: Vec<i64>,
        /// The reason.
        reason: Reason,
    },
    /// Keep a supervisor's word.
    Word {
        /// Whose it is, and who typed it.
        who: Who,
        /// What it is about.
        on: WordOn,
        /// The word.
        word: String,
        /// The PIN, once it was asked for.
        pin: Option<String>,
    },
    /// Asks what the log leaves in the pot of a mix.
    LookPot {
        /// Number of the question.
        ticket: u64,
        /// The mix.
        mix: u32,
    },
    /// Closes the pot of a mix.
    ClosePot {
        /// By whom.
        who: Who,
        /// The mix.
        mix: u32,
        /// What was measured to be left; `None` for what the log leaves.
        left: Option<Volume>,
    },
    /// Makes a mix.
    Mix {
        /// Who makes it.
        who: Who,
        /// What people call it.
        name: String,
        /// What goes in.
        parts: Vec<Pour>,
        /// The mix that it tops up.
        parent: Option<u32>,
    },
    /// Ask for a page of the solvent book.
    OpenBook {
        /// Number of the query.
        ticket: u64,
        /// As of which moment.
        at: Moment,
        /// The page.
        ask: Box<Ask>,
    },
    /// Ask for the page of a month that is to be signed.
    LookSign {
        /// The month.
        month: String,
        /// Whose signature it would be, where that is known.
        person: Option<String>,
        /// Units of the page.
        system: System,
    },
    /// Do a deed of the solvent book.
    Book {
        /// Whose it is, and who typed it.
        who: Who,
        /// The deed.
        wish: Box<Wish>,
        /// The PIN, once it was asked for.
        pin: Option<String>,
        /// Units of what is printed or signed.
        system: System,
    },
    /// Run a command in a process of its own.
    Run {
        /// Number of the command.
        ticket: u64,
        /// Whose initials it is run under.
        person: Option<String>,
        /// The clock that a demo runs it at.
        at: Option<String>,
        /// Columns and lines that the page has for its answer.
        room: (u16, u16),
        /// The command.
        errand: Errand,
    },
    /// Stop the command that runs.
    StopRun,
    /// Claim who is told by the bell.
    Ring {
        /// Who is at the terminal.
        who: Who,
        /// Of what.
        claims: Vec<Claim>,
    },
    /// Ring the terminal's bell.
    Bell,
    /// Take note of alerts.
    TakeNote {
        /// Who does.
        who: Who,
        /// Of which.
        keys: Vec<AlertKey>,
    },
    /// Put an alert off.
    PutOff {
        /// Who does not want to hear of it for now.
        who: Who,
        /// Which.
        key: AlertKey,
        /// For how long.
        span: Span,
    },
    /// Forget the draft.
    DropDraft,
    /// End the program.
    Quit,
}

/// A draft of an earlier run, opened again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reopened {
    /// The draft.
    pub draft: Draft,
    /// The deed in it.
    pub wanted: Wanted,
}
