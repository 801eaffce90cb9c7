//! The day's list: what can be done by when, and what stands in the way. The page for the hook board.
//!
//! *Invariants*: every row is the answer of a question that has a command of its own (ready, begun, at-risk,
//! deviations), so that the list and the command never differ. It looks one step ahead: what comes after a piece's next
//! step is not counted. A deed takes no time here.
//!
//! *Not here*: printing (commands), drawing (screens), and any query.

use super::rehearsal::COMMON_HOURS;
use super::{CHECK_BY_HAND, at_risk, piece_json, racks, ready};
use crate::ledger::{AtRisk, DeviationRow, PairAhead, RoomHooksRow, Seen};
use crate::shop::calendar::Calendar;
use crate::shop::hours::Hours;
use crate::shop::words::{Outlook, Rule, StepKind, Word};
use crate::units::Moment;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What a shift is planned by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Work {
    /// Level sanding.
    LevelSand,
    /// Final sanding.
    FinalSand,
    /// Buffing.
    Buff,
    /// Any coat.
    Coat,
    /// Any other step.
    Other,
}

impl Work {
    /// All of it, in the order of the list.
    pub const ALL: [Self; 5] = [
        Self::LevelSand,
        Self::FinalSand,
        Self::Buff,
        Self::Coat,
        Self::Other,
    ];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::LevelSand => "level-sand",
            Self::FinalSand => "final-sand",
            Self::Buff => "buff",
            Self::Coat => "coat",
            Self::Other => "other",
        }
    }

    /// Which work a step is.
    pub const fn of(kind: StepKind) -> Self {
        match kind {
            StepKind::LevelSand => Self::LevelSand,
            StepKind::FinalSand => Self::FinalSand,
            StepKind::Buff => Self::Buff,
            _ if kind.wets() => Self::Coat,
            _ => Self::Other,
        }
    }

    fn kinds(self) -> Vec<StepKind> {
        let kinds = StepKind::ALL.iter().copied();
        kinds.filter(|k| Self::of(*k) == self).collect()
    }
}

/// How many pieces have one work next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count {
    /// The work.
    pub work: Work,
    /// Ready at the moment that was asked for.
    pub now: usize,
    /// Ready by the two moments of [`DayList::by`]; those that are ready now are among them.
    pub by: [usize; 2],
    /// All that have it next, whenever that is.
    pub all: usize,
    /// Whether a count of the moments ahead rests on a forecast or an assumption.
    pub provisional: bool,
}

/// What a row is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum On {
    /// A rack.
    Rack(String),
    /// A piece.
    Piece(String),
    /// A deviation of a piece.
    Deviation {
        /// Its entry.
        entry: i64,
        /// The rule.
        rule: Rule,
        /// Serial of the piece.
        serial: String,
    },
    /// A pair, by the half that holds the other back where that one is in process.
    Pair(String),
    /// A room.
    Room(String),
}

/// A row of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// What it is about.
    pub on: On,
    /// Its two columns.
    pub lead: [String; 2],
    /// The judgement, where it has one.
    pub outlook: Option<Outlook>,
    /// What is said of it.
    pub text: String,
    /// What more there is to say, one line each.
    pub more: Vec<String>,
    /// How many pieces it is about.
    pub pieces: usize,
    /// The pieces that hold it back, where it is a rack that few of its pieces hold back.
    pub blockers: Vec<String>,
    /// Texts that it is found by, in small letters.
    pub keys: String,
}

/// A part of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What can be done, by rack.
    Work,
    /// What is behind its due date, or has stood ready for too long.
    Late,
    /// What is on hold.
    Held,
    /// Deviations that await a word.
    Deviations,
    /// Deeds that are begun and not ended, and racks on which some pieces are further than others.
    HalfDone,
    /// Pairs that cannot meet in time.
    Pairs,
    /// Rooms and what hangs there.
    Rooms,
}

impl Part {
    /// All of them, in the order of the list.
    pub const ALL: [Self; 7] = [
        Self::Work,
        Self::Late,
        Self::Held,
        Self::Deviations,
        Self::HalfDone,
        Self::Pairs,
        Self::Rooms,
    ];

