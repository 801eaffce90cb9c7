//! The plan: what each rack reaches when, hooks by day, dates backwards, and what would come of it if.

use crate::ahead::a_pair_that_cannot_meet;
use crate::world::{World, holds, moment, texts};
use serde_json::{Value, json};

// A cure room that was held at 22 C, with a reading every quarter of an hour.
fn held_at_22(world: &World, from: &str, at: &str) {
    let (start, end) = (moment(from), moment(at));
    let mut rows = String::from("time,temperature\n");
    let mut when = start;
    while when <= end {
        let time = when.format("%Y-%m-%d %H:%M").to_string();
        // The hour that the clock change leaves out.
        if !time.starts_with("2026-03-08 02:") {
            rows.push_str(&format!("{time},22.0\n"));
        }
        when += chrono::TimeDelta::minutes(15);
    }
    world.readings(at, "cure room", &rows);
}

fn with_cure_room() -> World {
    let world = World::new();
    world
        .at("2026-02-20 06:30")
        .run("room declare 'cure room' --every 15m")
        .good();
    world
}

fn rack_in_cure(world: &World, rack: &str, first: u32, count: u32, last: &str) {
    world.rack("2026-02-20 07:00", rack, first, count);
    world
        .at("2026-02-20 07:05")
        .run(&format!("move --rack {rack} --room 'cure room'"))
        .good();
    world.bring_to(&format!("--rack {rack}"), 9, last, "");
}

fn step<'v>(plan: &'v Value, rack: &str, what: &str) -> &'v Value {
    let steps = plan["steps"].as_array().unwrap();
    steps
        .iter()
        .find(|s| s["rack"] == rack && s["what"] == what)
        .unwrap_or_else(|| panic!("no {what} of {rack} in {steps:?}"))
}

#[test]
fn s47_hooks_are_short_by_six_on_the_day_that_is_named() {
    let world = with_cure_room();
    // 30 bodies whose time is reached on Tue 10 Mar at 11:00, 282 in their cure until the 19th, 24 one coat before theirs.
    rack_in_cure(&world, "C1", 1000, 30, "2026-02-24 10:00");
    rack_in_cure(&world, "C2", 2000, 282, "2026-03-05 10:00");
    world.rack("2026-02-20 07:00", "R12", 3000, 24);
    world.bring_to("--rack R12", 8, "2026-03-10 14:00", "");
    held_at_22(&world, "2026-02-20 06:00", "2026-03-10 15:45");
    let desk = world.at("2026-03-10 16:00");
    // One person, 48 minutes a piece: ten in a shift of eight and a half hours.
    desk.run("station set 'fine bench' --for final-sand --takes 48min --per piece --source 'timed by MK'")
        .good();
    desk.run("room hooks 'cure room' 320 --source 'counted'")
        .good();

    let found = desk.json("plan hooks --days 14 --plays 0");
    let room = &found["rooms"][0];
    assert_eq!(room["room"], "cure room");
    assert_eq!(room["hooks"], 320);
    assert_eq!(room["days"].as_array().unwrap().len(), 14);
    let today = &room["days"][0];
    assert_eq!(
        (&today["before"], &today["after"]),
        (&json!(312), &json!(312))
    );
    assert_eq!(today["short"], 0);
    let day = &room["days"][1];
    assert_eq!(day["date"], "2026-03-11");
    assert_eq!(day["before"], 312);
    assert_eq!(day["arrive"], 24);
    assert_eq!(day["leave"], 10);
    assert_eq!(day["after"], 326);
    assert_eq!(day["short"], 6);
    // Those whose time is reached and whom nobody comes to that day.
    let could: Vec<&str> = day["could_leave"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_str)
        .collect();
    assert_eq!(could.len(), 20);
    assert!(could.iter().all(|s| s.starts_with("B-10")), "{could:?}");
    // While people work: who is taken down at this moment hung there until now.
    let at_work = world.at("2026-03-11 09:00").json("plan hooks --plays 0");
    let today = &at_work["rooms"][0]["days"][0];
    assert_eq!(today["before"], 312, "{today}");
    let count = |key: &str| today[key].as_u64().unwrap();
    assert!(count("leave") > 0, "{today}");
    assert_eq!(
        count("before") + count("arrive") - count("leave"),
        count("after")
    );
    // The day after, ten more have left.
    assert_eq!(room["days"][2]["after"], 316);
    assert_eq!(room["days"][2]["short"], 0);
    let page = desk.run("plan hooks --plays 0").good().out;
    holds(
        &page,
        &[
            "cure room: 320 hooks",
            "  Wed 11 Mar  312 hang there, 24 arrive, 10 leave: 326  short by 6",
            "    recipe time reached, check by hand: B-10",
            "no station for clear",
        ],
    );
    // A weekday alone would not say which one.
    holds(
        &desk.run("plan --plays 0").good().out,
        &[
            "hooks of cure room: 320; short by 6 on Wed 11 Mar, 1 day short",
            "  Wed 11 Mar 07:00 to Fri 13 Mar 15:00  final sand  30 pieces",
        ],
    );
    // Two people at the bench, or fourteen hooks more: not short.
    let more = desk.json("plan if --hooks 'cure room=334' --plays 0");
    assert_eq!(
        more["short_of_hooks"]["today"],
        json!({"days": 1, "most": 6})
    );
    assert_eq!(
        more["short_of_hooks"]["then"],
        json!({"days": 0, "most": 0})
    );
}

