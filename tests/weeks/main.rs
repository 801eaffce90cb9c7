//! Believable weeks at three sizes of shop, played through the screens of the built program in real terminals. A week is
//! played day by day in a demo ledger, whose clock stands where each day begins. `HANGTIME_WEEKS=long` plays the long form.
//! One late shift is played in a real ledger, by a faked wall clock.

#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs,
    unreachable_pub,
    reason = "tests"
)]

mod factory;
#[path = "../support/faked_clock.rs"]
mod faked_clock;
mod fifteen;
mod late_shift;
#[path = "../support/terminal.rs"]
mod pty;
#[path = "../support/script.rs"]
mod script;
mod seat;
mod two_people;
#[allow(dead_code, reason = "the stories of the flows use the rest of it")]
#[path = "../flows/world.rs"]
mod world;
