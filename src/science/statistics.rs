//! Statistics of readings and counts: spread, control limits, capability, defects, yields.
//!
//! *Invariants*: a sample's spread uses n - 1; limits computed from data are never called limits of quality.
//!
//! *Not here*: which readings belong together, and what a shop decides on them.

use super::measure::{NUMBER, SHARE};
use super::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};
use crate::units::num;

/// Share of a standard normal population below `z`.
///
/// Equation: `Phi(z) = erfc(-z / sqrt 2) / 2`; erf by its Maclaurin series below 3, erfc by its continued fraction
/// above. Source: Abramowitz and Stegun, 7.1.5 and 7.1.14 (from memory, to be confirmed).
/// Accuracy: about 1e-13 absolute. Valid: any finite z.
pub fn normal_below(z: f64) -> f64 {
    let x = z.abs() / std::f64::consts::SQRT_2;
    let upper = erfc(x) / 2.0;
    if z > 0.0 { 1.0 - upper } else { upper }
}

/// Complementary error function of a value of 0 or more; see [`normal_below`] for source and accuracy.
pub(super) fn erfc(x: f64) -> f64 {
    let root_pi = std::f64::consts::PI.sqrt();
    if x < 3.0 {
        // 7.1.6: erf x = 2/sqrt(pi) e^(-x^2) sum 2^n x^(2n+1) / (1 3 5 ... (2n+1)), all terms of one sign.
        let (mut term, mut sum, mut odd) = (x, x, 1.0);
        while term > sum * 1e-17 {
            odd += 2.0;
            term *= 2.0 * x * x / odd;
            sum += term;
        }
        1.0 - 2.0 / root_pi * (-x * x).exp() * sum
    } else {
        // 7.1.14 from the inside out; 60 levels are far more than 1e-16 needs at x = 3.
        let tail = (1..=60_u32)
            .rev()
            .fold(x, |below, k| x + f64::from(k) / 2.0 / below);
        (-x * x).exp() / (root_pi * tail)
    }
}

/// Mean of a sample; `None` for an empty one. Equation: sum / n. Source: arithmetic.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / num::count(values.len()))
}

/// Standard deviation of a sample with n - 1; `None` below two values.
///
/// Equation: `sqrt(sum (x - mean)^2 / (n - 1))`, in two steps with the correction for the rounding of the mean, so
/// that readings far from zero keep their digits. Source: arithmetic; the corrected two-step form after Chan, Golub
/// and `LeVeque`, 1983 (from memory, to be confirmed).
pub fn deviation(values: &[f64]) -> Option<f64> {
    let center = mean(values)?;
    let n = num::count(values.len());
    let squares: f64 = values.iter().map(|x| (x - center).powi(2)).sum();
    let drift: f64 = values.iter().map(|x| x - center).sum();
    (values.len() > 1).then(|| ((squares - drift * drift / n).max(0.0) / (n - 1.0)).sqrt())
}

/// Fewest readings from which limits are shown for a process: below it they move with each further reading.
/// Source: the rule of 20 or more that [`individuals`] states (from memory, to be confirmed).
pub const STABLE: usize = 20;

/// Control limits of single readings in their order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// Mean of the readings.
    pub center: f64,
    /// Mean of the moving ranges of two.
    pub range: f64,
    /// Lower limit of a reading.
    pub low: f64,
    /// Upper limit of a reading.
    pub high: f64,
    /// Upper limit of a moving range.
    pub range_high: f64,
}

