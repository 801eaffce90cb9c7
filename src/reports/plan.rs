//! The plan in words and as JSON: what each rack reaches when, hooks by day, dates that are missed.
//!
//! *Invariants*: it says what it supposes, what it goes by, and of how many plays its spread is; a time without a spread is
//! shown without one. It lists what does not come to its end, with the reason.
//!
//! *Not here*: reckoning (`plan`); what it is made of (`footing`); one piece backwards and two plans side by side (`piece`,
//! `beside`); the page of the screens (`page`).

mod beside;
mod footing;
mod page;
mod piece;
mod score;

pub use beside::{answer as beside_answer, lines as beside_lines};
pub use footing::{Footing, Wanted};
pub use page::{Full, On, Page, Part, Row, page};
pub use piece::{Asked, answer as piece_answer, lines as piece_lines};
pub use score::{Scored, answer as score_answer, lines as score_lines};

use super::rehearsal::COMMON_HOURS;
use super::{at_risk, average_day};
use crate::ledger::{ClosedRow, CrewRow, HoursRow, PairAhead, StationRow};
use crate::plan::compare::may_be_late;
use crate::plan::forecast::{Decides, Forecast, PlannedPiece, RoomAhead, Step};
use crate::plan::habits::{Allowance, ENOUGH, FEW, Habits};
use crate::shop::average_day::LEAST_DAYS;
use crate::shop::calendar::Calendar;
use crate::shop::duty::Station;
use crate::shop::hours::{Hours, days_words};
use crate::shop::shift::Shift;
use crate::shop::text::shown;
use crate::shop::words::{StepKind, Word};
use crate::units::Moment;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What a plan supposes, for whoever goes by it.
pub const SUPPOSES: &str = "a forecast by each piece's recipe, and no record is changed by it; pieces of a rack that stand alike go on \
     together up to their last coat; a future cure is counted hour for hour";

/// How many serials are listed before the rest is counted.
const LISTED: usize = 30;

/// What the plan was asked by.
#[derive(Debug, Clone, Copy)]
pub struct Basis<'a> {
    /// The hours of the shop, less the days on which it is closed.
    pub hours: &'a Hours,
    /// Whether somebody gave them.
    pub given: bool,
    /// How many days are shown.
    pub days: u32,
    /// The stations.
    pub stations: &'a [Station],
    /// How many people each crew has.
    pub crews: &'a BTreeMap<String, u32>,
    /// What is known of past deeds.
    pub habits: &'a Habits,
    /// The seed of the draws.
    pub seed: u64,
    /// The shop's calendar.
    pub calendar: &'a Calendar,
}

impl Basis<'_> {
    // The first moment that is no longer shown.
    fn until(&self, at: Moment) -> Moment {
        let first = self.calendar.local(at).date_naive();
        let last = first
            .iter_days()
            .nth(usize::try_from(self.days).unwrap_or(0));
        self.calendar.midnight(last.unwrap_or(first))
    }

    // The shift in which a moment lies, with its beginning and end.
    fn shift(&self, at: Moment) -> Option<(Moment, Moment)> {
        let date = self.calendar.local(at).date_naive();
        self.hours
            .shifts()
            .iter()
            .find(|s| s.ends(at, self.calendar).is_some())
            .map(|s| s.on(date, self.calendar))
    }
}

/// `2 people`.
pub fn people(n: u32) -> String {
    if n == 1 {
        "1 person".to_owned()
    } else {
        format!("{n} people")
    }
}

/// `2 people, 9 min a piece`, or `2 people of crew finishers, 9 min a piece`.
pub fn pace(station: &Station) -> String {
    let crew = station
        .crew
        .as_ref()
        .map_or(String::new(), |c| format!(" of crew {}", shown(c)));
    format!(
        "{}{crew}, {} a {}",
        people(station.people),
        station.took.words(),
        station.per.word()
    )
}

