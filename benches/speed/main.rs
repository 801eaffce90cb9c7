//! Speed at the size of a factory: `cargo bench --bench speed` prints a table of P1 to P15.
//!
//! The plant (`plant.rs`) is made once and kept in `target/plant`. By itself it is a year of 250 bodies and 250 necks a day;
//! `HANGTIME_PLANT_DAYS=2500` makes it ten years, and then a year of it stands beside it, so that what should not grow with the
//! history is held against a tenth of it. `HANGTIME_PLANT_BODIES=25` makes it small. `HANGTIME_PLANT` is another folder. With
//! `HANGTIME_PLANT_ONCE=1` each line is measured once or a few times, where no time is judged.
//! Words after `--` choose lines: `cargo bench --bench speed -- P1 P4`.
//!
//! Each line is measured in turn with what it is held against, in one run, and medians are shown. Answers are compared before
//! times. A line whose baseline needs a program that is not here says so and has none.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::print_stdout,
    clippy::disallowed_methods,
    clippy::as_conversions,
    clippy::cast_precision_loss,
    clippy::missing_panics_doc,
    missing_docs,
    unreachable_pub,
    dead_code,
    reason = "a bench: it measures, and prints what it measured"
)]

mod air;
mod plant;
mod record;
mod screen;
#[path = "../../tests/support/shop.rs"]
mod shop;
mod sums;
mod table;
#[path = "../../tests/support/terminal.rs"]
mod terminal;

use hangtime::ledger::Ledger;
use plant::{Plant, Size, plant};
use std::path::{Path, PathBuf};
use std::time::Instant;
use table::Line;

/// What the lines are measured on.
#[derive(Debug)]
pub struct Ground {
    pub folder: PathBuf,
    pub plant: Plant,
    /// A tenth of the history, with as much in process.
    pub tenth: Option<Plant>,
    /// Whether it is only asked that each line can be measured and its answers hold.
    pub once: bool,
}

impl Ground {
    /// How often something is done: seldom where no time is judged.
    pub fn times(&self, often: usize) -> usize {
        if self.once { often.div_ceil(20) } else { often }
    }

    /// A copy of a plant that may be written to.
    pub fn copy(&self, of: &Plant) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir_in(&self.folder).unwrap();
        let path = folder.path().join("copy.ledger");
        Ledger::open(&of.path).unwrap().backup(&path).unwrap();
        (folder, path)
    }
}

/// The lines that something measures, and what does.
type Measure = (&'static [&'static str], fn(&Ground) -> Vec<Line>);

fn number(name: &str, usual: u32) -> u32 {
    std::env::var(name).map_or(usual, |n| n.parse().unwrap())
}

fn made(folder: &Path, size: Size) -> Plant {
    let begin = Instant::now();
    let path = folder.join(format!("{}-a-day-{}-days.ledger", size.bodies, size.days));
    let plant = plant(&path, size);
    let ledger = Ledger::open(&path).unwrap();
    let (actions, entries, uses) = plant.counts();
    let bytes = std::fs::metadata(&path).unwrap().len();
    println!(
        "plant: {} bodies and as many necks a day, {} days: {actions} actions, {entries} entries, {uses} uses, {} in process, {:.0} MB, entries {} ({:.0} s)",
        size.bodies,
        size.days,
        ledger.floor(plant.now, None).unwrap().len(),
        bytes as f64 / 1e6,
        &plant.entries()[..12],
        begin.elapsed().as_secs_f64()
    );
    plant
}

fn main() {
    let days = number("HANGTIME_PLANT_DAYS", 250);
    let size = |days| Size {
        bodies: number("HANGTIME_PLANT_BODIES", 250),
        days,
        minutes: number("HANGTIME_PLANT_MINUTES", 90),
    };
    let folder = std::env::var("HANGTIME_PLANT").unwrap_or_else(|_| "target/plant".to_owned());
    let folder = std::path::absolute(folder).unwrap();
    std::fs::create_dir_all(&folder).unwrap();
    let wanted: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a.starts_with('P'))
        .collect();
    let tenth = (days >= 500).then(|| made(&folder, size(days / 10)));
    let ground = Ground {
        plant: made(&folder, size(days)),
        tenth,
        folder,
        once: std::env::var_os("HANGTIME_PLANT_ONCE").is_some(),
    };
    println!("\n{}", table::header());
    let lines: [Measure; 12] = [
        (&["P1", "P2"], record::commit),
        (&["P3"], record::storm),
        (&["P4"], screen::start),
        (&["P5"], sums::board),
        (&["P6", "P12"], screen::others),
        (&["P7"], sums::rolling),
        (&["P8"], record::import),
        (&["P9"], record::verify),
        (&["P10"], record::backup),
        (&["P11"], screen::key),
        (&["P13"], sums::report),
        (&["P14", "P15"], air::air),
    ];
    for (ids, measure) in lines {
        if wanted.is_empty() || ids.iter().any(|id| wanted.iter().any(|w| w == id)) {
            for line in measure(&ground) {
                println!("{}", line.text());
            }
        }
    }
}
