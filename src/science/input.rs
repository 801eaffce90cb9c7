//! The inputs of a worksheet: declared once, read exactly, refused by name.
//!
//! *Invariants*: the range stands in one place, [`Input::kind`], and gives the check, the message, the listing and
//! the values of the property tests ([`Input::at`]); every value remembers where it came from.
//!
//! *Not here*: formulas, and ranges in which a formula holds (those are the formula's).

use std::collections::BTreeMap;

use super::measure::{Measure, Quantity};
use super::worksheet::Sheet;
use crate::units::{self, System, num};

/// What an input takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// A quantity between two values, both allowed, in the listed metric unit.
    Amount {
        /// What it measures and how it is listed.
        measure: Measure,
        /// The lowest allowed value.
        low: f64,
        /// The highest allowed value.
        high: f64,
    },
    /// A whole number between two values, both allowed.
    Count {
        /// The lowest allowed value.
        low: i64,
        /// The highest allowed value.
        high: i64,
    },
    /// One of these words.
    Word(&'static [&'static str]),
}

/// What happens when an input is not given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Absent {
    /// The calculation is refused.
    Refuse,
    /// The calculation goes on without it and says so.
    Unknown,
    /// This text is taken, and the result says that it was.
    Take(&'static str),
}

/// One declared input of a worksheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// The name that is typed.
    pub name: &'static str,
    /// What it is, in a line.
    pub about: &'static str,
    /// What it takes, with its range.
    pub kind: Kind,
    /// What happens without it.
    pub absent: Absent,
    /// A text that would be accepted; for a list, `[a,b,c]`.
    pub example: &'static str,
    /// How many values a list takes, lowest and highest; `None` for a single value.
    pub list: Option<(usize, usize)>,
}

impl Input {
    /// A quantity that must be given; `low` and `high` are in the listed metric unit.
    pub const fn amount(
        name: &'static str,
        about: &'static str,
        measure: Measure,
        (low, high): (f64, f64),
        example: &'static str,
    ) -> Self {
        Self {
            name,
            about,
            kind: Kind::Amount { measure, low, high },
            absent: Absent::Refuse,
            example,
            list: None,
        }
    }

    /// A whole number that must be given.
    pub const fn count(
        name: &'static str,
        about: &'static str,
        (low, high): (i64, i64),
        example: &'static str,
    ) -> Self {
        Self {
            name,
            about,
            kind: Kind::Count { low, high },
            absent: Absent::Refuse,
            example,
            list: None,
        }
    }

