//! What a climate logger writes: its columns, units, times and zone, and what it sends to a broker. Described once for each
//! logger in a file that the shop adopts, as it adopts a sheet.
//!
//! ```toml
//! [logger]
//! code = "CURE-1"
//! revision = "2026-05"
//! room = "cure room"
//! temperature_unit = "F"            # C, F or K
//! humidity_unit = "%"               # % or fraction; left out: it has no humidity
//! missing = ["NA", "-9999.9"]       # what stands where it read nothing, besides an empty cell
//!
//! [file]
//! names = "cure-*.csv"              # its files in a watched folder
//! delimiter = "semicolon"           # comma, semicolon or tab
//! decimal = "comma"                 # point or comma
//! header = true                     # the first line names the columns; without it columns are "#1", "#2", ..
//! time = ["Date", "Time"]
//! time_format = "DD.MM.YYYY hh:mm:ss"
//! zone = "shop"                     # shop, a named zone, UTC, or an offset such as -07:00; left out where the time bears it
//! temperature = "Temp"
//! humidity = "RH"
//! temperature_flag = "Q"            # a reading counts where this column holds one of "good"
//! good = ["0"]
//!
//! [live]
//! topic = "rooms/cure"              # a plain number, or with "temperature" an object with named fields
//! temperature = "t"
//! humidity = "rh"
//! ```
//!
//! *Invariants*: an adopted revision never changes; nothing is guessed here; a format that could be read in two ways is refused.
//!
//! *Not here*: the files themselves and guessing from one (`feeds::logger`).

use super::faults::{Fault, Limits, Need, Table, read_file};
use super::words::{Word, words};
use crate::units::Moment;
use Need::{May, Must};
use chrono::format::{Parsed, StrftimeItems, parse};
use chrono::{DateTime, NaiveDateTime};
use chrono_tz::Tz;

words!(
    /// What parts the cells of a line.
    Delimiter {
        /// A comma.
        Comma = "comma",
        /// A semicolon.
        Semicolon = "semicolon",
        /// A tab.
        Tab = "tab",
    }
);

impl Delimiter {
    /// The character.
    pub const fn sign(self) -> char {
        match self {
            Self::Comma => ',',
            Self::Semicolon => ';',
            Self::Tab => '\t',
        }
    }
}

words!(
    /// What parts the whole of a number from its decimals.
    Decimal {
        /// A point.
        Point = "point",
        /// A comma.
        Comma = "comma",
    }
);

words!(
    /// How the letters of a file are stored.
    Encoding {
        /// UTF-8, or UTF-16 where the file begins with its mark.
        Utf8 = "utf-8",
        /// One byte a letter, Western.
        Latin1 = "latin-1",
    }
);

words!(
    /// What is done with a file that has a line that does not read.
    Unreadable {
        /// Nothing of the file is taken over.
        Refuse = "refuse the file",
        /// The line is left out and named.
        LeaveOut = "leave out",
    }
);

words!(
    /// Unit of a temperature that bears none.
    Degrees {
        /// Celsius.
        Celsius = "C",
        /// Fahrenheit.
        Fahrenheit = "F",
        /// Kelvin.
        Kelvin = "K",
    }
);

words!(
    /// Unit of a humidity that bears none.
    Damp {
        /// Percent.
        Percent = "%",
        /// A fraction of one.
        Fraction = "fraction",
    }
);

/// In which zone a logger's clock runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockZone {
    /// The shop's zone, with its clock changes.
    Shop,
    /// A named zone, with its clock changes.
    Named(Tz),
    /// So many minutes ahead of UTC, all year.
    Ahead(i32),
}

impl ClockZone {
    /// Reads `shop`, `UTC`, `-07:00` or the name of a zone.
    pub fn read(text: &str) -> Option<Self> {
        match text {
            "shop" => Some(Self::Shop),
            "UTC" => Some(Self::Ahead(0)),
            _ => match text.split_at_checked(1) {
                Some(("+", rest)) => minutes(rest).map(Self::Ahead),
                Some(("-", rest)) => minutes(rest).map(|m| Self::Ahead(-m)),
                _ => text.parse().ok().map(Self::Named),
            },
        }
    }
}

