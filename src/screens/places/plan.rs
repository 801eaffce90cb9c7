//! The plan: what each rack reaches when, hooks by day, missed dates, and halves that wait.
//!
//! *Invariants*: a plan takes its time, so that it is asked for when somebody comes, when the record has grown, and on a key;
//! never while one is on its way, and but for the key not again within a minute. Until the next one is there the last one
//! stays, with the moment that it was made for.

use crate::ledger::Target;
use crate::reports::plan::{On, Page, Part, Row};
use crate::screens::model::{AsOf, Model};
use crate::screens::msg::Effect;
use crate::units::{Moment, Span};

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// Whether that was the present one.
    pub now: bool,
    /// The newest action of the record then.
    pub head: i64,
    /// The page.
    pub page: Page,
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Box<Data>>,
    /// Whether one is on its way.
    pub waits: bool,
    /// Which part is listed, by its place in [`Part::ALL`].
    part: usize,
    /// Line of the mark.
    pub mark: usize,
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            waits: false,
            part: 0,
            mark: 0,
        }
    }

    /// Takes in what the ledger answered.
    pub(super) fn take_in(&mut self, data: Box<Data>) {
        self.data = Some(data);
        self.waits = false;
        self.mark = self.mark.min(self.rows().len().saturating_sub(1));
    }

    /// The part that is listed.
    pub fn part(&self) -> Part {
        Part::ALL.get(self.part).copied().unwrap_or(Part::Racks)
    }

    /// Its rows.
    pub fn rows(&self) -> &[Row] {
        let parts = self.data.as_ref().map_or(&[][..], |d| &d.page.parts);
        let listed = parts.iter().find(|(part, _)| *part == self.part());
        listed.map_or(&[], |(_, rows)| rows)
    }

    /// The row under the mark.
    pub fn marked(&self) -> Option<&Row> {
        self.rows().get(self.mark)
    }
}

/// How old a plan may grow before one is asked for again without a key.
const HOLDS: Span = Span::minutes(1);

/// Whether it is shown, and one is on its way or new enough.
pub(in crate::screens) fn fresh(model: &Model) -> bool {
    let state = &model.places.plan;
    let young = |d: &Data| (0..HOLDS.0).contains(&model.at().since(d.at).0);
    state.waits || state.data.as_ref().is_some_and(|d| young(d))
}

/// Asks for a plan; with `anew` also where nothing was written since the last one.
pub(in crate::screens) fn load(model: &mut Model, ticket: u64, anew: bool) -> Effect {
    let (at, now) = (model.at(), model.as_of == AsOf::Now);
    let state = &mut model.places.plan;
    state.waits = true;
    // A plan for another moment is another plan.
    let same = |d: &&Data| d.now == now && (now || d.at == at);
    let known = state.data.as_deref().filter(same).filter(|_| !anew);
    Effect::LoadPlan {
        ticket,
        at,
        now,
        known: known.map(|d| d.head),
    }
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    model.places.plan.rows().len()
}

/// The rack or piece that its mark lies on.
pub(super) fn marked(model: &Model) -> Option<Target> {
    match &model.places.plan.marked()?.on {
        On::Rack(rack) => Some(Target::Rack(rack.clone(), None)),
        On::Piece(serial) => Some(Target::Pieces(vec![serial.clone()])),
        On::Day => None,
    }
}

/// The next part, or the one before.
pub(in crate::screens) fn turn(model: &mut Model, forward: bool) {
    let n = Part::ALL.len();
    let state = &mut model.places.plan;
    state.part = (state.part + if forward { 1 } else { n - 1 }) % n;
    state.mark = 0;
}
