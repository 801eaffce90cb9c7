//! The solvent book on the command line: limits with their source, the way from a total to an entry, checks of booths.

use crate::world::{World, holds};
use serde_json::Value;

fn lived_in() -> World {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 3);
    world.bring_to(
        "--rack R12",
        3,
        "2026-03-06 10:00",
        "--mix 1 --amount 144mL",
    );
    world
}

fn limit(world: &World, words: &str) {
    world
        .at("2026-03-07 08:00")
        .run(&format!("limit enter {words} --source 'permit 12-34'"))
        .good();
}

fn sum(level: &Value) -> i64 {
    let lines = level["lines"].as_array().unwrap();
    lines.iter().map(|l| l["mass_mg"].as_i64().unwrap()).sum()
}

#[test]
fn a_total_opens_by_material_lot_and_entry_and_each_level_adds_up_to_it() {
    let world = lived_in();
    let month = world.at("2026-03-07 08:00").json("month 2026-03");
    for (figure, kept) in [("VOC", "voc_mg"), ("HAP", "hap_mg")] {
        let total = month["totals"][kept].as_i64().unwrap();
        assert!(total > 0);
        for twelve in ["", " --twelve"] {
            let open = format!("month 2026-03 --open {figure}{twelve}");
            let level = world.at("2026-03-07 08:00").json(&open);
            assert_eq!(level["total_mg"], total);
            assert_eq!(
                (sum(&level), level["missing_mg"].as_i64()),
                (total, Some(0))
            );
            for line in level["lines"].as_array().unwrap() {
                let material = line["material"].as_str().unwrap();
                let open = format!("{open} --material {material}");
                let level = world.at("2026-03-07 08:00").json(&open);
                assert_eq!(level["total_mg"], line["mass_mg"]);
                assert_eq!(sum(&level), line["mass_mg"].as_i64().unwrap());
                let lot = &level["lines"][0];
                let open = format!(
                    "{open} --lot {} --mix {}",
                    lot["lot"].as_str().unwrap(),
                    lot["mix"]
                );
                let level = world.at("2026-03-07 08:00").json(&open);
                assert_eq!(level["total_mg"], lot["mass_mg"]);
                assert_eq!(sum(&level), lot["mass_mg"].as_i64().unwrap());
                let entry = &level["lines"][0];
                let level = world
                    .at("2026-03-07 08:00")
                    .json(&format!("{open} --entry {}", entry["entry"]));
                assert_eq!(level["total_mg"], entry["mass_mg"]);
                assert_eq!(level["working"]["kept"][0]["name"], "VOC");
                if figure == "VOC" {
                    assert_eq!(level["working"]["kept"][0]["value"], entry["mass_mg"]);
                }
            }
        }
    }
    let said = world
        .at("2026-03-07 08:00")
        .run("month 2026-03 --open xyz")
        .refused(2);
    holds(&said, &["\"xyz\" is neither VOC nor HAP", "CAS number"]);
    let said = world
        .at("2026-03-07 08:00")
        .run("month 2026-03 --open VOC --material NONE")
        .refused(2);
    holds(&said, &["nothing of NONE"]);
}

