//! Climate loggers: a guess that a person completes, a description that is adopted, and files of every shape that come in by it.

use crate::world::{World, holds, texts};
use hangtime::science::psychrometrics::{MAGNUS_WMO, dew_point, magnus_dew_point};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use uom::si::f64::{Ratio, ThermodynamicTemperature};
use uom::si::ratio::percent;
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit};

const NOW: &str = "2026-11-20 08:00";

fn series(name: &str) -> String {
    format!("{}/tests/published/data/{name}", env!("CARGO_MANIFEST_DIR"))
}

fn room(world: &World, every: &str) {
    world
        .at(NOW)
        .run(&format!("room declare 'cure room' --every {every}"))
        .good();
}

// Adopts a description whose lines stand in the file "NAME.toml".
fn adopt(world: &World, toml: &str) {
    let file = world.file("logger.toml", toml);
    world
        .at(NOW)
        .run(&format!("logger adopt '{}'", file.display()))
        .good();
}

const SEMICOLONS: &str = r#"[logger]
code = "C-1"
revision = "1"
room = "cure room"
temperature_unit = "C"
humidity_unit = "%"
missing = ["---"]

[file]
delimiter = "semicolon"
decimal = "comma"
skip_lines = 2
header = true
time = ["Datum", "Zeit"]
time_format = "DD.MM.YYYY hh:mm"
zone = "shop"
temperature = "Temp"
humidity = "RH"
temperature_flag = "Q"
good = ["0"]
"#;

// A file of that logger with these lines below its header.
fn semicolons(lines: &str) -> String {
    format!("a logger\n\nDatum;Zeit;Q;Temp;RH\n{lines}")
}

fn take(world: &World, code: &str, name: &str, text: &str) -> Value {
    let file = world.file(name, text);
    world
        .at(NOW)
        .json(&format!("logger take {code} '{}'", file.display()))[0]
        .clone()
}

// What the record holds of a room, as it goes out: moment, thousandths of a degree, hundredths of a percent.
fn record(world: &World, room: &str) -> BTreeMap<i64, (i64, Option<i64>)> {
    let folder = world.home().join("out");
    let _ = std::fs::remove_dir_all(&folder);
    world
        .now()
        .run(&format!("export '{}'", folder.display()))
        .good();
    let text = std::fs::read_to_string(folder.join("readings.jsonl")).unwrap();
    text.lines()
        .map(|l| serde_json::from_str::<Value>(l).unwrap())
        .filter(|r| r["room"] == room)
        .map(|r| {
            let temperature = r["temperature_mc"].as_i64().unwrap();
            (
                r["at"].as_i64().unwrap(),
                (temperature, r["humidity_cpct"].as_i64()),
            )
        })
        .collect()
}

fn said(file: &Value) -> Vec<(u64, &str)> {
    let remarks = file["remarks"].as_array().unwrap().iter();
    remarks
        .map(|r| (r["line"].as_u64().unwrap(), r["what"].as_str().unwrap()))
        .collect()
}

