//! The tasks of each role with their keys, counted while their tests press them, and held against the guide's table.

use crate::desk::Desk;
use hangtime::screens::keys::Key;

/// Presses keys at a desk, counts them, and writes down the way. What is typed or scanned is what is said, and no key of
/// the way.
pub struct Presses<'a> {
    pub desk: &'a mut Desk,
    keys: usize,
    way: Vec<String>,
}

impl<'a> Presses<'a> {
    pub const fn at(desk: &'a mut Desk) -> Self {
        Self {
            desk,
            keys: 0,
            way: Vec::new(),
        }
    }

    pub fn key(&mut self, key: Key) -> &mut Self {
        self.desk.key(key);
        self.keys += 1;
        self.way.push(match key {
            Key::Char(c) => format!("`{c}`"),
            Key::F(n) => format!("`F{n}`"),
            other => format!("`{other:?}`"),
        });
        self
    }

    pub fn char(&mut self, c: char) -> &mut Self {
        self.key(Key::Char(c))
    }

    pub fn type_in(&mut self, text: &str) -> &mut Self {
        self.desk.keys(text);
        self.way.push(format!("\"{text}\""));
        self
    }

    /// The same where the text is another one at each run: `says` is written down for it.
    pub fn type_path(&mut self, text: &str, says: &str) -> &mut Self {
        self.desk.keys(text);
        self.way.push(says.to_owned());
        self
    }

    pub fn scan(&mut self, text: &str) -> &mut Self {
        self.desk.scan(text);
        self.way.push(format!("scan {text}"));
        self
    }

    /// The task's row: it must not take more than three keys.
    pub fn row(&self, role: &str, task: &str) -> String {
        assert!(self.keys <= 3, "{task} takes {} keys", self.keys);
        format!(
            "| {role} | {task} | {} | {} |",
            self.way.join(" "),
            self.keys
        )
    }
}

/// The rows of the guide's table of keys.
fn guide() -> Vec<String> {
    let guide = include_str!("../../DEVELOPERS.md");
    let section = guide.split("\n## Keys\n").nth(1).unwrap();
    let section = section.split("\n## ").next().unwrap();
    let table = section.lines().filter(|l| l.starts_with("| "));
    table.skip(1).map(str::to_owned).collect()
}

/// Holds the rows of a role in the guide against those that its test pressed.
pub fn stand_in_the_guide(role: &str, rows: &[String]) {
    let written: Vec<String> = guide()
        .into_iter()
        .filter(|row| row.starts_with(&format!("| {role} | ")))
        .collect();
    assert_eq!(
        written,
        rows,
        "the rows of the {role} in DEVELOPERS.md are to be:\n{}\n",
        rows.join("\n")
    );
}

#[test]
fn the_guide_s_table_of_keys_has_the_roles_and_none_that_no_test_presses() {
    const ROLES: [&str; 4] = [
        "| finisher",
        "| supervisor",
        "| supervisor, ahead",
        "| safety lead",
    ];
    let rows = guide();
    let roles: Vec<&str> = rows
        .iter()
        .map(|r| r.split(" | ").next().unwrap())
        .collect();
    for role in ROLES {
        assert!(roles.contains(&role), "{role}");
    }
    let known = |r: &&str| ROLES.contains(r);
    assert!(roles.iter().all(known), "{roles:?}");
}
