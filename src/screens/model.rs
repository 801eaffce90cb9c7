//! What the screens know: plain data, changed by `update` only and read by `view`.
//!
//! *Invariants*: pages lie on a stack above the floor, the top one has the keys; the mark on the floor names what it
//! lies on, so that a reload does not move it to another piece.

use super::ask::{Asked, Step};
use super::calls::Calls;
use super::keys::{Action, Mode};
use super::msg::{CardData, FloorData, Reopened};
use super::places::recipes::Sheet;
use super::places::{Place, Places, solvent};
use super::prompt::{Known, Output, Prompt};
use super::theme::Theme;
use crate::ledger::{ActionRow, Conflict, MixRow, Plan, PotLevel, Receipt, Seen, Target};
use crate::reports::ready::judged;
use crate::screens::msg::Preview;
use crate::shop::calendar::Calendar;
use crate::shop::record::PieceId;
use crate::shop::standing::PieceNow;
use crate::shop::words::{Defect, Outlook, Reason, Rule, StepKind, Word};
use crate::units::{Moment, System, Volume};
use std::collections::BTreeMap;

/// Facts that stay the same while the program runs.
#[derive(Debug, Clone)]
pub struct Shop {
    /// The shop's name.
    pub name: String,
    /// Whether the ledger is a demo.
    pub demo: bool,
    /// The shop's zone and production day.
    pub calendar: Calendar,
    /// This terminal.
    pub station: String,
    /// Units of the screens.
    pub system: System,
    /// How things are drawn.
    pub theme: Theme,
}

/// As of which moment the outlook is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AsOf {
    /// The present moment.
    Now,
    /// Today at 17:00.
    EndOfToday,
    /// Tomorrow at 07:00.
    TomorrowMorning,
    /// A moment that was typed.
    At(Moment),
}

impl AsOf {
    /// The next one.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Now => Self::EndOfToday,
            Self::EndOfToday => Self::TomorrowMorning,
            Self::TomorrowMorning | Self::At(_) => Self::Now,
        }
    }

    /// The moment, seen from `now`.
    pub fn moment(self, now: Moment, calendar: &Calendar) -> Moment {
        let text = match self {
            Self::Now => return now,
            Self::At(at) => return at,
            Self::EndOfToday => "today 17:00",
            Self::TomorrowMorning => "tomorrow 07:00",
        };
        calendar.read(text, now).unwrap_or(now)
    }
}

/// Which pieces are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// All.
    All,
    /// Those with one outlook.
    Only(Outlook),
}

impl Which {
    const ORDER: [Self; 4] = [
        Self::All,
        Self::Only(Outlook::Ready),
        Self::Only(Outlook::Waiting),
        Self::Only(Outlook::Held),
    ];

    /// The filter some places further on.
    #[must_use]
    pub fn step(self, by: usize) -> Self {
        let here = Self::ORDER.iter().position(|w| *w == self).unwrap_or(0);
        Self::ORDER
            .get((here + by) % Self::ORDER.len())
            .copied()
            .unwrap_or(Self::All)
    }

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Only(outlook) => outlook.word(),
        }
    }
}

/// In which order racks are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// By their names.
    Place,
    /// By their ready times, the earliest first.
    ReadyTime,
}

/// What lies under the mark.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// A rack; the empty name stands for pieces that hang on none.
    Rack(String),
    /// A piece.
    Piece(PieceId),
}

/// A line of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Row {
    /// A rack's heading.
    Rack(Box<RackHead>),
    /// A piece, by its place in the floor's data.
    Piece(usize, PieceId),
}

impl Row {
    /// What the mark would name here.
    pub fn mark(&self) -> Mark {
        match self {
            Self::Rack(head) => Mark::Rack(head.rack.clone()),
            Self::Piece(_, id) => Mark::Piece(*id),
        }
    }
}

/// What a rack's heading says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RackHead {
    /// Its name; empty for pieces that hang on no rack.
    pub rack: String,
    /// Pieces on it.
    pub pieces: usize,
    /// The outlook of its latest piece, held pieces left aside.
    pub outlook: Outlook,
    /// When its latest piece is ready, held pieces left aside.
    pub ready_at: Option<Moment>,
    /// Whether that time is provisional.
    pub provisional: bool,
    /// Serial of the piece that the rack waits for.
    pub latest: Option<String>,
    /// How many are ready without waiting for the latest.
    pub ready: usize,
    /// How many are held.
    pub held: usize,
    /// How many cannot be told.
    pub unknown: usize,
    /// `mixed: 17 at 5, 7 at 4`, when the coat counts differ.
    pub mixed: Option<String>,
}

