//! The solvent vapour of every booth's exhaust and every room with fresh work: the workings, put together.
//!
//! *Invariants*: a place that nothing was logged in for a day is named and given no figure; unknown stays unknown.
//!
//! *Not here*: the figures themselves (`workings`), and any word that a room may be entered.

use super::limits::EXPOSURE;
use super::workings::{self, Working};
use crate::ledger::{Ledger, LedgerError};
use crate::science::measure::figures;
use crate::science::printed;
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::units::{Moment, Span, System};
use serde_json::{Value, json};

/// A share of a limit as people read it: three figures say more than such a reckoning can, and what is left of a coat of
/// yesterday is not told to the billionth.
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent > 0.0 && percent < 0.01 {
        return "under 0.01 %".to_owned();
    }
    format!("{} %", figures(percent, 3))
}

/// The vapour of one booth or room.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceVapour {
    /// Its name.
    pub place: String,
    /// Of its exhaust, where it was sprayed in in this production day.
    pub exhaust: Option<Working>,
    /// Of its air, where fresh work hung in it.
    pub air: Option<Working>,
    /// Of its air over eight hours, where fresh work hung in it and somebody entered an exposure limit.
    pub exposure: Option<Working>,
}

/// The vapour of a booth or room, or of all.
pub fn places(
    ledger: &Ledger,
    only: Option<&str>,
    at: Moment,
) -> Result<Vec<PlaceVapour>, LedgerError> {
    let calendar = ledger.calendar();
    let today = calendar.day_begin(calendar.day(at));
    let limited = ledger.ceilings()?.iter().any(|l| l.what == EXPOSURE);
    let mut out = Vec::new();
    for place in ledger.rooms()? {
        if only.is_some_and(|o| o != place) {
            continue;
        }
        let sprayed = !ledger.coats_in(&place, today, at)?.is_empty();
        let fresh = !ledger
            .fresh_in(&place, at.minus(Span::hours(24)), at)?
            .is_empty();
        let of = |figure: &str, wanted: bool| {
            wanted
                .then(|| workings::show(ledger, figure, &place, at))
                .transpose()
        };
        out.push(PlaceVapour {
            exhaust: of("lel", sprayed)?,
            air: of("vapour", fresh)?,
            exposure: of("exposure", fresh && limited)?,
            place,
        });
    }
    if let (Some(only), true) = (only, out.is_empty()) {
        return Err(LedgerError::Input(format!(
            "\"{}\" is no room that a piece hangs in or that was declared; \"hangtime room list\" lists them",
            shown(only)
        )));
    }
    Ok(out)
}

impl PlaceVapour {
    /// Its workings with what each is of.
    pub fn workings(&self) -> impl Iterator<Item = (&'static str, &Working)> {
        let exhaust = self.exhaust.iter().map(|w| ("exhaust", w));
        let air = self.air.iter().map(|w| ("air of the room", w));
        let exposure = self.exposure.iter().map(|w| ("eight hours in its air", w));
        exhaust.chain(air).chain(exposure)
    }

    /// Whether something is unknown, or a figure is beyond a limit.
    pub fn calls_for_attention(&self) -> bool {
        self.workings().any(|(_, w)| w.calls_for_attention())
    }

    /// As lines for people: figures, what is unknown, what was held against, without the worksheets.
    pub fn lines(&self, system: System) -> Vec<String> {
        let mut lines = Vec::new();
        for (what, w) in self.workings() {
            lines.push(format!("{}, {what}", shown(&self.place)));
            lines.extend(w.figures());
            let held = w.held();
            lines.extend(held.map(|h| format!("  {}", printed::held_line(h, system))));
            lines.push(format!(
                "  the way there: hangtime working {} \"{}\"",
                w.figure,
                shown(&self.place)
            ));
        }
        if lines.is_empty() {
            lines.push(format!(
                "{}: no fresh coat was logged there in the last day",
                shown(&self.place)
            ));
        }
        lines
    }

    /// As JSON.
    pub fn json(&self, at: Moment, calendar: &Calendar, system: System) -> Value {
        let of = |w: &Option<Working>| w.as_ref().map(|w| w.json(at, calendar, system));
        json!({
            "place": self.place, "exhaust": of(&self.exhaust), "air": of(&self.air),
            "exposure": of(&self.exposure),
        })
    }
}
