//! Solvent in a film that was built up coat by coat, calibrated to the recipe's own statement.
//!
//! *Invariants*: no diffusion coefficient is typed or kept; a model may only lengthen a wait.
//!
//! *Not here*: credit policies (`credit`), one film (`drying`).

use uom::si::diffusion_coefficient::square_meter_per_second;
use uom::si::f64::{DiffusionCoefficient, Length, Ratio, Time};

use super::credit::RateHistory;
use super::drying::{eigenvalues, falling_root, fourier_for, scaled_wait};
use super::{hours, micrometres, of_hours, of_micrometres, share};
use crate::science::input::Refusal;
use crate::science::measure::{FILM, HOURS, Quantity};
use crate::units::System;

/// The modes that a stack carries: with 16 the reference schedule is met within 0.0001 h of the exact 421 h.
pub const MODES: usize = 16;

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

/// Coats less sandings.
fn film_of(deeds: &[Dated]) -> Length {
    deeds.iter().fold(Length::of_base(0.0), |sum, (_, deed)| {
        sum + match deed {
            Deed::Coat(film) => *film,
            Deed::Sand(film) => -*film,
        }
    })
}

/// The history in which the clock is credited time itself.
fn credited_time() -> Result<RateHistory, Refusal> {
    RateHistory::new(&[(Time::of_base(-1e12), 1.0)])
        .ok_or_else(|| Refusal::no_answer("temperature", "", "a steady temperature"))
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
    let film = film_of(nominal);
    let fourier = fourier_for(left).ok_or_else(|| no("a share left between 0 and 100 %"))?;
    let single = fourier * micrometres(film).powi(2) / hours(wait);
    let steady = credited_time()?;
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

/// A recipe's own statement about its cure: "cured after this wait on this schedule", with its calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct Statement {
    wait: Time,
    left: Ratio,
    burn_in: Length,
    film: Length,
    diffusion: DiffusionCoefficient,
}

/// What a film needs after its last coat, in credited time.
#[derive(Debug, Clone, PartialEq)]
pub struct Needed {
    /// The recipe's own wait.
    pub recipe: Time,
    /// The wait by the square of the film, where it is thicker than the nominal one.
    pub thick: Time,
    /// The wait of the model; `None` when its arithmetic gave no answer, and then it adds nothing.
    pub model: Option<Time>,
    /// The wait that counts, the longest of the three.
    pub hold: Hold,
    /// The stack after the last deed.
    pub stack: Stack,
}

impl Statement {
    /// Reads a statement and calibrates it, see [`calibrated`].
    ///
    /// Symbols: `nominal` deeds in credited time (a rework step begins with its nominal start film as one coat long
    /// before), `wait` credited after the last coat, `left` mean share at readiness, `burn_in` see [`Stack::new`].
    pub fn new(
        nominal: &[Dated],
        wait: Time,
        left: Ratio,
        burn_in: Length,
    ) -> Result<Self, Refusal> {
        Ok(Self {
            wait,
            left,
            burn_in,
            film: film_of(nominal),
            diffusion: calibrated(nominal, wait, left, burn_in, MODES)?,
        })
    }

    /// The film of the nominal schedule.
    pub const fn film(&self) -> Length {
        self.film
    }

    /// The calibrated diffusion coefficient at the reference temperature. It is worked out anew, never kept.
    pub const fn diffusion(&self) -> DiffusionCoefficient {
        self.diffusion
    }

    /// What a film with these deeds needs after its last coat. Deeds are dated in credited time, in their order.
    ///
    /// Equation: the longest of the recipe's wait, `wait (film / nominal film)^2` and the time at which the mean
    /// share of solvent is down to the statement's. Source, validity and accuracy: [`scaled_wait`], [`Stack`].
    /// A piece made exactly to the nominal schedule needs exactly the recipe's wait.
    pub fn needed(&self, deeds: &[Dated]) -> Result<Needed, Refusal> {
        let last = last_coat(deeds)
            .ok_or_else(|| Refusal::no_answer("coat", "none", "one coat or more"))?;
        let steady = credited_time()?;
        let stack = play(
            Stack::new(self.diffusion, self.burn_in, MODES),
            deeds,
            &steady,
        )?;
        let after = deeds.last().map_or(last, |(at, _)| *at) - last;
        let model = stack.time_to(self.left).map(|wait| after + wait);
        let thick = scaled_wait(self.wait, self.film, stack.film());
        // The calibration meets the nominal schedule within a billionth; that is no hold.
        let real = model.filter(|t| t.to_base() > self.wait.to_base() * (1.0 + 1e-9));
        let thicker = (thick.to_base() > self.wait.to_base() * (1.0 + 1e-9)).then_some(thick);
        Ok(Needed {
            recipe: self.wait,
            thick,
            model,
            hold: hold_back(self.wait, &[real, thicker]),
            stack,
        })
    }
}
