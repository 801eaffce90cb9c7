//! What follows from the entries of a piece: *entry + standing -> standing*.
//!
//! *Invariants*: a standing holds only integers and words that follow from entries, so it can be dropped and rebuilt
//! at any time; entries apply in the order in which they happened, those of one moment in the order in which they
//! were written. An entry counts in the branch in which its surface stands at that moment. A climate file changes no
//! standing.
//!
//! *Not here*: any judgement ([`super::rules`], [`super::outlook`]).

use super::calendar::Day;
use super::climate::Stay;
use super::material::{MixFigures, split};
use super::recipe::{Recipe, Step, WHOLE};
use super::record::{CoatFact, Entry, EntrySeq, Fact, NewPiece, PieceId, covers};
use super::words::{Defect, MaterialKind, StepKind, Verdict};
use crate::science::film::kept_coat;
use crate::units::{Film, Moment, Share, Span};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Where a piece stands: all that a judgement needs, apart from recipe, climate and time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PieceNow {
    /// Its number.
    pub id: PieceId,
    /// As it was taken in, with the recipe, tag and other half that it has by now.
    pub piece: NewPiece,
    /// Where it hung since when, oldest first; never empty.
    pub stays: Vec<Stay>,
    /// Open holds: the entry and its reason.
    pub holds: Vec<(EntrySeq, String)>,
    /// Why it was scrapped.
    pub scrapped: Option<String>,
    /// Whether it is mated, which ends its own schedule.
    pub mated: bool,
    /// When the newest deed on it began: an earlier entry makes the whole history be folded anew.
    pub newest: Moment,
    /// The reworks that were opened, in order; the first has the number 1.
    pub branches: Vec<Branch>,
    /// A deed that was begun and not ended.
    pub begun: Option<Begun>,
    /// Since when the masks are on.
    pub taped: Option<Moment>,
    /// Batch of the colour that is on it.
    pub batch: Option<String>,
    /// Who buffed it since its last coat.
    pub buffed_by: Vec<String>,
    /// Defects that are neither mended nor in a rework.
    pub flaws: Vec<Flaw>,
    /// Tags that it no longer has, oldest first.
    pub retired: Vec<RetiredTag>,
    /// One standing per branch and surface; pieces that were worked together share it in memory.
    pub surfaces: Arc<Surfaces>,
}

/// Standings by branch and surface.
pub type Surfaces = BTreeMap<(u32, String), Standing>;

/// A rework that was opened on a piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Branch {
    /// Code of the rework in the recipe.
    pub rework: String,
    /// The defect that it mends.
    pub defect: Option<Defect>,
    /// When it was opened.
    pub at: Moment,
}

/// A deed that was begun.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Begun {
    /// The entry that says so.
    pub entry: EntrySeq,
    /// Which deed.
    pub kind: StepKind,
    /// When.
    pub at: Moment,
    /// Who is at it.
    pub person: String,
}

/// A defect that was seen and waits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flaw {
    /// The entry that saw it.
    pub entry: EntrySeq,
    /// What.
    pub defect: Defect,
    /// The surface.
    pub surface: String,
    /// Where on it.
    pub place: Option<String>,
}

/// A tag that a piece no longer has; no other piece gets it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RetiredTag {
    /// The tag.
    pub tag: String,
    /// Since when it is retired.
    pub at: Moment,
    /// Why.
    pub why: String,
}

/// One surface in the branch in which it is worked on.
#[derive(Debug, Clone, Copy)]
pub struct Site<'a> {
    /// The surface.
    pub surface: &'a str,
    /// 0 for the main line, else the number of the rework.
    pub branch: u32,
    /// Code of the rework.
    pub rework: Option<&'a str>,
    /// The steps of the surface in this branch.
    pub steps: &'a [Step],
    /// Where it stands.
    pub standing: &'a Standing,
}

impl Site<'_> {
    /// Coats, stages or deeds of a kind that its steps have in all.
    pub fn planned(&self, kind: StepKind) -> u32 {
        planned(self.steps, kind)
    }
}

/// Coats, stages or deeds of a kind that some steps have in all.
pub(super) fn planned(steps: &[Step], kind: StepKind) -> u32 {
    steps
        .iter()
        .filter(|s| s.kind == kind)
        .map(|s| s.count)
        .sum()
}

/// The recipe revisions that a piece went by.
#[derive(Debug, Clone, Default)]
pub struct Recipes(BTreeMap<(String, u32), Arc<Recipe>>);

impl Recipes {
    /// Adds a revision.
    pub fn add(&mut self, recipe: Arc<Recipe>) {
        self.0
            .insert((recipe.code.clone(), recipe.revision), recipe);
    }

    /// Whether a revision is there.
    pub fn has(&self, code: &str, revision: u32) -> bool {
        self.0.contains_key(&(code.to_owned(), revision))
    }

