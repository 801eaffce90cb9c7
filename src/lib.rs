//! hangtime: a finish-room process log and cure timer.

pub mod commands;
pub mod science;
pub mod units;
