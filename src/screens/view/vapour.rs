//! Solvent vapour on the page of the air: in a booth's exhaust, and in a room over the last day.

use super::air::{LABELS, chart};
use super::grid::Grid;
use super::marks::Marks;
use super::text::{Line, cells, count, flow, line};
use crate::reports::vapours::percent as percent_of;
use crate::reports::workings::{Kept, Working};
use crate::science::measure::SHARE;
use crate::science::printed::held_line;
use crate::science::vapour::ROOM_CAUTION;
use crate::science::worksheet::{Held, Side};
use crate::screens::chart::{Bucket, Columns, Stretch, buckets, stretches};
use crate::screens::model::Model;
use crate::screens::places::air::{Data, Exhaust, RoomVapour};
use crate::screens::theme::Ink;
use crate::shop::text::shown;
use crate::units::{Moment, Span, num};
use chrono::Timelike;

/// The points of a course stand no further apart than this, so that between two of them nothing is unknown.
const APART: Span = Span::minutes(30);

/// The head of an exhaust's vapour.
const EXHAUST: &str = "solvent vapour in the exhaust at the present spray rate";

fn percent(ppm: i64) -> String {
    percent_of(num::float(ppm) / 1e6)
}

// A share of a figure: less than a millionth is told as little and not as nothing.
fn share(ppm: i64) -> String {
    percent_of(num::float(ppm.max(1)) / 1e6)
}

fn ppm(kept: &Kept) -> Option<i64> {
    kept.value.as_ref()?.as_i64()
}

// What is kept in another unit than a share is shown as it is kept.
fn text(kept: &Kept) -> String {
    match ppm(kept).filter(|_| kept.unit == "ppm") {
        Some(ppm) => share(ppm),
        None => kept.text.clone(),
    }
}

fn over(working: &Working) -> bool {
    let held = |h: &Held| h.side != Side::Unknown && h.calls_for_attention();
    working.held().any(held)
}

/// The vapour of a room in a line of the list.
pub(super) fn said(working: &Working) -> (String, Ink) {
    let mut shares = working.kept.iter().filter(|k| k.unit == "ppm").map(ppm);
    let (now, high) = (shares.next().flatten(), shares.next().flatten());
    let ink = if over(working) {
        Ink::Against
    } else if now.is_none() {
        Ink::Late
    } else {
        Ink::Plain
    };
    if let (Some(now), Some(high)) = (now, high) {
        let (now, high) = (share(now), share(high));
        return (
            format!("{now} of the LEL now, highest in a day {high}"),
            ink,
        );
    }
    let highest = working.course.iter().map(|(_, v)| *v).max();
    let of_part = working.course.last().zip(highest);
    let said = match (of_part, working.unknown.first()) {
        (Some(((_, now), high)), _) => format!(
            "unknown; the named part {} of the LEL now, highest {}",
            share(*now),
            share(high)
        ),
        (None, Some(why)) => format!("unknown: {why}"),
        (None, None) => "unknown".to_owned(),
    };
    (said, ink)
}

/// The newest share of the lower explosive limit in a booth's exhaust, where something was sprayed there in this
/// production day.
pub(super) fn newest(booth: &Exhaust) -> Option<(String, bool)> {
    let working = booth.vapour.as_ref().ok().filter(|w| !w.parts.is_empty())?;
    let newest = working.kept.iter().find(|k| k.unit == "ppm")?;
    let said = ppm(newest).map_or_else(
        || "vapour unknown".to_owned(),
        |ppm| format!("vapour {} of the LEL", share(ppm)),
    );
    Some((said, over(working)))
}

fn kept_lines(working: &Working, width: u16) -> Vec<Line> {
    let one = |k: &Kept| {
        let ink = if k.value.is_some() {
            Ink::Strong
        } else {
            Ink::Late
        };
        flow(&line(format!("{}: {}", k.name, text(k)), ink), width, 2)
    };
    working.kept.iter().flat_map(one).collect()
}

// The figures and, at once below them, how little they say of the place near the work.
fn figures(working: &Working, width: u16) -> Vec<Line> {
    let mut out = kept_lines(working, width);
    out.extend(flow(&line(ROOM_CAUTION, Ink::Plain), width, 2));
    out
}

// What it was held against, what is unknown, what else is to be said.
fn words(working: &Working, model: &Model, width: u16) -> Vec<Line> {
    let held = working.held().map(|h| {
        let ink = match (h.side, h.calls_for_attention()) {
            (Side::Unknown, _) => Ink::Late,
            (_, true) => Ink::Against,
            _ => Ink::Plain,
        };
        (held_line(h, model.shop.system), ink)
    });
    let unknown = working.unknown.iter();
    let unknown = unknown.map(|u| (format!("unknown: {u}"), Ink::Late));
    let says = working.says.iter().filter(|s| *s != ROOM_CAUTION);
    let says = says.map(|s| (s.clone(), Ink::Plain));
    held.chain(unknown)
        .chain(says)
        .flat_map(|(text, ink)| flow(&line(text, ink), width, 2))
        .collect()
}

