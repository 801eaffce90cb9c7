//! The booth: what to spray next, minutes left in big digits, and what the air, the cup and the checks say.

use super::digits::{height, largest, put_big};
use super::facts;
use super::text::{Line, cells, count, fit, flow, line, put, put_line, put_mark, put_right, run};
use crate::reports::booth::{
    AirNow, CheckNow, LeftToday, Next, none_fits, offered, pot_left, rules as blush_rules,
};
use crate::reports::cautions::whole;
use crate::screens::model::Model;
use crate::screens::places::booth::{BoothNow, rows};
use crate::screens::theme::Ink;
use crate::shop::cautions::Circumstance;
use crate::shop::recipe::{BoothLimits, Recipe};
use crate::shop::text::shown;
use crate::shop::words::{Outlook, Word};
use crate::units::{Amount, Dimension, Temperature, show, show_as};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    if model.floor.data.is_none() {
        put_line(
            buf,
            area,
            0,
            &line("reading the ledger ...", Ink::Faint),
            theme,
        );
        return;
    }
    let rows = rows(model);
    let mark = model.places.booth.mark.min(rows.len().saturating_sub(1));
    let head = match area.height {
        0..=9 => 0,
        10..=17 => 5,
        h => (h * 2 / 5).clamp(8, 25),
    };
    // Air above and below the digits, where there is room.
    let margin: u16 = match area.height {
        0..=17 => 0,
        18..=29 => 1,
        _ => 2,
    };
    let area = Rect {
        y: area.y.saturating_add(u16::from(margin > 0)),
        height: area.height.saturating_sub(u16::from(margin > 0)),
        ..area
    };
    let marked = rows.get(mark);
    if let Some(next) = marked {
        let place = Rect {
            height: head,
            ..area
        };
        draw_head(model, next, place, buf);
    }
    let mut below: Vec<Line> = room_lines(model, marked)
        .iter()
        .flat_map(|l| flow(l, area.width, 2))
        .collect();
    // The list keeps three rows; what gives way first is what stands last.
    let head = head + margin.saturating_sub(1);
    let most = area.height.saturating_sub(head + 5);
    below.truncate(usize::from(most));
    below.push(line(facts::READY, Ink::Plain));
    let list = Rect {
        y: area.y.saturating_add(head),
        height: area.height.saturating_sub(head + count(below.len())),
        ..area
    };
    draw_list(model, &rows, mark, list, buf);
    // Where the list leaves room for it, what is to be read stands there in full.
    let free = list.height.saturating_sub(count(rows.len()) + 2);
    let said = cautions(model, usize::from(free), list.width);
    let top = list.height.saturating_sub(count(said.len()) + 1);
    for (n, line) in said.iter().enumerate() {
        put_line(buf, list, top + count(n), line, theme);
    }
    let first = area.height.saturating_sub(count(below.len()));
    for (n, line) in below.iter().enumerate() {
        put_line(buf, area, first + count(n), line, theme);
    }
}

/// A wait as the big digits say it, and the unit beside them: `46` min, `3h05`, `2d04h`, `?` where it is not known.
pub(super) fn wait(next: &Next<'_>, model: &Model) -> (String, &'static str) {
    if next.outlook == Outlook::Held {
        return ("-".to_owned(), "held");
    }
    if next.closed.is_some() {
        return ("-".to_owned(), "scuff first");
    }
    let left = facts::left(next.outlook, next.ready_at, model.at());
    match left.as_str() {
        "now" => ("0".to_owned(), "min"),
        "-" => ("?".to_owned(), "unknown"),
        text => match text.strip_suffix(" min") {
            Some(minutes) => (minutes.to_owned(), "min"),
            None => (text.replace(' ', ""), ""),
        },
    }
}

pub(super) fn ink(next: &Next<'_>) -> Ink {
    if next.closed.is_some() {
        return Ink::Late;
    }
    Ink::Outlook(next.outlook)
}

