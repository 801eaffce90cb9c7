//! Texts in cells: measuring, cutting, breaking into lines, putting them into the buffer.
//!
//! *Invariants*: width is what the terminal library counts; a text is cut between graphemes and the cut is marked;
//! nothing is put outside its area; texts from outside are shown through `shop::text::shown`.

use crate::screens::theme::{Ink, Theme};
use crate::shop::text::shown;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

/// A text in one ink.
pub(super) type Run = (String, Ink);

/// One line of runs.
pub(super) type Line = Vec<Run>;

/// A run.
pub(super) fn run(text: impl Into<String>, ink: Ink) -> Run {
    (text.into(), ink)
}

/// A line of one run.
pub(super) fn line(text: impl Into<String>, ink: Ink) -> Line {
    vec![run(text, ink)]
}

/// Cells that a text takes.
pub(super) fn cells(text: &str) -> u16 {
    u16::try_from(text.width()).unwrap_or(u16::MAX)
}

/// Cells that a line takes.
pub(super) fn line_cells(line: &[Run]) -> u16 {
    line.iter()
        .fold(0_u16, |sum, (t, _)| sum.saturating_add(cells(t)))
}

/// A count as cells or rows.
pub(super) fn count(n: usize) -> u16 {
    u16::try_from(n).unwrap_or(u16::MAX)
}

/// A text cut to a width; where it was cut stands a mark.
pub(super) fn fit(text: &str, width: u16, theme: Theme) -> String {
    if cells(text) <= width {
        return text.to_owned();
    }
    let mut out = String::new();
    let mut used = 0;
    for g in text.graphemes(true) {
        let next = used + cells(g);
        if next + 1 > width {
            break;
        }
        out.push_str(g);
        used = next;
    }
    if width > 0 {
        out.push_str(theme.cut());
    }
    out
}

/// Parts beside each other with a gap, going on below where a line is full; the last of `most` lines takes what is left.
pub(super) fn joined(parts: Vec<Line>, width: u16, gap: &'static str, most: usize) -> Vec<Line> {
    let mut lines: Vec<Line> = vec![Vec::new()];
    for part in parts {
        let used = lines.last().map_or(0, |l| line_cells(l));
        if used > 0 && used + cells(gap) + line_cells(&part) > width && lines.len() < most {
            lines.push(Vec::new());
        }
        if let Some(last) = lines.last_mut() {
            if !last.is_empty() {
                last.push(run(gap, Ink::Plain));
            }
            last.extend(part);
        }
    }
    lines
}

/// A question with its answer, cut to a width: what is being typed last always shows, with a mark where the cut is.
pub(super) fn tail(text: &str, width: u16, theme: Theme) -> String {
    if cells(text) <= width || !text.ends_with('_') {
        return text.to_owned();
    }
    let mut kept: Vec<&str> = Vec::new();
    let mut used = 1;
    for g in text.graphemes(true).rev() {
        if used + cells(g) > width {
            break;
        }
        used += cells(g);
        kept.push(g);
    }
    kept.push(theme.cut());
    kept.reverse();
    kept.concat()
}

/// Puts a text at a place of a row; gives the cells that it took.
pub(super) fn put(
    buf: &mut Buffer,
    area: Rect,
    left: u16,
    top: u16,
    width: u16,
    (text, ink): (&str, Ink),
    theme: Theme,
) -> u16 {
    let area = area.intersection(buf.area);
    if top >= area.height || left >= area.width {
        return 0;
    }
    let width = width.min(area.width - left);
    let text = fit(&shown(text), width, theme);
    buf.set_stringn(
        area.x + left,
        area.y + top,
        &text,
        usize::from(width),
        theme.style(ink),
    );
    cells(&text)
}

/// Puts a line of runs at a row.
pub(super) fn put_line(buf: &mut Buffer, area: Rect, top: u16, line: &[Run], theme: Theme) {
    let mut left = 0;
    for (text, ink) in line {
        let room = area.width.saturating_sub(left);
        left += put(buf, area, left, top, room, (text, *ink), theme);
    }
}

/// First line of those that are shown, so that the marked one stays in the middle.
pub(super) fn middle(marked: usize, all: usize, height: u16) -> usize {
    let height = usize::from(height);
    marked
        .saturating_sub(height / 2)
        .min(all.saturating_sub(height))
}

