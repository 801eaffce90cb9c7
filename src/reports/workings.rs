//! The working of every figure that the record keeps: the worksheets of `science` with the ledger's own inputs.
//!
//! A *working* is one figure as it is kept, what is to be said about it, and the worksheets that lead to it. Each
//! input of a worksheet names the entry, the data sheet or the recipe that it was taken from.
//!
//! *Invariants*: a worksheet is computed by the registry's own code, never here; where its result and the kept figure
//! are not the same to the last digit, the working says so and sends to `hangtime verify`; a reading that is missing
//! gives *unknown*, never a number.
//!
//! *Not here*: formulas (`science`), queries (`ledger`), printing (`commands`), drawing (`screens`).

mod air;
mod exposure;
mod film;
mod solvent;
mod store;
mod time;
mod vapour;

pub(super) use film::{Cups, Played, played};

use super::together::stretches;
use crate::ledger::{Ledger, LedgerError};
use crate::science::worksheet::{Held, Inputs, Refusal, Side, Worksheet};
use crate::science::{printed, registry};
use crate::shop::calendar::Calendar;
use crate::units::{Amount, Moment, System};
use serde_json::{Value, json};

/// A figure that has a working.
#[derive(Debug, Clone, Copy)]
pub struct Figure {
    /// The word that calls it.
    pub word: &'static str,
    /// What has to be named with it.
    pub takes: &'static str,
    /// What it shows, in a line.
    pub about: &'static str,
    show: fn(&Ledger, &str, Moment) -> Result<Working, LedgerError>,
}

/// Every figure that has a working.
static FIGURES: &[Figure] = &[
    Figure {
        word: "film",
        takes: "PIECE",
        about: "the film of a piece: every coat, sanding and gauge reading",
        show: film::film,
    },
    Figure {
        word: "coat",
        takes: "ENTRY",
        about: "the dry film of one coat, and which figures it rests on",
        show: film::coat,
    },
    Figure {
        word: "ready",
        takes: "PIECE",
        about: "when the recipe allows the next step of a piece: waits, and cure over its rooms",
        show: time::ready,
    },
    Figure {
        word: "mix",
        takes: "MIX",
        about: "volume solids, retarder share and VOC of a mix as it is sprayed",
        show: solvent::mix,
    },
    Figure {
        word: "action",
        takes: "ACTION",
        about: "VOC and HAP of one action, by material and substance",
        show: solvent::action,
    },
    Figure {
        word: "use",
        takes: "ENTRY",
        about: "VOC and HAP of what one entry used, by lot and substance",
        show: solvent::entry,
    },
    Figure {
        word: "month",
        takes: "MONTH",
        about: "VOC and HAP of a month (2026-03) from the log, by material and substance",
        show: solvent::month,
    },
    Figure {
        word: "booth",
        takes: "BOOTH",
        about: "face velocity of a booth's newest survey against the limit entered",
        show: air::booth,
    },
    Figure {
        word: "air",
        takes: "ROOM",
        about: "dew point and spread of a room's newest reading against the recipes' limits",
        show: air::room,
    },
    Figure {
        word: "lel",
        takes: "BOOTH",
        about: "share of the lower explosive limit in a booth's exhaust at the rate really sprayed, and the flow it wants",
        show: vapour::lel,
    },
    Figure {
        word: "gauge",
        takes: "BOOTH",
        about: "when a booth's filter gauge comes to its mark, by its readings since the clean one",
        show: air::gauge,
    },
    Figure {
        word: "vapour",
        takes: "ROOM",
        about: "solvent vapour that the fresh work of a room leaves in its air, now and over the last day",
        show: vapour::room,
    },
    Figure {
        word: "exposure",
        takes: "ROOM",
        about: "mean of what fresh work leaves in a room's air over eight hours against the exposure limits entered; measured by nobody",
        show: exposure::exposure,
    },
    Figure {
        word: "store",
        takes: "PLACE",
        about: "what stands at a place by category of flammable liquid, against the caps entered for it",
        show: store::store,
    },
];

/// Every figure that has a working, in the order of the listing.
pub const fn names() -> &'static [Figure] {
    FIGURES
}

