//! The plan: what each rack reaches when, hooks by day, one piece backwards, and what would come of it if; and the stations
//! that it goes by.

use super::{Answer, Desk, Shop, Trouble, one_of, read_time};
use crate::feeds::pieces_csv::read_date;
use crate::ledger::Ledger;
use crate::plan::backward::backward;
use crate::plan::compare::compare;
use crate::plan::forecast::forecast;
use crate::plan::score::{Happened, score};
use crate::plan::{Rush, Scene, Suppose};
use crate::reports::checks::interval;
use crate::reports::plan as report;
use crate::reports::plan::{Footing, Wanted};
use crate::shop::calendar::Calendar;
use crate::shop::duty::{ClosedDays, Crew, Per, Station as Place, WorkingHours};
use crate::shop::hours::{Days, Spell, days_words};
use crate::shop::record::{Fact, What};
use crate::shop::shift::Shift;
use crate::shop::text::{place_like, shown};
use crate::shop::words::{StepKind, Word};
use crate::units::{Moment, Span};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What is planned by.
#[derive(Debug, clap::Args)]
struct How {
    /// How many days are shown, today included.
    #[arg(long, global = true, value_name = "N", default_value_t = 14, value_parser = clap::value_parser!(u32).range(1..=120))]
    days: u32,
    /// Working hours; repeat for each shift. Those entered by "plan hours" if left out, else 07:00-15:30 (common practice,
    /// no source).
    #[arg(long, global = true, value_name = "FROM-TO")]
    hours: Vec<String>,
    /// Working days; mon-fri if left out (common practice, no source).
    #[arg(long, global = true, value_name = "DAYS")]
    on: Option<String>,
    /// How many plays the spread is of; 0 for none.
    #[arg(long, global = true, value_name = "N", default_value_t = 100, value_parser = clap::value_parser!(u32).range(0..=1000))]
    plays: u32,
    /// The seed of what is drawn; the same seed draws the same.
    #[arg(long, global = true, value_name = "N", default_value_t = 1)]
    seed: u64,
}

/// What each rack reaches when; without a word, the plan of the whole floor.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = false)]
pub(super) struct Plan {
    #[command(subcommand)]
    about: Option<About>,
    #[command(flatten)]
    how: How,
}

