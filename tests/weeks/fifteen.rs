//! The sample shop of fifteen: two terminals at once through a day, its hand-over, a cold night and the board next
//! morning, and an inspector's question.

use crate::script::{Key, Look, Run, Scan, Step, Type};
use crate::seat::{Seat, goes_on, sound};
use crate::world::World;
use chrono::DateTime;

/// The finisher at the booth begins: the check, the mix, and the first rack in rotation.
const BOOTH_BEGINS: &[Step] = &[
    (
        Look,
        &[
            "the booth  booth-1 AB",
            "booth 1: no check today",
            "clear 6 of 9",
            "R5",
        ],
    ),
    (
        Run("booth check 'booth 1' --gauge 0.40inwc"),
        &["saved: booth 1 checked at 06:4"],
    ),
    (Key("Esc"), &["booth 1: checked 06:4"]),
    (Key("n"), &["another mix 20, how many mL in all? _"]),
    (Type("1500"), &["how many mL in all? 1500_"]),
    (Key("Enter"), &["saved: mix 21", "mix 21 M1 clear, "]),
    (Scan("R5"), &["Rack R5", "What was done?"]),
    (
        Key("c"),
        &["Rack R5 - clear coat 6 - 5 pieces", "mix 21", "left out"],
    ),
    // The body on hook 4 was not coated.
    (Key("k"), &["which hook was not worked on? _"]),
    (
        Key("4"),
        &[
            "which hook was not worked on? 4_",
            "Rack R5 - clear coat 6 - 4 pieces",
            "B-0336: not worked on, left out",
        ],
    ),
    (
        Key("Enter"),
        &["saved: Rack R5 - clear coat 6 - 4 pieces - ended 06:4"],
    ),
    (Key("Enter"), &["the booth  booth-1 AB", "R4"]),
];

/// The sander at the bench sees it without a key, and sands what can be sanded of a rack.
const BENCH_BEGINS: &[Step] = &[
    (Look, &["the floor  bench LW", "Rack R1, 8 pieces"]),
    (Scan("R5"), &["Rack R5", "4  next level sand 2", "waiting"]),
    (Key("Esc"), &["the floor"]),
    (Scan("R6"), &["Rack R6", "What was done?"]),
    (
        Key("s"),
        &[
            "Rack R6 - level sand 1 - 5 pieces",
            "against it: 7 of 12 pieces",
            "left out  2 pieces, hooks 6-7",
        ],
    ),
    (
        Key("Enter"),
        &["saved: Rack R6 - level sand 1 - 5 pieces - ended 06:4"],
    ),
    (Key("Enter"), &["the floor"]),
];

/// A run on a body of the first rack, and the second rack.
const BOOTH_GOES_ON: &[Step] = &[
    (Scan("B-0334"), &["card", "B-0334  body"]),
    (Key("d"), &["Which defect?", "1 run"]),
    (Key("1"), &["B-0334 - run - ended 06:4"]),
    (Key("Enter"), &["saved: B-0334 - run - ended 06:4"]),
    (Key("Enter"), &["the booth  booth-1 AB"]),
    (Scan("R4"), &["Rack R4", "What was done?"]),
    (Key("c"), &["Rack R4 - clear coat 7 - 1 piece"]),
    (
        Key("Enter"),
        &["saved: Rack R4 - clear coat 7 - 1 piece - ended 06:4"],
    ),
    (Key("Enter"), &["the booth  booth-1 AB"]),
    (Key("q"), &[]),
];

/// The sander's undo is the sander's own, though the other terminal saved last.
const BENCH_ENDS: &[Step] = &[
    (Scan("B-0334"), &["card", "B-0334  body", "run"]),
    (Key("Esc"), &["the floor"]),
    (
        Key("u"),
        &["take back action", "sand", "rack R6 at 06:4", "by LW?"],
    ),
    (Key("Esc"), &["the floor", "scan: _"]),
    (Key("q"), &[]),
];

