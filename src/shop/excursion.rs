//! When a room's air was not as it should be for the pieces that hang there: too cold, warm, dry or damp, changing fast, or
//! not read at all.
//!
//! *Invariants*: a bound that nobody stated gives no excursion, and that is told apart from air that kept within one; a stretch
//! without readings is silence, never air that was well.
//!
//! *Not here*: what an excursion does to the pieces (the ledger), where bounds are entered.

use super::climate::{RoomAir, Sample, holds_for};
use super::recipe::{BoothLimits, CreditLaw, CreditPolicy};
use super::words::{Word, words};
use crate::science::measure::Quantity;
use crate::science::psychrometrics::dew_point;
use crate::units::{Amount, Humidity, Moment, Span, Temperature, num};
use uom::si::f64::{Ratio, ThermodynamicTemperature};

words!(
    /// How air was not as it should be.
    Outside {
        /// Colder than the bound.
        Cold = "too cold",
        /// Warmer than the bound.
        Warm = "too warm",
        /// Drier than the bound.
        Dry = "too dry",
        /// Damper than the bound.
        Damp = "too damp",
        /// Its temperature changed by more than the bound within an hour.
        Change = "fast change",
        /// Nearer to its dew point than the bound.
        Dew = "near dew point",
        /// Nothing was read for longer than a reading stands.
        Silent = "silent",
    }
);

impl Outside {
    /// Whether what is below the bound is outside it.
    pub const fn low(self) -> bool {
        matches!(self, Self::Cold | Self::Dry | Self::Dew)
    }
}

/// A bound, with where it comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bound {
    /// Thousandths of a degree (of the air, above its dew point, or within an hour), or hundredths of a percent.
    pub value: i64,
    /// Where it comes from.
    pub from: String,
}

/// The bounds of a room's air.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Bounds {
    /// Below this it is too cold.
    pub cold: Option<Bound>,
    /// Above this it is too warm.
    pub warm: Option<Bound>,
    /// Below this it is too dry.
    pub dry: Option<Bound>,
    /// Above this it is too damp.
    pub damp: Option<Bound>,
    /// More than this within an hour is a fast change.
    pub change: Option<Bound>,
    /// Less than this above its dew point it is too near.
    pub dew: Option<Bound>,
}

impl Bounds {
    /// The bound of one kind.
    pub const fn of(&self, kind: Outside) -> Option<&Bound> {
        match kind {
            Outside::Cold => self.cold.as_ref(),
            Outside::Warm => self.warm.as_ref(),
            Outside::Dry => self.dry.as_ref(),
            Outside::Damp => self.damp.as_ref(),
            Outside::Change => self.change.as_ref(),
            Outside::Dew => self.dew.as_ref(),
            Outside::Silent => None,
        }
    }

    /// Takes over a bound where none stands or the new one is stricter.
    pub fn stricter(&mut self, kind: Outside, value: i64, from: &str) {
        let (place, higher) = match kind {
            Outside::Cold => (&mut self.cold, true),
            Outside::Dry => (&mut self.dry, true),
            Outside::Warm => (&mut self.warm, false),
            Outside::Damp => (&mut self.damp, false),
            Outside::Change => (&mut self.change, false),
            Outside::Dew => (&mut self.dew, true),
            Outside::Silent => return,
        };
        let stricter = place.as_ref().is_none_or(|b| {
            if higher {
                value > b.value
            } else {
                value < b.value
            }
        });
        if stricter {
            *place = Some(Bound {
                value,
                from: from.to_owned(),
            });
        }
    }

    /// What a recipe states of the air of a booth.
    pub fn by_booth(&mut self, limits: &BoothLimits, from: &str) {
        let stated = [
            (Outside::Cold, limits.temperature_low.map(|t| t.0)),
            (Outside::Warm, limits.temperature_high.map(|t| t.0)),
            (Outside::Damp, limits.humidity_high.map(|h| h.0)),
            (Outside::Dew, limits.spread_low_mk),
        ];
        for (kind, value) in stated {
            if let Some(value) = value {
                self.stricter(kind, value, from);
            }
        }
    }

    /// What a recipe's credit policy says of the air: where an hour counts less than an hour, or is to be told of.
    pub fn by_policy(&mut self, policy: &CreditPolicy, from: &str) {
        match policy.law {
            CreditLaw::Bands => {
                let full = policy.bands.iter().find(|b| b.permille >= 1_000);
                if let Some(t) = full.and_then(|b| b.from) {
                    self.stricter(Outside::Cold, t.0, from);
                }
                let mut after = policy.bands.iter().skip_while(|b| b.permille < 1_000);
                if let Some(t) = after
                    .find(|b| b.permille < 1_000 || b.alert)
                    .and_then(|b| b.from)
                {
                    self.stricter(Outside::Warm, t.0, from);
                }
            }
            CreditLaw::Arrhenius {
                floor,
                humidity_high,
                ..
            } => {
                if let Some(t) = floor {
                    self.stricter(Outside::Cold, t.0, from);
                }
                if let Some(h) = humidity_high {
                    self.stricter(Outside::Damp, h.0, from);
                }
            }
            CreditLaw::Evaporation {
                floor,
                humidity_high,
                ..
            } => {
                self.stricter(Outside::Cold, floor.0, from);
                if let Some(h) = humidity_high {
                    self.stricter(Outside::Damp, h.0, from);
                }
            }
        }
    }
}

