//! Figures held against what others published, one file for each source with its own tolerance, and the contract of
//! every worksheet.
//!
//! `data/` holds the tables and `scripts/` what made them. A tolerance is the source's, never loosened; where a
//! published figure does not reproduce, the test says so and keeps the figure out.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::as_conversions,
    clippy::float_cmp,
    clippy::doc_markdown,
    missing_docs,
    unreachable_pub,
    reason = "tests"
)]

mod acgih_dilution;
mod air_and_solvent_fixtures;
mod air_rules;
mod air_worksheets;
mod ashrae_psychrometrics;
mod booth_rules;
mod data_shapes;
mod duct_flow;
mod film_cooling;
mod known_traps;
mod osha_1910_1000;
mod osha_1910_106;
mod osha_1910_94;
mod registry;
mod room_air;
mod table;
mod voc_examples;
mod wmo_magnus;
mod wood_handbook;
