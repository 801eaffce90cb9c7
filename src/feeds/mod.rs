//! What comes in as files: piece lists and climate readings. Each row is read or refused by line with its reason.
//!
//! *Not here*: opening files (commands) and taking anything into the record (the ledger).

pub mod climate_csv;
pub mod pieces_csv;
