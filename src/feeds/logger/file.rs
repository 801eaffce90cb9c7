//! A logger's file, read as its description says.
//!
//! *Invariants*: a line that does not read refuses the whole file, unless the description leaves such lines out; every line that
//! is left out, and every one that was not as expected, is named; a gap stays a gap; of two readings of one moment the first
//! in the file counts; a local time that the clock change repeats is decided by the readings beside it or left out.
//!
//! *Not here*: what is known of the room already (the ledger).

use crate::ledger::RowFault;
use crate::shop::calendar::Calendar;
use crate::shop::climate::Sample;
use crate::shop::logger_file::{
    ClockZone, Decimal, Encoding, FileShape, Logger, Told, Unreadable, place,
};
use crate::shop::text::shown;
use crate::shop::words::{Word, words};
use crate::units::{Amount, Humidity, Moment, Span, Temperature, UnitFault};
use csv::StringRecord;

/// Longest file that is read, in bytes: some two years of readings every minute.
pub const LONGEST: usize = 64 * 1_024 * 1_024;

words!(
    /// What was not as expected in a line.
    Oddity {
        /// It has no temperature.
        Missing = "no reading",
        /// Its flag says that it does not count.
        Flagged = "flagged",
        /// No air can be so.
        Impossible = "impossible",
        /// It has a temperature and no humidity that counts.
        Dry = "no humidity",
        /// The same reading once more.
        Repeated = "repeated",
        /// Another reading of a moment that has one.
        Another = "another of one moment",
        /// It stands after a later one.
        OutOfOrder = "out of order",
        /// Its time happens twice, and nothing tells which one it is.
        Undecided = "time happens twice",
        /// It does not read.
        Unreadable = "not readable",
        /// Nothing was read before it for too long.
        Gap = "gap",
        /// The clock changed before it.
        ClockChange = "clock change",
    }
);

impl Oddity {
    /// Whether such a line is left out.
    pub const fn left_out(self) -> bool {
        matches!(
            self,
            Self::Missing
                | Self::Flagged
                | Self::Impossible
                | Self::Repeated
                | Self::Another
                | Self::Undecided
                | Self::Unreadable
        )
    }
}

/// A word on one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// The line.
    pub line: u64,
    /// What was not as expected.
    pub oddity: Oddity,
    /// In words.
    pub why: String,
}

/// What a file says.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Understood {
    /// The readings that count, in order of time, each with its line.
    pub readings: Vec<(u64, Sample)>,
    /// What was not as expected, in the order of lines.
    pub remarks: Vec<Remark>,
    /// Lines that are meant as readings.
    pub lines: u64,
    /// The usual step between two readings.
    pub step: Option<Span>,
}

impl Understood {
    /// The readings alone.
    pub fn samples(&self) -> Vec<Sample> {
        self.readings.iter().map(|(_, s)| *s).collect()
    }

    /// How many lines were left out.
    pub fn left_out(&self) -> usize {
        self.remarks.iter().filter(|r| r.oddity.left_out()).count()
    }
}

/// The text of a file.
///
/// # Errors
/// Where its letters do not read.
pub fn decode(bytes: &[u8], encoding: Encoding) -> Result<String, RowFault> {
    let fault = |line: usize, why: String| RowFault {
        line: u64::try_from(line).unwrap_or(u64::MAX),
        why,
    };
    if bytes.len() > LONGEST {
        return Err(fault(
            1,
            format!(
                "the file has {} bytes, at most {LONGEST} are read; divide it",
                bytes.len()
            ),
        ));
    }
    let wide = |rest: &[u8], unit: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = rest
            .chunks(2)
            .map(|c| match c {
                [a, b] => unit([*a, *b]),
                // Half a letter at the end reads as no letter.
                _ => 0xD800,
            })
            .collect();
        String::from_utf16(&units).map_err(|_| fault(1, "the file is not whole UTF-16".to_owned()))
    };
    match (bytes, encoding) {
        ([0xFF, 0xFE, rest @ ..], _) => wide(rest, u16::from_le_bytes),
        ([0xFE, 0xFF, rest @ ..], _) => wide(rest, u16::from_be_bytes),
        (_, Encoding::Latin1) => Ok(bytes.iter().map(|b| char::from(*b)).collect()),
        (_, Encoding::Utf8) => {
            let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            std::str::from_utf8(bytes).map(str::to_owned).map_err(|e| {
                let before = bytes.get(..e.valid_up_to()).unwrap_or_default();
                let line = before.split(|b| *b == b'\n').count();
                fault(
                    line,
                    "a letter is not UTF-8; write encoding = \"latin-1\" where the logger stores one byte a letter".to_owned(),
                )
            })
        }
    }
}

