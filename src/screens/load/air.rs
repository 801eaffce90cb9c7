//! What the place asks of the ledger: see [`air`](crate::screens::places::air).

use crate::ledger::{ALL_BOOTHS, FACE_VELOCITY, Ledger, LedgerError};
use crate::reports::{air, vapours, workings};
use crate::science::measure::Quantity;
use crate::science::psychrometrics::dew_point;
use crate::screens::places::air::{Data, Exhaust, Newest, Reading, RoomAir, RoomVapour, Spot};
use crate::shop::climate::Sample;
use crate::shop::record::{ShopFact, What};
use crate::units::{Amount, Moment, Span, Temperature};
use std::collections::BTreeSet;
use uom::si::f64::{Ratio, ThermodynamicTemperature};

/// Over how long readings are shown.
const SHOWN: Span = Span::hours(72);

fn reading(sample: Sample) -> Reading {
    let dew = sample.humidity.and_then(|h| {
        let air = ThermodynamicTemperature::of_base(sample.temperature.base());
        let found = dew_point(air, Ratio::of_base(h.base())).ok()?;
        Temperature::of_base(found.to_base())
    });
    Reading {
        at: sample.at,
        temperature: sample.temperature,
        humidity: sample.humidity,
        dew,
    }
}

/// What it shows as of a moment.
pub(super) fn data(ledger: &Ledger, at: Moment) -> Result<Data, LedgerError> {
    let from = at.minus(SHOWN);
    let climate = ledger.climate(from, at)?;
    let surveys = ledger.surveys()?;
    let limits = ledger.ceilings()?;
    let stopped = ledger.exhaust_unknown(at)?;
    let calendar = ledger.calendar();
    let mut spots = Vec::new();
    for name in ledger.rooms()? {
        let room = climate.rooms.get(&name);
        let newest = ledger.newest_reading(&name, at)?.map(|(sample, entry)| {
            let source = match &entry.what {
                What::Shop(ShopFact::Climate { file, .. }) => file.clone(),
                _ => format!("entry of {}", entry.person),
            };
            Newest {
                reading: reading(sample),
                source,
                entry: entry.seq.0,
            }
        });
        spots.push(Spot::Room(Box::new(RoomAir {
            declared: room.is_some(),
            every: room.and_then(|r| r.interval),
            readings: room.map_or_else(Vec::new, |r| {
                r.samples.iter().copied().map(reading).collect()
            }),
            newest,
            working: workings::show(ledger, "air", &name, at).map_err(|e| e.to_string()),
            name,
        })));
    }
    let mut booths: BTreeSet<String> = surveys.iter().map(|s| s.booth.clone()).collect();
    booths.extend(stopped.iter().map(|s| s.booth.clone()));
    let of_one = limits
        .iter()
        .filter(|l| l.what == FACE_VELOCITY && l.scope != ALL_BOOTHS);
    booths.extend(of_one.map(|l| l.scope.clone()));
    // Where something was sprayed, its vapour goes out by the exhaust, surveyed or not.
    let places = vapours::places(ledger, None, at)?;
    let sprayed = places.iter().filter(|p| p.exhaust.is_some());
    booths.extend(sprayed.map(|p| p.place.clone()));
    for name in booths {
        let found = places.iter().find(|p| p.place == name);
        let vapour = match found.and_then(|p| p.exhaust.clone()) {
            Some(working) => Ok(working),
            None => workings::show(ledger, "lel", &name, at).map_err(|e| e.to_string()),
        };
        let survey = surveys.iter().find(|s| s.booth == name).cloned();
        spots.push(Spot::Exhaust(Box::new(Exhaust {
            survey: survey.map(|s| {
                let held = air::held(&s, &limits, &calendar);
                (s, held)
            }),
            limit: air::limit_of(&name, &limits).cloned(),
            stopped: stopped.iter().find(|s| s.booth == name).cloned(),
            survey_working: workings::show(ledger, "booth", &name, at).map_err(|e| e.to_string()),
            vapour,
            name,
        })));
    }
    for place in places {
        if let Some(working) = place.air {
            spots.push(Spot::Vapour(Box::new(RoomVapour {
                name: place.place,
                working,
                exposure: place.exposure,
            })));
        }
    }
    Ok(Data { at, from, spots })
}
