//! What speaks against a deed: one function that warns before it and marks it afterwards.
//!
//! *Invariants*: every objection names its rule and its figures, the binding one comes first; a bound that is met
//! exactly is met. A rule never reads the clock.
//!
//! *Not here*: what to do about an objection. Before a deed it is shown; after it, it becomes a deviation.

use super::calendar::{Calendar, Day};
use super::climate::{Air, Credited};
use super::grit::Grit;
use super::recipe::{FILM_MARGIN, Recipe, Step};
use super::solvent::SolventHold;
use super::standing::{PieceNow, Site, Standing, stage_share};
use super::words::{Fit, MaterialKind, Rub, Rule, StepKind, Word};
use crate::science::film::kept_coat;
use crate::science::measure::Quantity;
use crate::science::psychrometrics::dew_point;
use crate::units::{Amount, Film, Humidity, Moment, Share, Span, Temperature, num};
use uom::si::f64::{Ratio, ThermodynamicTemperature};

/// All that a judgement needs besides the standing and the time.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// The recipe of the piece.
    pub recipe: &'a Recipe,
    /// The shop's calendar.
    pub calendar: &'a Calendar,
    /// Credit tables of the rooms under this recipe's policy.
    pub air: &'a dyn Air,
    /// What is known of things beside the piece.
    pub around: &'a Around,
}

/// What a judgement needs to know of things beside the piece, looked up by whoever asks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Around {
    /// The other half of its pair.
    pub other: Option<OtherHalf>,
    /// The compound that was on the wheel before.
    pub wheel_had: Option<String>,
    /// Surfaces whose film is held back by the recipe's solvent model.
    pub solvent: Vec<SolventHold>,
}

impl Around {
    /// Nothing is known.
    pub const NOTHING: &'static Self = &Self {
        other: None,
        wheel_had: None,
        solvent: Vec::new(),
    };
}

/// The other half of a pair, as it stands at the moment of the judgement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OtherHalf {
    /// Its serial.
    pub serial: String,
    /// The serial of its own other half.
    pub belongs_to: Option<String>,
    /// Batch of the colour that is on it.
    pub batch: Option<String>,
    /// Whether its own schedule has come to the mating.
    pub there: bool,
    /// What is next for it.
    pub next: String,
}

/// A deed that is about to be done or was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Deed {
    /// What kind of step it belongs to.
    pub kind: StepKind,
    /// A touch-up is held against holds only: it restarts clocks but is no coat of the recipe.
    pub touch_up: bool,
    /// Retarder share of the mix in the cup, where known.
    pub retarder: Share,
    /// Whether a supervisor's initials were given.
    pub supervisor: bool,
    /// Volume solids of what is in the cup, where known.
    pub solids: Option<Share>,
    /// Kinds of material in the cup; empty where they are not known.
    pub cup: Vec<MaterialKind>,
    /// Wet film readings.
    pub wet: Vec<Film>,
    /// When the oldest part of the mix was mixed.
    pub mixed: Option<Moment>,
    /// The lot in the cup whose shelf life ends first, and the last day of it.
    pub shelf_life: Option<(String, Day)>,
    /// Air where it is done.
    pub temperature: Option<Temperature>,
    /// Relative humidity where it is done.
    pub humidity: Option<Humidity>,
    /// Where on the surface, for drops.
    pub place: Option<String>,
    /// The rub test on a filler.
    pub rub: Option<Rub>,
    /// Batch of the colour.
    pub batch: Option<String>,
    /// Film taken off, where it was measured.
    pub removed: Option<Film>,
    /// Grits of a sanding, with their scales.
    pub grits: Option<String>,
    /// Moisture content of the wood at each spot.
    pub moisture: Vec<Share>,
    /// The light, where the deed is a cure under a lamp.
    pub light: Option<Light>,
    /// Compound on the wheel.
    pub compound: Option<String>,
    /// Initials of who does it; empty when it is not known yet.
    pub person: String,
    /// Serial of the other half that is mated.
    pub with: Option<String>,
    /// The trial fit.
    pub fit: Option<Fit>,
    /// What a look found that asks for rework or scrap, in words.
    pub findings: Vec<String>,
    /// The production day that was stored with it; `None` before it is done. The zone's rules may change later, a day that
    /// was counted does not.
    pub day: Option<Day>,
}

/// Light of a cure under a lamp; what was not measured is `None`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Light {
    /// Dose in uJ/cm2.
    pub dose: Option<i64>,
    /// Peak irradiance in uW/cm2.
    pub peak: Option<i64>,
}

impl Deed {
    /// A deed of a kind of which no more is known.
    pub const fn of(kind: StepKind) -> Self {
        Self {
            kind,
            touch_up: false,
            retarder: Share(0),
            supervisor: false,
            solids: None,
            cup: Vec::new(),
            wet: Vec::new(),
            mixed: None,
            shelf_life: None,
            temperature: None,
            humidity: None,
            place: None,
            rub: None,
            batch: None,
            removed: None,
            grits: None,
            moisture: Vec::new(),
            light: None,
            compound: None,
            person: String::new(),
            with: None,
            fit: None,
            findings: Vec::new(),
            day: None,
        }
    }
}

