//! Quality: the last production days' defects by what stood behind them, pieces right first time, reworks, and the charts
//! of film and amount.
//!
//! *Invariants*: what was opened stays as it was when it was opened, until it is left; the mark never lies beyond the last
//! line.

use crate::ledger::Target;
use crate::reports::quality::{Bar, By, Chart, Quality, ReworkRate};
use crate::screens::model::Model;
use crate::screens::places::Place;
use crate::units::{Moment, Span};

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// Defects, inspections and reworks.
    pub report: Quality,
    /// The charts.
    pub charts: Vec<Chart>,
}

/// A line on which the mark can lie.
#[derive(Debug, Clone)]
pub enum Row<'a> {
    /// Defects that count under one key.
    Bar(Bar),
    /// The pieces that were right first time.
    First,
    /// The reworks of a recipe.
    Rework(&'a ReworkRate),
    /// A chart.
    Chart(&'a Chart),
}

/// A line of what stands behind another one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Behind {
    /// The pieces that it is about.
    pub serials: Vec<String>,
    /// What it says.
    pub text: String,
}

/// What was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Level {
    /// What it is about.
    pub title: String,
    /// Its lines.
    pub lines: Vec<Behind>,
    /// Line of the mark.
    pub mark: usize,
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Box<Data>>,
    /// What defects are counted by.
    pub by: By,
    /// What was opened, the newest last.
    pub levels: Vec<Level>,
    mark: usize,
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            by: By::Defect,
            levels: Vec::new(),
            mark: 0,
        }
    }

    /// Takes in what the ledger answered.
    pub(super) fn take_in(&mut self, data: Box<Data>) {
        self.data = Some(data);
        self.mark = self.mark.min(self.rows().len().saturating_sub(1));
    }

    /// The lines, in their order.
    pub fn rows(&self) -> Vec<Row<'_>> {
        let Some(data) = &self.data else {
            return Vec::new();
        };
        let bars = data.report.bars(self.by).into_iter().map(Row::Bar);
        let rework = data.report.rework.iter().map(Row::Rework);
        bars.chain([Row::First])
            .chain(rework)
            .chain(data.charts.iter().map(Row::Chart))
            .collect()
    }

    /// Line of the mark.
    pub fn mark(&self) -> usize {
        self.levels.last().map_or(self.mark, |level| level.mark)
    }

    pub(super) fn mark_mut(&mut self) -> &mut usize {
        match self.levels.last_mut() {
            Some(level) => &mut level.mark,
            None => &mut self.mark,
        }
    }
}

/// How old an answer may grow before it is asked for again without a key: a month's figures move slowly, and the ledger's
/// thread has saves to do.
const HOLDS: Span = Span::minutes(10);

/// Whether it is shown and what it knows is new enough.
pub(in crate::screens) fn fresh(model: &Model) -> bool {
    let data = model.places.quality.data.as_ref();
    model.place == Place::Quality
        && data.is_some_and(|d| (0..HOLDS.0).contains(&model.at().since(d.at).0))
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    let state = &model.places.quality;
    state
        .levels
        .last()
        .map_or_else(|| state.rows().len(), |level| level.lines.len())
}

/// Counts the defects by the next thing, or the one before.
pub(in crate::screens) fn turn(model: &mut Model, forward: bool) {
    let state = &mut model.places.quality;
    state.levels.clear();
    state.by = state.by.step(forward);
    state.mark = 0;
}

/// Leaves what was opened last; says whether anything was.
pub(in crate::screens) fn back(model: &mut Model) -> bool {
    model.places.quality.levels.pop().is_some()
}

/// Opens what stands behind the marked line, or gives the one piece that it is about.
pub(in crate::screens) fn open(model: &mut Model) -> Option<Target> {
    let level = match model.places.quality.levels.last() {
        Some(level) => {
            let line = level.lines.get(level.mark)?;
            match line.serials.as_slice() {
                [] => return None,
                [one] => return Some(Target::Pieces(vec![one.clone()])),
                many => Level {
                    title: line.text.clone(),
                    lines: many.iter().map(|serial| of_piece(serial, serial)).collect(),
                    mark: 0,
                },
            }
        }
        None => behind(model)?,
    };
    model.places.quality.levels.push(level);
    None
}

fn of_piece(serial: &str, text: impl Into<String>) -> Behind {
    Behind {
        serials: vec![serial.to_owned()],
        text: text.into(),
    }
}

// What stands behind the marked line of the overview.
fn behind(model: &Model) -> Option<Level> {
    let state = &model.places.quality;
    let (calendar, system) = (&model.shop.calendar, model.shop.system);
    let report = &state.data.as_ref()?.report;
    let rows = state.rows();
    let (title, lines) = match rows.get(state.mark)? {
        Row::Bar(bar) => {
            let defects = bar.defects.iter().filter_map(|n| report.defects.get(*n));
            (
                format!("{} {}, defects: {}", state.by.word(), bar.name(), bar.count),
                defects
                    .map(|d| of_piece(&d.serial, d.line(calendar, system)))
                    .collect(),
            )
        }
        Row::First => (
            "pieces inspected".to_owned(),
            report
                .inspected
                .iter()
                .map(|p| of_piece(&p.serial, p.line()))
                .collect(),
        ),
        Row::Rework(rate) => (
            format!("reworks of {}", rate.recipe),
            rate.opened
                .iter()
                .map(|(serial, entry, code)| {
                    of_piece(serial, format!("{serial}: rework {code}, entry {entry}"))
                })
                .collect(),
        ),
        Row::Chart(chart) => {
            // The newest first: it is what somebody asks about.
            let points = chart.points.iter().rev();
            let lines: Vec<Behind> = points
                .map(|p| Behind {
                    serials: p.serials.clone(),
                    text: chart.point_line(p, calendar, system),
                })
                .collect();
            (chart.title(), lines)
        }
    };
    let lines = if lines.is_empty() {
        let text = "nothing is recorded here".to_owned();
        let serials = Vec::new();
        vec![Behind { serials, text }]
    } else {
        lines
    };
    let mark = 0;
    Some(Level { title, lines, mark })
}
