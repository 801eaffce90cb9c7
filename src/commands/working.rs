//! `hangtime working`: the worksheets behind a figure, with the ledger's own inputs.

use super::{Answer, Desk, Trouble};
use crate::reports::workings;
use serde_json::json;

/// The working of a figure that the record keeps; without a figure they are listed.
#[derive(Debug, clap::Args)]
pub(super) struct Working {
    /// The figure, such as film, ready, month, lel or store; without one all are listed.
    figure: Option<String>,
    /// The piece, entry, mix, action, month, booth, room or place that it is of.
    what: Option<String>,
}

impl Working {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let Some(figure) = self.figure else {
            let rows = workings::names();
            let value = rows
                .iter()
                .map(|f| json!({"figure": f.word, "takes": f.takes, "about": f.about}))
                .collect();
            let lines: Vec<String> = rows
                .iter()
                .map(|f| format!("{:<8} {:<7} {}", f.word, f.takes, f.about))
                .collect();
            desk.print(&value, &lines)?;
            return Ok(0);
        };
        let takes = workings::takes(&figure)?;
        let what = self
            .what
            .ok_or_else(|| Trouble::Input(format!("write: hangtime working {figure} {takes}")))?;
        let shop = desk.shop()?;
        let system = desk.system();
        let working = workings::show(&shop.ledger, &figure, &what, shop.now)?;
        let value = working.json(shop.now, &shop.calendar, system);
        desk.print(&value, &working.lines(system))?;
        Ok(u8::from(working.calls_for_attention()))
    }
}
