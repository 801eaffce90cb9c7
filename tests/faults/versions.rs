//! Two versions of the program on one ledger: a newer one that comes while ours is at work, and ours while an older one is.

use crate::harness::{Answer, Outcome, Record, Row, Shop, Size, spread, spread_waiting};
use crate::live::{Live, Told, actions, found};
use crate::slow::{ordinary, screens};
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use sha2::{Digest, Sha256};
use std::path::PathBuf;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

// What the refusal of a version that is too old names: the reason and the way out.
const REFUSAL: [&str; 2] = ["was written by a newer version", "Use the newer version"];

fn polite(said: &str) -> bool {
    REFUSAL.iter().all(|w| said.contains(w))
}

fn schema(shop: &Shop) -> i64 {
    Connection::open(&shop.ledger)
        .unwrap()
        .pragma_query_value(None, "user_version", |r| r.get(0))
        .unwrap()
}

/// A version one step ahead of ours brings the ledger to its schema under four terminals that save, under the open
/// screens, and under a command that waits for its turn.
pub fn newer(size: Size) -> Row {
    let mut row = Row::new(
        "R-25a",
        "a newer version upgrades the ledger under terminals of ours",
    );
    let rounds: Vec<usize> = (0..size.pick(1, 8, 60)).collect();
    let mut refused = 0;
    for (one, count) in spread(&rounds, |round| upgraded_under(*round)) {
        refused += count;
        row.take(one);
    }
    row.note(format!(
        "{refused} saves refused, each with the way out, none half written"
    ));
    row
}