/// The judgement as it stands in a list: a coat that wants a scuff first is never called ready here.
pub(super) fn outlook(next: &Next<'_>, model: &Model) -> String {
    if next.closed.is_some() && next.outlook != Outlook::Held {
        return "scuff first".to_owned();
    }
    format!(
        "{} {}",
        model.shop.theme.shape(next.outlook),
        next.outlook.word()
    )
}

/// From when it may be sprayed, or what stands in the way.
pub(super) fn earliest(next: &Next<'_>, model: &Model) -> String {
    let closed = next.closed_words(model.at(), &model.shop.calendar);
    match (next.outlook, closed) {
        (Outlook::Held, _) => "held".to_owned(),
        (_, Some(closed)) => closed,
        _ => format!("earliest {}", from(next, model)),
    }
}

pub(super) fn from(next: &Next<'_>, model: &Model) -> String {
    if next.closed.is_some() {
        return "-".to_owned();
    }
    facts::moment(
        next.outlook,
        next.ready_at,
        next.provisional,
        model.at(),
        &model.shop.calendar,
    )
}

pub(super) fn pieces(next: &Next<'_>) -> String {
    let n = next.pieces.len();
    let held = next.held.len();
    let s = if n == 1 { "" } else { "s" };
    match held {
        0 => format!("{n} piece{s}"),
        _ => format!("{n} piece{s}, {held} held"),
    }
}

fn today(next: &Next<'_>, model: &Model) -> String {
    match next.left_today(model.at(), &model.shop.calendar) {
        LeftToday::NoCap => "no cap".to_owned(),
        LeftToday::Coats(left, cap) => format!("{left} of {cap}"),
    }
}

fn odd(next: &Next<'_>, model: &Model) -> Vec<String> {
    let none = BTreeMap::new();
    let touched = model
        .places
        .booth
        .data
        .as_ref()
        .map_or(&none, |d| &d.touched);
    next.odd(touched, model.at(), &model.shop.calendar)
}