    /// One of several words that must be given.
    pub const fn word(
        name: &'static str,
        about: &'static str,
        words: &'static [&'static str],
        example: &'static str,
    ) -> Self {
        Self {
            name,
            about,
            kind: Kind::Word(words),
            absent: Absent::Refuse,
            example,
            list: None,
        }
    }

    /// The same input with a value that is taken when none is given.
    #[must_use]
    pub const fn or(mut self, default: &'static str) -> Self {
        self.absent = Absent::Take(default);
        self
    }

    /// The same input, which may be left out.
    #[must_use]
    pub const fn or_unknown(mut self) -> Self {
        self.absent = Absent::Unknown;
        self
    }

    /// The same input as a list of `least` to `most` values.
    #[must_use]
    pub const fn list(mut self, least: usize, most: usize) -> Self {
        self.list = Some((least, most));
        self
    }

    /// How it is listed; a bare number for counts and words.
    pub const fn measure(&self) -> Measure {
        match self.kind {
            Kind::Amount { measure, .. } => measure,
            Kind::Count { .. } | Kind::Word(_) => super::measure::NUMBER,
        }
    }

    /// The range in base units; `None` for words.
    pub fn range(&self) -> Option<(f64, f64)> {
        match self.kind {
            Kind::Amount { measure, low, high } => Some((measure.base(low), measure.base(high))),
            Kind::Count { low, high } => Some((num::float(low), num::float(high))),
            Kind::Word(_) => None,
        }
    }

    /// The base value at a share of the range, 0 the lowest and 1 the highest: the generator of property tests.
    pub fn at(&self, share: f64) -> Option<f64> {
        let (low, high) = self.range()?;
        let value = low + (high - low) * share;
        Some(if matches!(self.kind, Kind::Count { .. }) {
            value.round()
        } else {
            value
        })
    }

    /// The allowed range as people read it, in the listed unit.
    pub fn allowed(&self, system: System) -> String {
        match self.kind {
            Kind::Amount { measure, low, high } => format!(
                "{} to {}",
                measure.text(measure.base(low), system),
                measure.text(measure.base(high), system)
            ),
            Kind::Count { low, high } => format!("{low} to {high}, whole"),
            Kind::Word(words) => words.join(", "),
        }
    }

    fn read_one(&self, text: &str, system: System) -> Result<Item, Refusal> {
        let measure = match self.kind {
            Kind::Word(words) => {
                return words
                    .iter()
                    .find(|word| word.eq_ignore_ascii_case(text.trim()))
                    .map(|word| Item::Word(word))
                    .ok_or_else(|| Refusal::OutOfRange {
                        input: self.name.to_owned(),
                        value: clean(text),
                        allowed: self.allowed(system),
                    });
            }
            Kind::Amount { measure, .. } => measure,
            Kind::Count { .. } => super::measure::NUMBER,
        };
        // A number whose unit is never converted may carry its label: "75 kJ/mol".
        let bare = measure.unit(system);
        let typed = match bare {
            Some(_) => text,
            None => text
                .trim()
                .strip_suffix(measure.name(system))
                .unwrap_or(text),
        };
        let reading = units::read(typed, measure.dimension, bare).map_err(|fault| {
            let fix = format!("{} {}", self.example, measure.name(system));
            let why = if bare.is_some() {
                fault.to_string()
            } else {
                format!("\"{}\" is not a plain number such as {fix}", clean(text))
            };
            Refusal::NotRead {
                input: self.name.to_owned(),
                value: clean(text),
                allowed: self.allowed(system),
                why,
            }
        })?;
        let item = self
            .check(reading.base())
            .map_err(|()| Refusal::OutOfRange {
                input: self.name.to_owned(),
                value: shown(text, measure.name(system)),
                allowed: self.allowed(system),
            })?;
        Ok(item)
    }

    /// Holds a base value against the declared range.
    ///
    /// The edge itself is allowed in either system of units, so the comparison forgives the last bits that a
    /// conversion from mil or F leaves behind; one part in 10^12 is below any figure that can be measured here.
    fn check(&self, base: f64) -> Result<Item, ()> {
        let (low, high) = self.range().ok_or(())?;
        let slack = 1e-12 * low.abs().max(high.abs());
        let whole = !matches!(self.kind, Kind::Count { .. }) || base.fract() == 0.0;
        if base.is_finite() && whole && base >= low - slack && base <= high + slack {
            // What was typed at the edge is taken as the edge, so that no formula sees a value below its range.
            Ok(Item::Number(base.clamp(low, high)))
        } else {
            Err(())
        }
    }
}

fn clean(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

fn shown(text: &str, unit: &str) -> String {
    let text = clean(text.trim());
    if text.ends_with(|c: char| c.is_ascii_digit() || c == '.') && unit != "1" {
        format!("{text} {unit}")
    } else {
        text
    }
}

/// Where a value came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum From {
    /// A person gave it with the question.
    Given,
    /// Nobody gave it; the declared default was taken.
    Default,
    /// It stands in the ledger.
    Ledger,
}

impl From {
    /// The word that is shown.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::Default => "default",
            Self::Ledger => "ledger",
        }
    }
}

/// One value of an input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Item {
    /// A number in the base unit of its dimension.
    Number(f64),
    /// One of the declared words.
    Word(&'static str),
}

/// What in the ledger a value was taken from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Origin {
    /// The entry that holds it, where a single one does.
    pub entry: Option<i64>,
    /// The same in words: `entry 24, mean of 3 readings`, `sheet rev 4 of CLR`.
    pub note: String,
}

impl Origin {
    /// Something that no single entry holds.
    pub fn note(text: impl Into<String>) -> Self {
        Self {
            entry: None,
            note: text.into(),
        }
    }

    /// An entry, with more words where they help.
    pub fn entry(entry: i64, more: &str) -> Self {
        let note = if more.is_empty() {
            format!("entry {entry}")
        } else {
            format!("entry {entry}, {more}")
        };
        Self {
            entry: Some(entry),
            note,
        }
    }
}

