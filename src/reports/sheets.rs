//! The lines of a recipe or a data sheet as a person reads them, and two revisions beside each other.
//!
//! *Not here*: what the lines are made of ([`recipe`](super::recipe), [`material`](super::material)).

use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What a line is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The first line: which sheet it is.
    Title,
    /// A heading.
    Head,
    /// A step, a substance, a lot: one of a list.
    Item,
    /// A fact of the whole.
    Fact,
    /// What the file's writer noted beside the figures.
    Remark,
}

/// One line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// What it is about; the same in every revision, and no other line of the sheet has it.
    pub key: String,
    /// Which kind of line.
    pub part: Part,
    /// Its beginning, blanks included.
    pub lead: String,
    /// Its details: what changes from revision to revision.
    pub details: Vec<String>,
}

impl Said {
    /// A line.
    pub fn new(
        part: Part,
        key: impl Into<String>,
        lead: impl Into<String>,
        details: Vec<String>,
    ) -> Self {
        Self {
            key: key.into(),
            part,
            lead: lead.into(),
            details,
        }
    }

    /// The line as it is printed.
    pub fn text(&self) -> String {
        let text = format!("{}{}", self.lead, self.details.join(", "));
        text.trim_end().to_owned()
    }
}

/// The lines as they are printed.
pub fn texts(lines: &[Said]) -> Vec<String> {
    lines.iter().map(Said::text).collect()
}

/// How a line of one revision stands to the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum How {
    /// It says the same.
    Same,
    /// It says something else.
    Changed,
    /// Only the later revision has it.
    New,
    /// Only the earlier revision has it.
    Gone,
    /// Both have it, at another place of the order.
    Moved,
}

impl How {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Same,
        Self::Changed,
        Self::New,
        Self::Gone,
        Self::Moved,
    ];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Changed => "changed",
            Self::New => "new",
            Self::Gone => "gone",
            Self::Moved => "moved",
        }
    }
}

/// A line of two revisions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// How the two stand to each other.
    pub how: How,
    /// As the earlier revision has it.
    pub before: Option<Said>,
    /// As the later one has it.
    pub after: Option<Said>,
}

/// Two revisions line by line, in the order of the later one; what is gone stands where it stood.
pub fn beside(before: &[Said], after: &[Said]) -> Vec<Pair> {
    let kept = common(before, after);
    let find = |list: &[Said], key: &str| list.iter().find(|s| s.key == key).cloned();
    let mut out = Vec::new();
    let mut left = before.iter().peekable();
    for said in after {
        if kept.contains(&said.key.as_str()) {
            while let Some(gone) = left.next_if(|s| s.key != said.key) {
                out.extend(lost(gone, after));
            }
            let old = left.next();
            let how = if old.is_some_and(|o| o.details == said.details) {
                How::Same
            } else {
                How::Changed
            };
            out.push(Pair {
                how,
                before: old.cloned(),
                after: Some(said.clone()),
            });
        } else {
            let old = find(before, &said.key);
            out.push(Pair {
                how: if old.is_some() { How::Moved } else { How::New },
                before: old,
                after: Some(said.clone()),
            });
        }
    }
    for gone in left {
        out.extend(lost(gone, after));
    }
    out
}

// A line of the earlier revision that is not where it was: gone, or shown where it moved to.
fn lost(said: &Said, after: &[Said]) -> Option<Pair> {
    let moved = after.iter().any(|a| a.key == said.key);
    (!moved).then(|| Pair {
        how: How::Gone,
        before: Some(said.clone()),
        after: None,
    })
}

