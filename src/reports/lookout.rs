//! What is worth telling somebody, as the record has it at a moment: the events that the shop's rules send on.
//!
//! *Invariants*: an event follows from the record and the moment alone and is known by a moment of the record, so that
//! every terminal and every start of the program finds the same one. Pieces of one rack with one next step are one event.
//! What the screens and pages judge is asked of the same functions here.
//!
//! *Not here*: who is told (`alerts`), how an alert is shown (`reports::alerts`).

use super::booth::{AirNow, air_now, pot_left};
use super::checks::{self, Check, State};
use super::{CHECK_BY_HAND, book, duties, excursions, limits, piece_json, stock};
use crate::alerts::{Alert, Event};
use crate::ledger::{Ledger, LedgerError, Months, Moved, RoomExcursions, Seen};
use crate::shop::alert::{AlertKey, AlertKind};
use crate::shop::calendar::Calendar;
use crate::shop::duty::DutyState;
use crate::shop::excursion::Outside;
use crate::shop::recipe::Recipe;
use crate::shop::rules::fits;
use crate::shop::text::shown;
use crate::shop::words::{Outlook, Word};
use crate::units::{Moment, Span, System, Temperature};
use std::collections::BTreeMap;
use std::sync::Arc;

/// How long before its end the time without a scuff is called out, a quarter of it at the most (ours, no source): long
/// enough to fetch the rack and to mix.
const BEFORE_SCUFF: Span = Span::hours(2);

/// How long before its end a pot life is called out, an eighth of it at the most (ours, no source).
const BEFORE_POT: Span = Span::minutes(30);

/// How old the figures of the solvent book may be: they read a month, and a limit is a matter of days.
const BOOK_AGE: Span = Span::minutes(10);

/// How old it may be what an excursion of the air did: it is found by judging the room's pieces twice.
const MOVED_AGE: Span = Span::minutes(10);

/// A pot that was made longer ago than this is not watched (common practice, no source: a pot lasts days at the most).
const POT_DAYS: Span = Span::hours(24 * 7);

// By what one excursion is known: the room, how, since when and until when.
type OneExcursion = (String, Outside, Moment, Option<Moment>);

/// Watches the record. It keeps what is costly to ask for some minutes.
#[derive(Debug, Default)]
pub struct Lookout {
    limits: Option<(Moment, Vec<Event>)>,
    moved: BTreeMap<OneExcursion, (Moment, Moved)>,
}

impl Lookout {
    /// What is worth telling at a moment, with what was said of each by `marked`: who just took note of something did so
    /// after the moment that a screen asked for. `floor` are the pieces in process at the moment.
    pub fn alerts(
        &mut self,
        ledger: &Ledger,
        floor: &[Seen],
        at: Moment,
        marked: Moment,
    ) -> Result<Vec<Alert>, LedgerError> {
        let events = self.events(ledger, floor, at)?;
        events
            .into_iter()
            .map(|event| {
                let marks = ledger.alert_marks(&event.key, marked)?;
                Ok(Alert { event, marks })
            })
            .collect()
    }

    /// What is worth telling at a moment.
    pub fn events(
        &mut self,
        ledger: &Ledger,
        floor: &[Seen],
        at: Moment,
    ) -> Result<Vec<Event>, LedgerError> {
        let calendar = ledger.calendar();
        let checks = checks::checks(ledger, at)?;
        let mut out = of_floor(floor, at, &calendar);
        out.extend(self.of_rooms(ledger, floor, at)?);
        out.extend(self.of_limits(ledger, at)?);
        out.extend(checks.iter().filter_map(|c| of_check(c, at, &calendar)));
        out.extend(of_duties(ledger, at)?);
        out.extend(of_drums(ledger, at)?);
        out.extend(of_pots(ledger, floor, at)?);
        out.extend(of_hand_overs(ledger, at)?);
        Ok(out)
    }

