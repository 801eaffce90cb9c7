//! The air of a booth and of a room.

use super::{Kept, Working};
use crate::ledger::{Ledger, LedgerError};
use crate::reports::{air, checks};
use crate::science::measure::{SHARE, SPEED, TEMPERATURE_CHANGE};
use crate::science::worksheet::{Bound, Held, Origin, Quantity};
use crate::shop::climate::{Sample, holds_for};
use crate::shop::recipe::Recipe;
use crate::units::{Amount, Moment, Speed, num};
use serde_json::json;
use std::collections::BTreeMap;
use std::sync::Arc;
use uom::si::f64::Velocity;

/// The newest face-velocity survey of a booth against its limit.
pub(super) fn booth(ledger: &Ledger, what: &str, _: Moment) -> Result<Working, LedgerError> {
    let limits = ledger.ceilings()?;
    let calendar = ledger.calendar();
    let mut w = Working::new("booth", what);
    let Some(survey) = ledger.surveys()?.into_iter().find(|s| s.booth == what) else {
        w.kept.push(Kept::unknown("average", "um/s"));
        w.unknown
            .push("no survey of this booth is recorded".to_owned());
        if let Some(l) = air::limit_of(what, &limits) {
            let limit = Velocity::of_base(Speed(l.value).base());
            w.held_against.push(Held::new(
                "the site's limit",
                Bound::AtLeast,
                None,
                Some(limit.to_base()),
                SPEED,
            ));
        }
        return Ok(w);
    };
    let held = air::held(&survey, &limits, &calendar);
    let complete = survey.readings.len() >= usize::try_from(survey.wanted).unwrap_or(usize::MAX);
    if complete {
        w.kept
            .push(Kept::amount("average", held.average, "um/s", 1));
        w.kept
            .push(Kept::amount("lowest reading", held.lowest, "um/s", 1));
    } else {
        w.kept.push(Kept::unknown("average", "um/s"));
        w.unknown.push(format!(
            "the grid is incomplete: {} of {} readings",
            survey.readings.len(),
            survey.wanted
        ));
    }
    w.says.push(held.words.clone());
    match air::inputs(&survey, &limits) {
        Ok(inputs) => {
            let sheet = inputs.sheet();
            match sheet.run(&inputs) {
                Ok(answer) => {
                    if complete {
                        w.agrees("average", answer.result.base, held.average);
                    }
                    w.parts.push(super::Part {
                        title: "face velocity".to_owned(),
                        inputs,
                        answer,
                    });
                }
                Err(refusal) => w.unknown.push(format!("face velocity: {refusal}")),
            }
        }
        Err(refusal) => w.unknown.push(format!("face velocity: {refusal}")),
    }
    Ok(w)
}

/// When a booth's filter gauge comes to its mark.
pub(super) fn gauge(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let mut w = Working::new("gauge", what);
    let calendar = ledger.calendar();
    let list = checks::checks(ledger, at)?;
    let check = list
        .iter()
        .find(|c| c.booth == what && c.kind == checks::Kind::Gauge);
    w.kept.push(match check.and_then(|c| c.readings.last()) {
        Some(g) => Kept::amount("newest reading", g.reading, "mPa", 2),
        None => Kept::unknown("newest reading", "mPa"),
    });
    let Some(check) = check else {
        w.unknown
            .push("no reading of this booth's filter gauge is recorded".to_owned());
        return Ok(w);
    };
    w.says.push(check.line(&calendar, at));
    match &check.every {
        Some(rise) => match checks::trend_inputs(&check.readings, rise) {
            Ok(inputs) => match inputs.sheet().run(&inputs) {
                Ok(answer) => w.parts.push(super::Part {
                    title: "a straight line through the readings since the clean one".to_owned(),
                    inputs,
                    answer,
                }),
                Err(refusal) => w.says.push(format!("no projection: {refusal}")),
            },
            Err(refusal) => w.says.push(format!("no projection: {refusal}")),
        },
        None => w.unknown.push(
            "no rise is entered, so there is no mark; \"hangtime limit enter --filter-rise\" does that".to_owned(),
        ),
    }
    Ok(w)
}

