//! The plan: when each rack reaches each step, hooks by day, dates that are missed, and what would come of it if.
//!
//! A discrete-event simulation ([`engine`]) of the lives of the pieces on the floor, by their recipes' own rules and the
//! stations that the shop entered. It is played once by the stated figures, and many times with waits and times that are drawn
//! from past deeds; what nine of ten plays keep is the figure to promise by.
//!
//! *Invariants*: pure: the same floor, hours, stations, habits and seed give the same plan. A plan never changes a record. It
//! never begins a deed before its recipe allows it, and it says what it supposes.
//!
//! *Not here*: the rules of a recipe (`shop`), reading the record (`ledger`), words (`reports::plan`).

pub mod backward;
pub mod compare;
pub mod draw;
pub mod engine;
pub mod forecast;
pub mod habits;
mod lives;
mod scene;
pub mod score;

pub use scene::{Rush, Scene, Suppose};
