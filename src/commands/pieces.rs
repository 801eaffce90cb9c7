//! Pieces: add one, import a list, show a card.

use super::{Answer, Desk, Shop, Trouble, read_file};
use crate::feeds::pieces_csv::{self, Headings};
use crate::ledger::{DeviationRow, EntryRow, Ledger, PieceRow, Seen};
use crate::reports::traveller::{self, Traveller};
use crate::reports::{card, piece_json};
use crate::shop::record::{Fact, NewPiece};
use crate::shop::words::{PieceKind, Word};
use crate::units::{Amount, Area, Moment, System};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Add, import and show pieces.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Piece {
    /// Take in one piece.
    Add(Box<Add>),
    /// Take in a list: CSV with serial, kind, model, recipe, area and optionally tag, due, pair, rack, hook, room;
    /// parted by comma, semicolon or tab.
    Import {
        /// The file.
        file: PathBuf,
        /// What a column of the list is called, as "serial=Instrument no."; once for each.
        #[arg(long = "column", value_name = "OURS=THEIRS")]
        columns: Vec<String>,
        /// A column of the list that is no business of this log; once for each.
        #[arg(long, value_name = "THEIRS")]
        leave_out: Vec<String>,
    },
    /// A piece's card: where it stands, what is next and why, its history.
    Show {
        /// Serial, tag, or last four digits.
        piece: String,
        /// As the card that hangs with the piece: one page, step by step.
        #[arg(long)]
        card: bool,
    },
}

/// Take in one piece.
#[derive(Debug, clap::Args)]
pub(super) struct Add {
    /// Serial, never used twice.
    serial: String,
    /// body, neck, joined, part, witness.
    #[arg(long)]
    kind: String,
    /// Model name.
    #[arg(long)]
    model: String,
    /// Recipe, as "G9 rev 3"; a bare code takes the newest revision.
    #[arg(long)]
    recipe: String,
    /// Coated area, such as "0.24 m2".
    #[arg(long)]
    area: String,
    /// Tag, where it differs from the serial.
    #[arg(long)]
    tag: Option<String>,
    /// Due date, as 2026-05-15 or 15.05.2026.
    #[arg(long)]
    due: Option<String>,
    /// Serial of the other half of the pair.
    #[arg(long)]
    pair: Option<String>,
    /// Rack.
    #[arg(long)]
    rack: Option<String>,
    /// Hook of the rack.
    #[arg(long, value_parser = crate::shop::text::hook)]
    hook: Option<u32>,
    /// Room.
    #[arg(long)]
    room: Option<String>,
}

fn newest(ledger: &Ledger) -> Result<BTreeMap<String, u32>, Trouble> {
    Ok(ledger
        .recipes()?
        .into_iter()
        .filter_map(|r| Some((r.code, r.revision.parse().ok()?)))
        .collect())
}

fn headings(columns: &[String], left_out: Vec<String>) -> Result<Headings, Trouble> {
    let called = columns.iter().map(|said| {
        let known = |ours: &str| pieces_csv::COLUMNS.contains(&ours.to_lowercase().as_str());
        match said.split_once('=') {
            Some((ours, theirs)) if known(ours.trim()) => {
                Ok((theirs.trim().to_owned(), ours.trim().to_owned()))
            }
            _ => Err(Trouble::Input(format!(
                "column \"{said}\" is not understood; write it as \"serial=Instrument no.\", the first of {}",
                pieces_csv::COLUMNS.join(", ")
            ))),
        }
    });
    Ok(Headings {
        called: called.collect::<Result<_, _>>()?,
        left_out,
    })
}

