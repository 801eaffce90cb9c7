//! The plan as a page that somebody walks through: its parts, a line for each thing in them, and what there is to say of it.
//!
//! *Invariants*: it says no more and no less than the plan in lines, from the same functions; a part that is empty says so.
//!
//! *Not here*: how it is drawn (`screens::view`).

use super::{
    Basis, Deed, basis_lines, decides_words, deed_line, late_lines, late_pieces, pair_lines, rows,
    serials, short_lines, stuck_lines, waits, words,
};
use crate::plan::forecast::{Forecast, PlannedPiece, RoomDay, Step};
use crate::reports::at_risk;
use crate::shop::text::shown;
use crate::shop::words::StepKind;
use crate::units::{Moment, Span};

/// A part of the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// What each rack reaches when.
    Racks,
    /// Hooks by day.
    Hooks,
    /// Pieces that miss their date.
    Late,
    /// Pairs that cannot meet in time, and halves that wait for the other.
    Pairs,
}

impl Part {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Racks, Self::Hooks, Self::Late, Self::Pairs];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Racks => "racks",
            Self::Hooks => "hooks by day",
            Self::Late => "miss their date",
            Self::Pairs => "halves that wait",
        }
    }

    /// The heads of its columns.
    pub const fn heads(self) -> &'static [&'static str] {
        match self {
            Self::Racks => &["rack", "next", "begins", "P50", "P90"],
            Self::Hooks => &["day", "hang there", ""],
            Self::Late => &["piece", "due", "ends", "days over"],
            Self::Pairs => &["pair", "due", ""],
        }
    }

    /// Its columns in the order in which they are left out where there is no room for all.
    pub const fn spare(self) -> &'static [usize] {
        match self {
            Self::Racks => &[3, 4],
            Self::Hooks | Self::Pairs => &[],
            Self::Late => &[1],
        }
    }

    /// What is said where nothing is in it.
    pub const fn nothing(self) -> &'static str {
        match self {
            Self::Racks => "nothing is left to do on any rack in these days",
            Self::Hooks => "no room with a cure or with hooks is known",
            Self::Late => "no piece misses its date by the stated figures",
            Self::Pairs => "no half of a pair waits for the other",
        }
    }
}

/// What a line is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum On {
    /// A rack.
    Rack(String),
    /// A piece.
    Piece(String),
    /// A day of a room.
    Day,
}

/// How full a room is at the end of a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Full {
    /// Pieces that hang there.
    pub hang: usize,
    /// Its hooks, where they were entered.
    pub hooks: Option<usize>,
    /// The most that hang there on any of the days, or its hooks where these are more: what a whole bar means.
    pub most: usize,
}

/// A line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// What it is about.
    pub on: On,
    /// What stands above it, where it is the first of its room.
    pub above: Option<String>,
    /// Its columns.
    pub cells: Vec<String>,
    /// A bar behind them.
    pub bar: Option<Full>,
    /// Whether something is missed or short.
    pub against: bool,
    /// What else there is to say of it.
    pub more: Vec<String>,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// The moment of the plan.
    pub at: Moment,
    /// How many plays its spread is of.
    pub plays: usize,
    /// What the plan comes to, a line for each part.
    pub sums: Vec<String>,
    /// What it goes by, and what it cannot tell.
    pub said: Vec<String>,
    /// The parts.
    pub parts: Vec<(Part, Vec<Row>)>,
}

/// The page of a plan.
pub fn page(plan: &Forecast, basis: &Basis<'_>) -> Page {
    let calendar = basis.calendar;
    let first = |lines: Vec<String>| lines.into_iter().next();
    let sums = [late_lines(plan, basis), pair_lines(plan, calendar)];
    let rooms = plan.rooms.iter().map(|room| short_lines(plan, room));
    let mut said = basis_lines(plan, basis);
    said.extend(stuck_lines(plan));
    Page {
        at: plan.at,
        plays: plan.runs,
        sums: sums.into_iter().chain(rooms).filter_map(first).collect(),
        said,
        parts: Part::ALL
            .into_iter()
            .map(|part| {
                let rows = match part {
                    Part::Racks => racks(plan, basis),
                    Part::Hooks => hooks(plan),
                    Part::Late => late(plan, basis),
                    Part::Pairs => pairs(plan, basis),
                };
                (part, rows)
            })
            .collect(),
    }
}

fn racks(plan: &Forecast, basis: &Basis<'_>) -> Vec<Row> {
    let deeds = rows(plan, basis.until(plan.at));
    let mut out: Vec<(Moment, Row)> = Vec::new();
    for of_one in deeds.chunk_by(|a, b| a.name == b.name) {
        let Some(next) = of_one.iter().min_by_key(|d| d.began) else {
            continue;
        };
        let mut in_turn: Vec<&Deed<'_>> = of_one.iter().collect();
        in_turn.sort_by_key(|d| d.began);
        let stamp = |m: Moment| basis.calendar.stamp(m);
        let told = |m: Option<Moment>| match m {
            _ if next.step.begun.is_none() => String::new(),
            Some(m) => stamp(m),
            None => "unknown".to_owned(),
        };
        let row = Row {
            on: match next.rack {
                Some(rack) => On::Rack(rack.to_owned()),
                None => On::Piece(next.name.to_owned()),
            },
            above: None,
            cells: vec![
                shown(next.name),
                words(next.step),
                stamp(next.began),
                told(next.half),
                told(next.nine),
            ],
            bar: None,
            against: false,
            more: in_turn.iter().map(|d| deed_line(plan, d, basis)).collect(),
        };
        out.push((next.began, row));
    }
    out.sort_by_key(|(began, _)| *began);
    out.into_iter().map(|(_, row)| row).collect()
}

