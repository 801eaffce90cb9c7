//! The judgement on a standing at a time: what is next, from when, and why.
//!
//! *Invariants*: ready times round up to the minute; the slowest surface, the one that will be done last, speaks for the
//! piece; a piece whose time cannot be told is *unknown*, never ready.
//!
//! *Not here*: what was done (`standing`), the forecast of several steps ahead (`plan`).

use super::calendar::Calendar;
use super::recipe::Step;
use super::rules::{Deed, Ground, Objection, in_cure, objections, opens};
use super::standing::{PieceNow, Site, Standing, planned};
use super::words::{Outlook, Rule, StepKind, Word};
use crate::units::{Moment, Span};

/// What is next for a piece, seen at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct View {
    /// The judgement.
    pub outlook: Outlook,
    /// Index of the next step in the recipe; `None` when its schedule has ended.
    pub step: Option<usize>,
    /// Kind of that step.
    pub kind: Option<StepKind>,
    /// What is next in words: `clear 5 of 9`, `level sand 1`.
    pub next: String,
    /// From when on the recipe allows it, rounded up to the minute; in the past when it is ready.
    pub ready_at: Option<Moment>,
    /// Whether that time rests on a forecast, a gap or a slow assumption.
    pub provisional: bool,
    /// Why it must wait, the binding reason first; empty when it is ready.
    pub reasons: Vec<Objection>,
    /// The surface that decides.
    pub surface: String,
    /// The surfaces that are asked for this step next, parted by commas; "whole" where all are.
    pub on: String,
    /// The rework in which that surface stands.
    pub rework: Option<String>,
    /// The open deed and since when, while it is in work.
    pub begun: Option<(StepKind, Moment)>,
    /// Credited cure and hours wanted, while it stands in its cure.
    pub cure: Option<(Span, Span)>,
    /// The forecast misses the due date: its next step does, or the rest of its life where that was forecast.
    pub behind: bool,
    /// How long it may stand ready for its next step by the recipe, where it has stood so for longer by the clock.
    pub queued: Option<Span>,
    /// When its schedule is forecast to end; `None` where that was not asked for or cannot be told.
    pub finish: Option<Moment>,
}

impl View {
    /// The deed that comes next: the scuff where one must come before the next step.
    pub fn deed(&self) -> Option<StepKind> {
        let scuff = self.reasons.iter().any(|o| o.rule == Rule::ScuffFirst);
        if scuff {
            Some(StepKind::Scuff)
        } else {
            self.kind
        }
    }

    /// What is next and, where it is not for the whole piece, on which surfaces.
    pub fn next_on(&self) -> String {
        if self.on == super::recipe::WHOLE {
            self.next.clone()
        } else {
            format!("{} on {}", self.next, self.on)
        }
    }
}

/// The words of a step that comes next.
pub fn next_words(standing: &Standing, steps: &[Step], step: usize) -> String {
    let Some(s) = steps.get(step) else {
        return String::new();
    };
    if s.kind.wets() {
        format!(
            "{} {} of {}",
            s.kind.word(),
            standing.coats(steps, s.kind) + 1,
            planned(steps, s.kind)
        )
    } else if s.count > 1 {
        format!("{} {} of {}", s.name, standing.done(step) + 1, s.count)
    } else {
        s.name.clone()
    }
}

/// How late a surface is: whether its time cannot be told, when it will be done, when its next step is ready.
type Lateness = (bool, Option<Moment>, Option<Moment>);

/// The outlook of a piece at `at`.
pub fn view(now: &PieceNow, at: Moment, ground: &Ground<'_>) -> View {
    let slowest = by_lateness(now, at, ground).into_iter().next();
    let mut view = slowest.map_or_else(|| nothing_left(now.mated), |(_, view)| view);
    if let Some(kind) = view.kind {
        view.on = now.meant(ground.recipe, kind);
        view.behind = misses(now, view.ready_at.unwrap_or(at).max(at), ground.calendar);
    }
    view
}

/// A deed that a piece is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    /// Which.
    pub kind: StepKind,
    /// Whether it is the next one of a surface; else others come before it.
    pub next: bool,
}

/// The deed that is meant where only its verb is said (`wanted`): what the outlook has as next, else what a surface that
/// is less late has as next, else the first such step further on. `None` when the recipe asks for none any more.
pub fn asked(
    now: &PieceNow,
    at: Moment,
    ground: &Ground<'_>,
    wanted: fn(StepKind) -> bool,
) -> Option<Asked> {
    let sites = by_lateness(now, at, ground);
    let next = sites.iter().find_map(|(_, view)| {
        let first = view.deed().filter(|k| wanted(*k));
        first.or_else(|| view.kind.filter(|k| wanted(*k)))
    });
    let ahead = || {
        sites.iter().find_map(|(site, _)| {
            (site.standing.start..site.steps.len())
                .filter(|i| !site.standing.complete(site.steps, *i))
                .filter_map(|i| site.steps.get(i).map(|step| step.kind))
                .find(|k| wanted(*k))
        })
    };
    next.map(|kind| Asked { kind, next: true })
        .or_else(|| ahead().map(|kind| Asked { kind, next: false }))
}

