//! Questions that are typed on the line at the bottom: as of which moment, why a hold, where to, which recipe revision.
//! A deed is shown as it would be saved before it is saved.
//!
//! *Invariants*: an error leaves what was typed as it is; a deed takes the present moment, whatever moment is looked at;
//! nothing is saved that was not shown.
//!
//! *Not here*: a supervisor's word with a PIN (`update`), what a deed may be (`ledger`), how it looks (`view`).

use super::keys::Action;
use super::model::{AsOf, Model, Note, Page, Stage, Then, rack_of};
use super::msg::{Effect, Looked, Wanted};
use super::places::{Place, shift};
use super::update::{reload, ticket};
use crate::ledger::{DeedWhat, Included, Seen, Target, Who};
use crate::reports::ready;
use crate::shop::record::Fact;
use crate::shop::text::{clean, hook as read_hook, hooks, like, shown};
use crate::shop::words::{StepKind, Word as _};

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum About {
    /// As of which moment?
    Time,
    /// Why are these put on hold?
    Hold(Target),
    /// On which rack do some of a rack's pieces hang from now on?
    Split {
        /// The rack that they hang on.
        from: String,
        /// The pieces that go where no hooks are typed: those that hold the rest back.
        pieces: Vec<String>,
    },
    /// Where do these hang from now on?
    Move(Target),
    /// To which recipe and revision do these go over, and why?
    Reassign {
        /// Who goes over.
        target: Target,
        /// Codes and revisions that they are on.
        from: Vec<(String, u32)>,
    },
}

/// How far the answer has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// It is being typed.
    Typing,
    /// The ledger is asked what would be saved.
    Looking,
    /// What would be saved is shown.
    Shown(Box<Looked>),
    /// The ledger is writing.
    Saving,
}

/// A question with its answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Asked {
    /// What is asked.
    pub about: About,
    /// What was typed.
    pub typed: String,
    /// How far it has come.
    pub step: Step,
    /// First line shown of what would be saved.
    pub scroll: usize,
}

/// Rack or pieces in words.
pub fn whom(target: &Target) -> String {
    match target {
        Target::Rack(rack, None) => format!("rack {rack}"),
        Target::Rack(rack, Some((a, b))) => format!("rack {rack} hooks {a}-{b}"),
        Target::Pieces(list) => list.join(", "),
    }
}

impl Asked {
    /// The question, with what was typed.
    pub fn question(&self) -> String {
        let text = match &self.about {
            About::Time => "as of when (tomorrow 07:00)?".to_owned(),
            About::Hold(target) => format!("hold {}, why?", whom(target)),
            About::Split { from, pieces } if pieces.is_empty() => {
                format!("split {from}: to which rack, which hooks (R9 hooks 6-8)?")
            }
            About::Split { from, pieces } => {
                let n = pieces.len();
                let who = pieces.first().map_or("", String::as_str);
                let more = if n > 1 {
                    format!(" and {} more", n - 1)
                } else {
                    String::new()
                };
                format!("split {from}: {who}{more} to which rack?")
            }
            About::Move(target) => format!("move {} to which rack or room?", whom(target)),
            About::Reassign { target, from } => {
                let from: Vec<String> = from.iter().map(|(c, r)| format!("{c} rev {r}")).collect();
                format!(
                    "{}, {}: to which revision, and why?",
                    whom(target),
                    from.join(" and ")
                )
            }
        };
        match &self.step {
            Step::Typing => format!("{text} {}_", self.typed),
            Step::Looking => format!("{text} {} ...", self.typed),
            Step::Shown(_) => "Enter saves what is shown".to_owned(),
            Step::Saving => "saving ...".to_owned(),
        }
    }
}

fn fault(model: &mut Model, text: impl Into<String>) -> Vec<Effect> {
    model.note = Some(Note::Fault(text.into()));
    Vec::new()
}

