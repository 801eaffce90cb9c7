//! What a logger's file looks like: a description to look through and to adopt. What the file does not tell stays a question in
//! it, so that a guess alone is never adopted.
//!
//! *Invariants*: nothing is taken over by a guess; the description that is printed is the one by which the rows beside it were read.
//!
//! *Not here*: reading a file by a description that is known (`file`).

use super::file::{decode, rows};
use crate::ledger::RowFault;
use crate::shop::calendar::Calendar;
use crate::shop::logger_file::{
    self, ClockZone, Decimal, Degrees, Delimiter, Encoding, Logger, TimeForm, Told,
};
use crate::shop::text::shown;
use crate::shop::words::Word;
use csv::StringRecord;
use std::collections::BTreeMap;

/// Most lines that a guess looks at.
const LOOKED_AT: usize = 2_000;

/// What a person says beforehand; it is no guess then.
#[derive(Debug, Clone, Default)]
pub struct Said {
    /// The logger's code.
    pub code: Option<String>,
    /// The room.
    pub room: Option<String>,
    /// The zone of its clock.
    pub zone: Option<String>,
    /// The unit of its temperatures.
    pub unit: Option<Degrees>,
}

/// A guess.
#[derive(Debug, Clone)]
pub struct Guess {
    /// The description, with a question wherever the file does not tell.
    pub toml: String,
    /// The same with the likelier answer to each question: only for showing how the file would read.
    pub as_if: Logger,
    /// The questions.
    pub open: Vec<String>,
}

/// A line of the description.
struct Line {
    key: &'static str,
    value: String,
    /// What the file does not tell; the line stands as a comment then.
    question: Option<String>,
}

