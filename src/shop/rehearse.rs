//! The rest of a piece's life, played step by step by its recipe's own rules: what a supervisor would expect.
//!
//! At each turn the next step of each surface is looked up, the deed is done at the earliest moment that the rules
//! ([`super::rules`]) allow and that lies in working hours, and the entry is folded as any other
//! ([`super::standing`]). Surfaces advance each in its own line; what several of them want at one moment is one deed.
//!
//! *Invariants*: nothing is done before its bounds are met; deeds are in the order of time; it ends, or says by name
//! why it does not. A deed takes no time here, the other half of a pair is there when it is mated, and mixes are as
//! the recipe assumes: it is a forecast by the recipe, not a promise.
//!
//! *Not here*: how many hands and hooks there are (`plan`, which plays many lives beside each other through [`Life`]),
//! holidays, what a piece will need that nobody knows of yet.

mod life;

pub use life::{Coming, Life};

use super::calendar::Calendar;
use super::climate::{Air, Credited, Stay};
use super::hours::Hours;
use super::material::MixFigures;
use super::recipe::{Recipe, WHOLE};
use super::record::{CoatFact, Entry, EntrySeq, Fact, NewPiece, PieceId};
use super::rules::{Around, Deed, Ground, Objection, OtherHalf, bounds};
use super::shift::Shift;
use super::solvent::{NOMINAL_CALENDAR, SolventHold};
use super::standing::{Mixes, PieceNow, Recipes, Site};
use super::words::{Fit, PieceKind, Rule, StepKind, Word};
use crate::units::{Area, Moment, Span};
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// By what a life is played.
#[derive(Debug, Clone, Copy)]
pub struct Stage<'a> {
    /// The recipe of the piece.
    pub recipe: &'a Arc<Recipe>,
    /// The shop's calendar.
    pub calendar: &'a Calendar,
    /// The air that cures count in.
    pub air: &'a dyn Air,
    /// Working hours.
    pub hours: &'a Hours,
    /// What the solvent model holds back of what lies on the piece already.
    pub solvent: &'a [SolventHold],
}

/// One deed of a rehearsed life.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    /// What is done, in words: `clear 4 of 9`, `level sand 1`.
    pub what: String,
    /// The step's name; empty for a scuff that no step asks for.
    pub step: String,
    /// Its kind.
    pub kind: StepKind,
    /// The surfaces that it is done on, in the order of the recipe.
    pub surfaces: Vec<String>,
    /// Whether these are all surfaces of the piece.
    pub whole: bool,
    /// The rework that it belongs to.
    pub rework: Option<String>,
    /// Which coat or stage of its kind it is, counted from 1.
    pub number: u32,
    /// From when on the rules allow it.
    pub opens: Moment,
    /// When it is done: then, or when people are there.
    pub at: Moment,
    /// The rule that bound it last, and in words; `None` where nothing made it wait.
    pub bound: Option<(Rule, String)>,
    /// Whether that rests on a forecast or on an assumption.
    pub provisional: bool,
    /// The thinnest film of these surfaces afterwards, in nm.
    pub film_nm: i64,
    /// What speaks against it and time alone does not settle.
    pub against: Vec<Rule>,
}

/// A rehearsed life.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rehearsal {
    /// The deeds in order of time.
    pub visits: Vec<Visit>,
    /// The thinnest film before the first final sanding of a surface, in nm.
    pub before_final_nm: Option<i64>,
    /// The film of each surface at the end, in nm.
    pub films: Vec<(String, i64)>,
}

/// Why a life cannot be played to its end.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Stopped {
    /// It is on hold, scrapped, ...: no time settles that.
    #[error("{0}")]
    Standing(String),
    /// A wait has no end in this air.
    #[error("{what} is not in sight: {why}")]
    NotInSight {
        /// What waits.
        what: String,
        /// What for.
        why: String,
    },
    /// The steps come back to themselves.
    #[error("the steps do not come to an end: \"{what}\" is still next after {turns} deeds")]
    Endless {
        /// What is still next.
        what: String,
        /// After how many deeds.
        turns: usize,
    },
    /// The recipe has no such rework.
    #[error("{recipe} has no rework \"{code}\"; it has {known}")]
    NoRework {
        /// The recipe.
        recipe: String,
        /// The code.
        code: String,
        /// The codes that it has.
        known: String,
    },
}