/// One reason against a deed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Objection {
    /// The rule.
    pub rule: Rule,
    /// From when on it no longer speaks against the deed; `None` when time alone does not settle it.
    pub until: Option<Moment>,
    /// Whether `until` rests on a forecast, a gap or a slow assumption.
    pub provisional: bool,
    /// Whether the deed would undo what is there, a cure that begins anew, or lays on one coat more than the recipe has.
    pub undoes: bool,
    /// Whether the piece is far from it: less than half of the wait is over, or a coat or a sanding that comes before it is not
    /// there. That is more likely the wrong rack or the wrong key than a deed that came early.
    pub far: bool,
    /// What it says before the deed.
    pub before: String,
    /// What it says after the deed.
    pub after: String,
}

impl Objection {
    /// Whether the deed would undo what is there, or is most likely a slip: the wrong rack, the wrong cup. A rack's piece
    /// with such an objection is never taken along without a word for it: a coat left out before it and a cure that is not over
    /// are such things. What is only a little early is none.
    pub const fn grave(&self) -> bool {
        self.undoes
            || self.far
            || matches!(
                self.rule,
                Rule::Held | Rule::Scrapped | Rule::Mated | Rule::Material | Rule::Cure
            )
    }
}

fn bound(rule: Rule, until: Option<Moment>, before: String, after: String) -> Objection {
    Objection {
        rule,
        until,
        provisional: false,
        undoes: false,
        far: false,
        before,
        after,
    }
}

// Whether less than half of a wait is over.
const fn far(begin: Moment, until: Moment, at: Moment) -> bool {
    at.since(begin).0 < until.since(at).0
}

/// The bounds of a deed that begins at `at` on one surface, met or not. The latest `until` is when it may begin.
pub fn bounds(
    now: &PieceNow,
    site: &Site<'_>,
    deed: &Deed,
    at: Moment,
    ground: &Ground<'_>,
) -> Vec<Objection> {
    let mut list = Vec::new();
    state_bounds(now, &mut list);
    list.extend(film_bound(site, deed));
    list.extend(shelf_bound(deed, at, ground));
    if deed.touch_up || now.scrapped.is_some() || now.mated {
        return list;
    }
    let (steps, standing) = (site.steps, site.standing);
    let kind = deed.kind;
    let Some(target) = standing.step_for(steps, kind) else {
        if kind == StepKind::Scuff && asks_for_scuff(standing, steps, at) {
            return list;
        }
        let text = format!(
            "{} has no step \"{}\"",
            line_name(site, ground),
            kind.word()
        );
        list.push(bound(Rule::NotInRecipe, None, text.clone(), text));
        return list;
    };
    let Some(step) = steps.get(target) else {
        return list;
    };
    list.extend(material_bound(step, deed, ground));
    if kind == StepKind::DropFill {
        drop_bounds(standing, step, deed, at, ground, &mut list);
        return list;
    }
    if standing.complete(steps, target) {
        list.push(extra_bound(now, site, step, at, ground));
    } else if let Some(next) = standing.next(steps).filter(|n| *n < target) {
        // Paper work that nobody logged is one thing, a coat or a sanding that is not there another.
        let film = |i: usize| {
            let step = steps.get(i).filter(|_| !standing.complete(steps, i));
            step.is_some_and(|s| s.kind.wets() || (s.kind.sands() && s.kind != StepKind::Scuff))
        };
        list.push(Objection {
            far: (next..target).any(film),
            ..order_bound(now, site, next, at, ground)
        });
    }
    wait_bounds(now, site, target, at, ground, &mut list);
    if kind.wets() {
        coat_bounds(site, step, deed, at, ground, &mut list);
    } else if let (Some(wet), Some(after)) = (standing.last_wet, step.after) {
        list.push(dry_bound(standing, step, wet, after, at, ground));
    }
    if step.kind.sands() || step.kind == StepKind::Buff {
        spot_bounds(site, at, ground, &mut list);
    }
    step_bounds(step, standing.done(target), deed, &mut list);
    deed_bounds(now, deed, ground, &mut list);
    list
}

// What is in the cup against what the step is done with. Where it is not known nothing is said of it.
fn material_bound(step: &Step, deed: &Deed, ground: &Ground<'_>) -> Option<Objection> {
    if fits(ground.recipe, step, &deed.cup) {
        return None;
    }
    let words = |kinds: &[MaterialKind], between: &str| {
        let words: Vec<&str> = kinds.iter().map(|k| k.word()).collect();
        words.join(between)
    };
    let text = format!(
        "the cup holds {}, {} wants {}",
        words(&deed.cup, " and "),
        step.name,
        words(ground.recipe.done_with(step), " or ")
    );
    Some(bound(Rule::Material, None, text.clone(), text))
}

