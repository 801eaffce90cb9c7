//! The command line: one file per group of commands. Each reads its words, asks the ledger once, and prints facts to
//! standard output; talk goes to standard error.
//!
//! *Invariants*: exit code 0 the question was answered or the deed recorded, 1 a figure is over its limit, a needed
//! reading is missing or verify found a difference, 2 bad input or a coat that is asked about and not recorded yet,
//! 3 the ledger or the system failed. A broken pipe is the end of a question, not a fault.
//!
//! *Not here*: any rule, any query, any drawing.

mod adopt;
mod air;
mod alerts;
mod ask;
mod cautions;
mod clock;
mod correct;
mod deed;
mod duties;
mod forms;
mod hand_over;
mod key_in;
mod loggers;
mod mend;
mod months;
mod papers;
mod people;
mod picture;
mod pieces;
mod plan;
mod process;
mod quality;
mod rack;
mod rehearse;
mod rules;
mod safety;
mod sample;
mod screen;
mod shop;
mod stock;
mod tags;
mod upkeep;
mod watch;
pub mod work;
mod working;

use crate::clock::Clock;
use crate::ledger::{
    ClockDoubt, Ledger, LedgerError, PinDeed, PinWord, ReadOnly, RowFault, Saved, Seen, Stamp,
    Unlocked, Who,
};
use crate::shop::calendar::Calendar;
use crate::shop::text::{shown_json, shown_lines};
use crate::units::{Moment, System};
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use clap::{Parser, Subcommand, ValueEnum};
use serde_json::{Value, json};
use std::io::Write;
use std::path::PathBuf;

/// A finish-room process log and cure timer.
///
/// Without a command the dashboard opens. Local fire code, the safety data sheet and licensed professionals decide;
/// this log does not.
#[derive(Debug, Parser)]
#[command(name = "hangtime", version)]
pub struct Cli {
    #[command(flatten)]
    options: Options,
    #[command(subcommand)]
    command: Option<Command>,
}

/// Options that every command takes: last on its page of help, below its own.
#[derive(Debug, Clone, clap::Args)]
#[command(next_help_heading = "Options of every command")]
struct Options {
    /// The ledger file; without it the one in your data folder is used.
    #[arg(long, global = true, env = "HANGTIME_LEDGER", value_name = "FILE")]
    ledger: Option<PathBuf>,
    /// The moment that a question is about: RFC 3339, `15:40`, `tomorrow 07:00`. In a demo ledger it is the clock.
    #[arg(long, global = true, value_name = "TIME")]
    at: Option<String>,
    /// Leave out what was written later than this: for ready, floor, plan, piece show and entries.
    #[arg(long, global = true, value_name = "TIME")]
    known_at: Option<String>,
    /// Print facts as JSON.
    #[arg(long, global = true)]
    json: bool,
    /// Your initials.
    #[arg(
        long = "as",
        global = true,
        env = "HANGTIME_INITIALS",
        value_name = "INITIALS"
    )]
    initials: Option<String>,
    /// Your PIN, where a deed asks for one; asked for on the terminal, if left out.
    #[arg(
        long,
        global = true,
        env = "HANGTIME_PIN",
        hide_env_values = true,
        value_name = "PIN"
    )]
    pin: Option<String>,
    /// The terminal's name.
    #[arg(
        long,
        global = true,
        env = "HANGTIME_STATION",
        default_value = "desk",
        value_name = "NAME"
    )]
    station: String,
    /// Units in which figures are shown.
    #[arg(
        long,
        global = true,
        default_value = "metric",
        value_name = "SYSTEM",
        ignore_case = true
    )]
    units: Units,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Units {
    Us,
    Metric,
}

