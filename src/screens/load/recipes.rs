//! What the place asks of the ledger: see [`recipes`](crate::screens::places::recipes).

use crate::ledger::{Ledger, LedgerError, LotRow};
use crate::reports::{material, recipe};
use crate::screens::places::recipes::{Data, Entry, Kind, Lot};
use crate::shop::words::Word;
use crate::units::{Moment, System};

/// What it shows as of a moment.
pub(super) fn data(ledger: &Ledger, at: Moment, system: System) -> Result<Data, LedgerError> {
    let mut entries = Vec::new();
    for row in ledger.recipes()? {
        let found = ledger.recipe(&row.code, row.revision.parse().unwrap_or(0))?;
        entries.push(Entry {
            kind: Kind::Recipe,
            lines: recipe::lines(&found, &row.text, system),
            code: row.code,
            revision: row.revision,
            name: found.name.clone(),
            drying: found.finish.word().to_owned(),
            dated: None,
            hazards: Vec::new(),
            lots: Vec::new(),
        });
    }
    let lots = ledger.lots()?;
    let today = ledger.calendar().local(at).date_naive();
    for row in ledger.materials()? {
        let found = ledger.material(&row.code, &row.revision)?;
        let own: Vec<LotRow> = lots
            .iter()
            .filter(|l| l.material == row.code && l.sheet == row.revision)
            .cloned()
            .collect();
        entries.push(Entry {
            kind: Kind::Material,
            lines: material::lines(&found, &row.text, &own, today, system),
            code: row.code,
            revision: row.revision,
            name: found.name.clone(),
            drying: found.drying.word().to_owned(),
            dated: Some(found.sheet_date.to_string()),
            hazards: found.hazards.clone(),
            lots: own
                .iter()
                .map(|l| Lot {
                    lot: l.lot.clone(),
                    expiry: material::expiry(l, today),
                    in_use: material::in_use(l),
                })
                .collect(),
        });
    }
    // The ledger lists from the oldest to the newest: the newest is what somebody looks for.
    entries.reverse();
    entries.sort_by(|a, b| (a.kind, &a.code).cmp(&(b.kind, &b.code)));
    Ok(Data { at, entries })
}
