//! Terminals that stay open: what a long-lived process does when it is killed or stopped, when the disk fails it, or when
//! the files change under it.
//!
//! The terminal is this test's own binary, started once more: it opens the ledger as the screens do and saves deed after
//! deed, telling each over a pipe before the next.

use crate::harness::{Dice, Outcome, Row, Shop, Size, spread, thin, tool};
use hangtime::ledger::{
    DeedRequest, DeedWhat, Included, Ledger, Outcome as Saved, Stamp, Target, Who,
};
use hangtime::shop::record::{CoatMore, Fact};
use hangtime::shop::words::StepKind;
use hangtime::units::{Moment, Span, Volume};
use rusqlite::{Connection, OpenFlags};
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

const LEDGER: &str = "HANGTIME_LIVE_LEDGER";
const STATION: &str = "HANGTIME_LIVE_STATION";
const STORM: &str = "HANGTIME_LIVE_STORM";
const SECONDS: &str = "HANGTIME_LIVE_SECONDS";

// Mon 9 March 2026 09:00 in New York.
const START: Moment = Moment(1_773_061_200_000);

/// The terminal itself. Without its environment there is nothing for it to do.
#[test]
#[ignore = "the rows of live terminals start it"]
fn terminal() {
    let path = std::env::var(LEDGER).expect("the rows of live terminals start it");
    let station = std::env::var(STATION).unwrap();
    let storm = std::env::var(STORM)
        .ok()
        .map(|n| n.parse::<usize>().unwrap());
    let mut ledger = match Ledger::open(Path::new(&path)) {
        Ok(ledger) => ledger,
        Err(e) => {
            tell(&format!("shut {e}"));
            return;
        }
    };
    tell("open");
    let mut number = 0;
    let mut one = |tag: &str| {
        number += 1;
        let start = Instant::now();
        match save(&mut ledger, &station, number, tag) {
            Ok(action) => tell(&format!(
                "ok {tag} {action} {}",
                start.elapsed().as_micros()
            )),
            Err(e) => tell(&format!("no {tag} {}", e.replace('\n', " "))),
        }
    };
    let heard = match storm {
        Some(count) => (0..count).all(|i| one(&format!("{station}x{i:05}"))),
        None => std::io::stdin().lines().all(|tag| one(tag.unwrap().trim())),
    };
    assert!(heard, "nobody is there any more");
}

/// Somebody who folds the write-ahead file without a pause, in each way that the engine knows, and takes no turn for it.
/// Without its environment there is nothing for it to do.
#[test]
#[ignore = "the row of the folding processes starts it"]
fn folder() {
    let path = std::env::var(LEDGER).expect("the row of the folding processes starts it");
    let seconds = std::env::var(SECONDS).unwrap().parse().unwrap();
    let conn = Connection::open(path).unwrap();
    conn.busy_timeout(Duration::from_millis(20)).unwrap();
    let start = Instant::now();
    let (mut whole, mut busy) = (0_usize, 0_usize);
    while start.elapsed() < Duration::from_secs(seconds) {
        for how in ["PASSIVE", "RESTART", "TRUNCATE"] {
            let told: rusqlite::Result<i64> =
                conn.query_row(&format!("PRAGMA wal_checkpoint({how})"), [], |r| r.get(0));
            match told {
                Ok(0) => whole += 1,
                Ok(_) => busy += 1,
                Err(e) => assert_eq!(
                    e.sqlite_error_code(),
                    Some(rusqlite::ErrorCode::DatabaseBusy),
                    "{how}: {e}"
                ),
            }
        }
    }
    tell(&format!("folded {whole} {busy}"));
}

// Whether somebody is there to be told: a terminal whose pipe was closed ends.
fn tell(line: &str) -> bool {
    let mut out = std::io::stdout().lock();
    writeln!(out, "live {line}")
        .and_then(|()| out.flush())
        .is_ok()
}

// A note, or each tenth time a coat: the read models have something to follow from.
fn save(ledger: &mut Ledger, station: &str, number: i64, tag: &str) -> Result<i64, String> {
    let who = Who {
        person: "MK".to_owned(),
        writer: "MK".to_owned(),
        station: station.to_owned(),
    };
    let writer: u32 = station
        .trim_start_matches(|c: char| !c.is_ascii_digit())
        .parse()
        .unwrap_or(0);
    let piece = format!("B-{:04}", (writer / 4 % 4 + 1) * 100 + writer % 4 + 1);
    let at = START.plus(Span::minutes(number));
    let what = if number % 10 == 2 {
        DeedWhat::Coat {
            kind: Some(StepKind::Clear),
            touch_up: false,
            mix: Some(1),
            lot: None,
            amount: Some(Volume(100)),
            wet: Vec::new(),
            supervisor: None,
            more: CoatMore::default(),
        }
    } else {
        DeedWhat::Other(Fact::Note {
            text: tag.to_owned(),
        })
    };
    let mut request = DeedRequest::new(who, Target::Pieces(vec![piece]), what, at);
    request.included = Included::All;
    request.another = true;
    request.note = (number % 10 == 2).then(|| tag.to_owned());
    let stamp = Stamp {
        written: at,
        clock: "demo",
        boot_ms: None,
    };
    match ledger.log(&request, &stamp) {
        Ok(Saved::Saved(receipt)) => Ok(receipt.saved.action),
        Ok(other) => Err(format!("asked: {other:?}")),
        Err(e) => Err(e.to_string()),
    }
}