/// Control limits for individuals and moving range; `None` below two readings.
///
/// Equation: `mean +- 3 MR / 1.128`, range limit `3.267 MR`, MR the mean absolute difference of neighbours.
/// Valid: readings in the order in which they were taken, near normal; 20 or more for a stable figure.
/// Source: NIST/SEMATECH e-Handbook 6.3.2.2 with d2 = 1.128 and D4 = 3.267 for n = 2 (from memory, to be confirmed).
/// Ignores: trends and runs inside the limits.
pub fn individuals(values: &[f64]) -> Option<Individuals> {
    let center = mean(values)?;
    let ranges: Vec<f64> = values
        .iter()
        .zip(values.iter().skip(1))
        .map(|(a, b)| (b - a).abs())
        .collect();
    let range = mean(&ranges)?;
    let reach = 3.0 * range / 1.128;
    Some(Individuals {
        center,
        range,
        low: center - reach,
        high: center + reach,
        range_high: 3.267 * range,
    })
}

/// Capability of a process against two specification limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capability {
    /// Width of the specification over six deviations.
    pub cp: f64,
    /// Distance of the mean from the nearer limit over three deviations.
    pub cpk: f64,
}

/// Capability from mean and standard deviation; `None` when the deviation is not above 0.
///
/// Equation: `Cp = (high - low)/(6 s)`, `Cpk = min(high - mean, mean - low)/(3 s)`.
/// Valid: a process in statistical control, near normal. Source: NIST/SEMATECH e-Handbook 6.1.6 (from memory, to be
/// confirmed). Ignores: the uncertainty of s, large below 30 readings.
pub fn capability(center: f64, s: f64, low: f64, high: f64) -> Option<Capability> {
    (s > 0.0).then(|| Capability {
        cp: (high - low) / (6.0 * s),
        cpk: (high - center).min(center - low) / (3.0 * s),
    })
}

/// One line of a Pareto listing.
#[derive(Debug, Clone, PartialEq)]
pub struct ParetoLine {
    /// Position in the list that was given, counted from 0.
    pub at: usize,
    /// Its count.
    pub count: i64,
    /// Its share of all.
    pub share: f64,
    /// Share of all up to and with this line.
    pub so_far: f64,
}

/// Counts from the most frequent down, with running shares; equal counts stay in the order given.
///
/// Equation: share = count / sum. Source: arithmetic. Empty when nothing was counted.
pub fn pareto(counts: &[i64]) -> Vec<ParetoLine> {
    let all: i64 = counts.iter().sum();
    if all <= 0 {
        return Vec::new();
    }
    let mut lines: Vec<(usize, i64)> = counts.iter().copied().enumerate().collect();
    lines.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let mut running = 0;
    lines
        .into_iter()
        .map(|(at, count)| {
            running += count;
            ParetoLine {
                at,
                count,
                share: num::float(count) / num::float(all),
                so_far: num::float(running) / num::float(all),
            }
        })
        .collect()
}

/// Wilson's interval for a share, 95 %: what a count out of a number says about the process.
///
/// Symbols: `good` of `of` (whole, of above 0). Equation: `(p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2))/(1 + z^2/n)`,
/// z = 1.959964. Source: Wilson, J. Am. Stat. Assoc. 22 (1927), 209 (from memory, to be confirmed).
pub fn share_interval(good: f64, of: f64) -> Option<(f64, f64)> {
    if !(of > 0.0 && (0.0..=of).contains(&good)) {
        return None;
    }
    let (p, z2) = (good / of, 1.959_964_f64.powi(2));
    let middle = p + z2 / (2.0 * of);
    let reach = (z2 * (p * (1.0 - p) / of + z2 / (4.0 * of * of))).sqrt();
    let whole = 1.0 + z2 / of;
    Some((
        ((middle - reach) / whole).max(0.0),
        ((middle + reach) / whole).min(1.0),
    ))
}

/// A straight line through readings, by least squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StraightLine {
    /// Where it begins, at an `x` of 0.
    pub intercept: f64,
    /// Its rise for one `x`.
    pub slope: f64,
    /// Standard deviation of the readings about it, with n - 2.
    pub scatter: f64,
    /// How many readings there are.
    pub readings: usize,
    mean: f64,
    squares: f64,
}

/// Where a straight line comes to a value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// At this `x`.
    pub at: f64,
    /// The range in which a reading may do so, 95 %; `None` where the readings scatter too much to give one.
    pub range: Option<(f64, f64)>,
}

