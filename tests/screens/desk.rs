//! A person at a terminal, without the terminal: keys go in, messages go round through the real ledger, cells come out.

use crate::shop::Bench;
use hangtime::clock::Clock;
use hangtime::ledger::Ledger;
use hangtime::screens::keys::Key;
use hangtime::screens::model::{Model, Note, Shop};
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::store::Store;
use hangtime::screens::theme::{Form, Theme};
use hangtime::screens::update::{reload, update};
use hangtime::screens::view::view;
use hangtime::units::{Moment, System};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::collections::VecDeque;
use std::fmt::Write as _;

pub struct Desk {
    pub model: Model,
    pub store: Store,
    pub quit: bool,
    pub path: std::path::PathBuf,
    folder: tempfile::TempDir,
}

pub fn shop(bench: &Bench, theme: Theme) -> Shop {
    Shop {
        name: bench.ledger.name().to_owned(),
        demo: bench.ledger.demo(),
        calendar: bench.calendar(),
        station: "S1".to_owned(),
        system: System::Metric,
        theme,
    }
}

pub const COLOUR: Theme = Theme {
    form: Form::Dark,
    shapes: true,
};

impl Desk {
    pub fn sit(bench: Bench, now: Moment, person: Option<&str>) -> Self {
        let shop = shop(&bench, COLOUR);
        let model = Model::new(shop, person.map(str::to_owned), now);
        let path = bench.ledger.path().to_path_buf();
        // The demo's clock runs on from its start; within a test it stays inside the minute.
        let store = Store::new(bench.ledger, Clock::starting_at(now), "S1");
        let mut desk = Self {
            model,
            store,
            quit: false,
            path,
            folder: bench.folder,
        };
        let first = desk.store.fate();
        desk.tell(first);
        let effects = reload(&mut desk.model);
        desk.act(effects);
        desk
    }

    /// The morning of the small shop, with AB at the terminal.
    pub fn morning() -> Self {
        let (bench, now) = Bench::morning();
        Self::sit(bench, now, Some("AB"))
    }

    /// The program ends and is started again at the same station.
    pub fn restart(self, person: Option<&str>) -> Self {
        let now = self.model.now;
        drop(self.store);
        let ledger = Ledger::open(&self.path).unwrap();
        let folder = self.folder;
        Self::sit(Bench { ledger, folder }, now, person)
    }

    /// Another look at the same ledger.
    pub fn ledger(&self) -> Ledger {
        Ledger::open(&self.path).unwrap()
    }

    /// Gives a message and plays all that follows from it.
    pub fn tell(&mut self, msg: Msg) {
        let effects = update(&mut self.model, msg);
        self.act(effects);
    }

    pub fn act(&mut self, effects: Vec<Effect>) {
        let mut queue: VecDeque<Effect> = effects.into();
        while let Some(effect) = queue.pop_front() {
            if effect == Effect::Quit {
                self.quit = true;
                return;
            }
            if let Some(msg) = self.store.answer(effect) {
                queue.extend(update(&mut self.model, msg));
            }
        }
    }

    pub fn scan(&mut self, text: &str) {
        self.tell(Msg::Burst(text.to_owned()));
    }

    pub fn key(&mut self, key: Key) {
        self.tell(Msg::Key(key));
    }

    /// Types characters, one key each.
    pub fn keys(&mut self, text: &str) {
        for c in text.chars() {
            self.key(Key::Char(c));
        }
    }

    /// The message line.
    pub fn note(&self) -> String {
        match &self.model.note {
            Some(Note::Said(t) | Note::Fault(t)) => t.clone(),
            None => String::new(),
        }
    }

    pub fn size(&mut self, columns: u16, rows: u16) {
        self.tell(Msg::Size(columns, rows));
    }

    pub fn buffer(&self) -> Buffer {
        let (columns, rows) = self.model.size;
        let area = Rect::new(0, 0, columns, rows);
        let mut buffer = Buffer::empty(area);
        view(&self.model, self.model.now, area, &mut buffer);
        buffer
    }

    /// The screen's text, one line a row, blanks at the end left out.
    pub fn text(&self) -> String {
        let rows = rows(&self.buffer());
        let rows: Vec<&str> = rows.iter().map(|row| row.trim_end()).collect();
        rows.join("\n") + "\n"
    }

    /// The screen's text, then its runs of style.
    pub fn snapshot(&self) -> String {
        format!("{}\n{}", self.text(), styles(&self.buffer()))
    }
}

pub fn rows(buffer: &Buffer) -> Vec<String> {
    (0..buffer.area.height)
        .map(|y| {
            (0..buffer.area.width)
                .map(|x| buffer[(x, y)].symbol())
                .collect()
        })
        .collect()
}

/// The runs of style that are not plain: row, columns, style.
pub fn styles(buffer: &Buffer) -> String {
    let mut out = String::new();
    for y in 0..buffer.area.height {
        let mut x = 0;
        while x < buffer.area.width {
            let style = buffer[(x, y)].style();
            let start = x;
            while x < buffer.area.width && buffer[(x, y)].style() == style {
                x += 1;
            }
            let mut words = Vec::new();
            if let Some(fg) = style.fg.filter(|c| *c != ratatui::style::Color::Reset) {
                words.push(format!("fg {fg}"));
            }
            if let Some(bg) = style.bg.filter(|c| *c != ratatui::style::Color::Reset) {
                words.push(format!("bg {bg}"));
            }
            if !style.add_modifier.is_empty() {
                words.push(format!("{:?}", style.add_modifier));
            }
            if !words.is_empty() {
                writeln!(out, "{y:>3} {start:>3}-{:<3} {}", x - 1, words.join(" ")).unwrap();
            }
        }
    }
    out
}
