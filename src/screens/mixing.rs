//! Another mix like the newest one, the top-up of it, and the end of its pot: one number, and the same parts in the same
//! ratio.
//!
//! *Invariants*: the parts that are shown are the parts that are saved; a number that is no volume saves nothing.

use super::model::{MixWork, Mixing, Model, Note, Page, Then};
use super::msg::Effect;
use super::places::{Place, booth};
use super::update::{blame, reload, say, ticket, who};
use crate::ledger::{MixRow, PotLevel};
use crate::reports::book::litres;
use crate::reports::booth::offered;
use crate::reports::stock::left_words;
use crate::shop::material::{Pour, scaled};
use crate::units::{Amount, Dimension, System, Volume, show, show_as};

/// The unit in which the volume is typed.
pub(super) fn unit(model: &Model) -> &'static str {
    show_as(Dimension::Volume, model.shop.system).name
}

/// Asks how much; first whose initials, where they are not known.
pub(super) fn begin(model: &mut Model, work: MixWork) -> Vec<Effect> {
    if model.person.is_none() {
        model.stack.push(Page::Initials {
            typed: String::new(),
            then: Then::Mix { work },
        });
        return Vec::new();
    }
    let Some(like) = like(model, work) else {
        if work != MixWork::Again {
            return blame(
                model,
                "no pot is open: every mix was closed or topped up, or none was made yet",
            );
        }
        return blame(
            model,
            "no mix was made yet that could be made again; write the first one with \"hangtime mix make\"",
        );
    };
    let mix = like.mix;
    model.stack.push(Page::Mixing(Box::new(Mixing {
        like,
        work,
        typed: String::new(),
        pot: None,
    })));
    typed(model);
    if work != MixWork::Close {
        return Vec::new();
    }
    model.page_ticket = ticket(model);
    vec![Effect::LookPot {
        ticket: model.page_ticket,
        mix,
    }]
}

/// What the log leaves in the pot that is to be closed.
pub(super) fn pot(model: &mut Model, answer: Result<(PotLevel, u32), String>) -> Vec<Effect> {
    match answer {
        Ok(pot) => {
            if let Some(Page::Mixing(mixing)) = model.stack.last_mut() {
                mixing.pot = Some(pot);
                typed(model);
            }
            Vec::new()
        }
        Err(text) => {
            if matches!(model.stack.last(), Some(Page::Mixing(_))) {
                model.stack.pop();
            }
            blame(model, text)
        }
    }
}

/// The mix that is made again: at the booth the one that stands there for the marked rack, elsewhere the newest. Only an open
/// pot is topped up or closed.
pub(super) fn like(model: &Model, work: MixWork) -> Option<MixRow> {
    let mixes = &model.floor.data.as_ref()?.mixes;
    let marked = booth::rows(model);
    let marked = (model.place == Place::Booth)
        .then(|| marked.get(model.places.booth.mark.min(marked.len().saturating_sub(1))))
        .flatten();
    let offered = marked.and_then(|next| offered(mixes, next.asked()));
    let newest = mixes.iter().find(|m| m.open || work == MixWork::Again);
    offered.or(newest).cloned()
}

// The parts by what was typed, and the volume in all.
fn parts(mixing: &Mixing, system: System) -> Result<(Vec<Pour>, Volume), String> {
    let unit = show_as(Dimension::Volume, system).name;
    let total = if mixing.typed.is_empty() {
        mixing.like.volume
    } else {
        Volume::read(&mixing.typed, Some(unit)).map_err(|e| e.to_string())?
    };
    let parts = scaled(&mixing.like.parts, total);
    match parts.iter().find(|p| p.volume.0 <= 0) {
        Some(part) => Err(format!(
            "{} {unit} in all leaves nothing of {}; type more",
            mixing.typed, part.lot
        )),
        None => Ok((parts, total)),
    }
}

// What was measured to be left; `None` where nothing was typed.
fn left(mixing: &Mixing, system: System) -> Result<Option<Volume>, String> {
    if mixing.typed.is_empty() {
        return Ok(None);
    }
    let unit = show_as(Dimension::Volume, system).name;
    Volume::read(&mixing.typed, Some(unit))
        .map(Some)
        .map_err(|e| e.to_string())
}

/// A digit came or went: what would be made is said anew.
pub(super) fn typed(model: &mut Model) {
    let Some(Page::Mixing(mixing)) = model.stack.last() else {
        return;
    };
    let system = model.shop.system;
    if mixing.work == MixWork::Close {
        model.note = Some(match left(mixing, system) {
            Ok(None) => Note::Said(match &mixing.pot {
                None => format!("pot of mix {}: asking the ledger ...", mixing.like.mix),
                Some((pot, unknown)) => format!(
                    "{}; type what is really there, or Enter counts {} as left over in the month's book",
                    left_words(pot, *unknown, system),
                    litres(pot.left(), system)
                ),
            }),
            Ok(Some(left)) => {
                let log = mixing.pot.map_or_else(String::new, |(pot, _)| {
                    format!(" ({} by the log)", litres(pot.left(), system))
                });
                Note::Said(format!(
                    "pot of mix {} closed, {} left{log}: Enter counts that as left over in the month's book",
                    mixing.like.mix,
                    litres(left, system)
                ))
            }
            Err(text) => Note::Fault(text),
        });
        return;
    }
    model.note = Some(match parts(mixing, system) {
        Ok((parts, total)) => {
            let unit = show_as(Dimension::Volume, system);
            // One decimal, so that a little retarder in a small pot still reads as what it is.
            let volume = |v: Volume| show(v.base(), unit, 1);
            let list: Vec<String> = parts
                .iter()
                .map(|p| format!("{} {}", volume(p.volume), p.lot))
                .collect();
            Note::Said(format!(
                "{}: {} = {}",
                mixing.like.name,
                list.join(" + "),
                volume(total)
            ))
        }
        Err(text) => Note::Fault(text),
    });
}

/// Enter: makes what is shown.
pub(super) fn enter(model: &mut Model) -> Vec<Effect> {
    let Some(Page::Mixing(mixing)) = model.stack.last() else {
        return Vec::new();
    };
    let mixing = mixing.clone();
    if mixing.work == MixWork::Close {
        let left = match left(&mixing, model.shop.system) {
            Ok(left) => left,
            Err(text) => return blame(model, text),
        };
        // What was not shown is not counted.
        if left.is_none() && mixing.pot.is_none() {
            return Vec::new();
        }
        let Some(who) = who(model) else {
            return Vec::new();
        };
        model.stack.pop();
        return vec![Effect::ClosePot {
            who,
            mix: mixing.like.mix,
            left,
        }];
    }
    let parts = match parts(&mixing, model.shop.system) {
        Ok((parts, _)) => parts,
        Err(text) => return blame(model, text),
    };
    let Some(who) = who(model) else {
        return Vec::new();
    };
    // Taken off at once, so that a second Enter makes no second mix.
    model.stack.pop();
    vec![Effect::Mix {
        who,
        name: mixing.like.name,
        parts,
        parent: (mixing.work == MixWork::TopUp).then_some(mixing.like.mix),
    }]
}

/// What came of it.
pub(super) fn made(model: &mut Model, answer: Result<String, String>) -> Vec<Effect> {
    match answer {
        Ok(text) => say(model, text),
        Err(text) => model.note = Some(Note::Fault(text)),
    }
    reload(model)
}
