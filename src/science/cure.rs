//! Cure: credited hours by a policy, and solvent still in the film by a calibrated one-dimensional model.
//!
//! The clock of a cure is *credited time*: clock time times a rate that follows from temperature. With a diffusion
//! coefficient `D(u, T) = a(T) f(u)` this makes any temperature history the same as a longer or shorter one at the
//! reference temperature, exactly, across coats and sandings.
//!
//! *Invariants*: missing climate earns nothing; a rate is never above the policy's cap; the model may only lengthen a
//! wait, never shorten the recipe's own ([`hold_back`]); no diffusion coefficient is typed or kept, it is worked out
//! from the recipe's own statement ("cured in H hours on the nominal schedule").
//!
//! *Not here*: which coats a piece has had, rooms and readings (`shop`), the law of mixing and cups (`mix`).

use std::f64::consts::{FRAC_PI_2, PI};

use uom::si::diffusion_coefficient::square_meter_per_second;
use uom::si::f64::{DiffusionCoefficient, Length, Ratio, ThermodynamicTemperature, Time};
use uom::si::ratio::ratio;

use super::measure::{
    FILM, HOURS, MINUTES, Measure, NUMBER, Quantity, SECONDS, SHARE, TEMPERATURE,
};
use super::mix::thermal_factor;
use super::statistics::erfc;
use super::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};
use crate::units::{Span, System, Temperature, num};

const MODEL: &str = "one-sided drying of a plane sheet after Crank, The Mathematics of Diffusion (from memory, to be \
     confirmed), calibrated to the recipe's own cure time";

/// The modes that a stack carries: with 16 the reference schedule is met within 0.0001 h of the exact 421 h.
pub const MODES: usize = 16;

fn share(value: f64) -> Ratio {
    Ratio::new::<ratio>(value)
}

fn hours(time: Time) -> f64 {
    time.to_base() / 3600.0
}

fn of_hours(value: f64) -> Time {
    Time::of_base(value * 3600.0)
}

fn micrometres(film: Length) -> f64 {
    film.to_base() * 1e6
}

fn of_micrometres(value: f64) -> Length {
    Length::of_base(value * 1e-6)
}

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

/// Mean share of solvent still in a single film that dries from one face.
///
/// Symbols: `fourier` = D t / L^2 with L the full film (0 or more).
/// Equation: `sum 2/k_n^2 exp(-k_n^2 Fo)`, `k_n = (n + 1/2) pi`; below 0.2 the short-time form
/// `1 - 2 sqrt(Fo) (1/sqrt(pi) + 2 sum (-1)^n ierfc(n / sqrt(Fo)))`, which needs few terms there.
/// Source: Crank, The Mathematics of Diffusion, 4.18 and 4.20 (from memory, to be confirmed). Accuracy: 1e-12.
/// Ignores: resistance of the air ([`retained_with_air_resistance`]), a diffusion coefficient that falls on drying.
pub fn retained(fourier: f64) -> Ratio {
    if fourier <= 0.0 {
        return share(1.0);
    }
    if fourier < 0.2 {
        let root = fourier.sqrt();
        let ierfc = |x: f64| (-x * x).exp() / PI.sqrt() - x * erfc(x);
        let mut sum = 1.0 / PI.sqrt();
        for n in 1..=12_u32 {
            let sign = if n % 2 == 0 { 2.0 } else { -2.0 };
            sum += sign * ierfc(f64::from(n) / root);
        }
        share(1.0 - 2.0 * root * sum)
    } else {
        share(
            eigenvalues(24)
                .map(|k| 2.0 / (k * k) * (-k * k * fourier).exp())
                .sum(),
        )
    }
}

/// `(n + 1/2) pi` for the first modes.
fn eigenvalues(modes: usize) -> impl Iterator<Item = f64> {
    (0..modes).map(|n| (num::count(n) + 0.5) * PI)
}

/// Share of solvent at a height in a single film: 0 the wood, 1 the surface.
///
/// Symbols: `height` (share of the film), `fourier` as in [`retained`] (above about 0.001 for its accuracy).
/// Equation: `sum 2 (-1)^n / k_n exp(-k_n^2 Fo) cos(k_n height)`. Source: Crank, 4.17 (from memory, to be
/// confirmed). Accuracy: 1e-12 from Fo 0.002 on.
pub fn profile(height: f64, fourier: f64) -> Ratio {
    let terms = eigenvalues(400).zip([1.0, -1.0].into_iter().cycle());
    share(
        terms
            .map(|(k, sign)| 2.0 * sign / k * (-k * k * fourier).exp() * (k * height).cos())
            .sum(),
    )
}

/// The Fourier number at which a single film has this share left: the inverse of [`retained`].
///
/// `None` unless `left` is above 0 and below 1. Accuracy: 1e-12. Source: bisection of [`retained`].
pub fn fourier_for(left: Ratio) -> Option<f64> {
    let wanted = left.to_base();
    if !(wanted > 0.0 && wanted < 1.0) {
        return None;
    }
    falling_root(1.0, |fo| retained(fo).to_base() - wanted)
}

/// Where a falling function crosses zero, starting the bracket at `first`; `None` when it never does.
fn falling_root(first: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut low, mut high) = (0.0, first);
    let mut doublings = 0;
    while f(high) > 0.0 {
        low = high;
        high *= 2.0;
        doublings += 1;
        if doublings > 60 || !high.is_finite() {
            return None;
        }
    }
    // A bracket of one binade is halved to the last bit in about 55 turns.
    for _ in 0..80 {
        let middle = low + (high - low) / 2.0;
        if f(middle) > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}

/// Mean share still in a single film when the air above it resists too.
///
/// Symbols: `biot` = k L / D (above 0), `fourier` as in [`retained`].
/// Equation: `sum 2 Bi^2 / (b^2 (b^2 + Bi^2 + Bi)) exp(-b^2 Fo)` over the roots of `b tan b = Bi`.
/// Source: Crank, 4.3.6 (from memory, to be confirmed). Accuracy: 1e-9 from Fo 0.01 on. Use: parts that are stacked
/// or bagged, where air does not move; the model of a hanging piece takes the surface as dry.
pub fn retained_with_air_resistance(biot: f64, fourier: f64) -> Ratio {
    let mut sum = 0.0;
    for n in 0..4_000_usize {
        let (mut low, mut high) = (num::count(n) * PI, num::count(n) * PI + FRAC_PI_2);
        // x sin x - Bi cos x has one root in each of these intervals and changes its sign there.
        let f = |x: f64| x * x.sin() - biot * x.cos();
        let rising = f(low) < f(high);
        for _ in 0..80 {
            let middle = low + (high - low) / 2.0;
            if (f(middle) > 0.0) == rising {
                high = middle;
            } else {
                low = middle;
            }
        }
        let b2 = high * high;
        let term = 2.0 * biot * biot / (b2 * (b2 + biot * biot + biot)) * (-b2 * fourier).exp();
        sum += term;
        if n > 3 && term < 1e-16 {
            break;
        }
    }
    share(sum)
}

