//! A month by its stock: opening count, receipts, closing count, beside what was logged; the credit for shipped waste; and
//! the waste drums with their clocks.
//!
//! *Invariants*: what was not counted is unknown and never zero; a credit without its evidence is zero and says why; sums by
//! stock are split over the lots of a material so that they add up to the counted volume.

use super::book::{litres, mass as kg};
use super::{counting, entries};
use crate::ledger::{
    BookSettings, CeilingRow, CountRow, DrumRow, Ledger, LedgerError, LotRow, Months, PotLevel,
    ReceiptRow, shifted,
};
use crate::science::voc::{WastePapers, kept_waste_credit};
use crate::shop::calendar::{Calendar, Day};
use crate::shop::material::{Counted, Totals, split};
use crate::shop::rule_set::RuleSet;
use crate::shop::stock::UseBasis;
use crate::shop::text::shown;
use crate::units::{Amount, Mass, Moment, Share, Span, System, Volume};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What the log leaves in a pot, and what it does not know: `3.00 L made, 0.24 L drawn: 2.76 L left by the log`.
pub fn left_words(pot: &PotLevel, unknown: u32, system: System) -> String {
    let (made, drawn) = (litres(pot.made, system), litres(pot.sprayed, system));
    let left = litres(pot.left(), system);
    let mut text = format!("{made} made, {drawn} drawn by coats: {left} left by the log");
    if pot.level.0 < 0 {
        text.push_str(", as more was drawn than made");
    }
    match unknown {
        0 => {}
        1 => text.push_str("; 1 deed from it has no amount, so that less is there"),
        n => text.push_str(&format!(
            "; {n} deeds from it have no amount, so that less is there"
        )),
    }
    text
}

/// One material in a month, by its stock and by the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockUse {
    /// Material code.
    pub material: String,
    /// The count with which the month begins; several where lots were counted one by one.
    pub opening: Vec<CountRow>,
    /// What came in.
    pub receipts: Vec<ReceiptRow>,
    /// The count that closes the month.
    pub closing: Vec<CountRow>,
    /// What was used by stock; `None` where a count is missing.
    pub by_stock: Option<Volume>,
    /// What was logged.
    pub logged: Volume,
    /// VOC and HAP of what was used by stock.
    pub totals: Option<Totals>,
    /// Masses by substance of what was used by stock; of what was logged where that is not known.
    pub masses: Vec<(Counted, Mass)>,
    /// VOC and HAP of what was logged.
    pub logged_totals: Totals,
}

impl StockUse {
    /// By stock less logged.
    pub fn difference(&self) -> Option<Volume> {
        self.by_stock.map(|v| Volume(v.0 - self.logged.0))
    }

    /// The difference as a share of what was used by stock, in ppm; `None` where nothing was used or counted.
    pub fn difference_share(&self) -> Option<i64> {
        let by_stock = self.by_stock.filter(|v| v.0 > 0)?;
        let ppm = i128::from(self.difference()?.0) * 1_000_000 / i128::from(by_stock.0);
        i64::try_from(ppm).ok()
    }

    // Who counted when, and what came in with which paper: each by its entry, to be shown with "entries".
    fn stands_on(&self, calendar: &Calendar, system: System) -> Vec<String> {
        let counts = [("opening", &self.opening), ("closing", &self.closing)];
        let counts = counts.into_iter().flat_map(|(what, list)| {
            list.iter().map(move |c| {
                let of = c
                    .lot
                    .as_ref()
                    .map_or_else(String::new, |l| format!(" of lot {}", shown(l)));
                let at = calendar.stamp(c.at);
                let volume = litres(c.volume, system);
                format!(
                    "      {what} {volume}{of} counted by {} {at}, entry {}",
                    shown(&c.person),
                    c.entry
                )
            })
        });
        let receipts = self.receipts.iter().map(|r| {
            let paper = r
                .document
                .as_ref()
                .map_or_else(|| "no document named".to_owned(), |d| shown(d));
            let volume = litres(r.volume, system);
            format!(
                "      receipt {volume} of lot {} by {}, {paper}, entry {}",
                shown(&r.lot),
                shown(&r.person),
                r.entry
            )
        });
        counts.chain(receipts).collect()
    }

    fn missing(&self) -> Option<&'static str> {
        match (self.opening.is_empty(), self.closing.is_empty()) {
            (true, true) => Some("neither opening nor closing count"),
            (true, false) => Some("no opening count"),
            (false, true) => Some("no closing count"),
            (false, false) => None,
        }
    }
}

