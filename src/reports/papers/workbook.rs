//! A paper as a workbook (Office Open XML, ECMA-376): a sheet for each table, live formulas with the ledger's figures as
//! their kept values.
//!
//! *Invariants*: text is written as text and never as a formula, with no character in it that steers. The same paper
//! gives the same bytes.
//!
//! *Not here*: what stands in the tables and formulas (`tables`).

use super::Papers;
use super::table::{Cell, Kind, SAYS, Table, line};
use crate::reports::tags::Paper;
use crate::shop::text::shown;
use crate::units::num::count;
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Formula, Workbook, Worksheet,
    XlsxError,
};

/// Characters that one cell of a workbook holds.
const CELL: usize = 32_767;
/// Height of a line in points.
const LINE: f64 = 15.0;
/// Rows that one sheet holds.
const ROWS: usize = 1_048_576;

struct Formats {
    title: Format,
    head: Format,
    columns: Format,
    figures: Format,
    text: Format,
    quoted: Format,
    count: Format,
    number: Format,
    decimal: Format,
    month: Format,
    total_count: Format,
    total_decimal: Format,
    total_text: Format,
}

impl Formats {
    fn new() -> Self {
        let top = Format::new().set_align(FormatAlign::Top);
        // Some way from the figure that stands before it.
        let text = top
            .clone()
            .set_align(FormatAlign::Left)
            .set_text_wrap()
            .set_indent(1);
        let total = Format::new().set_bold().set_border_top(FormatBorder::Thin);
        let columns = Format::new()
            .set_bold()
            .set_text_wrap()
            .set_align(FormatAlign::Bottom)
            .set_border_bottom(FormatBorder::Thin);
        Self {
            title: Format::new().set_bold().set_font_size(14),
            head: Format::new(),
            figures: columns.clone().set_align(FormatAlign::Right),
            columns: columns.clone().set_align(FormatAlign::Left).set_indent(1),
            quoted: text.clone().set_quote_prefix(),
            count: top.clone().set_num_format("#,##0"),
            number: top.clone().set_num_format("0").set_align(FormatAlign::Left),
            decimal: top.clone().set_num_format("#,##0.000000"),
            month: top
                .clone()
                .set_num_format("0000\\-00")
                .set_align(FormatAlign::Left)
                .set_indent(1),
            total_count: total.clone().set_num_format("#,##0"),
            total_decimal: total.clone().set_num_format("#,##0.000000"),
            total_text: total.set_align(FormatAlign::Left).set_indent(1),
            text,
        }
    }

    const fn of(&self, kind: Kind, total: bool) -> &Format {
        match (kind, total) {
            (Kind::Count | Kind::Number, true) => &self.total_count,
            (Kind::Decimal, true) => &self.total_decimal,
            (Kind::Text | Kind::Month, true) => &self.total_text,
            (Kind::Count, false) => &self.count,
            (Kind::Number, false) => &self.number,
            (Kind::Decimal, false) => &self.decimal,
            (Kind::Month, false) => &self.month,
            (Kind::Text, false) => &self.text,
        }
    }
}

/// The workbook's bytes.
///
/// # Errors
///
/// A table is longer than a sheet can be; the words name it.
pub fn workbook(papers: &Papers, paper: Paper) -> Result<Vec<u8>, String> {
    for table in &papers.tables {
        if line(table.rows.len()) >= ROWS {
            return Err(format!(
                "\"{}\" has {} lines, more than a sheet of a workbook holds; write the months one by one, or --csv",
                table.title,
                table.rows.len()
            ));
        }
    }
    write(papers, paper).map_err(|e| format!("the workbook cannot be made: {e}"))
}

fn write(papers: &Papers, paper: Paper) -> Result<Vec<u8>, XlsxError> {
    let formats = Formats::new();
    let mut book = Workbook::new();
    let made = ExcelDateTime::from_timestamp(papers.head.made.1.div_euclid(1_000))?;
    book.set_properties(
        &DocProperties::new()
            .set_title(held_text(&papers.head.title("Solvent")))
            .set_creation_datetime(&made),
    );
    for table in &papers.tables {
        let sheet = book.add_worksheet();
        sheet.set_name(table.title)?;
        fill(sheet, table, papers, &formats)?;
        sheet.set_landscape();
        // The file format's numbers of the two papers: 9 and 1.
        sheet.set_paper_size(match paper {
            Paper::A4 => 9,
            Paper::Letter => 1,
        });
        sheet.set_print_fit_to_pages(1, 0);
        sheet.set_footer("&L&A&RPage &P of &N");
    }
    book.save_to_buffer()
}

