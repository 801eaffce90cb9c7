//! What only something outside the database can tell, and that every column of the record is held by its chain.

use super::{START, Shop, shop, stamp, who};
use hangtime::ledger::{DeedRequest, DeedWhat, Included, Ledger, LedgerError, Target};
use hangtime::shop::climate::Sample;
use hangtime::shop::record::{CoatMore, Fact};
use hangtime::units::{Humidity, Moment, Span, Temperature};
use rusqlite::types::Value;
use std::path::{Path, PathBuf};

fn note(ledger: &mut Ledger, n: i64) -> Result<i64, LedgerError> {
    let at = START.plus(Span::minutes(n));
    let target = Target::Pieces(vec!["B-0001".to_owned()]);
    let fact = Fact::Note {
        text: format!("note {n}"),
    };
    let request = DeedRequest::new(who("MK"), target, DeedWhat::Other(fact), at);
    ledger.log(&request, &stamp(at)).map(|_| ())?;
    ledger.head().map(|(action, _)| action)
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

// A copy of the files as they lie, as a power cut would leave them; `wal` bends the write-ahead file.
fn cut(shop: &Shop, wal: impl Fn(Vec<u8>) -> Option<Vec<u8>>) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let from = shop.folder.path().join("shop.ledger");
    let to = folder.path().join("shop.ledger");
    for ending in ["", ".witness"] {
        std::fs::copy(beside(&from, ending), beside(&to, ending)).unwrap();
    }
    let bytes = std::fs::read(beside(&from, "-wal")).unwrap();
    assert!(!bytes.is_empty(), "nothing lies in the write-ahead file");
    if let Some(left) = wal(bytes) {
        std::fs::write(beside(&to, "-wal"), left).unwrap();
    }
    (folder, to)
}

type Bend = fn(Vec<u8>) -> Option<Vec<u8>>;

#[test]
fn a_lost_end_of_the_write_ahead_file_is_named_action_by_action() {
    let mut shop = shop(1);
    // What was saved on the days before lies in the database itself.
    rusqlite::Connection::open(shop.folder.path().join("shop.ledger"))
        .unwrap()
        .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))
        .unwrap();
    let mut newest = 0;
    for n in 1..=20 {
        newest = note(&mut shop.ledger, n).unwrap();
    }
    let (_whole, path) = cut(&shop, Some);
    assert_eq!(Ledger::open(&path).unwrap().head().unwrap().0, newest);

    let bends: [(&str, Bend); 3] = [
        ("gone", |_| None),
        ("cut short", |mut b| {
            b.truncate(b.len() / 2);
            Some(b)
        }),
        ("one bit", |mut b| {
            let at = b.len() / 2;
            b[at] ^= 4;
            Some(b)
        }),
    ];
    for (how, bend) in bends {
        let (_folder, path) = cut(&shop, bend);
        let left = Ledger::open_unheld(&path).unwrap();
        let kept = left.head().unwrap().0;
        assert!(kept < newest, "{how}: nothing was lost");
        match Ledger::open(&path) {
            Err(LedgerError::Lost { from, to, .. }) => {
                assert_eq!((from, to), (kept + 1, newest), "{how}");
            }
            other => panic!("{how}: {other:?}"),
        }
        // What is left can be looked at, and says the same.
        let report = left.verify(None).unwrap();
        let said = format!("actions {} to {newest} were saved", kept + 1);
        assert!(report.differences[0].contains(&said), "{how}: {report:?}");
        // Nothing is written to it until somebody says that the shop goes on without.
        let mut left = left;
        assert!(matches!(note(&mut left, 40), Err(LedgerError::Lost { .. })));
        let at = stamp(START.plus(Span::hours(1)));
        left.go_on("the disk was changed", &who("SL"), &at).unwrap();
        assert_eq!(left.verify(None).unwrap().differences, Vec::<String>::new());
        drop(left);
        let mut again = Ledger::open(&path).unwrap();
        assert_eq!(note(&mut again, 90).unwrap(), kept + 2);
        assert!(again.go_on("twice", &who("SL"), &at).is_err());
    }
}

