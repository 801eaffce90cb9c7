//! Who is told of what, once; and the watch that sends it.

use crate::world::{World, holds, sample, texts};
use serde_json::{Value, json};
use std::path::PathBuf;

/// A program of the shop's own that keeps every line that it reads.
fn teller(world: &World, more: &str) -> (PathBuf, PathBuf) {
    use std::os::unix::fs::PermissionsExt as _;
    let told = world.home().join("told");
    let text = format!("#!/bin/sh\ncat >> '{}'\n{more}\n", told.display());
    let file = world.file("tell", &text);
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o755)).unwrap();
    (file, told)
}

fn lines(told: &PathBuf) -> Vec<Value> {
    let text = std::fs::read_to_string(told).unwrap_or_default();
    text.lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect()
}

fn alerts(world: &World, at: &str) -> Value {
    let answer = world.at(at).run("alert --json");
    let value: Value = serde_json::from_str(&answer.out).unwrap();
    value["alerts"].clone()
}

/// The texts of one kind of alert at a moment.
fn of_kind(world: &World, at: &str, kind: &str) -> Vec<String> {
    let all = alerts(world, at);
    let theirs = all.as_array().unwrap().iter().filter(|a| a["kind"] == kind);
    theirs
        .map(|a| a["text"].as_str().unwrap().to_owned())
        .collect()
}

/// A rack of four bodies, two clears on, the second of them ended at 10:00.
fn with_rack() -> World {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R8", 101, 4);
    world.bring_to("--rack R8", 2, "2026-03-10 10:00", "");
    world
}

#[test]
fn a_rack_whose_time_is_reached_is_one_alert_with_the_same_name_for_everybody() {
    let world = with_rack();
    assert_eq!(of_kind(&world, "2026-03-10 11:29", "ready"), [""; 0]);
    let all = alerts(&world, "2026-03-10 11:30");
    assert_eq!(texts(&all, "kind"), ["ready"]);
    assert_eq!(all[0]["about"], "R8 clear 3 of 9");
    assert_eq!(
        all[0]["text"],
        "R8: clear 3 of 9 from 11:30, 4 pieces; recipe time reached, check by hand"
    );
    assert_eq!(all[0]["since"], "2026-03-10T10:00:00.000-04:00");
    assert_eq!(all[0]["role"], "finisher");
    let later = alerts(&world, "2026-03-10 16:00");
    assert_eq!(later[0]["id"], all[0]["id"]);
    // The coat itself ends it; the next one is another.
    world
        .at("2026-03-10 11:40")
        .run("coat --rack R8 --kind clear")
        .good();
    assert_eq!(alerts(&world, "2026-03-10 11:41"), json!([]));
    // 12 h to the level sand.
    let next = alerts(&world, "2026-03-10 23:40");
    assert_eq!(texts(&next, "about"), ["R8 level sand 1"]);
    assert_ne!(next[0]["id"], all[0]["id"]);
}

#[test]
fn a_rack_on_which_some_are_further_names_each_step() {
    let world = with_rack();
    world
        .at("2026-03-10 11:40")
        .run("coat --rack R8 --hooks 1-2 --kind clear")
        .good();
    // 12 h to the level sand of the two; the others have had their time since 11:30.
    assert_eq!(of_kind(&world, "2026-03-10 23:39", "ready"), [""; 0]);
    assert_eq!(
        of_kind(&world, "2026-03-10 23:40", "ready"),
        [
            "R8: all from 23:40, 4 pieces: 2 level sand 1, 2 clear 3 of 9; recipe time reached, check by hand"
        ]
    );
}

