//! The exhaust of a booth: when it stopped with wet work inside, and the check that is due from then on.
//!
//! *Invariants*: after a stop nothing is known of the exhaust until somebody has checked the booth and written it down;
//! a stop blocks no deed.
//!
//! *Not here*: whether anybody may spray.

use super::append::{Line, NewAction, Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::EntryRow;
use super::stored::{COATS, Shared};
use crate::shop::calendar::Day;
use crate::shop::climate::Sample;
use crate::shop::recipe::Recipe;
use crate::shop::record::{BoothSeen, Fact, PieceId, ShopFact, What};
use crate::shop::standing::Site;
use crate::shop::text::clean;
use crate::units::{Humidity, Moment, Span, Temperature};
use rusqlite::{Connection, OptionalExtension};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The name under which the limit on the velocity at a booth's face is entered.
pub const FACE_VELOCITY: &str = "face velocity";
/// The name under which it is entered how often a booth is checked.
pub const CHECK_EVERY: &str = "booth check every";
/// The name under which it is entered how often the velocity at its face is surveyed.
pub const SURVEY_EVERY: &str = "face survey every";
/// The name under which the rise of a booth's filter gauge is entered.
pub const FILTER_RISE: &str = "filter rise";
/// Where a limit holds that is for every booth; no booth has this name.
pub const ALL_BOOTHS: &str = "all booths";

/// Where a coat `e` on a piece with the stay `s` was sprayed: what the coat says, else the room in which the piece hung.
pub(super) const SPRAYED_IN: &str =
    "CASE e.kind WHEN 'coat/3' THEN json_extract(e.body, '$.booth') ELSE s.room END";

/// The fact that a booth was checked.
pub(super) fn checked(booth: &str, seen: &BoothSeen) -> Result<ShopFact, LedgerError> {
    let booth = clean("booth", booth, 30).map_err(LedgerError::Input)?;
    let note = seen
        .note
        .as_ref()
        .map(|n| clean("note", n, 200))
        .transpose()
        .map_err(LedgerError::Input)?;
    if seen.new_filters && seen.gauge.is_none() {
        return Err(LedgerError::Input(
            "new filters need the reading of the gauge with them: the mark is counted from it"
                .to_owned(),
        ));
    }
    let seen = BoothSeen {
        note,
        ..seen.clone()
    };
    Ok(ShopFact::Checked { booth, seen })
}

/// A booth of whose exhaust nothing is known since it stopped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExhaustUnknown {
    /// The booth.
    pub booth: String,
    /// When its exhaust stopped.
    pub from: Moment,
    /// When it ran again, where that is known.
    pub to: Option<Moment>,
    /// The entry that says so.
    pub entry: i64,
}

/// A production day on which a booth was sprayed in without a check before it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MissedCheck {
    /// The booth.
    pub booth: String,
    /// The day.
    pub day: Day,
    /// When the first coat of that day began there.
    pub began: Moment,
}

/// What a recorded stop came to.
#[derive(Debug, Clone)]
pub struct OutageReport {
    /// Its action.
    pub saved: Saved,
    /// Serials of the pieces that were wet there, with the end of the coat.
    pub wet: Vec<(String, Moment)>,
}

// Until when a coat counts as wet: the wait that the recipe has between coats of its kind, or else before the step
// that comes next. A recipe without either says nothing, and the coat counts as wet for the whole day.
fn wet_until(site: &Site<'_>, recipe: &Recipe) -> Option<Moment> {
    let wet = site.standing.last_wet?;
    let of_kind = site
        .steps
        .iter()
        .filter(|s| Some(s.kind) == site.standing.last_wet_kind);
    let between = of_kind.filter_map(|s| s.between).max();
    let next = site
        .standing
        .next(site.steps)
        .and_then(|i| site.steps.get(i));
    let slow = recipe
        .retarder_rule(site.standing.retarder_last)
        .and_then(|r| r.between);
    let wait = between.max(slow).or(next.and_then(|s| s.after));
    Some(wet.plus(wait.unwrap_or(Span::hours(24))))
}

