//! The people list, roles and PINs.

use super::{Answer, Desk, Trouble};
use crate::ledger::PinDeed;
use crate::shop::words::{Role, Word};
use serde_json::json;

/// Who is in the shop, in which role, and with which PIN.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Person {
    /// Add somebody.
    Add {
        /// Initials.
        #[arg(value_name = "INITIALS")]
        person: String,
        /// finisher, supervisor or "safety lead".
        role: String,
    },
    /// List people.
    List,
    /// Give somebody another role.
    Role {
        /// Initials.
        #[arg(value_name = "INITIALS")]
        person: String,
        /// finisher, supervisor or "safety lead".
        role: String,
    },
    /// Say that somebody left.
    Leave {
        /// Initials.
        #[arg(value_name = "INITIALS")]
        person: String,
    },
    /// Choose somebody's PIN, or reset it. A PIN says who did it on a floor where people trust each other; it keeps
    /// nobody out who can write the file.
    Pin {
        /// Initials.
        #[arg(value_name = "INITIALS")]
        person: String,
        /// Let the program draw a PIN and print it, once.
        #[arg(long, conflicts_with_all = ["to", "reset"])]
        new: bool,
        /// The PIN to be: six digits. Asked for on the terminal, if left out.
        #[arg(long, value_name = "PIN", conflicts_with = "reset")]
        to: Option<String>,
        /// Take the PIN away without asking for one: only for the owner of the ledger's file, and written into the
        /// record.
        #[arg(long)]
        reset: bool,
    },
    /// The newest tries of PINs.
    Tries,
}

fn read_role(text: &str) -> Result<Role, Trouble> {
    Role::typed(text).ok_or_else(|| {
        Trouble::Input(format!(
            "role \"{text}\" is not known; write one of {}",
            Role::choices()
        ))
    })
}

impl Person {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self {
            Self::Add { person, role } => employ(desk, &person, Some(read_role(&role)?), true),
            Self::Role { person, role } => employ(desk, &person, Some(read_role(&role)?), false),
            Self::Leave { person } => employ(desk, &person, None, false),
            Self::List => list(desk),
            Self::Pin {
                person,
                new,
                to,
                reset,
            } => pin(desk, &person, new, to, reset),
            Self::Tries => tries(desk),
        }
    }
}

fn employ(desk: &mut Desk<'_>, initials: &str, role: Option<Role>, new: bool) -> Answer {
    let mut shop = desk.shop()?;
    let who = desk.who(None)?;
    desk.authorise(&mut shop, PinDeed::People, &who)?;
    let saved = shop
        .ledger
        .employ(initials, role, new, &who, &shop.stamp())?;
    let line = role.map_or_else(
        || format!("{initials} left (action {})", saved.action),
        |r| format!("{initials} is now a {} (action {})", r.word(), saved.action),
    );
    desk.print(
        &json!({"saved": true, "action": saved.action, "initials": initials, "role": role.map(Word::word)}),
        &[line],
    )?;
    Ok(0)
}

/// What is said of somebody whose PIN a recovery or an import left behind.
pub(super) fn lost_pin(initials: &str) -> String {
    format!(
        "{initials} had a PIN, which no backup and no export carries; choose a new one with \"hangtime person pin {initials} --new\""
    )
}

fn list(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let people = shop.ledger.people()?;
    let mut lines: Vec<String> = people
        .iter()
        .map(|p| {
            format!(
                "{:<8} {:<12} {} {}",
                p.initials,
                p.role.map_or("left", Word::word),
                shop.calendar.stamp(p.since),
                if p.pin { "PIN set" } else { "no PIN" }
            )
        })
        .collect();
    if !people.iter().any(|p| p.pin) {
        lines.push(
            "no PIN is set: lifting a hold, answering a deviation, limits and people ask for none"
                .to_owned(),
        );
    }
    let lost = shop.ledger.lost_pins()?;
    lines.extend(lost.iter().map(|(initials, _)| lost_pin(initials)));
    desk.print(
        &people
            .iter()
            .map(|p| {
                json!({
                    "initials": p.initials, "role": p.role.map(Word::word), "left": p.role.is_none(),
                    "since": shop.calendar.rfc3339(p.since), "pin_set": p.pin,
                    "pin_lost": lost.iter().any(|(initials, _)| *initials == p.initials),
                })
            })
            .collect(),
        &lines,
    )?;
    Ok(0)
}

fn pin(desk: &mut Desk<'_>, initials: &str, new: bool, to: Option<String>, reset: bool) -> Answer {
    let mut shop = desk.shop()?;
    let who = desk.who(None)?;
    if reset {
        let saved = shop.ledger.reset_pin(initials, &who, &shop.stamp())?;
        desk.print(
            &json!({"saved": true, "action": saved.action, "initials": initials, "reset": true}),
            &[format!(
                "PIN of {initials} taken away (action {}); choose a new one with \"hangtime person pin {initials} --new\"",
                saved.action
            )],
        )?;
        return Ok(0);
    }
    let people = shop.ledger.people()?;
    let own = people
        .iter()
        .any(|p| p.initials == initials && p.pin && who.person == initials);
    let given = if own || shop.ledger.asks_pin(PinDeed::People, &who.person)? {
        desk.pin(&who)?
    } else {
        None
    };
    let chosen = match (new, to) {
        (true, _) => None,
        (false, Some(to)) => Some(to),
        (false, None) => Some(
            crate::screens::ask_hidden(&format!("new PIN of {initials}:"))?.ok_or_else(|| {
                Trouble::Input("which PIN? write --new, or --to with six digits".to_owned())
            })?,
        ),
    };
    let pin = shop.ledger.choose_pin(
        initials,
        chosen.as_deref(),
        &who,
        given.as_deref(),
        &shop.stamp(),
    )?;
    let (value, line) = if new {
        (
            json!({"saved": true, "initials": initials, "new_pin": pin}),
            format!("PIN of {initials}: {pin}. It is shown this once; nobody can read it back"),
        )
    } else {
        (
            json!({"saved": true, "initials": initials}),
            format!("PIN of {initials} chosen"),
        )
    };
    desk.print(&value, &[line])?;
    Ok(0)
}

fn tries(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let list = shop.ledger.pin_tries(50)?;
    let mut lines: Vec<String> = list
        .iter()
        .map(|t| {
            format!(
                "{}  {:<8} at {:<10} {:<9} {}",
                shop.calendar.full(t.at),
                t.initials,
                t.station,
                t.outcome,
                t.deed
            )
        })
        .collect();
    if lines.is_empty() {
        lines.push("no PIN was tried yet".to_owned());
    }
    desk.print(
        &list
            .iter()
            .map(|t| {
                json!({
                    "at": shop.calendar.rfc3339(t.at), "initials": t.initials, "station": t.station,
                    "outcome": t.outcome, "deed": t.deed,
                })
            })
            .collect(),
        &lines,
    )?;
    Ok(0)
}
