//! The day's list: what can be done by when, and what stands in the way.

use crate::world::{World, holds, sample};
use serde_json::{Value, json};

fn counts(list: &Value, work: &str) -> Value {
    let all = list["counts"].as_array().unwrap();
    let c = all.iter().find(|c| c["work"] == work).unwrap();
    json!([c["ready_now"], c["ready_by"][0], c["ready_by"][1], c["all"]])
}

#[test]
fn the_days_list_counts_what_can_be_done_by_noon_and_names_the_piece_that_blocks_a_rack() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R20", 710, 24);
    world.bring_to("--rack R20", 2, "2026-03-10 19:30", "");
    world
        .at("2026-03-10 21:10")
        .run("coat --rack R20 --skip B-0733")
        .good();
    world.at("2026-03-10 23:00").run("coat B-0733").good();

    let early = world.at("2026-03-11 06:45");
    let list = early.json("shift");
    assert_eq!(
        list["by"],
        json!([
            "2026-03-11T12:00:00.000-04:00",
            "2026-03-11T15:30:00.000-04:00"
        ])
    );
    assert_eq!(list["hours_from"], "common practice, no source");
    assert_eq!(counts(&list, "level-sand"), json!([0, 24, 24, 24]));
    assert_eq!(counts(&list, "coat"), json!([0, 0, 0, 0]));
    let row = &list["work"][0];
    assert_eq!(
        row["text"],
        "from 11:00; 23 of 24 from 09:10; blocked by B-0733"
    );
    assert_eq!(row["blocked_by"], json!(["B-0733"]));
    // The list and the question about one work say the same.
    let ready = early.json("ready");
    assert_eq!(
        ready["racks"][0]["line"],
        format!("R20 {}", row["text"].as_str().unwrap())
    );
    let at_ten = world.at("2026-03-11 10:00").json("shift");
    assert_eq!(counts(&at_ten, "level-sand"), json!([23, 24, 24, 24]));

    // Hours that are given move the two moments; noon is no part of a late shift.
    let late = early.json("shift --hours 14:00-22:00");
    assert_eq!(late["hours_from"], "given");
    assert_eq!(
        late["by"],
        json!([
            "2026-03-11T22:00:00.000-04:00",
            "2026-03-12T22:00:00.000-04:00"
        ])
    );

    // Split off, the piece blocks nothing; on hold it is counted by no moment.
    world
        .at("2026-03-11 06:50")
        .run("rack split R20 --pieces B-0733 --to R20B")
        .good();
    world
        .at("2026-03-11 06:55")
        .run("hold B-0733 --why 'dent at the edge'")
        .good();
    world
        .at("2026-03-11 07:00")
        .run("begin --rack R20 --hooks 1-4 level-sand")
        .good();
    let page = world.at("2026-03-11 07:05").run("shift").good().out;
    holds(
        &page,
        &[
            "The day's list at Wed 11 Mar 07:05, working 07:00 to 15:30, Mon to Fri (common practice, no source)",
            "ready: recipe time reached, check by hand",
            "level-sand       0        19        19      24\n",
            "in work 4, unknown 0\n",
            "held: 1 (on hold)\n  [ ] B-0733  R20B hook 24   dent at the edge\n",
            "  [ ] R20  begun  in work  level-sand begun 07:00 by MK, not ended, hooks 1-4 (4 pieces)\n",
            "booth 1  24 hang there   no hooks entered\n",
        ],
    );
}

#[test]
fn the_hooks_of_a_room_stand_beside_what_hangs_there() {
    let world = World::new();
    world
        .at("2026-03-05 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    world.rack("2026-03-06 07:00", "R12", 201, 24);
    let desk = world.at("2026-03-06 08:00");
    desk.run("move --rack R12 --room 'cure room'").good();
    let room = |list: &Value| {
        let rooms = list["rooms"].as_array().unwrap();
        rooms
            .iter()
            .find(|r| r["name"] == "cure room")
            .unwrap()
            .clone()
    };
    let desk = world.at("2026-03-06 09:00");
    let before = room(&desk.json("shift"));
    assert_eq!(before["lead"][1], "24 hang there");
    assert_eq!(before["text"], "no hooks entered");
    let said = desk
        .run("room hooks 'cure rom' 320 --source counted")
        .refused(2);
    holds(&said, &["room \"cure rom\" is not known", "cure room"]);
    desk.run("room hooks 'cure room' 26 --source counted")
        .good();
    let two = room(&desk.json("shift"));
    assert_eq!(two["lead"][1], "24 of 26 hooks");
    assert_eq!(two["text"], "2 hooks empty");
    // What is entered later counts from then on, and fewer hooks than pieces are said to be short.
    let later = world.at("2026-03-07 08:00");
    later
        .run("room hooks 'cure room' 18 --source 'one rail down'")
        .good();
    assert_eq!(room(&later.json("shift"))["text"], "short by 6");
    assert_eq!(room(&desk.json("shift"))["text"], "2 hooks empty");
    assert_eq!(world.now().json("verify")["differences"], json!([]));
}

#[test]
fn a_piece_that_stands_ready_for_longer_than_its_step_allows_has_queued_too_long() {
    let world = World::new();
    let g9 = std::fs::read_to_string(sample("recipes/g9.toml")).unwrap();
    let text = g9.replacen("code = \"G9\"", "code = \"Q9\"", 1).replacen(
        "name = \"level sand 1\"",
        "name = \"level sand 1\"\nqueue = \"24 h\"",
        1,
    );
    let file = world.file("q9.toml", &text);
    world
        .at("2026-03-05 08:00")
        .run(&format!("recipe adopt '{}'", file.display()))
        .good();
    world.piece("2026-03-06 07:00", "B-0801", "Q9", "");
    world.bring_to("B-0801", 3, "2026-03-10 12:00", "");
    // Ready to sand 12 h after the last coat, at 00:00 of the 11th; the recipe lets it stand for 24 h.
    let one = |at: &str| world.at(at).json("floor")[0].clone();
    let in_time = one("2026-03-12 00:00");
    assert_eq!(in_time["next"], "level sand 1");
    assert_eq!(in_time["ready_at"], "2026-03-11T00:00:00.000-04:00");
    assert_eq!(in_time["queued_too_long"], false);
    assert_eq!(one("2026-03-12 00:01")["queued_too_long"], true);
    let desk = world.at("2026-03-12 06:00");
    let late = desk.json("shift")["late"].clone();
    assert_eq!(
        late[0]["text"],
        "queued too long: ready for 1 d 06 h, the recipe says 1 d 00 h at most"
    );
    holds(
        &desk.run("piece show B-0801").good().out,
        &["queued too long: ready for 1 d 06 h"],
    );
    holds(&desk.run("floor").good().out, &["queued too long"]);
    // What is on hold waits for somebody's word and is in no queue.
    desk.run("hold B-0801 --why 'dent in the top'").good();
    assert_eq!(one("2026-03-12 06:01")["queued_too_long"], false);
    holds(
        &desk.run("recipe show Q9").good().out,
        &["ready for 1 d 00 h at most"],
    );
}
