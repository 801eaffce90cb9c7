//! What one walk through a piece's history tells about quality: the defects with the coat that each most likely came from,
//! the inspections, the reworks, and what was measured of films and amounts.
//!
//! *Invariants*: a defect is counted once, however often it is met again before it is mended; the coat behind it is the
//! newest one that had ended on that surface when it was seen, and where the record holds none it is not known; nothing is
//! guessed: a person, a mix, a room or air that was not recorded stays `None`.
//!
//! *Not here*: which days are asked about, shares and limits ([`crate::science::statistics`] and the reports), any verdict.

use super::calendar::Day;
use super::recipe::WHOLE;
use super::record::{Entry, EntrySeq, Fact, Finding, covers};
use super::standing::{Mixes, PieceNow, Recipes};
use super::words::{Defect, StepKind, Verdict};
use crate::science::film::kept_coat;
use crate::units::{Film, Humidity, Moment, Temperature, Volume, num};
use std::collections::BTreeMap;

/// A recipe revision by its code and number.
pub type RecipeName = (String, u32);

/// Something wet that was laid on a piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CoatMade {
    /// The entry.
    pub entry: EntrySeq,
    /// When it ended.
    pub at: Moment,
    /// The production day of its start.
    pub day: Day,
    /// The step that it belongs to.
    pub kind: StepKind,
    /// Whether it was a touch-up, which is no coat of the recipe.
    pub touch_up: bool,
    /// Whether it was laid in a rework.
    pub rework: bool,
    /// The surfaces as they were named.
    pub named: String,
    /// The surfaces that it reached.
    pub surfaces: Vec<String>,
    /// Who sprayed it.
    pub person: String,
    /// The mix, where one was recorded.
    pub mix: Option<u32>,
    /// The lot, where it was sprayed as it comes from the can.
    pub lot: Option<String>,
    /// The booth in which it was sprayed, else the room in which the piece was, where that is known.
    pub room: Option<String>,
    /// Air temperature as it was noted with the deed.
    pub air: Option<Temperature>,
    /// Relative humidity as it was noted with the deed.
    pub humidity: Option<Humidity>,
    /// How many wet readings there are.
    pub readings: usize,
    /// Mean wet reading x volume solids of what was in the cup, where both are known.
    pub film: Option<Film>,
    /// What left the pot for this piece.
    pub amount: Option<Volume>,
    /// The recipe that the piece went by.
    pub recipe: RecipeName,
}

/// How a defect came into the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeenAs {
    /// It was written down by itself.
    Flaw,
    /// An inspection found it.
    Finding(Verdict),
    /// A rework was opened for it, and nobody had written it down before.
    Rework,
}

/// A defect that was seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DefectSeen {
    /// The entry.
    pub entry: EntrySeq,
    /// When it was seen.
    pub at: Moment,
    /// The production day.
    pub day: Day,
    /// What.
    pub defect: Defect,
    /// The surface as it was named.
    pub surface: String,
    /// Where on it.
    pub place: Option<String>,
    /// How it came into the record.
    pub seen_as: SeenAs,
    /// The coat that it most likely came from, by its place in [`History::coats`]; `None` where no coat had ended there.
    pub coat: Option<usize>,
    /// The recipe that the piece went by when it was seen.
    pub recipe: RecipeName,
}

/// What an inspection asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// Neither rework nor scrap.
    Nothing,
    /// Rework or scrap.
    Rework,
    /// It held something back, or sent it back: what becomes of the piece is not known from it.
    Open,
}

/// An inspection.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Look {
    /// The entry.
    pub entry: EntrySeq,
    /// When it ended.
    pub at: Moment,
    /// The production day.
    pub day: Day,
    /// What it asked for.
    pub asked: Asked,
    /// How many findings were written down.
    pub findings: usize,
    /// Whether a rework had been opened before it.
    pub after_rework: bool,
}

