//! What the place asks of the ledger: see [`plan`](crate::screens::places::plan).

use crate::ledger::{Ledger, LedgerError};
use crate::plan::Suppose;
use crate::plan::forecast::forecast;
use crate::reports::plan::{Footing, Wanted, page};
use crate::screens::places::plan::Data;
use crate::units::Moment;

/// What it shows as of a moment; `None` where nothing was written since the action that is known. It plays the whole floor
/// and takes its time.
pub(super) fn data(
    ledger: &Ledger,
    (at, now): (Moment, bool),
    known: Option<i64>,
) -> Result<Option<Data>, LedgerError> {
    let (head, _) = ledger.head()?;
    if known == Some(head) {
        return Ok(None);
    }
    let wanted = Wanted::default();
    let days = wanted.days;
    let footing = Footing::read(ledger, wanted, at, None)?;
    let plan = forecast(&footing.scene(), &Suppose::default(), days);
    Ok(Some(Data {
        at,
        now,
        head,
        page: page(&plan, &footing.basis()),
    }))
}
