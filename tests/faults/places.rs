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
        // More than some 130 pages are not left beside the ledger: then there would be nothing to fill, or to free.
        let mut leave = 4096 * (90 + 7 * round % 40);
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
                let asked: Vec<Answer> = QUESTIONS.iter().map(|q| shop.run(q)).collect();
                for (q, answer) in QUESTIONS.iter().zip(&asked) {
                    row.must(answer.code == Some(0), || format!("{q}: {answer:?}"));
                }
                let writing = shop.run(&format!("export {}", own.path().join("before").display()));
                row.must(writing.code == Some(0), || format!("{writing:?}"));
                let lying = shop.files();
                remount("ro");
                row.take(board(&shop, &[], &asked, None));
                for deed in DEEDS {
                    row.take(refused(
                        &shop,
                        &[],
                        deed,
                        &["read-only", "nothing was saved", "mount it"],
                    ));
                }
                // What is written elsewhere is written.
                for (line, lies) in [("export", "export"), ("backup", "b.backup")] {
                    let to = own.path().join(lies);
                    let answer = shop.run(&format!("{line} {}", to.display()));
                    row.must(answer.code == Some(0) && to.exists(), || {
                        format!("{line}: {answer:?}")
                    });
                }
                row.must(shop.files() == lying, || {
                    "a file was changed on a read-only disk".to_owned()
                });
                remount("rw");
                row.take(settle(
                    &shop,
                    &before,
                    "marked",
                    &Answer::none(),
                    "read-only disk",
                ));
                // The newest action lies in the write-ahead file alone, as a crash or a terminal that is open leaves it.
                let holder = Connection::open(&shop.ledger).unwrap();
                holder.execute_batch("BEGIN; SELECT * FROM action").unwrap();
                let newest = shop.run("note B-0101 --why newest");
                row.must(newest.code == Some(0), || format!("{newest:?}"));
                let lying = shop.files();
                holder.execute_batch("COMMIT").unwrap();
                drop(holder);
                let ahead = "1 action named by the witness is not in view";
                let unread = "a write-ahead file that lies beside it is not in view";
                for (gone, line, found) in [
                    // All parts: the engine reads with its locks, and sees all.
                    (&[][..], vec![], true),
                    (&["shop.ledger-shm"][..], vec![ahead, unread], false),
                    (
                        &["shop.ledger-shm", "shop.ledger.witness"],
                        vec![unread],
                        false,
                    ),
                    (&["shop.ledger-shm", "shop.ledger-wal"], vec![ahead], false),
                ] {
                    for (name, bytes) in &lying {
                        let file = shop.folder.join(name);
                        std::fs::remove_file(&file).unwrap_or(());
                        if !gone.contains(&name.as_str()) {
                            std::fs::write(file, bytes).unwrap();
                        }
                    }
                    let lying = shop.files();
                    remount("ro");
                    for question in ["entries B-0101", "floor", "verify"] {
                        let answer = shop.run(question);
                        row.faults += 1;
                        let wanted = i32::from(question == "verify" && !line.is_empty());
                        row.must(answer.code == Some(wanted), || {
                            format!("without {gone:?}, {question}: {answer:?}")
                        });
                        for word in ["read only: as of the last action"].iter().chain(&line) {
                            row.must(answer.err.contains(word), || {
                                format!(
                                    "without {gone:?}, {question}: \"{word}\" is not in {answer:?}"
                                )
                            });
                        }
                        row.must(
                            question != "floor"
                                || answer.out.contains(": \"ready\"") == line.is_empty(),
                            || format!("without {gone:?}, {question}: {answer:?}"),
                        );
                        row.must(
                            line.contains(&ahead) == answer.err.contains("named by"),
                            || format!("without {gone:?}, {question}: {answer:?}"),
                        );
                        row.must(
                            question != "entries B-0101" || answer.out.contains("newest") == found,
                            || format!("without {gone:?}, {question}: {answer:?}"),
                        );
                    }
                    row.take(refused(&shop, &[], note, &["read-only"]));
                    row.must(shop.files() == lying, || {
                        format!("without {gone:?}: a file was changed on a read-only disk")
                    });
                    remount("rw");
                }
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
            let asked: Vec<Answer> = QUESTIONS.iter().map(|q| shop.run(q)).collect();
            for (folder, file, what, read) in [
                (0o700, 0o600, "folder shut", false),
                (0o755, 0o600, "file shut", false),
                (0o777, 0o444, "file read-only", true),
                (0o755, 0o644, "only to be read", true),
                (0o755, 0o664, "file of another", true),
                (0o555, 0o664, "folder read-only", true),
            ] {
                let shop = shop.copy();
                let lying = shop.files();
                set_mode(&shop.folder, folder);
                set_mode(&shop.ledger, file);
                let one = refused(&shop, &nobody, note, &[]);
                for broken in one.broken {
                    row.broken.push(format!("{what}: {broken}"));
                }
                row.faults += 1;
                if read {
                    let one = board(&shop, &nobody, &asked, Some("Permission denied"));
                    for broken in one.broken {
                        row.broken.push(format!("{what}: {broken}"));
                    }
                }
                row.must(shop.files() == lying, || {
                    format!("{what}: a file was changed")
                });
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

// Every question on a board that is only read is answered as it was before; the save on it names why it cannot be.
fn board(shop: &Shop, around: &[&str], before: &[Answer], why: Option<&str>) -> Outcome {
    let mut one = Outcome::default();
    let facts = |answer: &Answer| {
        let mut value: serde_json::Value = serde_json::from_str(&answer.out).unwrap_or_default();
        let said = value
            .as_object_mut()
            .and_then(|map| map.remove("read_only"));
        (value, said)
    };
    for (question, before) in QUESTIONS.iter().zip(before) {
        let answer = shop.run_under(around, question);
        one.faults += 1;
        let ((now, said), (then, _)) = (facts(&answer), facts(before));
        one.must(
            answer.code == Some(0) && now == then && !now.is_null(),
            || format!("{question}: {answer:?} where it was {before:?}"),
        );
        let line = "read only: as of the last action";
        one.must(answer.err.starts_with(line), || {
            format!("{question}: {answer:?}")
        });
        one.must(
            now.is_array() || said.is_some_and(|s| s.as_str().unwrap().starts_with(line)),
            || format!("{question}: no read_only in {answer:?}"),
        );
    }
    if let Some(why) = why {
        let deed = "hold B-0101 --why marked";
        let words = [why, "nothing was saved", "permission"];
        one.broken
            .extend(refused(shop, around, deed, &words).broken);
    }
    one
}

const QUESTIONS: &[&str] = &[
    "ready",
    "floor",
    "piece show B-0101",
    "month 2026-03",
    "verify",
    "entries",
    "witness",
    "last",
    "deviations",
    "rack show W1",
    "person list",
    "coat --rack W1 --kind seal --preview",
];

const DEEDS: &[&str] = &[
    "note B-0101 --why marked",
    "coat --rack W1",
    "hold B-0101 --why marked",
    "scrap B-0101 --why marked",
    "undo",
    "lot receive L-9 CLR 20L",
    "piece add B-0999 --kind body --model Arden --recipe G9 --area 0.40m2",
    "person add DP finisher",
    "person pin MK --new",
    "month close 2026-02",
    "rebuild",
    "backup --every 24h --to .",
    "room declare Q9",
    "clock confirm",
];

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
