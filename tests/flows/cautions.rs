//! Cautions at the moment of use, who read them and who was told, through the built program.

use crate::world::{World, holds, rules, run, sample, split, texts};
use serde_json::{Value, json};

// A shop with oil varnish on the shelf and three pieces in booth 3 and one in booth 1.
fn oil_and_lacquer() -> World {
    let world = World::new();
    let desk = world.at("2026-03-09 06:30");
    desk.run(&format!(
        "material adopt '{}'",
        sample("materials/ovn.toml")
    ))
    .good();
    desk.run("lot receive O-5 OVN 5L").good();
    for (serial, room) in [("B-1", "3"), ("B-2", "3"), ("B-3", "3"), ("B-4", "1")] {
        world.piece(
            "2026-03-09 06:40",
            serial,
            "G9",
            &format!("--room 'booth {room}'"),
        );
    }
    for booth in ["1", "3"] {
        world
            .at("2026-03-10 06:30")
            .run(&format!("booth check 'booth {booth}' --note 'fan runs'"))
            .good();
    }
    world
}

// How many cautions of a coat are not read yet.
fn unread_at(world: &World, at: &str) -> usize {
    let plan = world.at(at).json("coat B-4 --kind seal --mix 1 --preview");
    let list = plan["cautions"].as_array().unwrap();
    list.iter().filter(|c| c["read_by"].is_null()).count()
}

#[test]
fn only_what_stood_on_the_page_in_full_is_written_down_as_read_and_the_rest_is_said() {
    let world = oil_and_lacquer();
    let unread = |at: &str| unread_at(&world, at);
    let all = unread("2026-03-10 08:00");
    let mut minute = 1;
    let mut left = all;
    while left > 0 {
        let desk = format!("2026-03-10 08:{minute:02}");
        let said = world
            .at(&desk)
            .run("caution read all --mix 1 --booth 'booth 1' --when spraying --page 80x19")
            .good()
            .out;
        let heads = said
            .lines()
            .filter(|l| l.contains(", mix 1:") || l.contains(", booth 1:"));
        let shown = heads.count();
        assert!(shown > 0 && shown < all, "{said}");
        holds(&said, &[&format!("saved: {shown} caution")]);
        left -= shown;
        // A long line goes on below; each of these is shorter than two lines of the page.
        let rows: usize = said.lines().map(|l| 1 + l.chars().count() / 80).sum();
        assert!(rows <= 21, "{rows} rows: {said}");
        if left > 0 {
            holds(&said, &[&format!("{left} more not shown and still unread")]);
        }
        assert_eq!(unread(&desk), left, "{said}");
        minute += 1;
    }
    assert!(minute > 2, "they were more than a page holds");
    // A page on which none stands in full writes down nothing.
    let small = world
        .at("2026-03-11 08:01")
        .run("caution read all --mix 1 --page 40x2")
        .refused(2);
    holds(&small, &["too small", "nothing was written down"]);
    holds(
        &world
            .at("2026-03-11 08:02")
            .run("caution read all --mix 1 --page wide")
            .refused(2),
        &["80x20"],
    );
}

#[test]
fn a_caution_of_no_booth_and_no_mix_says_what_it_belongs_to() {
    let world = World::new();
    world.piece("2026-03-10 06:00", "B-9", "G9", "");
    let desk = world.at("2026-03-10 08:00");
    let said = desk.run("coat B-9 --kind seal --preview").good().out;
    holds(
        &said,
        &["of spraying (no mix and no booth named) not read today"],
    );
    assert!(!said.contains("of no booth named"), "{said}");
}

// A text without its line ends: a caution is broken between words.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

// The cautions of an answer that something in the record asks for.
fn pressing(answer: &Value) -> Vec<(&str, &str)> {
    answer["cautions"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| !c["because"].is_null())
        .map(|c| (c["id"].as_str().unwrap(), c["about"].as_str().unwrap()))
        .collect()
}

