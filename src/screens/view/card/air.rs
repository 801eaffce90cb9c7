//! The card's air: the temperature of the rooms since the last wet coat, and what the hours counted.

use super::super::grid::Grid;
use super::super::marks::Marks;
use super::super::text::{Line, cells, count, flow, line, run};
use crate::ledger::{Seen, SolventLeft};
use crate::reports::life::AirCourse;
use crate::screens::chart::{Bucket, Columns, Scale, Stretch, buckets, stretches};
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use crate::shop::climate::{CreditLeg, KnownBy};
use crate::shop::recipe::CreditLaw;
use crate::units::{Amount, Moment, Span, Temperature};

/// Columns of the labels at the left.
pub(super) const LABELS: u16 = 8;

/// Temperatures are labelled on whole even degrees.
const STEP: i64 = 2_000;

/// The chart and what it adds up to.
pub(super) fn lines(air: Option<&AirCourse>, seen: &Seen, model: &Model, width: u16) -> Vec<Line> {
    let Some(air) = air else {
        return vec![line("nothing wet yet: no clock runs", Ink::Faint)];
    };
    let marks = Marks::of(model.shop.theme);
    let room = width.saturating_sub(LABELS).max(4);
    let columns = Columns::new(air.from, air.to, room);
    let mut held: Vec<Stretch> = Vec::new();
    for stay in &air.stays {
        if let Some(hold) = stay.holds {
            let clipped = stretches(&stay.readings, hold, stay.to);
            held.extend(clipped.into_iter().filter_map(|s| {
                let from = s.from.max(stay.from);
                (s.to > from).then_some(Stretch { from, ..s })
            }));
        }
    }
    let temps = buckets(&columns, &held);
    let mut out = chart(&temps, seen, model, width);
    let mut grid = Grid::new(width, 2);
    grid.put(0, 0, "credit", Ink::Faint);
    for x in 0..room {
        let (text, ink) = credit(&air.legs, columns.span(x), &marks);
        grid.put(LABELS + x, 0, text, ink);
    }
    grid.put(0, 1, "room", Ink::Faint);
    for stay in &air.stays {
        let name = stay.room.as_deref().unwrap_or("no room");
        let text = format!("|{}", crate::shop::text::shown(name));
        // A stay that is too short for its name shows that it began; the days name it.
        if let (Some(x), Some(end)) = (columns.at(stay.from), columns.at(stay.to)) {
            let fits = cells(&text) <= (end + 1).saturating_sub(x);
            grid.put(LABELS + x, 1, if fits { &text } else { "|" }, Ink::Plain);
        }
    }
    out.extend(grid.lines());
    out.push(axis(air.from, air.to, model, width));
    out.extend(flow(&sums(air, seen), width, 2));
    let legend = format!(
        "{} mean  {} lowest to highest where far apart  credit: {} full  {} in part  {} none  ? unknown  a assumed  f forecast",
        marks.mean, marks.range, marks.full, marks.part, marks.none
    );
    out.extend(flow(&line(legend, Ink::Faint), width, 2));
    out
}

/// The ends of a time axis.
pub(super) fn axis(from: Moment, to: Moment, model: &Model, width: u16) -> Line {
    let calendar = &model.shop.calendar;
    let (left, right) = (calendar.stamp(from), calendar.stamp(to));
    let room = width.saturating_sub(LABELS);
    let gap = room.saturating_sub(cells(&left) + cells(&right));
    line(
        format!(
            "{}{left}{}{right}",
            " ".repeat(usize::from(LABELS)),
            " ".repeat(usize::from(gap.max(1)))
        ),
        Ink::Faint,
    )
}

fn chart(temps: &[Option<Bucket>], seen: &Seen, model: &Model, width: u16) -> Vec<Line> {
    let marks = Marks::of(model.shop.theme);
    let rows = if model.size.1 >= 36 { 8 } else { 6 };
    let known = || temps.iter().flatten();
    let Some(scale) = Scale::holding(known().flat_map(|b| [b.low, b.high]), STEP, rows) else {
        return vec![line(
            "no reading of a room that it hung in since then: unknown",
            Ink::Late,
        )];
    };
    let mut grid = Grid::new(width, rows);
    let text = |v: i64| Temperature(v).shown(model.shop.system, 0);
    for value in [scale.high(), scale.low()] {
        if let Some(y) = scale.row(value) {
            grid.put_before(LABELS - 1, y, &text(value), Ink::Faint);
        }
    }
    let edges = seen.recipe.credit.bands.iter().filter_map(|b| b.from);
    if seen.recipe.credit.law == CreditLaw::Bands {
        for edge in edges {
            if let Some(y) = scale.row(edge.0) {
                grid.row(y, LABELS..width, marks.limit, Ink::Faint);
                grid.put(0, y, "       ", Ink::Plain);
                grid.put_before(LABELS - 1, y, &text(edge.0), Ink::Plain);
            }
        }
    }
    for (x, bucket) in temps.iter().enumerate() {
        let x = LABELS + count(x);
        match bucket {
            None => grid.put(x, rows - 1, "?", Ink::Late),
            Some(b) => {
                if let Some((top, bottom)) = scale.rows_of(b.low, b.high)
                    && bottom > top + 1
                {
                    grid.column(x, (top, bottom), marks.range, Ink::Faint);
                }
                if let Some(y) = scale.row(b.mean) {
                    grid.put(x, y, marks.mean, Ink::Strong);
                }
            }
        }
    }
    grid.lines()
}

