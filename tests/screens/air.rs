//! The air: rooms and booths, their charts, the blush rules, the velocity picture and the solvent vapour.

use crate::desk::Desk;
use crate::shop::{Bench, rack, stamp, who};
use hangtime::ledger::{DeedRequest, DeedWhat, Included, NewLot, Outcome};
use hangtime::reports::book::Of;
use hangtime::reports::limits::NewLimit;
use hangtime::reports::workings;
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::places::Place;
use hangtime::shop::climate::Sample;
use hangtime::shop::record::{CoatMore, Fact};
use hangtime::shop::words::PieceKind;
use hangtime::units::{Flow, Humidity, Moment, Span, Speed, Temperature, Volume};

const TOLUENE: &str = r#"[material]
code = "TOL"
name = "Plain lacquer of the tests"
kind = "lacquer"
sheet = "rev 1"
sheet_date = 2026-01-05
density = "0.900 kg/L"
weight_solids = "20.0 %"
volume_solids = "20.0 %"
flash_point = "5 C"
drying = "solvent release"
hazards = ["flammable liquid"]

[[contains]]
cas = "108-88-3"
name = "toluene"
share = "80.0 %"
hap = true
"#;

const SIZES: [(u16, u16); 4] = [(60, 16), (80, 24), (120, 40), (250, 70)];

const RULES: &str = "\n[booth]\nhumidity_high = \"65 %\"\nspread_low = \"11 K diff\"\n";

fn samples(bench: &Bench, from: &str, count: i64, warm: i64, damp: i64) -> Vec<Sample> {
    let from = bench.at(from);
    (0..count)
        // A morning without readings.
        .filter(|n| !(60..90).contains(n))
        .map(|n| Sample {
            at: from.plus(Span::minutes(15 * n)),
            temperature: Temperature(warm + (n % 40) * 50),
            humidity: Some(Humidity(damp + (n % 30) * 20)),
        })
        .collect()
}

/// Two logged rooms, one of them silent for a day, a loft without readings, and a booth with a survey.
fn shop(rules: bool) -> (Bench, Moment) {
    let mut b = Bench::new();
    let at = stamp(b.at("2026-03-09 09:30"));
    let mb = who("MB");
    // None of the sample's recipes states a limit from here on, unless one is asked for.
    let p9 = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/sample/recipes/p9.toml"
    ))
    .unwrap();
    let (before, table) = p9.split_once("[booth]").unwrap();
    let (_, after) = table.split_once("\n\n").unwrap();
    let p9 = format!("{before}{after}").replace("revision = 1", "revision = 2");
    b.ledger.adopt_recipe("p9.toml", &p9, &mb, &at).unwrap();
    if rules {
        let text = std::fs::read_to_string(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/sample/recipes/g9.toml"
        ))
        .unwrap();
        let text = text.replace("revision = 3", "revision = 4") + RULES;
        b.ledger.adopt_recipe("g9.toml", &text, &mb, &at).unwrap();
    }
    let quarter = Some(Span::minutes(15));
    b.ledger
        .declare_room("booth 1", quarter, 1_000, &mb, &at)
        .unwrap();
    b.ledger
        .declare_room("cure room", quarter, 1_000, &mb, &at)
        .unwrap();
    b.ledger.declare_room("loft", None, 500, &mb, &at).unwrap();
    let now = b.at("2026-03-12 12:00");
    let booth = samples(&b, "2026-03-09 12:00", 289, 20_000, 6_600);
    b.ledger
        .add_readings("booth 1", "booth.csv", &booth, &mb, &stamp(now))
        .unwrap();
    let cure = samples(&b, "2026-03-09 12:00", 193, 21_000, 4_400);
    b.ledger
        .add_readings("cure room", "cure.csv", &cure, &mb, &stamp(now))
        .unwrap();
    b.ledger
        .enter_limit(
            &hangtime::ledger::Ceiling {
                what: "face velocity".to_owned(),
                scope: "booth 1".to_owned(),
                value: 508_000,
                typed: "100fpm".to_owned(),
                basis: "average".to_owned(),
                source: "maker's plate, read by MB".to_owned(),
                warn: Vec::new(),
                rules: None,
            },
            &mb,
            &stamp(now),
        )
        .unwrap();
    let readings = [104, 98, 101, 95, 92, 97, 88, 90].map(|fpm| Speed(fpm * 5_080));
    b.ledger
        .record_survey(
            "booth 1",
            readings.to_vec(),
            9,
            "hot-wire meter, calibrated 2026-01-15",
            now,
            &mb,
            &stamp(now),
        )
        .unwrap();
    (b, now)
}

