//! What the booth has before it: the racks and loose pieces that are sprayed next, what is odd about them, the air
//! against both blush rules, and the checks.
//!
//! *Not here*: sanding and other work ([`super::ready`]), and whether anybody may spray.

use super::clock;
use super::ready::{by_rack, by_rack_of, mixed};
use crate::ledger::{MixRow, Seen};
use crate::science::measure::{Measure, Quantity, SHARE, TEMPERATURE_CHANGE};
use crate::science::psychrometrics::{BlushLimits, BlushRule, blush};
use crate::shop::calendar::Calendar;
use crate::shop::climate::{RoomAir, Sample, holds_for};
use crate::shop::recipe::{BoothLimits, Step};
use crate::shop::record::PieceId;
use crate::shop::rules::fits;
use crate::shop::standing::Site;
use crate::shop::text::shown;
use crate::shop::words::{Outlook, StepKind, Word};
use crate::units::{Amount, Moment, Span, System, num, show};
use std::collections::{BTreeMap, BTreeSet};
use uom::si::f64::{Ratio, TemperatureInterval, ThermodynamicTemperature};

/// The steps that are done at the booth.
pub const SPRAYED: &[StepKind] = &[
    StepKind::Wash,
    StepKind::Fill,
    StepKind::Colour,
    StepKind::Seal,
    StepKind::Clear,
];

/// A rack, or a piece that hangs on none, that is sprayed next.
#[derive(Debug, Clone)]
pub struct Next<'a> {
    /// The rack; `None` for a loose piece.
    pub rack: Option<String>,
    /// Its pieces with a coat next, held ones left aside, in hook order.
    pub pieces: Vec<&'a Seen>,
    /// Its pieces with a coat next that are held.
    pub held: Vec<&'a Seen>,
    /// Its other pieces, which have something else next.
    pub others: Vec<&'a Seen>,
    /// The judgement on its latest piece; *held* when all of it is held.
    pub outlook: Outlook,
    /// When its latest piece may have the coat; `None` when that cannot be told.
    pub ready_at: Option<Moment>,
    /// Whether that time is provisional.
    pub provisional: bool,
    /// The pieces that hold the rest back, where they are the fewer; with the time of the rest.
    pub late: Vec<&'a Seen>,
    /// When the rest may have it, and how many that is.
    pub without: Option<(Moment, usize)>,
    /// `mixed: 17 at 5, 7 at 4`, when the coat counts differ.
    pub mixed: Option<String>,
    /// Since when its next coat wants a scuff first; it is then none that may be sprayed next.
    pub closed: Option<Moment>,
}

/// Coats that may still be laid on a production day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeftToday {
    /// The recipe has no cap for the day.
    NoCap,
    /// So many, and the cap; no more than the step itself still asks for.
    Coats(u32, u32),
}

// When the time in which the next coat needs no scuff ended, where one comes first now.
fn closed(seen: &Seen) -> Option<Moment> {
    if !wants_scuff(seen) {
        return None;
    }
    let wet = seen.site()?.standing.last_wet?;
    Some(wet.plus(seen.step()?.scuff_after?))
}

// Whether its next coat wants a scuff first, which is no work of the booth.
fn wants_scuff(seen: &Seen) -> bool {
    let coat = seen.view.kind.is_some_and(|k| SPRAYED.contains(&k));
    coat && seen.view.deed() == Some(StepKind::Scuff)
}

fn closed_words(closed: Moment, at: Moment, calendar: &Calendar) -> String {
    format!("window closed {}, scuff first", calendar.near(closed, at))
}

fn timed(seen: &Seen) -> (bool, Option<Moment>) {
    let timed = matches!(seen.view.outlook, Outlook::Ready | Outlook::Waiting);
    (!timed, if timed { seen.view.ready_at } else { None })
}

