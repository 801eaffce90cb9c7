//! The read models: what follows from the record, kept for reading.
//!
//! *Invariants*: [`apply`] is the only code that changes them, on every append and on every rebuild; it depends on
//! nothing but the record up to that action. A new entry at the end of a piece's history advances its standing; an
//! earlier one or a correction folds the history anew, with the same fold.

mod kept;
mod stock;
mod sums;

pub(super) use self::kept::Kept;

use self::stock::Taken;
use self::sums::{DayUse, Sums};
use super::book::{Airs, Book, MixTable};
use super::error::LedgerError;
use super::read::{Reach, other_half, piece_entries, recipes_of};
use super::stored::{COATS, Shared, encode_piece};
use crate::shop::calendar::{Calendar, Day};
use crate::shop::material::{MixFigures, Pour, mix_figures};
use crate::shop::record::{CoatFact, Entry, EntrySeq, Fact, PieceId, ShopFact, What};
use crate::shop::rules::{Around, Deed, Ground, Light, objections};
use crate::shop::standing::{Mixes, PieceNow, Standing};
use crate::shop::stock::STORE;
use crate::shop::words::{Role, Rule, StepKind, Verdict, Word};
use crate::units::{Moment, Span, Volume};
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::{BTreeMap, BTreeSet};

/// An entry with its times, as the read models take it.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) seq: EntrySeq,
    pub(super) piece: Option<PieceId>,
    pub(super) surface: String,
    pub(super) branch: u32,
    pub(super) began: Moment,
    pub(super) ended: Moment,
    pub(super) written: Moment,
    pub(super) day: Day,
    pub(super) corrects: Option<EntrySeq>,
    pub(super) what: What,
}

/// Names of all read models, for dropping, rebuilding and comparing them.
pub(super) const TABLES: &[&str] = &[
    "setting",
    "void",
    "room",
    "material",
    "recipe",
    "lot",
    "mix",
    "pour",
    "ceiling",
    "survey",
    "person",
    "clock_fix",
    "piece",
    "standing",
    "stay",
    "deviation",
    "used",
    "day_use",
    "coat_day",
    "coat_room",
    "month_mass",
    "month_volume",
    "retired_tag",
    "wheel_use",
    "signed_month",
    "exhaust",
    "stock_move",
    "rule_set",
    "noted",
];

/// After this much time an entry counts as written late.
const LATE: Span = Span::hours(24);

/// Brings the read models up to one action.
pub(super) fn apply(
    (conn, kept): (&Connection, &Kept),
    book: &Book,
    calendar: &Calendar,
    action: i64,
    person: &str,
    shared: &Shared,
    rows: &[Row],
) -> Result<(), LedgerError> {
    let mut touched: BTreeMap<PieceId, bool> = BTreeMap::new();
    let mut sums = Sums::default();
    let mut mixes = MixTable::default();
    let known = rows.last().map_or(0, |r| r.seq.0);
    let airs = Airs::new(conn, book, Moment(i64::MAX / 4), known);
    for row in rows {
        match &row.what {
            What::Shop(fact) => shop(conn, book, &mut sums, (row, person), fact)?,
            What::Void { .. } => void(conn, book, &mut sums, row)?,
            What::Answered { rule, .. } => {
                conn.prepare_cached(
                    "UPDATE deviation SET answer = ?3 WHERE entry = ?1 AND rule = ?2",
                )?
                .execute(params![
                    row.corrects.map(|e| e.0),
                    rule.word(),
                    row.seq.0
                ])?;
            }
            What::Explained { reason } => {
                conn.prepare_cached("UPDATE deviation SET reason = ?2 WHERE entry = ?1")?
                    .execute(params![row.corrects.map(|e| e.0), reason.word()])?;
            }
            What::Piece(Fact::Coat(coat)) => uses(conn, book, &mut sums, row, coat)?,
            What::Piece(Fact::Buffed {
                wheel: Some(wheel),
                compound: Some(compound),
            }) => {
                conn.prepare_cached(
                    "INSERT INTO wheel_use (entry, wheel, at, compound) VALUES (?1, ?2, ?3, ?4)",
                )?
                .execute(params![row.seq.0, wheel, row.began.0, compound])?;
            }
            What::Piece(_) => {}
        }
        if let Some(piece) = row.piece {
            let anew = touched.entry(piece).or_insert(false);
            *anew |= matches!(row.what, What::Void { .. });
        }
        if let What::Shop(ShopFact::Rebound { lot, sheet, .. }) = &row.what {
            for piece in rebound(conn, book, &mut sums, (lot, sheet), row.seq.0)? {
                touched.insert(piece, true);
            }
        }
        if let What::Shop(ShopFact::Climate { room, from, .. }) = &row.what {
            kept.flush(conn)?;
            for piece in cured_in(conn, room, *from)? {
                touched.entry(piece).or_insert(true);
            }
        }
    }
    sums.write(conn)?;
    let mut first = FirstCoats::default();
    let mut mate = None;
    for (piece, anew) in touched {
        advance(
            (conn, kept),
            book,
            (&mut mixes, &airs),
            calendar,
            action,
            person,
            shared,
            rows,
            piece,
            anew,
            (&mut first, &mut mate),
        )?;
    }
    first.write(conn)
}