    // What was found is kept while it lasts; what comes and goes is looked at anew.
    fn of_rooms(
        &mut self,
        ledger: &Ledger,
        floor: &[Seen],
        at: Moment,
    ) -> Result<Vec<Event>, LedgerError> {
        let calendar = ledger.calendar();
        let before = std::mem::take(&mut self.moved);
        let mut out = Vec::new();
        for mut found in ledger.recent_excursions(floor, at)? {
            let Some(e) = found.list.first().copied() else {
                continue;
            };
            // While nothing is read the forecast counts, and nothing moves.
            if e.kind != Outside::Silent || e.to.is_some() {
                let key = (found.room.clone(), e.kind, e.from, e.to);
                let kept = before.get(&key);
                let kept = kept.filter(|(made, _)| at >= *made && at.since(*made) < MOVED_AGE);
                let (made, moved) = match kept {
                    Some(kept) => kept.clone(),
                    None => (at, ledger.moved_by(floor, &found.room, &e, at)?),
                };
                found.moved = moved.clone();
                self.moved.insert(key, (made, moved));
            }
            out.extend(of_excursion(&found, at, &calendar));
        }
        Ok(out)
    }

    fn of_limits(&mut self, ledger: &Ledger, at: Moment) -> Result<Vec<Event>, LedgerError> {
        let kept = self.limits.as_ref();
        if let Some((_, events)) =
            kept.filter(|(made, _)| at >= *made && at.since(*made) < BOOK_AGE)
        {
            return Ok(events.clone());
        }
        let events = of_book(ledger, at)?;
        self.limits = Some((at, events.clone()));
        Ok(events)
    }
}

fn event(kind: AlertKind, about: String, since: Moment, at: Moment, text: String) -> Event {
    Event {
        key: AlertKey { kind, about, since },
        at,
        text,
    }
}

/// Pieces that hang together, held ones left aside; a loose piece is a group of its own.
fn groups(floor: &[Seen]) -> Vec<(String, Vec<&Seen>)> {
    let mut racks: BTreeMap<(bool, &str), Vec<&Seen>> = BTreeMap::new();
    for seen in floor.iter().filter(|s| s.view.outlook != Outlook::Held) {
        let key = seen
            .rack()
            .map_or((true, seen.now.piece.serial.as_str()), |r| (false, r));
        racks.entry(key).or_default().push(seen);
    }
    let each = racks.into_iter();
    each.map(|((_, name), pieces)| (name.to_owned(), pieces))
        .collect()
}

fn count(pieces: &[&Seen]) -> String {
    match pieces.len() {
        1 => "1 piece".to_owned(),
        n => format!("{n} pieces"),
    }
}

fn last_deed(seen: &Seen) -> Option<Moment> {
    seen.sites().filter_map(|s| s.standing.last_deed).max()
}

// Pieces of a group with the same next step, in the order in which they hang.
fn by_next<'a>(
    pieces: &[&'a Seen],
    holds: impl Fn(&Seen) -> bool,
) -> Vec<(&'a str, Vec<&'a Seen>)> {
    let mut out: Vec<(&str, Vec<&Seen>)> = Vec::new();
    for seen in pieces.iter().filter(|s| holds(s)) {
        let next = seen.view.next.as_str();
        match out.iter_mut().find(|(n, _)| *n == next) {
            Some((_, list)) => list.push(seen),
            None => out.push((next, vec![seen])),
        }
    }
    out
}

