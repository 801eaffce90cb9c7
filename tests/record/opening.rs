//! The rules that hold from the moment a ledger is opened, one test each.

use super::{shop, stamp, who};
use hangtime::ledger::{Ledger, LedgerError};
use hangtime::units::Moment;
use rusqlite::Connection;

#[test]
fn the_record_cannot_be_changed_deleted_or_replaced_by_sql() {
    let shop = shop(1);
    let path = shop.ledger.path().to_owned();
    drop(shop.ledger);
    let conn = Connection::open(&path).unwrap();
    for sql in [
        "UPDATE action SET person = 'XX' WHERE seq = 1",
        "DELETE FROM action WHERE seq = 1",
        "UPDATE entry SET body = '{}' WHERE seq = 1",
        "DELETE FROM entry WHERE seq = (SELECT max(seq) FROM entry)",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry WHERE seq = 1",
        "INSERT OR REPLACE INTO action SELECT * FROM action WHERE seq = 1",
        "INSERT INTO entry SELECT seq + 1000, action, piece, surface, branch, began, ended, day, kind, corrects, body, digest FROM entry WHERE seq = 1",
    ] {
        let said = conn.execute(sql, []).unwrap_err().to_string();
        assert!(said.contains("the record"), "{sql}: {said}");
    }
}

#[test]
fn a_changed_row_is_named() {
    let shop = shop(1);
    let path = shop.ledger.path().to_owned();
    drop(shop.ledger);
    let conn = Connection::open(&path).unwrap();
    conn.execute_batch("DROP TRIGGER entry_stays_update; UPDATE entry SET body = replace(body, 'cittern', 'Cittern') WHERE kind = 'added/1'")
        .unwrap();
    let entry: i64 = conn
        .query_row("SELECT seq FROM entry WHERE kind = 'added/1'", [], |r| {
            r.get(0)
        })
        .unwrap();
    drop(conn);
    let report = Ledger::open(&path).unwrap().verify(None).unwrap();
    assert!(
        report.differences[0].starts_with(&format!("entry {entry} of action")),
        "{report:?}"
    );
}

#[test]
fn a_changed_read_model_is_named() {
    let shop = shop(1);
    let path = shop.ledger.path().to_owned();
    drop(shop.ledger);
    Connection::open(&path)
        .unwrap()
        .execute("UPDATE standing SET film_nm = 1", [])
        .unwrap();
    let mut ledger = Ledger::open(&path).unwrap();
    let report = ledger.verify(None).unwrap();
    assert!(report.differences[0].contains("standing"), "{report:?}");
    ledger.rebuild().unwrap();
    assert!(ledger.verify(None).unwrap().differences.is_empty());
}

#[test]
fn a_head_that_was_kept_elsewhere_is_looked_for() {
    let shop = shop(1);
    let (_, head) = shop.ledger.head().unwrap();
    assert!(
        shop.ledger
            .verify(Some(&head))
            .unwrap()
            .differences
            .is_empty()
    );
    let other = "0".repeat(64);
    assert_eq!(
        shop.ledger.verify(Some(&other)).unwrap().differences.len(),
        1
    );
}

#[test]
fn a_kept_head_with_its_number_tells_a_cut_end_from_a_record_that_was_written_anew() {
    let shop = shop(1);
    let (newest, head) = shop.ledger.head().unwrap();
    let told = |kept: &str| shop.ledger.verify(Some(kept)).unwrap().differences;
    assert_eq!(told(&format!("{newest}:{head}")), Vec::<String>::new());
    assert_eq!(
        told(&format!(" {newest}:{}\n", head.to_uppercase())),
        Vec::<String>::new()
    );
    let other = "0".repeat(64);
    for (kept, said) in [
        (
            format!("{}:{other}", newest + 3),
            format!("actions {} to {} are missing", newest + 1, newest + 3),
        ),
        (
            format!("{newest}:{other}"),
            format!("action {newest} has another hash"),
        ),
        (
            format!("1:{head}"),
            format!("is the hash of action {newest}"),
        ),
        (other.clone(), "is not in this ledger".to_owned()),
    ] {
        let differences = told(&kept);
        assert!(differences[0].contains(&said), "{kept}: {differences:?}");
    }
    for kept in ["", "12", "x:00", "12:0011", &format!("1.5:{head}")] {
        assert!(
            matches!(shop.ledger.verify(Some(kept)), Err(LedgerError::Input(_))),
            "{kept}"
        );
    }
}