    /// A revision.
    pub fn get(&self, code: &str, revision: u32) -> Option<&Arc<Recipe>> {
        self.0.get(&(code.to_owned(), revision))
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &Arc<Recipe>> {
        self.0.values()
    }

    /// The revision that a piece goes by.
    pub fn of(&self, piece: &NewPiece) -> Option<&Arc<Recipe>> {
        self.get(&piece.recipe, piece.revision)
    }
}

/// Where one surface stands in one branch.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Standing {
    /// Coats, stages or deeds done, one count per step of the recipe.
    pub done: Vec<u32>,
    /// Film build in nm. Below zero when more was taken off than the record ever put on; that is said, not hidden.
    pub film_nm: i64,
    /// Whether the film rests on a gauge reading.
    pub gauged: bool,
    /// End of the last deed that left something wet.
    pub last_wet: Option<Moment>,
    /// What that deed was.
    pub last_wet_kind: Option<StepKind>,
    /// Retarder share of the last mix.
    pub retarder_last: Share,
    /// Highest retarder share since the last sanding.
    pub retarder_set: Share,
    /// Production day of the newest coats.
    pub coat_day: Day,
    /// Coats by kind on that day.
    pub coats_that_day: BTreeMap<StepKind, u32>,
    /// Whether it was sanded since the last wet deed.
    pub sanded_since_wet: bool,
    /// End of the newest deed of the recipe.
    pub last_deed: Option<Moment>,
    /// Steps before this one are no longer asked for: a rework has done for them.
    pub start: usize,
    /// When a rework branch was done on this surface, or gave way to another; the main line never closes.
    pub closed: Option<Moment>,
    /// Drop-filled spots by place: the newest drop, and how many.
    pub spots: BTreeMap<String, (Moment, u32)>,
}

/// Gives the figures of what was in the cup.
pub trait Mixes {
    /// Volume solids and retarder share of a coat's mix or lot; `None` when it is not known.
    fn figures(&self, coat: &CoatFact) -> Option<MixFigures>;
    /// When the oldest part of a coat's mix was mixed: the pot life counts from there.
    fn mixed(&self, coat: &CoatFact) -> Option<Moment>;
    /// The kinds of material in a coat's cup; empty when they are not known. They bear on rules and on no standing.
    fn kinds(&self, _: &CoatFact) -> &[MaterialKind] {
        &[]
    }
    /// The lot in a coat's cup whose shelf life ends first, and the last day of it; `None` where none is entered.
    fn shelf_life(&self, _coat: &CoatFact) -> Option<(String, Day)> {
        None
    }
}

impl Standing {
    fn new(steps: &[Step]) -> Self {
        Self {
            done: vec![0; steps.len()],
            ..Self::default()
        }
    }

    // The same film and clocks under other steps, of which none is done yet.
    fn carried(&self, steps: &[Step]) -> Self {
        Self {
            done: vec![0; steps.len()],
            start: 0,
            closed: None,
            ..self.clone()
        }
    }

    // Film and clocks of a rework that was done.
    fn take_over(&mut self, other: &Self, start: usize) {
        let done = std::mem::take(&mut self.done);
        *self = Self {
            done,
            start,
            closed: None,
            ..other.clone()
        };
    }

    /// How often a step is done.
    pub fn done(&self, step: usize) -> u32 {
        self.done.get(step).copied().unwrap_or(0)
    }

    /// Whether a step that is a deed has all its coats or stages.
    pub fn complete(&self, steps: &[Step], step: usize) -> bool {
        steps.get(step).is_some_and(|s| self.done(step) >= s.count)
    }

    /// Coats of a kind so far.
    pub fn coats(&self, steps: &[Step], kind: StepKind) -> u32 {
        steps
            .iter()
            .zip(&self.done)
            .filter(|(s, _)| s.kind == kind)
            .map(|(_, n)| n)
            .sum()
    }

    /// Coats of a kind on a production day.
    pub fn coats_on(&self, day: Day, kind: StepKind) -> u32 {
        if day == self.coat_day {
            self.coats_that_day.get(&kind).copied().unwrap_or(0)
        } else {
            0
        }
    }

    /// The step that a deed of this kind belongs to: the first that is still asked for, else the last of its kind.
    pub fn step_for(&self, steps: &[Step], kind: StepKind) -> Option<usize> {
        self.open_step(steps, kind)
            .or_else(|| steps.iter().rposition(|s| s.kind == kind))
    }

    /// The furthest step on which anything was done.
    pub fn furthest(&self) -> Option<usize> {
        self.done.iter().rposition(|n| *n > 0)
    }

