//! A disk that fills up, places that cannot be written, and a process that starts with less than it needs.

use crate::harness::{
    Answer, Mounted, NOW, Outcome, Record, Row, Shop, Size, root, settle, spread, tool,
};
use rusqlite::Connection;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

// A command that must be refused with exit code 3 and a sentence, and must change nothing of the record.
fn refused(shop: &Shop, around: &[&str], line: &str, words: &[&str]) -> Outcome {
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let answer = shop.run_under(around, line);
    if let Some(bad) = answer.manners() {
        one.broken.push(format!("{line}: {bad}"));
    }
    one.must(answer.code == Some(3), || format!("{line}: {answer:?}"));
    for word in words {
        one.must(answer.err.contains(word), || {
            format!("{line}: \"{word}\" is not in {answer:?}")
        });
    }
    one
}

/// A disk that fills up while notes are written, is freed, and goes on.
pub fn full_disk(size: Size) -> Row {
    let mut row = Row::new("R-11", "a disk that is full (tmpfs of 1 MB), then freed");
    if !root() {
        return row.skip("mounting needs root");
    }
    for round in 0..size.pick(1, 5, 25) {
        let own = tempfile::tempdir().unwrap();
        let place = own.path().join("disk");
        let _mounted = match Mounted::new(&["-t", "tmpfs", "-o", "size=1m", "tmpfs"], &place) {
            Ok(mounted) => mounted,
            Err(why) => return row.skip(&format!("no tmpfs can be mounted: {why}")),
        };
        let shop = Shop::inside(&place);
        let before = shop.record().unwrap();
        // What is left is filled but for a few pages, another number of them in each round.
        let filler = place.join("filler");
        let mut leave = 4096 * (90 + 7 * round);
        fill(&filler, leave);
        let mut saved: Vec<(i64, String)> = Vec::new();
        let mut refusals = 0;
        for i in 0..400 {
            let tag = format!("f{i:04}");
            let answer = shop.run(&format!("note B-0101 --why {tag}"));
            if let Some(bad) = answer.manners() {
                row.broken.push(bad);
            }
            match answer.code {
                Some(0) => saved.push((answer.acknowledged().unwrap(), tag)),
                code => {
                    row.faults += 1;
                    refusals += 1;
                    row.must(code == Some(3) && says_full(&answer), || {
                        format!("when the disk was full: {answer:?}")
                    });
                    if refusals >= 3 {
                        break;
                    }
                }
            }
            // A note grows the ledger by little: the disk is brought a page closer to its end with each one.
            leave = leave.saturating_sub(4096);
            fill(&place.join(format!("more-{i}")), leave);
        }
        row.must(refusals == 3, || "the disk never became full".to_owned());
        // Questions are answered from what is there, or refused with a sentence.
        let asked = shop.run("floor");
        if let Some(bad) = asked.manners() {
            row.broken.push(bad);
        }
        std::fs::remove_file(&filler).unwrap();
        let after = shop.run("note B-0101 --why freed");
        row.must(after.code == Some(0), || {
            format!("after freeing: {after:?}")
        });
        saved.extend(after.acknowledged().map(|n| (n, "freed".to_owned())));
        let sum = counted(&shop, &before, &saved);
        row.take(sum);
    }
    row
}

fn says_full(answer: &Answer) -> bool {
    answer.err.contains("disk is full") || answer.err.contains("No space left")
}

fn fill(file: &Path, leave: usize) {
    let left = room(file.parent().unwrap());
    if left > leave {
        std::fs::write(file, vec![0_u8; left - leave]).unwrap();
    }
}

// Free bytes of a file system.
fn room(folder: &Path) -> usize {
    let out = Command::new("df")
        .args(["--output=avail", "-B1"])
        .arg(folder)
        .output()
        .unwrap();
    String::from_utf8(out.stdout)
        .unwrap()
        .lines()
        .last()
        .unwrap()
        .trim()
        .parse()
        .unwrap()
}

// What was acknowledged is there, each once, and nothing besides.
fn counted(shop: &Shop, before: &Record, saved: &[(i64, String)]) -> Outcome {
    let mut sum = Outcome::default();
    if let Err(why) = shop.verify() {
        sum.broken.push(why);
    }
    let now = shop.record().unwrap();
    sum.must(now.follows(before), || "the past was changed".to_owned());
    for (number, tag) in saved {
        sum.acknowledged += 1;
        let found = now.with(&format!("\"{tag}\""));
        if found != [*number] {
            sum.lost += 1;
            sum.broken.push(format!(
                "{tag} was acknowledged as {number} and found as {found:?}"
            ));
        }
    }
    sum.must(
        now.actions.len() == before.actions.len() + saved.len(),
        || format!("{} actions after {} saves", now.actions.len(), saved.len()),
    );
    sum
}