// The marked row: its wait in big digits, and beside them the rack, the time on the wall, the coat and what is odd.
fn draw_head(model: &Model, next: &Next<'_>, area: Rect, buf: &mut Buffer) {
    if area.height == 0 {
        return;
    }
    let theme = model.shop.theme;
    let (digits, unit) = wait(next, model);
    // A gap below, and room beside it.
    let down = area.height;
    let across = area.width / 2;
    let size = largest(&digits, across, down, theme);
    let used = match size {
        Some(size) => {
            let used = put_big(buf, area, (1, 0), size, (&digits, ink(next)), theme);
            let foot = height(size).saturating_sub(1);
            let wide = cells(unit);
            put(buf, area, used + 2, foot, wide, (unit, ink(next)), theme);
            used + 2 + wide
        }
        None => 0,
    };
    let beside = Rect {
        x: area.x.saturating_add(used + 3),
        width: area.width.saturating_sub(used + 3),
        ..area
    };
    let name = next.name();
    let mut top = 0;
    // The name in big letters takes no more than two fifths of the height.
    let name_size = largest(&name, beside.width, area.height * 2 / 5, theme);
    if let Some(size) = name_size {
        put_big(buf, beside, (0, 0), size, (&name, Ink::Strong), theme);
        top = height(size);
    }
    let mut lines: Vec<Line> = Vec::new();
    let mut coat = vec![
        run(next.coat(), Ink::Strong),
        run(format!("   {}", pieces(next)), Ink::Plain),
    ];
    if top == 0 {
        coat.insert(0, run(format!("{name}   "), Ink::Strong));
    }
    lines.push(if next.closed.is_some() {
        line(earliest(next, model), Ink::Late)
    } else {
        vec![
            run(earliest(next, model), Ink::Strong),
            run(format!("   {}", outlook(next, model)), ink(next)),
        ]
    });
    lines.push(coat);
    lines.push(line(
        match next.left_today(model.at(), &model.shop.calendar) {
            LeftToday::NoCap => "coats today: no cap in the recipe".to_owned(),
            LeftToday::Coats(left, cap) => format!("coats left today: {left} (cap {cap})"),
        },
        Ink::Plain,
    ));
    let mut odd: Vec<Line> = odd(next, model)
        .into_iter()
        // That line stands above already.
        .skip(usize::from(next.closed.is_some()))
        .flat_map(|text| flow(&line(text, Ink::Late), beside.width, 2))
        .collect();
    let room = usize::from(area.height.saturating_sub(top + count(lines.len())));
    if odd.len() > room {
        odd.truncate(room.saturating_sub(1));
        if room > 0 {
            odd.push(line(
                format!("{} more: Enter shows it", theme.cut()),
                Ink::Late,
            ));
        }
    }
    lines.extend(odd);
    for (n, line) in lines.iter().enumerate() {
        if top + count(n) < area.height {
            put_line(buf, beside, top + count(n), line, theme);
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
    Name,
    Coat,
    Pieces,
    Outlook,
    Left,
    From,
    Today,
    Odd,
}

// As they stand on the screen.
const ORDER: [Column; 8] = [
    Column::Name,
    Column::Coat,
    Column::Pieces,
    Column::Outlook,
    Column::Left,
    Column::From,
    Column::Today,
    Column::Odd,
];

// As they get a place, the most wanted first.
const WANTED: [Column; 8] = [
    Column::Name,
    Column::Left,
    Column::From,
    Column::Coat,
    Column::Outlook,
    Column::Pieces,
    Column::Today,
    Column::Odd,
];

impl Column {
    const fn head(self) -> &'static str {
        match self {
            Self::Name => "rack",
            Self::Coat => "coat",
            Self::Pieces => "pieces",
            Self::Outlook => "outlook",
            Self::Left => "left",
            Self::From => "from",
            Self::Today => "today",
            Self::Odd => "watch",
        }
    }

    const fn right(self) -> bool {
        matches!(self, Self::Pieces | Self::Left)
    }

    fn text(self, next: &Next<'_>, model: &Model) -> String {
        match self {
            Self::Name => next.name(),
            Self::Coat => next.coat(),
            Self::Pieces => next.pieces.len().to_string(),
            Self::Outlook => outlook(next, model),
            Self::Left if next.closed.is_some() => "-".to_owned(),
            Self::Left => facts::left(next.outlook, next.ready_at, model.at()),
            Self::From => from(next, model),
            Self::Today => today(next, model),
            Self::Odd => {
                let all = odd(next, model);
                match all.as_slice() {
                    [] => String::new(),
                    [one] => one.clone(),
                    [first, rest @ ..] => format!("+{} {first}", rest.len()),
                }
            }
        }
    }

    fn ink(self, next: &Next<'_>) -> Ink {
        match self {
            Self::Name | Self::From => Ink::Strong,
            Self::Outlook | Self::Left => ink(next),
            Self::Odd => Ink::Late,
            Self::Coat | Self::Pieces | Self::Today => Ink::Plain,
        }
    }
}

fn columns(model: &Model, rows: &[Next<'_>], width: u16) -> Vec<(Column, u16)> {
    let mut chosen: Vec<(Column, u16)> = Vec::new();
    let mut used = 2;
    for column in WANTED {
        let most = if column == Column::Odd { 8 } else { 18 };
        let widest = rows.iter().map(|r| cells(&column.text(r, model))).max();
        let w = widest.unwrap_or(0).max(cells(column.head())).min(most);
        if used + w <= width {
            used += w + 2;
            chosen.push((column, w));
        }
    }
    let spare = (width + 2).saturating_sub(used);
    for (column, w) in &mut chosen {
        if *column == Column::Odd {
            *w += spare;
        }
    }
    chosen.sort_by_key(|(c, _)| ORDER.iter().position(|o| o == c));
    chosen
}

fn draw_list(model: &Model, rows: &[Next<'_>], mark: usize, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    if rows.is_empty() {
        let text = "no piece has a coat next; F3 shows what is next for each";
        put_line(buf, area, 0, &line(text, Ink::Faint), theme);
        return;
    }
    // The marked row stays in the middle, so that it needs no memory of its own.
    let room = usize::from(area.height.saturating_sub(1));
    let last = rows.len().saturating_sub(room);
    let first = mark.saturating_sub(room / 2).min(last);
    let shown: Vec<&Next<'_>> = rows.iter().skip(first).take(room).collect();
    let columns = columns(model, rows, area.width);
    let mut left = 2;
    for (column, w) in &columns {
        let head = column.head();
        let gap = if column.right() {
            w.saturating_sub(cells(head))
        } else {
            0
        };
        put(buf, area, left + gap, 0, w - gap, (head, Ink::Head), theme);
        left += w + 2;
    }
    if rows.len() > room {
        let text = format!(" {} of {}", mark + 1, rows.len());
        put_right(buf, area, 0, &line(text, Ink::Faint), theme);
    }
    for (n, next) in shown.into_iter().enumerate() {
        let top = count(n) + 1;
        if first + n == mark {
            put_mark(buf, area, top, Ink::Strong, theme);
        }
        let mut left = 2;
        for (column, w) in &columns {
            let text = fit(&column.text(next, model), *w, theme);
            let gap = if column.right() {
                w.saturating_sub(cells(&text))
            } else {
                0
            };
            put(
                buf,
                area,
                left + gap,
                top,
                w - gap,
                (&text, column.ink(next)),
                theme,
            );
            left += w + 2;
        }
    }
}

// The cup, the air, the blush rules and the check, in the order in which they keep their place.
fn room_lines(model: &Model, marked: Option<&Next<'_>>) -> Vec<Line> {
    let recipe = marked.and_then(Next::first).map(|s| &s.recipe);
    let data = model.places.booth.data.as_ref();
    let booth = data.and_then(|d| d.at_station(&model.shop.station));
    let mut out = vec![
        blush_line(model, booth, recipe),
        mix_line(model, booth, marked),
    ];
    out.extend(booth.and_then(|b| caution_line(model, b)));
    let known = data.map_or(0, |d| d.booths.len());
    match booth {
        Some(booth) => {
            let mut check = check_line(model, booth);
            if known > 1 {
                check.push(run(format!("   {} more booths: F6", known - 1), Ink::Faint));
            }
            out.push(check);
            out.push(air_line(model, booth, recipe));
        }
        None if data.is_none() => out.push(line("air: asking the ledger ...", Ink::Faint)),
        None => out.push(line(
            "booth: air unknown, check unknown (no survey, limit or check names a booth)",
            Ink::Late,
        )),
    }
    out
}

// The cautions that nobody read today, in full, as many as have room; none where not even the first has.
fn cautions(model: &Model, room: usize, width: u16) -> Vec<Line> {
    let Some(data) = &model.places.booth.data else {
        return Vec::new();
    };
    let Some(booth) = data.at_station(&model.shop.station) else {
        return Vec::new();
    };
    let mut out = vec![line("cautions that nobody read today", Ink::Head)];
    for due in data.unread(&booth.name) {
        let head = format!("{}, {}", due.caution.id, shown(&due.about));
        let because = due.because.as_deref().map(shown);
        let mut said = vec![line(format!("  {head}"), Ink::Late)];
        said.extend(because.map(|b| line(format!("    {b}"), Ink::Against)));
        let words = whole(due.caution, &data.contacts, "    ");
        said.extend(words.into_iter().map(|w| line(w, Ink::Plain)));
        let said: Vec<Line> = said.iter().flat_map(|l| flow(l, width, 6)).collect();
        if out.len() + said.len() > room {
            break;
        }
        out.extend(said);
    }
    if out.len() == 1 { Vec::new() } else { out }
}

// What is due here and was read by nobody today: how many, and what of the record asks for the first.
fn caution_line(model: &Model, booth: &BoothNow) -> Option<Line> {
    let unread = model.places.booth.data.as_ref()?.unread(&booth.name);
    if unread.is_empty() {
        return None;
    }
    let s = if unread.len() == 1 { "" } else { "s" };
    let mut out = vec![run(
        format!("{} caution{s} not read today: r", unread.len()),
        Ink::Late,
    )];
    // How the check stands says the line of the booth below.
    let of_check = [Circumstance::NoCheck, Circumstance::ExhaustUnknown].map(Circumstance::caution);
    let because = unread
        .iter()
        .filter(|d| !of_check.contains(&Some(d.caution)))
        .find_map(|d| d.because.as_deref());
    out.extend(because.map(|b| run(format!("; {}", shown(b)), Ink::Against)));
    Some(out)
}

// The mix that the marked row would be offered, by its number; what else is there is a key away.
fn mix_line(model: &Model, booth: Option<&BoothNow>, marked: Option<&Next<'_>>) -> Line {
    let recipe = marked.and_then(Next::first).map(|s| &s.recipe);
    let mixes = model.floor.data.as_ref().map(|d| d.mixes.as_slice());
    let mixes = mixes.unwrap_or_default();
    let Some(newest) = mixes.first() else {
        return line("mix: none was made", Ink::Late);
    };
    let pieces = marked.map_or(&[][..], Next::asked);
    let Some(mix) = offered(mixes, pieces) else {
        let text = none_fits(mixes, pieces).unwrap_or_default();
        let newest = format!("; the newest is {} {}", newest.mix, newest.name);
        return vec![run(text, Ink::Late), run(newest, Ink::Plain)];
    };
    let age = facts::age(mix.made, model.now);
    let mut out = vec![
        run("mix ", Ink::Faint),
        run(format!("{} {}", mix.mix, mix.name), Ink::Strong),
        run(
            format!(
                ", {age} old, {}",
                facts::volume(mix.volume, model.shop.system)
            ),
            Ink::Plain,
        ),
    ];
    // A pot goes off sooner where it is warm; without a reading the recipe's own temperature stands.
    let warm = booth.and_then(|b| match b.air {
        AirNow::Read(sample) => Some(sample.temperature),
        AirNow::Old(_) | AirNow::None => None,
    });
    let life = recipe
        .and_then(|r| r.reaction.as_ref())
        .map(|r| r.pot_life(warm));
    match pot_left(life, mix.mixed, model.now) {
        None => out.push(run("; pot life: none stated", Ink::Faint)),
        Some(left) if left.0 <= 0 => out.push(run("; pot life is over", Ink::Against)),
        Some(_) => {
            let end = life.map(|l| mix.mixed.plus(l));
            let left = end.map_or(0, |e| e.since(model.now).0 / 60_000);
            out.push(run(
                format!(
                    "; pot life to {} by recipe, {left} min",
                    end.map_or_else(String::new, |e| model.shop.calendar.near(e, model.now))
                ),
                Ink::Strong,
            ));
        }
    }
    out
}

fn air_line(model: &Model, booth: &BoothNow, recipe: Option<&Arc<Recipe>>) -> Line {
    let near = |m| model.shop.calendar.near(m, model.now);
    let name = run(format!("{}: ", booth.name), Ink::Faint);
    match booth.air {
        AirNow::Read(sample) => {
            let unit = show_as(Dimension::Temperature, model.shop.system);
            let humidity = sample.humidity.map_or_else(
                || "humidity unknown".to_owned(),
                |h| format!("RH {}", h.text(1)),
            );
            let [_, spread] = blush_rules(&BoothLimits::default(), booth.air, model.shop.system);
            let degrees = |t: Temperature| show(t.base(), unit, 1);
            let limits = recipe.map(|r| &r.booth);
            let low = limits
                .and_then(|l| l.temperature_low)
                .filter(|low| sample.temperature < *low);
            let high = limits
                .and_then(|l| l.temperature_high)
                .filter(|high| sample.temperature > *high);
            let mut out = vec![
                name,
                run(
                    format!(
                        "{}, {humidity}, spread {}",
                        degrees(sample.temperature),
                        spread.figure
                    ),
                    Ink::Strong,
                ),
            ];
            match (low, high) {
                (Some(low), _) => out.push(run(
                    format!(" ! recipe from {}", degrees(low)),
                    Ink::Against,
                )),
                (_, Some(high)) => out.push(run(
                    format!(" ! recipe up to {}", degrees(high)),
                    Ink::Against,
                )),
                (None, None) => {}
            }
            out.push(run(format!("   read {}", near(sample.at)), Ink::Faint));
            out
        }
        AirNow::Old(at) => vec![
            name,
            run(
                format!("air unknown: the newest reading is of {}", near(at)),
                Ink::Late,
            ),
        ],
        AirNow::None => vec![name, run("air unknown: no reading", Ink::Late)],
    }
}

// Which of the two limits is exceeded: each rule with its figure and its limit, the one that is beyond it named.
fn blush_line(model: &Model, booth: Option<&BoothNow>, recipe: Option<&Arc<Recipe>>) -> Line {
    let none = BoothLimits::default();
    let limits = recipe.map_or(&none, |r| &r.booth);
    let air = booth.map_or(AirNow::None, |b| b.air);
    let [humidity, spread] = blush_rules(limits, air, model.shop.system);
    let mut out = vec![run("blush ", Ink::Faint)];
    if humidity.limit.is_none() && spread.limit.is_none() {
        let text = format!(
            "RH {}, spread {}: no limit entered",
            humidity.figure, spread.figure
        );
        out.push(run(text, Ink::Late));
        return out;
    }
    let mut rules = [("RH", "over", humidity), ("spread", "under", spread)];
    // The limit that is exceeded comes first.
    rules.sort_by_key(|(_, _, s)| s.beyond != Some(true));
    for (n, (name, side, s)) in rules.into_iter().enumerate() {
        if n > 0 {
            out.push(run("; ", Ink::Plain));
        }
        let figure = s.figure;
        out.push(match (s.limit, s.beyond) {
            (Some(limit), Some(true)) => run(
                format!("! {name} limit exceeded: {figure} is {side} {limit}"),
                Ink::Against,
            ),
            (Some(limit), _) => run(format!("{name} {figure}, limit {limit}"), Ink::Plain),
            (None, _) => run(format!("{name} {figure}, no limit entered"), Ink::Late),
        });
    }
    out
}

fn check_line(model: &Model, booth: &BoothNow) -> Line {
    let calendar = &model.shop.calendar;
    let near = |m| calendar.near(m, model.now);
    let (text, ink) = match booth.check {
        CheckNow::Due(from) => (
            format!(
                "check DUE: exhaust unknown since it stopped at {}",
                near(from)
            ),
            Ink::Against,
        ),
        CheckNow::Done(at) if booth.check.is_of_the_day(model.now, calendar) => {
            (format!("checked {}", near(at)), Ink::Plain)
        }
        CheckNow::Done(at) => (
            format!("no check today; last checked {}", near(at)),
            Ink::Late,
        ),
        CheckNow::Unknown => ("check unknown, none recorded".to_owned(), Ink::Late),
    };
    let mut out = vec![run(format!("{}: ", booth.name), Ink::Faint), run(text, ink)];
    // A check with a remark is not simply done: what was seen may be that the fan stands.
    if let (CheckNow::Done(_), Some(remark)) = (booth.check, &booth.remark) {
        out.push(run(
            format!(", with a remark: {}", shown(remark)),
            Ink::Late,
        ));
    }
    out
}
