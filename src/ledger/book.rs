//! Recipes, sheets and mixes as they are looked up again and again, and the rooms' air fetched when a rule asks.

use super::error::LedgerError;
use crate::shop::calendar::Day;
use crate::shop::climate::{Air, Climate, Credited, RoomAir, Sample, Stay, Tables};
use crate::shop::material::{Material, MixFigures, mix_figures};
use crate::shop::recipe::Recipe;
use crate::shop::record::{CoatFact, EntrySeq};
use crate::shop::solvent::{Statement, statement};
use crate::shop::standing::Mixes;
use crate::shop::words::MaterialKind;
use crate::shop::{material_file, recipe_file};
use crate::units::{Humidity, Moment, Share, Span, Temperature, Volume};
use rusqlite::{Connection, OptionalExtension, params};
use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, HashMap};
use std::rc::Rc;
use std::sync::Arc;

type Kept<K, V> = RefCell<HashMap<K, Arc<V>>>;

/// What was looked up in this process. Adopted revisions never change, and a room's readings only grow, so that their number
/// says which they are: nothing here goes stale, as long as what a write took back is forgotten ([`Book::forget`]).
#[derive(Debug, Default)]
pub(super) struct Book {
    rooms: RefCell<HashMap<String, KeptReadings>>,
    recipes: Kept<(String, u32), Recipe>,
    materials: Kept<(String, String), Material>,
    statements: RefCell<HashMap<StatementKey, Option<Arc<Statement>>>>,
}

// Readings of a room, from the one that stood at a moment on.
#[derive(Debug)]
struct KeptReadings {
    // How many the room had in all.
    taken: i64,
    from: Moment,
    samples: Vec<Sample>,
}

// No more readings of one room stay in memory: a minute's readings of two months, of which the newer half is kept then. A
// question that reaches further back is rare.
const KEPT_READINGS: usize = 90_000;

// Recipe, revision, rework and surface.
type StatementKey = (String, u32, Option<String>, String);

impl Book {
    pub(super) fn recipe(
        &self,
        conn: &Connection,
        code: &str,
        revision: u32,
    ) -> Result<Arc<Recipe>, LedgerError> {
        let key = (code.to_owned(), revision);
        if let Some(found) = self.recipes.borrow().get(&key) {
            return Ok(Arc::clone(found));
        }
        let text: Option<String> = conn
            .prepare_cached("SELECT text FROM recipe WHERE code = ?1 AND revision = ?2")?
            .query_row(params![code, revision], |r| r.get(0))
            .optional()?;
        let text = text.ok_or_else(|| {
            LedgerError::Input(format!(
                "recipe {code} rev {revision} is not adopted; run \"hangtime recipe adopt FILE\""
            ))
        })?;
        let recipe = recipe_file::read(code, &text).map_err(|_| {
            LedgerError::Damaged(format!(
                "the adopted recipe {code} rev {revision} no longer reads"
            ))
        })?;
        let recipe = Arc::new(recipe);
        self.recipes.borrow_mut().insert(key, Arc::clone(&recipe));
        Ok(recipe)
    }

    /// The statement of a recipe about its cure on one surface: it takes some thousand plays, so it is worked out once.
    pub(super) fn statement(
        &self,
        recipe: &Arc<Recipe>,
        rework: Option<&str>,
        surface: &str,
    ) -> Option<Arc<Statement>> {
        let key = (
            recipe.code.clone(),
            recipe.revision,
            rework.map(str::to_owned),
            surface.to_owned(),
        );
        if let Some(found) = self.statements.borrow().get(&key) {
            return found.clone();
        }
        let made = statement(recipe, rework, surface).map(Arc::new);
        self.statements.borrow_mut().insert(key, made.clone());
        made
    }

