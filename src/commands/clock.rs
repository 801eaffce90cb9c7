//! The clock: what is doubted, who confirms it, and which stretch was wrong.

use super::shop::read_span;
use super::{Answer, Desk, Trouble};
use crate::reports::{clock, entries};
use crate::units::Span;
use serde_json::json;

/// Both clocks and what is doubted; confirm it, or correct a wrong stretch.
#[derive(Debug, clap::Args)]
pub(super) struct Clock {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Say that you looked and the clock is right.
    Confirm,
    /// Say that it was wrong while some actions were written; their deeds get the right times, and both stay readable.
    Correct {
        /// Number of the first action.
        #[arg(long, value_name = "ACTION")]
        from: i64,
        /// Number of the last action.
        #[arg(long, value_name = "ACTION")]
        to: i64,
        /// What must be added to its times: 3h for a clock that was slow, -3h for one that was fast.
        #[arg(long, value_name = "SPAN", allow_hyphen_values = true)]
        by: String,
        /// An entry that took its time elsewhere and keeps it.
        #[arg(long, value_name = "ENTRY")]
        keep: Vec<i64>,
        /// Why.
        #[arg(long)]
        why: String,
    },
}

impl Clock {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self.what {
            None => show(desk),
            Some(What::Confirm) => confirm(desk),
            Some(What::Correct {
                from,
                to,
                by,
                keep,
                why,
            }) => correct(desk, from, to, &by, &keep, &why),
        }
    }
}

fn show(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let (now, boot_ms) = (shop.present(), shop.clock.boot_ms());
    let facts = shop.ledger.clock_facts(now, boot_ms)?;
    let full = |m| shop.calendar.full(m);
    let mut lines = vec![format!("the clock says {}", full(now))];
    lines.push(boot_ms.map_or_else(
        || "the machine does not tell how long it has been on".to_owned(),
        |ms| format!("the machine has been on for {}", Span(ms).words()),
    ));
    if let Some((action, written)) = facts.newest {
        lines.push(format!(
            "newest entry: action {action}, written {}",
            full(written)
        ));
    }
    if let Some(reading) = facts.reading {
        lines.push(format!("newest reading: {}", full(reading)));
    }
    if let Some(reckoned) = facts.reckoned() {
        lines.push(format!(
            "by the newest entry and the machine's time since then it is {}",
            full(reckoned)
        ));
    }
    if facts.doubts.is_empty() {
        lines.push("confirmed: nothing is doubted".to_owned());
    } else {
        lines.push(
            "not confirmed; hold it against another clock, then write \"hangtime clock confirm --as INITIALS\""
                .to_owned(),
        );
    }
    let value = json!({
        "now": shop.calendar.rfc3339(now),
        "machine_on_ms": boot_ms,
        "newest_action": facts.newest.map(|(a, _)| a),
        "newest_written": facts.newest.map(|(_, w)| shop.calendar.rfc3339(w)),
        "newest_reading": facts.reading.map(|r| shop.calendar.rfc3339(r)),
        "reckoned": facts.reckoned().map(|r| shop.calendar.rfc3339(r)),
        "clock": clock::state(&facts.doubts),
    });
    desk.print(&value, &lines)?;
    Ok(u8::from(!facts.doubts.is_empty()))
}

fn confirm(desk: &mut Desk<'_>) -> Answer {
    let mut shop = desk.shop()?;
    let who = desk.who(None)?;
    let stamp = shop.stamp();
    let saved = shop.ledger.confirm_clock(&who, &stamp)?;
    desk.no_doubt();
    desk.print(
        &json!({"saved": true, "action": saved.action, "clock": "confirmed"}),
        &[format!(
            "clock confirmed by {}: {} (action {})",
            who.person,
            shop.calendar.full(stamp.written),
            saved.action
        )],
    )?;
    Ok(0)
}

fn correct(desk: &mut Desk<'_>, from: i64, to: i64, by: &str, keep: &[i64], why: &str) -> Answer {
    let (slow, text) = match by.trim().strip_prefix('-') {
        Some(rest) => (false, rest),
        None => (true, by.trim().trim_start_matches('+')),
    };
    let span = read_span(text)?;
    let by = if slow { span } else { Span(-span.0) };
    let mut shop = desk.shop()?;
    let who = desk.who(None)?;
    let done = shop
        .ledger
        .correct_clock(from, to, by, keep, why, &who, &shop.stamp())
        .map_err(Trouble::from)?;
    let mut lines = vec![format!(
        "saved: clock of actions {from} to {to} corrected by {}, {} entries got other times (action {})",
        entries::signed(by),
        done.moved.len(),
        done.saved.action
    )];
    if !done.marked.is_empty() {
        lines.push(format!(
            "  only marked, with their times as they were written: {}",
            done.marked
                .iter()
                .map(|e| format!("entry {}", e.seq.0))
                .collect::<Vec<_>>()
                .join(", ")
        ));
    }
    desk.print(
        &json!({
            "saved": true, "action": done.saved.action, "by_ms": by.0,
            "moved": done.moved.iter().map(|e| e.seq.0).collect::<Vec<_>>(),
            "marked": done.marked.iter().map(|e| e.seq.0).collect::<Vec<_>>(),
        }),
        &lines,
    )?;
    Ok(0)
}
