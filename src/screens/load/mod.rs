//! What each place asks of the ledger: reads only, on the ledger's own thread.
//!
//! *Invariants*: nothing is judged here that `shop` or `reports` can say.

mod air;
mod booth;
mod recipes;
mod shift;
mod solvent;
mod wall;

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
        Place::Floor => PlaceData::Floor,
        Place::Booth => PlaceData::Booth(booth::data(ledger, at)?),
        Place::Shift => PlaceData::Shift(shift::data(ledger, at)?),
        Place::Solvent => PlaceData::Solvent(solvent::data(ledger, at)?),
        Place::Air => PlaceData::Air(air::data(ledger, at)?),
        Place::Recipes => PlaceData::Recipes(recipes::data(ledger, at, system)?),
        Place::Wall => PlaceData::Wall(wall::data(ledger, at)?),
    })
}
