//! Upkeep of the ledger: verify, rebuild, backup; and completions.

use super::{Answer, Desk};
use clap::CommandFactory;
use serde_json::json;
use std::path::PathBuf;

/// Check the record and everything that follows from it.
#[derive(Debug, clap::Args)]
pub(super) struct Verify {
    /// A head that was kept elsewhere: on a print-out, in a backup's report.
    #[arg(long)]
    head: Option<String>,
}

/// What an unkeyed chain cannot show, said wherever a verification is printed.
const CANNOT_SHOW: &str = "This shows changes by hand and by disk. It cannot show that somebody rewrote the whole record and computed it anew; only a head kept elsewhere shows that (--head).";

impl Verify {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let report = shop.ledger.verify(self.head.as_deref())?;
        let mut lines = vec![format!(
            "{} actions, {} entries, head {}",
            report.actions, report.entries, report.head
        )];
        if report.differences.is_empty() {
            lines.push("no difference found: the chain holds, and all that was kept equals what was rebuilt".to_owned());
        }
        lines.extend(
            report
                .differences
                .iter()
                .map(|d| format!("DIFFERENCE: {d}")),
        );
        lines.push(CANNOT_SHOW.to_owned());
        let value = json!({
            "actions": report.actions, "entries": report.entries, "head": report.head,
            "differences": report.differences, "cannot_show": CANNOT_SHOW,
        });
        desk.print(&value, &lines)?;
        Ok(u8::from(!report.differences.is_empty()))
    }
}

/// Build everything that follows from the record anew.
pub(super) fn rebuild(desk: &mut Desk<'_>) -> Answer {
    let mut shop = desk.shop()?;
    let actions = shop.ledger.rebuild()?;
    desk.print(
        &json!({"actions": actions}),
        &[format!("rebuilt from {actions} actions")],
    )?;
    Ok(0)
}

/// Write a backup while others work.
#[derive(Debug, clap::Args)]
pub(super) struct Backup {
    /// The file to write; it must not exist.
    file: PathBuf,
}

impl Backup {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let report = shop.ledger.backup(&self.file)?;
        let line = format!(
            "{}: {} actions, checked after writing, head {}",
            report.path.display(),
            report.actions,
            report.head
        );
        desk.print(
            &json!({"file": report.path, "actions": report.actions, "head": report.head}),
            &[line],
        )?;
        Ok(0)
    }
}

/// Shell completions.
#[derive(Debug, clap::Args)]
pub(super) struct Completions {
    /// The shell.
    shell: clap_complete::Shell,
}

impl Completions {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut script = Vec::new();
        clap_complete::generate(
            self.shell,
            &mut super::Cli::command(),
            "hangtime",
            &mut script,
        );
        desk.out.write_all(&script)?;
        Ok(0)
    }
}
