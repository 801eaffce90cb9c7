//! Copies for inspection: the whole record as open files, out and in again.

use crate::world::{World, holds, run, split};
use crate::{files, lived_in};
use serde_json::Value;
use std::path::{Path, PathBuf};

// A shop whose record also holds readings, and a text that a spreadsheet would compute.
fn inspected() -> World {
    let world = lived_in();
    let readings = world.file(
        "cure.csv",
        "time,temperature,humidity\n2026-03-06 06:00,21.0,45\n2026-03-06 06:15,21.5,\n2026-03-06 06:30,21.5,44\n",
    );
    let desk = world.at("2026-03-06 13:00");
    desk.run("room declare '=cure room' --every '15 min'")
        .good();
    desk.run(&format!(
        "room readings '=cure room' '{}'",
        readings.display()
    ))
    .good();
    desk.station("@booth")
        .run("note B-0201 --why 'tack rag \"new\"'")
        .good();
    world
}

fn line<'v>(text: &'v str, table: &str) -> Vec<&'v str> {
    let lines: Vec<&str> = text.lines().collect();
    assert!(!lines.is_empty(), "{table}");
    lines
}

fn export(world: &World, name: &str) -> (PathBuf, Value) {
    let manifest = world.now().json(&format!("export {name}"));
    (world.home().join(name), manifest)
}

fn import(world: &World, folder: &Path, ledger: &str) -> crate::world::Answer {
    run(
        world.home(),
        &split(&format!(
            "import '{}' --ledger {ledger} --json",
            folder.display()
        )),
    )
}

type Change = Box<dyn Fn(&str) -> String>;

// The export with one file changed.
fn changed(
    world: &World,
    from: &Path,
    name: &str,
    file: &str,
    change: impl Fn(&str) -> String,
) -> PathBuf {
    let folder = world.home().join(name);
    std::fs::create_dir(&folder).unwrap();
    for f in files(from) {
        let text = std::fs::read_to_string(from.join(&f)).unwrap();
        let text = if f == file { change(&text) } else { text };
        std::fs::write(folder.join(f), text).unwrap();
    }
    folder
}

#[test]
fn an_export_holds_every_row_and_says_what_it_is() {
    let world = inspected();
    let (folder, manifest) = export(&world, "copy");
    assert_eq!(
        files(&folder),
        [
            "actions.csv",
            "actions.jsonl",
            "entries.csv",
            "entries.jsonl",
            "manifest.json",
            "readings.csv",
            "readings.jsonl"
        ]
    );
    let verified = world.now().json("verify");
    assert_eq!(manifest["head"], verified["head"]);
    assert_eq!(manifest["demo"], true);
    assert_eq!(manifest["zone"], "America/New_York");
    for table in ["actions", "entries", "readings"] {
        let count = world.count(&format!(
            "SELECT count(*) FROM {}",
            match table {
                "entries" => "entry",
                t => t.trim_end_matches('s'),
            }
        ));
        assert_eq!(manifest[table], count);
        let lines = std::fs::read_to_string(folder.join(format!("{table}.jsonl"))).unwrap();
        assert_eq!(i64::try_from(line(&lines, table).len()).unwrap(), count);
        let mut sheet = csv::Reader::from_path(folder.join(format!("{table}.csv"))).unwrap();
        assert_eq!(i64::try_from(sheet.records().count()).unwrap(), count);
    }
    for file in manifest["files"].as_array().unwrap() {
        let bytes = std::fs::read(folder.join(file["name"].as_str().unwrap())).unwrap();
        assert_eq!(file["sha256"], hangtime::ledger::sha256_hex(&bytes));
        assert_eq!(file["bytes"], bytes.len());
    }
    // Said on the screen, too, and never over another folder.
    holds(
        &world.now().run("export other").good().out,
        &["written to other", verified["head"].as_str().unwrap()],
    );
    holds(
        &world.now().run("export other").refused(2),
        &["exists already"],
    );
}

#[test]
fn no_text_of_a_sheet_starts_as_a_formula_and_the_lines_are_exact() {
    let world = inspected();
    let (folder, _) = export(&world, "copy");
    let mut guarded = 0;
    for table in ["actions", "entries", "readings"] {
        let mut sheet = csv::Reader::from_path(folder.join(format!("{table}.csv"))).unwrap();
        let lines = std::fs::read_to_string(folder.join(format!("{table}.jsonl"))).unwrap();
        let names = sheet.headers().unwrap().clone();
        for (row, line) in sheet.records().zip(lines.lines()) {
            let exact: Value = serde_json::from_str(line).unwrap();
            for (name, cell) in names.iter().zip(&row.unwrap()) {
                match &exact[name] {
                    Value::Null => assert_eq!(cell, ""),
                    Value::Number(n) => assert_eq!(cell, n.to_string()),
                    text => {
                        let text = text.as_str().unwrap();
                        assert!(!cell.starts_with(['=', '+', '-', '@']), "{name}: {cell}");
                        guarded += usize::from(cell.starts_with('\''));
                        assert_eq!(cell.trim_start_matches('\''), text);
                    }
                }
            }
        }
    }
    // Three readings of "=cure room" and the station "@booth".
    assert_eq!(guarded, 4);
}

