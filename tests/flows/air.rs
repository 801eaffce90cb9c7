//! The air on the command line: the vapour of a booth and of a room from the coats really logged, with figures worked
//! out by hand.

use crate::world::{World, holds};
use serde_json::{Value, json};

/// A lacquer of which a table names every solvent: toluene alone.
const PLAIN: &str = r#"[material]
code = "TOL"
name = "Plain lacquer of the tests"
kind = "lacquer"
sheet = "rev 1"
sheet_date = 2026-01-05
density = "0.900 kg/L"
weight_solids = "20.0 %"
volume_solids = "20.0 %"
flash_point = "5 C"
drying = "solvent release"
hazards = ["flammable liquid"]
cautions = ["Highly flammable liquid and vapour."]

[[contains]]
cas = "108-88-3"
name = "toluene"
share = "80.0 %"
hap = true
"#;

/// Three bodies in booth 1; the lacquer is in stock.
fn shop() -> World {
    let world = World::new();
    let file = world.file("tol.toml", PLAIN);
    let desk = world.at("2026-03-09 08:00");
    desk.run(&format!("material adopt '{}'", file.display()))
        .good();
    desk.run("lot receive T-50 TOL 20L").good();
    world.rack("2026-03-09 08:10", "R12", 201, 3);
    world
}

/// 600 mL in ten minutes, 10:00 to 10:10 on 10 March.
fn coat(world: &World, lot: &str) {
    let words = format!(
        "coat --rack R12 --kind clear --lot {lot} --amount 600mL --began 10:00 --include all --reason later"
    );
    let saved = world.at("2026-03-10 10:10").json(&words);
    assert_eq!(saved["saved"], true, "{saved}");
}

fn kept(working: &Value, name: &str) -> Value {
    let list = working["kept"].as_array().unwrap();
    let found = list.iter().find(|k| k["name"] == name);
    found.unwrap_or_else(|| panic!("{name}: {list:?}"))["value"].clone()
}

/// The JSON of an answer that has one of these exit codes.
fn answer(world: &World, at: &str, code: i32, words: &str) -> Value {
    let answer = world.at(at).run(&format!("{words} --json"));
    assert_eq!(answer.code, code, "{words}: {}{}", answer.out, answer.err);
    serde_json::from_str(&answer.out).unwrap()
}

const SHARE: &str = "share of the lower explosive limit, last hour";
const WANTED: &str = "flow wanted, last hour";

