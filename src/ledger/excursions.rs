//! Excursions of the rooms' air, and what they did to the pieces: who moved, who lost their slot, who now misses their date.
//!
//! *Invariants*: nothing of it is kept; what would have been is the room's own forecast at the moment when the first excursion
//! began, so that a piece has moved only by what its room's air really was.
//!
//! *Not here*: what an excursion is (`shop::excursion`).

use super::error::LedgerError;
use super::open::Ledger;
use super::read::Seen;
use crate::shop::excursion::{Bounds, Excursion, Outside, excursions};
use crate::shop::outlook::misses;
use crate::shop::shift::Shift;
use crate::shop::standing::PieceNow;
use crate::shop::words::Word;
use crate::units::{Moment, Span};
use std::collections::BTreeMap;

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

impl Ledger {
    /// The logged rooms with their excursions since a moment, as of `at`; of one room, or of all.
    pub fn excursions(
        &self,
        of: Option<&str>,
        since: Moment,
        at: Moment,
    ) -> Result<Vec<RoomExcursions>, LedgerError> {
        let floor = self.floor(at, None)?;
        let climate = self.climate(since, at)?;
        let limits = self.ceilings()?;
        let mut out = Vec::new();
        for (room, air) in &climate.rooms {
            if air.interval.is_none() || of.is_some_and(|o| o != room) {
                continue;
            }
            let here: Vec<&Seen> = floor
                .iter()
                .filter(|s| s.now.stays.last().and_then(|s| s.room.as_ref()) == Some(room))
                .collect();
            let mut bounds = Bounds::default();
            for seen in &here {
                let from = format!("recipe {}", seen.recipe.label());
                bounds.by_policy(&seen.recipe.credit, &from);
            }
            for kind in Outside::ALL {
                let own = air_limit(*kind);
                if let Some(limit) = limits.iter().find(|l| l.what == own && l.scope == *room) {
                    let from = format!("entered by {}, source: {}", limit.person, limit.source);
                    bounds.stricter(*kind, limit.value, &from);
                }
            }
            let mut list = excursions(air, &bounds, at);
            list.retain(|e| e.to.is_none_or(|to| to > since));
            let moved = match list.first() {
                Some(first) => self.moved_by(&floor, room, first, at)?,
                None => Moved::default(),
            };
            out.push(RoomExcursions {
                room: room.clone(),
                pieces: here.len(),
                bounds,
                list,
                moved,
            });
        }
        Ok(out)
    }

    // Holds the floor against what it would be, had the room's forecast come true from there on.
    fn moved_by(
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
        let pieces: Vec<PieceNow> = floor
            .iter()
            .filter(|s| s.now.stays.iter().any(|s| s.room.as_deref() == Some(room)))
            .map(|s| s.now.clone())
            .collect();
        let would = self.judge_without(pieces, at, Some(&cut))?;
        let would: BTreeMap<&str, &Seen> = would
            .iter()
            .map(|s| (s.now.piece.serial.as_str(), s))
            .collect();
        let mut out = Moved::default();
        let hours = self.hours(&[Shift::COMMON], at)?;
        let slot = |m: Moment| {
            let from = m.max(at);
            let next = hours.next(from).unwrap_or(from);
            calendar.local(next).date_naive()
        };
        for seen in floor {
            let serial = &seen.now.piece.serial;
            let Some(before) = would.get(serial.as_str()) else {
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
