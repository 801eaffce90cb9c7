//! The lives of the pieces, played beside each other on the stations.
//!
//! Pieces of a rack that stand alike go on together, as they are worked; after its last coat each goes on by itself, because from
//! the final sanding on a rack is taken down piece by piece. What comes next, and from when on, is asked of the recipe's own
//! rules (`shop::rehearse::Life`); a station only ever adds a wait, and so does a rework that is drawn: the piece goes on where
//! it stood when that is over.
//!
//! *Invariants*: nothing is begun before its rules allow it, nor while nobody is there. The halves of a pair are mated when both
//! are there. The same seed gives the same play.
//!
//! *Not here*: what the plays come to (`forecast`).

use super::draw::{named, one_of, wait_of};
use super::engine::{Jobs, Made, Next, Post, Visit, play};
use super::scene::{Scene, Suppose};
use crate::ledger::{Alike, Seen};
use crate::shop::duty::Per;
use crate::shop::hours::Hours;
use crate::shop::rehearse::{Coming, Life, Stage, Stopped};
use crate::shop::solvent::SolventHold;
use crate::shop::standing::PieceNow;
use crate::shop::words::{StepKind, Word};
use crate::units::{Moment, Span};
use std::collections::{BTreeMap, HashMap};

/// Nobody looks further ahead: a play that goes on is broken off there.
const FURTHEST: Span = Span::hours(24 * 500);

/// Pieces that go on together, as they stand at the beginning.
#[derive(Debug, Clone)]
pub(super) struct Group {
    /// The rack, or the piece that hangs on none.
    pub(super) name: String,
    /// Whether that is a rack.
    pub(super) rack: bool,
    /// The pieces, by their number.
    pub(super) pieces: Vec<usize>,
    /// How each of them stands.
    pub(super) now: PieceNow,
    /// The stage that it is played on, by its number.
    pub(super) stage: usize,
    /// Whether it goes before others.
    pub(super) first: bool,
}

/// A deed of a play.
#[derive(Debug, Clone)]
pub(super) struct Done {
    /// The pieces, by their number.
    pub(super) pieces: Vec<usize>,
    pub(super) coming: Coming,
    pub(super) made: Made,
}

/// What a play came to.
#[derive(Debug, Clone, Default)]
pub(super) struct Played {
    /// The deeds in the order in which they ended.
    pub(super) deeds: Vec<Done>,
    /// When the last deed on each piece was ended.
    pub(super) ends: Vec<Option<Moment>>,
    /// Whether nothing is left to do to it.
    pub(super) over: Vec<bool>,
    /// From when on each piece can be mated, whether it is or not.
    pub(super) there: Vec<Option<Moment>>,
    /// Why a piece does not come to its end.
    pub(super) stuck: Vec<Option<String>>,
}

/// What distinguishes pieces of one rack that stand alike.
type Key = (bool, String, String, Alike, Vec<SolventHold>, Vec<String>);

/// The pieces of a floor, gathered; `stage_of` numbers the stage of a piece.
pub(super) fn groups(floor: &[Seen], mut stage_of: impl FnMut(&Seen) -> usize) -> Vec<Group> {
    let mut known: HashMap<Key, usize> = HashMap::new();
    let mut out: Vec<Group> = Vec::new();
    for (number, seen) in floor.iter().enumerate() {
        let rack = seen.rack();
        let name = rack.unwrap_or(&seen.now.piece.serial).to_owned();
        let key = (
            rack.is_some(),
            name.clone(),
            seen.recipe.label(),
            Alike::of(&seen.now),
            seen.solvent.clone(),
            seen.now.holds.iter().map(|(_, why)| why.clone()).collect(),
        );
        let at = *known.entry(key).or_insert_with(|| {
            out.push(Group {
                name,
                rack: rack.is_some(),
                pieces: Vec::new(),
                now: PieceNow::clone(&seen.now),
                stage: stage_of(seen),
                first: false,
            });
            out.len() - 1
        });
        if let Some(group) = out.get_mut(at) {
            group.pieces.push(number);
        }
    }
    out
}

