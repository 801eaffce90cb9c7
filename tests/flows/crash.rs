//! Power cuts while a rack is saved: all of it or nothing, and the program can say which.

use crate::world::{World, holds};
use serde_json::json;
use std::process::Stdio;
use std::time::Duration;

const ROUNDS: u64 = 40;

// Delays from none to `longest`: a fixed sequence that looks random, so that a round can be played again.
fn delays(longest: Duration) -> impl Iterator<Item = Duration> {
    let longest = u64::try_from(longest.as_micros()).unwrap();
    let mut state: u64 = 0x5eed_1e55;
    std::iter::repeat_with(move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        Duration::from_micros((state >> 33) % longest)
    })
}

// How long the command takes when it is left alone, on this machine and under its load of now.
#[allow(
    clippy::disallowed_methods,
    reason = "a stopwatch, so that the cuts fall before, into and after the save on slow machines, too"
)]
fn time_of(command: &mut std::process::Command) -> Duration {
    let start = std::time::Instant::now();
    assert!(command.stdout(Stdio::null()).status().unwrap().success());
    start.elapsed()
}

#[test]
fn s35_a_rack_is_saved_whole_or_not_at_all_whenever_the_power_goes() {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 2, "2026-03-06 08:00", "");
    let coat = "coat --rack R12 --kind clear --mix 1 --amount 1.152L --include all";
    let whole = time_of(&mut world.at("2026-03-09 09:31").process(coat));
    let longest = (whole * 2).max(Duration::from_millis(30));
    let actions = "SELECT count(*) FROM action";
    let coats = "SELECT count(*) FROM entry WHERE kind = 'coat/1'";
    let mut saved_rounds = 0;
    let mut kept_drafts = 0;
    for (round, delay) in (0..ROUNDS).zip(delays(longest)) {
        let before = (world.count(actions), world.count(coats));
        // A new day for each round, so that nothing else speaks against the coat.
        let day = crate::world::moment("2026-03-10 09:31")
            + chrono::TimeDelta::days(i64::try_from(round).unwrap());
        let at = day.format("%Y-%m-%d %H:%M").to_string();
        let mut child = world
            .at(&at)
            .process(coat)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(delay);
        child.kill().unwrap();
        child.wait().unwrap();

        let last = world.at(&at).json("last");
        let after = (world.count(actions), world.count(coats));
        let saved = match (after.0 - before.0, after.1 - before.1) {
            (0, 0) => false,
            (1, 24) => true,
            other => panic!("round {round}, {delay:?}: {other:?} actions and coats"),
        };
        let verified = world.at(&at).json("verify");
        assert_eq!(verified["differences"], json!([]), "round {round}");

        // What `last` says agrees with the record.
        let newest = after.0;
        if saved {
            saved_rounds += 1;
            assert_eq!(last["not_saved"], json!(null), "round {round}: {last}");
            assert_eq!(
                last["last_saved"]["action"], newest,
                "round {round}: {last}"
            );
        } else if last["not_saved"].is_null() {
            // Cut off before the draft was kept: the last save is the one before.
            assert_eq!(
                last["last_saved"]["action"], newest,
                "round {round}: {last}"
            );
        } else {
            kept_drafts += 1;
            let line = last["not_saved"]["line"].as_str().unwrap();
            holds(line, &["R12", "24 pieces", "09:31"]);
            let said = world.at(&at).run("last").good().out;
            holds(&said, &["not saved - re-enter?", line]);
            // The words that are kept save it.
            let words: Vec<String> =
                serde_json::from_value(last["not_saved"]["words"].clone()).unwrap();
            let again = crate::world::run(world.home(), &words).json();
            assert_eq!(again["saved"], true, "round {round}");
            assert_eq!(again["pieces"].as_array().unwrap().len(), 24);
            assert_eq!(world.at(&at).json("last")["not_saved"], json!(null));
        }
    }
    // The cuts fall before and after the save; otherwise the rounds would have shown little.
    assert!(
        (1..ROUNDS).contains(&saved_rounds),
        "{saved_rounds} of {ROUNDS} rounds were saved, {kept_drafts} left a draft"
    );
}

#[test]
fn s35_after_a_save_the_last_one_is_named() {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 2, "2026-03-06 08:00", "");
    let saved = world.at("2026-03-06 09:31").json("coat --rack R12");
    let last = world.at("2026-03-06 09:40").json("last");
    assert_eq!(last["last_saved"]["action"], saved["action"]);
    let said = world.at("2026-03-06 09:40").run("last").good().out;
    holds(
        &said,
        &["last saved", "R12", "clear coat 3", "24 pieces", "09:31"],
    );
    // Each station has its own last one.
    let said = world
        .at("2026-03-06 09:40")
        .station("booth-2")
        .run("last")
        .good()
        .out;
    holds(&said, &["nothing was saved at station booth-2"]);
}

#[test]
fn a_kept_command_reads_back_as_it_was_typed() {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 2);
    world.bring_to("--rack R12", 1, "2026-03-06 08:00", "");
    // Killed while another terminal has the turn: the draft is kept, the save has not begun.
    let turn = world.ledger().with_extension("ledger.turn");
    let held = std::fs::File::options()
        .read(true)
        .write(true)
        .open(&turn)
        .unwrap();
    held.lock().unwrap();
    let mut child = world
        .at("2026-03-06 09:40")
        .process("coat --rack R12 --ended '6 Mar 09:31' --note 'half a turn \"more\" air'")
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let draft = world.ledger().with_extension("ledger.draft-desk");
    for _ in 0..400 {
        if draft.exists() {
            break;
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    drop(held);
    assert!(draft.exists());
    let said = world.at("2026-03-06 09:45").run("last").good().out;
    holds(
        &said,
        &[
            "not saved - re-enter?",
            "'6 Mar 09:31'",
            "'half a turn \"more\" air'",
        ],
    );
    let command = said
        .lines()
        .last()
        .unwrap()
        .trim()
        .strip_prefix("hangtime ")
        .unwrap();
    let again = crate::world::run(world.home(), &crate::world::split(command)).json();
    assert_eq!(again["saved"], true);
    let card = world.at("2026-03-06 09:45").json("piece show B-0201");
    assert_eq!(card["last_wet"], "2026-03-06T09:31:00.000-05:00");
}
