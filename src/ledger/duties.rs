//! Deeds that come round, incidents, contacts, the air of rooms, and cautions that were read: entering and reading them.
//!
//! *Invariants*: nothing here blocks a deed. A deed that comes round is known by its name and what it is about; changing it
//! keeps when it was done.
//!
//! *Not here*: how it is shown (`reports::duties`).

use super::append::{Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::EntryRow;
use crate::shop::duty::{Duty, DutyFact, DutyStanding, IncidentKind};
use crate::shop::record::{EntrySeq, ShopFact, What};
use crate::shop::text::{clean, shown};
use crate::units::{Flow, Moment, Span, Volume};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The most hooks of one room that are taken for a figure and not for a slip of the hand.
const MOST_HOOKS: u32 = 100_000;

/// A deed that comes round, and how it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DutyRow {
    /// The deed.
    pub duty: Duty,
    /// The entry that set it last.
    pub entry: i64,
    /// How it stands.
    pub standing: DutyStanding,
    /// The newest time that it was done: entry, who, what was found, a note.
    pub newest: Option<DoneRow>,
}

// By name and what it is about: the deed, since when it is on the list, and the entry that set it last.
type Listed = BTreeMap<(String, String), (Duty, Moment, i64)>;

/// A time that a deed was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DoneRow {
    /// The entry.
    pub entry: i64,
    /// When.
    pub at: Moment,
    /// Initials.
    pub person: String,
    /// What was asked and found.
    pub answers: Vec<(String, String)>,
    /// A note.
    pub note: Option<String>,
}

/// Something that happened, and what came of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IncidentRow {
    /// The entry.
    pub entry: i64,
    /// What kind.
    pub kind: IncidentKind,
    /// Where.
    pub place: String,
    /// What.
    pub text: String,
    /// When.
    pub at: Moment,
    /// Initials of who reported it.
    pub person: String,
    /// What came of it: when, who, what.
    pub followed: Vec<(Moment, String, String)>,
    /// When it is to be looked at again; `None` where nobody said or it is closed.
    pub next: Option<NaiveDate>,
    /// Whether nothing more is to be done.
    pub closed: bool,
}

/// Whom to ask.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ContactRow {
    /// The step of the ladder.
    pub role: String,
    /// Name and how to reach them.
    pub text: String,
    /// Initials of who filled it in.
    pub person: String,
    /// When.
    pub at: Moment,
}

/// What is known of a room's air besides its readings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoomAirRow {
    /// The room.
    pub room: String,
    /// Its volume.
    pub volume: Option<Volume>,
    /// The air that goes through it.
    pub flow: Option<Flow>,
    /// Where the figures come from.
    pub source: String,
    /// Initials of who entered it.
    pub person: String,
    /// Since when.
    pub since: Moment,
    /// The entry.
    pub entry: i64,
}

/// How many pieces can hang in a room.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoomHooksRow {
    /// The room.
    pub room: String,
    /// Its hooks.
    pub hooks: u32,
    /// Where the figure comes from.
    pub source: String,
    /// Initials of who entered it.
    pub person: String,
    /// Since when.
    pub since: Moment,
    /// The entry.
    pub entry: i64,
}

impl Ledger {
    fn duty_fact(
        &mut self,
        deed: &str,
        fact: DutyFact,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        self.shop_fact(deed, ShopFact::Duty(fact), at, who, stamp)
    }

    /// Puts a deed that comes round on the list, changes it, or takes it off.
    pub fn set_duty(
        &mut self,
        duty: &Duty,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let field =
            |name: &str, text: &str, most| clean(name, text, most).map_err(LedgerError::Input);
        if !duty.ended && duty.every.is_none() && duty.in_use.is_none() {
            return Err(LedgerError::Input(
                "a recurring check or task needs an interval: write --every 365d, or --in-use 8h for hours of use".to_owned(),
            ));
        }
        let duty = Duty {
            name: field("name", &duty.name, 40)?,
            about: field("about", &duty.about, 40)?,
            asks: duty
                .asks
                .iter()
                .map(|a| field("question", a, 80))
                .collect::<Result<_, _>>()?,
            source: field("source", &duty.source, 120)?,
            ..*duty
        };
        if duty.ended {
            self.duty_there(&duty.name, &duty.about, stamp.written)?;
        }
        self.duty_fact("duty", DutyFact::Duty(duty), stamp.written, who, stamp)
    }