impl Units {
    const fn system(self) -> System {
        match self {
            Self::Us => System::Us,
            Self::Metric => System::Metric,
        }
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Start a new ledger.
    Open(shop::Open),
    /// Open the screens at a place.
    Screen(screen::Screen),
    /// Load the sample shop into a demo ledger.
    Sample(sample::Sample),
    /// Check, adopt and list recipes.
    #[command(subcommand)]
    Recipe(adopt::Recipe),
    /// Check, adopt and list materials by data sheet.
    #[command(subcommand)]
    Material(adopt::Material),
    /// Check, adopt and list rule sets: what counts as VOC, exempt and HAP.
    #[command(subcommand)]
    Rules(rules::Rules),
    /// Receive and list lots.
    #[command(subcommand)]
    Lot(shop::Lot),
    /// Make and list mixes.
    #[command(subcommand)]
    Mix(shop::Mix),
    /// What lies where by the log; counts, and uses that no coat tells of.
    Stock(stock::Stock),
    /// The pots that are open; close one.
    ///
    /// What is left of a mix in the evening goes into a closed can that carries the mix's number and needs no entry: the pot stays
    /// open, and tomorrow's coat names the same mix. Fresh lacquer on top of it is "mix make --tops-up"; what is thrown away
    /// is "pot close".
    Pot(stock::Pot),
    /// Waste drums and their clocks.
    Drum(stock::Drum),
    /// How the solvent book is kept.
    Book(stock::BookSetting),
    /// Recurring checks and tasks, and how each stands.
    Duty(duties::Duty),
    /// Incidents, near misses, spills, fires and exposures, and what came of them.
    Incident(duties::Incident),
    /// Whom to ask, as the shop fills it in.
    Contact(duties::Contact),
    /// Declare rooms and take over their readings.
    #[command(subcommand)]
    Room(shop::Room),
    /// Enter a reading of a room's air by hand.
    Reading(loggers::Reading),
    /// Describe climate loggers and take over what they write and send.
    #[command(subcommand)]
    Logger(loggers::Logger),
    /// Add, import and show pieces.
    #[command(subcommand)]
    Piece(pieces::Piece),
    /// Log a coat or a touch-up.
    Coat(deed::Coat),
    /// Log a sanding.
    Sand(deed::Sand),
    /// Log another deed of the recipe with nothing more to say of it: receive, mask, buff, unmask, inspect, mate, ...
    Done(deed::Done),
    /// Take in white wood: grit, moisture, light table, verdict.
    Receive(process::Receive),
    /// Log masking and hanging.
    Mask(process::Mask),
    /// Log one stage of buffing.
    Buff(process::Buff),
    /// Log a cure under a lamp.
    Light(process::Light),
    /// Log an inspection, place by place.
    Inspect(process::Inspect),
    /// Log that a body and its neck were joined: one deed on both.
    Mate(process::Mate),
    /// Say that a deed has begun; the deed itself ends it.
    Begin(process::Begin),
    /// Say that a begun deed is done, with nothing more to record of it.
    End(process::End),
    /// Say that a begun deed was broken off before it was done to these pieces.
    BreakOff(process::BreakOff),
    /// The deeds that are begun and not ended.
    Begun,
    /// Write down a defect.
    Defect(mend::Flaw),
    /// Say that a defect was mended without a rework.
    Mend(mend::Mend),
    /// Open a rework: the surface goes on by the rework's own steps.
    Rework(mend::Rework),
    /// Move pieces to another recipe or revision.
    Reassign(mend::Reassign),
    /// Replace a piece's tag; the old one is retired.
    Tag(mend::Tag),
    /// Print tags for pieces, racks and people, and control tags for working with a scanner alone.
    Tags(tags::Tags),
    /// Print blank forms for a power cut, and what was next on each rack.
    Forms(forms::BlankForms),
    /// Key in forms that were written on while the ledger could not be reached.
    KeyIn(key_in::KeyIn),
    /// Draw a page of the screens into an SVG file; nothing is saved by it.
    Picture(picture::Picture),
    /// Say that a body and a neck belong together from now on.
    Pair(mend::Pair),
    /// List, show, split and merge racks.
    #[command(subcommand)]
    Rack(rack::Rack),
    /// Hang pieces on a rack or in a room.
    Move(deed::Move),
    /// Put pieces on hold.
    Hold(deed::Because),
    /// Lift a hold.
    Lift(deed::Because),
    /// Write a note on pieces.
    Note(deed::Note),
    /// Scrap pieces.
    Scrap(deed::Because),
    /// Take pieces back from scrap.
    Restore(deed::Because),
    /// Enter a film gauge reading.
    Gauge(deed::Gauge),
    /// Undo your last action at this station that can be taken back.
    Undo(correct::Undo),
    /// Take back an entry or an action; both stay readable.
    Void(correct::Void),
    /// Move a deed to the piece that it was really done to.
    Relocate(correct::Relocate),
    /// Replace the times or figures of a coat.
    Amend(correct::Amend),
    /// A supervisor's word on a deviation.
    Answer(correct::Answer),
    /// Give the reason for a deviation.
    Explain(correct::Explain),
    /// What is ready now, and what by when.
    Ready(ask::Ready),
    /// Every piece in process with its outlook.
    Floor,
    /// Deviations that are not answered yet.
    Deviations(ask::Deviations),
    /// Entries with who, when happened and when written.
    Entries(ask::Entries),
    /// One action and its entries.
    Action(ask::Action),
    /// What was saved last at this station, and what was not.
    Last,
    /// Pairs that are forecast to miss their due date.
    AtRisk(rehearse::AtRisk),
    /// The plan: what each rack reaches when, hooks by day, a piece backwards from its date, what if.
    Plan(plan::Plan),
    /// Stations: where something is done, by how many, and how long it takes; the plan goes by them.
    #[command(name = "station")]
    StationAt(plan::Station),
    /// The day's list: what can be done by when, and what stands in the way.
    Shift(rehearse::DayShift),
    /// What is worth telling somebody now; mark it as seen, put it off, or say who is told of what.
    Alert(alerts::Alert),
    /// Tell people by the shop's rules, without a screen.
    Watch(watch::Watch),
    /// The page of a shift's end for whoever comes next; give it, take it.
    #[command(name = "handover")]
    HandOver(hand_over::HandOver),
    /// Pieces whose other half is scrapped or missing.
    Unpaired,
    /// Defects by what stood behind them, right first time, rework, and the charts of film and amount.
    Quality(quality::Quality),
    /// A month's solvent from the log.
    Month(months::Month),
    /// A year's solvent from the log, as a workbook, CSV or a page.
    Year(papers::Year),
    /// Write everything of some months into a new folder, for a person who inspects.
    Inspection(papers::Inspection),
    /// Enter and list limits with their source.
    #[command(subcommand)]
    Limit(safety::Limit),
    /// Record a booth's face velocity and hold it against its limit.
    Survey(safety::Survey),
    /// The newest survey of each booth, and the checks that are due.
    Booths,
    /// Solvent vapour: of each booth's exhaust at the rate really sprayed, and of the rooms with fresh work.
    Air(air::Air),
    /// Record a check of a booth.
    #[command(subcommand)]
    Booth(safety::Booth),
    /// Record that a booth's exhaust stopped: who was wet there, and the check that is due from then on.
    PowerCut(safety::PowerCut),
    /// The cautions that belong to a material or mix.
    Cautions(cautions::Cautions),
    /// Write down that a caution was read, or who was told.
    Caution(cautions::Caution),
    /// Worksheets: list them, show the inputs of one, compute one.
    Work(Work),
    /// The working of a kept figure: film, ready time, mix, solvent, air.
    Working(working::Working),
    /// People, their roles and PINs.
    #[command(subcommand)]
    Person(people::Person),
    /// The clock: what is doubted, confirm it, correct a wrong stretch.
    Clock(clock::Clock),
    /// Check the record and everything that follows from it.
    Verify(upkeep::Verify),
    /// What the witness outside the database saw last; go on without what was lost.
    Witness(upkeep::Witness),
    /// Build everything that follows from the record again.
    Rebuild,
    /// Write a backup while others work.
    Backup(upkeep::Backup),
    /// Put a backup in the ledger's place; what lies there is moved aside.
    Recover(upkeep::Recover),
    /// Write the whole record as JSON Lines and CSV into a new folder.
    Export(upkeep::Export),
    /// Take an export into a new ledger.
    Import(upkeep::Import),
    /// Shell completions.
    Completions(upkeep::Completions),
}

/// Worksheets: without an id they are listed, with an id its inputs, with name=value it computes.
#[derive(Debug, clap::Args)]
struct Work {
    /// The worksheet.
    id: Option<String>,
    /// Inputs, such as wet=4.5mil; lists repeat the name or take name=[a,b,c].
    #[arg(value_name = "NAME=VALUE", allow_hyphen_values = true)]
    inputs: Vec<String>,
}

/// What can go wrong at the edge, with its exit code.
#[derive(Debug, thiserror::Error)]
pub enum Trouble {
    /// Bad input: exit code 2.
    #[error("{0}")]
    Input(String),
    /// Rows of a file were refused: exit code 2.
    #[error("{}", list_rows(.0, .1))]
    Rows(String, Vec<RowFault>),
    /// The ledger or the system: exit code 3.
    #[error(transparent)]
    Ledger(LedgerError),
    /// Output: exit code 3, or 0 for a broken pipe.
    #[error("output: {0}")]
    Io(#[from] std::io::Error),
    /// Anything else of the system: exit code 3.
    #[error("{0}")]
    System(String),
}

fn list_rows(file: &str, rows: &[RowFault]) -> String {
    // A header that is not understood gives many faults and is one line.
    let refused = if rows.iter().all(|r| r.line == 1) {
        "its first line was refused".to_owned()
    } else if rows.len() == 1 {
        "1 row was refused".to_owned()
    } else {
        format!("{} rows were refused", rows.len())
    };
    let mut text = format!("{file}: {refused}; nothing was taken in");
    // One and the same fault in many rows is said once.
    let mut faults: Vec<(&str, Vec<u64>)> = Vec::new();
    for row in rows {
        match faults.iter_mut().find(|(why, _)| *why == row.why) {
            Some((_, lines)) => lines.push(row.line),
            None => faults.push((&row.why, vec![row.line])),
        }
    }
    for (why, lines) in faults {
        match lines.as_slice() {
            [one] => text.push_str(&format!("\n{file}:{one}: {why}")),
            many => text.push_str(&format!(
                "\n{file}: rows {}: {why}",
                crate::reports::together::ranges(many)
            )),
        }
    }
    text
}

impl From<LedgerError> for Trouble {
    fn from(e: LedgerError) -> Self {
        match e {
            LedgerError::Input(text) => Self::Input(text),
            other => Self::Ledger(other),
        }
    }
}

impl Trouble {
    const fn code(&self) -> u8 {
        match self {
            Self::Input(_) | Self::Rows(..) => 2,
            Self::Ledger(_) | Self::Io(_) | Self::System(_) => 3,
        }
    }
}

type Answer = Result<u8, Trouble>;

// A file of that name is somebody's: it is never written over.
fn write_new(file: &std::path::Path, bytes: impl AsRef<[u8]>) -> Result<(), Trouble> {
    use std::io::ErrorKind as Kind;
    let refused = |why: String| Trouble::Input(format!("file {} {why}", file.display()));
    match crate::reports::paper::write_new(file, bytes) {
        Ok(_) => Ok(()),
        Err(e) if e.kind() == Kind::AlreadyExists => {
            Err(refused("exists already; take another name".to_owned()))
        }
        Err(e) if matches!(e.kind(), Kind::StorageFull | Kind::QuotaExceeded) => Err(e.into()),
        Err(e) => Err(refused(format!("cannot be written: {e}"))),
    }
}

/// Said where something would be saved at another moment than now.
const AT_IS_FOR_QUESTIONS: &str =
    "--at is for questions; for work that was done write --ended 07:00 or --ended-ago 20m";

/// What a command works with.
struct Desk<'a> {
    options: Options,
    out: &'a mut dyn Write,
    /// Whether the facts come from a demo: then every page says so.
    demo: std::cell::Cell<bool>,
    /// The ledger whose backup is due, and when the command took place; it is written when the answer is out.
    due: std::cell::RefCell<Option<(PathBuf, Moment)>>,
    /// What is said beside every answer.
    beside: std::cell::RefCell<Beside>,
}

/// What is said beside an answer, whatever the command.
#[derive(Debug, Default)]
struct Beside {
    /// Why the clock is not believed.
    doubts: Vec<ClockDoubt>,
    /// The line at the top that says so.
    doubted: Option<String>,
    /// How a deed that asks for a PIN came to be done.
    pin: Option<PinWord>,
    /// Who is in no people list.
    strangers: std::collections::BTreeSet<String>,
    /// What holds for the place of the ledger: a name for machines, and the line that was said on standard error.
    place: Vec<(&'static str, String)>,
    /// What is in view, where the ledger is only read.
    read: Option<ReadOnly>,
    /// The ledger's file, where it is read without locks.
    unlocked: Option<Unlocked>,
}

/// An open ledger with its clock and calendar.
struct Shop {
    ledger: Ledger,
    clock: Clock,
    calendar: Calendar,
    now: Moment,
}

impl Shop {
    /// The moment at which a deed is given. A demo's command takes place at one moment, so that the same commands
    /// write the same times, however fast the machine is; a real ledger reads the system's clock.
    fn present(&self) -> Moment {
        if self.clock.is_demo() {
            self.now
        } else {
            self.clock.now()
        }
    }