/// A wait for a film by the square of its thickness: `hours * (film / reference)^2`.
///
/// Symbols: `wait` stated for `reference` film; `film` (m). Valid: any diffusion coefficient that depends on solvent
/// alone, surface dry, same start: the law is then exact. Source: scaling of the diffusion equation (derived).
/// Accuracy: of a stack of coats about 5 %, more on dense schedules. Ignores: how the coats were spread in time.
pub fn scaled_wait(wait: Time, reference: Length, film: Length) -> Time {
    let times = (film / reference).to_base();
    wait * (times * times)
}

/// A deed that changes the film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Deed {
    /// A coat of this dry film.
    Coat(Length),
    /// A sanding that takes this film.
    Sand(Length),
}

/// Solvent in a film that was built up coat by coat.
///
/// The film is counted in dry thickness, so shrinkage needs no tracking; `u` is solvent per dry film, 1 when a coat
/// is fresh. Between deeds `u(z, t) = sum a_n cos(b_n z) exp(-b_n^2 D t)`, `b_n = (n + 1/2) pi / L`, which is exact
/// in time: there is no step size.
#[derive(Debug, Clone, PartialEq)]
pub struct Stack {
    // um2/h, um, um: the natural sizes of the problem, near 1, so that no digits are lost.
    diffusion: f64,
    burn_in: f64,
    film: f64,
    modes: Vec<f64>,
}

/// Integral of `cos(a z) cos(b z)` from 0 to `c`.
///
/// The form with sum and difference stays finite when two eigenvalues coincide (a 2 um coat under 10 um in all does
/// that); the one divided by `a^2 - b^2` gives NaN there.
fn overlap(a: f64, b: f64, c: f64) -> f64 {
    let (minus, plus) = (a - b, a + b);
    let first = if (minus * c).abs() < 1e-5 {
        c
    } else {
        (minus * c).sin() / minus
    };
    0.5 * (first + (plus * c).sin() / plus)
}

impl Stack {
    /// An empty stack.
    ///
    /// Symbols: `diffusion` at the reference temperature, `burn_in` depth to which a fresh coat wets the old film
    /// again (5 to 30 um, 15 um derived from memory, to be confirmed), `modes` see [`MODES`].
    pub fn new(diffusion: DiffusionCoefficient, burn_in: Length, modes: usize) -> Self {
        Self {
            diffusion: diffusion.get::<square_meter_per_second>() * 1e12 * 3600.0,
            burn_in: micrometres(burn_in),
            film: 0.0,
            modes: vec![0.0; modes],
        }
    }

    fn eigenvalues(&self, film: f64) -> impl Iterator<Item = f64> {
        eigenvalues(self.modes.len()).map(move |k| k / film)
    }

    fn signs() -> impl Iterator<Item = f64> {
        [1.0, -1.0].into_iter().cycle()
    }

    /// The old profile up to `depth`, on the modes of a film `film` thick.
    fn projected(&self, film: f64, depth: f64) -> Vec<f64> {
        let old: Vec<f64> = self.eigenvalues(self.film).collect();
        self.eigenvalues(film)
            .map(|b| {
                old.iter()
                    .zip(&self.modes)
                    .map(|(a, mode)| mode * overlap(*a, b, depth))
                    .sum()
            })
            .collect()
    }

    /// Lays a coat, and wets the old film again to the burn-in depth. A coat of no film changes nothing.
    pub fn coat(&mut self, film: Length) {
        let added = micrometres(film);
        if !(added > 0.0 && added.is_finite()) {
            return;
        }
        let total = self.film + added;
        let kept = (self.film - self.burn_in).max(0.0);
        let below = if kept > 0.0 {
            self.projected(total, kept)
        } else {
            vec![0.0; self.modes.len()]
        };
        self.modes = self
            .eigenvalues(total)
            .zip(below)
            .zip(Self::signs())
            .map(|((b, below), sign)| 2.0 / total * (below + (sign - (b * kept).sin()) / b))
            .collect();
        self.film = total;
    }

    /// Sands film off the top; refused when nothing would be left.
    pub fn sand(&mut self, film: Length) -> Result<(), Refusal> {
        let left = self.film - micrometres(film);
        if left.is_nan() || left <= 0.0 {
            return Err(Refusal::no_answer(
                "sand",
                FILM.text(film.to_base(), System::Metric),
                format!(
                    "less than the film that is there, {}",
                    FILM.text(of_micrometres(self.film).to_base(), System::Metric)
                ),
            ));
        }
        self.modes = self
            .projected(left, left)
            .into_iter()
            .map(|a| 2.0 / left * a)
            .collect();
        self.film = left;
        Ok(())
    }

    /// Lets credited time go by.
    pub fn wait(&mut self, credited: Time) {
        if self.film > 0.0 {
            let t = hours(credited);
            let decay: Vec<f64> = self
                .eigenvalues(self.film)
                .map(|b| (-b * b * self.diffusion * t).exp())
                .collect();
            for (mode, factor) in self.modes.iter_mut().zip(decay) {
                *mode *= factor;
            }
        }
    }

    /// Does a deed.
    pub fn deed(&mut self, deed: Deed) -> Result<(), Refusal> {
        match deed {
            Deed::Coat(film) => {
                self.coat(film);
                Ok(())
            }
            Deed::Sand(film) => self.sand(film),
        }
    }

    /// The dry film.
    pub fn film(&self) -> Length {
        of_micrometres(self.film)
    }

    fn mean_after(&self, t: f64) -> f64 {
        let terms = self
            .eigenvalues(self.film)
            .zip(&self.modes)
            .zip(Self::signs());
        terms
            .map(|((b, mode), sign)| mode * sign / b * (-b * b * self.diffusion * t).exp())
            .sum::<f64>()
            / self.film
    }

