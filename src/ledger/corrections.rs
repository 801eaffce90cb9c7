//! Corrections: nothing is changed or removed; a new entry says what no longer counts and what stands for it.

use super::append::{Line, NewAction, Saved, Stamp, Who, Writer};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{ActionRow, EntryRow, action_row, entries_where, find_piece, load_piece};
use super::stock::{check_open, pot_level};
use super::stored::{COATS, Shared};
use crate::shop::record::{EntrySeq, Fact, ShopFact, What};
use crate::shop::stock::StockFact;
use crate::shop::text::clean;
use crate::shop::words::{Reason, Rule, Word};
use crate::units::{Moment, Span};
use rusqlite::{Connection, OptionalExtension, params};

/// What a correction did.
#[derive(Debug, Clone)]
pub struct Fixed {
    /// The action that says so.
    pub saved: Saved,
    /// The entries that no longer count.
    pub voided: Vec<EntryRow>,
}

/// How far an undo that names no action reaches back over the start of the production day: who logs a deed at the end of
/// the night can still take it back, and no other deed of the day before is met by one undo too many.
const OVER_THE_DAY: Span = Span::hours(1);

impl Ledger {
    /// Takes back one entry.
    pub fn void_entry(
        &mut self,
        entry: i64,
        why: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Fixed, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        self.write(|w| {
            let targets = entries_where(&w.tx, "WHERE e.seq = ?1", &[entry])?;
            if targets.is_empty() {
                return Err(LedgerError::Input(format!(
                    "there is no entry {entry}; \"hangtime entries\" lists them"
                )));
            }
            void_all(w, "void", targets, &why, who, stamp)
        })
    }

    /// Takes back all entries of an action.
    pub fn void_action(
        &mut self,
        action: i64,
        why: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Fixed, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        self.write(|w| void_action(w, "void", action, &why, who, stamp))
    }

    /// The action that [`undo`](Self::undo) would take back when it is named, so that it can be shown first.
    pub fn undoable(&self, who: &Who) -> Result<Option<ActionRow>, LedgerError> {
        match last_undoable(&self.conn, who)?.0 {
            Some(seq) => action_row(&self.conn, seq),
            None => Ok(None),
        }
    }

    /// Why the last action of this person at this station stays, and what to do instead, or which newer ones are no deed that
    /// an undo reaches; `None` where it is the one that can be taken back, and where there is none.
    pub fn undo_stays(&self, who: &Who) -> Result<Option<String>, LedgerError> {
        let (last, stays) = last_undoable(&self.conn, who)?;
        match (last, stays) {
            (Some(last), None) => self.newer_than(last, who),
            (_, stays) => Ok(stays),
        }
    }

    // The newer actions that an undo passes by without a word of theirs. An earlier undo is none of them.
    fn newer_than(&self, last: i64, who: &Who) -> Result<Option<String>, LedgerError> {
        let mut statement = self.conn.prepare_cached(
            "SELECT seq, deed, written FROM action WHERE seq > ?1 AND writer = ?2 AND station = ?3
             AND deed IN ('relocate', 'amend', 'answer', 'explain', 'clock confirm', 'clock correct', 'person', 'pin')
             ORDER BY seq DESC",
        )?;
        let newer: Vec<String> = statement
            .query_map(params![last, who.writer, who.station], |r| {
                Ok((r.get::<_, i64>(0)?, r.get::<_, String>(1)?, r.get(2)?))
            })?
            .map(|row| {
                let (seq, deed, written) = row?;
                let at = self.calendar().stamp(Moment(written));
                Ok(format!("action {seq} ({deed}), written {at}"))
            })
            .collect::<Result<_, LedgerError>>()?;
        let stay = if newer.len() == 1 { "stays" } else { "stay" };
        Ok((!newer.is_empty()).then(|| {
            format!(
                "your last action that can be taken back; newer, and {stay}: {}",
                newer.join("; ")
            )
        }))
    }

