//! Files that were damaged, lost their end, were copied by hand, or come from somebody who means harm.
//!
//! What counts is that nothing differs in silence: either the program says so, or the record is what it was.

use crate::harness::{Dice, Outcome, Record, Row, Shop, Size, spread};
use rusqlite::Connection;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};

const PAGE: usize = 4096;

// A shop with some life in it, all of it folded into the ledger's own file.
fn lived_in() -> Shop {
    let shop = Shop::new();
    for i in 0..10 {
        let note = shop.run(&format!("note B-0101 --why 'looked at {i}'"));
        assert_eq!(note.code, Some(0), "{note:?}");
    }
    let coat = shop.run(
        "coat --rack W1 --kind clear --mix 1 --amount 20mL --include all --reason 1 --note first",
    );
    assert_eq!(coat.code, Some(0), "{coat:?}");
    let mut rows = String::from("time,temperature,humidity\n");
    for k in 0..600 {
        let t = crate::world::moment("2026-03-05 00:00") + chrono::TimeDelta::minutes(k);
        rows.push_str(&format!(
            "{},21.{} C,45 %\n",
            t.format("%Y-%m-%d %H:%M"),
            k % 10
        ));
    }
    let file = shop.folder.join("readings.csv");
    std::fs::write(&file, rows).unwrap();
    let taken = shop.run(&format!("room readings Q0 '{}'", file.display()));
    assert_eq!(taken.code, Some(0), "{taken:?}");
    std::fs::remove_file(&file).unwrap();
    shop.verify().unwrap();
    shop
}

#[derive(Debug, PartialEq, Eq, PartialOrd, Ord, Clone, Copy)]
enum Verdict {
    /// The program said that something is wrong.
    Named,
    /// The record and all that follows from it is as it was.
    Untouched,
    /// Something differs and nobody said so.
    Silent,
}

// What the program makes of a damaged copy.
fn judge(shop: &Shop, before: &Record, floor: &str, what: &str) -> (Outcome, Verdict) {
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let asked = shop.run("floor");
    let verified = shop.run("verify");
    for answer in [&asked, &verified] {
        if let Some(bad) = answer.manners() {
            one.broken.push(format!("{what}: {bad}"));
        }
        one.must(answer.code.is_some(), || format!("{what}: {answer:?}"));
    }
    let verdict = if verified.code != Some(0) {
        Verdict::Named
    } else if shop.record().as_ref() == Ok(before) && (asked.code != Some(0) || asked.out == floor)
    {
        Verdict::Untouched
    } else {
        Verdict::Silent
    };
    one.must(verdict != Verdict::Silent, || {
        format!("{what}: differs, and verify says: {}", verified.out)
    });
    (one, verdict)
}

fn summed(row: &mut Row, all: Vec<(Outcome, Verdict)>) -> BTreeMap<Verdict, usize> {
    let mut verdicts = BTreeMap::new();
    for (one, verdict) in all {
        *verdicts.entry(verdict).or_default() += 1;
        row.take(one);
    }
    let count = |v| verdicts.get(&v).copied().unwrap_or(0);
    row.note(format!(
        "{} named, {} with nothing changed, {} silent",
        count(Verdict::Named),
        count(Verdict::Untouched),
        count(Verdict::Silent)
    ));
    verdicts
}

/// One bit of the database's file.
pub fn bits(size: Size) -> Row {
    let mut row = Row::new("R-13", "one bit flipped in the ledger's file");
    let base = lived_in();
    let before = base.record().unwrap();
    let floor = base.run("floor").out;
    let bytes = std::fs::read(&base.ledger).unwrap();
    let mut dice = Dice::new(13);
    let mut bits: Vec<usize> = (0..size.pick(40, 300, 5_000))
        .map(|_| dice.below(bytes.len() * 8))
        .collect();
    // The file's header is small and decides much: it is taken bit by bit.
    bits.extend((0..800).step_by(size.pick(40, 4, 1)));
    let all = spread(&bits, |bit| {
        let shop = base.copy();
        let mut damaged = bytes.clone();
        damaged[bit / 8] ^= 1 << (bit % 8);
        std::fs::write(&shop.ledger, damaged).unwrap();
        judge(
            &shop,
            &before,
            &floor,
            &format!("bit {} of byte {}", bit % 8, bit / 8),
        )
    });
    let verdicts = summed(&mut row, all);
    row.must(verdicts.contains_key(&Verdict::Named), || {
        "no flip was ever named".to_owned()
    });
    row
}

