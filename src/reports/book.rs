//! The solvent book: a month and the twelve months to it against the limits that the shop entered, what the record does not
//! know of them, and the way from a total down to the entries it is made of.
//!
//! *Invariants*: nothing is held against a limit that nobody entered; a figure of which a part is unknown is never under
//! its limit; the lines of each level add up to the figure above to the last milligram, and where they do not, that is
//! said.

use super::checks::{self, Check};
use super::content::{self, Contents};
use super::counting;
use super::entries;
use super::forecast::{self, Ahead};
use super::limits::per_cent;
use super::stock::{self as by_stock, StockMonth, Store};
use super::workings::{self, Working};
use crate::ledger::{CeilingRow, Ledger, LedgerError, MissedCheck, MonthNow, MonthSums, Months};
use crate::science::worksheet::Side;
use crate::shop::material::Counted;
use crate::shop::rule_set::RuleSet;
use crate::shop::stock::UseBasis;
use crate::shop::text::shown;
use crate::units::{Amount, Dimension, Mass, Moment, System, Volume, find, show};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What a figure of the book counts.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Of {
    /// Volatile organic compounds; exempt substances and water left out.
    Voc,
    /// Hazardous air pollutants, all together.
    Hap,
    /// One substance by its CAS number, with its name.
    Substance(String, String),
}

impl Of {
    /// What people call it.
    pub fn name(&self) -> String {
        match self {
            Self::Voc => "VOC".to_owned(),
            Self::Hap => "HAP total".to_owned(),
            Self::Substance(_, name) => shown(name),
        }
    }

    /// The word under which a limit of it is kept, and by which it is asked for.
    pub fn key(&self) -> &str {
        match self {
            Self::Voc => "VOC",
            Self::Hap => "HAP",
            Self::Substance(cas, _) => cas,
        }
    }

    /// Finds what a typed word names: VOC, HAP, or a substance of an adopted sheet by its CAS number or name.
    pub fn read(ledger: &Ledger, text: &str) -> Result<Self, LedgerError> {
        let same = |name: &str| name.eq_ignore_ascii_case(text.trim());
        if same("VOC") {
            return Ok(Self::Voc);
        }
        if same("HAP") || same("HAP total") {
            return Ok(Self::Hap);
        }
        let mut codes: Vec<String> = ledger.materials()?.into_iter().map(|m| m.code).collect();
        codes.dedup();
        for code in codes {
            let material = ledger.newest_material(&code)?;
            let found = material
                .parts
                .iter()
                .find(|p| same(&p.cas) || same(&p.name));
            if let Some(part) = found {
                return Ok(Self::Substance(part.cas.clone(), part.name.clone()));
            }
        }
        Err(LedgerError::Input(format!(
            "\"{}\" is neither VOC nor HAP nor a substance of an adopted data sheet; write its CAS number, such as 108-88-3",
            shown(text)
        )))
    }

    /// Whether a substance counts in it.
    fn counts(&self, c: &Counted) -> bool {
        match self {
            Self::Voc => !c.counts.exempt && !c.counts.water,
            Self::Hap => c.counts.hap,
            Self::Substance(cas, _) => c.cas == *cas,
        }
    }

    /// Its part of some masses.
    pub fn of(&self, masses: &[(Counted, Mass)]) -> Mass {
        let counted = masses.iter().filter(|(c, _)| self.counts(c));
        Mass(counted.map(|(_, m)| m.0).sum())
    }

    /// Its sum over some months.
    pub fn total(&self, sums: &MonthSums) -> Mass {
        let counted = sums.substances.iter().filter(|s| self.counts(&s.substance));
        Mass(counted.map(|s| s.mass.0).sum())
    }
}

/// The period of a limit: the word under which it is kept.
pub const fn period(rolling: bool) -> &'static str {
    if rolling { "twelve months" } else { "month" }
}

/// What a solvent limit is held against.
pub const BASIS: &str = "mass used, from the log, by production day";

/// Reads the figure of a solvent limit, in milligrams.
pub fn limit_mass(text: &str) -> Result<i64, String> {
    Mass::read_within(text, None, 1, Mass::HIGH)
        .map(|m| m.0)
        .map_err(|e| e.to_string())
}

/// A figure of the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// What it counts.
    pub of: Of,
    /// How much the log counts.
    pub mass: Mass,
    /// The limit that the shop entered.
    pub limit: Option<CeilingRow>,
    /// How it stands to it.
    pub side: Side,
    /// Whether a part of it is not known.
    pub gap: bool,
}

impl Figure {
    /// Whether nothing of it is known: a part is not, and what is known is none of it. Its zero is no figure then.
    pub const fn nothing_known(&self) -> bool {
        self.gap && self.mass.0 == 0
    }

    /// The mass as people read it.
    pub fn mass_words(&self, system: System) -> String {
        if self.nothing_known() {
            Side::Unknown.word().to_owned()
        } else {
            mass(self.mass, system)
        }
    }

    /// Milligrams that are left to the limit, below zero when it is over; `None` without a limit, or where nothing is known.
    pub fn margin(&self) -> Option<i64> {
        let limit = self.limit.as_ref().filter(|_| !self.nothing_known())?;
        Some(limit.value - self.mass.0)
    }