fn upgraded_under(round: usize) -> (Outcome, usize) {
    let shop = Shop::new();
    let before = shop.record().unwrap();
    let mut one = Outcome {
        faults: 1,
        ..Outcome::default()
    };
    let mut terminal = screens(&shop, &[], &ordinary(&shop.folder));
    terminal.wait("scan: _");
    terminal.press("W0\r");
    terminal.wait("What was done?");
    // The newest action at the moment of the upgrade; nothing may come after it.
    let last = AtomicI64::new(0);
    let (told, waited) = std::thread::scope(|scope| {
        let (shop, last) = (&shop, &last);
        let writers: Vec<_> = (0..4)
            .map(|k| {
                scope.spawn(move || {
                    let mut live = Live::start(shop, &[], &format!("n{k}"), None).opened();
                    let mut told = Vec::new();
                    let mut refused = 0;
                    // A few saves more after the first refusal: a terminal does not forget it.
                    for i in 0..2_000 {
                        let answer = live.ask(&format!("n{k}x{i:05}"));
                        refused += usize::from(!matches!(answer, Some(Told::Ok { .. })));
                        told.extend(answer);
                        if refused == 4 {
                            break;
                        }
                    }
                    told.extend(live.end());
                    told
                })
            })
            .collect();
        std::thread::sleep(Duration::from_millis(150 + 40 * (round as u64 % 7)));
        // As our own upgrade does it: behind the turn, in one transaction.
        let turn = std::fs::File::options()
            .write(true)
            .open(shop.beside(".turn"))
            .unwrap();
        turn.lock().unwrap();
        let command = scope.spawn(|| shop.run("note B-0101 --why waited"));
        // Long enough for the command to open the ledger as it was, and to stand in the queue for its turn.
        std::thread::sleep(Duration::from_millis(200));
        let mut conn = Connection::open(&shop.ledger).unwrap();
        conn.busy_timeout(Duration::from_secs(10)).unwrap();
        let tx = conn
            .transaction_with_behavior(TransactionBehavior::Exclusive)
            .unwrap();
        let held: i64 = tx
            .pragma_query_value(None, "user_version", |r| r.get(0))
            .unwrap();
        tx.execute_batch(
            "CREATE TABLE newer (a INTEGER NOT NULL) STRICT; INSERT INTO newer VALUES (1)",
        )
        .unwrap();
        tx.pragma_update(None, "user_version", held + 1).unwrap();
        let count = tx
            .query_row("SELECT max(seq) FROM action", [], |r| r.get(0))
            .unwrap();
        last.store(count, Ordering::Relaxed);
        tx.commit().unwrap();
        drop(conn);
        turn.unlock().unwrap();
        let told: Vec<Told> = writers
            .into_iter()
            .flat_map(|w| w.join().unwrap())
            .collect();
        (told, command.join().unwrap())
    });
    let last = last.load(Ordering::Relaxed);
    let saved = told.iter().filter(|t| matches!(t, Told::Ok { .. })).count();
    let mut refused = 0;
    for t in &told {
        match t {
            Told::Ok { .. } => {}
            Told::No { why, .. } if polite(why) => refused += 1,
            other => one.broken.push(format!("{other:?}")),
        }
    }
    one.must(saved > 0 && refused == 4 * 4, || {
        format!("{saved} saved before and {refused} of 16 refused after: {told:?}")
    });
    // The screens look at a rack and would save.
    terminal.press("c");
    terminal.wait("Enter save");
    terminal.press("\r");
    match terminal.until(&["newer version"], Duration::from_secs(10)) {
        Ok(_) => refused += 1,
        Err(why) => one.broken.push(format!("the screens: {why}")),
    }
    terminal.press("\u{1b}");
    terminal.wait("the draft was dropped");
    terminal.press("q");
    let code = terminal.ends();
    one.must(code == 0, || format!("the screens ended with {code}"));
    let starts = ["note B-0101 --why new", "floor", "ready", "verify"];
    let answers: Vec<(&str, Answer)> = starts.iter().map(|l| (*l, shop.run(l))).collect();
    for (line, answer) in answers
        .iter()
        .chain([&("the command in the queue", waited)])
    {
        one.must(answer.code == Some(3) && polite(&answer.err), || {
            format!("{line}: {answer:?}")
        });
    }
    one.must(actions(&shop) == last, || {
        format!("{} actions, {last} at the upgrade", actions(&shop))
    });
    one.must(last == (before.actions.len() + saved) as i64, || {
        format!("{last} actions and {saved} acknowledged")
    });
    let sum = found(&shop, &told);
    one.acknowledged += sum.acknowledged;
    one.lost += sum.lost;
    one.broken.extend(sum.broken);
    let now = shop.record().unwrap();
    one.must(now.follows(&before), || "the past was changed".to_owned());
    // What the newer version brought is there untouched; without it the ledger is ours again, and whole.
    let conn = Connection::open(&shop.ledger).unwrap();
    let kept: Option<i64> = conn
        .query_row("SELECT a FROM newer", [], |r| r.get(0))
        .optional()
        .unwrap();
    one.must(kept == Some(1), || {
        format!("the newer table holds {kept:?}")
    });
    let ours = schema(&shop) - 1;
    conn.execute_batch("DROP TABLE newer").unwrap();
    conn.pragma_update(None, "user_version", ours).unwrap();
    drop(conn);
    one.broken.extend(shop.verify().err());
    (one, refused)
}

// A ledger of schema 1 with an older program's connection to it.
fn older_shop() -> (Shop, Connection) {
    let shop = Shop::owning(tempfile::tempdir().unwrap());
    let stored =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/migrations/schema-1.db");
    std::fs::write(&shop.ledger, std::fs::read(stored).unwrap()).unwrap();
    let conn = Connection::open(&shop.ledger).unwrap();
    conn.busy_timeout(Duration::from_secs(5)).unwrap();
    for (name, value) in [("journal_mode", "wal"), ("synchronous", "full")] {
        conn.pragma_update_and_check(None, name, value, |_| Ok(()))
            .ok();
    }
    assert_eq!(schema(&shop), 1);
    (shop, conn)
}

#[derive(Default)]
struct Canonical(Vec<u8>);

impl Canonical {
    fn int(mut self, value: i64) -> Self {
        self.0.push(1);
        self.0.extend(value.to_be_bytes());
        self
    }

    fn null(mut self) -> Self {
        self.0.push(0);
        self
    }

