//! Deeds of the last weeks, with when the recipe allowed them, and how often a rework followed on a step: what a plan learns
//! the habits of the shop from.
//!
//! *Invariants*: what was allowed from when on is asked of the rules that judge the deed itself, at the moment before it. A deed
//! on a rack is one deed, allowed when its last piece was, also where several people share it, each a part of the hooks. A step counts as come through when the next one or a rework followed
//! on it: of what was done last nobody knows yet. Only so many pieces are read, whatever the years of history.
//!
//! *Not here*: what follows from it (`plan`).

use super::book::{FetchedAir, MixTable};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{Reach, piece_entries, recipes_of};
use crate::shop::record::{Entry, Fact, PieceId};
use crate::shop::rules::{Around, Deed, Ground, opens};
use crate::shop::standing::PieceNow;
use crate::shop::words::StepKind;
use crate::units::{Moment, Span};
use rusqlite::params;
use std::collections::{BTreeMap, BTreeSet};

/// How far back is looked: two months, so that a cure of some weeks and the work after it are in it.
const BACK: Span = Span::hours(60 * 24);
/// The most pieces whose deeds are read; the newest are.
const MOST: i64 = 400;

/// A deed as it was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PastDeed {
    /// What kind.
    pub kind: StepKind,
    /// From when on it was allowed; the first one on a piece from when that was taken in.
    pub opens: Moment,
    /// When it began.
    pub began: Moment,
    /// When it ended.
    pub ended: Moment,
    /// On how many pieces.
    pub pieces: u32,
    /// Whether it was the first one on them: until then nobody had taken them up.
    pub first: bool,
    /// Whether it is a part of a deed on its rack that others had begun, or began with it.
    pub joined: bool,
}

/// How often a rework followed on a step, and how long it took.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PastRework {
    /// How many pieces came through the step.
    pub pieces: usize,
    /// How often they did: some steps are done to a piece several times.
    pub through: usize,
    /// How often a rework was opened before the next step.
    pub opened: usize,
    /// How long those that are over took, from when they were opened to the end of their last deed.
    pub lengths: Vec<Span>,
}

/// What was done in the last weeks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Past {
    /// The deeds of the recipe, in the order in which they began.
    pub deeds: Vec<PastDeed>,
    /// What followed on each kind of step.
    pub reworks: BTreeMap<StepKind, PastRework>,
}

// The deeds of each action, with the rack on which the pieces hung.
type ByAction = BTreeMap<(i64, StepKind), (PastDeed, Option<String>)>;

// What is gathered of all pieces.
#[derive(Debug, Default)]
struct Gathered {
    by_action: ByAction,
    reworks: BTreeMap<StepKind, PastRework>,
}

// How a piece stands between a step and what follows on it.
#[derive(Debug, Default)]
struct Between {
    // The step of the main line that was done last, and when it began: entries of one deed on several surfaces are one.
    last: Option<(StepKind, Moment)>,
    // The step on which the open rework followed, and when it was opened.
    open: Option<(StepKind, Moment)>,
    seen: BTreeSet<StepKind>,
}

impl Between {
    fn settle(&mut self, opened: bool, out: &mut BTreeMap<StepKind, PastRework>) {
        let Some((kind, _)) = self.last.take() else {
            return;
        };
        let past = out.entry(kind).or_default();
        past.pieces += usize::from(self.seen.insert(kind));
        past.through += 1;
        past.opened += usize::from(opened);
    }

    // Before an entry is applied.
    fn meets(&mut self, entry: &Entry, in_rework: bool, out: &mut BTreeMap<StepKind, PastRework>) {
        if matches!(entry.fact, Fact::Reworked { .. }) {
            if let Some((kind, _)) = self.last {
                self.open = Some((kind, entry.ended));
            }
            self.settle(true, out);
        } else if let Some(kind) = deed_of(entry).filter(|_| !in_rework) {
            let deed = (kind, entry.began);
            if self.last != Some(deed) {
                self.settle(false, out);
                self.last = Some(deed);
            }
        }
    }

    // After an entry was applied.
    fn ends(&mut self, entry: &Entry, in_rework: bool, out: &mut BTreeMap<StepKind, PastRework>) {
        if let Some((kind, opened)) = self.open.take_if(|_| !in_rework) {
            let length = entry.ended.since(opened);
            out.entry(kind).or_default().lengths.push(length);
        }
    }
}

