//! The record itself: both times on every entry, corrections that stay readable, verification, backups, and files
//! that are no ledger.

use crate::world::{World, holds, program, run, split};
use serde_json::{Value, json};

// A small shop with a rack, a correction and a deviation in it.
fn lived_in() -> World {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 6);
    world.bring_to(
        "--rack R12",
        5,
        "2026-03-06 10:00",
        "--mix 1 --amount 288mL",
    );
    world
        .at("2026-03-06 11:10")
        .run("coat --rack R12 --coat 6 --mix 1 --amount 288mL")
        .good();
    world.at("2026-03-06 11:12").run("undo").good();
    world
        .at("2026-03-06 11:20")
        .run("hold B-0203 --why 'drip on the side'")
        .good();
    world
        .at("2026-03-06 11:30")
        .run("scrap B-0206 --why 'split neck block'")
        .good();
    world
        .at("2026-03-06 12:30")
        .run("coat --rack R12 --mix 1 --amount 192mL")
        .good();
    world
}

fn differences(world: &World, more: &str) -> Vec<String> {
    let answer = world.now().run(&format!("verify --json {more}"));
    let value: Value = serde_json::from_str(&answer.out).unwrap();
    let list: Vec<String> = serde_json::from_value(value["differences"].clone()).unwrap();
    assert_eq!(answer.code, i32::from(!list.is_empty()), "{list:?}");
    list
}

#[test]
fn every_entry_lists_who_did_it_who_wrote_it_and_both_times() {
    let world = lived_in();
    world
        .at("2026-03-06 15:00")
        .person("DV")
        .run("note B-0201 --why 'hairline near the heel' --by QP --ended 13:00")
        .good();
    let list = world.now().json("entries");
    for entry in list.as_array().unwrap() {
        for field in [
            "what",
            "by",
            "written_by",
            "station",
            "began",
            "ended",
            "written",
            "day",
        ] {
            assert!(
                !entry[field].as_str().unwrap().is_empty(),
                "{field} of {entry}"
            );
        }
        assert!(
            entry["ended"].as_str() <= entry["written"].as_str(),
            "{entry}"
        );
    }
    let note = list.as_array().unwrap().last().unwrap();
    assert_eq!(note["by"], "QP");
    assert_eq!(note["written_by"], "DV");
    assert_eq!(note["ended"], "2026-03-06T13:00:00.000-05:00");
    assert_eq!(note["written"], "2026-03-06T15:00:00.000-05:00");
    let said = world.now().run("entries B-0201").good().out;
    let line = said.lines().last().unwrap();
    holds(
        line,
        &[
            "QP",
            "2026-03-06 13:00:00 EST",
            "written late: 2026-03-06 15:00:00 EST",
            "[by DV]",
        ],
    );
}

#[test]
fn a_correction_stays_readable_beside_what_it_struck() {
    let world = World::new();
    world.piece("2026-03-03 07:00", "B-0203", "G9", "");
    world.bring_to("B-0203", 1, "2026-03-06 10:00", "");
    let list = world.now().json("entries B-0203");
    let entry = list.as_array().unwrap().last().unwrap()["entry"].clone();
    world
        .at("2026-03-06 14:00")
        .person("JT")
        .station("office")
        .run(&format!("void {entry} --why 'was the body beside it'"))
        .good();
    let said = world.now().run("piece show B-0203").good().out;
    let struck = said
        .lines()
        .find(|l| l.trim_start().starts_with(&format!("{entry} ")))
        .unwrap();
    holds(
        struck,
        &[
            "MK",
            "clear coat",
            "2026-03-06 10:00:00 EST",
            "TAKEN BACK by",
        ],
    );
    let void = said.lines().find(|l| l.contains("taken back: ")).unwrap();
    holds(
        void,
        &[
            "JT",
            "was the body beside it",
            "2026-03-06 14:00:00 EST",
            &format!("[corrects {entry}]"),
        ],
    );

    // What is struck cannot be struck again, and a correction is not corrected but entered anew.
    let said = world
        .now()
        .run(&format!("void {entry} --why again"))
        .refused(2);
    holds(&said, &["already taken back"]);
    let void = world
        .now()
        .json("entries B-0203")
        .as_array()
        .unwrap()
        .last()
        .unwrap()["entry"]
        .clone();
    let said = world
        .now()
        .run(&format!("void {void} --why again"))
        .refused(2);
    holds(&said, &["correction itself"]);
    // A reason is asked for before anything is written.
    world.now().run(&format!("void {void}")).refused(2);
}

