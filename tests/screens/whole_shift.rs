//! A whole shift through the built binary: with keys in a pseudo-terminal, the same with keys under tmux, and once more
//! with nothing but printed tags. What is in the record afterwards is asked by commands.

use crate::pty::Terminal;
use crate::script::{Cut, Half, Key, Look, Scan, Step, Tag, Twice, Type, play};
#[cfg(unix)]
use crate::script::{LONGEST, Stage};
use chrono::DateTime;
use portable_pty::CommandBuilder;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use std::time::{Duration, Instant};

/// The demo's clock when the person sits down; it runs on from there.
const BEGIN: &str = "2026-03-24T07:04:00-04:00";

/// The shift with keys.
const SHIFT: &[Step] = &[
    (
        Look,
        &[
            "the booth  booth-1 AB",
            "booth 1: no check today",
            "clear 6 of 9",
            "scan: _",
        ],
    ),
    // The first rack: it ended five minutes ago.
    (Scan("R5"), &["Rack R5", "What was done?"]),
    (
        Key("c"),
        &[
            "Rack R5 - clear coat 6 - 5 pieces - ended 07:0",
            "against it: 3 of 8 pieces",
            "scuff first",
        ],
    ),
    (
        Key("5"),
        &[
            "5 pieces - ended 06:5",
            "ended how many minutes ago? 5_",
            "Enter save",
        ],
    ),
    (
        Key("Enter"),
        &["saved: Rack R5 - clear coat 6 - 5 pieces - ended 06:5"],
    ),
    (Key("Enter"), &["the booth", "clear 7 of 9", "scan: _"]),
    // A second rack to its hook 8 only.
    (Scan("R6"), &["Rack R6", "What was done?"]),
    (Key("c"), &["Rack R6 - clear coat 1 - 1 piece"]),
    (Key("h"), &["which hooks were worked on?"]),
    (Key("8"), &["Rack R6 hooks 1-8 - clear coat 1 - 1 piece"]),
    (
        Key("Enter"),
        &["saved: Rack R6 hooks 1-8 - clear coat 1 - 1 piece - ended 07:0"],
    ),
    (Key("Enter"), &["the booth", "clear 2 of 6"]),
    // The wrong rack, and its undo after a look.
    (Scan("R4"), &["Rack R4", "What was done?"]),
    (Key("c"), &["Rack R4 - clear coat 7 - 1 piece - ended 07:0"]),
    (Key("Enter"), &["saved: Rack R4 - clear coat 7 - 1 piece"]),
    (Key("Enter"), &["the booth", "clear 8 of 9"]),
    (
        Key("u"),
        &["take back action", "coat on rack R4 at 07:0", "by AB?"],
    ),
    (
        Key("Enter"),
        &["is taken back (1 entry)", "both stay readable"],
    ),
    // A run on a body of the first rack.
    (Scan("B-0334"), &["card", "B-0334  body", "level sand 2"]),
    (Key("d"), &["Which defect?", "1 run"]),
    (Key("1"), &["B-0334 - run - ended 07:0", "Enter save"]),
    (Key("Enter"), &["saved: B-0334 - run - ended 07:0"]),
    (Key("Enter"), &["the booth", "scan: _"]),
    // A look at the shift, and the terminal is handed over.
    (Key("F4"), &["the shift", "[work ", "level-sand"]),
    (Key("i"), &["your initials? _"]),
    (Type("TR"), &["your initials? TR_"]),
    (Key("Enter"), &["TR is at the terminal", "booth-1 TR"]),
    // The next person's coat.
    (Scan("R4"), &["Rack R4", "What was done?"]),
    (Key("c"), &["Rack R4 - clear coat 7 - 1 piece - ended 07:0"]),
    (Key("Enter"), &["saved: Rack R4 - clear coat 7 - 1 piece"]),
    (Key("Enter"), &["the shift", "scan: _"]),
    (Key("q"), &[]),
];