impl<'a> Next<'a> {
    fn of(rack: Option<String>, all: Vec<&'a Seen>, others: Vec<&'a Seen>) -> Self {
        let mixed = mixed(&all);
        let (held, pieces): (Vec<_>, Vec<_>) = all
            .into_iter()
            .partition(|s| s.view.outlook == Outlook::Held);
        let latest = pieces.iter().map(|s| timed(s)).max();
        let (late, rest): (Vec<&Seen>, Vec<&Seen>) =
            pieces.iter().partition(|s| Some(timed(s)) == latest);
        let without = rest
            .iter()
            .map(|s| timed(s))
            .max()
            .filter(|_| late.len() <= rest.len())
            .and_then(|(untimed, m)| if untimed { None } else { m })
            .map(|m| (m, rest.len()));
        let outlook = late.first().map_or(Outlook::Held, |s| s.view.outlook);
        Self {
            rack,
            held,
            others,
            outlook,
            ready_at: latest.and_then(|(_, m)| m),
            provisional: late.iter().any(|s| s.view.provisional),
            late: if without.is_some() { late } else { Vec::new() },
            without,
            mixed,
            closed: pieces.iter().filter_map(|s| closed(s)).min(),
            pieces,
        }
    }

    /// What is said of a coat whose time without a scuff is over: `window closed Mon 09:44, scuff first`.
    pub fn closed_words(&self, at: Moment, calendar: &Calendar) -> Option<String> {
        self.closed.map(|m| closed_words(m, at, calendar))
    }