/// A drum's credit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Credit {
    /// The drum.
    pub drum: DrumRow,
    /// What is taken off.
    pub credit: Mass,
    /// Why nothing is.
    pub refused: Option<String>,
}

/// A month by its stock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockMonth {
    /// The month.
    pub month: String,
    /// How the book is kept.
    pub settings: BookSettings,
    /// By material.
    pub uses: Vec<StockUse>,
    /// The drums that left in it.
    pub credits: Vec<Credit>,
}

/// What every month by its stock is made from, as known at one moment.
#[derive(Debug)]
pub struct Store {
    settings: BookSettings,
    counts: Vec<CountRow>,
    drums: Vec<DrumRow>,
    lots: Vec<LotRow>,
    codes: Vec<String>,
}

impl Store {
    /// Of a ledger.
    pub fn of(ledger: &Ledger, at: Moment) -> Result<Self, LedgerError> {
        let mut codes: Vec<String> = ledger.materials()?.into_iter().map(|m| m.code).collect();
        codes.sort_unstable();
        codes.dedup();
        Ok(Self {
            settings: ledger.book_settings()?,
            counts: ledger.counts(at)?,
            drums: ledger.drums(at)?,
            lots: ledger.lots()?,
            codes,
        })
    }
}

/// A month by its stock, as a rule set counts it; without one as the data sheets do.
pub fn month(
    ledger: &Ledger,
    store: &Store,
    month: &str,
    rules: Option<&RuleSet>,
) -> Result<StockMonth, LedgerError> {
    let months = Months::one(month)?;
    let days = months.days();
    let receipts = ledger.receipts(days)?;
    let sums = counting::sums(ledger, &months, rules)?;
    let before = shifted(month, -1);
    let logged_by_lot = ledger.logged_by_lot(month)?;
    let mut uses = Vec::new();
    for code in &store.codes {
        let opening = closing_of(&store.counts, code, before.as_deref());
        let closing = closing_of(&store.counts, code, Some(month));
        let receipts: Vec<ReceiptRow> = receipts
            .iter()
            .filter(|r| r.material == *code)
            .cloned()
            .collect();
        let (logged, logged_totals) = sums
            .materials
            .iter()
            .find(|(m, _, _)| m == code)
            .map_or((Volume(0), Totals::default()), |(_, v, t)| (*v, *t));
        if opening.is_empty() && closing.is_empty() && receipts.is_empty() && logged.0 == 0 {
            continue;
        }
        let sum = |list: &[CountRow]| list.iter().map(|c| c.volume.0).sum::<i64>();
        let came: i64 = receipts.iter().map(|r| r.volume.0).sum();
        let by_stock = (!opening.is_empty() && !closing.is_empty())
            .then(|| Volume(sum(&opening) + came - sum(&closing)));
        let mut row = StockUse {
            material: code.clone(),
            opening,
            receipts,
            closing,
            by_stock,
            logged,
            totals: None,
            masses: Vec::new(),
            logged_totals,
        };
        if let Some(volume) = by_stock {
            // What was used is of the lots that were logged, else of those that came in, else of all that are there.
            let of = |weight: &dyn Fn(&str) -> i64| -> Vec<(String, i64)> {
                store
                    .lots
                    .iter()
                    .filter(|l| l.material == *code)
                    .map(|l| (l.lot.clone(), weight(&l.lot)))
                    .filter(|(_, w)| *w > 0)
                    .collect()
            };
            let mut weights = of(&|lot| logged_by_lot.get(lot).map_or(0, |v| v.0));
            if weights.is_empty() {
                weights = of(&|lot| {
                    let came = row.receipts.iter().filter(|r| r.lot == lot);
                    came.map(|r| r.volume.0).sum()
                });
            }
            if weights.is_empty() {
                weights = of(&|_| 1);
            }
            let parts: Vec<i64> = weights.iter().map(|(_, w)| *w).collect();
            let mut masses: BTreeMap<String, (Counted, Mass)> = BTreeMap::new();
            let mut totals = Totals::default();
            for ((lot, _), part) in weights.iter().zip(split(volume.0, &parts)) {
                let of_lot = ledger.lot_material(lot)?.masses_by(Volume(part), rules);
                totals.add(&of_lot);
                for (counted, mass) in of_lot {
                    masses
                        .entry(counted.cas.clone())
                        .and_modify(|(_, m)| m.0 += mass.0)
                        .or_insert((counted, mass));
                }
            }
            row.totals = Some(totals);
            row.masses = masses.into_values().collect();
        } else {
            // What was not counted stands by the log, as the least that is known of it.
            let of = sums.substances.iter().filter(|s| s.material == *code);
            row.masses = of.map(|s| (s.substance.clone(), s.mass)).collect();
        }
        uses.push(row);
    }
    let credits = store
        .drums
        .iter()
        .filter(|d| {
            // Waste goes by the calendar, not by the production day.
            d.shipped
                .as_ref()
                .is_some_and(|s| ledger.calendar().local(s.at).format("%Y-%m").to_string() == month)
        })
        .map(|drum| credit(drum.clone(), &store.settings))
        .collect();
    Ok(StockMonth {
        month: month.to_owned(),
        settings: store.settings.clone(),
        uses,
        credits,
    })
}

