//! Two plans of one floor beside each other: as it is, and with what is supposed.
//!
//! *Invariants*: both are drawn by the same seed, deed by deed, so that a difference is that of what is supposed. Pieces that are
//! only supposed are counted apart.
//!
//! *Not here*: words (`reports::plan`).

use super::forecast::{Forecast, PlannedPiece};
use crate::shop::calendar::Calendar;
use crate::units::{Moment, Span};
use std::collections::BTreeMap;

/// A figure of both plans.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Beside<T> {
    /// As it is.
    pub today: T,
    /// With what is supposed.
    pub then: T,
}

/// When the last piece of a rack has nothing left to do, or a piece that hangs on none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RackEnd {
    /// The rack, or the serial.
    pub name: String,
    /// By the stated figures, of its pieces that come to an end; `None` where none does.
    pub end: Beside<Option<Moment>>,
    /// In nine of ten plays.
    pub nine: Beside<Option<Moment>>,
}

/// Pieces with a step that begins at another time, by the stated figures, and by how much at the most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Shifted {
    /// How many pieces.
    pub pieces: usize,
    /// The most that one of their steps is moved.
    pub most: Span,
}

/// Two plans beside each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// Pieces that miss their date by the stated figures.
    pub late: Beside<usize>,
    /// Pieces that miss it in more than one of ten plays, and pieces of which that is not told; `None` without a spread.
    pub may_be_late: Option<Beside<(usize, usize)>>,
    /// Pairs that cannot meet in time.
    pub pairs: Beside<usize>,
    /// Days on which a room is short of hooks, and by how many at the most.
    pub short: Beside<(usize, u32)>,
    /// When the last piece of today's floor has nothing left to do.
    pub last: Beside<Option<Moment>>,
    /// Pieces that do not come to their end.
    pub stuck: Beside<usize>,
    /// Pieces of today's floor with a step that begins later then, also where their end does not move.
    pub later: Shifted,
    /// The same of a step that begins earlier.
    pub earlier: Shifted,
    /// Serials that miss their date then and not today.
    pub newly_late: Vec<String>,
    /// Serials that miss their date today and not then.
    pub no_longer_late: Vec<String>,
    /// The racks whose end moves, those that move most first.
    pub racks: Vec<RackEnd>,
    /// When the pieces that are only supposed are done, by rack.
    pub supposed: Vec<(String, Option<Moment>)>,
}

fn of_today(plan: &Forecast) -> impl Iterator<Item = &PlannedPiece> {
    plan.pieces.iter().filter(|p| !p.supposed)
}

fn late(plan: &Forecast) -> Vec<&str> {
    of_today(plan)
        .filter(|p| p.days_late.is_some())
        .map(|p| p.serial.as_str())
        .collect()
}

fn short(plan: &Forecast) -> (usize, u32) {
    let days = plan.rooms.iter().flat_map(|r| &r.days);
    let short: Vec<u32> = days.filter_map(|d| d.short.filter(|s| *s > 0)).collect();
    (short.len(), short.iter().max().copied().unwrap_or(0))
}

// The end of each rack: of the latest of its pieces that come to an end.
fn ends(plan: &Forecast, nine: bool, supposed: bool) -> BTreeMap<String, Option<Moment>> {
    let mut out: BTreeMap<String, Option<Moment>> = BTreeMap::new();
    for piece in plan.pieces.iter().filter(|p| p.supposed == supposed) {
        let end = if nine {
            piece.ends.and_then(|(_, nine)| nine)
        } else {
            piece.end
        };
        let name = piece.rack.clone().unwrap_or_else(|| piece.serial.clone());
        out.entry(name)
            .and_modify(|kept| *kept = end.max(*kept))
            .or_insert(end);
    }
    out
}

