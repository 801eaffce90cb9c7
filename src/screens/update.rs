//! The only place that changes what the screens know: *model + message -> model + effects*.
//!
//! *Invariants*: no clock, file, terminal or ledger is touched here; an answer to an older query is dropped; an error
//! is a message line and leaves the draft as it is; nothing is saved that was not shown or that has something against
//! it without a key for it.

mod controls;

use super::ask;
use super::keys::{self, Action, Key, Mode};
use super::model::{
    AsOf, Asking, Card, DeedKey, Done, Figure, Log, Mark, MixWork, Model, Note, Order, Page, Read,
    Row, Spoken, Stage, Then, WordOn,
};
use super::msg::{CardData, Effect, Flood, Msg, Preview, Reopened, Wanted};
use super::places::{self, Place, solvent};
use super::{calls, figures, mixing, prompt, redo, view};
use crate::ledger::{Cup, DeedWhat, DraftFate, Included, Outcome, PlannedPiece, Seen, Target, Who};
use crate::reports::booth::offered;
use crate::reports::cautions::read_line;
use crate::shop::control::Control;
use crate::shop::record::{CoatMore, Fact, Sprayed};
use crate::shop::text::{initials, like, shown, unruly};
use crate::shop::words::{Defect, Reason, Rule, StepKind, Word};
use crate::units::{Moment, Span};
use std::collections::{BTreeMap, BTreeSet};

/// Longest text that a scan line or a field takes.
const LONGEST: usize = 40;

/// Longest word of a supervisor that is typed here; the ledger keeps up to 200 characters.
const LONGEST_WORD: usize = 120;

/// Most minutes that a deed may lie back on the screens: a day, as more is written by command with its full time.
pub(super) const MOST_MINUTES: i64 = 1_440;

/// A tag that is read again sooner than this was read by the same pull of the trigger; ours, no source. A hand needs
/// longer to look at what came of a scan.
const REREAD: Span = Span::seconds(1);

/// Takes a message into the model and says what is to be done.
pub fn update(model: &mut Model, msg: Msg) -> Vec<Effect> {
    let person = model.person.clone();
    let mut effects = taken(model, msg);
    // Another person is called out to by other rules.
    if model.person != person {
        effects.extend(calls::heard(model));
    }
    effects
}

fn taken(model: &mut Model, msg: Msg) -> Vec<Effect> {
    match msg {
        Msg::Now(now) => {
            let minute = |m: Moment| m.0.div_euclid(60_000);
            let turned = minute(now) != minute(model.now);
            model.now = now;
            if turned { refresh(model) } else { Vec::new() }
        }
        Msg::Size(columns, rows) => {
            model.size = (columns, rows);
            scroll(model, 0);
            Vec::new()
        }
        Msg::Key(key) => {
            model.note = None;
            model.read = None;
            pressed(model, key)
        }
        Msg::Burst(text) => {
            if reread(model, &text) {
                return Vec::new();
            }
            model.note = None;
            model.read = Some(Read {
                text: text.clone(),
                at: model.now,
                said: None,
            });
            let effects = burst(model, &text);
            if let Some(read) = &mut model.read {
                read.said.clone_from(&model.note);
            }
            effects
        }
        Msg::Half(text) => {
            model.note = None;
            model.read = None;
            half(model, &text)
        }
        Msg::Pasted(text) => {
            model.note = None;
            model.read = None;
            pasted(model, &text)
        }
        Msg::TooMuch(count, flood) => {
            model.read = None;
            let text = match flood {
                Flood::Pasted => format!(
                    "{count} characters were pasted, more than {}; nothing of them was taken",
                    prompt::LONGEST
                ),
                Flood::Unended => format!(
                    "a paste began and its end did not come; nothing of its {count} characters was taken"
                ),
                Flood::Keys => format!(
                    "{count} keys came without a pause, more than {}; nothing after their first line was taken",
                    super::run::MOST
                ),
            };
            blame(model, text)
        }
        Msg::Changed => refresh(model),
        Msg::Floor(ticket, answer) => {
            if ticket == model.floor_ticket {
                match answer {
                    Ok(data) => {
                        model.floor.data = Some(*data);
                        model.floor.widest = view::widest(model);
                        model.floor.arrange();
                        places::shift::arrange(model);
                        return vec![Effect::LoadCalls { ticket }];
                    }
                    Err(text) => model.note = Some(Note::Fault(text)),
                }
            }
            Vec::new()
        }
        Msg::Called(ticket, answer) => {
            if ticket != model.floor_ticket {
                return Vec::new();
            }
            match answer {
                Ok(calls) => {
                    model.worth_telling = *calls;
                    calls::heard(model)
                }
                Err(text) => {
                    model.note = Some(Note::Fault(text));
                    Vec::new()
                }
            }
        }
        Msg::Ring => vec![Effect::Bell],
        Msg::Noted(answer) => calls::noted(model, answer),
        Msg::Place(ticket, answer) => {
            if ticket == model.place_ticket {
                match answer {
                    Ok(data) => {
                        model.places.take_in(*data);
                        places::shift::arrange(model);
                    }
                    Err(text) => {
                        model.places.plan.waits = false;
                        model.note = Some(Note::Fault(text));
                    }
                }
            }
            Vec::new()
        }
        Msg::PlanStands(ticket) => {
            if ticket == model.place_ticket {
                model.places.plan.waits = false;
            }
            Vec::new()
        }
        Msg::Card(ticket, answer) => {
            if ticket == model.page_ticket {
                match answer {
                    Ok(data) => {
                        if let Some(card) = model.card_mut() {
                            card.data = Some(data);
                        }
                        scroll(model, 0);
                    }
                    Err(text) => model.note = Some(Note::Fault(text)),
                }
            }
            Vec::new()
        }
        Msg::Previewed(ticket, answer) if ticket == model.page_ticket => previewed(model, answer),
        Msg::Looked(ticket, answer) if ticket == model.page_ticket => ask::looked(model, answer),
        Msg::Pot(ticket, answer) if ticket == model.page_ticket => mixing::pot(model, answer),
        Msg::Previewed(..) | Msg::Looked(..) | Msg::Pot(..) => Vec::new(),
        Msg::Did(answer) => ask::done(model, answer),
        Msg::PageWritten(answer) => {
            model.note = Some(match answer {
                Ok(text) => Note::Said(text),
                Err(text) => Note::Fault(text),
            });
            Vec::new()
        }
        Msg::Saved(answer) => saved(model, answer),
        Msg::UndoLooked(answer) => {
            match answer {
                Ok((Some(action), stays)) => {
                    if let Some(why) = stays {
                        say(model, why);
                    }
                    model.stack.push(Page::Undo {
                        action,
                        built_on: None,
                    });
                }
                Ok((None, stays)) => {
                    let person = model.person.clone().unwrap_or_default();
                    let stays = stays.map_or_else(String::new, |why| format!("; {why}"));
                    say(
                        model,
                        format!(
                            "{person} has nothing to undo at station {}{stays}",
                            model.shop.station
                        ),
                    );
                }
                Err(text) => model.note = Some(Note::Fault(text)),
            }
            Vec::new()
        }
        Msg::Undone(answer) => undone(model, answer),
        Msg::Explained(answer) => {
            match answer {
                Ok(reason) => say(model, format!("reason kept: {}", reason.word())),
                Err(text) => {
                    if let Some(Stage::Done(done)) = model.log_mut().map(|l| &mut l.stage) {
                        done.reason = None;
                    }
                    model.note = Some(Note::Fault(text));
                }
            }
            reload(model)
        }
        Msg::Ran(ticket, ran) => {
            if ticket == model.command_ticket {
                prompt::ended(model, *ran);
            }
            reload(model)
        }
        Msg::PinAsked => {
            match model.stack.last_mut() {
                Some(Page::Word(spoken)) => spoken.asking = Asking::Pin,
                Some(Page::Book(form)) => form.asking = Asking::Pin,
                _ => {}
            }
            Vec::new()
        }
        Msg::WordKept(answer) => word_kept(model, answer),
        Msg::Mixed(answer) => mixing::made(model, answer),
        Msg::SignLooked(answer) => {
            solvent::sign_looked(model, answer);
            Vec::new()
        }
        Msg::BookKept(answer) => {
            solvent::kept(model, answer);
            reload(model)
        }
        Msg::Fate(fate) => {
            match fate.map(|f| *f) {
                None => {}
                Some(DraftFate::Saved(draft, _)) => {
                    say(model, format!("last saved: {}", draft.line));
                }
                Some(DraftFate::NotSaved(draft)) => match redo::wanted(&draft.words, &draft.id) {
                    Some(wanted) => model
                        .stack
                        .push(Page::Fate(Box::new(Reopened { draft, wanted }))),
                    None => model.note = Some(Note::Fault(format!("not saved: {}", draft.line))),
                },
            }
            Vec::new()
        }
        Msg::Fault(text) => {
            model.note = Some(Note::Fault(text));
            Vec::new()
        }
        Msg::End => vec![Effect::Quit],
    }
}