/// Whether a cup holds what a step is done with. Thinner, retarder and the like decide nothing beside it; a cup of
/// which nothing is known may hold it.
pub fn fits(recipe: &Recipe, step: &Step, cup: &[MaterialKind]) -> bool {
    let wanted = recipe.done_with(step);
    cup.is_empty() || wanted.is_empty() || cup.iter().any(|kind| wanted.contains(kind))
}

// A lot serves to the end of the last day of its shelf life.
fn shelf_bound(deed: &Deed, at: Moment, ground: &Ground<'_>) -> Option<Objection> {
    let (lot, end) = deed.shelf_life.as_ref()?;
    let day = deed.day.unwrap_or_else(|| ground.calendar.day(at));
    (*end < day).then(|| {
        let text = format!("lot {lot}: shelf life ended {}", end.date());
        bound(Rule::ShelfLife, None, text.clone(), text)
    })
}

// A filled spot is the thickest place and dries last.
fn spot_bounds(site: &Site<'_>, at: Moment, ground: &Ground<'_>, list: &mut Vec<Objection>) {
    let dry = site.steps.iter().filter_map(|s| s.dry).max();
    let Some(dry) = dry else { return };
    for (place, (wet, _)) in &site.standing.spots {
        let until = wet.plus(dry);
        list.push(bound(
            Rule::SpotDry,
            Some(until),
            format!(
                "drop-fill at {place} dry from {}, {} left",
                ground.calendar.near(until.minute_up(), at),
                left(until, at)
            ),
            format!(
                "drop-fill at {place} {} short of dry",
                until.since(at).words()
            ),
        ));
    }
}

// What the step of the recipe says of the deed itself; nothing of it is settled by time.
fn step_bounds(step: &Step, stage: u32, deed: &Deed, list: &mut Vec<Objection>) {
    let mut say = |rule, text: String| list.push(bound(rule, None, text.clone(), text));
    if let Some((low, high)) = step.moisture
        && let Some(wood) = deed.moisture.iter().find(|m| **m < low || **m > high)
    {
        say(
            Rule::Moisture,
            format!(
                "moisture {} is outside {} to {}",
                percent(*wood),
                percent(low),
                percent(high)
            ),
        );
    }
    if let Some(light) = deed.light {
        light_bounds(step, light, &mut say);
    }
    if let Some(compound) = &deed.compound {
        let wanted = usize::try_from(stage)
            .ok()
            .and_then(|i| step.compounds.get(i));
        if let Some(wanted) = wanted.filter(|w| *w != compound) {
            say(
                Rule::Wheel,
                format!("compound {compound}, recipe {wanted} for this stage"),
            );
        }
    }
    if let Some(grits) = deed.grits.as_deref().and_then(|g| Grit::read_list(g).ok()) {
        grit_bounds(step, &grits, &mut say);
    }
}

// What was not measured is unknown, and is never taken for enough.
fn light_bounds(step: &Step, light: Light, say: &mut impl FnMut(Rule, String)) {
    let wants = [
        ("dose", "mJ/cm2", step.dose, light.dose),
        ("peak", "mW/cm2", step.peak, light.peak),
    ];
    for (name, unit, wanted, got) in wants {
        let Some(wanted) = wanted else { continue };
        match got {
            Some(got) if got >= wanted => {}
            Some(got) => say(
                Rule::Dose,
                format!(
                    "{name} {} {unit}, recipe {} {unit}",
                    got / 1_000,
                    wanted / 1_000
                ),
            ),
            None => say(
                Rule::Dose,
                format!("{name} unknown, recipe {} {unit}", wanted / 1_000),
            ),
        }
    }
}

fn grit_bounds(step: &Step, grits: &[Grit], say: &mut impl FnMut(Rule, String)) {
    for pair in grits.windows(2) {
        if let [before, after] = pair
            && after.coarser_than(*before) == Some(true)
        {
            say(
                Rule::Grit,
                format!("{} after {} goes back", after.text(), before.text()),
            );
        }
    }
    if let (Some(last), Some(wanted)) = (grits.last(), step.grits.last())
        && last.coarser_than(*wanted) == Some(true)
    {
        say(
            Rule::Grit,
            format!("ends at {}, recipe {}", last.text(), wanted.text()),
        );
    }
}