    /// The film in nm that the piece will end with when what is left of the recipe goes by its figures: this is what
    /// the finished band is held against. Steps that were left out before the furthest one add and take nothing.
    pub fn finish_nm(&self, steps: &[Step]) -> i64 {
        let Some(next) = self.next(steps) else {
            return self.film_nm;
        };
        let left: i64 = steps
            .iter()
            .enumerate()
            .skip(next)
            .filter(|(i, s)| s.kind != StepKind::DropFill && *i >= self.start)
            .map(|(i, s)| {
                let open = i64::from(s.count.saturating_sub(self.done(i)));
                let stages = vec![1; usize::try_from(s.count.max(1)).unwrap_or(1)];
                let done = usize::try_from(self.done(i)).unwrap_or(0);
                let taken: i64 = split(s.removes.0, &stages).iter().skip(done).sum();
                s.film.0 * open - taken
            })
            .sum();
        self.film_nm + left
    }

    /// The next step in which something is to be done, waits left out; `None` when the recipe is at its end.
    ///
    /// Steps before the furthest one are passed over when they were left out, except what the film still needs:
    /// while the film is being built, a left-out level sanding or a missing clear coat still comes first.
    pub fn next(&self, steps: &[Step]) -> Option<usize> {
        let furthest = self.furthest();
        let building = furthest.and_then(|f| steps.get(f)).is_some_and(|s| {
            matches!(
                s.kind,
                StepKind::Clear | StepKind::LevelSand | StepKind::Scuff
            )
        });
        steps
            .iter()
            .enumerate()
            .skip(self.start)
            .find_map(|(i, s)| {
                // Spots are filled where there are any; no recipe can ask for them.
                let asked = !s.waits() && s.kind != StepKind::DropFill;
                let open = asked && self.done(i) < s.count;
                let reached = furthest.is_none_or(|f| i >= f);
                let needed = building && matches!(s.kind, StepKind::Clear | StepKind::LevelSand);
                (open && (reached || needed)).then_some(i)
            })
    }

    /// The steps that lie before the next one and were never done in full: the recipe does not come back to them.
    pub fn left_out(&self, steps: &[Step]) -> Vec<usize> {
        let reached = self
            .next(steps)
            .or_else(|| self.furthest().map(|f| f + 1))
            .unwrap_or(0);
        let asked = |s: &Step| !s.waits() && s.kind != StepKind::DropFill;
        (self.start..reached)
            .filter(|i| !self.complete(steps, *i) && steps.get(*i).is_some_and(asked))
            .collect()
    }

    /// The first step of a kind that is still asked for, whatever comes before it.
    pub fn open_step(&self, steps: &[Step], kind: StepKind) -> Option<usize> {
        steps
            .iter()
            .enumerate()
            .skip(self.start)
            .find(|(i, s)| s.kind == kind && self.done(*i) < s.count)
            .map(|(i, _)| i)
    }

    fn count(&mut self, steps: &[Step], kind: StepKind) -> Option<usize> {
        let step = self.step_for(steps, kind)?;
        if let Some(n) = self.done.get_mut(step) {
            *n += 1;
        }
        Some(step)
    }

    fn apply(&mut self, steps: &[Step], entry: &Entry, mixes: &dyn Mixes) {
        match &entry.fact {
            Fact::Coat(coat) if coat.kind == StepKind::DropFill => self.drops(steps, entry, coat),
            Fact::Coat(coat) => self.coat(steps, entry, coat, mixes),
            Fact::Sanded { kind, removed, .. } => {
                let step = self.count(steps, *kind).and_then(|i| steps.get(i));
                let taken = removed.or(step.map(|s| s.removes)).unwrap_or_default();
                self.film_nm -= taken.0;
                self.sanded_since_wet = true;
                self.retarder_set = Share(0);
                self.last_deed = Some(entry.ended);
            }
            Fact::Inspected { findings, .. }
                if findings
                    .iter()
                    .any(|f| matches!(f.verdict, Verdict::Rework | Verdict::Scrap)) =>
            {
                self.last_deed = Some(entry.ended);
            }
            Fact::Received { verdict, .. } if *verdict != Verdict::Take => {
                self.last_deed = Some(entry.ended);
            }
            Fact::Gauged { film } => {
                self.film_nm = film.0;
                self.gauged = true;
            }
            fact => {
                if let Some(kind) = fact.step_kind() {
                    self.work(steps, entry, kind);
                }
            }
        }
    }

    fn work(&mut self, steps: &[Step], entry: &Entry, kind: StepKind) {
        let step = self.count(steps, kind);
        if let Some((i, s)) = step.and_then(|i| steps.get(i).map(|s| (i, s))) {
            self.film_nm -= stage_share(s, self.done(i).saturating_sub(1)).0;
            if s.kind.wets() {
                self.film_nm += s.film.0;
            }
        }
        if kind.wets() {
            self.wet(entry, kind, Share(0));
        }
        self.last_deed = Some(entry.ended);
    }

