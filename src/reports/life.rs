//! A piece's life as charts need it: its film after each deed with the doubt about it, its production days, the air and
//! the credited hours since its last wet coat.
//!
//! *Invariants*: a film is the kept one, to the nanometre; the doubt beside it comes from [`build`] and from the shares
//! below, which are from memory and said to be; a gauge reading replaces the film and leaves the prediction readable.
//!
//! *Not here*: scaling and cells (`screens`), the working of a figure ([`super::workings`]).

use super::workings::{Cups, Played, played};
use crate::ledger::{EntryRow, Ledger, LedgerError, Seen};
use crate::science::film::{Can, Coat, Removal, build};
use crate::science::measure::Quantity;
use crate::shop::calendar::{Calendar, Day};
use crate::shop::climate::{CreditLeg, RoomAir, Stay, Tables, holds_for};
use crate::shop::record::{CoatFact, Fact, What};
use crate::shop::standing::Mixes;
use crate::shop::words::{StepKind, Word};
use crate::units::{Amount, Film, Moment, Share, Span, num};
use std::collections::BTreeMap;
use uom::si::f64::{Length, Ratio};

/// Standard uncertainty of a wet reading with a comb of 1 mil steps: `25.4 um / sqrt(12)`, derived; the habit of reading
/// late is left out.
const COMB_M: f64 = 25.4e-6 / 3.464_101_615_137_754_6;

/// Standard uncertainty of a coat that nobody measured, as a share of the recipe's film: from memory, to be confirmed.
const UNMEASURED: f64 = 0.20;

/// Standard uncertainty of a mix's volume solids as a share of them, the same error for all its coats: from memory, to be
/// confirmed.
const SOLIDS: f64 = 0.035;

/// Standard uncertainty of what a sanding takes by the recipe, as a share of it: from memory, to be confirmed.
const SANDED: f64 = 0.50;

/// Standard uncertainty of what a sanding took by measurement: from memory, to be confirmed.
const SANDED_MEASURED_M: f64 = 3e-6;

/// Standard uncertainty of a film gauge on wood: from memory, to be confirmed.
const GAUGE_M: f64 = 5e-6;

/// What is said beside the doubt about a film.
pub const DOUBT: &str = "bars: film +-1.645 u, about 9 in 10; u by first-order law from comb 7.3 um wet, coat not measured 20 %, solids 3.5 %, sanding 50 % or 3 um, gauge 5 um: from memory, to be confirmed";

/// What a deed did to a film, as a chart marks it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// A coat of a kind, and the how-manieth of that kind on this surface and in this branch.
    Coat(StepKind, u32),
    /// A sanding, or another deed that takes film.
    Takes,
    /// A deed that adds film and is no coat.
    Adds,
    /// A gauge reading.
    Gauge,
    /// A strip to the wood.
    Strip,
}

/// The film of a surface after one deed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmPoint {
    /// The entry.
    pub entry: i64,
    /// When the deed ended.
    pub at: Moment,
    /// What it was.
    pub mark: Mark,
    /// The branch in which the surface stood: 0 for the main line.
    pub branch: u32,
    /// The film as the record keeps it.
    pub film: Film,
    /// What the prediction alone would say, where a gauge reading replaced it.
    pub predicted: Option<Film>,
    /// Standard uncertainty of the film.
    pub doubt: Film,
}

impl FilmPoint {
    /// The film less and more 1.645 standard uncertainties.
    pub const fn bounds(&self) -> (i64, i64) {
        let reach = self.doubt.0 * 1_645 / 1_000;
        (self.film.0 - reach, self.film.0 + reach)
    }
}

/// The film of the surfaces that had the same life.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmCourse {
    /// The surfaces.
    pub surfaces: Vec<String>,
    /// The finished film that is aimed for there.
    pub band: (Film, Film),
    /// The film after each deed that changed or read it.
    pub points: Vec<FilmPoint>,
}

// What is not known of a film, gathered deed by deed since the last gauge reading or strip.
#[derive(Debug, Default)]
struct Doubt {
    start: f64,
    cans: Vec<Can>,
    names: Vec<(Option<u32>, Option<String>)>,
    coats: Vec<Coat>,
    removals: Vec<Removal>,
}

impl Doubt {
    fn since(start: f64) -> Self {
        Self {
            start,
            ..Self::default()
        }
    }