    /// The written time of a deed.
    fn stamp(&self) -> Stamp {
        self.ledger.stamp(self.present(), self.clock.boot_ms())
    }
}

impl Desk<'_> {
    fn path(&self) -> Result<PathBuf, Trouble> {
        match &self.options.ledger {
            Some(path) => Ok(path.clone()),
            None => default_path(),
        }
    }

    /// Opens the ledger. `now` is the moment that a question is about.
    fn shop(&self) -> Result<Shop, Trouble> {
        self.opened(Ledger::open(&self.path()?)?)
    }

    /// The same without holding the record against its witness: for looking at what is left and for copying it.
    fn shop_unheld(&self) -> Result<Shop, Trouble> {
        self.opened(Ledger::open_unheld(&self.path()?)?)
    }

    fn opened(&self, ledger: Ledger) -> Result<Shop, Trouble> {
        if let Some(done) = ledger.upgraded() {
            talk(&format!(
                "the ledger was brought from schema {} to {}; as it was it lies at {} (head {})",
                done.from,
                done.to,
                done.backup.path.display(),
                done.backup.head
            ));
        }
        let shop = self.shop_of(ledger)?;
        for (_, text) in &self.beside.borrow().place {
            talk(text);
        }
        Ok(shop)
    }

    fn shop_of(&self, mut ledger: Ledger) -> Result<Shop, Trouble> {
        let calendar = ledger.calendar();
        {
            let mut beside = self.beside.borrow_mut();
            beside.place = crate::reports::place::lines(&ledger)?;
            beside.read = ledger.read_only()?;
            beside.unlocked = ledger.unlocked();
        }
        self.demo.set(ledger.demo());
        // A real ledger's clock is the machine's: a deed "at" another moment would be written down as of now.
        if self.options.at.is_some() && !ledger.demo() {
            ledger.for_questions(AT_IS_FOR_QUESTIONS);
        }
        if !ledger.demo() {
            let clock = Clock::system();
            ledger.runs_under(clock.boot());
            let facts = ledger.clock_facts(clock.now(), clock.boot_ms())?;
            let mut beside = self.beside.borrow_mut();
            beside.doubted = crate::reports::clock::line(&facts.doubts, &calendar);
            beside.doubts = facts.doubts;
        }
        let present = if ledger.demo() {
            ledger.newest_written()?
        } else {
            Clock::system().now()
        };
        let at = self
            .options
            .at
            .as_deref()
            .map(|t| read_time(&calendar, t, present))
            .transpose()?;
        let clock = if ledger.demo() {
            Clock::starting_at(at.unwrap_or(present))
        } else {
            Clock::system()
        };
        let now = at.unwrap_or(present);
        let shop = Shop {
            ledger,
            clock,
            calendar,
            now,
        };
        let present = shop.present();
        // A board that is only read may not see all, and must not push out backups that hold more.
        let saves = shop.ledger.may_save().is_ok();
        if saves && shop.ledger.backup_due(present)?.is_some() {
            self.due
                .replace(Some((shop.ledger.path().to_path_buf(), present)));
        }
        Ok(shop)
    }

