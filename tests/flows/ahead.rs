//! What lies ahead: recipes played through, forecasts against due dates, pairs that cannot meet.

use crate::world::{SOLVENT_MODEL, World, holds, moment, rules, run, sample, split, texts};
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
    // A top of its own with a thinner band, back and sides three days later, mated once.
    desk.run(&format!("recipe adopt '{}'", sample("recipes/rx9.toml")))
        .good();
    let page = desk.run("recipe rehearse RX9").good().out;
    holds(
        &page,
        &[
            "  08:00  wash 1 of 1 (back, sides)",
            "    cure 336 h until Wed 18 Mar 11:00\n",
            "    cure 336 h until Tue 24 Mar 10:00\n",
            "film of top 68 um at the end: in the band 50 um to 80 um",
            "film of back 111 um at the end: in the band 75 um to 130 um",
        ],
    );
    assert_eq!(page.matches("  mate ").count(), 1);
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

// A body that is cured on Tue 12 May at 09:00, and its neck, which went through to the inspection and is in rework since
// Mon 11 May at 16:00, when the hours of that day are over.
pub fn a_pair_that_cannot_meet() -> World {
    let world = World::new();
    world
        .at("2026-02-21 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    world.piece(
        "2026-04-01 07:00",
        "B-0045",
        "G9",
        "--room 'cure room' --due 2026-05-15 --pair N-0045",
    );
    world.piece(
        "2026-04-01 07:00",
        "N-0045",
        "N8",
        "--room 'cure room' --due 2026-05-20 --pair B-0045",
    );
    world.bring_to("N-0045", 6, "2026-04-20 10:00", "");
    world.bring_to("B-0045", 9, "2026-04-28 09:00", "");
    let mut rows = String::from("time,temperature\n");
    let start = moment("2026-04-20 09:00");
    for quarter in 0..4 * 24 * 22 {
        let at = start + chrono::TimeDelta::minutes(15 * quarter);
        rows.push_str(&format!("{},22.0\n", at.format("%Y-%m-%d %H:%M")));
    }
    world.readings("2026-05-12 09:00", "cure room", &rows);
    for (at, deed) in [
        ("2026-05-04 10:00", "sand N-0045 --kind final-sand"),
        ("2026-05-04 11:00", "done buff N-0045"),
        ("2026-05-04 11:30", "done buff N-0045"),
        ("2026-05-04 12:00", "done buff N-0045"),
        ("2026-05-04 13:00", "done unmask N-0045"),
        (
            "2026-05-11 16:00",
            "rework N-0045 RW3 --why 'burnt through at the heel'",
        ),
    ] {
        world.at(at).run(deed).good();
    }
    world
}

