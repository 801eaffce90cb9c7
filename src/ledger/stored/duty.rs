//! Stored shapes of what comes round and of what happened besides.

use super::{LedgerError, date, empty, json, read, word};
use crate::shop::duty::{
    ClosedDays, Crew, Duty, DutyFact, IncidentKind, Per, Station, WorkingHours,
};
use crate::shop::record::EntrySeq;
use crate::shop::shift::Shift;
use crate::shop::words::{StepKind, Word};
use crate::units::{Flow, Span, Volume};
use serde::{Deserialize, Serialize};

/// The kinds that are read here.
pub(super) const KINDS: &[&str] = &[
    "duty/1",
    "done/1",
    "in-use/1",
    "incident/1",
    "followed/1",
    "contact/1",
    "room-air/1",
    "room-hooks/1",
    "closed/1",
    "hours/1",
    "station/1",
    "station/2",
    "crew/1",
    "caution-read/1",
    "told/1",
];

shape!(DutyShape { name: String, about: String, every_ms: Option<i64>, in_use_ms: Option<i64>, ahead_ms: i64, asks: Vec<String>, source: String, ended: bool });
shape!(DoneShape { name: String, about: String, answers: Vec<(String, String)>, note: Option<String> });
shape!(InUseShape {
    name: String,
    about: String,
    ms: i64
});
shape!(IncidentShape { kind: String, place: String, text: String, follow_up: Option<String> });
shape!(FollowedShape { incident: i64, text: String, next: Option<String>, closed: bool });
shape!(ContactShape {
    role: String,
    text: String
});
shape!(RoomAirShape { room: String, ul: Option<i64>, ml_s: Option<i64>, source: String });
shape!(RoomHooksShape {
    room: String,
    hooks: u32,
    source: String
});
shape!(ClosedShape { first: Option<String>, last: Option<String>, source: String, ended: bool });
shape!(HoursShape { shifts: Vec<(String, String)>, source: String });
shape!(StationShape { name: String, kinds: Vec<String>, people: u32, ms: i64, per: String, source: String, ended: bool });
shape!(StationShape2 { name: String, kinds: Vec<String>, people: u32, crew: Option<String>, ms: i64, per: String, source: String, ended: bool });
shape!(CrewShape {
    name: String,
    people: u32,
    source: String,
    ended: bool
});
shape!(CautionReadShape {
    caution: String,
    about: String
});
shape!(ToldShape {
    caution: String,
    about: String,
    whom: String
});

pub(super) fn encode(fact: DutyFact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact {
        DutyFact::Duty(d) => (
            "duty/1",
            json(&DutyShape {
                name: d.name,
                about: d.about,
                every_ms: d.every.map(|s| s.0),
                in_use_ms: d.in_use.map(|s| s.0),
                ahead_ms: d.ahead.0,
                asks: d.asks,
                source: d.source,
                ended: d.ended,
            })?,
        ),
        DutyFact::Done {
            name,
            about,
            answers,
            note,
        } => (
            "done/1",
            json(&DoneShape {
                name,
                about,
                answers,
                note,
            })?,
        ),
        DutyFact::InUse { name, about, span } => (
            "in-use/1",
            json(&InUseShape {
                name,
                about,
                ms: span.0,
            })?,
        ),
        DutyFact::Incident {
            kind,
            place,
            text,
            follow_up,
        } => (
            "incident/1",
            json(&IncidentShape {
                kind: kind.word().to_owned(),
                place,
                text,
                follow_up: follow_up.map(|d| d.to_string()),
            })?,
        ),
        DutyFact::Followed {
            incident,
            text,
            next,
            closed,
        } => (
            "followed/1",
            json(&FollowedShape {
                incident: incident.0,
                text,
                next: next.map(|d| d.to_string()),
                closed,
            })?,
        ),
        DutyFact::Contact { role, text } => ("contact/1", json(&ContactShape { role, text })?),
        DutyFact::RoomAir {
            room,
            volume,
            flow,
            source,
        } => (
            "room-air/1",
            json(&RoomAirShape {
                room,
                ul: volume.map(|v| v.0),
                ml_s: flow.map(|f| f.0),
                source,
            })?,
        ),
        DutyFact::RoomHooks {
            room,
            hooks,
            source,
        } => (
            "room-hooks/1",
            json(&RoomHooksShape {
                room,
                hooks,
                source,
            })?,
        ),
        DutyFact::Closed(c) => (
            "closed/1",
            json(&ClosedShape {
                first: Some(c.days.0.to_string()),
                last: Some(c.days.1.to_string()).filter(|_| c.days.1 != c.days.0),
                source: c.source,
                ended: c.ended,
            })?,
        ),
        DutyFact::Hours(h) => (
            "hours/1",
            json(&HoursShape {
                shifts: h.shifts.iter().map(Shift::written).collect(),
                source: h.source,
            })?,
        ),
        DutyFact::Station(s) => {
            let kinds = s.kinds.iter().map(|k| k.word().to_owned()).collect();
            let per = s.per.word().to_owned();
            if s.crew.is_none() {
                let shape = StationShape {
                    name: s.name,
                    kinds,
                    people: s.people,
                    ms: s.took.0,
                    per,
                    source: s.source,
                    ended: s.ended,
                };
                ("station/1", json(&shape)?)
            } else {
                let shape = StationShape2 {
                    name: s.name,
                    kinds,
                    people: s.people,
                    crew: s.crew,
                    ms: s.took.0,
                    per,
                    source: s.source,
                    ended: s.ended,
                };
                ("station/2", json(&shape)?)
            }
        }
        DutyFact::Crew(c) => (
            "crew/1",
            json(&CrewShape {
                name: c.name,
                people: c.people,
                source: c.source,
                ended: c.ended,
            })?,
        ),
        DutyFact::CautionRead { caution, about } => (
            "caution-read/1",
            json(&CautionReadShape { caution, about })?,
        ),
        DutyFact::Told {
            caution,
            about,
            whom,
        } => (
            "told/1",
            json(&ToldShape {
                caution,
                about,
                whom,
            })?,
        ),
    })
}

