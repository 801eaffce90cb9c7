//! hangtime: a finish-room process log and cure timer. The map of the house, from the ground up; arrows point down
//! only.
//!
//! | room | what it holds |
//! |---|---|
//! | [`units`] | quantities as types; reading and printing them |
//! | [`science`] | pure calculations, one file per subject, every formula with its source |
//! | [`shop`] | the domain, pure: entry + standing -> standing; standing + recipe + climate + time -> outlook |
//! | [`ledger`] | the append-only record in SQLite and the read models that follow from it |
//! | [`alerts`] | events and the shop's rules -> who is told now; sending it |
//! | [`feeds`] | what comes in: piece lists, paper, climate readings of loggers, watched folders and a broker |
//! | [`plan`] | the forecast: when each rack reaches each step, hooks by day, dates, what if |
//! | [`reports`] | what goes out: JSON for machines and lines for people, from the same values |
//! | [`screens`] | the terminal UI: model, update, view |
//! | [`commands`] | the command line, one file per group of commands |
//! | [`clock`] | the one reader of the time; known to commands and screens only |

pub mod alerts;
pub mod clock;
pub mod commands;
pub mod feeds;
pub mod ledger;
pub mod plan;
pub mod reports;
pub mod science;
pub mod screens;
pub mod shop;
pub mod units;

// The tests' invented shop is written as whoever uses this library would write it.
#[cfg(test)]
extern crate self as hangtime;
