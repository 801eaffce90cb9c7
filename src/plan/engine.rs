//! A discrete-event simulation: jobs that come from visit to visit, and stations whose people take one part after another.
//!
//! At each event (a visit may begin, a person is free, hours open, a visit has ended) the stations that can take something
//! take it: who was ready first, goes first, and those that are marked as first before all others. Stations whose people are of
//! one crew have one line: whoever of the crew is free takes what was ready first at any of them. It knows nothing of
//! instruments, so that the same code is held against what is known of waiting lines (`tests/published/lines.rs`).
//!
//! *Invariants*: pure and the same for the same input; of the events of one moment, who is free comes first, and else they are
//! taken in the order in which they came up.
//! A person does one part at a time, to its end, within the hours. No more of a crew are at work than it has. Time never runs
//! backwards.
//!
//! *Not here*: what a visit is (`lives`), how long it takes (`habits`), when people are there (`shop::hours`).

use crate::shop::hours::Hours;
use crate::units::{Moment, Span};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

/// Where something is done: a booth, a bench, a wheel.
#[derive(Debug, Clone)]
pub struct Post {
    /// The kinds of visit that it takes, by their number, each with its pace: how long a part takes here for how long
    /// it says.
    pub takes: BTreeMap<usize, (Span, Span)>,
    /// How many parts are done there at once.
    pub people: usize,
    /// The crew that its people are of, by its number; `None` where they are its own.
    pub crew: Option<usize>,
    /// When people are there.
    pub hours: Hours,
}

/// What comes next for a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    /// The kind, by its number.
    pub kind: usize,
    /// From when on it may begin.
    pub from: Moment,
    /// How long each part takes: one for a rack that is worked as one, one for each piece otherwise.
    pub parts: Vec<Span>,
    /// Whether it goes before others.
    pub first: bool,
}

/// How a job goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// By this visit.
    Visit(Visit),
    /// Not by itself: another job will name it again, or nothing is left to do.
    Rest,
}

/// A visit as it was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    /// From when on it could have begun.
    pub from: Moment,
    /// When its first part was begun.
    pub began: Moment,
    /// When its last part was ended.
    pub ended: Moment,
    /// When each part was begun and ended, in the order of the parts.
    pub parts: Vec<(Moment, Moment)>,
    /// The station that took the first part; `None` where it takes none.
    pub post: Option<usize>,
}

/// The jobs, told by whoever knows them.
pub trait Jobs {
    /// What comes next for a job when nothing is begun before `at`. Asked again at the moment of beginning, where that is
    /// later than what was said: then the answer of that moment counts.
    fn next(&mut self, job: usize, at: Moment) -> Next;

