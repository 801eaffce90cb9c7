//! What the place asks of the ledger beside the floor: see [`shift`](crate::screens::places::shift).

use crate::ledger::{Ledger, LedgerError};
use crate::screens::places::shift::Data;
use crate::shop::words::Role;
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    let people = ledger.people()?.into_iter();
    let hours = ledger.working(at)?;
    Ok(Data {
        at,
        risk: ledger.at_risk(at, &hours)?,
        hours,
        deviations: ledger.deviations(false)?,
        rooms: ledger.rooms()?,
        hooks: ledger.room_hooks(at)?,
        supervisors: people
            .filter(|p| p.role == Some(Role::Supervisor))
            .map(|p| p.initials)
            .collect(),
    })
}
