//! What the place asks of the ledger: see [`quality`](crate::screens::places::quality).

use crate::ledger::{Ledger, LedgerError, Period};
use crate::reports::quality::{DAYS, Quality, Wanted, charts};
use crate::screens::places::quality::Data;
use crate::units::Moment;

/// What it shows as of a moment: the last production days up to it.
pub(super) fn data(ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    let period = Period::ending(ledger.calendar().day(at), DAYS);
    let record = ledger.quality(&period, at)?;
    let mut charts = charts(&record, &Wanted::default());
    // What asks for a look stands first: points outside, then charts with limits, then those that are still too short.
    charts.sort_by_key(|c| (c.outside().next().is_none(), c.limits.is_none()));
    Ok(Data {
        at,
        report: Quality::of(&record),
        charts,
    })
}
