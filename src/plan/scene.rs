//! What a plan is made of: the floor as it stands, the hours, the stations, and what is supposed to be otherwise.
//!
//! *Invariants*: nothing in it can change a record. What is supposed (`Suppose`) only ever adds to or takes from the scene of
//! today, so that two plans are of one floor.
//!
//! *Not here*: playing it (`lives`).

use super::draw::place_of;
use super::habits::Habits;
use crate::ledger::Seen;
use crate::shop::average_day::{RoomDays, Steps};
use crate::shop::calendar::Calendar;
use crate::shop::climate::{Air, Climate, Credited, Stay, Tables};
use crate::shop::duty::Station;
use crate::shop::hours::{Hours, Spell};
use crate::shop::recipe::Recipe;
use crate::shop::rehearse::Steady;
use crate::units::{Moment, Span};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Pieces that would come in between.
#[derive(Debug, Clone)]
pub struct Rush {
    /// How many.
    pub pieces: usize,
    /// Their recipe.
    pub recipe: Arc<Recipe>,
}

/// What is supposed to be otherwise than today.
#[derive(Debug, Clone, Default)]
pub struct Suppose {
    /// More hours in which people are there, also on a day on which the shop is closed.
    pub overtime: Vec<Spell>,
    /// Stations that are down, by name.
    pub down: Vec<(String, Spell)>,
    /// Rooms without heat, by name: no hour counts there.
    pub cold: Vec<(String, Spell)>,
    /// Pieces that come in at the moment of the plan and go before all others.
    pub rush: Vec<Rush>,
    /// Hooks of rooms that are counted with instead of those that are entered.
    pub hooks: BTreeMap<String, u32>,
    /// People of crews that are counted with instead of those that are entered.
    pub crews: BTreeMap<String, u32>,
}

/// A floor to plan.
#[derive(Debug)]
pub struct Scene<'a> {
    /// The moment of the plan.
    pub at: Moment,
    /// The shop's calendar.
    pub calendar: &'a Calendar,
    /// The hours of the shop, less the days on which it is closed.
    pub hours: &'a Hours,
    /// The pieces in process.
    pub floor: &'a [Seen],
    /// Why the other half of a piece is not there, by the serial that misses it.
    pub missing: BTreeMap<String, String>,
    /// The stations.
    pub stations: &'a [Station],
    /// How many people each crew has.
    pub crews: BTreeMap<String, u32>,
    /// What past deeds tell.
    pub habits: Habits,
    /// Hooks by room.
    pub hooks: BTreeMap<String, u32>,
    /// The rooms' air under each recipe.
    pub airs: BTreeMap<String, Tables>,
    /// Their last whole days under each recipe, by room.
    pub days: BTreeMap<String, BTreeMap<String, RoomDays>>,
    /// How often the plan is played with drawn waits.
    pub runs: usize,
    /// The seed of the draws.
    pub seed: u64,
}

