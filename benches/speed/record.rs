//! P1, P2, P3, P8, P9, P10: the record. Saving, many writers, taking in, verifying, backing up.

use crate::Ground;
use crate::plant::{Plant, Size, laid, plant};
use crate::shop::{piece, stamp, who};
use crate::table::{Line, Times, in_turn, ms, shown, timed};
use hangtime::ledger::{DeedRequest, DeedWhat, Included, Ledger, Outcome};
use hangtime::shop::record::Fact;
use hangtime::units::{Film, Moment};
use rusqlite::{Connection, TransactionBehavior, params};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

// A ledger's engine with the same settings, and nothing but a table like that of the entries.
fn bare(path: &Path) -> Connection {
    let conn = Connection::open(path).unwrap();
    conn.busy_timeout(Duration::from_secs(10)).unwrap();
    conn.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;
         CREATE TABLE IF NOT EXISTS entry (seq INTEGER PRIMARY KEY, action INTEGER, piece INTEGER, surface TEXT, branch INTEGER,
             began INTEGER, ended INTEGER, day INTEGER, kind TEXT, corrects INTEGER, body TEXT, digest BLOB)",
    )
    .unwrap();
    conn
}

fn insert(conn: &mut Connection) {
    let tx = conn
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .unwrap();
    tx.prepare_cached(
        "INSERT INTO entry (action, piece, surface, branch, began, ended, day, kind, body, digest)
         VALUES (1, 2, 'whole', 0, 1773061200000, 1773061200000, 20521, 'coat/1', ?1, ?2)",
    )
    .unwrap()
    .execute(params![
        r#"{"step":"clear","mix":412,"ul":48000}"#,
        [0_u8; 8]
    ])
    .unwrap();
    tx.commit().unwrap();
}

fn save(ledger: &mut Ledger, serial: &str, what: DeedWhat, at: Moment) {
    let mut request = DeedRequest::new(who("AB"), piece(serial), what, at);
    request.included = Included::All;
    match ledger.log(&request, &stamp(at)).unwrap() {
        Outcome::Saved(_) => {}
        other => panic!("not saved: {other:?}"),
    }
}

fn gauge() -> DeedWhat {
    DeedWhat::Other(Fact::Gauged { film: Film(50_000) })
}

// One coat on one piece after another, each of them ready for it, in turn with a bare row.
fn coats(ground: &Ground, plant: &Plant) -> (Times, Times) {
    let (folder, path) = ground.copy(plant);
    let mut ledger = Ledger::open(&path).unwrap();
    ledger.stays_open();
    let mut other = bare(&folder.path().join("bare.db"));
    let serials = plant.ready_for_a_coat(&ledger);
    assert!(serials.len() >= 40, "{}", serials.len());
    let at = plant.now;
    in_turn(
        serials.len().min(ground.times(400)),
        |n| save(&mut ledger, &serials[n], laid(plant.clear, 1), at),
        |_| insert(&mut other),
    )
}

pub fn commit(ground: &Ground) -> Vec<Line> {
    let (ours, theirs) = coats(ground, &ground.plant);
    let mut lines = vec![Line {
        id: "P1",
        what: "one coat saved durably".to_owned(),
        ours: shown(ours.median()),
        against: format!("bare INSERT and COMMIT {}", shown(theirs.median())),
        ratio: format!("{:.2}", ours.median() / theirs.median()),
        goal: "<= 1.3",
    }];
    if let Some(tenth) = &ground.tenth {
        let (small, _) = coats(ground, tenth);
        lines.push(Line {
            id: "P1",
            what: "the same, against a tenth of the history".to_owned(),
            ours: shown(ours.median()),
            against: format!("a tenth {}", shown(small.median())),
            ratio: format!("{:.2}", ours.median() / small.median()),
            goal: "unchanged",
        });
    }
    let (_folder, path) = ground.copy(&ground.plant);
    let mut ledger = Ledger::open(&path).unwrap();
    ledger.stays_open();
    let serials = ground.plant.ready_for_a_coat(&ledger);
    let saves = ground.times(2_000);
    let times: Vec<Duration> = (0..saves)
        .map(|n| {
            timed(|| {
                save(
                    &mut ledger,
                    &serials[n % serials.len()],
                    gauge(),
                    ground.plant.now,
                );
            })
            .0
        })
        .collect();
    let times = Times::of(times);
    lines.push(Line {
        id: "P2",
        what: format!(
            "the tail of {saves} saves: p99, longest {}",
            shown(times.most())
        ),
        ours: shown(times.share(99)),
        against: format!("its own median {}", shown(times.median())),
        ratio: format!("{:.1}", times.share(99) / times.median()),
        goal: "<= 3",
    });
    lines
}

const WRITERS: usize = 16;
const EACH: usize = 100;

