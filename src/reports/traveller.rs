//! The card that hangs with the piece, as one page of text: step by step with dates and initials, what was found, what
//! was mended, and what was taken back.
//!
//! *Invariants*: the history is played through the same fold that keeps the standing, so a coat stands in the line of
//! the step that it was counted in. What was taken back is printed, marked, and counts nowhere.
//!
//! *Not here*: any query; the command brings the entries, deviations and witness readings.

use super::entries;
use super::piece_json::{lies, side, when};
use crate::ledger::{DeviationRow, EntryRow, Seen};
use crate::shop::calendar::Calendar;
use crate::shop::material::MixFigures;
use crate::shop::recipe::{Recipe, Step};
use crate::shop::record::{CoatFact, Entry, Fact, What};
use crate::shop::standing::{Mixes, PieceNow, Recipes, Site};
use crate::shop::text::shown;
use crate::shop::words::{StepKind, Verdict, Word};
use crate::units::{Amount, Film, Moment, Span, System};
use std::collections::BTreeMap;

/// Columns of the page.
const WIDTH: usize = 96;

/// After so many days the tape's age is said with a word of warning. Common practice, no source.
const TAPE_DAYS: i64 = 7;

/// All that the page is made of.
#[derive(Debug)]
pub struct Traveller<'a> {
    /// The piece as it stands.
    pub seen: &'a Seen,
    /// Its entries as they were written, those that were taken back with them.
    pub rows: &'a [EntryRow],
    /// Its entries that count, in the order in which they happened.
    pub played: &'a [Entry],
    /// The recipe revisions that it went by.
    pub recipes: &'a Recipes,
    /// Its deviations.
    pub deviations: &'a [DeviationRow],
    /// Witness coupons on its rack: serial, newest film reading and when.
    pub witnesses: &'a [(String, Film, Moment)],
    /// The moment that the page tells of.
    pub at: Moment,
}

// The page asks for counts; what was in the cup changes none of them.
struct NoCups;

impl Mixes for NoCups {
    fn figures(&self, _: &CoatFact) -> Option<MixFigures> {
        None
    }
    fn mixed(&self, _: &CoatFact) -> Option<Moment> {
        None
    }
}

// One deed in the line of its step.
struct Tick {
    number: u32,
    of: u32,
    ended: Moment,
    person: String,
    more: String,
}

// A step with its deeds, in the branch to which it belongs.
struct StepLine {
    branch: u32,
    name: String,
    ticks: Vec<Tick>,
}

#[derive(Default)]
struct Played {
    lines: Vec<StepLine>,
    reworks: Vec<(u32, String)>,
    touch_ups: Vec<String>,
    readings: Vec<String>,
    defects: Vec<(i64, String)>,
    mended: BTreeMap<i64, String>,
    changes: Vec<String>,
    notes: Vec<String>,
    // The width of the column of steps.
    wide: usize,
}

/// The page.
pub fn lines(t: &Traveller<'_>, calendar: &Calendar, system: System) -> Vec<String> {
    let mut played = play(t, calendar, system);
    played.wide = step_width(t, &played);
    let mut out = head(t, calendar);
    steps(t, &played, calendar, &mut out);
    film(t, &played, system, calendar, &mut out);
    found(t, &played, &mut out);
    deviations(t, &mut out);
    for (title, list) in [
        ("recipe, tag, pair", &played.changes),
        ("holds and notes", &played.notes),
    ] {
        section(title, list.iter().cloned(), &mut out);
    }
    section("taken back", taken_back(t, calendar, system), &mut out);
    out.iter().flat_map(|line| wrapped(line)).collect()
}

// As wide as the longest name of a step on the card, so that what follows the names stands in one column.
fn step_width(t: &Traveller<'_>, played: &Played) -> usize {
    let recipe = &t.seen.recipe;
    let reworks = played.reworks.iter().flat_map(|(number, _)| {
        let code = t.seen.now.code_of(*number).unwrap_or_default();
        recipe.steps_of(Some(code))
    });
    let steps = recipe.steps.iter().chain(reworks).map(|s| s.name.as_str());
    steps
        .chain(played.lines.iter().map(|l| l.name.as_str()))
        .map(|name| shown(name).chars().count())
        .max()
        .unwrap_or(0)
        .max(16)
}