/// A station as one line.
pub fn station_line(row: &StationRow, calendar: &Calendar) -> String {
    let s = &row.station;
    let kinds: Vec<&str> = s.kinds.iter().map(|k| k.word()).collect();
    format!(
        "{}  {}: {}  source: {}  {} {}",
        shown(&s.name),
        kinds.join(", "),
        pace(s),
        shown(&s.source),
        shown(&row.person),
        calendar.stamp(row.since)
    )
}

/// A station as JSON.
pub fn station_json(row: &StationRow, calendar: &Calendar) -> Value {
    let s = &row.station;
    json!({
        "station": s.name,
        "for": s.kinds.iter().map(|k| k.word()).collect::<Vec<_>>(),
        "people": s.people,
        "crew": s.crew,
        "seconds": s.took.0 / 1_000,
        "per": s.per.word(),
        "source": s.source,
        "by": row.person,
        "since": calendar.rfc3339(row.since),
        "entry": row.entry,
    })
}

/// A crew as one line.
pub fn crew_line(row: &CrewRow, calendar: &Calendar) -> String {
    format!(
        "crew {}: {}  source: {}  {} {}",
        shown(&row.crew.name),
        people(row.crew.people),
        shown(&row.crew.source),
        shown(&row.person),
        calendar.stamp(row.since)
    )
}

/// A crew as JSON.
pub fn crew_json(row: &CrewRow, calendar: &Calendar) -> Value {
    json!({
        "crew": row.crew.name,
        "people": row.crew.people,
        "source": row.crew.source,
        "by": row.person,
        "since": calendar.rfc3339(row.since),
        "entry": row.entry,
    })
}

/// Days on which the shop is closed, as one line.
pub fn closed_line(row: &ClosedRow, calendar: &Calendar) -> String {
    format!(
        "{}  source: {}  {} {}",
        days_words(row.days),
        shown(&row.source),
        shown(&row.person),
        calendar.stamp(row.since)
    )
}

/// The working hours of the shop as a line.
pub fn hours_line(row: &HoursRow, calendar: &Calendar) -> String {
    let shifts: Vec<String> = row.shifts.iter().map(Shift::words).collect();
    format!(
        "{}  source: {}  {} {}",
        shifts.join(" and "),
        shown(&row.source),
        shown(&row.person),
        calendar.stamp(row.since)
    )
}

/// The same as JSON.
pub fn hours_json(row: &HoursRow, calendar: &Calendar) -> Value {
    json!({
        "shifts": row.shifts.iter().map(Shift::words).collect::<Vec<_>>(),
        "source": row.source,
        "by": row.person,
        "since": calendar.rfc3339(row.since),
        "entry": row.entry,
    })
}

/// Closed days as JSON.
pub fn closed_json(row: &ClosedRow, calendar: &Calendar) -> Value {
    json!({
        "first": row.days.0.to_string(),
        "last": row.days.1.to_string(),
        "source": row.source,
        "by": row.person,
        "since": calendar.rfc3339(row.since),
        "entry": row.entry,
    })
}

fn counted(n: usize, one: &str) -> String {
    format!("{n} {one}{}", if n == 1 { "" } else { "s" })
}

/// What the plan goes by, in lines.
pub fn basis_lines(plan: &Forecast, basis: &Basis<'_>) -> Vec<String> {
    let source = if basis.given {
        String::new()
    } else {
        format!(" ({COMMON_HOURS})")
    };
    vec![
        format!(
            "plan of {} at {}, working {}{source}",
            counted(plan.pieces.iter().filter(|p| !p.supposed).count(), "piece"),
            basis.calendar.stamp(plan.at),
            basis.hours.words(plan.at)
        ),
        SUPPOSES.to_owned(),
        stations_line(plan, basis),
        spread_line(plan, basis),
    ]
    .into_iter()
    .chain(rework_line(plan, basis))
    .chain(air_line(plan))
    .chain(not_taken_up(plan))
    .collect()
}