    pub(super) fn material(
        &self,
        conn: &Connection,
        code: &str,
        sheet: &str,
    ) -> Result<Arc<Material>, LedgerError> {
        let key = (code.to_owned(), sheet.to_owned());
        if let Some(found) = self.materials.borrow().get(&key) {
            return Ok(Arc::clone(found));
        }
        let text: Option<String> = conn
            .prepare_cached("SELECT text FROM material WHERE code = ?1 AND sheet = ?2")?
            .query_row(params![code, sheet], |r| r.get(0))
            .optional()?;
        let text = text.ok_or_else(|| {
            LedgerError::Input(format!(
                "material {code}, sheet {sheet} is not adopted; run \"hangtime material adopt FILE\""
            ))
        })?;
        let material = material_file::read(code, &text).map_err(|_| {
            LedgerError::Damaged(format!(
                "the adopted sheet {sheet} of {code} no longer reads"
            ))
        })?;
        let material = Arc::new(material);
        self.materials
            .borrow_mut()
            .insert(key, Arc::clone(&material));
        Ok(material)
    }
}

/// Figures of the mixes and lots that some coats name.
#[derive(Debug, Default)]
pub(super) struct MixTable {
    mixes: HashMap<u32, (MixFigures, Moment)>,
    lots: HashMap<String, MixFigures>,
    kinds: HashMap<Cup, Vec<MaterialKind>>,
    ends: HashMap<Cup, (String, Day)>,
}

// The mix of a coat, or else its lot.
type Cup = (Option<u32>, Option<String>);

fn cup(coat: &CoatFact) -> Cup {
    match coat.mix {
        Some(mix) => (Some(mix), None),
        None => (None, coat.lot.clone()),
    }
}

impl Mixes for MixTable {
    fn figures(&self, coat: &CoatFact) -> Option<MixFigures> {
        match (coat.mix, &coat.lot) {
            (Some(mix), _) => self.mixes.get(&mix).map(|(figures, _)| *figures),
            (None, Some(lot)) => self.lots.get(lot).copied(),
            (None, None) => None,
        }
    }

    fn mixed(&self, coat: &CoatFact) -> Option<Moment> {
        self.mixes.get(&coat.mix?).map(|(_, mixed)| *mixed)
    }

    fn kinds(&self, coat: &CoatFact) -> &[MaterialKind] {
        self.kinds.get(&cup(coat)).map_or(&[], Vec::as_slice)
    }

    fn shelf_life(&self, coat: &CoatFact) -> Option<(String, Day)> {
        self.ends.get(&cup(coat)).cloned()
    }
}

impl MixTable {
    /// Looks up what a coat names, once.
    pub(super) fn add(
        &mut self,
        conn: &Connection,
        book: &Book,
        coat: &CoatFact,
    ) -> Result<(), LedgerError> {
        let key = cup(coat);
        let new = match &key {
            (Some(mix), _) => !self.mixes.contains_key(mix),
            (None, Some(lot)) => !self.lots.contains_key(lot),
            (None, None) => false,
        };
        if new {
            let end = conn
                .prepare_cached(
                    "SELECT lot, expires FROM lot WHERE expires IS NOT NULL
                       AND (lot = ?2 OR lot IN (SELECT lot FROM pour WHERE mix = ?1))
                     ORDER BY expires, lot LIMIT 1",
                )?
                .query_row(params![key.0, key.1], |r| Ok((r.get(0)?, Day(r.get(1)?))))
                .optional()?;
            if let Some(end) = end {
                self.ends.insert(key, end);
            }
        }
        match (coat.mix, &coat.lot) {
            (Some(mix), _) if !self.mixes.contains_key(&mix) => {
                let figures = conn
                    .prepare_cached(
                        "SELECT volume, solids_ppm, retarder_ppm, mixed FROM mix WHERE mix = ?1",
                    )?
                    .query_row([mix], |r| {
                        let figures = MixFigures {
                            volume: Volume(r.get(0)?),
                            solids: Share(r.get(1)?),
                            retarder: Share(r.get(2)?),
                        };
                        Ok((figures, Moment(r.get(3)?)))
                    })
                    .optional()?;
                if let Some(figures) = figures {
                    self.mixes.insert(mix, figures);
                    let key = cup(coat);
                    self.kinds
                        .insert(key, kinds_in(conn, book, mix, &mut HashMap::new())?);
                }
            }
            (None, Some(lot)) if !self.lots.contains_key(lot) => {
                let (material, sheet) = super::models::lot_sheet(conn, lot)?;
                let material = book.material(conn, &material, &sheet)?;
                let figures = mix_figures([(material.as_ref(), Volume(1_000_000))]);
                self.lots.insert(lot.clone(), figures);
                self.kinds
                    .insert((None, Some(lot.clone())), vec![material.kind]);
            }
            _ => {}
        }
        Ok(())
    }
}

