//! A month's solvent: as it follows from the log, signed, reprinted, and its history.

use super::{Answer, Desk, Trouble};
use crate::ledger::{MonthNow, PinDeed, Signature};
use crate::reports::{months, sums};
use crate::shop::text::shown_lines;
use serde_json::Value;
use std::io::Write;

/// A month's solvent from the log; a signed month as it was signed.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(super) struct Month {
    /// The month, as 2026-03.
    #[arg(required = true, value_name = "MONTH")]
    which: Option<String>,
    /// The figures as they follow from the log today, also where the month is signed.
    #[arg(long)]
    from_log: bool,
    #[command(subcommand)]
    deed: Option<Deed>,
}

#[derive(Debug, clap::Subcommand)]
enum Deed {
    /// Sign a month that is over; the page is kept as it is printed.
    Close {
        /// The month, as 2026-03.
        month: String,
    },
    /// Every signature of a month, what each changed, and what is not signed yet.
    History {
        /// The month, as 2026-03.
        month: String,
    },
}

impl Month {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self.deed {
            Some(Deed::Close { month }) => close(desk, &month),
            Some(Deed::History { month }) => history(desk, &month),
            None => show(desk, &self.which.unwrap_or_default(), self.from_log),
        }
    }
}

fn show(desk: &mut Desk<'_>, month: &str, from_log: bool) -> Answer {
    let shop = desk.shop()?;
    let now = shop.ledger.month_now(month)?;
    let Some(newest) = now.newest().filter(|_| !from_log) else {
        desk.print(
            &sums::month(&now.sums),
            &sums::lines(&now.sums, desk.system()),
        )?;
        return Ok(0);
    };
    reprint(desk, newest)?;
    Ok(said_open(desk, &shop, &now))
}

// What was signed is printed as it was printed then; nothing of it is computed again.
fn reprint(desk: &mut Desk<'_>, signature: &Signature) -> Result<(), Trouble> {
    let signed = &signature.signed;
    let value: Value = serde_json::from_str(&signed.json).map_err(|e| {
        Trouble::System(format!(
            "the signed page of {} cannot be read: {e}",
            signed.month
        ))
    })?;
    let lines: Vec<String> = signed.text.lines().map(str::to_owned).collect();
    desk.print(&value, &lines)
}

// That a signed page no longer tells what the log tells is talk beside the page, and an exit code.
fn said_open(desk: &Desk<'_>, shop: &super::Shop, now: &MonthNow) -> u8 {
    let lines = months::open_revision(now, &shop.calendar, desk.system());
    if lines.is_empty() {
        return 0;
    }
    let _ = writeln!(std::io::stderr(), "{}", shown_lines(&lines.join("\n")));
    1
}

fn close(desk: &mut Desk<'_>, month: &str) -> Answer {
    let mut shop = desk.shop()?;
    let who = desk.who(None)?;
    let now = shop.ledger.month_now(month)?;
    let stamp = shop.stamp();
    let (lines, value) = months::page(
        &now,
        &who.person,
        stamp.written,
        &shop.calendar,
        desk.system(),
    );
    // Who may sign is asked here and nowhere else: after the page is made, before anything is written.
    desk.authorise(&mut shop, PinDeed::CloseMonth, &who)?;
    shop.ledger
        .sign_month(&now, lines.join("\n"), value.to_string(), &who, &stamp)?;
    desk.print(&value, &lines)?;
    Ok(0)
}

fn history(desk: &mut Desk<'_>, month: &str) -> Answer {
    let shop = desk.shop()?;
    let now = shop.ledger.month_now(month)?;
    let (lines, value) = months::history(&now, &shop.calendar, desk.system());
    desk.print(&value, &lines)?;
    Ok(0)
}
