//! The wall: big digits and few words, to be read from across the room.

use super::booth::{earliest, outlook, pieces, wait};
use super::digits::{height, put_big, width};
use super::facts;
use super::text::{cells, count, line, put, put_line, put_right};
use crate::reports::booth::CheckNow;
use crate::reports::booth::SPRAYED;
use crate::reports::day_list::is_behind_or_queued;
use crate::screens::model::Model;
use crate::screens::places::booth::rows;
use crate::screens::places::wall::{PAGES, page};
use crate::screens::theme::{Ink, Theme};
use crate::shop::words::{Outlook, StepKind};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// One figure of a page: a word that is drawn big, the figure, and what it counts in small letters.
struct Figure {
    word: &'static str,
    number: String,
    says: &'static str,
    ink: Ink,
}

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    if model.floor.data.is_none() {
        let text = line("reading the ledger ...", Ink::Faint);
        put_line(buf, area, 0, &text, theme);
        return;
    }
    let main = Rect {
        height: area.height.saturating_sub(1),
        ..area
    };
    let page = page(&model.places.wall, model.now);
    match page {
        0 => draw_figures(&ready(model), main, theme, buf),
        1 => draw_next(model, main, buf),
        _ => draw_figures(&open(model), main, theme, buf),
    }
    let bottom = area.height.saturating_sub(1);
    put_line(buf, area, bottom, &line(facts::READY, Ink::Plain), theme);
    let place = line(format!(" page {} of {PAGES}", page + 1), Ink::Faint);
    if cells(facts::READY) + 14 <= area.width {
        put_right(buf, area, bottom, &place, theme);
    }
}

// Page 1: what can be done now.
fn ready(model: &Model) -> Vec<Figure> {
    let of = |kinds: &[StepKind]| {
        let ready = model.floor.seen().iter().filter(|s| {
            s.view.outlook == Outlook::Ready && s.view.deed().is_some_and(|k| kinds.contains(&k))
        });
        ready.count().to_string()
    };
    let figure = |word, kinds: &[StepKind], says| Figure {
        word,
        number: of(kinds),
        says,
        ink: Ink::Outlook(Outlook::Ready),
    };
    vec![
        figure("COAT", SPRAYED, "to coat: time reached"),
        figure(
            "LEVEL",
            &[StepKind::LevelSand],
            "to level-sand: time reached",
        ),
        figure(
            "FINAL",
            &[StepKind::FinalSand],
            "to final-sand: time reached",
        ),
        figure("BUFF", &[StepKind::Buff], "to buff: time reached"),
    ]
}

// Page 3: what somebody has to look at.
fn open(model: &Model) -> Vec<Figure> {
    let behind = model
        .floor
        .seen()
        .iter()
        .filter(|s| is_behind_or_queued(s))
        .count();
    let held = model.floor.count(Outlook::Held);
    let deviations = model.floor.data.as_ref().map_or(0, |d| d.deviations);
    let figure = |word, n: usize, says| Figure {
        word,
        number: n.to_string(),
        says,
        ink: if n > 0 { Ink::Against } else { Ink::Plain },
    };
    vec![
        figure("BEHIND", behind, "behind date or queued long"),
        figure("HELD", held, "pieces held"),
        figure("OPEN", deviations, "deviations not answered yet"),
        checks(model),
    ]
}

// Booths whose check is due, or whose check nobody knows of: a booth without one is never counted as checked.
fn checks(model: &Model) -> Figure {
    let word = "CHECK";
    let unknown = |says| Figure {
        word,
        number: "?".to_owned(),
        says,
        ink: Ink::Late,
    };
    let Some(data) = &model.places.wall.data else {
        return unknown("booth checks: asking the ledger");
    };
    let count =
        |wanted: fn(CheckNow) -> bool| data.booths.iter().filter(|b| wanted(b.check)).count();
    let due = count(|c| matches!(c, CheckNow::Due(_)));
    if due > 0 {
        return Figure {
            word,
            number: due.to_string(),
            says: "booth checks due: the exhaust stopped",
            ink: Ink::Against,
        };
    }
    if data.booths.is_empty() || count(|c| c == CheckNow::Unknown) > 0 {
        return unknown("booth checks: none recorded");
    }
    let checks = data.booths.iter().map(|b| b.check);
    let old = checks
        .filter(|c| !c.is_of_the_day(model.now, &model.shop.calendar))
        .count();
    Figure {
        word,
        number: old.to_string(),
        says: "booths not checked today",
        ink: if old > 0 { Ink::Late } else { Ink::Plain },
    }
}

// Four figures in two columns and two rows, or all in one column where that makes them larger; all in one size.
fn draw_figures(figures: &[Figure], area: Rect, theme: Theme, buf: &mut Buffer) {
    let across = 2;
    let down = count(figures.len()).div_ceil(across).max(1);
    let cell = (area.width / across, area.height / down);
    let sizes = sizes(figures, cell, theme);
    for (n, f) in figures.iter().enumerate() {
        let n = count(n);
        let place = Rect {
            x: area.x.saturating_add(n % across * cell.0),
            y: area.y.saturating_add(n / across * cell.1),
            width: cell.0,
            height: cell.1,
        };
        draw_figure(f, sizes, place, theme, buf);
    }
}

