//! The shape of the house: which room may know which, what the rooms may touch, and what lies at the top.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::print_stderr,
    missing_docs,
    reason = "tests"
)]

#[path = "../support/rust_source.rs"]
mod rust_source;

use rust_source::{Token, files_under, shipped, tokens};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The rooms from the ground up. A room knows only rooms of a lower floor; rooms of one floor do not know each other.
const FLOORS: &[&[&str]] = &[
    &["units"],
    &["science"],
    &["shop"],
    &["ledger"],
    &["feeds", "alerts", "plan"],
    &["reports"],
    &["screens"],
    &["commands"],
];

/// The one reader of time and zone: a leaf, known only by those who talk to people.
const CLOCK: &str = "clock";
const KNOW_THE_CLOCK: &[&str] = &["screens", "commands"];

/// Only these may lie at the top, so that a newcomer sees the whole at a glance.
const TOP: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "clippy.toml",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "SAFETY.md",
    "src",
    "migrations",
    "tests",
    "sample",
    "benches",
    ".ci",
    ".gitignore",
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// A source file: its path from the top, the modules it lies in, and its tokens without test items.
struct Source {
    path: PathBuf,
    modules: Vec<String>,
    tokens: Vec<Token>,
}

impl Source {
    fn new(path: &Path, text: &str) -> Self {
        let mut modules: Vec<String> = path
            .with_extension("")
            .components()
            .skip(1)
            .map(|part| part.as_os_str().to_string_lossy().into_owned())
            .collect();
        if modules.last().is_some_and(|last| last == "mod") {
            modules.pop();
        }
        Self {
            path: path.to_owned(),
            modules,
            tokens: shipped(text),
        }
    }

    /// The room it lies in; the map and the door of the house lie in none.
    fn room(&self) -> Option<&str> {
        let room = self.modules.first()?.as_str();
        (!matches!(room, "lib" | "main")).then_some(room)
    }

    /// Pure code computes from what it is handed: no IO, no clock, no database, no terminal.
    fn is_pure(&self) -> bool {
        let below = |folder: &str| {
            self.path.starts_with(folder) || self.path.with_extension("") == Path::new(folder)
        };
        let named = |start: &str| {
            self.path.starts_with("src/screens")
                && self
                    .modules
                    .get(1)
                    .is_some_and(|module| module.starts_with(start))
        };
        below("src/science")
            || below("src/shop")
            || below("src/plan")
            || named("update")
            || named("view")
    }

    /// The names that follow `start::` at this token, those of a `{..}` group each by itself.
    fn names_after(&self, at: usize) -> Vec<(usize, String)> {
        let name_at = |at: usize| match &self.tokens.get(at)?.piece {
            rust_source::Piece::Name(name) => Some((self.tokens[at].line, name.clone())),
            _ => None,
        };
        let sign_at =
            |at: usize, sign: char| self.tokens.get(at).is_some_and(|token| token.is_sign(sign));
        if !(sign_at(at + 1, ':') && sign_at(at + 2, ':')) {
            return Vec::new();
        }
        if !sign_at(at + 3, '{') {
            return name_at(at + 3).into_iter().collect();
        }
        let mut names = Vec::new();
        let mut depth = 0;
        let mut starts = false;
        for here in at + 3..self.tokens.len() {
            if sign_at(here, '{') {
                depth += 1;
                starts = depth == 1;
            } else if sign_at(here, '}') {
                depth -= 1;
                if depth == 0 {
                    break;
                }
            } else if depth == 1 {
                if starts {
                    names.extend(name_at(here));
                }
                starts = sign_at(here, ',');
            }
        }
        names
    }

    /// Whether this token starts a path, and is no later part of one.
    fn starts_path(&self, at: usize) -> bool {
        at < 2 || !(self.tokens[at - 1].is_sign(':') && self.tokens[at - 2].is_sign(':'))
    }

