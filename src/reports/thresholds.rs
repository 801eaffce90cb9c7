//! Published thresholds as examples: what a shop may look up in the text that binds it before it enters a limit of its own.
//!
//! *Invariants*: nobody entered them and nothing is held against them; each says where it was read, or that it is from
//! memory. What counts for most of them is the potential to emit, not what was emitted.
//!
//! *Not here*: limits (`limits`).

use super::book::Of;
use super::content::{ALL_MIXES, CONTENT};
use super::limits::NewLimit;
use super::totals::Basis;
use crate::shop::rule_set::Tag;
use crate::shop::words::Word;
use serde_json::{Value, json};

/// What an example limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// VOC in twelve months.
    Voc,
    /// All HAP in twelve months.
    Hap,
    /// One HAP in twelve months; which one is to be said.
    OneHap,
    /// A content of every mix.
    Content(Basis),
    /// Something that no limit of the book can hold; shown only.
    Shown,
}

/// A published threshold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Example {
    /// Its short name.
    pub id: &'static str,
    /// What it limits.
    pub kind: Kind,
    /// The figure with its unit.
    pub value: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Where it was read.
    pub source: &'static str,
    /// Whether it was read or is remembered.
    pub tag: Tag,
}

const fn example(
    id: &'static str,
    (kind, value): (Kind, &'static str),
    what: &'static str,
    source: &'static str,
    tag: Tag,
) -> Example {
    Example {
        id,
        kind,
        value,
        what,
        source,
        tag,
    }
}

const TITLE_V: &str = "US EPA page on Title V permits";
const OZONE: &str = "US EPA page on ozone nonattainment classes, 40 CFR 51.166";
const JJ: &str = "40 CFR 63.800(b), wood furniture at major sources; an instrument is not furniture, so it may not apply";
const SCAQMD: &str = "SCAQMD Rule 1136, from 1 July 2005; the rule has words of its own for some instruments, which are to be read";
const CTG: &str = "US EPA control techniques guideline of 1996 as one state adopted it";

/// The examples.
pub static EXAMPLES: &[Example] = &[
    example(
        "major-voc",
        (Kind::Voc, "100 short ton"),
        "major source, VOC in a year: attainment, marginal or moderate",
        TITLE_V,
        Tag::Cited,
    ),
    example(
        "major-voc-serious",
        (Kind::Voc, "50 short ton"),
        "the same in a serious area or the ozone transport region",
        OZONE,
        Tag::Cited,
    ),
    example(
        "major-voc-severe",
        (Kind::Voc, "25 short ton"),
        "the same in a severe area",
        OZONE,
        Tag::Cited,
    ),
    example(
        "major-voc-extreme",
        (Kind::Voc, "10 short ton"),
        "the same in an extreme area",
        OZONE,
        Tag::Cited,
    ),
    example(
        "major-hap-one",
        (Kind::OneHap, "10 short ton"),
        "major source, one HAP in a year",
        TITLE_V,
        Tag::Cited,
    ),
    example(
        "major-hap",
        (Kind::Hap, "25 short ton"),
        "major source, all HAP in a year",
        TITLE_V,
        Tag::Cited,
    ),
    example(
        "area-hap-one",
        (Kind::OneHap, "4.5t"),
        "area source by its use, one HAP in twelve months",
        JJ,
        Tag::Memory,
    ),
    example(
        "area-hap",
        (Kind::Hap, "11.4t"),
        "area source by its use, all HAP in twelve months",
        JJ,
        Tag::Memory,
    ),
    example(
        "area-volume-month",
        (Kind::Shown, "250 gal"),
        "coating, gluing, cleaning and washoff material in each month",
        JJ,
        Tag::Cited,
    ),
    example(
        "area-volume-year",
        (Kind::Shown, "3000 gal"),
        "the same in twelve months",
        JJ,
        Tag::Memory,
    ),
    example(
        "formaldehyde",
        (Kind::OneHap, "400lb"),
        "formaldehyde in twelve months, as the other way to meet a rule on it",
        "40 CFR 63.803 and 63.806",
        Tag::Cited,
    ),
    example(
        "pa-surface-coating",
        (Kind::Voc, "2.7 short ton"),
        "from here on one state's surface coating rule applies",
        "25 Pa. Code, Pennsylvania Bulletin",
        Tag::Cited,
    ),
    example(
        "pa-wood-furniture",
        (Kind::Voc, "25 short ton"),
        "from here on its wood furniture rule applies",
        "25 Pa. Code 129",
        Tag::Cited,
    ),
    example(
        "district-clear-topcoat",
        (Kind::Content(Basis::LessExempt), "275g/L"),
        "clear topcoat, less water and exempt",
        SCAQMD,
        Tag::Memory,
    ),
    example(
        "district-sanding-sealer",
        (Kind::Content(Basis::LessExempt), "275g/L"),
        "clear sanding sealer, less water and exempt",
        SCAQMD,
        Tag::Memory,
    ),
    example(
        "district-washcoat",
        (Kind::Content(Basis::Material), "120g/L"),
        "low-solids washcoat, toner or stain, of material",
        SCAQMD,
        Tag::Memory,
    ),
    example(
        "small-use-gallons",
        (Kind::Shown, "500 gal"),
        "coatings in twelve months below which one district exempts a shop",
        "a rule of the San Diego district",
        Tag::Cited,
    ),
    example(
        "topcoat-solids",
        (Kind::Shown, "1.8 kg VOC/kg solids"),
        "topcoat of the high-solids route, as applied; its sealer 1.9",
        CTG,
        Tag::Cited,
    ),
];

/// The example with this short name.
pub fn find(id: &str) -> Result<&'static Example, String> {
    EXAMPLES.iter().find(|e| e.id == id).ok_or_else(|| {
        format!(
            "example \"{}\" is not known; \"hangtime limit examples\" lists them",
            crate::shop::text::shown(id)
        )
    })
}