    /// The piece that speaks for it: the first that is not held, else the first.
    pub fn first(&self) -> Option<&'a Seen> {
        self.pieces.first().or_else(|| self.held.first()).copied()
    }

    /// The rack, or the serial of a loose piece.
    pub fn name(&self) -> String {
        match (&self.rack, self.first()) {
            (Some(rack), _) => rack.clone(),
            (None, Some(seen)) => seen.now.piece.serial.clone(),
            (None, None) => String::new(),
        }
    }

    /// The pieces that say what is next for it: held ones only where there are no others.
    pub fn asked(&self) -> &[&'a Seen] {
        if self.pieces.is_empty() {
            &self.held
        } else {
            &self.pieces
        }
    }

    // What its pieces have next, and how many of them, in hook order.
    fn coats(&self) -> Vec<(&'a str, usize)> {
        let from = self.asked();
        let mut counts: Vec<(&str, usize)> = Vec::new();
        for seen in from {
            let next = seen.view.next.as_str();
            match counts.iter_mut().find(|(words, _)| *words == next) {
                Some((_, n)) => *n += 1,
                None => counts.push((next, 1)),
            }
        }
        counts
    }

    /// What most of its pieces have next: `clear 5 of 9`. Of two that are as many, the one that hangs first.
    pub fn coat(&self) -> String {
        self.coats()
            .into_iter()
            .rev()
            .max_by_key(|(_, n)| *n)
            .map_or_else(String::new, |(words, _)| words.to_owned())
    }

    // Pieces with as many clear coats may still have another coat next.
    fn mixed_kinds(&self) -> Option<String> {
        let counts = self.coats();
        (counts.len() > 1).then(|| {
            let parts: Vec<String> = counts
                .iter()
                .map(|(words, n)| format!("{n} next {words}"))
                .collect();
            format!("mixed: {}", parts.join(", "))
        })
    }

    /// Coats that its pieces may still have on the production day of `at`: the piece that may have least speaks.
    pub fn left_today(&self, at: Moment, calendar: &Calendar) -> LeftToday {
        let day = calendar.day(at);
        let of = |seen: &Seen| {
            let (site, step) = (seen.site()?, seen.step()?);
            let cap = step.per_day?;
            let capped = cap.saturating_sub(site.standing.coats_on(day, step.kind));
            let asked = step
                .count
                .saturating_sub(site.standing.done(seen.view.step?));
            Some((capped.min(asked), cap))
        };
        self.pieces
            .iter()
            .filter_map(|s| of(s))
            .min()
            .map_or(LeftToday::NoCap, |(left, cap)| LeftToday::Coats(left, cap))
    }

    /// What is odd about it, the most pressing first: held pieces with their hooks, those that hold the rest back,
    /// touch-ups, mixed coats, begun deeds, defects that wait.
    pub fn odd(
        &self,
        touched: &BTreeMap<PieceId, Moment>,
        at: Moment,
        calendar: &Calendar,
    ) -> Vec<String> {
        let mut out = Vec::new();
        out.extend(self.closed_words(at, calendar));
        for seen in &self.held {
            let why = seen.now.holds.first().map_or_else(
                || seen.view.reasons.first().map_or("", |o| o.before.as_str()),
                |(_, why)| why.as_str(),
            );
            out.push(format!(
                "{} held: {}",
                place(seen, self.rack.is_some()),
                shown(why)
            ));
        }
        let touch = |seen: &Seen| {
            let last = touched.get(&seen.now.id);
            last.is_some() && last.copied() == seen.last_wet()
        };
        let mut said: BTreeSet<PieceId> = BTreeSet::new();
        let waits = self.ready_at.is_none_or(|m| m > at);
        if let Some((free, n)) = self.without.filter(|_| waits) {
            let until = self
                .ready_at
                .map_or_else(|| "unknown when".to_owned(), |m| calendar.near(m, at));
            let touched_up = self.late.iter().all(|s| touch(s));
            if touched_up {
                said.extend(self.late.iter().map(|s| s.now.id));
            }
            let later = if touched_up { "touched up" } else { "later" };
            let of = self.pieces.len();
            let rest = if free <= at {
                format!("{n} of {of} now")
            } else {
                format!("{n} of {of} from {}", calendar.near(free, at))
            };
            out.push(format!(
                "{} {later}, from {until}; {rest}",
                places(&self.late, self.rack.is_some())
            ));
        }
        for seen in &self.pieces {
            if touch(seen) && said.insert(seen.now.id) {
                let words = format!("{} touched up", place(seen, self.rack.is_some()));
                out.push(words);
            }
        }
        out.extend(self.mixed.clone().or_else(|| self.mixed_kinds()));
        let begun = self.pieces.iter().find_map(|s| s.now.begun.as_ref());
        if let Some(b) = begun {
            out.push(format!(
                "{} begun {} by {}",
                b.kind.word(),
                calendar.near(b.at, at),
                b.person
            ));
        }
        for seen in &self.pieces {
            for flaw in &seen.now.flaws {
                out.push(format!(
                    "{} {}",
                    place(seen, self.rack.is_some()),
                    flaw.defect.word()
                ));
            }
        }
        let mut needs: Vec<(String, usize)> = Vec::new();
        for seen in &self.others {
            let next = match closed(seen) {
                Some(m) => format!("{}; {}", seen.view.next, closed_words(m, at, calendar)),
                None => seen.view.next.clone(),
            };
            match needs.iter_mut().find(|(words, _)| *words == next) {
                Some((_, n)) => *n += 1,
                None => needs.push((next, 1)),
            }
        }
        for (next, n) in needs {
            let s = if n == 1 { "" } else { "s" };
            out.push(format!("{n} other{s} on it: next {next}"));
        }
        if self.pieces.iter().any(|s| clock::held_back(s)) {
            out.push(clock::NOT_CONFIRMED.to_owned());
        }
        out
    }
}

/// The coat that most pieces come to next; of two that are as many, the one of the piece that comes first.
pub fn coated_next<'a>(pieces: &[&'a Seen]) -> Option<(&'a Seen, &'a Step)> {
    let mut counts: Vec<(&Seen, &Step, usize)> = Vec::new();
    for seen in pieces {
        let coat = |s: &&Step| SPRAYED.contains(&s.kind);
        let ahead = |s: Site<'a>| Some(s.steps.iter().skip(seen.view.step?));
        let Some(step) = seen.site().and_then(ahead).and_then(|mut s| s.find(coat)) else {
            continue;
        };
        match counts.iter_mut().find(|(_, s, _)| s.name == step.name) {
            Some((.., n)) => *n += 1,
            None => counts.push((seen, step, 1)),
        }
    }
    counts
        .into_iter()
        .rev()
        .max_by_key(|(.., n)| *n)
        .map(|(seen, step, _)| (seen, step))
}