#[test]
fn s45_the_plan_names_the_pair_that_cannot_meet_and_who_waits() {
    let world = a_pair_that_cannot_meet();
    let desk = world.at("2026-05-11 16:30");
    let plan = desk.json("plan --plays 0");
    // Without a station it is what "at-risk" says.
    let risk = desk.json("at-risk");
    let pair = &plan["pairs"]["at_risk"][0];
    assert_eq!(plan["pairs"]["looked_at"], 1);
    assert_eq!(pair["text"], "4 days late, constraint neck");
    for key in ["due", "meet", "days_late"] {
        assert_eq!(pair[key], risk["pairs"][0][key], "{key}");
    }
    assert_eq!(pair["constraint"], "N-0045");
    assert_eq!(
        pair["waits"],
        "B-0045 waits 7 d 01 h for N-0045, from Tue 12 May 09:00"
    );
    // The body misses its date by the neck that it waits for.
    let body = plan["pieces"]
        .as_array()
        .unwrap()
        .iter()
        .find(|p| p["serial"] == "B-0045")
        .unwrap();
    assert_eq!(body["days_late"], 4);
    assert_eq!(
        body["decides"],
        "7 d 01 h before mate: its other half N-0045"
    );
    holds(
        &desk.run("plan --plays 0").good().out,
        &[
            "no station is entered: by the stated figures every deed takes no time",
            "no range:",
            "pairs that cannot meet in time: 1 of 1 pair",
            "  B-0045 + N-0045  due Fri 15 May: 4 days late, constraint neck",
        ],
    );
    // What nobody can time has no end and says why.
    world
        .at("2026-05-11 17:00")
        .run("hold N-0045 --why 'heel checked again'")
        .good();
    let held = world.at("2026-05-11 17:01").json("plan --plays 0");
    let told = |serial: &str| {
        let pieces = held["pieces"].as_array().unwrap();
        let piece = pieces.iter().find(|p| p["serial"] == serial).unwrap();
        (piece["ends"].clone(), piece["cannot_be_told"].clone())
    };
    assert_eq!(
        told("N-0045"),
        (json!(null), json!("on hold: heel checked again"))
    );
    assert_eq!(
        told("B-0045"),
        (
            json!(null),
            json!("its other half N-0045 does not come to be mated")
        )
    );
}

#[test]
fn s38_a_rack_reaches_its_step_when_its_last_piece_does() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R20", 714, 24);
    world.bring_to("--rack R20", 3, "2026-03-09 21:10", "");
    world
        .at("2026-03-09 23:00")
        .run("coat B-0733 --touch-up --kind clear")
        .good();
    let sand = |plan: &Value, rack: &str| {
        let row = step(plan, rack, "level sand 1").clone();
        (
            row["pieces"].as_array().unwrap().len(),
            row["opens"].clone(),
        )
    };
    let plan = world.at("2026-03-09 23:05").json("plan --plays 0");
    assert_eq!(
        sand(&plan, "R20"),
        (24, json!("2026-03-10T11:00:00.000-04:00"))
    );
    let row = step(&plan, "R20", "level sand 1");
    assert_eq!(row["begins"], "2026-03-10T09:10:00.000-04:00");
    assert_eq!(row["ends"], "2026-03-10T11:00:00.000-04:00");
    let hook = 733 - 714 + 1;
    world
        .at("2026-03-09 23:10")
        .run(&format!("rack split R20 --hooks {hook} --to R20B"))
        .good();
    let plan = world.at("2026-03-09 23:15").json("plan --plays 0");
    assert_eq!(
        sand(&plan, "R20"),
        (23, json!("2026-03-10T09:10:00.000-04:00"))
    );
    assert_eq!(
        sand(&plan, "R20B"),
        (1, json!("2026-03-10T11:00:00.000-04:00"))
    );
}