fn of_floor(floor: &[Seen], at: Moment, calendar: &Calendar) -> Vec<Event> {
    let mut out = Vec::new();
    for (name, pieces) in groups(floor) {
        let name = shown(&name);
        out.extend(ready(&name, &pieces, at, calendar));
        for (next, these) in by_next(&pieces, |s| window_ends(s, at).is_some()) {
            out.extend(window(&name, next, &these, at, calendar));
        }
        for (next, these) in by_next(&pieces, |s| s.view.queued.is_some()) {
            let since = these.iter().filter_map(|s| last_deed(s)).max();
            let first = these
                .iter()
                .filter_map(|s| Some((s.view.ready_at?.plus(s.view.queued?), *s)))
                .min_by_key(|(m, _)| *m);
            if let (Some(since), Some((from, seen))) = (since, first)
                && let Some(words) = piece_json::queued_words(seen, at)
            {
                let text = format!("{name}: {next}, {words}; {}", count(&these));
                let about = format!("{name} {next}");
                out.push(event(AlertKind::Queued, about, since, from, text));
            }
        }
        let mut late: BTreeMap<chrono::NaiveDate, Vec<&Seen>> = BTreeMap::new();
        for seen in &pieces {
            if let Some(due) = seen.now.piece.due.filter(|_| seen.view.behind) {
                late.entry(due).or_default().push(seen);
            }
        }
        for (due, these) in late {
            let words = these
                .first()
                .and_then(|s| piece_json::behind_words(s, calendar))
                .unwrap_or_default();
            let text = format!("{name}: {words}; {}", count(&these));
            let about = format!("{name} due {due}");
            let since = calendar.midnight(due);
            // What is ahead is no news of that day: it is as new as the newest deed there.
            let newest = these.iter().filter_map(|s| last_deed(s)).max();
            let from = newest.unwrap_or(since).min(at);
            out.push(event(AlertKind::Late, about, since, from, text));
        }
    }
    out
}

// A rack is ready when its latest piece is. What was never worked on waits for nobody's clock, and what came up by the
// deed before it is no news to who did that.
fn ready(name: &str, pieces: &[&Seen], at: Moment, calendar: &Calendar) -> Option<Event> {
    if !pieces.iter().all(|s| s.view.outlook == Outlook::Ready) {
        return None;
    }
    let latest = pieces.iter().max_by_key(|s| s.view.ready_at)?;
    let (from, since) = (latest.view.ready_at?, last_deed(latest)?);
    if from <= since.minute_up() {
        return None;
    }
    let next = &latest.view.next;
    // Where some are further than others, each step is named with how many have it next.
    let steps = by_next(pieces, |_| true);
    let what = if steps.len() == 1 {
        format!("{next} from {}, {}", calendar.near(from, at), count(pieces))
    } else {
        let each: Vec<String> = steps
            .iter()
            .map(|(step, these)| format!("{} {step}", these.len()))
            .collect();
        format!(
            "all from {}, {}: {}",
            calendar.near(from, at),
            count(pieces),
            each.join(", ")
        )
    };
    Some(event(
        AlertKind::Ready,
        format!("{name} {next}"),
        since,
        from,
        format!("{name}: {what}; {CHECK_BY_HAND}"),
    ))
}

// From when on, and until when, the next coat of a piece is called out before it wants a scuff: since its last wet coat.
fn window_ends(seen: &Seen, at: Moment) -> Option<(Moment, Moment, Moment)> {
    if !matches!(seen.view.outlook, Outlook::Ready | Outlook::Waiting) {
        return None;
    }
    let standing = seen.site()?.standing;
    let window = seen.step()?.scuff_after?;
    let wet = standing.last_wet.filter(|_| !standing.sanded_since_wet)?;
    let ends = wet.plus(window);
    let from = ends.minus(Span(BEFORE_SCUFF.0.min(window.0 / 4)));
    // A coat that cannot come in time is not hurried.
    let reached = seen.view.ready_at.is_some_and(|r| r <= ends);
    (reached && from <= at && at <= ends).then_some((wet, from, ends))
}

fn window(
    name: &str,
    next: &str,
    these: &[&Seen],
    at: Moment,
    calendar: &Calendar,
) -> Option<Event> {
    let (wet, from, ends) = these
        .iter()
        .filter_map(|s| window_ends(s, at))
        .min_by_key(|(.., ends)| *ends)?;
    Some(event(
        AlertKind::Window,
        format!("{name} {next}"),
        wet,
        from,
        format!(
            "{name}: {next} wants a scuff first after {}, {} left; {}",
            calendar.near(ends, at),
            ends.since(at).words(),
            count(these)
        ),
    ))
}

