//! Control charts of film and amount: the points of the record in their order, and the limits that they make themselves.
//!
//! *Invariants*: what was measured once is one point, however many pieces it was written down for: a wet reading of a rack
//! and the amount of a pot are one each, else their spread would look smaller than it is. Limits come from the worksheet
//! `control-limits` and from no recipe; below [`STABLE`] points there are none.
//!
//! *Not here*: where a point is drawn (`screens`).

use crate::ledger::QualityRecord;
use crate::reports::together::ranges;
use crate::science::printed;
use crate::science::registry;
use crate::science::statistics::{Individuals, STABLE, individuals};
use crate::science::worksheet::{Inputs, Origin, Refusal, Worksheet};
use crate::shop::calendar::Calendar;
use crate::shop::quality::{CoatMade, GaugeRead};
use crate::shop::text::shown;
use crate::shop::words::{StepKind, Word};
use crate::units::{Amount, Film, Moment, System, Volume, num};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// The most points that limits are worked out from: the worksheet takes no more.
const MOST: usize = 500;

/// What is charted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measured {
    /// Film of one coat, from wet readings and the volume solids of the cup.
    WetFilm,
    /// Film of one coat, from two gauge readings and the coats between them.
    GaugeRise,
    /// Film as the gauge read it.
    GaugeFilm,
    /// Amount that left the pot for one piece.
    Amount,
}

impl Measured {
    /// Whether it is a film.
    pub const fn film(self) -> bool {
        !matches!(self, Self::Amount)
    }

    /// Unit of a charted value; the record keeps its thousandth.
    pub const fn unit(self) -> &'static str {
        if self.film() { "um" } else { "mL" }
    }

    /// A value of the record as people read it: with so many decimals that a point beside a limit is told from it.
    pub fn text(self, value: i64, system: System) -> String {
        if self.film() {
            Film(value).shown(system, 2)
        } else {
            Volume(value).shown(system, 2)
        }
    }
}

/// One point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// The value: nm or uL.
    pub value: i64,
    /// When.
    pub at: Moment,
    /// The action that it was written with.
    pub action: i64,
    /// Its entries.
    pub entries: Vec<i64>,
    /// The pieces that it was written down for.
    pub serials: Vec<String>,
    /// Who measured or sprayed.
    pub person: String,
}

impl Point {
    /// Its entries in words.
    pub fn entry_words(&self) -> String {
        let word = if self.entries.len() == 1 {
            "entry"
        } else {
            "entries"
        };
        format!("{word} {}", ranges(&self.entries))
    }
}

/// Where a point lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Between the limits, or where there are none.
    Within,
    /// Above the upper limit.
    Above,
    /// Below the lower limit.
    Below,
}

impl Side {
    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Within => "within",
            Self::Above => "above",
            Self::Below => "below",
        }
    }
}

/// A chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// What is charted.
    pub measured: Measured,
    /// Code of the recipe.
    pub recipe: String,
    /// The model, where it matters.
    pub model: Option<String>,
    /// What it is of, in words.
    pub name: String,
    /// The points in their order: at most the newest 500.
    pub points: Vec<Point>,
    /// Points before these, for which there was no room.
    pub left_out: usize,
    /// What belongs here and tells no figure: coats without an amount, wet readings whose solids are not known.
    pub unknown: usize,
    /// The limits, where there are points enough.
    pub limits: Option<Individuals>,
}

/// Which charts are asked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wanted<'a> {
    /// Films, or amounts; both where it is left out.
    pub film: Option<bool>,
    /// Only those of this recipe code.
    pub recipe: Option<&'a str>,
    /// Only pieces of this model.
    pub model: Option<&'a str>,
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    measured: Measured,
    recipe: String,
    model: Option<String>,
    kind: Option<StepKind>,
    surface: Option<String>,
}

impl Key {
    fn name(&self) -> String {
        let kind = self.kind.map_or("", Word::word);
        let on = match self.surface.as_deref() {
            None | Some(crate::shop::recipe::WHOLE) => String::new(),
            Some(surface) => format!(" on {surface}"),
        };
        match self.measured {
            Measured::WetFilm => format!("film of a {kind} coat, wet readings x solids"),
            Measured::GaugeRise => format!("film of a {kind} coat, by gauge before and after"),
            Measured::GaugeFilm if self.kind.is_none() => "film by gauge, no step done".to_owned(),
            Measured::GaugeFilm => format!("film by gauge{on}, after {kind}"),
            Measured::Amount => format!("amount of a {kind} coat{on}, a piece"),
        }
    }
}