// Keys of the longest run of lines that both have in the same order.
fn common<'a>(before: &'a [Said], after: &'a [Said]) -> Vec<&'a str> {
    let mut longest: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let at = |l: &BTreeMap<(usize, usize), usize>, i: usize, j: usize| {
        l.get(&(i, j)).copied().unwrap_or(0)
    };
    for (i, a) in before.iter().enumerate().rev() {
        for (j, b) in after.iter().enumerate().rev() {
            let best = if a.key == b.key {
                at(&longest, i + 1, j + 1) + 1
            } else {
                at(&longest, i + 1, j).max(at(&longest, i, j + 1))
            };
            longest.insert((i, j), best);
        }
    }
    let (mut i, mut j) = (0, 0);
    let mut keys = Vec::new();
    while let (Some(a), Some(b)) = (before.get(i), after.get(j)) {
        if a.key == b.key {
            keys.push(a.key.as_str());
            (i, j) = (i + 1, j + 1);
        } else if at(&longest, i + 1, j) >= at(&longest, i, j + 1) {
            i += 1;
        } else {
            j += 1;
        }
    }
    keys
}

/// How many lines stand how to each other: `2 changed, 1 new, 20 same`.
pub fn tally(pairs: &[Pair]) -> String {
    let mut counts: BTreeMap<How, usize> = BTreeMap::new();
    for pair in pairs {
        *counts.entry(pair.how).or_insert(0) += 1;
    }
    // What differs comes before what does not.
    let same = counts.remove_entry(&How::Same);
    let parts: Vec<String> = counts
        .into_iter()
        .chain(same)
        .map(|(how, n)| format!("{n} {}", how.word()))
        .collect();
    parts.join(", ")
}

/// What differs, for the command line: each line of the one and of the other.
pub fn difference_lines(before: &str, after: &str, pairs: &[Pair]) -> Vec<String> {
    let mut out = vec![format!("{before} and {after}: {}", tally(pairs))];
    for pair in pairs.iter().filter(|p| p.how != How::Same) {
        let mut word = pair.how.word();
        for (name, said) in [(before, &pair.before), (after, &pair.after)] {
            if let Some(said) = said {
                let text = said.text();
                let text: Vec<&str> = text.split_whitespace().collect();
                out.push(format!("  {word:<8} {name}: {}", text.join(" ")));
                word = "";
            }
        }
    }
    out
}

/// The same as JSON.
pub fn difference_json(before: &str, after: &str, pairs: &[Pair]) -> Value {
    let side = |said: &Option<Said>| said.as_ref().map(|s| s.text().trim().to_owned());
    json!({
        "before": before, "after": after,
        "lines": pairs.iter().map(|p| json!({
            "how": p.how.word(),
            "about": p.after.as_ref().or(p.before.as_ref()).map(|s| s.key.clone()),
            "before": side(&p.before), "after": side(&p.after),
        })).collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(list: &[(&str, &str)]) -> Vec<Said> {
        list.iter()
            .map(|(key, detail)| {
                Said::new(
                    Part::Item,
                    *key,
                    format!("{key} "),
                    vec![(*detail).to_owned()],
                )
            })
            .collect()
    }

    #[test]
    fn two_revisions_stand_beside_each_other_line_by_line() {
        let before = lines(&[
            ("seal", "2"),
            ("fill", "1"),
            ("clear", "3"),
            ("buff", "1"),
            ("cure", "9"),
        ]);
        let after = lines(&[
            ("dye", "1"),
            ("seal", "2"),
            ("cure", "9"),
            ("clear", "4"),
            ("buff", "1"),
        ]);
        let pairs = beside(&before, &after);
        let short: Vec<(&str, &str)> = pairs
            .iter()
            .map(|p| {
                let said = p.after.as_ref().or(p.before.as_ref()).unwrap();
                (said.key.as_str(), p.how.word())
            })
            .collect();
        assert_eq!(
            short,
            [
                ("dye", "new"),
                ("seal", "same"),
                ("cure", "moved"),
                ("fill", "gone"),
                ("clear", "changed"),
                ("buff", "same"),
            ]
        );
        assert_eq!(tally(&pairs), "1 changed, 1 new, 1 gone, 1 moved, 2 same");
        assert!(beside(&before, &before).iter().all(|p| p.how == How::Same));
        assert!(beside(&[], &before).iter().all(|p| p.how == How::New));
        assert!(beside(&before, &[]).iter().all(|p| p.how == How::Gone));
    }
}