impl Rehearsal {
    /// When the last deed is done; `None` when nothing is left to do.
    pub fn end(&self) -> Option<Moment> {
        self.visits.last().map(|v| v.at)
    }

    /// From when on it can be mated, or its end where no mating is left. That lies in the past for a half that waits.
    pub fn there(&self) -> Option<Moment> {
        self.visits
            .iter()
            .find(|v| v.kind == StepKind::Mate)
            .map_or_else(|| self.end(), |v| Some(v.opens))
    }

    /// Coats that are laid.
    pub fn coats(&self) -> usize {
        self.visits.iter().filter(|v| v.kind.wets()).count()
    }

    /// The thinnest film at the end, in nm.
    pub fn film_nm(&self) -> i64 {
        self.films.iter().map(|(_, f)| *f).min().unwrap_or(0)
    }

    /// Dates of the shop's calendar on which something is done.
    pub fn working_days(&self, calendar: &Calendar) -> usize {
        let dates: BTreeSet<NaiveDate> = self
            .visits
            .iter()
            .map(|v| calendar.local(v.at).date_naive())
            .collect();
        dates.len()
    }

    /// Dates from the first deed to the last, both counted.
    pub fn calendar_days(&self, calendar: &Calendar) -> i64 {
        let date = |v: &Visit| calendar.local(v.at).date_naive();
        match (self.visits.first(), self.visits.last()) {
            (Some(a), Some(b)) => date(b).signed_duration_since(date(a)).num_days() + 1,
            _ => 0,
        }
    }

    /// Whether a time in it rests on a forecast or on an assumption.
    pub fn provisional(&self) -> bool {
        self.visits.iter().any(|v| v.provisional)
    }

    /// The deeds before which nothing is done for longer than `longer`, with the wait before each.
    pub fn waits(&self, longer: Span) -> impl Iterator<Item = (&Visit, Span)> {
        self.visits
            .iter()
            .zip(self.visits.iter().skip(1))
            .map(|(before, v)| (v, v.at.since(before.at)))
            .filter(move |(_, wait)| *wait > longer)
    }
}

/// Air that earns evenly for ever.
#[derive(Debug, Clone, Copy)]
pub struct Steady {
    /// Thousandths of an hour that an hour counts.
    pub permille: i64,
}

impl Steady {
    /// A cure room that is held in the band in which an hour counts as an hour.
    pub const FULL: Self = Self { permille: 1_000 };
}

impl Air for Steady {
    fn credited(&self, _: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited {
        let permille = i128::from(self.permille);
        let span = |ms: i128| Span(i64::try_from(ms).unwrap_or(i64::MAX));
        let needed = (permille > 0).then(|| {
            let wanted = i128::from(wanted.0) * 1_000;
            span(wanted.div_euclid(permille) + i128::from(wanted.rem_euclid(permille) > 0))
        });
        Credited {
            earned: span((i128::from(now.since(from).0.max(0)) * permille).div_euclid(1_000)),
            reached: needed.map(|n| from.plus(n).minute_up()),
            ..Credited::default()
        }
    }
}

/// The rooms' own air for a cure that has begun by a moment, steady air for one that begins later.
#[derive(Debug, Clone, Copy)]
pub struct Ahead<'a> {
    /// The rooms' air.
    pub known: &'a dyn Air,
    /// What has begun by then goes by the rooms.
    pub until: Moment,
    /// What begins later goes by this.
    pub then: Steady,
}

impl Air for Ahead<'_> {
    fn credited(&self, stays: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited {
        if from <= self.until {
            self.known.credited(stays, from, now, wanted)
        } else {
            self.then.credited(stays, from, now, wanted)
        }
    }
}

// The cup holds what the recipe assumes.
pub(super) struct AsAssumed;