fn number(kind: StepKind) -> usize {
    StepKind::ALL.iter().position(|k| *k == kind).unwrap_or(0)
}

/// The stations as the engine knows them, with what is supposed to be down.
fn posts(scene: &Scene<'_>, suppose: &Suppose) -> Vec<Post> {
    let hours = scene.hours(suppose);
    let said = paces(scene);
    scene
        .stations
        .iter()
        .map(|station| {
            let closed = suppose
                .down
                .iter()
                .filter(|(name, _)| *name == station.name)
                .map(|(_, spell)| *spell);
            let takes = station.kinds.iter().map(|kind| {
                let first = said.get(kind).map_or(station.took, |(_, took)| *took);
                (number(*kind), (station.took, first))
            });
            Post {
                takes: takes.collect(),
                people: usize::try_from(station.people).unwrap_or(usize::MAX),
                // A crew that was taken away binds nobody.
                crew: station
                    .crew
                    .as_ref()
                    .and_then(|crew| scene.crews.keys().position(|c| c == crew)),
                hours: hours.clone().closed(closed),
            }
        })
        .collect()
}

// How many people each crew has, in the order of their names.
fn crews(scene: &Scene<'_>, suppose: &Suppose) -> Vec<usize> {
    let people = scene
        .crews
        .iter()
        .map(|(name, people)| *suppose.crews.get(name).unwrap_or(people));
    people
        .map(|n| usize::try_from(n).unwrap_or(usize::MAX))
        .collect()
}

// How long a step takes, by the first station that takes it; the others are held against that.
fn paces(scene: &Scene<'_>) -> BTreeMap<StepKind, (Per, Span)> {
    let mut out = BTreeMap::new();
    for station in scene.stations {
        for kind in &station.kinds {
            out.entry(*kind).or_insert((station.per, station.took));
        }
    }
    out
}

/// How a play is made.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Way {
    /// The number of the run; 0 is played by the stated figures, without a draw.
    pub(super) run: u64,
    /// Only this piece is played, as if nothing else were on the floor.
    pub(super) alone: Option<usize>,
    /// Its deed of this number, counted from 0, is not begun before a moment.
    pub(super) hold: Option<(u64, Moment)>,
}

/// What all plays of a plan share.
#[derive(Debug)]
pub(super) struct Table<'s> {
    pub(super) scene: &'s Scene<'s>,
    pub(super) posts: Vec<Post>,
    crews: Vec<usize>,
    pub(super) hours: Hours,
    pub(super) groups: Vec<Group>,
    pub(super) stages: &'s [Stage<'s>],
    /// How many pieces there are, those that are only supposed among them.
    pub(super) pieces: usize,
    // The group of each piece.
    group_of: Vec<usize>,
    paces: BTreeMap<StepKind, (Per, Span)>,
    // The other half of each piece, where it is on the floor.
    other: Vec<Option<usize>>,
    // Why the other half of a piece will not come.
    apart: Vec<Option<String>>,
}

