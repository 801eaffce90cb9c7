//! What follows from the entries of a piece: *entry + standing -> standing*.
//!
//! *Invariants*: a standing holds only integers and words that follow from entries, so it can be dropped and rebuilt
//! at any time; entries apply in the order in which they happened, those of one moment in the order in which they
//! were written. A climate file changes no standing.
//!
//! *Not here*: any judgement ([`super::rules`], [`super::outlook`]).

use super::calendar::Day;
use super::climate::Stay;
use super::material::{MixFigures, split};
use super::recipe::{Recipe, Step, WHOLE};
use super::record::{CoatFact, Entry, EntrySeq, Fact, NewPiece, PieceId};
use super::words::StepKind;
use crate::science::film::kept_coat;
use crate::units::{Film, Moment, Share};
use std::collections::BTreeMap;

/// Where a piece stands: all that a judgement needs, apart from recipe, climate and time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PieceNow {
    /// Its number.
    pub id: PieceId,
    /// As it was taken in.
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
    /// The branch in which work goes on.
    pub branch: u32,
    /// One standing per branch and surface.
    pub surfaces: BTreeMap<(u32, String), Standing>,
}

/// Where one surface stands in one branch.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
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
}

/// Gives the figures of what was in the cup.
pub trait Mixes {
    /// Volume solids and retarder share of a coat's mix or lot; `None` when it is not known.
    fn figures(&self, coat: &CoatFact) -> Option<MixFigures>;
}

impl Standing {
    fn new(steps: &[Step]) -> Self {
        Self {
            done: vec![0; steps.len()],
            ..Self::default()
        }
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

    /// The step that a deed of this kind belongs to: the first that is not complete, else the last of its kind.
    pub fn step_for(&self, steps: &[Step], kind: StepKind) -> Option<usize> {
        let of_kind = || {
            steps
                .iter()
                .enumerate()
                .filter(|(_, s)| s.kind == kind)
                .map(|(i, _)| i)
        };
        of_kind()
            .find(|i| !self.complete(steps, *i))
            .or_else(|| of_kind().next_back())
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
        steps.iter().enumerate().find_map(|(i, s)| {
            let open = !s.kind.waits() && self.done(i) < s.count;
            let reached = furthest.is_none_or(|f| i >= f);
            let needed = building && matches!(s.kind, StepKind::Clear | StepKind::LevelSand);
            (open && (reached || needed)).then_some(i)
        })
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
            Fact::Coat(coat) => self.coat(steps, entry, coat, mixes),
            Fact::Sanded { kind, removed, .. } => {
                let step = self.count(steps, *kind).and_then(|i| steps.get(i));
                let taken = removed.or(step.map(|s| s.removes)).unwrap_or_default();
                self.film_nm -= taken.0;
                self.sanded_since_wet = true;
                self.retarder_set = Share(0);
                self.last_deed = Some(entry.ended);
            }
            Fact::Worked { kind } => {
                let step = self.count(steps, *kind);
                if let Some((i, s)) = step.and_then(|i| steps.get(i).map(|s| (i, s))) {
                    // What a step takes off in all is shared over its stages, so that the parts sum to it.
                    let shares = split(
                        s.removes.0,
                        &vec![1; usize::try_from(s.count.max(1)).unwrap_or(1)],
                    );
                    let stage = usize::try_from(self.done(i).saturating_sub(1)).unwrap_or(0);
                    self.film_nm -= shares.get(stage).copied().unwrap_or(0);
                    if s.kind.wets() {
                        self.film_nm += s.film.0;
                    }
                }
                if kind.wets() {
                    self.wet(entry, *kind, Share(0));
                }
                self.last_deed = Some(entry.ended);
            }
            Fact::Gauged { film } => {
                self.film_nm = film.0;
                self.gauged = true;
            }
            _ => {}
        }
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
            .map(|s| ((0, s.clone()), Standing::new(&recipe.steps)))
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
            branch: 0,
            surfaces,
        }
    }

    /// The standing after one more entry.
    pub fn apply(&mut self, entry: &Entry, recipe: &Recipe, mixes: &dyn Mixes) {
        self.newest = self.newest.max(entry.began);
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
            } => self.mated = true,
            _ => {}
        }
        for ((branch, surface), standing) in &mut self.surfaces {
            if *branch == entry.branch && (entry.surface == WHOLE || entry.surface == *surface) {
                standing.apply(&recipe.steps, entry, mixes);
            }
        }
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

    /// The standings of the branch in which work goes on.
    pub fn current(&self) -> impl Iterator<Item = (&str, &Standing)> {
        self.surfaces
            .iter()
            .filter(|((b, _), _)| *b == self.branch)
            .map(|((_, s), standing)| (s.as_str(), standing))
    }

    /// The thinnest film of its surfaces.
    pub fn film_nm(&self) -> i64 {
        self.current().map(|(_, s)| s.film_nm).min().unwrap_or(0)
    }

    /// The thinnest film that one of its surfaces will end with, see [`Standing::finish_nm`].
    pub fn finish_nm(&self, steps: &[Step]) -> i64 {
        self.current()
            .map(|(_, s)| s.finish_nm(steps))
            .min()
            .unwrap_or(0)
    }

    /// Whether it still has work to come: not mated and not scrapped.
    pub fn in_process(&self) -> bool {
        !self.mated && self.scrapped.is_none()
    }
}
