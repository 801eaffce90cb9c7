//! Reading the shop's TOML files by hand: every fault of a file at once, each with its line and its fix.
//!
//! This is not a serde derive, for one reason: serde stops at the first fault. Whoever writes a recipe of a hundred
//! lines would then mend one line, start again, and learn of the next. Here the file becomes a tree that knows where
//! each value stands, and a small walking reader asks it field by field and goes on after a fault. The same walk
//! gives what serde has no place for: units inside texts, ranges stated once ([`Limits`]), the nearest known key.
//!
//! *Invariants*: reading never panics, whatever the text holds; a value is returned only when no fault was found; a
//! fault shows no control characters of the file; a key that no getter asked for is a fault, so the list of known
//! keys cannot drift from what is read.
//!
//! *Not here*: which fields a recipe or a material has (`recipe_file`, `material_file`), and opening files.

use super::words::Word;
use crate::units::{self, Amount, DateFault, Dimension, Span, UnitFault, read as read_quantity};
use chrono::NaiveDate;
use std::cell::RefCell;
use std::fmt;
use toml::de::{DeTable, DeValue};

/// What is wrong with one place of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file, as it was named to the reader.
    pub file: String,
    /// The line, counted from 1. A field that is missing has the line of its table.
    pub line: usize,
    /// The place and the field: `step "clear set 1", coats`.
    pub field: String,
    /// What is written there; empty when nothing is.
    pub value: String,
    /// Why that cannot be, with the range or the list that can.
    pub allowed: String,
    /// What to write instead.
    pub fix: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {}: ", self.file, self.line, self.field)?;
        if self.value.is_empty() {
            write!(f, "nothing written")?;
        } else {
            write!(f, "\"{}\"", self.value)?;
        }
        write!(f, " {}; {}", self.allowed, self.fix)
    }
}

impl std::error::Error for Fault {}

/// The range of one field, stated once: it gives the check, the message and the fix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// The key in the file.
    pub field: &'static str,
    /// Lowest value: a count, characters of a text, ms of a span, or the record's unit of an amount.
    pub low: i64,
    /// Highest value, in the same unit.
    pub high: i64,
    /// The unit to suggest for a number without one; empty where the field has none.
    pub unit: &'static str,
    /// What to write, as the end of the sentence "write ...".
    pub fix: &'static str,
}

/// Whether a field may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// Leaving it out is a fault.
    Must,
    /// It may be left out.
    May,
}

/// How a fault was found. After a syntax fault the tree has holes, and what follows from a hole is not worth saying.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Nature {
    Syntax,
    Value,
    Missing,
    Cross,
}

/// Longest file that is read, in bytes; a recipe of two hundred steps has a tenth of it.
pub const LONGEST_FILE: usize = 262_144;

/// Most faults of syntax that are told of one file.
const MOST_SYNTAX: usize = 100;

/// Most characters of a value that a message repeats.
const SHOWN: usize = 48;

/// How a date is written, as [`units::date`] takes it.
const DATE_FIX: &str = "write the date as 2026-03-31, or as \"31.03.2026\" in quotes";

/// A text on one line and without what could steer a terminal, at most `most` characters of it.
fn shown_line(text: &str, most: usize) -> String {
    text.chars()
        .map(|c| if c.is_whitespace() { ' ' } else { c })
        .filter(|c| !steers(*c))
        .take(most)
        .collect()
}

/// A value as messages repeat it, with three points where it was cut.
fn shown(text: &str) -> String {
    let whole = shown_line(text, SHOWN + 1);
    if whole.chars().count() > SHOWN {
        format!("{}...", shown_line(text, SHOWN - 3))
    } else {
        whole
    }
}

/// Control characters, and the marks that reverse or hide the text after them.
fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

fn shown_value(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(s) => shown(s),
        DeValue::Integer(n) => shown(&n.to_string()),
        DeValue::Float(n) => shown(n.as_str()),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Datetime(d) => d.to_string(),
        DeValue::Array(a) => format!("[{} values]", a.len()),
        DeValue::Table(_) => "[table]".to_owned(),
    }
}

