//! The solvent book: the month against its limits, and the checks; below it, level by level, what a figure is made of.

mod beside;

use super::text::{Line, cells, count, fit, flow, line, line_cells, put_line, run};
use crate::reports::book::{self, Book, Figure, Level};
use crate::reports::checks::State;
use crate::reports::sums::FROM_LOG_ALONE;
use crate::science::worksheet::Side;
use crate::screens::model::Model;
use crate::screens::places::solvent::{Beside, Deed, Form, Row, Shown, month};
use crate::screens::places::{self, Place};
use crate::screens::theme::Ink;
use crate::shop::duty::DutyState;
use crate::shop::text::shown;
use crate::shop::words::Outlook;
use crate::units::Amount;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Width from which on checks and stock stand beside the figures.
const BESIDE: u16 = 132;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    match model.places.solvent.page() {
        None => put_line(
            buf,
            area,
            0,
            &line("reading the ledger ...", Ink::Faint),
            theme,
        ),
        Some(Shown::Book(book, beside)) => draw_book(model, (book, beside), area, buf),
        Some(Shown::Level(level, working)) => draw_level(model, level, working, area, buf),
    }
}

// A line of the page, and the place in the marks' order of what it stands for.
type Placed = (Line, Option<usize>);

fn draw_book(model: &Model, (book, beside): (&Book, &Beside), area: Rect, buf: &mut Buffer) {
    let head = head(model, (book, beside), area.width);
    let above = count(head.len());
    for (top, line) in head.iter().enumerate() {
        put_line(buf, area, count(top), line, model.shop.theme);
    }
    let body = Rect {
        y: area.y.saturating_add(above),
        height: area.height.saturating_sub(above + 1),
        ..area
    };
    put_line(
        buf,
        area,
        area.height.saturating_sub(1),
        &detail(model),
        model.shop.theme,
    );
    let first_check = book.month.len() + book.rolling.len();
    if area.width >= BESIDE {
        let left = Rect {
            width: area.width * 11 / 20,
            ..body
        };
        let right = Rect {
            x: left.right() + 2,
            width: area.width - left.width - 2,
            ..body
        };
        let mut all = figures(model, book, left.width);
        all.extend(beside::use_of_it(model, beside, left.width));
        put_list(model, &all, left, buf);
        let all = beside::rest(model, (book, beside), first_check, right.width);
        put_list(model, &all, right, buf);
    } else {
        let mut all = figures(model, book, body.width);
        all.extend(beside::rest(model, (book, beside), first_check, body.width));
        put_list(model, &all, body, buf);
    }
}

fn head(model: &Model, (book, beside): (&Book, &Beside), width: u16) -> Vec<Line> {
    let calendar = &model.shop.calendar;
    let signed = book.signed_words(calendar);
    let changed = book.now.newest().is_some() && !book.now.changes.is_empty();
    let mut first = vec![run(month(model), Ink::Strong), run("  ", Ink::Plain)];
    first.push(run(signed, if changed { Ink::Against } else { Ink::Plain }));
    let checks = |state| book.checks.iter().filter(|c| c.state == state).count();
    let duties = |state| {
        let all = beside.duties.iter();
        all.filter(|d| d.standing.state == state).count()
    };
    let drums = |state| {
        beside
            .drums
            .iter()
            .filter(|(_, c)| c.state == state)
            .count()
    };
    let mut lines = Vec::new();
    if !book.provisional.is_empty() {
        first.push(run("  provisional: ", Ink::Late));
        first.push(run(book.provisional.join("; "), Ink::Late));
    }
    for (word, n, ink) in [
        (
            "checks, drums overdue",
            checks(State::Overdue) + duties(DutyState::Overdue) + drums("over"),
            Ink::Against,
        ),
        (
            "checks unknown",
            checks(State::Unknown) + duties(DutyState::Unknown),
            Ink::Outlook(Outlook::Unknown),
        ),
    ] {
        if n > 0 {
            first.push(run(format!("  {word}: {n}"), ink));
        }
    }
    lines.extend(flow(&first, width, 2));
    lines.extend(flow(&line(FROM_LOG_ALONE, Ink::Faint), width, 2));
    if let Some(by) = &book.counted_by {
        lines.extend(flow(&line(by, Ink::Faint), width, 2));
    }
    lines
}

fn figures(model: &Model, book: &Book, width: u16) -> Vec<Placed> {
    let mut out = vec![(heading("in the month", width), None)];
    let mut at = 0;
    let mut push = |out: &mut Vec<Placed>, list: &[Figure]| {
        for f in list {
            out.push((figure(model, f, width), Some(at)));
            at += 1;
        }
    };
    push(&mut out, &book.month);
    out.push((Vec::new(), None));
    out.push((
        heading(&format!("in the twelve months to {}", month(model)), width),
        None,
    ));
    if let Some(text) = book.unknown_words() {
        let ink = Ink::Outlook(Outlook::Unknown);
        out.extend(
            flow(&line(format!("  {text}"), ink), width, 4)
                .into_iter()
                .map(|l| (l, None)),
        );
    }
    push(&mut out, &book.rolling);
    if let Some(text) = book.ahead_line(model.shop.system) {
        let said = flow(&line(format!("  {text}"), Ink::Plain), width, 4);
        out.extend(said.into_iter().map(|l| (l, None)));
    }
    for text in book
        .contents
        .iter()
        .flat_map(|c| c.held_lines(model.shop.system))
    {
        let said = flow(&line(format!("  {text}"), Ink::Plain), width, 4);
        out.extend(said.into_iter().map(|l| (l, None)));
    }
    out.push((Vec::new(), None));
    out
}

