//! Each released schema is kept as a small filled ledger: it must open, be brought to the newest schema, hold what it
//! held, and leave a backup of itself behind.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    missing_docs,
    dead_code,
    unreachable_pub,
    reason = "tests"
)]

#[path = "../flows/world.rs"]
mod world;

use rusqlite::types::Value;
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};
use world::{holds, run, split};

/// What was released is never edited: a ledger somewhere was made by exactly these bytes.
const RELEASED: &[(&str, &str)] = &[(
    "0001.sql",
    "aa10413e5d0f08af6fb6c78f25d75f45f5600d7fc27b4b1aef0401778507b67d",
)];

/// The record's own tables.
const RECORD: &[&str] = &["action", "entry", "reading"];

fn top() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

// A stored file: the schema's number, the file, and its month as the program of that time saw it.
fn stored() -> Vec<(i64, PathBuf, serde_json::Value)> {
    let folder = top().join("tests/migrations");
    let mut found = Vec::new();
    for number in 1.. {
        let file = folder.join(format!("schema-{number}.db"));
        if !file.exists() {
            break;
        }
        let month = std::fs::read_to_string(file.with_extension("json")).unwrap();
        found.push((number, file, serde_json::from_str(&month).unwrap()));
    }
    assert_eq!(
        found.len(),
        RELEASED.len(),
        "every released schema has its file"
    );
    found
}

fn reader(path: &Path) -> Connection {
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap()
}

fn rows(conn: &Connection, sql: &str) -> Vec<Vec<Value>> {
    let mut list = conn.prepare(sql).unwrap();
    let width = list.column_count();
    list.query_map([], |r| (0..width).map(|i| r.get(i)).collect())
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap()
}

fn record(conn: &Connection) -> Vec<Vec<Vec<Value>>> {
    RECORD
        .iter()
        .map(|table| rows(conn, &format!("SELECT * FROM {table} ORDER BY 1, 2")))
        .collect()
}

// A stored file in a folder of its own, as the ledger of a shop.
fn placed(file: &Path) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shop.ledger");
    std::fs::write(&path, std::fs::read(file).unwrap()).unwrap();
    (folder, path)
}

fn backups(folder: &Path) -> Vec<PathBuf> {
    std::fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().path())
        .filter(|f| f.extension().is_some_and(|e| e == "backup"))
        .collect()
}

// Everything that the old answer says, the new one says, too; it may say more.
fn still_said(old: &serde_json::Value, new: &serde_json::Value) {
    use serde_json::Value::{Array, Object};
    match (old, new) {
        (Object(o), Object(n)) => {
            // The note says in words what the figures are; it may be worded anew.
            for (key, value) in o.iter().filter(|(key, _)| *key != "note") {
                still_said(value, n.get(key).unwrap_or_else(|| panic!("{key} is gone")));
            }
        }
        (Array(o), Array(n)) => {
            assert_eq!(o.len(), n.len(), "{old} {new}");
            o.iter().zip(n).for_each(|(o, n)| still_said(o, n));
        }
        _ => assert_eq!(old, new),
    }
}

#[test]
fn a_released_step_is_never_edited() {
    for (name, hash) in RELEASED {
        let text = std::fs::read(top().join("migrations").join(name)).unwrap();
        let found = hangtime::ledger::sha256_hex(&text);
        assert_eq!(
            &found, hash,
            "migrations/{name} was released and is never edited; write a new step"
        );
    }
}

#[test]
fn every_stored_ledger_is_brought_to_the_newest_schema_with_its_data_intact() {
    for (schema, file, month) in stored() {
        let (folder, path) = placed(&file);
        let before = record(&reader(&path));
        let line = |words: &str| {
            run(
                folder.path(),
                &split(&format!("{words} --ledger '{}'", path.display())),
            )
        };

        let first = line("verify --json").good();
        holds(
            &first.err,
            &[&format!("from schema {schema} to "), ".backup", "head "],
        );
        assert_eq!(
            serde_json::from_str::<serde_json::Value>(&first.out).unwrap()["differences"],
            serde_json::json!([])
        );
        assert_eq!(line("verify").good().err, "", "it is done once");
        still_said(&month, &line("month 2026-03 --json").json());

        let upgraded = reader(&path);
        assert_eq!(record(&upgraded), before);
        for (check, says) in [("integrity_check", "ok"), ("quick_check", "ok")] {
            assert_eq!(
                rows(&upgraded, &format!("PRAGMA {check}")),
                [[Value::Text(says.to_owned())]]
            );
        }
        assert_eq!(
            rows(&upgraded, "PRAGMA foreign_key_check"),
            Vec::<Vec<Value>>::new()
        );

        // The backup is the ledger as it was, in one file.
        let [backup] = backups(folder.path()).try_into().unwrap();
        let name = backup.file_name().unwrap().to_str().unwrap();
        holds(name, &[&format!("shop.ledger.schema-{schema}.2026")]);
        let kept = reader(&backup);
        assert_eq!(
            rows(&kept, "PRAGMA user_version"),
            [[Value::Integer(schema)]]
        );
        assert_eq!(
            rows(&kept, "PRAGMA journal_mode"),
            [[Value::Text("delete".to_owned())]]
        );
        assert_eq!(record(&kept), before);
    }
}

