//! What is said of the place in which a ledger lies, beside every answer.

use crate::ledger::{Ledger, LedgerError, ReadOnly, Seen};
use crate::shop::calendar::Calendar;
use crate::shop::words::Outlook;
use std::sync::Arc;

/// What is said, each with a name for machines; nothing of a ledger that lies where it should.
pub fn lines(ledger: &Ledger) -> Result<Vec<(&'static str, String)>, LedgerError> {
    let mut lines = Vec::new();
    if let Some(read) = ledger.read_only()? {
        lines.push(("read_only", read_only(&read, &ledger.calendar())));
    }
    lines.extend(ledger.witness_spoilt().map(|text| ("witness_spoilt", text)));
    Ok(lines)
}

/// Takes back every *ready* where not all is in view: what is not seen may be another coat.
pub fn hold_back<'a>(seen: impl IntoIterator<Item = &'a mut Seen>, read: Option<&ReadOnly>) {
    if !read.is_some_and(ReadOnly::partial) {
        return;
    }
    for seen in seen {
        let view = Arc::make_mut(&mut seen.view);
        view.provisional = true;
        if view.outlook == Outlook::Ready {
            view.outlook = Outlook::Unknown;
            view.ready_at = None;
        }
    }
}

fn read_only(read: &ReadOnly, calendar: &Calendar) -> String {
    let mut text = read.newest.map_or_else(
        || "read only: no action is in view".to_owned(),
        |(action, written)| {
            format!(
                "read only: as of the last action {action} of {}{}",
                calendar.full(written),
                if read.unread { " in the main file" } else { "" }
            )
        },
    );
    match read.missing {
        Some(0) => {}
        Some(missing) => text.push_str(&format!(
            "; {missing} {} named by the witness {} not in view",
            if missing == 1 { "action" } else { "actions" },
            if missing == 1 { "is" } else { "are" }
        )),
        None => text.push_str(
            "; the witness cannot be read, so that an end that is not in view would not be noticed",
        ),
    }
    if read.unread {
        text.push_str("; a write-ahead file that lies beside it is not in view");
    }
    text
}
