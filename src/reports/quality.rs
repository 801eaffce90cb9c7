//! Quality from the log: defects by what stood behind them, right first time, the rate of rework, and the charts of film
//! and amount.
//!
//! *Invariants*: each defect of the period counts once and under one key, so that the counts add up to the defects; what
//! the record does not say counts under "not known" and never falls away; a share of nothing is unknown, not zero.
//!
//! *Not here*: how a defect finds its coat (`shop::quality`), formulas (`science::statistics`), any verdict on a person: a
//! count says where to look.

mod charts;

pub use charts::{CHARTS, Chart, Measured, Point, Side, Wanted, charts};

use crate::ledger::{Period, PieceHistory, QualityRecord, Wrote};
use crate::science::statistics::{pareto, share_interval};
use crate::shop::calendar::Calendar;
use crate::shop::quality::{Asked, CoatMade, DefectSeen, RecipeName, SeenAs};
use crate::shop::text::shown;
use crate::shop::words::{Verdict, Word};
use crate::units::{Amount, System, num};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// How many production days are asked about when nobody names any.
pub const DAYS: u16 = 30;

/// What stands where the record does not say it.
pub const NOT_KNOWN: &str = "not known";

/// How a defect finds its coat, as it is said beside the figures.
pub const BEHIND: &str = "the coat behind a defect is the newest one that had ended on that surface when it was seen: most likely, not shown by the record; what sanding, buffing or handling did counts under it, too; common practice, no source";

/// What the right first time is.
pub const FIRST_TIME: &str = "pieces whose first inspection asked for no rework and that had no rework before it, over the pieces inspected in the period; common practice, no source";

/// What the rate of rework is.
pub const REWORK: &str = "pieces on which a rework was opened, over the pieces worked on in the period; common practice, no source";

const INTERVAL: &str =
    "95 % interval: Wilson, J. Am. Stat. Assoc. 22 (1927), 209 (from memory, to be confirmed)";

/// What defects are counted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum By {
    /// What it is.
    #[default]
    Defect,
    /// Who sprayed the coat behind it.
    Person,
    /// The mix of that coat.
    Mix,
    /// The lots in that mix.
    Lot,
    /// The booth in which it was sprayed.
    Booth,
    /// The recipe of the piece.
    Recipe,
    /// The surface on which it was seen.
    Surface,
}

impl By {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Defect,
        Self::Person,
        Self::Mix,
        Self::Lot,
        Self::Booth,
        Self::Recipe,
        Self::Surface,
    ];

    /// Its word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Defect => "defect",
            Self::Person => "person",
            Self::Mix => "mix",
            Self::Lot => "lot",
            Self::Booth => "booth",
            Self::Recipe => "recipe",
            Self::Surface => "surface",
        }
    }

    /// What the defects are counted by, as a list of them is headed.
    pub const fn heading(self) -> &'static str {
        match self {
            Self::Defect => "kind",
            other => other.word(),
        }
    }

    /// The one of a word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|by| by.word() == word)
    }

    /// The next one, or the one before.
    #[must_use]
    pub fn step(self, forward: bool) -> Self {
        let n = Self::ALL.len();
        let at = Self::ALL.iter().position(|by| *by == self).unwrap_or(0);
        let by = if forward { 1 } else { n - 1 };
        Self::ALL.get((at + by) % n).copied().unwrap_or_default()
    }
}

/// A defect with the coat behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Defect {
    /// Serial of the piece.
    pub serial: String,
    /// What was seen.
    pub seen: DefectSeen,
    /// The coat, where one had ended on that surface.
    pub coat: Option<CoatMade>,
    /// Action and station of the coat.
    pub wrote: Option<Wrote>,
    /// The lots of the coat; none where they are not known.
    pub lots: Vec<String>,
}

/// A recipe revision as it is written.
fn label((code, revision): &RecipeName) -> String {
    format!("{code} rev {revision}")
}