/// What a terminal told.
#[derive(Debug, Clone)]
pub enum Told {
    Open,
    Shut(String),
    Ok {
        tag: String,
        action: i64,
        took: Duration,
    },
    No {
        tag: String,
        why: String,
    },
}

impl Told {
    fn read(line: &str) -> Option<Self> {
        // The test harness writes its own words before the first one, on the same line.
        let (_, line) = line.split_once("live ")?;
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        match word {
            "open" => Some(Self::Open),
            "shut" => Some(Self::Shut(rest.to_owned())),
            "ok" => {
                let mut words = rest.split(' ');
                Some(Self::Ok {
                    tag: words.next()?.to_owned(),
                    action: words.next()?.parse().ok()?,
                    took: Duration::from_micros(words.next()?.parse().ok()?),
                })
            }
            "no" => {
                let (tag, why) = rest.split_once(' ')?;
                Some(Self::No {
                    tag: tag.to_owned(),
                    why: why.to_owned(),
                })
            }
            _ => None,
        }
    }
}

/// A terminal that runs.
pub struct Live {
    child: Child,
    input: Option<ChildStdin>,
    output: BufReader<ChildStdout>,
}

impl Live {
    pub fn start(shop: &Shop, around: &[String], station: &str, storm: Option<usize>) -> Self {
        let own = std::env::current_exe().unwrap();
        let mut all: Vec<&str> = around.iter().map(String::as_str).collect();
        all.push(own.to_str().unwrap());
        all.extend(["--exact", "live::terminal", "--ignored", "--nocapture"]);
        let mut command = Command::new(all[0]);
        command
            .args(&all[1..])
            .env(LEDGER, &shop.ledger)
            .env(STATION, station)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null());
        if let Some(count) = storm {
            command.env(STORM, count.to_string());
        }
        let mut child = command.spawn().unwrap();
        Self {
            input: child.stdin.take(),
            output: BufReader::new(child.stdout.take().unwrap()),
            child,
        }
    }

    // The next thing it tells; nothing when it has ended.
    fn next(&mut self) -> Option<Told> {
        loop {
            let mut line = String::new();
            // A line that was cut short by a kill was not told.
            match self.output.read_line(&mut line) {
                Ok(1..) if line.ends_with('\n') => {
                    if let Some(told) = Told::read(line.trim_end()) {
                        return Some(told);
                    }
                }
                _ => return None,
            }
        }
    }

    pub fn opened(mut self) -> Self {
        match self.next() {
            Some(Told::Open) => self,
            other => panic!("the terminal did not open: {other:?}"),
        }
    }

    pub fn ask(&mut self, tag: &str) -> Option<Told> {
        let sent = writeln!(self.input.as_mut()?, "{tag}");
        sent.ok()?;
        self.next()
    }

    fn signal(&self, name: &str) {
        let _ = Command::new("kill")
            .args([&format!("-{name}"), &self.child.id().to_string()])
            .status();
    }

    // Closes its input, and takes in what it still tells.
    pub fn end(mut self) -> Vec<Told> {
        drop(self.input.take());
        let mut all = Vec::new();
        while let Some(told) = self.next() {
            all.push(told);
        }
        self.child.wait().unwrap();
        all
    }
}

// Whether each acknowledged deed is in the record once, under its number.
pub fn found(shop: &Shop, told: &[Told]) -> Outcome {
    let mut sum = Outcome::default();
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(&shop.ledger, flags).unwrap();
    conn.busy_timeout(Duration::from_secs(10)).unwrap();
    let mut there = conn
        .prepare("SELECT (a.body || e.body) LIKE '%\"' || ?2 || '\"%' FROM action a JOIN entry e ON e.action = a.seq WHERE a.seq = ?1")
        .unwrap();
    let mut numbers = BTreeSet::new();
    for one in told {
        let Told::Ok { tag, action, .. } = one else {
            continue;
        };
        sum.acknowledged += 1;
        let holds = there
            .query_row(rusqlite::params![action, tag], |r| r.get(0))
            .unwrap_or(false);
        if !holds || !numbers.insert(*action) {
            sum.lost += 1;
            sum.broken
                .push(format!("{tag} was acknowledged as {action} and is not it"));
        }
    }
    sum
}

pub fn actions(shop: &Shop) -> i64 {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Connection::open_with_flags(&shop.ledger, flags)
        .unwrap()
        .query_row("SELECT count(*) FROM action", [], |r| r.get(0))
        .unwrap()
}

fn whole(shop: &Shop, what: &str) -> Outcome {
    let mut one = Outcome::default();
    if let Err(why) = shop.verify() {
        one.broken.push(format!("{what}: {why}"));
    }
    one
}

