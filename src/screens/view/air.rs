//! The air: each room and booth on a line, and the marked one as a chart or a picture.

use super::grid::{Grid, beside};
use super::marks::Marks;
use super::text::{Line, cells, count, fit, flow, line, put_line, put_right, run};
use super::vapour;
use crate::reports::workings::Working;
use crate::science::worksheet::{Bound, Held, Side};
use crate::screens::chart::{Bucket, Columns, Scale, Stretch, buckets, stretches};
use crate::screens::model::Model;
use crate::screens::places::air::{Data, Exhaust, Reading, RoomAir, Spot};
use crate::screens::theme::{Ink, Theme};
use crate::shop::climate::holds_for;
use crate::shop::text::shown;
use crate::units::{
    Amount, Dimension, Humidity, Moment, Span, Speed, System, Temperature, num, show, show_as,
};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Columns of the labels at the left of a chart.
pub(super) const LABELS: u16 = 8;

/// Columns of one cell of the velocity picture.
const CELL: u16 = 14;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let (fixed, moving) = lines(model, area.width, area.height);
    let height = area.height.saturating_sub(count(fixed.len()));
    let first = model.places.air.scroll.min(limit(&moving, height));
    let shown = moving.iter().skip(first).take(usize::from(height));
    for (top, line) in fixed.iter().chain(shown).enumerate() {
        put_line(buf, area, count(top), line, theme);
    }
    // What is longer than the screen says so.
    let below = moving.len().saturating_sub(first + usize::from(height));
    if first > 0 || below > 0 {
        let keys = if model.places.air.working {
            "Up Down"
        } else {
            "PgUp PgDn"
        };
        let text = format!(" {first} lines above, {below} below: {keys}");
        // The blank line below the list has room for it; a working gives it its last line.
        let top = count(fixed.len())
            .checked_sub(1)
            .unwrap_or(area.height.saturating_sub(1));
        put_right(buf, area, top, &line(text, Ink::Faint), theme);
    }
}

fn limit(lines: &[Line], height: u16) -> usize {
    lines.len().saturating_sub(usize::from(height))
}

/// The furthest first line to which it scrolls.
pub(super) fn scroll_limit(model: &Model, width: u16, height: u16) -> usize {
    let (fixed, moving) = lines(model, width, height);
    limit(&moving, height.saturating_sub(count(fixed.len())))
}

// What stays at the top, and what scrolls below it.
fn lines(model: &Model, width: u16, height: u16) -> (Vec<Line>, Vec<Line>) {
    let Some(data) = &model.places.air.data else {
        return (Vec::new(), vec![line("reading the ledger ...", Ink::Faint)]);
    };
    let Some(spot) = model.places.air.marked() else {
        let text = line(
            "no room is declared and no booth was surveyed: \"hangtime room declare\" and \"hangtime survey\" do that",
            Ink::Faint,
        );
        return (Vec::new(), flow(&text, width, 2));
    };
    if model.places.air.working {
        return (Vec::new(), working(spot, model, width));
    }
    let list = list(data, model, (width, height));
    let rest = height.saturating_sub(count(list.len()));
    let below = match spot {
        Spot::Room(room) => room_lines(room, data, model, (width, rest)),
        Spot::Exhaust(booth) => exhaust_lines(booth, model, width),
        Spot::Vapour(room) => vapour::room(room, data, model, (width, rest)),
    };
    (list, below)
}

pub(super) fn flow_all(lines: &[Line], width: u16) -> Vec<Line> {
    lines.iter().flat_map(|l| flow(l, width, 2)).collect()
}

fn working(spot: &Spot, model: &Model, width: u16) -> Vec<Line> {
    let mut out = Vec::new();
    for shown in spot.workings() {
        match shown {
            Ok(working) => {
                for (i, text) in working.lines(model.shop.system).into_iter().enumerate() {
                    let ink = if i == 0 { Ink::Strong } else { Ink::Plain };
                    out.extend(flow(&line(text, ink), width, 4));
                }
            }
            Err(why) => out.extend(flow(&line(why.clone(), Ink::Faint), width, 2)),
        }
        out.push(Vec::new());
    }
    out
}