impl Mixes for AsAssumed {
    fn figures(&self, _: &CoatFact) -> Option<MixFigures> {
        None
    }

    fn mixed(&self, _: &CoatFact) -> Option<Moment> {
        None
    }
}

/// A new piece of a recipe, taken in at a moment.
pub fn new_piece(recipe: &Recipe, at: Moment, calendar: &Calendar) -> PieceNow {
    let (entry, piece) = taken_in(recipe, at, calendar);
    PieceNow::taken_in(&entry, &piece, recipe)
}

fn taken_in(recipe: &Recipe, at: Moment, calendar: &Calendar) -> (Entry, NewPiece) {
    let piece = NewPiece {
        serial: "rehearsal".to_owned(),
        tag: None,
        kind: recipe.kinds.first().copied().unwrap_or(PieceKind::Body),
        model: String::new(),
        recipe: recipe.code.clone(),
        revision: recipe.revision,
        area: Area(0),
        due: None,
        pair: None,
    };
    let entry = Entry {
        seq: EntrySeq(0),
        piece: PieceId(0),
        surface: WHOLE.to_owned(),
        branch: 0,
        began: at,
        ended: at,
        written: at,
        day: calendar.day(at),
        person: String::new(),
        air: None,
        humidity: None,
        fact: Fact::Added(piece.clone()),
    };
    (entry, piece)
}

/// Plays the rest of a piece's life from `from` on.
///
/// # Errors
/// Why it cannot be played to its end.
pub fn rehearse(now: &PieceNow, from: Moment, stage: &Stage<'_>) -> Result<Rehearsal, Stopped> {
    let mut play = Play::new(now.clone(), from, stage);
    play.run(|_| true)?;
    Ok(play.done())
}

/// Plays a rework on a piece that was made to its recipe up to the inspection, from its opening at `from` to the
/// moment at which the piece is back on the main line.
///
/// # Errors
/// Why it cannot be played to its end, or that there is no such rework.
pub fn rehearse_rework(code: &str, from: Moment, stage: &Stage<'_>) -> Result<Rehearsal, Stopped> {
    if stage.recipe.rework(code).is_none() {
        let known: Vec<&str> = stage
            .recipe
            .reworks
            .iter()
            .map(|r| r.code.as_str())
            .collect();
        return Err(Stopped::NoRework {
            recipe: stage.recipe.label(),
            code: code.to_owned(),
            known: if known.is_empty() {
                "none".to_owned()
            } else {
                known.join(", ")
            },
        });
    }
    // Once to learn how long the main line takes, once so that it ends before the rework is opened.
    let took = to_the_look(from, stage)?.at.since(from);
    let week = Span::hours(7 * 24).0;
    let weeks = took.0.div_euclid(week) + 1;
    let mut play = to_the_look(from.minus(Span(weeks * week)), stage)?;
    play.visits.clear();
    play.before_final_nm = None;
    play.at = from;
    play.rework(code)?;
    Ok(play.done())
}

// A new piece that was made to its recipe up to the inspection.
fn to_the_look<'a>(from: Moment, stage: &'a Stage<'a>) -> Result<Play<'a>, Stopped> {
    let piece = new_piece(stage.recipe, from, stage.calendar);
    let mut play = Play::new(piece, from, stage);
    play.run(|turn| !matches!(turn.kind, StepKind::Inspect | StepKind::Mate))?;
    Ok(play)
}

/// The recipe without its caps of a production day: its least waits alone make its own schedule.
pub(super) fn uncapped(recipe: &Recipe) -> Arc<Recipe> {
    let mut own = recipe.clone();
    let reworks = own.reworks.iter_mut().flat_map(|r| &mut r.steps);
    for step in own.steps.iter_mut().chain(reworks) {
        step.per_day = None;
    }
    Arc::new(own.with_routes())
}

