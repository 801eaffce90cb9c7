//! The screens: at which place they open, and what happens where there is no ledger yet.

use super::sample::{adoptable, load, sample_path};
use super::shop::begin;
use super::{Answer, Cli, Desk, Trouble, one_of, read_text};
use crate::clock::Clock;
use crate::ledger::{Ledger, PieceRow};
use crate::screens::first::{Offer, Task, Told, Walk};
use crate::screens::places::Place;
use crate::screens::prompt::{Choice, Names};
use crate::screens::{HandsOf, Opening, Start};
use crate::shop::record::NewPiece;
use crate::shop::words::Word;
use clap::CommandFactory;
use clap::builder::TypedValueParser;
use std::io::IsTerminal;
use std::path::Path;

/// Open the screens at a place, so that a terminal starts where it is used.
#[derive(Debug, clap::Args)]
pub(super) struct Screen {
    /// The place; the floor, if left out.
    #[arg(default_value = "floor", value_parser = places())]
    place: Place,
}

fn places() -> impl TypedValueParser<Value = Place> {
    one_of(Place::ALL.iter().map(|place| place.word()))
        .try_map(|word| Place::from_word(&word).ok_or("there is no such place"))
}

impl Screen {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        open(desk, self.place)
    }
}

/// The program's commands with their options, as they are typed.
pub(super) fn names() -> Names {
    let mut whole = Cli::command();
    // Only then the commands know the options that all of them take.
    whole.build();
    named(&whole)
}

fn named(command: &clap::Command) -> Names {
    Names {
        name: command.get_name().to_owned(),
        about: command
            .get_about()
            .map(ToString::to_string)
            .unwrap_or_default(),
        options: command
            .get_arguments()
            .filter(|a| !a.is_hide_set())
            .filter_map(|a| {
                Some(Choice {
                    name: format!("--{}", a.get_long()?),
                    takes: a.get_action().takes_values(),
                })
            })
            .collect(),
        under: command
            .get_subcommands()
            .filter(|c| !c.is_hide_set())
            .map(named)
            .collect(),
    }
}

/// Opens the screens; where a shop is still to be started, its first questions come before them.
pub(super) fn open(desk: &mut Desk<'_>, place: Place) -> Answer {
    let path = desk.path()?;
    let terminal = std::io::stdin().is_terminal() && std::io::stdout().is_terminal();
    if !terminal {
        let first = if path.exists() {
            String::new()
        } else {
            format!(
                "; there is no ledger at {} yet: run \"hangtime open --name SHOP --zone ZONE --as INITIALS\", or \"hangtime sample\" for a look around",
                path.display()
            )
        };
        return Err(Trouble::System(format!(
            "the screens need a terminal; \"hangtime floor\" and \"hangtime ready\" print the same without one{first}"
        )));
    }
    let start = Start {
        station: desk.options.station.clone(),
        person: desk.options.initials.clone(),
        system: desk.options.units.system(),
        place,
        names: names(),
    };
    let person = desk.options.initials.clone();
    let walk = if path.exists() {
        let shop = desk.shop_of(Ledger::open(&path)?)?;
        // The screens save by the ledger's own clock, and show what is ready by it.
        shop.ledger.takes_deeds()?;
        let offers = offers(&shop.ledger)?;
        if shop.ledger.demo() || shop.ledger.has_pieces()? {
            let opening = Opening::Ledger(Box::new(shop.ledger), shop.clock);
            return shown(crate::screens::run(opening, start));
        }
        Walk::again(
            shop.ledger.name().to_owned(),
            shop.calendar.zone.name().to_owned(),
            person,
            offers,
        )
    } else {
        Walk::new(Clock::zone_here(), person)
    };
    let mut hands = |task: &Task| does(desk, task).map_err(|e| e.to_string());
    let opening = Opening::First(Box::new(walk), HandsOf(&mut hands));
    shown(crate::screens::run(opening, start))
}

fn shown(outcome: anyhow::Result<()>) -> Answer {
    outcome.map_err(|e| Trouble::System(e.to_string()))?;
    Ok(0)
}

// Recipes that a piece can have, each by its newest revision.
fn offers(ledger: &Ledger) -> Result<Vec<Offer>, Trouble> {
    let mut out: Vec<Offer> = Vec::new();
    for row in ledger.recipes()? {
        let found = ledger.recipe(&row.code, row.revision.parse().unwrap_or(0))?;
        let Some(kind) = found.kinds.first() else {
            continue;
        };
        out.retain(|o| o.code != found.code);
        out.push(Offer {
            code: found.code.clone(),
            revision: found.revision,
            name: found.name.clone(),
            kind: *kind,
        });
    }
    Ok(out)
}

// Does what the first start asks for, through the ledger's own deeds.
fn does(desk: &mut Desk<'_>, task: &Task) -> Result<Told, Trouble> {
    match task {
        Task::LookAround => {
            let sample = sample_path()?;
            if !sample.exists() {
                load(&sample)?;
            }
            let shop = desk.shop_of(Ledger::open(&sample)?)?;
            return Ok(Told::Ledger(Box::new(shop.ledger), shop.clock));
        }
        Task::Begin { name, zone, person } => {
            desk.options.initials = Some(person.clone());
            begin(desk, name, zone)?;
        }
        Task::GoOn(person) => desk.options.initials = Some(person.clone()),
        Task::AdoptSample => {
            let mut shop = desk.shop()?;
            let (who, stamp) = (desk.who(None)?, shop.stamp());
            for (file, text) in adoptable() {
                let adopted = if file.starts_with("materials/") {
                    shop.ledger.adopt_material(file, text, &who, &stamp)
                } else {
                    shop.ledger.adopt_recipe(file, text, &who, &stamp)
                };
                adopted?;
            }
        }
        Task::AdoptRecipe(file) | Task::AdoptMaterial(file) => {
            let text = read_text(Path::new(file))?;
            let mut shop = desk.shop()?;
            let (who, stamp) = (desk.who(None)?, shop.stamp());
            if matches!(task, Task::AdoptRecipe(_)) {
                shop.ledger.adopt_recipe(file, &text, &who, &stamp)?;
            } else {
                shop.ledger.adopt_material(file, &text, &who, &stamp)?;
            }
        }
        Task::AddPiece {
            serial,
            recipe,
            model,
            area,
        } => {
            let mut shop = desk.shop()?;
            let row = PieceRow {
                line: 1,
                piece: NewPiece {
                    serial: serial.clone(),
                    tag: None,
                    kind: recipe.kind,
                    model: model.clone(),
                    recipe: recipe.code.clone(),
                    revision: recipe.revision,
                    area: *area,
                    due: None,
                    pair: None,
                },
                rack: None,
                hook: None,
                room: None,
            };
            let (who, stamp) = (desk.who(None)?, shop.stamp());
            shop.ledger
                .add_pieces(&[row], stamp.written, &who, &stamp)?
                .map_err(|refused| {
                    let why: Vec<String> = refused.into_iter().map(|r| r.why).collect();
                    Trouble::Input(why.join("; "))
                })?;
        }
        Task::Enter | Task::Leave => {
            let shop = desk.shop()?;
            return Ok(Told::Ledger(Box::new(shop.ledger), shop.clock));
        }
    }
    Ok(Told::Offers(offers(&desk.shop()?.ledger)?))
}