// A line that is wider than the page goes on in the next one, further in.
fn wrapped(line: &str) -> Vec<String> {
    if line.chars().count() <= WIDTH {
        return vec![line.to_owned()];
    }
    let indent = line.chars().take_while(|c| *c == ' ').count() + 4;
    let mut out = Vec::new();
    let mut text = String::new();
    for (i, word) in line.split(' ').enumerate() {
        if text.chars().count() + word.chars().count() + 1 > WIDTH && text.trim() != "" {
            out.push(std::mem::replace(&mut text, " ".repeat(indent)));
        } else if i > 0 {
            text.push(' ');
        }
        text.push_str(word);
    }
    out.push(text);
    out
}

fn section(title: &str, list: impl IntoIterator<Item = String>, out: &mut Vec<String>) {
    let mut list = list.into_iter().peekable();
    if list.peek().is_some() {
        out.push(title.to_uppercase());
        out.extend(list.map(|l| format!("  {l}")));
    }
}

fn head(t: &Traveller<'_>, calendar: &Calendar) -> Vec<String> {
    let (now, p) = (&t.seen.now, &t.seen.now.piece);
    let dash = |text: Option<&str>| text.map_or_else(|| "-".to_owned(), shown);
    let retired: Vec<String> = now
        .retired
        .iter()
        .map(|r| {
            format!(
                "{} retired {}: {}",
                shown(&r.tag),
                calendar.stamp(r.at),
                shown(&r.why)
            )
        })
        .collect();
    let tag = if retired.is_empty() {
        dash(p.tag.as_deref())
    } else {
        format!("{} ({})", dash(p.tag.as_deref()), retired.join("; "))
    };
    let place = now.place();
    let hangs = [
        place
            .and_then(|s| s.rack.as_ref())
            .map(|r| format!("rack {}", shown(r))),
        place.and_then(|s| s.hook).map(|h| format!("hook {h}")),
        place.and_then(|s| s.room.as_ref()).map(|r| shown(r)),
    ];
    let hangs: Vec<String> = hangs.into_iter().flatten().collect();
    let colour = colour(t);
    let mut out = vec![
        format!(
            "CARD  {}  {} {}    printed for {}",
            p.serial,
            p.kind.word(),
            shown(&p.model),
            calendar.full(t.at)
        ),
        format!(
            "recipe {}  {}",
            t.seen.recipe.label(),
            shown(&t.seen.recipe.name)
        ),
        format!("tag {tag}"),
        format!(
            "pair {}    due {}    hangs {}",
            dash(p.pair.as_deref()),
            p.due.map_or_else(|| "-".to_owned(), |d| d.to_string()),
            if hangs.is_empty() {
                "-".to_owned()
            } else {
                hangs.join(", ")
            }
        ),
        format!("colour {}", colour.unwrap_or_else(|| "-".to_owned())),
    ];
    if let Some(why) = &now.scrapped {
        out.push(format!("SCRAPPED: {}", shown(why)));
    }
    for (_, why) in &now.holds {
        out.push(format!("ON HOLD: {}", shown(why)));
    }
    if t.seen.view.step.is_some() {
        let line = format!(
            "next: {}  {}  {}",
            t.seen.view.next,
            t.seen.view.outlook.word(),
            when(t.seen, t.at, calendar)
        );
        out.push(line.trim_end().to_owned());
    } else {
        // Its schedule has ended: nothing is waited for.
        out.push(t.seen.view.next.to_uppercase());
    }
    out.extend(
        t.seen
            .view
            .reasons
            .iter()
            .map(|o| format!("  {}", o.before)),
    );
    out
}

