//! A rule set as a person reads it, and as JSON.
//!
//! *Not here*: reading the file (`shop::rule_set`), what it makes of a month (`counting`).

use super::sheets::{Part, Said};
use crate::shop::rule_set::{Listed, RuleSet};
use crate::shop::text::shown;
use crate::shop::words::Word;
use serde_json::{Value, json};

const LISTS: [(&str, &str); 3] = [
    ("exempt", "not counted as VOC"),
    ("counted", "counted as VOC, whatever a sheet calls it"),
    ("hap", "hazardous air pollutants"),
];

fn list<'s>(set: &'s RuleSet, key: &str) -> &'s [Listed] {
    match key {
        "exempt" => &set.exempt,
        "counted" => &set.counted,
        _ => &set.hap,
    }
}

/// The set's lines.
pub fn lines(set: &RuleSet) -> Vec<Said> {
    let fact = |key: &str, lead: &str, text: String| {
        Said::new(Part::Fact, key, format!("  {lead}"), vec![text])
    };
    let mut out = vec![
        Said::new(
            Part::Title,
            "rules",
            format!("rule set {}  ", shown(&set.code)),
            vec![format!("rev {}", shown(&set.revision))],
        ),
        fact("in force", "in force from ", set.in_force.to_string()),
        fact("source", "source: ", shown(&set.source)),
        fact(
            "water",
            "water, in a content less water and exempt: ",
            set.water.word().to_owned(),
        ),
    ];
    for (key, title) in LISTS {
        let entries = list(set, key);
        if entries.is_empty() {
            continue;
        }
        out.push(Said::new(Part::Head, key, format!("  {title}"), Vec::new()));
        for l in entries {
            let mut details = Vec::new();
            if let Some(group) = &l.group {
                details.push(format!("in the group {}", shown(group)));
            }
            details.push(l.tag.word().to_owned());
            details.extend(l.note.as_deref().map(shown));
            out.push(Said::new(
                Part::Item,
                format!("{key} {}", l.cas),
                format!("    {:<30} {:<12} ", shown(&l.name), l.cas),
                details,
            ));
        }
    }
    out
}

/// The set as JSON.
pub fn json(set: &RuleSet) -> Value {
    let of = |key: &str| -> Vec<Value> {
        list(set, key)
            .iter()
            .map(|l| {
                json!({"cas": l.cas, "name": l.name, "group": l.group, "tag": l.tag.word(), "note": l.note})
            })
            .collect()
    };
    json!({
        "code": set.code, "revision": set.revision, "in_force": set.in_force.to_string(), "source": set.source,
        "water": set.water.word(), "exempt": of("exempt"), "counted": of("counted"), "hap": of("hap"),
    })
}
