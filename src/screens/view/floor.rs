//! The floor: every piece in process by rack and hook, what is next, from when, and why.

use super::empty;
use super::facts;
use super::text::{Line, Run, cells, count, flow, joined, line, line_cells, put, put_line, run};
use crate::ledger::Seen;
use crate::screens::model::{AsOf, Mark, Model, Order, RackHead, Row, Which, Widest, coats};
use crate::screens::theme::Ink;
use crate::shop::words::{Outlook, Word};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::collections::BTreeMap;

/// Width from which on the marked piece is shown beside the list.
const SIDE: u16 = 160;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
    Hook,
    Serial,
    Kind,
    Model,
    Next,
    Coats,
    Figure,
    Bar,
    Outlook,
    Left,
    From,
    Reason,
}

// As they stand on the screen.
const ORDER: [Column; 12] = [
    Column::Hook,
    Column::Serial,
    Column::Kind,
    Column::Model,
    Column::Next,
    Column::Coats,
    Column::Bar,
    Column::Figure,
    Column::Outlook,
    Column::Left,
    Column::From,
    Column::Reason,
];

// As they get a place, the most wanted first.
const WANTED: [Column; 12] = [
    Column::Serial,
    Column::Outlook,
    Column::From,
    Column::Next,
    Column::Left,
    Column::Hook,
    Column::Figure,
    Column::Coats,
    Column::Bar,
    Column::Reason,
    Column::Kind,
    Column::Model,
];

impl Column {
    const fn head(self) -> &'static str {
        match self {
            Self::Hook => "hook",
            Self::Serial => "serial",
            Self::Kind => "kind",
            Self::Model => "model",
            Self::Next => "next",
            Self::Coats => "coats",
            Self::Bar => "film",
            Self::Figure => "",
            Self::Outlook => "outlook",
            Self::Left => "left",
            Self::From => "from",
            Self::Reason => "why",
        }
    }

    fn width(self, model: &Model, area: u16) -> u16 {
        let widest = &model.floor.widest;
        match self {
            Self::Hook => 4,
            Self::Serial => widest.serial.clamp(6, 12),
            Self::Kind => widest.kind.clamp(4, 7),
            Self::Model => widest.model.clamp(5, 20),
            // A rework and a scuff say more than a step's name; a narrow screen cuts them.
            Self::Next if area >= 120 => widest.next.clamp(8, 26),
            Self::Next => widest.next.clamp(8, 14),
            Self::Coats => 5,
            Self::Bar if area >= 200 => 20,
            Self::Bar if area >= 120 => 10,
            Self::Bar => 6,
            Self::Figure => widest.figure.clamp(6, 10),
            Self::Outlook => 9,
            Self::Left => 8,
            Self::From => widest.from.clamp(5, 17),
            Self::Reason => 24,
        }
    }
}

/// The widest texts among all pieces: asked once for each answer of the ledger, as it looks at every piece. Rack mates that stand
/// alike share what is told of them, which is written once for all of them.
pub(in crate::screens) fn widest(model: &Model) -> Widest {
    let mut most = Widest::default();
    let mut before: Option<&Seen> = None;
    for s in model.floor.seen() {
        let piece = &s.now.piece;
        most.serial = most.serial.max(cells(&piece.serial));
        most.kind = most.kind.max(cells(piece.kind.word()));
        most.model = most.model.max(cells(&piece.model));
        if before.is_some_and(|b| b.stands_with(s)) {
            continue;
        }
        most.next = most.next.max(cells(&s.view.next));
        most.figure = most.figure.max(cells(&figure(s, model)));
        most.from = most.from.max(cells(&from(s, model)));
        before = Some(s);
    }
    most
}

fn columns(model: &Model, width: u16) -> Vec<(Column, u16)> {
    let mut chosen: Vec<(Column, u16)> = Vec::new();
    let mut used = 1;
    for column in WANTED {
        let w = column.width(model, width);
        if used + w < width {
            used += w + 1;
            chosen.push((column, w));
        }
    }
    let spare = width.saturating_sub(used);
    for (column, w) in &mut chosen {
        if *column == Column::Reason {
            *w += spare;
        }
    }
    chosen.sort_by_key(|(c, _)| ORDER.iter().position(|o| o == c));
    chosen
}

fn figure(seen: &Seen, model: &Model) -> String {
    let film = crate::units::Film(seen.film_nm());
    let gauged = seen.gauged();
    format!(
        "{}{}",
        facts::film(film, model.shop.system),
        if gauged { " G" } else { "" }
    )
}

fn from(seen: &Seen, model: &Model) -> String {
    facts::from(&seen.view, model.at(), &model.shop.calendar)
}

