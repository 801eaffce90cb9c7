//! How things are drawn: one word or shape beside every colour.
//!
//! *Invariants*: nothing is said by colour alone; without colour only weight and underline are used, because the
//! terminal library drops reversed video there; without UTF-8 every shape is plain ASCII.

use crate::shop::words::Outlook;
use ratatui::style::{Color, Modifier, Style};

/// What a text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Ordinary text.
    Plain,
    /// Less important text.
    Faint,
    /// Important text.
    Strong,
    /// A heading.
    Head,
    /// The title line.
    Title,
    /// A judgement.
    Outlook(Outlook),
    /// The row under the mark.
    Marked,
    /// A fault or something against a deed.
    Against,
    /// A deed that was written late.
    Late,
    /// An entry that was taken back.
    Struck,
    /// A key on the help line.
    Key,
    /// The mark of a demo.
    Demo,
}

/// What the terminal can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// Whether colours are used.
    pub colour: bool,
    /// Whether shapes beyond ASCII are used.
    pub shapes: bool,
}

impl Theme {
    /// The style of a text.
    pub const fn style(self, ink: Ink) -> Style {
        let weight = match ink {
            Ink::Plain | Ink::Late => Modifier::empty(),
            Ink::Faint => Modifier::DIM,
            Ink::Outlook(o) => match o {
                Outlook::Waiting | Outlook::Unknown => Modifier::empty(),
                Outlook::Ready | Outlook::InWork | Outlook::Held => Modifier::BOLD,
            },
            Ink::Strong | Ink::Title | Ink::Marked | Ink::Against | Ink::Key | Ink::Demo => {
                Modifier::BOLD
            }
            Ink::Head => Modifier::UNDERLINED,
            Ink::Struck => Modifier::CROSSED_OUT,
        };
        let style = Style::new().add_modifier(weight);
        if !self.colour {
            return style;
        }
        match ink {
            Ink::Plain | Ink::Strong => style,
            Ink::Faint | Ink::Struck => Style::new()
                .fg(Color::Indexed(248))
                .add_modifier(weight.difference(Modifier::DIM)),
            Ink::Head => Style::new().fg(Color::Indexed(153)).add_modifier(weight),
            Ink::Title => style.fg(Color::Indexed(231)).bg(Color::Indexed(24)),
            Ink::Outlook(o) => style.fg(match o {
                Outlook::Ready => Color::Indexed(123),
                Outlook::Waiting => Color::Indexed(222),
                Outlook::InWork => Color::Indexed(183),
                Outlook::Held => Color::Indexed(210),
                Outlook::Unknown => Color::Indexed(252),
            }),
            Ink::Marked => style.fg(Color::Indexed(231)).bg(Color::Indexed(238)),
            Ink::Against => style.fg(Color::Indexed(210)),
            Ink::Late => style.fg(Color::Indexed(222)),
            Ink::Key => style.fg(Color::Indexed(231)).bg(Color::Indexed(240)),
            Ink::Demo => style.fg(Color::Indexed(16)).bg(Color::Indexed(222)),
        }
    }

    /// The shape beside an outlook's word.
    pub const fn shape(self, outlook: Outlook) -> &'static str {
        match (self.shapes, outlook) {
            (true, Outlook::Ready) => "●",
            (true, Outlook::Waiting) => "◔",
            (true, Outlook::InWork) => "▶",
            (true, Outlook::Held) => "■",
            (false, Outlook::Ready) => "*",
            (false, Outlook::Waiting) => ":",
            (false, Outlook::InWork) => ">",
            (false, Outlook::Held) => "#",
            (_, Outlook::Unknown) => "?",
        }
    }

    /// What stands where a text was cut.
    pub const fn cut(self) -> &'static str {
        if self.shapes { "…" } else { "~" }
    }

    /// The mark of the row that Enter opens.
    pub const fn mark(self) -> &'static str {
        if self.shapes { "▸" } else { ">" }
    }

    /// A full cell of a bar, a cell of the wanted band, an empty cell, a cell beyond the band.
    pub const fn bar(self) -> (&'static str, &'static str, &'static str, &'static str) {
        if self.shapes {
            ("▆", "░", "·", "▓")
        } else {
            ("#", "-", ".", "!")
        }
    }
}