impl Defect {
    fn of(piece: &PieceHistory, seen: &DefectSeen, record: &QualityRecord) -> Self {
        let coat = seen.coat.and_then(|n| piece.history.coats.get(n)).cloned();
        let wrote = coat
            .as_ref()
            .and_then(|c| record.wrote.get(&c.entry.0))
            .cloned();
        let lots = coat
            .as_ref()
            .map_or_else(Vec::new, |c| match (c.mix, &c.lot) {
                (Some(mix), _) => record.lots.get(&mix).cloned().unwrap_or_default(),
                (None, Some(lot)) => vec![lot.clone()],
                (None, None) => Vec::new(),
            });
        Self {
            serial: piece.serial.clone(),
            seen: seen.clone(),
            coat,
            wrote,
            lots,
        }
    }

    /// Under which key it counts; `None` where the record does not say.
    pub fn key(&self, by: By) -> Option<String> {
        let coat = self.coat.as_ref();
        match by {
            By::Defect => Some(self.seen.defect.word().to_owned()),
            By::Person => Some(coat?.person.clone()),
            By::Mix => match (coat?.mix, &coat?.lot) {
                (Some(mix), _) => Some(format!("mix {mix}")),
                (None, Some(lot)) => Some(format!("{lot} as it is")),
                (None, None) => None,
            },
            By::Lot => (!self.lots.is_empty()).then(|| self.lots.join(" + ")),
            By::Booth => coat?.room.clone(),
            By::Recipe => Some(label(&self.seen.recipe)),
            By::Surface => Some(self.seen.surface.clone()),
        }
    }

    fn seen_words(&self) -> String {
        let how = match self.seen.seen_as {
            SeenAs::Flaw => "",
            SeenAs::Finding(Verdict::Take) => ", found at an inspection and taken as it is",
            SeenAs::Finding(_) => ", found at an inspection",
            SeenAs::Rework => ", first named by a rework",
        };
        let place = self.seen.place.as_ref();
        format!(
            "{} {} on {}{}{how}",
            shown(&self.serial),
            self.seen.defect.word(),
            shown(&self.seen.surface),
            place.map_or_else(String::new, |p| format!(" {}", shown(p))),
        )
    }

    /// The coat behind it in words; what is not recorded is said to be not known.
    pub fn coat_words(&self, system: System) -> String {
        let Some(coat) = &self.coat else {
            return format!("coat {NOT_KNOWN}: none had ended on that surface");
        };
        let mix = match (coat.mix, &coat.lot) {
            (Some(mix), _) => format!("mix {mix} ({})", self.lots.join(" + ")),
            (None, Some(lot)) => format!("lot {lot} as it is"),
            (None, None) => format!("mix {NOT_KNOWN}"),
        };
        let booth = coat
            .room
            .as_deref()
            .map_or_else(|| format!("booth {NOT_KNOWN}"), str::to_owned);
        let station = self
            .wrote
            .as_ref()
            .map_or_else(String::new, |w| format!(", written at {}", w.station));
        let air = match (coat.air, coat.humidity) {
            (None, None) => format!("air {NOT_KNOWN}"),
            (air, humidity) => {
                let parts = [
                    air.map(|t| t.shown(system, 1)),
                    humidity.map(|h| h.shown(system, 0)),
                ];
                format!(
                    "air {}",
                    parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
                )
            }
        };
        shown(&format!(
            "{}{} of entry {} by {}, {mix}, {booth}{station}, {air}",
            coat.kind.word(),
            if coat.touch_up { " touch-up" } else { " coat" },
            coat.entry.0,
            coat.person,
        ))
    }

    /// It and its coat as one line.
    pub fn line(&self, calendar: &Calendar, system: System) -> String {
        format!(
            "{}, entry {} of {}: {}",
            self.seen_words(),
            self.seen.entry.0,
            calendar.stamp(self.seen.at),
            self.coat_words(system)
        )
    }

    fn json(&self, calendar: &Calendar) -> Value {
        let coat = self.coat.as_ref().map(|c| {
            json!({
                "entry": c.entry.0, "action": self.wrote.as_ref().map(|w| w.action),
                "station": self.wrote.as_ref().map(|w| &w.station),
                "kind": c.kind.word(), "touch_up": c.touch_up, "ended": calendar.rfc3339(c.at),
                "person": c.person, "mix": c.mix, "lots": self.lots, "booth": c.room,
                "temperature_mc": c.air.map(|t| t.0), "humidity_cpct": c.humidity.map(|h| h.0),
            })
        });
        json!({
            "serial": self.serial, "entry": self.seen.entry.0, "seen": calendar.rfc3339(self.seen.at),
            "defect": self.seen.defect.word(), "surface": self.seen.surface, "place": self.seen.place,
            "from": match self.seen.seen_as {
                SeenAs::Flaw => "defect",
                SeenAs::Finding(_) => "inspection",
                SeenAs::Rework => "rework",
            },
            "verdict": match self.seen.seen_as {
                SeenAs::Finding(verdict) => Some(verdict.word()),
                SeenAs::Flaw | SeenAs::Rework => None,
            },
            "recipe": label(&self.seen.recipe), "coat": coat,
        })
    }
}

