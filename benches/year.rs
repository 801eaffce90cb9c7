//! A year of a factory, and what its solvent book costs.
//!
//! `cargo bench --bench year` makes an invented shop through the ledger's own deeds (no bulk path: every coat is planned and
//! saved as at the booth) and prints how long its month, its book, its year and the way down to an entry take. A day takes in
//! 250 bodies on racks of 50, each gets two seal and nine clear coats in four days, for 250 working days, which takes long.
//! `HANGTIME_YEAR_BODIES=25` (bodies a day) is a tenth of it, `HANGTIME_YEAR_DAYS` shortens it. The same numbers make the same
//! record, to the head. Before it prints, it holds the totals against the coats that it made, one by one, and the record
//! against itself.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    clippy::disallowed_methods,
    missing_docs,
    unreachable_pub,
    dead_code,
    reason = "a bench: it measures, and prints what it measured"
)]

#[path = "../tests/support/shop.rs"]
mod shop;

use chrono::{Datelike, Days, NaiveDate, Weekday};
use hangtime::ledger::{DeedWhat, Ledger, Months, NewLot};
use hangtime::reports::papers::{MOST_ROWS, papers, year};
use hangtime::reports::{book, limits};
use hangtime::shop::words::{PieceKind, StepKind};
use hangtime::units::{Mass, Moment, Volume};
use shop::{Bench, coat, rack, stamp, who};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// Bodies on a rack.
const RACK: u32 = 50;

/// What goes onto a body in one coat, in uL.
const PER_BODY: i64 = 48_000;

fn number(name: &str, usual: u32) -> u32 {
    std::env::var(name).map_or(usual, |n| n.parse().unwrap())
}

fn working_days(count: u32) -> Vec<NaiveDate> {
    let first = NaiveDate::from_ymd_opt(2026, 3, 10).unwrap();
    first
        .iter_days()
        .filter(|d| !matches!(d.weekday(), Weekday::Sat | Weekday::Sun))
        .take(usize::try_from(count).unwrap())
        .collect()
}

fn laid(mix: u32, bodies: u32) -> DeedWhat {
    let mut what = coat(Some(mix));
    if let DeedWhat::Coat { amount, .. } = &mut what {
        *amount = Some(Volume(i64::from(bodies) * PER_BODY));
    }
    what
}

// The racks that were taken in on each day, with their bodies.
struct Year {
    bench: Bench,
    racks: Vec<Vec<(String, u32)>>,
    coats: BTreeMap<String, i64>,
}

impl Year {
    fn new() -> Self {
        let mut bench = Bench::new();
        let at = bench.at("2026-03-09 10:00");
        for (lot, material) in [("C-YEAR", "CLR"), ("T-YEAR", "THN"), ("S-YEAR", "SLR")] {
            let new = NewLot::of(lot, material, Volume(60_000_000_000));
            bench
                .ledger
                .receive_lot(&new, at, &who("MB"), &stamp(at))
                .unwrap();
        }
        Self {
            bench,
            racks: Vec::new(),
            coats: BTreeMap::new(),
        }
    }

    fn day(&mut self, day: NaiveDate, bodies: u32) {
        let at = |time: &str| format!("{day} {time}");
        let age = self.racks.len();
        let mut new = Vec::new();
        for n in 0..bodies.div_ceil(RACK) {
            let name = format!("D{age}-{n}");
            let count = RACK.min(bodies - n * RACK);
            let first = u32::try_from(age).unwrap() * bodies + n * RACK + 1;
            self.bench.add(
                (PieceKind::Body, "Y", first, count),
                ("Cittern", "G9", 3),
                Some(&name),
                &at("05:30"),
            );
            new.push((name, count));
        }
        self.racks.push(new);
        // Each day's work by the clock: the racks of today are sealed, those of the three days before get a set each.
        let litres = i64::from(bodies) * 40 + 2_000;
        let sealer = self.bench.mix(
            "sealer",
            &[("S-YEAR", litres / 4), ("T-YEAR", litres / 12)],
            &at("05:40"),
        );
        let clear = self.bench.mix(
            "clear 3:1",
            &[("C-YEAR", litres), ("T-YEAR", litres / 3)],
            &at("05:45"),
        );
        let of = |year: &Self, ago: usize| -> Vec<(String, u32)> {
            age.checked_sub(ago)
                .map_or_else(Vec::new, |n| year.racks[n].clone())
        };
        for (name, _) in of(self, 0) {
            self.bench
                .work(rack(&name), StepKind::Receive, &at("06:00"), "PR");
            self.bench
                .work(rack(&name), StepKind::Mask, &at("06:10"), "PR");
        }
        for ago in 2..=3 {
            for (name, _) in of(self, ago) {
                let sand = DeedWhat::Sand {
                    kind: None,
                    removed: None,
                    grit: Some("P400".to_owned()),
                };
                self.bench.deed(rack(&name), sand, &at("06:30"), "SK");
            }
        }
        for (time, mix, ago) in [
            ("07:00", sealer, 0),
            ("08:05", sealer, 0),
            ("09:00", clear, 1),
            ("09:10", clear, 2),
            ("09:20", clear, 3),
            ("10:40", clear, 1),
            ("10:50", clear, 2),
            ("11:00", clear, 3),
            ("12:20", clear, 1),
            ("12:30", clear, 2),
            ("12:40", clear, 3),
        ] {
            for (name, count) in of(self, ago) {
                let saved = self
                    .bench
                    .deed(rack(&name), laid(mix, count), &at(time), "AB");
                assert_eq!(saved.pieces.len(), usize::try_from(count).unwrap());
                let month = day.format("%Y-%m").to_string();
                *self.coats.entry(month).or_default() += i64::from(count);
            }
        }
    }
}

