//! Coats, intervals and production days of single pieces.

use crate::world::{World, holds, rules, texts};
use serde_json::{Value, json};

const DAY: &str = "2026-03-10";

fn at(time: &str) -> String {
    format!("{DAY} {time}")
}

// A body that is sealed and has its first clear coat since the end of 09:00.
fn one_clear() -> World {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    world.bring_to("B-0117", 1, &at("09:00"), "");
    world
}

#[test]
fn s01_a_fourth_coat_in_a_day_names_every_reason_and_the_binding_one_first() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    world.bring_to("B-0117", 1, &at("09:00"), "");
    for time in ["10:35", "12:10"] {
        let saved = world.at(&at(time)).json("coat B-0117 --kind clear");
        assert_eq!(saved["deviations"], json!([]));
    }

    let plan = world
        .at(&at("15:40"))
        .json("coat B-0117 --kind clear --preview");
    let piece = &plan["pieces"][0];
    assert_eq!(piece["coat"], 4);
    assert_eq!(rules(&piece["objections"]), ["daily-cap", "order"]);
    assert_eq!(
        piece["objections"][0]["until"],
        "2026-03-11T06:00:00.000-04:00"
    );
    holds(
        piece["objections"][0]["text"].as_str().unwrap(),
        &[
            "3 of 3 clear coats today",
            "next not before Wed 11 Mar 06:00",
        ],
    );
    assert_eq!(
        piece["objections"][1]["until"],
        "2026-03-11T00:10:00.000-04:00"
    );
    holds(
        piece["objections"][1]["text"].as_str().unwrap(),
        &["level sand 1 comes first", "sanding time from Wed 00:10"],
    );
    // A preview writes nothing.
    assert_eq!(world.clears(&at("15:40"), "B-0117"), 3);

    let ready = world.at(&at("15:40")).json("ready");
    assert_eq!(
        ready["racks"][0]["ready_at"],
        "2026-03-11T00:10:00.000-04:00"
    );

    let saved = world
        .at(&at("15:40"))
        .json("coat B-0117 --kind clear --coat 4");
    assert_eq!(rules(&saved["deviations"]), ["daily-cap", "order"]);
    holds(
        saved["deviations"][0]["text"].as_str().unwrap(),
        &["over daily cap"],
    );
    holds(
        saved["deviations"][1]["text"].as_str().unwrap(),
        &["level sand 1 skipped"],
    );
    assert_eq!(world.clears(&at("15:40"), "B-0117"), 4);

    // One reason answers for both; until then both lack it.
    let open = world.at(&at("15:41")).json("deviations");
    assert_eq!(open.as_array().unwrap().len(), 2);
    assert!(
        open.as_array()
            .unwrap()
            .iter()
            .all(|d| d["reason"].is_null())
    );
    let entry = open[0]["entry"].as_i64().unwrap();
    world
        .at(&at("15:42"))
        .run(&format!("explain {entry} 2"))
        .good();
    let open = world.at(&at("15:43")).json("deviations");
    assert!(
        open.as_array()
            .unwrap()
            .iter()
            .all(|d| d["reason"] == "due date")
    );

    let ready = world.at(&at("15:45")).json("ready");
    assert_eq!(
        ready["racks"][0]["ready_at"],
        "2026-03-11T03:40:00.000-04:00"
    );
}

#[test]
fn s02_a_coat_too_early_is_warned_of_before_and_marked_after() {
    let world = one_clear();
    let plan = world
        .at(&at("10:10"))
        .json("coat B-0117 --kind clear --preview");
    let reasons = &plan["pieces"][0]["objections"];
    assert_eq!(rules(reasons), ["interval"]);
    assert_eq!(reasons[0]["until"], "2026-03-10T10:30:00.000-04:00");
    holds(
        reasons[0]["text"].as_str().unwrap(),
        &["earliest 10:30", "20 min left"],
    );

    let saved = world
        .at(&at("10:10"))
        .json("coat B-0117 --kind clear --coat 2");
    assert_eq!(saved["saved"], true);
    assert_eq!(rules(&saved["deviations"]), ["interval"]);
    assert_eq!(saved["deviations"][0]["text"], "20 min early");
    assert_eq!(world.clears(&at("10:11"), "B-0117"), 2);
}

