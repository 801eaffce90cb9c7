//! The sample shop, loaded through the same commands that a shop uses.

use super::{Answer, Cli, Desk, Trouble, data_folder, run};
use crate::ledger::Ledger;
use crate::shop::text::words as words_of;
use clap::Parser;
use serde_json::json;
use std::path::{Path, PathBuf};

/// The sample's files, as they stand in the project: file name and bytes.
const FILES: &[(&str, &str)] = &[
    (
        "materials/clr.toml",
        include_str!("../../sample/materials/clr.toml"),
    ),
    (
        "materials/slr.toml",
        include_str!("../../sample/materials/slr.toml"),
    ),
    (
        "materials/thn.toml",
        include_str!("../../sample/materials/thn.toml"),
    ),
    (
        "materials/rtd.toml",
        include_str!("../../sample/materials/rtd.toml"),
    ),
    (
        "materials/opf.toml",
        include_str!("../../sample/materials/opf.toml"),
    ),
    (
        "materials/dys.toml",
        include_str!("../../sample/materials/dys.toml"),
    ),
    (
        "materials/cln.toml",
        include_str!("../../sample/materials/cln.toml"),
    ),
    (
        "recipes/g9.toml",
        include_str!("../../sample/recipes/g9.toml"),
    ),
    (
        "recipes/p9.toml",
        include_str!("../../sample/recipes/p9.toml"),
    ),
    (
        "recipes/n8.toml",
        include_str!("../../sample/recipes/n8.toml"),
    ),
    ("pieces.csv", include_str!("../../sample/pieces.csv")),
    (
        "climate/booth.csv",
        include_str!("../../sample/climate/booth.csv"),
    ),
    (
        "climate/cure.csv",
        include_str!("../../sample/climate/cure.csv"),
    ),
];

/// The season: one command a line, with its clock, initials and station.
const SEASON: &str = include_str!("../../sample/season.txt");

/// Load the sample shop into a demo ledger.
#[derive(Debug, clap::Args)]
pub(super) struct Sample {}

impl Sample {
    #[allow(clippy::unused_self, reason = "all commands are run alike")]
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let path = match &desk.options.ledger {
            Some(path) => path.clone(),
            None => sample_path()?,
        };
        let lines = load(&path)?;
        let ledger = Ledger::open(&path)?;
        let (actions, head) = ledger.head()?;
        let line = format!(
            "sample shop loaded at {}: {lines} commands, {actions} actions (DEMO)",
            path.display()
        );
        desk.print(
            &json!({"ledger": path, "commands": lines, "actions": actions, "head": head}),
            &[line],
        )?;
        Ok(0)
    }
}

/// The sample's recipes and materials: file name and text.
pub(super) fn adoptable() -> impl Iterator<Item = (&'static str, &'static str)> {
    FILES
        .iter()
        .copied()
        .filter(|(name, _)| name.starts_with("materials/") || name.starts_with("recipes/"))
}

pub(super) fn sample_path() -> Result<PathBuf, Trouble> {
    data_folder().map(|f| f.join("sample.ledger"))
}

/// Plays the season into a new demo ledger through the command line's own code. The ledger gets its name last: a
/// half-loaded one is never taken for the sample.
pub(super) fn load(path: &Path) -> Result<usize, Trouble> {
    if path.exists() {
        return Err(Trouble::Input(format!(
            "{} exists already; give another file with --ledger, or remove it",
            path.display()
        )));
    }
    let system =
        |what: &'static str| move |e: std::io::Error| Trouble::System(format!("{what}: {e}"));
    let folder = path.with_extension("loading");
    if folder.exists() {
        std::fs::remove_dir_all(&folder)
            .map_err(system("an earlier half-loaded sample cannot be removed"))?;
    }
    std::fs::create_dir_all(&folder).map_err(system("the folder for the sample cannot be made"))?;
    for (name, text) in FILES {
        let file = folder.join(name);
        if let Some(parent) = file.parent() {
            std::fs::create_dir_all(parent)
                .map_err(system("the folder for the sample cannot be made"))?;
        }
        std::fs::write(&file, text).map_err(system("the sample's files cannot be written"))?;
    }
    let ledger = folder.join("sample.ledger");
    let mut count = 0;
    // Held open while the season is played: the last one to leave a ledger folds its write-ahead file, and that would
    // be done once a line.
    let mut held = None;
    for (number, line) in SEASON.lines().enumerate() {
        if line.trim().is_empty() || line.starts_with('#') {
            continue;
        }
        play(&ledger, &folder, line)
            .map_err(|e| Trouble::System(format!("season.txt:{}: {e}", number + 1)))?;
        if held.is_none() {
            held = Some(Ledger::open(&ledger)?);
        }
        count += 1;
    }
    drop(held);
    std::fs::rename(&ledger, path)
        .map_err(system("the sample ledger cannot be put in its place"))?;
    std::fs::remove_dir_all(&folder).map_err(system("the sample's files cannot be removed"))?;
    Ok(count)
}

// `2026-03-02T07:05:00-05:00 MK booth-1 | coat --rack R1 --mix 1`; `@` before a file name means the sample's own.
fn play(ledger: &Path, folder: &Path, line: &str) -> Result<u8, Trouble> {
    let fault = || Trouble::System("the line is not TIME INITIALS STATION | COMMAND".to_owned());
    let (head, command) = line.split_once('|').ok_or_else(fault)?;
    let head: Vec<&str> = head.split_whitespace().collect();
    let [at, initials, station] = head.as_slice() else {
        return Err(fault());
    };
    let mut words: Vec<String> = vec!["hangtime".to_owned()];
    for word in words_of(command).map_err(Trouble::System)? {
        match word.strip_prefix('@') {
            Some(name) => {
                if name.starts_with("climate/") {
                    logged_by(folder, name, at)?;
                }
                words.push(folder.join(name).display().to_string());
            }
            None => words.push(word),
        }
    }
    for (name, value) in [("--at", *at), ("--as", *initials), ("--station", *station)] {
        words.push(name.to_owned());
        words.push(value.to_owned());
    }
    words.push("--ledger".to_owned());
    words.push(ledger.display().to_string());
    let cli = Cli::try_parse_from(words).map_err(|e| Trouble::System(e.to_string()))?;
    let mut quiet = std::io::sink();
    run(
        &mut Desk {
            options: cli.options,
            out: &mut quiet,
            demo: std::cell::Cell::new(false),
            due: std::cell::RefCell::default(),
            beside: std::cell::RefCell::default(),
        },
        cli.command,
    )
}

// A logger's file holds what its logger had by then: rows later than the line's own clock are not in it yet. Both are
// in shop time, so that `2026-03-09 06:15` and the start of `2026-03-09T06:15:00-04:00` compare as text.
fn logged_by(folder: &Path, name: &str, at: &str) -> Result<(), Trouble> {
    let Some((_, text)) = FILES.iter().find(|(file, _)| *file == name) else {
        return Err(Trouble::System(format!("{name} is not in the sample")));
    };
    let now = at.get(..16).unwrap_or(at).replace('T', " ");
    let mut rows = text.lines();
    let mut had = format!("{}\n", rows.next().unwrap_or_default());
    for row in rows.take_while(|row| row.get(..16).is_some_and(|time| time <= now.as_str())) {
        had.push_str(row);
        had.push('\n');
    }
    std::fs::write(folder.join(name), had)
        .map_err(|e| Trouble::System(format!("the sample's files cannot be written: {e}")))
}
