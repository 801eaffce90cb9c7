//! The first start: a new shop's way to a piece that can be logged, one question after the other.
//!
//! *Invariants*: nothing is written before its question is answered; from the moment that the ledger is there, every
//! answer is in it, so that the walk can be left at any question and goes on there at the next start. Until then the
//! answers live in this run only, and the page says so.
//!
//! *Not here*: doing what is asked (`commands`), drawing (`view`).

use super::keys::Key;
use crate::shop::text::{clean, initials, unruly};
use crate::shop::words::{PieceKind, Word};
use crate::units::{Amount, Area};

/// Longest answer.
const LONGEST: usize = 200;

/// A question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// A shop of one's own, or a look around in the sample?
    Welcome,
    /// The shop's name.
    Name,
    /// Its zone.
    Zone,
    /// Initials of its first supervisor.
    Supervisor,
    /// The sample's recipes and materials, or a recipe file of one's own?
    Recipe,
    /// A material file of one's own.
    Material,
    /// Serial of the first piece.
    Serial,
    /// Its recipe.
    Which,
    /// Its model.
    Model,
    /// Its coated area.
    Area,
}

// How many questions a new shop answers. Either way it is one of these: a recipe file of one's own brings the question for a
// material, and as it is one recipe, none for the piece's; the sample brings several recipes and its materials with them.
const QUESTIONS: usize = 9;

impl Step {
    /// The question.
    const fn asks(self) -> &'static str {
        match self {
            Self::Welcome => "There is no ledger here yet. Start your own shop?",
            Self::Name => "What is your shop called?",
            Self::Zone => "In which zone does its clock run?",
            Self::Supervisor => "Initials of its first supervisor: yours?",
            Self::Recipe => {
                "Which recipe do you finish by? (Enter alone: the sample's, every figure in them invented)"
            }
            Self::Material => "Which material do you spray? Its data sheet as a file:",
            Self::Serial => "Your first piece: which serial?",
            Self::Which => "By which recipe is it finished?",
            Self::Model => "Which model is it?",
            Self::Area => "How large is the area that is coated?",
        }
    }
}

/// A recipe that a piece can have.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// Its code.
    pub code: String,
    /// Its newest revision.
    pub revision: u32,
    /// Its name.
    pub name: String,
    /// The kind of piece that it is for.
    pub kind: PieceKind,
}

/// Something that the walk asks to be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Task {
    /// Go to the sample shop.
    LookAround,
    /// Start the ledger.
    Begin {
        /// The shop's name.
        name: String,
        /// Its zone.
        zone: String,
        /// The first supervisor.
        person: String,
    },
    /// Go on with a ledger that is there, as this person.
    GoOn(String),
    /// Adopt the sample's recipes and materials.
    AdoptSample,
    /// Adopt a recipe file.
    AdoptRecipe(String),
    /// Adopt a material file.
    AdoptMaterial(String),
    /// Take in the first piece.
    AddPiece {
        /// Its serial.
        serial: String,
        /// Its recipe.
        recipe: Offer,
        /// Its model.
        model: String,
        /// Its area.
        area: Area,
    },
    /// Go to the floor.
    Enter,
    /// Leave the program.
    Leave,
}

/// The walk.
#[derive(Debug, Clone)]
pub struct Walk {
    /// The question.
    pub step: Step,
    /// What is being typed.
    pub typed: String,
    /// The zone of this machine, where it is known.
    pub here: Option<String>,
    /// The shop's name, once given.
    pub name: String,
    /// Its zone, once given.
    pub zone: String,
    /// Initials of the first supervisor, once given.
    pub person: String,
    /// Recipes that are adopted.
    pub offers: Vec<Offer>,
    /// Serial of the first piece, once given.
    pub serial: String,
    /// Its recipe, once chosen.
    pub which: Option<Offer>,
    /// Its model, once given.
    pub model: String,
    /// What went wrong, or what was done.
    pub note: Option<(String, bool)>,
    /// Whether something is being done.
    pub busy: bool,
    /// Whether an earlier run began the ledger.
    pub again: bool,
}

impl Walk {
    /// A walk from its beginning; `person` are the initials that were given with the program's start.
    pub fn new(here: Option<String>, person: Option<String>) -> Self {
        Self {
            step: Step::Welcome,
            typed: String::new(),
            here,
            name: String::new(),
            zone: String::new(),
            person: person.unwrap_or_default(),
            offers: Vec::new(),
            serial: String::new(),
            which: None,
            model: String::new(),
            note: None,
            busy: false,
            again: false,
        }
    }