    /// The share of the limit in per cent: rounded down below it and up above it, so that no rounding ever reaches it.
    /// `None` without a limit, or where nothing is known.
    pub fn per_cent(&self) -> Option<i64> {
        let limit = self.limit.as_ref().filter(|_| !self.nothing_known())?;
        let limit = i128::from(limit.value).max(1);
        let mass = i128::from(self.mass.0) * 100;
        let up = i128::from(mass > limit * 100 && mass % limit != 0);
        i64::try_from(mass / limit + up).ok()
    }

    /// The highest share, in thousandths, at which the limit asks for a word and which is reached.
    pub fn reached(&self) -> Option<i64> {
        let limit = self.limit.as_ref()?;
        let reached =
            |w: &&i64| i128::from(self.mass.0) * 1_000 >= i128::from(limit.value) * i128::from(**w);
        limit.warn.iter().filter(reached).max().copied()
    }

    /// The word that is said before a limit is reached; `None` where no share of it is.
    pub fn warning(&self) -> Option<String> {
        if self.side == Side::Over || self.side == Side::At {
            return None;
        }
        self.reached()
            .map(|w| format!("warning: {} reached", per_cent(w)))
    }

    /// The side in words.
    pub const fn side_word(&self) -> &'static str {
        match self.side {
            Side::NoneEntered => "none entered",
            other => other.word(),
        }
    }

    /// What is left, or how far it is over: never shown larger than it is, or smaller when it is over.
    pub fn margin_words(&self, system: System) -> String {
        match self.margin() {
            None => String::new(),
            Some(0) => "nothing left".to_owned(),
            Some(left) if left > 0 => {
                // Where a part is not known, there is no more left than this, and there may be less.
                let most = if self.side == Side::Unknown {
                    "at most "
                } else {
                    ""
                };
                format!("{most}{} left", mass(Mass(left / STEP * STEP), system))
            }
            Some(over) => {
                let up = (-over + STEP - 1) / STEP * STEP;
                format!("{} over", mass(Mass(up), system))
            }
        }
    }

    fn json(&self) -> Value {
        json!({
            "of": self.of.key(), "name": self.of.name(), "mass_mg": (!self.nothing_known()).then_some(self.mass.0),
            "held_against": {
                "side": self.side.word(), "limit_mg": self.limit.as_ref().map(|l| l.value),
                "typed": self.limit.as_ref().map(|l| l.typed.clone()),
                "source": self.limit.as_ref().map(|l| l.source.clone()),
                "entered_by": self.limit.as_ref().map(|l| l.person.clone()),
                "margin_mg": self.margin(),
                "warn_at_permille": self.limit.as_ref().map(|l| l.warn.clone()),
                "reached_permille": self.reached(),
                "rules": self.limit.as_ref().and_then(|l| l.rules.clone()),
            },
        })
    }

    pub(super) fn line(&self, system: System) -> String {
        let held = self.limit.as_ref().map_or_else(
            || self.side_word().to_owned(),
            |l| {
                let warning = self
                    .warning()
                    .map_or_else(String::new, |w| format!("; {w}"));
                let rules = l.rules.as_deref().map_or_else(String::new, |code| {
                    format!("; counted by the limit's own rule set {}", shown(code))
                });
                let share = self
                    .per_cent()
                    .map_or_else(String::new, |share| format!("{share} % of "));
                let margin = match self.margin_words(system) {
                    none if none.is_empty() => none,
                    margin => format!("{margin}{warning}{rules}; "),
                };
                format!(
                    "{}: {}{} ({margin}entered by {}, source: {})",
                    self.side_word(),
                    if share.is_empty() { "limit " } else { &share },
                    shown(&l.typed),
                    shown(&l.person),
                    shown(&l.source)
                )
            },
        );
        format!(
            "  {:<14} {:>14}  {held}",
            self.of.name(),
            self.mass_words(system)
        )
    }
}

// The last digit that a margin is shown with: 10 g.
const STEP: i64 = 10_000;

/// A mass of a month as people read it: kg with two decimals, or lb.
pub fn mass(mass: Mass, system: System) -> String {
    match (system, find("kg", Dimension::Mass)) {
        (System::Metric, Some(kg)) => show(mass.base(), kg, 2),
        _ => mass.shown(system, 0),
    }
}

/// What the record knows of the stock of one material.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stock {
    /// Material code.
    pub material: String,
    /// All that was received.
    pub received: Volume,
    /// All that logged coats used.
    pub used: Volume,
    /// What went into mixes and is in no logged coat and in no closed pot.
    pub mixed: Volume,
    /// What lies in the stock by what was entered: received less all that left it.
    pub level: Volume,
    /// Lots of which more left the stock than came in.
    pub below: Vec<(String, Volume)>,
}

impl Stock {
    /// Received less used.
    pub const fn left(&self) -> Volume {
        Volume(self.received.0 - self.used.0)
    }