impl<'s> Table<'s> {
    pub(super) fn new(
        scene: &'s Scene<'s>,
        suppose: &Suppose,
        groups: Vec<Group>,
        stages: &'s [Stage<'s>],
    ) -> Self {
        let pieces = groups.iter().map(|g| g.pieces.len()).sum();
        let by_serial = scene.by_serial();
        let mut group_of = vec![0; pieces];
        for (at, group) in groups.iter().enumerate() {
            for piece in &group.pieces {
                if let Some(slot) = group_of.get_mut(*piece) {
                    *slot = at;
                }
            }
        }
        let mut other = vec![None; pieces];
        let mut apart = vec![None; pieces];
        for (n, seen) in scene.floor.iter().enumerate() {
            let Some(pair) = &seen.now.piece.pair else {
                continue;
            };
            let half = by_serial.get(pair.as_str()).copied().filter(|h| {
                scene
                    .floor
                    .get(*h)
                    .is_some_and(|s| s.now.piece.pair.as_ref() == Some(&seen.now.piece.serial))
            });
            if half.is_none()
                && let Some(slot) = apart.get_mut(n)
            {
                let why = scene.missing.get(&seen.now.piece.serial).cloned();
                *slot = Some(why.unwrap_or_else(|| format!("{pair} is not in process")));
            }
            if let Some(slot) = other.get_mut(n) {
                *slot = half;
            }
        }
        Self {
            posts: posts(scene, suppose),
            crews: crews(scene, suppose),
            hours: scene.hours(suppose),
            paces: paces(scene),
            scene,
            groups,
            stages,
            pieces,
            group_of,
            other,
            apart,
        }
    }

    /// The group of a piece.
    pub(super) fn group(&self, piece: usize) -> Option<&Group> {
        self.groups.get(*self.group_of.get(piece)?)
    }

    /// Plays all of it by the stated figures of the air.
    pub(super) fn play(&self, way: Way) -> Played {
        self.play_on(self.stages, way)
    }

    /// The same on other stages, one for each of the table's.
    pub(super) fn play_on(&self, stages: &[Stage<'_>], way: Way) -> Played {
        let mut lives = Lives {
            table: self,
            stages,
            way,
            jobs: Vec::new(),
            out: Played {
                deeds: Vec::new(),
                ends: vec![None; self.pieces],
                over: vec![false; self.pieces],
                there: vec![None; self.pieces],
                stuck: vec![None; self.pieces],
            },
        };
        let start = lives.seat();
        let until = self.scene.at.plus(FURTHEST);
        play(
            &self.posts,
            &self.crews,
            &self.hours,
            &start,
            until,
            &mut lives,
        );
        lives.out
    }
}

// Since when pieces lie there without a deed, at the moment of the plan.
#[derive(Debug, Clone, Copy)]
enum Lies {
    // They are only supposed.
    NotYet,
    // Since they were taken in: nobody has taken them up.
    Since(Moment),
    // Since their next deed was allowed.
    SinceItWasAllowed,
}

struct Job<'s> {
    life: Life<'s>,
    pieces: Vec<usize>,
    first: bool,
    lies: Lies,
    // How many deeds are done.
    deeds: u64,
    // For which deed a wait was drawn, and when it is over.
    drawn: Option<(u64, Moment)>,
    // When it comes back from the rework that was drawn for it last.
    back: Option<Moment>,
    coming: Option<Coming>,
}

struct Lives<'t, 's> {
    table: &'t Table<'s>,
    stages: &'t [Stage<'t>],
    way: Way,
    // The groups, and behind them each piece by itself.
    jobs: Vec<Option<Job<'t>>>,
    out: Played,
}

impl Lives<'_, '_> {
    // Seats the groups, and splits those whose next deed is done piece by piece.
    fn seat(&mut self) -> Vec<(usize, Moment)> {
        let at = self.table.scene.at;
        let seats = self.table.groups.len() + self.table.pieces;
        self.jobs.resize_with(seats, || None);
        let mut start = Vec::new();
        for (n, group) in self.table.groups.iter().enumerate() {
            let pieces: Vec<usize> = match self.way.alone {
                Some(one) => group.pieces.iter().copied().filter(|p| *p == one).collect(),
                None => group.pieces.clone(),
            };
            let Some(stage) = self.stages.get(group.stage) else {
                continue;
            };
            if pieces.is_empty() {
                continue;
            }
            let job = Job {
                life: Life::new(group.now.clone(), at, stage),
                pieces,
                first: group.first,
                lies: self.lies(group),
                deeds: 0,
                drawn: None,
                back: None,
                coming: None,
            };
            if let Some(slot) = self.jobs.get_mut(n) {
                *slot = Some(job);
            }
            start.extend(self.split(n, at).into_iter().map(|j| (j, at)));
        }
        start
    }

