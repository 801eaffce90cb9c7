//! The keys: one table of (mode, key) -> action, from which the help line and the help page are made.
//!
//! *Invariants*: one key or one digit a time, no chords besides the way out; no action lies only on a key that some
//! terminals do not send. On the floor a small letter acts, and anything else begins the scan line, so a rack whose
//! name begins with such a letter is typed with a capital.
//!
//! *Not here*: what an action does (`update`), reading the keyboard (`driver`).

use super::places::Place;
use super::places::solvent::Act;

/// A key as the screens know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Key {
    /// A character.
    Char(char),
    /// Enter, however the terminal or a scanner sends it.
    Enter,
    /// Escape.
    Esc,
    /// Tab.
    Tab,
    /// Tab backwards.
    BackTab,
    /// Arrow up.
    Up,
    /// Arrow down.
    Down,
    /// A page up.
    PageUp,
    /// A page down.
    PageDown,
    /// To the top.
    Home,
    /// To the end.
    End,
    /// Rubs out the last character.
    Backspace,
    /// A function key.
    F(u8),
    /// Control and C.
    Interrupt,
}

/// What the keys mean at the moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mode {
    /// Every place and the card, besides their own keys.
    Anywhere,
    /// The floor, with an empty scan line.
    Floor,
    /// The booth.
    Booth,
    /// The shift.
    Shift,
    /// The solvent book.
    Solvent,
    /// The air.
    Air,
    /// Recipes and materials.
    Recipes,
    /// The wall.
    Wall,
    /// Quality.
    Quality,
    /// The plan.
    Plan,
    /// A recipe or a data sheet.
    Sheet,
    /// Two revisions of one beside each other.
    Beside,
    /// The text that recipes and materials are searched for is being typed.
    Seek,
    /// A command is being typed.
    Command,
    /// A command runs.
    Running,
    /// What a command said.
    Output,
    /// Where to?
    Go,
    /// A question that is answered by typing.
    Ask,
    /// What the answer would save is shown.
    Agree,
    /// A place or the card, with something on the scan line.
    Scan,
    /// The filter text is being typed.
    Filter,
    /// A piece's card.
    Card,
    /// How one of the card's figures was made.
    Working,
    /// A rack or piece is chosen, the deed is not.
    Choose,
    /// The line that would be saved is shown.
    Confirm,
    /// The minutes since the deed are being typed.
    Minutes,
    /// A number is being typed beside the line that would be saved.
    Figure,
    /// Which defect?
    Defect,
    /// How much of another mix?
    Mixing,
    /// The same coat, or another?
    Same,
    /// Somebody else logged this coat.
    Taken,
    /// The ledger is writing.
    Saving,
    /// The receipt of a deed.
    Receipt,
    /// The receipt of a deed outside its recipe: why?
    Why,
    /// The initials are being typed.
    Initials,
    /// A supervisor's word is being typed: why, and by whom.
    Word,
    /// The PIN for it is being typed.
    Pin,
    /// A deed of the solvent book is being typed.
    Book,
    /// The page of a month that is to be signed is shown.
    Sign,
    /// What would be undone is shown.
    Undo,
    /// Others built on what would be undone.
    UndoAnyway,
    /// A draft is open: leave it?
    Quit,
    /// A draft of an earlier run was not saved.
    Fate,
    /// The help page.
    Help,
}

impl Mode {
    /// The mode whose keys hold besides its own.
    pub const fn within(self) -> Option<Self> {
        match self {
            Self::Floor
            | Self::Booth
            | Self::Shift
            | Self::Solvent
            | Self::Air
            | Self::Recipes
            | Self::Wall
            | Self::Quality
            | Self::Plan
            | Self::Card => Some(Self::Anywhere),
            _ => None,
        }
    }
}

/// What a key does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    /// One line up.
    Up,
    /// One line down.
    Down,
    /// One page up.
    PageUp,
    /// One page down.
    PageDown,
    /// To the top.
    Top,
    /// To the end.
    Bottom,
    /// Plans anew.
    Anew,
    /// Goes to a place.
    Go(Place),
    /// Asks where to go.
    Where,
    /// Asks who is at the terminal.
    Who,
    /// Takes note of the alert that is shown.
    TakeNote,
    /// Puts off the alert at the top.
    PutOff,
    /// Opens the command line.
    Command,
    /// Completes what is being typed.
    Complete,
    /// The line of the history before.
    LineBefore,
    /// The line of the history after.
    LineAfter,
    /// Puts another revision beside the one that is marked or open.
    Compare,
    /// Holds an older revision against it.
    Older,
    /// Holds a newer revision against it.
    Newer,
    /// Shows only what differs, or all.
    Differing,
    /// Opens what is chosen or typed.
    Open,
    /// Starts typing the filter text.
    Filter,
    /// The next filter.
    NextFilter,
    /// The filter before.
    FilterBefore,
    /// Sorts by place or by ready time.
    Sort,
    /// Asks as of another moment.
    AsOf,
    /// Asks as of a moment that is typed.
    AskTime,
    /// The next part of a list.
    NextPart,
    /// The part before.
    PartBefore,
    /// Puts a piece or a rack on hold.
    Hold,
    /// Hangs some pieces of a rack elsewhere.
    Split,
    /// Moves a piece or a rack to another rack or room.
    Move,
    /// Moves pieces to another recipe revision.
    Reassign,
    /// Writes the list as a page to print.
    Print,
    /// Shows what would be undone.
    Undo,
    /// The help page.
    Help,
    /// Leaves the program.
    Quit,
    /// Back to where it came from.
    Back,
    /// A key of the solvent book.
    Book(Act),
    /// Logs a coat.
    Coat,
    /// Logs a sanding.
    Sand,
    /// Logs the next step's other work.
    Work,
    /// Shows how the card's figures were made, or the card again.
    Working,
    /// To the card's next section.
    NextSection,
    /// To the card's section before.
    SectionBefore,
    /// Shows the working of the figure with a digit.
    Figure,
    /// Lifts the hold of the card's piece.
    Lift,
    /// Answers an open deviation of the card's piece.
    Answer,
    /// Starts typing the minutes since the deed.
    Minutes,
    /// Begins the minutes since the deed with this digit.
    Digit,
    /// Names a hook whose piece was not worked on.
    Skip,
    /// Begins the amount that went through the gun.
    Amount,
    /// Names the hooks that were worked on.
    Hooks,
    /// Makes the same mix again.
    Mix,
    /// Tops up the mix in the cup.
    TopUp,
    /// Closes the pot of the newest mix.
    ClosePot,
    /// Shows the cautions that are due at the booth, and writes down that they were read.
    ReadCautions,
    /// Logs a defect.
    Flaw,
    /// The defect of this key.
    Code,
    /// Takes along, or leaves out, the pieces with an objection of their own.
    Everyone,
    /// The mix before.
    MixBefore,
    /// The mix after.
    MixAfter,
    /// The next booth in which a coat can be booked.
    NextBooth,
    /// Says yes to what is shown.
    Yes,
    /// Logs another coat.
    Another,
    /// Gives the reason of a digit.
    Reason,
    /// Rubs out the last character.
    Erase,
    /// Adds the typed character.
    Type,
}