fn fill(
    sheet: &mut Worksheet,
    table: &Table,
    papers: &Papers,
    formats: &Formats,
) -> Result<(), XlsxError> {
    for (n, said) in papers.head.lines(table.title).iter().enumerate() {
        let format = if n == 0 {
            &formats.title
        } else {
            &formats.head
        };
        sheet.write_string_with_format(row(n), 0, held_text(said), format)?;
    }
    for (n, said) in table.says.iter().take(SAYS).enumerate() {
        let at = row(super::table::HEAD + n);
        sheet.write_string_with_format(at, 0, held_text(said), &formats.head)?;
    }
    // Lines are counted from 1 in a reference and from 0 here.
    let headings = row(line(0).saturating_sub(2));
    for (n, column) in table.columns.iter().enumerate() {
        sheet.write_string_with_format(
            headings,
            col(n),
            held_text(&column.title),
            match column.kind {
                Kind::Count | Kind::Decimal => &formats.figures,
                Kind::Text | Kind::Number | Kind::Month => &formats.columns,
            },
        )?;
        sheet.set_column_width(col(n), count(wide(table, n)))?;
    }
    // Programs differ in whether they make room for a text that is broken; so the room is made here.
    sheet.set_row_height(headings, LINE * 3.0)?;
    let below = table.total.iter().map(|t| (t, true));
    let rows = table.rows.iter().map(|r| (r, false)).chain(below);
    let wides: Vec<usize> = (0..table.columns.len()).map(|n| wide(table, n)).collect();
    for (at, (cells, total)) in rows.enumerate() {
        let lines = cells
            .iter()
            .zip(&wides)
            .map(|(cell, wide)| match cell {
                Cell::Text(text) => text.chars().count().div_ceil(wide.saturating_sub(3).max(1)),
                _ => 1,
            })
            .max()
            .unwrap_or(1);
        if lines > 1 {
            let line_at = row(line(at).saturating_sub(1));
            sheet.set_row_height(line_at, LINE * count(lines.min(25)))?;
        }
        for (n, (cell, column)) in cells.iter().zip(&table.columns).enumerate() {
            let (at, n) = (row(line(at).saturating_sub(1)), col(n));
            let format = formats.of(column.kind, total);
            match cell {
                Cell::None => {}
                Cell::Text(text) => {
                    let text = held_text(text);
                    let guarded = crate::shop::text::cell(&text) != text;
                    let format = if guarded && !total {
                        &formats.quoted
                    } else {
                        &formats.text
                    };
                    let format = if total { &formats.total_text } else { format };
                    sheet.write_string_with_format(at, n, text, format)?;
                }
                Cell::Number(f) => {
                    sheet.write_number_with_format(at, n, f.float(), format)?;
                }
                Cell::Formula(formula, f) => {
                    let formula = Formula::new(formula).set_result(f.text());
                    sheet.write_formula_with_format(at, n, formula, format)?;
                }
            }
        }
    }
    sheet.set_freeze_panes(headings + 1, 0)?;
    sheet.set_repeat_rows(headings, headings)?;
    Ok(())
}

// Text as a cell holds it.
fn held_text(text: &str) -> String {
    shown(text).chars().take(CELL).collect()
}

fn row(at: usize) -> u32 {
    u32::try_from(at).unwrap_or(u32::MAX)
}

fn col(at: usize) -> u16 {
    u16::try_from(at).unwrap_or(u16::MAX)
}

// Wide enough for the longest text among the first rows, within reason; in characters.
fn wide(table: &Table, column: usize) -> usize {
    let longest = table
        .rows
        .iter()
        .take(500)
        .chain(&table.total)
        .filter_map(|r| r.get(column))
        .map(|c| match c.figure() {
            // Thousands are parted.
            Some(f) => f.text().len() * 4 / 3 + 1,
            None => table.plain(column, c).chars().count(),
        })
        .max()
        .unwrap_or(0);
    let heading = table
        .columns
        .get(column)
        .and_then(|c| c.title.split_whitespace().map(str::len).max())
        .unwrap_or(0);
    // A table of two columns is read as text.
    let most = if table.columns.len() == 2 { 110 } else { 50 };
    longest.max(heading).clamp(6, most) + 3
}