    fn json(&self) -> Value {
        json!({
            "material": self.material, "received_ul": self.received.0, "logged_use_ul": self.used.0,
            "by_the_log_ul": self.left().0, "mixed_not_logged_ul": self.mixed.0, "in_stock_ul": self.level.0,
            "counted_ul": null, "unexplained": "unknown",
            "below_zero": self.below.iter().map(|(lot, v)| json!({"lot": lot, "volume_ul": v.0})).collect::<Vec<_>>(),
        })
    }

    fn line(&self, system: System) -> String {
        let mixed = format!("in mixes and not logged {}", litres(self.mixed, system));
        let mut text = format!(
            "  {:<6} received {}, logged {}, left by the log {}; {mixed}",
            shown(&self.material),
            litres(self.received, system),
            litres(self.used, system),
            litres(self.left(), system)
        );
        for (lot, volume) in &self.below {
            text.push_str(&format!(
                "; lot {} is {} below zero: enter the receipt",
                shown(lot),
                litres(Volume(-volume.0), system)
            ));
        }
        text
    }
}

/// A volume of stock as people read it: litres with two decimals, or US gallons; a little of it in the small unit.
pub fn litres(volume: Volume, system: System) -> String {
    if volume.0 != 0 && volume.0.abs() < 100_000 {
        return volume.shown(system, 0);
    }
    let name = match system {
        System::Metric => "L",
        System::Us => "gal",
    };
    find(name, Dimension::Volume)
        .map_or_else(|| volume.text(0), |unit| show(volume.base(), unit, 2))
}

/// Said where the stock is: what it cannot tell.
pub const NO_COUNT: &str = "no count is entered: what is unexplained in stock is unknown";

/// The book of one month.
#[derive(Debug, Clone)]
pub struct Book {
    /// The month.
    pub now: MonthNow,
    /// Its figures.
    pub month: Vec<Figure>,
    /// The figures of the twelve months that end with it.
    pub rolling: Vec<Figure>,
    /// The months of those twelve that lie before the record.
    pub before: Vec<String>,
    /// Coats of the twelve months of which it is not known how much of what went on.
    pub uncounted: i64,
    /// Why the month is provisional; empty when nothing says so.
    pub provisional: Vec<String>,
    /// The stock by material.
    pub stock: Vec<Stock>,
    /// The month by its counts, and the credit for waste.
    pub by_stock: StockMonth,
    /// The checks of the booths.
    pub checks: Vec<Check>,
    /// By what it is counted, where that is not what the data sheets state.
    pub counted_by: Option<String>,
    /// Where the rule set counts otherwise than the sheets.
    pub remarks: Vec<String>,
    /// The mixes of the month that limits on content hold for.
    pub contents: Vec<Contents>,
    /// When limits would be reached at the present rate.
    pub ahead: Vec<Ahead>,
    /// The production days of the month on which a booth was sprayed in without a check before.
    pub missed: Vec<MissedCheck>,
}

/// The book of a month, as of `at`, counted by the rule set of the shop's setting.
pub fn book(ledger: &Ledger, month: &str, at: Moment) -> Result<Book, LedgerError> {
    book_by(ledger, month, at, None)
}

/// The same, counted by a wanted rule set.
pub fn book_by(
    ledger: &Ledger,
    month: &str,
    at: Moment,
    wanted: Option<&str>,
) -> Result<Book, LedgerError> {
    let calendar = ledger.calendar();
    let now = ledger.month_now(month)?;
    let counted = Counting::of(ledger, month, at, wanted)?;
    let (first, before, views) = (&counted.first, &counted.before, &counted.views);
    let [uncounted, uncounted_of_twelve] = counted.uncounted(ledger)?;
    let stock = stock(ledger)?;
    let official = &views.own;
    let mut provisional = Vec::new();
    if calendar.day(at).month().as_str() <= month {
        provisional.push("month not over".to_owned());
    }
    if *first == month {
        provisional.push(format!(
            "record begins {}",
            calendar.local(counted.began).format("%-d %b %Y")
        ));
    } else if month < first.as_str() {
        provisional.push(format!(
            "it lies before the record, which begins {}",
            calendar.local(counted.began).format("%-d %b %Y")
        ));
    }
    if uncounted > 0 {
        let s = if uncounted == 1 { "coat" } else { "coats" };
        provisional.push(format!("{uncounted} {s} without a known amount"));
    }
    for (lot, _) in stock.iter().flat_map(|s| &s.below) {
        if ledger.stock_moved(lot, Months::one(month)?.days())? {
            provisional.push(format!("lot {} is below zero", shown(lot)));
        }
    }
    if official.month.counted() {
        provisional.extend(official.month.missing());
    }
    let [gap, gap_of_twelve] = counted.gaps([uncounted, uncounted_of_twelve]);
    let [of_month, of_twelve] = counted.figures([gap, gap_of_twelve]);
    let both = of_twelve.iter().map(|f| (true, f));
    let both: Vec<(bool, &Figure)> = both.chain(of_month.iter().map(|f| (false, f))).collect();
    let ahead = forecast::ahead(ledger, (month, at), &both, (gap, gap_of_twelve), &|rules| {
        views.by(rules).rules.clone()
    })?;
    Ok(Book {
        month: of_month,
        rolling: of_twelve,
        ahead,
        counted_by: official.rules.as_ref().map(|r| counting::words(Some(r))),
        remarks: counting::remarks(ledger, &official.twelve_sums, official.rules.as_ref())?,
        contents: content::of_months(ledger, &Months::one(month)?, at)?,
        by_stock: official.month.clone(),
        checks: checks::checks(ledger, at)?,
        missed: {
            let mut missed = ledger.missed_checks(Months::one(month)?.begin(&calendar), at)?;
            missed.retain(|m| m.day.month() == month);
            missed
        },
        now,
        before: before.clone(),
        uncounted: uncounted_of_twelve,
        provisional,
        stock,
    })
}

