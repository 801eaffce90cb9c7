//! The air of the rooms and booths.

use crate::ledger::{BoothSurvey, CeilingRow, ExhaustUnknown};
use crate::reports::air::FaceVelocity;
use crate::reports::workings::Working;
use crate::screens::model::Model;
use crate::screens::view;
use crate::units::{Humidity, Moment, Span, Temperature};

/// One reading with its dew point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// When.
    pub at: Moment,
    /// Air temperature.
    pub temperature: Temperature,
    /// Relative humidity, where the logger has it.
    pub humidity: Option<Humidity>,
    /// Dew point, where there is a humidity and the formula holds.
    pub dew: Option<Temperature>,
}

impl Reading {
    /// Air temperature less dew point, in thousandths of a kelvin.
    pub fn spread(&self) -> Option<i64> {
        Some(self.temperature.0 - self.dew?.0)
    }
}

/// A room's newest reading, however old it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Newest {
    /// The reading.
    pub reading: Reading,
    /// What brought it: the file, or the deed.
    pub source: String,
    /// The entry that holds it.
    pub entry: i64,
}

/// The air of a room.
#[derive(Debug, Clone)]
pub struct RoomAir {
    /// Its name.
    pub name: String,
    /// Whether the room was declared.
    pub declared: bool,
    /// How often it is read; `None` for a room without readings.
    pub every: Option<Span>,
    /// Its readings over the days that are shown, in order.
    pub readings: Vec<Reading>,
    /// The newest of all.
    pub newest: Option<Newest>,
    /// How the newest reading stands to the blush rules, or why that cannot be told.
    pub working: Result<Working, String>,
}

/// The exhaust of a booth.
#[derive(Debug, Clone)]
pub struct Exhaust {
    /// The booth.
    pub name: String,
    /// Its newest survey, and how that stands to the limit.
    pub survey: Option<(BoothSurvey, FaceVelocity)>,
    /// The limit of its face velocity.
    pub limit: Option<CeilingRow>,
    /// When it stopped, where nobody has checked it since.
    pub stopped: Option<ExhaustUnknown>,
    /// The working of the survey.
    pub survey_working: Result<Working, String>,
    /// The working of its solvent vapour.
    pub vapour: Result<Working, String>,
}

/// The solvent vapour of fresh work in a room's air.
#[derive(Debug, Clone)]
pub struct RoomVapour {
    /// The room.
    pub name: String,
    /// Its working with the course of the last day.
    pub working: Working,
    /// The working of its eight-hour mean, where an exposure limit is entered.
    pub exposure: Option<Working>,
}

/// What the mark can lie on.
#[derive(Debug, Clone)]
pub enum Spot {
    /// The air of a room.
    Room(Box<RoomAir>),
    /// The exhaust of a booth.
    Exhaust(Box<Exhaust>),
    /// The solvent vapour in a room.
    Vapour(Box<RoomVapour>),
}

impl Spot {
    /// The name of the room or booth.
    pub fn name(&self) -> &str {
        match self {
            Self::Room(room) => &room.name,
            Self::Exhaust(booth) => &booth.name,
            Self::Vapour(room) => &room.name,
        }
    }

    /// The workings of its figures.
    pub fn workings(&self) -> Vec<Result<&Working, &String>> {
        match self {
            Self::Room(room) => vec![room.working.as_ref()],
            Self::Exhaust(booth) => vec![booth.survey_working.as_ref(), booth.vapour.as_ref()],
            Self::Vapour(room) => {
                let exposure = room.exposure.iter().map(Ok);
                [Ok(&room.working)].into_iter().chain(exposure).collect()
            }
        }
    }
}

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// Since when readings are shown.
    pub from: Moment,
    /// The air of the rooms, the exhaust of the booths, then the vapour of the rooms with fresh work; each by name.
    pub spots: Vec<Spot>,
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Data>,
    /// Line of the mark.
    pub mark: usize,
    /// Whether the working is shown in its place.
    pub working: bool,
    /// First line of the working that is shown.
    pub scroll: usize,
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            mark: 0,
            working: false,
            scroll: 0,
        }
    }

    /// What the mark lies on.
    pub fn marked(&self) -> Option<&Spot> {
        let spots = &self.data.as_ref()?.spots;
        spots.get(self.mark.min(spots.len().saturating_sub(1)))
    }
}

/// The working, or the air again.
pub(in crate::screens) const fn turn(state: &mut State) {
    state.working = !state.working;
    state.scroll = 0;
}

/// Scrolls the working, or by pages what lies below the list; says whether it did. A step of one line moves the mark, and
/// what is below begins at its top.
pub(super) fn scrolls(model: &mut Model, by: isize) -> bool {
    let most = view::air_scroll_limit(model);
    let state = &mut model.places.air;
    let one = by.unsigned_abs() == 1;
    if one && !state.working {
        state.scroll = 0;
        return false;
    }
    state.scroll = state.scroll.saturating_add_signed(by).min(most);
    true
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    let data = model.places.air.data.as_ref();
    data.map_or(0, |d| d.spots.len())
}