// Each room and booth on one line; the mark names the one below.
fn list(data: &Data, model: &Model, (width, height): (u16, u16)) -> Vec<Line> {
    let theme = model.shop.theme;
    let marked = model
        .places
        .air
        .mark
        .min(data.spots.len().saturating_sub(1));
    let widest = data
        .spots
        .iter()
        .map(|s| cells(s.name()))
        .max()
        .unwrap_or(0);
    let name = widest.clamp(8, 20);
    let row = |n: usize, spot: &Spot| {
        let here = n == marked;
        let mark = if here { theme.mark() } else { " " };
        let ink = if here { Ink::Strong } else { Ink::Plain };
        let label = fit(&shown(spot.name()), name, theme);
        let gap = usize::from((name + 2).saturating_sub(cells(&label)));
        let (kind, said, ink_of) = match spot {
            Spot::Room(room) => {
                let (text, ink) = room_line(room, data.at, model);
                ("air      ", text, ink)
            }
            Spot::Exhaust(booth) => {
                let (text, ink) = exhaust_line(booth, model);
                ("exhaust  ", text, ink)
            }
            Spot::Vapour(room) => {
                let (text, ink) = vapour::said(&room.working);
                ("vapour   ", text, ink)
            }
        };
        let used = cells(mark) + 1 + name + 2 + cells(kind);
        let lead = vec![
            run(format!("{mark} "), ink),
            run(format!("{label}{}", " ".repeat(gap)), ink),
            run(kind, Ink::Faint),
        ];
        let room = width.saturating_sub(used);
        // The marked row says all of it, below itself where it must.
        if here && cells(&said) > room {
            let mut whole = lead;
            whole.push(run(said, ink_of));
            return flow(&whole, width, 4);
        }
        let mut one = lead;
        one.push(run(fit(&said, room, theme), ink_of));
        vec![one]
    };
    // Many rooms: only those around the marked one, so that its own picture has room.
    let most = usize::from((height / 3).max(3));
    let first = (marked + 1).saturating_sub(most);
    let mut out: Vec<Line> = data
        .spots
        .iter()
        .enumerate()
        .skip(first)
        .take(most)
        .flat_map(|(n, s)| row(n, s))
        .collect();
    let hidden = data.spots.len().saturating_sub(most);
    out.push(if hidden > 0 {
        let text = format!("  {hidden} more rooms and booths: Up Down");
        line(text, Ink::Faint)
    } else {
        Vec::new()
    });
    out
}

fn apart(mk: i64, system: System) -> String {
    let unit = show_as(Dimension::TemperatureChange, system);
    degrees(&show(num::float(mk) / 1e3, unit, 1))
}

// A difference of two temperatures on this page, where the words tell it from a temperature.
fn degrees(text: &str) -> String {
    text.replace("K diff", "C").replace(" diff", "")
}

fn figures(r: &Reading, system: System) -> String {
    let mut parts = vec![r.temperature.shown(system, 1)];
    match (r.humidity, r.dew, r.spread()) {
        (Some(h), Some(dew), Some(spread)) => {
            parts.push(h.text(0));
            parts.push(format!(
                "dew point {}, {} below air",
                dew.shown(system, 1),
                apart(spread, system)
            ));
        }
        (Some(h), ..) => parts.push(format!("{}  dew point unknown", h.text(0))),
        (None, ..) => parts.push("humidity unknown".to_owned()),
    }
    parts.join("  ")
}

// Since when a logged room is silent: its newest reading is too old to stand for the air.
fn silent(room: &RoomAir, at: Moment) -> Option<Moment> {
    let (every, newest) = (room.every?, room.newest.as_ref()?);
    let since = newest.reading.at;
    (at.since(since) > holds_for(every)).then_some(since)
}

