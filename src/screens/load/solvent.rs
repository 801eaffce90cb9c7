//! What the place asks of the ledger: see [`solvent`](crate::screens::places::solvent).

use crate::ledger::{Ledger, LedgerError, Months};
use crate::reports::book::Book;
use crate::reports::duties::calls_for_attention;
use crate::reports::{book, cautions, counting, stock};
use crate::screens::places::solvent::{Ask, Beside, Data, Shown};
use crate::units::Moment;

/// What it shows as of a moment.
pub(super) fn data(ledger: &Ledger, at: Moment, ask: Ask) -> Result<Data, LedgerError> {
    let present = || ledger.calendar().day(at).month();
    let shown = match &ask.way {
        None => {
            let month = ask.month.clone().unwrap_or_else(present);
            let book = book::book(ledger, &month, at)?;
            let beside = beside(ledger, &book, &month, at)?;
            Shown::Book(Box::new(book), Box::new(beside))
        }
        Some(way) => {
            let level = book::open(ledger, way, ask.system)?;
            let working = level.working.as_ref();
            let lines = working.map_or_else(Vec::new, |w| w.lines(ask.system));
            Shown::Level(Box::new(level), lines)
        }
    };
    Ok(Data { at, ask, shown })
}

fn beside(ledger: &Ledger, book: &Book, month: &str, at: Moment) -> Result<Beside, LedgerError> {
    let twelve = Months::twelve(month)?;
    let rules = counting::chosen(ledger, &twelve, None)?;
    let mut months = Vec::new();
    let mut materials = Vec::new();
    for m in twelve.list() {
        let sums = counting::sums(ledger, &Months::one(m)?, rules.as_ref())?;
        let known = !book.before.contains(m);
        months.push((m.clone(), known.then_some(sums.totals.voc)));
        if m == month {
            materials = sums
                .materials
                .into_iter()
                .map(|(m, _, totals)| (m, Some(totals.voc)))
                .collect();
        }
    }
    materials.sort_by_key(|(_, voc)| std::cmp::Reverse(*voc));
    let calendar = ledger.calendar();
    let limits = ledger.ceilings()?;
    let mut duties = ledger.duties(at)?;
    duties.sort_by_key(|d| !calls_for_attention(d));
    let here = ledger
        .drums(at)?
        .into_iter()
        .filter(|d| d.shipped.is_none());
    let mut incidents = ledger.incidents(at)?;
    incidents.retain(|i| !i.closed);
    Ok(Beside {
        duties,
        drums: here
            .map(|d| {
                let clock = stock::clock(&d, &limits, &calendar, at);
                (d, clock)
            })
            .collect(),
        incidents,
        waiting: cautions::tally(&ledger.cautions_waiting(at)?),
        months,
        materials,
    })
}