#[test]
fn a_new_ledger_that_lost_its_whole_write_ahead_file_says_so() {
    let mut shop = shop(1);
    let newest = note(&mut shop.ledger, 1).unwrap();
    let (_folder, path) = cut(&shop, |_| None);
    match Ledger::open(&path) {
        // A ledger gets its name when its first action lies in the database itself.
        Err(LedgerError::Lost { from: 2, to, .. }) => assert_eq!(to, newest),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_record_in_the_place_of_another_is_noticed_and_not_written_to() {
    let mut ours = shop(1);
    note(&mut ours.ledger, 1).unwrap();
    let mut theirs = shop(1);
    for n in 1..=3 {
        note(&mut theirs.ledger, n + 100).unwrap();
    }
    let path = ours.folder.path().join("shop.ledger");
    let other = theirs.folder.path().join("shop.ledger");
    drop(theirs.ledger);
    drop(ours.ledger);
    std::fs::copy(&other, &path).unwrap();
    assert!(matches!(
        Ledger::open(&path),
        Err(LedgerError::Replaced { .. })
    ));
}

#[test]
fn a_terminal_that_holds_an_older_file_stops_writing() {
    let mut shop = shop(1);
    note(&mut shop.ledger, 1).unwrap();
    let path = shop.folder.path().join("shop.ledger");
    let copy = shop.folder.path().join("copy.ledger");
    shop.ledger.backup(&copy).unwrap();
    // The file is put in the ledger's place under the open terminal, and goes on there.
    std::fs::rename(&path, shop.folder.path().join("old.ledger")).unwrap();
    for ending in ["-wal", "-shm"] {
        let _ = std::fs::rename(
            beside(&path, ending),
            beside(&copy, &format!("{ending}.old")),
        );
    }
    std::fs::rename(&copy, &path).unwrap();
    let mut new = Ledger::open(&path).unwrap();
    note(&mut new, 2).unwrap();
    let refused = note(&mut shop.ledger, 3).unwrap_err();
    assert!(
        refused.to_string().contains("moved or replaced"),
        "{refused}"
    );
    note(&mut new, 4).unwrap();
    assert_eq!(new.verify(None).unwrap().differences, Vec::<String>::new());
}

#[test]
fn a_witness_that_is_behind_is_caught_up_by_the_next_opening() {
    let mut shop = shop(1);
    note(&mut shop.ledger, 1).unwrap();
    let path = shop.folder.path().join("shop.ledger");
    let behind = std::fs::read(beside(&path, ".witness")).unwrap();
    let newest = note(&mut shop.ledger, 2).unwrap();
    std::fs::write(beside(&path, ".witness"), behind).unwrap();
    drop(shop.ledger);
    let seen = |ledger: &Ledger| ledger.witness().unwrap().seen.unwrap().0;
    assert_eq!(
        seen(&Ledger::open_unheld(&path).unwrap()),
        newest - 1,
        "looking changes nothing"
    );
    let mut ledger = Ledger::open(&path).unwrap();
    assert_eq!(seen(&ledger), newest);
    note(&mut ledger, 3).unwrap();
    assert_eq!(seen(&ledger), newest + 1);
}

#[test]
fn where_its_witness_cannot_be_read_nothing_is_saved_and_questions_are_answered() {
    let mut shop = shop(1);
    let path = shop.folder.path().join("shop.ledger");
    let witness = beside(&path, ".witness");
    // A folder in its place: it can be neither read nor written.
    std::fs::rename(&witness, beside(&path, ".kept")).unwrap();
    let begun = shop.ledger.head().unwrap().0;
    std::fs::create_dir(&witness).unwrap();
    let refused = note(&mut shop.ledger, 1).unwrap_err().to_string();
    assert!(refused.contains("shop.ledger.witness"), "{refused}");
    assert_eq!(shop.ledger.head().unwrap().0, begun, "nothing was saved");
    assert_eq!(shop.ledger.entries(Some("B-0001")).unwrap().len(), 2);
    std::fs::remove_dir(&witness).unwrap();
    note(&mut shop.ledger, 2).unwrap();
    assert_eq!(shop.ledger.witness().unwrap().seen.unwrap().0, begun + 1);
}

#[test]
fn a_ledger_that_is_moved_under_an_open_terminal_takes_in_nothing_more() {
    let mut shop = shop(1);
    let path = shop.folder.path().join("shop.ledger");
    let newest = note(&mut shop.ledger, 1).unwrap();
    let aside = shop.folder.path().join("aside.ledger");
    std::fs::rename(&path, &aside).unwrap();
    let refused = note(&mut shop.ledger, 2).unwrap_err().to_string();
    assert!(refused.contains("moved or replaced"), "{refused}");
    // Another file in its place is not written to either.
    std::fs::copy(&aside, &path).unwrap();
    assert!(note(&mut shop.ledger, 3).is_err());
    std::fs::remove_file(&path).unwrap();
    std::fs::rename(&aside, &path).unwrap();
    assert_eq!(note(&mut shop.ledger, 4).unwrap(), newest + 1);
}

// A ledger with an action that has every column filled, an entry of each sort and readings.
fn filled() -> (tempfile::TempDir, PathBuf) {
    let mut shop = shop(2);
    let samples: Vec<Sample> = (0..4)
        .map(|i| Sample {
            at: START.minus(Span::minutes(15 * i)),
            temperature: Temperature(21_000),
            humidity: Some(Humidity(4_500)),
        })
        .collect();
    let (mk, at) = (who("MK"), stamp(START));
    shop.ledger
        .add_readings("cure room", "logger.csv", &samples, &mk, &at)
        .unwrap();
    let coat = DeedWhat::Coat {
        kind: None,
        touch_up: false,
        mix: Some(1),
        lot: None,
        amount: None,
        wet: Vec::new(),
        supervisor: None,
        more: CoatMore::default(),
    };
    let later = Moment(START.0 + 60_000);
    let mut request = DeedRequest::new(mk.clone(), Target::Rack("R1".into(), None), coat, later);
    request.note = Some("a note".into());
    // It is the clear mix on a seal step: a rack takes that along when it is said.
    request.included = Included::All;
    shop.ledger.log(&request, &stamp(later)).unwrap();
    let (_, entry) = (0, shop.ledger.entries(None).unwrap().last().unwrap().seq.0);
    shop.ledger
        .void_entry(entry, "wrong body", &mk, &stamp(later))
        .unwrap();
    note(&mut shop.ledger, 5).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.ledger");
    shop.ledger.backup(&path).unwrap();
    (folder, path)
}

fn other_value(value: &Value) -> Value {
    match value {
        Value::Null => Value::Integer(7),
        Value::Integer(n) => Value::Integer(n + 1),
        Value::Real(x) => Value::Real(x + 1.0),
        Value::Text(t) => Value::Text(format!("{t}x")),
        Value::Blob(b) => {
            let mut b = b.clone();
            b[0] ^= 1;
            Value::Blob(b)
        }
    }
}

#[test]
fn every_column_of_every_row_of_the_record_is_held() {
    let (folder, source) = filled();
    let mut changed = 0;
    for table in ["action", "entry", "reading"] {
        let conn = rusqlite::Connection::open(&source).unwrap();
        let columns: Vec<String> = conn
            .prepare(&format!("SELECT name FROM pragma_table_info('{table}')"))
            .unwrap()
            .query_map([], |r| r.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        let rows: i64 = conn
            .query_row(&format!("SELECT count(*) FROM {table}"), [], |r| r.get(0))
            .unwrap();
        drop(conn);
        assert!(columns.len() >= 5 && rows >= 4, "{table}");
        for column in &columns {
            for row in [0, rows / 2, rows - 1] {
                let path = folder.path().join("changed.ledger");
                std::fs::copy(&source, &path).unwrap();
                let conn = rusqlite::Connection::open(&path).unwrap();
                conn.execute_batch(
                    "PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON",
                )
                .unwrap();
                let guards: Vec<(String, String)> = conn
                    .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?1")
                    .unwrap()
                    .query_map([table], |r| Ok((r.get(0)?, r.get(1)?)))
                    .unwrap()
                    .collect::<Result<_, _>>()
                    .unwrap();
                assert_eq!(guards.len(), 3, "{table}");
                for (guard, _) in &guards {
                    conn.execute_batch(&format!("DROP TRIGGER {guard}"))
                        .unwrap();
                }
                let key = if table == "reading" {
                    "room, at"
                } else {
                    "seq"
                };
                let at = format!("FROM {table} ORDER BY {key} LIMIT 1 OFFSET {row}");
                let value: Value = conn
                    .query_row(&format!("SELECT {column} {at}"), [], |r| r.get(0))
                    .unwrap();
                let done = conn.execute(
                    &format!(
                        "UPDATE {table} SET {column} = ?1 WHERE ({key}) = (SELECT {key} {at})"
                    ),
                    [other_value(&value)],
                );
                // Put back: what is found must be the change, and not a guard that is missing.
                for (_, guard) in &guards {
                    conn.execute_batch(guard).unwrap();
                }
                drop(conn);
                // A key that would stand twice cannot be written; every other change must be found.
                if done.is_err() {
                    continue;
                }
                changed += 1;
                let found = match Ledger::open_unheld(&path) {
                    Ok(ledger) => match ledger.verify(None) {
                        Ok(report) => !report.differences.is_empty(),
                        Err(_) => true,
                    },
                    Err(_) => true,
                };
                assert!(found, "{table}.{column}, row {row}: nobody noticed");
            }
        }
    }
    assert!(changed > 90, "{changed}");
}

#[test]
fn a_row_cut_from_the_middle_is_named_and_a_cut_end_is_told_by_a_kept_head() {
    let (folder, source) = filled();
    let ledger = Ledger::open_unheld(&source).unwrap();
    let (newest, head) = ledger.head().unwrap();
    drop(ledger);
    let without = |sql: &str| {
        let path = folder.path().join("cut.ledger");
        std::fs::copy(&source, &path).unwrap();
        let conn = rusqlite::Connection::open(&path).unwrap();
        // Somebody who knows what he does puts the guards back.
        let guards: Vec<String> = conn
            .prepare("SELECT sql FROM sqlite_schema WHERE name IN ('action_stays_delete', 'entry_stays_delete')")
            .unwrap()
            .query_map([], |r| r.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        conn.execute_batch(&format!(
            "PRAGMA foreign_keys = OFF; DROP TRIGGER action_stays_delete; DROP TRIGGER entry_stays_delete; {sql}; {}",
            guards.join(";\n")
        ))
        .unwrap();
        drop(conn);
        Ledger::open_unheld(&path).unwrap()
    };
    let middle = newest / 2;
    let cut = without(&format!(
        "DELETE FROM entry WHERE action = {middle}; DELETE FROM action WHERE seq = {middle}"
    ));
    let said = &cut.verify(None).unwrap().differences[0];
    assert!(
        said.contains(&format!("action {middle} is missing")),
        "{said}"
    );
    drop(cut);
    // The end cut off cleanly, with what followed from it built anew: only a head kept elsewhere can tell.
    let mut end = without(&format!(
        "DELETE FROM entry WHERE action = {newest}; DELETE FROM action WHERE seq = {newest}"
    ));
    end.rebuild().unwrap();
    assert_eq!(end.verify(None).unwrap().differences, Vec::<String>::new());
    let told = end.verify(Some(&head)).unwrap().differences;
    assert!(told[0].contains("is not in this ledger"), "{told:?}");
}

#[test]
fn a_reading_without_humidity_is_not_made_one_below_zero() {
    let mut shop = shop(1);
    let samples = [Sample {
        at: START,
        temperature: Temperature(21_000),
        humidity: None,
    }];
    shop.ledger
        .add_readings(
            "cure room",
            "logger.csv",
            &samples,
            &who("MK"),
            &stamp(START),
        )
        .unwrap();
    let path = shop.folder.path().join("shop.ledger");
    drop(shop.ledger);
    rusqlite::Connection::open(&path)
        .unwrap()
        .execute_batch("DROP TRIGGER reading_stays_update; UPDATE reading SET humidity_cpct = -1")
        .unwrap();
    let report = Ledger::open(&path).unwrap().verify(None).unwrap();
    assert!(
        report.differences[0].contains("readings of cure room"),
        "{report:?}"
    );
}
