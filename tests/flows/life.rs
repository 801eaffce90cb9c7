//! The life of two instruments from receiving to mating, played from a script through the commands.

use super::world::{World, holds, sample};

const SCRIPT: &str = include_str!("life.txt");

// Plays the lines of the script up to a moment, and gives the shop. The logger's file is taken in every morning.
fn play(until: &str) -> World {
    let world = World::new();
    let mut day = "";
    for line in SCRIPT.lines().filter(|l| !l.starts_with('#')) {
        let Some((head, command)) = line.split_once(" | ") else {
            continue;
        };
        let (at, who) = head.rsplit_once(' ').unwrap();
        if at > until {
            break;
        }
        let (date, _) = at.split_once(' ').unwrap();
        if date != day && !day.is_empty() {
            readings(&world, at);
        }
        day = date;
        let command = command.replace("@opf", &sample("materials/opf.toml"));
        world.at(at).person(who).run(&command).good();
    }
    readings(&world, until);
    world
}

// A steady cure room, read twice a day.
fn readings(world: &World, until: &str) {
    let mut list = String::from("time,temperature,humidity\n");
    for n in 0..31 {
        let day = chrono::NaiveDate::from_ymd_opt(2026, 3, 1).unwrap() + chrono::Days::new(n);
        for time in [format!("{day} 00:00"), format!("{day} 12:00")] {
            if *time <= *until {
                list.push_str(&format!("{time},22.0,45\n"));
            }
        }
    }
    world.readings(until, "cure room", &list);
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
    holds(
        &card,
        &[
            "CARD  B-0501  body Arden",
            "recipe G9 rev 3  Body, closed pore",
            "pair N-0501    due 2026-04-03",
            "\nMATED\n",
            "  receive          Mon 2 Mar 08:00 DP (P220, 7.0 %, 7.3 %)",
            "  clear set 1      1 Mon 2 Mar 12:30 AB, 2 14:00 AB, 3 15:30 AB",
            "  level sand 2     Wed 4 Mar 08:00 SK (P400)",
            "  cure             in Wed 4 Mar 12:00, out Thu 19 Mar 08:00",
            "  buff             1 Thu 19 Mar 10:00 LM (medium, wheel W1), 2 11:00 LM (fine, wheel W2)\n",
            "    REWORK RW3 for burn-through, opened Thu 19 Mar 11:20 MK: edge of the upper horn",
            "      clear            1 Thu 19 Mar 13:00 AB, 2 14:30 AB, 3 16:00 AB",
            "      cure             in Thu 19 Mar 16:00, out Fri 27 Mar 08:00",
            "  mate             Fri 27 Mar 15:00 TW (with N-0501, bolted)",
            "125.7 um now (predicted), 125.7 um at the end: in the band 75 um to 130 um",
            "burn-through, at upper horn, 3.0 mm, Thu 19 Mar 11:10 LM",
        ],
    );
    assert!(!card.contains("DEVIATIONS"), "{card}");
    let filled = desk.run("piece show B-0601 --card").good().out;
    holds(
        &filled,
        &[
            "  fill             Mon 2 Mar 10:00 DP",
            "  seal             1 Thu 5 Mar 10:00 AB (rub test: powder), 2 11:00 AB",
            "whole (B) dirt, by the heel, 1.0 mm: take",
        ],
    );
    // A page that hangs on a hook is not wider than a page.
    for line in card.lines().chain(filled.lines()) {
        assert!(line.chars().count() <= 110, "{line}");
    }
}