// Sixteen writers without a pause: how long all of it takes, the longest wait, and how many were refused.
fn writers(work: impl Fn(usize, usize) -> bool + Sync) -> (Duration, Duration, usize) {
    let begin = Instant::now();
    let each: Vec<(Duration, usize)> = std::thread::scope(|scope| {
        let running: Vec<_> = (0..WRITERS)
            .map(|writer| {
                let work = &work;
                scope.spawn(move || {
                    let (mut longest, mut refused) = (Duration::ZERO, 0);
                    for n in 0..EACH {
                        let (took, saved) = timed(|| work(writer, n));
                        longest = longest.max(took);
                        refused += usize::from(!saved);
                    }
                    (longest, refused)
                })
            })
            .collect();
        running.into_iter().map(|r| r.join().unwrap()).collect()
    });
    let longest = each.iter().map(|(l, _)| *l).max().unwrap();
    (begin.elapsed(), longest, each.iter().map(|(_, r)| r).sum())
}

pub fn storm(ground: &Ground) -> Vec<Line> {
    let (folder, path) = ground.copy(&ground.plant);
    let plain = folder.path().join("plain.db");
    drop(bare(&plain));
    let serials = ground.plant.ready_for_a_coat(&Ledger::open(&path).unwrap());
    let mut rounds: Vec<[(Duration, Duration, usize); 2]> = Vec::new();
    for _ in 0..ground.times(7) {
        let ledgers: Vec<_> = (0..WRITERS)
            .map(|_| {
                let mut ledger = Ledger::open(&path).unwrap();
                ledger.stays_open();
                std::sync::Mutex::new(ledger)
            })
            .collect();
        let ours = writers(|writer, n| {
            let mut ledger = ledgers[writer].lock().unwrap();
            let serial = &serials[(writer * EACH + n) % serials.len()];
            let mut request = DeedRequest::new(who("AB"), piece(serial), gauge(), ground.plant.now);
            request.included = Included::All;
            matches!(
                ledger.log(&request, &stamp(ground.plant.now)),
                Ok(Outcome::Saved(_))
            )
        });
        let conns: Vec<_> = (0..WRITERS)
            .map(|_| std::sync::Mutex::new(bare(&plain)))
            .collect();
        let theirs = writers(|writer, _| {
            let mut conn = conns[writer].lock().unwrap();
            let Ok(tx) = conn.transaction_with_behavior(TransactionBehavior::Immediate) else {
                return false;
            };
            let done = tx.execute("INSERT INTO entry (kind, body) VALUES ('coat/1', '{}')", []);
            done.is_ok() && tx.commit().is_ok()
        });
        rounds.push([ours, theirs]);
    }
    let refused: usize = rounds.iter().map(|r| r[0].2).sum();
    let median = |side: usize, of: fn(&(Duration, Duration, usize)) -> Duration| {
        Times::of(rounds.iter().map(|r| of(&r[side])).collect()).median()
    };
    let rate = |side| (WRITERS * EACH) as f64 / median(side, |r| r.0) * 1_000.0;
    let worst = |side| median(side, |r| r.1);
    vec![
        Line {
            id: "P3",
            what: format!("16 writers, {refused} refused: saves in a second"),
            ours: format!("{:.0}", rate(0)),
            against: format!("plain BEGIN IMMEDIATE {:.0}", rate(1)),
            ratio: format!("{:.2}", rate(0) / rate(1)),
            goal: "0 refused, >= 2.5",
        },
        Line {
            id: "P3",
            what: "and the longest wait of one".to_owned(),
            ours: shown(worst(0)),
            against: format!("plain BEGIN IMMEDIATE {}", shown(worst(1))),
            ratio: format!("1/{:.1}", worst(1) / worst(0)),
            goal: "<= 1/8",
        },
    ]
}

/// Lets the engine's own shell take files of rows into tables of a new database, and takes that away again.
pub fn plain_import(database: &Path, files: &[(PathBuf, &str)]) {
    let taken = files
        .iter()
        .map(|(file, table)| format!(".import {} {table}", file.display()));
    let done = Command::new("sqlite3")
        .arg(database)
        .arg(".mode csv")
        .args(taken)
        .stderr(std::process::Stdio::null())
        .status();
    assert!(
        done.is_ok_and(|s| s.success()),
        "sqlite3 is needed for this line"
    );
    std::fs::remove_file(database).unwrap();
}

