//! What all rows share: a shop on a real file system, what was acknowledged, and whether the invariants hold.

use rusqlite::{Connection, OpenFlags};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// How much is done: a little in every run of the tests, the catalogue's counts, or a night's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    Small,
    Ci,
    Full,
}

impl Size {
    pub fn of_now() -> Self {
        match std::env::var("HANGTIME_FAULTS").as_deref() {
            Ok("ci") => Self::Ci,
            Ok("full") => Self::Full,
            Ok(other) => panic!("HANGTIME_FAULTS is \"{other}\"; write ci or full"),
            Err(_) => Self::Small,
        }
    }

    pub fn pick(self, small: usize, ci: usize, full: usize) -> usize {
        match self {
            Self::Small => small,
            Self::Ci => ci,
            Self::Full => full,
        }
    }
}

/// One row of the table.
#[derive(Debug, Default)]
pub struct Row {
    pub id: &'static str,
    pub what: &'static str,
    /// Faults that were brought about.
    pub faults: usize,
    /// Actions that the program said were saved.
    pub acknowledged: usize,
    /// Those of them that were not there afterwards, or not as they were.
    pub lost: usize,
    /// What else is worth a word.
    pub notes: Vec<String>,
    /// What broke an invariant.
    pub broken: Vec<String>,
    /// Why it did not run.
    pub skipped: Option<String>,
    pub took: Duration,
}

impl Row {
    pub fn new(id: &'static str, what: &'static str) -> Self {
        Self {
            id,
            what,
            ..Self::default()
        }
    }

    /// The row did not run, and why.
    pub fn skip(mut self, why: &str) -> Self {
        self.skipped = Some(why.to_owned());
        self
    }

    /// Takes in what came of one fault.
    pub fn take(&mut self, one: Outcome) {
        self.faults += one.faults;
        self.acknowledged += one.acknowledged;
        self.lost += one.lost;
        self.broken.extend(one.broken);
    }

    pub fn note(&mut self, text: String) {
        self.notes.push(text);
    }

    /// Something that must be so.
    pub fn must(&mut self, holds: bool, otherwise: impl FnOnce() -> String) {
        if !holds {
            self.broken.push(otherwise());
        }
    }

    pub fn line(&self) -> String {
        let head = format!("{:<5} {:<58}", self.id, self.what);
        if let Some(why) = &self.skipped {
            return format!("{head} not run: {why}");
        }
        let mut line = format!(
            "{head} faults {:>5}  acknowledged {:>5}  lost {}  {:>5.1} s",
            self.faults,
            self.acknowledged,
            self.lost,
            self.took.as_secs_f64()
        );
        if !self.notes.is_empty() {
            line.push_str(&format!("  {}", self.notes.join("; ")));
        }
        if !self.broken.is_empty() {
            line.push_str(&format!("  BROKEN: {}", self.broken.len()));
        }
        line
    }
}

/// What came of one fault.
#[derive(Debug, Default)]
pub struct Outcome {
    pub faults: usize,
    pub acknowledged: usize,
    pub lost: usize,
    pub broken: Vec<String>,
}

impl Outcome {
    pub fn must(&mut self, holds: bool, otherwise: impl FnOnce() -> String) {
        if !holds {
            self.broken.push(otherwise());
        }
    }
}