/// The lines of a text as cells, from the line after `skip` on, each with its number.
pub(super) fn rows(
    text: &str,
    delimiter: char,
    comment: Option<char>,
    skip: usize,
) -> impl Iterator<Item = (u64, Result<StringRecord, String>)> + '_ {
    let mut rest = text;
    for _ in 0..skip {
        rest = rest.split_once('\n').map_or("", |(_, rest)| rest);
    }
    let byte = |c: char| u8::try_from(u32::from(c)).ok();
    let reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .delimiter(byte(delimiter).unwrap_or(b','))
        .comment(comment.and_then(byte))
        .from_reader(rest.as_bytes());
    let mut lines = LineNumbers {
        rest,
        comment,
        at: 0,
        line: u64::try_from(skip).unwrap_or(0) + 1,
    };
    reader.into_records().map(move |record| match record {
        Ok(r) => (lines.at(r.position()), Ok(r)),
        Err(e) => (
            lines.at(e.position()),
            Err("the line is no row of cells".to_owned()),
        ),
    })
}

// The numbers of lines as people count them. The reader of cells tells where it began to look for a row, which is before
// the empty lines and comments that it steps over.
struct LineNumbers<'t> {
    rest: &'t str,
    comment: Option<char>,
    at: usize,
    line: u64,
}

impl LineNumbers<'_> {
    fn at(&mut self, position: Option<&csv::Position>) -> u64 {
        let begun = position.map_or(self.at, |p| usize::try_from(p.byte()).unwrap_or(self.at));
        let to = |from: usize, until: usize| self.rest.get(from..until).unwrap_or_default();
        let mut line = self.line + count(to(self.at, begun));
        let mut here = begun;
        loop {
            let ahead = to(here, self.rest.len());
            let step = match ahead.chars().next() {
                Some('\n' | '\r') => 1,
                Some(c) if Some(c) == self.comment => ahead.find('\n').unwrap_or(ahead.len()),
                _ => break,
            };
            line += count(to(here, here + step));
            here += step;
        }
        (self.at, self.line) = (here, line);
        line
    }
}

fn count(text: &str) -> u64 {
    u64::try_from(text.bytes().filter(|b| *b == b'\n').count()).unwrap_or(0)
}

// The places of the columns that are read.
struct Columns {
    time: Vec<usize>,
    temperature: usize,
    humidity: Option<usize>,
    temperature_flag: Option<usize>,
    humidity_flag: Option<usize>,
    cells: usize,
}

impl Columns {
    // By a header, or by their places in the first line.
    fn of(shape: &FileShape, first: &StringRecord, line: u64) -> Result<Self, Vec<RowFault>> {
        let mut faults = Vec::new();
        let mut find = |column: &str| -> usize {
            let named: Vec<usize> = if shape.header {
                let names = first.iter().enumerate();
                names
                    .filter(|(_, n)| *n == column)
                    .map(|(i, _)| i)
                    .collect()
            } else {
                Vec::new()
            };
            let why = match (named.as_slice(), place(column)) {
                ([one], _) => return *one,
                ([], Some(at)) if at < first.len() => return at,
                ([], Some(_)) => {
                    format!("there is no column {column}; the line has {}", first.len())
                }
                ([], None) => {
                    let all: Vec<String> = first.iter().map(shown).collect();
                    format!(
                        "there is no column \"{}\"; there are {}",
                        shown(column),
                        all.join(", ")
                    )
                }
                (many, _) => format!(
                    "column \"{}\" stands {} times; write the place of the one that is meant, such as \"#{}\"",
                    shown(column),
                    many.len(),
                    many.first().map_or(0, |m| m + 1)
                ),
            };
            faults.push(RowFault { line, why });
            0
        };
        let columns = Self {
            time: shape.time.iter().map(|c| find(c)).collect(),
            temperature: find(&shape.temperature),
            humidity: shape.humidity.as_deref().map(&mut find),
            temperature_flag: shape.temperature_flag.as_deref().map(&mut find),
            humidity_flag: shape.humidity_flag.as_deref().map(&mut find),
            cells: first.len(),
        };
        if faults.is_empty() {
            Ok(columns)
        } else {
            Err(faults)
        }
    }
}

// One line: its time, which may be one of two, and what was read then.
struct Row {
    line: u64,
    at: Moment,
    or: Option<Moment>,
    decided: bool,
    temperature: Temperature,
    humidity: Option<Humidity>,
}