#[test]
fn what_was_rebuilt_equals_what_was_kept() {
    let world = lived_in();
    assert_eq!(differences(&world, ""), Vec::<String>::new());
    let floor = world.now().json("floor");
    let month = world.now().json("month 2026-03");
    let rebuilt = world.now().json("rebuild");
    assert_eq!(
        rebuilt["actions"],
        world.count("SELECT count(*) FROM action")
    );
    assert_eq!(differences(&world, ""), Vec::<String>::new());
    assert_eq!(world.now().json("floor"), floor);
    assert_eq!(world.now().json("month 2026-03"), month);
}

#[test]
fn a_kept_figure_that_was_changed_is_found_and_rebuilt() {
    let world = lived_in();
    world.tamper("UPDATE standing SET film_nm = film_nm + 1 WHERE piece = 1");
    let found = differences(&world, "");
    assert_eq!(found.len(), 1);
    holds(&found[0], &["standing at 1", "kept", "rebuilt"]);
    world.now().run("rebuild").good();
    assert_eq!(differences(&world, ""), Vec::<String>::new());
}

#[test]
fn an_entry_that_was_changed_behind_its_back_is_named() {
    let world = lived_in();
    let victim = world.count("SELECT max(seq) FROM entry WHERE kind = 'held/1'");
    let action = world.count(&format!("SELECT action FROM entry WHERE seq = {victim}"));
    world.tamper(&format!(
        "UPDATE entry SET body = replace(body, 'drip', 'dust') WHERE seq = {victim}"
    ));
    assert_eq!(
        differences(&world, ""),
        [format!("entry {victim} of action {action} was changed")]
    );
    let said = world.now().run("verify");
    assert_eq!(said.code, 1);
    holds(
        &said.out,
        &[&format!("DIFFERENCE: entry {victim}"), "cannot show"],
    );
    // Whoever changes it cannot mend the digest of the entry without the chain telling.
    let other = lived_in();
    other.tamper(&format!(
        "UPDATE action SET person = 'ZZ' WHERE seq = {action}"
    ));
    holds(&differences(&other, "")[0], &[&format!("action {action}")]);
}

#[test]
fn an_entry_that_was_taken_out_is_named() {
    let world = lived_in();
    let victim = world.count("SELECT max(seq) FROM entry WHERE kind = 'held/1'");
    world.tamper(&format!("DELETE FROM entry WHERE seq = {victim}"));
    holds(
        &differences(&world, "")[0],
        &[&format!("entry {victim} is missing")],
    );
}

fn with_readings() -> World {
    let world = lived_in();
    world
        .at("2026-03-06 13:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    world.readings(
        "2026-03-06 13:01",
        "cure room",
        "time,temperature\n2026-03-06 12:00,21.5\n2026-03-06 12:15,21.6\n",
    );
    world
}

#[test]
fn readings_that_were_changed_are_named_by_the_entry_that_brought_them() {
    let world = with_readings();
    assert_eq!(differences(&world, ""), Vec::<String>::new());
    let entry = world.count("SELECT max(entry) FROM reading");
    world.tamper("UPDATE reading SET temperature_mc = 22500 WHERE temperature_mc = 21500");
    holds(
        &differences(&world, "")[0],
        &["cure room", &format!("entry {entry}")],
    );
}

#[test]
fn the_record_refuses_to_be_changed_while_its_guards_stand() {
    let world = with_readings();
    let conn = rusqlite::Connection::open(world.ledger()).unwrap();
    for sql in [
        "UPDATE entry SET body = '{}' WHERE seq = 3",
        "DELETE FROM action WHERE seq = 3",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry WHERE seq = 3",
        "UPDATE reading SET temperature_mc = 0",
        "DELETE FROM reading",
    ] {
        let said = conn.execute(sql, []).unwrap_err().to_string();
        assert!(said.contains("the record"), "{sql}: {said}");
    }
    drop(conn);
    assert_eq!(differences(&world, ""), Vec::<String>::new());
}