/// The figures of a month, and of the twelve months to it, of which a limit is reached or a share at which it asks for a word:
/// those of its [`book`], without what a book looks up besides. Whether a part of them is not known is not looked up, because
/// that reads every entry: what is left of a limit is at most what they tell, and that is how they say it.
pub fn reached(ledger: &Ledger, month: &str, at: Moment) -> Result<[Vec<Figure>; 2], LedgerError> {
    let counted = Counting::of(ledger, month, at, None)?;
    let reached = |f: &Figure| f.margin().is_some_and(|left| left <= 0) || f.reached().is_some();
    let mut found = counted.figures([true, true]);
    for figures in &mut found {
        figures.retain(reached);
    }
    Ok(found)
}

// What the figures of a month and of the twelve months to it are made of.
struct Counting {
    month: String,
    twelve: Months,
    limits: Vec<CeilingRow>,
    began: Moment,
    // The month in which the record begins, and those of the twelve that lie before it.
    first: String,
    before: Vec<String>,
    views: Views,
}

impl Counting {
    fn of(
        ledger: &Ledger,
        month: &str,
        at: Moment,
        wanted: Option<&str>,
    ) -> Result<Self, LedgerError> {
        let limits = ledger.ceilings()?;
        let twelve = Months::twelve(month)?;
        let began = ledger.began()?;
        let first = ledger.calendar().day(began).month();
        let list = twelve.list().iter();
        Ok(Self {
            month: month.to_owned(),
            before: list.filter(|m| **m < first).cloned().collect(),
            views: Views::of(ledger, &twelve, at, (wanted, &limits))?,
            twelve,
            limits,
            began,
            first,
        })
    }

    // Coats of the month and of the twelve months of which it is not known how much went on.
    fn uncounted(&self, ledger: &Ledger) -> Result<[i64; 2], LedgerError> {
        Ok([
            ledger.uncounted_coats(&Months::one(&self.month)?)?,
            ledger.uncounted_coats(&self.twelve)?,
        ])
    }

    // Whether a part of them is not known.
    fn gaps(&self, [uncounted, of_twelve]: [i64; 2]) -> [bool; 2] {
        [
            self.month < self.first || uncounted > 0,
            !self.before.is_empty() || of_twelve > 0,
        ]
    }

    fn figures(&self, [gap, gap_of_twelve]: [bool; 2]) -> [Vec<Figure>; 2] {
        let of = |sums, rolling, gap| {
            figures(sums, &self.limits, (rolling, gap), |of, rules| {
                self.views.by(rules).mass(of, rolling)
            })
        };
        let own = &self.views.own;
        [
            of(&own.sums, false, gap),
            of(&own.twelve_sums, true, gap_of_twelve),
        ]
    }
}

// The book by its own rule set, and by that of each limit that has one of its own.
struct Views {
    own: Official,
    others: BTreeMap<String, Official>,
}

impl Views {
    fn of(
        ledger: &Ledger,
        twelve: &Months,
        at: Moment,
        (wanted, limits): (Option<&str>, &[CeilingRow]),
    ) -> Result<Self, LedgerError> {
        let own = counting::chosen(ledger, twelve, wanted)?;
        let mut others = BTreeMap::new();
        for code in limits.iter().filter_map(|l| l.rules.as_ref()) {
            if !others.contains_key(code) {
                let rules = counting::chosen(ledger, twelve, Some(code))?;
                others.insert(code.clone(), Official::of(ledger, twelve, at, rules)?);
            }
        }
        Ok(Self {
            own: Official::of(ledger, twelve, at, own)?,
            others,
        })
    }

    fn by(&self, rules: Option<&str>) -> &Official {
        rules
            .and_then(|code| self.others.get(code))
            .unwrap_or(&self.own)
    }
}

// The figures that the shop's settings make official: by the log or by stock, less the credit for waste.
struct Official {
    rules: Option<RuleSet>,
    sums: MonthSums,
    twelve_sums: MonthSums,
    before: Vec<StockMonth>,
    month: StockMonth,
}

