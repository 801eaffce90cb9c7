//! Checks and other deeds that come round: how often, when last, when next; and what happened besides: incidents,
//! cautions that somebody read, whom somebody told, what air a room has.
//!
//! *Invariants*: a deed that was not done in its time stays missed; doing it later ends the wait and removes nothing.
//! A caution that was read is read and no more; whom a finisher told is no word of theirs.
//!
//! *Not here*: how a wait is shown (`reports::duties`).

use super::hours::Days;
use super::record::EntrySeq;
use super::shift::Shift;
use super::words::{StepKind, Word, words};
use crate::units::{Flow, Moment, Span, Volume};
use chrono::NaiveDate;

words!(
    /// What kind of thing happened.
    IncidentKind {
        /// Somebody or something was hurt.
        Incident = "incident",
        /// Nearly.
        NearMiss = "near miss",
        /// Something was spilt.
        Spill = "spill",
        /// A fire, however small.
        Fire = "fire",
        /// Somebody breathed or touched what they should not have.
        Exposure = "exposure",
    }
);

/// The deed by which the record knows that a booth, its ducts and its filters were freed of deposits. A fixed name: what
/// solvent was used for is no word about deposits.
pub const BOOTH_CLEANED: &str = "booth cleaned";

/// A fact about what comes round, and about what happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DutyFact {
    /// A deed that comes round was put on the list, changed, or taken off it.
    Duty(Duty),
    /// It was done.
    Done {
        /// Which.
        name: String,
        /// The booth, room, person or thing.
        about: String,
        /// What was asked and what was found.
        answers: Vec<(String, String)>,
        /// In words.
        note: Option<String>,
    },
    /// Hours in use, for what is changed after so many of them.
    InUse {
        /// Which.
        name: String,
        /// The person or thing.
        about: String,
        /// How long.
        span: Span,
    },
    /// Something happened.
    Incident {
        /// What kind.
        kind: IncidentKind,
        /// Where.
        place: String,
        /// What, in words.
        text: String,
        /// When it is to be looked at again.
        follow_up: Option<NaiveDate>,
    },
    /// What came of an incident.
    Followed {
        /// The entry that told of it.
        incident: EntrySeq,
        /// In words.
        text: String,
        /// When it is to be looked at again.
        next: Option<NaiveDate>,
        /// Whether nothing more is to be done.
        closed: bool,
    },
    /// Whom to ask, as the shop filled it in.
    Contact {
        /// The step of the ladder: safety lead, hygienist, fire marshal, ...
        role: String,
        /// Name and how to reach them; empty takes it away.
        text: String,
    },
    /// What is known of a room's size and the air that goes through it.
    RoomAir {
        /// The room.
        room: String,
        /// Its volume.
        volume: Option<Volume>,
        /// The air that goes through it.
        flow: Option<Flow>,
        /// Where the figures come from.
        source: String,
    },
    /// How many pieces can hang in a room.
    RoomHooks {
        /// The room.
        room: String,
        /// Its hooks.
        hooks: u32,
        /// Where the figure comes from.
        source: String,
    },
    /// Days on which the shop is closed, or that they are worked after all.
    Closed(ClosedDays),
    /// The hours in which people are there, or that those entered before hold no longer.
    Hours(WorkingHours),
    /// Where something is done, by how many, and how long it takes; changed, or taken away.
    Station(Station),
    /// People who work at several stations; changed, or taken away.
    Crew(Crew),
    /// Somebody read a caution at the moment of use.
    CautionRead {
        /// Which caution.
        caution: String,
        /// The mix, lot or booth that it was about.
        about: String,
    },
    /// Whom somebody told of something that a caution asks to be told.
    Told {
        /// Which caution.
        caution: String,
        /// The mix, lot or booth that it was about.
        about: String,
        /// Initials or name of who was told.
        whom: String,
    },
}

/// Days on which nobody comes for a shift, whatever the working days of a week are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClosedDays {
    /// From the first to the last one.
    pub days: Days,
    /// Where that comes from; why, where they are worked after all.
    pub source: String,
    /// Whether they are worked after all.
    pub ended: bool,
}

/// The hours of the shop's working days, whatever days it is closed on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WorkingHours {
    /// The shifts; none where those entered before hold no longer.
    pub shifts: Vec<Shift>,
    /// Where that comes from; why, where they hold no longer.
    pub source: String,
}

words!(
    /// What the minutes of a station are counted by.
    Per {
        /// By the piece: each is taken up by itself.
        Piece = "piece",
        /// By the rack: all that hangs on it is worked as one.
        Rack = "rack",
    }
);

/// Where something is done: a booth, a bench, a wheel. The plan goes by it; nothing that is recorded does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Station {
    /// Its name; a booth's own, where it is one.
    pub name: String,
    /// The steps that are done there.
    pub kinds: Vec<StepKind>,
    /// How many work there at once.
    pub people: u32,
    /// The crew that they are of, where they also work elsewhere.
    pub crew: Option<String>,
    /// How long one takes for a piece or a rack.
    pub took: Span,
    /// Which of the two.
    pub per: Per,
    /// Where the figures come from.
    pub source: String,
    /// Whether it was taken away.
    pub ended: bool,
}