/// One line of the Pareto listing.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What is counted under it; `None` for what is not known.
    pub key: Option<String>,
    /// How many.
    pub count: i64,
    /// Share of all defects.
    pub share: f64,
    /// Share of all up to and with this line.
    pub so_far: f64,
    /// The defects under it, by their places in [`Quality::defects`].
    pub defects: Vec<usize>,
}

impl Bar {
    /// Its key in words.
    pub fn name(&self) -> String {
        self.key
            .as_deref()
            .map_or_else(|| NOT_KNOWN.to_owned(), shown)
    }
}

/// How the first inspection of a piece came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FirstLook {
    /// It asked for no rework, and none had been opened before.
    Right,
    /// The same, and nothing was written down at it.
    RightUnwritten,
    /// It asked for rework or scrap.
    Asked,
    /// A rework had been opened before it.
    AfterRework,
    /// It held something back: not known.
    Open,
}

impl FirstLook {
    const fn word(self) -> &'static str {
        match self {
            Self::Right => "no rework asked for",
            Self::RightUnwritten => "no rework asked for, nothing written down",
            Self::Asked => "rework asked for",
            Self::AfterRework => "rework before it",
            Self::Open => "not known: something was held back",
        }
    }
}

/// A piece that was inspected in the period.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InspectedPiece {
    /// Its serial.
    pub serial: String,
    /// The entry of its first inspection.
    pub entry: i64,
    /// How that came out.
    pub first: FirstLook,
    /// Whether that inspection lies before the period.
    pub earlier: bool,
}

impl InspectedPiece {
    /// It as one line.
    pub fn line(&self) -> String {
        let earlier = if self.earlier {
            ", before the period"
        } else {
            ""
        };
        format!(
            "{}: first inspection of entry {}{earlier}: {}",
            shown(&self.serial),
            self.entry,
            self.first.word()
        )
    }
}

/// Reworks of one recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReworkRate {
    /// The recipe.
    pub recipe: String,
    /// Pieces that were worked on by it.
    pub worked: usize,
    /// Reworks that were opened: serial, entry, code.
    pub opened: Vec<(String, i64, String)>,
}

impl ReworkRate {
    /// How many pieces had a rework opened.
    pub fn pieces(&self) -> usize {
        let serials: BTreeSet<&str> = self.opened.iter().map(|(s, ..)| s.as_str()).collect();
        serials.len()
    }

    /// As one line.
    pub fn line(&self) -> String {
        format!(
            "{}: {} of {} pieces, {}",
            shown(&self.recipe),
            self.pieces(),
            self.worked,
            share_of(self.pieces(), self.worked)
        )
    }
}

/// A share as people read it.
pub fn percent(share: f64) -> String {
    crate::units::digits(share * 100.0, 1) + " %"
}

fn share_of(part: usize, of: usize) -> String {
    if of == 0 {
        "unknown".to_owned()
    } else {
        percent(num::count(part) / num::count(of))
    }
}

/// What a period tells of quality.
#[derive(Debug, Clone, PartialEq)]
pub struct Quality {
    /// The period.
    pub period: Period,
    /// The defects of the period, in the order in which they were seen.
    pub defects: Vec<Defect>,
    /// The pieces that were inspected in it, by serial.
    pub inspected: Vec<InspectedPiece>,
    /// Reworks by recipe.
    pub rework: Vec<ReworkRate>,
}

