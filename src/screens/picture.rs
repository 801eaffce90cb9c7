//! A picture of a page: the cells that a terminal would show, as SVG.
//!
//! The same `update`, store and `view` as on a terminal; keys and scans are given as words.
//!
//! *Invariants*: a picture saves nothing, keeps no draft and changes no ledger; the same ledger, moment, size and keys always
//! give the same bytes.

use super::driver::facts_of;
use super::keys::Key;
use super::model::Model;
use super::msg::{Effect, Msg};
use super::store::Store;
use super::theme::{Form, Theme};
use super::update::{reload, update};
use super::view::view;
use crate::clock::Clock;
use crate::ledger::Ledger;
use crate::units::System;
use ratatui::buffer::{Buffer, Cell};
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier};
use std::collections::VecDeque;
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// What is drawn.
#[derive(Debug, Clone)]
pub struct Wanted {
    /// Columns and rows.
    pub size: (u16, u16),
    /// The form of the theme.
    pub form: Form,
    /// This terminal.
    pub station: String,
    /// Who is at it.
    pub person: Option<String>,
    /// Units.
    pub system: System,
    /// Keys by name (`F2`, `Enter`, `c`); a word of more letters that is no key is a scan.
    pub presses: Vec<String>,
}

/// A key by its name.
fn key(name: &str) -> Option<Key> {
    let mut chars = name.chars();
    if let (Some(c), None) = (chars.next(), chars.next()) {
        return Some(Key::Char(c));
    }
    Some(match name {
        "Enter" => Key::Enter,
        "Esc" => Key::Esc,
        "Tab" => Key::Tab,
        "Up" => Key::Up,
        "Down" => Key::Down,
        "PgUp" => Key::PageUp,
        "PgDn" => Key::PageDown,
        "Home" => Key::Home,
        "End" => Key::End,
        other => Key::F(other.strip_prefix('F')?.parse().ok()?),
    })
}

/// The page that a terminal of this size would show after these keys, as SVG.
pub fn picture(ledger: Ledger, clock: Clock, wanted: &Wanted) -> String {
    let theme = Theme {
        form: wanted.form,
        shapes: true,
    };
    let shop = facts_of(&ledger, &wanted.station, wanted.system, theme);
    let now = clock.now();
    let mut store = Store::new(ledger, clock, &wanted.station);
    let mut model = Model::new(shop, wanted.person.clone(), now);
    let size = update(&mut model, Msg::Size(wanted.size.0, wanted.size.1));
    look(&mut model, &mut store, size);
    let first = reload(&mut model);
    look(&mut model, &mut store, first);
    for press in &wanted.presses {
        let msg = key(press).map_or_else(|| Msg::Burst(press.clone()), Msg::Key);
        let effects = update(&mut model, msg);
        look(&mut model, &mut store, effects);
    }
    let area = Rect::new(0, 0, wanted.size.0, wanted.size.1);
    let mut buffer = Buffer::empty(area);
    view(&model, now, area, &mut buffer);
    svg(&buffer, wanted.form)
}

// Plays the questions to their end, and nothing that would write.
fn look(model: &mut Model, store: &mut Store, effects: Vec<Effect>) {
    let mut queue: VecDeque<Effect> = effects.into();
    while let Some(effect) = queue.pop_front() {
        if let Some(msg) = store.only_look(effect) {
            queue.extend(update(model, msg));
        }
    }
}

// Pixels of a cell. Twice as high as wide: what most terminals show.
const WIDE: u32 = 9;
const HIGH: u32 = 18;
// At this size the advance of a letter, 0.602 of it in the fonts named, is a cell's width: a reader that heeds no
// `textLength` keeps the columns, too.
const SIZE: &str = "14.95";
const BASELINE: u32 = 14;

// The ground and the text of a terminal, where the theme leaves them to it.
const fn grounds(form: Form) -> (&'static str, &'static str) {
    match form {
        Form::Light => ("#ffffff", "#1a1a1a"),
        Form::Dark | Form::Contrast | Form::Plain => ("#101418", "#d8dee9"),
    }
}

// The fixed part of the 256 colours: a cube of six steps a side from 16 on, then 24 greys.
fn hex(color: Color, plain: &str) -> String {
    let Color::Indexed(n @ 16..) = color else {
        return plain.to_owned();
    };
    let step = |n: u8| if n == 0 { 0 } else { 55 + 40 * u32::from(n) };
    let (r, g, b) = if let Some(shade) = n.checked_sub(232) {
        let grey = 8 + 10 * u32::from(shade);
        (grey, grey, grey)
    } else {
        let n = n - 16;
        (step(n / 36), step(n / 6 % 6), step(n % 6))
    };
    format!("#{r:02x}{g:02x}{b:02x}")
}

// Which part of its cell a block element fills, in eighths: left, top, width, height.
fn block(symbol: &str) -> Option<(u32, u32, u32, u32)> {
    Some(match symbol {
        "█" => (0, 0, 8, 8),
        "▀" => (0, 0, 8, 4),
        "▄" => (0, 4, 8, 4),
        "▌" => (0, 0, 4, 8),
        "▐" => (4, 0, 4, 8),
        "▆" => (0, 2, 8, 6),
        "▁" => (0, 7, 8, 1),
        "▂" => (0, 6, 8, 2),
        "▃" => (0, 5, 8, 3),
        "▅" => (0, 3, 8, 5),
        "▇" => (0, 1, 8, 7),
        _ => return None,
    })
}

