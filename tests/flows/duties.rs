//! What comes round, incidents and contacts, through the built program.

use crate::world::{World, holds};
use serde_json::Value;

fn duties(world: &World, at: &str) -> (Value, i32) {
    let answer = world.at(at).run("duty --json");
    (serde_json::from_str(&answer.out).unwrap(), answer.code)
}

#[test]
fn s58_a_fit_test_is_overdue_after_a_year_and_locks_nothing() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("duty set 'respirator fit test' --of MK --every 365d --source 'site programme'")
        .good();
    desk.run("duty done 'respirator fit test' --of MK --done '2025-05-12 10:00'")
        .good();
    let (list, code) = duties(&world, "2026-03-10 09:00");
    assert_eq!((list[0]["state"].as_str(), code), (Some("later"), 0));
    let (list, code) = duties(&world, "2026-05-13 08:00");
    assert_eq!((list[0]["state"].as_str(), code), (Some("overdue"), 1));
    holds(
        &world.at("2026-05-13 08:00").run("duty").out,
        &[
            "OVERDUE since",
            "respirator fit test of MK",
            "source: site programme",
        ],
    );
    // No lock: the same person logs a coat.
    world.piece("2026-05-13 08:05", "B-0101", "G9", "--hook 1");
    world
        .at("2026-05-13 08:10")
        .run("coat B-0101 --kind seal")
        .good();
    // Done late, it stays missed.
    world
        .at("2026-05-20 08:00")
        .run("duty done 'respirator fit test' --of MK")
        .good();
    let (list, code) = duties(&world, "2026-05-20 09:00");
    assert_eq!((list[0]["state"].as_str(), code), (Some("later"), 0));
    assert_eq!(list[0]["missed"].as_array().unwrap().len(), 1);
}

#[test]
fn s58_cartridge_hours_are_logged_and_the_words_never_say_that_it_is_good() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("duty set cartridge --of MK --in-use 8h --source 'site schedule'")
        .good();
    desk.run("duty done cartridge --of MK").good();
    desk.run("duty used cartridge --of MK 7.5h").good();
    let text = desk.run("duty").good().out;
    holds(&text, &["soon", "7 h 30 min in use, change due at 8 h"]);
    assert!(!text.contains("good"), "{text}");
    desk.run("duty used cartridge --of MK 0.5h").good();
    let answer = desk.run("duty");
    assert_eq!(answer.code, 1);
    holds(&answer.out, &["OVERDUE: 8 h of 8 h in use"]);
    desk.run("undo").good();
    holds(&desk.run("duty").good().out, &["7 h 30 min in use"]);
    holds(
        &desk.run("duty used cartridge --of DP 1h").refused(2),
        &["cartridge of DP is not on the list", "cartridge of MK"],
    );
}

#[test]
fn what_was_never_done_is_unknown_and_a_question_that_is_not_asked_is_refused() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run(
        "duty set eyewash --of 'booth 1' --every 7d --ask 'runs for 15 min' --source 'site rule'",
    )
    .good();
    let (list, code) = duties(&world, "2026-03-10 08:01");
    assert_eq!((list[0]["state"].as_str(), code), (Some("unknown"), 1));
    let refused = desk
        .run("duty done eyewash --of 'booth 1' --found 'warm=yes'")
        .refused(2);
    holds(
        &refused,
        &["\"warm\" is not asked at eyewash", "runs for 15 min"],
    );
    desk.run("duty done eyewash --of 'booth 1' --found 'runs for 15 min=yes'")
        .good();
    let (list, _) = duties(&world, "2026-03-10 08:02");
    assert_eq!(list[0]["newest"]["answers"][0]["found"], "yes");
    desk.run("duty end eyewash --of 'booth 1' --why 'plumbed anew'")
        .good();
    let (list, _) = duties(&world, "2026-03-10 08:03");
    assert_eq!(list, serde_json::json!([]));
}

#[test]
fn an_incident_stays_open_until_somebody_closes_it() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    let entry = desk.json(
        "incident report spill '1 L thinner on the floor' --place 'mixing bench' --follow-up 2026-03-17",
    )["entry"]
        .clone();
    let late = world.at("2026-03-18 08:00").run("incident");
    assert_eq!(late.code, 1);
    holds(
        &late.out,
        &["spill at mixing bench", "OVERDUE since 2026-03-17"],
    );
    world
        .at("2026-03-18 09:00")
        .run(&format!("incident follow {entry} 'tray put under' --close"))
        .good();
    let done = world.at("2026-03-18 10:00").run("incident").good().out;
    holds(&done, &["closed", "tray put under"]);
    holds(
        &desk.run("incident follow 1 x").refused(2),
        &["entry 1 tells of no incident"],
    );
    desk.run("contact set 'safety lead' 'SL, ext. 12'").good();
    holds(
        &desk.run("contact").good().out,
        &["safety lead", "SL, ext. 12"],
    );
    desk.run("room air 'booth 1' --flow 7750cfm --source 'survey of 2 March'")
        .good();
    assert_eq!(
        world.now().json("verify")["differences"],
        serde_json::json!([])
    );
}
