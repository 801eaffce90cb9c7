//! What comes in: piece lists, climate readings as files and from a broker, forms that were written on. Each row is read or refused by line with its reason.
//!
//! *Not here*: opening files (commands) and taking anything into the record (the ledger).

pub mod climate_csv;
pub mod form_csv;
pub mod logger;
pub mod pieces_csv;
mod table;