    fn lies(&self, group: &Group) -> Lies {
        let taken_up = group.now.surfaces.values().any(|s| s.last_deed.is_some());
        let first = group.pieces.first();
        if first.is_none_or(|p| *p >= self.table.scene.floor.len()) {
            Lies::NotYet
        } else if taken_up {
            Lies::SinceItWasAllowed
        } else {
            Lies::Since(group.now.newest)
        }
    }

    // The jobs by which a job goes on: itself, or one for each of its pieces.
    fn split(&mut self, job: usize, at: Moment) -> Vec<usize> {
        let Some(Some(whole)) = self.jobs.get_mut(job) else {
            return Vec::new();
        };
        if whole.pieces.len() < 2 {
            return vec![job];
        }
        let next = whole.life.next(at);
        let apart =
            next.is_ok_and(|c| c.is_some_and(|c| c.kind.takes_down())) && !whole.life.wets();
        if !apart {
            return vec![job];
        }
        let groups = self.table.groups.len();
        let Some(whole) = self.jobs.get_mut(job).and_then(Option::take) else {
            return Vec::new();
        };
        let mut out = Vec::new();
        for piece in &whole.pieces {
            if let Some(slot) = self.jobs.get_mut(groups + piece) {
                *slot = Some(Job {
                    life: whole.life.clone(),
                    pieces: vec![*piece],
                    drawn: None,
                    coming: None,
                    ..whole
                });
                out.push(groups + piece);
            }
        }
        out
    }

    // A draw for a deed of a job, the same in every plan that has the job.
    fn name(&self, job: &Job<'_>, more: u64) -> [u64; 5] {
        let first = job.pieces.first().copied().unwrap_or(0);
        self.name_of(first, job.deeds, more)
    }

    fn name_of(&self, piece: usize, deeds: u64, more: u64) -> [u64; 5] {
        let floor = self.table.scene.floor.get(piece);
        // A piece keeps its draws where others come in between.
        let who = floor.map_or_else(
            || u64::try_from(piece).unwrap_or(0) | (1 << 62),
            |s| u64::try_from(s.now.id.0).unwrap_or(0),
        );
        [self.table.scene.seed, self.way.run, who, deeds, more]
    }

    // Of the pieces that came through a step those that are drawn go to a rework as long as past ones were in the mean, and go
    // on together when they are back. The jobs by which all go on.
    fn send_to_rework(&mut self, job: usize, coming: &Coming, ended: Moment) -> Vec<usize> {
        let allowance = self.table.scene.habits.rework(coming.kind);
        let allowance = allowance.filter(|_| self.way.run > 0 && coming.rework.is_none());
        let (Some(allowance), Some(Some(whole))) = (allowance, self.jobs.get(job)) else {
            return vec![job];
        };
        let drawn = |piece: &usize| {
            // The draws of a deed's waits and times bear the numbers from 1 on.
            let drawn = named(&self.name_of(*piece, whole.deeds, 0));
            let nth = drawn.checked_rem(u64::try_from(allowance.through).unwrap_or(0));
            nth.is_some_and(|n| n < u64::try_from(allowance.opened).unwrap_or(0))
        };
        let (away, stay): (Vec<usize>, Vec<usize>) = whole.pieces.iter().partition(|p| drawn(p));
        let back = Some(ended.plus(allowance.length));
        let (Some(first), Some(other)) = (away.first().copied(), stay.first().copied()) else {
            if let Some(Some(whole)) = self.jobs.get_mut(job).filter(|_| stay.is_empty()) {
                whole.back = back;
            }
            return vec![job];
        };
        // A piece's own seat is taken by a job that it is part of, and by no other.
        let groups = self.table.groups.len();
        let (away_at, stay_at) = if job == groups + first {
            (job, groups + other)
        } else {
            (groups + first, job)
        };
        let Some(whole) = self.jobs.get_mut(job).and_then(Option::take) else {
            return Vec::new();
        };
        let with = |pieces, back| Job {
            life: whole.life.clone(),
            pieces,
            drawn: None,
            back,
            coming: None,
            ..whole
        };
        let jobs = [
            (away_at, with(away, back)),
            (stay_at, with(stay, whole.back)),
        ];
        for (at, job) in jobs {
            if let Some(slot) = self.jobs.get_mut(at) {
                *slot = Some(job);
            }
        }
        vec![stay_at, away_at]
    }