impl Official {
    fn of(
        ledger: &Ledger,
        twelve: &Months,
        at: Moment,
        rules: Option<RuleSet>,
    ) -> Result<Self, LedgerError> {
        let store = Store::of(ledger, at)?;
        let by_stock = |m: &str| by_stock::month(ledger, &store, m, rules.as_ref());
        let before = twelve.list().iter().filter(|m| *m != twelve.last());
        Ok(Self {
            before: before.map(|m| by_stock(m)).collect::<Result<_, _>>()?,
            month: by_stock(twelve.last())?,
            sums: counting::sums(ledger, &Months::one(twelve.last())?, rules.as_ref())?,
            twelve_sums: counting::sums(ledger, twelve, rules.as_ref())?,
            rules,
        })
    }

    // The mass, and whether a part of it is not known.
    fn mass(&self, of: &Of, rolling: bool) -> (Mass, bool) {
        let sums = if rolling {
            &self.twelve_sums
        } else {
            &self.sums
        };
        let before = self.before.iter().filter(|_| rolling);
        let months: Vec<&StockMonth> = before.chain([&self.month]).collect();
        let credit: i64 = match of {
            Of::Voc => months.iter().map(|m| m.credit().0).sum(),
            _ => 0,
        };
        if self.month.settings.official == UseBasis::Log {
            return (Mass(of.total(sums).0 - credit), false);
        }
        let mut mass = 0;
        let mut gap = false;
        for month in months {
            gap |= month.totals().is_none();
            mass += month
                .uses
                .iter()
                .map(|row| of.of(&row.masses).0)
                .sum::<i64>();
        }
        (Mass(mass - credit), gap)
    }
}

fn figures(
    sums: &MonthSums,
    limits: &[CeilingRow],
    (rolling, gap): (bool, bool),
    official: impl Fn(&Of, Option<&str>) -> (Mass, bool),
) -> Vec<Figure> {
    let mut list: BTreeMap<String, Of> = BTreeMap::new();
    for s in sums.substances.iter().filter(|s| s.substance.counts.hap) {
        let of = Of::Substance(s.substance.cas.clone(), s.substance.name.clone());
        list.insert(s.substance.cas.clone(), of);
    }
    let of_period = |l: &&CeilingRow| l.scope == period(rolling);
    for l in limits.iter().filter(of_period) {
        // A limit on what is not used this month is a figure of the book, too: nothing of it is recorded.
        if !matches!(l.what.as_str(), "VOC" | "HAP") {
            list.entry(l.what.clone())
                .or_insert_with(|| Of::Substance(l.what.clone(), l.what.clone()));
        }
    }
    let mut substances: Vec<Of> = list.into_values().collect();
    substances.sort_by_key(Of::name);
    [Of::Voc, Of::Hap]
        .into_iter()
        .chain(substances)
        .map(|of| {
            let limit = limits
                .iter()
                .find(|l| of_period(l) && l.what == of.key())
                .cloned();
            let own = limit.as_ref().and_then(|l| l.rules.as_deref());
            let (mass, unknown) = official(&of, own);
            let gap = gap || unknown;
            let side = match limit.as_ref().map(|l| mass.0.cmp(&l.value)) {
                None => Side::NoneEntered,
                // What is known is over already, whatever is not known.
                Some(std::cmp::Ordering::Greater) => Side::Over,
                Some(_) if gap => Side::Unknown,
                Some(std::cmp::Ordering::Equal) => Side::At,
                Some(std::cmp::Ordering::Less) => Side::Under,
            };
            Figure {
                of,
                mass,
                limit,
                side,
                gap,
            }
        })
        .collect()
}

fn stock(ledger: &Ledger) -> Result<Vec<Stock>, LedgerError> {
    let poured = ledger.poured()?;
    let mut levels: BTreeMap<String, i64> = BTreeMap::new();
    for row in ledger.stock(None)? {
        *levels.entry(row.lot.clone()).or_default() += row.level().0;
    }
    let mut out: BTreeMap<String, Stock> = BTreeMap::new();
    for lot in ledger.lots()? {
        let s = out.entry(lot.material.clone()).or_insert_with(|| Stock {
            material: lot.material.clone(),
            received: Volume(0),
            used: Volume(0),
            mixed: Volume(0),
            level: Volume(0),
            below: Vec::new(),
        });
        s.received.0 += lot.volume.0;
        s.used.0 += lot.used.0;
        let of_lot = poured.get(&lot.lot).copied().unwrap_or_default();
        // A lot that was also used without a mix has more logged than mixed, which says nothing of its mixes.
        s.mixed.0 += (of_lot.0 - lot.used.0).max(0);
        let level = levels.get(&lot.lot).copied().unwrap_or(0);
        s.level.0 += level;
        if level < 0 {
            s.below.push((lot.lot, Volume(level)));
        }
    }
    Ok(out.into_values().collect())
}

impl Book {
    /// Whether the month is signed, in words.
    pub fn signed_words(&self, calendar: &crate::shop::calendar::Calendar) -> String {
        match self.now.newest() {
            None => "not signed".to_owned(),
            Some(s) if self.now.changes.is_empty() => format!(
                "signed by {} {}, revision {}",
                shown(&s.person),
                calendar.stamp(s.at),
                s.signed.revision
            ),
            Some(s) => format!(
                "revision {} not signed: changed since {} signed",
                self.now.next_revision(),
                shown(&s.person)
            ),
        }
    }