    /// Mean share of solvent left; `None` without film or when the arithmetic left [0, 1].
    ///
    /// In the first minutes after a coat the cut-off tail of the modes makes this 1 to 2 % low.
    pub fn mean(&self) -> Option<Ratio> {
        let mean = self.mean_after(0.0);
        (self.film > 0.0 && (0.0..=1.001).contains(&mean)).then(|| share(mean))
    }

    /// Share left at the wood.
    pub fn bottom(&self) -> Option<Ratio> {
        let bottom: f64 = self.modes.iter().sum();
        (self.film > 0.0 && bottom.is_finite()).then(|| share(bottom))
    }

    /// Solvent between the wood and `height`, as a share of a fresh film of the whole thickness: what a coat has driven
    /// into the film below it.
    ///
    /// Equation: `(1/L) sum a_n sin(b_n height) / b_n`. `None` without film.
    pub fn below(&self, height: Length) -> Option<Ratio> {
        let z = micrometres(height);
        let held: f64 = self
            .eigenvalues(self.film)
            .zip(&self.modes)
            .map(|(b, mode)| mode * (b * z).sin() / b)
            .sum();
        (self.film > 0.0 && held.is_finite()).then(|| share(held / self.film))
    }

    /// Credited time from now until the mean share has come down to `left`; `None` without an answer.
    pub fn time_to(&self, left: Ratio) -> Option<Time> {
        let (mean, wanted) = (self.mean()?.to_base(), left.to_base());
        if wanted.is_nan() || wanted <= 0.0 {
            return None;
        }
        if mean <= wanted {
            return Some(Time::of_base(0.0));
        }
        falling_root(1.0, |t| self.mean_after(t) - wanted).map(of_hours)
    }
}

/// A deed and the clock time at which it was done.
pub type Dated = (Time, Deed);

/// The last coat of a list of deeds.
pub fn last_coat(deeds: &[Dated]) -> Option<Time> {
    deeds
        .iter()
        .rev()
        .find(|(_, deed)| matches!(deed, Deed::Coat(_)))
        .map(|(at, _)| *at)
}

/// Plays deeds on a stack along a history; the stack then stands at the last deed.
///
/// Deeds are in the order of time; one that lies before the one before it is refused.
pub fn play(mut stack: Stack, deeds: &[Dated], history: &RateHistory) -> Result<Stack, Refusal> {
    let mut before: Option<Time> = None;
    for (at, deed) in deeds {
        if let Some(before) = before {
            if *at < before {
                return Err(Refusal::no_answer(
                    "coat-at",
                    HOURS.text(at.to_base(), System::Metric),
                    "times that do not run backwards",
                ));
            }
            stack.wait(history.credited(*at) - history.credited(before));
        }
        stack.deed(*deed)?;
        before = Some(*at);
    }
    Ok(stack)
}

/// The clock time at which the mean share after these deeds comes down to `left`; `None` when that is never.
pub fn model_ready(
    stack: Stack,
    deeds: &[Dated],
    history: &RateHistory,
    left: Ratio,
) -> Result<Option<Time>, Refusal> {
    let Some((at, _)) = deeds.last() else {
        return Ok(None);
    };
    let stack = play(stack, deeds, history)?;
    Ok(stack
        .time_to(left)
        .map(|wait| history.credited(*at) + wait)
        .and_then(|credited| history.clock(credited))
        .map(|clock| if clock > *at { clock } else { *at }))
}

/// The diffusion coefficient with which a nominal schedule is ready exactly `wait` after its last coat.
///
/// Symbols: `nominal` deeds at the reference temperature, `wait` (s), `left` share at readiness, `burn_in` (m).
/// Equation: the root of `ready(D) = last coat + wait`, in ln D between 1/20 and 1.5 of the single-film value
/// `Fo(left) L^2 / wait`. Source: the recipe's own statement. Accuracy: 1e-9 relative.
/// The nominal schedule is then ready exactly on time by construction, so a piece made to recipe gets no extra hold.
pub fn calibrated(
    nominal: &[Dated],
    wait: Time,
    left: Ratio,
    burn_in: Length,
    modes: usize,
) -> Result<DiffusionCoefficient, Refusal> {
    let no = |why: &str| {
        Refusal::no_answer(
            "cure-hours",
            HOURS.text(wait.to_base(), System::Metric),
            why,
        )
    };
    let last = last_coat(nominal).ok_or_else(|| no("a nominal schedule with a coat"))?;
    let film: Length = nominal.iter().fold(Length::of_base(0.0), |sum, (_, deed)| {
        sum + match deed {
            Deed::Coat(film) => *film,
            Deed::Sand(film) => -*film,
        }
    });
    let fourier = fourier_for(left).ok_or_else(|| no("a share left between 0 and 100 %"))?;
    let single = fourier * micrometres(film).powi(2) / hours(wait);
    let steady = RateHistory::new(&[(Time::of_base(-1e12), 1.0)])
        .ok_or_else(|| no("a steady temperature"))?;
    let of = |d: f64| DiffusionCoefficient::new::<square_meter_per_second>(d * 1e-12 / 3600.0);
    let late = |d: f64| -> Result<bool, Refusal> {
        let stack = Stack::new(of(d), burn_in, modes);
        Ok(model_ready(stack, nominal, &steady, left)?.is_none_or(|t| t > last + wait))
    };
    let (mut low, mut high) = (single / 20.0, single * 1.5);
    let bracketed = single > 0.0 && single.is_finite() && late(low)? && !late(high)?;
    if !bracketed {
        return Err(no(
            "a wait that the nominal schedule can have: longer than its own days, with film left after sanding",
        ));
    }
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        if late(middle)? {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(of(high))
}

/// A wait that a model was asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hold {
    /// The wait that counts: the longest.
    pub wait: Time,
    /// What the model added to the recipe's own.
    pub added: Time,
}

/// A model may only hold back: the recipe's own wait, or the model's where that is longer.
///
/// A model without an answer (`None`) or with one that is not a number adds nothing here; the caller says so.
pub fn hold_back(recipe: Time, models: &[Option<Time>]) -> Hold {
    let wait = models
        .iter()
        .flatten()
        .filter(|t| t.to_base().is_finite())
        .fold(recipe, |longest, t| if *t > longest { *t } else { longest });
    Hold {
        wait,
        added: wait - recipe,
    }
}

