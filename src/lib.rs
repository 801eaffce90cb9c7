//! hangtime: a finish-room process log and cure timer.

pub mod science;
pub mod units;
