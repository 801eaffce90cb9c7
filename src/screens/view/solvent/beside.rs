//! What stands beside the figures of the book: the checks, what comes round, the waste drums, the incidents, the stock, and
//! how the use lies over the months and the materials.

use super::super::text::{Line, flow, line, run};
use super::{Placed, padded};
use crate::reports::book::{self, Book};
use crate::reports::checks::{Kind, State};
use crate::reports::duties as round;
use crate::reports::stock::drum_words;
use crate::screens::model::Model;
use crate::screens::places::solvent::Beside;
use crate::screens::theme::Ink;
use crate::shop::cautions::STANDING_LINE;
use crate::shop::duty::DutyState;
use crate::shop::text::shown;
use crate::shop::words::{Outlook, Word as _};
use crate::units::Mass;

/// The checks, what comes round, the drums, the incidents and the stock, each line with its place in the marks' order.
pub(super) fn rest(
    model: &Model,
    (book, beside): (&Book, &Beside),
    first: usize,
    width: u16,
) -> Vec<Placed> {
    let (system, calendar) = (model.shop.system, &model.shop.calendar);
    let head = |text: String| vec![run("  ", Ink::Plain), run(text, Ink::Head)];
    let mut out = vec![(head("checks".to_owned()), None)];
    if book.checks.is_empty() {
        let text = "  no booth is known to the record: every check is unknown";
        out.push((line(text, Ink::Outlook(Outlook::Unknown)), None));
    }
    for (n, c) in book.checks.iter().enumerate() {
        let (mark, ink) = match c.state {
            State::Overdue => ("> overdue", Ink::Against),
            State::Unknown => ("? unknown", Ink::Outlook(Outlook::Unknown)),
            State::Done | State::NoneEntered if c.remark.is_some() => ("! remark", Ink::Late),
            State::Done if c.kind == Kind::Gauge => ("below mark", Ink::Plain),
            State::Done | State::NoneEntered => ("done", Ink::Plain),
            State::AtMark => ("> at mark", Ink::Against),
            State::TooLow => ("! too low", Ink::Against),
        };
        let beyond = c.state == State::Done || c.state == State::NoneEntered;
        let more = if matches!(c.side, "under" | "unknown") && beyond {
            Ink::Against
        } else {
            ink
        };
        let mut text = vec![
            run(
                format!(
                    "  {} {:<13}",
                    padded(&shown(&c.booth), 9, model),
                    c.kind.word()
                ),
                Ink::Plain,
            ),
            run(format!("{mark:<10} "), ink),
            run(c.words(calendar, model.at()), Ink::Plain),
        ];
        if !c.more.is_empty() {
            text.push(run(format!("; {}", c.more), more));
        }
        if let Some(remark) = c.remarked() {
            text.push(run(format!("; {remark}"), Ink::Late));
        }
        if c.readings.len() > 1 {
            text.push(run(format!("  {}", trend(model, c)), ink));
        }
        // What does not fit goes on below its own column, where there is room for one.
        let indent = if width >= 80 { 36 } else { 26 };
        let lines = flow(&text, width, indent).into_iter();
        out.extend(
            lines
                .enumerate()
                .map(|(at, l)| (l, (at == 0).then_some(first + n))),
        );
    }
    let mut place = first + book.checks.len();
    for lines in [
        duties(model, beside, width),
        drums(model, beside, width),
        incidents(model, beside, width),
    ] {
        out.extend(lines.into_iter().map(|(l, marked)| {
            let at = marked.then_some(place);
            place += usize::from(marked);
            (l, at)
        }));
    }
    if let Some(waiting) = &beside.waiting {
        let said = flow(
            &line(format!("  cautions  {waiting}"), Ink::Late),
            width,
            12,
        );
        out.extend(said.into_iter().map(|l| (l, None)));
    }
    out.push((Vec::new(), None));
    let stock = format!(
        "{:<6} {:>9} {:>9} {:>9}  {}",
        "stock", "received", "logged", "left", "mixed, not logged"
    );
    out.push((head(stock), None));
    for (n, s) in book.stock.iter().enumerate() {
        let litres = |v| book::litres(v, system);
        let mixed = litres(s.mixed);
        let mut text = vec![run(
            format!(
                "  {} {:>9} {:>9} {:>9}  {mixed:>9}",
                padded(&shown(&s.material), 6, model),
                litres(s.received),
                litres(s.used),
                litres(s.left()),
            ),
            Ink::Plain,
        )];
        for (lot, volume) in &s.below {
            text.push(run(
                format!(
                    "  lot {} {} below zero: enter the receipt",
                    shown(lot),
                    litres(crate::units::Volume(-volume.0))
                ),
                Ink::Against,
            ));
        }
        let lines = flow(&text, width, 10).into_iter();
        out.extend(
            lines
                .enumerate()
                .map(|(at, l)| (l, (at == 0).then_some(place + n))),
        );
    }
    let unknown = Ink::Outlook(Outlook::Unknown);
    let said = flow(&line(format!("  {}", book::NO_COUNT), unknown), width, 4);
    out.extend(said.into_iter().map(|l| (l, None)));
    let standing = flow(&line(format!("  {STANDING_LINE}"), Ink::Faint), width, 4);
    out.extend(standing.into_iter().map(|l| (l, None)));
    out
}

// Lines, and whether the mark can lie on each.
type Marked = (Line, bool);

fn head(text: &str) -> Line {
    vec![run("  ", Ink::Plain), run(text, Ink::Head)]
}

// What does not fit goes on below what is said, where there is room.
fn flowed(text: &Line, width: u16, indent: u16) -> impl Iterator<Item = Marked> + use<> {
    let indent = if width >= 80 { indent } else { 12 };
    let lines = flow(text, width, indent).into_iter().enumerate();
    lines.map(|(at, l)| (l, at == 0))
}

