//! What the place asks of the ledger: see [`wall`](crate::screens::places::wall).

use crate::ledger::{Ledger, LedgerError};
use crate::screens::places::wall::Data;
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(_ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    Ok(Data { at })
}