    /// The units in which worksheets are shown.
    const fn system(&self) -> crate::units::System {
        self.options.units.system()
    }

    /// The clock was confirmed just now.
    fn no_doubt(&self) {
        let mut beside = self.beside.borrow_mut();
        beside.doubts.clear();
        beside.doubted = None;
    }

    /// The witness was renewed just now.
    fn renewed(&self) {
        let mut beside = self.beside.borrow_mut();
        beside.place.retain(|(name, _)| *name != "witness_spoilt");
    }

    /// Takes back every *ready* while the clock is not confirmed, and where not all that was saved is in view.
    fn hold_back<'s>(&self, seen: impl IntoIterator<Item = &'s mut Seen>) {
        let beside = self.beside.borrow();
        let mut seen: Vec<&mut Seen> = seen.into_iter().collect();
        crate::reports::clock::hold_back(seen.iter_mut().map(|s| &mut **s), &beside.doubts);
        crate::reports::place::hold_back(seen, beside.read.as_ref());
    }

    /// An answer with the state of the clock in it, or in each of its parts.
    fn with_clock(&self, mut value: Value) -> Value {
        let state = crate::reports::clock::state(&self.beside.borrow().doubts);
        let each = match &mut value {
            Value::Array(list) => list.iter_mut().collect(),
            one => vec![one],
        };
        for map in each.into_iter().filter_map(Value::as_object_mut) {
            map.insert("clock".to_owned(), Value::from(state));
        }
        value
    }