#[test]
fn s03_a_limit_that_is_met_exactly_is_met_and_the_last_second_is_shown_as_a_minute() {
    let world = one_clear();
    let plan = world
        .at(&at("10:29:59"))
        .json("coat B-0117 --kind clear --preview");
    let reasons = &plan["pieces"][0]["objections"];
    assert_eq!(rules(reasons), ["interval"]);
    holds(reasons[0]["text"].as_str().unwrap(), &["1 min left"]);
    let card = world.at(&at("10:29:59")).json("piece show B-0117");
    assert_eq!(card["minutes_left"], 1);
    assert_eq!(card["outlook"], "waiting");
    let card = world.at(&at("10:30")).json("piece show B-0117");
    assert_eq!(card["minutes_left"], 0);
    assert_eq!(card["outlook"], "ready");

    let early = one_clear();
    let saved = early
        .at(&at("10:29:59"))
        .json("coat B-0117 --kind clear --coat 2");
    assert_eq!(saved["deviations"][0]["text"], "1 s early");

    let exact = world.at(&at("10:30")).json("coat B-0117 --kind clear");
    assert_eq!(exact["saved"], true);
    assert_eq!(exact["deviations"], json!([]));
}

#[test]
fn a_deed_of_the_command_line_is_timed_by_the_moment_it_was_given() {
    // A coat that ends at 09:00 of the shop's clock ends at 09:00, however long the program takes to start.
    let world = one_clear();
    let card = world.at(&at("09:00")).json("piece show B-0117");
    assert_eq!(card["last_wet"], "2026-03-10T09:00:00.000-04:00");
    assert_eq!(card["ready_at"], "2026-03-10T10:30:00.000-04:00");
    let newest = card["history"].as_array().unwrap().last().unwrap();
    assert_eq!(newest["written"], "2026-03-10T09:00:00.000-04:00");
}

#[test]
fn s06_a_coat_that_ended_eight_minutes_ago_is_timed_from_its_end() {
    let world = one_clear();
    world
        .at(&at("10:52"))
        .run("coat B-0117 --kind clear --ended-ago 8m")
        .good();
    let card = world.at(&at("10:52")).json("piece show B-0117");
    assert_eq!(card["last_wet"], "2026-03-10T10:44:00.000-04:00");
    assert_eq!(card["ready_at"], "2026-03-10T12:14:00.000-04:00");
    let newest = card["history"].as_array().unwrap().last().unwrap();
    assert_eq!(newest["ended"], "2026-03-10T10:44:00.000-04:00");
    assert_eq!(newest["written"], "2026-03-10T10:52:00.000-04:00");

    // What would end in the future is impossible.
    let said = world
        .at(&at("10:53"))
        .run("coat B-0117 --kind clear --ended 12:30")
        .refused(2);
    holds(&said, &["97 min in the future"]);
    assert_eq!(world.clears(&at("10:53"), "B-0117"), 2);

    // More than a day back is recorded and asks for a reason.
    let late = world
        .at("2026-03-12 10:00")
        .json("coat B-0117 --kind clear --ended '2026-03-10 12:20'");
    assert_eq!(rules(&late["deviations"]), ["written-late"]);
    assert!(late["deviations"][0]["reason"].is_null());
}

