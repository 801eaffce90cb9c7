//! The stations of the shop as they were entered: where something is done, by how many, and how long it takes; and the crews
//! whose people work at several of them.
//!
//! *Invariants*: a station or a crew is known by its name, and no crew has the name of a station; a later entry changes it from
//! then on. A crew that a station names is there. Steps that several stations take are
//! counted alike at all of them, by the piece or by the rack.
//!
//! *Not here*: what a plan makes of them (`plan`).

use super::append::{Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use crate::shop::duty::{Crew, DutyFact, Station};
use crate::shop::record::{ShopFact, What};
use crate::shop::text::{clean, shown};
use crate::shop::words::Word;
use crate::units::{Moment, Span};
use std::collections::BTreeMap;

/// The most people of one station that are taken for a figure and not for a slip of the hand.
const MOST_PEOPLE: u32 = 500;
/// The longest time for one piece or rack.
const LONGEST: Span = Span::hours(7 * 24);

/// A station as it was entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StationRow {
    /// The station.
    pub station: Station,
    /// Initials of who entered it.
    pub person: String,
    /// Since when.
    pub since: Moment,
    /// The entry.
    pub entry: i64,
}

/// A crew as it was entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CrewRow {
    /// The crew.
    pub crew: Crew,
    /// Initials of who entered it.
    pub person: String,
    /// Since when.
    pub since: Moment,
    /// The entry.
    pub entry: i64,
}

impl Ledger {
    /// Enters a station, changes it, or takes it away.
    pub fn set_station(
        &mut self,
        station: &Station,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let there = self.stations(stamp.written)?;
        let input = LedgerError::Input;
        let fact = Station {
            name: clean("station", &station.name, 40).map_err(input)?,
            source: clean("source", &station.source, 120).map_err(LedgerError::Input)?,
            crew: station
                .crew
                .as_ref()
                .map(|crew| clean("crew", crew, 40))
                .transpose()
                .map_err(LedgerError::Input)?,
            ..station.clone()
        };
        if fact.ended {
            if !there.iter().any(|r| r.station.name == fact.name) {
                let known: Vec<String> = there.iter().map(|r| shown(&r.station.name)).collect();
                return Err(LedgerError::Input(format!(
                    "station \"{}\" is not known; {}",
                    shown(&fact.name),
                    if known.is_empty() {
                        "none is entered".to_owned()
                    } else {
                        format!("write one of {}", known.join(", "))
                    }
                )));
            }
        } else {
            checked(&fact, &there)?;
            let crews = self.crews(stamp.written)?;
            if crews.iter().any(|r| r.crew.name == fact.name) {
                return Err(LedgerError::Input(format!(
                    "{} is a crew; give the station another name",
                    shown(&fact.name)
                )));
            }
            if let Some(crew) = &fact.crew {
                crew_there(crew, &crews)?;
            }
        }
        self.shop_fact(
            "station",
            ShopFact::Duty(DutyFact::Station(fact)),
            stamp.written,
            who,
            stamp,
        )
    }

    /// Enters a crew, changes it, or takes it away.
    pub fn set_crew(
        &mut self,
        crew: &Crew,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let input = LedgerError::Input;
        let fact = Crew {
            name: clean("crew", &crew.name, 40).map_err(input)?,
            source: clean("source", &crew.source, 120).map_err(LedgerError::Input)?,
            ..crew.clone()
        };
        let stations = self.stations(stamp.written)?;
        if fact.ended {
            crew_there(&fact.name, &self.crews(stamp.written)?)?;
            let own = stations
                .iter()
                .filter(|r| r.station.crew.as_ref() == Some(&fact.name));
            let own: Vec<String> = own.map(|r| shown(&r.station.name)).collect();
            if !own.is_empty() {
                return Err(LedgerError::Input(format!(
                    "crew {} works at {}; set these without it first",
                    shown(&fact.name),
                    own.join(", ")
                )));
            }
        } else if !(1..=MOST_PEOPLE).contains(&fact.people) {
            return Err(LedgerError::Input(format!(
                "people {}: a crew has 1 to {MOST_PEOPLE}; write how many they are",
                fact.people
            )));
        } else if stations.iter().any(|r| r.station.name == fact.name) {
            return Err(LedgerError::Input(format!(
                "{} is a station; give the crew another name",
                shown(&fact.name)
            )));
        }
        self.shop_fact(
            "crew",
            ShopFact::Duty(DutyFact::Crew(fact)),
            stamp.written,
            who,
            stamp,
        )
    }