/// How far the film over a pore still sinks below the flat film.
///
/// Symbols: `film` on the flat and `pore` depth (m), `solvent` volume per dry film volume at the start of slow drying
/// (share), `left` share on the flat at the moment of levelling, `times` the wait as a multiple of that moment's.
/// Equation: flat `a L M(Fo)`, pore `a (L + p) M(Fo L^2/(L + p)^2)`, their difference, with `M` of [`retained`].
/// Source: one-dimensional columns (derived). Accuracy: an order of size. Ignores: sideways diffusion, filler.
pub fn sink_in(
    film: Length,
    pore: Length,
    solvent: Ratio,
    left: Ratio,
    times: f64,
) -> Option<Length> {
    let fourier = fourier_for(left)? * times;
    let column = film + pore;
    let slower = (film / column).to_base().powi(2);
    Some(solvent * (column * retained(fourier * slower) - film * retained(fourier)))
}

/// Rate constant of a first-order cure from one statement: `ln(1/(1 - done)) / time`.
///
/// Symbols: `done` share (0 to below 1), `time` (s); the result is per second. Source: first-order kinetics (from
/// memory, to be confirmed). Valid: reactive finishes, not solvent release.
pub fn first_order_rate(done: Ratio, time: Time) -> f64 {
    -(1.0 - done.to_base()).ln() / time.to_base()
}

/// Dose of a lamp: irradiance times time, in mJ/cm2 from mW/cm2 and s. Source: definition.
/// Ignores: angle, distance and shadow.
pub fn ultraviolet_dose(irradiance: f64, time: Time) -> f64 {
    irradiance * time.to_base()
}

fn band_temperature(value: ThermodynamicTemperature) -> Option<Temperature> {
    num::whole(value.to_base() * 1e3).map(Temperature)
}

fn span(time: Time) -> Option<Span> {
    num::whole(time.to_base() * 1e3).map(Span)
}

fn span_time(span: Span) -> Time {
    Time::of_base(num::float(span.0) / 1e3)
}

/// Two lists that belong together, value by value.
fn paired<A: Quantity, B: Quantity>(
    inputs: &Inputs,
    first: &str,
    second: &str,
) -> Result<Vec<(A, B)>, Refusal> {
    let (a, b): (Vec<A>, Vec<B>) = (inputs.list(first)?, inputs.list(second)?);
    if a.len() == b.len() {
        Ok(a.into_iter().zip(b).collect())
    } else {
        Err(Refusal::no_answer(
            second,
            format!("{} values", b.len()),
            format!("as many as {first}, {}", a.len()),
        ))
    }
}

fn cure_credit(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let policy = Bands::standard();
    let mut history = Vec::new();
    for (temperature, time) in
        paired::<ThermodynamicTemperature, Time>(inputs, "temperature", "hours")?
    {
        history.push(Stretch {
            temperature: band_temperature(temperature),
            span: span(time).unwrap_or_default(),
        });
    }
    history.push(Stretch {
        temperature: None,
        span: span(inputs.get("without-readings")?).unwrap_or_default(),
    });
    let sum = policy.credit(&history);
    let earned = span_time(sum.earned);
    let mut sheet = Worksheet::new("credited hours", earned, HOURS)
        .also("hours too cold to count", span_time(sum.cold), HOURS)
        .also("hours above 32 C", span_time(sum.alert), HOURS)
        .also("hours without readings, not counted", span_time(sum.unknown), HOURS)
        .at_least("credited hours that the recipe wants", Some(earned), inputs.maybe("needed")?, HOURS)
        .assumes("bands [16, 20) C 0.5, [20, 32] C 1.0, above 1.0 with an alert, below 16 C none: a shop policy, from memory, to be confirmed");
    for stretch in &history {
        if let Some(temperature) = stretch.temperature {
            let rate = policy.band(temperature).map_or(0, |b| b.thousandths);
            let one = Stretch { ..*stretch };
            sheet = sheet.step(
                &format!(
                    "{} h at {} C",
                    figures_of(stretch.span),
                    milli_text(temperature)
                ),
                &format!("hours x {}", num::float(rate) / 1e3),
                span_time(policy.credit(&[one]).earned),
                HOURS,
            );
        }
    }
    sheet = sheet.step("credited hours", "sum", earned, HOURS);
    Ok(if sum.alert.0 > 0 {
        sheet.caution("time above 32 C: heat can soften glue and lift the film; look at the pieces, and ask the supervisor")
    } else {
        sheet
    })
}

/// Credited time of stretches with a rate of their own, rounded down once to the millisecond.
///
/// Symbols: spans (ms), credit per clock time in thousandths. Equation: `sum span * rate`, exact in integers.
/// Source: the recipe's credit policy. Ignores: why a stretch has its rate; that is the recipe's and the room's.
pub fn credited_at(stretches: &[(Span, i64)]) -> Span {
    let sum: i128 = stretches
        .iter()
        .map(|(span, thousandths)| i128::from(span.0) * i128::from(*thousandths))
        .sum();
    Span(i64::try_from(sum.div_euclid(1_000)).unwrap_or(i64::MAX))
}

