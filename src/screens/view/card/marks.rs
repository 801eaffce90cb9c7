//! The shapes of the charts, and their plain forms.

use crate::screens::theme::Theme;

/// One shape for each thing that a chart shows.
#[derive(Debug, Clone, Copy)]
pub(in crate::screens::view) struct Marks {
    /// The level of a step plot.
    pub(in crate::screens::view) level: &'static str,
    /// Between two levels.
    pub(in crate::screens::view) riser: &'static str,
    /// The doubt about a figure.
    pub(in crate::screens::view) doubt: &'static str,
    /// A cell of the wanted band.
    pub(in crate::screens::view) band: &'static str,
    /// A gauge reading.
    pub(in crate::screens::view) gauge: &'static str,
    /// A prediction that a reading replaced.
    pub(in crate::screens::view) old: &'static str,
    /// What is forecast.
    pub(in crate::screens::view) ahead: &'static str,
    /// A mean.
    pub(in crate::screens::view) mean: &'static str,
    /// A second mean in the same chart.
    pub(in crate::screens::view) other: &'static str,
    /// From the lowest to the highest.
    pub(in crate::screens::view) range: &'static str,
    /// A limit.
    pub(in crate::screens::view) limit: &'static str,
    /// A day or hour in which nothing was done.
    pub(in crate::screens::view) idle: &'static str,
    /// The same while a cure runs.
    pub(in crate::screens::view) cure: &'static str,
    /// An hour counts in full.
    pub(in crate::screens::view) full: &'static str,
    /// An hour counts in part.
    pub(in crate::screens::view) part: &'static str,
    /// An hour counts nothing.
    pub(in crate::screens::view) none: &'static str,
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
    pub(in crate::screens::view) const fn of(theme: Theme) -> Self {
        if theme.shapes { SHAPES } else { PLAIN }
    }
}