    /// The crews as entered up to `at`, by name.
    pub fn crews(&self, at: Moment) -> Result<Vec<CrewRow>, LedgerError> {
        let mut list: BTreeMap<String, CrewRow> = BTreeMap::new();
        for row in self.noted("crew", None, at)? {
            let What::Shop(ShopFact::Duty(DutyFact::Crew(crew))) = row.what else {
                continue;
            };
            if crew.ended {
                list.remove(&crew.name);
                continue;
            }
            let new = CrewRow {
                person: row.person,
                since: row.ended,
                entry: row.seq.0,
                crew,
            };
            list.insert(new.crew.name.clone(), new);
        }
        Ok(list.into_values().collect())
    }

    /// The stations as entered up to `at`, in the order in which they were first entered.
    pub fn stations(&self, at: Moment) -> Result<Vec<StationRow>, LedgerError> {
        let mut first: BTreeMap<String, i64> = BTreeMap::new();
        let mut list: BTreeMap<String, StationRow> = BTreeMap::new();
        for row in self.noted("station", None, at)? {
            let What::Shop(ShopFact::Duty(DutyFact::Station(station))) = row.what else {
                continue;
            };
            if station.ended {
                list.remove(&station.name);
                continue;
            }
            first.entry(station.name.clone()).or_insert(row.seq.0);
            let new = StationRow {
                person: row.person,
                since: row.ended,
                entry: row.seq.0,
                station,
            };
            list.insert(new.station.name.clone(), new);
        }
        let mut rows: Vec<StationRow> = list.into_values().collect();
        rows.sort_by_key(|r| first.get(&r.station.name).copied());
        Ok(rows)
    }
}

fn crew_there(name: &str, crews: &[CrewRow]) -> Result<(), LedgerError> {
    if crews.iter().any(|r| r.crew.name == name) {
        return Ok(());
    }
    let known: Vec<String> = crews.iter().map(|r| shown(&r.crew.name)).collect();
    Err(LedgerError::Input(format!(
        "crew \"{}\" is not known; {}",
        shown(name),
        if known.is_empty() {
            "none is entered: enter it with \"hangtime station crew\" first".to_owned()
        } else {
            format!("write one of {}, or enter it first", known.join(", "))
        }
    )))
}

fn checked(fact: &Station, there: &[StationRow]) -> Result<(), LedgerError> {
    let fault = |text: String| Err(LedgerError::Input(text));
    if fact.kinds.is_empty() {
        return fault("a station needs a step: write --for seal --for clear".to_owned());
    }
    if let Some(kind) = fact.kinds.iter().find(|k| k.waits()) {
        return fault(format!(
            "{} is a wait that no station takes; write the steps that people do",
            kind.word()
        ));
    }
    if !(1..=MOST_PEOPLE).contains(&fact.people) {
        return fault(format!(
            "people {}: a station has 1 to {MOST_PEOPLE}; write how many work there at once",
            fact.people
        ));
    }
    if !(Span::seconds(1)..=LONGEST).contains(&fact.took) {
        return fault("the time for one is outside 1 s to 7 d; write such as 9min".to_owned());
    }
    let other = there
        .iter()
        .map(|r| &r.station)
        .filter(|s| s.name != fact.name && s.per != fact.per)
        .find_map(|s| Some((s, s.kinds.iter().find(|k| fact.kinds.contains(k))?)));
    if let Some((s, kind)) = other {
        return fault(format!(
            "{} is counted by the {} at {}; write --per {} here, too, or change that station first",
            kind.word(),
            s.per.word(),
            shown(&s.name),
            s.per.word()
        ));
    }
    Ok(())
}