    /// Every room that this file names by `crate::room`, `super::..::room` or `hangtime::room`.
    fn rooms_named(&self) -> Vec<(usize, String)> {
        let mut named = Vec::new();
        for at in 0..self.tokens.len() {
            if !self.starts_path(at) {
                continue;
            }
            if self.tokens[at].is_name("crate") || self.tokens[at].is_name("hangtime") {
                named.extend(self.names_after(at));
            } else if self.tokens[at].is_name("super") {
                let mut last = at;
                let mut ups = 1;
                while self
                    .tokens
                    .get(last + 3)
                    .is_some_and(|token| token.is_name("super"))
                {
                    last += 3;
                    ups += 1;
                }
                if ups == self.modules.len() {
                    named.extend(self.names_after(last));
                }
            }
        }
        named
    }

    /// Every part of the standard library that this file names by `std::part`.
    fn std_parts(&self) -> Vec<(usize, String)> {
        (0..self.tokens.len())
            .filter(|at| self.tokens[*at].is_name("std"))
            .flat_map(|at| self.names_after(at))
            .collect()
    }

    fn names(&self, wanted: &str) -> impl Iterator<Item = usize> {
        self.tokens
            .iter()
            .filter(move |token| token.is_name(wanted))
            .map(|token| token.line)
    }

    fn fault(&self, line: usize, words: &str) -> String {
        format!("{}:{line}: {words}", self.path.display())
    }
}

fn sources() -> Vec<Source> {
    let found: Vec<Source> = rust_files("src")
        .iter()
        .map(|path| {
            Source::new(
                path.strip_prefix(root()).unwrap(),
                &std::fs::read_to_string(path).unwrap(),
            )
        })
        .collect();
    assert!(
        found
            .iter()
            .any(|source| source.path == Path::new("src/lib.rs"))
    );
    found
}

fn rust_files(folder: &str) -> Vec<PathBuf> {
    files_under(&root().join(folder))
        .into_iter()
        .filter(|path| path.extension().is_some_and(|end| end == "rs"))
        .collect()
}

fn floor(room: &str) -> Option<usize> {
    FLOORS.iter().position(|rooms| rooms.contains(&room))
}

/// What is wrong with the rooms that a source knows.
fn wrong_arrows(source: &Source, is_room: impl Fn(&str) -> bool) -> Vec<String> {
    let Some(room) = source.room() else {
        return Vec::new();
    };
    let mut faults = Vec::new();
    for (line, other) in source.rooms_named() {
        if other == room || !is_room(&other) {
            continue;
        }
        let allowed = if other == CLOCK {
            KNOW_THE_CLOCK.contains(&room)
        } else if room == CLOCK {
            other == "units"
        } else {
            floor(&other) < floor(room)
        };
        if !allowed {
            faults.push(source.fault(line, &format!("{room} may not know {other}")));
        }
    }
    faults
}

/// What a source touches that belongs to another room.
fn wrong_hands(source: &Source) -> Vec<String> {
    let mut faults = Vec::new();
    let room = source.room().unwrap_or("the door");
    for (name, owner) in [
        ("rusqlite", "ledger"),
        ("crossterm", "screens"),
        ("ratatui", "screens"),
    ] {
        if room != owner {
            faults.extend(
                source
                    .names(name)
                    .map(|line| source.fault(line, &format!("only {owner} knows {name}"))),
            );
        }
    }
    if source.is_pure() {
        for name in ["rusqlite", "crossterm"] {
            faults.extend(
                source
                    .names(name)
                    .map(|line| source.fault(line, &format!("pure code names {name}"))),
            );
        }
        for (line, part) in source.std_parts() {
            if matches!(part.as_str(), "fs" | "env" | "net" | "process" | "thread") {
                faults.push(source.fault(line, &format!("pure code names std::{part}")));
            }
        }
        for name in ["Instant", "SystemTime"] {
            faults.extend(
                source
                    .names(name)
                    .map(|line| source.fault(line, &format!("pure code names the clock {name}"))),
            );
        }
        for at in 0..source.tokens.len() {
            let token = &source.tokens[at];
            let asks_now = source.names_after(at).iter().any(|(_, name)| name == "now");
            if asks_now && (token.is_name("Utc") || token.is_name("Local")) {
                faults.push(source.fault(token.line, "pure code asks for the time"));
            }
        }
        for (line, other) in source.rooms_named() {
            if other == CLOCK {
                faults.push(source.fault(line, "pure code names the clock"));
            }
        }
    }
    faults
}

