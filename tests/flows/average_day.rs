//! A room's average day beside the times that are a forecast.

use crate::world::{World, holds, sample};
use serde_json::Value;

/// Two bodies in their cure since 16 March, 08:00, one in the cure room with the sample's readings, one in a room without any.
fn in_cure() -> World {
    let world = World::new();
    world
        .at("2026-02-21 08:00")
        .run("room declare 'cure room' --every 15m")
        .good();
    world
        .at("2026-02-21 08:00")
        .run("room declare attic")
        .good();
    for (serial, room) in [
        ("B-0290", "--rack R8 --room 'cure room'"),
        ("B-0291", "--rack R9 --room attic"),
    ] {
        world.piece("2026-03-02 07:00", serial, "G9", room);
        world.bring_to(serial, 9, "2026-03-16 08:00", "");
    }
    let file = std::fs::read_to_string(sample("climate/cure.csv")).unwrap();
    world.readings("2026-03-24 06:45", "cure room", &file);
    world
}

#[test]
fn a_provisional_time_is_told_by_the_average_day_too_with_a_slow_and_a_fast_case() {
    let world = in_cure();
    let at = "2026-03-24 06:45";
    let card = world.at(at).json("piece show B-0290");
    // 336 h from 16 March 08:00, all of them warm.
    assert_eq!(card["ready_at"], "2026-03-30T08:00:00.000-04:00");
    assert_eq!(card["provisional"], true);
    let day = &card["average_day"];
    assert_eq!(day["whole_days"], 14, "{day}");
    assert_eq!(day["ready_at"], "2026-03-30T08:00:00.000-04:00");
    assert_eq!(day["fast"], "2026-03-30T08:00:00.000-04:00");
    // The slow tenth of 14 days is the second slowest: 12 March, which lost 2.5 h from 21:00 on. Seven such evenings lie ahead.
    assert_eq!(day["slow"], "2026-03-31T01:30:00.000-04:00");
    let lines = world.at(at).run("piece show B-0290").good().out;
    holds(
        &lines,
        &[
            "Mon 08:00 in 6 d 02 h",
            "(provisional)",
            "by the average day of cure room Mon 08:00, slow case Tue 31 Mar 01:30",
            "fast case Mon 08:00 (14 whole days); the whole days of the last four weeks",
            "(common practice, no source)",
        ],
    );
    let ready = world.at(at).run("ready --for final-sand").good().out;
    holds(
        &ready,
        &[
            "by the average day of cure room Mon 08:00, slow case",
            "average day: the whole days",
        ],
    );
    // It makes no ready: that is what the declared rate tells, before and after.
    let floor = world.at(at).json("floor");
    assert_eq!(floor[0]["ready_at"], card["ready_at"]);
    let reached = world.at("2026-03-30 08:00").json("piece show B-0290");
    assert_eq!(reached["average_day"], Value::Null, "{reached}");
    // No reading, no day.
    let attic = world.at(at).json("piece show B-0291");
    assert_eq!(attic["average_day"], Value::Null);
}

#[test]
fn few_whole_days_are_no_pattern_and_that_is_said() {
    let world_of = |from: &str| {
        let world = World::new();
        world
            .at("2026-02-21 08:00")
            .run("room declare 'cure room' --every 15m")
            .good();
        world.piece(
            "2026-03-02 07:00",
            "B-0290",
            "G9",
            "--rack R8 --room 'cure room'",
        );
        world.bring_to("B-0290", 9, "2026-03-16 08:00", "");
        let file = std::fs::read_to_string(sample("climate/cure.csv")).unwrap();
        let kept = file.lines().filter(|l| l.starts_with("time") || *l >= from);
        let file: Vec<&str> = kept.collect();
        world.readings("2026-03-24 06:45", "cure room", &(file.join("\n") + "\n"));
        world
    };
    let few = world_of("2026-03-20 00:00");
    let card = few.at("2026-03-24 06:45").json("piece show B-0290");
    assert_eq!(
        card["average_day"]["enough"], false,
        "{}",
        card["average_day"]
    );
    assert_eq!(card["average_day"]["slow"], Value::Null);
    holds(
        &few.at("2026-03-24 06:45")
            .run("piece show B-0290")
            .good()
            .out,
        &["no average day of cure room: 4 whole days of readings in four weeks, 5 are needed"],
    );
    let enough = world_of("2026-03-19 00:00");
    let card = enough.at("2026-03-24 06:45").json("piece show B-0290");
    assert_eq!(card["average_day"]["whole_days"], 5);
    assert_eq!(card["average_day"]["enough"], true);
}