// More film off than the record ever put on: either the figures do not fit the deed, or it went through.
fn film_bound(site: &Site<'_>, deed: &Deed) -> Option<Objection> {
    if deed.touch_up || !(deed.kind.sands() || deed.kind == StepKind::Buff) {
        return None;
    }
    let standing = site.standing;
    let by_recipe = standing
        .step_for(site.steps, deed.kind)
        .and_then(|i| site.steps.get(i).map(|s| (i, s)))
        .map_or(Film(0), |(i, step)| {
            if deed.kind.sands() {
                step.removes
            } else {
                stage_share(step, standing.done(i))
            }
        });
    let taken = deed.removed.unwrap_or(by_recipe);
    let left = standing.film_nm - taken.0;
    (taken > Film(0) && left < 0).then(|| {
        let text = format!(
            "takes {} of the {} that the record has there: gauge it",
            taken.text(1),
            Film(standing.film_nm).text(1)
        );
        bound(Rule::FilmBelowNothing, None, text.clone(), text)
    })
}

// What the line of work is called: the recipe, or a rework in it.
fn line_name(site: &Site<'_>, ground: &Ground<'_>) -> String {
    site.rework.map_or_else(
        || format!("recipe {}", ground.recipe.label()),
        |code| format!("rework {code} of {}", ground.recipe.label()),
    )
}

// Drops follow drops on one spot; nothing else of the recipe bears on them.
fn drop_bounds(
    standing: &Standing,
    step: &Step,
    deed: &Deed,
    at: Moment,
    ground: &Ground<'_>,
    list: &mut Vec<Objection>,
) {
    let place = deed.place.as_deref().unwrap_or("spot");
    if let (Some((wet, _)), Some(wait)) = (standing.spots.get(place), step.between) {
        let until = wet.plus(wait);
        list.push(bound(
            Rule::Interval,
            Some(until),
            format!(
                "next drop at {place} from {}, {} left",
                ground.calendar.near(until.minute_up(), at),
                left(until, at)
            ),
            format!("drop at {place} {} early", until.since(at).words()),
        ));
    }
}

// What the deed itself brings along: nothing of this is settled by time.
fn deed_bounds(now: &PieceNow, deed: &Deed, ground: &Ground<'_>, list: &mut Vec<Objection>) {
    let mut say = |rule, text: String| list.push(bound(rule, None, text.clone(), text));
    if deed.rub == Some(Rub::Smear) {
        say(
            Rule::Rub,
            "the filler smears in the rub test: it is not dry".to_owned(),
        );
    }
    if deed.kind == StepKind::Inspect && now.buffed_by.contains(&deed.person) {
        say(
            Rule::OwnWork,
            format!("{} buffed it; another person inspects", deed.person),
        );
    }
    for finding in &deed.findings {
        say(Rule::Finding, finding.clone());
    }
    if let (Some(had), Some(compound)) = (&ground.around.wheel_had, &deed.compound)
        && had != compound
    {
        say(
            Rule::Wheel,
            format!("the wheel had {had} on it: each compound its own wheel"),
        );
    }
    let other = ground.around.other.as_ref();
    if deed.kind == StepKind::Colour
        && let (Some(other), Some(batch)) = (other, &deed.batch)
        && let Some(its) = other.batch.as_ref().filter(|b| *b != batch)
    {
        say(
            Rule::ColourBatch,
            format!("colour batch {batch}, but {} has {its}", other.serial),
        );
    }
    if deed.kind == StepKind::Mate {
        mate_bounds(now, deed, other, &mut say);
    }
}

fn mate_bounds(
    now: &PieceNow,
    deed: &Deed,
    other: Option<&OtherHalf>,
    say: &mut impl FnMut(Rule, String),
) {
    let own = now.piece.serial.as_str();
    let listed = now.piece.pair.as_deref();
    let with = deed.with.as_deref().or(listed);
    match (listed, with) {
        (Some(listed), Some(with)) if listed != with => say(
            Rule::Pair,
            format!("{own} belongs to {listed}, not to {with}"),
        ),
        (None, _) => say(Rule::Pair, format!("{own} has no other half listed")),
        _ => {}
    }
    let Some(other) = other else {
        if with.is_some() {
            say(
                Rule::OtherHalf,
                format!("nothing is recorded of {}", with.unwrap_or_default()),
            );
        }
        return;
    };
    if let Some(its) = other.belongs_to.as_deref().filter(|s| *s != own) {
        say(
            Rule::Pair,
            format!("{} belongs to {its}, not to {own}", other.serial),
        );
    }
    if !other.there {
        say(
            Rule::OtherHalf,
            format!(
                "{} is not there yet: {} is next for it",
                other.serial, other.next
            ),
        );
    }
    if let (Some(own), Some(its)) = (&now.batch, &other.batch)
        && own != its
    {
        say(
            Rule::ColourBatch,
            format!("colour batch {own}, but {} has {its}", other.serial),
        );
    }
    match deed.fit {
        Some(Fit::Tight) => say(
            Rule::Fit,
            "tight at the trial fit: ease the pocket".to_owned(),
        ),
        Some(Fit::Loose) => say(Rule::Fit, "loose at the trial fit".to_owned()),
        Some(Fit::Snug) | None => {}
    }
}