fn svg(buffer: &Buffer, form: Form) -> String {
    let (ground, ink) = grounds(form);
    let area = buffer.area;
    let (width, height) = (u32::from(area.width) * WIDE, u32::from(area.height) * HIGH);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"DejaVu Sans Mono, Menlo, Consolas, monospace\" font-size=\"{SIZE}\" xml:space=\"preserve\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"{ground}\"/>\n"
    );
    for y in 0..area.height {
        let mut x = 0;
        while x < area.width {
            let Some(first) = buffer.cell((x, y)) else {
                break;
            };
            let from = x;
            let mut text = String::new();
            while let Some(cell) = buffer.cell((x, y)).filter(|c| same(c, first)) {
                text.push_str(cell.symbol());
                x += 1;
                // Blocks that go from edge to edge are one: two that touch would show a seam where a page is scaled.
                if block(first.symbol()).is_some_and(|(_, _, wide, _)| wide < 8) {
                    break;
                }
            }
            put(&mut out, first, (from, y, x - from), &text, (ground, ink));
        }
    }
    out.push_str("</svg>\n");
    out
}

fn same(cell: &Cell, first: &Cell) -> bool {
    let style = (cell.fg, cell.bg, cell.modifier) == (first.fg, first.bg, first.modifier);
    style && block(cell.symbol()) == block(first.symbol())
}

fn put(
    out: &mut String,
    cell: &Cell,
    (x, y, cells): (u16, u16, u16),
    text: &str,
    (ground, ink): (&str, &str),
) {
    let (left, top) = (u32::from(x) * WIDE, u32::from(y) * HIGH);
    let width = u32::from(cells) * WIDE;
    let back = hex(cell.bg, ground);
    if back != ground {
        let _ = writeln!(
            out,
            "<rect x=\"{left}\" y=\"{top}\" width=\"{width}\" height=\"{HIGH}\" fill=\"{back}\"/>"
        );
    }
    let fill = hex(cell.fg, ink);
    let dim = if cell.modifier.contains(Modifier::DIM) {
        " opacity=\"0.7\""
    } else {
        ""
    };
    if let Some((bx, by, bw, bh)) = block(cell.symbol()) {
        let _ = writeln!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\"{dim}/>",
            left + WIDE * bx / 8,
            top + HIGH * by / 8,
            width * bw / 8,
            HIGH * bh / 8
        );
        return;
    }
    if text.trim().is_empty() {
        return;
    }
    let bold = if cell.modifier.contains(Modifier::BOLD) {
        " font-weight=\"700\""
    } else {
        ""
    };
    let line = match (
        cell.modifier.contains(Modifier::UNDERLINED),
        cell.modifier.contains(Modifier::CROSSED_OUT),
    ) {
        (true, _) => " text-decoration=\"underline\"",
        (_, true) => " text-decoration=\"line-through\"",
        _ => "",
    };
    // What is underlined is one piece with its blanks.
    let words = if line.is_empty() {
        columns(text)
    } else {
        vec![(0, text)]
    };
    for (column, word) in words {
        let width = WIDE * columns_of(word);
        let _ = writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" textLength=\"{width}\" lengthAdjust=\"spacingAndGlyphs\" fill=\"{fill}\"{bold}{line}{dim}>{}</text>",
            left + WIDE * column,
            top + BASELINE,
            crate::reports::tags::xml(word)
        );
    }
}

fn columns_of(text: &str) -> u32 {
    u32::try_from(text.width()).unwrap_or(u32::MAX)
}

// What stands in a run, parted where two blanks or more are, each with its column: so that a letter that a font draws
// wider moves nothing but its own neighbours.
fn columns(text: &str) -> Vec<(u32, &str)> {
    let mut at = 0;
    let mut found = Vec::new();
    for part in text.split("  ") {
        let inner = part.trim_start();
        let lead = columns_of(part) - columns_of(inner);
        if !inner.trim_end().is_empty() {
            found.push((at + lead, inner.trim_end()));
        }
        at += columns_of(part) + 2;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_are_those_of_the_fixed_palette() {
        let of = |n| hex(Color::Indexed(n), "none");
        assert_eq!(of(16), "#000000");
        assert_eq!(of(231), "#ffffff");
        assert_eq!(of(24), "#005f87");
        assert_eq!(of(238), "#444444");
        assert_eq!(hex(Color::Reset, "none"), "none");
    }

    #[test]
    fn words_that_stand_apart_keep_their_columns() {
        assert_eq!(
            columns(" a b   c    \u{25cf} d "),
            [(1, "a b"), (7, "c"), (12, "\u{25cf} d")]
        );
        assert_eq!(columns("     "), []);
    }

    #[test]
    fn a_word_of_more_letters_that_is_no_key_is_a_scan() {
        assert_eq!(key("c"), Some(Key::Char('c')));
        assert_eq!(key("F2"), Some(Key::F(2)));
        assert_eq!(key("Enter"), Some(Key::Enter));
        assert_eq!(key("R12"), None);
        assert_eq!(key("Fan"), None);
    }
}