/// The mix that is offered for pieces, of mixes that are listed newest first: the newest that fits what most of them
/// come to next, and none where none does. Where no coat is ahead it is the newest of all. A pot that was closed or topped up is
/// not offered.
pub fn offered<'m>(mixes: &'m [MixRow], pieces: &[&Seen]) -> Option<&'m MixRow> {
    let mut open = mixes.iter().filter(|m| m.open);
    match coated_next(pieces) {
        Some((seen, step)) => open.find(|m| fits(&seen.recipe, step, &m.kinds)),
        None => open.next(),
    }
}

/// What is said where no mix fits: `no open mix fits seal: it wants sealer`. `None` where one does, or no coat is next.
pub fn none_fits(mixes: &[MixRow], pieces: &[&Seen]) -> Option<String> {
    let (seen, step) = coated_next(pieces)?;
    if offered(mixes, pieces).is_some() {
        return None;
    }
    let kinds: Vec<&str> = seen
        .recipe
        .done_with(step)
        .iter()
        .map(|k| k.word())
        .collect();
    Some(format!(
        "no open mix fits {}: it wants {}",
        step.name,
        kinds.join(" or ")
    ))
}

fn place(seen: &Seen, racked: bool) -> String {
    match seen.now.place().and_then(|p| p.hook) {
        Some(hook) if racked => format!("hook {hook}"),
        _ => seen.now.piece.serial.clone(),
    }
}

fn places(seen: &[&Seen], racked: bool) -> String {
    let hooks: Vec<u32> = seen
        .iter()
        .filter_map(|s| s.now.place().and_then(|p| p.hook))
        .collect();
    match seen {
        [one] => place(one, racked),
        many if racked && hooks.len() == many.len() => {
            format!("hooks {}", super::together::ranges(&hooks))
        }
        many => format!("{} pieces", many.len()),
    }
}

/// What is sprayed next, in the order of the earliest time: by rack, and every loose piece by itself. What cannot be
/// timed comes last, then the racks and pieces whose coat wants a scuff first, then what is held as a whole.
pub fn next(floor: &[Seen]) -> Vec<Next<'_>> {
    let mut on: BTreeMap<&str, Vec<&Seen>> = BTreeMap::new();
    for seen in floor {
        if let Some(rack) = seen.rack() {
            on.entry(rack).or_default().push(seen);
        }
    }
    let mut out: Vec<Next<'_>> = Vec::new();
    for group in by_rack(floor, SPRAYED) {
        if let Some(rack) = &group.rack {
            let mut others = on.remove(rack.as_str()).unwrap_or_default();
            others.retain(|s| group.pieces.iter().all(|p| p.now.id != s.now.id));
            out.push(Next::of(group.rack, group.pieces, others));
        } else {
            let loose = group.pieces.into_iter();
            out.extend(loose.map(|s| Next::of(None, vec![s], Vec::new())));
        }
    }
    // A rack of which some may be sprayed is listed by those already, with the others beside them.
    for group in by_rack_of(floor, wants_scuff) {
        if let Some(rack) = &group.rack {
            let Some(mut others) = on.remove(rack.as_str()) else {
                continue;
            };
            others.retain(|s| group.pieces.iter().all(|p| p.now.id != s.now.id));
            out.push(Next::of(group.rack, group.pieces, others));
        } else {
            let loose = group.pieces.into_iter();
            out.extend(loose.map(|s| Next::of(None, vec![s], Vec::new())));
        }
    }
    out.sort_by_cached_key(|n| {
        (
            n.outlook == Outlook::Held,
            n.closed.is_some(),
            n.ready_at.is_none(),
            n.ready_at,
            n.rack.is_none(),
            n.name(),
        )
    });
    out
}