/// The same shift with nothing but tags, by what is printed beside them. Nobody is at the terminal at first.
const TAGS: &[Step] = &[
    (
        Look,
        &["the booth  booth-1", "booth 1: no check today", "scan: _"],
    ),
    (Tag("AB"), &["AB is at the terminal", "booth-1 AB"]),
    // Half a tag on the scan line is gone with the whole one.
    (Half("B-0334"), &["scan: B-033_"]),
    (
        Twice("Rack R5"),
        &["Rack R5", "What was done?", "read twice"],
    ),
    (
        Twice("coat"),
        &[
            "Rack R5 - clear coat 6 - 5 pieces - ended 07:0",
            "against it: 3 of 8 pieces",
        ],
    ),
    (Tag("ended 5 min ago"), &["5 pieces - ended 06:5"]),
    // The receipt of a save that is read twice stays to be looked at.
    (
        Twice("save what is shown"),
        &["saved: Rack R5 - clear coat 6 - 5 pieces - ended 06:5"],
    ),
    // A second rack in part: the piece that was not coated is read, twice by one pull.
    (Cut("N-0418"), &["nothing in process is called \"N-0\""]),
    (Tag("Rack R6"), &["Rack R6", "What was done?"]),
    (Tag("coat"), &["Rack R6 - clear coat 1 - 1 piece"]),
    (
        Twice("N-0419"),
        &["Rack R6 - clear coat 1 - 1 piece", "read twice"],
    ),
    // The digits of half a tag are no minutes.
    (
        Half("N-0418"),
        &[
            "half a tag was read, \"N-041\"",
            "Rack R6 - clear coat 1 - 1 piece - ended 07:0",
        ],
    ),
    (Cut("save what is shown"), &["nothing in process is called"]),
    (
        Tag("save what is shown"),
        &["saved: Rack R6 - clear coat 1 - 1 piece - ended 07:0"],
    ),
    // The wrong rack, and its undo after a look.
    (Tag("Rack R4"), &["Rack R4", "What was done?"]),
    (
        Tag("coat"),
        &["Rack R4 - clear coat 7 - 1 piece - ended 07:0"],
    ),
    (
        Tag("save what is shown"),
        &["saved: Rack R4 - clear coat 7 - 1 piece"],
    ),
    (
        Twice("take back my last"),
        &["take back action", "coat on rack R4 at 07:0", "by AB?"],
    ),
    (
        Twice("save what is shown"),
        &["the booth", "clear 7 of 9", "is taken back (1 entry)"],
    ),
    // A run on a body of the first rack.
    (Tag("B-0334"), &["card", "B-0334  body", "level sand 2"]),
    (
        Twice("defect: run"),
        &["B-0334 - run - ended 07:0", "Enter save"],
    ),
    (
        Tag("save what is shown"),
        &["saved: B-0334 - run - ended 07:0"],
    ),
    // A look at the shift, and the terminal is handed over.
    (Tag("to the shift"), &["the shift", "[work ", "level-sand"]),
    (Tag("TR"), &["TR is at the terminal", "booth-1 TR"]),
    (Tag("Rack R4"), &["Rack R4", "What was done?"]),
    (
        Tag("coat"),
        &["Rack R4 - clear coat 7 - 1 piece - ended 07:0"],
    ),
    (
        Tag("save what is shown"),
        &["saved: Rack R4 - clear coat 7 - 1 piece"],
    ),
    (Tag("leave the program"), &[]),
];

/// What the record must hold afterwards, one action each and no other.
#[derive(Debug, PartialEq, Eq)]
struct Kept {
    deed: &'static str,
    by: &'static str,
    what: &'static str,
    pieces: &'static [&'static str],
    taken_back: bool,
    /// Minutes before it was written; `None` for what has no time of its own.
    ago: Option<i64>,
}

const KEPT: &[Kept] = &[
    Kept {
        deed: "coat",
        by: "AB",
        what: "clear coat, sprayed in booth 1, mix 20",
        pieces: &["B-0333", "B-0334", "B-0335", "B-0336", "B-0337"],
        taken_back: false,
        ago: Some(5),
    },
    Kept {
        deed: "coat",
        by: "AB",
        what: "clear coat, sprayed in booth 1, mix 20",
        pieces: &["N-0418"],
        taken_back: false,
        ago: Some(0),
    },
    Kept {
        deed: "coat",
        by: "AB",
        what: "clear coat, sprayed in booth 1, mix 20",
        pieces: &["B-0330"],
        taken_back: true,
        ago: Some(0),
    },
    Kept {
        deed: "undo",
        by: "AB",
        what: "taken back: undone",
        pieces: &["B-0330"],
        taken_back: false,
        ago: None,
    },
    Kept {
        deed: "defect",
        by: "AB",
        what: "defect: run",
        pieces: &["B-0334"],
        taken_back: false,
        ago: Some(0),
    },
    Kept {
        deed: "coat",
        by: "TR",
        what: "clear coat, sprayed in booth 1, mix 20",
        pieces: &["B-0330"],
        taken_back: false,
        ago: Some(0),
    },
];