impl Ledger {
    /// Records that the exhaust of a booth stopped. Each piece that was wet there gets a note to look at it.
    pub fn record_outage(
        &mut self,
        booth: &str,
        from: Moment,
        to: Option<Moment>,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<OutageReport, LedgerError> {
        let booth = clean("booth", booth, 30).map_err(LedgerError::Input)?;
        let end = to.unwrap_or(stamp.written);
        let clock = |m| self.calendar().full(m);
        if end < from {
            return Err(LedgerError::Input(format!(
                "the exhaust of {booth} cannot run again at {} before it stopped at {}; turn the times round",
                clock(end),
                clock(from)
            )));
        }
        let mut wet = Vec::new();
        let mut lines = vec![Line::shop(What::Shop(ShopFact::Outage {
            booth: booth.clone(),
            from,
            to,
        }))];
        for seen in self.floor(end, None)? {
            let there = seen
                .now
                .place_at(from)
                .into_iter()
                .chain(seen.now.place())
                .any(|s| s.room.as_deref() == Some(booth.as_str()));
            let still = seen
                .sites()
                .any(|s| wet_until(&s, &seen.recipe).is_some_and(|until| until > from));
            if let (true, true, Some(ended)) = (there, still, seen.last_wet()) {
                let text = format!(
                    "look at it: wet when the exhaust of {booth} stopped at {}",
                    clock(from)
                );
                lines.push(Line::piece(
                    seen.now.id,
                    seen.now.branch(),
                    What::Piece(Fact::Note { text }),
                ));
                wet.push((seen.now.piece.serial.clone(), ended));
            }
        }
        let saved = self.write(|w| {
            let action = NewAction {
                began: from,
                ended: to.unwrap_or(from),
                ..NewAction::at_once("power cut", who.clone(), from, lines)
            };
            w.append(&action, &Shared::default(), stamp)
        })?;
        Ok(OutageReport { saved, wet })
    }

    /// Names of the rooms that were declared or that a piece ever hung in.
    pub fn rooms(&self) -> Result<Vec<String>, LedgerError> {
        rooms(&self.conn)
    }

    /// Records that a booth was checked before spraying.
    pub fn record_check(
        &mut self,
        booth: &str,
        seen: &BoothSeen,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        self.shop_fact("booth check", checked(booth, seen)?, at, who, stamp)
    }

    // The last action that was written before a moment. What happened from that moment on was written from it on, so a
    // question about the last days need not read the record of years.
    fn written_before(&self, from: Moment) -> Result<i64, LedgerError> {
        let mut newest = self.conn.prepare_cached(
            "SELECT seq FROM action WHERE written < ?1 ORDER BY seq DESC LIMIT 1",
        )?;
        let found = newest.query_row([from.0], |r| r.get(0)).optional()?;
        Ok(found.unwrap_or(0))
    }

    /// The actions of coats that were sprayed in a room and ended after `from` and by `to`, in their order; where a coat does
    /// not say, it is the room in which the piece hung when it began.
    pub fn coats_in(&self, room: &str, from: Moment, to: Moment) -> Result<Vec<i64>, LedgerError> {
        let mut list = self.conn.prepare_cached(&format!(
            "SELECT DISTINCT e.action FROM entry e
               LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
             WHERE e.action > ?4 AND {SPRAYED_IN} = ?1 AND e.ended > ?2 AND e.ended <= ?3 AND e.kind {COATS}
               AND e.seq NOT IN (SELECT entry FROM void)
             ORDER BY e.action",
        ))?;
        let before = self.written_before(from)?;
        let rows = list.query_map(rusqlite::params![room, from.0, to.0, before], |r| r.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The coats of pieces that hung in a room while they were fresh: each entry that ended after `from` and by `to`, with the
    /// moment from which it was there, in order. A coat that came there a day and more after its end is left out.
    pub fn fresh_in(
        &self,
        room: &str,
        from: Moment,
        to: Moment,
    ) -> Result<Vec<(Moment, i64)>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            &format!("SELECT min(max(e.ended, s.from_ms)) AS there, e.seq FROM entry e
               JOIN stay s ON s.piece = e.piece AND s.until_ms > e.ended AND s.from_ms <= ?3
                AND s.from_ms < e.ended + 86400000
             WHERE e.action > ?4 AND +s.room = ?1 AND e.ended > ?2 AND e.ended <= ?3 AND e.kind {COATS}
               AND e.seq NOT IN (SELECT entry FROM void)
             GROUP BY +e.seq ORDER BY there, e.seq"),
        )?;
        let before = self.written_before(from)?;
        let rows = list.query_map(rusqlite::params![room, from.0, to.0, before], |r| {
            Ok((Moment(r.get(0)?), r.get(1)?))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The production days, from the one that begins at `from`, on which a booth was sprayed in without a check of that day
    /// before the first coat, by `at`: booth, day, when the first coat began. A check that comes after it changes nothing.
    pub fn missed_checks(&self, from: Moment, at: Moment) -> Result<Vec<MissedCheck>, LedgerError> {
        let calendar = self.calendar();
        let mut list = self.conn.prepare_cached(
            "SELECT booth, at FROM exhaust WHERE stopped = 0 AND entry NOT IN (SELECT entry FROM void)",
        )?;
        let rows = list.query_map([], |r| Ok((r.get(0)?, Moment(r.get(1)?))))?;
        let mut checks: BTreeMap<(String, Day), Moment> = BTreeMap::new();
        for row in rows {
            let (booth, when): (String, Moment) = row?;
            let first = checks.entry((booth, calendar.day(when))).or_insert(when);
            *first = when.min(*first);
        }
        let mut list = self.conn.prepare_cached(
            "SELECT room, day, began, entry FROM coat_room WHERE day >= ?1 AND day <= ?2 ORDER BY day, room",
        )?;
        let days = [calendar.day(from).0, calendar.day(at).0];
        let rows = list.query_map(days, |r| {
            let sprayed = MissedCheck {
                booth: r.get(0)?,
                day: Day(r.get(1)?),
                began: Moment(r.get(2)?),
            };
            Ok((sprayed, r.get(3)?))
        })?;
        let mut missed = Vec::new();
        for row in rows {
            let (mut sprayed, entry): (MissedCheck, i64) = row?;
            let check = checks.get(&(sprayed.booth.clone(), sprayed.day));
            let covered = |first: Moment| check.is_some_and(|c| *c <= first);
            // What is covered from the earliest coat that can be is covered from every one.
            if covered(sprayed.began) {
                continue;
            }
            if sprayed.began < from || sprayed.began > at || !self.was_in(entry, &sprayed.booth)? {
                match self.first_coat(&sprayed, from, at)? {
                    Some(first) if !covered(first) => sprayed.began = first,
                    _ => continue,
                }
            }
            missed.push(sprayed);
        }
        Ok(missed)
    }

    // Whether a coat counts and was sprayed in a room.
    fn was_in(&self, entry: i64, room: &str) -> Result<bool, LedgerError> {
        let mut found = self.conn.prepare_cached(&format!(
            "SELECT 1 FROM entry e LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
             WHERE e.seq = ?1 AND {SPRAYED_IN} = ?2 AND NOT EXISTS (SELECT 1 FROM void v WHERE v.entry = e.seq)",
        ))?;
        Ok(found.exists(rusqlite::params![entry, room])?)
    }

    // When the first coat of a production day in a booth began, from one moment to another.
    fn first_coat(
        &self,
        of: &MissedCheck,
        from: Moment,
        at: Moment,
    ) -> Result<Option<Moment>, LedgerError> {
        let mut found = self.conn.prepare_cached(&format!(
            "SELECT min(e.began) FROM entry e
               LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
             WHERE e.day = ?1 AND {SPRAYED_IN} = ?2 AND e.began >= ?3 AND e.began <= ?4 AND e.kind {COATS}
               AND NOT EXISTS (SELECT 1 FROM void v WHERE v.entry = e.seq)",
        ))?;
        let first: Option<i64> = found
            .query_row(rusqlite::params![of.day.0, of.booth, from.0, at.0], |r| {
                r.get(0)
            })?;
        Ok(first.map(Moment))
    }

    /// The recipes of the pieces in process that hang in a room at `at`, each once, by label.
    pub fn recipes_in(&self, room: &str, at: Moment) -> Result<Vec<Arc<Recipe>>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT DISTINCT piece FROM stay WHERE room = ?1 AND from_ms <= ?2 AND until_ms > ?2",
        )?;
        let ids: Vec<i64> = list
            .query_map(rusqlite::params![room, at.0], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        let mut found = BTreeMap::new();
        for id in ids {
            let Some(now) = self.piece_at(PieceId(id), at, None)? else {
                continue;
            };
            if now.in_process() {
                let recipe = self.recipe(&now.piece.recipe, now.piece.revision)?;
                found.insert(recipe.label(), recipe);
            }
        }
        Ok(found.into_values().collect())
    }

    /// The booths that a check, a stop, a survey or a limit of booths names.
    pub fn booths(&self, at: Moment) -> Result<BTreeSet<String>, LedgerError> {
        let mut names: BTreeSet<String> =
            self.last_checks(at)?.into_iter().map(|c| c.booth).collect();
        names.extend(self.exhaust_unknown(at)?.into_iter().map(|s| s.booth));
        names.extend(self.surveys()?.into_iter().map(|s| s.booth));
        let of_booths = [FACE_VELOCITY, CHECK_EVERY, SURVEY_EVERY, FILTER_RISE];
        let limits = self.ceilings()?.into_iter();
        names.extend(
            limits
                .filter(|l| of_booths.contains(&l.what.as_str()) && l.scope != ALL_BOOTHS)
                .map(|l| l.scope),
        );
        Ok(names)
    }

    /// The newest reading of a room by `at`, however old, and the entry that brought it.
    pub fn newest_reading(
        &self,
        room: &str,
        at: Moment,
    ) -> Result<Option<(Sample, EntryRow)>, LedgerError> {
        let found = self
            .conn
            .prepare_cached(
                "SELECT at, temperature_mc, humidity_cpct, entry FROM reading
                 WHERE room = ?1 AND at <= ?2 ORDER BY at DESC LIMIT 1",
            )?
            .query_row(rusqlite::params![room, at.0], |r| {
                let sample = Sample {
                    at: Moment(r.get(0)?),
                    temperature: Temperature(r.get(1)?),
                    humidity: r.get::<_, Option<i64>>(2)?.map(Humidity),
                };
                Ok((sample, r.get::<_, i64>(3)?))
            })
            .optional()?;
        found
            .map(|(sample, entry)| Ok((sample, self.entry(entry)?)))
            .transpose()
    }

    /// The booths whose exhaust stopped and that nobody has checked since, as of `at`.
    pub fn exhaust_unknown(&self, at: Moment) -> Result<Vec<ExhaustUnknown>, LedgerError> {
        exhaust_unknown(&self.conn, at)
    }

    /// The pieces that were touched up from a moment on, with the end of the newest touch-up of each, as of `at`.
    pub fn touch_ups(
        &self,
        from: Moment,
        at: Moment,
    ) -> Result<Vec<(PieceId, Moment)>, LedgerError> {
        // A wrong deed that was relocated or amended keeps its action's word, so the fact itself is asked too.
        let mut list = self.conn.prepare_cached(
            &format!("SELECT e.piece, max(e.ended) FROM action a JOIN entry e ON e.action = a.seq
             WHERE a.ended >= ?1 AND a.deed IN ('touch-up', 'relocate', 'amend') AND e.piece IS NOT NULL
               AND e.began <= ?2 AND e.kind {COATS} AND json_extract(e.body, '$.touch_up') = 1
               AND e.seq NOT IN (SELECT entry FROM void)
             GROUP BY e.piece"),
        )?;
        let rows = list.query_map([from.0, at.0], |r| {
            Ok((PieceId(r.get(0)?), Moment(r.get(1)?)))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

/// The rooms that were declared or that a piece ever hung in.
pub(super) fn rooms(conn: &Connection) -> Result<Vec<String>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT name FROM room UNION SELECT room FROM stay WHERE room IS NOT NULL ORDER BY 1",
    )?;
    let rows = list.query_map([], |r| r.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The booths that a check, a stop, a survey or a limit of booths ever named, for a plan.
pub(super) fn booth_names(conn: &Connection) -> Result<BTreeSet<String>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT DISTINCT booth FROM exhaust WHERE entry NOT IN (SELECT entry FROM void)
         UNION SELECT DISTINCT booth FROM survey WHERE entry NOT IN (SELECT entry FROM void)
         UNION SELECT scope FROM ceiling WHERE what IN (?1, ?2, ?3, ?4) AND scope <> ?5",
    )?;
    let of = [
        FACE_VELOCITY,
        CHECK_EVERY,
        SURVEY_EVERY,
        FILTER_RISE,
        ALL_BOOTHS,
    ];
    let rows = list.query_map(of, |r| r.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The same for a plan.
pub(super) fn exhaust_unknown(
    conn: &Connection,
    at: Moment,
) -> Result<Vec<ExhaustUnknown>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT booth, at, until_ms, entry FROM exhaust s
         WHERE stopped = 1 AND at <= ?1 AND entry NOT IN (SELECT entry FROM void)
           AND NOT EXISTS (SELECT 1 FROM exhaust c WHERE c.booth = s.booth AND c.stopped = 0
                             AND c.at >= coalesce(s.until_ms, s.at) AND c.at <= ?1
                             AND c.entry NOT IN (SELECT entry FROM void))
         ORDER BY booth, at DESC",
    )?;
    let rows = list.query_map([at.0], |r| {
        Ok(ExhaustUnknown {
            booth: r.get(0)?,
            from: Moment(r.get(1)?),
            to: r.get::<_, Option<i64>>(2)?.map(Moment),
            entry: r.get(3)?,
        })
    })?;
    let mut all: Vec<ExhaustUnknown> = rows.collect::<Result<_, _>>()?;
    all.dedup_by(|later, first| later.booth == first.booth);
    Ok(all)
}