#[test]
fn stations_make_racks_wait_and_what_is_supposed_stands_beside_today() {
    let world = World::new();
    for (rack, first) in [("R1", 100), ("R2", 200), ("R3", 300)] {
        world.rack("2026-03-05 07:00", rack, first, 12);
        world.bring_to(&format!("--rack {rack}"), 1, "2026-03-16 14:00", "");
    }
    let desk = world.at("2026-03-17 06:00");
    for booth in ["booth 1", "booth 2"] {
        desk.run(&format!(
            "station set '{booth}' --for seal --for clear --takes 20min --per rack --source 'timed by MK'"
        ))
        .good();
    }
    let begins = |plan: &Value, rack: &str, what: &str| {
        let at = step(plan, rack, what)["begins"]
            .as_str()
            .unwrap()
            .to_owned();
        at.get(8..16).unwrap().to_owned()
    };
    let plan = desk.json("plan --plays 0");
    // Two booths: R1 and R2 at 07:00, R3 when one is free; 90 minutes after the end of a coat the next.
    for (rack, second, third) in [
        ("R1", "17T07:00", "17T08:50"),
        ("R2", "17T07:00", "17T08:50"),
        ("R3", "17T07:20", "17T09:10"),
    ] {
        assert_eq!(begins(&plan, rack, "clear 2 of 9"), second, "{rack}");
        assert_eq!(begins(&plan, rack, "clear 3 of 9"), third, "{rack}");
    }
    assert_eq!(
        step(&plan, "R3", "clear 2 of 9")["stations"],
        json!(["booth 1"])
    );

    // One booth down on Tuesday: the racks go one after another, and the nights that follow take the delay up.
    let down = desk.json("plan if --booth-down 'booth 2:2026-03-17' --plays 0");
    assert_eq!(
        down["if"],
        json!(["booth 2 down Tue 17 Mar 00:00 to Wed 18 Mar 00:00"])
    );
    assert_eq!(down["racks"], json!([]));
    // But that day R2 and R3 are sprayed 20 minutes later.
    assert_eq!(
        (&down["later"], &down["earlier"]),
        (
            &json!({"pieces": 24, "by_ms": 20 * 60_000}),
            &json!({"pieces": 0, "by_ms": 0})
        )
    );
    let page = desk
        .run("plan if --booth-down 'booth 2:2026-03-17' --plays 0")
        .good()
        .out;
    holds(
        &page,
        &[
            "  pieces with a step that begins later       -                          24, by 20 min at the most\n",
            "  no rack ends at another time\n",
        ],
    );
    assert!(!page.contains("begins earlier"), "{page}");
    // Down until the last coats are on: on Thursday R2 and R3 end their ninth clear 20 minutes later each, and so their cure.
    let down = desk.json(
        "plan if --booth-down 'booth 2:2026-03-17' --booth-down 'booth 2:2026-03-18' --booth-down 'booth 2:2026-03-19' --plays 0",
    );
    let ends = |value: &Value, rack: &str| {
        let racks = value["racks"].as_array().unwrap();
        let row = racks.iter().find(|r| r["rack"] == rack)?;
        let at = |key: &str| {
            let at = row["ends"][key].as_str().unwrap();
            at.get(5..16).unwrap().to_owned()
        };
        Some((at("today"), at("then")))
    };
    let moved = |a: &str, b: &str| Some((a.to_owned(), b.to_owned()));
    assert_eq!(ends(&down, "R1"), None);
    assert_eq!(ends(&down, "R2"), moved("04-02T11:00", "04-02T11:20"));
    assert_eq!(ends(&down, "R3"), moved("04-02T11:20", "04-02T11:40"));

    // 200 rush bodies go first and hold all others up; the record is as it was.
    let before = desk.json("verify")["actions"].clone();
    let rush = desk.json("plan if --rush 200:G9 --plays 0");
    assert_eq!(rush["supposed"].as_array().unwrap().len(), 9);
    assert!(ends(&rush, "R3").is_some(), "{rush}");
    assert_eq!(desk.json("verify")["actions"], before);
    assert_eq!(desk.json("plan --plays 0"), plan);

    let page = desk
        .run("plan if --overtime '2026-03-21 07:00..12:00' --booth-down 'booth 1:2026-03-18' --plays 0")
        .good()
        .out;
    holds(
        &page,
        &[
            "if overtime Sat 21 Mar 07:00 to Sat 21 Mar 12:00; booth 1 down Wed 18 Mar 00:00 to Thu 19 Mar 00:00",
            "pieces that miss their date",
            "stations: booth 1 (1 person, 20 min a rack), booth 2 (1 person, 20 min a rack); no station for",
        ],
    );
    // What is not known is named with what is.
    for (wrong, said) in [
        (
            "--booth-down 'booth 9:2026-03-17'",
            "write one of booth 1, booth 2",
        ),
        (
            "--heat-off 'attic:2026-03-17 22:00..06:00'",
            "room \"attic\" is not known",
        ),
        ("--rush 20:Z9", "recipe \"Z9\" is not adopted"),
        ("--rush twenty", "20:G9"),
        ("--overtime someday", "2026-03-28"),
        ("--hooks 'booth 1'", "cure room=340"),
    ] {
        holds(&desk.run(&format!("plan if {wrong}")).refused(2), &[said]);
    }
    assert_eq!(desk.run("plan if").code, 2);
}

