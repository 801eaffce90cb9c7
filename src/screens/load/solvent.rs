//! What the place asks of the ledger: see [`solvent`](crate::screens::places::solvent).

use crate::ledger::{Ledger, LedgerError};
use crate::reports::{book, cautions};
use crate::screens::places::solvent::{Ask, Data, Shown};
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(ledger: &Ledger, at: Moment, ask: Ask) -> Result<Data, LedgerError> {
    let present = || ledger.calendar().day(at).month();
    let shown = match &ask.way {
        None => {
            let month = ask.month.clone().unwrap_or_else(present);
            Shown::Book(Box::new(book::book(ledger, &month, at)?))
        }
        Some(way) => {
            let level = book::open(ledger, way, ask.system)?;
            let working = level.working.as_ref();
            let lines = working.map_or_else(Vec::new, |w| w.lines(ask.system));
            Shown::Level(Box::new(level), lines)
        }
    };
    let waiting = match &shown {
        Shown::Book(_) => cautions::tally(&ledger.cautions_waiting(at)?),
        Shown::Level(..) => None,
    };
    Ok(Data {
        at,
        ask,
        shown,
        waiting,
    })
}
