//! One contract for every calculation: a pure function with typed inputs and a result that carries its working.
//!
//! *Invariants*: figures are held in the base unit of their dimension; a result that is not a finite number is
//! refused, never shown; a worksheet judges nothing, it says on which side of an entered limit a figure lies.
//!
//! *Not here*: the formulas (one file per subject), the list of all worksheets ([`super::registry`]) and how one is
//! printed ([`super::printed`]).

pub use super::input::{Absent, From, Input, Inputs, Item, Kind, Origin, Refusal};
pub use super::measure::{Measure, Quantity, figures};

/// A named figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// What it is.
    pub name: String,
    /// The value in the base unit of its dimension.
    pub base: f64,
    /// How it is shown.
    pub measure: Measure,
}

/// One line of the working.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What is worked out.
    pub what: String,
    /// The formula, with the values in it where that helps.
    pub formula: String,
    /// The value in the base unit of its dimension.
    pub base: f64,
    /// How it is shown.
    pub measure: Measure,
}

/// On which side of a limit a figure lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Below it.
    Under,
    /// On it.
    At,
    /// Above it.
    Over,
    /// A reading that is needed is missing.
    Unknown,
    /// Nobody entered a limit.
    NoneEntered,
}

impl Side {
    /// The word that is shown.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Under => "under",
            Self::At => "at",
            Self::Over => "over",
            Self::Unknown => "unknown",
            Self::NoneEntered => "none_entered",
        }
    }
}

/// Whether a limit is a ceiling or a floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// The figure is to stay at or below the limit.
    AtMost,
    /// The figure is to stay at or above the limit.
    AtLeast,
}

/// A limit that the result was held against.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// What the limit is.
    pub limit: String,
    /// The limit in the base unit of its dimension; `None` when nobody entered one.
    pub base: Option<f64>,
    /// How it is shown.
    pub measure: Measure,
    /// Where the figure lies.
    pub side: Side,
    /// Ceiling or floor.
    pub bound: Bound,
}

impl Held {
    /// Holds `figure` against `limit`, both in base units. A figure of `None` is an absent reading.
    pub fn new(
        limit: &str,
        bound: Bound,
        figure: Option<f64>,
        limit_base: Option<f64>,
        measure: Measure,
    ) -> Self {
        let side = match (figure, limit_base) {
            (_, None) => Side::NoneEntered,
            (None, Some(_)) => Side::Unknown,
            (Some(figure), Some(at)) => {
                // Two figures that differ by less than a billionth are the same reading.
                let slack = 1e-9 * at.abs().max(figure.abs());
                if (figure - at).abs() <= slack {
                    Side::At
                } else if figure > at {
                    Side::Over
                } else {
                    Side::Under
                }
            }
        };
        Self {
            limit: limit.to_owned(),
            base: limit_base,
            measure,
            side,
            bound,
        }
    }

    /// Whether the figure is beyond the limit or a needed reading is missing.
    pub fn calls_for_attention(&self) -> bool {
        matches!(
            (self.bound, self.side),
            (_, Side::Unknown) | (Bound::AtMost, Side::Over) | (Bound::AtLeast, Side::Under)
        )
    }
}

/// The answer of a calculation with its working.
#[derive(Debug, Clone, PartialEq)]
pub struct Worksheet {
    /// The figure that was asked for.
    pub result: Figure,
    /// Figures that come with it.
    pub also: Vec<Figure>,
    /// The working, in order.
    pub steps: Vec<Step>,
    /// Limits it was held against.
    pub held_against: Vec<Held>,
    /// Where the formula and its constants come from.
    pub sources: Vec<String>,
    /// What the formula takes for granted, and what it ignores.
    pub assumes: Vec<String>,
    /// Warnings in context, with their source and whom to ask.
    pub cautions: Vec<String>,
}

impl Worksheet {
    /// An answer with one figure; the rest is added with the methods below.
    pub fn new(name: &str, value: impl Quantity, measure: Measure) -> Self {
        Self {
            result: Figure {
                name: name.to_owned(),
                base: value.to_base(),
                measure,
            },
            also: Vec::new(),
            steps: Vec::new(),
            held_against: Vec::new(),
            sources: Vec::new(),
            assumes: Vec::new(),
            cautions: Vec::new(),
        }
    }

    /// Adds a figure that comes with the answer.
    #[must_use]
    pub fn also(mut self, name: &str, value: impl Quantity, measure: Measure) -> Self {
        self.also.push(Figure {
            name: name.to_owned(),
            base: value.to_base(),
            measure,
        });
        self
    }

