//! Excursions of the rooms' air, and what they did to the pieces: who moved, who lost their slot, who now misses their date.
//!
//! *Invariants*: nothing of it is kept; what would have been is the room's own forecast at the moment when the first excursion
//! began, so that a piece has moved only by what its room's air really was.
//!
//! *Not here*: what an excursion is (`shop::excursion`).

use super::book::room_air;
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{CeilingRow, Seen};
use crate::shop::climate::holds_for;
use crate::shop::excursion::{Bounds, Excursion, Outside, excursions};
use crate::shop::outlook::misses;
use crate::shop::standing::PieceNow;
use crate::shop::words::Word;
use crate::units::{Moment, Span};
use rusqlite::OptionalExtension;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What excursions of a room did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Moved {
    /// Pieces whose next deed comes later.
    pub moved: Vec<String>,
    /// By how much at the most.
    pub by: Span,
    /// Those that can no longer be worked on the day on which they could have been.
    pub lost_slot: Vec<String>,
    /// Those that miss their date now and would not have.
    pub miss_date: Vec<String>,
}

/// A room with excursions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoomExcursions {
    /// The room.
    pub room: String,
    /// Pieces that hang there.
    pub pieces: usize,
    /// Its bounds.
    pub bounds: Bounds,
    /// The excursions, in the order in which they began.
    pub list: Vec<Excursion>,
    /// What they did together.
    pub moved: Moved,
}

/// The name under which a bound of a room's air is entered as a limit.
pub fn air_limit(kind: Outside) -> String {
    format!("air {}", kind.word())
}

// The excursions of a room one by one.
fn each(room: &RoomExcursions) -> Vec<RoomExcursions> {
    room.list
        .iter()
        .map(|e| RoomExcursions {
            list: vec![*e],
            ..room.clone()
        })
        .collect()
}

/// How long an excursion that is over is worth telling (ours, no source): whoever comes on the next day hears of the night.
const TOLD_FOR: Span = Span::hours(24);

/// What was over sooner than this moved nothing that is worth telling afterwards (ours, no source): a heater that switches
/// about its mark.
const LEAST: Span = Span::hours(1);

// What the air of the rooms is held against at a moment.
struct Held<'a> {
    floor: &'a [Seen],
    limits: Vec<CeilingRow>,
    booths: BTreeSet<String>,
}

impl Held<'_> {
    // The pieces that hang in a room, and the stricter of what the shop entered for it and what their recipes state: of a
    // booth's air, and of the air in which a cure counts.
    fn of(&self, room: &str) -> (usize, Bounds) {
        let mut bounds = Bounds::default();
        let mut pieces = 0;
        let booth = self.booths.contains(room);
        for seen in self.floor {
            if seen.now.place().and_then(|s| s.room.as_deref()) != Some(room) {
                continue;
            }
            pieces += 1;
            let from = format!("recipe {}", seen.recipe.label());
            if booth {
                bounds.by_booth(&seen.recipe.booth, &from);
            }
            if seen.view.cure.is_some() || !seen.solvent.is_empty() {
                bounds.by_policy(&seen.recipe.credit, &from);
            }
        }
        for kind in Outside::ALL {
            let own = air_limit(*kind);
            if let Some(limit) = self
                .limits
                .iter()
                .find(|l| l.what == own && l.scope == room)
            {
                let from = format!("entered by {}, source: {}", limit.person, limit.source);
                bounds.stricter(*kind, limit.value, &from);
            }
        }
        (pieces, bounds)
    }
}

