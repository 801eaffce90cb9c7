//! What the record knows of the clock: whether it can be believed, who confirmed it, and which stretch was wrong.
//!
//! *Invariants*: order is the sequence number. An action that is written while the clock is in doubt is marked
//! `doubtful`, and every one after it until a named person confirms the clock; so the newest action alone tells whether
//! one of them is open. Nothing here shortens a wait.
//!
//! *Not here*: reading the clock; how a doubt is shown.

use super::append::{Line, NewAction, Saved, Stamp, Who, Writer};
use super::corrections::void_line;
use super::deeds::{DeedRequest, Plan};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{EntryRow, entries_where};
use super::stored::Shared;
use crate::shop::calendar::Calendar;
use crate::shop::record::{Fact, ShopFact, What};
use crate::shop::text::clean;
use crate::units::{Moment, Span};
use rusqlite::{Connection, OptionalExtension, params};

/// The wall clock and the machine's own time may differ by this much: clocks that are set over the network are drawn
/// along slowly, and shop times are read to the minute.
const APART: Span = Span::minutes(2);
/// A moment this much before the newest written time is no doubt: another terminal was quicker in taking its turn.
const TURN: Span = Span::seconds(2);
/// After this much time without an entry or a reading nothing tells any more whether a clock is right.
const SILENT: Span = Span::hours(12);
/// A deed that is written within this time takes its time from this clock, and not from memory or paper.
const FRESH: Span = Span::minutes(30);

/// Why a clock is not believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockDoubt {
    /// It stands before the newest written time.
    Earlier {
        /// By how much.
        by: Span,
        /// The newest action.
        action: i64,
        /// When that was written.
        written: Moment,
    },
    /// It went otherwise than the machine's own time since an action.
    Apart {
        /// The action.
        action: i64,
        /// What the clock says has gone by since then.
        wall: Span,
        /// What the machine says.
        machine: Span,
    },
    /// The machine was started anew and nothing was written or read for so long that nothing tells.
    Silent {
        /// How long.
        for_: Span,
    },
    /// An action was written in doubt and nobody confirmed the clock since.
    Open {
        /// The newest such action.
        action: i64,
    },
}

impl ClockDoubt {
    /// The doubt in words.
    pub fn words(&self, calendar: &Calendar) -> String {
        match self {
            Self::Earlier {
                by,
                action,
                written,
            } => format!(
                "it stands {} before action {action}, written {}",
                by.words(),
                calendar.full(*written)
            ),
            Self::Apart {
                action,
                wall,
                machine,
            } => format!(
                "since action {action} it went {}, the machine {}",
                wall.words(),
                machine.words()
            ),
            Self::Silent { for_ } => format!(
                "the machine was restarted and the newest entry or reading is {} old: nothing tells whether it is right",
                for_.words()
            ),
            Self::Open { action } => format!("action {action} was written in doubt"),
        }
    }
}

/// What is known of the clock at a moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClockFacts {
    /// The newest action: its number and when it was written.
    pub newest: Option<(i64, Moment)>,
    /// The machine's time since the newest action, where that was written under the same start.
    pub since: Option<Span>,
    /// The newest reading of a logger that is not in the future.
    pub reading: Option<Moment>,
    /// Why the clock is not believed; empty when it is confirmed.
    pub doubts: Vec<ClockDoubt>,
}

impl ClockFacts {
    /// What it must be by the newest entry and the machine's time since then.
    pub fn reckoned(&self) -> Option<Moment> {
        let (_, written) = self.newest?;
        self.since.map(|s| written.plus(s))
    }
}

/// What a correction of the clock did.
#[derive(Debug, Clone)]
pub struct ClockFixed {
    /// The action that says so.
    pub saved: Saved,
    /// Entries that got other times: those of before.
    pub moved: Vec<EntryRow>,
    /// Entries that keep their times: they are only marked.
    pub marked: Vec<EntryRow>,
}

impl Ledger {
    /// What is known of a clock that says `now`, `boot_ms` after the machine's start. A demo has no clock to doubt.
    pub fn clock_facts(
        &self,
        now: Moment,
        boot_ms: Option<i64>,
    ) -> Result<ClockFacts, LedgerError> {
        let mut facts = facts(&self.conn, self.boot.as_deref(), now, boot_ms)?;
        if self.demo() {
            facts.doubts.clear();
        }
        Ok(facts)
    }

    /// A named person says that the clock is right.
    pub fn confirm_clock(&mut self, who: &Who, stamp: &Stamp) -> Result<Saved, LedgerError> {
        let calendar = self.calendar();
        self.write(|w| {
            let facts = facts(&w.tx, w.boot, stamp.written, stamp.boot_ms)?;
            let doubted = facts.doubts.iter().map(|d| d.words(&calendar)).collect();
            let line = Line::shop(What::Shop(ShopFact::ClockConfirmed { doubted }));
            let action =
                NewAction::at_once("clock confirm", who.clone(), stamp.written, vec![line]);
            w.append(&action, &Shared::default(), stamp)
        })
    }