#[test]
fn the_exhaust_of_a_booth_goes_by_the_rate_that_was_logged_and_the_flow_that_was_entered() {
    let world = shop();
    coat(&world, "T-50");
    // Without an entered flow the share is unknown; the flow that the rate wants is not.
    let lel = answer(&world, "2026-03-10 10:30", 1, "working lel 'booth 1'");
    assert_eq!(kept(&lel, SHARE), Value::Null);
    assert_eq!(kept(&lel, "exhaust flow"), Value::Null);
    // 600 mL in 10 min = 1e-6 m3/s, 80 % of it toluene. A volume of toluene makes 863.9 / 0.092138 x 8.314462618 x
    // 298.15 / 101325 = 229.391 of vapour; its lowest known limit is 1.0 %. 4 x 99 / 1 x 229.391 x 0.8e-6 m3/s.
    assert_eq!(kept(&lel, WANTED), json!(72_671));
    assert_eq!(kept(&lel, "spray rate, last hour"), json!(60_000));
    world
        .at("2026-03-10 10:31")
        .run("room air 'booth 1' --flow 0.5m3/s --source 'fan plate'")
        .good();
    // 0.8e-6 x 229.391 / 0.5 / 1.0 % = 3.6703 %.
    let lel = answer(&world, "2026-03-10 10:32", 0, "working lel 'booth 1'");
    assert_eq!(kept(&lel, SHARE), json!(36_703));
    assert_eq!(kept(&lel, "exhaust flow"), json!(500_000));
    let sheets = lel["worksheets"].as_array().unwrap();
    let ids: Vec<&str> = sheets
        .iter()
        .map(|s| s["worksheet"]["id"].as_str().unwrap())
        .collect();
    assert_eq!(ids, ["lel", "lel-dilution", "exhaust-lel"]);
    let known = sheets[0]["worksheet"]["assumes"].to_string();
    for percent in ["1 % IEC", "1.1 % NFPA", "1.4 % 29 CFR"] {
        assert!(known.contains(percent), "{known}");
    }
    // The data sheet's limit goes before the table's: 1.2 %.
    world
        .at("2026-03-10 10:33")
        .run("limit enter --lel-of TOL --value 1.2% --source 'data sheet rev 1, section 9'")
        .good();
    let lel = answer(&world, "2026-03-10 10:34", 0, "working lel 'booth 1'");
    assert_eq!(kept(&lel, SHARE), json!(30_586));
    assert_eq!(kept(&lel, WANTED), json!(60_437));
    let said = world
        .at("2026-03-10 10:34")
        .run("working lel 'booth 1'")
        .out;
    holds(
        &said,
        &["data sheet of TOL, entered by MK, source: data sheet rev 1, section 9"],
    );
    // The share that the shop entered is over, and the flow that it wants follows it: 2 % of the limit.
    world
        .at("2026-03-10 10:35")
        .run("limit enter --booth 'booth 1' --lel-share --value 2% --source 'insurer'")
        .good();
    let said = world.at("2026-03-10 10:36").run("air 'booth 1'");
    assert_eq!(said.code, 1);
    holds(
        &said.out,
        &[
            "booth 1, exhaust",
            "3.05855 %",
            "exhaust flow: 1800 m3/h",
            "held against share of the lower explosive limit 2 %: over",
            "if perfectly mixed; near the floor and the work it can be many times higher",
        ],
    );
    // An hour later it is the day's rate alone, and the next day it is nobody's.
    let day = "share of the lower explosive limit, this production day";
    let later = answer(&world, "2026-03-10 11:30", 1, "working lel 'booth 1'");
    assert_eq!(kept(&later, day), json!(30_586));
    let none = answer(&world, "2026-03-11 11:30", 1, "working lel 'booth 1'");
    assert_eq!(
        kept(&none, "share of the lower explosive limit"),
        Value::Null
    );
}

#[test]
fn what_no_sheet_names_leaves_the_share_of_the_whole_unknown() {
    let world = shop();
    coat(&world, "L-221");
    world
        .at("2026-03-10 10:11")
        .run("room air 'booth 1' --flow 0.5m3/s --source 'fan plate'")
        .good();
    world
        .at("2026-03-10 10:12")
        .run("limit enter --booth 'all booths' --lel-share --value 25% --source 'insurer'")
        .good();
    let lel = answer(&world, "2026-03-10 10:30", 1, "working lel 'booth 1'");
    assert_eq!(kept(&lel, SHARE), Value::Null);
    assert_eq!(kept(&lel, WANTED), Value::Null);
    let said = world.at("2026-03-10 10:30").run("air 'booth 1'").out;
    holds(
        &said,
        &[
            "is named on no sheet",
            "the named part alone makes",
            "the whole makes more",
            "25 %: unknown",
        ],
    );
}

