//! A rehearsed life as the calendar that a supervisor would expect.

use super::piece_json::{film_um, hours, side_of};
use crate::shop::calendar::Calendar;
use crate::shop::recipe::Recipe;
use crate::shop::rehearse::{Rehearsal, Visit};
use crate::shop::words::{Rule, StepKind, Word};
use crate::units::{Amount, Film, Moment, Span, System};
use serde_json::{Value, json};

/// A wait longer than this is said on a line of its own.
pub const LONG_WAIT: Span = Span::hours(4);

/// What a rehearsal supposes, for whoever plans by it.
pub const SUPPOSES: &str = "a forecast by the recipe: working time is not counted, people and hooks are taken to be free; the cure \
     is counted hour for hour";

/// Where working hours come from that nobody gave.
pub const COMMON_HOURS: &str = "common practice, no source";

/// What was rehearsed, and by which hours.
#[derive(Debug, Clone, Copy)]
pub struct Head<'a> {
    /// The recipe.
    pub recipe: &'a Recipe,
    /// The rework that was played on its own.
    pub rework: Option<&'a str>,
    /// When it was begun.
    pub start: Moment,
    /// The working hours in words.
    pub hours: &'a str,
    /// Whether somebody gave them.
    pub given: bool,
}

fn title(head: &Head<'_>) -> String {
    let recipe = head.recipe;
    match head.rework.and_then(|code| recipe.rework(code)) {
        Some(rework) => format!(
            "{} {}, rework of {}",
            rework.code,
            rework.name,
            recipe.label()
        ),
        None => format!("{}  {}", recipe.label(), recipe.name),
    }
}

fn surfaces(visit: &Visit) -> String {
    if visit.whole {
        String::new()
    } else {
        format!(" ({})", visit.surfaces.join(", "))
    }
}

// `overnight`, or what it waits for and until when.
fn wait_words(visit: &Visit, wait: Span, calendar: &Calendar) -> String {
    let before = visit.at.minus(wait);
    let until = calendar.stamp(visit.at);
    let dates = calendar
        .local(visit.at)
        .date_naive()
        .signed_duration_since(calendar.local(before).date_naive())
        .num_days();
    let why = visit.bound.as_ref();
    match why {
        Some((Rule::Cure, words)) => {
            let open = if visit.opens < visit.at {
                format!(" (over {})", calendar.stamp(visit.opens))
            } else {
                String::new()
            };
            format!("{words} until {until}{open}")
        }
        _ if dates == 1 => "overnight".to_owned(),
        Some(_) if visit.opens.plus(LONG_WAIT) < visit.at => {
            format!(
                "open from {}, no working hours until {until}",
                calendar.stamp(visit.opens)
            )
        }
        Some((_, words)) => format!("until {until}: {words}"),
        None => format!("no working hours until {until}"),
    }
}

/// The calendar as lines: one heading a day, one line a deed, and the totals.
pub fn lines(
    life: &Rehearsal,
    head: &Head<'_>,
    calendar: &Calendar,
    system: System,
) -> Vec<String> {
    let source = if head.given {
        String::new()
    } else {
        format!(" ({COMMON_HOURS})")
    };
    let mut out = vec![
        title(head),
        format!(
            "begun {}, working {}{source}",
            calendar.stamp(head.start),
            head.hours
        ),
        SUPPOSES.to_owned(),
    ];
    let long: Vec<(&Visit, Span)> = life.waits(LONG_WAIT).collect();
    let mut day = None;
    for visit in &life.visits {
        if let Some((_, wait)) = long.iter().find(|(v, _)| std::ptr::eq(*v, visit)) {
            out.push(format!("    {}", wait_words(visit, *wait, calendar)));
        }
        let date = calendar.local(visit.at).date_naive();
        if day != Some(date) {
            out.push(date.format("%a %-d %b %Y").to_string());
            day = Some(date);
        }
        let bound = match &visit.bound {
            Some((_, words)) if visit.opens < visit.at => {
                format!("from {}, {words}", calendar.near(visit.opens, visit.at))
            }
            Some((_, words)) => words.clone(),
            None => String::new(),
        };
        let against: Vec<&str> = visit.against.iter().map(|r| r.word()).collect();
        let against = if against.is_empty() {
            String::new()
        } else {
            format!("  against it: {}", against.join(", "))
        };
        let what = format!("{}{}", visit.what, surfaces(visit));
        let row = format!(
            "  {}  {what:<28} {:>9}  {bound}{against}",
            calendar.clock(visit.at),
            Film(visit.film_nm).shown(system, 0)
        );
        out.push(row.trim_end().to_owned());
    }
    out.push(totals_line(life, calendar));
    out.extend(film_lines(life, head.recipe, system));
    out
}