/// At the end of the shift the page is given, and taken under the receiver's own initials.
const HAND_OVER: &[Step] = &[
    (Look, &["the shift  desk MK"]),
    (
        Run("handover give"),
        &[
            "saved: given by MK, open until somebody takes entry",
            "wet, with the time of the next step: 1",
            "R5: clear 6 wet since 06:46, 4 pieces; next level sand 2 from 18:47",
        ],
    ),
    (Key("Esc"), &["the shift"]),
    (Key("i"), &["your initials? _"]),
    (Type("TR"), &["your initials? TR_"]),
    (Key("Enter"), &["TR is at the terminal"]),
    (
        Run("handover take"),
        &["taken by TR", "wet, with the time of the next step: 1"],
    ),
    (Key("Esc"), &["the shift  desk TR"]),
    (Key("q"), &[]),
];

/// The board next morning, after the logger's file was taken over.
const BOARD: &[Step] = &[
    (Look, &["the shift  desk MK", "[work "]),
    (
        Run("room readings 'cure room' night.csv"),
        &[
            "readings of cure room: 97 taken over, 0 were known",
            "cure room: too cold from 24 Mar 22:00 to 05:00 (7 h): lowest 14.0 C",
        ],
    ),
    (Key("Esc"), &["the shift", "ready to", "by 12:00"]),
];

const BOARD_IS_LEFT: &[Step] = &[
    (Key("F6"), &["the air", "cure room"]),
    (Key("F8"), &["the wall", "to level-sand: time reached"]),
    (Key("q"), &[]),
];

/// From the month down to one entry, as an inspector asks for it.
const INSPECTOR: &[Step] = &[
    (Look, &["the solvent book", "2026-03  not signed", "VOC"]),
    (
        Key("Enter"),
        &[
            "VOC, 2026-03",
            "by material and data sheet",
            "= the figure above",
            "CLR",
        ],
    ),
    (
        Key("Enter"),
        &[
            "VOC, 2026-03, CLR sheet rev 4",
            "by lot and mix",
            "= the figure above",
        ],
    ),
    (
        Key("Enter"),
        &[
            "lot L-221 in mix 2",
            "by entry",
            "668.484 g = the figure above",
        ],
    ),
    (
        Key("Enter"),
        &[
            "entry 181",
            "18.718 g, made as follows",
            "bound to sheet rev 4 of CLR",
            "by JB, written by JB",
        ],
    ),
    (Key("q"), &[]),
];

/// The cure room's logger from the last stored reading to the next morning, every quarter of an hour; the heating fails
/// from 22:00 to 05:00.
fn night() -> String {
    let mut file = String::from("time,temperature,humidity\n");
    let begin = crate::world::moment("2026-03-24 06:45");
    for quarter in 0..97 {
        let at = begin + chrono::TimeDelta::minutes(15 * quarter);
        let cold = (61..89).contains(&quarter);
        let air = if cold { "14.0" } else { "21.5" };
        file.push_str(&format!("{},{air},45\n", at.format("%Y-%m-%d %H:%M")));
    }
    file
}

fn ready_at(world: &World, at: &str, serial: &str) -> DateTime<chrono::FixedOffset> {
    let piece = world.at(at).json(&format!("piece show {serial}"));
    DateTime::parse_from_rfc3339(piece["ready_at"].as_str().unwrap()).unwrap()
}

