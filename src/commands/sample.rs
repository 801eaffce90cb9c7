//! The sample shop, loaded through the same commands that a shop uses; and the dashboard's start.

use super::{Answer, Desk};

/// Load the sample shop into a demo ledger.
#[derive(Debug, clap::Args)]
pub(super) struct Sample {}

impl Sample {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let _ = desk;
        Ok(0)
    }
}

/// Opens the dashboard.
pub(super) fn dashboard(desk: &mut Desk<'_>) -> Answer {
    let _ = desk;
    Ok(0)
}
