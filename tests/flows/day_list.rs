//! The day's list: what can be done by when, and what stands in the way.

use crate::world::{World, holds};
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
        "ready 11:00; 23 of 24 at 09:10; blocked by B-0733"
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