    // When a drawn wait for a deed is over; `None` where nothing is known of such waits, or it lies already for longer than
    // any past one did.
    fn wait_over(&self, job: &Job<'_>, coming: &Coming) -> Option<Moment> {
        if self.way.run == 0 {
            return Some(coming.at);
        }
        let hours = &self.table.hours;
        let since = match job.lies {
            Lies::Since(since) if job.deeds == 0 => since,
            Lies::SinceItWasAllowed if job.deeds == 0 => coming.opens,
            _ => self.table.scene.at,
        };
        let waited = hours.open_between(since, self.table.scene.at);
        // What has waited for a while was not one of those that are taken up sooner.
        let all = self.table.scene.habits.waits(coming.kind);
        let wait = wait_of(all, waited, &self.name(job, 1))?;
        Some(hours.after(coming.at, Span(wait.0 - waited.0)))
    }

    fn parts(&self, job: &Job<'_>, kind: StepKind) -> Vec<Span> {
        let Some((per, stated)) = self.table.paces.get(&kind).copied() else {
            // No station is entered for it: it takes no time, or as long as some past deed did.
            let past = self.table.scene.habits.took(kind, Per::Rack);
            let drawn = one_of(past, &self.name(job, 2)).filter(|_| self.way.run > 0);
            return vec![drawn.unwrap_or(Span(0))];
        };
        let count = match per {
            Per::Rack => 1,
            Per::Piece => job.pieces.len().max(1),
        };
        let past = if self.way.run == 0 {
            &[][..]
        } else {
            self.table.scene.habits.took(kind, per)
        };
        (0..count)
            .map(|n| {
                let nth = u64::try_from(n).unwrap_or(0);
                let name = self.name(job, 2 + nth);
                one_of(past, &name).unwrap_or(stated)
            })
            .collect()
    }

    // What a job may do next, when it is begun not before a moment.
    fn ask(&mut self, job: usize, at: Moment) -> Result<Option<Coming>, Stopped> {
        let Some(mut taken) = self.jobs.get_mut(job).and_then(Option::take) else {
            return Ok(None);
        };
        let answer = self.asked(&mut taken, at);
        if let Some(slot) = self.jobs.get_mut(job) {
            *slot = Some(taken);
        }
        answer
    }

    fn asked(&self, job: &mut Job<'_>, at: Moment) -> Result<Option<Coming>, Stopped> {
        let hold = self.way.hold.filter(|(deed, _)| *deed == job.deeds);
        let at = hold.map_or(at, |(_, until)| at.max(until));
        let at = job.back.map_or(at, |back| at.max(back));
        job.coming = None;
        let Some(mut coming) = job.life.next(at)? else {
            return Ok(None);
        };
        let over = match job.drawn {
            Some((deed, over)) if deed == job.deeds => over,
            _ => self.wait_over(job, &coming).ok_or_else(|| {
                Stopped::Standing("nothing is known of so long a wait".to_owned())
            })?,
        };
        job.drawn = Some((job.deeds, over));
        if over > coming.at {
            // What is next when it has waited may be another thing: a scuff first, or a coat of the next production day.
            match job.life.next(over)? {
                Some(later) => coming = later,
                None => return Ok(None),
            }
        }
        job.coming = Some(coming.clone());
        Ok(Some(coming))
    }

    fn pieces_of(&self, job: usize) -> Vec<usize> {
        let job = self.jobs.get(job).and_then(Option::as_ref);
        job.map_or_else(Vec::new, |j| j.pieces.clone())
    }