/// Four terminals that save without a pause, all killed at a random moment, again and again on one ledger.
pub fn killed(size: Size) -> Row {
    let mut row = Row::new(
        "R-01b",
        "kill -9 of 4 open terminals that save without a pause",
    );
    let rounds = size.pick(4, 60, 500);
    let shop = Shop::new();
    let mut dice = Dice::new(77);
    let mut unacknowledged = 0;
    for round in 0..rounds {
        let before = actions(&shop);
        let mut terminals: Vec<Live> = (0..4)
            .map(|k| Live::start(&shop, &[], &format!("k{k}r{round}-{k}"), Some(100_000)))
            .collect();
        // From the first word on: the start of a process says nothing about a save.
        let opened = terminals[0].next();
        row.must(matches!(opened, Some(Told::Open)), || {
            format!("round {round}: {opened:?}")
        });
        std::thread::sleep(Duration::from_millis(5) + dice.span(Duration::from_millis(120)));
        while !terminals.is_empty() {
            let at = dice.below(terminals.len());
            let one = terminals.remove(at);
            one.signal("KILL");
            row.faults += 1;
            let told = one.end();
            for t in &told {
                if let Told::No { tag, why } = t {
                    row.broken.push(format!("{tag}: {why}"));
                }
            }
            let sum = found(&shop, &told);
            let acknowledged = sum.acknowledged;
            row.take(sum);
            unacknowledged -= i64::try_from(acknowledged).unwrap();
        }
        unacknowledged += actions(&shop) - before;
        if round % 10 == 0 || round + 1 == rounds {
            row.take(whole(&shop, &format!("round {round}")));
        }
    }
    row.must(row.acknowledged > rounds, || {
        "hardly anything was saved".to_owned()
    });
    row.must(
        (0..=i64::try_from(row.faults).unwrap()).contains(&unacknowledged),
        || format!("{unacknowledged} actions nobody told of"),
    );
    row.note(format!("{unacknowledged} saved and not acknowledged"));
    row
}

/// Sixteen open terminals, each saving a thousand actions in a night: every one there once, and all that is kept equals
/// what is rebuilt.
pub fn sixteen(size: Size) -> Row {
    let each = size.pick(10, 100, 1_000);
    let mut row = Row::new(
        "R-18c",
        "16 open terminals, 10/100/1,000 actions each, no pause",
    );
    let shop = Shop::new();
    let before = actions(&shop);
    let start = Instant::now();
    let terminals: Vec<Live> = (0..16)
        .map(|k| Live::start(&shop, &[], &format!("s{k}"), Some(each)))
        .collect();
    let told: Vec<Told> = std::thread::scope(|scope| {
        let readers: Vec<_> = terminals
            .into_iter()
            .map(|t| scope.spawn(move || t.end()))
            .collect();
        readers
            .into_iter()
            .flat_map(|r| r.join().unwrap())
            .collect()
    });
    let took = start.elapsed();
    let mut times: Vec<Duration> = Vec::new();
    for t in &told {
        match t {
            Told::Ok { took, .. } => times.push(*took),
            Told::No { tag, why } => row.broken.push(format!("{tag}: {why}")),
            Told::Shut(why) => row.broken.push(why.clone()),
            Told::Open => {}
        }
    }
    row.take(found(&shop, &told));
    row.must(times.len() == 16 * each, || {
        format!("{} of {} were saved", times.len(), 16 * each)
    });
    row.must(
        actions(&shop) - before == i64::try_from(16 * each).unwrap(),
        || "another number of actions than was saved".to_owned(),
    );
    row.take(whole(&shop, "after the storm"));
    row.note(format!(
        "{:.0}/s, {}",
        f64::from(u32::try_from(times.len()).unwrap()) / took.as_secs_f64(),
        shares(&mut times)
    ));
    row
}

const DISK_CALLS: &[&str] = &[
    "openat",
    "read",
    "write",
    "pread64",
    "pwrite64",
    "fsync",
    "fdatasync",
    "ftruncate",
    "unlink",
];

const FILES: &[&str] = &["", "-wal", "-shm", ".witness", ".turn"];

// strace around a terminal, with a fault at one call on the ledger's own files.
fn around(shop: &Shop, log: &Path, call: &str, inject: Option<&str>) -> Vec<String> {
    let mut words: Vec<String> = ["strace", "-f", "-qq", "-o", log.to_str().unwrap(), "-e"]
        .map(str::to_owned)
        .to_vec();
    words.push(format!("trace={call}"));
    for file in FILES {
        words.extend(["-P".to_owned(), shop.beside(file).display().to_string()]);
    }
    if let Some(inject) = inject {
        words.extend(["-e".to_owned(), inject.to_owned()]);
    }
    words
}

const SAVES: usize = 5;

