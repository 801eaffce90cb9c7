//! Recipes and materials.

use crate::screens::model::Model;
use crate::units::Moment;

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Data>,
    /// Line of the mark.
    pub mark: usize,
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            mark: 0,
        }
    }
}

/// How many lines its mark can lie on.
pub(super) const fn lines(_: &Model) -> usize {
    0
}