#[test]
fn what_cannot_be_read_any_more_is_a_difference_that_names_its_action() {
    let shop = shop(2);
    let path = shop.ledger.path().to_owned();
    drop(shop.ledger);
    for (change, said) in [
        (
            "UPDATE entry SET body = CAST(x'ff' AS TEXT) WHERE action = 5",
            "action 5",
        ),
        (
            "UPDATE action SET hash = x'00' WHERE seq = 4",
            "action 4 or one of its entries cannot be read",
        ),
    ] {
        let damaged = path.with_extension("damaged");
        std::fs::copy(&path, &damaged).unwrap();
        let conn = Connection::open(&damaged).unwrap();
        conn.execute_batch(&format!(
            "PRAGMA ignore_check_constraints = 1; DROP TRIGGER action_stays_update; DROP TRIGGER entry_stays_update; {change}"
        ))
        .unwrap();
        drop(conn);
        let report = Ledger::open(&damaged).unwrap().verify(None).unwrap();
        assert!(report.differences[0].contains(said), "{report:?}");
        std::fs::remove_file(&damaged).unwrap();
        let _ = std::fs::remove_file(path.with_extension("damaged.witness"));
    }
}

#[test]
fn a_beginning_that_is_cut_short_leaves_no_ledger_and_can_be_begun_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.ledger");
    // What an earlier run has left when it was ended in the middle.
    std::fs::write(folder.path().join("shop.ledger.starting"), "half").unwrap();
    assert!(matches!(Ledger::open(&path), Err(LedgerError::Missing(_))));
    let new = hangtime::ledger::NewShop {
        name: "x".into(),
        zone: "Europe/Berlin".into(),
        day_start: 6,
        demo: true,
    };
    let (mk, at) = (who("MK"), stamp(Moment(1)));
    drop(Ledger::create(&path, &new, &mk, &at).unwrap());
    let mut names: Vec<String> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        ["shop.ledger", "shop.ledger.turn", "shop.ledger.witness"]
    );
    // A ledger that was taken away without its write-ahead file must not be begun over it.
    std::fs::remove_file(&path).unwrap();
    std::fs::write(folder.path().join("shop.ledger-wal"), "its newest actions").unwrap();
    let said = Ledger::create(&path, &new, &mk, &at)
        .unwrap_err()
        .to_string();
    assert!(said.contains("without its ledger"), "{said}");
    std::fs::remove_file(folder.path().join("shop.ledger-wal")).unwrap();
    // The witness of the ledger that was removed is kept, and does not speak against the new one.
    drop(Ledger::create(&path, &new, &mk, &at).unwrap());
    assert!(folder.path().join("shop.ledger.witness.before").exists());
    assert_eq!(Ledger::open(&path).unwrap().name(), "x");
}

#[test]
fn a_writer_waits_for_its_turn_and_a_question_does_not() {
    let mut shop = shop(1);
    let turn = std::fs::File::options()
        .write(true)
        .open(shop.folder.path().join("shop.ledger.turn"))
        .unwrap();
    let (mk, at) = (who("MK"), stamp(Moment(1_773_050_500_000)));
    // Given back after a moment: the writer is served.
    turn.lock().unwrap();
    std::thread::scope(|scope| {
        scope.spawn(|| {
            std::thread::sleep(std::time::Duration::from_millis(80));
            turn.unlock().unwrap();
        });
        shop.ledger
            .declare_room("flash 1", None, 1_000, &mk, &at)
            .unwrap();
    });
    // Questions and other openings do not wait for it.
    turn.lock().unwrap();
    drop(Ledger::open(shop.ledger.path()).unwrap());
}

#[test]
fn a_file_that_is_no_ledger_is_refused_and_left_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "not a ledger, but somebody's notes, longer than a header of a hundred bytes, so that it is read as a file of its own").unwrap();
    assert!(matches!(Ledger::open(&text), Err(LedgerError::Foreign(..))));
    assert!(
        std::fs::read_to_string(&text)
            .unwrap()
            .starts_with("not a ledger")
    );
    let other = folder.path().join("other.db");
    Connection::open(&other)
        .unwrap()
        .execute_batch("CREATE TABLE t (x)")
        .unwrap();
    assert!(matches!(
        Ledger::open(&other),
        Err(LedgerError::Foreign(..))
    ));
}

#[test]
fn a_newer_schema_is_refused() {
    let shop = shop(1);
    let path = shop.ledger.path().to_owned();
    drop(shop.ledger);
    Connection::open(&path)
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    assert!(matches!(
        Ledger::open(&path),
        Err(LedgerError::Newer(_, 99, _))
    ));
}