/// A disk fault under an open terminal that goes on saving: it reads back before it saves again.
pub fn disk_fault(size: Size) -> Row {
    let mut row = Row::new(
        "R-03b",
        "a disk fault under an open terminal that goes on saving",
    );
    if !tool("strace") {
        return row.skip("strace is missing");
    }
    let base = Shop::new();
    assert_eq!(base.run("note B-0104 --why begun").code, Some(0));
    // How often each call is made when nothing goes wrong.
    let shop = base.copy();
    let log = tempfile::NamedTempFile::new().unwrap();
    let mut live = Live::start(
        &shop,
        &around(&shop, log.path(), &DISK_CALLS.join(","), None),
        "f0",
        None,
    )
    .opened();
    for i in 0..SAVES {
        let told = live.ask(&format!("clean{i}"));
        assert!(matches!(told, Some(Told::Ok { .. })), "{told:?}");
    }
    drop(live.end());
    let lines = std::fs::read_to_string(log.path()).unwrap();
    let mut jobs: Vec<(&str, usize, &str, &str)> = Vec::new();
    for call in DISK_CALLS {
        let count = lines
            .lines()
            .filter(|l| l.contains(&format!(" {call}(")))
            .count();
        for n in 1..=count {
            jobs.push((call, n, "EIO", ""));
            jobs.push((call, n, "EIO", "+"));
            if matches!(
                *call,
                "write" | "pwrite64" | "fsync" | "fdatasync" | "ftruncate"
            ) {
                jobs.push((call, n, "ENOSPC", ""));
            }
        }
    }
    let all = jobs.len();
    let jobs = thin(jobs, size.pick(20, 150, 10_000));
    let results = spread(&jobs, |(call, n, error, on)| {
        struck(&base, call, *n, error, on)
    });
    let mut went_on = 0;
    for (one, on) in results {
        went_on += usize::from(on);
        row.take(one);
    }
    row.note(format!(
        "{} of {all} points; {went_on} went on in the same process after a refusal",
        jobs.len()
    ));
    row
}

fn struck(base: &Shop, call: &str, n: usize, error: &str, on: &str) -> (Outcome, bool) {
    let what = format!("{call} {n}{on} {error}");
    let shop = base.copy();
    let before = shop.record().unwrap();
    let log = tempfile::NamedTempFile::new().unwrap();
    let inject = format!("inject={call}:error={error}:when={n}{on}");
    let mut live = Live::start(
        &shop,
        &around(&shop, log.path(), call, Some(&inject)),
        "f0",
        None,
    );
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let mut told = Vec::new();
    let mut refused = 0;
    let mut went_on = false;
    match live.next() {
        Some(Told::Open) => {
            for i in 0..SAVES {
                let Some(answer) = live.ask(&format!("live{i}")) else {
                    one.broken.push(format!("{what}: the terminal died of it"));
                    break;
                };
                match &answer {
                    Told::No { why, .. } => {
                        refused += 1;
                        one.must(why.len() > 20, || format!("{what}: only said \"{why}\""));
                    }
                    _ => went_on |= refused > 0,
                }
                told.push(answer);
            }
        }
        Some(Told::Shut(why)) => {
            one.must(why.len() > 20, || format!("{what}: only said \"{why}\""));
        }
        other => one.broken.push(format!("{what}: {other:?}")),
    }
    told.extend(live.end());
    // One fault refuses one save, and at most the reading back after it; then it goes on.
    if on.is_empty() {
        one.must(refused <= 2, || format!("{what}: {told:?}"));
    }
    let sum = found(&shop, &told);
    one.acknowledged += sum.acknowledged;
    one.lost += sum.lost;
    one.broken
        .extend(sum.broken.iter().map(|b| format!("{what}: {b}")));
    let now = shop.record().unwrap();
    one.must(now.follows(&before), || {
        format!("{what}: the past was changed")
    });
    for t in &told {
        if let Told::No { tag, why } = t {
            let there = now.with(&format!("\"{tag}\""));
            one.must(there.len() <= 1, || format!("{what}: {tag} twice"));
            one.must(
                there.is_empty() || !why.contains("nothing of this action was saved"),
                || format!("{what}: {tag} is saved and was said not to be: {why}"),
            );
        }
    }
    one.broken.extend(whole(&shop, &what).broken);
    (one, went_on)
}

type Way = fn(&Shop);

/// The files move, vanish or change under an open terminal.
pub fn files_change(size: Size) -> Row {
    let mut row = Row::new(
        "R-16",
        "-shm and ledger deleted, overwritten, moved under terminals",
    );
    let ways: [(&str, Way); 7] = [
        ("-shm deleted", |s| {
            std::fs::remove_file(s.beside("-shm")).unwrap();
        }),
        ("-shm overwritten", |s| {
            let long = std::fs::metadata(s.beside("-shm")).unwrap().len();
            let mut file = std::fs::File::options()
                .write(true)
                .open(s.beside("-shm"))
                .unwrap();
            file.write_all(&vec![0x5a; long as usize]).unwrap();
        }),
        ("turn file deleted", |s| {
            std::fs::remove_file(s.beside(".turn")).unwrap();
        }),
        ("witness deleted", |s| {
            std::fs::remove_file(s.beside(".witness")).unwrap();
        }),
        ("ledger moved away", |s| {
            std::fs::rename(&s.ledger, s.beside(".away")).unwrap();
        }),
        ("ledger replaced by an older one", |s| {
            std::fs::rename(s.beside(".older"), &s.ledger).unwrap();
        }),
        ("-wal deleted", |s| {
            std::fs::remove_file(s.beside("-wal")).unwrap();
        }),
    ];
    let rounds = size.pick(1, 3, 20);
    let jobs: Vec<_> = (0..rounds)
        .flat_map(|r| ways.map(|(name, way)| (r, name, way)))
        .collect();
    for (one, refused) in spread(&jobs, |(round, name, way)| changed(*round, name, *way)) {
        row.take(one);
        row.notes.extend(refused.filter(|n| !row.notes.contains(n)));
    }
    row
}