/// Coats of the kind that a piece is in: the kind, how many, and how many the recipe has.
pub fn coats(now: &PieceNow, seen: &Seen) -> (StepKind, u32, u32) {
    let sites: Vec<_> = now.current(&seen.recipe).collect();
    let last = sites.iter().find_map(|s| s.standing.last_wet_kind);
    let kind = seen
        .view
        .kind
        .filter(|k| k.wets())
        .or(last)
        .unwrap_or(StepKind::Clear);
    // The surface that is furthest behind speaks for the piece.
    let (done, planned) = sites
        .iter()
        .filter(|s| s.planned(kind) > 0)
        .map(|s| (s.standing.coats(s.steps, kind), s.planned(kind)))
        .min_by_key(|(done, planned)| planned.saturating_sub(*done) == 0)
        .unwrap_or((0, 0));
    (kind, done, planned)
}

fn head(rack: &str, pieces: &[&Seen]) -> RackHead {
    let mut counts: BTreeMap<(StepKind, u32), usize> = BTreeMap::new();
    for seen in pieces {
        let (kind, done, _) = coats(&seen.now, seen);
        *counts.entry((kind, done)).or_insert(0) += 1;
    }
    let one_kind = counts
        .keys()
        .map(|(k, _)| k)
        .collect::<std::collections::BTreeSet<_>>()
        .len()
        == 1;
    let mixed = (counts.len() > 1).then(|| {
        let mut parts: Vec<(usize, StepKind, u32)> =
            counts.iter().map(|((k, n), c)| (*c, *k, *n)).collect();
        parts.sort_by_key(|(count, _, coat)| (usize::MAX - count, *coat));
        let parts: Vec<String> = parts
            .into_iter()
            .map(|(count, kind, coat)| {
                if one_kind {
                    format!("{count} at {coat}")
                } else {
                    format!("{count} at {} {coat}", kind.word())
                }
            })
            .collect();
        format!("mixed: {}", parts.join(", "))
    });
    let count = |o: Outlook| pieces.iter().filter(|s| s.view.outlook == o).count();
    let judged = judged(pieces);
    RackHead {
        rack: rack.to_owned(),
        pieces: pieces.len(),
        outlook: judged.outlook,
        ready_at: judged.ready_at,
        provisional: judged.latest.is_some_and(|s| s.view.provisional),
        latest: judged.latest.map(|s| s.now.piece.serial.clone()),
        ready: count(Outlook::Ready),
        held: count(Outlook::Held),
        unknown: count(Outlook::Unknown),
        mixed,
    }
}

/// The name of the rack on which a piece hangs; empty for none.
pub fn rack_of(seen: &Seen) -> &str {
    seen.rack().unwrap_or_default()
}

/// Cells of the widest text of each column of the floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Widest {
    /// Serials.
    pub serial: u16,
    /// Kinds of piece.
    pub kind: u16,
    /// Models.
    pub model: u16,
    /// Next steps.
    pub next: u16,
    /// Films.
    pub figure: u16,
    /// Ready times.
    pub from: u16,
}

/// The floor: what the ledger answered and how it is looked at.
#[derive(Debug, Clone)]
pub struct Floor {
    /// The answer; `None` until the first one.
    pub data: Option<FloorData>,
    /// The widest texts in it.
    pub widest: Widest,
    /// The list as it is shown.
    pub rows: Vec<Row>,
    /// Place of the mark in the list.
    pub cursor: usize,
    /// Which pieces are listed.
    pub which: Which,
    /// The text that is looked for.
    pub find: String,
    /// Whether that text is being typed.
    pub finding: bool,
    /// The order of the racks.
    pub order: Order,
}

impl Floor {
    /// An empty floor.
    pub const fn new() -> Self {
        Self {
            data: None,
            widest: Widest {
                serial: 0,
                kind: 0,
                model: 0,
                next: 0,
                figure: 0,
                from: 0,
            },
            rows: Vec::new(),
            cursor: 0,
            which: Which::All,
            find: String::new(),
            finding: false,
            order: Order::Place,
        }
    }

    /// The pieces that the ledger answered.
    pub fn seen(&self) -> &[Seen] {
        self.data.as_ref().map_or(&[], |d| &d.seen)
    }

