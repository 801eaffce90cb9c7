//! Blank forms to print before the power is out.

use super::{Answer, Desk, Trouble, write_new};
use crate::ledger::Seen;
use crate::reports::forms::{Forms, count, number, page};
use crate::shop::text::like;
use serde_json::json;
use std::collections::BTreeSet;
use std::path::PathBuf;

/// Print blank forms for a power cut.
#[derive(Debug, clap::Args)]
pub(super) struct BlankForms {
    /// The page to write; its name ends in .html.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// A sheet for a rack too: what was next on each hook as of the print.
    #[arg(long = "rack", value_name = "RACK")]
    racks: Vec<String>,
    /// A sheet for every rack on which a piece in process hangs.
    #[arg(long, conflicts_with = "racks")]
    floor: bool,
}

impl BlankForms {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        if self.file.extension().and_then(|e| e.to_str()) != Some("html") {
            return Err(Trouble::Input(format!(
                "file {} does not end in .html; write a name that does",
                self.file.display()
            )));
        }
        let shop = desk.shop()?;
        let mut floor = if self.floor || !self.racks.is_empty() {
            shop.ledger.floor(shop.now, None)?
        } else {
            Vec::new()
        };
        desk.hold_back(&mut floor);
        let known = || floor.iter().filter_map(Seen::rack);
        let meant = |typed: &String| like(known(), typed).unwrap_or(typed).to_owned();
        let typed: Vec<String> = self.racks.iter().map(meant).collect();
        let mut racks: BTreeSet<&str> = typed.iter().map(String::as_str).collect();
        if self.floor {
            racks.extend(known());
        }
        let mut sheets = Vec::new();
        for rack in racks {
            let on: Vec<&Seen> = floor.iter().filter(|s| s.rack() == Some(rack)).collect();
            if on.is_empty() {
                return Err(Trouble::Input(format!(
                    "rack \"{}\" has no pieces; \"hangtime rack list\" lists those that have",
                    crate::shop::text::shown(rack)
                )));
            }
            sheets.push((rack.to_owned(), on));
        }
        let doubted = desk.beside.borrow().doubted.clone();
        let forms = Forms {
            shop: shop.ledger.name(),
            demo: shop.ledger.demo(),
            at: shop.now,
            racks: sheets,
            doubted: doubted.as_deref(),
        };
        let number = number(shop.now, &shop.calendar);
        let (count, last) = count(&forms);
        write_new(&self.file, page(&forms, &shop.calendar))?;
        let value = json!({
            "file": self.file.display().to_string(), "form": number, "sheets": count, "lines": last,
        });
        let line = format!(
            "form {number} in {}: {count} sheets, lines 1 to {last}",
            self.file.display()
        );
        desk.print(&value, &[line])?;
        Ok(0)
    }
}
