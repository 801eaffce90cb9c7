//! What a key costs at ten thousand pieces, against the same key at a hundred, in one run.
//!
//! `cargo bench --bench screens` prints for each place and key the time from the key to the drawn page (the model's change
//! and the drawing, 250x70 cells; the terminal itself is left out), and what the ledger's own thread needs for its answer.
//! The two shops are asked in turn, so that whatever else the machine does falls on both.

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

use hangtime::clock::Clock;
use hangtime::screens::keys::Key;
use hangtime::screens::model::{Model, Shop};
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::store::Store;
use hangtime::screens::theme::{Form, Theme};
use hangtime::screens::update::{reload, update};
use hangtime::screens::view::view;
use hangtime::shop::words::{PieceKind, StepKind};
use hangtime::units::System;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use shop::{Bench, coat, rack};
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// Bodies on a rack.
const RACK: u32 = 24;

/// How often each key is pressed in each shop.
const TIMES: usize = 101;

const SIZE: (u16, u16) = (250, 70);

struct Desk {
    model: Model,
    store: Store,
    answers: Vec<(&'static str, Duration)>,
    _folder: tempfile::TempDir,
}

impl Desk {
    /// A shop of so many bodies on racks, a third of them white, sealed, or with their first clears.
    fn of(pieces: u32) -> Self {
        let mut bench = Bench::new();
        let mix = bench.mix(
            "clear",
            &[("L-2207", 1_500), ("T-0931", 500)],
            "2026-03-10 06:00",
        );
        for n in 0..pieces.div_ceil(RACK) {
            let name = format!("R{}", n + 1);
            let count = RACK.min(pieces - n * RACK);
            bench.add(
                (PieceKind::Body, "B", n * RACK + 1, count),
                ("Cittern", "G9", 3),
                Some(&name),
                "2026-03-09 10:00",
            );
            if n % 3 == 0 {
                continue;
            }
            bench.work(rack(&name), StepKind::Receive, "2026-03-10 06:10", "PR");
            bench.work(rack(&name), StepKind::Mask, "2026-03-10 06:20", "PR");
            bench.deed(rack(&name), coat(None), "2026-03-10 07:00", "AB");
            bench.deed(rack(&name), coat(None), "2026-03-10 08:05", "AB");
            if n % 3 == 2 {
                bench.deed(rack(&name), coat(Some(mix)), "2026-03-10 09:10", "AB");
            }
        }
        let now = bench.at("2026-03-10 09:44");
        let shop = Shop {
            name: bench.ledger.name().to_owned(),
            demo: true,
            calendar: bench.calendar(),
            station: "S1".to_owned(),
            system: System::Metric,
            theme: Theme {
                form: Form::Dark,
                shapes: true,
            },
        };
        let mut desk = Self {
            model: Model::new(shop, Some("AB".to_owned()), now),
            store: Store::new(bench.ledger, Clock::starting_at(now), "S1"),
            answers: Vec::new(),
            _folder: bench.folder,
        };
        let effects = update(&mut desk.model, Msg::Size(SIZE.0, SIZE.1));
        desk.answer(effects);
        let effects = reload(&mut desk.model);
        desk.answer(effects);
        desk
    }

    fn answer(&mut self, effects: Vec<Effect>) {
        let mut queue: VecDeque<Effect> = effects.into();
        while let Some(effect) = queue.pop_front() {
            let what = match &effect {
                Effect::LoadFloor { .. } => "the floor",
                Effect::LoadPlace { .. } => "a place",
                Effect::Preview { .. } => "the line of a rack's coat",
                _ => "else",
            };
            let begin = Instant::now();
            let msg = self.store.answer(effect);
            self.answers.push((what, begin.elapsed()));
            if let Some(msg) = msg {
                queue.extend(update(&mut self.model, msg));
            }
        }
    }

    /// The time from a key to the drawn page; what it asks of the ledger is answered afterwards, as on its own thread.
    fn press(&mut self, key: Key) -> Duration {
        let area = Rect::new(0, 0, SIZE.0, SIZE.1);
        let mut buffer = Buffer::empty(area);
        let begin = Instant::now();
        let effects = update(&mut self.model, Msg::Key(key));
        view(&self.model, self.model.now, area, &mut buffer);
        let took = begin.elapsed();
        self.answer(effects);
        took
    }
}

fn quantile(list: &mut [Duration], share: usize) -> Duration {
    list.sort_unstable();
    list[(list.len() - 1) * share / 100]
}

fn ms(took: Duration) -> f64 {
    took.as_secs_f64() * 1_000.0
}

fn main() {
    let mut small = Desk::of(100);
    let mut large = Desk::of(10_000);
    println!("key to drawn page, {TIMES} times each, 250x70 cells, in ms");
    println!(
        "{:<34} {:>10} {:>10} {:>10} {:>10}",
        "place and key", "100: med", "10k: med", "10k: p99", "times"
    );
    let rounds: [(&str, Key, &[Key]); 9] = [
        ("floor, Down", Key::F(3), &[Key::Down]),
        ("floor, Tab (filter)", Key::F(3), &[Key::Tab]),
        ("floor, o (order)", Key::F(3), &[Key::Char('o')]),
        (
            "floor, a letter of / (find)",
            Key::F(3),
            &[Key::Char('/'), Key::Char('7'), Key::Esc],
        ),
        (
            "a digit on the scan line",
            Key::F(3),
            &[Key::Char('7'), Key::Backspace],
        ),
        ("booth, Down", Key::F(2), &[Key::Down]),
        ("shift, Down", Key::F(4), &[Key::Down]),
        ("shift, Tab (part)", Key::F(4), &[Key::Tab]),
        ("wall, Down (page)", Key::F(8), &[Key::Down]),
    ];
    for (name, place, keys) in rounds {
        let (mut few, mut many) = (Vec::new(), Vec::new());
        for desk in [&mut small, &mut large] {
            desk.press(place);
        }
        for n in 0..TIMES {
            let key = keys[n % keys.len()];
            few.push(small.press(key));
            many.push(large.press(key));
        }
        for desk in [&mut small, &mut large] {
            desk.press(Key::Esc);
        }
        let (few_med, med, p99) = (
            quantile(&mut few, 50),
            quantile(&mut many, 50),
            quantile(&mut many, 99),
        );
        println!(
            "{name:<34} {:>10.3} {:>10.3} {:>10.3} {:>10.1}",
            ms(few_med),
            ms(med),
            ms(p99),
            ms(med) / ms(few_med)
        );
    }
    println!("\nthe ledger's own thread, median of its answers in ms");
    for what in ["the floor", "a place"] {
        let of = |desk: &Desk| -> Vec<Duration> {
            desk.answers
                .iter()
                .filter(|(w, _)| *w == what)
                .map(|(_, d)| *d)
                .collect()
        };
        println!(
            "{what:<34} {:>10.3} {:>10.3}",
            ms(quantile(&mut of(&small), 50)),
            ms(quantile(&mut of(&large), 50))
        );
    }
}
