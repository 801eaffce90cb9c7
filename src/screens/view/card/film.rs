//! The card's film: a step plot of each surface after each deed, against its band and with the doubt about it.

use super::super::facts;
use super::super::grid::Grid;
use super::super::marks::Marks;
use super::super::text::{Line, count, flow, line, run};
use crate::ledger::Seen;
use crate::reports::life::{DOUBT, FilmCourse, FilmPoint, Mark};
use crate::screens::chart::{Scale, groups, riser};
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use crate::shop::words::{StepKind, Word};
use crate::units::{Film, Moment};

/// Columns of the labels at the left.
const LABELS: u16 = 8;

/// Columns of the film that it will end with, at the right.
const END: u16 = 5;

/// Films are labelled on whole tens of micrometres.
const STEP: i64 = 10_000;

// The letter of a coat's kind on the axis.
const fn letter(kind: StepKind) -> char {
    match kind {
        StepKind::Seal => 's',
        StepKind::Wash => 'w',
        StepKind::Fill => 'f',
        StepKind::Colour => 'k',
        StepKind::DropFill => 'd',
        _ => 'c',
    }
}

// What stands below a deed: what it was, and which coat of its kind.
fn label(p: &FilmPoint) -> (String, String) {
    let (letter, number) = match p.mark {
        Mark::Coat(kind, n) => (letter(kind), n.to_string()),
        Mark::Takes => ('v', String::new()),
        Mark::Adds => ('+', String::new()),
        Mark::Gauge => ('g', String::new()),
        Mark::Strip => ('x', String::new()),
    };
    (letter.to_string(), number)
}

/// The plots of all surfaces.
pub(super) fn lines(courses: &[FilmCourse], seen: &Seen, model: &Model, width: u16) -> Vec<Line> {
    let mut out = Vec::new();
    let mut drawn: Vec<&FilmCourse> = Vec::new();
    for course in courses {
        if course.points.is_empty() {
            let text = format!("{}: no deed has changed its film yet", names(course));
            out.extend(flow(&line(text, Ink::Faint), width, 2));
            continue;
        }
        out.extend(flow(&title(course, model), width, 2));
        out.extend(plot(course, seen, model, width));
        drawn.push(course);
    }
    if !drawn.is_empty() {
        let points: Vec<&FilmPoint> = drawn.iter().flat_map(|c| &c.points).collect();
        out.extend(whole_words(&legend(&points, model), width));
        out.extend(flow(&line(DOUBT, Ink::Faint), width, 2));
    }
    out
}

fn names(course: &FilmCourse) -> String {
    course.surfaces.join(", ")
}

fn title(course: &FilmCourse, model: &Model) -> Line {
    let system = model.shop.system;
    let film = |film| facts::film(film, system);
    let mut parts = vec![run(format!("{}: ", names(course)), Ink::Strong)];
    if let Some(p) = course.points.last() {
        let gauge = course.points.iter().rev().find(|p| p.mark == Mark::Gauge);
        let from = gauge.map_or_else(
            || "predicted".to_owned(),
            |g| format!("from the reading of entry {}", g.entry),
        );
        let old = p.predicted.map_or_else(String::new, |old| {
            format!("; the prediction alone says {}", film(old))
        });
        parts.push(run(
            format!("{} +-{} {from}{old}", film(p.film), film(p.doubt)),
            Ink::Plain,
        ));
    }
    parts
}

