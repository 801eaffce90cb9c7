//! Signed months.
//!
//! *Invariants*: what was signed is kept as it was printed and never changes; its figures are kept beside it, so that a
//! later difference is told substance by substance. A signature holds for one state of the record: when somebody wrote
//! between the page and the signature, nothing is signed. A month is signed when it is over, and again only when a
//! figure differs from the one signed last.
//!
//! *Not here*: how a page looks (`reports`), and who may sign (the command).

use super::append::{Line, NewAction, Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{EntryRow, MonthSums, entries_where};
use super::stored::{COATS, Shared, decode};
use crate::shop::calendar::{Calendar, Day};
use crate::shop::record::{Figure, ShopFact, SignedMonth, What};
use crate::units::Moment;
use rusqlite::Connection;
use std::collections::BTreeMap;

/// A signature on a month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signature {
    /// What was signed.
    pub signed: SignedMonth,
    /// Initials of who signed.
    pub person: String,
    /// When it was written.
    pub at: Moment,
    /// The action that signed.
    pub action: i64,
}

/// A figure that is not what it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Material code.
    pub material: String,
    /// Sheet revision; none for the volume of a material.
    pub sheet: Option<String>,
    /// CAS number and name of the substance; none for the volume.
    pub substance: Option<(String, String)>,
    /// What was signed: milligrams, or microlitres of a volume.
    pub was: i64,
    /// What it is.
    pub is: i64,
}

/// A month as it stands: what was signed, what follows from the log today, and what lies between.
#[derive(Debug, Clone)]
pub struct MonthNow {
    /// The figures as they follow from the log today.
    pub sums: MonthSums,
    /// The signatures, oldest first.
    pub signatures: Vec<Signature>,
    /// Differences from the newest signature.
    pub changes: Vec<Change>,
    /// Entries since the newest signature that used or gave back something in this month.
    pub since: Vec<EntryRow>,
    /// When the first action of the record was written: what was used before is unknown.
    pub began: Moment,
    /// Newest action and head of the record that this was read from.
    pub head: (i64, String),
}

impl MonthNow {
    /// The newest signature.
    pub fn newest(&self) -> Option<&Signature> {
        self.signatures.last()
    }

    /// Whether a part of the month lies before the record.
    ///
    /// # Errors
    /// The month is none.
    pub fn begins_before(&self, calendar: &Calendar) -> Result<bool, LedgerError> {
        let [first, _] = days_of(&self.sums.month)?;
        Ok(i64::from(calendar.day(self.began).0) > first)
    }

    /// Number of the revision that a signature would make.
    pub fn next_revision(&self) -> u32 {
        self.newest().map_or(1, |s| s.signed.revision + 1)
    }
}

impl Ledger {
    /// A month as it stands, all of it read from one state of the record.
    pub fn month_now(&self, month: &str) -> Result<MonthNow, LedgerError> {
        let days = days_of(month)?;
        self.in_one_view(|| self.read_month(month, days))
    }

    /// Several reads of one state of the record: another terminal's save lies before all of them or after all of them.
    /// One view may lie within another.
    pub fn in_one_view<T, E: From<LedgerError>>(
        &self,
        read: impl FnOnce() -> Result<T, E>,
    ) -> Result<T, E> {
        let run = |sql| self.conn.execute_batch(sql).map_err(LedgerError::from);
        run("SAVEPOINT view")?;
        let answer = read();
        run("RELEASE view")?;
        answer
    }

