//! Quantities as types; reading and printing them.
//!
//! Two families live side by side. The *record* keeps integers in small SI units ([`Film`] in nm, [`Volume`] in uL,
//! ...), so that a kept total equals a recomputed one to the last digit. *Science* computes with `uom` quantities in
//! floats, which tell a length from a pressure and a temperature from a difference of temperatures. Both are read
//! and printed through the one table of [`UNITS`].
//!
//! *Invariants*: a text is read exactly (decimal digits times an exact ratio) and rounded once, half-to-even; an
//! amount outside its possible range is refused with its name, value, range and unit, never clamped.
//!
//! *Not here*: a process-wide choice of units (the wanted [`System`] is always an argument), and any formula.

mod amounts;
pub mod num;
mod read;
mod show;
mod table;
mod time;

pub use amounts::{
    Amount, Area, Density, Film, Flow, Humidity, Mass, Pressure, Share, Speed, Temperature, Volume,
};
pub use read::{DateFault, Reading, UnitFault, date, read};
pub use show::{digits, show, show_as};
pub use table::{Dimension, System, UNITS, Unit, find, spellings};
pub use time::{Moment, Span};