    /// The piece in a row.
    pub fn piece(&self, row: usize) -> Option<&Seen> {
        match self.rows.get(row)? {
            Row::Piece(at, _) => self.seen().get(*at),
            Row::Rack(_) => None,
        }
    }

    /// The piece under the mark.
    pub fn marked(&self) -> Option<&Seen> {
        self.piece(self.cursor)
    }

    /// The pieces on a rack.
    pub fn on_rack<'a>(&'a self, rack: &'a str) -> impl Iterator<Item = &'a Seen> {
        self.seen().iter().filter(move |s| rack_of(s) == rack)
    }

    /// How many pieces have an outlook.
    pub fn count(&self, outlook: Outlook) -> usize {
        self.seen()
            .iter()
            .filter(|s| s.view.outlook == outlook)
            .count()
    }

    /// Makes the list anew and leaves the mark on what it was on, where that is still listed.
    pub fn arrange(&mut self) {
        let mark = self.rows.get(self.cursor).map(Row::mark);
        self.rows = self.list();
        let again = mark.and_then(|m| self.rows.iter().position(|r| r.mark() == m));
        self.cursor = again
            .unwrap_or(self.cursor)
            .min(self.rows.len().saturating_sub(1));
    }

    fn list(&self) -> Vec<Row> {
        let mut racks: BTreeMap<&str, Vec<(usize, &Seen)>> = BTreeMap::new();
        for (at, seen) in self.seen().iter().enumerate() {
            racks.entry(rack_of(seen)).or_default().push((at, seen));
        }
        let mut groups: Vec<(RackHead, Vec<(usize, &Seen)>)> = racks
            .into_iter()
            .map(|(rack, pieces)| {
                let all: Vec<&Seen> = pieces.iter().map(|(_, s)| *s).collect();
                (head(rack, &all), pieces)
            })
            .collect();
        match self.order {
            // Pieces on no rack come last.
            Order::Place => groups.sort_by_key(|(h, _)| h.rack.is_empty()),
            Order::ReadyTime => {
                groups.sort_by_key(|(h, _)| (h.ready_at.is_none(), h.ready_at));
                for (_, pieces) in &mut groups {
                    pieces.sort_by_key(|(_, s)| (s.view.ready_at.is_none(), s.view.ready_at));
                }
            }
        }
        let find = self.find.to_lowercase();
        let mut rows = Vec::new();
        for (head, pieces) in groups {
            let listed: Vec<Row> = pieces
                .into_iter()
                .filter(|(_, s)| match self.which {
                    Which::All => true,
                    Which::Only(outlook) => s.view.outlook == outlook,
                })
                .filter(|(_, s)| find.is_empty() || holds(s, &find))
                .map(|(at, s)| Row::Piece(at, s.now.id))
                .collect();
            if !listed.is_empty() {
                rows.push(Row::Rack(Box::new(head)));
                rows.extend(listed);
            }
        }
        rows
    }
}

impl Default for Floor {
    fn default() -> Self {
        Self::new()
    }
}

fn holds(seen: &Seen, find: &str) -> bool {
    seen.texts().iter().any(|t| t.to_lowercase().contains(find))
}

/// A piece's card.
#[derive(Debug, Clone)]
pub struct Card {
    /// The piece.
    pub serial: String,
    /// The answer; `None` until it is there.
    pub data: Option<Box<CardData>>,
    /// First line shown.
    pub scroll: usize,
    /// Whether the working of one of its figures is shown in its place.
    pub working: bool,
    /// Which figure that is, counted from 0.
    pub figure: usize,
}

/// A deed by its key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeedKey {
    /// A coat.
    Coat,
    /// A sanding.
    Sand,
    /// The next step's other work.
    Work,
    /// A defect that was seen.
    Defect,
}

/// A number that is typed beside the line that would be saved; the line changes with every digit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Figure {
    /// The minutes since the deed ended.
    Minutes,
    /// The hook of a piece that was not worked on.
    Skip,
    /// The hooks that were worked on: the last one, or the first and the last.
    Hooks,
    /// The hook of the piece that has a defect.
    Flawed,
    /// How much went through the gun in all.
    Amount,
}