#[test]
fn a_day_at_two_terminals_a_hand_over_a_cold_night_and_an_inspector() {
    let world = World::empty();
    let ledger = world.ledger();
    world
        .now()
        .run(&format!("sample --ledger '{}'", ledger.display()))
        .good();
    world.file("night.csv", &night());
    for person in ["AB", "LW"] {
        let add = format!("person add {person} finisher");
        world.at("2026-03-24T06:40:00-04:00").run(&add).good();
    }
    let before = sound(&world)["actions"].as_i64().unwrap();
    let seat = |at, person, station, place| Seat {
        at: Some(at),
        person: Some(person),
        station,
        place,
    };
    let early = "2026-03-24T06:46:00-04:00";

    let mut booth = seat(early, "AB", "booth-1", "booth").sit(&world);
    let mut bench = seat(early, "LW", "bench", "floor").sit(&world);
    let mut receipts = goes_on(&mut booth, BOOTH_BEGINS);
    receipts.extend(goes_on(&mut bench, BENCH_BEGINS));
    receipts.extend(goes_on(&mut booth, BOOTH_GOES_ON));
    assert_eq!(booth.ends(), 0);
    receipts.extend(goes_on(&mut bench, BENCH_ENDS));
    assert_eq!(bench.ends(), 0);
    assert_eq!(receipts.len(), 6, "{receipts:?}");

    // Six saves, each by who stood there.
    let after = sound(&world)["actions"].as_i64().unwrap();
    let made: Vec<(String, String)> = (before + 1..=after)
        .map(|n| {
            let action = world.now().json(&format!("action {n}"));
            let text = |v: &serde_json::Value| v.as_str().unwrap_or_default().to_owned();
            (text(&action["deed"]), text(&action["by"]))
        })
        .collect();
    let wanted = [
        ("booth check", "AB"),
        ("mix", "AB"),
        ("coat", "AB"),
        ("sand", "LW"),
        ("defect", "AB"),
        ("coat", "AB"),
    ];
    assert_eq!(
        made,
        wanted.map(|(deed, by)| (deed.to_owned(), by.to_owned()))
    );
    let skipped = world.at("2026-03-24 07:00").json("piece show B-0336");
    assert_eq!(skipped["clear_coats"], 5, "{skipped:#}");

    let end = seat("2026-03-24T15:25:00-04:00", "MK", "desk", "shift");
    end.plays(&world, HAND_OVER);
    let list = world.at("2026-03-24 15:40").json("handover list");
    assert_eq!(list[0]["taken"]["by"], "TR", "{list:#}");

    // A piece in its cure waits longer by what the night took.
    let planned = ready_at(&world, "2026-03-24 15:40", "B-0315");
    let morning = seat("2026-03-25T07:00:00-04:00", "MK", "desk", "shift");
    let mut board = morning.sit(&world);
    goes_on(&mut board, BOARD);
    // The five numbers on the board are those of the day's list.
    let list = world.at("2026-03-25 07:00").json("shift");
    let text = board.text();
    let counts = list["counts"].as_array().unwrap();
    assert_eq!(counts.len(), 5, "{list:#}");
    for row in counts {
        let work = row["work"].as_str().unwrap();
        let line = text.lines().find(|l| l.starts_with(&format!(" {work} ")));
        let shown: Vec<u64> = line
            .unwrap()
            .split_whitespace()
            .skip(1)
            .map_while(|n| n.parse().ok())
            .collect();
        let mut wanted = vec![row["ready_now"].as_u64().unwrap()];
        let by = row["ready_by"].as_array().unwrap().iter();
        wanted.extend(by.map(|n| n.as_u64().unwrap()));
        wanted.push(row["all"].as_u64().unwrap());
        assert_eq!(shown, wanted, "{work}: {text}");
    }
    goes_on(&mut board, BOARD_IS_LEFT);
    assert_eq!(board.ends(), 0);
    let now = ready_at(&world, "2026-03-25 07:05", "B-0315");
    assert_eq!((now - planned).num_hours(), 7, "{planned} {now}");

    let asked = seat("2026-03-25T10:00:00-04:00", "MK", "desk", "solvent");
    asked.plays(&world, INSPECTOR);
    let total = world
        .at("2026-03-25 10:05")
        .json("month 2026-03 --by material");
    assert_eq!(total["adds_up"], true, "{total:#}");
    sound(&world);
}