#[test]
fn a_night_without_heat_moves_a_cure_by_the_hours_that_it_would_have_earned() {
    let world = with_cure_room();
    rack_in_cure(&world, "C1", 100, 2, "2026-02-24 10:00");
    held_at_22(&world, "2026-02-20 06:00", "2026-03-09 15:45");
    let desk = world.at("2026-03-09 16:00");
    // Reached on Tue 10 Mar at 11:00. Eight hours without heat: at 19:00, when nobody is there.
    let plan = desk.json("plan --plays 0");
    assert_eq!(
        step(&plan, "C1", "final sand")["begins"],
        "2026-03-10T11:00:00.000-04:00"
    );
    let found = desk.json("plan if --heat-off 'cure room:2026-03-09 22:00..06:00' --plays 0");
    let row = &found["racks"][0];
    assert_eq!(row["ends"]["today"], "2026-03-10T11:00:00.000-04:00");
    assert_eq!(row["ends"]["then"], "2026-03-11T07:00:00.000-04:00");
    assert_eq!(
        found["later"],
        json!({"pieces": 2, "by_ms": 20 * 3_600_000})
    );
    // A room in which nothing cures holds nothing up, and that is said.
    world
        .at("2026-03-09 16:01")
        .run("room declare 'flash room'")
        .good();
    let other = world
        .at("2026-03-09 16:02")
        .json("plan if --heat-off 'flash room:2026-03-09 22:00..06:00' --plays 0");
    assert_eq!(other["racks"], json!([]));
    assert_eq!(
        other["if"][1],
        "cures to come are not planned in flash room: no piece stands in its cure there"
    );
    // With people there that evening it is 19:00 itself.
    let found = desk.json(
        "plan if --heat-off 'cure room:2026-03-09 22:00..06:00' --overtime '2026-03-10 15:30..20:00' --plays 0",
    );
    assert_eq!(
        found["racks"][0]["ends"]["then"],
        "2026-03-10T19:00:00.000-04:00"
    );
    let found = desk.json(
        "plan if --heat-off 'cure room:2026-03-09 22:00..06:00' --hours 07:00-20:00 --plays 0",
    );
    assert_eq!(
        found["racks"][0]["ends"]["then"],
        "2026-03-10T19:00:00.000-04:00"
    );
}

