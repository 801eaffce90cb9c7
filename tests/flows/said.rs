//! What is said with a deed: the line that repeats it, what the pot can hold, which action an undo means, and one line
//! for what is the same on a whole rack.

use crate::world::{World, holds, sample};
use serde_json::json;

#[test]
fn the_line_of_a_coat_repeats_the_amount_with_its_unit_and_the_share_a_piece() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 4);
    world.bring_to("--rack R12", 1, "2026-03-10 07:00", "");
    let desk = world.at("2026-03-10 09:00");
    let line = |words: &str| {
        let plan = desk.json(&format!("coat {words} --preview"));
        assert_eq!(plan["remarks"], json!([]), "{words}");
        plan["line"].as_str().unwrap().to_owned()
    };
    assert_eq!(
        line("B-0201 --mix 1 --amount 48mL"),
        "B-0201 - clear coat 2 - ended 09:00 - 48 mL from mix 1"
    );
    // A bare number is taken as millilitres, and the line says so.
    assert_eq!(
        line("B-0201 --amount 100"),
        "B-0201 - clear coat 2 - ended 09:00 - 100 mL"
    );
    assert_eq!(
        line("B-0201 --lot L-221 --amount 2floz"),
        "B-0201 - clear coat 2 - ended 09:00 - 59.147 mL from lot L-221"
    );
    assert_eq!(
        line("--rack R12 --mix 1"),
        "Rack R12 - clear coat 2 - 4 pieces - ended 09:00 - mix 1"
    );
    let rack =
        "Rack R12 - clear coat 2 - 4 pieces - ended 09:00 - 198 mL from mix 1, 49.5 mL a piece";
    assert_eq!(line("--rack R12 --mix 1 --amount 198mL"), rack);
    let said = desk
        .run("coat --rack R12 --mix 1 --amount 198mL")
        .good()
        .out;
    holds(&said, &[&format!("saved: {rack} (action ")]);
    holds(
        &world.at("2026-03-10 09:05").run("last").good().out,
        &["198 mL from mix 1, 49.5 mL a piece"],
    );
}

#[test]
fn shares_that_differ_are_said_from_the_least_to_the_most() {
    let world = World::new();
    for (serial, area) in [("B-0201", "0.40m2"), ("B-0202", "0.20m2")] {
        world
            .at("2026-03-05 07:00")
            .run(&format!(
                "piece add {serial} --kind body --model Arden --recipe G9 --area {area} --rack R12"
            ))
            .good();
    }
    let plan = world
        .at("2026-03-10 09:00")
        .json("coat --rack R12 --kind seal --mix 1 --amount 60mL --include all --preview");
    holds(
        plan["line"].as_str().unwrap(),
        &["60 mL from mix 1, 20 mL to 40 mL a piece"],
    );
}

#[test]
fn more_than_the_pot_can_hold_is_said_before_and_after_and_recorded_all_the_same() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 4);
    world.bring_to("--rack R12", 1, "2026-03-10 07:00", "");
    let coat = |at: &str, words: &str| world.at(at).json(&format!("coat --rack R12 {words}"));
    // M1 was made with 3.00 + 1.00 + 0.08 L.
    let all = coat("2026-03-10 09:00", "--mix 1 --amount 4.08L");
    assert_eq!(all["remarks"], json!([]));
    let remark = "mix 1 was made with 4080 mL, 4200 mL are logged from it";
    let plan = coat("2026-03-10 10:40", "--mix 1 --amount 120mL --preview");
    assert_eq!(plan["remarks"], json!([remark]));
    let said = world
        .at("2026-03-10 10:40")
        .run("coat --rack R12 --mix 1 --amount 120mL")
        .good()
        .out;
    holds(&said, &["saved: Rack R12", remark]);
    // What is taken back left no pot.
    world.at("2026-03-10 10:41").run("undo").good();
    // A top-up holds what was left and what was poured: by the log nothing was left here.
    let desk = world.at("2026-03-10 10:42");
    desk.run("mix make M1 L-221=900mL T-9=100mL --tops-up 1")
        .good();
    let topped = coat("2026-03-10 10:43", "--mix 2 --amount 1000mL --preview");
    assert_eq!(topped["remarks"], json!([]));
    let topped = coat("2026-03-10 10:43", "--mix 2 --amount 1001mL --preview");
    assert_eq!(
        topped["remarks"],
        json!(["mix 2 was made with 1000 mL, 1001 mL are logged from it"])
    );
}