/// Numbers that look random; the seed is fixed, so that a run can be played again.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: usize) -> Self {
        Self(0x5eed_1e55 ^ (seed as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    /// From 0 to `below`, without it.
    pub fn below(&mut self, below: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % below.max(1)
    }

    pub fn span(&mut self, longest: Duration) -> Duration {
        Duration::from_micros(self.below(longest.as_micros() as usize) as u64)
    }
}

/// Does the jobs on as many threads as the machine has, and gives their results in the jobs' order.
pub fn spread<J: Sync, R: Send>(jobs: &[J], work: impl Fn(&J) -> R + Sync) -> Vec<R> {
    spread_over(cores(), jobs, work)
}

/// The same for jobs that wait most of their time, for a slow disk or until the program gives up: more of them at once.
pub fn spread_waiting<J: Sync, R: Send>(jobs: &[J], work: impl Fn(&J) -> R + Sync) -> Vec<R> {
    spread_over(3 * cores(), jobs, work)
}

fn cores() -> usize {
    std::thread::available_parallelism().map_or(2, usize::from)
}

fn spread_over<J: Sync, R: Send>(
    threads: usize,
    jobs: &[J],
    work: impl Fn(&J) -> R + Sync,
) -> Vec<R> {
    let next = AtomicUsize::new(0);
    let mut all: Vec<(usize, R)> = std::thread::scope(|scope| {
        let handles: Vec<_> = (0..threads)
            .map(|_| {
                scope.spawn(|| {
                    let mut mine = Vec::new();
                    loop {
                        let i = next.fetch_add(1, Ordering::Relaxed);
                        let Some(job) = jobs.get(i) else { return mine };
                        mine.push((i, work(job)));
                    }
                })
            })
            .collect();
        handles
            .into_iter()
            .flat_map(|h| h.join().unwrap())
            .collect()
    });
    all.sort_by_key(|(i, _)| *i);
    all.into_iter().map(|(_, r)| r).collect()
}

/// At most `most` of them, evenly spread, the first and the last among them.
pub fn thin<T>(all: Vec<T>, most: usize) -> Vec<T> {
    let n = all.len();
    if n <= most || most < 2 {
        return all.into_iter().take(most.max(n.min(most))).collect();
    }
    let wanted: Vec<usize> = (0..most).map(|k| k * (n - 1) / (most - 1)).collect();
    all.into_iter()
        .enumerate()
        .filter(|(i, _)| wanted.contains(i))
        .map(|(_, t)| t)
        .collect()
}

/// Whether a tool can be called.
pub fn tool(name: &str) -> bool {
    Command::new("sh")
        .args(["-c", &format!("command -v {name}")])
        .stdout(Stdio::null())
        .status()
        .is_ok_and(|s| s.success())
}

/// Whether we are root: by the owner of what we make.
pub fn root() -> bool {
    use std::os::unix::fs::MetadataExt;
    tempfile::NamedTempFile::new()
        .unwrap()
        .as_file()
        .metadata()
        .unwrap()
        .uid()
        == 0
}

/// Runs a tool that must succeed.
pub fn must_run(words: &[&str]) -> Result<String, String> {
    let out = Command::new(words[0])
        .args(&words[1..])
        .output()
        .map_err(|e| format!("{}: {e}", words[0]))?;
    if out.status.success() {
        Ok(String::from_utf8_lossy(&out.stdout).into_owned())
    } else {
        Err(format!(
            "{}: {}",
            words.join(" "),
            String::from_utf8_lossy(&out.stderr).trim()
        ))
    }
}

/// A mount that goes away with its holder.
#[derive(Debug)]
pub struct Mounted(pub PathBuf);

impl Mounted {
    pub fn new(options: &[&str], at: &Path) -> Result<Self, String> {
        std::fs::create_dir_all(at).unwrap();
        let mut words = vec!["mount"];
        words.extend(options);
        words.push(at.to_str().unwrap());
        must_run(&words).map(|_| Self(at.to_owned()))
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

/// The answer of one command.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Its exit code; nothing if it was killed.
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Answer {
    /// Of a command that said nothing that counts.
    pub fn none() -> Self {
        Self {
            code: None,
            out: String::new(),
            err: String::new(),
        }
    }

    pub fn of(output: &Output) -> Self {
        Self {
            // A tool that stands around the program reports its death as 128 + signal.
            code: output.status.code().filter(|c| *c < 128),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    /// The number of the action that it says is saved. What a terminal showed counts, also if it died right after.
    pub fn acknowledged(&self) -> Option<i64> {
        let value: Value = serde_json::from_str(&self.out).ok()?;
        value["action"].as_i64()
    }

    /// What is wrong with how it ended: a crash, a code that it does not have, or a refusal without a sentence.
    pub fn manners(&self) -> Option<String> {
        let said = format!("{}{}", self.out, self.err);
        if said.contains("panicked") || said.contains("RUST_BACKTRACE") {
            return Some(format!("panic text: {said}"));
        }
        match self.code {
            None | Some(0) => None,
            Some(1..=3) if said.trim().len() > 20 => None,
            other => Some(format!("ended with {other:?} and said \"{said}\"")),
        }
    }
}

/// A shop in a folder on a real file system.
#[derive(Debug)]
pub struct Shop {
    pub folder: PathBuf,
    pub ledger: PathBuf,
    own: Option<tempfile::TempDir>,
}

/// The moment of the deeds, unless a row has its own.
pub const NOW: &str = "2026-03-09 09:00";

impl Shop {
    /// In a new folder: twelve bodies on two racks, a mix, four rooms with readings.
    pub fn new() -> Self {
        let own = tempfile::tempdir().unwrap();
        let mut shop = Self::inside(own.path());
        shop.own = Some(own);
        shop
    }

    /// In a folder that is there.
    pub fn inside(folder: &Path) -> Self {
        static BUILT: OnceLock<[Vec<u8>; 2]> = OnceLock::new();
        let [bytes, witness] = BUILT.get_or_init(|| {
            let world = crate::world::World::new();
            world.rack("2026-03-03 07:00", "W0", 101, 4);
            world.rack("2026-03-03 07:01", "W1", 201, 4);
            world.rack("2026-03-03 07:02", "W2", 301, 4);
            world.rack("2026-03-03 07:03", "W3", 401, 4);
            let desk = world.at("2026-03-03 08:00");
            for room in 0..4 {
                desk.run(&format!("room declare Q{room} --every 10min"))
                    .good();
            }
            assert!(!world.ledger().with_extension("ledger-wal").exists());
            [
                world.ledger(),
                world.ledger().with_extension("ledger.witness"),
            ]
            .map(|f| std::fs::read(f).unwrap())
        });
        let shop = Self::empty(folder);
        std::fs::write(&shop.ledger, bytes).unwrap();
        std::fs::write(shop.beside(".witness"), witness).unwrap();
        shop
    }

    /// A folder of its own where a ledger may come to lie.
    pub fn owning(own: tempfile::TempDir) -> Self {
        let mut shop = Self::empty(own.path());
        shop.own = Some(own);
        shop
    }

    /// A folder where a ledger may come to lie.
    pub fn empty(folder: &Path) -> Self {
        Self {
            folder: folder.to_owned(),
            ledger: folder.join("shop.ledger"),
            own: None,
        }
    }

    /// A copy of all files that lie here, in a new folder.
    pub fn copy(&self) -> Self {
        let own = tempfile::tempdir().unwrap();
        for (name, bytes) in self.files() {
            std::fs::write(own.path().join(name), bytes).unwrap();
        }
        let mut shop = Self::empty(own.path());
        shop.own = Some(own);
        shop
    }

    /// The files of the folder by name.
    pub fn files(&self) -> Vec<(String, Vec<u8>)> {
        let mut all: Vec<_> = std::fs::read_dir(&self.folder)
            .unwrap()
            .map(|f| f.unwrap().path())
            .filter(|p| p.is_file())
            .map(|p| {
                let name = p.file_name().unwrap().to_str().unwrap().to_owned();
                (name, std::fs::read(&p).unwrap())
            })
            .collect();
        all.sort();
        all
    }

    /// A file of the ledger: `shop.ledger` and more.
    pub fn beside(&self, more: &str) -> PathBuf {
        self.folder.join(format!("shop.ledger{more}"))
    }

    /// The words of a command on this ledger.
    pub fn words(&self, line: &str, at: &str, station: &str) -> Vec<String> {
        let mut words = crate::world::split(line);
        let ledger = self.ledger.to_str().unwrap();
        words.extend(
            [
                "--at",
                at,
                "--as",
                "MK",
                "--station",
                station,
                "--ledger",
                ledger,
                "--json",
            ]
            .map(str::to_owned),
        );
        words
    }

    /// A program around the built one, or the built one alone.
    pub fn under(&self, around: &[&str], words: &[String]) -> Command {
        let mut all: Vec<&str> = around.to_vec();
        all.push(env!("CARGO_BIN_EXE_hangtime"));
        let mut command = Command::new(all[0]);
        command
            .args(&all[1..])
            .args(words)
            .env_clear()
            .env("HOME", &self.folder)
            .env("PATH", std::env::var("PATH").unwrap_or_default())
            .current_dir(&self.folder);
        command
    }

    /// Runs a command line at the desk.
    pub fn run(&self, line: &str) -> Answer {
        self.run_under(&[], line)
    }

    /// Runs a command line inside another program.
    pub fn run_under(&self, around: &[&str], line: &str) -> Answer {
        let words = self.words(line, NOW, "desk");
        let out = self
            .under(around, &words)
            .stdin(Stdio::null())
            .output()
            .unwrap();
        Answer::of(&out)
    }

    /// What verify says against the ledger; nothing if it is whole.
    pub fn verify(&self) -> Result<(), String> {
        let answer = self.run("verify");
        if let Some(bad) = answer.manners() {
            return Err(bad);
        }
        let value: Value = serde_json::from_str(&answer.out).unwrap_or_default();
        if answer.code == Some(0) && value["differences"] == serde_json::json!([]) {
            Ok(())
        } else {
            Err(format!(
                "verify ended with {:?}: {}{}",
                answer.code, answer.out, answer.err
            ))
        }
    }

    /// The record as it lies in the file.
    pub fn record(&self) -> Result<Record, String> {
        Record::of(&self.ledger).map_err(|e| e.to_string())
    }
}

/// The record, read behind the program's back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record {
    /// All columns of each action, in order.
    pub actions: Vec<String>,
    /// The same of each entry, with its action.
    pub entries: Vec<(i64, String)>,
    /// The same of each reading.
    pub readings: Vec<String>,
}

impl Record {
    pub fn of(path: &Path) -> rusqlite::Result<Self> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(path, flags)?;
        conn.busy_timeout(Duration::from_secs(10))?;
        let rows = |sql: &str| -> rusqlite::Result<Vec<(i64, String)>> {
            let mut statement = conn.prepare(sql)?;
            let columns = statement.column_count();
            statement
                .query_map([], |r| {
                    let mut text = String::new();
                    for c in 0..columns {
                        let value: rusqlite::types::Value = r.get(c)?;
                        match value {
                            rusqlite::types::Value::Text(t) => text.push_str(&t),
                            other => text.push_str(&format!("{other:?}")),
                        }
                        text.push('|');
                    }
                    Ok((r.get::<_, i64>(1).unwrap_or(0), text))
                })?
                .collect()
        };
        let texts = |sql: &str| -> rusqlite::Result<Vec<String>> {
            Ok(rows(sql)?.into_iter().map(|(_, t)| t).collect())
        };
        Ok(Self {
            actions: texts("SELECT * FROM action NOT INDEXED ORDER BY seq")?,
            entries: rows("SELECT * FROM entry NOT INDEXED ORDER BY seq")?,
            readings: texts("SELECT * FROM reading ORDER BY entry, room, at")?,
        })
    }

    /// Whether all that was there before is there now, unchanged and in its place.
    pub fn follows(&self, before: &Self) -> bool {
        let starts = |now: &[String], then: &[String]| now.get(..then.len()) == Some(then);
        starts(&self.actions, &before.actions)
            && starts(&self.readings, &before.readings)
            && self.entries.get(..before.entries.len()) == Some(before.entries.as_slice())
    }

    /// The actions that hold a text.
    pub fn with(&self, text: &str) -> Vec<i64> {
        let mut found: Vec<i64> = self
            .actions
            .iter()
            .enumerate()
            .filter(|(_, a)| a.contains(text))
            .map(|(i, _)| i as i64 + 1)
            .chain(
                self.entries
                    .iter()
                    .filter(|(_, e)| e.contains(text))
                    .map(|(a, _)| *a),
            )
            .collect();
        found.sort_unstable();
        found.dedup();
        found
    }

    /// Whether this action is there and holds this text.
    pub fn holds(&self, action: i64, text: &str) -> bool {
        self.actions
            .get(usize::try_from(action - 1).unwrap_or(usize::MAX))
            .is_some_and(|a| a.contains(text))
    }
}

/// Holds the ledger after one fault against the ledger before it: it opens, nothing of the past changed, the deed with
/// `tag` is there whole or not at all, it is there if it was acknowledged, and the next deed is saved.
pub fn settle(shop: &Shop, before: &Record, tag: &str, answer: &Answer, what: &str) -> Outcome {
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    if let Some(bad) = answer.manners() {
        one.broken.push(format!("{what}: {bad}"));
    }
    // The next deed comes first: it is the one that opens after the fault.
    let next = format!("after-{tag}");
    let following = shop.run(&format!("note B-0102 --why {next}"));
    one.must(
        following.code == Some(0) && following.acknowledged().is_some(),
        || format!("{what}: the next deed was refused: {following:?}"),
    );
    if let Err(why) = shop.verify() {
        one.broken.push(format!("{what}: {why}"));
    }
    let now = match shop.record() {
        Ok(now) => now,
        Err(e) => {
            one.broken
                .push(format!("{what}: the record cannot be read: {e}"));
            return one;
        }
    };
    one.must(now.follows(before), || {
        format!("{what}: the past was changed")
    });
    let found = now.with(&format!("\"{tag}\""));
    one.must(found.len() <= 1, || {
        format!("{what}: saved twice, as {found:?}")
    });
    let acknowledged =
        (answer.code == Some(0) || answer.acknowledged().is_some()).then(|| answer.acknowledged());
    if let Some(number) = acknowledged {
        one.acknowledged += 1;
        if found.as_slice() != number.as_slice() {
            one.lost += 1;
            one.broken.push(format!(
                "{what}: acknowledged as {number:?}, found {found:?}"
            ));
        }
    }
    if let Some(number) = following.acknowledged() {
        one.acknowledged += 1;
        if now.with(&format!("\"{next}\"")) != [number] {
            one.lost += 1;
            one.broken
                .push(format!("{what}: the next deed {number} is not there"));
        }
    }
    let expected = before.actions.len() + found.len() + 1;
    one.must(now.actions.len() == expected, || {
        format!(
            "{what}: {} actions where {expected} were expected",
            now.actions.len()
        )
    });
    one
}

/// Runs one row and measures it.
pub fn timed(work: impl FnOnce() -> Row) -> Row {
    let start = Instant::now();
    let mut row = work();
    row.took = start.elapsed();
    row
}
