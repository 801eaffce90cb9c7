//! How earlier plans held: what a plan said of each piece's deeds, against when they were begun.
//!
//! *Invariants*: a forecast counts by what it said alone, never by what came of it: one whose ninth play of ten lies beyond the
//! time that is known is left out, whether its deed was done or not; one whose time is over and whose deed was not done is not
//! covered. A piece's further deeds of a kind are matched in their order.
//!
//! *Not here*: making the plans (`forecast`), reading the deeds (`ledger`), words (`reports::plan`).

use super::forecast::{Forecast, PlannedPiece};
use crate::shop::words::StepKind;
use crate::units::{Moment, Span};
use std::collections::BTreeMap;

/// The deeds of each piece as they were begun, by serial.
pub type Happened = BTreeMap<String, Vec<(StepKind, Moment)>>;

/// How far ahead a forecast looked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lead {
    /// Within a day.
    Day,
    /// Within three days.
    Three,
    /// Further.
    More,
    /// Of a piece to which no step was done yet: the plan takes it up at once, and nobody has said when it will be.
    NotTakenUp,
}

impl Lead {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Day, Self::Three, Self::More, Self::NotTakenUp];

    /// Its words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Day => "within 24 h",
            Self::Three => "1 to 3 days ahead",
            Self::More => "more than 3 days ahead",
            Self::NotTakenUp => "pieces not taken up yet",
        }
    }

    fn of(wait: Span) -> Self {
        if wait <= Span::hours(24) {
            Self::Day
        } else if wait <= Span::hours(72) {
            Self::Three
        } else {
            Self::More
        }
    }
}

/// What some forecasts come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Score {
    /// Forecasts whose P90 lies within the time that is known.
    pub judged: usize,
    /// Of these, those whose deed was begun by the P90.
    pub by_nine: usize,
    /// Of these, those whose deed was begun by the P50.
    pub by_half: usize,
    /// Of these, those whose deed was begun at all.
    pub happened: usize,
    /// Sum of begun less P50 over those, in milliseconds.
    pub off: i64,
    /// Sum of the same without its sign.
    pub away: i64,
    /// Sum of begun less what the stated figures said.
    pub off_stated: i64,
}

impl Score {
    fn add(&mut self, other: &Self) {
        self.judged += other.judged;
        self.by_nine += other.by_nine;
        self.by_half += other.by_half;
        self.happened += other.happened;
        self.off += other.off;
        self.away += other.away;
        self.off_stated += other.off_stated;
    }

    /// A share in percent, rounded down; `None` of nothing.
    pub fn percent(&self, part: usize) -> Option<usize> {
        (part * 100).checked_div(self.judged)
    }

    /// The mean of a sum over what happened.
    pub fn mean(&self, sum: i64) -> Option<Span> {
        let n = i64::try_from(self.happened).unwrap_or(0);
        sum.checked_div(n).map(Span)
    }
}

/// Adds what a plan came to, by how far ahead it looked. `until` is the end of what is known.
pub fn score(
    plan: &Forecast,
    happened: &Happened,
    until: Moment,
    scores: &mut BTreeMap<Lead, Score>,
) {
    // How many deeds of a kind each piece had before, in the order of the plan.
    let mut had: BTreeMap<(usize, StepKind), usize> = BTreeMap::new();
    for step in &plan.steps {
        let kind = step.coming.kind;
        for piece in &step.pieces {
            let count = had.entry((*piece, kind)).or_insert(0);
            let nth = *count;
            *count += 1;
            let Some((Some(half), Some(nine))) = step.begun else {
                continue;
            };
            if nine > until {
                continue;
            }
            let Some(PlannedPiece {
                serial, taken_up, ..
            }) = plan.pieces.get(*piece)
            else {
                continue;
            };
            let begun = happened.get(serial).and_then(|deeds| {
                let later = deeds.iter().filter(|(k, at)| *k == kind && *at >= plan.at);
                later.map(|(_, at)| *at).nth(nth)
            });
            let off = begun.map(|b| b.since(half).0);
            let this = Score {
                judged: 1,
                by_nine: usize::from(begun.is_some_and(|b| b <= nine)),
                by_half: usize::from(begun.is_some_and(|b| b <= half)),
                happened: usize::from(begun.is_some()),
                off: off.unwrap_or(0),
                away: off.map_or(0, i64::abs),
                off_stated: begun.map_or(0, |b| b.since(step.made.began).0),
            };
            let lead = if *taken_up {
                Lead::of(half.since(plan.at))
            } else {
                Lead::NotTakenUp
            };
            scores.entry(lead).or_default().add(&this);
        }
    }
}

/// Those of pieces that were taken up, together.
pub fn sum(scores: &BTreeMap<Lead, Score>) -> Score {
    let mut all = Score::default();
    let taken_up = scores.iter().filter(|(lead, _)| **lead != Lead::NotTakenUp);
    taken_up.for_each(|(_, s)| all.add(s));
    all
}
