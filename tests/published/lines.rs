//! Waiting lines: the mean wait of a single server, from the plan's own engine.
//!
//! Source: the Pollaczek-Khinchine formula, as in Kleinrock, *Queueing Systems* I, 1975, 5.6 (from memory, to be confirmed):
//! the mean wait before service is `lambda E[S^2] / (2 (1 - rho))`. With exponential service (M/M/1) that is
//! `rho / (mu - lambda)`, with fixed service (M/D/1) half of it.

use hangtime::plan::draw::exponential;
use hangtime::plan::engine::{Jobs, Made, Next, Post, Visit, play};
use hangtime::science::statistics::{deviation, mean};
use hangtime::shop::calendar::Calendar;
use hangtime::shop::hours::Hours;
use hangtime::shop::shift::Shift;
use hangtime::units::{Moment, Span, num};
use std::collections::BTreeMap;

const SERVICE: Span = Span::minutes(8);
const RUNS: u64 = 40;
const CUSTOMERS: usize = 3_000;
// What came before the line was in its own state.
const WARM: usize = 500;

struct Customers {
    stations: usize,
    service: Vec<Span>,
    served: Vec<bool>,
    waits: Vec<f64>,
}

impl Jobs for Customers {
    fn next(&mut self, job: usize, at: Moment) -> Next {
        if self.served[job] {
            return Next::Rest;
        }
        Next::Visit(Visit {
            kind: job % self.stations,
            from: at,
            parts: vec![self.service[job]],
            first: false,
        })
    }

    fn made(&mut self, job: usize, made: &Made) -> Vec<usize> {
        self.served[job] = true;
        if job >= WARM {
            self.waits.push(num::float(made.began.since(made.from).0));
        }
        vec![job]
    }
}

// The mean wait of one run in minutes, at a load of 0.8: a customer every 10 minutes, 8 minutes each.
fn one_run(run: u64, service: impl Fn(u64) -> Span) -> f64 {
    with_stations(run, 1, service)
}

// The same where the customers go to several stations in turn, at all of which one person of a crew works.
fn with_stations(run: u64, stations: usize, service: impl Fn(u64) -> Span) -> f64 {
    let shifts = [Shift::ALWAYS];
    let hours = || Hours::of(&Calendar::BARE, &shifts);
    let post = |kind| Post {
        takes: BTreeMap::from([(kind, (Span(1), Span(1)))]),
        people: 1,
        crew: (stations > 1).then_some(0),
        hours: hours(),
    };
    let posts: Vec<Post> = (0..stations).map(post).collect();
    let mut at = Moment(1_772_440_000_000);
    let mut start = Vec::new();
    let mut list = Vec::new();
    for n in 0..CUSTOMERS {
        let name = u64::try_from(n).unwrap();
        at = at.plus(exponential(Span::minutes(10), &[1, run, name]));
        start.push((n, at));
        list.push(service(name));
    }
    let mut customers = Customers {
        stations,
        service: list,
        served: vec![false; CUSTOMERS],
        waits: Vec::new(),
    };
    let until = Moment(i64::MAX);
    play(&posts, &[1], &hours(), &start, until, &mut customers);
    assert_eq!(customers.waits.len(), CUSTOMERS - WARM);
    mean(&customers.waits).unwrap() / 60_000.0
}

// The mean of independent runs, and half the width of its interval of 99 %: 2.708 is Student's t for 39 degrees of freedom
// (from memory, to be confirmed).
fn interval(runs: &[f64]) -> (f64, f64) {
    let half = 2.708 * deviation(runs).unwrap() / num::count(runs.len()).sqrt();
    (mean(runs).unwrap(), half)
}

#[test]
#[allow(
    clippy::print_stdout,
    reason = "the figures that stand in the contributor's guide"
)]
fn a_single_server_waits_as_long_as_the_formula_says() {
    // lambda = 0.1 and mu = 0.125 a minute: 0.8 / 0.025 = 32 minutes, and 16 with a fixed time.
    let m = (1..=RUNS).map(|run| one_run(run, |n| exponential(SERVICE, &[2, run, n])));
    let (found, half) = interval(&m.collect::<Vec<_>>());
    println!("M/M/1: {found:.2} +- {half:.2} min, by the formula 32");
    assert!((found - 32.0).abs() < half, "{found} +- {half}");
    // An interval that holds anything proves nothing.
    assert!(half < 4.0, "{half}");

    let d = (1..=RUNS).map(|run| one_run(run, |_| SERVICE));
    let (found, half) = interval(&d.collect::<Vec<_>>());
    println!("M/D/1: {found:.2} +- {half:.2} min, by the formula 16");
    assert!((found - 16.0).abs() < half, "{found} +- {half}");
    assert!(half < 2.0, "{half}");
}

#[test]
#[allow(
    clippy::print_stdout,
    reason = "the figures that stand in the contributor's guide"
)]
fn stations_that_share_one_person_wait_as_a_single_server_does() {
    // Whoever was ready first goes first at whichever station: the line is that of one server, customer by customer.
    let shared: Vec<f64> = (1..=RUNS)
        .map(|run| with_stations(run, 3, |_| SERVICE))
        .collect();
    let single: Vec<f64> = (1..=RUNS).map(|run| one_run(run, |_| SERVICE)).collect();
    assert_eq!(shared, single);
    let (found, half) = interval(&shared);
    println!("M/D/1 over three stations: {found:.2} +- {half:.2} min, by the formula 16");
    assert!((found - 16.0).abs() < half, "{found} +- {half}");
    assert!(half < 2.0, "{half}");
}
