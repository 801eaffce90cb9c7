//! A rule set: what counts as VOC, as exempt and as HAP, by CAS number. A shop adopts it from a file, as it adopts a sheet.
//!
//! ```toml
//! [rules]
//! code = "US-FED"
//! revision = "2026-11"
//! in_force = 2016-04-25             # from this production day on
//! source = "where the lists come from"
//! water = "taken off"               # or "kept in": the volume of a content less water and exempt
//!
//! [[exempt]]                        # not counted as VOC
//! cas = "67-64-1"
//! name = "acetone"
//! tag = "cited from a stored excerpt"
//! note = "may be left out"
//!
//! [[counted]]                       # counted as VOC, whatever a sheet calls it
//! cas = "540-88-5"
//! name = "tert-butyl acetate"
//!
//! [[hap]]
//! cas = "108-38-3"
//! name = "m-xylene"
//! group = "xylenes"                 # substances that are listed as one
//! ```
//!
//! *Invariants*: an adopted revision never changes; a substance stands in each list once, and never among both the exempt
//! and the counted ones; whatever no list exempts is counted. How much of a range counts is the record's rule, not the
//! set's.
//!
//! *Not here*: which set a shop goes by (a setting, or a limit's own), and sums (`reports::counting`).

use super::faults::{Fault, Limits, Need, Table, read_file};
use super::material::{Counts, Material, Part};
use super::material_file::{cas, limits};
use super::words::{Word, words};
use Need::{May, Must};
use chrono::NaiveDate;

words!(
    /// Whether somebody read an entry in its source, remembers it, or entered it for the shop.
    Tag {
        /// Read in a stored excerpt.
        Cited = "cited from a stored excerpt",
        /// Remembered only.
        Memory = "from memory, to be confirmed",
        /// The shop's own.
        Entered = "as entered by the shop",
    }
);

words!(
    /// What a set does with the volume of water in a content less water and exempt solvent.
    Water {
        /// It is taken off.
        TakenOff = "taken off",
        /// It stays in.
        KeptIn = "kept in",
    }
);

const REVISION: Limits = Limits {
    field: "revision",
    low: 1,
    high: 40,
    unit: "",
    fix: "write the revision in double quotes, such as \"2026-11\"",
};
const SOURCE: Limits = Limits {
    field: "source",
    low: 1,
    high: 200,
    unit: "",
    fix: "write where the lists come from, in double quotes",
};
const GROUP: Limits = Limits {
    field: "group",
    low: 1,
    high: 40,
    unit: "",
    fix: "write the name of the group, such as \"xylenes\"",
};
const NOTE: Limits = Limits {
    field: "note",
    low: 1,
    high: 200,
    unit: "",
    fix: "write a short remark in double quotes",
};

/// A substance of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// CAS registry number.
    pub cas: String,
    /// Generic name.
    pub name: String,
    /// The group that it is listed in.
    pub group: Option<String>,
    /// A remark.
    pub note: Option<String>,
    /// Whether it was read, remembered or entered.
    pub tag: Tag,
}

/// One revision of a rule set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleSet {
    /// Its code.
    pub code: String,
    /// Its revision.
    pub revision: String,
    /// From which day on it is in force.
    pub in_force: NaiveDate,
    /// Where its lists come from.
    pub source: String,
    /// What it does with water.
    pub water: Water,
    /// What is not counted as VOC.
    pub exempt: Vec<Listed>,
    /// What is counted as VOC although a sheet may call it exempt.
    pub counted: Vec<Listed>,
    /// Hazardous air pollutants.
    pub hap: Vec<Listed>,
}

impl RuleSet {
    /// What a part of a sheet counts as.
    pub fn counts(&self, part: &Part) -> Counts {
        let listed = |list: &[Listed]| list.iter().any(|l| l.cas == part.cas);
        Counts {
            exempt: !part.counts.water && listed(&self.exempt),
            water: part.counts.water,
            hap: !part.counts.water && listed(&self.hap),
        }
    }

    /// The group of a HAP, where it is listed in one.
    pub fn group(&self, cas: &str) -> Option<&str> {
        self.hap
            .iter()
            .find(|l| l.cas == cas)
            .and_then(|l| l.group.as_deref())
    }