#[test]
fn a_head_that_was_kept_elsewhere_is_held_against_the_ledger() {
    let world = lived_in();
    let kept = world.now().json("verify")["head"]
        .as_str()
        .unwrap()
        .to_owned();
    assert_eq!(kept.len(), 64);
    world
        .at("2026-03-06 13:30")
        .run("note B-0201 --why later")
        .good();
    // It stays in the chain when more is written.
    assert_eq!(
        differences(&world, &format!("--head {kept}")),
        Vec::<String>::new()
    );
    assert_eq!(
        differences(&world, &format!("--head {}", kept.to_uppercase())),
        Vec::<String>::new()
    );

    // Another ledger with the same story has another chain: whoever rewrites all of it is told by the kept head.
    let rewritten = lived_in();
    let found = differences(&rewritten, &format!("--head {kept}"));
    assert_eq!(found.len(), 1);
    holds(&found[0], &[&kept, "not in this ledger"]);
}

#[test]
fn a_backup_is_checked_and_opens_as_a_ledger() {
    let world = lived_in();
    let target = world.home().join("kept/2026-03-06.ledger");
    std::fs::create_dir_all(target.parent().unwrap()).unwrap();
    let report = world.now().json(&format!("backup '{}'", target.display()));
    let verified = world.now().json("verify");
    assert_eq!(report["head"], verified["head"]);
    assert_eq!(report["actions"], verified["actions"]);
    assert!(!target.with_extension("ledger.part").exists());

    let ask = |words: &str| {
        let line = format!("{words} --ledger '{}' --json", target.display());
        run(world.home(), &split(&line)).json()
    };
    assert_eq!(ask("verify")["head"], verified["head"]);
    assert_eq!(ask("verify")["differences"], json!([]));
    assert_eq!(ask("floor"), world.now().json("floor"));
    // What is written afterwards is not in it, and an older backup is never overwritten.
    world
        .at("2026-03-06 13:30")
        .run("note B-0201 --why later")
        .good();
    assert_eq!(ask("verify")["actions"], report["actions"]);
    let said = world
        .now()
        .run(&format!("backup '{}'", target.display()))
        .refused(2);
    holds(&said, &["exists already", "another name"]);
}

#[test]
fn files_that_are_no_ledger_are_refused_with_a_way_out_and_left_alone() {
    let world = lived_in();
    let ask = |file: &std::path::Path| {
        let line = format!("floor --ledger '{}'", file.display());
        run(world.home(), &split(&line))
    };

    let missing = world.home().join("nowhere.ledger");
    holds(
        &ask(&missing).refused(3),
        &["there is no ledger at", "hangtime open", "hangtime sample"],
    );
    assert!(!missing.exists(), "asking made a file");

    let text = world.file("list.csv", "serial,kind\nB-1,body\n");
    holds(
        &ask(&text).refused(3),
        &[
            "list.csv is not a hangtime ledger",
            "nothing was changed",
            "--ledger",
        ],
    );
    assert_eq!(
        std::fs::read_to_string(&text).unwrap(),
        "serial,kind\nB-1,body\n"
    );

    let empty = world.file("empty.ledger", "");
    holds(&ask(&empty).refused(3), &["empty.ledger"]);
    assert_eq!(std::fs::metadata(&empty).unwrap().len(), 0);

    let other = world.home().join("other.db");
    let conn = rusqlite::Connection::open(&other).unwrap();
    conn.execute_batch("CREATE TABLE stock (name TEXT)")
        .unwrap();
    drop(conn);
    let bytes = std::fs::read(&other).unwrap();
    holds(
        &ask(&other).refused(3),
        &["other.db is not a hangtime ledger", "another program"],
    );
    assert_eq!(std::fs::read(&other).unwrap(), bytes);

    holds(&ask(world.home()).refused(3), &["is not a file"]);

    let second = world.home().join("second.ledger");
    std::fs::hard_link(world.ledger(), &second).unwrap();
    holds(
        &ask(&second).refused(3),
        &["hard link", "remove one of the names"],
    );
    holds(&ask(&world.ledger()).refused(3), &["hard link"]);
    std::fs::remove_file(&second).unwrap();
    ask(&world.ledger()).good();

    let conn = rusqlite::Connection::open(world.ledger()).unwrap();
    conn.pragma_update(None, "user_version", 9_999).unwrap();
    drop(conn);
    holds(
        &ask(&world.ledger()).refused(3),
        &["newer version", "schema 9999", "nothing was changed"],
    );
}

