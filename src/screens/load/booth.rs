//! What the place asks of the ledger: see [`booth`](crate::screens::places::booth).

use crate::ledger::{Ledger, LedgerError};
use crate::screens::places::booth::Data;
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(_ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    Ok(Data { at })
}