#[test]
fn every_room_stands_on_a_floor() {
    let known: BTreeSet<&str> = FLOORS
        .iter()
        .flat_map(|rooms| rooms.iter().copied())
        .chain([CLOCK])
        .collect();
    let strangers: BTreeSet<String> = sources()
        .iter()
        .filter_map(|source| source.room().map(str::to_owned))
        .filter(|room| !known.contains(room.as_str()))
        .collect();
    assert!(
        strangers.is_empty(),
        "give these a floor in FLOORS (tests/house): {strangers:?}"
    );
}

#[test]
fn arrows_point_down_only() {
    let sources = sources();
    let rooms: BTreeSet<&str> = sources.iter().filter_map(Source::room).collect();
    let faults: Vec<String> = sources
        .iter()
        .flat_map(|source| wrong_arrows(source, |name| rooms.contains(name)))
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn only_the_ledger_speaks_sql_only_screens_know_a_terminal_and_pure_code_knows_neither() {
    let faults: Vec<String> = sources().iter().flat_map(wrong_hands).collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn planted_faults_of_the_house_are_found() {
    let arrows = |path: &str, text: &str| {
        wrong_arrows(&Source::new(Path::new(path), text), |name| name != "fault")
    };
    assert_eq!(
        arrows("src/units/x.rs", "use crate::shop::Hazard;"),
        ["src/units/x.rs:1: units may not know shop"]
    );
    assert_eq!(
        arrows(
            "src/shop/x.rs",
            "use crate::{\n science::film,\n units::{Film, Volume},\n ledger::Ledger,\n};"
        ),
        ["src/shop/x.rs:4: shop may not know ledger"]
    );
    assert_eq!(
        arrows("src/science/mod.rs", "use super::shop;"),
        ["src/science/mod.rs:1: science may not know shop"]
    );
    assert_eq!(
        arrows(
            "src/science/a/b.rs",
            "fn f() { super::super::super::ledger::open() }"
        ),
        ["src/science/a/b.rs:1: science may not know ledger"]
    );
    assert!(
        arrows(
            "src/science/a/b.rs",
            "use super::super::film; use crate::fault;"
        )
        .is_empty()
    );
    assert!(
        arrows(
            "src/shop/x.rs",
            "// crate::ledger\nconst A: &str = \"crate::ledger\";"
        )
        .is_empty()
    );
    assert!(
        arrows(
            "src/shop/x.rs",
            "#[cfg(test)] mod tests { use crate::ledger::Ledger; }"
        )
        .is_empty()
    );
    assert_eq!(
        arrows("src/plan/x.rs", "use crate::alerts;"),
        ["src/plan/x.rs:1: plan may not know alerts"]
    );
    assert_eq!(
        arrows("src/ledger/x.rs", "use crate::clock;"),
        ["src/ledger/x.rs:1: ledger may not know clock"]
    );
    assert_eq!(
        arrows("src/clock.rs", "use crate::ledger;"),
        ["src/clock.rs:1: clock may not know ledger"]
    );
    assert!(arrows("src/commands/x.rs", "use crate::{clock, screens, units};").is_empty());
    assert!(arrows("src/main.rs", "use hangtime::commands;").is_empty());

    let hands = |path: &str, text: &str| wrong_hands(&Source::new(Path::new(path), text));
    assert_eq!(
        hands("src/reports/x.rs", "use rusqlite::Row;"),
        ["src/reports/x.rs:1: only ledger knows rusqlite"]
    );
    assert_eq!(
        hands("src/commands/x.rs", "ratatui::init();"),
        ["src/commands/x.rs:1: only screens knows ratatui"]
    );
    assert_eq!(
        hands("src/screens/update.rs", "use ratatui::crossterm::event;"),
        ["src/screens/update.rs:1: pure code names crossterm"]
    );
    assert_eq!(
        hands("src/screens/view/board.rs", "use std::{fmt, fs};"),
        ["src/screens/view/board.rs:1: pure code names std::fs"]
    );
    assert_eq!(
        hands("src/shop/x.rs", "std::env::var(\"X\")"),
        ["src/shop/x.rs:1: pure code names std::env"]
    );
    assert_eq!(
        hands("src/science/x.rs", "let t = chrono::Utc::now();"),
        ["src/science/x.rs:1: pure code asks for the time"]
    );
    assert_eq!(
        hands("src/screens/view.rs", "use crate::clock;"),
        ["src/screens/view.rs:1: pure code names the clock"]
    );
    assert!(
        hands(
            "src/screens/driver.rs",
            "use crossterm::event; use std::thread;"
        )
        .is_empty()
    );
    assert!(hands("src/ledger/x.rs", "use rusqlite::Connection; use std::fs;").is_empty());
}

/// The names that start a path (`name::`) or an import (`use name`) in some files, as far as `read` reads them.
fn crates_named(folders: &[&str], read: fn(&str) -> Vec<Token>) -> BTreeSet<String> {
    let mut named = BTreeSet::new();
    for path in folders.iter().flat_map(|folder| rust_files(folder)) {
        let tokens = read(&std::fs::read_to_string(path).unwrap());
        for (at, token) in tokens.iter().enumerate() {
            if let rust_source::Piece::Name(name) = &token.piece {
                let sign =
                    |ahead: usize| tokens.get(at + ahead).is_some_and(|next| next.is_sign(':'));
                if (sign(1) && sign(2)) || (at > 0 && tokens[at - 1].is_name("use")) {
                    named.insert(name.clone());
                }
            }
        }
    }
    named
}

#[test]
fn no_direct_dependency_lies_unused() {
    let manifest: toml::Table = std::fs::read_to_string(root().join("Cargo.toml"))
        .unwrap()
        .parse()
        .unwrap();
    // A dependency that only tests use belongs among the dev-dependencies, so the two lists are read by themselves.
    let lists = [
        ("dependencies", crates_named(&["src"], shipped)),
        (
            "dev-dependencies",
            crates_named(&["src", "tests", "benches"], tokens),
        ),
    ];
    let mut unused = Vec::new();
    for (list, named) in lists {
        for name in manifest[list].as_table().unwrap().keys() {
            if !named.contains(&name.replace('-', "_")) {
                unused.push(format!("{name} ({list})"));
            }
        }
    }
    assert!(
        unused.is_empty(),
        "nothing names these; take them out of Cargo.toml, or move what only tests use to dev-dependencies:\n{}",
        unused.join("\n")
    );
}

#[test]
fn nothing_strange_lies_at_the_top() {
    let answer = Command::new("git")
        .arg("-C")
        .arg(root())
        .args(["ls-files", "-z"])
        .output();
    let Some(listed) = answer.ok().filter(|answer| answer.status.success()) else {
        eprintln!(
            "skipped: git is absent or this is no checkout, so kept files cannot be told from others"
        );
        return;
    };
    let listed = String::from_utf8(listed.stdout).unwrap();
    let strange: BTreeSet<&str> = listed
        .split('\0')
        .filter_map(|path| path.split('/').next())
        .filter(|name| !name.is_empty() && !TOP.contains(name))
        .collect();
    assert!(
        strange.is_empty(),
        "these do not belong at the top; what does has its name in TOP (tests/house): {strange:?}"
    );
    assert!(listed.split('\0').any(|path| path == "Cargo.toml"));
}

fn text(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap()
}

/// The names that lie in a folder, in order; a folder that was left behind empty is none.
fn names_in(folder: &str) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(root().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().is_file() || !files_under(&entry.path()).is_empty())
        .map(|entry| entry.file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn both_maps_name_every_room_and_the_guides_map_every_set_of_tests() {
    let (guide, doors) = (text("DEVELOPERS.md"), text("src/lib.rs"));
    let map = guide.split("```").nth(1).unwrap();
    let (rooms, tests) = map.split_once("\ntests/").unwrap();
    for name in names_in("src") {
        if name == "lib.rs" || name == "main.rs" {
            continue;
        }
        let folder = root().join("src").join(&name).is_dir();
        let shown = format!("\n  {name}{} ", if folder { "/" } else { "" });
        assert!(
            rooms.contains(&shown),
            "the map of DEVELOPERS.md lacks {name}"
        );
        let linked = format!("| [`{}`] |", name.trim_end_matches(".rs"));
        assert!(
            doors.contains(&linked),
            "the map of src/lib.rs lacks {name}"
        );
    }
    for name in names_in("tests") {
        // What one crate's tests found lies where that crate wants it.
        if name != "proptest-regressions" {
            let folder = root().join("tests").join(&name).is_dir();
            assert!(
                tests.contains(&format!(" {name}{}", if folder { "/" } else { "" })),
                "the map of DEVELOPERS.md lacks tests/{name}"
            );
        }
    }
}

/// What is kept: paths from the top, each with its text.
type Kept = [(String, String)];

/// What is wrong with the sets of tests and benches that a command runs.
fn wrong_targets(words: &[&str], kept: &Kept) -> Vec<String> {
    let folder = |option| match option {
        "--test" => Some("tests"),
        "--bench" => Some("benches"),
        _ => None,
    };
    words
        .windows(2)
        .filter_map(|pair| Some((folder(pair[0])?, pair[1])))
        .map(|(folder, name)| format!("{folder}/{name}"))
        .filter(|target| {
            let starts = [format!("{target}.rs"), format!("{target}/main.rs")];
            !kept.iter().any(|(path, _)| starts.contains(path))
        })
        .collect()
}

/// Whether a word names a file or a folder; a capital in it stands for what the reader fills in.
fn is_path(word: &str) -> bool {
    let ends = Path::new(word).extension().is_some_and(|end| end == "rs");
    let inside = word.contains('/')
        && (word.contains('.') || word.ends_with('/') || word.starts_with("tests/"));
    (ends || inside) && !word.contains(char::is_uppercase)
}

/// The kept files that a path of the guide means: from the top, from `src`, or a file by its name alone.
fn meant<'k>(named: &str, kept: &'k Kept) -> Vec<&'k (String, String)> {
    let bare = |path: &'k str| path.strip_prefix("src/").unwrap_or(path);
    let wanted = named.strip_prefix("src/").unwrap_or(named);
    let wanted = wanted.trim_end_matches('/');
    kept.iter()
        .filter(|(path, _)| {
            let path = bare(path);
            path == wanted
                || path.starts_with(&format!("{wanted}/"))
                || (!wanted.contains('/') && path.ends_with(&format!("/{wanted}")))
        })
        .collect()
}

/// What the backquotes of a page name and nobody finds: files, names in them, types with what they have, sets of tests.
fn wrong_names(page: &str, kept: &Kept) -> Vec<String> {
    let mut faults = Vec::new();
    for quoted in page.split('`').skip(1).step_by(2) {
        let words: Vec<&str> = quoted.split_whitespace().collect();
        for target in wrong_targets(&words, kept) {
            faults.push(format!("`{quoted}`: there is no {target}"));
        }
        let first = words.first().copied().unwrap_or_default();
        let (named, inside) = first
            .split_once("::")
            .map_or((first, None), |(a, b)| (a, Some(b)));
        // A call is shown with what it takes.
        let inside = inside.and_then(|name| name.split('(').next());
        if is_path(named) {
            let found = meant(named, kept);
            if found.is_empty() {
                faults.push(format!("`{quoted}`: there is no {named}"));
            } else if let Some(name) = inside
                && !found.iter().any(|(_, text)| text.contains(name))
            {
                faults.push(format!("`{quoted}`: {named} has no {name}"));
            }
        } else if let Some(name) = inside
            && !named.is_empty()
        {
            let here = |word: &str| {
                kept.iter()
                    .any(|(path, text)| path.starts_with("src/") && text.contains(word))
            };
            if !(here(named) && here(name)) {
                faults.push(format!("`{quoted}`: nothing in src is called so"));
            }
        }
    }
    faults
}

#[test]
fn the_files_and_names_that_the_guide_names_are_there() {
    let kept: Vec<(String, String)> = TOP
        .iter()
        .flat_map(|top| {
            let path = root().join(top);
            if path.is_dir() {
                files_under(&path)
            } else {
                vec![path]
            }
        })
        .map(|path| {
            let name = path.strip_prefix(root()).unwrap().to_str().unwrap();
            (
                name.to_owned(),
                std::fs::read_to_string(&path).unwrap_or_default(),
            )
        })
        .collect();
    // The blocks between fences are no names.
    let guide: String = text("DEVELOPERS.md").split("```").step_by(2).collect();
    let faults = wrong_names(&guide, &kept);
    assert!(faults.is_empty(), "{}", faults.join("\n"));

    let planted = "`ledger/nowhere.rs` `nowhere.rs` `open.rs::nowhere_at_all` `Ledger::nowhere_at_all(a)` \
                   `cargo test --test nowhere` `tests/nowhere`";
    assert_eq!(wrong_names(planted, &kept).len(), 6);
    let known = "`ledger/open.rs::MIGRATIONS` `open.rs` `Ledger::noted` `cargo bench --bench speed -- P3` `coat/1` \
                 `migrations/NNNN.sql` `reports/papers/`";
    assert_eq!(wrong_names(known, &kept), Vec::<String>::new());
}

#[test]
fn every_migration_and_every_subject_of_worksheets_stands_in_its_list() {
    let open = text("src/ledger/open.rs");
    for name in names_in("migrations") {
        assert!(
            open.contains(&format!("include_str!(\"../../migrations/{name}\")")),
            "migrations/{name} has no line in MIGRATIONS (src/ledger/open.rs)"
        );
    }
    let registry = text("src/science/registry.rs");
    for source in sources() {
        if source.room() == Some("science") && source.names("SHEETS").next().is_some() {
            let subject = &source.modules[1];
            assert!(
                subject == "registry" || registry.contains(&format!("super::{subject}::SHEETS")),
                "{}: {subject} has no line in SUBJECTS (src/science/registry.rs)",
                source.path.display()
            );
        }
    }
}

#[test]
fn the_tests_that_the_guide_names_for_rows_of_faults_are_there() {
    let guide = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let table = guide.split("| Row | What | Held by |").nth(1).unwrap();
    let rows: Vec<&str> = table
        .lines()
        .skip(2)
        .take_while(|l| l.starts_with('|'))
        .collect();
    let tests: String = rust_files("tests")
        .iter()
        .map(|path| std::fs::read_to_string(path).unwrap())
        .collect();
    let mut held = 0;
    for line in &rows {
        let names: Vec<&str> = line.split('`').skip(1).step_by(2).collect();
        assert!(!names.is_empty(), "{line}");
        for name in names {
            assert!(tests.contains(&format!("fn {name}(")), "{name} is no test");
            held += 1;
        }
    }
    assert!(held >= rows.len() && rows.len() > 10, "{held}");
}