/// The sample shop with two finishers, in a folder of its own.
struct Shop(tempfile::TempDir);

impl Shop {
    fn open() -> Self {
        let shop = Self(tempfile::tempdir().unwrap());
        shop.run(&["sample"]);
        for initials in ["AB", "TR"] {
            let add = ["person", "add", initials, "finisher", "--as", "MK"];
            shop.run(&[&add[..], &["--at", "2026-03-24T06:50:00-04:00"]].concat());
        }
        shop
    }

    fn ledger(&self) -> std::path::PathBuf {
        self.0.path().join("s.ledger")
    }

    fn run(&self, words: &[&str]) -> String {
        let done = assert_cmd::Command::new(env!("CARGO_BIN_EXE_hangtime"))
            .env_clear()
            .env("HOME", self.0.path())
            .arg("--ledger")
            .arg(self.ledger())
            .args(words)
            .output()
            .unwrap();
        assert!(done.status.success(), "{words:?}: {done:?}");
        String::from_utf8(done.stdout).unwrap()
    }

    fn json(&self, words: &[&str]) -> Value {
        serde_json::from_str(&self.run(&[words, &["--json"]].concat())).unwrap()
    }

    fn actions(&self) -> i64 {
        self.json(&["verify"])["actions"].as_i64().unwrap()
    }

    /// The words of the program that open the screens at the booth.
    fn words(&self, person: Option<&str>) -> Vec<String> {
        let ledger = self.ledger().display().to_string();
        let mut words = vec![env!("CARGO_BIN_EXE_hangtime"), "--ledger", &ledger];
        words.extend(["--station", "booth-1", "--at", BEGIN]);
        words.extend(person.iter().flat_map(|p| ["--as", p]));
        words.extend(["screen", "booth"]);
        words.into_iter().map(str::to_owned).collect()
    }

    /// The codes of printed tags by what stands beside them, from the page that is printed.
    fn tags(&self) -> BTreeMap<String, String> {
        let page = self.0.path().join("tags.html").display().to_string();
        let made = self.json(&["tags", &page, "--controls", "--people", "--floor"]);
        let text = |v: &Value| v.as_str().unwrap().to_owned();
        let list = made["tags"].as_array().unwrap().iter();
        list.map(|t| (text(&t["says"]), text(&t["code"]))).collect()
    }

    /// Holds the record against what the shift must have left in it.
    fn holds(&self, before: i64, receipts: &[String]) {
        let newest = self.actions();
        assert_eq!(newest - before, i64::try_from(KEPT.len()).unwrap());
        let mut receipts = receipts.iter();
        for (number, kept) in (before + 1..=newest).zip(KEPT) {
            let action = self.json(&["action", &number.to_string()]);
            let told = format!("{kept:?}\n{action:#}");
            assert_eq!(action["deed"], kept.deed, "{told}");
            let entries = action["entries"].as_array().unwrap();
            let pieces: Vec<&str> = entries
                .iter()
                .map(|e| e["piece"].as_str().unwrap())
                .collect();
            assert_eq!(pieces, kept.pieces, "{told}");
            let receipt = kept.ago.map(|_| receipts.next().unwrap());
            for entry in entries {
                for (key, wanted) in [
                    ("by", kept.by),
                    ("written_by", kept.by),
                    ("station", "booth-1"),
                    ("what", kept.what),
                ] {
                    assert_eq!(entry[key], wanted, "{key}: {told}");
                }
                assert_eq!(!entry["taken_back_by"].is_null(), kept.taken_back, "{told}");
                let (Some(ago), Some(receipt)) = (kept.ago, receipt) else {
                    continue;
                };
                let time = |key: &str| entry[key].as_str().unwrap();
                let at = |key| DateTime::parse_from_rfc3339(time(key)).unwrap();
                // The record says what the receipt said.
                let said = format!(" - ended {}", at("ended").format("%H:%M"));
                assert!(receipt.contains(&said), "{receipt}: {told}");
                let late = (at("written") - at("ended")).num_seconds() - 60 * ago;
                assert!((0..=120).contains(&late), "{late} s more: {told}");
            }
        }
        assert_eq!(receipts.next(), None);
        let verify = self.json(&["verify"]);
        assert_eq!(verify["differences"].as_array().unwrap().len(), 0);
        assert!(self.json(&["last", "--station", "booth-1"])["not_saved"].is_null());
    }
}

