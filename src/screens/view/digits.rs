//! Big digits and capitals out of block cells, for eyes at arm's length and across a room.
//!
//! *Invariants*: a dot of a glyph is as wide as it is high on a terminal whose cells are twice as high as wide: at size
//! `n` it takes `n` cells across and `n` half cells down. Without shapes a dot is `#` and only even sizes are drawn, as
//! plain ASCII has no half cells. Nothing is put outside its area.

use super::text::{count, put};
use crate::screens::theme::{Ink, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Dots of every glyph from top to bottom.
const TALL: u16 = 5;

/// The largest size that is tried.
const LARGEST: u16 = 24;

/// Glyphs by rows from the top; `x` is a dot. All rows of a glyph are equally long.
const GLYPHS: &[(char, [&str; 5])] = &[
    ('0', ["xxx", "x x", "x x", "x x", "xxx"]),
    ('1', [" x ", "xx ", " x ", " x ", "xxx"]),
    ('2', ["xxx", "  x", "xxx", "x  ", "xxx"]),
    ('3', ["xxx", "  x", " xx", "  x", "xxx"]),
    ('4', ["x x", "x x", "xxx", "  x", "  x"]),
    ('5', ["xxx", "x  ", "xxx", "  x", "xxx"]),
    ('6', ["xxx", "x  ", "xxx", "x x", "xxx"]),
    ('7', ["xxx", "  x", "  x", " x ", " x "]),
    ('8', ["xxx", "x x", "xxx", "x x", "xxx"]),
    ('9', ["xxx", "x x", "xxx", "  x", "xxx"]),
    ('A', [" x ", "x x", "xxx", "x x", "x x"]),
    ('B', ["xx ", "x x", "xx ", "x x", "xx "]),
    ('C', [" xx", "x  ", "x  ", "x  ", " xx"]),
    ('D', ["xx ", "x x", "x x", "x x", "xx "]),
    ('E', ["xxx", "x  ", "xx ", "x  ", "xxx"]),
    ('F', ["xxx", "x  ", "xx ", "x  ", "x  "]),
    ('G', [" xx", "x  ", "x x", "x x", " xx"]),
    ('H', ["x x", "x x", "xxx", "x x", "x x"]),
    ('I', ["x", "x", "x", "x", "x"]),
    ('J', ["  x", "  x", "  x", "x x", " x "]),
    ('K', ["x x", "x x", "xx ", "x x", "x x"]),
    ('L', ["x  ", "x  ", "x  ", "x  ", "xxx"]),
    ('M', ["x   x", "xx xx", "x x x", "x   x", "x   x"]),
    ('N', ["x  x", "xx x", "x xx", "x  x", "x  x"]),
    ('O', [" xx ", "x  x", "x  x", "x  x", " xx "]),
    ('P', ["xx ", "x x", "xx ", "x  ", "x  "]),
    ('Q', [" xx ", "x  x", "x  x", "x xx", " xxx"]),
    ('R', ["xx ", "x x", "xx ", "x x", "x x"]),
    ('S', [" xx", "x  ", " x ", "  x", "xx "]),
    ('T', ["xxx", " x ", " x ", " x ", " x "]),
    ('U', ["x x", "x x", "x x", "x x", "xxx"]),
    ('V', ["x x", "x x", "x x", "x x", " x "]),
    ('W', ["x   x", "x   x", "x x x", "xx xx", "x   x"]),
    ('X', ["x x", "x x", " x ", "x x", "x x"]),
    ('Y', ["x x", "x x", " x ", " x ", " x "]),
    ('Z', ["xxx", "  x", " x ", "x  ", "xxx"]),
    ('h', ["x  ", "x  ", "xxx", "x x", "x x"]),
    ('d', ["  x", "  x", "xxx", "x x", "xxx"]),
    ('m', ["     ", "     ", "xxxxx", "x x x", "x x x"]),
    ('?', ["xxx", "  x", " xx", "   ", " x "]),
    ('-', ["   ", "   ", "xxx", "   ", "   "]),
    ('~', ["    ", " x x", "x x ", "    ", "    "]),
    ('.', [" ", " ", " ", " ", "x"]),
    (':', [" ", "x", " ", "x", " "]),
    ('/', ["  x", "  x", " x ", "x  ", "x  "]),
    ('+', ["   ", " x ", "xxx", " x ", "   "]),
    (' ', ["  ", "  ", "  ", "  ", "  "]),
];

// A letter that has no small form is drawn as its capital.
fn glyph(c: char) -> Option<&'static [&'static str; 5]> {
    let find = |c: char| GLYPHS.iter().find(|(g, _)| *g == c).map(|(_, rows)| rows);
    find(c).or_else(|| find(c.to_ascii_uppercase()))
}

