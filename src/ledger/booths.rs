//! The exhaust of a booth: when it stopped with wet work inside, and the check that is due from then on.
//!
//! *Invariants*: after a stop nothing is known of the exhaust until somebody has checked the booth and written it down;
//! a stop blocks no deed.
//!
//! *Not here*: whether anybody may spray.

use super::append::{Line, NewAction, Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use super::stored::Shared;
use crate::shop::recipe::Recipe;
use crate::shop::record::{BoothSeen, Fact, ShopFact, What};
use crate::shop::standing::Site;
use crate::shop::text::clean;
use crate::units::{Moment, Span};

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
        let mut list = self.conn.prepare_cached(
            "SELECT name FROM room UNION SELECT room FROM stay WHERE room IS NOT NULL ORDER BY 1",
        )?;
        let rows = list.query_map([], |r| r.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
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
        self.shop_fact(
            "booth check",
            ShopFact::Checked { booth, seen },
            at,
            who,
            stamp,
        )
    }

    /// The booths whose exhaust stopped and that nobody has checked since, as of `at`.
    pub fn exhaust_unknown(&self, at: Moment) -> Result<Vec<ExhaustUnknown>, LedgerError> {
        let mut list = self.conn.prepare_cached(
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
}