#[test]
fn what_is_planned_on_a_closed_day_moves_to_the_next_that_is_worked() {
    let world = with_cure_room();
    rack_in_cure(&world, "C1", 100, 2, "2026-02-24 10:00");
    held_at_22(&world, "2026-02-20 06:00", "2026-03-09 15:45");
    let begins = |line: &str| {
        let plan = world.at("2026-03-09 16:30").json(line);
        let at = step(&plan, "C1", "final sand")["begins"].as_str().unwrap();
        at.get(..16).unwrap().to_owned()
    };
    // 336 h after Tue 24 Feb 10:00, the clock change among them.
    assert_eq!(begins("plan --plays 0"), "2026-03-10T11:00");
    let desk = world.at("2026-03-09 16:00");
    desk.run("plan closed 2026-03-10..2026-03-11 --source 'shop rule'")
        .good();
    assert_eq!(begins("plan --plays 0"), "2026-03-12T07:00");
    let closed = desk.json("plan closed");
    assert_eq!(closed[0]["first"], "2026-03-10");
    assert_eq!(closed[0]["last"], "2026-03-11");
    assert_eq!(closed[0]["by"], "MK");
    holds(
        &desk.run("plan closed").good().out,
        &["Tue 10 Mar 2026 to Wed 11 Mar 2026  source: shop rule  MK"],
    );
    // It is said what the plan, the list of the day and the pairs at risk go by.
    let by = "07:00 to 15:30, Mon to Fri, closed Tue 10 Mar 2026 to Wed 11 Mar 2026";
    assert_eq!(desk.json("plan --plays 0")["basis"]["hours"], by);
    assert_eq!(desk.json("at-risk")["hours"], by);
    let list = desk.json("shift");
    assert_eq!(list["hours"], by);
    assert_eq!(
        list["by"],
        json!([
            "2026-03-12T12:00:00.000-04:00",
            "2026-03-12T15:30:00.000-04:00"
        ])
    );
    // Overtime is worked on a day on which the shop is closed.
    for (overtime, ends) in [
        ("2026-03-11 08:00..12:00", "2026-03-11T08:00:00.000-04:00"),
        ("2026-03-10", "2026-03-10T11:00:00.000-04:00"),
    ] {
        let found = desk.json(&format!("plan if --overtime '{overtime}' --plays 0"));
        let row = &found["racks"][0];
        assert_eq!(row["ends"]["today"], "2026-03-12T07:00:00.000-04:00");
        assert_eq!(row["ends"]["then"], ends, "{overtime}");
    }
    // One of the days is worked after all.
    world
        .at("2026-03-09 16:10")
        .run("plan open 2026-03-11 --why 'a truck comes'")
        .good();
    assert_eq!(begins("plan --plays 0"), "2026-03-11T07:00");
    let left = world.at("2026-03-09 16:20").json("plan closed");
    assert_eq!(left.as_array().unwrap().len(), 1);
    assert_eq!(
        (&left[0]["first"], &left[0]["last"]),
        (&json!("2026-03-10"), &json!("2026-03-10"))
    );
    holds(
        &world.at("2026-03-09 16:20").run("entries").good().out,
        &[
            "closed on Tue 10 Mar 2026 to Wed 11 Mar 2026, source: shop rule",
            "worked after all on Wed 11 Mar 2026: a truck comes",
        ],
    );
    for (wrong, said) in [
        ("closed 2026-03-32 --source x", "is not a date"),
        (
            "closed 2026-03-12..2026-03-10 --source x",
            "allowed are 1 to 366 days, the earlier one first",
        ),
        ("closed 2026-01-01..2027-01-02 --source x", "1 to 366 days"),
        (
            "open 2026-04-03 --why x",
            "the shop is not closed on Fri 3 Apr 2026; closed are Tue 10 Mar 2026",
        ),
        ("closed 2026-04-03", "--source"),
    ] {
        let answer = world.at("2026-03-09 16:20").run(&format!("plan {wrong}"));
        holds(&answer.refused(2), &[said]);
    }
}

