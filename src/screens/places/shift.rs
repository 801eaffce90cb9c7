//! The shift: what can be done by when, and what stands in the way.
//!
//! *Invariants*: the list is made from the floor and from what the ledger answered for the same moment; the mark stays on
//! what it was on when the list is made anew.

use crate::ledger::{AtRisk, DeviationRow, RoomHooksRow, Target};
use crate::reports::day_list::{DayList, Facts, On, Part, Row, lines as page};
use crate::screens::keys::Action;
use crate::screens::model::{Asking, Model, Note, Page, Spoken, Which, WordOn, rack_of};
use crate::screens::msg::Effect;
use crate::shop::hours::Hours;
use crate::shop::text::place_like;
use crate::shop::words::{Rule, Word as _};
use crate::units::Moment;

/// What the ledger answered beside the floor.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// The hours that it goes by.
    pub hours: Hours,
    /// The pairs that cannot meet in time.
    pub risk: AtRisk,
    /// The deviations that await a word.
    pub deviations: Vec<DeviationRow>,
    /// The rooms that are known.
    pub rooms: Vec<String>,
    /// Their hooks, where they are entered.
    pub hooks: Vec<RoomHooksRow>,
    /// Initials of the supervisors in the people list.
    pub supervisors: Vec<String>,
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Data>,
    /// The list that is made of it and of the floor.
    pub list: Option<DayList>,
    /// Which part is listed, by its place in [`Part::ALL`].
    pub part: usize,
    /// Line of the mark.
    pub mark: usize,
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            list: None,
            part: 0,
            mark: 0,
        }
    }

    /// The part that is listed.
    pub fn part(&self) -> Part {
        Part::ALL.get(self.part).copied().unwrap_or(Part::Work)
    }
}

/// Makes the list anew from what is known, once both answers are there.
pub(in crate::screens) fn arrange(model: &mut Model) {
    let at = marked_row(model).map(|r| (r.on.clone(), r.lead.clone()));
    let (Some(data), Some(floor)) = (&model.places.shift.data, &model.floor.data) else {
        return;
    };
    // The two come one after the other: a list of two moments would be none.
    if data.at != floor.at {
        return;
    }
    let facts = Facts {
        floor: &floor.seen,
        risk: &data.risk,
        deviations: &data.deviations,
        rooms: &data.rooms,
        hooks: &data.hooks,
        hours: (&data.hours, false),
    };
    let list = DayList::of(&facts, floor.at, &model.shop.calendar);
    model.places.shift.list = Some(list);
    let again = at.and_then(|(on, lead)| {
        let rows = rows(model);
        let same = rows.iter().position(|r| r.on == on && r.lead == lead);
        same.or_else(|| rows.iter().position(|r| r.on == on))
    });
    let bottom = rows(model).len().saturating_sub(1);
    let mark = &mut model.places.shift.mark;
    *mark = again.unwrap_or(*mark).min(bottom);
}

/// The rows of the part that is listed, as the filters leave them.
pub(in crate::screens) fn rows(model: &Model) -> Vec<&Row> {
    rows_of(model, model.places.shift.part())
}

/// The rows of a part, as the filters leave them.
pub(in crate::screens) fn rows_of(model: &Model, part: Part) -> Vec<&Row> {
    let state = &model.places.shift;
    let find = model.floor.find.to_lowercase();
    let Some(list) = &state.list else {
        return Vec::new();
    };
    list.rows(part)
        .iter()
        .filter(|r| match model.floor.which {
            Which::All => true,
            Which::Only(outlook) => r.outlook.is_none_or(|o| o == outlook),
        })
        .filter(|r| {
            find.is_empty()
                || r.keys.contains(&find)
                || r.lead.iter().any(|t| t.to_lowercase().contains(&find))
        })
        .collect()
}

/// The row under the mark.
pub(in crate::screens) fn marked_row(model: &Model) -> Option<&Row> {
    let rows = rows(model);
    let last = rows.len().checked_sub(1)?;
    rows.get(model.places.shift.mark.min(last)).copied()
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    rows(model).len()
}

/// The rack or piece that its mark lies on.
pub(in crate::screens) fn marked(model: &Model) -> Option<Target> {
    match &marked_row(model)?.on {
        On::Rack(rack) => Some(Target::Rack(rack.clone(), None)),
        On::Piece(serial) | On::Pair(serial) | On::Deviation { serial, .. } => {
            Some(Target::Pieces(vec![serial.clone()]))
        }
        On::Room(_) => None,
    }
}

/// The pieces that hold back the rack under the mark.
pub(in crate::screens) fn blockers(model: &Model) -> Vec<String> {
    marked_row(model).map_or_else(Vec::new, |r| r.blockers.clone())
}