    /// Its heading.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Work => "work",
            Self::Late => "behind or queued",
            Self::Held => "held",
            Self::Deviations => "deviations",
            Self::HalfDone => "half-done",
            Self::Pairs => "pairs",
            Self::Rooms => "rooms",
        }
    }

    /// What it lists.
    pub const fn says(self) -> &'static str {
        match self {
            Self::Work => "by rack, with the piece that blocks it",
            Self::Late => "behind: forecast to end after the due date; or queued too long",
            Self::Held => "on hold",
            Self::Deviations => "not answered yet by a supervisor",
            Self::HalfDone => "begun and not ended, or not all at the same coat",
            Self::Pairs => "forecast to miss their date, or not to be told",
            Self::Rooms => "what hangs there",
        }
    }

    /// What is said where nothing is listed.
    pub const fn nothing(self) -> &'static str {
        match self {
            Self::Work => "no piece in process has a next step",
            Self::Late => {
                "no piece is forecast to end after its due date, and none has queued longer than its recipe states"
            }
            Self::Held => "no piece is on hold",
            Self::Deviations => "no deviation recorded is left unanswered",
            Self::HalfDone => "no begun deed is open, and no rack is mixed",
            Self::Pairs => "no pair with a due date is forecast to miss it",
            Self::Rooms => "no room is known",
        }
    }
}

/// The list.
#[derive(Debug, Clone)]
pub struct DayList {
    /// As of which moment.
    pub at: Moment,
    /// The next noon and end of the hours, in their order.
    pub by: [Moment; 2],
    /// The hours that it goes by, in words.
    pub hours: String,
    /// Whether somebody gave them.
    pub given: bool,
    /// What can be done.
    pub counts: Vec<Count>,
    /// Pairs with a due date that were looked at.
    pub pairs: usize,
    /// Pieces in work and pieces that cannot be told.
    pub in_work: usize,
    /// Pieces whose outlook is not known.
    pub unknown: usize,
    /// The rows of each part, in the order of [`Part::ALL`].
    pub parts: Vec<(Part, Vec<Row>)>,
}

/// What the list is made of.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// The pieces in process at the moment.
    pub floor: &'a [Seen],
    /// The pairs that cannot meet by these hours.
    pub risk: &'a AtRisk,
    /// The deviations that await a word.
    pub deviations: &'a [DeviationRow],
    /// The rooms that are known.
    pub rooms: &'a [String],
    /// The hooks of the rooms, where they are entered.
    pub hooks: &'a [RoomHooksRow],
    /// The hours, and whether somebody gave them.
    pub hours: (&'a Hours, bool),
}

// `R1 hook 3`, or where else it hangs.
fn hangs(seen: &Seen) -> String {
    let place = seen.now.place();
    let rack = place.and_then(|p| p.rack.as_deref());
    let hook = place.and_then(|p| p.hook);
    match (rack, hook) {
        (Some(rack), Some(hook)) => format!("{rack} hook {hook}"),
        (Some(rack), None) => rack.to_owned(),
        (None, _) => "no rack".to_owned(),
    }
}

fn keys<'a>(pieces: impl IntoIterator<Item = &'a Seen>) -> String {
    let mut out = String::new();
    for seen in pieces {
        for text in seen.texts() {
            out.push_str(&text.to_lowercase());
            out.push('\n');
        }
    }
    out
}

fn reason(seen: &Seen) -> String {
    seen.view.reasons.first().map_or_else(
        || seen.view.next_on(),
        |o| format!("{}: {}", seen.view.next_on(), o.before),
    )
}

impl DayList {
    /// The list from what is known at a moment.
    pub fn of(facts: &Facts<'_>, at: Moment, calendar: &Calendar) -> Self {
        let by = facts.hours.0.ahead(at);
        let count = |o| facts.floor.iter().filter(|s| s.view.outlook == o).count();
        Self {
            at,
            by,
            hours: facts.hours.0.words(at),
            given: facts.hours.1,
            counts: Work::ALL
                .into_iter()
                .map(|w| counted(facts.floor, w, by))
                .collect(),
            pairs: facts.risk.looked_at,
            in_work: count(Outlook::InWork),
            unknown: count(Outlook::Unknown),
            parts: Part::ALL
                .into_iter()
                .map(|part| (part, rows(part, facts, at, calendar)))
                .collect(),
        }
    }