fn hooks(plan: &Forecast) -> Vec<Row> {
    let mut out = Vec::new();
    for room in &plan.rooms {
        let hooks = room.hooks.and_then(|n| usize::try_from(n).ok());
        let most = room.days.iter().map(|d| d.after).chain(hooks).max();
        for (n, day) in room.days.iter().enumerate() {
            let above = match hooks {
                Some(hooks) => format!("{}: {hooks} hooks", shown(&room.room)),
                None => format!("{}: hooks not entered", shown(&room.room)),
            };
            let full = Full {
                hang: day.after,
                hooks,
                most: most.unwrap_or(0),
            };
            out.push(Row {
                on: On::Day,
                above: (n == 0).then_some(above),
                cells: vec![
                    day.date.format("%a %-d %b").to_string(),
                    day.after.to_string(),
                    short(day, hooks),
                ],
                bar: Some(full),
                against: day.short.is_some_and(|n| n > 0),
                more: day_lines(plan, day),
            });
        }
    }
    out
}

fn short(day: &RoomDay, hooks: Option<usize>) -> String {
    match (day.short, hooks) {
        (Some(0), Some(hooks)) => format!("{} left", hooks.saturating_sub(day.after)),
        (Some(n), _) => format!("short by {n}"),
        (None, _) => String::new(),
    }
}

fn day_lines(plan: &Forecast, day: &RoomDay) -> Vec<String> {
    let mut out = vec![format!(
        "{}: {} hang there, {} arrive, {} leave, {} at its end",
        day.date.format("%a %-d %b"),
        day.before,
        day.arrive,
        day.leave,
        day.after
    )];
    if day.short.is_some_and(|n| n > 0) {
        out.push(format!(
            "recipe time reached, check by hand: {}",
            serials(plan, &day.could_leave)
        ));
    }
    out
}

fn late(plan: &Forecast, basis: &Basis<'_>) -> Vec<Row> {
    let calendar = basis.calendar;
    let row = |p: &PlannedPiece| -> Option<Row> {
        let (due, end, days) = (p.due?, p.end?, p.days_late?);
        let mut more: Vec<String> = p
            .decides
            .iter()
            .map(|d| format!("decided by {}", decides_words(d)))
            .collect();
        if let Some((half, nine)) = p.ends {
            let told = |m: Option<Moment>| m.map_or("unknown".to_owned(), |m| calendar.stamp(m));
            more.push(format!("ends: P50 {}  P90 {}", told(half), told(nine)));
        }
        Some(Row {
            on: On::Piece(p.serial.clone()),
            above: None,
            cells: vec![
                shown(&p.serial),
                due.format("%a %-d %b").to_string(),
                calendar.stamp(end),
                super::counted(usize::try_from(days).unwrap_or(0), "day"),
            ],
            bar: None,
            against: true,
            more,
        })
    };
    late_pieces(plan).into_iter().filter_map(row).collect()
}

fn pairs(plan: &Forecast, basis: &Basis<'_>) -> Vec<Row> {
    let calendar = basis.calendar;
    let mut out: Vec<Row> = Vec::new();
    for pair in &plan.pairs.1 {
        let names: Vec<String> = pair.halves.iter().map(|h| shown(&h.serial)).collect();
        let half = pair.halves.get(pair.constraint);
        out.push(Row {
            on: On::Piece(half.map_or_else(String::new, |h| h.serial.clone())),
            above: None,
            cells: vec![
                names.join(" + "),
                pair.due.format("%a %-d %b").to_string(),
                at_risk::words(pair),
            ],
            bar: None,
            against: true,
            more: waits(pair, calendar)
                .map(|w| w.trim().to_owned())
                .into_iter()
                .collect(),
        });
    }
    let known: Vec<String> = out
        .iter()
        .filter_map(|r| r.cells.first().cloned())
        .collect();
    let mates = plan
        .steps
        .iter()
        .filter(|s| s.coming.kind == StepKind::Mate);
    let mut waiting: Vec<(Span, Row)> = mates
        .filter_map(|step| waiting(plan, step, basis))
        .filter(|(_, row)| row.cells.first().is_none_or(|name| !known.contains(name)))
        .collect();
    waiting.sort_by_key(|(wait, _)| std::cmp::Reverse(*wait));
    out.extend(waiting.into_iter().map(|(_, row)| row));
    out
}

// A pair that meets in time of which one half waits for the other.
fn waiting(plan: &Forecast, step: &Step, basis: &Basis<'_>) -> Option<(Span, Row)> {
    let calendar = basis.calendar;
    let mut both: Vec<&PlannedPiece> = step
        .pieces
        .iter()
        .filter_map(|n| plan.pieces.get(*n))
        .collect();
    both.sort_by_key(|p| p.there);
    let [first, last] = both.as_slice() else {
        return None;
    };
    let wait = last.there?.since(first.there?);
    let due = first.due.into_iter().chain(last.due).min();
    let mut names = [first, last];
    names.sort_by_key(|p| (p.kind, p.serial.clone()));
    let row = Row {
        on: On::Piece(last.serial.clone()),
        above: None,
        cells: vec![
            names.map(|p| shown(&p.serial)).join(" + "),
            due.map_or_else(String::new, |d| d.format("%a %-d %b").to_string()),
            format!("{} waits {}", shown(&first.serial), wait.words()),
        ],
        bar: None,
        against: false,
        more: vec![format!(
            "{} is there {}, {} {}; mated {}",
            shown(&first.serial),
            first.there.map_or_else(String::new, |m| calendar.stamp(m)),
            shown(&last.serial),
            last.there.map_or_else(String::new, |m| calendar.stamp(m)),
            calendar.stamp(step.made.began)
        )],
    };
    (wait.0 > 0).then_some((wait, row))
}