impl Piece {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        match self {
            Self::Add(add) => {
                let (recipe, revision) =
                    pieces_csv::read_recipe(&add.recipe, &newest(&shop.ledger)?)
                        .map_err(Trouble::Input)?;
                let kind = PieceKind::typed(&add.kind).ok_or_else(|| {
                    Trouble::Input(format!(
                        "kind \"{}\" is not known; write one of {}",
                        add.kind,
                        PieceKind::choices()
                    ))
                })?;
                let row = PieceRow {
                    line: 1,
                    piece: NewPiece {
                        serial: add.serial,
                        tag: add.tag,
                        kind,
                        model: add.model,
                        recipe,
                        revision,
                        area: Area::read(&add.area, Some("m2"))
                            .map_err(|e| Trouble::Input(e.to_string()))?,
                        due: add
                            .due
                            .map(|d| pieces_csv::read_date("due", &d))
                            .transpose()
                            .map_err(Trouble::Input)?,
                        pair: add.pair,
                    },
                    rack: add.rack,
                    hook: add.hook,
                    room: add.room,
                };
                let line = format!("{} taken in", row.piece.serial);
                let stamp = shop.stamp();
                let who = desk.who(None)?;
                match shop
                    .ledger
                    .add_pieces(&[row], stamp.written, &who, &stamp)?
                {
                    Ok(saved) => {
                        desk.print(&json!({"saved": true, "action": saved.action}), &[line])?;
                    }
                    Err(refused) => {
                        let why = refused
                            .into_iter()
                            .map(|r| r.why)
                            .collect::<Vec<_>>()
                            .join("; ");
                        return Err(Trouble::Input(why));
                    }
                }
            }
            Self::Import {
                file,
                columns,
                leave_out,
            } => {
                let name = file.display().to_string();
                let headings = headings(&columns, leave_out)?;
                let rows =
                    pieces_csv::read_as(&read_file(&file)?, &newest(&shop.ledger)?, &headings)
                        .map_err(|f| Trouble::Rows(name.clone(), f))?;
                let stamp = shop.stamp();
                let who = desk.who(None)?;
                let saved = shop
                    .ledger
                    .add_pieces(&rows, stamp.written, &who, &stamp)?
                    .map_err(|f| Trouble::Rows(name.clone(), f))?;
                let line = format!("{name}: {} pieces taken in", rows.len());
                desk.print(
                    &json!({"saved": true, "action": saved.action, "pieces": rows.len()}),
                    &[line],
                )?;
            }
            Self::Show { piece, card: sheet } => {
                let known = desk.known_at(&shop)?;
                let mut seen = shop.ledger.piece_known(&piece, shop.now, known)?;
                desk.hold_back([&mut seen]);
                let serial = seen.now.piece.serial.clone();
                let (history, deviations) = match known {
                    Some(k) => (
                        shop.ledger.entries_known(Some(&serial), k)?,
                        shop.ledger.deviations_known(k)?,
                    ),
                    None => (
                        shop.ledger.entries(Some(&serial))?,
                        shop.ledger.deviations(true)?,
                    ),
                };
                let deviations: Vec<_> = deviations
                    .into_iter()
                    .filter(|d| d.serial == serial)
                    .collect();
                let spreads = shop.ledger.spreads(&[&seen], shop.now)?;
                let spread = spreads.get(&serial);
                let value = desk.with_clock(card::card(
                    &seen,
                    &history,
                    &deviations,
                    spread,
                    shop.now,
                    &shop.calendar,
                ));
                let lines = if sheet {
                    traveller_lines(&shop, &seen, known, &history, &deviations, desk.system())?
                } else {
                    card::lines(
                        &seen,
                        &history,
                        &deviations,
                        spread,
                        shop.now,
                        &shop.calendar,
                        desk.system(),
                    )
                };
                desk.print(&value, &lines)?;
            }
        }
        Ok(0)
    }
}

fn traveller_lines(
    shop: &Shop,
    seen: &Seen,
    known: Option<Moment>,
    rows: &[EntryRow],
    deviations: &[DeviationRow],
    system: System,
) -> Result<Vec<String>, Trouble> {
    let played =
        shop.ledger
            .history_known(seen.now.id, shop.now, known.unwrap_or(Moment(i64::MAX)))?;
    let recipes = shop.ledger.recipes_of(&played)?;
    let rack = seen.now.place().and_then(|p| p.rack.as_deref());
    let mut witnesses = Vec::new();
    if let (Some(rack), true) = (rack, seen.now.piece.kind != PieceKind::Witness) {
        for (id, serial) in shop.ledger.witnesses(rack, shop.now)? {
            let newest = shop
                .ledger
                .history_known(id, shop.now, known.unwrap_or(Moment(i64::MAX)))?
                .into_iter()
                .rev()
                .find_map(|e| match e.fact {
                    Fact::Gauged { film } => Some((film, e.ended)),
                    _ => None,
                });
            witnesses.extend(newest.map(|(film, at)| (serial, film, at)));
        }
    }
    let page = Traveller {
        seen,
        rows,
        played: &played,
        recipes: &recipes,
        deviations,
        witnesses: &witnesses,
        at: shop.now,
    };
    Ok(traveller::lines(&page, &shop.calendar, system))
}

/// Lines and JSON of all pieces in process.
pub(super) fn floor(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let known = desk.known_at(&shop)?;
    let mut floor = shop.ledger.floor(shop.now, known)?;
    desk.hold_back(&mut floor);
    let value = floor
        .iter()
        .map(|s| piece_json::piece(s, shop.now, &shop.calendar))
        .collect();
    let system = desk.system();
    let mut lines: Vec<String> = floor
        .iter()
        .map(|s| piece_json::line(s, shop.now, &shop.calendar, system))
        .collect();
    if lines.is_empty() {
        lines.push("no piece is in process; \"hangtime piece add\" or \"hangtime piece import\" takes some in".into());
    }
    desk.print(&desk.with_clock(value), &lines)?;
    Ok(0)
}
