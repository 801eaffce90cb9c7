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

const fn pair(style: Style, (fg, bg): (u8, u8)) -> Style {
    style.fg(Color::Indexed(fg)).bg(Color::Indexed(bg))
}

/// The forms of the one theme.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Light text on the terminal's own dark ground.
    Dark,
    /// Dark text on a white ground that is painted.
    Light,
    /// White and a few full colours on a black ground that is painted, every judgement in bold.
    Contrast,
    /// No colour: weight and underline only.
    Plain,
}

impl Form {
    /// All forms with their words.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Dark, "dark"),
        (Self::Light, "light"),
        (Self::Contrast, "contrast"),
        (Self::Plain, "plain"),
    ];

    /// The form of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|(_, w)| *w == word)
            .map(|(form, _)| form)
    }
}

/// How things are drawn here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// Which form.
    pub form: Form,
    /// Whether shapes beyond ASCII are used.
    pub shapes: bool,
}

// Colours are numbers of the fixed part of the 256-colour palette: the first sixteen look different on every terminal.
struct Palette {
    ground: Option<(u8, u8)>,
    faint: u8,
    head: u8,
    title: (u8, u8),
    ready: u8,
    waiting: u8,
    in_work: u8,
    held: u8,
    unknown: u8,
    marked: (u8, u8),
    key: (u8, u8),
    demo: (u8, u8),
}

const DARK: Palette = Palette {
    ground: None,
    faint: 248,
    head: 153,
    title: (231, 24),
    ready: 123,
    waiting: 222,
    in_work: 183,
    held: 210,
    unknown: 252,
    marked: (231, 238),
    key: (231, 240),
    demo: (16, 222),
};

const LIGHT: Palette = Palette {
    ground: Some((16, 231)),
    faint: 240,
    head: 18,
    title: (231, 24),
    ready: 23,
    waiting: 94,
    in_work: 54,
    held: 124,
    unknown: 238,
    marked: (16, 253),
    key: (231, 240),
    demo: (16, 222),
};

const CONTRAST: Palette = Palette {
    ground: Some((231, 16)),
    faint: 231,
    head: 231,
    title: (16, 231),
    ready: 51,
    waiting: 226,
    in_work: 219,
    held: 217,
    unknown: 231,
    marked: (16, 226),
    key: (16, 231),
    demo: (16, 226),
};

impl Theme {
    /// The style of the whole ground, painted first.
    pub const fn ground(self) -> Style {
        match self.palette() {
            Some(Palette {
                ground: Some((fg, bg)),
                ..
            }) => pair(Style::new(), (*fg, *bg)),
            _ => Style::new(),
        }
    }

    const fn palette(self) -> Option<&'static Palette> {
        match self.form {
            Form::Dark => Some(&DARK),
            Form::Light => Some(&LIGHT),
            Form::Contrast => Some(&CONTRAST),
            Form::Plain => None,
        }
    }

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
        let Some(p) = self.palette() else {
            return style;
        };
        let style = match self.form {
            Form::Contrast => match ink {
                Ink::Outlook(_) | Ink::Late => style.add_modifier(Modifier::BOLD),
                _ => style,
            },
            _ => style,
        };
        match ink {
            Ink::Plain | Ink::Strong => style,
            Ink::Faint | Ink::Struck => Style::new()
                .fg(Color::Indexed(p.faint))
                .add_modifier(weight.difference(Modifier::DIM)),
            Ink::Head => style.fg(Color::Indexed(p.head)),
            Ink::Title => pair(style, p.title),
            Ink::Outlook(o) => style.fg(match o {
                Outlook::Ready => Color::Indexed(p.ready),
                Outlook::Waiting => Color::Indexed(p.waiting),
                Outlook::InWork => Color::Indexed(p.in_work),
                Outlook::Held => Color::Indexed(p.held),
                Outlook::Unknown => Color::Indexed(p.unknown),
            }),
            Ink::Marked => pair(style, p.marked),
            Ink::Against => style.fg(Color::Indexed(p.held)),
            Ink::Late => style.fg(Color::Indexed(p.waiting)),
            Ink::Key => pair(style, p.key),
            Ink::Demo => pair(style, p.demo),
        }
    }

    /// The ink of a text on the marked row: where the mark paints a full colour, a text in a colour of its own would be
    /// lost on it.
    pub fn on_mark(self, ink: Ink) -> Ink {
        match self.form {
            Form::Contrast => Ink::Marked,
            Form::Dark | Form::Light | Form::Plain => ink,
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

    /// A cell of a big digit, by whether its upper and its lower half are drawn. Plain ASCII has no half cells.
    pub const fn block(self, above: bool, below: bool) -> char {
        match (self.shapes, above, below) {
            (_, false, false) => ' ',
            (true, true, true) => '█',
            (true, true, false) => '▀',
            (true, false, true) => '▄',
            (false, ..) => '#',
        }
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
