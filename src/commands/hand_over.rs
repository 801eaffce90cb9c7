//! The change of shifts: the page, giving it, taking it.

use super::{Answer, Desk, Shop, Trouble};
use crate::reports::hand_over::{self as report, Page};
use crate::reports::lookout::Lookout;
use crate::shop::text::shown;
use serde_json::{Value, json};

/// What whoever comes next has to know: wet racks, pots, booths, recurring checks, holds, half-done racks, deviations.
#[derive(Debug, clap::Args)]
pub(super) struct HandOver {
    #[command(subcommand)]
    deed: Option<HandOverDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum HandOverDeed {
    /// Give the page to whoever comes next; it is kept as it is printed, and open until somebody takes it.
    Give,
    /// Take a handover, under your own initials.
    Take {
        /// The entry that gave it; the newest that nobody took, if left out.
        entry: Option<i64>,
    },
    /// The handovers that are open, and the newest of the others.
    List,
    /// A handover as it was given.
    Show {
        /// The entry that gave it; the newest, if left out.
        entry: Option<i64>,
    },
}

impl HandOver {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        match self.deed {
            None => {
                let page = page(desk, &shop)?;
                let lines = page.lines(shop.ledger.name(), &shop.calendar);
                let value = desk.with_clock(page.json(&shop.calendar));
                desk.print(&value, &lines)?;
                Ok(0)
            }
            Some(HandOverDeed::Give) => {
                let who = desk.who(None)?;
                let page = page(desk, &shop)?;
                let lines = page.lines(shop.ledger.name(), &shop.calendar);
                let stamp = shop.stamp();
                let text = lines.join("\n");
                let done = shop
                    .ledger
                    .give_hand_over(text, page.head.clone(), &who, &stamp)?;
                let mut value = page.json(&shop.calendar);
                if let Some(map) = value.as_object_mut() {
                    map.insert("saved".to_owned(), Value::Bool(true));
                    map.insert("action".to_owned(), json!(done.action));
                    map.insert("entry".to_owned(), json!(done.first.0));
                }
                // Above the page: below it nobody sees on a screen whether it was kept.
                let mut said = vec![format!(
                    "saved: given by {}, open until somebody takes entry {} (action {})",
                    who.person, done.first.0, done.action
                )];
                said.extend(lines);
                desk.print(&value, &said)?;
                Ok(0)
            }
            Some(HandOverDeed::Take { entry }) => {
                let who = desk.who(None)?;
                let given = match entry {
                    Some(entry) => entry,
                    None => newest_open(&shop)?,
                };
                let stamp = shop.stamp();
                let done = shop.ledger.take_hand_over(given, &who, &stamp)?;
                // Who takes it sees what was taken.
                let rows = shop.ledger.hand_overs(shop.now)?;
                let page = rows.iter().find(|r| r.entry == given);
                let mut lines = vec![format!(
                    "saved: handover of entry {given} taken by {} (action {})",
                    who.person, done.action
                )];
                lines.extend(page.into_iter().flat_map(|r| r.text.lines().map(shown)));
                let value = json!({
                    "saved": true, "action": done.action, "entry": done.first.0, "given": given,
                });
                desk.print(&value, &lines)?;
                Ok(0)
            }
            Some(HandOverDeed::List) => {
                let rows = shop.ledger.hand_overs(shop.now)?;
                let mut lines: Vec<String> = rows
                    .iter()
                    .map(|r| report::row_of(r, &shop.calendar, shop.now))
                    .collect();
                if lines.is_empty() {
                    lines.push("no handover was given".to_owned());
                }
                let values: Vec<_> = rows
                    .iter()
                    .map(|r| report::row_json(r, &shop.calendar))
                    .collect();
                desk.print(&values.into(), &lines)?;
                Ok(0)
            }
            Some(HandOverDeed::Show { entry }) => {
                let rows = shop.ledger.hand_overs(shop.now)?;
                let row = match entry {
                    Some(entry) => rows.iter().find(|r| r.entry == entry),
                    None => rows.last(),
                };
                let row = row.ok_or_else(|| {
                    Trouble::Input(
                        "no such handover; \"hangtime handover list\" names them".to_owned(),
                    )
                })?;
                let mut lines: Vec<String> = row.text.lines().map(shown).collect();
                lines.push(report::row_of(row, &shop.calendar, shop.now));
                let value = report::row_json(row, &shop.calendar);
                desk.print(&value, &lines)?;
                Ok(0)
            }
        }
    }
}

fn page(desk: &Desk<'_>, shop: &Shop) -> Result<Page, Trouble> {
    let mut floor = shop.ledger.floor(shop.now, None)?;
    desk.hold_back(&mut floor);
    let events = Lookout::default().events(&shop.ledger, &floor, shop.now)?;
    let system = desk.system();
    Ok(report::page(
        &shop.ledger,
        &floor,
        &events,
        shop.now,
        system,
    )?)
}

fn newest_open(shop: &Shop) -> Result<i64, Trouble> {
    let rows = shop.ledger.hand_overs(shop.present())?;
    let open = rows.iter().rfind(|r| r.taken.is_none());
    open.map(|r| r.entry).ok_or_else(|| {
        Trouble::Input(
            "no handover is open; \"hangtime handover give\" gives the page to whoever comes next"
                .to_owned(),
        )
    })
}