    /// Undoes the last action of this person at this station that still stands and can be taken back; `named` is its
    /// number, where it was looked at first. Without a name, one that lies behind another that stays, or was written
    /// before this production day and over an hour ago, is not taken back. When others built on it, nothing is done and
    /// what follows is listed, unless `anyway`.
    ///
    /// # Errors
    /// An input error when there is none, when it is not the named one, when it lies too far back, or when others built
    /// on it.
    pub fn undo(
        &mut self,
        named: Option<i64>,
        anyway: bool,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Fixed, LedgerError> {
        self.write(|w| {
            let (last, stays) = last_undoable(&w.tx, who)?;
            let Some(last) = last else {
                let stays = stays.map_or_else(String::new, |why| format!("; {why}"));
                return Err(LedgerError::Input(format!(
                    "{} has nothing to undo at station {}{stays}",
                    who.writer, who.station
                )));
            };
            match named {
                Some(named) if named != last => {
                    return Err(LedgerError::Input(format!(
                        "action {named} is not the last one of {} at station {}, that is action {last}; take back another one with \"hangtime void --action {named}\"",
                        who.writer, who.station
                    )));
                }
                Some(_) => {}
                None if stays.is_some() => {
                    let deed = action_row(&w.tx, last)?.map_or_else(String::new, |a| a.deed);
                    return Err(LedgerError::Input(format!(
                        "{}; before it stands action {last} ({deed}); to take that back, name it: hangtime undo --action {last}",
                        stays.unwrap_or_default()
                    )));
                }
                None => check_reach(w, last, stamp.written)?,
            }
            let later: Vec<i64> = w
                .tx
                .prepare_cached(
                    "SELECT DISTINCT e.seq FROM entry e JOIN action a ON a.seq = e.action
                     WHERE a.seq > ?1 AND (a.writer <> ?2 OR a.station <> ?3)
                       AND e.piece IN (SELECT piece FROM entry WHERE action = ?1 AND piece IS NOT NULL)
                       AND e.seq NOT IN (SELECT entry FROM void) ORDER BY e.seq LIMIT 6",
                )?
                .query_map(params![last, who.writer, who.station], |r| r.get(0))?
                .collect::<Result<_, _>>()?;
            if !later.is_empty() && !anyway {
                let numbers: Vec<String> = later.iter().map(i64::to_string).collect();
                return Err(LedgerError::Input(format!(
                    "others built on action {last}: entries {}; look at them, then undo with --anyway or correct one entry",
                    numbers.join(", ")
                )));
            }
            void_action(w, "undo", last, "undone", who, stamp)
        })
    }

    /// Moves a deed to the piece that it was really done to; it keeps its time, its amount and its mix.
    pub fn move_entry(
        &mut self,
        entry: i64,
        to: &str,
        why: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Fixed, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        self.write(|w| {
            let target = one_standing(w, entry)?;
            let What::Piece(fact) = &target.what else {
                return Err(LedgerError::Input(format!(
                    "entry {entry} is not about a piece and cannot be moved to one"
                )));
            };
            if matches!(fact, Fact::Added(_)) {
                return Err(LedgerError::Input(
                    "taking in a piece cannot be moved; void it and add the right one".into(),
                ));
            }
            let to = find_piece(&w.tx, to)?;
            let branch = load_piece(&w.tx, to)?.map_or(0, |p| p.branch());
            let mut stands = Line::piece(to, branch, What::Piece(fact.clone()));
            stands.surface.clone_from(&target.surface);
            stands.times = Some((target.began, target.ended));
            stands.corrects = Some(target.seq);
            correct(w, "relocate", target, stands, &why, who, stamp)
        })
    }

    /// Replaces the times or the coat figures of a deed.
    pub fn amend_entry(
        &mut self,
        entry: i64,
        times: Option<(Moment, Moment)>,
        fact: Option<Fact>,
        why: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Fixed, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        self.write(|w| {
            let target = one_standing(w, entry)?;
            let (Some((piece, _)), What::Piece(old)) = (&target.piece, &target.what) else {
                return Err(LedgerError::Input(format!(
                    "entry {entry} is not about a piece; enter the right fact again"
                )));
            };
            let mut stands = Line::piece(
                *piece,
                target.branch,
                What::Piece(fact.unwrap_or_else(|| old.clone())),
            );
            stands.surface.clone_from(&target.surface);
            stands.times = Some(times.unwrap_or((target.began, target.ended)));
            stands.corrects = Some(target.seq);
            correct(w, "amend", target, stands, &why, who, stamp)
        })
    }

    /// A supervisor's word on a deviation.
    pub fn answer(
        &mut self,
        entry: i64,
        rule: Rule,
        word: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let word = clean("word", word, 200).map_err(LedgerError::Input)?;
        self.write(|w| {
            deviation_there(w, entry, Some(rule))?;
            unanswered(w, entry, rule)?;
            about(
                w,
                "answer",
                entry,
                What::Answered { rule, word },
                who,
                stamp,
            )
        })
    }

    /// The reason for the deviations of an entry, given after the deed.
    pub fn explain(
        &mut self,
        entry: i64,
        reason: Reason,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        self.write(|w| {
            deviation_there(w, entry, None)?;
            about(w, "explain", entry, What::Explained { reason }, who, stamp)
        })
    }
}

// The last action of this person at this station that can be taken back, and why the very last one stays, where it does.
fn last_undoable(
    conn: &Connection,
    who: &Who,
) -> Result<(Option<i64>, Option<String>), LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT a.seq, a.deed FROM action a
         WHERE a.writer = ?1 AND a.station = ?2 AND a.deed NOT IN ('undo', 'void', 'relocate', 'amend', 'answer', 'explain', 'clock confirm', 'clock correct', 'person', 'pin', 'alert told')
           AND EXISTS (SELECT 1 FROM entry e WHERE e.action = a.seq
                       AND e.seq NOT IN (SELECT entry FROM void))
         ORDER BY a.seq DESC",
    )?;
    let mut rows = list.query(params![who.writer, who.station])?;
    let mut stays = None;
    while let Some(row) = rows.next()? {
        let (seq, deed): (i64, String) = (row.get(0)?, row.get(1)?);
        let fault = standing_of(conn, seq)?
            .iter()
            .map(|e| unvoidable(conn, e))
            .find_map(Result::transpose)
            .transpose()?;
        match fault {
            None => return Ok((Some(seq), stays)),
            Some(why) => {
                stays.get_or_insert(format!("action {seq} ({deed}) cannot be taken back: {why}"));
            }
        }
    }
    Ok((None, stays))
}