fn room_credit(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let mut stretches = Vec::new();
    for (time, rate) in paired::<Time, Ratio>(inputs, "hours", "credit")? {
        let thousandths = num::whole(rate.to_base() * 1e3).unwrap_or(0);
        stretches.push((span(time).unwrap_or_default(), thousandths));
    }
    let mut known_by = inputs.words("known-by")?;
    if let ([one], true) = (known_by.as_slice(), stretches.len() > 1) {
        known_by = vec![*one; stretches.len()];
    }
    if known_by.len() != stretches.len() {
        return Err(Refusal::no_answer(
            "known-by",
            format!("{} values", known_by.len()),
            format!("one, or as many as hours, {}", stretches.len()),
        ));
    }
    let earned = credited_at(&stretches);
    let by = |word: &str| {
        let all = stretches.iter().zip(&known_by);
        let ms = all
            .filter(|(_, w)| **w == word)
            .map(|((s, _), _)| s.0)
            .sum();
        span_time(Span(ms))
    };
    let mut sheet = Worksheet::new("credited hours", span_time(earned), HOURS)
        .also(
            "hours without readings in a logged room, not counted",
            by("gap"),
            HOURS,
        )
        .also(
            "hours in a room without readings, assumed",
            by("assumed"),
            HOURS,
        )
        .also(
            "hours after the newest reading, forecast",
            by("forecast"),
            HOURS,
        );
    for (stretch, word) in stretches.iter().zip(&known_by) {
        let rate = num::float(stretch.1) / 1e3;
        sheet = sheet.step(
            &format!("{} h, {word}", figures_of(stretch.0)),
            &format!("hours x {rate}"),
            span_time(credited_at(&[*stretch])),
            HOURS,
        );
    }
    sheet = sheet.step(
        "credited hours",
        "sum, rounded down to the millisecond",
        span_time(earned),
        HOURS,
    );
    if let Some(needed) = inputs.maybe::<Time>("needed")? {
        let missing = Time::of_base((needed.to_base() - span_time(earned).to_base()).max(0.0));
        sheet = sheet
            .also("credited hours still missing", missing, HOURS)
            .step(
                "credited hours still missing",
                "needed - credited hours, not below 0",
                missing,
                HOURS,
            );
    }
    Ok(sheet
        .assumes("hours without readings are unknown: they earn nothing until the file arrives"))
}

fn wait_after(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let own: Time = inputs.get("recipe-wait")?;
    let slowed: Option<Time> = inputs.maybe("retarder-wait")?;
    let wait = slowed.map_or(own, |slowed| if slowed > own { slowed } else { own });
    let mut sheet = Worksheet::new("wait", wait, MINUTES).step(
        "wait",
        "the longer of recipe-wait and retarder-wait",
        wait,
        MINUTES,
    );
    if let Some(since) = inputs.maybe::<Time>("since")? {
        let left = Time::of_base((wait.to_base() - since.to_base()).max(0.0));
        sheet = sheet.also("left", left, MINUTES).step(
            "left",
            "wait - since, not below 0",
            left,
            MINUTES,
        );
    }
    Ok(sheet.assumes("a least wait of the recipe: what the hand feels comes on top of it"))
}

fn figures_of(span: Span) -> String {
    super::measure::figures(num::float(span.0) / 3.6e6, 6)
}

fn milli_text(temperature: Temperature) -> String {
    super::measure::figures(num::float(temperature.0) / 1e3, 6)
}

fn law(inputs: &Inputs) -> Result<RateLaw, Refusal> {
    let (cold, hot): (f64, f64) = (inputs.get("energy-cold")?, inputs.get("energy-hot")?);
    Ok(RateLaw {
        reference: inputs.get("reference")?,
        energy_cold: cold * 1e3,
        energy_hot: hot * 1e3,
        cap: inputs.get("cap")?,
        lowest: inputs.get("lowest")?,
        dampest: None,
    })
}

const ENERGIES: &str = "activation energies are assumptions: none was found for a nitrocellulose lacquer (from \
     memory, to be confirmed)";

fn cure_rate(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let law = RateLaw {
        dampest: inputs.maybe("dampest")?,
        ..law(inputs)?
    };
    let mut credited = 0.0;
    let mut clock = 0.0;
    let stretches = paired::<ThermodynamicTemperature, Time>(inputs, "temperature", "hours")?;
    let humidity: Vec<Ratio> = inputs.list("humidity")?;
    if !humidity.is_empty() && humidity.len() != stretches.len() {
        return Err(Refusal::no_answer(
            "humidity",
            format!("{} values", humidity.len()),
            format!("as many as temperature, {}", stretches.len()),
        ));
    }
    let mut steps = Vec::new();
    for (at, (temperature, time)) in stretches.iter().enumerate() {
        let rate = law.rate(*temperature, humidity.get(at).copied());
        credited += rate * hours(*time);
        clock += hours(*time);
        steps.push((
            format!(
                "rate at {}",
                TEMPERATURE.text(temperature.to_base(), System::Metric)
            ),
            rate,
        ));
    }
    let mut sheet = Worksheet::new("credited hours", of_hours(credited), HOURS)
        .also("clock hours", of_hours(clock), HOURS)
        .assumes(ENERGIES)
        .assumes("a rate above 1 only where the shop entered a cap above 1; where a dampest limit is given, unknown humidity earns nothing");
    for (what, rate) in steps {
        sheet = sheet.step(
            &what,
            "exp(-energy / R x (1 / T - 1 / reference)), at most cap",
            rate,
            NUMBER,
        );
    }
    Ok(sheet.step(
        "credited hours",
        "sum of hours x rate",
        of_hours(credited),
        HOURS,
    ))
}

fn thick_film(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let wait: Time = inputs.get("cure-hours")?;
    let (reference, film): (Length, Length) = (inputs.get("reference-film")?, inputs.get("film")?);
    let scaled = scaled_wait(wait, reference, film);
    let hold = hold_back(wait, &[Some(scaled)]);
    Ok(Worksheet::new("wait", hold.wait, HOURS)
        .also("added by the model", hold.added, HOURS)
        .also("wait by the square of the film", scaled, HOURS)
        .step(
            "by the square of the film",
            "cure-hours x (film / reference-film)^2",
            scaled,
            HOURS,
        )
        .step(
            "wait",
            "the longer of it and cure-hours: a model may only hold back",
            hold.wait,
            HOURS,
        )
        .assumes("same lacquer, same temperature, surface in moving air; hours are credited hours"))
}

fn single_film(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let left: Ratio = inputs.get("left")?;
    let wait: Time = inputs.get("cure-hours")?;
    let (reference, film): (Length, Length) = (inputs.get("reference-film")?, inputs.get("film")?);
    let at_cure = fourier_for(left).ok_or_else(|| {
        Refusal::no_answer(
            "left",
            SHARE.text(left.to_base(), System::Metric),
            "above 0 and below 100 %",
        )
    })?;
    let time: Time = inputs.get("hours")?;
    let fourier = at_cure * (time / wait).to_base() * (reference / film).to_base().powi(2);
    let mean = retained(fourier);
    let bottom = if fourier > 0.002 {
        profile(0.0, fourier)
    } else {
        share(1.0)
    };
    Ok(Worksheet::new("solvent left, mean", mean, SHARE)
        .also("solvent left at the wood", bottom, SHARE)
        .step("Fourier number at cure-hours", "where the series gives left", at_cure, NUMBER)
        .step("Fourier number now", "at cure x (hours / cure-hours) x (reference-film / film)^2", fourier, NUMBER)
        .step("solvent left, mean", "sum 2 / k^2 exp(-k^2 Fo), k = (n + 1/2) pi", mean, SHARE)
        .assumes("one film laid at once; a stack of coats has lost more by its last coat (see solvent-left)")
        .assumes("share of the solvent that the film held when slow drying began; an estimate that may only lengthen a wait"))
}

