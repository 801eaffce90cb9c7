//! A folder of backups: their names, how many are kept, and when the next one is due.
//!
//! *Invariants*: a name tells the shop (the first action's hash), the time, the newest action and its hash, so that
//! nothing but the folder says what there is. Only whole backups of this shop are ever removed, the oldest first, and only after
//! a newer one was written and checked. One terminal at a time writes into a folder. A folder is never made: a stick
//! that is not plugged in is no folder on the machine's own disk.

use super::append::{Saved, Stamp, Who};
use super::backup::{BackupReport, compact, write_copy};
use super::error::LedgerError;
use super::open::Ledger;
use crate::shop::record::ShopFact;
use crate::shop::text::clean;
use crate::units::{Moment, Span};
use rusqlite::OptionalExtension;
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

/// How many backups a shop may keep in a folder.
const KEEP: std::ops::RangeInclusive<u32> = 1..=1_000;

/// How often a backup may be written by itself. Oftener than each quarter of an hour it would be more reading of the
/// disk than writing (our choice, no source).
const EVERY: std::ops::RangeInclusive<Span> = Span::minutes(15)..=Span::hours(24 * 366);

/// Backups that are written by themselves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackupPlan {
    /// How often.
    pub every: Span,
    /// The folder.
    pub folder: PathBuf,
    /// How many are kept there.
    pub keep: u32,
    /// Where the ledger lay when the plan was made. A copy of it, for a drill or on another machine, has the same plan in its
    /// record and must not push the shop's own backups out of the folder.
    pub ledger: PathBuf,
}

impl BackupPlan {
    /// A plan for a ledger.
    pub fn of(ledger: &Ledger, every: Span, folder: PathBuf, keep: u32) -> Self {
        Self {
            every,
            folder,
            keep,
            ledger: real(ledger.path()),
        }
    }

    /// Refuses to work for a copy of the ledger that the plan was made for.
    pub fn is_for(&self, ledger: &Ledger) -> Result<(), LedgerError> {
        if self.ledger == real(ledger.path()) {
            return Ok(());
        }
        Err(LedgerError::Input(format!(
            "the plan for backups was made for the ledger at {}, and this is the one at {}; if it is no copy, make the plan again with \"hangtime backup --every\"",
            self.ledger.display(),
            ledger.path().display()
        )))
    }
}

fn real(path: &Path) -> PathBuf {
    std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf())
}

/// What was done in a folder of backups.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rotated {
    /// The new backup.
    pub report: BackupReport,
    /// Older ones that were removed.
    pub removed: Vec<PathBuf>,
}

/// The words in a backup's name: `shop-1e59f453-20260324T060000Z-40-46ee8b95.backup`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Name {
    time: String,
    action: i64,
    shop: String,
    head: String,
}

const END: &str = ".backup";

impl Name {
    fn read(file: &str) -> Option<Self> {
        let mut words = file.strip_suffix(END)?.rsplitn(5, '-');
        let (head, action, time, shop) =
            (words.next()?, words.next()?, words.next()?, words.next()?);
        words.next()?;
        let eight = |t: &str| t.len() == 8 && t.bytes().all(|b| b.is_ascii_hexdigit());
        let good = eight(head)
            && eight(shop)
            && chrono::NaiveDateTime::parse_from_str(time, "%Y%m%dT%H%M%SZ").is_ok();
        good.then_some(Self {
            time: time.to_owned(),
            action: action.parse().ok()?,
            shop: shop.to_owned(),
            head: head.to_owned(),
        })
    }

    fn write(&self, stem: &str) -> String {
        format!(
            "{stem}-{}-{}-{}-{}{END}",
            self.shop, self.time, self.action, self.head
        )
    }
}

impl Ledger {
    /// What tells this shop's record from all others: the hash of its first action.
    pub fn identity(&self) -> Result<String, LedgerError> {
        let first: Option<[u8; 32]> = self
            .conn
            .query_row("SELECT hash FROM action WHERE seq = 1", [], |r| r.get(0))
            .optional()?;
        first
            .map(|h| super::chain::hex(&h))
            .ok_or_else(|| LedgerError::Damaged("its first action is missing".to_owned()))
    }

    /// Writes a backup into `folder` under a name that tells what it is, and with `keep` removes the oldest of this
    /// shop until so many are left. Another terminal that writes there is waited for.
    pub fn backup_into(
        &self,
        folder: &Path,
        keep: Option<u32>,
        now: Moment,
    ) -> Result<Rotated, LedgerError> {
        let folder = folder_of(folder)?;
        if let Some(keep) = keep {
            check_keep(keep)?;
        }
        let lock = self.lock(&folder)?;
        lock.lock()
            .map_err(|e| LedgerError::File(folder.clone(), e))?;
        self.rotate(&folder, keep, now)
    }