fn minutes(text: &str) -> Option<i32> {
    let (hours, minutes) = text.split_once(':')?;
    let digits = |t: &str| t.len() == 2 && t.chars().all(|c| c.is_ascii_digit());
    let (h, m): (i32, i32) = (
        hours.parse().ok().filter(|_| digits(hours))?,
        minutes.parse().ok().filter(|_| digits(minutes))?,
    );
    (h <= 14 && m < 60).then_some(h * 60 + m)
}

/// A time as a file's cells tell it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// One moment: the text bears its zone.
    Moment(Moment),
    /// What the logger's clock showed.
    Clock(NaiveDateTime),
}

/// How a logger writes its times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TimeForm {
    /// RFC 3339, with its offset.
    Rfc3339,
    /// Seconds since 1970 in UTC.
    Seconds,
    /// Milliseconds since 1970 in UTC.
    Milliseconds,
    /// By tokens, one group for each blank-parted word.
    Tokens(Vec<TimeWord>),
}

/// One word of a time form: what the reader is told, and how many digits a bare number there is filled up to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TimeWord {
    form: String,
    digits: Option<usize>,
    zoned: bool,
}

/// Tokens of a time form, the longer before those that they begin with.
const TOKENS: &[(&str, &str, usize)] = &[
    ("YYYY", "%Y", 4),
    ("YY", "%y", 2),
    ("MMM", "%b", 0),
    ("MM", "%m", 2),
    ("DDD", "%j", 3),
    ("DD", "%d", 2),
    ("hh", "%H", 2),
    ("mm", "%M", 2),
    ("ss", "%S%.f", 2),
    ("pm", "%p", 0),
    ("zone", "%#z", 0),
];

/// What the tokens of a time form are, for messages.
pub const TOKENS_TOLD: &str =
    "YYYY or YY, MM (number) or MMM (name), DD or DDD (day of the year), hh, mm, ss, pm, zone";

impl TimeForm {
    /// Reads a form such as `DD.MM.YYYY hh:mm`.
    ///
    /// # Errors
    /// What cannot be, as the end of a sentence.
    pub fn read(text: &str) -> Result<Self, String> {
        match text {
            "RFC 3339" => return Ok(Self::Rfc3339),
            "seconds" => return Ok(Self::Seconds),
            "milliseconds" => return Ok(Self::Milliseconds),
            _ => {}
        }
        let twelve = text.contains("pm");
        let mut seen: Vec<&str> = Vec::new();
        let mut words = Vec::new();
        for word in text.split_whitespace() {
            let mut form = String::new();
            let mut digits = Some(0);
            let mut rest = word;
            while let Some(first) = rest.chars().next() {
                let token = TOKENS.iter().find(|(t, ..)| rest.starts_with(t));
                if let Some((token, told, wide)) = token {
                    if seen.contains(token) {
                        return Err(format!("has {token} twice"));
                    }
                    seen.push(token);
                    form.push_str(if *token == "hh" && twelve { "%I" } else { told });
                    digits = digits.filter(|_| *wide > 0).map(|d| d + wide);
                    rest = rest.get(token.len()..).unwrap_or_default();
                } else if first.is_alphabetic() && !matches!(first, 'T' | 'Z') {
                    return Err(format!("has \"{first}\", which is no token"));
                } else {
                    form.push(first);
                    if first == '%' {
                        form.push('%');
                    }
                    digits = None;
                    rest = rest.get(first.len_utf8()..).unwrap_or_default();
                }
            }
            let zoned = form.contains("%#z");
            words.push(TimeWord {
                form,
                digits,
                zoned,
            });
        }
        let has = |any: &[&str]| any.iter().any(|t| seen.contains(t));
        for (any, what) in [
            (&["YYYY", "YY"][..], "a year"),
            (&["MM", "MMM", "DDD"], "a month"),
            (&["DD", "DDD"], "a day"),
            (&["hh"], "an hour"),
        ] {
            if !has(any) {
                return Err(format!("has no token for {what}"));
            }
        }
        Ok(Self::Tokens(words))
    }