/// Dew point, spread and both blush rules of a room's newest reading.
pub(super) fn room(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let climate = ledger.climate(at, at)?;
    let calendar = ledger.calendar();
    let Some(air) = climate.rooms.get(what) else {
        return Err(LedgerError::Input(format!(
            "room \"{}\" is not declared; run \"hangtime room declare\"",
            crate::shop::text::shown(what)
        )));
    };
    let mut w = Working::new("air", what);
    let recipes = recipes(ledger, what, at)?;
    let newest = air.samples.last();
    let fresh = match (newest, air.interval) {
        (Some(s), Some(interval)) if at.since(s.at) <= holds_for(interval) => Some(*s),
        (Some(s), _) => {
            w.unknown.push(format!(
                "the newest reading is of {}, too old to stand for {}",
                calendar.stamp(s.at),
                calendar.stamp(at)
            ));
            None
        }
        (None, Some(_)) => {
            w.unknown
                .push("no reading of this room has been taken over".to_owned());
            None
        }
        (None, None) => {
            w.unknown
                .push("the room is declared as one without readings".to_owned());
            None
        }
    };
    let reading = fresh.and_then(|s| s.humidity.map(|h| (s, h)));
    if let (Some(s), None) = (fresh, reading) {
        w.unknown.push(format!(
            "the reading of {} has no humidity",
            calendar.stamp(s.at)
        ));
    }
    let Some((sample, humidity)) = reading else {
        w.kept.push(Kept::unknown("dew point", "C"));
        w.kept.push(Kept::unknown("spread", "K"));
        for recipe in recipes {
            unheld(&mut w, &recipe);
        }
        return Ok(w);
    };
    let note = |what: &str| {
        Origin::note(format!(
            "{what} of {}, reading of {}",
            w.of,
            calendar.full(sample.at)
        ))
    };
    let temperature = [(sample.temperature.base(), note("temperature"))];
    let relative = [(humidity.base(), note("humidity"))];
    let dew = w.part("dew-point", "dew point", |i| {
        i.fill_from("air", &temperature)?;
        i.fill_from("rh", &relative)
    });
    let shown = |name: &str, unit: &'static str, base: Option<f64>| match base {
        Some(base) => Kept {
            name: name.to_owned(),
            value: Some(json!((base * 1e3).round() / 1e3)),
            unit,
            text: format!("{base:.1} {unit}"),
        },
        None => Kept::unknown(name, unit),
    };
    let spread = dew.as_ref().and_then(|p| {
        let found = p.answer.also.iter().find(|f| f.name == "spread");
        found.map(|f| f.base)
    });
    w.kept
        .push(shown("dew point", "C", dew.map(|p| p.answer.result.base)));
    w.kept.push(shown("spread", "K", spread));
    say_reading(&mut w, sample);
    if recipes.is_empty() {
        w.says.push(
            "no recipe of a piece in this room, and none that is adopted, states limits of the air"
                .to_owned(),
        );
    }
    for recipe in recipes {
        let of = |what: &str| Origin::note(format!("recipe {}, {what}", recipe.label()));
        let title = format!("both blush rules, limits of recipe {}", recipe.label());
        w.part("blush", title, |i| {
            i.fill_from("air", &temperature)?;
            i.fill_from("rh", &relative)?;
            if let Some(limit) = recipe.booth.humidity_high {
                i.fill_from("rh-limit", &[(limit.base(), of("highest humidity"))])?;
            }
            if let Some(mk) = recipe.booth.spread_low_mk {
                let kelvin = num::float(mk) / 1e3;
                i.fill_from("spread-limit", &[(kelvin, of("least spread"))])?;
            }
            Ok(())
        });
    }
    Ok(w)
}

fn say_reading(w: &mut Working, sample: Sample) {
    let humidity = sample
        .humidity
        .map_or_else(|| "no humidity".to_owned(), |h| h.text(1));
    w.says
        .push(format!("{}, {humidity}", sample.temperature.text(1)));
}

// The recipes of the pieces that hang there, else the newest revision of every adopted one; only those with limits.
fn recipes(ledger: &Ledger, room: &str, at: Moment) -> Result<Vec<Arc<Recipe>>, LedgerError> {
    let here = ledger.recipes_in(room, at)?;
    let mut found: BTreeMap<String, Arc<Recipe>> =
        here.into_iter().map(|r| (r.label(), r)).collect();
    if found.is_empty() {
        for row in ledger.recipes()? {
            if let Ok(revision) = row.revision.parse() {
                // Revisions come in rising order, so the newest stays.
                found.insert(row.code.clone(), ledger.recipe(&row.code, revision)?);
            }
        }
    }
    let limited = found
        .into_values()
        .filter(|r| r.booth.humidity_high.is_some() || r.booth.spread_low_mk.is_some());
    Ok(limited.collect())
}

fn unheld(w: &mut Working, recipe: &Recipe) {
    if let Some(limit) = recipe.booth.humidity_high {
        w.held_against.push(Held::new(
            &format!("relative humidity, recipe {}", recipe.label()),
            Bound::AtMost,
            None,
            Some(limit.base()),
            SHARE,
        ));
    }
    if let Some(mk) = recipe.booth.spread_low_mk {
        w.held_against.push(Held::new(
            &format!(
                "spread between air and dew point, recipe {}",
                recipe.label()
            ),
            Bound::AtLeast,
            None,
            Some(num::float(mk) / 1e3),
            TEMPERATURE_CHANGE,
        ));
    }
}
