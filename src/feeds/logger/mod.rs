//! Readings of climate loggers: files of any shape by their adopted description, a watched folder, and readings that a
//! broker on this host hands on.
//!
//! *Invariants*: nothing is guessed when a file is taken over; what is left out of a file is named with its line; a reading is
//! kept as it was read.
//!
//! *Not here*: what a description may say (`shop::logger_file`), taking readings into the record (the ledger), the time.

pub mod file;
pub mod guess;
pub mod live;
pub mod watch;