#[test]
fn a_pair_that_cannot_meet_names_the_half_that_holds_the_other_back() {
    let world = a_pair_that_cannot_meet();
    let desk = world.at("2026-05-11 16:30");
    let found = desk.json("at-risk");
    assert_eq!(found["looked_at"], 1);
    assert_eq!(found["hours"], "07:00 to 15:30, Mon to Fri");
    assert_eq!(found["hours_from"], "common practice, no source");
    let pair = &found["pairs"][0];
    assert_eq!(pair["due"], "2026-05-15");
    // The body's cure is reached on Tue 12 May; the neck's three coats that day, and 168 h after the last of them.
    assert_eq!(pair["halves"][0]["serial"], "B-0045");
    assert_eq!(pair["halves"][0]["there"], "2026-05-12T09:00:00.000-04:00");
    assert_eq!(pair["halves"][1]["serial"], "N-0045");
    assert_eq!(pair["halves"][1]["rework"], "RW3");
    assert_eq!(pair["halves"][1]["there"], "2026-05-19T10:00:00.000-04:00");
    assert_eq!(pair["meet"], "2026-05-19T10:00:00.000-04:00");
    assert_eq!(pair["days_late"], 4);
    assert_eq!(
        pair["constraint"],
        json!({"serial": "N-0045", "kind": "neck"})
    );
    let page = desk.run("at-risk").good().out;
    holds(
        &page,
        &[
            "1 of 1 pairs with a due date at risk at Mon 11 May 16:30, working 07:00 to 15:30, Mon to Fri (common practice, no source)",
            "a forecast by each half's recipe",
            "B-0045 + N-0045  due Fri 15 May: 4 days late, constraint neck",
            "  body       B-0045    there Tue 12 May 09:00",
            "  neck       N-0045    there Tue 19 May 10:00, next RW3 clear 1 of 3",
        ],
    );

    // Longer hours: the neck's first coat on Monday evening, ready a day sooner.
    let longer = desk.json("at-risk --hours 07:00-22:00");
    assert_eq!(longer["hours_from"], "given");
    assert_eq!(longer["pairs"][0]["days_late"], 3);
    assert_eq!(longer["pairs"][0]["meet"], "2026-05-18T19:30:00.000-04:00");

    // What nobody can time is named and not left out.
    world
        .at("2026-05-11 17:00")
        .run("hold N-0045 --why 'heel checked again'")
        .good();
    let held = world.at("2026-05-11 17:01").json("at-risk");
    assert_eq!(held["pairs"][0]["days_late"], json!(null));
    assert_eq!(
        held["pairs"][0]["halves"][1]["cannot_be_told"],
        "on hold: heel checked again"
    );
    assert_eq!(held["pairs"][0]["constraint"]["kind"], "neck");
}

#[test]
fn a_piece_is_behind_when_the_rest_of_its_recipe_misses_the_due_date() {
    let world = World::new();
    // New on Mon 2 Mar: by its recipe it ends on Wed 18 Mar, whatever its first step is ready for.
    for (serial, due) in [("B-0501", "2026-03-17"), ("B-0502", "2026-03-18")] {
        world.piece("2026-03-02 08:00", serial, "G9", &format!("--due {due}"));
    }
    world.piece("2026-03-02 08:00", "B-0503", "G9", "");
    let desk = world.at("2026-03-02 08:00");
    let behind = |serial: &str| {
        let card = desk.json(&format!("piece show {serial}"));
        (card["behind"].clone(), card["forecast_end"].clone())
    };
    let end = json!("2026-03-18T11:00:00.000-04:00");
    assert_eq!(behind("B-0501"), (json!(true), end.clone()));
    assert_eq!(behind("B-0502"), (json!(false), end));
    assert_eq!(behind("B-0503"), (json!(false), json!(null)));
    holds(
        &desk.run("piece show B-0501").good().out,
        &[
            "behind: forecast to end Wed 18 Mar 11:00, due Tue 17 Mar (working 07:00 to 15:30, Mon to Fri: common practice, no source)",
        ],
    );
    // A day later and nothing done: the same piece slips by as much.
    let late = world.at("2026-03-03 08:00").json("piece show B-0502");
    assert_eq!(late["behind"], true);
    assert_eq!(late["forecast_end"], "2026-03-19T11:00:00.000-04:00");
    assert_eq!(world.now().run("verify").code, 0);
}

// One set of three coats and a cure: a schedule that the worksheet can be given in the same words.
const THREE_COATS: &str = r#"
[recipe]
code = "T3"
revision = 1
name = "Three coats"
finish = "solvent release"
kinds = ["body"]
[film]
low = "20 um"
high = "90 um"
[[step]]
name = "clear"
kind = "clear"
coats = 3
between = "90 min"
film = "15 um"
solids = "12.5 %"
[[step]]
name = "cure"
kind = "cure"
hours = "336 h"
[[step]]
name = "final sand"
kind = "final-sand"
removes = "5 um"
"#;

