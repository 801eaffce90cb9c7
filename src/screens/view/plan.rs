//! The plan: its parts with their numbers, the lines of one of them, and what there is to say of the marked line.

use super::text::{
    Line, cells, count, fit, flow, joined, line, line_cells, middle, put_line, put_marked, run,
};
use crate::reports::plan::{Full, Part, Row};
use crate::screens::model::Model;
use crate::screens::places::plan::{Data, State};
use crate::screens::theme::{Ink, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Width from which on what there is to say of the marked line stands beside the list.
const SIDE: u16 = 130;

/// Columns between two columns of the list.
const GAP: u16 = 2;

/// Fewest cells in which a bar says anything.
const SHORTEST: u16 = 8;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let state = &model.places.plan;
    let Some(data) = &state.data else {
        let text = line("planning; a busy floor takes some seconds ...", Ink::Faint);
        put_line(buf, area, 0, &text, theme);
        return;
    };
    let mut head = vec![head(model, state, data, area.width)];
    // A low screen keeps its lines for the list.
    if area.height >= 18 {
        head.extend(data.page.sums.iter().map(|s| line(s.as_str(), Ink::Plain)));
        head.truncate(usize::from(area.height / 4));
    }
    let mut tabs = tabs(state, data, area.width);
    tabs.truncate(if area.height < 10 { 1 } else { 2 });
    let mut top = 0;
    for text in head.iter().chain(&tabs) {
        put_line(buf, area, top, text, theme);
        top += 1;
    }
    let side = if area.width >= SIDE {
        area.width / 2
    } else {
        0
    };
    let room = area.height.saturating_sub(top);
    let below = match area.height {
        _ if side > 0 => 0,
        0..=9 => 0,
        10..=14 => 3,
        // What a short list leaves goes to what there is to say.
        high => (high / 3).max(room.saturating_sub(needs(state))),
    };
    let list = Rect {
        y: area.y.saturating_add(top),
        height: room.saturating_sub(below),
        width: area.width - side,
        ..area
    };
    draw_list(state, list, theme, buf);
    let place = if side > 0 {
        Rect {
            x: list.right() + 2,
            width: side.saturating_sub(2),
            ..list
        }
    } else {
        Rect {
            y: list.bottom(),
            height: below,
            ..area
        }
    };
    draw_detail(state, data, place, theme, buf);
}

// The lines that the whole list takes, with its heads and a gap below it.
fn needs(state: &State) -> u16 {
    let rows = state.rows();
    let above = rows.iter().filter(|r| r.above.is_some()).count();
    count(rows.len().max(1) + above + 2)
}

// As of when, of how many plays, and whether a newer one is on its way.
fn head(model: &Model, state: &State, data: &Data, width: u16) -> Line {
    let at = model.shop.calendar.stamp(data.at);
    let mut out = vec![run(format!("planned as of {at}"), Ink::Head)];
    let plays = match data.page.plays {
        0 => "no range: too few past deeds".to_owned(),
        n => format!("P50, P90 of {n} plays"),
    };
    let more = [
        state
            .waits
            .then(|| run("planning again ...".to_owned(), Ink::Late)),
        Some(run(plays, Ink::Faint)),
    ];
    for part in more.into_iter().flatten() {
        if line_cells(&out) + 3 + cells(&part.0) <= width {
            out.push(run("   ", Ink::Plain));
            out.push(part);
        }
    }
    out
}

// The parts with their numbers, the one that is listed marked.
fn tabs(state: &State, data: &Data, width: u16) -> Vec<Line> {
    let here = state.part();
    let parts = data.page.parts.iter().map(|(part, rows)| {
        let against = rows.iter().filter(|r| r.against).count();
        let text = match part {
            Part::Hooks if against > 0 => format!("{}, {against} short", part.word()),
            Part::Hooks => part.word().to_owned(),
            Part::Racks | Part::Late | Part::Pairs => format!("{} {}", part.word(), rows.len()),
        };
        match part {
            _ if *part == here => line(format!("[{text}]"), Ink::Marked),
            _ if rows.is_empty() => line(text, Ink::Faint),
            _ if against > 0 => line(text, Ink::Late),
            _ => line(text, Ink::Plain),
        }
    });
    joined(parts.collect(), width, "  ", usize::MAX)
}