    // The deed of this name, or an error with those that there are.
    fn duty_there(&self, name: &str, about: &str, at: Moment) -> Result<Duty, LedgerError> {
        let all = self.duty_list(at)?;
        if let Some((duty, ..)) = all.get(&(name.to_owned(), about.to_owned())) {
            return Ok(duty.clone());
        }
        let list: Vec<String> = all
            .keys()
            .map(|(n, a)| format!("{} of {}", shown(n), shown(a)))
            .collect();
        Err(LedgerError::Input(format!(
            "{} of {} is not on the list; {}",
            shown(name),
            shown(about),
            if list.is_empty() {
                "put it there with \"hangtime duty set\"".to_owned()
            } else {
                format!("write one of {}", list.join(", "))
            }
        )))
    }

    /// A deed that comes round was done.
    #[allow(
        clippy::too_many_arguments,
        reason = "what a check is worth keeping with"
    )]
    pub fn duty_done(
        &mut self,
        name: &str,
        about: &str,
        answers: Vec<(String, String)>,
        note: Option<&str>,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let duty = self.duty_there(name, about, stamp.written)?;
        let answers = answers
            .into_iter()
            .map(|(asked, found)| {
                Ok((
                    clean("question", &asked, 80)?,
                    clean("answer", &found, 120)?,
                ))
            })
            .collect::<Result<Vec<_>, String>>()
            .map_err(LedgerError::Input)?;
        if let Some(asked) = answers
            .iter()
            .map(|(asked, _)| asked)
            .find(|asked| !duty.asks.contains(asked))
        {
            return Err(LedgerError::Input(format!(
                "\"{}\" is not asked at {}; it asks: {}",
                shown(asked),
                shown(name),
                if duty.asks.is_empty() {
                    "nothing".to_owned()
                } else {
                    duty.asks.join(", ")
                }
            )));
        }
        let note = note
            .map(|n| clean("note", n, 200))
            .transpose()
            .map_err(LedgerError::Input)?;
        let fact = DutyFact::Done {
            name: duty.name,
            about: duty.about,
            answers,
            note,
        };
        self.duty_fact("done", fact, at, who, stamp)
    }

    /// Hours in use of what is changed after so many of them.
    pub fn duty_used(
        &mut self,
        name: &str,
        about: &str,
        span: Span,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let duty = self.duty_there(name, about, stamp.written)?;
        if duty.in_use.is_none() {
            return Err(LedgerError::Input(format!(
                "{} of {} recurs by the calendar, not by hours in use",
                shown(name),
                shown(about)
            )));
        }
        let fact = DutyFact::InUse {
            name: duty.name,
            about: duty.about,
            span,
        };
        self.duty_fact("in use", fact, at, who, stamp)
    }

    // The deeds that are on the list at a moment: by name and what they are about.
    fn duty_list(&self, at: Moment) -> Result<Listed, LedgerError> {
        let mut list = Listed::new();
        for row in self.noted("duty", None, at)? {
            let What::Shop(ShopFact::Duty(DutyFact::Duty(duty))) = row.what else {
                continue;
            };
            let key = (duty.name.clone(), duty.about.clone());
            // The wait of a deed that was never done runs from when it was first put on the list.
            let since = list.get(&key).map_or(row.ended, |(_, since, _)| *since);
            if duty.ended {
                list.remove(&key);
            } else {
                list.insert(key, (duty, since, row.seq.0));
            }
        }
        Ok(list)
    }

    /// The deeds that come round, as they stand at `at`.
    pub fn duties(&self, at: Moment) -> Result<Vec<DutyRow>, LedgerError> {
        let mut rows = Vec::new();
        let mut done_of: BTreeMap<String, Vec<EntryRow>> = BTreeMap::new();
        for ((name, about), (duty, since, entry)) in self.duty_list(at)? {
            if !done_of.contains_key(&name) {
                let mut found = self.noted("done", Some(&name), at)?;
                found.extend(self.noted("in use", Some(&name), at)?);
                found.sort_by_key(|r| (r.ended, r.seq.0));
                done_of.insert(name.clone(), found);
            }
            let mut times = Vec::new();
            let mut newest = None;
            let mut used = Span(0);
            for row in done_of.get(&name).into_iter().flatten() {
                match &row.what {
                    What::Shop(ShopFact::Duty(DutyFact::Done {
                        about: of,
                        answers,
                        note,
                        ..
                    })) if *of == about => {
                        times.push(row.ended);
                        used = Span(0);
                        newest = Some(DoneRow {
                            entry: row.seq.0,
                            at: row.ended,
                            person: row.person.clone(),
                            answers: answers.clone(),
                            note: note.clone(),
                        });
                    }
                    What::Shop(ShopFact::Duty(DutyFact::InUse {
                        about: of, span, ..
                    })) if *of == about => used.0 += span.0,
                    _ => {}
                }
            }
            let standing = duty.standing(&times, used, since, at);
            rows.push(DutyRow {
                duty,
                entry,
                standing,
                newest,
            });
        }
        Ok(rows)
    }

    /// Something happened.
    #[allow(
        clippy::too_many_arguments,
        reason = "what a report of an incident holds"
    )]
    pub fn record_incident(
        &mut self,
        kind: IncidentKind,
        place: &str,
        text: &str,
        follow_up: Option<NaiveDate>,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let fact = DutyFact::Incident {
            kind,
            place: clean("place", place, 40).map_err(LedgerError::Input)?,
            text: clean("text", text, 400).map_err(LedgerError::Input)?,
            follow_up,
        };
        self.duty_fact("incident", fact, at, who, stamp)
    }

    /// What came of an incident.
    pub fn follow_incident(
        &mut self,
        incident: i64,
        text: &str,
        (next, closed): (Option<NaiveDate>, bool),
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let all = self.incidents(stamp.written)?;
        if !all.iter().any(|i| i.entry == incident) {
            return Err(LedgerError::Input(format!(
                "entry {incident} tells of no incident; \"hangtime incident\" lists them"
            )));
        }
        let fact = DutyFact::Followed {
            incident: EntrySeq(incident),
            text: clean("text", text, 400).map_err(LedgerError::Input)?,
            next,
            closed,
        };
        self.duty_fact("follow up", fact, stamp.written, who, stamp)
    }

    /// What happened up to `at`, oldest first.
    pub fn incidents(&self, at: Moment) -> Result<Vec<IncidentRow>, LedgerError> {
        let mut list: Vec<IncidentRow> = self
            .noted("incident", None, at)?
            .into_iter()
            .filter_map(|row| match row.what {
                What::Shop(ShopFact::Duty(DutyFact::Incident {
                    kind,
                    place,
                    text,
                    follow_up,
                })) => Some(IncidentRow {
                    entry: row.seq.0,
                    kind,
                    place,
                    text,
                    at: row.ended,
                    person: row.person,
                    followed: Vec::new(),
                    next: follow_up,
                    closed: false,
                }),
                _ => None,
            })
            .collect();
        for row in self.noted("followed", None, at)? {
            let What::Shop(ShopFact::Duty(DutyFact::Followed {
                incident,
                text,
                next,
                closed,
            })) = row.what
            else {
                continue;
            };
            if let Some(of) = list.iter_mut().find(|i| i.entry == incident.0) {
                of.followed.push((row.ended, row.person, text));
                of.next = next;
                of.closed = closed;
            }
        }
        Ok(list)
    }

    /// Whom to ask, as the shop fills it in; an empty text takes it away.
    pub fn set_contact(
        &mut self,
        role: &str,
        text: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let text = if text.trim().is_empty() {
            String::new()
        } else {
            clean("text", text, 120).map_err(LedgerError::Input)?
        };
        let fact = DutyFact::Contact {
            role: clean("role", role, 60).map_err(LedgerError::Input)?,
            text,
        };
        self.duty_fact("contact", fact, stamp.written, who, stamp)
    }

    /// Whom to ask, in the order in which they were first filled in.
    pub fn contacts(&self, at: Moment) -> Result<Vec<ContactRow>, LedgerError> {
        let mut list: Vec<ContactRow> = Vec::new();
        for row in self.noted("contact", None, at)? {
            let What::Shop(ShopFact::Duty(DutyFact::Contact { role, text })) = row.what else {
                continue;
            };
            let new = ContactRow {
                role,
                text,
                person: row.person,
                at: row.ended,
            };
            match list.iter_mut().find(|c| c.role == new.role) {
                Some(kept) => *kept = new,
                None => list.push(new),
            }
        }
        list.retain(|c| !c.text.is_empty());
        Ok(list)
    }

    /// A room's size, and the air that goes through it.
    pub fn set_room_air(
        &mut self,
        room: &str,
        (volume, flow): (Option<Volume>, Option<Flow>),
        source: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        if volume.is_none() && flow.is_none() {
            return Err(LedgerError::Input(
                "write the room's volume, the air that goes through it, or both".to_owned(),
            ));
        }
        let fact = DutyFact::RoomAir {
            room: clean("room", room, 30).map_err(LedgerError::Input)?,
            volume,
            flow,
            source: clean("source", source, 120).map_err(LedgerError::Input)?,
        };
        self.duty_fact("room air", fact, stamp.written, who, stamp)
    }

    /// What is known of the rooms' size and air at `at`; what a later entry leaves open stays as it was.
    pub fn room_airs(&self, at: Moment) -> Result<Vec<RoomAirRow>, LedgerError> {
        let mut list: BTreeMap<String, RoomAirRow> = BTreeMap::new();
        for row in self.noted("room air", None, at)? {
            let What::Shop(ShopFact::Duty(DutyFact::RoomAir {
                room,
                volume,
                flow,
                source,
            })) = row.what
            else {
                continue;
            };
            let before = list.get(&room);
            let new = RoomAirRow {
                volume: volume.or_else(|| before.and_then(|b| b.volume)),
                flow: flow.or_else(|| before.and_then(|b| b.flow)),
                room: room.clone(),
                source,
                person: row.person,
                since: row.ended,
                entry: row.seq.0,
            };
            list.insert(room, new);
        }
        Ok(list.into_values().collect())
    }

    /// How many pieces can hang in a room, from now on.
    pub fn set_room_hooks(
        &mut self,
        room: &str,
        hooks: u32,
        source: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let rooms = self.rooms()?;
        if !rooms.iter().any(|r| r == room) {
            let known: Vec<String> = rooms.iter().map(|r| shown(r)).collect();
            return Err(LedgerError::Input(format!(
                "room \"{}\" is not known; write one of {}, or declare it first (room declare)",
                shown(room),
                known.join(", ")
            )));
        }
        if hooks > MOST_HOOKS {
            return Err(LedgerError::Input(format!(
                "hooks {hooks}: a room has 0 to {MOST_HOOKS}; write how many pieces can hang there"
            )));
        }
        let fact = DutyFact::RoomHooks {
            room: room.to_owned(),
            hooks,
            source: clean("source", source, 120).map_err(LedgerError::Input)?,
        };
        self.duty_fact("room hooks", fact, stamp.written, who, stamp)
    }

    /// The hooks of the rooms as entered up to `at`, by name of the room.
    pub fn room_hooks(&self, at: Moment) -> Result<Vec<RoomHooksRow>, LedgerError> {
        let mut list: BTreeMap<String, RoomHooksRow> = BTreeMap::new();
        for row in self.noted("room hooks", None, at)? {
            if let What::Shop(ShopFact::Duty(DutyFact::RoomHooks {
                room,
                hooks,
                source,
            })) = row.what
            {
                let new = RoomHooksRow {
                    room: room.clone(),
                    hooks,
                    source,
                    person: row.person,
                    since: row.ended,
                    entry: row.seq.0,
                };
                list.insert(room, new);
            }
        }
        Ok(list.into_values().collect())
    }

    /// Somebody told another person of a caution; what they said is no word of this record.
    pub fn told_of_caution(
        &mut self,
        caution: &str,
        about: &str,
        whom: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let fact = DutyFact::Told {
            caution: clean("caution", caution, 60).map_err(LedgerError::Input)?,
            about: clean("about", about, 60).map_err(LedgerError::Input)?,
            whom: clean("whom", whom, 60).map_err(LedgerError::Input)?,
        };
        self.duty_fact("caution", fact, stamp.written, who, stamp)
    }
}
