//! The life of two instruments from receiving to mating, played from a script through the commands.

use super::world::{World, holds, sample};

const SCRIPT: &str = include_str!("life.txt");

// Plays the lines of the script up to a moment, and gives the shop.
fn play(until: &str) -> World {
    let world = World::new();
    let mut readings = String::from("time,temperature,humidity\n");
    for day in 0..31 {
        let date = chrono::NaiveDate::from_ymd_opt(2026, 3, 1).unwrap() + chrono::Days::new(day);
        readings.push_str(&format!("{date} 00:00,22.0,45\n{date} 12:00,22.0,45\n"));
    }
    for line in SCRIPT.lines() {
        let Some((head, command)) = line.split_once(" | ") else {
            continue;
        };
        if line.starts_with('#') {
            continue;
        }
        let (at, who) = head.rsplit_once(' ').unwrap();
        if at > until {
            break;
        }
        let command = command.replace("@opf", &sample("materials/opf.toml"));
        world.at(at).person(who).run(&command).good();
    }
    let known: Vec<&str> = readings
        .lines()
        .enumerate()
        .filter(|(i, l)| *i == 0 || l.split(',').next().unwrap() <= until)
        .map(|(_, l)| l)
        .collect();
    let file = world.file("logger.csv", &known.join("\n"));
    world
        .at(until)
        .run(&format!("room readings 'cure room' '{}'", file.display()))
        .good();
    world
}

#[test]
fn two_instruments_live_from_receiving_to_mating_without_a_deviation() {
    let world = play("2026-03-28 08:00");
    let desk = world.at("2026-03-28 08:00");
    assert_eq!(desk.json("deviations --all"), serde_json::json!([]));
    for serial in ["B-0501", "N-0501", "B-0601", "N-0601"] {
        let card = desk.json(&format!("piece show {serial}"));
        assert_eq!(card["mated"], true, "{serial}");
        assert_eq!(card["next"], "mated", "{serial}");
    }
    // 131 um, 15 off, two of three buffings; then 45 on, 12, 15 and 5 off.
    assert_eq!(desk.json("piece show B-0501")["film"]["value"], 125.7);
    assert_eq!(desk.json("piece show B-0601")["film"]["value"], 111.0);
    assert_eq!(desk.json("piece show N-0501")["film"]["value"], 78.0);
    let verified = desk.json("verify");
    assert_eq!(verified["differences"], serde_json::json!([]));
}

#[test]
fn a_burn_through_opens_a_line_of_its_own_and_the_neck_waits_for_its_body() {
    let world = play("2026-03-20 12:00");
    let desk = world.at("2026-03-20 12:00");
    let body = desk.json("piece show B-0501");
    assert_eq!(body["next"], "RW3 final sand");
    assert_eq!(body["outlook"], "waiting");
    assert_eq!(body["ready_at"], "2026-03-26T16:00:00.000-04:00");
    let neck = desk.json("piece show N-0501");
    assert_eq!(neck["next"], "mate");
    assert_eq!(neck["outlook"], "waiting");
    let why = neck["reasons"][0]["text"].as_str().unwrap();
    assert_eq!(why, "B-0501 is not there yet: final sand is next for it");
}

#[test]
fn the_printed_card_reads_like_the_one_on_the_hook() {
    let world = play("2026-03-28 08:00");
    let desk = world.at("2026-03-28 08:00");
    let card = desk.run("piece show B-0501 --card").good().out;
    println!("{card}");
    println!("{}", desk.run("piece show B-0601 --card").good().out);
    holds(&card, &["CARD  B-0501  body Arden"]);
}