#[test]
fn what_is_odd_in_a_file_is_handled_by_rule_and_named_by_line() {
    let world = World::new();
    room(&world, "15m");
    adopt(&world, SEMICOLONS);
    let text = semicolons(
        "05.11.2026;07:00;0;21,4;45,0\n\
         05.11.2026;07:15;0;21,5;45,1\n\
         05.11.2026;07:15;0;21,5;45,1\n\
         05.11.2026;07:15;0;29,0;45,1\n\
         05.11.2026;07:45;0;21,6;---\n\
         05.11.2026;07:30;0;21,6;45,3\n\
         05.11.2026;08:00;2;21,6;45,3\n\
         05.11.2026;08:15;0;---;45,3\n\
         05.11.2026;08:30;0;999,9;45,3\n\
         05.11.2026;08:45;0;21,7;104,2\n\
         ;;;;\n\
         05.11.2026;10:00;0;21,8;45,3\n",
    );
    let file = take(&world, "C-1", "c.csv", &text);
    assert_eq!(
        (
            &file["lines"],
            &file["taken"],
            &file["left_out"],
            &file["known"]
        ),
        (&json!(11), &json!(6), &json!(5), &json!(0))
    );
    assert_eq!(
        said(&file),
        [
            (6, "repeated"),
            (7, "another of one moment"),
            (8, "no humidity"),
            (9, "out of order"),
            (10, "flagged"),
            (11, "no reading"),
            (12, "impossible"),
            (13, "no humidity"),
            (13, "gap"),
            (15, "gap"),
        ]
    );
    // Of two readings of one moment the first counts, and what was not read is not made up.
    let kept = record(&world, "cure room");
    let list: Vec<_> = kept.values().copied().collect();
    assert_eq!(
        list,
        [
            (21_400, Some(4_500)),
            (21_500, Some(4_510)),
            (21_600, Some(4_530)),
            (21_600, None),
            (21_700, None),
            (21_800, Some(4_530)),
        ]
    );
    let lines = world.at(NOW).run("logger take C-1 c.csv").good().out;
    holds(&lines, &["taken over before", "nothing to do"]);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_line_that_does_not_read_refuses_the_whole_file_unless_the_description_leaves_such_lines_out() {
    let world = World::new();
    room(&world, "15m");
    adopt(&world, SEMICOLONS);
    let text = semicolons(
        "05.11.2026;07:00;0;21,4;45,0\n05.11.2026;07:15;0;warm;45\n05.11.2026;07:30;0\n31.11.2026;07:30;0;21,4;45\n",
    );
    let file = world.file("c.csv", &text);
    let refused = world
        .at(NOW)
        .run(&format!("logger take C-1 '{}'", file.display()))
        .refused(2);
    holds(
        &refused,
        &[
            "c.csv: 3 rows were refused; nothing was taken in",
            "c.csv:5: \"warm\" is not a plain number",
            "c.csv:6: 3 cells where the first line has 5",
            "c.csv:7: time \"31.11.2026 07:30\" is not of the form",
        ],
    );
    assert_eq!(record(&world, "cure room").len(), 0);
    let more =
        SEMICOLONS.replace("revision = \"1\"", "revision = \"2\"") + "unreadable = \"leave out\"\n";
    adopt(&world, &more);
    let taken = take(&world, "C-1", "c.csv", &text);
    assert_eq!(
        (&taken["taken"], &taken["left_out"]),
        (&json!(1), &json!(3))
    );
    assert_eq!(taken["revision"], "2");
}

#[test]
fn a_reading_that_the_record_has_stays_and_another_of_its_moment_is_named() {
    let world = World::new();
    room(&world, "15m");
    adopt(&world, SEMICOLONS);
    take(
        &world,
        "C-1",
        "a.csv",
        &semicolons("05.11.2026;07:00;0;21,4;45,0\n"),
    );
    let second = take(
        &world,
        "C-1",
        "b.csv",
        &semicolons("05.11.2026;07:00;0;25,0;45,0\n05.11.2026;07:15;0;21,5;45,0\n"),
    );
    assert_eq!((&second["taken"], &second["known"]), (&json!(1), &json!(1)));
    assert_eq!(second["other"], json!(["2026-11-05T07:00:00.000-05:00"]));
    let kept: Vec<i64> = record(&world, "cure room")
        .values()
        .map(|(t, _)| *t)
        .collect();
    assert_eq!(kept, [21_400, 21_500]);
    let entries = world.now().run("entries").good().out;
    holds(
        &entries,
        &[
            "file b.csv of logger C-1 rev 1 for cure room: 2 lines, 1 known already, 1 of them otherwise",
        ],
    );
}

#[test]
fn the_hour_that_the_clock_change_repeats_is_told_by_the_readings_beside_it() {
    let world = World::new();
    room(&world, "15m");
    adopt(&world, SEMICOLONS);
    let quarters = |hour: &str| -> String {
        let lines =
            ["00", "15", "30", "45"].map(|m| format!("01.11.2026;{hour}:{m};0;21,0;45,0\n"));
        lines.concat()
    };
    let night = quarters("00") + &quarters("01") + &quarters("01") + &quarters("02");
    let taken = take(&world, "C-1", "night.csv", &semicolons(&night));
    assert_eq!(
        (&taken["taken"], &taken["left_out"]),
        (&json!(16), &json!(0))
    );
    assert_eq!(said(&taken), [(12, "clock change")]);
    let moments: Vec<i64> = record(&world, "cure room").into_keys().collect();
    assert!(moments.windows(2).all(|w| w[1] - w[0] == 15 * 60_000));

    // Out of its row such a time could be either hour: it is left out, not guessed.
    let alone = take(
        &world,
        "C-1",
        "alone.csv",
        &semicolons(
            "31.10.2026;22:00;0;21,0;45\n31.10.2026;22:15;0;21,0;45\n01.11.2026;01:30;0;21,0;45\n",
        ),
    );
    assert_eq!(said(&alone), [(6, "time happens twice")]);
    // A clock that showed a time which the change skips is none that changes.
    let spring = world.file("spring.csv", &semicolons("08.03.2026;02:30;0;21,0;45\n"));
    let refused = world
        .at(NOW)
        .run(&format!("logger take C-1 '{}'", spring.display()))
        .refused(2);
    holds(
        &refused,
        &[
            "no clock showed 08.03.2026 02:30",
            "write its offset as zone",
        ],
    );
}

#[test]
fn a_guess_is_adopted_only_when_a_person_has_answered_what_the_file_does_not_say() {
    let world = World::new();
    room(&world, "15m");
    let text = semicolons("05.11.2026;07:00;0;21,4;45,0\n05.11.2026;07:15;0;21,5;45,1\n");
    let text = text
        .replace("Temp;RH", "Temp;RH %")
        .replace("05.11.", "05/11/");
    let file = world.file("c.csv", &text);
    let guess = world
        .at(NOW)
        .json(&format!("logger guess '{}'", file.display()));
    let open: Vec<&str> = guess["open"]
        .as_array()
        .unwrap()
        .iter()
        .map(|q| q.as_str().unwrap())
        .collect();
    let keys: Vec<&str> = open.iter().filter_map(|q| q.split(':').next()).collect();
    assert_eq!(keys, ["room", "temperature_unit", "time_format", "zone"]);
    holds(open[2], &["MM/DD/YYYY"]);
    let toml = guess["toml"].as_str().unwrap();
    let asked = world.file("guess.toml", toml);
    let refused = world
        .at(NOW)
        .run(&format!("logger adopt '{}'", asked.display()))
        .refused(2);
    holds(
        &refused,
        &[
            "room: nothing written",
            "temperature_unit: nothing written",
            "time_format: nothing written",
        ],
    );
    assert_eq!(world.now().json("logger list"), json!([]));
    // The answers are the lines that stand there as comments.
    let keys = ["room", "temperature_unit", "time_format", "zone"];
    let mut answered = toml.to_owned();
    for key in keys {
        answered = answered.replace(&format!("# {key} = "), &format!("{key} = "));
    }
    adopt(&world, &answered);
    assert_eq!(take(&world, "LOGGER-1", "c.csv", &text)["taken"], 2);
    assert_eq!(texts(&world.now().json("logger list"), "revision"), ["1"]);
}

#[test]
fn a_reading_by_hand_stands_among_the_others() {
    let world = World::new();
    let refused = world
        .at("2026-11-05 07:02")
        .run("reading 'cure room' 21.3C 45%")
        .refused(2);
    holds(&refused, &["is not declared as logged"]);
    room(&world, "15m");
    let saved = world
        .at("2026-11-20 09:00")
        .run("reading 'cure room' 70F 45% --done 08:50")
        .good();
    holds(&saved.out, &["cure room: 21.1 C, 45 % at 08:50"]);
    world
        .at("2026-11-20 09:00")
        .run("reading 'cure room' 20.5C")
        .good();
    let kept: Vec<_> = record(&world, "cure room").into_values().collect();
    assert_eq!(kept, [(21_111, Some(4_500)), (20_500, None)]);
    for (line, wanted) in [
        (
            "reading 'cure room' 22C 45% --done 08:50",
            "has another reading of 08:50",
        ),
        ("reading 'cure room' 21.3", "has no unit"),
        ("reading 'cure room' 21.3C 145%", "is outside 0 % to 100 %"),
        ("reading 'cure room' 21.3C --done 09:30", "in the future"),
    ] {
        holds(
            &world.at("2026-11-20 09:00").run(line).refused(2),
            &[wanted],
        );
    }
    assert_eq!(world.now().run("verify").code, 0);
}

// How far two columns of dew points lie apart, in order.
fn apart(pairs: impl Iterator<Item = (f64, f64)>) -> Vec<f64> {
    let mut all: Vec<f64> = pairs.map(|(a, b)| (a - b).abs()).collect();
    all.sort_by(f64::total_cmp);
    all
}

fn celsius(mc: i64) -> ThermodynamicTemperature {
    ThermodynamicTemperature::new::<degree_celsius>(f64::from(i32::try_from(mc).unwrap()) / 1e3)
}

fn damp(cpct: i64) -> Ratio {
    Ratio::new::<percent>(f64::from(i32::try_from(cpct).unwrap()) / 1e2)
}

#[test]
fn the_hourly_series_comes_in_with_its_gaps_and_by_its_clock_too() {
    let world = World::new();
    room(&world, "30m");
    world.at(NOW).run("room declare attic --every 30m").good();
    let by_stamp = r#"[logger]
code = "S-1"
revision = "1"
room = "cure room"
temperature_unit = "F"
humidity_unit = "%"
missing = ["NA"]

[file]
delimiter = "comma"
header = true
time = ["time_hour"]
time_format = "RFC 3339"
temperature = "temp"
humidity = "humid"
"#;
    adopt(&world, by_stamp);
    // The same hours as the clock on the wall showed them.
    let by_clock = by_stamp
        .replace("S-1", "W-1")
        .replace("cure room", "attic")
        .replace(
            "[\"time_hour\"]",
            "[\"year\", \"month\", \"day\", \"hour\"]",
        )
        .replace("RFC 3339\"", "YYYY MM DD hh\"\nzone = \"America/New_York\"");
    adopt(&world, &by_clock);
    let name = series("ts_nycflights13_jfk_q1_hourly.csv");
    let text = std::fs::read_to_string(&name).unwrap();
    let taken = take(&world, "S-1", "jfk.csv", &text);
    assert_eq!(
        (&taken["taken"], &taken["left_out"]),
        (&json!(2_155), &json!(0))
    );
    let gaps: Vec<u64> = said(&taken)
        .into_iter()
        .filter(|(_, what)| *what == "gap")
        .map(|(l, _)| l)
        .collect();
    // Three hours that were not read.
    assert_eq!(gaps.len(), 3);
    // A byte less at the end: one file is not taken over twice, whoever's it is.
    let other = take(&world, "W-1", "wall.csv", text.trim_end());
    assert_eq!(other["taken"], 2_155);
    assert!(said(&other).iter().any(|(_, what)| *what == "clock change"));
    let (stamped, walled) = (record(&world, "cure room"), record(&world, "attic"));
    assert_eq!(stamped, walled);

    // Dew points of what the record holds, beside the station's own column.
    let mut dews = BTreeMap::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let at = chrono::DateTime::parse_from_rfc3339(cells[9])
            .unwrap()
            .timestamp_millis();
        let dew = ThermodynamicTemperature::new::<degree_fahrenheit>(cells[6].parse().unwrap());
        dews.insert(at, dew.get::<degree_celsius>());
    }
    let by_law = |dew: &dyn Fn(i64, i64) -> Option<f64>| {
        let known = stamped.iter();
        apart(known.filter_map(|(at, (t, h))| Some((dew(*t, h.unwrap())?, dews[at]))))
    };
    // The station gives humidity and dew point over water, which is the second law's way at any temperature, and the
    // first one's above freezing.
    let over_water = by_law(&|t, h| {
        let dew = magnus_dew_point(celsius(t), damp(h), &MAGNUS_WMO).unwrap();
        Some(dew.get::<degree_celsius>())
    });
    let above_freezing = by_law(&|t, h| {
        let dew = dew_point(celsius(t), damp(h))
            .unwrap()
            .get::<degree_celsius>();
        (dew >= 0.0).then_some(dew)
    });
    assert_eq!((over_water.len(), above_freezing.len()), (2_155, 502));
    for (apart, most) in [(over_water, 0.2), (above_freezing, 0.5)] {
        let at = |permille: usize| apart[(apart.len() - 1) * permille / 1_000];
        // The station writes tenths of a degree, and whole ones in rain and fog, which is when it is warm in winter: half
        // a degree then. A few rows disagree with themselves by more.
        assert!(at(500) < 0.03, "{}", at(500));
        assert!(at(940) < most, "{}", at(940));
        assert!(
            at(990) < 1.0 && at(1_000) < 2.0,
            "{} {}",
            at(990),
            at(1_000)
        );
    }
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn the_two_days_of_minutes_come_in_with_their_flags_and_give_the_same_dew_point_by_two_laws() {
    let world = World::new();
    room(&world, "1m");
    world.at(NOW).run("room declare attic --every 1m").good();
    adopt(
        &world,
        r#"[logger]
code = "M-1"
revision = "1"
room = "cure room"
temperature_unit = "C"
humidity_unit = "%"

[file]
delimiter = "comma"
header = true
time = ["Year", "DOY", "MST"]
time_format = "YYYY DDD hhmm"
zone = "-07:00"
temperature = "Air Temperature [deg C]"
humidity = "Rel Humidity [%]"
"#,
    );
    adopt(
        &world,
        r#"[logger]
code = "A-1"
revision = "1"
room = "attic"
temperature_unit = "C"
humidity_unit = "%"
missing = ["-9999.9"]

[file]
delimiter = "comma"
header = true
time = ["year", "month", "day", "hour_utc", "minute"]
time_format = "YYYY MM DD hh mm"
zone = "UTC"
temperature = "air_temp_c"
temperature_flag = "qc_temp"
humidity = "rh_pct"
humidity_flag = "qc_rh"
good = ["0"]
"#,
    );
    let minutes = std::fs::read_to_string(series("ts_midc_20181018_1min.csv")).unwrap();
    let taken = take(&world, "M-1", "minutes.csv", &minutes);
    assert_eq!(
        (&taken["taken"], &taken["remarks"]),
        (&json!(1_440), &json!([]))
    );
    // All flags of that day are good: three of them, and a sentinel, are set here.
    let cold = std::fs::read_to_string(series("ts_surfrad_alamosa_20160101_1min.csv")).unwrap();
    let mut lines: Vec<String> = cold.lines().map(str::to_owned).collect();
    for (line, cell, value) in [(11, 6, "1"), (12, 6, "2"), (13, 8, "1"), (14, 5, "-9999.9")] {
        let mut cells: Vec<&str> = lines[line - 1].split(',').collect();
        cells[cell] = value;
        lines[line - 1] = cells.join(",");
    }
    let taken = take(&world, "A-1", "cold.csv", &lines.join("\n"));
    assert_eq!(
        (&taken["taken"], &taken["left_out"]),
        (&json!(1_437), &json!(3))
    );
    assert_eq!(
        said(&taken),
        [
            (11, "flagged"),
            (12, "flagged"),
            (13, "no humidity"),
            (14, "no reading")
        ]
    );
    let magnus = |t: ThermodynamicTemperature, h: Ratio| {
        let dew = magnus_dew_point(t, h, &MAGNUS_WMO).unwrap();
        dew.get::<degree_celsius>()
    };
    // What is kept gives the dew point of what stood in the file: nothing is lost on the way.
    for (name, text, [t, h], count) in [
        ("cure room", &minutes, [4, 5], 1_440),
        ("attic", &cold, [5, 7], 1_436),
    ] {
        let kept = record(&world, name);
        let lines = text
            .lines()
            .skip(1)
            .map(|l| l.split(',').collect::<Vec<_>>());
        let ours = kept
            .values()
            .filter_map(|(t, h)| Some(magnus(celsius(*t), damp((*h)?))));
        let cell = |cells: &[&str], at: usize| cells[at].parse::<f64>().unwrap();
        let theirs: Vec<f64> = lines
            .enumerate()
            .filter(|(at, _)| name != "attic" || !(9..13).contains(at))
            .map(|(_, l)| {
                let air = ThermodynamicTemperature::new::<degree_celsius>(cell(&l, t));
                magnus(air, Ratio::new::<percent>(cell(&l, h)))
            })
            .collect();
        let apart = apart(ours.zip(theirs));
        assert_eq!(apart.len(), count, "{name}");
        assert!(apart[count - 1] < 0.001, "{name}: {}", apart[count - 1]);
    }
    // The warm day by the product's own law: within the step of the sensors, 0.1 K.
    let warm = record(&world, "cure room");
    let apart = apart(warm.values().map(|(t, h)| {
        let (t, h) = (celsius(*t), damp(h.unwrap()));
        (
            dew_point(t, h).unwrap().get::<degree_celsius>(),
            magnus(t, h),
        )
    }));
    assert!(apart[apart.len() - 1] < 0.1, "{}", apart[apart.len() - 1]);
}
