//! What lies ahead of the pieces in process: when each is forecast to be there, and the pairs that cannot meet in time.
//!
//! *Invariants*: a forecast and what a solvent model holds back are computed on reading and never kept; pieces that stand alike under one recipe share one.
//! A cure that has begun goes by its room, one to come by a room that is held where an hour counts as an hour.
//!
//! *Not here*: how a life is played (`shop::rehearse`).

use super::book::{Book, FetchedAir, MixTable};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{Reach, Seen, piece_entries, recipes_of};
use crate::shop::calendar::Calendar;
use crate::shop::climate::{Air, Stay};
use crate::shop::hours::Hours;
use crate::shop::recipe::Recipe;
use crate::shop::record::Fact;
use crate::shop::rehearse::{Ahead, Stage, Steady, rehearse};
use crate::shop::rules::cure_hours;
use crate::shop::solvent::{Laid, SolventHold, course, hold, laid};
use crate::shop::standing::{PieceNow, Site, Standing};
use crate::units::{Moment, Share, Span};
use chrono::NaiveDate;
use rusqlite::Connection;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// When a piece is forecast to be there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// When its last deed is done; `None` when nothing is left to do.
    pub end: Option<Moment>,
    /// From when on it can be mated, or its end.
    pub there: Option<Moment>,
    /// Whether that rests on a forecast of the air or on an assumption about it.
    pub provisional: bool,
}

/// One half of a pair.
#[derive(Debug, Clone)]
pub struct HalfAhead {
    /// Its serial.
    pub serial: String,
    /// The piece, where it is in process.
    pub seen: Option<Seen>,
    /// When it is there, or why that cannot be told.
    pub told: Result<Told, String>,
}

impl HalfAhead {
    /// From when on it can be mated.
    pub fn there(&self) -> Option<Moment> {
        self.told.as_ref().ok().and_then(|t| t.there)
    }
}

/// A pair that is forecast to miss its date, or whose date cannot be told.
#[derive(Debug, Clone)]
pub struct PairAhead {
    /// The halves; bodies before necks.
    pub halves: [HalfAhead; 2],
    /// The earlier of their due dates.
    pub due: NaiveDate,
    /// When both are there and people, too; `None` when that cannot be told.
    pub meet: Option<Moment>,
    /// Days after the due date; `None` when that cannot be told.
    pub days_late: Option<i64>,
    /// Which half holds the other back: 0 or 1.
    pub constraint: usize,
}

/// The answer about pairs.
#[derive(Debug, Clone)]
pub struct AtRisk {
    /// Pairs with a due date that were looked at.
    pub looked_at: usize,
    /// Those that cannot meet in time, the latest first; those whose date cannot be told before them.
    pub pairs: Vec<PairAhead>,
}

/// The solvent that is left in the film of one surface, by its recipe's model: an estimate, computed on reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SolventLeft {
    /// The surface.
    pub surface: String,
    /// The share that is left, from the last deed on to the moment that was asked for.
    pub points: Vec<(Moment, Share)>,
    /// The share that the recipe's own schedule has left when its cure is over.
    pub own: Share,
}

/// All of a standing that the rest of a life depends on: the film does not move a clock.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Alike {
    surfaces: BTreeMap<(u32, String), Standing>,
    reworks: Vec<String>,
    // Rooms since the last wet coat.
    rooms: Vec<(Moment, Option<String>)>,
}

impl Alike {
    /// What the rest of this piece's life depends on.
    pub fn of(now: &PieceNow) -> Self {
        let mut surfaces = BTreeMap::clone(&now.surfaces);
        for standing in surfaces.values_mut() {
            standing.film_nm = 0;
            standing.gauged = false;
        }
        let wet = surfaces.values().filter_map(|s| s.last_wet).min();
        let rooms = wet.map_or_else(Vec::new, |wet| {
            let first = now
                .stays
                .partition_point(|s| s.from <= wet)
                .saturating_sub(1);
            now.stays
                .iter()
                .skip(first)
                .map(|s| (s.from.max(wet), s.room.clone()))
                .collect()
        });
        Self {
            surfaces,
            reworks: now.branches.iter().map(|b| b.rework.clone()).collect(),
            rooms,
        }
    }
}

/// Forecasts under one recipe, each kind of standing played once.
#[derive(Debug)]
pub(super) struct Forecasts<'a> {
    recipe: &'a Arc<Recipe>,
    calendar: &'a Calendar,
    air: Ahead<'a>,
    hours: &'a Hours,
    kept: HashMap<Alike, Result<Told, String>>,
}

