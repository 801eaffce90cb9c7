//! Reading back: pieces with their standings, entries with both times, deviations, lots, sums.

use super::ahead::{Forecasts, solvent_holds};
use super::book::{Book, FetchedAir, MixTable, climate, known_readings};
use super::booths::SPRAYED_IN;
use super::error::LedgerError;
use super::models::{Kept, lot_sheet};
use super::open::Ledger;
use super::setup::material_like;
use super::stock::POT_OPEN;
use super::stored::{PieceMore, Shared, decode, decode_piece};
use crate::shop::calendar::Day;
use crate::shop::climate::{Climate, Stay};
use crate::shop::material::{Counted, Material, Pour, Totals};
use crate::shop::outlook::{View, misses, next_words, view};
use crate::shop::recipe::{Recipe, Step};
use crate::shop::record::{Entry, EntrySeq, Fact, NewPiece, PieceId, What};
use crate::shop::rules::{Around, Ground, OtherHalf};
use crate::shop::solvent::SolventHold;
use crate::shop::standing::{PieceNow, Recipes, RetiredTag, Site, Standing, Surfaces};
use crate::shop::words::{MaterialKind, PieceKind, StepKind, Word};
use crate::units::{Area, Film, Mass, Moment, Share, Span, Speed, Volume};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Row, params};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// A piece with its recipe and the judgement on it at a moment.
#[derive(Debug, Clone)]
pub struct Seen {
    /// Where it stands; behind a pointer, as lists of pieces are sorted and passed on.
    pub now: Arc<PieceNow>,
    /// Its recipe.
    pub recipe: Arc<Recipe>,
    /// What is next, from when and why; pieces that stand alike share it in memory.
    pub view: Arc<View>,
    /// What the recipe's solvent model holds back: an estimate, computed on reading.
    pub solvent: Vec<SolventHold>,
    /// The working hours that its forecast goes by, in words, and where they are from.
    pub hours: Arc<str>,
}

impl Seen {
    /// Each surface in the branch in which it is worked on.
    pub fn sites(&self) -> impl Iterator<Item = Site<'_>> {
        self.now.current(&self.recipe)
    }

    /// The surface that decides what is next; the first where nothing is.
    pub fn site(&self) -> Option<Site<'_>> {
        self.sites()
            .find(|s| s.surface == self.view.surface)
            .or_else(|| self.sites().next())
    }

    /// The rack that it hangs on.
    pub fn rack(&self) -> Option<&str> {
        self.now.place()?.rack.as_deref()
    }

    /// The texts by which it is looked for: serial, tag, model, kind, recipe, rack and next step.
    pub fn texts(&self) -> [&str; 7] {
        let piece = &self.now.piece;
        [
            &piece.serial,
            piece.tag.as_deref().unwrap_or_default(),
            &piece.model,
            piece.kind.word(),
            &piece.recipe,
            self.rack().unwrap_or_default(),
            &self.view.next,
        ]
    }

    /// The step that is next.
    pub fn step(&self) -> Option<&Step> {
        self.site()?.steps.get(self.view.step?)
    }

    /// The finished band of the surface that speaks for the film.
    pub fn band(&self) -> (Film, Film) {
        self.now
            .weakest(&self.recipe)
            .map_or((self.recipe.film_low, self.recipe.film_high), |s| {
                self.recipe.band(s.surface)
            })
    }

    /// The film of its weakest surface, in nm.
    pub fn film_nm(&self) -> i64 {
        self.now.film_nm(&self.recipe)
    }

    /// Whether all that is judged of it is judged of the other one, too, and was judged once for both.
    pub fn stands_with(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.view, &other.view) && self.now.stands_as(&other.now)
    }

    /// The film that its weakest surface will end with, in nm.
    pub fn finish_nm(&self) -> i64 {
        self.now.finish_nm(&self.recipe)
    }

    /// Whether the film of a surface rests on a gauge reading.
    pub fn gauged(&self) -> bool {
        self.sites().any(|s| s.standing.gauged)
    }

    /// The oldest of the moments at which its surfaces were last wet.
    pub(super) fn oldest_wet(&self) -> Option<Moment> {
        self.sites().filter_map(|s| s.standing.last_wet).min()
    }

    /// End of the newest deed that left something wet.
    pub fn last_wet(&self) -> Option<Moment> {
        self.sites().filter_map(|s| s.standing.last_wet).max()
    }
}

/// An action as it was written.
#[derive(Debug, Clone)]
pub struct ActionRow {
    /// Its number.
    pub seq: i64,
    /// Identity of its draft.
    pub draft: String,
    /// The deed in one word.
    pub deed: String,
    /// Who did it.
    pub person: String,
    /// Who wrote it.
    pub writer: String,
    /// Where.
    pub station: String,
    /// When it began.
    pub began: Moment,
    /// When it ended.
    pub ended: Moment,
    /// When it was written.
    pub written: Moment,
    /// Facts that its entries share.
    pub shared: Shared,
}

/// An entry as it was written, with what became of it.
#[derive(Debug, Clone)]
pub struct EntryRow {
    /// Its number.
    pub seq: EntrySeq,
    /// Its action.
    pub action: i64,
    /// The piece and its serial.
    pub piece: Option<(PieceId, String)>,
    /// The surface.
    pub surface: String,
    /// The branch.
    pub branch: u32,
    /// When it began.
    pub began: Moment,
    /// When it ended.
    pub ended: Moment,
    /// When it was written.
    pub written: Moment,
    /// Who did it.
    pub person: String,
    /// Who wrote it.
    pub writer: String,
    /// Where.
    pub station: String,
    /// The entry that it corrects.
    pub corrects: Option<EntrySeq>,
    /// The entry that voided it.
    pub voided_by: Option<EntrySeq>,
    /// What it says.
    pub what: What,
    /// Where its written time came from: `system`, `demo` or `doubtful`.
    pub clock: String,
    /// What must be added to its times, where the clock was found wrong.
    pub clock_off: Option<Span>,
    /// Whether who did it is in no people list, where the shop keeps one.
    pub stranger: bool,
    /// Its production day, as it was stored.
    pub day: Day,
    /// When its action began, and the zone's offset at that moment in minutes, as it was stored.
    pub offset: (Moment, i32),
}

/// A deviation as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeviationRow {
    /// The entry.
    pub entry: EntrySeq,
    /// The rule's word.
    pub rule: String,
    /// Serial of the piece.
    pub serial: String,
    /// What it says.
    pub text: String,
    /// The reason given, if any.
    pub reason: Option<String>,
    /// The action that brought it to light.
    pub raised: i64,
    /// The action after which it no longer holds.
    pub moot: Option<i64>,
    /// The entry with the supervisor's word.
    pub answer: Option<i64>,
}

/// A deviation with what it can be counted by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeviationGround {
    /// The deviation.
    pub row: DeviationRow,
    /// When its deed began.
    pub at: Moment,
    /// Initials of who did it.
    pub person: String,
    /// The room in which the piece was when the deed began, where that is known.
    pub room: Option<String>,
    /// The recipe and revision that the piece went by when the deed began.
    pub recipe: String,
}

/// A lot as it was received.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LotRow {
    /// The lot.
    pub lot: String,
    /// Material code.
    pub material: String,
    /// Sheet revision.
    pub sheet: String,
    /// Volume received, further deliveries included.
    pub volume: Volume,
    /// Volume used by logged coats, for cleaning, or given up.
    pub used: Volume,
    /// End of its shelf life.
    pub expires: Option<Day>,
}

/// A mix as it was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MixRow {
    /// Its number.
    pub mix: u32,
    /// What people call it.
    pub name: String,
    /// When it was made.
    pub made: Moment,
    /// When its oldest part was mixed: a pot life counts from there.
    pub mixed: Moment,
    /// The entry that made it.
    pub entry: i64,
    /// Volume.
    pub volume: Volume,
    /// Volume solids.
    pub solids: Share,
    /// Retarder share.
    pub retarder: Share,
    /// What is in it: what was poured, and what was left of the mix that it tops up.
    pub parts: Vec<Pour>,
    /// The mix that it tops up, and what was left of that one where it is in this one.
    pub tops_up: Option<(u32, Option<Volume>)>,
    /// Whether its pot is open: neither closed nor topped up into another mix.
    pub open: bool,
    /// The kinds of material in it, and in what it was topped up from.
    pub kinds: Vec<MaterialKind>,
}

/// How many of each lie on the shop's shelves: what a new shop still lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Shelf {
    /// Adopted recipe revisions.
    pub recipes: usize,
    /// Adopted data sheets.
    pub materials: usize,
    /// Lots received.
    pub lots: usize,
}

/// An adopted sheet or recipe revision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetRow {
    /// Code.
    pub code: String,
    /// Sheet or revision.
    pub revision: String,
    /// The entry that adopted it.
    pub entry: i64,
    /// The file as it was read.
    pub text: String,
}