#[test]
fn an_export_taken_in_gives_the_same_head_and_the_same_answers() {
    let world = inspected();
    let (folder, manifest) = export(&world, "copy");
    assert_eq!(
        import(&world, &folder, "new.ledger").json()["head"],
        manifest["head"]
    );
    let new = |line: &str| {
        run(
            world.home(),
            &split(&format!("{line} --json --ledger new.ledger")),
        )
        .json()
    };
    assert_eq!(new("verify"), world.now().json("verify"));
    for question in [
        "month 2026-03",
        "entries",
        "floor --at '2026-03-09 07:00'",
        "deviations",
        "piece show B-0201 --at '2026-03-09 07:00'",
    ] {
        let ours = run(world.home(), &split(&format!("{question} --json"))).json();
        assert_eq!(new(question), ours, "{question}");
    }
    // Out again: the same record, byte for byte.
    run(world.home(), &split("export again --ledger new.ledger")).good();
    for file in files(&folder).iter().filter(|f| *f != "manifest.json") {
        assert_eq!(
            std::fs::read(folder.join(file)).unwrap(),
            std::fs::read(world.home().join("again").join(file)).unwrap(),
            "{file}"
        );
    }
    // Into a new ledger only.
    holds(
        &import(&world, &folder, "new.ledger").refused(2),
        &["exists already", "new ledger"],
    );
}

#[test]
fn a_changed_export_is_refused_at_its_first_line_that_differs_and_nothing_is_left() {
    let world = inspected();
    let (folder, manifest) = export(&world, "copy");
    let edit = |number: usize, from: &'static str, to: &'static str| {
        move |text: &str| -> String {
            let mut out = String::new();
            for (n, line) in text.lines().enumerate() {
                if n + 1 == number {
                    assert!(line.contains(from), "{line}");
                    out.push_str(&line.replacen(from, to, 1));
                } else {
                    out.push_str(line);
                }
                out.push('\n');
            }
            out
        }
    };
    let without = |number: usize| {
        move |text: &str| -> String {
            text.split_inclusive('\n')
                .enumerate()
                .filter(|(n, _)| n + 1 != number)
                .map(|(_, line)| line)
                .collect()
        }
    };
    let entries = usize::try_from(manifest["entries"].as_i64().unwrap()).unwrap();
    let head = manifest["head"].as_str().unwrap().to_owned();
    let cases: Vec<(&str, Change, Vec<&str>)> = vec![
        (
            "actions.jsonl",
            Box::new(edit(3, "\"MK\"", "\"MX\"")),
            vec!["actions.jsonl:3: action 3 was changed"],
        ),
        (
            "entries.jsonl",
            Box::new(edit(12, "\"branch\":0", "\"branch\":1")),
            vec!["entries.jsonl:12: entry 12 was changed"],
        ),
        (
            "readings.jsonl",
            Box::new(edit(2, "21500", "21400")),
            vec!["readings.jsonl:1: readings of", "lines 1 to 3"],
        ),
        (
            "readings.jsonl",
            Box::new(without(3)),
            vec!["readings.jsonl:1: readings of"],
        ),
        (
            "actions.jsonl",
            Box::new(without(4)),
            vec!["actions.jsonl:4: action 4 is missing"],
        ),
        (
            "entries.jsonl",
            Box::new(without(7)),
            vec!["entries.jsonl:7: entry 7 is missing"],
        ),
        (
            "entries.jsonl",
            Box::new(without(entries)),
            vec!["entries.jsonl:", "is missing"],
        ),
        (
            "actions.jsonl",
            Box::new(edit(2, "\"seq\"", "\"nr\"")),
            vec!["actions.jsonl:2: unknown field `nr`"],
        ),
        (
            "actions.jsonl",
            Box::new(edit(5, "{", "")),
            vec!["actions.jsonl:5: "],
        ),
        (
            "actions.jsonl",
            Box::new(|t| t.replace("}\n", "}\r\n")),
            vec!["actions.jsonl: its SHA-256"],
        ),
        (
            "manifest.json",
            Box::new(move |t| t.replace(&head, &"0".repeat(64))),
            vec!["manifest.json: the head is not"],
        ),
        (
            "manifest.json",
            Box::new(|t| t.replace("\"demo\": true", "\"demo\": false")),
            vec!["manifest.json: ", "demo"],
        ),
        (
            "manifest.json",
            Box::new(|t| t.replace("export 1", "export 9")),
            vec!["manifest.json: the form", "export 9"],
        ),
    ];
    for (number, (file, change, wanted)) in cases.into_iter().enumerate() {
        let bad = changed(&world, &folder, &format!("bad-{number}"), file, change);
        let said = import(&world, &bad, "bad.ledger").refused(2);
        holds(&said, &wanted);
        holds(&said, &["nothing was taken in"]);
        let left: Vec<String> = files(world.home())
            .into_iter()
            .filter(|f| f.starts_with("bad.ledger"))
            .collect();
        assert_eq!(left, Vec::<String>::new());
    }
    holds(
        &import(&world, world.home(), "bad.ledger").refused(2),
        &["manifest.json", "cannot be read"],
    );
}