fn check_reach(w: &Writer<'_>, last: i64, now: Moment) -> Result<(), LedgerError> {
    let Some(action) = action_row(&w.tx, last)? else {
        return Ok(());
    };
    let day = w.calendar.day(now);
    if w.calendar.day(action.written) >= day || now.since(action.written) <= OVER_THE_DAY {
        return Ok(());
    }
    Err(LedgerError::Input(format!(
        "your last action here is {last} ({}), written {}, before this production day; to take it back, name it: hangtime undo --action {last}",
        action.deed,
        w.calendar.stamp(action.written)
    )))
}

fn deviation_there(w: &Writer<'_>, entry: i64, rule: Option<Rule>) -> Result<(), LedgerError> {
    let found: Option<i64> =
        w.tx.prepare_cached(
            "SELECT entry FROM deviation WHERE entry = ?1 AND (?2 IS NULL OR rule = ?2) AND moot IS NULL LIMIT 1",
        )?
        .query_row(params![entry, rule.map(Word::word)], |r| r.get(0))
        .optional()?;
    if found.is_none() {
        return Err(LedgerError::Input(format!(
            "entry {entry} has no such deviation; \"hangtime deviations\" lists them"
        )));
    }
    Ok(())
}

// A word stands once it is given: a second one would look like the only one.
fn unanswered(w: &Writer<'_>, entry: i64, rule: Rule) -> Result<(), LedgerError> {
    let given =
        w.tx.prepare_cached(
            "SELECT a.person, a.written, d.answer FROM deviation d JOIN entry e ON e.seq = d.answer
             JOIN action a ON a.seq = e.action WHERE d.entry = ?1 AND d.rule = ?2",
        )?
        .query_row(params![entry, rule.word()], |r| {
            Ok((
                r.get::<_, String>(0)?,
                Moment(r.get(1)?),
                r.get::<_, i64>(2)?,
            ))
        })
        .optional()?;
    match given {
        None => Ok(()),
        Some((person, at, by)) => Err(LedgerError::Input(format!(
            "{} of entry {entry} was answered by {person} at {} (entry {by}); that word stands, add a note where more is to be said",
            rule.word(),
            w.calendar.stamp(at)
        ))),
    }
}