fn plot(course: &FilmCourse, seen: &Seen, model: &Model, width: u16) -> Vec<Line> {
    let theme = model.shop.theme;
    let marks = Marks::of(theme);
    let rows = if model.size.1 >= 36 { 12 } else { 9 };
    let room = width.saturating_sub(LABELS + END).max(4);
    let (shown, each) = groups(course.points.len(), room, 4);
    let points = course
        .points
        .get(course.points.len() - shown..)
        .unwrap_or_default();
    let finish = seen
        .sites()
        .find(|s| course.surfaces.iter().any(|c| c == s.surface))
        .map(|s| seen.now.finish_of(&seen.recipe, &s));
    let (low, high) = (course.band.0.0, course.band.1.0);
    let values = points
        .iter()
        .flat_map(|p| {
            [
                p.bounds().0.min(p.film.0),
                p.bounds().1,
                p.predicted.unwrap_or(p.film).0,
            ]
        })
        .chain([0, low, high])
        .chain(finish);
    let Some(scale) = Scale::holding(values, STEP, rows) else {
        return Vec::new();
    };
    let used = count(shown).saturating_mul(each);
    let mut grid = Grid::new(width, rows + 3);
    let film = |v: i64| facts::film(Film(v), model.shop.system);
    if let Some((top, bottom)) = scale.rows_of(low, high) {
        for y in top..=bottom {
            grid.row(y, LABELS..LABELS + used + END, marks.band, Ink::Faint);
        }
    }
    // The labels that matter most come last, so that they stand where two share a row.
    for (value, ink) in [
        (scale.high(), Ink::Faint),
        (scale.low(), Ink::Faint),
        (low, Ink::Plain),
        (high, Ink::Plain),
    ] {
        if let Some(y) = scale.row(value) {
            grid.put(0, y, "       ", ink);
            grid.put_before(LABELS - 1, y, &film(value), ink);
        }
    }
    let mut before: Option<u16> = None;
    for (n, p) in points.iter().enumerate() {
        let x = LABELS + count(n).saturating_mul(each);
        let centre = x + each / 2;
        let (from, to) = p.bounds();
        if let Some((top, bottom)) = scale.rows_of(from, to) {
            grid.column(centre, (top, bottom), marks.doubt, Ink::Plain);
        }
        let Some(y) = scale.row(p.film.0) else {
            continue;
        };
        if let Some(was) = before {
            for between in riser(was, y) {
                grid.put(x, between, marks.riser, Ink::Strong);
            }
        }
        before = Some(y);
        grid.row(y, x..x + each, marks.level, Ink::Strong);
        if p.mark == Mark::Gauge {
            grid.put(centre, y, marks.gauge, Ink::Strong);
        }
        if let Some(old) = p.predicted.and_then(|old| scale.row(old.0))
            && old != y
        {
            grid.put(centre, old, marks.old, Ink::Late);
        }
        let (letter, number) = label(p);
        let under = x + u16::from(each > 2);
        grid.put(under, rows, &letter, Ink::Plain);
        // In narrow columns a coat beyond the ninth keeps its last digit.
        let room = usize::from(each.saturating_sub(1).max(1));
        let skip = number.len().saturating_sub(room);
        let number: String = number.chars().skip(skip).collect();
        grid.put(under, rows + 1, &number, Ink::Plain);
    }
    if let Some(y) = finish.and_then(|f| scale.row(f)) {
        let x = LABELS + used + 1;
        grid.row(y, x..x + 3, marks.ahead, Ink::Strong);
        grid.put(x, rows, "end", Ink::Faint);
    }
    dates(&mut grid, points, (rows + 2, each), model);
    let mut out = grid.lines();
    let left = course.points.len() - shown;
    if left > 0 {
        out.push(line(
            format!("{left} deeds before these are not drawn; the history has them"),
            Ink::Faint,
        ));
    }
    out
}

// The date stands below the first deed of each production day, where the one before leaves room.
fn dates(grid: &mut Grid, points: &[FilmPoint], (y, each): (u16, u16), model: &Model) {
    let calendar = &model.shop.calendar;
    let mut day = None;
    let mut free = 0;
    for (n, p) in points.iter().enumerate() {
        let now = calendar.day(p.at);
        let x = LABELS + count(n).saturating_mul(each);
        if day != Some(now) && x >= free {
            let text = date(p.at, model);
            grid.put(x, y, &text, Ink::Faint);
            free = x + count(text.len()) + 1;
        }
        day = Some(now);
    }
}

fn date(at: Moment, model: &Model) -> String {
    let day = model.shop.calendar.day(at);
    day.date().format("%-d %b").to_string()
}

// Broken between the signs and never between a sign and what it means.
fn whole_words(signs: &[String], width: u16) -> Vec<Line> {
    const TIE: &str = "\u{a0}";
    let tied: Vec<String> = signs.iter().map(|s| s.replace(' ', TIE)).collect();
    let mut lines = flow(&line(tied.join("   "), Ink::Faint), width, 2);
    for (text, _) in lines.iter_mut().flatten() {
        *text = text.replace(TIE, " ");
    }
    lines
}

fn legend(points: &[&FilmPoint], model: &Model) -> Vec<String> {
    let marks = Marks::of(model.shop.theme);
    let mut out = Vec::new();
    for kind in <StepKind as Word>::ALL {
        if points
            .iter()
            .any(|p| matches!(p.mark, Mark::Coat(k, _) if k == *kind))
        {
            out.push(format!("{} {}", letter(*kind), kind.word()));
        }
    }
    let has = |mark: Mark| points.iter().any(|p| p.mark == mark);
    for (mark, text) in [
        (Mark::Takes, "v takes film"),
        (Mark::Adds, "+ adds film"),
        (Mark::Strip, "x to the wood"),
        (Mark::Gauge, "g gauge reading"),
    ] {
        if has(mark) {
            out.push(text.to_owned());
        }
    }
    if points.iter().any(|p| p.predicted.is_some()) {
        out.push(format!("{} the prediction it replaced", marks.old));
    }
    if points.iter().any(|p| p.branch > 0) {
        out.push("a rework counts its coats from 1".to_owned());
    }
    out.push(format!("{} wanted when finished", marks.band));
    out.push(format!("{} the end by recipe", marks.ahead));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_of_the_legend_stays_with_what_it_means() {
        let signs = ["f fill", "+ adds film", "# wanted when finished"].map(str::to_owned);
        for width in 26..60 {
            let lines: Vec<String> = whole_words(&signs, width)
                .iter()
                .map(|line| line.iter().map(|(text, _)| text.as_str()).collect())
                .collect();
            for sign in &signs {
                assert!(lines.iter().any(|l| l.contains(sign)), "{width}: {lines:?}");
            }
        }
    }
}
