//! What a plan is made of, read from the ledger in one go, so that the command and the screens plan alike.
//!
//! *Invariants*: read as of one moment; nothing of it is read while a plan is played.

use super::Basis;
use crate::ledger::{Ledger, LedgerError, Past, Seen};
use crate::plan::Scene;
use crate::plan::habits::{Habits, lying};
use crate::shop::average_day::BACK;
use crate::shop::calendar::Calendar;
use crate::shop::climate::Climate;
use crate::shop::duty::Station;
use crate::shop::hours::Hours;
use crate::shop::shift::Shift;
use crate::units::Moment;
use std::collections::BTreeMap;

/// What a plan is asked by.
#[derive(Debug, Clone)]
pub struct Wanted {
    /// The shifts of a working day; none for those of the shop.
    pub shifts: Vec<Shift>,
    /// Whether somebody gave them, or entered those of the shop.
    pub given: bool,
    /// How many days are shown, today included.
    pub days: u32,
    /// How many plays the spread is of; 0 for none.
    pub plays: u32,
    /// The seed of the draws.
    pub seed: u64,
}

impl Default for Wanted {
    fn default() -> Self {
        Self {
            shifts: Vec::new(),
            given: false,
            days: 14,
            plays: 100,
            seed: 1,
        }
    }
}

/// What was read.
#[derive(Debug)]
pub struct Footing {
    /// The moment of the plan.
    pub at: Moment,
    /// The shop's calendar.
    pub calendar: Calendar,
    /// The hours, less the days on which the shop is closed.
    pub hours: Hours,
    /// The pieces in process.
    pub pieces: Vec<Seen>,
    /// The stations.
    pub stations: Vec<Station>,
    /// How many people each crew has.
    pub crews: BTreeMap<String, u32>,
    wanted: Wanted,
    habits: Habits,
    hooks: BTreeMap<String, u32>,
    missing: BTreeMap<String, String>,
    climate: Climate,
}

impl Footing {
    /// Reads it as of a moment. `known` leaves out what was written later.
    ///
    /// # Errors
    /// The ledger's.
    pub fn read(
        ledger: &Ledger,
        mut wanted: Wanted,
        at: Moment,
        known: Option<Moment>,
    ) -> Result<Self, LedgerError> {
        if wanted.shifts.is_empty() {
            (wanted.shifts, wanted.given) = ledger.shifts(at)?;
        }
        let hours = ledger.hours(&wanted.shifts, at)?;
        let pieces = ledger.floor(at, known)?;
        let wet = pieces
            .iter()
            .flat_map(|s| {
                s.sites()
                    .filter_map(|site| site.standing.last_wet)
                    .collect::<Vec<_>>()
            })
            .min();
        // The plays draw past days of the rooms.
        let since = wet.unwrap_or(at).min(at.minus(BACK));
        // Past deeds are for the draws alone.
        let past = match wanted.plays {
            0 => Past::default(),
            _ => ledger.past(at, known)?,
        };
        let hooks = ledger.room_hooks(at)?.into_iter();
        let stations = ledger.stations(at)?.into_iter();
        let crews = ledger.crews(at)?.into_iter();
        Ok(Self {
            at,
            calendar: ledger.calendar(),
            habits: Habits::of(&past.deeds, &lying(&pieces), &hours, at).with_reworks(past.reworks),
            hours,
            climate: ledger.climate_known(since, at, known)?,
            pieces,
            stations: stations.map(|r| r.station).collect(),
            crews: crews.map(|r| (r.crew.name, r.crew.people)).collect(),
            hooks: hooks.map(|r| (r.room, r.hooks)).collect(),
            missing: ledger.unpaired()?.into_iter().collect(),
            wanted,
        })
    }

    /// The floor to plan.
    pub fn scene(&self) -> Scene<'_> {
        Scene {
            at: self.at,
            calendar: &self.calendar,
            hours: &self.hours,
            floor: &self.pieces,
            missing: self.missing.clone(),
            stations: &self.stations,
            crews: self.crews.clone(),
            habits: self.habits.clone(),
            hooks: self.hooks.clone(),
            airs: Scene::airs(&self.pieces, &self.climate),
            days: Scene::days(&self.pieces, &self.climate, &self.calendar, self.at),
            runs: usize::try_from(self.wanted.plays).unwrap_or(0),
            seed: self.wanted.seed,
        }
    }

    /// What the plan goes by, for whoever reads it.
    pub fn basis(&self) -> Basis<'_> {
        Basis {
            hours: &self.hours,
            given: self.wanted.given,
            days: self.wanted.days,
            stations: &self.stations,
            crews: &self.crews,
            habits: &self.habits,
            seed: self.wanted.seed,
            calendar: &self.calendar,
        }
    }
}