fn sit(rules: bool) -> Desk {
    let (bench, now) = shop(rules);
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(6));
    assert_eq!(desk.model.place, Place::Air);
    desk
}

#[test]
fn the_air_reads_at_four_sizes() {
    let mut desk = sit(true);
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("air_room_{columns}x{rows}"), desk.snapshot());
    }
    for _ in 0..3 {
        desk.key(Key::Down);
    }
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("air_booth_{columns}x{rows}"), desk.snapshot());
    }
}

#[test]
fn each_room_says_what_is_known_of_it_and_a_silent_sensor_since_when() {
    let desk = sit(false);
    let text = desk.text();
    let line = |name: &str, kind: &str| {
        text.lines()
            .find(|l| l.contains(name) && l.contains(kind))
            .unwrap_or_else(|| panic!("{name} {kind}\n{text}"))
            .to_owned()
    };
    let booth = line("booth 1", " air ");
    for wanted in [
        "20.4 C",
        "70 %",
        "dew point 14.7 C, 5.7 C below air",
        "0 s old",
    ] {
        assert!(booth.contains(wanted), "{wanted}\n{booth}");
    }
    assert!(line("cure room", " air ").contains("unknown: silent since 11 Mar 12:00, 1 d 00 h"));
    assert!(line("loft", " air ").contains("unknown: a room without readings"));
    let exhaust = line("booth 1", "exhaust");
    assert!(exhaust.contains("unknown: survey has 8 of 9"), "{exhaust}");
    assert!(text.contains("booth.csv (entry"), "{text}");
    assert!(text.contains('?'), "the gap is marked\n{text}");
}

#[test]
fn the_limit_that_is_exceeded_is_named_and_without_limits_none_is() {
    let desk = sit(true);
    let text = desk.text();
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("exceeded: relative humidity and spread between air and dew point"),
        "{text}"
    );
    let desk = sit(false);
    assert!(desk.text().contains("no limit entered"), "{}", desk.text());
    let mut desk = sit(true);
    desk.key(Key::Down);
    let text = desk.text();
    assert!(text.contains("unknown which is exceeded"), "{text}");
}