/// Guesses the description of a file.
///
/// # Errors
/// Why nothing can be made of it.
pub fn guess(bytes: &[u8], said: &Said) -> Result<Guess, RowFault> {
    let (text, encoding) = match decode(bytes, Encoding::Utf8) {
        Ok(text) => (text, Encoding::Utf8),
        Err(_) => (decode(bytes, Encoding::Latin1)?, Encoding::Latin1),
    };
    let sheet = Sheet::of(&text).ok_or_else(|| RowFault {
        line: 1,
        why: "no two cells are parted by a comma, a semicolon or a tab in most of the lines"
            .to_owned(),
    })?;
    let missing = |what: &str| RowFault {
        line: sheet.first,
        why: format!("no column reads as {what}; write the description by hand"),
    };
    let times = sheet.times();
    let time = times.first().ok_or_else(|| missing("a time"))?;
    let temperature = sheet
        .temperature(&time.columns)
        .ok_or_else(|| missing("a temperature"))?;
    let humidity = sheet.humidity(&time.columns, temperature);

    let mut head = vec![
        Line::told("code", said.code.as_deref().unwrap_or("LOGGER-1")),
        Line::told("revision", "1"),
        match &said.room {
            Some(room) => Line::told("room", room),
            None => Line::asked("room", "cure room", "whose air does it read?"),
        },
    ];
    let name = sheet.name(temperature);
    head.push(match (said.unit, unit_named(&name)) {
        (Some(unit), _) | (None, Some(unit)) => Line::told("temperature_unit", unit.word()),
        (None, None) => {
            let middle = sheet.median(temperature);
            let likely = match middle {
                m if m > 200.0 => Degrees::Kelvin,
                m if m > 45.0 => Degrees::Fahrenheit,
                _ => Degrees::Celsius,
            };
            Line::asked(
                "temperature_unit",
                likely.word(),
                &format!("C, F or K? The file does not say; the middle one of its temperatures is {middle}"),
            )
        }
    });
    if let Some(h) = humidity {
        let unit = if sheet.highest(h) <= 1.0 {
            "fraction"
        } else {
            "%"
        };
        head.push(Line::told("humidity_unit", unit));
    }
    let nothing = sheet.sentinels(&[Some(temperature), humidity]);

    let mut file = vec![Line::told("delimiter", sheet.delimiter.word())];
    let decimal = sheet.decimal();
    if decimal == Decimal::Comma {
        file.push(Line::told("decimal", decimal.word()));
    }
    if encoding == Encoding::Latin1 {
        file.push(Line::told("encoding", encoding.word()));
    }
    file.push(Line::list(
        "time",
        &time
            .columns
            .iter()
            .map(|c| sheet.column(*c))
            .collect::<Vec<_>>(),
    ));
    let others: Vec<&str> = times
        .iter()
        .skip(1)
        .filter(|t| t.columns == time.columns && t.span < time.span.saturating_mul(5))
        .map(|t| t.form.as_str())
        .collect();
    file.push(if others.is_empty() {
        Line::told("time_format", &time.form)
    } else {
        Line::asked(
            "time_format",
            &time.form,
            &format!("or {}? The file reads both ways", others.join(", ")),
        )
    });
    if !time.bears_zone {
        let named: Vec<String> = time.columns.iter().map(|c| sheet.name(*c)).collect();
        file.push(match (&said.zone, zone_named(&named.join(" "))) {
            (Some(zone), _) => Line::told("zone", zone),
            (None, Some(zone)) => Line::told("zone", zone),
            (None, None) => Line::asked(
                "zone",
                "shop",
                "where does its clock run, and does it change in spring? shop, UTC, an offset such as -05:00, or a named zone",
            ),
        });
    }
    file.push(Line::told("temperature", &sheet.column(temperature)));
    let mut flagged = false;
    if let Some(flag) = sheet.flag(temperature, &["temp", "air_t"]) {
        file.push(Line::told("temperature_flag", &sheet.column(flag)));
        flagged = true;
    }
    if let Some(h) = humidity {
        file.push(Line::told("humidity", &sheet.column(h)));
        if let Some(flag) = sheet.flag(h, &["rh", "hum"]) {
            file.push(Line::told("humidity_flag", &sheet.column(flag)));
            flagged = true;
        }
    }
    if flagged {
        file.push(Line {
            question: Some("which values of the flags count?".to_owned()),
            ..Line::list("good", &["0".to_owned()])
        });
    }
    let write = |asked: bool| {
        let mut text = String::from("[logger]\n");
        for line in &head {
            line.write(&mut text, asked);
        }
        if !nothing.is_empty() {
            Line::list("missing", &nothing).write(&mut text, asked);
        }
        text.push_str("\n[file]\n");
        for line in &file {
            line.write(&mut text, asked);
        }
        if sheet.skip > 0 {
            text.push_str(&format!("skip_lines = {}\n", sheet.skip));
        }
        text.push_str(&format!("header = {}\n", sheet.header));
        text
    };
    let as_if = logger_file::read("the guess", &write(false)).map_err(|faults| RowFault {
        line: sheet.first,
        why: faults.first().map_or_else(String::new, ToString::to_string),
    })?;
    let open = head.iter().chain(&file);
    let open = open.filter_map(|l| Some(format!("{}: {}", l.key, l.question.as_ref()?)));
    Ok(Guess {
        toml: write(true),
        as_if,
        open: open.collect(),
    })
}

fn quoted(text: &str) -> String {
    // A text of JSON without control characters is one of TOML.
    serde_json::Value::from(text).to_string()
}

impl Line {
    fn told(key: &'static str, value: &str) -> Self {
        Self {
            key,
            value: quoted(value),
            question: None,
        }
    }

    fn list(key: &'static str, values: &[String]) -> Self {
        let values: Vec<String> = values.iter().map(|v| quoted(v)).collect();
        Self {
            key,
            value: format!("[{}]", values.join(", ")),
            question: None,
        }
    }

    fn asked(key: &'static str, likely: &str, question: &str) -> Self {
        Self {
            question: Some(question.to_owned()),
            ..Self::told(key, likely)
        }
    }

    fn write(&self, text: &mut String, asked: bool) {
        match self.question.as_ref().filter(|_| asked) {
            Some(question) => {
                text.push_str(&format!("# {question}\n# {} = {}\n", self.key, self.value));
            }
            None => text.push_str(&format!("{} = {}\n", self.key, self.value)),
        }
    }
}

// The lines of a file that hold readings, and how their cells are parted.
struct Sheet {
    delimiter: Delimiter,
    skip: usize,
    header: bool,
    first: u64,
    names: Vec<String>,
    data: Vec<StringRecord>,
    cells: usize,
}