pub(super) fn say(model: &mut Model, text: String) {
    model.note = Some(Note::Said(text));
}

pub(super) fn blame(model: &mut Model, text: impl Into<String>) -> Vec<Effect> {
    model.note = Some(Note::Fault(text.into()));
    Vec::new()
}

pub(super) const fn ticket(model: &mut Model) -> u64 {
    model.ticket += 1;
    model.ticket
}

// The minute turned, or others wrote. Quality reads the histories of a month, and the plan plays the whole floor: on a busy
// floor they are asked for again after a while and not with every deed of another terminal.
fn refresh(model: &mut Model) -> Vec<Effect> {
    let fresh = match model.place {
        Place::Quality => places::quality::fresh(model),
        Place::Plan => places::plan::fresh(model),
        _ => false,
    };
    ask_again(model, !fresh)
}

/// Asks for the floor, for the place at the bottom, and for the card that lies open.
pub fn reload(model: &mut Model) -> Vec<Effect> {
    ask_again(model, true)
}

fn ask_again(model: &mut Model, place: bool) -> Vec<Effect> {
    let at = model.at();
    model.floor_ticket = ticket(model);
    let mut effects = vec![Effect::LoadFloor {
        ticket: model.floor_ticket,
        at,
    }];
    if place && model.place != Place::Floor {
        model.place_ticket = ticket(model);
        effects.push(match model.place {
            Place::Solvent => solvent::load(model, model.place_ticket),
            Place::Plan => places::plan::load(model, model.place_ticket, false),
            place => Effect::LoadPlace {
                ticket: model.place_ticket,
                place,
                at,
                system: model.shop.system,
            },
        });
    }
    // A preview that is on its way keeps its number: the card below it is asked for when it is on top again.
    if let Some(Page::Card(card)) = model.stack.last() {
        let serial = card.serial.clone();
        effects.push(load_card(model, serial));
    }
    effects
}

fn load_card(model: &mut Model, serial: String) -> Effect {
    model.page_ticket = ticket(model);
    Effect::LoadCard {
        ticket: model.page_ticket,
        serial,
        at: model.at(),
    }
}

pub(super) fn who(model: &Model) -> Option<Who> {
    model.person.as_ref().map(|person| Who {
        person: person.clone(),
        writer: person.clone(),
        station: model.shop.station.clone(),
    })
}

fn pressed(model: &mut Model, key: Key) -> Vec<Effect> {
    if std::mem::take(&mut model.offered) && matches!(key, Key::Char(_)) {
        model.scan.clear();
    }
    // What lies on the scan line holds nobody up who goes to another page.
    if model.mode() == Mode::Scan && matches!(key, Key::F(_)) {
        model.scan.clear();
    }
    let mode = model.mode();
    let Some(action) = keys::action(mode, key) else {
        return Vec::new();
    };
    let page = isize::try_from(model.size.1.saturating_sub(9).max(1)).unwrap_or(1);
    match action {
        Action::Go(_) if model.log().is_some_and(Log::unsaved) => blame(
            model,
            "a draft is open below this page: Esc goes back to it, save it or leave it first",
        ),
        Action::Go(place) => go(model, place),
        Action::Who => {
            model.stack.push(Page::Initials {
                typed: String::new(),
                then: Then::Stay,
            });
            Vec::new()
        }
        Action::TakeNote => calls::take_note(model),
        Action::PutOff => calls::put_off(model),
        Action::Where => {
            model.stack.push(Page::Go);
            Vec::new()
        }
        Action::Command => {
            prompt::open(model);
            Vec::new()
        }
        Action::Complete => {
            prompt::complete(model);
            Vec::new()
        }
        Action::LineBefore => {
            prompt::recall(model, -1);
            Vec::new()
        }
        Action::LineAfter => {
            prompt::recall(model, 1);
            Vec::new()
        }
        Action::Compare => {
            places::recipes::compare(model);
            Vec::new()
        }
        Action::Older => {
            places::recipes::other(model, 1);
            Vec::new()
        }
        Action::Newer => {
            places::recipes::other(model, -1);
            Vec::new()
        }
        Action::Differing => {
            places::recipes::differing(model);
            Vec::new()
        }
        Action::Up => step(model, -1),
        Action::Down => step(model, 1),
        Action::PageUp => step(model, -page),
        Action::PageDown => step(model, page),
        Action::Top => step(model, isize::MIN / 2),
        Action::Bottom => step(model, isize::MAX / 2),
        Action::Open => open(model),
        Action::Filter => {
            if model.place == Place::Recipes {
                model.places.recipes.finding = true;
            } else {
                model.floor.finding = true;
            }
            Vec::new()
        }
        Action::NextFilter | Action::FilterBefore => {
            let by = if action == Action::NextFilter { 1 } else { 3 };
            model.floor.which = model.floor.which.step(by);
            model.floor.arrange();
            Vec::new()
        }
        Action::Sort => {
            model.floor.order = match model.floor.order {
                Order::Place => Order::ReadyTime,
                Order::ReadyTime => Order::Place,
            };
            model.floor.arrange();
            Vec::new()
        }
        Action::AsOf => {
            model.as_of = model.as_of.next();
            reload(model)
        }
        Action::AskTime | Action::Hold | Action::Split | Action::Move | Action::Reassign => {
            ask::begin(model, action)
        }
        Action::NextPart | Action::PartBefore => {
            let forward = action == Action::NextPart;
            match model.place {
                Place::Quality => places::quality::turn(model, forward),
                Place::Plan => places::plan::turn(model, forward),
                _ => return places::shift::turn(model, forward),
            }
            Vec::new()
        }
        Action::Anew => {
            model.place_ticket = ticket(model);
            vec![places::plan::load(model, model.place_ticket, true)]
        }
        Action::Print => places::shift::print(model),
        Action::Lift | Action::Answer if model.stack.is_empty() => {
            places::shift::speak(model, action)
        }
        Action::Undo => look_undo(model),
        Action::Working => {
            match model.stack.last_mut() {
                Some(Page::Card(card)) => {
                    card.working = !card.working;
                    card.scroll = 0;
                }
                Some(_) => {}
                None => places::air::turn(&mut model.places.air),
            }
            Vec::new()
        }
        Action::Figure => {
            figure(model, key);
            Vec::new()
        }
        Action::NextSection => section(model, true),
        Action::SectionBefore => section(model, false),
        Action::Help => {
            model.stack.push(Page::Help { scroll: 0 });
            Vec::new()
        }
        Action::Quit => quit(model),
        Action::Back => back(model),
        Action::Book(act) => match solvent::act(model, act) {
            solvent::Did::Load => reload(model),
            solvent::Did::Leave => back(model),
            solvent::Did::Effects(effects) => effects,
        },
        Action::Coat => deed(model, DeedKey::Coat),
        Action::Sand => deed(model, DeedKey::Sand),
        Action::Work => deed(model, DeedKey::Work),
        Action::Lift => speak(model, hold_of),
        Action::Answer => speak(model, deviation_of),
        Action::Minutes => {
            if let Some(log) = model.log_mut() {
                log.stage = Stage::Minutes(String::new());
            }
            Vec::new()
        }
        Action::Digit => {
            if let (Some(log), Key::Char(c)) = (model.log_mut(), key) {
                log.figure = Some((Figure::Minutes, c.to_string()));
            }
            figures::typed(model)
        }
        Action::Skip => figures::begin(model, Figure::Skip),
        Action::Hooks => figures::begin(model, Figure::Hooks),
        Action::Amount => figures::begin(model, Figure::Amount),
        Action::Mix => mixing::begin(model, MixWork::Again),
        Action::TopUp => mixing::begin(model, MixWork::TopUp),
        Action::ClosePot => mixing::begin(model, MixWork::Close),
        Action::ReadCautions => read_cautions(model),
        Action::Flaw => flaw(model),
        Action::Code => code(model, key),
        Action::Everyone => {
            if let Some(log) = model.log_mut() {
                log.everyone = !log.everyone;
            }
            preview(model)
        }
        Action::MixBefore => other_mix(model, 1),
        Action::MixAfter => other_mix(model, -1),
        Action::NextBooth => next_booth(model),
        Action::Yes => yes(model),
        Action::Another => another(model),
        Action::Reason => reason(model, key),
        Action::Erase => {
            if let Some(field) = field(model) {
                field.pop();
            }
            if mode == Mode::Figure {
                return figures::typed(model);
            }
            if mode == Mode::Mixing {
                mixing::typed(model);
            }
            model.floor.arrange();
            model.places.recipes.arrange();
            Vec::new()
        }
        Action::Type => {
            if let Key::Char(c) = key {
                typed(model, c);
            }
            if mode == Mode::Figure {
                return figures::typed(model);
            }
            if mode == Mode::Mixing {
                mixing::typed(model);
            }
            Vec::new()
        }
    }
}

