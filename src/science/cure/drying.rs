//! One film that dries from one face: Crank's plane sheet and what follows from its scaling.
//!
//! *Not here*: films that were built up coat by coat (`stack`).

use std::f64::consts::{FRAC_PI_2, PI};

use uom::si::f64::{Length, Ratio, Time};

use super::share;
use crate::science::measure::Quantity;
use crate::science::statistics::erfc;
use crate::units::num;

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
pub(super) fn eigenvalues(modes: usize) -> impl Iterator<Item = f64> {
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
pub(super) fn falling_root(first: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
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
