//! Rooms, cold nights, clock changes, and questions about another moment.

use crate::world::{World, holds, moment, rules, texts};
use serde_json::{Value, json};

fn first_clear(world: &World, serial: &str, at: &str) {
    world.piece("2026-02-22 07:00", serial, "G9", "");
    let began = moment(at) - chrono::TimeDelta::hours(48);
    let day = |minutes: i64| {
        (began + chrono::TimeDelta::minutes(minutes))
            .format("%Y-%m-%d %H:%M")
            .to_string()
    };
    for (minutes, deed) in [
        (0, "done receive"),
        (5, "done mask"),
        (60, "coat --kind seal"),
        (130, "coat --kind seal"),
    ] {
        let saved = world.at(&day(minutes)).json(&format!("{deed} {serial}"));
        assert_eq!(saved["deviations"], json!([]));
    }
}

#[test]
fn s31_the_spring_clock_change_shortens_no_wait() {
    let world = World::new();
    first_clear(&world, "B-0031", "2026-03-08 01:20");
    world.at("2026-03-08 01:20").run("coat B-0031").good();
    let card = world.at("2026-03-08 03:10").json("piece show B-0031");
    assert_eq!(card["last_wet"], "2026-03-08T01:20:00.000-05:00");
    assert_eq!(card["ready_at"], "2026-03-08T03:50:00.000-04:00");
    assert_eq!(card["minutes_left"], 40);
    let plan = world.at("2026-03-08 03:10").json("coat B-0031 --preview");
    holds(
        plan["pieces"][0]["objections"][0]["text"].as_str().unwrap(),
        &["earliest 03:50 EDT", "40 min left"],
    );
    let saved = world.at("2026-03-08 03:10").json("coat B-0031 --coat 2");
    assert_eq!(saved["deviations"][0]["text"], "40 min early");
    let history = world.now().run("entries B-0031").good().out;
    holds(&history, &["01:20:00 EST", "03:10:00 EDT"]);
    // A time that no clock showed is not taken.
    let said = world
        .at("2026-03-08 04:00")
        .run("coat B-0031 --ended 02:30")
        .refused(2);
    holds(&said, &["does not exist"]);
}

#[test]
fn s32_the_autumn_clock_change_makes_no_wait_negative() {
    let world = World::new();
    first_clear(&world, "B-0032", "2026-11-01 01:40");
    world.at("2026-11-01 01:40 EDT").run("coat B-0032").good();
    let card = world.at("2026-11-01 01:20 EST").json("piece show B-0032");
    assert_eq!(card["last_wet"], "2026-11-01T01:40:00.000-04:00");
    assert_eq!(card["ready_at"], "2026-11-01T02:10:00.000-05:00");
    assert_eq!(card["minutes_left"], 50);
    let plan = world
        .at("2026-11-01 01:20 EST")
        .json("coat B-0032 --preview");
    holds(
        plan["pieces"][0]["objections"][0]["text"].as_str().unwrap(),
        &["earliest 02:10 EST", "50 min left"],
    );
    let saved = world
        .at("2026-11-01 01:20 EST")
        .json("coat B-0032 --coat 2");
    assert_eq!(saved["deviations"][0]["text"], "50 min early");

    // Which of the two is asked for, and each is shown with its letters.
    let said = world
        .at("2026-11-01 06:00")
        .run("coat B-0032 --ended 01:30")
        .refused(2);
    holds(&said, &["happens twice", "EDT", "EST"]);
    world
        .at("2026-11-01 01:30 EDT")
        .run("note B-0032 --why 'first half past one'")
        .good();
    world
        .at("2026-11-01 01:30 EST")
        .run("note B-0032 --why 'second half past one'")
        .good();
    holds(
        &world.now().run("entries B-0032").good().out,
        &["2026-11-01 01:30:00 EDT", "2026-11-01 01:30:00 EST"],
    );
    assert_eq!(world.now().run("verify").code, 0);
}