/// A rework that was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReworkOpened {
    /// The entry.
    pub entry: EntrySeq,
    /// When.
    pub at: Moment,
    /// The production day.
    pub day: Day,
    /// Its code in the recipe.
    pub rework: String,
    /// The recipe that the piece went by.
    pub recipe: RecipeName,
}

/// What a gauge tells of the coats since the reading before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rise {
    /// Film per coat.
    pub film: Film,
    /// The kind of those coats.
    pub kind: StepKind,
    /// How many they were.
    pub coats: u32,
}

/// A gauge reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GaugeRead {
    /// The entry.
    pub entry: EntrySeq,
    /// When.
    pub at: Moment,
    /// The production day.
    pub day: Day,
    /// The surface as it was named.
    pub surface: String,
    /// The reading.
    pub film: Film,
    /// The furthest step of the recipe that was done there, where one was.
    pub after: Option<StepKind>,
    /// Film per coat since the reading before; `None` where there was none, where the coats were of several kinds, or
    /// where something took film in between.
    pub rise: Option<Rise>,
    /// Who read it.
    pub person: String,
    /// The recipe that the piece went by.
    pub recipe: RecipeName,
}

/// What a piece's history tells.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct History {
    /// Coats, touch-ups among them, in their order.
    pub coats: Vec<CoatMade>,
    /// Defects.
    pub defects: Vec<DefectSeen>,
    /// Inspections.
    pub looks: Vec<Look>,
    /// Reworks.
    pub reworks: Vec<ReworkOpened>,
    /// Gauge readings.
    pub gauges: Vec<GaugeRead>,
    /// The days on which a deed of the recipe was done to it, with the recipe that held.
    pub worked: Vec<(Day, RecipeName)>,
    // Defects that are counted and not yet mended: later looks meet them again.
    open: Vec<(EntrySeq, Defect, String, Option<String>)>,
    // What a gauge would find on a surface since it was read last.
    since: BTreeMap<String, Since>,
}

#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct Since {
    read: Option<Film>,
    coats: Vec<StepKind>,
    // Something else than whole coats changed the film.
    disturbed: bool,
}

/// Walks through the entries of a piece, in the order in which they happened. What comes before it was taken in tells
/// nothing.
pub fn history(entries: &[Entry], recipes: &Recipes, mixes: &dyn Mixes) -> History {
    let mut out = History::default();
    let mut now: Option<PieceNow> = None;
    for entry in entries {
        match (&mut now, &entry.fact) {
            (None, Fact::Added(piece)) => {
                now = recipes
                    .of(piece)
                    .map(|recipe| PieceNow::taken_in(entry, piece, recipe));
            }
            (Some(now), _) => {
                out.take(entry, now, recipes, mixes);
                now.apply(entry, recipes, mixes);
            }
            (None, _) => {}
        }
    }
    out
}

// Whether two names of surfaces speak of a common one.
fn meet(a: &str, b: &str) -> bool {
    a == WHOLE || b == WHOLE || b.split(',').any(|s| covers(a, s.trim()))
}