    /// A visit was made. The answer: the jobs that go on, this one among them where it does.
    fn made(&mut self, job: usize, made: &Made) -> Vec<usize>;
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Event {
    // A visit of a job may begin, if it is still the same one.
    Ready(usize, u64),
    // A station can take something anew: hours open.
    Look(usize),
    // Somebody of a station is free.
    Free(usize),
    // A visit of a job has ended.
    Ended(usize),
}

impl Event {
    // Who is free at a moment is known before what is ready at it looks for somebody.
    const fn rank(self) -> u8 {
        match self {
            Self::Free(_) => 0,
            Self::Ended(_) => 1,
            Self::Look(_) => 2,
            Self::Ready(..) => 3,
        }
    }
}

#[derive(Debug)]
struct Under {
    visit: Visit,
    // Which of the job's visits this is, so that an event for an older one is left alone.
    number: u64,
    next_part: usize,
    made: Made,
}

// The order in which waiting jobs are taken: those that go first, then by when they were ready, then by number.
type Turn = (bool, Moment, usize);

struct Line<'a, 'j> {
    posts: &'a [Post],
    // How many people each crew has, and how many of them are at work.
    crews: &'a [usize],
    at_work: Vec<usize>,
    // For each station those that share its people, itself among them.
    sharing: Vec<Vec<usize>>,
    // Hours of what no station takes.
    shop: &'a Hours,
    jobs: &'j mut dyn Jobs,
    events: BinaryHeap<Reverse<(Moment, u8, u64, Event)>>,
    count: u64,
    busy: Vec<usize>,
    looked: Vec<Option<Moment>>,
    waiting: BTreeMap<usize, BTreeSet<Turn>>,
    under: BTreeMap<usize, Under>,
}

/// Plays jobs until nothing is left to do, or until a moment. `crews` are how many people each crew has, `start` the jobs and
/// when each comes.
pub fn play(
    posts: &[Post],
    crews: &[usize],
    shop: &Hours,
    start: &[(usize, Moment)],
    until: Moment,
    jobs: &mut dyn Jobs,
) {
    let sharing = |(at, post): (usize, &Post)| match post.crew {
        Some(crew) => {
            let all = posts.iter().enumerate();
            let same = all.filter(|(_, p)| p.crew == Some(crew));
            same.map(|(at, _)| at).collect()
        }
        None => vec![at],
    };
    let mut line = Line {
        posts,
        crews,
        at_work: vec![0; crews.len()],
        sharing: posts.iter().enumerate().map(sharing).collect(),
        shop,
        jobs,
        events: BinaryHeap::new(),
        count: 0,
        busy: vec![0; posts.len()],
        looked: vec![None; posts.len()],
        waiting: BTreeMap::new(),
        under: BTreeMap::new(),
    };
    for (job, at) in start {
        line.goes_on(*job, *at);
    }
    while let Some(Reverse((at, _, _, event))) = line.events.pop() {
        if at > until {
            break;
        }
        match event {
            Event::Ready(job, number) => line.ready(job, number, at),
            Event::Look(post) => {
                if let Some(l) = line.looked.get_mut(post)
                    && *l == Some(at)
                {
                    *l = None;
                }
                line.look(post, at);
            }
            Event::Free(post) => {
                line.leaves(post);
                line.look(post, at);
            }
            Event::Ended(job) => line.ended(job),
        }
    }
}

impl Line<'_, '_> {
    fn event(&mut self, at: Moment, event: Event) {
        self.count += 1;
        self.events
            .push(Reverse((at, event.rank(), self.count, event)));
    }

    // Asks a job for its next visit.
    fn goes_on(&mut self, job: usize, at: Moment) {
        let Next::Visit(visit) = self.jobs.next(job, at) else {
            self.under.remove(&job);
            return;
        };
        self.count += 1;
        let number = self.count;
        let from = visit.from.max(at);
        let parts = visit.parts.len();
        self.under.insert(
            job,
            Under {
                made: Made {
                    from,
                    began: from,
                    ended: from,
                    parts: vec![(from, from); parts],
                    post: None,
                },
                visit: Visit { from, ..visit },
                number,
                next_part: 0,
            },
        );
        self.event(from, Event::Ready(job, number));
    }

    fn ready(&mut self, job: usize, number: u64, at: Moment) {
        let Some(under) = self.under.get(&job).filter(|u| u.number == number) else {
            return;
        };
        let kind = under.visit.kind;
        let places = self.posts.iter().enumerate();
        let posts: Vec<usize> = places
            .filter(|(_, p)| p.takes.contains_key(&kind))
            .map(|(at, _)| at)
            .collect();
        if posts.is_empty() {
            self.by_nobody(job, at);
            return;
        }
        let turn = (!under.visit.first, under.visit.from, job);
        self.waiting.entry(kind).or_default().insert(turn);
        for post in posts {
            self.look(post, at);
        }
    }