#[test]
fn a_mix_that_was_taken_back_is_said_to_be_so_and_by_which_action() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    world
        .at("2026-03-10 08:00")
        .run("mix make M2 L-221=3.00L T-9=1.00L")
        .good();
    let undone = world.at("2026-03-10 08:01").json("undo");
    let desk = world.at("2026-03-10 09:00");
    for words in [
        "coat B-0117 --kind clear --mix 2 --preview",
        "working mix 2",
        "cautions --mix 2",
        "mix make M3 L-221=1L --tops-up 2",
    ] {
        holds(
            &desk.run(words).refused(2),
            &[&format!(
                "mix 2 was taken back by action {}",
                undone["action"]
            )],
        );
    }
    holds(
        &desk.run("coat B-0117 --kind clear --mix 7").refused(2),
        &["mix 7 was not made"],
    );
}

#[test]
fn an_undo_says_which_action_it_takes_back_and_asks_for_its_number_beyond_the_day() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0117", "G9", "");
    world.bring_to("B-0117", 1, "2026-03-09 09:00", "");
    let evening = world
        .at("2026-03-09 22:40")
        .json("note B-0117 --why 'hairline near the heel'");
    let coat = world
        .at("2026-03-10 08:00")
        .json("coat B-0117 --mix 1 --amount 48mL");
    let said = world.at("2026-03-10 08:05").run("undo").good().out;
    holds(
        &said,
        &[&format!(
            "saved: action {} taken back: B-0117 - clear coat 2 - ended 08:00 - 48 mL from mix 1, written 08:00",
            coat["action"]
        )],
    );
    // The next one is the note of the evening before: it is named, and not taken back without its number.
    let number = &evening["action"];
    let said = world.at("2026-03-10 08:06").run("undo").refused(2);
    holds(
        &said,
        &[
            &format!("last action here is {number} (note), written Mon 9 Mar 22:40"),
            &format!("hangtime undo --action {number}"),
        ],
    );
    let other = world
        .at("2026-03-10 08:07")
        .run("undo --action 2")
        .refused(2);
    holds(
        &other,
        &[
            "action 2 is not the last one of MK",
            &format!("that is action {number}"),
            "hangtime void --action 2",
        ],
    );
    let undone = world
        .at("2026-03-10 08:08")
        .json(&format!("undo --action {number}"));
    assert_eq!(&undone["undone"]["action"], number);
    assert_eq!(undone["undone"]["written"], "2026-03-09T22:40:00.000-04:00");
}

#[test]
fn an_undo_reaches_over_the_start_of_the_production_day_for_an_hour() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0117", "G9", "");
    // The production day begins at six.
    for (at, words) in [
        ("2026-03-10 05:20", "note B-0117 --why first"),
        ("2026-03-10 05:50", "note B-0117 --why second"),
    ] {
        world.at(at).run(words).good();
    }
    world.at("2026-03-10 06:30").run("undo").good();
    holds(
        &world.at("2026-03-10 06:31").run("undo").refused(2),
        &["undo --action"],
    );
}

#[test]
fn a_bare_per_cent_at_the_mixing_bench_is_answered_with_both_notations() {
    let world = World::new();
    let said = world
        .at("2026-03-10 08:00")
        .run("mix make M2 L-221=1.000L T-9=10%")
        .refused(2);
    holds(
        &said,
        &["--thin T-9=10%-of-mix", "--thin T-9=10%-added", "on top of"],
    );
}