fn kind_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// A span for range messages: whole days from two days on, else whole hours, else minutes.
fn span_text(ms: i64) -> String {
    const HOUR: i64 = 3_600_000;
    if ms % (24 * HOUR) == 0 && ms >= 48 * HOUR {
        format!("{} d", ms / (24 * HOUR))
    } else if ms % HOUR == 0 && ms > 0 {
        format!("{} h", ms / HOUR)
    } else {
        format!("{} min", ms / 60_000)
    }
}

/// How many letters lie between two words (insertions, deletions, exchanges).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().take(SHOWN).collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().take(SHOWN).enumerate() {
        let mut next = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let at = |n: usize| row.get(n).copied().unwrap_or(usize::MAX - 1);
            let left = next.last().copied().unwrap_or(usize::MAX - 1);
            next.push(
                (at(j) + usize::from(x != *y))
                    .min(at(j + 1) + 1)
                    .min(left + 1),
            );
        }
        row = next;
    }
    row.last().copied().unwrap_or(usize::MAX)
}

/// The listed word that is nearest to `text`.
fn nearest<'w>(text: &str, list: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    list.into_iter().min_by_key(|word| distance(text, word))
}

/// The fix for a fault of syntax, by what the parser says of it.
fn syntax_fix(message: &str) -> &'static str {
    const FIXES: &[(&str, &str)] = &[
        (
            "duplicate key",
            "keep one of them; a heading that stands more than once is written [[step]] each time",
        ),
        (
            "must be quoted",
            "write the value, texts and amounts in double quotes",
        ),
        (
            "string",
            "close the text with a double quote on the same line",
        ),
        ("keys cannot be empty", "write a key before the equals sign"),
        ("key with no value", "write it as key = value"),
        (
            "leading zero",
            "write the number without leading zeros, or a text in double quotes",
        ),
        ("array table", "write the heading as [[step]]"),
        (
            "array",
            "write the list as [\"a\", \"b\"], with a comma between values and a closing bracket",
        ),
        (
            "inline table",
            "write the table as { key = value, key = value }",
        ),
        ("table", "write the heading as [film] or [[step]]"),
        ("assignment", "write key = value on a line of its own"),
        (
            "value",
            "write a value after the equals sign, texts and amounts in double quotes",
        ),
        ("recurse", "write fewer brackets inside brackets"),
    ];
    FIXES
        .iter()
        .find(|(part, _)| message.contains(part))
        .map_or(
            "write a heading such as [film], a line key = value, or a remark after #",
            |(_, fix)| fix,
        )
}

struct Found {
    fault: Fault,
    nature: Nature,
}

/// A file that is being read, with the faults found so far.
struct Reader<'t> {
    file: &'t str,
    text: &'t str,
    starts: Vec<usize>,
    found: RefCell<Vec<Found>>,
}

