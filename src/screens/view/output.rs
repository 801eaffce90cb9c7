//! A command that is being typed, that runs, or that ran.

use super::text::{Line, cells, flow, line, run};
use crate::screens::model::Model;
use crate::screens::prompt::{self, Output, Prompt};
use crate::screens::theme::Ink;

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
        // Further lines go on under where the text begins.
        let lead = text.chars().take_while(|c| *c == ' ').count();
        let inset = u16::try_from(lead + 4).unwrap_or(4);
        out.extend(flow(&line(text, ink), width, inset));
    }
    out
}