// The counts of a material that close a month: the newest of the whole material, or else the newest of each of its lots.
fn closing_of(counts: &[CountRow], material: &str, month: Option<&str>) -> Vec<CountRow> {
    let of: Vec<&CountRow> = counts
        .iter()
        .filter(|c| c.material == material && c.closes.as_deref() == month && month.is_some())
        .collect();
    if let Some(whole) = of.iter().rev().find(|c| c.lot.is_none()) {
        return vec![(*whole).clone()];
    }
    let mut by_lot: BTreeMap<&str, &CountRow> = BTreeMap::new();
    for count in &of {
        by_lot.insert(count.lot.as_deref().unwrap_or(""), count);
    }
    by_lot.into_values().cloned().collect()
}

// A credit stands on the shop's setting, the manifest and the analysis: without one of them it is none.
fn credit(drum: DrumRow, settings: &BookSettings) -> Credit {
    let shipped = drum.shipped.as_ref();
    let missing = WastePapers {
        site_allows: settings.waste_credit,
        manifest: shipped.is_some_and(|s| s.manifest.is_some()),
        analysis: drum.analysis.is_some(),
    }
    .missing();
    let credit = match (missing.as_slice(), shipped, &drum.analysis) {
        ([], Some(s), Some((voc, _, _))) => kept_waste_credit(s.mass, *voc).unwrap_or(Mass(0)),
        _ => Mass(0),
    };
    let refused = (!missing.is_empty()).then(|| format!("without {}", missing.join(", ")));
    Credit {
        drum,
        credit,
        refused,
    }
}

impl StockMonth {
    /// What is taken off for shipped waste.
    pub fn credit(&self) -> Mass {
        Mass(self.credits.iter().map(|c| c.credit.0).sum())
    }

    /// VOC and HAP by stock; `None` where a count is missing for a material that was used or received.
    pub fn totals(&self) -> Option<Totals> {
        let mut all = Totals::default();
        for row in &self.uses {
            let of = row.totals?;
            all.merge(&of);
        }
        Some(all)
    }

    /// The materials of which a count is missing, with what is missing.
    pub fn missing(&self) -> Vec<String> {
        self.uses
            .iter()
            .filter_map(|u| {
                u.missing()
                    .map(|what| format!("{what} of {}", shown(&u.material)))
            })
            .collect()
    }

    /// Whether the month is one to be counted: the shop goes by its stock, or somebody counts.
    pub fn counted(&self) -> bool {
        let by_hand = |u: &StockUse| !u.opening.is_empty() || !u.closing.is_empty();
        self.settings.official == UseBasis::Stock || self.uses.iter().any(by_hand)
    }

    /// As JSON.
    pub fn json(&self) -> Value {
        let counts = |list: &[CountRow]| {
            list.iter()
                .map(|c| json!({"entry": c.entry, "lot": c.lot, "volume_ul": c.volume.0, "by": c.person}))
                .collect::<Vec<_>>()
        };
        json!({
            "month": self.month,
            "official": crate::shop::words::Word::word(self.settings.official),
            "materials": self.uses.iter().map(|u| json!({
                "material": u.material,
                "opening": counts(&u.opening), "closing": counts(&u.closing),
                "receipts": u.receipts.iter().map(|r| json!({
                    "entry": r.entry, "lot": r.lot, "volume_ul": r.volume.0, "document": r.document, "by": r.person,
                })).collect::<Vec<_>>(),
                "by_stock_ul": u.by_stock.map(|v| v.0), "logged_ul": u.logged.0,
                "difference_ul": u.difference().map(|v| v.0), "difference_ppm": u.difference_share(),
                "by_stock": u.totals.as_ref().map(entries::totals), "by_log": entries::totals(&u.logged_totals),
                "substances_by_stock": u.masses.iter().filter(|_| u.by_stock.is_some()).map(|(c, m)| json!({"cas": c.cas, "name": c.name, "mass_mg": m.0})).collect::<Vec<_>>(),
                "missing": u.missing(),
            })).collect::<Vec<_>>(),
            "by_stock": self.totals().as_ref().map(entries::totals),
            "waste": self.credits.iter().map(|c| json!({
                "drum": c.drum.drum, "mass_mg": c.drum.shipped.as_ref().map(|s| s.mass.0),
                "manifest": c.drum.shipped.as_ref().and_then(|s| s.manifest.clone()),
                "voc_ppm": c.drum.analysis.as_ref().map(|a| a.0.0), "analysis": c.drum.analysis.as_ref().map(|a| a.1.clone()),
                "credit_mg": c.credit.0, "why_none": c.refused,
            })).collect::<Vec<_>>(),
            "waste_credit_mg": self.credit().0,
            "missing": self.missing(),
        })
    }