impl<'a> Forecasts<'a> {
    pub(super) fn new(
        recipe: &'a Arc<Recipe>,
        calendar: &'a Calendar,
        air: &'a FetchedAir<'a>,
        hours: &'a Hours,
        at: Moment,
    ) -> Self {
        Self {
            recipe,
            calendar,
            air: Ahead {
                known: air,
                until: at,
                then: Steady::FULL,
            },
            hours,
            kept: HashMap::new(),
        }
    }

    /// When a piece is forecast to be there, or why that cannot be told.
    pub(super) fn of(&mut self, now: &PieceNow, solvent: &[SolventHold]) -> Result<Told, String> {
        let key = Alike::of(now);
        // What is held, scrapped or mated is told by its own words, and what a model holds back by its own film.
        let shared = now.holds.is_empty() && now.in_process() && solvent.is_empty();
        if let Some(known) = self.kept.get(&key).filter(|_| shared) {
            return known.clone();
        }
        let stage = Stage {
            recipe: self.recipe,
            calendar: self.calendar,
            air: &self.air,
            hours: self.hours,
            solvent,
        };
        let told = rehearse(now, self.air.until, &stage)
            .map(|life| Told {
                end: life.end(),
                there: life.there(),
                provisional: life.provisional(),
            })
            .map_err(|e| e.to_string());
        if shared {
            self.kept.insert(key, told.clone());
        }
        told
    }
}

impl Ledger {
    /// The solvent that is left in each film of a piece that has one, at some `points` up to `at`; empty where the recipe
    /// has no solvent model, or the model no answer.
    pub fn solvent_left(
        &self,
        seen: &Seen,
        at: Moment,
        points: u16,
    ) -> Result<Vec<SolventLeft>, LedgerError> {
        let (now, recipe) = (&seen.now, &seen.recipe);
        let Some(model) = recipe.solvent else {
            return Ok(Vec::new());
        };
        let air = FetchedAir::new((&self.conn, &self.book), recipe, at, i64::MAX);
        let laid = laid_on(&self.conn, &self.book, now, at)?;
        let mut out = Vec::new();
        for site in now.current(recipe) {
            let statement = self.book.statement(recipe, site.rework, site.surface);
            let (Some(statement), Some(laid)) = (statement, laid.get(site.surface)) else {
                continue;
            };
            let points = course(&statement, laid, (&now.stays, &air), at, points);
            out.extend(points.map(|points| SolventLeft {
                surface: site.surface.to_owned(),
                points,
                own: model.left,
            }));
        }
        air.fault()?;
        Ok(out)
    }

    /// The pairs in process that are forecast to miss their due date by these working hours, and those whose date
    /// cannot be told. A pair is due when the first of its halves is.
    pub fn at_risk(&self, at: Moment, hours: &Hours) -> Result<AtRisk, LedgerError> {
        let calendar = self.calendar();
        let floor = self.floor(at, None)?;
        let mut told: BTreeMap<String, Result<Told, String>> = BTreeMap::new();
        let mut by_recipe: BTreeMap<String, Vec<&Seen>> = BTreeMap::new();
        for seen in floor.iter().filter(|s| s.now.piece.pair.is_some()) {
            by_recipe.entry(seen.recipe.label()).or_default().push(seen);
        }
        for group in by_recipe.values() {
            let Some(recipe) = group.first().map(|s| &s.recipe) else {
                continue;
            };
            let air = FetchedAir::new((&self.conn, &self.book), recipe, at, i64::MAX);
            if let Some(oldest) = group.iter().filter_map(|s| s.oldest_wet()).min() {
                air.reach_back(oldest);
            }
            let mut forecasts = Forecasts::new(recipe, &calendar, &air, hours, at);
            for seen in group {
                told.insert(
                    seen.now.piece.serial.clone(),
                    forecasts.of(&seen.now, &seen.solvent),
                );
            }
            air.fault()?;
        }
        let missing: BTreeMap<String, String> = self.unpaired()?.into_iter().collect();
        let by_serial: BTreeMap<&str, &Seen> = floor
            .iter()
            .map(|s| (s.now.piece.serial.as_str(), s))
            .collect();
        let half = |serial: &str, why: Option<&String>| HalfAhead {
            serial: serial.to_owned(),
            seen: by_serial.get(serial).map(|s| (*s).clone()),
            told: told.get(serial).cloned().unwrap_or_else(|| {
                Err(why
                    .cloned()
                    .unwrap_or_else(|| format!("{serial} is not in process")))
            }),
        };
        let mut out = AtRisk {
            looked_at: 0,
            pairs: Vec::new(),
        };
        for seen in &floor {
            let (serial, Some(pair)) = (&seen.now.piece.serial, &seen.now.piece.pair) else {
                continue;
            };
            let other = by_serial.get(pair.as_str());
            let mutual = other.is_some_and(|o| o.now.piece.pair.as_ref() == Some(serial));
            // Each pair once: the half that sorts first, bodies before necks, speaks for it.
            let first = |s: &Seen| (s.now.piece.kind, s.now.piece.serial.clone());
            if mutual && other.is_some_and(|o| first(o) < first(seen)) {
                continue;
            }
            let dues = [Some(seen), other.copied()];
            let Some(due) = dues
                .into_iter()
                .flatten()
                .filter_map(|s| s.now.piece.due)
                .min()
            else {
                continue;
            };
            out.looked_at += 1;
            let halves = [half(serial, None), half(pair, missing.get(serial))];
            let opens = |m| hours.next(m).unwrap_or(m);
            out.pairs.extend(weigh(halves, due, opens, &calendar));
        }
        out.pairs.sort_by(|a, b| {
            let key = |p: &PairAhead| (p.days_late.is_some(), p.days_late.map(std::cmp::Reverse));
            key(a)
                .cmp(&key(b))
                .then_with(|| a.due.cmp(&b.due))
                .then_with(|| a.halves[0].serial.cmp(&b.halves[0].serial))
        });
        Ok(out)
    }
}

