//! What leaves the house for a person who audits: a month or a year as workbook, CSV, JSON and page.
//!
//! All of them are made from the same [`Table`]s, so that they cannot say different things; a further column or sheet
//! is added in `tables`, and is then in each of them.
//!
//! *Invariants*: the figures are the ledger's, read from one state of the record; a formula stands beside a figure and
//! never in its place. What is unknown is said to be unknown.
//!
//! *Not here*: signing (`reports::months`), the record itself (`ledger::export`).

pub mod inspection;
pub mod page;
pub mod table;
mod tables;
pub mod workbook;

pub use table::{Head, Table};

use super::book::{self, Book, Figure};
use crate::ledger::{CeilingRow, Ledger, LedgerError, MonthNow, MonthSums, Months, shifted};
use crate::units::Moment;
use serde_json::{Value, json};

/// More lines than this a sheet of uses does not get: the file format ends at 1,048,576, and a workbook of 150,000 took
/// 0.95 GB to make when it was measured. A longer list is put together by day.
pub const MOST_ROWS: usize = 100_000;

/// The period of a paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Period {
    /// A month, as `2026-03`.
    Month(String),
    /// A calendar year, as `2026`.
    Year(String),
}

impl Period {
    /// As it is written.
    pub fn name(&self) -> &str {
        match self {
            Self::Month(name) | Self::Year(name) => name,
        }
    }

    /// The last month of it.
    fn last(&self) -> String {
        match self {
            Self::Month(month) => month.clone(),
            Self::Year(year) => format!("{year}-12"),
        }
    }

    /// The months whose uses are told one by one: of a year those that have begun.
    fn months(&self, present: &str) -> Result<Months, LedgerError> {
        match self {
            Self::Month(month) => Months::one(month),
            Self::Year(year) => {
                let last = self.last();
                let last = if present < last.as_str() {
                    present
                } else {
                    &last
                };
                Months::between(&format!("{year}-01"), last)
            }
        }
    }
}

/// A line of the summary: a figure of the book, and of which months.
#[derive(Debug, Clone)]
pub struct Held {
    /// The months that it sums.
    pub months: Vec<String>,
    /// Whether they are the twelve to the end of the period.
    pub rolling: bool,
    /// The figure with its limit.
    pub figure: Figure,
}

/// A month in the list of months.
#[derive(Debug, Clone)]
pub struct MonthLine {
    /// Its sums as they follow from the log.
    pub sums: MonthSums,
    /// Whether it lies before the record: then nothing is known of it beside what was logged later.
    pub before: bool,
    /// Whether its uses are told one by one.
    pub inside: bool,
}

/// A paper: what was read for it and the tables made of that.
#[derive(Debug, Clone)]
pub struct Papers {
    /// The period.
    pub period: Period,
    /// What every sheet and page says.
    pub head: Head,
    /// The book of the last month.
    pub book: Book,
    /// Figures and limits.
    pub held: Vec<Held>,
    /// Month by month: the twelve to a month, or those of a year that have begun.
    pub months: Vec<MonthLine>,
    /// Months of the period with their signatures.
    pub signed: Vec<MonthNow>,
    /// Sums of the period.
    pub sums: MonthSums,
    /// Limits that the shop entered.
    pub limits: Vec<CeilingRow>,
    /// What is not known or not final, in words.
    pub unknown: Vec<String>,
    /// The tables, in the order of the sheets.
    pub tables: Vec<Table>,
}

/// Reads a period as of the first moment, all of it from one state of the record; it is made at the second. A list of uses longer than `most` is put together.
pub fn papers(
    ledger: &Ledger,
    period: &Period,
    (at, made): (Moment, Moment),
    most: usize,
) -> Result<Papers, LedgerError> {
    ledger.in_one_view(|| gather(ledger, period, (at, made), most))
}

