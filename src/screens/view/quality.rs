//! Quality: defects as bars, pieces right first time, reworks, and the control chart of the marked line.

use super::grid::Grid;
use super::text::{
    Line, cells, count, fit, flow, line, line_cells, middle, put_line, put_marked, run,
};
use crate::reports::quality::{BEHIND, Bar, CHARTS, Chart, FIRST_TIME, REWORK, Side, percent};
use crate::screens::chart::{Scale, groups};
use crate::screens::model::Model;
use crate::screens::places::quality::{Data, Level, Row, State};
use crate::screens::theme::{Ink, Theme};
use crate::units::num;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Width from which on what there is to say of the marked line stands beside the list.
const SIDE: u16 = 110;

/// Widest name of a bar in the list, and where the list is narrow.
const NAME: (u16, u16) = (22, 16);

/// Width of a list that is narrow.
const NARROW: u16 = 66;

/// Columns of the values beside a chart.
const LABELS: u16 = 11;

/// Rows of a chart, and of one on a high screen: odd numbers, so that a middle has a row.
const ROWS: (u16, u16) = (9, 17);

enum Shown<'a> {
    Gap,
    Head(String),
    Row(usize, Row<'a>),
}

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let state = &model.places.quality;
    let Some(data) = &state.data else {
        let text = line("reading the ledger ...", Ink::Faint);
        put_line(buf, area, 0, &text, theme);
        return;
    };
    put_line(buf, area, 0, &head(model, data, area.width), theme);
    let body = Rect {
        y: area.y.saturating_add(1),
        height: area.height.saturating_sub(1),
        ..area
    };
    match state.levels.last() {
        Some(level) => draw_level(level, body, theme, buf),
        None => draw_overview(model, state, data, body, buf),
    }
}

// What is counted, and over which days.
fn head(model: &Model, data: &Data, width: u16) -> Line {
    let defects = data.report.defects.len();
    let counted = if defects == 0 {
        "no defect is recorded".to_owned()
    } else {
        format!(
            "defects by {}: {defects}",
            model.places.quality.by.heading()
        )
    };
    let mut head = vec![run(counted, Ink::Head)];
    let period = &data.report.period;
    let asked = model.shop.calendar.near(data.at, model.now);
    let (n, both, last) = (period.days(), period.words(), period.to().date());
    let forms = [
        format!("{n} production days, {both}, as of {asked}"),
        format!("{n} days, {both}, as of {asked}"),
        format!("{n} days to {last}, as of {asked}"),
    ];
    // The longest that fits whole.
    let room = width.saturating_sub(line_cells(&head) + 3);
    if let Some(days) = forms.into_iter().find(|t| cells(t) <= room) {
        head.push(run("   ", Ink::Plain));
        head.push(run(days, Ink::Faint));
    }
    head
}

fn draw_level(level: &Level, area: Rect, theme: Theme, buf: &mut Buffer) {
    put_line(
        buf,
        area,
        0,
        &line(fit(&level.title, area.width, theme), Ink::Head),
        theme,
    );
    // A line of the list is cut where it must be: the marked one stands whole below.
    let marked = level.lines.get(level.mark);
    let whole = marked.map_or_else(Vec::new, |b| {
        flow(&line(b.text.as_str(), Ink::Plain), area.width, 2)
    });
    let longer = whole.len() > 1;
    let below = if longer && area.height > 9 {
        count(whole.len()).min(area.height / 3)
    } else {
        0
    };
    let list = Rect {
        y: area.y.saturating_add(1),
        height: area.height.saturating_sub(1 + below),
        ..area
    };
    let from = middle(level.mark, level.lines.len(), list.height);
    let shown = level.lines.iter().enumerate().skip(from);
    for (top, (n, behind)) in shown.take(usize::from(list.height)).enumerate() {
        put_marked(
            buf,
            list,
            count(top),
            &line(behind.text.as_str(), Ink::Plain),
            n == level.mark,
            theme,
        );
    }
    let place = Rect {
        y: list.bottom(),
        height: below,
        ..area
    };
    for (top, l) in whole.iter().take(usize::from(below)).enumerate() {
        put_line(buf, place, count(top), l, theme);
    }
}

fn draw_overview(model: &Model, state: &State, data: &Data, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let rows = state.rows();
    let marked = rows.get(state.mark()).cloned();
    let side = if area.width >= SIDE {
        area.width / 2
    } else {
        0
    };
    let wide = if side > 0 {
        side.saturating_sub(2)
    } else {
        area.width
    };
    // Half of a low screen and a little more goes to what there is to say; on the lowest the list has all of it.
    let most = match area.height {
        _ if side > 0 => area.height,
        0..=9 => 0,
        10..=14 => 3,
        high => high * 3 / 5,
    };
    let space = (wide, most);
    let detail = marked.map_or_else(Vec::new, |row| {
        detail(&row, state, data, model, (space, side > 0))
    });
    let below = if side > 0 {
        0
    } else {
        most.min(count(detail.len()))
    };
    let list = Rect {
        width: area.width - side,
        height: area.height.saturating_sub(below),
        ..area
    };
    draw_list(model, state, data, rows, list, buf);
    let place = if side > 0 {
        Rect {
            x: list.right() + 2,
            width: wide,
            ..area
        }
    } else {
        Rect {
            y: list.bottom(),
            height: below,
            ..area
        }
    };
    for (top, l) in detail.iter().take(usize::from(place.height)).enumerate() {
        put_line(buf, place, count(top), l, theme);
    }
}