/// The kinds of material in a mix. What was topped up holds what it was topped up from. `known` keeps the kinds of lots
/// that were looked up, for whoever asks of many mixes.
pub(super) fn kinds_in(
    conn: &Connection,
    book: &Book,
    mix: u32,
    known: &mut HashMap<String, MaterialKind>,
) -> Result<Vec<MaterialKind>, LedgerError> {
    let mut list = conn.prepare_cached(
        "WITH RECURSIVE pot (mix, parent) AS (
           SELECT mix, parent FROM mix WHERE mix = ?1
           UNION
           SELECT m.mix, m.parent FROM pot JOIN mix m ON m.mix = pot.parent)
         SELECT DISTINCT lot FROM pour WHERE mix IN (SELECT mix FROM pot)",
    )?;
    let lots: Vec<String> = list
        .query_map([mix], |r| r.get(0))?
        .collect::<Result<_, _>>()?;
    let mut kinds = Vec::new();
    for lot in lots {
        if let Some(kind) = known.get(&lot) {
            kinds.push(*kind);
            continue;
        }
        let (material, sheet) = super::models::lot_sheet(conn, &lot)?;
        let kind = book.material(conn, &material, &sheet)?.kind;
        known.insert(lot, kind);
        kinds.push(kind);
    }
    kinds.sort_unstable();
    kinds.dedup();
    Ok(kinds)
}

/// The rooms' air under each recipe that is asked about, as it was known at one moment: what one piece of a rack had to
/// fetch serves the others.
#[derive(Debug)]
pub(super) struct Airs<'a> {
    conn: &'a Connection,
    book: &'a Book,
    as_of: Moment,
    seq: i64,
    of: RefCell<HashMap<(String, u32), Rc<FetchedAir<'a>>>>,
}

impl<'a> Airs<'a> {
    /// As for [`FetchedAir::new`].
    pub(super) fn new(conn: &'a Connection, book: &'a Book, as_of: Moment, seq: i64) -> Self {
        Self {
            conn,
            book,
            as_of,
            seq,
            of: RefCell::default(),
        }
    }

    /// The air under a recipe.
    pub(super) fn of(&self, recipe: &Arc<Recipe>) -> Rc<FetchedAir<'a>> {
        let mut of = self.of.borrow_mut();
        let found = of
            .entry((recipe.code.clone(), recipe.revision))
            .or_insert_with(|| {
                Rc::new(FetchedAir::new(
                    (self.conn, self.book),
                    recipe,
                    self.as_of,
                    self.seq,
                ))
            });
        Rc::clone(found)
    }
}

/// The rooms' air, fetched from the readings when a rule asks for credit: most deeds never do, and then of the rooms in which
/// the piece was.
#[derive(Debug)]
pub(super) struct FetchedAir<'a> {
    conn: &'a Connection,
    book: &'a Book,
    recipe: Arc<Recipe>,
    as_of: Moment,
    seq: i64,
    without: Option<&'a (String, Moment)>,
    known: Option<i64>,
    // No room is fetched from a later moment on.
    back: Cell<Moment>,
    kept: RefCell<(HashMap<String, Moment>, Tables)>,
    fault: RefCell<Option<LedgerError>>,
}

impl<'a> FetchedAir<'a> {
    /// Readings after `as_of` are left out: a question about a past moment is answered as it was then. Readings that
    /// came with an entry after `seq` are left out, too: a rebuild judges by what was known.
    pub(super) fn new(
        (conn, book): (&'a Connection, &'a Book),
        recipe: &Arc<Recipe>,
        as_of: Moment,
        seq: i64,
    ) -> Self {
        Self {
            conn,
            book,
            recipe: Arc::clone(recipe),
            as_of,
            seq,
            without: None,
            known: None,
            back: Cell::new(Moment(i64::MAX)),
            kept: RefCell::new((HashMap::new(), Tables::new(&recipe.credit))),
            fault: RefCell::new(None),
        }
    }