    /// The PIN of a person: as it was given, else asked for on the terminal.
    fn pin(&self, who: &Who) -> Result<Option<String>, Trouble> {
        match &self.options.pin {
            Some(pin) => Ok(Some(pin.clone())),
            None => Ok(crate::screens::ask_hidden(&format!(
                "PIN of {}:",
                who.person
            ))?),
        }
    }

    /// Asks for the PIN that a deed needs and holds it against the one that is set.
    fn authorise(&self, shop: &mut Shop, deed: PinDeed, who: &Who) -> Result<(), Trouble> {
        shop.ledger.may_save()?;
        let pin = if shop.ledger.asks_pin(deed, &who.person)? {
            self.pin(who)?
        } else {
            None
        };
        let stamp = shop.stamp();
        let word = shop.ledger.authorise(deed, who, pin.as_deref(), &stamp)?;
        self.beside.borrow_mut().pin = Some(word);
        self.note_strangers(shop, who)
    }

    /// Notes who is in no people list, to be said beside the deed.
    fn note_strangers(&self, shop: &Shop, who: &Who) -> Result<(), Trouble> {
        let found = shop
            .ledger
            .strangers([who.person.as_str(), who.writer.as_str()])?;
        self.beside.borrow_mut().strangers.extend(found);
        Ok(())
    }

