//! A line that is typed without being seen, asked for on the terminal of a command.

use crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers};
use std::io::{IsTerminal, Write};

/// Longest line that is taken.
const LONGEST: usize = 40;

/// Asks for a line that is not shown. `None` where there is no terminal to ask on, or when it is broken off.
pub fn ask_hidden(question: &str) -> std::io::Result<Option<String>> {
    if !std::io::stdin().is_terminal() || !std::io::stderr().is_terminal() {
        return Ok(None);
    }
    let mut talk = std::io::stderr();
    write!(talk, "{question} ")?;
    talk.flush()?;
    crossterm::terminal::enable_raw_mode()?;
    let typed = read_line();
    let back = crossterm::terminal::disable_raw_mode();
    writeln!(talk)?;
    back.and(typed)
}

fn read_line() -> std::io::Result<Option<String>> {
    let mut text = String::new();
    loop {
        let Event::Key(key) = crossterm::event::read()? else {
            continue;
        };
        if key.kind == KeyEventKind::Release {
            continue;
        }
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        match key.code {
            KeyCode::Char('c' | 'd') if control => return Ok(None),
            KeyCode::Char('j' | 'm') if control => return Ok(Some(text)),
            KeyCode::Enter => return Ok(Some(text)),
            KeyCode::Esc => return Ok(None),
            KeyCode::Backspace => {
                text.pop();
            }
            KeyCode::Char(c) if !control && text.chars().count() < LONGEST => text.push(c),
            _ => {}
        }
    }
}