#[derive(Debug, clap::Subcommand)]
enum About {
    /// Hooks by day: what hangs in a room, comes and leaves, and on which day hooks are short.
    Hooks,
    /// One piece backwards from its date: each step "no later than".
    Piece {
        /// Serial or tag.
        piece: String,
        /// Another date than the one it is due.
        #[arg(long, value_name = "DATE")]
        due: Option<String>,
    },
    /// What would come of it if: both plans side by side.
    If(If),
    /// The hours in which people are there, for every forecast; without hours, those that are entered.
    Hours {
        /// Each shift, 06:00-14:30, on the days of --on, or with days of its own, "07:00-12:00 sat"; one over midnight is
        /// two, 22:00-24:00 and 00:00-06:00.
        #[arg(value_name = "FROM-TO", requires = "source")]
        shifts: Vec<String>,
        /// The days; mon-fri if left out.
        #[arg(long, value_name = "DAYS", requires = "shifts")]
        on: Option<String>,
        /// Those that are entered hold no longer.
        #[arg(long, requires = "source", conflicts_with = "shifts")]
        end: bool,
        /// Where that comes from.
        #[arg(long)]
        source: Option<String>,
    },
    /// Days on which the shop is closed; without a day, those that are entered.
    Closed {
        /// A day, 2026-04-03, or the first and the last of some, 2026-12-24..2027-01-01.
        #[arg(value_name = "DATES", requires = "source")]
        dates: Option<String>,
        /// Where that comes from.
        #[arg(long, requires = "dates")]
        source: Option<String>,
    },
    /// Days are worked after all, though the shop was to be closed.
    Open {
        /// As they are written for "plan closed".
        #[arg(value_name = "DATES")]
        dates: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
    /// How earlier plans held: one made each working morning, against what then happened.
    Score {
        /// The first morning.
        #[arg(long, value_name = "DATE")]
        from: String,
    },
}

#[derive(Debug, clap::Args)]
#[group(required = true, multiple = true)]
struct If {
    /// People are there on this day, too: DATE, or "DATE 07:00..12:00"; repeat for more.
    #[arg(long, value_name = "DATE")]
    overtime: Vec<String>,
    /// A booth or other station is down: NAME:DATE, or "NAME:DATE 07:00..12:00".
    #[arg(long, value_name = "NAME:DATE")]
    booth_down: Vec<String>,
    /// A room is without heat, and no hour counts there: "ROOM:DATE 22:00..06:00".
    #[arg(long, value_name = "ROOM:DATE")]
    heat_off: Vec<String>,
    /// So many pieces of a recipe come in now and go before all others: 20:G9.
    #[arg(long, value_name = "N:RECIPE")]
    rush: Vec<String>,
    /// A room has so many hooks: ROOM=N.
    #[arg(long, value_name = "ROOM=N")]
    hooks: Vec<String>,
    /// A crew has so many people: NAME=N.
    #[arg(long, value_name = "NAME=N")]
    crew: Vec<String>,
}

impl How {
    fn wanted(&self) -> Result<Wanted, Trouble> {
        let common = ["07:00-15:30".to_owned()];
        let hours = match &self.on {
            _ if !self.hours.is_empty() => &self.hours[..],
            Some(_) => &common[..],
            // Those of the shop.
            None => &[],
        };
        let days = self.on.as_deref().unwrap_or("mon-fri");
        let shifts = hours
            .iter()
            .map(|h| Shift::read(h, days).map_err(|e| Trouble::Input(e.to_string())));
        Ok(Wanted {
            shifts: shifts.collect::<Result<_, _>>()?,
            given: !self.hours.is_empty() || self.on.is_some(),
            days: self.days,
            plays: self.plays,
            seed: self.seed,
        })
    }
}

impl Plan {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let how = self.how;
        let shop = desk.shop()?;
        match &self.about {
            Some(About::Score { from }) => return how.score(desk, &shop, from),
            Some(About::Hours {
                shifts,
                on,
                end,
                source,
            }) => {
                let on = on.as_deref().unwrap_or("mon-fri");
                let given = source.as_deref().filter(|_| *end || !shifts.is_empty());
                return working(desk, shop, given.map(|s| (shifts.as_slice(), on, s)));
            }
            Some(About::Closed { dates, source }) => {
                let given = dates.as_deref().zip(source.as_deref());
                return closed(desk, shop, given.map(|(d, s)| (d, s, false)));
            }
            Some(About::Open { dates, why }) => {
                return closed(desk, shop, Some((dates, why, true)));
            }
            _ => {}
        }
        let known = desk.known_at(&shop)?;
        let floor = Footing::read(&shop.ledger, how.wanted()?, shop.now, known)?;
        let (scene, basis) = (floor.scene(), floor.basis());
        let nothing = Suppose::default();
        let today = forecast(&scene, &nothing, how.days);
        let (value, lines) = match &self.about {
            None
            | Some(
                About::Score { .. }
                | About::Hours { .. }
                | About::Closed { .. }
                | About::Open { .. },
            ) => (
                report::answer(&today, &basis),
                report::lines(&today, &basis),
            ),
            Some(About::Hooks) => (
                report::hook_answer(&today, &basis),
                report::hook_lines(&today, &basis),
            ),
            Some(About::Piece { piece, due }) => {
                let serial = shop.ledger.piece(piece, shop.now)?.now.piece.serial.clone();
                let found = today
                    .pieces
                    .iter()
                    .enumerate()
                    .find(|(_, p)| p.serial == serial);
                let Some((number, piece)) = found else {
                    return Err(Trouble::Input(format!(
                        "{} is not in process at this time",
                        shown(&serial)
                    )));
                };
                let due = match due {
                    Some(text) => read_date("due", text).map_err(Trouble::Input)?,
                    None => piece.due.ok_or_else(|| {
                        Trouble::Input(format!(
                            "{} has no due date; write one, such as --due 2026-04-10",
                            shown(&serial)
                        ))
                    })?,
                };
                let dates = backward(&scene, &nothing, number, due);
                let asked = report::Asked {
                    piece,
                    number,
                    dates: &dates,
                };
                (
                    report::piece_answer(&today, &asked, &basis),
                    report::piece_lines(&today, &asked, &basis),
                )
            }
            Some(About::If(wanted)) => {
                let (suppose, said) = wanted.suppose(&shop, &floor, &scene)?;
                let then = forecast(&scene, &suppose, how.days);
                let found = compare(&today, &then, &floor.calendar);
                (
                    report::beside_answer(&today, &found, &said, &basis),
                    report::beside_lines(&today, &found, &said, &basis),
                )
            }
        };
        let value = desk.with_clock(value);
        desk.print(&value, &lines)?;
        Ok(0)
    }
}