    fn can(&mut self, name: (Option<u32>, Option<String>), solids: f64) -> usize {
        // Coats whose cup is not recorded share nothing that is known.
        let known = name.0.is_some() || name.1.is_some();
        if let Some(at) = self.names.iter().position(|n| known && *n == name) {
            return at;
        }
        self.cans.push(Can {
            solids: Ratio::of_base(solids),
            solids_u: Ratio::of_base(solids * SOLIDS),
            added: Ratio::default(),
            added_u: Ratio::default(),
        });
        self.names.push(name);
        self.cans.len() - 1
    }

    fn coat(&mut self, coat: Option<&CoatFact>, solids: Option<Share>, change: i64) {
        let readings = coat.map_or(0, |c| c.wet.len());
        let solids = solids.map(Amount::base).filter(|s| *s > 0.0);
        let solids = solids.unwrap_or(1.0);
        let wet = Film(change).base() / solids;
        let wet_u = if readings > 0 {
            COMB_M / num::count(readings).sqrt()
        } else {
            wet * UNMEASURED
        };
        let name = coat.map_or((None, None), |c| (c.mix, c.lot.clone()));
        let can = self.can(name, solids);
        self.coats.push(Coat {
            wet: Length::of_base(wet),
            wet_u: Length::of_base(wet_u),
            can,
        });
    }

    fn take(&mut self, film: i64, measured: bool) {
        let film = Film(film).base();
        let film_u = if measured {
            SANDED_MEASURED_M
        } else {
            film * SANDED
        };
        self.removals.push(Removal {
            film: Length::of_base(film),
            film_u: Length::of_base(film_u),
        });
    }

    fn u(&self) -> Film {
        let built = build(&self.cans, &self.coats, &self.removals).map_or(0.0, |b| b.u.to_base());
        Film::of_base(self.start.hypot(built)).unwrap_or_default()
    }
}

fn point(p: &Played, doubt: &mut Doubt, cups: &Cups, coats: &mut Coats) -> FilmPoint {
    let change = p.after - p.before;
    let mark = match &p.entry.fact {
        Fact::Gauged { .. } => {
            *doubt = Doubt::since(GAUGE_M);
            Mark::Gauge
        }
        Fact::Reworked { .. } if p.after == 0 => {
            *doubt = Doubt::default();
            Mark::Strip
        }
        Fact::Coat(coat) => {
            let solids = cups.figures(coat).map(|f| f.solids);
            let assumed = p.step.as_ref().and_then(|s| s.solids);
            doubt.coat(Some(coat), solids.or(assumed), change);
            if coat.touch_up {
                Mark::Adds
            } else {
                let n = coats.entry((p.branch, coat.kind)).or_insert(0);
                *n += 1;
                Mark::Coat(coat.kind, *n)
            }
        }
        fact if change <= 0 => {
            let measured = matches!(
                fact,
                Fact::Sanded {
                    removed: Some(_),
                    ..
                }
            );
            doubt.take(-change, measured);
            Mark::Takes
        }
        _ => {
            doubt.coat(None, p.step.as_ref().and_then(|s| s.solids), change);
            Mark::Adds
        }
    };
    FilmPoint {
        entry: p.entry.seq.0,
        at: p.entry.ended,
        mark,
        branch: p.branch,
        film: Film(p.after),
        predicted: None,
        doubt: doubt.u(),
    }
}

type Coats = BTreeMap<(u32, StepKind), u32>;

/// The film of a piece after each deed, surfaces of one life together, as of `at`.
pub fn film(ledger: &Ledger, seen: &Seen, at: Moment) -> Result<Vec<FilmCourse>, LedgerError> {
    let history = ledger.history(seen.now.id, at)?;
    let cups = Cups::of(ledger, &history)?;
    let recipes = ledger.recipes_of(&history)?;
    let mut out: Vec<FilmCourse> = Vec::new();
    for site in seen.sites() {
        let (mut doubt, mut coats) = (Doubt::default(), Coats::new());
        let mut points = Vec::new();
        // What a reading replaced goes on beside it, by the same deeds.
        let mut predicted: Option<i64> = None;
        for p in played(&history, &recipes, &cups, site.surface) {
            let mut found = point(&p, &mut doubt, &cups, &mut coats);
            predicted = match found.mark {
                Mark::Gauge => Some(predicted.unwrap_or(p.before)),
                Mark::Strip => None,
                _ => predicted.map(|film| film + p.after - p.before),
            };
            found.predicted = predicted.map(Film);
            points.push(found);
        }
        let band = seen.recipe.band(site.surface);
        let same = |c: &&mut FilmCourse| c.band == band && c.points == points;
        match out.iter_mut().find(same) {
            Some(course) => course.surfaces.push(site.surface.to_owned()),
            None => out.push(FilmCourse {
                surfaces: vec![site.surface.to_owned()],
                band,
                points,
            }),
        }
    }
    Ok(out)
}