// A recipe need not have a scuff as a step: it asks for one by the gap after which a coat wants it first.
fn asks_for_scuff(standing: &Standing, steps: &[Step], at: Moment) -> bool {
    let window = standing
        .next(steps)
        .and_then(|i| steps.get(i))
        .and_then(|s| s.scuff_after);
    let gap = standing.last_wet.map(|wet| at.since(wet));
    matches!((window, gap), (Some(window), Some(gap)) if gap > window)
}

fn state_bounds(now: &PieceNow, list: &mut Vec<Objection>) {
    if let Some(why) = &now.scrapped {
        list.push(bound(
            Rule::Scrapped,
            None,
            format!("scrapped: {why}"),
            format!("scrapped: {why}"),
        ));
    }
    if now.mated {
        list.push(bound(
            Rule::Mated,
            None,
            "mated: its schedule has ended".into(),
            "done after mating".into(),
        ));
    }
    for (_, why) in &now.holds {
        list.push(bound(
            Rule::Held,
            None,
            format!("on hold: {why}"),
            format!("done while on hold: {why}"),
        ));
    }
}

fn extra_bound(
    now: &PieceNow,
    site: &Site<'_>,
    step: &Step,
    at: Moment,
    ground: &Ground<'_>,
) -> Objection {
    let (steps, standing) = (site.steps, site.standing);
    let line = site
        .rework
        .map_or_else(|| ground.recipe.label(), |code| format!("rework {code}"));
    let kind = step.kind;
    let planned = site.planned(kind);
    let done = standing.coats(steps, kind);
    let mut before = if kind.wets() {
        format!("all {planned} {} coats of {line} are on", kind.word())
    } else if planned > 1 {
        format!("all {planned} rounds of {} in {line} are done", kind.word())
    } else {
        format!("{} of {line} is done", kind.word())
    };
    let cure_at = steps
        .iter()
        .position(|s| s.kind == StepKind::Cure && s.waits());
    // A coat too many is no work that goes wrong a little: the film is on, and it is most likely the wrong rack.
    let undoes = kind.wets();
    if kind.wets() && cure_at.is_some_and(|c| standing.furthest().is_some_and(|f| f > c)) {
        before = format!(
            "{} is past its cure. A coat restarts it: cure, final sanding and buffing come again",
            now.piece.serial
        );
    }
    if kind.wets()
        && let Some(cure) = cure_step(standing, steps)
        && let Some(credited) = cure_credit(now, standing, cure, at, ground)
    {
        let hours = credited.earned.0 / 3_600_000;
        before = format!(
            "{} is in cure. A coat restarts its cure ({hours} h lost)",
            now.piece.serial
        );
    }
    let after = format!("{} {} of {planned}", kind.word(), done + 1);
    Objection {
        undoes,
        ..bound(Rule::ExtraCoat, None, before, after)
    }
}

fn order_bound(
    now: &PieceNow,
    site: &Site<'_>,
    next: usize,
    at: Moment,
    ground: &Ground<'_>,
) -> Objection {
    let steps = site.steps;
    let name = steps.get(next).map_or("", |s| s.name.as_str());
    let kind = steps.get(next).map_or(StepKind::Clear, |s| s.kind);
    let from = opens_at(now, site, next, at, ground);
    let when = from.map(|f| ground.calendar.near(f.minute_up(), at));
    let before = match (when, kind.sands()) {
        (Some(when), true) => format!("{name} comes first (sanding time from {when})"),
        (Some(when), false) => format!("{name} comes first (from {when})"),
        (None, _) => format!("{name} comes first"),
    };
    bound(Rule::Order, from, before, format!("{name} skipped"))
}

// When a step's own bounds are met, seen from `at`; `None` when nothing bounds it.
fn opens_at(
    now: &PieceNow,
    site: &Site<'_>,
    step: usize,
    at: Moment,
    ground: &Ground<'_>,
) -> Option<Moment> {
    let kind = site.steps.get(step)?.kind;
    bounds(now, site, &Deed::of(kind), at, ground)
        .iter()
        .filter_map(|b| b.until)
        .max()
}

// The cure that the surface stands in: all coats are on and nothing after the cure is done.
fn cure_step<'a>(standing: &Standing, steps: &'a [Step]) -> Option<&'a Step> {
    let at = steps
        .iter()
        .position(|s| s.kind == StepKind::Cure && s.waits())?;
    let coated = steps
        .iter()
        .enumerate()
        .take(at)
        .all(|(i, s)| !s.kind.wets() || standing.done(i) >= s.count);
    let untouched = standing.furthest().is_none_or(|f| f < at);
    (coated && untouched).then(|| steps.get(at)).flatten()
}

fn cure_credit(
    now: &PieceNow,
    standing: &Standing,
    step: &Step,
    at: Moment,
    ground: &Ground<'_>,
) -> Option<Credited> {
    Some(
        ground
            .air
            .credited(&now.stays, standing.last_wet?, at, step.hours?),
    )
}

