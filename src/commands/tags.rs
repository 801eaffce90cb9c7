//! Printed tags: what hangs on pieces and racks, and what a gloved person scans instead of keys.

use super::{Answer, Desk, Trouble, write_new};
use crate::ledger::Seen;
use crate::reports::tags::{Label, Paper, page, sheet};
use crate::shop::control::Control;
use crate::shop::text::like;
use crate::shop::words::Word;
use clap::ValueEnum;
use serde_json::json;
use std::collections::BTreeSet;
use std::path::PathBuf;

/// Paper of the printer, as it is written.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Sheet {
    A4,
    Letter,
}

impl Sheet {
    /// The paper.
    pub(super) const fn paper(self) -> Paper {
        match self {
            Self::A4 => Paper::A4,
            Self::Letter => Paper::Letter,
        }
    }
}

/// Print tags for pieces, racks and people, and control tags for working with a scanner alone.
#[derive(Debug, clap::Args)]
pub(super) struct Tags {
    /// The file to write: a page that ends in .html, or one sheet that ends in .svg.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Pieces by serial, tag or last four digits.
    #[arg(long = "piece", value_name = "PIECE")]
    pieces: Vec<String>,
    /// Racks, each with the pieces on it.
    #[arg(long = "rack", value_name = "RACK")]
    racks: Vec<String>,
    /// Every rack and piece in process.
    #[arg(long, conflicts_with_all = ["pieces", "racks"])]
    floor: bool,
    /// The control tags: save, undo, coat, sanded, minutes ago, reasons, defects.
    #[arg(long)]
    controls: bool,
    /// A tag for each person in the people list.
    #[arg(long)]
    people: bool,
    /// Mixes by number.
    #[arg(long = "mix", value_name = "MIX")]
    mixes: Vec<u32>,
    /// Paper of the printer.
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    paper: Sheet,
}

impl Tags {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let one_sheet = match self.file.extension().and_then(|e| e.to_str()) {
            Some("html") => false,
            Some("svg") => true,
            _ => {
                return Err(Trouble::Input(format!(
                    "file {} ends in neither .html nor .svg; a page of tags is one of them",
                    self.file.display()
                )));
            }
        };
        let shop = desk.shop()?;
        let mut labels = Vec::new();
        if self.controls {
            labels.extend(Control::all().iter().map(control));
        }
        if self.people {
            let people = shop.ledger.people()?;
            let here = people.into_iter().filter(|p| p.role.is_some());
            labels.extend(here.map(|p| control(&Control::By(p.initials))));
        }
        let mixes = shop.ledger.mixes()?;
        for mix in &self.mixes {
            if !mixes.iter().any(|m| m.mix == *mix) {
                return Err(Trouble::Input(format!(
                    "mix {mix} was not made; \"hangtime mix list\" lists those that were"
                )));
            }
            labels.push(control(&Control::Mix(*mix)));
        }
        let floor = if self.floor || !self.racks.is_empty() {
            shop.ledger.floor(shop.now, None)?
        } else {
            Vec::new()
        };
        let known = || floor.iter().filter_map(Seen::rack);
        let meant = |typed: &String| like(known(), typed).unwrap_or(typed).to_owned();
        let mut racks: BTreeSet<String> = self.racks.iter().map(meant).collect();
        if self.floor {
            racks.extend(known().map(str::to_owned));
        }
        for rack in &racks {
            let on: Vec<&Seen> = floor.iter().filter(|s| s.rack() == Some(rack)).collect();
            if on.is_empty() {
                return Err(Trouble::Input(format!(
                    "rack \"{rack}\" has no pieces; \"hangtime rack list\" lists those that have"
                )));
            }
            let s = if on.len() == 1 { "" } else { "s" };
            labels.push(Label {
                code: rack.clone(),
                head: format!("Rack {rack}"),
                under: format!("{} piece{s}", on.len()),
            });
            labels.extend(on.into_iter().map(piece));
        }
        if self.floor {
            let loose = floor.iter().filter(|s| s.rack().is_none());
            labels.extend(loose.map(piece));
        }
        for text in &self.pieces {
            labels.push(piece(&shop.ledger.piece(text, shop.now)?));
        }
        if labels.is_empty() {
            return Err(Trouble::Input(
                "no tag is asked for; write --piece, --rack, --floor, --controls, --people or --mix"
                    .to_owned(),
            ));
        }
        let paper = self.paper.paper();
        let text = if one_sheet {
            sheet(&labels, paper)
        } else {
            page(&labels, paper, &format!("Tags of {}", shop.ledger.name()))
        }
        .map_err(Trouble::Input)?;
        write_new(&self.file, &text)?;
        let value = json!({
            "file": self.file.display().to_string(),
            "tags": labels.iter().map(|l| json!({"code": l.code, "says": l.head})).collect::<Vec<_>>(),
        });
        let line = format!("{} tags in {}", labels.len(), self.file.display());
        desk.print(&value, &[line])?;
        Ok(0)
    }
}

fn control(control: &Control) -> Label {
    Label {
        code: control.code(),
        head: control.says(),
        under: String::new(),
    }
}

fn piece(seen: &Seen) -> Label {
    let p = &seen.now.piece;
    Label {
        code: p.tag.clone().unwrap_or_else(|| p.serial.clone()),
        head: p.serial.clone(),
        under: format!("{} {}, {}", p.kind.word(), p.model, seen.recipe.label()),
    }
}