/// The entries of a recipe's own schedule at its least waits, in air in which an hour counts as an hour: the main line,
/// or up to the end of a rework that is opened at the inspection. No piece that keeps the recipe's waits is made faster.
pub(super) fn nominal_entries(
    recipe: &Recipe,
    rework: Option<&str>,
) -> Result<Vec<Entry>, Stopped> {
    let recipe = uncapped(recipe);
    let always = Hours::of(&NOMINAL_CALENDAR, &[Shift::ALWAYS]);
    let stage = Stage {
        recipe: &recipe,
        calendar: &NOMINAL_CALENDAR,
        air: &Steady::FULL,
        hours: &always,
        solvent: &[],
    };
    let start = Moment(0);
    let (added, _) = taken_in(&recipe, start, &NOMINAL_CALENDAR);
    let mut play = to_the_look(start, &stage)?;
    if let Some(code) = rework {
        play.rework(code)?;
    }
    Ok(std::iter::once(added).chain(play.entries).collect())
}

// What comes next on one surface.
#[derive(Debug, Clone)]
struct Turn {
    surface: String,
    rework: Option<String>,
    kind: StepKind,
    opens: Moment,
    at: Moment,
    bound: Option<(Rule, String)>,
    provisional: bool,
    against: Vec<Rule>,
    // Other surfaces have to come to this deed first.
    early: bool,
}

#[derive(Debug, Clone)]
struct Play<'a> {
    stage: &'a Stage<'a>,
    recipes: Recipes,
    around: Around,
    now: PieceNow,
    at: Moment,
    // When something was last done on each surface.
    lines: BTreeMap<String, Moment>,
    visits: Vec<Visit>,
    before_final_nm: Option<i64>,
    entries: Vec<Entry>,
}

// Deeds that a piece gets as one, whatever its surfaces are.
const fn of_the_piece(kind: StepKind) -> bool {
    matches!(
        kind,
        StepKind::Receive | StepKind::Mask | StepKind::Unmask | StepKind::Inspect | StepKind::Mate
    )
}

impl<'a> Play<'a> {
    fn new(mut now: PieceNow, from: Moment, stage: &'a Stage<'a>) -> Self {
        let mut recipes = Recipes::default();
        recipes.add(Arc::clone(stage.recipe));
        let other = now
            .piece
            .pair
            .get_or_insert_with(|| "the other half".to_owned())
            .clone();
        let around = Around {
            other: Some(OtherHalf {
                serial: other,
                belongs_to: Some(now.piece.serial.clone()),
                batch: now.batch.clone(),
                there: true,
                next: "mate".to_owned(),
            }),
            solvent: stage.solvent.to_vec(),
            ..Around::default()
        };
        Self {
            stage,
            recipes,
            around,
            now,
            at: from,
            lines: BTreeMap::new(),
            visits: Vec::new(),
            before_final_nm: None,
            entries: Vec::new(),
        }
    }