#[test]
fn an_upgraded_ledger_has_the_tables_of_a_new_one() {
    let tables = "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name";
    for (_, file, _) in stored() {
        let (folder, path) = placed(&file);
        run(
            folder.path(),
            &split(&format!("verify --ledger '{}'", path.display())),
        )
        .good();
        run(
            folder.path(),
            &split("open --name New --zone Europe/Berlin --as MK --ledger new.ledger"),
        )
        .good();
        assert_eq!(
            rows(&reader(&path), tables),
            rows(&reader(&folder.path().join("new.ledger")), tables)
        );
    }
}

// The read models of an upgraded ledger, against those that a new ledger makes of the same record.
#[test]
fn an_upgraded_ledger_follows_from_its_record_like_a_new_one() {
    for (_, file, _) in stored() {
        let (folder, path) = placed(&file);
        let line = |words: &str| run(folder.path(), &split(words)).good();
        line(&format!("export copy --ledger '{}'", path.display()));
        line("import copy --ledger new.ledger");
        let (upgraded, new) = (reader(&path), reader(&folder.path().join("new.ledger")));
        let tables = rows(
            &new,
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'",
        );
        assert!(tables.len() > 20, "{tables:?}");
        for table in tables.iter().flatten() {
            let Value::Text(table) = table else {
                panic!("{table:?}");
            };
            let all = format!("SELECT * FROM {table} ORDER BY 1, 2");
            assert_eq!(rows(&upgraded, &all), rows(&new, &all), "{table}");
        }
    }
}

// The backup stands already, so that the limit on the size of files strikes in the steps themselves: once the kernel ends
// the program in the middle of its writing, once the program hears that there is no room.
#[cfg(target_os = "linux")]
#[test]
fn an_upgrade_that_is_cut_short_leaves_the_ledger_as_it_was() {
    for (schema, file, _) in stored() {
        let (first, path) = placed(&file);
        let verify = |path: &Path| format!("verify --ledger '{}'", path.display());
        run(first.path(), &split(&verify(&path))).good();
        let [kept] = backups(first.path()).try_into().unwrap();
        for (how, code) in [("", None), ("trap '' XFSZ;", Some(3))] {
            let (folder, path) = placed(&file);
            let before = record(&reader(&path));
            let beside = folder.path().join(kept.file_name().unwrap());
            std::fs::write(&beside, std::fs::read(&kept).unwrap()).unwrap();
            let cut = std::process::Command::new("sh")
                .env_clear()
                .env("HOME", folder.path())
                .arg("-c")
                .arg(format!(
                    "{how} ulimit -f 90; exec '{}' {}",
                    env!("CARGO_BIN_EXE_hangtime"),
                    verify(&path)
                ))
                .output()
                .unwrap();
            let said = String::from_utf8_lossy(&cut.stderr).into_owned();
            assert_eq!(cut.status.code(), code, "{said}");
            if code.is_some() {
                holds(&said, &["could not be brought", "as it was", ".backup"]);
            }
            let held = reader(&path);
            assert_eq!(
                rows(&held, "PRAGMA user_version"),
                [[Value::Integer(schema)]]
            );
            assert_eq!(record(&held), before);
            drop(held);
            assert_eq!(backups(folder.path()), [beside]);
            run(folder.path(), &split(&verify(&path))).good();
        }
    }
}

#[test]
fn an_upgrade_waits_for_its_turn_and_two_terminals_upgrade_once() {
    for (_, file, _) in stored() {
        let (folder, path) = placed(&file);
        let start = || {
            std::process::Command::new(env!("CARGO_BIN_EXE_hangtime"))
                .env_clear()
                .env("HOME", folder.path())
                .args(["verify", "--ledger"])
                .arg(&path)
                .stderr(std::process::Stdio::piped())
                .stdout(std::process::Stdio::piped())
                .spawn()
                .unwrap()
        };
        let said: Vec<String> = [start(), start(), start()]
            .into_iter()
            .map(|child| {
                let done = child.wait_with_output().unwrap();
                let said = String::from_utf8(done.stderr).unwrap();
                assert_eq!(done.status.code(), Some(0), "{said}");
                said
            })
            .collect();
        let upgrades = said.iter().filter(|s| s.contains("from schema")).count();
        assert_eq!(upgrades, 1, "{said:?}");
        assert_eq!(backups(folder.path()).len(), 1);
    }
}