/// A limit that the shop entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CeilingRow {
    /// What it limits.
    pub what: String,
    /// Where it holds.
    pub scope: String,
    /// The figure in the record's unit.
    pub value: i64,
    /// The figure as typed.
    pub typed: String,
    /// The basis.
    pub basis: String,
    /// The source.
    pub source: String,
    /// Who entered it.
    pub person: String,
    /// Since when.
    pub since: Moment,
    /// The entry that holds it.
    pub entry: i64,
    /// Thousandths of it at which a word is said before.
    pub warn: Vec<i64>,
    /// The rule set that says what counts, where that is not the shop's own.
    pub rules: Option<String>,
}

/// The newest survey of a booth.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoothSurvey {
    /// The booth.
    pub booth: String,
    /// When.
    pub at: Moment,
    /// The readings.
    pub readings: Vec<Speed>,
    /// How many the grid has.
    pub wanted: u32,
    /// Instrument.
    pub instrument: String,
    /// The entry that holds it.
    pub entry: i64,
}

/// What one entry used of one lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UsedRow {
    /// The entry.
    pub entry: EntrySeq,
    /// Its action.
    pub action: i64,
    /// The lot.
    pub lot: String,
    /// How much.
    pub volume: Volume,
}

/// One substance of one sheet in a month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MonthSubstance {
    /// Material code.
    pub material: String,
    /// Sheet revision.
    pub sheet: String,
    /// The substance.
    pub substance: Counted,
    /// Its mass.
    pub mass: Mass,
}

/// A month's sums from the log.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MonthSums {
    /// The month, as `2026-03`.
    pub month: String,
    /// VOC, HAP and exempt, all materials.
    pub totals: Totals,
    /// By material: volume and totals.
    pub materials: Vec<(String, Volume, Totals)>,
    /// By sheet and substance.
    pub substances: Vec<MonthSubstance>,
}

fn bad_word(kind: &str, text: &str) -> LedgerError {
    LedgerError::Damaged(format!("a {kind} holds the unknown word \"{text}\""))
}

fn from_word<W: Word>(kind: &str, text: &str) -> Result<W, LedgerError> {
    W::from_word(text).ok_or_else(|| bad_word(kind, text))
}

/// A piece, and the other half that its mating asks for.
type WithHalf = (Arc<PieceNow>, Option<OtherHalf>);

/// How many of the pieces before it are looked through for one that stands alike: those of a rack with exceptions.
const ALIKE: usize = 6;

// Whether the judgement on a piece serves for another one. What its other half or a solvent model, which goes by each single
// coat, says is its own.
fn serves(seen: &Seen, now: &PieceNow) -> bool {
    seen.view.kind != Some(StepKind::Mate)
        && seen.recipe.solvent.is_none()
        && seen.now.stands_as(now)
}

/// Which pieces are loaded.
#[derive(Debug, Clone, Copy)]
enum Which {
    One(PieceId),
    InProcess,
}

impl Which {
    // A statement about the pieces `p`; the pieces are walked in their order, and what hangs on them is found by their number.
    fn rows<T>(
        self,
        conn: &Connection,
        (columns, of): (&str, &str),
        mut read: impl FnMut(&Row<'_>) -> Result<T, LedgerError>,
    ) -> Result<Vec<(i64, T)>, LedgerError> {
        let (condition, id) = match self {
            Self::One(id) => ("p.id = ?1", Some(id.0)),
            Self::InProcess => ("p.in_process = 1", None),
        };
        let mut list = conn.prepare_cached(&format!(
            "SELECT {columns}, p.id FROM piece p {of} WHERE {condition} ORDER BY p.id"
        ))?;
        let id_at = list.column_count() - 1;
        let mut rows = list.query(rusqlite::params_from_iter(id))?;
        let mut out = Vec::new();
        while let Some(row) = rows.next()? {
            out.push((row.get(id_at)?, read(row)?));
        }
        Ok(out)
    }
}

/// The kept standing of a piece.
pub(super) fn load_piece(conn: &Connection, id: PieceId) -> Result<Option<PieceNow>, LedgerError> {
    Ok(load(conn, Which::One(id))?.pop().map(Arc::unwrap_or_clone))
}

// The kept standings of some pieces, in the order of their numbers: four statements, however many they are.
fn load(conn: &Connection, which: Which) -> Result<Vec<Arc<PieceNow>>, LedgerError> {
    let mut more = (String::new(), PieceMore::default());
    let pieces = which.rows(
        conn,
        (
            "serial, tag, kind, model, recipe, revision, area, due, mate, holds, scrapped, mated, newest, more, batch",
            "",
        ),
        |row| piece_row(row, &mut more).map(Arc::new),
    )?;
    let mut out: Vec<Arc<PieceNow>> = pieces.into_iter().map(|(_, now)| now).collect();
    let columns = "s.from_ms, s.rack, s.hook, s.room";
    let of = "CROSS JOIN stay s ON s.piece = p.id";
    let stays = which.rows(conn, (columns, of), stay_row)?;
    hang(&mut out, stays, |now, stay| now.stays.push(stay));
    let columns = "r.tag, r.at, r.why";
    let of = "CROSS JOIN retired_tag r ON r.piece = p.id";
    let retired = which.rows(conn, (columns, of), retired_row)?;
    hang(&mut out, retired, |now, tag| now.retired.push(tag));
    let columns = "t.branch, t.surface, t.done, t.film_nm, t.gauged, t.last_wet, t.last_wet_kind, t.retarder_last,
        t.retarder_set, t.coat_day, t.coats_that_day, t.sanded_since_wet, t.last_deed, t.start, t.closed, t.spots";
    let of = "CROSS JOIN standing t ON t.piece = p.id";
    let mut alike = AlikeRows::default();
    let standings = which.rows(conn, (columns, of), |row| alike.place_of(row))?;
    let standings = alike.by_piece(&standings);
    hang(&mut out, standings, |now, surfaces| now.surfaces = surfaces);
    Ok(out)
}

/// Where a surface stands in a branch.
type OfSurface = ((u32, String), Standing);

/// Rows of standings, each kind read once: the pieces of a rack stand alike, and share what is read.
#[derive(Default)]
struct AlikeRows {
    // By the row as it is stored.
    known: HashMap<Vec<u8>, usize>,
    read: Vec<OfSurface>,
    key: Vec<u8>,
}

impl AlikeRows {
    // Where the standing of a row lies among those that were read; the piece's number is the last column.
    fn place_of(&mut self, row: &Row<'_>) -> Result<usize, LedgerError> {
        self.key.clear();
        for column in 0..STANDING_COLUMNS {
            stored_bytes(row.get_ref(column)?, &mut self.key);
        }
        if let Some(known) = self.known.get(&self.key) {
            return Ok(*known);
        }
        let place = self.read.len();
        self.read.push(standing_row(row)?);
        self.known.insert(self.key.clone(), place);
        Ok(place)
    }

