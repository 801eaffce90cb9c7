//! Months: signed as they were printed, reprinted for ever, revised by a new signature.

use crate::lived_in;
use crate::world::{World, holds, run, split};
use serde_json::{Value, json};

fn page(world: &World) -> (String, Value) {
    let text = world.now().run("month 2026-03");
    let json = world.now().run("month 2026-03 --json");
    (text.out, serde_json::from_str(&json.out).unwrap())
}

fn signed() -> World {
    let world = lived_in();
    world
        .at("2026-04-01 09:00")
        .person("SL")
        .run("month close 2026-03")
        .good();
    world
}

// A coat of March that is written down in April.
fn late(world: &World) {
    world
        .at("2026-04-02 08:00")
        .run("coat --rack R12 --mix 1 --amount 144mL --ended '2026-03-09 10:00' --include all --reason later")
        .good();
}

#[test]
fn a_month_is_signed_by_a_named_person_when_it_is_over() {
    let world = lived_in();
    let unsigned = page(&world);
    holds(
        &world
            .at("2026-03-31 20:00")
            .run("month close 2026-03")
            .refused(2),
        &["2026-03 is not over"],
    );
    holds(
        &world
            .at("2026-04-01 09:00")
            .run("month close 2026-3")
            .refused(2),
        &["month \"2026-3\" is not understood", "2026-03"],
    );
    let nobody = run(
        world.home(),
        &split("month close 2026-03 --at '2026-04-01 09:00'"),
    );
    holds(&nobody.refused(2), &["whose initials?"]);
    assert_eq!(page(&world), unsigned, "nothing was signed");

    let before = world.now().json("verify");
    let said = world
        .at("2026-04-01 09:00")
        .person("SL")
        .run("month close 2026-03")
        .good();
    let head = before["head"].as_str().unwrap();
    holds(
        &said.out,
        &[
            "signed by SL, ",
            "revision 1",
            &format!("head: action {}, {head}", before["actions"]),
        ],
    );
    // What is printed now is what was printed then, in both forms, and starts as the month always did.
    let (text, value) = page(&world);
    // That nobody has a PIN yet is said with the deed, and is no part of the page.
    assert_eq!(format!("{text}  no PIN is set\n"), said.out);
    assert!(text.starts_with(unsigned.0.trim_end()), "{text}");
    assert_eq!(value["signed"]["by"], "SL");
    assert_eq!(value["signed"]["head"], head);
    assert_eq!(value["totals"], unsigned.1["totals"]);
    holds(
        &world
            .at("2026-04-01 10:00")
            .run("month close 2026-03")
            .refused(2),
        &["signed by SL as revision 1", "nothing to sign"],
    );
    world.now().run(&format!("verify --head {head}")).good();
    holds(
        &world.now().run("entries").good().out,
        &["month 2026-03 signed, revision 1"],
    );
}

#[test]
fn a_later_entry_leaves_the_signed_page_and_asks_for_a_new_signature() {
    let world = signed();
    let first = page(&world);
    let was = world.now().json("month 2026-03 --from-log");
    late(&world);
    let is = world.now().json("month 2026-03 --from-log");

    // The page stands; beside it is said what differs, and the exit code says that something does.
    let said = world.now().run("month 2026-03");
    assert_eq!(said.code, 1);
    assert_eq!(said.out, first.0);
    holds(
        &said.err,
        &[
            "REVISION 2 IS NOT SIGNED: 2026-03 differs from revision 1, signed by SL",
            "toluene",
            "more",
            "entries since that touch it:",
            "clear coat",
            "month close 2026-03",
        ],
    );

    // Substance by substance, to the last milligram.
    let history = world.now().json("month history 2026-03");
    let changes = history["not_signed"]["changes"].as_array().unwrap();
    for s in is["substances"].as_array().unwrap() {
        let before = was["substances"]
            .as_array()
            .unwrap()
            .iter()
            .find(|w| w["cas"] == s["cas"] && w["material"] == s["material"])
            .unwrap();
        let change = changes
            .iter()
            .find(|c| c["cas"] == s["cas"] && c["material"] == s["material"])
            .unwrap();
        assert_eq!(change["was_mg"], before["mass_mg"]);
        assert_eq!(change["is_mg"], s["mass_mg"]);
        assert_eq!(
            change["difference_mg"].as_i64().unwrap(),
            s["mass_mg"].as_i64().unwrap() - before["mass_mg"].as_i64().unwrap()
        );
    }
    let volumes = changes.iter().filter(|c| c.get("cas").is_none()).count();
    assert_eq!(volumes, is["materials"].as_array().unwrap().len());
    assert_eq!(
        changes.len(),
        volumes + is["substances"].as_array().unwrap().len()
    );

    // A new signature makes a page of its own; the history keeps both.
    let second = world
        .at("2026-04-02 09:00")
        .person("AB")
        .run("month close 2026-03")
        .good();
    holds(
        &second.out,
        &[
            "changed since revision 1, signed by SL",
            "signed by AB",
            "revision 2",
        ],
    );
    let (text, value) = page(&world);
    assert_eq!(format!("{text}  no PIN is set\n"), second.out);
    assert_eq!(value["totals"], is["totals"]);
    assert_eq!(value["signed"]["changes"], json!(changes));
    let history = world.now().json("month history 2026-03");
    assert_eq!(history["signed"].as_array().unwrap().len(), 2);
    assert_eq!(history["signed"][0]["head"], first.1["signed"]["head"]);
    assert_eq!(history["signed"][1]["changes"], json!(changes));
    assert_eq!(history["not_signed"], json!({"changes": [], "entries": []}));
    holds(
        &world.now().run("month history 2026-03").good().out,
        &[
            "signed 2 times",
            "revision 1, signed by SL",
            "revision 2, signed by AB",
            "toluene",
        ],
    );
    world.now().run("verify").good();
}