/// Begins the question of a key on what is marked or open.
pub(super) fn begin(model: &mut Model, action: Action) -> Vec<Effect> {
    if model.person.is_none() && action != Action::AskTime {
        model.stack.push(Page::Initials {
            typed: String::new(),
            then: Then::Ask(action),
        });
        return Vec::new();
    }
    let about = match action {
        Action::AskTime => Ok(About::Time),
        Action::Hold => target(model).map(About::Hold),
        Action::Split => split(model),
        Action::Move => target(model).map(About::Move),
        Action::Reassign => target(model).map(|target| About::Reassign {
            from: recipes(model, &target),
            target,
        }),
        _ => return Vec::new(),
    };
    match about {
        Ok(about) => {
            model.stack.push(Page::Ask(Box::new(Asked {
                about,
                typed: String::new(),
                step: Step::Typing,
                scroll: 0,
            })));
            Vec::new()
        }
        Err(text) => fault(model, text),
    }
}

// The rack or piece that is open, else the one under the mark.
fn target(model: &Model) -> Result<Target, String> {
    match model.stack.last() {
        Some(Page::Card(card)) => Ok(Target::Pieces(vec![card.serial.clone()])),
        Some(Page::Log(log)) if matches!(log.stage, Stage::Choose) => Ok(log.target.clone()),
        None if model.place == Place::Shift => shift::marked(model)
            .ok_or_else(|| "the mark lies on no rack and no piece; scan one".to_owned()),
        _ => Err("nothing is open; scan a rack or a piece".to_owned()),
    }
}

fn split(model: &Model) -> Result<About, String> {
    match target(model)? {
        Target::Rack(from, _) => {
            let pieces = match model.stack.last() {
                None => shift::blockers(model),
                Some(_) => blockers(model, &from),
            };
            Ok(About::Split { from, pieces })
        }
        Target::Pieces(pieces) => {
            let rack = pieces.first().and_then(|p| piece(model, p)).map(rack_of);
            match rack {
                Some(rack) if !rack.is_empty() => Ok(About::Split {
                    from: rack.to_owned(),
                    pieces,
                }),
                _ => Err(format!(
                    "{} hangs on no rack; v moves it to one",
                    pieces.join(", ")
                )),
            }
        }
    }
}

fn piece<'a>(model: &'a Model, serial: &str) -> Option<&'a Seen> {
    let seen = model.floor.seen();
    seen.iter().find(|s| s.now.piece.serial == serial)
}

// Codes and revisions of the recipes that these are on.
fn recipes(model: &Model, target: &Target) -> Vec<(String, u32)> {
    let on = |s: &Seen| (s.now.piece.recipe.clone(), s.now.piece.revision);
    let mut all: Vec<(String, u32)> = match target {
        Target::Rack(rack, _) => model.floor.on_rack(rack).map(on).collect(),
        Target::Pieces(list) => list
            .iter()
            .filter_map(|p| piece(model, p))
            .map(on)
            .collect(),
    };
    all.sort();
    all.dedup();
    all
}

// The pieces that hold a rack back, as the question "what is ready" has them.
fn blockers(model: &Model, rack: &str) -> Vec<String> {
    let pieces: Vec<Seen> = model.floor.on_rack(rack).cloned().collect();
    let all = ready::by_rack(&pieces, StepKind::ALL);
    all.iter()
        .filter(|r| r.ready_now() < r.pieces.len())
        .flat_map(|r| &r.blockers)
        .map(|s| s.now.piece.serial.clone())
        .collect()
}