// What the hours of a column counted. A column with a gap in it is unknown, however short the gap is.
fn credit(legs: &[CreditLeg], (from, to): (Moment, Moment), marks: &Marks) -> (&'static str, Ink) {
    let here = || legs.iter().filter(|l| l.from < to && l.to > from);
    let by = |known: KnownBy| here().any(|l| l.known_by == known);
    if by(KnownBy::Gap) || by(KnownBy::NoHumidity) || here().next().is_none() {
        return ("?", Ink::Late);
    }
    if by(KnownBy::Assumed) {
        return ("a", Ink::Late);
    }
    if by(KnownBy::Forecast) {
        return ("f", Ink::Late);
    }
    let lowest = here().map(|l| l.permille).min().unwrap_or(0);
    let highest = here().map(|l| l.permille).max().unwrap_or(0);
    match (lowest, highest) {
        (_, 0) => (marks.none, Ink::Strong),
        (1_000.., _) => (marks.full, Ink::Faint),
        _ => (marks.part, Ink::Plain),
    }
}

// How many clock hours rest on what, and what they were credited.
fn sums(air: &AirCourse, seen: &Seen) -> Line {
    let mut parts = Vec::new();
    for (known, said) in [
        (KnownBy::Reading, "by readings"),
        (KnownBy::Forecast, "forecast after the newest reading"),
        (KnownBy::Assumed, "assumed, no readings"),
        (KnownBy::Gap, "without readings: unknown"),
        (KnownBy::NoHumidity, "without humidity: unknown"),
    ] {
        let legs = || air.legs.iter().filter(|l| l.known_by == known);
        let clock: i64 = legs().map(|l| l.to.since(l.from).0).sum();
        let earned: i64 = legs()
            .map(|l| l.to.since(l.from).0 * l.permille / 1_000)
            .sum();
        if clock > 0 {
            parts.push(format!(
                "{} of {} {said}",
                Span(earned).words(),
                Span(clock).words()
            ));
        }
    }
    let total = seen.view.cure.map_or_else(
        || "no cure is waited for now; counted: ".to_owned(),
        |(earned, wanted)| format!("credited {} of {} wanted: ", earned.words(), wanted.words()),
    );
    vec![run(total, Ink::Strong), run(parts.join("; "), Ink::Plain)]
}

/// The solvent that is left, by the recipe's model.
pub(super) fn solvent(list: &[SolventLeft], seen: &Seen, model: &Model, width: u16) -> Vec<Line> {
    let marks = Marks::of(model.shop.theme);
    let mut out = Vec::new();
    for left in list {
        let (Some((from, _)), Some((to, now))) = (left.points.first(), left.points.last()) else {
            continue;
        };
        out.extend(flow(
            &[
                run(format!("{}: ", left.surface), Ink::Strong),
                run(
                    format!(
                        "{} of its solvent is left; the recipe's own has {} when its cure is over; an estimate by the recipe's model",
                        now.text(1),
                        left.own.text(1)
                    ),
                    Ink::Plain,
                ),
            ],
            width,
            2,
        ));
        for hold in seen.solvent.iter().filter(|h| h.surface == left.surface) {
            out.extend(flow(&line(hold.words(), Ink::Late), width, 2));
        }
        let room = width.saturating_sub(LABELS).max(4);
        let columns = Columns::new(*from, *to, room);
        let shares = left.points.iter().map(|(_, s)| s.0).chain([0, left.own.0]);
        let rows = 5;
        let Some(scale) = Scale::holding(shares, 50_000, rows) else {
            continue;
        };
        let mut grid = Grid::new(width, rows);
        let text = |v: i64| crate::units::Share(v).text(0);
        for value in [scale.high(), scale.low()] {
            if let Some(y) = scale.row(value) {
                grid.put_before(LABELS - 1, y, &text(value), Ink::Faint);
            }
        }
        if let Some(y) = scale.row(left.own.0) {
            grid.row(y, LABELS..width, marks.limit, Ink::Faint);
            grid.put(0, y, "       ", Ink::Plain);
            grid.put_before(LABELS - 1, y, &text(left.own.0), Ink::Plain);
        }
        for x in 0..room {
            let end = columns.span(x).1;
            let at = left.points.partition_point(|(m, _)| *m <= end);
            let share = left.points.get(at.saturating_sub(1)).map(|(_, s)| s.0);
            if let Some(y) = share.and_then(|s| scale.row(s)) {
                grid.put(LABELS + x, y, marks.mean, Ink::Strong);
            }
        }
        out.extend(grid.lines());
        out.push(axis(*from, *to, model, width));
    }
    out
}