/// How far the logging of a deed has come.
#[derive(Debug, Clone)]
pub enum Stage {
    /// What was done?
    Choose,
    /// Which defect?
    Code,
    /// The line that would be saved is shown, or asked for.
    Confirm,
    /// The minutes since the deed are being typed.
    Minutes(String),
    /// The same coat, or another?
    Same(Conflict),
    /// Somebody else logged this coat.
    Taken(Conflict),
    /// The ledger is writing.
    Saving,
    /// It is saved.
    Done(Box<Done>),
}

/// A saved deed.
#[derive(Debug, Clone)]
pub struct Done {
    /// The receipt.
    pub receipt: Receipt,
    /// Whether it was there already and nothing was added.
    pub already: bool,
    /// The reason given for its deviations.
    pub reason: Option<Reason>,
}

/// The logging of one deed.
#[derive(Debug, Clone)]
pub struct Log {
    /// Whom it was done to.
    pub target: Target,
    /// How far it has come.
    pub stage: Stage,
    /// What was done.
    pub deed: Option<DeedKey>,
    /// Kind of the other work.
    pub work: Option<StepKind>,
    /// The defect that was seen.
    pub defect: Option<Defect>,
    /// The surface that it was seen on; `None` for the whole piece.
    pub surface: Option<String>,
    /// When the draft was opened; the deed ended so many minutes before.
    pub opened: Moment,
    /// Minutes since the deed ended.
    pub minutes: i64,
    /// Whether pieces with an objection of their own are taken along.
    pub everyone: bool,
    /// Pieces that were not worked on.
    pub skipped: Vec<String>,
    /// The number that is being typed beside the line.
    pub figure: Option<(Figure, String)>,
    /// The mix in the cup.
    pub mix: Option<u32>,
    /// The booth in which it was sprayed, where somebody said it.
    pub booth: Option<String>,
    /// How much of it went through the gun in all, where somebody said it.
    pub amount: Option<Volume>,
    /// Said to be another coat.
    pub another: bool,
    /// The coat that was first shown as the next one.
    pub expects: Option<u32>,
    /// Identity of the draft, once it has one.
    pub draft: Option<String>,
    /// What would be saved, and what is to be read beside it.
    pub shown: Option<Box<Preview>>,
    /// Enter came before the line was there: it is saved on arrival when nothing speaks against it.
    pub eager: bool,
    /// First line shown.
    pub scroll: usize,
}

impl Log {
    /// A deed on a target, nothing chosen yet.
    pub const fn new(target: Target, opened: Moment, mix: Option<u32>) -> Self {
        Self {
            target,
            stage: Stage::Choose,
            deed: None,
            work: None,
            defect: None,
            surface: None,
            opened,
            minutes: 0,
            everyone: false,
            skipped: Vec::new(),
            figure: None,
            mix,
            booth: None,
            amount: None,
            another: false,
            expects: None,
            draft: None,
            shown: None,
            eager: false,
            scroll: 0,
        }
    }

    /// What would be saved, once the ledger said so.
    pub fn plan(&self) -> Option<&Plan> {
        self.shown.as_ref().map(|s| &s.plan)
    }

    /// Whether something would be lost that was not saved.
    pub const fn unsaved(&self) -> bool {
        !matches!(self.stage, Stage::Choose | Stage::Code | Stage::Done(_))
    }

    /// The target in words.
    pub fn whom(&self) -> String {
        match &self.target {
            Target::Rack(rack, None) => format!("Rack {rack}"),
            Target::Rack(rack, Some((a, b))) => format!("Rack {rack} hooks {a}-{b}"),
            Target::Pieces(list) => list.join(", "),
        }
    }
}

/// What to go on with when the initials are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Then {
    /// The deed of this key.
    Deed(DeedKey),
    /// The undo.
    Undo,
    /// Nothing: the terminal was handed over.
    Stay,
    /// Another mix, or a top-up of the one in the cup.
    Mix {
        /// What is done.
        work: MixWork,
    },
    /// The question of this key.
    Ask(Action),
}

/// What is done at the mixing bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MixWork {
    /// The same again.
    Again,
    /// More of it is poured onto what is left.
    TopUp,
    /// Its pot is closed.
    Close,
}

/// Another mix like the newest one, as its volume is being typed.
#[derive(Debug, Clone)]
pub struct Mixing {
    /// The mix that it is like.
    pub like: MixRow,
    /// What is done with it.
    pub work: MixWork,
    /// The volume in the unit of the screens: in all, or what is left; the empty text is the volume of the other, or what the
    /// log leaves.
    pub typed: String,
    /// What the log leaves in the pot that is to be closed, and how many deeds from it have no amount; `None` until the ledger
    /// answered.
    pub pot: Option<(PotLevel, u32)>,
}