    // How long the next part of a job takes at a station.
    fn took(&self, post: usize, under: &Under) -> Span {
        let said = under.visit.parts.get(under.next_part).copied();
        let said = said.unwrap_or(Span(0));
        let pace = self
            .posts
            .get(post)
            .and_then(|p| p.takes.get(&under.visit.kind));
        match pace {
            Some((here, there)) if here != there && there.0 > 0 => {
                let ms = i128::from(said.0) * i128::from(here.0) / i128::from(there.0);
                Span(i64::try_from(ms).unwrap_or(i64::MAX))
            }
            _ => said,
        }
    }

    // No station takes it: it is done by as many as it needs, within the shop's hours.
    fn by_nobody(&mut self, job: usize, at: Moment) {
        let Some(under) = self.under.get(&job) else {
            return;
        };
        let took = under.visit.parts.iter().max().copied().unwrap_or(Span(0));
        let number = under.number;
        match self.shop.begins(at, took) {
            Some(begin) if begin == at => {
                if !self.still(job, at) {
                    return;
                }
                let Some(under) = self.under.get_mut(&job) else {
                    return;
                };
                let parts = under.visit.parts.iter();
                under.made.parts = parts.map(|took| (at, at.plus(*took))).collect();
                under.made.began = at;
                under.made.ended = at.plus(took);
                let ended = under.made.ended;
                self.event(ended, Event::Ended(job));
            }
            Some(begin) => self.event(begin, Event::Ready(job, number)),
            None => {}
        }
    }

    // Whether the visit is what the job wants at this moment. Where it is not, what it wants then is taken instead.
    fn still(&mut self, job: usize, at: Moment) -> bool {
        let Some(under) = self.under.get(&job) else {
            return false;
        };
        if under.visit.from == at {
            return true;
        }
        match self.jobs.next(job, at) {
            Next::Visit(now) if now.kind == under.visit.kind && now.from <= at => {
                if let Some(under) = self.under.get_mut(&job) {
                    under.made.parts.resize(now.parts.len(), (at, at));
                    under.visit.parts = now.parts;
                }
                true
            }
            _ => {
                self.goes_on(job, at);
                false
            }
        }
    }

    // Whether somebody of a station is free, and, where its people are of a crew, somebody of that.
    fn free(&self, post: usize) -> bool {
        let Some(place) = self.posts.get(post) else {
            return false;
        };
        let here = self.busy.get(post).is_some_and(|b| *b < place.people);
        let crew = place.crew.is_none_or(|crew| {
            let most = self.crews.get(crew).copied().unwrap_or(0);
            self.at_work.get(crew).is_some_and(|n| *n < most)
        });
        here && crew
    }

    // What comes first at a station.
    fn first(&self, post: usize) -> Option<(Turn, usize, usize)> {
        let kinds = self.posts.get(post)?.takes.keys();
        kinds
            .filter_map(|kind| Some((*self.waiting.get(kind)?.first()?, post, *kind)))
            .min()
    }

    // A station takes what it can. Stations of one crew take in turn what comes first at any of them; of what comes first at
    // two of them at one moment, the station that was entered first takes it.
    fn look(&mut self, post: usize, at: Moment) {
        // Those at which what comes first cannot be begun at this moment.
        let mut shut: BTreeSet<usize> = BTreeSet::new();
        loop {
            let among = self.sharing.get(post).into_iter().flatten();
            let first = among
                .filter(|p| !shut.contains(p) && self.free(**p))
                .filter_map(|p| self.first(*p))
                .min();
            let Some((turn, post, kind)) = first else {
                return;
            };
            let Some(place) = self.posts.get(post) else {
                return;
            };
            let job = turn.2;
            let Some(under) = self.under.get(&job) else {
                self.leave(kind, turn);
                continue;
            };
            let took = self.took(post, under);
            let begin = place.hours.begins(at, took);
            if begin != Some(at) {
                shut.insert(post);
                if let Some(begin) = begin {
                    self.look_at(post, begin);
                }
                continue;
            }
            if under.next_part == 0 && !self.still(job, at) {
                self.leave(kind, turn);
                continue;
            }
            self.take(post, kind, turn, at);
        }
    }

