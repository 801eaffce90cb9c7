//! What a scanned control tag does on the page that is open.
//!
//! *Invariants*: a control does what its key does there, or says in one line why nothing came of it; a scan never saves
//! what was not shown.

use super::{
    another, blame, deed, flaw, flawed, go, look_undo, pressed, preview, quit, read_cautions, say,
    yes,
};
use crate::ledger::Target;
use crate::screens::calls;
use crate::screens::keys::{Key, Mode};
use crate::screens::model::{DeedKey, Log, Model, Page, Stage};
use crate::screens::msg::Effect;
use crate::screens::places::Place;
use crate::screens::store::MIXES;
use crate::shop::control::Control;
use crate::shop::words::Defect;

/// Does what a control stands for.
pub(super) fn act(model: &mut Model, control: &Control) -> Vec<Effect> {
    let mode = model.mode();
    match control {
        _ if mode == Mode::Saving => blame(model, "still saving; scan it again"),
        Control::Confirm => confirm(model, mode),
        Control::Leave => pressed(model, Key::Esc),
        Control::Undo | Control::Quit | Control::Flaw(_) | Control::Note | Control::Later
            if asks(mode) =>
        {
            answer_first(model, control)
        }
        Control::Undo => look_undo(model),
        Control::Coat => begin(model, mode, control, DeedKey::Coat),
        Control::Sand => begin(model, mode, control, DeedKey::Sand),
        Control::Work => begin(model, mode, control, DeedKey::Work),
        Control::Ago(minutes) => ago(model, mode, control, i64::from(*minutes)),
        Control::Everyone if mode == Mode::Confirm => pressed(model, Key::Char('x')),
        Control::Another if matches!(mode, Mode::Same | Mode::Taken | Mode::UndoAnyway) => {
            another(model)
        }
        Control::Why(reason) if mode == Mode::Why => {
            let digit = char::from_digit(u32::from(reason.digit()), 10).unwrap_or('1');
            pressed(model, Key::Char(digit))
        }
        Control::Everyone | Control::Another | Control::Why(_) => blame(
            model,
            format!("\"{}\" belongs to no question here", control.says()),
        ),
        Control::Flaw(defect) => flaw_on(model, *defect),
        Control::By(initials) => by(model, mode, initials),
        Control::Mix(mix) => cup(model, mode, control, *mix),
        Control::Cautions if matches!(mode, Mode::Booth | Mode::Confirm) => read_cautions(model),
        Control::Cautions => blame(
            model,
            "go to the booth, or scan what is to be coated; then read what is due there",
        ),
        Control::Note => calls::take_note(model),
        Control::Later => calls::put_off(model),
        Control::Booth => walk(model, control, Place::Booth),
        Control::Floor => walk(model, control, Place::Floor),
        Control::Shift => walk(model, control, Place::Shift),
        Control::Quit => quit(model),
    }
}

// Whether something is asked that another control than its answer must not jump over.
const fn asks(mode: Mode) -> bool {
    matches!(
        mode,
        Mode::Minutes
            | Mode::Same
            | Mode::Taken
            | Mode::Initials
            | Mode::Word
            | Mode::Pin
            | Mode::Undo
            | Mode::UndoAnyway
            | Mode::Quit
            | Mode::Fate
    )
}

fn answer_first(model: &mut Model, control: &Control) -> Vec<Effect> {
    blame(
        model,
        format!(
            "\"{}\" was not taken: answer the question first",
            control.says()
        ),
    )
}

fn confirm(model: &mut Model, mode: Mode) -> Vec<Effect> {
    match mode {
        Mode::Confirm | Mode::Receipt | Mode::Why => yes(model),
        mode if asks(mode) => pressed(model, Key::Enter),
        _ => blame(
            model,
            "nothing is shown that could be saved; scan a rack or a piece, then what was done",
        ),
    }
}

fn begin(model: &mut Model, mode: Mode, control: &Control, key: DeedKey) -> Vec<Effect> {
    match mode {
        Mode::Card | Mode::Choose | Mode::Confirm => deed(model, key),
        mode if asks(mode) => answer_first(model, control),
        _ => blame(
            model,
            format!("{}: of what? scan a rack or a piece first", control.says()),
        ),
    }
}

// The defect of the one piece that is open, from its card, its page or its receipt.
fn flaw_on(model: &mut Model, defect: Defect) -> Vec<Effect> {
    let one = match model.stack.last() {
        Some(Page::Card(_)) => true,
        Some(Page::Log(log)) => matches!(&log.target, Target::Pieces(list) if list.len() == 1),
        _ => false,
    };
    if !one {
        return blame(model, "scan the piece first, then its defect");
    }
    if model.mode() != Mode::Defect {
        let effects = flaw(model);
        if model.mode() != Mode::Defect {
            return effects;
        }
    }
    flawed(model, defect)
}

fn ago(model: &mut Model, mode: Mode, control: &Control, minutes: i64) -> Vec<Effect> {
    match (mode, model.log_mut()) {
        (Mode::Choose, Some(log)) => {
            log.minutes = minutes;
            say(model, control.says());
            Vec::new()
        }
        (Mode::Confirm | Mode::Minutes, Some(log)) => {
            log.minutes = minutes;
            log.stage = if log.deed.is_some() {
                Stage::Confirm
            } else {
                Stage::Choose
            };
            preview(model)
        }
        _ => blame(
            model,
            format!(
                "\"{}\": of what? scan a rack or a piece first",
                control.says()
            ),
        ),
    }
}

// Who is at the terminal from now on; a line that is shown is asked for anew with the new name.
fn by(model: &mut Model, mode: Mode, initials: &str) -> Vec<Effect> {
    match model.stack.last_mut() {
        Some(Page::Initials { typed, .. }) => {
            initials.clone_into(typed);
            return yes(model);
        }
        Some(Page::Word(spoken)) if mode == Mode::Word && !spoken.word.is_empty() => {
            initials.clone_into(&mut spoken.initials);
            return Vec::new();
        }
        _ => {}
    }
    model.person = Some(initials.to_owned());
    say(model, format!("{initials} is at the terminal"));
    if mode == Mode::Confirm {
        preview(model)
    } else {
        Vec::new()
    }
}

fn cup(model: &mut Model, mode: Mode, control: &Control, mix: u32) -> Vec<Effect> {
    let mixes = model.floor.data.as_ref().map(|d| d.mixes.as_slice());
    let mixes = mixes.unwrap_or_default();
    if !mixes.iter().any(|m| m.mix == mix) {
        let older = mixes.last().is_some_and(|oldest| mix < oldest.mix);
        return blame(
            model,
            if older {
                format!(
                    "mix {mix} is older than the newest {MIXES}; type \":coat RACK --mix {mix}\""
                )
            } else {
                format!("mix {mix} was not made")
            },
        );
    }
    match (mode, model.log_mut()) {
        (Mode::Choose | Mode::Confirm, Some(log)) => {
            log.mix = Some(mix);
            if log.deed == Some(DeedKey::Coat) {
                preview(model)
            } else {
                say(model, control.says());
                Vec::new()
            }
        }
        _ => blame(
            model,
            format!("{}: scan a rack or a piece first", control.says()),
        ),
    }
}

fn walk(model: &mut Model, control: &Control, place: Place) -> Vec<Effect> {
    if model.log().is_some_and(Log::unsaved) || asks(model.mode()) {
        return blame(
            model,
            format!(
                "\"{}\" was not taken: a draft is open; save it or leave it first",
                control.says()
            ),
        );
    }
    go(model, place)
}
