//! The screens: at which place they open, and what happens where there is no ledger yet.

use super::sample::{load, sample_path};
use super::{Answer, Cli, Desk, Trouble};
use crate::ledger::Ledger;
use crate::screens::places::Place;
use crate::screens::prompt::{Choice, Names};
use clap::{CommandFactory, ValueEnum};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// Open the screens at a place, so that a terminal starts where it is used.
#[derive(Debug, clap::Args)]
pub(super) struct Screen {
    /// The place; the floor, if left out.
    #[arg(value_enum, default_value = "floor")]
    place: Where,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Where {
    Booth,
    Floor,
    Shift,
    Solvent,
    Air,
    Recipes,
    Wall,
}

impl Screen {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let place = match self.place {
            Where::Booth => Place::Booth,
            Where::Floor => Place::Floor,
            Where::Shift => Place::Shift,
            Where::Solvent => Place::Solvent,
            Where::Air => Place::Air,
            Where::Recipes => Place::Recipes,
            Where::Wall => Place::Wall,
        };
        open(desk, place)
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

/// Opens the screens; on the first run it offers the sample shop.
pub(super) fn open(desk: &mut Desk<'_>, place: Place) -> Answer {
    let path = desk.path()?;
    let terminal = std::io::stdin().is_terminal() && std::io::stdout().is_terminal();
    if !terminal {
        return Err(Trouble::System(
            "the dashboard needs a terminal; \"hangtime floor\" and \"hangtime ready\" print the same without one"
                .to_owned(),
        ));
    }
    let path = if path.exists() || desk.options.ledger.is_some() {
        path
    } else {
        match first_run(desk, &path)? {
            Some(path) => path,
            None => return Ok(0),
        }
    };
    let shop = desk.shop_of(Ledger::open(&path)?)?;
    let start = crate::screens::Start {
        station: desk.options.station.clone(),
        person: desk.options.initials.clone(),
        system: desk.options.units.system(),
        place,
        names: names(),
    };
    crate::screens::run(shop.ledger, shop.clock, start)
        .map_err(|e| Trouble::System(e.to_string()))?;
    Ok(0)
}

fn first_run(desk: &mut Desk<'_>, path: &Path) -> Result<Option<PathBuf>, Trouble> {
    let sample = sample_path()?;
    writeln!(desk.out, "There is no ledger at {} yet.", path.display())?;
    writeln!(
        desk.out,
        "  Enter  look around in the sample shop (a demo; nothing of it is real)"
    )?;
    writeln!(
        desk.out,
        "  n      start your own: hangtime open --name SHOP --zone ZONE --as INITIALS"
    )?;
    write!(desk.out, "> ")?;
    desk.out.flush()?;
    let mut answer = String::new();
    if std::io::stdin().read_line(&mut answer)? == 0 || !answer.trim().is_empty() {
        writeln!(
            desk.out,
            "run: hangtime open --name SHOP --zone America/New_York --as INITIALS"
        )?;
        return Ok(None);
    }
    if !sample.exists() {
        writeln!(desk.out, "loading the sample shop ...")?;
        desk.out.flush()?;
        load(&sample)?;
    }
    Ok(Some(sample))
}
