//! Pieces of which one and the same thing is said are told together: a rack's worth of one reason is one line.
//!
//! *Not here*: what is said of them.

use crate::shop::text::shown;

/// Pieces with one and the same text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group<'a, K> {
    /// What is said of them.
    pub said: K,
    /// Their serials, in the order in which they came.
    pub serials: Vec<&'a str>,
    /// The hooks of those that have one.
    pub hooks: Vec<u32>,
}

impl<K> Group<'_, K> {
    /// Who they are among so many: `all 24`, `hooks 1-6, 8`, `hook 5 B-0205`, or their serials where a hook is not known.
    pub fn whom(&self, among: usize) -> String {
        let n = self.serials.len();
        match (self.serials.as_slice(), self.hooks.as_slice()) {
            ([one], [hook]) => format!("hook {hook} {}", shown(one)),
            (many, _) if n > 1 && n == among => format!("all {}", many.len()),
            (many, hooks) if n > 1 && hooks.len() == many.len() => {
                format!("hooks {}", ranges(hooks))
            }
            (many, _) => {
                let names: Vec<_> = many.iter().map(|s| shown(s)).collect();
                names.join(", ")
            }
        }
    }
}

/// Puts pieces together by what is said of them, in the order in which each text comes first.
pub fn together<'a, K: PartialEq>(
    list: impl IntoIterator<Item = (K, &'a str, Option<u32>)>,
) -> Vec<Group<'a, K>> {
    let mut found: Vec<Group<'a, K>> = Vec::new();
    for (said, serial, hook) in list {
        let known = found.iter().position(|g| g.said == said);
        let group = match known.and_then(|at| found.get_mut(at)) {
            Some(group) => group,
            None => found.push_mut(Group {
                said,
                serials: Vec::new(),
                hooks: Vec::new(),
            }),
        };
        group.serials.push(serial);
        group.hooks.extend(hook);
    }
    found
}

/// Numbers in ascending order as people write them: `1-17, 20`.
pub fn ranges<N: Copy + Into<i128>>(numbers: &[N]) -> String {
    stretches(numbers).join(", ")
}

/// The stretches of numbers in ascending order, one text each: `1-17`, `20`. A number that stands twice counts once.
pub fn stretches<N: Copy + Into<i128>>(numbers: &[N]) -> Vec<String> {
    let mut parts: Vec<(i128, i128)> = Vec::new();
    for number in numbers {
        let number: i128 = (*number).into();
        match parts.last_mut() {
            Some((_, last)) if *last == number => {}
            Some((_, last)) if *last + 1 == number => *last = number,
            _ => parts.push((number, number)),
        }
    }
    let words = parts.iter().map(|(a, b)| {
        if a == b {
            a.to_string()
        } else {
            format!("{a}-{b}")
        }
    });
    words.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_with_one_reason_are_one_group_named_as_shortly_as_it_can_be() {
        let rack = [
            ("wet", "B-1", Some(1)),
            ("wet", "B-2", Some(2)),
            ("held", "B-3", Some(3)),
            ("wet", "B-4", Some(4)),
        ];
        let groups = together(rack);
        let said: Vec<String> = groups.iter().map(|g| g.whom(4)).collect();
        assert_eq!(said, ["hooks 1-2, 4", "hook 3 B-3"]);
        let groups = together(rack.map(|(_, serial, hook)| ("wet", serial, hook)));
        assert_eq!(groups.len(), 1);
        assert_eq!(groups[0].whom(4), "all 4");
        let loose = together([("wet", "B-1", None), ("wet", "B-2", Some(2))]);
        assert_eq!(loose[0].whom(3), "B-1, B-2");
        assert_eq!(together([("wet", "B-1", None)])[0].whom(1), "B-1");
    }

    #[test]
    fn numbers_are_said_in_runs() {
        assert_eq!(ranges(&[1_u32, 2, 3, 5, 8, 9]), "1-3, 5, 8-9");
        assert_eq!(ranges(&[7_u64]), "7");
        assert_eq!(ranges::<u32>(&[]), "");
    }
}
