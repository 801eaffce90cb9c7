//! Deeds that stood on paper while the ledger could not be reached, keyed in afterwards.
//!
//! *Invariants*: they go through the same plan and the same save as any deed, each as an action of its own with the times
//! of the paper; all of a list are saved, or none. The number of the form and of the line is the draft's identity: a line
//! that was keyed in before adds nothing, and one that says something else under the same number is refused. A piece is
//! never left out without a word: the line names it, or it is refused.
//!
//! *Not here*: reading a list (`feeds::form_csv`).

use super::append::{Line, NewAction, Stamp, Who, Writer};
use super::booths::checked;
use super::deeds::{DeedRequest, DeedWhat, Outcome, plan, save, settle};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::action_row;
use super::setup::{MixOrder, RowFault, mix};
use super::stored::Shared;
use crate::shop::record::{BoothSeen, What};
use crate::shop::text::shown;
use crate::units::Moment;
use rusqlite::{OptionalExtension, params};

// How the identity of a line begins: no other draft's does.
const PAPER: &str = "form ";

/// The mix that a line names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyedCup {
    /// By its number.
    Mix(u32),
    /// By the line of the same form on which it was written down.
    Line(u32),
}

/// What a line says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeyedDeed {
    /// A deed on pieces; the mix of a coat is beside it.
    Deed(Box<DeedRequest>, Option<KeyedCup>),
    /// A mix; the one that it tops up is beside it.
    Mix(MixOrder, Option<KeyedCup>),
    /// A check of a booth.
    Check {
        /// The booth.
        booth: String,
        /// What was seen.
        seen: BoothSeen,
        /// When.
        at: Moment,
    },
}

impl KeyedDeed {
    // Mixes before what came out of them, checks before what followed them.
    fn order(&self) -> (Moment, u8) {
        match self {
            Self::Check { at, .. } => (*at, 0),
            Self::Mix(order, _) => (order.made, 1),
            Self::Deed(request, _) => (request.began, 2),
        }
    }
}

/// A line of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Keyed {
    /// Where it stands in the list, for reports.
    pub row: u64,
    /// Number of the form.
    pub form: String,
    /// Number of the line on the form.
    pub line: u32,
    /// Who did it, and who keys it in.
    pub who: Who,
    /// The line as it was typed, column by column.
    pub said: String,
    /// Facts that its entries share.
    pub shared: Shared,
    /// The deed.
    pub deed: KeyedDeed,
}

impl Keyed {
    fn draft(&self, line: u32) -> String {
        format!("{PAPER}{} line {line}", self.form)
    }
}

/// What came of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyedDone {
    /// Number of the form.
    pub form: String,
    /// Number of the line on the form.
    pub line: u32,
    /// Its action.
    pub action: i64,
    /// Whether it had been keyed in before; nothing was added then.
    pub again: bool,
    /// What was saved, in one line.
    pub words: String,
    /// What was found against it, and what to look at besides.
    pub remarks: Vec<String>,
}

impl Ledger {
    /// Saves a list of lines in the order in which they happened; with `keep` unset nothing stays, and the answer is what
    /// would be saved.
    pub fn key_in(
        &mut self,
        list: &[Keyed],
        keep: bool,
        stamp: &Stamp,
    ) -> Result<Result<Vec<KeyedDone>, Vec<RowFault>>, LedgerError> {
        let mut order: Vec<&Keyed> = list.iter().collect();
        order.sort_by_key(|k| (k.deed.order(), k.row));
        let mut done = Vec::new();
        let mut faults = Vec::new();
        let written = self.write(|w| {
            for keyed in order {
                w.tx.execute_batch("SAVEPOINT keyed")?;
                match one(w, keyed, stamp) {
                    Ok(one) => done.push(one),
                    Err(LedgerError::Input(why)) => {
                        w.tx.execute_batch("ROLLBACK TO keyed")?;
                        let line = keyed.row;
                        faults.push(RowFault { line, why });
                    }
                    Err(other) => return Err(other),
                }
                w.tx.execute_batch("RELEASE keyed")?;
            }
            if keep && faults.is_empty() {
                Ok(())
            } else {
                // The write is given up: none of it stays.
                Err(LedgerError::Input("nothing was to be saved".to_owned()))
            }
        });
        match written {
            Ok(()) => Ok(Ok(done)),
            Err(LedgerError::Input(_)) if !faults.is_empty() => {
                faults.sort_by_key(|f| f.line);
                Ok(Err(faults))
            }
            Err(LedgerError::Input(_)) if !keep && done.len() == list.len() => Ok(Ok(done)),
            Err(other) => Err(other),
        }
    }
}