    fn ground(&self) -> Ground<'_> {
        Ground {
            recipe: self.stage.recipe,
            calendar: self.stage.calendar,
            air: self.stage.air,
            around: &self.around,
        }
    }

    // Plays the turns that are wanted until none of them is left.
    fn run(&mut self, wanted: impl Fn(&Turn) -> bool) -> Result<(), Stopped> {
        // Each deed counts for a step, or scuffs for the next one: more turns than this come back to themselves.
        let branches = std::iter::once(&self.stage.recipe.steps)
            .chain(self.stage.recipe.reworks.iter().map(|r| &r.steps));
        let deeds: u32 = branches.flatten().map(|s| s.count).sum();
        let surfaces = self.stage.recipe.surfaces.len().max(1);
        let most = 2 * usize::try_from(deeds).unwrap_or(usize::MAX / 64).max(1) * surfaces + 16;
        for _ in 0..=most {
            let mut turns = self.turns()?;
            turns.retain(&wanted);
            let together = chosen(&turns);
            let Some(at) = together.first().map(|t| t.at) else {
                return Ok(());
            };
            self.visit(&together, at, at);
        }
        Err(Stopped::Endless {
            what: self
                .turns()?
                .first()
                .map_or_else(String::new, |t| t.kind.word().to_owned()),
            turns: self.visits.len(),
        })
    }

    // Opens a rework on the surfaces that it has steps for, and plays it to its end.
    fn rework(&mut self, code: &str) -> Result<(), Stopped> {
        self.lines.clear();
        let recipe = self.stage.recipe;
        let surfaces: Vec<String> = recipe
            .surfaces
            .iter()
            .filter(|s| !recipe.route(Some(code), s).is_empty())
            .cloned()
            .collect();
        let fact = Fact::Reworked {
            rework: code.to_owned(),
            defect: None,
            why: String::new(),
        };
        self.apply(&surfaces.join(", "), self.at, fact);
        self.run(|turn| turn.rework.is_some())
    }

    fn turns(&self) -> Result<Vec<Turn>, Stopped> {
        let mut turns: Vec<Turn> = Vec::new();
        let sites: Vec<Site<'_>> = self.now.current(self.stage.recipe).collect();
        for site in &sites {
            let next = site.standing.next(site.steps);
            if let Some(step) = next.and_then(|i| site.steps.get(i)) {
                turns.push(self.turn(site, step.kind)?);
            }
        }
        let wanted: Vec<(String, StepKind)> =
            turns.iter().map(|t| (t.surface.clone(), t.kind)).collect();
        for turn in turns.iter_mut().filter(|t| of_the_piece(t.kind)) {
            // The piece gets the deed once: when the last surface that still has it has come to it.
            turn.early = sites.iter().any(|s| {
                s.standing.open_step(s.steps, turn.kind).is_some()
                    && !wanted
                        .iter()
                        .any(|(on, kind)| on == s.surface && *kind == turn.kind)
            });
        }
        for kind in wanted.iter().map(|(_, k)| *k).filter(|k| of_the_piece(*k)) {
            let latest = turns.iter().filter(|t| t.kind == kind).map(|t| t.at).max();
            for turn in turns.iter_mut().filter(|t| t.kind == kind && !t.early) {
                turn.at = latest.unwrap_or(turn.at);
            }
        }
        Ok(turns)
    }

    fn turn(&self, site: &Site<'_>, kind: StepKind) -> Result<Turn, Stopped> {
        // What lies before the surface's own last deed bound that one, not this.
        let since = self
            .lines
            .get(site.surface)
            .copied()
            .max(site.standing.last_deed)
            .map_or(self.at, |d| d.min(self.at));
        let mut found = self.earliest(site, &self.deed(kind), since)?;
        if found.at < self.at {
            // Its time came while something else was done.
            let now = self.earliest(site, &self.deed(kind), self.at)?;
            found = if now.opens > self.at {
                now
            } else {
                Found {
                    at: now.at,
                    against: now.against,
                    ..found
                }
            };
        }
        let scuff = found.against.contains(&Rule::ScuffFirst) && kind != StepKind::Scuff;
        Ok(Turn {
            surface: site.surface.to_owned(),
            rework: site.rework.map(str::to_owned),
            kind: if scuff { StepKind::Scuff } else { kind },
            opens: found.opens,
            at: found.at,
            bound: found.bound,
            provisional: found.provisional,
            against: if scuff { Vec::new() } else { found.against },
            early: false,
        })
    }

    // A deed with all that belongs to it, as the recipe wants it.
    fn deed(&self, kind: StepKind) -> Deed {
        let mates = kind == StepKind::Mate;
        Deed {
            person: hand(kind).to_owned(),
            with: self.now.piece.pair.clone().filter(|_| mates),
            fit: mates.then_some(Fit::Snug),
            ..Deed::of(kind)
        }
    }

    // The earliest moment from `from` on at which no bound of time is open and people are there.
    fn earliest(&self, site: &Site<'_>, deed: &Deed, from: Moment) -> Result<Found, Stopped> {
        let ground = self.ground();
        let mut found = Found {
            opens: from,
            at: from,
            bound: None,
            provisional: false,
            against: Vec::new(),
        };
        // Each turn meets a bound or the working hours; a deed has few of them.
        for _ in 0..64 {
            let list = bounds(&self.now, site, deed, found.at, &ground);
            stopped(&list)?;
            let open = list
                .iter()
                .filter_map(|b| Some((b, b.until.filter(|u| *u > found.at)?)))
                .max_by_key(|(_, until)| *until);
            if let Some((b, until)) = open {
                found.opens = until.minute_up();
                found.at = found.opens;
                found.bound = Some((b.rule, why(site, deed.kind, b, until)));
                found.provisional |= b.provisional;
                continue;
            }
            // Never open again is not in sight either.
            let Some(there) = self.stage.hours.next(found.at) else {
                break;
            };
            if there == found.at {
                found.against = list
                    .iter()
                    .filter(|b| b.until.is_none() && b.rule != Rule::Order)
                    .map(|b| b.rule)
                    .collect();
                return Ok(found);
            }
            found.at = there;
        }
        Err(Stopped::NotInSight {
            what: deed.kind.word().to_owned(),
            why: found
                .bound
                .map_or_else(|| "working hours".to_owned(), |(_, why)| why),
        })
    }

    // The deed is done on these surfaces from `at` to `ended`.
    fn visit(&mut self, together: &[&Turn], at: Moment, ended: Moment) {
        let Some(first) = together.first() else {
            return;
        };
        let kind = first.kind;
        let surfaces: Vec<String> = together.iter().map(|t| t.surface.clone()).collect();
        let (what, step, number) = self.named(first);
        let sites: Vec<Site<'_>> = self.now.current(self.stage.recipe).collect();
        let whole = surfaces.len() == sites.len();
        let named = if whole {
            WHOLE.to_owned()
        } else {
            surfaces.join(", ")
        };
        if kind == StepKind::FinalSand {
            let thinnest = sites
                .iter()
                .filter(|s| surfaces.iter().any(|on| on == s.surface))
                .map(|s| s.standing.film_nm)
                .min();
            self.before_final_nm = match (self.before_final_nm, thinnest) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => a.or(b),
            };
        }
        let latest = together
            .iter()
            .max_by_key(|t| t.opens)
            .copied()
            .unwrap_or(first);
        let mut visit = Visit {
            what,
            step,
            kind,
            whole,
            rework: first.rework.clone(),
            number,
            opens: latest.opens,
            at,
            bound: latest.bound.clone(),
            provisional: together.iter().any(|t| t.provisional),
            film_nm: 0,
            against: first.against.clone(),
            surfaces,
        };
        drop(sites);
        self.at = ended;
        let fact = self.fact(kind);
        self.apply(&named, at, fact);
        visit.film_nm = self
            .now
            .current(self.stage.recipe)
            .filter(|s| visit.surfaces.iter().any(|on| on == s.surface))
            .map(|s| s.standing.film_nm)
            .min()
            .unwrap_or(0);
        for on in &visit.surfaces {
            self.lines.insert(on.clone(), ended);
        }
        self.visits.push(visit);
    }

    // What a turn is in words, the step's name, and which coat or stage of its kind it is.
    fn named(&self, turn: &Turn) -> (String, String, u32) {
        let mut sites = self.now.current(self.stage.recipe);
        let site = sites.find(|s| s.surface == turn.surface);
        if let Some(site) = site
            && let Some(i) = site.standing.open_step(site.steps, turn.kind)
            && let Some(s) = site.steps.get(i)
        {
            let number = if turn.kind.wets() {
                site.standing.coats(site.steps, turn.kind) + 1
            } else {
                site.standing.done(i) + 1
            };
            let what = super::outlook::next_words(site.standing, site.steps, i);
            return (what, s.name.clone(), number);
        }
        (Word::word(turn.kind).to_owned(), String::new(), 1)
    }

    // The deed with nothing more said of it; a mating names the other half.
    fn fact(&self, kind: StepKind) -> Fact {
        if kind == StepKind::Mate {
            Fact::Mated {
                with: self.now.piece.pair.clone().unwrap_or_default(),
                fit: Some(Fit::Snug),
                joint: None,
            }
        } else {
            Fact::plain(kind)
        }
    }

    fn apply(&mut self, surface: &str, began: Moment, fact: Fact) {
        let seq = i64::try_from(self.entries.len()).unwrap_or(i64::MAX - 1) + 1;
        let person = fact.step_kind().map_or("", hand);
        let entry = Entry {
            seq: EntrySeq(seq),
            piece: self.now.id,
            surface: surface.to_owned(),
            branch: self.now.branch(),
            began,
            ended: self.at,
            written: self.at,
            day: self.stage.calendar.day(began),
            person: person.to_owned(),
            air: None,
            humidity: None,
            fact,
        };
        self.now.apply(&entry, &self.recipes, &AsAssumed);
        self.entries.push(entry);
    }

    fn done(self) -> Rehearsal {
        let films = self
            .now
            .current(self.stage.recipe)
            .map(|s| (s.surface.to_owned(), s.standing.film_nm))
            .collect();
        Rehearsal {
            visits: self.visits,
            before_final_nm: self.before_final_nm,
            films,
        }
    }
}

