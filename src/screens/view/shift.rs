//! The shift: what can be done by when, the parts of the day's list, and what there is to say of the marked row.

use super::facts;
use super::text::{Line, cells, count, flow, joined, line, line_cells, put, put_line, run};
use crate::reports::day_list::{DayList, NO_HOOKS, Part, Row};
use crate::screens::model::{AsOf, Model, Which};
use crate::screens::places::shift;
use crate::screens::theme::Ink;
use crate::shop::words::{Outlook, Word};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Width from which on what there is to say of the marked row stands beside the list.
const SIDE: u16 = 160;

/// Lines that the list keeps however much there is to say of the marked row.
const LIST: u16 = 5;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let state = &model.places.shift;
    let Some(list) = &state.list else {
        let text = line("reading the ledger ...", Ink::Faint);
        put_line(buf, area, 0, &text, theme);
        return;
    };
    let mut top = 0;
    // A low screen keeps its lines for the list: the counts stand closer there, and on the lowest not at all.
    let head = match area.height {
        ..=9 => vec![line(facts::READY, Ink::Plain)],
        10..=15 => counts_short(model, list, area.width),
        _ => counts(model, list, area.width),
    };
    let mut tabs = tabs(model, list, area.width);
    if area.height < 10 {
        tabs.truncate(1);
    }
    for text in head.iter().chain(&tabs) {
        put_line(buf, area, top, text, theme);
        top += 1;
    }
    let side = if area.width >= SIDE {
        area.width * 2 / 5
    } else {
        0
    };
    let said = match shift::marked_row(model) {
        Some(row) => of_row(row, model),
        None => Vec::new(),
    };
    let least = match area.height {
        _ if side > 0 => 0,
        0..=7 => 0,
        8..=14 => 2,
        15..=29 => 4,
        _ => 6,
    };
    // The marked row is said in full, as far as the list keeps some lines of its own.
    let wanted = said.iter().map(|l| flow(l, area.width, 2).len()).sum();
    let below = if least == 0 {
        0
    } else {
        let most = area.height.saturating_sub(top + LIST);
        count(wanted).min(most).max(least)
    };
    let room = Rect {
        y: area.y.saturating_add(top),
        height: area.height.saturating_sub(top + below),
        width: area.width - side,
        ..area
    };
    draw_rows(model, room, buf);
    let place = if side > 0 {
        Rect {
            x: room.right() + 2,
            width: side.saturating_sub(2),
            ..room
        }
    } else {
        Rect {
            y: room.bottom(),
            height: below,
            ..area
        }
    };
    let lines: Vec<Line> = said.iter().flat_map(|l| flow(l, place.width, 2)).collect();
    let fits = usize::from(place.height);
    for (n, text) in lines.iter().take(fits).enumerate() {
        let mut text = text.clone();
        // The last line that fits says that there is more: Enter opens it.
        if n + 1 == fits && lines.len() > fits {
            text.push(run(format!(" {}", theme.cut()), Ink::Faint));
            while line_cells(&text) > place.width && text.len() > 1 {
                text.remove(text.len() - 2);
            }
        }
        put_line(buf, place, count(n), &text, theme);
    }
}

fn heads(model: &Model, list: &DayList) -> [String; 3] {
    let calendar = &model.shop.calendar;
    let now = match model.as_of {
        AsOf::Now => "now".to_owned(),
        _ => "then".to_owned(),
    };
    let [a, b] = list.by.map(|m| format!("by {}", calendar.near(m, list.at)));
    [now, a, b]
}

// What is at work, what cannot be told, and how full the rooms are as far as the record knows.
fn beside(model: &Model, list: &DayList) -> Vec<Line> {
    let shape = |o| model.shop.theme.shape(o);
    let count = |n: usize, o: Outlook| {
        let ink = if n > 0 { Ink::Outlook(o) } else { Ink::Faint };
        line(format!("{} {} {n}", shape(o), o.word()), ink)
    };
    let mut out = vec![
        count(list.in_work, Outlook::InWork),
        count(list.unknown, Outlook::Unknown),
    ];
    let rooms = list.rows(Part::Rooms);
    let mut full: Vec<&Row> = rooms.iter().collect();
    full.sort_by_key(|r| std::cmp::Reverse(r.pieces));
    let mut hung: Vec<Line> = full
        .iter()
        .filter(|r| r.pieces > 0)
        .map(|r| line(format!("{} {}", r.lead[0], r.lead[1]), Ink::Plain))
        .collect();
    if hung.len() > 3 {
        hung.truncate(2);
        hung.push(line("more: Tab to the rooms", Ink::Faint));
    }
    out.extend(hung);
    // Rooms of which the record knows no hooks are named so, once.
    if full
        .iter()
        .any(|r| r.pieces > 0 && r.text.ends_with(NO_HOOKS))
    {
        out.push(line("rooms: no hooks entered", Ink::Faint));
    }
    out
}

fn asked(model: &Model, list: &DayList) -> Option<Line> {
    let at = model.shop.calendar.stamp(list.at);
    match model.as_of {
        AsOf::Now => None,
        _ => Some(line(format!("as of {at}"), Ink::Late)),
    }
}