fn one(w: &Writer<'_>, keyed: &Keyed, stamp: &Stamp) -> Result<KeyedDone, LedgerError> {
    let draft = keyed.draft(keyed.line);
    if let Some(saved) = w.saved_before(&draft)? {
        return known(w, keyed, saved.action);
    }
    let shared = Shared {
        v: 1,
        typed: Some(keyed.said.clone()),
        ..keyed.shared.clone()
    };
    let (action, words, remarks) = match &keyed.deed {
        KeyedDeed::Mix(order, parent) => {
            let order = MixOrder {
                parent: parent.map(|p| mix_of(w, keyed, p)).transpose()?,
                ..order.clone()
            };
            let name = shown(&order.name);
            let (number, saved) = mix(w, order, (draft, &keyed.who), &shared, stamp)?;
            (saved.action, format!("mix {number} {name}"), Vec::new())
        }
        KeyedDeed::Check { booth, seen, at } => {
            let fact = What::Shop(checked(booth, seen)?);
            let action = NewAction {
                draft,
                ..NewAction::at_once(
                    "booth check",
                    keyed.who.clone(),
                    *at,
                    vec![Line::shop(fact)],
                )
            };
            let saved = w.append(&action, &shared, stamp)?;
            let words = format!("{} checked", shown(booth));
            (saved.action, words, Vec::new())
        }
        KeyedDeed::Deed(request, cup) => {
            let mut request = DeedRequest {
                draft,
                typed: shared.typed,
                ..request.as_ref().clone()
            };
            if let (DeedWhat::Coat { mix, .. }, Some(cup)) = (&mut request.what, cup) {
                *mix = Some(mix_of(w, keyed, *cup)?);
            }
            deed(w, request, stamp)?
        }
    };
    Ok(KeyedDone {
        form: keyed.form.clone(),
        line: keyed.line,
        action,
        again: false,
        words,
        remarks,
    })
}

// A line whose number was used before: the same deed adds nothing, another one is a slip of the pen or of the finger.
fn known(w: &Writer<'_>, keyed: &Keyed, action: i64) -> Result<KeyedDone, LedgerError> {
    let row = action_row(&w.tx, action)?
        .ok_or_else(|| LedgerError::Damaged(format!("action {action} is not there")))?;
    if row.shared.typed.as_deref() != Some(keyed.said.as_str()) {
        return Err(LedgerError::Input(format!(
            "line {} of form {} was keyed in before, as action {action}, and said: {}; correct that action, or give this deed a line of its own",
            keyed.line,
            shown(&keyed.form),
            shown(row.shared.typed.as_deref().unwrap_or("nothing"))
        )));
    }
    let standing: i64 =
        w.tx.prepare_cached(
            "SELECT count(*) FROM entry WHERE action = ?1 AND seq NOT IN (SELECT entry FROM void)",
        )?
        .query_row([action], |r| r.get(0))?;
    let gone = if standing == 0 {
        ", and taken back since"
    } else {
        ""
    };
    Ok(KeyedDone {
        form: keyed.form.clone(),
        line: keyed.line,
        action,
        again: true,
        words: format!("{} keyed in before{gone}", row.deed),
        remarks: Vec::new(),
    })
}

fn mix_of(w: &Writer<'_>, keyed: &Keyed, cup: KeyedCup) -> Result<u32, LedgerError> {
    let line = match cup {
        KeyedCup::Mix(mix) => return Ok(mix),
        KeyedCup::Line(line) => line,
    };
    w.tx.prepare_cached(
        "SELECT m.mix FROM action a JOIN entry e ON e.action = a.seq JOIN mix m ON m.entry = e.seq WHERE a.draft = ?1",
    )?
    .query_row(params![keyed.draft(line)], |r| r.get(0))
    .optional()?
    .ok_or_else(|| {
        LedgerError::Input(format!(
            "column mix: line {line} of form {} is no mix that was keyed in by then; key that line in first, look at its time, or write the mix's number",
            shown(&keyed.form)
        ))
    })
}

type Done = (i64, String, Vec<String>);

fn deed(w: &Writer<'_>, mut request: DeedRequest, stamp: &Stamp) -> Result<Done, LedgerError> {
    let settled = settle(&w.tx, w.book, &w.calendar, &request)?;
    let planned = plan(&w.tx, w.book, &w.calendar, &settled)?;
    let left: Vec<String> = planned
        .pieces
        .iter()
        .filter(|p| !p.taken)
        .map(|p| format!("{}: {}", p.now.piece.serial, p.why_left()))
        .collect();
    if !left.is_empty() {
        return Err(LedgerError::Input(format!(
            "{} pieces would be left out ({}); write them into column skip where it was not done to them, or into column include where it was (\"all\" for every one)",
            left.len(),
            left.join("; ")
        )));
    }
    let mut outcome = save(w, &request, stamp)?;
    // Two lines of paper are two deeds, however quickly they are keyed in one after the other.
    let other = match &outcome {
        Outcome::Saved(_) => None,
        Outcome::Already(r) => Some(r.saved.action),
        Outcome::SameOrAnother(c) | Outcome::Conflict(c) => Some(c.action),
    };
    if let Some(action) = other
        && on_paper(w, action)?
    {
        request.another = true;
        outcome = save(w, &request, stamp)?;
    }
    match outcome {
        Outcome::Saved(receipt) => {
            let mut remarks = receipt.remarks;
            for found in receipt.deviations {
                if !remarks.contains(&found.text) {
                    remarks.push(found.text);
                }
            }
            Ok((receipt.saved.action, receipt.line, remarks))
        }
        Outcome::Already(r) => Err(same(r.saved.action)),
        Outcome::SameOrAnother(c) | Outcome::Conflict(c) => Err(same(c.action)),
    }
}

fn on_paper(w: &Writer<'_>, action: i64) -> Result<bool, LedgerError> {
    let draft = action_row(&w.tx, action)?.map(|a| a.draft);
    Ok(draft.is_some_and(|d| d.starts_with(PAPER)))
}

fn same(action: i64) -> LedgerError {
    LedgerError::Input(format!(
        "this may be the coat of action {action}; leave the line out where it is, or write yes into column another where it is one more"
    ))
}
