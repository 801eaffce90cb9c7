//! A real ledger and a shift that ends late: a coat at 22:40 on the last day of a month, the handover at 23:00, and the next
//! shift that takes it at 05:10, by a wall clock that is faked for the built program.

use crate::faked_clock::faked;
use crate::pty::Terminal;
use crate::script::{Key, Look, Run, Scan, Step, play};
use crate::seat::SMALL;
use crate::world::{World, program, sample, split};
use portable_pty::CommandBuilder;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

// The environment in which the wall clock starts at a moment of UTC and runs on.
fn env<'a>(library: &'a Path, utc: &'a str) -> [(&'static str, String); 4] {
    [
        ("LD_PRELOAD", library.display().to_string()),
        ("FAKETIME", format!("@{utc}")),
        ("FAKETIME_DONT_FAKE_MONOTONIC", "1".to_owned()),
        ("TZ", "UTC".to_owned()),
    ]
}

fn run(world: &World, library: &Path, utc: &str, line: &str) -> String {
    let mut command = program(world.home());
    for (name, value) in env(library, utc) {
        command.env(name, value);
    }
    let done = command
        .args(["--as", "MK"])
        .args(split(line))
        .output()
        .unwrap();
    let (out, err) = (
        done.stdout,
        String::from_utf8_lossy(&done.stderr).into_owned(),
    );
    assert!(done.status.success(), "{line}: {err}");
    String::from_utf8(out).unwrap()
}

fn sits(world: &World, library: &Path, utc: &str, person: &str, steps: &[Step]) {
    let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_hangtime"));
    command.env_clear();
    command.env("TERM", "xterm-256color");
    command.env("LANG", "C.UTF-8");
    command.env("HOME", world.home());
    for (name, value) in env(library, utc) {
        command.env(name, value);
    }
    command.cwd(world.home());
    command.args(["--station", "bench", "--as", person, "screen", "floor"]);
    let mut terminal = Terminal::start(SMALL.1, SMALL.0, command);
    play(&mut terminal, steps, &BTreeMap::new());
    assert_eq!(terminal.ends(), 0);
}

/// The clock jumped for the machine: somebody looks at another one first.
const LATE: &[Step] = &[
    (Look, &["CLOCK NOT CONFIRMED"]),
    (Run("clock confirm"), &["clock confirmed by"]),
    (Scan("R1"), &["Rack R1", "What was done?"]),
    (Key("c"), &["Rack R1 - seal", "2 pieces - ended 22:40"]),
    (Key("a"), &["how many mL in all?"]),
    (Key("9"), &["in all? 9_"]),
    (Key("6"), &["in all? 96_", "96 mL from mix 1"]),
    (Key("Enter"), &["saved: Rack R1", "ended 22:40"]),
    (Key("Enter"), &["the floor"]),
    (Key("q"), &[]),
];

const GIVES: &[Step] = &[
    (Look, &["CLOCK NOT CONFIRMED"]),
    (Run("clock confirm"), &["clock confirmed by"]),
    (
        Run("handover give"),
        &["saved: given by MK", "wet since 22:40"],
    ),
    (Key("Esc"), &["the floor"]),
    (Key("q"), &[]),
];

const TAKES: &[Step] = &[
    (Look, &["CLOCK NOT CONFIRMED"]),
    (Run("clock confirm"), &["clock confirmed by"]),
    (Run("handover take"), &["taken by DP", "(action"]),
    (Key("Esc"), &["the floor"]),
    (Run("month 2026-03"), &["2026-03"]),
    (Key("Esc"), &["the floor"]),
    (Key("q"), &[]),
];

#[test]
fn a_coat_late_on_the_last_day_is_handed_over_and_stays_in_its_month() {
    let Some(library) = faked() else {
        return;
    };
    let world = World::empty();
    let lines = [
        "open --name 'Late bench' --zone America/New_York".to_owned(),
        format!("material adopt '{}'", sample("materials/slr.toml")),
        format!("recipe adopt '{}'", sample("recipes/g9.toml")),
        "person add DP finisher".to_owned(),
        "lot receive S-1 SLR 20L".to_owned(),
        "mix make sealer S-1=2L".to_owned(),
        "piece add B-1 --kind body --model Arden --recipe G9 --area 0.40m2 --rack R1 --hook 1"
            .to_owned(),
        "piece add B-2 --kind body --model Arden --recipe G9 --area 0.40m2 --rack R1 --hook 2"
            .to_owned(),
        "receive --rack R1".to_owned(),
        "mask --rack R1".to_owned(),
    ];
    // 18:00 in New York on 31 March is 22:00 UTC; each a minute after the one before.
    for (minute, line) in lines.iter().enumerate() {
        let utc = format!("2026-03-31 22:{minute:02}:00");
        run(&world, &library, &utc, line);
    }
    sits(&world, &library, "2026-04-01 02:40:00", "MK", LATE);
    sits(&world, &library, "2026-04-01 03:00:00", "MK", GIVES);
    sits(&world, &library, "2026-04-01 09:10:00", "DP", TAKES);

    let after = "2026-04-01 09:15:00";
    let json = |line: &str| -> Value {
        serde_json::from_str(&run(&world, &library, after, &format!("{line} --json"))).unwrap()
    };
    // The coat is March's and of the production day that ended at 05:00; April has none.
    let march = json("month 2026-03 --by production-day");
    assert_eq!(march["lines"].as_array().unwrap().len(), 1, "{march}");
    assert_eq!(march["lines"][0]["key"], "2026-03-31", "{march}");
    let april = json("month 2026-04 --by production-day");
    assert_eq!(april["lines"], serde_json::json!([]), "{april}");
    let list = json("handover list").to_string();
    assert!(list.contains("DP"), "{list}");
    // Nothing of it was written under a doubted clock: it was confirmed before each part.
    let deviations = json("deviations").to_string();
    assert!(!deviations.contains("clock"), "{deviations}");
    assert_eq!(json("verify")["differences"], serde_json::json!([]));
}