/// People who work at several stations, at one of them at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Crew {
    /// Its name.
    pub name: String,
    /// How many they are.
    pub people: u32,
    /// Where the figure comes from.
    pub source: String,
    /// Whether it was taken away.
    pub ended: bool,
}

/// A deed that comes round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Duty {
    /// What is done: velocity survey, respirator fit test, waste can emptied, ...
    pub name: String,
    /// The booth, room, person or thing; `all booths` for each booth.
    pub about: String,
    /// Longest interval.
    pub every: Option<Span>,
    /// Longest time in use, for what is counted by hours.
    pub in_use: Option<Span>,
    /// How long before its time it is shown as coming.
    pub ahead: Span,
    /// What is asked when it is done.
    pub asks: Vec<String>,
    /// Where the interval comes from.
    pub source: String,
    /// Whether it was taken off the list.
    pub ended: bool,
}

/// How a deed that comes round stands at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DutyState {
    /// Never done: nothing is known.
    Unknown,
    /// Its time is over.
    Overdue,
    /// Its time comes soon.
    Coming,
    /// Not yet.
    Later,
}

impl DutyState {
    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Unknown => "unknown",
            Self::Overdue => "overdue",
            Self::Coming => "soon",
            Self::Later => "later",
        }
    }
}

/// What follows for a deed that comes round from when it was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DutyStanding {
    /// When it was done last.
    pub last: Option<Moment>,
    /// When its time is over, by the interval.
    pub due: Option<Moment>,
    /// Hours in use since it was done last.
    pub used: Span,
    /// How it stands.
    pub state: DutyState,
    /// Times that went by without it: from when it was due to when it was done, or to now.
    pub missed: Vec<(Moment, Option<Moment>)>,
}

impl Duty {
    /// How it stands at `at`: `done` are the moments at which it was done, in order; `used` the hours in use since the
    /// newest of them; `since` the moment it was put on the list.
    pub fn standing(&self, done: &[Moment], used: Span, since: Moment, at: Moment) -> DutyStanding {
        let done: Vec<Moment> = done.iter().copied().filter(|m| *m <= at).collect();
        let last = done.last().copied();
        let due = self.every.and_then(|every| last.map(|m| m.plus(every)));
        let mut missed = Vec::new();
        if let Some(every) = self.every {
            let from = done.first().copied().unwrap_or(since);
            let mut before = from;
            for m in done.iter().skip(1) {
                let was_due = before.plus(every);
                if *m > was_due {
                    missed.push((was_due, Some(*m)));
                }
                before = *m;
            }
            if before.plus(every) < at {
                missed.push((before.plus(every), None));
            }
        }
        let worn = self.in_use.is_some_and(|most| used >= most);
        let wearing = self
            .in_use
            .is_some_and(|most| used.0 >= most.0.saturating_sub(self.ahead.0.min(most.0 / 8)));
        let state = match (last, due) {
            (None, _) => DutyState::Unknown,
            _ if worn => DutyState::Overdue,
            (_, Some(due)) if due < at => DutyState::Overdue,
            _ if wearing => DutyState::Coming,
            (_, Some(due)) if due.since(at) <= self.ahead => DutyState::Coming,
            _ => DutyState::Later,
        };
        DutyStanding {
            last,
            due,
            used,
            state,
            missed,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn duty(every: Option<Span>, in_use: Option<Span>) -> Duty {
        Duty {
            name: "fit test".into(),
            about: "MK".into(),
            every,
            in_use,
            ahead: Span::hours(24),
            asks: Vec::new(),
            source: "site rule".into(),
            ended: false,
        }
    }

    #[test]
    fn what_was_done_late_stays_missed() {
        let day = |n: i64| Moment(0).plus(Span::hours(24 * n));
        let d = duty(Some(Span::hours(24 * 7)), None);
        let s = d.standing(&[day(0), day(7), day(20)], Span(0), day(0), day(22));
        assert_eq!(s.state, DutyState::Later);
        assert_eq!(s.due, Some(day(27)));
        assert_eq!(s.missed, [(day(14), Some(day(20)))]);
    }

    #[test]
    fn what_was_never_done_is_unknown_and_missed_once_its_time_is_over() {
        let day = |n: i64| Moment(0).plus(Span::hours(24 * n));
        let d = duty(Some(Span::hours(24 * 7)), None);
        let s = d.standing(&[], Span(0), day(0), day(8));
        assert_eq!(s.state, DutyState::Unknown);
        assert_eq!(s.missed, [(day(7), None)]);
        assert_eq!(d.standing(&[], Span(0), day(0), day(5)).missed, []);
    }

    #[test]
    fn hours_in_use_come_soon_and_are_over_at_the_mark() {
        let d = duty(None, Some(Span::hours(8)));
        let at = Moment(0).plus(Span::hours(20));
        let of = |minutes| {
            d.standing(&[Moment(0)], Span::minutes(minutes), Moment(0), at)
                .state
        };
        assert_eq!(of(60), DutyState::Later);
        assert_eq!(of(450), DutyState::Coming);
        assert_eq!(of(480), DutyState::Overdue);
    }
}