fn heading(text: &str, width: u16) -> Line {
    let name = if width >= 100 { NAME } else { 12 };
    let gap = usize::from(name + 15).saturating_sub(text.chars().count() + 2);
    let mut line = vec![run("  ", Ink::Plain), run(text, Ink::Head)];
    if width >= 60 && gap > 0 {
        line.push(run(" ".repeat(gap), Ink::Plain));
        line.push(run("to its limit", Ink::Head));
    }
    line
}

// Room for a figure's name where there is room.
const NAME: u16 = 24;

fn padded(text: &str, width: u16, model: &Model) -> String {
    let text = fit(text, width, model.shop.theme);
    let gap = usize::from(width.saturating_sub(cells(&text)));
    text + &" ".repeat(gap)
}

fn figure(model: &Model, f: &Figure, width: u16) -> Line {
    let system = model.shop.system;
    let name = if width >= 100 { NAME } else { 12 };
    let (sign, ink) = side(f.side);
    let mass = f.mass_words(system);
    let mut out = vec![
        run(
            format!("  {}", padded(&f.of.name(), name, model)),
            Ink::Plain,
        ),
        run(format!(" {mass:>10}  "), Ink::Strong),
        run(
            if width >= 72 {
                format!("{sign} {:<12}", f.side_word())
            } else {
                format!("{sign} {:<7}  ", f.side_word())
            },
            ink,
        ),
    ];
    let Some(limit) = &f.limit else { return out };
    // A word before the limit is reached has the room of the bar, where both do not fit.
    let warning = f.warning();
    if width >= 130 || (width >= 72 && warning.is_none()) {
        // The figures beside it have 83 columns.
        let bar_width = if width >= 100 {
            i64::from(width.saturating_sub(83)).clamp(6, 24)
        } else {
            6
        };
        out.push(run(format!("{} ", bar(model, f, bar_width)), ink));
    }
    // Of what is not all known there is no share.
    let share = match f.side {
        Side::Unknown => String::new(),
        _ => format!("{:>3} % ", f.per_cent().unwrap_or(0)),
    };
    let ink = if warning.is_some() { Ink::Late } else { ink };
    let margin = match warning {
        Some(warning) if width >= 110 => format!("{}; {warning}", f.margin_words(system)),
        Some(warning) => warning,
        None => f.margin_words(system),
    };
    out.push(run(
        if width >= 72 {
            let comma = if margin.is_empty() { "" } else { ", " };
            format!("{share}of {}{comma}{margin}", shown(&limit.typed))
        } else {
            margin
        },
        ink,
    ));
    out
}

// What stands behind the marked line: the limit with its source, who entered it and since when.
fn detail(model: &Model) -> Line {
    let calendar = &model.shop.calendar;
    let limit = match model.places.solvent.row() {
        Some(Row::Month(f) | Row::Twelve(f)) => f.limit.as_ref(),
        Some(Row::Check(c)) => c.every.as_ref(),
        Some(Row::Duty(d)) => {
            let text = format!(
                "source: {}; b writes down that it was done",
                shown(&d.duty.source)
            );
            return line(text, Ink::Faint);
        }
        Some(Row::Incident(i)) => {
            let text = format!(
                "entry {}, by {}; b writes down what came of it",
                i.entry,
                shown(&i.person)
            );
            return line(text, Ink::Faint);
        }
        Some(Row::Drum(d, _)) => {
            let text = format!("holds {}; w puts something in", shown(&d.contents));
            return line(text, Ink::Faint);
        }
        Some(Row::Stock(_)) | None => return Vec::new(),
    };
    let text = limit.map_or_else(
        || "no limit of it is entered, and it is held against none; l enters one".to_owned(),
        |l| {
            format!(
                "limit {}, entered by {} {}, source: {}",
                shown(&l.typed),
                shown(&l.person),
                calendar.stamp(l.since),
                shown(&l.source)
            )
        },
    );
    line(text, Ink::Faint)
}

const fn side(side: Side) -> (&'static str, Ink) {
    match side {
        Side::Under => ("<", Ink::Plain),
        Side::At => ("=", Ink::Late),
        Side::Over => (">", Ink::Against),
        Side::Unknown => ("?", Ink::Outlook(Outlook::Unknown)),
        Side::NoneEntered => ("-", Ink::Faint),
    }
}

