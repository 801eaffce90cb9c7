//! The solvent of some months from every side: by day, production day, material, lot, booth, purpose or substance.
//!
//! *Invariants*: the lines of each side add up to the kept total to the last milligram, for VOC, exempt substances, all HAP
//! and each HAP; where they do not, that is said. A content of which the volume is not known is unknown.
//!
//! *Not here*: what counts (`counting`), limits (`book`).

use super::book::{exact, litres, mass as kg};
use super::counting;
use super::entries::totals as totals_json;
use crate::ledger::{Ledger, LedgerError, Months, UseBy};
use crate::science::voc::{kept_content, kept_volume};
use crate::shop::calendar::Day;
use crate::shop::material::{Counted, Material, Totals};
use crate::shop::rule_set::{RuleSet, Water};
use crate::shop::text::shown;
use crate::shop::words::{Word, words};
use crate::units::{Amount, Density, Dimension, Mass, Moment, System, Volume, find, num, show};
use serde_json::{Value, json};
use std::collections::BTreeMap;

words!(
    /// What the solvent of some months is counted by.
    By {
        /// Calendar day of the shop.
        Day = "day",
        /// Production day.
        ProductionDay = "production-day",
        /// Material.
        Material = "material",
        /// Lot.
        Lot = "lot",
        /// Booth.
        Booth = "booth",
        /// Coating, thinning, cleaning, ...
        Purpose = "purpose",
        /// Substance.
        Substance = "substance",
    }
);

words!(
    /// On which volume a content of VOC is reckoned.
    Basis {
        /// All of the material or mix.
        Material = "material",
        /// Without water and exempt substances.
        LessExempt = "less exempt",
        /// Its solids.
        Solids = "solids",
    }
);

impl Basis {
    /// How a figure on it is called.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Material => "of material",
            Self::LessExempt => "less water and exempt",
            Self::Solids => "of solids",
        }
    }
}

/// Volumes and masses of some uses.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Amounts {
    /// What was used.
    pub volume: Volume,
    /// VOC, HAP and exempt substances.
    pub totals: Totals,
    /// Each HAP, by its group or its CAS number: name and mass.
    pub haps: BTreeMap<String, (String, Mass)>,
    // Volume of its solids in uL and ppm together, so that no grouping rounds it otherwise.
    solids: i128,
    // Masses of water and exempt substances by their density; `None` where a density is missing.
    taken_off: Option<BTreeMap<Density, i64>>,
}

impl Default for Amounts {
    fn default() -> Self {
        Self {
            volume: Volume(0),
            totals: Totals::default(),
            haps: BTreeMap::new(),
            solids: 0,
            taken_off: Some(BTreeMap::new()),
        }
    }
}

impl Amounts {
    /// Adds a volume of a material, as a rule set counts it; `uses` times.
    pub fn add(&mut self, material: &Material, volume: Volume, uses: i64, rules: Option<&RuleSet>) {
        self.volume.0 += volume.0 * uses;
        self.solids +=
            i128::from(volume.0) * i128::from(material.volume_solids.0) * i128::from(uses);
        for (counted, mass) in material.masses_by(volume, rules) {
            let mass = Mass(mass.0 * uses);
            self.add_mass(&counted, mass, rules);
            let kept_in = counted.counts.water && rules.is_some_and(|r| r.water == Water::KeptIn);
            if (counted.counts.exempt || counted.counts.water) && !kept_in && mass.0 > 0 {
                let part = material.parts.iter().find(|p| p.cas == counted.cas);
                match (part.and_then(|p| p.density), &mut self.taken_off) {
                    (Some(density), Some(all)) => *all.entry(density).or_default() += mass.0,
                    _ => self.taken_off = None,
                }
            }
        }
    }

    fn add_mass(&mut self, counted: &Counted, mass: Mass, rules: Option<&RuleSet>) {
        self.totals.add(&[(counted.clone(), mass)]);
        if counted.counts.hap {
            let group = rules.and_then(|r| r.group(&counted.cas));
            let (key, name) = group.map_or((&*counted.cas, &*counted.name), |g| (g, g));
            self.haps
                .entry(key.to_owned())
                .or_insert_with(|| (name.to_owned(), Mass(0)))
                .1
                .0 += mass.0;
        }
    }

    fn solid_volume(&self) -> Volume {
        Volume(i64::try_from(num::round_half_even(self.solids, 1_000_000)).unwrap_or(0))
    }

    /// The volume that a content is reckoned on.
    fn of(&self, basis: Basis) -> Option<Volume> {
        match basis {
            Basis::Material => Some(self.volume),
            Basis::LessExempt => {
                let mut left = self.volume.0;
                for (density, mass) in self.taken_off.as_ref()? {
                    left -= kept_volume(Mass(*mass), *density)?.0;
                }
                Some(Volume(left))
            }
            Basis::Solids => Some(self.solid_volume()),
        }
    }

    /// VOC in a volume; `None` where there is no such volume, or it is not known.
    pub fn content(&self, basis: Basis) -> Option<Density> {
        kept_content(self.totals.voc, self.of(basis)?)
    }

