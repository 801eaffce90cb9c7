//! The page of a shift's end.

use crate::world::{World, holds, texts};
use serde_json::{Value, json};

/// The shop of the story at 14:30.
fn half_past_two() -> World {
    let world = World::new();
    let day = |time: &str| format!("2026-03-10 {time}");
    let run = |time: &str, words: &str| world.at(&day(time)).run(words).good();
    world.rack("2026-03-05 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 4, "2026-03-10 12:20", "");
    world.rack("2026-03-06 07:00", "R8", 101, 24);
    world.bring_to("--rack R8", 1, "2026-03-10 12:00", "");
    world
        .at("2026-03-09 06:30")
        .run("booth check 'booth 1' --gauge 0.10inwc --new-filters")
        .good();
    world
        .at("2026-03-09 06:31")
        .run("limit enter --booth 'booth 1' --filter-rise --value 0.40inwc --source 'filter paper'")
        .good();
    world
        .at("2026-03-09 06:32")
        .run("duty set 'waste can emptied' --of 'booth 1' --every 24h --source 'site rule'")
        .good();
    world
        .at("2026-03-09 13:00")
        .run("duty done 'waste can emptied' --of 'booth 1'")
        .good();
    run("06:30", "booth check 'booth 1' --gauge 0.44inwc");
    // M1 of the day, 2.216 L: 17 bodies take 48 mL each, 1.4 L are left.
    run("12:05", "pot close 1 --left 4L");
    run("13:35", "coat --rack R8 --kind clear");
    let mix = world
        .at(&day("13:50"))
        .json("mix make M1 L-221=1.66L T-9=0.556L");
    assert_eq!(mix["mix"], 2);
    run(
        "14:05",
        "coat --rack R12 --hooks 1-17 --coat 5 --mix 2 --amount 816mL",
    );
    run("14:10", "hold B-0203 --why 'dent in the top'");
    run("14:11", "hold B-0205 --why 'run on the side'");
    // Half an hour early: a deviation that awaits a word.
    world.piece("2026-03-09 07:00", "B-0301", "G9", "--hook 1");
    world
        .at("2026-03-09 08:00")
        .run("done receive B-0301")
        .good();
    world.at("2026-03-09 08:05").run("done mask B-0301").good();
    run("13:40", "coat B-0301 --kind seal");
    run("14:10", "coat B-0301 --kind seal --another --reason 1");
    world
}

#[test]
fn s48_hand_over_at_half_past_two_is_open_until_the_receiver_takes_it_by_name() {
    let world = half_past_two();
    let text = world.at("2026-03-10 14:30").run("handover").good().out;
    holds(
        &text,
        &[
            "R8: clear 2 wet since 13:35, 24 pieces; next clear 3 of 9 from 15:05 in 35 min",
            "mix 2 M1: opened 13:50, 40 min old, 1.40 L of 2.22 L left by the log",
            "booth 1: filter gauge, last 06:30, 0.44 in. w.c., clean 0.10 in. w.c., mark 0.50 in. w.c.",
            "waste can emptied of booth 1: OVERDUE since 13:00",
            "mixed: 17 at 5, 7 at 4",
            "clear 5 of 9: hooks 1-17",
            "on hold: 2\n",
            "deviations not answered yet: 1\n",
            "handovers that nobody took: none",
            "\nhead: action ",
            "This log does not.",
        ],
    );
    let page = world.at("2026-03-10 14:30").json("handover");
    let count = |key: &str| page[key].as_array().unwrap().len();
    assert_eq!(
        (count("held"), count("deviations"), count("pots")),
        (2, 1, 1)
    );
    let head = page["head"]["action"].as_i64().unwrap();

    // Given and kept as it was printed.
    let given = world.at("2026-03-10 14:30").json("handover give");
    let entry = given["entry"].as_i64().unwrap();
    assert_eq!(given["head"]["action"], head);
    let open = |at: &str| {
        let list = world.at(at).json("handover list");
        list[0]["open"].as_bool().unwrap()
    };
    assert!(open("2026-03-10 14:31"));
    let again = world.at("2026-03-10 14:40").run("handover").good().out;
    holds(
        &again,
        &[&format!(
            "entry {entry}, given 14:30 by MK, up to action {head}; OPEN"
        )],
    );
    // It is told of until somebody takes it, and who gave it cannot.
    let alert = world.at("2026-03-10 14:41").run("alert --json");
    let alerts: Value = serde_json::from_str(&alert.out).unwrap();
    assert!(texts(&alerts["alerts"], "kind").contains(&"hand-over"));
    holds(
        &world.at("2026-03-10 14:41").run("handover take").refused(2),
        &["MK gave it", "whoever comes next"],
    );
    let dp = world.at("2026-03-10 14:45").person("DP");
    assert_eq!(dp.json("handover take")["given"], entry);
    assert!(!open("2026-03-10 14:46"));
    assert!(open("2026-03-10 14:44"), "it was open then");
    let show = world.at("2026-03-10 15:00").run("handover show").good().out;
    holds(
        &show,
        &["next clear 3 of 9 from 15:05", "taken 14:45 by DP"],
    );
    holds(
        &dp.run("handover take").refused(2),
        &["no handover is open"],
    );
    holds(
        &dp.run(&format!("handover take {entry}")).refused(2),
        &["DP took it already"],
    );
    holds(
        &dp.run("handover take 1").refused(2),
        &["entry 1 gives no handover"],
    );
    let kept = world.at("2026-03-10 15:00").json("handover show");
    assert!(kept["text"].as_str().unwrap().contains("1.40 L of 2.22 L"));
    assert_eq!(world.now().json("verify")["differences"], json!([]));
}

#[test]
fn an_empty_shop_says_what_is_not_recorded_and_clears_nobody() {
    let world = World::empty();
    world
        .at("2026-03-10 06:00")
        .run("open --name 'Bench and hook' --zone America/New_York --demo")
        .good();
    let text = world.at("2026-03-10 14:30").run("handover").good().out;
    holds(
        &text,
        &[
            "no pot of the last seven days is open",
            "booths: no booth is known",
            "as far as it is logged",
            "no incident is recorded as open",
        ],
    );
}
