//! What follows from the facts about stock, pots and what comes round.
//!
//! *Invariants*: every move of stock belongs to one entry and goes when that entry is taken back.

use super::super::book::Book;
use super::super::error::LedgerError;
use super::sums::{DayUse, Sums};
use super::{Row, figures_of, pours};
use crate::shop::alert::{AlertFact, HandOverFact};
use crate::shop::duty::DutyFact;
use crate::shop::logger_file::LoggerFact;
use crate::shop::material::{Pour, scaled, split};
use crate::shop::record::PotLeft;
use crate::shop::stock::{Purpose, STORE, StockFact};
use crate::shop::words::Word;
use crate::units::Volume;
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeMap;

/// A mix as its entry tells of it.
pub(super) struct NewMix<'a> {
    pub(super) mix: u32,
    pub(super) name: &'a str,
    pub(super) parts: &'a [Pour],
    pub(super) parent: Option<u32>,
    pub(super) left: Option<PotLeft>,
    pub(super) place: Option<&'a str>,
}

/// Stock that came in or went out: one line of an entry.
pub(super) fn moved(
    conn: &Connection,
    row: &Row,
    line: usize,
    (lot, place): (&str, &str),
    volume: i64,
) -> Result<(), LedgerError> {
    conn.prepare_cached(
        "INSERT INTO stock_move (entry, line, lot, place, volume, day, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?
    .execute(params![
        row.seq.0,
        i64::try_from(line).unwrap_or(0),
        lot,
        place,
        volume,
        row.day.0,
        row.ended.0
    ])?;
    Ok(())
}

/// A mix: what is in the cup is what was poured and what was left of the one that it tops up; only what was poured leaves
/// the stock.
pub(super) fn mixed(
    conn: &Connection,
    book: &Book,
    row: &Row,
    new: &NewMix<'_>,
) -> Result<(), LedgerError> {
    // A top-up does not make the old part younger: the pot life counts from the first mixing.
    let since: Option<i64> = conn
        .prepare_cached("SELECT mixed FROM mix WHERE mix = ?1")?
        .query_row([new.parent], |r| r.get(0))
        .optional()?;
    let mut contents: Vec<(Pour, i64)> =
        new.parts.iter().map(|p| (p.clone(), p.volume.0)).collect();
    if let (Some(parent), Some(left)) = (new.parent, new.left) {
        for old in scaled(&pours(conn, parent)?, left.volume) {
            match contents.iter_mut().find(|(p, _)| p.lot == old.lot) {
                Some((p, _)) => p.volume.0 += old.volume.0,
                None => contents.push((old, 0)),
            }
        }
    }
    let whole: Vec<Pour> = contents.iter().map(|(p, _)| p.clone()).collect();
    let figures = figures_of(conn, book, &whole)?;
    conn.prepare_cached(
        "INSERT INTO mix (mix, name, made, volume, solids_ppm, retarder_ppm, entry, mixed, parent, left_ul)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
    )?
    .execute(params![
        new.mix,
        new.name,
        row.ended.0,
        figures.volume.0,
        figures.solids.0,
        figures.retarder.0,
        row.seq.0,
        since.unwrap_or(row.ended.0),
        new.parent,
        new.left.map(|l| l.volume.0)
    ])?;
    let mut insert = conn.prepare_cached(
        "INSERT INTO pour (mix, line, lot, volume, fresh) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?;
    for (line, (part, fresh)) in contents.iter().enumerate() {
        insert.execute(params![
            new.mix,
            i64::try_from(line).unwrap_or(0),
            part.lot,
            part.volume.0,
            fresh
        ])?;
    }
    let place = new.place.unwrap_or(STORE);
    for (line, part) in new.parts.iter().enumerate() {
        moved(conn, row, line, (&part.lot, place), -part.volume.0)?;
    }
    Ok(())
}

/// For what something was used, and from which cup.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken {
    mix: Option<u32>,
    // `None` for a coat: the material's kind says it.
    purpose: Option<Purpose>,
}

impl Taken {
    /// For a coat.
    pub(super) const fn coat(mix: Option<u32>) -> Self {
        Self { mix, purpose: None }
    }
}

/// Volumes of lots that are gone for good, and the sums of the month with them.
pub(super) fn used(
    conn: &Connection,
    book: &Book,
    sums: &mut Sums,
    row: &Row,
    (amount, pours): (Volume, &[Pour]),
    taken: Taken,
) -> Result<(), LedgerError> {
    let weights: Vec<i64> = pours.iter().map(|p| p.volume.0).collect();
    let mut by_lot: BTreeMap<&str, i64> = BTreeMap::new();
    for (pour, part) in pours.iter().zip(split(amount.0, &weights)) {
        *by_lot.entry(&pour.lot).or_insert(0) += part;
    }
    let mut insert = conn.prepare_cached(
        "INSERT INTO used (entry, lot, volume, purpose, day) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?;
    for (lot, volume) in by_lot {
        let purpose = match taken.purpose {
            Some(purpose) => purpose,
            None => Purpose::in_a_coat(sums.bound(conn, book, lot)?.material.kind),
        };
        insert.execute(params![row.seq.0, lot, volume, purpose.word(), row.day.0])?;
        let of = DayUse {
            day: row.day,
            lot: lot.to_owned(),
            mix: taken.mix,
            coat: taken.purpose.is_none(),
            purpose: purpose.word().to_owned(),
            volume: Volume(volume),
        };
        sums.add(conn, book, of, 1)?;
    }
    Ok(())
}

pub(super) fn stock(
    conn: &Connection,
    book: &Book,
    sums: &mut Sums,
    row: &Row,
    fact: &StockFact,
) -> Result<(), LedgerError> {
    let alone = |lot: &str| {
        [Pour {
            lot: lot.to_owned(),
            volume: Volume(1),
        }]
    };
    match fact {
        StockFact::Delivered {
            lot, volume, place, ..
        } => {
            moved(conn, row, 0, (lot, place), volume.0)?;
            note(conn, row, "delivered", lot)
        }
        StockFact::Issued {
            lot,
            volume,
            purpose,
            place,
            ..
        } => {
            moved(conn, row, 0, (lot, place), -volume.0)?;
            used(
                conn,
                book,
                sums,
                row,
                (*volume, &alone(lot)),
                Taken {
                    mix: None,
                    purpose: Some(*purpose),
                },
            )?;
            note(conn, row, "issued", lot)
        }
        StockFact::Carried {
            lot,
            volume,
            from,
            to,
        } => {
            moved(conn, row, 0, (lot, from), -volume.0)?;
            moved(conn, row, 1, (lot, to), volume.0)
        }
        StockFact::Counted { material, .. } => note(conn, row, "counted", material),
        StockFact::PotClosed { mix, left, drum } => {
            conn.prepare_cached("UPDATE mix SET closed = ?2 WHERE mix = ?1")?
                .execute(params![mix, row.seq.0])?;
            if left.0 > 0 {
                let pours = pours(conn, *mix)?;
                used(
                    conn,
                    book,
                    sums,
                    row,
                    (*left, &pours),
                    Taken {
                        mix: Some(*mix),
                        purpose: Some(Purpose::LeftOver),
                    },
                )?;
            }
            match drum {
                Some(drum) => note(conn, row, "drum", drum),
                None => Ok(()),
            }
        }
        StockFact::DrumStarted { drum, .. }
        | StockFact::DrumFilled { drum, .. }
        | StockFact::DrumAnalysed { drum, .. }
        | StockFact::DrumShipped { drum, .. } => note(conn, row, "drum", drum),
    }
}

pub(super) fn duty(conn: &Connection, row: &Row, fact: &DutyFact) -> Result<(), LedgerError> {
    let (topic, about) = match fact {
        DutyFact::Duty(d) => ("duty", d.name.as_str()),
        DutyFact::Done { name, .. } => ("done", name.as_str()),
        DutyFact::InUse { name, .. } => ("in use", name.as_str()),
        DutyFact::Incident { .. } => ("incident", ""),
        DutyFact::Followed { .. } => ("followed", ""),
        DutyFact::Contact { .. } => ("contact", ""),
        DutyFact::RoomAir { room, .. } => ("room air", room.as_str()),
        DutyFact::RoomHooks { room, .. } => ("room hooks", room.as_str()),
        DutyFact::Closed(_) => ("closed days", ""),
        DutyFact::Hours(_) => ("working hours", ""),
        DutyFact::Crew(c) => ("crew", c.name.as_str()),
        DutyFact::Station(s) => ("station", s.name.as_str()),
        DutyFact::CautionRead { about, .. } => ("caution read", about.as_str()),
        DutyFact::Told { about, .. } => ("told", about.as_str()),
    };
    note(conn, row, topic, about)
}

pub(super) fn logger(conn: &Connection, row: &Row, fact: &LoggerFact) -> Result<(), LedgerError> {
    match fact {
        LoggerFact::Adopted { code, .. } => note(conn, row, "logger", code),
        LoggerFact::Took { sha256, .. } => note(conn, row, "logger file", sha256),
    }
}

// Each word about one alert lies under the alert's own name, so that a glance reads what was said of it and no more.
pub(super) fn alert(conn: &Connection, row: &Row, fact: &AlertFact) -> Result<(), LedgerError> {
    match fact {
        AlertFact::Rule(rule) => note(conn, row, "alert rule", &rule.name),
        AlertFact::Seen(key) | AlertFact::Snoozed { key, .. } | AlertFact::Told { key, .. } => {
            note(conn, row, "alert", &key.id())
        }
    }
}

pub(super) fn hand_over(
    conn: &Connection,
    row: &Row,
    fact: &HandOverFact,
) -> Result<(), LedgerError> {
    match fact {
        HandOverFact::Given { .. } => note(conn, row, "hand-over", ""),
        HandOverFact::Taken { given } => note(conn, row, "hand-over taken", &given.to_string()),
    }
}

fn note(conn: &Connection, row: &Row, topic: &str, about: &str) -> Result<(), LedgerError> {
    conn.prepare_cached("INSERT INTO noted (entry, topic, about, at) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![row.seq.0, topic, about, row.ended.0])?;
    Ok(())
}

/// What an entry that no longer counts had brought.
pub(super) fn taken_back(conn: &Connection, entry: i64) -> Result<(), LedgerError> {
    conn.prepare_cached("DELETE FROM stock_move WHERE entry = ?1")?
        .execute([entry])?;
    conn.prepare_cached("DELETE FROM noted WHERE entry = ?1")?
        .execute([entry])?;
    conn.prepare_cached("UPDATE mix SET closed = NULL WHERE closed = ?1")?
        .execute([entry])?;
    conn.prepare_cached("DELETE FROM lot WHERE entry = ?1")?
        .execute([entry])?;
    Ok(())
}