    /// Whether the text itself says in which zone it is.
    pub fn bears_zone(&self) -> bool {
        match self {
            Self::Tokens(words) => words.iter().any(|w| w.zoned),
            _ => true,
        }
    }

    /// Reads a time of one text, or of several cells joined by blanks.
    pub fn told(&self, text: &str) -> Option<Told> {
        let whole = |per: i64| {
            let n: i64 = text.parse().ok()?;
            n.checked_mul(per).map(|n| Told::Moment(Moment(n)))
        };
        match self {
            Self::Rfc3339 => DateTime::parse_from_rfc3339(text)
                .ok()
                .map(|t| Told::Moment(Moment(t.timestamp_millis()))),
            Self::Seconds => whole(1_000),
            Self::Milliseconds => whole(1),
            Self::Tokens(words) => by_words(words, text),
        }
    }
}

// Each word of the form reads one word of the text, so that a day and a month cannot run into each other. A bare number
// that its logger wrote without leading zeros (5 for five past midnight under hhmm) is filled up.
fn by_words(words: &[TimeWord], text: &str) -> Option<Told> {
    let mut cells = text.split_whitespace();
    let mut parsed = Parsed::new();
    for word in words {
        let cell = cells.next()?;
        let bare = cell.chars().all(|c| c.is_ascii_digit());
        let cell = match word.digits {
            Some(wide) if bare && cell.len() < wide => format!("{cell:0>wide$}"),
            _ => cell.to_owned(),
        };
        parse(&mut parsed, &cell, StrftimeItems::new(&word.form)).ok()?;
    }
    if cells.next().is_some() {
        return None;
    }
    if parsed.minute().is_none() {
        parsed.set_minute(0).ok()?;
    }
    let offset = parsed.offset();
    let local = parsed.to_naive_datetime_with_offset(0).ok();
    match offset {
        None => local.map(Told::Clock),
        Some(_) => parsed
            .to_datetime()
            .ok()
            .map(|t| Told::Moment(Moment(t.timestamp_millis()))),
    }
}

/// The shape of a logger's files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileShape {
    /// Names of its files in a watched folder, `*` for any letters.
    pub names: Option<String>,
    /// What parts cells.
    pub delimiter: Delimiter,
    /// What parts decimals.
    pub decimal: Decimal,
    /// How letters are stored.
    pub encoding: Encoding,
    /// Lines before the header or the first reading.
    pub skip_lines: usize,
    /// Lines that begin so are no readings.
    pub comment: Option<char>,
    /// Whether a line names the columns.
    pub header: bool,
    /// The columns of the time.
    pub time: Vec<String>,
    /// How the time is written.
    pub form: TimeForm,
    /// Where the logger's clock runs; `None` where the time bears its zone.
    pub zone: Option<ClockZone>,
    /// The column of the temperature.
    pub temperature: String,
    /// The column of the humidity.
    pub humidity: Option<String>,
    /// The column that tells whether the temperature counts.
    pub temperature_flag: Option<String>,
    /// The column that tells whether the humidity counts.
    pub humidity_flag: Option<String>,
    /// What such a column holds where the reading counts.
    pub good: Vec<String>,
    /// What is done with a line that does not read.
    pub unreadable: Unreadable,
}

/// What a logger sends to a broker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LiveShape {
    /// The topic of its readings, or of its temperature.
    pub topic: String,
    /// The topic of its humidity, where that comes by itself as a plain number.
    pub humidity_topic: Option<String>,
    /// Fields of an object; `None` where the message is a plain number.
    pub fields: Option<Fields>,
}