// By which air the drawn plays go; nothing where there is none.
fn air_line(plan: &Forecast) -> Option<String> {
    if plan.runs == 0 || plan.whole_days.is_empty() {
        return None;
    }
    let each = plan.whole_days.iter().map(|(room, n)| {
        if *n < LEAST_DAYS {
            format!(
                "{}, so that the plays go by its declared rate",
                average_day::too_few(room, *n)
            )
        } else {
            format!("{} ({n})", shown(room))
        }
    });
    let rooms: Vec<String> = each.collect();
    Some(format!(
        "the air to come of the plays is drawn from whole past days, none above the declared rate, by which the stated plan goes (common practice, no source): {}",
        rooms.join("; ")
    ))
}

fn not_taken_up(plan: &Forecast) -> Option<String> {
    let n = plan
        .pieces
        .iter()
        .filter(|p| !p.taken_up && !p.supposed && p.stuck.is_none())
        .count();
    (n > 0).then(|| {
        format!(
            "{} not taken up yet: planned from now on, as nobody has said when",
            if n == 1 {
                "1 piece is".to_owned()
            } else {
                format!("{n} pieces are")
            }
        )
    })
}

fn stations_line(plan: &Forecast, basis: &Basis<'_>) -> String {
    if basis.stations.is_empty() {
        return "no station is entered: by the stated figures every deed takes no time, and none waits for another; \"hangtime station set\" enters one"
            .to_owned();
    }
    let list: Vec<String> = basis
        .stations
        .iter()
        .map(|s| format!("{} ({})", shown(&s.name), pace(s)))
        .collect();
    let without: Vec<&str> = plan
        .kinds
        .iter()
        .filter(|(_, taken)| !**taken)
        .map(|(kind, _)| kind.word())
        .collect();
    let rest = if without.is_empty() {
        String::new()
    } else {
        format!(
            "; no station for {}: these take no time",
            without.join(", ")
        )
    };
    // A crew that no station names binds nothing.
    let named = |crew: &str| {
        let mut of = basis.stations.iter();
        of.any(|s| s.crew.as_deref() == Some(crew))
    };
    let crews: Vec<String> = basis
        .crews
        .iter()
        .filter(|(name, _)| named(name))
        .map(|(name, n)| format!("{} ({})", shown(name), people(*n)))
        .collect();
    let crews = if crews.is_empty() {
        String::new()
    } else {
        format!(
            "; of a crew no more are at work at once than it has: {}",
            crews.join(", ")
        )
    };
    format!("stations: {}{rest}{crews}", list.join(", "))
}

fn spread_line(plan: &Forecast, basis: &Basis<'_>) -> String {
    if plan.runs == 0 {
        return format!(
            "no range: fewer than {ENOUGH} past deeds to learn from, or none wanted; times are those of the stated figures alone"
        );
    }
    let thin: Vec<&str> = plan
        .kinds
        .keys()
        .filter(|k| basis.habits.thin(**k))
        .map(|k| k.word())
        .collect();
    let rest = if thin.is_empty() {
        String::new()
    } else {
        format!(
            "; unknown from {} on, with fewer than {ENOUGH} past deeds",
            thin.join(" or ")
        )
    };
    format!(
        "P50 and P90: by when half and nine of ten of {} had begun it, with waits and times drawn from {} of the last 60 days{rest} (seed {})",
        counted(plan.runs, "play"),
        counted(basis.habits.deeds(), "deed"),
        basis.seed
    )
}

fn reworks<'a>(
    plan: &'a Forecast,
    basis: &'a Basis<'_>,
) -> impl Iterator<Item = (StepKind, Allowance)> + 'a {
    let kinds = plan.kinds.keys();
    kinds.filter_map(|kind| Some((*kind, basis.habits.rework(*kind)?)))
}