fn room_line(room: &RoomAir, at: Moment, model: &Model) -> (String, Ink) {
    let calendar = &model.shop.calendar;
    match (&room.newest, silent(room, at)) {
        (Some(_), Some(since)) => (
            format!(
                "unknown: silent since {}, {}",
                calendar.near(since, at),
                age(at.since(since))
            ),
            Ink::Late,
        ),
        (Some(newest), None) => (
            format!(
                "{}  {} old",
                figures(&newest.reading, model.shop.system),
                age(at.since(newest.reading.at))
            ),
            Ink::Plain,
        ),
        (None, _) if !room.declared => ("unknown: not declared".to_owned(), Ink::Faint),
        (None, _) if room.every.is_none() => {
            ("unknown: a room without readings".to_owned(), Ink::Faint)
        }
        (None, _) => ("unknown: no reading came yet".to_owned(), Ink::Late),
    }
}

// Air speeds are written in one unit everywhere, as the surveys are.
fn speed(speed: Speed) -> String {
    speed.text(0)
}

// How old something is, in whole minutes, never shown younger than it is.
fn age(span: Span) -> String {
    Span::minutes(span.minutes_up()).words()
}

fn exhaust_line(booth: &Exhaust, model: &Model) -> (String, Ink) {
    let (face, ink) = face_line(booth, model);
    match vapour::newest(booth) {
        Some((said, true)) => (format!("{said}; {face}"), Ink::Against),
        Some((said, false)) => (format!("{said}; {face}"), ink),
        None => (face, ink),
    }
}

fn face_line(booth: &Exhaust, model: &Model) -> (String, Ink) {
    if let Some(stop) = &booth.stopped {
        let from = model.shop.calendar.stamp(stop.from);
        return (format!("unknown since it stopped {from}"), Ink::Against);
    }
    match &booth.survey {
        None => ("unknown: no survey is recorded".to_owned(), Ink::Late),
        Some((survey, held)) => {
            let have = survey.readings.len();
            if have < usize::try_from(survey.wanted).unwrap_or(usize::MAX) {
                let wanted = survey.wanted;
                return (format!("unknown: survey has {have} of {wanted}"), Ink::Late);
            }
            let limit = match &booth.limit {
                None => "no limit entered".to_owned(),
                Some(l) => format!("{} {}", held.side, l.typed),
            };
            (
                format!(
                    "average {}, lowest {}: {limit}, {}",
                    speed(held.average),
                    speed(held.lowest),
                    model.shop.calendar.near(survey.at, model.at())
                ),
                Ink::Plain,
            )
        }
    }
}