    fn text(mut self, value: &str) -> Self {
        self.0.push(2);
        self.0.extend((value.len() as u64).to_be_bytes());
        self.0.extend(value.as_bytes());
        self
    }
}

// A note on B-0301 as a program of schema 1 writes it: the next numbers, the canonical bytes of format 1, and no look at
// what the schema has become.
fn old_note(conn: &Connection, tag: &str) -> rusqlite::Result<i64> {
    let (seq, prev): (i64, Vec<u8>) = conn.query_row(
        "SELECT seq + 1, hash FROM action ORDER BY seq DESC LIMIT 1",
        [],
        |r| Ok((r.get(0)?, r.get(1)?)),
    )?;
    let first: i64 = conn.query_row("SELECT max(seq) + 1 FROM entry", [], |r| r.get(0))?;
    let piece: i64 = conn.query_row("SELECT piece FROM entry WHERE kind = 'note/1'", [], |r| {
        r.get(0)
    })?;
    let (at, day) = (1_775_106_000_000, 20_545);
    let zone = "America/New_York";
    let draft = format!("draft-{tag}");
    let body = format!("{{\"why\":\"{tag}\"}}");
    let action = Canonical::default()
        .int(seq)
        .text(&draft)
        .text("note")
        .text("MK")
        .text("MK")
        .text("older")
        .int(at)
        .int(at)
        .int(at)
        .text(zone)
        .int(-240)
        .int(day)
        .text("demo")
        .null()
        .text("{\"v\":1}");
    let entry = Canonical::default()
        .int(first)
        .int(seq)
        .int(piece)
        .text("whole")
        .int(0)
        .int(at)
        .int(at)
        .int(day)
        .text("note/1")
        .null()
        .text(&body);
    let hash = Sha256::new()
        .chain_update([0])
        .chain_update("hangtime 1")
        .chain_update(&prev)
        .chain_update(&action.0)
        .chain_update([0x1e])
        .chain_update(&entry.0)
        .finalize();
    let digest = Sha256::new()
        .chain_update([1])
        .chain_update(&entry.0)
        .finalize();
    conn.execute(
        "INSERT INTO action (seq, draft, deed, person, writer, station, began, ended, written, zone, offset_min,
                             day, clock, boot_ms, body, prev, hash)
         VALUES (?1, ?2, 'note', 'MK', 'MK', 'older', ?3, ?3, ?3, ?4, -240, ?5, 'demo', NULL, '{\"v\":1}', ?6, ?7)",
        params![seq, draft, at, zone, day, prev, hash.to_vec()],
    )?;
    conn.execute(
        "INSERT INTO entry (seq, action, piece, surface, branch, began, ended, day, kind, corrects, body, digest)
         VALUES (?1, ?2, ?3, 'whole', 0, ?4, ?4, ?5, 'note/1', NULL, ?6, ?7)",
        params![first, seq, piece, at, day, body, digest[..8].to_vec()],
    )?;
    Ok(seq)
}

// A start of ours: any command brings the ledger to our schema, or says why not.
fn start(shop: &Shop) -> Answer {
    shop.run("verify")
}

fn backups(shop: &Shop) -> Vec<PathBuf> {
    shop.files()
        .into_iter()
        .filter(|(name, _)| name.ends_with(".backup"))
        .map(|(name, _)| shop.folder.join(name))
        .collect()
}

// Whether one backup of schema 1 lies beside the ledger and holds the record as it was before the upgrade.
fn kept(shop: &Shop, before: &Record) -> Result<(), String> {
    let all = backups(shop);
    let [backup] = all.as_slice() else {
        return Err(format!("not one backup of what was before: {all:?}"));
    };
    let conn = Connection::open(backup).unwrap();
    let held: i64 = conn
        .pragma_query_value(None, "user_version", |r| r.get(0))
        .unwrap();
    if held != 1 || Record::of(backup).as_ref() != Ok(before) {
        return Err(format!("{} is not the ledger as it was", backup.display()));
    }
    Ok(())
}

type Way = fn(&Shop, Connection, &mut Outcome);