/// Why a worksheet does not answer. The message names the input, the value, what is allowed and the fix.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The worksheet has no such input.
    #[error("{input} is not an input of {sheet}; it takes {known}")]
    NoSuchInput {
        /// What was typed.
        input: String,
        /// The worksheet.
        sheet: String,
        /// The inputs it takes.
        known: String,
    },
    /// An input that has no default was not given.
    #[error("{input} is missing; give {input}={example} (allowed {allowed})")]
    Missing {
        /// The input.
        input: String,
        /// A text that would be accepted.
        example: String,
        /// What is allowed.
        allowed: String,
    },
    /// The text is not a value of this kind.
    #[error("{input}: {why} (allowed {allowed})")]
    NotRead {
        /// The input.
        input: String,
        /// What was typed.
        value: String,
        /// What is allowed.
        allowed: String,
        /// What is wrong with it.
        why: String,
    },
    /// The value is outside the declared range.
    #[error("{input} {value} is outside the allowed range: {allowed}")]
    OutOfRange {
        /// The input.
        input: String,
        /// What was typed.
        value: String,
        /// What is allowed.
        allowed: String,
    },
    /// Too few or too many values.
    #[error("{input} has {value} values; it takes {allowed}")]
    HowMany {
        /// The input.
        input: String,
        /// How many were given.
        value: String,
        /// How many are allowed.
        allowed: String,
    },
    /// The values are possible, but the formula does not hold there; the figure is not extrapolated.
    #[error("{input} {value} is outside what the formula holds for: {allowed}")]
    OutsideValidity {
        /// The input or the intermediate figure.
        input: String,
        /// Its value.
        value: String,
        /// Where the formula holds.
        allowed: String,
    },
    /// Two inputs contradict each other, or the arithmetic has no answer.
    #[error("{input} {value} cannot be used: {allowed}")]
    NoAnswer {
        /// The input that has to change.
        input: String,
        /// Its value.
        value: String,
        /// What would be possible.
        allowed: String,
    },
}

impl Refusal {
    /// The formula does not hold at this value.
    pub fn outside(
        input: &str,
        measure: Measure,
        value: f64,
        low: f64,
        high: f64,
        source: &str,
    ) -> Self {
        let text = |base| measure.text(base, System::Metric);
        Self::OutsideValidity {
            input: input.to_owned(),
            value: text(value),
            allowed: format!("{} to {} ({source})", text(low), text(high)),
        }
    }

    /// Two inputs contradict each other, or there is no answer.
    pub fn no_answer(input: &str, value: impl Into<String>, allowed: impl Into<String>) -> Self {
        Self::NoAnswer {
            input: input.to_owned(),
            value: value.into(),
            allowed: allowed.into(),
        }
    }

    /// A word for the kind of refusal, for scripts.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::NoSuchInput { .. } => "no_such_input",
            Self::Missing { .. } => "missing",
            Self::NotRead { .. } => "not_read",
            Self::OutOfRange { .. } => "out_of_range",
            Self::HowMany { .. } => "how_many",
            Self::OutsideValidity { .. } => "outside_validity",
            Self::NoAnswer { .. } => "no_answer",
        }
    }

    /// The input that has to change.
    pub fn input(&self) -> &str {
        match self {
            Self::NoSuchInput { input, .. }
            | Self::Missing { input, .. }
            | Self::NotRead { input, .. }
            | Self::OutOfRange { input, .. }
            | Self::HowMany { input, .. }
            | Self::OutsideValidity { input, .. }
            | Self::NoAnswer { input, .. } => input,
        }
    }

    /// The value that was refused; empty where none was given.
    pub fn value(&self) -> &str {
        match self {
            Self::NoSuchInput { .. } | Self::Missing { .. } => "",
            Self::NotRead { value, .. }
            | Self::OutOfRange { value, .. }
            | Self::HowMany { value, .. }
            | Self::OutsideValidity { value, .. }
            | Self::NoAnswer { value, .. } => value,
        }
    }

    /// What would be accepted.
    pub fn allowed(&self) -> &str {
        match self {
            Self::NoSuchInput { known, .. } => known,
            Self::Missing { allowed, .. }
            | Self::NotRead { allowed, .. }
            | Self::OutOfRange { allowed, .. }
            | Self::HowMany { allowed, .. }
            | Self::OutsideValidity { allowed, .. }
            | Self::NoAnswer { allowed, .. } => allowed,
        }
    }
}