fn nominal(inputs: &Inputs) -> Result<Vec<Dated>, Refusal> {
    let film: Length = inputs.get("nominal-film")?;
    let (count, a_day) = (
        inputs.count("nominal-coats")?,
        inputs.count("nominal-a-day")?,
    );
    let gap: Time = inputs.get("nominal-gap")?;
    let mut deeds = Vec::with_capacity(count + 1);
    for at in 0..count {
        let day = of_hours(24.0 * num::count(at / a_day.max(1)));
        let time = day + gap * num::count(at % a_day.max(1));
        deeds.push((time, Deed::Coat(film)));
    }
    if let Some(sanded) = inputs.maybe::<Length>("nominal-sand")?
        && sanded.to_base() > 0.0
    {
        let after = inputs.count("nominal-sand-after")?;
        let Some((coat, _)) = after.checked_sub(1).and_then(|at| deeds.get(at)).copied() else {
            return Err(Refusal::no_answer(
                "nominal-sand-after",
                after.to_string(),
                format!("1 to {count}, the nominal coats"),
            ));
        };
        let wait: Time = inputs.get("nominal-sand-wait")?;
        deeds.push((coat + wait, Deed::Sand(sanded)));
        sort_deeds(&mut deeds);
    }
    Ok(deeds)
}

/// Deeds in the order of time; of two at one time the one that was listed first stays first.
fn sort_deeds(deeds: &mut [Dated]) {
    deeds.sort_by(|a, b| a.0.to_base().total_cmp(&b.0.to_base()));
}

/// The credited time of the room from `temperature` and `temperature-from`; the last temperature holds on.
fn room_history(inputs: &Inputs) -> Result<RateHistory, Refusal> {
    let law = law(inputs)?;
    let temperatures: Vec<ThermodynamicTemperature> = inputs.list("temperature")?;
    let starts: Vec<Time> = inputs.list("temperature-from")?;
    if temperatures.len() != starts.len() {
        return Err(Refusal::no_answer(
            "temperature-from",
            format!("{} values", starts.len()),
            format!("as many as temperature, {}", temperatures.len()),
        ));
    }
    let rates: Vec<(Time, f64)> = starts
        .into_iter()
        .zip(temperatures.iter().map(|t| law.rate(*t, None)))
        .collect();
    RateHistory::new(&rates)
        .ok_or_else(|| Refusal::no_answer("temperature-from", "", "hours that rise"))
}

fn solvent_left(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let mut deeds: Vec<Dated> = paired::<Length, Time>(inputs, "coat", "coat-at")?
        .into_iter()
        .map(|(film, at)| (at, Deed::Coat(film)))
        .collect();
    deeds.extend(
        paired::<Length, Time>(inputs, "sand", "sand-at")?
            .into_iter()
            .map(|(film, at)| (at, Deed::Sand(film))),
    );
    sort_deeds(&mut deeds);
    let last =
        last_coat(&deeds).ok_or_else(|| Refusal::no_answer("coat", "none", "one coat or more"))?;
    let history = room_history(inputs)?;
    let (left, wait): (Ratio, Time) = (inputs.get("left")?, inputs.get("cure-hours")?);
    let burn_in: Length = inputs.get("burn-in")?;
    let nominal = nominal(inputs)?;
    let diffusion = calibrated(&nominal, wait, left, burn_in, MODES)?;
    let stack = play(Stack::new(diffusion, burn_in, MODES), &deeds, &history)?;
    let at_last = deeds.last().map_or(last, |(at, _)| *at);
    let ready = model_ready(
        Stack::new(diffusion, burn_in, MODES),
        &deeds,
        &history,
        left,
    )?;
    let model = ready.map(|t| t - last);
    // The recipe's wait is credited time too: the clock time at which it has been earned.
    let recipe = history
        .clock(history.credited(last) + wait)
        .map(|t| t - last)
        .ok_or_else(|| {
            Refusal::no_answer(
                "temperature",
                "of the room",
                "a last temperature at which time is credited; it holds on for ever",
            )
        })?;
    let hold = hold_back(recipe, &[model]);
    let d = diffusion.get::<square_meter_per_second>() * 1e12 * 3600.0;
    let mut sheet = Worksheet::new("wait after the last coat", hold.wait, HOURS)
        .also("added by the model", hold.added, HOURS)
        .also("film", stack.film(), FILM)
        .step("film", "sum of coats less sandings", stack.film(), FILM)
        .step(
            "diffusion coefficient at the reference",
            "so that the nominal schedule is ready cure-hours after its last coat",
            d,
            DIFFUSION,
        )
        .step(
            "wait by the recipe, in clock hours",
            "cure-hours of credited time after the last coat",
            recipe,
            HOURS,
        );
    if let Some(model) = model {
        sheet = sheet.also("wait by the model alone", model, HOURS).step(
            "wait by the model alone",
            "until the mean share of solvent is down to left",
            model,
            HOURS,
        );
    }
    if let Some(asked) = inputs.maybe::<Time>("at")? {
        if asked < at_last {
            return Err(Refusal::no_answer(
                "at",
                HOURS.text(asked.to_base(), System::Metric),
                format!(
                    "at or after the last deed, {}",
                    HOURS.text(at_last.to_base(), System::Metric)
                ),
            ));
        }
        let mut then = stack;
        then.wait(history.credited(asked) - history.credited(at_last));
        if let (Some(mean), Some(bottom)) = (then.mean(), then.bottom()) {
            sheet = sheet.also("solvent left then, mean", mean, SHARE).also(
                "solvent left then, at the wood",
                bottom,
                SHARE,
            );
        }
    }
    Ok(sheet
        .step("wait after the last coat", "the longer of recipe and model: a model may only hold back", hold.wait, HOURS)
        .source("modes carried across coats and sandings, checked against an independent finite-volume solver")
        .assumes("one solvent, surface dry in moving air, wood sealed, constant diffusion coefficient; humidity does not enter")
        .assumes("sprayings less than 30 minutes apart are one coat")
        .assumes(ENERGIES))
}

