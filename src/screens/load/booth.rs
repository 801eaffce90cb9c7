//! What the place asks of the ledger: see [`booth`](crate::screens::places::booth).

use crate::ledger::{AtUse, Cup, Ledger, LedgerError};
use crate::reports::booth::{CheckNow, air_now};
use crate::screens::places::booth::{BoothNow, Data};
use crate::shop::cautions::When;
use crate::units::{Moment, Span};
use std::collections::BTreeMap;

/// How far back a touch-up may lie that still holds a piece back from its next coat.
const TOUCHED: Span = Span::hours(72);

/// What it shows as of a moment.
pub(super) fn data(ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    let booths = booths(ledger, at)?;
    let cup = ledger.newest_mix()?.map_or(Cup::Unknown, Cup::Mix);
    let mut due = BTreeMap::new();
    for booth in &booths {
        let mut list = Vec::new();
        for when in [When::Spraying, When::Mixing] {
            list.extend(ledger.cautions_due(&AtUse {
                when,
                cup,
                booth: Some(&booth.name),
                at,
            })?);
        }
        due.insert(booth.name.clone(), list);
    }
    Ok(Data {
        at,
        booths,
        due,
        contacts: ledger.contacts(at)?,
        touched: ledger
            .touch_ups(at.minus(TOUCHED), at)?
            .into_iter()
            .collect(),
    })
}

/// The booths that a survey, a limit, a check or a stop names, with their air and their checks.
pub(super) fn booths(ledger: &Ledger, at: Moment) -> Result<Vec<BoothNow>, LedgerError> {
    let checks = ledger.last_checks(at)?;
    let stops = ledger.exhaust_unknown(at)?;
    let climate = ledger.climate(at, at)?;
    Ok(ledger
        .booths(at)?
        .into_iter()
        .map(|name| {
            let stop = stops.iter().find(|s| s.booth == name);
            let check = checks.iter().find(|c| c.booth == name);
            BoothNow {
                remark: check.and_then(|c| c.note.clone()),
                air: air_now(climate.rooms.get(&name), at),
                check: match (stop, check) {
                    (Some(stop), _) => CheckNow::Due(stop.from),
                    (None, Some(check)) => CheckNow::Done(check.at),
                    (None, None) => CheckNow::Unknown,
                },
                name,
            }
        })
        .collect())
}
