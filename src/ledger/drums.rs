//! Waste drums in the record: started, filled, analysed, shipped.
//!
//! *Invariants*: a drum's name is used once, and nothing happens to it before its start or after it left.
//!
//! *Not here*: its clock and the credit for what left (`reports::stock`).

use super::append::{Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use super::stock::named;
use crate::shop::calendar::Day;
use crate::shop::control::no_control;
use crate::shop::record::{ShopFact, What};
use crate::shop::stock::StockFact;
use crate::shop::text::clean;
use crate::units::{Mass, Moment, Share, Volume};
use rusqlite::Connection;
use std::collections::BTreeMap;

/// A waste drum with what was entered about it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrumRow {
    /// Its name.
    pub drum: String,
    /// What goes in.
    pub contents: String,
    /// What it holds when full.
    pub capacity: Option<Volume>,
    /// Where it stands.
    pub place: Option<String>,
    /// When it was started, and the entry.
    pub started: (Moment, i64),
    /// What went in by volume.
    pub volume: Volume,
    /// What went in by mass.
    pub mass: Mass,
    /// Its analysis: share of VOC, reference, entry.
    pub analysis: Option<(Share, String, i64)>,
    /// When it left.
    pub shipped: Option<Shipment>,
}

/// A drum that left.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shipment {
    /// When.
    pub at: Moment,
    /// Production day.
    pub day: Day,
    /// Its contents by weight.
    pub mass: Mass,
    /// Number of the manifest.
    pub manifest: Option<String>,
    /// Who took it.
    pub carrier: Option<String>,
    /// The entry.
    pub entry: i64,
}

impl Ledger {
    /// A waste drum was started.
    #[allow(clippy::too_many_arguments, reason = "what a drum's label says")]
    pub fn start_drum(
        &mut self,
        drum: &str,
        contents: &str,
        capacity: Option<Volume>,
        place: Option<&str>,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let drum = clean("drum", drum, 30).map_err(LedgerError::Input)?;
        no_control("drum", &drum).map_err(LedgerError::Input)?;
        if self.drum(&drum)?.is_some() {
            return Err(LedgerError::Input(format!(
                "drum {drum} was started already; a drum's name is used once, give this one its own"
            )));
        }
        let fact = StockFact::DrumStarted {
            drum,
            contents: clean("contents", contents, 80).map_err(LedgerError::Input)?,
            capacity,
            place: named("place", place, 30)?,
        };
        self.stock_fact("drum", fact, at, who, stamp)
    }

    /// Something went into a waste drum, its contents were analysed, or it left.
    pub fn record_drum(
        &mut self,
        fact: StockFact,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let fact = clean_drum(fact)?;
        let Some(drum) = fact.drum() else {
            return Err(LedgerError::Input("name the drum".to_owned()));
        };
        check_drum(&self.conn, drum)?;
        if let StockFact::DrumFilled { volume, mass, .. } = &fact
            && volume.is_none_or(|v| v.0 <= 0)
            && mass.is_none_or(|m| m.0 <= 0)
        {
            return Err(LedgerError::Input(format!(
                "what went into drum {drum} has neither volume nor mass; write --volume or --mass above 0"
            )));
        }
        if let Some(row) = self.drum(drum)?
            && at < row.started.0
        {
            return Err(LedgerError::Input(format!(
                "drum {drum} was started at {}; nothing happened to it before",
                self.calendar().full(row.started.0)
            )));
        }
        self.stock_fact("drum", fact, at, who, stamp)
    }

    /// A waste drum.
    pub fn drum(&self, drum: &str) -> Result<Option<DrumRow>, LedgerError> {
        Ok(self.drums_of(Some(drum), Moment(i64::MAX / 4))?.pop())
    }

    /// The waste drums as of `at`, in the order in which they were started.
    pub fn drums(&self, at: Moment) -> Result<Vec<DrumRow>, LedgerError> {
        self.drums_of(None, at)
    }

    fn drums_of(&self, drum: Option<&str>, at: Moment) -> Result<Vec<DrumRow>, LedgerError> {
        let mut drums: BTreeMap<String, DrumRow> = BTreeMap::new();
        let rows = self.noted("drum", drum, at)?;
        for row in &rows {
            if let What::Shop(ShopFact::Stock(StockFact::DrumStarted {
                drum,
                contents,
                capacity,
                place,
            })) = &row.what
            {
                drums.insert(
                    drum.clone(),
                    DrumRow {
                        drum: drum.clone(),
                        contents: contents.clone(),
                        capacity: *capacity,
                        place: place.clone(),
                        started: (row.ended, row.seq.0),
                        volume: Volume(0),
                        mass: Mass(0),
                        analysis: None,
                        shipped: None,
                    },
                );
            }
        }
        for row in rows {
            let What::Shop(ShopFact::Stock(fact)) = row.what else {
                continue;
            };
            let Some(kept) = fact.drum().and_then(|d| drums.get_mut(d)) else {
                continue;
            };
            match fact {
                StockFact::DrumFilled { volume, mass, .. } => {
                    kept.volume.0 += volume.map_or(0, |v| v.0);
                    kept.mass.0 += mass.map_or(0, |m| m.0);
                }
                StockFact::PotClosed { left, .. } => kept.volume.0 += left.0,
                StockFact::DrumAnalysed { voc, reference, .. } => {
                    kept.analysis = Some((voc, reference, row.seq.0));
                }
                StockFact::DrumShipped {
                    mass,
                    manifest,
                    carrier,
                    ..
                } => {
                    kept.shipped = Some(Shipment {
                        at: row.ended,
                        day: row.day,
                        mass,
                        manifest,
                        carrier,
                        entry: row.seq.0,
                    });
                }
                _ => {}
            }
        }
        let mut list: Vec<DrumRow> = drums.into_values().collect();
        list.sort_by_key(|d| d.started);
        Ok(list)
    }
}

// The words that were typed about a drum, trimmed and bounded like every text that is kept.
fn clean_drum(mut fact: StockFact) -> Result<StockFact, LedgerError> {
    let tidy = |field: &str, text: &mut String| -> Result<(), LedgerError> {
        *text = clean(field, text, 80).map_err(LedgerError::Input)?;
        Ok(())
    };
    match &mut fact {
        StockFact::DrumFilled { what, .. } => tidy("what", what)?,
        StockFact::DrumAnalysed { reference, .. } => tidy("reference", reference)?,
        StockFact::DrumShipped {
            manifest, carrier, ..
        } => {
            for (field, text) in [("manifest", manifest), ("carrier", carrier)] {
                if let Some(text) = text {
                    tidy(field, text)?;
                }
            }
        }
        _ => {}
    }
    Ok(fact)
}

pub(super) fn check_drum(conn: &Connection, drum: &str) -> Result<(), LedgerError> {
    let mut deeds = conn.prepare_cached(
        "SELECT 1 FROM noted n JOIN entry e ON e.seq = n.entry
         WHERE n.topic = 'drum' AND n.about = ?1 AND e.kind = ?2",
    )?;
    if !deeds.exists([drum, "drum-started/1"])? {
        return Err(LedgerError::Input(format!(
            "drum \"{}\" was not started; run \"hangtime drum start\" first",
            crate::shop::text::shown(drum)
        )));
    }
    if deeds.exists([drum, "drum-shipped/1"])? {
        return Err(LedgerError::Input(format!(
            "drum {drum} has left; start another one"
        )));
    }
    Ok(())
}