// The earliest coats of an action's pieces by production day and room.
#[derive(Debug, Default)]
struct FirstCoats(BTreeMap<(Day, String), (Moment, EntrySeq)>);

impl FirstCoats {
    fn see(&mut self, now: &PieceNow, entries: &[Entry]) {
        for entry in entries {
            let hung = || now.place_at(entry.began).and_then(|s| s.room.as_deref());
            if let Fact::Coat(coat) = &entry.fact
                && let Some(room) = coat.more.sprayed_in(hung())
            {
                let coat = (entry.began, entry.seq);
                self.0
                    .entry((entry.day, room.to_owned()))
                    .and_modify(|first| *first = coat.min(*first))
                    .or_insert(coat);
            }
        }
    }

    fn write(self, conn: &Connection) -> Result<(), LedgerError> {
        let mut add = conn.prepare_cached(
            "INSERT INTO coat_room (day, room, began, entry) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (day, room) DO UPDATE SET began = excluded.began, entry = excluded.entry
               WHERE (excluded.began, excluded.entry) < (began, entry)",
        )?;
        for ((day, room), (began, entry)) in self.0 {
            add.execute(params![day.0, room, began.0, entry.0])?;
        }
        Ok(())
    }
}

// Pieces whose deeds after a cure may be judged otherwise with the new readings of a room: those that have left, too,
// for what was found against them must not stand once the readings say otherwise.
fn cured_in(conn: &Connection, room: &str, from: Moment) -> Result<Vec<PieceId>, LedgerError> {
    let mut found = conn.prepare_cached(
        "SELECT DISTINCT s.piece FROM stay s JOIN standing t ON t.piece = s.piece
         WHERE s.room = ?1 AND s.until_ms > ?2 AND t.last_deed > coalesce(t.last_wet, t.last_deed)
           AND t.last_deed >= ?2",
    )?;
    let rows = found.query_map(params![room, from.0], |r| Ok(PieceId(r.get(0)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

#[allow(
    clippy::too_many_arguments,
    reason = "one step of apply, split off for its length"
)]
fn advance(
    (conn, kept): (&Connection, &Kept),
    book: &Book,
    (mixes, airs): (&mut MixTable, &Airs<'_>),
    calendar: &Calendar,
    action: i64,
    person: &str,
    shared: &Shared,
    rows: &[Row],
    piece: PieceId,
    anew: bool,
    (first, mate): (&mut FirstCoats, &mut Option<Judged>),
) -> Result<(), LedgerError> {
    let (air, humidity) = shared.air();
    let new: Vec<Entry> = rows
        .iter()
        .filter(|r| r.piece == Some(piece))
        .filter_map(|r| match &r.what {
            What::Piece(fact) => Some(Entry {
                seq: r.seq,
                piece,
                surface: r.surface.clone(),
                branch: r.branch,
                began: r.began,
                ended: r.ended,
                written: r.written,
                day: r.day,
                person: person.to_owned(),
                air,
                humidity,
                fact: fact.clone(),
            }),
            _ => None,
        })
        .collect();
    let last = rows.last().map_or(0, |r| r.seq.0);
    let before = if anew { None } else { kept.piece(conn, piece)? };
    let in_order = new
        .windows(2)
        .all(|w| matches!(w, [a, b] if a.began <= b.began));
    let at_the_end =
        |now: &PieceNow| in_order && new.first().is_some_and(|e| e.began >= now.newest);
    match before {
        Some(before) if at_the_end(&before) => {
            let start = Some(before.clone());
            let (now, found) = fold(
                (conn, kept),
                book,
                (mixes, airs),
                (calendar, last),
                start,
                &new,
                mate,
            )?;
            first.see(&now, &new);
            kept.put(conn, now, Some(before))?;
            raise(conn, action, shared, piece, &found, None)
        }
        _ => {
            let all = piece_entries(
                conn,
                piece,
                Reach {
                    seq: last,
                    ..Reach::ALL
                },
            )?;
            if all.is_empty() {
                return Ok(());
            }
            let (now, found) = fold(
                (conn, kept),
                book,
                (mixes, airs),
                (calendar, last),
                None,
                &all,
                &mut None,
            )?;
            first.see(&now, &all);
            kept.put(conn, now, None)?;
            let judged: BTreeSet<i64> = all.iter().map(|e| e.seq.0).collect();
            raise(conn, action, shared, piece, &found, Some(&judged))
        }
    }
}

/// A deviation that the fold found.
#[derive(Debug, Clone)]
struct Found {
    entry: EntrySeq,
    rule: Rule,
    text: String,
}

/// What a deed was found to deviate from: it is found of the rack mates that had it in the same action and stood alike, too.
#[derive(Debug)]
struct Judged {
    stood: PieceNow,
    entry: Entry,
    found: Vec<Found>,
}

impl Judged {
    fn serves(&self, now: &PieceNow, entry: &Entry) -> bool {
        let Entry {
            seq: _,
            piece: _,
            surface,
            branch,
            began,
            ended,
            written,
            day,
            person,
            air,
            humidity,
            fact,
        } = entry;
        let mate = &self.entry;
        (surface, branch, began, ended) == (&mate.surface, &mate.branch, &mate.began, &mate.ended)
            && (written, day, person) == (&mate.written, &mate.day, &mate.person)
            && (air, humidity, fact) == (&mate.air, &mate.humidity, &mate.fact)
            && now.stands_as(&self.stood)
    }

    // The same of another entry.
    fn of(&self, entry: EntrySeq) -> impl Iterator<Item = Found> {
        self.found.iter().map(move |f| Found { entry, ..f.clone() })
    }
}

// Folds entries onto a standing and judges each deed by the standing before it, under the revision that the piece went
// by at that moment.
fn fold(
    (conn, kept): (&Connection, &Kept),
    book: &Book,
    (mixes, airs): (&mut MixTable, &Airs<'_>),
    (calendar, last): (&Calendar, i64),
    start: Option<PieceNow>,
    entries: &[Entry],
    mate: &mut Option<Judged>,
) -> Result<(PieceNow, Vec<Found>), LedgerError> {
    for entry in entries {
        if let Fact::Coat(coat) = &entry.fact {
            mixes.add(conn, book, coat)?;
        }
    }
    let recipes = recipes_of(conn, book, start.as_ref(), entries)?;
    let mut now = start;
    let mut found = Vec::new();
    for entry in entries {
        match (&mut now, &entry.fact) {
            (None, Fact::Added(piece)) => {
                now = recipes
                    .of(piece)
                    .map(|recipe| PieceNow::taken_in(entry, piece, recipe));
            }
            (Some(now), _) => {
                let alike = mate.as_ref().filter(|m| m.serves(now, entry));
                if let Some(alike) = alike {
                    found.extend(alike.of(entry.seq));
                } else if let Some(recipe) = recipes.of(&now.piece) {
                    let air = airs.of(recipe);
                    let deed = deed_of(entry, mixes);
                    let around = match &deed {
                        Some(deed) => around((conn, kept), book, now, deed, (entry, last))?,
                        None => Around::default(),
                    };
                    let ground = Ground {
                        recipe,
                        calendar,
                        air: air.as_ref(),
                        around: &around,
                    };
                    let these = judge(now, entry, deed.as_ref(), &ground);
                    air.fault()?;
                    let alone = !deed.is_some_and(|d| asks_of_others(&d, entry));
                    *mate = alone.then(|| Judged {
                        stood: now.clone(),
                        entry: entry.clone(),
                        found: these.clone(),
                    });
                    found.extend(these);
                }
                now.apply(entry, &recipes, mixes);
            }
            (None, _) => {}
        }
    }
    let now = now.ok_or_else(|| {
        LedgerError::Damaged("a piece has entries but was never taken in".to_owned())
    })?;
    Ok((now, found))
}

// Whether the judgement on a deed asks about things beside the piece.
fn asks_of_others(deed: &Deed, entry: &Entry) -> bool {
    match &entry.fact {
        Fact::Buffed { wheel, .. } => wheel.is_some(),
        _ => deed.kind == StepKind::Mate || (deed.kind == StepKind::Colour && deed.batch.is_some()),
    }
}

/// What a rule may ask about things beside the piece, as it was known with entry `last`: looked up only for the deeds that
/// ask.
pub(super) fn around(
    (conn, kept): (&Connection, &Kept),
    book: &Book,
    now: &PieceNow,
    deed: &Deed,
    (entry, last): (&Entry, i64),
) -> Result<Around, LedgerError> {
    if !asks_of_others(deed, entry) {
        return Ok(Around::default());
    }
    // The solvent model is an estimate on reading: no entry is marked by it.
    let mut around = Around::default();
    if let Fact::Buffed {
        wheel: Some(wheel), ..
    } = &entry.fact
    {
        around.wheel_had = conn
            .prepare_cached(
                // A rack is buffed in one minute: the deeds of that minute are asked for apart, so that those after this one are
                // not gone through.
                "SELECT compound FROM (
                   SELECT * FROM (SELECT compound, at, entry FROM wheel_use
                     WHERE wheel = ?1 AND at = ?2 AND entry < ?3 ORDER BY entry DESC LIMIT 1)
                   UNION ALL
                   SELECT * FROM (SELECT compound, at, entry FROM wheel_use
                     WHERE wheel = ?1 AND at < ?2 ORDER BY at DESC, entry DESC LIMIT 1))
                 ORDER BY at DESC, entry DESC LIMIT 1",
            )?
            .query_row(params![wheel, entry.began.0, entry.seq.0], |r| r.get(0))
            .optional()?;
    } else if let Some(serial) = deed.with.as_ref().or(now.piece.pair.as_ref()) {
        around.other = other_half((conn, kept), book, serial, (entry.began, last))?;
    }
    Ok(around)
}

/// The deed that an entry records, as the rules judge it; `None` for facts that are no deed on the piece.
pub(super) fn deed_of(entry: &Entry, mixes: &dyn Mixes) -> Option<Deed> {
    let mut deed = Deed {
        person: entry.person.clone(),
        day: Some(entry.day),
        temperature: entry.air,
        humidity: entry.humidity,
        ..Deed::of(entry.fact.step_kind()?)
    };
    match &entry.fact {
        Fact::Coat(c) => {
            let figures = mixes.figures(c);
            deed.touch_up = c.touch_up;
            deed.retarder = figures.map_or_else(Default::default, |f| f.retarder);
            deed.solids = figures.map(|f| f.solids);
            deed.cup = mixes.kinds(c).to_vec();
            deed.wet.clone_from(&c.wet);
            deed.supervisor = c.supervisor.is_some();
            deed.mixed = mixes.mixed(c);
            deed.shelf_life = mixes.shelf_life(c);
            deed.place.clone_from(&c.more.place);
            deed.rub = c.more.rub;
            deed.batch.clone_from(&c.more.batch);
        }
        Fact::Sanded { grit, removed, .. } => {
            deed.grits.clone_from(grit);
            deed.removed = *removed;
        }
        Fact::Received { moisture, .. } => deed.moisture.clone_from(moisture),
        Fact::Buffed { compound, .. } => deed.compound.clone_from(compound),
        Fact::Lit { dose, peak, .. } => {
            deed.light = Some(Light {
                dose: *dose,
                peak: *peak,
            });
        }
        Fact::Mated { with, fit, .. } => {
            deed.with = Some(with.clone());
            deed.fit = *fit;
        }
        Fact::Inspected { findings, .. } => {
            deed.findings = findings
                .iter()
                .filter(|f| matches!(f.verdict, Verdict::Rework | Verdict::Scrap))
                .map(|f| {
                    let place = f.place.as_ref().map_or(String::new(), |p| format!(" {p}"));
                    format!(
                        "{} on {}{place}: {}",
                        f.defect.map_or("something", Word::word),
                        f.surface,
                        f.verdict.word()
                    )
                })
                .collect();
        }
        _ => {}
    }
    Some(deed)
}

fn judge(now: &PieceNow, entry: &Entry, deed: Option<&Deed>, ground: &Ground<'_>) -> Vec<Found> {
    let Some(deed) = deed else {
        return Vec::new();
    };
    let mut found: Vec<Found> = Vec::new();
    for o in objections(now, &entry.surface, deed, entry.began, ground) {
        if !found.iter().any(|f| f.rule == o.rule) {
            found.push(Found {
                entry: entry.seq,
                rule: o.rule,
                text: o.after,
            });
        }
    }
    let late = entry.written.since(entry.ended);
    if late > LATE {
        found.push(Found {
            entry: entry.seq,
            rule: Rule::WrittenLate,
            text: format!("written {} after it was done", late.words()),
        });
    }
    found
}

// Deviations are raised and mooted once each: those found are kept or added, those that a judged entry no longer has
// are moot from this action on.
fn raise(
    conn: &Connection,
    action: i64,
    shared: &Shared,
    piece: PieceId,
    found: &[Found],
    judged: Option<&BTreeSet<i64>>,
) -> Result<(), LedgerError> {
    let mut insert = conn.prepare_cached(
        "INSERT INTO deviation (entry, rule, piece, text, reason, raised) VALUES (?1, ?2, ?3, ?4, ?5, ?6)
         ON CONFLICT (entry, rule) DO UPDATE SET text = excluded.text, moot = NULL",
    )?;
    for f in found {
        insert.execute(params![
            f.entry.0,
            f.rule.word(),
            piece.0,
            f.text,
            shared.reason,
            action
        ])?;
    }
    if judged.is_some() {
        let mut list = conn.prepare_cached(
            "SELECT entry, rule FROM deviation WHERE piece = ?1 AND moot IS NULL",
        )?;
        let kept: Vec<(i64, String)> = list
            .query_map([piece.0], |r| Ok((r.get(0)?, r.get(1)?)))?
            .collect::<Result<_, _>>()?;
        for (entry, rule) in kept {
            if !found
                .iter()
                .any(|f| f.entry.0 == entry && f.rule.word() == rule)
            {
                conn.prepare_cached(
                    "UPDATE deviation SET moot = ?3 WHERE entry = ?1 AND rule = ?2",
                )?
                .execute(params![entry, rule, action])?;
            }
        }
    }
    Ok(())
}

// What is as it was `before` stands there already.
fn save(conn: &Connection, now: &PieceNow, before: Option<&PieceNow>) -> Result<(), LedgerError> {
    let p = &now.piece;
    let holds: Vec<(i64, &str)> = now
        .holds
        .iter()
        .map(|(e, why)| (e.0, why.as_str()))
        .collect();
    let holds = serde_json::to_string(&holds).map_err(|e| LedgerError::Damaged(e.to_string()))?;
    conn.prepare_cached(
        "INSERT INTO piece (id, serial, tag, kind, model, recipe, revision, area, due, mate, holds, scrapped, mated,
                            newest, branch, in_process, more, batch)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18)
         ON CONFLICT (id) DO UPDATE SET tag = excluded.tag, recipe = excluded.recipe, revision = excluded.revision,
             area = excluded.area, due = excluded.due, mate = excluded.mate, holds = excluded.holds,
             scrapped = excluded.scrapped, mated = excluded.mated, newest = excluded.newest,
             branch = excluded.branch, in_process = excluded.in_process, more = excluded.more,
             batch = excluded.batch",
    )?
    .execute(params![
        now.id.0,
        p.serial,
        p.tag,
        p.kind.word(),
        p.model,
        p.recipe,
        p.revision,
        p.area.0,
        p.due.map(|d| Day::of(d).0),
        p.pair,
        holds,
        now.scrapped,
        now.mated,
        now.newest.0,
        now.branch(),
        now.in_process(),
        encode_piece(now)?,
        now.batch
    ])?;
    if before.is_none_or(|b| b.surfaces != now.surfaces) {
        save_standings(conn, now)?;
    }
    if before.is_none_or(|b| b.retired != now.retired) {
        save_retired(conn, now)?;
    }
    if before.is_none_or(|b| b.stays != now.stays) {
        save_stays(conn, now)?;
    }
    Ok(())
}

fn save_standings(conn: &Connection, now: &PieceNow) -> Result<(), LedgerError> {
    conn.prepare_cached("DELETE FROM standing WHERE piece = ?1")?
        .execute([now.id.0])?;
    let mut insert = conn.prepare_cached(
        "INSERT INTO standing (piece, branch, surface, done, film_nm, gauged, last_wet, last_wet_kind, retarder_last,
                               retarder_set, coat_day, coats_that_day, sanded_since_wet, last_deed, start, closed,
                               spots)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)",
    )?;
    for ((branch, surface), s) in now.surfaces.iter() {
        let done: Vec<String> = s.done.iter().map(u32::to_string).collect();
        let coats: Vec<String> = s
            .coats_that_day
            .iter()
            .map(|(k, n)| format!("{}={n}", k.word()))
            .collect();
        insert.execute(params![
            now.id.0,
            branch,
            surface,
            done.join(","),
            s.film_nm,
            s.gauged,
            s.last_wet.map(|m| m.0),
            s.last_wet_kind.map(Word::word),
            s.retarder_last.0,
            s.retarder_set.0,
            s.coat_day.0,
            coats.join(","),
            s.sanded_since_wet,
            s.last_deed.map(|m| m.0),
            i64::try_from(s.start).unwrap_or(0),
            s.closed.map(|m| m.0),
            spots_text(s)?
        ])?;
    }
    Ok(())
}