// Batch, panel and judge of the newest colour.
fn colour(t: &Traveller<'_>) -> Option<String> {
    let more = t.played.iter().rev().find_map(|e| match &e.fact {
        Fact::Coat(c) if c.more.batch.is_some() || c.more.panel.is_some() => Some(&c.more),
        _ => None,
    })?;
    let parts = [
        more.batch.as_ref().map(|b| format!("batch {}", shown(b))),
        more.panel.as_ref().map(|p| format!("panel {}", shown(p))),
        more.judged
            .as_ref()
            .map(|j| format!("judged by {}", shown(j))),
    ];
    Some(parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
}

fn signed(entry: &Entry, calendar: &Calendar) -> String {
    format!("{} {}", calendar.stamp(entry.ended), entry.person)
}

fn play(t: &Traveller<'_>, calendar: &Calendar, system: System) -> Played {
    let mut out = Played::default();
    let mut now: Option<PieceNow> = None;
    for entry in t.played {
        let Some(piece) = &mut now else {
            if let Fact::Added(added) = &entry.fact {
                now = t
                    .recipes
                    .of(added)
                    .map(|recipe| PieceNow::taken_in(entry, added, recipe));
            }
            continue;
        };
        note(piece, entry, t, calendar, system, &mut out);
        piece.apply(entry, t.recipes, &NoCups);
    }
    out
}

// What one entry puts on the page, seen from where the piece stood before it.
fn note(
    piece: &PieceNow,
    entry: &Entry,
    t: &Traveller<'_>,
    calendar: &Calendar,
    system: System,
    out: &mut Played,
) {
    let signed = signed(entry, calendar);
    let on = on_surface(&entry.surface);
    let said = || entries::words(&What::Piece(entry.fact.clone()), system);
    match &entry.fact {
        Fact::Coat(c) if c.touch_up => out.touch_ups.push(format!("touch-up{on} {signed}")),
        Fact::Gauged { film } => out
            .readings
            .push(format!("{}{on} {signed}", film.shown(system, 1))),
        Fact::Flawed { .. } => out
            .defects
            .push((entry.seq.0, format!("{}{on}, {signed}", said()))),
        Fact::Mended { flaw, how } => {
            out.mended
                .insert(flaw.0, format!("mended {signed}: {}", shown(how)));
        }
        Fact::Reworked {
            rework,
            defect,
            why,
        } => {
            let number = piece.newest_branch() + 1;
            let mends = defect.map_or(String::new(), |d| format!(" for {}", d.word()));
            out.reworks.push((
                number,
                format!(
                    "REWORK {rework}{mends}{on}, opened {signed}: {}",
                    shown(why)
                ),
            ));
        }
        Fact::Reassigned { .. } | Fact::Tagged { .. } | Fact::Paired { .. } => {
            out.changes.push(format!("{}, {signed}", said()));
        }
        Fact::Held { .. }
        | Fact::Lifted { .. }
        | Fact::Note { .. }
        | Fact::Scrapped { .. }
        | Fact::Restored { .. }
        | Fact::BrokenOff { .. } => {
            out.notes.push(format!("{}, {signed}", said()));
        }
        fact => {
            if let (Some(kind), Some(recipe)) = (fact.step_kind(), t.recipes.of(&piece.piece)) {
                tick(piece, entry, kind, recipe, system, out);
            }
            if let Fact::Inspected { findings, .. } = fact
                && findings.iter().any(|f| f.defect.is_some())
            {
                out.defects
                    .push((entry.seq.0, format!("{}, {signed}", said())));
            }
        }
    }
}

// Puts a deed in the line of the step that it is counted in, once per branch and step that it reaches.
fn tick(
    piece: &PieceNow,
    entry: &Entry,
    kind: StepKind,
    recipe: &Recipe,
    system: System,
    out: &mut Played,
) {
    let reached = piece.reach(recipe, &entry.surface, Some(kind));
    let mut groups: BTreeMap<(u32, String), (Tick, Vec<String>)> = BTreeMap::new();
    for site in piece
        .current(recipe)
        .filter(|s| reached.iter().any(|r| r == s.surface))
    {
        let step = site.standing.step_for(site.steps, kind);
        let (name, number, of) = step
            .and_then(|i| Some((i, site.steps.get(i)?)))
            .map_or_else(
                || (format!("{} (not in the recipe)", kind.word()), 1, 1),
                |(i, s)| (s.name.clone(), site.standing.done(i) + 1, s.count),
            );
        let fresh = Tick {
            number,
            of,
            ended: entry.ended,
            person: entry.person.clone(),
            more: String::new(),
        };
        groups
            .entry((site.branch, name))
            .or_insert((fresh, Vec::new()))
            .1
            .push(site.surface.to_owned());
    }
    let whole = reached.len() == recipe.surfaces.len() && groups.len() == 1;
    // The head of a rework says which surfaces it is for.
    let all_of = |branch: u32| {
        let of = piece.current(recipe).filter(|s| s.branch == branch);
        if branch > 0 { of.count() } else { usize::MAX }
    };
    for ((branch, name), (mut tick, surfaces)) in groups {
        let on = if whole || surfaces.len() == all_of(branch) {
            String::new()
        } else {
            format!(" [{}]", surfaces.join(", "))
        };
        tick.more = format!("{on}{}", detail(&entry.fact, system));
        match out
            .lines
            .iter_mut()
            .find(|l| l.branch == branch && l.name == name)
        {
            Some(line) => line.ticks.push(tick),
            None => out.lines.push(StepLine {
                branch,
                name,
                ticks: vec![tick],
            }),
        }
    }
}

fn on_surface(surface: &str) -> String {
    match surface {
        "" | "whole" => String::new(),
        named => format!(" on {}", shown(named)),
    }
}

// What a card has beside date and initials: grits, tape, batch. Coats are ticks and say no more.
fn detail(fact: &Fact, system: System) -> String {
    let mut parts: Vec<String> = Vec::new();
    let mut say = |lead: &str, text: &Option<String>| {
        parts.extend(text.as_ref().map(|t| format!("{lead}{}", shown(t))));
    };
    match fact {
        Fact::Coat(c) => {
            say("batch ", &c.more.batch);
            say("at ", &c.more.place);
            parts.extend(c.more.drops.map(|n| format!("{n} drops")));
            parts.extend(c.more.rub.map(|r| format!("rub test: {}", r.word())));
        }
        Fact::Sanded { grit, removed, .. } => {
            say("", grit);
            parts.extend(removed.map(|f| format!("{} off", f.shown(system, 1))));
        }
        Fact::Received { grit, moisture, .. } => {
            say("", grit);
            parts.extend(moisture.iter().map(|m| m.text(1)));
        }
        Fact::Masked { tape } => say("", tape),
        Fact::Buffed { wheel, compound } => {
            say("", compound);
            say("wheel ", wheel);
        }
        Fact::Mated { with, joint, .. } => {
            say("with ", &Some(with.clone()));
            say("", joint);
        }
        Fact::Inspected { light, .. } => say("light box ", light),
        _ => {}
    }
    if parts.is_empty() {
        String::new()
    } else {
        format!(" ({})", parts.join(", "))
    }
}

fn steps(t: &Traveller<'_>, played: &Played, calendar: &Calendar, out: &mut Vec<String>) {
    out.push("STEPS".to_owned());
    let wide = played.wide;
    let mut names: Vec<&str> = Vec::new();
    for step in &t.seen.recipe.steps {
        names.push(&step.name);
        if step.kind == StepKind::Cure && step.waits() {
            let own = &t.seen.recipe.steps;
            out.push(cure_line(t, played, own, &step.name, 0, calendar));
            continue;
        }
        let empty = step.waits() || step.kind == StepKind::DropFill;
        if let Some(line) = find(played, 0, &step.name) {
            step_lines("  ", line, wide, calendar, out);
        } else if !empty {
            out.push(format!("  {:<wide$} -", shown(&step.name)));
        }
    }
    for line in &played.lines {
        if line.branch == 0 && !names.contains(&line.name.as_str()) {
            step_lines("  ", line, wide, calendar, out);
        }
    }
    out.extend(played.touch_ups.iter().map(|l| format!("  {l}")));
    for (number, head) in &played.reworks {
        out.push(format!("    {head}"));
        let code = t.seen.now.code_of(*number).unwrap_or_default();
        for step in t.seen.recipe.steps_of(Some(code)) {
            if step.kind == StepKind::Cure && step.waits() {
                let own = t.seen.recipe.steps_of(Some(code));
                let cured = cure_line(t, played, own, &step.name, *number, calendar);
                out.push(format!("    {cured}"));
            } else if let Some(line) = find(played, *number, &step.name) {
                step_lines("      ", line, wide, calendar, out);
            } else {
                out.push(format!("      {:<wide$} -", shown(&step.name)));
            }
        }
    }
}

fn find<'a>(played: &'a Played, branch: u32, name: &str) -> Option<&'a StepLine> {
    played
        .lines
        .iter()
        .find(|l| l.branch == branch && l.name == name)
}

