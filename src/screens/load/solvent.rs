//! What the place asks of the ledger: see [`solvent`](crate::screens::places::solvent).

use crate::ledger::{Ledger, LedgerError};
use crate::screens::places::solvent::Data;
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(_ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    Ok(Data { at })
}
