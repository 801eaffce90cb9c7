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

use uom::si::diffusion_coefficient::square_meter_per_second;
use uom::si::f64::{Length, Ratio, ThermodynamicTemperature, Time};
use uom::si::ratio::ratio;

use super::measure::{
    FILM, HOURS, MINUTES, Measure, NUMBER, Quantity, SECONDS, SHARE, TEMPERATURE,
};
use super::worksheet::{Input, Inputs, Refusal, Sheet, Worksheet};
use crate::units::{Span, System, Temperature, num};

mod credit;
mod drying;
mod stack;

pub use credit::{Band, Bands, Credited, RateHistory, RateLaw, Stretch};
pub use drying::{
    fourier_for, profile, retained, retained_with_air_resistance, scaled_wait, sink_in,
};
pub use stack::{
    Dated, Deed, Hold, MODES, Needed, Stack, Statement, calibrated, hold_back, last_coat,
    model_ready, play,
};

const MODEL: &str = "one-sided drying of a plane sheet after Crank, The Mathematics of Diffusion (from memory, to be \
     confirmed), calibrated to the recipe's own cure time";

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

/// Adds the solvent left at the hour that is asked about, if one is.
fn solvent_then(
    inputs: &Inputs,
    sheet: Worksheet,
    history: &RateHistory,
    mut stack: Stack,
    at_last: Time,
) -> Result<Worksheet, Refusal> {
    let Some(asked) = inputs.maybe::<Time>("at")? else {
        return Ok(sheet);
    };
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
    stack.wait(history.credited(asked) - history.credited(at_last));
    Ok(match (stack.mean(), stack.bottom()) {
        (Some(mean), Some(bottom)) => sheet.also("solvent left then, mean", mean, SHARE).also(
            "solvent left then, at the wood",
            bottom,
            SHARE,
        ),
        _ => sheet,
    })
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
    let statement = Statement::new(
        &nominal(inputs)?,
        inputs.get("cure-hours")?,
        inputs.get("left")?,
        inputs.get("burn-in")?,
    )?;
    let credited: Vec<Dated> = deeds
        .iter()
        .map(|(at, deed)| (history.credited(*at), *deed))
        .collect();
    let needed = statement.needed(&credited)?;
    let at_last = deeds.last().map_or(last, |(at, _)| *at);
    // A wait is credited time: the clock shows when it has been earned.
    let clock = |wait: Time| {
        history
            .clock(history.credited(last) + wait)
            .map(|t| t - last)
            .ok_or_else(|| {
                Refusal::no_answer(
                    "temperature",
                    "of the room",
                    "a last temperature at which time is credited; it holds on for ever",
                )
            })
    };
    let recipe = clock(needed.recipe)?;
    let wait = clock(needed.hold.wait)?;
    let d = statement.diffusion().get::<square_meter_per_second>() * 1e12 * 3600.0;
    let film = needed.stack.film();
    let mut sheet = Worksheet::new("wait after the last coat", wait, HOURS)
        .also("added by the model", wait - recipe, HOURS)
        .also("film", film, FILM)
        .step("film", "sum of coats less sandings", film, FILM)
        .step(
            "nominal film",
            "sum of nominal coats less sanding",
            statement.film(),
            FILM,
        )
        .step(
            "diffusion coefficient at the reference",
            "so that the nominal schedule is ready cure-hours after its last coat",
            d,
            DIFFUSION,
        )
        .step(
            "credited wait by the square of the film",
            "cure-hours x (film / nominal film)^2",
            needed.thick,
            HOURS,
        );
    sheet = match needed.model {
        Some(model) => sheet
            .also("credited wait by the model alone", model, HOURS)
            .step(
                "credited wait by the model alone",
                "until the mean share of solvent is down to left",
                model,
                HOURS,
            ),
        None => {
            sheet.assumes("the model gave no answer; recipe and square of the film alone count")
        }
    };
    sheet = solvent_then(inputs, sheet, &history, needed.stack, at_last)?;
    Ok(sheet
        .step("credited wait that counts", "the longest of cure-hours, square of the film and model: a model may only hold back", needed.hold.wait, HOURS)
        .step("wait by the recipe, in clock hours", "cure-hours of credited time after the last coat", recipe, HOURS)
        .step("wait after the last coat, in clock hours", "until that much is credited", wait, HOURS)
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