// `2026-04-03`, or `2026-12-24..2027-01-01`.
fn read_days(text: &str) -> Result<Days, Trouble> {
    let (first, last) = text.split_once("..").unwrap_or((text, text));
    let date = |t: &str| read_date("days", t.trim()).map_err(Trouble::Input);
    Ok((date(first)?, date(last)?))
}

// Lists the working hours, or enters some: each shift, the days of those that have none of their own, and where they are from.
fn working(desk: &mut Desk<'_>, mut shop: Shop, given: Option<(&[String], &str, &str)>) -> Answer {
    let Some((shifts, on, source)) = given else {
        let row = shop.ledger.working_hours(shop.now)?;
        let line = row.as_ref().map_or_else(
            || "no working hours are entered; \"hangtime plan hours 06:00-14:30 --source ..\" enters some".to_owned(),
            |r| report::hours_line(r, &shop.calendar),
        );
        let value = row.as_ref().map(|r| report::hours_json(r, &shop.calendar));
        desk.print(&value.into(), &[line])?;
        return Ok(0);
    };
    let read = |text: &String| {
        let (hours, days) = text.trim().split_once(' ').unwrap_or((text, on));
        Shift::read(hours, days.trim()).map_err(|e| Trouble::Input(e.to_string()))
    };
    let fact = WorkingHours {
        shifts: shifts.iter().map(read).collect::<Result<_, _>>()?,
        source: source.to_owned(),
    };
    let who = desk.who(None)?;
    let stamp = shop.stamp();
    let saved = shop.ledger.set_working_hours(&fact, &who, &stamp)?;
    let words: Vec<String> = fact.shifts.iter().map(Shift::words).collect();
    let what = match words.as_slice() {
        [] => "working hours taken away".to_owned(),
        list => format!("working hours {}", list.join(" and ")),
    };
    desk.saved(&saved, &what, json!({"shifts": words}))
}

