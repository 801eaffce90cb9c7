//! What the plays come to: when each piece is begun on each step, its end with a spread, hooks by day, pairs, missed dates.
//!
//! *Invariants*: the plan by the stated figures is one play; the spread is that of the drawn plays and nothing else. A piece that
//! does not come to its end in a play has no end there, and a quantile that falls on such a play is not told.
//!
//! *Not here*: words (`reports::plan`).

use super::draw::quantile;
use super::engine::Made;
use super::habits::ENOUGH;
use super::lives::{Done, Group, Played, Table, Way, groups};
use super::scene::{Cold, Scene, Suppose, Weather};
use crate::ledger::{HalfAhead, PairAhead, Told, weigh};
use crate::shop::climate::{Air, Climate, Tables};
use crate::shop::hours::Hours;
use crate::shop::recipe::Recipe;
use crate::shop::rehearse::{Ahead, Coming, Stage, Steady, new_piece};
use crate::shop::shift::Shift;
use crate::shop::solvent::SolventHold;
use crate::shop::words::{PieceKind, Rule, StepKind};
use crate::units::{Moment, Span};
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Half of the plays, and nine of ten.
const HALF: usize = 50;
const NINE: usize = 90;

/// How many lives are played at the most, so that a floor of thousands is answered in seconds: with 10,000 pieces in process
/// ten plays.
const MOST_PLAYED: usize = 100_000;

/// How many pieces that are only supposed hang on one rack: a rack of the shop's common size (common practice, no source).
const RACK: usize = 24;

/// A deed that is planned, on some pieces of one rack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The pieces, by their number in the plan.
    pub pieces: Vec<usize>,
    /// What is done and from when on its rules allow it.
    pub coming: Coming,
    /// When it is begun and ended by the stated figures.
    pub made: Made,
    /// By when half of the plays had begun it, and nine of ten; `None` without a spread.
    pub begun: Option<(Option<Moment>, Option<Moment>)>,
}

/// The last wait of a piece's way that is longest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decides {
    /// The deed that waits.
    pub what: String,
    /// How long.
    pub wait: Span,
    /// What for: the rule in words; `None` where it waits for a station or for somebody.
    pub bound: Option<String>,
}

/// A piece in the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedPiece {
    /// Its serial.
    pub serial: String,
    /// Body, neck, ...
    pub kind: PieceKind,
    /// Its rack.
    pub rack: Option<String>,
    /// When it is due.
    pub due: Option<NaiveDate>,
    /// When its last deed is ended by the stated figures; `None` where it is not, or nothing is left to do.
    pub end: Option<Moment>,
    /// The same in half of the plays and in nine of ten; `None` without a spread.
    pub ends: Option<(Option<Moment>, Option<Moment>)>,
    /// From when on it can be mated.
    pub there: Option<Moment>,
    /// Why it does not come to its end.
    pub stuck: Option<String>,
    /// The longest wait on its way.
    pub decides: Option<Decides>,
    /// Days after its due date, by the stated figures; `None` where it is in time or that cannot be told.
    pub days_late: Option<i64>,
    /// Whether a step of its recipe was done to it already: else nobody has said when it will be taken up.
    pub taken_up: bool,
    /// Whether it is only supposed.
    pub supposed: bool,
}

/// A day of a room.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoomDay {
    /// The date.
    pub date: NaiveDate,
    /// Pieces that hang there when it begins.
    pub before: usize,
    /// Pieces that come.
    pub arrive: usize,
    /// Pieces that leave.
    pub leave: usize,
    /// Pieces that hang there when it ends.
    pub after: usize,
    /// How many hooks are missing then.
    pub short: Option<u32>,
    /// Pieces that hang there when it ends although their time is reached: they could leave.
    pub could_leave: Vec<usize>,
}

/// A room in the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoomAhead {
    /// The room.
    pub room: String,
    /// Its hooks, where they were entered.
    pub hooks: Option<u32>,
    /// Day by day.
    pub days: Vec<RoomDay>,
}

