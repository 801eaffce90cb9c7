//! The VOC content of a mix or a material on its three bases, held against the limits on content that the shop entered.
//!
//! *Invariants*: a limit is compared with the figure on the basis that it declares, and that basis is said; a figure that
//! is not known is never under its limit; nothing is held against a limit that nobody entered.
//!
//! *Not here*: masses of a month (`book`, `totals`).

use super::counting;
use super::totals::{Amounts, Basis, content};
use crate::ledger::{CeilingRow, Ledger, LedgerError, Months, NO_RULES};
use crate::science::worksheet::Side;
use crate::shop::rule_set::RuleSet;
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Density, Moment, System, Volume};
use serde_json::{Value, json};
use std::cmp::Ordering;

/// The word under which a limit on content is kept.
pub const CONTENT: &str = "VOC content";
/// The scope of a limit that holds for every mix.
pub const ALL_MIXES: &str = "all mixes";
/// The scope of a limit that holds for every material as supplied.
pub const ALL_MATERIALS: &str = "all materials";

/// The word under which a basis is kept with a limit.
pub fn kept_basis(basis: Basis) -> String {
    format!("VOC in a volume {}", basis.words())
}

/// What is held.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A mix by its number.
    Mix(u32),
    /// A material by its newest sheet.
    Material(String),
}

/// A limit with the figure that it declares.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// The limit.
    pub limit: CeilingRow,
    /// Its basis; `None` where the record holds one that is not known here.
    pub basis: Option<Basis>,
    /// The figure on that basis.
    pub figure: Option<Density>,
    /// How it stands.
    pub side: Side,
}

/// A mix or material with its contents.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contents {
    /// What people call it.
    pub name: String,
    /// Its amounts: one make of the mix, or a litre of the material.
    pub amounts: Amounts,
    /// By what it is counted.
    pub counted_by: String,
    /// The limits that hold for it.
    pub held: Vec<Held>,
}

/// The contents of a mix or material, counted by the rule set of the day.
pub fn contents(
    ledger: &Ledger,
    what: &What,
    wanted: Option<&str>,
    at: Moment,
) -> Result<Contents, LedgerError> {
    let month = Months::one(&ledger.calendar().day(at).month())?;
    let rules = counting::chosen(ledger, &month, wanted)?;
    let (name, scopes, parts) = match what {
        What::Mix(number) => {
            let mix = ledger.mix_made(*number)?;
            let name = format!("mix {number} ({})", shown(&mix.name));
            let parts: Vec<_> = mix
                .parts
                .iter()
                .map(|p| (p.lot.clone(), p.volume))
                .collect();
            (name, [mix.name, ALL_MIXES.to_owned()], Some(parts))
        }
        What::Material(code) => (
            format!("{} as supplied", shown(code)),
            [code.clone(), ALL_MATERIALS.to_owned()],
            None,
        ),
    };
    let amounts = |rules: Option<&RuleSet>| -> Result<Amounts, LedgerError> {
        let mut amounts = Amounts::default();
        match (&parts, what) {
            (Some(parts), _) => {
                for (lot, volume) in parts {
                    amounts.add(&*ledger.lot_material(lot)?, *volume, 1, rules);
                }
            }
            (None, What::Material(code)) => {
                amounts.add(&*ledger.newest_material(code)?, Volume(1_000_000), 1, rules);
            }
            (None, What::Mix(_)) => {}
        }
        Ok(amounts)
    };
    let own = amounts(rules.as_ref())?;
    let mut held = Vec::new();
    for limit in ledger.ceilings()? {
        if limit.what != CONTENT || !scopes.contains(&limit.scope) {
            continue;
        }
        let of_limit = match limit.rules.as_deref() {
            None => own.clone(),
            Some(code) => amounts(counting::chosen(ledger, &month, Some(code))?.as_ref())?,
        };
        let basis = Basis::ALL
            .iter()
            .copied()
            .find(|b| kept_basis(*b) == limit.basis);
        let side = match basis.and_then(|b| of_limit.against(b, Density(limit.value))) {
            None => Side::Unknown,
            Some(Ordering::Less) => Side::Under,
            Some(Ordering::Equal) => Side::At,
            Some(Ordering::Greater) => Side::Over,
        };
        held.push(Held {
            figure: basis.and_then(|b| of_limit.content(b)),
            limit,
            basis,
            side,
        });
    }
    Ok(Contents {
        name,
        amounts: own,
        counted_by: counting::words(rules.as_ref()),
        held,
    })
}

/// The mixes of some months that limits on content hold for; nothing where no such limit is entered.
pub fn of_months(
    ledger: &Ledger,
    months: &Months,
    at: Moment,
) -> Result<Vec<Contents>, LedgerError> {
    if !ledger.ceilings()?.iter().any(|l| l.what == CONTENT) {
        return Ok(Vec::new());
    }
    let mut mixes: Vec<u32> = ledger
        .used_groups(months)?
        .iter()
        .filter_map(|g| g.mix)
        .collect();
    mixes.sort_unstable();
    mixes.dedup();
    let mut out = Vec::new();
    for mix in mixes {
        let found = contents(ledger, &What::Mix(mix), None, at)?;
        if !found.held.is_empty() {
            out.push(found);
        }
    }
    Ok(out)
}

impl Contents {
    /// Whether a figure is over its limit or not known.
    pub fn calls_for_attention(&self) -> bool {
        self.held
            .iter()
            .any(|h| matches!(h.side, Side::Over | Side::Unknown))
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        json!({
            "of": self.name, "content_mg_l": self.amounts.contents_json(), "counted_by": self.counted_by,
            "held_against": self.held.iter().map(|h| json!({
                "side": h.side.word(), "basis": h.basis.map(Word::word), "content_mg_l": h.figure.map(|f| f.0),
                "limit_mg_l": h.limit.value, "typed": h.limit.typed, "scope": h.limit.scope, "source": h.limit.source,
                "entered_by": h.limit.person, "rules": h.limit.rules,
            })).collect::<Vec<_>>(),
        })
    }

    /// The limits as lines.
    pub fn held_lines(&self, system: System) -> Vec<String> {
        self.held
            .iter()
            .map(|h| {
                let basis = h.basis.map_or("on a basis that is not known here", Basis::words);
                let rules = h.limit.rules.as_deref().map_or_else(String::new, |code| {
                    if code == NO_RULES {
                        ", counted as the sheets state".to_owned()
                    } else {
                        format!(", counted by rule set {}", shown(code))
                    }
                });
                format!(
                    "{}: {} {basis}; {} the limit of {} for {}, which declares the basis \"{}\"{rules} (entered by {}, source: {})",
                    self.name,
                    content(h.figure, system),
                    h.side.word(),
                    shown(&h.limit.typed),
                    shown(&h.limit.scope),
                    shown(&h.limit.basis),
                    shown(&h.limit.person),
                    shown(&h.limit.source)
                )
            })
            .collect()
    }

    /// As lines for people.
    pub fn lines(&self, system: System) -> Vec<String> {
        let mut out = vec![
            format!("{}: VOC {}", self.name, self.amounts.contents_words(system)),
            self.counted_by.clone(),
        ];
        if self.held.is_empty() {
            out.push("no limit on its content is entered, and it is held against none".to_owned());
        }
        out.extend(self.held_lines(system));
        out
    }
}

/// Reads the figure of a limit on content, in mg/L.
pub fn limit_content(text: &str) -> Result<i64, String> {
    // A content may lie far below the density of any liquid.
    Density::read_within(text, None, 1_000, 2_000_000)
        .map(|d| d.0)
        .map_err(|e| e.to_string())
}
