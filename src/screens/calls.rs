//! What the shop's rules call out to the person at the terminal: one line above the page, the bell once, one key to take
//! note, and one to put it off.
//!
//! *Invariants*: the bell is claimed in the record before it rings, so that one event rings for one person once, at
//! whatever terminal; only what was shown is taken note of or put off.
//!
//! *Not here*: what is worth telling (`reports::lookout`), whom a rule means (`alerts`).

use super::model::{Model, Note, Page, Then};
use super::msg::Effect;
use super::update::{blame, reload, say, who};
use crate::alerts::{Alert, Listener, on_screen};
use crate::ledger::{Claim, Who};
use crate::shop::alert::{AlertKey, AlertRule};
use crate::shop::words::Role;
use crate::units::Span;

/// What is worth telling now, as the ledger answered it after the floor; empty where another moment was asked for.
#[derive(Debug, Clone)]
pub struct Calls {
    /// What holds.
    pub alerts: Vec<Alert>,
    /// The rules for the screens.
    pub rules: Vec<AlertRule>,
    /// The people of the list with their roles.
    pub people: Vec<(String, Role)>,
}

impl Calls {
    /// Nothing.
    pub const NONE: Self = Self {
        alerts: Vec::new(),
        rules: Vec::new(),
        people: Vec::new(),
    };
}

/// Takes in what is called out to the person at this terminal, and has the bell claimed where it is new to them.
pub(super) fn heard(model: &mut Model) -> Vec<Effect> {
    let calls = &model.worth_telling;
    let person = model.person.as_deref();
    let listed = calls
        .people
        .iter()
        .find(|(p, _)| Some(p.as_str()) == person);
    let listener = Listener {
        person,
        role: listed.map(|(_, role)| *role),
        station: &model.shop.station,
    };
    let lines = on_screen(
        &calls.alerts,
        &calls.rules,
        &listener,
        model.now,
        &model.shop.calendar,
    );
    let claims: Vec<Claim> = lines.iter().filter_map(|l| l.ring.clone()).collect();
    model.calls = lines;
    if claims.is_empty() {
        return Vec::new();
    }
    // A station that nobody stands at is rung for by the program itself.
    let nobody = || Who {
        person: "screen".to_owned(),
        writer: "screen".to_owned(),
        station: model.shop.station.clone(),
    };
    vec![Effect::Ring {
        who: who(model).unwrap_or_else(nobody),
        claims,
    }]
}

/// For how long an alert is put off by its key or tag; another time is typed as a command.
pub const LATER: Span = Span::minutes(30);

/// Takes note of the alert that is shown.
pub(super) fn take_note(model: &mut Model) -> Vec<Effect> {
    of_shown(model, |who, key| Effect::TakeNote {
        who,
        keys: vec![key],
    })
}

/// Puts the alert that is shown off.
pub(super) fn put_off(model: &mut Model) -> Vec<Effect> {
    of_shown(model, |who, key| Effect::PutOff {
        who,
        key,
        span: LATER,
    })
}

// What somebody does about the alert that is shown; who it is, is asked first where nobody stands here.
fn of_shown(model: &mut Model, deed: impl Fn(Who, AlertKey) -> Effect) -> Vec<Effect> {
    let Some(line) = model.calls.first() else {
        return blame(
            model,
            "nothing is called out to you here; \"hangtime alert\" lists all",
        );
    };
    if let Some(who) = who(model) {
        return vec![deed(who, line.key.clone())];
    }
    model.stack.push(Page::Initials {
        typed: String::new(),
        then: Then::Stay,
    });
    Vec::new()
}

/// Says that it was taken note of or put off, and asks what is left.
pub(super) fn noted(model: &mut Model, answer: Result<String, String>) -> Vec<Effect> {
    match answer {
        Ok(text) => say(model, text),
        Err(text) => model.note = Some(Note::Fault(text)),
    }
    reload(model)
}