/// Ours brings a ledger of schema 1 to its own while an older program has it open.
pub fn older(size: Size) -> Row {
    let mut row = Row::new(
        "R-25b",
        "ours upgrades a ledger that an older version has open",
    );
    let ways: [(&str, Way); 6] = [
        ("the older one reads", reads),
        ("the older one is writing", writes_for_a_moment),
        ("the older one writes and does not end", writes_too_long),
        ("the older one keeps the turn", keeps_the_turn),
        ("the older one writes afterwards", writes_afterwards),
        ("five starts of ours at once", starts_at_once),
    ];
    let rounds = size.pick(1, 2, 20);
    let jobs: Vec<_> = (0..rounds)
        .flat_map(|_| ways)
        // Six seconds of waiting are not for every run.
        .filter(|(name, _)| size != Size::Small || !name.contains("keeps"))
        .collect();
    for one in spread_waiting(&jobs, |(name, way)| {
        let (shop, conn) = older_shop();
        let mut one = Outcome {
            faults: 1,
            ..Outcome::default()
        };
        way(&shop, conn, &mut one);
        // However it went, a start afterwards finds the newest schema and nothing that differs.
        let last = start(&shop);
        one.broken.extend(last.manners());
        one.must(schema(&shop) > 1, || format!("still schema 1: {last:?}"));
        one.broken.extend(shop.verify().err());
        one.broken = one.broken.iter().map(|b| format!("{name}: {b}")).collect();
        one
    }) {
        row.take(one);
    }
    row.note(
        "what an older one writes afterwards is kept, named by verify, and followed by a rebuild"
            .to_owned(),
    );
    row
}

// The number that the older one was given is in the record with what it wrote.
fn holds(shop: &Shop, number: i64, tag: &str, one: &mut Outcome) {
    one.acknowledged += 1;
    let there = shop.record().map(|r| r.with(&format!("\"{tag}\"")));
    if there.as_deref() != Ok(&[number]) {
        one.lost += 1;
        one.broken.push(format!(
            "{tag} was saved as {number} and is found as {there:?}"
        ));
    }
}

fn reads(shop: &Shop, mut conn: Connection, one: &mut Outcome) {
    let before = shop.record().unwrap();
    let tx = conn
        .transaction_with_behavior(TransactionBehavior::Deferred)
        .unwrap();
    let count = |tx: &Connection| -> i64 {
        tx.query_row("SELECT count(*) FROM action", [], |r| r.get(0))
            .unwrap()
    };
    let seen = count(&tx);
    let answer = start(shop);
    one.must(
        answer.code == Some(0) && answer.err.contains("from schema 1 to"),
        || format!("{answer:?}"),
    );
    one.broken.extend(kept(shop, &before).err());
    // It goes on reading what it began to read, and cannot write upon that.
    one.must(count(&tx) == seen, || {
        "the reader sees half an upgrade".to_owned()
    });
    let wrote = old_note(&tx, "stale");
    one.must(wrote.is_err(), || format!("{wrote:?} upon what was before"));
    drop(tx);
    one.must(shop.record().as_ref() == Ok(&before), || {
        "the record was changed".to_owned()
    });
}

fn writes_for_a_moment(shop: &Shop, mut conn: Connection, one: &mut Outcome) {
    let tx = conn
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .unwrap();
    let number = old_note(&tx, "beside").unwrap();
    let answer = std::thread::scope(|scope| {
        let asked = scope.spawn(|| start(shop));
        std::thread::sleep(Duration::from_millis(500));
        one.must(!asked.is_finished(), || "it did not wait".to_owned());
        tx.commit().unwrap();
        asked.join().unwrap()
    });
    one.must(
        answer.code == Some(0) && answer.err.contains("from schema 1 to"),
        || format!("{answer:?}"),
    );
    holds(shop, number, "beside", one);
    let now = shop.record().unwrap();
    one.broken.extend(kept(shop, &now).err());
}

