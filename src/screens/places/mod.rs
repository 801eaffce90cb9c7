//! The places at the bottom of the pages: what each knows, what its mark lies on, and what Enter opens there.
//!
//! *Invariants*: a place keeps what the ledger answered last until the next answer is there; its mark is a number of a
//! line and never beyond the last one.
//!
//! *Not here*: the floor (`model`), what is asked of the ledger (`load`), how it looks (`view`).

pub mod air;
pub mod booth;
pub mod plan;
pub mod quality;
pub mod recipes;
pub mod shift;
pub mod solvent;
pub mod wall;

use super::keys::Mode;
use super::model::Model;
use crate::ledger::Target;
use crate::shop::words::{Word, words};
use crate::units::Moment;

words!(
    /// A place, by the word with which a terminal is opened at it; in the order of their keys.
    Place {
        /// What to spray next.
        Booth = "booth",
        /// Every piece by rack and hook.
        Floor = "floor",
        /// What can be done by when, and what stands in the way.
        Shift = "shift",
        /// The month against its limits, and the checks.
        Solvent = "solvent",
        /// The air of the rooms and booths.
        Air = "air",
        /// Recipes and materials.
        Recipes = "recipes",
        /// For a screen across the room.
        Wall = "wall",
        /// Defects, reworks, and the charts of film and amount.
        Quality = "quality",
        /// What each rack reaches when, hooks by day, missed dates.
        Plan = "plan",
    }
);

impl Place {
    /// What the keys mean there.
    pub const fn mode(self) -> Mode {
        match self {
            Self::Floor => Mode::Floor,
            Self::Booth => Mode::Booth,
            Self::Shift => Mode::Shift,
            Self::Solvent => Mode::Solvent,
            Self::Air => Mode::Air,
            Self::Recipes => Mode::Recipes,
            Self::Wall => Mode::Wall,
            Self::Quality => Mode::Quality,
            Self::Plan => Mode::Plan,
        }
    }

    /// Its name on the title line.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Floor => "the floor",
            Self::Booth => "the booth",
            Self::Shift => "the shift",
            Self::Solvent => "the solvent book",
            Self::Air => "the air",
            Self::Recipes => "recipes and materials",
            Self::Wall => "the wall",
            Self::Quality => "quality",
            Self::Plan => "the plan",
        }
    }
}

/// What the ledger answered for a place.
#[derive(Debug, Clone)]
pub enum PlaceData {
    /// For the floor: it has its own query.
    Floor,
    /// For the booth.
    Booth(booth::Data),
    /// For the shift.
    Shift(shift::Data),
    /// For the solvent book.
    Solvent(Box<solvent::Data>),
    /// For the air.
    Air(air::Data),
    /// For recipes and materials.
    Recipes(recipes::Data),
    /// For the wall.
    Wall(wall::Data),
    /// For quality.
    Quality(Box<quality::Data>),
    /// For the plan.
    Plan(Box<plan::Data>),
}

/// What the places know.
#[derive(Debug, Clone, Default)]
pub struct Places {
    /// The booth.
    pub booth: booth::State,
    /// The shift.
    pub shift: shift::State,
    /// The solvent book.
    pub solvent: solvent::State,
    /// The air.
    pub air: air::State,
    /// Recipes and materials.
    pub recipes: recipes::State,
    /// The wall.
    pub wall: wall::State,
    /// Quality.
    pub quality: quality::State,
    /// The plan.
    pub plan: plan::State,
}

impl Places {
    /// Places before the first answer.
    pub const fn new() -> Self {
        Self {
            booth: booth::State::new(),
            shift: shift::State::new(),
            solvent: solvent::State::new(),
            air: air::State::new(),
            recipes: recipes::State::new(),
            wall: wall::State::new(),
            quality: quality::State::new(),
            plan: plan::State::new(),
        }
    }

    /// Takes in what the ledger answered.
    pub fn take_in(&mut self, data: PlaceData) {
        match data {
            PlaceData::Floor => {}
            PlaceData::Booth(data) => self.booth.data = Some(data),
            PlaceData::Shift(data) => self.shift.data = Some(data),
            PlaceData::Solvent(data) => self.solvent.data = Some(*data),
            PlaceData::Air(data) => self.air.data = Some(data),
            PlaceData::Recipes(data) => self.recipes.data = Some(data),
            PlaceData::Wall(data) => self.wall.data = Some(data),
            PlaceData::Quality(data) => self.quality.take_in(data),
            PlaceData::Plan(data) => self.plan.take_in(data),
        }
    }
}

/// Moves the mark of a place, or its page, by some lines.
pub(super) fn step(model: &mut Model, place: Place, by: isize) {
    if place == Place::Air && air::scrolls(model, by) {
        return;
    }
    let last = lines(model, place).saturating_sub(1);
    let mark = match place {
        Place::Floor => return,
        Place::Booth => &mut model.places.booth.mark,
        Place::Shift => &mut model.places.shift.mark,
        Place::Solvent => &mut model.places.solvent.mark,
        Place::Air => &mut model.places.air.mark,
        Place::Recipes => &mut model.places.recipes.mark,
        Place::Wall => &mut model.places.wall.mark,
        Place::Quality => model.places.quality.mark_mut(),
        Place::Plan => &mut model.places.plan.mark,
    };
    *mark = mark.saturating_add_signed(by).min(last);
}

/// When what is drawn changes next without a message: with the minute, or when the wall turns its page.
pub(super) const fn wakes(model: &Model, now: Moment) -> Moment {
    match model.place {
        Place::Wall => wall::turns(now),
        _ => Moment((now.0.div_euclid(60_000) + 1) * 60_000),
    }
}

/// How many lines the mark of a place can lie on.
pub(super) fn lines(model: &Model, place: Place) -> usize {
    match place {
        Place::Floor => 0,
        Place::Booth => booth::lines(model),
        Place::Shift => shift::lines(model),
        Place::Solvent => solvent::lines(model),
        Place::Air => air::lines(model),
        Place::Recipes => recipes::lines(model),
        Place::Wall => wall::lines(model),
        Place::Quality => quality::lines(model),
        Place::Plan => plan::lines(model),
    }
}

/// The rack or piece that the mark of a place lies on.
pub(super) fn marked(model: &Model, place: Place) -> Option<Target> {
    match place {
        Place::Booth => booth::marked(model),
        Place::Shift => shift::marked(model),
        Place::Plan => plan::marked(model),
        Place::Floor
        | Place::Solvent
        | Place::Air
        | Place::Recipes
        | Place::Wall
        | Place::Quality => None,
    }
}

/// Why what the mark of a place lies on opens no page, where something lies there.
pub(super) fn without_page(model: &Model) -> Option<&'static str> {
    match model.place {
        Place::Shift => shift::marked_row(model)
            .map(|_| "a room has no page of its own; Tab goes to the work, by rack"),
        Place::Plan => model
            .places
            .plan
            .marked()
            .map(|_| "a day has no page of its own; what comes and leaves stands beside it"),
        _ => None,
    }
}