/// Pages that were zeroed, swapped, or half written.
pub fn pages(size: Size) -> Row {
    let mut row = Row::new("R-14", "a page zeroed, torn, or two pages swapped");
    let base = lived_in();
    let before = base.record().unwrap();
    let floor = base.run("floor").out;
    let bytes = std::fs::read(&base.ledger).unwrap();
    let count = bytes.len() / PAGE;
    let mut dice = Dice::new(14);
    let jobs: Vec<(usize, usize, usize)> = (0..size.pick(24, 120, 1_500))
        .map(|i| {
            let a = dice.below(count);
            (i % 3, a, (a + 1 + dice.below(count - 1)) % count)
        })
        .collect();
    let all = spread(&jobs, |(how, a, b)| {
        let shop = base.copy();
        let mut damaged = bytes.clone();
        let (first, second) = (a * PAGE, b * PAGE);
        let what = match how {
            0 => {
                damaged[first..first + PAGE].fill(0);
                format!("page {a} zeroed")
            }
            1 => {
                damaged[first + PAGE / 2..first + PAGE].fill(0);
                format!("page {a} torn")
            }
            _ => {
                damaged[first..first + PAGE].copy_from_slice(&bytes[second..second + PAGE]);
                damaged[second..second + PAGE].copy_from_slice(&bytes[first..first + PAGE]);
                format!("pages {a} and {b} swapped")
            }
        };
        std::fs::write(&shop.ledger, damaged).unwrap();
        judge(&shop, &before, &floor, &what)
    });
    let verdicts = summed(&mut row, all);
    row.must(verdicts.contains_key(&Verdict::Named), || {
        "no damage was ever named".to_owned()
    });
    row
}

/// The write-ahead file loses its end, a bit, itself, or is another ledger's.
pub fn write_ahead(size: Size) -> Row {
    let mut row = Row::new(
        "R-15",
        "write-ahead file cut, flipped, deleted, of another ledger",
    );
    // Saved while somebody else has the ledger open, so that nothing is folded in.
    let wreck = |offset: usize| {
        let shop = Shop::new();
        let before = shop.record().unwrap();
        let holder = Connection::open(&shop.ledger).unwrap();
        let _: i64 = holder
            .query_row("SELECT count(*) FROM action", [], |r| r.get(0))
            .unwrap();
        let mut saved = Vec::new();
        for i in offset..offset + 8 {
            let tag = format!("v{i:04}");
            let answer = shop.run(&format!("note B-0101 --why {tag}"));
            saved.push((answer.acknowledged().unwrap(), tag));
        }
        let copy = shop.copy();
        std::fs::remove_file(copy.beside("-shm")).unwrap();
        drop(holder);
        (copy, before, saved)
    };
    let (base, before, saved) = wreck(0);
    let (other, _, _) = wreck(100);
    assert!(base.beside(".witness").exists());
    let wal = std::fs::read(base.beside("-wal")).unwrap();
    let foreign = std::fs::read(other.beside("-wal")).unwrap();
    let each = size.pick(8, 150, 1_000);
    let mut dice = Dice::new(15);
    let mut jobs: Vec<(String, Option<Vec<u8>>)> = vec![
        ("as it was".to_owned(), Some(wal.clone())),
        ("deleted".to_owned(), None),
        ("empty".to_owned(), Some(Vec::new())),
        ("of another ledger".to_owned(), Some(foreign.clone())),
    ];
    for _ in 0..each {
        let at = dice.below(wal.len());
        jobs.push((format!("cut at {at}"), Some(wal[..at].to_vec())));
        let (at, bit) = (dice.below(wal.len()), dice.below(8));
        let mut flipped = wal.clone();
        flipped[at] ^= 1 << bit;
        jobs.push((format!("bit {bit} of byte {at} flipped"), Some(flipped)));
        let at = dice.below(foreign.len());
        let mut mixed = wal[..wal.len().min(at)].to_vec();
        mixed.extend(&foreign[mixed.len().min(foreign.len())..]);
        jobs.push((format!("from byte {at} on another ledger's"), Some(mixed)));
    }
    let all = spread(&jobs, |(what, bytes)| {
        let shop = base.copy();
        match bytes {
            None => std::fs::remove_file(shop.beside("-wal")).unwrap(),
            Some(bytes) => std::fs::write(shop.beside("-wal"), bytes).unwrap(),
        }
        let mut one = Outcome {
            faults: 1,
            ..Outcome::default()
        };
        let last = saved.last().unwrap().0;
        let asked = shop.run("note B-0101 --why more");
        let verified = shop.run("verify");
        for answer in [&asked, &verified] {
            if let Some(bad) = answer.manners() {
                one.broken.push(format!("{what}: {bad}"));
            }
        }
        let Ok(now) = shop.record() else {
            one.must(verified.code != Some(0) && asked.code == Some(3), || {
                format!("{what}: unreadable and not said")
            });
            return (one, Verdict::Named);
        };
        let missing: Vec<i64> = saved
            .iter()
            .filter(|(n, tag)| now.with(&format!("\"{tag}\"")) != [*n])
            .map(|(n, _)| *n)
            .collect();
        one.must(now.follows(&before), || {
            format!("{what}: the past was changed")
        });
        let Some(first) = missing.first() else {
            one.must(asked.code == Some(0) && verified.code == Some(0), || {
                format!("{what}: nothing is missing, and yet: {asked:?} {verified:?}")
            });
            return (one, Verdict::Untouched);
        };
        let named = format!("actions {first} to {last} were saved and are no longer there");
        // A whole write-ahead file of another ledger makes another record, and is named as such.
        let other = format!("action {last} is another one than the one that was saved");
        let said =
            asked.code == Some(3) && (asked.err.contains(&named) || asked.err.contains(&other));
        one.must(said, || {
            format!("{what}: {asked:?}, but {missing:?} are missing")
        });
        one.must(matches!(verified.code, Some(1 | 3)), || {
            format!("{what}: {verified:?}, but {missing:?} are missing")
        });
        one.must(now.with("\"more\"").is_empty(), || {
            format!("{what}: written on top of a record that lost its end")
        });
        (
            one,
            if said {
                Verdict::Named
            } else {
                Verdict::Silent
            },
        )
    });
    let verdicts = summed(&mut row, all);
    row.must(
        verdicts.contains_key(&Verdict::Named) && verdicts.contains_key(&Verdict::Untouched),
        || format!("{verdicts:?}: the row shows too little"),
    );
    row
}

