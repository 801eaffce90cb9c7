//! The solvent that is still in a film, by the recipe's own statement: an estimate that may only hold back.
//!
//! A recipe that switches it on says how much of the solvent is left when its cure is over. Its own schedule, at its
//! least waits, then fixes the model ([`Statement`]): a piece that is made to the recipe needs the recipe's hours and no
//! more. A thicker film, coats that followed too soon and cold hours between them need longer.
//!
//! *Invariants*: computed on reading and never kept; the recipe's hours always hold; the model's time is the credited
//! time of the cure. Before the last coat a stretch without readings counts by the clock, as the recipe's own waits
//! between coats do.
//!
//! *Not here*: the model itself (`science::cure`), fetching entries (the ledger).

use super::calendar::Calendar;
use super::climate::{Air, Stay};
use super::recipe::{Recipe, SolventModel, Step};
use super::record::{Entry, Fact};
use super::rehearse::nominal_entries;
use super::standing::{Mixes, PieceNow, Recipes};
use super::words::StepKind;
pub use crate::science::cure::Statement;
use crate::science::cure::{Dated, Deed};
use crate::science::measure::Quantity;
use crate::units::{Moment, Share, Span, num};
use std::collections::BTreeMap;
use std::sync::Arc;
use uom::si::f64::{Length, Ratio, Time};

/// Passes that follow each other sooner than this are one coat to the model: taken apart they would seem to dry
/// between. 15 to 45 min, derived from the model's own sensitivity.
const ONE_COAT: Span = Span::minutes(30);

/// A deed that changed the film of one surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Laid {
    /// When it ended.
    pub at: Moment,
    /// Film that it laid, or took where it is below zero, in nm.
    pub nm: i64,
    /// Whether it left the surface wet.
    pub wet: bool,
}

/// The wait that the model asks for on one surface.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct SolventHold {
    /// The surface.
    pub surface: String,
    /// The last wet coat that it counts from: a coat on top of it makes it void.
    pub since: Moment,
    /// Credited time that the film needs.
    pub needed: Span,
    /// The recipe's own.
    pub recipe: Span,
    /// Share of the solvent that is left when the recipe's own time is over.
    pub left: Share,
    /// Share that the recipe's own schedule has left then.
    pub own: Share,
}

/// What changed the film of each surface, in the order in which it happened. A gauge reading corrects what was laid
/// before it in proportion; a strip to the wood begins anew.
pub fn laid(
    entries: &[Entry],
    recipes: &Recipes,
    mixes: &dyn Mixes,
) -> BTreeMap<String, Vec<Laid>> {
    let mut out: BTreeMap<String, Vec<Laid>> = BTreeMap::new();
    let mut now: Option<PieceNow> = None;
    for entry in entries {
        let Some(piece) = &mut now else {
            if let Fact::Added(piece) = &entry.fact {
                now = recipes
                    .of(piece)
                    .map(|recipe| PieceNow::taken_in(entry, piece, recipe));
            }
            continue;
        };
        let films = |piece: &PieceNow| -> BTreeMap<String, i64> {
            let recipe = recipes.of(&piece.piece);
            recipe.map_or_else(BTreeMap::new, |recipe| {
                piece
                    .current(recipe)
                    .map(|s| (s.surface.to_owned(), s.standing.film_nm))
                    .collect()
            })
        };
        let before = films(piece);
        let wets_before = wets(piece, recipes);
        piece.apply(entry, recipes, mixes);
        let wets_after = wets(piece, recipes);
        for (surface, after) in films(piece) {
            let was = before.get(&surface).copied().unwrap_or(0);
            let wet = wets_after.get(&surface) != wets_before.get(&surface);
            let list = out.entry(surface).or_default();
            match &entry.fact {
                Fact::Gauged { .. } => rescale(list, was, after),
                Fact::Reworked { .. } if after == 0 && was != 0 => list.clear(),
                _ if after != was || wet => list.push(Laid {
                    at: entry.ended,
                    nm: after - was,
                    wet,
                }),
                _ => {}
            }
        }
    }
    for list in out.values_mut() {
        list.sort_by_key(|l| l.at);
    }
    out
}

fn wets(piece: &PieceNow, recipes: &Recipes) -> BTreeMap<String, Option<Moment>> {
    recipes
        .of(&piece.piece)
        .map_or_else(BTreeMap::new, |recipe| {
            piece
                .current(recipe)
                .map(|s| (s.surface.to_owned(), s.standing.last_wet))
                .collect()
        })
}

// The reading says how thick it is; where in it the solvent is follows the coats.
fn rescale(list: &mut [Laid], was: i64, read: i64) {
    if was > 0 && read > 0 {
        for l in list {
            let scaled = i128::from(l.nm) * i128::from(read) / i128::from(was);
            l.nm = i64::try_from(scaled).unwrap_or(l.nm);
        }
    }
}

/// The statement of a recipe about one surface in one branch; `None` where the recipe has no model or no cure there, or
/// where its schedule cannot have the cure that it states.
pub fn statement(recipe: &Arc<Recipe>, rework: Option<&str>, surface: &str) -> Option<Statement> {
    let model = recipe.solvent?;
    let hours = cure_of(recipe, rework, surface)?;
    let entries = nominal_entries(recipe, rework).ok()?;
    let mut recipes = Recipes::default();
    let uncapped = super::rehearse::uncapped(recipe);
    recipes.add(uncapped);
    let all = laid(&entries, &recipes, &super::rehearse::AsAssumed);
    let own = all.get(surface)?;
    let last = own.iter().rev().find(|l| l.wet)?.at;
    // What comes after the cure is not yet done when the statement holds.
    let until = last.plus(hours);
    let own: Vec<Laid> = own.iter().copied().filter(|l| l.at < until).collect();
    Statement::new(
        &dated(&own, |from, to| to.since(from)),
        time(hours),
        Ratio::of_base(share(model.left)),
        length(model.burn_in.0),
    )
    .ok()
}

