//! Recipes: the ordered steps for one finish, with every limit.
//!
//! *Invariants*: an adopted revision never changes; a piece stays on its revision unless it is moved with a reason.
//! Minimum waits always hold; nothing computed elsewhere shortens them.
//!
//! *Not here*: reading the file (`recipe_file`), judging a deed (`rules`).

use super::words::{Defect, Drying, PieceKind, StepKind};
use crate::units::{Film, Humidity, Share, Span, Temperature};
use std::collections::BTreeMap;

/// One revision of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recipe {
    /// The shop's short code.
    pub code: String,
    /// Revision, counted from 1.
    pub revision: u32,
    /// The name that people read.
    pub name: String,
    /// How its film forms.
    pub finish: Drying,
    /// Kinds of piece that it is for.
    pub kinds: Vec<PieceKind>,
    /// Surfaces with a schedule of their own; `["whole"]` when the piece is treated as one.
    pub surfaces: Vec<String>,
    /// Whether a tack coat counts as a coat.
    pub tack_counts: bool,
    /// The finished film that is aimed for, lower end.
    pub film_low: Film,
    /// The finished film that is aimed for, upper end.
    pub film_high: Film,
    /// The steps in order.
    pub steps: Vec<Step>,
    /// What a retarder in the mix changes, weakest rule first.
    pub retarder: Vec<RetarderRule>,
    /// How hours in a room count towards the cure.
    pub credit: CreditPolicy,
    /// Booth air limits, each optional.
    pub booth: BoothLimits,
    /// Rework routes that a defect can open.
    pub reworks: Vec<Rework>,
    /// Steps of a surface, where they are not those of the whole branch: see [`Recipe::route`].
    pub routes: BTreeMap<(Option<String>, String), Vec<Step>>,
}

/// One line of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The name that people read, unique in the recipe.
    pub name: String,
    /// What is done.
    pub kind: StepKind,
    /// The surfaces that it is for; empty for all of the recipe.
    pub on: Vec<String>,
    /// Coats of a step that wets, stages of buffing; 1 for other deeds, 0 for a wait.
    pub count: u32,
    /// Least wait since the last wet coat before the step begins.
    pub after: Option<Span>,
    /// Least wait from the end of one coat to the start of the next.
    pub between: Option<Span>,
    /// Most coats of this kind in one production day.
    pub per_day: Option<u32>,
    /// After a longer gap than this since the last wet coat, a scuff comes first.
    pub scuff_after: Option<Span>,
    /// Dry film that one coat adds when the mix has the assumed solids.
    pub film: Film,
    /// Volume solids for which `film` is stated.
    pub solids: Option<Share>,
    /// Dry film that the step takes away.
    pub removes: Film,
    /// Length of a rest, or credited hours of a cure.
    pub hours: Option<Span>,
}

/// What a share of retarder in the mix changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RetarderRule {
    /// Applies when the mix holds more than this share.
    pub above: Share,
    /// The wait between coats becomes at least this.
    pub between: Option<Span>,
    /// The wait before sanding becomes at least this.
    pub dry: Option<Span>,
    /// A supervisor's name is asked for.
    pub supervisor: bool,
}

/// How an hour at a temperature counts towards the cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CreditPolicy {
    /// Bands from cold to warm, without overlap. Half-open `[from, to)`, except a band that says otherwise.
    pub bands: Vec<CreditBand>,
    /// Thousandths of an hour that an hour in a room without readings counts.
    pub unlogged_permille: i64,
}

/// One temperature band of a credit policy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CreditBand {
    /// Lower end, included; `None` reaches down for ever.
    pub from: Option<Temperature>,
    /// Upper end; `None` reaches up for ever.
    pub to: Option<Temperature>,
    /// Whether the upper end belongs to the band.
    pub to_included: bool,
    /// Thousandths of an hour that an hour counts.
    pub permille: i64,
    /// Whether a temperature in the band is worth telling someone.
    pub alert: bool,
}