    /// The rows of a part.
    pub fn rows(&self, part: Part) -> &[Row] {
        self.parts
            .iter()
            .find(|(p, _)| *p == part)
            .map_or(&[], |(_, rows)| rows)
    }
}

/// Whether a piece is behind, that is, forecast to miss its date, or has stood ready for longer than its recipe states.
pub fn is_behind_or_queued(seen: &Seen) -> bool {
    seen.view.behind || seen.view.queued.is_some()
}

fn counted(floor: &[Seen], work: Work, by: [Moment; 2]) -> Count {
    let next: Vec<&Seen> = floor
        .iter()
        .filter(|s| s.view.deed().is_some_and(|k| Work::of(k) == work))
        .collect();
    let ready = |s: &Seen| s.view.outlook == Outlook::Ready;
    let until = |s: &Seen, m: Moment| {
        s.view.outlook == Outlook::Waiting && s.view.ready_at.is_some_and(|r| r <= m)
    };
    Count {
        work,
        now: next.iter().filter(|s| ready(s)).count(),
        by: by.map(|m| next.iter().filter(|s| ready(s) || until(s, m)).count()),
        all: next.len(),
        provisional: next
            .iter()
            .any(|s| s.view.provisional && by.iter().any(|m| until(s, *m))),
    }
}

fn rows(part: Part, facts: &Facts<'_>, at: Moment, calendar: &Calendar) -> Vec<Row> {
    let floor = facts.floor;
    match part {
        Part::Work => Work::ALL
            .into_iter()
            .flat_map(|w| work_rows(floor, w, at, calendar))
            .collect(),
        Part::Late => {
            let mut late: Vec<&Seen> = floor.iter().filter(|s| is_behind_or_queued(s)).collect();
            late.sort_by_key(|s| (!s.view.behind, s.now.piece.due, s.view.ready_at));
            late.into_iter()
                .map(|s| {
                    let behind = piece_json::behind_words(s, calendar);
                    let why: Vec<String> = behind
                        .into_iter()
                        .chain(piece_json::queued_words(s, at))
                        .collect();
                    piece_row(s, why.join("; "), vec![reason(s)])
                })
                .collect()
        }
        Part::Held => floor
            .iter()
            .filter(|s| !s.now.holds.is_empty())
            .map(|s| {
                let why: Vec<&str> = s.now.holds.iter().map(|(_, w)| w.as_str()).collect();
                piece_row(
                    s,
                    why.join("; "),
                    vec![format!("next {}", s.view.next_on())],
                )
            })
            .collect(),
        Part::Deviations => facts
            .deviations
            .iter()
            .filter_map(|d| deviation_row(d, floor))
            .collect(),
        Part::HalfDone => half_done(floor, at, calendar),
        Part::Pairs => facts
            .risk
            .pairs
            .iter()
            .map(|p| pair_row(p, at, calendar))
            .collect(),
        Part::Rooms => room_rows(facts),
    }
}

fn work_rows(floor: &[Seen], work: Work, at: Moment, calendar: &Calendar) -> Vec<Row> {
    let mut out = Vec::new();
    for rack in ready::by_rack(floor, &work.kinds()) {
        let Some(name) = rack.rack.clone() else {
            // Pieces on no rack are no group: each stands for itself.
            out.extend(rack.pieces.iter().map(|s| {
                let when = piece_json::when(s, at, calendar);
                let text = if when.is_empty() { reason(s) } else { when };
                let mut row = piece_row(s, text, vec![reason(s)]);
                row.lead = [work.word().to_owned(), s.now.piece.serial.clone()];
                row
            }));
            continue;
        };
        let ready = rack.ready_now() == rack.pieces.len();
        let outlook = ready::judged(&rack.pieces).outlook;
        let mut more: Vec<String> = rack
            .blockers
            .iter()
            .filter(|_| !ready)
            .map(|s| format!("{} {}: {}", s.now.piece.serial, hangs(s), reason(s)))
            .collect();
        more.extend(ready::mixed(&rack.pieces));
        let mut steps: BTreeMap<String, usize> = BTreeMap::new();
        for seen in &rack.pieces {
            *steps.entry(seen.view.next_on()).or_insert(0) += 1;
        }
        more.extend(steps.into_iter().map(|(next, n)| format!("{n} at {next}")));
        out.push(Row {
            lead: [work.word().to_owned(), name.clone()],
            outlook: Some(outlook),
            text: rack.words(at, calendar),
            more,
            pieces: rack.pieces.len(),
            blockers: rack
                .blockers
                .iter()
                .filter(|_| !ready)
                .map(|s| s.now.piece.serial.clone())
                .collect(),
            keys: format!("{}{}", keys(rack.pieces.iter().copied()), work.word()),
            on: On::Rack(name),
        });
    }
    out
}