    // Drops wet their spot and nothing else: the surface's own clocks go on.
    fn drops(&mut self, steps: &[Step], entry: &Entry, coat: &CoatFact) {
        self.count(steps, coat.kind);
        let place = coat.more.place.clone().unwrap_or_else(|| "spot".to_owned());
        let spot = self.spots.entry(place).or_insert((entry.ended, 0));
        spot.0 = spot.0.max(entry.ended);
        spot.1 += coat.more.drops.unwrap_or(1);
        self.last_deed = Some(entry.ended);
    }

    fn coat(&mut self, steps: &[Step], entry: &Entry, coat: &CoatFact, mixes: &dyn Mixes) {
        let figures = mixes.figures(coat);
        let step = if coat.touch_up {
            None
        } else {
            self.count(steps, coat.kind).and_then(|i| steps.get(i))
        };
        self.film_nm += film_of_coat(coat, step, figures).0;
        if !coat.touch_up {
            if entry.day != self.coat_day {
                self.coat_day = entry.day;
                self.coats_that_day.clear();
            }
            *self.coats_that_day.entry(coat.kind).or_insert(0) += 1;
            self.last_deed = Some(entry.ended);
        }
        self.wet(entry, coat.kind, figures.map_or(Share(0), |f| f.retarder));
    }

    fn wet(&mut self, entry: &Entry, kind: StepKind, retarder: Share) {
        // A coat that was written late but ended earlier does not turn the clock back.
        if self.last_wet.is_none_or(|w| entry.ended >= w) {
            self.last_wet = Some(entry.ended);
            self.last_wet_kind = Some(kind);
            self.retarder_last = retarder;
        }
        self.retarder_set = self.retarder_set.max(retarder);
        self.sanded_since_wet = false;
    }
}

/// Dry film that a coat adds: the mean wet reading x volume solids of the mix, else the recipe's film for the solids
/// that the mix has, else the recipe's film. A touch-up without a reading adds nothing to the prediction.
pub fn film_of_coat(coat: &CoatFact, step: Option<&Step>, mix: Option<MixFigures>) -> Film {
    let (film, assumed) = step.map_or((Film(0), None), |s| (s.film, s.solids));
    kept_coat(&coat.wet, mix.map(|m| m.solids), film, assumed).0
}

impl PieceNow {
    /// A piece that was just taken in.
    pub fn taken_in(entry: &Entry, piece: &NewPiece, recipe: &Recipe) -> Self {
        let surfaces = recipe
            .surfaces
            .iter()
            .map(|s| ((0, s.clone()), Standing::new(recipe.route(None, s))))
            .collect();
        Self {
            id: entry.piece,
            piece: piece.clone(),
            stays: vec![Stay {
                from: entry.began,
                rack: None,
                hook: None,
                room: None,
            }],
            holds: Vec::new(),
            scrapped: None,
            mated: false,
            newest: entry.began,
            branches: Vec::new(),
            begun: None,
            taped: None,
            batch: None,
            buffed_by: Vec::new(),
            flaws: Vec::new(),
            retired: Vec::new(),
            surfaces: Arc::new(surfaces),
        }
    }

    /// The standing after one more entry. A revision that `recipes` does not hold leaves the piece on the one it has.
    pub fn apply(&mut self, entry: &Entry, recipes: &Recipes, mixes: &dyn Mixes) {
        self.newest = self.newest.max(entry.began);
        let Some(recipe) = recipes.of(&self.piece).cloned() else {
            return;
        };
        self.apply_to_piece(entry);
        match &entry.fact {
            Fact::Reworked { rework, defect, .. } => {
                self.open_rework(entry, &recipe, rework, *defect);
            }
            Fact::Reassigned {
                recipe: code,
                revision,
                ..
            } => {
                if let Some(new) = recipes.get(code, *revision).cloned() {
                    self.reassign(&recipe, &new);
                }
            }
            _ => self.apply_to_surfaces(entry, &recipe, mixes),
        }
    }

    // What is mated hangs on its hook no longer: the rack is for the next ones. Its room is still its own.
    fn leave_rack(&mut self, at: Moment) {
        let Some(last) = self.stays.last().filter(|s| s.rack.is_some()) else {
            return;
        };
        let off = Stay {
            from: at.max(last.from),
            rack: None,
            hook: None,
            room: last.room.clone(),
        };
        match self.stays.last_mut() {
            Some(last) if last.from == off.from => *last = off,
            _ => self.stays.push(off),
        }
    }

