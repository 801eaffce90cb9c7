//! Stock and pots: what is entered, and what the record knows of levels and counts.
//!
//! *Invariants*: a level is the sum of what came in and what left, and may be below zero: then a receipt or a count is
//! missing. A pot that was closed or topped up gives nothing more.
//!
//! *Not here*: waste drums (`drums`), what a month makes of it (`reports`), limits.

use super::append::{Line, NewAction, Saved, Stamp, Who};
use super::booths::SPRAYED_IN;
use super::drums::check_drum;
use super::error::LedgerError;
use super::open::Ledger;
use super::read::{EntryRow, entries_where};
use super::rules::NO_RULES;
use super::setup::material_like;
use super::stored::{COATS, Shared};
use crate::shop::calendar::Day;
use crate::shop::record::{ShopFact, What};
use crate::shop::stock::{Purpose, STORE, StockFact, UseBasis};
use crate::shop::text::clean;
use crate::shop::words::Word;
use crate::units::{Amount, Moment, Share, Volume};
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeMap;

/// Whether something can still be taken from a row of `mix`: nobody closed its pot, and no mix that tops it up took what was
/// left.
pub(super) const POT_OPEN: &str = "(mix.closed IS NULL AND NOT EXISTS
    (SELECT 1 FROM mix next WHERE next.parent = mix.mix AND next.left_ul IS NOT NULL))";

/// What lies of a lot at a place, by what was entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StockRow {
    /// The lot.
    pub lot: String,
    /// Material code.
    pub material: String,
    /// The place.
    pub place: String,
    /// What came in there, carried in included.
    pub came: Volume,
    /// What left it, carried away included.
    pub left: Volume,
}

impl StockRow {
    /// What lies there; below zero where more left than came in.
    pub const fn level(&self) -> Volume {
        Volume(self.came.0 - self.left.0)
    }
}

/// A count that was entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CountRow {
    /// The entry.
    pub entry: i64,
    /// Material code.
    pub material: String,
    /// The lot, where one alone was counted.
    pub lot: Option<String>,
    /// How much was there.
    pub volume: Volume,
    /// The month that it closes.
    pub closes: Option<String>,
    /// Production day.
    pub day: Day,
    /// When.
    pub at: Moment,
    /// Initials of who counted.
    pub person: String,
}

/// A receipt: the first of a lot, or a further delivery.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReceiptRow {
    /// The entry.
    pub entry: i64,
    /// The lot.
    pub lot: String,
    /// Material code.
    pub material: String,
    /// How much.
    pub volume: Volume,
    /// Delivery note or invoice.
    pub document: Option<String>,
    /// Production day.
    pub day: Day,
    /// Initials of who received it.
    pub person: String,
}

/// What is in a pot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PotLevel {
    /// What was made, the left-over that it topped up included.
    pub made: Volume,
    /// What logged coats took from it.
    pub sprayed: Volume,
    /// What is in it; below zero where more was logged than made.
    pub level: Volume,
    /// The entry that closed it.
    pub closed: Option<i64>,
    /// The mix that it was topped up into.
    pub topped_up: Option<u32>,
}

impl PotLevel {
    /// What the log leaves in it, which is never less than nothing.
    pub fn left(&self) -> Volume {
        Volume(self.level.0.max(0))
    }

    /// Refuses more than was ever in it.
    pub fn check_left(&self, mix: u32, left: Volume) -> Result<(), LedgerError> {
        if left <= self.made {
            return Ok(());
        }
        Err(LedgerError::Input(format!(
            "left {} is more than the {} that mix {mix} was made with; write 0 to {}",
            left.trimmed(),
            self.made.trimmed(),
            self.made.trimmed()
        )))
    }

    /// Whether something can still be taken from it.
    pub const fn open(&self) -> bool {
        self.closed.is_none() && self.topped_up.is_none()
    }
}

/// How the shop keeps its solvent book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookSettings {
    /// Which figures are official.
    pub official: UseBasis,
    /// Whether shipped waste is taken off, where its evidence is there.
    pub waste_credit: bool,
    /// Share of the stock's figure at which the difference to the log is called out.
    pub difference: Option<Share>,
    /// The rule set that says what counts; `None`: as the data sheets state it.
    pub rules: Option<String>,
}