#[test]
fn a_month_is_held_against_the_limits_that_were_entered_and_no_others() {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 3);
    world
        .at("2026-03-06 10:00")
        .run("coat --rack R12 --mix 1 --amount 144mL --include all --reason later")
        .good();
    let book = |code: i32| {
        let answer = world
            .at("2026-03-07 08:00")
            .run("month 2026-03 --book --json");
        assert_eq!(answer.code, code, "{}", answer.out);
        serde_json::from_str::<Value>(&answer.out).unwrap()
    };
    let side = |book: &Value| book["figures"][0]["held_against"]["side"].clone();
    let value = book(0);
    assert_eq!(side(&value), "none_entered");
    assert_eq!(
        value["figures"][0]["held_against"]["margin_mg"],
        Value::Null
    );
    limit(&world, "--of VOC --value 100kg");
    let value = book(0);
    assert_eq!(side(&value), "under");
    let mass = value["figures"][0]["mass_mg"].as_i64().unwrap();
    let held = &value["figures"][0]["held_against"];
    assert_eq!(held["margin_mg"], 100_000_000 - mass);
    assert_eq!(held["source"], "permit 12-34");
    limit(&world, "--of voc --value 1g");
    assert_eq!(side(&book(1)), "over");
    // Eleven of the twelve months lie before the record: they are unknown, and nothing with them is under a limit.
    limit(&world, "--of VOC --value 100kg");
    limit(&world, "--of VOC --period twelve --value 900kg");
    let value = book(1);
    let twelve = &value["twelve_months"];
    assert_eq!(twelve["figures"][0]["held_against"]["side"], "unknown");
    assert!(!twelve["unknown_months"].as_array().unwrap().is_empty());
    holds(
        &world.at("2026-03-07 08:00").run("limit list").good().out,
        &["VOC of twelve months: 900kg", "source: permit 12-34"],
    );
    // A coat of which nobody said how much went on leaves the month unknown, too.
    world
        .at("2026-03-07 09:00")
        .run("coat --rack R12 --include all --reason later")
        .good();
    let value = book(1);
    assert_eq!(side(&value), "unknown");
    holds(
        &value["provisional"].to_string(),
        &["3 coats without a known amount"],
    );
    let said = world
        .at("2026-03-07 08:00")
        .run("limit enter --of VOC --value 5L --source x")
        .refused(2);
    holds(&said, &["\"L\" is not a unit here; write one of g, kg"]);
}

#[test]
fn a_booth_check_is_unknown_until_it_is_done_and_overdue_when_its_interval_is_over() {
    let world = lived_in();
    world
        .at("2026-03-07 07:00")
        .run("room declare 'booth 1'")
        .good();
    limit(&world, "--booth 'booth 1' --every check --value 24h");
    let said = |at: &str| world.at(at).run("booths").out;
    holds(
        &said("2026-03-07 08:00"),
        &["booth 1: booth check, never done, due every 24h, unknown"],
    );
    world
        .at("2026-03-07 08:10")
        .run("booth check 'booth 1' --note 'fan runs'")
        .good();
    holds(
        &said("2026-03-08 08:00"),
        &[
            "booth check, last 7 Mar 08:10 EST, due Sun 8 Mar 09:10 EDT, checked, with a remark: fan runs",
        ],
    );
    assert!(!said("2026-03-08 08:00").contains("OVERDUE"));
    holds(&said("2026-03-08 09:30"), &["booth check", "OVERDUE"]);
    assert_eq!(world.at("2026-03-08 09:30").run("booths").code, 1);
    let said = world
        .at("2026-03-08 09:40")
        .run("limit enter --booth 'booth 1' --every check --value 9000d --source x")
        .refused(2);
    holds(&said, &["1 min to 800 d"]);
}