    /// A walk that goes on in a ledger that is there: at the recipe, or at the first piece.
    pub fn again(name: String, zone: String, person: Option<String>, offers: Vec<Offer>) -> Self {
        let mut walk = Self::new(None, person);
        walk.name = name;
        walk.zone = zone;
        walk.again = true;
        walk.offers = offers;
        walk.step = if walk.person.is_empty() {
            Step::Supervisor
        } else {
            walk.shelf()
        };
        walk
    }

    // The first question to which the ledger has no answer yet.
    fn shelf(&self) -> Step {
        if self.offers.is_empty() {
            Step::Recipe
        } else {
            Step::Serial
        }
    }

    /// The place of the question among those of this walk, from 1, and how many they are.
    pub fn place(&self) -> (usize, usize) {
        let number = match self.step {
            Step::Welcome => 1,
            Step::Name => 2,
            Step::Zone => 3,
            Step::Supervisor => 4,
            Step::Recipe => 5,
            Step::Serial if self.offers.len() > 1 => 6,
            Step::Material => 6,
            Step::Serial | Step::Which => 7,
            Step::Model => 8,
            Step::Area => QUESTIONS,
        };
        (number, QUESTIONS)
    }

    /// The question.
    pub fn asks(&self) -> &'static str {
        if self.again && self.step == Step::Supervisor {
            "The ledger is there, its first piece is not. Who goes on: your initials?"
        } else {
            self.step.asks()
        }
    }

    /// Zones that hold what was typed, the shortest first.
    pub fn zones(&self) -> Vec<&'static str> {
        let wanted = self.typed.trim().to_lowercase().replace(' ', "_");
        let mut found: Vec<&'static str> = chrono_tz::TZ_VARIANTS
            .iter()
            .map(|z| z.name())
            .filter(|n| n.to_lowercase().contains(&wanted))
            .collect();
        found.sort_by_key(|n| (n.len(), *n));
        found
    }

    // The zone that Enter takes.
    fn zone_meant(&self) -> Result<String, String> {
        if self.typed.trim().is_empty() {
            return self.here.clone().ok_or_else(|| {
                "type a part of the zone's name, such as its largest city".to_owned()
            });
        }
        let found = self.zones();
        let exact = |n: &&&'static str| n.eq_ignore_ascii_case(self.typed.trim());
        match (found.iter().find(exact), found.as_slice()) {
            (Some(one), _) | (None, [one]) => Ok((*one).to_owned()),
            (None, []) => Err(format!(
                "no zone holds \"{}\"; type a part of its name, such as its largest city",
                self.typed.trim()
            )),
            (None, many) => Err(format!("{} zones hold that; type on", many.len())),
        }
    }

    // The recipe that Enter takes.
    fn offer_meant(&self) -> Result<Offer, String> {
        let typed = self.typed.trim();
        let found = if typed.is_empty() {
            self.offers.first()
        } else {
            self.offers
                .iter()
                .find(|o| o.code.eq_ignore_ascii_case(typed))
        };
        found.cloned().ok_or_else(|| {
            let codes: Vec<&str> = self.offers.iter().map(|o| o.code.as_str()).collect();
            format!("write one of {}", codes.join(", "))
        })
    }

    /// What Enter would take, or what is wrong with what was typed so far.
    pub fn check(&self) -> Result<String, String> {
        let typed = self.typed.trim();
        match self.step {
            Step::Welcome => Ok(
                "Enter starts your own; s looks around in the sample shop, where nothing is real"
                    .to_owned(),
            ),
            Step::Name => clean("the name", typed, 60).map(|n| format!("Enter takes {n}")),
            Step::Zone => {
                let zone = self.zone_meant()?;
                let whose = if typed.is_empty() {
                    ", the zone of this machine"
                } else {
                    ""
                };
                Ok(format!("Enter takes {zone}{whose}"))
            }
            Step::Supervisor => {
                let text = if typed.is_empty() { &self.person } else { typed };
                let then = if self.again { "" } else { " and starts the ledger" };
                initials("the initials", text).map(|i| format!("Enter takes {i}{then}"))
            }
            Step::Recipe if typed.is_empty() => Ok(
                "Enter adopts the sample's three recipes and seven materials, which are invented; what is adopted stays in the record, and yours come beside it"
                    .to_owned(),
            ),
            Step::Material if typed.is_empty() => {
                Ok("Enter leaves it for later; a coat's film stays unknown until then".to_owned())
            }
            Step::Recipe | Step::Material => Ok(format!("Enter reads {typed} and adopts it")),
            Step::Serial => clean("the serial", typed, 30).map(|s| format!("Enter takes {s}")),
            Step::Which => self
                .offer_meant()
                .map(|o| format!("Enter takes {} rev {}, {}", o.code, o.revision, o.name)),
            Step::Model => clean("the model", typed, 60).map(|m| format!("Enter takes {m}")),
            Step::Area => Area::read(typed, Some("m2"))
                .map(|_| "Enter takes the piece in".to_owned())
                .map_err(|e| e.to_string()),
        }
    }

    /// Takes a key in and says what is to be done.
    pub fn press(&mut self, key: Key) -> Option<Task> {
        self.note = None;
        match key {
            Key::Interrupt => Some(Task::Leave),
            Key::Esc => self.back(),
            Key::Backspace => {
                self.typed.pop();
                None
            }
            Key::Tab if self.step == Step::Zone => {
                if let Some(first) = self.zones().first() {
                    self.typed = (*first).to_owned();
                }
                None
            }
            Key::Enter => self.take(),
            Key::Char('s' | 'S') if self.step == Step::Welcome => Some(Task::LookAround),
            Key::Char(c)
                if self.step != Step::Welcome
                    && !unruly(c)
                    && self.typed.chars().count() < LONGEST =>
            {
                self.typed.push(c);
                None
            }
            _ => None,
        }
    }

    // One question back; where the ledger is there, on to the floor: the walk goes on at the next start.
    fn back(&mut self) -> Option<Task> {
        self.typed.clear();
        let (step, typed) = match self.step {
            Step::Welcome => return Some(Task::Leave),
            Step::Name => (Step::Welcome, String::new()),
            Step::Zone => (Step::Name, self.name.clone()),
            Step::Supervisor if self.again => return Some(Task::Enter),
            Step::Supervisor => (Step::Zone, self.zone.clone()),
            Step::Recipe | Step::Serial => return Some(Task::Enter),
            Step::Material => (Step::Serial, String::new()),
            Step::Model if self.offers.len() > 1 => (Step::Which, String::new()),
            Step::Which | Step::Model => (Step::Serial, self.serial.clone()),
            Step::Area => (Step::Model, self.model.clone()),
        };
        self.step = step;
        self.typed = typed;
        None
    }

    fn take(&mut self) -> Option<Task> {
        if let Err(why) = self.check() {
            self.note = Some((why, true));
            return None;
        }
        let typed = self.typed.trim().to_owned();
        match self.step {
            Step::Welcome => self.ask(Step::Name),
            Step::Name => {
                self.name = typed;
                self.ask(Step::Zone);
            }
            Step::Zone => {
                self.zone = self.zone_meant().unwrap_or_default();
                self.ask(Step::Supervisor);
            }
            Step::Supervisor => {
                if !typed.is_empty() {
                    self.person = typed;
                }
                if self.again {
                    return Some(Task::GoOn(self.person.clone()));
                }
                return Some(Task::Begin {
                    name: self.name.clone(),
                    zone: self.zone.clone(),
                    person: self.person.clone(),
                });
            }
            Step::Recipe if typed.is_empty() => return Some(Task::AdoptSample),
            Step::Recipe => return Some(Task::AdoptRecipe(typed)),
            Step::Material if typed.is_empty() => self.ask(Step::Serial),
            Step::Material => return Some(Task::AdoptMaterial(typed)),
            Step::Serial => {
                self.serial = typed;
                if let [only] = self.offers.as_slice() {
                    self.which = Some(only.clone());
                    self.ask(Step::Model);
                } else {
                    self.ask(Step::Which);
                }
            }
            Step::Which => {
                self.which = self.offer_meant().ok();
                self.ask(Step::Model);
            }
            Step::Model => {
                self.model = typed;
                self.ask(Step::Area);
            }
            Step::Area => {
                return Some(Task::AddPiece {
                    serial: self.serial.clone(),
                    recipe: self.which.clone()?,
                    model: self.model.clone(),
                    area: Area::read(&typed, Some("m2")).ok()?,
                });
            }
        }
        None
    }

    fn ask(&mut self, step: Step) {
        self.typed.clear();
        self.step = step;
    }

    /// Takes in that a task was done; gives the next one, where it follows of itself.
    pub fn done(&mut self, task: &Task, offers: Vec<Offer>) -> Option<Task> {
        self.busy = false;
        self.offers = offers;
        let (step, said) = match task {
            Task::Begin { name, .. } => (Step::Recipe, format!("the ledger of {name} is there")),
            Task::GoOn(person) => (self.shelf(), format!("{person} goes on")),
            Task::AdoptSample => (
                Step::Serial,
                "adopted; every figure in them is invented, hold each against your own sheets"
                    .to_owned(),
            ),
            Task::AdoptRecipe(_) => (Step::Material, "the recipe is adopted".to_owned()),
            Task::AdoptMaterial(_) => (Step::Serial, "the material is adopted".to_owned()),
            Task::AddPiece { .. } => return Some(Task::Enter),
            Task::LookAround | Task::Enter | Task::Leave => return None,
        };
        self.ask(step);
        self.note = Some((said, false));
        None
    }

    /// Takes in that a task could not be done: the question stays with what was typed.
    pub fn refused(&mut self, why: String) {
        self.busy = false;
        self.note = Some((why, true));
    }

    /// The answers so far, to be read again.
    pub fn answers(&self) -> Vec<(&'static str, String)> {
        let mut out = Vec::new();
        let mut add = |word, value: &str| {
            if !value.is_empty() {
                out.push((word, value.to_owned()));
            }
        };
        let past = |step: Step| self.step > step;
        if past(Step::Name) {
            add("shop", &self.name);
        }
        if past(Step::Zone) {
            add("zone", &self.zone);
        }
        if past(Step::Supervisor) {
            add("supervisor", &self.person);
        }
        if past(Step::Recipe) {
            let list: Vec<String> = self
                .offers
                .iter()
                .map(|o| format!("{} rev {}", o.code, o.revision))
                .collect();
            add("recipes", &list.join(", "));
        }
        if past(Step::Serial) {
            add("piece", &self.serial);
        }
        if let Some(which) = self.which.as_ref().filter(|_| past(Step::Which)) {
            add("its recipe", &format!("{} {}", which.code, which.name));
        }
        if past(Step::Model) {
            add("model", &self.model);
        }
        out
    }

    /// What may help with the answer.
    pub fn hints(&self) -> Vec<String> {
        match self.step {
            Step::Welcome => vec![
                "Nine questions lead to your first piece; most take one word.".to_owned(),
                "Local fire code, the safety data sheet and licensed professionals decide; this log does not.".to_owned(),
            ],
            Step::Supervisor if self.again => Vec::new(),
            Step::Name | Step::Supervisor => {
                vec!["Nothing is written before the initials are given.".to_owned()]
            }
            Step::Zone => {
                let found = self.zones();
                let more = found.len().saturating_sub(6);
                if self.typed.trim().is_empty() {
                    vec!["Or type a part of its name, such as its largest city.".to_owned()]
                } else {
                    let shown = found.into_iter().take(6).collect::<Vec<_>>().join("  ");
                    let more = if more > 0 {
                        format!("  and {more} more")
                    } else {
                        String::new()
                    };
                    vec![format!("{shown}{more}"), "Tab takes the first.".to_owned()]
                }
            }
            Step::Recipe => vec![
                "Or type the name of a recipe file of your own (.toml).".to_owned(),
                "A file's faults are named with their lines; mend it and press Enter again.".to_owned(),
            ],
            Step::Material => vec!["Type the name of its file (.toml).".to_owned()],
            Step::Serial => vec!["As it stands on the piece, or on its tag; it is never used twice.".to_owned()],
            Step::Which => self
                .offers
                .iter()
                .map(|o| format!("{:<8} rev {:<3} {} ({})", o.code, o.revision, o.name, o.kind.word()))
                .collect(),
            Step::Model => vec![
                "Your own word for it; pieces of one model are found by it. Every piece has one; Esc goes back."
                    .to_owned(),
            ],
            Step::Area => vec![
                "With its unit, such as 0.32 m2 or 3.4 ft2. A good guess will do: mixes are shared out by it.".to_owned(),
            ],
        }
    }
}

/// What came of a task.
#[derive(Debug)]
pub enum Told {
    /// It was done; these recipes are adopted now.
    Offers(Vec<Offer>),
    /// This is the ledger to go on with.
    Ledger(Box<crate::ledger::Ledger>, crate::clock::Clock),
}

/// What does the tasks.
pub type Hands<'a> = &'a mut dyn FnMut(&Task) -> Result<Told, String>;
