//! Pure calculations, one file per subject, every formula with its source. No IO, no clock, no database, no screen.

pub mod booth;
pub mod exposure;
pub mod psychrometrics;
pub mod solvents;
pub mod storage;
pub mod transfer;
pub mod validity;
pub mod vapour;
pub mod voc;
pub mod wood;