#[test]
fn the_vapour_of_a_room_comes_with_the_work_and_goes_with_the_air() {
    let world = shop();
    coat(&world, "T-50");
    world
        .at("2026-03-10 10:20")
        .run("move --rack R12 --room 'flash room'")
        .good();
    let now = "share of the lower explosive limit now";
    let highest = "highest share of the lower explosive limit in the last day";
    let vapour = answer(&world, "2026-03-10 10:25", 1, "working vapour 'flash room'");
    assert_eq!(kept(&vapour, now), Value::Null);
    let unknown = vapour["unknown"].to_string();
    holds(
        &unknown,
        &[
            "the volume of flash room is in no entry",
            "the air flow of flash room",
        ],
    );
    world
        .at("2026-03-10 10:26")
        .run("room air 'flash room' --volume 50m3 --flow 0.01m3/s --source 'plan of 2024'")
        .good();
    // 600 mL x 0.8 x 229.391 = 0.110108 m3 of vapour in 50 m3, by 1.0 %: 22.0216 % when it came there, at 10:20. An hour
    // later 22.0216 % x exp(-0.01 x 3600 / 50) = 10.7190 %.
    let vapour = answer(&world, "2026-03-10 11:20", 0, "working vapour 'flash room'");
    assert_eq!(kept(&vapour, highest), json!(220_216));
    assert_eq!(kept(&vapour, now), json!(107_190));
    let course = vapour["course"].as_array().unwrap();
    let at = |text: &str| {
        let found = course
            .iter()
            .find(|p| p["at"].as_str().unwrap().contains(text));
        found.map(|p| p["ppm"].as_i64().unwrap())
    };
    assert_eq!(at("T10:20:00"), Some(220_216));
    assert_eq!(at("T10:05:00"), Some(0));
    assert_eq!(course.last().unwrap()["ppm"], 107_190);
    // The booth itself had the same work in it from 10:10 on; its size is unknown.
    let all = world.at("2026-03-10 11:20").run("air");
    assert_eq!(all.code, 1);
    holds(
        &all.out,
        &[
            "flash room, air of the room",
            "share of the lower explosive limit now: 10.719 %",
            "if perfectly mixed; near the floor and the work it can be many times higher; a meter and a qualified person decide",
            "the volume of booth 1 is in no entry",
            "the way there: hangtime working vapour \"flash room\"",
        ],
    );
    world
        .at("2026-03-10 11:21")
        .run("limit enter --booth 'flash room' --lel-share --value 20% --source 'site rule'")
        .good();
    let said = world.at("2026-03-10 11:22").run("air 'flash room'");
    assert_eq!(said.code, 1);
    holds(&said.out, &["site rule) 20 %: over"]);
    // Two days later nothing fresh hangs there.
    let said = world.at("2026-03-13 11:20").run("air 'flash room'");
    assert_eq!(said.code, 0, "{}", said.out);
    holds(
        &said.out,
        &["no fresh coat was logged there in the last day"],
    );
    holds(
        &world.at("2026-03-10 11:20").run("air attic").refused(2),
        &["\"attic\" is no room"],
    );
}

#[test]
fn a_filter_gauge_is_projected_to_its_mark_from_three_readings_on() {
    let world = shop();
    let check = |at: &str, words: &str| {
        world
            .at(at)
            .run(&format!("booth check 'booth 1' {words}"))
            .good();
    };
    world
        .at("2026-03-09 06:50")
        .run("limit enter --booth 'booth 1' --filter-rise --value 75Pa --source 'filter paper'")
        .good();
    check("2026-03-09 07:00", "--gauge 25Pa --new-filters");
    check("2026-03-19 07:00", "--gauge 40Pa");
    let said = world.at("2026-03-19 07:10").run("booths").out;
    holds(
        &said,
        &["no projection: fewer than 3 readings since the clean one"],
    );
    check("2026-03-29 07:00", "--gauge 55Pa");
    // 1.5 Pa a day from 25 Pa: 100 Pa after 50 days. Three readings to 5 Pa leave it between 28.6 and 308.1 days.
    let said = world.at("2026-03-29 07:10").run("booths").out;
    holds(
        &said,
        &["at this rate the change mark is reached about 28 Apr 2026 (6 Apr 2026 to 11 Jan 2027)"],
    );
    let gauge = answer(&world, "2026-03-29 07:10", 0, "working gauge 'booth 1'");
    let sheet = &gauge["worksheets"][0]["worksheet"];
    assert_eq!(sheet["id"], "filter-trend");
    assert_eq!(sheet["result"]["value"], 1_200.0);
    // The clean reading of new filters begins anew; what reads below it is an alarm and no trend.
    check("2026-03-30 07:00", "--gauge 30Pa --new-filters");
    check("2026-03-31 07:00", "--gauge 12Pa");
    let said = world.at("2026-03-31 07:10").run("booths");
    assert_eq!(said.code, 1);
    holds(&said.out, &["TOO LOW"]);
    assert!(!said.out.contains("projection"), "{}", said.out);
}