/// The air of a booth, as far as it is known at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AirNow {
    /// A reading that still stands.
    Read(Sample),
    /// The newest reading is too old to stand.
    Old(Moment),
    /// No reading was taken over, or the room is declared as one without readings.
    None,
}

/// The reading of a room that stands at a moment.
pub fn air_now(room: Option<&RoomAir>, at: Moment) -> AirNow {
    let Some(room) = room else {
        return AirNow::None;
    };
    match (room.samples.last(), room.interval) {
        (Some(s), Some(interval)) if at.since(s.at) <= holds_for(interval) => AirNow::Read(*s),
        (Some(s), _) => AirNow::Old(s.at),
        (None, _) => AirNow::None,
    }
}

/// One blush rule held against the air.
#[derive(Debug, Clone, PartialEq)]
pub struct Spoken {
    /// The figure of the air, in words; `unknown` where there is no reading.
    pub figure: String,
    /// The limit in words; `None` where the recipe has none.
    pub limit: Option<String>,
    /// Whether the air is beyond the limit; `None` where a figure or the limit is missing.
    pub beyond: Option<bool>,
}

fn figure(measure: Measure, base: f64, system: System) -> String {
    measure
        .unit(system)
        .map_or_else(String::new, |unit| show(base, unit, 1))
}

/// Both blush rules of a recipe against the air of a booth: humidity first, then the spread of air and dew point.
pub fn rules(limits: &BoothLimits, air: AirNow, system: System) -> [Spoken; 2] {
    let sample = match air {
        AirNow::Read(sample) => sample.humidity.map(|h| (sample, h)),
        AirNow::Old(_) | AirNow::None => None,
    };
    let spread = limits.spread_low_mk.map(|mk| num::float(mk) / 1e3);
    let kelvin = |base: f64| figure(TEMPERATURE_CHANGE, base, system).replace(" diff", "");
    let percent = |base: f64| figure(SHARE, base, system);
    let found = sample.and_then(|(sample, humidity)| {
        let held = BlushLimits {
            humidity: limits.humidity_high.map(|h| Ratio::of_base(h.base())),
            spread: spread.map(TemperatureInterval::of_base),
            piece_margin: None,
        };
        let air = ThermodynamicTemperature::of_base(sample.temperature.base());
        let rh = Ratio::of_base(humidity.base());
        blush(air, rh, None, &held).ok().map(|b| (b, humidity))
    });
    let beyond = |rule: BlushRule, entered: bool| {
        found
            .as_ref()
            .filter(|_| entered)
            .map(|(b, _)| b.tripped.contains(&rule))
    };
    [
        Spoken {
            figure: sample.map_or_else(|| "unknown".to_owned(), |(_, h)| percent(h.base())),
            limit: limits.humidity_high.map(|h| percent(h.base())),
            beyond: beyond(BlushRule::Humidity, limits.humidity_high.is_some()),
        },
        Spoken {
            figure: found
                .as_ref()
                .map_or_else(|| "unknown".to_owned(), |(b, _)| kelvin(b.spread.to_base())),
            limit: spread.map(kelvin),
            beyond: beyond(BlushRule::Spread, spread.is_some()),
        },
    ]
}

/// What is known of a booth's check.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CheckNow {
    /// Its exhaust stopped and nobody has looked at it since.
    Due(Moment),
    /// It was checked, and when last.
    Done(Moment),
    /// No check is recorded.
    Unknown,
}

impl CheckNow {
    /// Whether it was checked on the production day of a moment.
    pub fn is_of_the_day(self, at: Moment, calendar: &Calendar) -> bool {
        matches!(self, Self::Done(when) if calendar.day(when) == calendar.day(at))
    }
}

/// How long a pot goes on from `at`: the pot life that a recipe states from the moment at which the oldest part was
/// mixed. `None` where the recipe states none; below zero when it is over.
pub fn pot_left(life: Option<Span>, mixed: Moment, at: Moment) -> Option<Span> {
    life.map(|life| mixed.plus(life).since(at))
}