// Which reworks the drawn plays have; nothing where there is no drawn play.
fn rework_line(plan: &Forecast, basis: &Basis<'_>) -> Option<String> {
    if plan.runs == 0 {
        return None;
    }
    let list: Vec<String> = reworks(plan, basis)
        .map(|(kind, a)| {
            format!(
                "after {} {} of {} for {}",
                kind.word(),
                a.opened,
                a.through,
                a.length.words()
            )
        })
        .collect();
    let few: Vec<&str> = plan
        .kinds
        .keys()
        .filter(|k| basis.habits.few(**k))
        .map(|k| k.word())
        .collect();
    let none = match few.len() {
        0 => String::new(),
        n if n == plan.kinds.len() => {
            format!("fewer than {FEW} past pieces came through any step")
        }
        _ => format!(
            "fewer than {FEW} past pieces came through {}",
            few.join(", ")
        ),
    };
    Some(match (list.as_slice(), none.as_str()) {
        ([], "") => "no rework is drawn: none followed on these steps in the past, or none is over"
            .to_owned(),
        ([], none) => format!("no rework is drawn: {none}"),
        (list, none) => {
            let rest = if none.is_empty() {
                String::new()
            } else {
                format!("; none where {none}")
            };
            format!(
                "reworks in the plays as in the past, as long as in the mean: {}{rest}; the stated figures have none",
                list.join(", ")
            )
        }
    })
}

// Deeds of one rack that are one line: the same step on some of its pieces.
struct Deed<'a> {
    rack: Option<&'a str>,
    name: &'a str,
    step: &'a Step,
    pieces: Vec<usize>,
    began: Moment,
    ended: Moment,
    opens: Moment,
    half: Option<Moment>,
    nine: Option<Moment>,
    // The pieces that are begun last, and when.
    last: (Moment, Vec<usize>),
    posts: Vec<usize>,
    provisional: bool,
}

fn words(step: &Step) -> String {
    let c = &step.coming;
    let rework = c.rework.as_ref().map_or(String::new(), |r| format!("{r} "));
    let on = if c.on.is_empty() {
        String::new()
    } else {
        format!(" on {}", c.on)
    };
    format!("{rework}{}{on}", c.what)
}

// The steps of each rack that begin before a moment, those of one rack and one step as one; a rack has come to a step when
// its last piece has.
fn rows<'a>(plan: &'a Forecast, until: Moment) -> Vec<Deed<'a>> {
    let mut known: BTreeMap<(&str, String), usize> = BTreeMap::new();
    let mut out: Vec<Deed<'a>> = Vec::new();
    for step in plan.steps.iter().filter(|s| s.made.began < until) {
        let first = step.pieces.first().and_then(|p| plan.pieces.get(*p));
        let Some(piece) = first else { continue };
        let name = piece.rack.as_deref().unwrap_or(&piece.serial);
        let at = *known.entry((name, words(step))).or_insert_with(|| {
            out.push(Deed {
                rack: piece.rack.as_deref(),
                name,
                step,
                pieces: Vec::new(),
                began: step.made.began,
                ended: step.made.ended,
                opens: step.coming.opens,
                half: step.begun.and_then(|b| b.0),
                nine: step.begun.and_then(|b| b.1),
                last: (step.made.began, Vec::new()),
                posts: Vec::new(),
                provisional: false,
            });
            out.len() - 1
        });
        let Some(row) = out.get_mut(at) else { continue };
        row.pieces.extend(&step.pieces);
        if step.made.began > row.last.0 {
            row.last = (step.made.began, Vec::new());
        }
        if step.made.began == row.last.0 {
            row.last.1.extend(&step.pieces);
        }
        row.ended = row.ended.max(step.made.ended);
        row.opens = row.opens.max(step.coming.opens);
        row.provisional |= step.coming.provisional;
        if let Some((half, nine)) = step.begun {
            // A play that did not come to it makes the rack's figure unknown.
            row.half = row.half.zip(half).map(|(a, b)| a.max(b));
            row.nine = row.nine.zip(nine).map(|(a, b)| a.max(b));
        }
        if let Some(post) = step.made.post
            && !row.posts.contains(&post)
        {
            row.posts.push(post);
        }
    }
    out.sort_by(|a, b| {
        let c = |r: &Deed<'_>| (r.step.coming.kind, r.step.coming.number);
        let key = |r: &Deed<'_>| (r.rack.is_none(), r.name.to_owned(), r.began, c(r));
        key(a).cmp(&key(b))
    });
    out
}