#[test]
fn a_day_that_was_sprayed_in_without_a_check_before_stays_on_the_list() {
    let world = shop();
    coat(&world, "T-50");
    let missed = "booth 1: sprayed in without a check before it on 1 production day: 10 Mar 2026";
    let said = world.at("2026-03-10 10:20").run("booths");
    assert_eq!(said.code, 1);
    holds(&said.out, &[missed]);
    // A check afterwards does not heal it.
    world
        .at("2026-03-10 10:30")
        .run("booth check 'booth 1' --note 'fan runs'")
        .good();
    holds(&world.at("2026-03-10 10:40").run("booths").out, &[missed]);
    // The next day it was looked at first; a day's check is no check of the next.
    world
        .at("2026-03-11 07:00")
        .run("booth check 'booth 1' --note 'fan runs'")
        .good();
    for (at, words) in [
        (
            "2026-03-11 09:00",
            "coat --rack R12 --kind clear --lot T-50 --amount 600mL --include all --reason later",
        ),
        (
            "2026-03-12 09:00",
            "coat --rack R12 --kind clear --lot T-50 --amount 600mL --include all --reason later",
        ),
    ] {
        world.at(at).json(words);
    }
    let said = world.at("2026-03-14 08:00").run("booths").out;
    holds(&said, &["on 2 production days: 10 Mar 2026, 12 Mar 2026"]);
    let book = world
        .at("2026-03-14 08:00")
        .run("month 2026-03 --book --json")
        .out;
    let book: Value = serde_json::from_str(&book).unwrap();
    let days: Vec<&str> = book["missed_checks"]
        .as_array()
        .unwrap()
        .iter()
        .map(|m| m["missed_check"].as_str().unwrap())
        .collect();
    assert_eq!(days, ["2026-03-10", "2026-03-12"]);
    holds(
        &world.at("2026-03-14 08:00").run("month 2026-03 --book").out,
        &["booth 1: sprayed in without a check"],
    );
    // In May they are no longer among the booths' lines; their month has them for ever.
    holds(
        &world.at("2026-04-30 08:00").run("booths").out,
        &["on 2 production days", "listed from 1 Mar 2026 on"],
    );
    let said = world.at("2026-05-02 08:00").run("booths").out;
    assert!(!said.contains("without a check"), "{said}");
    holds(
        &world.at("2026-05-02 08:00").run("month 2026-03 --book").out,
        &["booth 1: sprayed in without a check"],
    );
}

/// A liquid with a flash point above the highest of the categories, and one without any.
const OTHERS: [(&str, &str); 2] = [("HIGH", "flash_point = \"120 C\"\n"), ("BARE", "")];