#[test]
fn one_event_tells_one_person_once_whoever_watches_and_however_often() {
    let world = with_rack();
    let (program, told) = teller(&world, "");
    let desk = world.at("2026-03-10 11:00");
    desk.run("person add DP finisher").good();
    desk.run("person add RS finisher").good();
    let watch = format!("watch --once --command '{}'", program.display());
    // Without a rule nobody is told, and a rule for another kind tells nobody either.
    desk.run(&watch).good();
    desk.run("alert rule set late --for late --by command")
        .good();
    world.at("2026-03-10 11:31").run(&watch).good();
    assert_eq!(lines(&told), [json!(null); 0]);

    world
        .at("2026-03-10 11:32")
        .run("alert rule set bench --for ready --to finisher --to 'person MK' --by command")
        .good();
    let said = world.at("2026-03-10 11:33").run(&watch).good().out;
    holds(&said, &["told DP, MK, RS by command", "R8: clear 3 of 9"]);
    let got = lines(&told);
    assert_eq!(got.len(), 1);
    assert_eq!(got[0]["to"], json!(["DP", "MK", "RS"]));
    assert_eq!(got[0]["rule"], "bench");
    assert_eq!(got[0]["demo"], true);
    assert_eq!(got[0]["kind"], "ready");
    // A second watch, at another station, an hour later: nothing new.
    let said = world
        .at("2026-03-10 12:33")
        .station("office")
        .run(&watch)
        .good()
        .out;
    holds(&said, &["nothing new to tell"]);
    // Somebody who comes to the role later is told, too, and nobody else again.
    world
        .at("2026-03-10 12:40")
        .run("person add TW finisher")
        .good();
    world.at("2026-03-10 12:41").run(&watch).good();
    let got = lines(&told);
    assert_eq!((got.len(), &got[1]["to"]), (2, &json!(["TW"])));
    // That they were told is in the record, and is no deed that anybody undoes or finds as their last.
    let all = alerts(&world, "2026-03-10 12:50");
    assert_eq!(texts(&all[0]["told"], "to"), ["DP", "MK", "RS", "TW"]);
    let last = world.at("2026-03-10 12:51").json("last");
    assert_ne!(last["action"]["deed"], "alert told", "{last}");
    assert_eq!(world.now().json("verify")["differences"], json!([]));
}