/// The plan.
#[derive(Debug, Clone)]
pub struct Forecast {
    /// The moment that it was made for.
    pub at: Moment,
    /// The pieces.
    pub pieces: Vec<PlannedPiece>,
    /// The deeds by the stated figures, in the order in which they begin.
    pub steps: Vec<Step>,
    /// How many plays the spread is of; none where too little is known of past deeds.
    pub runs: usize,
    /// Pairs with a due date that were looked at, and those that cannot meet in time.
    pub pairs: (usize, Vec<PairAhead>),
    /// Rooms in which pieces cure, and those whose hooks were entered.
    pub rooms: Vec<RoomAhead>,
    /// Pieces that come to a cure in a room that cannot be told.
    pub homeless: usize,
    /// Kinds of step that are done on the way, and whether a station takes them.
    pub kinds: BTreeMap<StepKind, bool>,
    /// How many whole days of readings the plays draw from, by room in which pieces cure.
    pub whole_days: BTreeMap<String, usize>,
}

/// Makes the plan of a floor, with what is supposed, for so many days of hooks.
pub fn forecast(scene: &Scene<'_>, suppose: &Suppose, days: u32) -> Forecast {
    with_table(scene, suppose, |table, setting| {
        let plain = table.play(Way::default());
        let most = (MOST_PLAYED / table.pieces.max(1)).max(ENOUGH);
        let runs = if scene.habits.spread() {
            scene.runs.min(most)
        } else {
            0
        };
        let drawn = Drawn::of(table, setting, &plain, runs);
        told(table, suppose, &plain, &drawn, days)
    })
}

/// Sets the table for some plays: groups, stages, stations.
pub(super) fn with_table<T>(
    scene: &Scene<'_>,
    suppose: &Suppose,
    play: impl FnOnce(&Table<'_>, &Setting<'_, '_>) -> T,
) -> T {
    // One stage for each recipe and for each film that a solvent model holds back.
    let mut recipes: Vec<(Arc<Recipe>, Vec<SolventHold>)> = Vec::new();
    let mut stage_of = |recipe: &Arc<Recipe>, solvent: &[SolventHold]| {
        let known = recipes
            .iter()
            .position(|(r, s)| r.label() == recipe.label() && s == solvent);
        known.unwrap_or_else(|| {
            recipes.push((Arc::clone(recipe), solvent.to_vec()));
            recipes.len() - 1
        })
    };
    let mut list = groups(scene.floor, |seen| stage_of(&seen.recipe, &seen.solvent));
    let mut next = scene.floor.len();
    for (n, rush) in suppose.rush.iter().enumerate() {
        let stage = stage_of(&rush.recipe, &[]);
        let mut left = rush.pieces;
        let mut rack = 0;
        while left > 0 {
            let here = left.min(RACK);
            rack += 1;
            list.push(Group {
                name: format!("rush {}-{rack}", n + 1),
                rack: true,
                pieces: (next..next + here).collect(),
                now: new_piece(&rush.recipe, scene.at, scene.calendar),
                stage,
                first: true,
            });
            next += here;
            left -= here;
        }
    }
    let nowhere: BTreeMap<String, Tables> = recipes
        .iter()
        .filter(|(r, _)| !scene.airs.contains_key(&r.label()))
        .map(|(r, _)| {
            let air = Climate::default();
            (r.label(), Tables::build(&air, &r.credit))
        })
        .collect();
    // One for each, because what the scene has not is in none.
    let airs: Vec<&Tables> = recipes
        .iter()
        .filter_map(|(r, _)| {
            let label = r.label();
            scene.airs.get(&label).or_else(|| nowhere.get(&label))
        })
        .collect();
    let aheads: Vec<Ahead<'_>> = airs
        .iter()
        .map(|known| Ahead {
            known: *known,
            until: scene.at,
            then: Steady::FULL,
        })
        .collect();
    let setting = Setting {
        scene,
        suppose,
        recipes: &recipes,
        airs: &airs,
    };
    let each: Vec<&dyn Air> = aheads.iter().map(|a| -> &dyn Air { a }).collect();
    setting.staged(&each, |stages| {
        let table = Table::new(scene, suppose, list, stages);
        play(&table, &setting)
    })
}

// What the stages of a plan are made of: one for each recipe and for each film that a solvent model holds back.
pub(super) struct Setting<'t, 's> {
    scene: &'t Scene<'s>,
    suppose: &'t Suppose,
    recipes: &'t [(Arc<Recipe>, Vec<SolventHold>)],
    airs: &'t [&'t Tables],
}