    fn leave(&mut self, kind: usize, turn: Turn) {
        if let Some(line) = self.waiting.get_mut(&kind) {
            line.remove(&turn);
        }
    }

    fn look_at(&mut self, post: usize, at: Moment) {
        let known = self.looked.get(post).copied().flatten();
        if known.is_none_or(|k| at < k) {
            if let Some(l) = self.looked.get_mut(post) {
                *l = Some(at);
            }
            self.event(at, Event::Look(post));
        }
    }

    // The station begins the next part of a job.
    fn take(&mut self, post: usize, kind: usize, turn: Turn, at: Moment) {
        let job = turn.2;
        let took = self.under.get(&job).map(|under| self.took(post, under));
        let (Some(under), Some(took)) = (self.under.get_mut(&job), took) else {
            return;
        };
        let part = under.next_part;
        let ended = at.plus(took);
        if part == 0 {
            under.made.began = at;
            under.made.post = Some(post);
        }
        if let Some(slot) = under.made.parts.get_mut(part) {
            *slot = (at, ended);
        }
        under.made.ended = under.made.ended.max(ended);
        under.next_part += 1;
        let last = under.next_part >= under.visit.parts.len();
        let all = under.made.ended;
        if last {
            self.leave(kind, turn);
            self.event(all, Event::Ended(job));
        }
        self.comes(post);
        self.event(ended, Event::Free(post));
    }

    // How many are at work at a station and in its crew, where it has one.
    fn at_work(&mut self, post: usize) -> impl Iterator<Item = &mut usize> {
        let crew = self.posts.get(post).and_then(|p| p.crew);
        let crew = crew.and_then(|crew| self.at_work.get_mut(crew));
        self.busy.get_mut(post).into_iter().chain(crew)
    }

    fn comes(&mut self, post: usize) {
        self.at_work(post).for_each(|n| *n += 1);
    }

    fn leaves(&mut self, post: usize) {
        self.at_work(post).for_each(|n| *n = n.saturating_sub(1));
    }