#[cfg(unix)]
#[test]
fn a_second_name_and_a_file_that_everybody_can_write_are_refused() {
    use std::os::unix::fs::PermissionsExt;
    let shop = shop(1);
    let path = shop.ledger.path().to_owned();
    drop(shop.ledger);
    let mode = std::fs::metadata(&path).unwrap().permissions().mode() & 0o777;
    assert_eq!(
        mode & 0o007,
        0,
        "others have no access to a new ledger: {mode:o}"
    );
    let second = path.with_extension("second");
    std::fs::hard_link(&path, &second).unwrap();
    assert!(matches!(Ledger::open(&path), Err(LedgerError::Place(_))));
    std::fs::remove_file(&second).unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o666)).unwrap();
    assert!(matches!(Ledger::open(&path), Err(LedgerError::Place(_))));
}

#[test]
fn a_path_that_looks_like_a_uri_is_a_plain_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("file:x.ledger?mode=memory");
    let new = hangtime::ledger::NewShop {
        name: "x".into(),
        zone: "Europe/Berlin".into(),
        day_start: 6,
        demo: true,
    };
    drop(Ledger::create(&path, &new, &who("MK"), &stamp(Moment(1))).unwrap());
    assert!(path.exists());
    assert_eq!(Ledger::open(&path).unwrap().name(), "x");
}

#[test]
fn the_engine_holds_what_was_asked_of_it() {
    assert!(
        rusqlite::version_number() >= 3_051_003,
        "{}",
        rusqlite::version()
    );
    let shop = shop(1);
    let conn = Connection::open(shop.ledger.path()).unwrap();
    let mode: String = conn
        .pragma_query_value(None, "journal_mode", |r| r.get(0))
        .unwrap();
    assert_eq!(mode, "wal");
    let strict: i64 = conn
        .query_row("SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite%' AND strict = 0", [], |r| r.get(0))
        .unwrap();
    assert_eq!(strict, 0, "every table is STRICT");
}

#[test]
fn a_backup_opens_and_holds_the_same_head() {
    let shop = shop(2);
    let target = shop.folder.path().join("copy.ledger");
    let report = shop.ledger.backup(&target).unwrap();
    assert_eq!(report.head, shop.ledger.head().unwrap().1);
    assert!(
        Ledger::open(&target)
            .unwrap()
            .verify(Some(&report.head))
            .unwrap()
            .differences
            .is_empty()
    );
    assert!(
        matches!(shop.ledger.backup(&target), Err(LedgerError::Input(_))),
        "never overwrites"
    );
}

#[test]
fn a_ledger_from_before_the_people_list_gets_its_first_supervisor_from_its_first_entry() {
    let shop = shop(1);
    let path = shop.ledger.path().to_owned();
    let people = shop.ledger.people().unwrap();
    drop(shop.ledger);
    Connection::open(&path)
        .unwrap()
        .execute_batch(
            "DROP TABLE person; DROP TABLE clock_fix; DROP TABLE pin; DROP TABLE pin_try; DROP TABLE pin_wait;
             DROP TABLE boot; DROP TABLE signed_month;
             DROP TABLE stock_move; DROP TABLE rule_set; DROP TABLE noted;
             DROP TABLE day_use; DROP TABLE coat_day; DROP TABLE coat_room;
             DROP INDEX mix_parent; DROP INDEX used_lot; DROP INDEX entry_day; DROP INDEX stay_room;
             ALTER TABLE lot DROP COLUMN document; ALTER TABLE mix DROP COLUMN parent; ALTER TABLE mix DROP COLUMN left_ul;
             ALTER TABLE mix DROP COLUMN closed; ALTER TABLE mix DROP COLUMN drawn;
             ALTER TABLE room DROP COLUMN readings; ALTER TABLE pour DROP COLUMN fresh; ALTER TABLE used DROP COLUMN purpose;
             ALTER TABLE used DROP COLUMN day; ALTER TABLE ceiling DROP COLUMN warn; ALTER TABLE ceiling DROP COLUMN rules;
             PRAGMA user_version = 2",
        )
        .unwrap();
    let ledger = Ledger::open(&path).unwrap();
    assert_eq!(ledger.people().unwrap(), people);
    assert_eq!(people.len(), 1);
    assert!(ledger.verify(None).unwrap().differences.is_empty());
}