fn piece_row(seen: &Seen, text: String, more: Vec<String>) -> Row {
    Row {
        on: On::Piece(seen.now.piece.serial.clone()),
        lead: [seen.now.piece.serial.clone(), hangs(seen)],
        outlook: Some(seen.view.outlook),
        text,
        more,
        pieces: 1,
        blockers: Vec::new(),
        keys: keys([seen]),
    }
}

fn deviation_row(d: &DeviationRow, floor: &[Seen]) -> Option<Row> {
    let seen = floor.iter().find(|s| s.now.piece.serial == d.serial);
    let given = d.reason.as_deref().unwrap_or("not given yet");
    Some(Row {
        on: On::Deviation {
            entry: d.entry.0,
            rule: Rule::from_word(&d.rule)?,
            serial: d.serial.clone(),
        },
        lead: [d.serial.clone(), seen.map_or_else(String::new, hangs)],
        outlook: None,
        text: format!("{}: {} (reason: {given})", d.rule, d.text),
        more: vec![format!(
            "entry {}, raised by action {}",
            d.entry.0, d.raised
        )],
        pieces: 1,
        blockers: Vec::new(),
        keys: format!("{}{}", keys(seen), d.rule),
    })
}

// A deed that is begun, and a rack whose pieces are not all at the same coat.
fn half_done(floor: &[Seen], at: Moment, calendar: &Calendar) -> Vec<Row> {
    let mut out = Vec::new();
    for open in racks::open_deeds(floor) {
        let first = open.pieces.first().map(|(s, _)| s.clone());
        let Some(on) = open.rack.clone().map(On::Rack).or(first.map(On::Piece)) else {
            continue;
        };
        let serials: Vec<String> = open.pieces.iter().map(|(s, _)| s.to_lowercase()).collect();
        let line = open.line(at, calendar);
        let (name, text) = line.split_once(": ").unwrap_or(("", line.as_str()));
        out.push(Row {
            on,
            lead: [name.to_owned(), "begun".to_owned()],
            outlook: Some(Outlook::InWork),
            text: text.to_owned(),
            more: Vec::new(),
            pieces: serials.len(),
            blockers: Vec::new(),
            keys: serials.join("\n"),
        });
    }
    for rack in racks::racks(floor, at, calendar) {
        let Some(mixed) = ready::mixed(&rack.pieces) else {
            continue;
        };
        let mut groups: BTreeMap<(std::cmp::Reverse<u32>, u32), Vec<u32>> = BTreeMap::new();
        for seen in &rack.pieces {
            let (done, planned) = piece_json::clear_coats(seen);
            let hook = seen.now.place().and_then(|p| p.hook);
            groups
                .entry((std::cmp::Reverse(done), planned))
                .or_default()
                .extend(hook);
        }
        let more = groups
            .into_iter()
            .map(|((done, planned), hooks)| {
                format!(
                    "clear {} of {planned}: hooks {}",
                    done.0,
                    super::together::ranges(&hooks)
                )
            })
            .collect();
        out.push(Row {
            on: On::Rack(rack.name.clone()),
            lead: [rack.name.clone(), "clear coats".to_owned()],
            outlook: None,
            text: mixed,
            more,
            pieces: rack.pieces.len(),
            blockers: Vec::new(),
            keys: keys(rack.pieces.iter().copied()),
        });
    }
    out
}