fn posts(row: &Deed<'_>, basis: &Basis<'_>) -> Vec<String> {
    let names = row.posts.iter().filter_map(|p| basis.stations.get(*p));
    names.map(|s| s.name.clone()).collect()
}

// A deed of a rack: when, what, on how many, by whom, from when on it was open, and by when it is begun in most plays.
fn deed_line(plan: &Forecast, row: &Deed<'_>, basis: &Basis<'_>) -> String {
    let calendar = basis.calendar;
    // The line begins with its day, so that a figure of that day needs none: the line of most deeds then fits 80 columns.
    let day = |m: Moment| calendar.local(m).date_naive();
    let told = |m: Option<Moment>| match m {
        Some(m) if day(m) == day(row.began) => calendar.near(m, row.began),
        Some(m) => calendar.stamp(m),
        None => "unknown".to_owned(),
    };
    let spread = if row.half.is_some() || row.nine.is_some() {
        format!("  P50 {}  P90 {}", told(row.half), told(row.nine))
    } else {
        String::new()
    };
    // Few that hold a rack back are named, as where it is asked what is ready.
    let few = row.last.1.len() <= 2 && row.last.1.len() < row.pieces.len();
    let last = if few && row.last.0 > row.began {
        format!("  last {}", serials(plan, &row.last.1))
    } else {
        String::new()
    };
    let by = match posts(row, basis).as_slice() {
        [] => String::new(),
        names => {
            let names: Vec<String> = names.iter().map(|n| shown(n)).collect();
            format!("  at {}", names.join(", "))
        }
    };
    let shift = basis
        .shift(row.began)
        .filter(|_| basis.hours.shifts().len() > 1);
    let shift = shift.map_or(String::new(), |(a, b)| {
        format!("  shift {}-{}", calendar.clock(a), calendar.clock(b))
    });
    let until = if row.ended > row.began {
        format!(" to {}", calendar.beside(row.ended, row.began))
    } else {
        String::new()
    };
    let opens = if row.opens < row.began && row.opens > plan.at {
        format!("  open from {}", calendar.beside(row.opens, row.began))
    } else {
        String::new()
    };
    let sure = if row.provisional {
        " (provisional)"
    } else {
        ""
    };
    format!(
        "{}{until}{sure}  {}  {}{last}{by}{shift}{opens}{spread}",
        calendar.stamp(row.began),
        words(row.step),
        counted(row.pieces.len(), "piece"),
    )
}

/// The plan as lines.
pub fn lines(plan: &Forecast, basis: &Basis<'_>) -> Vec<String> {
    let calendar = basis.calendar;
    let mut out = basis_lines(plan, basis);
    let mut rack = None;
    for row in rows(plan, basis.until(plan.at)) {
        if rack != Some(row.name) {
            rack = Some(row.name);
            out.push(String::new());
            out.push(shown(row.name));
        }
        out.push(format!("  {}", deed_line(plan, &row, basis)));
    }
    out.push(String::new());
    out.extend(late_lines(plan, basis));
    out.extend(pair_lines(plan, calendar));
    for room in &plan.rooms {
        out.extend(short_lines(plan, room));
    }
    out.extend(stuck_lines(plan));
    out
}

/// What decides a piece's end, in words.
pub fn decides_words(found: &Decides) -> String {
    let wait = found.wait.words();
    match &found.bound {
        Some(bound) => format!("{wait} before {}: {bound}", found.what),
        None => format!("{wait} before {}: nobody is free for it sooner", found.what),
    }
}

// The pieces that miss their date by the stated figures, the latest first.
fn late_pieces(plan: &Forecast) -> Vec<&PlannedPiece> {
    let mut late: Vec<&PlannedPiece> = plan
        .pieces
        .iter()
        .filter(|p| p.days_late.is_some())
        .collect();
    late.sort_by_key(|p| std::cmp::Reverse(p.days_late));
    late
}