// Lists the closed days, or enters some: days, where that comes from, and whether they are worked after all.
fn closed(desk: &mut Desk<'_>, mut shop: Shop, given: Option<(&str, &str, bool)>) -> Answer {
    let Some((days, source, ended)) = given else {
        let rows = shop.ledger.closed_days(shop.now)?;
        let calendar = &shop.calendar;
        let mut lines: Vec<String> = rows
            .iter()
            .map(|r| report::closed_line(r, calendar))
            .collect();
        if lines.is_empty() {
            lines.push("no closed day is entered; \"hangtime plan closed 2026-04-03 --source ..\" enters one".to_owned());
        }
        let value: Vec<Value> = rows
            .iter()
            .map(|r| report::closed_json(r, calendar))
            .collect();
        desk.print(&value.into(), &lines)?;
        return Ok(0);
    };
    let fact = ClosedDays {
        days: read_days(days)?,
        source: source.to_owned(),
        ended,
    };
    let who = desk.who(None)?;
    let stamp = shop.stamp();
    let saved = shop.ledger.set_closed_days(&fact, &who, &stamp)?;
    let what = if ended {
        format!("worked after all on {}", days_words(fact.days))
    } else {
        format!("closed on {}", days_words(fact.days))
    };
    let [first, last] = [fact.days.0, fact.days.1].map(|d| d.to_string());
    desk.saved(&saved, &what, json!({"first": first, "last": last}))
}

impl How {
    // A plan each working morning from a date on, as it would have been made then: by what was written by then.
    fn score(&self, desk: &mut Desk<'_>, shop: &Shop, from: &str) -> Answer {
        let first = read_date("from", from).map_err(Trouble::Input)?;
        let wanted = self.wanted()?;
        let shifts = if wanted.shifts.is_empty() {
            shop.ledger.shifts(shop.now)?.0
        } else {
            wanted.shifts.clone()
        };
        let hours = shop.ledger.hours(&shifts, shop.now)?;
        let mut happened = Happened::new();
        let mut scored = report::Scored {
            mornings: 0,
            without: 0,
            until: shop.now,
            by_lead: BTreeMap::new(),
        };
        let mut at = hours.next(shop.calendar.midnight(first));
        while let Some(morning) = at.filter(|m| *m < shop.now) {
            let floor = Footing::read(&shop.ledger, wanted.clone(), morning, Some(morning))?;
            let plan = forecast(&floor.scene(), &Suppose::default(), 1);
            for seen in &floor.pieces {
                let serial = &seen.now.piece.serial;
                if !happened.contains_key(serial) {
                    happened.insert(serial.clone(), begun(&shop.ledger, serial)?);
                }
            }
            score(&plan, &happened, shop.now, &mut scored.by_lead);
            scored.mornings += 1;
            scored.without += usize::from(plan.runs == 0);
            let date = shop.calendar.local(morning).date_naive();
            let next = date.succ_opt().unwrap_or(date);
            at = hours.next(shop.calendar.midnight(next));
        }
        desk.print(
            &report::score_answer(&scored, &shop.calendar),
            &report::score_lines(&scored, &shop.calendar),
        )?;
        Ok(0)
    }
}

// When the deeds of a piece were begun, as known today.
fn begun(ledger: &Ledger, serial: &str) -> Result<Vec<(StepKind, Moment)>, Trouble> {
    let mut list: Vec<(StepKind, Moment)> = ledger
        .entries(Some(serial))?
        .into_iter()
        .filter(|e| e.voided_by.is_none())
        .filter_map(|e| match &e.what {
            What::Piece(Fact::Coat(c)) if c.touch_up => None,
            What::Piece(fact) => Some((fact.step_kind()?, e.began)),
            _ => None,
        })
        .collect();
    list.sort_by_key(|(_, at)| *at);
    Ok(list)
}

// `2026-03-28`, or `2026-03-24 22:00..06:00`, which ends on the next day. `whole` is what a date alone means.
fn spell(
    text: &str,
    calendar: &Calendar,
    whole: impl Fn(chrono::NaiveDate) -> Spell,
) -> Result<Spell, Trouble> {
    let fault = || {
        Trouble::Input(format!(
            "time \"{}\" is not understood; write 2026-03-28, or \"2026-03-28 07:00..12:00\"",
            shown(text)
        ))
    };
    let (date, hours) = match text.trim().split_once(' ') {
        Some((date, hours)) => (date, Some(hours.trim())),
        None => (text.trim(), None),
    };
    let date = crate::units::date(date).map_err(|_| fault())?;
    let Some(hours) = hours else {
        return Ok(whole(date));
    };
    let (from, to) = hours.split_once("..").ok_or_else(fault)?;
    let moment = |date: chrono::NaiveDate, time: &str| {
        read_time(calendar, &format!("{date} {}", time.trim()), Moment(0))
    };
    let begin = moment(date, from)?;
    let mut end = moment(date, to)?;
    if end <= begin {
        end = moment(date.succ_opt().ok_or_else(fault)?, to)?;
    }
    Ok((begin, end))
}

