//! What the program and its pages may not say.
//!
//! The record states what was measured and what it was held against; it never gives leave and never passes judgement.
//! These tests read every text that can reach a person and name the file, the line and the word that says too much.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    missing_docs,
    reason = "tests"
)]

#[path = "../support/rust_source.rs"]
mod rust_source;

use rust_source::{Piece, files_under, shipped};
use std::path::{Path, PathBuf};

/// Words of clearance and of judgement: whole words, whatever their case. A phrase matches its words in a row.
const FORBIDDEN: &[&str] = &[
    "safe",
    "safely",
    "approved",
    "compliant",
    "compliance",
    "cleared",
    "ok to spray",
    "you may enter",
    "guaranteed",
    "no hazard",
    "gate",
    "green",
    "pass",
    "passes",
    "passed",
    "fail",
    "fails",
    "failed",
];

/// Fixed phrases in which such a word is no judgement: the trade's word for a stroke of the gun, a fault of the
/// machine, and the rule itself where it is written down. A phrase is added here only with the text that needs it.
const ALLOWED: &[&str] = &[
    "pass of the gun",
    "passes of the gun",
    "two passes",
    "the ledger or the system failed",
    "the system failed",
    "never says safe, compliant or ok to spray",
    "never says safe, approved, compliant, cleared or ok to spray",
];

/// Names that belong to a library and cannot be chosen here.
const LIBRARY_NAMES: &[&str] = &[];

/// Words that may not be part of a name either, as names become keys of JSON and words of commands.
const FORBIDDEN_IN_NAMES: &[&str] = &[
    "safe",
    "safely",
    "approved",
    "compliant",
    "compliance",
    "cleared",
    "gate",
    "green",
    "pass",
    "passes",
    "passed",
    "fail",
    "fails",
    "failed",
];

const PAGES: &[&str] = &["README.md", "SAFETY.md", "DEVELOPERS.md"];

const BEGIN: &str = "<!-- cautions: begin -->\n";
const END: &str = "<!-- cautions: end -->";

type Lettered = Vec<(usize, char)>;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn lettered(text: &str) -> Lettered {
    let mut line = 1;
    text.chars()
        .map(|sign| {
            let here = line;
            line += usize::from(sign == '\n');
            (here, sign)
        })
        .collect()
}

/// The words of a text in lower case, each with its line. An underscore parts words, so that a key such as
/// `is_ready` is read as two.
fn words(text: &[(usize, char)]) -> Vec<(usize, String)> {
    let mut found: Vec<(usize, String)> = Vec::new();
    let mut open = false;
    for (line, sign) in text {
        if sign.is_alphanumeric() {
            if !open {
                found.push((*line, String::new()));
            }
            found.last_mut().unwrap().1.extend(sign.to_lowercase());
        }
        open = sign.is_alphanumeric();
    }
    found
}

/// Where a phrase stands in a row of words, as ranges of their positions.
fn places(row: &[(usize, String)], phrase: &str) -> Vec<std::ops::Range<usize>> {
    let wanted: Vec<String> = words(&lettered(phrase))
        .into_iter()
        .map(|(_, word)| word)
        .collect();
    row.windows(wanted.len())
        .enumerate()
        .filter(|(_, window)| window.iter().map(|(_, word)| word).eq(wanted.iter()))
        .map(|(at, _)| at..at + wanted.len())
        .collect()
}

/// The forbidden words of a text, each with its line, less those inside an allowed phrase.
fn said_too_much(text: &[(usize, char)]) -> Vec<(usize, &'static str)> {
    let row = words(text);
    let excused: Vec<_> = ALLOWED
        .iter()
        .flat_map(|phrase| places(&row, phrase))
        .collect();
    let mut found = Vec::new();
    for phrase in FORBIDDEN {
        for place in places(&row, phrase) {
            let inside = |range: &std::ops::Range<usize>| {
                range.start <= place.start && place.end <= range.end
            };
            if !excused.iter().any(inside) {
                found.push((row[place.start].0, *phrase));
            }
        }
    }
    found
}