fn in_a_terminal(shop: &Shop, person: Option<&str>) -> Terminal {
    let words = shop.words(person);
    let mut command = CommandBuilder::new(&words[0]);
    command.args(&words[1..]);
    command.env_clear();
    command.env("TERM", "xterm-256color");
    command.env("LANG", "C.UTF-8");
    command.env("HOME", shop.0.path());
    Terminal::start(30, 100, command)
}

#[test]
fn a_whole_shift_is_worked_with_keys_in_a_real_terminal() {
    let shop = Shop::open();
    let before = shop.actions();
    let mut terminal = in_a_terminal(&shop, Some("AB"));
    let receipts = play(&mut terminal, SHIFT, &BTreeMap::new());
    assert_eq!(terminal.ends(), 0);
    shop.holds(before, &receipts);
}

#[test]
fn the_same_shift_is_worked_with_nothing_but_printed_tags() {
    let shop = Shop::open();
    let before = shop.actions();
    let tags = shop.tags();
    let mut terminal = in_a_terminal(&shop, None);
    let receipts = play(&mut terminal, TAGS, &tags);
    assert_eq!(terminal.ends(), 0);
    shop.holds(before, &receipts);
}

/// A tmux server of our own with one pane; it ends with the test.
#[cfg(unix)]
struct Tmux<'a>(&'a Path);

#[cfg(unix)]
impl Tmux<'_> {
    /// What tmux says; `None` where it is not there.
    fn say(&self, words: &[&str]) -> Option<std::process::Output> {
        std::process::Command::new("tmux")
            .env_remove("TMUX")
            .env("LANG", "C.UTF-8")
            .args(["-f", "/dev/null", "-S"])
            .arg(self.0)
            .args(words)
            .output()
            .ok()
    }
}

#[cfg(unix)]
impl Stage for Tmux<'_> {
    fn burst(&mut self, text: &str) {
        let mut words: Vec<&str> = Vec::new();
        for line in text.split_inclusive('\r') {
            words.extend(["send-keys", "-l", line.trim_end_matches('\r'), ";"]);
            if line.ends_with('\r') {
                words.extend(["send-keys", "Enter", ";"]);
            }
        }
        words.pop();
        assert!(self.say(&words).unwrap().status.success());
    }

    fn key(&mut self, name: &str) {
        assert!(self.say(&["send-keys", name]).unwrap().status.success());
    }

    fn text(&self) -> String {
        let pane = self.say(&["capture-pane", "-p"]).unwrap();
        String::from_utf8(pane.stdout).unwrap()
    }
}

#[cfg(unix)]
impl Drop for Tmux<'_> {
    fn drop(&mut self) {
        // A server whose pane ended is gone already.
        let _ = self.say(&["kill-server"]);
    }
}

#[cfg(unix)]
#[test]
#[allow(clippy::print_stderr, reason = "says that it was not run")]
fn the_same_shift_is_worked_with_keys_under_tmux() {
    let shop = Shop::open();
    let before = shop.actions();
    let socket = shop.0.path().join("tmux");
    let mut tmux = Tmux(&socket);
    if tmux.say(&["-V"]).is_none() {
        eprintln!("skipped: tmux is not here to play the shift in");
        return;
    }
    // A shell stays in the pane, so that what it shows after the program can be read.
    let home = shop.0.path().display().to_string();
    let mut words: Vec<String> = ["new-session", "-d", "-x", "100", "-y", "30"]
        .map(str::to_owned)
        .to_vec();
    words.push("sh".to_owned());
    words.push("-c".to_owned());
    words.push("\"$@\"; echo \"it ended with $?\"; read line".to_owned());
    words.push("shift".to_owned());
    words.extend(["env", "-i", "TERM=screen-256color", "LANG=C.UTF-8"].map(str::to_owned));
    words.push(format!("HOME={home}"));
    words.extend(shop.words(Some("AB")));
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let made = tmux.say(&words).unwrap();
    assert!(made.status.success(), "{made:?}");
    let receipts = play(&mut tmux, SHIFT, &BTreeMap::new());
    let begin = Instant::now();
    let left = loop {
        let text = tmux.text();
        if text.contains("it ended with ") {
            break text;
        }
        assert!(begin.elapsed() < LONGEST, "it does not end:\n{text}");
        std::thread::sleep(Duration::from_millis(10));
    };
    // The main screen is back, and nothing of the pages is on it.
    assert_eq!(left.trim(), "it ended with 0");
    let pane = tmux
        .say(&["display", "-p", "#{alternate_on} #{cursor_flag}"])
        .unwrap();
    assert_eq!(String::from_utf8(pane.stdout).unwrap().trim(), "0 1");
    shop.holds(before, &receipts);
}