fn said(spell: Spell, calendar: &Calendar) -> String {
    format!("{} to {}", calendar.stamp(spell.0), calendar.stamp(spell.1))
}

impl If {
    fn suppose(
        &self,
        shop: &Shop,
        floor: &Footing,
        scene: &Scene<'_>,
    ) -> Result<(Suppose, Vec<String>), Trouble> {
        let calendar = &floor.calendar;
        let mut out = Suppose::default();
        let mut words = Vec::new();
        let day = |date: chrono::NaiveDate| {
            let next = date.succ_opt().unwrap_or(date);
            (calendar.midnight(date), calendar.midnight(next))
        };
        for text in &self.overtime {
            let whole = |date| {
                let spans = floor.hours.shifts().iter().map(|s| s.on(date, calendar));
                spans
                    .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
                    .unwrap_or_else(|| day(date))
            };
            let spell = spell(text, calendar, whole)?;
            words.push(format!("overtime {}", said(spell, calendar)));
            out.overtime.push(spell);
        }
        let known: Vec<String> = floor.stations.iter().map(|s| shown(&s.name)).collect();
        for text in &self.booth_down {
            let (name, when) = named(text, "booth 1:2026-03-25")?;
            let stations = floor.stations.iter().map(|s| s.name.as_str());
            let Some(name) = place_like(stations, name) else {
                return Err(Trouble::Input(format!(
                    "station \"{}\" is not known; {}",
                    shown(name),
                    if known.is_empty() {
                        "none is entered, so that nothing waits for one; enter it with \"hangtime station set\"".to_owned()
                    } else {
                        format!("write one of {}", known.join(", "))
                    }
                )));
            };
            let spell = spell(when, calendar, day)?;
            words.push(format!("{} down {}", shown(name), said(spell, calendar)));
            out.down.push((name.to_owned(), spell));
        }
        let rooms = shop.ledger.rooms()?;
        let room = |name: &str| {
            if let Some(room) = place_like(rooms.iter().map(String::as_str), name) {
                return Ok(room.to_owned());
            }
            let known: Vec<String> = rooms.iter().map(|r| shown(r)).collect();
            Err(Trouble::Input(format!(
                "room \"{}\" is not known; write one of {}",
                shown(name),
                known.join(", ")
            )))
        };
        for text in &self.heat_off {
            let (name, when) = named(text, "cure room:2026-03-24 22:00..06:00")?;
            let name = &room(name)?;
            let spell = spell(when, calendar, day)?;
            words.push(format!(
                "no heat in {} {}, where no hour counts",
                shown(name),
                said(spell, calendar)
            ));
            // Only what cures there is held up by it; where no cure to come is planned there, that is said.
            if !scene.cure_rooms().contains(name) {
                words.push(format!(
                    "cures to come are not planned in {}: no piece stands in its cure there",
                    shown(name)
                ));
            }
            out.cold.push((name.to_owned(), spell));
        }
        for text in &self.rush {
            let rush = rush(text, shop)?;
            words.push(format!(
                "{} pieces of {} come in now and go first",
                rush.pieces,
                rush.recipe.label()
            ));
            out.rush.push(rush);
        }
        for text in &self.hooks {
            let (name, hooks) = counted("hooks", text, "cure room=340")?;
            let name = &room(name)?;
            words.push(format!("{} has {hooks} hooks", shown(name)));
            out.hooks.insert(name.clone(), hooks);
        }
        for text in &self.crew {
            let (name, people) = counted("crew", text, "finishers=2")?;
            if !floor.crews.contains_key(name) {
                let known: Vec<String> = floor.crews.keys().map(|c| shown(c)).collect();
                return Err(Trouble::Input(format!(
                    "crew \"{}\" is not known; {}",
                    shown(name),
                    if known.is_empty() {
                        "none is entered; enter it with \"hangtime station crew\"".to_owned()
                    } else {
                        format!("write one of {}", known.join(", "))
                    }
                )));
            }
            words.push(format!(
                "crew {} has {}",
                shown(name),
                report::people(people)
            ));
            out.crews.insert(name.to_owned(), people);
        }
        Ok((out, words))
    }
}

