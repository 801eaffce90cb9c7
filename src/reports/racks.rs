//! Racks: what hangs on them, what is begun there, what holds them back.
//!
//! *Not here*: moving anything, and what is ready by step ([`super::ready`]).

use super::piece_json::{line, piece};
use super::ready::{by_rack, mixed};
use super::together::ranges;
use crate::ledger::Seen;
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::shop::words::{StepKind, Word};
use crate::units::{Moment, System};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// A deed that was begun on some pieces of one rack and is not ended on them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenDeed {
    /// The rack; `None` for pieces without one.
    pub rack: Option<String>,
    /// Which deed.
    pub kind: StepKind,
    /// Since when.
    pub since: Moment,
    /// Initials of who is at it.
    pub person: String,
    /// Serials and hooks, in hook order.
    pub pieces: Vec<(String, Option<u32>)>,
}

impl OpenDeed {
    /// `R12: clear begun 14:05 by MK, not ended, hooks 1-24 (24 pieces)`.
    pub fn line(&self, at: Moment, calendar: &Calendar) -> String {
        let rack = self
            .rack
            .as_ref()
            .map_or_else(|| "no rack".to_owned(), |r| shown(r));
        let n = self.pieces.len();
        let s = if n == 1 { "" } else { "s" };
        let hooks: Vec<u32> = self.pieces.iter().filter_map(|(_, h)| *h).collect();
        let which = if hooks.len() == n && n > 0 {
            format!("hooks {} ({n} piece{s})", ranges(&hooks))
        } else {
            let names: Vec<String> = self.pieces.iter().map(|(p, _)| shown(p)).collect();
            names.join(", ")
        };
        format!(
            "{rack}: {} begun {} by {}, not ended, {which}",
            self.kind.word(),
            calendar.near(self.since, at),
            self.person
        )
    }

    /// The same for machines.
    pub fn json(&self, calendar: &Calendar) -> Value {
        json!({
            "rack": self.rack, "deed": self.kind.word(), "since": calendar.rfc3339(self.since), "by": self.person,
            "pieces": self.pieces.iter().map(|(s, h)| json!({"serial": s, "hook": h})).collect::<Vec<_>>(),
        })
    }
}

/// The deeds that are begun and not ended, the oldest first.
pub fn open_deeds(floor: &[Seen]) -> Vec<OpenDeed> {
    let mut open: BTreeMap<(Moment, Option<String>, StepKind, String), OpenDeed> = BTreeMap::new();
    for seen in floor {
        let Some(begun) = &seen.now.begun else {
            continue;
        };
        let place = seen.now.place();
        let rack = place.and_then(|p| p.rack.clone());
        open.entry((begun.at, rack.clone(), begun.kind, begun.person.clone()))
            .or_insert_with(|| OpenDeed {
                rack,
                kind: begun.kind,
                since: begun.at,
                person: begun.person.clone(),
                pieces: Vec::new(),
            })
            .pieces
            .push((seen.now.piece.serial.clone(), place.and_then(|p| p.hook)));
    }
    open.into_values().collect()
}

/// A rack as it hangs.
#[derive(Debug, Clone)]
pub struct Rack<'a> {
    /// Its name.
    pub name: String,
    /// Its pieces in hook order.
    pub pieces: Vec<&'a Seen>,
    /// What comes next for it, or what holds it back, as the question "what is ready" puts it.
    pub outlook: String,
}

/// All racks with pieces in process, by name.
pub fn racks<'a>(floor: &'a [Seen], at: Moment, calendar: &Calendar) -> Vec<Rack<'a>> {
    let mut by_name: BTreeMap<String, Vec<&Seen>> = BTreeMap::new();
    for seen in floor {
        if let Some(rack) = seen.now.place().and_then(|p| p.rack.clone()) {
            by_name.entry(rack).or_default().push(seen);
        }
    }
    let ready = by_rack(floor, StepKind::ALL);
    by_name
        .into_iter()
        .map(|(name, pieces)| {
            let outlook = ready
                .iter()
                .find(|r| r.rack.as_deref() == Some(name.as_str()))
                .map_or_else(
                    || format!("{name}: nothing is left to do"),
                    |r| r.line(at, calendar),
                );
            Rack {
                name,
                pieces,
                outlook,
            }
        })
        .collect()
}

impl Rack<'_> {
    fn held(&self) -> Vec<(&str, Option<u32>, String)> {
        self.pieces
            .iter()
            .filter(|s| !s.now.holds.is_empty())
            .map(|s| {
                let why: Vec<&str> = s.now.holds.iter().map(|(_, w)| w.as_str()).collect();
                (
                    s.now.piece.serial.as_str(),
                    s.now.place().and_then(|p| p.hook),
                    why.join("; "),
                )
            })
            .collect()
    }

    fn rooms(&self) -> Vec<&str> {
        let mut rooms: Vec<&str> = self
            .pieces
            .iter()
            .filter_map(|s| s.now.place().and_then(|p| p.room.as_deref()))
            .collect();
        rooms.sort_unstable();
        rooms.dedup();
        rooms
    }

    fn open(&self) -> Vec<OpenDeed> {
        let own: Vec<Seen> = self.pieces.iter().map(|s| (*s).clone()).collect();
        open_deeds(&own)
    }

    /// One line: how many pieces hang where, and what comes next.
    pub fn summary(&self) -> String {
        let n = self.pieces.len();
        let s = if n == 1 { "" } else { "s" };
        let rooms = self.rooms();
        let room = if rooms.is_empty() {
            "no room".to_owned()
        } else {
            shown(&rooms.join(", "))
        };
        let mixed = mixed(&self.pieces).map_or(String::new(), |m| format!("; {m}"));
        let held = match self.held().len() {
            0 => String::new(),
            n => format!("; {n} held"),
        };
        let begun = if self.open().is_empty() {
            ""
        } else {
            "; in work"
        };
        format!(
            "{:<6} {n} piece{s}, {room}: {}{mixed}{held}{begun}",
            shown(&self.name),
            self.outlook
        )
    }

    /// The rack hook by hook, with what is begun, held and mixed.
    pub fn lines(&self, at: Moment, calendar: &Calendar, system: System) -> Vec<String> {
        let mut out = vec![self.summary()];
        out.extend(
            self.open()
                .iter()
                .map(|o| format!("  {}", o.line(at, calendar))),
        );
        out.extend(self.held().iter().map(|(serial, hook, why)| {
            let hook = hook.map_or(String::new(), |h| format!("hook {h} "));
            format!("  held: {hook}{}: {}", shown(serial), shown(why))
        }));
        out.extend(self.pieces.iter().map(|s| line(s, at, calendar, system)));
        out
    }

    /// The same for machines.
    pub fn json(&self, at: Moment, calendar: &Calendar) -> Value {
        json!({
            "rack": self.name, "rooms": self.rooms(), "outlook": self.outlook, "mixed": mixed(&self.pieces),
            "open_deeds": self.open().iter().map(|o| o.json(calendar)).collect::<Vec<_>>(),
            "held": self.held().iter().map(|(serial, hook, why)| json!({
                "serial": serial, "hook": hook, "why": why,
            })).collect::<Vec<_>>(),
            "pieces": self.pieces.iter().map(|s| piece(s, at, calendar)).collect::<Vec<_>>(),
        })
    }
}