    fn known_at(&self, shop: &Shop) -> Result<Option<Moment>, Trouble> {
        self.options
            .known_at
            .as_deref()
            .map(|t| read_time(&shop.calendar, t, shop.now))
            .transpose()
    }

    fn who(&self, by: Option<&str>) -> Result<Who, Trouble> {
        let writer = self.options.initials.clone().ok_or_else(|| {
            Trouble::Input(
                "whose initials? write --as INITIALS or set HANGTIME_INITIALS".to_owned(),
            )
        })?;
        Ok(Who {
            person: by.map_or_else(|| writer.clone(), str::to_owned),
            writer,
            station: self.options.station.clone(),
        })
    }

    /// Says what was saved, in one line or as JSON with what a deed adds of its own.
    fn saved(&mut self, done: &Saved, what: &str, more: Value) -> Answer {
        let mut value = json!({"saved": true, "action": done.action, "entry": done.first.0});
        if let (Some(map), Value::Object(more)) = (value.as_object_mut(), more) {
            map.extend(more);
        }
        self.print(&value, &[format!("saved: {what} (action {})", done.action)])?;
        Ok(0)
    }

    /// Prints the JSON, or the lines. What comes from a demo ledger says so, and so does what is asked by a clock that is
    /// not confirmed.
    fn print(&mut self, value: &Value, lines: &[String]) -> Result<(), Trouble> {
        let demo = self.demo.get();
        let beside = self.beside.borrow();
        if let Some(unlocked) = &beside.unlocked {
            unlocked.check()?;
        }
        if self.options.json {
            let mut value = value.clone();
            if let Some(map) = value.as_object_mut() {
                if demo {
                    map.insert("demo".to_owned(), Value::Bool(true));
                }
                for (name, text) in &beside.place {
                    map.insert((*name).to_owned(), json!(text));
                }
                if let Some(text) = &beside.doubted {
                    map.insert("clock".to_owned(), json!("not confirmed"));
                    map.insert("clock_doubted".to_owned(), json!(text));
                }
                if let Some(pin) = beside.pin {
                    map.insert("pin".to_owned(), json!(pin.words()));
                }
                if !beside.strangers.is_empty() {
                    map.insert("not_in_people_list".to_owned(), json!(beside.strangers));
                }
            }
            writeln!(self.out, "{}", shown_json(&format!("{value:#}")))?;
        } else {
            if demo {
                writeln!(self.out, "DEMO")?;
            }
            for line in beside.doubted.iter().chain(lines) {
                writeln!(self.out, "{}", shown_lines(line))?;
            }
            if let Some(word @ (PinWord::NoneSet | PinWord::NoneLeft)) = beside.pin {
                writeln!(self.out, "  {}", word.words())?;
            }
            for person in &beside.strangers {
                writeln!(self.out, "  {person} is not in the people list")?;
            }
        }
        Ok(())
    }
}

// Talk, not an answer: whoever reads the answer as JSON reads no more than the answer.
fn talk(text: &str) {
    let _ = writeln!(std::io::stderr(), "{}", shown_lines(text));
}

fn read_time(calendar: &Calendar, text: &str, now: Moment) -> Result<Moment, Trouble> {
    calendar
        .read(text, now)
        .map_err(|e| Trouble::Input(e.to_string()))
}

/// The time that was typed, or now where none was.
fn time_or(calendar: &Calendar, text: Option<&str>, now: Moment) -> Result<Moment, Trouble> {
    text.map_or(Ok(now), |t| read_time(calendar, t, now))
}