#[test]
fn a_rack_with_one_reason_is_one_line_before_the_deed_and_after_it() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 1, "2026-03-10 08:00", "");
    let desk = world.at("2026-03-10 08:30");
    let said = desk.run("coat --rack R12 --preview").good().out;
    let lines: Vec<&str> = said.lines().filter(|l| l.contains("min left")).collect();
    assert_eq!(lines.len(), 1, "{said}");
    assert!(lines[0].starts_with("all 24: "), "{said}");
    assert!(!lines[0].contains("[left out]"), "{said}");
    let said = desk.run("coat --rack R12 --another").good().out;
    let lines: Vec<&str> = said
        .lines()
        .filter(|l| l.contains("deviation on"))
        .collect();
    assert_eq!(lines.len(), 1, "{said}");
    holds(lines[0], &["deviation on all 24: ", "(entries "]);

    // Part of the rack has been coated, part is on hold: each cause has its hooks.
    let desk = world.at("2026-03-10 09:30");
    desk.run("hold B-0209 --why 'dent in the top'").good();
    desk.run("coat --rack R12 --hooks 1-6 --touch-up --kind clear")
        .good();
    let desk = world.at("2026-03-10 10:10");
    let said = desk.run("coat --rack R12 --preview").good().out;
    holds(&said, &["hooks 1-6: ", "hook 9 B-0209: on hold"]);
    assert_eq!(said.matches("[left out]").count(), 2, "{said}");
    let saved = desk.run("coat --rack R12").good().out;
    holds(
        &saved,
        &["left out: hooks 1-6: ", "left out: hook 9 B-0209: "],
    );
    assert_eq!(saved.matches("left out").count(), 2, "{saved}");
}

#[test]
fn one_fault_in_every_row_of_a_list_is_said_once() {
    let world = World::new();
    let mut list = String::from("serial,kind,model,recipe,area\n");
    for n in 1..=24 {
        let kind = if n == 9 { "torso" } else { "body" };
        list.push_str(&format!("B-{n:04},{kind},Arden,G7,0.40 m2\n"));
    }
    let file = world.file("list.csv", &list);
    let said = world
        .at("2026-03-05 07:00")
        .run(&format!("piece import '{}'", file.display()))
        .refused(2);
    holds(&said, &["24 rows were refused", "rows 2-25: recipe \"G7\""]);
    assert_eq!(said.lines().count(), 2, "{said}");
    let one = world.file(
        "one.csv",
        "serial,kind,model,recipe,area\nB-1,torso,A,G9,0.4\n",
    );
    let said = world
        .at("2026-03-05 07:00")
        .run(&format!("piece import '{}'", one.display()))
        .refused(2);
    holds(&said, &["1 row was refused", "one.csv:2: kind \"torso\""]);
}

#[test]
fn a_hook_that_is_taken_is_named_whichever_way_a_piece_comes_there() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 3);
    world.rack("2026-03-05 07:00", "R13", 301, 2);
    world.piece("2026-03-05 07:00", "B-0117", "G9", "");
    let desk = world.at("2026-03-06 08:00");
    for (words, wanted) in [
        (
            "move B-0201 --hook 2",
            "hook 2 has B-0202, and B-0201 would",
        ),
        ("move B-0201 --to-rack R13 --hook 1", "hook 1 has B-0301"),
        (
            "move B-0117 --to-rack R12 --hook 3 --preview",
            "hook 3 has B-0203",
        ),
        (
            "move B-0201 B-0202 --to-rack R14 --hook 5",
            "hook 5 has B-0201, and B-0202 would",
        ),
    ] {
        holds(&desk.run(words).refused(2), &[wanted]);
    }
    // A free hook, a rack that is rolled away, a piece without a rack, and a move that changes nothing.
    for words in [
        "move B-0201 --hook 9",
        "move B-0201 --hook 9",
        "move B-0202 --hook 1",
        "move --rack R12 --room 'cure room'",
        "move B-0117 --hook 1",
        "move B-0301 --room 'cure room'",
    ] {
        desk.run(words).good();
    }
    assert_eq!(world.now().json("piece show B-0202")["hook"], 1);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn the_floor_and_the_card_round_a_wait_up_alike() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0117", "G9", "");
    world.bring_to("B-0117", 9, "2026-03-17 09:00", "");
    // The cure waits for days: what is left of an hour counts as a whole one.
    let said = world.at("2026-03-19 10:20").run("floor").good().out;
    let wait = said.split(" 09:00 in ").nth(1).unwrap();
    let card = world.at("2026-03-19 10:20").json("piece show B-0117");
    let minutes = card["minutes_left"].as_i64().unwrap();
    let hours = (minutes + 59) / 60;
    assert!(minutes % 60 > 0 && hours > 24, "{minutes}");
    assert!(
        wait.starts_with(&format!("{} d {:02} h", hours / 24, hours % 24)),
        "{said}"
    );
}

