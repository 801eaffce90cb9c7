//! The first start, drawn: the answers so far, one question, what Enter would take.

use super::text::{Line, count, flow, line, put_line, put_right, run};
use super::too_small;
use crate::screens::first::{Step, Walk};
use crate::screens::theme::{Ink, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Draws the walk.
pub fn first(walk: &Walk, theme: Theme, area: Rect, buf: &mut Buffer) {
    let area = area.intersection(buf.area);
    if too_small(area, theme, buf) {
        return;
    }
    buf.set_style(area, theme.ground());
    let title = Rect { height: 1, ..area };
    buf.set_style(title, theme.style(Ink::Title));
    put_line(
        buf,
        title,
        0,
        &line(" hangtime: a new shop", Ink::Title),
        theme,
    );
    let (number, all) = walk.place();
    let place = format!("{number} of {all} ");
    put_right(buf, title, 0, &line(place, Ink::Title), theme);

    // The question and what belongs to it never give way; the answers do, the oldest first.
    let inner = Rect {
        x: area.x + 2,
        width: area.width.saturating_sub(4),
        y: area.y + 1,
        height: area.height.saturating_sub(2),
    };
    let mut asked: Vec<Line> = flow(&line(walk.asks(), Ink::Strong), inner.width, 0);
    if walk.step != Step::Welcome {
        asked.push(vec![
            run("> ", Ink::Strong),
            run(format!("{}_", end(&walk.typed, inner.width)), Ink::Strong),
        ]);
    }
    let said = match (&walk.note, walk.busy) {
        (_, true) => line("one moment ...", Ink::Faint),
        (Some((text, true)), _) => line(format!("! {text}"), Ink::Against),
        (Some((text, false)), _) => line(text.clone(), Ink::Late),
        (None, _) => Vec::new(),
    };
    let check = match walk.check() {
        Ok(text) => line(text, Ink::Plain),
        // Nothing is wrong before anything was typed.
        Err(_) if walk.typed.is_empty() => line("type the answer, then Enter", Ink::Faint),
        Err(text) => line(text, Ink::Against),
    };
    let said_of = walk.note.as_ref().is_some_and(|(_, wrong)| *wrong);
    if !said_of && !walk.busy {
        asked.extend(flow(&check, inner.width, 2));
    }
    for text in said
        .iter()
        .flat_map(|(t, i)| t.lines().map(|l| line(l, *i)))
    {
        asked.extend(flow(&text, inner.width, 2));
    }
    let mut hints: Vec<Line> = vec![Vec::new()];
    for hint in walk.hints() {
        hints.extend(flow(&line(hint, Ink::Faint), inner.width, 2));
    }
    let answers: Vec<Line> = walk
        .answers()
        .into_iter()
        .map(|(word, value)| {
            vec![
                run(format!("{word:<12}"), Ink::Faint),
                run(value, Ink::Plain),
            ]
        })
        .collect();
    let height = usize::from(inner.height);
    let room = height.saturating_sub(asked.len() + 2);
    let skip = answers.len().saturating_sub(room);
    let mut lines: Vec<Line> = answers.into_iter().skip(skip).collect();
    if lines.len() < room {
        lines.insert(0, Vec::new());
    }
    if !lines.is_empty() {
        lines.push(Vec::new());
    }
    lines.extend(asked);
    lines.extend(hints);
    for (top, l) in lines.iter().take(height).enumerate() {
        put_line(buf, inner, count(top), l, theme);
    }
    let keys: &[(&str, &str)] = match walk.step {
        Step::Welcome => &[("Enter", "start"), ("s", "sample"), ("Esc", "leave")],
        Step::Zone => &[
            ("Enter", "take"),
            ("Tab", "first match"),
            ("Esc", "back"),
            ("Ctrl-C", "leave"),
        ],
        Step::Recipe | Step::Serial => &[
            ("Enter", "take"),
            ("Esc", "later, to the floor"),
            ("Ctrl-C", "leave"),
        ],
        _ => &[("Enter", "take"), ("Esc", "back"), ("Ctrl-C", "leave")],
    };
    let help = super::help_line(keys.iter());
    put_line(buf, area, area.height.saturating_sub(1), &help, theme);
}

// The end of a long answer: what is being typed stays in sight.
fn end(typed: &str, width: u16) -> String {
    let room = usize::from(width.saturating_sub(4));
    let skip = typed.chars().count().saturating_sub(room);
    typed.chars().skip(skip).collect()
}