/// A stretch in which the air was not as it should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Excursion {
    /// How.
    pub kind: Outside,
    /// Since when.
    pub from: Moment,
    /// Until when; `None` while it lasts.
    pub to: Option<Moment>,
    /// The worst of it, in the unit of the bound; 0 where nothing was read.
    pub worst: i64,
}

/// The excursions of a room as of `at`, in the order in which they began.
pub fn excursions(air: &RoomAir, bounds: &Bounds, at: Moment) -> Vec<Excursion> {
    let Some(interval) = air.interval else {
        return Vec::new();
    };
    let hold = holds_for(interval);
    let mut out = Vec::new();
    for kind in Outside::ALL {
        if let Some(bound) = bounds.of(*kind) {
            let figures = figures(*kind, &air.samples);
            out.extend(beyond(*kind, bound.value, &figures, hold, at));
        }
    }
    let ends = air.samples.iter().skip(1).map(|s| Some(s.at)).chain([None]);
    for (sample, next) in air.samples.iter().zip(ends) {
        if next.unwrap_or(at).since(sample.at) > hold {
            out.push(Excursion {
                kind: Outside::Silent,
                from: sample.at,
                to: next,
                worst: 0,
            });
        }
    }
    out.sort_by_key(|e| (e.from, e.kind));
    out
}

// What is held against the bound, reading by reading.
fn figures(kind: Outside, samples: &[Sample]) -> Vec<(Moment, i64)> {
    let humid = |s: &Sample| s.humidity.map(|h: Humidity| (s.at, h.0));
    match kind {
        Outside::Dry | Outside::Damp => samples.iter().filter_map(humid).collect(),
        Outside::Change => {
            let mut first = 0;
            let mut out = Vec::new();
            for s in samples {
                let hour_ago = s.at.minus(Span::hours(1));
                while samples.get(first).is_some_and(|f| f.at < hour_ago) {
                    first += 1;
                }
                let hour = samples.iter().skip(first).take_while(|f| f.at <= s.at);
                let by = hour.map(|f| apart(s.temperature, f.temperature)).max();
                out.push((s.at, by.unwrap_or(0)));
            }
            out
        }
        Outside::Dew => samples
            .iter()
            .filter_map(|s| Some((s.at, above_dew(s)?)))
            .collect(),
        _ => samples.iter().map(|s| (s.at, s.temperature.0)).collect(),
    }
}

// How far the air is above its dew point, in whole thousandths of a degree downwards: what falls short of a bound by less
// than one still falls short. `None` where that is not known.
fn above_dew(sample: &Sample) -> Option<i64> {
    let air = ThermodynamicTemperature::of_base(sample.temperature.base());
    let humidity = Ratio::of_base(sample.humidity?.base());
    let dew = dew_point(air, humidity).ok()?;
    num::whole(((air.to_base() - dew.to_base()) * 1e3).floor())
}

const fn apart(a: Temperature, b: Temperature) -> i64 {
    (a.0 - b.0).abs()
}

