//! What the last weeks tell of the shop: how long deeds took, how long work that was allowed was left lying, and how often a
//! piece went to rework after a step.
//!
//! *Invariants*: pure; only working hours count as waiting, and what still waits counts as long as it has waited. A list shorter than [`ENOUGH`] is not drawn from: where a coat or a
//! sanding of one kind has too few deeds, those of all coats or sandings stand for it; where these are too few, too, nothing is
//! known of its waits, and no spread is told from there on. A share of reworks is taken from [`FEW`] pieces on.
//!
//! *Not here*: reading the record (`ledger`), drawing (`draw`).

use super::draw::Wait;
use crate::ledger::{PastDeed, PastRework, Seen};
use crate::shop::duty::Per;
use crate::shop::hours::Hours;
use crate::shop::words::{Outlook, StepKind, Word};
use crate::units::{Moment, Span};
use std::collections::BTreeMap;

/// The fewest past deeds that are drawn from: with less than ten, nine of ten has no value of its own.
pub const ENOUGH: usize = 10;

/// The fewest past pieces of which a share that went to rework is taken: with fewer one piece more or less is more than three
/// of a hundred.
pub const FEW: usize = 30;

/// The pieces that go to rework after a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Allowance {
    /// So many of `through` do.
    pub opened: usize,
    /// How often a piece came through the step.
    pub through: usize,
    /// How long a rework took in the mean, by the clock.
    pub length: Span,
}

/// What is known of past deeds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Habits {
    reworks: BTreeMap<StepKind, PastRework>,
    waits: BTreeMap<StepKind, Vec<Wait>>,
    like: BTreeMap<Like, Vec<Wait>>,
    took: BTreeMap<(StepKind, Per), Vec<Span>>,
    deeds: usize,
}

/// Work that is allowed and that nobody has begun: a rack, or a piece that hangs on none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lying {
    /// What is next.
    pub kind: StepKind,
    /// Since when it is allowed; the first step since the pieces were taken in.
    pub since: Moment,
    /// Whether it is the first one on them.
    pub first: bool,
}

/// What lies on a floor: a rack since its last piece was allowed to go on.
pub fn lying(floor: &[Seen]) -> Vec<Lying> {
    let mut out: BTreeMap<(&str, StepKind), Lying> = BTreeMap::new();
    for seen in floor.iter().filter(|s| s.view.outlook == Outlook::Ready) {
        let (Some(kind), Some(ready)) = (seen.view.deed(), seen.view.ready_at) else {
            continue;
        };
        let first = seen.now.surfaces.values().all(|s| s.last_deed.is_none());
        let since = if first { seen.now.newest } else { ready };
        let name = seen.rack().unwrap_or(&seen.now.piece.serial);
        let found = out
            .entry((name, kind))
            .or_insert(Lying { kind, since, first });
        found.since = found.since.max(since);
    }
    out.into_values().collect()
}

impl Habits {
    /// From past deeds, and from what still lies at a moment, by the hours in which people are there.
    pub fn of(past: &[PastDeed], lying: &[Lying], hours: &Hours, at: Moment) -> Self {
        let mut out = Self {
            deeds: past.len(),
            ..Self::default()
        };
        for lies in lying {
            let wait = hours.open_between(lies.since, at.max(lies.since));
            out.waited(lies.kind, lies.first, (wait, false));
        }
        for deed in past {
            let wait = hours.open_between(deed.opens, deed.began.max(deed.opens));
            // Two people on one rack are one wait and two times.
            if !deed.joined {
                out.waited(deed.kind, deed.first, (wait, true));
            }
            let took = deed.ended.since(deed.began);
            // One instant was typed where a deed took some time: that says nothing of how long.
            if took.0 > 0 {
                let each = Span(took.0 / i64::from(deed.pieces.max(1)));
                let mut note = |per, span| {
                    out.took.entry((deed.kind, per)).or_default().push(span);
                };
                note(Per::Rack, took);
                note(Per::Piece, each);
            }
        }
        for list in out.waits.values_mut().chain(out.like.values_mut()) {
            list.sort_by_key(|(span, over)| (*span, !over));
        }
        out
    }

    fn waited(&mut self, kind: StepKind, first: bool, wait: Wait) {
        self.waits.entry(kind).or_default().push(wait);
        // How long a piece lay before anybody took it up says nothing of the steps that follow.
        if let Some(like) = Like::of(kind).filter(|_| !first) {
            self.like.entry(like).or_default().push(wait);
        }
    }

    /// Waits of a kind of step, or of its like, in working hours, the shortest first, with whether each is over; empty where too
    /// few are.
    pub fn waits(&self, kind: StepKind) -> &[Wait] {
        let over = |list: &[Wait]| list.iter().filter(|(_, over)| *over).count();
        let enough = |list: Option<&'_ Vec<Wait>>| list.is_some_and(|l| over(l) >= ENOUGH);
        let own = self.waits.get(&kind);
        let like = Like::of(kind).and_then(|l| self.like.get(&l));
        let found = if enough(own) { own } else { like };
        found.filter(|_| enough(found)).map_or(&[], Vec::as_slice)
    }

    /// Past times of a kind of step for a piece or a rack; empty where there are too few.
    pub fn took(&self, kind: StepKind, per: Per) -> &[Span] {
        let own = self.took.get(&(kind, per)).map_or(&[][..], Vec::as_slice);
        if own.len() >= ENOUGH { own } else { &[] }
    }

    /// The same with what followed on the steps.
    #[must_use]
    pub fn with_reworks(mut self, reworks: BTreeMap<StepKind, PastRework>) -> Self {
        self.reworks = reworks;
        self
    }

