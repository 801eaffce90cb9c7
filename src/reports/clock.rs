//! What is said of a clock that nobody confirmed, and what it does to a judgement.

use crate::ledger::{ClockDoubt, Seen};
use crate::shop::calendar::Calendar;
use crate::shop::rules::Objection;
use crate::shop::words::{Outlook, Rule};
use std::sync::Arc;

/// The words for a clock that is not believed.
pub const NOT_CONFIRMED: &str = "clock not confirmed";

/// `confirmed` or `not confirmed`.
pub const fn state(doubts: &[ClockDoubt]) -> &'static str {
    if doubts.is_empty() {
        "confirmed"
    } else {
        "not confirmed"
    }
}

/// The line at the top of what is shown by such a clock; `None` when it is confirmed.
pub fn line(doubts: &[ClockDoubt], calendar: &Calendar) -> Option<String> {
    (!doubts.is_empty()).then(|| {
        let words: Vec<String> = doubts.iter().map(|d| d.words(calendar)).collect();
        format!("CLOCK NOT CONFIRMED: {} (hangtime clock)", words.join("; "))
    })
}

/// Takes back every *ready*: by a clock that nobody confirmed no time is reached.
pub fn hold_back<'a>(seen: impl IntoIterator<Item = &'a mut Seen>, doubts: &[ClockDoubt]) {
    if doubts.is_empty() {
        return;
    }
    for seen in seen {
        let view = Arc::make_mut(&mut seen.view);
        if view.outlook != Outlook::Ready {
            // A wait rests on the same clock: it may be longer than it looks.
            view.provisional = true;
            continue;
        }
        view.outlook = Outlook::Unknown;
        view.ready_at = None;
        view.reasons.insert(
            0,
            Objection {
                rule: Rule::Clock,
                until: None,
                provisional: true,
                undoes: false,
                far: false,
                before: NOT_CONFIRMED.to_owned(),
                after: NOT_CONFIRMED.to_owned(),
            },
        );
    }
}

/// Whether a piece would be ready by a clock that nobody confirmed.
pub fn held_back(seen: &Seen) -> bool {
    seen.view
        .reasons
        .first()
        .is_some_and(|o| o.rule == Rule::Clock)
}
