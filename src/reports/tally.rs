//! Deviations, counted by who, where or by which recipe the deed was done.
//!
//! *Not here*: any verdict on a person: a count says where to look, and a fourth coat told by the supervisor counts, too.

use crate::ledger::DeviationGround;
use crate::shop::text::shown;
use serde_json::{Value, json};
use std::collections::BTreeMap;

#[derive(Debug, Default)]
struct Count {
    open: usize,
    answered: usize,
    moot: usize,
    rules: BTreeMap<String, usize>,
}

/// Counts of open, answered and moot deviations by `person`, `booth` or `recipe`; the most first. A deed whose room is
/// not known counts under "not known".
pub fn deviations<'a>(
    list: impl Iterator<Item = &'a DeviationGround>,
    by: &str,
) -> (Vec<String>, Value) {
    let mut counts: BTreeMap<String, Count> = BTreeMap::new();
    for ground in list {
        let key = match by {
            "person" => ground.person.clone(),
            "recipe" => ground.recipe.clone(),
            _ => ground
                .room
                .clone()
                .unwrap_or_else(|| "not known".to_owned()),
        };
        let count = counts.entry(key).or_default();
        match (ground.row.moot, ground.row.answer) {
            (Some(_), _) => count.moot += 1,
            (None, Some(_)) => count.answered += 1,
            (None, None) => count.open += 1,
        }
        *count.rules.entry(ground.row.rule.clone()).or_insert(0) += 1;
    }
    let mut counts: Vec<(String, Count)> = counts.into_iter().collect();
    counts.sort_by_key(|(_, c)| std::cmp::Reverse(c.open + c.answered + c.moot));
    let mut lines: Vec<String> = counts
        .iter()
        .map(|(key, c)| {
            let rules: Vec<String> = c.rules.iter().map(|(r, n)| format!("{r} {n}")).collect();
            format!(
                "{:<16} {} open, {} answered, {} moot  ({})",
                shown(key),
                c.open,
                c.answered,
                c.moot,
                rules.join(", ")
            )
        })
        .collect();
    if lines.is_empty() {
        lines.push("no deviation is recorded there".to_owned());
    }
    let value = counts
        .iter()
        .map(|(key, c)| {
            json!({by: key, "open": c.open, "answered": c.answered, "moot": c.moot, "rules": c.rules})
        })
        .collect();
    (lines, value)
}