impl Quality {
    /// What a record tells.
    pub fn of(record: &QualityRecord) -> Self {
        let period = record.period;
        let mut defects = Vec::new();
        let mut inspected = Vec::new();
        let mut worked: BTreeMap<&RecipeName, BTreeSet<&str>> = BTreeMap::new();
        let mut opened: BTreeMap<&RecipeName, Vec<(String, i64, String)>> = BTreeMap::new();
        for piece in &record.pieces {
            let history = &piece.history;
            let seen = history.defects.iter().filter(|d| period.holds(d.day));
            defects.extend(seen.map(|d| Defect::of(piece, d, record)));
            if history.looks.iter().any(|l| period.holds(l.day))
                && let Some(first) = history.looks.first()
            {
                inspected.push(InspectedPiece {
                    serial: piece.serial.clone(),
                    entry: first.entry.0,
                    earlier: first.day < period.from(),
                    first: match (first.after_rework, first.asked) {
                        (true, _) => FirstLook::AfterRework,
                        (false, Asked::Rework) => FirstLook::Asked,
                        (false, Asked::Open) => FirstLook::Open,
                        (false, Asked::Nothing) if first.findings == 0 => FirstLook::RightUnwritten,
                        (false, Asked::Nothing) => FirstLook::Right,
                    },
                });
            }
            for (day, recipe) in &history.worked {
                if period.holds(*day) {
                    worked.entry(recipe).or_default().insert(&piece.serial);
                }
            }
            for r in history.reworks.iter().filter(|r| period.holds(r.day)) {
                worked.entry(&r.recipe).or_default().insert(&piece.serial);
                opened.entry(&r.recipe).or_default().push((
                    piece.serial.clone(),
                    r.entry.0,
                    r.rework.clone(),
                ));
            }
        }
        defects.sort_by_key(|d| (d.seen.at, d.seen.entry));
        let rework = worked
            .into_iter()
            .map(|(recipe, pieces)| ReworkRate {
                recipe: label(recipe),
                worked: pieces.len(),
                opened: opened.remove(recipe).unwrap_or_default(),
            })
            .collect();
        Self {
            period,
            defects,
            inspected,
            rework,
        }
    }

    /// The defects counted by something, the most first.
    pub fn bars(&self, by: By) -> Vec<Bar> {
        let mut groups: BTreeMap<Option<String>, Vec<usize>> = BTreeMap::new();
        for (n, defect) in self.defects.iter().enumerate() {
            groups.entry(defect.key(by)).or_default().push(n);
        }
        // What is not known stands below what is known of the same count.
        let mut groups: Vec<(Option<String>, Vec<usize>)> = groups.into_iter().collect();
        groups.sort_by_key(|(key, _)| key.is_none());
        let counts: Vec<i64> = groups
            .iter()
            .map(|(_, list)| i64::try_from(list.len()).unwrap_or(i64::MAX))
            .collect();
        pareto(&counts)
            .into_iter()
            .filter_map(|line| {
                let (key, defects) = groups.get(line.at)?.clone();
                Some(Bar {
                    key,
                    count: line.count,
                    share: line.share,
                    so_far: line.so_far,
                    defects,
                })
            })
            .collect()
    }

    fn first(&self, wanted: &[FirstLook]) -> usize {
        let of = |p: &&InspectedPiece| wanted.contains(&p.first);
        self.inspected.iter().filter(of).count()
    }

    /// How many of the inspected pieces were right at their first inspection.
    pub fn right(&self) -> usize {
        self.first(&[FirstLook::Right, FirstLook::RightUnwritten])
    }

    /// Right first time with its interval; `None` where no piece was inspected.
    pub fn first_time(&self) -> Option<(f64, f64, f64)> {
        let (good, of) = (num::count(self.right()), num::count(self.inspected.len()));
        let (low, high) = share_interval(good, of)?;
        Some((good / of, low, high))
    }

    /// The right first time in words, and what is to be said beside it.
    pub fn first_time_lines(&self) -> Vec<String> {
        let Some((share, low, high)) = self.first_time() else {
            return vec!["right first time: unknown, no piece was inspected".to_owned()];
        };
        let mut out = vec![
            format!(
                "right first time: {} of {} pieces inspected, {}",
                self.right(),
                self.inspected.len(),
                percent(share)
            ),
            format!("95 % interval {} to {}", percent(low), percent(high)),
        ];
        let open = self.first(&[FirstLook::Open]);
        if open > 0 {
            out.push(format!(
                "not known for {open}: the first inspection held something back; they are not counted as right"
            ));
        }
        let unwritten = self.first(&[FirstLook::RightUnwritten]);
        if unwritten > 0 {
            out.push(format!(
                "{unwritten} of the {}: nothing was written down at the first inspection",
                self.right()
            ));
        }
        let earlier = self.inspected.iter().filter(|p| p.earlier).count();
        if earlier > 0 {
            out.push(format!(
                "{earlier} had their first inspection before the period"
            ));
        }
        out
    }