    fn stuck(&mut self, job: usize, why: &str) {
        for piece in self.pieces_of(job) {
            if let Some(slot) = self.out.stuck.get_mut(piece) {
                *slot = Some(why.to_owned());
            }
        }
    }

    // From when on a pair can be mated: when the later half is there. `None` where the other half is not there yet, or will
    // not come.
    fn both_there(&mut self, job: usize, coming: &Coming) -> Option<Moment> {
        let piece = *self.pieces_of(job).first()?;
        let back = self.jobs.get(job)?.as_ref()?.back;
        if let Some(slot) = self.out.there.get_mut(piece)
            && slot.is_none()
        {
            *slot = Some(back.map_or(coming.opens, |back| coming.opens.max(back)));
        }
        if self.way.alone.is_some() {
            return Some(coming.at);
        }
        if let Some(why) = self.table.apart.get(piece).cloned().flatten() {
            self.stuck(job, &why);
            return None;
        }
        let Some(other) = self.table.other.get(piece).copied().flatten() else {
            return Some(coming.at);
        };
        let there = self.out.there.get(other).copied().flatten();
        there.map(|other| other.max(coming.at))
    }

    // The job of a piece that goes on by itself: its own seat, or that of its group where it always was alone.
    fn seat_of(&self, piece: usize) -> Option<usize> {
        let own = self.table.groups.len() + piece;
        if self.jobs.get(own).is_some_and(Option::is_some) {
            return Some(own);
        }
        let group = *self.table.group_of.get(piece)?;
        let alone = self.pieces_of(group).as_slice() == [piece];
        Some(group).filter(|_| alone)
    }

    // The deed is done on the life of a job.
    fn act(&mut self, job: usize, made: &Made) -> Option<Coming> {
        let j = self.jobs.get_mut(job)?.as_mut()?;
        let coming = j.coming.take()?;
        j.life.act(made.began, made.ended);
        j.deeds += 1;
        Some(coming)
    }
}

impl Jobs for Lives<'_, '_> {
    fn next(&mut self, job: usize, at: Moment) -> Next {
        let coming = match self.ask(job, at) {
            Ok(Some(coming)) => coming,
            Ok(None) => {
                for piece in self.pieces_of(job) {
                    if let Some(over) = self.out.over.get_mut(piece) {
                        *over = true;
                    }
                }
                return Next::Rest;
            }
            Err(why) => {
                self.stuck(job, &why.to_string());
                return Next::Rest;
            }
        };
        let mut from = coming.at;
        if coming.kind == StepKind::Mate {
            match self.both_there(job, &coming) {
                Some(both) => from = from.max(both),
                None => return Next::Rest,
            }
        }
        let Some(Some(j)) = self.jobs.get(job) else {
            return Next::Rest;
        };
        Next::Visit(Visit {
            kind: number(coming.kind),
            from,
            parts: self.parts(j, coming.kind),
            first: j.first,
        })
    }

    fn made(&mut self, job: usize, made: &Made) -> Vec<usize> {
        let mut pieces = self.pieces_of(job);
        let Some(coming) = self.act(job, made) else {
            return Vec::new();
        };
        let mut goes_on = Vec::new();
        for job in self.send_to_rework(job, &coming, made.ended) {
            goes_on.extend(self.split(job, made.ended));
        }
        if coming.kind == StepKind::Mate && self.way.alone.is_none() {
            let other = pieces
                .first()
                .and_then(|p| self.table.other.get(*p).copied().flatten());
            // The half that was there first was mated with it.
            let half = other.and_then(|o| Some((o, self.seat_of(o)?)));
            if let Some((other, half)) = half
                && self.act(half, made).is_some()
            {
                pieces.push(other);
                goes_on.push(half);
            }
        }
        for piece in &pieces {
            if let Some(slot) = self.out.ends.get_mut(*piece) {
                *slot = Some(made.ended);
            }
        }
        self.out.deeds.push(Done {
            pieces,
            coming,
            made: made.clone(),
        });
        goes_on
    }
}