impl Ledger {
    /// What ended in the last weeks before `at`. `known_at` leaves out what was written later.
    pub fn past(&self, at: Moment, known_at: Option<Moment>) -> Result<Past, LedgerError> {
        let since = at.minus(BACK);
        let ids: Vec<i64> = self
            .conn
            .prepare_cached(
                "SELECT id FROM piece WHERE newest >= ?1 ORDER BY newest DESC LIMIT ?2",
            )?
            .query_map(params![since.0, MOST], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        let mut found = Gathered::default();
        let entry = self.known_entry(known_at)?;
        for id in ids {
            self.past_of(PieceId(id), (since, at), (known_at, entry), &mut found)?;
        }
        Ok(Past {
            deeds: together(found.by_action.into_values().collect()),
            reworks: found.reworks,
        })
    }

    fn past_of(
        &self,
        id: PieceId,
        (since, at): (Moment, Moment),
        (known_at, entry): (Option<Moment>, Option<i64>),
        out: &mut Gathered,
    ) -> Result<(), LedgerError> {
        let reach = Reach {
            ended: at,
            written: known_at.unwrap_or(Moment(i64::MAX)),
            ..Reach::ALL
        };
        let entries = piece_entries(&self.conn, id, reach)?;
        let recipes = recipes_of(&self.conn, &self.book, None, &entries)?;
        let Some(Fact::Added(piece)) = entries.first().map(|e| &e.fact) else {
            return Ok(());
        };
        let Some(recipe) = recipes.of(piece).cloned() else {
            return Ok(());
        };
        let air = FetchedAir::new((&self.conn, &self.book), &recipe, at, i64::MAX).known(entry);
        let calendar = self.calendar();
        let mut mixes = MixTable::default();
        let mut now: Option<PieceNow> = None;
        let mut between = Between::default();
        let in_rework = |now: &PieceNow| {
            let recipe = recipes.of(&now.piece);
            recipe.is_some_and(|r| now.current(r).any(|site| site.rework.is_some()))
        };
        for entry in &entries {
            if let Fact::Coat(c) = &entry.fact {
                mixes.add(&self.conn, &self.book, c)?;
            }
            let Some(now) = &mut now else {
                now = Some(PieceNow::taken_in(entry, piece, &recipe));
                continue;
            };
            // What waited for somebody's word says nothing of the habits of the shop.
            if entry.ended >= since
                && now.holds.is_empty()
                && let Some(recipe) = recipes.of(&now.piece)
                && let Some(kind) = deed_of(entry)
            {
                let ground = Ground {
                    recipe,
                    calendar: &calendar,
                    air: &air,
                    around: Around::NOTHING,
                };
                if let Some(opens) = allowed(now, kind, entry.began, &ground) {
                    let first = now.surfaces.values().all(|s| s.last_deed.is_none());
                    let rack = now.place().and_then(|p| p.rack.as_deref());
                    let what = (kind, first);
                    self.note_past(entry, what, opens, rack, &mut out.by_action)?;
                }
            }
            let lately = entry.ended >= since;
            if lately {
                between.meets(entry, in_rework(now), &mut out.reworks);
            }
            now.apply(entry, &recipes, &mixes);
            if lately {
                between.ends(entry, in_rework(now), &mut out.reworks);
            }
        }
        air.fault()
    }

    fn note_past(
        &self,
        entry: &Entry,
        (kind, first): (StepKind, bool),
        opens: Moment,
        rack: Option<&str>,
        out: &mut ByAction,
    ) -> Result<(), LedgerError> {
        let (action, pieces): (i64, u32) = self
            .conn
            .prepare_cached(
                "SELECT action, (SELECT count(DISTINCT o.piece) FROM entry o WHERE o.action = e.action AND o.kind = e.kind)
                 FROM entry e WHERE seq = ?1",
            )?
            .query_row([entry.seq.0], |r| Ok((r.get(0)?, r.get(1)?)))?;
        let (deed, _) = out.entry((action, kind)).or_insert_with(|| {
            let deed = PastDeed {
                kind,
                opens,
                began: entry.began,
                ended: entry.ended,
                pieces,
                first,
                joined: false,
            };
            (deed, rack.map(str::to_owned))
        });
        deed.opens = deed.opens.max(opens);
        Ok(())
    }
}

// The deeds in the order in which they began. Of those that people did at one time on a rack the first stands for all, and was
// allowed when the last of their pieces was. A step for which pieces are taken down is done to each by itself.
fn together(mut deeds: Vec<(PastDeed, Option<String>)>) -> Vec<PastDeed> {
    deeds.sort_by_key(|(d, _)| (d.began, d.ended));
    let mut out: Vec<PastDeed> = Vec::with_capacity(deeds.len());
    // Which deed was the first, and until when the last of those with it lasts.
    let mut running: BTreeMap<(String, StepKind), (usize, Moment)> = BTreeMap::new();
    for (mut deed, rack) in deeds {
        if let Some(rack) = rack.filter(|_| !deed.kind.takes_down()) {
            let known = running.entry((rack, deed.kind));
            let (lead, until) = known.or_insert((out.len(), deed.ended));
            match out.get_mut(*lead) {
                Some(first) if deed.began < *until || deed.began == first.began => {
                    first.opens = first.opens.max(deed.opens);
                    deed.joined = true;
                    *until = deed.ended.max(*until);
                }
                _ => (*lead, *until) = (out.len(), deed.ended),
            }
        }
        out.push(deed);
    }
    out
}

// The step that an entry is a deed of; none for a touch-up, which no recipe asks for.
fn deed_of(entry: &Entry) -> Option<StepKind> {
    match &entry.fact {
        Fact::Coat(c) if c.touch_up => None,
        fact => fact.step_kind(),
    }
}

// From when on a deed that was next was allowed; `None` where it was not the next one of any surface.
fn allowed(now: &PieceNow, kind: StepKind, began: Moment, ground: &Ground<'_>) -> Option<Moment> {
    let next = now.current(ground.recipe).filter(|site| {
        let step = site.standing.next(site.steps);
        step.and_then(|i| site.steps.get(i))
            .is_some_and(|s| s.kind == kind)
    });
    next.map(|site| {
        let (from, _) = opens(now, &site, &Deed::of(kind), began, ground);
        // The first deed on a piece could be done from when it was taken in.
        from.max(site.standing.last_deed).unwrap_or(now.newest)
    })
    .max()
}

#[cfg(test)]
mod tests {
    use super::StepKind::{FinalSand, LevelSand};
    use super::*;