fn late_lines(plan: &Forecast, basis: &Basis<'_>) -> Vec<String> {
    let calendar = basis.calendar;
    let dated = plan.pieces.iter().filter(|p| p.due.is_some()).count();
    let late = late_pieces(plan);
    let stated = late.len();
    // What is not known comes first: a small count beside it would read as a promise.
    let head = match may_be_late(plan, calendar) {
        Some((may, open)) if open > 0 => {
            let bare = if basis.stations.is_empty() {
                ", with no station entered"
            } else {
                ""
            };
            let told = if open < dated {
                format!("; {may} in over 1 of 10 plays")
            } else {
                String::new()
            };
            format!(
                "unknown of {open} of {dated} dated (too few past deeds); {stated} by the stated figures{bare}{told}"
            )
        }
        Some((may, _)) => format!("{stated} of {dated} dated; {may} in over 1 of 10 plays"),
        None => format!("{stated} of {dated} dated"),
    };
    let mut out = vec![format!("miss their date: {head}")];
    for p in late {
        let (Some(due), Some(end), Some(days)) = (p.due, p.end, p.days_late) else {
            continue;
        };
        let decides = p.decides.as_ref().map_or(String::new(), |d| {
            format!("; decided by {}", decides_words(d))
        });
        out.push(format!(
            "  {}  due {}: ends {}, {} late{decides}",
            shown(&p.serial),
            due.format("%a %-d %b"),
            calendar.stamp(end),
            counted(usize::try_from(days).unwrap_or(0), "day")
        ));
    }
    out
}

/// The half of a pair that waits for the other, and how long.
fn waits(pair: &PairAhead, calendar: &Calendar) -> Option<String> {
    let [a, b] = &pair.halves;
    let (first, last) = if pair.constraint == 0 { (b, a) } else { (a, b) };
    let wait = last.there()?.since(first.there()?);
    (wait.0 > 0).then(|| {
        format!(
            "  {} waits {} for {}, from {}",
            shown(&first.serial),
            wait.words(),
            shown(&last.serial),
            first
                .there()
                .map_or_else(String::new, |m| calendar.stamp(m))
        )
    })
}

fn pair_lines(plan: &Forecast, calendar: &Calendar) -> Vec<String> {
    let (looked_at, pairs) = &plan.pairs;
    let mut out = vec![format!(
        "pairs that cannot meet in time: {} of {}",
        pairs.len(),
        counted(*looked_at, "pair")
    )];
    for pair in pairs {
        let names: Vec<String> = pair.halves.iter().map(|h| shown(&h.serial)).collect();
        out.push(format!(
            "  {}  due {}: {}",
            names.join(" + "),
            pair.due.format("%a %-d %b"),
            at_risk::words(pair)
        ));
        out.extend(waits(pair, calendar).map(|w| format!("  {w}")));
    }
    out
}

fn short_lines(plan: &Forecast, room: &RoomAhead) -> Vec<String> {
    let mut out = Vec::new();
    let Some(hooks) = room.hooks else {
        return vec![format!(
            "hooks of {}: none entered; \"hangtime room hooks\" enters them",
            shown(&room.room)
        )];
    };
    let short: Vec<_> = room
        .days
        .iter()
        .filter(|d| d.short.is_some_and(|s| s > 0))
        .collect();
    let Some(first) = short.first() else {
        let most = room.days.iter().map(|d| d.after).max().unwrap_or(0);
        return vec![format!(
            "hooks of {}: {hooks}, at the most {most} in use at the end of a day",
            shown(&room.room)
        )];
    };
    out.push(format!(
        "hooks of {}: {hooks}; short by {} on {}, {} short",
        shown(&room.room),
        first.short.unwrap_or(0),
        first.date.format("%a %-d %b"),
        counted(short.len(), "day")
    ));
    out.push(format!(
        "  recipe time reached, check by hand: {}",
        serials(plan, &first.could_leave)
    ));
    out
}

fn serials(plan: &Forecast, pieces: &[usize]) -> String {
    let names: Vec<String> = pieces
        .iter()
        .filter_map(|p| plan.pieces.get(*p))
        .take(LISTED)
        .map(|p| shown(&p.serial))
        .collect();
    match pieces.len() {
        0 => "no piece".to_owned(),
        n if n > LISTED => format!("{} and {} more", names.join(", "), n - LISTED),
        _ => names.join(", "),
    }
}