    /// How the figures are to be read.
    pub const fn notes() -> [&'static str; 4] {
        [BEHIND, FIRST_TIME, REWORK, INTERVAL]
    }

    /// As people read it.
    pub fn lines(&self, by: By, calendar: &Calendar, system: System) -> Vec<String> {
        let mut out = vec![
            format!(
                "quality, {} ({} production days)",
                self.period.words(),
                self.period.days()
            ),
            String::new(),
        ];
        if self.defects.is_empty() {
            out.push("no defect is recorded in the period".to_owned());
        } else {
            out.push(format!(
                "defects by {}: {} recorded",
                by.heading(),
                self.defects.len()
            ));
            let bars = self.bars(by);
            let wide = bars.iter().map(|b| b.name().chars().count()).max();
            let wide = wide.unwrap_or(0);
            out.extend(bars.iter().map(|b| {
                format!(
                    "  {:wide$} {:>5} {:>8}  running total {:>8}",
                    b.name(),
                    b.count,
                    percent(b.share),
                    percent(b.so_far)
                )
            }));
            out.push(String::new());
            let each = self.defects.iter().map(|d| d.line(calendar, system));
            out.extend(each.map(|l| format!("  {l}")));
            out.push(format!("  {BEHIND}"));
        }
        out.push(String::new());
        let mut first = self.first_time_lines().into_iter();
        out.extend(first.next());
        out.extend(first.map(|l| format!("  {l}")));
        out.push(format!("  {FIRST_TIME}"));
        if !self.inspected.is_empty() {
            out.push(format!("  {INTERVAL}"));
        }
        out.push(String::new());
        if self.rework.is_empty() {
            out.push("rework: unknown, no piece was worked on".to_owned());
        } else {
            out.push("rework by recipe".to_owned());
        }
        for rate in &self.rework {
            out.push(format!("  {}", rate.line()));
            let each = rate.opened.iter();
            out.extend(each.map(|(serial, entry, code)| {
                format!("    {} {}, entry {entry}", shown(serial), shown(code))
            }));
        }
        out.push(format!("  {REWORK}"));
        out
    }

    /// As JSON.
    pub fn json(&self, by: By, calendar: &Calendar) -> Value {
        let first = self.first_time();
        json!({
            "from": self.period.from().date().to_string(), "to": self.period.to().date().to_string(),
            "by": by.word(), "count": self.defects.len(),
            "pareto": self.bars(by).iter().map(|b| json!({
                "key": b.key, "count": b.count, "share": b.share, "so_far": b.so_far,
                "entries": b.defects.iter().filter_map(|n| self.defects.get(*n)).map(|d| d.seen.entry.0)
                    .collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
            "defects": self.defects.iter().map(|d| d.json(calendar)).collect::<Vec<_>>(),
            "first_time": {
                "inspected": self.inspected.len(), "right": self.right(),
                "not_known": self.first(&[FirstLook::Open]),
                "nothing_written": self.first(&[FirstLook::RightUnwritten]),
                "share": first.map(|f| f.0), "low_95": first.map(|f| f.1), "high_95": first.map(|f| f.2),
                "pieces": self.inspected.iter().map(|p| json!({
                    "serial": p.serial, "entry": p.entry, "first": p.first.word(), "before_period": p.earlier,
                })).collect::<Vec<_>>(),
                "definition": FIRST_TIME,
            },
            "rework": self.rework.iter().map(|r| json!({
                "recipe": r.recipe, "worked": r.worked, "reworked": r.pieces(),
                "share": (r.worked > 0).then(|| num::count(r.pieces()) / num::count(r.worked)),
                "opened": r.opened.iter().map(|(serial, entry, code)| json!({
                    "serial": serial, "entry": entry, "rework": code,
                })).collect::<Vec<_>>(),
            })).collect::<Vec<_>>(),
            "notes": Self::notes(),
        })
    }
}