    fn read_month(&self, month: &str, days: [i64; 2]) -> Result<MonthNow, LedgerError> {
        let sums = self.month(month)?;
        let signatures = signatures(&self.conn, month)?;
        let (changes, since) = match signatures.last() {
            None => (Vec::new(), Vec::new()),
            Some(newest) => (
                changes(&newest.signed.figures, &figures(&sums)),
                entries_where(
                    &self.conn,
                    &format!(
                        "WHERE e.action > ?1 AND (
                        (e.day >= ?2 AND e.day < ?3
                         AND (e.kind {COATS} OR e.kind IN ('issued/1', 'pot-closed/1')))
                        OR (e.kind LIKE 'void/%' AND EXISTS (
                            SELECT 1 FROM entry c WHERE c.seq = e.corrects AND c.day >= ?2 AND c.day < ?3
                                AND (c.kind {COATS} OR c.kind IN ('issued/1', 'pot-closed/1')))))
                     ORDER BY e.seq"
                    ),
                    &[newest.action, days[0], days[1]],
                )?,
            ),
        };
        Ok(MonthNow {
            sums,
            signatures,
            changes,
            since,
            began: self.began()?,
            head: self.head()?,
        })
    }

    /// Signs a month as it was just read: `text` and `json` are the page as it is printed.
    pub fn sign_month(
        &mut self,
        now: &MonthNow,
        text: String,
        json: String,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        self.may_sign(now, stamp.written)?;
        let fact = ShopFact::Signed(SignedMonth {
            revision: now.next_revision(),
            text,
            json,
            figures: figures(&now.sums),
            actions: now.head.0,
            head: now.head.1.clone(),
            month: now.sums.month.clone(),
        });
        let action = NewAction::at_once(
            "sign",
            who.clone(),
            stamp.written,
            vec![Line::shop(What::Shop(fact))],
        );
        self.write(|w| {
            let newest: i64 =
                w.tx.query_row("SELECT coalesce(max(seq), 0) FROM action", [], |r| r.get(0))?;
            if newest != now.head.0 {
                return Err(LedgerError::Input(
                    "another terminal wrote while the page was made; nothing was signed. Sign again".to_owned(),
                ));
            }
            w.append(&action, &Shared::default(), stamp)
        })
    }

    /// Whether there is something to sign at `written`: the month is over, the record knows of it, and a figure differs from the one signed last.
    pub fn may_sign(&self, now: &MonthNow, written: Moment) -> Result<(), LedgerError> {
        let month = &now.sums.month;
        days_of(month)?;
        let today = self.calendar().day(written).month();
        if today <= *month {
            return Err(LedgerError::Input(format!(
                "{month} is not over: this production day belongs to {today}; sign it when its last production day has ended"
            )));
        }
        // A coat of that month that was logged later is known, and the page says what is not.
        let calendar = self.calendar();
        if *month < calendar.day(now.began).month() && now.sums.materials.is_empty() {
            return Err(LedgerError::Input(format!(
                "{month} cannot be signed: the record begins {}; nothing is known of that month",
                calendar.local(now.began).format("%-d %b %Y")
            )));
        }
        if let Some(newest) = now.newest()
            && now.changes.is_empty()
        {
            return Err(LedgerError::Input(format!(
                "{month} was signed by {} as revision {}, and no figure of it has changed since; there is nothing to sign",
                newest.person, newest.signed.revision
            )));
        }
        Ok(())
    }
}

/// First production day of a month (`2026-03`) and of the next one.
pub(super) fn days_of(month: &str) -> Result<[i64; 2], LedgerError> {
    let first = chrono::NaiveDate::parse_from_str(&format!("{month}-01"), "%Y-%m-%d")
        .ok()
        // "2026-3" would read as well, but the sums are kept under "2026-03".
        .filter(|first| Day::of(*first).month() == month)
        .ok_or_else(|| {
            LedgerError::Input(format!(
                "month \"{}\" is not understood; write it as 2026-03",
                crate::shop::text::shown(month)
            ))
        })?;
    let next = first
        .checked_add_months(chrono::Months::new(1))
        .unwrap_or(first);
    Ok([Day::of(first), Day::of(next)].map(|d| i64::from(d.0)))
}

fn signatures(conn: &Connection, month: &str) -> Result<Vec<Signature>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT e.kind, e.body, a.person, a.written, a.seq FROM signed_month s JOIN entry e ON e.seq = s.entry
         JOIN action a ON a.seq = e.action WHERE s.month = ?1 ORDER BY s.revision",
    )?;
    let mut rows = list.query([month])?;
    let mut out = Vec::new();
    while let Some(r) = rows.next()? {
        let (kind, body): (String, String) = (r.get(0)?, r.get(1)?);
        if let What::Shop(ShopFact::Signed(signed)) = decode(&kind, &body)? {
            out.push(Signature {
                signed,
                person: r.get(2)?,
                at: Moment(r.get(3)?),
                action: r.get(4)?,
            });
        }
    }
    Ok(out)
}

// The figures of a month, each apart: volumes by material, masses by sheet and substance.
fn figures(sums: &MonthSums) -> Vec<Figure> {
    let volumes = sums.materials.iter().map(|(material, volume, _)| Figure {
        material: material.clone(),
        sheet: None,
        substance: None,
        value: volume.0,
    });
    let masses = sums.substances.iter().map(|s| Figure {
        material: s.material.clone(),
        sheet: Some(s.sheet.clone()),
        substance: Some((s.substance.cas.clone(), s.substance.name.clone())),
        value: s.mass.0,
    });
    volumes.chain(masses).collect()
}

/// What differs between two lists of figures; a figure that is on one side only was or is nothing.
pub fn changes(was: &[Figure], is: &[Figure]) -> Vec<Change> {
    let mut both = BTreeMap::new();
    let mut place = |f: &Figure, set: fn(&mut Change, i64)| {
        let cas = f.substance.as_ref().map(|(cas, _)| cas.clone());
        let change = both
            .entry((f.material.clone(), f.sheet.clone(), cas))
            .or_insert_with(|| Change {
                material: f.material.clone(),
                sheet: f.sheet.clone(),
                substance: f.substance.clone(),
                was: 0,
                is: 0,
            });
        set(change, f.value);
    };
    for f in was {
        place(f, |c, v| c.was = v);
    }
    for f in is {
        place(f, |c, v| c.is = v);
    }
    both.into_values().filter(|c| c.was != c.is).collect()
}