#[test]
fn what_stands_at_a_place_is_held_against_the_caps_that_the_shop_entered_for_it() {
    let world = World::new();
    let desk = world.at("2026-03-09 08:00");
    let mut sheets = vec![("TOL", PLAIN.to_owned())];
    for (code, flash) in OTHERS {
        let sheet = PLAIN
            .replace("\"TOL\"", &format!("\"{code}\""))
            .replace("flash_point = \"5 C\"\n", flash);
        sheets.push((code, sheet));
    }
    for (code, sheet) in &sheets {
        let file = world.file(&format!("{code}.toml"), sheet);
        desk.run(&format!("material adopt '{}'", file.display()))
            .good();
    }
    // 20 L, of which 6 L go to the mixing room; 3 L of 30 L that no category has.
    desk.run("lot receive T-50 TOL 20L").good();
    desk.run("lot receive H-1 HIGH 30L").good();
    desk.run("stock carry T-50 6L --to 'mixing room'").good();
    desk.run("stock carry H-1 3L --to 'mixing room'").good();
    let room = |code: i32, at: &str| answer(&world, at, code, "working store 'mixing room'");
    let store = room(0, "2026-03-09 08:10");
    assert_eq!(kept(&store, "all liquids"), json!(9_000_000));
    assert_eq!(kept(&store, "category 1"), json!(6_000_000));
    assert_eq!(kept(&store, "categories 1 to 3"), json!(6_000_000));
    assert_eq!(kept(&store, "categories 2 to 4"), json!(0));
    assert_eq!(store["held_against"], json!([]));
    let said = world
        .at("2026-03-09 08:10")
        .run("working store 'mixing room'")
        .out;
    holds(
        &said,
        &[
            "lot T-50 of TOL: 6.00 L, flash point 5 C, category 1 for want of a boiling point",
            "lot H-1 of HIGH: 3.00 L, flash point 120 C, above the four categories",
            "no cap is entered for mixing room",
            // 25 gal x 3.785411784 L.
            "published example, not confirmed for this site and held against nothing: 94.6353 L (25 gal) of category 1 in containers outside a cabinet",
            "the local fire code official and the insurer decide",
            "[flammable-category]",
        ],
    );
    // Each class has a cap of its own; a place's goes before the one of all places.
    let enter = |words: &str| {
        desk.run(&format!(
            "limit enter --stored {words} --source 'site rule'"
        ))
        .good();
    };
    enter("'all places' --class 'category 1' --value 5L");
    enter("'mixing room' --value 9L");
    let stock = answer(&world, "2026-03-09 08:20", 1, "stock");
    let held: Vec<(&str, &str, &str)> = stock
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|row| {
            let held = &row["held_against"];
            Some((
                row["place"].as_str()?,
                held["limit"].as_str()?.split(" (").next()?,
                held["side"].as_str()?,
            ))
        })
        .collect();
    // 6 L by 5 L, 9 L by 9 L; 14 L in the store by 5 L.
    assert_eq!(
        held,
        [
            ("mixing room", "all liquids at mixing room", "at"),
            ("mixing room", "category 1 at mixing room", "over"),
            ("store", "category 1 at store", "over"),
        ]
    );
    enter("'mixing room' --class 'category 1' --value 8L");
    let store = room(0, "2026-03-09 08:30");
    assert_eq!(store["held_against"][1]["side"], "under");
    // What has no flash point may be of any category: a cap that it could break is unknown, one that is broken is over.
    desk.run("lot receive B-1 BARE 5L").good();
    desk.run("stock carry B-1 1L --to 'mixing room'").good();
    let store = room(1, "2026-03-09 08:40");
    assert_eq!(kept(&store, "all liquids"), json!(10_000_000));
    assert_eq!(kept(&store, "category 1"), Value::Null);
    assert_eq!(store["held_against"][0]["side"], "over");
    assert_eq!(store["held_against"][1]["side"], "unknown");
    holds(
        &store["unknown"].to_string(),
        &["the sheet of lot B-1 of BARE states no flash point, so its category is unknown"],
    );
    // A waste drum stands there, too; what was filled in by weight has no volume.
    desk.run("drum start W-3 --contents 'spent thinner' --place yard")
        .good();
    desk.run("drum fill W-3 'spent thinner' --mass 4kg").good();
    enter("yard --value 100L");
    let yard = answer(&world, "2026-03-09 08:50", 1, "working store yard");
    assert_eq!(kept(&yard, "all liquids"), Value::Null);
    assert_eq!(yard["held_against"][0]["side"], "unknown");
    // More left than came: its amount is unknown and not nothing.
    desk.run("stock carry T-50 3L --from shelf --to yard")
        .good();
    let shelf = answer(&world, "2026-03-09 08:55", 1, "working store shelf");
    assert_eq!(kept(&shelf, "category 1"), Value::Null);
    holds(
        &shelf["unknown"].to_string(),
        &["lot T-50 of TOL is below zero by the record: count it or enter the receipt"],
    );
    holds(
        &desk
            .run("limit enter --stored yard --class flammable --value 5L --source me")
            .refused(2),
        &["write one of all liquids, category 1, categories 1 to 3"],
    );
    holds(
        &desk.run("working store attic").refused(2),
        &["nothing stands at \"attic\" by the record"],
    );
}

