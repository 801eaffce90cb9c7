//! Tables that go out: one description of columns, rows and formulas, from which workbook, CSV, JSON and page are made.
//!
//! *Invariants*: a formula is a figure of the ledger beside the way to it; only references and our own numbers stand in
//! a formula, never a text that came from outside. A figure is an integer of the record with a power of ten.
//!
//! *Not here*: which tables there are (`tables`), how they look in a file.

use crate::shop::text::shown;
use crate::units::num;
use serde_json::{Value, json};

/// A figure: an integer and how many of its digits stand behind the point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Figure {
    /// The integer.
    pub raw: i64,
    /// Digits behind the point.
    pub places: u32,
}

impl Figure {
    /// The nearest number of 53 bits, as a spreadsheet holds it.
    pub fn float(self) -> f64 {
        num::float(self.raw) / num::float(10_i64.pow(self.places))
    }

    /// All its digits.
    pub fn text(self) -> String {
        if self.places == 0 {
            return self.raw.to_string();
        }
        let one = 10_u64.pow(self.places);
        let (whole, rest) = (self.raw.unsigned_abs() / one, self.raw.unsigned_abs() % one);
        let sign = if self.raw < 0 { "-" } else { "" };
        let width = usize::try_from(self.places).unwrap_or(0);
        format!("{sign}{whole}.{rest:0width$}")
    }
}

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// Nothing.
    None,
    /// A text, as it is in the record.
    Text(String),
    /// A figure.
    Number(Figure),
    /// A figure of the ledger and the formula that reproduces it from other cells.
    Formula(String, Figure),
}

impl Cell {
    /// A whole number.
    pub const fn int(raw: i64) -> Self {
        Self::Number(Figure { raw, places: 0 })
    }

    /// A text, or nothing.
    pub fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    /// A whole number that a formula reproduces.
    pub const fn made(formula: String, raw: i64) -> Self {
        Self::Formula(formula, Figure { raw, places: 0 })
    }

    /// The figure, where it is one.
    pub const fn figure(&self) -> Option<Figure> {
        match self {
            Self::Number(f) | Self::Formula(_, f) => Some(*f),
            Self::None | Self::Text(_) => None,
        }
    }
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Texts.
    Text,
    /// Whole numbers with their thousands apart.
    Count,
    /// Numbers of entries, lots and lines: no thousands.
    Number,
    /// A month as the number 202603, shown as 2026-03.
    Month,
    /// Figures with decimals.
    Decimal,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Its name for machines; the unit is its ending.
    pub key: String,
    /// Its heading.
    pub title: String,
    /// What it holds.
    pub kind: Kind,
}

/// A column of a fixed name.
pub fn column(key: &str, title: &str, kind: Kind) -> Column {
    Column {
        key: key.to_owned(),
        title: title.to_owned(),
        kind,
    }
}

/// A table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Its name for machines: name of the CSV file.
    pub key: &'static str,
    /// Its name for people: name of the sheet.
    pub title: &'static str,
    /// What is said above it; at most [`SAYS`] lines.
    pub says: Vec<String>,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Vec<Cell>>,
    /// The line below them, where they are summed.
    pub total: Option<Vec<Cell>>,
}

/// Lines that are kept free above a sheet's table for what is said of it.
pub const SAYS: usize = 3;
/// Lines above these: the title, the period, the record's head, who decides.
pub const HEAD: usize = 4;
/// The sheet's line on which the table's first row stands, counted from 1: head, what is said, a blank, the headings.
const FIRST: usize = HEAD + SAYS + 3;

/// Letters of a column, counted from 0.
pub fn letters(column: usize) -> String {
    let mut left = column + 1;
    let mut out = String::new();
    while left > 0 {
        let digit = u32::try_from((left - 1) % 26).unwrap_or(0);
        out.insert(0, char::from_u32(u32::from('A') + digit).unwrap_or('A'));
        left = (left - 1) / 26;
    }
    out
}

/// The sheet's line of a row, counted from 1.
pub const fn line(row: usize) -> usize {
    FIRST + row
}

/// A cell of the same row.
pub fn here(column: usize, row: usize) -> String {
    format!("{}{}", letters(column), line(row))
}

/// A cell of a sheet.
pub fn cell(title: &str, column: usize, row: usize) -> String {
    format!("'{title}'!${}${}", letters(column), line(row))
}

/// All rows of a column of a sheet; a sheet without rows gives its one blank line.
pub fn range(title: &str, column: usize, rows: usize) -> String {
    let c = letters(column);
    format!(
        "'{title}'!${c}${}:${c}${}",
        line(0),
        line(rows.saturating_sub(1))
    )
}

/// A month as a number, so that no spreadsheet takes it for a date.
pub fn month(month: &str) -> Cell {
    month.replace('-', "").parse().map_or(Cell::None, Cell::int)
}

/// A month's number as people read it.
pub fn month_text(raw: i64) -> String {
    format!("{:04}-{:02}", raw / 100, raw % 100)
}