/// The straight line through readings `(x, y)` by least squares; `None` below three readings or when all `x` are one.
///
/// Equation: `b = sum((x - X)(y - Y)) / sum((x - X)^2)`, `a = Y - b X`, `s^2 = sum((y - a - b x)^2) / (n - 2)`, with the
/// means `X` and `Y`. Source: least squares; NIST's reference data set Norris (from memory, to be confirmed) comes out.
/// Ignores: an error of `x`, a bend.
pub fn straight_line(points: &[(f64, f64)]) -> Option<StraightLine> {
    let (xs, ys): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
    let (mean_x, mean_y) = (mean(&xs)?, mean(&ys)?);
    let squares: f64 = xs.iter().map(|x| (x - mean_x).powi(2)).sum();
    if points.len() < 3 || squares <= 0.0 {
        return None;
    }
    let products: f64 = points
        .iter()
        .map(|(x, y)| (x - mean_x) * (y - mean_y))
        .sum();
    let slope = products / squares;
    let intercept = mean_y - slope * mean_x;
    let left: f64 = points
        .iter()
        .map(|(x, y)| (y - mean_y - slope * (x - mean_x)).powi(2))
        .sum();
    Some(StraightLine {
        intercept,
        slope,
        scatter: (left / (num::count(points.len()) - 2.0)).sqrt(),
        readings: points.len(),
        mean: mean_x,
        squares,
    })
}

impl StraightLine {
    /// Where a rising line comes to `y`, with the range in which one more reading may; `None` when it does not rise.
    ///
    /// Symbols: `s` scatter, at least `least`; `t` Student's at n - 2; `d = (y - a) / b - X`, `S = sum((x - X)^2)`,
    /// `g = t^2 s^2 / (b^2 S)`. Equation: `x = X + (d +- t s / b sqrt(d^2 / S + (1 - g)(1 + 1/n))) / (1 - g)`; no range
    /// when `g` is 1 or more: then the rise itself cannot be told from none.
    /// Source: inverse regression, Draper and Smith, Applied Regression Analysis (from memory, to be confirmed).
    pub fn reach(&self, y: f64, least: f64) -> Option<Reach> {
        if self.slope <= 0.0 {
            return None;
        }
        let n = num::count(self.readings);
        let at = (y - self.intercept) / self.slope;
        let ts = student(self.readings.saturating_sub(2)) * self.scatter.max(least) / self.slope;
        let g = ts * ts / self.squares;
        let d = at - self.mean;
        let range = (g < 1.0).then(|| {
            let reach = ts * (d * d / self.squares + (1.0 - g) * (1.0 + 1.0 / n)).sqrt();
            let middle = self.mean + d / (1.0 - g);
            (middle - reach / (1.0 - g), middle + reach / (1.0 - g))
        });
        Some(Reach { at, range })
    }
}

// Student's t, 95 % on both sides; above 30 that of 30, which is the wider. Source: published tables (from memory, to be
// confirmed).
fn student(freedom: usize) -> f64 {
    const T: [f64; 30] = [
        12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160,
        2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056,
        2.052, 2.048, 2.045, 2.042,
    ];
    let at = freedom.clamp(1, T.len()) - 1;
    T.get(at).copied().unwrap_or(f64::INFINITY)
}

fn values(inputs: &Inputs) -> Result<Vec<f64>, Refusal> {
    inputs.list("reading")
}

fn few(name: &str) -> impl Fn() -> Refusal + '_ {
    move || Refusal::no_answer(name, "", "two readings or more that differ")
}