fn changed(round: usize, name: &str, way: Way) -> (Outcome, Option<String>) {
    let shop = Shop::new();
    std::fs::copy(&shop.ledger, shop.beside(".older")).unwrap();
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let mut terminals: Vec<Live> = (0..2)
        .map(|k| Live::start(&shop, &[], &format!("c{k}"), None).opened())
        .collect();
    let mut told = Vec::new();
    let mut refused = 0;
    let mut turn = |terminals: &mut Vec<Live>, i: usize, one: &mut Outcome| {
        for (k, t) in terminals.iter_mut().enumerate() {
            match t.ask(&format!("c{k}x{i}")) {
                Some(answer) => {
                    if let Told::No { why, .. } = &answer {
                        refused += 1;
                        one.must(why.len() > 20, || format!("{name}: only said \"{why}\""));
                    }
                    told.push(answer);
                }
                None => one.broken.push(format!("{name}: a terminal died of it")),
            }
        }
    };
    for i in 0..=round % 4 {
        turn(&mut terminals, i, &mut one);
    }
    let lost_ledger = name.starts_with("ledger");
    if lost_ledger {
        // What was saved lies in the file itself, so that it can be found wherever that goes.
        Connection::open(&shop.ledger)
            .unwrap()
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
            .unwrap();
    }
    let at = actions(&shop);
    let kept = std::fs::File::open(&shop.ledger).unwrap();
    way(&shop);
    for i in 10..13 {
        turn(&mut terminals, i, &mut one);
    }
    // A third terminal comes in, as after a coffee.
    let third = shop.run("note B-0103 --why third");
    if let Some(bad) = third.manners() {
        one.broken.push(format!("{name}: {bad}"));
    }
    for i in 20..22 {
        turn(&mut terminals, i, &mut one);
    }
    for t in terminals {
        told.extend(t.end());
    }
    drop(kept);
    if lost_ledger {
        let after = told.iter().filter(|t| matches!(t, Told::No { .. })).count();
        one.must(after >= 10, || {
            format!("{name}: saved into a file that is not the ledger: {told:?}")
        });
        one.must(third.code == Some(3), || format!("{name}: {third:?}"));
        // Put back, all is there.
        if shop.beside(".away").exists() {
            std::fs::rename(shop.beside(".away"), &shop.ledger).unwrap();
            one.must(actions(&shop) == at, || format!("{name}: not as it was"));
            let sum = found(&shop, &told);
            one.acknowledged += sum.acknowledged;
            one.lost += sum.lost;
            one.broken
                .extend(sum.broken.iter().map(|b| format!("{name}: {b}")));
            one.broken.extend(whole(&shop, name).broken);
        } else {
            one.must(third.err.contains("are no longer there"), || {
                format!("{name}: {third:?}")
            });
        }
        return (one, None);
    }
    if name == "-wal deleted" {
        // What lay only in it is gone, and somebody must say so: never in silence.
        let missing = found(&shop, &told);
        let verified = shop.run("verify");
        one.must(missing.lost == 0 || verified.code != Some(0), || {
            format!("{name}: {} lost in silence: {verified:?}", missing.lost)
        });
        return (
            one,
            (missing.lost > 0).then(|| format!("{name}: some gone, named by verify")),
        );
    }
    let sum = found(&shop, &told);
    one.acknowledged += sum.acknowledged;
    one.lost += sum.lost;
    one.broken
        .extend(sum.broken.iter().map(|b| format!("{name}: {b}")));
    one.broken.extend(whole(&shop, name).broken);
    (
        one,
        (refused > 0).then(|| format!("{name}: {refused} saves refused")),
    )
}

/// Sixteen terminals with people at them, who think between two actions.
pub fn thinking(size: Size) -> Row {
    let each = size.pick(4, 40, 200);
    let mut row = Row::new("R-19", "16 open terminals with 0.25 s of thinking time");
    let shop = Shop::new();
    let before = actions(&shop);
    let told: Vec<Told> = std::thread::scope(|scope| {
        let shop = &shop;
        let people: Vec<_> = (0..16)
            .map(|k| {
                scope.spawn(move || {
                    let mut dice = Dice::new(190 + k);
                    let mut live = Live::start(shop, &[], &format!("t{k}"), None).opened();
                    let mut told = Vec::new();
                    for i in 0..each {
                        std::thread::sleep(
                            Duration::from_millis(200) + dice.span(Duration::from_millis(100)),
                        );
                        told.extend(live.ask(&format!("t{k}x{i:05}")));
                    }
                    told.extend(live.end());
                    told
                })
            })
            .collect();
        people.into_iter().flat_map(|p| p.join().unwrap()).collect()
    });
    let mut times = Vec::new();
    for t in &told {
        match t {
            Told::Ok { took, .. } => times.push(*took),
            other => row.broken.push(format!("{other:?}")),
        }
    }
    row.must(times.len() == 16 * each, || {
        format!("{} of {} were saved", times.len(), 16 * each)
    });
    row.must(
        actions(&shop) - before == i64::try_from(16 * each).unwrap(),
        || "another number of actions than was saved".to_owned(),
    );
    row.take(found(&shop, &told));
    row.take(whole(&shop, "after the shift"));
    row.note(shares(&mut times));
    row
}

