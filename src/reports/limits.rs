//! A limit as it is entered, on the command line and on the screens.
//!
//! *Invariants*: each kind of limit has one word, one unit and one range; the figure is kept as it was typed, too.

use super::air::FACE_VELOCITY;
use super::book::{BASIS, Of, limit_mass, period};
use super::checks::{Kind, interval};
use crate::ledger::{Ceiling, Ledger, LedgerError, Saved, Stamp, Who};
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
    /// Thousandths of it at which a word is said before.
    pub warn: Vec<i64>,
    /// The rule set that says what counts, where that is not the shop's own.
    pub rules: Option<String>,
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
            warn: Vec::new(),
            rules: None,
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
            warn: Vec::new(),
            rules: None,
        })
    }

    /// The longest time that a waste drum may stand.
    pub fn drum(drum: &str, value: &str) -> Result<Self, String> {
        Ok(Self {
            what: super::stock::DRUM_DAYS.to_owned(),
            scope: drum.to_owned(),
            value: interval(value)?,
            typed: value.trim().to_owned(),
            basis: "calendar days since it was started".to_owned(),
            warn: Vec::new(),
            rules: None,
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
            warn: Vec::new(),
            rules: None,
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
            warn: Vec::new(),
            rules: None,
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
        let ceiling = Ceiling {
            what: self.what.clone(),
            scope: self.scope.clone(),
            value: self.value,
            typed: self.typed.clone(),
            basis: self.basis.clone(),
            source: source.to_owned(),
            warn: self.warn.clone(),
            rules: self.rules.clone(),
        };
        ledger.enter_limit(&ceiling, who, stamp)
    }
}