// What made a deed wait until then, in words.
fn why(site: &Site<'_>, kind: StepKind, b: &Objection, until: Moment) -> String {
    let wet = site.standing.last_wet;
    let steps = site.steps;
    match (b.rule, wet) {
        (Rule::Interval, Some(wet)) => {
            format!("{} after the last coat", as_typed(until.since(wet)))
        }
        (Rule::Dry, Some(wet)) => {
            format!("{} after the last wet coat", as_typed(until.since(wet)))
        }
        (Rule::DailyCap, _) => {
            let step = site
                .standing
                .step_for(steps, kind)
                .and_then(|i| steps.get(i));
            step.and_then(|s| s.per_day).map_or_else(
                || "coats of a production day".to_owned(),
                |n| format!("{n} coats a production day"),
            )
        }
        (Rule::Cure, _) => {
            let cure = steps.iter().find(|s| s.kind == StepKind::Cure && s.waits());
            let hours = cure.and_then(|s| s.hours).map_or(0, |h| h.0 / 3_600_000);
            format!("cure {hours} h")
        }
        (Rule::Rest, _) => site.standing.last_deed.map_or_else(
            || b.before.clone(),
            |deed| format!("rest {}", as_typed(until.since(deed))),
        ),
        _ => b.before.clone(),
    }
}