/// Which keys a line of the table is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Press {
    /// This key.
    Key(Key),
    /// A digit from 1 to 9.
    Digit,
    /// Any character that no earlier line of the mode takes.
    Text,
}

impl Press {
    fn takes(self, key: Key) -> bool {
        match (self, key) {
            (Self::Key(wanted), _) => wanted == key,
            (Self::Digit, Key::Char(c)) => ('1'..='9').contains(&c),
            (Self::Text, Key::Char(_)) => true,
            _ => false,
        }
    }
}

/// One line of the table.
#[derive(Debug, Clone, Copy)]
pub struct Binding {
    /// When it holds.
    pub mode: Mode,
    /// For which key.
    pub press: Press,
    /// How the key is written.
    pub shown: &'static str,
    /// What it does.
    pub action: Action,
    /// The word on the help line; empty for a second key of the same action.
    pub word: &'static str,
    /// The sentence on the help page.
    pub says: &'static str,
}

const fn on(
    mode: Mode,
    key: Key,
    shown: &'static str,
    action: Action,
    word: &'static str,
    says: &'static str,
) -> Binding {
    Binding {
        mode,
        press: Press::Key(key),
        shown,
        action,
        word,
        says,
    }
}

const fn text(mode: Mode, shown: &'static str, word: &'static str, says: &'static str) -> Binding {
    Binding {
        mode,
        press: Press::Text,
        shown,
        action: Action::Type,
        word,
        says,
    }
}

use Action as A;
use Key as K;
use Mode as M;