fn spots_text(standing: &Standing) -> Result<String, LedgerError> {
    let spots: BTreeMap<&str, (i64, u32)> = standing
        .spots
        .iter()
        .map(|(place, (at, drops))| (place.as_str(), (at.0, *drops)))
        .collect();
    serde_json::to_string(&spots).map_err(|e| LedgerError::Damaged(e.to_string()))
}

fn save_retired(conn: &Connection, now: &PieceNow) -> Result<(), LedgerError> {
    conn.prepare_cached("DELETE FROM retired_tag WHERE piece = ?1")?
        .execute([now.id.0])?;
    let mut insert = conn.prepare_cached(
        "INSERT INTO retired_tag (tag, piece, line, why, at) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?;
    for (line, tag) in now.retired.iter().enumerate() {
        let line = i64::try_from(line).unwrap_or(0);
        insert.execute(params![tag.tag, now.id.0, line, tag.why, tag.at.0])?;
    }
    Ok(())
}

fn save_stays(conn: &Connection, now: &PieceNow) -> Result<(), LedgerError> {
    conn.prepare_cached("DELETE FROM stay WHERE piece = ?1")?
        .execute([now.id.0])?;
    let mut insert = conn.prepare_cached(
        "INSERT INTO stay (piece, line, from_ms, until_ms, rack, hook, room) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?;
    let mut stays = now.stays.iter().enumerate().peekable();
    while let Some((line, stay)) = stays.next() {
        let until = stays.peek().map_or(i64::MAX, |(_, next)| next.from.0);
        let line = i64::try_from(line).unwrap_or(0);
        insert.execute(params![
            now.id.0,
            line,
            stay.from.0,
            until,
            stay.rack,
            stay.hook,
            stay.room
        ])?;
    }
    Ok(())
}

fn shop(
    conn: &Connection,
    book: &Book,
    sums: &mut Sums,
    (row, person): (&Row, &str),
    fact: &ShopFact,
) -> Result<(), LedgerError> {
    let entry = row.seq.0;
    match fact {
        ShopFact::Opened {
            name,
            zone,
            day_start,
            demo,
        } => {
            let mut set = conn
                .prepare_cached("INSERT INTO setting (name, value, entry) VALUES (?1, ?2, ?3)")?;
            set.execute(params!["shop", name, entry])?;
            set.execute(params!["zone", zone, entry])?;
            set.execute(params!["day start", day_start.to_string(), entry])?;
            set.execute(params!["demo", if *demo { "yes" } else { "no" }, entry])?;
            // Who opens the ledger is its first supervisor.
            employ(conn, row, person, Some(Role::Supervisor))?;
        }
        ShopFact::Room {
            name,
            interval,
            forecast_permille,
        } => {
            conn.prepare_cached(
                "INSERT INTO room (name, interval_ms, forecast_permille, entry) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (name) DO UPDATE SET interval_ms = excluded.interval_ms,
                     forecast_permille = excluded.forecast_permille, entry = excluded.entry",
            )?
            .execute(params![name, interval.map(|i| i.0), forecast_permille, entry])?;
        }
        ShopFact::Climate {
            room,
            rows,
            from,
            to,
            ..
        } => {
            conn.prepare_cached("UPDATE room SET readings = readings + ?2 WHERE name = ?1")?
                .execute(params![room, rows])?;
            book.brought(conn, (room, *rows), (*from, *to), row.seq)?;
        }
        ShopFact::Material { code, sheet, text } => {
            conn.prepare_cached(
                "INSERT INTO material (code, sheet, entry, text) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![code, sheet, entry, text])?;
        }
        ShopFact::Recipe {
            code,
            revision,
            text,
        } => {
            conn.prepare_cached(
                "INSERT INTO recipe (code, revision, entry, text) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![code, revision, entry, text])?;
        }
        ShopFact::Lot {
            lot,
            material,
            sheet,
            volume,
            expires,
            document,
            place,
        } => {
            conn.prepare_cached(
                "INSERT INTO lot (lot, material, sheet, volume, expires, entry, document)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            )?
            .execute(params![
                lot,
                material,
                sheet,
                volume.0,
                expires.map(|d| Day::of(d).0),
                entry,
                document
            ])?;
            stock::moved(
                conn,
                row,
                0,
                (lot, place.as_deref().unwrap_or(STORE)),
                volume.0,
            )?;
        }
        ShopFact::Mix {
            mix,
            name,
            parts,
            parent,
            left,
            place,
        } => {
            let new = stock::NewMix {
                mix: *mix,
                name,
                parts,
                parent: *parent,
                left: *left,
                place: place.as_deref(),
            };
            stock::mixed(conn, book, row, &new)?;
        }
        ShopFact::Ceiling {
            what,
            scope,
            value,
            typed,
            basis,
            source,
            warn,
            rules,
        } => {
            let warn: Vec<String> = warn.iter().map(i64::to_string).collect();
            conn.prepare_cached(
                "INSERT INTO ceiling (what, scope, value, typed, basis, source, person, since, entry, warn, rules)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)
                 ON CONFLICT (what, scope) DO UPDATE SET value = excluded.value, typed = excluded.typed,
                     basis = excluded.basis, source = excluded.source, person = excluded.person,
                     since = excluded.since, entry = excluded.entry, warn = excluded.warn, rules = excluded.rules",
            )?
            .execute(params![
                what,
                scope,
                value,
                typed,
                basis,
                source,
                person,
                row.began.0,
                entry,
                warn.join(","),
                rules
            ])?;
        }
        ShopFact::Rules {
            code,
            revision,
            text,
        } => {
            conn.prepare_cached(
                "INSERT INTO rule_set (code, revision, entry, text) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![code, revision, entry, text])?;
        }
        ShopFact::BookSetting { name, value, .. } => {
            conn.prepare_cached(
                "INSERT INTO setting (name, value, entry) VALUES (?1, ?2, ?3)
                 ON CONFLICT (name) DO UPDATE SET value = excluded.value, entry = excluded.entry",
            )?
            .execute(params![format!("book {name}"), value, entry])?;
        }
        ShopFact::Stock(fact) => stock::stock(conn, book, sums, row, fact)?,
        ShopFact::Duty(fact) => stock::duty(conn, row, fact)?,
        ShopFact::Logger(fact) => stock::logger(conn, row, fact)?,
        ShopFact::Alert(fact) => stock::alert(conn, row, fact)?,
        ShopFact::HandOver(fact) => stock::hand_over(conn, row, fact)?,
        ShopFact::Survey {
            booth,
            readings,
            wanted,
            instrument,
        } => {
            let readings: Vec<String> = readings.iter().map(|s| s.0.to_string()).collect();
            conn.prepare_cached(
                "INSERT INTO survey (entry, booth, at, readings, wanted, instrument) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![entry, booth, row.began.0, readings.join(","), wanted, instrument])?;
        }
        ShopFact::Outage { booth, from, to } => {
            exhaust(conn, entry, booth, *from, true, *to)?;
        }
        ShopFact::Checked { booth, .. } => exhaust(conn, entry, booth, row.began, false, None)?,
        ShopFact::Backups {
            every,
            folder,
            keep,
            ledger,
        } => {
            let mut set = conn.prepare_cached(
                "INSERT INTO setting (name, value, entry) VALUES (?1, ?2, ?3)
                 ON CONFLICT (name) DO UPDATE SET value = excluded.value, entry = excluded.entry",
            )?;
            let every = every.map_or_else(|| "never".to_owned(), |s| s.0.to_string());
            set.execute(params!["backup every ms", every, entry])?;
            set.execute(params!["backup folder", folder, entry])?;
            set.execute(params!["backup keep", keep.to_string(), entry])?;
            set.execute(params!["backup of", ledger, entry])?;
        }
        ShopFact::Signed(s) => {
            conn.prepare_cached(
                "INSERT INTO signed_month (month, revision, entry) VALUES (?1, ?2, ?3)",
            )?
            .execute(params![s.month, s.revision, entry])?;
        }
        ShopFact::Person { initials, role } => employ(conn, row, initials, *role)?,
        ShopFact::ClockCorrected { from, to, by, .. } => {
            conn.prepare_cached(
                "INSERT INTO clock_fix (entry, from_action, to_action, by_ms) VALUES (?1, ?2, ?3, ?4)",
            )?
            .execute(params![entry, from, to, by.0])?;
        }
        // A PIN lies beside the record, and a confirmed clock is known by its action.
        // A lot that is bound anew moves sums and pieces: that is done where the pieces are gathered.
        // The readings themselves stand in the record; nothing is kept of the file besides its entry.
        ShopFact::Pin { .. }
        | ShopFact::ClockConfirmed { .. }
        | ShopFact::Lost { .. }
        | ShopFact::Rebound { .. } => {}
    }
    Ok(())
}

fn employ(
    conn: &Connection,
    row: &Row,
    initials: &str,
    role: Option<Role>,
) -> Result<(), LedgerError> {
    conn.prepare_cached(
        "INSERT INTO person (initials, role, since, entry) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT (initials) DO UPDATE SET role = excluded.role, since = excluded.since, entry = excluded.entry",
    )?
    .execute(params![initials, role.map(Word::word), row.began.0, row.seq.0])?;
    Ok(())
}

// A stop of the exhaust, with its end where it is known, or a check of the booth.
fn exhaust(
    conn: &Connection,
    entry: i64,
    booth: &str,
    at: Moment,
    stopped: bool,
    until: Option<Moment>,
) -> Result<(), LedgerError> {
    conn.prepare_cached(
        "INSERT INTO exhaust (entry, booth, stopped, at, until_ms) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![entry, booth, stopped, at.0, until.map(|m| m.0)])?;
    Ok(())
}

// Binds a lot to another sheet, and everything that was reckoned with the old one anew: the month's sums, the figures of
// the mixes that it went into. Gives the pieces that were coated with it, whose films follow.
fn rebound(
    conn: &Connection,
    book: &Book,
    sums: &mut Sums,
    (lot, sheet): (&str, &str),
    last: i64,
) -> Result<Vec<PieceId>, LedgerError> {
    let mut found = conn.prepare_cached(
        "SELECT day, volume, count(*) FROM used WHERE lot = ?1 GROUP BY day, volume ORDER BY day, volume",
    )?;
    let used: Vec<(i32, i64, i64)> = found
        .query_map([lot], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?
        .collect::<Result<_, _>>()?;
    for (day, volume, uses) in &used {
        sums.weigh(conn, book, (Day(*day), lot), Volume(*volume), -uses)?;
    }
    sums.rebind(lot);
    conn.prepare_cached("UPDATE lot SET sheet = ?2 WHERE lot = ?1")?
        .execute([lot, sheet])?;
    for (day, volume, uses) in &used {
        sums.weigh(conn, book, (Day(*day), lot), Volume(*volume), *uses)?;
    }
    let mut found =
        conn.prepare_cached("SELECT DISTINCT mix FROM pour WHERE lot = ?1 ORDER BY mix")?;
    let mixes: Vec<u32> = found
        .query_map([lot], |r| r.get(0))?
        .collect::<Result<_, _>>()?;
    for mix in mixes {
        let figures = figures_of(conn, book, &pours(conn, mix)?)?;
        conn.prepare_cached("UPDATE mix SET solids_ppm = ?2, retarder_ppm = ?3 WHERE mix = ?1")?
            .execute(params![mix, figures.solids.0, figures.retarder.0])?;
    }
    let mut found = conn.prepare_cached(
        &format!("SELECT DISTINCT piece FROM entry WHERE kind {COATS} AND seq <= ?2
           AND seq NOT IN (SELECT entry FROM void)
           AND (json_extract(body, '$.lot') = ?1
                OR json_extract(body, '$.mix') IN (SELECT mix FROM pour WHERE lot = ?1)) ORDER BY piece"),
    )?;
    let pieces = found.query_map(params![lot, last], |r| Ok(PieceId(r.get(0)?)))?;
    Ok(pieces.collect::<Result<_, _>>()?)
}

// Solids and retarder of what is poured together, by the sheets that the lots are bound to.
fn figures_of(conn: &Connection, book: &Book, parts: &[Pour]) -> Result<MixFigures, LedgerError> {
    let mut of = Vec::with_capacity(parts.len());
    for part in parts {
        let (material, sheet) = lot_sheet(conn, &part.lot)?;
        of.push((book.material(conn, &material, &sheet)?, part.volume));
    }
    Ok(mix_figures(of.iter().map(|(m, v)| (m.as_ref(), *v))))
}

/// Material code and sheet of a lot.
pub(super) fn lot_sheet(conn: &Connection, lot: &str) -> Result<(String, String), LedgerError> {
    conn.prepare_cached("SELECT material, sheet FROM lot WHERE lot = ?1")?
        .query_row([lot], |r| Ok((r.get(0)?, r.get(1)?)))
        .optional()?
        .ok_or_else(|| {
            LedgerError::Input(format!(
                "lot \"{lot}\" is not received; run \"hangtime lot receive {lot} ...\""
            ))
        })
}

/// What went into a mix.
pub(super) fn pours(conn: &Connection, mix: u32) -> Result<Vec<Pour>, LedgerError> {
    let mut list =
        conn.prepare_cached("SELECT lot, volume FROM pour WHERE mix = ?1 ORDER BY line")?;
    let rows = list.query_map([mix], |r| {
        Ok(Pour {
            lot: r.get(0)?,
            volume: Volume(r.get(1)?),
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

// The lots that a coat used, and the month's sums with them.
fn uses(
    conn: &Connection,
    book: &Book,
    sums: &mut Sums,
    row: &Row,
    coat: &CoatFact,
) -> Result<(), LedgerError> {
    let Some(amount) = coat.amount else {
        sums.coat(row.day, false, 1);
        return Ok(());
    };
    match (coat.mix, &coat.lot) {
        (Some(mix), _) => {
            let pours = sums.poured(conn, mix)?;
            sums.draw(mix, amount.0);
            sums.coat(row.day, !pours.is_empty(), 1);
            stock::used(
                conn,
                book,
                sums,
                row,
                (amount, &pours),
                Taken::coat(Some(mix)),
            )
        }
        // A coat from the can leaves the stock now; what is in a cup left it when it was mixed.
        (None, Some(lot)) => {
            let pour = Pour {
                lot: lot.clone(),
                volume: amount,
            };
            sums.coat(row.day, true, 1);
            stock::used(conn, book, sums, row, (amount, &[pour]), Taken::coat(None))?;
            stock::moved(conn, row, 0, (lot, STORE), -amount.0)
        }
        (None, None) => {
            sums.coat(row.day, false, 1);
            Ok(())
        }
    }
}

fn void(conn: &Connection, book: &Book, sums: &mut Sums, row: &Row) -> Result<(), LedgerError> {
    let Some(target) = row.corrects else {
        return Err(LedgerError::Damaged(format!(
            "entry {} voids nothing",
            row.seq.0
        )));
    };
    conn.prepare_cached("INSERT INTO void (entry, by) VALUES (?1, ?2)")?
        .execute(params![target.0, row.seq.0])?;
    let (day, coat, mix, drawn): (i32, bool, Option<u32>, Option<i64>) = conn
        .prepare_cached(
            &format!("SELECT day, kind {COATS}, json_extract(body, '$.mix'), json_extract(body, '$.ul') FROM entry WHERE seq = ?1"),
        )?
        .query_row([target.0], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?)))?;
    let mut list = conn.prepare_cached("SELECT lot, volume, purpose FROM used WHERE entry = ?1")?;
    let used: Vec<(String, i64, String)> = list
        .query_map([target.0], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?
        .collect::<Result<_, _>>()?;
    if coat {
        sums.coat(Day(day), !used.is_empty(), -1);
        if let (Some(mix), Some(drawn)) = (mix, drawn) {
            sums.draw(mix, -drawn);
        }
    }
    for (lot, volume, purpose) in used {
        let of = DayUse {
            day: Day(day),
            lot,
            mix,
            coat,
            purpose,
            volume: Volume(volume),
        };
        sums.add(conn, book, of, -1)?;
    }
    conn.prepare_cached("DELETE FROM used WHERE entry = ?1")?
        .execute([target.0])?;
    conn.prepare_cached("DELETE FROM wheel_use WHERE entry = ?1")?
        .execute([target.0])?;
    stock::taken_back(conn, target.0)?;
    // A mix can be undone while nothing was done with it; the caller has made sure of that.
    let mix: Option<i64> = conn
        .prepare_cached("SELECT mix FROM mix WHERE entry = ?1")?
        .query_row([target.0], |r| r.get(0))
        .optional()?;
    if let Some(mix) = mix {
        conn.prepare_cached("DELETE FROM mix WHERE mix = ?1")?
            .execute([mix])?;
        conn.prepare_cached("DELETE FROM pour WHERE mix = ?1")?
            .execute([mix])?;
    }
    Ok(())
}