#[test]
fn s52_lacquer_after_oil_names_both_and_asks_whom_the_finisher_told() {
    let world = oil_and_lacquer();
    let oil = world
        .at("2026-03-10 09:14")
        .json("coat B-1 --kind seal --lot O-5");
    assert_eq!(pressing(&oil), []);
    world
        .now()
        .run("contact set 'safety lead' 'SL, ext. 12'")
        .good();

    let desk = world.at("2026-03-10 10:00");
    // In the other booth there was no oil.
    assert_eq!(
        pressing(&desk.json("coat B-4 --kind seal --mix 1 --preview")),
        []
    );
    let plan = desk.json("coat B-2 --kind seal --mix 1 --preview");
    assert_eq!(pressing(&plan), [("spraying-after-oil", "booth 3")]);
    let said = desk.run("coat B-2 --kind seal --mix 1 --preview").good();
    holds(
        &flat(&said.out),
        &[
            "OVN (lot O-5) was sprayed until 09:14",
            "CLR (mix 1) from 10:00",
            "no cleaning of booth 3 is written down in between",
            "Clean all deposits out of booth and ducts before lacquer goes in.",
            "source: 29 CFR 1910.107(g)(6)",
            "ask: safety lead (SL, ext. 12), then fire marshal",
            "whom have you told? hangtime caution told spraying-after-oil --about \"booth 3\" --whom NAME",
        ],
    );

    // It is sprayed all the same: saved, and on the safety list.
    let saved = desk.json("coat B-2 --kind seal --mix 1");
    assert_eq!(saved["saved"], true);
    let waiting = world.at("2026-03-10 10:30").run("cautions waiting");
    assert_eq!(waiting.code, 1);
    holds(
        &waiting.out,
        &[
            "one material under another in a booth",
            "OVN (lot O-5) was sprayed until 09:14",
            "nobody is written down as told",
        ],
    );
    world
        .at("2026-03-10 10:31")
        .run("caution told spraying-after-oil --about 'booth 3' --whom JT")
        .good();
    let waiting = world.at("2026-03-10 10:32").run("cautions waiting");
    // Told is not settled: it stays on the list, with the name.
    assert_eq!(waiting.code, 1);
    holds(&waiting.out, &["told JT, written down by MK"]);
    let entries = world.now().run("entries").good().out;
    holds(&entries, &["told JT"]);
    let plan = world
        .at("2026-03-10 10:40")
        .run("coat B-3 --kind seal --mix 1 --preview")
        .good()
        .out;
    holds(&plan, &["told JT, written down by MK"]);
    assert!(!plan.contains("whom have you told?"), "{plan}");
    assert_eq!(
        world.now().json("verify")["differences"],
        json!([]),
        "nothing that is kept depends on it"
    );
}

