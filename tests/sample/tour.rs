//! The README's tour by role, run line by line as it is printed.

use std::path::Path;
use std::process::Command;

#[cfg(unix)]
#[test]
fn every_command_of_the_readme_s_tour_runs_and_answers() {
    let readme = include_str!("../../README.md");
    let tour = readme
        .split("## Five minutes")
        .nth(1)
        .unwrap()
        .split("\n## ")
        .next()
        .unwrap();
    let folder = tempfile::tempdir().unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_hangtime")).parent().unwrap();
    let path = format!(
        "{}:{}",
        program.display(),
        std::env::var("PATH").unwrap_or_default()
    );
    let mut run = 0;
    for line in tour.lines().filter(|l| l.starts_with("hangtime ")) {
        let command = line.split(" #").next().unwrap().trim();
        if command == "hangtime" {
            continue;
        }
        let done = Command::new("sh")
            .args(["-c", command])
            .env_clear()
            .env("PATH", &path)
            .env("HOME", folder.path())
            .env("HANGTIME_LEDGER", folder.path().join("sample.ledger"))
            .env("HANGTIME_INITIALS", "MK")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        // 1 is an answer, too: the sample's booth is below its limit.
        assert!(
            matches!(done.status.code(), Some(0 | 1)),
            "{command}: {said}"
        );
        assert!(said.is_empty(), "{command}: {said}");
        let out = String::from_utf8_lossy(&done.stdout).into_owned();
        assert!(!out.contains("are logged from it"), "{command}: {out}");
        assert!(!done.stdout.is_empty(), "{command} says nothing");
        run += 1;
    }
    assert!(
        run >= 12,
        "the tour has {run} commands; was its form changed?"
    );
}

#[cfg(unix)]
#[test]
fn a_shop_of_ones_own_is_begun_by_the_readme_s_lines_as_they_stand() {
    let readme = include_str!("../../README.md");
    let part = readme.split("## Your own shop").nth(1).unwrap();
    let block = part.split("```sh").nth(1).unwrap();
    let block = block.split("```").next().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_hangtime")).parent().unwrap();
    let done = Command::new("sh")
        .args(["-e", "-c", block])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_clear()
        .env("PATH", format!("{}:/usr/bin:/bin", program.display()))
        .env("HOME", folder.path())
        // What the tour has left behind.
        .env("HANGTIME_LEDGER", folder.path().join("sample.ledger"))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(0), "{said}");
    let lines = block.lines().filter(|l| l.starts_with("hangtime "));
    assert!(lines.count() >= 12, "was the form of the block changed?");
    assert!(!folder.path().join("sample.ledger").exists());
    let floor = Command::new(env!("CARGO_BIN_EXE_hangtime"))
        .arg("floor")
        .env_clear()
        .env("HOME", folder.path())
        .output()
        .unwrap();
    let floor = String::from_utf8_lossy(&floor.stdout).into_owned();
    assert!(floor.contains("B-0301"), "{floor}");
    // The booth is one: its rounds are asked for before anything is sprayed there.
    for ask in ["booths", "handover"] {
        let said = Command::new(env!("CARGO_BIN_EXE_hangtime"))
            .arg(ask)
            .env_clear()
            .env("HOME", folder.path())
            .env("HANGTIME_INITIALS", "MK")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&said.stdout).into_owned();
        assert!(
            said.contains("booth 1: booth check, never done"),
            "{ask}: {said}"
        );
    }
}

#[cfg(unix)]
#[test]
fn the_readme_s_lines_on_months_papers_and_people_run_in_the_sample() {
    let readme = include_str!("../../README.md");
    let folder = tempfile::tempdir().unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_hangtime")).parent().unwrap();
    let mut pin = String::new();
    let mut run = |command: &str| {
        let done = Command::new("sh")
            .args(["-c", command])
            .current_dir(folder.path())
            .env_clear()
            .env("PATH", format!("{}:/usr/bin:/bin", program.display()))
            .env("HOME", folder.path())
            .env("HANGTIME_LEDGER", folder.path().join("sample.ledger"))
            .env("HANGTIME_INITIALS", "MK")
            .env("HANGTIME_PIN", &pin)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        // 1 is an answer, too: a limit of the sample is of months that lie before its record.
        assert!(
            matches!(done.status.code(), Some(0 | 1)) && said.is_empty(),
            "{command}: {said}"
        );
        // What was drawn is typed where it is asked for.
        let out = String::from_utf8_lossy(&done.stdout).into_owned();
        if command.contains("person pin") {
            let digits = |w: &&str| w.len() == 6 && w.bytes().all(|b| b.is_ascii_digit());
            pin = out
                .split(|c: char| !c.is_alphanumeric())
                .find(digits)
                .unwrap()
                .to_owned();
        }
    };
    run("hangtime sample");
    for part in [
        "A month that is over is signed",
        "For a person who audits",
        "## People and PINs",
    ] {
        let block = readme.split(part).nth(1).unwrap();
        let block = block.split("```sh").nth(1).unwrap();
        let block = block.split("```").next().unwrap();
        let lines: Vec<&str> = block
            .lines()
            .filter(|l| l.starts_with("hangtime "))
            .collect();
        assert!(
            lines.len() >= 3,
            "{part}: was the form of the block changed?"
        );
        for line in lines {
            run(line.split(" #").next().unwrap().trim());
        }
    }
}

#[test]
fn every_command_stands_in_the_readme_s_table() {
    let readme = include_str!("../../README.md");
    let table = readme.split("## The commands").nth(1).unwrap();
    let table = table.split("\n\nDeeds on pieces").next().unwrap();
    let help = Command::new(env!("CARGO_BIN_EXE_hangtime"))
        .arg("--help")
        .output()
        .unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let list = help.split("Commands:\n").nth(1).unwrap();
    let list = list.split("\n\n").next().unwrap();
    let names: Vec<&str> = list
        .lines()
        .filter(|l| l.starts_with("  ") && !l.starts_with("   "))
        .filter_map(|l| l.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(names.len() > 50, "{names:?}");
    let missing: Vec<&&str> = names
        .iter()
        .filter(|name| {
            let stands = [format!("`{name}`"), format!("`{name} ")];
            !stands.iter().any(|s| table.contains(s.as_str()))
        })
        .collect();
    assert!(missing.is_empty(), "{missing:?} stand in no row");
}
