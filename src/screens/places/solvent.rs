//! The solvent book: the month against its limits, the checks, and the way from a total down to an entry.
//!
//! *Invariants*: what is shown answers the question that stands ([`Data::ask`]), or the page says that it is being read;
//! a deed is shown before it is saved, and what was typed stays through every error.
//!
//! *Not here*: any sum or judgement (`reports::book`).

mod typed;

pub use typed::{Deed, Form, SignPage, Wish};

use crate::ledger::{DrumRow, DutyRow, IncidentRow, Months, Who, shifted};
use crate::reports::book::{Book, Figure, Level, Of, Way};
use crate::reports::checks::Check;
use crate::reports::stock::DrumClock;
use crate::screens::model::{AsOf, Asking, Model, Note, Page};
use crate::screens::msg::Effect;
use crate::shop::text::initials;
use crate::shop::words::Word as _;
use crate::units::{Mass, Moment};

/// What a key of this place does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Act {
    /// One level down, to what the marked figure is made of.
    Open,
    /// One level up.
    Up,
    /// The month before.
    MonthBefore,
    /// The month after.
    MonthAfter,
    /// The twelve months instead of the month, and back.
    Twelve,
    /// A receipt of a lot.
    Receipt,
    /// A material or a lot was counted.
    Count,
    /// Something went into a waste drum.
    Waste,
    /// The month is signed.
    Close,
    /// A booth was checked.
    Check,
    /// A limit is entered.
    Limit,
    /// The page is written to a file.
    Print,
    /// The record is exported.
    Export,
}

/// What is asked of the ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ask {
    /// The month; `None` for the present one.
    pub month: Option<String>,
    /// How far down.
    pub way: Option<Way>,
    /// Whether it is asked as of the present moment: what was just saved is in the answer then.
    pub present: bool,
    /// Units of the answer's texts.
    pub system: crate::units::System,
}

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// The question.
    pub ask: Ask,
    /// The answer.
    pub shown: Shown,
}

/// What stands beside the figures of the book.
#[derive(Debug, Clone, Default)]
pub struct Beside {
    /// Deeds that come round; what somebody has to see to comes first.
    pub duties: Vec<DutyRow>,
    /// Waste drums that have not left, with their clocks.
    pub drums: Vec<(DrumRow, DrumClock)>,
    /// Incidents that are open.
    pub incidents: Vec<IncidentRow>,
    /// Cautions that were due and that nobody read, in one line.
    pub waiting: Option<String>,
    /// VOC of the log in each of the twelve months; `None` before the record begins.
    pub months: Vec<(String, Option<Mass>)>,
    /// VOC of the log in the month, by material; the largest first.
    pub materials: Vec<(String, Option<Mass>)>,
}

/// One page of the book.
#[derive(Debug, Clone)]
pub enum Shown {
    /// The book of a month, and what stands beside it.
    Book(Box<Book>, Box<Beside>),
    /// A level of the way down; the lines of its working, at an entry.
    Level(Box<Level>, Vec<String>),
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Data>,
    /// Line of the mark.
    pub mark: usize,
    /// The month that is looked at; `None` for the present one.
    pub month: Option<String>,
    /// How far down.
    pub way: Option<Way>,
    /// The marks on the levels above.
    pub marks: Vec<usize>,
}