/// The values of one worksheet's inputs, each with where it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Inputs {
    sheet: &'static Sheet,
    values: BTreeMap<&'static str, (From, Vec<Item>)>,
    // One origin for each value that came from the ledger.
    origins: BTreeMap<&'static str, Vec<Origin>>,
}

impl Inputs {
    /// Reads `name=value` pairs. A list repeats its name or takes `[a,b,c]`; a bare number takes the unit that the
    /// listing names in `system`.
    pub fn read<N: AsRef<str>, V: AsRef<str>>(
        sheet: &'static Sheet,
        pairs: &[(N, V)],
        system: System,
    ) -> Result<Self, Refusal> {
        let mut inputs = Self {
            sheet,
            values: BTreeMap::new(),
            origins: BTreeMap::new(),
        };
        for (name, text) in pairs {
            let input = sheet.input(name.as_ref())?;
            inputs.push(input, text.as_ref(), From::Given, system)?;
        }
        for input in sheet.inputs {
            if let (Absent::Take(text), false) =
                (input.absent, inputs.values.contains_key(input.name))
            {
                // A default is written in metric units, whatever the person reads.
                inputs.push(input, text, From::Default, System::Metric)?;
            }
        }
        Ok(inputs)
    }

    /// The inputs before anything is read or filled: the declared defaults alone.
    pub fn of(sheet: &'static Sheet) -> Result<Self, Refusal> {
        Self::read::<&str, &str>(sheet, &[], System::Metric)
    }

    /// Fills an input that nobody gave with values from the ledger, in base units, each with what it was taken
    /// from. A given value stays.
    pub fn fill_from(&mut self, name: &str, values: &[(f64, Origin)]) -> Result<(), Refusal> {
        let base: Vec<f64> = values.iter().map(|(base, _)| *base).collect();
        self.fill(name, &base)?;
        self.note(name, values.iter().map(|(_, origin)| origin.clone()))
    }

    /// Fills an input that takes words, each with what it was taken from. A given word stays.
    pub fn fill_words(&mut self, name: &str, words: &[(&str, Origin)]) -> Result<(), Refusal> {
        let input = self.sheet.input(name)?;
        if matches!(self.values.get(input.name), Some((From::Given, _))) {
            return Ok(());
        }
        let items = words
            .iter()
            .map(|(word, _)| input.read_one(word, System::Metric))
            .collect::<Result<Vec<_>, _>>()?;
        self.values.insert(input.name, (From::Ledger, items));
        self.note(name, words.iter().map(|(_, origin)| origin.clone()))
    }

    fn note(&mut self, name: &str, origins: impl Iterator<Item = Origin>) -> Result<(), Refusal> {
        let input = self.sheet.input(name)?;
        if matches!(self.values.get(input.name), Some((From::Ledger, _))) {
            self.origins.insert(input.name, origins.collect());
        }
        Ok(())
    }

    /// Fills an input that nobody gave with values from the ledger, in base units. A given value stays.
    pub fn fill(&mut self, name: &str, base: &[f64]) -> Result<(), Refusal> {
        let input = self.sheet.input(name)?;
        if matches!(self.values.get(input.name), Some((From::Given, _))) {
            return Ok(());
        }
        let mut items = Vec::with_capacity(base.len());
        for value in base {
            items.push(input.check(*value).map_err(|()| Refusal::OutOfRange {
                input: input.name.to_owned(),
                value: input.measure().text(*value, System::Metric),
                allowed: input.allowed(System::Metric),
            })?);
        }
        self.values.insert(input.name, (From::Ledger, items));
        Ok(())
    }

    fn push(
        &mut self,
        input: &'static Input,
        text: &str,
        from: From,
        system: System,
    ) -> Result<(), Refusal> {
        let trimmed = text.trim();
        let parts: Vec<&str> = match trimmed
            .strip_prefix('[')
            .and_then(|rest| rest.strip_suffix(']'))
        {
            Some(inside) if input.list.is_some() => inside.split(',').collect(),
            _ => vec![trimmed],
        };
        let most = input.list.map_or(1, |(_, most)| most);
        let held = &mut self
            .values
            .entry(input.name)
            .or_insert_with(|| (from, Vec::new()))
            .1;
        if held.len() + parts.len() > most {
            return Err(how_many(input, held.len() + parts.len()));
        }
        for part in parts {
            held.push(input.read_one(part, system)?);
        }
        Ok(())
    }