/// The bar of a film against its band. The scale ends a quarter above the band.
fn bar(seen: &Seen, width: u16, model: &Model) -> String {
    let (full, band, empty, beyond) = model.shop.theme.bar();
    let top = (seen.band().1.0 * 5 / 4).max(1);
    let film = seen.film_nm();
    (0..i64::from(width))
        .map(|cell| {
            let middle = (2 * cell + 1) * top / (2 * i64::from(width));
            match (middle <= film, middle) {
                (true, m) if m > seen.band().1.0 => beyond,
                (true, _) => full,
                (false, m) if (seen.band().0.0..=seen.band().1.0).contains(&m) => band,
                (false, _) => empty,
            }
        })
        .collect()
}

fn outlook(outlook: Outlook, model: &Model) -> Run {
    run(
        format!("{} {}", model.shop.theme.shape(outlook), outlook.word()),
        Ink::Outlook(outlook),
    )
}

fn counts(model: &Model, width: u16) -> Vec<Line> {
    let floor = &model.floor;
    let mut parts: Vec<Line> = Vec::new();
    for o in Outlook::ALL {
        let n = floor.count(*o);
        if n > 0 || *o != Outlook::InWork {
            parts.push(vec![
                outlook(*o, model),
                run(format!(" {n}"), Ink::Outlook(*o)),
            ]);
        }
    }
    let open = floor.data.as_ref().map_or(0, |d| d.deviations);
    let ink = if open > 0 { Ink::Against } else { Ink::Faint };
    parts.push(line(format!("open deviations {open}"), ink));
    let calendar = &model.shop.calendar;
    match model.as_of {
        AsOf::Now => {}
        AsOf::EndOfToday | AsOf::TomorrowMorning | AsOf::At(_) => parts.push(line(
            format!("as of {}", calendar.stamp(model.at())),
            Ink::Late,
        )),
    }
    if let Which::Only(o) = floor.which {
        parts.push(line(format!("only {}", o.word()), Ink::Late));
    }
    if !floor.find.is_empty() && !floor.finding {
        parts.push(line(format!("find \"{}\"", floor.find), Ink::Late));
    }
    if floor.order == Order::ReadyTime {
        parts.push(line("by ready time", Ink::Late));
    }
    joined(parts, width, "   ", 2)
}

/// Draws the floor into its area, the question and help lines left out.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let counts = counts(model, area.width);
    for (top, line) in counts.iter().enumerate() {
        put_line(buf, area, count(top), line, theme);
    }
    let above = count(counts.len());
    let side = if area.width >= SIDE {
        area.width * 3 / 10
    } else {
        0
    };
    let detail = match area.height {
        _ if side > 0 => 0,
        0..=12 => 1,
        _ => 2,
    };
    let list = Rect {
        y: area.y.saturating_add(above),
        height: area.height.saturating_sub(above + detail + 1),
        width: area.width - side,
        ..area
    };
    draw_list(model, list, buf);
    let bottom = area.height.saturating_sub(1);
    put_line(buf, area, bottom, &legend(model, area.width), theme);
    if side > 0 {
        let beside = Rect {
            x: list.right() + 2,
            width: side.saturating_sub(2),
            ..list
        };
        for (top, line) in beside_lines(model, beside.width).iter().enumerate() {
            put_line(buf, beside, count(top), line, theme);
        }
    } else {
        let lines = below_lines(model, area.width);
        for (n, line) in lines.iter().take(usize::from(detail)).enumerate() {
            put_line(
                buf,
                area,
                area.height.saturating_sub(detail + 1) + count(n),
                line,
                theme,
            );
        }
    }
}

fn legend(model: &Model, width: u16) -> Line {
    let mut legend = line(facts::READY, Ink::Plain);
    if width >= 76 {
        legend.push(run("   film predicted, G gauge   ~ forecast", Ink::Faint));
    }
    if model.floor.data.is_none() {
        legend = line("reading the ledger ...", Ink::Faint);
    }
    legend
}