fn stuck_lines(plan: &Forecast) -> Vec<String> {
    let mut by_why: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (n, piece) in plan.pieces.iter().enumerate() {
        if let Some(why) = &piece.stuck {
            by_why.entry(why).or_default().push(n);
        }
    }
    let mut out = Vec::new();
    for (why, pieces) in by_why {
        out.push(format!(
            "end unknown: {}: {}",
            serials(plan, &pieces),
            shown(why)
        ));
    }
    out
}

/// The hooks by day, as lines.
pub fn hook_lines(plan: &Forecast, basis: &Basis<'_>) -> Vec<String> {
    let mut out = basis_lines(plan, basis);
    for room in &plan.rooms {
        out.push(String::new());
        let hooks = room.hooks.map_or_else(
            || "hooks not entered".to_owned(),
            |h| counted(usize::try_from(h).unwrap_or(0), "hook"),
        );
        out.push(format!("{}: {hooks}", shown(&room.room)));
        for day in &room.days {
            let short = match (day.short, room.hooks) {
                (Some(0), Some(hooks)) => {
                    let hooks = usize::try_from(hooks).unwrap_or(0);
                    format!("{} left", counted(hooks.saturating_sub(day.after), "hook"))
                }
                (Some(n), _) => format!("short by {n}"),
                (None, _) => String::new(),
            };
            let row = format!(
                "  {}  {} hang there, {} arrive, {} leave: {}  {short}",
                day.date.format("%a %-d %b"),
                day.before,
                day.arrive,
                day.leave,
                day.after
            );
            out.push(row.trim_end().to_owned());
            if day.short.is_some_and(|s| s > 0) {
                out.push(format!(
                    "    recipe time reached, check by hand: {}",
                    serials(plan, &day.could_leave)
                ));
            }
        }
    }
    if plan.rooms.is_empty() {
        out.push("no room with a cure or with hooks is known".to_owned());
    }
    if plan.homeless > 0 {
        out.push(format!(
            "{} to a cure in an unknown room: {}",
            if plan.homeless == 1 {
                "1 piece comes".to_owned()
            } else {
                format!("{} pieces come", plan.homeless)
            },
            "no piece stands in its cure now"
        ));
    }
    out.push(
        "counted at the end of each day; pieces come to a room for their cure and leave it with their next deed".to_owned(),
    );
    out
}

/// What the plan goes by, as JSON.
pub fn basis_json(plan: &Forecast, basis: &Basis<'_>) -> Value {
    let said: Vec<String> = [stations_line(plan, basis), spread_line(plan, basis)]
        .into_iter()
        .chain(rework_line(plan, basis))
        .collect();
    json!({
        "at": basis.calendar.rfc3339(plan.at),
        "hours": basis.hours.words(plan.at),
        "hours_from": if basis.given { "given" } else { COMMON_HOURS },
        "supposes": SUPPOSES,
        "stations": basis.stations.iter().map(|s| s.name.clone()).collect::<Vec<_>>(),
        "crews": basis.crews,
        "steps_without_a_station": plan.kinds.iter().filter(|(_, taken)| !**taken).map(|(k, _)| k.word()).collect::<Vec<_>>(),
        "plays": plan.runs,
        "seed": basis.seed,
        "past_deeds": basis.habits.deeds(),
        "thin_steps": plan.kinds.keys().filter(|k| basis.habits.thin(**k)).map(|k| k.word()).collect::<Vec<_>>(),
        "reworks": reworks(plan, basis).filter(|_| plan.runs > 0).map(|(kind, a)| json!({
            "after": kind.word(), "opened": a.opened, "of": a.through, "mean_ms": a.length.0,
        })).collect::<Vec<_>>(),
        "said": said,
        "air": air_line(plan), "whole_days": plan.whole_days,
        "not_taken_up": not_taken_up(plan),
    })
}

