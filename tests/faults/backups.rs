//! Backups while others write, faults while one is written, and faults while one is put in the ledger's place.

use crate::calls::{CALLS, Fault, Script, Struck, script, strike, with_strace};
use crate::harness::{Answer, Outcome, Record, Row, Shop, Size, settle, spread, thin};
use crate::live::{Live, Told, actions, found, shares};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

// Whatever bears a backup's name here.
fn backups(shop: &Shop) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = shop
        .files()
        .into_iter()
        .filter(|(name, _)| name.ends_with(".backup"))
        .map(|(name, _)| shop.folder.join(name))
        .collect();
    all.sort();
    all
}

/// Killed, EIO and ENOSPC at the calls of a command: at most so many of each, and all that give or take a name.
pub fn points(script: &Script, most: usize) -> Vec<(Fault, &'static str, usize)> {
    let mut all = Vec::new();
    for (call, count) in &script.points {
        for n in 1..=*count {
            all.push((*call, n));
        }
    }
    let mut jobs = Vec::new();
    for fault in [Fault::Kill, Fault::Once("EIO"), Fault::ForEver("ENOSPC")] {
        let these: Vec<_> = all
            .iter()
            // A full disk refuses to write; a lock it does not refuse.
            .filter(|(c, _)| {
                fault != Fault::ForEver("ENOSPC")
                    || matches!(*c, "write" | "pwrite64" | "fsync" | "openat" | "rename")
            })
            .map(|(c, n)| (fault, *c, *n))
            .collect();
        // The steps that give and take names, or ask whether one is given, are few and decide: they are all taken.
        let decides = |call: &str| {
            matches!(
                call,
                "rename" | "renameat2" | "link" | "unlink" | "mkdir" | "statx"
            )
        };
        let (names, others): (Vec<_>, Vec<_>) = these.into_iter().partition(|(_, c, _)| decides(c));
        jobs.extend(names);
        jobs.extend(thin(others, most));
    }
    jobs
}

/// While a backup is written into a folder of backups.
pub fn cut_backup(size: Size) -> Row {
    with_strace(
        "R-27a",
        "killed, EIO, ENOSPC at every call of a backup",
        |row| {
            let base = Shop::new();
            let made = base.run(&format!("backup --to '{}'", base.folder.display()));
            assert_eq!(made.code, Some(0), "{made:?}");
            let note = base.run("note B-0101 --why newer");
            assert_eq!(note.code, Some(0), "{note:?}");
            let before = base.record().unwrap();
            let [old] = backups(&base).try_into().unwrap();
            let (old_name, old_bytes) = (
                old.file_name().unwrap().to_owned(),
                std::fs::read(&old).unwrap(),
            );
            // The older one makes room for the newer one: at no time are there none.
            let script = script(&base, "backup --to 'FOLDER' --keep 1");
            row.must(!script.points.is_empty(), || {
                format!("{CALLS:?} are not made")
            });
            let most = size.pick(8, 70, 10_000);
            let jobs = points(&script, most);
            for one in spread(&jobs, |(fault, call, n)| {
                let Struck {
                    shop,
                    answer,
                    reached: struck,
                    what,
                    ..
                } = strike(&base, &script, *fault, call, *n);
                let mut one = Outcome {
                    faults: usize::from(struck),
                    ..Outcome::default()
                };
                if let Some(bad) = answer.manners() {
                    one.broken.push(format!("{what}: {bad}"));
                }
                let there = backups(&shop);
                one.must(!there.is_empty(), || format!("{what}: no backup is left"));
                let mut newest = false;
                for file in &there {
                    let checked = shop.run(&format!("verify --backup '{}'", file.display()));
                    one.must(checked.code == Some(0), || {
                        format!(
                            "{what}: {} bears a backup's name: {checked:?}",
                            file.display()
                        )
                    });
                    let held = Record::of(file);
                    if file.file_name() == Some(&old_name) {
                        one.must(std::fs::read(file).unwrap() == old_bytes, || {
                            format!("{what}: the older backup was changed")
                        });
                    } else {
                        newest = held.as_ref() == Ok(&before);
                        one.must(newest, || {
                            format!("{what}: {} holds something else", file.display())
                        });
                    }
                }
                if answer.code == Some(0) {
                    one.acknowledged += 1;
                    if !newest {
                        one.lost += 1;
                        one.broken
                            .push(format!("{what}: said to be written and not there"));
                    }
                }
                // What was left over is in nobody's way.
                let again = shop.run(&format!("backup --to '{}' --keep 1", shop.folder.display()));
                one.must(again.code == Some(0) || newest, || {
                    format!("{what}: once more: {again:?}")
                });
                let settled = settle(&shop, &before, "marked", &Answer::none(), &what);
                one.acknowledged += settled.acknowledged;
                one.lost += settled.lost;
                one.broken.extend(settled.broken);
                one
            }) {
                row.take(one);
            }
        },
    )
}

