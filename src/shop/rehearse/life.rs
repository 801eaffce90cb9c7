//! A life that is played deed by deed, by somebody who decides when each deed is done.
//!
//! *Invariants*: what comes next and from when is asked of the same turns as [`super::rehearse`] plays, so that a life
//! whose deeds are done at once, and take no time, is the rehearsed one.
//!
//! *Not here*: who does a deed and how long it takes (`plan`).

use super::{Play, Stage, Stopped, Turn, chosen};
use crate::shop::standing::PieceNow;
use crate::shop::words::{Rule, StepKind};
use crate::units::Moment;

/// The deed that comes next in a life.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Coming {
    /// What is done, in words: `clear 4 of 9`, `level sand 1`.
    pub what: String,
    /// Its kind.
    pub kind: StepKind,
    /// The surfaces that it is done on, parted by commas; empty where these are all surfaces of the piece.
    pub on: String,
    /// The rework that it belongs to.
    pub rework: Option<String>,
    /// Which coat or stage of its kind it is, counted from 1.
    pub number: u32,
    /// From when on the rules allow it.
    pub opens: Moment,
    /// The earliest moment at which it can be begun: then, or the moment that was asked for.
    pub at: Moment,
    /// The rule that bound it last, and in words; `None` where nothing made it wait.
    pub bound: Option<(Rule, String)>,
    /// Whether that rests on a forecast or on an assumption.
    pub provisional: bool,
}

/// A life under way.
#[derive(Debug, Clone)]
pub struct Life<'a> {
    play: Play<'a>,
    next: Vec<Turn>,
}

impl<'a> Life<'a> {
    /// The rest of a piece's life from `from` on. The stage's working hours say when a deed may be begun.
    pub fn new(now: PieceNow, from: Moment, stage: &'a Stage<'a>) -> Self {
        Self {
            play: Play::new(now, from, stage),
            next: Vec::new(),
        }
    }

    /// The deed that comes next when none is begun before `at`; `None` when nothing is left to do.
    ///
    /// # Errors
    /// Why no time settles what it waits for.
    pub fn next(&mut self, at: Moment) -> Result<Option<Coming>, Stopped> {
        self.play.at = self.play.at.max(at);
        let turns = self.play.turns()?;
        self.next = chosen(&turns).into_iter().cloned().collect();
        let Some(first) = self.next.first() else {
            return Ok(None);
        };
        let latest = self.next.iter().max_by_key(|t| t.opens).unwrap_or(first);
        let (what, _, number) = self.play.named(first);
        let all = self.play.now.current(self.play.stage.recipe).count();
        let surfaces: Vec<&str> = self.next.iter().map(|t| t.surface.as_str()).collect();
        Ok(Some(Coming {
            what,
            kind: first.kind,
            on: if surfaces.len() == all {
                String::new()
            } else {
                surfaces.join(", ")
            },
            rework: first.rework.clone(),
            number,
            opens: latest.opens,
            at: first.at,
            bound: latest.bound.clone(),
            provisional: self.next.iter().any(|t| t.provisional),
        }))
    }

    /// Whether a coat is still ahead.
    pub fn wets(&self) -> bool {
        let mut sites = self.play.now.current(self.play.stage.recipe);
        sites.any(|site| {
            (site.standing.start..site.steps.len())
                .filter(|i| !site.standing.complete(site.steps, *i))
                .filter_map(|i| site.steps.get(i))
                .any(|step| step.kind.wets() && step.kind != StepKind::DropFill)
        })
    }

    /// Does the deed that was told last.
    pub fn act(&mut self, began: Moment, ended: Moment) {
        let next = std::mem::take(&mut self.next);
        let together: Vec<&Turn> = next.iter().collect();
        self.play.visit(&together, began, ended);
        // Nobody asks for them again, and a life may be copied often.
        self.play.visits.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Steady, new_piece, rehearse};
    use super::*;
    use crate::shop::calendar::Calendar;
    use crate::shop::hours::Hours;
    use crate::shop::recipe_file;
    use crate::shop::shift::Shift;
    use crate::units::Span;
    use std::sync::Arc;

    #[test]
    fn a_life_whose_deeds_are_done_at_once_is_the_rehearsed_one() {
        for (name, text) in [
            ("g9", include_str!("../../../sample/recipes/g9.toml")),
            ("rx9", include_str!("../../../sample/recipes/rx9.toml")),
            ("n8", include_str!("../../../sample/recipes/n8.toml")),
        ] {
            let recipe = Arc::new(recipe_file::read(name, text).unwrap());
            let start = Moment(1_772_440_000_000);
            let common = Hours::of(&Calendar::BARE, &[Shift::COMMON]);
            let stage = Stage {
                recipe: &recipe,
                calendar: &Calendar::BARE,
                air: &Steady::FULL,
                hours: &common,
                solvent: &[],
            };
            let piece = new_piece(&recipe, start, &Calendar::BARE);
            let whole = rehearse(&piece, start, &stage).unwrap();
            let mut life = Life::new(piece, start, &stage);
            let mut at = start;
            let mut done = Vec::new();
            while let Some(coming) = life.next(at).unwrap() {
                at = coming.at;
                life.act(at, at);
                done.push((coming.what, coming.kind, coming.opens, coming.at));
            }
            let wanted: Vec<_> = whole
                .visits
                .iter()
                .map(|v| (v.what.clone(), v.kind, v.opens, v.at))
                .collect();
            assert_eq!(done, wanted, "{name}");
        }
    }

    #[test]
    fn intervals_run_from_the_end_of_a_coat_and_the_day_is_that_of_its_beginning() {
        let text = include_str!("../../../sample/recipes/g9.toml");
        let recipe = Arc::new(recipe_file::read("g9", text).unwrap());
        let always = Hours::of(&Calendar::BARE, &[Shift::ALWAYS]);
        let stage = Stage {
            recipe: &recipe,
            calendar: &Calendar::BARE,
            air: &Steady::FULL,
            hours: &always,
            solvent: &[],
        };
        let start = Moment(1_772_440_000_000).minute_up();
        let mut life = Life::new(new_piece(&recipe, start, &Calendar::BARE), start, &stage);
        // Receive, mask and the first coat, an hour each.
        for _ in 0..3 {
            let coming = life.next(start).unwrap().unwrap();
            life.act(coming.at, coming.at.plus(Span::hours(1)));
        }
        let second = life.next(start).unwrap().unwrap();
        assert_eq!(second.what, "seal 2 of 2");
        // 60 min after the end of the first, which is 3 h after the start.
        assert_eq!(second.at, start.plus(Span::hours(4)));
    }
}