#[test]
fn a_damaged_record_is_not_handed_out() {
    let world = inspected();
    world.tamper("UPDATE entry SET branch = 1 WHERE seq = 12");
    let said = world.now().run("export copy").refused(3);
    holds(&said, &["entry 12"]);
    assert!(!files(world.home()).iter().any(|f| f.starts_with("copy")));
}

#[test]
fn a_short_script_of_another_hand_computes_the_same_head() {
    let found = std::process::Command::new("python3")
        .arg("--version")
        .output();
    if !found.is_ok_and(|v| v.status.success()) {
        eprintln!("python3 is missing: the head was not recomputed by another hand");
        return;
    }
    let world = inspected();
    let (folder, manifest) = export(&world, "copy");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/keeping/recompute_head.py");
    let recompute = |folder: &Path| {
        let done = std::process::Command::new("python3")
            .arg(&script)
            .arg(folder)
            .output()
            .unwrap();
        assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        );
        String::from_utf8(done.stdout).unwrap().trim().to_owned()
    };
    let head = manifest["head"].as_str().unwrap();
    assert_eq!(
        recompute(&folder),
        format!("{} {head}", manifest["head_action"])
    );
    let bad = changed(&world, &folder, "bad", "entries.jsonl", |t| {
        t.replacen("Bench", "Bunch", 1)
    });
    assert!(!recompute(&bad).contains(head));
}

// The newest actions lay in a write-ahead file that is gone, and the witness saw them.
fn without_its_end(world: &World, lost: usize) -> i64 {
    let held = rusqlite::Connection::open(world.ledger()).unwrap();
    held.execute_batch("BEGIN; SELECT * FROM action").unwrap();
    let before = std::fs::read(world.ledger()).unwrap();
    let kept = world.count("SELECT max(seq) FROM action");
    for n in 0..lost {
        world
            .at("2026-03-06 14:00")
            .run(&format!("note B-0201 --why lost-{n}"))
            .good();
    }
    drop(held);
    for more in ["ledger-wal", "ledger-shm"] {
        let _ = std::fs::remove_file(world.ledger().with_extension(more));
    }
    std::fs::write(world.ledger(), before).unwrap();
    kept
}

#[test]
fn a_ledger_that_lost_its_end_is_exported_and_what_is_missing_is_said() {
    let world = inspected();
    let (_, whole) = export(&world, "whole");
    assert!(whole.get("against_witness").is_none(), "{whole}");
    let kept = without_its_end(&world, 2);
    let answer = world.now().run("export rest");
    assert_eq!(answer.code, 1, "{answer:?}");
    let said = format!(
        "actions {} to {} were saved and are no longer there",
        kept + 1,
        kept + 2
    );
    holds(&answer.err, &[&said]);
    let manifest = std::fs::read_to_string(world.home().join("rest/manifest.json")).unwrap();
    let manifest: Value = serde_json::from_str(&manifest).unwrap();
    assert_eq!(manifest["against_witness"], said);
    assert_eq!(manifest["head_action"], kept);
    // What is left is a whole record, and says of what it is the rest.
    let taken = import(&world, &world.home().join("rest"), "new.ledger").json();
    assert_eq!(taken["head"], manifest["head"]);
    assert_eq!(taken["against_witness"], said);
    // A backup of it says so, too.
    let answer = world.now().run("backup rest.backup");
    holds(&answer.err, &[&said]);
}