impl<'a> Scene<'a> {
    /// The places of the pieces of the floor, by serial.
    pub fn by_serial(&self) -> BTreeMap<&'a str, usize> {
        self.floor
            .iter()
            .enumerate()
            .map(|(n, s)| (s.now.piece.serial.as_str(), n))
            .collect()
    }

    /// The rooms' air under the recipes of a floor.
    pub fn airs(floor: &[Seen], climate: &Climate) -> BTreeMap<String, Tables> {
        let mut out: BTreeMap<String, Tables> = BTreeMap::new();
        for seen in floor {
            out.entry(seen.recipe.label())
                .or_insert_with(|| Tables::build(climate, &seen.recipe.credit));
        }
        out
    }

    /// The last whole days of the rooms under the recipes of a floor, as of a moment. The climate must reach back to
    /// [`BACK`](crate::shop::average_day::BACK).
    pub fn days(
        floor: &[Seen],
        climate: &Climate,
        calendar: &Calendar,
        at: Moment,
    ) -> BTreeMap<String, BTreeMap<String, RoomDays>> {
        let mut out = BTreeMap::new();
        for seen in floor {
            out.entry(seen.recipe.label()).or_insert_with(|| {
                let policy = &seen.recipe.credit;
                let rooms = climate.rooms.iter().filter_map(|(name, air)| {
                    Some((name.clone(), RoomDays::of(air, policy, calendar, at)?))
                });
                rooms.collect()
            });
        }
        out
    }

    /// How many whole days of readings the logged rooms have in which pieces cure or cures are planned.
    pub fn whole_days(&self) -> BTreeMap<String, usize> {
        let mut rooms = self.cure_rooms();
        let cures = self.floor.iter().filter(|s| s.view.cure.is_some());
        rooms.extend(cures.filter_map(|s| s.now.place()?.room.clone()));
        let mut out = BTreeMap::new();
        for of_recipe in self.days.values() {
            for (room, days) in of_recipe.iter().filter(|(room, _)| rooms.contains(*room)) {
                let n = days.days.len();
                let least = out.entry(room.clone()).or_insert(n);
                *least = n.min(*least);
            }
        }
        out
    }

    /// What each room counts from its newest reading on in a play under a recipe: whole past days, drawn day by day, the same
    /// day for all rooms that have as many. A room with too few of them is left to its declared rate.
    pub(super) fn drawn_days(&self, recipe: &str, run: u64) -> BTreeMap<String, Steps> {
        let rooms = self.days.get(recipe).into_iter().flatten();
        rooms
            .filter_map(|(room, days)| {
                let steps = days.drawn(|list, n| {
                    let n = u64::try_from(n).unwrap_or(0);
                    place_of(list, &[self.seed, run, WEATHER, n])
                });
                Some((room.clone(), steps?))
            })
            .collect()
    }

    /// The hours of the shop, with the overtime that is supposed.
    pub fn hours(&self, suppose: &Suppose) -> Hours {
        self.hours.clone().more(&suppose.overtime)
    }

    /// The rooms in which cures of the recipes on the floor are planned.
    pub fn cure_rooms(&self) -> BTreeSet<String> {
        self.floor
            .iter()
            .map(|s| s.recipe.code.as_str())
            .collect::<BTreeSet<_>>()
            .into_iter()
            .filter_map(|code| self.cure_room(Some(code)))
            .collect()
    }

    /// The room in which most pieces of a recipe stand in their cure, else most of any recipe, else the only room with hooks;
    /// `None` where none of these tells one.
    pub fn cure_room(&self, recipe: Option<&str>) -> Option<String> {
        let most = |of: Option<&str>| {
            let mut count: BTreeMap<&str, usize> = BTreeMap::new();
            for seen in self.floor {
                if seen.view.cure.is_some()
                    && of.is_none_or(|code| seen.recipe.code == code)
                    && let Some(room) = seen.now.place().and_then(|p| p.room.as_deref())
                {
                    *count.entry(room).or_insert(0) += 1;
                }
            }
            let best = count
                .into_iter()
                .max_by_key(|(name, n)| (*n, std::cmp::Reverse(*name)));
            best.map(|(name, _)| name.to_owned())
        };
        let only = || {
            let mut rooms = self.hooks.keys();
            rooms.next().filter(|_| rooms.next().is_none()).cloned()
        };
        recipe
            .and_then(|code| most(Some(code)))
            .or_else(|| most(None))
            .or_else(only)
    }
}

// The name of the draws of days: no piece has this number.
const WEATHER: u64 = 1 << 63;

/// The rooms' air with drawn days to come: for a cure that has begun, and in its cure room for one to come.
#[derive(Debug)]
pub(super) struct Weather {
    air: Tables,
    until: Moment,
    // Where a cure to come is held, where days were drawn for that room.
    room: Option<Stay>,
}

impl Weather {
    /// The air of a recipe's rooms in a play.
    pub(super) fn of(known: &Tables, scene: &Scene<'_>, recipe: &Recipe, run: u64) -> Self {
        let days = scene.drawn_days(&recipe.label(), run);
        let room = scene.cure_room(Some(&recipe.code));
        Self {
            room: room.filter(|r| days.contains_key(r)).map(|room| Stay {
                from: scene.at,
                rack: None,
                hook: None,
                room: Some(room),
            }),
            air: known.with_ahead(&days),
            until: scene.at,
        }
    }
}

impl Air for Weather {
    fn credited(&self, stays: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited {
        match &self.room {
            _ if from <= self.until => self.air.credited(stays, from, now, wanted),
            Some(stay) => {
                let stays = std::slice::from_ref(stay);
                self.air.credited(stays, from, now, wanted)
            }
            None => Steady::FULL.credited(stays, from, now, wanted),
        }
    }
}

/// The rooms' air, less what a room without heat would have earned.
#[derive(Debug)]
pub(super) struct Cold<'a> {
    pub(super) air: &'a dyn Air,
    pub(super) spells: &'a [(String, Spell)],
    /// Where a cure that begins after `at` is held.
    pub(super) cure_room: Option<String>,
    pub(super) at: Moment,
}