// Ways to write a date and a time of day, for guessing.
const DATES: &[&str] = &[
    "YYYY-MM-DD",
    "YYYY/MM/DD",
    "YYYY.MM.DD",
    "DD.MM.YYYY",
    "DD.MM.YY",
    "DD/MM/YYYY",
    "MM/DD/YYYY",
    "DD/MM/YY",
    "MM/DD/YY",
    "DD-MM-YYYY",
    "MM-DD-YYYY",
    "DD-MMM-YYYY",
    "DD MMM YYYY",
    "YYYYMMDD",
];
const CLOCKS: &[&str] = &[
    "hh:mm:ss",
    "hh:mm",
    "hh:mm:ss pm",
    "hh:mm pm",
    "hhmm",
    "hhmmss",
];

// A way to read the time.
struct Time {
    columns: Vec<usize>,
    form: String,
    bears_zone: bool,
    span: i64,
}

fn number(text: &str) -> Option<f64> {
    let plain = text
        .chars()
        .all(|c| c.is_ascii_digit() || "+-.,".contains(c));
    let digits = text.chars().any(|c| c.is_ascii_digit());
    if plain && digits {
        text.replace(',', ".").parse().ok()
    } else {
        None
    }
}

impl Sheet {
    fn of(text: &str) -> Option<Self> {
        let mut best: Option<(Delimiter, usize)> = None;
        for delimiter in [Delimiter::Tab, Delimiter::Semicolon, Delimiter::Comma] {
            let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
            let mut all = 0;
            for (_, row) in rows(text, delimiter.sign(), None, 0).take(LOOKED_AT) {
                all += 1;
                if let Ok(row) = row {
                    *counts.entry(row.len()).or_default() += 1;
                }
            }
            let usual = counts.into_iter().max_by_key(|(_, n)| *n);
            if let Some((cells, n)) = usual.filter(|(cells, _)| *cells > 1)
                && best.is_none()
                && n * 10 >= all * 6
            {
                best = Some((delimiter, cells));
            }
        }
        let (delimiter, cells) = best?;
        let mut list = rows(text, delimiter.sign(), None, 0)
            .take(LOOKED_AT)
            .filter_map(|(line, row)| Some((line, row.ok()?)))
            .filter(|(_, row)| row.len() == cells);
        let (first, row) = list.next()?;
        let header = row.iter().all(|c| number(c).is_none())
            && row
                .iter()
                .filter(|c| c.chars().any(char::is_alphabetic))
                .count()
                * 2
                > cells;
        let mut data: Vec<StringRecord> = list.map(|(_, row)| row).collect();
        let names = if header {
            row.iter().map(str::to_owned).collect()
        } else {
            data.insert(0, row);
            Vec::new()
        };
        Some(Self {
            delimiter,
            skip: usize::try_from(first.saturating_sub(1)).unwrap_or(0),
            header,
            first,
            names,
            data,
            cells,
        })
    }

    // A column as the description writes it: by its name where that stands once and holds nothing odd.
    fn column(&self, at: usize) -> String {
        match self.names.get(at) {
            Some(name)
                if !name.is_empty()
                    && *name == shown(name)
                    && self.names.iter().filter(|n| *n == name).count() == 1 =>
            {
                name.clone()
            }
            _ => format!("#{}", at + 1),
        }
    }

    fn name(&self, at: usize) -> String {
        self.names
            .get(at)
            .map_or_else(String::new, |n| n.to_lowercase())
    }

    fn named(&self, wanted: &[&str]) -> Option<usize> {
        (0..self.cells).find(|c| wanted.contains(&self.name(*c).as_str()))
    }