#[test]
fn s24_a_slow_mix_lengthens_the_waits_of_what_was_sprayed_with_it() {
    let world = World::new();
    for (serial, mix, share) in [
        ("B-0241", 1, 19_608),
        ("B-0242", 2, 47_619),
        ("B-0243", 3, 52_133),
    ] {
        world.piece("2026-03-06 07:00", serial, "G9", "");
        if mix > 1 {
            let retarder = if mix == 2 { "0.20L" } else { "0.22L" };
            let made = world.at("2026-03-06 08:00").json(&format!(
                "mix make slow L-221=3.00L T-9=1.00L R-1={retarder}"
            ));
            assert_eq!(made["mix"], mix);
        }
        let mixes = world.now().json("mix list");
        assert_eq!(mixes[0]["retarder_ppm"], share);
        world.bring_to(serial, 0, &at("08:00"), "");
    }

    // 1.96 %: nothing changes. 4.76 %: 120 min, and 24 h before sanding. 5.21 %: those, and a supervisor's name.
    let ready = |serial: &str| {
        world.at(&at("09:00")).json(&format!("piece show {serial}"))["ready_at"].clone()
    };
    world
        .at(&at("09:00"))
        .run("coat B-0241 --kind clear --mix 1")
        .good();
    assert_eq!(ready("B-0241"), "2026-03-10T10:30:00.000-04:00");

    let saved = world
        .at(&at("09:00"))
        .json("coat B-0242 --kind clear --mix 2");
    assert_eq!(saved["deviations"], json!([]));
    assert_eq!(ready("B-0242"), "2026-03-10T11:00:00.000-04:00");

    let plan = world
        .at(&at("09:00"))
        .json("coat B-0243 --kind clear --mix 3 --preview");
    assert_eq!(rules(&plan["pieces"][0]["objections"]), ["retarder"]);
    let named = world
        .at(&at("09:00"))
        .json("coat B-0243 --kind clear --mix 3 --supervisor JT --preview");
    assert_eq!(named["pieces"][0]["objections"], json!([]));
    let saved = world
        .at(&at("09:00"))
        .json("coat B-0243 --kind clear --mix 3");
    assert_eq!(rules(&saved["deviations"]), ["retarder"]);
    assert_eq!(ready("B-0243"), "2026-03-10T11:00:00.000-04:00");

    // The sanding of a set waits for the slowest mix in it, even when the last coat was a plain one.
    world
        .at(&at("11:00"))
        .run("coat B-0242 --kind clear --mix 1")
        .good();
    world
        .at(&at("12:30"))
        .run("coat B-0242 --kind clear --mix 1")
        .good();
    assert_eq!(ready("B-0242"), "2026-03-10T11:00:00.000-04:00");
    let card = world.at(&at("12:30")).json("piece show B-0242");
    assert_eq!(card["next_step"], "level-sand");
    assert_eq!(card["ready_at"], "2026-03-11T12:30:00.000-04:00");
    for time in ["10:30", "12:00"] {
        world
            .at(&at(time))
            .run("coat B-0241 --kind clear --mix 1")
            .good();
    }
    let card = world.at(&at("12:30")).json("piece show B-0241");
    assert_eq!(card["ready_at"], "2026-03-11T00:00:00.000-04:00");
}

#[test]
fn s09_a_gap_of_more_than_72_h_asks_for_a_scuff_first() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0901", "G9", "");
    world.bring_to("B-0901", 1, "2026-03-13 16:00", "");
    let plan = world
        .at("2026-03-17 08:00")
        .json("coat B-0901 --kind clear --preview");
    assert_eq!(rules(&plan["pieces"][0]["objections"]), ["scuff-first"]);
    let saved = world
        .at("2026-03-17 08:00")
        .json("coat B-0901 --kind clear");
    assert_eq!(rules(&saved["deviations"]), ["scuff-first"]);

    let scuffed = World::new();
    scuffed.piece("2026-03-06 07:00", "B-0901", "G9", "");
    scuffed.bring_to("B-0901", 1, "2026-03-13 16:00", "");
    scuffed
        .at("2026-03-17 07:50")
        .run("sand B-0901 --kind scuff")
        .good();
    let saved = scuffed
        .at("2026-03-17 08:00")
        .json("coat B-0901 --kind clear");
    assert_eq!(saved["deviations"], json!([]));
}

#[test]
fn s10_a_filler_that_is_not_dry_holds_the_seal_back() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-1001", "P9", "");
    world
        .at("2026-03-09 08:00")
        .run("done receive B-1001")
        .good();
    world.at("2026-03-09 08:10").run("done mask B-1001").good();
    world
        .at("2026-03-09 10:00")
        .run("coat B-1001 --kind fill")
        .good();
    let card = world.at("2026-03-11 15:00").json("piece show B-1001");
    assert_eq!(card["ready_at"], "2026-03-12T10:00:00.000-04:00");
    let plan = world
        .at("2026-03-11 15:00")
        .json("coat B-1001 --kind seal --preview");
    assert_eq!(rules(&plan["pieces"][0]["objections"]), ["interval"]);
    let saved = world.at("2026-03-11 15:00").json("coat B-1001 --kind seal");
    assert_eq!(saved["deviations"][0]["text"], "19 h early");
    let card = world.at("2026-03-12 15:00").json("piece show B-1001");
    assert_eq!(card["deviations"][0]["text"], "19 h early");
}