    /// What of the twelve months is unknown, in words: months before the record, coats without an amount.
    pub fn unknown_words(&self) -> Option<String> {
        let mut parts = Vec::new();
        if let (Some(first), Some(last)) = (self.before.first(), self.before.last()) {
            parts.push(if first == last {
                format!("{first} lies before the record and is unknown")
            } else {
                format!("{first} to {last} lie before the record and are unknown")
            });
        }
        if self.uncounted > 0 {
            parts.push(format!("coats without a known amount: {}", self.uncounted));
        }
        (!parts.is_empty()).then(|| parts.join("; "))
    }

    /// Whether a figure is over its limit, or something needed is not known.
    pub fn calls_for_attention(&self) -> bool {
        self.month
            .iter()
            .chain(&self.rolling)
            .any(|f| matches!(f.side, Side::Over | Side::Unknown))
            || self.before.contains(&self.now.sums.month)
            || self.stock.iter().any(|s| !s.below.is_empty())
            || self.contents.iter().any(Contents::calls_for_attention)
    }

    /// The forecast of the first limit, of twelve months before one month, in one line; `None` where no limit is entered.
    pub fn ahead_line(&self, system: System) -> Option<String> {
        self.ahead.first().map(|a| a.short(system))
    }

    /// As JSON.
    pub fn json(&self, calendar: &crate::shop::calendar::Calendar) -> Value {
        let list = |figures: &[Figure]| figures.iter().map(Figure::json).collect::<Vec<_>>();
        json!({
            "month": self.now.sums.month, "figures": list(&self.month),
            "twelve_months": {"figures": list(&self.rolling), "unknown_months": self.before, "coats_without_amount": self.uncounted},
            "signed": self.now.newest().map(|s| json!({"by": s.person, "revision": s.signed.revision})),
            "changed_since_signed": !self.now.changes.is_empty(),
            "provisional": self.provisional,
            "stock": self.stock.iter().map(Stock::json).collect::<Vec<_>>(),
            "by_stock": self.by_stock.json(),
            "checks": self.checks.iter().map(|c| c.json(calendar)).collect::<Vec<_>>(),
            "counted_by": self.counted_by, "remarks": self.remarks,
            "contents": self.contents.iter().map(Contents::json).collect::<Vec<_>>(),
            "forecasts": self.ahead.iter().map(Ahead::json).collect::<Vec<_>>(),
            "missed_checks": checks::missed_json(&self.missed, calendar),
            "note": super::sums::FROM_LOG_ALONE,
        })
    }

    /// As lines for people.
    pub fn lines(
        &self,
        calendar: &crate::shop::calendar::Calendar,
        at: Moment,
        system: System,
    ) -> Vec<String> {
        let mut out = vec![format!(
            "{}, {}",
            self.now.sums.month,
            self.signed_words(calendar)
        )];
        if !self.provisional.is_empty() {
            out.push(format!("provisional: {}", self.provisional.join("; ")));
        }
        out.push(super::sums::FROM_LOG_ALONE.to_owned());
        if let Some(by) = &self.counted_by {
            out.push(by.clone());
            out.extend(self.remarks.iter().map(|r| format!("  {}", shown(r))));
        }
        out.extend(self.month.iter().map(|f| f.line(system)));
        out.push(format!("twelve months to {}", self.now.sums.month));
        out.extend(self.unknown_words());
        out.extend(self.rolling.iter().map(|f| f.line(system)));
        out.extend(self.ahead.iter().map(|a| a.line(system)));
        out.extend(self.contents.iter().flat_map(|c| c.held_lines(system)));
        if self.by_stock.counted() {
            out.extend(self.by_stock.lines(calendar, system));
        } else {
            out.push(format!("stock: {NO_COUNT}"));
        }
        out.extend(self.stock.iter().map(|s| s.line(system)));
        out.push("checks".to_owned());
        out.extend(
            self.checks
                .iter()
                .map(|c| format!("  {}", c.line(calendar, at))),
        );
        let missed = checks::missed_lines(&self.missed);
        out.extend(missed.iter().map(|line| format!("  {line}")));
        out
    }
}

/// Where one is on the way from a total to an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// What is summed.
    pub of: Of,
    /// Over which months.
    pub months: Months,
    /// Material code and sheet, once one is chosen.
    pub material: Option<(String, String)>,
    /// Lot and mix, once they are chosen; no mix where the lot was used without one.
    pub lot: Option<(String, Option<u32>)>,
    /// The entry, once it is chosen.
    pub entry: Option<i64>,
}

impl Way {
    /// The way's beginning: all of a figure.
    pub const fn of(of: Of, months: Months) -> Self {
        Self {
            of,
            months,
            material: None,
            lot: None,
            entry: None,
        }
    }

    /// One level up; `None` at the top.
    #[must_use]
    pub fn up(&self) -> Option<Self> {
        let mut way = self.clone();
        if way.entry.take().is_some() || way.lot.take().is_some() || way.material.take().is_some() {
            Some(way)
        } else {
            None
        }
    }