fn writes_too_long(shop: &Shop, mut conn: Connection, one: &mut Outcome) {
    let before = shop.record().unwrap();
    let tx = conn
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .unwrap();
    let number = old_note(&tx, "long").unwrap();
    let answer = start(shop);
    one.must(
        answer.code == Some(3)
            && answer
                .err
                .contains("another terminal is writing for too long"),
        || format!("{answer:?}"),
    );
    one.must(schema(shop) == 1 && backups(shop).is_empty(), || {
        "something was done all the same".to_owned()
    });
    one.must(shop.record().as_ref() == Ok(&before), || {
        "the record was changed".to_owned()
    });
    tx.commit().unwrap();
    one.must(start(shop).code == Some(0), || {
        "not even afterwards".to_owned()
    });
    holds(shop, number, "long", one);
    let now = shop.record().unwrap();
    one.broken.extend(kept(shop, &now).err());
}

fn keeps_the_turn(shop: &Shop, conn: Connection, one: &mut Outcome) {
    let before = shop.record().unwrap();
    let turn = std::fs::File::create(shop.beside(".turn")).unwrap();
    turn.lock().unwrap();
    let answer = start(shop);
    one.must(
        answer.code == Some(3) && answer.err.contains("another terminal has been writing"),
        || format!("{answer:?}"),
    );
    one.must(schema(shop) == 1 && backups(shop).is_empty(), || {
        "something was done all the same".to_owned()
    });
    turn.unlock().unwrap();
    drop(conn);
    one.must(start(shop).code == Some(0), || {
        "not even afterwards".to_owned()
    });
    one.broken.extend(kept(shop, &before).err());
}

fn writes_afterwards(shop: &Shop, mut conn: Connection, one: &mut Outcome) {
    let before = shop.record().unwrap();
    let answer = start(shop);
    one.must(answer.code == Some(0), || format!("{answer:?}"));
    one.broken.extend(kept(shop, &before).err());
    let tx = conn
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .unwrap();
    let wrote = old_note(&tx, "afterwards");
    match wrote.and_then(|n| tx.commit().map(|()| n)) {
        // Refused is as good: then there is nothing to name.
        Err(_) => one.must(shop.record().as_ref() == Ok(&before), || {
            "refused, and the record was changed".to_owned()
        }),
        Ok(number) => {
            holds(shop, number, "afterwards", one);
            // It kept none of what follows from its action by our rules: that is named, and can be built anew.
            let next = start(shop);
            one.broken.extend(next.manners());
            one.must(
                next.code == Some(1) && next.out.contains("piece at 1: kept"),
                || format!("not named: {next:?}"),
            );
            let rebuilt = shop.run("rebuild");
            one.must(rebuilt.code == Some(0), || format!("{rebuilt:?}"));
        }
    }
}

fn starts_at_once(shop: &Shop, mut conn: Connection, one: &mut Outcome) {
    let before = shop.record().unwrap();
    let tx = conn
        .transaction_with_behavior(TransactionBehavior::Deferred)
        .unwrap();
    tx.query_row("SELECT count(*) FROM entry", [], |_| Ok(()))
        .unwrap();
    let jobs: Vec<String> = (0..5)
        .map(|k| format!("note B-0301 --why once{k}"))
        .collect();
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let asked: Vec<_> = jobs
            .iter()
            .map(|line| {
                scope.spawn(move || {
                    let words = shop.words(line, "2026-04-02 09:00", "desk");
                    Answer::of(&shop.under(&[], &words).output().unwrap())
                })
            })
            .collect();
        asked.into_iter().map(|a| a.join().unwrap()).collect()
    });
    for (k, answer) in answers.iter().enumerate() {
        match (answer.code, answer.acknowledged()) {
            (Some(0), Some(number)) => holds(shop, number, &format!("once{k}"), one),
            _ => one.broken.push(format!("{answer:?}")),
        }
    }
    let upgrades = answers
        .iter()
        .filter(|a| a.err.contains("from schema 1 to"))
        .count();
    one.must(upgrades == 1, || format!("{upgrades} upgrades"));
    one.broken.extend(kept(shop, &before).err());
}
