//! Upkeep of the ledger: verify, rebuild, backup, recovery, export, import; and completions.

use super::{Answer, Desk, Trouble, talk};
use crate::ledger::{BackupPlan, BackupReport, Ledger, Manifest, Rotated};
use crate::shop::text::shown;
use crate::units::Moment;
use clap::CommandFactory;
use serde_json::{Value, json};
use std::io::Write;
use std::path::PathBuf;

/// Check the record and everything that follows from it.
#[derive(Debug, clap::Args)]
pub(super) struct Verify {
    /// A head that was kept elsewhere, on a print-out or in a backup's report: NUMBER:HASH, or the hash alone.
    #[arg(long, value_name = "HEAD")]
    head: Option<String>,
    /// Check a backup instead of the ledger; it is only read.
    #[arg(long, value_name = "FILE", conflicts_with = "head")]
    backup: Option<PathBuf>,
}

/// What an unkeyed chain cannot show, said wherever a verification is printed.
const CANNOT_SHOW: &str = "This shows changes by hand and by disk, and an end that the witness beside the ledger saw and that is gone. It cannot show that somebody rewrote the whole record and computed its chain again, or cut its end off together with the witness: the chain has no key, so whoever can write the file can do both. Only a head that is kept elsewhere shows that.";

impl Verify {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        if let Some(file) = &self.backup {
            let report = Ledger::check_backup(file)?;
            let line = format!(
                "{}: {} actions, the chain holds, head {}",
                file.display(),
                report.actions,
                report.head
            );
            desk.print(&backup_json(&report), &[line, CANNOT_SHOW.to_owned()])?;
            return Ok(0);
        }
        // What is left is looked at even where its witness says that something is missing.
        let shop = desk.shop_unheld()?;
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
        lines.push(format!(
            "Keep this head away from the machine, and later ask: hangtime verify --head {}:{}",
            report.actions, report.head
        ));
        let value = json!({
            "actions": report.actions, "entries": report.entries, "head": report.head,
            "differences": report.differences, "cannot_show": CANNOT_SHOW,
        });
        desk.print(&value, &lines)?;
        Ok(u8::from(!report.differences.is_empty()))
    }
}

/// What the witness outside the database saw last, and whether the record holds against it.
#[derive(Debug, clap::Args)]
pub(super) struct Witness {
    /// Go on without what was lost; it is written into the record.
    #[arg(long, requires = "why")]
    go_on: bool,
    /// Start a new witness in the place of one that cannot be read; it is written into the record.
    #[arg(long, requires = "why", conflicts_with = "go_on")]
    renew: bool,
    /// Why.
    #[arg(long)]
    why: Option<String>,
}

impl Witness {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop_unheld()?;
        if let (true, Some(why)) = (self.renew, &self.why) {
            let saved = shop
                .ledger
                .renew_witness(why, &desk.who(None)?, &shop.stamp())?;
            desk.renewed();
            desk.print(
                &json!({"saved": true, "action": saved.action}),
                &[format!(
                    "the witness is renewed and saw action {}; the spoilt one lies beside it",
                    saved.action
                )],
            )?;
            return Ok(0);
        }
        if self.why.is_some() && !self.go_on {
            return Err(Trouble::Input(
                "--why is the reason for --go-on or --renew; write one of them".to_owned(),
            ));
        }
        if let (true, Some(why)) = (self.go_on, &self.why) {
            let saved = shop.ledger.go_on(why, &desk.who(None)?, &shop.stamp())?;
            desk.print(
                &json!({"saved": true, "action": saved.action}),
                &[format!(
                    "the record goes on with action {}; what was lost stays named in it",
                    saved.action
                )],
            )?;
            return Ok(0);
        }
        let report = shop.ledger.witness()?;
        let seen = report.seen.as_ref().map_or_else(
            || {
                report.spoilt.clone().unwrap_or_else(|| {
                    "there is no witness yet; the next save writes one".to_owned()
                })
            },
            |(action, hash)| format!("the witness saw action {action}, {hash}"),
        );
        let mut lines = vec![format!("newest action {}", report.newest), seen];
        if report.spoilt.is_none() {
            lines.push(
                report
                    .lost
                    .clone()
                    .unwrap_or_else(|| "the record holds against it".to_owned()),
            );
        }
        let value = json!({
            "newest": report.newest,
            "seen": report.seen.as_ref().map(|(action, hash)| json!({"action": action, "hash": hash})),
            "lost": report.lost,
            "spoilt": report.spoilt.is_some(),
        });
        desk.print(&value, &lines)?;
        Ok(u8::from(report.lost.is_some() || report.spoilt.is_some()))
    }
}