impl Setting<'_, '_> {
    // The stages in some air, one for each recipe of the setting.
    fn staged<T>(&self, airs: &[&dyn Air], play: impl FnOnce(&[Stage<'_>]) -> T) -> T {
        let colds: Vec<Cold<'_>> = self
            .recipes
            .iter()
            .zip(airs)
            .map(|((recipe, _), air)| Cold {
                air: *air,
                spells: &self.suppose.cold,
                cure_room: self.scene.cure_room(Some(&recipe.code)),
                at: self.scene.at,
            })
            .collect();
        // People come in by the stations of the engine, not by a life.
        let always = Hours::of(self.scene.calendar, &[Shift::ALWAYS]);
        let stages: Vec<Stage<'_>> = self
            .recipes
            .iter()
            .zip(&colds)
            .map(|((recipe, solvent), air)| Stage {
                recipe,
                calendar: self.scene.calendar,
                air,
                hours: &always,
                solvent,
            })
            .collect();
        play(&stages)
    }

    // A play with drawn waits and times, and past days drawn for the air to come.
    fn drawn(&self, table: &Table<'_>, run: u64) -> Played {
        let weather: Vec<Weather> = self
            .recipes
            .iter()
            .zip(self.airs)
            .map(|((recipe, _), known)| Weather::of(known, self.scene, recipe, run))
            .collect();
        let airs: Vec<&dyn Air> = weather.iter().map(|w| -> &dyn Air { w }).collect();
        self.staged(&airs, |stages| {
            table.play_on(
                stages,
                Way {
                    run,
                    ..Way::default()
                },
            )
        })
    }
}

// A deed of a play by a piece that it is done to, so that plays can be laid on each other; a deed that comes again, such as a
// scuff, has its turn beside it.
type Named = (usize, String, usize);

fn named(played: &Played) -> impl Iterator<Item = (Named, &Done)> {
    let mut turns: BTreeMap<(usize, String), usize> = BTreeMap::new();
    played.deeds.iter().map(move |done| {
        let first = done.pieces.iter().min().copied().unwrap_or(0);
        let name = words_of(done);
        let turn = turns.entry((first, name.clone())).or_insert(0);
        *turn += 1;
        ((first, name, *turn), done)
    })
}

fn words_of(done: &Done) -> String {
    let c = &done.coming;
    let rework = c.rework.as_deref().unwrap_or_default();
    format!("{rework} {} {}", c.what, c.on)
}

// When a play began the deeds of the stated one: on the last of the pieces, where it parted them by a rework. `None` where it
// did not come to it on one of them.
fn begun(plain: &Played, played: &Played) -> Vec<Option<Moment>> {
    let by_name: BTreeMap<Named, &Done> = named(played).collect();
    let mut each: Option<BTreeMap<(usize, String), Vec<Moment>>> = None;
    named(plain)
        .map(|(name, done)| {
            let same = by_name.get(&name);
            if let Some(same) = same.filter(|s| s.pieces.len() == done.pieces.len()) {
                return Some(same.made.began);
            }
            let each = each.get_or_insert_with(|| on_each(played));
            let (_, words, turn) = &name;
            let list = done.pieces.iter().map(|piece| {
                let list = each.get(&(*piece, words.clone()))?;
                list.get(turn - 1).copied()
            });
            list.collect::<Option<Vec<Moment>>>()?.into_iter().max()
        })
        .collect()
}

fn on_each(played: &Played) -> BTreeMap<(usize, String), Vec<Moment>> {
    let mut out: BTreeMap<(usize, String), Vec<Moment>> = BTreeMap::new();
    for done in &played.deeds {
        let words = words_of(done);
        for piece in &done.pieces {
            let list = out.entry((*piece, words.clone())).or_default();
            list.push(done.made.began);
        }
    }
    out
}

// The drawn plays, laid on each other.
struct Drawn {
    runs: usize,
    // For each deed of the stated play when the plays that came to it began it.
    begun: Vec<Vec<Moment>>,
    ends: Vec<Vec<Moment>>,
}

impl Drawn {
    fn of(table: &Table<'_>, setting: &Setting<'_, '_>, plain: &Played, runs: usize) -> Self {
        let mut out = Self {
            runs,
            begun: vec![Vec::new(); plain.deeds.len()],
            ends: vec![Vec::new(); table.pieces],
        };
        for run in 1..=runs {
            let played = setting.drawn(table, u64::try_from(run).unwrap_or(0));
            for (list, began) in out.begun.iter_mut().zip(begun(plain, &played)) {
                list.extend(began);
            }
            for (list, (end, over)) in out
                .ends
                .iter_mut()
                .zip(played.ends.iter().zip(&played.over))
            {
                list.extend(end.filter(|_| *over));
            }
        }
        for list in out.begun.iter_mut().chain(&mut out.ends) {
            list.sort_unstable();
        }
        out
    }

    // By when half of the plays and nine of ten had come to it; a play that did not come to it comes after all others.
    fn spread(&self, list: Option<&Vec<Moment>>) -> Option<(Option<Moment>, Option<Moment>)> {
        if self.runs == 0 {
            return None;
        }
        let list = list.map_or(&[][..], Vec::as_slice);
        let mut padded: Vec<Option<Moment>> = list.iter().copied().map(Some).collect();
        padded.resize(padded.len().max(self.runs), None);
        let at = |percent| quantile(&padded, percent).flatten();
        Some((at(HALF), at(NINE)))
    }
}

// When a deed is begun and ended on one of its pieces.
fn on_piece(done: &Done, piece: usize) -> (Moment, Moment) {
    let each = done.made.parts.len() == done.pieces.len();
    let at = done.pieces.iter().position(|p| *p == piece);
    at.filter(|_| each)
        .and_then(|n| done.made.parts.get(n).copied())
        .unwrap_or((done.made.began, done.made.ended))
}

fn told(
    table: &Table<'_>,
    suppose: &Suppose,
    plain: &Played,
    drawn: &Drawn,
    days: u32,
) -> Forecast {
    let scene = table.scene;
    let mut ways: Vec<Vec<&Done>> = vec![Vec::new(); table.pieces];
    let mut kinds: BTreeMap<StepKind, bool> = BTreeMap::new();
    for done in &plain.deeds {
        let by_station = scene
            .stations
            .iter()
            .any(|s| s.kinds.contains(&done.coming.kind));
        kinds.insert(done.coming.kind, by_station);
        for piece in &done.pieces {
            if let Some(way) = ways.get_mut(*piece) {
                way.push(done);
            }
        }
    }
    let pieces: Vec<PlannedPiece> = (0..table.pieces)
        .map(|n| {
            planned(
                table,
                plain,
                drawn,
                n,
                ways.get(n).map_or(&[], Vec::as_slice),
            )
        })
        .collect();
    let mut steps: Vec<Step> = plain
        .deeds
        .iter()
        .enumerate()
        .map(|(n, done)| Step {
            pieces: done.pieces.clone(),
            coming: done.coming.clone(),
            made: done.made.clone(),
            begun: drawn.spread(drawn.begun.get(n)),
        })
        .collect();
    // What takes no time is begun at one moment: then in the order in which it is done.
    steps.sort_by_key(|s| s.made.began);
    let pairs = pairs(table, &pieces, &ways);
    let (rooms, homeless) = rooms(table, suppose, &ways, days);
    Forecast {
        at: scene.at,
        pieces,
        steps,
        runs: drawn.runs,
        pairs,
        rooms,
        homeless,
        kinds,
        whole_days: scene.whole_days(),
    }
}

fn planned(
    table: &Table<'_>,
    plain: &Played,
    drawn: &Drawn,
    n: usize,
    way: &[&Done],
) -> PlannedPiece {
    let scene = table.scene;
    let over = plain.over.get(n).copied().unwrap_or(false);
    let end = plain.ends.get(n).copied().flatten().filter(|_| over);
    let stuck = plain.stuck.get(n).cloned().flatten();
    let seen = scene.floor.get(n);
    let group = table.group(n);
    let due = seen.and_then(|s| s.now.piece.due);
    let waits_for = || {
        let pair = seen?.now.piece.pair.clone()?;
        (!over && end.is_none()).then(|| format!("its other half {pair} does not come to be mated"))
    };
    PlannedPiece {
        serial: seen.map_or_else(
            || format!("rush {}", n + 1 - scene.floor.len()),
            |s| s.now.piece.serial.clone(),
        ),
        kind: seen.map_or_else(
            || {
                let recipe = group
                    .and_then(|g| table.stages.get(g.stage))
                    .map(|s| s.recipe);
                recipe
                    .and_then(|r| r.kinds.first().copied())
                    .unwrap_or(PieceKind::Body)
            },
            |s| s.now.piece.kind,
        ),
        rack: group.filter(|g| g.rack).map(|g| g.name.clone()),
        due,
        end,
        ends: drawn.spread(drawn.ends.get(n)),
        there: plain.there.get(n).copied().flatten(),
        stuck: stuck.or_else(waits_for),
        decides: decides(table, plain, n, way),
        days_late: end.zip(due).and_then(|(end, due)| {
            let date = scene.calendar.local(end).date_naive();
            Some(date.signed_duration_since(due).num_days()).filter(|d| *d > 0)
        }),
        taken_up: seen.is_some_and(|s| s.now.surfaces.values().any(|st| st.last_deed.is_some())),
        supposed: seen.is_none(),
    }
}

// The longest wait on a piece's way: by its rules until they allow a deed, or after that until somebody does it.
fn decides(table: &Table<'_>, plain: &Played, piece: usize, way: &[&Done]) -> Option<Decides> {
    let mut before = table.scene.at;
    let mut longest: Option<Decides> = None;
    let mut weigh = |found: Decides| {
        if longest.as_ref().is_none_or(|l| found.wait > l.wait) {
            longest = Some(found);
        }
    };
    for done in way {
        let (began, ended) = on_piece(done, piece);
        let c = &done.coming;
        let opens = c.opens.max(before);
        let there = |n: usize| plain.there.get(n).copied().flatten();
        let other = done.pieces.iter().copied().find(|p| *p != piece);
        if c.kind == StepKind::Mate
            && let Some((own, theirs)) = there(piece).zip(other.and_then(there))
            && theirs > own
        {
            // Whatever it waited for before: the other half came later.
            let half = other.and_then(|o| table.scene.floor.get(o));
            return Some(Decides {
                what: c.what.clone(),
                wait: theirs.since(own),
                bound: half.map(|s| format!("its other half {}", s.now.piece.serial)),
            });
        }
        if let Some((_, words)) = &c.bound {
            weigh(Decides {
                what: c.what.clone(),
                wait: opens.since(before),
                bound: Some(words.clone()),
            });
        }
        weigh(Decides {
            what: c.what.clone(),
            wait: began.since(opens),
            bound: None,
        });
        before = ended;
    }
    longest.filter(|l| l.wait.0 > 0)
}

fn pairs(
    table: &Table<'_>,
    pieces: &[PlannedPiece],
    ways: &[Vec<&Done>],
) -> (usize, Vec<PairAhead>) {
    let scene = table.scene;
    let half = |n: usize| -> Option<HalfAhead> {
        let (seen, planned) = (scene.floor.get(n)?, pieces.get(n)?);
        let provisional = ways
            .get(n)
            .is_some_and(|way| way.iter().any(|d| d.coming.provisional));
        let told = match (planned.there, &planned.stuck) {
            (None, Some(why)) => Err(why.clone()),
            (there, _) => Ok(Told {
                end: planned.end,
                there: there.or(planned.end),
                provisional,
            }),
        };
        Some(HalfAhead {
            serial: seen.now.piece.serial.clone(),
            seen: Some(seen.clone()),
            told,
        })
    };
    let by_serial = scene.by_serial();
    let mut done: BTreeSet<usize> = BTreeSet::new();
    let (mut looked_at, mut out) = (0, Vec::new());
    for (n, seen) in scene.floor.iter().enumerate() {
        let Some(pair) = &seen.now.piece.pair else {
            continue;
        };
        let other = by_serial.get(pair.as_str()).copied();
        if done.contains(&n) {
            continue;
        }
        done.extend(other);
        let dues = [Some(seen), other.and_then(|o| scene.floor.get(o))];
        let due = dues
            .into_iter()
            .flatten()
            .filter_map(|s| s.now.piece.due)
            .min();
        let (Some(due), Some(own)) = (due, half(n)) else {
            continue;
        };
        looked_at += 1;
        let theirs = other.and_then(half).unwrap_or_else(|| HalfAhead {
            serial: pair.clone(),
            seen: None,
            told: Err(scene
                .missing
                .get(&seen.now.piece.serial)
                .cloned()
                .unwrap_or_else(|| format!("{pair} is not in process"))),
        });
        let body_first = other
            .and_then(|o| scene.floor.get(o))
            .is_some_and(|o| o.now.piece.kind < seen.now.piece.kind);
        let halves = if body_first {
            [theirs, own]
        } else {
            [own, theirs]
        };
        let opens = |m| table.hours.next(m).unwrap_or(m);
        out.extend(weigh(halves, due, opens, scene.calendar));
    }
    out.sort_by(|a: &PairAhead, b| {
        let key = |p: &PairAhead| (p.days_late.is_some(), p.days_late.map(std::cmp::Reverse));
        key(a).cmp(&key(b)).then_with(|| a.due.cmp(&b.due))
    });
    (looked_at, out)
}

// Where a piece hangs, from each moment on.
type Hangs = Vec<(Moment, Option<String>)>;

fn hangs(
    table: &Table<'_>,
    piece: usize,
    way: &[&Done],
    cures: &BTreeSet<String>,
) -> (Hangs, bool) {
    let scene = table.scene;
    let seen = scene.floor.get(piece);
    let mut room = seen
        .and_then(|s| s.now.place())
        .and_then(|p| p.room.clone());
    let mut out = vec![(Moment(i64::MIN), room.clone())];
    let mut homeless = false;
    let group = table.group(piece);
    let recipe = group
        .and_then(|g| table.stages.get(g.stage))
        .map(|s| s.recipe);
    for (n, done) in way.iter().enumerate() {
        let (began, ended) = on_piece(done, piece);
        let taken_down = done.coming.kind.takes_down();
        // Whatever is done to a piece that hangs in a cure room is done elsewhere.
        if room
            .as_ref()
            .is_some_and(|r| taken_down || cures.contains(r))
        {
            room = None;
            out.push((began, None));
        }
        let cure_next = way
            .get(n + 1)
            .is_some_and(|next| matches!(next.coming.bound, Some((Rule::Cure, _))));
        if done.coming.kind.wets() && cure_next {
            room = recipe.and_then(|r| scene.cure_room(Some(&r.code)));
            homeless |= room.is_none();
            out.push((ended, room.clone()));
        }
    }
    (out, homeless)
}

fn hangs_at(hangs: &Hangs, at: Moment) -> Option<&str> {
    let (_, room) = hangs.iter().rev().find(|(from, _)| *from <= at)?;
    room.as_deref()
}

fn rooms(
    table: &Table<'_>,
    suppose: &Suppose,
    ways: &[Vec<&Done>],
    days: u32,
) -> (Vec<RoomAhead>, usize) {
    let scene = table.scene;
    let mut hooks = scene.hooks.clone();
    hooks.extend(suppose.hooks.clone());
    let cures: BTreeSet<String> = table
        .stages
        .iter()
        .filter_map(|s| scene.cure_room(Some(&s.recipe.code)))
        .collect();
    let where_each: Vec<(Hangs, bool)> = ways
        .iter()
        .enumerate()
        .map(|(n, way)| hangs(table, n, way, &cures))
        .collect();
    let homeless = where_each.iter().filter(|(_, lost)| *lost).count();
    let first = scene.calendar.local(scene.at).date_naive();
    let names: BTreeSet<&String> = cures.iter().chain(hooks.keys()).collect();
    let rooms = names.into_iter().map(|room| {
        let hooks = hooks.get(room).copied();
        let dates = first.iter_days().take(usize::try_from(days).unwrap_or(0));
        let days = dates.map(|date| {
            let end = scene.calendar.midnight(date.succ_opt().unwrap_or(date));
            let begin = scene.calendar.midnight(date).max(scene.at);
            let there = |at: Moment| {
                let all = where_each.iter().enumerate();
                all.filter(move |(_, (h, _))| hangs_at(h, at) == Some(room.as_str()))
                    .map(|(n, _)| n)
            };
            // What comes and goes on one day is both, and what goes at the moment of the plan hung there until then.
            let (mut arrive, mut leave) = (0, 0);
            for (hangs, _) in &where_each {
                for (before, after) in hangs.iter().zip(hangs.iter().skip(1)) {
                    if begin <= after.0 && after.0 < end && before.1 != after.1 {
                        arrive += usize::from(after.1.as_ref() == Some(room));
                        leave += usize::from(before.1.as_ref() == Some(room));
                    }
                }
            }
            let last = Moment(end.0 - 1);
            let before = there(Moment(begin.0 - 1)).count();
            let after = there(last).count();
            let short = hooks.map(|h| u32::try_from(after).unwrap_or(u32::MAX).saturating_sub(h));
            RoomDay {
                date,
                before,
                arrive,
                leave,
                after,
                short,
                could_leave: there(last)
                    .filter(|n| time_reached(table, *n, ways, last))
                    .collect(),
            }
        });
        RoomAhead {
            room: room.clone(),
            hooks,
            days: days.collect(),
        }
    });
    (rooms.collect(), homeless)
}

// Whether nothing but people keeps a piece from its next deed at a moment.
fn time_reached(table: &Table<'_>, piece: usize, ways: &[Vec<&Done>], at: Moment) -> bool {
    let mut before = table.scene.at;
    for done in ways.get(piece).into_iter().flatten() {
        let (began, ended) = on_piece(done, piece);
        if began > at {
            return before <= at && done.coming.opens <= at;
        }
        before = ended;
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::{PastDeed, PastRework};
    use crate::plan::habits::Habits;
    use crate::plan::scene::Rush;
    use crate::shop::calendar::Calendar;
    use crate::shop::recipe_file;
    use crate::shop::words::Word;

    const START: Moment = Moment(1_772_440_020_000);

    // Ten deeds of each kind that nobody waited for, and what followed on a step.
    fn habits(after: StepKind, opened: usize) -> Habits {
        let hours = Hours::of(&Calendar::BARE, &[Shift::ALWAYS]);
        let deed = |kind: &StepKind| PastDeed {
            kind: *kind,
            opens: START,
            began: START,
            ended: START,
            pieces: 1,
            first: false,
            joined: false,
        };
        let deeds: Vec<PastDeed> = StepKind::ALL
            .iter()
            .flat_map(|kind| std::iter::repeat_n(deed(kind), ENOUGH))
            .collect();
        let past = PastRework {
            pieces: 40,
            through: 40,
            opened,
            lengths: vec![Span::hours(100); opened],
        };
        Habits::of(&deeds, &[], &hours, START).with_reworks(BTreeMap::from([(after, past)]))
    }

    // Three pieces that come in, by everybody's being there at every hour.
    fn with_three<T>(habits: Habits, then: impl Fn(&Scene<'_>, &Suppose) -> T) -> T {
        let calendar = Calendar::BARE;
        let hours = Hours::of(&calendar, &[Shift::ALWAYS]);
        let text = include_str!("../../sample/recipes/g9.toml");
        let suppose = Suppose {
            rush: vec![Rush {
                pieces: 3,
                recipe: Arc::new(recipe_file::read("g9", text).unwrap()),
            }],
            ..Suppose::default()
        };
        let scene = Scene {
            at: START,
            calendar: &calendar,
            hours: &hours,
            floor: &[],
            missing: BTreeMap::new(),
            stations: &[],
            crews: BTreeMap::new(),
            habits,
            hooks: BTreeMap::new(),
            airs: BTreeMap::new(),
            days: BTreeMap::new(),
            runs: 20,
            seed: 1,
        };
        then(&scene, &suppose)
    }

    fn planned(habits: Habits) -> Forecast {
        with_three(habits, |scene, suppose| forecast(scene, suppose, 1))
    }

    const fn both(m: Option<Moment>) -> (Option<Moment>, Option<Moment>) {
        (m, m)
    }

    #[test]
    fn a_share_of_nought_plans_as_before() {
        let none = planned(habits(StepKind::Inspect, 0));
        let before = planned(habits(StepKind::Inspect, 0).with_reworks(BTreeMap::new()));
        assert_eq!(none.pieces, before.pieces);
        assert_eq!(none.steps, before.steps);
        // And nobody having waited, all plays are the stated one.
        for piece in &none.pieces {
            assert!(piece.end.is_some());
            assert_eq!(piece.ends, Some(both(piece.end)));
        }
    }

    #[test]
    fn a_share_of_one_sends_each_piece_and_the_stated_figures_none() {
        let none = planned(habits(StepKind::Inspect, 0));
        let all = planned(habits(StepKind::Inspect, 40));
        for (before, after) in none.pieces.iter().zip(&all.pieces) {
            assert_eq!(before.end, after.end);
            let later = before.end.map(|m| m.plus(Span::hours(100)));
            assert_eq!(after.ends, Some(both(later)));
        }
        // Sanded twice on the way, as one rack: each time it comes back together.
        let sanded = planned(habits(StepKind::LevelSand, 40));
        for (before, after) in none.pieces.iter().zip(&sanded.pieces) {
            let least = before.end.map(|m| m.plus(Span::hours(150)));
            assert!(after.ends.unwrap().0 >= least, "{after:?}");
            assert_eq!(after.ends, sanded.pieces[0].ends);
        }
        let coats = |plan: &Forecast| {
            let steps = plan.steps.iter().filter(|s| s.coming.kind.wets());
            steps.map(|s| s.pieces.len()).collect::<Vec<_>>()
        };
        assert_eq!(coats(&sanded), coats(&none));
    }

    #[test]
    fn a_share_of_a_half_sends_half_of_the_pieces_and_all_come_to_their_end() {
        let runs = 300;
        let seen = with_three(habits(StepKind::Inspect, 20), |scene, suppose| {
            with_table(scene, suppose, |table, _| {
                let stated = table.play(Way::default()).ends[0].unwrap();
                let mut later = 0;
                for run in 1..=runs {
                    let played = table.play(Way {
                        run,
                        ..Way::default()
                    });
                    for end in played.ends {
                        let by = end.unwrap().since(stated);
                        assert!(by == Span(0) || by == Span::hours(100), "{by:?}");
                        later += u64::from(by.0 > 0);
                    }
                }
                later
            })
        });
        // Of n draws with one half, half of n and 4 sqrt(n) / 2 but for one time in 16,000.
        let n = 3 * runs;
        assert!(seen.abs_diff(n / 2) < 2 * n.isqrt(), "{seen} of {n}");

        // A rack that is parted by it after its sanding: no piece is in two places, none is lost.
        with_three(habits(StepKind::LevelSand, 20), |scene, suppose| {
            with_table(scene, suppose, |table, _| {
                let mut parted = 0;
                for run in 1..=50 {
                    let played = table.play(Way {
                        run,
                        ..Way::default()
                    });
                    assert!(played.over.iter().all(|over| *over), "{run}");
                    let mut until = [START; 3];
                    let mut done = [0; 3];
                    let mut deeds: Vec<&Done> = played.deeds.iter().collect();
                    deeds.sort_by_key(|d| d.made.began);
                    for deed in deeds {
                        parted += usize::from(deed.coming.kind.wets() && deed.pieces.len() < 3);
                        for piece in &deed.pieces {
                            assert!(deed.made.began >= until[*piece], "{run} {deed:?}");
                            until[*piece] = deed.made.ended;
                            done[*piece] += 1;
                        }
                    }
                    // A wait of more than three days asks for a scuff besides, so that the counts differ by those alone.
                    let stated = table.play(Way::default());
                    let least = stated
                        .deeds
                        .iter()
                        .filter(|d| d.pieces.contains(&0))
                        .count();
                    assert!(done.iter().all(|n| *n >= least), "{run} {done:?} {least}");
                }
                assert!(parted > 0);
            });
        });
        // The spread of a deed of the whole rack is that of its last piece.
        let plan = planned(habits(StepKind::LevelSand, 20));
        let coat = plan
            .steps
            .iter()
            .find(|s| s.coming.kind.word() == "clear" && s.coming.number == 9)
            .unwrap();
        assert_eq!(coat.pieces.len(), 3);
        let (half, nine) = coat.begun.unwrap();
        assert!(half.unwrap() > coat.made.began && nine >= half);
    }
}
