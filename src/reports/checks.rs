//! When booths were looked at last, and when they are to be looked at again.
//!
//! *Invariants*: nothing is overdue by an interval that nobody entered; what was never done is unknown.

use super::air;
use crate::ledger::{
    ALL_BOOTHS, BoothSurvey, CHECK_EVERY, CeilingRow, FILTER_RISE, GaugeReading, Ledger,
    LedgerError, MissedCheck, Months, SURVEY_EVERY, shifted,
};
use crate::science::booth::{EARLIEST, LATEST, hold_gauge};
use crate::science::registry;
use crate::science::validity::Against;
use crate::science::worksheet::{Inputs, Origin, Quantity, Refusal};
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::units::{Amount, Dimension, Moment, Pressure, Span, find, num, read};
use serde_json::{Value, json};
use uom::si::f64::Pressure as UomPressure;

/// What is done again and again in a booth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// It is looked at before spraying: fan, gauge, filters.
    Check,
    /// The air speed over its open face is surveyed.
    Survey,
    /// The filter gauge is read.
    Gauge,
}

impl Kind {
    /// What people call it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Check => "booth check",
            Self::Survey => "face survey",
            Self::Gauge => "filter gauge",
        }
    }

    /// The name under which its longest interval is entered.
    pub const fn limit(self) -> &'static str {
        match self {
            Self::Check => CHECK_EVERY,
            Self::Survey => SURVEY_EVERY,
            Self::Gauge => FILTER_RISE,
        }
    }
}

/// How a check stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// The interval is over, or the exhaust stopped since.
    Overdue,
    /// It was never done.
    Unknown,
    /// It was done, and the interval is not over.
    Done,
    /// It was done, and nobody entered an interval, or a mark.
    NoneEntered,
    /// The filter gauge is at its mark or above it.
    AtMark,
    /// The filter gauge reads less than with clean filters: one is missing or torn, a tube is blocked, or the fan fails.
    TooLow,
}

impl State {
    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Overdue => "overdue",
            Self::Unknown => "unknown",
            Self::Done => "done",
            Self::NoneEntered => "none_entered",
            Self::AtMark => "at mark",
            Self::TooLow => "too low",
        }
    }
}

/// One kind of check of one booth.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Check {
    /// The booth.
    pub booth: String,
    /// What is done there.
    pub kind: Kind,
    /// When it was done last.
    pub last: Option<Moment>,
    /// The longest interval that the shop entered.
    pub every: Option<CeilingRow>,
    /// When it is to be done again.
    pub due: Option<Moment>,
    /// How it stands.
    pub state: State,
    /// What was remarked at the newest check of the booth, in words.
    pub remark: Option<String>,
    /// What else is to be said: the figure of a survey, or that the exhaust stopped.
    pub more: String,
    /// Side of a survey's figure to its limit; of a check `unknown` while no exhaust state is known.
    pub side: &'static str,
    /// Of a filter gauge: the readings since the clean one, that one first.
    pub readings: Vec<GaugeReading>,
    /// Of a filter gauge below its mark: when a straight line through its readings comes to it.
    pub trend: Option<Trend>,
}

/// When a filter gauge comes to its mark.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Trend {
    /// There is no projection, and why.
    None(String),
    /// About then, and the earliest and latest where the readings give a range.
    About(Moment, Option<(Moment, Moment)>),
}

/// Fewest readings from which a filter gauge is projected.
const PROJECTED_FROM: usize = 3;

/// How far ahead a projection is told.
const AHEAD: Span = Span::hours(24 * 730);

impl Trend {
    /// In words.
    pub fn words(&self, calendar: &Calendar) -> String {
        // Days are what such a line can tell.
        let date = |m: Moment| calendar.local(m).format("%-d %b %Y").to_string();
        match self {
            Self::None(why) => format!("no projection: {why}"),
            Self::About(at, Some((early, late))) => format!(
                "at this rate the change mark is reached about {} ({} to {})",
                date(*at),
                date(*early),
                date(*late)
            ),
            Self::About(at, None) => format!(
                "at this rate the change mark is reached about {}; the readings scatter too much to give a range",
                date(*at)
            ),
        }
    }

    fn json(&self, calendar: &Calendar) -> Value {
        match self {
            Self::None(why) => json!({"about": null, "why": why}),
            Self::About(at, range) => json!({
                "about": calendar.rfc3339(*at),
                "earliest": range.map(|r| calendar.rfc3339(r.0)), "latest": range.map(|r| calendar.rfc3339(r.1)),
            }),
        }
    }
}