    // All surfaces of each piece, of rows that are in the order of the pieces.
    fn by_piece(&self, rows: &[(i64, usize)]) -> Vec<(i64, Arc<Surfaces>)> {
        let mut made: HashMap<Vec<usize>, Arc<Surfaces>> = HashMap::new();
        rows.chunk_by(|(a, _), (b, _)| a == b)
            .filter_map(|of_piece| {
                let (id, _) = of_piece.first()?;
                let places: Vec<usize> = of_piece.iter().map(|(_, place)| *place).collect();
                let surfaces = made.entry(places).or_insert_with_key(|places| {
                    let each = places.iter().filter_map(|at| self.read.get(*at).cloned());
                    Arc::new(each.collect())
                });
                Some((*id, Arc::clone(surfaces)))
            })
            .collect()
    }
}

// Appends a value so that no two rows of the same columns give the same bytes.
fn stored_bytes(value: ValueRef<'_>, to: &mut Vec<u8>) {
    match value {
        ValueRef::Null => to.push(0),
        ValueRef::Integer(n) => {
            to.push(1);
            to.extend(n.to_le_bytes());
        }
        ValueRef::Real(x) => {
            to.push(2);
            to.extend(x.to_bits().to_le_bytes());
        }
        ValueRef::Text(bytes) | ValueRef::Blob(bytes) => {
            to.push(3);
            to.extend(bytes.len().to_le_bytes());
            to.extend(bytes);
        }
    }
}

/// How many columns a standing is read from.
const STANDING_COLUMNS: usize = 16;

// Gives each piece what belongs to it; both lists are in the order of the pieces.
fn hang<T>(pieces: &mut [Arc<PieceNow>], list: Vec<(i64, T)>, give: impl Fn(&mut PieceNow, T)) {
    let mut pieces = pieces.iter_mut().peekable();
    for (id, it) in list {
        while pieces.next_if(|p| p.id.0 < id).is_some() {}
        if let Some(now) = pieces.peek_mut().filter(|p| p.id.0 == id) {
            give(Arc::make_mut(now), it);
        }
    }
}

// A piece without what hangs on it. What is kept of the piece before it serves again where it is the same.
fn piece_row(
    row: &Row<'_>,
    (text, more): &mut (String, PieceMore),
) -> Result<PieceNow, LedgerError> {
    let kind: String = row.get(2)?;
    let holds: String = row.get(9)?;
    let holds: Vec<(i64, String)> = if holds == "[]" {
        Vec::new()
    } else {
        serde_json::from_str(&holds).map_err(|e| LedgerError::Damaged(e.to_string()))?
    };
    let piece = NewPiece {
        serial: row.get(0)?,
        tag: row.get(1)?,
        kind: from_word::<PieceKind>("piece", &kind)?,
        model: row.get(3)?,
        recipe: row.get(4)?,
        revision: row.get(5)?,
        area: Area(row.get(6)?),
        due: row.get::<_, Option<i32>>(7)?.map(|d| Day(d).date()),
        pair: row.get(8)?,
    };
    let stored = row.get_ref(13)?.as_str().map_err(rusqlite::Error::from)?;
    if stored != text {
        *more = decode_piece(stored)?;
        stored.clone_into(text);
    }
    let mut now = PieceNow {
        id: PieceId(row.get(15)?),
        piece,
        stays: Vec::new(),
        holds: holds
            .into_iter()
            .map(|(e, why)| (EntrySeq(e), why))
            .collect(),
        scrapped: row.get(10)?,
        mated: row.get(11)?,
        newest: Moment(row.get(12)?),
        branches: Vec::new(),
        begun: None,
        taped: None,
        batch: row.get(14)?,
        buffed_by: Vec::new(),
        flaws: Vec::new(),
        retired: Vec::new(),
        surfaces: Arc::default(),
    };
    more.clone().give(&mut now);
    Ok(now)
}

fn retired_row(r: &Row<'_>) -> Result<RetiredTag, LedgerError> {
    Ok(RetiredTag {
        tag: r.get(0)?,
        at: Moment(r.get(1)?),
        why: r.get(2)?,
    })
}

fn stay_row(r: &Row<'_>) -> Result<Stay, LedgerError> {
    Ok(Stay {
        from: Moment(r.get(0)?),
        rack: r.get(1)?,
        hook: r.get(2)?,
        room: r.get(3)?,
    })
}

fn standing_row(r: &Row<'_>) -> Result<OfSurface, LedgerError> {
    let done: String = r.get(2)?;
    let kind: Option<String> = r.get(6)?;
    let coats: String = r.get(10)?;
    let number = |t: &str| t.parse().map_err(|_| bad_word("standing", t));
    let done = done
        .split(',')
        .filter(|t| !t.is_empty())
        .map(number)
        .collect::<Result<Vec<u32>, _>>()?;
    let mut coats_that_day = BTreeMap::new();
    for pair in coats.split(',').filter(|t| !t.is_empty()) {
        let (kind, n) = pair
            .split_once('=')
            .ok_or_else(|| bad_word("standing", pair))?;
        coats_that_day.insert(from_word::<StepKind>("standing", kind)?, number(n)?);
    }
    let standing = Standing {
        done,
        film_nm: r.get(3)?,
        gauged: r.get(4)?,
        last_wet: r.get::<_, Option<i64>>(5)?.map(Moment),
        last_wet_kind: kind.map(|k| from_word("standing", &k)).transpose()?,
        retarder_last: Share(r.get(7)?),
        retarder_set: Share(r.get(8)?),
        coat_day: Day(r.get(9)?),
        coats_that_day,
        sanded_since_wet: r.get(11)?,
        last_deed: r.get::<_, Option<i64>>(12)?.map(Moment),
        start: usize::try_from(r.get::<_, i64>(13)?).unwrap_or(0),
        closed: r.get::<_, Option<i64>>(14)?.map(Moment),
        spots: spots(&r.get::<_, String>(15)?)?,
    };
    Ok(((r.get(0)?, r.get(1)?), standing))
}

fn spots(text: &str) -> Result<BTreeMap<String, (Moment, u32)>, LedgerError> {
    let kept: BTreeMap<String, (i64, u32)> =
        serde_json::from_str(text).map_err(|e| LedgerError::Damaged(e.to_string()))?;
    Ok(kept
        .into_iter()
        .map(|(place, (at, drops))| (place, (Moment(at), drops)))
        .collect())
}

/// How far the record is read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reach {
    /// Leaves out what ended later.
    pub(super) ended: Moment,
    /// Leaves out what was written later.
    pub(super) written: Moment,
    /// Leaves out later entries: a rebuild sees the record as it was when an action was applied.
    pub(super) seq: i64,
}

impl Reach {
    /// All of it.
    pub(super) const ALL: Self = Self {
        ended: Moment(i64::MAX),
        written: Moment(i64::MAX),
        seq: i64::MAX,
    };
}

/// The entries of a piece that still count, in the order in which they happened.
pub(super) fn piece_entries(
    conn: &Connection,
    id: PieceId,
    reach: Reach,
) -> Result<Vec<Entry>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT e.seq, e.surface, e.branch, e.began, e.ended, a.written, e.day, e.kind, e.body, a.person, a.body
         FROM entry e JOIN action a ON a.seq = e.action
         WHERE e.piece = ?1 AND e.ended <= ?2 AND a.written <= ?3 AND e.seq <= ?4
           AND NOT EXISTS (SELECT 1 FROM void v JOIN entry b ON b.seq = v.by JOIN action c ON c.seq = b.action
                           WHERE v.entry = e.seq AND c.written <= ?3)
         ORDER BY e.began, e.seq",
    )?;
    let mut rows = list.query(params![id.0, reach.ended.0, reach.written.0, reach.seq])?;
    let mut out = Vec::new();
    while let Some(r) = rows.next()? {
        let kind: String = r.get(7)?;
        let body: String = r.get(8)?;
        if let What::Piece(fact) = decode(&kind, &body)? {
            let shared: String = r.get(10)?;
            let (air, humidity) = Shared::read(&shared)?.air();
            out.push(Entry {
                seq: EntrySeq(r.get(0)?),
                piece: id,
                surface: r.get(1)?,
                branch: r.get(2)?,
                began: Moment(r.get(3)?),
                ended: Moment(r.get(4)?),
                written: Moment(r.get(5)?),
                day: Day(r.get(6)?),
                person: r.get(9)?,
                air,
                humidity,
                fact,
            });
        }
    }
    // A piece exists from the moment it is taken in, whatever was logged for earlier times.
    if let Some(added) = out.iter().position(|e| matches!(e.fact, Fact::Added(_))) {
        let first = out.remove(added);
        out.insert(0, first);
    }
    Ok(out)
}

/// The recipe revisions that some entries and a standing go by.
pub(super) fn recipes_of(
    conn: &Connection,
    book: &Book,
    start: Option<&PieceNow>,
    entries: &[Entry],
) -> Result<Recipes, LedgerError> {
    let mut recipes = Recipes::default();
    let named = entries.iter().filter_map(|e| match &e.fact {
        Fact::Added(p) => Some((p.recipe.as_str(), p.revision)),
        Fact::Reassigned {
            recipe, revision, ..
        } => Some((recipe.as_str(), *revision)),
        _ => None,
    });
    let had = start.map(|now| (now.piece.recipe.as_str(), now.piece.revision));
    for (code, revision) in had.into_iter().chain(named) {
        if !recipes.has(code, revision) {
            recipes.add(book.recipe(conn, code, revision)?);
        }
    }
    Ok(recipes)
}

/// A piece as its entries make it, in their order; `None` when it was not taken in by them.
pub(super) fn standing_after(
    conn: &Connection,
    book: &Book,
    entries: &[Entry],
) -> Result<Option<PieceNow>, LedgerError> {
    let recipes = recipes_of(conn, book, None, entries)?;
    let mut mixes = MixTable::default();
    let mut now: Option<PieceNow> = None;
    for entry in entries {
        if let Fact::Coat(c) = &entry.fact {
            mixes.add(conn, book, c)?;
        }
        match (&mut now, &entry.fact) {
            (None, Fact::Added(piece)) => {
                now = recipes
                    .of(piece)
                    .map(|recipe| PieceNow::taken_in(entry, piece, recipe));
            }
            (Some(now), _) => now.apply(entry, &recipes, &mixes),
            (None, _) => {}
        }
    }
    Ok(now)
}

/// The piece with a serial as it stood at a moment, by its kept standing where nothing was done to it since.
fn half_at(
    (conn, kept): (&Connection, &Kept),
    book: &Book,
    serial: &str,
    (at, seq): (Moment, i64),
) -> Result<Option<PieceNow>, LedgerError> {
    match kept.named(conn, serial)? {
        None => Ok(None),
        Some(now) if now.newest <= at => Ok(Some(now)),
        Some(now) => {
            let reach = Reach {
                ended: at,
                seq,
                ..Reach::ALL
            };
            standing_after(conn, book, &piece_entries(conn, now.id, reach)?)
        }
    }
}

/// The other half of a pair as the rules ask about it.
pub(super) fn other_half(
    (conn, kept): (&Connection, &Kept),
    book: &Book,
    serial: &str,
    reach: (Moment, i64),
) -> Result<Option<OtherHalf>, LedgerError> {
    half_at((conn, kept), book, serial, reach)?
        .map(|now| half_of(conn, book, &now))
        .transpose()
}