    fn values(&self, at: usize) -> impl Iterator<Item = f64> + '_ {
        self.data
            .iter()
            .filter_map(move |row| number(row.get(at)?))
            .filter(|v| (-99.0..=999.0).contains(v))
    }

    fn median(&self, at: usize) -> f64 {
        let mut all: Vec<f64> = self.values(at).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or(0.0)
    }

    fn highest(&self, at: usize) -> f64 {
        self.values(at).fold(f64::MIN, f64::max)
    }

    fn numeric(&self, at: usize) -> bool {
        let cells = self.data.iter().filter_map(|row| row.get(at));
        let (all, numbers) = cells.filter(|c| !c.is_empty()).fold((0, 0), |(all, n), c| {
            (all + 1, n + usize::from(number(c).is_some()))
        });
        all > 0 && numbers * 2 > all
    }

    fn decimal(&self) -> Decimal {
        let with = |sign: char| {
            let cells = self.data.iter().flat_map(StringRecord::iter);
            cells
                .filter(|c| c.contains(sign) && number(c).is_some())
                .count()
        };
        if self.delimiter != Delimiter::Comma && with(',') > with('.') {
            Decimal::Comma
        } else {
            Decimal::Point
        }
    }

    fn flag_column(&self, at: usize) -> bool {
        let name = self.name(at);
        name.starts_with("qc") || name.contains("flag") || name.contains("quality")
    }

    // The flag of a column: named after it, or beside it.
    fn flag(&self, of: usize, named: &[&str]) -> Option<usize> {
        let mut flags = (0..self.cells).filter(|c| self.flag_column(*c));
        flags.find(|c| *c == of + 1 || named.iter().any(|n| self.name(*c).contains(n)))
    }

    fn temperature(&self, time: &[usize]) -> Option<usize> {
        let scored = (0..self.cells)
            .filter(|c| !time.contains(c) && !self.flag_column(*c) && self.numeric(*c))
            .map(|c| {
                let name = self.name(c);
                let has = |any: &[&str]| any.iter().any(|w| name.contains(w));
                let mut score = 0;
                if has(&["temp", "°c", "°f", "deg c", "deg f"]) || name == "t" {
                    score += 4;
                }
                if has(&["air", "room", "ambient"]) {
                    score += 2;
                }
                if has(&[
                    "dew", "board", "logger", "batt", "wet", "soil", "hum", "press", "wind",
                ]) {
                    score -= 6;
                }
                (c, score)
            });
        // Without a header the first column of numbers that are not all whole.
        if self.header {
            let best = scored.rev().max_by_key(|(_, score)| *score)?;
            (best.1 > 0).then_some(best.0)
        } else {
            scored.map(|(c, _)| c).find(|c| {
                let mut cells = self.data.iter().filter_map(|row| row.get(*c));
                cells.any(|cell| cell.contains(['.', ',']))
            })
        }
    }

    fn humidity(&self, time: &[usize], temperature: usize) -> Option<usize> {
        let mut others = (0..self.cells).filter(|c| {
            *c != temperature && !time.contains(c) && !self.flag_column(*c) && self.numeric(*c)
        });
        if self.header {
            others.find(|c| {
                let name = self.name(*c);
                name.contains("hum")
                    || name.starts_with("rh")
                    || name.contains("%rh")
                    || name.contains(" rh")
            })
        } else {
            others.find(|c| *c > temperature && self.values(*c).all(|v| (0.0..=100.0).contains(&v)))
        }
    }

    // What stands where nothing was read: words, and numbers that no air has.
    fn sentinels(&self, columns: &[Option<usize>]) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        for cell in columns
            .iter()
            .flatten()
            .flat_map(|c| self.data.iter().filter_map(|row| row.get(*c)))
        {
            let odd = number(cell).map_or(!cell.is_empty(), |v| v <= -99.0 || v >= 999.0);
            let word = cell.chars().count() <= 20 && !cell.chars().any(char::is_whitespace);
            if odd && word && *cell == *shown(cell) && !out.iter().any(|o| o == cell) {
                out.push(cell.to_owned());
            }
        }
        out.truncate(6);
        out
    }

    // The ways in which the times of all lines read, the likeliest first: those that bear their zone, then those whose
    // readings lie closest together.
    fn times(&self) -> Vec<Time> {
        let mut found: Vec<Time> = Vec::new();
        let mut tried = |columns: Vec<usize>, form: &str| {
            if let Some(span) = self.span(&columns, form) {
                let bears_zone = TimeForm::read(form).is_ok_and(|f| f.bears_zone());
                found.push(Time {
                    columns,
                    form: form.to_owned(),
                    bears_zone,
                    span,
                });
            }
        };
        for c in 0..self.cells {
            tried(vec![c], "RFC 3339");
            for date in DATES {
                for clock in CLOCKS {
                    tried(vec![c], &format!("{date} {clock}"));
                    tried(vec![c], &format!("{date}T{clock}"));
                    if c + 1 < self.cells {
                        tried(vec![c, c + 1], &format!("{date} {clock}"));
                    }
                }
            }
            let name = self.name(c);
            if name.contains("unix") || name.contains("epoch") || name.contains("timestamp") {
                tried(vec![c], "seconds");
                tried(vec![c], "milliseconds");
            }
        }
        // Parts in columns of their own, by their names.
        if let Some(year) = self.named(&["year", "yyyy"]) {
            let day = match (
                self.named(&["month", "mon"]),
                self.named(&["day"]),
                self.named(&["doy", "jday", "day of year"]),
            ) {
                (Some(m), Some(d), _) => Some((vec![year, m, d], "YYYY MM DD")),
                (_, _, Some(doy)) => Some((vec![year, doy], "YYYY DDD")),
                _ => None,
            };
            if let Some((columns, form)) = day {
                let hour = (0..self.cells).find(|c| self.name(*c).starts_with("hour"));
                let minute = self.named(&["minute", "min"]);
                let with = |more: &[usize]| -> Vec<usize> {
                    columns.iter().chain(more).copied().collect()
                };
                match (hour, minute) {
                    (Some(h), Some(m)) => tried(with(&[h, m]), &format!("{form} hh mm")),
                    (Some(h), None) => tried(with(&[h]), &format!("{form} hh")),
                    (None, _) => {
                        if let Some(next) =
                            columns.last().map(|c| c + 1).filter(|c| *c < self.cells)
                        {
                            tried(with(&[next]), &format!("{form} hhmm"));
                        }
                    }
                }
            }
        }
        found.sort_by_key(|t| (!t.bears_zone, t.span));
        found
    }

    // How far the first and the last time lie apart, if all lines read so and their times differ.
    fn span(&self, columns: &[usize], form: &str) -> Option<i64> {
        let form = TimeForm::read(form).ok()?;
        let (mut low, mut high) = (i64::MAX, i64::MIN);
        for row in &self.data {
            let cells: Vec<&str> = columns.iter().filter_map(|c| row.get(*c)).collect();
            let at = match form.told(&cells.join(" "))? {
                Told::Moment(m) => m.0,
                Told::Clock(t) => t.and_utc().timestamp_millis(),
            };
            if !Calendar::bears(crate::units::Moment(at)) {
                return None;
            }
            (low, high) = (low.min(at), high.max(at));
        }
        (high > low || self.data.len() == 1).then(|| high.saturating_sub(low))
    }
}

