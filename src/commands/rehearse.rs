//! What lies ahead: the calendar that a supervisor would expect of a recipe, and the pairs that cannot meet in time.

use super::{Answer, Desk, Shop, Trouble, read_text, read_time};
use crate::clock::Clock;
use crate::reports::at_risk;
use crate::reports::cautions::{ask, whole};
use crate::reports::day_list::{self, DayList, Facts};
use crate::reports::rehearsal::{Head, answer, lines, totals_line};
use crate::shop::calendar::Calendar;
use crate::shop::cautions::{STANDING_LINE, When, for_material};
use crate::shop::hours::Hours as Working;
use crate::shop::recipe::Recipe;
use crate::shop::recipe_file;
use crate::shop::rehearse::{Stage, Steady, Stopped, new_piece, rehearse, rehearse_rework};
use crate::shop::shift::Shift;
use crate::units::Moment;
use serde_json::json;
use std::path::Path;
use std::sync::Arc;

/// Working hours as they are given to a forecast.
#[derive(Debug, clap::Args)]
pub(super) struct Hours {
    /// Working hours; those entered by "plan hours" if left out, else 07:00-15:30 (common practice, no source).
    #[arg(long, value_name = "FROM-TO")]
    hours: Option<String>,
    /// Working days; mon-fri if left out (common practice, no source).
    #[arg(long, value_name = "DAYS")]
    days: Option<String>,
}

impl Hours {
    /// The hours, and whether somebody gave them or entered those of the shop.
    pub(super) fn shifts(&self, shop: Option<&Shop>) -> Result<(Vec<Shift>, bool), Trouble> {
        if self.hours.is_none() && self.days.is_none() {
            return match shop {
                Some(shop) => Ok(shop.ledger.shifts(shop.now)?),
                None => Ok((vec![Shift::COMMON], false)),
            };
        }
        let shift = Shift::read(
            self.hours.as_deref().unwrap_or("07:00-15:30"),
            self.days.as_deref().unwrap_or("mon-fri"),
        )
        .map_err(|e| Trouble::Input(e.to_string()))?;
        Ok((vec![shift], true))
    }
}

/// Play a recipe through by its own rules: the calendar to expect.
#[derive(Debug, clap::Args)]
pub(super) struct Rehearse {
    /// A recipe file, or the code of an adopted recipe.
    recipe: String,
    /// The adopted revision; the newest if left out.
    #[arg(long, value_name = "N")]
    rev: Option<u32>,
    /// When it is begun; now if left out.
    #[arg(long, value_name = "TIME")]
    start: Option<String>,
    #[command(flatten)]
    hours: Hours,
    /// Only this rework route, on a piece that was made to the recipe up to the inspection.
    #[arg(long, value_name = "CODE")]
    rework: Option<String>,
}

impl Rehearse {
    pub(super) fn run(&self, desk: &mut Desk<'_>) -> Answer {
        let file = Path::new(&self.recipe);
        let (recipe, calendar, now) = if file.is_file() {
            if self.rev.is_some() {
                return Err(Trouble::Input(
                    "--rev is for an adopted recipe; a file holds one revision: leave it out"
                        .to_owned(),
                ));
            }
            let recipe = recipe_file::read(&self.recipe, &read_text(file)?)
                .map_err(|f| super::adopt::faults(&f))?;
            let (calendar, now) = if desk.path()?.exists() {
                let shop = desk.shop()?;
                (shop.calendar, shop.now)
            } else {
                (Calendar::BARE, Clock::system().now())
            };
            (Arc::new(recipe), calendar, now)
        } else {
            let shop = desk.shop()?;
            let revision = self.revision(&shop.ledger.recipes()?)?;
            let recipe = shop.ledger.recipe(&self.recipe, revision)?;
            (recipe, shop.calendar, shop.now)
        };
        let start = match &self.start {
            Some(text) => read_time(&calendar, text, now)?,
            None => now,
        };
        let shop = if desk.path()?.exists() {
            Some(desk.shop()?)
        } else {
            None
        };
        let (shifts, given) = self.hours.shifts(shop.as_ref())?;
        let working = match &shop {
            Some(shop) => shop.ledger.hours(&shifts, now)?,
            None => Working::of(&calendar, &shifts),
        };
        let stage = Stage {
            recipe: &recipe,
            calendar: &calendar,
            air: &Steady::FULL,
            hours: &working,
            solvent: &[],
        };
        let life = match &self.rework {
            Some(code) => rehearse_rework(code, start, &stage),
            None => rehearse(&new_piece(&recipe, start, &calendar), start, &stage),
        }
        .map_err(|e| told(&e))?;
        let hours = working.words(start);
        let head = Head {
            recipe: &recipe,
            rework: self.rework.as_deref(),
            start,
            hours: &hours,
            given,
        };
        let mut value = answer(&life, &head, &calendar);
        let mut lines = lines(&life, &head, &calendar, desk.system());
        if self.rework.is_none() {
            let (each, words) = reworks(&recipe, start, &stage)?;
            if let Some(map) = value.as_object_mut() {
                map.insert("reworks".to_owned(), each.into());
            }
            lines.extend(words);
        }
        if calendar == Calendar::BARE {
            lines
                .push("no ledger yet: times in UTC, the production day starts at 06:00".to_owned());
        }
        desk.print(&value, &lines)?;
        Ok(0)
    }