fn pair_row(pair: &PairAhead, at: Moment, calendar: &Calendar) -> Row {
    let [a, b] = &pair.halves;
    let here = |i: usize| pair.halves.get(i).filter(|h| h.seen.is_some());
    let held_back = here(pair.constraint).or_else(|| here(1 - pair.constraint.min(1)));
    Row {
        on: On::Pair(held_back.unwrap_or(a).serial.clone()),
        lead: [
            format!("{} + {}", a.serial, b.serial),
            format!("due {}", pair.due.format("%a %-d %b")),
        ],
        outlook: None,
        text: at_risk::words(pair),
        more: pair
            .halves
            .iter()
            .map(|h| at_risk::half_line(h, at, calendar).trim().to_owned())
            .collect(),
        pieces: 2,
        blockers: Vec::new(),
        keys: format!(
            "{}{}\n{}",
            keys(pair.halves.iter().filter_map(|h| h.seen.as_ref())),
            a.serial.to_lowercase(),
            b.serial.to_lowercase()
        ),
    }
}

/// Said of a room for which nobody entered how many pieces can hang there.
pub const NO_HOOKS: &str = "no hooks entered";

// How many hooks are left, or how many pieces hang there beyond them.
fn hook_words(hooks: u32, pieces: usize) -> String {
    let hooks = usize::try_from(hooks).unwrap_or(usize::MAX);
    match hooks.checked_sub(pieces) {
        Some(1) => "1 hook empty".to_owned(),
        Some(empty) => format!("{empty} hooks empty"),
        None => format!("short by {}", pieces - hooks),
    }
}

// What hangs where, beside the hooks that somebody entered for the room.
fn room_rows(facts: &Facts<'_>) -> Vec<Row> {
    let mut rooms: BTreeMap<&str, Vec<&Seen>> = facts
        .rooms
        .iter()
        .map(|r| (r.as_str(), Vec::new()))
        .collect();
    let mut nowhere = Vec::new();
    for seen in facts.floor {
        match seen.now.place().and_then(|p| p.room.as_deref()) {
            Some(room) => rooms.entry(room).or_default().push(seen),
            None => nowhere.push(seen),
        }
    }
    let hooks_of = |name: &str| facts.hooks.iter().find(|h| h.room == name);
    let row = |name: &str, pieces: &[&Seen], text: String| {
        let mut racks: BTreeMap<&str, usize> = BTreeMap::new();
        for seen in pieces {
            *racks.entry(seen.rack().unwrap_or("no rack")).or_insert(0) += 1;
        }
        let racks: Vec<String> = racks.iter().map(|(r, n)| format!("{r} {n}")).collect();
        let n = pieces.len();
        Row {
            on: On::Room(name.to_owned()),
            lead: [
                name.to_owned(),
                match hooks_of(name) {
                    Some(h) => format!("{n} of {} hooks", h.hooks),
                    None => format!("{n} hang{} there", if n == 1 { "s" } else { "" }),
                },
            ],
            outlook: None,
            text,
            more: if racks.is_empty() {
                Vec::new()
            } else {
                vec![format!("by rack: {}", racks.join(", "))]
            },
            pieces: n,
            blockers: Vec::new(),
            keys: name.to_lowercase(),
        }
    };
    let mut out: Vec<Row> = rooms
        .iter()
        .map(|(name, pieces)| {
            let curing = pieces.iter().filter(|s| s.view.cure.is_some()).count();
            let cure = match curing {
                0 => String::new(),
                n => format!("{n} in their cure; "),
            };
            let hooks = hooks_of(name).map_or_else(
                || NO_HOOKS.to_owned(),
                |h| hook_words(h.hooks, pieces.len()),
            );
            row(name, pieces, format!("{cure}{hooks}"))
        })
        .collect();
    if !nowhere.is_empty() {
        let mut row = row("room not known", &nowhere, "no air to go by".to_owned());
        let n = nowhere.len();
        row.lead[1] = format!("{n} piece{}", if n == 1 { "" } else { "s" });
        out.push(row);
    }
    out
}

fn by_words(list: &DayList, calendar: &Calendar) -> [String; 2] {
    list.by.map(|m| format!("by {}", calendar.near(m, list.at)))
}