fn room_lines(room: &RoomAir, data: &Data, model: &Model, (width, rest): (u16, u16)) -> Vec<Line> {
    let marks = Marks::of(model.shop.theme);
    let calendar = &model.shop.calendar;
    let mut tail = Vec::new();
    if let Some(newest) = &room.newest {
        let every = room
            .every
            .map_or_else(String::new, |e| format!(", every {}", e.words()));
        let silent = silent(room, data.at).map_or_else(String::new, |since| {
            format!("; silent since {}", calendar.stamp(since))
        });
        tail.push(line(
            format!(
                "newest reading {}, {} old, {} (entry {}){every}{silent}",
                calendar.near(newest.reading.at, data.at),
                age(data.at.since(newest.reading.at)),
                shown(&newest.source),
                newest.entry
            ),
            if silent.is_empty() {
                Ink::Plain
            } else {
                Ink::Late
            },
        ));
    }
    tail.extend(blush(&room.working, model.shop.system));
    let tail = flow_all(&tail, width);
    let title = format!(
        "{}: temperature {} and dew point {}; the distance is the spread",
        shown(&room.name),
        marks.mean,
        marks.other
    );
    let mut out = flow(&line(title, Ink::Head), width, 2);
    let hold = room.every.map(holds_for);
    let drawn = hold.filter(|_| !room.readings.is_empty());
    let Some(hold) = drawn else {
        let text = format!("no readings since {}: unknown", calendar.stamp(data.from));
        out.push(line(text, Ink::Faint));
        out.extend(tail);
        return out;
    };
    // The charts take what the words leave; the humidity a third of it.
    let rows = rest
        .saturating_sub(count(out.len() + tail.len()) + 3)
        .clamp(5, 40);
    let low = (rows / 3).clamp(2, 6);
    let columns = Columns::new(data.from, data.at, width.saturating_sub(LABELS).max(4));
    let of = |value: fn(&Reading) -> Option<i64>| -> Vec<Option<Bucket>> {
        let list: Vec<(Moment, i64)> = room
            .readings
            .iter()
            .filter_map(|r| Some((r.at, value(r)?)))
            .collect();
        let known: Vec<Stretch> = stretches(&list, hold, data.at);
        buckets(&columns, &known)
    };
    // The limits of the recipes, in the record's units: hundredths of a percent, thousandths of a kelvin.
    let damp_limits = limits_of(&room.working, Dimension::Fraction, 1e4);
    let spread_limits = limits_of(&room.working, Dimension::TemperatureChange, 1e3);
    let temperature = of(|r| Some(r.temperature.0));
    let dew = of(|r| r.dew.map(|d| d.0));
    let humidity = of(|r| r.humidity.map(|h| h.0));
    let system = model.shop.system;
    // Where there is room, the spread has a chart of its own.
    let own = if rows >= 14 { low } else { 0 };
    out.extend(chart(
        &[
            (&temperature, marks.mean, Ink::Strong),
            (&dew, marks.other, Ink::Plain),
        ],
        (&[], marks.limit),
        (2_000, rows - low - own, width),
        &|v| Temperature(v).shown(system, 0),
    ));
    if own > 0 {
        out.push(line("spread", Ink::Faint));
        let spread = of(Reading::spread);
        out.extend(chart(
            &[(&spread, marks.mean, Ink::Plain)],
            (&spread_limits, marks.limit),
            (1_000, own, width),
            &|v| apart(v, system),
        ));
    }
    out.push(line("relative humidity", Ink::Faint));
    out.extend(chart(
        &[(&humidity, marks.mean, Ink::Plain)],
        (&damp_limits, marks.limit),
        (500, low, width),
        &|v| Humidity(v).text(0),
    ));
    out.push(axis(data, model, width));
    out.extend(tail);
    out
}

// Means over time; a column in which nothing is known is marked on the last row.
pub(super) fn chart(
    lines: &[(&[Option<Bucket>], &str, Ink)],
    limits: (&[i64], &str),
    (step, rows, width): (i64, u16, u16),
    text: &dyn Fn(i64) -> String,
) -> Vec<Line> {
    let (limits, dash) = limits;
    let values = lines
        .iter()
        .flat_map(|(b, ..)| b.iter().flatten())
        .map(|b| b.mean)
        .chain(limits.iter().copied());
    let Some(scale) = Scale::holding(values, step, rows) else {
        return vec![line("no reading: unknown", Ink::Late)];
    };
    let mut grid = Grid::new(width, rows);
    for value in [scale.low(), scale.high()] {
        if let Some(y) = scale.row(value) {
            grid.put_before(LABELS - 1, y, &text(value), Ink::Faint);
        }
    }
    for value in limits {
        if let Some(y) = scale.row(*value) {
            grid.row(y, LABELS..width, dash, Ink::Faint);
            grid.put(0, y, "       ", Ink::Plain);
            grid.put_before(LABELS - 1, y, &text(*value), Ink::Plain);
        }
    }
    for (buckets, mark, ink) in lines {
        for (x, bucket) in buckets.iter().enumerate() {
            let x = LABELS + count(x);
            match bucket.map(|b| scale.row(b.mean)) {
                None => grid.put(x, rows.saturating_sub(1), "?", Ink::Late),
                Some(Some(y)) => grid.put(x, y, mark, *ink),
                Some(None) => {}
            }
        }
    }
    grid.lines()
}