    /// Leaves out what a room's readings say from a moment on, as if its forecast had come true.
    pub(super) const fn without(mut self, readings: Option<&'a (String, Moment)>) -> Self {
        self.without = readings;
        self
    }

    /// Leaves out readings that came with an entry after this one: what was known at a moment. Unlike a rebuild, a question
    /// meets a record that goes on behind it.
    pub(super) const fn known(mut self, entry: Option<i64>) -> Self {
        self.known = entry;
        self
    }

    /// The fault that a look-up met. A rule cannot report one, so whoever asked a rule looks here afterwards.
    pub(super) fn fault(&self) -> Result<(), LedgerError> {
        self.fault.borrow_mut().take().map_or(Ok(()), Err)
    }

    /// Says that readings from `from` on will be asked for, so that no room is fetched twice.
    pub(super) fn reach_back(&self, from: Moment) {
        self.back.set(self.back.get().min(from));
    }

    fn fetch(&self, room: &str) -> Result<(), LedgerError> {
        let from = self.back.get();
        if self
            .kept
            .borrow()
            .0
            .get(room)
            .is_some_and(|since| *since <= from)
        {
            return Ok(());
        }
        if let Some(mut air) = room_air((self.conn, self.book), room, from, self.as_of, self.seq)? {
            if let Some(entry) = self.known {
                air.samples = known_readings(self.conn, room, [from, self.as_of], entry)?;
            }
            if let Some((named, since)) = self.without
                && named == room
            {
                air.samples.retain(|s| s.at < *since);
            }
            let mut kept = self.kept.borrow_mut();
            kept.1.insert(room, &air, &self.recipe.credit);
        }
        self.kept.borrow_mut().0.insert(room.to_owned(), from);
        Ok(())
    }
}

impl Air for FetchedAir<'_> {
    fn credited(&self, stays: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited {
        self.reach_back(from);
        let first = stays.partition_point(|s| s.from <= from).saturating_sub(1);
        for room in stays.iter().skip(first).filter_map(|s| s.room.as_deref()) {
            if let Err(fault) = self.fetch(room) {
                *self.fault.borrow_mut() = Some(fault);
                return Credited::default();
            }
        }
        self.kept.borrow().1.credited(stays, from, now, wanted)
    }
}

/// The air of all rooms from the reading that stood at `from` up to `as_of`, as it was known with entry `seq`.
pub(super) fn climate(
    (conn, book): (&Connection, &Book),
    from: Moment,
    as_of: Moment,
    seq: i64,
) -> Result<Climate, LedgerError> {
    let mut rooms = BTreeMap::new();
    let mut list = conn.prepare_cached("SELECT name FROM room")?;
    let mut rows = list.query([])?;
    while let Some(row) = rows.next()? {
        let name: String = row.get(0)?;
        if let Some(air) = room_air((conn, book), &name, from, as_of, seq)? {
            rooms.insert(name, air);
        }
    }
    Ok(Climate { rooms })
}

/// The same of one room; `None` where it was never declared.
pub(super) fn room_air(
    (conn, book): (&Connection, &Book),
    room: &str,
    from: Moment,
    as_of: Moment,
    seq: i64,
) -> Result<Option<RoomAir>, LedgerError> {
    let declared = conn
        .prepare_cached(
            "SELECT interval_ms, forecast_permille, readings FROM room WHERE name = ?1",
        )?
        .query_row([room], |r| {
            let interval: Option<i64> = r.get(0)?;
            Ok((interval, r.get(1)?, r.get(2)?))
        })
        .optional()?;
    let Some((interval, forecast_permille, taken)) = declared else {
        return Ok(None);
    };
    Ok(Some(RoomAir {
        interval: interval.map(Span),
        forecast_permille,
        samples: book.readings((conn, seq), room, taken, [from, as_of])?,
    }))
}

impl Book {
    /// Forgets the readings of rooms: what was read in a write that was taken back never was.
    pub(super) fn forget(&self) {
        self.rooms.borrow_mut().clear();
    }

