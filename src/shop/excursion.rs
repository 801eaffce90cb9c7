//! When a room's air was not as it should be for the pieces that hang there: too cold, warm, dry or damp, changing fast, or
//! not read at all.
//!
//! *Invariants*: a bound that nobody stated gives no excursion, and that is told apart from air that kept within one; a stretch
//! without readings is silence, never air that was well.
//!
//! *Not here*: what an excursion does to the pieces (the ledger), where bounds are entered.

use super::climate::{RoomAir, Sample, holds_for};
use super::recipe::{CreditLaw, CreditPolicy};
use super::words::{Word, words};
use crate::units::{Humidity, Moment, Span, Temperature};

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
        /// Nothing was read for longer than a reading stands.
        Silent = "silent",
    }
);

/// A bound, with where it comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bound {
    /// Thousandths of a degree, hundredths of a percent, or thousandths of a degree within an hour.
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
        _ => samples.iter().map(|s| (s.at, s.temperature.0)).collect(),
    }
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
    let low = matches!(kind, Outside::Cold | Outside::Dry);
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