/// Limits of the booth's air, each optional.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct BoothLimits {
    /// Highest relative humidity.
    pub humidity_high: Option<Humidity>,
    /// Least difference between air temperature and dew point, in mK.
    pub spread_low_mk: Option<i64>,
}

/// A rework route: its own steps, coats and clocks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rework {
    /// Short code.
    pub code: String,
    /// The name that people read.
    pub name: String,
    /// 1 local clear, 2 local with colour, 3 surface, 4 strip.
    pub level: u8,
    /// The defects that it mends.
    pub defects: Vec<Defect>,
    /// The step of the main line with which the surface goes on afterwards. Where it is left out, the surface goes on
    /// where it stood; a rework with a cure that is opened after the main cure does for the steps that it repeats.
    pub rejoin: Option<String>,
    /// Whether the film comes off down to the wood: the branch then starts with none.
    pub bare: bool,
    /// The steps in order.
    pub steps: Vec<Step>,
}

impl Recipe {
    /// `G9 rev 3`.
    pub fn label(&self) -> String {
        format!("{} rev {}", self.code, self.revision)
    }

    /// The steps of a branch: the main line, or a rework route by its code.
    pub fn steps_of(&self, rework: Option<&str>) -> &[Step] {
        match rework {
            None => &self.steps,
            Some(code) => self
                .reworks
                .iter()
                .find(|r| r.code == code)
                .map_or(&[], |r| &r.steps),
        }
    }

    /// The steps of one surface in a branch: those of the branch that are for it, in order.
    pub fn route(&self, rework: Option<&str>, surface: &str) -> &[Step] {
        self.routes
            .get(&(rework.map(str::to_owned), surface.to_owned()))
            .map_or_else(|| self.steps_of(rework), Vec::as_slice)
    }

    /// Sorts out which steps are for which surface. A recipe is read once and asked often.
    pub(super) fn with_routes(mut self) -> Self {
        let branches = std::iter::once((None, &self.steps)).chain(
            self.reworks
                .iter()
                .map(|r| (Some(r.code.clone()), &r.steps)),
        );
        let mut routes = BTreeMap::new();
        for (code, steps) in branches {
            if steps.iter().all(|s| s.on.is_empty()) {
                continue;
            }
            for surface in &self.surfaces {
                let own = steps
                    .iter()
                    .filter(|s| s.on.is_empty() || s.on.contains(surface))
                    .cloned()
                    .collect();
                routes.insert((code.clone(), surface.clone()), own);
            }
        }
        self.routes = routes;
        self
    }

    /// The rework with this code.
    pub fn rework(&self, code: &str) -> Option<&Rework> {
        self.reworks.iter().find(|r| r.code == code)
    }

    /// Film after all steps of the main line, by the recipe's own figures.
    pub fn planned_film(&self) -> Film {
        Film(
            self.steps
                .iter()
                .map(|s| s.film.0 * i64::from(s.count) - s.removes.0)
                .sum(),
        )
    }

    /// The strictest retarder rule that a mix with this share trips.
    pub fn retarder_rule(&self, share: Share) -> Option<&RetarderRule> {
        self.retarder
            .iter()
            .filter(|r| share > r.above)
            .max_by_key(|r| r.above)
    }
}

impl CreditPolicy {
    /// Thousandths of an hour that an hour at this temperature counts. A temperature in no band counts nothing.
    pub fn permille(&self, at: Temperature) -> i64 {
        self.band(at).map_or(0, |b| b.permille)
    }

    /// The band of a temperature.
    pub fn band(&self, at: Temperature) -> Option<&CreditBand> {
        self.bands.iter().find(|b| {
            b.from.is_none_or(|from| at >= from)
                && b.to.is_none_or(|to| at < to || (b.to_included && at == to))
        })
    }
}

/// The whole piece as one surface.
pub const WHOLE: &str = "whole";