    /// As lines for people.
    pub fn lines(&self, calendar: &Calendar, system: System) -> Vec<String> {
        let mut out = vec![format!(
            "by stock: opening count and receipts less closing count; official is the {} (the shop's setting)",
            crate::shop::words::Word::word(self.settings.official)
        )];
        for u in &self.uses {
            out.push(self.use_line(u, system));
            out.extend(u.stands_on(calendar, system));
        }
        match self.totals() {
            Some(t) => out.push(format!(
                "  VOC by stock {}, HAP by stock {}",
                kg(t.voc, system),
                kg(t.hap, system)
            )),
            None => out.push(format!(
                "  VOC by stock: unknown, {}",
                self.missing().join("; ")
            )),
        }
        for c in &self.credits {
            let mass = c.drum.shipped.as_ref().map_or(Mass(0), |s| s.mass);
            out.push(match &c.refused {
                Some(why) => format!(
                    "  waste drum {}: {} left, credit 0: {why}",
                    shown(&c.drum.drum),
                    kg(mass, system)
                ),
                None => format!(
                    "  waste drum {}: {} left at {} VOC ({}), manifest {}: credit {}",
                    shown(&c.drum.drum),
                    kg(mass, system),
                    c.drum
                        .analysis
                        .as_ref()
                        .map_or_else(String::new, |a| a.0.text(1)),
                    c.drum
                        .analysis
                        .as_ref()
                        .map_or_else(String::new, |a| shown(&a.1)),
                    c.drum
                        .shipped
                        .as_ref()
                        .and_then(|s| s.manifest.as_deref())
                        .map_or_else(String::new, shown),
                    kg(c.credit, system)
                ),
            });
        }
        out
    }

    fn use_line(&self, u: &StockUse, system: System) -> String {
        let sum = |list: &[CountRow]| Volume(list.iter().map(|c| c.volume.0).sum());
        let counted = |list: &[CountRow]| {
            if list.is_empty() {
                "not counted".to_owned()
            } else {
                litres(sum(list), system)
            }
        };
        let came = Volume(u.receipts.iter().map(|r| r.volume.0).sum());
        let mut text = format!(
            "  {:<6} opening {} + receipts {} - closing {} = ",
            shown(&u.material),
            counted(&u.opening),
            litres(came, system),
            counted(&u.closing)
        );
        match (u.by_stock, u.totals) {
            (Some(v), Some(t)) => {
                text.push_str(&format!(
                    "{}, VOC {}; logged {}, VOC {}",
                    litres(v, system),
                    kg(t.voc, system),
                    litres(u.logged, system),
                    kg(u.logged_totals.voc, system)
                ));
                if let (Some(d), Some(ppm)) = (u.difference(), u.difference_share()) {
                    text.push_str(&format!(
                        "; difference {} ({})",
                        litres(d, system),
                        Share(ppm).text(1)
                    ));
                    if let Some(mark) = self.settings.difference
                        && ppm.abs() > mark.0
                    {
                        text.push_str(&format!(
                            ", more than the {} entered: look into it",
                            mark.text(1)
                        ));
                    }
                }
            }
            _ => text.push_str(&format!("unknown; logged {}", litres(u.logged, system))),
        }
        text
    }
}

/// The month that a count closes by its day: on the last production day of a month, or on the first of the next. Common
/// practice, no source.
pub fn turn_of_month(calendar: &Calendar, at: Moment) -> Option<String> {
    let day = calendar.day(at);
    let (next, before) = (Day(day.0 + 1), Day(day.0 - 1));
    if next.month() != day.month() {
        Some(day.month())
    } else if before.month() != day.month() {
        Some(before.month())
    } else {
        None
    }
}

/// The word under which the longest time of a waste drum is kept.
pub const DRUM_DAYS: &str = "waste drum";