    /// The way in words: `VOC, 2026-03, CLR sheet rev 4, lot L-221 in mix 2`.
    pub fn words(&self) -> String {
        let mut parts = vec![
            self.of.name(),
            if self.months.rolling() {
                format!("twelve months to {}", self.months.last())
            } else {
                self.months.last().to_owned()
            },
        ];
        if let Some((code, sheet)) = &self.material {
            parts.push(format!("{} sheet {}", shown(code), shown(sheet)));
        }
        if let Some((lot, mix)) = &self.lot {
            parts.push(from_words(lot, *mix));
        }
        if let Some(entry) = self.entry {
            parts.push(format!("entry {entry}"));
        }
        parts.join(", ")
    }
}

fn from_words(lot: &str, mix: Option<u32>) -> String {
    mix.map_or_else(
        || format!("lot {}, no mix", shown(lot)),
        |mix| format!("lot {} in mix {mix}", shown(lot)),
    )
}

/// A line of a level.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LevelRow {
    /// Where it leads.
    pub way: Way,
    /// What it is.
    pub name: String,
    /// What else is to be said of it.
    pub more: String,
    /// Volume used.
    pub volume: Volume,
    /// Mass of what is summed.
    pub mass: Mass,
}

/// One level of the way.
#[derive(Debug, Clone)]
pub struct Level {
    /// Where it is.
    pub way: Way,
    /// What its lines are.
    pub by: &'static str,
    /// The figure that it opens.
    pub total: Mass,
    /// The lines; they add up to the figure.
    pub rows: Vec<LevelRow>,
    /// The working, at an entry.
    pub working: Option<Box<Working>>,
    /// By what it is counted, where that is not what the data sheets state.
    pub counted_by: Option<String>,
}

impl Level {
    /// Milligrams by which the lines miss the figure above: always none, unless the record is damaged.
    pub fn missing(&self) -> i64 {
        if self.working.is_some() {
            return 0;
        }
        self.total.0 - self.rows.iter().map(|r| r.mass.0).sum::<i64>()
    }

    /// What its lines sum to, in words.
    pub fn sum_words(&self) -> String {
        match self.missing() {
            0 => format!("sum of the lines {} = the figure above", exact(self.total)),
            off => format!(
                "the lines miss the figure above by {}: run \"hangtime verify\"",
                exact(Mass(off))
            ),
        }
    }

    /// As JSON.
    pub fn json(&self, at: Moment, ledger: &Ledger, system: System) -> Value {
        json!({
            "way": self.way.words(), "by": self.by, "total_mg": self.total.0,
            "lines": self.rows.iter().map(|r| json!({
                "name": r.name, "more": r.more, "volume_ul": r.volume.0, "mass_mg": r.mass.0,
                "material": r.way.material.as_ref().map(|m| &m.0), "sheet": r.way.material.as_ref().map(|m| &m.1),
                "lot": r.way.lot.as_ref().map(|l| &l.0), "mix": r.way.lot.as_ref().and_then(|l| l.1),
                "entry": r.way.entry,
            })).collect::<Vec<_>>(),
            "missing_mg": self.missing(), "counted_by": self.counted_by,
            "working": self.working.as_ref().map(|w| w.json(at, &ledger.calendar(), system)),
        })
    }

    /// As lines for people.
    pub fn lines(&self, system: System) -> Vec<String> {
        let mut out = vec![format!("{}: {}", self.way.words(), exact(self.total))];
        out.extend(self.counted_by.clone());
        if let Some(w) = &self.working {
            out.extend(w.lines(system));
            return out;
        }
        out.push(format!("by {}", self.by));
        for r in &self.rows {
            out.push(format!(
                "  {:<22} {:>14} {:>16}  {}",
                r.name,
                r.volume.text(3),
                exact(r.mass),
                r.more
            ));
        }
        out.push(self.sum_words());
        out
    }
}

/// A mass to the last milligram that is kept, in grams.
pub fn exact(mass: Mass) -> String {
    mass.text(3)
}

/// Opens a level.
pub fn open(ledger: &Ledger, way: &Way, system: System) -> Result<Level, LedgerError> {
    let rules = counting::chosen(ledger, &way.months, None)?;
    let rules = rules.as_ref();
    let (by, total, rows) = match (&way.material, &way.lot) {
        (None, _) => materials(ledger, way, rules)?,
        (Some(material), None) => lots(ledger, way, material, rules)?,
        (Some(_), Some((lot, mix))) => uses(ledger, way, (lot, *mix), rules, system)?,
    };
    let mut level = Level {
        way: way.clone(),
        by,
        total,
        rows,
        working: None,
        counted_by: rules.map(|r| {
            let more = if way.entry.is_some() {
                "; the working below is as the data sheet states it"
            } else {
                ""
            };
            counting::words(Some(r)) + more
        }),
    };
    if let (Some(entry), Some((lot, _))) = (way.entry, &way.lot) {
        level.rows.retain(|r| r.way.entry == Some(entry));
        let row = level.rows.first().ok_or_else(|| {
            LedgerError::Input(format!(
                "entry {entry} used nothing of lot {} in these months",
                shown(lot)
            ))
        })?;
        level.total = row.mass;
        level.working = Some(Box::new(workings::of_use(ledger, entry, Some(lot))?));
    }
    Ok(level)
}

