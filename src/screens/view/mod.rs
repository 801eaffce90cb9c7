//! Draws the model. Reads only; the same model and moment always give the same cells.
//!
//! *Invariants*: every page reads without colour; every size is drawn, those too small for a page as one line that
//! says so.

mod air;
mod booth;
mod card;
mod digits;
mod empty;
mod facts;
mod first;
mod floor;
mod grid;
mod help;
mod log;
mod marks;
mod output;
mod plan;
mod quality;
mod recipes;
mod shift;
mod solvent;
mod text;
mod vapour;
mod wall;

pub use first::first;
pub(super) use floor::widest;
pub use output::rows as answer_rows;

use super::ask::{Asked, Step};
use super::calls::LATER;
use super::model::{Asking, Figure, MixWork, Model, Note, Page, Spoken, Stage, WordOn};
use super::places::Place;
use super::places::solvent::Deed;
use super::theme::{Ink, Theme};
use super::{keys, mixing};
use crate::units::Moment;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use text::{Line, count, flow, line, line_cells, put_line, put_right, run};

/// The smallest size at which a page is drawn: below it a row no longer holds serial, outlook and time.
pub const SMALLEST: (u16, u16) = (40, 8);

/// Whether nothing can be drawn at this size; it says so then.
fn too_small(area: Rect, theme: Theme, buf: &mut Buffer) -> bool {
    let small = area.width < SMALLEST.0 || area.height < SMALLEST.1;
    if small {
        let text = format!(
            "too small: {}x{}, needs {}x{}",
            area.width, area.height, SMALLEST.0, SMALLEST.1
        );
        put_line(buf, area, 0, &line(text, Ink::Plain), theme);
    }
    small
}

/// Draws everything.
pub fn view(model: &Model, now: Moment, area: Rect, buf: &mut Buffer) {
    let area = area.intersection(buf.area);
    let theme = model.shop.theme;
    if too_small(area, theme, buf) {
        return;
    }
    buf.set_style(area, theme.ground());
    draw_title(model, now, area, buf);
    let body = body(model, area);
    for (top, said) in above(model, area).iter().enumerate() {
        let place = Rect {
            y: area.y.saturating_add(1).saturating_add(count(top)),
            height: 1,
            ..area
        };
        put_line(buf, place, 0, said, theme);
    }
    match base(model) {
        None => draw_place(model, body, buf),
        Some(page) => {
            let lines = page_lines(model, page, body.width);
            let first = first_line(page).min(limit(&lines, body.height));
            for (top, line) in lines
                .iter()
                .skip(first)
                .take(usize::from(body.height))
                .enumerate()
            {
                put_line(buf, body, count(top), line, theme);
            }
            let below = lines.len().saturating_sub(first + usize::from(body.height));
            if first > 0 || below > 0 {
                let text = format!(" {first} lines above, {below} below ");
                let place = Rect {
                    y: body.bottom(),
                    height: 1,
                    ..body
                };
                put_right(buf, place, 0, &line(text, Ink::Faint), theme);
            }
        }
    }
    draw_bottom(model, area, buf);
}

fn draw_place(model: &Model, body: Rect, buf: &mut Buffer) {
    match model.place {
        Place::Floor => floor::draw(model, body, buf),
        Place::Booth => booth::draw(model, body, buf),
        Place::Shift => shift::draw(model, body, buf),
        Place::Solvent => solvent::draw(model, body, buf),
        Place::Air => air::draw(model, body, buf),
        Place::Recipes => recipes::draw(model, body, buf),
        Place::Wall => wall::draw(model, body, buf),
        Place::Quality => quality::draw(model, body, buf),
        Place::Plan => plan::draw(model, body, buf),
    }
}

/// The furthest first line to which the page on top scrolls.
pub fn scroll_limit(model: &Model) -> usize {
    let area = Rect::new(0, 0, model.size.0, model.size.1);
    let body = body(model, area);
    base(model).map_or(0, |page| {
        limit(&page_lines(model, page, body.width), body.height)
    })
}