// A cure: in, credited and recipe time while a surface stands in it; in and out once it is over.
fn cure_line(
    t: &Traveller<'_>,
    played: &Played,
    steps: &[Step],
    name: &str,
    branch: u32,
    calendar: &Calendar,
) -> String {
    let text = curing(t, branch, calendar)
        .or_else(|| cured(played, steps, name, branch, calendar))
        .unwrap_or_else(|| "-".to_owned());
    format!("  {:<wide$} {text}", shown(name), wide = played.wide)
}

fn curing(t: &Traveller<'_>, branch: u32, calendar: &Calendar) -> Option<String> {
    let view = &t.seen.view;
    let (earned, wanted) = view.cure?;
    let wet = t
        .seen
        .sites()
        .filter(|s| s.branch == branch && s.surface == view.surface)
        .find_map(|s| s.standing.last_wet)?;
    let sure = if view.provisional {
        ", provisional"
    } else {
        ""
    };
    let until = view.ready_at.map_or_else(
        || "recipe time not known".to_owned(),
        |m| format!("recipe time {}{sure}, check by hand", calendar.stamp(m)),
    );
    Some(format!(
        "in {}, credited {} of {} h, {until}",
        calendar.stamp(wet),
        earned.0.div_euclid(3_600_000),
        wanted.0.div_euclid(3_600_000)
    ))
}

