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
    clippy::float_cmp,
    clippy::doc_markdown,
    missing_docs,
    unreachable_pub,
    reason = "tests"
)]

mod acgih_dilution; // handbook dilution examples
mod air_and_solvent_fixtures; // vapour, limits, mixtures
mod air_rules; // hazardous air pollutants, thresholds, transfer
mod air_worksheets; // the same from the command line
mod ashrae_psychrometrics; // moist air
mod booth_rules; // fire rules for booths, surveys, filters
mod coating; // the worked coating examples: film, cure, mix
mod coating_air; // the air and wood rows of the coating examples
mod data_shapes; // tables that serve as data
mod diffusion; // Crank's plane sheet, two layers, air resistance
mod duct_flow; // pitot tubes and air density
mod film_cooling; // evaporating coats
mod film_uncertainty; // JCGM 100 on coats and stacks
mod hap_blends; // default HAP of solvent blends, the federal example of a rule set
mod known_traps; // where this arithmetic goes wrong
mod lines; // waiting lines of one server
mod osha_1910_1000; // exposure
mod osha_1910_106; // storage
mod osha_1910_94; // dilution and face velocity
mod registry; // what every worksheet keeps
mod room_air; // decay and build-up
mod statistics; // e-Handbook and StRD figures
mod table; // reading tables, short ways to write quantities
mod unit_factors; // exact unit factors
mod voc_examples; // VOC on its bases, the solvent book
mod wmo_magnus; // the second dew-point method
mod wood_handbook; // wood moisture