/// Columns and lines that the page has for what a command answers.
pub fn answer_room(model: &Model) -> (u16, u16) {
    let body = body(model, Rect::new(0, 0, model.size.0, model.size.1));
    (body.width, output::room(body.height))
}

/// The furthest first line to which the working of the air scrolls.
pub fn air_scroll_limit(model: &Model) -> usize {
    let area = Rect::new(0, 0, model.size.0, model.size.1);
    let body = body(model, area);
    air::scroll_limit(model, body.width, body.height)
}

/// The lines at which the sections of the open card begin, in order.
pub fn card_sections(model: &Model) -> Vec<usize> {
    let area = Rect::new(0, 0, model.size.0, model.size.1);
    let width = body(model, area).width;
    match base(model) {
        Some(Page::Card(card)) => card::sections(&card::lines(model, card, width)),
        _ => Vec::new(),
    }
}

fn limit(lines: &[Line], height: u16) -> usize {
    lines.len().saturating_sub(usize::from(height))
}

// What stands above every page: why the clock is not believed, and what holds for the place of the ledger. A small
// screen keeps the half of its lines for the page.
fn above(model: &Model, area: Rect) -> Vec<Line> {
    let Some(data) = model.floor.data.as_ref() else {
        return Vec::new();
    };
    let mut lines: Vec<Line> = Vec::new();
    lines.extend(data.doubted.iter().map(|text| line(text, Ink::Against)));
    for text in &data.place {
        lines.extend(flow(&line(text, Ink::Against), area.width, 2));
    }
    lines.extend(called(model, area.width));
    lines.truncate(usize::from(area.height / 2).max(1) - 1);
    lines
}

// What is called out to whoever stands here: one line, the newest, and how many there are besides.
fn called(model: &Model, width: u16) -> Option<Line> {
    let first = model.calls.first()?;
    let more = match model.calls.len() - 1 {
        0 => String::new(),
        n => format!("  and {n} more"),
    };
    let later = format!(" {} later  ", LATER.words());
    let mut tail = vec![
        run(more, Ink::Faint),
        run("  ", Ink::Plain),
        run("z", Ink::Key),
        run(later, Ink::Plain),
        run("!", Ink::Key),
        run(" marks seen", Ink::Plain),
    ];
    let beside = |tail: &Line| width.saturating_sub(line_cells(tail) + text::cells("alert: "));
    // What is called out goes before the second key, which the help page has.
    if beside(&tail) < text::cells(&first.text) {
        tail.drain(2..4);
    }
    let room = beside(&tail);
    let mut out = line("alert: ", Ink::Against);
    out.push(run(
        text::fit(&first.text, room, model.shop.theme),
        Ink::Strong,
    ));
    out.extend(tail);
    Some(out)
}

// Between the title and the two lines at the bottom; pages leave a line for the message, and those for what stands above.
fn body(model: &Model, area: Rect) -> Rect {
    let top = count(above(model, area).len()).saturating_add(1);
    Rect {
        x: area.x,
        y: area.y.saturating_add(top),
        width: area.width,
        height: area.height.saturating_sub(top + 2),
    }
}

// The page that fills the screen; questions are asked on a line below it.
fn base(model: &Model) -> Option<&Page> {
    model.stack.iter().rev().find(|p| match p {
        Page::Ask(asked) => matches!(asked.step, Step::Shown(_)),
        Page::Card(_) | Page::Log(_) | Page::Help { .. } | Page::Sheet(_) | Page::Output(_) => true,
        Page::Book(form) => matches!(form.deed, Deed::Sign(_)),
        _ => false,
    })
}

