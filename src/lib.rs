//! hangtime: a finish-room process log and cure timer.

pub mod science;
pub mod shop;
pub mod units;