/// What a mark on a production day stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DayMark {
    /// The how-manieth coat of its kind.
    Coat(u32),
    /// A touch-up.
    TouchUp,
    /// A sanding.
    Sanding,
    /// A film reading.
    Gauge,
    /// It was hung elsewhere.
    Move,
    /// Something against it: a hold, a defect, a rework.
    Against,
    /// Any other deed.
    Work,
}

/// One production day of a piece, or a run of days on which nothing was logged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DayRow {
    /// The first day.
    pub day: Day,
    /// The last day; the same where it is one.
    pub last: Day,
    /// What was done: since when within the production day, and how it is marked.
    pub marks: Vec<(Span, DayMark)>,
    /// The same in words, in order.
    pub words: Vec<String>,
    /// Whether the cure's clock runs from a moment of this day, or ran through all of it.
    pub cures: bool,
}

fn mark_of(fact: &Fact) -> Option<(DayMark, String)> {
    Some(match fact {
        Fact::Coat(c) if c.touch_up => (DayMark::TouchUp, "touch-up".to_owned()),
        Fact::Coat(c) => (DayMark::Coat(0), c.kind.word().to_owned()),
        Fact::Sanded { kind, grit, .. } => (
            DayMark::Sanding,
            grit.as_ref().map_or_else(
                || kind.word().to_owned(),
                |g| format!("{} {}", kind.word(), crate::shop::text::shown(g)),
            ),
        ),
        Fact::Gauged { .. } => (DayMark::Gauge, "film reading".to_owned()),
        Fact::Added(_) => (DayMark::Work, "taken in".to_owned()),
        Fact::Placed {
            room: None,
            rack: Some(to),
            ..
        } => (
            DayMark::Move,
            format!("to rack {}", crate::shop::text::shown(to)),
        ),
        Fact::Placed { room: Some(to), .. } => (
            DayMark::Move,
            format!("to {}", crate::shop::text::shown(to)),
        ),
        Fact::Held { .. } => (DayMark::Against, "hold".to_owned()),
        Fact::Lifted { .. } => (DayMark::Work, "hold lifted".to_owned()),
        Fact::Flawed { defect, .. } => (DayMark::Against, format!("defect {}", defect.word())),
        Fact::Mended { .. } => (DayMark::Work, "defect mended".to_owned()),
        Fact::Reworked { rework, .. } => (DayMark::Against, format!("rework {rework} opened")),
        Fact::Scrapped { .. } => (DayMark::Against, "scrapped".to_owned()),
        Fact::Restored { .. } => (DayMark::Work, "back from scrap".to_owned()),
        fact => (DayMark::Work, fact.step_kind()?.word().to_owned()),
    })
}

