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

mod command;
mod desk;
mod drawn;
mod first;
mod flows;
mod recipes;
#[path = "../support/shop.rs"]
mod shop;
mod terminal;