/// The vapour in a booth's exhaust.
pub(super) fn exhaust(booth: &Exhaust, model: &Model, width: u16) -> Vec<Line> {
    let mut out = flow(&line(EXHAUST, Ink::Head), width, 2);
    match &booth.vapour {
        Err(why) => out.extend(flow(&line(why.clone(), Ink::Faint), width, 2)),
        Ok(working) => {
            out.extend(figures(working, width));
            out.extend(words(working, model, width));
        }
    }
    out
}

/// The vapour in a room's air: figures, its course over the last day, and what is to be said of it.
pub(super) fn room(
    room: &RoomVapour,
    data: &Data,
    model: &Model,
    (width, rest): (u16, u16),
) -> Vec<Line> {
    let working = &room.working;
    let head = format!(
        "{}: solvent vapour in its air, share of the lower explosive limit",
        shown(&room.name)
    );
    let mut out = flow(&line(head, Ink::Head), width, 2);
    out.extend(figures(working, width));
    let mut tail = words(working, model, width);
    if let Some(exposure) = &room.exposure {
        tail.push(Vec::new());
        let head = "mean of eight hours in its air, by the exposure limits entered";
        tail.extend(flow(&line(head, Ink::Head), width, 2));
        tail.extend(kept_lines(exposure, width));
        tail.extend(words(exposure, model, width));
    }
    let Some((from, _)) = working.course.first() else {
        out.extend(tail);
        return out;
    };
    if !working.unknown.is_empty() {
        let part = "below: the named and logged part alone; the whole is higher";
        out.extend(flow(&line(part, Ink::Late), width, 2));
    }
    // The chart is a small one, and takes no more than the words leave.
    let rows = rest
        .saturating_sub(count(out.len() + tail.len()) + 2)
        .clamp(4, 14);
    let columns = Columns::new(*from, data.at, width.saturating_sub(LABELS).max(4));
    let known: Vec<Stretch> = stretches(&working.course, APART, data.at);
    // A peak that lasts less than a column must not be lost in its mean.
    let highest: Vec<Option<Bucket>> = buckets(&columns, &known)
        .into_iter()
        .map(|b| b.map(|b| Bucket { mean: b.high, ..b }))
        .collect();
    let limits: Vec<i64> = working
        .held()
        .filter(|h| h.measure == SHARE)
        .filter_map(|h| num::whole((h.base? * 1e6).round()))
        .collect();
    // Shares are shown from nothing on; this first value draws no mark.
    let nothing = [Some(Bucket {
        low: 0,
        high: 0,
        mean: 0,
    })];
    let values = highest.iter().flatten().map(|b| b.mean);
    let step = step(values.chain(limits.iter().copied()).max().unwrap_or(1));
    let marks = Marks::of(model.shop.theme);
    out.extend(chart(
        &[
            (&nothing, "", Ink::Plain),
            (&highest, marks.mean, Ink::Strong),
        ],
        (&limits, marks.limit),
        (step, rows, width),
        &percent,
    ));
    out.push(hours(&columns, *from, data.at, model, width));
    out.extend(tail);
    out
}

// The highest power of ten that is not above a value.
fn step(highest: i64) -> i64 {
    let mut step = 1;
    while step <= highest / 10 {
        step *= 10;
    }
    step
}

// The hours below the chart: each stands where it begins, every third where there is room, else every sixth.
fn hours(columns: &Columns, from: Moment, to: Moment, model: &Model, width: u16) -> Line {
    let calendar = &model.shop.calendar;
    let every = if width >= 100 { 3 } else { 6 };
    let mut grid = Grid::new(width, 1);
    let past = calendar.local(from).minute();
    let mut hour = from.plus(Span::minutes(i64::from((60 - past) % 60)));
    while hour <= to {
        let local = calendar.local(hour);
        if local.hour().is_multiple_of(every)
            && let Some(x) = columns.at(hour)
        {
            let text = format!("|{}", local.format("%H:%M"));
            let fits = LABELS + x + cells(&text) <= width;
            grid.put(LABELS + x, 0, if fits { &text } else { "|" }, Ink::Faint);
        }
        hour = hour.plus(Span::hours(1));
    }
    grid.lines().into_iter().next().unwrap_or_default()
}