/// The readings of a filter gauge since the clean one as inputs of the worksheet of its trend.
pub fn trend_inputs(readings: &[GaugeReading], rise: &CeilingRow) -> Result<Inputs, Refusal> {
    let sheet = registry::find("filter-trend")
        .ok_or_else(|| Refusal::no_answer("filter-trend", "", "the worksheet of filter gauges"))?;
    let mut inputs = Inputs::of(sheet)?;
    let Some(clean) = readings.first() else {
        return Err(Refusal::no_answer("reading", "", "a clean reading"));
    };
    let of = |g: &GaugeReading| Origin::entry(g.entry, "");
    let values: Vec<(f64, Origin)> = readings.iter().map(|g| (g.reading.base(), of(g))).collect();
    let times: Vec<(f64, Origin)> = readings
        .iter()
        .map(|g| (num::float(g.at.since(clean.at).0) / 1e3, of(g)))
        .collect();
    inputs.fill_from("reading", &values)?;
    inputs.fill_from("time", &times)?;
    let more = format!(
        "rise of {}, entered by {}, source: {}, above the clean reading",
        rise.scope, rise.person, rise.source
    );
    let mark = Pressure(clean.reading.0 + rise.value);
    inputs.fill_from("mark", &[(mark.base(), Origin::entry(rise.entry, &more))])?;
    Ok(inputs)
}

fn trend(readings: &[GaugeReading], rise: &CeilingRow) -> Trend {
    if readings.len() < PROJECTED_FROM {
        return Trend::None(format!(
            "fewer than {PROJECTED_FROM} readings since the clean one"
        ));
    }
    let answer = trend_inputs(readings, rise).and_then(|i| i.sheet().run(&i));
    let answer = match answer {
        Ok(answer) => answer,
        Err(refusal) => return Trend::None(refusal.to_string()),
    };
    let clean = readings.first().map_or(Moment(0), |g| g.at);
    let after = |seconds: f64| {
        let ms = num::whole((seconds * 1e3).round()).unwrap_or(i64::MAX);
        clean.plus(Span(ms.clamp(-AHEAD.0, 10 * AHEAD.0)))
    };
    if answer.result.base * 1e3 > num::float(AHEAD.0) {
        return Trend::None(
            "a straight line does not come to the mark within two years".to_owned(),
        );
    }
    let also = |name: &str| {
        let found = answer.also.iter().find(|f| f.name == name);
        found.map(|f| after(f.base))
    };
    Trend::About(after(answer.result.base), also(EARLIEST).zip(also(LATEST)))
}

/// Since when `booths` lists missed checks: the first production day of the month before. Those of every month stand in
/// its book.
pub fn missed_since(calendar: &Calendar, at: Moment) -> Result<Moment, LedgerError> {
    let month = calendar.day(at).month();
    let months = Months::one(&shifted(&month, -1).unwrap_or(month))?;
    Ok(months.begin(calendar))
}

/// The production days on which booths were sprayed in without a check before, in words: each booth once.
pub fn missed_lines(missed: &[MissedCheck]) -> Vec<String> {
    let mut booths: Vec<&str> = missed.iter().map(|m| m.booth.as_str()).collect();
    booths.sort_unstable();
    booths.dedup();
    let line = |booth: &str| {
        let days: Vec<String> = missed
            .iter()
            .filter(|m| m.booth == booth)
            .map(|m| m.day.date().format("%-d %b %Y").to_string())
            .collect();
        let newest = days.iter().rev().take(10).rev();
        let newest: Vec<&str> = newest.map(String::as_str).collect();
        let s = if days.len() == 1 { "" } else { "s" };
        let last = if days.len() > newest.len() {
            "; the newest: "
        } else {
            ": "
        };
        format!(
            "{}: sprayed in without a check before it on {} production day{s}{last}{}",
            shown(booth),
            days.len(),
            newest.join(", ")
        )
    };
    booths.into_iter().map(line).collect()
}

/// The same as JSON.
pub fn missed_json(missed: &[MissedCheck], calendar: &Calendar) -> Vec<Value> {
    missed
        .iter()
        .map(|m| {
            json!({
                "booth": m.booth, "missed_check": m.day.date().to_string(),
                "first_coat_began": calendar.rfc3339(m.began),
            })
        })
        .collect()
}