fn read_file(path: &std::path::Path) -> Result<Vec<u8>, Trouble> {
    std::fs::read(path)
        .map_err(|e| Trouble::Input(format!("{} cannot be read: {e}", path.display())))
}

fn read_text(path: &std::path::Path) -> Result<String, Trouble> {
    String::from_utf8(read_file(path)?).map_err(|_| {
        Trouble::Input(format!(
            "{} is not UTF-8 text; save it as UTF-8",
            path.display()
        ))
    })
}

/// Where the ledger lives when nobody says otherwise.
fn default_path() -> Result<PathBuf, Trouble> {
    data_folder().map(|f| f.join("shop.ledger"))
}

fn data_folder() -> Result<PathBuf, Trouble> {
    use etcetera::BaseStrategy;
    let base = etcetera::choose_base_strategy()
        .map_err(|e| Trouble::System(format!("no home folder: {e}")))?;
    Ok(base.data_dir().join("hangtime"))
}

// Words of a fixed list, typed in any case: what comes on is always the word of the list.
#[derive(Clone)]
struct OneOf(Vec<&'static str>);

fn one_of(words: impl IntoIterator<Item = &'static str>) -> OneOf {
    OneOf(words.into_iter().collect())
}

impl TypedValueParser for OneOf {
    type Value = String;

    fn parse_ref(
        &self,
        command: &clap::Command,
        arg: Option<&clap::Arg>,
        value: &std::ffi::OsStr,
    ) -> Result<String, clap::Error> {
        let typed = value.to_str().map_or("", str::trim);
        match self.0.iter().find(|word| word.eq_ignore_ascii_case(typed)) {
            Some(word) => Ok((*word).to_owned()),
            None => {
                PossibleValuesParser::new(self.0.iter().copied()).parse_ref(command, arg, value)
            }
        }
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        Some(Box::new(self.0.iter().copied().map(PossibleValue::new)))
    }
}

/// Runs the command line and gives the exit code.
pub fn main(cli: Cli) -> u8 {
    let stdout = std::io::stdout();
    let mut out = stdout.lock();
    let json = cli.options.json;
    let mut options = cli.options;
    // An empty variable says nobody.
    options.initials = options.initials.filter(|i| !i.trim().is_empty());
    let mut desk = Desk {
        options,
        out: &mut out,
        demo: std::cell::Cell::new(false),
        due: std::cell::RefCell::default(),
        beside: std::cell::RefCell::default(),
    };
    let answer = run(&mut desk, cli.command).and_then(|code| {
        desk.out.flush()?;
        Ok(code)
    });
    let code = match answer {
        Ok(code) => code,
        Err(Trouble::Io(e)) if e.kind() == std::io::ErrorKind::BrokenPipe => 0,
        Err(trouble) => {
            let code = trouble.code();
            let text = trouble.to_string();
            let said = if json {
                shown_json(&json!({"error": {"code": code, "text": text}}).to_string())
            } else {
                shown_lines(&text)
            };
            // Nothing is left to tell anybody when standard error is closed, too.
            let _ = writeln!(std::io::stderr(), "{said}");
            code
        }
    };
    if let Some((path, now)) = desk.due.take() {
        upkeep::backup_if_due(&path, now);
    }
    code
}

fn run(desk: &mut Desk<'_>, command: Option<Command>) -> Answer {
    let Some(command) = command else {
        return screen::open(desk, crate::screens::places::Place::Floor);
    };
    // An option that a command does not heed would give a wrong answer without a word.
    let heeds = matches!(
        command,
        Command::Ready(_)
            | Command::Floor
            | Command::Entries(_)
            | Command::Plan(_)
            | Command::Piece(pieces::Piece::Show { .. })
    );
    if desk.options.known_at.is_some() && !heeds {
        return Err(Trouble::Input(
            "--known-at is for ready, floor, plan, piece show and entries; leave it out here"
                .to_owned(),
        ));
    }
    match command {
        Command::Open(c) => c.run(desk),
        Command::Screen(c) => c.run(desk),
        Command::Sample(c) => c.run(desk),
        Command::Recipe(c) => c.run(desk),
        Command::Material(c) => c.run(desk),
        Command::Rules(c) => c.run(desk),
        Command::Lot(c) => c.run(desk),
        Command::Mix(c) => c.run(desk),
        Command::Stock(c) => c.run(desk),
        Command::Pot(c) => c.run(desk),
        Command::Drum(c) => c.run(desk),
        Command::Book(c) => c.run(desk),
        Command::Duty(c) => c.run(desk),
        Command::Incident(c) => c.run(desk),
        Command::Contact(c) => c.run(desk),
        Command::Room(c) => c.run(desk),
        Command::Reading(c) => c.run(desk),
        Command::Logger(c) => c.run(desk),
        Command::Piece(c) => c.run(desk),
        Command::Coat(c) => c.run(desk),
        Command::Sand(c) => c.run(desk),
        Command::Done(c) => c.run(desk),
        Command::Receive(c) => c.run(desk),
        Command::Mask(c) => c.run(desk),
        Command::Buff(c) => c.run(desk),
        Command::Light(c) => c.run(desk),
        Command::Inspect(c) => c.run(desk),
        Command::Mate(c) => c.run(desk),
        Command::Begin(c) => c.run(desk),
        Command::End(c) => c.run(desk),
        Command::BreakOff(c) => c.run(desk),
        Command::Begun => process::begun(desk),
        Command::Defect(c) => c.run(desk),
        Command::Mend(c) => c.run(desk),
        Command::Rework(c) => c.run(desk),
        Command::Reassign(c) => c.run(desk),
        Command::Tags(c) => c.run(desk),
        Command::Forms(c) => c.run(desk),
        Command::KeyIn(c) => c.run(desk),
        Command::Picture(c) => c.run(desk),
        Command::Tag(c) => c.run(desk),
        Command::Pair(c) => c.run(desk),
        Command::Rack(c) => c.run(desk),
        Command::Move(c) => c.run(desk),
        Command::Hold(c) => c.run(desk, deed::Why::Hold),
        Command::Lift(c) => c.run(desk, deed::Why::Lift),
        Command::Note(c) => c.run(desk),
        Command::Scrap(c) => c.run(desk, deed::Why::Scrap),
        Command::Restore(c) => c.run(desk, deed::Why::Restore),
        Command::Gauge(c) => c.run(desk),
        Command::Undo(c) => c.run(desk),
        Command::Void(c) => c.run(desk),
        Command::Relocate(c) => c.run(desk),
        Command::Amend(c) => c.run(desk),
        Command::Answer(c) => c.run(desk),
        Command::Explain(c) => c.run(desk),
        Command::Ready(c) => c.run(desk),
        Command::Floor => ask::floor(desk),
        Command::Deviations(c) => c.run(desk),
        Command::Entries(c) => c.run(desk),
        Command::Action(c) => c.run(desk),
        Command::Last => ask::last(desk),
        Command::AtRisk(c) => c.run(desk),
        Command::Plan(c) => c.run(desk),
        Command::StationAt(c) => c.run(desk),
        Command::Shift(c) => c.run(desk),
        Command::Alert(c) => c.run(desk),
        Command::Watch(c) => c.run(desk),
        Command::HandOver(c) => c.run(desk),
        Command::Unpaired => ask::unpaired(desk),
        Command::Quality(c) => c.run(desk),
        Command::Month(c) => c.run(desk),
        Command::Year(c) => c.run(desk),
        Command::Inspection(c) => c.run(desk),
        Command::Limit(c) => c.run(desk),
        Command::Survey(c) => c.run(desk),
        Command::Booths => safety::booths(desk),
        Command::Air(c) => c.run(desk),
        Command::Booth(c) => c.run(desk),
        Command::PowerCut(c) => c.run(desk),
        Command::Cautions(c) => c.run(desk),
        Command::Caution(c) => c.run(desk),
        Command::Work(c) => worksheet(desk, &c),
        Command::Working(c) => c.run(desk),
        Command::Person(c) => c.run(desk),
        Command::Clock(c) => c.run(desk),
        Command::Verify(c) => c.run(desk),
        Command::Witness(c) => c.run(desk),
        Command::Rebuild => upkeep::rebuild(desk),
        Command::Backup(c) => c.run(desk),
        Command::Recover(c) => c.run(desk),
        Command::Export(c) => c.run(desk),
        Command::Import(c) => c.run(desk),
        Command::Completions(c) => c.run(desk),
    }
}

fn worksheet(desk: &mut Desk<'_>, asked: &Work) -> Answer {
    let system = desk.system();
    let mut err = std::io::stderr();
    let code = work::run(
        asked.id.as_deref(),
        &asked.inputs,
        desk.options.json,
        system,
        desk.out,
        &mut err,
    )
    .map_err(|e| match e.downcast::<std::io::Error>() {
        Ok(io) => Trouble::Io(io),
        Err(other) => Trouble::System(other.to_string()),
    })?;
    Ok(u8::try_from(code).unwrap_or(3))
}