    #[test]
    fn a_rack_that_several_share_is_one_deed_and_pieces_that_are_taken_down_are_each_their_own() {
        let minute = |m: i64| Moment(0).plus(Span::minutes(m));
        let deed = |kind, opens, began, ended, rack: Option<&str>| {
            let deed = PastDeed {
                kind,
                opens: minute(opens),
                began: minute(began),
                ended: minute(ended),
                pieces: 5,
                first: false,
                joined: false,
            };
            (deed, rack.map(str::to_owned))
        };
        let found = together(vec![
            // Hooks 6-10 by another person: they were allowed seven minutes later.
            deed(LevelSand, 7, 20, 70, Some("R1")),
            deed(LevelSand, 0, 20, 65, Some("R1")),
            // A third one helps before they are done, and a piece that was left out follows when all are.
            deed(LevelSand, 0, 66, 80, Some("R1")),
            deed(LevelSand, 0, 80, 85, Some("R1")),
            // Another rack, no rack, and a step that is done to one piece after another.
            deed(LevelSand, 0, 21, 60, Some("R2")),
            deed(LevelSand, 0, 22, 60, None),
            deed(LevelSand, 0, 23, 60, None),
            deed(FinalSand, 0, 24, 60, Some("R1")),
            deed(FinalSand, 0, 25, 60, Some("R1")),
        ]);
        let told: Vec<(i64, i64, bool)> = found
            .iter()
            .map(|d| (d.began.0 / 60_000, d.opens.0 / 60_000, d.joined))
            .collect();
        let wanted = [
            (20, 7, false),
            (20, 7, true),
            (21, 0, false),
            (22, 0, false),
            (23, 0, false),
            (24, 0, false),
            (25, 0, false),
            (66, 0, true),
            (80, 0, false),
        ];
        assert_eq!(told, wanted);
    }
}