#[test]
fn taking_note_and_putting_off_are_one_persons_word() {
    let world = with_rack();
    let (program, told) = teller(&world, "");
    let watch = format!("watch --once --command '{}'", program.display());
    let desk = world.at("2026-03-10 11:31");
    desk.run("alert rule set bench --for ready --to 'person MK' --to 'person DP' --to 'person RS' --by command --again 30m")
        .good();
    let id = alerts(&world, "2026-03-10 11:31")[0]["id"].clone();
    let id = id.as_str().unwrap();
    desk.run(&format!("alert seen {id}")).good();
    desk.person("DP")
        .run(&format!("alert snooze {id} --for 1h"))
        .good();
    let to = |at: &str| {
        let before = lines(&told).len();
        world.at(at).run(&watch).good();
        let new: Vec<Value> = lines(&told).split_off(before);
        new.iter().map(|v| v["to"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(to("2026-03-10 11:32"), [json!(["RS"])]);
    assert_eq!(to("2026-03-10 11:50"), [json!(null); 0]);
    // RS took no note: again after half an hour; DP put it off by an hour from 11:31.
    assert_eq!(to("2026-03-10 12:03"), [json!(["RS"])]);
    assert_eq!(to("2026-03-10 12:31"), [json!(["DP"])]);
    let text = world.at("2026-03-10 12:32").run("alert").good().out;
    holds(&text, &["MK saw it 11:31", "DP told 12:31 by command"]);
    // What is asked twice is said once.
    let again = world
        .at("2026-03-10 12:33")
        .json(&format!("alert seen {id}"));
    assert_eq!(again["saved"], false);
    let bad = world.at("2026-03-10 12:33").run("alert seen 000000");
    holds(
        &bad.refused(2),
        &["nothing that holds now has the name", "hangtime alert"],
    );
    let entries = world.now().run("entries").good().out;
    holds(
        &entries,
        &[
            "marked alert",
            "put off alert",
            "told of alert",
            "ready R8 clear 3 of 9",
        ],
    );
}

#[test]
fn quiet_hours_hold_back_and_tell_afterwards_what_still_holds() {
    let world = with_rack();
    let (program, told) = teller(&world, "");
    let watch = format!("watch --once --command '{}'", program.display());
    world
        .at("2026-03-10 11:00")
        .run("alert rule set bench --for ready --to 'person MK' --by command --quiet 11:00-12:00")
        .good();
    world.at("2026-03-10 11:59").run(&watch).good();
    assert_eq!(lines(&told).len(), 0);
    world.at("2026-03-10 12:00").run(&watch).good();
    assert_eq!(lines(&told).len(), 1);
}

#[test]
fn a_command_that_ends_badly_is_said_and_written_down_and_holds_up_nothing() {
    let world = with_rack();
    let (program, told) = teller(&world, "exit 7");
    let watch = format!("watch --once --command '{}'", program.display());
    world
        .at("2026-03-10 11:31")
        .run("alert rule set bench --for ready --to 'person MK' --by command")
        .good();
    let answer = world.at("2026-03-10 11:32").json(&watch);
    let why = answer["sent"][0]["not_reached"].as_str().unwrap();
    holds(why, &["exit status: 7"]);
    assert_eq!(lines(&told).len(), 1);
    let all = alerts(&world, "2026-03-10 11:33");
    assert_eq!(all[0]["told"][1]["not_reached"], why);
    holds(
        &world.at("2026-03-10 11:34").run("alert").good().out,
        &["MK not reached 11:32 by command"],
    );
    // It is not tried again without a rule that repeats.
    world.at("2026-03-10 11:35").run(&watch).good();
    assert_eq!(lines(&told).len(), 1);
}

#[test]
fn rules_are_entered_in_plain_words_and_what_is_not_understood_is_refused() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    holds(
        &desk.run("alert").good().out,
        &["no rule is entered, so nobody is told"],
    );
    desk.run("alert rule set usual --for all --quiet 22:00-06:00")
        .good();
    desk.run("alert rule set night --for 'room silent' --for 'room air' --to 'person MK' --by desktop --again 1h")
        .good();
    let text = desk.run("alert rule").good().out;
    holds(
        &text,
        &[
            "night: room silent, room air; to person MK; by desktop; again after 60 min",
            "usual: all kinds; to the role of each kind; by screen; quiet 22:00-06:00",
        ],
    );
    for (words, says) in [
        ("set x --for rain", "kind \"rain\" is not known"),
        ("set x --for late --to everybody", "nobody to tell"),
        (
            "set x --for late --by pigeon",
            "way \"pigeon\" is not known",
        ),
        ("set x --for late --quiet 22-6", "quiet hours"),
        ("set x --for late --again 1m", "shorter than 5 min"),
        (
            "end x",
            "no rule has the name \"x\"; write one of night, usual",
        ),
    ] {
        holds(
            &desk.run(&format!("alert rule {words}")).refused(2),
            &[says],
        );
    }
    desk.run("alert rule end night").good();
    let rules = desk.json("alert rule");
    assert_eq!(texts(&rules, "name"), ["usual"]);
    let bad = desk.run("watch --once --command /nowhere/tell").refused(2);
    holds(&bad, &["/nowhere/tell is no file"]);
}

#[test]
fn the_coat_that_soon_wants_a_scuff_is_called_out_two_hours_before() {
    let world = with_rack();
    // 72 h after 10 March 10:00.
    assert_eq!(
        of_kind(&world, "2026-03-13 07:59", "window closing"),
        [""; 0]
    );
    assert_eq!(
        of_kind(&world, "2026-03-13 08:30", "window closing"),
        ["R8: clear 3 of 9 wants a scuff first after 10:00, 90 min left; 4 pieces"]
    );
    assert_eq!(
        of_kind(&world, "2026-03-13 10:01", "window closing"),
        [""; 0]
    );
}

#[test]
fn a_rack_behind_its_date_is_late_and_says_by_which_hours() {
    let world = World::new();
    world.piece(
        "2026-03-06 07:00",
        "B-0101",
        "G9",
        "--rack R8 --hook 1 --due 2026-03-12",
    );
    world.bring_to("B-0101", 2, "2026-03-10 10:00", "");
    let late = of_kind(&world, "2026-03-10 12:00", "late");
    assert_eq!(late.len(), 1, "{late:?}");
    holds(&late[0], &["R8: behind", "1 piece"]);
}

#[test]
fn a_silent_room_a_cold_one_and_what_hangs_there() {
    let world = World::new();
    world
        .at("2026-03-05 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    assert_eq!(
        of_kind(&world, "2026-03-05 08:01", "room silent"),
        [
            "cure room: silent since 08:00 (1 min): nothing was read, the air is unknown; what it earns is unknown; 0 pieces there"
        ]
    );
    world.rack("2026-03-02 07:00", "R8", 101, 2);
    world.bring_to("--rack R8", 9, "2026-03-09 15:00", "");
    world
        .at("2026-03-09 16:00")
        .run("move --rack R8 --room 'cure room'")
        .good();
    let mut file = String::from("time,temperature,humidity\n");
    for (minute, cold) in (0..12).map(|n| (n * 15, n >= 6)) {
        let (h, m) = (18 + minute / 60, minute % 60);
        let t = if cold { "17.5" } else { "21.0" };
        file.push_str(&format!("2026-03-09 {h}:{m:02},{t},45\n"));
    }
    world.readings("2026-03-09 20:46", "cure room", &file);
    let air = of_kind(&world, "2026-03-09 20:46", "room air");
    assert_eq!(air.len(), 1, "{air:?}");
    holds(
        &air[0],
        &[
            "cure room: too cold since 19:30 (76 min): lowest 17.5 C, held against 20.0 C (recipe G9 rev 3); 2 pieces delayed, by at most 38 min",
        ],
    );
    assert_eq!(of_kind(&world, "2026-03-09 20:46", "room silent"), [""; 0]);
    // Two intervals, at least half an hour, after the last reading at 20:45.
    let silent = of_kind(&world, "2026-03-09 21:16", "room silent");
    holds(
        &silent[0],
        &[
            "cure room: silent since 20:45 (31 min): nothing was read",
            "2 pieces there",
        ],
    );
    assert_eq!(world.at("2026-03-09 21:16").run("alert").code, 1);
}

#[test]
fn the_air_of_a_booth_is_held_against_what_the_recipes_there_state() {
    let world = World::new();
    let desk = world.at("2026-03-09 07:00");
    let text = std::fs::read_to_string(sample("recipes/g9.toml")).unwrap();
    let damp = text.replace("revision = 3", "revision = 4")
        + "\n[booth]\nhumidity_high = \"65 %\"\ntemperature_low = \"15 C\"\n";
    let file = world.file("g9.toml", &damp);
    desk.run(&format!("recipe adopt '{}'", file.display()))
        .good();
    desk.run("room declare 'booth 1' --every 15m").good();
    desk.run("booth check 'booth 1' --note 'fan runs'").good();
    world.rack("2026-03-09 07:10", "R8", 101, 2);
    let file = "time,temperature,humidity\n2026-03-09 07:15,21.0,64\n2026-03-09 07:30,21.0,66\n2026-03-09 07:45,14.0,70\n";
    world.readings("2026-03-09 07:50", "booth 1", file);
    let of = |t: &str| of_kind(&world, t, "room air");
    assert_eq!(of("2026-03-09 07:20"), [""; 0]);
    holds(
        &of("2026-03-09 07:31")[0],
        &[
            "booth 1: too damp since 07:30 EDT (1 min): highest 66 %, held against 65 % (recipe G9 rev 4); no piece was delayed, of 2 there",
        ],
    );
    // It is the same excursion while it goes on; what else is beyond is another one.
    let both = of("2026-03-09 07:50");
    holds(
        &both[0],
        &[
            "too damp since 07:30 EDT (20 min): highest 70 %",
            "of 2 there",
        ],
    );
    holds(
        &both[1],
        &["too cold since 07:45 EDT (5 min): lowest 14.0 C, held against 15.0 C (recipe G9 rev 4)"],
    );
    let id = |t: &str| {
        let all = alerts(&world, t);
        let damp = all
            .as_array()
            .unwrap()
            .iter()
            .find(|a| a["about"] == "booth 1 too damp");
        damp.unwrap()["id"].clone()
    };
    assert_eq!(id("2026-03-09 07:31"), id("2026-03-09 07:50"));
    // The shop's own bound on how near the dew point may come.
    let enter = |value: &str| {
        let line = format!(
            "limit enter --room 'booth 1' --air 'near dew point' --value '{value}' --source 'house rule'"
        );
        world.at("2026-03-09 07:51").run(&line)
    };
    holds(
        &enter("90 K diff").refused(2),
        &[
            "spread \"90 K diff\" is outside 0.1 to 50 K",
            "above its dew point",
        ],
    );
    enter("10 K diff").good();
    // 21.0 C and 64 % lie 7 K above their dew point, 14.0 C and 70 % lie 5 K above it.
    let dew = of("2026-03-09 07:52");
    let dew = dew.iter().find(|t| t.contains("near dew point")).unwrap();
    holds(
        dew,
        &[
            "booth 1: near dew point since 07:15 EDT (37 min): lowest 5.3 K above it, held against 10.0 K above it (entered by MK, source: house rule)",
        ],
    );
}

/// Readings of every quarter of an hour from noon on 4 May, `days` of them, cold in the hours after noon that are named.
fn quarters(days: i64, cold: &std::ops::Range<i64>) -> String {
    let mut file = String::from("time,temperature\n");
    for n in 0..days * 96 {
        let (hour, minute) = (n / 4, n % 4 * 15);
        let t = if cold.contains(&hour) { "13.0" } else { "22.0" };
        let day = 4 + (12 + hour) / 24;
        file.push_str(&format!(
            "2026-05-{day:02} {:02}:{minute:02},{t}\n",
            (12 + hour) % 24
        ));
    }
    file
}

#[test]
fn the_alert_of_the_air_and_the_excursions_of_a_room_are_one_thing() {
    let world = World::new();
    world
        .at("2026-02-21 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    for serial in ["B-0290", "B-0291"] {
        world.piece(
            "2026-04-27 07:00",
            serial,
            "G9",
            "--room 'cure room' --due 2026-05-18",
        );
        world.bring_to(serial, 9, "2026-05-04 12:00", "");
    }
    // Cold from 21:00 to 07:00, and for half an hour once more at noon: what is over so soon is not told afterwards.
    let file = quarters(1, &(9..19)).replace("2026-05-05 09:00,22.0", "2026-05-05 09:00,19.0");
    world.readings("2026-05-05 11:46", "cure room", &file);
    let mut ids = Vec::new();
    for (at, from, tail) in [
        (
            "2026-05-04 23:00",
            "2026-05-04 21:00",
            "2 pieces delayed, by at most 2 h",
        ),
        (
            "2026-05-05 06:50",
            "2026-05-04 21:00",
            "2 pieces delayed, by at most 9 h 45 min",
        ),
        (
            "2026-05-05 12:00",
            "2026-05-04 21:00",
            "2 pieces delayed, by at most 10 h 08 min",
        ),
    ] {
        let all = alerts(&world, at);
        let air = all
            .as_array()
            .unwrap()
            .iter()
            .filter(|a| a["kind"] == "room air");
        let air: Vec<&Value> = air.collect();
        assert_eq!(air.len(), 1, "{at}: {all}");
        assert_eq!(air[0]["about"], "cure room too cold");
        ids.push(air[0]["id"].clone());
        // The page of the excursions, asked from where this one began.
        let page = world
            .at(at)
            .run(&format!("room excursions --since '{from}' --json"));
        let page: Value = serde_json::from_str(&page.out).unwrap();
        let room = &page["rooms"][0];
        assert_eq!(room["excursions"][0]["from"], air[0]["since"], "{at}");
        let did = room["text"]
            .as_str()
            .unwrap()
            .strip_prefix("cure room: ")
            .unwrap();
        let text = air[0]["text"].as_str().unwrap();
        assert!(text.ends_with(did), "{text} / {did}");
        holds(
            text,
            &[
                "cure room: too cold",
                "lowest 13.0 C, held against 20.0 C",
                tail,
            ],
        );
    }
    assert_eq!(ids[0], ids[1]);
    assert_eq!(ids[0], ids[2]);
    // A day after its end it is told no more.
    world.readings("2026-05-06 12:00", "cure room", &quarters(2, &(9..19)));
    assert_eq!(of_kind(&world, "2026-05-06 06:59", "room air").len(), 1);
    assert_eq!(of_kind(&world, "2026-05-06 07:01", "room air"), [""; 0]);
}

#[test]
fn an_excursion_of_days_keeps_its_name() {
    let world = World::new();
    world
        .at("2026-02-21 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    world.piece("2026-04-27 07:00", "B-0290", "G9", "--room 'cure room'");
    world.bring_to("B-0290", 9, "2026-05-04 12:00", "");
    world.readings("2026-05-11 08:00", "cure room", &quarters(6, &(9..200)));
    let since = |at: &str| {
        let all = alerts(&world, at);
        let air = all
            .as_array()
            .unwrap()
            .iter()
            .find(|a| a["kind"] == "room air");
        (air.unwrap()["since"].clone(), air.unwrap()["id"].clone())
    };
    let first = since("2026-05-04 22:00");
    assert_eq!(first.0, "2026-05-04T21:00:00.000-04:00");
    for at in ["2026-05-06 22:00", "2026-05-08 03:10", "2026-05-10 11:50"] {
        assert_eq!(since(at), first, "{at}");
    }
}

#[test]
fn checks_duties_drums_marks_and_limits_are_told_with_their_figures() {
    let world = World::new();
    let at = |t: &'static str| world.at(t);
    at("2026-03-09 06:50").run("room declare 'booth 1'").good();
    at("2026-03-09 07:00")
        .run("booth check 'booth 1' --gauge 0.10inwc --new-filters")
        .good();
    at("2026-03-09 07:05")
        .run("limit enter --booth 'booth 1' --filter-rise --value 0.40inwc --source 'filter paper'")
        .good();
    at("2026-03-09 07:06")
        .run("limit enter --booth 'booth 1' --every check --value 24h --source 'site rule'")
        .good();
    at("2026-03-09 07:10")
        .run("duty set 'waste can emptied' --of 'booth 1' --every 24h --source 'site rule'")
        .good();
    at("2026-03-09 07:11")
        .run("duty done 'waste can emptied' --of 'booth 1'")
        .good();
    at("2026-03-09 07:12")
        .run("drum start W-3 --contents 'spent thinner'")
        .good();
    at("2026-03-09 07:13")
        .run("limit enter --drum W-3 --value 90d --source 'site rule'")
        .good();
    at("2026-03-09 07:14")
        .run("limit enter --of VOC --value 2kg --period month --warn 80% --source 'permit 12-34'")
        .good();
    let kinds = |t: &str| {
        let all = alerts(&world, t);
        texts(&all, "kind")
            .iter()
            .map(|k| (*k).to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(kinds("2026-03-09 08:00"), [""; 0]);
    assert_eq!(kinds("2026-03-10 07:12"), ["check overdue", "duty overdue"]);
    at("2026-03-10 07:20")
        .run("booth check 'booth 1' --gauge 0.52inwc")
        .good();
    at("2026-03-10 07:21")
        .run("duty done 'waste can emptied' --of 'booth 1'")
        .good();
    assert_eq!(kinds("2026-03-10 07:30"), ["filter mark"]);
    holds(
        &of_kind(&world, "2026-03-10 07:30", "filter mark")[0],
        &["AT ITS MARK", "0.52 in. w.c.", "mark 0.50 in. w.c."],
    );
    // The can stood full at 07:14, the drum's 90 days end on 7 June, and it is said 30 days before.
    at("2026-05-08 06:00")
        .run("booth check 'booth 1' --gauge 0.10inwc --new-filters")
        .good();
    at("2026-05-08 06:01")
        .run("duty done 'waste can emptied' --of 'booth 1'")
        .good();
    assert_eq!(kinds("2026-05-08 07:00"), ["drum"]);
    holds(
        &of_kind(&world, "2026-05-08 07:00", "drum")[0],
        &["drum W-3", "to leave by 2026-06-07"],
    );
    let over = of_kind(&world, "2026-06-08 07:00", "drum");
    holds(&over[0], &["OVER", "2026-06-07"]);
    // 3.2 L of M1 at 574.4 g/L are 1.838 kg of 2 kg: 91 %.
    world.piece("2026-05-08 06:10", "B-0101", "G9", "--hook 1");
    at("2026-05-08 06:20")
        .run("coat B-0101 --kind seal --mix 1 --amount 3.2L")
        .good();
    let limit = of_kind(&world, "2026-05-08 06:30", "limit");
    holds(
        &limit[0],
        &[
            "VOC: 91 % of the limit 2kg for the month reached, at most 0.16 kg left",
            "entered by MK",
        ],
    );
}

#[test]
fn a_pot_life_is_told_before_its_end_and_after_it() {
    let world = World::new();
    let desk = world.at("2026-03-09 07:00");
    for material in ["pur", "hdn"] {
        let file = sample(&format!("materials/{material}.toml"));
        desk.run(&format!("material adopt '{file}'")).good();
    }
    let recipe = sample("recipes/pu5.toml");
    desk.run(&format!("recipe adopt '{recipe}'")).good();
    desk.run("lot receive U-1 PUR 20L").good();
    desk.run("lot receive H-1 HDN 20L").good();
    world.piece("2026-03-09 07:10", "B-0101", "PU5", "--hook 1");
    let mix = world
        .at("2026-03-09 08:00")
        .json("mix make 'two cans' U-1=1L H-1=0.5L");
    assert_eq!(mix["mix"], 2);
    // 4 h by the recipe; M1 is no such mix and is not told of.
    assert_eq!(of_kind(&world, "2026-03-09 11:29", "pot life"), [""; 0]);
    assert_eq!(
        of_kind(&world, "2026-03-09 11:31", "pot life"),
        ["mix 2 two cans: pot life ends 12:00 EDT, 29 min left; 1.50 L in the pot by the log"]
    );
    assert_eq!(
        of_kind(&world, "2026-03-09 12:05", "pot life"),
        ["mix 2 two cans: pot life is over since 12:00 EDT; 1.50 L in the pot by the log"]
    );
    world
        .at("2026-03-09 12:10")
        .run("pot close 2 --left 1.5L")
        .good();
    assert_eq!(of_kind(&world, "2026-03-09 12:11", "pot life"), [""; 0]);
}

#[test]
fn the_watch_tells_what_is_written_while_it_runs_and_ends_in_order() {
    use std::io::{BufRead as _, BufReader};
    use std::process::Stdio;
    use std::time::Duration;

    let world = World::new();
    let (program, told) = teller(&world, "");
    world
        .at("2026-03-10 08:00")
        .run("duty set eyewash --of 'booth 1' --every 1d --source 'site rule'")
        .good();
    world
        .at("2026-03-10 08:01")
        .run("alert rule set all --for all --to 'person MK' --by command")
        .good();
    let mut command = world
        .at("2026-03-10 09:00")
        .process(&format!("watch --command '{}'", program.display()));
    command.stderr(Stdio::piped()).stdout(Stdio::null());
    let mut child = command.spawn().unwrap();
    let mut talk = BufReader::new(child.stderr.take().unwrap()).lines();
    let mut until = |wanted: &str| {
        let mut said = Vec::new();
        for line in talk.by_ref() {
            let line = line.unwrap();
            let found = line.contains(wanted);
            said.push(line);
            if found {
                return said;
            }
        }
        panic!("\"{wanted}\" was never said: {said:?}");
    };
    until("the watch has begun");
    // Another process writes: the watch finds it by itself.
    world.at("2026-03-10 09:00").run("handover give").good();
    let said = until("told MK by command");
    holds(said.last().unwrap(), &["handover of 09:00 by MK"]);
    assert_eq!(lines(&told)[0]["kind"], "hand-over");
    kill(child.id());
    until("the watch has ended in order");
    let mut left = 500;
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        left -= 1;
        assert!(left > 0, "it did not end");
        std::thread::sleep(Duration::from_millis(20));
    };
    assert!(status.success(), "{status}");
}

// Ends the one process that this test started, by its number.
fn kill(pid: u32) {
    let done = std::process::Command::new("kill")
        .arg(pid.to_string())
        .status();
    assert!(done.unwrap().success());
}

/// Runs a watch with a desktop rule under a bus address, and gives its answer.
fn desktop(world: &World, address: Option<&str>) -> Value {
    world
        .at("2026-03-10 11:31")
        .run("alert rule set desk --for ready --to 'person MK' --by desktop")
        .good();
    let mut command = world.at("2026-03-10 11:32").process("watch --once");
    if let Some(address) = address {
        command.env("DBUS_SESSION_BUS_ADDRESS", address);
    }
    let output = command.output().unwrap();
    assert!(output.status.success(), "{output:?}");
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn without_a_bus_the_notice_is_said_as_not_told_and_written_down() {
    for address in [None, Some("unix:path=/nowhere/bus"), Some("no address")] {
        let world = with_rack();
        let answer = desktop(&world, address);
        let fault = answer["sent"][0]["not_reached"].as_str();
        assert!(
            fault.is_some_and(|f| !f.is_empty()),
            "{address:?}: {answer}"
        );
        let all = alerts(&world, "2026-03-10 11:40");
        assert_eq!(all[0]["told"][1]["not_reached"].as_str(), fault);
    }
}

#[test]
fn a_bus_that_takes_the_call_and_never_answers_is_left_after_three_seconds() {
    use std::os::unix::net::UnixListener;
    let world = with_rack();
    world.rack("2026-03-06 07:00", "R9", 201, 2);
    world.bring_to("--rack R9", 2, "2026-03-10 10:00", "");
    let socket = world.home().join("bus");
    let listener = UnixListener::bind(&socket).unwrap();
    // It accepts and stays silent; the connections are held until the test ends.
    let held = std::thread::spawn(move || listener.accept().map(|(stream, _)| stream));
    let answer = desktop(&world, Some(&format!("unix:path={}", socket.display())));
    let sent = answer["sent"].as_array().unwrap();
    holds(
        sent[0]["not_reached"].as_str().unwrap(),
        &["did not answer within 3 s", "left alone"],
    );
    // The second rack's is not even tried, and so not written down as told: it waits for a start that finds a service.
    assert_eq!(sent.len(), 1);
    let all = alerts(&world, "2026-03-10 11:40");
    assert_eq!(all[1]["told"], json!([]));
    drop(held);
}

#[test]
fn the_unit_file_names_this_program_and_this_ledger() {
    let world = World::new();
    let (program, _) = teller(&world, "");
    let said = world
        .at("2026-03-10 08:00")
        .run(&format!("watch --unit --command '{}'", program.display()))
        .good()
        .out;
    holds(
        &said,
        &[
            "[Service]\nExecStart=\"",
            "shop.ledger\" --station \"desk\" --as \"MK\" watch --command \"",
            "[Install]\nWantedBy=default.target\n",
        ],
    );
}