    fn apply_to_piece(&mut self, entry: &Entry) {
        match &entry.fact {
            Fact::Placed { rack, hook, room } => {
                let stay = Stay {
                    from: entry.began,
                    rack: rack.clone(),
                    hook: *hook,
                    room: room.clone(),
                };
                match self.stays.last_mut() {
                    Some(last) if last.from == stay.from => *last = stay,
                    _ => self.stays.push(stay),
                }
            }
            Fact::Held { why } => self.holds.push((entry.seq, why.clone())),
            Fact::Lifted { .. } => self.holds.clear(),
            Fact::Scrapped { why } => self.scrapped = Some(why.clone()),
            Fact::Restored { .. } => self.scrapped = None,
            Fact::Worked {
                kind: StepKind::Mate,
            }
            | Fact::Mated { .. } => {
                self.mated = true;
                self.leave_rack(entry.ended);
            }
            Fact::Worked {
                kind: StepKind::Mask,
            }
            | Fact::Masked { .. } => self.taped = Some(entry.ended),
            Fact::Worked {
                kind: StepKind::Unmask,
            } => self.taped = None,
            Fact::Received { verdict, .. } => match verdict {
                Verdict::Hold => self.holds.push((entry.seq, "held at receiving".to_owned())),
                Verdict::Return | Verdict::Scrap => self
                    .holds
                    .push((entry.seq, "goes back to the wood shop".to_owned())),
                Verdict::Take | Verdict::Rework => {}
            },
            Fact::Coat(coat) => {
                if let Some(batch) = &coat.more.batch {
                    self.batch = Some(batch.clone());
                }
                self.buffed_by.clear();
            }
            Fact::Buffed { .. }
            | Fact::Worked {
                kind: StepKind::Buff,
            } if !self.buffed_by.contains(&entry.person) => {
                self.buffed_by.push(entry.person.clone());
            }
            Fact::Flawed { defect, place, .. } => self.flaws.push(Flaw {
                entry: entry.seq,
                defect: *defect,
                surface: entry.surface.clone(),
                place: place.clone(),
            }),
            Fact::Mended { flaw, .. } => self.flaws.retain(|f| f.entry != *flaw),
            Fact::Inspected { findings, .. } => {
                for f in findings {
                    if let (Some(defect), Verdict::Rework | Verdict::Scrap) = (f.defect, f.verdict)
                    {
                        self.flaws.push(Flaw {
                            entry: entry.seq,
                            defect,
                            surface: f.surface.clone(),
                            place: f.place.clone(),
                        });
                    }
                }
            }
            Fact::Begun { kind } => {
                self.begun = Some(Begun {
                    entry: entry.seq,
                    kind: *kind,
                    at: entry.began,
                    person: entry.person.clone(),
                });
            }
            Fact::BrokenOff { .. } => self.begun = None,
            Fact::Tagged { tag, why } => {
                if let Some(old) = std::mem::replace(&mut self.piece.tag, tag.clone()) {
                    self.retired.push(RetiredTag {
                        tag: old,
                        at: entry.ended,
                        why: why.clone(),
                    });
                }
            }
            Fact::Paired { pair, .. } => self.piece.pair.clone_from(pair),
            _ => {}
        }
        if self.begun.as_ref().map(|b| b.kind) == entry.fact.step_kind()
            && !matches!(entry.fact, Fact::Begun { .. })
        {
            self.begun = None;
        }
    }

    fn apply_to_surfaces(&mut self, entry: &Entry, recipe: &Recipe, mixes: &dyn Mixes) {
        let mut done = Vec::new();
        let touch_up = matches!(&entry.fact, Fact::Coat(c) if c.touch_up);
        let kind = entry.fact.step_kind().filter(|_| !touch_up);
        for surface in self.reach(recipe, &entry.surface, kind) {
            let (branch, rework) = self.branch_of(&surface);
            let steps = recipe.route(rework, &surface);
            let Some(standing) =
                Arc::make_mut(&mut self.surfaces).get_mut(&(branch, surface.clone()))
            else {
                continue;
            };
            standing.apply(steps, entry, mixes);
            if branch > 0 && standing.next(steps).is_none() {
                done.push((branch, surface));
            }
        }
        for (branch, surface) in done {
            self.close_rework(branch, &surface, recipe, entry.ended);
        }
    }

    /// The surfaces that a deed on `named` counts for: those named; of the whole piece those that have a step of this
    /// kind, or all when none has. A touch-up has no step: it is asked about without a kind.
    pub fn reach(&self, recipe: &Recipe, named: &str, kind: Option<StepKind>) -> Vec<String> {
        let all: Vec<Site<'_>> = self
            .current(recipe)
            .filter(|s| covers(named, s.surface))
            .collect();
        let has =
            |s: &Site<'_>| kind.is_none_or(|kind| s.steps.iter().any(|step| step.kind == kind));
        let some = named == WHOLE && all.iter().any(has);
        all.iter()
            .filter(|s| !some || has(s))
            .map(|s| s.surface.to_owned())
            .collect()
    }