    /// The pieces that go to rework after a step; `None` where none did, where none of them is over, or where too few pieces
    /// came through it.
    pub fn rework(&self, kind: StepKind) -> Option<Allowance> {
        let past = self.reworks.get(&kind).filter(|_| !self.few(kind))?;
        let sum: i64 = past.lengths.iter().map(|l| l.0).sum();
        let length = sum.checked_div(i64::try_from(past.lengths.len()).ok()?)?;
        (past.opened > 0).then_some(Allowance {
            opened: past.opened,
            through: past.through,
            length: Span(length),
        })
    }

    /// Whether too few pieces came through a kind of step for a share of reworks.
    pub fn few(&self, kind: StepKind) -> bool {
        self.reworks.get(&kind).is_none_or(|p| p.pieces < FEW)
    }

    /// Whether there is anything to draw from.
    pub fn spread(&self) -> bool {
        StepKind::ALL.iter().any(|k| !self.thin(*k))
    }

    /// How many past deeds were looked at.
    pub const fn deeds(&self) -> usize {
        self.deeds
    }

    /// Whether too little is known of the waits of a kind of step.
    pub fn thin(&self, kind: StepKind) -> bool {
        self.waits(kind).is_empty()
    }
}

// Steps that are taken up alike: by whoever sprays, or by whoever sands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Like {
    Coat,
    Sanding,
}

impl Like {
    const fn of(kind: StepKind) -> Option<Self> {
        match kind {
            StepKind::Scuff | StepKind::LevelSand => Some(Self::Sanding),
            _ if kind.wets() => Some(Self::Coat),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::calendar::Calendar;
    use crate::shop::shift::Shift;

    #[test]
    fn only_working_hours_are_waits_and_few_deeds_are_no_habit() {
        let calendar = Calendar::BARE;
        let at = |text: &str| calendar.read(text, Moment(0)).unwrap();
        let shifts = [Shift::COMMON];
        let hours = Hours::of(&calendar, &shifts);
        // Allowed on Friday at 15:00, begun on Monday at 08:00: half an hour and an hour.
        let deed = PastDeed {
            kind: StepKind::LevelSand,
            opens: at("2026-03-06 15:00"),
            began: at("2026-03-09 08:00"),
            ended: at("2026-03-09 08:45"),
            pieces: 5,
            first: false,
            joined: false,
        };
        let few = Habits::of(&[deed; 9], &[], &hours, deed.ended);
        assert!(!few.spread());
        assert_eq!(few.waits(StepKind::LevelSand), &[]);
        let ten = Habits::of(&[deed; 10], &[], &hours, deed.ended);
        assert_eq!(
            ten.waits(StepKind::LevelSand),
            &[(Span::minutes(90), true); 10]
        );
        // A scuff was never done: the waits of sandings stand for its own. Of buffing nothing is known.
        assert_eq!(ten.waits(StepKind::Scuff).len(), 10);
        assert!(ten.thin(StepKind::Buff) && !ten.thin(StepKind::LevelSand));
        assert_eq!(ten.took(StepKind::Buff, Per::Piece), &[]);
        assert_eq!(
            ten.took(StepKind::LevelSand, Per::Piece),
            &[Span::minutes(9); 10]
        );
        assert_eq!(
            ten.took(StepKind::LevelSand, Per::Rack),
            &[Span::minutes(45); 10]
        );
        // Nine that two people shared are nine waits, and the time of each of the two.
        let joined = PastDeed {
            joined: true,
            ..deed
        };
        let shared = Habits::of(&[[deed; 9], [joined; 9]].concat(), &[], &hours, deed.ended);
        assert!(shared.thin(StepKind::LevelSand));
        assert_eq!(shared.took(StepKind::LevelSand, Per::Piece).len(), 18);
        // The first deed on a piece stands for its own kind alone.
        let first = PastDeed {
            kind: StepKind::Wash,
            first: true,
            ..deed
        };
        let first = Habits::of(&[first; 10], &[], &hours, deed.ended);
        assert_eq!(first.waits(StepKind::Wash).len(), 10);
        assert_eq!(first.waits(StepKind::Clear), &[]);
        // Too early is no wait.
        let early = PastDeed {
            opens: at("2026-03-09 09:00"),
            ..deed
        };
        let early = Habits::of(&[early; 10], &[], &hours, deed.ended);
        assert_eq!(early.waits(StepKind::LevelSand), &[(Span(0), true); 10]);
    }

    #[test]
    fn a_share_of_reworks_is_that_of_thirty_pieces_at_least() {
        let past = |pieces, opened, lengths: &[i64]| PastRework {
            pieces,
            through: pieces,
            opened,
            lengths: lengths.iter().map(|h| Span::hours(*h)).collect(),
        };
        let habits = Habits::default().with_reworks(BTreeMap::from([
            (StepKind::Inspect, past(30, 3, &[100, 200])),
            (StepKind::Buff, past(29, 3, &[100])),
            (StepKind::LevelSand, past(40, 0, &[])),
            // Opened, and none of them is over: nobody knows how long they take.
            (StepKind::FinalSand, past(40, 2, &[])),
        ]));
        assert_eq!(
            habits.rework(StepKind::Inspect),
            Some(Allowance {
                opened: 3,
                through: 30,
                length: Span::hours(150)
            })
        );
        for kind in [
            StepKind::Buff,
            StepKind::LevelSand,
            StepKind::FinalSand,
            StepKind::Wash,
        ] {
            assert_eq!(habits.rework(kind), None, "{}", kind.word());
        }
        assert!(habits.few(StepKind::Buff) && habits.few(StepKind::Wash));
        assert!(!habits.few(StepKind::LevelSand));
    }
}
