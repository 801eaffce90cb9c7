//! A page of the screens as a picture.

use super::{Answer, Desk, Trouble, write_new};
use crate::screens::picture::{Wanted, picture};
use crate::screens::theme::Form;
use serde_json::json;
use std::path::PathBuf;

/// Draw a page of the screens into an SVG file; nothing is saved by it.
#[derive(Debug, clap::Args)]
pub(super) struct Picture {
    /// The file to write; it ends in .svg.
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Keys by name, such as F2, Enter, Down or c; a longer word that is no key is a scan.
    #[arg(value_name = "KEY or SCAN")]
    presses: Vec<String>,
    /// Columns and rows of the terminal, 40x8 to 400x200.
    #[arg(long, value_name = "COLSxROWS", default_value = "80x24")]
    size: String,
    /// Form of the theme: dark, light, contrast or plain.
    #[arg(long, value_name = "FORM", default_value = "dark")]
    form: String,
}

impl Picture {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let size = self
            .size
            .split_once('x')
            .and_then(|(c, r)| Some((c.parse().ok()?, r.parse().ok()?)))
            .filter(|(c, r)| (40..=400).contains(c) && (8..=200).contains(r))
            .ok_or_else(|| {
                Trouble::Input(format!(
                    "size \"{}\" is outside 40x8 to 400x200; write columns and rows such as 80x24",
                    self.size
                ))
            })?;
        let form = Form::from_word(&self.form).ok_or_else(|| {
            Trouble::Input(format!(
                "form \"{}\" is not known; write dark, light, contrast or plain",
                self.form
            ))
        })?;
        let shop = desk.shop()?;
        let wanted = Wanted {
            size,
            form,
            station: desk.options.station.clone(),
            person: desk.options.initials.clone(),
            system: desk.options.units.system(),
            presses: self.presses,
        };
        let text = picture(shop.ledger, shop.clock, &wanted);
        write_new(&self.file, &text)?;
        let line = format!("{} drawn", self.file.display());
        desk.print(&json!({"file": self.file.display().to_string()}), &[line])?;
        Ok(0)
    }
}