#[derive(Debug, Default)]
struct Series {
    // By action and, for readings, by value: the sum over its pieces and the point so far.
    points: BTreeMap<(i64, i64), (i64, Point)>,
    unknown: std::collections::BTreeSet<i64>,
}

struct Gathered<'a> {
    record: &'a QualityRecord,
    series: BTreeMap<Key, Series>,
}

impl Gathered<'_> {
    fn action(&self, entry: i64) -> i64 {
        self.record.wrote.get(&entry).map_or(-entry, |w| w.action)
    }

    fn add(&mut self, key: Key, tells: i64, value: i64, point: Point) {
        let series = self.series.entry(key).or_default();
        let (sum, kept) = series
            .points
            .entry((point.action, tells))
            .or_insert_with(|| {
                let empty = Point {
                    entries: Vec::new(),
                    serials: Vec::new(),
                    ..point.clone()
                };
                (0, empty)
            });
        *sum += value;
        kept.at = kept.at.max(point.at);
        for entry in point.entries {
            if !kept.entries.contains(&entry) {
                kept.entries.push(entry);
            }
        }
        kept.serials.extend(point.serials);
    }

    fn coat(&mut self, serial: &str, model: &str, coat: &CoatMade) {
        if coat.touch_up {
            return;
        }
        let action = self.action(coat.entry.0);
        let point = |value| Point {
            value,
            at: coat.at,
            action,
            entries: vec![coat.entry.0],
            serials: vec![serial.to_owned()],
            person: coat.person.clone(),
        };
        let key = |measured| Key {
            measured,
            recipe: coat.recipe.0.clone(),
            model: None,
            kind: Some(coat.kind),
            surface: None,
        };
        match coat.film {
            Some(film) => self.add(key(Measured::WetFilm), film.0, film.0, point(film.0)),
            None if coat.readings > 0 => {
                let series = self.series.entry(key(Measured::WetFilm)).or_default();
                series.unknown.insert(action);
            }
            None => {}
        }
        // A rework takes what its zone needs: it is no coat of the whole piece.
        if coat.rework {
            return;
        }
        let key = Key {
            model: Some(model.to_owned()),
            surface: Some(coat.named.clone()),
            ..key(Measured::Amount)
        };
        match coat.amount {
            Some(amount) => self.add(key, 0, amount.0, point(amount.0)),
            None => {
                self.series.entry(key).or_default().unknown.insert(action);
            }
        }
    }

    fn gauge(&mut self, serial: &str, read: &GaugeRead) {
        let point = |value| Point {
            value,
            at: read.at,
            action: self.action(read.entry.0),
            entries: vec![read.entry.0],
            serials: vec![serial.to_owned()],
            person: read.person.clone(),
        };
        let key = |measured, kind, surface| Key {
            measured,
            recipe: read.recipe.0.clone(),
            model: None,
            kind,
            surface,
        };
        let whole = (
            key(Measured::GaugeFilm, read.after, Some(read.surface.clone())),
            point(read.film.0),
        );
        let rise = read.rise.map(|rise| {
            (
                key(Measured::GaugeRise, Some(rise.kind), None),
                point(rise.film.0),
            )
        });
        for (key, point) in rise.into_iter().chain([whole]) {
            self.add(key, point.value, point.value, point);
        }
    }
}

/// The charts of a record that are asked for, each with at least one point: films first, by recipe.
pub fn charts(record: &QualityRecord, wanted: &Wanted<'_>) -> Vec<Chart> {
    let mut gathered = Gathered {
        record,
        series: BTreeMap::new(),
    };
    let period = record.period;
    for piece in &record.pieces {
        if wanted.model.is_some_and(|m| m != piece.model) {
            continue;
        }
        let history = &piece.history;
        for coat in history.coats.iter().filter(|c| period.holds(c.day)) {
            gathered.coat(&piece.serial, &piece.model, coat);
        }
        for read in history.gauges.iter().filter(|g| period.holds(g.day)) {
            gathered.gauge(&piece.serial, read);
        }
    }
    gathered
        .series
        .into_iter()
        .filter(|(key, series)| {
            !series.points.is_empty()
                && wanted.film.is_none_or(|film| film == key.measured.film())
                && wanted.recipe.is_none_or(|code| code == key.recipe)
        })
        .map(|(key, series)| Chart::of(&key, series))
        .collect()
}

