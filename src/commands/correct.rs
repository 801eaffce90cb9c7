//! Corrections and words on deviations.

use super::deed::read_reason;
use super::{Answer as Code, Desk, Shop, Trouble, read_time};
use crate::ledger::{Fixed, PinDeed};
use crate::reports::entries;
use crate::shop::record::{Fact, What};
use crate::shop::words::{Rule, Word};
use crate::units::{Amount, Volume};
use serde_json::json;

/// Undo your last action at this station that can be taken back; one of a day before is asked for by its number.
#[derive(Debug, clap::Args)]
pub(super) struct Undo {
    /// Undo although others built on it.
    #[arg(long)]
    anyway: bool,
    /// The action that you mean: needed when it is of a day before.
    #[arg(long, value_name = "N")]
    action: Option<i64>,
}

/// Take back an entry or an action.
#[derive(Debug, clap::Args)]
pub(super) struct Void {
    /// Number of the entry.
    entry: Option<i64>,
    /// Number of an action whose entries are all taken back.
    #[arg(long, conflicts_with = "entry")]
    action: Option<i64>,
    /// Why.
    #[arg(long)]
    why: String,
}

/// Move a deed to the piece that it was really done to.
#[derive(Debug, clap::Args)]
pub(super) struct Relocate {
    /// Number of the entry.
    entry: i64,
    /// The right piece.
    to: String,
    /// Why.
    #[arg(long)]
    why: String,
}

/// Replace the times or figures of a coat.
#[derive(Debug, clap::Args)]
pub(super) struct Amend {
    /// Number of the entry.
    entry: i64,
    /// When it really began.
    #[arg(long, value_name = "TIME")]
    began: Option<String>,
    /// When it really ended.
    #[arg(long, value_name = "TIME")]
    ended: Option<String>,
    /// The mix that was really in the cup.
    #[arg(long)]
    mix: Option<u32>,
    /// The amount that really went on this piece.
    #[arg(long, value_name = "VOLUME")]
    amount: Option<String>,
    /// Why.
    #[arg(long)]
    why: String,
}

/// A supervisor's word on a deviation.
#[derive(Debug, clap::Args)]
pub(super) struct Answer {
    /// Number of the entry.
    entry: i64,
    /// Which rule's deviation, as listed.
    rule: String,
    /// The word.
    word: String,
}

/// Give the reason for a deviation.
#[derive(Debug, clap::Args)]
pub(super) struct Explain {
    /// Number of the entry.
    entry: i64,
    /// A digit 1 to 9, or the word.
    reason: String,
}

// What a correction took back. A whole action is named first, with its time and in the words in which it was saved.
fn fixed(
    desk: &mut Desk<'_>,
    fixed: &Fixed,
    shop: &Shop,
    whole: bool,
    stays: Option<String>,
) -> Code {
    let calendar = &shop.calendar;
    let mut value = json!({
        "saved": true, "action": fixed.saved.action,
        "taken_back": fixed.voided.iter().map(|e| entries::entry(e, calendar)).collect::<Vec<_>>(),
    });
    let mut said = format!(
        "saved: {} taken back (action {})",
        fixed.voided.len(),
        fixed.saved.action
    );
    if let Some(first) = fixed.voided.first().filter(|_| whole) {
        let line = shop.ledger.line_of(first.action, shop.present())?;
        said = format!(
            "saved: action {} taken back: {line}, written {} (action {})",
            first.action,
            calendar.near(first.written, shop.present()),
            fixed.saved.action
        );
        if let Some(map) = value.as_object_mut() {
            let undone = json!({
                "action": first.action, "line": line, "written": calendar.rfc3339(first.written),
            });
            map.insert("undone".to_owned(), undone);
        }
    }
    if let Some(moved) = moved(shop, fixed)? {
        said = format!(
            "saved: {} of {} moved to {}, action {}",
            moved.deed, moved.from, moved.to, fixed.saved.action
        );
        if let Some(map) = value.as_object_mut() {
            let now = json!({"deed": moved.deed, "from": moved.from, "to": moved.to, "entry": moved.entry});
            map.insert("moved".to_owned(), now);
        }
    }
    if let (Some(map), Some(stays)) = (value.as_object_mut(), &stays) {
        map.insert("stays".to_owned(), json!(stays));
    }
    let system = desk.system();
    let listed = fixed.voided.iter();
    let lines: Vec<String> = std::iter::once(said)
        .chain(stays.map(|stays| format!("  {stays}")))
        .chain(listed.map(|e| entries::line(e, calendar, system)))
        .collect();
    desk.print(&value, &lines)?;
    Ok(0)
}

// A deed that stands on another piece now.
struct Moved {
    deed: String,
    from: String,
    to: String,
    entry: i64,
}