/// Puts the ground of the marked line and the mark on it; words that come later keep their own colours.
pub(super) fn put_mark(buf: &mut Buffer, area: Rect, top: u16, ink: Ink, theme: Theme) {
    let row = Rect {
        y: area.y.saturating_add(top),
        height: 1,
        ..area
    };
    buf.set_style(row.intersection(buf.area), theme.style(Ink::Marked));
    put(buf, area, 0, top, 1, (theme.mark(), ink), theme);
}

/// Puts a line of a list, two columns in, with the mark where it is the marked one.
pub(super) fn put_marked(
    buf: &mut Buffer,
    area: Rect,
    top: u16,
    text: &[(String, Ink)],
    on: bool,
    theme: Theme,
) {
    if on {
        put_mark(buf, area, top, Ink::Marked, theme);
    }
    let mut left = 2;
    for (text, ink) in text {
        let ink = match (on, ink) {
            (true, Ink::Plain) => Ink::Marked,
            (true, ink) => theme.on_mark(*ink),
            (false, ink) => *ink,
        };
        let room = area.width.saturating_sub(left);
        left += put(buf, area, left, top, room, (text, ink), theme);
    }
}

/// Puts a line of runs against the right end of a row.
pub(super) fn put_right(buf: &mut Buffer, area: Rect, top: u16, line: &[Run], theme: Theme) {
    let mut left = area.width.saturating_sub(line_cells(line));
    for (text, ink) in line {
        let room = area.width.saturating_sub(left);
        left += put(buf, area, left, top, room, (text, *ink), theme);
    }
}

/// Breaks a line between words so that it fits a width; further lines are set in.
pub(super) fn flow(line: &[Run], width: u16, indent: u16) -> Vec<Line> {
    let width = width.max(8);
    let indent = indent.min(width / 2);
    let mut lines: Vec<Line> = vec![Vec::new()];
    let mut used = 0;
    for (text, ink) in line {
        for word in text.split_inclusive(' ') {
            let bare = cells(word.trim_end());
            if used > indent && used.saturating_add(bare) > width {
                lines.push(vec![run(" ".repeat(usize::from(indent)), Ink::Plain)]);
                used = indent;
            }
            // A single word that is wider than the page is cut into page widths.
            let mut rest = String::new();
            for g in word.graphemes(true) {
                if used + cells(g) > width && g != " " {
                    push(&mut lines, std::mem::take(&mut rest), *ink);
                    lines.push(vec![run(" ".repeat(usize::from(indent)), Ink::Plain)]);
                    used = indent;
                }
                rest.push_str(g);
                used += cells(g);
            }
            push(&mut lines, rest, *ink);
        }
    }
    // The blank at a break belongs to neither line.
    for line in &mut lines {
        if let Some((last, _)) = line.last_mut() {
            last.truncate(last.trim_end().len());
        }
    }
    lines
}

fn push(lines: &mut [Line], text: String, ink: Ink) {
    let Some(line) = lines.last_mut() else { return };
    match line.last_mut() {
        Some((last, same)) if *same == ink => last.push_str(&text),
        _ => line.push((text, ink)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Theme = Theme {
        form: crate::screens::theme::Form::Plain,
        shapes: true,
    };

    #[test]
    fn a_text_is_cut_between_graphemes_and_marked() {
        assert_eq!(fit("clear 5 of 9", 12, PLAIN), "clear 5 of 9");
        assert_eq!(fit("clear 5 of 9", 8, PLAIN), "clear 5…");
        assert_eq!(fit("棚棚棚", 4, PLAIN), "棚…");
        assert_eq!(fit("abc", 0, PLAIN), "");
    }

    #[test]
    fn the_end_of_what_is_being_typed_always_shows() {
        assert_eq!(tail("why? dent_", 12, PLAIN), "why? dent_");
        assert_eq!(tail("why? dent by the binding_", 12, PLAIN), "…he binding_");
        assert_eq!(tail("take it back?", 5, PLAIN), "take it back?");
        assert_eq!(cells(&tail("why? 棚棚棚棚_", 8, PLAIN)), 8);
    }

    #[test]
    fn a_line_breaks_between_words_and_keeps_its_ink() {
        let lines = flow(
            &[run("one two three ", Ink::Plain), run("four", Ink::Strong)],
            10,
            2,
        );
        let texts: Vec<String> = lines
            .iter()
            .map(|l| l.iter().map(|(t, _)| t.as_str()).collect())
            .collect();
        assert_eq!(texts, ["one two", "  three", "  four"]);
        assert_eq!(lines[2].last().map(|(_, i)| *i), Some(Ink::Strong));
    }
}
