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
        assert!(!done.stdout.is_empty(), "{command} says nothing");
        run += 1;
    }
    assert!(
        run >= 12,
        "the tour has {run} commands; was its form changed?"
    );
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