#[test]
fn a_coat_with_one_wet_reading_is_worked_with_one_reading() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0117", "G9", "");
    world.bring_to("B-0117", 1, "2026-03-10 07:00", "--wet 100um");
    let said = world.now().run("working film B-0117").good().out;
    holds(&said, &["1 wet reading and"]);
    assert!(!said.contains("1 wet readings"), "{said}");
}

#[test]
fn the_steps_of_a_printed_card_have_a_column_as_wide_as_the_longest() {
    let world = World::new();
    let desk = world.at("2026-03-05 07:00");
    desk.run(&format!("recipe adopt '{}'", sample("recipes/rx9.toml")))
        .good();
    world.piece("2026-03-05 07:00", "B-0117", "RX9", "");
    let card = desk.run("piece show B-0117 --card").good().out;
    let steps = card.split("STEPS\n").nth(1).unwrap();
    let steps = steps.split("FILM\n").next().unwrap();
    let dashes: std::collections::BTreeSet<usize> = steps
        .lines()
        .filter_map(|l| l.strip_suffix(" -").map(str::len))
        .collect();
    assert_eq!(dashes.len(), 1, "{card}");
    holds(steps, &["  level sand 1, top -"]);
}

#[test]
fn a_solid_of_a_sheet_is_no_voc_and_a_substance_without_a_class_is_said_to_count() {
    let world = World::new();
    let sheet = include_str!("../../sample/materials/opf.toml");
    let file = world.home().join("opf.toml");
    std::fs::write(&file, sheet).unwrap();
    let check = |world: &World| {
        world
            .now()
            .run(&format!("material check '{}'", file.display()))
    };
    let said = check(&world).good().out;
    let naphtha = "64742-48-9 naphtha, hydrotreated heavy counts as VOC because no class is stated";
    holds(&said, &[naphtha]);
    assert!(!said.contains("quartz"), "{said}");
    // Without its class the solid counts, and the check says so.
    std::fs::write(&file, sheet.replace("solid = true\n", "")).unwrap();
    holds(
        &check(&world).good().out,
        &[
            naphtha,
            "14808-60-7 quartz counts as VOC because no class is stated",
        ],
    );
    // More of it than the solids hold, or a class beside it, is refused.
    for (was, is, word) in [
        ("share = \"2.0 %\"", "share = \"79 %\"", "solid substances"),
        ("solid = true", "solid = true\nhap = true", "cannot stand"),
    ] {
        std::fs::write(&file, sheet.replace(was, is)).unwrap();
        holds(&check(&world).refused(2), &[word]);
    }
    // What is counted of the sheet names no quartz; what the sheet leaves open still counts.
    let m = hangtime::shop::material_file::read("opf.toml", sheet).unwrap();
    let counted: Vec<(String, i64)> = m
        .counted()
        .into_iter()
        .map(|c| (c.name, c.share.0))
        .collect();
    assert_eq!(
        counted,
        [
            ("naphtha, hydrotreated heavy".to_owned(), 200_000),
            ("other volatile".to_owned(), 20_000),
        ]
    );
    std::fs::write(&file, sheet).unwrap();
    world
        .now()
        .run(&format!("material adopt '{}'", file.display()))
        .good();
    let shown = world.now().run("material show OPF").good().out;
    holds(&shown, &["2.0 %, solid, not counted as VOC"]);
}