#[test]
fn what_is_taken_back_is_told_as_less_and_what_comes_to_nothing_as_nothing() {
    let world = signed();
    late(&world);
    world.at("2026-04-02 08:01").run("undo").good();
    // A coat and its undoing: the entries stay readable, and no figure differs.
    world.now().run("month 2026-03").good();
    let coat = world.count("SELECT max(action) FROM entry WHERE kind LIKE 'coat/%' AND seq NOT IN (SELECT entry FROM void)");
    world
        .at("2026-04-02 08:05")
        .run(&format!("void --action {coat} --why 'it was another rack'"))
        .good();
    let said = world.now().run("month 2026-03");
    assert_eq!(said.code, 1);
    holds(&said.err, &["less", "taken back: it was another rack"]);
    assert!(!said.err.contains("more"), "{}", said.err);
}

#[test]
fn a_signed_page_is_reprinted_the_same_whatever_comes_after() {
    let world = signed();
    let first = page(&world);
    let same = |what: &str| assert_eq!(page(&world), first, "{what}");
    late(&world);
    same("a late entry");
    // A sheet that counts other substances: today's figures of old lots rest on their own sheet, and so does the page.
    let sheet = std::fs::read_to_string(crate::world::sample("materials/clr.toml")).unwrap();
    let revised = sheet.replace("rev 4", "rev 5");
    assert_ne!(revised, sheet);
    let file = world.file("clr.toml", &revised);
    world
        .at("2026-04-03 08:00")
        .run(&format!("material adopt '{}'", file.display()))
        .good();
    same("a revised sheet");
    world.now().run("rebuild").good();
    same("a rebuild");
    // In other units and asked as of another day it is the page that was signed, too.
    let us = world.at("2027-01-15 08:00").run("month 2026-03 --units us");
    assert_eq!(us.out, first.0);
    // In a copy of the record.
    world.now().run("export copy").good();
    run(world.home(), &split("import copy --ledger new.ledger")).good();
    let copy = run(world.home(), &split("month 2026-03 --ledger new.ledger"));
    assert_eq!(copy.out, first.0);
    world.now().run("verify").good();
}

#[test]
fn a_month_without_a_coat_can_be_signed_and_a_month_ahead_cannot() {
    let world = signed();
    let said = world
        .at("2026-05-02 09:00")
        .person("SL")
        .run("month close 2026-04")
        .good();
    holds(&said.out, &["2026-04: VOC", "signed by SL"]);
    holds(
        &world.now().run("month close 2026-05").refused(2),
        &["not over"],
    );
    let history = world.now().json("month history 2026-06");
    assert_eq!(history["signed"], json!([]));
    holds(
        &world.now().run("month history 2026-06").good().out,
        &["never signed"],
    );
}

#[test]
fn a_month_before_the_record_is_not_signed_and_one_partly_before_it_says_so() {
    let world = lived_in();
    holds(
        &world
            .at("2026-04-01 09:00")
            .person("SL")
            .run("month close 2026-01")
            .refused(2),
        &[
            "2026-01 cannot be signed: the record begins ",
            " 2026; nothing is known of that month",
        ],
    );
    let said = world
        .at("2026-04-01 09:00")
        .person("SL")
        .run("month close 2026-02")
        .good()
        .out;
    holds(
        &said,
        &[
            "record begins 20 Feb 2026",
            "; what was used before is unknown",
        ],
    );
    assert_eq!(
        world.now().json("month 2026-02")["record_begins"],
        "2026-02-20T06:00:00.000-05:00"
    );
    // A month that lies wholly in the record says nothing of its beginning.
    let whole = world
        .at("2026-04-01 09:10")
        .person("SL")
        .run("month close 2026-03")
        .good();
    assert!(!whole.out.contains("record begins"), "{}", whole.out);
}

#[test]
fn a_month_that_has_not_begun_is_refused() {
    let world = lived_in();
    for more in ["", " --book", " --open VOC", " --from-log"] {
        holds(
            &world
                .at("2026-04-01 09:00")
                .run(&format!("month 2027-04{more}"))
                .refused(2),
            &["2027-04 has not begun"],
        );
    }
    world.at("2026-04-01 09:00").run("month 2026-04").good();
}
