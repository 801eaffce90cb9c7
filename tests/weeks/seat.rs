//! Somebody at a terminal at a moment, and what every week ends with.

use crate::pty::Terminal;
use crate::script::{Step, play, play_on};
use crate::world::World;
use portable_pty::CommandBuilder;
use serde_json::Value;
use std::collections::BTreeMap;

/// Where and when somebody sits down.
#[derive(Debug, Clone, Copy)]
pub struct Seat<'a> {
    /// The moment; nothing for a ledger that goes by the machine's clock.
    pub at: Option<&'a str>,
    pub person: Option<&'a str>,
    pub station: &'a str,
    /// The place at which the screens open.
    pub place: &'a str,
}

/// Columns and rows of a small terminal, where a text is cut first.
pub const SMALL: (u16, u16) = (80, 24);

impl Seat<'_> {
    /// Starts the program there.
    pub fn sit(&self, world: &World) -> Terminal {
        let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_hangtime"));
        command.env_clear();
        command.env("TERM", "xterm-256color");
        command.env("LANG", "C.UTF-8");
        command.env("HOME", world.home());
        command.cwd(world.home());
        command.args(["--station", self.station]);
        for (option, given) in [("--at", self.at), ("--as", self.person)] {
            if let Some(given) = given {
                command.args([option, given]);
            }
        }
        command.args(["screen", self.place]);
        Terminal::start(SMALL.1, SMALL.0, command)
    }

    /// Plays what is done there, which leaves the program; gives the receipts that were shown.
    pub fn plays(&self, world: &World, steps: &[Step]) -> Vec<String> {
        let mut terminal = self.sit(world);
        let receipts = play(&mut terminal, steps, &BTreeMap::new());
        assert_eq!(terminal.ends(), 0);
        receipts
    }
}

/// Plays a part of a day at a terminal that stays open; gives the receipts that were shown.
pub fn goes_on(terminal: &mut Terminal, steps: &[Step]) -> Vec<String> {
    play_on(terminal, steps, &BTreeMap::new())
}

/// The record holds, and all that was kept equals what follows from it. Gives what verify says.
pub fn sound(world: &World) -> Value {
    let verify = world.now().json("verify");
    assert_eq!(verify["differences"], serde_json::json!([]), "{verify}");
    verify
}