// Median, 99th of a hundred, and longest.
pub fn shares(times: &mut [Duration]) -> String {
    times.sort_unstable();
    let at = |share: usize| {
        times
            .get((times.len().max(1) - 1) * share / 1000)
            .map_or(0.0, |t| t.as_secs_f64() * 1e3)
    };
    format!(
        "median {:.1} ms, p99 {:.0} ms, longest {:.0} ms",
        at(500),
        at(990),
        at(1000)
    )
}

/// Four terminals save, two others fold the write-ahead file without a pause and without a turn, and short commands come
/// and go, each of which may be the last to leave.
pub fn folding(size: Size) -> Row {
    let mut row = Row::new(
        "R-20",
        "4 writers, 2 that only fold, commands that come and go",
    );
    let (rounds, seconds) = (size.pick(1, 1, 10), size.pick(1, 8, 60) as u64);
    let (mut folds, mut busy, mut short) = (0, 0, 0);
    let mut times = Vec::new();
    for round in 0..rounds {
        let shop = Shop::new();
        let before = actions(&shop);
        let folders: Vec<Child> = (0..2)
            .map(|_| {
                Command::new(std::env::current_exe().unwrap())
                    .args(["--exact", "live::folder", "--ignored", "--nocapture"])
                    .env(LEDGER, &shop.ledger)
                    .env(SECONDS, seconds.to_string())
                    .stdin(Stdio::null())
                    .stdout(Stdio::piped())
                    .stderr(Stdio::piped())
                    .spawn()
                    .unwrap()
            })
            .collect();
        let end = Instant::now() + Duration::from_secs(seconds);
        let (told, answers) = std::thread::scope(|scope| {
            let shop = &shop;
            let writers: Vec<_> = (0..4)
                .map(|k| {
                    scope.spawn(move || {
                        let mut told = Vec::new();
                        let mut i = 0;
                        // Each leaves now and then, and comes again.
                        while Instant::now() < end {
                            let mut live = Live::start(shop, &[], &format!("g{k}"), None).opened();
                            for _ in 0..100 {
                                if Instant::now() >= end {
                                    break;
                                }
                                told.extend(live.ask(&format!("g{k}x{i:06}")));
                                i += 1;
                            }
                            told.extend(live.end());
                        }
                        told
                    })
                })
                .collect();
            let guest = scope.spawn(move || {
                let mut answers = Vec::new();
                while Instant::now() < end {
                    let tag = format!("guest{:06}", answers.len());
                    let line = match answers.len() % 3 {
                        0 => format!("note B-0404 --why {tag}"),
                        1 => "floor".to_owned(),
                        _ => "ready".to_owned(),
                    };
                    answers.push((tag, line.clone(), shop.run(&line)));
                }
                answers
            });
            let told: Vec<Told> = writers
                .into_iter()
                .flat_map(|w| w.join().unwrap())
                .collect();
            (told, guest.join().unwrap())
        });
        for child in folders {
            let out = child.wait_with_output().unwrap();
            let text = String::from_utf8_lossy(&out.stdout).into_owned();
            row.must(out.status.success(), || {
                format!(
                    "round {round}: {text}{}",
                    String::from_utf8_lossy(&out.stderr)
                )
            });
            let counts: Vec<usize> = text
                .lines()
                .filter_map(|l| l.split_once("live folded "))
                .flat_map(|(_, l)| l.split(' ').filter_map(|n| n.parse().ok()))
                .collect();
            folds += counts.first().copied().unwrap_or(0);
            busy += counts.get(1).copied().unwrap_or(0);
        }
        let mut told = told;
        for (tag, line, answer) in answers {
            short += 1;
            row.must(answer.code == Some(0), || format!("{line}: {answer:?}"));
            told.extend(
                answer
                    .acknowledged()
                    .filter(|_| line.starts_with("note"))
                    .map(|action| Told::Ok {
                        tag,
                        action,
                        took: Duration::ZERO,
                    }),
            );
        }
        let saved = told.iter().filter(|t| matches!(t, Told::Ok { .. })).count();
        for t in &told {
            match t {
                Told::Ok { took, .. } if !took.is_zero() => times.push(*took),
                Told::Ok { .. } => {}
                other => row.broken.push(format!("round {round}: {other:?}")),
            }
        }
        row.must(
            actions(&shop) - before == i64::try_from(saved).unwrap(),
            || format!("round {round}: another number of actions than was saved"),
        );
        row.take(found(&shop, &told));
        row.take(whole(&shop, &format!("round {round}")));
        let said: String = Connection::open(&shop.ledger)
            .unwrap()
            .query_row("PRAGMA integrity_check(1)", [], |r| r.get(0))
            .unwrap();
        row.must(said == "ok", || format!("round {round}: {said}"));
    }
    row.must(folds > 0 && short > 0 && !times.is_empty(), || {
        format!("{folds} folds, {short} commands: the row shows too little")
    });
    row.note(format!(
        "{} s, folded {folds} times and {busy} times in part, {short} short commands, {}",
        rounds as u64 * seconds,
        shares(&mut times)
    ));
    row
}