fn duties(model: &Model, beside: &Beside, width: u16) -> Vec<Marked> {
    let calendar = &model.shop.calendar;
    if beside.duties.is_empty() {
        return Vec::new();
    }
    let mut out = vec![
        (Vec::new(), false),
        (head("recurring checks and tasks"), false),
    ];
    for d in &beside.duties {
        let (mark, ink) = match d.standing.state {
            DutyState::Unknown => ("? unknown", Ink::Outlook(Outlook::Unknown)),
            DutyState::Overdue => ("> overdue", Ink::Against),
            DutyState::Coming => ("! soon", Ink::Late),
            DutyState::Later => ("done", Ink::Plain),
        };
        let text = vec![
            run(
                format!(
                    "  {} {} ",
                    padded(&shown(&d.duty.about), 9, model),
                    padded(
                        &shown(&d.duty.name),
                        if width >= 80 { 20 } else { 13 },
                        model
                    )
                ),
                Ink::Plain,
            ),
            run(format!("{mark:<10} "), ink),
            run(round::state_words(d, calendar, model.at()), Ink::Plain),
        ];
        out.extend(flowed(&text, width, 44));
    }
    out
}

fn drums(model: &Model, beside: &Beside, width: u16) -> Vec<Marked> {
    if beside.drums.is_empty() {
        return Vec::new();
    }
    let mut out = vec![(Vec::new(), false), (head("waste drums"), false)];
    for (drum, clock) in &beside.drums {
        let ink = match clock.state {
            "over" => Ink::Against,
            "soon" => Ink::Late,
            "none_entered" => Ink::Faint,
            _ => Ink::Plain,
        };
        let text = vec![
            run(
                format!("  {} ", padded(&shown(&drum.drum), 9, model)),
                Ink::Plain,
            ),
            run(
                drum_words(drum, clock, &model.shop.calendar, model.shop.system),
                ink,
            ),
        ];
        out.extend(flowed(&text, width, 12));
    }
    out
}

fn incidents(model: &Model, beside: &Beside, width: u16) -> Vec<Marked> {
    let calendar = &model.shop.calendar;
    if beside.incidents.is_empty() {
        return Vec::new();
    }
    let mut out = vec![(Vec::new(), false), (head("open incidents"), false)];
    for i in &beside.incidents {
        let late = round::incident_overdue(i, calendar, model.at());
        let ink = if late { Ink::Against } else { Ink::Plain };
        let text = vec![
            run(
                format!("  {} ", padded(i.kind.word(), 9, model)),
                Ink::Plain,
            ),
            run(round::incident_words(i, calendar, model.at()), ink),
        ];
        out.extend(flowed(&text, width, 12));
    }
    out
}

/// How the VOC of the log lies over the twelve months and over the month's materials: for screens that have room for it.
pub(super) fn use_of_it(model: &Model, beside: &Beside, width: u16) -> Vec<Placed> {
    let mut out = Vec::new();
    for (what, list) in [
        ("VOC by month, from the log", &beside.months),
        (
            "VOC by material in the month, from the log",
            &beside.materials,
        ),
    ] {
        out.push((head(what), None));
        out.extend(bars(model, list, width).into_iter().map(|l| (l, None)));
        out.push((Vec::new(), None));
    }
    out
}

fn bars(model: &Model, list: &[(String, Option<Mass>)], width: u16) -> Vec<Line> {
    let (full, ..) = model.shop.theme.bar();
    let most = list.iter().filter_map(|(_, m)| *m).map(|m| m.0).max();
    let room = i64::from(width.saturating_sub(28).min(60));
    list.iter()
        .map(|(name, mass)| {
            let lead = format!("  {} ", padded(&shown(name), 9, model));
            let Some(mass) = mass else {
                let unknown = Ink::Outlook(Outlook::Unknown);
                return vec![run(lead, Ink::Plain), run("   unknown", unknown)];
            };
            let cells = match most {
                Some(most) if most > 0 => (mass.0 * room + most / 2) / most,
                _ => 0,
            };
            let bar = full.repeat(usize::try_from(cells).unwrap_or(0));
            vec![
                run(lead, Ink::Plain),
                run(
                    format!("{:>10}  ", book::mass(*mass, model.shop.system)),
                    Ink::Strong,
                ),
                run(bar, Ink::Plain),
            ]
        })
        .collect()
}

// The last readings of a filter gauge since the clean one, from the clean reading to the mark in nine steps: `0` the clean
// one, `9` the mark or more, `v` below the clean one. Digits, so that it reads on every terminal.
fn trend(model: &Model, check: &crate::reports::checks::Check) -> String {
    let clean = check.readings.first().map_or(0, |g| g.reading.0);
    let highest = check.readings.iter().map(|g| g.reading.0 - clean).max();
    let scale = check
        .every
        .as_ref()
        .map_or(highest.unwrap_or(1), |l| l.value)
        .max(1);
    let shapes = model.shop.theme.shapes;
    let from = check.readings.len().saturating_sub(12);
    check
        .readings
        .iter()
        .skip(from)
        .map(|g| {
            let step = (g.reading.0 - clean) * 8 / scale;
            match step {
                _ if g.reading.0 < clean => 'v',
                0..=7 if shapes => usize::try_from(step)
                    .ok()
                    .and_then(|n| "▁▂▃▄▅▆▇█".chars().nth(n))
                    .unwrap_or('▁'),
                _ if shapes => '█',
                0..=7 => char::from_digit(u32::try_from(step).unwrap_or(0), 10).unwrap_or('0'),
                _ => '9',
            }
        })
        .collect()
}
