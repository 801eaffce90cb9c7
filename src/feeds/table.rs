//! A table as CSV with a header whose columns have names: in any order, each once, the needed ones among them.
//!
//! *Invariants*: all rows are read, so that every refused one is reported at once; what is told of a bad name holds no
//! unruly character.

use crate::ledger::RowFault;
use csv::StringRecord;

/// The columns of a table.
#[derive(Debug)]
pub(super) struct Columns {
    names: Vec<String>,
}

/// The cells of one row by their column; an empty cell is none.
#[derive(Debug)]
pub(super) struct Cells<'a> {
    names: &'a [String],
    record: &'a StringRecord,
}

impl<'a> Cells<'a> {
    pub(super) fn get(&self, name: &str) -> Option<&'a str> {
        let at = self.names.iter().position(|n| n == name)?;
        self.record.get(at).filter(|t| !t.is_empty())
    }
}

fn at(line: u64, why: String) -> RowFault {
    RowFault { line, why }
}

impl Columns {
    /// Reads the header of a table.
    pub(super) fn of(
        header: &StringRecord,
        known: &[&str],
        needed: &[&str],
    ) -> Result<Self, Vec<RowFault>> {
        let names: Vec<String> = header.iter().map(str::to_lowercase).collect();
        let mut refused: Vec<RowFault> = Vec::new();
        for name in names.iter().filter(|n| !known.contains(&n.as_str())) {
            let name: String = name
                .chars()
                .filter(|c| !crate::shop::text::unruly(*c))
                .take(40)
                .collect();
            refused.push(at(
                1,
                format!(
                    "column \"{name}\" is not known; columns are {}",
                    known.join(", ")
                ),
            ));
        }
        for needed_one in needed
            .iter()
            .filter(|n| !names.iter().any(|have| have == *n))
        {
            refused.push(at(
                1,
                format!(
                    "column \"{needed_one}\" is missing; the header needs {}",
                    needed.join(", ")
                ),
            ));
        }
        for (i, name) in names.iter().enumerate() {
            if names.iter().take(i).any(|n| n == name) {
                refused.push(at(1, format!("column \"{name}\" stands twice; keep one")));
            }
        }
        if refused.is_empty() {
            Ok(Self { names })
        } else {
            Err(refused)
        }
    }

    /// The cells of a row of the same table.
    pub(super) fn cells<'a>(
        &'a self,
        line: u64,
        record: &'a StringRecord,
    ) -> Result<Cells<'a>, RowFault> {
        if record.len() == self.names.len() {
            return Ok(Cells {
                names: &self.names,
                record,
            });
        }
        Err(at(
            line,
            format!(
                "{} fields, the header has {}; look for a missing quote or comma",
                record.len(),
                self.names.len()
            ),
        ))
    }
}

/// Reads a whole table, row by row; `row` says what is wrong with one.
pub(super) fn read<T>(
    bytes: &[u8],
    known: &[&str],
    needed: &[&str],
    mut row: impl FnMut(u64, &Cells<'_>) -> Result<T, String>,
) -> Result<Vec<T>, Vec<RowFault>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(bytes);
    let header = match reader.headers() {
        Ok(h) => h.clone(),
        Err(e) => {
            return Err(vec![at(
                1,
                format!("the header cannot be read ({e}); save the list as UTF-8 CSV"),
            )]);
        }
    };
    let columns = Columns::of(&header, known, needed)?;
    let mut rows = Vec::new();
    let mut refused = Vec::new();
    for record in reader.records() {
        match record {
            Err(e) => {
                let line = e.position().map_or(0, csv::Position::line);
                refused.push(at(
                    line,
                    format!(
                        "the row cannot be read ({}); save the list as UTF-8 CSV",
                        kind_of(&e)
                    ),
                ));
            }
            Ok(record) => {
                let line = record.position().map_or(0, csv::Position::line);
                match columns
                    .cells(line, &record)
                    .and_then(|cells| row(line, &cells).map_err(|why| at(line, why)))
                {
                    Ok(row) => rows.push(row),
                    Err(fault) => refused.push(fault),
                }
            }
        }
    }
    if refused.is_empty() && rows.is_empty() {
        refused.push(at(1, "the list has no rows below its header".to_owned()));
    }
    if refused.is_empty() {
        Ok(rows)
    } else {
        Err(refused)
    }
}

/// Reads one line of a table that comes line by line.
pub(super) fn line(text: &str) -> Result<StringRecord, String> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut record = StringRecord::new();
    match reader.read_record(&mut record) {
        Ok(_) => Ok(record),
        Err(e) => Err(format!("the line cannot be read ({})", kind_of(&e))),
    }
}

fn kind_of(e: &csv::Error) -> &'static str {
    match e.kind() {
        csv::ErrorKind::Utf8 { .. } => "it is not UTF-8",
        csv::ErrorKind::UnequalLengths { .. } => "it has another number of fields",
        _ => "it is not CSV",
    }
}