/// Names of the fields in a message; a point leads into an object.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fields {
    /// The temperature.
    pub temperature: String,
    /// The humidity.
    pub humidity: Option<String>,
    /// The moment: RFC 3339, or seconds or milliseconds since 1970 in UTC. Without it a reading is of the moment at which it came.
    pub time: Option<String>,
}

/// One revision of a logger's description.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Logger {
    /// Its code.
    pub code: String,
    /// The revision of this description.
    pub revision: String,
    /// The room whose air it reads.
    pub room: String,
    /// Unit of its temperatures.
    pub temperature_unit: Degrees,
    /// Unit of its humidities, where it has any.
    pub humidity_unit: Option<Damp>,
    /// What stands where it read nothing.
    pub missing: Vec<String>,
    /// Its files.
    pub file: Option<FileShape>,
    /// What it sends.
    pub live: Option<LiveShape>,
}

impl Logger {
    /// `CURE-1 rev 2026-05`.
    pub fn label(&self) -> String {
        format!("{} rev {}", self.code, self.revision)
    }
}

/// A fact about loggers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LoggerFact {
    /// A description was adopted.
    Adopted {
        /// The logger's code.
        code: String,
        /// The revision of the description.
        revision: String,
        /// The description as it was read.
        text: String,
    },
    /// A file was taken over. Its readings came with the action's entry of the room's climate, where any were new.
    Took {
        /// The logger's code.
        code: String,
        /// The revision of the description by which it was read.
        revision: String,
        /// The room.
        room: String,
        /// Name of the file.
        file: String,
        /// SHA-256 of its bytes.
        sha256: String,
        /// Lines that are meant as readings.
        lines: u32,
        /// Lines that were left out.
        left_out: u32,
        /// Readings that the record had already.
        known: u32,
        /// Those of them that the record has otherwise.
        other: u32,
    },
}

const fn text(field: &'static str, high: i64, fix: &'static str) -> Limits {
    Limits {
        field,
        low: 1,
        high,
        unit: "",
        fix,
    }
}

const CODE: Limits = text(
    "code",
    20,
    "write a short code in double quotes, such as \"CURE-1\"",
);
const REVISION: Limits = text(
    "revision",
    40,
    "write the revision in double quotes, such as \"2026-05\"",
);
const ROOM: Limits = text("room", 30, "write the room whose air it reads");
const MISSING: Limits = text(
    "missing",
    20,
    "write what stands where it read nothing, such as [\"NA\", \"-9999.9\"]",
);
const NAMES: Limits = text(
    "names",
    80,
    "write the names of its files, such as \"cure-*.csv\"",
);
const COMMENT: Limits = text("comment", 1, "write one character, such as \"#\"");
const SKIP: Limits = Limits {
    field: "skip_lines",
    low: 0,
    high: 200,
    unit: "",
    fix: "write how many lines stand before the header or the first reading",
};
const TIME: Limits = text(
    "time",
    120,
    "write the column of the time, or several, such as [\"Date\", \"Time\"]",
);
const FORM: Limits = text(
    "time_format",
    60,
    "write the time's form, such as \"DD.MM.YYYY hh:mm:ss\", \"RFC 3339\" or \"seconds\"",
);
const ZONE: Limits = text(
    "zone",
    40,
    "write \"shop\", \"UTC\", an offset such as \"-07:00\", or a named zone such as \"America/Denver\"",
);
const TEMPERATURE: Limits = text(
    "temperature",
    120,
    "write the column or field of the temperature",
);
const HUMIDITY: Limits = text("humidity", 120, "write the column or field of the humidity");
const TEMPERATURE_FLAG: Limits = text("temperature_flag", 120, "write the column of the flag");
const HUMIDITY_FLAG: Limits = text("humidity_flag", 120, "write the column of the flag");
const GOOD: Limits = text(
    "good",
    20,
    "write what the flag holds where a reading counts, such as [\"0\"]",
);
const TOPIC: Limits = text("topic", 120, "write the topic, such as \"rooms/cure\"");
const HUMIDITY_TOPIC: Limits = text(
    "humidity_topic",
    120,
    "write the topic, such as \"rooms/cure/humidity\"",
);
const MESSAGE_TIME: Limits = text("time", 120, "write the field of the moment");

