//! Pure calculations, one file per subject, every formula with its source. No IO, no clock, no database, no screen.
