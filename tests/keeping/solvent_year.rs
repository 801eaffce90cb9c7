//! A year's solvent, computed anew by a script of another hand from the exported lines alone: it agrees to the milligram.

use crate::world::{World, run, sample, split};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

/// Figures of one month by name; what is nothing is left out.
type Figures = BTreeMap<String, i64>;

fn python() -> bool {
    let found = Command::new("python3")
        .args(["-c", "import tomllib"])
        .output();
    let there = found.is_ok_and(|v| v.status.success());
    if !there {
        eprintln!(
            "python3 from 3.11 on is missing: the year's solvent was not recomputed by another hand"
        );
    }
    there
}

fn keep(into: &mut Figures, name: String, value: &Value) {
    let value = value.as_i64().unwrap();
    if value != 0 {
        into.insert(name, value);
    }
}

fn recomputed(folder: &Path) -> BTreeMap<String, Figures> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/keeping/recompute_solvent.py");
    let done = Command::new("python3").arg(script).arg(folder).output();
    let done = done.unwrap();
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let months: BTreeMap<String, BTreeMap<String, BTreeMap<String, Value>>> =
        serde_json::from_slice(&done.stdout).unwrap();
    let figures = |of: BTreeMap<String, BTreeMap<String, Value>>| {
        let mut out = Figures::new();
        for (name, value) in of.values().flatten() {
            keep(&mut out, name.clone(), value);
        }
        out
    };
    months.into_iter().map(|(m, of)| (m, figures(of))).collect()
}

fn by_the_program(answer: &Value) -> Figures {
    let mut out = Figures::new();
    for total in ["voc_mg", "hap_mg", "exempt_mg"] {
        keep(&mut out, total.to_owned(), &answer["totals"][total]);
    }
    for m in answer["materials"].as_array().unwrap() {
        let name = m["material"].as_str().unwrap().to_owned();
        keep(&mut out, name, &m["volume_ul"]);
    }
    for s in answer["substances"].as_array().unwrap() {
        let text = |field: &str| s[field].as_str().unwrap().to_owned();
        let name = [text("material"), text("sheet"), text("cas")].join("|");
        keep(&mut out, name, &s["mass_mg"]);
    }
    out
}