    fn revision(&self, adopted: &[crate::ledger::SheetRow]) -> Result<u32, Trouble> {
        let known: Vec<u32> = adopted
            .iter()
            .filter(|r| r.code == self.recipe)
            .filter_map(|r| r.revision.parse().ok())
            .collect();
        match (self.rev, known.iter().max()) {
            (Some(rev), Some(_)) => Ok(rev),
            (None, Some(newest)) => Ok(*newest),
            (_, None) => Err(Trouble::Input(format!(
                "recipe \"{}\" is neither a file nor adopted; write a file's name, or a code of \"hangtime recipe list\"",
                self.recipe
            ))),
        }
    }
}

fn told(e: &Stopped) -> Trouble {
    Trouble::Input(format!("the recipe cannot be played to its end: {e}"))
}

// What each rework route comes to, begun at the same time.
fn reworks(
    recipe: &Arc<Recipe>,
    start: Moment,
    stage: &Stage<'_>,
) -> Result<(Vec<serde_json::Value>, Vec<String>), Trouble> {
    let (mut values, mut lines) = (Vec::new(), Vec::new());
    for rework in &recipe.reworks {
        let life = rehearse_rework(&rework.code, start, stage).map_err(|e| told(&e))?;
        let calendar = stage.calendar;
        values.push(json!({
            "rework": rework.code,
            "working_days": life.working_days(calendar),
            "calendar_days": life.calendar_days(calendar),
            "coats": life.coats(),
            "end": life.end().map(|e| calendar.rfc3339(e)),
        }));
        let end = life
            .end()
            .map_or_else(|| "-".to_owned(), |e| calendar.stamp(e));
        lines.push(format!(
            "rework {} begun then: {}, ends {end}",
            rework.code,
            totals_line(&life, calendar)
        ));
    }
    Ok((values, lines))
}

/// Pairs that are forecast to miss their due date, and which half holds the other back.
#[derive(Debug, clap::Args)]
pub(super) struct AtRisk {
    #[command(flatten)]
    hours: Hours,
}

impl AtRisk {
    pub(super) fn run(&self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let (shifts, given) = self.hours.shifts(Some(&shop))?;
        let working = shop.ledger.hours(&shifts, shop.now)?;
        let found = shop.ledger.at_risk(shop.now, &working)?;
        let hours = working.words(shop.now);
        let by = (hours.as_str(), given);
        let value = at_risk::answer(&found, shop.now, by, &shop.calendar);
        let lines = at_risk::lines(&found, shop.now, by, &shop.calendar);
        desk.print(&value, &lines)?;
        Ok(0)
    }
}

/// The day's list: what can be done by when, and what stands in the way.
#[derive(Debug, clap::Args)]
pub(super) struct DayShift {
    #[command(flatten)]
    hours: Hours,
}

impl DayShift {
    pub(super) fn run(&self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let (shifts, given) = self.hours.shifts(Some(&shop))?;
        let mut floor = shop.ledger.floor(shop.now, None)?;
        desk.hold_back(&mut floor);
        let working = shop.ledger.hours(&shifts, shop.now)?;
        let facts = Facts {
            floor: &floor,
            risk: &shop.ledger.at_risk(shop.now, &working)?,
            deviations: &shop.ledger.deviations(false)?,
            rooms: &shop.ledger.rooms()?,
            hooks: &shop.ledger.room_hooks(shop.now)?,
            hours: (&working, given),
        };
        let list = DayList::of(&facts, shop.now, &shop.calendar);
        let mut value = desk.with_clock(day_list::answer(&list, &shop.calendar));
        let mut lines = day_list::lines(&list, &shop.calendar);
        // Rags, filters and waste of what was mixed and sprayed today: whoever leaves last is told.
        let hazards = shop.ledger.hazards_of_the_day(shop.now)?;
        if !hazards.is_empty() {
            let leave = for_material(&hazards, When::EndOfShift);
            let contacts = shop.ledger.contacts(shop.now)?;
            lines.push(String::new());
            lines.push("when the last one leaves".to_owned());
            lines.extend(leave.iter().flat_map(|c| whole(c, &contacts, "  ")));
            lines.push(STANDING_LINE.to_owned());
            if let Some(map) = value.as_object_mut() {
                let said = leave.iter().map(|c| {
                    json!({
                        "id": c.id, "text": c.text, "source": c.source, "ask": ask(c, &contacts),
                    })
                });
                map.insert("end_of_shift".to_owned(), said.collect());
            }
        }
        desk.print(&value, &lines)?;
        Ok(0)
    }
}