    // The readings of a room from the one that stood at a moment to another moment. The room has `taken` in all with entries up
    // to `seq`.
    fn readings(
        &self,
        (conn, seq): (&Connection, i64),
        room: &str,
        taken: i64,
        [from, as_of]: [Moment; 2],
    ) -> Result<Vec<Sample>, LedgerError> {
        let mut rooms = self.rooms.borrow_mut();
        let mut kept = match rooms.remove(room).filter(|k| k.from <= from) {
            Some(kept) => kept,
            None => KeptReadings {
                taken,
                from,
                samples: readings(conn, room, from, seq)?,
            },
        };
        if kept.taken != taken {
            // Most come after all others; where some do not, all of them are read anew.
            let last = kept.samples.last().map(|s| s.at);
            let later = match last {
                Some(last) => readings(conn, room, last.plus(Span(1)), seq)?,
                None => Vec::new(),
            };
            let later = later.iter().filter(|s| Some(s.at) > last);
            if i64::try_from(later.clone().count()) == Ok(taken - kept.taken) {
                kept.samples.extend(later);
            } else {
                kept.samples = readings(conn, room, kept.from, seq)?;
            }
            kept.taken = taken;
        }
        let all = &kept.samples;
        let first = all.partition_point(|s| s.at <= from).saturating_sub(1);
        let end = all.partition_point(|s| s.at <= as_of);
        let found = all.get(first..end).unwrap_or_default().to_vec();
        if all.len() > KEPT_READINGS {
            kept.samples.drain(..all.len() - KEPT_READINGS / 2);
            kept.from = kept.samples.first().map_or(kept.from, |s| s.at);
        }
        rooms.insert(room.to_owned(), kept);
        Ok(found)
    }

    /// Takes in what an entry brought to a room, where the room's readings are in memory and these come after them. Whoever
    /// goes over the record need not look through all that came later then.
    pub(super) fn brought(
        &self,
        conn: &Connection,
        (room, rows): (&str, u32),
        (from, to): (Moment, Moment),
        entry: EntrySeq,
    ) -> Result<(), LedgerError> {
        let mut rooms = self.rooms.borrow_mut();
        let Some(kept) = rooms.get_mut(room) else {
            return Ok(());
        };
        let taken: i64 = conn
            .prepare_cached("SELECT readings FROM room WHERE name = ?1")?
            .query_row([room], |r| r.get(0))?;
        let after = kept.samples.last().is_none_or(|last| last.at < from);
        if !after || kept.taken + i64::from(rows) != taken {
            return Ok(());
        }
        let mut list = conn.prepare_cached(
            "SELECT at, temperature_mc, humidity_cpct FROM reading
             WHERE room = ?1 AND at BETWEEN ?2 AND ?3 AND entry = ?4 ORDER BY at",
        )?;
        let found = list.query_map(params![room, from.0, to.0, entry.0], sample)?;
        let found: Vec<Sample> = found.collect::<Result<_, _>>()?;
        if u32::try_from(found.len()) == Ok(rows) {
            kept.samples.extend(found);
            kept.taken = taken;
        }
        Ok(())
    }
}

/// The readings of a room from the one that stood at a moment to another moment, as they were known with an entry.
pub(super) fn known_readings(
    conn: &Connection,
    room: &str,
    [from, as_of]: [Moment; 2],
    entry: i64,
) -> Result<Vec<Sample>, LedgerError> {
    let mut found = readings(conn, room, from, entry)?;
    found.retain(|s| s.at <= as_of);
    Ok(found)
}

// All readings of a room that came with entries up to `seq`, from the one that stood at `from` on.
fn readings(
    conn: &Connection,
    room: &str,
    from: Moment,
    seq: i64,
) -> Result<Vec<Sample>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT at, temperature_mc, humidity_cpct FROM reading
         WHERE room = ?1 AND entry <= ?3
           AND at >= coalesce((SELECT max(at) FROM reading WHERE room = ?1 AND at <= ?2 AND entry <= ?3), ?2)
         ORDER BY at",
    )?;
    let rows = list.query_map(params![room, from.0, seq], sample)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn sample(r: &rusqlite::Row<'_>) -> rusqlite::Result<Sample> {
    Ok(Sample {
        at: Moment(r.get(0)?),
        temperature: Temperature(r.get(1)?),
        humidity: r.get::<_, Option<i64>>(2)?.map(Humidity),
    })
}