/// The parts of a name: `is_ready` and `IsReady` both give `is`, `ready`.
fn parts(name: &str) -> Vec<String> {
    let mut found: Vec<String> = vec![String::new()];
    let mut after_small = false;
    for sign in name.chars() {
        if sign == '_' || (sign.is_uppercase() && after_small) {
            found.push(String::new());
        }
        if sign != '_' {
            found.last_mut().unwrap().extend(sign.to_lowercase());
        }
        after_small = sign.is_lowercase() || sign.is_ascii_digit();
    }
    found.retain(|part| !part.is_empty());
    found
}

/// Doc comments of the command line are its help text, so they are read like any other text there.
fn docs_are_shown(relative: &Path) -> bool {
    relative.starts_with("src/commands")
        || relative == Path::new("src/main.rs")
        || relative == Path::new("src/commands.rs")
}

fn faults_of_source(relative: &Path, source: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let mut name_fault =
        |line: usize, word: &str| faults.push(format!("{}:{line}: {word}", relative.display()));
    for token in shipped(source) {
        match &token.piece {
            Piece::Doc(_) if !docs_are_shown(relative) => {}
            Piece::Text(text) | Piece::Doc(text) => {
                for (line, word) in said_too_much(text) {
                    name_fault(line, word);
                }
            }
            Piece::Name(name) => {
                let parts = parts(name);
                if !LIBRARY_NAMES.contains(&name.as_str()) {
                    for word in FORBIDDEN_IN_NAMES
                        .iter()
                        .filter(|word| parts.iter().any(|part| part == *word))
                    {
                        name_fault(token.line, &format!("{word} (in the name {name})"));
                    }
                }
            }
            Piece::Sign(_) => {}
        }
    }
    faults
}

fn faults_of_text(relative: &Path, text: &str) -> Vec<String> {
    said_too_much(&lettered(text))
        .into_iter()
        .map(|(line, word)| format!("{}:{line}: {word}", relative.display()))
        .collect()
}

fn relative(path: &Path) -> PathBuf {
    path.strip_prefix(root()).unwrap().to_owned()
}

#[test]
fn no_text_or_name_of_the_program_gives_leave_or_judges() {
    let sources: Vec<PathBuf> = files_under(&root().join("src"))
        .into_iter()
        .filter(|path| path.extension().is_some_and(|end| end == "rs"))
        .collect();
    assert!(!sources.is_empty());
    let faults: Vec<String> = sources
        .iter()
        .flat_map(|path| faults_of_source(&relative(path), &std::fs::read_to_string(path).unwrap()))
        .collect();
    assert!(
        faults.is_empty(),
        "these texts say too much:\n{}",
        faults.join("\n")
    );
}

#[test]
fn no_page_sample_or_migration_gives_leave_or_judges() {
    let mut paths: Vec<PathBuf> = ["sample", "migrations"]
        .iter()
        .flat_map(|folder| files_under(&root().join(folder)))
        .collect();
    paths.extend(
        PAGES
            .iter()
            .map(|page| root().join(page))
            .filter(|page| page.exists()),
    );
    let mut faults = Vec::new();
    for path in paths {
        // A sample that is no text (a ledger, a workbook) has no words to read.
        if let Ok(text) = String::from_utf8(std::fs::read(&path).unwrap()) {
            faults.extend(faults_of_text(&relative(&path), &text));
        }
    }
    assert!(
        faults.is_empty(),
        "these texts say too much:\n{}",
        faults.join("\n")
    );
}

#[test]
fn the_safety_page_is_the_table_of_cautions() {
    let page = std::fs::read_to_string(root().join("SAFETY.md")).unwrap();
    let (before, rest) = page.split_once(BEGIN).unwrap();
    let (section, after) = rest.split_once(END).unwrap();
    let expected = hangtime::shop::cautions::safety_page();
    if section == expected {
        assert!(before.contains(hangtime::shop::cautions::STANDING_LINE));
        return;
    }
    if std::env::var_os("REWRITE_SAFETY_PAGE").is_some() {
        let rewritten = format!("{before}{BEGIN}{expected}{END}{after}");
        std::fs::write(root().join("SAFETY.md"), rewritten).unwrap();
        return;
    }
    let first = section
        .lines()
        .zip(expected.lines())
        .find(|(is, should)| is != should);
    panic!(
        "SAFETY.md has parted from the table of cautions; first difference: {first:?}; \
         run once with REWRITE_SAFETY_PAGE=1 to write it anew"
    );
}

