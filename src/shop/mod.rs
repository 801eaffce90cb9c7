//! The domain, pure: pieces, recipes, materials and what follows from the entries about them.
//!
//! Two folds carry everything: *entry + standing -> standing* ([`standing`]) and
//! *standing + recipe + climate + time -> outlook* ([`outlook`]).
//!
//! *Invariants*: amounts are integers; every judgement names its reason; a rule that speaks before a deed and the
//! one that marks it afterwards are the same function ([`rules`]).
//!
//! *Not here*: SQL, files, the clock, the terminal. The time is always an argument.

pub mod alert;
pub mod average_day;
pub mod calendar;
pub mod cautions;
pub mod climate;
pub mod control;
pub mod duty;
pub mod excursion;
pub mod faults;
pub mod forecast;
pub mod grit;
pub mod hours;
pub mod logger_file;
pub mod material;
pub mod material_file;
pub mod outlook;
pub mod quality;
pub mod recipe;
pub mod recipe_file;
pub mod record;
pub mod rehearse;
pub mod remarks;
pub mod rule_set;
pub mod rules;
pub mod shift;
pub mod solvent;
pub mod standing;
pub mod stock;
pub mod text;
pub mod thinning;
pub mod words;