/// The ledger's file copied by hand while others write.
pub fn copied(size: Size) -> Row {
    let mut row = Row::new("R-23", "the file copied by hand while 2 terminals write");
    let shop = Shop::new();
    let done = AtomicBool::new(false);
    let copies = std::thread::scope(|scope| {
        let (shop, done) = (&shop, &done);
        for writer in 0..2 {
            scope.spawn(move || {
                for i in 0..100_000 {
                    if done.load(Ordering::Relaxed) {
                        break;
                    }
                    let answer = shop.run(&format!("note B-0101 --why c{writer}x{i:05}"));
                    assert_eq!(answer.code, Some(0), "{answer:?}");
                }
            });
        }
        let copies: Vec<Shop> = (0..size.pick(3, 12, 60))
            .map(|_| {
                std::thread::sleep(std::time::Duration::from_millis(60));
                let own = tempfile::tempdir().unwrap();
                let copy = Shop::owning(own);
                std::fs::copy(&shop.ledger, &copy.ledger).unwrap();
                copy
            })
            .collect();
        done.store(true, Ordering::Relaxed);
        copies
    });
    shop.verify().unwrap();
    let end = shop.record().unwrap();
    let mut named = 0;
    for (i, copy) in copies.iter().enumerate() {
        row.faults += 1;
        let verified = copy.run("verify");
        if let Some(bad) = verified.manners() {
            row.broken.push(format!("copy {i}: {bad}"));
        }
        if verified.code == Some(0) {
            let whole = copy.record().is_ok_and(|r| end.follows(&r));
            row.must(whole, || {
                format!("copy {i} is not what the ledger was at any time, and verify says nothing")
            });
        } else {
            named += 1;
        }
    }
    row.note(format!(
        "{named} named as damaged, {} an earlier state",
        copies.len() - named
    ));
    row
}

