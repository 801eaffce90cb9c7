//! When the limits of the solvent book would be reached at the present rate, in words.
//!
//! *Invariants*: what is too little known for a rate has no forecast and says why; months before the record can only bring a
//! limit nearer, and that is said; a forecast is no judgement.
//!
//! *Not here*: the reckoning (`shop::forecast`), the figures (`book`).

use super::book::{Figure, Of, mass as kg};
use super::counting;
use crate::ledger::{CeilingRow, Ledger, LedgerError, Months, UseBy};
use crate::shop::calendar::Day;
use crate::shop::forecast::{DAYS, Forecast, Rate, forecast};
use crate::shop::rule_set::RuleSet;
use crate::shop::text::shown;
use crate::units::{Mass, Moment, System};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// A limit with its forecast.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ahead {
    /// What the limit counts.
    pub of: Of,
    /// Whether it is one of twelve months.
    pub rolling: bool,
    /// The limit.
    pub limit: CeilingRow,
    /// The rate and what follows from it, or why there is none.
    pub known: Result<(Rate, Forecast), String>,
    /// Whether a part of the months is not known, so that the day is the latest.
    pub at_latest: bool,
}

/// The forecasts of the figures with a limit, as of `at`, which lies in the month of the figures. `rules` gives the set
/// that a limit is counted by.
pub fn ahead(
    ledger: &Ledger,
    (month, at): (&str, Moment),
    figures: &[(bool, &Figure)],
    unknown: (bool, bool),
    rules: &dyn Fn(Option<&str>) -> Option<RuleSet>,
) -> Result<Vec<Ahead>, LedgerError> {
    let calendar = ledger.calendar();
    let today = calendar.day(at);
    if today.month() != month {
        return Ok(Vec::new());
    }
    let mut out = Vec::new();
    for (rolling, figure) in figures {
        let Some(limit) = &figure.limit else { continue };
        let set = rules(limit.rules.as_deref());
        let known = match rate(ledger, &figure.of, set.as_ref(), today)? {
            Err(why) => Err(why),
            Ok(rate) => {
                let months = if *rolling {
                    Months::twelve(month)?
                } else {
                    Months::one(month)?
                };
                let mut by_month: BTreeMap<Day, Mass> = BTreeMap::new();
                for m in months.list() {
                    let one = Months::one(m)?;
                    let sums = counting::sums(ledger, &one, set.as_ref())?;
                    let first = Day(i32::try_from(one.days()[0]).unwrap_or(0));
                    by_month.insert(first, figure.of.total(&sums));
                }
                let span = if *rolling { 12 } else { 1 };
                let found = forecast(&by_month, span, today, Mass(limit.value), &rate);
                Ok((rate, found))
            }
        };
        out.push(Ahead {
            of: figure.of.clone(),
            rolling: *rolling,
            limit: limit.clone(),
            known,
            at_latest: if *rolling { unknown.1 } else { unknown.0 },
        });
    }
    Ok(out)
}

// What was used of a figure in the last whole production days, or why that is not known.
fn rate(
    ledger: &Ledger,
    of: &Of,
    rules: Option<&RuleSet>,
    today: Day,
) -> Result<Result<Rate, String>, LedgerError> {
    let calendar = ledger.calendar();
    let (first, last) = (Day(today.0 - DAYS), Day(today.0 - 1));
    // The day on which the record began is no whole one.
    let whole_from = calendar.day(ledger.began()?).next();
    if whole_from > first {
        let there = (last.0 - whole_from.0 + 1).max(0);
        return Ok(Err(format!(
            "the record holds {there} whole production days, {DAYS} are needed"
        )));
    }
    let days = [i64::from(first.0), i64::from(today.0)];
    let unknown = ledger.uncounted_on(days)?;
    if unknown > 0 {
        return Ok(Err(format!(
            "coats without a known amount in the last {DAYS} production days: {unknown}"
        )));
    }
    let (mut mass, mut coat_mass) = (0, 0);
    for (material, group) in counting::of_uses(ledger, days, UseBy::Coat)? {
        let used = of.of(&counting::masses_of(&material, &group, rules)).0;
        mass += used;
        if group.key == "coat" {
            coat_mass += used;
        }
    }
    Ok(Ok(Rate {
        first,
        last,
        mass: Mass(mass),
        coats: ledger.coats_on(days)?,
        coat_mass: Mass(coat_mass),
    }))
}