// A table of what can be done, with what is not as it should be beside it.
fn counts(model: &Model, list: &DayList, width: u16) -> Vec<Line> {
    let heads = heads(model, list);
    let w = heads.clone().map(|h| cells(&h).max(6));
    let right = |text: &str, w: u16| {
        let gap = w.saturating_sub(cells(text));
        format!("{}{text}", " ".repeat(usize::from(gap)))
    };
    let [h0, h1, h2] = &heads;
    let mut table = vec![vec![
        run(format!("{:<11}", " ready to"), Ink::Head),
        run(format!(" {}", right(h0, w[0])), Ink::Head),
        run(format!("  {}", right(h1, w[1])), Ink::Head),
        run(format!("  {}", right(h2, w[2])), Ink::Head),
        run("  in all", Ink::Head),
    ]];
    for c in &list.counts {
        let [a, b] = c.by;
        let sure = if c.provisional { "~" } else { "" };
        let ink = |n: usize, ink| if n > 0 { ink } else { Ink::Faint };
        table.push(vec![
            run(format!(" {:<10}", c.work.word()), Ink::Strong),
            run(
                format!(" {}", right(&c.now.to_string(), w[0])),
                ink(c.now, Ink::Outlook(Outlook::Ready)),
            ),
            run(
                format!("  {}", right(&format!("{sure}{a}"), w[1])),
                ink(a, Ink::Plain),
            ),
            run(
                format!("  {}", right(&format!("{sure}{b}"), w[2])),
                ink(b, Ink::Plain),
            ),
            run(format!("  {:>6}", c.all), Ink::Faint),
        ]);
    }
    // The other numbers stand in a column of their own, or below where there is no room for it.
    let mut beside = beside(model, list);
    let table_width = table.iter().map(|l| line_cells(l)).max().unwrap_or(0);
    let beside_width = beside.iter().map(|l| line_cells(l)).max().unwrap_or(0);
    let mut legend = line(facts::READY, Ink::Plain);
    if let Some(asked) = asked(model, list) {
        legend.push(run("   ", Ink::Plain));
        legend.extend(asked);
    }
    if line_cells(&legend) + 38 <= width {
        legend.push(run("  working time not counted  ~ forecast", Ink::Faint));
    }
    if table_width + 4 + beside_width <= width {
        let gap = |l: &Line| usize::from(table_width + 4 - line_cells(l));
        for (row, more) in table.iter_mut().zip(beside.drain(..)) {
            row.push(run(" ".repeat(gap(row)), Ink::Plain));
            row.extend(more);
        }
    } else {
        table.extend(joined(beside, width, "  ", usize::MAX));
    }
    table.push(legend);
    table
}

// The same on two or three lines.
fn counts_short(model: &Model, list: &DayList, width: u16) -> Vec<Line> {
    let [h0, h1, h2] = heads(model, list);
    let mut parts = vec![line(format!("{h0}, {h1}, {h2}:"), Ink::Head)];
    for c in &list.counts {
        let [a, b] = c.by;
        parts.push(vec![
            run(format!("{} ", c.work.word()), Ink::Strong),
            run(format!("{}, {a}, {b}", c.now), Ink::Plain),
        ]);
    }
    let mut out = joined(parts, width, "  ", usize::MAX);
    let mut rest = line(facts::READY, Ink::Plain);
    if let Some(asked) = asked(model, list) {
        rest.push(run("  ", Ink::Plain));
        rest.extend(asked);
    }
    out.push(rest);
    out
}

// The parts with their numbers, the one that is listed marked, and what filters it.
fn tabs(model: &Model, list: &DayList, width: u16) -> Vec<Line> {
    let here = model.places.shift.part();
    let mut parts: Vec<Line> = list
        .parts
        .iter()
        .map(|(part, rows)| {
            let text = match part {
                Part::Pairs => format!("{} {} of {}", part.word(), rows.len(), list.pairs),
                _ => format!("{} {}", part.word(), rows.len()),
            };
            let ink = match part {
                _ if *part == here => Ink::Marked,
                _ if rows.is_empty() => Ink::Faint,
                Part::Late | Part::Pairs => Ink::Late,
                Part::Held => Ink::Outlook(Outlook::Held),
                Part::Deviations => Ink::Against,
                Part::Work | Part::HalfDone | Part::Rooms => Ink::Plain,
            };
            let marked = if *part == here {
                format!("[{text}]")
            } else {
                text
            };
            line(marked, ink)
        })
        .collect();
    if let Which::Only(o) = model.floor.which {
        parts.push(line(format!("only {}", o.word()), Ink::Late));
    }
    if !model.floor.find.is_empty() && !model.floor.finding {
        parts.push(line(format!("find \"{}\"", model.floor.find), Ink::Late));
    }
    let mut lines = joined(parts, width, "  ", usize::MAX);
    lines.truncate(2);
    lines
}

