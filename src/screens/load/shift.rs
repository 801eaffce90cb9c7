//! What the place asks of the ledger: see [`shift`](crate::screens::places::shift).

use crate::ledger::{Ledger, LedgerError};
use crate::screens::places::shift::Data;
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(_ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    Ok(Data { at })
}
