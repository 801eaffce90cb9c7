//! A command that is being typed, that runs, or that ran.

use super::text::{Line, cells, flow, line, run};
use crate::screens::model::Model;
use crate::screens::prompt::{self, Output, Prompt};
use crate::screens::theme::Ink;
use crate::shop::text::shown;

/// The line that is being typed, its end in sight.
pub(super) fn question(prompt: &Prompt, width: u16) -> String {
    let mut shown = format!(":{}_", prompt::masked(&prompt.typed));
    // What is being typed is never cut: the beginning gives way.
    while cells(&shown) > width && shown.chars().count() > 1 {
        let rest: String = shown.chars().skip(2).collect();
        shown = format!("<{rest}");
    }
    shown
}

/// The page of a command.
pub(super) fn lines(model: &Model, output: &Output, width: u16) -> Vec<Line> {
    let since = model.shop.calendar.clock(output.since);
    let mut out = vec![
        vec![
            run(format!("{}  ", output.line), Ink::Strong),
            run(since, Ink::Faint),
        ],
        Vec::new(),
    ];
    for (text, wrong) in prompt::lines(output, model.shop.demo) {
        let ink = if wrong { Ink::Against } else { Ink::Plain };
        out.extend(broken(text, ink, width));
    }
    out
}

// Further lines go on under where the text begins.
fn broken(text: String, ink: Ink, width: u16) -> Vec<Line> {
    let lead = text.chars().take_while(|c| *c == ' ').count();
    let inset = u16::try_from(lead + 4).unwrap_or(4);
    flow(&line(text, ink), width, inset)
}

/// Lines that the page has for a command's answer, of so many in all.
pub(super) const fn room(lines: u16) -> u16 {
    lines.saturating_sub(HEAD)
}

// The command itself and an empty line stand above its answer.
const HEAD: u16 = 2;

/// Lines that one line of a command's answer takes on a page of a width.
pub fn rows(text: &str, width: u16) -> usize {
    broken(shown(text), Ink::Plain, width).len()
}