/// What a line of the book stands for.
#[derive(Debug, Clone, Copy)]
pub enum Row<'a> {
    /// A figure of the month.
    Month(&'a Figure),
    /// A figure of the twelve months.
    Twelve(&'a Figure),
    /// A check of a booth.
    Check(&'a Check),
    /// A deed that comes round.
    Duty(&'a DutyRow),
    /// A waste drum.
    Drum(&'a DrumRow, &'a DrumClock),
    /// An incident.
    Incident(&'a IncidentRow),
    /// The stock of a material.
    Stock(&'a crate::reports::book::Stock),
}

/// The lines of the book that the mark can lie on, in their order.
pub fn rows<'a>(book: &'a Book, beside: &'a Beside) -> Vec<Row<'a>> {
    let month = book.month.iter().map(Row::Month);
    let twelve = book.rolling.iter().map(Row::Twelve);
    month
        .chain(twelve)
        .chain(book.checks.iter().map(Row::Check))
        .chain(beside.duties.iter().map(Row::Duty))
        .chain(beside.drums.iter().map(|(d, c)| Row::Drum(d, c)))
        .chain(beside.incidents.iter().map(Row::Incident))
        .chain(book.stock.iter().map(Row::Stock))
        .collect()
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            mark: 0,
            month: None,
            way: None,
            marks: Vec::new(),
        }
    }

    /// The page that answers the question that stands.
    pub fn page(&self) -> Option<&Shown> {
        self.data
            .as_ref()
            .filter(|d| d.ask.month == self.month && d.ask.way == self.way)
            .map(|d| &d.shown)
    }

    /// The book, where it is shown.
    pub fn book(&self) -> Option<&Book> {
        match self.page()? {
            Shown::Book(book, _) => Some(book),
            Shown::Level(..) => None,
        }
    }

    // The lines of the book, where it is shown.
    fn rows(&self) -> Vec<Row<'_>> {
        match self.page() {
            Some(Shown::Book(book, beside)) => rows(book, beside),
            Some(Shown::Level(..)) | None => Vec::new(),
        }
    }

    /// The line that the mark lies on in the book.
    pub fn row(&self) -> Option<Row<'_>> {
        self.rows().get(self.mark).copied()
    }
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    match model.places.solvent.page() {
        None => 0,
        Some(Shown::Book(book, beside)) => rows(book, beside).len(),
        Some(Shown::Level(level, working)) => level.rows.len().max(working.len()),
    }
}

/// The month that is looked at.
pub fn month(model: &Model) -> String {
    let present = || model.shop.calendar.day(model.at()).month();
    model.places.solvent.month.clone().unwrap_or_else(present)
}

/// Asks for what it shows.
pub(in crate::screens) fn load(model: &Model, ticket: u64) -> Effect {
    let state = &model.places.solvent;
    Effect::OpenBook {
        ticket,
        at: model.at(),
        ask: Box::new(Ask {
            month: state.month.clone(),
            way: state.way.clone(),
            present: model.as_of == AsOf::Now,
            system: model.shop.system,
        }),
    }
}

/// What came of a key.
#[derive(Debug)]
pub(in crate::screens) enum Did {
    /// Something else is to be shown: ask the ledger.
    Load,
    /// The way out of the place.
    Leave,
    /// These, and nothing else.
    Effects(Vec<Effect>),
}

/// Does what a key of this place asks for.
pub(in crate::screens) fn act(model: &mut Model, act: Act) -> Did {
    match act {
        Act::Open => open(model),
        Act::Up => up(model),
        Act::MonthBefore => turn(model, -1),
        Act::MonthAfter => turn(model, 1),
        Act::Twelve => twelve(model),
        Act::Close => Did::Effects(vec![Effect::LookSign {
            month: month(model),
            person: model.person.clone(),
            system: model.shop.system,
        }]),
        Act::Receipt => ask(model, Deed::Receipt, String::new()),
        Act::Count => count(model),
        Act::Waste => waste(model),
        Act::Check => check(model),
        Act::Limit => limit(model),
        Act::Print => {
            let month = month(model);
            let way = model.places.solvent.way.clone();
            let file = format!("solvent-{month}.txt");
            ask(model, Deed::Print { month, way }, file)
        }
        Act::Export => {
            let day = model.shop.calendar.local(model.now).format("%Y-%m-%d");
            ask(model, Deed::Export, format!("export-{day}"))
        }
    }
}

fn blame(model: &mut Model, text: impl Into<String>) -> Did {
    model.note = Some(Note::Fault(text.into()));
    Did::Effects(Vec::new())
}

fn ask(model: &mut Model, deed: Deed, typed: String) -> Did {
    let form = Form {
        deed,
        typed,
        initials: model.person.clone().unwrap_or_default(),
        pin: String::new(),
        asking: Asking::Word,
        scroll: 0,
    };
    model.stack.push(Page::Book(Box::new(form)));
    Did::Effects(Vec::new())
}

fn open(model: &mut Model) -> Did {
    let month = month(model);
    let state = &mut model.places.solvent;
    let next = match state.page() {
        None => return Did::Effects(Vec::new()),
        Some(Shown::Level(level, _)) if level.working.is_some() => {
            return Did::Effects(Vec::new());
        }
        Some(Shown::Level(level, _)) => level.rows.get(state.mark).map(|r| r.way.clone()),
        Some(Shown::Book(..)) => {
            let months = match state.row() {
                Some(Row::Month(f)) => Months::one(&month).map(|m| (m, f.of.clone())),
                Some(Row::Twelve(f)) => Months::twelve(&month).map(|m| (m, f.of.clone())),
                _ => {
                    return blame(
                        model,
                        "Enter opens a figure of the month or of the twelve months; put the mark on one",
                    );
                }
            };
            months.ok().map(|(months, of)| Way::of(of, months))
        }
    };
    if next.is_none() {
        return Did::Effects(Vec::new());
    }
    state.marks.push(state.mark);
    state.mark = 0;
    state.way = next;
    Did::Load
}

fn up(model: &mut Model) -> Did {
    let state = &mut model.places.solvent;
    let Some(way) = state.way.take() else {
        return Did::Leave;
    };
    state.way = way.up();
    state.mark = state.marks.pop().unwrap_or(0);
    Did::Load
}

// Another month: on the way down it begins at the figure again, as a lot of one month may not be in the other.
fn turn(model: &mut Model, by: i64) -> Did {
    let Some(next) = shifted(&month(model), by) else {
        return Did::Effects(Vec::new());
    };
    if next > model.shop.calendar.day(model.now).month() {
        return blame(model, format!("{next} has not begun"));
    }
    let state = &mut model.places.solvent;
    if let Some(way) = state.way.take() {
        let months = if way.months.rolling() {
            Months::twelve(&next)
        } else {
            Months::one(&next)
        };
        state.way = months.ok().map(|m| Way::of(way.of, m));
        state.marks.truncate(1);
        state.mark = 0;
    }
    state.month = Some(next);
    Did::Load
}

fn twelve(model: &mut Model) -> Did {
    let month = month(model);
    let state = &mut model.places.solvent;
    if let Some(way) = state.way.take() {
        let months = if way.months.rolling() {
            Months::one(&month)
        } else {
            Months::twelve(&month)
        };
        state.way = months.ok().map(|m| Way::of(way.of, m));
        state.marks.truncate(1);
        state.mark = 0;
        return Did::Load;
    }
    // In the book both stand below each other: the mark goes to the same figure of the other period.
    let all = state.rows();
    let wanted = |of: &Of, twelve: bool| {
        all.iter().position(|r| match r {
            Row::Month(f) => !twelve && f.of == *of,
            Row::Twelve(f) => twelve && f.of == *of,
            _ => false,
        })
    };
    let next = match all.get(state.mark) {
        Some(Row::Month(f)) => wanted(&f.of, true),
        Some(Row::Twelve(f)) => wanted(&f.of, false),
        _ => Some(0),
    };
    state.mark = next.unwrap_or(state.mark);
    Did::Effects(Vec::new())
}

// The material of the marked line stands there already.
fn count(model: &mut Model) -> Did {
    let typed = match model.places.solvent.row() {
        Some(Row::Stock(s)) => format!("{} ", s.material),
        _ => String::new(),
    };
    ask(model, Deed::Count, typed)
}

// The drum of the marked line stands there already.
fn waste(model: &mut Model) -> Did {
    let typed = match model.places.solvent.row() {
        Some(Row::Drum(d, _)) => format!("{} ", d.drum),
        _ => String::new(),
    };
    ask(model, Deed::Waste, typed)
}

// A deed of the list was done, an incident was followed up, or a booth was checked: by the marked line.
fn check(model: &mut Model) -> Did {
    let state = &model.places.solvent;
    let marked = match state.row() {
        Some(Row::Duty(d)) => Some(Deed::Done {
            name: d.duty.name.clone(),
            about: d.duty.about.clone(),
            asks: d.duty.asks.clone(),
        }),
        Some(Row::Incident(i)) => Some(Deed::Follow {
            entry: i.entry,
            what: format!("{} at {}", i.kind.word(), i.place),
        }),
        _ => None,
    };
    if let Some(deed) = marked {
        return ask(model, deed, String::new());
    }
    let mut booths: Vec<String> = state.book().map_or_else(Vec::new, |b| {
        b.checks.iter().map(|c| c.booth.clone()).collect()
    });
    booths.dedup();
    let booth = match (state.row(), booths.as_slice()) {
        (Some(Row::Check(c)), _) => c.booth.clone(),
        (_, [one]) => one.clone(),
        (_, []) => {
            return blame(
                model,
                "no booth is known here: go back to the book, or survey one (hangtime survey)",
            );
        }
        (_, many) => {
            let text = format!("which booth? put the mark on one of {}", many.join(", "));
            return blame(model, text);
        }
    };
    ask(model, Deed::Check { booth }, String::new())
}

fn limit(model: &mut Model) -> Did {
    let deed = match model.places.solvent.row() {
        Some(Row::Month(f)) => Deed::Limit {
            of: f.of.clone(),
            twelve: false,
        },
        Some(Row::Twelve(f)) => Deed::Limit {
            of: f.of.clone(),
            twelve: true,
        },
        Some(Row::Check(c)) => Deed::Every {
            kind: c.kind,
            booth: c.booth.clone(),
        },
        _ => {
            return blame(
                model,
                "a limit of what? put the mark on a figure or a check",
            );
        }
    };
    ask(model, deed, String::new())
}

/// Enter on a deed that is being typed.
pub(in crate::screens) fn go_on(model: &mut Model) -> Vec<Effect> {
    let Some(Page::Book(form)) = model.stack.last_mut() else {
        return Vec::new();
    };
    let wish = match form.read() {
        Ok(wish) => wish,
        Err(text) => {
            let text = format!("not saved: {text}");
            model.note = Some(Note::Fault(text));
            return Vec::new();
        }
    };
    let person = match initials("initials", &form.initials) {
        Ok(person) => person,
        Err(text) if form.asking == Asking::Initials => {
            model.note = Some(Note::Fault(text));
            return Vec::new();
        }
        Err(_) => {
            form.asking = Asking::Initials;
            return Vec::new();
        }
    };
    let pin = (form.asking == Asking::Pin).then(|| form.pin.clone());
    let writer = model.person.clone().unwrap_or_else(|| person.clone());
    vec![Effect::Book {
        who: Who {
            person,
            writer,
            station: model.shop.station.clone(),
        },
        wish: Box::new(wish),
        pin,
        system: model.shop.system,
    }]
}

/// The page of a month that is to be signed, or why it is not to be.
pub(in crate::screens) fn sign_looked(model: &mut Model, answer: Result<Box<SignPage>, String>) {
    match answer {
        Ok(page) => {
            ask(model, Deed::Sign(*page), String::new());
        }
        Err(text) => model.note = Some(Note::Fault(text)),
    }
}

/// What came of a deed.
pub(in crate::screens) fn kept(model: &mut Model, answer: Result<String, String>) {
    let Some(Page::Book(form)) = model.stack.last_mut() else {
        return;
    };
    match answer {
        Ok(text) => {
            model.person.get_or_insert_with(|| form.initials.clone());
            model.stack.pop();
            model.note = Some(Note::Said(text));
        }
        Err(text) => {
            form.pin.clear();
            // A PIN that was wrong, or somebody whose deed it is not: whose is it? Else what was typed is to be mended.
            form.asking = if form.asking == Asking::Pin || text.contains("asks for the PIN") {
                Asking::Initials
            } else {
                Asking::Word
            };
            model.note = Some(Note::Fault(text));
        }
    }
}