/// What a use is counted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UseBy {
    /// Production day.
    Day,
    /// The booth that it was used in, by the room in which the piece hung.
    Booth,
    /// Coating, thinning, cleaning, ...
    Purpose,
    /// The moment at which it ended, in milliseconds of UTC.
    Moment,
    /// Whether it was a logged coat: `coat`, or empty.
    Coat,
    /// Nothing: one group.
    All,
}

/// Uses that share a key, a lot, a mix and a volume.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UseGroup {
    /// What they share, as it is counted by: a day as `2026-03-14`, a booth, a purpose, ...; empty where a booth is not known.
    pub key: String,
    /// The lot.
    pub lot: String,
    /// Volume of one use.
    pub volume: Volume,
    /// How many uses.
    pub uses: i64,
}

/// The same as `Ledger::noted`, within a write.
pub(super) fn noted_in(
    conn: &Connection,
    topic: &str,
    about: Option<&str>,
    until: Moment,
) -> Result<Vec<EntryRow>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT entry FROM noted WHERE topic = ?1 AND (?2 IS NULL OR about = ?2) AND at <= ?3 ORDER BY at, entry",
    )?;
    let seqs: Vec<i64> = list
        .query_map(params![topic, about, until.0], |r| r.get(0))?
        .collect::<Result<_, _>>()?;
    let mut rows = Vec::with_capacity(seqs.len());
    for seq in seqs {
        rows.extend(entries_where(conn, "WHERE e.seq = ?1", &[seq])?);
    }
    Ok(rows)
}

impl Ledger {
    pub(super) fn stock_fact(
        &mut self,
        deed: &str,
        fact: StockFact,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        self.shop_fact(deed, ShopFact::Stock(fact), at, who, stamp)
    }

    /// Some of a lot was used without a coat.
    #[allow(clippy::too_many_arguments, reason = "what the month asks of a use")]
    pub fn issue(
        &mut self,
        lot: &str,
        volume: Volume,
        purpose: Purpose,
        (place, booth): (Option<&str>, Option<&str>),
        note: Option<&str>,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        super::models::lot_sheet(&self.conn, lot)?;
        let fact = StockFact::Issued {
            lot: lot.to_owned(),
            volume: some(volume)?,
            purpose,
            place: place_name(place)?,
            booth: named("booth", booth, 30)?,
            note: named("note", note, 200)?,
        };
        self.stock_fact("issue", fact, at, who, stamp)
    }

    /// Some of a lot was carried to another place.
    #[allow(clippy::too_many_arguments, reason = "a way has two ends")]
    pub fn carry(
        &mut self,
        lot: &str,
        volume: Volume,
        from: Option<&str>,
        to: &str,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        super::models::lot_sheet(&self.conn, lot)?;
        let (from, to) = (place_name(from)?, place_name(Some(to))?);
        if from == to {
            return Err(LedgerError::Input(format!(
                "lot {lot} lies in {from} already; name another place with --to"
            )));
        }
        let fact = StockFact::Carried {
            lot: lot.to_owned(),
            volume: some(volume)?,
            from,
            to,
        };
        self.stock_fact("carry", fact, at, who, stamp)
    }