/// Takes what was typed: a moment at once, a deed to be looked at; or saves what is shown.
pub(super) fn enter(model: &mut Model) -> Vec<Effect> {
    let Some(Page::Ask(asked)) = model.stack.last() else {
        return Vec::new();
    };
    let asked = (**asked).clone();
    match &asked.step {
        Step::Shown(looked) => {
            let wanted = looked.wanted.clone();
            to(model, Step::Saving);
            vec![Effect::Do(Box::new(wanted))]
        }
        Step::Saving => Vec::new(),
        Step::Typing | Step::Looking => {
            if asked.about == About::Time {
                return match model.shop.calendar.read(&asked.typed, model.now) {
                    Ok(at) => {
                        model.as_of = AsOf::At(at);
                        model.stack.pop();
                        reload(model)
                    }
                    Err(e) => fault(model, e.to_string()),
                };
            }
            match deed(model, &asked) {
                Ok((target, what)) => {
                    let Some(who) = who(model) else {
                        return Vec::new();
                    };
                    to(model, Step::Looking);
                    model.page_ticket = ticket(model);
                    vec![Effect::Look {
                        ticket: model.page_ticket,
                        wanted: Box::new(Wanted {
                            who,
                            target,
                            surface: None,
                            what,
                            ended: model.now,
                            included: Included::All,
                            skipped: Vec::new(),
                            expects: None,
                            another: false,
                            draft: None,
                        }),
                        system: model.shop.system,
                    }]
                }
                Err(text) => fault(model, text),
            }
        }
    }
}

fn to(model: &mut Model, step: Step) {
    if let Some(Page::Ask(asked)) = model.stack.last_mut() {
        asked.step = step;
        asked.scroll = 0;
    }
}

fn who(model: &Model) -> Option<Who> {
    model.person.as_ref().map(|person| Who {
        person: person.clone(),
        writer: person.clone(),
        station: model.shop.station.clone(),
    })
}

// The deed that the typed answer means.
fn deed(model: &Model, asked: &Asked) -> Result<(Target, DeedWhat), String> {
    let typed = asked.typed.trim();
    match &asked.about {
        About::Time => Err("a moment is no deed".to_owned()),
        About::Hold(target) => {
            let why = clean("why", typed, 500)?;
            Ok((target.clone(), DeedWhat::Other(Fact::Held { why })))
        }
        About::Split { from, pieces } => {
            let (to, wanted) = match typed.split_once(" hook") {
                Some((to, rest)) => (to, Some(hooks(rest.trim_start_matches('s'))?)),
                None => (typed, None),
            };
            let rack = known_rack(model, &clean("rack", to, 30)?);
            if rack == *from {
                return Err(format!(
                    "they hang on rack {rack} already; name another rack"
                ));
            }
            let target = match wanted {
                Some(range) => Target::Rack(from.clone(), Some(range)),
                None if pieces.is_empty() => {
                    return Err(format!(
                        "no piece holds {from} back; write which hooks go, such as {} hooks 6-8",
                        shown(to)
                    ));
                }
                None => Target::Pieces(pieces.clone()),
            };
            Ok((target, DeedWhat::Rehang { rack }))
        }
        About::Move(target) => Ok((target.clone(), moved(model, target, typed)?)),
        About::Reassign { target, from } => {
            let fact = reassigned(model, from, typed)?;
            Ok((target.clone(), DeedWhat::Other(fact)))
        }
    }
}

// The name of a rack as it is written elsewhere, whatever its letters were typed as.
fn known_rack(model: &Model, name: &str) -> String {
    let known = model.floor.seen().iter().map(rack_of);
    like(known, name).unwrap_or(name).to_owned()
}