// Another place: what lay open above the one before is left, as nothing there was to be saved.
fn go(model: &mut Model, place: Place) -> Vec<Effect> {
    model.stack.clear();
    model.scan.clear();
    model.places.quality.levels.clear();
    model.place = place;
    reload(model)
}

fn field(model: &mut Model) -> Option<&mut String> {
    match model.stack.last_mut() {
        None if model.place == Place::Recipes && model.places.recipes.finding => {
            Some(&mut model.places.recipes.find)
        }
        None if model.floor.finding => Some(&mut model.floor.find),
        None | Some(Page::Card(_)) => Some(&mut model.scan),
        Some(Page::Initials { typed, .. }) => Some(typed),
        Some(Page::Mixing(mixing)) => Some(&mut mixing.typed),
        Some(Page::Ask(asked)) => match asked.step {
            ask::Step::Typing => Some(&mut asked.typed),
            _ => None,
        },
        Some(Page::Command(prompt)) => Some(&mut prompt.typed),
        Some(Page::Word(spoken)) => Some(match spoken.asking {
            Asking::Word => &mut spoken.word,
            Asking::Initials => &mut spoken.initials,
            Asking::Pin => &mut spoken.pin,
        }),
        Some(Page::Log(log)) => match (&mut log.stage, &mut log.figure) {
            (Stage::Minutes(text), _) | (Stage::Choose | Stage::Confirm, Some((_, text))) => {
                Some(text)
            }
            _ => None,
        },
        Some(Page::Book(form)) => Some(form.field()),
        Some(_) => None,
    }
}

// Most characters of what is typed in a mode.
const fn most(mode: Mode) -> usize {
    match mode {
        Mode::Minutes => 4,
        Mode::Figure => 9,
        // Whatever is typed is taken in and judged: a letter that is left out without a word makes another mix.
        Mode::Mixing => 12,
        Mode::Word | Mode::Ask | Mode::Book => LONGEST_WORD,
        Mode::Command => prompt::LONGEST,
        _ => LONGEST,
    }
}

fn typed(model: &mut Model, c: char) {
    let minutes = model.mode() == Mode::Minutes;
    // The decimal mark of half the world's number pads.
    let c = if c == ',' && figures::asks_amount(model) {
        '.'
    } else {
        c
    };
    let parts = |figure| if figure == Figure::Amount { '.' } else { '-' };
    let beside = model.log().and_then(|l| l.figure.as_ref());
    let figure = model.mode() == Mode::Figure
        && !(c.is_ascii_digit() || beside.is_some_and(|(f, _)| parts(*f) == c));
    let most = most(model.mode());
    let leading = model.mode().within().is_some() && c == ' ';
    if unruly(c) || leading || figure || (minutes && !c.is_ascii_digit()) {
        return;
    }
    if let Some(field) = field(model) {
        if field.chars().count() < most {
            field.push(c);
        } else {
            let text = format!("no more than {most} characters fit here; the rest is not taken");
            model.note = Some(Note::Fault(text));
        }
    }
    if model.floor.finding {
        model.floor.arrange();
    }
    model.places.recipes.arrange();
}

fn step(model: &mut Model, by: isize) -> Vec<Effect> {
    match model.place {
        _ if !model.stack.is_empty() => scroll(model, by),
        Place::Floor => {
            let last = model.floor.rows.len().saturating_sub(1);
            model.floor.cursor = model.floor.cursor.saturating_add_signed(by).min(last);
        }
        place => places::step(model, place, by),
    }
    Vec::new()
}

// Moves the top page's first line, and keeps it where there is still something to see.
fn scroll(model: &mut Model, by: isize) {
    let most = view::scroll_limit(model);
    let Some(first) = model.stack.last_mut().and_then(Page::scroll_mut) else {
        return;
    };
    *first = first.saturating_add_signed(by).min(most);
}

// The working of the figure with this digit, where there is one.
fn figure(model: &mut Model, key: Key) {
    let Key::Char(c) = key else { return };
    let Some(at) = c.to_digit(10).and_then(|d| usize::try_from(d).ok()) else {
        return;
    };
    if let Some(Page::Card(card)) = model.stack.last_mut()
        && let Some(data) = &card.data
        && (1..=data.workings.len()).contains(&at)
    {
        card.figure = at - 1;
        card.scroll = 0;
    }
}

// The first line of the next section, or of the one before; after the last comes the first.
fn section(model: &mut Model, forward: bool) -> Vec<Effect> {
    let heads = view::card_sections(model);
    let most = view::scroll_limit(model);
    if let Some(Page::Card(card)) = model.stack.last_mut() {
        let here = card.scroll;
        let found = if forward {
            heads
                .into_iter()
                .map(|h| h.min(most))
                .find(|h| *h > here)
                .unwrap_or(0)
        } else {
            heads
                .into_iter()
                .map(|h| h.min(most))
                .rev()
                .find(|h| *h < here)
                .unwrap_or(0)
        };
        card.scroll = found;
    }
    Vec::new()
}

