//! What keeps the record for years: backups and their recovery, copies for inspection, signed months.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stderr,
    missing_docs,
    dead_code,
    unreachable_pub,
    reason = "tests"
)]

mod backups;
mod copies;
mod formulas;
mod months;
mod papers;
mod solvent_year;
#[path = "../flows/world.rs"]
mod world;

use std::path::{Path, PathBuf};
use world::World;

/// A shop with a month of solvent: a rack brought to five clear coats, one of them undone.
fn lived_in() -> World {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 3);
    world.bring_to(
        "--rack R12",
        3,
        "2026-03-06 10:00",
        "--mix 1 --amount 144mL",
    );
    world
        .at("2026-03-06 12:30")
        .run("coat --rack R12 --coat 4 --mix 1 --amount 144mL --include all")
        .good();
    world.at("2026-03-06 12:32").run("undo").good();
    world
}

/// The files of a folder by name, in order.
fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// Those of them that bear a backup's name.
fn backups_in(folder: &Path) -> Vec<PathBuf> {
    files(folder)
        .into_iter()
        .filter(|f| f.ends_with(".backup"))
        .map(|f| folder.join(f))
        .collect()
}