fn cure_of(recipe: &Recipe, rework: Option<&str>, surface: &str) -> Option<Span> {
    let cure = |s: &&Step| s.kind == StepKind::Cure && s.waits();
    recipe
        .route(rework, surface)
        .iter()
        .find(cure)
        .and_then(|s| s.hours)
}

/// What a film needs after its last coat, where that is more than the recipe's own hours. `None` where it is not, or
/// where the model has no answer.
pub fn hold(
    surface: &str,
    statement: &Statement,
    model: SolventModel,
    recipe: Span,
    laid: &[Laid],
    (stays, air): (&[Stay], &dyn Air),
) -> Option<SolventHold> {
    let since = laid.iter().rev().find(|l| l.wet)?.at;
    let deeds = dated(laid, |from, to| counted(stays, air, from, to));
    let needed = statement.needed(&deeds).ok()?;
    if needed.hold.added.to_base() <= 0.0 {
        return None;
    }
    // The stack stands at the last deed: what is left of the recipe's hours goes by from there.
    let last_wet = deeds
        .iter()
        .rev()
        .find(|(_, d)| matches!(d, Deed::Coat(_)))?
        .0;
    let last = deeds.last()?.0;
    let mut stack = needed.stack.clone();
    let rest = time(recipe) - (last - last_wet);
    if rest.to_base() > 0.0 {
        stack.wait(rest);
    }
    let left = stack.mean()?;
    Some(SolventHold {
        surface: surface.to_owned(),
        since,
        needed: Span(num::whole((needed.hold.wait.to_base() * 1e3).ceil())?),
        recipe,
        left: Share(num::whole((left.to_base() * 1e6).round())?),
        own: model.left,
    })
}

/// The share of the solvent that is left in a film from its last deed to `at`, at `points` moments and at the end, by the
/// credited time of its rooms: a stretch that earns nothing dries nothing. `None` where the model has no answer.
pub fn course(
    statement: &Statement,
    laid: &[Laid],
    (stays, air): (&[Stay], &dyn Air),
    at: Moment,
    points: u16,
) -> Option<Vec<(Moment, Share)>> {
    let last = laid.last()?.at;
    let deeds = dated(laid, |from, to| counted(stays, air, from, to));
    let mut stack = statement.needed(&deeds).ok()?.stack;
    let length = at.since(last).0.max(0);
    let mut before = last;
    let mut out = Vec::new();
    for n in 0..=points {
        let part = i128::from(length) * i128::from(n) / i128::from(points.max(1));
        let now = last.plus(Span(i64::try_from(part).ok()?));
        let earned = air.credited(stays, before, now, Span(0)).earned;
        stack.wait(time(earned));
        before = now;
        let left = num::whole((stack.mean()?.to_base() * 1e6).round())?;
        out.push((now, Share(left)));
    }
    Some(out)
}

// Credited time of a stretch before the last coat: a gap or a room without readings counts by the clock there.
fn counted(stays: &[Stay], air: &dyn Air, from: Moment, to: Moment) -> Span {
    let clock = to.since(from);
    let credited = air.credited(stays, from, to, clock);
    if credited.assumed {
        clock
    } else {
        Span((credited.earned.0 + credited.unknown.0).min(clock.0))
    }
}

fn dated(laid: &[Laid], between: impl Fn(Moment, Moment) -> Span) -> Vec<Dated> {
    let mut out: Vec<Dated> = Vec::new();
    let mut before: Option<Moment> = None;
    let mut at = Span(0);
    let mut coat: Option<(Moment, i64)> = None;
    for l in laid {
        at = Span(at.0 + before.map_or(0, |b| between(b, l.at).0));
        before = Some(l.at);
        let follows = coat.filter(|(m, _)| l.nm >= 0 && l.at.since(*m) < ONE_COAT);
        if l.nm >= 0 {
            let film = l.nm + follows.map_or(0, |(_, nm)| nm);
            if follows.is_some() {
                out.pop();
            }
            out.push((time(at), Deed::Coat(length(film))));
            coat = Some((l.at, film));
        } else {
            out.push((time(at), Deed::Sand(length(-l.nm))));
            coat = None;
        }
    }
    out
}

fn time(span: Span) -> Time {
    Time::of_base(num::float(span.0) / 1e3)
}

fn length(nm: i64) -> Length {
    Length::of_base(num::float(nm) * 1e-9)
}

fn share(share: Share) -> f64 {
    num::float(share.0) * 1e-6
}

impl SolventHold {
    /// `solvent: 12.3 % left, recipe's own 10.0 %: recipe time + 38 h (an estimate)`.
    pub fn words(&self) -> String {
        use crate::units::Amount;
        let more = Span(self.needed.0 - self.recipe.0);
        let hours = more.0.div_euclid(3_600_000) + i64::from(more.0.rem_euclid(3_600_000) > 0);
        format!(
            "solvent: {} left at the recipe time, recipe's own {}: recipe time + {hours} h, an estimate",
            self.left.text(1),
            self.own.text(1)
        )
    }

    /// Whether it still speaks of the coat that is on top.
    pub fn is_of(&self, surface: &str, last_wet: Option<Moment>) -> bool {
        self.surface == surface && last_wet == Some(self.since)
    }
}

/// Where a nominal schedule is dated.
pub(super) const NOMINAL_CALENDAR: Calendar = Calendar::BARE;
