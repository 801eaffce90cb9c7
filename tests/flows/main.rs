//! Stories from the floor, played through the command line into a ledger of their own and held to their figures.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stderr,
    missing_docs,
    unreachable_pub,
    reason = "tests"
)]

mod ahead;
mod air;
mod alerts;
mod average_day;
mod bare_deeds;
mod book;
mod cautions;
mod clock_trust;
mod clocks;
mod coats;
mod crash;
mod day_list;
mod duties;
#[path = "../support/faked_clock.rs"]
mod faked_clock;
mod hand_over;
mod life;
mod limits;
mod live;
mod loggers;
mod mechanisms;
mod people;
mod plan;
mod power_out;
mod quality;
mod racks;
mod record;
mod revisions;
mod said;
mod sheets;
mod stock;
mod tags;
mod whole_process;
mod world;
mod wrong_and_late;
