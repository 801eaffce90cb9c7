//! P14, P15: the rooms' air. A judgement on all pieces after new readings, and a year of readings taken in.

use crate::Ground;
use crate::plant::ROOMS;
use crate::record::plain_import;
use crate::shop::{Bench, stamp, who};
use crate::table::{Line, Times, in_turn, shown, timed};
use hangtime::feeds::climate_csv;
use hangtime::ledger::Ledger;
use hangtime::shop::climate::Sample;
use hangtime::units::{Humidity, Moment, Span, Temperature};

/// What the prototype of the study took for one piece, from scratch, in ms.
const PROTOTYPE: f64 = 0.021;

pub fn air(ground: &Ground) -> Vec<Line> {
    let mut lines = outlook(ground);
    lines.push(year(ground));
    lines
}

fn outlook(ground: &Ground) -> Vec<Line> {
    let (_folder, path) = ground.copy(&ground.plant);
    let mut ledger = Ledger::open(&path).unwrap();
    let now = ground.plant.now;
    let mut times = Vec::new();
    let mut pieces = 0;
    for n in 0..7 {
        let at = Moment(now.0 + n * 60_000);
        let sample = Sample {
            at,
            temperature: Temperature(20_500),
            humidity: Some(Humidity(4_700)),
        };
        for room in [ROOMS[2], ROOMS[3]] {
            ledger
                .add_readings(room, "live", &[sample], &who("MB"), &stamp(at))
                .unwrap();
        }
        let (took, floor) = timed(|| ledger.floor(at, None).unwrap());
        pieces = floor.len();
        times.push(took);
    }
    let ours = Times::of(times).median();
    let theirs = PROTOTYPE * pieces as f64;
    vec![Line {
        id: "P14",
        what: format!("read and judged anew: {pieces} pieces after new readings"),
        ours: shown(ours),
        against: format!("{pieces} x the prototype's 21 us {}", shown(theirs)),
        ratio: format!("{:.2}", ours / theirs),
        goal: "<= 0.2",
    }]
}

fn year(ground: &Ground) -> Line {
    let folder = tempfile::tempdir_in(&ground.folder).unwrap();
    let file = folder.path().join("year.csv");
    let mut text = String::from("time,temperature,humidity\n");
    let begin = chrono::DateTime::parse_from_rfc3339("2025-03-01T00:00:00Z").unwrap();
    let minutes: i64 = if ground.once { 52_560 } else { 525_600 };
    for minute in 0..minutes {
        let at = begin + chrono::Duration::minutes(minute);
        let (t, h) = (200 + minute * 37 % 25, 450 + minute * 11 % 70);
        text.push_str(&format!(
            "{},{}.{},{}.{}\n",
            at.format("%Y-%m-%dT%H:%M:%SZ"),
            t / 10,
            t % 10,
            h / 10,
            h % 10
        ));
    }
    std::fs::write(&file, text).unwrap();
    let mut benches: Vec<Bench> = (0..ground.times(7))
        .map(|n| {
            let at = Moment(1_773_061_200_000);
            let path = folder.path().join(format!("air-{n}.ledger"));
            let mut bench = Bench::begun(&path, tempfile::tempdir_in(&ground.folder).unwrap(), at);
            bench
                .ledger
                .declare_room(
                    "cure room",
                    Some(Span::minutes(1)),
                    1_000,
                    &who("MB"),
                    &stamp(at),
                )
                .unwrap();
            bench
        })
        .collect();
    let (ours, theirs) = in_turn(
        ground.times(7),
        |n| {
            let bench = &mut benches[n];
            let samples =
                climate_csv::read(&std::fs::read(&file).unwrap(), &bench.calendar()).unwrap();
            assert_eq!(i64::try_from(samples.len()).unwrap(), minutes);
            let at = Moment(1_773_061_260_000);
            bench
                .ledger
                .add_readings("cure room", "year.csv", &samples, &who("MB"), &stamp(at))
                .unwrap();
        },
        |n| {
            let plain = folder.path().join(format!("plain-{n}.db"));
            plain_import(&plain, &[(file.clone(), "reading")]);
        },
    );
    Line {
        id: "P15",
        what: format!("{minutes} readings of a room, one a minute, taken in"),
        ours: shown(ours.median()),
        against: format!("sqlite3 .import of the file {}", shown(theirs.median())),
        ratio: format!("{:.2}", ours.median() / theirs.median()),
        goal: "<= 1.5",
    }
}