/// Reads a logger's description. `file_name` is what messages call the file.
///
/// # Errors
/// All faults of the file, in the order of their lines.
pub fn read(file_name: &str, text: &str) -> Result<Logger, Vec<Fault>> {
    read_file(file_name, text, logger)
}

fn logger(root: &Table<'_>) -> Option<Logger> {
    let head = root.table("logger", Must);
    let file_table = root.table("file", May);
    let live_table = root.table("live", May);
    root.done();
    if file_table.is_none() && live_table.is_none() && root.faults() == 0 {
        root.missing(
            "file",
            "a table [file] or [live]",
            "write the heading [file] for what it writes, or [live] for what it sends, and the lines below it",
        );
    }
    let head = head?;
    let code = head.code(&CODE, Must);
    let revision = head.text(&REVISION, Must);
    let whose = head.text(&ROOM, Must);
    let temperature_unit = head.word::<Degrees>("temperature_unit", Must);
    let humidity_unit = head.word::<Damp>("humidity_unit", May);
    let missing = head.texts(&MISSING, May);
    head.done();
    let file = file_table.as_ref().map(file_shape);
    let live = live_table.as_ref().map(live_shape);
    for (table, humid) in [
        (
            &file_table,
            file.as_ref()
                .is_some_and(|f| f.as_ref().is_some_and(|f| f.humidity.is_some())),
        ),
        (
            &live_table,
            live.as_ref()
                .is_some_and(|l| l.as_ref().is_some_and(LiveShape::has_humidity)),
        ),
    ] {
        if let (Some(table), true, false) = (table, humid, head.has("humidity_unit")) {
            table.contradiction(
                "humidity",
                "",
                "has no unit: [logger] says none".to_owned(),
                "write humidity_unit into [logger]",
            );
        }
    }
    Some(Logger {
        code: code?,
        revision: revision?,
        room: whose?,
        temperature_unit: temperature_unit?,
        humidity_unit,
        missing,
        file: match file {
            Some(shape) => Some(shape?),
            None => None,
        },
        live: match live {
            Some(shape) => Some(shape?),
            None => None,
        },
    })
}