// The largest size of figures and words at which every cell holds both, one above the other or side by side. The words
// are half as large as the figures; a screen that is too small has them in plain letters.
fn sizes(figures: &[Figure], (across, down): (u16, u16), theme: Theme) -> (u16, u16) {
    let step: u16 = if theme.shapes { 1 } else { 2 };
    let fits = |size: u16, word: u16| {
        let high = height(size) + if word == 0 { 1 } else { height(word) + 1 } + 1;
        high <= down
            && figures.iter().all(|f| {
                let wide = |text: &str, size| width(text, size).unwrap_or(u16::MAX);
                let words = if word == 0 {
                    cells(f.word)
                } else {
                    wide(f.word, word)
                };
                wide(&f.number, size).max(words) + 2 <= across
            })
    };
    let mut best = (0, 0);
    for size in (step..=24).step_by(usize::from(step)) {
        let halved = size.div_ceil(2);
        let even = halved - halved % step;
        // A word that nobody can read from afar is worth less than a smaller figure.
        if even > 0 && fits(size, even) {
            best = (size, even);
        }
        if best.1 == 0 && fits(size, 0) {
            best = (size, 0);
        }
    }
    best
}

fn draw_figure(f: &Figure, (size, word): (u16, u16), area: Rect, theme: Theme, buf: &mut Buffer) {
    let mut top = 0;
    if size == 0 {
        let text = format!("{} {}", f.number, f.says);
        put_line(buf, area, 0, &line(text, f.ink), theme);
        return;
    }
    if word == 0 {
        put(buf, area, 1, top, area.width, (f.word, Ink::Strong), theme);
        top += 1;
    } else {
        // A word of an odd size leaves half a row below it: then the spare row keeps it off what stands above.
        let above = word % 2;
        put_big(buf, area, (1, above), word, (f.word, Ink::Strong), theme);
        top += height(word) + 1;
    }
    put_big(buf, area, (1, top), size, (&f.number, f.ink), theme);
    top += height(size);
    put(
        buf,
        area,
        1,
        top,
        area.width.saturating_sub(2),
        (f.says, Ink::Plain),
        theme,
    );
}

// Page 2: the next racks, each with its wait.
fn draw_next(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let rows = rows(model);
    if rows.is_empty() {
        put_line(
            buf,
            area,
            0,
            &line("no piece has a coat next", Ink::Strong),
            theme,
        );
        return;
    }
    // As many as three, and only as many as leave each its six rows: more could not be read from afar.
    let room = usize::from(area.height / 6).max(1);
    let shown = rows.len().min(3).min(room);
    let high = (area.height / count(shown)).max(2);
    let names: Vec<String> = rows
        .iter()
        .take(shown)
        .map(crate::reports::booth::Next::name)
        .collect();
    let waits: Vec<(String, &str)> = rows.iter().take(shown).map(|r| wait(r, model)).collect();
    // All names and all waits in one size, the largest at which the widest of both stand side by side.
    let widest = |texts: &mut dyn Iterator<Item = &str>, size: u16| {
        texts
            .map(|t| width(t, size).unwrap_or(u16::MAX))
            .max()
            .unwrap_or(0)
    };
    let name_wide = |size| widest(&mut names.iter().map(String::as_str), size);
    let wait_wide = |size| widest(&mut waits.iter().map(|(w, _)| w.as_str()), size);
    let step: u16 = if theme.shapes { 1 } else { 2 };
    let fits = |size: &u16| {
        let across = name_wide(*size).saturating_add(wait_wide(*size));
        height(*size) < high && across.saturating_add(13) <= area.width
    };
    let size = (step..=24)
        .step_by(usize::from(step))
        .rfind(fits)
        .unwrap_or(0);
    let half = if size > 0 {
        name_wide(size) + 4
    } else {
        area.width / 2
    };
    for (n, next) in rows.iter().take(shown).enumerate() {
        let place = Rect {
            y: area.y.saturating_add(count(n) * high),
            height: high,
            ..area
        };
        let ink = super::booth::ink(next);
        let (Some(name), Some((digits, unit))) = (names.get(n), waits.get(n)) else {
            continue;
        };
        let used = if size > 0 {
            put_big(buf, place, (1, 0), size, (name, Ink::Strong), theme);
            let used = put_big(buf, place, (half, 0), size, (digits, ink), theme);
            let foot = height(size).saturating_sub(1);
            put(
                buf,
                place,
                half + used + 1,
                foot,
                area.width,
                (unit, ink),
                theme,
            );
            height(size)
        } else {
            put(buf, place, 1, 0, half, (name, Ink::Strong), theme);
            put(
                buf,
                place,
                half,
                0,
                half,
                (&format!("{digits} {unit}"), ink),
                theme,
            );
            1
        };
        let text = format!(
            "{}   {}   {}   {}",
            outlook(next, model),
            next.coat(),
            earliest(next, model),
            pieces(next)
        );
        put(buf, place, 1, used, area.width, (&text, Ink::Strong), theme);
    }
}