fn spread(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let readings = values(inputs)?;
    let center = mean(&readings).ok_or_else(few("reading"))?;
    let s = deviation(&readings).ok_or_else(few("reading"))?;
    let u = s / num::count(readings.len()).sqrt();
    Ok(Worksheet::new("mean", center, NUMBER)
        .also("standard deviation", s, NUMBER)
        .also("standard uncertainty of the mean", u, NUMBER)
        .also("readings", num::count(readings.len()), NUMBER)
        .step("mean", "sum / n", center, NUMBER)
        .step(
            "standard deviation",
            "sqrt(sum of (reading - mean)^2 / (n - 1))",
            s,
            NUMBER,
        )
        .step(
            "standard uncertainty of the mean",
            "standard deviation / sqrt(n)",
            u,
            NUMBER,
        )
        .assumes(
            "readings are independent and of one kind; the figures carry the unit of the readings",
        ))
}

fn control(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let readings = values(inputs)?;
    let limits = individuals(&readings).ok_or_else(few("reading"))?;
    let outside = readings
        .iter()
        .filter(|r| !(limits.low..=limits.high).contains(*r))
        .count();
    Ok(Worksheet::new("upper control limit", limits.high, NUMBER)
        .also("mean", limits.center, NUMBER)
        .also("lower control limit", limits.low, NUMBER)
        .also("mean moving range", limits.range, NUMBER)
        .also("upper limit of the moving range", limits.range_high, NUMBER)
        .also("readings outside", num::count(outside), NUMBER)
        .step("mean", "sum / n", limits.center, NUMBER)
        .step(
            "mean moving range",
            "mean of |difference of neighbours|",
            limits.range,
            NUMBER,
        )
        .step(
            "upper control limit",
            "mean + 3 x moving range / 1.128",
            limits.high,
            NUMBER,
        )
        .step(
            "lower control limit",
            "mean - 3 x moving range / 1.128",
            limits.low,
            NUMBER,
        )
        .step(
            "upper limit of the moving range",
            "3.267 x moving range",
            limits.range_high,
            NUMBER,
        )
        .assumes(
            "readings stand in the order in which they were taken; 20 or more give a stable figure",
        )
        .assumes("control limits say what the process does, not what a recipe wants"))
}

fn capable(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let (center, s): (f64, f64) = (inputs.get("mean")?, inputs.get("deviation")?);
    let (low, high): (f64, f64) = (inputs.get("low")?, inputs.get("high")?);
    if low >= high {
        return Err(Refusal::no_answer(
            "low",
            low.to_string(),
            format!("below high, {high}"),
        ));
    }
    let found = capability(center, s, low, high).ok_or_else(few("deviation"))?;
    Ok(Worksheet::new("Cpk", found.cpk, NUMBER)
        .also("Cp", found.cp, NUMBER)
        .step("Cp", "(high - low) / (6 x deviation)", found.cp, NUMBER)
        .step(
            "Cpk",
            "the nearer of (high - mean) and (mean - low) / (3 x deviation)",
            found.cpk,
            NUMBER,
        )
        .assumes("the process is in statistical control and near normal"))
}

fn defects(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let counts: Vec<i64> = inputs
        .list::<f64>("count")?
        .into_iter()
        .filter_map(num::whole)
        .collect();
    let lines = pareto(&counts);
    let first = lines
        .first()
        .ok_or_else(|| Refusal::no_answer("count", "0", "at least one count above 0"))?;
    let few = lines
        .iter()
        .position(|line| line.so_far >= 0.8)
        .map_or(lines.len(), |at| at + 1);
    let mut sheet = Worksheet::new("kinds that make up 80 %", num::count(few), NUMBER)
        .also("counted in all", num::float(counts.iter().sum()), NUMBER)
        .also("share of the most frequent", first.share, SHARE)
        .assumes("kinds are named by their position in the list that was given");
    for line in &lines {
        sheet = sheet.step(
            &format!("kind {} ({} times), running share", line.at + 1, line.count),
            "sum of counts so far / sum of all",
            line.so_far,
            SHARE,
        );
    }
    Ok(sheet)
}