fn sink(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (film, pore): (Length, Length) = (inputs.get("film")?, inputs.get("pore")?);
    let (solvent, left): (Ratio, Ratio) = (inputs.get("solvent")?, inputs.get("left")?);
    let times: f64 = inputs.get("times")?;
    let no = || {
        Refusal::no_answer(
            "left",
            SHARE.text(left.to_base(), System::Metric),
            "above 0 and below 100 %",
        )
    };
    let fourier = fourier_for(left).ok_or_else(no)? * times;
    let flat = solvent * film * retained(fourier);
    let sunk = sink_in(film, pore, solvent, left, times).ok_or_else(no)?;
    Ok(Worksheet::new("sink-in still to come", sunk, FILM)
        .also("flat film still to lose", flat, FILM)
        .step("Fourier number on the flat", "where the series gives left, times the wait", fourier, NUMBER)
        .step("flat film still to lose", "solvent x film x share left", flat, FILM)
        .step("sink-in still to come", "solvent x (film + pore) x its share left, less the flat film", sunk, FILM)
        .assumes("a column that dries upwards only; solvent per dry film 0.08 to 0.15 (from memory, to be confirmed)"))
}

fn conversion(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let done: Ratio = inputs.get("stated")?;
    let rate = first_order_rate(done, inputs.get("stated-hours")?);
    let time: Time = inputs.get("hours")?;
    let now = share(-(-rate * time.to_base()).exp_m1());
    Ok(Worksheet::new("share converted", now, SHARE)
        .also("rate constant", rate * 3600.0, PER_HOUR)
        .step("rate constant", "ln(1 / (1 - stated)) / stated-hours", rate * 3600.0, PER_HOUR)
        .step("share converted", "1 - exp(-rate constant x hours)", now, SHARE)
        .assumes("a reactive finish, first order, at the temperature of the statement; not solvent release"))
}

fn dose(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let irradiance: f64 = inputs.get("irradiance")?;
    let dose = ultraviolet_dose(irradiance, inputs.get("seconds")?);
    Ok(Worksheet::new("dose", dose, DOSE)
        .step("dose", "irradiance x seconds", dose, DOSE)
        .assumes("lamp square on the face at the distance at which the irradiance was read; no shadow")
        .caution("UV lamps hurt eyes and skin: the lamp's own instructions and the safety lead say what to wear"))
}

const DIFFUSION: Measure = Measure::plain("um2/h");
const ENERGY: Measure = Measure::plain("kJ/mol");
const PER_HOUR: Measure = Measure::plain("1/h");
const DOSE: Measure = Measure::plain("mJ/cm2");
const IRRADIANCE: Measure = Measure::plain("mW/cm2");

const REFERENCE: Input = Input::amount(
    "reference",
    "temperature at which clock time counts in full",
    TEMPERATURE,
    (10.0, 40.0),
    "21 C",
)
.or("21 C");
const COLD: Input = Input::amount(
    "energy-cold",
    "activation energy below the reference (assumption, to be confirmed)",
    ENERGY,
    (10.0, 150.0),
    "75",
)
.or("75");
const HOT: Input = Input::amount(
    "energy-hot",
    "activation energy above the reference (assumption, to be confirmed)",
    ENERGY,
    (0.0, 150.0),
    "40",
)
.or("40");
const CAP: Input = Input::amount(
    "cap",
    "highest rate; above 1 only if the shop says so",
    NUMBER,
    (0.0, 2.0),
    "1",
)
.or("1");
const LOWEST: Input = Input::amount(
    "lowest",
    "below this nothing is credited (assumption, to be confirmed)",
    TEMPERATURE,
    (-10.0, 30.0),
    "13 C",
)
.or("13 C");
const LEFT: Input = Input::amount(
    "left",
    "share of solvent left when the film counts as cured (assumption, to be confirmed)",
    SHARE,
    (1.0, 50.0),
    "10 %",
)
.or("10 %");
const CURE_HOURS: Input = Input::amount(
    "cure-hours",
    "the recipe's wait after the last coat, credited hours",
    HOURS,
    (1.0, 5000.0),
    "336 h",
);