enum Line {
    Reading(Row),
    LeftOut(Oddity, String),
    /// It tells against the description, not against the line.
    Refuse(String),
}

/// Reads a file. `hold` is how long a reading of the room stands, beyond which nothing is known.
///
/// # Errors
/// Every line that does not read.
pub fn read(
    bytes: &[u8],
    logger: &Logger,
    shape: &FileShape,
    calendar: &Calendar,
    hold: Span,
) -> Result<Understood, Vec<RowFault>> {
    let text = decode(bytes, shape.encoding).map_err(|f| vec![f])?;
    let mut list = rows(
        &text,
        shape.delimiter.sign(),
        shape.comment,
        shape.skip_lines,
    )
    .peekable();
    let columns = match list.peek() {
        Some((line, Ok(first))) => Columns::of(shape, first, *line)?,
        Some((line, Err(why))) => {
            return Err(vec![RowFault {
                line: *line,
                why: why.clone(),
            }]);
        }
        None => {
            return Err(vec![RowFault {
                line: 1,
                why: "the file has no lines to read".to_owned(),
            }]);
        }
    };
    if shape.header {
        list.next();
    }
    let reader = Reader {
        logger,
        shape,
        zone: Zone::of(shape.zone, calendar),
        columns,
    };
    let mut out = Understood::default();
    let mut found: Vec<Row> = Vec::new();
    let mut refused = Vec::new();
    for (line, record) in list {
        if record.as_ref().is_ok_and(|r| r.iter().all(str::is_empty)) {
            continue;
        }
        out.lines += 1;
        let read = match &record {
            Ok(record) => reader.line(line, record),
            Err(why) => Line::LeftOut(Oddity::Unreadable, why.clone()),
        };
        match read {
            Line::Reading(row) => found.push(row),
            Line::LeftOut(Oddity::Unreadable, why) if shape.unreadable == Unreadable::Refuse => {
                refused.push(RowFault { line, why });
            }
            Line::LeftOut(oddity, why) => out.remarks.push(Remark { line, oddity, why }),
            Line::Refuse(why) => refused.push(RowFault { line, why }),
        }
        if let Some(why) = reader.dry(record.as_ref().ok(), &found, line) {
            out.remarks.push(Remark {
                line,
                oddity: Oddity::Dry,
                why,
            });
        }
    }
    if !refused.is_empty() {
        return Err(refused);
    }
    in_order(found, &reader.zone, calendar, hold, &mut out);
    Ok(out)
}

// The zone of a logger's clock.
enum Zone {
    Told,
    Ahead(i32),
    Changing(Calendar),
}

impl Zone {
    fn of(zone: Option<ClockZone>, calendar: &Calendar) -> Self {
        match zone {
            None => Self::Told,
            Some(ClockZone::Ahead(minutes)) => Self::Ahead(minutes),
            Some(ClockZone::Shop) => Self::Changing(*calendar),
            Some(ClockZone::Named(zone)) => Self::Changing(Calendar { zone, ..*calendar }),
        }
    }
}

struct Reader<'a> {
    logger: &'a Logger,
    shape: &'a FileShape,
    zone: Zone,
    columns: Columns,
}