/// The ledger is moved, put back, replaced or overwritten under open terminals.
pub fn replaced(size: Size) -> Row {
    let mut row = Row::new(
        "R-17",
        "ledger renamed, replaced, restored under open terminals",
    );
    let ways = [
        "moved away and put back",
        "its folder renamed and named back",
        "another shop's in its place",
        "a recovery while terminals have it open",
        "an older copy written over it",
    ];
    let rounds = size.pick(1, 4, 40);
    let jobs: Vec<_> = (0..rounds).flat_map(|r| ways.map(|way| (r, way))).collect();
    let mut named = 0;
    for (one, said) in spread(&jobs, |(round, way)| replace(*round, way)) {
        named += usize::from(said);
        row.take(one);
    }
    row.note(format!(
        "written over {rounds} times, {named} times with something gone, each time named"
    ));
    row
}

fn replace(round: usize, way: &str) -> (Outcome, bool) {
    let own = tempfile::tempdir().unwrap();
    let folder = own.path().join("shop");
    std::fs::create_dir(&folder).unwrap();
    let shop = Shop::inside(&folder);
    let aside = own.path().join("aside");
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let made = shop.run(&format!(
        "backup '{}'",
        own.path().join("older.backup").display()
    ));
    assert_eq!(made.code, Some(0), "{made:?}");
    let older = std::fs::read(own.path().join("older.backup")).unwrap();
    let mut terminals: Vec<Live> = (0..2)
        .map(|k| Live::start(&shop, &[], &format!("r{k}"), None).opened())
        .collect();
    let mut told: Vec<Told> = Vec::new();
    let turn = |terminals: &mut Vec<Live>, i: usize, told: &mut Vec<Told>, one: &mut Outcome| {
        let from = told.len();
        for (k, t) in terminals.iter_mut().enumerate() {
            match t.ask(&format!("r{k}x{i}")) {
                Some(answer) => {
                    if let Told::No { why, .. } = &answer {
                        one.must(why.len() > 20, || format!("{way}: only said \"{why}\""));
                    }
                    told.push(answer);
                }
                None => one.broken.push(format!("{way}: a terminal died of it")),
            }
        }
        told[from..]
            .iter()
            .filter(|t| matches!(t, Told::Ok { .. }))
            .count()
    };
    for i in 0..=round % 5 {
        turn(&mut terminals, i, &mut told, &mut one);
    }
    let no_tail = round.is_multiple_of(2);
    if no_tail {
        Connection::open(&shop.ledger)
            .unwrap()
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
            .unwrap();
    }
    let mut silent_allowed = false;
    match way {
        "moved away and put back" | "its folder renamed and named back" => {
            let (here, there) = if way.starts_with("its") {
                (folder.clone(), aside)
            } else {
                (shop.ledger.clone(), shop.beside(".away"))
            };
            std::fs::rename(&here, &there).unwrap();
            let saved = turn(&mut terminals, 10, &mut told, &mut one);
            one.must(saved == 0, || {
                format!("{way}: {saved} saved where no ledger lies: {told:?}")
            });
            one.must(!here.exists(), || {
                format!("{way}: something was made there")
            });
            std::fs::rename(&there, &here).unwrap();
            turn(&mut terminals, 20, &mut told, &mut one);
            let saved = turn(&mut terminals, 21, &mut told, &mut one);
            one.must(saved == 2, || {
                format!("{way}: only {saved} of 2 go on once it lies there again: {told:?}")
            });
        }
        "another shop's in its place" => {
            let other = Shop::owning(tempfile::tempdir().unwrap());
            let opened = other.run("open --name Other --zone America/New_York --demo");
            assert_eq!(opened.code, Some(0), "{opened:?}");
            let there = other.record().unwrap();
            std::fs::rename(&shop.ledger, &aside).unwrap();
            std::fs::copy(&other.ledger, shop.beside(".new")).unwrap();
            std::fs::rename(shop.beside(".new"), &shop.ledger).unwrap();
            for i in 10..12 {
                let saved = turn(&mut terminals, i, &mut told, &mut one);
                one.must(saved == 0, || {
                    format!("{way}: {saved} saved into another shop's: {told:?}")
                });
            }
            let deeds = ["note B-0103 --why third", "room declare Z9 --every 10min"];
            for (line, code) in deeds.map(|d| (d, 3)).into_iter().chain([("verify", 1)]) {
                let third = shop.run(line);
                // Where the write-ahead file lies there still, no opening takes it for the other's.
                let code = if no_tail { code } else { code.max(1) };
                one.must(third.code == Some(code), || {
                    format!("{way}: {line}: {third:?}")
                });
                one.broken
                    .extend(third.manners().map(|bad| format!("{way}: {bad}")));
            }
            for t in terminals.drain(..) {
                told.extend(t.end());
            }
            let copy = Shop::owning(tempfile::tempdir().unwrap());
            std::fs::copy(&shop.ledger, &copy.ledger).unwrap();
            one.must(copy.record().as_ref() == Ok(&there), || {
                format!("{way}: the other shop's record was changed")
            });
            std::fs::rename(&aside, &shop.ledger).unwrap();
        }
        "a recovery while terminals have it open" => {
            let answer = shop.run(&format!(
                "recover '{}'",
                own.path().join("older.backup").display()
            ));
            one.must(
                answer.code == Some(2) && answer.err.contains("another terminal has"),
                || format!("{way}: {answer:?}"),
            );
            let saved = turn(&mut terminals, 10, &mut told, &mut one);
            one.must(saved == 2, || {
                format!("{way}: only {saved} of 2 go on: {told:?}")
            });
        }
        _ => {
            // Into the same file: no name and no number of a file tells of it.
            let mut file = std::fs::File::options()
                .write(true)
                .open(&shop.ledger)
                .unwrap();
            file.set_len(older.len() as u64).unwrap();
            file.write_all(&older).unwrap();
            drop(file);
            for i in 10..12 {
                turn(&mut terminals, i, &mut told, &mut one);
            }
            silent_allowed = true;
        }
    }
    for t in terminals {
        told.extend(t.end());
    }
    if silent_allowed {
        // What was written over is gone, and what was saved upon it may be: somebody must say so.
        let saved = told
            .iter()
            .filter_map(|t| match t {
                Told::Ok { tag, action, .. } => Some((tag, *action)),
                _ => None,
            })
            .collect::<Vec<_>>();
        let missing = match shop.record() {
            Ok(now) => saved
                .iter()
                .filter(|(tag, action)| !now.with(&format!("\"{tag}\"")).contains(action))
                .count(),
            Err(_) => saved.len(),
        };
        let verified = shop.run("verify");
        one.broken
            .extend(verified.manners().map(|bad| format!("{way}: {bad}")));
        one.must(missing == 0 || verified.code != Some(0), || {
            format!("{way}: {missing} lost in silence: {verified:?}")
        });
        return (one, missing > 0);
    }
    let sum = found(&shop, &told);
    one.acknowledged += sum.acknowledged;
    one.lost += sum.lost;
    one.broken
        .extend(sum.broken.iter().map(|b| format!("{way}: {b}")));
    one.broken.extend(whole(&shop, way).broken);
    (one, false)
}