fn outlook(row: &Row, model: &Model) -> (String, Ink) {
    row.outlook.map_or_else(
        || (String::new(), Ink::Plain),
        |o| {
            let text = format!("{} {}", model.shop.theme.shape(o), o.word());
            (text, Ink::Outlook(o))
        },
    )
}

// The part that is listed, and below it, as far as there is room, the parts that follow.
fn draw_rows(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let part = model.places.shift.part();
    let rows = shift::rows(model);
    let mut top = if rows.is_empty() {
        let all = model
            .places
            .shift
            .list
            .as_ref()
            .map_or(0, |l| l.rows(part).len());
        let text = if all > 0 {
            "no row matches; f shows other outlooks, Esc drops the text"
        } else {
            part.nothing()
        };
        put(buf, area, 1, 0, area.width, (text, Ink::Faint), theme);
        1
    } else {
        draw_part(model, part, Some(model.places.shift.mark), area, buf)
    };
    let here = Part::ALL.iter().position(|p| *p == part).unwrap_or(0);
    for part in Part::ALL
        .iter()
        .cycle()
        .skip(here + 1)
        .take(Part::ALL.len() - 1)
    {
        let rows = shift::rows_of(model, *part);
        // A heading without a row says nothing.
        if rows.is_empty() || top + 2 > area.height {
            continue;
        }
        let head = format!(" {} {}: {}", part.word(), rows.len(), part.says());
        put(buf, area, 0, top, area.width, (&head, Ink::Head), theme);
        let rest = Rect {
            y: area.y + top + 1,
            height: area.height - top - 1,
            ..area
        };
        top += 1 + draw_part(model, *part, None, rest, buf);
    }
}

// Draws the rows of a part that there is room for, and gives how many these are.
fn draw_part(model: &Model, part: Part, mark: Option<usize>, area: Rect, buf: &mut Buffer) -> u16 {
    let theme = model.shop.theme;
    let rows = shift::rows_of(model, part);
    let widest = |texts: &dyn Fn(&Row) -> u16| rows.iter().map(|r| texts(r)).max().unwrap_or(0);
    let first = widest(&|r| cells(&r.lead[0])).min(area.width / 3);
    let second = widest(&|r| cells(&r.lead[1])).min(area.width / 4);
    let word = widest(&|r| cells(&outlook(r, model).0));
    // The marked row stays in the middle, so that it needs no memory of its own.
    let height = usize::from(area.height);
    let mark = mark.map(|m| m.min(rows.len().saturating_sub(1)));
    let from = mark
        .map_or(0, |m| m.saturating_sub(height / 2))
        .min(rows.len().saturating_sub(height));
    let mut said: Option<&str> = None;
    let mut drawn = 0;
    for (at, row) in rows.iter().enumerate().skip(from).take(height) {
        let top = drawn;
        drawn += 1;
        if Some(at) == mark {
            let place = Rect {
                y: area.y + top,
                height: 1,
                ..area
            };
            buf.set_style(place.intersection(buf.area), theme.style(Ink::Marked));
            put(buf, area, 0, top, 1, (theme.mark(), Ink::Marked), theme);
        }
        let [one, two] = &row.lead;
        // The work is said once for all of its racks.
        let again = part == Part::Work && said == Some(one.as_str());
        said = Some(one);
        let inks = match part {
            Part::Work => [Ink::Plain, Ink::Strong],
            _ => [Ink::Strong, Ink::Plain],
        };
        let mut left = 1;
        if !again || Some(at) == mark {
            put(buf, area, left, top, first, (one, inks[0]), theme);
        }
        left += first + 1;
        put(buf, area, left, top, second, (two, inks[1]), theme);
        left += second + 1;
        if word > 0 {
            let (text, ink) = outlook(row, model);
            let ink = if Some(at) == mark {
                theme.on_mark(ink)
            } else {
                ink
            };
            put(buf, area, left, top, word, (&text, ink), theme);
            left += word + 1;
        }
        let room = area.width.saturating_sub(left);
        put(buf, area, left, top, room, (&row.text, Ink::Plain), theme);
    }
    drawn
}

// The marked row in full: what the list has cut, and what more there is to say.
fn of_row(row: &Row, model: &Model) -> Vec<Line> {
    let [one, two] = &row.lead;
    let (word, ink) = outlook(row, model);
    // In the ink of the marked row, so that the eye finds what it belongs to.
    let mut head = vec![
        run(
            format!("{}{one}  {two}", model.shop.theme.mark()),
            Ink::Marked,
        ),
        run("  ", Ink::Plain),
    ];
    if !word.is_empty() {
        head.push(run(format!("{word}  "), ink));
    }
    head.push(run(row.text.clone(), Ink::Plain));
    let mut out = vec![head];
    out.extend(row.more.iter().map(|t| line(format!("  {t}"), Ink::Plain)));
    out
}

/// How far down the list the mark stands.
pub(super) fn place(model: &Model) -> String {
    match shift::rows(model).len() {
        0 => String::new(),
        n => format!("line {} of {n}", model.places.shift.mark.min(n - 1) + 1),
    }
}