/// What a supervisor's word is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WordOn {
    /// The hold of a piece is lifted.
    Lift {
        /// Its serial.
        serial: String,
    },
    /// A deviation is answered.
    Answer {
        /// Its entry.
        entry: i64,
        /// Its rule.
        rule: Rule,
        /// What it says.
        text: String,
    },
}

/// Which part of it is being typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asking {
    /// The word itself.
    Word,
    /// Whose it is.
    Initials,
    /// The PIN of that person.
    Pin,
}

/// A supervisor's word as it is being typed.
#[derive(Debug, Clone)]
pub struct Spoken {
    /// What it is about.
    pub on: WordOn,
    /// The word.
    pub word: String,
    /// Whose it is.
    pub initials: String,
    /// The PIN.
    pub pin: String,
    /// Which part is being typed.
    pub asking: Asking,
}

/// A page or a question; the top one has the keys.
#[derive(Debug, Clone)]
pub enum Page {
    /// A piece's card.
    Card(Card),
    /// Logging.
    Log(Box<Log>),
    /// The help page, with the mode it was opened from.
    Help {
        /// First line shown.
        scroll: usize,
    },
    /// Whose initials?
    Initials {
        /// What was typed.
        typed: String,
        /// What comes then.
        then: Then,
    },
    /// A supervisor's word on the card below.
    Word(Box<Spoken>),
    /// How much of another mix?
    Mixing(Box<Mixing>),
    /// A deed of the solvent book.
    Book(Box<solvent::Form>),
    /// Take this back?
    Undo {
        /// The action.
        action: Box<ActionRow>,
        /// Why it was not taken back: others built on it.
        built_on: Option<String>,
    },
    /// A question that is typed at the bottom.
    Ask(Box<Asked>),
    /// A recipe or a data sheet, alone or beside another revision.
    Sheet(Sheet),
    /// A command is being typed.
    Command(Prompt),
    /// A command runs, or ran.
    Output(Output),
    /// Where to?
    Go,
    /// Leave with a draft open?
    Quit,
    /// Re-enter a draft of an earlier run?
    Fate(Box<Reopened>),
}

impl Page {
    /// The first line shown, on pages that scroll.
    pub fn scroll_mut(&mut self) -> Option<&mut usize> {
        Some(match self {
            Self::Card(card) => &mut card.scroll,
            Self::Log(log) => &mut log.scroll,
            Self::Help { scroll } => scroll,
            Self::Ask(asked) => &mut asked.scroll,
            Self::Book(form) => &mut form.scroll,
            Self::Sheet(sheet) => &mut sheet.scroll,
            Self::Output(output) => &mut output.scroll,
            _ => return None,
        })
    }
}

/// A tag that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    /// What it says.
    pub text: String,
    /// When it was read.
    pub at: Moment,
    /// What was said to it at once.
    pub said: Option<Note>,
}

/// A line for the person at the terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Note {
    /// What happened.
    Said(String),
    /// What went wrong.
    Fault(String),
}

/// All that the screens know.
#[derive(Debug, Clone)]
pub struct Model {
    /// Facts that stay the same.
    pub shop: Shop,
    /// Initials of the person at the terminal.
    pub person: Option<String>,
    /// The present moment, as the driver last said it.
    pub now: Moment,
    /// Columns and rows of the terminal.
    pub size: (u16, u16),
    /// As of which moment the outlook is asked.
    pub as_of: AsOf,
    /// The place that lies at the bottom of the pages.
    pub place: Place,
    /// What the places beside the floor know.
    pub places: Places,
    /// The floor: every place finds its racks and pieces in it.
    pub floor: Floor,
    /// What the command line knows.
    pub command: Known,
    /// The scan line.
    pub scan: String,
    /// What the first start put on the scan line: Enter opens it, and any other key begins anew.
    pub offered: bool,
    /// What the scanner read last, while no key was pressed since.
    pub read: Option<Read>,
    /// The pages above it.
    pub stack: Vec<Page>,
    /// The message line.
    pub note: Option<Note>,
    /// What is worth telling anybody, with the rules that say whom.
    pub worth_telling: Calls,
    /// What is called out to the person at this terminal, the newest first.
    pub calls: Vec<crate::alerts::Line>,
    /// Number of the newest query.
    pub ticket: u64,
    /// Number of the floor query whose answer is wanted.
    pub floor_ticket: u64,
    /// Number of the page query whose answer is wanted.
    pub page_ticket: u64,
    /// Number of the place query whose answer is wanted.
    pub place_ticket: u64,
    /// Number of the command whose answer is wanted.
    pub command_ticket: u64,
}