fn page_lines(model: &Model, page: &Page, width: u16) -> Vec<Line> {
    match page {
        Page::Card(card) => card::lines(model, card, width),
        Page::Log(log) => log::lines(model, log, width),
        Page::Help { .. } => help::lines(model, width),
        Page::Ask(asked) => agree_lines(asked, width),
        Page::Book(form) => solvent::sign_lines(form, width),
        Page::Sheet(sheet) => recipes::sheet_lines(model, sheet, width),
        Page::Output(output) => output::lines(model, output, width),
        Page::Initials { .. }
        | Page::Word(_)
        | Page::Mixing(_)
        | Page::Undo { .. }
        | Page::Command(_)
        | Page::Go
        | Page::Quit
        | Page::Fate(_) => Vec::new(),
    }
}

const fn first_line(page: &Page) -> usize {
    match page {
        Page::Card(card) => card.scroll,
        Page::Log(log) => log.scroll,
        Page::Help { scroll } => *scroll,
        Page::Ask(asked) => asked.scroll,
        Page::Book(form) => form.scroll,
        Page::Sheet(sheet) => sheet.scroll,
        Page::Output(output) => output.scroll,
        Page::Initials { .. }
        | Page::Word(_)
        | Page::Mixing(_)
        | Page::Undo { .. }
        | Page::Command(_)
        | Page::Go
        | Page::Quit
        | Page::Fate(_) => 0,
    }
}

fn draw_title(model: &Model, now: Moment, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let row = Rect { height: 1, ..area };
    buf.set_style(row, theme.style(Ink::Title));
    let page = match base(model) {
        None => model.place.title(),
        Some(Page::Card(card)) if card.working => "working",
        Some(Page::Card(_)) => "card",
        Some(Page::Log(log)) => match log.stage {
            Stage::Done(_) => "receipt",
            _ => "log",
        },
        Some(Page::Ask(_)) => "to save",
        Some(Page::Book(_)) => "a month to sign",
        Some(Page::Sheet(sheet)) if sheet.against.is_some() => "two revisions",
        Some(Page::Sheet(sheet)) => match sheet.kind {
            super::places::recipes::Kind::Recipe => "recipe",
            super::places::recipes::Kind::Material => "data sheet",
        },
        Some(Page::Output(_)) => "command",
        Some(_) => "help",
    };
    let narrow = area.width < 76;
    let form = if narrow {
        "%a %-d %b %H:%M %Z"
    } else {
        "%a %-d %b %Y %H:%M %Z"
    };
    let time = model.shop.calendar.local(now).format(form).to_string();
    let mut left = Vec::new();
    if model.shop.demo {
        left.push(run(" DEMO ", Ink::Demo));
    }
    left.push(run(format!(" {}", model.shop.name), Ink::Title));
    let mut right = vec![run(format!(" {time} "), Ink::Title)];
    let page = if narrow {
        String::new()
    } else {
        format!("{page}  ")
    };
    let person = model.person.as_deref().unwrap_or("nobody yet");
    let who = format!("  {page}{} {person}", model.shop.station);
    if line_cells(&left) + line_cells(&right) + text::cells(&who) <= area.width {
        left.push(run(who, Ink::Title));
    }
    // The time is never cut: the name gives way.
    let room = area.width.saturating_sub(line_cells(&right));
    if line_cells(&left) > room
        && let Some((name, _)) = left.last_mut()
    {
        let demo = if model.shop.demo { 6 } else { 0 };
        *name = text::fit(name, room.saturating_sub(demo), theme);
    }
    put_line(buf, row, 0, &left, theme);
    if line_cells(&right) > area.width {
        right.clear();
    }
    put_right(buf, row, 0, &right, theme);
}