/// The worksheets of this subject.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "cure-credit",
        purpose: "Credited hours of a temperature history by bands",
        source: "shop policy by temperature bands (from memory, to be confirmed)",
        inputs: &[
            Input::amount("temperature", "temperature of each stretch", TEMPERATURE, (-20.0, 60.0), "[21 C,18 C,12 C]").list(1, 500),
            Input::amount("hours", "how long each stretch lasted", HOURS, (0.0, 10_000.0), "[100 h,10 h,5 h]").list(1, 500),
            Input::amount("without-readings", "hours without readings", HOURS, (0.0, 10_000.0), "2 h").or("0 h"),
            Input::amount("needed", "credited hours that the recipe wants", HOURS, (0.0, 10_000.0), "100 h").or_unknown(),
        ],
        compute: cure_credit,
    },
    Sheet {
        id: "room-credit",
        purpose: "Credited hours of a piece over the rooms that it hung in, by its recipe's credit",
        source: "credit policy of the recipe (arithmetic)",
        inputs: &[
            Input::amount("hours", "how long each stretch lasted", HOURS, (0.0, 200_000.0), "[100 h,10 h,5 h]").list(1, 5000),
            Input::amount("credit", "what an hour of it counts", SHARE, (0.0, 1000.0), "[100 %,50 %,0 %]").list(1, 5000),
            Input::word("known-by", "a reading, a gap of the readings, the recipe's assumption for rooms without readings, or the room's declared forecast", &["reading", "gap", "assumed", "forecast"], "reading").or("reading").list(1, 5000),
            Input::amount("needed", "credited hours that the recipe wants", HOURS, (0.0, 100_000.0), "336 h").or_unknown(),
        ],
        compute: room_credit,
    },
    Sheet {
        id: "wait",
        purpose: "Least wait after the last wet coat or deed, and what is left of it",
        source: "the recipe's own waits; the longer one holds",
        inputs: &[
            Input::amount("recipe-wait", "the wait of the recipe's step", MINUTES, (0.0, 1_000_000.0), "90 min"),
            Input::amount("retarder-wait", "the wait that the retarder in the mix asks for", MINUTES, (0.0, 1_000_000.0), "120 min").or_unknown(),
            Input::amount("since", "time since then", MINUTES, (0.0, 100_000_000.0), "30 min").or_unknown(),
        ],
        compute: wait_after,
    },
    Sheet {
        id: "cure-rate",
        purpose: "Credited hours of a temperature history by Arrhenius' law",
        source: "Arrhenius' law (from memory, to be confirmed)",
        inputs: &[
            Input::amount("temperature", "temperature of each stretch", TEMPERATURE, (-10.0, 60.0), "[21 C,15 C,10 C]").list(1, 500),
            Input::amount("hours", "how long each stretch lasted", HOURS, (0.0, 10_000.0), "[24 h,48 h,24 h]").list(1, 500),
            Input::amount("humidity", "relative humidity of each stretch", SHARE, (0.0, 100.0), "[50 %,50 %,50 %]").or_unknown().list(1, 500),
            Input::amount("dampest", "above this humidity nothing is credited", SHARE, (0.0, 100.0), "65 %").or_unknown(),
            REFERENCE,
            COLD,
            HOT,
            CAP,
            LOWEST,
        ],
        compute: cure_rate,
    },
    Sheet {
        id: "thick-film-wait",
        purpose: "Wait of a film thicker than the recipe's, by the square of the film",
        source: "scaling of the diffusion equation (derived)",
        inputs: &[
            CURE_HOURS,
            Input::amount("reference-film", "film for which that wait is stated", FILM, (5.0, 1000.0), "108 um"),
            Input::amount("film", "film of the piece; its upper figure where it is uncertain", FILM, (0.0, 2000.0), "144 um"),
        ],
        compute: thick_film,
    },
    Sheet {
        id: "single-film-solvent",
        purpose: "Solvent left in one film after a time",
        source: MODEL,
        inputs: &[
            Input::amount("film", "dry film", FILM, (1.0, 1000.0), "108 um"),
            Input::amount("hours", "credited hours since it was laid", HOURS, (0.0, 20_000.0), "168 h"),
            CURE_HOURS,
            Input::amount("reference-film", "film for which that wait is stated", FILM, (5.0, 1000.0), "108 um"),
            LEFT,
        ],
        compute: single_film,
    },
    Sheet {
        id: "solvent-left",
        purpose: "Wait after the last coat of a stack of coats, by a model that may only hold back",
        source: MODEL,
        inputs: &[
            Input::amount("coat", "dry film of each coat", FILM, (0.5, 200.0), "[20 um,20 um,20 um]").list(1, 60),
            Input::amount("coat-at", "hour of each coat", HOURS, (0.0, 20_000.0), "[0 h,2 h,4 h]").list(1, 60),
            Input::amount("sand", "film that each sanding took", FILM, (0.0, 200.0), "5 um").or_unknown().list(1, 60),
            Input::amount("sand-at", "hour of each sanding", HOURS, (0.0, 20_000.0), "24 h").or_unknown().list(1, 60),
            Input::amount("temperature", "temperatures of the room in their order", TEMPERATURE, (-10.0, 60.0), "21 C").or("21 C").list(1, 500),
            Input::amount("temperature-from", "hour from which each temperature holds", HOURS, (0.0, 20_000.0), "0 h").or("0 h").list(1, 500),
            Input::amount("at", "hour that is asked about", HOURS, (0.0, 40_000.0), "100 h").or_unknown(),
            Input::amount("cure-hours", "the recipe's wait after the last coat, credited hours", HOURS, (24.0, 5000.0), "336 h"),
            Input::count("nominal-coats", "coats of the recipe's own schedule", (1, 40), "12").or("12"),
            Input::amount("nominal-film", "dry film of its coats", FILM, (1.0, 100.0), "10 um").or("10 um"),
            Input::count("nominal-a-day", "coats a day", (1, 8), "3").or("3"),
            Input::amount("nominal-gap", "time between coats of a day", HOURS, (0.5, 6.0), "2 h").or("2 h"),
            Input::amount("nominal-sand", "film that its level sanding takes", FILM, (0.0, 200.0), "12 um").or_unknown(),
            Input::count("nominal-sand-after", "after which coat it is level sanded", (1, 40), "6").or("6"),
            Input::amount("nominal-sand-wait", "how long after that coat", HOURS, (0.0, 500.0), "18 h").or("18 h"),
            LEFT,
            Input::amount("burn-in", "depth to which a coat wets the old film again (derived from memory, to be confirmed)", FILM, (0.0, 50.0), "15 um").or("15 um"),
            REFERENCE,
            COLD,
            HOT,
            CAP,
            LOWEST,
        ],
        compute: solvent_left,
    },
    Sheet {
        id: "sink-in",
        purpose: "How far film over pores still sinks",
        source: "one-dimensional columns with the series of the plane sheet (derived)",
        inputs: &[
            Input::amount("film", "film on the flat", FILM, (1.0, 1000.0), "100 um"),
            Input::amount("pore", "depth of the pores under the film", FILM, (0.0, 1000.0), "60 um"),
            Input::amount("solvent", "solvent volume per dry film volume when slow drying begins (from memory, to be confirmed)", SHARE, (0.0, 50.0), "12 %").or("12 %"),
            LEFT,
            Input::amount("times", "the wait as a multiple of the one after which left is reached", NUMBER, (0.0, 20.0), "1").or("1"),
        ],
        compute: sink,
    },
    Sheet {
        id: "conversion",
        purpose: "Share converted of a reactive finish, first order",
        source: "first-order kinetics (from memory, to be confirmed)",
        inputs: &[
            Input::amount("stated", "share that the data sheet states", SHARE, (1.0, 99.9), "90 %"),
            Input::amount("stated-hours", "after this time", HOURS, (0.1, 5000.0), "168 h"),
            Input::amount("hours", "credited hours so far", HOURS, (0.0, 20_000.0), "72 h"),
        ],
        compute: conversion,
    },
    Sheet {
        id: "uv-dose",
        purpose: "Dose of a UV lamp",
        source: "definition: irradiance x time",
        inputs: &[
            Input::amount("irradiance", "irradiance at the film", IRRADIANCE, (0.0, 20_000.0), "80"),
            Input::amount("seconds", "time under the lamp", SECONDS, (0.0, 3600.0), "12 s"),
        ],
        compute: dose,
    },
];
