//! What lies ahead: recipes played through, forecasts against due dates, pairs that cannot meet.

use crate::world::{World, holds, run, sample, split, texts};
use serde_json::json;

#[test]
fn a_recipe_is_rehearsed_as_the_calendar_to_expect() {
    let world = World::new();
    let desk = world.at("2026-03-02 08:00");
    let life = desk.json("recipe rehearse G9");
    assert_eq!(life["revision"], 3);
    assert_eq!(life["hours"], "07:00 to 15:30, Mon to Fri");
    assert_eq!(life["hours_from"], "common practice, no source");
    assert_eq!(
        life["totals"],
        json!({
            "working_days": 4, "calendar_days": 17, "coats": 11, "level_sands": 2,
            "end": "2026-03-18T11:00:00.000-04:00",
        })
    );
    assert_eq!(life["film"]["before_final_sand"], 131.0);
    assert_eq!(life["film"]["finished"], 111.0);
    assert_eq!(life["film"]["surfaces"][0]["band"], "in");
    assert_eq!(
        texts(&life["waits"], "text"),
        [
            "overnight",
            "overnight",
            "cure 336 h until Wed 18 Mar 11:00"
        ]
    );
    assert_eq!(
        life["reworks"],
        json!([{
            "rework": "RW3", "working_days": 3, "calendar_days": 8, "coats": 3,
            "end": "2026-03-09T12:00:00.000-04:00",
        }])
    );

    let page = desk.run("recipe rehearse G9").good().out;
    holds(
        &page,
        &[
            "begun Mon 2 Mar 08:00, working 07:00 to 15:30, Mon to Fri (common practice, no source)",
            "Tue 3 Mar 2026\n  07:00  level sand 1                     53 um  from 01:00, 12 h after the last wet coat",
            "    cure 336 h until Wed 18 Mar 11:00\n",
            "4 working days, 17 calendar days, 11 coats\n",
            "film 131 um before the final sand, 111 um at the end: in the band 75 um to 130 um\n",
            "rework RW3 begun then: 3 working days, 8 calendar days, 3 coats, ends Mon 9 Mar 12:00 EDT\n",
        ],
    );
}

#[test]
fn a_rehearsal_goes_by_the_hours_that_are_given() {
    let world = World::new();
    let desk = world.at("2026-03-02 08:00");
    // Mondays to Thursdays: the third set falls on the next Monday.
    let life = desk
        .json("recipe rehearse P9 --days mon-thu --hours 06:30-17:00 --start '2026-03-02 06:30'");
    assert_eq!(life["hours_from"], "given");
    assert_eq!(life["visits"][3]["at"], "2026-03-05T06:30:00.000-05:00");
    holds(
        &texts(&life["waits"], "text").join("\n"),
        &[
            "until Thu 5 Mar 06:30: 72 h after the last coat",
            "open from Thu 5 Mar 23:30",
            "no working hours until Mon 9 Mar 06:30 EDT",
        ],
    );
    let rework = desk.json("recipe rehearse N8 --rework RW3");
    assert_eq!(rework["film"]["before_final_sand"], 111.0); // 78 + 3 x 15 - 12
    assert_eq!(rework["film"]["finished"], 91.0);
    assert_eq!(rework["visits"][0]["rework"], "RW3");
    holds(
        &desk.run("recipe rehearse G9 --days someday").refused(2),
        &["mon, tue", "mon-fri"],
    );
    holds(
        &desk
            .run("recipe rehearse G9 --hours 15:30-07:00")
            .refused(2),
        &["07:00-15:30"],
    );
    holds(
        &desk.run("recipe rehearse G7").refused(2),
        &["neither a file nor adopted"],
    );
    holds(
        &desk.run("recipe rehearse G9 --rework RW1").refused(2),
        &["G9 rev 3 has no rework \"RW1\"; it has RW3"],
    );
}

#[test]
fn a_recipe_file_is_rehearsed_before_there_is_any_ledger() {
    let world = World::empty();
    let words = split(&format!(
        "recipe rehearse '{}' --start '2026-03-02 08:00'",
        sample("recipes/n8.toml")
    ));
    let page = run(world.home(), &words).good().out;
    holds(
        &page,
        &[
            "N8 rev 1  Neck",
            "78 um at the end",
            "cure 336 h until Tue 17 Mar 10:00",
            "times in UTC",
        ],
    );
}
