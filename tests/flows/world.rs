//! A sealed shop for one test: its own folder, an empty environment, a clock that stands where the test puts it.

use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// The moment at which the shop was opened; every test plays later.
pub const OPENED: &str = "2026-02-20T06:00:00-05:00";

/// What each body takes in one coat, in the shop's own figures.
pub const PER_BODY_ML: u32 = 48;

/// The table with which a recipe switches the solvent model on.
pub const SOLVENT_MODEL: &str = "\n[solvent]\nleft = \"10 %\"\nburn_in = \"15 um\"\n";

/// The answer of one command.
#[derive(Debug)]
pub struct Answer {
    pub words: String,
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Answer {
    /// The answer, which must be of exit code 0.
    pub fn good(self) -> Self {
        assert_eq!(
            self.code, 0,
            "{} said: {}{}",
            self.words, self.out, self.err
        );
        self
    }

    /// The JSON of an answer of exit code 0.
    pub fn json(self) -> Value {
        let good = self.good();
        serde_json::from_str(&good.out)
            .unwrap_or_else(|e| panic!("{}: {e}: {}", good.words, good.out))
    }

    /// The JSON of a deed that was not saved but asked about: exit code 2.
    pub fn asked(self) -> Value {
        assert_eq!(
            self.code, 2,
            "{} said: {}{}",
            self.words, self.out, self.err
        );
        serde_json::from_str(&self.out)
            .unwrap_or_else(|e| panic!("{}: {e}: {}", self.words, self.out))
    }

    /// What standard error says; the exit code must be this one, and standard output stays empty.
    pub fn refused(self, code: i32) -> String {
        assert_eq!(
            self.code, code,
            "{} said: {}{}",
            self.words, self.out, self.err
        );
        assert_eq!(self.out, "", "{}", self.words);
        self.err
    }
}

/// Blanks part words; single quotes keep them together.
pub fn split(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (i, part) in line.split('\'').enumerate() {
        if i % 2 == 1 {
            words.push(part.to_owned());
        } else {
            words.extend(part.split_whitespace().map(str::to_owned));
        }
    }
    words
}

/// The program in a folder of its own: nothing of this machine's environment reaches it but the zone that the whole
/// suite runs under, which must make no difference.
pub fn program(home: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_hangtime"));
    command.env_clear().env("HOME", home).current_dir(home);
    if let Ok(zone) = std::env::var("TZ") {
        command.env("TZ", zone);
    }
    command
}

/// Runs a command line.
pub fn run(home: &Path, words: &[String]) -> Answer {
    let output = program(home).args(words).output().unwrap();
    Answer {
        words: words.join(" "),
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// A file of the sample shop.
pub fn sample(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample")
        .join(name);
    path.to_str().unwrap().to_owned()
}

/// A shop with its ledger.
#[derive(Debug)]
pub struct World {
    folder: tempfile::TempDir,
}

/// One terminal at one moment.
#[derive(Debug, Clone, Copy)]
pub struct Desk<'a> {
    world: &'a World,
    at: Option<&'a str>,
    person: &'a str,
    station: &'a str,
}

impl World {
    /// A demo shop with the materials, recipes, lots and the mix M1 (number 1) that the stories start from.
    pub fn new() -> Self {
        static BUILT: OnceLock<Vec<u8>> = OnceLock::new();
        Self::built(&BUILT, "")
    }

    /// The same shop, whose recipes switch the solvent model on.
    pub fn with_solvent_model() -> Self {
        static BUILT: OnceLock<Vec<u8>> = OnceLock::new();
        Self::built(&BUILT, SOLVENT_MODEL)
    }

    // Built once through the commands, then copied: every test starts from the same bytes.
    fn built(bytes: &OnceLock<Vec<u8>>, more: &str) -> Self {
        let bytes = bytes.get_or_init(|| {
            let world = Self::empty();
            let desk = world.at(OPENED);
            desk.run("open --name 'Bench and hook' --zone America/New_York --demo")
                .good();
            for material in ["clr", "thn", "rtd", "slr"] {
                desk.run(&format!(
                    "material adopt '{}'",
                    sample(&format!("materials/{material}.toml"))
                ))
                .good();
            }
            for recipe in ["g9", "p9", "n8"] {
                let text = std::fs::read_to_string(sample(&format!("recipes/{recipe}.toml")));
                let file = world.file(&format!("{recipe}.toml"), &(text.unwrap() + more));
                desk.run(&format!("recipe adopt '{}'", file.display()))
                    .good();
            }
            for lot in ["L-221 CLR 400L", "T-9 THN 200L", "R-1 RTD 20L"] {
                desk.run(&format!("lot receive {lot}")).good();
            }
            let mix = desk.json("mix make M1 L-221=3.00L T-9=1.00L R-1=0.08L");
            assert_eq!(mix["mix"], 1);
            assert!(!world.ledger().with_extension("ledger-wal").exists());
            std::fs::read(world.ledger()).unwrap()
        });
        let world = Self::empty();
        std::fs::create_dir_all(world.ledger().parent().unwrap()).unwrap();
        std::fs::write(world.ledger(), bytes).unwrap();
        world
    }

    /// A folder without a ledger.
    pub fn empty() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    /// The folder, which is the home of its people, too.
    pub fn home(&self) -> &Path {
        self.folder.path()
    }

    /// Where the program keeps the ledger when nobody says otherwise.
    pub fn ledger(&self) -> PathBuf {
        self.home().join(".local/share/hangtime/shop.ledger")
    }

    /// A file of this test.
    pub fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.home().join(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    /// MK at the desk at a moment: shop time as `2026-03-10 15:40`, or RFC 3339.
    pub fn at<'a>(&'a self, at: &'a str) -> Desk<'a> {
        Desk {
            world: self,
            at: Some(at),
            person: "MK",
            station: "desk",
        }
    }

    /// MK at the desk, at the ledger's own newest moment.
    pub fn now(&self) -> Desk<'_> {
        Desk {
            world: self,
            at: None,
            person: "MK",
            station: "desk",
        }
    }

    /// Takes in a piece.
    pub fn piece(&self, at: &str, serial: &str, recipe: &str, more: &str) {
        let kind = if recipe.starts_with('N') {
            "neck"
        } else {
            "body"
        };
        self.at(at)
            .run(&format!(
                "piece add {serial} --kind {kind} --model Arden --recipe {recipe} --area 0.40m2 {more}"
            ))
            .good();
    }

    /// Hangs `count` bodies on a rack, hooks from 1, serials from `B-first`.
    pub fn rack(&self, at: &str, rack: &str, first: u32, count: u32) {
        let mut list = String::from("serial,kind,model,recipe,area,rack,hook,room\n");
        for hook in 1..=count {
            list.push_str(&format!(
                "B-{:04},body,Arden,G9,0.40 m2,{rack},{hook},booth 1\n",
                first + hook - 1
            ));
        }
        let file = self.file(&format!("{rack}.csv"), &list);
        let taken = self
            .at(at)
            .json(&format!("piece import '{}'", file.display()));
        assert_eq!(taken["pieces"], count);
    }

    /// Takes over a room's readings, written as its logger's file with a header; gives how many were new and known.
    pub fn readings(&self, at: &str, room: &str, file: &str) -> Value {
        let path = self.file("logger.csv", file);
        self.at(at)
            .json(&format!("room readings '{room}' '{}'", path.display()))
    }

    /// Brings pieces (`--rack R12`, or serials) from white wood to so many clear coats without any deviation; the last
    /// of them ends at `last`. Sets of three, 95 min apart, a level sand each next day. `with` goes onto every clear.
    pub fn bring_to(&self, whom: &str, clears: u32, last: &str, with: &str) {
        let last = moment(last);
        let minutes = chrono::TimeDelta::minutes;
        let sets = clears.div_ceil(3).max(1);
        let mut deeds: Vec<(chrono::NaiveDateTime, String)> = Vec::new();
        for coat in 1..=clears {
            let set = (coat - 1) / 3 + 1;
            let in_set = if set == sets {
                clears - 3 * (sets - 1)
            } else {
                3
            };
            let place = (coat - 1) % 3 + 1;
            let at = last
                - minutes(i64::from(24 * 60 * (sets - set)))
                - minutes(i64::from(95 * (in_set - place)));
            if place == 1 && set > 1 {
                deeds.push((at - minutes(30), format!("sand {whom} --kind level-sand")));
            }
            deeds.push((at, format!("coat {whom} --kind clear {with}")));
        }
        let first = deeds.first().map_or(last, |(at, _)| *at);
        for (before, deed) in [
            (1_800, "done receive"),
            (1_790, "done mask"),
            (1_740, "coat"),
            (1_670, "coat"),
        ] {
            let kind = if deed == "coat" { "--kind seal" } else { "" };
            deeds.push((first - minutes(before), format!("{deed} {whom} {kind}")));
        }
        deeds.sort();
        for (at, deed) in deeds {
            let saved = self
                .at(&at.format("%Y-%m-%d %H:%M").to_string())
                .json(&deed);
            assert_eq!(saved["saved"], true, "{deed}: {saved}");
            assert_eq!(saved["deviations"], serde_json::json!([]), "{deed}");
        }
    }

    /// Clear coats of a piece at a moment.
    pub fn clears(&self, at: &str, serial: &str) -> u64 {
        self.at(at).json(&format!("piece show {serial}"))["clear_coats"]
            .as_u64()
            .unwrap()
    }

    /// The ledger opened behind the program's back, with the triggers that guard the record taken away.
    pub fn tamper(&self, sql: &str) {
        let conn = rusqlite::Connection::open(self.ledger()).unwrap();
        let guards: Vec<(String, String)> = conn
            .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
            .unwrap()
            .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        for (guard, _) in &guards {
            conn.execute_batch(&format!("DROP TRIGGER {guard}"))
                .unwrap();
        }
        assert_eq!(conn.execute(sql, []).unwrap(), 1, "{sql}");
        // Put back: a guard that is missing would be noticed by itself.
        for (_, guard) in guards {
            conn.execute_batch(&guard).unwrap();
        }
    }

    /// Changes what lies beside the record, behind the program's back.
    pub fn change(&self, sql: &str) {
        let conn = rusqlite::Connection::open(self.ledger()).unwrap();
        assert!(conn.execute(sql, []).unwrap() > 0, "{sql}");
    }

    /// One text of the ledger, read behind the program's back.
    pub fn text(&self, sql: &str) -> String {
        let conn = rusqlite::Connection::open(self.ledger()).unwrap();
        conn.query_row(sql, [], |r| r.get(0)).unwrap()
    }

    /// One number of the ledger, read behind the program's back.
    pub fn count(&self, sql: &str) -> i64 {
        let conn = rusqlite::Connection::open(self.ledger()).unwrap();
        conn.query_row(sql, [], |r| r.get(0)).unwrap()
    }
}

impl<'a> Desk<'a> {
    /// Another person.
    pub fn person(self, person: &'a str) -> Self {
        Self { person, ..self }
    }

    /// Another terminal.
    pub fn station(self, station: &'a str) -> Self {
        Self { station, ..self }
    }

    fn words(&self, line: &str, json: bool) -> Vec<String> {
        let mut words = split(line);
        if let Some(at) = self.at {
            words.extend(["--at".to_owned(), at.to_owned()]);
        }
        words.extend(["--as", self.person, "--station", self.station].map(str::to_owned));
        if json {
            words.push("--json".to_owned());
        }
        words
    }

    /// Runs a command line.
    pub fn run(&self, line: &str) -> Answer {
        run(self.world.home(), &self.words(line, false))
    }

    /// Runs a command line that must answer, and gives its JSON.
    pub fn json(&self, line: &str) -> Value {
        run(self.world.home(), &self.words(line, true)).json()
    }

    /// The JSON of a deed that was not saved but asked about.
    pub fn asked(&self, line: &str) -> Value {
        run(self.world.home(), &self.words(line, true)).asked()
    }

    /// The command itself, for tests that end it on the way.
    pub fn process(&self, line: &str) -> std::process::Command {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_hangtime"));
        command
            .env_clear()
            .env("HOME", self.world.home())
            .current_dir(self.world.home())
            .args(self.words(line, true));
        command
    }
}

/// `2026-03-10 15:40` as a time to count with.
pub fn moment(text: &str) -> chrono::NaiveDateTime {
    chrono::NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M")
        .or_else(|_| chrono::NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M:%S"))
        .unwrap()
}

/// The words of one field over a list, in the list's order.
pub fn texts<'v>(list: &'v Value, field: &str) -> Vec<&'v str> {
    list.as_array()
        .unwrap()
        .iter()
        .map(|v| v[field].as_str().unwrap())
        .collect()
}

/// The rules of a list of deviations or objections.
pub fn rules(list: &Value) -> Vec<&str> {
    texts(list, "rule")
}

/// Whether a text holds all of these.
#[track_caller]
pub fn holds(text: &str, wanted: &[&str]) {
    for w in wanted {
        assert!(text.contains(w), "\"{w}\" is not in: {text}");
    }
}

/// A mass in tenths of a gram, from milligrams, as people read it.
pub fn tenths(mg: &Value) -> i64 {
    (mg.as_i64().unwrap() + 50).div_euclid(100)
}