#[test]
fn working_hours_that_are_entered_hold_for_every_forecast() {
    let world = with_cure_room();
    rack_in_cure(&world, "C1", 100, 2, "2026-02-24 10:00");
    held_at_22(&world, "2026-02-20 06:00", "2026-03-09 15:45");
    world.piece("2026-03-06 07:00", "B-0290", "G9", "--due 2026-03-12");
    let begins = |at: &str, line: &str| {
        let plan = world.at(at).json(line);
        let at = step(&plan, "C1", "final sand")["begins"].as_str().unwrap();
        at.get(..16).unwrap().to_owned()
    };
    let desk = world.at("2026-03-09 16:00");
    assert_eq!(desk.json("plan hours"), Value::Null);
    assert_eq!(
        begins("2026-03-09 16:00", "plan --plays 0"),
        "2026-03-10T11:00"
    );
    let late = |at: &str| {
        let answer = world.at(at).run("alert --json").out;
        let list: Value = serde_json::from_str(&answer).unwrap();
        let all = list["alerts"].as_array().unwrap();
        let late = all.iter().find(|a| a["kind"] == "late").unwrap();
        late["text"].as_str().unwrap().to_owned()
    };
    let common = "(working 07:00 to 15:30, Mon to Fri: common practice, no source)";
    holds(&late("2026-03-09 16:00"), &[common]);

    let saved = desk.run(
        "plan hours 13:00-17:00 17:00-21:00 '07:00-12:00 sat' --on mon-thu --source 'rota of March'",
    );
    let words = "13:00 to 17:00, Mon to Thu and 17:00 to 21:00, Mon to Thu and 07:00 to 12:00, Sat";
    holds(&saved.good().out, &[words]);
    let entered = desk.json("plan hours");
    assert_eq!(entered["shifts"].as_array().unwrap().len(), 3);
    assert_eq!(
        (&entered["source"], &entered["by"]),
        (&json!("rota of March"), &json!("MK"))
    );
    holds(
        &world.now().run("entries").good().out,
        &[&format!("working hours {words}, source: rota of March")],
    );
    // The plan, the pairs, the day's list, a rehearsal, what is late and a lost slot go by them.
    let desk = world.at("2026-03-09 16:30");
    assert_eq!(
        begins("2026-03-09 16:30", "plan --plays 0"),
        "2026-03-10T13:00"
    );
    for (question, at) in [
        ("plan --plays 0", "/basis/hours"),
        ("at-risk", "/hours"),
        ("shift", "/hours"),
        ("recipe rehearse G9", "/hours"),
    ] {
        let answer = desk.json(question);
        assert_eq!(answer.pointer(at), Some(&json!(words)), "{question}");
    }
    let by = format!("(working {words}: entered by MK)");
    holds(&late("2026-03-09 16:30"), &[&by]);
    holds(&desk.run("piece show B-0290").good().out, &[&by]);
    let air = serde_json::from_str::<Value>(&desk.run("room excursions --json").out).unwrap();
    holds(air["rests_on"].as_str().unwrap(), &[&by]);
    let plan = desk.json("plan if --overtime 2026-03-13 --plays 0");
    assert_eq!(
        plan["if"],
        json!(["overtime Fri 13 Mar 07:00 to Fri 13 Mar 21:00"])
    );
    // Hours that are given go before them, and a moment before they were entered knows nothing of them.
    let given = "plan --plays 0 --hours 08:00-16:00";
    assert_eq!(begins("2026-03-09 16:30", given), "2026-03-10T11:00");
    assert_eq!(
        begins("2026-03-09 15:50", "plan --plays 0"),
        "2026-03-10T11:00"
    );

    for (wrong, said) in [
        ("17:00-06:00 --source x", "the later one last"),
        (
            "'07:00-12:00 someday' --source x",
            "days \"someday\" are not understood",
        ),
        ("07:00-12:00", "--source"),
        ("--end", "--source"),
    ] {
        holds(
            &desk.run(&format!("plan hours {wrong}")).refused(2),
            &[said],
        );
    }
    desk.run("plan hours --end --source 'the rota is over'")
        .good();
    assert_eq!(desk.json("plan hours"), Value::Null);
    holds(&late("2026-03-09 16:31"), &[common]);
    holds(
        &desk.run("plan hours --end --source x").refused(2),
        &["no working hours are entered that could end"],
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn earlier_plans_are_held_on_the_mornings_that_were_worked() {
    let world = World::new();
    world.rack("2026-02-27 07:00", "R1", 100, 2);
    let desk = world.at("2026-03-09 16:00");
    // Mon 2 Mar to Fri 6 Mar and Mon 9 Mar; then without Thu 5 Mar.
    let line = "plan score --from 2026-03-02 --plays 0";
    assert_eq!(desk.json(line)["mornings"], 6);
    world
        .at("2026-03-04 16:00")
        .run("plan closed 2026-03-05 --source 'no power'")
        .good();
    assert_eq!(desk.json(line)["mornings"], 5);
}

#[test]
fn a_piece_backwards_from_its_date_names_the_last_coat_no_later_than() {
    let world = World::new();
    world.piece("2026-03-05 08:00", "B-0601", "G9", "--due 2026-04-03");
    world.bring_to("B-0601", 6, "2026-03-16 12:00", "");
    let desk = world.at("2026-03-17 06:00");
    let found = desk.json("plan piece B-0601 --plays 0");
    // 336 h before Fri 3 Apr 15:29, the last minute of that shift.
    assert_eq!(
        found["last_coat"],
        json!({"what": "clear 9 of 9", "latest": "2026-03-20T15:29:00.000-04:00"})
    );
    assert_eq!(
        found["text"],
        "due Fri 3 Apr: last coat (clear 9 of 9) no later than Fri 20 Mar 15:29"
    );
    let latest = |what: &str| {
        let steps = found["steps"].as_array().unwrap();
        let row = steps.iter().find(|s| s["what"] == what).unwrap();
        let at = row["latest"].as_str().unwrap();
        at.get(5..16).unwrap().to_owned()
    };
    assert_eq!(latest("clear 8 of 9"), "03-20T13:59");
    assert_eq!(latest("clear 7 of 9"), "03-20T12:29");
    assert_eq!(latest("level sand 2"), "03-20T12:29");
    assert_eq!(latest("final sand"), "04-03T15:29");
    assert_eq!(
        texts(&found["steps"], "what").first().copied(),
        Some("level sand 2")
    );
    // A bench that takes 20 minutes for the final sanding: the last coat 20 minutes sooner, as the shift ends at 15:30.
    desk.run("station set bench --for final-sand --takes 20min --per piece --source timed")
        .good();
    let found = world
        .at("2026-03-17 06:05")
        .json("plan piece B-0601 --plays 0");
    assert_eq!(
        found["last_coat"]["latest"],
        "2026-03-20T15:09:00.000-04:00"
    );
    // A date that cannot be met says so, and by how much.
    let late = desk.json("plan piece B-0601 --due 2026-03-20 --plays 0");
    assert_eq!(late["last_coat"]["latest"], json!(null));
    holds(
        late["text"].as_str().unwrap(),
        &["due Fri 20 Mar cannot be met: at the earliest", "days late"],
    );
    world.piece("2026-03-17 06:10", "B-0602", "G9", "");
    holds(
        &world
            .at("2026-03-17 06:15")
            .run("plan piece B-0602")
            .refused(2),
        &["has no due date", "--due"],
    );
}

#[test]
fn stations_are_entries_and_contradictions_are_named() {
    let world = World::new();
    let desk = world.at("2026-03-05 08:00");
    holds(&desk.run("station").good().out, &["no station is entered"]);
    desk.run("station set bench --for level-sand --for final-sand --people 2 --takes 9min --per piece --source 'timed by MK'")
        .good();
    let list = desk.json("station");
    assert_eq!(list[0]["station"], "bench");
    assert_eq!(list[0]["for"], json!(["level-sand", "final-sand"]));
    assert_eq!(list[0]["people"], 2);
    assert_eq!(list[0]["seconds"], 540);
    assert_eq!(list[0]["per"], "piece");
    assert_eq!(list[0]["by"], "MK");
    holds(
        &desk.run("station").good().out,
        &["bench  level-sand, final-sand: 2 people, 9 min a piece  source: timed by MK  MK"],
    );
    for (wrong, said) in [
        (
            "set bench2 --for final-sand --takes 2h --per rack --source x",
            "final-sand is counted by the piece at bench; write --per piece here, too",
        ),
        (
            "set bench2 --for cure --takes 2h --per rack --source x",
            "cure is a wait",
        ),
        (
            "set bench2 --for polish --takes 2h --per rack --source x",
            "step \"polish\" is not known",
        ),
        (
            "set bench2 --for buff --takes 2h --per piece --people 0 --source x",
            "1 to 500",
        ),
        (
            "end wheel --why gone",
            "station \"wheel\" is not known; write one of bench",
        ),
    ] {
        holds(&desk.run(&format!("station {wrong}")).refused(2), &[said]);
    }
    let later = world.at("2026-03-06 08:00");
    later.run("station end bench --why 'taken down'").good();
    assert_eq!(later.json("station"), json!([]));
    // What was there before is still what was there before.
    assert_eq!(desk.json("station")[0]["station"], "bench");
    holds(
        &later.run("entries").good().out,
        &[
            "station bench, level-sand, final-sand, 2 people, 9 min a piece, source: timed by MK",
            "station bench taken away: taken down",
        ],
    );
    assert_eq!(world.now().json("verify")["differences"], json!([]));
}

#[test]
fn stations_of_one_crew_are_not_worked_by_more_people_than_it_has() {
    let world = World::new();
    // R1 has its three coats and is sanded; R2 gets its second coat.
    world.rack("2026-03-05 07:00", "R1", 100, 3);
    world.bring_to("--rack R1", 3, "2026-03-13 14:00", "");
    world.rack("2026-03-05 07:00", "R2", 200, 3);
    world.bring_to("--rack R2", 1, "2026-03-16 14:00", "");
    let desk = world.at("2026-03-17 06:00");
    holds(
        &desk
            .run("station set bench --for level-sand --takes 20min --per piece --crew finishers --source timed")
            .refused(2),
        &["crew \"finishers\" is not known; none is entered"],
    );
    desk.run("station crew finishers --people 1 --source 'people list'")
        .good();
    desk.run("station set bench --for level-sand --takes 20min --per piece --crew finishers --source timed")
        .good();
    desk.run("station set booth --for seal --for clear --takes 15min --per rack --crew finishers --source timed")
        .good();
    let at = |plan: &Value, rack: &str, what: &str| {
        let row = step(plan, rack, what);
        let of = |key: &str| row[key].as_str().unwrap().get(11..16).unwrap().to_owned();
        (of("begins"), of("ends"))
    };
    let said = |a: &str, b: &str| (a.to_owned(), b.to_owned());
    // The sanding was allowed on Saturday, the coat since Monday: one person sands three pieces, 20 minutes each, and then
    // sprays.
    let plan = desk.json("plan --plays 0");
    assert_eq!(at(&plan, "R1", "level sand 1"), said("07:00", "08:00"));
    assert_eq!(at(&plan, "R2", "clear 2 of 9"), said("08:00", "08:15"));
    assert_eq!(plan["basis"]["crews"], json!({"finishers": 1}));
    holds(
        &desk.run("plan --plays 0").good().out,
        &[
            "booth (1 person of crew finishers, 15 min a rack)",
            "of a crew no more are at work at once than it has: finishers (1 person)",
        ],
    );
    // With two of them both are begun at once.
    let two = world.at("2026-03-17 06:05");
    let beside = two.json("plan if --crew finishers=2 --plays 0");
    assert_eq!(beside["if"], json!(["crew finishers has 2 people"]));
    two.run("station crew finishers --people 2 --source 'people list'")
        .good();
    let plan = two.json("plan --plays 0");
    assert_eq!(at(&plan, "R1", "level sand 1"), said("07:00", "08:00"));
    assert_eq!(at(&plan, "R2", "clear 2 of 9"), said("07:00", "07:15"));
    let list = two.json("station");
    assert_eq!(list[1]["crew"], "finishers");
    assert_eq!(
        (&list[2]["crew"], &list[2]["people"]),
        (&json!("finishers"), &json!(2))
    );
    for (wrong, said) in [
        (
            "station crew bench --people 2 --source x",
            "bench is a station; give the crew another name",
        ),
        (
            "station set finishers --for buff --takes 9min --per piece --source x",
            "finishers is a crew; give the station another name",
        ),
        ("station crew others --people 0 --source x", "1 to 500"),
        (
            "station end finishers --why x",
            "crew finishers works at bench, booth; set these without it first",
        ),
        (
            "plan if --crew others=2",
            "crew \"others\" is not known; write one of finishers",
        ),
        ("plan if --crew finishers", "write \"finishers=2\""),
    ] {
        holds(&two.run(wrong).refused(2), &[said]);
    }
    two.run("station end bench --why 'taken down'").good();
    two.run("station end booth --why 'taken down'").good();
    two.run("station end finishers --why 'each has a bench'")
        .good();
    assert_eq!(two.json("station"), json!([]));
    holds(
        &two.run("entries").good().out,
        &[
            "crew finishers, 2 people, source: people list",
            "crew finishers taken away: each has a bench",
        ],
    );
}

#[test]
fn reworks_are_planned_as_often_and_as_long_as_they_were_in_the_past() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R1", 100, 32);
    world.bring_to("--rack R1", 3, "2026-03-09 14:00", "");
    // Two of 32 go to rework after their third clear; the others are sanded.
    let two = [("B-0100", "0"), ("B-0101", "5")];
    for (serial, minute) in two {
        world
            .at(&format!("2026-03-10 09:0{minute}"))
            .run(&format!("rework {serial} RW3 --why 'run over all'"))
            .good();
    }
    let early = world.at("2026-03-10 09:30").json("plan --plays 5");
    assert_eq!(early["basis"]["reworks"], json!([]));
    world
        .at("2026-03-10 10:00")
        .run("sand --rack R1 --hooks 3-32 --kind level-sand")
        .good();
    for (at, deed) in [
        ("2026-03-10 10:3", "coat SERIAL --kind clear"),
        ("2026-03-10 12:0", "coat SERIAL --kind clear"),
        ("2026-03-10 13:4", "coat SERIAL --kind clear"),
        ("2026-03-11 08:0", "sand SERIAL --kind level-sand"),
        ("2026-03-19 09:0", "sand SERIAL --kind final-sand"),
        ("2026-03-19 10:0", "done buff SERIAL"),
        ("2026-03-19 11:0", "done buff SERIAL"),
        ("2026-03-19 12:0", "done buff SERIAL"),
    ] {
        // One after the other: what is done on one rack at one time is one wait.
        for (serial, minute) in two {
            let at = format!("{at}{minute}");
            let deed = deed.replace("SERIAL", serial);
            world.at(&at).run(&deed).good();
        }
    }
    // Three clears on 32 pieces; from Tue 10 Mar 09:00 to Thu 19 Mar 12:00 each, or five minutes later.
    let desk = world.at("2026-03-19 13:00");
    let plan = desk.json("plan --plays 5");
    assert_eq!(
        plan["basis"]["reworks"],
        json!([{"after": "clear", "opened": 2, "of": 96, "mean_ms": 219 * 3_600_000}])
    );
    let page = desk.run("plan --plays 5").good().out;
    holds(
        &page,
        &[
            "reworks in the plays as in the past, as long as in the mean: after clear 2 of 96 for 9 d 03 h; none where fewer than 30 past pieces came through level-sand",
            "; the stated figures have none",
        ],
    );
    // Without drawn plays there are none, and nothing is said of them.
    let stated = desk.json("plan --plays 0");
    assert_eq!(stated["basis"]["reworks"], json!([]));
    assert_eq!(stated["basis"]["said"].as_array().unwrap().len(), 2);
}