/// Reads a file: `walk` asks the root table for what it needs and returns the value it built.
///
/// The value is given back only when no fault was found; until then `walk` may put any stand-in where a field is
/// faulty, and no one will see it.
pub fn read_file<T>(
    file: &str,
    text: &str,
    walk: impl FnOnce(&Table<'_>) -> Option<T>,
) -> Result<T, Vec<Fault>> {
    if text.len() > LONGEST_FILE {
        return Err(vec![Fault {
            file: shown_line(file, 4_096),
            line: 1,
            field: "file".to_owned(),
            value: format!("{} bytes", text.len()),
            allowed: format!("is longer than {LONGEST_FILE} bytes"),
            fix: "check that this is the right file".to_owned(),
        }]);
    }
    let (root, errors) = DeTable::parse_recoverable(text);
    let reader = Reader::new(file, text);
    for error in &errors {
        reader.syntax(error);
    }
    let value = walk(&Table {
        reader: &reader,
        rows: root.get_ref(),
        place: String::new(),
        line: 1,
        asked: RefCell::new(Vec::new()),
    });
    reader.finish(value)
}

impl<'t> Reader<'t> {
    fn new(file: &'t str, text: &'t str) -> Self {
        let starts = std::iter::once(0)
            .chain(text.match_indices('\n').map(|(at, _)| at + 1))
            .collect();
        Self {
            file,
            text,
            starts,
            found: RefCell::new(Vec::new()),
        }
    }

    /// The line of a byte, counted from 1.
    fn line_at(&self, byte: usize) -> usize {
        self.starts.partition_point(|start| *start <= byte).max(1)
    }

    fn line_text(&self, line: usize) -> &'t str {
        let from = self.starts.get(line.saturating_sub(1)).copied();
        let to = self.starts.get(line).copied().unwrap_or(self.text.len());
        from.and_then(|from| self.text.get(from..to))
            .unwrap_or_default()
            .trim()
    }

    fn push(
        &self,
        nature: Nature,
        line: usize,
        field: String,
        value: String,
        allowed: String,
        fix: String,
    ) {
        self.found.borrow_mut().push(Found {
            fault: Fault {
                file: shown_line(self.file, 4_096),
                line,
                field,
                value,
                allowed,
                fix,
            },
            nature,
        });
    }

    fn syntax(&self, error: &toml::de::Error) {
        let last = self.text.trim_end().len().saturating_sub(1);
        let line = self.line_at(error.span().map_or(last, |s| s.start.min(last)));
        // One slip makes several errors on its line; the first says it best. A file with a hundred broken lines is
        // not a recipe with slips but another kind of file, and more lines would not say more.
        let told = {
            let found = self.found.borrow();
            found.len() >= MOST_SYNTAX || found.iter().any(|f| f.fault.line == line)
        };
        if !told {
            let fix = syntax_fix(error.message());
            self.push(
                Nature::Syntax,
                line,
                "syntax".to_owned(),
                shown(self.line_text(line)),
                format!("cannot be read: {}", shown_line(error.message(), 160)),
                if self.heads(line) {
                    format!("{fix}; what stands below it is looked at once this is mended")
                } else {
                    fix.to_owned()
                },
            );
        }
    }

    /// Whether a line opens a table.
    fn heads(&self, line: usize) -> bool {
        self.line_text(line).starts_with('[')
    }

    /// Whether a fault follows from a fault of syntax, and would be gone once that is mended.
    fn follows(&self, found: &Found, broken: &[usize]) -> bool {
        let line = found.fault.line;
        // Below a broken heading every line is in the wrong table.
        if broken.iter().any(|b| *b < line && self.heads(*b)) {
            return found.nature != Nature::Syntax || self.heads(line);
        }
        match found.nature {
            Nature::Syntax => false,
            Nature::Cross => !broken.is_empty(),
            Nature::Value => broken.contains(&line),
            Nature::Missing => broken
                .iter()
                .any(|b| self.heads(*b) || (*b >= line && !(line + 1..=*b).any(|l| self.heads(l)))),
        }
    }

    fn finish<T>(self, value: Option<T>) -> Result<T, Vec<Fault>> {
        let mut found = self.found.take();
        let broken: Vec<usize> = found
            .iter()
            .filter(|f| f.nature == Nature::Syntax)
            .map(|f| f.fault.line)
            .collect();
        found.retain(|f| !self.follows(f, &broken));
        found.sort_by_key(|f| f.fault.line);
        let mut faults: Vec<Fault> = found.into_iter().map(|f| f.fault).collect();
        match value {
            Some(value) if faults.is_empty() => Ok(value),
            _ => {
                if faults.is_empty() {
                    // A walk that gave up without saying why: say at least where.
                    faults.push(Fault {
                        file: shown_line(self.file, 4_096),
                        line: 1,
                        field: "file".to_owned(),
                        value: String::new(),
                        allowed: "that could be read".to_owned(),
                        fix: "compare the file with a sample".to_owned(),
                    });
                }
                Err(faults)
            }
        }
    }
}

/// One table of a file. Its getters note which keys were asked for; [`Table::done`] reports the rest.
pub struct Table<'r> {
    reader: &'r Reader<'r>,
    rows: &'r DeTable<'r>,
    place: String,
    line: usize,
    asked: RefCell<Vec<&'static str>>,
}

impl fmt::Debug for Table<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Table")
            .field("place", &self.place)
            .field("line", &self.line)
            .finish_non_exhaustive()
    }
}