fn beyond(
    kind: Outside,
    bound: i64,
    figures: &[(Moment, i64)],
    hold: Span,
    at: Moment,
) -> Vec<Excursion> {
    let low = kind.low();
    let outside = |v: i64| if low { v < bound } else { v > bound };
    let worse = |a: i64, b: i64| if low { a.min(b) } else { a.max(b) };
    let mut out: Vec<Excursion> = Vec::new();
    let mut open: Option<Excursion> = None;
    let mut before: Option<Moment> = None;
    for (when, value) in figures {
        // Beyond what a reading stands for nothing is known of the air.
        if let (Some(mut e), Some(b)) = (open, before)
            && when.since(b) > hold
        {
            e.to = Some(b.plus(hold));
            out.push(e);
            open = None;
        }
        before = Some(*when);
        open = match (open, outside(*value)) {
            (None, false) => None,
            (None, true) => Some(Excursion {
                kind,
                from: *when,
                to: None,
                worst: *value,
            }),
            (Some(e), true) => Some(Excursion {
                worst: worse(e.worst, *value),
                ..e
            }),
            (Some(e), false) => {
                out.push(Excursion {
                    to: Some(*when),
                    ..e
                });
                None
            }
        };
    }
    if let (Some(e), Some(b)) = (open, before) {
        let known_until = b.plus(hold);
        out.push(Excursion {
            to: (known_until < at).then_some(known_until),
            ..e
        });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn air(list: &[(i64, i64, Option<i64>)]) -> RoomAir {
        RoomAir {
            interval: Some(Span::minutes(15)),
            forecast_permille: 1_000,
            samples: list
                .iter()
                .map(|(minute, t, h)| Sample {
                    at: Moment(minute * 60_000),
                    temperature: Temperature(*t),
                    humidity: h.map(Humidity),
                })
                .collect(),
        }
    }

    fn found(list: &[(i64, i64, Option<i64>)], bounds: &[(Outside, i64)], at: i64) -> Vec<String> {
        let mut all = Bounds::default();
        for (kind, value) in bounds {
            all.stricter(*kind, *value, "entered");
        }
        let minute = |m: Moment| m.0 / 60_000;
        excursions(&air(list), &all, Moment(at * 60_000))
            .iter()
            .map(|e| {
                let to =
                    e.to.map_or_else(|| "..".to_owned(), |m| minute(m).to_string());
                format!("{} {}-{to} {}", e.kind.word(), minute(e.from), e.worst)
            })
            .collect()
    }

    #[test]
    fn each_kind_is_found_from_its_first_reading_to_the_first_that_is_well_again() {
        let list = [
            (0, 21_000, Some(4_500)),
            (15, 19_900, Some(3_400)),
            (30, 16_000, None),
            (45, 20_000, Some(3_500)),
            (60, 32_100, Some(6_600)),
            (75, 32_000, Some(6_500)),
        ];
        let bounds = [
            (Outside::Cold, 20_000),
            (Outside::Warm, 32_000),
            (Outside::Dry, 3_500),
            (Outside::Damp, 6_500),
            (Outside::Change, 5_000),
        ];
        assert_eq!(
            found(&list, &bounds, 80),
            [
                "too cold 15-45 16000",
                "too dry 15-45 3400",
                "too warm 60-75 32100",
                "too damp 60-75 6600",
                "fast change 60-.. 16100",
            ]
        );
        // A bound that nobody stated gives none.
        assert!(found(&list, &[], 80).is_empty());
    }

    #[test]
    fn the_air_of_a_booth_is_held_against_what_its_recipe_states_and_its_dew_point() {
        // 27.0 C and 70 % have their dew point at 21.1 C, 21.0 C and 50 % at 10.2 C (spreads 5.9 and 10.8 K).
        let list = [
            (0, 21_000, Some(5_000)),
            (15, 27_000, Some(7_000)),
            (30, 27_000, None),
            (45, 21_000, Some(5_000)),
        ];
        let mut all = Bounds::default();
        all.by_booth(
            &BoothLimits {
                humidity_high: Some(Humidity(6_500)),
                spread_low_mk: Some(8_000),
                temperature_low: Some(Temperature(15_000)),
                temperature_high: None,
                film_forming: None,
            },
            "recipe",
        );
        assert!(all.warm.is_none() && all.cold.is_some());
        let found = excursions(&air(&list), &all, Moment(50 * 60_000));
        let told: Vec<(Outside, i64, Option<i64>)> = found
            .iter()
            .map(|e| (e.kind, e.from.0 / 60_000, e.to.map(|m| m.0 / 60_000)))
            .collect();
        // A reading without humidity tells nothing of either, and ends neither.
        assert_eq!(
            told,
            [(Outside::Damp, 15, Some(45)), (Outside::Dew, 15, Some(45))]
        );
        assert_eq!(found[1].worst / 100, 59, "{}", found[1].worst);
        // What falls short by less than a thousandth of a degree falls short; what lies at the bound does not.
        for (bound, outside) in [(found[1].worst, 0), (found[1].worst + 1, 1)] {
            let mut only = Bounds::default();
            only.stricter(Outside::Dew, bound, "entered");
            let n = excursions(&air(&list), &only, Moment(50 * 60_000)).len();
            assert_eq!(n, outside);
        }
    }

    #[test]
    fn silence_is_told_and_the_cold_before_it_is_known_no_longer_than_a_reading_stands() {
        let list = [(0, 15_000, None), (15, 15_000, None), (300, 21_000, None)];
        assert_eq!(
            found(&list, &[(Outside::Cold, 20_000)], 400),
            ["too cold 0-45 15000", "silent 15-300 0", "silent 300-.. 0"]
        );
    }

    #[test]
    fn the_stricter_of_two_bounds_holds() {
        let mut b = Bounds::default();
        for (kind, value) in [
            (Outside::Cold, 18_000),
            (Outside::Cold, 20_000),
            (Outside::Warm, 32_000),
            (Outside::Warm, 30_000),
            (Outside::Warm, 31_000),
        ] {
            b.stricter(kind, value, &value.to_string());
        }
        assert_eq!(
            (b.cold.unwrap().value, b.warm.unwrap().from),
            (20_000, "30000".to_owned())
        );
    }
}
