//! The domain, pure: what the people of the finish room know, with no IO, no clock, no database and no screen.

pub mod cautions;
