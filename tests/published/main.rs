//! Formulas against published figures, one module per source, and the contract of every worksheet.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::float_cmp,
    missing_docs,
    reason = "tests"
)]

mod coating; // the worked coating examples: film, cure, mix
mod diffusion; // Crank's plane sheet, two layers, air resistance
mod film_uncertainty; // JCGM 100 on coats and stacks
mod registry; // what every worksheet keeps
mod statistics; // e-Handbook and StRD figures
mod unit_factors; // exact unit factors