    /// What is there was counted: of a material, or of one lot.
    #[allow(
        clippy::too_many_arguments,
        reason = "what a count is worth keeping with"
    )]
    pub fn count_stock(
        &mut self,
        what: &str,
        volume: Volume,
        closes: Option<&str>,
        note: Option<&str>,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let (material, lot) = self.lot_or_material(what)?;
        if let Some(month) = closes {
            super::months::days_of(month)?;
        }
        let fact = StockFact::Counted {
            material,
            lot,
            volume,
            closes: closes.map(ToOwned::to_owned),
            note: named("note", note, 200)?,
        };
        self.stock_fact("count", fact, at, who, stamp)
    }

    // The material that a word names, and the lot where it names one.
    fn lot_or_material(&self, what: &str) -> Result<(String, Option<String>), LedgerError> {
        if let Some(code) = material_like(&self.conn, what)? {
            return Ok((code, None));
        }
        let material: Option<String> = self
            .conn
            .prepare_cached("SELECT material FROM lot WHERE lot = ?1")?
            .query_row([what], |r| r.get(0))
            .optional()?;
        material.map(|m| (m, Some(what.to_owned()))).ok_or_else(|| {
            LedgerError::Input(format!(
                "\"{}\" is neither a material nor a lot; \"hangtime lot list\" lists them",
                crate::shop::text::shown(what)
            ))
        })
    }

    /// A pot was closed: what was left in it, and the drum that it went into. `None`: what the log leaves.
    pub fn close_pot(
        &mut self,
        mix: u32,
        left: Option<Volume>,
        drum: Option<&str>,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<(Saved, Volume), LedgerError> {
        let drum = named("drum", drum, 30)?;
        self.write(|w| {
            super::read::check_mix(&w.tx, mix)?;
            let pot = pot_level(&w.tx, mix)?;
            check_open(&w.tx, mix, &pot)?;
            if let Some(drum) = &drum {
                check_drum(&w.tx, drum)?;
            }
            let left = left.unwrap_or(pot.left());
            pot.check_left(mix, left)?;
            let fact = StockFact::PotClosed { mix, left, drum };
            let line = Line::shop(What::Shop(ShopFact::Stock(fact)));
            let action = NewAction::at_once("close pot", who.clone(), at, vec![line]);
            let saved = w.append(&action, &Shared::default(), stamp)?;
            Ok((saved, left))
        })
    }

    /// How the solvent book is kept from now on.
    pub fn set_book(
        &mut self,
        name: &str,
        value: &str,
        source: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let value = clean("value", value, 40).map_err(LedgerError::Input)?;
        let fault = |choices: &str| {
            Err(LedgerError::Input(format!(
                "{name} \"{value}\" is not understood; write {choices}"
            )))
        };
        match name {
            "official" if UseBasis::from_word(&value).is_none() => {
                return fault(&UseBasis::choices());
            }
            "waste-credit" if !matches!(value.as_str(), "on" | "off") => {
                return fault("on or off");
            }
            "difference" if Share::read(&value, Some("%")).is_err() => {
                return fault("a share such as 5%");
            }
            "rules" if value != NO_RULES => self.check_rules(&value)?,
            "official" | "waste-credit" | "difference" | "rules" => {}
            _ => {
                return Err(LedgerError::Input(format!(
                    "setting \"{}\" is not known; write one of official, waste-credit, difference, rules",
                    crate::shop::text::shown(name)
                )));
            }
        }
        let fact = ShopFact::BookSetting {
            name: name.to_owned(),
            value,
            source: clean("source", source, 120).map_err(LedgerError::Input)?,
        };
        self.shop_fact("book setting", fact, stamp.written, who, stamp)
    }

    /// How the solvent book is kept.
    pub fn book_settings(&self) -> Result<BookSettings, LedgerError> {
        let of = |name: &str| -> Result<Option<String>, LedgerError> {
            Ok(self
                .conn
                .prepare_cached("SELECT value FROM setting WHERE name = ?1")?
                .query_row([format!("book {name}")], |r| r.get(0))
                .optional()?)
        };
        Ok(BookSettings {
            official: of("official")?
                .and_then(|v| UseBasis::from_word(&v))
                .unwrap_or(UseBasis::Log),
            waste_credit: of("waste-credit")?.is_some_and(|v| v == "on"),
            difference: of("difference")?.and_then(|v| Share::read(&v, Some("%")).ok()),
            rules: of("rules")?.filter(|v| v != NO_RULES),
        })
    }

    /// What lies where, by lot, by what was entered up to the end of production day `until`.
    pub fn stock(&self, until: Option<Day>) -> Result<Vec<StockRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT s.lot, l.material, s.place, sum(max(s.volume, 0)), -sum(min(s.volume, 0))
             FROM stock_move s JOIN lot l ON l.lot = s.lot WHERE s.day <= ?1
             GROUP BY s.lot, s.place ORDER BY l.material, s.lot, s.place",
        )?;
        let rows = list.query_map([until.map_or(i64::MAX, |d| i64::from(d.0))], |r| {
            Ok(StockRow {
                lot: r.get(0)?,
                material: r.get(1)?,
                place: r.get(2)?,
                came: Volume(r.get(3)?),
                left: Volume(r.get(4)?),
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Whether anything of a lot came or went on some production days.
    pub fn stock_moved(&self, lot: &str, [first, end]: [i64; 2]) -> Result<bool, LedgerError> {
        Ok(self
            .conn
            .prepare_cached("SELECT 1 FROM stock_move WHERE lot = ?1 AND day >= ?2 AND day < ?3")?
            .exists(params![lot, first, end])?)
    }

    /// What is in the pot of a mix.
    pub fn pot(&self, mix: u32) -> Result<PotLevel, LedgerError> {
        super::read::check_mix(&self.conn, mix)?;
        pot_level(&self.conn, mix)
    }

    /// What is in the pot of a mix that may still be closed, and how many coats from it have no amount, so that less is there
    /// than the log leaves.
    pub fn pot_to_close(&self, mix: u32) -> Result<(PotLevel, u32), LedgerError> {
        let pot = self.pot(mix)?;
        check_open(&self.conn, mix, &pot)?;
        // A pot is open for days: the entries since its mix are a short end of the record.
        let unknown = self
            .conn
            .prepare_cached(&format!(
                "SELECT count(DISTINCT e.action) FROM entry e
                 WHERE e.seq > (SELECT entry FROM mix WHERE mix = ?1) AND e.kind {COATS}
                   AND json_extract(e.body, '$.mix') = ?1
                   AND NOT EXISTS (SELECT 1 FROM used u WHERE u.entry = e.seq)
                   AND NOT EXISTS (SELECT 1 FROM void v WHERE v.entry = e.seq)"
            ))?
            .query_row([mix], |r| r.get(0))?;
        Ok((pot, unknown))
    }

    /// The pots that are open, newest first, and the mixes that nobody closed although they were made before `since`.
    pub fn open_pots(&self, since: Moment) -> Result<(Vec<(u32, PotLevel)>, u32), LedgerError> {
        let mut list = self.conn.prepare_cached(&format!(
            "SELECT mix FROM mix WHERE {POT_OPEN} AND made >= ?1 ORDER BY mix DESC"
        ))?;
        let mixes: Vec<u32> = list
            .query_map([since.0], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        let mut pots = Vec::with_capacity(mixes.len());
        for mix in mixes {
            pots.push((mix, pot_level(&self.conn, mix)?));
        }
        let older = self.conn.query_row(
            &format!("SELECT count(*) FROM mix WHERE {POT_OPEN} AND made < ?1"),
            [since.0],
            |r| r.get(0),
        )?;
        Ok((pots, older))
    }

    /// The entries of a topic that still count, oldest first: of one thing, or of all.
    pub(super) fn noted(
        &self,
        topic: &str,
        about: Option<&str>,
        until: Moment,
    ) -> Result<Vec<EntryRow>, LedgerError> {
        noted_in(&self.conn, topic, about, until)
    }

    /// The counts that were entered up to `until`, oldest first.
    pub fn counts(&self, until: Moment) -> Result<Vec<CountRow>, LedgerError> {
        let rows = self.noted("counted", None, until)?;
        Ok(rows
            .into_iter()
            .filter_map(|row| match row.what {
                What::Shop(ShopFact::Stock(StockFact::Counted {
                    material,
                    lot,
                    volume,
                    closes,
                    ..
                })) => Some(CountRow {
                    entry: row.seq.0,
                    material,
                    lot,
                    volume,
                    closes,
                    day: row.day,
                    at: row.ended,
                    person: row.person,
                }),
                _ => None,
            })
            .collect())
    }

    /// The receipts of some production days, in the order of their entries.
    pub fn receipts(&self, [first, end]: [i64; 2]) -> Result<Vec<ReceiptRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT s.entry, s.lot, l.material, s.volume, json_extract(e.body, '$.document'), s.day, a.person
             FROM stock_move s JOIN lot l ON l.lot = s.lot JOIN entry e ON e.seq = s.entry JOIN action a ON a.seq = e.action
             WHERE s.day >= ?1 AND s.day < ?2 AND e.kind IN ('lot/1', 'lot/2', 'delivered/1') ORDER BY s.entry",
        )?;
        let rows = list.query_map([first, end], |r| {
            Ok(ReceiptRow {
                entry: r.get(0)?,
                lot: r.get(1)?,
                material: r.get(2)?,
                volume: Volume(r.get(3)?),
                document: r.get(4)?,
                day: Day(r.get(5)?),
                person: r.get(6)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// How much of a material, or of a lot, was ever received up to the end of a production day.
    pub fn received(&self, what: &str, day: Day) -> Result<Volume, LedgerError> {
        let until = i64::from(day.0).saturating_add(1);
        let receipts = self.receipts([i64::MIN, until])?;
        let of = |r: &&ReceiptRow| r.material == what || r.lot == what;
        Ok(Volume(receipts.iter().filter(of).map(|r| r.volume.0).sum()))
    }

    /// What was logged of each lot in a month.
    pub fn logged_by_lot(&self, month: &str) -> Result<BTreeMap<String, Volume>, LedgerError> {
        let mut list = self
            .conn
            .prepare_cached("SELECT lot, volume FROM month_volume WHERE month = ?1")?;
        let rows = list.query_map([month], |r| Ok((r.get(0)?, Volume(r.get(1)?))))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// What was used on some production days, in groups of the same volume, so that each group's masses are those of one
    /// use times their number.
    pub fn use_groups(
        &self,
        [first, end]: [i64; 2],
        by: UseBy,
    ) -> Result<Vec<UseGroup>, LedgerError> {
        // Number of uses, where they stand, and their day: in the kept groups, or one by one where the key stands in the entry.
        const KEPT: [&str; 3] = ["u.uses", "day_use u", "u.day"];
        const EACH: [&str; 3] = ["1", "entry e CROSS JOIN used u ON u.entry = e.seq", "e.day"];
        const EACH_WITH_STAY: [&str; 3] = [
            "1",
            "entry e CROSS JOIN used u ON u.entry = e.seq
             LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began",
            "e.day",
        ];
        // A use of stock says its booth, too.
        let booth = format!("coalesce(json_extract(e.body, '$.booth'), {SPRAYED_IN}, '')");
        let (key, [uses, from, day]) = match by {
            UseBy::Day => ("date(u.day * 86400, 'unixepoch')", KEPT),
            UseBy::Purpose => ("u.purpose", KEPT),
            UseBy::Coat => ("iif(u.coat, 'coat', '')", KEPT),
            UseBy::All => ("''", KEPT),
            UseBy::Moment => ("cast(e.ended AS TEXT)", EACH),
            UseBy::Booth => (booth.as_str(), EACH_WITH_STAY),
        };
        let mut list = self.conn.prepare_cached(&format!(
            "SELECT {key} AS k, u.lot, u.volume, sum({uses}) FROM {from} WHERE {day} >= ?1 AND {day} < ?2
             GROUP BY k, u.lot, u.volume HAVING sum({uses}) > 0 ORDER BY k, u.lot, u.volume"
        ))?;
        let rows = list.query_map([first, end], |r| {
            Ok(UseGroup {
                key: r.get(0)?,
                lot: r.get(1)?,
                volume: Volume(r.get(2)?),
                uses: r.get(3)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

fn some(volume: Volume) -> Result<Volume, LedgerError> {
    if volume.0 > 0 {
        return Ok(volume);
    }
    Err(LedgerError::Input(
        "volume 0 is nothing; write how much it was, above 0".to_owned(),
    ))
}

fn place_name(place: Option<&str>) -> Result<String, LedgerError> {
    clean("place", place.unwrap_or(STORE), 30).map_err(LedgerError::Input)
}

pub(super) fn named(
    field: &str,
    text: Option<&str>,
    most: usize,
) -> Result<Option<String>, LedgerError> {
    text.map(|t| clean(field, t, most).map_err(LedgerError::Input))
        .transpose()
}

/// Refuses a pot from which nothing can be taken any more, and says what became of it.
pub(super) fn check_open(conn: &Connection, mix: u32, pot: &PotLevel) -> Result<(), LedgerError> {
    if let Some(into) = pot.topped_up {
        return Err(LedgerError::Input(format!(
            "mix {mix} was topped up: what was left of it is mix {into} now"
        )));
    }
    if let Some(entry) = pot.closed {
        let action: Option<i64> = conn
            .prepare_cached("SELECT action FROM entry WHERE seq = ?1")?
            .query_row([entry], |r| r.get(0))
            .optional()?;
        return Err(LedgerError::Input(format!(
            "the pot of mix {mix} was closed by action {}; take that back first, if it was not",
            action.unwrap_or(0)
        )));
    }
    Ok(())
}

/// What is in a pot by the log.
pub(super) fn pot_level(conn: &Connection, mix: u32) -> Result<PotLevel, LedgerError> {
    let (made, closed, sprayed): (i64, Option<i64>, i64) = conn
        .prepare_cached("SELECT volume, closed, drawn FROM mix WHERE mix = ?1")?
        .query_row([mix], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?;
    let topped_up: Option<u32> = conn
        .prepare_cached("SELECT mix FROM mix WHERE parent = ?1 AND left_ul IS NOT NULL LIMIT 1")?
        .query_row([mix], |r| r.get(0))
        .optional()?;
    let level = if closed.is_some() || topped_up.is_some() {
        0
    } else {
        made - sprayed
    };
    Ok(PotLevel {
        made: Volume(made),
        sprayed: Volume(sprayed),
        level: Volume(level),
        closed,
        topped_up,
    })
}