fn find(figure: &str) -> Result<&'static Figure, LedgerError> {
    FIGURES.iter().find(|f| f.word == figure).ok_or_else(|| {
        let words: Vec<&str> = FIGURES.iter().map(|f| f.word).collect();
        LedgerError::Input(format!(
            "\"{}\" is no figure with a working; write one of {}",
            crate::shop::text::shown(figure),
            words.join(", ")
        ))
    })
}

/// What a figure is of.
///
/// # Errors
/// A sentence that lists the figures, where none has that word.
pub fn takes(figure: &str) -> Result<&'static str, LedgerError> {
    Ok(find(figure)?.takes)
}

/// The working of a figure, as of `at`.
pub fn show(ledger: &Ledger, figure: &str, what: &str, at: Moment) -> Result<Working, LedgerError> {
    (find(figure)?.show)(ledger, what, at)
}

/// VOC and HAP of what one entry used; with a lot only of what came from it.
pub fn of_use(ledger: &Ledger, entry: i64, lot: Option<&str>) -> Result<Working, LedgerError> {
    solvent::of_entry(ledger, entry, lot)
}

/// A figure as the record keeps it.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// What it is.
    pub name: String,
    /// The kept value; `None` when it is unknown.
    pub value: Option<Value>,
    /// The record's unit.
    pub unit: &'static str,
    /// The value as people read it; `unknown` when it is.
    pub text: String,
}

impl Kept {
    fn amount<A: Amount>(name: &str, amount: A, unit: &'static str, decimals: usize) -> Self {
        Self {
            name: name.to_owned(),
            value: Some(json!(amount.raw())),
            unit,
            text: amount.text(decimals),
        }
    }

    fn unknown(name: &str, unit: &'static str) -> Self {
        Self {
            name: name.to_owned(),
            value: None,
            unit,
            text: "unknown".to_owned(),
        }
    }
}

/// One worksheet of a working, computed.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it works out here.
    pub title: String,
    /// Its inputs, each with where it came from.
    pub inputs: Inputs,
    /// Its answer.
    pub answer: Worksheet,
}

/// One figure with the worksheets that lead to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Working {
    /// The word of the figure.
    pub figure: &'static str,
    /// The piece, entry, mix, action, month, booth or room.
    pub of: String,
    /// The figures as the record keeps them.
    pub kept: Vec<Kept>,
    /// What is to be said about them.
    pub says: Vec<String>,
    /// What is not known, and why.
    pub unknown: Vec<String>,
    /// Limits that an unknown figure could not be held against.
    pub held_against: Vec<Held>,
    /// The worksheets.
    pub parts: Vec<Part>,
    /// How the figure ran up to now, in millionths, where it has a course.
    pub course: Vec<(Moment, i64)>,
}

impl Working {
    fn new(figure: &'static str, of: impl Into<String>) -> Self {
        Self {
            figure,
            of: of.into(),
            kept: Vec::new(),
            says: Vec::new(),
            unknown: Vec::new(),
            held_against: Vec::new(),
            parts: Vec::new(),
            course: Vec::new(),
        }
    }

    /// Computes a worksheet of the registry. A refusal is no fault of the question: it is said, and no figure is
    /// given in its place.
    fn part(
        &mut self,
        id: &str,
        title: impl Into<String>,
        fill: impl FnOnce(&mut Inputs) -> Result<(), Refusal>,
    ) -> Option<Part> {
        let title = title.into();
        match computed(id, fill) {
            Ok((inputs, answer)) => {
                let part = Part {
                    title,
                    inputs,
                    answer,
                };
                self.parts.push(part.clone());
                Some(part)
            }
            Err(refusal) => {
                self.unknown.push(format!("{title}: {refusal}"));
                None
            }
        }
    }

    /// As [`Working::part`], for a worksheet that only comes beside the figure: a refusal leaves nothing unknown.
    fn beside(
        &mut self,
        id: &str,
        title: &str,
        fill: impl FnOnce(&mut Inputs) -> Result<(), Refusal>,
    ) {
        if self.part(id, title, fill).is_none()
            && let Some(refusal) = self.unknown.pop()
        {
            self.says.push(format!("not worked out: {refusal}"));
        }
    }