pub(super) fn decode(kind: &str, body: &str) -> Result<DutyFact, LedgerError> {
    Ok(match kind {
        "duty/1" => {
            let s: DutyShape = read(kind, body)?;
            DutyFact::Duty(Duty {
                name: s.name,
                about: s.about,
                every: s.every_ms.map(Span),
                in_use: s.in_use_ms.map(Span),
                ahead: Span(s.ahead_ms),
                asks: s.asks,
                source: s.source,
                ended: s.ended,
            })
        }
        "done/1" => {
            let s: DoneShape = read(kind, body)?;
            DutyFact::Done {
                name: s.name,
                about: s.about,
                answers: s.answers,
                note: s.note,
            }
        }
        "in-use/1" => {
            let s: InUseShape = read(kind, body)?;
            DutyFact::InUse {
                name: s.name,
                about: s.about,
                span: Span(s.ms),
            }
        }
        "incident/1" => {
            let s: IncidentShape = read(kind, body)?;
            DutyFact::Incident {
                kind: word::<IncidentKind>(kind, &s.kind)?,
                place: s.place,
                text: s.text,
                follow_up: date(kind, s.follow_up)?,
            }
        }
        "followed/1" => {
            let s: FollowedShape = read(kind, body)?;
            DutyFact::Followed {
                incident: EntrySeq(s.incident),
                text: s.text,
                next: date(kind, s.next)?,
                closed: s.closed,
            }
        }
        "contact/1" => {
            let s: ContactShape = read(kind, body)?;
            DutyFact::Contact {
                role: s.role,
                text: s.text,
            }
        }
        "room-air/1" => {
            let s: RoomAirShape = read(kind, body)?;
            DutyFact::RoomAir {
                room: s.room,
                volume: s.ul.map(Volume),
                flow: s.ml_s.map(Flow),
                source: s.source,
            }
        }
        "room-hooks/1" => {
            let s: RoomHooksShape = read(kind, body)?;
            DutyFact::RoomHooks {
                room: s.room,
                hooks: s.hooks,
                source: s.source,
            }
        }
        "closed/1" => {
            let s: ClosedShape = read(kind, body)?;
            let first = date(kind, s.first)?.ok_or_else(|| {
                LedgerError::Damaged(format!("an entry of kind {kind} names no day"))
            })?;
            DutyFact::Closed(ClosedDays {
                days: (first, date(kind, s.last)?.unwrap_or(first)),
                source: s.source,
                ended: s.ended,
            })
        }
        "hours/1" => {
            let s: HoursShape = read(kind, body)?;
            let shifts = s.shifts.iter().map(|(hours, days)| {
                Shift::read(hours, days)
                    .map_err(|e| LedgerError::Damaged(format!("an entry of kind {kind}: {e}")))
            });
            DutyFact::Hours(WorkingHours {
                shifts: shifts.collect::<Result<_, _>>()?,
                source: s.source,
            })
        }
        "station/1" => {
            let s: StationShape = read(kind, body)?;
            let kinds = s.kinds.iter().map(|k| word::<StepKind>(kind, k));
            DutyFact::Station(Station {
                name: s.name,
                kinds: kinds.collect::<Result<_, _>>()?,
                people: s.people,
                crew: None,
                took: Span(s.ms),
                per: word::<Per>(kind, &s.per)?,
                source: s.source,
                ended: s.ended,
            })
        }
        "station/2" => {
            let s: StationShape2 = read(kind, body)?;
            let kinds = s.kinds.iter().map(|k| word::<StepKind>(kind, k));
            DutyFact::Station(Station {
                name: s.name,
                kinds: kinds.collect::<Result<_, _>>()?,
                people: s.people,
                crew: s.crew,
                took: Span(s.ms),
                per: word::<Per>(kind, &s.per)?,
                source: s.source,
                ended: s.ended,
            })
        }
        "crew/1" => {
            let s: CrewShape = read(kind, body)?;
            DutyFact::Crew(Crew {
                name: s.name,
                people: s.people,
                source: s.source,
                ended: s.ended,
            })
        }
        "caution-read/1" => {
            let s: CautionReadShape = read(kind, body)?;
            DutyFact::CautionRead {
                caution: s.caution,
                about: s.about,
            }
        }
        _ => {
            let s: ToldShape = read(kind, body)?;
            DutyFact::Told {
                caution: s.caution,
                about: s.about,
                whom: s.whom,
            }
        }
    })
}