#[test]
fn an_undo_does_not_reach_behind_what_stays_without_a_number() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    let saved = world.at("2026-03-06 08:00").json("done receive B-0117");
    world
        .at("2026-03-06 08:05")
        .run("room declare 'flash room'")
        .good();
    let said = world.at("2026-03-06 08:06").run("undo").refused(2);
    let number = saved["action"].as_i64().unwrap();
    holds(
        &said,
        &[
            "cannot be taken back: later entries rest on it; enter the right fact again",
            &format!("hangtime undo --action {number}"),
        ],
    );
    let undone = world
        .at("2026-03-06 08:07")
        .json(&format!("undo --action {number}"));
    assert_eq!(undone["undone"]["action"], saved["action"]);
}

#[test]
fn a_deviation_is_answered_once_and_the_second_word_is_told_whose_the_first_is() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    world.bring_to("B-0117", 1, "2026-03-10 09:00", "");
    let saved = world
        .at("2026-03-10 10:10")
        .json("coat B-0117 --kind clear --another");
    let entry = saved["deviations"][0]["entry"].as_i64().unwrap();
    world
        .at("2026-03-10 11:00")
        .run(&format!("answer {entry} interval 'seen, hangs overnight'"))
        .good();
    let said = world
        .at("2026-03-10 12:00")
        .person("DP")
        .run(&format!("answer {entry} interval 'not seen'"))
        .refused(2);
    holds(
        &said,
        &["was answered by MK at Tue 10 Mar 11:00", "that word stands"],
    );
}

#[test]
fn what_is_missing_or_unknown_is_answered_with_what_can_be_written() {
    let world = World::new();
    world.piece(
        "2026-03-03 07:00",
        "B-0001",
        "G9",
        "--rack R1 --hook 1 --room 'booth 1'",
    );
    let desk = world.at("2026-03-03 08:00");
    let before = world.count("SELECT count(*) FROM action");
    // A limit of nothing is no limit of a booth that was forgotten.
    let said = desk.run("limit enter --value 400kg --source x").refused(2);
    for way in [
        "--of",
        "--of-content",
        "--booth",
        "--room",
        "--drum",
        "--stored",
        "--lel-of",
        "--exposure-of",
        "--like",
    ] {
        assert!(said.contains(way), "{way}: {said}");
    }
    holds(&said, &["a limit of what?"]);
    // A figure without a working is named as such, and not asked what it is of.
    for words in ["working foo", "working foo B-0001"] {
        let said = desk.run(words).refused(2);
        holds(
            &said,
            &["\"foo\" is no figure with a working; write one of film, coat"],
        );
    }
    let said = desk.run("working film").refused(2);
    holds(&said, &["write: hangtime working film PIECE"]);
    // Who surveys a booth of which nothing is known is asked as who checks it.
    let said = desk
        .run("survey 'booth 9' 104 98 --instrument 'vane 3'")
        .refused(2);
    holds(
        &said,
        &["booth \"booth 9\" is no room", "write one of booth 1"],
    );
    // One number is two papers.
    for deed in ["receive B-0001 --grit 220", "sand B-0001 --grit 220"] {
        let said = desk.run(deed).refused(2);
        holds(
            &said,
            &["grit \"220\" names no scale; write P800 or CAMI 400"],
        );
    }
    for hook in ["0", "1000"] {
        let said = desk.run(&format!("move B-0001 --hook {hook}")).refused(2);
        holds(&said, &["is outside 1 to 999; write its number"]);
    }
    assert_eq!(world.count("SELECT count(*) FROM action"), before);
    // A note has a text; who is used to giving it as a reason may.
    for way in ["--text", "--why"] {
        desk.run(&format!("note B-0001 {way} 'light box is out'"))
            .good();
    }
    assert_eq!(world.count("SELECT count(*) FROM action"), before + 2);
}