/// Build everything that follows from the record again.
pub(super) fn rebuild(desk: &mut Desk<'_>) -> Answer {
    let mut shop = desk.shop()?;
    let actions = shop.ledger.rebuild()?;
    desk.print(
        &json!({"actions": actions}),
        &[format!("rebuilt from {actions} actions")],
    )?;
    Ok(0)
}

/// Write a backup while others work, now or from now on by itself.
#[derive(Debug, clap::Args)]
pub(super) struct Backup {
    /// The file to write; it must not exist.
    #[arg(conflicts_with_all = ["to", "keep", "every"])]
    file: Option<PathBuf>,
    /// A folder: the backup's name there tells the shop, the time, the newest action and the head.
    #[arg(long, value_name = "FOLDER")]
    to: Option<PathBuf>,
    /// How many of this shop's backups are kept in the folder; the oldest are removed.
    #[arg(long, value_name = "N", requires = "to")]
    keep: Option<u32>,
    /// Write one so often by itself, such as 24h; "never" ends that.
    #[arg(long, value_name = "SPAN")]
    every: Option<String>,
}

impl Backup {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = if self.file.is_some() {
            desk.shop_unheld()?
        } else {
            desk.shop()?
        };
        if let Some(file) = &self.file {
            let report = shop.ledger.backup(file)?;
            if let Some(lost) = shop.ledger.witness()?.lost {
                talk(&format!("NOT THE WHOLE RECORD: {lost}"));
            }
            desk.print(&backup_json(&report), &[backup_line(&report)])?;
            return Ok(0);
        }
        let plan = shop.ledger.backup_plan()?;
        if let Some(every) = self.every.clone() {
            return self.plan(desk, &mut shop, &every);
        }
        let (folder, keep) = match (self.to, plan) {
            (Some(folder), _) => (folder, self.keep),
            (None, Some(plan)) => {
                plan.is_for(&shop.ledger)?;
                (plan.folder, Some(plan.keep))
            }
            (None, None) => {
                return Err(Trouble::Input(
                    "where to? write a file, or --to FOLDER; with --every 24h --to FOLDER --keep 14 it is written by itself from now on"
                        .to_owned(),
                ));
            }
        };
        let done = shop.ledger.backup_into(&folder, keep, shop.present())?;
        desk.print(&rotated_json(&done), &rotated_lines(&done))?;
        Ok(0)
    }

    fn plan(self, desk: &mut Desk<'_>, shop: &mut super::Shop, every: &str) -> Answer {
        let who = desk.who(None)?;
        if every.trim() == "never" {
            shop.ledger.plan_backups(None, &who, &shop.stamp())?;
            desk.print(
                &json!({"every": "never"}),
                &["from now on no backup is written by itself".to_owned()],
            )?;
            return Ok(0);
        }
        let Some(folder) = self.to else {
            return Err(Trouble::Input(
                "where to? write --to FOLDER, best on another disk than the ledger's".to_owned(),
            ));
        };
        let folder = std::path::absolute(&folder)?;
        let plan = BackupPlan::of(
            &shop.ledger,
            super::shop::read_span(every)?,
            folder,
            self.keep.unwrap_or(KEEP),
        );
        shop.ledger.plan_backups(Some(&plan), &who, &shop.stamp())?;
        // The first one is written at once: a plan that cannot be kept is known today and not in a month.
        let done = shop
            .ledger
            .backup_into(&plan.folder, Some(plan.keep), shop.present())?;
        let mut lines = vec![format!(
            "from now on a backup every {} into {}; {} are kept",
            plan.every.words(),
            plan.folder.display(),
            plan.keep
        )];
        lines.extend(rotated_lines(&done));
        let mut value = rotated_json(&done);
        if let Some(map) = value.as_object_mut() {
            map.insert("every_ms".to_owned(), json!(plan.every.0));
            map.insert("folder".to_owned(), json!(plan.folder));
            map.insert("keep".to_owned(), json!(plan.keep));
        }
        desk.print(&value, &lines)?;
        Ok(0)
    }
}

/// Two weeks of days, where nobody says otherwise: a mistake is noticed within days and a holiday lies between (common
/// practice, no source).
const KEEP: u32 = 14;

fn backup_line(report: &BackupReport) -> String {
    format!(
        "{}: {} actions, checked after writing, head {}",
        report.path.display(),
        report.actions,
        report.head
    )
}

fn backup_json(report: &BackupReport) -> Value {
    json!({"file": report.path, "actions": report.actions, "head": report.head})
}