/// One value of a file, with its line and its field.
pub struct Cell<'r> {
    reader: &'r Reader<'r>,
    value: &'r DeValue<'r>,
    field: String,
    line: usize,
}

impl fmt::Debug for Cell<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Cell")
            .field("field", &self.field)
            .field("line", &self.line)
            .finish_non_exhaustive()
    }
}

impl<'r> Table<'r> {
    /// Where the table stands: `step "clear set 1"`; empty for the whole file.
    pub fn place(&self) -> &str {
        &self.place
    }

    /// The line of the table's heading.
    pub const fn line(&self) -> usize {
        self.line
    }

    /// How many faults the file has so far. A check over several fields runs only when this did not grow while they
    /// were read.
    pub fn faults(&self) -> usize {
        self.reader.found.borrow().len()
    }

    /// Whether the table has this key, faulty or not.
    pub fn has(&self, field: &str) -> bool {
        self.rows.contains_key(field)
    }

    /// The line of a key, or of the table where the key is missing.
    pub fn line_of(&self, field: &str) -> usize {
        self.rows
            .get_key_value(field)
            .map_or(self.line, |(key, _)| self.reader.line_at(key.span().start))
    }

    fn label(&self, field: &str) -> String {
        if self.place.is_empty() {
            field.to_owned()
        } else {
            format!("{}, {field}", self.place)
        }
    }