/// While a backup is put in the ledger's place.
pub fn cut_recovery(size: Size) -> Row {
    with_strace(
        "R-27b",
        "killed, EIO, ENOSPC at every call of a recovery",
        |row| {
            let base = Shop::new();
            let made = base.run(&format!("backup '{}/kept.backup'", base.folder.display()));
            assert_eq!(made.code, Some(0), "{made:?}");
            let kept = base.record().unwrap();
            let note = base.run("note B-0101 --why newer");
            assert_eq!(note.code, Some(0), "{note:?}");
            let newer = base.record().unwrap();
            let bytes = std::fs::read(base.folder.join("kept.backup")).unwrap();
            let script = script(&base, "recover 'FOLDER/kept.backup'");
            let most = size.pick(8, 70, 10_000);
            let jobs = points(&script, most);
            let mut between = 0;
            for (one, absent) in spread(&jobs, |(fault, call, n)| {
                let Struck {
                    shop,
                    answer,
                    reached: struck,
                    what,
                    ..
                } = strike(&base, &script, *fault, call, *n);
                let mut one = Outcome {
                    faults: usize::from(struck),
                    ..Outcome::default()
                };
                if let Some(bad) = answer.manners() {
                    one.broken.push(format!("{what}: {bad}"));
                }
                one.must(
                    std::fs::read(shop.folder.join("kept.backup")).unwrap() == bytes,
                    || format!("{what}: the backup was changed"),
                );
                // What the ledger held before lies in its place or aside, whole.
                let whole = |record: &Record| {
                    shop.files()
                        .iter()
                        .map(|(name, _)| shop.folder.join(name))
                        .filter(|f| {
                            let name = f.file_name().unwrap().to_str().unwrap();
                            name == "shop.ledger"
                                || (name.contains(".replaced-")
                                    && !name.contains("-wal")
                                    && !name.contains("witness"))
                        })
                        .any(|f| Record::of(&f).as_ref() == Ok(record))
                };
                one.must(whole(&newer), || {
                    format!("{what}: what was there before is lost")
                });
                if answer.code == Some(0) {
                    one.acknowledged += 1;
                    if shop.record().as_ref() != Ok(&kept) {
                        one.lost += 1;
                        one.broken
                            .push(format!("{what}: said to be recovered, and is not"));
                    }
                }
                let asked = shop.run("verify");
                if let Some(bad) = asked.manners() {
                    one.broken.push(format!("{what}: {bad}"));
                }
                let absent = asked.code != Some(0);
                if !absent {
                    let now = shop.record();
                    one.must(
                        now.as_ref() == Ok(&kept) || now.as_ref() == Ok(&newer),
                        || format!("{what}: the ledger is neither the one nor the other"),
                    );
                }
                // The recovery can be done again, and the shop goes on.
                let again = shop.run(&format!("recover '{}/kept.backup'", shop.folder.display()));
                one.must(again.code == Some(0), || {
                    format!("{what}: once more: {again:?}")
                });
                one.must(whole(&newer), || {
                    format!("{what}: lost by recovering once more")
                });
                let settled = settle(&shop, &kept, "marked", &Answer::none(), &what);
                one.acknowledged += settled.acknowledged;
                one.lost += settled.lost;
                one.broken.extend(settled.broken);
                (one, absent)
            }) {
                between += usize::from(absent);
                row.take(one);
            }
            row.note(format!(
                "{between} between the two, named, and recovered once more"
            ));
        },
    )
}

// So many readings that a backup takes long enough for others to write beside it.
fn with_readings(shop: &Shop, count: i64) {
    let start = crate::world::moment("2026-01-05 00:00");
    let mut rows = String::from("time,temperature,humidity\n");
    for k in 0..count {
        let t = start + chrono::TimeDelta::minutes(k);
        rows.push_str(&format!(
            "{},21.{} C,45 %\n",
            t.format("%Y-%m-%d %H:%M"),
            k % 10
        ));
    }
    let file = shop.folder.join("long.csv");
    std::fs::write(&file, rows).unwrap();
    let answer = shop.run(&format!("room readings Q0 '{}'", file.display()));
    assert_eq!(answer.code, Some(0), "{answer:?}");
}

// One backup: from when to when, the file, and the newest action before and after it.
struct Made {
    from: Instant,
    to: Instant,
    file: PathBuf,
    actions: [i64; 2],
    answer: Answer,
}

