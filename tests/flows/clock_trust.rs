//! A wall clock that is wrong shortens no wait and reorders nothing: played with a faked wall clock over the machine's
//! true one.

use crate::faked_clock::faked;
use crate::world::{Answer, World, holds, program, sample, split};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// A shop by the system's clock, each command of which is told how far the wall clock is off.
struct Shop {
    world: World,
    library: PathBuf,
}

impl Shop {
    fn new() -> Option<Self> {
        let shop = Self {
            library: faked()?,
            world: World::empty(),
        };
        shop.run("+0", "open --name 'Bench and hook' --zone America/New_York")
            .good();
        for line in [
            format!("material adopt '{}'", sample("materials/clr.toml")),
            format!("material adopt '{}'", sample("materials/slr.toml")),
            format!("recipe adopt '{}'", sample("recipes/g9.toml")),
        ] {
            shop.run("+0", &line).good();
        }
        Some(shop)
    }

    fn run(&self, off: &str, line: &str) -> Answer {
        run_faked(self.world.home(), &self.library, off, None, line)
    }

    fn json(&self, off: &str, line: &str) -> Value {
        self.run(off, &format!("{line} --json")).json()
    }

    // A body with one sealer coat that ended so many minutes ago, by a right clock.
    fn sealed(&self, serial: &str, minutes: u32) {
        self.run(
            "+0",
            &format!("piece add {serial} --kind body --model Arden --recipe G9 --area 0.40m2"),
        )
        .good();
        for (before, deed) in [
            (120, "done receive"),
            (110, "done mask"),
            (0, "coat --kind seal"),
        ] {
            self.run(
                "+0",
                &format!("{deed} {serial} --ended-ago {}m", minutes + before),
            )
            .good();
        }
    }
}