/// The name of a room that is known, whatever its letters were typed as.
pub(in crate::screens) fn room(model: &Model, typed: &str) -> Option<String> {
    let data = model.places.shift.data.as_ref();
    let known = data
        .map_or(&[][..], |d| &d.rooms)
        .iter()
        .map(String::as_str);
    let seen = model.floor.seen().iter();
    let there = seen.filter_map(|s| s.now.place().and_then(|p| p.room.as_deref()));
    place_like(known.chain(there), typed).map(str::to_owned)
}

/// Whether these initials are a supervisor's: then a word given here is theirs, and it is not asked whose it is.
pub(in crate::screens) fn supervises(model: &Model, initials: &str) -> bool {
    let data = model.places.shift.data.as_ref();
    data.is_some_and(|d| d.supervisors.iter().any(|s| s == initials))
}

/// The next part, or the one before.
pub(in crate::screens) fn turn(model: &mut Model, forward: bool) -> Vec<Effect> {
    let n = Part::ALL.len();
    let state = &mut model.places.shift;
    let by = if forward { 1 } else { n - 1 };
    state.part = (state.part + by) % n;
    state.mark = 0;
    Vec::new()
}

/// Begins a supervisor's word on what the mark lies on.
pub(in crate::screens) fn speak(model: &mut Model, action: Action) -> Vec<Effect> {
    let on = match action {
        Action::Lift => hold(model),
        _ => deviation(model),
    };
    match on {
        Ok(on) => model.stack.push(Page::Word(Box::new(Spoken {
            on,
            word: String::new(),
            initials: model.person.clone().unwrap_or_default(),
            pin: String::new(),
            asking: Asking::Word,
        }))),
        Err(text) => model.note = Some(Note::Fault(text)),
    }
    Vec::new()
}

// The hold of the marked piece, or of the one piece on the marked rack that is held.
fn hold(model: &Model) -> Result<WordOn, String> {
    let held = |serial: &str| {
        let seen = model.floor.seen().iter();
        let mut held = seen.filter(|s| !s.now.holds.is_empty());
        held.any(|s| s.now.piece.serial == serial)
    };
    match marked(model) {
        Some(Target::Pieces(list)) => match list.first() {
            Some(serial) if held(serial) => Ok(WordOn::Lift {
                serial: serial.clone(),
            }),
            _ => Err(format!("{} is not on hold", list.join(", "))),
        },
        Some(Target::Rack(rack, _)) => {
            let seen = model.floor.seen().iter();
            let held: Vec<&str> = seen
                .filter(|s| rack_of(s) == rack && !s.now.holds.is_empty())
                .map(|s| s.now.piece.serial.as_str())
                .collect();
            match held.as_slice() {
                [one] => Ok(WordOn::Lift {
                    serial: (*one).to_owned(),
                }),
                [] => Err(format!("nothing on rack {rack} is on hold")),
                many => Err(format!(
                    "{} pieces of rack {rack} are on hold: {}; scan the one that is meant",
                    many.len(),
                    many.join(", ")
                )),
            }
        }
        None => Err("the mark lies on no rack and no piece".to_owned()),
    }
}

// The marked deviation, or the first one of the marked piece.
fn deviation(model: &Model) -> Result<WordOn, String> {
    let wanted = match marked_row(model).map(|r| &r.on) {
        Some(On::Deviation { entry, rule, .. }) => Some((Some((*entry, *rule)), None)),
        Some(On::Piece(serial) | On::Pair(serial)) => Some((None, Some(serial))),
        _ => None,
    };
    let Some((exact, serial)) = wanted else {
        return Err("the mark lies on no deviation; Tab goes to them".to_owned());
    };
    let data = model.places.shift.data.as_ref();
    data.map_or(&[][..], |d| &d.deviations)
        .iter()
        .filter_map(|d| {
            let rule = Rule::from_word(&d.rule)?;
            Some((d, rule))
        })
        .find(|(d, rule)| match exact {
            Some(exact) => exact == (d.entry.0, *rule),
            None => serial == Some(&d.serial),
        })
        .map(|(d, rule)| WordOn::Answer {
            entry: d.entry.0,
            rule,
            text: d.text.clone(),
        })
        .ok_or_else(|| "no deviation of this piece is left unanswered".to_owned())
}

/// Writes the day's list as a page to print.
pub(in crate::screens) fn print(model: &mut Model) -> Vec<Effect> {
    let calendar = &model.shop.calendar;
    let Some(list) = &model.places.shift.list else {
        model.note = Some(Note::Fault("the list is not there yet".to_owned()));
        return Vec::new();
    };
    let mut lines = vec![model.shop.name.clone()];
    if model.shop.demo {
        lines.insert(0, "DEMO".to_owned());
    }
    let doubted = model.floor.data.as_ref().and_then(|d| d.doubted.clone());
    lines.extend(doubted);
    lines.extend(page(list, calendar));
    let stamp = calendar.local(list.at).format("%Y-%m-%d-%H%M");
    vec![Effect::WritePage {
        name: format!("day-list-{stamp}"),
        lines,
    }]
}