/// A pair that misses its date or whose date cannot be told; `None` when it meets in time. `opens` is the first moment
/// from another on at which people are there.
pub fn weigh(
    halves: [HalfAhead; 2],
    due: NaiveDate,
    opens: impl Fn(Moment) -> Moment,
    calendar: &Calendar,
) -> Option<PairAhead> {
    let [a, b] = &halves;
    let constraint = match (a.there(), b.there()) {
        (None, _) => 0,
        (Some(_), None) => 1,
        (Some(a), Some(b)) => usize::from(b > a),
    };
    let meet = a.there().zip(b.there()).map(|(a, b)| opens(a.max(b)));
    let days_late = meet.map(|m| {
        calendar
            .local(m)
            .date_naive()
            .signed_duration_since(due)
            .num_days()
    });
    days_late.is_none_or(|d| d > 0).then_some(PairAhead {
        halves,
        due,
        meet,
        days_late,
        constraint,
    })
}

/// What the recipe's solvent model holds back on the surfaces of a piece that stand in their cure: only these are looked
/// up, and most recipes have no model.
pub(super) fn solvent_holds(
    conn: &Connection,
    book: &Book,
    (now, recipe): (&PieceNow, &Arc<Recipe>),
    at: Moment,
    air: &FetchedAir<'_>,
) -> Result<Vec<SolventHold>, LedgerError> {
    let Some(model) = recipe.solvent else {
        return Ok(Vec::new());
    };
    let cures: Vec<(Site<'_>, Span)> = now
        .current(recipe)
        .filter_map(|s| Some((s, cure_hours(&s)?)))
        .collect();
    if cures.is_empty() || !now.in_process() {
        return Ok(Vec::new());
    }
    let laid = laid_on(conn, book, now, at)?;
    let mut out = Vec::new();
    for (site, hours) in cures {
        let statement = book.statement(recipe, site.rework, site.surface);
        if let (Some(statement), Some(laid)) = (statement, laid.get(site.surface)) {
            let rooms: (&[Stay], &dyn Air) = (&now.stays, air);
            out.extend(hold(site.surface, &statement, model, hours, laid, rooms));
        }
    }
    Ok(out)
}

// What changed the film of each surface of a piece, up to `at`.
fn laid_on(
    conn: &Connection,
    book: &Book,
    now: &PieceNow,
    at: Moment,
) -> Result<BTreeMap<String, Vec<Laid>>, LedgerError> {
    let reach = Reach {
        ended: at,
        ..Reach::ALL
    };
    let entries = piece_entries(conn, now.id, reach)?;
    let recipes = recipes_of(conn, book, Some(now), &entries)?;
    let mut mixes = MixTable::default();
    for entry in &entries {
        if let Fact::Coat(c) = &entry.fact {
            mixes.add(conn, book, c)?;
        }
    }
    Ok(laid(&entries, &recipes, &mixes))
}