fn dots(text: &str) -> Option<u16> {
    let mut across = 0_u16;
    for c in text.chars() {
        let [first, ..] = glyph(c)?;
        across = across.saturating_add(count(first.len()) + 1);
    }
    across.checked_sub(1)
}

/// Cells across that a text takes at a size; `None` when a character has no glyph or there is none.
pub(super) fn width(text: &str, size: u16) -> Option<u16> {
    dots(text)?.checked_mul(size)
}

/// Rows that any text takes at a size.
pub(super) const fn height(size: u16) -> u16 {
    (TALL * size).div_ceil(2)
}

/// The largest size at which a text fits a room; `None` when it fits at none.
pub(super) fn largest(text: &str, across: u16, down: u16, theme: Theme) -> Option<u16> {
    let step = if theme.shapes { 1 } else { 2 };
    (step..=LARGEST)
        .step_by(usize::from(step))
        .take_while(|size| width(text, *size).is_some_and(|w| w <= across) && height(*size) <= down)
        .last()
}

/// The rows of a text at a size. Empty when a character has no glyph.
pub(super) fn rows(text: &str, size: u16, theme: Theme) -> Vec<String> {
    let glyphs: Option<Vec<_>> = text.chars().map(glyph).collect();
    let Some(glyphs) = glyphs else {
        return Vec::new();
    };
    let size = usize::from(size.max(1));
    let lines: Vec<String> = (0..usize::from(TALL))
        .map(|y| {
            let parts: Vec<&str> = glyphs.iter().filter_map(|g| g.get(y).copied()).collect();
            parts.join(" ")
        })
        .collect();
    let wide = |line: &str| -> Vec<bool> {
        line.chars()
            .flat_map(|c| std::iter::repeat_n(c == 'x', size))
            .collect()
    };
    // Half rows from the top, the last one blank where they are odd.
    let mut halves: Vec<Vec<bool>> = lines
        .iter()
        .flat_map(|line| std::iter::repeat_n(wide(line), size))
        .collect();
    if halves.len() % 2 == 1 {
        let across = halves.first().map_or(0, Vec::len);
        halves.push(vec![false; across]);
    }
    halves
        .chunks_exact(2)
        .filter_map(|pair| match pair {
            [above, below] => Some(
                above
                    .iter()
                    .zip(below)
                    .map(|(a, b)| theme.block(*a, *b))
                    .collect(),
            ),
            _ => None,
        })
        .collect()
}

/// Puts a text in big letters at a place of an area; gives the cells across that it took.
pub(super) fn put_big(
    buf: &mut Buffer,
    area: Rect,
    (left, top): (u16, u16),
    size: u16,
    (text, ink): (&str, Ink),
    theme: Theme,
) -> u16 {
    let mut across = 0;
    for (n, row) in rows(text, size, theme).iter().enumerate() {
        let room = area.width.saturating_sub(left);
        let used = put(buf, area, left, top + count(n), room, (row, ink), theme);
        across = across.max(used);
    }
    across
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screens::theme::Form;

    const SHAPES: Theme = Theme {
        form: Form::Dark,
        shapes: true,
    };
    const ASCII: Theme = Theme {
        form: Form::Plain,
        shapes: false,
    };

    #[test]
    fn every_glyph_is_a_full_grid() {
        for (c, rows) in GLYPHS {
            let [first, ..] = rows;
            assert!(rows.iter().all(|r| r.len() == first.len()), "{c}");
            assert!(rows.concat().chars().all(|d| d == 'x' || d == ' '), "{c}");
        }
        for c in "0123456789hd?-~ABCDEFGHIJKLMNOPQRSTUVWXYZ".chars() {
            assert!(glyph(c).is_some(), "{c}");
        }
    }

    #[test]
    fn digits_read_with_blocks_and_with_plain_ascii() {
        assert_eq!(
            rows("46", 2, SHAPES),
            [
                "██  ██  ██████",
                "██  ██  ██    ",
                "██████  ██████",
                "    ██  ██  ██",
                "    ██  ██████",
            ]
        );
        assert_eq!(rows("7", 1, SHAPES), ["▀▀█", " ▄▀", " ▀ "]);
        assert_eq!(
            rows("1", 2, ASCII),
            ["  ##  ", "####  ", "  ##  ", "  ##  ", "######"]
        );
        assert!(rows("棚", 2, SHAPES).is_empty());
    }

    #[test]
    fn the_largest_size_is_the_one_that_still_fits() {
        assert_eq!(largest("46", 14, 5, SHAPES), Some(2));
        assert_eq!(largest("46", 13, 5, SHAPES), Some(1));
        assert_eq!(largest("46", 200, 8, SHAPES), Some(3));
        assert_eq!(largest("46", 200, 8, ASCII), Some(2));
        assert_eq!(largest("46", 200, 2, SHAPES), None);
        assert_eq!(largest("棚", 200, 200, SHAPES), None);
        assert_eq!(largest("", 200, 200, SHAPES), None);
    }
}
