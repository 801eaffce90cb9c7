//! What each place asks of the ledger: reads only, on the ledger's own thread.
//!
//! *Invariants*: nothing is judged here that `shop` or `reports` can say.

mod air;
mod booth;
mod plan;
mod quality;
mod recipes;
mod shift;
mod solvent;
mod wall;

use super::places::solvent::Ask;
use super::places::{Place, PlaceData};
use crate::ledger::{Ledger, LedgerError};
use crate::units::{Moment, System};

/// What a place shows as of a moment.
pub(super) fn place(
    ledger: &Ledger,
    place: Place,
    at: Moment,
    system: System,
) -> Result<PlaceData, LedgerError> {
    Ok(match place {
        // These have queries of their own.
        Place::Floor | Place::Plan => PlaceData::Floor,
        Place::Booth => PlaceData::Booth(booth::data(ledger, at)?),
        Place::Shift => PlaceData::Shift(shift::data(ledger, at)?),
        Place::Solvent => {
            // Without a month and a way it is the present month.
            let ask = Ask {
                month: None,
                way: None,
                present: false,
                system: System::Metric,
            };
            book(ledger, at, ask)?
        }
        Place::Air => PlaceData::Air(air::data(ledger, at)?),
        Place::Recipes => PlaceData::Recipes(recipes::data(ledger, at, system)?),
        Place::Wall => PlaceData::Wall(wall::data(ledger, at)?),
        Place::Quality => PlaceData::Quality(Box::new(quality::data(ledger, at)?)),
    })
}

/// The plan as of a moment, which is the present one or not; `None` where nothing was written since the action that is known.
pub(super) fn plan(
    ledger: &Ledger,
    asked: (Moment, bool),
    known: Option<i64>,
) -> Result<Option<PlaceData>, LedgerError> {
    let found = plan::data(ledger, asked, known)?;
    Ok(found.map(|data| PlaceData::Plan(Box::new(data))))
}

/// What the solvent book shows of a month, or of a level of the way down.
pub(super) fn book(ledger: &Ledger, at: Moment, ask: Ask) -> Result<PlaceData, LedgerError> {
    Ok(PlaceData::Solvent(Box::new(solvent::data(
        ledger, at, ask,
    )?)))
}