fn half_of(conn: &Connection, book: &Book, now: &PieceNow) -> Result<OtherHalf, LedgerError> {
    let recipe = book.recipe(conn, &now.piece.recipe, now.piece.revision)?;
    let mut open = now
        .current(&recipe)
        .filter_map(|s| Some((s, s.standing.next(s.steps)?)))
        .filter(|(s, i)| s.steps.get(*i).is_some_and(|s| s.kind != StepKind::Mate));
    let next = match (&now.scrapped, open.next()) {
        (Some(why), _) => format!("scrapped: {why}"),
        (None, Some((site, step))) => next_words(site.standing, site.steps, step),
        (None, None) => "mate".to_owned(),
    };
    Ok(OtherHalf {
        serial: now.piece.serial.clone(),
        belongs_to: now.piece.pair.clone(),
        batch: now.batch.clone(),
        there: now.mated || next == "mate",
        next,
    })
}

const ENTRY_COLUMNS: &str =
    "SELECT e.seq, e.action, e.piece, p.serial, e.surface, e.branch, e.began, e.ended, a.written,
        a.person, a.writer, a.station, e.corrects, v.by, e.kind, e.body, a.clock,
        (SELECT sum(f.by_ms) FROM clock_fix f WHERE e.action BETWEEN f.from_action AND f.to_action),
        EXISTS (SELECT 1 FROM person WHERE entry > 1) AND NOT EXISTS (SELECT 1 FROM person o WHERE o.initials = a.person),
        e.day, a.began, a.offset_min
 FROM entry e JOIN action a ON a.seq = e.action
 LEFT JOIN piece p ON p.id = e.piece LEFT JOIN void v ON v.entry = e.seq ";

fn entry_row(r: &Row<'_>) -> Result<EntryRow, LedgerError> {
    let kind: String = r.get(14)?;
    let body: String = r.get(15)?;
    let piece: Option<i64> = r.get(2)?;
    let serial: Option<String> = r.get(3)?;
    Ok(EntryRow {
        seq: EntrySeq(r.get(0)?),
        action: r.get(1)?,
        piece: piece.map(|p| (PieceId(p), serial.unwrap_or_default())),
        surface: r.get(4)?,
        branch: r.get(5)?,
        began: Moment(r.get(6)?),
        ended: Moment(r.get(7)?),
        written: Moment(r.get(8)?),
        person: r.get(9)?,
        writer: r.get(10)?,
        station: r.get(11)?,
        corrects: r.get::<_, Option<i64>>(12)?.map(EntrySeq),
        voided_by: r.get::<_, Option<i64>>(13)?.map(EntrySeq),
        what: decode(&kind, &body)?,
        clock: r.get(16)?,
        clock_off: r.get::<_, Option<i64>>(17)?.map(Span),
        stranger: r.get(18)?,
        day: Day(r.get(19)?),
        offset: (Moment(r.get(20)?), r.get(21)?),
    })
}

/// Entries that a condition selects.
pub(super) fn entries_where(
    conn: &Connection,
    condition: &str,
    values: &[i64],
) -> Result<Vec<EntryRow>, LedgerError> {
    let mut list = conn.prepare_cached(&format!("{ENTRY_COLUMNS} {condition}"))?;
    let mut rows = list.query(rusqlite::params_from_iter(values))?;
    let mut out = Vec::new();
    while let Some(r) = rows.next()? {
        out.push(entry_row(r)?);
    }
    Ok(out)
}

/// An action by its number.
pub(super) fn action_row(conn: &Connection, seq: i64) -> Result<Option<ActionRow>, LedgerError> {
    let mut found = conn.prepare_cached(
        "SELECT seq, draft, deed, person, writer, station, began, ended, written, body FROM action WHERE seq = ?1",
    )?;
    let mut rows = found.query([seq])?;
    let Some(r) = rows.next()? else {
        return Ok(None);
    };
    let body: String = r.get(9)?;
    Ok(Some(ActionRow {
        seq: r.get(0)?,
        draft: r.get(1)?,
        deed: r.get(2)?,
        person: r.get(3)?,
        writer: r.get(4)?,
        station: r.get(5)?,
        began: Moment(r.get(6)?),
        ended: Moment(r.get(7)?),
        written: Moment(r.get(8)?),
        shared: serde_json::from_str(&body)
            .map_err(|e| LedgerError::Damaged(format!("action {seq} cannot be read: {e}")))?,
    }))
}

/// Whether a mix was made and still counts; the fault says which of the two it is not.
pub(super) fn check_mix(conn: &Connection, mix: u32) -> Result<(), LedgerError> {
    let known: i64 = conn
        .prepare_cached("SELECT count(*) FROM mix WHERE mix = ?1")?
        .query_row([mix], |r| r.get(0))?;
    if known > 0 {
        return Ok(());
    }
    let back: Option<(i64, i64)> = conn
        .prepare_cached(
            "SELECT v.entry, b.action FROM entry e JOIN void v ON v.entry = e.seq JOIN entry b ON b.seq = v.by
             WHERE e.kind IN ('mix/1', 'mix/2') AND json_extract(e.body, '$.mix') = ?1 ORDER BY e.seq DESC LIMIT 1",
        )?
        .query_row([mix], |r| Ok((r.get(0)?, r.get(1)?)))
        .optional()?;
    Err(LedgerError::Input(back.map_or_else(
        || format!("mix {mix} was not made; run \"hangtime mix make\" first"),
        |(entry, action)| {
            format!(
                "mix {mix} was taken back by action {action} (entry {entry} no longer counts); make it again with \"hangtime mix make\""
            )
        },
    )))
}