impl Check {
    /// Its moments in words.
    pub fn words(&self, calendar: &Calendar, at: Moment) -> String {
        let near = |m: Moment| calendar.near(m, at);
        let last = self
            .last
            .map_or_else(|| "never done".to_owned(), |m| format!("last {}", near(m)));
        let due = match (self.due, &self.every) {
            _ if self.kind == Kind::Gauge => return last,
            (Some(due), _) => format!("due {}", calendar.due(due, at)),
            (None, Some(l)) => format!("due every {}", shown(&l.typed)),
            (None, None) => "no interval entered".to_owned(),
        };
        format!("{last}, {due}")
    }

    /// The remark of the newest check in words; a check that has one is not simply done.
    pub fn remarked(&self) -> Option<String> {
        let remark = self.remark.as_ref()?;
        Some(format!("checked, with a remark: {}", shown(remark)))
    }

    /// As one line for people.
    pub fn line(&self, calendar: &Calendar, at: Moment) -> String {
        let state = match self.state {
            State::Overdue => "OVERDUE",
            State::Unknown => "unknown",
            State::AtMark => "AT ITS MARK",
            State::TooLow => "TOO LOW",
            State::Done | State::NoneEntered => "",
        };
        let mut parts = vec![
            format!("{}: {}", shown(&self.booth), self.kind.word()),
            self.words(calendar, at),
        ];
        parts.extend([state.to_owned(), self.more.clone()]);
        parts.extend(self.trend.as_ref().map(|t| t.words(calendar)));
        parts.extend(self.remarked());
        parts.retain(|p| !p.is_empty());
        parts.join(", ")
    }

    /// As JSON.
    pub fn json(&self, calendar: &Calendar) -> Value {
        json!({
            "booth": self.booth, "check": self.kind.word(),
            "last": self.last.map(|m| calendar.rfc3339(m)), "due": self.due.map(|m| calendar.rfc3339(m)),
            "state": self.state.word(), "words": self.more, "remark": self.remark,
            "readings": self.readings.iter().map(|g| json!({
                "at": calendar.rfc3339(g.at), "mpa": g.reading.0, "entry": g.entry,
            })).collect::<Vec<_>>(),
            "trend": self.trend.as_ref().map(|t| t.json(calendar)),
            "every": self.every.as_ref().map(|l| json!({"typed": l.typed, "source": l.source, "entered_by": l.person})),
        })
    }
}

/// The checks of every booth that the record knows, as of `at`.
pub fn checks(ledger: &Ledger, at: Moment) -> Result<Vec<Check>, LedgerError> {
    let limits = ledger.ceilings()?;
    let calendar = ledger.calendar();
    let (surveys, last) = (ledger.surveys()?, ledger.last_checks(at)?);
    let stopped = ledger.exhaust_unknown(at)?;
    let gauges = ledger.gauge_readings(at)?;
    let mut out = Vec::new();
    for booth in &ledger.booths(at)? {
        let newest = last.iter().find(|c| c.booth == *booth);
        let mut check = of(booth, Kind::Check, newest.map(|c| c.at), &limits, at);
        check.remark = newest.and_then(|c| c.note.clone());
        if let Some(stop) = stopped.iter().find(|s| s.booth == *booth) {
            check.state = State::Overdue;
            check.side = "unknown";
            check.more = format!(
                "no exhaust state is known since it stopped {}",
                calendar.near(stop.from, at)
            );
        }
        out.push(check);
        let survey = surveys.iter().find(|s| s.booth == *booth && s.at <= at);
        let mut check = of(booth, Kind::Survey, survey.map(|s| s.at), &limits, at);
        if let Some(survey) = survey {
            (check.side, check.more) = figure(survey, &limits, &calendar);
        }
        out.push(check);
        out.push(gauge(booth, &gauges, &limits, at));
    }
    Ok(out)
}