type Lines = (&'static str, Mass, Vec<LevelRow>);

fn materials(ledger: &Ledger, way: &Way, rules: Option<&RuleSet>) -> Result<Lines, LedgerError> {
    let sums = counting::sums(ledger, &way.months, rules)?;
    let mut by: BTreeMap<(String, String), Mass> = BTreeMap::new();
    for s in sums
        .substances
        .iter()
        .filter(|s| way.of.counts(&s.substance))
    {
        by.entry((s.material.clone(), s.sheet.clone()))
            .or_default()
            .0 += s.mass.0;
    }
    let groups = groups(ledger, &way.months, rules)?;
    let rows = by
        .into_iter()
        .map(|(material, mass)| {
            let of = groups.iter().filter(|g| g.material == material);
            LevelRow {
                name: shown(&material.0),
                more: format!("sheet {}", shown(&material.1)),
                volume: Volume(of.map(|g| g.volume.0).sum()),
                mass,
                way: Way {
                    material: Some(material),
                    ..way.clone()
                },
            }
        })
        .collect();
    Ok(("material and data sheet", way.of.total(&sums), rows))
}

// The uses of a lot from a mix, all together.
struct Group {
    material: (String, String),
    lot: String,
    mix: Option<u32>,
    uses: i64,
    volume: Volume,
    masses: Vec<(Counted, Mass)>,
}

fn groups(
    ledger: &Ledger,
    months: &Months,
    rules: Option<&RuleSet>,
) -> Result<Vec<Group>, LedgerError> {
    let mut out: Vec<Group> = Vec::new();
    for used in ledger.used_groups(months)? {
        let material = ledger.lot_material(&used.lot)?;
        // Each use was rounded by itself, so equal uses are a multiple of one.
        let masses: Vec<(Counted, Mass)> = material
            .masses_by(used.volume, rules)
            .into_iter()
            .map(|(c, m)| (c, Mass(m.0 * used.uses)))
            .collect();
        let volume = used.volume.0 * used.uses;
        match out.last_mut() {
            Some(g) if g.lot == used.lot && g.mix == used.mix => {
                g.uses += used.uses;
                g.volume.0 += volume;
                g.masses.extend(masses);
            }
            _ => out.push(Group {
                material: (material.code.clone(), material.sheet.clone()),
                lot: used.lot,
                mix: used.mix,
                uses: used.uses,
                volume: Volume(volume),
                masses,
            }),
        }
    }
    Ok(out)
}

fn lots(
    ledger: &Ledger,
    way: &Way,
    material: &(String, String),
    rules: Option<&RuleSet>,
) -> Result<Lines, LedgerError> {
    let (_, _, above) = materials(
        ledger,
        &Way {
            material: None,
            ..way.clone()
        },
        rules,
    )?;
    let total = above
        .iter()
        .find(|r| r.way.material.as_ref() == Some(material))
        .map(|r| r.mass)
        .ok_or_else(|| {
            LedgerError::Input(format!(
                "nothing of {} sheet {} counts in {} of these months",
                shown(&material.0),
                shown(&material.1),
                way.of.name()
            ))
        })?;
    let rows = groups(ledger, &way.months, rules)?
        .into_iter()
        .filter(|g| g.material == *material)
        .map(|g| LevelRow {
            name: from_words(&g.lot, g.mix),
            more: format!("{} {}", g.uses, if g.uses == 1 { "use" } else { "uses" }),
            volume: g.volume,
            mass: way.of.of(&g.masses),
            way: Way {
                lot: Some((g.lot, g.mix)),
                ..way.clone()
            },
        })
        .collect();
    Ok(("lot and mix", total, rows))
}

fn uses(
    ledger: &Ledger,
    way: &Way,
    (lot, mix): (&str, Option<u32>),
    rules: Option<&RuleSet>,
    system: System,
) -> Result<Lines, LedgerError> {
    let calendar = ledger.calendar();
    let total: i64 = groups(ledger, &way.months, rules)?
        .iter()
        .filter(|g| g.lot == lot && g.mix == mix)
        .map(|g| way.of.of(&g.masses).0)
        .sum();
    let material = ledger.lot_material(lot)?;
    let mut rows = Vec::new();
    for used in ledger.used_from(&way.months, lot, mix)? {
        let entry = ledger.entry(used.entry.0)?;
        let piece = entry.piece.as_ref().map_or("", |(_, serial)| serial);
        rows.push(LevelRow {
            name: format!("entry {} {}", used.entry.0, shown(piece)),
            more: format!(
                "{} {} {}",
                calendar.stamp(entry.ended),
                shown(&entry.person),
                entries::words(&entry.what, system)
            ),
            volume: used.volume,
            mass: way.of.of(&material.masses_by(used.volume, rules)),
            way: Way {
                entry: Some(used.entry.0),
                ..way.clone()
            },
        });
    }
    Ok(("entry", Mass(total), rows))
}