// One event for one excursion of the air that lasts, or that is over and moved pieces.
fn of_excursion(found: &RoomExcursions, at: Moment, calendar: &Calendar) -> Option<Event> {
    let e = found.list.first()?;
    if e.to.is_some() && found.moved.moved.is_empty() {
        return None;
    }
    let text = excursions::told(found, at, calendar, System::Metric);
    Some(if e.kind == Outside::Silent {
        event(AlertKind::Silent, found.room.clone(), e.from, e.from, text)
    } else {
        let about = format!("{} {}", found.room, e.kind.word());
        event(AlertKind::Air, about, e.from, e.from, text)
    })
}

fn of_book(ledger: &Ledger, at: Moment) -> Result<Vec<Event>, LedgerError> {
    let calendar = ledger.calendar();
    let month = calendar.day(at).month();
    if ledger.ceilings()?.is_empty() {
        return Ok(Vec::new());
    }
    let [of_month, of_twelve] = book::reached(ledger, &month, at)?;
    let since = Months::one(&month)?.begin(&calendar);
    let both = [(&of_month, "the month"), (&of_twelve, "twelve months")];
    let mut out = Vec::new();
    for (figures, period) in both {
        for figure in figures {
            let over = figure.margin().is_some_and(|left| left <= 0);
            // At the limit and above it is another word than a share of it.
            let mark = match figure.reached() {
                _ if over => "whole".to_owned(),
                Some(share) => limits::per_cent(share),
                None => continue,
            };
            let Some(limit) = &figure.limit else {
                continue;
            };
            let share = figure
                .per_cent()
                .map_or_else(|| "a part".to_owned(), |p| format!("{p} %"));
            let text = format!(
                "{}: {share} of the limit {} for {period} reached, {}; entered by {}",
                figure.of.name(),
                shown(&limit.typed),
                figure.margin_words(System::Metric),
                shown(&limit.person)
            );
            let about = format!("{} {period} {month} {mark}", figure.of.key());
            out.push(event(AlertKind::Limit, about, since, since, text));
        }
    }
    Ok(out)
}

fn of_check(check: &Check, at: Moment, calendar: &Calendar) -> Option<Event> {
    let kind = match check.state {
        State::AtMark | State::TooLow => AlertKind::Mark,
        State::Overdue => AlertKind::Check,
        // What the shop wants done again and again, and what nobody ever did.
        State::Unknown if check.every.is_some() => AlertKind::Check,
        State::Unknown | State::Done | State::NoneEntered => return None,
    };
    // A gauge is told of once for each set of filters.
    let clean = check.readings.first().map(|g| g.at);
    let entered = check.every.as_ref().map(|l| l.since);
    let since = match kind {
        AlertKind::Mark => clean.or(check.last)?,
        _ => check.due.or(check.last).or(entered)?,
    };
    let low = if check.state == State::TooLow {
        " too low"
    } else {
        ""
    };
    let about = format!("{} {}{low}", check.booth, check.kind.word());
    Some(event(
        kind,
        about,
        since,
        check
            .last
            .filter(|_| kind == AlertKind::Mark)
            .unwrap_or(since),
        check.line(calendar, at),
    ))
}

fn of_duties(ledger: &Ledger, at: Moment) -> Result<Vec<Event>, LedgerError> {
    let calendar = ledger.calendar();
    let rows = ledger.duties(at)?.into_iter();
    Ok(rows
        .filter_map(|row| {
            let s = &row.standing;
            let open = s.missed.iter().rfind(|(_, done)| done.is_none());
            let since = match s.state {
                DutyState::Overdue => s.due.filter(|due| *due < at).or(s.last)?,
                DutyState::Unknown => open.map(|(due, _)| *due)?,
                DutyState::Coming | DutyState::Later => return None,
            };
            let what = format!("{} of {}", shown(&row.duty.name), shown(&row.duty.about));
            let text = format!("{what}: {}", duties::state_words(&row, &calendar, at));
            Some(event(AlertKind::Duty, what, since, since, text))
        })
        .collect())
}