/// Places that cannot be written, or hold something else.
pub fn not_writable(_: Size) -> Row {
    let mut row = Row::new(
        "R-12",
        "read-only places, no permission, something else there",
    );
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let note = "note B-0101 --why marked";

    // Nothing there, a folder in its place, a folder that is missing.
    for (path, code, word) in [
        ("none.ledger", 3, "there is no ledger"),
        ("missing/shop.ledger", 3, "there is no ledger"),
        (".", 3, "not a file"),
    ] {
        let mut words = shop.words(note, NOW, "desk");
        let place = words.iter().position(|w| w == "--ledger").unwrap() + 1;
        shop.folder
            .join(path)
            .to_str()
            .unwrap()
            .clone_into(&mut words[place]);
        let answer = Answer::of(&shop.under(&[], &words).output().unwrap());
        row.faults += 1;
        row.must(
            answer.code == Some(code) && answer.err.contains(word) && answer.manners().is_none(),
            || format!("{path}: {answer:?}"),
        );
    }
    row.must(!shop.folder.join("none.ledger").exists(), || {
        "a ledger was made that nobody asked for".to_owned()
    });

    if root() {
        // The whole file system read-only, then writable again.
        let own = tempfile::tempdir().unwrap();
        let place = own.path().join("disk");
        match Mounted::new(&["-t", "tmpfs", "-o", "size=8m", "tmpfs"], &place) {
            Err(why) => row.note(format!("read-only disk not run: {why}")),
            Ok(_mounted) => {
                let shop = Shop::inside(&place);
                let before = shop.record().unwrap();
                let remount = |how: &str| {
                    crate::harness::must_run(&[
                        "mount",
                        "-o",
                        &format!("remount,{how}"),
                        place.to_str().unwrap(),
                    ])
                    .unwrap();
                };
                remount("ro");
                row.take(refused(&shop, &[], note, &["read-only"]));
                row.take(refused(&shop, &[], "coat --rack W1", &[]));
                let asked = shop.run("floor");
                row.must(asked.manners().is_none(), || format!("{asked:?}"));
                if asked.code != Some(0) {
                    row.open = Some("on a read-only disk questions are refused, too".to_owned());
                }
                remount("rw");
                row.take(settle(
                    &shop,
                    &before,
                    "marked",
                    &Answer::none(),
                    "read-only disk",
                ));
            }
        }
        if tool("setpriv") {
            // Another user, without the right to the folder, to the file, and with the right to look only.
            let nobody = [
                "setpriv",
                "--reuid=65534",
                "--regid=65534",
                "--clear-groups",
            ];
            for (folder, file, what) in [
                (0o700, 0o600, "folder shut"),
                (0o755, 0o600, "file shut"),
                (0o755, 0o644, "only to be read"),
                (0o755, 0o664, "file of another"),
                (0o555, 0o664, "folder read-only"),
            ] {
                let shop = shop.copy();
                set_mode(&shop.folder, folder);
                set_mode(&shop.ledger, file);
                let one = refused(&shop, &nobody, note, &[]);
                for broken in one.broken {
                    row.broken.push(format!("{what}: {broken}"));
                }
                row.faults += 1;
                set_mode(&shop.folder, 0o700);
                set_mode(&shop.ledger, 0o600);
                row.take(settle(&shop, &before, "marked", &Answer::none(), what));
            }
        } else {
            row.note("no permission not run: setpriv is missing".to_owned());
        }
    } else {
        row.note("read-only disk and other users not run: root is needed".to_owned());
    }
    row
}

fn set_mode(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
}