fn timed<T>(what: &str, ask: impl Fn() -> T) -> T {
    let mut times: Vec<Duration> = Vec::new();
    let mut last = None;
    for _ in 0..3 {
        let begin = Instant::now();
        last = Some(ask());
        times.push(begin.elapsed());
    }
    times.sort_unstable();
    println!("{what:<44} {:>10.1} ms", times[1].as_secs_f64() * 1_000.0);
    last.unwrap()
}

// Every total is held against the coats that were made: as many uses of each lot, and masses that add up to them.
fn held(year: &Year, ledger: &Ledger, months: &Months) {
    let all: i64 = year.coats.values().sum();
    assert_eq!(
        i64::try_from(ledger.count_uses(months).unwrap()).unwrap(),
        2 * all
    );
    for (month, coats) in &year.coats {
        let one = Months::one(month).unwrap();
        let uses = ledger.uses(&one).unwrap();
        assert_eq!(i64::try_from(uses.len()).unwrap(), 2 * coats, "{month}");
        let volume: i64 = uses.iter().map(|u| u.volume.0).sum();
        assert_eq!(volume, coats * PER_BODY, "{month}");
        let mut voc = Mass(0);
        for used in &uses {
            let sheet = ledger.lot_material(&used.lot).unwrap();
            for (counted, mass) in sheet.masses(used.volume) {
                if !counted.counts.exempt && !counted.counts.water {
                    voc.0 += mass.0;
                }
            }
        }
        assert_eq!(ledger.month(month).unwrap().totals.voc, voc, "{month}");
    }
    let report = ledger.verify(None).unwrap();
    assert_eq!(report.differences, Vec::<String>::new());
}

fn main() {
    let bodies = number("HANGTIME_YEAR_BODIES", 250);
    let days = working_days(number("HANGTIME_YEAR_DAYS", 250));
    let begin = Instant::now();
    let mut made = Year::new();
    for day in &days {
        made.day(*day, bodies);
    }
    let coats: i64 = made.coats.values().sum();
    println!(
        "{} days of {bodies} bodies: {coats} coats in {:.0} s, head {}",
        days.len(),
        begin.elapsed().as_secs_f64(),
        made.bench.ledger.head().unwrap().1
    );
    let last = days.last().unwrap().checked_add_days(Days::new(1)).unwrap();
    let now: Moment = made.bench.at(&format!("{last} 08:00"));
    let month = days.last().unwrap().format("%Y-%m").to_string();
    let twelve = Months::twelve(&month).unwrap();
    let ledger = &made.bench.ledger;
    held(&made, ledger, &twelve);
    timed("month", || ledger.month(&month).unwrap());
    timed("twelve months", || ledger.sums_of(&twelve).unwrap());
    timed("book of a month", || {
        book::book(ledger, &month, now).unwrap()
    });
    let one = Months::one(&month).unwrap();
    timed("figures of which a limit is reached: none", || {
        book::reached(ledger, &month, now).unwrap()
    });
    timed("uses of a month, by lot and mix", || {
        ledger.used_groups(&one).unwrap()
    });
    timed("uses of twelve months, by lot and mix", || {
        ledger.used_groups(&twelve).unwrap()
    });
    timed("uses of a month, counted", || {
        ledger.count_uses(&one).unwrap()
    });
    timed("uses of a month, by day", || {
        ledger.used_by_day(&one).unwrap()
    });
    timed("coats of a month without an amount", || {
        ledger.uncounted_coats(&one).unwrap()
    });
    timed("entries of a month", || ledger.entries_of(&one).unwrap());
    let period = year("2026", &month).unwrap();
    timed("papers of the year", || {
        papers(ledger, &period, (now, now), MOST_ROWS).unwrap()
    });
    // A limit of which a share is reached.
    let limit = limits::NewLimit::solvent(&book::Of::Voc, false, "1kg").unwrap();
    limit
        .enter(&mut made.bench.ledger, "bench", &who("MB"), &stamp(now))
        .unwrap();
    let ledger = &made.bench.ledger;
    timed("figures of which a limit is reached: one", || {
        book::reached(ledger, &month, now).unwrap()
    });
}