// The surfaces that have something left to do, the slowest first: what each waits for now and what the recipe has it wait
// for later. A top in rework is behind sides that stand in their cure, although its own next step comes sooner. Surfaces
// that are equally late stand in the recipe's order.
fn by_lateness<'a>(now: &'a PieceNow, at: Moment, ground: &Ground<'a>) -> Vec<(Site<'a>, View)> {
    let mut sites: Vec<(Lateness, Site<'a>, View)> = now
        .current(ground.recipe)
        .filter_map(|site| {
            let this = view_of(now, &site, at, ground)?;
            let begins = this.ready_at.map(|m| m.max(at));
            let done = begins.map(|m| m.plus(now.ahead(ground.recipe, &site)));
            Some(((begins.is_none(), done, this.ready_at), site, this))
        })
        .collect();
    sites.sort_by(|(a, ..), (b, ..)| b.cmp(a));
    sites
        .into_iter()
        .map(|(_, site, view)| (site, view))
        .collect()
}

/// Whether a moment lies after the last day on which a piece is due.
pub fn misses(now: &PieceNow, at: Moment, calendar: &Calendar) -> bool {
    now.piece
        .due
        .is_some_and(|due| at >= calendar.midnight(due.succ_opt().unwrap_or(due)))
}

// No surface has anything left to do.
fn nothing_left(mated: bool) -> View {
    View {
        outlook: Outlook::Held,
        step: None,
        kind: None,
        next: if mated { "mated" } else { "schedule ended" }.to_owned(),
        ready_at: None,
        provisional: false,
        reasons: Vec::new(),
        surface: super::recipe::WHOLE.to_owned(),
        on: super::recipe::WHOLE.to_owned(),
        rework: None,
        begun: None,
        cure: None,
        behind: false,
        queued: None,
        finish: None,
    }
}

// The outlook of one surface; `None` when it has nothing left to do.
fn view_of(now: &PieceNow, site: &Site<'_>, at: Moment, ground: &Ground<'_>) -> Option<View> {
    let (steps, standing) = (site.steps, site.standing);
    let step = standing.next(steps)?;
    let kind = steps.get(step).map_or(StepKind::Clear, |s| s.kind);
    let deed = Deed::of(kind);
    let (from, provisional) = opens(now, site, &deed, at, ground);
    let reasons = objections(now, site.surface, &deed, at, ground);
    let held = reasons
        .iter()
        .any(|o| matches!(o.rule, Rule::Held | Rule::Scrapped | Rule::Mated));
    let unknown = reasons
        .iter()
        .any(|o| o.rule == Rule::Cure && o.until.is_none());
    // Time does not bring two halves together: a wait without an end.
    let apart = reasons
        .iter()
        .any(|o| matches!(o.rule, Rule::OtherHalf | Rule::Pair));
    let waiting = reasons.iter().any(|o| o.until.is_some_and(|u| at < u)) || apart;
    let begun = now.begun.as_ref().map(|b| (b.kind, b.at));
    let outlook = match (held, begun, unknown, waiting) {
        (true, ..) => Outlook::Held,
        (_, Some(_), ..) => Outlook::InWork,
        (_, _, true, _) => Outlook::Unknown,
        (.., true) => Outlook::Waiting,
        _ => Outlook::Ready,
    };
    let mut next = next_words(standing, steps, step);
    if reasons.iter().any(|o| o.rule == Rule::ScuffFirst) {
        next = format!("scuff, then {next}");
    }
    if let Some(code) = site.rework {
        next = format!("{code} {next}");
    }
    let ready_at = if unknown || apart {
        None
    } else {
        // Nothing is ready before the deed that made it the next one.
        from.max(standing.last_deed)
            .or(Some(now.newest))
            .map(Moment::minute_up)
    };
    let queue = steps.get(step).and_then(|s| s.queue);
    let queued = queue.filter(|most| {
        outlook == Outlook::Ready && ready_at.is_some_and(|since| at.since(since) > *most)
    });
    Some(View {
        outlook,
        step: Some(step),
        kind: Some(kind),
        next,
        ready_at,
        provisional,
        reasons,
        surface: site.surface.to_owned(),
        on: site.surface.to_owned(),
        rework: site.rework.map(str::to_owned),
        begun,
        cure: in_cure(now, site, at, ground).map(|(c, wanted)| (c.earned, wanted)),
        behind: false,
        queued,
        finish: None,
    })
}