// When each step of each piece of today's floor begins; one that comes again has its turn beside it.
fn begins(plan: &Forecast) -> BTreeMap<(&str, String, usize), Moment> {
    let mut turns: BTreeMap<(&str, String), usize> = BTreeMap::new();
    let mut out = BTreeMap::new();
    for step in &plan.steps {
        let c = &step.coming;
        let what = format!(
            "{} {} {}",
            c.rework.as_deref().unwrap_or_default(),
            c.what,
            c.on
        );
        let here = step.pieces.iter().filter_map(|n| plan.pieces.get(*n));
        for piece in here.filter(|p| !p.supposed) {
            let serial = piece.serial.as_str();
            let turn = turns.entry((serial, what.clone())).or_insert(0);
            *turn += 1;
            out.insert((serial, what.clone(), *turn), step.made.began);
        }
    }
    out
}

// Pieces with a step that is moved, by how much it is: later above nought, earlier below. A step that one of the plans does not
// come to is not among them.
fn shifted(today: &Forecast, then: &Forecast, sign: i64) -> Shifted {
    let (a, b) = (begins(today), begins(then));
    let mut most: BTreeMap<&str, i64> = BTreeMap::new();
    for (name, at) in &a {
        let by = b.get(name).map_or(0, |b| b.since(*at).0 * sign);
        if by > 0 {
            let kept = most.entry(name.0).or_insert(0);
            *kept = by.max(*kept);
        }
    }
    Shifted {
        pieces: most.len(),
        most: Span(most.values().max().copied().unwrap_or(0)),
    }
}

/// Pieces of today's floor with a date of which the end of nine of ten plays misses it, and pieces with a date of which that
/// end is not told; `None` without a spread.
pub fn may_be_late(plan: &Forecast, calendar: &Calendar) -> Option<(usize, usize)> {
    let nine = |p: &PlannedPiece| p.ends.and_then(|(_, nine)| nine);
    let dated = || of_today(plan).filter_map(|p| Some((p, p.due?)));
    (plan.runs > 0).then(|| {
        let late = dated()
            .filter(|(p, due)| nine(p).is_some_and(|m| calendar.local(m).date_naive() > *due));
        let open = dated().filter(|(p, _)| nine(p).is_none());
        (late.count(), open.count())
    })
}

/// Lays two plans beside each other.
pub fn compare(today: &Forecast, then: &Forecast, calendar: &Calendar) -> Comparison {
    let (a, b) = (late(today), late(then));
    let both = |list: &[&str], other: &[&str]| -> Vec<String> {
        let only = list.iter().filter(|s| !other.contains(s));
        only.map(|s| (*s).to_owned()).collect()
    };
    let last = |plan: &Forecast| of_today(plan).filter_map(|p| p.end).max();
    let stuck = |plan: &Forecast| of_today(plan).filter(|p| p.stuck.is_some()).count();
    let (ends_a, ends_b) = (ends(today, false, false), ends(then, false, false));
    let (nine_a, nine_b) = (ends(today, true, false), ends(then, true, false));
    let mut racks: Vec<RackEnd> = ends_a
        .iter()
        .map(|(name, end)| RackEnd {
            name: name.clone(),
            end: Beside {
                today: *end,
                then: ends_b.get(name).copied().flatten(),
            },
            nine: Beside {
                today: nine_a.get(name).copied().flatten(),
                then: nine_b.get(name).copied().flatten(),
            },
        })
        .filter(|r| r.end.today != r.end.then || r.nine.today != r.nine.then)
        .collect();
    racks.sort_by_key(|r| {
        let moved = r.end.today.zip(r.end.then).map(|(a, b)| b.since(a).0.abs());
        (std::cmp::Reverse(moved), r.name.clone())
    });
    Comparison {
        late: Beside {
            today: a.len(),
            then: b.len(),
        },
        may_be_late: may_be_late(today, calendar)
            .zip(may_be_late(then, calendar))
            .map(|(today, then)| Beside { today, then }),
        pairs: Beside {
            today: today.pairs.1.len(),
            then: then.pairs.1.len(),
        },
        short: Beside {
            today: short(today),
            then: short(then),
        },
        last: Beside {
            today: last(today),
            then: last(then),
        },
        stuck: Beside {
            today: stuck(today),
            then: stuck(then),
        },
        later: shifted(today, then, 1),
        earlier: shifted(today, then, -1),
        newly_late: both(&b, &a),
        no_longer_late: both(&a, &b),
        racks,
        supposed: ends(then, false, true).into_iter().collect(),
    }
}