fn run_faked(home: &Path, library: &Path, off: &str, zone: Option<&str>, line: &str) -> Answer {
    let words = split(line);
    let mut command = program(home);
    if let Some(zone) = zone {
        command.env("TZ", zone);
    }
    let output = command
        .env("LD_PRELOAD", library)
        .env("FAKETIME", off)
        .env("FAKETIME_DONT_FAKE_MONOTONIC", "1")
        .env("HANGTIME_INITIALS", "JD")
        .args(&words)
        .output()
        .unwrap();
    Answer {
        words: words.join(" "),
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn outlook(shop: &Shop, off: &str, serial: &str) -> String {
    let card = shop.json(off, &format!("piece show {serial}"));
    card["outlook"].as_str().unwrap().to_owned()
}

#[test]
fn a_right_clock_is_confirmed_and_says_nothing() {
    let Some(shop) = Shop::new() else { return };
    let told = shop.json("+0", "clock");
    assert_eq!(told["clock"], "confirmed");
    assert!(told["reckoned"].is_string(), "{told}");
    assert_eq!(shop.json("+0", "ready")["clock"], "confirmed");
    let lines = shop.run("+0", "ready").good().out;
    assert!(!lines.to_lowercase().contains("clock"), "{lines}");
    // A minute is no difference: clocks that are set over the network are drawn along.
    assert_eq!(shop.json("+60", "ready")["clock"], "confirmed");
}

#[test]
fn a_clock_set_forward_reaches_no_time() {
    let Some(shop) = Shop::new() else { return };
    shop.sealed("B-0001", 10);
    assert_eq!(outlook(&shop, "+0", "B-0001"), "waiting");
    for off in ["+3h", "+365d"] {
        assert_eq!(outlook(&shop, off, "B-0001"), "unknown", "{off}");
        let ready = shop.json(off, "ready --for seal --for clear");
        assert_eq!(ready["clock"], "not confirmed");
        assert_eq!(ready["ready_now"], json!([]));
        let piece = &ready["racks"][0]["pieces"][0];
        assert_eq!(piece["reasons"][0]["rule"], "clock", "{piece}");
        let lines = shop.run(off, "ready --for seal --for clear").good().out;
        holds(
            &lines,
            &[
                "CLOCK NOT CONFIRMED",
                "since action",
                "clock not confirmed",
                "0 ready",
            ],
        );
        let floor = shop.json(off, "floor");
        assert_eq!(floor[0]["clock"], "not confirmed");
        assert_eq!(shop.run(off, "clock").code, 1);
    }
    // The clock comes right again and nothing was written by the wrong one: nothing is doubted.
    assert_eq!(shop.json("+0", "clock")["clock"], "confirmed");
    assert_eq!(outlook(&shop, "+0", "B-0001"), "waiting");
}

#[test]
fn a_clock_set_back_shortens_no_wait_and_takes_no_ready_for_granted() {
    let Some(shop) = Shop::new() else { return };
    shop.sealed("B-0002", 300);
    assert_eq!(outlook(&shop, "+0", "B-0002"), "ready");
    let ready = shop.json("-1h", "ready --for seal --for clear");
    assert_eq!(ready["clock"], "not confirmed");
    assert_eq!(ready["ready_now"], json!([]));
    holds(
        ready["clock_doubted"].as_str().unwrap(),
        &["it stands 59 min", "before action"],
    );
}

#[test]
fn a_deed_in_doubt_is_recorded_as_doubtful_until_a_named_person_confirms_the_clock() {
    let Some(shop) = Shop::new() else { return };
    shop.sealed("B-0003", 300);
    let saved = shop.json("+2h", "note B-0003 --why 'looks dry'");
    assert_eq!(
        (&saved["saved"], &saved["clock"]),
        (&json!(true), &json!("not confirmed"))
    );
    let list = shop.json("+0", "entries B-0003");
    let note = list.as_array().unwrap().last().unwrap();
    assert_eq!(note["clock"], "doubtful");
    // The clock is right again, but the record holds a doubtful stretch.
    assert_eq!(shop.json("+0", "ready")["clock"], "not confirmed");
    let told = shop.json("+0", "clock confirm");
    assert_eq!(told["clock"], "confirmed");
    assert_eq!(shop.json("+0", "ready")["clock"], "confirmed");
    assert_eq!(outlook(&shop, "+0", "B-0003"), "ready");
    let lines = shop.run("+0", "entries").good().out;
    holds(
        &lines,
        &["[clock not confirmed]", "clock confirmed (action"],
    );
    assert_eq!(shop.json("+0", "verify")["differences"], json!([]));
}

#[test]
fn after_a_restart_and_twelve_silent_hours_nothing_tells_and_a_reading_does() {
    let Some(shop) = Shop::new() else { return };
    // The machine was on the whole time: its own time tells that the clock is right.
    assert_eq!(shop.json("+0", "ready")["clock"], "confirmed");
    // Another start of the machine.
    shop.world.change("UPDATE boot SET id = 'another start'");
    assert_eq!(shop.json("+11h", "ready")["clock"], "confirmed");
    let answer = shop.run("+13h", "ready --json");
    let ready = answer.json();
    assert_eq!(ready["clock"], "not confirmed");
    holds(
        ready["clock_doubted"].as_str().unwrap(),
        &["the machine was restarted", "13 h"],
    );
    // A logger has a clock of its own: a reading of the last hours tells.
    shop.run("+0", "room declare 'cure room' --every 15m")
        .good();
    shop.world.change("UPDATE boot SET id = 'another start'");
    let told: Value = serde_json::from_str(&shop.run("+12h", "clock --json").out).unwrap();
    let soon = told["now"].as_str().unwrap().to_owned();
    let file = shop
        .world
        .file("logger.csv", &format!("time,temperature\n{soon},22.0\n"));
    let before = shop.run(
        "+13h",
        &format!("room readings 'cure room' '{}'", file.display()),
    );
    before.good();
    shop.run("+13h", "clock confirm").good();
    shop.world.change("UPDATE boot SET id = 'another start'");
    assert_eq!(shop.json("+20h", "ready")["clock"], "confirmed");
}

#[test]
fn a_coat_by_a_clock_three_hours_slow_is_an_order_conflict_with_the_right_time_offered() {
    let Some(shop) = Shop::new() else { return };
    // Coat 1 two hours ago, coat 2 ten minutes ago.
    shop.sealed("B-0004", 120);
    shop.run("+0", "coat B-0004 --kind seal --ended-ago 10m")
        .good();
    let before = shop.json("+0", "entries B-0004");
    let said = shop.run("-3h", "coat B-0004 --kind clear").refused(2);
    holds(
        &said,
        &[
            "order conflict: this clock says",
            "a coat on B-0004 ended",
            "nothing was saved",
            "--ended '20",
        ],
    );
    assert_eq!(shop.json("+0", "entries B-0004"), before);
    // Both times, three hours less ten minutes apart; the offered one is taken although this clock lies before it.
    let offered = said
        .split("--ended '")
        .nth(1)
        .unwrap()
        .split('\'')
        .next()
        .unwrap();
    let saved = shop.json(
        "-3h",
        &format!("coat B-0004 --kind clear --ended '{offered}'"),
    );
    assert_eq!(saved["saved"], true);
    let early: Vec<&str> = saved["deviations"]
        .as_array()
        .unwrap()
        .iter()
        .map(|d| d["text"].as_str().unwrap())
        .collect();
    assert!(early.iter().all(|t| !t.contains('-')), "{early:?}");
    let entries = shop.json("-3h", "entries B-0004");
    let newest = entries.as_array().unwrap().last().unwrap();
    assert_eq!(newest["clock"], "doubtful");
    // A note of an older deed, with its own time, is late and no conflict.
    shop.run("-3h", "note B-0004 --why 'seen earlier' --ended-ago 5h")
        .good();
}

#[test]
fn a_wrong_stretch_is_corrected_by_entries_that_stand_for_the_old_ones() {
    let Some(shop) = Shop::new() else { return };
    shop.sealed("B-0005", 400);
    // Coat 2 was laid now, but written by a clock three hours slow, before which nothing lies on this body.
    let wrong = shop.json("-3h", "coat B-0005 --kind seal --another");
    let action = wrong["action"].as_i64().unwrap();
    assert_eq!(outlook(&shop, "+0", "B-0005"), "unknown");
    shop.run("+0", "clock confirm").good();
    // By its written time it has waited three hours.
    assert_eq!(outlook(&shop, "+0", "B-0005"), "ready");
    let done = shop.json(
        "+0",
        &format!("clock correct --from {action} --to {action} --by 3h --why 'set wrong after a power cut'"),
    );
    assert_eq!(done["moved"].as_array().unwrap().len(), 1);
    assert_eq!(outlook(&shop, "+0", "B-0005"), "waiting");
    let lines = shop.run("+0", "entries B-0005").good().out;
    holds(
        &lines,
        &[
            "TAKEN BACK",
            "clock corrected by +3 h: written",
            "set wrong after a power cut",
        ],
    );
    let verify = shop.json("+0", "verify");
    assert_eq!(verify["differences"], json!([]));
    // Facts of the shop are only marked.
    let room = shop.json("+0", "room declare 'cure room' --every 15m")["action"].clone();
    let done = shop.json(
        "+0",
        &format!("clock correct --from {room} --to {room} --by -1h --why 'fast'"),
    );
    assert_eq!(
        (
            done["moved"].as_array().unwrap().len(),
            done["marked"].as_array().unwrap().len()
        ),
        (0, 1)
    );
    for bad in [
        "--from 5 --to 4 --by 1h",
        "--from 1 --to 999 --by 1h",
        "--from 1 --to 1 --by 0m",
    ] {
        shop.run("+0", &format!("clock correct {bad} --why x"))
            .refused(2);
    }
}

#[test]
fn a_terminal_with_no_zone_or_a_senseless_one_shows_shop_time() {
    let Some(shop) = Shop::new() else { return };
    let written_in = |zone: Option<&str>| {
        let answer = run_faked(shop.world.home(), &shop.library, "+0", zone, "clock --json").json();
        answer["newest_written"].clone()
    };
    let right = written_in(None);
    for zone in ["Nowhere/None", "", "UTC", ":/no/such/file"] {
        assert_eq!(written_in(Some(zone)), right, "{zone:?}");
    }
}

#[test]
fn a_start_in_1970_2038_or_9999_is_recorded_as_such() {
    let Some(library) = faked() else { return };
    for (at, year) in [
        ("@1970-01-01 00:00:10", "1970"),
        ("@2038-01-19 03:14:10", "2038"),
        ("@2199-12-30 00:00:00", "2199"),
        ("@9999-12-31 12:00:00", "9999"),
    ] {
        let world = World::empty();
        let run = |line: &str| run_faked(world.home(), &library, at, Some("UTC"), line);
        run("open --name Shop --zone UTC").good();
        let told = run("clock --json").json();
        assert!(told["now"].as_str().unwrap().starts_with(year), "{told}");
        assert_eq!(run("verify").code, 0);
    }
}

// A shop whose commands are given at absolute moments, each under another start of the machine, so that the wall clock
// is all there is.
fn at_moments() -> Option<(World, PathBuf)> {
    let library = faked()?;
    let world = World::empty();
    let run = |line: &str| {
        run_faked(
            world.home(),
            &library,
            "@2026-03-08 00:00:00",
            Some("UTC"),
            line,
        )
        .good()
    };
    run("open --name 'Bench and hook' --zone America/New_York");
    run(&format!(
        "material adopt '{}'",
        sample("materials/clr.toml")
    ));
    run(&format!("recipe adopt '{}'", sample("recipes/g9.toml")));
    run("piece add B-0031 --kind body --model Arden --recipe G9 --area 0.40m2");
    Some((world, library))
}

#[test]
fn daylight_time_comes_and_goes_and_no_wait_is_shorter_for_it() {
    // The coat, the question, when it is ready and what is left, in UTC. In spring the shop's clocks show 01:20 and
    // 03:10; in autumn 01:40 and then 01:10.
    for (coat, question, ready_at, left) in [
        (
            "03-08 06:20:00",
            "03-08 07:10:00",
            "2026-03-08T03:50:00.000-04:00",
            40,
        ),
        (
            "11-01 05:40:00",
            "11-01 06:10:00",
            "2026-11-01T02:10:00.000-05:00",
            60,
        ),
    ] {
        let Some((world, library)) = at_moments() else {
            return;
        };
        let run = |at: &str, line: &str| {
            world.change("UPDATE boot SET id = 'another start'");
            run_faked(
                world.home(),
                &library,
                &format!("2026-{at}"),
                Some("UTC"),
                line,
            )
        };
        run(coat, "clock confirm").good();
        run(coat, "coat B-0031 --kind clear --reason 1").good();
        let card = run(question, "piece show B-0031 --json").json();
        assert_eq!(card["clock"], "confirmed", "{card}");
        let plan = run(
            question,
            "coat B-0031 --kind clear --another --preview --json",
        )
        .json();
        let interval = plan["pieces"][0]["objections"]
            .as_array()
            .unwrap()
            .iter()
            .find(|o| o["rule"] == "interval")
            .unwrap();
        assert_eq!(interval["until"], ready_at);
        holds(
            interval["text"].as_str().unwrap(),
            &[&format!("{left} min left")],
        );
    }
}

#[test]
fn the_last_hour_of_a_month_in_shop_time_belongs_to_it() {
    let Some((world, library)) = at_moments() else {
        return;
    };
    world.change("UPDATE boot SET id = 'another start'");
    let run = |line: &str| {
        run_faked(
            world.home(),
            &library,
            "@2026-11-01 03:30:00",
            Some("UTC"),
            line,
        )
    };
    run("clock confirm").good();
    run("lot receive L-221 CLR 20L").good();
    run("coat B-0031 --kind clear --lot L-221 --amount 48mL --reason 1").good();
    let materials = |month: &str| run(&format!("month {month} --json")).json()["materials"].clone();
    assert_eq!(materials("2026-10")[0]["volume_ul"], 48_000);
    assert_eq!(materials("2026-11"), json!([]));
    let entries = run("entries B-0031 --json").json();
    assert_eq!(
        entries.as_array().unwrap().last().unwrap()["day"],
        "2026-10-31"
    );
}