/// The table. Within a mode the first line that takes a key wins, and the help line keeps this order.
pub const TABLE: &[Binding] = &[
    on(
        M::Anywhere,
        K::Char('u'),
        "u",
        A::Undo,
        "undo",
        "shows your last action that can be taken back, and takes it back when you say so",
    ),
    on(
        M::Anywhere,
        K::Char('g'),
        "g",
        A::Where,
        "go to",
        "asks where to go; the function keys go there at once",
    ),
    on(
        M::Anywhere,
        K::Char(':'),
        ":",
        A::Command,
        "",
        "opens a line for any command of the program, run as yourself at this station",
    ),
    on(M::Anywhere, K::Char('?'), "?", A::Help, "help", "this page"),
    on(
        M::Anywhere,
        K::Char('i'),
        "i",
        A::Who,
        "who",
        "asks who is at the terminal, when it is handed over",
    ),
    on(
        M::Anywhere,
        K::Char('!'),
        "!",
        A::TakeNote,
        "",
        "marks the alert at the top as seen: no terminal shows it to you again",
    ),
    on(
        M::Anywhere,
        K::Char('z'),
        "z",
        A::PutOff,
        "",
        "puts off the alert at the top: for 30 minutes no terminal shows it to you",
    ),
    on(M::Anywhere, K::F(1), "F1", A::Help, "", ""),
    on(
        M::Anywhere,
        K::F(2),
        "F2",
        A::Go(Place::Booth),
        "",
        "goes to the booth: what to spray next",
    ),
    on(
        M::Anywhere,
        K::F(3),
        "F3",
        A::Go(Place::Floor),
        "",
        "goes to the floor: every piece by rack and hook",
    ),
    on(
        M::Anywhere,
        K::F(4),
        "F4",
        A::Go(Place::Shift),
        "",
        "goes to the shift: what can be done by when, and what stands in the way",
    ),
    on(
        M::Anywhere,
        K::F(5),
        "F5",
        A::Go(Place::Solvent),
        "",
        "goes to the solvent book: the month against its limits, and the checks",
    ),
    on(
        M::Anywhere,
        K::F(6),
        "F6",
        A::Go(Place::Air),
        "",
        "goes to the air of the rooms and booths",
    ),
    on(
        M::Anywhere,
        K::F(7),
        "F7",
        A::Go(Place::Recipes),
        "",
        "goes to recipes and materials",
    ),
    on(
        M::Anywhere,
        K::F(8),
        "F8",
        A::Go(Place::Wall),
        "",
        "goes to the wall: for a screen across the room",
    ),
    on(
        M::Anywhere,
        K::F(9),
        "F9",
        A::Go(Place::Quality),
        "",
        "goes to quality: defects by what stood behind them, reworks, charts of film and amount",
    ),
    on(
        M::Anywhere,
        K::F(10),
        "F10",
        A::Go(Place::Plan),
        "",
        "goes to the plan: what each rack reaches when, hooks by day, missed dates, halves that wait",
    ),
    on(
        M::Anywhere,
        K::Char('q'),
        "q",
        A::Quit,
        "quit",
        "leaves the program",
    ),
    on(M::Anywhere, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(M::Anywhere, K::Up, "Up", A::Up, "", ""),
    on(M::Anywhere, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Anywhere, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Anywhere, K::Home, "Home", A::Top, "", ""),
    on(M::Anywhere, K::End, "End", A::Bottom, "", ""),
    on(M::Anywhere, K::Esc, "Esc", A::Back, "", ""),
    text(
        M::Anywhere,
        "scan",
        "",
        "scanning or typing a rack or a serial puts it on the scan line; start with a capital or a digit",
    ),
    on(
        M::Go,
        K::Char('b'),
        "b",
        A::Go(Place::Booth),
        "booth",
        "goes to the booth: what to spray next",
    ),
    on(M::Go, K::F(2), "F2", A::Go(Place::Booth), "", ""),
    on(
        M::Go,
        K::Char('f'),
        "f",
        A::Go(Place::Floor),
        "floor",
        "goes to the floor: every piece by rack and hook",
    ),
    on(M::Go, K::F(3), "F3", A::Go(Place::Floor), "", ""),
    on(
        M::Go,
        K::Char('s'),
        "s",
        A::Go(Place::Shift),
        "shift",
        "goes to the shift: what can be done by when, and what stands in the way",
    ),
    on(M::Go, K::F(4), "F4", A::Go(Place::Shift), "", ""),
    on(
        M::Go,
        K::Char('m'),
        "m",
        A::Go(Place::Solvent),
        "month",
        "goes to the solvent book: the month against its limits, and the checks",
    ),
    on(M::Go, K::F(5), "F5", A::Go(Place::Solvent), "", ""),
    on(
        M::Go,
        K::Char('a'),
        "a",
        A::Go(Place::Air),
        "air",
        "goes to the air of the rooms and booths",
    ),
    on(M::Go, K::F(6), "F6", A::Go(Place::Air), "", ""),
    on(
        M::Go,
        K::Char('r'),
        "r",
        A::Go(Place::Recipes),
        "recipes",
        "goes to recipes and materials",
    ),
    on(M::Go, K::F(7), "F7", A::Go(Place::Recipes), "", ""),
    on(
        M::Go,
        K::Char('w'),
        "w",
        A::Go(Place::Wall),
        "wall",
        "goes to the wall: for a screen across the room",
    ),
    on(M::Go, K::F(8), "F8", A::Go(Place::Wall), "", ""),
    on(
        M::Go,
        K::Char('q'),
        "q",
        A::Go(Place::Quality),
        "quality",
        "goes to quality: defects by what stood behind them, reworks, charts of film and amount",
    ),
    on(M::Go, K::F(9), "F9", A::Go(Place::Quality), "", ""),
    on(
        M::Go,
        K::Char('p'),
        "p",
        A::Go(Place::Plan),
        "plan",
        "goes to the plan: what each rack reaches when, hooks by day, missed dates, halves that wait",
    ),
    on(M::Go, K::F(10), "F10", A::Go(Place::Plan), "", ""),
    on(
        M::Go,
        K::Char(':'),
        ":",
        A::Command,
        "command",
        "opens a line for any command of the program",
    ),
    on(M::Go, K::Esc, "Esc", A::Back, "stay", "stays here"),
    on(M::Go, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Booth,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens what the mark is on",
    ),
    on(
        M::Booth,
        K::Char('n'),
        "n",
        A::Mix,
        "mix",
        "makes the newest mix again: how much in all, then Enter; no number is as much as before",
    ),
    on(
        M::Booth,
        K::Char('t'),
        "t",
        A::TopUp,
        "add",
        "pours more of the same onto what is left of the newest mix: how much is poured, then Enter; its age counts from the oldest part",
    ),
    on(
        M::Booth,
        K::Char('e'),
        "e",
        A::ClosePot,
        "end",
        "closes the pot of the newest mix: how much is left in it, then Enter; without a number what the log leaves",
    ),
    on(
        M::Booth,
        K::Char('r'),
        "r",
        A::ReadCautions,
        "read",
        "shows the cautions of the booth and the newest mix that nobody read today, as many as the page holds, and writes down that you read those; again for the rest",
    ),
    on(
        M::Booth,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark, or the page",
    ),
    on(
        M::Shift,
        K::Tab,
        "Tab",
        A::NextPart,
        "part",
        "shows the next part of the list: work, behind or queued, held, deviations, half-done, pairs, rooms",
    ),
    on(M::Shift, K::BackTab, "Shift-Tab", A::PartBefore, "", ""),
    on(
        M::Shift,
        K::Char('l'),
        "l",
        A::Lift,
        "lift",
        "lifts the hold of the marked piece: a supervisor's word, with the PIN where one is set",
    ),
    on(
        M::Shift,
        K::Char('h'),
        "h",
        A::Hold,
        "hold",
        "puts the marked piece or rack on hold, with a reason",
    ),
    on(
        M::Shift,
        K::Char('a'),
        "a",
        A::Answer,
        "answer",
        "answers the marked deviation, with the PIN where one is set",
    ),
    on(
        M::Shift,
        K::Char('x'),
        "x",
        A::Split,
        "split",
        "divides the marked rack: the pieces that block it go to another rack, or the hooks that are typed",
    ),
    on(
        M::Shift,
        K::Char('v'),
        "v",
        A::Move,
        "move",
        "moves the marked piece or rack to another rack or room",
    ),
    on(
        M::Shift,
        K::Char('r'),
        "r",
        A::Reassign,
        "recipe",
        "moves the marked piece or rack to another recipe revision; what changes is shown first",
    ),
    on(
        M::Shift,
        K::Char('t'),
        "t",
        A::AsOf,
        "time",
        "asks as of now, the end of today or tomorrow morning; deeds always take the present time",
    ),
    on(
        M::Shift,
        K::Char('n'),
        "n",
        A::AskTime,
        "at",
        "asks as of a moment that is typed",
    ),
    on(
        M::Shift,
        K::Char('p'),
        "p",
        A::Print,
        "print",
        "writes the day's list as a text file beside the ledger, to be printed for the hook board",
    ),
    on(
        M::Shift,
        K::Char('/'),
        "/",
        A::Filter,
        "find",
        "shows only rows whose pieces, racks, models, recipes or next steps hold a text",
    ),
    on(
        M::Shift,
        K::Char('f'),
        "f",
        A::NextFilter,
        "filter",
        "shows all rows, or only ready, waiting or held ones, in turn",
    ),
    on(
        M::Shift,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens the rack or piece that the mark is on",
    ),
    on(
        M::Shift,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark; Page Up, Page Down, Home and End move further",
    ),
    on(
        M::Solvent,
        K::Enter,
        "Enter",
        A::Book(Act::Open),
        "open",
        "opens what the marked figure is made of: by material, by lot and mix, by entry, and the entry's working",
    ),
    on(
        M::Solvent,
        K::Char(']'),
        "[ ]",
        A::Book(Act::MonthAfter),
        "month",
        "the month before, or after",
    ),
    on(
        M::Solvent,
        K::Char('['),
        "[",
        A::Book(Act::MonthBefore),
        "",
        "",
    ),
    on(
        M::Solvent,
        K::Char('r'),
        "r",
        A::Book(Act::Receipt),
        "receipt",
        "enters a receipt: lot, material, amount, and the end of its shelf life where there is one",
    ),
    on(
        M::Solvent,
        K::Char('s'),
        "s",
        A::Book(Act::Count),
        "count",
        "enters a count of the stock: a material or a lot, and how much is there; at the turn of a month it closes the month",
    ),
    on(
        M::Solvent,
        K::Char('w'),
        "w",
        A::Book(Act::Waste),
        "waste",
        "enters what went into a waste drum: the drum, how much, what it was",
    ),
    on(
        M::Solvent,
        K::Char('c'),
        "c",
        A::Book(Act::Close),
        "close",
        "shows the page of a month that is over; Enter signs it, with the PIN where one is set",
    ),
    on(
        M::Solvent,
        K::Char('l'),
        "l",
        A::Book(Act::Limit),
        "limit",
        "enters the limit of the marked figure, or how often the marked check is to be done, with the PIN where one is set",
    ),
    on(
        M::Solvent,
        K::Char('b'),
        "b",
        A::Book(Act::Check),
        "check",
        "records that the marked booth was looked at, and what was seen",
    ),
    on(
        M::Solvent,
        K::Char('p'),
        "p",
        A::Book(Act::Print),
        "print",
        "writes what is shown to a new file",
    ),
    on(
        M::Solvent,
        K::Char('x'),
        "x",
        A::Book(Act::Export),
        "export",
        "writes the whole record to a new folder, for an inspector or another program",
    ),
    on(
        M::Solvent,
        K::Char('t'),
        "t",
        A::Book(Act::Twelve),
        "twelve",
        "the same of the twelve months that end with the month, and back",
    ),
    on(
        M::Solvent,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark, or the page",
    ),
    on(
        M::Solvent,
        K::Esc,
        "Esc",
        A::Book(Act::Up),
        "up",
        "one level up again, from the book to the floor",
    ),
    on(
        M::Air,
        K::Down,
        "Up Down",
        A::Down,
        "choose",
        "chooses the room or booth; PgUp and PgDn scroll what is below",
    ),
    on(
        M::Air,
        K::Char('k'),
        "k",
        A::Working,
        "working",
        "shows how the figures of the marked room or booth were made, and the air again",
    ),
    on(
        M::Recipes,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark, or the page",
    ),
    on(
        M::Recipes,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens what the mark is on",
    ),
    on(
        M::Recipes,
        K::Char('/'),
        "/",
        A::Filter,
        "find",
        "shows only what holds a text: a code, a name, a step, a substance, a hazard, a lot",
    ),
    on(
        M::Recipes,
        K::Char('c'),
        "c",
        A::Compare,
        "compare",
        "puts the revision before it beside the marked one",
    ),
    on(
        M::Seek,
        K::Enter,
        "Enter",
        A::Yes,
        "keep",
        "keeps the list as it is",
    ),
    on(
        M::Seek,
        K::Esc,
        "Esc",
        A::Back,
        "drop",
        "drops the text and lists everything",
    ),
    on(M::Seek, K::Up, "Up", A::Up, "", ""),
    on(
        M::Seek,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark while the text stays",
    ),
    on(
        M::Seek,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(M::Seek, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(
        M::Seek,
        "letters",
        "",
        "are looked for in everything that a recipe or a data sheet says",
    ),
    on(
        M::Sheet,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the sheet",
    ),
    on(
        M::Sheet,
        K::Char('c'),
        "c",
        A::Compare,
        "compare",
        "puts the revision before it beside it",
    ),
    on(
        M::Sheet,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back to the list",
    ),
    on(M::Sheet, K::Char('?'), "?", A::Help, "help", "this page"),
    on(M::Sheet, K::F(1), "F1", A::Help, "", ""),
    on(M::Sheet, K::Char('q'), "q", A::Back, "", ""),
    on(M::Sheet, K::Enter, "Enter", A::Back, "", ""),
    on(M::Sheet, K::Up, "Up", A::Up, "", ""),
    on(M::Sheet, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Sheet, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Sheet, K::Home, "Home", A::Top, "", ""),
    on(M::Sheet, K::End, "End", A::Bottom, "", ""),
    on(M::Sheet, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Beside,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls both revisions",
    ),
    on(
        M::Beside,
        K::Char('d'),
        "d",
        A::Differing,
        "differing",
        "shows only the lines that differ, and all of them again",
    ),
    on(
        M::Beside,
        K::Char('['),
        "[ ]",
        A::Older,
        "other",
        "holds an older or a newer revision against it",
    ),
    on(
        M::Beside,
        K::Char('c'),
        "c",
        A::Compare,
        "alone",
        "shows the one revision alone again",
    ),
    on(
        M::Beside,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back to the list",
    ),
    on(M::Beside, K::Char('?'), "?", A::Help, "help", "this page"),
    on(M::Beside, K::F(1), "F1", A::Help, "", ""),
    on(M::Beside, K::Char(']'), "]", A::Newer, "", ""),
    on(M::Beside, K::Char('q'), "q", A::Back, "", ""),
    on(M::Beside, K::Enter, "Enter", A::Back, "", ""),
    on(M::Beside, K::Up, "Up", A::Up, "", ""),
    on(M::Beside, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Beside, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Beside, K::Home, "Home", A::Top, "", ""),
    on(M::Beside, K::End, "End", A::Bottom, "", ""),
    on(M::Beside, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Command,
        K::Enter,
        "Enter",
        A::Yes,
        "run",
        "runs the command; what it says comes on the message line, or on a page of its own",
    ),
    on(
        M::Command,
        K::Tab,
        "Tab",
        A::Complete,
        "complete",
        "completes the name of a command or option, or lists what could stand there",
    ),
    on(
        M::Command,
        K::Up,
        "Up Down",
        A::LineBefore,
        "earlier",
        "brings back a command of this run; a PIN is not kept",
    ),
    on(M::Command, K::Esc, "Esc", A::Back, "drop", "drops the line"),
    on(M::Command, K::Down, "Down", A::LineAfter, "", ""),
    on(
        M::Command,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(M::Command, K::Interrupt, "Ctrl-C", A::Back, "", ""),
    text(
        M::Command,
        "letters",
        "",
        "a command as on the command line, without \"hangtime\"; quotes keep words together, a PIN after --pin is not shown",
    ),
    on(
        M::Running,
        K::Esc,
        "Esc",
        A::Back,
        "stop",
        "stops the command that runs",
    ),
    on(M::Running, K::Interrupt, "Ctrl-C", A::Back, "", ""),
    on(
        M::Output,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls what the command said",
    ),
    on(
        M::Output,
        K::Char(':'),
        ":",
        A::Command,
        "command",
        "opens the line for the next command",
    ),
    on(M::Output, K::Esc, "Esc", A::Back, "back", "goes back"),
    on(M::Output, K::Char('q'), "q", A::Back, "", ""),
    on(M::Output, K::Enter, "Enter", A::Back, "", ""),
    on(M::Output, K::Up, "Up", A::Up, "", ""),
    on(M::Output, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Output, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Output, K::Home, "Home", A::Top, "", ""),
    on(M::Output, K::End, "End", A::Bottom, "", ""),
    on(M::Output, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Wall,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark, or the page",
    ),
    on(
        M::Wall,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens what the mark is on",
    ),
    on(
        M::Quality,
        K::Tab,
        "Tab",
        A::NextPart,
        "count by",
        "counts the defects by the next thing: defect, or person, mix, lot and booth of the coat behind it, recipe, surface",
    ),
    on(M::Quality, K::BackTab, "Shift-Tab", A::PartBefore, "", ""),
    on(
        M::Quality,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens the entries behind the marked line, and from there the card of a piece",
    ),
    on(
        M::Quality,
        K::Char('n'),
        "n",
        A::AskTime,
        "at",
        "asks as of a moment that is typed: the 30 production days up to it",
    ),
    on(
        M::Quality,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark",
    ),
    on(
        M::Plan,
        K::Tab,
        "Tab",
        A::NextPart,
        "part",
        "lists the next part: racks, hooks by day, pieces that miss their date, halves that wait",
    ),
    on(M::Plan, K::BackTab, "Shift-Tab", A::PartBefore, "", ""),
    on(
        M::Plan,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens the rack or piece at the mark",
    ),
    on(
        M::Plan,
        K::Char('r'),
        "r",
        A::Anew,
        "again",
        "plans again, also where nothing was written since the last time",
    ),
    on(
        M::Plan,
        K::Char('n'),
        "n",
        A::AskTime,
        "at",
        "asks for the plan as of a moment that is typed",
    ),
    on(
        M::Plan,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark",
    ),
    on(
        M::Floor,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens the rack or piece at the mark",
    ),
    on(
        M::Floor,
        K::Tab,
        "Tab",
        A::NextFilter,
        "filter",
        "shows all, ready, waiting or held pieces in turn",
    ),
    on(
        M::Floor,
        K::Char('/'),
        "/",
        A::Filter,
        "find",
        "shows only pieces whose serial, tag, model, rack, recipe or next step holds a text",
    ),
    on(
        M::Floor,
        K::Char('o'),
        "o",
        A::Sort,
        "order",
        "orders racks by place or by ready time",
    ),
    on(
        M::Floor,
        K::Char('t'),
        "t",
        A::AsOf,
        "time",
        "asks as of now, the end of today or tomorrow morning; deeds always take the present time",
    ),
    on(
        M::Floor,
        K::Char('n'),
        "n",
        A::AskTime,
        "",
        "asks as of a moment that is typed",
    ),
    on(
        M::Floor,
        K::Down,
        "Up Down",
        A::Down,
        "move",
        "moves the mark; Page Up, Page Down, Home and End move further",
    ),
    on(M::Floor, K::BackTab, "Shift-Tab", A::FilterBefore, "", ""),
    on(
        M::Ask,
        K::Enter,
        "Enter",
        A::Yes,
        "go on",
        "takes what was typed; a deed is shown before it is saved",
    ),
    on(
        M::Ask,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(
        M::Ask,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Ask, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(M::Ask, "letters", "", "the answer"),
    on(
        M::Agree,
        K::Enter,
        "Enter",
        A::Yes,
        "save",
        "saves what is shown",
    ),
    on(
        M::Agree,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back to what was typed; nothing is saved",
    ),
    on(M::Agree, K::Up, "Up", A::Up, "", ""),
    on(
        M::Agree,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls what is shown",
    ),
    on(M::Agree, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Agree, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Agree, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Scan,
        K::Enter,
        "Enter",
        A::Open,
        "open",
        "opens the rack or piece on the scan line",
    ),
    on(M::Scan, K::Tab, "Tab", A::Open, "", ""),
    on(
        M::Scan,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(
        M::Scan,
        K::Esc,
        "Esc",
        A::Back,
        "empty",
        "empties the scan line",
    ),
    on(M::Scan, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(M::Scan, "letters", "", "go to the scan line"),
    on(
        M::Filter,
        K::Enter,
        "Enter",
        A::Yes,
        "keep",
        "keeps the filter and goes back to the list",
    ),
    on(
        M::Filter,
        K::Esc,
        "Esc",
        A::Back,
        "drop",
        "drops the filter",
    ),
    on(
        M::Filter,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(M::Filter, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(
        M::Filter,
        "letters",
        "",
        "are looked for in serial, tag, model, rack, recipe and next step",
    ),
    on(
        M::Card,
        K::Char('c'),
        "c",
        A::Coat,
        "coat",
        "logs a coat on this piece",
    ),
    on(
        M::Card,
        K::Char('s'),
        "s",
        A::Sand,
        "sand",
        "logs a sanding on this piece",
    ),
    on(
        M::Card,
        K::Char('w'),
        "w",
        A::Work,
        "next work",
        "logs the other work of its next step",
    ),
    on(
        M::Card,
        K::Char('d'),
        "d",
        A::Flaw,
        "defect",
        "writes down a defect on this piece: one key for which, then Enter",
    ),
    on(
        M::Card,
        K::Tab,
        "Tab",
        A::NextSection,
        "section",
        "goes to the card's next section: film, days, air, deviations, history",
    ),
    on(M::Card, K::BackTab, "Shift-Tab", A::SectionBefore, "", ""),
    on(
        M::Card,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back to the floor",
    ),
    on(M::Card, K::Char('q'), "q", A::Back, "", ""),
    on(M::Card, K::Char('?'), "?", A::Help, "help", "this page"),
    on(
        M::Card,
        K::Char('u'),
        "u",
        A::Undo,
        "undo",
        "shows your last action that can be taken back, and takes it back when you say so",
    ),
    on(
        M::Card,
        K::Char('k'),
        "k",
        A::Working,
        "working",
        "shows how its film, its ready time and its newest coats were made",
    ),
    on(
        M::Card,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the card",
    ),
    on(
        M::Card,
        K::Char('l'),
        "l",
        A::Lift,
        "lift",
        "lifts the hold of this piece: a supervisor's word, with the PIN where one is set",
    ),
    on(
        M::Card,
        K::Char('a'),
        "a",
        A::Answer,
        "answer",
        "answers the first deviation of this piece that is not answered yet, with the PIN where one is set",
    ),
    on(
        M::Card,
        K::Char('h'),
        "h",
        A::Hold,
        "hold",
        "puts this piece on hold, with a reason",
    ),
    on(
        M::Card,
        K::Char('v'),
        "v",
        A::Move,
        "move",
        "moves this piece to another rack or room",
    ),
    on(
        M::Card,
        K::Char('r'),
        "r",
        A::Reassign,
        "recipe",
        "moves this piece to another recipe revision; what changes is shown first",
    ),
    Binding {
        mode: M::Working,
        press: Press::Digit,
        shown: "1-9",
        action: A::Figure,
        word: "figure",
        says: "shows the working of that figure",
    },
    on(
        M::Working,
        K::Char('k'),
        "k",
        A::Working,
        "card",
        "shows the card again",
    ),
    on(M::Working, K::Esc, "Esc", A::Working, "", ""),
    on(M::Working, K::Up, "Up", A::Up, "", ""),
    on(
        M::Working,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the working",
    ),
    on(M::Working, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Working, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Working, K::Home, "Home", A::Top, "", ""),
    on(M::Working, K::End, "End", A::Bottom, "", ""),
    on(M::Working, K::Char('?'), "?", A::Help, "help", "this page"),
    on(M::Working, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Choose,
        K::Char('c'),
        "c",
        A::Coat,
        "coat",
        "a coat: the kind that the recipe asks for next",
    ),
    on(
        M::Choose,
        K::Char('s'),
        "s",
        A::Sand,
        "sand",
        "a sanding: the kind that the recipe asks for next",
    ),
    on(
        M::Choose,
        K::Char('w'),
        "w",
        A::Work,
        "next work",
        "the other work of the next step: mask, buff, inspect ...",
    ),
    on(
        M::Choose,
        K::Char('d'),
        "d",
        A::Flaw,
        "defect",
        "a defect on one piece: its hook, Enter, one key for which, Enter",
    ),
    on(
        M::Choose,
        K::Char('m'),
        "m",
        A::Minutes,
        "min ago",
        "it ended some minutes ago",
    ),
    on(
        M::Choose,
        K::Char('h'),
        "h",
        A::Hold,
        "hold",
        "puts the rack on hold, with a reason",
    ),
    on(
        M::Choose,
        K::Char('v'),
        "v",
        A::Move,
        "move",
        "moves the rack to another rack or room",
    ),
    on(
        M::Choose,
        K::Char('x'),
        "x",
        A::Split,
        "split",
        "divides the rack: the pieces that block it go to another rack, or the hooks that are typed",
    ),
    on(
        M::Choose,
        K::Char('r'),
        "r",
        A::Reassign,
        "recipe",
        "moves the pieces of the rack to another recipe revision; what changes is shown first",
    ),
    on(M::Choose, K::Char('?'), "?", A::Help, "help", "this page"),
    on(
        M::Choose,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Choose, K::Char('q'), "q", A::Back, "", ""),
    on(M::Choose, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Confirm,
        K::Enter,
        "Enter",
        A::Yes,
        "save",
        "saves the line that is shown",
    ),
    on(
        M::Confirm,
        K::Esc,
        "Esc",
        A::Back,
        "drop",
        "drops the draft; nothing is saved",
    ),
    Binding {
        mode: M::Confirm,
        press: Press::Digit,
        shown: "1-9",
        action: A::Digit,
        word: "ago",
        says: "it ended so many minutes ago: the line shows the time with every digit, Enter saves it",
    },
    on(
        M::Confirm,
        K::Char('k'),
        "k",
        A::Skip,
        "skip",
        "leaves out the piece on a hook that was not worked on: k, its hook; scanning the piece does the same",
    ),
    on(
        M::Confirm,
        K::Char('h'),
        "h",
        A::Hooks,
        "hooks",
        "logs a part of the rack: h and the last hook, or h and the first and the last such as 5-17",
    ),
    on(
        M::Confirm,
        K::Char('a'),
        "a",
        A::Amount,
        "amount",
        "how much went through the gun, for all pieces together: a, the number, Enter; without it no sum of the month holds the coat",
    ),
    on(
        M::Confirm,
        K::Char('m'),
        "m",
        A::Minutes,
        "",
        "it ended some minutes ago: digits, then Enter",
    ),
    on(
        M::Confirm,
        K::Char('x'),
        "x",
        A::Everyone,
        "all",
        "includes the pieces with an objection of their own, or leaves them out again",
    ),
    on(
        M::Confirm,
        K::Char('r'),
        "r",
        A::ReadCautions,
        "read",
        "shows the cautions that are due at it and were not read today, as many as the page holds, and writes down that you read those; again for the rest",
    ),
    on(M::Confirm, K::Char('?'), "?", A::Help, "help", "this page"),
    on(
        M::Confirm,
        K::Char(']'),
        "[ ]",
        A::MixAfter,
        "mix",
        "another mix, older or newer; for a defect, the surface that it is on",
    ),
    on(M::Confirm, K::Char('['), "[", A::MixBefore, "", ""),
    on(
        M::Confirm,
        K::Char('b'),
        "b",
        A::NextBooth,
        "booth",
        "books the coat at the next booth, where it was sprayed elsewhere than the rack hangs; again for the one after it",
    ),
    on(M::Confirm, K::Char('c'), "c", A::Coat, "", ""),
    on(M::Confirm, K::Char('s'), "s", A::Sand, "", ""),
    on(M::Confirm, K::Char('w'), "w", A::Work, "", ""),
    on(M::Confirm, K::Up, "Up", A::Up, "", ""),
    on(
        M::Confirm,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the reasons against it",
    ),
    on(M::Confirm, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Confirm, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Confirm, K::Char('q'), "q", A::Quit, "", ""),
    on(M::Confirm, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Minutes,
        K::Enter,
        "Enter",
        A::Yes,
        "take",
        "takes the minutes",
    ),
    on(
        M::Minutes,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last digit",
    ),
    on(
        M::Minutes,
        K::Esc,
        "Esc",
        A::Back,
        "leave",
        "leaves the time as it was",
    ),
    on(M::Minutes, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(M::Minutes, "digits", "", "minutes since the deed ended"),
    on(
        M::Figure,
        K::Enter,
        "Enter",
        A::Yes,
        "save",
        "saves the line that is shown; after d it takes the hook",
    ),
    on(
        M::Figure,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last digit",
    ),
    on(
        M::Figure,
        K::Char('k'),
        "k",
        A::Skip,
        "skip one more",
        "keeps the number and leaves out one more hook",
    ),
    on(
        M::Figure,
        K::Char('h'),
        "h",
        A::Hooks,
        "hooks",
        "keeps the number and names the hooks that were worked on",
    ),
    on(
        M::Figure,
        K::Char('a'),
        "a",
        A::Amount,
        "amount",
        "keeps the number and says how much went through the gun",
    ),
    on(
        M::Figure,
        K::Esc,
        "Esc",
        A::Back,
        "drop it",
        "drops the number; the line stays",
    ),
    on(M::Figure, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(
        M::Figure,
        "digits",
        "",
        "the number: minutes, a hook, hooks such as 17 or 5-17, or an amount",
    ),
    on(
        M::Mixing,
        K::Enter,
        "Enter",
        A::Yes,
        "make it",
        "saves the mix that is shown",
    ),
    on(
        M::Mixing,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last digit",
    ),
    on(
        M::Mixing,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Mixing, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(
        M::Mixing,
        "digits",
        "",
        "how much in all, in the unit of the screens",
    ),
    on(
        M::Defect,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Defect, K::Char('?'), "?", A::Help, "help", "this page"),
    on(M::Defect, K::Char('q'), "q", A::Back, "", ""),
    on(M::Defect, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    Binding {
        mode: M::Defect,
        press: Press::Text,
        shown: "1-9 a-k",
        action: A::Code,
        word: "which",
        says: "the defect that stands beside the key",
    },
    on(
        M::Same,
        K::Enter,
        "Enter",
        A::Yes,
        "the same",
        "it is the same coat; nothing is added",
    ),
    on(
        M::Same,
        K::Char('a'),
        "a",
        A::Another,
        "another",
        "it is another coat; it is saved",
    ),
    on(
        M::Same,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back to the draft",
    ),
    on(M::Same, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Taken,
        K::Enter,
        "Enter",
        A::Yes,
        "leave it",
        "it is that coat; nothing is added",
    ),
    on(
        M::Taken,
        K::Char('a'),
        "a",
        A::Another,
        "another",
        "it is one more coat; it is saved",
    ),
    on(
        M::Taken,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back to the draft",
    ),
    on(M::Taken, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Saving,
        K::Interrupt,
        "Ctrl-C",
        A::Quit,
        "quit",
        "leaves the program; what is being written is written to its end",
    ),
    on(
        M::Receipt,
        K::Enter,
        "Enter",
        A::Yes,
        "done",
        "goes back to the floor",
    ),
    on(
        M::Receipt,
        K::Char('u'),
        "u",
        A::Undo,
        "undo",
        "shows your last action that can be taken back, and takes it back when you say so",
    ),
    on(
        M::Receipt,
        K::Char('d'),
        "d",
        A::Flaw,
        "defect",
        "a defect on a piece of what was just logged: its hook, Enter, one key for which, Enter",
    ),
    on(M::Receipt, K::Up, "Up", A::Up, "", ""),
    on(
        M::Receipt,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the receipt",
    ),
    on(M::Receipt, K::Esc, "Esc", A::Back, "", ""),
    on(M::Receipt, K::Char('q'), "q", A::Back, "", ""),
    on(M::Receipt, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    Binding {
        mode: M::Why,
        press: Press::Digit,
        shown: "1-9",
        action: A::Reason,
        word: "why",
        says: "gives the reason for the deviations; 1 is later",
    },
    on(
        M::Why,
        K::Enter,
        "Enter",
        A::Yes,
        "leave open",
        "goes back to the floor; the deviations stay open without a reason",
    ),
    on(
        M::Why,
        K::Char('u'),
        "u",
        A::Undo,
        "undo",
        "shows your last action that can be taken back, and takes it back when you say so",
    ),
    on(M::Why, K::Up, "Up", A::Up, "", ""),
    on(
        M::Why,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the receipt",
    ),
    on(M::Why, K::Esc, "Esc", A::Back, "", ""),
    on(M::Why, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Initials,
        K::Enter,
        "Enter",
        A::Yes,
        "take",
        "takes the initials until the program ends",
    ),
    on(
        M::Initials,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(
        M::Initials,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Initials, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(M::Initials, "letters", "", "your initials"),
    on(
        M::Word,
        K::Enter,
        "Enter",
        A::Yes,
        "go on",
        "goes on to the initials, and then keeps the word",
    ),
    on(
        M::Word,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(
        M::Word,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Word, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(M::Word, "letters", "", "the word, then whose it is"),
    on(M::Pin, K::Enter, "Enter", A::Yes, "keep", "keeps the word"),
    on(
        M::Pin,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(
        M::Pin,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Pin, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(M::Pin, "digits", "", "the PIN; it is not shown"),
    on(
        M::Book,
        K::Enter,
        "Enter",
        A::Yes,
        "save",
        "saves what was typed as it stands behind it",
    ),
    on(
        M::Book,
        K::Backspace,
        "Backspace",
        A::Erase,
        "rub out",
        "rubs out the last character",
    ),
    on(
        M::Book,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is saved",
    ),
    on(M::Book, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    text(
        M::Book,
        "letters",
        "",
        "what is asked for, then whose deed it is",
    ),
    on(
        M::Sign,
        K::Enter,
        "Enter",
        A::Yes,
        "sign",
        "signs the page that is shown",
    ),
    on(M::Sign, K::Up, "Up", A::Up, "", ""),
    on(
        M::Sign,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the page",
    ),
    on(M::Sign, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Sign, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(
        M::Sign,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back; nothing is signed",
    ),
    on(M::Sign, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Undo,
        K::Enter,
        "Enter",
        A::Yes,
        "take it back",
        "takes it back; both stay readable",
    ),
    on(
        M::Undo,
        K::Esc,
        "Esc",
        A::Back,
        "leave it",
        "leaves it as it is",
    ),
    on(M::Undo, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::UndoAnyway,
        K::Char('a'),
        "a",
        A::Another,
        "take it back anyway",
        "takes it back although others built on it",
    ),
    on(
        M::UndoAnyway,
        K::Enter,
        "Enter",
        A::Back,
        "leave it",
        "leaves it as it is",
    ),
    on(M::UndoAnyway, K::Esc, "Esc", A::Back, "", ""),
    on(M::UndoAnyway, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(
        M::Quit,
        K::Enter,
        "Enter",
        A::Yes,
        "quit",
        "leaves the program; the draft is offered again next time",
    ),
    on(
        M::Quit,
        K::Esc,
        "Esc",
        A::Back,
        "stay",
        "goes back to the draft",
    ),
    on(M::Quit, K::Interrupt, "Ctrl-C", A::Yes, "", ""),
    on(
        M::Fate,
        K::Enter,
        "Enter",
        A::Yes,
        "re-enter",
        "opens the draft again; nothing is saved yet",
    ),
    on(
        M::Fate,
        K::Esc,
        "Esc",
        A::Back,
        "let it go",
        "forgets the draft",
    ),
    on(M::Fate, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
    on(M::Help, K::Up, "Up", A::Up, "", ""),
    on(
        M::Help,
        K::Down,
        "Up Down",
        A::Down,
        "scroll",
        "scrolls the page",
    ),
    on(M::Help, K::PageUp, "PgUp", A::PageUp, "", ""),
    on(M::Help, K::PageDown, "PgDn", A::PageDown, "", ""),
    on(M::Help, K::Home, "Home", A::Top, "", ""),
    on(M::Help, K::End, "End", A::Bottom, "", ""),
    on(
        M::Help,
        K::Esc,
        "Esc",
        A::Back,
        "back",
        "goes back to where it was opened",
    ),
    on(M::Help, K::Enter, "Enter", A::Back, "", ""),
    on(M::Help, K::F(1), "F1", A::Back, "", ""),
    on(
        M::Help,
        K::F(2),
        "F2 to F10",
        A::Go(Place::Booth),
        "",
        "go to their places; a draft that is open is saved or dropped first",
    ),
    on(M::Help, K::F(3), "F3", A::Go(Place::Floor), "", ""),
    on(M::Help, K::F(4), "F4", A::Go(Place::Shift), "", ""),
    on(M::Help, K::F(5), "F5", A::Go(Place::Solvent), "", ""),
    on(M::Help, K::F(6), "F6", A::Go(Place::Air), "", ""),
    on(M::Help, K::F(7), "F7", A::Go(Place::Recipes), "", ""),
    on(M::Help, K::F(8), "F8", A::Go(Place::Wall), "", ""),
    on(M::Help, K::F(9), "F9", A::Go(Place::Quality), "", ""),
    on(M::Help, K::F(10), "F10", A::Go(Place::Plan), "", ""),
    on(M::Help, K::Char('?'), "?", A::Back, "", ""),
    on(M::Help, K::Char('q'), "q", A::Back, "", ""),
    on(M::Help, K::Interrupt, "Ctrl-C", A::Quit, "", ""),
];

/// What a key does in a mode.
///
/// A key of its own comes before one that holds anywhere, and both before the characters that go to the scan line.
pub fn action(mode: Mode, key: Key) -> Option<Action> {
    let modes = [Some(mode), mode.within()];
    let find = |named: bool| {
        modes.into_iter().flatten().find_map(|mode| {
            TABLE
                .iter()
                .find(|b| {
                    let key_of_its_own = matches!(b.press, Press::Key(_));
                    b.mode == mode && key_of_its_own == named && b.press.takes(key)
                })
                .map(|b| b.action)
        })
    };
    // A receipt is read and left: whoever goes on to another place need not close it first.
    let left = matches!((mode, key), (Mode::Receipt | Mode::Why, Key::F(_)));
    find(true)
        .or_else(|| find(false))
        .or_else(|| left.then(|| action(Mode::Anywhere, key)).flatten())
}

/// The pairs of the help line, key and word: those of the mode itself, and those that hold anywhere besides. A key that the
/// mode uses otherwise is left out.
pub fn line(mode: Mode) -> [Vec<(&'static str, &'static str)>; 2] {
    let of = |wanted: Option<Mode>, besides: Option<Mode>| {
        TABLE
            .iter()
            .filter(|b| Some(b.mode) == wanted && !b.word.is_empty())
            .filter(|b| {
                !TABLE
                    .iter()
                    .any(|o| Some(o.mode) == besides && o.press == b.press)
            })
            .map(|b| (b.shown, b.word))
            .collect()
    };
    [of(Some(mode), None), of(mode.within(), Some(mode))]
}

/// The chapters of the help page, in order.
pub const CHAPTERS: &[(&str, &[Mode])] = &[
    ("Every place and the card", &[M::Anywhere]),
    ("Where to?", &[M::Go]),
    ("The booth", &[M::Booth]),
    ("The floor", &[M::Floor]),
    ("The shift", &[M::Shift]),
    ("The solvent book", &[M::Solvent]),
    ("A deed of the solvent book", &[M::Book]),
    ("Signing a month", &[M::Sign]),
    ("The air", &[M::Air]),
    ("Recipes and materials", &[M::Recipes]),
    ("Finding a recipe or a material", &[M::Seek]),
    ("A recipe or a data sheet", &[M::Sheet]),
    ("Two revisions", &[M::Beside]),
    ("The wall", &[M::Wall]),
    ("Quality", &[M::Quality]),
    ("The plan", &[M::Plan]),
    ("A question, and what it would save", &[M::Ask, M::Agree]),
    ("The scan line", &[M::Scan]),
    ("Finding", &[M::Filter]),
    ("A piece's card", &[M::Card]),
    ("The working of a figure", &[M::Working]),
    ("The command line", &[M::Command]),
    ("A command that runs, or ran", &[M::Running, M::Output]),
    ("Logging: what was done?", &[M::Choose]),
    ("Logging: the line that is saved", &[M::Confirm]),
    ("Minutes ago", &[M::Minutes]),
    ("A number beside the line", &[M::Figure]),
    ("A defect: which?", &[M::Defect]),
    ("Another mix", &[M::Mixing]),
    ("The same coat, or another?", &[M::Same]),
    ("Somebody else logged this coat", &[M::Taken]),
    ("While the ledger writes", &[M::Saving]),
    ("The receipt", &[M::Receipt, M::Why]),
    ("Initials", &[M::Initials]),
    ("A supervisor's word", &[M::Word, M::Pin]),
    ("Undo", &[M::Undo, M::UndoAnyway]),
    ("Leaving", &[M::Quit]),
    ("A draft that was not saved", &[M::Fate]),
    ("This page", &[M::Help]),
];