/// A sum over the lines of another sheet: formula with its conditions, each a range and the cell or number it must equal.
pub fn sum_ifs(of: &str, conditions: &[(String, String)]) -> String {
    let list: Vec<String> = conditions
        .iter()
        .map(|(range, equals)| format!("{range},{equals}"))
        .collect();
    format!("=SUMIFS({of},{})", list.join(","))
}

impl Table {
    // The sum of a column of whole numbers.
    fn sum(&self, column: usize) -> Cell {
        let raw = self
            .rows
            .iter()
            .filter_map(|r| r.get(column)?.figure())
            .map(|f| f.raw)
            .sum();
        Cell::made(
            format!("=SUM({})", range(self.title, column, self.rows.len())),
            raw,
        )
    }

    /// Puts a line of sums below the rows; a sum of decimals would not be exact, so those columns hold whole numbers.
    pub fn sum_up(&mut self, columns: &[usize]) {
        if self.rows.is_empty() {
            // Their line is the one that other sheets take for the rows.
            return;
        }
        let total = (0..self.columns.len())
            .map(|c| match c {
                0 => Cell::text("all"),
                c if columns.contains(&c) => self.sum(c),
                _ => Cell::None,
            })
            .collect();
        self.total = Some(total);
    }

    /// A cell as text for machines: every digit, a month as a month.
    pub fn plain(&self, column: usize, cell: &Cell) -> String {
        let month = self
            .columns
            .get(column)
            .is_some_and(|c| c.kind == Kind::Month);
        match (cell, cell.figure()) {
            (_, Some(f)) if month => month_text(f.raw),
            (_, Some(f)) => f.text(),
            (Cell::Text(text), _) => text.clone(),
            _ => String::new(),
        }
    }

    /// As JSON: a list of rows by the columns' names.
    pub fn json(&self) -> Value {
        self.rows
            .iter()
            .map(|row| {
                row.iter()
                    .zip(&self.columns)
                    .map(|(cell, column)| {
                        let value = match (cell, cell.figure()) {
                            (_, Some(f)) if column.kind == Kind::Month => json!(month_text(f.raw)),
                            (_, Some(f)) if f.places == 0 => json!(f.raw),
                            (_, Some(f)) => json!(f.float()),
                            (Cell::Text(text), _) => json!(text),
                            _ => Value::Null,
                        };
                        (column.key.clone(), value)
                    })
                    .collect::<serde_json::Map<_, _>>()
            })
            .map(Value::Object)
            .collect()
    }

    /// As CSV. What a spreadsheet would take for a formula starts with an apostrophe.
    pub fn csv(&self) -> std::io::Result<Vec<u8>> {
        let mut out = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        out.write_record(self.columns.iter().map(|c| c.key.as_str()))?;
        for row in &self.rows {
            out.write_record(row.iter().enumerate().map(|(n, cell)| match cell {
                Cell::Text(text) => crate::shop::text::cell(text),
                figure => self.plain(n, figure),
            }))?;
        }
        out.into_inner()
            .map_err(|e| std::io::Error::other(e.to_string()))
    }
}

/// What every sheet and page says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// The shop.
    pub shop: String,
    /// Whether it is a demo.
    pub demo: bool,
    /// The period, in words.
    pub period: String,
    /// When it was made, in words and in milliseconds UTC.
    pub made: (String, i64),
    /// Newest action and head of the record.
    pub head: (i64, String),
    /// Whether it is signed, in words.
    pub signed: String,
}

impl Head {
    /// What it is of: `Solvent, month 2026-03`.
    pub fn title(&self, title: &str) -> String {
        format!("{title}, {}", shown(&self.period))
    }

    /// The lines above a table, the title first.
    pub fn lines(&self, title: &str) -> [String; HEAD] {
        let demo = if self.demo { "DEMO  " } else { "" };
        [
            format!("{demo}{}", self.title(title)),
            format!(
                "{}; {}; made {}",
                shown(&self.shop),
                shown(&self.signed),
                self.made.0
            ),
            format!("head: action {}, {}", self.head.0, self.head.1),
            crate::shop::cautions::STANDING_LINE.to_owned(),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_have_the_letters_of_a_spreadsheet() {
        for (n, wanted) in [
            (0, "A"),
            (25, "Z"),
            (26, "AA"),
            (51, "AZ"),
            (52, "BA"),
            (701, "ZZ"),
        ] {
            assert_eq!(letters(n), wanted);
        }
        assert_eq!(range("Uses", 1, 0), "'Uses'!$B$10:$B$10");
        assert_eq!(range("Uses", 1, 3), "'Uses'!$B$10:$B$12");
    }

    #[test]
    fn a_figure_has_all_its_digits() {
        for (raw, places, wanted) in [
            (12, 0, "12"),
            (-12, 0, "-12"),
            (1_234_567, 6, "1.234567"),
            (-5, 3, "-0.005"),
        ] {
            let f = Figure { raw, places };
            assert_eq!(f.text(), wanted);
            assert_eq!(f.text().parse(), Ok(f.float()));
        }
    }
}
