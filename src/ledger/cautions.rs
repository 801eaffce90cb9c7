//! Cautions at the moment of use: which are due at a deed, which of them somebody read, what lay in a booth before, and
//! when a booth was cleaned.
//!
//! *Invariants*: a caution blocks no deed. What is due follows from the record alone, so that a cleaning or a lot that is
//! written down later is seen by the next question. It is read for one mix, lot or booth and one production day.
//!
//! *Not here*: the texts (`shop::cautions`), how they are shown (`reports::cautions`).

use super::append::{Line, NewAction, Saved, Stamp, Who};
use super::booths::SPRAYED_IN;
use super::deeds::{DeedRequest, DeedWhat, Plan};
use super::error::LedgerError;
use super::open::Ledger;
use super::stored::{COATS, Shared};
use crate::shop::calendar::Day;
use crate::shop::cautions::{
    Caution, Circumstance, HARDENING, Hazard, ONE_AFTER_ANOTHER, When, find, for_material,
};
use crate::shop::duty::{BOOTH_CLEANED, DutyFact};
use crate::shop::material::{Material, Pour};
use crate::shop::record::{ShopFact, What};
use crate::shop::text::clean;
use crate::units::{Moment, Span};
use rusqlite::{OptionalExtension, params};
use std::collections::BTreeSet;
use std::sync::Arc;

/// How many of the newest entries are looked through for coats of which no amount was logged: those that have one are
/// found however old they are. Some days of a factory, years of a small shop.
const LOOKED_THROUGH: i64 = 20_000;

/// What is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cup<'a> {
    /// A mix by its number.
    Mix(u32),
    /// A lot.
    Lot(&'a str),
    /// What is about to be mixed.
    Parts(&'a [Pour]),
    /// Nobody said.
    Unknown,
}

impl<'a> Cup<'a> {
    /// What a deed names as being in the cup.
    pub fn of(request: &'a DeedRequest) -> Self {
        match &request.what {
            DeedWhat::Coat { mix: Some(mix), .. } => Self::Mix(*mix),
            DeedWhat::Coat { lot: Some(lot), .. } => Self::Lot(lot),
            _ => Self::Unknown,
        }
    }
}

impl Cup<'_> {
    /// What a caution about it is about: `mix 7`, `lot L-9`.
    pub fn about(self) -> Option<String> {
        match self {
            Self::Mix(mix) => Some(format!("mix {mix}")),
            Self::Lot(lot) => Some(format!("lot {lot}")),
            Self::Parts(_) => Some("the mix to be made".to_owned()),
            Self::Unknown => None,
        }
    }
}

/// A use at which cautions are due.
#[derive(Debug, Clone, Copy)]
pub struct AtUse<'a> {
    /// What is done.
    pub when: When,
    /// With what.
    pub cup: Cup<'a>,
    /// In which booth or room, where that is known.
    pub booth: Option<&'a str>,
    /// When it begins.
    pub at: Moment,
}

impl AtUse<'_> {
    // What a caution is about where nobody said what is used: the booth or room, else the work itself.
    fn place(&self) -> String {
        if let Some(booth) = self.booth {
            return booth.to_owned();
        }
        let missing = match self.when {
            When::Mixing => "no mix named",
            When::Spraying => "no mix and no booth named",
            When::Storing => "no store named",
            _ => "no room named",
        };
        format!("{} ({missing})", self.when.word())
    }
}

/// A caution that is due at a use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueCaution {
    /// The caution.
    pub caution: &'static Caution,
    /// The mix, lot or booth that it is about.
    pub about: String,
    /// What of the record asks for it; `None` where the material alone does.
    pub because: Option<String>,
    /// Whether somebody is to be told, and that is to be written down.
    pub tell: bool,
    /// Initials of who read it, for the same thing on the same production day.
    pub read: Option<String>,
    /// Who was told, and by whom.
    pub told: Option<(String, String)>,
}

/// A caution that was due at a deed of the past.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WasDue {
    /// Production day of the first such deed.
    pub day: Day,
    /// When it began.
    pub at: Moment,
    /// The caution, and who read it.
    pub due: DueCaution,
}

// The end of a coat, its mix and its lot.
type Sprayed = (Moment, Option<u32>, Option<String>);