fn of(booth: &str, kind: Kind, last: Option<Moment>, limits: &[CeilingRow], at: Moment) -> Check {
    let find = |scope: &str| {
        limits
            .iter()
            .find(|l| l.what == kind.limit() && l.scope == scope)
    };
    let every = find(booth).or_else(|| find(ALL_BOOTHS)).cloned();
    let due = last
        .zip(every.as_ref())
        .map(|(last, every)| last.plus(Span(every.value)));
    let state = match (last, due) {
        (None, _) => State::Unknown,
        (Some(_), None) => State::NoneEntered,
        (Some(_), Some(due)) if due < at => State::Overdue,
        (Some(_), Some(_)) => State::Done,
    };
    Check {
        booth: booth.to_owned(),
        kind,
        last,
        every,
        due,
        state,
        remark: None,
        more: String::new(),
        side: if last.is_none() { "unknown" } else { "" },
        readings: Vec::new(),
        trend: None,
    }
}

// A filter gauge: what it reads now against the clean reading and the mark, which is counted from that.
fn gauge(booth: &str, all: &[GaugeReading], limits: &[CeilingRow], at: Moment) -> Check {
    let of_booth: Vec<&GaugeReading> = all.iter().filter(|g| g.booth == booth).collect();
    let last = of_booth.last().map(|g| g.at);
    let mut check = of(booth, Kind::Gauge, last, limits, at);
    // A rise is no interval: nothing falls due by it.
    check.due = None;
    let since = of_booth.iter().rposition(|g| g.new_filters);
    let (Some(now), Some(since)) = (of_booth.last(), since) else {
        check.state = State::Unknown;
        check.side = "unknown";
        check.more = match of_booth.last() {
            None => String::new(),
            Some(g) => format!("{}, no clean reading to count from", g.reading.text(2)),
        };
        return check;
    };
    check.readings = of_booth.iter().skip(since).map(|g| (*g).clone()).collect();
    let clean = check.readings.first().map_or(now.reading, |g| g.reading);
    let mark = check.every.as_ref().map(|l| Pressure(clean.0 + l.value));
    // The mark is a sum of two figures that were each rounded to 1 mPa, so it may lie that far beside a reading of it.
    let reading = mark
        .filter(|m| (m.0 - now.reading.0).abs() <= 1)
        .unwrap_or(now.reading);
    let si = |p: Pressure| UomPressure::of_base(p.base());
    // Without a mark only the clean reading is held against: the end of a gauge's scale stands for it.
    let held = hold_gauge(
        si(reading),
        si(clean),
        si(mark.unwrap_or(Pressure(Pressure::HIGH / 4))),
        None,
    );
    check.state = match (held, mark) {
        (Err(_), _) => State::Unknown,
        (Ok(held), _) if held.clean == Against::Under => State::TooLow,
        (Ok(_), None) => State::NoneEntered,
        (Ok(held), Some(_)) if held.mark == Against::Under => State::Done,
        (Ok(_), Some(_)) => State::AtMark,
    };
    check.side = "";
    if let (State::Done, Some(rise)) = (check.state, &check.every) {
        check.trend = Some(trend(&check.readings, rise));
    }
    check.more = format!(
        "{}, clean {}, {}",
        now.reading.text(2),
        clean.text(2),
        mark.map_or_else(
            || "no mark entered".to_owned(),
            |m| format!("mark {}", m.text(2))
        )
    );
    check
}

fn figure(
    survey: &BoothSurvey,
    limits: &[CeilingRow],
    calendar: &Calendar,
) -> (&'static str, String) {
    let held = air::held(survey, limits, calendar);
    let words = match (held.side, air::limit_of(&survey.booth, limits)) {
        ("unknown", _) => "figure unknown".to_owned(),
        (side, Some(l)) => {
            let figure = if l.basis == "lowest" {
                held.lowest
            } else {
                held.average
            };
            let side = match side {
                "under" => "below",
                "over" => "above",
                other => other,
            };
            format!(
                "{} {}, {side} limit {}",
                l.basis,
                figure.text(1),
                shown(&l.typed)
            )
        }
        (_, None) => format!("average {}, no limit entered", held.average.text(1)),
    };
    (held.side, words)
}

/// Reads how often something is to be done: 1 minute to 800 days, in the record's milliseconds.
pub fn interval(text: &str) -> Result<i64, String> {
    const LONGEST: i64 = 800 * 86_400_000;
    read(text, Dimension::Time, find("min", Dimension::Time))
        .map_err(|e| e.to_string())?
        .exact(3)
        .filter(|ms| (60_000..=LONGEST).contains(ms))
        .ok_or_else(|| {
            format!(
                "interval \"{}\" is outside 1 min to 800 d; write such as 24h",
                shown(text)
            )
        })
}
