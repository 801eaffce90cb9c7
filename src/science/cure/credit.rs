//! Credited time: by temperature bands in exact integers, or by Arrhenius' law along a history.
//!
//! *Invariants*: missing climate earns nothing; no rate is above the policy's cap.
//!
//! *Not here*: rooms and readings.

use uom::si::f64::{Ratio, ThermodynamicTemperature, Time};

use super::{hours, of_hours};
use crate::science::mix::thermal_factor;
use crate::units::{Span, Temperature};

/// A band of a credit policy: from this temperature up to the next band's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Band {
    /// The lowest temperature of the band, which belongs to it.
    pub from: Temperature,
    /// Credit per clock time, in thousandths.
    pub thousandths: i64,
    /// Whether time in this band is worth telling someone.
    pub alert: bool,
}

/// A credit policy by temperature bands, the lowest band first. Below the first band nothing is credited.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bands(Vec<Band>);

/// A stretch of a temperature history.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// The temperature, or `None` where there is no reading.
    pub temperature: Option<Temperature>,
    /// How long it lasted.
    pub span: Span,
}

/// What a history earned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Credited {
    /// Credited time, rounded down to the millisecond.
    pub earned: Span,
    /// Clock time that earned nothing because it was too cold.
    pub cold: Span,
    /// Clock time in a band that calls for an alert.
    pub alert: Span,
    /// Clock time without readings, which earned nothing.
    pub unknown: Span,
}

impl Bands {
    /// The default policy: half credit from 16 C, full credit from 20 C, and full credit with an alert above 32 C.
    ///
    /// Bands are half-open on thousandths of a degree: [16 000, 20 000) 0.5, [20 000, 32 000] 1.0, above 1.0 with an
    /// alert, below 16 000 none. The figures are a shop estimate (from memory, to be confirmed): there is no agreed
    /// law of time and temperature for nitrocellulose films.
    pub fn standard() -> Self {
        let band = |from, thousandths, alert| Band {
            from: Temperature(from),
            thousandths,
            alert,
        };
        Self(vec![
            band(16_000, 500, false),
            band(20_000, 1_000, false),
            band(32_001, 1_000, true),
        ])
    }

    /// A policy of its own; `None` when the bands do not rise or a credit is below 0 or above `cap_thousandths`.
    ///
    /// A cap above 1000 lets warm days earn more than clock time, which only the shop itself may enter.
    pub fn new(bands: Vec<Band>, cap_thousandths: i64) -> Option<Self> {
        let rising = bands
            .iter()
            .zip(bands.iter().skip(1))
            .all(|(a, b)| a.from < b.from);
        let possible = bands
            .iter()
            .all(|b| (0..=cap_thousandths).contains(&b.thousandths));
        (rising && possible).then_some(Self(bands))
    }

    /// The band of a temperature, `None` below all bands.
    pub fn band(&self, temperature: Temperature) -> Option<&Band> {
        self.0.iter().rev().find(|band| temperature >= band.from)
    }

    /// What a history earns: clock time of each stretch times the credit of its band.
    ///
    /// Symbols: temperatures in thousandths of a degree, spans in ms. Equation: `sum span * credit`, exact in
    /// integers and rounded down once. Source: the shop's policy, see [`Bands::standard`]. A stretch that runs
    /// backwards earns and counts nothing. Ignores: humidity and film.
    pub fn credit(&self, history: &[Stretch]) -> Credited {
        let mut sum = Credited::default();
        let mut thousandths = 0_i128;
        for stretch in history.iter().filter(|s| s.span.0 > 0) {
            let add = |to: &mut Span| to.0 = to.0.saturating_add(stretch.span.0);
            let Some(temperature) = stretch.temperature else {
                add(&mut sum.unknown);
                continue;
            };
            match self.band(temperature) {
                Some(band) if band.thousandths > 0 => {
                    thousandths += i128::from(stretch.span.0) * i128::from(band.thousandths);
                    if band.alert {
                        add(&mut sum.alert);
                    }
                }
                _ => add(&mut sum.cold),
            }
        }
        sum.earned = Span(i64::try_from(thousandths.div_euclid(1_000)).unwrap_or(i64::MAX));
        sum
    }
}

