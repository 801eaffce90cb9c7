//! A limit as it is entered, on the command line and on the screens.
//!
//! *Invariants*: each kind of limit has one word, one unit and one range; the figure is kept as it was typed, too.

use super::air::FACE_VELOCITY;
use super::book::{BASIS, Of, limit_mass, period};
use super::checks::{Kind, interval};
use crate::ledger::{Ledger, LedgerError, Saved, Stamp, Who};
use crate::shop::text::shown;
use crate::units::{Amount, Pressure, Speed};

/// A limit that was read and is not entered yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewLimit {
    /// What it limits.
    pub what: String,
    /// Where it holds, or over which period.
    pub scope: String,
    /// The figure in the record's unit.
    pub value: i64,
    /// The figure as typed.
    pub typed: String,
    /// On which basis it is held.
    pub basis: String,
}

impl NewLimit {
    /// A mass in a month or in twelve months.
    pub fn solvent(of: &Of, rolling: bool, value: &str) -> Result<Self, String> {
        Ok(Self {
            what: of.key().to_owned(),
            scope: period(rolling).to_owned(),
            value: limit_mass(value)?,
            typed: value.trim().to_owned(),
            basis: BASIS.to_owned(),
        })
    }

    /// The longest time between two checks of a booth.
    pub fn every(kind: Kind, booth: &str, value: &str) -> Result<Self, String> {
        Ok(Self {
            what: kind.limit().to_owned(),
            scope: booth.to_owned(),
            value: interval(value)?,
            typed: value.trim().to_owned(),
            basis: "clock time since the last one".to_owned(),
        })
    }

    /// The rise of a filter gauge above its clean reading: the mark at which filters are changed.
    pub fn rise(booth: &str, value: &str) -> Result<Self, String> {
        let rise =
            Pressure::read_within(value, None, 1, Pressure::HIGH).map_err(|e| e.to_string())?;
        Ok(Self {
            what: Kind::Gauge.limit().to_owned(),
            scope: booth.to_owned(),
            value: rise.0,
            typed: value.trim().to_owned(),
            basis: "reading above the clean one".to_owned(),
        })
    }

    /// A face velocity.
    pub fn face(booth: &str, basis: &str, value: &str) -> Result<Self, String> {
        let speed = Speed::read_within(value, None, 1, Speed::HIGH).map_err(|e| e.to_string())?;
        Ok(Self {
            what: FACE_VELOCITY.to_owned(),
            scope: booth.to_owned(),
            value: speed.0,
            typed: value.to_owned(),
            basis: basis.to_owned(),
        })
    }

    /// What would be entered.
    pub fn line(&self) -> String {
        format!(
            "limit {} of {}: {} on the {}",
            shown(&self.what),
            shown(&self.scope),
            shown(&self.typed),
            self.basis
        )
    }

    /// Enters it.
    pub fn enter(
        &self,
        ledger: &mut Ledger,
        source: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        ledger.enter_limit(
            &self.what,
            &self.scope,
            self.value,
            &self.typed,
            &self.basis,
            source,
            who,
            stamp,
        )
    }
}
