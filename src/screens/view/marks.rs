//! The shapes of the charts, and their plain forms.

use crate::screens::theme::Theme;

/// One shape for each thing that a chart shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Marks {
    /// The level of a step plot.
    pub(super) level: &'static str,
    /// Between two levels.
    pub(super) riser: &'static str,
    /// The doubt about a figure.
    pub(super) doubt: &'static str,
    /// A cell of the wanted band.
    pub(super) band: &'static str,
    /// A gauge reading.
    pub(super) gauge: &'static str,
    /// A prediction that a reading replaced.
    pub(super) old: &'static str,
    /// What is forecast.
    pub(super) ahead: &'static str,
    /// A mean.
    pub(super) mean: &'static str,
    /// A second mean in the same chart.
    pub(super) other: &'static str,
    /// From the lowest to the highest.
    pub(super) range: &'static str,
    /// A limit.
    pub(super) limit: &'static str,
    /// A day or hour in which nothing was done.
    pub(super) idle: &'static str,
    /// The same while a cure runs.
    pub(super) cure: &'static str,
    /// An hour counts in full.
    pub(super) full: &'static str,
    /// An hour counts in part.
    pub(super) part: &'static str,
    /// An hour counts nothing.
    pub(super) none: &'static str,
}

const SHAPES: Marks = Marks {
    level: "━",
    riser: "┃",
    doubt: "┊",
    band: "░",
    gauge: "◆",
    old: "○",
    ahead: "╌",
    mean: "•",
    other: "∘",
    range: "│",
    limit: "╌",
    idle: "·",
    cure: "~",
    full: "▆",
    part: "▃",
    none: "_",
};

const PLAIN: Marks = Marks {
    level: "=",
    riser: "|",
    doubt: ":",
    band: ".",
    gauge: "@",
    old: "o",
    ahead: "-",
    mean: "*",
    other: "o",
    range: "|",
    limit: "-",
    idle: ".",
    cure: "~",
    full: "#",
    part: "=",
    none: "_",
};

impl Marks {
    /// Those of a theme.
    pub(super) const fn of(theme: Theme) -> Self {
        if theme.shapes { SHAPES } else { PLAIN }
    }
}
