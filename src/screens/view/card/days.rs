//! The card's production days: what was done when, as a lane of hours and in words.

use super::super::grid::Grid;
use super::super::marks::Marks;
use super::super::text::{Line, cells, flow, line, run};
use crate::reports::life::{DayMark, DayRow};
use crate::screens::chart::Columns;
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use crate::units::{Moment, Span};

/// Columns of the date.
const DATE: u16 = 14;

// How many columns the lane of a day has at a width; none where the words need it all.
const fn lane_of(width: u16) -> u16 {
    match width {
        0..=67 => 0,
        68..=109 => 24,
        110..=127 => 44,
        _ => 48,
    }
}

// The text of a mark, its ink, and how strongly it claims its cell.
fn drawn(mark: &DayMark) -> (String, Ink, u8) {
    match mark {
        DayMark::Coat(n) => ((n % 10).to_string(), Ink::Strong, 4),
        DayMark::TouchUp => ("t".to_owned(), Ink::Strong, 3),
        DayMark::Sanding => ("v".to_owned(), Ink::Plain, 3),
        DayMark::Gauge => ("g".to_owned(), Ink::Plain, 2),
        DayMark::Move => (">".to_owned(), Ink::Plain, 1),
        DayMark::Against => ("!".to_owned(), Ink::Against, 5),
        DayMark::Work => ("o".to_owned(), Ink::Plain, 2),
    }
}

/// The days; `cure` is when the cure's clock began, where it runs.
pub(super) fn lines(days: &[DayRow], cure: Option<Moment>, model: &Model, width: u16) -> Vec<Line> {
    let lane = lane_of(width);
    let mut out = Vec::new();
    if days.is_empty() {
        return vec![line("nothing was logged yet", Ink::Faint)];
    }
    if lane > 0 {
        out.push(hours(lane, days, model));
    }
    let indent = DATE + lane + if lane > 0 { 2 } else { 0 };
    for day in days {
        out.extend(flow(&row(day, cure, lane, model), width, indent));
    }
    let mut legend = "v sanding  > moved  g film reading  ! against it  o other work".to_owned();
    if lane > 0 {
        legend = format!("digits: the coat's number  {legend}");
        let marks = Marks::of(model.shop.theme);
        if days.iter().any(|d| d.cures) {
            legend.push_str(&format!("  {} cure runs", marks.cure));
        }
        out.extend(flow(&line(legend, Ink::Faint), width, 2));
    }
    out
}

fn hours(lane: u16, days: &[DayRow], model: &Model) -> Line {
    let mut grid = Grid::new(DATE + lane + 5, 1);
    if let Some(first) = days.first() {
        let begin = model.shop.calendar.day_begin(first.day);
        for quarter in 0..4 {
            let at = begin.plus(Span::hours(i64::from(quarter) * 6));
            let hour = model.shop.calendar.local(at).format("%H").to_string();
            grid.put(DATE + quarter * lane / 4, 0, &hour, Ink::Faint);
        }
    }
    grid.lines().into_iter().next().unwrap_or_default()
}

fn row(day: &DayRow, cure: Option<Moment>, lane: u16, model: &Model) -> Line {
    let calendar = &model.shop.calendar;
    let marks = Marks::of(model.shop.theme);
    let quiet = day.words.is_empty();
    let first = day.day.date();
    let count = day.last.date().signed_duration_since(first).num_days() + 1;
    let date = if count > 1 {
        format!("to {}", day.last.date().format("%a %-d %b"))
    } else {
        first.format("%a %-d %b").to_string()
    };
    let gap = usize::from(DATE.saturating_sub(cells(&date)));
    let ink = if quiet { Ink::Faint } else { Ink::Plain };
    let mut out = vec![run(format!("{date}{}", " ".repeat(gap)), ink)];
    if lane > 0 {
        let begin = calendar.day_begin(day.day);
        let columns = Columns::new(begin, calendar.day_begin(day.day.next()), lane);
        let mut grid = Grid::new(lane + 2, 1);
        for x in 0..lane {
            let cures = day.cures && cure.is_some_and(|from| columns.span(x).1 > from);
            let text = if cures { marks.cure } else { marks.idle };
            grid.put(x, 0, text, Ink::Faint);
        }
        let mut ordered: Vec<(u8, u16, String, Ink)> = day
            .marks
            .iter()
            .filter_map(|(since, mark)| {
                let (text, ink, claim) = drawn(mark);
                Some((claim, columns.at(begin.plus(*since))?, text, ink))
            })
            .collect();
        ordered.sort_by_key(|(claim, ..)| *claim);
        for (_, x, text, ink) in ordered {
            grid.put(x, 0, &text, ink);
        }
        out.extend(grid.lines().into_iter().flatten());
        out.push(run("  ", Ink::Plain));
    }
    if quiet {
        let days = if count == 1 {
            "nothing logged".to_owned()
        } else {
            format!("{count} days, nothing logged")
        };
        out.push(run(days, Ink::Faint));
    } else {
        out.push(run(day.words.join(", "), Ink::Plain));
    }
    if let Some(from) = cure.filter(|from| calendar.day(*from) == day.day) {
        out.push(run(
            format!(", cure from {}", calendar.clock(from)),
            Ink::Strong,
        ));
    }
    out
}
