//! A table as CSV with a header whose columns have names: in any order, each once, the needed ones among them. Fields
//! are parted by comma, semicolon or tab, whichever the header has most of; columns may have names of the shop's own.
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

/// What a list's own columns are called, and which of them are no business of ours.
#[derive(Debug, Clone, Default)]
pub struct Headings {
    /// Our column by its name in the list.
    pub called: Vec<(String, String)>,
    /// Columns that are left out.
    pub left_out: Vec<String>,
}

impl Headings {
    // Our name of a column; `None` where it is left out.
    fn ours(&self, theirs: &str) -> Option<String> {
        let is = |name: &str| name.trim().to_lowercase() == theirs.to_lowercase();
        if self.left_out.iter().any(|n| is(n)) {
            return None;
        }
        let called = self.called.iter().find(|(name, _)| is(name));
        Some(called.map_or_else(|| theirs.to_lowercase(), |(_, ours)| ours.to_lowercase()))
    }

    // What was said of a column that the list does not have.
    fn missing(&self, header: &StringRecord) -> Vec<RowFault> {
        let said = self.called.iter().map(|(name, _)| name);
        said.chain(&self.left_out)
            .filter(|n| {
                let name = n.trim().to_lowercase();
                !header.iter().any(|h| h.to_lowercase() == name)
            })
            .map(|n| {
                at(
                    1,
                    format!("no column of the list is called \"{}\"", plain(n)),
                )
            })
            .collect()
    }
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

fn plain(name: &str) -> String {
    let tame = name.chars().filter(|c| !crate::shop::text::unruly(*c));
    tame.take(40).collect()
}

// What parts the fields: of comma, semicolon and tab the one that the first line has most of outside its quotes.
fn parts(bytes: &[u8]) -> u8 {
    let mut quoted = false;
    let mut counts = [(b',', 0_u32), (b';', 0), (b'\t', 0)];
    for byte in bytes {
        match byte {
            b'"' => quoted = !quoted,
            b'\n' | b'\r' if !quoted => break,
            _ if quoted => {}
            found => {
                for (part, count) in &mut counts {
                    *count += u32::from(part == found);
                }
            }
        }
    }
    let [(comma, most), others @ ..] = counts;
    let better = others.into_iter().filter(|(_, n)| *n > most);
    better
        .max_by_key(|(_, n)| *n)
        .map_or(comma, |(part, _)| part)
}

impl Columns {
    /// Reads the header of a table.
    pub(super) fn of(
        header: &StringRecord,
        known: &[&str],
        needed: &[&str],
    ) -> Result<Self, Vec<RowFault>> {
        Self::called(header, known, needed, &Headings::default())
    }

    // The same where the list has names of its own; a column that is left out has none.
    fn called(
        header: &StringRecord,
        known: &[&str],
        needed: &[&str],
        headings: &Headings,
    ) -> Result<Self, Vec<RowFault>> {
        let names: Vec<String> = header
            .iter()
            .map(|theirs| headings.ours(theirs).unwrap_or_default())
            .collect();
        let mut refused: Vec<RowFault> = headings.missing(header);
        let unknown = names.iter().zip(header).filter(|(name, theirs)| {
            !known.contains(&name.as_str()) && headings.ours(theirs).is_some()
        });
        for (name, _) in unknown {
            let name = plain(name);
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
            if known.contains(&name.as_str()) && names.iter().take(i).any(|n| n == name) {
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
    row: impl FnMut(u64, &Cells<'_>) -> Result<T, String>,
) -> Result<Vec<T>, Vec<RowFault>> {
    read_as(bytes, known, needed, &Headings::default(), row)
}

/// The same of a list whose columns have names of their own.
pub(super) fn read_as<T>(
    bytes: &[u8],
    known: &[&str],
    needed: &[&str],
    headings: &Headings,
    mut row: impl FnMut(u64, &Cells<'_>) -> Result<T, String>,
) -> Result<Vec<T>, Vec<RowFault>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let part = parts(bytes);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(part)
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
    let columns = Columns::called(&header, known, needed, headings)?;
    let mut rows = Vec::new();
    let mut refused = Vec::new();
    for record in reader.records() {
        match record {
            Err(e) => {
                let line = e.position().map_or(0, |p| line_of(bytes, p));
                refused.push(at(
                    line,
                    format!(
                        "the row cannot be read ({}); save the list as UTF-8 CSV",
                        kind_of(&e)
                    ),
                ));
            }
            Ok(record) => {
                let line = record.position().map_or(0, |p| line_of(bytes, p));
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

/// The line on which a row stands, as people count them. The reader tells where it began to look for the row, which is
/// before the second byte of a line's end and before empty lines.
pub(super) fn line_of(bytes: &[u8], begins: &csv::Position) -> u64 {
    let from = usize::try_from(begins.byte()).unwrap_or(usize::MAX);
    let ahead = bytes.get(from..).unwrap_or_default().iter();
    let ends = ahead.take_while(|b| matches!(b, b'\n' | b'\r'));
    ends.fold(begins.line(), |n, b| n + u64::from(*b == b'\n'))
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