// The cure room's readings every 15 min from Mon 4 May 12:00, with a night without heat.
fn cold_night() -> String {
    let mut rows = String::from("time,temperature,humidity\n");
    let start = moment("2026-05-04 12:00");
    for quarter in 0..=96 {
        let at = start + chrono::TimeDelta::minutes(15 * quarter);
        let temperature = match at.format("%d %H:%M").to_string().as_str() {
            t if t < "04 21:00" => "22.0",
            t if t < "04 22:00" => "17.0",
            t if t < "05 06:00" => "13.0",
            t if t < "05 07:30" => "17.5",
            _ => "22.0",
        };
        rows.push_str(&format!(
            "{},{temperature},48\n",
            at.format("%Y-%m-%d %H:%M")
        ));
    }
    rows
}

fn two_in_cure(world: World) -> World {
    world
        .at("2026-02-21 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    for serial in ["B-0290", "B-0291"] {
        world.piece("2026-04-27 07:00", serial, "G9", "--room 'cure room'");
        world.bring_to(serial, 9, "2026-05-04 12:00", "");
    }
    world
}

#[test]
fn s29_a_cold_night_moves_every_piece_in_the_room() {
    cold_night_moves(&two_in_cure(World::new()));
}

#[test]
fn s29_the_solvent_model_adds_nothing_to_pieces_that_are_made_to_their_recipe() {
    cold_night_moves(&two_in_cure(World::with_solvent_model()));
}