fn draw_list(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let columns = columns(model, area.width);
    let mut left = 1;
    for (column, w) in &columns {
        // A heading stands over its figures.
        let head = column.head();
        let gap = match column {
            Column::Hook | Column::Left => w.saturating_sub(cells(head)),
            _ => 0,
        };
        put(buf, area, left + gap, 0, w - gap, (head, Ink::Head), theme);
        left += w + 1;
    }
    let rows = Rect {
        y: area.y.saturating_add(1),
        height: area.height.saturating_sub(1),
        ..area
    };
    if model.floor.rows.is_empty() {
        let lines = match &model.floor.data {
            None => Vec::new(),
            Some(d) if d.seen.is_empty() => empty::lines(model),
            Some(_) => vec![line(
                "no piece matches; Tab shows other outlooks, Esc drops the text",
                Ink::Faint,
            )],
        };
        let lines = lines
            .iter()
            .flat_map(|l| flow(l, rows.width.saturating_sub(1), 4));
        for (top, l) in lines.enumerate() {
            let place = Rect {
                x: rows.x + 1,
                width: rows.width.saturating_sub(1),
                ..rows
            };
            put_line(buf, place, count(top), &l, theme);
        }
        return;
    }
    // The marked row stays in the middle, so that it needs no memory of its own.
    let height = usize::from(rows.height);
    let last = model.floor.rows.len().saturating_sub(height);
    let first = model.floor.cursor.saturating_sub(height / 2).min(last);
    for (top, (at, row)) in model
        .floor
        .rows
        .iter()
        .enumerate()
        .skip(first)
        .take(height)
        .enumerate()
    {
        let top = count(top);
        if at == model.floor.cursor {
            // The ground first, so that the words keep their own colours on it.
            let place = Rect {
                y: rows.y + top,
                height: 1,
                ..rows
            };
            buf.set_style(place.intersection(buf.area), theme.style(Ink::Marked));
        }
        match row {
            Row::Rack(head) => put_line(buf, rows, top, &rack_line(head, model, rows.width), theme),
            Row::Piece(n, _) => {
                if let Some(seen) = model.floor.seen().get(*n) {
                    draw_piece(model, seen, &columns, (rows, top), buf);
                }
            }
        }
        if at == model.floor.cursor {
            put(buf, rows, 0, top, 1, (theme.mark(), Ink::Marked), theme);
            // Where the mark paints a full colour, a word in a colour of its own would be lost on it.
            if theme.on_mark(Ink::Plain) == Ink::Marked {
                let place = Rect {
                    y: rows.y + top,
                    height: 1,
                    ..rows
                };
                buf.set_style(place.intersection(buf.area), theme.style(Ink::Marked));
            }
        }
    }
}

/// How far down the list the mark stands.
pub(super) fn place(model: &Model) -> String {
    match model.floor.rows.len() {
        0 => String::new(),
        n => format!("line {} of {n}", model.floor.cursor + 1),
    }
}

// The parts of a rack's heading, the most wanted first; what has no room is left out whole.
fn rack_line(head: &RackHead, model: &Model, width: u16) -> Line {
    let calendar = &model.shop.calendar;
    let waiting = head.outlook == Outlook::Waiting;
    let ink = Ink::Outlook(head.outlook);
    let name = match (head.rack.is_empty(), head.pieces) {
        (true, n) => format!(" On no rack, {n}"),
        (false, 1) => format!(" Rack {}, 1 piece", head.rack),
        (false, n) if width < 72 => format!(" Rack {}, {n}", head.rack),
        (false, n) => format!(" Rack {}, {n} pieces", head.rack),
    };
    let mut out = vec![run(name, Ink::Strong), run("  ", Ink::Plain)];
    out.push(outlook(head.outlook, model));
    if waiting {
        let from = facts::moment(
            head.outlook,
            head.ready_at,
            head.provisional,
            model.at(),
            calendar,
        );
        out.push(run(format!(" {from}"), ink));
    }
    let mut more: Vec<Run> = Vec::new();
    if let Some(mixed) = &head.mixed {
        more.push(run(format!("  {mixed}"), Ink::Late));
    }
    if head.held > 0 {
        let ink = Ink::Outlook(Outlook::Held);
        more.push(run(format!("  {} held", head.held), ink));
    }
    if head.unknown > 0 {
        let ink = Ink::Outlook(Outlook::Unknown);
        more.push(run(format!("  {} unknown", head.unknown), ink));
    }
    if waiting && head.ready > 0 {
        let ink = Ink::Outlook(Outlook::Ready);
        more.push(run(format!("  {} ready", head.ready), ink));
    }
    if waiting {
        let left = facts::left(head.outlook, head.ready_at, model.at());
        more.push(run(format!("  {left} left"), ink));
        if let (Some(serial), true) = (&head.latest, head.pieces > 1) {
            more.push(run(format!("  last {serial}"), Ink::Plain));
        }
    }
    for part in more {
        if line_cells(&out) + cells(&part.0) <= width {
            out.push(part);
        }
    }
    out
}