impl History {
    fn take(&mut self, entry: &Entry, now: &PieceNow, recipes: &Recipes, mixes: &dyn Mixes) {
        let name = (now.piece.recipe.clone(), now.piece.revision);
        let Some(recipe) = recipes.of(&now.piece) else {
            return;
        };
        if entry.fact.step_kind().is_some()
            && self.worked.last() != Some(&(entry.day, name.clone()))
        {
            self.worked.push((entry.day, name.clone()));
        }
        let touch_up = matches!(&entry.fact, Fact::Coat(c) if c.touch_up);
        let kind = entry.fact.step_kind().filter(|_| !touch_up);
        let reached = || now.reach(recipe, &entry.surface, kind);
        match &entry.fact {
            Fact::Flawed { defect, place, .. } => {
                self.see(
                    entry,
                    (*defect, &entry.surface, place.as_deref()),
                    SeenAs::Flaw,
                    &name,
                );
            }
            Fact::Mended { flaw, .. } => self.open.retain(|(e, ..)| e != flaw),
            Fact::Inspected { findings, .. } => self.look(entry, findings, &name),
            Fact::Worked {
                kind: StepKind::Inspect,
            } => self.look(entry, &[], &name),
            Fact::Reworked { rework, defect, .. } => {
                if let Some(defect) = defect
                    && !self.met(*defect, &entry.surface, None)
                {
                    self.see(
                        entry,
                        (*defect, &entry.surface, None),
                        SeenAs::Rework,
                        &name,
                    );
                }
                self.open.retain(|(_, d, surface, _)| {
                    !(meet(surface, &entry.surface) && defect.is_none_or(|wanted| wanted == *d))
                });
                self.reworks.push(ReworkOpened {
                    entry: entry.seq,
                    at: entry.ended,
                    day: entry.day,
                    rework: rework.clone(),
                    recipe: name,
                });
                if recipe.rework(rework).is_some_and(|r| r.bare) {
                    self.disturb(&reached());
                }
            }
            Fact::Gauged { film } => self.gauge(entry, *film, now, &reached(), name, recipe),
            fact if fact.wets() => {
                let surfaces = reached();
                self.laid(&surfaces, kind);
                self.coat(entry, now, surfaces, name, mixes);
            }
            fact if fact
                .step_kind()
                .is_some_and(|k| k.sands() || k == StepKind::Buff) =>
            {
                self.disturb(&reached());
            }
            _ => {}
        }
    }

    fn coat(
        &mut self,
        entry: &Entry,
        now: &PieceNow,
        surfaces: Vec<String>,
        recipe: RecipeName,
        mixes: &dyn Mixes,
    ) {
        let fact = match &entry.fact {
            Fact::Coat(fact) => Some(fact),
            _ => None,
        };
        let wet = fact.map_or(&[][..], |f| &f.wet);
        let solids = fact.and_then(|f| mixes.figures(f)).map(|f| f.solids);
        let film = solids
            .filter(|_| !wet.is_empty())
            .map(|solids| kept_coat(wet, Some(solids), Film(0), None).0);
        let rework = surfaces.iter().any(|s| now.branch_of(s).0 > 0);
        self.coats.push(CoatMade {
            entry: entry.seq,
            at: entry.ended,
            day: entry.day,
            kind: entry.fact.step_kind().unwrap_or(StepKind::Clear),
            touch_up: fact.is_some_and(|f| f.touch_up),
            rework,
            named: entry.surface.clone(),
            surfaces,
            person: entry.person.clone(),
            mix: fact.and_then(|f| f.mix),
            lot: fact.and_then(|f| f.lot.clone()),
            room: {
                let hung = now.place_at(entry.began).and_then(|p| p.room.as_deref());
                let sprayed = fact.map_or(hung, |f| f.more.sprayed_in(hung));
                sprayed.map(str::to_owned)
            },
            air: entry.air,
            humidity: entry.humidity,
            readings: wet.len(),
            film,
            amount: fact.and_then(|f| f.amount),
            recipe,
        });
    }

    // The newest coat that had ended on that surface by then.
    fn behind(&self, surface: &str, seen: Moment) -> Option<usize> {
        let on =
            |coat: &CoatMade| surface == WHOLE || coat.surfaces.iter().any(|s| meet(surface, s));
        self.coats
            .iter()
            .enumerate()
            .filter(|(_, coat)| coat.at <= seen && on(coat))
            .max_by_key(|(n, coat)| (coat.at, *n))
            .map(|(n, _)| n)
    }

    fn met(&self, defect: Defect, surface: &str, place: Option<&str>) -> bool {
        self.open.iter().any(|(_, d, s, p)| {
            let same_place = match (p.as_deref(), place) {
                (Some(a), Some(b)) => a == b,
                _ => true,
            };
            *d == defect && same_place && meet(s, surface)
        })
    }