fn moved(model: &Model, target: &Target, typed: &str) -> Result<DeedWhat, String> {
    let typed = clean("where to", typed, 60)?;
    let place =
        |rack: Option<String>, hook, room| DeedWhat::Other(Fact::Placed { rack, hook, room });
    let lower = typed.to_lowercase();
    if lower.starts_with("room ") {
        let room = clean("room", typed.get(5..).unwrap_or_default(), 30)?;
        let known = shift::room(model, &room).unwrap_or(room);
        return Ok(place(None, None, Some(known)));
    }
    if let Some(room) = shift::room(model, &typed) {
        return Ok(place(None, None, Some(room)));
    }
    let (named, rest) = if lower.starts_with("rack ") {
        (true, typed.get(5..).unwrap_or_default())
    } else {
        (false, typed.as_str())
    };
    let (name, hook) = match rest.split_once(" hook ") {
        Some((name, hook)) => {
            let hook = read_hook(hook).map_err(|why| format!("{why}, such as R7 hook 3"))?;
            (name, Some(hook))
        }
        None => (rest, None),
    };
    let name = clean("rack", name, 30)?;
    let rack = known_rack(model, &name);
    let known = model.floor.seen().iter().any(|s| rack_of(s) == rack);
    if !known && !named {
        return Err(format!(
            "no rack and no room is called \"{}\"; write \"rack {0}\" or \"room {0}\" where it is a new one",
            shown(&name)
        ));
    }
    match (hook, target) {
        (Some(_), Target::Pieces(list)) if list.len() == 1 => Ok(place(Some(rack), hook, None)),
        (Some(_), _) => {
            Err("a hook is for one piece; leave it out, and each keeps its own".to_owned())
        }
        (None, _) => Ok(DeedWhat::Rehang { rack }),
    }
}

fn reassigned(model: &Model, from: &[(String, u32)], typed: &str) -> Result<Fact, String> {
    let form =
        "write the revision and why, such as 4 new lacquer, or G9 4 new lacquer for another recipe";
    let mut words = typed.split_whitespace();
    let first = words.next().ok_or_else(|| form.to_owned())?;
    let (recipe, revision) = if let Ok(revision) = first.parse::<u32>() {
        let mut codes: Vec<&str> = from.iter().map(|(code, _)| code.as_str()).collect();
        codes.dedup();
        match codes.as_slice() {
            [one] => ((*one).to_owned(), revision),
            [] => return Err(form.to_owned()),
            many => {
                return Err(format!(
                    "pieces of {} hang there; write which recipe is meant, such as {} {revision} and why",
                    many.join(" and "),
                    many.first().copied().unwrap_or_default()
                ));
            }
        }
    } else {
        let revision = words.next().and_then(|w| w.parse().ok());
        let revision = revision.ok_or_else(|| form.to_owned())?;
        let same = |s: &&Seen| s.now.piece.recipe.to_lowercase() == first.to_lowercase();
        let known = model.floor.seen().iter().find(same);
        let code = known.map_or_else(|| first.to_owned(), |s| s.now.piece.recipe.clone());
        (code, revision)
    };
    let why = words.collect::<Vec<_>>().join(" ");
    if why.is_empty() {
        return Err(format!("why is empty; {form}"));
    }
    Ok(Fact::Reassigned {
        recipe,
        revision,
        why: clean("why", &why, 500)?,
    })
}

/// Shows what would be saved, or says why nothing can be.
pub(super) fn looked(model: &mut Model, answer: Result<Box<Looked>, String>) -> Vec<Effect> {
    match answer {
        Ok(looked) => to(model, Step::Shown(looked)),
        Err(text) => {
            to(model, Step::Typing);
            model.note = Some(Note::Fault(text));
        }
    }
    Vec::new()
}

/// Says what was saved, or why it was not: then what was typed is there again.
pub(super) fn done(model: &mut Model, answer: Result<String, String>) -> Vec<Effect> {
    match answer {
        Ok(text) => {
            if matches!(model.stack.last(), Some(Page::Ask(_))) {
                model.stack.pop();
            }
            model.note = Some(Note::Said(text));
        }
        Err(text) => {
            to(model, Step::Typing);
            model.note = Some(Note::Fault(text));
        }
    }
    reload(model)
}

/// Back from what is shown to what was typed, or out of the question.
pub(super) fn back(model: &mut Model) -> Vec<Effect> {
    match model.stack.last() {
        Some(Page::Ask(asked)) if matches!(asked.step, Step::Shown(_)) => {
            to(model, Step::Typing);
            vec![Effect::DropDraft]
        }
        _ => {
            model.stack.pop();
            reload(model)
        }
    }
}
