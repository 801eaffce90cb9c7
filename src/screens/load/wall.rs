//! What the place asks of the ledger: see [`wall`](crate::screens::places::wall).

use super::booth::booths;
use crate::ledger::{Ledger, LedgerError};
use crate::screens::places::wall::Data;
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    Ok(Data {
        at,
        booths: booths(ledger, at)?,
    })
}