    /// Adds a line of the working.
    #[must_use]
    pub fn step(
        mut self,
        what: &str,
        formula: &str,
        value: impl Quantity,
        measure: Measure,
    ) -> Self {
        self.steps.push(Step {
            what: what.to_owned(),
            formula: formula.to_owned(),
            base: value.to_base(),
            measure,
        });
        self
    }

    /// Holds a figure against a limit that is not to be passed upwards.
    #[must_use]
    pub fn at_most<Q: Quantity>(
        mut self,
        limit: &str,
        figure: Option<Q>,
        entered: Option<Q>,
        measure: Measure,
    ) -> Self {
        self.held_against.push(Held::new(
            limit,
            Bound::AtMost,
            figure.map(Quantity::to_base),
            entered.map(Quantity::to_base),
            measure,
        ));
        self
    }

    /// Holds a figure against a limit that is not to be passed downwards.
    #[must_use]
    pub fn at_least<Q: Quantity>(
        mut self,
        limit: &str,
        figure: Option<Q>,
        entered: Option<Q>,
        measure: Measure,
    ) -> Self {
        self.held_against.push(Held::new(
            limit,
            Bound::AtLeast,
            figure.map(Quantity::to_base),
            entered.map(Quantity::to_base),
            measure,
        ));
        self
    }

    /// Adds a source.
    #[must_use]
    pub fn source(mut self, text: impl Into<String>) -> Self {
        self.sources.push(text.into());
        self
    }

    /// Adds an assumption, or what is ignored.
    #[must_use]
    pub fn assumes(mut self, text: impl Into<String>) -> Self {
        self.assumes.push(text.into());
        self
    }

    /// Adds a caution, with its source and whom to ask.
    #[must_use]
    pub fn caution(mut self, text: impl Into<String>) -> Self {
        self.cautions.push(text.into());
        self
    }

    /// Whether a figure is beyond a limit or a needed reading is missing.
    pub fn calls_for_attention(&self) -> bool {
        self.held_against.iter().any(Held::calls_for_attention)
    }

    fn not_finite(&self) -> Option<&str> {
        let mut named = self
            .also
            .iter()
            .chain([&self.result])
            .map(|f| (f.name.as_str(), f.base))
            .chain(self.steps.iter().map(|s| (s.what.as_str(), s.base)));
        named
            .find(|(_, base)| !base.is_finite())
            .map(|(name, _)| name)
    }
}

/// One calculation of the registry.
#[derive(Debug)]
pub struct Sheet {
    /// The word that calls it.
    pub id: &'static str,
    /// What it answers, in a line.
    pub purpose: &'static str,
    /// Where the formula comes from.
    pub source: &'static str,
    /// Its inputs, in the order of the listing.
    pub inputs: &'static [Input],
    /// The calculation.
    pub compute: fn(&Inputs) -> Result<Worksheet, Refusal>,
}

/// A worksheet is known by its word alone; comparing functions by address would mean nothing.
impl PartialEq for Sheet {
    fn eq(&self, other: &Self) -> bool {
        self.id == other.id
    }
}

impl Sheet {
    /// The declared input of this name.
    pub fn input(&self, name: &str) -> Result<&'static Input, Refusal> {
        self.inputs
            .iter()
            .find(|input| input.name == name)
            .ok_or_else(|| Refusal::NoSuchInput {
                input: name.chars().filter(|c| !c.is_control()).take(40).collect(),
                sheet: self.id.to_owned(),
                known: self
                    .inputs
                    .iter()
                    .map(|input| input.name)
                    .collect::<Vec<_>>()
                    .join(", "),
            })
    }

    /// Computes, and adds what every answer carries: the declared source and the defaults that were taken.
    pub fn run(&self, inputs: &Inputs) -> Result<Worksheet, Refusal> {
        let mut sheet = (self.compute)(inputs)?;
        if let Some(name) = sheet.not_finite() {
            return Err(Refusal::no_answer(
                name,
                "",
                "the arithmetic has no finite answer for these inputs",
            ));
        }
        sheet.sources.insert(0, self.source.to_owned());
        let values = inputs.all();
        let defaults: Vec<String> = self
            .inputs
            .iter()
            .filter(|input| {
                values
                    .iter()
                    .any(|(i, from, _)| i.name == input.name && *from == From::Default)
            })
            .filter_map(|input| match input.absent {
                Absent::Take(text) => Some(format!("{} = {text}", input.name)),
                Absent::Refuse | Absent::Unknown => None,
            })
            .collect();
        if !defaults.is_empty() {
            sheet.assumes.push(format!(
                "defaults, which nobody gave: {}",
                defaults.join(", ")
            ));
        }
        Ok(sheet)
    }
}