#[test]
fn the_survey_is_a_picture_with_the_lowest_and_the_missing_reading() {
    let mut desk = sit(false);
    for _ in 0..3 {
        desk.key(Key::Down);
    }
    let text = desk.text();
    for wanted in [
        "│88 fpm    low│",
        "│104 fpm      │",
        "not taken",
        "grid is incomplete: 8 of 9",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    desk.model.shop.theme.shapes = false;
    assert!(desk.text().is_ascii(), "{}", desk.text());
}

#[test]
fn one_key_shows_the_working_and_pages_scroll() {
    let mut desk = sit(true);
    desk.keys("k");
    let text = desk.text();
    assert!(text.contains("air of booth 1"), "{text}");
    desk.key(Key::Down);
    assert_eq!(desk.model.places.air.scroll, 1);
    desk.key(Key::End);
    let end = desk.model.places.air.scroll;
    desk.key(Key::Down);
    assert_eq!(desk.model.places.air.scroll, end);
    desk.key(Key::Esc);
    assert!(!desk.model.places.air.working);
    assert_eq!(desk.model.mode(), Mode::Air);
    for _ in 0..9 {
        desk.key(Key::Down);
    }
    assert_eq!(desk.model.places.air.mark, 3);
    desk.key(Key::PageDown);
    assert!(desk.model.places.air.scroll > 0);
    assert!(desk.text().contains("qualified person") || desk.text().contains("unknown: "));
    desk.key(Key::Up);
    assert_eq!(
        (desk.model.places.air.mark, desk.model.places.air.scroll),
        (2, 0)
    );
}

#[test]
fn the_vapour_goes_by_the_coats_of_the_last_hours_and_an_unknown_flow_is_unknown() {
    let (mut bench, now) = shop(false);
    bench.add(
        (PieceKind::Body, "B", 800, 2),
        ("Octave mandolin", "G9", 3),
        Some("R8"),
        "2026-03-12 07:00",
    );
    let hung = Fact::Placed {
        rack: Some("R8".to_owned()),
        hook: None,
        room: Some("booth 1".to_owned()),
    };
    bench.deed(rack("R8"), DeedWhat::Other(hung), "2026-03-12 07:30", "AB");
    let none = workings::show(&bench.ledger, "lel", "booth 1", now).unwrap();
    assert!(
        none.unknown
            .iter()
            .any(|u| u.contains("no coat with an amount"))
    );
    let mix = bench.mix(
        "clear",
        &[("L-2207", 1_500), ("T-0931", 500)],
        "2026-03-12 08:00",
    );
    let what = DeedWhat::Coat {
        kind: None,
        touch_up: false,
        mix: Some(mix),
        lot: None,
        amount: Some(Volume(400_000)),
        wet: Vec::new(),
        supervisor: None,
        more: CoatMore::default(),
    };
    let ended = bench.at("2026-03-12 11:00");
    let mut request = DeedRequest::new(who("AB"), rack("R8"), what, ended);
    request.began = bench.at("2026-03-12 10:50");
    request.included = Included::All;
    let saved = bench.ledger.log(&request, &stamp(ended)).unwrap();
    assert!(matches!(saved, Outcome::Saved(_)), "{saved:?}");
    let found = workings::show(&bench.ledger, "lel", "booth 1", now).unwrap();
    let kept = |name: &str| found.kept.iter().find(|k| k.name == name).unwrap();
    // 400 mL in ten minutes.
    let day = |what: &str| format!("{what}, this production day");
    let rate = &kept(&day("spray rate")).value;
    assert_eq!(*rate, Some(serde_json::json!(40_000)));
    let share = &kept(&day("share of the lower explosive limit")).text;
    assert_eq!(share, "unknown");
    assert!(
        found
            .unknown
            .iter()
            .any(|u| u.contains("exhaust flow of booth 1"))
    );
    assert!(
        found
            .unknown
            .iter()
            .any(|u| u.contains("is named on no sheet"))
    );
    assert!(
        found
            .says
            .iter()
            .any(|s| s.contains("a meter and a qualified person decide"))
    );
    assert!(found.calls_for_attention());
    // The next day it is no longer the present rate.
    let later = workings::show(&bench.ledger, "lel", "booth 1", now.plus(Span::hours(24))).unwrap();
    assert_eq!(later.kept[1].value, None);
}

#[test]
fn the_air_is_drawn_at_every_size() {
    let mut desk = sit(true);
    for mark in 0..4 {
        for columns in (0..=260).step_by(20) {
            for rows in (0..=40).step_by(4) {
                desk.size(columns, rows);
                desk.text();
            }
        }
        desk.key(Key::Down);
        assert!(desk.model.places.air.mark >= mark);
    }
    desk.keys("k");
    desk.size(0, 0);
    desk.key(Key::PageDown);
    desk.text();
}

#[test]
fn a_shop_without_rooms_says_how_to_declare_one() {
    let (bench, now) = Bench::morning();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(6));
    assert!(
        desk.text().contains("no room is declared"),
        "{}",
        desk.text()
    );
}

/// A lacquer of which a table names every solvent, sprayed on 12 March from 09:00 to 09:10 and hung in the flash room at
/// 09:20; the room is known, and so is the limit that the shop entered for it.
fn fresh() -> (Bench, Moment) {
    let (mut b, _) = shop(false);
    let mb = who("MB");
    let at = stamp(b.at("2026-03-12 07:00"));
    b.ledger
        .adopt_material("tol.toml", TOLUENE, &mb, &at)
        .unwrap();
    let lot = NewLot::of("T-50", "TOL", Volume(20_000_000));
    b.ledger.receive_lot(&lot, at.written, &mb, &at).unwrap();
    for (room, volume, flow) in [("booth 1", 30, 500_000), ("flash room", 50, 10_000)] {
        let size = (Some(Volume(volume * 1_000_000_000)), Some(Flow(flow)));
        b.ledger
            .set_room_air(room, size, "plan of 2024", &mb, &at)
            .unwrap();
    }
    let limit = NewLimit::lel_share("flash room", "25%").unwrap();
    limit.enter(&mut b.ledger, "site rule", &mb, &at).unwrap();
    b.add(
        (PieceKind::Body, "B", 800, 2),
        ("Octave mandolin", "G9", 3),
        Some("R8"),
        "2026-03-12 07:00",
    );
    let hung = |room: &str| {
        DeedWhat::Other(Fact::Placed {
            rack: Some("R8".to_owned()),
            hook: None,
            room: Some(room.to_owned()),
        })
    };
    b.deed(rack("R8"), hung("booth 1"), "2026-03-12 07:30", "AB");
    let coat = DeedWhat::Coat {
        kind: None,
        touch_up: false,
        mix: None,
        lot: Some("T-50".to_owned()),
        amount: Some(Volume(600_000)),
        wet: Vec::new(),
        supervisor: None,
        more: CoatMore::default(),
    };
    let ended = b.at("2026-03-12 09:10");
    let mut request = DeedRequest::new(who("AB"), rack("R8"), coat, ended);
    request.began = b.at("2026-03-12 09:00");
    request.included = Included::All;
    let saved = b.ledger.log(&request, &stamp(ended)).unwrap();
    assert!(matches!(saved, Outcome::Saved(_)), "{saved:?}");
    b.deed(rack("R8"), hung("flash room"), "2026-03-12 09:20", "AB");
    let now = b.at("2026-03-12 10:00");
    (b, now)
}