impl Chart {
    fn of(key: &Key, series: Series) -> Self {
        let mut points: Vec<Point> = series
            .points
            .into_values()
            .map(|(sum, mut point)| {
                if let Ok(pieces) = i128::try_from(point.serials.len())
                    && pieces > 0
                    && key.measured == Measured::Amount
                {
                    let mean = num::round_half_even(i128::from(sum), pieces);
                    point.value = i64::try_from(mean).unwrap_or(point.value);
                }
                point.entries.sort_unstable();
                point
            })
            .collect();
        points.sort_by_key(|p| (p.at, p.action, p.value));
        let left_out = points.len().saturating_sub(MOST);
        points.drain(..left_out);
        let mut chart = Self {
            measured: key.measured,
            recipe: key.recipe.clone(),
            model: key.model.clone(),
            name: key.name(),
            points,
            left_out,
            unknown: series.unknown.len(),
            limits: None,
        };
        if chart.points.len() >= STABLE {
            chart.limits = individuals(&chart.values());
        }
        chart
    }

    /// Its values in its unit.
    pub fn values(&self) -> Vec<f64> {
        let values = self.points.iter().map(|p| num::float(p.value) / 1_000.0);
        values.collect()
    }

    /// The worksheet that the limits come from, with the entries in it.
    ///
    /// # Errors
    /// When the worksheet refuses the points.
    pub fn worksheet(&self) -> Result<(Inputs, Worksheet), Refusal> {
        const ID: &str = "control-limits";
        let sheet = registry::find(ID)
            .ok_or_else(|| Refusal::no_answer("worksheet", ID, "one of \"hangtime work\""))?;
        let mut inputs = Inputs::of(sheet)?;
        let origin = |p: &Point| {
            let more = format!("action {}", p.action);
            match p.entries.as_slice() {
                [one] => Origin::entry(*one, &more),
                _ => Origin::note(format!("{}, {more}", p.entry_words())),
            }
        };
        let values = self.values().into_iter().zip(&self.points);
        let values: Vec<(f64, Origin)> = values.map(|(v, p)| (v, origin(p))).collect();
        inputs.fill_from("reading", &values)?;
        let answer = sheet.run(&inputs)?;
        Ok((inputs, answer))
    }

    /// Where a point lies.
    pub fn side(&self, point: &Point) -> Side {
        let value = num::float(point.value) / 1_000.0;
        match &self.limits {
            Some(l) if value > l.high => Side::Above,
            Some(l) if value < l.low => Side::Below,
            _ => Side::Within,
        }
    }

    /// The points outside the limits.
    pub fn outside(&self) -> impl Iterator<Item = (&Point, Side)> {
        self.points
            .iter()
            .map(|p| (p, self.side(p)))
            .filter(|(_, side)| *side != Side::Within)
    }

    /// The points that differ from the one before by more than the limit of the moving range, with that difference.
    pub fn jumps(&self) -> impl Iterator<Item = (&Point, i64)> {
        let high = self.limits.map(|l| l.range_high);
        self.points
            .iter()
            .zip(self.points.iter().skip(1))
            .map(|(before, point)| (point, (point.value - before.value).abs()))
            .filter(move |(_, by)| high.is_some_and(|high| num::float(*by) / 1_000.0 > high))
    }

    /// A figure of the limits in the record's unit.
    pub fn kept(figure: f64) -> i64 {
        num::whole(figure * 1_000.0).unwrap_or(0)
    }

    fn figure(&self, figure: f64, system: System) -> String {
        self.measured.text(Self::kept(figure), system)
    }

    /// Its name with recipe and model.
    pub fn title(&self) -> String {
        let model = self
            .model
            .as_ref()
            .map_or_else(String::new, |m| format!(" {m}"));
        shown(&format!("{}{model}: {}", self.recipe, self.name))
    }

    /// How many points it has.
    pub fn count_words(&self) -> String {
        match self.points.len() {
            1 => "1 point".to_owned(),
            n => format!("{n} points"),
        }
    }

    /// How many points it has and what their limits are.
    pub fn summary(&self, system: System) -> String {
        let n = self.points.len();
        match &self.limits {
            None => format!(
                "{}; {STABLE} are wanted before limits are shown",
                self.count_words()
            ),
            Some(l) => format!(
                "{n} points, mean {}, limits {} to {}, {} outside",
                self.figure(l.center, system),
                self.figure(l.low, system),
                self.figure(l.high, system),
                self.outside().count()
            ),
        }
    }