/// Files that somebody else made, or made to do harm.
pub fn hostile(size: Size) -> Row {
    let mut row = Row::new("R-24", "files of others, and files made to do harm");
    let base = lived_in();
    let before = base.record().unwrap();
    let bytes = std::fs::read(&base.ledger).unwrap();
    let with = |name: &str, sql: &str| -> (String, Shop) {
        let shop = base.copy();
        let conn = Connection::open(&shop.ledger).unwrap();
        conn.execute_batch(sql)
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        drop(conn);
        (name.to_owned(), shop)
    };
    let file = |name: &str, bytes: &[u8]| -> (String, Shop) {
        let shop = Shop::owning(tempfile::tempdir().unwrap());
        std::fs::write(&shop.ledger, bytes).unwrap();
        (name.to_owned(), shop)
    };
    // Refused at the door, and left as they are.
    let mut dice = Dice::new(24);
    let mut strange = vec![
        with("another application_id", "PRAGMA application_id = 7"),
        with("no application_id", "PRAGMA application_id = 0"),
        with("a newer schema", "PRAGMA user_version = 9999"),
        file("empty", &[]),
        file("text", b"serial,kind\nB-1,body\n"),
        file("the header alone", &bytes[..100]),
        file("half of a page", &bytes[..2048]),
    ];
    for i in 0..size.pick(4, 40, 400) {
        let noise: Vec<u8> = (0..dice.below(40_000))
            .map(|_| dice.below(256) as u8)
            .collect();
        strange.push(file(&format!("noise {i}"), &noise));
        // Noise behind the right header.
        let mut headed = bytes[..100].to_vec();
        headed.extend(&noise);
        strange.push(file(&format!("noise {i} behind a header"), &headed));
    }
    {
        let (name, shop) = file("tables of another program", &[]);
        let conn = Connection::open(&shop.ledger).unwrap();
        conn.execute_batch(
            "CREATE TABLE action (seq INTEGER); CREATE TABLE setting (name TEXT, value TEXT)",
        )
        .unwrap();
        drop(conn);
        strange.push((name, shop));
    }
    let refused = strange.len();
    for (name, shop) in &strange {
        row.faults += 1;
        let then = std::fs::read(&shop.ledger).unwrap();
        for line in ["floor", "note B-0101 --why marked", "verify"] {
            let answer = shop.run(line);
            if let Some(bad) = answer.manners() {
                row.broken.push(format!("{name}: {bad}"));
            }
            row.must(answer.code == Some(3), || {
                format!("{name}, {line}: {answer:?}")
            });
        }
        row.must(std::fs::read(&shop.ledger).unwrap() == then, || {
            format!("{name}: the file was changed")
        });
    }
    // Ledgers with something added. Either it is refused or named by verify, or it can do nothing to the record.
    let added = [
        with(
            "a trigger that writes a file",
            "CREATE TRIGGER more AFTER INSERT ON action BEGIN SELECT writefile('owned', 'x'); END",
        ),
        with(
            "a trigger that loads a library",
            "CREATE TRIGGER more AFTER INSERT ON entry BEGIN SELECT load_extension('owned'); END",
        ),
        with(
            "a trigger that adds entries",
            "CREATE TRIGGER more AFTER INSERT ON action BEGIN
             INSERT INTO entry SELECT seq + 1, action, piece, surface, branch, began, ended, day, kind, corrects, body, digest
             FROM entry ORDER BY seq DESC LIMIT 1; END",
        ),
        with(
            "a trigger that changes what follows from the record",
            "CREATE TRIGGER more AFTER INSERT ON entry BEGIN UPDATE setting SET value = 'owned' WHERE name = 'shop'; END",
        ),
        with(
            "a view in the place of a table",
            "ALTER TABLE setting RENAME TO kept; CREATE VIEW setting AS SELECT name, value, entry FROM kept",
        ),
        with(
            "a table that asks for much",
            "CREATE TABLE extra (a TEXT DEFAULT (randomblob(900000000))); CREATE INDEX more ON action (hex(zeroblob(1000)))",
        ),
        with(
            "no guards",
            "DROP TRIGGER action_stays_update; DROP TRIGGER action_stays_delete; DROP TRIGGER action_grows",
        ),
    ];
    for (name, shop) in &added {
        row.faults += 1;
        let note = shop.run("note B-0101 --why marked");
        let verified = shop.run("verify");
        for answer in [&note, &verified] {
            if let Some(bad) = answer.manners() {
                row.broken.push(format!("{name}: {bad}"));
            }
        }
        let now = Record::of(&shop.ledger).unwrap();
        row.must(now.follows(&before), || {
            format!("{name}: the past was changed")
        });
        let found = now.with("\"marked\"");
        if note.code == Some(0) {
            row.acknowledged += 1;
            if found.as_slice() != note.acknowledged().as_slice() {
                row.lost += 1;
                row.broken
                    .push(format!("{name}: {note:?}, found as {found:?}"));
            }
            let whole = now.actions.len() == before.actions.len() + 1
                && now.entries.len() == before.entries.len() + 1;
            row.must(whole || verified.code != Some(0), || {
                format!("{name}: the record has more than was saved, and verify says nothing")
            });
        } else {
            row.must(found.is_empty(), || {
                format!("{name}: refused and yet saved")
            });
        }
        let strange: Vec<String> = shop
            .files()
            .into_iter()
            .map(|(f, _)| f)
            .filter(|f| !f.starts_with("shop.ledger"))
            .collect();
        row.must(strange.is_empty(), || {
            format!("{name}: files appeared: {strange:?}")
        });
        row.must(!shop.folder.join("owned").exists(), || {
            format!("{name}: it ran")
        });
        row.must(verified.code != Some(0), || {
            format!("{name}: verify does not name it: {}", verified.out)
        });
    }
    row.note(format!(
        "{refused} refused, {} with something added",
        added.len()
    ));
    row
}