#[test]
fn the_exposure_index_is_reckoned_against_entered_limits_alone_and_names_the_hygienist() {
    let world = shop();
    coat(&world, "T-50");
    world
        .at("2026-03-10 10:20")
        .run("move --rack R12 --room 'flash room'")
        .good();
    world
        .at("2026-03-10 10:21")
        .run("room air 'flash room' --volume 50m3 --flow 0.01m3/s --source 'plan of 2024'")
        .good();
    // Nobody entered a limit: there is a concentration and no index, and "air" has no line of it.
    let index = "exposure index over eight hours";
    let words = "working exposure 'flash room'";
    let found = answer(&world, "2026-03-10 11:20", 1, words);
    assert_eq!(kept(&found, index), Value::Null);
    holds(
        &found["says"].to_string(),
        &["no exposure limit is entered for toluene (108-88-3), and none is a default"],
    );
    let air = world.at("2026-03-10 11:20").run("air 'flash room'").out;
    assert!(!air.contains("exposure"), "{air}");
    let desk = world.at("2026-03-10 11:00");
    desk.run("limit enter --exposure-of toluene --value 300ppm --source 'state list, read by MK'")
        .good();
    // 2202.16 ppm at 10:20, as in the room's vapour, times exp(-0.01 x 900 / 50) each quarter of an hour: the values at the
    // beginning of the four quarters to 11:20 are 2202.16 x (1 + 0.835270 + 0.697676 + 0.582748), each for 0.25 h of 8.
    let found = answer(&world, "2026-03-10 11:20", 0, words);
    let mean = kept(&found, "toluene over eight hours");
    assert!((mean.as_f64().unwrap() - 214.415).abs() < 0.01, "{mean}");
    let by_limit = kept(&found, index);
    assert!(
        (by_limit.as_f64().unwrap() - 0.714_72).abs() < 0.000_1,
        "{by_limit}"
    );
    let ids: Vec<&str> = found["worksheets"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["worksheet"]["id"].as_str().unwrap())
        .collect();
    assert_eq!(ids, ["room-vapour", "exposure-average", "exposure-mixture"]);
    desk.run("limit enter --exposure-of 108-88-3 --value 200ppm --source 'the newer list'")
        .good();
    let said = world.at("2026-03-10 11:20").run("air 'flash room'");
    assert_eq!(said.code, 1);
    holds(
        &said.out,
        &[
            "flash room, eight hours in its air",
            "toluene over eight hours: 214 ppm",
            "exposure index over eight hours: 1.07",
            "measured by nobody: it does not say what anybody breathes",
            "an industrial hygienist decide",
            "held against the entered eight-hour limit 200 ppm: over",
            "held against the combined limit of the mixture 1: over",
            "the way there: hangtime working exposure \"flash room\"",
        ],
    );
    for (words, why) in [
        ("--exposure-of VOC --value 50ppm", "one of a substance"),
        ("--exposure-of toluene --value 0ppm", "is outside 0.001 ppm"),
        (
            "--exposure-of unobtainium --value 5ppm",
            "neither VOC nor HAP",
        ),
    ] {
        let said = desk.run(&format!("limit enter {words} --source me"));
        holds(&said.refused(2), &[why]);
    }
}

#[test]
fn what_no_sheet_names_leaves_the_exposure_index_unknown_and_a_part_over_its_limit_is_over() {
    let world = shop();
    coat(&world, "L-221");
    let desk = world.at("2026-03-10 10:21");
    desk.run("room air 'booth 1' --volume 50m3 --flow 0.01m3/s --source 'plan of 2024'")
        .good();
    let enter = |value: &str| {
        desk.run(&format!(
            "limit enter --exposure-of 108-88-3 --value {value} --source 'state list'"
        ))
        .good();
    };
    let side = || {
        let found = answer(&world, "2026-03-10 11:20", 1, "working exposure 'booth 1'");
        assert_eq!(kept(&found, "exposure index over eight hours"), Value::Null);
        holds(
            &found["unknown"].to_string(),
            &["a part of the solvent is named on no sheet"],
        );
        let held = found["held_against"].as_array().unwrap().clone();
        assert_eq!(held.len(), 2, "{held:?}");
        (held[0]["side"].clone(), held[1]["side"].clone())
    };
    enter("100000ppm");
    assert_eq!(side(), (json!("unknown"), json!("unknown")));
    enter("0.1ppm");
    assert_eq!(side(), (json!("over"), json!("over")));
}
