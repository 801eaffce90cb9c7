//! Formulas against published figures, one module per source, and the contract of every worksheet.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::as_conversions,
    clippy::float_cmp,
    missing_docs,
    reason = "tests"
)]

mod registry;