    fn open_rework(&mut self, entry: &Entry, recipe: &Recipe, code: &str, defect: Option<Defect>) {
        let Some(rework) = recipe.rework(code) else {
            return;
        };
        let surfaces: Vec<String> = self
            .current(recipe)
            .filter(|s| covers(&entry.surface, s.surface))
            .map(|s| s.surface.to_owned())
            .collect();
        let number = self.newest_branch() + 1;
        for surface in &surfaces {
            let (branch, _) = self.branch_of(surface);
            let steps = recipe.route(Some(code), surface);
            let Some(before) =
                Arc::make_mut(&mut self.surfaces).get_mut(&(branch, surface.clone()))
            else {
                continue;
            };
            let mut standing = before.carried(steps);
            if branch > 0 {
                // A rework on a surface that is in rework takes the place of the one before.
                before.closed = Some(entry.ended);
            }
            if rework.bare {
                standing.film_nm = 0;
                standing.gauged = false;
            }
            standing.last_deed = Some(entry.ended);
            Arc::make_mut(&mut self.surfaces).insert((number, surface.clone()), standing);
        }
        self.flaws.retain(|f| {
            !(surfaces.iter().any(|s| covers(&f.surface, s))
                && defect.is_none_or(|d| d == f.defect))
        });
        self.branches.push(Branch {
            rework: code.to_owned(),
            defect,
            at: entry.ended,
        });
    }

    fn close_rework(&mut self, branch: u32, surface: &str, recipe: &Recipe, at: Moment) {
        let code = self.code_of(branch).unwrap_or_default().to_owned();
        let key = (branch, surface.to_owned());
        let Some(done) = Arc::make_mut(&mut self.surfaces).get_mut(&key) else {
            return;
        };
        done.closed = Some(at);
        let done = done.clone();
        let steps = recipe.route(None, surface);
        if let Some(main) = Arc::make_mut(&mut self.surfaces).get_mut(&(0, surface.to_owned())) {
            let start = rejoin(main, steps, recipe, &code, surface);
            main.take_over(&done, start);
        }
    }

    // Counts carry over by kind, in the order of the new steps; film and clocks stay as they are.
    fn reassign(&mut self, old: &Recipe, new: &Recipe) {
        let mut surfaces = BTreeMap::new();
        let numbers: Vec<u32> = (0..=self.newest_branch()).collect();
        for number in numbers {
            let code = self.code_of(number).map(str::to_owned);
            for surface in &new.surfaces {
                let named = |name: &str| {
                    self.surfaces
                        .get_key_value(&(number, name.to_owned()))
                        .map(|((_, s), standing)| (s.clone(), standing))
                };
                let first = || {
                    self.surfaces
                        .iter()
                        .find(|((n, _), _)| *n == number)
                        .map(|((_, s), standing)| (s.clone(), standing))
                };
                let Some((from, standing)) =
                    named(surface).or_else(|| named(WHOLE)).or_else(|| {
                        let any = surface == WHOLE || number == 0;
                        any.then(first).flatten()
                    })
                else {
                    continue;
                };
                let before = old.route(code.as_deref(), &from);
                let after = new.route(code.as_deref(), surface);
                let mut carried = standing.carried(after);
                carried.closed = standing.closed;
                carried.done = carry_counts(&standing.done, before, after);
                carried.start = before
                    .get(standing.start)
                    .filter(|_| standing.start > 0)
                    .and_then(|s| after.iter().position(|a| a.kind == s.kind))
                    .unwrap_or(0);
                surfaces.insert((number, surface.clone()), carried);
            }
        }
        self.surfaces = Arc::new(surfaces);
        self.piece.recipe.clone_from(&new.code);
        self.piece.revision = new.revision;
    }

    /// The number of the newest rework, 0 when there is none.
    pub fn newest_branch(&self) -> u32 {
        u32::try_from(self.branches.len()).unwrap_or(u32::MAX)
    }

    /// The rework of a branch number; `None` for the main line.
    pub fn code_of(&self, branch: u32) -> Option<&str> {
        let at = usize::try_from(branch).ok()?.checked_sub(1)?;
        self.branches.get(at).map(|b| b.rework.as_str())
    }

    /// The branch in which a surface is worked on: its newest open rework, else the main line.
    pub fn branch_of(&self, surface: &str) -> (u32, Option<&str>) {
        self.surfaces
            .iter()
            .rev()
            .filter(|((n, s), standing)| s == surface && (*n == 0 || standing.closed.is_none()))
            .map(|((n, _), _)| (*n, self.code_of(*n)))
            .next()
            .unwrap_or((0, None))
    }