// `cure room=340`.
fn counted<'a>(what: &str, text: &'a str, example: &str) -> Result<(&'a str, u32), Trouble> {
    let parts = text.split_once('=');
    let parts = parts.and_then(|(name, n)| Some((name.trim(), n.trim().parse().ok()?)));
    parts.ok_or_else(|| {
        Trouble::Input(format!(
            "{what} \"{}\" is not understood; write \"{example}\"",
            shown(text)
        ))
    })
}

fn named<'a>(text: &'a str, example: &str) -> Result<(&'a str, &'a str), Trouble> {
    text.split_once(':')
        .map(|(name, when)| (name.trim(), when))
        .ok_or_else(|| {
            Trouble::Input(format!(
                "\"{}\" is not understood; write \"{example}\"",
                shown(text)
            ))
        })
}

// `20:G9`, of the newest revision that is adopted.
fn rush(text: &str, shop: &Shop) -> Result<Rush, Trouble> {
    const MOST: usize = 1_000;
    let parts = text.split_once(':');
    let parts = parts.and_then(|(n, code)| Some((n.trim().parse().ok()?, code.trim())));
    let (pieces, code): (usize, &str) = parts.ok_or_else(|| {
        Trouble::Input(format!(
            "rush \"{}\" is not understood; write how many and their recipe, 20:G9",
            shown(text)
        ))
    })?;
    if !(1..=MOST).contains(&pieces) {
        return Err(Trouble::Input(format!(
            "rush {pieces}: allowed are 1 to {MOST} pieces"
        )));
    }
    let mut newest: BTreeMap<String, u32> = BTreeMap::new();
    for row in shop.ledger.recipes()? {
        let revision = row.revision.parse().unwrap_or(0);
        let kept = newest.entry(row.code).or_insert(revision);
        *kept = revision.max(*kept);
    }
    let revision = newest.get(code).ok_or_else(|| {
        let known: Vec<String> = newest.keys().map(|c| shown(c)).collect();
        Trouble::Input(format!(
            "recipe \"{}\" is not adopted; write one of {}",
            shown(code),
            known.join(", ")
        ))
    })?;
    Ok(Rush {
        pieces,
        recipe: shop.ledger.recipe(code, *revision)?,
    })
}

fn set_crew(desk: &mut Desk<'_>, mut shop: Shop, crew: &Crew) -> Answer {
    let who = desk.who(None)?;
    let stamp = shop.stamp();
    let saved = shop.ledger.set_crew(crew, &who, &stamp)?;
    let what = if crew.ended {
        format!("crew {} is taken away", shown(&crew.name))
    } else {
        format!(
            "crew {}: {}",
            shown(&crew.name),
            report::people(crew.people)
        )
    };
    desk.saved(&saved, &what, json!({"crew": crew.name}))
}