    fn items(&self, name: &str) -> Result<Option<&[Item]>, Refusal> {
        let input = self.sheet.input(name)?;
        let Some((_, items)) = self.values.get(input.name) else {
            return match input.absent {
                Absent::Unknown => Ok(None),
                Absent::Refuse | Absent::Take(_) => Err(Refusal::Missing {
                    input: name.to_owned(),
                    example: input.example.to_owned(),
                    allowed: input.allowed(System::Metric),
                }),
            };
        };
        let (least, most) = input.list.unwrap_or((1, 1));
        if (least..=most).contains(&items.len()) {
            Ok(Some(items))
        } else {
            Err(how_many(input, items.len()))
        }
    }

    /// All values of a list as quantities; empty when it was left out.
    pub fn list<Q: Quantity>(&self, name: &str) -> Result<Vec<Q>, Refusal> {
        let dimension = self.sheet.input(name)?.measure().dimension;
        let Some(items) = self.items(name)? else {
            return Ok(Vec::new());
        };
        items
            .iter()
            .map(|item| match item {
                Item::Number(base) if dimension == Q::DIMENSION => Ok(Q::of_base(*base)),
                _ => Err(Refusal::no_answer(
                    name,
                    "",
                    "the worksheet reads it as another kind",
                )),
            })
            .collect()
    }

    /// The value of an input that may have been left out.
    pub fn maybe<Q: Quantity>(&self, name: &str) -> Result<Option<Q>, Refusal> {
        Ok(self.list(name)?.first().copied())
    }

    /// The value of an input that must be there.
    pub fn get<Q: Quantity>(&self, name: &str) -> Result<Q, Refusal> {
        self.maybe(name)?.ok_or_else(|| Refusal::Missing {
            input: name.to_owned(),
            example: self
                .sheet
                .input(name)
                .map_or("", |input| input.example)
                .to_owned(),
            allowed: self
                .sheet
                .input(name)
                .map_or_else(|_| String::new(), |i| i.allowed(System::Metric)),
        })
    }

    /// A whole number.
    pub fn count(&self, name: &str) -> Result<usize, Refusal> {
        let value: f64 = self.get(name)?;
        num::whole(value)
            .and_then(|whole| usize::try_from(whole).ok())
            .ok_or_else(|| Refusal::no_answer(name, value.to_string(), "a whole number"))
    }

    /// All words of a list; empty when it was left out.
    pub fn words(&self, name: &str) -> Result<Vec<&'static str>, Refusal> {
        Ok(self
            .items(name)?
            .unwrap_or_default()
            .iter()
            .filter_map(|item| match item {
                Item::Word(word) => Some(*word),
                Item::Number(_) => None,
            })
            .collect())
    }

    /// The word of an input; empty when it was left out.
    pub fn word(&self, name: &str) -> Result<&'static str, Refusal> {
        Ok(self.words(name)?.first().copied().unwrap_or(""))
    }

    /// Whether a value is there, from whatever source.
    pub fn has(&self, name: &str) -> bool {
        self.values.contains_key(name)
    }

    /// Every value in the order of the listing: its input, where it came from and the value.
    pub fn all(&self) -> Vec<(&'static Input, From, Item)> {
        let mut all = Vec::new();
        for input in self.sheet.inputs {
            if let Some((from, items)) = self.values.get(input.name) {
                all.extend(items.iter().map(|item| (input, *from, *item)));
            }
        }
        all
    }

    /// As [`Inputs::all`], with what in the ledger each value was taken from where that is known.
    pub fn traced(&self) -> Vec<(&'static Input, From, Item, Option<&Origin>)> {
        let mut all = Vec::new();
        for input in self.sheet.inputs {
            if let Some((from, items)) = self.values.get(input.name) {
                let origins = self.origins.get(input.name);
                all.extend(items.iter().enumerate().map(|(at, item)| {
                    (input, *from, *item, origins.and_then(|list| list.get(at)))
                }));
            }
        }
        all
    }

    /// The worksheet these belong to.
    pub const fn sheet(&self) -> &'static Sheet {
        self.sheet
    }
}

fn how_many(input: &Input, count: usize) -> Refusal {
    Refusal::HowMany {
        input: input.name.to_owned(),
        value: count.to_string(),
        allowed: match input.list {
            None => "one value".to_owned(),
            Some((least, most)) => format!("{least} to {most} values"),
        },
    }
}