/// Credited cure of a surface that stands in its cure, and the hours that its recipe wants.
pub fn in_cure(
    now: &PieceNow,
    site: &Site<'_>,
    at: Moment,
    ground: &Ground<'_>,
) -> Option<(Credited, Span)> {
    let step = cure_step(site.standing, site.steps)?;
    Some((
        cure_credit(now, site.standing, step, at, ground)?,
        step.hours?,
    ))
}

/// Credited hours of the cure that a surface stands in.
pub fn cure_hours(site: &Site<'_>) -> Option<Span> {
    cure_step(site.standing, site.steps)?.hours
}

// The waiting steps between what was done and the deed.
fn wait_bounds(
    now: &PieceNow,
    site: &Site<'_>,
    target: usize,
    at: Moment,
    ground: &Ground<'_>,
    list: &mut Vec<Objection>,
) {
    let standing = site.standing;
    let from = standing.furthest().map_or(0, |f| f + 1).max(standing.start);
    for step in site
        .steps
        .iter()
        .take(target)
        .skip(from)
        .filter(|s| s.waits())
    {
        if step.kind == StepKind::Cure {
            let Some(hours) = step.hours else { continue };
            let Some(credited) = cure_credit(now, standing, step, at, ground) else {
                continue;
            };
            list.push(cure_bound(credited, hours, at, ground));
            list.extend(solvent_bound(now, site, at, ground));
        } else {
            let (Some(hours), Some(deed)) = (step.hours, standing.last_deed) else {
                continue;
            };
            let until = deed.plus(hours);
            list.push(Objection {
                far: far(deed, until, at),
                ..bound(
                    Rule::Rest,
                    Some(until),
                    format!(
                        "{} until {}",
                        step.name,
                        ground.calendar.near(until.minute_up(), at)
                    ),
                    format!("{} {} short", step.name, until.since(at).words()),
                )
            });
        }
    }
}

// A model may only hold back: it stands beside the recipe's own hours and never in their place.
fn solvent_bound(
    now: &PieceNow,
    site: &Site<'_>,
    at: Moment,
    ground: &Ground<'_>,
) -> Option<Objection> {
    let wet = site.standing.last_wet?;
    let hold = ground
        .around
        .solvent
        .iter()
        .find(|h| h.is_of(site.surface, Some(wet)))?;
    let credited = ground.air.credited(&now.stays, wet, at, hold.needed);
    let text = hold.words();
    let when = credited.reached.map_or_else(
        || "not in sight".to_owned(),
        |m| ground.calendar.near(m, at),
    );
    let mut b = bound(
        Rule::Solvent,
        credited.reached,
        format!("{text}, {when}"),
        text,
    );
    // It is an estimate, whatever the air was.
    b.provisional = true;
    Some(b)
}

fn cure_bound(credited: Credited, hours: Span, at: Moment, ground: &Ground<'_>) -> Objection {
    let earned = credited.earned.0 / 3_600_000;
    let wanted = hours.0 / 3_600_000;
    let when = match credited.reached {
        Some(reached) => format!("recipe time {}", ground.calendar.near(reached, at)),
        None => "recipe time not in sight".to_owned(),
    };
    let mut doubt = String::new();
    if credited.unknown > Span(0) {
        doubt = format!(
            ", {} without readings count nothing yet",
            credited.unknown.words()
        );
    } else if credited.assumed {
        ", room without readings: assumed slow".clone_into(&mut doubt);
    } else if credited.provisional {
        ", forecast".clone_into(&mut doubt);
    }
    let missing = Span(hours.0 - credited.earned.0);
    let mut b = bound(
        Rule::Cure,
        credited.reached,
        format!("cure {earned} of {wanted} h, {when}{doubt}"),
        format!("cure {} short of {wanted} credited h", hours_words(missing)),
    );
    b.provisional = credited.provisional || credited.assumed;
    b
}

fn hours_words(span: Span) -> String {
    format!("{} h {:02} min", span.0 / 3_600_000, span.0 / 60_000 % 60)
}

/// The waits before a coat after the last wet one: the recipe's own, and the one that the retarder in the last mix
/// asks for. The longer one holds.
pub fn coat_waits(site: &Site<'_>, step: &Step, recipe: &Recipe) -> (Option<Span>, Option<Span>) {
    let standing = site.standing;
    let own = if standing.last_wet_kind == Some(step.kind) {
        // After so many coats of the step a longer rest comes.
        let done = site
            .steps
            .iter()
            .position(|s| s.name == step.name)
            .map_or(0, |i| standing.done(i));
        let rest = step
            .rest_after
            .filter(|(every, _)| done > 0 && done % *every == 0)
            .map(|(_, rest)| rest);
        step.between.max(rest)
    } else {
        step.after.or(step.between)
    };
    let slowed = recipe
        .retarder_rule(standing.retarder_last)
        .and_then(|r| r.between);
    (own, slowed)
}

