//! The solvent vapour of booths and rooms.

use super::{Answer, Desk};
use crate::reports::vapours;

/// The solvent vapour of the booths' exhaust and of the rooms with fresh work.
#[derive(Debug, clap::Args)]
pub(super) struct Air {
    /// One booth or room; all of them, if left out.
    place: Option<String>,
}

impl Air {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let system = desk.system();
        let places = vapours::places(&shop.ledger, self.place.as_deref(), shop.now)?;
        let mut lines: Vec<String> = places.iter().flat_map(|p| p.lines(system)).collect();
        if lines.is_empty() {
            lines.push("no room is declared; \"hangtime room declare\" does it".to_owned());
        }
        let values = places
            .iter()
            .map(|p| p.json(shop.now, &shop.calendar, system))
            .collect();
        desk.print(&values, &lines)?;
        Ok(u8::from(
            places.iter().any(vapours::PlaceVapour::calls_for_attention),
        ))
    }
}