/// The built program, with nothing of this machine around it.
fn program(arguments: &[&str]) -> std::process::Output {
    std::process::Command::new(env!("CARGO_BIN_EXE_hangtime"))
        .args(arguments)
        .env_clear()
        .output()
        .unwrap()
}

/// What an answer says on both ways out, as one text.
fn said(output: &std::process::Output) -> String {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    text(&output.stdout) + &text(&output.stderr)
}

/// The names of the commands in a help text.
fn commands(help: &str) -> Vec<String> {
    let Some(list) = help.split("Commands:\n").nth(1) else {
        return Vec::new();
    };
    list.split("\n\n")
        .next()
        .unwrap()
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "))
        .filter_map(|l| l.split_whitespace().next())
        .filter(|name| *name != "help")
        .map(str::to_owned)
        .collect()
}

#[test]
fn no_help_text_gives_leave_or_judges() {
    let mut ways: Vec<Vec<String>> = vec![Vec::new()];
    let mut read = 0;
    let mut faults = Vec::new();
    while let Some(way) = ways.pop() {
        let mut words: Vec<&str> = way.iter().map(String::as_str).collect();
        words.push("--help");
        let help = said(&program(&words));
        assert!(help.contains("Usage:"), "{words:?}: {help}");
        read += 1;
        let place = PathBuf::from(words.join(" "));
        faults.extend(faults_of_text(&place, &help));
        for command in commands(&help) {
            let mut next = way.clone();
            next.push(command);
            ways.push(next);
        }
    }
    assert!(read > 90, "only {read} help texts were read");
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// Questions at the sample shop: what they print is put together while the program runs.
const QUESTIONS: &[&str] = &[
    "floor",
    "ready",
    "shift",
    "deviations",
    "entries B0412",
    "action 310",
    "last",
    "at-risk",
    "unpaired",
    "month 2026-03",
    "month 2026-03 --book",
    "month 2026-03 --open VOC",
    "month history 2026-03",
    "limit list",
    "booths",
    "cautions waiting",
    "cautions CLR --when mixing",
    "cautions --mix 1 --when booth_check",
    "duty",
    "incident",
    "contact",
    "stock",
    "pot",
    "drum",
    "book",
    "lot list",
    "mix list",
    "recipe list",
    "recipe show G9",
    "recipe rehearse G9",
    "material list",
    "material show CLR",
    "rack show R1",
    "working month 2026-03",
    "work",
    "work blush",
    "person list",
    "clock",
    "witness",
    "verify",
    "coat --rack R1 --kind clear --mix 1 --preview",
    "mix make M1 L-221=1L --preview",
    "begun",
];

#[test]
fn no_answer_page_or_picture_of_the_built_program_gives_leave_or_judges() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("words");
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let ledger = folder.join("s.ledger");
    let ledger = ledger.to_str().unwrap();
    let made = program(&["--ledger", ledger, "sample"]);
    assert!(made.status.success(), "{}", said(&made));
    let mut faults = Vec::new();
    let mut spoke = 0;
    for question in QUESTIONS {
        for json in [false, true] {
            let line = question.replace("booth_check", "booth\u{a0}check");
            let mut words: Vec<String> =
                line.split(' ').map(|w| w.replace('\u{a0}', " ")).collect();
            let before = ["--ledger", ledger, "--at", "2026-03-24T06:45:00-04:00"];
            words.splice(0..0, before.map(str::to_owned));
            if json {
                words.insert(0, "--json".to_owned());
            }
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let answer = said(&program(&words));
            assert!(!answer.is_empty(), "{question}");
            spoke += usize::from(!answer.contains("Usage:"));
            faults.extend(faults_of_text(Path::new(question), &answer));
        }
    }
    // A question that the program no longer understands would be read as its usage line alone.
    assert_eq!(spoke, 2 * QUESTIONS.len());
    // Pages to print and pictures of each place.
    let tags = folder.join("tags.html");
    let svg = folder.join("one.svg");
    let mut pages = vec![(
        tags.clone(),
        vec![
            "tags",
            tags.to_str().unwrap(),
            "--rack",
            "R1",
            "--people",
            "--controls",
        ],
    )];
    for key in ["F2", "F3", "F4", "F5", "F6", "F7", "F8", "?"] {
        pages.push((svg.clone(), vec!["picture", svg.to_str().unwrap(), key]));
    }
    for (file, mut words) in pages {
        let _ = std::fs::remove_file(&file);
        words.splice(
            0..0,
            ["--ledger", ledger, "--at", "2026-03-24T06:45:00-04:00"],
        );
        let done = program(&words);
        let text = std::fs::read_to_string(&file)
            .unwrap_or_else(|e| panic!("{words:?}: {e}: {}", said(&done)));
        assert!(text.len() > 200, "{words:?}");
        faults.extend(faults_of_text(&file, &text));
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_planted_word_is_found_with_its_file_line_and_word() {
    let planted = r##"
//! safe in a comment is nobody's text
fn shown() {
    // approved here is a comment
    let a = "it is\n  Safe now";
    let b = r#"first line "quoted"
        and then COMPLIANT"#;
    let c = 'g'; let d: &'static str = "a \u{67}ate";
    let e = "OK, to \
             spray";
}
#[cfg(test)]
#[allow(clippy::all)]
mod tests { fn t() { let f = "passed"; { let g = "failed"; } } }
const AFTER: &str = "is_cleared";
struct Row { gate: u8, is_safe: bool, LightGreen: u8, unsafe_code: u8, passage: u8 }
"##;
    assert_eq!(
        faults_of_source(Path::new("src/x.rs"), planted),
        [
            "src/x.rs:5: safe",
            "src/x.rs:7: compliant",
            "src/x.rs:8: gate",
            "src/x.rs:9: ok to spray",
            "src/x.rs:15: cleared",
            "src/x.rs:16: gate (in the name gate)",
            "src/x.rs:16: safe (in the name is_safe)",
            "src/x.rs:16: green (in the name LightGreen)",
        ]
    );
    assert_eq!(
        faults_of_source(
            Path::new("src/commands/x.rs"),
            "/// Tells what has passed.\nstruct Args;"
        ),
        ["src/commands/x.rs:1: passed"]
    );
    assert_eq!(
        faults_of_text(Path::new("README.md"), "one\nNo\nhazard here"),
        ["README.md:2: no hazard"]
    );
}

#[test]
fn every_forbidden_word_is_found_by_itself_and_not_inside_another() {
    for phrase in FORBIDDEN {
        assert_eq!(
            said_too_much(&lettered(&phrase.to_uppercase())),
            [(1, *phrase)]
        );
        assert!(said_too_much(&lettered(&format!("x{phrase}x"))).is_empty());
    }
    for word in FORBIDDEN_IN_NAMES {
        assert!(FORBIDDEN.contains(word));
    }
}

#[test]
fn fixed_phrases_are_heard_as_what_they_are() {
    for phrase in ALLOWED {
        assert!(said_too_much(&lettered(phrase)).is_empty(), "{phrase}");
        let without_excuse = FORBIDDEN
            .iter()
            .any(|word| !places(&words(&lettered(phrase)), word).is_empty());
        assert!(without_excuse, "{phrase} needs no exception");
    }
    let ordinary = "the safety data sheet, the safety lead, safety cans, a passage, a gateway, evergreen, a failure";
    assert!(said_too_much(&lettered(ordinary)).is_empty());
    assert_eq!(
        said_too_much(&lettered("two passes, both passed")),
        [(1, "passed")]
    );
}

#[test]
fn text_and_code_are_told_apart() {
    let source = "let a = '\"'; let b = \"x\"; /* \"no\" /* nested */ \"no\" */ let c = b\"y\"; let d: &'a u8 = r\"z\\\"; '\\'';\n\
                  let r#type = \"w\";";
    let texts: Vec<String> = shipped(source)
        .into_iter()
        .filter_map(|token| match token.piece {
            Piece::Text(text) => Some(text.into_iter().map(|(_, sign)| sign).collect()),
            _ => None,
        })
        .collect();
    assert_eq!(texts, ["x", "y", "z\\", "w"]);
}