/// The members of a rack at a moment, in hook order.
pub(super) fn members(
    conn: &Connection,
    rack: &str,
    at: Moment,
) -> Result<Vec<(PieceId, Option<u32>)>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT piece, hook FROM stay WHERE rack = ?1 AND from_ms <= ?2 AND until_ms > ?2 ORDER BY hook, piece",
    )?;
    let rows = list.query_map(params![rack, at.0], |r| Ok((PieceId(r.get(0)?), r.get(1)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Finds a piece by serial, tag, or the last digits of its serial where they are unique among pieces in process.
pub(super) fn find_piece(conn: &Connection, text: &str) -> Result<PieceId, LedgerError> {
    let text = text.trim();
    let exact: Option<i64> = conn
        .prepare_cached("SELECT id FROM piece WHERE serial = ?1 OR tag = ?1")?
        .query_row([text], |r| r.get(0))
        .optional()?;
    if let Some(id) = exact {
        return Ok(PieceId(id));
    }
    if let Some((serial, tag)) = retired_owner(conn, text)? {
        let now = tag.map_or(String::new(), |t| format!(", whose tag is {t} now"));
        return Err(LedgerError::Input(format!(
            "\"{}\" is a retired tag: it belonged to {serial}{now}; look at what hangs there and write its serial",
            crate::shop::text::shown(text)
        )));
    }
    let mut list =
        conn.prepare_cached("SELECT id, serial FROM piece WHERE in_process = 1 ORDER BY serial")?;
    let all: Vec<(i64, String)> = list
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))?
        .collect::<Result<_, _>>()?;
    let ends: Vec<&(i64, String)> = if text.len() >= 3 && text.chars().all(|c| c.is_ascii_digit()) {
        all.iter().filter(|(_, s)| s.ends_with(text)).collect()
    } else {
        Vec::new()
    };
    // A piece that has left the room is still found by its digits where no other piece has them.
    let gone: Vec<i64> = if ends.is_empty()
        && text.len() >= 3
        && text.chars().all(|c| c.is_ascii_digit())
    {
        conn.prepare_cached("SELECT id FROM piece WHERE in_process = 0 AND substr(serial, -length(?1)) = ?1 LIMIT 2")?
            .query_map([text], |r| r.get(0))?
            .collect::<Result<_, _>>()?
    } else {
        Vec::new()
    };
    if let [id] = gone.as_slice() {
        return Ok(PieceId(*id));
    }
    if let [(id, _)] = ends.as_slice() {
        return Ok(PieceId(*id));
    }
    let mut near: Vec<(usize, &str)> = all
        .iter()
        .map(|(_, s)| (unlike(s, text), s.as_str()))
        .collect();
    near.sort_unstable();
    let near: Vec<&str> = if ends.is_empty() {
        near.into_iter()
            .filter(|(d, _)| *d <= 2)
            .take(5)
            .map(|(_, s)| s)
            .collect()
    } else {
        ends.iter().take(5).map(|(_, s)| s.as_str()).collect()
    };
    let text = crate::shop::text::shown(text);
    Err(LedgerError::Input(if near.is_empty() {
        format!("no piece \"{text}\"; write the serial, the tag or its last four digits")
    } else {
        format!("no single piece \"{text}\"; near it: {}", near.join(", "))
    }))
}

/// Serial and present tag of the piece that had a retired tag.
pub(super) fn retired_owner(
    conn: &Connection,
    tag: &str,
) -> Result<Option<(String, Option<String>)>, LedgerError> {
    Ok(conn
        .prepare_cached(
            "SELECT p.serial, p.tag FROM retired_tag r JOIN piece p ON p.id = r.piece WHERE r.tag = ?1 LIMIT 1",
        )?
        .query_row([tag], |r| Ok((r.get(0)?, r.get(1)?)))
        .optional()?)
}

// In how many places two serials differ, at equal length; else as if all did.
fn unlike(a: &str, b: &str) -> usize {
    if a.chars().count() == b.chars().count() {
        a.chars().zip(b.chars()).filter(|(x, y)| x != y).count()
    } else {
        usize::MAX
    }
}

impl Ledger {
    /// The pieces in process at `at`, with their outlook, ordered by place. `known_at` leaves out what was written
    /// later.
    pub fn floor(&self, at: Moment, known_at: Option<Moment>) -> Result<Vec<Seen>, LedgerError> {
        let mut list = self
            .conn
            .prepare_cached("SELECT id FROM piece WHERE newest > ?1 AND in_process = 0")?;
        let everything = known_at.map_or(at.0, |k| k.0.min(at.0));
        let limit = if known_at.is_some() {
            i64::MIN
        } else {
            everything
        };
        // Those that were in process at that moment, and no longer are.
        let then: Vec<i64> = list
            .query_map([limit], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        let kept = load(&self.conn, Which::InProcess)?;
        let mut pieces = Vec::with_capacity(kept.len());
        for now in kept {
            let now = self.stood_at(now.id, Some(now), at, known_at)?;
            pieces.extend(now.filter(|now| now.in_process()));
        }
        for id in then.into_iter().map(PieceId) {
            let now = self.piece_at(id, at, known_at)?;
            pieces.extend(now.filter(|now| now.in_process()));
        }
        let mut seen = self.judge_by(pieces, at, None, self.known_entry(known_at)?)?;
        seen.sort_by(|a, b| place_key(&a.now).cmp(&place_key(&b.now)));
        Ok(seen)
    }

    /// The judgement on some pieces at `at`.
    pub(super) fn judge(
        &self,
        pieces: Vec<Arc<PieceNow>>,
        at: Moment,
    ) -> Result<Vec<Seen>, LedgerError> {
        self.judge_without(pieces, at, None)
    }

    /// The same as if a room's forecast had come true from a moment on, whatever its readings say.
    pub(super) fn judge_without(
        &self,
        pieces: Vec<Arc<PieceNow>>,
        at: Moment,
        readings: Option<&(String, Moment)>,
    ) -> Result<Vec<Seen>, LedgerError> {
        self.judge_by(pieces, at, readings, None)
    }

    /// The newest entry that was written by a moment; `None` without a moment, 0 where there was none.
    pub(super) fn known_entry(&self, known_at: Option<Moment>) -> Result<Option<i64>, LedgerError> {
        let Some(known) = known_at else {
            return Ok(None);
        };
        let newest: Option<i64> = self
            .conn
            .prepare_cached(
                "SELECT seq FROM entry
                 WHERE action <= (SELECT seq FROM action WHERE written <= ?1 ORDER BY seq DESC LIMIT 1)
                 ORDER BY seq DESC LIMIT 1",
            )?
            .query_row([known.0], |r| r.get(0))
            .optional()?;
        Ok(Some(newest.unwrap_or(0)))
    }

    // The judgement, with a room's forecast in the place of its readings, and without readings that came after an entry.
    fn judge_by(
        &self,
        pieces: Vec<Arc<PieceNow>>,
        at: Moment,
        readings: Option<&(String, Moment)>,
        known: Option<i64>,
    ) -> Result<Vec<Seen>, LedgerError> {
        let calendar = self.calendar();
        let others = self.other_halves(&pieces, at)?;
        let mut by_recipe: BTreeMap<(String, u32), Vec<WithHalf>> = BTreeMap::new();
        for (now, other) in pieces.into_iter().zip(others) {
            by_recipe
                .entry((now.piece.recipe.clone(), now.piece.revision))
                .or_default()
                .push((now, other));
        }
        let hours = self.working(at)?;
        let said: Arc<str> = self.working_words(at)?.into();
        let mut out = Vec::new();
        for ((code, revision), pieces) in by_recipe {
            let recipe = self.book.recipe(&self.conn, &code, revision)?;
            let air = FetchedAir::new((&self.conn, &self.book), &recipe, at, i64::MAX)
                .without(readings)
                .known(known);
            let wets = pieces
                .iter()
                .flat_map(|(p, _)| p.current(&recipe).filter_map(|s| s.standing.last_wet))
                .min();
            if let Some(oldest) = wets {
                air.reach_back(oldest);
            }
            let mut forecasts = Forecasts::new(&recipe, &calendar, &air, &hours, at);
            let first = out.len();
            for (now, other) in pieces {
                // The pieces of a rack come one after the other, and most of them stand alike.
                let mates = out.iter().skip(first).rev().take(ALIKE);
                if let Some(mate) = mates.into_iter().find(|m| serves(m, &now)) {
                    let view = Arc::clone(&mate.view);
                    out.push(Seen {
                        now,
                        recipe: Arc::clone(&recipe),
                        view,
                        solvent: Vec::new(),
                        hours: Arc::clone(&said),
                    });
                    continue;
                }
                let solvent = solvent_holds(&self.conn, &self.book, (&now, &recipe), at, &air)?;
                let around = Around {
                    other,
                    wheel_had: None,
                    solvent,
                };
                let ground = Ground {
                    recipe: &recipe,
                    calendar: &calendar,
                    air: &air,
                    around: &around,
                };
                let mut view = view(&now, at, &ground);
                if now.piece.due.is_some() && view.step.is_some() {
                    view.finish = forecasts
                        .of(&now, &around.solvent)
                        .ok()
                        .and_then(|told| told.end);
                    view.behind |= view.finish.is_some_and(|end| misses(&now, end, &calendar));
                }
                out.push(Seen {
                    now,
                    recipe: Arc::clone(&recipe),
                    view: Arc::new(view),
                    solvent: around.solvent,
                    hours: Arc::clone(&said),
                });
            }
            air.fault()?;
        }
        Ok(out)
    }

    // The other half of each piece whose mating is next, from among these where it is there.
    fn other_halves(
        &self,
        pieces: &[Arc<PieceNow>],
        at: Moment,
    ) -> Result<Vec<Option<OtherHalf>>, LedgerError> {
        let of_pair = pieces.iter().filter(|p| p.piece.pair.is_some());
        let by_serial: HashMap<&str, &PieceNow> =
            of_pair.map(|p| (p.piece.serial.as_str(), &**p)).collect();
        let there = |serial: &str| by_serial.get(serial).copied();
        let mut last: Option<Arc<Recipe>> = None;
        let mut out = Vec::with_capacity(pieces.len());
        for now in pieces {
            let piece = &now.piece;
            let kept = last
                .take()
                .filter(|r| r.code == piece.recipe && r.revision == piece.revision);
            let recipe = match kept {
                Some(recipe) => recipe,
                None => self
                    .book
                    .recipe(&self.conn, &piece.recipe, piece.revision)?,
            };
            out.push(half_next(
                &self.conn,
                &self.book,
                (now, &recipe),
                at,
                there,
            )?);
            last = Some(recipe);
        }
        Ok(out)
    }

    /// A piece as it stood at a moment; `None` when it had not been taken in by then.
    pub(super) fn piece_at(
        &self,
        id: PieceId,
        at: Moment,
        known_at: Option<Moment>,
    ) -> Result<Option<Arc<PieceNow>>, LedgerError> {
        let kept = load_piece(&self.conn, id)?.map(Arc::new);
        self.stood_at(id, kept, at, known_at)
    }

    // The same from a kept standing that is there already.
    fn stood_at(
        &self,
        id: PieceId,
        kept: Option<Arc<PieceNow>>,
        at: Moment,
        known_at: Option<Moment>,
    ) -> Result<Option<Arc<PieceNow>>, LedgerError> {
        // A deed counts from its end, so a kept standing serves only when nothing in it ends later.
        let over = |k: &PieceNow| {
            k.newest <= at
                && k.surfaces
                    .values()
                    .all(|s| s.last_wet.max(s.last_deed).is_none_or(|end| end <= at))
        };
        if known_at.is_none() && kept.as_deref().is_some_and(over) {
            return Ok(kept);
        }
        let reach = Reach {
            ended: at,
            written: known_at.unwrap_or(Moment(i64::MAX)),
            ..Reach::ALL
        };
        let entries = piece_entries(&self.conn, id, reach)?;
        Ok(standing_after(&self.conn, &self.book, &entries)?.map(Arc::new))
    }

    /// One piece by serial, tag or last digits, as it stands at `at`.
    pub fn piece(&self, text: &str, at: Moment) -> Result<Seen, LedgerError> {
        self.piece_known(text, at, None)
    }

    /// One piece as it stands at `at`, without what was written after `known_at`.
    pub fn piece_known(
        &self,
        text: &str,
        at: Moment,
        known_at: Option<Moment>,
    ) -> Result<Seen, LedgerError> {
        let id = find_piece(&self.conn, text)?;
        let now = self.piece_at(id, at, known_at)?.ok_or_else(|| {
            LedgerError::Input(format!(
                "{} had not been taken in by then",
                crate::shop::text::shown(text)
            ))
        })?;
        self.judge_by(vec![now], at, None, self.known_entry(known_at)?)?
            .pop()
            .ok_or_else(|| LedgerError::Damaged("a piece without a judgement".to_owned()))
    }

    /// Pieces in process whose other half was scrapped, is not there, or was given to another piece: serial and why.
    pub fn unpaired(&self) -> Result<Vec<(String, String)>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT p.serial, p.mate, m.serial, m.scrapped FROM piece p LEFT JOIN piece m ON m.serial = p.mate
             WHERE p.in_process = 1 AND p.mate IS NOT NULL AND (m.id IS NULL OR m.scrapped IS NOT NULL)
             ORDER BY p.serial",
        )?;
        let rows = list.query_map([], |r| {
            let (serial, pair): (String, String) = (r.get(0)?, r.get(1)?);
            let scrapped: Option<String> = r.get(3)?;
            let why = scrapped.map_or_else(
                || format!("{pair} is not taken in"),
                |w| format!("{pair} is scrapped: {w}"),
            );
            Ok((serial, why))
        })?;
        let mut out: Vec<(String, String)> = rows.collect::<Result<_, _>>()?;
        // A half that was given to another piece leaves this one without.
        let mut list = self.conn.prepare_cached(
            "SELECT p.serial, json_extract(e.body, '$.why') FROM piece p CROSS JOIN entry e
             WHERE p.in_process = 1 AND p.mate IS NULL AND e.seq = (SELECT n.seq FROM entry n WHERE n.piece = p.id AND n.kind = 'paired/1'
                              AND n.seq NOT IN (SELECT entry FROM void) ORDER BY n.began DESC, n.seq DESC LIMIT 1)",
        )?;
        let rows = list.query_map([], |r| {
            let why: String = r.get(1)?;
            Ok((r.get(0)?, format!("has no other half now: {why}")))
        })?;
        out.extend(rows.collect::<Result<Vec<(String, String)>, _>>()?);
        out.sort();
        Ok(out)
    }

    /// All entries, or those of one piece, in the order in which they were written.
    pub fn entries(&self, piece: Option<&str>) -> Result<Vec<EntryRow>, LedgerError> {
        match piece {
            Some(text) => {
                let id = find_piece(&self.conn, text)?;
                entries_where(&self.conn, "WHERE e.piece = ?1 ORDER BY e.seq", &[id.0])
            }
            None => entries_where(&self.conn, "ORDER BY e.seq", &[]),
        }
    }

    /// The same as [`Self::entries`] without what was written after `known`: an entry that was taken back later still
    /// counts there.
    pub fn entries_known(
        &self,
        piece: Option<&str>,
        known: Moment,
    ) -> Result<Vec<EntryRow>, LedgerError> {
        let mut list = self.entries(piece)?;
        list.retain(|e| e.written <= known);
        let there: std::collections::BTreeSet<EntrySeq> = list.iter().map(|e| e.seq).collect();
        for entry in &mut list {
            entry.voided_by = entry.voided_by.filter(|by| there.contains(by));
        }
        Ok(list)
    }

    /// All deviations as they were known at `known`: without those that came to light later, and not yet moot or
    /// answered where that was written later.
    pub fn deviations_known(&self, known: Moment) -> Result<Vec<DeviationRow>, LedgerError> {
        let mut actions = self
            .conn
            .prepare_cached("SELECT written <= ?2 FROM action WHERE seq = ?1")?;
        let mut entries = self.conn.prepare_cached(
            "SELECT a.written <= ?2 FROM entry e JOIN action a ON a.seq = e.action WHERE e.seq = ?1",
        )?;
        let mut out = Vec::new();
        for mut d in self.deviations(true)? {
            if !actions.query_row(params![d.raised, known.0], |r| r.get(0))? {
                continue;
            }
            if let Some(moot) = d.moot
                && !actions.query_row(params![moot, known.0], |r| r.get(0))?
            {
                d.moot = None;
            }
            if let Some(answer) = d.answer
                && !entries.query_row(params![answer, known.0], |r| r.get(0))?
            {
                d.answer = None;
            }
            out.push(d);
        }
        Ok(out)
    }

    /// An action and its entries.
    pub fn action(&self, seq: i64) -> Result<(ActionRow, Vec<EntryRow>), LedgerError> {
        let action = action_row(&self.conn, seq)?
            .ok_or_else(|| LedgerError::Input(format!("there is no action {seq}")))?;
        Ok((
            action,
            entries_where(&self.conn, "WHERE e.action = ?1 ORDER BY e.seq", &[seq])?,
        ))
    }

    /// The newest action, or the newest of a station.
    pub fn last_action(&self, station: Option<&str>) -> Result<Option<ActionRow>, LedgerError> {
        let seq: Option<i64> = match station {
            None => self
                .conn
                .query_row("SELECT max(seq) FROM action", [], |r| r.get(0))?,
            // That a terminal rang is no deed of who stands there.
            Some(s) => self.conn.query_row(
                "SELECT max(seq) FROM action WHERE station = ?1 AND deed <> 'alert told'",
                [s],
                |r| r.get(0),
            )?,
        };
        seq.map_or(Ok(None), |s| action_row(&self.conn, s))
    }

    /// The newest written time: where a demo's clock starts.
    pub fn newest_written(&self) -> Result<Moment, LedgerError> {
        Ok(self.last_action(None)?.map_or(Moment(0), |a| a.written))
    }

    /// The action that saved a draft.
    pub fn action_of_draft(&self, draft: &str) -> Result<Option<ActionRow>, LedgerError> {
        let seq: Option<i64> = self
            .conn
            .query_row("SELECT seq FROM action WHERE draft = ?1", [draft], |r| {
                r.get(0)
            })
            .optional()?;
        seq.map_or(Ok(None), |s| action_row(&self.conn, s))
    }

    /// The head of the chain: number of the newest action and its hash.
    pub fn head(&self) -> Result<(i64, String), LedgerError> {
        Ok(self
            .conn
            .query_row(
                "SELECT seq, hash FROM action ORDER BY seq DESC LIMIT 1",
                [],
                |r| Ok((r.get(0)?, super::chain::hex(&r.get::<_, [u8; 32]>(1)?))),
            )
            .optional()?
            .unwrap_or_else(|| (0, super::chain::hex(&[0; 32]))))
    }

    /// Deviations: the open ones, or all.
    pub fn deviations(&self, all: bool) -> Result<Vec<DeviationRow>, LedgerError> {
        deviations_where(
            &self.conn,
            if all {
                "ORDER BY d.entry, d.rule"
            } else {
                "WHERE d.moot IS NULL AND d.answer IS NULL ORDER BY d.entry, d.rule"
            },
            &[],
        )
    }

    /// How many deviations are open.
    pub fn open_deviations(&self) -> Result<usize, LedgerError> {
        self.count("SELECT count(*) FROM deviation WHERE moot IS NULL AND answer IS NULL")
    }

    /// The deviations of a piece, the answered and moot ones too.
    pub fn deviations_of(&self, piece: PieceId) -> Result<Vec<DeviationRow>, LedgerError> {
        let condition = "WHERE d.piece = ?1 ORDER BY d.entry, d.rule";
        deviations_where(&self.conn, condition, &[piece.0])
    }

    /// How many recipe revisions and data sheets were adopted, and how many lots received.
    pub fn on_the_shelves(&self) -> Result<Shelf, LedgerError> {
        Ok(Shelf {
            recipes: self.count("SELECT count(*) FROM recipe")?,
            materials: self.count("SELECT count(*) FROM material")?,
            lots: self.count("SELECT count(*) FROM lot")?,
        })
    }

    fn count(&self, sql: &str) -> Result<usize, LedgerError> {
        let count: i64 = self.conn.prepare_cached(sql)?.query_row([], |r| r.get(0))?;
        Ok(usize::try_from(count).unwrap_or(0))
    }

    /// All deviations with what they can be counted by, in the order of their deeds.
    pub fn deviation_grounds(&self) -> Result<Vec<DeviationGround>, LedgerError> {
        let mut found = self.conn.prepare_cached(&format!(
            "SELECT e.began, a.person,
                    {SPRAYED_IN},
                    (SELECT r.body FROM entry r
                     WHERE r.piece = e.piece AND r.kind IN ('added/1', 'reassigned/1')
                       AND (r.kind = 'added/1' OR (r.began, r.seq) < (e.began, e.seq))
                       AND r.seq NOT IN (SELECT entry FROM void)
                     ORDER BY r.kind = 'added/1', r.began DESC, r.seq DESC LIMIT 1)
             FROM entry e JOIN action a ON a.seq = e.action
               LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
             WHERE e.seq = ?1",
        ))?;
        let mut out = Vec::new();
        for row in self.deviations(true)? {
            let (at, person, room, body): (i64, String, Option<String>, Option<String>) = found
                .query_row([row.entry.0], |r| {
                    Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?))
                })?;
            let named: serde_json::Value =
                serde_json::from_str(&body.unwrap_or_default()).unwrap_or_default();
            let (code, revision) = (
                named.get("recipe").and_then(serde_json::Value::as_str),
                named.get("revision").and_then(serde_json::Value::as_u64),
            );
            out.push(DeviationGround {
                row,
                at: Moment(at),
                person,
                room,
                recipe: match (code, revision) {
                    (Some(code), Some(revision)) => format!("{code} rev {revision}"),
                    _ => "not known".to_owned(),
                },
            });
        }
        out.sort_by_key(|g| (g.at, g.row.entry));
        Ok(out)
    }

    /// All lots with what logged coats used of them.
    pub fn lots(&self) -> Result<Vec<LotRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT l.lot, l.material, l.sheet,
                    l.volume + (SELECT coalesce(sum(json_extract(e.body, '$.ul')), 0) FROM noted n
                                JOIN entry e ON e.seq = n.entry WHERE n.topic = 'delivered' AND n.about = l.lot),
                    coalesce(sum(m.volume), 0), l.expires
             FROM lot l LEFT JOIN month_volume m ON m.lot = l.lot GROUP BY l.lot ORDER BY l.lot",
        )?;
        let rows = list.query_map([], |r| {
            Ok(LotRow {
                lot: r.get(0)?,
                material: r.get(1)?,
                sheet: r.get(2)?,
                volume: Volume(r.get(3)?),
                used: Volume(r.get(4)?),
                expires: r.get::<_, Option<i32>>(5)?.map(Day),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// All mixes, newest first.
    pub fn mixes(&self) -> Result<Vec<MixRow>, LedgerError> {
        self.mixes_where("ORDER BY mix DESC", &[])
    }

    /// The newest mixes, newest first, at most so many.
    pub fn newest_mixes(&self, most: u32) -> Result<Vec<MixRow>, LedgerError> {
        self.mixes_where("ORDER BY mix DESC LIMIT ?1", &[most])
    }

    /// One mix by its number.
    pub fn mix(&self, mix: u32) -> Result<Option<MixRow>, LedgerError> {
        Ok(self.mixes_where("WHERE mix = ?1", &[mix])?.pop())
    }

    /// The same for a question that needs it.
    ///
    /// # Errors
    /// An input error that says whether it was never made or taken back, and by what.
    pub fn mix_made(&self, mix: u32) -> Result<MixRow, LedgerError> {
        check_mix(&self.conn, mix)?;
        self.mix(mix)?
            .ok_or_else(|| LedgerError::Damaged(format!("mix {mix} is gone")))
    }

    fn mixes_where(&self, condition: &str, values: &[u32]) -> Result<Vec<MixRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(&format!(
            "SELECT mix, name, made, volume, solids_ppm, retarder_ppm, entry, mixed, parent, left_ul,
                    {POT_OPEN}
             FROM mix {condition}"
        ))?;
        let mut mixes: Vec<MixRow> = list
            .query_map(rusqlite::params_from_iter(values), |r| {
                Ok(MixRow {
                    mix: r.get(0)?,
                    name: r.get(1)?,
                    made: Moment(r.get(2)?),
                    volume: Volume(r.get(3)?),
                    solids: Share(r.get(4)?),
                    retarder: Share(r.get(5)?),
                    entry: r.get(6)?,
                    mixed: Moment(r.get(7)?),
                    parts: Vec::new(),
                    tops_up: r
                        .get::<_, Option<u32>>(8)?
                        .map(|p| {
                            Ok::<_, rusqlite::Error>((p, r.get::<_, Option<i64>>(9)?.map(Volume)))
                        })
                        .transpose()?,
                    open: r.get(10)?,
                    kinds: Vec::new(),
                })
            })?
            .collect::<Result<_, _>>()?;
        let mut known = HashMap::new();
        for mix in &mut mixes {
            mix.parts = super::models::pours(&self.conn, mix.mix)?;
            mix.kinds = super::book::kinds_in(&self.conn, &self.book, mix.mix, &mut known)?;
        }
        Ok(mixes)
    }

    /// VOC, HAP and exempt in a volume of a mix, as a use of it would be counted.
    pub fn mix_totals(&self, mix: u32, volume: Volume) -> Result<Totals, LedgerError> {
        let pours = super::models::pours(&self.conn, mix)?;
        let weights: Vec<i64> = pours.iter().map(|p| p.volume.0).collect();
        let mut totals = Totals::default();
        for (pour, part) in pours
            .iter()
            .zip(crate::shop::material::split(volume.0, &weights))
        {
            totals.add(&self.lot_material(&pour.lot)?.masses(Volume(part)));
        }
        Ok(totals)
    }

    /// The material, by the sheet that its lot is bound to.
    pub fn lot_material(&self, lot: &str) -> Result<Arc<Material>, LedgerError> {
        let (code, sheet) = lot_sheet(&self.conn, lot)?;
        self.book.material(&self.conn, &code, &sheet)
    }

    /// A material by its newest adopted sheet.
    pub fn newest_material(&self, code: &str) -> Result<Arc<Material>, LedgerError> {
        let meant = material_like(&self.conn, code)?;
        let code = meant.as_deref().unwrap_or(code);
        let sheet: Option<String> = self
            .conn
            .prepare_cached(
                "SELECT sheet FROM material WHERE code = ?1 ORDER BY entry DESC LIMIT 1",
            )?
            .query_row([code], |r| r.get(0))
            .optional()?;
        let sheet = sheet
            .ok_or_else(|| LedgerError::Input(format!("material \"{code}\" is not adopted")))?;
        self.book.material(&self.conn, code, &sheet)
    }

    /// VOC, HAP and exempt of one action's entries that still count.
    pub fn action_totals(&self, action: i64) -> Result<Totals, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT u.lot, u.volume FROM used u JOIN entry e ON e.seq = u.entry WHERE e.action = ?1 ORDER BY u.entry, u.lot",
        )?;
        let used: Vec<(String, i64)> = list
            .query_map([action], |r| Ok((r.get(0)?, r.get(1)?)))?
            .collect::<Result<_, _>>()?;
        let mut totals = Totals::default();
        for (lot, volume) in used {
            totals.add(&self.lot_material(&lot)?.masses(Volume(volume)));
        }
        Ok(totals)
    }

    /// What the entries of one action that still count used, in the order of their numbers.
    pub fn used_by_action(&self, action: i64) -> Result<Vec<UsedRow>, LedgerError> {
        self.used("WHERE e.action = ?1", &[action])
    }

    /// What the entries of a month (`2026-03`) used, by their production day.
    pub fn used_in_month(&self, month: &str) -> Result<Vec<UsedRow>, LedgerError> {
        self.used(
            "WHERE e.day >= ?1 AND e.day < ?2",
            &super::months::days_of(month)?,
        )
    }

    pub(super) fn used(
        &self,
        condition: &str,
        values: &[i64],
    ) -> Result<Vec<UsedRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(&format!(
            "SELECT u.entry, e.action, u.lot, u.volume FROM used u JOIN entry e ON e.seq = u.entry {condition}
             ORDER BY u.entry, u.lot"
        ))?;
        let rows = list.query_map(rusqlite::params_from_iter(values), used_row)?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The recipe revisions that some entries go by.
    pub fn recipes_of(&self, entries: &[Entry]) -> Result<Recipes, LedgerError> {
        recipes_of(&self.conn, &self.book, None, entries)
    }

    /// The entries of a piece that still count and ended by `at`, in the order in which they happened.
    pub fn history(&self, piece: PieceId, at: Moment) -> Result<Vec<Entry>, LedgerError> {
        self.history_known(piece, at, Moment(i64::MAX))
    }

    /// The same without what was written after `known`.
    pub fn history_known(
        &self,
        piece: PieceId,
        at: Moment,
        known: Moment,
    ) -> Result<Vec<Entry>, LedgerError> {
        let reach = Reach {
            ended: at,
            written: known,
            ..Reach::ALL
        };
        piece_entries(&self.conn, piece, reach)
    }

    /// The witness coupons on a rack at a moment, with their serials.
    pub fn witnesses(&self, rack: &str, at: Moment) -> Result<Vec<(PieceId, String)>, LedgerError> {
        let mut serial = self
            .conn
            .prepare_cached("SELECT serial FROM piece WHERE id = ?1 AND kind = 'witness'")?;
        let mut out = Vec::new();
        for (id, _) in members(&self.conn, rack, at)? {
            let found: Option<String> = serial.query_row([id.0], |r| r.get(0)).optional()?;
            out.extend(found.map(|s| (id, s)));
        }
        Ok(out)
    }

    /// One entry by its number.
    pub fn entry(&self, seq: i64) -> Result<EntryRow, LedgerError> {
        entries_where(&self.conn, "WHERE e.seq = ?1", &[seq])?
            .pop()
            .ok_or_else(|| LedgerError::Input(format!("there is no entry {seq}")))
    }

    /// The months in which a lot was used by logged coats.
    pub fn months_with(&self, lot: &str) -> Result<Vec<String>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT month FROM month_volume WHERE lot = ?1 AND volume <> 0 ORDER BY month",
        )?;
        let rows = list.query_map([lot], |r| r.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// A month's sums from the log, `2026-03`. What was undone to nothing is not listed.
    pub fn month(&self, month: &str) -> Result<MonthSums, LedgerError> {
        let mut sums = MonthSums {
            month: month.to_owned(),
            ..MonthSums::default()
        };
        let mut list = self.conn.prepare_cached(
            "SELECT material, sheet, cas, mass FROM month_mass WHERE month = ?1 AND mass <> 0 ORDER BY material, sheet, cas",
        )?;
        let rows: Vec<(String, String, String, i64)> = list
            .query_map([month], |r| {
                Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?))
            })?
            .collect::<Result<_, _>>()?;
        let mut by_material: BTreeMap<String, (Volume, Totals)> = BTreeMap::new();
        for (material, sheet, cas, mass) in rows {
            let of = self.book.material(&self.conn, &material, &sheet)?;
            let Some(substance) = of.counted().into_iter().find(|c| c.cas == cas) else {
                return Err(LedgerError::Damaged(format!(
                    "sheet {sheet} of {material} holds no {cas}"
                )));
            };
            let mass = Mass(mass);
            let one = [(substance.clone(), mass)];
            sums.totals.add(&one);
            by_material.entry(material.clone()).or_default().1.add(&one);
            sums.substances.push(MonthSubstance {
                material,
                sheet,
                substance,
                mass,
            });
        }
        let mut volumes = self.conn.prepare_cached(
            "SELECT l.material, sum(m.volume) FROM month_volume m JOIN lot l ON l.lot = m.lot WHERE m.month = ?1
             GROUP BY l.material HAVING sum(m.volume) <> 0",
        )?;
        let rows: Vec<(String, i64)> = volumes
            .query_map([month], |r| Ok((r.get(0)?, r.get(1)?)))?
            .collect::<Result<_, _>>()?;
        for (material, volume) in rows {
            by_material.entry(material).or_default().0 = Volume(volume);
        }
        sums.materials = by_material
            .into_iter()
            .map(|(m, (v, t))| (m, v, t))
            .collect();
        Ok(sums)
    }

    /// Adopted recipe revisions.
    pub fn recipes(&self) -> Result<Vec<SheetRow>, LedgerError> {
        self.sheets(
            "SELECT code, cast(revision AS TEXT), entry, text FROM recipe ORDER BY code, revision",
        )
    }

    /// Adopted data sheets.
    pub fn materials(&self) -> Result<Vec<SheetRow>, LedgerError> {
        self.sheets("SELECT code, sheet, entry, text FROM material ORDER BY code, entry")
    }

    pub(super) fn sheets(&self, sql: &str) -> Result<Vec<SheetRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(sql)?;
        let rows = list.query_map([], |r| {
            Ok(SheetRow {
                code: r.get(0)?,
                revision: r.get(1)?,
                entry: r.get(2)?,
                text: r.get(3)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// A recipe revision as it was adopted.
    pub fn recipe(&self, code: &str, revision: u32) -> Result<Arc<Recipe>, LedgerError> {
        self.book.recipe(&self.conn, code, revision)
    }

    /// Whether any piece was ever taken in.
    pub fn has_pieces(&self) -> Result<bool, LedgerError> {
        Ok(self
            .conn
            .prepare_cached("SELECT 1 FROM piece LIMIT 1")?
            .exists([])?)
    }

    /// A material by one sheet as it was adopted.
    pub fn material(&self, code: &str, sheet: &str) -> Result<Arc<Material>, LedgerError> {
        self.book.material(&self.conn, code, sheet)
    }

    /// Limits that the shop entered.
    pub fn ceilings(&self) -> Result<Vec<CeilingRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT what, scope, value, typed, basis, source, person, since, entry, warn, rules FROM ceiling ORDER BY what, scope",
        )?;
        let rows = list.query_map([], |r| {
            Ok(CeilingRow {
                what: r.get(0)?,
                scope: r.get(1)?,
                value: r.get(2)?,
                typed: r.get(3)?,
                basis: r.get(4)?,
                source: r.get(5)?,
                person: r.get(6)?,
                since: Moment(r.get(7)?),
                entry: r.get(8)?,
                warn: r
                    .get::<_, String>(9)?
                    .split(',')
                    .filter_map(|w| w.parse().ok())
                    .collect(),
                rules: r.get(10)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The newest face-velocity survey of each booth.
    pub fn surveys(&self) -> Result<Vec<BoothSurvey>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT booth, at, readings, wanted, instrument, entry FROM survey s
             WHERE entry NOT IN (SELECT entry FROM void)
               AND entry = (SELECT max(entry) FROM survey WHERE booth = s.booth AND entry NOT IN (SELECT entry FROM void))
             ORDER BY booth",
        )?;
        let rows = list.query_map([], |r| {
            let readings: String = r.get(2)?;
            Ok(BoothSurvey {
                booth: r.get(0)?,
                at: Moment(r.get(1)?),
                readings: readings
                    .split(',')
                    .filter_map(|t| t.parse().ok())
                    .map(Speed)
                    .collect(),
                wanted: r.get(3)?,
                instrument: r.get(4)?,
                entry: r.get(5)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The air of all rooms from a moment on.
    pub fn climate(&self, from: Moment, as_of: Moment) -> Result<Climate, LedgerError> {
        climate((&self.conn, &self.book), from, as_of, i64::MAX)
    }

    /// The same without readings that were written after `known_at`.
    pub fn climate_known(
        &self,
        from: Moment,
        as_of: Moment,
        known_at: Option<Moment>,
    ) -> Result<Climate, LedgerError> {
        let mut out = self.climate(from, as_of)?;
        if let Some(entry) = self.known_entry(known_at)? {
            for (name, air) in &mut out.rooms {
                air.samples = known_readings(&self.conn, name, [from, as_of], entry)?;
            }
        }
        Ok(out)
    }
}

/// Deviations that a condition selects.
pub(super) fn deviations_where(
    conn: &Connection,
    condition: &str,
    values: &[i64],
) -> Result<Vec<DeviationRow>, LedgerError> {
    let mut list = conn.prepare_cached(&format!(
        "SELECT d.entry, d.rule, p.serial, d.text, d.reason, d.raised, d.moot, d.answer
         FROM deviation d JOIN piece p ON p.id = d.piece {condition}"
    ))?;
    let rows = list.query_map(rusqlite::params_from_iter(values), |r| {
        Ok(DeviationRow {
            entry: EntrySeq(r.get(0)?),
            rule: r.get(1)?,
            serial: r.get(2)?,
            text: r.get(3)?,
            reason: r.get(4)?,
            raised: r.get(5)?,
            moot: r.get(6)?,
            answer: r.get(7)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn place_key(now: &PieceNow) -> (bool, Option<&str>, Option<u32>, &str) {
    let place = now.place();
    let rack = place.and_then(|p| p.rack.as_deref());
    (
        rack.is_none(),
        rack,
        place.and_then(|p| p.hook),
        &now.piece.serial,
    )
}

/// What the judgement on the next step needs to know of the other half.
pub(super) fn around_next(
    conn: &Connection,
    book: &Book,
    now: &PieceNow,
    recipe: &Recipe,
    at: Moment,
) -> Result<Around, LedgerError> {
    Ok(Around {
        other: half_next(conn, book, (now, recipe), at, |_| None)?,
        wheel_had: None,
        solvent: Vec::new(),
    })
}

// The other half of a piece whose mating is next, only such a piece is asked for it; `there` has pieces as they stand at that
// moment.
fn half_next<'p>(
    conn: &Connection,
    book: &Book,
    (now, recipe): (&PieceNow, &Recipe),
    at: Moment,
    there: impl Fn(&str) -> Option<&'p PieceNow>,
) -> Result<Option<OtherHalf>, LedgerError> {
    let Some(serial) = &now.piece.pair else {
        return Ok(None);
    };
    let mates = now.current(recipe).all(|s| {
        let next = s.standing.next(s.steps).and_then(|i| s.steps.get(i));
        next.is_some_and(|step| step.kind == StepKind::Mate)
    });
    match there(serial) {
        _ if !mates => Ok(None),
        Some(half) => half_of(conn, book, half).map(Some),
        None => other_half((conn, &Kept::in_tables()), book, serial, (at, i64::MAX)),
    }
}

/// A row of `used`: entry, action, lot, volume.
pub(super) fn used_row(r: &rusqlite::Row<'_>) -> rusqlite::Result<UsedRow> {
    Ok(UsedRow {
        entry: EntrySeq(r.get(0)?),
        action: r.get(1)?,
        lot: r.get(2)?,
        volume: Volume(r.get(3)?),
    })
}