fn heads(rows: Vec<Row<'_>>) -> Vec<Shown<'_>> {
    let mut out = Vec::new();
    let (mut rework, mut chart) = (false, false);
    for (n, row) in rows.into_iter().enumerate() {
        match row {
            Row::First if !out.is_empty() => out.push(Shown::Gap),
            Row::Rework(_) if !rework => {
                rework = true;
                out.push(Shown::Gap);
            }
            Row::Chart(_) if !chart => {
                chart = true;
                out.extend([
                    Shown::Gap,
                    Shown::Head("charts of film and amount".to_owned()),
                ]);
            }
            Row::Bar(_) | Row::First | Row::Rework(_) | Row::Chart(_) => {}
        }
        out.push(Shown::Row(n, row));
    }
    out
}

fn draw_list(
    model: &Model,
    state: &State,
    data: &Data,
    rows: Vec<Row<'_>>,
    area: Rect,
    buf: &mut Buffer,
) {
    let theme = model.shop.theme;
    let mark = state.mark();
    let most = rows.iter().filter_map(|r| match r {
        Row::Bar(bar) => Some(bar.count),
        _ => None,
    });
    let most = most.max().unwrap_or(1);
    let mut shown = heads(rows);
    // A low screen keeps its lines for what can be marked.
    if area.height < 12 {
        shown.retain(|s| matches!(s, Shown::Row(..)));
    }
    let at = shown
        .iter()
        .position(|s| matches!(s, Shown::Row(n, _) if *n == mark))
        .unwrap_or(0);
    let from = middle(at, shown.len(), area.height);
    let lines = shown.iter().skip(from).take(usize::from(area.height));
    for (top, row) in lines.enumerate() {
        let top = count(top);
        match row {
            Shown::Gap => {}
            Shown::Head(text) => put_line(buf, area, top, &line(text.as_str(), Ink::Head), theme),
            Shown::Row(n, row) => {
                let text = row_line(row, data, model, most, area.width.saturating_sub(2));
                put_marked(buf, area, top, &text, *n == mark, theme);
            }
        }
    }
}

fn row_line(row: &Row<'_>, data: &Data, model: &Model, most: i64, width: u16) -> Line {
    match row {
        Row::Bar(bar) => bar_line(bar, most, width, model.shop.theme),
        Row::First => {
            let first = data.report.first_time_lines().into_iter().next();
            line(first.unwrap_or_default(), Ink::Plain)
        }
        Row::Rework(rate) => line(format!("rework, {}", rate.line()), Ink::Plain),
        Row::Chart(chart) => {
            let outside = chart.outside().count();
            let said = match (&chart.limits, outside) {
                (None, _) => run(format!("  {}", chart.count_words()), Ink::Faint),
                (Some(_), 0) => run("  none outside".to_owned(), Ink::Plain),
                (Some(_), n) => run(format!("  {n} OUTSIDE"), Ink::Against),
            };
            let room = width.saturating_sub(cells(&said.0));
            vec![
                run(fit(&chart.title(), room, model.shop.theme), Ink::Plain),
                said,
            ]
        }
    }
}

fn bar_line(bar: &Bar, most: i64, width: u16, theme: Theme) -> Line {
    let most_name = if width < NARROW { NAME.1 } else { NAME.0 };
    let name = fit(&bar.name(), most_name, theme);
    let pad = usize::from(most_name.saturating_sub(cells(&name)));
    let total = if width < NARROW {
        "total"
    } else {
        "running total"
    };
    let text = format!(
        "{name}{} {:>4} {:>7}  {total} {:>7}  ",
        " ".repeat(pad),
        bar.count,
        percent(bar.share),
        percent(bar.so_far)
    );
    let room = width.saturating_sub(cells(&text));
    let long = num::whole(f64::from(room) * num::float(bar.count) / num::float(most.max(1)));
    let long = long.and_then(|n| usize::try_from(n).ok()).unwrap_or(0);
    let full = theme.bar().0;
    // What is counted has a bar, however short.
    let long = if room > 0 { long.max(1) } else { 0 };
    vec![run(text, Ink::Plain), run(full.repeat(long), Ink::Strong)]
}

// What there is to say of the marked line, on so many columns and lines. Beside the list its name is said again.
fn detail(
    row: &Row<'_>,
    state: &State,
    data: &Data,
    model: &Model,
    ((width, high), beside): ((u16, u16), bool),
) -> Vec<Line> {
    let (calendar, system) = (&model.shop.calendar, model.shop.system);
    let mut out: Vec<Line> = Vec::new();
    let mut say = |text: &str, ink| out.extend(flow(&line(text, ink), width, 2));
    match row {
        Row::Bar(bar) => {
            say(
                &format!(
                    "{} {}: Enter opens the entries",
                    state.by.word(),
                    bar.name()
                ),
                Ink::Strong,
            );
            let defects = bar.defects.iter().rev();
            let newest = defects.filter_map(|n| data.report.defects.get(*n)).take(3);
            for defect in newest {
                say(&defect.line(calendar, system), Ink::Plain);
            }
            say(BEHIND, Ink::Faint);
        }
        Row::First => {
            for text in data.report.first_time_lines() {
                say(&text, Ink::Plain);
            }
            say(FIRST_TIME, Ink::Faint);
        }
        Row::Rework(rate) => {
            say(&rate.line(), Ink::Strong);
            say(REWORK, Ink::Faint);
        }
        Row::Chart(chart) => {
            if beside {
                say(&chart.title(), Ink::Strong);
            }
            let notes = chart.notes(calendar, system);
            let mut notes = notes.into_iter();
            let summary = notes.next().unwrap_or_default();
            say(&summary, Ink::Plain);
            if high > ROWS.0 + 1 {
                let rows = if high > 2 * ROWS.1 { ROWS.1 } else { ROWS.0 };
                out.extend(plot(chart, model, (width, rows)));
            }
            for text in notes {
                out.extend(flow(&line(text, Ink::Plain), width, 2));
            }
            out.extend(flow(&line(CHARTS, Ink::Faint), width, 2));
        }
    }
    out
}

struct Signs {
    point: &'static str,
    outside: &'static str,
    limit: &'static str,
    mean: &'static str,
}

const fn signs(theme: Theme) -> Signs {
    if theme.shapes {
        Signs {
            point: "●",
            outside: "◆",
            limit: "╌",
            mean: "─",
        }
    } else {
        Signs {
            point: "o",
            outside: "X",
            limit: "=",
            mean: "-",
        }
    }
}

// The points in their order, and the limits where there are any.
fn plot(chart: &Chart, model: &Model, (width, rows): (u16, u16)) -> Vec<Line> {
    let signs = signs(model.shop.theme);
    let room = width.saturating_sub(LABELS).max(1);
    let (shown, each) = groups(chart.points.len(), room, 3);
    let points = chart
        .points
        .get(chart.points.len() - shown..)
        .unwrap_or_default();
    let lines = chart.limits.as_ref().map_or_else(Vec::new, |l| {
        vec![
            (Chart::kept(l.low), signs.limit),
            (Chart::kept(l.high), signs.limit),
            (Chart::kept(l.center), signs.mean),
        ]
    });
    let values = points.iter().map(|p| p.value);
    let values = values.chain(lines.iter().map(|(value, _)| *value));
    let Some(scale) = Scale::holding(values, 100, rows) else {
        return Vec::new();
    };
    let system = model.shop.system;
    let mut grid = Grid::new(width, rows);
    let label = |grid: &mut Grid, value: i64, ink| {
        if let Some(y) = scale.row(value) {
            grid.put(0, y, &" ".repeat(usize::from(LABELS) - 1), ink);
            let text = chart.measured.text(value, system);
            grid.put_before(LABELS - 1, y, &text, ink);
        }
    };
    label(&mut grid, scale.high(), Ink::Faint);
    label(&mut grid, scale.low(), Ink::Faint);
    for (value, sign) in &lines {
        if let Some(y) = scale.row(*value) {
            grid.row(y, LABELS..width, sign, Ink::Faint);
        }
        label(&mut grid, *value, Ink::Plain);
    }
    for (n, point) in points.iter().enumerate() {
        let x = LABELS + count(n).saturating_mul(each) + each / 2;
        if let Some(y) = scale.row(point.value) {
            let (sign, ink) = match chart.side(point) {
                Side::Within => (signs.point, Ink::Strong),
                Side::Above | Side::Below => (signs.outside, Ink::Against),
            };
            grid.put(x, y, sign, ink);
        }
    }
    let mut out = grid.lines();
    let mut legend = format!("{} point", signs.point);
    if chart.limits.is_some() {
        legend.push_str(&format!(
            "  {} outside  {} mean  {} limit",
            signs.outside, signs.mean, signs.limit
        ));
    }
    let left = chart.points.len() - shown;
    if left > 0 {
        legend.push_str(&format!("  {left} before these not drawn"));
    }
    out.push(line(legend, Ink::Faint));
    out
}