// The share of the limit; where a part is not known, what is not filled is not empty but unknown.
fn bar(model: &Model, f: &Figure, width: i64) -> String {
    let (full, _, empty, beyond) = model.shop.theme.bar();
    let share = f.per_cent().unwrap_or(0);
    (0..width)
        .map(|cell| {
            let filled = (2 * cell + 1) * 100 <= 2 * width * share;
            match (f.side, filled) {
                (Side::Over, _) => beyond,
                (_, true) => full,
                (Side::Unknown, false) => "?",
                (_, false) => empty,
            }
        })
        .collect()
}

// The lines that fit, the marked one among them, with the mark at its left end.
fn put_list(model: &Model, lines: &[Placed], area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let mark = model.places.solvent.mark;
    let height = usize::from(area.height);
    let here = lines.iter().position(|(_, at)| *at == Some(mark));
    let last = lines.len().saturating_sub(height);
    let first = here
        .map_or(0, |here| here.saturating_sub(height / 2))
        .min(last);
    // The last marked line shows what stands below it, too.
    let final_mark = lines.iter().rposition(|(_, at)| at.is_some());
    let first = if here.is_some() && here == final_mark {
        last
    } else {
        first
    };
    for (top, (line, at)) in lines.iter().skip(first).take(height).enumerate() {
        let top = count(top);
        if *at == Some(mark) {
            let place = Rect {
                y: area.y + top,
                height: 1,
                ..area
            };
            buf.set_style(place.intersection(buf.area), theme.style(Ink::Marked));
            put_line(buf, area, top, line, theme);
            put_line(buf, area, top, &[run(theme.mark(), Ink::Strong)], theme);
        } else {
            put_line(buf, area, top, line, theme);
        }
    }
}

/// Where the mark is in what is shown, for the line below it.
pub(super) fn place(model: &Model) -> String {
    let all = places::lines(model, Place::Solvent);
    if all == 0 {
        return String::new();
    }
    format!("line {} of {all} ", model.places.solvent.mark + 1)
}

fn draw_level(model: &Model, level: &Level, working: &[String], area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let way = vec![run(level.way.words(), Ink::Strong)];
    let mut head = flow(&way, area.width, 2);
    if working.is_empty() {
        head.push(vec![
            run(format!("by {}: ", level.by), Ink::Plain),
            run(
                level.sum_words(),
                if level.missing() == 0 {
                    Ink::Plain
                } else {
                    Ink::Against
                },
            ),
        ]);
    } else {
        head.push(vec![
            run(book::exact(level.total), Ink::Strong),
            run(", made as follows", Ink::Plain),
        ]);
    }
    let above = count(head.len());
    for (top, line) in head.iter().enumerate() {
        put_line(buf, area, count(top), line, theme);
    }
    let body = Rect {
        y: area.y.saturating_add(above),
        height: area.height.saturating_sub(above),
        ..area
    };
    if !working.is_empty() {
        // The mark counts lines as they were made, so that each is reached at every width.
        let mark = model.places.solvent.mark;
        let (mut lines, mut first): (Vec<Line>, usize) = (Vec::new(), 0);
        for (at, l) in working.iter().enumerate() {
            if at == mark {
                first = lines.len();
            }
            lines.extend(flow(&line(shown(l), Ink::Plain), area.width, 4));
        }
        let last = lines.len().saturating_sub(usize::from(body.height));
        let first = first.min(last);
        for (top, l) in lines
            .iter()
            .skip(first)
            .take(usize::from(body.height))
            .enumerate()
        {
            put_line(buf, body, count(top), l, theme);
        }
        return;
    }
    let name = level.rows.iter().map(|r| cells(&r.name)).max().unwrap_or(0);
    let name = name.clamp(8, 30);
    let mut lines: Vec<Placed> = vec![(
        line(
            format!(
                "  {} {:>13} {:>14}  {}",
                padded(level.by.split(' ').next().unwrap_or_default(), name, model),
                "volume",
                "mass",
                if level.way.lot.is_some() {
                    "ended, by, what"
                } else {
                    ""
                }
            ),
            Ink::Head,
        ),
        None,
    )];
    lines.extend(level.rows.iter().enumerate().map(|(at, r)| {
        let mut text = vec![
            run(
                format!(
                    "  {} {:>13} ",
                    padded(&r.name, name, model),
                    r.volume.text(3)
                ),
                Ink::Plain,
            ),
            run(format!("{:>14}  ", book::exact(r.mass)), Ink::Strong),
        ];
        let room = area.width.saturating_sub(line_cells(&text));
        text.push(run(fit(&r.more, room, theme), Ink::Faint));
        (text, Some(at))
    }));
    if level.rows.is_empty() {
        let text = "  nothing of it is logged in these months";
        lines.push((line(text, Ink::Faint), None));
    }
    put_list(model, &lines, body, buf);
}

/// The page of a month that is to be signed.
pub(super) fn sign_lines(form: &Form, width: u16) -> Vec<Line> {
    let Deed::Sign(page) = &form.deed else {
        return Vec::new();
    };
    page.lines
        .iter()
        .flat_map(|l| flow(&line(shown(l), Ink::Plain), width, 4))
        .collect()
}