fn file_shape(table: &Table<'_>) -> Option<FileShape> {
    let names = table.text(&NAMES, May);
    let delimiter = table.word::<Delimiter>("delimiter", Must);
    let decimal = table.word::<Decimal>("decimal", May);
    let encoding = table.word::<Encoding>("encoding", May);
    let skip_lines = table.whole(&SKIP, May);
    let comment = table.text(&COMMENT, May);
    let header = table.flag("header");
    let time = table.texts(&TIME, Must);
    let form_text = table.text(&FORM, Must);
    let form = form_text.as_deref().map(TimeForm::read);
    if let (Some(text), Some(Err(why))) = (form_text.as_deref(), &form) {
        table.contradiction(
            "time_format",
            text,
            format!("{why}; tokens are {TOKENS_TOLD}"),
            "write such as \"DD.MM.YYYY hh:mm:ss\", \"RFC 3339\" or \"seconds\"",
        );
    }
    let form = form.and_then(Result::ok);
    let zone_text = table.text(&ZONE, May);
    let zone = zone_text.as_deref().map(ClockZone::read);
    match (&form, &zone_text, zone) {
        (_, Some(text), Some(None)) => {
            table.contradiction("zone", text, "is no zone".to_owned(), ZONE.fix);
        }
        (Some(form), Some(text), _) if form.bears_zone() => table.contradiction(
            "zone",
            text,
            "stands beside a time that bears its zone".to_owned(),
            "take the line out",
        ),
        (Some(form), None, _) if !form.bears_zone() && !table.has("zone") => {
            table.missing("zone", "the zone in which its clock runs", ZONE.fix);
        }
        _ => {}
    }
    let temperature = table.text(&TEMPERATURE, Must);
    let humidity = table.text(&HUMIDITY, May);
    let temperature_flag = table.text(&TEMPERATURE_FLAG, May);
    let humidity_flag = table.text(&HUMIDITY_FLAG, May);
    let flagged = table.has("temperature_flag") || table.has("humidity_flag");
    let good = table.texts(&GOOD, if flagged { Must } else { May });
    let unreadable = table.word::<Unreadable>("unreadable", May);
    table.done();
    if let (Some(Delimiter::Comma), Some(Decimal::Comma)) = (delimiter, decimal) {
        table.contradiction(
            "decimal",
            "comma",
            "parts cells and decimals alike".to_owned(),
            "write what parts the cells: semicolon or tab",
        );
    }
    if !header {
        let columns = time.iter().map(|t| ("time", t));
        let more = [
            ("temperature", &temperature),
            ("humidity", &humidity),
            ("temperature_flag", &temperature_flag),
            ("humidity_flag", &humidity_flag),
        ];
        let more = more.iter().filter_map(|(f, t)| Some((*f, t.as_ref()?)));
        for (field, column) in columns.chain(more).filter(|(_, c)| place(c).is_none()) {
            table.contradiction(
                field,
                column,
                "is a name, and the file has no header".to_owned(),
                "write the column by its place, such as \"#2\", or header = true",
            );
        }
    }
    Some(FileShape {
        names,
        delimiter: delimiter?,
        decimal: decimal.unwrap_or(Decimal::Point),
        encoding: encoding.unwrap_or(Encoding::Utf8),
        skip_lines: skip_lines.map_or(0, |n| usize::try_from(n).unwrap_or(0)),
        comment: comment.and_then(|c| c.chars().next()),
        header,
        time,
        form: form?,
        zone: zone.flatten(),
        temperature: temperature?,
        humidity,
        temperature_flag,
        humidity_flag,
        good,
        unreadable: unreadable.unwrap_or(Unreadable::Refuse),
    })
}

/// The place of a column that is written as `#2`, counted from 0.
pub fn place(column: &str) -> Option<usize> {
    column
        .strip_prefix('#')?
        .parse::<usize>()
        .ok()
        .filter(|n| (1..=1_000).contains(n))
        .map(|n| n - 1)
}

impl FileShape {
    /// Whether a file of this name in a watched folder is one of this logger's.
    pub fn writes(&self, name: &str) -> bool {
        self.names.as_deref().is_some_and(|form| fits(form, name))
    }
}

// A form with any number of `*`, each for any letters.
fn fits(form: &str, name: &str) -> bool {
    let mut parts = form.split('*');
    let Some(mut rest) = parts.next().and_then(|first| name.strip_prefix(first)) else {
        return false;
    };
    let mut parts = parts.peekable();
    if parts.peek().is_none() {
        return rest.is_empty();
    }
    while let Some(part) = parts.next() {
        if parts.peek().is_none() {
            return rest.ends_with(part);
        }
        match rest.find(part).and_then(|at| rest.get(at + part.len()..)) {
            Some(after) => rest = after,
            None => return false,
        }
    }
    true
}

impl LiveShape {
    fn has_humidity(&self) -> bool {
        self.humidity_topic.is_some() || self.fields.as_ref().is_some_and(|f| f.humidity.is_some())
    }
}