fn rotated_lines(done: &Rotated) -> Vec<String> {
    let mut lines = vec![backup_line(&done.report)];
    if !done.removed.is_empty() {
        lines.push(format!("{} older ones were removed", done.removed.len()));
    }
    lines
}

fn rotated_json(done: &Rotated) -> Value {
    let mut value = backup_json(&done.report);
    if let Some(map) = value.as_object_mut() {
        map.insert("removed".to_owned(), json!(done.removed));
    }
    value
}

/// Writes the backup that is due by the shop's plan, after a command has given its answer. What comes of it is talk: the
/// command was answered, and what could not be written today is due again at the next one.
pub(super) fn backup_if_due(path: &std::path::Path, now: Moment) {
    let said = match Ledger::open(path).and_then(|ledger| ledger.backup_if_due(now)) {
        Ok(None) => return,
        Ok(Some(done)) => backup_line(&done.report),
        Err(e) => format!("THE BACKUP THAT IS DUE WAS NOT WRITTEN: {e}"),
    };
    let _ = writeln!(std::io::stderr(), "{}", shown(&said));
}

/// Put a backup in the ledger's place; what lies there is moved aside.
#[derive(Debug, clap::Args)]
pub(super) struct Recover {
    /// The backup.
    file: PathBuf,
    /// The backup of another shop is meant.
    #[arg(long)]
    other_shop: bool,
}

impl Recover {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let path = desk.path()?;
        let now = crate::clock::Clock::system().now();
        let done = Ledger::recover(&path, &self.file, self.other_shop, now)?;
        desk.demo.set(done.demo);
        let mut lines = vec![format!(
            "{} now holds {}: {} actions, head {}",
            path.display(),
            shown(&done.shop),
            done.from.actions,
            done.from.head
        )];
        if let Some((actions, head)) = &done.replaced {
            lines.push(if *head == done.from.head {
                "the ledger that lay there had the same head".to_owned()
            } else {
                format!(
                    "the ledger that lay there had {actions} actions, head {head}; what it had besides must be logged again"
                )
            });
        }
        lines.extend(
            done.aside
                .iter()
                .map(|f| format!("moved aside: {}", f.display())),
        );
        lines.extend(done.lost_pins.iter().map(|i| super::people::lost_pin(i)));
        let differences = &done.verified.differences;
        if differences.is_empty() {
            lines.push("no difference found: the chain holds, and all that was kept equals what was rebuilt".to_owned());
        }
        lines.extend(differences.iter().map(|d| format!("DIFFERENCE: {d}")));
        let value = json!({
            "ledger": path, "from": done.from.path, "actions": done.from.actions, "head": done.from.head,
            "replaced": done.replaced.as_ref().map(|(actions, head)| json!({"actions": actions, "head": head})),
            "aside": done.aside, "differences": differences, "lost_pins": done.lost_pins,
        });
        desk.print(&value, &lines)?;
        Ok(u8::from(!differences.is_empty()))
    }
}

/// Write the whole record as open files, for an inspector or another program.
#[derive(Debug, clap::Args)]
pub(super) struct Export {
    /// The folder to make; it must not exist.
    folder: PathBuf,
}

impl Export {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        // What is left is handed out even where its witness says that something is missing.
        let shop = desk.shop_unheld()?;
        let made = shop.calendar.rfc3339(shop.present());
        let manifest = shop.ledger.export(&self.folder, &made)?;
        copied(
            desk,
            &format!("written to {}", self.folder.display()),
            &manifest,
        )?;
        Ok(u8::from(manifest.against_witness.is_some()))
    }
}

/// Take an export into a new ledger: the same record with the same head, or nothing.
#[derive(Debug, clap::Args)]
pub(super) struct Import {
    /// The folder that "export" wrote.
    folder: PathBuf,
}

impl Import {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let path = desk.path()?;
        let manifest = Ledger::import(&path, &self.folder)?;
        desk.demo.set(manifest.demo);
        copied(desk, &format!("taken into {}", path.display()), &manifest)
    }
}

// What is missing is said, and an export that lacks it is not the whole record: exit code 1.
fn copied(desk: &mut Desk<'_>, what: &str, manifest: &Manifest) -> Answer {
    if let Some(said) = &manifest.against_witness {
        talk(&format!("NOT THE WHOLE RECORD: {said}"));
    }
    let line = format!(
        "{what}: {} actions, {} entries, {} readings, head {}",
        manifest.actions, manifest.entries, manifest.readings, manifest.head
    );
    let value = serde_json::to_value(manifest).map_err(|e| Trouble::System(e.to_string()))?;
    desk.print(&value, &[line])?;
    Ok(0)
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