/// Terminals that are stopped, hung up on or told to end while they save.
pub fn signals(size: Size) -> Row {
    let mut row = Row::new(
        "U-06",
        "SIGSTOP, SIGTERM, SIGHUP, a closed pipe, in the middle of saves",
    );
    let mut dice = Dice::new(6);
    for round in 0..size.pick(1, 5, 50) {
        for how in ["STOP", "TERM", "HUP", "pipe"] {
            let shop = Shop::new();
            let mut live = Live::start(&shop, &[], "u5", Some(100_000)).opened();
            let mut told = Vec::new();
            for _ in 0..=dice.below(8) {
                told.extend(live.next());
            }
            row.faults += 1;
            if how == "pipe" {
                // What was told and not read yet counts, too, but nobody can know it any more.
                let Live {
                    mut child,
                    input,
                    output,
                } = live;
                drop((input, output));
                child.wait().unwrap();
            } else {
                live.signal(how);
                if how == "STOP" {
                    // It may have the turn. Whoever comes is served when it goes on, or is told within 15 s.
                    let start = Instant::now();
                    let answer = std::thread::scope(|scope| {
                        let asked = scope.spawn(|| shop.run("note B-0103 --why beside"));
                        std::thread::sleep(Duration::from_millis(150));
                        live.signal("CONT");
                        asked.join().unwrap()
                    });
                    row.must(answer.code == Some(0), || {
                        format!("{how} {round}: {answer:?}")
                    });
                    row.must(start.elapsed() < Duration::from_secs(15), || {
                        format!("{how} {round}: {:?}", start.elapsed())
                    });
                    live.signal("KILL");
                }
                told.extend(live.end());
            }
            row.take(found(&shop, &told));
            row.take(whole(&shop, &format!("{how} {round}")));
            let next = shop.run("note B-0103 --why next");
            row.must(next.code == Some(0), || {
                format!("after {how} {round}: {next:?}")
            });
        }
    }
    // Somebody who never gives the turn back.
    if size != Size::Small {
        let shop = Shop::new();
        assert_eq!(shop.run("note B-0103 --why first").code, Some(0));
        let turn = std::fs::File::options()
            .write(true)
            .open(shop.beside(".turn"))
            .unwrap();
        turn.lock().unwrap();
        let start = Instant::now();
        let before = actions(&shop);
        let answer = shop.run("note B-0103 --why waits");
        row.faults += 1;
        row.must(
            answer.code == Some(3) && answer.err.contains("another terminal has been writing"),
            || format!("{answer:?}"),
        );
        row.must(start.elapsed() < Duration::from_secs(15), || {
            format!("it took {:?}", start.elapsed())
        });
        row.must(actions(&shop) == before, || {
            "it was saved after all".to_owned()
        });
        row.must(shop.run("floor").code == Some(0), || {
            "a question waits for the turn".to_owned()
        });
    }
    row
}