    /// Writes the backup that is due by the shop's plan, if one is and something was written since the newest. A
    /// terminal that finds another one at it leaves it to that one.
    pub fn backup_if_due(&self, now: Moment) -> Result<Option<Rotated>, LedgerError> {
        let Some(plan) = self.backup_due(now)? else {
            return Ok(None);
        };
        if self.unchanged(&plan)? {
            return Ok(None);
        }
        plan.is_for(self)?;
        let folder = folder_of(&plan.folder)?;
        let lock = self.lock(&folder)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => return Ok(None),
            Err(TryLockError::Error(e)) => return Err(LedgerError::File(folder, e)),
        }
        // Another terminal may have been at it since.
        if self.backup_due(now)?.is_none() {
            return Ok(None);
        }
        self.rotate(&folder, Some(plan.keep), now).map(Some)
    }

    /// The plan, when by its time a backup is to be written: none of this shop is younger than the plan's interval. A
    /// time ahead of `now` counts as none: a clock that was wrong once must not put off all that follow.
    pub fn backup_due(&self, now: Moment) -> Result<Option<BackupPlan>, LedgerError> {
        let Some(plan) = self.backup_plan()? else {
            return Ok(None);
        };
        let since = compact(Moment(now.0.saturating_sub(plan.every.0)));
        let now = compact(now);
        let young = |name: &Name| name.time > since && name.time <= now;
        let done = self.backups_of(&plan)?.iter().any(young);
        Ok((!done).then_some(plan))
    }

    // Copies of one state would push out the older ones.
    fn unchanged(&self, plan: &BackupPlan) -> Result<bool, LedgerError> {
        let (action, head) = self.head()?;
        Ok(self
            .backups_of(plan)?
            .iter()
            .any(|name| name.action == action && head.starts_with(&name.head)))
    }

    // A folder that cannot be read holds none: the attempt to write there says what is wrong with it.
    fn backups_of(&self, plan: &BackupPlan) -> Result<Vec<Name>, LedgerError> {
        let there = backups(&plan.folder, &self.short_identity()?).unwrap_or_default();
        Ok(there.into_iter().map(|(name, _)| name).collect())
    }

    /// The plan for backups that are written by themselves.
    pub fn backup_plan(&self) -> Result<Option<BackupPlan>, LedgerError> {
        let get = |name: &str| -> Result<Option<String>, LedgerError> {
            Ok(self
                .conn
                .prepare_cached("SELECT value FROM setting WHERE name = ?1")?
                .query_row([name], |r| r.get(0))
                .optional()?)
        };
        let every = get("backup every ms")?.and_then(|ms| ms.parse().ok());
        let (Some(every), Some(folder), Some(keep), Some(ledger)) = (
            every,
            get("backup folder")?,
            get("backup keep")?,
            get("backup of")?,
        ) else {
            return Ok(None);
        };
        Ok(Some(BackupPlan {
            every: Span(every),
            folder: folder.into(),
            keep: keep.parse().unwrap_or(*KEEP.end()),
            ledger: ledger.into(),
        }))
    }

    /// Backups are written by themselves from now on, or with `None` no longer.
    pub fn plan_backups(
        &mut self,
        plan: Option<&BackupPlan>,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let fact = match plan {
            None => ShopFact::Backups {
                every: None,
                folder: String::new(),
                keep: 0,
                ledger: String::new(),
            },
            Some(plan) => {
                check_keep(plan.keep)?;
                if !EVERY.contains(&plan.every) {
                    return Err(LedgerError::Input(format!(
                        "every {} is outside {} to {}; write a span such as 24h",
                        plan.every.words(),
                        EVERY.start().words(),
                        EVERY.end().words()
                    )));
                }
                let folder = folder_of(&plan.folder)?;
                ShopFact::Backups {
                    every: Some(plan.every),
                    folder: as_text("folder", &folder)?,
                    keep: plan.keep,
                    ledger: as_text("ledger", &plan.ledger)?,
                }
            }
        };
        self.shop_fact("backups", fact, stamp.written, who, stamp)
    }

    fn short_identity(&self) -> Result<String, LedgerError> {
        Ok(self.identity()?.chars().take(8).collect())
    }

    // The kernel frees the lock when the process ends, however it ends.
    fn lock(&self, folder: &Path) -> Result<File, LedgerError> {
        let path = folder.join(format!("{}.turn", self.short_identity()?));
        let mut options = std::fs::OpenOptions::new();
        options.write(true).create(true).truncate(false);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o660);
        options.open(&path).map_err(|e| LedgerError::File(path, e))
    }

    fn rotate(
        &self,
        folder: &Path,
        keep: Option<u32>,
        now: Moment,
    ) -> Result<Rotated, LedgerError> {
        let shop = self.short_identity()?;
        half(folder, &shop)?;
        let (action, head) = self.head()?;
        let stem = self
            .path()
            .file_stem()
            .map_or_else(|| "ledger".to_owned(), |s| s.to_string_lossy().into_owned());
        let name = Name {
            time: compact(now),
            action,
            shop: shop.clone(),
            head: head.chars().take(8).collect(),
        };
        let target = folder.join(name.write(&stem));
        if target.exists() {
            return Err(LedgerError::Input(format!(
                "{} exists already: nothing was written since; wait a second for another one",
                target.display()
            )));
        }
        // Somebody may write between the look at the head and the copy: then the copy holds more than its name says, and
        // never less.
        let report = write_copy(&self.conn, &target)?;
        let mut removed = Vec::new();
        if let Some(keep) = keep {
            let mut there = backups(folder, &shop)?;
            there.retain(|(_, path)| *path != target);
            there.sort();
            let surplus = (there.len() + 1).saturating_sub(usize::try_from(keep).unwrap_or(1));
            for (_, path) in there.into_iter().take(surplus) {
                std::fs::remove_file(&path).map_err(|e| LedgerError::File(path.clone(), e))?;
                removed.push(path);
            }
        }
        Ok(Rotated { report, removed })
    }
}

