//! The screens without a terminal: what they show, what keys do, and that no size breaks them.

#![allow(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    clippy::panic,
    clippy::indexing_slicing,
    missing_docs,
    unreachable_pub,
    reason = "tests"
)]

mod air;
mod book;
mod booth;
mod calls;
mod card;
mod command;
mod counted;
mod desk;
mod drawn;
mod first;
mod flows;
mod plan;
#[path = "../support/terminal.rs"]
mod pty;
mod quality;
mod random;
mod recipes;
mod scans;
#[path = "../support/script.rs"]
mod script;
mod shift;
#[path = "../support/shop.rs"]
mod shop;
mod terminal;
mod whole_shift;