fn cured(
    played: &Played,
    steps: &[Step],
    name: &str,
    branch: u32,
    calendar: &Calendar,
) -> Option<String> {
    let at = steps.iter().position(|s| s.name == name)?;
    let (before, after) = steps.split_at(at);
    let ticks = |s: &Step| find(played, branch, &s.name).map(|l| &l.ticks);
    let wets = before.iter().rev().filter(|s| s.kind.wets());
    let last = wets.filter_map(ticks).find_map(|t| t.last())?;
    let first = after.iter().filter_map(ticks).find_map(|t| t.first())?;
    Some(format!(
        "in {}, out {}",
        calendar.stamp(last.ended),
        calendar.stamp(first.ended)
    ))
}

// The ticks of a step, wrapped so that the page stays a page wide. Of coats on one day only the first has the date.
fn step_lines(
    lead: &str,
    line: &StepLine,
    wide: usize,
    calendar: &Calendar,
    out: &mut Vec<String>,
) {
    let mut text = format!("{lead}{:<wide$} ", shown(&line.name));
    let indent = text.chars().count();
    let mut before: Option<Moment> = None;
    for tick in &line.ticks {
        let day = |m| calendar.local(m).date_naive();
        let when = if before.is_some_and(|b| day(b) == day(tick.ended)) {
            calendar.clock(tick.ended)
        } else {
            calendar.stamp(tick.ended)
        };
        let number = if tick.of > 1 || tick.number > 1 {
            format!("{} ", tick.number)
        } else {
            String::new()
        };
        let said = format!("{number}{when} {}{}", tick.person, tick.more);
        if before.is_some() {
            text.push(',');
            if text.chars().count() + said.chars().count() + 1 > WIDTH {
                out.push(std::mem::replace(&mut text, " ".repeat(indent)));
            } else {
                text.push(' ');
            }
        }
        before = Some(tick.ended);
        text.push_str(&said);
    }
    out.push(text);
}