// The days below the charts: each stands where it begins.
fn axis(data: &Data, model: &Model, width: u16) -> Line {
    let calendar = &model.shop.calendar;
    let columns = Columns::new(data.from, data.at, width.saturating_sub(LABELS).max(4));
    let mut grid = Grid::new(width, 1);
    let mut midnight = calendar.local(data.from).date_naive();
    let today = calendar.local(data.at).date_naive();
    while midnight < today {
        let Some(next) = midnight.succ_opt() else {
            break;
        };
        midnight = next;
        if let Some(x) = columns.at(calendar.midnight(midnight)) {
            let text = format!("|{}", midnight.format("%a %-d %b"));
            let fits = LABELS + x + cells(&text) <= width;
            grid.put(LABELS + x, 0, if fits { &text } else { "|" }, Ink::Faint);
        }
    }
    grid.lines().into_iter().next().unwrap_or_default()
}

// The limits that the air is held against in one dimension.
fn limits_of(working: &Result<Working, String>, of: Dimension, factor: f64) -> Vec<i64> {
    let Ok(working) = working else {
        return Vec::new();
    };
    let blush = working
        .parts
        .iter()
        .filter(|p| p.inputs.sheet().id == "blush");
    let held = blush
        .flat_map(|p| &p.answer.held_against)
        .chain(&working.held_against);
    held.filter(|h| h.measure.dimension == of)
        .filter_map(|h| num::whole((h.base? * factor).round()))
        .collect()
}

// Both blush rules with their limits, and which of them is exceeded.
fn blush(working: &Result<Working, String>, system: System) -> Vec<Line> {
    let working = match working {
        Ok(working) => working,
        Err(why) => return vec![line(why.clone(), Ink::Faint)],
    };
    let mut out = Vec::new();
    for part in &working.parts {
        if part.inputs.sheet().id == "blush" {
            let held: Vec<&Held> = part.answer.held_against.iter().collect();
            out.push(rules(&part.title, &held, system));
        }
    }
    if out.is_empty() && !working.held_against.is_empty() {
        let held: Vec<&Held> = working.held_against.iter().collect();
        out.push(rules("both blush rules", &held, system));
    }
    if out.is_empty() {
        out.push(line(
            "both blush rules: no limit entered (no recipe here or adopted states one)",
            Ink::Plain,
        ));
    }
    out
}

fn rules(title: &str, held: &[&Held], system: System) -> Line {
    let mut said = Vec::new();
    let mut over = Vec::new();
    for h in held {
        let Some(limit) = h.base.filter(|_| h.side != Side::NoneEntered) else {
            said.push(format!("{}: no limit entered", h.limit));
            continue;
        };
        let bound = match h.bound {
            Bound::AtMost => "at most",
            Bound::AtLeast => "at least",
        };
        said.push(format!(
            "{} {bound} {}: {}",
            h.limit,
            degrees(&h.measure.text(limit, system)),
            h.side.word()
        ));
        if h.side != Side::Unknown && h.calls_for_attention() {
            over.push(h.limit.clone());
        }
    }
    let unknown = held.iter().any(|h| h.side == Side::Unknown);
    let any = held.iter().any(|h| h.side != Side::NoneEntered);
    let (spoken, ink) = if !over.is_empty() {
        (format!("exceeded: {}", over.join(" and ")), Ink::Against)
    } else if unknown {
        ("unknown which is exceeded".to_owned(), Ink::Late)
    } else if any {
        (
            "neither exceeded by the newest reading".to_owned(),
            Ink::Strong,
        )
    } else {
        ("no limit entered".to_owned(), Ink::Plain)
    };
    vec![
        run(format!("{title}: "), Ink::Plain),
        run(spoken, ink),
        run(format!(" ({})", said.join("; ")), Ink::Plain),
    ]
}