#[test]
fn a_cup_of_another_kind_than_the_step_wants_is_warned_of_and_marked() {
    let world = World::new();
    let desk = world.at("2026-03-06 07:00");
    desk.run("lot receive S-1 SLR 20L").good();
    assert_eq!(desk.json("mix make sealer S-1=1L T-9=0.2L")["mix"], 2);
    world.piece("2026-03-06 07:01", "B-0117", "G9", "");
    for deed in ["receive", "mask"] {
        desk.run(&format!("done {deed} B-0117")).good();
    }

    // The clear mix on a seal step; the thinner in it decides nothing.
    let plan = world
        .at(&at("08:00"))
        .json("coat B-0117 --mix 1 --kind seal --preview");
    let reasons = &plan["pieces"][0]["objections"];
    assert_eq!(rules(reasons), ["material"]);
    assert_eq!(reasons[0]["until"], json!(null));
    holds(
        reasons[0]["text"].as_str().unwrap(),
        &["the cup holds lacquer and thinner and retarder, seal wants sealer"],
    );
    let saved = world
        .at(&at("08:00"))
        .json("coat B-0117 --mix 1 --kind seal");
    assert_eq!(rules(&saved["deviations"]), ["material"]);

    // The sealer is what the step wants, and it is not what a clear wants; a cup that nobody named says nothing.
    let saved = world
        .at(&at("09:00"))
        .json("coat B-0117 --mix 2 --kind seal");
    assert_eq!(saved["deviations"], json!([]));
    for (cup, reason) in [
        ("--mix 2", vec!["material"]),
        ("--mix 1", vec![]),
        ("", vec![]),
    ] {
        let plan = world
            .at(&at("10:00"))
            .json(&format!("coat B-0117 {cup} --kind clear --preview"));
        assert_eq!(rules(&plan["pieces"][0]["objections"]), reason, "{cup}");
    }
    // As it comes from the can it is judged, too, and a can of thinner holds no lacquer.
    for (lot, said) in [("S-1", "holds sealer,"), ("T-9", "holds thinner,")] {
        let plan = world
            .at(&at("10:00"))
            .json(&format!("coat B-0117 --lot {lot} --kind clear --preview"));
        let reasons = &plan["pieces"][0]["objections"];
        assert_eq!(rules(reasons), ["material"]);
        holds(
            reasons[0]["text"].as_str().unwrap(),
            &[said, "clear set 1 wants lacquer"],
        );
    }
    // A touch-up is no coat of the recipe.
    let plan = world
        .at(&at("10:00"))
        .json("coat B-0117 --mix 2 --touch-up --preview");
    assert_eq!(plan["pieces"][0]["objections"], json!([]));
    // What is thinned by a top-up still holds what it was.
    assert_eq!(desk.json("mix make more T-9=0.2L --tops-up 1")["mix"], 3);
    let plan = world
        .at(&at("10:00"))
        .json("coat B-0117 --mix 3 --kind clear --preview");
    assert_eq!(plan["pieces"][0]["objections"], json!([]));
}

#[test]
fn a_recipe_says_that_its_clear_is_its_own_sealer() {
    let world = World::new();
    let text = std::fs::read_to_string(crate::world::sample("recipes/g9.toml")).unwrap();
    let own = text.replace("revision = 3", "revision = 4").replacen(
        "solids = \"13 %\"",
        "solids = \"13 %\"\nwith = [\"sealer\", \"lacquer\"]",
        1,
    );
    let file = world.file("own.toml", &own);
    let desk = world.at("2026-03-06 07:00");
    desk.run(&format!("recipe adopt '{}'", file.display()))
        .good();
    holds(
        &desk.run("recipe show G9").good().out,
        &["with sealer or lacquer"],
    );
    holds(
        &desk.run("recipe compare G9 3 4").good().out,
        &["with sealer or lacquer"],
    );
    world.piece("2026-03-06 07:01", "B-0117", "G9", "");
    for deed in ["receive", "mask"] {
        desk.run(&format!("done {deed} B-0117")).good();
    }
    let saved = world
        .at(&at("08:00"))
        .json("coat B-0117 --mix 1 --kind seal");
    assert_eq!(saved["deviations"], json!([]));
    // What is no kind of material is refused with the list of those that are.
    let bad = own.replace("\"sealer\", \"lacquer\"", "\"varnish\"");
    let file = world.file("bad.toml", &bad);
    let said = desk.run(&format!("recipe check '{}'", file.display()));
    assert_eq!(said.code, 2);
    holds(&said.err, &["with", "varnish", "lacquer, sealer, filler"]);
}

