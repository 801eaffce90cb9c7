//! A limit as it is entered, on the command line and on the screens.
//!
//! *Invariants*: each kind of limit has one word, one unit and one range; the figure is kept as it was typed, too.

use super::book::{BASIS, Of, limit_mass, period};
use super::checks::{Kind, interval};
use super::content::{CONTENT, kept_basis, limit_content};
use super::stored::Class;
use super::totals::Basis;
use crate::ledger::{Ceiling, FACE_VELOCITY, Ledger, LedgerError, Saved, Stamp, Who, air_limit};
use crate::shop::excursion::Outside;
use crate::shop::text::shown;
use crate::units::{
    Amount, Dimension, Humidity, Pressure, Share, Speed, Temperature, Volume, find, read,
};

/// The name under which the highest share of the lower explosive limit of a booth or room is entered.
pub const LEL_SHARE: &str = "share of the lower explosive limit";

/// The name under which the lower explosive limit of a material's data sheet is entered.
pub const SHEET_LEL: &str = "lower explosive limit";

/// The name under which the eight-hour exposure limit of a substance is entered.
pub const EXPOSURE: &str = "exposure limit, eight hours";

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
    // One that nobody is warned of before it is reached, counted by the shop's own rule set.
    fn of(what: &str, scope: &str, (value, typed): (i64, &str), basis: &str) -> Self {
        Self {
            what: what.to_owned(),
            scope: scope.to_owned(),
            value,
            typed: typed.trim().to_owned(),
            basis: basis.to_owned(),
            warn: Vec::new(),
            rules: None,
        }
    }

    /// A mass in a month or in twelve months.
    pub fn solvent(of: &Of, rolling: bool, value: &str) -> Result<Self, String> {
        Ok(Self::of(
            of.key(),
            period(rolling),
            (limit_mass(value)?, value),
            BASIS,
        ))
    }

    /// A content of VOC in a mix or a material, on a basis that it declares.
    pub fn content(scope: &str, basis: Basis, value: &str) -> Result<Self, String> {
        Ok(Self::of(
            CONTENT,
            scope,
            (limit_content(value)?, value),
            &kept_basis(basis),
        ))
    }

    /// The shares of it at which a word is said before, and the rule set that it is counted by.
    ///
    /// # Errors
    /// It is no limit of the solvent book, or a share is none below the whole.
    pub fn with(mut self, warn: &[String], rules: Option<&str>) -> Result<Self, String> {
        if warn.is_empty() && rules.is_none() {
            return Ok(self);
        }
        let of_book = self.basis == BASIS;
        if !warn.is_empty() && !of_book {
            return Err(format!(
                "a share to be told at belongs to a limit of the solvent book, not to one of {}",
                shown(&self.what)
            ));
        }
        if rules.is_some() && !of_book && self.what != CONTENT {
            return Err(format!(
                "a rule set says what counts in solvent; a limit of {} has none",
                shown(&self.what)
            ));
        }
        for text in warn {
            let share = Share::read_within(text, Some("%"), 1_000, 999_000)
                .map_err(|e| format!("warn: {e}; write a share such as 80%"))?;
            // The record keeps thousandths; a finer share is said a little earlier.
            self.warn.push(share.0 / 1_000);
        }
        self.warn.sort_unstable();
        self.warn.dedup();
        self.rules = rules.map(ToOwned::to_owned);
        Ok(self)
    }

    /// The longest time between two checks of a booth.
    pub fn every(kind: Kind, booth: &str, value: &str) -> Result<Self, String> {
        Ok(Self::of(
            kind.limit(),
            booth,
            (interval(value)?, value),
            "clock time since the last one",
        ))
    }

    /// The longest time that a waste drum may stand.
    pub fn drum(drum: &str, value: &str) -> Result<Self, String> {
        Ok(Self::of(
            super::stock::DRUM_DAYS,
            drum,
            (interval(value)?, value),
            "calendar days since it was started",
        ))
    }

    /// The rise of a filter gauge above its clean reading: the mark at which filters are changed.
    pub fn rise(booth: &str, value: &str) -> Result<Self, String> {
        let rise =
            Pressure::read_within(value, None, 1, Pressure::HIGH).map_err(|e| e.to_string())?;
        Ok(Self::of(
            Kind::Gauge.limit(),
            booth,
            (rise.0, value),
            "reading above the clean one",
        ))
    }

    /// The share of the lower explosive limit that is not to be passed in a booth's exhaust or a room.
    pub fn lel_share(place: &str, value: &str) -> Result<Self, String> {
        let share = Share::read_within(value, None, 1_000, 1_000_000).map_err(|e| e.to_string())?;
        Ok(Self::of(
            LEL_SHARE,
            place,
            (share.0, value),
            "calculated share",
        ))
    }

    /// The lower explosive limit that a material's data sheet names.
    pub fn sheet_lel(material: &str, value: &str) -> Result<Self, String> {
        let share = Share::read_within(value, None, 3_000, 400_000).map_err(|e| e.to_string())?;
        Ok(Self::of(
            SHEET_LEL,
            material,
            (share.0, value),
            "data sheet",
        ))
    }

    /// The eight-hour exposure limit of a substance in ppm of the air; the record keeps it in thousandths of that.
    pub fn exposure(of: &Of, value: &str) -> Result<Self, String> {
        let Of::Substance(cas, _) = of else {
            return Err(format!(
                "an exposure limit is one of a substance, not of {}; write its CAS number, such as 108-88-3",
                of.name()
            ));
        };
        let limit = read(value, Dimension::Fraction, find("ppm", Dimension::Fraction))
            .map_err(|e| e.to_string())?
            .exact(9)
            .filter(|ppb| (1..=1_000_000_000).contains(ppb))
            .ok_or_else(|| {
                format!(
                    "exposure limit \"{}\" is outside 0.001 ppm to 1000000 ppm; write such as 50ppm",
                    shown(value)
                )
            })?;
        Ok(Self::of(
            EXPOSURE,
            cas,
            (limit, value),
            "mean of eight hours",
        ))
    }

    /// The volume that may stand at a place.
    pub fn stored(place: &str, class: &str, value: &str) -> Result<Self, String> {
        let class = Class::from_words(class).ok_or_else(|| {
            format!(
                "class \"{}\" is not known; write one of {}",
                shown(class),
                Class::choices()
            )
        })?;
        let volume =
            Volume::read_within(value, None, 1, Volume::HIGH).map_err(|e| e.to_string())?;
        Ok(Self::of(
            &class.limit(),
            place,
            (volume.0, value),
            "volume by the record",
        ))
    }

    /// A bound of a room's air: a temperature, a humidity, or a change of temperature within an hour.
    pub fn air(kind: Outside, room: &str, value: &str) -> Result<Self, String> {
        let figure = match kind {
            Outside::Cold | Outside::Warm => Temperature::read(value, None)
                .map(|t| t.0)
                .map_err(|e| e.to_string())?,
            Outside::Dry | Outside::Damp => Humidity::read(value, Some("%"))
                .map(|h| h.0)
                .map_err(|e| e.to_string())?,
            Outside::Change | Outside::Dew | Outside::Silent => {
                let kelvin = find("K diff", Dimension::TemperatureChange);
                let change = read(value, Dimension::TemperatureChange, kelvin);
                let change = change.map_err(|e| e.to_string())?.exact(3);
                let (name, what) = match kind {
                    Outside::Dew => ("spread", "far above its dew point"),
                    _ => ("change", "much within an hour"),
                };
                change.filter(|c| (100..=50_000).contains(c)).ok_or_else(|| {
                    format!(
                        "{name} \"{}\" is outside 0.1 to 50 K; write how {what}, such as \"3 K diff\"",
                        shown(value)
                    )
                })?
            }
        };
        Ok(Self::of(
            &air_limit(kind),
            room,
            (figure, value),
            "reading of the room",
        ))
    }

    /// A face velocity.
    pub fn face(booth: &str, basis: &str, value: &str) -> Result<Self, String> {
        let speed = Speed::read_within(value, None, 1, Speed::HIGH).map_err(|e| e.to_string())?;
        Ok(Self {
            typed: value.to_owned(),
            ..Self::of(FACE_VELOCITY, booth, (speed.0, value), basis)
        })
    }

    /// What would be entered.
    pub fn line(&self) -> String {
        format!(
            "limit {} of {}: {} on the {}{}",
            shown(&self.what),
            shown(&self.scope),
            shown(&self.typed),
            self.basis,
            more(&self.warn, self.rules.as_deref())
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

/// What else belongs to a limit: the shares at which it is said before, its own rule set.
pub fn more(warn: &[i64], rules: Option<&str>) -> String {
    let mut text = String::new();
    if !warn.is_empty() {
        let shares: Vec<String> = warn.iter().map(|w| per_cent(*w)).collect();
        text.push_str(&format!(", warned at {}", shares.join(" and ")));
    }
    if let Some(code) = rules {
        text.push_str(&format!(", counted by rule set {}", shown(code)));
    }
    text
}

/// Thousandths in per cent: `80 %`, `92.5 %`.
pub fn per_cent(thousandths: i64) -> String {
    if thousandths % 10 == 0 {
        format!("{} %", thousandths / 10)
    } else {
        format!("{}.{} %", thousandths / 10, thousandths % 10)
    }
}