/// The wait before a sanding that the retarder in the coats since the last sanding asks for.
pub fn dry_slowed(standing: &Standing, step: &Step, recipe: &Recipe) -> Option<Span> {
    if step.kind.sands() {
        recipe
            .retarder_rule(standing.retarder_set)
            .and_then(|r| r.dry)
    } else {
        None
    }
}

fn coat_bounds(
    site: &Site<'_>,
    step: &Step,
    deed: &Deed,
    at: Moment,
    ground: &Ground<'_>,
    list: &mut Vec<Objection>,
) {
    let (calendar, standing) = (ground.calendar, site.standing);
    if let Some(wet) = standing.last_wet {
        let (own, slowed) = coat_waits(site, step, ground.recipe);
        if let Some(wait) = own.max(slowed) {
            let until = wet.plus(wait);
            list.push(bound(
                Rule::Interval,
                Some(until),
                format!(
                    "earliest {}, {} left ({} after the last coat)",
                    calendar.near(until.minute_up(), at),
                    left(until, at),
                    wait.words()
                ),
                format!("{} early", until.since(at).words()),
            ));
        }
        if let Some(window) = step.scuff_after
            && at.since(wet) > window
            && !standing.sanded_since_wet
        {
            list.push(bound(
                Rule::ScuffFirst,
                None,
                format!(
                    "scuff first: {} since the last coat, more than {}",
                    at.since(wet).words(),
                    window.words()
                ),
                format!("coat without a scuff after {}", at.since(wet).words()),
            ));
        }
    }
    let day = deed.day.unwrap_or_else(|| calendar.day(at));
    let today = standing.coats_on(day, step.kind);
    if let Some(cap) = step.per_day.filter(|cap| today >= *cap) {
        let until = calendar.day_begin(day.next());
        list.push(bound(
            Rule::DailyCap,
            Some(until),
            format!(
                "{today} of {cap} {} coats today, next not before {}",
                step.kind.word(),
                calendar.stamp(until)
            ),
            format!(
                "over daily cap: {} {} coats in one production day, recipe {cap}",
                today + 1,
                step.kind.word()
            ),
        ));
    }
    cup_bounds(deed, at, ground, list);
    air_bounds(deed, ground, list);
    if let Some(cap) = ground.recipe.film_cap {
        let (coat, _) = kept_coat(&deed.wet, deed.solids, step.film, step.solids);
        let film = standing.film_nm + coat.0;
        if film > cap.0 {
            let text = format!(
                "film {} with this coat, more than {}",
                Film(film).text(1),
                cap.text(1)
            );
            list.push(bound(Rule::FilmCap, None, text.clone(), text));
        }
    }
    if let Some(rule) = ground
        .recipe
        .retarder_rule(deed.retarder)
        .filter(|r| r.supervisor && !deed.supervisor)
    {
        let text = format!(
            "retarder above {} of the mix: a supervisor's name is asked for",
            percent(rule.above)
        );
        list.push(bound(Rule::Retarder, None, text.clone(), text));
    }
}

// How old the mix may be, and how long it stands first.
fn cup_bounds(deed: &Deed, at: Moment, ground: &Ground<'_>, list: &mut Vec<Objection>) {
    let (Some(reaction), Some(mixed)) = (ground.recipe.reaction, deed.mixed) else {
        return;
    };
    if let Some(stand) = reaction.induction {
        let until = mixed.plus(stand);
        list.push(bound(
            Rule::PotLife,
            Some(until),
            format!(
                "the mix stands until {}",
                ground.calendar.near(until.minute_up(), at)
            ),
            format!("mix used {} early", until.since(at).words()),
        ));
    }
    let life = reaction.pot_life(deed.temperature);
    let age = at.since(mixed);
    if age > life {
        let warm = deed
            .temperature
            .filter(|_| life < reaction.pot_life)
            .map_or(String::new(), |t| format!(" at {}", t.text(1)));
        let text = format!(
            "the mix is {} old, its pot life{warm} is {}",
            age.words(),
            life.words()
        );
        list.push(bound(Rule::PotLife, None, text.clone(), text));
    }
}