fn exhaust_lines(booth: &Exhaust, model: &Model, width: u16) -> Vec<Line> {
    let mut out = flow(
        &line(format!("{}: face velocity", shown(&booth.name)), Ink::Head),
        width,
        2,
    );
    if let Some(stop) = &booth.stopped {
        let text = format!(
            "the exhaust stopped at {} (entry {}); nothing is known of it until somebody has checked it",
            model.shop.calendar.stamp(stop.from),
            stop.entry
        );
        out.extend(flow(&line(text, Ink::Against), width, 2));
    }
    match &booth.survey {
        None => out.push(line("no survey is recorded: unknown", Ink::Late)),
        Some((survey, held)) => {
            let limit = booth.limit.as_ref().map(|l| Speed(l.value));
            let wanted = usize::try_from(survey.wanted).unwrap_or(0);
            let (drawn, wide) = picture(&survey.readings, wanted, limit, model, width);
            let under = limit.map_or_else(String::new, |l| format!("; below: below {}", speed(l)));
            let legend = line(
                format!(
                    "in the order in which they were written, rows from the top; {} (entry {}); low: the lowest{under}",
                    shown(&survey.instrument),
                    survey.entry
                ),
                Ink::Faint,
            );
            let words = line(held.words.clone(), Ink::Plain);
            // Too little room beside the picture: the words go below it.
            if let Some(rest) = width.checked_sub(wide + 2).filter(|rest| *rest >= 32) {
                out.extend(beside(drawn, flow(&words, rest, 2), wide + 2));
            } else {
                out.extend(drawn);
                out.extend(flow(&words, width, 2));
            }
            out.extend(flow(&legend, width, 2));
        }
    }
    out.push(Vec::new());
    out.extend(vapour::exhaust(booth, model, width));
    out
}

// The least square that holds a count: the picture's columns.
fn side_of(n: usize) -> usize {
    (1..=n).find(|s| s * s >= n).unwrap_or(1)
}

// The readings on their grid: the lowest and those under the limit carry a word. Gives the picture and its width.
fn picture(
    readings: &[Speed],
    wanted: usize,
    limit: Option<Speed>,
    model: &Model,
    width: u16,
) -> (Vec<Line>, u16) {
    let all = wanted.max(readings.len()).clamp(1, 400);
    let across = side_of(all).min(usize::from((width.saturating_sub(1) / CELL).max(1)));
    let down = all.div_ceil(across);
    let frame = Frame::of(model.shop.theme);
    let mut grid = Grid::new(width, count(down * 2 + 1));
    for y in 0..=down {
        for x in 0..across {
            let (left, top) = (count(x) * CELL, count(y) * 2);
            grid.row(top, left..left + CELL, frame.across, Ink::Faint);
        }
        for x in 0..=across {
            let (left, top) = (count(x) * CELL, count(y) * 2);
            grid.put(left, top, frame.corner((x, across), (y, down)), Ink::Faint);
            if y < down {
                grid.put(left, top + 1, frame.down, Ink::Faint);
            }
        }
    }
    let lowest = readings.iter().min();
    for n in 0..all {
        let (x, y) = (count(n % across) * CELL, count(n / across) * 2 + 1);
        match readings.get(n) {
            None => grid.put(x + 2, y, "not taken", Ink::Late),
            Some(r) => {
                let text = speed(*r);
                let (word, ink) = if Some(r) == lowest {
                    ("low", Ink::Strong)
                } else {
                    ("", Ink::Plain)
                };
                let under = limit.is_some_and(|l| *r < l);
                grid.put(x + 1, y, &text, ink);
                let word = if word.is_empty() && under {
                    "below"
                } else {
                    word
                };
                grid.put_before(x + CELL, y, word, ink);
            }
        }
    }
    (grid.lines(), count(across) * CELL + 1)
}

// The lines around the cells of the picture.
struct Frame {
    across: &'static str,
    down: &'static str,
    corners: [[&'static str; 3]; 3],
}

impl Frame {
    const fn of(theme: Theme) -> Self {
        if theme.shapes {
            Self {
                across: "─",
                down: "│",
                corners: [["┌", "┬", "┐"], ["├", "┼", "┤"], ["└", "┴", "┘"]],
            }
        } else {
            Self {
                across: "-",
                down: "|",
                corners: [["+"; 3]; 3],
            }
        }
    }

    fn corner(&self, (x, across): (usize, usize), (y, down): (usize, usize)) -> &'static str {
        let place = |n: usize, last: usize| match n {
            0 => 0,
            n if n == last => 2,
            _ => 1,
        };
        self.corners
            .get(place(y, down))
            .and_then(|row| row.get(place(x, across)))
            .copied()
            .unwrap_or(" ")
    }
}