/// A reader that holds a state of the ledger while writers go on, and a writer that holds the ledger for too long.
pub fn held(size: Size) -> Row {
    let mut row = Row::new("R-18b", "a reader that holds on while 4 writers go on");
    let each = size.pick(6, 60, 1_000);
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let reader = Connection::open(&shop.ledger).unwrap();
    reader.execute_batch("BEGIN").unwrap();
    let count = |c: &Connection| -> i64 {
        c.query_row("SELECT count(*) FROM action", [], |r| r.get(0))
            .unwrap()
    };
    let then = count(&reader);
    let work: Vec<usize> = (0..4).collect();
    let all = std::thread::scope(|scope| {
        let handles: Vec<_> = work
            .iter()
            .map(|writer| {
                let shop = &shop;
                scope.spawn(move || {
                    (0..each)
                        .map(|i| {
                            let tag = format!("h{writer}x{i:04}");
                            let start = Instant::now();
                            let answer = shop.run(&format!("note B-0101 --why {tag}"));
                            (tag, answer, start.elapsed())
                        })
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        handles
            .into_iter()
            .flat_map(|h| h.join().unwrap())
            .collect::<Vec<_>>()
    });
    row.faults += 1;
    row.must(count(&reader) == then, || {
        "the reader's state changed".to_owned()
    });
    let mut saved = Vec::new();
    let mut slowest = Duration::ZERO;
    for (tag, answer, took) in all {
        row.must(answer.code == Some(0), || format!("{tag}: {answer:?}"));
        slowest = slowest.max(took);
        saved.extend(answer.acknowledged().map(|n| (n, tag)));
    }
    let wal = std::fs::metadata(shop.beside("-wal")).unwrap().len();
    reader.execute_batch("COMMIT").unwrap();
    drop(reader);
    row.note(format!(
        "slowest {} ms, write-ahead file {} kB meanwhile",
        slowest.as_millis(),
        wal / 1000
    ));
    row.take(counted(&shop, &before, &saved));
    let wal = std::fs::metadata(shop.beside("-wal")).map_or(0, |m| m.len());
    row.must(wal == 0, || {
        "the write-ahead file was not folded in".to_owned()
    });

    if size != Size::Small {
        let holder = Connection::open(&shop.ledger).unwrap();
        holder.execute_batch("BEGIN IMMEDIATE").unwrap();
        let start = Instant::now();
        row.take(refused(
            &shop,
            &[],
            "note B-0101 --why marked",
            &["another terminal"],
        ));
        row.must(start.elapsed() < Duration::from_secs(10), || {
            format!(
                "a save waits {:?} for a ledger that another program holds",
                start.elapsed()
            )
        });
        // First another terminal has the turn for a while, then that program the ledger: both waits come one after the
        // other, and together they are no longer.
        let turn = std::fs::File::options()
            .read(true)
            .write(true)
            .open(shop.beside(".turn"))
            .unwrap();
        turn.lock().unwrap();
        let start = Instant::now();
        let one = std::thread::scope(|scope| {
            scope.spawn(|| {
                std::thread::sleep(Duration::from_secs(5));
                turn.unlock().unwrap();
            });
            refused(
                &shop,
                &[],
                "note B-0101 --why marked",
                &["another terminal"],
            )
        });
        row.take(one);
        row.must(start.elapsed() < Duration::from_secs(10), || {
            format!(
                "a save waits {:?} for the turn and then for the ledger",
                start.elapsed()
            )
        });
        holder.execute_batch("ROLLBACK").unwrap();
        drop(holder);
        row.take(counted(&shop, &before, &saved));
    }
    row
}

/// Few descriptors, and standard streams that are closed or full.
pub fn starved(_: Size) -> Row {
    let mut row = Row::new("R-22", "few descriptors; standard streams closed or full");
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let mut runs: Vec<(String, Vec<String>)> = Vec::new();
    for n in 3..=16 {
        runs.push((
            format!("{n} descriptors"),
            vec![
                "sh".into(),
                "-c".into(),
                format!("ulimit -n {n}; exec \"$@\""),
                "sh".into(),
            ],
        ));
    }
    for streams in [
        "<&-",
        ">&-",
        "2>&-",
        "<&- >&-",
        "<&- 2>&-",
        ">&- 2>&-",
        "<&- >&- 2>&-",
        ">/dev/full",
        "2>/dev/full",
        ">/dev/full 2>/dev/full",
    ] {
        runs.push((
            streams.to_owned(),
            vec![
                "sh".into(),
                "-c".into(),
                format!("exec \"$@\" {streams}"),
                "sh".into(),
            ],
        ));
    }
    let mut silent = 0;
    let done = spread(&runs, |(what, around)| {
        let shop = shop.copy();
        let around: Vec<&str> = around.iter().map(String::as_str).collect();
        let mut answer = shop.run_under(&around, "note B-0101 --why marked");
        let mut one = Outcome::default();
        let quiet = what.contains('>');
        // Where nothing can be said the exit code alone tells; where something can, a sentence must come.
        if quiet && answer.err.is_empty() {
            one.must(matches!(answer.code, Some(0 | 2 | 3)), || {
                format!("{what}: {answer:?}")
            });
            let there = shop
                .record()
                .is_ok_and(|r| !r.with("\"marked\"").is_empty());
            one.must(answer.code != Some(0) || there, || {
                format!("{what}: 0 and not saved")
            });
            answer.code = None;
        } else if answer.code == Some(127) {
            // The system could not start the program at all: its libraries need descriptors, too.
            answer.code = None;
        }
        let asked = shop.run("last");
        one.must(asked.code == Some(0), || format!("{what}: {asked:?}"));
        let sum = settle(&shop, &before, "marked", &answer, what);
        (one, sum, quiet)
    });
    for (one, sum, quiet) in done {
        silent += usize::from(quiet);
        row.take(one);
        row.take(sum);
    }
    row.note(format!("{silent} of them with a stream closed or full"));
    row
}