// The air that was noted with the deed against the recipe's limits; what was not noted is not judged.
fn air_bounds(deed: &Deed, ground: &Ground<'_>, list: &mut Vec<Objection>) {
    let booth = &ground.recipe.booth;
    let mut say = |text: String| list.push(bound(Rule::Air, None, text.clone(), text));
    if let Some(air) = deed.temperature {
        if let Some(low) = booth.temperature_low.filter(|low| air < *low) {
            say(format!("air {} is below {}", air.text(1), low.text(1)));
        }
        if let Some(high) = booth.temperature_high.filter(|high| air > *high) {
            say(format!("air {} is above {}", air.text(1), high.text(1)));
        }
        if let Some(forming) = booth.film_forming
            && air.0 < forming.0 + FILM_MARGIN.0
        {
            say(format!(
                "air {} is less than 3 K above {}, at which the film forms (3 K: from memory, to be confirmed)",
                air.text(1),
                forming.text(1)
            ));
        }
    }
    if let Some(damp) = deed.humidity
        && let Some(high) = booth.humidity_high.filter(|high| damp > *high)
    {
        say(format!(
            "humidity {} is above {}",
            damp.text(0),
            high.text(0)
        ));
    }
    if let (Some(air), Some(damp), Some(low)) =
        (deed.temperature, deed.humidity, booth.spread_low_mk)
        && let Some(spread) = dew_spread_mk(air, damp).filter(|s| *s < low)
    {
        say(format!(
            "air is {}.{} K above its dew point, less than {}.{} K",
            spread / 1_000,
            spread % 1_000 / 100,
            low / 1_000,
            low % 1_000 / 100
        ));
    }
}

// Air temperature less its dew point, in mK; `None` outside the range of the formula.
fn dew_spread_mk(air: Temperature, damp: Humidity) -> Option<i64> {
    let t = ThermodynamicTemperature::of_base(air.base());
    let dew = dew_point(t, Ratio::of_base(damp.base())).ok()?;
    num::whole(((air.base() - dew.to_base()) * 1e3).round())
}

// What is left of a wait: one second is shown as one minute, never as none.
fn left(until: Moment, at: Moment) -> String {
    at.left_until(until).words()
}

fn percent(share: Share) -> String {
    share.text(1)
}

fn dry_bound(
    standing: &Standing,
    step: &Step,
    wet: Moment,
    after: Span,
    at: Moment,
    ground: &Ground<'_>,
) -> Objection {
    let slowed = dry_slowed(standing, step, ground.recipe);
    let wait = slowed.map_or(after, |s| s.max(after));
    let until = wet.plus(wait);
    let early = bound(
        Rule::Dry,
        Some(until),
        format!(
            "{} from {}, {} left ({} after the last wet coat)",
            if step.kind.sands() {
                "sanding time"
            } else {
                "dry"
            },
            ground.calendar.near(until.minute_up(), at),
            left(until, at),
            wait.words()
        ),
        format!(
            "{} early: {} after the last wet coat asked for",
            until.since(at).words(),
            wait.words()
        ),
    );
    Objection {
        far: far(wet, until, at),
        ..early
    }
}

/// What speaks against a deed that begins at `at`, the binding reason first. Empty when nothing does. Where only some
/// of the surfaces that it reaches have a reason, the reason names them.
pub fn objections(
    now: &PieceNow,
    surface: &str,
    deed: &Deed,
    at: Moment,
    ground: &Ground<'_>,
) -> Vec<Objection> {
    let mut list: Vec<(Objection, Vec<String>)> = Vec::new();
    let reached = now.reach(
        ground.recipe,
        surface,
        Some(deed.kind).filter(|_| !deed.touch_up),
    );
    for site in now
        .current(ground.recipe)
        .filter(|s| reached.iter().any(|r| r == s.surface))
    {
        for b in bounds(now, &site, deed, at, ground) {
            let open = b.until.is_none_or(|u| at < u) || b.rule == Rule::Order;
            if !open {
                continue;
            }
            let known = list
                .iter()
                .position(|(o, _)| o.rule == b.rule && o.after == b.after);
            if let Some((o, on)) = known.and_then(|i| list.get_mut(i)) {
                on.push(site.surface.to_owned());
                if b.until > o.until {
                    *o = b;
                }
            } else {
                list.push((b, vec![site.surface.to_owned()]));
            }
        }
    }
    let mut list: Vec<Objection> = list
        .into_iter()
        .map(|(mut o, on)| {
            if on.len() < reached.len() {
                let names = on.join(", ");
                o.before = format!("{names}: {}", o.before);
                o.after = format!("{names}: {}", o.after);
            }
            o
        })
        .collect();
    sort(&mut list);
    list
}

/// Binding first: what time alone does not settle, then the latest time; an order is named after the times that
/// bind longer than it does.
pub(super) fn sort(list: &mut [Objection]) {
    list.sort_by_key(|o| {
        let never = o.until.is_none() && o.rule != Rule::Order;
        (std::cmp::Reverse(never), std::cmp::Reverse(o.until))
    });
}

/// From when on a deed has no open bound of time, and whether that rests on a forecast; `None` where nothing bounds
/// it. Objections that time does not settle are left out: see [`objections`].
pub fn opens(
    now: &PieceNow,
    site: &Site<'_>,
    deed: &Deed,
    at: Moment,
    ground: &Ground<'_>,
) -> (Option<Moment>, bool) {
    let list = bounds(now, site, deed, at, ground);
    let until = list.iter().filter_map(|b| b.until).max();
    let provisional = list.iter().any(|b| b.provisional && b.until == until);
    (until, provisional)
}