    /// Says that the clock was wrong while actions `from` to `to` were written, and adds `by` to the times of their
    /// deeds: each gets a new entry that stands for it, in one action. Deeds in `keep` took their times elsewhere and
    /// are left; facts that others name by number (a piece taken in, a defect) and facts of the shop are only marked.
    #[allow(
        clippy::too_many_arguments,
        reason = "a correction is only worth keeping with all of these"
    )]
    pub fn correct_clock(
        &mut self,
        from: i64,
        to: i64,
        by: Span,
        keep: &[i64],
        why: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<ClockFixed, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        if by.0 == 0 {
            return Err(LedgerError::Input(
                "by how much was it wrong? write a span such as 3h, or -1h for a clock that was fast".to_owned(),
            ));
        }
        self.write(|w| {
            let newest: i64 =
                w.tx.query_row("SELECT coalesce(max(seq), 0) FROM action", [], |r| r.get(0))?;
            if from < 1 || from > to || to > newest {
                return Err(LedgerError::Input(format!(
                    "actions {from} to {to} are not in the record; write numbers from 1 to {newest}, the first one first"
                )));
            }
            let rows = entries_where(
                &w.tx,
                "WHERE e.action BETWEEN ?1 AND ?2 AND e.seq NOT IN (SELECT entry FROM void) ORDER BY e.seq",
                &[from, to],
            )?;
            if let Some(unknown) = keep.iter().find(|k| !rows.iter().any(|r| r.seq.0 == **k)) {
                return Err(LedgerError::Input(format!(
                    "entry {unknown} to keep is none of these actions; \"hangtime entries\" lists them"
                )));
            }
            let took_from_it = |r: &EntryRow| {
                let What::Piece(fact) = &r.what else { return false };
                !keep.contains(&r.seq.0)
                    && !matches!(fact, Fact::Added(_) | Fact::Flawed { .. } | Fact::Mended { .. })
            };
            let (moved, marked): (Vec<_>, Vec<_>) = rows.into_iter().partition(took_from_it);
            let fact = ShopFact::ClockCorrected { from, to, by, why: why.clone() };
            let mut lines = vec![Line::shop(What::Shop(fact))];
            for target in &moved {
                let mut stands = Line::shop(target.what.clone());
                stands.piece = target.piece.as_ref().map(|(p, _)| *p);
                stands.surface.clone_from(&target.surface);
                stands.branch = target.branch;
                stands.times = Some((target.began.plus(by), target.ended.plus(by)));
                stands.corrects = Some(target.seq);
                lines.extend([void_line(target, &format!("clock: {why}")), stands]);
            }
            let action = NewAction::at_once("clock correct", who.clone(), stamp.written, lines);
            let saved = w.append(&action, &Shared::default(), stamp)?;
            Ok(ClockFixed { saved, moved, marked })
        })
    }
}

struct Newest {
    seq: i64,
    written: Moment,
    boot_ms: Option<i64>,
    doubtful: bool,
}

fn newest(conn: &Connection) -> Result<Option<Newest>, LedgerError> {
    Ok(conn
        .prepare_cached(
            "SELECT seq, written, boot_ms, clock FROM action ORDER BY seq DESC LIMIT 1",
        )?
        .query_row([], |r| {
            Ok(Newest {
                seq: r.get(0)?,
                written: Moment(r.get(1)?),
                boot_ms: r.get(2)?,
                doubtful: r.get::<_, String>(3)? == "doubtful",
            })
        })
        .optional()?)
}

fn boot_of(conn: &Connection, action: i64) -> Result<Option<String>, LedgerError> {
    Ok(conn
        .prepare_cached(
            "SELECT id FROM boot WHERE first_action <= ?1 ORDER BY first_action DESC LIMIT 1",
        )?
        .query_row([action], |r| r.get(0))
        .optional()?)
}

fn facts(
    conn: &Connection,
    boot: Option<&str>,
    now: Moment,
    boot_ms: Option<i64>,
) -> Result<ClockFacts, LedgerError> {
    let reading: Option<i64> = conn
        .prepare_cached(
            "SELECT max((SELECT max(at) FROM reading WHERE room = r.name AND at <= ?1)) FROM room r",
        )?
        .query_row([now.0], |r| r.get(0))?;
    let reading = reading.map(Moment);
    let mut out = ClockFacts {
        newest: None,
        since: None,
        reading,
        doubts: Vec::new(),
    };
    let Some(newest) = newest(conn)? else {
        return Ok(out);
    };
    out.newest = Some((newest.seq, newest.written));
    let same_start = boot.is_some() && boot_of(conn, newest.seq)?.as_deref() == boot;
    // A machine's time that runs backwards under one start is a container that was started anew.
    out.since = match (newest.boot_ms, boot_ms) {
        (Some(then), Some(this)) if same_start && this >= then.saturating_sub(TURN.0) => {
            Some(Span((this - then).max(0)))
        }
        _ => None,
    };
    let wall = now.since(newest.written);
    if newest.doubtful {
        out.doubts.push(ClockDoubt::Open { action: newest.seq });
    }
    if wall.0 < -TURN.0 {
        out.doubts.push(ClockDoubt::Earlier {
            by: Span(-wall.0),
            action: newest.seq,
            written: newest.written,
        });
    }
    if let Some(machine) = out.since {
        if (wall.0 - machine.0).abs() > APART.0 {
            out.doubts.push(ClockDoubt::Apart {
                action: newest.seq,
                wall,
                machine,
            });
        }
    } else {
        let last = reading.map_or(newest.written, |r| r.max(newest.written));
        let for_ = now.since(last);
        if for_ > SILENT {
            out.doubts.push(ClockDoubt::Silent { for_ });
        }
    }
    Ok(out)
}