fn make(shop: &Shop, file: PathBuf) -> Made {
    let before = actions(shop);
    let from = Instant::now();
    let answer = shop.run(&format!("backup '{}'", file.display()));
    let to = Instant::now();
    Made {
        from,
        to,
        file,
        actions: [before, actions(shop)],
        answer,
    }
}

/// Backups one after another while four terminals save without a pause.
pub fn beside_writers(size: Size) -> Row {
    let mut row = Row::new(
        "R-26",
        "backups while 4 open terminals save without a pause",
    );
    let rounds = size.pick(2, 15, 200);
    let shop = Shop::new();
    with_readings(&shop, size.pick(2_000, 20_000, 50_000) as i64);
    let before = shop.record().unwrap();
    let away = tempfile::tempdir().unwrap();
    let done = AtomicBool::new(false);
    let (told, made) = std::thread::scope(|scope| {
        let (shop, done) = (&shop, &done);
        let writers: Vec<_> = (0..4)
            .map(|k| {
                scope.spawn(move || {
                    let mut live = Live::start(shop, &[], &format!("v{k}"), None).opened();
                    let mut told: Vec<(Instant, Told)> = Vec::new();
                    let mut i = 0;
                    while !done.load(Ordering::Relaxed) {
                        let from = Instant::now();
                        told.extend(live.ask(&format!("v{k}x{i:06}")).map(|t| (from, t)));
                        i += 1;
                    }
                    told.extend(live.end().into_iter().map(|t| (Instant::now(), t)));
                    told
                })
            })
            .collect();
        let made: Vec<Made> = (0..rounds)
            .map(|k| {
                // In between they save without a backup beside them: the figure to compare with.
                std::thread::sleep(Duration::from_millis(200));
                make(shop, away.path().join(format!("{k}.backup")))
            })
            .collect();
        done.store(true, Ordering::Relaxed);
        let told: Vec<(Instant, Told)> = writers
            .into_iter()
            .flat_map(|w| w.join().unwrap())
            .collect();
        (told, made)
    });
    row.faults = made.len();
    let now = shop.record().unwrap();
    row.must(now.follows(&before), || "the past was changed".to_owned());
    let mut within = 0;
    for one in &made {
        within += one.actions[1] - one.actions[0];
        row.broken.extend(held(&shop, &now, one));
    }
    row.must(within > 0, || {
        "nothing was saved while a backup was written: the row shows too little".to_owned()
    });
    // Each save by whether a backup was being written at some moment of it.
    let (mut alone, mut beside): (Vec<Duration>, Vec<Duration>) = (Vec::new(), Vec::new());
    for (from, t) in &told {
        match t {
            Told::Ok { took, .. } => {
                let overlaps = made
                    .iter()
                    .any(|m| *from <= m.to && *from + *took >= m.from);
                let list = if overlaps { &mut beside } else { &mut alone };
                list.push(*took);
            }
            other => row.broken.push(format!("{other:?}")),
        }
    }
    let saved = alone.len() + beside.len();
    row.must(now.actions.len() == before.actions.len() + saved, || {
        format!("{} actions where {saved} were saved", now.actions.len())
    });
    let told: Vec<Told> = told.into_iter().map(|(_, t)| t).collect();
    row.take(found(&shop, &told));
    row.broken.extend(shop.verify().err());
    let mut took: Vec<Duration> = made.iter().map(|m| m.to - m.from).collect();
    took.sort_unstable();
    let bytes = std::fs::metadata(&made[0].file).unwrap().len();
    row.note(format!(
        "{rounds} of {} kB, each {} ms, {within} actions saved meanwhile; a save beside one {}; else {}",
        bytes / 1000,
        took[took.len() / 2].as_millis(),
        shares(&mut beside),
        shares(&mut alone)
    ));
    row
}

// What is wrong with one backup: it is whole, it is the ledger as it was at one moment while it was written.
fn held(shop: &Shop, now: &Record, one: &Made) -> Option<String> {
    let name = one.file.display();
    if one.answer.code != Some(0) {
        return Some(format!("{name}: {:?}", one.answer));
    }
    let checked = shop.run(&format!("verify --backup '{name}'"));
    if checked.code != Some(0) {
        return Some(format!("{name} is not whole: {checked:?}"));
    }
    let copy = match Record::of(Path::new(&one.file)) {
        Ok(copy) => copy,
        Err(e) => return Some(format!("{name} cannot be read: {e}")),
    };
    let head = copy.actions.len() as i64;
    if !(one.actions[0]..=one.actions[1]).contains(&head) {
        return Some(format!(
            "{name} holds {head} actions, and there were {:?} before and after it",
            one.actions
        ));
    }
    (!now.follows(&copy)).then(|| format!("{name} holds something else than the ledger"))
}
