//! The solvent book: the month against its limits, the checks, and the way from a total down to an entry.
//!
//! *Invariants*: what is shown answers the question that stands ([`Data::ask`]), or the page says that it is being read;
//! a deed is shown before it is saved, and what was typed stays through every error.
//!
//! *Not here*: any sum or judgement (`reports::book`).

use crate::ledger::{Months, Who, shifted};
use crate::reports::book::{Book, Figure, Level, Of, Way};
use crate::reports::checks::{Check, Kind};
use crate::reports::limits::NewLimit;
use crate::screens::keys::Mode;
use crate::screens::model::{AsOf, Asking, Model, Note, Page, Shop};
use crate::screens::msg::Effect;
use crate::shop::record::BoothSeen;
use crate::shop::text::{initials, shown};
use crate::units::{Amount, Mass, Moment, Pressure, System, UnitFault, Volume};
use chrono::NaiveDate;

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
    /// Cautions that were due and that nobody read, in one line.
    pub waiting: Option<String>,
}

/// One page of the book.
#[derive(Debug, Clone)]
pub enum Shown {
    /// The book of a month.
    Book(Box<Book>),
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
    /// The stock of a material.
    Stock(&'a crate::reports::book::Stock),
}

/// The lines of the book that the mark can lie on, in their order.
pub fn rows(book: &Book) -> Vec<Row<'_>> {
    let month = book.month.iter().map(Row::Month);
    let twelve = book.rolling.iter().map(Row::Twelve);
    month
        .chain(twelve)
        .chain(book.checks.iter().map(Row::Check))
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
            Shown::Book(book) => Some(book),
            Shown::Level(..) => None,
        }
    }

    /// The line that the mark lies on in the book.
    pub fn row(&self) -> Option<Row<'_>> {
        rows(self.book()?).get(self.mark).copied()
    }
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    match model.places.solvent.page() {
        None => 0,
        Some(Shown::Book(book)) => rows(book).len(),
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
        Act::Waste => ask(model, Deed::Waste, String::new()),
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
        Some(Shown::Book(_)) => {
            let months = match state.row() {
                Some(Row::Month(f)) => Months::one(&month).map(|m| (m, f.of.clone())),
                Some(Row::Twelve(f)) => Months::twelve(&month).map(|m| (m, f.of.clone())),
                Some(Row::Check(_) | Row::Stock(_)) | None => {
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
    let Some(book) = state.book() else {
        return Did::Effects(Vec::new());
    };
    let all = rows(book);
    let wanted = |of: &Of, twelve: bool| {
        all.iter().position(|r| match r {
            Row::Month(f) => !twelve && f.of == *of,
            Row::Twelve(f) => twelve && f.of == *of,
            Row::Check(_) | Row::Stock(_) => false,
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

fn check(model: &mut Model) -> Did {
    let state = &model.places.solvent;
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
        Some(Row::Stock(_)) | None => {
            return blame(
                model,
                "a limit of what? put the mark on a figure or a check",
            );
        }
    };
    ask(model, deed, String::new())
}

/// A deed of the safety lead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Deed {
    /// A lot was received.
    Receipt,
    /// A material or a lot was counted.
    Count,
    /// Something went into a waste drum.
    Waste,
    /// A booth was checked.
    Check {
        /// The booth.
        booth: String,
    },
    /// A limit of a month or of twelve.
    Limit {
        /// What it limits.
        of: Of,
        /// Of twelve months.
        twelve: bool,
    },
    /// How often a booth is looked at.
    Every {
        /// What is done there.
        kind: Kind,
        /// The booth.
        booth: String,
    },
    /// The month is signed: its page is shown.
    Sign(SignPage),
    /// What is shown is written to a file.
    Print {
        /// The month.
        month: String,
        /// How far down.
        way: Option<Way>,
    },
    /// The whole record is exported.
    Export,
}

/// The page of a month that is about to be signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignPage {
    /// The month.
    pub month: String,
    /// Newest action of the record that it was made from.
    pub action: i64,
    /// The page.
    pub lines: Vec<String>,
}

/// A deed that was read from what was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wish {
    /// Receives a lot.
    Receive {
        /// The lot.
        lot: String,
        /// Material code.
        material: String,
        /// Volume received.
        volume: Volume,
        /// End of its shelf life.
        expires: Option<NaiveDate>,
    },
    /// Enters a count.
    Count {
        /// The material or the lot.
        what: String,
        /// How much is there.
        volume: Volume,
    },
    /// Puts something into a waste drum.
    Waste {
        /// The drum.
        drum: String,
        /// How much, by volume.
        volume: Option<Volume>,
        /// How much, by mass.
        mass: Option<Mass>,
        /// What it is.
        what: String,
    },
    /// Records a check of a booth.
    Check {
        /// The booth.
        booth: String,
        /// What was seen.
        seen: BoothSeen,
    },
    /// Enters a limit.
    Limit {
        /// The limit.
        limit: NewLimit,
        /// Where it comes from.
        source: String,
    },
    /// Signs a month, when the record is still the one that was shown.
    Sign {
        /// The month.
        month: String,
        /// Newest action of the record that was shown.
        action: i64,
    },
    /// Writes a page to a file.
    Print {
        /// The month.
        month: String,
        /// How far down.
        way: Option<Way>,
        /// The file.
        file: String,
    },
    /// Exports the record.
    Export {
        /// The folder.
        folder: String,
    },
}

/// A deed as it is being typed.
#[derive(Debug, Clone)]
pub struct Form {
    /// What it is.
    pub deed: Deed,
    /// What was typed.
    pub typed: String,
    /// Whose deed it is.
    pub initials: String,
    /// The PIN.
    pub pin: String,
    /// Which part is being typed.
    pub asking: Asking,
    /// First line of the page that is shown.
    pub scroll: usize,
}

impl Form {
    /// What the keys mean.
    pub const fn mode(&self) -> Mode {
        match (self.asking, &self.deed) {
            (Asking::Pin, _) => Mode::Pin,
            (Asking::Word, Deed::Sign(_)) => Mode::Sign,
            (Asking::Word | Asking::Initials, _) => Mode::Book,
        }
    }

    /// What the typed characters go to.
    pub const fn field(&mut self) -> &mut String {
        match self.asking {
            Asking::Word => &mut self.typed,
            Asking::Initials => &mut self.initials,
            Asking::Pin => &mut self.pin,
        }
    }

    /// Reads what was typed; the text says what is still missing, or what is wrong with it.
    pub fn read(&self) -> Result<Wish, String> {
        let typed = self.typed.trim();
        match &self.deed {
            Deed::Receipt => receipt(typed),
            Deed::Count => counted(typed),
            Deed::Waste => wasted(typed),
            Deed::Check { booth } => Ok(Wish::Check {
                booth: booth.clone(),
                seen: seen_in(typed)?,
            }),
            Deed::Limit { of, twelve } => {
                limit_of(typed, "400kg", |v| NewLimit::solvent(of, *twelve, v))
            }
            Deed::Every {
                kind: Kind::Gauge,
                booth,
            } => limit_of(typed, "0.40inwc", |v| NewLimit::rise(booth, v)),
            Deed::Every { kind, booth } => {
                limit_of(typed, "24h", |v| NewLimit::every(*kind, booth, v))
            }
            Deed::Sign(page) => Ok(Wish::Sign {
                month: page.month.clone(),
                action: page.action,
            }),
            Deed::Print { .. } | Deed::Export if typed.is_empty() => Err("a name".to_owned()),
            Deed::Print { month, way } => Ok(Wish::Print {
                month: month.clone(),
                way: way.clone(),
                file: typed.to_owned(),
            }),
            Deed::Export => Ok(Wish::Export {
                folder: typed.to_owned(),
            }),
        }
    }

    /// The question at the bottom, with what was typed and what would come of it.
    pub fn question(&self, shop: &Shop) -> String {
        match self.asking {
            Asking::Initials => return format!("whose deed? initials: {}_", self.initials),
            Asking::Pin => {
                return format!(
                    "PIN of {}? {}_",
                    self.initials,
                    "*".repeat(self.pin.chars().count())
                );
            }
            Asking::Word => {}
        }
        let asked = match &self.deed {
            Deed::Receipt => "receipt: lot, material, amount?".to_owned(),
            Deed::Count => "counted: material or lot, amount?".to_owned(),
            Deed::Waste => "into a waste drum: drum, amount, what?".to_owned(),
            Deed::Check { booth } => format!("{} checked; seen?", shown(booth)),
            Deed::Limit { of, twelve } => format!(
                "limit of {} in {}: figure, source?",
                of.name(),
                if *twelve { "twelve months" } else { "a month" }
            ),
            Deed::Every { kind, booth } => {
                format!("{} of {} every: time, source?", kind.word(), shown(booth))
            }
            Deed::Sign(page) => return format!("sign {} as it stands above?", page.month),
            Deed::Print { .. } => "print to the new file?".to_owned(),
            Deed::Export => "export the record to the new folder?".to_owned(),
        };
        let hint = match (self.read(), &self.deed) {
            (_, Deed::Print { .. } | Deed::Export) => String::new(),
            (Ok(wish @ Wish::Check { .. }), _) => wish.words(shop),
            (Ok(wish), _) => format!("  = {}", wish.words(shop)),
            (Err(text), _) if self.typed.is_empty() => format!("  such as {text}"),
            (Err(text), _) => format!("  ! {text}"),
        };
        format!("{asked} {}_{hint}", self.typed)
    }
}

impl Wish {
    fn words(&self, shop: &Shop) -> String {
        match self {
            Self::Receive {
                lot,
                material,
                volume,
                expires,
            } => {
                let until = expires.map_or_else(String::new, |d| format!(", until {d}"));
                format!(
                    "{} of {} as {}{until}",
                    crate::reports::book::litres(*volume, shop.system),
                    shown(material),
                    shown(lot)
                )
            }
            Self::Count { what, volume } => format!(
                "{} of {} are there",
                crate::reports::book::litres(*volume, shop.system),
                shown(what)
            ),
            Self::Waste {
                drum,
                volume,
                mass,
                what,
            } => format!(
                "{} {} into {}",
                amount_words(*volume, *mass, shop.system),
                shown(what),
                shown(drum)
            ),
            Self::Limit { limit, .. } => format!("{} in {}", shown(&limit.typed), limit.scope),
            Self::Check { seen, .. } => seen.gauge.map_or_else(
                || "  no gauge reading, such as 0.44inwc".to_owned(),
                |g| {
                    let new = if seen.new_filters {
                        ", new filters"
                    } else {
                        ""
                    };
                    format!("  = gauge {}{new}", g.text(2))
                },
            ),
            Self::Sign { .. } | Self::Print { .. } | Self::Export { .. } => String::new(),
        }
    }
}

// A reading of the gauge comes first, where there is one; "new filters" anywhere makes it the clean one.
//
// Errors: a number with a unit of pressure that is not read as the reading, because it is not the first word, is split,
// or lies outside the range; kept as words it would be lost from the gauge's line.
fn seen_in(typed: &str) -> Result<BoothSeen, String> {
    let (first, rest) = typed.split_once([' ', ',']).unwrap_or((typed, ""));
    let gauge = Pressure::read(first, None).ok();
    if gauge.is_none() && names_a_reading(typed) {
        return Err(
            "the gauge's reading comes first, as one word with its unit: 0.44inwc, then what was seen"
                .to_owned(),
        );
    }
    if gauge.is_none()
        && let Some(number) = names_a_bare_number(typed)
    {
        return Err(format!(
            "gauge {number} in which unit? write it first, such as {number}inwc or {number}Pa, then what was seen"
        ));
    }
    let note = if gauge.is_some() {
        rest.trim_start_matches([' ', ',']).trim()
    } else {
        typed
    };
    Ok(BoothSeen {
        new_filters: gauge.is_some() && note.contains("new filters"),
        gauge,
        note: (!note.is_empty()).then(|| note.to_owned()),
    })
}

// A number without a unit that can only be a reading: it comes first, or after the word for what was read.
fn names_a_bare_number(typed: &str) -> Option<&str> {
    let words: Vec<&str> = typed
        .split([' ', ',', ';', ':', '='])
        .filter(|w| !w.is_empty())
        .collect();
    let number = |w: &&str| w.parse::<f64>().is_ok();
    let first = words.first().copied().filter(number);
    first.or_else(|| {
        words.windows(2).find_map(|two| match two {
            [what, value]
                if matches!(
                    what.to_lowercase().as_str(),
                    "gauge" | "manometer" | "reading"
                ) =>
            {
                Some(*value).filter(number)
            }
            _ => None,
        })
    })
}

// Whether there is a number with a unit of pressure in it, as one word or as two. A value out of its range is one too.
fn names_a_reading(typed: &str) -> bool {
    let words: Vec<&str> = typed
        .split([' ', ',', ';'])
        .filter(|w| !w.is_empty())
        .collect();
    let reads = |text: &str| {
        matches!(
            Pressure::read(text, None),
            Ok(_) | Err(UnitFault::OutOfRange { .. })
        )
    };
    words.iter().any(|w| reads(w)) || words.windows(2).any(|two| reads(&two.concat()))
}

fn receipt(typed: &str) -> Result<Wish, String> {
    let mut words = typed.split_whitespace();
    let (Some(lot), Some(material)) = (words.next(), words.next()) else {
        return Err("L-250 CLR 20L 2027-01-31".to_owned());
    };
    let mut rest: Vec<&str> = words.collect();
    let date = rest
        .last()
        .and_then(|t| NaiveDate::parse_from_str(t, "%Y-%m-%d").ok());
    if date.is_some() {
        rest.pop();
    }
    if rest.is_empty() {
        return Err("the amount, such as 20L".to_owned());
    }
    // "20 L" and "20L" are both written on drums.
    let volume =
        Volume::read_within(&rest.concat(), None, 1, Volume::HIGH).map_err(|e| e.to_string())?;
    Ok(Wish::Receive {
        lot: lot.to_owned(),
        material: material.to_owned(),
        volume,
        expires: date,
    })
}

fn counted(typed: &str) -> Result<Wish, String> {
    let Some((what, amount)) = typed.split_once(char::is_whitespace) else {
        return Err("CLR 180L".to_owned());
    };
    let amount: String = amount.split_whitespace().collect();
    if amount.is_empty() {
        return Err("the amount, such as 180L".to_owned());
    }
    Ok(Wish::Count {
        what: what.to_owned(),
        volume: Volume::read(&amount, None).map_err(|e| e.to_string())?,
    })
}

// "W-3 12 L gun wash": the drum, how much with its unit as one word or two, and what it is.
fn wasted(typed: &str) -> Result<Wish, String> {
    let words: Vec<&str> = typed.split_whitespace().collect();
    let Some((drum, rest)) = words.split_first() else {
        return Err("W-3 12L gun wash".to_owned());
    };
    let read = |n: usize| {
        let text = rest.get(..n)?.concat();
        let volume = Volume::read_within(&text, None, 1, Volume::HIGH).ok();
        let mass = Mass::read_within(&text, None, 1, Mass::HIGH).ok();
        (volume.is_some() || mass.is_some()).then_some((volume, mass, n))
    };
    let Some((volume, mass, used)) = read(1).or_else(|| read(2)) else {
        return Err("the amount with its unit, such as 12L or 3kg".to_owned());
    };
    let what = rest.get(used..).unwrap_or_default().join(" ");
    if what.is_empty() {
        return Err("what it is, such as gun wash".to_owned());
    }
    Ok(Wish::Waste {
        drum: (*drum).to_owned(),
        volume,
        mass,
        what,
    })
}

fn amount_words(volume: Option<Volume>, mass: Option<Mass>, system: System) -> String {
    match (volume, mass) {
        (Some(v), _) => crate::reports::book::litres(v, system),
        (None, Some(m)) => crate::reports::book::mass(m, system),
        (None, None) => String::new(),
    }
}

fn limit_of(
    typed: &str,
    example: &str,
    read: impl Fn(&str) -> Result<NewLimit, String>,
) -> Result<Wish, String> {
    if typed.is_empty() {
        return Err(format!("{example}, permit 12-34"));
    }
    let (value, source) = typed.split_once(',').unwrap_or((typed, ""));
    let limit = read(value)?;
    let source = source.trim();
    if source.is_empty() {
        return Err("a comma, and where the figure comes from".to_owned());
    }
    Ok(Wish::Limit {
        limit,
        source: source.to_owned(),
    })
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
