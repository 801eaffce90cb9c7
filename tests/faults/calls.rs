//! A fault at every single file call of one command: the process killed there, the call refused once or for ever.
//!
//! The calls that concern the ledger's folder are listed first; then the command is run once for each of them, with the
//! fault at that call, and after the last of them once more to see that it goes through untouched.

use crate::harness::{Answer, Outcome, Record, Row, Shop, Size, settle, spread, thin, tool};
use std::collections::BTreeSet;
use std::time::{Duration, Instant};

/// The file calls that the program makes, reading and writing.
pub const CALLS: &[&str] = &[
    "openat",
    "read",
    "write",
    "pread64",
    "pwrite64",
    "fsync",
    "fdatasync",
    "ftruncate",
    "fcntl",
    "flock",
    "rename",
    "renameat2",
    "link",
    "unlink",
    "mkdir",
    "newfstatat",
    "fstat",
    "statx",
];

/// Those that a full disk can refuse.
const GROWING: &[&str] = &[
    "openat",
    "write",
    "pwrite64",
    "fsync",
    "fdatasync",
    "ftruncate",
    "rename",
];

const TAG: &str = "marked";

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    Kill,
    Once(&'static str),
    ForEver(&'static str),
}

impl Fault {
    fn words(self, call: &str, n: usize) -> String {
        match self {
            Self::Kill => format!("inject={call}:signal=KILL:when={n}"),
            Self::Once(error) => format!("inject={call}:error={error}:when={n}"),
            Self::ForEver(error) => format!("inject={call}:error={error}:when={n}+"),
        }
    }
}

// One command, the files of the shop that it touches, and how often it makes each call on them.
pub struct Script {
    line: String,
    touched: Vec<String>,
    pub points: Vec<(&'static str, usize)>,
}

fn around<'a>(
    log: &'a str,
    call: &str,
    inject: Option<&'a str>,
    touched: &'a [String],
) -> Vec<String> {
    let mut words: Vec<String> = ["strace", "-f", "-qq", "-o", log, "-e"]
        .map(str::to_owned)
        .to_vec();
    words.push(format!("trace={call}"));
    for file in touched {
        words.extend(["-P".to_owned(), file.clone()]);
    }
    if let Some(inject) = inject {
        words.extend(["-e".to_owned(), inject.to_owned()]);
    }
    words
}

// Runs the command under strace with its log beside the shop, and gives the log's lines.
fn traced(
    shop: &Shop,
    line: &str,
    call: &str,
    inject: Option<&str>,
    touched: &[String],
) -> (Answer, Vec<String>) {
    let log = tempfile::NamedTempFile::new().unwrap();
    let words = around(log.path().to_str().unwrap(), call, inject, touched);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let answer = shop.run_under(&words, line);
    let lines = std::fs::read_to_string(log.path())
        .unwrap()
        .lines()
        .map(str::to_owned)
        .collect();
    (answer, lines)
}

// Names of files that are in use in this folder, absolute, as they are in a copy of the shop at `folder`.
fn here(names: &[String], shop: &Shop) -> Vec<String> {
    names
        .iter()
        .map(|n| {
            shop.folder
                .join(n)
                .to_str()
                .unwrap()
                .trim_end_matches('/')
                .to_owned()
        })
        .collect()
}

fn call_of(line: &str) -> Option<&str> {
    let rest = line
        .split_once(' ')
        .map_or(line, |(_, rest)| rest)
        .trim_start();
    rest.split_once('(').map(|(call, _)| call)
}

impl Script {
    /// Leaves only what concerns one file of the folder.
    pub fn only(&mut self, file: &str, base: &Shop) {
        self.touched.retain(|t| t == file);
        self.points = counted(base, &self.line, &self.touched);
    }
}

// How often the command makes each call on these files of a copy of the shop.
fn counted(base: &Shop, words: &str, touched: &[String]) -> Vec<(&'static str, usize)> {
    let shop = base.copy();
    let line = words.replace("FOLDER", shop.folder.to_str().unwrap());
    let (answer, lines) = traced(&shop, &line, &CALLS.join(","), None, &here(touched, &shop));
    assert_eq!(answer.code, Some(0), "{line}: {answer:?}");
    CALLS
        .iter()
        .map(|call| {
            let n = lines.iter().filter(|l| call_of(l) == Some(call)).count();
            (*call, n)
        })
        .filter(|(_, n)| *n > 0)
        .collect()
}

pub fn script(base: &Shop, line: &str) -> Script {
    let words = line;
    let shop = base.copy();
    let line = words.replace("FOLDER", shop.folder.to_str().unwrap());
    let (answer, lines) = traced(
        &shop,
        &line,
        "openat,rename,renameat2,link,unlink,mkdir",
        None,
        &[],
    );
    assert_eq!(answer.code, Some(0), "{line}: {answer:?}");
    let folder = shop.folder.to_str().unwrap();
    let mut touched: BTreeSet<String> = BTreeSet::new();
    for l in &lines {
        for quoted in l.split('"').skip(1).step_by(2) {
            if let Some(name) = quoted.strip_prefix(folder) {
                touched.insert(name.trim_start_matches('/').to_owned());
            }
        }
    }
    let touched: Vec<String> = touched.into_iter().collect();
    let points = counted(base, words, &touched);
    Script {
        line: words.to_owned(),
        touched,
        points,
    }
}

/// A copy of the shop after a fault at one call of the command.
pub struct Struck {
    pub shop: Shop,
    pub answer: Answer,
    /// Whether the command came so far.
    pub reached: bool,
    pub took: Duration,
    pub what: String,
}

/// Runs the command with the fault at one call, on a copy of the shop.
pub fn strike(base: &Shop, script: &Script, fault: Fault, call: &str, n: usize) -> Struck {
    let shop = base.copy();
    let start = Instant::now();
    let inject = fault.words(call, n);
    let line = script.line.replace("FOLDER", shop.folder.to_str().unwrap());
    let (answer, lines) = traced(
        &shop,
        &line,
        call,
        Some(&inject),
        &here(&script.touched, &shop),
    );
    Struck {
        shop,
        answer,
        reached: lines
            .iter()
            .any(|l| l.contains("INJECTED") || l.contains("killed by SIGKILL")),
        took: start.elapsed(),
        what: format!("{} {inject}", script.line),
    }
}

// One point: the fault, and how things stand afterwards.
fn point(
    base: &Shop,
    before: &Record,
    script: &Script,
    fault: Fault,
    call: &str,
    n: usize,
) -> (Outcome, bool, Duration) {
    let Struck {
        shop,
        answer,
        reached: struck,
        took,
        what,
    } = strike(base, script, fault, call, n);
    let mut one = settle(&shop, before, TAG, &answer, &what);
    if !struck {
        one.faults = 0;
    }
    if !matches!(fault, Fault::Kill) {
        one.must(answer.code.is_some(), || format!("{what}: died of it"));
        one.must(took < Duration::from_secs(20), || {
            format!("{what}: took {took:?}")
        });
        // A refusal that says that nothing was saved must be right about it.
        if answer.code != Some(0) && answer.err.contains("nothing was saved") {
            let found = shop
                .record()
                .is_ok_and(|r| !r.with(&format!("\"{TAG}\"")).is_empty());
            one.must(!found, || {
                format!("{what}: saved, and said that nothing was")
            });
        }
    }
    (one, struck, took)
}

fn every_point(
    row: &mut Row,
    base: &Shop,
    script: &Script,
    fault: Fault,
    calls: &[&str],
    most: usize,
    most_locks: usize,
) {
    let before = base.record().unwrap();
    let mut jobs: Vec<(&str, usize)> = Vec::new();
    let mut locks: Vec<(&str, usize)> = Vec::new();
    for (call, count) in script.points.iter().filter(|(c, _)| calls.contains(c)) {
        for n in 1..=*count {
            // A lock that can never be taken is asked for again and again by the engine, for seconds.
            if *call == "fcntl" && matches!(fault, Fault::ForEver(_)) {
                locks.push((call, n));
            } else {
                jobs.push((call, n));
            }
        }
    }
    let all = jobs.len() + locks.len();
    let mut jobs = thin(jobs, most);
    jobs.extend(thin(locks, most_locks));
    let some = jobs.len();
    // After the last call the command must come through untouched: then it was the last.
    if some == all {
        for (call, count) in script.points.iter().filter(|(c, _)| calls.contains(c)) {
            jobs.push((call, count + 1));
        }
    }
    let longest = spread(&jobs, |(call, n)| {
        point(base, &before, script, fault, call, *n)
    });
    let mut slowest = Duration::ZERO;
    let mut untouched = 0;
    let mut at = String::new();
    for ((one, struck, took), (call, n)) in longest.into_iter().zip(&jobs) {
        let what = format!("{call} {n}");
        row.take(one);
        untouched += usize::from(!struck);
        if took > slowest {
            slowest = took;
            at = what;
        }
    }
    // The count of a call may differ by a few from run to run; far fewer strikes would mean that nothing was shown.
    let wanted = some * 9 / 10;
    row.must(jobs.len() - untouched >= wanted, || {
        format!("{untouched} of {} points were never reached", jobs.len())
    });
    row.note(format!(
        "{some} of {all} calls of {}, slowest {:.1} s at {at}",
        script.line.split(' ').next().unwrap_or(""),
        slowest.as_secs_f64()
    ));
}

fn note_script(base: &Shop) -> Script {
    script(base, &format!("note B-0101 --why {TAG}"))
}

pub fn with_strace(id: &'static str, what: &'static str, work: impl FnOnce(&mut Row)) -> Row {
    with_tool(id, what, "strace", work)
}

/// A row that needs a tool, or says that it is missing.
pub fn with_tool(
    id: &'static str,
    what: &'static str,
    name: &str,
    work: impl FnOnce(&mut Row),
) -> Row {
    let mut row = Row::new(id, what);
    if !tool(name) {
        return row.skip(&format!("{name} is missing"));
    }
    work(&mut row);
    row
}

/// Killed at every file call of a note.
pub fn killed(size: Size) -> Row {
    with_strace("R-02", "killed at every file call of a save", |row| {
        let base = Shop::new();
        let note = note_script(&base);
        let most = size.pick(30, 10_000, 10_000);
        every_point(row, &base, &note, Fault::Kill, CALLS, most, most);
        if size == Size::Full {
            let coat = script(
                &base,
                &format!(
                    "coat --rack W1 --kind clear --mix 1 --amount 20mL --include all --reason 1 --note {TAG}"
                ),
            );
            every_point(row, &base, &coat, Fault::Kill, CALLS, most, most);
        }
    })
}

/// A disk that reports a fault at one call.
pub fn fault_once(size: Size) -> Row {
    with_strace("R-03", "a disk fault (EIO) at one call of a save", |row| {
        let base = Shop::new();
        let script = note_script(&base);
        let most = size.pick(24, 10_000, 10_000);
        every_point(row, &base, &script, Fault::Once("EIO"), CALLS, most, most);
    })
}

/// A disk that reports a fault from one call on.
pub fn fault_for_ever(size: Size) -> Row {
    with_strace(
        "R-04",
        "a disk fault (EIO) from one call of a save on",
        |row| {
            let base = Shop::new();
            let script = note_script(&base);
            let most = size.pick(20, 10_000, 10_000);
            let locks = size.pick(0, 4, 10_000);
            every_point(
                row,
                &base,
                &script,
                Fault::ForEver("EIO"),
                CALLS,
                most,
                locks,
            );
        },
    )
}

/// No room at one call, and from one call on.
pub fn no_room(size: Size) -> Row {
    with_strace(
        "R-05",
        "no room (ENOSPC) at one call of a save, and from it on",
        |row| {
            let base = Shop::new();
            let script = note_script(&base);
            let most = size.pick(12, 10_000, 10_000);
            every_point(
                row,
                &base,
                &script,
                Fault::Once("ENOSPC"),
                GROWING,
                most,
                most,
            );
            every_point(
                row,
                &base,
                &script,
                Fault::ForEver("ENOSPC"),
                GROWING,
                most,
                most,
            );
        },
    )
}

/// The process that opens after a kill is killed, too, or refused a call.
pub fn while_recovering(size: Size) -> Row {
    with_strace(
        "R-07",
        "a fault in the process that opens after a kill",
        |row| {
            let base = Shop::new();
            // Two wrecks: one killed in the midst of writing, one after its commit and before its clean end.
            let first = script(&base, "note B-0101 --why before");
            let writes = first
                .points
                .iter()
                .find(|(c, _)| *c == "pwrite64")
                .map_or(0, |p| p.1);
            let mut wrecks = Vec::new();
            for n in (1..=writes).rev() {
                let shop = base.copy();
                let inject = Fault::Kill.words("pwrite64", n);
                traced(
                    &shop,
                    &first.line,
                    "pwrite64",
                    Some(&inject),
                    &here(&first.touched, &shop),
                );
                let wal = std::fs::metadata(shop.beside("-wal")).map_or(0, |m| m.len());
                let looked = shop.copy();
                let there = looked
                    .record()
                    .is_ok_and(|r| !r.with("\"before\"").is_empty());
                if wal > 0 && wrecks.iter().all(|(_, t)| *t != there) {
                    wrecks.push((shop, there));
                }
            }
            row.must(wrecks.len() == 2, || {
                format!("{} kinds of wrecks were made instead of 2", wrecks.len())
            });
            let most = size.pick(10, 80, 10_000);
            for (wreck, _) in &wrecks {
                // The script is listed on a copy of the wreck: it recovers, then saves.
                let script = note_script(wreck);
                every_point_of_wreck(row, wreck, &script, Fault::Kill, most);
                every_point_of_wreck(row, wreck, &script, Fault::Once("EIO"), most);
            }
        },
    )
}

fn every_point_of_wreck(row: &mut Row, wreck: &Shop, script: &Script, fault: Fault, most: usize) {
    // The wreck itself stays as it is: its record is read on a copy.
    let before = wreck.copy().record().unwrap();
    let jobs: Vec<(&str, usize)> = script
        .points
        .iter()
        .flat_map(|(call, count)| (1..=*count).map(move |n| (*call, n)))
        .collect();
    let all = jobs.len();
    let jobs = thin(jobs, most);
    for (one, _, _) in spread(&jobs, |(call, n)| {
        point(wreck, &before, script, fault, call, *n)
    }) {
        row.take(one);
    }
    row.note(format!("{} of {all} calls", jobs.len()));
}