fn draw_piece(
    model: &Model,
    seen: &Seen,
    columns: &[(Column, u16)],
    (area, top): (Rect, u16),
    buf: &mut Buffer,
) {
    let theme = model.shop.theme;
    let piece = &seen.now.piece;
    let mut left = 1;
    for (column, w) in columns {
        let (text, ink) = match column {
            Column::Hook => {
                let hook = seen.now.place().and_then(|p| p.hook);
                (
                    hook.map_or_else(String::new, |h| format!("{h:>4}")),
                    Ink::Plain,
                )
            }
            Column::Serial => (piece.serial.clone(), Ink::Strong),
            Column::Kind => (piece.kind.word().to_owned(), Ink::Plain),
            Column::Model => (piece.model.clone(), Ink::Plain),
            Column::Next => (seen.view.next.clone(), Ink::Plain),
            Column::Coats => {
                let (_, done, planned) = coats(&seen.now, seen);
                (format!("{done}/{planned}"), Ink::Plain)
            }
            Column::Bar => (bar(seen, *w, model), Ink::Plain),
            Column::Figure => {
                let text = figure(seen, model);
                let gap = usize::from(w.saturating_sub(cells(&text)));
                (format!("{}{text}", " ".repeat(gap)), Ink::Plain)
            }
            Column::Outlook => outlook(seen.view.outlook, model),
            Column::Left => {
                let text = facts::left(seen.view.outlook, seen.view.ready_at, model.at());
                (format!("{text:>7}"), Ink::Strong)
            }
            Column::From => (from(seen, model), Ink::Strong),
            Column::Reason => (facts::reason(seen, &model.shop.calendar), Ink::Plain),
        };
        put(buf, area, left, top, *w, (&text, ink), theme);
        left += w + 1;
    }
}

// What the list has no room for, of the marked row, on the lines below the list.
fn below_lines(model: &Model, width: u16) -> Vec<Line> {
    let marked = marked_lines(model, width);
    match empty::before_a_coat(model) {
        Some(lacks) => std::iter::once(lacks).chain(marked).collect(),
        None => marked,
    }
}

fn marked_lines(model: &Model, width: u16) -> Vec<Line> {
    let Some(row) = model.floor.rows.get(model.floor.cursor) else {
        return Vec::new();
    };
    let text = match row {
        Row::Rack(head) if head.rack.is_empty() => line("these pieces hang on no rack", Ink::Plain),
        Row::Rack(head) => {
            let mut text = line(format!("Rack {}: ", head.rack), Ink::Strong);
            let first = head
                .latest
                .as_ref()
                .and_then(|l| model.floor.seen().iter().find(|s| s.now.piece.serial == *l));
            if let Some(seen) = first {
                text.push(run(
                    format!(
                        "{} is the latest: {}, {}",
                        seen.now.piece.serial,
                        seen.view.next,
                        facts::reason(seen, &model.shop.calendar)
                    ),
                    Ink::Plain,
                ));
            }
            text
        }
        Row::Piece(..) => match model.floor.marked() {
            Some(seen) => {
                let p = &seen.now.piece;
                let (kind, done, planned) = coats(&seen.now, seen);
                vec![
                    run(
                        format!("{} {} {}: ", p.serial, p.kind.word(), p.model),
                        Ink::Strong,
                    ),
                    run(
                        format!("{}. ", facts::reason(seen, &model.shop.calendar)),
                        Ink::Plain,
                    ),
                    run(
                        format!(
                            "{} {done} of {planned}, film {} of {} to {}",
                            kind.word(),
                            figure(seen, model),
                            facts::film(seen.band().0, model.shop.system),
                            facts::film(seen.band().1, model.shop.system),
                        ),
                        Ink::Faint,
                    ),
                ]
            }
            None => Vec::new(),
        },
    };
    flow(&text, width, 2)
}

// The marked row in full, beside the list.
fn beside_lines(model: &Model, width: u16) -> Vec<Line> {
    let mark = model.floor.rows.get(model.floor.cursor).map(Row::mark);
    let text: Vec<Line> = match (mark, model.floor.marked()) {
        (Some(Mark::Piece(_)), Some(seen)) => super::card::standing(seen, None, model),
        (Some(Mark::Rack(rack)), _) if !rack.is_empty() => {
            let mut out = vec![line(format!("Rack {rack}"), Ink::Strong), Vec::new()];
            let mut groups: BTreeMap<(Outlook, String), Vec<u32>> = BTreeMap::new();
            for seen in model.floor.on_rack(&rack) {
                let hook = seen.now.place().and_then(|p| p.hook);
                groups
                    .entry((
                        seen.view.outlook,
                        format!(
                            "{}: {}",
                            seen.view.next,
                            facts::reason(seen, &model.shop.calendar)
                        ),
                    ))
                    .or_default()
                    .extend(hook);
            }
            for ((o, text), hooks) in groups {
                out.push(vec![
                    outlook(o, model),
                    run(format!("  {}", facts::hooks(&hooks)), Ink::Strong),
                ]);
                out.push(line(format!("  {text}"), Ink::Plain));
            }
            out
        }
        _ => Vec::new(),
    };
    text.iter().flat_map(|l| flow(l, width, 2)).collect()
}