    /// How its content stands to a limit, held without rounding; `None` where it is unknown.
    pub fn against(&self, basis: Basis, limit: Density) -> Option<std::cmp::Ordering> {
        let volume = self.of(basis).filter(|v| v.0 > 0)?;
        let mass = i128::from(self.totals.voc.0) * 1_000_000;
        Some(mass.cmp(&(i128::from(limit.0) * i128::from(volume.0))))
    }

    fn merge(&mut self, more: &Self) {
        self.volume.0 += more.volume.0;
        self.totals.merge(&more.totals);
        self.solids += more.solids;
        match (&mut self.taken_off, &more.taken_off) {
            (Some(all), Some(more)) => {
                for (density, mass) in more {
                    *all.entry(*density).or_default() += mass;
                }
            }
            _ => self.taken_off = None,
        }
        for (key, (name, mass)) in &more.haps {
            self.haps
                .entry(key.clone())
                .or_insert_with(|| (name.clone(), Mass(0)))
                .1
                .0 += mass.0;
        }
    }

    /// As JSON; what has no volume of its own has no content.
    fn json(&self) -> Value {
        let mut value = totals_json(&self.totals);
        if let Some(map) = value.as_object_mut() {
            map.insert("volume_ul".to_owned(), json!(self.volume.0));
            map.insert("solids_ul".to_owned(), json!(self.solid_volume().0));
            map.insert("content_mg_l".to_owned(), self.contents_json());
            let haps = self.haps.iter();
            let haps = haps.map(|(k, (n, m))| json!({"of": k, "name": n, "mass_mg": m.0}));
            map.insert("each_hap".to_owned(), haps.collect());
        }
        value
    }

    /// The three contents as JSON.
    pub fn contents_json(&self) -> Value {
        Basis::ALL
            .iter()
            .map(|b| (b.word().to_owned(), json!(self.content(*b).map(|d| d.0))))
            .collect::<serde_json::Map<_, _>>()
            .into()
    }

    /// The three contents in words.
    pub fn contents_words(&self, system: System) -> String {
        let all: Vec<String> = Basis::ALL
            .iter()
            .map(|b| format!("{} {}", content(self.content(*b), system), b.words()))
            .collect();
        all.join(", ")
    }
}

/// A content as people read it.
pub fn content(content: Option<Density>, system: System) -> String {
    let name = match system {
        System::Metric => "g/L",
        System::Us => "lb/gal",
    };
    let decimals = if matches!(system, System::Metric) {
        1
    } else {
        2
    };
    match (content, find(name, Dimension::Density)) {
        (Some(d), Some(unit)) => show(d.base(), unit, decimals),
        _ => "unknown".to_owned(),
    }
}

/// One line of a side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// What its uses share.
    pub key: String,
    /// What else is to be said of it.
    pub more: String,
    /// How much.
    pub amounts: Amounts,
}

/// Some months from one side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// The months.
    pub months: Months,
    /// From which side.
    pub by: By,
    /// The lines.
    pub rows: Vec<Row>,
    /// The total that the record keeps.
    pub total: Amounts,
    /// By what it is counted.
    pub counted_by: String,
    /// The code and revision of the rule set.
    pub rules: Option<String>,
    /// Where the rule set counts otherwise than the sheets.
    pub remarks: Vec<String>,
    /// Whether the lines add up to the total.
    pub adds_up: bool,
}

/// The solvent of some months from one side.
pub fn report(
    ledger: &Ledger,
    months: &Months,
    by: By,
    rules: Option<&RuleSet>,
) -> Result<Report, LedgerError> {
    let calendar = ledger.calendar();
    let use_by = match by {
        By::Day => UseBy::Moment,
        By::ProductionDay => UseBy::Day,
        By::Booth => UseBy::Booth,
        By::Purpose => UseBy::Purpose,
        By::Material | By::Lot | By::Substance => UseBy::All,
    };
    let mut rows: BTreeMap<String, Row> = BTreeMap::new();
    let mut all = Amounts::default();
    for (material, group) in counting::of_uses(ledger, months.days(), use_by)? {
        let mut one = Amounts::default();
        one.add(&material, group.volume, group.uses, rules);
        all.merge(&one);
        if by == By::Substance {
            for (counted, mass) in counting::masses_of(&material, &group, rules) {
                let class = class(&counted);
                let row = rows.entry(counted.cas.clone()).or_insert_with(|| Row {
                    key: counted.cas.clone(),
                    more: format!("{} ({class})", counted.name),
                    amounts: Amounts::default(),
                });
                row.amounts.add_mass(&counted, mass, rules);
                // Two sheets may class a substance in two ways.
                if !row.more.contains(class) {
                    row.more = format!("{} (differs by sheet)", counted.name);
                }
            }
            continue;
        }
        let (key, more) = match by {
            By::Day => {
                let at = Moment(group.key.parse().unwrap_or(0));
                (calendar.local(at).date_naive().to_string(), String::new())
            }
            By::Material => (material.code.clone(), material.name.clone()),
            By::Lot => (
                group.lot.clone(),
                format!("{} sheet {}", material.code, material.sheet),
            ),
            By::Booth if group.key.is_empty() => ("unknown".to_owned(), String::new()),
            _ => (group.key.clone(), String::new()),
        };
        rows.entry(key.clone())
            .or_insert_with(|| Row {
                key,
                more,
                amounts: Amounts::default(),
            })
            .amounts
            .merge(&one);
    }
    let kept = counting::sums(ledger, months, rules)?;
    let mut total = Amounts {
        volume: Volume(kept.materials.iter().map(|(_, v, _)| v.0).sum()),
        solids: all.solids,
        taken_off: all.taken_off,
        ..Amounts::default()
    };
    for s in &kept.substances {
        total.add_mass(&s.substance, s.mass, rules);
    }
    let rows: Vec<Row> = rows.into_values().collect();
    let mut sum = Amounts::default();
    for row in &rows {
        sum.merge(&row.amounts);
    }
    sum.haps.retain(|_, (_, m)| m.0 != 0);
    let adds_up = sum.totals == total.totals
        && masses(&sum) == masses(&total)
        && (by == By::Substance || sum.volume == total.volume);
    Ok(Report {
        months: months.clone(),
        by,
        rows,
        total,
        counted_by: counting::words(rules),
        rules: rules.map(RuleSet::label),
        remarks: counting::remarks(ledger, &kept, rules)?,
        adds_up,
    })
}

