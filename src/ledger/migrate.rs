//! Bringing a ledger of an older schema to the newest one.
//!
//! *Invariants*: forward only; all steps, the read models built anew and the new number are one transaction, behind
//! the turn file, so that a step that cannot be taken leaves the ledger as it was and no terminal sees half of it. Before the
//! first step a backup is written beside the ledger and checked; without it no step is taken. The record's own tables
//! are never written here.

use super::backup::{BackupReport, beside, write_copy};
use super::error::LedgerError;
use super::open::{APPLICATION_ID, Ledger, MIGRATIONS, reader, settings};
use super::turn::TurnFile;
use super::verify::replace_read_models;
use rusqlite::{Connection, TransactionBehavior};
use std::path::{Path, PathBuf};

/// What an upgrade did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upgrade {
    /// Schema before.
    pub from: i64,
    /// Schema after.
    pub to: i64,
    /// The ledger as it was.
    pub backup: BackupReport,
}

/// Takes the steps that the ledger lacks; `None` where there was nothing to do or nothing to keep.
pub(super) fn migrate(
    conn: &mut Connection,
    path: &Path,
    turn: &TurnFile,
    steps: &[&str],
) -> Result<Option<Upgrade>, LedgerError> {
    let newest = i64::try_from(steps.len()).unwrap_or(i64::MAX);
    if version(conn)? == newest {
        return Ok(None);
    }
    // Whoever writes waits for the turn, however long the steps take; a reader goes on reading what was.
    let _turn = turn.take()?;
    let tx = conn.transaction_with_behavior(TransactionBehavior::Exclusive)?;
    let held = version(&tx)?;
    if held > newest {
        return Err(LedgerError::Newer(path.to_path_buf(), held, newest));
    }
    if held == newest {
        return Ok(None);
    }
    let backup = if held > 0 {
        Some(keep(path, held)?)
    } else {
        None
    };
    let taken = take(&tx, held, newest, steps).and_then(|()| Ok(tx.commit()?));
    taken.map_err(|e| match &backup {
        Some(kept) => LedgerError::Upgrade {
            from: held,
            to: newest,
            backup: kept.path.clone(),
            why: e.to_string(),
        },
        None => e,
    })?;
    Ok(backup.map(|backup| Upgrade {
        from: held,
        to: newest,
        backup,
    }))
}

pub(super) fn version(conn: &Connection) -> Result<i64, LedgerError> {
    Ok(conn.pragma_query_value(None, "user_version", |r| r.get(0))?)
}

/// Refuses to write once a newer version has brought the ledger to its own schema under an open terminal: what this
/// version would write into the read models is not what that one follows from the record.
pub(super) fn still_ours(tx: &Connection) -> Result<(), LedgerError> {
    let held = version(tx)?;
    let ours = i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX);
    if held > ours {
        let path = tx.path().unwrap_or_default().into();
        return Err(LedgerError::Newer(path, held, ours));
    }
    Ok(())
}

// A read model of an older schema may lack what a newer one follows from the same entries, so that all of them are
// built anew; `verify` then finds what it would find in a ledger that was new today.
fn take(tx: &Connection, held: i64, newest: i64, steps: &[&str]) -> Result<(), LedgerError> {
    for step in steps.iter().skip(usize::try_from(held).unwrap_or(0)) {
        tx.execute_batch(step)?;
    }
    if held > 0 {
        let (_, calendar, _) = settings(tx)?;
        replace_read_models(tx, calendar)?;
        let said: String = tx.query_row("PRAGMA quick_check(1)", [], |r| r.get(0))?;
        if said != "ok" {
            return Err(LedgerError::Damaged(format!(
                "the engine's own check says: {said}"
            )));
        }
    }
    tx.pragma_update(None, "application_id", APPLICATION_ID)?;
    tx.pragma_update(None, "user_version", newest)?;
    Ok(())
}