#[test]
fn the_vapour_of_a_room_is_figures_and_a_chart_of_the_last_day() {
    let (bench, now) = fresh();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(6));
    let text = desk.text();
    // 600 mL x 0.8 x 229.391 in 50 m3 by 1.0 % is 22.0 % when it came; 40 minutes later, at 0.01 m3/s, exp(-0.48) of it:
    // 13.6 %. The booth lost it at 0.5 m3/s from 36.7 % on: 30 m3 change every minute.
    for wanted in [
        "exhaust  vapour 3.67 % of the LEL; unknown: survey has 8 of 9\n",
        "vapour   under 0.01 % of the LEL now, highest in a day 36.7 %",
        "vapour   13.6 % of the LEL now, highest in a day 22 %",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    for _ in 0..9 {
        desk.key(Key::Down);
    }
    let text = desk.text();
    for wanted in [
        "flash room: solvent vapour in its air",
        "near the floor and the work it can be many times higher",
        "25 % ",
        "|06:00",
        "25 %: under",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("air_vapour_{columns}x{rows}"), desk.snapshot());
    }
    desk.model.shop.theme.shapes = false;
    assert!(desk.text().is_ascii(), "{}", desk.text());
    desk.keys("k");
    let text = desk.text();
    assert!(text.contains("vapour of flash room"), "{text}");
    // Up to the booth's exhaust.
    desk.keys("k");
    desk.key(Key::Up);
    desk.key(Key::Up);
    desk.size(120, 40);
    let text = desk.text();
    for wanted in [
        "share of the lower explosive limit, last hour: 3.67 %",
        "spray rate, last hour: 60 mL/min",
        "flow wanted, last hour: 261.616 m3/h",
        "exhaust flow: 1800 m3/h",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn an_entered_exposure_limit_stands_below_the_vapour_and_points_to_the_hygienist() {
    let (mut bench, now) = fresh();
    let toluene = Of::read(&bench.ledger, "toluene").unwrap();
    let limit = NewLimit::exposure(&toluene, "50ppm").unwrap();
    let at = stamp(bench.at("2026-03-12 08:00"));
    limit
        .enter(&mut bench.ledger, "state list", &who("MB"), &at)
        .unwrap();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(6));
    for _ in 0..9 {
        desk.key(Key::Down);
    }
    desk.size(120, 40);
    let text = desk.text();
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    // 2202.16 ppm at 09:20, 40 minutes before: a quarter of an hour from 09:15 on was cut by its coming. 10 min x 1, 15 min x
    // exp(-0.12), 15 min x exp(-0.30), by 480 min: 2202.16 x (10 + 13.3038 + 11.1123) / 480 = 157.9.
    for wanted in [
        "mean of eight hours in its air, by the exposure limits entered",
        "toluene over eight hours: 158 ppm",
        "held against the entered eight-hour limit 50 ppm: over",
        "measured by nobody: it does not say what anybody",
        "an industrial hygienist decide",
    ] {
        assert!(flat.contains(wanted), "{wanted}\n{text}");
    }
    desk.keys("k");
    desk.key(Key::End);
    assert!(desk.text().contains("exposure index"), "{}", desk.text());
}

#[test]
fn the_vapour_of_a_room_of_unknown_air_is_unknown_and_has_no_chart() {
    let (mut bench, now) = fresh();
    let at = bench.at("2026-03-12 09:40");
    let hung = Fact::Placed {
        rack: Some("R8".to_owned()),
        hook: None,
        room: Some("loft".to_owned()),
    };
    bench.deed(rack("R8"), DeedWhat::Other(hung), "2026-03-12 09:40", "AB");
    assert!(at < now);
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(6));
    for _ in 0..9 {
        desk.key(Key::Down);
    }
    let text = desk.text();
    for wanted in [
        "vapour   unknown: the volume of loft is in no entry",
        "share of the lower explosive limit now: unknown",
        "unknown: the air flow of loft is in no entry",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    assert!(!text.contains("|06:00"), "{text}");
}
