//! Faults of the machine, brought about on a real file system and held against what the program had acknowledged.
//!
//! In every run of the tests a little of each row is done; `HANGTIME_FAULTS=ci` does the counts that a change must come
//! through, `HANGTIME_FAULTS=full` those of a night. `HANGTIME_FAULTS_ROWS=R-02,R-13` does only these.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::string_slice,
    clippy::disallowed_methods,
    dead_code,
    unreachable_pub,
    missing_docs,
    reason = "tests"
)]

mod backups;
mod calls;
mod damage;
mod harness;
mod kills;
mod live;
mod memory;
mod own_files;
mod places;
mod power;
#[path = "../support/terminal.rs"]
mod pty;
mod screens;
mod slow;
mod surroundings;
mod versions;
#[path = "../flows/world.rs"]
mod world;

use harness::{Row, Size};
use std::io::Write;

type Work = fn(Size) -> Row;

/// Every row in the order in which it runs.
const ROWS: &[(&str, Work)] = &[
    ("R-01", kills::at_random),
    ("R-01b", live::killed),
    ("R-18a", kills::sixteen_writers),
    ("R-18b", places::held),
    ("R-18c", live::sixteen),
    ("R-19", live::thinking),
    ("R-20", live::folding),
    ("R-02", calls::killed),
    ("R-03", calls::fault_once),
    ("R-03b", live::disk_fault),
    ("R-04", calls::fault_for_ever),
    ("R-05", calls::no_room),
    ("R-06", slow::disk),
    ("R-07", calls::while_recovering),
    ("R-11", places::full_disk),
    ("R-12", places::not_writable),
    ("R-13", damage::bits),
    ("R-14", damage::pages),
    ("R-15", damage::write_ahead),
    ("R-23", damage::copied),
    ("R-24", damage::hostile),
    ("R-09", power::copied_at_once),
    ("R-10", power::shut_down),
    ("R-08", own_files::written),
    ("R-25a", versions::newer),
    ("R-25b", versions::older),
    ("R-26", backups::beside_writers),
    ("R-27a", backups::cut_backup),
    ("R-27b", backups::cut_recovery),
    ("R-16", live::files_change),
    ("R-17", live::replaced),
    ("U-02", screens::resized),
    ("U-03", screens::pasted),
    ("U-06", live::signals),
    ("U-07", surroundings::strange),
    ("U-08", screens::slow_terminal),
    ("R-21", memory::short),
    ("R-22", places::starved),
];

// Past the capture of the test harness: which rows ran and which did not is said in every run.
fn say(line: &str) {
    let mut out = std::io::stdout().lock();
    writeln!(out, "{line}").unwrap();
    out.flush().unwrap();
}

#[test]
fn no_fault_of_the_machine_loses_what_was_acknowledged() {
    let size = Size::of_now();
    let only = std::env::var("HANGTIME_FAULTS_ROWS").ok();
    let wanted = |id: &str| {
        only.as_ref()
            .is_none_or(|list| list.split(',').any(|w| w == id))
    };
    say(&format!("faults, counts: {size:?}"));
    let mut rows = Vec::new();
    for (id, work) in ROWS {
        if wanted(id) {
            let row = harness::timed(|| work(size));
            assert_eq!(row.id, *id);
            say(&row.line());
            for broken in row.broken.iter().take(20) {
                say(&format!("{}: {broken}", row.id));
            }
            rows.push(row);
        }
    }
    assert!(!rows.is_empty(), "no such row: {only:?}");
    let sum = |what: fn(&Row) -> usize| rows.iter().map(what).sum::<usize>();
    let skipped = rows.iter().filter(|r| r.skipped.is_some()).count();
    if skipped > 0 {
        say(&format!("{skipped} of {} rows were not run", rows.len()));
    }
    say(&format!(
        "{} faults, acknowledged {}, lost {}",
        sum(|r| r.faults),
        sum(|r| r.acknowledged),
        sum(|r| r.lost)
    ));
    let broken: Vec<&str> = rows
        .iter()
        .filter(|r| !r.broken.is_empty() || r.lost > 0)
        .map(|r| r.id)
        .collect();
    assert!(broken.is_empty(), "rows that do not hold: {broken:?}");
}
