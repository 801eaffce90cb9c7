//! The terminal UI: the places (booth, floor, shift, solvent book, air, recipes, wall), a piece's card, logging a deed,
//! and the help page.
//!
//! | file | what it does |
//! |---|---|
//! | [`first`] | the first start of a new shop |
//! | [`keys`] | the one table of keys |
//! | [`msg`] | what comes to the model and what it asks for |
//! | [`model`] | what the screens know |
//! | [`places`] | the places at the bottom of the pages: what each knows, marks and opens |
//! | `load` | what each place asks of the ledger |
//! | [`update`] | the only place that changes the model |
//! | [`view`] | draws the model; one file per page below it |
//! | [`chart`] | the arithmetic of charts |
//! | [`theme`] | styles, shapes and their plain forms |
//! | [`picture`] | a page as SVG |
//! | `figures` | a number typed beside the line that would be saved |
//! | `mixing` | another mix like the newest one |
//! | [`ask`] | questions that are typed at the bottom, and the deeds that they lead to |
//! | [`prompt`] | the command line inside the program |
//! | `errand` | runs what was typed there |
//! | `redo` | a draft's words and how they are read back |
//! | [`store`] | the ledger behind the screens |
//! | `hidden` | a line typed unseen, for commands |
//! | `driver` | the terminal session and its threads |
//! | `paint` | what is drawn, on its way to the terminal |
//! | `keyboard` | what comes from the terminal |
//! | `sequences` | the bytes of keys and pasted texts |
//! | `run` | keys that come without a pause |
//!
//! *Invariants*: `update` and `view` read no clock, no file, no terminal and no ledger; the ledger is owned by one
//! thread, and no query runs while a screen is drawn; the record is written through the ledger's own deeds only.
//!
//! *Not here*: any judgement (`shop`) and any write of its own (`ledger`).

pub mod ask;
pub mod calls;
pub mod chart;
mod driver;
mod errand;
mod figures;
pub mod first;
mod hidden;
mod keyboard;
pub mod keys;
mod load;
mod mixing;
pub mod model;
pub mod msg;
mod paint;
pub mod picture;
pub mod places;
pub mod prompt;
mod redo;
mod run;
mod sequences;
pub mod store;
pub mod theme;
pub mod update;
pub mod view;

pub use driver::{HandsOf, Opening, Start, run};
pub use errand::PAGE;
pub use hidden::ask_hidden;