impl Ahead {
    /// As JSON.
    pub fn json(&self) -> Value {
        let known = self.known.as_ref().ok();
        json!({
            "of": self.of.key(), "period": super::book::period(self.rolling), "limit_mg": self.limit.value,
            "unknown": self.known.as_ref().err(),
            "rate": known.map(|(r, _)| json!({
                "days": r.days(), "first": r.first.date().to_string(), "last": r.last.date().to_string(),
                "mass_mg": r.mass.0, "coats": r.coats, "coats_mass_mg": r.coat_mass.0,
            })),
            "left_mg": known.map(|(_, f)| f.left.0),
            "reached_on": known.and_then(|(_, f)| f.on).map(|d| d.date().to_string()),
            "looked_at_until": known.map(|(_, f)| f.until.date().to_string()),
            "coats_left": known.and_then(|(r, f)| r.coats_in(f.left)),
            "at_the_latest": self.at_latest,
        })
    }

    /// In few words, for one line of a screen.
    pub fn short(&self, system: System) -> String {
        let head = format!(
            "{}, {}",
            self.of.name(),
            if self.rolling { "12 months" } else { "month" }
        );
        let Ok((rate, found)) = &self.known else {
            return format!("{head}: no forecast yet, too little is known; month --book says why");
        };
        let date = |d: Day| d.date().format("%-d %b %Y").to_string();
        let latest = if self.at_latest {
            ", at the latest"
        } else {
            ""
        };
        let reach = match found.on {
            Some(_) if found.left.0 <= 0 => "reached by the log".to_owned(),
            Some(day) => format!("about {}{latest}", date(day)),
            None if self.at_latest => format!("not by {}, by what is known", date(found.until)),
            None => format!("not by {}", date(found.until)),
        };
        let coats = match rate.coats_in(found.left) {
            Some(coats) if found.left.0 > 0 && self.at_latest => {
                format!(", at most {coats} coats left")
            }
            Some(coats) if found.left.0 > 0 => format!(", {coats} coats left"),
            _ => String::new(),
        };
        format!(
            "{head}: {}/day ({} days), {} {reach}{coats}",
            kg(Mass(rate.mass.0 / rate.days()), system),
            rate.days(),
            shown(&self.limit.typed)
        )
    }

    /// In one line.
    pub fn line(&self, system: System) -> String {
        let head = format!(
            "{} in {}, forecast",
            self.of.name(),
            if self.rolling {
                "twelve months"
            } else {
                "the month"
            }
        );
        let (rate, found) = match &self.known {
            Err(why) => return format!("{head}: unknown, {why}"),
            Ok(known) => known,
        };
        let date = |d: Day| d.date().format("%-d %b %Y").to_string();
        let daily = Mass(rate.mass.0 / rate.days());
        let typed = shown(&self.limit.typed);
        let reach = match found.on {
            Some(_) if found.left.0 <= 0 => format!("{typed} are reached by the log"),
            Some(day) if self.at_latest => {
                format!(
                    "{typed} reached {} at the latest, a part being unknown",
                    date(day)
                )
            }
            Some(day) => format!("{typed} reached about {}", date(day)),
            None if self.at_latest => format!(
                "{typed} not reached by {} by what is known, a part being unknown",
                date(found.until)
            ),
            None => format!("{typed} not reached by {}", date(found.until)),
        };
        let coats = match rate.coats_in(found.left) {
            Some(coats) if found.left.0 > 0 => {
                let most = if self.at_latest { "at most " } else { "" };
                format!(
                    "; left {most}{}, {most}{coats} coats of a piece at the logged mean",
                    kg(found.left, system)
                )
            }
            _ => String::new(),
        };
        format!(
            "{head}: {} a day (mean of the {} production days {} to {}): {reach}{coats}",
            kg(daily, system),
            rate.days(),
            date(rate.first),
            date(rate.last)
        )
    }
}