    /// A point as one line.
    pub fn point_line(&self, point: &Point, calendar: &Calendar, system: System) -> String {
        let pieces = match point.serials.as_slice() {
            [one] => shown(one),
            many => format!("{} pieces", many.len()),
        };
        let side = match self.side(point) {
            Side::Within => String::new(),
            side => format!("{} THE LIMITS, ", side.word().to_uppercase()),
        };
        format!(
            "{:<20} {:>9}  {side}{pieces}, {}, action {} by {}",
            calendar.stamp(point.at),
            self.measured.text(point.value, system),
            point.entry_words(),
            point.action,
            shown(&point.person),
        )
    }

    /// What is to be said of it besides its points.
    pub fn notes(&self, calendar: &Calendar, system: System) -> Vec<String> {
        let mut out = vec![self.summary(system)];
        for (point, side) in self.outside() {
            out.push(format!(
                "{} {}: {}, {} the limits",
                point.entry_words(),
                calendar.stamp(point.at),
                self.measured.text(point.value, system),
                side.word()
            ));
        }
        if let Some(l) = &self.limits {
            for (point, by) in self.jumps() {
                out.push(format!(
                    "{} {}: {} from the point before, more than the {} of the moving range's limit",
                    point.entry_words(),
                    calendar.stamp(point.at),
                    self.measured.text(by, system),
                    self.figure(l.range_high, system)
                ));
            }
        }
        if self.unknown > 0 {
            let what = if self.measured.film() {
                "deeds with wet readings and no known solids"
            } else {
                "deeds without an amount"
            };
            out.push(format!("{what}: {}; they are no points", self.unknown));
        }
        if self.left_out > 0 {
            out.push(format!(
                "the newest {MOST} points; {} before them are left out",
                self.left_out
            ));
        }
        out
    }

    /// As people read it.
    pub fn lines(&self, calendar: &Calendar, system: System) -> Vec<String> {
        let mut out = vec![self.title()];
        out.extend(
            self.notes(calendar, system)
                .into_iter()
                .map(|l| format!("  {l}")),
        );
        let points = self.points.iter();
        out.extend(points.map(|p| format!("    {}", self.point_line(p, calendar, system))));
        if self.limits.is_some()
            && let Ok((_, answer)) = self.worksheet()
        {
            out.extend(answer.sources.iter().map(|s| format!("  source: {s}")));
            out.extend(answer.assumes.iter().map(|s| format!("  {s}")));
        }
        out
    }

    /// As JSON.
    pub fn json(&self, calendar: &Calendar, system: System) -> Value {
        let limits = self.limits.as_ref();
        let worksheet = limits
            .and_then(|_| self.worksheet().ok())
            .map(|(inputs, answer)| printed::answer_json(&inputs, &answer, system));
        json!({
            "chart": if self.measured.film() { "film" } else { "amount" },
            "recipe": self.recipe, "model": self.model, "of": self.name, "unit": self.measured.unit(),
            "points": self.points.iter().map(|p| json!({
                "at": calendar.rfc3339(p.at), "value": num::float(p.value) / 1_000.0, "action": p.action,
                "entries": p.entries, "pieces": p.serials, "person": p.person, "side": self.side(p).word(),
            })).collect::<Vec<_>>(),
            "wanted": STABLE, "enough": limits.is_some(), "unknown": self.unknown, "left_out": self.left_out,
            "mean": limits.map(|l| l.center), "low": limits.map(|l| l.low), "high": limits.map(|l| l.high),
            "moving_range": limits.map(|l| l.range), "range_high": limits.map(|l| l.range_high),
            "outside": self.outside().map(|(p, side)| json!({
                "entries": p.entries, "action": p.action, "side": side.word(),
            })).collect::<Vec<_>>(),
            "jumps": self.jumps().map(|(p, by)| json!({
                "entries": p.entries, "action": p.action, "by": num::float(by) / 1_000.0,
            })).collect::<Vec<_>>(),
            "worksheet": worksheet,
        })
    }
}

/// What is charted, and what its limits are not.
pub const CHARTS: &str = "a reading of a rack and the amount of a pot are one point each; limits are made by the points themselves and say what the process does, not what a recipe wants";