/// `4 working days, 17 calendar days, 11 coats`.
pub fn totals_line(life: &Rehearsal, calendar: &Calendar) -> String {
    let plural = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
    let days = usize::try_from(life.calendar_days(calendar)).unwrap_or(0);
    format!(
        "{}, {}, {}",
        plural(life.working_days(calendar), "working day"),
        plural(days, "calendar day"),
        plural(life.coats(), "coat")
    )
}

// One line for each surface, held against its own band.
fn film_lines(life: &Rehearsal, recipe: &Recipe, system: System) -> Vec<String> {
    let before = life.before_final_nm.map_or(String::new(), |nm| {
        format!("{} before the final sand, ", Film(nm).shown(system, 0))
    });
    let one = life.films.len() == 1;
    life.films
        .iter()
        .map(|(on, nm)| {
            let band = recipe.band(on);
            let film = format!(
                "{} at the end: {} the band {} to {}",
                Film(*nm).shown(system, 0),
                side_of(*nm, *nm, band),
                band.0.shown(system, 0),
                band.1.shown(system, 0)
            );
            if one {
                format!("film {before}{film}")
            } else {
                format!("film of {on} {film}")
            }
        })
        .collect()
}

fn film_json(life: &Rehearsal, recipe: &Recipe) -> Value {
    let surfaces: Vec<Value> = life
        .films
        .iter()
        .map(|(on, nm)| {
            let band = recipe.band(on);
            json!({
                "surface": on, "finished": film_um(*nm), "band": side_of(*nm, *nm, band),
                "low": film_um(band.0.0), "high": film_um(band.1.0),
            })
        })
        .collect();
    json!({
        "unit": "um",
        "before_final_sand": life.before_final_nm.map(film_um),
        "finished": film_um(life.film_nm()),
        "surfaces": surfaces,
    })
}

fn visit_json(visit: &Visit, calendar: &Calendar) -> Value {
    json!({
        "what": visit.what,
        "step": visit.step,
        "kind": visit.kind.word(),
        "surfaces": visit.surfaces,
        "whole": visit.whole,
        "rework": visit.rework,
        "number": visit.number,
        "opens": calendar.rfc3339(visit.opens),
        "at": calendar.rfc3339(visit.at),
        "bound": visit.bound.as_ref().map(|(rule, words)| json!({"rule": rule.word(), "text": words})),
        "provisional": visit.provisional,
        "film_um": film_um(visit.film_nm),
        "against": visit.against.iter().map(|r| r.word()).collect::<Vec<_>>(),
    })
}

/// The calendar as JSON.
pub fn answer(life: &Rehearsal, head: &Head<'_>, calendar: &Calendar) -> Value {
    let recipe = head.recipe;
    json!({
        "recipe": recipe.code,
        "revision": recipe.revision,
        "rework": head.rework,
        "start": calendar.rfc3339(head.start),
        "hours": head.hours,
        "hours_from": if head.given { "given" } else { COMMON_HOURS },
        "supposes": SUPPOSES,
        "visits": life.visits.iter().map(|v| visit_json(v, calendar)).collect::<Vec<_>>(),
        "waits": life.waits(LONG_WAIT).map(|(v, wait)| json!({
            "before": v.what,
            "until": calendar.rfc3339(v.at),
            "hours": hours(wait.0),
            "text": wait_words(v, wait, calendar),
        })).collect::<Vec<_>>(),
        "totals": {
            "working_days": life.working_days(calendar),
            "calendar_days": life.calendar_days(calendar),
            "coats": life.coats(),
            "level_sands": life.visits.iter().filter(|v| v.kind == StepKind::LevelSand).count(),
            "end": life.end().map(|e| calendar.rfc3339(e)),
        },
        "film": film_json(life, recipe),
    })
}