impl Model {
    /// A model before the first answer.
    pub const fn new(shop: Shop, person: Option<String>, now: Moment) -> Self {
        Self {
            shop,
            person,
            now,
            size: (80, 24),
            as_of: AsOf::Now,
            place: Place::Floor,
            places: Places::new(),
            floor: Floor::new(),
            command: Known::new(),
            scan: String::new(),
            offered: false,
            read: None,
            stack: Vec::new(),
            note: None,
            worth_telling: Calls::NONE,
            calls: Vec::new(),
            ticket: 0,
            floor_ticket: 0,
            page_ticket: 0,
            place_ticket: 0,
            command_ticket: 0,
        }
    }

    /// The moment that the outlook is asked for.
    pub fn at(&self) -> Moment {
        self.as_of.moment(self.now, &self.shop.calendar)
    }

    /// What the keys mean at the moment.
    pub fn mode(&self) -> Mode {
        match self.stack.last() {
            None if self.place == Place::Recipes && self.places.recipes.finding => Mode::Seek,
            None if self.floor.finding => Mode::Filter,
            None | Some(Page::Card(_)) if !self.scan.is_empty() => Mode::Scan,
            None => self.place.mode(),
            Some(Page::Go) => Mode::Go,
            Some(Page::Ask(asked)) => match asked.step {
                Step::Typing | Step::Looking => Mode::Ask,
                Step::Shown(_) => Mode::Agree,
                Step::Saving => Mode::Saving,
            },
            Some(Page::Card(card)) if card.working => Mode::Working,
            Some(Page::Sheet(Sheet { against: None, .. })) => Mode::Sheet,
            Some(Page::Sheet(_)) => Mode::Beside,
            Some(Page::Command(_)) => Mode::Command,
            Some(Page::Output(Output { ran: None, .. })) => Mode::Running,
            Some(Page::Output(_)) => Mode::Output,
            Some(Page::Card(_)) => Mode::Card,
            Some(Page::Log(log)) => match &log.stage {
                Stage::Choose | Stage::Confirm if log.figure.is_some() => Mode::Figure,
                Stage::Choose => Mode::Choose,
                Stage::Code => Mode::Defect,
                Stage::Confirm => Mode::Confirm,
                Stage::Minutes(_) => Mode::Minutes,
                Stage::Same(_) => Mode::Same,
                Stage::Taken(_) => Mode::Taken,
                Stage::Saving => Mode::Saving,
                Stage::Done(done)
                    if !done.receipt.deviations.is_empty() && done.reason.is_none() =>
                {
                    Mode::Why
                }
                Stage::Done(_) => Mode::Receipt,
            },
            Some(Page::Help { .. }) => Mode::Help,
            Some(Page::Initials { .. }) => Mode::Initials,
            Some(Page::Word(spoken)) if spoken.asking == Asking::Pin => Mode::Pin,
            Some(Page::Word(_)) => Mode::Word,
            Some(Page::Mixing(_)) => Mode::Mixing,
            Some(Page::Book(form)) => form.mode(),
            Some(Page::Undo { built_on: None, .. }) => Mode::Undo,
            Some(Page::Undo { .. }) => Mode::UndoAnyway,
            Some(Page::Quit) => Mode::Quit,
            Some(Page::Fate(_)) => Mode::Fate,
        }
    }

    /// The logging that is open, wherever it lies on the stack.
    pub fn log(&self) -> Option<&Log> {
        self.stack.iter().rev().find_map(|p| match p {
            Page::Log(log) => Some(&**log),
            _ => None,
        })
    }

    /// The logging that is open, to be changed.
    pub fn log_mut(&mut self) -> Option<&mut Log> {
        self.stack.iter_mut().rev().find_map(|p| match p {
            Page::Log(log) => Some(&mut **log),
            _ => None,
        })
    }

    /// The card that is open, to be changed.
    pub fn card_mut(&mut self) -> Option<&mut Card> {
        self.stack.iter_mut().rev().find_map(|p| match p {
            Page::Card(card) => Some(card),
            _ => None,
        })
    }
}