    fn ended(&mut self, job: usize) {
        let Some(under) = self.under.remove(&job) else {
            return;
        };
        let at = under.made.ended;
        for next in self.jobs.made(job, &under.made) {
            self.goes_on(next, at);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::calendar::Calendar;
    use crate::shop::shift::Shift;

    const MIN: fn(i64) -> Span = Span::minutes;

    fn at(text: &str) -> Moment {
        Calendar::BARE.read(text, Moment(0)).unwrap()
    }

    // Racks that get two coats of 15 minutes with an hour between them, and then, if they are sanded, piece by piece.
    struct Racks {
        done: Vec<usize>,
        ended: Vec<Moment>,
        sanded: usize,
        log: Vec<(usize, usize, Option<usize>, String, String)>,
    }

    impl Racks {
        fn new(count: usize, sanded: usize) -> Self {
            Self {
                done: vec![0; count],
                ended: vec![Moment(0); count],
                sanded,
                log: Vec::new(),
            }
        }
    }

    impl Jobs for Racks {
        fn next(&mut self, job: usize, at: Moment) -> Next {
            let (kind, from, parts) = match self.done[job] {
                0 => (0, at, vec![MIN(15)]),
                1 => (0, self.ended[job].plus(Span::hours(1)), vec![MIN(15)]),
                2 if self.sanded > 0 => (1, at, vec![MIN(30); self.sanded]),
                _ => return Next::Rest,
            };
            Next::Visit(Visit {
                kind,
                from: from.max(at),
                parts,
                first: false,
            })
        }

        fn made(&mut self, job: usize, made: &Made) -> Vec<usize> {
            self.done[job] += 1;
            self.ended[job] = made.ended;
            let clock = |m| Calendar::BARE.clock(m);
            self.log.push((
                job,
                self.done[job],
                made.post,
                clock(made.began),
                clock(made.ended),
            ));
            vec![job]
        }
    }

    fn booth(shifts: &[Shift], pace: i64, closed: Vec<(Moment, Moment)>) -> Post {
        Post {
            takes: BTreeMap::from([(0, (MIN(pace), MIN(15)))]),
            people: 1,
            crew: None,
            hours: Hours::of(&Calendar::BARE, shifts).closed(closed),
        }
    }

    fn log(posts: &[Post], shifts: &[Shift], racks: Racks) -> Vec<String> {
        log_of(posts, &[], shifts, racks)
    }

    fn log_of(posts: &[Post], crews: &[usize], shifts: &[Shift], mut racks: Racks) -> Vec<String> {
        let shop = Hours::of(&Calendar::BARE, shifts);
        let start: Vec<(usize, Moment)> = (0..racks.done.len())
            .map(|n| (n, at("2026-03-02 06:00")))
            .collect();
        let until = at("2026-04-02 06:00");
        play(posts, crews, &shop, &start, until, &mut racks);
        let said = racks.log.iter().map(|(rack, coat, post, began, ended)| {
            let post = post.map_or("-".to_owned(), |p| format!("b{}", p + 1));
            format!("R{} {coat} {post} {began}-{ended}", rack + 1)
        });
        said.collect()
    }

    #[test]
    fn two_booths_with_fixed_times_keep_the_schedule_that_was_worked_out_by_hand() {
        let shifts = [Shift::COMMON];
        // Both booths: two racks at a time, and the second coat 60 minutes after the first one ended.
        let both = [
            booth(&shifts, 15, Vec::new()),
            booth(&shifts, 15, Vec::new()),
        ];
        assert_eq!(
            log(&both, &shifts, Racks::new(4, 0)),
            [
                "R1 1 b1 07:00-07:15",
                "R2 1 b2 07:00-07:15",
                "R3 1 b1 07:15-07:30",
                "R4 1 b2 07:15-07:30",
                "R1 2 b1 08:15-08:30",
                "R2 2 b2 08:15-08:30",
                "R3 2 b1 08:30-08:45",
                "R4 2 b2 08:30-08:45",
            ]
        );
        // The second booth is down until 08:20: the first coats go through the first one, one after another.
        let down = vec![(at("2026-03-02 00:00"), at("2026-03-02 08:20"))];
        let late = [booth(&shifts, 15, Vec::new()), booth(&shifts, 15, down)];
        assert_eq!(
            log(&late, &shifts, Racks::new(4, 0)),
            [
                "R1 1 b1 07:00-07:15",
                "R2 1 b1 07:15-07:30",
                "R3 1 b1 07:30-07:45",
                "R4 1 b1 07:45-08:00",
                "R1 2 b1 08:15-08:30",
                "R2 2 b1 08:30-08:45",
                "R3 2 b1 08:45-09:00",
                "R4 2 b1 09:00-09:15",
            ]
        );
        // A second booth that takes 20 minutes for the same rack.
        let slow = [
            booth(&shifts, 15, Vec::new()),
            booth(&shifts, 20, Vec::new()),
        ];
        assert_eq!(
            log(&slow, &shifts, Racks::new(2, 0)),
            [
                "R1 1 b1 07:00-07:15",
                "R2 1 b2 07:00-07:20",
                "R1 2 b1 08:15-08:30",
                "R2 2 b2 08:20-08:40",
            ]
        );
    }

    #[test]
    fn pieces_of_a_rack_are_shared_by_the_people_of_a_bench_and_wait_for_the_morning() {
        let shifts = [Shift::read("07:00-10:00", "mon-fri").unwrap()];
        let mut bench = booth(&shifts, 15, Vec::new());
        bench.takes = BTreeMap::from([(1, (MIN(30), MIN(30)))]);
        bench.people = 2;
        let posts = [booth(&shifts, 15, Vec::new()), bench];
        // Five pieces of 30 minutes, two people, 90 minutes left: two at 08:30, two at 09:00, one at 09:30.
        assert_eq!(
            log(&posts, &shifts, Racks::new(1, 5)).last().unwrap(),
            "R1 3 b2 08:30-10:00"
        );
        // Seven: three rounds of two, the last one on Tuesday at 07:00.
        assert_eq!(
            log(&posts, &shifts, Racks::new(1, 7)).last().unwrap(),
            "R1 3 b2 08:30-07:30"
        );
        // No station sands: it is done by as many as it needs at once.
        assert_eq!(
            log(&posts[..1], &shifts, Racks::new(1, 7)).last().unwrap(),
            "R1 3 - 08:30-09:00"
        );
    }

    #[test]
    fn a_crew_of_one_for_a_booth_and_a_bench_keeps_the_schedule_that_was_worked_out_by_hand() {
        let shifts = [Shift::COMMON];
        let posts = |crew, people| {
            let mut bench = booth(&shifts, 15, Vec::new());
            bench.takes = BTreeMap::from([(1, (MIN(30), MIN(30)))]);
            bench.people = people;
            bench.crew = crew;
            [
                Post {
                    crew,
                    ..booth(&shifts, 15, Vec::new())
                },
                bench,
            ]
        };
        let two = || Racks::new(2, 2);
        // Each with its own person: R1 is sanded while R2 gets its second coat.
        let own = log(&posts(None, 1), &shifts, two());
        assert_eq!(
            own[2..],
            [
                "R1 2 b1 08:15-08:30",
                "R2 2 b1 08:30-08:45",
                "R1 3 b2 08:30-09:30",
                "R2 3 b2 09:30-10:30",
            ]
        );
        // One person for both: R2's second coat was ready at 08:30, before R1 came from its own; then both of R1, then both
        // of R2, half an hour each.
        assert_eq!(
            log_of(&posts(Some(0), 1), &[1], &shifts, two()),
            [
                "R1 1 b1 07:00-07:15",
                "R2 1 b1 07:15-07:30",
                "R1 2 b1 08:15-08:30",
                "R2 2 b1 08:30-08:45",
                "R1 3 b2 08:45-09:45",
                "R2 3 b2 09:45-10:45",
            ]
        );
        // Two people for both and two at the bench: R1's second piece waits until the booth's person is free at 08:45, R2's
        // first for 09:00 and its second for 09:15.
        let crew = log_of(&posts(Some(0), 2), &[2], &shifts, two());
        assert_eq!(crew[4..], ["R1 3 b2 08:30-09:15", "R2 3 b2 09:00-09:45"]);
        // A crew that is larger than its stations can seat changes nothing.
        assert_eq!(log_of(&posts(Some(0), 1), &[9], &shifts, two()), own);
        // Nobody in it: nothing is begun.
        assert_eq!(log_of(&posts(Some(0), 1), &[0], &shifts, two()), [""; 0]);
    }

    #[test]
    fn a_station_of_a_crew_that_is_closed_does_not_hold_up_the_others() {
        let shifts = [Shift::COMMON];
        // The booth is down until 10:00: the rack whose second coat is next waits for it, the one that is sanded does not.
        let down = vec![(at("2026-03-02 08:00"), at("2026-03-02 10:00"))];
        let mut bench = booth(&shifts, 15, Vec::new());
        bench.takes = BTreeMap::from([(1, (MIN(30), MIN(30)))]);
        bench.crew = Some(0);
        let posts = [
            Post {
                crew: Some(0),
                ..booth(&shifts, 15, down)
            },
            bench,
        ];
        let mut racks = Racks::new(2, 1);
        // R1 has its two coats already.
        racks.done[0] = 2;
        assert_eq!(
            log_of(&posts, &[1], &shifts, racks),
            [
                "R1 3 b2 07:00-07:30",
                "R2 1 b1 07:30-07:45",
                "R2 2 b1 10:00-10:15",
                "R2 3 b2 10:15-10:45",
            ]
        );
    }
}