pub fn import(ground: &Ground) -> Vec<Line> {
    // About a million entries.
    let most = if ground.once { 20 } else { 80 };
    let days = ground.plant.size.days.min(most);
    let size = Size {
        days,
        ..ground.plant.size
    };
    let path = ground
        .folder
        .join(format!("{}-a-day-{days}-days.ledger", size.bodies));
    plant(&path, size);
    let folder = tempfile::tempdir_in(&ground.folder).unwrap();
    let out = folder.path().join("export");
    let manifest = Ledger::open(&path).unwrap().export(&out, "bench").unwrap();
    let (ours, theirs) = in_turn(
        ground.times(7),
        |n| {
            let new = folder.path().join(format!("new-{n}.ledger"));
            let taken = Ledger::import(&new, &out).unwrap();
            assert_eq!(taken.head, manifest.head);
            for more in ["", ".witness", ".turn"] {
                std::fs::remove_file(format!("{}{more}", new.display())).ok();
            }
        },
        |n| {
            let tables = [("entries.csv", "entry"), ("actions.csv", "action")];
            let files = tables.map(|(file, table)| (out.join(file), table));
            plain_import(&folder.path().join(format!("plain-{n}.db")), &files);
        },
    );
    vec![Line {
        id: "P8",
        what: format!(
            "{} entries taken in, checked, with standings, verified",
            manifest.entries
        ),
        ours: shown(ours.median()),
        against: format!(
            "sqlite3 .import of the same rows {}",
            shown(theirs.median())
        ),
        ratio: format!("{:.1}", ours.median() / theirs.median()),
        goal: "<= 1.3",
    }]
}

pub fn verify(ground: &Ground) -> Vec<Line> {
    let ledger = Ledger::open(&ground.plant.path).unwrap();
    let conn = Connection::open_with_flags(
        &ground.plant.path,
        rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY,
    )
    .unwrap();
    let scan = || -> i64 {
        ["action", "entry"]
            .into_iter()
            .map(|t| {
                conn.query_row(&format!("SELECT sum(length(body)) FROM {t}"), [], |r| {
                    r.get::<_, i64>(0)
                })
                .unwrap()
            })
            .sum()
    };
    scan();
    let (whole, report) = timed(|| ledger.verify(None).unwrap());
    assert_eq!(report.differences, Vec::<String>::new());
    let (chain, theirs) = in_turn(
        ground.times(7),
        |_| assert_eq!(ledger.check_chain().unwrap(), None),
        |_| assert!(scan() > 0),
    );
    let opening = Times::of(
        (0..7)
            .map(|_| timed(|| Ledger::open(&ground.plant.path).unwrap()).0)
            .collect(),
    );
    vec![
        Line {
            id: "P9",
            what: format!("the chain of {} entries verified", report.entries),
            ours: shown(chain.median()),
            against: format!("a bare scan of the same tables {}", shown(theirs.median())),
            ratio: format!("{:.1}", chain.median() / theirs.median()),
            goal: "<= 6",
        },
        Line {
            id: "P9",
            what: "verified with all that follows from it, once".to_owned(),
            ours: shown(ms(whole)),
            against: format!("a bare scan of the same tables {}", shown(theirs.median())),
            ratio: format!("{:.0}", ms(whole) / theirs.median()),
            goal: "<= 6",
        },
        Line {
            id: "P9",
            what: "opened and held against its witness".to_owned(),
            ours: shown(opening.median()),
            against: "-".to_owned(),
            ratio: "-".to_owned(),
            goal: "<= 10 ms",
        },
    ]
}

pub fn backup(ground: &Ground) -> Vec<Line> {
    let (folder, path) = ground.copy(&ground.plant);
    let serials = ground.plant.ready_for_a_coat(&Ledger::open(&path).unwrap());
    let stop = AtomicBool::new(false);
    let (times, waits) = std::thread::scope(|scope| {
        let writing: Vec<_> = (0..4)
            .map(|writer| {
                let (path, serials, stop) = (&path, &serials, &stop);
                scope.spawn(move || {
                    let mut ledger = Ledger::open(path).unwrap();
                    let mut longest = Duration::ZERO;
                    let mut n = writer;
                    while !stop.load(Ordering::Relaxed) {
                        n += 4;
                        let at = ground.plant.now;
                        longest = longest.max(
                            timed(|| save(&mut ledger, &serials[n % serials.len()], gauge(), at)).0,
                        );
                        std::thread::sleep(Duration::from_millis(5));
                    }
                    longest
                })
            })
            .collect();
        let ledger = Ledger::open(&path).unwrap();
        let copy = |n: usize| {
            let to = folder.path().join(format!("cp-{n}"));
            assert!(
                Command::new("cp")
                    .arg(&path)
                    .arg(&to)
                    .status()
                    .unwrap()
                    .success()
            );
            assert!(Command::new("sync").arg(&to).status().unwrap().success());
            std::fs::remove_file(to).unwrap();
        };
        let times = in_turn(
            ground.times(7),
            |n| {
                let to = folder.path().join(format!("backup-{n}.ledger"));
                ledger.backup(&to).unwrap();
                std::fs::remove_file(to).unwrap();
            },
            copy,
        );
        stop.store(true, Ordering::Relaxed);
        let waits: Vec<Duration> = writing.into_iter().map(|w| w.join().unwrap()).collect();
        (times, waits)
    });
    let longest = waits.into_iter().max().unwrap();
    vec![Line {
        id: "P10",
        what: format!("backup while 4 write; longest save {}", shown(ms(longest))),
        ours: shown(times.0.median()),
        against: format!("cp and sync of the file {}", shown(times.1.median())),
        ratio: format!("{:.1}", times.0.median() / times.1.median()),
        goal: "<= 2, save <= 500 ms",
    }]
}