fn question(model: &Model) -> Option<String> {
    let clock = |at| model.shop.calendar.near(at, model.now);
    Some(match model.stack.last()? {
        Page::Initials { typed, .. } => format!("your initials? {typed}_"),
        Page::Word(spoken) => spoken_question(spoken),
        Page::Mixing(mixing) => {
            let (mix, unit) = (mixing.like.mix, mixing::unit(model));
            let asked = match mixing.work {
                MixWork::Again => format!("another mix {mix}, how many {unit} in all?"),
                MixWork::TopUp => format!("top up mix {mix}, how many {unit} are poured?"),
                MixWork::Close => format!("end of mix {mix}, how many {unit} are left?"),
            };
            format!("{asked} {}_", mixing.typed)
        }
        Page::Book(form) => form.question(&model.shop),
        Page::Undo {
            action,
            built_on: None,
        } => format!(
            "take back action {}: {}{} at {} by {}?",
            action.seq,
            action.deed,
            action
                .shared
                .rack
                .as_ref()
                .map_or_else(String::new, |r| format!(" on rack {r}")),
            clock(action.ended),
            action.person
        ),
        Page::Undo {
            built_on: Some(text),
            ..
        } => text.clone(),
        Page::Ask(asked) => asked.question(),
        Page::Command(prompt) => output::question(prompt, model.size.0),
        Page::Output(output) if output.ran.is_none() => {
            format!("running: {}", output.line)
        }
        Page::Go => "where to?".to_owned(),
        Page::Quit => "a draft is open and not saved: leave the program?".to_owned(),
        Page::Fate(f) => format!("not saved: {} - re-enter?", f.draft.line),
        Page::Log(log) => match &log.stage {
            Stage::Choose | Stage::Confirm if log.figure.is_some() => {
                let (figure, text) = log.figure.as_ref()?;
                let amount;
                let asks = match figure {
                    Figure::Amount => {
                        amount = format!("how many {} in all?", mixing::unit(model));
                        &amount
                    }
                    Figure::Minutes => "ended how many minutes ago?",
                    Figure::Skip => "which hook was not worked on?",
                    Figure::Hooks => "which hooks were worked on? the last, or first-last:",
                    Figure::Flawed => "which hook has the piece with the defect?",
                };
                format!("{asks} {text}_")
            }
            Stage::Minutes(text) => format!("ended how many minutes ago? {text}_"),
            Stage::Same(c) => format!(
                "coat {} was logged {} by {}: the same coat, or another?",
                c.coat,
                clock(c.at),
                c.person
            ),
            Stage::Taken(c) => format!(
                "coat {} already logged {} by {} at {}",
                c.coat,
                clock(c.at),
                c.person,
                c.station
            ),
            Stage::Saving => "saving ...".to_owned(),
            Stage::Choose | Stage::Code | Stage::Confirm | Stage::Done(_) => return None,
        },
        Page::Card(_) | Page::Help { .. } | Page::Sheet(_) | Page::Output(_) => return None,
    })
}

// What the answer would save: the line, what stays as it is, what changes from here on.
fn agree_lines(asked: &Asked, width: u16) -> Vec<Line> {
    let Step::Shown(looked) = &asked.step else {
        return Vec::new();
    };
    let mut out = vec![
        line("to be saved", Ink::Head),
        Vec::new(),
        line(looked.line.clone(), Ink::Strong),
        Vec::new(),
    ];
    out.extend(looked.beside.iter().map(|t| line(t.clone(), Ink::Plain)));
    out.iter().flat_map(|l| text::flow(l, width, 4)).collect()
}

fn spoken_question(spoken: &Spoken) -> String {
    match (spoken.asking, &spoken.on) {
        (Asking::Word, WordOn::Lift { serial }) => {
            format!("lift the hold of {serial}, why? {}_", spoken.word)
        }
        (Asking::Word, WordOn::Answer { entry, text, .. }) => {
            format!("entry {entry}: {text} - your word? {}_", spoken.word)
        }
        (Asking::Initials, _) => format!("whose word? initials: {}_", spoken.initials),
        (Asking::Pin, _) => format!(
            "PIN of {}? {}_",
            spoken.initials,
            "*".repeat(spoken.pin.chars().count())
        ),
    }
}