/// A drum's clock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrumClock {
    /// When its time is over, by the limit that the shop entered.
    pub due: Option<Moment>,
    /// From when it is said before.
    pub warn: Option<Moment>,
    /// `over`, `soon`, `under` or `none_entered`; of one that has left `left`.
    pub state: &'static str,
}

/// How long before its time a drum is called out, where the limit says nothing else: 30 days (common practice, no source).
const DRUM_AHEAD: Span = Span::hours(24 * 30);

/// A drum's clock at a moment. Days are days of the calendar: a drum that was started on the 3rd is due on the same hour.
pub fn clock(drum: &DrumRow, limits: &[CeilingRow], calendar: &Calendar, at: Moment) -> DrumClock {
    let limit = limits
        .iter()
        .find(|l| l.what == DRUM_DAYS && l.scope == drum.drum)
        .or_else(|| {
            limits
                .iter()
                .find(|l| l.what == DRUM_DAYS && l.scope == "all drums")
        });
    let due = limit.map(|l| {
        let days = l.value.div_euclid(86_400_000);
        let start = calendar.local(drum.started.0).date_naive();
        let end = start
            .checked_add_days(chrono::Days::new(u64::try_from(days).unwrap_or(0)))
            .unwrap_or(start);
        calendar.midnight(end)
    });
    let warn = due.map(|d| {
        let start = calendar.local(d).date_naive();
        let days = u64::try_from(DRUM_AHEAD.0 / 86_400_000).unwrap_or(0);
        calendar.midnight(
            start
                .checked_sub_days(chrono::Days::new(days))
                .unwrap_or(start),
        )
    });
    let state = match (&drum.shipped, due, warn) {
        (Some(_), ..) => "left",
        (None, None, _) => "none_entered",
        (None, Some(due), _) if at >= calendar.midnight(next_day(calendar, due)) => "over",
        (None, _, Some(warn)) if at >= warn => "soon",
        _ => "under",
    };
    DrumClock { due, warn, state }
}

fn next_day(calendar: &Calendar, at: Moment) -> chrono::NaiveDate {
    let day = calendar.local(at).date_naive();
    day.succ_opt().unwrap_or(day)
}

/// A drum as JSON.
pub fn drum_json(drum: &DrumRow, clock: &DrumClock, calendar: &Calendar) -> Value {
    let date = |m: Moment| calendar.local(m).date_naive().to_string();
    json!({
        "drum": drum.drum, "contents": drum.contents, "place": drum.place,
        "capacity_ul": drum.capacity.map(|v| v.0), "started": calendar.rfc3339(drum.started.0),
        "volume_ul": drum.volume.0, "mass_mg": drum.mass.0,
        "voc_ppm": drum.analysis.as_ref().map(|a| a.0.0), "analysis": drum.analysis.as_ref().map(|a| a.1.clone()),
        "shipped": drum.shipped.as_ref().map(|s| json!({
            "at": calendar.rfc3339(s.at), "mass_mg": s.mass.0, "manifest": s.manifest, "carrier": s.carrier,
        })),
        "due": clock.due.map(date), "warn_from": clock.warn.map(date), "state": clock.state,
    })
}

/// A drum as a line.
pub fn drum_line(drum: &DrumRow, clock: &DrumClock, calendar: &Calendar, system: System) -> String {
    format!(
        "{:<8} {}",
        shown(&drum.drum),
        drum_words(drum, clock, calendar, system)
    )
}

/// What is in a drum and how its clock stands.
pub fn drum_words(
    drum: &DrumRow,
    clock: &DrumClock,
    calendar: &Calendar,
    system: System,
) -> String {
    let date = |m: Moment| calendar.local(m).date_naive().to_string();
    let mut text = format!(
        "{}, started {}",
        shown(&drum.contents),
        date(drum.started.0)
    );
    if drum.volume.0 > 0 {
        text.push_str(&format!(", {} in it", litres(drum.volume, system)));
    }
    if drum.mass.0 > 0 {
        text.push_str(&format!(", {} in it", kg(drum.mass, system)));
    }
    if let Some(s) = &drum.shipped {
        text.push_str(&format!(
            ", left {}, {}, manifest {}",
            date(s.at),
            kg(s.mass, system),
            s.manifest
                .as_deref()
                .map_or_else(|| "not entered".to_owned(), shown)
        ));
        return text;
    }
    match (clock.due, clock.warn) {
        (Some(due), Some(warn)) => text.push_str(&match clock.state {
            "over" => format!(", OVER: it was to leave by {}", date(due)),
            _ => format!(
                ", to leave by {} (reminder from {} on)",
                date(due),
                date(warn)
            ),
        }),
        _ => text.push_str(", no limit entered for its time"),
    }
    text
}