fn of_drums(ledger: &Ledger, at: Moment) -> Result<Vec<Event>, LedgerError> {
    let (calendar, limits) = (ledger.calendar(), ledger.ceilings()?);
    let here = ledger.drums(at)?.into_iter();
    Ok(here
        .filter_map(|drum| {
            let clock = stock::clock(&drum, &limits, &calendar, at);
            let (about, from) = match clock.state {
                "over" => (format!("{} over", drum.drum), clock.due),
                "soon" => (drum.drum.clone(), clock.warn),
                _ => return None,
            };
            let words = stock::drum_words(&drum, &clock, &calendar, System::Metric);
            let text = format!("drum {}: {words}", shown(&drum.drum));
            let since = drum.started.0;
            Some(event(
                AlertKind::Drum,
                about,
                since,
                from.unwrap_or(since),
                text,
            ))
        })
        .collect())
}

// A pot life is what a recipe of the pieces in process states for what is in the cup; the shortest holds.
fn of_pots(ledger: &Ledger, floor: &[Seen], at: Moment) -> Result<Vec<Event>, LedgerError> {
    let mut recipes: BTreeMap<String, &Arc<Recipe>> = BTreeMap::new();
    for seen in floor.iter().filter(|s| s.recipe.reaction.is_some()) {
        recipes.entry(seen.recipe.label()).or_insert(&seen.recipe);
    }
    if recipes.is_empty() {
        return Ok(Vec::new());
    }
    let calendar = ledger.calendar();
    let warmest = warmest(ledger, at)?;
    let mut out = Vec::new();
    for (mix, pot) in ledger.open_pots(at.minus(POT_DAYS))?.0 {
        let row = ledger.mix_made(mix)?;
        if row.made > at {
            continue;
        }
        let wets = |r: &Recipe| {
            let mut steps = r.steps.iter().filter(|s| s.kind.wets());
            !row.kinds.is_empty() && steps.any(|s| fits(r, s, &row.kinds))
        };
        let lives = recipes.values().filter(|r| wets(r));
        let life = lives
            .filter_map(|r| Some(r.reaction.as_ref()?.pot_life(warmest)))
            .min();
        let (Some(life), Some(left)) = (life, pot_left(life, row.mixed, at)) else {
            continue;
        };
        let ahead = Span(BEFORE_POT.0.min(life.0 / 8));
        if left > ahead {
            continue;
        }
        let ends = row.mixed.plus(life);
        let words = if left.0 <= 0 {
            format!("pot life is over since {}", calendar.near(ends, at))
        } else {
            format!(
                "pot life ends {}, {} left",
                calendar.near(ends, at),
                left.words()
            )
        };
        let over = if left.0 <= 0 { " over" } else { "" };
        let text = format!(
            "mix {mix} {}: {words}; {} in the pot by the log",
            shown(&row.name),
            book::litres(pot.level, System::Metric)
        );
        let about = format!("mix {mix}{over}");
        let from = if left.0 <= 0 { ends } else { ends.minus(ahead) };
        out.push(event(AlertKind::Pot, about, row.mixed, from, text));
    }
    Ok(out)
}

// Where the pot stands is not known: the warmest reading that still stands shortens its life.
fn warmest(ledger: &Ledger, at: Moment) -> Result<Option<Temperature>, LedgerError> {
    let climate = ledger.climate(at, at)?;
    let each = climate.rooms.values();
    Ok(each
        .filter_map(|air| match air_now(Some(air), at) {
            AirNow::Read(sample) => Some(sample.temperature),
            AirNow::Old(_) | AirNow::None => None,
        })
        .max())
}

fn of_hand_overs(ledger: &Ledger, at: Moment) -> Result<Vec<Event>, LedgerError> {
    let calendar = ledger.calendar();
    let given = ledger.hand_overs(at)?.into_iter();
    Ok(given
        .filter(|h| h.taken.is_none())
        .map(|h| {
            let text = format!(
                "handover of {} by {}, entry {}: nobody took it yet",
                calendar.near(h.at, at),
                shown(&h.person),
                h.entry
            );
            let about = format!("entry {}", h.entry);
            event(AlertKind::HandOver, about, h.at, h.at, text)
        })
        .collect())
}