    /// `US-FED rev 2026-11`.
    pub fn label(&self) -> String {
        format!("{} rev {}", self.code, self.revision)
    }

    /// Where the set counts a substance otherwise than its data sheet does.
    pub fn differs_from(&self, material: &Material) -> Vec<String> {
        let mut out = Vec::new();
        for part in &material.parts {
            let (own, by_set) = (part.counts, self.counts(part));
            let say = |what: &str| {
                format!(
                    "{} {} in {} (sheet {}): {what}",
                    part.cas, part.name, material.code, material.sheet
                )
            };
            if part.solid {
                // What stays in the film is in no total; that a list names it is still worth a word.
                if by_set.hap {
                    out.push(say(
                        "listed as HAP by the rule set; the sheet calls it a solid, so it is in no total",
                    ));
                }
                continue;
            }
            match (own.exempt, by_set.exempt) {
                (true, false) => out.push(say(
                    "the sheet calls it exempt, the rule set counts it as VOC",
                )),
                (false, true) => out.push(say(
                    "the sheet counts it as VOC, the rule set calls it exempt",
                )),
                _ => {}
            }
            match (own.hap, by_set.hap) {
                (true, false) => out.push(say(
                    "the sheet calls it a HAP, the rule set does not list it",
                )),
                (false, true) => out.push(say(
                    "the rule set lists it as HAP, the sheet does not call it one",
                )),
                _ => {}
            }
        }
        out
    }
}

/// Reads a rule set. `file_name` is what messages call the file.
///
/// # Errors
/// All faults of the file, in the order of their lines.
pub fn read(file_name: &str, text: &str) -> Result<RuleSet, Vec<Fault>> {
    read_file(file_name, text, rule_set)
}

fn rule_set(root: &Table<'_>) -> Option<RuleSet> {
    let head = root.table("rules", Must);
    let (exempt_tables, counted_tables) = (root.tables("exempt", May), root.tables("counted", May));
    let exempt = listed(&exempt_tables);
    let counted = listed(&counted_tables);
    let hap = listed(&root.tables("hap", May));
    root.done();
    for (table, entry) in counted_tables.iter().zip(&counted) {
        let Some(entry) = entry else { continue };
        if exempt.iter().flatten().any(|e| e.cas == entry.cas) {
            table.contradiction(
                "cas",
                &entry.cas,
                "stands among the exempt ones too".to_owned(),
                "keep it in the list that is true",
            );
        }
    }
    let head = head?;
    let code = head.code(&limits::CODE, Must);
    let revision = head.text(&REVISION, Must);
    let in_force = head.date("in_force", Must);
    let source = head.text(&SOURCE, Must);
    let water = head.word::<Water>("water", Must);
    head.done();
    // The word that stands for no rule set at all.
    if let Some("sheet") = code.as_deref() {
        head.contradiction(
            "code",
            "sheet",
            "means the classes of the data sheets".to_owned(),
            "write another code",
        );
    }
    Some(RuleSet {
        code: code?,
        revision: revision?,
        in_force: in_force?,
        source: source?,
        water: water?,
        exempt: exempt.into_iter().flatten().collect(),
        counted: counted.into_iter().flatten().collect(),
        hap: hap.into_iter().flatten().collect(),
    })
}

fn listed(tables: &[Table<'_>]) -> Vec<Option<Listed>> {
    let mut list: Vec<Option<Listed>> = Vec::with_capacity(tables.len());
    for table in tables {
        let entry = one(table);
        if let Some(entry) = &entry
            && list.iter().flatten().any(|e| e.cas == entry.cas)
        {
            table.contradiction(
                "cas",
                &entry.cas,
                "stands in this list already".to_owned(),
                "write each substance once in a list",
            );
        }
        list.push(entry);
    }
    list
}

fn one(table: &Table<'_>) -> Option<Listed> {
    let cas = cas(table);
    let name = table.text(&limits::NAME, Must);
    let group = table.text(&GROUP, May);
    let note = table.text(&NOTE, May);
    let tag = table.word::<Tag>("tag", May);
    table.done();
    if table.has("tag") && tag.is_none() {
        return None;
    }
    Some(Listed {
        cas: cas?,
        name: name?,
        group,
        note,
        tag: tag.unwrap_or(Tag::Entered),
    })
}