// The transaction of the steps is open and nothing was written in it yet: a second connection sees the ledger as it is,
// and nobody can write to it.
fn keep(path: &Path, held: i64) -> Result<BackupReport, LedgerError> {
    let source = reader(path)?;
    let newest: i64 =
        source.query_row("SELECT coalesce(max(written), 0) FROM action", [], |r| {
            r.get(0)
        })?;
    let name = beside(
        path,
        &format!(
            ".schema-{held}.{}",
            super::backup::compact(crate::units::Moment(newest))
        ),
    );
    for number in 1_u32.. {
        let target = if number == 1 {
            beside(&name, ".backup")
        } else {
            beside(&name, &format!("-{number}.backup"))
        };
        if !target.exists() {
            return write_copy(&source, &target);
        }
        // An upgrade that did not come to its end has left the same backup before.
        if let Some(kept) = same(&source, target)? {
            return Ok(kept);
        }
    }
    Err(LedgerError::Place(format!(
        "no name is left for a backup of {}",
        path.display()
    )))
}

fn same(source: &Connection, target: PathBuf) -> Result<Option<BackupReport>, LedgerError> {
    let Ok(kept) = Ledger::open_copy(&target) else {
        return Ok(None);
    };
    let (actions, head) = kept.head()?;
    let newest: (i64, [u8; 32]) = source.query_row(
        "SELECT seq, hash FROM action ORDER BY seq DESC LIMIT 1",
        [],
        |r| Ok((r.get(0)?, r.get(1)?)),
    )?;
    let whole = (actions, head.as_str()) == (newest.0, super::chain::hex(&newest.1).as_str())
        && super::backup::difference(&kept)?.is_none();
    Ok(whole.then_some(BackupReport {
        path: target,
        actions,
        head,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rusqlite::types::Value;

    fn stored() -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shop.ledger");
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/migrations/schema-1.db");
        std::fs::copy(file, &path).unwrap();
        (folder, path)
    }

    fn turn(path: &Path) -> TurnFile {
        TurnFile::of(path).unwrap()
    }

    // The record, and what lies beside it: neither is built anew from the record.
    const NO_READ_MODELS: [&str; 7] = [
        "action", "entry", "reading", "boot", "pin", "pin_try", "pin_wait",
    ];

    // A table that is in neither list would not be rebuilt, and `verify` would never look at it.
    #[test]
    fn every_table_of_the_schema_is_of_the_record_beside_it_or_a_read_model() {
        let conn = Connection::open_in_memory().unwrap();
        for step in MIGRATIONS {
            conn.execute_batch(step).unwrap();
        }
        let mut tables = conn
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'")
            .unwrap();
        let mut found: Vec<String> = tables
            .query_map([], |r| r.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        found.sort();
        let mut listed: Vec<&str> = super::super::models::TABLES
            .iter()
            .chain(&NO_READ_MODELS)
            .copied()
            .collect();
        listed.sort_unstable();
        assert_eq!(
            found, listed,
            "a read model has its name in TABLES (ledger/models.rs), another table in NO_READ_MODELS here"
        );
    }

    fn opened(path: &Path) -> Connection {
        let conn = Connection::open(path).unwrap();
        conn.pragma_update(None, "journal_mode", "wal").unwrap();
        conn
    }

    fn everything(path: &Path) -> Vec<Vec<Value>> {
        let conn = reader(path).unwrap();
        let mut tables: Vec<String> = conn
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
            .unwrap()
            .query_map([], |r| r.get(0))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        tables.push("sqlite_schema".to_owned());
        let mut out = vec![vec![Value::Integer(version(&conn).unwrap())]];
        for table in tables {
            let mut list = conn.prepare(&format!("SELECT * FROM {table}")).unwrap();
            let width = list.column_count();
            let mut rows = list.query([]).unwrap();
            while let Some(r) = rows.next().unwrap() {
                out.push((0..width).map(|i| r.get(i).unwrap()).collect());
            }
        }
        out
    }

    #[test]
    fn a_step_that_cannot_be_taken_leaves_the_ledger_as_it_was_and_its_backup_beside_it() {
        let (folder, path) = stored();
        let before = everything(&path);
        let steps: Vec<&str> = MIGRATIONS
            .iter()
            .copied()
            .chain([
                "CREATE TABLE half (a INTEGER); DROP TABLE survey; INSERT INTO nowhere VALUES (1)",
            ])
            .collect();
        let mut conn = opened(&path);
        let said = migrate(&mut conn, &path, &turn(&path), &steps)
            .unwrap_err()
            .to_string();
        for wanted in [
            "from schema 1 to",
            "as it was",
            "nowhere",
            ".schema-1.20260401T043000Z.backup",
        ] {
            assert!(said.contains(wanted), "{said}");
        }
        drop(conn);
        assert_eq!(everything(&path), before);
        // Trying again adds no second backup of the same record.
        let mut conn = opened(&path);
        migrate(&mut conn, &path, &turn(&path), &steps).unwrap_err();
        drop(conn);
        let backups: Vec<PathBuf> = std::fs::read_dir(folder.path())
            .unwrap()
            .map(|f| f.unwrap().path())
            .filter(|f| f.to_str().unwrap().contains("schema-1"))
            .collect();
        let [backup] = backups.as_slice() else {
            panic!("{backups:?}");
        };
        assert_eq!(everything(backup), before);
        // What the new steps could not do, the released ones still can.
        let ledger = Ledger::open(&path).unwrap();
        assert_eq!(
            ledger.verify(None).unwrap().differences,
            Vec::<String>::new()
        );
    }

    #[test]
    fn a_backup_of_another_record_under_the_same_name_is_left_alone() {
        let (folder, path) = stored();
        let taken = folder
            .path()
            .join("shop.ledger.schema-1.20260401T043000Z.backup");
        std::fs::write(&taken, "something else").unwrap();
        let upgraded = Ledger::open(&path).unwrap().upgraded().cloned().unwrap();
        assert_eq!(
            upgraded.backup.path,
            folder
                .path()
                .join("shop.ledger.schema-1.20260401T043000Z-2.backup")
        );
        assert_eq!(std::fs::read(&taken).unwrap(), b"something else");
    }

    #[test]
    fn a_terminal_of_an_older_version_stops_writing_once_the_ledger_is_newer_than_it() {
        let (_folder, path) = stored();
        let mut terminal = Ledger::open(&path).unwrap();
        let before = terminal.head().unwrap();
        let next = i64::try_from(MIGRATIONS.len()).unwrap() + 1;
        Connection::open(&path)
            .unwrap()
            .pragma_update(None, "user_version", next)
            .unwrap();
        let who = super::super::Who {
            person: "MK".to_owned(),
            writer: "MK".to_owned(),
            station: "booth-1".to_owned(),
        };
        let stamp = super::super::Stamp {
            written: crate::units::Moment(1_800_000_000_000),
            clock: "demo",
            boot_ms: None,
        };
        let said = terminal
            .declare_room("flash 2", None, 1_000, &who, &stamp)
            .unwrap_err()
            .to_string();
        assert!(said.contains("written by a newer version"), "{said}");
        // It goes on reading, and nothing was written.
        assert_eq!(terminal.head().unwrap(), before);
    }

    #[test]
    fn without_a_backup_no_step_is_taken() {
        let (folder, path) = stored();
        let conn = Connection::open(&path).unwrap();
        conn.execute_batch(
            "DROP TRIGGER entry_stays_update; UPDATE entry SET body = '{}' WHERE seq = 30",
        )
        .unwrap();
        drop(conn);
        let before = everything(&path);
        let said = Ledger::open(&path).unwrap_err().to_string();
        assert!(said.contains("entry 30"), "{said}");
        assert_eq!(everything(&path), before);
        let left: Vec<_> = std::fs::read_dir(folder.path())
            .unwrap()
            .map(|f| f.unwrap().file_name().into_string().unwrap())
            .filter(|f| f.contains("backup"))
            .collect();
        assert_eq!(left, Vec::<String>::new());
    }
}