    /// The branch in which most of the work goes on: the newest open rework of any surface, else the main line.
    pub fn branch(&self) -> u32 {
        self.surfaces
            .iter()
            .rev()
            .find(|((n, _), standing)| *n == 0 || standing.closed.is_none())
            .map_or(0, |((n, _), _)| *n)
    }

    /// Where it hangs now.
    pub fn place(&self) -> Option<&Stay> {
        self.stays.last()
    }

    /// Where it hung at a moment.
    pub fn place_at(&self, at: Moment) -> Option<&Stay> {
        self.stays.get(
            self.stays
                .partition_point(|s| s.from <= at)
                .checked_sub(1)?,
        )
    }

    /// Each surface in the branch in which it is worked on, in the order of the recipe.
    pub fn current<'a>(&'a self, recipe: &'a Recipe) -> impl Iterator<Item = Site<'a>> {
        recipe.surfaces.iter().filter_map(|surface| {
            let (branch, rework) = self.branch_of(surface);
            Some(Site {
                surface,
                branch,
                rework,
                steps: recipe.route(rework, surface),
                standing: self.surfaces.get(&(branch, surface.clone()))?,
            })
        })
    }

    /// The surfaces that a deed of this kind is meant for when none is named: those that are asked for it next, parted by
    /// commas; the whole piece where all are, or none is.
    pub fn meant(&self, recipe: &Recipe, kind: StepKind) -> String {
        let sites: Vec<Site<'_>> = self.current(recipe).collect();
        let asked: Vec<&str> = sites
            .iter()
            .filter(|s| {
                let next = s.standing.next(s.steps).and_then(|i| s.steps.get(i));
                next.is_some_and(|step| step.kind == kind)
            })
            .map(|s| s.surface)
            .collect();
        if asked.is_empty() || asked.len() == sites.len() {
            WHOLE.to_owned()
        } else {
            asked.join(", ")
        }
    }

    /// The surface whose film will end lowest against its own band: it speaks for the film of the piece.
    pub fn weakest<'a>(&'a self, recipe: &'a Recipe) -> Option<Site<'a>> {
        self.current(recipe)
            .min_by_key(|s| self.finish_of(recipe, s) - recipe.band(s.surface).0.0)
    }

    /// The film of its weakest surface.
    pub fn film_nm(&self, recipe: &Recipe) -> i64 {
        self.weakest(recipe).map_or(0, |s| s.standing.film_nm)
    }

    /// The film that its weakest surface will end with, see [`Standing::finish_nm`].
    pub fn finish_nm(&self, recipe: &Recipe) -> i64 {
        self.weakest(recipe)
            .map_or(0, |s| self.finish_of(recipe, &s))
    }

    /// The film that one surface will end with: what is left of its branch, and of the main line after it.
    pub fn finish_of(&self, recipe: &Recipe, site: &Site<'_>) -> i64 {
        let mut film = site.standing.finish_nm(site.steps);
        if let Some(code) = site.rework
            && let Some(main) = self.surfaces.get(&(0, site.surface.to_owned()))
        {
            let steps = recipe.route(None, site.surface);
            let mut after = main.clone();
            after.start = rejoin(main, steps, recipe, code, site.surface);
            film += after.finish_nm(steps) - after.film_nm;
        }
        film
    }

    /// The waits that a surface has ahead of it after its next step, as the recipe states them: which surface is the
    /// slowest is told by these, and not by what its next step waits for.
    pub fn ahead(&self, recipe: &Recipe, site: &Site<'_>) -> Span {
        let next = site.standing.next(site.steps).unwrap_or(site.steps.len());
        let mut waits = waits_ahead(site.standing, site.steps, next);
        if let Some(code) = site.rework
            && let Some(main) = self.surfaces.get(&(0, site.surface.to_owned()))
        {
            let steps = recipe.route(None, site.surface);
            let start = rejoin(main, steps, recipe, code, site.surface);
            waits += steps.get(start).and_then(|s| s.after).map_or(0, |w| w.0);
            waits += waits_ahead(main, steps, start);
            // A rework that wets the surface and has no cure of its own has the main line's before it.
            let wets = site.steps.iter().any(|s| s.kind.wets());
            let cures = site.steps.iter().any(|s| s.kind == StepKind::Cure);
            if wets && !cures {
                waits += steps
                    .iter()
                    .take(start)
                    .filter(|s| s.kind == StepKind::Cure)
                    .filter_map(|s| s.hours)
                    .map(|h| h.0)
                    .sum::<i64>();
            }
        }
        Span(waits)
    }

    /// Whether it still has work to come: not mated and not scrapped.
    pub fn in_process(&self) -> bool {
        !self.mated && self.scrapped.is_none()
    }