#[test]
fn a_bare_piece_has_no_film_yet_and_a_film_below_zero_is_told_as_a_wrong_log() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    let desk = world.at("2026-03-06 08:00");
    let floor = desk.run("floor").good().out;
    holds(&floor, &[" no film yet "]);
    assert!(!floor.contains("in band"), "{floor}");
    holds(
        &desk.run("piece show B-0117").good().out,
        &[
            "no film yet, ",
            " predicted at the end: in the band 75 um to 130 um",
        ],
    );
    world
        .at("2026-03-06 08:05")
        .run("sand B-0117 --kind level-sand --grit P400 --reason later")
        .good();
    let desk = world.at("2026-03-06 08:10");
    let floor = desk.run("floor").good().out;
    let wrong = "below zero, so something is logged wrong: gauge it";
    holds(&floor, &["um below 0 ", &format!("film {wrong}")]);
    let card = desk.run("piece show B-0117").good().out;
    holds(
        &card,
        &[&format!(
            "predicted at the end: the film is {wrong}; the band is 75 um to 130 um"
        )],
    );
    for no in ["below nothing the band", "less than none"] {
        assert!(!card.contains(no) && !floor.contains(no), "{card}{floor}");
    }
}

#[test]
fn an_undo_names_what_is_newer_and_stays() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    let saved = world.at("2026-03-06 08:00").json("done receive B-0117");
    let pin = world.at("2026-03-06 08:05").json("person add DP finisher");
    let undone = world.at("2026-03-06 08:06").run("undo").good().out;
    let (done, newer) = (&saved["action"], &pin["action"]);
    holds(
        &undone,
        &[
            &format!("action {done} taken back"),
            "written 08:00",
            &format!(
                "your last action that can be taken back; newer, and stays: action {newer} (person), written"
            ),
        ],
    );
    // An undo is none of those that stay.
    world
        .at("2026-03-06 08:07")
        .run("note B-0117 --why dent")
        .good();
    let undone = world.at("2026-03-06 08:08").json("undo");
    assert_eq!(undone["stays"], serde_json::Value::Null);
}

#[test]
fn a_comma_between_digits_is_the_decimal_mark_unless_it_may_be_another() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    let desk = world.at("2026-03-06 08:00");
    let plan = desk
        .run("coat B-0117 --mix 1 --amount 0,24L --preview")
        .good()
        .out;
    holds(&plan, &["240 mL from mix 1"]);
    let said = desk
        .run("coat B-0117 --mix 1 --amount 1,000L --preview")
        .refused(2);
    holds(&said, &["\"1,000L\" is unclear: it may be 1.000L or 1000L"]);
    // A list is read by the same rule, whatever parts its columns.
    let file = |area: &str| {
        let text = format!("serial,kind,model,recipe,area\nB-0200,Body,Arden,G9,\"{area}\"\n");
        world.file("one.csv", &text)
    };
    let refused = desk
        .run(&format!("piece import '{}'", file("1,250 m2").display()))
        .refused(2);
    holds(&refused, &["1.250 m2 or 1250 m2"]);
    desk.run(&format!("piece import '{}'", file("0,45 m2").display()))
        .good();
}

#[test]
fn a_gauge_reading_far_from_the_record_asks_for_the_right_piece_and_is_saved() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-0117", "G9", "");
    let far = "B-0117: 300.0 um is 300.0 um above the 0.0 um that the record has, more than 3 coats of 15.0 um (our own mark, no source): right piece?";
    for preview in [" --preview", ""] {
        let said = world
            .at("2026-03-06 08:00")
            .run(&format!("gauge 300um B-0117{preview}"))
            .good();
        holds(&said.out, &[far]);
    }
    // Three coats are not more than three.
    let said = world
        .at("2026-03-06 08:05")
        .run("gauge 255um B-0117")
        .good();
    assert!(!said.out.contains("right piece"), "{}", said.out);
    let said = world
        .at("2026-03-06 08:06")
        .run("gauge 200um B-0117")
        .good();
    holds(
        &said.out,
        &["B-0117: 200.0 um is 55.0 um below the 255.0 um"],
    );
}