fn cold_night_moves(world: &World) {
    let taken = world.readings(
        "2026-05-04 12:00",
        "cure room",
        "time,temperature\n2026-05-04 11:45,22.0\n2026-05-04 12:00,22.0\n",
    );
    assert_eq!((&taken["taken"], &taken["known"]), (&json!(2), &json!(0)));
    for card in world
        .at("2026-05-04 13:00")
        .json("floor")
        .as_array()
        .unwrap()
    {
        assert_eq!(card["ready_at"], "2026-05-18T12:00:00.000-04:00");
        assert_eq!(card["provisional"], true);
    }

    let taken = world.readings("2026-05-05 12:00", "cure room", &cold_night());
    assert_eq!((&taken["taken"], &taken["known"]), (&json!(96), &json!(1)));
    for card in world
        .at("2026-05-05 12:00")
        .json("floor")
        .as_array()
        .unwrap()
    {
        // 24 h less 0.5 + 8.0 + 0.75 = 9.25 h.
        assert_eq!(
            card["cure"],
            json!({"credited_h": 14.75, "wanted_h": 336.0})
        );
        assert_eq!(card["ready_at"], "2026-05-18T21:15:00.000-04:00");
        assert_eq!(card["provisional"], true);
        assert_eq!(card["next_step"], "final-sand");
    }
    let ready = world.at("2026-05-05 12:00").json("ready --for final-sand");
    assert_eq!(
        ready["racks"][0]["ready_at"],
        "2026-05-18T21:15:00.000-04:00"
    );
    assert_eq!(ready["ready_now"], json!([]));

    // The same file again brings nothing, and the chain holds what it brought.
    let again = world.readings("2026-05-05 12:05", "cure room", &cold_night());
    assert_eq!((&again["taken"], &again["known"]), (&json!(0), &json!(97)));
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn s29_one_line_says_how_many_were_delayed_lost_their_day_and_miss_their_date() {
    let world = World::new();
    for room in ["cure room", "attic"] {
        world
            .at("2026-02-21 08:00")
            .run(&format!("room declare '{room}' --every 15m"))
            .good();
    }
    for (serial, more) in [
        ("B-0290", "--room 'cure room' --due 2026-05-18"),
        ("B-0291", "--room 'cure room' --due 2026-06-30"),
        ("B-0292", "--room 'cure room'"),
        ("B-0293", "--room attic --due 2026-05-18"),
    ] {
        world.piece("2026-04-27 07:00", serial, "G9", more);
        world.bring_to(serial, 9, "2026-05-04 12:00", "");
    }
    let warm = "time,temperature\n2026-05-04 12:00,22.0\n2026-05-04 12:15,22.0\n";
    for room in ["cure room", "attic"] {
        world.readings("2026-05-04 12:15", room, warm);
    }
    let ask = |at: &str, code: i32| {
        let answer = world.at(at).run("room excursions --json");
        assert_eq!(answer.code, code, "{}", answer.out);
        serde_json::from_str::<Value>(&answer.out).unwrap()["rooms"].clone()
    };
    assert_eq!(
        texts(&ask("2026-05-04 12:30", 0), "text"),
        [
            "attic: no excursion recorded",
            "cure room: no excursion recorded"
        ]
    );

    // What was before the last three days is not denied.
    holds(
        &world
            .at("2026-05-04 12:30")
            .run("room excursions")
            .good()
            .out,
        &["looked at since Fri 1 May 12:30; \"--since\" looks further back\n"],
    );

    let taken = world.readings("2026-05-05 12:00", "cure room", &cold_night());
    let attic = world.readings(
        "2026-05-05 12:00",
        "attic",
        &cold_night()
            .replace("17.0", "22.0")
            .replace("13.0", "22.0")
            .replace("17.5", "22.0"),
    );
    // Said at once, where the file comes in.
    holds(
        taken["moved"].as_str().unwrap(),
        &[
            "cure room: too cold from 4 May 21:00 to 07:30 (10 h 30 min): lowest 13.0 C, held against 20.0 C (recipe G9",
            "; 3 pieces delayed, by at most 9 h 15 min; 3 lost their day; 1 now misses its date",
        ],
    );
    assert_eq!(attic["moved"], Value::Null);
    let rooms = ask("2026-05-05 12:00", 0);
    let cure = &rooms[1];
    assert_eq!(
        cure["text"],
        "cure room: 3 pieces delayed, by at most 9 h 15 min; 3 lost their day; 1 now misses its date"
    );
    assert_eq!(cure["moved"], json!(["B-0290", "B-0291", "B-0292"]));
    assert_eq!(cure["miss_date"], json!(["B-0290"]));
    assert_eq!(cure["moved_by_ms"], 555 * 60_000);
    assert_eq!(rooms[0]["text"], "attic: no excursion recorded");
    let night = &cure["excursions"];
    assert_eq!(night.as_array().unwrap().len(), 1);
    assert_eq!(
        (
            &night[0]["what"],
            &night[0]["from"],
            &night[0]["to"],
            &night[0]["worst"]
        ),
        (
            &json!("too cold"),
            &json!("2026-05-04T21:00:00.000-04:00"),
            &json!("2026-05-05T07:30:00.000-04:00"),
            &json!(13_000)
        )
    );
    assert_eq!(night[0]["held_against"]["value"], 20_000);
    let lines = world
        .at("2026-05-05 12:00")
        .run("room excursions 'cure room'")
        .good()
        .out;
    holds(
        &lines,
        &[
            "too cold from 4 May 21:00 to 07:30 (10 h 30 min): lowest 13.0 C, held against 20.0 C (recipe G9",
            "miss their date: B-0290",
            "no bound is entered or stated by a recipe: too dry, too damp, fast change, near dew point",
        ],
    );

    // On Monday nobody is there: with or without the night it is Tuesday, and the date was missed before.
    let noon = world.at("2026-05-05 12:00");
    noon.run("plan closed 2026-05-18 --source 'shop rule'")
        .good();
    assert_eq!(
        ask("2026-05-05 12:00", 0)[1]["text"],
        "cure room: 3 pieces delayed, by at most 9 h 15 min; 0 lost their day; 0 now miss their date"
    );
    noon.run("plan open 2026-05-18 --why 'an order'").good();
    assert_eq!(ask("2026-05-05 12:00", 0)[1]["text"], cure["text"]);

    // While it lasts the answer says so, and so it does when nothing is read.
    let lasting = ask("2026-05-05 12:50", 1);
    assert_eq!(lasting[1]["excursions"][1]["what"], "silent");
    assert_eq!(lasting[1]["excursions"][1]["to"], Value::Null);
    // A bound of the shop's own, with its source.
    for limit in [
        "--air 'too dry' --value 50%",
        "--air 'fast change' --value '4 K diff'",
    ] {
        world
            .at("2026-05-05 12:00")
            .run(&format!(
                "limit enter --room 'cure room' {limit} --source 'house rule'"
            ))
            .good();
    }
    let kinds = |rooms: &Value| -> Vec<String> {
        let list = rooms[1]["excursions"].as_array().unwrap();
        list.iter()
            .map(|e| e["what"].as_str().unwrap().to_owned())
            .collect()
    };
    let found = kinds(&ask("2026-05-05 12:00", 1));
    assert_eq!(
        found,
        [
            "too dry",
            "too cold",
            "fast change",
            "fast change",
            "fast change"
        ]
    );
    for (line, wanted) in [
        ("room excursions loft", "is not declared as logged"),
        (
            "limit enter --room 'cure room' --air 'fast change' --value '90 K diff' --source x",
            "outside 0.1 to 50 K",
        ),
        (
            "limit enter --room loft --air 'too dry' --value 40% --source x",
            "is not declared as logged",
        ),
    ] {
        holds(
            &world.at("2026-05-05 12:00").run(line).refused(2),
            &[wanted],
        );
    }
}

#[test]
fn a_gap_in_the_readings_earns_nothing_and_is_said() {
    let world = two_in_cure(World::new());
    world.readings(
        "2026-05-04 15:30",
        "cure room",
        "time,temperature\n2026-05-04 12:00,22.0\n2026-05-04 12:15,22.0\n\
         2026-05-04 15:15,22.0\n2026-05-04 15:30,22.0\n",
    );
    let card = world.at("2026-05-04 15:30").json("piece show B-0290");
    assert_eq!(card["cure"]["credited_h"], 0.5);
    assert_eq!(card["ready_at"], "2026-05-18T15:00:00.000-04:00");
    assert_eq!(card["provisional"], true);
    let cure = card["reasons"]
        .as_array()
        .unwrap()
        .iter()
        .find(|r| r["rule"] == "cure")
        .unwrap();
    holds(cure["text"].as_str().unwrap(), &["3 h without readings"]);

    // The file of these hours arrives: what was taken for lost was earned.
    let mut file = String::from("time,temperature\n");
    for minute in (30..=180).step_by(15) {
        let (h, m) = (12 + minute / 60, minute % 60);
        file.push_str(&format!("2026-05-04 {h}:{m:02},22.0\n"));
    }
    world.readings("2026-05-04 15:40", "cure room", &file);
    let card = world.at("2026-05-04 15:45").json("piece show B-0290");
    assert_eq!(card["cure"]["credited_h"], 3.75);
    assert_eq!(card["ready_at"], "2026-05-18T12:00:00.000-04:00");
    assert!(!card["reasons"].to_string().contains("without readings"));
    // As it was known before the file came it stands as it was told then.
    let then = world
        .at("2026-05-04 15:30")
        .json("piece show B-0290 --known-at '2026-05-04 15:35'");
    assert_eq!(then["cure"]["credited_h"], 0.5);
}

#[test]
fn a_piece_that_is_moved_earns_in_the_room_in_which_it_hangs() {
    let world = two_in_cure(World::new());
    world
        .at("2026-05-04 11:00")
        .run("room declare attic --every 15m")
        .good();
    for (room, temperature) in [("cure room", "22.0"), ("attic", "17.0")] {
        let mut file = String::from("time,temperature\n");
        for minute in (0..=360).step_by(15) {
            let (h, m) = (12 + minute / 60, minute % 60);
            file.push_str(&format!("2026-05-04 {h}:{m:02},{temperature}\n"));
        }
        world.readings("2026-05-04 18:00", room, &file);
    }
    // Two hours in the one, three in the other at a half, and one in the first again.
    for (at, room) in [
        ("2026-05-04 14:00", "attic"),
        ("2026-05-04 17:00", "'cure room'"),
    ] {
        world
            .at(at)
            .run(&format!("move B-0291 --room {room}"))
            .good();
    }
    let earned = |serial: &str| {
        let card = world
            .at("2026-05-04 18:00")
            .json(&format!("piece show {serial}"));
        (card["cure"]["credited_h"].clone(), card["ready_at"].clone())
    };
    assert_eq!(
        earned("B-0290"),
        (json!(6.0), json!("2026-05-18T12:00:00.000-04:00"))
    );
    assert_eq!(
        earned("B-0291"),
        (json!(4.5), json!("2026-05-18T13:30:00.000-04:00"))
    );
}

#[test]
fn a_room_without_readings_counts_slow_and_says_so() {
    let world = World::new();
    world.piece("2026-04-27 07:00", "B-0292", "G9", "");
    world.bring_to("B-0292", 9, "2026-05-04 12:00", "");
    let card = world.at("2026-05-05 12:00").json("piece show B-0292");
    assert_eq!(card["cure"]["credited_h"], 12.0);
    assert_eq!(card["ready_at"], "2026-06-01T12:00:00.000-04:00");
    assert_eq!(card["provisional"], true);
    holds(
        card["reasons"][0]["text"].as_str().unwrap(),
        &["assumed slow"],
    );
}

#[test]
fn a_question_about_a_later_moment_has_another_answer_and_always_the_same_one() {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R7", 701, 6);
    world.bring_to("--rack R7", 3, "2026-03-06 10:00", "");
    let ask = |at: &str| world.at(at).json("ready");
    let before = ask("2026-03-06 21:59");
    assert_eq!(before["ready_now"], json!([]));
    assert_eq!(before["racks"][0]["pieces"][0]["minutes_left"], 1);
    let after = ask("2026-03-06 22:00");
    assert_eq!(after["ready_now"].as_array().unwrap().len(), 6);
    assert_eq!(ask("2026-03-06 21:59"), before);
    assert_eq!(ask("2026-03-06 22:00"), after);
    // A moment before the last coat knows nothing of it.
    let earlier = world.at("2026-03-06 08:00").json("piece show B-0701");
    assert_eq!(earlier["clear_coats"], 1);
    // Asking writes nothing.
    let head = world.now().json("verify")["head"].clone();
    ask("2026-03-09 07:00");
    assert_eq!(world.now().json("verify")["head"], head);
}

#[test]
fn a_deed_counts_from_its_end_when_the_past_is_asked_about() {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R7", 701, 2);
    world.bring_to("--rack R7", 1, "2026-03-06 07:00", "");
    world
        .at("2026-03-06 09:14")
        .run("coat --rack R7 --began 09:00")
        .good();
    assert_eq!(world.clears("2026-03-06 09:13", "B-0701"), 1);
    assert_eq!(world.clears("2026-03-06 09:14", "B-0701"), 2);
    let floor = world.at("2026-03-06 09:13").json("floor");
    assert_eq!(floor[0]["clear_coats"], 1);
}

#[test]
fn what_was_known_at_a_moment_leaves_out_what_was_written_later() {
    let world = World::new();
    world.piece("2026-03-03 07:00", "B-0750", "G9", "");
    world.bring_to("B-0750", 2, "2026-03-05 13:20", "");
    world
        .at("2026-03-06 07:10")
        .run("coat B-0750 --ended '2026-03-05 15:00'")
        .good();
    let entry = world
        .now()
        .json("entries B-0750")
        .as_array()
        .unwrap()
        .last()
        .unwrap()["entry"]
        .clone();
    let coats = |value: &Value| value[0]["clear_coats"].as_u64().unwrap();
    let asked = |known: &str| {
        world
            .at("2026-03-05 16:00")
            .json(&format!("floor --known-at '{known}'"))
    };
    // Of Thursday 16:00, as known on Thursday evening and on Friday morning.
    assert_eq!(coats(&asked("2026-03-05 20:00")), 2);
    assert_eq!(coats(&asked("2026-03-06 07:10")), 3);
    // A correction is known from when it was written on.
    world
        .at("2026-03-06 09:00")
        .run(&format!("void {entry} --why 'was another body'"))
        .good();
    assert_eq!(coats(&asked("2026-03-06 08:00")), 3);
    assert_eq!(coats(&asked("2026-03-06 09:00")), 2);
    let card = |known: &str| {
        world
            .at("2026-03-05 16:00")
            .json(&format!("piece show B-0750 --known-at '{known}'"))
    };
    assert_eq!(card("2026-03-05 20:00")["clear_coats"], 2);
    assert_eq!(card("2026-03-06 08:00")["clear_coats"], 3);
    let history = card("2026-03-06 08:00")["history"].clone();
    let told = history
        .as_array()
        .unwrap()
        .iter()
        .find(|e| e["entry"] == entry)
        .unwrap();
    assert_eq!(told["taken_back_by"], Value::Null);
    assert!(
        texts(&card("2026-03-05 20:00")["history"], "written")
            .iter()
            .all(|w| *w <= "2026-03-05T20:00")
    );
    assert_eq!(rules(&world.now().json("deviations --all")).len(), 0);
    // Where the option is not heeded it is refused: a silent one would give a wrong answer.
    world
        .now()
        .run("month 2026-03 --known-at '2026-03-06 08:00'")
        .refused(2);
}

// The canonical bytes of a row, as the record's documentation gives them.
fn canonical(row: &Value, columns: &str) -> Vec<u8> {
    let mut out = Vec::new();
    for column in columns.split(' ') {
        match &row[column] {
            Value::Null => out.push(0),
            Value::Number(n) => {
                out.push(1);
                out.extend(n.as_i64().unwrap().to_be_bytes());
            }
            Value::String(text) => {
                out.push(2);
                out.extend(u64::try_from(text.len()).unwrap().to_be_bytes());
                out.extend(text.as_bytes());
            }
            other => panic!("{column}: {other}"),
        }
    }
    out
}

fn lines(file: &std::path::Path) -> Vec<Value> {
    let text = std::fs::read_to_string(file).unwrap();
    text.lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect()
}

// An export as it would be, had the zone's rules had this offset from a moment on when it was written: offsets and
// production days differ, and the chain over them is whole.
fn under_other_rules(folder: &std::path::Path, from_ms: i64, offset_min: i64) -> String {
    const ACTION: &str = "seq draft deed person writer station began ended written zone offset_min day clock boot_ms body";
    const ENTRY: &str = "seq action piece surface branch began ended day kind corrects body";
    let file = |name: &str| folder.join(format!("{name}.jsonl"));
    let (mut actions, mut entries) = (lines(&file("actions")), lines(&file("entries")));
    for row in actions.iter_mut().chain(&mut entries) {
        let began = row["began"].as_i64().unwrap();
        if began >= from_ms {
            row["day"] = json!((began + offset_min * 60_000).div_euclid(86_400_000));
            if row.get("offset_min").is_some() {
                row["offset_min"] = json!(offset_min);
            }
        }
    }
    let bytes = |hex: &str| -> Vec<u8> {
        (0..hex.len())
            .step_by(2)
            .map(|i| u8::from_str_radix(hex.get(i..i + 2).unwrap(), 16).unwrap())
            .collect()
    };
    let sha = |parts: &[&[u8]]| hangtime::ledger::sha256_hex(&parts.concat());
    let mut head = "0".repeat(64);
    for action in &mut actions {
        let mut all = Vec::new();
        for entry in entries.iter_mut().filter(|e| e["action"] == action["seq"]) {
            let row = canonical(entry, ENTRY);
            entry["digest"] = json!(sha(&[&[1], &row]).get(..16));
            all.push(0x1e);
            all.extend(row);
        }
        action["prev"] = json!(head);
        let row = canonical(action, ACTION);
        head = sha(&[&[0], b"hangtime 1", &bytes(&head), &row, &all]);
        action["hash"] = json!(head);
    }
    let manifest = folder.join("manifest.json");
    let mut said: Value = serde_json::from_slice(&std::fs::read(&manifest).unwrap()).unwrap();
    for (name, rows) in [("actions", &actions), ("entries", &entries)] {
        let mut text = String::new();
        for row in rows {
            text.push_str(&format!("{row}\n"));
        }
        for listed in said["files"].as_array_mut().unwrap() {
            if listed["name"] == json!(format!("{name}.jsonl")) {
                listed["sha256"] = json!(hangtime::ledger::sha256_hex(text.as_bytes()));
            }
        }
        std::fs::write(file(name), text).unwrap();
    }
    said["head"] = json!(head);
    std::fs::write(manifest, said.to_string()).unwrap();
    head
}

#[test]
fn zone_rules_that_change_later_change_no_stored_day_month_total_or_hash() {
    let world = World::new();
    world.rack("2026-03-25 07:00", "R41", 411, 1);
    world.bring_to("--rack R41", 3, "2026-03-31 23:10", "--mix 1 --amount 48mL");
    let export = |to: &str, ledger: &str| {
        let words = crate::world::split(&format!("export {to} --ledger {ledger} --json"));
        crate::world::run(world.home(), &words).json()
    };
    let ours = world.ledger().to_str().unwrap().to_owned();
    let used = |ledger: &str, month: &str| {
        let words = crate::world::split(&format!("month {month} --ledger {ledger} --json"));
        let answer = crate::world::run(world.home(), &words);
        let value: Value = serde_json::from_str(&answer.out).unwrap();
        value["totals"]["voc_mg"]
            .as_i64()
            .unwrap_or_else(|| panic!("{value}"))
    };
    let each = used(&ours, "2026-03") / 3;
    assert!(each > 0);
    assert_eq!(used(&ours, "2026-04"), 0);
    export("then", &ours);
    // By the rules of then the clocks had gone forward once more on 31 March: the last coat was on 1 April.
    let folder = world.home().join("then");
    let midnight = 1_774_929_600_000;
    let head = under_other_rules(&folder, midnight, -180);
    let words = crate::world::split("import then --ledger old.ledger --json");
    assert_eq!(crate::world::run(world.home(), &words).json()["head"], head);

    // By the rules that are compiled in that moment is in March. What is stored says otherwise, and counts.
    let ask = |line: &str| {
        crate::world::run(
            world.home(),
            &crate::world::split(&format!("{line} --ledger old.ledger")),
        )
    };
    holds(&ask("verify").good().out, &["no difference found", &head]);
    assert_eq!(used("old.ledger", "2026-03"), 2 * each);
    assert_eq!(used("old.ledger", "2026-04"), each);
    let entries = ask("entries B-0411 --json").json();
    let last = entries.as_array().unwrap().last().unwrap();
    assert_eq!(last["day"], "2026-04-01");
    assert_eq!(last["ended"], "2026-04-01T00:10:00.000-03:00");
    holds(
        &ask("entries B-0411").good().out,
        &["2026-04-01 00:10:00 -03:00"],
    );
    // Days before are as they were, in the letters of the zone.
    holds(
        &ask("entries B-0411").good().out,
        &["2026-03-25 07:00:00 EDT"],
    );
    // A rebuild and another export give the same again.
    ask("rebuild").good();
    holds(&ask("verify").good().out, &["no difference found", &head]);
    assert_eq!(used("old.ledger", "2026-04"), each);
    export("again", "old.ledger");
    for table in ["actions", "entries"] {
        let name = format!("{table}.jsonl");
        assert_eq!(
            lines(&folder.join(&name)),
            lines(&world.home().join("again").join(&name))
        );
    }
}

#[test]
fn the_days_cap_counts_by_the_day_that_was_stored() {
    let world = World::new();
    world.rack("2026-03-25 07:00", "R41", 411, 1);
    world.bring_to("--rack R41", 3, "2026-03-31 20:10", "--mix 1 --amount 48mL");
    let fourth = world
        .at("2026-03-31 21:40")
        .json("coat --rack R41 --mix 1 --kind clear --include all");
    let cap = |list: &Value| {
        let rules: Vec<Value> = list
            .as_array()
            .unwrap()
            .iter()
            .map(|d| d["rule"].clone())
            .collect();
        rules.iter().filter(|r| **r == "daily-cap").count()
    };
    assert_eq!(cap(&fourth["deviations"]), 1, "{fourth}");
    let ask = |line: &str| crate::world::run(world.home(), &crate::world::split(line));
    ask("export then --json").good();
    // By the rules of then the whole set was sprayed on 1 April: four coats on one day, as before.
    let head = under_other_rules(&world.home().join("then"), 1_774_951_200_000, 720);
    let taken = ask("import then --ledger old.ledger --json").json();
    assert_eq!(taken["head"], head);
    let entries = ask("entries B-0411 --ledger old.ledger --json").json();
    assert_eq!(
        entries.as_array().unwrap().last().unwrap()["day"],
        "2026-04-01"
    );
    let open = ask("deviations --ledger old.ledger --json").json();
    assert_eq!(cap(&open), 1, "{open}");
}