#[test]
fn a_filter_gauge_is_read_from_its_clean_reading_to_its_mark_and_too_low_is_an_alarm_too() {
    let world = lived_in();
    world
        .at("2026-03-07 07:00")
        .run("room declare 'booth 1'")
        .good();
    let check = |at: &str, words: &str| {
        world
            .at(at)
            .run(&format!("booth check 'booth 1' {words}"))
            .good();
    };
    let state = |at: &str| {
        let answer = world.at(at).run("booths --json");
        let value: Value = serde_json::from_str(&answer.out).unwrap();
        let list = value.as_array().or_else(|| value["facts"].as_array());
        let list = list.unwrap().clone();
        let gauge = list.iter().find(|c| c["check"] == "filter gauge").unwrap();
        (
            gauge["state"].as_str().unwrap().to_owned(),
            gauge["readings"].as_array().unwrap().len(),
            gauge["words"].as_str().unwrap().to_owned(),
        )
    };
    check("2026-03-09 07:00", "--note 'fan runs'");
    assert_eq!(state("2026-03-09 07:10").0, "unknown");
    check("2026-03-10 07:00", "--gauge 0.30inwc");
    // A reading without a clean one tells nothing.
    let (said, _, words) = state("2026-03-10 07:10");
    assert_eq!(said, "unknown");
    assert!(words.contains("no clean reading"), "{words}");
    check("2026-03-11 07:00", "--gauge 0.10inwc --new-filters");
    check("2026-03-12 07:00", "--gauge 0.49inwc");
    let (said, readings, words) = state("2026-03-12 07:10");
    assert_eq!((said.as_str(), readings), ("none_entered", 2));
    assert!(words.contains("no mark entered"), "{words}");
    world
        .at("2026-03-12 07:20")
        .run("limit enter --booth 'booth 1' --filter-rise --value 0.40inwc --source 'filter paper'")
        .good();
    let (said, _, words) = state("2026-03-12 07:30");
    assert_eq!(said, "done");
    assert_eq!(
        words,
        "0.49 in. w.c., clean 0.10 in. w.c., mark 0.50 in. w.c."
    );
    check("2026-03-13 07:00", "--gauge 0.50inwc");
    assert_eq!(state("2026-03-13 07:10").0, "at mark");
    assert_eq!(world.at("2026-03-13 07:10").run("booths").code, 1);
    check("2026-03-14 07:00", "--gauge 0.05inwc");
    assert_eq!(state("2026-03-14 07:10").0, "too low");
    check(
        "2026-03-15 07:00",
        "--gauge 0.12inwc --new-filters --note 'changed both'",
    );
    let (said, readings, _) = state("2026-03-15 07:10");
    assert_eq!((said.as_str(), readings), ("done", 1));
    holds(
        &world.now().run("entries").good().out,
        &["booth 1 checked, filter gauge 0.12 in. w.c., new filters, changed both"],
    );
    world.now().run("verify").good();
}

#[test]
fn a_month_before_the_record_is_unknown_in_every_form_and_none_of_its_zeros_is_shown() {
    let world = lived_in();
    limit(&world, "--of VOC --value 100kg");
    let desk = || world.at("2026-03-07 08:00");
    for form in [
        "",
        " --by booth",
        " --open VOC",
        " --from-log",
        " --rules sheet",
    ] {
        let answer = desk().run(&format!("month 2026-01{form}"));
        assert_eq!(answer.code, 1, "{form}: {}", answer.out);
        holds(
            &answer.out,
            &["2026-01: unknown: it lies before the record, which begins 20 Feb 2026"],
        );
        assert!(!answer.out.contains("0.0"), "{form}: {}", answer.out);
        let value: Value =
            serde_json::from_str(&desk().run(&format!("month 2026-01{form} --json")).out).unwrap();
        assert!(
            value["unknown"]
                .as_str()
                .unwrap()
                .contains("before the record")
        );
    }
    let answer = desk().run("month 2026-01 --book");
    assert_eq!(answer.code, 1);
    holds(
        &answer.out,
        &[
            "provisional: it lies before the record, which begins 20 Feb 2026",
            "VOC                   unknown  unknown: limit 100kg (entered by MK, source: permit 12-34)",
            "HAP total             unknown  none entered",
        ],
    );
    let figures = answer.out.split("\nstock").next().unwrap();
    for word in ["kg left", "0.00 kg", "0 %"] {
        assert!(!figures.contains(word), "{word}: {figures}");
    }
    let book =
        serde_json::from_str::<Value>(&desk().run("month 2026-01 --book --json").out).unwrap();
    assert_eq!(book["figures"][0]["mass_mg"], Value::Null);
    assert_eq!(book["figures"][0]["held_against"]["margin_mg"], Value::Null);
    // The month of the record is none of it.
    let value: Value =
        serde_json::from_str(&desk().run("month 2026-03 --json").good().out).unwrap();
    assert_eq!(value["unknown"], Value::Null);
    // What is logged later of such a month stands there, below the word.
    world
        .at("2026-03-07 09:00")
        .run("stock use T-9 0.5L --for cleaning --done '2026-01-20 10:00'")
        .good();
    let answer = desk().run("month 2026-01");
    assert_eq!(answer.code, 1);
    let lines: Vec<&str> = answer.out.lines().skip(1).take(3).collect();
    assert!(lines[0].contains("unknown"), "{lines:?}");
    assert_eq!(lines[1], "what was logged of it later:");
    assert!(lines[2].starts_with("2026-01: VOC "), "{lines:?}");
}