fn unit_named(name: &str) -> Option<Degrees> {
    let has = |any: &[&str]| any.iter().any(|w| name.contains(w));
    let ends = |any: &[&str]| any.iter().any(|w| name.ends_with(w));
    if has(&["°f", "deg f", "degf", "(f)", "[f]", "fahrenheit"]) || ends(&["_f", " f"]) {
        Some(Degrees::Fahrenheit)
    } else if has(&["°c", "deg c", "degc", "(c)", "[c]", "celsius"]) || ends(&["_c", " c"]) {
        Some(Degrees::Celsius)
    } else if has(&["(k)", "[k]", "kelvin"]) || ends(&["_k"]) {
        Some(Degrees::Kelvin)
    } else {
        None
    }
}

// Standard times, which no clock change moves.
fn zone_named(name: &str) -> Option<&'static str> {
    let word = |w: &str| {
        name.split(|c: char| !c.is_alphanumeric())
            .any(|part| part == w)
    };
    let known = [
        ("utc", "UTC"),
        ("gmt", "UTC"),
        ("est", "-05:00"),
        ("cst", "-06:00"),
        ("mst", "-07:00"),
        ("pst", "-08:00"),
    ];
    let found = known.iter().find(|(w, _)| word(w)).map(|(_, zone)| *zone);
    found.filter(|zone| ClockZone::read(zone).is_some())
}