impl Air for Cold<'_> {
    fn credited(&self, stays: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited {
        let mut out = self.air.credited(stays, from, now, wanted);
        let room = if from > self.at {
            self.cure_room.as_deref()
        } else {
            stays.last().and_then(|s| s.room.as_deref())
        };
        let spells: Vec<&Spell> = self
            .spells
            .iter()
            .filter(|(name, (_, end))| Some(name.as_str()) == room && *end > from)
            .map(|(_, spell)| spell)
            .collect();
        if spells.is_empty() {
            return out;
        }
        let earned = |m: Moment| self.air.credited(stays, from, m.max(from), wanted).earned.0;
        let lost = |until: Moment| -> i64 {
            spells
                .iter()
                .filter(|(a, _)| *a < until)
                .map(|(a, b)| earned((*b).min(until)) - earned(*a))
                .sum()
        };
        out.earned = Span(out.earned.0 - lost(now));
        out.provisional = true;
        // A later end may lie behind a further spell, so it is looked at again until none is left.
        for _ in 0..=spells.len() {
            let Some(reached) = out.reached else { break };
            let wanted = Span(wanted.0 + lost(reached));
            out.reached = self.air.credited(stays, from, now, wanted).reached;
            if out.reached == Some(reached) {
                break;
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_without_heat_earns_nothing_and_moves_the_end_by_what_it_would_have_earned() {
        let at = Moment(0);
        let hour = |h: i64| at.plus(Span::hours(h));
        let stays = [Stay {
            from: hour(-100),
            rack: None,
            hook: None,
            room: Some("cure room".into()),
        }];
        let spells = [
            ("cure room".to_owned(), (hour(10), hour(18))),
            // Ends after the cure would have ended, but before it ends now.
            ("cure room".to_owned(), (hour(100), hour(102))),
            ("booth 1".to_owned(), (hour(1), hour(2))),
        ];
        let cold = Cold {
            air: &Steady { permille: 500 },
            spells: &spells,
            cure_room: Some("cure room".into()),
            at,
        };
        let wanted = Span::hours(48);
        let warm = Steady { permille: 500 }.credited(&stays, hour(0), hour(20), wanted);
        assert_eq!(
            (warm.earned, warm.reached),
            (Span::hours(10), Some(hour(96)))
        );
        // Eight hours that would have earned four; then two that lie behind the new end of 104.
        let found = cold.credited(&stays, hour(0), hour(20), wanted);
        assert_eq!(found.earned, Span::hours(6));
        assert_eq!(found.reached, Some(hour(106)));
        assert!(found.provisional);
        // In another room nothing is lost.
        let other = [Stay {
            room: Some("flash room".into()),
            ..stays[0].clone()
        }];
        assert_eq!(cold.credited(&other, hour(0), hour(20), wanted), warm);
    }

    #[test]
    fn drawn_days_are_those_that_were_the_same_for_the_same_play_and_never_earlier() {
        use crate::shop::climate::{RoomAir, Sample};
        use crate::shop::recipe_file;
        use crate::units::Temperature;

        let text = include_str!("../../sample/recipes/g9.toml");
        let recipe = recipe_file::read("g9", text).unwrap();
        let calendar = Calendar::BARE;
        let first = calendar.read("2026-03-02 00:00", Moment(0)).unwrap();
        // Six whole days, the third of them without heat.
        let samples = (0..=6 * 96).map(|n| Sample {
            at: first.plus(Span::minutes(15 * n)),
            temperature: Temperature(if n / 96 == 2 { 13_000 } else { 22_000 }),
            humidity: None,
        });
        let air = RoomAir {
            interval: Some(Span::minutes(15)),
            forecast_permille: 1_000,
            samples: samples.collect(),
        };
        let at = first.plus(Span::hours(6 * 24));
        let climate = Climate {
            rooms: BTreeMap::from([("cure room".to_owned(), air.clone())]),
        };
        let days = RoomDays::of(&air, &recipe.credit, &calendar, at).unwrap();
        let scene = Scene {
            at,
            calendar: &calendar,
            hours: &Hours::of(&calendar, &[]),
            floor: &[],
            missing: BTreeMap::new(),
            stations: &[],
            crews: BTreeMap::new(),
            habits: Habits::default(),
            hooks: BTreeMap::from([("cure room".to_owned(), 10)]),
            airs: BTreeMap::new(),
            days: BTreeMap::from([(
                recipe.label(),
                BTreeMap::from([("cure room".to_owned(), days)]),
            )]),
            runs: 0,
            seed: 1,
        };
        let known = Tables::build(&climate, &recipe.credit);
        let stays = [Stay {
            from: first,
            rack: None,
            hook: None,
            room: Some("cure room".into()),
        }];
        let wanted = Span::hours(20);
        let ready = |run: u64, from: Moment| {
            let weather = Weather::of(&known, &scene, &recipe, run);
            let reached = weather
                .credited(&stays, from, from, wanted)
                .reached
                .unwrap();
            reached.since(from).0 / 3_600_000
        };
        // A cure that has begun, and one that is to come and is held in the room of the cures: 20 h on a warm day, and a day
        // more for each cold one that is drawn before it.
        let now: Vec<i64> = (1..=60).map(|run| ready(run, at)).collect();
        let later = at.plus(Span::hours(24));
        let to_come: Vec<i64> = (1..=60).map(|run| ready(run, later)).collect();
        for list in [&now, &to_come] {
            assert!(
                list.iter().all(|h| *h == 20 || *h == 44 || *h == 68),
                "{list:?}"
            );
            let cold = list.iter().filter(|h| **h > 20).count();
            // One day in six, so 10 of 60 in the mean.
            assert!((3..=20).contains(&cold), "{cold}");
        }
        assert_ne!(now, to_come);
        assert_eq!(now, (1..=60).map(|run| ready(run, at)).collect::<Vec<_>>());
        // Where nothing was drawn, a cure to come counts as an hour for an hour.
        let other = Scene {
            days: BTreeMap::new(),
            ..scene
        };
        let weather = Weather::of(&known, &other, &recipe, 1);
        assert_eq!(
            weather.credited(&stays, later, later, wanted).reached,
            Some(later.plus(wanted))
        );
    }
}
