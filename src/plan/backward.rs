//! Dates from the due date backwards: by when each step of a piece must be begun at the latest.
//!
//! *Invariants*: found by playing the piece's own rules forwards, as if nothing else were on the floor, with the step held back
//! for longer and longer: no second set of rules that runs backwards. To the minute.
//!
//! *Not here*: what else is on the floor (`forecast`); the other half of its pair, which is taken to be there.

use super::forecast::with_table;
use super::lives::{Done, Played, Table, Way};
use super::scene::{Scene, Suppose};
use crate::shop::words::StepKind;
use crate::units::{Moment, Span};
use chrono::NaiveDate;

/// A step of a piece with its bounds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Latest {
    /// What is done.
    pub what: String,
    /// Its kind.
    pub kind: StepKind,
    /// The surfaces that it is done on; empty for all.
    pub on: String,
    /// When it is begun at the earliest.
    pub earliest: Moment,
    /// When it is begun at the latest for the piece to be in time; `None` where it cannot be.
    pub latest: Option<Moment>,
}

/// A piece's dates, backwards from its due date.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backward {
    /// The date that it is due.
    pub due: NaiveDate,
    /// When it has nothing left to do, at the earliest; `None` where that cannot be told.
    pub end: Option<Moment>,
    /// Why that cannot be told.
    pub stuck: Option<String>,
    /// The steps that are left, in their order.
    pub steps: Vec<Latest>,
}

impl Backward {
    /// The last coat that is left.
    pub fn last_coat(&self) -> Option<&Latest> {
        self.steps.iter().rev().find(|s| s.kind.wets())
    }
}

/// The dates of a piece of the floor, by its number there, backwards from a date.
pub fn backward(scene: &Scene<'_>, suppose: &Suppose, piece: usize, due: NaiveDate) -> Backward {
    with_table(scene, suppose, |table, _| {
        let way = Way {
            alone: Some(piece),
            ..Way::default()
        };
        let early = table.play(way);
        let over = |played: &Played| played.over.get(piece).copied().unwrap_or(false);
        let end_of = |played: &Played| {
            let end = played.ends.get(piece).copied().flatten();
            end.filter(|_| over(played))
        };
        // It is in time up to the last minute of its date.
        let last = scene
            .calendar
            .midnight(due.succ_opt().unwrap_or(due))
            .minus(Span::minutes(1));
        let end = end_of(&early);
        let in_time = |played: &Played| end_of(played).is_some_and(|end| end <= last);
        let steps = early
            .deeds
            .iter()
            .enumerate()
            .map(|(n, done)| Latest {
                what: done.coming.what.clone(),
                kind: done.coming.kind,
                on: done.coming.on.clone(),
                earliest: done.made.began,
                latest: in_time(&early)
                    .then(|| latest(table, way, n, done, last, &in_time))
                    .flatten(),
            })
            .collect();
        Backward {
            due,
            end,
            stuck: early.stuck.get(piece).cloned().flatten(),
            steps,
        }
    })
}

// The latest moment at which a deed may be begun: each play that holds it back a minute longer ends no earlier.
fn latest(
    table: &Table<'_>,
    way: Way,
    number: usize,
    done: &Done,
    last: Moment,
    in_time: &impl Fn(&Played) -> bool,
) -> Option<Moment> {
    let deed = u64::try_from(number).ok()?;
    let first = done.made.began;
    // By so many minutes it can be held back, and by so many it cannot.
    let (mut good, mut bad) = (0, last.since(first).minutes_up() + 1);
    let mut found = first;
    while bad - good > 1 {
        let half = good + (bad - good) / 2;
        let until = first.plus(Span::minutes(half));
        let played = table.play(Way {
            hold: Some((deed, until)),
            ..way
        });
        if in_time(&played) {
            good = half;
            // Held back into the night, it is begun in the morning.
            let began = played.deeds.get(number).map_or(until, |d| d.made.began);
            found = found.max(began);
        } else {
            bad = half;
        }
    }
    Some(found)
}
