//! What counts: the sums of some months as a rule set counts them, and where that differs from the data sheets.
//!
//! *Invariants*: the masses that the record keeps stay what they are. A substance that a set counts at the end of its range
//! at which the sheet counts it keeps its mass to the last milligram and changes its class only; where the end changes, the
//! masses are made anew from the single uses, each rounded once for each use and substance.
//!
//! *Not here*: which lists a set has (`shop::rule_set`), what a sum is held against (`book`).

use crate::ledger::{
    Ledger, LedgerError, MonthSubstance, MonthSums, Months, NO_RULES, UseBy, UseGroup,
};
use crate::shop::calendar::Day;
use crate::shop::material::{Counted, Material, Totals};
use crate::shop::rule_set::RuleSet;
use crate::shop::text::shown;
use crate::units::{Mass, Volume};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The rule set that some months are counted by: the wanted one, else that of the shop's setting; `None` where the data
/// sheets say what counts. It is the revision in force on the last day of the months.
pub fn chosen(
    ledger: &Ledger,
    months: &Months,
    wanted: Option<&str>,
) -> Result<Option<RuleSet>, LedgerError> {
    let code = match wanted {
        Some(code) => Some(code.to_owned()),
        None => ledger.book_settings()?.rules,
    };
    let last = Day(i32::try_from(months.days()[1] - 1).unwrap_or(i32::MAX)).date();
    code.filter(|c| c != NO_RULES)
        .map(|code| ledger.rules_on(&code, last))
        .transpose()
}

/// Said beside figures: by what they are counted.
pub fn words(rules: Option<&RuleSet>) -> String {
    rules.map_or_else(
        || "what counts as VOC, exempt and HAP: as the data sheets state it".to_owned(),
        |r| {
            format!(
                "what counts as VOC, exempt and HAP: by rule set {}, in force from {}, source: {}",
                shown(&r.label()),
                r.in_force,
                shown(&r.source)
            )
        },
    )
}

/// The sums of some months from the log, as a rule set counts them.
pub fn sums(
    ledger: &Ledger,
    months: &Months,
    rules: Option<&RuleSet>,
) -> Result<MonthSums, LedgerError> {
    let kept = ledger.sums_of(months)?;
    let Some(rules) = rules else { return Ok(kept) };
    let mut substances: Vec<MonthSubstance> = Vec::new();
    let mut anew: BTreeSet<(String, String)> = BTreeSet::new();
    let mut known: BTreeMap<(String, String), Option<Vec<Counted>>> = BTreeMap::new();
    for s in kept.substances {
        let key = (s.material.clone(), s.sheet.clone());
        if !known.contains_key(&key) {
            let material = ledger.material(&s.material, &s.sheet)?;
            known.insert(key.clone(), reclassed(&material, rules));
        }
        let Some(Some(counted)) = known.get(&key) else {
            anew.insert(key);
            continue;
        };
        if let Some(substance) = counted.iter().find(|c| c.cas == s.substance.cas) {
            substances.push(MonthSubstance {
                substance: substance.clone(),
                ..s
            });
        }
    }
    if !anew.is_empty() {
        let mut masses: BTreeMap<(String, String, String), MonthSubstance> = BTreeMap::new();
        for (material, group) in of_uses(ledger, months.days(), UseBy::All)? {
            if !anew.contains(&(material.code.clone(), material.sheet.clone())) {
                continue;
            }
            for (substance, mass) in masses_of(&material, &group, Some(rules)) {
                masses
                    .entry((
                        material.code.clone(),
                        material.sheet.clone(),
                        substance.cas.clone(),
                    ))
                    .and_modify(|kept| kept.mass.0 += mass.0)
                    .or_insert(MonthSubstance {
                        material: material.code.clone(),
                        sheet: material.sheet.clone(),
                        substance,
                        mass,
                    });
            }
        }
        substances.extend(masses.into_values().filter(|s| s.mass.0 != 0));
        substances.sort_by(|a, b| {
            (&a.material, &a.sheet, &a.substance.cas).cmp(&(
                &b.material,
                &b.sheet,
                &b.substance.cas,
            ))
        });
    }
    let mut totals = Totals::default();
    let mut by: BTreeMap<String, (Volume, Totals)> = kept
        .materials
        .into_iter()
        .map(|(m, v, _)| (m, (v, Totals::default())))
        .collect();
    for s in &substances {
        let one = [(s.substance.clone(), s.mass)];
        totals.add(&one);
        by.entry(s.material.clone()).or_default().1.add(&one);
    }
    Ok(MonthSums {
        month: kept.month,
        totals,
        materials: by.into_iter().map(|(m, (v, t))| (m, v, t)).collect(),
        substances,
    })
}

// How a set counts a sheet, where it takes the same end of each range as the sheet does.
fn reclassed(material: &Material, rules: &RuleSet) -> Option<Vec<Counted>> {
    let by_set = material.counted_by(Some(rules));
    let shares = |list: &[Counted]| -> Vec<(String, i64)> {
        list.iter().map(|c| (c.cas.clone(), c.share.0)).collect()
    };
    (shares(&by_set) == shares(&material.counted())).then_some(by_set)
}

/// What was used on some production days in groups, each with its material.
pub fn of_uses(
    ledger: &Ledger,
    days: [i64; 2],
    by: UseBy,
) -> Result<Vec<(Arc<Material>, UseGroup)>, LedgerError> {
    let mut lots: BTreeMap<String, Arc<Material>> = BTreeMap::new();
    let mut out = Vec::new();
    for group in ledger.use_groups(days, by)? {
        let material = if let Some(known) = lots.get(&group.lot) {
            Arc::clone(known)
        } else {
            let material = ledger.lot_material(&group.lot)?;
            lots.insert(group.lot.clone(), Arc::clone(&material));
            material
        };
        out.push((material, group));
    }
    Ok(out)
}

/// The masses of a group: each use was rounded by itself, so equal uses are a multiple of one.
pub fn masses_of(
    material: &Material,
    group: &UseGroup,
    rules: Option<&RuleSet>,
) -> Vec<(Counted, Mass)> {
    material
        .masses_by(group.volume, rules)
        .into_iter()
        .map(|(c, m)| (c, Mass(m.0 * group.uses)))
        .collect()
}

/// Where a set counts otherwise than the sheets of what was used.
pub fn remarks(
    ledger: &Ledger,
    sums: &MonthSums,
    rules: Option<&RuleSet>,
) -> Result<Vec<String>, LedgerError> {
    let Some(rules) = rules else {
        return Ok(Vec::new());
    };
    let sheets: BTreeSet<(&str, &str)> = sums
        .substances
        .iter()
        .map(|s| (s.material.as_str(), s.sheet.as_str()))
        .collect();
    let mut out = Vec::new();
    for (code, sheet) in sheets {
        out.extend(rules.differs_from(&*ledger.material(code, sheet)?));
    }
    Ok(out)
}
