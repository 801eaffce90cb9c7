//! The built program under hostile words, files and a record that other hands wrote.

use super::world::World;
use hangtime::shop::text::unruly;

/// What a terminal, a spreadsheet or an eye could be led astray with.
const HOSTILE: &[&str] = &[
    "\u{1b}]0;owned\u{7}",
    "\u{1b}[2J\u{1b}[H",
    "\u{1b}]52;c;aGk=\u{7}",
    "\u{9b}31m",
    "\u{9d}0;x\u{9c}",
    "\u{202e}0110-B",
    "\u{2066}x\u{2069}",
    "a\u{200b}b",
    "a\u{2028}b",
    "x\u{feff}y",
    "\u{e0041}",
    "x\r\nB-0001",
    "a\t=1+1",
];

fn harmless(words: &str, out: &str) {
    let bad = out.chars().find(|c| *c != '\n' && unruly(*c));
    assert_eq!(bad, None, "{words}: {out:?}");
}

#[test]
fn hostile_words_of_a_command_are_refused_and_said_harmlessly() {
    let shop = World::new();
    shop.piece("2026-03-09 07:00", "B-0101", "G9", "");
    let entries = shop.count("SELECT count(*) FROM entry");
    for bad in HOSTILE {
        for command in [
            vec!["note", "B-0101", "--why", bad],
            vec!["hold", "B-0101", "--why", bad],
            vec!["piece", "show", bad],
            vec!["coat", bad],
            vec!["move", "B-0101", "--to-rack", bad],
            vec!["ready", "--at", bad],
            vec!["working", "film", bad],
            vec!["work", bad],
            vec!["month", bad],
        ] {
            let mut words: Vec<String> = command.iter().map(|w| (*w).to_owned()).collect();
            words.extend(["--as".to_owned(), "AB".to_owned()]);
            if command.first() != Some(&"ready") {
                words.extend(["--at".to_owned(), "2026-03-09 08:00".to_owned()]);
            }
            words.extend(["--ledger".to_owned(), shop.ledger().display().to_string()]);
            let answer = super::world::run(shop.home(), &words);
            assert_eq!(answer.code, 2, "{command:?}: {}{}", answer.out, answer.err);
            harmless(&format!("{command:?}"), &answer.out);
            harmless(&format!("{command:?}"), &answer.err);
        }
    }
    assert_eq!(shop.count("SELECT count(*) FROM entry"), entries);
}

#[test]
fn a_note_of_ten_megabytes_is_refused_with_its_length() {
    let shop = World::new();
    shop.piece("2026-03-09 07:00", "B-0101", "G9", "");
    // One argument of a process holds at most 128 KiB on Linux; a file carries the rest.
    let long = "x".repeat(100_000);
    let said = shop
        .at("2026-03-09 08:00")
        .run(&format!("note B-0101 --why {long}"))
        .refused(2);
    assert!(said.contains("100000 characters"), "{}", &said[..200]);
    let huge = format!(
        "serial,kind,model,recipe,area\nB-0102,body,{},G9,0.24 m2\n",
        "y".repeat(10_000_000)
    );
    let file = shop.file("huge.csv", &huge);
    let said = shop
        .at("2026-03-09 08:00")
        .run(&format!("piece import {}", file.display()))
        .refused(2);
    assert!(said.contains("huge.csv:2"), "{}", &said[..200]);
    assert!(said.len() < 2_000, "{} bytes of message", said.len());
    assert_eq!(shop.count("SELECT count(*) FROM piece"), 1);
}

#[test]
fn a_spreadsheet_formula_in_a_name_stays_text() {
    let shop = World::new();
    let csv = "serial,kind,model,recipe,area\nB-0101,body,\"=HYPERLINK(\"\"x\"\")\",G9,0.24 m2\nB-0102,body,@sum,G9,0.24 m2\n";
    let file = shop.file("formula.csv", csv);
    shop.at("2026-03-09 07:00")
        .run(&format!("piece import {}", file.display()))
        .good();
    let model = shop.at("2026-03-09 08:00").json("piece show B-0101")["model"].clone();
    assert_eq!(model, "=HYPERLINK(\"x\")");
}

#[test]
fn a_record_that_other_hands_wrote_cannot_steer_the_terminal() {
    let shop = World::new();
    shop.piece("2026-03-09 07:00", "B-0101", "G9", "");
    for note in ["first", "second"] {
        shop.at("2026-03-09 08:00")
            .run(&format!("note B-0101 --why {note}"))
            .good();
    }
    shop.at("2026-03-09 08:05")
        .run("hold B-0101 --why look")
        .good();
    for bad in HOSTILE {
        let json = serde_json::json!({ "why": bad })
            .to_string()
            .replace('\'', "''");
        let raw = bad.replace('\'', "''");
        let other_hands = rusqlite::Connection::open(shop.ledger()).unwrap();
        other_hands
            .execute_batch(&format!(
                "DROP TRIGGER IF EXISTS entry_stays_update;
                 UPDATE entry SET body = '{json}' WHERE kind IN ('note/1', 'held/1');
                 UPDATE piece SET model = '{raw}', holds = '[[1,' || json_quote('{raw}') || ']]';
                 UPDATE stay SET rack = '{raw}', room = '{raw}';"
            ))
            .unwrap();
        drop(other_hands);
        for command in [
            "entries",
            "entries --piece B-0101",
            "piece show B-0101",
            "floor",
            "ready",
            "deviations",
            "verify",
            "working film B-0101",
            "working ready B-0101",
        ] {
            let answer = shop.at("2026-03-09 09:00").run(command);
            harmless(command, &answer.out);
            harmless(command, &answer.err);
        }
    }
}