    /// Whether whatever is judged of this piece alone is judged of the other one, too: rack mates that were worked together.
    /// Names, tags and hooks may differ; what is held, begun, flawed or reworked is never taken for another's.
    pub fn stands_as(&self, other: &Self) -> bool {
        let plain = |p: &Self| {
            p.holds.is_empty() && p.begun.is_none() && p.flaws.is_empty() && p.branches.is_empty()
        };
        let hung = |a: &Stay, b: &Stay| (a.from, &a.rack, &a.room) == (b.from, &b.rack, &b.room);
        let alike = |a: &NewPiece, b: &NewPiece| {
            (
                a.kind,
                &a.model,
                &a.recipe,
                a.revision,
                a.area,
                a.due,
                a.pair.is_some(),
            ) == (
                b.kind,
                &b.model,
                &b.recipe,
                b.revision,
                b.area,
                b.due,
                b.pair.is_some(),
            )
        };
        plain(self)
            && plain(other)
            && alike(&self.piece, &other.piece)
            && (self.newest, self.taped, self.mated) == (other.newest, other.taped, other.mated)
            && (&self.scrapped, &self.batch, &self.buffed_by)
                == (&other.scrapped, &other.batch, &other.buffed_by)
            && self.stays.len() == other.stays.len()
            && self.stays.iter().zip(&other.stays).all(|(a, b)| hung(a, b))
            && self.surfaces == other.surfaces
    }
}

/// What one stage of a step takes off: the whole is shared over the stages so that the parts sum to it.
pub(super) fn stage_share(step: &Step, stage: u32) -> Film {
    let stages = vec![1; usize::try_from(step.count.max(1)).unwrap_or(1)];
    let shares = split(step.removes.0, &stages);
    let stage = usize::try_from(stage).unwrap_or(0);
    Film(shares.get(stage).copied().unwrap_or(0))
}

// The waits of a line of work behind the step `next`: those between its own coats that are left, and those of the
// steps after it.
fn waits_ahead(standing: &Standing, steps: &[Step], next: usize) -> i64 {
    steps
        .iter()
        .enumerate()
        .skip(next)
        .filter(|(i, s)| s.waits() || standing.done(*i) < s.count)
        .map(|(i, s)| {
            let left = i64::from(s.count.saturating_sub(standing.done(i)));
            let between = s.between.map_or(0, |w| w.0 * (left - 1).max(0));
            let before = if i == next {
                0
            } else {
                s.after.map_or(0, |w| w.0) + s.hours.map_or(0, |w| w.0)
            };
            between + before
        })
        .sum()
}

// With which step of the main line a surface goes on after a rework.
fn rejoin(main: &Standing, steps: &[Step], recipe: &Recipe, code: &str, surface: &str) -> usize {
    let stood = main.next(steps).unwrap_or(steps.len());
    let Some(rework) = recipe.rework(code) else {
        return main.start;
    };
    if let Some(name) = &rework.rejoin {
        // A step that is not for this surface: the first one after it that is.
        let from = recipe
            .steps
            .iter()
            .position(|s| s.name == *name)
            .unwrap_or(0);
        let ahead = |s: &Step| {
            recipe
                .steps
                .iter()
                .position(|r| r.name == s.name)
                .is_some_and(|i| i >= from)
        };
        return steps.iter().position(ahead).unwrap_or(steps.len());
    }
    let own = recipe.route(Some(code), surface);
    let cure = steps.iter().position(|s| s.kind == StepKind::Cure);
    let cures = own.iter().any(|s| s.kind == StepKind::Cure);
    if !cures || cure.is_none_or(|c| stood < c) {
        return main.start.max(stood.min(steps.len()));
    }
    let last_wet = own.iter().rposition(|s| s.kind.wets()).map_or(0, |i| i + 1);
    let repeated = |s: &Step| own.iter().skip(last_wet).any(|o| o.kind == s.kind);
    steps
        .iter()
        .rposition(repeated)
        .map_or(stood, |i| stood.max(i + 1))
}

// What was done under the old steps, counted by kind and dealt out to the new ones in their order.
fn carry_counts(done: &[u32], before: &[Step], after: &[Step]) -> Vec<u32> {
    let mut left: BTreeMap<StepKind, u32> = BTreeMap::new();
    for (step, n) in before.iter().zip(done) {
        *left.entry(step.kind).or_insert(0) += n;
    }
    let mut counts: Vec<u32> = after
        .iter()
        .map(|step| {
            let of_kind = left.entry(step.kind).or_insert(0);
            let taken = step.count.min(*of_kind);
            *of_kind -= taken;
            taken
        })
        .collect();
    for (kind, more) in left.into_iter().filter(|(_, n)| *n > 0) {
        let last = after.iter().rposition(|s| s.kind == kind);
        if let Some(n) = last.and_then(|i| counts.get_mut(i)) {
            *n += more;
        }
    }
    counts
}