fn about(
    w: &Writer<'_>,
    deed: &str,
    entry: i64,
    what: What,
    who: &Who,
    stamp: &Stamp,
) -> Result<Saved, LedgerError> {
    let target = entries_where(&w.tx, "WHERE e.seq = ?1", &[entry])?;
    let mut line = Line::shop(what);
    line.corrects = Some(EntrySeq(entry));
    line.piece = target
        .first()
        .and_then(|t| t.piece.as_ref())
        .map(|(p, _)| *p);
    let action = NewAction::at_once(deed, who.clone(), stamp.written, vec![line]);
    w.append(&action, &Shared::default(), stamp)
}

fn one_standing(w: &Writer<'_>, entry: i64) -> Result<EntryRow, LedgerError> {
    let target = entries_where(&w.tx, "WHERE e.seq = ?1", &[entry])?
        .pop()
        .ok_or_else(|| {
            LedgerError::Input(format!(
                "there is no entry {entry}; \"hangtime entries\" lists them"
            ))
        })?;
    check_voidable(w, &target)?;
    Ok(target)
}

fn check_voidable(w: &Writer<'_>, target: &EntryRow) -> Result<(), LedgerError> {
    let seq = target.seq.0;
    if let Some(by) = target.voided_by {
        return Err(LedgerError::Input(format!(
            "entry {seq} was already taken back by entry {}",
            by.0
        )));
    }
    match unvoidable(&w.tx, target)? {
        None => Ok(()),
        Some(why) => Err(LedgerError::Input(format!(
            "entry {seq} cannot be taken back: {why}"
        ))),
    }
}