    /// Holds a worksheet's figure against the kept one, in the record's unit: both are shown, and a difference is
    /// named.
    fn agrees<A: Amount>(&mut self, what: &str, worked_base: f64, kept: A) {
        let worked = A::of_base(worked_base);
        if worked != Some(kept) {
            self.unknown.push(format!(
                "{what}: the record keeps {}, the worksheet gives {}; run \"hangtime verify\"",
                kept.raw(),
                worked.map_or_else(|| "nothing".to_owned(), |w| w.raw().to_string()),
            ));
        }
    }

    /// Every entered limit that a figure of it was held against.
    pub fn held(&self) -> impl Iterator<Item = &Held> {
        let of_parts = self.parts.iter().flat_map(|p| &p.answer.held_against);
        let all = self.held_against.iter().chain(of_parts);
        all.filter(|h| h.side != Side::NoneEntered)
    }

    /// Whether something is unknown, or a figure is beyond a limit.
    pub fn calls_for_attention(&self) -> bool {
        !self.unknown.is_empty()
            || self.kept.iter().any(|k| k.value.is_none())
            || self.held_against.iter().any(Held::calls_for_attention)
            || self.parts.iter().any(|p| p.answer.calls_for_attention())
    }

    /// The working as JSON; every worksheet keeps the one contract of all worksheets.
    pub fn json(&self, at: Moment, calendar: &Calendar, system: System) -> Value {
        json!({
            "figure": self.figure,
            "of": self.of,
            "at": calendar.rfc3339(at),
            "kept": self.kept.iter().map(|k| json!({
                "name": k.name, "value": k.value, "unit": k.unit, "text": k.text,
            })).collect::<Vec<_>>(),
            "says": self.says,
            "unknown": self.unknown,
            "held_against": self.held_against.iter().map(|h| printed::held_json(h, system)).collect::<Vec<_>>(),
            "worksheets": self.parts.iter().map(|p| json!({
                "title": p.title, "worksheet": printed::answer_json(&p.inputs, &p.answer, system),
            })).collect::<Vec<_>>(),
            "course": self.course.iter().map(|(m, ppm)| json!({
                "at": calendar.rfc3339(*m), "ppm": ppm,
            })).collect::<Vec<_>>(),
        })
    }

    /// Its figures, what is to be said and what is unknown.
    pub fn figures(&self) -> Vec<String> {
        let mut lines: Vec<String> = self
            .kept
            .iter()
            .map(|k| format!("  {}: {}", k.name, k.text))
            .collect();
        lines.extend(self.says.iter().map(|s| format!("  {s}")));
        lines.extend(self.unknown.iter().map(|s| format!("  unknown: {s}")));
        lines
    }

    /// The working as people read it.
    pub fn lines(&self, system: System) -> Vec<String> {
        let mut lines = vec![format!("{} of {}", self.figure, self.of)];
        lines.extend(self.figures());
        let held = self.held_against.iter();
        lines.extend(held.map(|h| format!("  {}", printed::held_line(h, system))));
        for part in &self.parts {
            lines.push(String::new());
            lines.push(format!("{} [{}]", part.title, part.inputs.sheet().id));
            lines.extend(printed::answer_lines(&part.inputs, &part.answer, system));
        }
        lines
    }
}

fn computed(
    id: &str,
    fill: impl FnOnce(&mut Inputs) -> Result<(), Refusal>,
) -> Result<(Inputs, Worksheet), Refusal> {
    let sheet = registry::find(id)
        .ok_or_else(|| Refusal::no_answer("worksheet", id, "one of \"hangtime work\""))?;
    let mut inputs = Inputs::of(sheet)?;
    fill(&mut inputs)?;
    let answer = sheet.run(&inputs)?;
    Ok((inputs, answer))
}

/// A number of the record that was typed.
fn number(what: &str, text: &str) -> Result<i64, LedgerError> {
    text.trim().parse().map_err(|_| {
        LedgerError::Input(format!(
            "{what} \"{}\" is not a whole number, such as 24",
            crate::shop::text::shown(text)
        ))
    })
}

/// `entries 24-47 and 60`; a long list is cut, and says by how much.
fn entries_words(entries: &[i64]) -> String {
    let mut shown = stretches(entries);
    let word = if entries.len() == 1 {
        "entry"
    } else {
        "entries"
    };
    let more = shown.len().saturating_sub(20);
    shown.truncate(20);
    let rest = if more > 0 {
        format!(" and {more} more stretches")
    } else {
        String::new()
    };
    format!("{word} {}{rest}", shown.join(", "))
}