/// The production days of a piece from its first entry to `at`, with its coats by number; entries that were taken back
/// are left out. Days without a deed are gathered in runs; `cure` is when the cure's clock began, where it runs.
pub fn days(
    entries: &[EntryRow],
    calendar: &Calendar,
    cure: Option<Moment>,
    at: Moment,
) -> Vec<DayRow> {
    let mut facts: Vec<(Moment, &EntryRow, &Fact)> = entries
        .iter()
        .filter(|e| e.voided_by.is_none() && e.ended <= at)
        .filter_map(|e| match &e.what {
            What::Piece(fact) => Some((e.ended, e, fact)),
            _ => None,
        })
        .collect();
    facts.sort_by_key(|(ended, e, _)| (*ended, e.seq));
    let Some(first) = facts.first().map(|(ended, ..)| calendar.day(*ended)) else {
        return Vec::new();
    };
    let mut by_day: BTreeMap<Day, DayRow> = BTreeMap::new();
    let mut coats: BTreeMap<(u32, &str, StepKind), u32> = BTreeMap::new();
    for (ended, e, fact) in facts {
        let Some((mut mark, mut word)) = mark_of(fact) else {
            continue;
        };
        let day = calendar.day(ended);
        let row = by_day
            .entry(day)
            .or_insert_with(|| empty(day, cure, calendar));
        if let (DayMark::Coat(n), Fact::Coat(c)) = (&mut mark, fact) {
            let count = coats.entry((e.branch, &e.surface, c.kind)).or_insert(0);
            *count += 1;
            *n = *count;
            let on = if e.surface == crate::shop::recipe::WHOLE {
                String::new()
            } else {
                format!(" {}", e.surface)
            };
            word = format!("{word}{on}");
            // Coats of one kind in a row: "clear 4 5 6".
            if let Some(last) = row.words.last_mut()
                && last.strip_prefix(word.as_str()).is_some_and(|rest| {
                    !rest.is_empty() && rest.chars().all(|c| c == ' ' || c.is_ascii_digit())
                })
            {
                last.push_str(&format!(" {count}"));
                row.marks.push((ended.since(calendar.day_begin(day)), mark));
                continue;
            }
            word.push_str(&format!(" {count}"));
        }
        row.marks.push((ended.since(calendar.day_begin(day)), mark));
        if row.words.last() != Some(&word) {
            row.words.push(word);
        }
    }
    let mut out: Vec<DayRow> = Vec::new();
    let mut day = first;
    let today = calendar.day(at);
    while day <= today {
        let next = by_day
            .remove(&day)
            .unwrap_or_else(|| empty(day, cure, calendar));
        match out.last_mut() {
            Some(last)
                if last.words.is_empty() && next.words.is_empty() && last.cures == next.cures =>
            {
                last.last = day;
            }
            _ => out.push(next),
        }
        day = day.next();
    }
    out
}

fn empty(day: Day, cure: Option<Moment>, calendar: &Calendar) -> DayRow {
    DayRow {
        day,
        last: day,
        marks: Vec::new(),
        words: Vec::new(),
        cures: cure.is_some_and(|from| calendar.day_begin(day.next()) > from),
    }
}

/// One stay of a piece since its last wet coat, with the readings of its room.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoomStay {
    /// The room, where one was named.
    pub room: Option<String>,
    /// Since when.
    pub from: Moment,
    /// Until when.
    pub to: Moment,
    /// Temperatures in thousandths of a degree, in order of time; empty in a room without readings.
    pub readings: Vec<(Moment, i64)>,
    /// How long a reading holds; `None` for a room without readings.
    pub holds: Option<Span>,
}

/// The air around a piece since its last wet coat, and what it was credited.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AirCourse {
    /// End of the last wet coat.
    pub from: Moment,
    /// The moment that was asked for.
    pub to: Moment,
    /// Where it hung.
    pub stays: Vec<RoomStay>,
    /// The stretches of one room and credit.
    pub legs: Vec<CreditLeg>,
}

fn within(air: &RoomAir, from: Moment, to: Moment) -> Vec<(Moment, i64)> {
    // The reading that stands when the stay begins was taken before it.
    let first = air
        .samples
        .partition_point(|s| s.at <= from)
        .saturating_sub(1);
    let rest = air.samples.get(first..).unwrap_or_default().iter();
    rest.take_while(|s| s.at < to)
        .map(|s| (s.at, s.temperature.0))
        .collect()
}

/// The air since the last wet coat of the surface that speaks for the piece; `None` before a wet coat.
pub fn air(ledger: &Ledger, seen: &Seen, at: Moment) -> Result<Option<AirCourse>, LedgerError> {
    let Some(from) = seen.site().and_then(|s| s.standing.last_wet) else {
        return Ok(None);
    };
    let climate = ledger.climate(from, at)?;
    let tables = Tables::build(&climate, &seen.recipe.credit);
    let legs = tables.legs(&seen.now.stays, from, at);
    let ends = seen.now.stays.iter().skip(1).map(|s| s.from).chain([at]);
    let stays = seen
        .now
        .stays
        .iter()
        .zip(ends)
        .filter(|(s, end)| *end > from && s.from < at)
        .map(|(stay, end): (&Stay, Moment)| {
            let (begin, end) = (stay.from.max(from), end.min(at));
            let room = stay.room.as_ref().and_then(|r| climate.rooms.get(r));
            RoomStay {
                room: stay.room.clone(),
                from: begin,
                to: end,
                readings: room.map_or_else(Vec::new, |air| within(air, begin, end)),
                holds: room.and_then(|air| air.interval).map(holds_for),
            }
        })
        .collect();
    Ok(Some(AirCourse {
        from,
        to: at,
        stays,
        legs,
    }))
}
