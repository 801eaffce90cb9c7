//! A field of cells on which a picture is put before it becomes lines.
//!
//! *Invariants*: what is put outside the field is left out; every cell is one column wide.

use super::text::{Line, cells, run};
use crate::screens::theme::Ink;
use unicode_segmentation::UnicodeSegmentation;

/// The field.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    width: u16,
    cells: Vec<Vec<(String, Ink)>>,
}

impl Grid {
    /// An empty field.
    pub(super) fn new(width: u16, height: u16) -> Self {
        let row = vec![(" ".to_owned(), Ink::Plain); usize::from(width)];
        Self {
            width,
            cells: vec![row; usize::from(height)],
        }
    }

    /// Puts a text at a place; each of its graphemes takes one cell.
    pub(super) fn put(&mut self, x: u16, y: u16, text: &str, ink: Ink) {
        let Some(row) = self.cells.get_mut(usize::from(y)) else {
            return;
        };
        let places = row.iter_mut().skip(usize::from(x));
        for (cell, g) in places.zip(text.graphemes(true)) {
            if cells(g) == 1 {
                *cell = (g.to_owned(), ink);
            }
        }
    }

    /// Puts a text so that it ends before the column `x`.
    pub(super) fn put_before(&mut self, x: u16, y: u16, text: &str, ink: Ink) {
        if let Some(from) = x.checked_sub(cells(text)) {
            self.put(from, y, text, ink);
        }
    }

    /// The cells of a column from one row to another, both included.
    pub(super) fn column(&mut self, x: u16, rows: (u16, u16), text: &str, ink: Ink) {
        for y in rows.0..=rows.1 {
            self.put(x, y, text, ink);
        }
    }

    /// The same cell along a row.
    pub(super) fn row(&mut self, y: u16, columns: std::ops::Range<u16>, text: &str, ink: Ink) {
        for x in columns {
            if x < self.width {
                self.put(x, y, text, ink);
            }
        }
    }

    /// The field as lines of runs, blanks at the end left out.
    pub(super) fn lines(&self) -> Vec<Line> {
        self.cells
            .iter()
            .map(|row| {
                let used = row.iter().rposition(|(t, _)| t != " ").map_or(0, |n| n + 1);
                let mut line: Line = Vec::new();
                for (text, ink) in row.iter().take(used) {
                    match line.last_mut() {
                        Some((last, same)) if same == ink => last.push_str(text),
                        _ => line.push((text.clone(), *ink)),
                    }
                }
                line
            })
            .collect()
    }
}

/// Two lists of lines beside each other; the left one is `wide` columns.
pub(super) fn beside(left: Vec<Line>, right: Vec<Line>, wide: u16) -> Vec<Line> {
    let rows = left.len().max(right.len());
    let (mut left, mut right) = (left.into_iter(), right.into_iter());
    (0..rows)
        .map(|_| {
            let mut all = left.next().unwrap_or_default();
            let more = right.next().unwrap_or_default();
            if !more.is_empty() {
                let used: u16 = all.iter().map(|(t, _)| cells(t)).sum();
                all.push(run(
                    " ".repeat(usize::from(wide.saturating_sub(used))),
                    Ink::Plain,
                ));
                all.extend(more);
            }
            all
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_put_outside_the_field_is_left_out_and_runs_of_one_ink_are_joined() {
        let mut grid = Grid::new(5, 2);
        grid.put(3, 0, "abcd", Ink::Strong);
        grid.put(0, 7, "never", Ink::Plain);
        grid.put_before(2, 1, "12", Ink::Faint);
        let lines = grid.lines();
        assert_eq!(lines[0].last(), Some(&("ab".to_owned(), Ink::Strong)));
        assert_eq!(lines[1], vec![("12".to_owned(), Ink::Faint)]);
    }
}