#[test]
fn a_film_half_as_thick_again_is_held_back_by_the_worksheets_figure() {
    let world = World::new();
    world
        .at("2026-02-21 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    world.readings(
        "2026-04-06 07:00",
        "cure room",
        "time,temperature\n2026-04-06 06:45,22.0\n2026-04-06 07:00,22.0\n",
    );
    let credit = std::fs::read_to_string(sample("recipes/g9.toml")).unwrap();
    let credit = credit.split("[cure_credit]").nth(1).unwrap();
    let credit = credit.split("[[rework]]").next().unwrap();
    let text = format!("{THREE_COATS}{SOLVENT_MODEL}[cure_credit]{credit}");
    let file = world.file("t3.toml", &text);
    world
        .at("2026-02-21 08:00")
        .run(&format!("recipe adopt '{}'", file.display()))
        .good();
    // 120 um wet at 12.5 % are the recipe's 15 um; 180 um wet are 22.5 um.
    for (serial, wet) in [("B-0701", "120um"), ("B-0702", "180um")] {
        world.piece(
            "2026-04-06 07:00",
            serial,
            "T3",
            "--room 'cure room' --due 2026-04-25",
        );
        for at in ["2026-04-06 08:00", "2026-04-06 09:30", "2026-04-06 11:00"] {
            let saved = world
                .at(at)
                .json(&format!("coat {serial} --mix 1 --amount 48mL --wet {wet}"));
            assert_eq!(saved["deviations"], json!([]), "{at}");
        }
    }
    let words = split(
        "--json work solvent-left coat=[22.5um,22.5um,22.5um] coat-at=[0h,1.5h,3h] nominal-film=15um nominal-coats=3 \
         nominal-a-day=3 nominal-gap=1.5h nominal-sand=0um cure-hours=336h left=10% burn-in=15um temperature=21C \
         temperature-from=0h at=339h",
    );
    let sheet = run(world.home(), &words).json();
    // 336 h x 1.5 x 1.5.
    let hours = sheet["result"]["value"].as_f64().unwrap();
    assert!((hours - 756.0).abs() < 1e-6, "{hours}");
    let left = sheet["also"]
        .as_array()
        .unwrap()
        .iter()
        .find(|a| a["name"] == "solvent left then, mean")
        .unwrap()["value"]
        .as_f64()
        .unwrap();

    let desk = world.at("2026-04-06 12:00");
    let own = desk.json("piece show B-0701");
    assert_eq!(own["ready_at"], "2026-04-20T11:00:00.000-04:00");
    assert_eq!(own["reasons"].as_array().unwrap().len(), 1);
    assert_eq!(own["behind"], false);
    let thick = desk.json("piece show B-0702");
    let reason = &thick["reasons"][0];
    assert_eq!(reason["rule"], "solvent");
    assert_eq!(reason["provisional"], true);
    holds(
        reason["text"].as_str().unwrap(),
        &[
            &format!(
                "solvent: {left:.1} % left at the recipe time, recipe's own 10.0 %: recipe time + 420 h, an estimate"
            ),
            "Thu 7 May 23:00",
        ],
    );
    // 756 h after Mon 6 Apr 11:00; by the working hours of the forecast the next morning.
    assert_eq!(thick["ready_at"], "2026-05-07T23:00:00.000-04:00");
    assert_eq!(thick["forecast_end"], "2026-05-08T07:00:00.000-04:00");
    assert_eq!(thick["behind"], true);
    holds(
        &desk.run("working ready B-0702").good().out,
        &["it binds: solvent: until 2026-05-07 23:00:00 EDT, provisional (solvent: "],
    );
    // It is said before the sanding, and marks nothing after it: an estimate is no rule of the recipe.
    let plan = world
        .at("2026-04-20 11:00")
        .json("sand B-0702 --kind final-sand --preview");
    assert_eq!(rules(&plan["pieces"][0]["objections"]), ["solvent"]);
    let sanded = world
        .at("2026-04-20 11:00")
        .json("sand B-0702 --kind final-sand");
    assert_eq!(sanded["deviations"], json!([]));
    // The recipe's own hours are still said, and nothing of the estimate is kept.
    assert_eq!(thick["reasons"][1]["rule"], "cure");
    let saved = world
        .at("2026-04-20 11:00")
        .json("sand B-0701 --kind final-sand");
    assert_eq!(saved["deviations"], json!([]));
    assert_eq!(world.now().run("verify").code, 0);
}