enum Shown<'a> {
    Above(&'a str),
    Row(usize, &'a Row),
}

fn draw_list(state: &State, area: Rect, theme: Theme, buf: &mut Buffer) {
    let (part, rows) = (state.part(), state.rows());
    if rows.is_empty() {
        put_line(buf, area, 0, &line(part.nothing(), Ink::Faint), theme);
        return;
    }
    let columns = Columns::of(part, rows, area.width.saturating_sub(2));
    let mut shown: Vec<Shown<'_>> = Vec::new();
    for (n, row) in rows.iter().enumerate() {
        shown.extend(row.above.as_deref().map(Shown::Above));
        shown.push(Shown::Row(n, row));
    }
    let heads = u16::from(area.height > 4);
    if heads > 0 {
        let texts = part.heads().iter().map(|h| (*h).to_owned()).collect();
        let mut text = vec![run("  ", Ink::Plain)];
        text.extend(columns.line(texts, Ink::Faint, theme));
        put_line(buf, area, 0, &text, theme);
    }
    let list = Rect {
        y: area.y.saturating_add(heads),
        height: area.height.saturating_sub(heads),
        ..area
    };
    let at = shown
        .iter()
        .position(|s| matches!(s, Shown::Row(n, _) if *n == state.mark));
    let from = middle(at.unwrap_or(0), shown.len(), list.height);
    let lines = shown.iter().skip(from).take(usize::from(list.height));
    for (top, what) in lines.enumerate() {
        let top = count(top);
        match what {
            Shown::Above(text) => put_line(buf, list, top, &line(*text, Ink::Head), theme),
            Shown::Row(n, row) => {
                let ink = if row.against { Ink::Late } else { Ink::Plain };
                let mut text = columns.line(row.cells.clone(), ink, theme);
                let room = list.width.saturating_sub(2 + columns.taken() + GAP);
                if let Some(full) = row.bar.filter(|_| room >= SHORTEST) {
                    let blank = (columns.taken() + GAP).saturating_sub(line_cells(&text));
                    text.push(run(" ".repeat(usize::from(blank)), Ink::Plain));
                    text.extend(bar(full, room, theme));
                }
                put_marked(buf, list, top, &text, *n == state.mark, theme);
            }
        }
    }
}

// Which columns there is room for, and how wide each is.
struct Columns {
    widths: Vec<Option<u16>>,
}

impl Columns {
    fn of(part: Part, rows: &[Row], width: u16) -> Self {
        let heads = part.heads();
        let widths = heads
            .iter()
            .enumerate()
            .map(|(n, head)| {
                let texts = rows.iter().filter_map(|r| r.cells.get(n));
                let widest = texts.map(|t| cells(t)).max().unwrap_or(0);
                // A column of which no row says anything has no head either.
                (widest > 0).then(|| widest.max(cells(head)))
            })
            .collect();
        let mut out = Self { widths };
        for spare in part.spare() {
            if out.taken() <= width {
                break;
            }
            if let Some(slot) = out.widths.get_mut(*spare) {
                *slot = None;
            }
        }
        // What is left of a line that is still too long goes to the first columns.
        let mut room = width;
        for slot in &mut out.widths {
            *slot = slot.map(|w| w.min(room));
            room = room.saturating_sub(slot.map_or(0, |w| w + GAP));
        }
        out
    }

    // The cells of a line of them.
    fn taken(&self) -> u16 {
        let all = self.widths.iter().flatten();
        all.fold(0_u16, |sum, w| sum.saturating_add(*w + GAP))
            .saturating_sub(GAP)
    }

    fn line(&self, texts: Vec<String>, ink: Ink, theme: Theme) -> Line {
        let mut out: Line = Vec::new();
        let mut owed = 0;
        for (text, width) in texts.into_iter().zip(&self.widths) {
            let Some(width) = *width else { continue };
            let text = fit(&text, width, theme);
            let blank = width.saturating_sub(cells(&text));
            out.push(run(" ".repeat(usize::from(owed)), Ink::Plain));
            out.push(run(text, ink));
            owed = blank + GAP;
        }
        out
    }
}

// How full a room is: what hangs there, what is left, and what hangs there beyond its hooks.
fn bar(full: Full, room: u16, theme: Theme) -> Line {
    let width = usize::from(room);
    let reach = |n: usize| {
        let cells = (n * width + full.most / 2).checked_div(full.most);
        cells.unwrap_or(0).max(usize::from(n > 0)).min(width)
    };
    let hooks = full.hooks.unwrap_or(full.hang);
    let (mut within, mut beyond) = (reach(full.hang.min(hooks)), 0);
    if full.hang > hooks {
        // A room that is short of one hook shows it.
        beyond = (reach(full.hang) - within).max(1);
        within = within.min(width - beyond);
    }
    let left = full.hooks.map_or(0, reach).saturating_sub(within + beyond);
    let (whole, _, empty, over) = theme.bar();
    vec![
        run(whole.repeat(within), Ink::Strong),
        run(over.repeat(beyond), Ink::Late),
        run(empty.repeat(left), Ink::Faint),
    ]
}

// What there is to say of the marked line, and behind it what the plan goes by.
fn draw_detail(state: &State, data: &Data, area: Rect, theme: Theme, buf: &mut Buffer) {
    let marked = state.marked().map_or(&[][..], |row| &row.more);
    let marked = marked.iter().map(|t| line(t.as_str(), Ink::Plain));
    let said = data.page.said.iter().map(|t| line(t.as_str(), Ink::Faint));
    let gap = (marked.len() > 0).then(Vec::new);
    let lines: Vec<Line> = marked
        .chain(gap)
        .chain(said)
        .flat_map(|l| flow(&l, area.width, 2))
        .collect();
    let fits = usize::from(area.height);
    for (n, text) in lines.iter().take(fits).enumerate() {
        let mut text = text.clone();
        if n + 1 == fits && lines.len() > fits {
            text = vec![run(
                format!("{} more lines: \":plan\" prints all", lines.len() - n),
                Ink::Faint,
            )];
        }
        put_line(buf, area, count(n), &text, theme);
    }
}