    /// The value of a key, if it is there.
    pub fn cell(&self, field: &'static str) -> Option<Cell<'r>> {
        self.asked.borrow_mut().push(field);
        let (key, value) = self.rows.get_key_value(field)?;
        Some(Cell {
            reader: self.reader,
            value: value.get_ref(),
            field: self.label(field),
            line: self.reader.line_at(key.span().start),
        })
    }

    fn needed(&self, field: &'static str, need: Need, range: &str, fix: &str) -> Option<Cell<'r>> {
        let cell = self.cell(field);
        if cell.is_none() && need == Need::Must {
            self.missing(field, range, fix);
        }
        cell
    }

    /// Reports a field that is not there; `range` completes "nothing written where ... is needed".
    pub fn missing(&self, field: &str, range: &str, fix: &str) {
        self.reader.push(
            Nature::Missing,
            self.line,
            self.label(field),
            String::new(),
            format!("where {range} is needed"),
            fix.to_owned(),
        );
    }

    /// Reports what two or more fields say together, at the line of one of them.
    pub fn contradiction(&self, field: &str, value: &str, allowed: String, fix: &str) {
        self.reader.push(
            Nature::Cross,
            self.line_of(field),
            self.label(field),
            shown(value),
            allowed,
            fix.to_owned(),
        );
    }

    /// Reports a known key that does not belong into this table, if it is there.
    pub fn refuse(&self, field: &'static str, allowed: &str) {
        if let Some(cell) = self.cell(field) {
            cell.fault(allowed.to_owned(), "take the line out");
        }
    }

    /// A text.
    pub fn text(&self, limits: &Limits, need: Need) -> Option<String> {
        self.needed(limits.field, need, "a text", limits.fix)?
            .text(limits)
    }

    /// A short code: letters, digits and hyphens.
    pub fn code(&self, limits: &Limits, need: Need) -> Option<String> {
        let cell = self.needed(limits.field, need, "a code", limits.fix)?;
        let text = cell.text(limits)?;
        if text.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') {
            Some(text)
        } else {
            cell.fault(
                "holds a character that a code cannot have".to_owned(),
                "use letters A to Z, digits and hyphens only",
            );
            None
        }
    }

    /// One word of a closed list.
    pub fn word<W: Word>(&self, field: &'static str, need: Need) -> Option<W> {
        self.needed(
            field,
            need,
            &format!("one of {}", W::choices()),
            "write the word in double quotes",
        )?
        .word()
    }

    /// Words of a closed list, each at most once.
    pub fn words<W: Word>(&self, field: &'static str, need: Need) -> Vec<W> {
        let range = format!("a list of {}", W::choices());
        let Some(cell) = self.needed(field, need, &range, "write the words as [\"...\", \"...\"]")
        else {
            return Vec::new();
        };
        let mut words: Vec<W> = Vec::new();
        for item in cell.list() {
            if let Some(word) = item.word::<W>() {
                if words.contains(&word) {
                    item.fault("stands here twice".to_owned(), "take one of the two out");
                } else {
                    words.push(word);
                }
            }
        }
        words
    }

    /// Texts, each at most once.
    pub fn texts(&self, limits: &Limits, need: Need) -> Vec<String> {
        let Some(cell) = self.needed(limits.field, need, "a list of texts", limits.fix) else {
            return Vec::new();
        };
        let mut texts: Vec<String> = Vec::new();
        for item in cell.list() {
            if let Some(text) = item.text(limits) {
                if texts.contains(&text) {
                    item.fault("stands here twice".to_owned(), "take one of the two out");
                } else {
                    texts.push(text);
                }
            }
        }
        texts
    }

    /// Texts of a given list, each at most once.
    pub fn choices(&self, limits: &Limits, known: &[&'static str], need: Need) -> Vec<String> {
        let Some(cell) = self.needed(limits.field, need, "a list of words", limits.fix) else {
            return Vec::new();
        };
        let mut texts: Vec<String> = Vec::new();
        for item in cell.list() {
            if let Some(text) = item.text(limits) {
                if !known.contains(&text.as_str()) {
                    item.not_listed(&text, known);
                } else if texts.contains(&text) {
                    item.fault("stands here twice".to_owned(), "take one of the two out");
                } else {
                    texts.push(text);
                }
            }
        }
        texts
    }

    /// `true` or `false`; left out, it is `false`.
    pub fn flag(&self, field: &'static str) -> bool {
        self.cell(field).and_then(|c| c.flag()).unwrap_or(false)
    }

    /// A whole number.
    pub fn whole(&self, limits: &Limits, need: Need) -> Option<i64> {
        let range = format!("{} to {}", limits.low, limits.high);
        self.needed(limits.field, need, &range, limits.fix)?
            .whole(limits)
    }

    /// A plain decimal number in thousandths: `0.5` is 500.
    pub fn thousandths(&self, limits: &Limits, need: Need) -> Option<i64> {
        let range = format!(
            "{} to {}",
            thousandths_text(limits.low),
            thousandths_text(limits.high)
        );
        self.needed(limits.field, need, &range, limits.fix)?
            .thousandths(limits)
    }

    /// A quantity with its unit.
    pub fn amount<A: Amount>(&self, limits: &Limits, need: Need) -> Option<A> {
        let range = amount_range::<A>(limits);
        self.needed(limits.field, need, &range, limits.fix)?
            .amount(limits)
    }

    /// A span of time with its unit.
    pub fn span(&self, limits: &Limits, need: Need) -> Option<Span> {
        let range = format!("{} to {}", span_text(limits.low), span_text(limits.high));
        self.needed(limits.field, need, &range, limits.fix)?
            .span(limits)
    }

    /// A difference of two temperatures, in mK.
    pub fn difference(&self, limits: &Limits, need: Need) -> Option<i64> {
        let range = format!("{} to {} K diff", limits.low / 1_000, limits.high / 1_000);
        self.needed(limits.field, need, &range, limits.fix)?
            .quantity(limits, Dimension::TemperatureChange, 3, &range)
    }

    /// A quantity of a dimension that has no amount of its own, in the base unit's power of ten.
    pub fn measured(
        &self,
        limits: &Limits,
        need: Need,
        dimension: Dimension,
        exponent: u32,
    ) -> Option<i64> {
        let range = format!(
            "{} to {} {}",
            limits.low / 1_000,
            limits.high / 1_000,
            limits.unit
        );
        self.needed(limits.field, need, &range, limits.fix)?
            .quantity(limits, dimension, exponent, &range)
    }

    /// A date.
    pub fn date(&self, field: &'static str, need: Need) -> Option<NaiveDate> {
        self.needed(field, need, "a date", DATE_FIX)?.date()
    }

    /// The one table under a key, written `[key]`.
    pub fn table(&self, field: &'static str, need: Need) -> Option<Table<'r>> {
        let cell = self.needed(
            field,
            need,
            "a table",
            &format!("write the heading [{field}] and its lines below it"),
        )?;
        if let DeValue::Table(rows) = cell.value {
            Some(Table {
                reader: self.reader,
                rows,
                place: self.under(field.to_owned()),
                line: cell.line,
                asked: RefCell::new(Vec::new()),
            })
        } else {
            cell.fault(
                format!("is {} where one table belongs", kind_of(cell.value)),
                &format!("write the heading [{field}] once and its lines below it"),
            );
            None
        }
    }

    fn under(&self, name: String) -> String {
        if self.place.is_empty() {
            name
        } else {
            format!("{}, {name}", self.place)
        }
    }

    /// The tables under a key, each written `[[key]]`. Each is called by its code or name where it has one.
    pub fn tables(&self, field: &'static str, need: Need) -> Vec<Table<'r>> {
        let heading = format!("write the heading [[{field}]] for each and its lines below it");
        let Some(cell) = self.needed(field, need, "a table", &heading) else {
            return Vec::new();
        };
        let DeValue::Array(items) = cell.value else {
            cell.fault(
                format!("is {} where a row of tables belongs", kind_of(cell.value)),
                &heading,
            );
            return Vec::new();
        };
        let mut tables = Vec::new();
        for (n, item) in items.iter().enumerate() {
            let line = self.reader.line_at(item.span().start);
            if let DeValue::Table(rows) = item.get_ref() {
                let name = ["code", "name"].iter().find_map(|key| {
                    let text = shown(rows.get(*key)?.get_ref().as_str()?);
                    (!text.is_empty()).then_some(text)
                });
                tables.push(Table {
                    reader: self.reader,
                    rows,
                    place: self.under(name.map_or_else(
                        || format!("{field} {}", n + 1),
                        |name| format!("{field} \"{name}\""),
                    )),
                    line,
                    asked: RefCell::new(Vec::new()),
                });
            } else {
                self.reader.push(
                    Nature::Value,
                    line,
                    self.label(field),
                    shown_value(item.get_ref()),
                    format!("is {} where a table belongs", kind_of(item.get_ref())),
                    heading.clone(),
                );
            }
        }
        tables
    }

    /// Reports every key that no getter asked for, with the nearest known one.
    pub fn done(&self) {
        let asked = self.asked.borrow();
        let mut known: Vec<&str> = Vec::new();
        for field in asked.iter() {
            if !known.contains(field) {
                known.push(field);
            }
        }
        for key in self.rows.keys() {
            let text: &str = key.get_ref();
            if asked.contains(&text) {
                continue;
            }
            // A key that shares less than half of its letters with any other is not a slip of the finger.
            let near = nearest(text, known.iter().copied())
                .filter(|near| distance(text, near) * 2 <= near.len().max(3));
            self.reader.push(
                Nature::Value,
                self.reader.line_at(key.span().start),
                if self.place.is_empty() {
                    "key".to_owned()
                } else {
                    self.place.clone()
                },
                shown(text),
                "is not a known key here".to_owned(),
                match near {
                    Some(near) => {
                        format!("the nearest known key is \"{near}\": rename it or take it out")
                    }
                    None => format!("write one of {}, or take it out", known.join(", ")),
                },
            );
        }
    }
}

/// A number of thousandths as a plain decimal: 500 is `0.5`.
pub fn thousandths_text(value: i64) -> String {
    let text = format!("{}.{:03}", value / 1_000, value % 1_000);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn amount_range<A: Amount>(limits: &Limits) -> String {
    format!(
        "{} to {}",
        A::of(limits.low).trimmed(),
        A::of(limits.high).trimmed()
    )
}

impl<'r> Cell<'r> {
    /// The line of the value.
    pub const fn line(&self) -> usize {
        self.line
    }

    /// Reports this value.
    pub fn fault(&self, allowed: String, fix: &str) {
        self.reader.push(
            Nature::Value,
            self.line,
            self.field.clone(),
            shown_value(self.value),
            allowed,
            fix.to_owned(),
        );
    }

    fn wrong_kind(&self, wanted: &str, fix: &str) {
        self.fault(
            format!("is {} where {wanted} belongs", kind_of(self.value)),
            fix,
        );
    }

    pub(super) fn not_listed(&self, text: &str, known: &[&str]) {
        let near = nearest(text, known.iter().copied()).unwrap_or_default();
        self.fault(
            format!("is not one of {}", known.join(", ")),
            &format!("the nearest word is \"{near}\": write one of the list"),
        );
    }

    /// The values of a list.
    pub fn list(&self) -> Vec<Cell<'r>> {
        let DeValue::Array(items) = self.value else {
            self.wrong_kind("a list", "write it as [\"...\", \"...\"]");
            return Vec::new();
        };
        if items.is_empty() {
            self.fault(
                "is an empty list".to_owned(),
                "name at least one, or take the line out",
            );
        }
        items
            .iter()
            .map(|item| Cell {
                reader: self.reader,
                value: item.get_ref(),
                field: self.field.clone(),
                line: self.reader.line_at(item.span().start),
            })
            .collect()
    }

    /// Whether the value is a list.
    pub fn is_list(&self) -> bool {
        self.value.is_array()
    }

    /// The value as a text.
    pub fn text(&self, limits: &Limits) -> Option<String> {
        let Some(text) = self.value.as_str() else {
            self.wrong_kind("text", "put it in double quotes");
            return None;
        };
        let text = text.trim();
        let length = i64::try_from(text.chars().count()).unwrap_or(i64::MAX);
        if text.chars().any(steers) {
            self.fault(
                "holds a character that cannot be shown".to_owned(),
                "write the text on one line, with letters, digits and signs only",
            );
            None
        } else if length == 0 && limits.low > 0 {
            self.fault(
                format!(
                    "where {} to {} characters are needed",
                    limits.low, limits.high
                ),
                limits.fix,
            );
            None
        } else if (limits.low..=limits.high).contains(&length) {
            Some(text.to_owned())
        } else {
            self.fault(
                format!(
                    "has {length} characters, outside {} to {}",
                    limits.low, limits.high
                ),
                limits.fix,
            );
            None
        }
    }

    /// The value as one word of a closed list.
    pub fn word<W: Word>(&self) -> Option<W> {
        let Some(text) = self.value.as_str() else {
            self.wrong_kind(
                "a word",
                &format!("write one of {} in double quotes", W::choices()),
            );
            return None;
        };
        let word = W::from_word(text);
        if word.is_none() {
            let known: Vec<&str> = W::ALL.iter().map(|w| w.word()).collect();
            self.not_listed(text, &known);
        }
        word
    }

    /// The value as `true` or `false`.
    pub fn flag(&self) -> Option<bool> {
        let flag = self.value.as_bool();
        if flag.is_none() {
            self.wrong_kind("true or false", "write true or false without quotes");
        }
        flag
    }

    /// The value as a whole number.
    pub fn whole(&self, limits: &Limits) -> Option<i64> {
        let DeValue::Integer(number) = self.value else {
            self.wrong_kind("a whole number", limits.fix);
            return None;
        };
        let whole = i64::from_str_radix(number.as_str(), number.radix())
            .ok()
            .filter(|n| (limits.low..=limits.high).contains(n));
        if whole.is_none() {
            self.fault(
                format!("is outside {} to {}", limits.low, limits.high),
                limits.fix,
            );
        }
        whole
    }

    /// The value as a plain decimal number, in thousandths.
    pub fn thousandths(&self, limits: &Limits) -> Option<i64> {
        let text = match self.value {
            DeValue::Integer(n) if n.radix() == 10 => n.as_str(),
            DeValue::Float(n) => n.as_str(),
            _ => {
                self.wrong_kind("a plain number", limits.fix);
                return None;
            }
        };
        let reading = read_quantity(text, Dimension::Number, None).ok();
        let exact = reading.and_then(|r| r.exact(9));
        let value = exact.filter(|n| n % 1_000_000 == 0).map(|n| n / 1_000_000);
        let within = value.filter(|n| (limits.low..=limits.high).contains(n));
        if within.is_none() {
            self.fault(
                format!(
                    "is outside {} to {} with three decimals",
                    thousandths_text(limits.low),
                    thousandths_text(limits.high)
                ),
                limits.fix,
            );
        }
        within
    }

    /// The value as a quantity with its unit.
    pub fn amount<A: Amount>(&self, limits: &Limits) -> Option<A> {
        let text = self.unit_text(limits, &amount_range::<A>(limits))?;
        match A::read_within(text, None, limits.low, limits.high) {
            Ok(amount) => Some(amount),
            Err(fault) => {
                self.unit_fault(&fault, limits, &amount_range::<A>(limits));
                None
            }
        }
    }

    /// The value as a span of time.
    pub fn span(&self, limits: &Limits) -> Option<Span> {
        let range = format!("{} to {}", span_text(limits.low), span_text(limits.high));
        self.quantity(limits, Dimension::Time, 3, &range).map(Span)
    }

    /// A quantity in thousandths of the base unit of its dimension.
    fn quantity(
        &self,
        limits: &Limits,
        dimension: Dimension,
        exponent: u32,
        range: &str,
    ) -> Option<i64> {
        let text = self.unit_text(limits, range)?;
        match read_quantity(text, dimension, None) {
            Ok(reading) => {
                let value = reading
                    .exact(exponent)
                    .filter(|n| (limits.low..=limits.high).contains(n));
                if value.is_none() {
                    self.fault(format!("is outside {range}"), limits.fix);
                }
                value
            }
            Err(fault) => {
                self.unit_fault(&fault, limits, range);
                None
            }
        }
    }

    /// The text of a quantity; a bare number is a fault whose fix names the unit.
    fn unit_text(&self, limits: &Limits, range: &str) -> Option<&'r str> {
        match self.value {
            DeValue::String(text) => Some(text),
            DeValue::Integer(_) | DeValue::Float(_) => {
                self.no_unit(limits, range);
                None
            }
            _ => {
                self.wrong_kind("a number with its unit", limits.fix);
                None
            }
        }
    }

    fn no_unit(&self, limits: &Limits, range: &str) {
        self.fault(
            format!("has no unit, allowed is {range}"),
            &format!(
                "name the unit in double quotes: {} = \"{} {}\"",
                limits.field,
                shown_value(self.value).trim(),
                limits.unit
            ),
        );
    }

    fn unit_fault(&self, fault: &UnitFault, limits: &Limits, range: &str) {
        match fault {
            UnitFault::NoUnit { .. } => self.no_unit(limits, range),
            UnitFault::OutOfRange { .. } => {
                self.fault(format!("is outside {range}"), limits.fix);
            }
            UnitFault::UnknownUnit { units, .. } => {
                let text = shown_value(self.value);
                let number: String = text
                    .trim()
                    .chars()
                    .take_while(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))
                    .collect();
                self.fault(
                    format!("has a unit that does not fit, allowed are {units}"),
                    &format!(
                        "write a unit of the list, such as \"{number} {}\"",
                        limits.unit
                    ),
                );
            }
            UnitFault::Empty { .. } => self.fault(format!("where {range} is needed"), limits.fix),
            UnitFault::Unclear { point, whole, .. } => self.fault(
                format!("is unclear: it may be {point} or {whole}"),
                "write the one that is meant",
            ),
            UnitFault::NotANumber { .. } => self.fault(
                "is not a plain decimal number with a unit".to_owned(),
                limits.fix,
            ),
        }
    }

    /// The value as a date.
    pub fn date(&self) -> Option<NaiveDate> {
        let date = match self.value {
            DeValue::Datetime(when) if when.time.is_none() => when.date.and_then(|d| {
                NaiveDate::from_ymd_opt(i32::from(d.year), u32::from(d.month), u32::from(d.day))
            }),
            // As a person writes it everywhere else.
            DeValue::String(text) => match units::date(text) {
                Err(DateFault::Slashes(_)) => {
                    self.fault(
                        "has slashes, with which the day or the month may stand first".to_owned(),
                        DATE_FIX,
                    );
                    return None;
                }
                other => other.ok(),
            },
            _ => None,
        };
        let date = date.filter(|d| (1950..=2100).contains(&chrono::Datelike::year(d)));
        if date.is_none() {
            self.fault("is not a date from 1950 to 2100".to_owned(), DATE_FIX);
        }
        date
    }
}