    fn see(
        &mut self,
        entry: &Entry,
        (defect, surface, place): (Defect, &str, Option<&str>),
        seen_as: SeenAs,
        recipe: &RecipeName,
    ) {
        self.defects.push(DefectSeen {
            entry: entry.seq,
            at: entry.ended,
            day: entry.day,
            defect,
            surface: surface.to_owned(),
            place: place.map(str::to_owned),
            seen_as,
            coat: self.behind(surface, entry.ended),
            recipe: recipe.clone(),
        });
        self.open.push((
            entry.seq,
            defect,
            surface.to_owned(),
            place.map(str::to_owned),
        ));
    }

    fn look(&mut self, entry: &Entry, findings: &[Finding], recipe: &RecipeName) {
        let verdicts = || findings.iter().map(|f| f.verdict);
        let asked = if verdicts().any(|v| matches!(v, Verdict::Rework | Verdict::Scrap)) {
            Asked::Rework
        } else if verdicts().any(|v| matches!(v, Verdict::Hold | Verdict::Return)) {
            Asked::Open
        } else {
            Asked::Nothing
        };
        self.looks.push(Look {
            entry: entry.seq,
            at: entry.ended,
            day: entry.day,
            asked,
            findings: findings.len(),
            after_rework: !self.reworks.is_empty(),
        });
        // Held against what was open before this look: two findings of one look are two defects.
        let new: Vec<&Finding> = findings
            .iter()
            .filter(|f| {
                f.defect
                    .is_some_and(|d| !self.met(d, &f.surface, f.place.as_deref()))
            })
            .collect();
        for found in new {
            if let Some(defect) = found.defect {
                let what = (defect, found.surface.as_str(), found.place.as_deref());
                self.see(entry, what, SeenAs::Finding(found.verdict), recipe);
            }
        }
    }

    fn laid(&mut self, surfaces: &[String], kind: Option<StepKind>) {
        for surface in surfaces {
            let since = self.since.entry(surface.clone()).or_default();
            match kind {
                Some(kind) => since.coats.push(kind),
                // A touch-up wets a spot and no more.
                None => since.disturbed = true,
            }
        }
    }

    fn disturb(&mut self, surfaces: &[String]) {
        for surface in surfaces {
            self.since.entry(surface.clone()).or_default().disturbed = true;
        }
    }

    fn gauge(
        &mut self,
        entry: &Entry,
        film: Film,
        now: &PieceNow,
        surfaces: &[String],
        name: RecipeName,
        recipe: &super::recipe::Recipe,
    ) {
        let first = surfaces.first();
        let after = first.and_then(|surface| {
            let site = now.current(recipe).find(|s| s.surface == surface)?;
            site.standing
                .furthest()
                .and_then(|i| site.steps.get(i))
                .map(|step| step.kind)
        });
        let rise = first
            .and_then(|surface| self.since.get(surface))
            .and_then(|since| since.rise(film));
        self.gauges.push(GaugeRead {
            entry: entry.seq,
            at: entry.ended,
            day: entry.day,
            surface: entry.surface.clone(),
            film,
            after,
            rise,
            person: entry.person.clone(),
            recipe: name,
        });
        for surface in surfaces {
            let read = Since {
                read: Some(film),
                ..Since::default()
            };
            self.since.insert(surface.clone(), read);
        }
    }
}

impl Since {
    fn rise(&self, film: Film) -> Option<Rise> {
        let before = self.read.filter(|_| !self.disturbed)?;
        let kind = *self.coats.first()?;
        let coats = u32::try_from(self.coats.len()).ok()?;
        let one = num::round_half_even(i128::from(film.0 - before.0), i128::from(coats));
        self.coats.iter().all(|k| *k == kind).then_some(Rise {
            film: Film(i64::try_from(one).ok()?),
            kind,
            coats,
        })
    }
}