/// What was sprayed in a booth before, and may not lie under what is sprayed now.
struct Before {
    ended: Moment,
    what: String,
    caution: &'static Caution,
}

fn hazards(materials: &[(String, Arc<Material>)]) -> Vec<Hazard> {
    let mut list: Vec<Hazard> = materials
        .iter()
        .flat_map(|(_, m)| &m.hazards)
        .filter_map(|h| Hazard::from_word(h))
        .collect();
    list.sort_unstable();
    list.dedup();
    list
}

fn named(materials: &[(String, Arc<Material>)], hazard: Hazard, cup: Cup<'_>) -> String {
    let has = |m: &&(String, Arc<Material>)| m.1.hazards.iter().any(|h| is(h, hazard));
    let names: BTreeSet<&str> = materials
        .iter()
        .filter(has)
        .map(|(_, m)| m.code.as_str())
        .collect();
    let names: Vec<&str> = names.into_iter().collect();
    let names = names.join(" and ");
    match cup.about() {
        Some(about) => format!("{names} ({about})"),
        None => names,
    }
}

fn is(word: &str, hazard: Hazard) -> bool {
    Hazard::from_word(word) == Some(hazard)
}

impl Ledger {
    /// The cautions that are due at a use: first those that something in the record asks for, then those of the material.
    pub fn cautions_due(&self, of: &AtUse<'_>) -> Result<Vec<DueCaution>, LedgerError> {
        let calendar = self.calendar();
        let materials = self.in_cup(of.cup)?;
        let hazards = hazards(&materials);
        let cup = of.cup.about();
        let about_cup = cup.unwrap_or_else(|| of.place());
        let mut list: Vec<DueCaution> = Vec::new();
        let mut say = |caution: Option<&'static Caution>, about: &str, because, tell| {
            list.extend(caution.map(|caution| DueCaution {
                caution,
                about: about.to_owned(),
                because,
                tell,
                read: None,
                told: None,
            }));
        };
        if let (When::Spraying, Some(booth)) = (of.when, of.booth) {
            for (hazard, before) in self.sprayed_before(booth, &hazards, of.at)? {
                let because = format!(
                    "{booth}: {} was sprayed until {}; {} from {}; no cleaning of {booth} is written down in between",
                    before.what,
                    calendar.near(before.ended, of.at),
                    named(&materials, hazard, of.cup),
                    calendar.near(of.at, of.at),
                );
                say(Some(before.caution), booth, Some(because), true);
            }
            let stopped = self.exhaust_unknown(of.at)?;
            if let Some(stop) = stopped.iter().find(|s| s.booth == booth) {
                let because = format!(
                    "{booth}: exhaust stopped at {}",
                    calendar.near(stop.from, of.at)
                );
                let caution = Circumstance::ExhaustUnknown.caution();
                say(caution, booth, Some(because), false);
            } else {
                let checked = self.last_check(booth, of.at)?;
                if checked.is_none_or(|m| calendar.day(m) != calendar.day(of.at)) {
                    let because = checked.map_or_else(
                        || format!("{booth}: no check is written down"),
                        |m| format!("{booth}: last checked {}", calendar.near(m, of.at)),
                    );
                    say(Circumstance::NoCheck.caution(), booth, Some(because), false);
                }
            }
        }
        if matches!(of.when, When::Mixing | When::Spraying | When::Cleaning) {
            for (lot, end) in self.shelf_ends(&materials, calendar.day(of.at))? {
                let because = format!("lot {lot}: shelf life ended {}", end.date());
                let caution = Circumstance::ExpiredLot.caution();
                say(caution, &format!("lot {lot}"), Some(because), false);
            }
        }
        if matches!(of.when, When::Mixing | When::Spraying)
            && HARDENING.iter().any(|h| hazards.contains(h))
        {
            let caution = Circumstance::HardensInThePot.caution();
            let mixed = match of.cup {
                Cup::Mix(mix) => self.mix(mix)?.map(|m| m.mixed),
                _ => None,
            };
            let because = mixed.map(|m| {
                format!(
                    "{about_cup}: mixed {}, {} old",
                    calendar.near(m, of.at),
                    of.at.since(m).words()
                )
            });
            say(caution, &about_cup, because, false);
        }
        for caution in for_material(&hazards, of.when) {
            say(Some(caution), &about_cup, None, false);
        }
        // What the booth's history brought up is not said again as the material's own.
        let mut kept: Vec<DueCaution> = Vec::with_capacity(list.len());
        for due in list {
            if !kept
                .iter()
                .any(|k| k.caution.id == due.caution.id && (k.about == due.about || k.tell))
            {
                kept.push(due);
            }
        }
        self.add_readers(&mut kept, of.at)?;
        Ok(kept)
    }

    // The lots in a cup with their materials. A lot or a mix that was taken back is left out: nothing is known of it.
    fn in_cup(&self, cup: Cup<'_>) -> Result<Vec<(String, Arc<Material>)>, LedgerError> {
        let lots: Vec<String> = match cup {
            Cup::Mix(mix) => super::models::pours(&self.conn, mix)?
                .into_iter()
                .map(|p| p.lot)
                .collect(),
            Cup::Lot(lot) => vec![lot.to_owned()],
            Cup::Parts(parts) => parts.iter().map(|p| p.lot.clone()).collect(),
            Cup::Unknown => Vec::new(),
        };
        let mut list = Vec::with_capacity(lots.len());
        for lot in lots {
            match self.lot_material(&lot) {
                Ok(material) => list.push((lot, material)),
                Err(e) if e.is_input() => {}
                Err(e) => return Err(e),
            }
        }
        Ok(list)
    }

    // The lots whose shelf life was over before a production day.
    fn shelf_ends(
        &self,
        materials: &[(String, Arc<Material>)],
        day: Day,
    ) -> Result<Vec<(String, Day)>, LedgerError> {
        let mut ends = Vec::new();
        for (lot, _) in materials {
            let end: Option<Option<i32>> = self
                .conn
                .prepare_cached("SELECT expires FROM lot WHERE lot = ?1")?
                .query_row([lot], |r| r.get(0))
                .optional()?;
            if let Some(end) = end.flatten().map(Day).filter(|end| *end < day) {
                ends.push((lot.clone(), end));
            }
        }
        Ok(ends)
    }

    /// The lots of some parts whose shelf life is over at a moment, with its last day.
    pub fn expired_lots(
        &self,
        parts: &[Pour],
        at: Moment,
    ) -> Result<Vec<(String, Day)>, LedgerError> {
        let materials = self.in_cup(Cup::Parts(parts))?;
        self.shelf_ends(&materials, self.calendar().day(at))
    }

    // When a booth was checked last.
    fn last_check(&self, booth: &str, at: Moment) -> Result<Option<Moment>, LedgerError> {
        Ok(self
            .conn
            .prepare_cached(
                "SELECT at FROM exhaust WHERE booth = ?1 AND stopped = 0 AND at <= ?2
                   AND entry NOT IN (SELECT entry FROM void) ORDER BY at DESC LIMIT 1",
            )?
            .query_row(params![booth, at.0], |r| r.get(0).map(Moment))
            .optional()?)
    }

    /// Records that a booth with its ducts and filters was freed of deposits.
    pub fn booth_cleaned(
        &mut self,
        booth: &str,
        note: Option<&str>,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let note = note
            .map(|n| clean("note", n, 200))
            .transpose()
            .map_err(LedgerError::Input)?;
        let fact = DutyFact::Done {
            name: BOOTH_CLEANED.to_owned(),
            about: clean("booth", booth, 30).map_err(LedgerError::Input)?,
            answers: Vec::new(),
            note,
        };
        self.shop_fact(BOOTH_CLEANED, ShopFact::Duty(fact), at, who, stamp)
    }

    /// When a booth was cleaned last, by a deed that is called [`BOOTH_CLEANED`].
    pub fn last_cleaned(&self, booth: &str, at: Moment) -> Result<Option<Moment>, LedgerError> {
        let rows = self.noted("done", Some(BOOTH_CLEANED), at)?;
        Ok(rows
            .into_iter()
            .rev()
            .find(|row| {
                matches!(&row.what, What::Shop(ShopFact::Duty(DutyFact::Done { about, .. })) if about == booth)
            })
            .map(|row| row.ended))
    }

    // What was sprayed in a booth since its last cleaning that may not lie under these hazards, the newest of each kind.
    fn sprayed_before(
        &self,
        booth: &str,
        hazards: &[Hazard],
        at: Moment,
    ) -> Result<Vec<(Hazard, Before)>, LedgerError> {
        let mut found = Vec::new();
        let clashes = ONE_AFTER_ANOTHER
            .iter()
            .filter(|(now, ..)| hazards.contains(now));
        let mut since: Option<Moment> = None;
        for (now, before, id) in clashes {
            let Some(caution) = find(id) else { continue };
            let lots = self.lots_with(*before)?;
            if lots.is_empty() {
                continue;
            }
            let from = match since {
                Some(from) => from,
                None => self.last_cleaned(booth, at)?.unwrap_or(Moment(i64::MIN)),
            };
            since = Some(from);
            if let Some((ended, mix, lot)) = self.newest_of(booth, &lots, from, at)? {
                let cup = match (mix, lot.as_deref()) {
                    (Some(mix), _) => Cup::Mix(mix),
                    (None, Some(lot)) => Cup::Lot(lot),
                    (None, None) => Cup::Unknown,
                };
                let what = named(&self.in_cup(cup)?, *before, cup);
                let before = Before {
                    ended,
                    what,
                    caution,
                };
                found.push((*now, before));
            }
        }
        Ok(found)
    }

    // The lots of the materials that bring a hazard along.
    fn lots_with(&self, hazard: Hazard) -> Result<Vec<String>, LedgerError> {
        let mut list = self
            .conn
            .prepare_cached("SELECT lot, material, sheet FROM lot ORDER BY lot")?;
        let rows: Vec<(String, String, String)> = list
            .query_map([], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?
            .collect::<Result<_, _>>()?;
        let mut lots = Vec::new();
        for (lot, material, sheet) in rows {
            let material = self.book.material(&self.conn, &material, &sheet)?;
            if material.hazards.iter().any(|h| is(h, hazard)) {
                lots.push(lot);
            }
        }
        Ok(lots)
    }

    // The newest coat, or use as a coat, of some lots in a booth between two moments: its end, mix and lot.
    fn newest_of(
        &self,
        booth: &str,
        lots: &[String],
        from: Moment,
        to: Moment,
    ) -> Result<Option<Sprayed>, LedgerError> {
        let row = |r: &rusqlite::Row<'_>| Ok((Moment(r.get(0)?), r.get(1)?, r.get(2)?));
        let mut newest: Option<Sprayed> = None;
        let mut take = |found: Option<Sprayed>| {
            if let Some(found) = found
                && newest.as_ref().is_none_or(|n| n.0 < found.0)
            {
                newest = Some(found);
            }
        };
        for lot in lots {
            let logged = self
                .conn
                .prepare_cached(&format!(
                    "SELECT e.ended, json_extract(e.body, '$.mix'), json_extract(e.body, '$.lot')
                     FROM used u JOIN entry e ON e.seq = u.entry
                       LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
                     WHERE u.lot = ?1 AND e.ended > ?3 AND e.ended <= ?4
                       AND ({SPRAYED_IN} = ?2 OR (e.piece IS NULL AND u.purpose = 'coating'
                                            AND json_extract(e.body, '$.booth') = ?2))
                     ORDER BY u.day DESC, e.ended DESC LIMIT 1",
                ))?
                .query_row(params![lot, booth, from.0, to.0], row)
                .optional()?;
            take(logged);
        }
        let lots = serde_json::json!(lots).to_string();
        let unlogged = self
            .conn
            .prepare_cached(&format!(
                "SELECT e.ended, json_extract(e.body, '$.mix'), json_extract(e.body, '$.lot')
                 FROM entry e LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
                 WHERE e.seq > (SELECT max(seq) FROM entry) - ?5 AND e.kind {COATS}
                   AND {SPRAYED_IN} = ?2 AND e.ended > ?3 AND e.ended <= ?4
                   AND e.seq NOT IN (SELECT entry FROM void)
                   AND (json_extract(e.body, '$.lot') IN (SELECT value FROM json_each(?1))
                        OR json_extract(e.body, '$.mix') IN
                           (SELECT mix FROM pour WHERE lot IN (SELECT value FROM json_each(?1))))
                 ORDER BY e.ended DESC LIMIT 1",
            ))?
            .query_row(params![lots, booth, from.0, to.0, LOOKED_THROUGH], row)
            .optional()?;
        take(unlogged);
        Ok(newest)
    }

    // Who read them on the production day of `at`, and whom somebody told.
    fn add_readers(&self, list: &mut [DueCaution], at: Moment) -> Result<(), LedgerError> {
        let calendar = self.calendar();
        let day = calendar.day(at);
        let (begin, end) = (calendar.day_begin(day), calendar.day_begin(day.next()));
        let abouts: BTreeSet<String> = list.iter().map(|d| d.about.clone()).collect();
        let mut query = self.conn.prepare_cached(
            "SELECT n.topic, json_extract(e.body, '$.caution'), json_extract(e.body, '$.whom'), a.person
             FROM noted n JOIN entry e ON e.seq = n.entry JOIN action a ON a.seq = e.action
             WHERE n.topic IN ('caution read', 'told') AND n.about = ?1 AND n.at >= ?2 AND n.at < ?3
             ORDER BY n.at, n.entry",
        )?;
        for about in abouts {
            let mut rows = query.query(params![about, begin.0, end.0])?;
            while let Some(row) = rows.next()? {
                let (topic, id): (String, String) = (row.get(0)?, row.get(1)?);
                let (whom, person): (Option<String>, String) = (row.get(2)?, row.get(3)?);
                let of = list
                    .iter_mut()
                    .filter(|d| d.about == about && d.caution.id == id);
                for due in of {
                    if let (Some(whom), "told") = (&whom, topic.as_str()) {
                        due.told = Some((whom.clone(), person.clone()));
                    }
                    // Whoever told somebody of it has read it.
                    due.read.get_or_insert_with(|| person.clone());
                }
            }
        }
        Ok(())
    }

    /// Writes down that cautions were read, each with what it was about: one action.
    pub fn read_cautions(
        &mut self,
        list: &[(String, String)],
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let lines = list
            .iter()
            .map(|(caution, about)| {
                let fact = DutyFact::CautionRead {
                    caution: clean("caution", caution, 60)?,
                    about: clean("about", about, 60)?,
                };
                Ok(Line::shop(What::Shop(ShopFact::Duty(fact))))
            })
            .collect::<Result<Vec<_>, String>>()
            .map_err(LedgerError::Input)?;
        let action = NewAction::at_once("caution", who.clone(), stamp.written, lines);
        self.write(|w| w.append(&action, &Shared::default(), stamp))
    }

    /// What was due at the coats and mixes of the production days from `from` to `to`, once for each day and thing, oldest
    /// first. What one material did under another stays in it although somebody read it: it is a deviation of the booth.
    pub fn cautions_were_due(&self, from: Moment, to: Moment) -> Result<Vec<WasDue>, LedgerError> {
        let calendar = self.calendar();
        let mut list: Vec<WasDue> = Vec::new();
        let mut add = |of: &AtUse<'_>| -> Result<(), LedgerError> {
            let day = calendar.day(of.at);
            for due in self.cautions_due(of)? {
                let there = list.iter().any(|w| {
                    w.day == day && w.due.about == due.about && w.due.caution.id == due.caution.id
                });
                if !there {
                    list.push(WasDue {
                        day,
                        at: of.at,
                        due,
                    });
                }
            }
            Ok(())
        };
        for mix in self.mixes_made(from, to)? {
            add(&AtUse {
                when: When::Mixing,
                cup: Cup::Mix(mix.0),
                booth: None,
                at: mix.1,
            })?;
        }
        for spell in self.sprayed(from, to)? {
            let cup = match (spell.mix, spell.lot.as_deref()) {
                (Some(mix), _) => Cup::Mix(mix),
                (None, Some(lot)) => Cup::Lot(lot),
                (None, None) => Cup::Unknown,
            };
            add(&AtUse {
                when: When::Spraying,
                cup,
                booth: spell.room.as_deref(),
                at: spell.began,
            })?;
        }
        list.sort_by_key(|w| w.at);
        Ok(list)
    }

    /// The newest mix.
    pub fn newest_mix(&self) -> Result<Option<u32>, LedgerError> {
        Ok(self
            .conn
            .query_row("SELECT max(mix) FROM mix", [], |r| r.get(0))?)
    }

    fn mixes_made(&self, from: Moment, to: Moment) -> Result<Vec<(u32, Moment)>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT mix, made FROM mix WHERE made >= ?1 AND made <= ?2 ORDER BY made, mix",
        )?;
        let rows = list.query_map(params![from.0, to.0], |r| {
            Ok((r.get(0)?, Moment(r.get(1)?)))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    // The coats between two moments by day, room and cup: the first of each.
    fn sprayed(&self, from: Moment, to: Moment) -> Result<Vec<Spell>, LedgerError> {
        let mut list = self.conn.prepare_cached(&format!(
            "SELECT min(e.began), {SPRAYED_IN} AS room, json_extract(e.body, '$.mix') AS mix, json_extract(e.body, '$.lot') AS lot
             FROM entry e
               LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
             WHERE e.day >= ?3 AND e.day <= ?4 AND e.kind {COATS}
               AND e.began >= ?1 AND e.began <= ?2
               AND e.seq NOT IN (SELECT entry FROM void)
             GROUP BY e.day, room, mix, lot ORDER BY 1",
        ))?;
        let calendar = self.calendar();
        let days = [from, to].map(|m| calendar.day(m).0);
        let rows = list.query_map(params![from.0, to.0, days[0], days[1]], |r| {
            Ok(Spell {
                began: Moment(r.get(0)?),
                room: r.get(1)?,
                mix: r.get(2)?,
                lot: r.get(3)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The hazards of what was mixed, sprayed or used on the production day of `at`.
    pub fn hazards_of_the_day(&self, at: Moment) -> Result<Vec<Hazard>, LedgerError> {
        let calendar = self.calendar();
        let begin = calendar.day_begin(calendar.day(at));
        let mut all = Vec::new();
        for (mix, _) in self.mixes_made(begin, at)? {
            all.extend(hazards(&self.in_cup(Cup::Mix(mix))?));
        }
        for spell in self.sprayed(begin, at)? {
            let cup = match (spell.mix, spell.lot.as_deref()) {
                (Some(mix), _) => Cup::Mix(mix),
                (None, Some(lot)) => Cup::Lot(lot),
                (None, None) => Cup::Unknown,
            };
            all.extend(hazards(&self.in_cup(cup)?));
        }
        let mut used = self.conn.prepare_cached(
            "SELECT lot FROM day_use WHERE day = ?1 GROUP BY lot HAVING sum(uses) > 0 ORDER BY lot",
        )?;
        let lots: Vec<String> = used
            .query_map([calendar.day(at).0], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        for lot in lots {
            all.extend(hazards(&self.in_cup(Cup::Lot(&lot))?));
        }
        all.sort_unstable();
        all.dedup();
        Ok(all)
    }

    /// What is due at a deed as it would be done: the cautions of the cup, and of each booth in which something is sprayed.
    pub fn cautions_of(
        &self,
        request: &DeedRequest,
        plan: &Plan,
    ) -> Result<Vec<DueCaution>, LedgerError> {
        let mut due: Vec<DueCaution> = Vec::new();
        for booth in plan.sprayed_in() {
            let here = self.cautions_due(&AtUse {
                when: When::Spraying,
                cup: Cup::of(request),
                booth,
                at: request.began,
            })?;
            for d in here {
                let known = |k: &DueCaution| k.caution.id == d.caution.id && k.about == d.about;
                if !due.iter().any(known) {
                    due.push(d);
                }
            }
        }
        Ok(due)
    }

    /// What of the last seven production days still waits: cautions that nobody read, and what one material did under
    /// another in a booth.
    pub fn cautions_waiting(&self, at: Moment) -> Result<Vec<WasDue>, LedgerError> {
        let calendar = self.calendar();
        let first = calendar.day(at.minus(WINDOW));
        let mut list = self.cautions_were_due(calendar.day_begin(first), at)?;
        list.retain(|w| w.due.tell || w.due.read.is_none());
        Ok(list)
    }
}

/// How far back cautions are looked for that nobody read (common practice, no source: a week's round).
const WINDOW: Span = Span::hours(24 * 6);

// Coats of one production day, room and cup.
struct Spell {
    began: Moment,
    room: Option<String>,
    mix: Option<u32>,
    lot: Option<String>,
}