fn gather(
    ledger: &Ledger,
    period: &Period,
    (at, made): (Moment, Moment),
    most: usize,
) -> Result<Papers, LedgerError> {
    let calendar = ledger.calendar();
    let present = calendar.day(at).month();
    let months = period.months(&present)?;
    let first = calendar.day(ledger.began()?).month();
    let book = book::book(ledger, &period.last(), at)?;
    let listed = match period {
        Period::Month(month) => Months::twelve(month)?,
        Period::Year(_) => months.clone(),
    };
    let mut lines = Vec::new();
    for month in listed.list() {
        lines.push(MonthLine {
            sums: ledger.month(month)?,
            before: *month < first,
            inside: months.list().contains(month),
        });
    }
    let mut held = Vec::new();
    let mut signed = Vec::new();
    for month in months.list() {
        let of_month = match period {
            Period::Month(_) => None,
            Period::Year(_) => Some(book::book(ledger, month, at)?),
        };
        let of_month = of_month.as_ref().unwrap_or(&book);
        // Of the months of a year only what a limit is entered for, and the two sums.
        let wanted = |f: &&Figure| {
            matches!(period, Period::Month(_))
                || f.limit.is_some()
                || matches!(f.of, book::Of::Voc | book::Of::Hap)
        };
        held.extend(of_month.month.iter().filter(wanted).map(|figure| Held {
            months: vec![month.clone()],
            rolling: false,
            figure: figure.clone(),
        }));
        signed.push(of_month.now.clone());
    }
    let twelve = Months::twelve(&period.last())?;
    held.extend(book.rolling.iter().map(|figure| Held {
        months: twelve.list().to_vec(),
        rolling: true,
        figure: figure.clone(),
    }));
    let mut unknown = Vec::new();
    if !book.provisional.is_empty() {
        let words = book.provisional.join("; ");
        unknown.push(match period {
            Period::Month(_) => format!("provisional: {words}"),
            Period::Year(year) => format!("provisional, by the last month of {year}: {words}"),
        });
    }
    unknown.extend(book.unknown_words());
    let words = match period {
        Period::Month(month) => format!("month {month}"),
        Period::Year(year) => format!("year {year}"),
    };
    let signed_words = match period {
        Period::Month(_) => book.signed_words(&calendar),
        Period::Year(_) => {
            let done = signed
                .iter()
                .filter(|now| now.newest().is_some() && now.changes.is_empty());
            format!(
                "months signed as they stand here: {} of {}",
                done.count(),
                signed.len()
            )
        }
    };
    let mut papers = Papers {
        period: period.clone(),
        head: Head {
            shop: ledger.name().to_owned(),
            demo: ledger.demo(),
            period: words,
            made: (calendar.full(made), made.0),
            head: ledger.head()?,
            signed: signed_words,
        },
        book,
        held,
        months: lines,
        signed,
        sums: ledger.sums_of(&months)?,
        limits: ledger.ceilings()?,
        unknown,
        tables: Vec::new(),
    };
    papers.tables = tables::tables(ledger, &papers, &months, most)?;
    Ok(papers)
}

impl Papers {
    /// All tables as JSON.
    pub fn json(&self) -> Value {
        let tables: serde_json::Map<String, Value> = self
            .tables
            .iter()
            .map(|t| (t.key.to_owned(), t.json()))
            .collect();
        json!({
            "period": self.period.name(), "shop": self.head.shop, "demo": self.head.demo, "made": self.head.made.0,
            "actions": self.head.head.0, "head": self.head.head.1, "signed": self.head.signed,
            "unknown": self.unknown, "standing_line": crate::shop::cautions::STANDING_LINE,
            "tables": tables,
        })
    }

    /// Every table as a CSV file: name and bytes.
    pub fn csv(&self) -> std::io::Result<Vec<(String, Vec<u8>)>> {
        self.tables
            .iter()
            .map(|t| Ok((format!("{}.csv", t.key), t.csv()?)))
            .collect()
    }

    /// A table by its name.
    pub fn table(&self, key: &str) -> Option<&Table> {
        self.tables.iter().find(|t| t.key == key)
    }

    /// The lines that a command prints: what is held against what.
    pub fn lines(&self, system: crate::units::System) -> Vec<String> {
        let mut out = vec![self.head.title("solvent"), self.head.signed.clone()];
        out.extend(self.unknown.iter().cloned());
        out.push(super::sums::FROM_LOG_ALONE.to_owned());
        let mut before = None;
        for held in &self.held {
            let words = held.words();
            if before.as_ref() != Some(&words) {
                out.push(words.clone());
                before = Some(words);
            }
            out.push(held.figure.line(system));
        }
        out
    }

    /// Whether a figure is over its limit or a needed one is not known.
    pub fn calls_for_attention(&self) -> bool {
        use crate::science::worksheet::Side;
        self.held
            .iter()
            .any(|h| matches!(h.figure.side, Side::Over | Side::Unknown))
    }
}

impl Held {
    /// The months in words: `2026-03`, or `twelve months to 2026-03`.
    pub fn words(&self) -> String {
        let last = self.months.last().map_or("", String::as_str);
        if self.rolling {
            format!("twelve months to {last}")
        } else {
            last.to_owned()
        }
    }
}

/// Reads a year, as `2026`, that has begun at `present`.
pub fn year(text: &str, present: &str) -> Result<Period, String> {
    let fault = || {
        format!(
            "year \"{}\" is not understood; write it as 2026",
            crate::shop::text::shown(text)
        )
    };
    if text.len() != 4 || !text.chars().all(|c| c.is_ascii_digit()) {
        return Err(fault());
    }
    let first = format!("{text}-01");
    shifted(&first, 0).ok_or_else(fault)?;
    if first.as_str() > present {
        return Err(format!(
            "{text} has not begun: this production day belongs to {present}; write a year up to that one"
        ));
    }
    Ok(Period::Year(text.to_owned()))
}