impl Ledger {
    fn held<'a>(&self, floor: &'a [Seen], at: Moment) -> Result<Held<'a>, LedgerError> {
        Ok(Held {
            floor,
            limits: self.ceilings()?,
            booths: self.booths(at)?,
        })
    }

    /// The logged rooms with their excursions since a moment, as of `at`; of one room, or of all.
    pub fn excursions(
        &self,
        of: Option<&str>,
        since: Moment,
        at: Moment,
    ) -> Result<Vec<RoomExcursions>, LedgerError> {
        let floor = self.floor(at, None)?;
        let held = self.held(&floor, at)?;
        let mut out = Vec::new();
        for room in self.logged_rooms()? {
            if of.is_some_and(|o| o != room) {
                continue;
            }
            let mut found = self.found(&held, &room, since, at)?;
            if let Some(first) = found.list.first() {
                found.moved = self.moved_by(&floor, &room, first, at)?;
            }
            out.push(found);
        }
        Ok(out)
    }

    /// The excursions that are worth telling at a moment, each by itself and without what it did ([`Self::moved_by`]): those
    /// that last, and those that were over within a day and lasted an hour. `floor` are the pieces in process.
    pub fn recent_excursions(
        &self,
        floor: &[Seen],
        at: Moment,
    ) -> Result<Vec<RoomExcursions>, LedgerError> {
        let held = self.held(floor, at)?;
        let mut out = Vec::new();
        for room in self.logged_rooms()? {
            let mut found = self.found(&held, &room, at.minus(TOLD_FOR), at)?;
            found
                .list
                .retain(|e| e.to.is_none_or(|to| to.since(e.from) >= LEAST));
            out.extend(each(&found));
        }
        Ok(out)
    }

    /// What readings of a room from `first` to `last` made or ended, all of it together with what it did; `None` where that
    /// is no excursion.
    pub fn excursions_by(
        &self,
        room: &str,
        (first, last): (Moment, Moment),
        at: Moment,
    ) -> Result<Option<RoomExcursions>, LedgerError> {
        let floor = self.floor(at, None)?;
        let held = self.held(&floor, at)?;
        let mut found = self.found(&held, room, first.minus(Span(1)), at)?;
        let brought = first..=last;
        found.list.retain(|e| {
            let made = brought.contains(&e.from) && e.kind != Outside::Silent;
            made || e.to.is_some_and(|to| brought.contains(&to))
        });
        let Some(first) = found.list.first() else {
            return Ok(None);
        };
        found.moved = self.moved_by(&floor, room, first, at)?;
        Ok(Some(found))
    }

    fn logged_rooms(&self) -> Result<Vec<String>, LedgerError> {
        let mut list = self
            .conn
            .prepare_cached("SELECT name FROM room WHERE interval_ms IS NOT NULL ORDER BY name")?;
        let rows = list.query_map([], |r| r.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    // The excursions of a room that were not over by `since`, each from its own beginning.
    fn found(
        &self,
        held: &Held<'_>,
        room: &str,
        since: Moment,
        at: Moment,
    ) -> Result<RoomExcursions, LedgerError> {
        let (pieces, bounds) = held.of(room);
        let hour = Span::hours(1);
        let mut back = Span(at.since(since).0.max(0) + 2 * hour.0);
        let list = loop {
            let start = at.minus(back);
            let air =
                room_air((&self.conn, &self.book), room, start, at, i64::MAX)?.unwrap_or_default();
            let mut list = excursions(&air, &bounds, at);
            list.retain(|e| e.to.is_none_or(|to| to > since));
            let Some(first) = air.samples.first() else {
                if let Some(from) = self.declared(room)?.filter(|m| *m <= at) {
                    list.push(Excursion {
                        kind: Outside::Silent,
                        from,
                        to: None,
                        worst: 0,
                    });
                }
                break list;
            };
            // What is outside at the edge may have begun before it, and a change is held against the hour before.
            let edge = first
                .at
                .plus(hour)
                .plus(holds_for(air.interval.unwrap_or(hour)));
            let whole = |e: &Excursion| e.kind == Outside::Silent || e.from > edge;
            if first.at > start || list.iter().all(whole) {
                break list;
            }
            back = Span(back.0 * 2);
        };
        Ok(RoomExcursions {
            room: room.to_owned(),
            pieces,
            bounds,
            list,
            moved: Moved::default(),
        })
    }

    // When a room was declared as it is now.
    fn declared(&self, room: &str) -> Result<Option<Moment>, LedgerError> {
        Ok(self
            .conn
            .prepare_cached(
                "SELECT e.began FROM room r JOIN entry e ON e.seq = r.entry WHERE r.name = ?1",
            )?
            .query_row([room], |r| r.get(0).map(Moment))
            .optional()?)
    }

    /// What an excursion of a room did: the floor held against what it would be, had the room's forecast come true from
    /// there on. Both are judged here, whatever holds back the judgements of `floor`.
    pub fn moved_by(
        &self,
        floor: &[Seen],
        room: &str,
        first: &Excursion,
        at: Moment,
    ) -> Result<Moved, LedgerError> {
        let calendar = self.calendar();
        // The reading that stands before silence is well itself.
        let since = match first.kind {
            Outside::Silent => first.from.plus(Span(1)),
            _ => first.from,
        };
        let cut = (room.to_owned(), since);
        let pieces: Vec<Arc<PieceNow>> = floor
            .iter()
            .filter(|s| s.now.stays.iter().any(|s| s.room.as_deref() == Some(room)))
            .map(|s| Arc::clone(&s.now))
            .collect();
        let is = self.judge_without(pieces.clone(), at, None)?;
        let is: BTreeMap<&str, &Seen> = is
            .iter()
            .map(|s| (s.now.piece.serial.as_str(), s))
            .collect();
        let would = self.judge_without(pieces, at, Some(&cut))?;
        let would: BTreeMap<&str, &Seen> = would
            .iter()
            .map(|s| (s.now.piece.serial.as_str(), s))
            .collect();
        let mut out = Moved::default();
        let hours = self.working(at)?;
        let slot = |m: Moment| {
            let from = m.max(at);
            let next = hours.next(from).unwrap_or(from);
            calendar.local(next).date_naive()
        };
        for piece in floor {
            let serial = &piece.now.piece.serial;
            let both = is.get(serial.as_str()).zip(would.get(serial.as_str()));
            let Some((seen, before)) = both else {
                continue;
            };
            let (then, now) = (before.view.ready_at, seen.view.ready_at);
            let later = match (then, now) {
                (Some(then), Some(now)) => now > then,
                (Some(_), None) => true,
                _ => false,
            };
            if !later {
                continue;
            }
            out.moved.push(serial.clone());
            if let (Some(then), Some(now)) = (then, now) {
                out.by = out.by.max(now.since(then));
            }
            if then.is_some_and(|then| now.is_none_or(|now| slot(now) > slot(then))) {
                out.lost_slot.push(serial.clone());
            }
            let missed = |s: &Seen| {
                let end = s.view.finish.or(s.view.ready_at);
                end.is_none_or(|end| misses(&s.now, end.max(at), &calendar))
            };
            if seen.now.piece.due.is_some() && missed(seen) && !missed(before) {
                out.miss_date.push(serial.clone());
            }
        }
        Ok(out)
    }
}