fn film(
    t: &Traveller<'_>,
    played: &Played,
    system: System,
    calendar: &Calendar,
    out: &mut Vec<String>,
) {
    out.push("FILM".to_owned());
    let recipe = &t.seen.recipe;
    for site in t.seen.sites() {
        let finish = t.seen.now.finish_of(recipe, &site);
        out.push(format!(
            "  {:<wide$} {} now ({}), {} at the end: {}{}",
            shown(site.surface),
            Film(site.standing.film_nm).shown(system, 1),
            if site.standing.gauged {
                "from a gauge reading"
            } else {
                "predicted"
            },
            Film(finish).shown(system, 1),
            lies(
                side(t.seen, &site),
                &recipe.band(site.surface).0.shown(system, 0),
                &recipe.band(site.surface).1.shown(system, 0)
            ),
            next_on(&site),
            wide = played.wide
        ));
    }
    out.extend(played.readings.iter().map(|r| format!("  gauge {r}")));
    out.extend(t.witnesses.iter().map(|(serial, film, at)| {
        format!(
            "  witness {} on this rack: {} ({}), larger uncertainty",
            shown(serial),
            film.shown(system, 0),
            calendar.stamp(*at)
        )
    }));
    if let Some(taped) = t.seen.now.taped {
        out.push(format!(
            "  {}",
            tape(t.at.since(taped), &calendar.stamp(taped))
        ));
    }
}

fn next_on(site: &Site<'_>) -> String {
    let next = site
        .standing
        .next(site.steps)
        .and_then(|i| site.steps.get(i));
    match (next, site.rework) {
        (Some(step), Some(code)) => format!("; next {code} {}", shown(&step.name)),
        (Some(step), None) => format!("; next {}", shown(&step.name)),
        (None, _) => String::new(),
    }
}

/// How long the tape has been on; after some days with a word of warning that is common practice and has no source.
pub fn tape(on: Span, since: &str) -> String {
    let days = on.0.div_euclid(86_400_000);
    let s = if days == 1 { "" } else { "s" };
    let mut text = format!("tape on since {since}, {days} day{s}");
    if days >= TAPE_DAYS {
        text.push_str(&format!(
            ": ordinary tape may leave glue after {TAPE_DAYS} days (common practice, no source)"
        ));
    }
    text
}

fn found(t: &Traveller<'_>, played: &Played, out: &mut Vec<String>) {
    let list = played.defects.iter().map(|(seq, text)| {
        let taken = format!(": {}", Verdict::Take.word());
        let open = t.seen.now.flaws.iter().any(|f| f.entry.0 == *seq);
        let state = match (open, played.mended.get(seq)) {
            (true, _) => "OPEN".to_owned(),
            (false, Some(mended)) => mended.clone(),
            // Nothing was to be done about it.
            (false, None) if text.contains(&taken) => return format!("{text} (entry {seq})"),
            (false, None) => "in the rework".to_owned(),
        };
        format!("{text} (entry {seq}): {state}")
    });
    section("defects", list, out);
}

fn deviations(t: &Traveller<'_>, out: &mut Vec<String>) {
    let answers: BTreeMap<i64, (&str, &str)> = t
        .rows
        .iter()
        .filter_map(|r| match &r.what {
            What::Answered { word, .. } => Some((r.seq.0, (word.as_str(), r.person.as_str()))),
            _ => None,
        })
        .collect();
    let list = t.deviations.iter().map(|d| {
        let reason = d.reason.as_ref().map_or_else(
            || "reason not given yet".to_owned(),
            |r| format!("reason: {}", shown(r)),
        );
        let state = match (d.moot, d.answer.and_then(|a| answers.get(&a))) {
            (Some(_), _) => "moot".to_owned(),
            (None, Some((word, person))) => format!("answered by {person}: {}", shown(word)),
            (None, None) => "OPEN".to_owned(),
        };
        format!(
            "entry {}: {} ({reason}): {state}",
            d.entry.0,
            shown(&d.text)
        )
    });
    section("deviations", list, out);
}

fn taken_back(t: &Traveller<'_>, calendar: &Calendar, system: System) -> Vec<String> {
    t.rows
        .iter()
        .filter_map(|r| {
            let by = r.voided_by?;
            let why = t
                .rows
                .iter()
                .find(|o| o.seq == by)
                .map_or_else(String::new, |o| match &o.what {
                    What::Void { why } => format!(": {}", shown(why)),
                    _ => String::new(),
                });
            Some(format!(
                "[taken back] {} {} {} (entry {}, by entry {}{why})",
                entries::words(&r.what, system),
                calendar.stamp(r.ended),
                r.person,
                r.seq.0,
                by.0
            ))
        })
        .collect()
}