/// Where the written time of an action comes from, as it is stored with it.
pub(super) fn word(
    w: &Writer<'_>,
    action: &NewAction,
    stamp: &Stamp,
) -> Result<&'static str, LedgerError> {
    let confirms = action
        .lines
        .iter()
        .any(|l| matches!(l.what, What::Shop(ShopFact::ClockConfirmed { .. })));
    if stamp.clock != "system" || confirms {
        return Ok(stamp.clock);
    }
    let facts = facts(&w.tx, w.boot, stamp.written, stamp.boot_ms)?;
    Ok(if facts.doubts.is_empty() {
        stamp.clock
    } else {
        "doubtful"
    })
}

/// Notes from which action on the machine runs under another start.
pub(super) fn note_boot(w: &Writer<'_>, action: i64) -> Result<(), LedgerError> {
    if let Some(boot) = w.boot
        && boot_of(&w.tx, action)?.as_deref() != Some(boot)
    {
        w.tx.execute(
            "INSERT INTO boot (first_action, id) VALUES (?1, ?2)",
            params![action, boot],
        )?;
    }
    Ok(())
}

/// The latest moment at which a deed can have ended: the written time, or what the machine reckons where the clock
/// stands before the record.
pub(super) fn latest(w: &Writer<'_>, stamp: &Stamp) -> Result<Moment, LedgerError> {
    if stamp.clock != "system" {
        return Ok(stamp.written);
    }
    let facts = facts(&w.tx, w.boot, stamp.written, stamp.boot_ms)?;
    let behind = facts
        .doubts
        .iter()
        .any(|d| matches!(d, ClockDoubt::Earlier { .. }));
    Ok(match facts.reckoned().filter(|_| behind) {
        // To the end of its minute: it is offered, and typed back, without seconds.
        Some(reckoned) => reckoned.minute_up().max(stamp.written),
        None => stamp.written,
    })
}

/// Refuses a deed that a slow clock would put before one that is recorded: the order of the two would be wrong for ever,
/// and the time between them less than none.
pub(super) fn keep_order(
    w: &Writer<'_>,
    request: &DeedRequest,
    plan: &Plan,
    stamp: &Stamp,
) -> Result<(), LedgerError> {
    if stamp.clock != "system" || stamp.written.since(request.ended) > FRESH {
        return Ok(());
    }
    let facts = facts(&w.tx, w.boot, stamp.written, stamp.boot_ms)?;
    let behind = facts
        .doubts
        .iter()
        .any(|d| matches!(d, ClockDoubt::Earlier { .. }));
    if !behind {
        return Ok(());
    }
    for piece in plan.taken() {
        let later: Option<(i64, i64, String)> =
            w.tx.prepare_cached(
                "SELECT e.seq, e.ended, a.deed FROM entry e JOIN action a ON a.seq = e.action
                 WHERE e.piece = ?1 AND e.ended > ?2 AND e.seq NOT IN (SELECT entry FROM void)
                   AND e.kind NOT IN ('added/1', 'placed/1', 'note/1', 'void/1')
                 ORDER BY e.ended DESC LIMIT 1",
            )?
            .query_row(params![piece.now.id.0, request.ended.0], |r| {
                Ok((r.get(0)?, r.get(1)?, r.get(2)?))
            })
            .optional()?;
        if let Some((entry, ended, deed)) = later {
            let calendar = &w.calendar;
            let offer = facts.reckoned().map_or_else(
                || {
                    "set the clock, or confirm it with \"hangtime clock confirm\", and log it again".to_owned()
                },
                |r| {
                    let text = calendar.local(r.minute_up()).format("%Y-%m-%d %H:%M");
                    format!("by the record and the machine it is {text}: set the clock, or write --ended '{text}'")
                },
            );
            return Err(LedgerError::Input(format!(
                "order conflict: this clock says {}, and a {deed} on {} ended {} (entry {entry}); nothing was saved. {offer}",
                calendar.full(request.ended),
                piece.now.piece.serial,
                calendar.full(Moment(ended)),
            )));
        }
    }
    Ok(())
}