#[cfg(unix)]
#[test]
fn a_ledger_that_everybody_can_write_is_refused() {
    use std::os::unix::fs::PermissionsExt;
    let world = World::new();
    let mode = |mode| {
        std::fs::set_permissions(world.ledger(), std::fs::Permissions::from_mode(mode)).unwrap();
    };
    mode(0o666);
    holds(&world.now().run("floor").refused(3), &["chmod o-w"]);
    mode(0o660);
    world.now().run("floor").good();
}

#[test]
fn bad_input_says_what_is_wrong_and_writes_nothing() {
    let world = lived_in();
    let before = world.count("SELECT count(*) FROM action");
    for (line, wanted) in [
        (
            "coat B-0201 --kind clear --ended 'half past nine'",
            "is not understood",
        ),
        ("coat B-0201 --kind varnish", "write one of"),
        ("coat B-0201 --mix 77", "mix 77 was not made"),
        ("coat B-0201 --mix 1 --amount -5mL", "-5"),
        ("coat --rack R99", "R99"),
        ("coat", "which piece?"),
        ("move B-0201", "where to?"),
        ("lot receive L-9 XYZ 20L", "not adopted"),
        ("month march", "2026-03"),
        (
            "booth declare 'booth 2'",
            "hangtime room declare \"booth 2\"",
        ),
        (
            "limit enter --of VOC --value 3kg",
            "such as --source \"permit 12-34, condition 5\"",
        ),
        ("ready --for polishing", "write one of"),
        ("hold B-0201 --why ''", "why is empty"),
        ("piece show B-9999", "no piece"),
    ] {
        let said = world.at("2026-03-06 14:00").run(line).refused(2);
        holds(&said, &[wanted]);
    }
    let output = program(world.home())
        .args(["coat", "B-0201"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    holds(
        &String::from_utf8(output.stderr).unwrap(),
        &["--as INITIALS"],
    );
    // With --json the error is JSON, too, and still on standard error.
    let said = world
        .at("2026-03-06 14:00")
        .run("coat --rack R99 --json")
        .refused(2);
    let value: Value = serde_json::from_str(&said).unwrap();
    assert_eq!(value["error"]["code"], 2);
    assert_eq!(world.count("SELECT count(*) FROM action"), before);
}

#[test]
fn a_demo_stays_a_demo_and_a_real_ledger_takes_no_borrowed_clock() {
    let real = World::empty();
    let said = real
        .at("2026-03-01 06:00")
        .run("open --name X --zone America/New_York")
        .refused(2);
    holds(&said, &["--at is for questions", "leave --at out"]);
    real.now()
        .run("open --name X --zone America/New_York")
        .good();
    real.now()
        .run(&format!(
            "recipe adopt '{}'",
            crate::world::sample("recipes/g9.toml")
        ))
        .good();
    // `--at` is a question's moment only: a deed that takes it would be written down as of now.
    let list = real.at("2001-03-04 06:00").json("entries");
    assert!(list[0]["written"].as_str().unwrap() > "2026-01-01");
    let add = "piece add B-0001 --kind body --model Arden --recipe G9 --area 0.4m2";
    real.now().run(add).good();
    let before = real.count("SELECT count(*) FROM action");
    for deed in [
        "piece add B-0002 --kind body --model Arden --recipe G9 --area 0.4m2",
        "receive B-0001",
        "receive B-0001 --preview",
        "mix make M1 L-221=3L --preview",
        "stock use T-9 0.4L --for cleaning --preview",
        "hold B-0001 --why dent",
        "limit enter --of VOC --value 400kg --period month --source x",
        "room declare 'cure room' --every 15m",
        "person add DP finisher",
    ] {
        let said = real.at("2001-03-04 06:00").run(deed).refused(2);
        holds(
            &said,
            &["--at is for questions", "--ended 07:00", "--ended-ago 20m"],
        );
    }
    assert_eq!(real.count("SELECT count(*) FROM action"), before);
    real.at("2027-03-04 06:00").run("ready").good();
    real.now().run("receive B-0001").good();
    let list = real.now().json("entries");
    assert!(
        list.as_array()
            .unwrap()
            .iter()
            .all(|e| e["written"].as_str().unwrap() > "2026-01-01")
    );
    assert_eq!(
        real.count("SELECT count(*) FROM action WHERE clock <> 'system'"),
        0
    );

    let demo = World::new();
    assert_eq!(
        demo.count("SELECT count(*) FROM action WHERE clock <> 'demo'"),
        0
    );
    holds(&demo.now().run("entries").good().out, &["DEMO"]);
    let said = demo
        .now()
        .run("open --name Y --zone America/New_York")
        .refused(2);
    holds(&said, &["exists already"]);
}

#[test]
fn a_witness_that_cannot_be_read_is_said_with_every_answer_until_somebody_renews_it() {
    let world = World::new();
    world.piece("2026-03-03 07:00", "B-0001", "G9", "--rack R1 --hook 1");
    let desk = world.at("2026-03-03 08:00");
    // A witness with one line left is as good as whole.
    let witness = world.ledger().with_extension("ledger.witness");
    let whole = std::fs::read(&witness).unwrap();
    let newest = world.count("SELECT max(seq) FROM action");
    let quiet = desk.run("floor").good();
    assert_eq!(quiet.err, "");
    // Both lines are spoilt.
    let spoilt: Vec<u8> = whole.iter().map(|b| b ^ 4).collect();
    std::fs::write(&witness, &spoilt).unwrap();
    let line = format!("the witness {} cannot be read", witness.display());
    let words = [
        line.as_str(),
        "an end of the record that was lost would not be noticed",
        "hangtime witness --renew",
    ];
    for asked in ["floor", "ready", "piece show B-0001"] {
        let answer = desk.run(asked).good();
        holds(&answer.err, &words);
        assert_eq!(answer.err.lines().count(), 1, "{answer:?}");
    }
    assert!(desk.json("piece show B-0001")["witness_spoilt"].is_string());
    // A deed goes on, says so, and does not write over it.
    let deed = desk.run("note B-0001 --why first").good();
    holds(&deed.err, &words);
    assert_eq!(std::fs::read(&witness).unwrap(), spoilt);
    // Unknown is a difference.
    let verified = desk.run("verify");
    assert_eq!(verified.code, 1, "{verified:?}");
    holds(
        &verified.out,
        &["DIFFERENCE: the witness", "cannot be read"],
    );
    let looked = desk.run("witness");
    assert_eq!(looked.code, 1, "{looked:?}");
    holds(&looked.out, &["both its lines are spoilt"]);
    holds(
        &desk.run("witness --go-on --why so").refused(2),
        &["--renew"],
    );
    holds(&desk.run("witness --renew").refused(2), &["--why"]);
    // A named person renews it; that stands in the record, and what was spoilt lies aside.
    let renewed = desk
        .person("SL")
        .json("witness --renew --why 'the disk was changed'");
    assert_eq!(renewed["action"], newest + 2);
    let aside = world.ledger().with_extension("ledger.witness.spoilt");
    assert_eq!(std::fs::read(aside).unwrap(), spoilt);
    let after = desk.run("entries").good();
    assert_eq!(after.err, "");
    holds(
        &after.out,
        &["witness renewed at action", "the disk was changed", "SL"],
    );
    assert_eq!(desk.run("verify").good().err, "");
    assert_eq!(desk.json("witness")["seen"]["action"], newest + 2);
    holds(
        &desk.run("witness --renew --why again").refused(2),
        &["can be read"],
    );
}