fn room_json(plan: &Forecast, room: &RoomAhead) -> Value {
    let serials = |list: &[usize]| -> Vec<&str> {
        let pieces = list.iter().filter_map(|n| plan.pieces.get(*n));
        pieces.map(|p| p.serial.as_str()).collect()
    };
    json!({
        "room": room.room,
        "hooks": room.hooks,
        "days": room.days.iter().map(|d| json!({
            "date": d.date.to_string(), "before": d.before, "arrive": d.arrive, "leave": d.leave, "after": d.after,
            "short": d.short, "could_leave": serials(&d.could_leave),
        })).collect::<Vec<_>>(),
    })
}

/// The hooks by day, as JSON.
pub fn hook_answer(plan: &Forecast, basis: &Basis<'_>) -> Value {
    json!({
        "basis": basis_json(plan, basis),
        "rooms": plan.rooms.iter().map(|r| room_json(plan, r)).collect::<Vec<_>>(),
        "room_not_told": plan.homeless,
    })
}

/// The plan as JSON: every step, not only those of the days that the lines show.
pub fn answer(plan: &Forecast, basis: &Basis<'_>) -> Value {
    let calendar = basis.calendar;
    let when = |m: Option<Moment>| m.map(|m| calendar.rfc3339(m));
    let serial = |n: &usize| plan.pieces.get(*n).map(|p| p.serial.clone());
    let steps: Vec<Value> = rows(plan, Moment(i64::MAX))
        .iter()
        .map(|row| {
            json!({
                "rack": row.rack,
                "pieces": row.pieces.iter().filter_map(serial).collect::<Vec<_>>(),
                "what": words(row.step),
                "kind": row.step.coming.kind.word(),
                "opens": calendar.rfc3339(row.opens),
                "begins": calendar.rfc3339(row.began),
                "ends": calendar.rfc3339(row.ended),
                "p50": when(row.half),
                "p90": when(row.nine),
                "stations": posts(row, basis),
                "shift": basis.shift(row.began).map(|(a, b)| json!([calendar.rfc3339(a), calendar.rfc3339(b)])),
                "provisional": row.provisional,
            })
        })
        .collect();
    let pieces: Vec<Value> = plan
        .pieces
        .iter()
        .map(|p| {
            json!({
                "serial": p.serial,
                "kind": p.kind.word(),
                "rack": p.rack,
                "due": p.due.map(|d| d.to_string()),
                "ends": when(p.end),
                "p50": p.ends.and_then(|(half, _)| when(half)),
                "p90": p.ends.and_then(|(_, nine)| when(nine)),
                "there": when(p.there),
                "days_late": p.days_late,
                "decides": p.decides.as_ref().map(decides_words),
                "cannot_be_told": p.stuck,
            })
        })
        .collect();
    let pairs: Vec<Value> = plan
        .pairs
        .1
        .iter()
        .map(|p| pair_json(p, calendar))
        .collect();
    json!({
        "basis": basis_json(plan, basis),
        "steps": steps,
        "pieces": pieces,
        "late": plan.pieces.iter().filter(|p| p.days_late.is_some()).count(),
        "may_be_late": may_be_late(plan, calendar).map(|(late, open)| json!({"late": late, "not_told": open})),
        "pairs": {"looked_at": plan.pairs.0, "at_risk": pairs},
        "rooms": plan.rooms.iter().map(|r| room_json(plan, r)).collect::<Vec<_>>(),
        "room_not_told": plan.homeless,
    })
}

fn pair_json(pair: &PairAhead, calendar: &Calendar) -> Value {
    let half = pair.halves.get(pair.constraint);
    json!({
        "halves": pair.halves.iter().map(|h| json!({
            "serial": h.serial,
            "there": h.there().map(|m| calendar.rfc3339(m)),
            "cannot_be_told": h.told.as_ref().err(),
        })).collect::<Vec<_>>(),
        "due": pair.due.to_string(),
        "meet": pair.meet.map(|m| calendar.rfc3339(m)),
        "days_late": pair.days_late,
        "constraint": half.map(|h| h.serial.clone()),
        "text": at_risk::words(pair),
        "waits": waits(pair, calendar).map(|w| w.trim().to_owned()),
    })
}