fn check_keep(keep: u32) -> Result<(), LedgerError> {
    if KEEP.contains(&keep) {
        return Ok(());
    }
    Err(LedgerError::Input(format!(
        "keep {keep} is outside {} to {}; write how many backups are kept in the folder",
        KEEP.start(),
        KEEP.end()
    )))
}

fn as_text(what: &str, path: &Path) -> Result<String, LedgerError> {
    let text = path.to_str().ok_or_else(|| {
        LedgerError::Input(format!("the {what}'s name is not UTF-8 text; rename it"))
    })?;
    clean(what, text, 400).map_err(LedgerError::Input)
}

fn folder_of(folder: &Path) -> Result<PathBuf, LedgerError> {
    let folder =
        std::path::absolute(folder).map_err(|e| LedgerError::File(folder.to_path_buf(), e))?;
    if folder.is_dir() {
        return Ok(folder);
    }
    Err(LedgerError::Input(format!(
        "the folder {} for backups is not there; make it, or plug in the disk that it is on",
        folder.display()
    )))
}

fn names(folder: &Path) -> Result<Vec<(String, PathBuf)>, LedgerError> {
    let fault = |e| LedgerError::File(folder.to_path_buf(), e);
    let mut out = Vec::new();
    for item in std::fs::read_dir(folder).map_err(fault)? {
        let item = item.map_err(fault)?;
        if let Ok(name) = item.file_name().into_string() {
            out.push((name, item.path()));
        }
    }
    Ok(out)
}

fn backups(folder: &Path, shop: &str) -> Result<Vec<(Name, PathBuf)>, LedgerError> {
    Ok(names(folder)?
        .into_iter()
        .filter_map(|(name, path)| Some((Name::read(&name)?, path)))
        .filter(|(name, _)| name.shop == shop)
        .collect())
}

// Takes away what a backup that was cut short has left; the caller holds the folder's lock, so that nobody is at it.
fn half(folder: &Path, shop: &str) -> Result<(), LedgerError> {
    for (name, path) in names(folder)? {
        let whole = name
            .strip_suffix(".part")
            .or_else(|| name.strip_suffix(".part-journal"));
        if whole.and_then(Name::read).is_some_and(|n| n.shop == shop) {
            std::fs::remove_file(&path).map_err(|e| LedgerError::File(path.clone(), e))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_whole_backups_are_read_as_such() {
        let name = Name {
            time: "20260324T060000Z".to_owned(),
            action: 40,
            shop: "1e59f453".to_owned(),
            head: "46ee8b95".to_owned(),
        };
        let file = name.write("our-shop");
        assert_eq!(
            file,
            "our-shop-1e59f453-20260324T060000Z-40-46ee8b95.backup"
        );
        assert_eq!(Name::read(&file), Some(name));
        for other in [
            "our-shop-1e59f453-20260324T060000Z-40-46ee8b95.backup.part",
            "1e59f453-20260324T060000Z-40-46ee8b95.backup",
            "s-1e59f453-20260399T060000Z-40-46ee8b95.backup",
            "s-1e59f453-20260324T060000Z-x-46ee8b95.backup",
            "s-1e59f45-20260324T060000Z-40-46ee8b95.backup",
            "shop.ledger.schema-1.20260401T043000Z.backup",
            "notes.backup",
        ] {
            assert_eq!(Name::read(other), None, "{other}");
        }
    }
}
