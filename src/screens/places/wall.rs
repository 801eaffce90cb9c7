//! The wall: for a screen across the room. Its pages turn by themselves.

use super::booth::BoothNow;
use crate::screens::model::Model;
use crate::units::{Moment, Span};

/// How long a page stands.
pub const TURN: Span = Span::seconds(10);

/// How many pages there are.
pub const PAGES: usize = 3;

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// The booths with their checks.
    pub booths: Vec<BoothNow>,
}

/// What it knows and by how many pages it was turned by hand.
#[derive(Debug, Clone)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Data>,
    /// Pages turned by hand, counted from a number that leaves room to turn back.
    pub mark: usize,
}

// A whole number of rounds, so that it is no turn.
const MIDDLE: usize = PAGES * 1_000;

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            mark: MIDDLE,
        }
    }
}

impl Default for State {
    fn default() -> Self {
        Self::new()
    }
}

/// How many lines its mark can lie on: there is always one page more.
pub(super) const fn lines(model: &Model) -> usize {
    model.places.wall.mark.saturating_add(2)
}

/// The page that stands at a moment.
pub(in crate::screens) fn page(state: &State, now: Moment) -> usize {
    let turned = usize::try_from(now.0.div_euclid(TURN.0)).unwrap_or(0);
    turned.wrapping_add(state.mark) % PAGES
}

/// When the next page comes.
pub(in crate::screens) const fn turns(now: Moment) -> Moment {
    Moment((now.0.div_euclid(TURN.0) + 1) * TURN.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pages_turn_every_ten_seconds_and_by_hand_in_both_directions() {
        let mut state = State::new();
        let seen: Vec<usize> = (0..70)
            .step_by(5)
            .map(|s| page(&state, Moment(s * 1_000)))
            .collect();
        assert_eq!(seen, [0, 0, 1, 1, 2, 2, 0, 0, 1, 1, 2, 2, 0, 0]);
        state.mark += 1;
        assert_eq!(page(&state, Moment(0)), 1);
        state.mark -= 2;
        assert_eq!(page(&state, Moment(0)), 2);
        assert_eq!(turns(Moment(0)), Moment(10_000));
        assert_eq!(turns(Moment(9_999)), Moment(10_000));
        assert_eq!(turns(Moment(10_000)), Moment(20_000));
    }
}
