//! Pure calculations, one file per subject, every formula with its source.
//!
//! A subject file gives pure functions over `uom` quantities, so that a length cannot be given for a pressure, and
//! a list of worksheets that read inputs, call those functions and show the working.
//!
//! *Invariants*: a value outside an input's range or a formula's validity is refused by name, never clamped and
//! never extrapolated; no result is NaN or infinite.
//!
//! *Not here*: IO, clock, database, screen, shop.

pub mod booth;
pub mod cooling;
pub mod cure;
pub mod exposure;
pub mod film;
pub mod input;
pub mod measure;
pub mod mix;
pub mod printed;
pub mod psychrometrics;
pub mod registry;
pub mod solvents;
pub mod statistics;
pub mod storage;
pub mod transfer;
pub mod validity;
pub mod vapour;
pub mod voc;
pub mod wood;
pub mod worksheet;