impl Reader<'_> {
    fn line(&self, line: u64, record: &StringRecord) -> Line {
        if record.len() < self.columns.cells {
            return Line::LeftOut(
                Oddity::Unreadable,
                format!(
                    "{} cells where the first line has {}: it is cut, or another character parts cells",
                    record.len(),
                    self.columns.cells
                ),
            );
        }
        let moments = match self.time(record) {
            Ok(moments) => moments,
            Err(why) => return why,
        };
        let (at, or) = match moments.as_slice() {
            [one] => (*one, None),
            [a, b] => (*a, Some(*b)),
            _ => {
                return Line::Refuse(format!(
                    "no clock showed {}: the clock change skips it. This logger's clock does not change; write its offset as zone",
                    self.time_text(record)
                ));
            }
        };
        if self.flagged(record, self.columns.temperature_flag) {
            return Line::LeftOut(
                Oddity::Flagged,
                format!(
                    "temperature flagged {}",
                    Self::flag(record, self.columns.temperature_flag)
                ),
            );
        }
        let Some(text) = self.cell(record, self.columns.temperature) else {
            return Line::LeftOut(Oddity::Missing, "no temperature".to_owned());
        };
        let read = self.number(text).and_then(|t| {
            Temperature::read(&t, Some(self.logger.temperature_unit.word())).map_err(|e| told(&e))
        });
        let temperature = match read {
            Ok(t) => t,
            Err((oddity, why)) => return Line::LeftOut(oddity, why),
        };
        let humidity = match self.humidity(record) {
            Ok(h) => h,
            Err((Oddity::Unreadable, why)) => return Line::LeftOut(Oddity::Unreadable, why),
            // What cannot be is unknown; the temperature beside it was read all the same. `dry` says so.
            Err(_) => None,
        };
        Line::Reading(Row {
            line,
            at,
            or,
            decided: or.is_none(),
            temperature,
            humidity,
        })
    }

    // Why a line that counts has no humidity although the logger has one.
    fn dry(&self, record: Option<&StringRecord>, found: &[Row], line: u64) -> Option<String> {
        let (record, row) = (record?, found.last().filter(|r| r.line == line)?);
        if row.humidity.is_some() {
            return None;
        }
        self.columns.humidity?;
        Some(match self.humidity(record) {
            Err((_, why)) => why,
            Ok(_) if self.flagged(record, self.columns.humidity_flag) => {
                format!(
                    "humidity flagged {}",
                    Self::flag(record, self.columns.humidity_flag)
                )
            }
            Ok(_) => "no humidity".to_owned(),
        })
    }

    fn humidity(&self, record: &StringRecord) -> Result<Option<Humidity>, (Oddity, String)> {
        let (Some(column), Some(unit)) = (self.columns.humidity, self.logger.humidity_unit) else {
            return Ok(None);
        };
        let Some(text) = self.cell(record, column) else {
            return Ok(None);
        };
        if self.flagged(record, self.columns.humidity_flag) {
            return Ok(None);
        }
        let number = self.number(text)?;
        Humidity::read(&number, Some(unit.word()))
            .map(Some)
            .map_err(|e| told(&e))
    }

    fn cell<'r>(&self, record: &'r StringRecord, column: usize) -> Option<&'r str> {
        let text = record.get(column)?;
        let nothing = text.is_empty() || self.logger.missing.iter().any(|m| m == text);
        (!nothing).then_some(text)
    }

    fn flag(record: &StringRecord, column: Option<usize>) -> String {
        shown(column.and_then(|c| record.get(c)).unwrap_or_default())
    }

    fn flagged(&self, record: &StringRecord, column: Option<usize>) -> bool {
        column.is_some_and(|c| {
            let flag = record.get(c).unwrap_or_default();
            !self.shape.good.iter().any(|g| g == flag)
        })
    }

    // A number with a point.
    fn number(&self, text: &str) -> Result<String, (Oddity, String)> {
        match self.shape.decimal {
            Decimal::Point => Ok(text.to_owned()),
            Decimal::Comma if text.contains('.') => Err((
                Oddity::Unreadable,
                format!(
                    "\"{}\" has a point where a comma parts decimals",
                    shown(text)
                ),
            )),
            Decimal::Comma => Ok(text.replace(',', ".")),
        }
    }

    fn time_text(&self, record: &StringRecord) -> String {
        let cells: Vec<&str> = self
            .columns
            .time
            .iter()
            .filter_map(|c| record.get(*c))
            .collect();
        shown(&cells.join(" "))
    }

    fn time(&self, record: &StringRecord) -> Result<Vec<Moment>, Line> {
        let cells: Vec<&str> = self
            .columns
            .time
            .iter()
            .filter_map(|c| record.get(*c))
            .collect();
        let unreadable = |why: &str| {
            Line::LeftOut(
                Oddity::Unreadable,
                format!("time \"{}\" {why}", self.time_text(record)),
            )
        };
        let told = self
            .shape
            .form
            .told(&cells.join(" "))
            .ok_or_else(|| unreadable("is not of the form that the description says"))?;
        let moments = match (told, &self.zone) {
            (Told::Moment(m), _) => vec![m],
            (Told::Clock(t), Zone::Changing(calendar)) => calendar.moments_of(t),
            (Told::Clock(t), Zone::Ahead(minutes)) => {
                let ahead = Span::minutes(i64::from(*minutes));
                vec![Moment(t.and_utc().timestamp_millis()).minus(ahead)]
            }
            // A description without a zone has a form that bears one.
            (Told::Clock(t), Zone::Told) => vec![Moment(t.and_utc().timestamp_millis())],
        };
        if moments.iter().all(|m| Calendar::bears(*m)) {
            Ok(moments)
        } else {
            Err(unreadable("is outside the years 1970 to 2199"))
        }
    }
}

