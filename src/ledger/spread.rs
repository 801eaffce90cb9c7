//! When a piece whose time is a forecast would be ready by its room's average day, and in a slow and a fast case.
//!
//! *Invariants*: it is told beside a provisional time and never in its stead; no case is earlier than that time, because no hour
//! of the pattern counts above the room's declared rate. Nothing of it is kept.
//!
//! *Not here*: the pattern (`shop::average_day`), words (`reports::average_day`).

use super::book::climate;
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{Seen, around_next};
use crate::shop::average_day::{BACK, Case, RoomDays};
use crate::shop::climate::{Climate, Tables};
use crate::shop::outlook::view;
use crate::shop::recipe::CreditPolicy;
use crate::shop::rules::Ground;
use crate::units::Moment;
use std::collections::BTreeMap;

/// When a piece would be ready by the average day of its room.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spread {
    /// The room.
    pub room: String,
    /// How many whole days of readings there are.
    pub days: usize,
    /// By the average day, in the slow case and in the fast one; `None` where there are too few days. A case in which the time
    /// is never reached is `None` itself.
    pub cases: Option<[Option<Moment>; 3]>,
}

const CASES: [Case; 3] = [Case::Middle, Case::Slow, Case::Fast];

impl Ledger {
    /// The spread of each of these pieces whose time rests on the air to come of a logged room, by serial.
    pub fn spreads(
        &self,
        pieces: &[&Seen],
        at: Moment,
    ) -> Result<BTreeMap<String, Spread>, LedgerError> {
        let mut by_recipe: BTreeMap<String, Vec<&Seen>> = BTreeMap::new();
        for seen in pieces {
            let view = &seen.view;
            // What waits for nobody's air, and what cannot be told, has none.
            if view.provisional
                && view.cure.is_some()
                && view.ready_at.is_some_and(|ready| ready > at)
            {
                by_recipe.entry(seen.recipe.label()).or_default().push(seen);
            }
        }
        let mut out = BTreeMap::new();
        for group in by_recipe.values() {
            let Some(first) = group.first() else { continue };
            let wet = group.iter().filter_map(|s| s.oldest_wet()).min();
            let since = wet.unwrap_or(at).min(at.minus(BACK));
            let climate = climate((&self.conn, &self.book), since, at, i64::MAX)?;
            let mut rooms: BTreeMap<&str, (RoomDays, Option<[Tables; 3]>)> = BTreeMap::new();
            let policy = &first.recipe.credit;
            let tables = Tables::build(&climate, policy);
            for seen in group {
                let Some(room) = seen.now.place().and_then(|p| p.room.as_deref()) else {
                    continue;
                };
                if !rooms.contains_key(room) {
                    let Some(found) = self.days_of(&climate, room, policy, at) else {
                        continue;
                    };
                    let cases = Self::cases(&found, room, &tables);
                    rooms.insert(room, (found, cases));
                }
                if let Some((found, cases)) = rooms.get(room) {
                    let cases = match cases {
                        Some(cases) => Some(self.ready_in(seen, cases, at)?),
                        None => None,
                    };
                    let spread = Spread {
                        room: room.to_owned(),
                        days: found.days.len(),
                        cases,
                    };
                    out.insert(seen.now.piece.serial.clone(), spread);
                }
            }
        }
        Ok(out)
    }

    fn days_of(
        &self,
        climate: &Climate,
        room: &str,
        policy: &CreditPolicy,
        at: Moment,
    ) -> Option<RoomDays> {
        RoomDays::of(climate.rooms.get(room)?, policy, &self.calendar(), at)
    }

    fn cases(days: &RoomDays, room: &str, tables: &Tables) -> Option<[Tables; 3]> {
        let of = |case| {
            let steps = days.case(case)?;
            Some(tables.with_ahead(&BTreeMap::from([(room.to_owned(), steps)])))
        };
        let [middle, slow, fast] = CASES;
        Some([of(middle)?, of(slow)?, of(fast)?])
    }

    fn ready_in(
        &self,
        seen: &Seen,
        cases: &[Tables; 3],
        at: Moment,
    ) -> Result<[Option<Moment>; 3], LedgerError> {
        let calendar = self.calendar();
        let mut around = around_next(&self.conn, &self.book, &seen.now, &seen.recipe, at)?;
        around.solvent.clone_from(&seen.solvent);
        Ok(cases.each_ref().map(|air| {
            let ground = Ground {
                recipe: &seen.recipe,
                calendar: &calendar,
                air,
                around: &around,
            };
            view(&seen.now, at, &ground).ready_at
        }))
    }
}