// A rack, two further bodies, and twelve months of coats from fresh and topped-up cups, cans, cleaning, closed pots and
// coats after midnight, with every kind of correction among them.
fn a_year(world: &World) -> Vec<String> {
    let mut months: Vec<String> = Vec::new();
    world.rack("2026-02-27 07:00", "R12", 201, 3);
    world.piece("2026-02-27 07:10", "B-0301", "G9", "");
    let newest = || world.count("SELECT max(seq) FROM entry WHERE kind LIKE 'coat/%'");
    let newest_action = || world.count("SELECT max(seq) FROM action");
    for k in 0..12_u32 {
        let (year, number) = if k < 10 { (2026, k + 3) } else { (2027, k - 9) };
        let month = format!("{year}-{number:02}");
        let day = |rest: &str| format!("{month}-{rest}");
        let do_at = |at: &str, words: &str| world.at(&day(at)).run(words).good();
        let coat = |at: &str, cup: &str, amount: &str| {
            let words = format!(
                "coat --rack R12 --touch-up --include all --reason later {cup} --amount {amount}"
            );
            let saved = world.at(&day(at)).json(&words);
            assert_eq!(saved["saved"], true, "{saved}");
        };
        let made = |at: &str, words: &str| {
            let made = world.at(&day(at)).json(&format!("mix make {words}"));
            made["mix"].as_i64().unwrap()
        };
        // A night shift's coat on the first calendar day belongs to the month before.
        if k > 0 {
            coat("01 03:10", "--lot L-221", "31.07mL");
        }
        let first = made(
            "02 07:00",
            &format!("M{k} L-221=1.{k:02}7L T-9=0.411L R-1=0.033L"),
        );
        coat(
            "02 08:00",
            &format!("--mix {first}"),
            &format!("144.{k:02}1mL"),
        );
        let measured = if k % 2 == 0 { "--left 0.907L" } else { "" };
        let second = made(
            "03 07:00",
            &format!("M{k}b T-9=0.213L --tops-up {first} {measured}"),
        );
        coat("03 08:00", &format!("--mix {second}"), "151.003mL");
        match k % 4 {
            0 => drop(do_at("03 08:05", "undo")),
            1 => {
                let words = format!("amend {} --amount 49.999mL --why misread", newest());
                do_at("04 08:00", &words);
            }
            2 => {
                let words = format!("relocate {} B-0301 --why 'wrong hook'", newest());
                do_at("04 08:00", &words);
            }
            _ => drop(do_at(
                "04 08:00",
                &format!("void {} --why 'not done'", newest()),
            )),
        }
        if k == 5 {
            let words = format!(
                "amend {} --began '2026-07-31 15:00' --ended '2026-07-31 15:10' --why 'it was the day before'",
                newest()
            );
            do_at("05 08:00", &words);
        }
        do_at(
            "10 16:00",
            &format!("stock use T-9 0.{k:02}3L --for cleaning"),
        );
        if k % 3 == 1 {
            do_at("10 16:05", "stock use T-9 1.5L --for cleaning");
            let words = format!("void --action {} --why twice", newest_action());
            do_at("11 08:00", &words);
        }
        do_at("12 16:00", &format!("pot close {second} --left 0.{k:02}9L"));
        // In the seventh month it is found that the can had another sheet all along, with a range in it.
        if k == 6 {
            let text = std::fs::read_to_string(sample("materials/clr.toml")).unwrap();
            let text = text
                .replace("\"rev 4\"", "\"rev 5\"")
                .replace("0.920 kg/L", "0.9337 kg/L")
                .replace("\"10.0 %\"", "[\"8.5 %\", \"11.3 %\"]")
                .replace("\"15.0 %\"", "[\"13.1 %\", \"15.0 %\"]");
            let file = world.file("clr5.toml", &text);
            do_at("13 08:00", &format!("material adopt '{}'", file.display()));
            do_at(
                "13 08:10",
                "lot rebind L-221 'rev 5' --why 'the can carries rev 5'",
            );
        }
        months.push(month);
    }
    months
}

#[test]
fn a_year_with_every_kind_of_correction_is_recomputed_from_its_lines_to_the_milligram() {
    if !python() {
        return;
    }
    let world = World::new();
    let months = a_year(&world);
    world.now().json("export copy");
    let folder = world.home().join("copy");
    let anew = recomputed(&folder);
    assert_eq!(anew.keys().cloned().collect::<Vec<_>>(), months);
    for month in &months {
        let answer = world.now().json(&format!("month {month}"));
        assert_eq!(by_the_program(&answer), anew[month], "{month}");
    }
    // The script sees what it claims to see: without the takings-back, the year is another one.
    let entries = std::fs::read_to_string(folder.join("entries.jsonl")).unwrap();
    let standing = entries.lines().filter(|l| !l.contains("\"void/1\""));
    let standing: Vec<&str> = standing.collect();
    std::fs::write(folder.join("entries.jsonl"), standing.join("\n")).unwrap();
    assert_ne!(recomputed(&folder), anew);
}

#[test]
fn the_season_of_the_sample_shop_is_recomputed_from_its_lines_to_the_milligram() {
    if !python() {
        return;
    }
    let world = World::empty();
    let on_it = |line: &str| {
        let answer = run(
            world.home(),
            &split(&format!("{line} --ledger sample.ledger --json")),
        );
        answer.json()
    };
    on_it("sample");
    on_it("export copy");
    let anew = recomputed(&world.home().join("copy"));
    assert_eq!(anew.keys().collect::<Vec<_>>(), ["2026-03"]);
    assert_eq!(by_the_program(&on_it("month 2026-03")), anew["2026-03"]);
}
