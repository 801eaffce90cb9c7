//! Racks: list them, show one, split one, bring two together.

use super::deed::How;
use super::{Answer, Desk, Trouble};
use crate::ledger::{DeedWhat, Target};
use crate::reports::racks;
use crate::shop::text::{clean, like, shown};
use serde_json::Value;

/// List, show, split and merge racks.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Rack {
    /// Every rack with its pieces in process and what comes next.
    List,
    /// One rack hook by hook: what is begun, mixed, held, and what blocks it.
    Show {
        /// The rack.
        rack: String,
    },
    /// Hang some of a rack's pieces on another rack, each on the hook that it has.
    Split(Box<Split>),
    /// Hang all of a rack's pieces on another rack, each on the hook that it has.
    Merge(Box<Merge>),
}

/// Hang some of a rack's pieces on another rack.
#[derive(Debug, clap::Args)]
pub(super) struct Split {
    /// The rack.
    rack: String,
    /// Which of its hooks go, such as 18-24.
    #[arg(long, conflicts_with = "pieces")]
    hooks: Option<String>,
    /// Which of its pieces go; may be given several times.
    #[arg(long, value_name = "PIECE", num_args = 1..)]
    pieces: Vec<String>,
    /// The rack that they go to.
    #[arg(long, value_name = "RACK")]
    to: String,
    #[command(flatten)]
    how: How,
}

/// Hang all of a rack's pieces on another rack.
#[derive(Debug, clap::Args)]
pub(super) struct Merge {
    /// The rack that is emptied.
    rack: String,
    /// The rack that they go to.
    #[arg(long, value_name = "RACK")]
    into: String,
    #[command(flatten)]
    how: How,
}

impl Rack {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self {
            Self::List => list(desk),
            Self::Show { rack } => show(desk, &rack),
            Self::Split(c) => c.run(desk),
            Self::Merge(c) => {
                let target = Target::Rack(c.rack.clone(), None);
                rehang(desk, &c.how, &c.rack, &c.into, target)
            }
        }
    }
}

fn list(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let floor = shop.ledger.floor(shop.now, None)?;
    let all = racks::racks(&floor, shop.now, &shop.calendar);
    let value = all
        .iter()
        .map(|r| r.json(shop.now, &shop.calendar))
        .collect::<Vec<Value>>();
    let mut lines: Vec<String> = all.iter().map(racks::Rack::summary).collect();
    if lines.is_empty() {
        lines.push(
            "no piece in process hangs on a rack; \"hangtime move PIECE --to-rack RACK\" hangs one"
                .to_owned(),
        );
    }
    desk.print(&value.into(), &lines)?;
    Ok(0)
}

fn show(desk: &mut Desk<'_>, rack: &str) -> Answer {
    let shop = desk.shop()?;
    let floor = shop.ledger.floor(shop.now, None)?;
    let all = racks::racks(&floor, shop.now, &shop.calendar);
    let meant = like(all.iter().map(|r| r.name.as_str()), rack);
    let Some(found) = all.iter().find(|r| Some(r.name.as_str()) == meant) else {
        let known: Vec<&str> = all.iter().map(|r| r.name.as_str()).collect();
        return Err(Trouble::Input(format!(
            "rack \"{}\" has no piece in process; write one of {}",
            shown(rack),
            if known.is_empty() {
                "none: no rack has pieces".to_owned()
            } else {
                known.join(", ")
            }
        )));
    };
    desk.print(
        &found.json(shop.now, &shop.calendar),
        &found.lines(shop.now, &shop.calendar, desk.system()),
    )?;
    Ok(0)
}

impl Split {
    fn run(self, desk: &mut Desk<'_>) -> Answer {
        let target = match (&self.hooks, self.pieces.as_slice()) {
            (None, []) => {
                return Err(Trouble::Input(
                    "which of them go? write --hooks 18-24 or --pieces PIECE ..".to_owned(),
                ));
            }
            (Some(hooks), _) => {
                Target::Rack(self.rack.clone(), Some(super::deed::read_hooks(hooks)?))
            }
            (None, pieces) => {
                self.check_members(desk, pieces)?;
                Target::Pieces(pieces.to_vec())
            }
        };
        rehang(desk, &self.how, &self.rack, &self.to, target)
    }

    fn check_members(&self, desk: &Desk<'_>, pieces: &[String]) -> Result<(), Trouble> {
        let shop = desk.shop()?;
        for text in pieces {
            let seen = shop.ledger.piece(text, shop.now)?;
            let rack = seen.now.place().and_then(|p| p.rack.as_deref());
            if rack != Some(self.rack.as_str()) {
                return Err(Trouble::Input(format!(
                    "{} hangs on {}, not on rack {}",
                    seen.now.piece.serial,
                    rack.map_or_else(|| "no rack".to_owned(), |r| format!("rack {r}")),
                    shown(&self.rack)
                )));
            }
        }
        Ok(())
    }
}

fn rehang(desk: &mut Desk<'_>, how: &How, from: &str, to: &str, target: Target) -> Answer {
    let to = clean("rack", to, 30).map_err(Trouble::Input)?;
    if to == from {
        return Err(Trouble::Input(format!(
            "they hang on rack {to} already; name another rack"
        )));
    }
    let shop = desk.shop()?;
    let request = how.request(desk, &shop, target, DeedWhat::Rehang { rack: to })?;
    how.go(desk, shop, &request)
}