// Where the deed that was taken back stands now, when that is another piece.
fn moved(shop: &Shop, fixed: &Fixed) -> Result<Option<Moved>, Trouble> {
    let Some(old) = fixed.voided.first() else {
        return Ok(None);
    };
    let (_, written) = shop.ledger.action(fixed.saved.action)?;
    let now = written
        .iter()
        .find(|e| e.corrects == Some(old.seq) && !matches!(e.what, What::Void { .. }));
    let Some(now) = now else { return Ok(None) };
    let (Some((was, from)), Some((is, to)), What::Piece(fact)) =
        (&old.piece, &now.piece, &now.what)
    else {
        return Ok(None);
    };
    if was == is {
        return Ok(None);
    }
    let deed = match fact {
        Fact::Coat(c) if c.touch_up => "touch-up",
        Fact::Coat(_) => "coat",
        fact => fact.step_kind().map_or("entry", |kind| kind.word()),
    };
    Ok(Some(Moved {
        deed: deed.to_owned(),
        from: from.clone(),
        to: to.clone(),
        entry: now.seq.0,
    }))
}

impl Undo {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Code {
        let mut shop = desk.shop()?;
        let who = desk.who(None)?;
        let stays = shop.ledger.undo_stays(&who)?;
        let done = shop
            .ledger
            .undo(self.action, self.anyway, &who, &shop.stamp())?;
        fixed(desk, &done, &shop, true, stays)
    }
}

impl Void {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Code {
        let mut shop = desk.shop()?;
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        let done = match (self.entry, self.action) {
            (Some(entry), _) => shop.ledger.void_entry(entry, &self.why, &who, &stamp)?,
            (None, Some(action)) => shop.ledger.void_action(action, &self.why, &who, &stamp)?,
            (None, None) => {
                return Err(Trouble::Input(
                    "which? write the entry's number or --action N".to_owned(),
                ));
            }
        };
        fixed(desk, &done, &shop, self.entry.is_none(), None)
    }
}

impl Relocate {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Code {
        let mut shop = desk.shop()?;
        let done = shop.ledger.move_entry(
            self.entry,
            &self.to,
            &self.why,
            &desk.who(None)?,
            &shop.stamp(),
        )?;
        fixed(desk, &done, &shop, false, None)
    }
}

impl Amend {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Code {
        let mut shop = desk.shop()?;
        let stamp = shop.stamp();
        let old = shop
            .ledger
            .entries(None)?
            .into_iter()
            .find(|e| e.seq.0 == self.entry)
            .ok_or_else(|| Trouble::Input(format!("there is no entry {}", self.entry)))?;
        let time = |t: &Option<String>| {
            t.as_deref()
                .map(|t| read_time(&shop.calendar, t, stamp.written))
                .transpose()
        };
        let (began, ended) = (time(&self.began)?, time(&self.ended)?);
        let times = (began.is_some() || ended.is_some()).then(|| {
            let ended = ended.unwrap_or(old.ended);
            (
                began.unwrap_or_else(|| {
                    if old.began == old.ended {
                        ended
                    } else {
                        old.began
                    }
                }),
                ended,
            )
        });
        let amount = self
            .amount
            .as_deref()
            .map(|a| Volume::read_within(a, Some("mL"), 1, 200_000_000))
            .transpose()
            .map_err(|e| Trouble::Input(e.to_string()))?;
        let fact = match (&old.what, self.mix.is_some() || amount.is_some()) {
            (What::Piece(Fact::Coat(coat)), true) => {
                let mut coat = coat.clone();
                coat.mix = self.mix.or(coat.mix);
                coat.amount = amount.or(coat.amount);
                Some(Fact::Coat(coat))
            }
            (_, true) => return Err(Trouble::Input(format!("entry {} is no coat", self.entry))),
            _ => None,
        };
        let done = shop.ledger.amend_entry(
            self.entry,
            times,
            fact,
            &self.why,
            &desk.who(None)?,
            &stamp,
        )?;
        fixed(desk, &done, &shop, false, None)
    }
}

impl Answer {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Code {
        let mut shop = desk.shop()?;
        let rule = Rule::typed(&self.rule).ok_or_else(|| {
            Trouble::Input(format!(
                "rule \"{}\" is not known; write one of {}",
                self.rule,
                Rule::choices()
            ))
        })?;
        let who = desk.who(None)?;
        desk.authorise(&mut shop, PinDeed::Answer, &who)?;
        let saved = shop
            .ledger
            .answer(self.entry, rule, &self.word, &who, &shop.stamp())?;
        desk.print(
            &json!({"saved": true, "action": saved.action}),
            &[format!("answered (action {})", saved.action)],
        )?;
        Ok(0)
    }
}

impl Explain {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Code {
        let mut shop = desk.shop()?;
        let reason = read_reason(&self.reason)?;
        let saved = shop
            .ledger
            .explain(self.entry, reason, &desk.who(None)?, &shop.stamp())?;
        let line = format!(
            "reason \"{}\" saved (action {})",
            reason.word(),
            saved.action
        );
        desk.print(&json!({"saved": true, "action": saved.action}), &[line])?;
        Ok(0)
    }
}