// Why an entry that stands cannot be taken back, and what to do instead; `None` where it can.
fn unvoidable(conn: &Connection, target: &EntryRow) -> Result<Option<String>, LedgerError> {
    let why = match &target.what {
        What::Piece(Fact::Added(_)) => {
            "a serial is never used twice; scrap the piece with a reason"
        }
        What::Shop(ShopFact::Mix { mix, .. }) => {
            // A coat of a mix is always written after it.
            let used: i64 = conn.query_row(
                &format!(
                    "SELECT count(*) FROM entry WHERE seq > ?2 AND kind {COATS}
                   AND json_extract(body, '$.mix') = ?1 AND seq NOT IN (SELECT entry FROM void)"
                ),
                params![mix, target.seq.0],
                |r| r.get(0),
            )?;
            if used > 0 {
                return Ok(Some(format!(
                    "{used} coats were sprayed with mix {mix}; correct those first"
                )));
            }
            return match check_open(conn, *mix, &pot_level(conn, *mix)?) {
                Ok(()) => Ok(None),
                Err(LedgerError::Input(why)) => Ok(Some(why)),
                Err(other) => Err(other),
            };
        }
        What::Shop(ShopFact::Lot { lot, .. }) => {
            let rests: i64 = conn.query_row(
                "SELECT (SELECT count(*) FROM stock_move WHERE lot = ?1 AND entry <> ?2)
                      + (SELECT count(*) FROM used WHERE lot = ?1) + (SELECT count(*) FROM pour WHERE lot = ?1)",
                params![lot, target.seq.0],
                |r| r.get(0),
            )?;
            return Ok((rests > 0).then(|| {
                format!(
                    "lot {lot} was used, mixed or carried since; correct that first, or count the lot"
                )
            }));
        }
        What::Shop(ShopFact::Stock(StockFact::DrumStarted { drum, .. })) => {
            let later: i64 = conn.query_row(
                "SELECT count(*) FROM noted WHERE topic = 'drum' AND about = ?1 AND entry <> ?2",
                params![drum, target.seq.0],
                |r| r.get(0),
            )?;
            return Ok((later > 0).then(|| {
                format!("{later} entries tell of drum {drum} since; correct those first")
            }));
        }
        What::Piece(_)
        | What::Shop(
            ShopFact::Survey { .. }
            | ShopFact::Outage { .. }
            | ShopFact::Checked { .. }
            | ShopFact::Stock(_)
            | ShopFact::Duty(_)
            | ShopFact::Alert(_)
            | ShopFact::HandOver(_),
        ) => return Ok(None),
        What::Shop(ShopFact::Signed(_)) => {
            "a signed month stays as it was signed; enter what is right, then sign the month again"
        }
        What::Shop(_) => "later entries rest on it; enter the right fact again",
        _ => "it is a correction itself; enter the right fact again",
    };
    Ok(Some(why.to_owned()))
}

// The entries of an action that still count.
fn standing_of(conn: &Connection, action: i64) -> Result<Vec<EntryRow>, LedgerError> {
    entries_where(
        conn,
        "WHERE e.action = ?1 AND e.seq NOT IN (SELECT entry FROM void) ORDER BY e.seq",
        &[action],
    )
}

fn void_action(
    w: &Writer<'_>,
    deed: &str,
    action: i64,
    why: &str,
    who: &Who,
    stamp: &Stamp,
) -> Result<Fixed, LedgerError> {
    let targets = standing_of(&w.tx, action)?;
    if targets.is_empty() {
        return Err(LedgerError::Input(format!(
            "action {action} has no entry that still counts"
        )));
    }
    void_all(w, deed, targets, why, who, stamp)
}

pub(super) fn void_line(target: &EntryRow, why: &str) -> Line {
    let mut line = Line::shop(What::Void {
        why: why.to_owned(),
    });
    line.piece = target.piece.as_ref().map(|(p, _)| *p);
    line.surface.clone_from(&target.surface);
    line.branch = target.branch;
    line.corrects = Some(target.seq);
    line
}

fn void_all(
    w: &Writer<'_>,
    deed: &str,
    voided: Vec<EntryRow>,
    why: &str,
    who: &Who,
    stamp: &Stamp,
) -> Result<Fixed, LedgerError> {
    for target in &voided {
        check_voidable(w, target)?;
    }
    let lines = voided.iter().map(|t| void_line(t, why)).collect();
    let action = NewAction::at_once(deed, who.clone(), stamp.written, lines);
    let saved = w.append(&action, &Shared::default(), stamp)?;
    Ok(Fixed { saved, voided })
}

fn correct(
    w: &Writer<'_>,
    deed: &str,
    target: EntryRow,
    stands: Line,
    why: &str,
    who: &Who,
    stamp: &Stamp,
) -> Result<Fixed, LedgerError> {
    let lines = vec![void_line(&target, why), stands];
    let action = NewAction::at_once(deed, who.clone(), stamp.written, lines);
    let saved = w.append(&action, &Shared::default(), stamp)?;
    Ok(Fixed {
        saved,
        voided: vec![target],
    })
}