#[test]
fn a_coat_is_booked_at_the_booth_where_it_is_sprayed_and_not_where_the_rack_hangs() {
    let world = World::new();
    for (serial, room) in [
        ("B-1", "flash room"),
        ("B-2", "booth 2"),
        ("B-3", "flash room"),
    ] {
        world.piece(
            "2026-03-10 06:00",
            serial,
            "G9",
            &format!("--room '{room}'"),
        );
    }
    let morning = world.at("2026-03-10 06:30");
    morning.run("room declare 'booth 1'").good();
    morning
        .run("booth check 'booth 1' --note 'fan runs'")
        .good();
    let at = |station: &'static str, line: &str| {
        world.at("2026-03-10 08:00").station(station).json(line)
    };
    let remarks = |plan: &Value| plan["remarks"].to_string();
    // The station is named after a booth: that is where it is sprayed.
    let plan = at("BOOTH-1", "coat B-1 --kind seal --preview");
    assert!(
        remarks(&plan)
            .contains("sprayed in booth 1, the booth of this station (hangs in flash room)"),
        "{plan}"
    );
    assert!(
        !plan["cautions"].to_string().contains("flash room"),
        "{plan}"
    );
    // It is named after none: the room of the piece where that is a booth, else none, and that is said.
    let plan = at("bench", "coat B-1 --kind seal --preview");
    assert!(
        remarks(&plan).contains("booked at no booth: hangs in flash room"),
        "{plan}"
    );
    assert_eq!(
        remarks(&at("bench", "coat B-2 --kind seal --preview")),
        "[]"
    );
    // What is said goes before both, and a booth is known by its name however it is written.
    at(
        "BOOTH-1",
        "coat B-1 --kind seal --lot L-221 --amount 10mL --booth 'booth 2'",
    );
    at(
        "bench",
        "coat B-2 --kind seal --lot L-221 --amount 10mL --booth BOOTH-1",
    );
    at("bench", "coat B-3 --kind seal --lot L-221 --amount 10mL");
    let book = world
        .at("2026-03-10 09:00")
        .json("month 2026-03 --by booth");
    let booths: Vec<&str> = texts(&book["lines"], "key");
    assert_eq!(booths, ["booth 1", "booth 2", "unknown"], "{book}");
    let missed = world.at("2026-03-10 09:00").run("booths --json").out;
    assert!(
        missed.contains("booth 2") && !missed.contains("flash room"),
        "{missed}"
    );
    assert_eq!(
        world.count("SELECT count(*) FROM entry WHERE kind = 'coat/3'"),
        3
    );
    let verify = world.at("2026-03-10 09:10").json("verify");
    assert_eq!(verify["differences"], serde_json::json!([]), "{verify}");
}

#[test]
fn what_was_left_out_before_the_next_step_stands_on_the_card() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 2);
    world.bring_to("--rack R12", 2, "2026-03-09 12:00", "");
    let show = |time: &str| world.at(time).run("piece show B-0201").good().out;
    assert!(!show("2026-03-10 12:00").contains("left out before it"));
    // A single piece goes by one word, and its card says what is not there, and not only what is next.
    world
        .at("2026-03-10 12:00")
        .run("sand B-0201 --kind final-sand --grit P800")
        .good();
    holds(
        &show("2026-03-10 12:01"),
        &[
            "next: buff",
            "left out before it: clear set 1 (2 of 3), level sand 1, ",
        ],
    );
}