fn first_time(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let good: Vec<f64> = inputs.list("good")?;
    let started: Vec<f64> = inputs.list("started")?;
    if good.len() != started.len() {
        return Err(Refusal::no_answer(
            "good",
            format!("{} values", good.len()),
            format!("as many as started, {}", started.len()),
        ));
    }
    let mut rolled = 1.0;
    let mut steps = Vec::new();
    for (at, (good, started)) in good.iter().zip(&started).enumerate() {
        if good > started {
            return Err(Refusal::no_answer(
                "good",
                good.to_string(),
                format!("at most {started}, the pieces started"),
            ));
        }
        rolled *= good / started;
        steps.push((format!("step {}", at + 1), good / started));
    }
    let mut sheet = Worksheet::new(
        "right first time through all steps",
        uom::si::f64::Ratio::new::<uom::si::ratio::ratio>(rolled),
        SHARE,
    )
    .assumes("good counts pieces that left the step without rework; steps are independent");
    for (what, value) in steps {
        sheet = sheet.step(&what, "good / started", ratio(value), SHARE);
    }
    if let ([good], [started]) = (good.as_slice(), started.as_slice())
        && let Some((low, high)) = share_interval(*good, *started)
    {
        sheet = sheet
            .also("95 % interval, low", ratio(low), SHARE)
            .also("95 % interval, high", ratio(high), SHARE)
            .source("Wilson, J. Am. Stat. Assoc. 22 (1927), 209 (from memory, to be confirmed)");
    }
    Ok(sheet.step(
        "through all steps",
        "product of the steps",
        ratio(rolled),
        SHARE,
    ))
}

fn ratio(value: f64) -> uom::si::f64::Ratio {
    uom::si::f64::Ratio::new::<uom::si::ratio::ratio>(value)
}

const READING: Input = Input::amount(
    "reading",
    "readings in the order in which they were taken, all in one unit",
    NUMBER,
    (-1e9, 1e9),
    "[49.6,47.6,49.9,51.3,47.8,51.2,52.6,52.4,53.6,52.1]",
)
.list(2, 500);

/// The worksheets of this subject.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "spread",
        purpose: "Mean and standard deviation of readings",
        source: "arithmetic, with n - 1",
        inputs: &[READING],
        compute: spread,
    },
    Sheet {
        id: "control-limits",
        purpose: "Control limits of single readings and their moving range",
        source: "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory, to be confirmed)",
        inputs: &[READING],
        compute: control,
    },
    Sheet {
        id: "capability",
        purpose: "Cp and Cpk of a process against two limits",
        source: "NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6 (from memory, to be confirmed)",
        inputs: &[
            Input::amount("mean", "mean of the readings", NUMBER, (-1e9, 1e9), "16"),
            Input::amount(
                "deviation",
                "standard deviation of the readings",
                NUMBER,
                (0.0, 1e9),
                "2",
            ),
            Input::amount(
                "low",
                "lower limit that the recipe wants",
                NUMBER,
                (-1e9, 1e9),
                "8",
            ),
            Input::amount(
                "high",
                "upper limit that the recipe wants",
                NUMBER,
                (-1e9, 1e9),
                "20",
            ),
        ],
        compute: capable,
    },
    Sheet {
        id: "pareto",
        purpose: "Defect counts from the most frequent down",
        source: "arithmetic",
        inputs: &[Input::count(
            "count",
            "how often each kind was found",
            (0, 1_000_000),
            "[12,3,31,7]",
        )
        .list(1, 60)],
        compute: defects,
    },
    Sheet {
        id: "right-first-time",
        purpose: "Share of pieces without rework, per step and through all steps",
        source: "arithmetic: product of the steps' shares",
        inputs: &[
            Input::count(
                "good",
                "pieces that left each step without rework",
                (0, 1_000_000),
                "[47,45]",
            )
            .list(1, 40),
            Input::count(
                "started",
                "pieces that entered each step",
                (1, 1_000_000),
                "[50,48]",
            )
            .list(1, 40),
        ],
        compute: first_time,
    },
];