// Whole hours as a recipe writes them, `72 h`; anything else as people say it.
fn as_typed(wait: Span) -> String {
    if wait.0 % 3_600_000 == 0 && wait > Span::hours(2) {
        format!("{} h", wait.0 / 3_600_000)
    } else {
        wait.words()
    }
}

// Another person looks than the one who did the work.
const fn hand(kind: StepKind) -> &'static str {
    if matches!(kind, StepKind::Inspect) {
        "B"
    } else {
        "A"
    }
}

#[derive(Debug)]
struct Found {
    opens: Moment,
    at: Moment,
    bound: Option<(Rule, String)>,
    provisional: bool,
    against: Vec<Rule>,
}

// The turn that comes first, with the surfaces that want the same at that moment; what waits for other surfaces only where
// nothing else is left. None where nothing is left to do.
fn chosen(turns: &[Turn]) -> Vec<&Turn> {
    let Some(first) = turns.iter().min_by_key(|t| (t.early, t.at)) else {
        return Vec::new();
    };
    let (kind, at) = (first.kind, first.at);
    turns
        .iter()
        .filter(|t| t.kind == kind && (t.at == at || (of_the_piece(kind) && !first.early)))
        .collect()
}

// What no time settles ends the play.
fn stopped(list: &[Objection]) -> Result<(), Stopped> {
    for b in list {
        match b.rule {
            Rule::Held | Rule::Scrapped | Rule::Mated => {
                return Err(Stopped::Standing(b.before.clone()));
            }
            Rule::Cure if b.until.is_none() => {
                return Err(Stopped::NotInSight {
                    what: "the end of the cure".to_owned(),
                    why: b.before.clone(),
                });
            }
            _ => {}
        }
    }
    Ok(())
}