/// Golden texts: what a ledger written by an earlier version holds. They are never edited.
#[cfg(test)]
pub(super) const GOLDEN: &[(&str, &str)] = &[
    (
        "duty/1",
        r#"{"name":"eyewash","about":"booth 1","every_ms":604800000,"ahead_ms":86400000,"asks":["runs for 15 min"],"source":"site rule"}"#,
    ),
    (
        "duty/1",
        r#"{"name":"cartridge","about":"MK","in_use_ms":28800000,"source":"site rule","ended":true}"#,
    ),
    (
        "done/1",
        r#"{"name":"eyewash","about":"booth 1","answers":[["runs for 15 min","yes"]],"note":"cold"}"#,
    ),
    (
        "in-use/1",
        r#"{"name":"cartridge","about":"MK","ms":5400000}"#,
    ),
    (
        "incident/1",
        r#"{"kind":"spill","place":"mixing bench","text":"1 L thinner","follow_up":"2026-04-01"}"#,
    ),
    (
        "followed/1",
        r#"{"incident":120,"text":"tray put under","closed":true}"#,
    ),
    (
        "followed/1",
        r#"{"incident":120,"text":"asked","next":"2026-05-01"}"#,
    ),
    (
        "contact/1",
        r#"{"role":"safety lead","text":"SL, ext. 12"}"#,
    ),
    (
        "room-air/1",
        r#"{"room":"booth 1","ul":36000000000,"ml_s":3660000,"source":"survey of 12 March"}"#,
    ),
    (
        "room-hooks/1",
        r#"{"room":"cure room","hooks":320,"source":"counted"}"#,
    ),
    ("closed/1", r#"{"first":"2026-04-03","source":"shop rule"}"#),
    (
        "closed/1",
        r#"{"first":"2026-12-24","last":"2027-01-01","source":"worked after all","ended":true}"#,
    ),
    (
        "hours/1",
        r#"{"shifts":[["06:00-14:30","mon,tue,wed,thu,fri"],["07:00-12:00","sat"]],"source":"shop rule"}"#,
    ),
    ("hours/1", r#"{"source":"back to the old ones"}"#),
    (
        "station/1",
        r#"{"name":"bench 1","kinds":["level-sand","final-sand"],"people":2,"ms":540000,"per":"piece","source":"timed by MK"}"#,
    ),
    (
        "station/1",
        r#"{"name":"booth 1","per":"rack","source":"taken down","ended":true}"#,
    ),
    (
        "station/2",
        r#"{"name":"bench 1","kinds":["level-sand"],"people":2,"crew":"finishers","ms":540000,"per":"piece","source":"timed by MK"}"#,
    ),
    (
        "crew/1",
        r#"{"name":"finishers","people":3,"source":"people list"}"#,
    ),
    (
        "crew/1",
        r#"{"name":"finishers","source":"each has a bench now","ended":true}"#,
    ),
    (
        "caution-read/1",
        r#"{"caution":"static","about":"mix 118"}"#,
    ),
    (
        "told/1",
        r#"{"caution":"oil-then-nc","about":"booth 3","whom":"SL"}"#,
    ),
];