#[test]
fn s52_a_cleaning_that_is_written_down_ends_it_and_solvent_for_guns_does_not() {
    let world = oil_and_lacquer();
    world
        .at("2026-03-10 09:14")
        .run("coat B-1 --kind seal --lot O-5 --amount 40mL")
        .good();
    world
        .at("2026-03-10 09:30")
        .run("stock use T-9 0.4L --for cleaning --booth 'booth 3'")
        .good();
    let asked = |time: &str| {
        let plan = world
            .at(&format!("2026-03-10 {time}"))
            .json("coat B-2 --kind seal --mix 1 --preview");
        pressing(&plan)
            .iter()
            .map(|(id, _)| (*id).to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(asked("09:40"), ["spraying-after-oil"]);
    holds(
        &world
            .at("2026-03-10 09:45")
            .run("booth cleaned 'booth 9'")
            .refused(2),
        &["booth 9", "booth 3"],
    );
    world
        .at("2026-03-10 11:00")
        .run("booth cleaned 'booth 3' --note 'ducts and filters too' --done 10:45")
        .good();
    assert_eq!(asked("11:10"), Vec::<String>::new());
    // Undone, it is no cleaning.
    world.at("2026-03-10 11:11").run("undo").good();
    assert_eq!(asked("11:12"), ["spraying-after-oil"]);
    // A duty of that name is the same deed.
    let desk = world.at("2026-03-10 11:20");
    desk.run("duty set 'booth cleaned' --of 'booth 3' --every 7d --source 'site rule'")
        .good();
    desk.run("duty done 'booth cleaned' --of 'booth 3'").good();
    assert_eq!(asked("11:30"), Vec::<String>::new());
    let waiting = world.at("2026-03-10 11:31").run("cautions waiting").out;
    assert!(!waiting.contains("under another"), "{waiting}");
}

#[test]
fn s52_oil_after_lacquer_is_the_reverse() {
    let world = oil_and_lacquer();
    world
        .at("2026-03-10 09:14")
        .run("coat B-1 --kind seal --mix 1 --amount 40mL")
        .good();
    let plan = world
        .at("2026-03-10 10:00")
        .json("coat B-2 --kind seal --lot O-5 --preview");
    assert_eq!(pressing(&plan), [("spraying-after-lacquer", "booth 3")]);
    holds(
        plan["cautions"][0]["because"].as_str().unwrap(),
        &["CLR (mix 1)", "09:14", "OVN (lot O-5)"],
    );
}

#[test]
fn s28_a_lot_whose_shelf_life_ended_asks_and_marks_every_body() {
    let world = World::new();
    let desk = world.at("2026-04-01 08:00");
    desk.run("lot receive L-9 CLR 20L --expires 2026-04-30")
        .good();
    // On its last day it serves.
    world
        .at("2026-04-30 15:00")
        .run("mix make M1 L-9=1.50L T-9=0.50L --preview")
        .good();
    let desk = world.at("2026-05-02 08:00");
    let asked = desk.asked("mix make M1 L-9=1.50L T-9=0.50L");
    assert_eq!(asked["why"], "shelf_life");
    assert_eq!(
        asked["expired"],
        json!([{"lot": "L-9", "shelf_life_ended": "2026-04-30"}])
    );
    assert_eq!(pressing(&asked), [("mixing-expired-lot", "lot L-9")]);
    holds(
        &desk.run("mix make M1 L-9=1.50L T-9=0.50L").out,
        &[
            "lot L-9: shelf life ended 2026-04-30",
            "nothing was saved; write --anyway",
            "source: safety data sheet section 7",
        ],
    );
    assert_eq!(desk.json("mix list").as_array().unwrap().len(), 1);
    let made = desk.json("mix make M1 L-9=1.50L T-9=0.50L --anyway");
    assert_eq!(made["mix"], 2);
    for serial in ["B-1", "B-2"] {
        world.piece("2026-04-20 07:00", serial, "G9", "");
        let saved = world
            .at("2026-05-02 09:00")
            .json(&format!("coat {serial} --kind seal --mix 2"));
        assert!(
            rules(&saved["deviations"]).contains(&"shelf-life"),
            "{saved}"
        );
        let card = world
            .at("2026-05-02 09:10")
            .json(&format!("piece show {serial}"));
        assert!(
            texts(&card["deviations"], "text").contains(&"lot L-9: shelf life ended 2026-04-30"),
            "{card}"
        );
    }
    // The mix without it marks nothing.
    world.piece("2026-04-20 07:00", "B-3", "G9", "");
    let saved = world
        .at("2026-05-02 09:20")
        .json("coat B-3 --kind seal --mix 1");
    assert!(!rules(&saved["deviations"]).contains(&"shelf-life"));
    assert_eq!(world.now().json("verify")["differences"], json!([]));
}

#[test]
fn s36_after_a_stop_the_caution_is_due_until_the_booth_is_checked() {
    let world = oil_and_lacquer();
    world
        .at("2026-03-10 14:30")
        .run("power-cut --booth 'booth 1' --from 14:05 --to 14:20")
        .good();
    let desk = world.at("2026-03-10 15:00");
    let plan = desk.json("coat B-4 --kind seal --mix 1 --preview");
    assert_eq!(plan["exhaust"]["state"], "unknown");
    assert_eq!(pressing(&plan), [("spraying-exhaust-unknown", "booth 1")]);
    holds(
        &flat(
            &desk
                .run("coat B-4 --kind seal --mix 1 --preview")
                .good()
                .out,
        ),
        &["No exhaust state is known", "exhaust stopped at 14:05"],
    );
    world
        .at("2026-03-10 15:10")
        .run("booth check 'booth 1' --note 'fan runs'")
        .good();
    let plan = world
        .at("2026-03-10 15:20")
        .json("coat B-4 --kind seal --mix 1 --preview");
    assert_eq!(pressing(&plan), []);
    // The next production day has no check yet, and that is said as unknown.
    let plan = world
        .at("2026-03-11 06:30")
        .json("coat B-4 --kind seal --mix 1 --preview");
    assert_eq!(pressing(&plan), [("spraying-no-check", "booth 1")]);
}

#[test]
fn a_caution_is_read_once_for_a_mix_and_a_production_day() {
    let world = oil_and_lacquer();
    let unread = |at: &str| unread_at(&world, at);
    let all = unread("2026-03-10 08:00");
    assert!(all > 4, "{all}");
    let desk = world.at("2026-03-10 08:01");
    desk.run("caution read spraying-fan --about 'mix 1'").good();
    assert_eq!(unread("2026-03-10 08:02"), all - 1);
    holds(
        &desk
            .run("caution read sprayng-fan --about 'mix 1'")
            .refused(2),
        &["sprayng-fan"],
    );
    holds(
        &desk
            .run("coat B-4 --kind seal --mix 1 --preview")
            .good()
            .out,
        &[&format!(
            "{} cautions of mix 1 not read today: hangtime caution read all --mix 1 --booth \"booth 1\"",
            all - 1
        )],
    );
    let shown = world
        .at("2026-03-10 08:03")
        .run("caution read all --mix 1 --booth 'booth 1'")
        .good()
        .out;
    holds(
        &shown,
        &[
            "Clean all deposits out of booth",
            "source:",
            "ask:",
            "read by MK",
        ],
    );
    assert!(
        !shown.contains("Keep the fan running while you spray"),
        "{shown}"
    );
    assert_eq!(unread("2026-03-10 08:04"), 0);
    let said = world
        .at("2026-03-10 08:05")
        .run("coat B-4 --kind seal --mix 1")
        .good()
        .out;
    assert!(!said.contains("caution"), "{said}");
    // Read today is not read tomorrow, and not for another mix.
    world
        .at("2026-03-11 06:10")
        .run("booth check 'booth 1'")
        .good();
    assert_eq!(unread("2026-03-11 06:20"), all);
    let other = world
        .at("2026-03-10 08:10")
        .json("mix make M1 L-221=1.00L T-9=0.50L");
    assert!(
        texts(&other["cautions"], "id").contains(&"mixing-bonding"),
        "{other}"
    );

    // What was due at the coat of mix 1 was read; what was due at mix 2 was read by nobody.
    let list = world.at("2026-03-10 09:00");
    let answer = list.run("cautions waiting --json");
    assert_eq!(answer.code, 1);
    let waiting: Value = serde_json::from_str(&answer.out).unwrap();
    let abouts: std::collections::BTreeSet<&str> = texts(&waiting, "about").into_iter().collect();
    assert_eq!(abouts.into_iter().collect::<Vec<_>>(), ["mix 2"]);
    list.run("caution read all --mix 2").good();
    let left: Value = serde_json::from_str(
        &world
            .at("2026-03-10 09:05")
            .run("cautions waiting --json")
            .out,
    )
    .unwrap();
    assert_eq!(left, json!([]));
    holds(
        &world
            .at("2026-03-10 09:06")
            .run("cautions waiting")
            .good()
            .out,
        &["unread by everybody"],
    );
}

#[test]
fn a_stock_use_a_pot_that_hardens_a_fresh_rack_and_the_end_of_the_day_have_theirs() {
    let world = oil_and_lacquer();
    let desk = world.at("2026-03-10 08:00");
    let preview = desk.json("stock use O-5 0.1L --for coating --booth 'booth 3' --preview");
    assert_eq!(preview["saved"], false);
    assert!(texts(&preview["cautions"], "id").contains(&"spraying-oil-filters"));
    desk.run("stock use O-5 0.1L --for coating --booth 'booth 3'")
        .good();
    // It lies in the booth like a coat.
    let plan = world
        .at("2026-03-10 08:30")
        .json("coat B-2 --kind seal --mix 1 --preview");
    assert_eq!(pressing(&plan), [("spraying-after-oil", "booth 3")]);

    for material in ["cvl", "cat"] {
        desk.run(&format!(
            "material adopt '{}'",
            sample(&format!("materials/{material}.toml"))
        ))
        .good();
    }
    desk.run("lot receive V-1 CVL 5L").good();
    desk.run("lot receive A-1 CAT 1L").good();
    let made = world
        .at("2026-03-10 09:00")
        .json("mix make V1 V-1=1.00L A-1=0.10L");
    assert_eq!(pressing(&made), [("mixing-pot-life", "mix 2")]);
    let plan = world
        .at("2026-03-10 09:40")
        .run("coat B-4 --kind seal --mix 2 --preview")
        .good()
        .out;
    holds(&plan, &["mix 2: mixed 09:00, 40 min old"]);

    world
        .at("2026-03-10 09:45")
        .run("coat B-4 --kind seal --mix 1")
        .good();
    let moved = world
        .at("2026-03-10 10:00")
        .json("move B-4 --room 'cure room' --preview");
    let ids = texts(&moved["cautions"], "id");
    assert!(ids.contains(&"curing-heater") && ids.contains(&"curing-vapour"));
    let old = world
        .at("2026-03-12 10:00")
        .json("move B-4 --room 'cure room' --preview");
    assert!(old["cautions"].is_null(), "{old}");

    let page = world.at("2026-03-10 15:00").run("shift").good().out;
    holds(
        &flat(&page),
        &[
            "when the last one leaves",
            "Loaded filters left in a booth overnight can heat up.",
            "Oil rags start their fires at night.",
        ],
    );
    let empty = world.at("2026-03-12 07:00").run("shift").good().out;
    assert!(!empty.contains("when the last one leaves"), "{empty}");
}

#[test]
fn s37_the_booths_air_is_named_by_both_rules_and_a_cold_piece_is_seen() {
    let world = World::new();
    let work = |inputs: &str| run(world.home(), &split(&format!("work blush {inputs}")));
    let warm = work("air=27C rh=70% rh-limit=65% 'spread-limit=8 K diff'");
    holds(
        &warm.out,
        &["dew point = 21.06", "spread = 5.93", "limits exceeded = 2"],
    );
    assert_eq!(warm.code, 1, "{}", warm.out);
    let fair = work("air=21C rh=50% rh-limit=65% 'spread-limit=8 K diff'");
    holds(&fair.out, &["dew point = 10.19", "spread = 10.80"]);
    assert_eq!(fair.code, 0, "{}", fair.out);
    let strict = work("air=21C rh=50% rh-limit=65% 'spread-limit=11.1 K diff'");
    assert_eq!(strict.code, 1, "{}", strict.out);
    let cold = work("air=24C rh=55% piece=10C 'piece-margin=0 K diff'");
    holds(&cold.out, &["limits exceeded = 1"]);
    assert_eq!(cold.code, 1, "{}", cold.out);
}

#[test]
fn s50_a_survey_is_held_against_the_sites_limit_and_eight_readings_are_too_few() {
    let world = World::new();
    let desk = world.at("2026-05-14 08:00");
    desk.run("room declare 'booth 2'").good();
    desk.run("limit enter --booth 'booth 2' --value 100fpm --source 'booth manual'")
        .good();
    let answer = desk.run(
        "survey 'booth 2' 104 98 101 95 92 97 88 90 99 --instrument 'vane 3, calibrated 2026-01'",
    );
    assert_eq!(answer.code, 1);
    holds(
        &answer.out,
        &[
            "booth 2: average 96",
            "100",
            "entered by MK",
            "source: booth manual",
            "lowest 88",
        ],
    );
    let short = world.at("2026-05-15 08:00").run(
        "survey 'booth 2' 104 98 101 95 92 97 88 90 --instrument 'vane 3, calibrated 2026-01'",
    );
    assert_eq!(short.code, 1);
    holds(&short.out, &["8 of 9"]);
}