fn told(fault: &UnitFault) -> (Oddity, String) {
    let oddity = match fault {
        UnitFault::OutOfRange { .. } => Oddity::Impossible,
        _ => Oddity::Unreadable,
    };
    (oddity, fault.to_string())
}

// Decides times, sorts, and says what was not in order.
fn in_order(
    mut found: Vec<Row>,
    zone: &Zone,
    calendar: &Calendar,
    hold: Span,
    out: &mut Understood,
) {
    let steps = |rows: &[Row]| -> Vec<i64> {
        let pairs = rows.windows(2).filter_map(|w| match w {
            [a, b] if a.decided && b.decided => Some(b.at.since(a.at).0),
            _ => None,
        });
        pairs.collect()
    };
    let mut all = steps(&found);
    // Some loggers write the newest reading first.
    if all.iter().filter(|s| **s < 0).count() > all.iter().filter(|s| **s > 0).count() {
        found.reverse();
        all = steps(&found);
    }
    all.retain(|s| *s > 0);
    all.sort_unstable();
    out.step = all.get(all.len() / 2).copied().map(Span);
    // A neighbour tells which of two times is meant if it is one step away, with half a step to spare.
    let reach = Span(out.step.unwrap_or(hold).0.saturating_mul(3) / 2);
    decide(&mut found, reach);
    let mut rows: Vec<Row> = Vec::with_capacity(found.len());
    let mut latest: Option<(Moment, u64)> = None;
    for row in found {
        if !row.decided {
            out.remarks.push(Remark {
                line: row.line,
                oddity: Oddity::Undecided,
                why: "the clock change repeats this time, and no reading beside it tells which one it is"
                    .to_owned(),
            });
            continue;
        }
        match latest {
            Some((newest, _)) if row.at < newest => out.remarks.push(Remark {
                line: row.line,
                oddity: Oddity::OutOfOrder,
                why: "stands after a later reading; taken in its place".to_owned(),
            }),
            _ => latest = Some((row.at, row.line)),
        }
        rows.push(row);
    }
    rows.sort_by_key(|r| (r.at, r.line));
    let mut offset: Option<i32> = None;
    for row in rows {
        let sample = Sample {
            at: row.at,
            temperature: row.temperature,
            humidity: row.humidity,
        };
        let mut say = |oddity: Oddity, why: String| {
            out.remarks.push(Remark {
                line: row.line,
                oddity,
                why,
            });
        };
        if let Some((line, before)) = out.readings.last() {
            if before.at == row.at {
                if *before == sample {
                    say(Oddity::Repeated, "the same reading once more".to_owned());
                } else {
                    say(
                        Oddity::Another,
                        format!(
                            "another reading of the moment of line {line}; the first one counts"
                        ),
                    );
                }
                continue;
            }
            let since = row.at.since(before.at);
            if since > hold {
                say(
                    Oddity::Gap,
                    format!(
                        "nothing was read from {} to {} ({}): unknown",
                        calendar.full(before.at),
                        calendar.full(row.at),
                        since.words()
                    ),
                );
            }
        }
        if let Zone::Changing(theirs) = zone {
            let now = theirs.offset_min(row.at);
            if offset.is_some_and(|before| before != now) {
                say(
                    Oddity::ClockChange,
                    format!("the clock changed before {}", calendar.full(row.at)),
                );
            }
            offset = Some(now);
        }
        out.readings.push((row.line, sample));
    }
    out.remarks.sort_by_key(|r| r.line);
}

// A time that happens twice is the one that is a step away from its neighbour: first from the one before, then from the
// one after.
fn decide(rows: &mut [Row], reach: Span) {
    let near = |a: Moment, b: Moment| b > a && b.since(a) <= reach;
    let mut before: Option<Moment> = None;
    for row in rows.iter_mut() {
        if let (false, Some(or), Some(before)) = (row.decided, row.or, before) {
            if near(before, row.at) {
                row.decided = true;
            } else if near(before, or) {
                (row.at, row.decided) = (or, true);
            } else if row.at == before {
                // The same line once more.
                row.decided = true;
            } else if or == before {
                (row.at, row.decided) = (or, true);
            }
        }
        before = row.decided.then_some(row.at);
    }
    let mut after: Option<Moment> = None;
    for row in rows.iter_mut().rev() {
        if let (false, Some(or), Some(after)) = (row.decided, row.or, after) {
            if near(or, after) {
                (row.at, row.decided) = (or, true);
            } else if near(row.at, after) {
                row.decided = true;
            }
        }
        after = row.decided.then_some(row.at);
    }
}