/// Finds what a scanned or typed text names: a rack, else a piece by serial, tag or last digits.
fn resolve(model: &Model, text: &str) -> Result<Target, String> {
    let text: String = text.chars().filter(|c| !unruly(*c)).collect();
    let text = text.trim();
    let same = |name: &str| name.to_lowercase() == text.to_lowercase();
    // Before the first answer it is not known what is in process.
    if model.floor.data.is_none() {
        return Err(format!(
            "\"{}\" was not taken: what is in process is not read yet; scan it again",
            shown(text)
        ));
    }
    let seen = model.floor.seen();
    let racks = || {
        seen.iter()
            .map(super::model::rack_of)
            .filter(|r| !r.is_empty())
    };
    if let Some(rack) = like(racks(), text) {
        return Ok(Target::Rack(rack.to_owned(), None));
    }
    let several: BTreeSet<&str> = racks().filter(|rack| same(rack)).collect();
    if !several.is_empty() {
        let several: Vec<&str> = several.into_iter().collect();
        return Err(format!(
            "\"{}\" may be {}; type it with its capitals",
            shown(text),
            several.join(" or ")
        ));
    }
    let named =
        |s: &&Seen| same(&s.now.piece.serial) || s.now.piece.tag.as_deref().is_some_and(same);
    let ends = |s: &&Seen| s.now.piece.serial.ends_with(text);
    let digits = text.chars().count() >= 3 && text.chars().all(|c| c.is_ascii_digit());
    let mut found: Vec<&Seen> = seen.iter().filter(named).collect();
    if found.is_empty() && digits {
        found = seen.iter().filter(ends).collect();
    }
    match found.as_slice() {
        [one] => Ok(Target::Pieces(vec![one.now.piece.serial.clone()])),
        [] => Err(format!(
            "nothing in process is called \"{}\"; scan it again, or type the rack, the serial or its last digits",
            shown(text)
        )),
        many => Err(format!(
            "{} pieces end in {text}: {}",
            many.len(),
            many.iter()
                .take(5)
                .map(|s| s.now.piece.serial.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        )),
    }
}

fn open(model: &mut Model) -> Vec<Effect> {
    let scan = std::mem::take(&mut model.scan);
    if !scan.trim().is_empty() {
        return match resolve(model, &scan) {
            Ok(target) => open_target(model, target),
            Err(text) => {
                // What was typed stays on the line, so that one letter can be mended.
                model.scan = scan;
                blame(model, text)
            }
        };
    }
    if model.place == Place::Recipes && model.stack.is_empty() {
        places::recipes::open(model);
        return Vec::new();
    }
    if model.place == Place::Quality && model.stack.is_empty() {
        return match places::quality::open(model) {
            Some(target) => open_target(model, target),
            None => Vec::new(),
        };
    }
    if model.place != Place::Floor && model.stack.is_empty() {
        return match places::marked(model, model.place) {
            Some(target) => open_target(model, target),
            None => match places::without_page(model) {
                Some(text) => blame(model, text),
                None => Vec::new(),
            },
        };
    }
    let target = match model.floor.rows.get(model.floor.cursor).map(Row::mark) {
        Some(Mark::Rack(rack)) if rack.is_empty() => {
            return blame(model, "these pieces hang on no rack; open one of them");
        }
        Some(Mark::Rack(rack)) => Target::Rack(rack, None),
        Some(Mark::Piece(_)) => match model.floor.marked() {
            Some(s) => Target::Pieces(vec![s.now.piece.serial.clone()]),
            None => return Vec::new(),
        },
        None => return Vec::new(),
    };
    open_target(model, target)
}

// The mix that is offered for what most of the pieces have next: the newest that fits it.
fn offered_mix(model: &Model, target: &Target) -> Option<u32> {
    let mixes = model.floor.data.as_ref().map(|d| d.mixes.as_slice());
    offered(mixes.unwrap_or_default(), &members(model, target)).map(|m| m.mix)
}

// The cautions that are due at the booth, by the command that shows them and writes down that they were read.
pub(super) fn read_cautions(model: &mut Model) -> Vec<Effect> {
    if let Some(log) = model.log() {
        let shown = log.shown.as_ref().filter(|s| !s.cautions.is_empty());
        return match shown.map(|s| s.read.clone()) {
            Some(line) => prompt::run_line(model, &line),
            None => blame(model, "no caution is due at it that was not read today"),
        };
    }
    let data = model.places.booth.data.as_ref();
    let Some(booth) = data.and_then(|d| d.at_station(&model.shop.station)) else {
        return blame(model, "no survey, limit or check names a booth yet");
    };
    let cup = mixing::like(model, MixWork::TopUp).map_or(Cup::Unknown, |m| Cup::Mix(m.mix));
    let line = read_line(cup, Some(&booth.name));
    prompt::run_line(model, &line)
}

fn open_target(model: &mut Model, target: Target) -> Vec<Effect> {
    model.scan.clear();
    match &target {
        Target::Pieces(list) => {
            let serial = list.first().cloned().unwrap_or_default();
            let effect = load_card(model, serial.clone());
            model.stack.push(Page::Card(Card {
                serial,
                data: None,
                scroll: 0,
                working: false,
                figure: 0,
            }));
            vec![effect]
        }
        Target::Rack(..) => {
            let mix = offered_mix(model, &target);
            let log = Log::new(target, model.now, mix);
            model.stack.push(Page::Log(Box::new(log)));
            Vec::new()
        }
    }
}

// Whether what a scanner reads goes into a field letter by letter, as a keypad that types as fast would put it.
const fn fills(mode: Mode) -> bool {
    matches!(
        mode,
        Mode::Filter
            | Mode::Seek
            | Mode::Command
            | Mode::Initials
            | Mode::Word
            | Mode::Pin
            | Mode::Ask
            | Mode::Book
    )
}

// Whether the scanner read the same tag once more without a hand in it; then that is said.
fn reread(model: &mut Model, text: &str) -> bool {
    // A number may well be typed twice into a field.
    if fills(model.mode()) {
        return false;
    }
    let now = model.now;
    let soon = |at| (0..REREAD.0).contains(&now.since(at).0);
    let again = model.read.as_mut();
    let Some(read) = again.filter(|r| r.text == text && soon(r.at)) else {
        return false;
    };
    read.at = now;
    // What the ledger answered to the first one meanwhile stays to be read.
    if model.note.is_none() || model.note == read.said {
        let said = Note::Said(format!(
            "\"{}\" was read twice; it was taken once",
            shown(text.trim())
        ));
        read.said = Some(said.clone());
        model.note = Some(said);
    }
    true
}

// What came at once is longer than the line that it would go into: it is said and not cut, as half a name can be another's.
fn too_long(model: &mut Model, text: &str, typed_before: usize) -> Option<Vec<Effect>> {
    let (count, most) = (text.chars().count(), most(model.mode()));
    if typed_before + count <= most {
        return None;
    }
    let text = format!(
        "{count} characters came at once, and the line takes {}; nothing of them was taken",
        most.saturating_sub(typed_before)
    );
    Some(not_taken(model, text))
}

fn typed_before(model: &mut Model) -> usize {
    field(model).map_or(0, |f| f.chars().count())
}

// Half of what a scanner read: it waits on the scan line or in the field that it goes into; elsewhere its letters and
// digits would be keys that nobody pressed. Where an amount was asked for, a number is one, however quickly it came.
fn half(model: &mut Model, text: &str) -> Vec<Effect> {
    if figures::is_amount(model, text) {
        return text
            .chars()
            .flat_map(|c| pressed(model, Key::Char(c)))
            .collect();
    }
    waits(model, text).unwrap_or_else(|| {
        blame(
            model,
            format!(
                "half a tag was read, \"{}\"; nothing came of it, read it again",
                shown(text.trim())
            ),
        )
    })
}

// A pasted text waits where text is typed, as one line, and does nothing by itself.
fn pasted(model: &mut Model, text: &str) -> Vec<Effect> {
    let line: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    waits(model, line.trim()).unwrap_or_else(|| {
        blame(
            model,
            "nothing of what was pasted was taken: no text is typed here",
        )
    })
}

// Puts a text on the scan line or into the field that is typed in; nothing where there is neither.
fn waits(model: &mut Model, text: &str) -> Option<Vec<Effect>> {
    let mode = model.mode();
    if fills(mode) {
        let before = typed_before(model);
        if let Some(said) = too_long(model, text, before) {
            return Some(said);
        }
        let effects = text
            .chars()
            .flat_map(|c| pressed(model, Key::Char(c)))
            .collect();
        return Some(effects);
    }
    if matches!(mode, Mode::Card | Mode::Scan) || mode == model.place.mode() {
        if let Some(said) = too_long(model, text, 0) {
            return Some(said);
        }
        model.scan.clear();
        text.chars().for_each(|c| typed(model, c));
        return Some(Vec::new());
    }
    None
}

fn burst(model: &mut Model, text: &str) -> Vec<Effect> {
    if let Some(control) = Control::of(text) {
        // Half a scan that lies on the line is gone with it.
        model.scan.clear();
        return controls::act(model, &control);
    }
    match model.mode() {
        // What is read into a command is a part of it; Enter is pressed by hand.
        Mode::Filter | Mode::Seek | Mode::Command => {
            let before = typed_before(model);
            if let Some(said) = too_long(model, text, before) {
                return said;
            }
            text.chars().for_each(|c| typed(model, c));
            Vec::new()
        }
        Mode::Initials | Mode::Word | Mode::Pin | Mode::Ask => {
            if let Some(said) = too_long(model, text.trim(), 0) {
                return said;
            }
            if let Some(field) = field(model) {
                text.trim().clone_into(field);
            }
            yes(model)
        }
        Mode::Book => {
            let before = typed_before(model);
            if let Some(said) = too_long(model, text.trim(), before) {
                return said;
            }
            // A number on a drum is one word of several.
            for c in text.trim().chars().chain([' ']) {
                typed(model, c);
            }
            Vec::new()
        }
        Mode::Scan => {
            // Half a scan lies on the line: the whole one replaces it.
            model.scan.clear();
            scanned(model, text)
        }
        Mode::Anywhere
        | Mode::Floor
        | Mode::Booth
        | Mode::Shift
        | Mode::Solvent
        | Mode::Air
        | Mode::Recipes
        | Mode::Wall
        | Mode::Quality
        | Mode::Plan
        | Mode::Go
        | Mode::Sheet
        | Mode::Beside
        | Mode::Output
        | Mode::Card
        | Mode::Working
        | Mode::Choose
        | Mode::Figure
        | Mode::Defect
        | Mode::Receipt
        | Mode::Why
        | Mode::Help
        | Mode::Confirm => scanned(model, text),
        Mode::Minutes
        | Mode::Mixing
        | Mode::Same
        | Mode::Taken
        | Mode::Saving
        | Mode::Agree
        | Mode::Sign
        | Mode::Running
        | Mode::Undo
        | Mode::UndoAnyway
        | Mode::Quit
        | Mode::Fate => not_taken(
            model,
            format!(
                "\"{}\" was not taken: answer the question first",
                shown(text.trim())
            ),
        ),
    }
}

// A tag of which nothing came: whoever reads it again reads it for the first time.
fn not_taken(model: &mut Model, text: String) -> Vec<Effect> {
    model.read = None;
    blame(model, text)
}

fn scanned(model: &mut Model, text: &str) -> Vec<Effect> {
    let target = match resolve(model, text) {
        Ok(target) => target,
        Err(text) => return not_taken(model, text),
    };
    let mut effects = Vec::new();
    if let Some(log) = model.log_mut() {
        figures::keep(log);
    }
    match model.stack.last() {
        Some(Page::Log(log))
            if same(&log.target, &target) && !matches!(log.stage, Stage::Done(_)) =>
        {
            let whom = log.whom();
            say(model, format!("{whom} was read twice; it is open already"));
            return effects;
        }
        Some(Page::Card(card)) if target == Target::Pieces(vec![card.serial.clone()]) => {
            let serial = card.serial.clone();
            say(
                model,
                format!("{serial} was read twice; it is open already"),
            );
            return effects;
        }
        Some(Page::Log(log)) if log.unsaved() => {
            if let (Target::Rack(rack, _), Target::Pieces(list)) = (&log.target, &target)
                && let Some(serial) = list.first()
                && model
                    .floor
                    .on_rack(rack)
                    .any(|s| s.now.piece.serial == *serial)
            {
                let serial = serial.clone();
                return skip(model, &serial);
            }
            let whom = log.whom();
            say(
                model,
                format!("the draft for {whom} was dropped; nothing of it was saved"),
            );
            effects.push(Effect::DropDraft);
        }
        _ => {}
    }
    model.stack.clear();
    effects.extend(open_target(model, target));
    effects
}

// Whether two scans name the same: a part of a rack is open under the rack's own tag.
fn same(open: &Target, scanned: &Target) -> bool {
    match (open, scanned) {
        (Target::Rack(a, _), Target::Rack(b, None)) => a == b,
        (a, b) => a == b,
    }
}

// A piece of the open rack was scanned: it was not worked on, or it was after all.
fn skip(model: &mut Model, serial: &str) -> Vec<Effect> {
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    let text = if let Some(at) = log.skipped.iter().position(|s| s == serial) {
        log.skipped.remove(at);
        format!("{serial} is included again")
    } else {
        log.skipped.push(serial.to_owned());
        format!("{serial} was not worked on; scan it again to include it")
    };
    say(model, text);
    preview(model)
}

fn back(model: &mut Model) -> Vec<Effect> {
    match model.mode() {
        Mode::Floor | Mode::Scan => {
            if model.scan.is_empty() {
                model.floor.find.clear();
                model.floor.arrange();
            }
            model.scan.clear();
            Vec::new()
        }
        Mode::Filter => {
            model.floor.finding = false;
            model.floor.find.clear();
            model.floor.arrange();
            Vec::new()
        }
        Mode::Figure => figures::drop(model),
        Mode::Seek => {
            model.places.recipes.finding = false;
            model.places.recipes.find.clear();
            Vec::new()
        }
        Mode::Recipes if !model.places.recipes.find.is_empty() => {
            model.places.recipes.find.clear();
            Vec::new()
        }
        Mode::Running => vec![Effect::StopRun],
        Mode::Command => {
            model.stack.pop();
            Vec::new()
        }
        Mode::Minutes | Mode::Same | Mode::Taken => {
            if let Some(log) = model.log_mut() {
                log.stage = if log.deed.is_some() {
                    Stage::Confirm
                } else {
                    Stage::Choose
                };
            }
            Vec::new()
        }
        Mode::Confirm | Mode::Fate => {
            model.stack.pop();
            say(model, "the draft was dropped; nothing was saved".to_owned());
            let mut effects = vec![Effect::DropDraft];
            effects.extend(reload(model));
            effects
        }
        Mode::Ask | Mode::Agree => ask::back(model),
        Mode::Shift if !model.floor.find.is_empty() => {
            model.floor.find.clear();
            model.floor.arrange();
            Vec::new()
        }
        Mode::Receipt | Mode::Why => {
            model.stack.clear();
            reload(model)
        }
        Mode::Air if model.places.air.working => {
            places::air::turn(&mut model.places.air);
            Vec::new()
        }
        Mode::Quality if places::quality::back(model) => Vec::new(),
        mode if mode == model.place.mode() => go(model, Place::Floor),
        _ => {
            model.stack.pop();
            let mut effects = reload(model);
            // What was done meanwhile, such as reading a caution, changes what is said beside the line.
            if model.mode() == Mode::Confirm {
                effects.extend(preview(model));
            }
            effects
        }
    }
}

fn quit(model: &mut Model) -> Vec<Effect> {
    if model.log().is_some_and(Log::unsaved) && model.mode() != Mode::Saving {
        model.stack.push(Page::Quit);
        Vec::new()
    } else {
        vec![Effect::Quit]
    }
}

// The deed that a key stands for, on the rack or piece that is open.
pub(super) fn deed(model: &mut Model, key: DeedKey) -> Vec<Effect> {
    if model.person.is_none() {
        model.stack.push(Page::Initials {
            typed: String::new(),
            then: Then::Deed(key),
        });
        return Vec::new();
    }
    if let Some(Page::Card(card)) = model.stack.last() {
        let target = Target::Pieces(vec![card.serial.clone()]);
        let mix = offered_mix(model, &target);
        let log = Log::new(target, model.now, mix);
        model.stack.push(Page::Log(Box::new(log)));
    }
    let work = match key {
        DeedKey::Work => match other_work(model) {
            Ok(kind) => Some(kind),
            Err(text) => {
                // A log that was opened for this key alone has nothing to choose from.
                if let [.., Page::Card(_), Page::Log(_)] = model.stack.as_slice() {
                    model.stack.pop();
                }
                return blame(model, text);
            }
        },
        DeedKey::Coat | DeedKey::Sand | DeedKey::Defect => None,
    };
    let now = model.now;
    if let Some(log) = model.log_mut() {
        log.deed = Some(key);
        log.work = work;
        log.opened = now;
        log.another = false;
        log.figure = None;
        log.stage = Stage::Confirm;
        if key == DeedKey::Defect {
            log.stage = Stage::Code;
            return Vec::new();
        }
    }
    preview(model)
}

// A defect: on the open piece at once, on a rack after its hook was named.
fn flaw(model: &mut Model) -> Vec<Effect> {
    let target = match model.stack.last() {
        Some(Page::Log(log)) => log.target.clone(),
        _ => return deed(model, DeedKey::Defect),
    };
    let mut log = Log::new(target, model.now, None);
    let one = matches!(&log.target, Target::Pieces(list) if list.len() == 1);
    if !one {
        log.figure = Some((Figure::Flawed, String::new()));
    }
    // What was just logged is saved; its receipt gives way.
    model.stack.pop();
    model.stack.push(Page::Log(Box::new(log)));
    if one {
        return deed(model, DeedKey::Defect);
    }
    Vec::new()
}

fn code(model: &mut Model, key: Key) -> Vec<Effect> {
    let Key::Char(c) = key else {
        return Vec::new();
    };
    let found = Defect::ALL
        .iter()
        .enumerate()
        .find(|(n, _)| figures::code_key(*n) == Some(c))
        .map(|(_, d)| *d);
    let Some(defect) = found else {
        return blame(model, format!("no defect stands beside \"{c}\""));
    };
    flawed(model, defect)
}

// Which defect it is: the line that would be saved is asked for.
fn flawed(model: &mut Model, defect: Defect) -> Vec<Effect> {
    if let Some(log) = model.log_mut() {
        log.defect = Some(defect);
        log.stage = Stage::Confirm;
    }
    preview(model)
}

pub(super) fn members<'a>(model: &'a Model, target: &'a Target) -> Vec<&'a Seen> {
    match target {
        Target::Rack(rack, hooks) => model
            .floor
            .on_rack(rack)
            .filter(|s| {
                let hook = s.now.place().and_then(|p| p.hook);
                hooks.is_none_or(|(a, b)| hook.is_some_and(|h| (a..=b).contains(&h)))
            })
            .collect(),
        Target::Pieces(list) => model
            .floor
            .seen()
            .iter()
            .filter(|s| list.contains(&s.now.piece.serial))
            .collect(),
    }
}

// Kind of the next step's work where it is neither a coat nor a sanding; on a mixed rack the most common one.
fn other_work(model: &Model) -> Result<StepKind, String> {
    let Some(log) = model.log() else {
        return Err("nothing is open".to_owned());
    };
    let pieces = members(model, &log.target);
    let mut kinds: BTreeMap<StepKind, usize> = BTreeMap::new();
    for kind in pieces.iter().filter_map(|s| s.view.kind) {
        let coat = kind.wets() && kind != StepKind::DropFill;
        if !coat && !kind.sands() {
            *kinds.entry(kind).or_insert(0) += 1;
        }
    }
    let common = kinds.into_iter().max_by_key(|(_, n)| *n).map(|(k, _)| k);
    common.ok_or_else(|| {
        let next = pieces.first().map_or("", |s| s.view.next.as_str());
        format!("the next step is {next}: press c for a coat, s for a sanding")
    })
}

fn wanted(model: &Model) -> Option<Wanted> {
    let log = model.log()?;
    let what = match log.deed? {
        DeedKey::Coat => DeedWhat::Coat {
            kind: None,
            touch_up: false,
            mix: log.mix,
            lot: None,
            amount: log.amount,
            wet: Vec::new(),
            supervisor: None,
            more: CoatMore {
                sprayed: log.booth.clone().map(Sprayed::Booth),
                ..CoatMore::default()
            },
        },
        DeedKey::Sand => DeedWhat::Sand {
            kind: None,
            removed: None,
            grit: None,
        },
        DeedKey::Work => DeedWhat::Other(Fact::Worked { kind: log.work? }),
        DeedKey::Defect => DeedWhat::Other(Fact::Flawed {
            defect: log.defect?,
            size_um: None,
            place: None,
            note: None,
        }),
    };
    let mut skipped = log.skipped.clone();
    skipped.extend(figures::skipping(model, log));
    Some(Wanted {
        who: who(model)?,
        target: log.target.clone(),
        what,
        surface: log.surface.clone(),
        ended: log.opened.minus(Span::minutes(log.minutes)),
        included: if log.everyone {
            Included::All
        } else {
            Included::None
        },
        skipped,
        expects: log.expects,
        another: log.another,
        draft: log.draft.clone(),
    })
}

// Asks what would be saved. The line that was shown is gone until the answer is there.
pub(super) fn preview(model: &mut Model) -> Vec<Effect> {
    if let Some(log) = model.log_mut() {
        log.shown = None;
        log.eager = false;
        log.expects = None;
        log.scroll = 0;
    }
    let Some(wanted) = wanted(model) else {
        return Vec::new();
    };
    model.page_ticket = ticket(model);
    vec![Effect::Preview {
        ticket: model.page_ticket,
        wanted: Box::new(wanted),
    }]
}

fn previewed(model: &mut Model, answer: Result<Box<Preview>, String>) -> Vec<Effect> {
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    match answer {
        Ok(shown) => {
            log.expects = shown.plan.taken().next().and_then(|p| p.coat);
            log.draft = Some(shown.draft.clone());
            let mut pieces = shown.plan.pieces.iter();
            let clear = pieces.all(|p| p.objections.is_empty());
            log.shown = Some(shown);
            let eager = std::mem::take(&mut log.eager);
            if eager && clear {
                return save(model);
            }
            if eager {
                say(
                    model,
                    "there are reasons against it: look, then Enter saves".to_owned(),
                );
            }
            Vec::new()
        }
        Err(text) => {
            // Without a line there is nothing to save: back to the choice, which keeps all that was typed.
            log.stage = Stage::Choose;
            log.eager = false;
            blame(model, text)
        }
    }
}

fn too_soon(piece: &PlannedPiece) -> bool {
    piece.objections.iter().any(|o| o.rule == Rule::Interval)
}

pub(super) fn save(model: &mut Model) -> Vec<Effect> {
    if model.size.0 < view::SMALLEST.0 || model.size.1 < view::SMALLEST.1 {
        return blame(
            model,
            "the screen is too small to show what would be saved; make it larger",
        );
    }
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    let Some(plan) = log.plan() else {
        log.eager = true;
        return Vec::new();
    };
    let Some(first) = plan.taken().next() else {
        return blame(
            model,
            "nothing is saved: all have something against it; x includes them, then Enter saves",
        );
    };
    // The ledger asks "the same, or another?" only where no coat is expected by number. So close after a coat that
    // question comes first; else the number guards against a second finisher.
    if too_soon(first) && !log.another {
        log.expects = None;
    }
    let Some(wanted) = wanted(model) else {
        return Vec::new();
    };
    if let Some(log) = model.log_mut() {
        log.stage = Stage::Saving;
    }
    vec![Effect::Save(Box::new(wanted))]
}

fn saved(model: &mut Model, answer: Result<Box<Outcome>, String>) -> Vec<Effect> {
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    match answer.map(|o| *o) {
        Ok(Outcome::Saved(receipt)) => {
            log.scroll = 0;
            log.stage = Stage::Done(Box::new(Done {
                receipt,
                already: false,
                reason: None,
            }));
        }
        Ok(Outcome::Already(receipt)) => {
            log.scroll = 0;
            log.stage = Stage::Done(Box::new(Done {
                receipt,
                already: true,
                reason: None,
            }));
        }
        Ok(Outcome::SameOrAnother(conflict)) => log.stage = Stage::Same(conflict),
        Ok(Outcome::Conflict(conflict)) => log.stage = Stage::Taken(conflict),
        Err(text) => {
            log.stage = Stage::Confirm;
            return blame(model, text);
        }
    }
    reload(model)
}

fn another(model: &mut Model) -> Vec<Effect> {
    if let Some(Page::Undo { action, .. }) = model.stack.last() {
        let action = action.seq;
        return undo(model, action, true);
    }
    if let Some(log) = model.log_mut() {
        if let Stage::Taken(conflict) = &log.stage {
            log.expects = Some(conflict.coat + 1);
        }
        log.another = true;
        log.stage = Stage::Confirm;
    }
    save(model)
}

// Begins a supervisor's word on the card's piece, where there is something to speak on.
fn speak(model: &mut Model, on: fn(&CardData) -> Result<WordOn, String>) -> Vec<Effect> {
    let Some(Page::Card(card)) = model.stack.last() else {
        return Vec::new();
    };
    let Some(data) = &card.data else {
        return Vec::new();
    };
    match on(data) {
        Ok(on) => {
            let spoken = Spoken {
                on,
                word: String::new(),
                initials: model.person.clone().unwrap_or_default(),
                pin: String::new(),
                asking: Asking::Word,
            };
            model.stack.push(Page::Word(Box::new(spoken)));
            Vec::new()
        }
        Err(text) => blame(model, text),
    }
}

fn hold_of(data: &CardData) -> Result<WordOn, String> {
    let serial = data.seen.now.piece.serial.clone();
    if data.seen.now.holds.is_empty() {
        Err(format!("{serial} is not on hold"))
    } else {
        Ok(WordOn::Lift { serial })
    }
}

fn deviation_of(data: &CardData) -> Result<WordOn, String> {
    data.deviations
        .iter()
        .filter(|d| d.moot.is_none() && d.answer.is_none())
        .find_map(|d| {
            Some(WordOn::Answer {
                entry: d.entry.0,
                rule: Rule::from_word(&d.rule)?,
                text: d.text.clone(),
            })
        })
        .ok_or_else(|| "no deviation of this piece is left unanswered".to_owned())
}

fn go_on(model: &mut Model, spoken: &Spoken) -> Vec<Effect> {
    let next = |model: &mut Model, asking| {
        if let Some(Page::Word(spoken)) = model.stack.last_mut() {
            spoken.asking = asking;
        }
        Vec::new()
    };
    // A supervisor at the shift's own page gives their own word: it is not asked whose it is.
    let known = model.place == Place::Shift && places::shift::supervises(model, &spoken.initials);
    let person = match initials("initials", &spoken.initials) {
        Ok(person) => person,
        Err(text) if spoken.asking == Asking::Initials => return blame(model, text),
        Err(_) => String::new(),
    };
    let pin = match spoken.asking {
        Asking::Word if spoken.word.trim().is_empty() => {
            return blame(model, "the word is empty; say why");
        }
        Asking::Word if !known => return next(model, Asking::Initials),
        Asking::Word | Asking::Initials => None,
        Asking::Pin => Some(spoken.pin.clone()),
    };
    let writer = model.person.clone().unwrap_or_else(|| person.clone());
    vec![Effect::Word {
        who: Who {
            person,
            writer,
            station: model.shop.station.clone(),
        },
        on: spoken.on.clone(),
        word: spoken.word.clone(),
        pin,
    }]
}

fn word_kept(model: &mut Model, answer: Result<String, String>) -> Vec<Effect> {
    match answer {
        Ok(text) => {
            if matches!(model.stack.last(), Some(Page::Word(_))) {
                model.stack.pop();
            }
            say(model, text);
        }
        Err(text) => {
            // The word stays; another person may give theirs.
            if let Some(Page::Word(spoken)) = model.stack.last_mut() {
                spoken.pin.clear();
                spoken.asking = Asking::Initials;
            }
            model.note = Some(Note::Fault(text));
        }
    }
    reload(model)
}

fn look_undo(model: &mut Model) -> Vec<Effect> {
    if let Some(who) = who(model) {
        return vec![Effect::LookUndo(who)];
    }
    model.stack.push(Page::Initials {
        typed: String::new(),
        then: Then::Undo,
    });
    Vec::new()
}

fn undo(model: &Model, action: i64, anyway: bool) -> Vec<Effect> {
    who(model)
        .map(|who| Effect::Undo {
            who,
            action,
            anyway,
        })
        .into_iter()
        .collect()
}

fn undone(model: &mut Model, answer: Result<Box<crate::ledger::Fixed>, String>) -> Vec<Effect> {
    match answer {
        Ok(fixed) => {
            let action = fixed.voided.first().map_or(0, |e| e.action);
            let entries = fixed.voided.len();
            let s = if entries == 1 { "entry" } else { "entries" };
            if let Some(Page::Undo { .. }) = model.stack.last() {
                model.stack.pop();
            }
            if let Some(Page::Log(_)) = model.stack.last() {
                model.stack.clear();
            }
            say(
                model,
                format!(
                    "action {action} is taken back ({entries} {s}) by action {}; both stay readable",
                    fixed.saved.action
                ),
            );
            reload(model)
        }
        Err(text) => {
            if let Some(Page::Undo { built_on, .. }) = model.stack.last_mut()
                && built_on.is_none()
            {
                *built_on = Some(text);
                return Vec::new();
            }
            if let Some(Page::Undo { .. }) = model.stack.last() {
                model.stack.pop();
            }
            blame(model, text)
        }
    }
}

fn reason(model: &mut Model, key: Key) -> Vec<Effect> {
    let Key::Char(c) = key else {
        return Vec::new();
    };
    let digit = c.to_digit(10).and_then(|d| u8::try_from(d).ok());
    let (Some(reason), Some(who)) = (digit.and_then(Reason::from_digit), who(model)) else {
        return Vec::new();
    };
    let Some(Stage::Done(done)) = model.log_mut().map(|l| &mut l.stage) else {
        return Vec::new();
    };
    done.reason = Some(reason);
    let mut entries: Vec<i64> = done.receipt.deviations.iter().map(|d| d.entry.0).collect();
    entries.dedup();
    vec![Effect::Explain {
        who,
        entries,
        reason,
    }]
}

// The surfaces of the piece's recipe, after the whole of it.
fn other_surface(model: &mut Model, by: isize) -> Vec<Effect> {
    let Some(log) = model.log() else {
        return Vec::new();
    };
    let surfaces = members(model, &log.target)
        .first()
        .map_or_else(Vec::new, |s| s.recipe.surfaces.clone());
    let mut list: Vec<Option<String>> = vec![None];
    if surfaces.len() > 1 {
        list.extend(surfaces.into_iter().map(Some));
    }
    let here = list.iter().position(|s| *s == log.surface).unwrap_or(0);
    // The key that leads to an older mix leads back here.
    let next = here.saturating_add_signed(-by).min(list.len() - 1);
    let surface = list.get(next).cloned().flatten();
    if let Some(log) = model.log_mut() {
        log.surface = surface;
    }
    preview(model)
}

// The mixes from the newest to the oldest, and then none.
fn other_mix(model: &mut Model, by: isize) -> Vec<Effect> {
    if model.log().is_some_and(|l| l.deed == Some(DeedKey::Defect)) {
        return other_surface(model, by);
    }
    let mut list: Vec<Option<u32>> = model
        .floor
        .data
        .as_ref()
        .map(|d| d.mixes.iter().map(|m| Some(m.mix)).collect())
        .unwrap_or_default();
    list.push(None);
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    if log.deed != Some(DeedKey::Coat) {
        return blame(model, "only a coat has a mix");
    }
    // From none the way back leads to the newest: where none fits it is the likely one, and not the oldest of years.
    let here = match log.mix {
        None if by < 0 => 0,
        mix => list.iter().position(|m| *m == mix).unwrap_or(0),
    };
    let next = here.saturating_add_signed(by).min(list.len() - 1);
    log.mix = list.get(next).copied().flatten();
    preview(model)
}

// Steps through the booths that the shop named, from where the coat would be booked now.
fn next_booth(model: &mut Model) -> Vec<Effect> {
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    if log.deed != Some(DeedKey::Coat) {
        return blame(model, "only a coat is booked at a booth");
    }
    // Until the line is there, it is not known where it would be booked.
    let Some(shown) = &log.shown else {
        return Vec::new();
    };
    let here = log.booth.as_deref();
    let here = here.or_else(|| shown.plan.sprayed_in().into_iter().flatten().next());
    let after = here.and_then(|b| shown.booths.iter().position(|x| x == b));
    let next = after.map_or(0, |i| i + 1);
    let Some(booth) = shown.booths.get(next).or_else(|| shown.booths.first()) else {
        return blame(model, "no survey, limit or check names a booth yet");
    };
    log.booth = Some(booth.clone());
    preview(model)
}

fn yes(model: &mut Model) -> Vec<Effect> {
    match model.stack.last() {
        None => {
            model.floor.finding = false;
            model.places.recipes.finding = false;
            Vec::new()
        }
        Some(Page::Command(_)) => prompt::run(model),
        Some(Page::Initials { typed, then }) => {
            let then = *then;
            match initials("initials", typed) {
                Ok(person) => {
                    model.person = Some(person.clone());
                    model.stack.pop();
                    match then {
                        Then::Deed(key) => deed(model, key),
                        Then::Undo => look_undo(model),
                        Then::Stay => {
                            say(model, format!("{person} is at the terminal"));
                            Vec::new()
                        }
                        Then::Mix { work } => mixing::begin(model, work),
                        Then::Ask(action) => ask::begin(model, action),
                    }
                }
                Err(text) => blame(model, text),
            }
        }
        Some(Page::Word(spoken)) => {
            let spoken = spoken.clone();
            go_on(model, &spoken)
        }
        Some(Page::Mixing(_)) => mixing::enter(model),
        Some(Page::Book(_)) => solvent::go_on(model),
        Some(Page::Undo { action, .. }) => {
            let action = action.seq;
            undo(model, action, false)
        }
        Some(Page::Ask(_)) => ask::enter(model),
        Some(Page::Quit) => vec![Effect::Quit],
        Some(Page::Fate(_)) => reopen(model),
        Some(Page::Log(log)) => match &log.stage {
            Stage::Choose | Stage::Confirm if log.figure.is_some() => figures::enter(model),
            Stage::Confirm => save(model),
            Stage::Minutes(_) => minutes(model),
            Stage::Same(_) | Stage::Taken(_) => {
                model.stack.clear();
                say(model, "it is that coat: nothing was added".to_owned());
                let mut effects = vec![Effect::DropDraft];
                effects.extend(reload(model));
                effects
            }
            Stage::Done(_) => back(model),
            Stage::Choose | Stage::Code | Stage::Saving => Vec::new(),
        },
        Some(Page::Card(_) | Page::Help { .. } | Page::Go | Page::Sheet(_) | Page::Output(_)) => {
            Vec::new()
        }
    }
}

fn minutes(model: &mut Model) -> Vec<Effect> {
    let Some(log) = model.log_mut() else {
        return Vec::new();
    };
    let Stage::Minutes(text) = &log.stage else {
        return Vec::new();
    };
    let count = if text.is_empty() {
        Ok(0)
    } else {
        text.parse::<i64>()
    };
    match count {
        Ok(n) if (0..=MOST_MINUTES).contains(&n) => {
            log.minutes = n;
            if log.deed.is_some() {
                log.stage = Stage::Confirm;
                preview(model)
            } else {
                log.stage = Stage::Choose;
                Vec::new()
            }
        }
        _ => {
            let text = format!(
                "minutes ago {text} is outside 0 to {MOST_MINUTES}; write what lies further back with its full time by command"
            );
            blame(model, text)
        }
    }
}

fn reopen(model: &mut Model) -> Vec<Effect> {
    let Some(Page::Fate(reopened)) = model.stack.pop() else {
        return Vec::new();
    };
    let wanted = reopened.wanted;
    let mut log = Log::new(wanted.target, wanted.ended, None);
    match wanted.what {
        DeedWhat::Coat {
            mix, amount, more, ..
        } => {
            log.deed = Some(DeedKey::Coat);
            log.mix = mix;
            log.amount = amount;
            if let Some(Sprayed::Booth(booth)) = more.sprayed {
                log.booth = Some(booth);
            }
        }
        DeedWhat::Sand { .. } => log.deed = Some(DeedKey::Sand),
        DeedWhat::Other(Fact::Worked { kind }) => {
            log.deed = Some(DeedKey::Work);
            log.work = Some(kind);
        }
        DeedWhat::Other(Fact::Flawed { defect, .. }) => {
            log.deed = Some(DeedKey::Defect);
            log.defect = Some(defect);
        }
        DeedWhat::Other(_)
        | DeedWhat::Begin { .. }
        | DeedWhat::End
        | DeedWhat::Rehang { .. }
        | DeedWhat::Pair { .. } => {}
    }
    log.everyone = wanted.included == Included::All;
    log.skipped = wanted.skipped;
    log.surface = wanted.surface;
    log.draft = wanted.draft;
    log.stage = Stage::Confirm;
    model.person.get_or_insert(wanted.who.person);
    model.as_of = AsOf::Now;
    model.stack.push(Page::Log(Box::new(log)));
    preview(model)
}