fn masses(of: &Amounts) -> Vec<(&str, i64)> {
    of.haps
        .iter()
        .map(|(k, (_, m))| (k.as_str(), m.0))
        .collect()
}

const fn class(counted: &Counted) -> &'static str {
    match (
        counted.counts.water,
        counted.counts.exempt,
        counted.counts.hap,
    ) {
        (true, ..) => "water",
        (_, true, true) => "exempt, HAP",
        (_, true, false) => "exempt",
        (_, _, true) => "VOC, HAP",
        _ => "VOC",
    }
}

impl Report {
    /// The months in words.
    pub fn months_words(&self) -> String {
        if self.months.rolling() {
            format!("twelve months to {}", self.months.last())
        } else {
            self.months.last().to_owned()
        }
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let day = |d: i64| Day(i32::try_from(d).unwrap_or(0)).date().to_string();
        let [first, end] = self.months.days();
        json!({
            "months": self.months.list(), "first_production_day": day(first), "last_production_day": day(end - 1),
            "by": self.by.word(), "rules": self.rules, "counted_by": self.counted_by,
            "lines": self.rows.iter().map(|r| {
                let mut value = r.amounts.json();
                if let Some(map) = value.as_object_mut() {
                    map.insert("key".to_owned(), json!(r.key));
                    map.insert("more".to_owned(), json!(r.more));
                }
                value
            }).collect::<Vec<_>>(),
            "total": self.total.json(), "adds_up": self.adds_up, "remarks": self.remarks,
            "note": super::sums::FROM_LOG_ALONE,
        })
    }

    /// As lines for people.
    pub fn lines(&self, system: System) -> Vec<String> {
        let mut out = vec![
            format!("{} by {}", self.months_words(), self.by.word()),
            super::sums::FROM_LOG_ALONE.to_owned(),
            shown(&self.counted_by),
        ];
        if self.by == By::Day {
            out.push("the months are those of the production days: what was used after midnight before a day begins is of the day before".to_owned());
        }
        let width = self.rows.iter().map(|r| r.key.chars().count()).max();
        let width = width.unwrap_or(0).clamp(10, 30);
        for row in &self.rows {
            let a = &row.amounts;
            let masses = format!(
                "VOC {:>12}  HAP {:>12}  exempt {:>12}",
                exact(a.totals.voc),
                exact(a.totals.hap),
                exact(a.totals.exempt)
            );
            let key = shown(&row.key);
            out.push(if self.by == By::Substance {
                format!("  {key:<width$}  {masses}  {}", shown(&row.more))
            } else {
                let more = if row.more.is_empty() {
                    String::new()
                } else {
                    format!("; {}", shown(&row.more))
                };
                format!(
                    "  {key:<width$}  {:>10}  {masses}  {}{more}",
                    litres(a.volume, system),
                    a.contents_words(system)
                )
            });
        }
        out.push(format!(
            "total: {}, VOC {} ({}), HAP {}, exempt {}",
            litres(self.total.volume, system),
            exact(self.total.totals.voc),
            kg(self.total.totals.voc, system),
            exact(self.total.totals.hap),
            exact(self.total.totals.exempt)
        ));
        out.push(format!(
            "VOC content: {}",
            self.total.contents_words(system)
        ));
        for (key, (name, mass)) in &self.total.haps {
            let key = if key == name {
                String::new()
            } else {
                format!(" {}", shown(key))
            };
            out.push(format!("  HAP {}{key}: {}", shown(name), exact(*mass)));
        }
        out.push(if self.adds_up {
            "the lines add up to the kept total".to_owned()
        } else {
            "the lines miss the kept total: run \"hangtime verify\"".to_owned()
        });
        out.extend(self.remarks.iter().map(|r| format!("  {}", shown(r))));
        out
    }
}