// What recipes and materials are searched for.
fn finding(model: &Model) -> Option<String> {
    let state = &model.places.recipes;
    let here = model.place == Place::Recipes && model.stack.is_empty();
    let shown = here && model.scan.is_empty() && (state.finding || !state.find.is_empty());
    shown.then(|| {
        let end = if state.finding {
            "_"
        } else {
            "   (Esc drops it)"
        };
        format!("{}{end}", state.find)
    })
}

// Whether the scan line is shown: always where keys begin it, on a card once something is on it.
fn scans(model: &Model) -> bool {
    model.stack.is_empty() || !model.scan.is_empty()
}

fn note(model: &Model) -> Option<Line> {
    model.note.as_ref().map(|n| match n {
        Note::Said(text) => line(text.clone(), Ink::Strong),
        Note::Fault(text) => line(format!("! {text}"), Ink::Against),
    })
}

fn draw_bottom(model: &Model, area: Rect, buf: &mut Buffer) {
    let theme = model.shop.theme;
    let row = area.height.saturating_sub(2);
    let asked = question(model).map(|q| line(text::tail(&q, area.width, theme), Ink::Strong));
    // A long message goes on above its line, where it covers what stands there; cut, it would lose what to do.
    let mut said = note(model).map_or_else(Vec::new, |n| text::flow(&n, area.width, 2));
    said.truncate(3);
    let shown = match (asked, said.pop()) {
        (Some(asked), last) => {
            said.extend(last);
            asked
        }
        (None, Some(last)) => last,
        (None, None) if finding(model).is_some() => {
            let find = finding(model).unwrap_or_default();
            line(format!("find: {find}"), Ink::Strong)
        }
        (None, None) if model.floor.finding => {
            line(format!("find: {}_", model.floor.find), Ink::Strong)
        }
        (None, None) if scans(model) => {
            let mut scan = line(format!("scan: {}_", model.scan), Ink::Strong);
            let place = match (model.place, model.stack.is_empty()) {
                (Place::Floor, true) => floor::place(model),
                (Place::Shift, true) => shift::place(model),
                (Place::Solvent, true) => solvent::place(model),
                _ => String::new(),
            };
            let used = line_cells(&scan) + text::cells(&place);
            if let Some(gap) = area.width.checked_sub(used) {
                scan.push(run(" ".repeat(usize::from(gap)), Ink::Plain));
                scan.push(run(place, Ink::Faint));
            }
            scan
        }
        (None, None) => Vec::new(),
    };
    if !shown.is_empty() {
        for (up, line) in std::iter::once(&shown).chain(said.iter().rev()).enumerate() {
            let top = row.saturating_sub(text::count(up));
            let place = Rect {
                y: area.y + top,
                height: 1,
                ..area
            };
            for cell in place.rows().flat_map(Rect::columns) {
                if let Some(c) = buf.cell_mut(cell.as_position()) {
                    c.reset();
                    c.set_style(theme.ground());
                }
            }
            put_line(buf, area, top, line, theme);
        }
    }
    let [mut own, mut anywhere] = keys::line(model.mode());
    // Undo, help and the way out are what somebody looks for in need: the mode's own keys give way to them.
    let help = loop {
        let help = help_line(own.iter().chain(&anywhere));
        let fits = line_cells(&help) <= area.width;
        if fits || (own.len() <= 1 && anywhere.pop().is_none()) {
            break help;
        }
        if own.len() > 1 {
            own.pop();
        }
    };
    put_line(buf, area, area.height.saturating_sub(1), &help, theme);
}

fn help_line<'a>(keys: impl Iterator<Item = &'a (&'static str, &'static str)>) -> Line {
    let mut out: Line = Vec::new();
    for (key, word) in keys {
        let gap = if out.is_empty() { "" } else { "  " };
        out.push(run(gap, Ink::Plain));
        out.push(run(*key, Ink::Key));
        out.push(run(format!(" {word}"), Ink::Plain));
    }
    out
}