/// Stations: where something is done, by how many, and how long it takes; without a word, those that are entered.
#[derive(Debug, clap::Args)]
pub(super) struct Station {
    #[command(subcommand)]
    deed: Option<StationDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum StationDeed {
    /// Enter a station, or change it.
    Set {
        /// Its name; a booth's own, where it is one.
        name: String,
        /// A step that is done there: seal, clear, level-sand, final-sand, buff, ...; repeat for each.
        #[arg(long = "for", value_name = "STEP", required = true)]
        steps: Vec<String>,
        /// How many work there at once.
        #[arg(long, value_name = "N", default_value_t = 1)]
        people: u32,
        /// The crew that these are of, where they also work elsewhere; enter it first.
        #[arg(long, value_name = "NAME")]
        crew: Option<String>,
        /// How long it takes for one, such as 9min.
        #[arg(long, value_name = "TIME")]
        takes: String,
        /// Whether that is for a piece or for a rack.
        #[arg(long, value_parser = one_of(["piece", "rack"]))]
        per: String,
        /// Where the figures come from.
        #[arg(long)]
        source: String,
    },
    /// Enter a crew, or change it: people who work at several stations, at one of them at a time.
    Crew {
        /// Its name.
        name: String,
        /// How many they are.
        #[arg(long, value_name = "N")]
        people: u32,
        /// Where the figure comes from.
        #[arg(long)]
        source: String,
    },
    /// Take a station or a crew away; no record depends on it.
    End {
        /// Which.
        name: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
}

impl Station {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let place = match self.deed {
            None => {
                let rows = shop.ledger.stations(shop.now)?;
                let crews = shop.ledger.crews(shop.now)?;
                let mut lines: Vec<String> = rows
                    .iter()
                    .map(|r| report::station_line(r, &shop.calendar))
                    .chain(crews.iter().map(|r| report::crew_line(r, &shop.calendar)))
                    .collect();
                if lines.is_empty() {
                    lines.push(
                        "no station is entered; \"hangtime station set\" enters one".to_owned(),
                    );
                }
                let value: Vec<Value> = rows
                    .iter()
                    .map(|r| report::station_json(r, &shop.calendar))
                    .chain(crews.iter().map(|r| report::crew_json(r, &shop.calendar)))
                    .collect();
                desk.print(&value.into(), &lines)?;
                return Ok(0);
            }
            Some(StationDeed::Set {
                name,
                steps,
                people,
                crew,
                takes,
                per,
                source,
            }) => {
                let kinds = steps.iter().map(|s| {
                    StepKind::typed(s).ok_or_else(|| {
                        Trouble::Input(format!(
                            "step \"{}\" is not known; write one of {}",
                            shown(s),
                            StepKind::choices()
                        ))
                    })
                });
                Place {
                    name,
                    kinds: kinds.collect::<Result<_, _>>()?,
                    people,
                    crew,
                    took: Span(interval(&takes).map_err(Trouble::Input)?),
                    per: Per::typed(&per).unwrap_or(Per::Piece),
                    source,
                    ended: false,
                }
            }
            Some(StationDeed::Crew {
                name,
                people,
                source,
            }) => {
                let crew = Crew {
                    name,
                    people,
                    source,
                    ended: false,
                };
                return set_crew(desk, shop, &crew);
            }
            Some(StationDeed::End { name, why })
                if shop
                    .ledger
                    .crews(shop.now)?
                    .iter()
                    .any(|r| r.crew.name == name) =>
            {
                let crew = Crew {
                    name,
                    people: 0,
                    source: why,
                    ended: true,
                };
                return set_crew(desk, shop, &crew);
            }
            Some(StationDeed::End { name, why }) => Place {
                name,
                kinds: Vec::new(),
                people: 0,
                crew: None,
                took: Span(0),
                per: Per::Piece,
                source: why,
                ended: true,
            },
        };
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        let saved = shop.ledger.set_station(&place, &who, &stamp)?;
        let what = if place.ended {
            format!("station {} is taken away", shown(&place.name))
        } else {
            format!("station {}: {}", shown(&place.name), report::pace(&place))
        };
        desk.saved(&saved, &what, json!({"station": place.name}))
    }
}
