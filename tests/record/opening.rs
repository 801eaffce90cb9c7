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
             DROP TABLE boot; PRAGMA user_version = 2",
        )
        .unwrap();
    let ledger = Ledger::open(&path).unwrap();
    assert_eq!(ledger.people().unwrap(), people);
    assert_eq!(people.len(), 1);
    assert!(ledger.verify(None).unwrap().differences.is_empty());
}