impl Example {
    /// A limit with its figures; `of` is the substance, where it is of one HAP.
    pub fn limit(&self, of: Option<&Of>) -> Result<NewLimit, String> {
        match (self.kind, of) {
            (Kind::Voc, _) => NewLimit::solvent(&Of::Voc, true, self.value),
            (Kind::Hap, _) => NewLimit::solvent(&Of::Hap, true, self.value),
            (Kind::OneHap, Some(of @ Of::Substance(..))) => NewLimit::solvent(of, true, self.value),
            (Kind::OneHap, _) => Err(format!(
                "example {} is of one HAP; add --of with its CAS number, such as 108-88-3",
                self.id
            )),
            (Kind::Content(basis), _) => NewLimit::content(ALL_MIXES, basis, self.value),
            (Kind::Shown, _) => Err(format!(
                "example {} is of a figure that no limit here holds; it is shown only",
                self.id
            )),
        }
    }

    fn of_words(&self) -> String {
        match self.kind {
            Kind::Voc => "VOC in twelve months".to_owned(),
            Kind::Hap => "HAP total in twelve months".to_owned(),
            Kind::OneHap => "one HAP in twelve months".to_owned(),
            Kind::Content(basis) => format!("{CONTENT} of a mix, {}", basis.words()),
            Kind::Shown => "shown only".to_owned(),
        }
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        json!({
            "id": self.id, "of": self.of_words(), "value": self.value, "what": self.what, "source": self.source,
            "tag": self.tag.word(), "entered": false,
        })
    }

    /// As a line.
    pub fn line(&self) -> String {
        format!(
            "{:<24} {:<16} {}; {} ({}, {})",
            self.id,
            self.value,
            self.of_words(),
            self.what,
            self.source,
            self.tag.word()
        )
    }
}

/// Said above them.
pub const NOT_ENTERED: &str = "published thresholds as examples: nobody entered them, nothing is held against them; many count the potential to emit. The air agency and the permit say which one binds; \"limit enter --like ID --source ..\" enters one with where the shop has it from";