/// The list as lines: a page to print, with a box to tick for each rack.
pub fn lines(list: &DayList, calendar: &Calendar) -> Vec<String> {
    let source = if list.given {
        String::new()
    } else {
        format!(" ({COMMON_HOURS})")
    };
    let mut out = vec![
        format!(
            "The day's list at {}, working {}{source}",
            calendar.stamp(list.at),
            list.hours
        ),
        format!("ready: {CHECK_BY_HAND}; working time not counted; ~ with a forecast among them"),
        String::new(),
    ];
    let [first, second] = by_words(list, calendar);
    let (w1, w2) = (first.len().max(5), second.len().max(5));
    out.push(format!(
        "{:<12} {:>5}  {first:>w1$}  {second:>w2$}  {:>6}",
        "pieces to", "ready", "in all"
    ));
    for c in &list.counts {
        let [a, b] = c.by;
        let sure = if c.provisional { "~" } else { "" };
        out.push(format!(
            "{:<12} {:>5}  {:>w1$}  {:>w2$}  {:>6}",
            c.work.word(),
            c.now,
            format!("{sure}{a}"),
            format!("{sure}{b}"),
            c.all
        ));
    }
    out.push(format!(
        "in work {}, unknown {}",
        list.in_work, list.unknown
    ));
    for (part, rows) in &list.parts {
        out.push(String::new());
        let n = rows.len();
        let of = match part {
            Part::Pairs => format!("{n} of {} with a due date", list.pairs),
            _ => n.to_string(),
        };
        out.push(format!("{}: {of} ({})", part.word(), part.says()));
        if rows.is_empty() {
            out.push(format!("  {}", part.nothing()));
        }
        let width = |i: usize| {
            let cells = rows.iter().filter_map(|r| r.lead.get(i));
            cells.map(|t| t.chars().count()).max().unwrap_or(0)
        };
        let (a, b) = (width(0), width(1));
        for row in rows {
            let [one, two] = &row.lead;
            let outlook = row.outlook.filter(|_| *part != Part::Held);
            let word = outlook.map_or_else(String::new, |o| format!("{:<8}", o.word()));
            out.push(format!("  [ ] {one:<a$}  {two:<b$}  {word} {}", row.text));
            // What a rack waits for and who holds a pair back is what the page is read for.
            if matches!(part, Part::Work | Part::Pairs | Part::HalfDone) {
                out.extend(row.more.iter().map(|m| format!("        {m}")));
            }
        }
    }
    out
}

/// The list as JSON.
pub fn answer(list: &DayList, calendar: &Calendar) -> Value {
    let rows = |part: Part| -> Vec<Value> {
        let row = |r: &Row| {
            let (what, name) = match &r.on {
                On::Rack(name) => ("rack", name),
                On::Piece(name) => ("piece", name),
                On::Deviation { serial, .. } => ("deviation", serial),
                On::Pair(name) => ("pair", name),
                On::Room(name) => ("room", name),
            };
            json!({
                "on": what, "name": name, "outlook": r.outlook.map(Word::word), "lead": r.lead, "text": r.text,
                "more": r.more, "blocked_by": r.blockers,
                "entry": match &r.on { On::Deviation { entry, .. } => Some(*entry), _ => None },
            })
        };
        list.rows(part).iter().map(row).collect()
    };
    json!({
        "at": calendar.rfc3339(list.at),
        "by": list.by.map(|m| calendar.rfc3339(m)),
        "hours": list.hours,
        "hours_from": if list.given { "given" } else { COMMON_HOURS },
        "note": CHECK_BY_HAND,
        "counts": list.counts.iter().map(|c| json!({
            "work": c.work.word(), "ready_now": c.now, "ready_by": c.by, "all": c.all, "provisional": c.provisional,
        })).collect::<Vec<_>>(),
        "in_work": list.in_work, "unknown": list.unknown, "pairs_looked_at": list.pairs,
        "work": rows(Part::Work), "late": rows(Part::Late), "held": rows(Part::Held),
        "deviations": rows(Part::Deviations), "half_done": rows(Part::HalfDone), "pairs": rows(Part::Pairs),
        "rooms": rows(Part::Rooms),
    })
}