/// A credit policy by Arrhenius' law with its own energies below and above the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateLaw {
    /// The temperature at which clock time counts in full.
    pub reference: ThermodynamicTemperature,
    /// Activation energy below it, J/mol. High is the cautious side: cold then counts little.
    pub energy_cold: f64,
    /// Activation energy above it, J/mol. Low is the cautious side: warmth then gains little.
    pub energy_hot: f64,
    /// The highest rate.
    pub cap: f64,
    /// Below this temperature nothing is credited.
    pub lowest: ThermodynamicTemperature,
    /// Above this relative humidity nothing is credited; `None` for no such rule.
    pub dampest: Option<Ratio>,
}

impl RateLaw {
    /// Credit per clock time.
    ///
    /// Symbols: `temperature` (C), `humidity` (share; `None` is unknown and earns nothing where the law has a
    /// limit). Equation: `exp(-E/R (1/T - 1/T_ref))` with `E` of the side, at most `cap`, 0 outside the limits.
    /// Valid: -10 to 60 C. Source: Arrhenius (from memory, to be confirmed); the energies are assumptions, none was
    /// found for a nitrocellulose lacquer. Ignores: a glass transition, which makes cold worse.
    pub fn rate(&self, temperature: ThermodynamicTemperature, humidity: Option<Ratio>) -> f64 {
        let damp = match (self.dampest, humidity) {
            (Some(limit), Some(humidity)) => humidity > limit,
            (Some(_), None) => true,
            (None, _) => false,
        };
        if temperature < self.lowest || damp {
            return 0.0;
        }
        let energy = if temperature <= self.reference {
            self.energy_cold
        } else {
            self.energy_hot
        };
        // A rate grows where a viscosity shrinks: the factor is taken the other way round.
        thermal_factor(energy, temperature, self.reference).min(self.cap)
    }
}

/// Credited time along a piecewise constant rate.
#[derive(Debug, Clone, PartialEq)]
pub struct RateHistory {
    // (start h, rate, credited until start h); the last rate holds on.
    stretches: Vec<(f64, f64, f64)>,
}

impl RateHistory {
    /// A history of (start, rate); `None` when it is empty, the starts do not rise or a rate is negative.
    pub fn new(stretches: &[(Time, f64)]) -> Option<Self> {
        let mut built: Vec<(f64, f64, f64)> = Vec::with_capacity(stretches.len());
        for (start, rate) in stretches {
            let start = hours(*start);
            let credited = match built.last() {
                Some((before, earlier, so_far)) if start > *before => {
                    so_far + (start - before) * earlier
                }
                Some(_) => return None,
                None => 0.0,
            };
            if !rate.is_finite() || *rate < 0.0 || !start.is_finite() {
                return None;
            }
            built.push((start, *rate, credited));
        }
        (!built.is_empty()).then_some(Self { stretches: built })
    }

    /// Credited time at a clock time; before the first start nothing.
    pub fn credited(&self, clock: Time) -> Time {
        let clock = hours(clock);
        of_hours(
            self.stretches
                .iter()
                .rev()
                .find(|(start, _, _)| *start <= clock)
                .map_or(0.0, |(start, rate, so_far)| so_far + (clock - start) * rate),
        )
    }

    /// The first clock time at which this much is credited; `None` when that is never.
    pub fn clock(&self, credited: Time) -> Option<Time> {
        let wanted = hours(credited);
        let (start, rate, so_far) = self
            .stretches
            .iter()
            .rev()
            .find(|(_, rate, so_far)| *so_far < wanted && *rate > 0.0)
            .or_else(|| self.stretches.first())?;
        if wanted <= *so_far {
            return Some(of_hours(*start));
        }
        (*rate > 0.0).then(|| of_hours(start + (wanted - so_far) / rate))
    }
}