fn live_shape(table: &Table<'_>) -> Option<LiveShape> {
    let topic = table.text(&TOPIC, Must);
    let humidity_topic = table.text(&HUMIDITY_TOPIC, May);
    let temperature = table.text(&TEMPERATURE, May);
    let humidity = table.text(&HUMIDITY, May);
    let time = table.text(&MESSAGE_TIME, May);
    table.done();
    for (field, text) in [("topic", &topic), ("humidity_topic", &humidity_topic)] {
        if let Some(text) = text.as_ref().filter(|t| t.contains(['+', '#'])) {
            table.contradiction(
                field,
                text,
                "stands for many topics".to_owned(),
                "write the one topic of this logger",
            );
        }
    }
    if temperature.is_none() && (humidity.is_some() || time.is_some()) && !table.has("temperature")
    {
        table.missing(
            "temperature",
            "the field of the temperature",
            "write it, or take the other fields out: then a message is a plain number",
        );
    }
    if let (Some(_), Some(topic)) = (&temperature, &humidity_topic) {
        table.contradiction(
            "humidity_topic",
            topic,
            "stands beside fields of one message".to_owned(),
            "write the field as humidity, or take the fields out",
        );
    }
    if let (Some(a), Some(b)) = (&topic, &humidity_topic)
        && a == b
    {
        table.contradiction(
            "humidity_topic",
            b,
            "is the topic of the temperature".to_owned(),
            "write the topic of the humidity",
        );
    }
    Some(LiveShape {
        topic: topic?,
        humidity_topic,
        fields: temperature.map(|temperature| Fields {
            temperature,
            humidity,
            time,
        }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(form: &str, text: &str) -> Option<String> {
        match TimeForm::read(form).unwrap().told(text)? {
            Told::Clock(t) => Some(t.to_string()),
            Told::Moment(m) => Some(m.0.to_string()),
        }
    }

    #[test]
    fn times_read_as_their_form_says_and_in_no_other_way() {
        for (form, text, wanted) in [
            (
                "DD.MM.YYYY hh:mm",
                "05.03.2026 7:08",
                Some("2026-03-05 07:08:00"),
            ),
            (
                "MM/DD/YY hh:mm:ss pm",
                "3/5/26 12:00:01 AM",
                Some("2026-03-05 00:00:01"),
            ),
            ("YYYY DDD hhmm", "2018 291 5", Some("2018-10-18 00:05:00")),
            (
                "YYYY DDD hhmm",
                "2018 291 2359",
                Some("2018-10-18 23:59:00"),
            ),
            ("YYYY MM DD hh", "2013 1 1 4", Some("2013-01-01 04:00:00")),
            (
                "YYYY-MM-DDThh:mm:ss",
                "2026-03-05T07:08:09.5",
                Some("2026-03-05 07:08:09.500"),
            ),
            (
                "DD-MMM-YYYY hh:mm",
                "05-Mar-2026 07:08",
                Some("2026-03-05 07:08:00"),
            ),
            (
                "YYYY-MM-DD hh:mm zone",
                "1970-01-01 01:00 +01:00",
                Some("0"),
            ),
            ("RFC 3339", "1970-01-01T00:00:01Z", Some("1000")),
            ("seconds", "60", Some("60000")),
            ("DD.MM.YYYY hh:mm", "2026-03-05 07:08", None),
            ("DD.MM.YYYY hh:mm", "05.13.2026 07:08", None),
            ("DD.MM.YYYY hh:mm", "05.03.2026 07:08 x", None),
            ("YYYY DDD hhmm", "2018 291 2400", None),
        ] {
            assert_eq!(clock(form, text).as_deref(), wanted, "{form} {text}");
        }
        for form in [
            "hh:mm",
            "YYYY-MM-DD",
            "DD.MM.YYYY HH:mm",
            "YYYY YYYY MM DD hh",
            "",
        ] {
            assert!(TimeForm::read(form).is_err(), "{form}");
        }
    }

    #[test]
    fn names_fit_by_their_stars() {
        for (form, name, wanted) in [
            ("cure-*.csv", "cure-05.csv", true),
            ("cure-*.csv", "cure-.csv", true),
            ("cure-*.csv", "cure-05.csv.part", false),
            ("cure-*.csv", "booth-05.csv", false),
            ("a*b*a", "aba", true),
            ("a*a", "a", false),
            ("a.csv", "a.csv", true),
            ("a.csv", "a.csvx", false),
            ("*", "", true),
        ] {
            assert_eq!(fits(form, name), wanted, "{form} {name}");
        }
    }

    #[test]
    fn zones_are_the_shops_a_name_or_an_offset() {
        assert_eq!(ClockZone::read("-07:00"), Some(ClockZone::Ahead(-420)));
        assert_eq!(ClockZone::read("+05:30"), Some(ClockZone::Ahead(330)));
        assert_eq!(ClockZone::read("UTC"), Some(ClockZone::Ahead(0)));
        assert!(matches!(
            ClockZone::read("America/Denver"),
            Some(ClockZone::Named(_))
        ));
        for none in ["MST7", "-7", "+25:00", "-07:0", "", "+"] {
            assert_eq!(ClockZone::read(none), None, "{none}");
        }
    }

    const WHOLE: &str = "[logger]\ncode = \"C-1\"\nrevision = \"1\"\nroom = \"cure room\"\ntemperature_unit = \"F\"\n\
        humidity_unit = \"%\"\n\n[file]\ndelimiter = \"semicolon\"\ndecimal = \"comma\"\nheader = true\n\
        time = [\"Date\", \"Time\"]\ntime_format = \"DD.MM.YYYY hh:mm\"\nzone = \"shop\"\ntemperature = \"T\"\nhumidity = \"RH\"\n";

    #[test]
    fn a_description_reads_and_each_fault_is_named_with_its_line() {
        let logger = read("c.toml", WHOLE).unwrap();
        assert_eq!(logger.label(), "C-1 rev 1");
        let file = logger.file.unwrap();
        assert_eq!(
            (file.delimiter, file.decimal),
            (Delimiter::Semicolon, Decimal::Comma)
        );
        let told = |from: &str, to: &str| {
            let faults = read("c.toml", &WHOLE.replace(from, to)).unwrap_err();
            faults
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join("\n")
        };
        for (from, to, wanted) in [
            (
                "\"semicolon\"",
                "\"comma\"",
                "c.toml:10: file, decimal: \"comma\" parts cells and decimals alike",
            ),
            (
                "zone = \"shop\"\n",
                "",
                "c.toml:8: file, zone: nothing written where the zone in which its clock runs is needed",
            ),
            (
                "\"shop\"",
                "\"Mars/Base\"",
                "c.toml:14: file, zone: \"Mars/Base\" is no zone",
            ),
            (
                "DD.MM.YYYY hh:mm",
                "RFC 3339",
                "file, zone: \"shop\" stands beside a time that bears its zone",
            ),
            ("DD.MM.YYYY hh:mm", "DD.MM.YYYY", "has no token for an hour"),
            (
                "header = true\n",
                "",
                "c.toml:11: file, time: \"Date\" is a name, and the file has no header",
            ),
            (
                "humidity_unit = \"%\"\n",
                "",
                "file, humidity: nothing written has no unit",
            ),
            (
                "temperature = \"T\"",
                "temperature = \"T\"\nhumidty_flag = \"Q\"",
                "the nearest known key is \"humidity_flag\"",
            ),
        ] {
            assert!(
                told(from, to).contains(wanted),
                "{wanted}\n{}",
                told(from, to)
            );
        }
        let bare =
            "[logger]\ncode = \"C-1\"\nrevision = \"1\"\nroom = \"r\"\ntemperature_unit = \"C\"\n";
        let none = read("c.toml", bare).unwrap_err();
        assert!(
            none[0]
                .to_string()
                .contains("a table [file] or [live] is needed"),
            "{}",
            none[0]
        );
        let live = format!("{bare}\n[live]\ntopic = \"rooms/+\"\n");
        assert!(
            read("c.toml", &live).unwrap_err()[0]
                .to_string()
                .contains("stands for many topics")
        );
    }
}
