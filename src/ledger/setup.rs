//! What a shop enters before and beside the deeds: recipes, sheets, lots, mixes, rooms, limits, surveys, pieces.

use super::append::{Line, NewAction, Saved, Stamp, Who, Writer, new_draft};
use super::error::LedgerError;
use super::open::Ledger;
use super::rules::NO_RULES;
use super::stock::{check_open, pot_level};
use super::stored::Shared;
use crate::shop::control::no_control;
use crate::shop::faults::Fault;
use crate::shop::material::Pour;
use crate::shop::record::{Fact, NewPiece, PieceId, PotLeft, ShopFact, What};
use crate::shop::stock::{STORE, StockFact};
use crate::shop::text::{clean, like};
use crate::shop::{material_file, recipe_file};
use crate::units::{Amount, Moment, Speed, Volume};
use rusqlite::{Connection, OptionalExtension, params};

/// A piece of a list, with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PieceRow {
    /// Line of the list, for reports.
    pub line: u64,
    /// The piece.
    pub piece: NewPiece,
    /// Rack, hook and room where it hangs.
    pub rack: Option<String>,
    /// Hook.
    pub hook: Option<u32>,
    /// Room.
    pub room: Option<String>,
}

/// A lot that came in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewLot {
    /// Its number.
    pub lot: String,
    /// Material code.
    pub material: String,
    /// How much.
    pub volume: Volume,
    /// End of its shelf life.
    pub expires: Option<chrono::NaiveDate>,
    /// Delivery note or invoice.
    pub document: Option<String>,
    /// Where it was put; the store, if nothing is said.
    pub place: Option<String>,
    /// Whether it is more of a lot that is there already.
    pub further: bool,
}

impl NewLot {
    /// A first delivery into the store, with nothing more said of it.
    pub fn of(lot: &str, material: &str, volume: Volume) -> Self {
        Self {
            lot: lot.to_owned(),
            material: material.to_owned(),
            volume,
            expires: None,
            document: None,
            place: None,
            further: false,
        }
    }
}

/// A mix that is to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MixOrder {
    /// What people call it.
    pub name: String,
    /// What is poured in.
    pub parts: Vec<Pour>,
    /// The mix that it tops up.
    pub parent: Option<u32>,
    /// What was measured to be left of that one; `None`: what the log leaves.
    pub left: Option<Volume>,
    /// Where the lots lie; the store, if nothing is said.
    pub place: Option<String>,
    /// When it was made.
    pub made: Moment,
}

impl MixOrder {
    /// A mix of its own, of lots from the store.
    pub fn of(name: &str, parts: Vec<Pour>, made: Moment) -> Self {
        Self {
            name: name.to_owned(),
            parts,
            parent: None,
            left: None,
            place: None,
            made,
        }
    }
}

/// A limit as it goes into the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ceiling {
    /// What it limits.
    pub what: String,
    /// Where or for whom it holds.
    pub scope: String,
    /// The figure in the record's unit.
    pub value: i64,
    /// The figure as it was typed.
    pub typed: String,
    /// On which basis it is held.
    pub basis: String,
    /// Where it comes from.
    pub source: String,
    /// Thousandths of it at which a word is said before.
    pub warn: Vec<i64>,
    /// The rule set that says what counts, where that is not the shop's own.
    pub rules: Option<String>,
}

/// A row that was refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowFault {
    /// Line of the list.
    pub line: u64,
    /// Why.
    pub why: String,
}

pub(super) fn faults(list: &[Fault]) -> LedgerError {
    LedgerError::Input(
        list.iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("\n"),
    )
}

/// The code of the adopted material that a person means; `None` where none is called so.
pub(super) fn material_like(conn: &Connection, typed: &str) -> Result<Option<String>, LedgerError> {
    let mut list = conn.prepare_cached("SELECT DISTINCT code FROM material")?;
    let codes: Vec<String> = list
        .query_map([], |r| r.get(0))?
        .collect::<Result<_, _>>()?;
    Ok(like(codes.iter().map(String::as_str), typed).map(str::to_owned))
}

impl Ledger {
    pub(super) fn shop_fact(
        &mut self,
        deed: &str,
        fact: ShopFact,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let action = NewAction::at_once(deed, who.clone(), at, vec![Line::shop(What::Shop(fact))]);
        self.write(|w| w.append(&action, &Shared::default(), stamp))
    }

    /// Adopts a recipe file as a revision that never changes.
    pub fn adopt_recipe(
        &mut self,
        file: &str,
        text: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let recipe = recipe_file::read(file, text).map_err(|f| faults(&f))?;
        let known = self
            .conn
            .prepare_cached("SELECT 1 FROM recipe WHERE code = ?1 AND revision = ?2")?
            .exists(params![recipe.code, recipe.revision])?;
        if known {
            return Err(LedgerError::Input(format!(
                "{file}: recipe {} is adopted already and never changes; raise the revision",
                recipe.label()
            )));
        }
        let fact = ShopFact::Recipe {
            code: recipe.code,
            revision: recipe.revision,
            text: text.to_owned(),
        };
        self.shop_fact("adopt", fact, stamp.written, who, stamp)
    }

    /// Adopts a material file as a data-sheet revision that never changes.
    pub fn adopt_material(
        &mut self,
        file: &str,
        text: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let material = material_file::read(file, text).map_err(|f| faults(&f))?;
        let known = self
            .conn
            .prepare_cached("SELECT 1 FROM material WHERE code = ?1 AND sheet = ?2")?
            .exists([&material.code, &material.sheet])?;
        if known {
            return Err(LedgerError::Input(format!(
                "{file}: sheet {} of {} is adopted already and never changes; give the new sheet its own revision",
                material.sheet, material.code
            )));
        }
        let fact = ShopFact::Material {
            code: material.code,
            sheet: material.sheet,
            text: text.to_owned(),
        };
        self.shop_fact("adopt", fact, stamp.written, who, stamp)
    }

    /// Receives a lot; it is bound to the newest sheet of its material. More of a lot that is there already is a further
    /// delivery of it: its sheet and its shelf life stay.
    pub fn receive_lot(
        &mut self,
        new: &NewLot,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let lot = clean("lot", &new.lot, 30).map_err(LedgerError::Input)?;
        let meant = material_like(&self.conn, &new.material)?;
        let material = meant.as_ref().unwrap_or(&new.material);
        let text = |field: &str, text: &Option<String>, most: usize| {
            let clean = |t: &String| clean(field, t, most).map_err(LedgerError::Input);
            text.as_ref().map(clean).transpose()
        };
        let document = text("document", &new.document, 60)?;
        let place = text("place", &new.place, 30)?;
        let sheet: Option<String> = self
            .conn
            .query_row(
                "SELECT sheet FROM material WHERE code = ?1 ORDER BY entry DESC LIMIT 1",
                [material],
                |r| r.get(0),
            )
            .optional()?;
        let sheet = sheet.ok_or_else(|| {
            LedgerError::Input(format!(
                "material \"{material}\" is not adopted; run \"hangtime material adopt FILE\""
            ))
        })?;
        let known: Option<String> = self
            .conn
            .query_row("SELECT material FROM lot WHERE lot = ?1", [&lot], |r| {
                r.get(0)
            })
            .optional()?;
        let Some(known) = known else {
            let fact = ShopFact::Lot {
                lot,
                material: material.clone(),
                sheet,
                volume: new.volume,
                expires: new.expires,
                document,
                place: place.filter(|p| p != STORE),
            };
            return self.shop_fact("receive", fact, at, who, stamp);
        };
        if !new.further {
            return Err(LedgerError::Input(format!(
                "lot {lot} is received already; give another batch its own number, or say --further for more of this one"
            )));
        }
        if known != *material {
            return Err(LedgerError::Input(format!(
                "lot {lot} is of {known}, not of {material}; a lot is of one material"
            )));
        }
        let fact = StockFact::Delivered {
            lot,
            volume: new.volume,
            document,
            place: place.unwrap_or_else(|| STORE.to_owned()),
        };
        self.shop_fact("receive", ShopFact::Stock(fact), at, who, stamp)
    }

    /// Binds a lot to another adopted sheet of its material. What was reckoned with the old sheet follows: the films of
    /// the pieces that were coated with it and the sums of the months.
    pub fn rebind_lot(
        &mut self,
        lot: &str,
        sheet: &str,
        why: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let why = clean("reason", why, 200).map_err(LedgerError::Input)?;
        let (material, bound) = super::models::lot_sheet(&self.conn, lot)?;
        if bound == sheet {
            return Err(LedgerError::Input(format!(
                "lot {lot} is bound to sheet {sheet} of {material} already"
            )));
        }
        let mut list = self
            .conn
            .prepare_cached("SELECT sheet FROM material WHERE code = ?1 ORDER BY entry")?;
        let sheets: Vec<String> = list
            .query_map([&material], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        drop(list);
        if !sheets.iter().any(|s| s == sheet) {
            return Err(LedgerError::Input(format!(
                "sheet \"{}\" of {material} is not adopted; write one of {}",
                crate::shop::text::shown(sheet),
                sheets.join(", ")
            )));
        }
        let fact = ShopFact::Rebound {
            lot: lot.to_owned(),
            sheet: sheet.to_owned(),
            why,
        };
        self.shop_fact("rebind", fact, stamp.written, who, stamp)
    }

    /// Makes a mix; it gets the next number. A topped-up mix is a new one with a parent: what was left of that one is a part
    /// of it, as it was measured or as the log leaves it.
    pub fn make_mix(
        &mut self,
        order: MixOrder,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<u32, LedgerError> {
        self.write(|w| mix(w, order, (new_draft(), who), &Shared::default(), stamp))
            .map(|(mix, _)| mix)
    }

    /// Declares a room: logged with a sampling interval, or without readings.
    pub fn declare_room(
        &mut self,
        name: &str,
        interval: Option<crate::units::Span>,
        forecast_permille: i64,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let name = clean("room", name, 30).map_err(LedgerError::Input)?;
        let fact = ShopFact::Room {
            name,
            interval,
            forecast_permille,
        };
        self.shop_fact("room", fact, stamp.written, who, stamp)
    }

    /// Enters a limit with its basis and source.
    pub fn enter_limit(
        &mut self,
        new: &Ceiling,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let field = |name: &str, text: &str| clean(name, text, 120).map_err(LedgerError::Input);
        if let Some(code) = new.rules.as_deref().filter(|c| *c != NO_RULES) {
            self.check_rules(code)?;
        }
        let fact = ShopFact::Ceiling {
            what: field("limit", &new.what)?,
            scope: field("scope", &new.scope)?,
            value: new.value,
            typed: field("value", &new.typed)?,
            basis: field("basis", &new.basis)?,
            source: field("source", &new.source)?,
            warn: new.warn.clone(),
            rules: new.rules.clone(),
        };
        self.shop_fact("limit", fact, stamp.written, who, stamp)
    }

    /// Records a face-velocity survey of a booth.
    #[allow(
        clippy::too_many_arguments,
        reason = "a survey is only worth keeping with all of these"
    )]
    pub fn record_survey(
        &mut self,
        booth: &str,
        readings: Vec<Speed>,
        wanted: u32,
        instrument: &str,
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let booth = clean("booth", booth, 30).map_err(LedgerError::Input)?;
        let instrument = clean("instrument", instrument, 80).map_err(LedgerError::Input)?;
        if readings.is_empty() {
            return Err(LedgerError::Input(
                "a survey needs at least one reading".into(),
            ));
        }
        let fact = ShopFact::Survey {
            booth,
            readings,
            wanted,
            instrument,
        };
        self.shop_fact("survey", fact, at, who, stamp)
    }

    /// Takes in pieces: all of them, or none when one row is refused.
    pub fn add_pieces(
        &mut self,
        rows: &[PieceRow],
        at: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Result<Saved, Vec<RowFault>>, LedgerError> {
        self.write(|w| {
            let mut refused = Vec::new();
            let mut lines = Vec::with_capacity(rows.len() * 2);
            let mut id: i64 =
                w.tx.query_row("SELECT coalesce(max(id), 0) FROM piece", [], |r| r.get(0))?;
            for (i, row) in rows.iter().enumerate() {
                let earlier = rows.get(..i).unwrap_or_default();
                if let Some(why) = row_fault(w, row, earlier, at)? {
                    refused.push(RowFault {
                        line: row.line,
                        why,
                    });
                    continue;
                }
                id += 1;
                lines.push(Line::piece(
                    PieceId(id),
                    0,
                    What::Piece(Fact::Added(row.piece.clone())),
                ));
                if row.rack.is_some() || row.room.is_some() {
                    let placed = Fact::Placed {
                        rack: row.rack.clone(),
                        hook: row.hook,
                        room: row.room.clone(),
                    };
                    lines.push(Line::piece(PieceId(id), 0, What::Piece(placed)));
                }
            }
            if !refused.is_empty() {
                return Ok(Err(refused));
            }
            let action = NewAction::at_once("take in", who.clone(), at, lines);
            w.append(&action, &Shared::default(), stamp).map(Ok)
        })
    }
}

// What was left of the mix that is topped up: what somebody measured, or else what the log leaves.
/// Makes a mix within a write.
pub(super) fn mix(
    w: &Writer<'_>,
    order: MixOrder,
    (draft, who): (String, &Who),
    shared: &Shared,
    stamp: &Stamp,
) -> Result<(u32, Saved), LedgerError> {
    let MixOrder {
        name,
        parts,
        parent,
        left,
        place,
        made,
    } = order;
    let name = clean("mix name", &name, 30).map_err(LedgerError::Input)?;
    let place = place
        .map(|p| clean("place", &p, 30))
        .transpose()
        .map_err(LedgerError::Input)?
        .filter(|p| p != STORE);
    if parts.is_empty() || parts.iter().any(|p| p.volume.0 <= 0) {
        return Err(LedgerError::Input(
            "a mix needs parts with a volume above 0; write LOT=VOLUME for each".into(),
        ));
    }
    let left = match parent {
        Some(parent) => Some(left_of(w, parent, left)?),
        None => None,
    };
    for part in &parts {
        super::models::lot_sheet(&w.tx, &part.lot)?;
    }
    let newest: Option<String> =
        w.tx.query_row(
            "SELECT body FROM entry WHERE kind IN ('mix/1', 'mix/2') ORDER BY seq DESC LIMIT 1",
            [],
            |r| r.get(0),
        )
        .optional()?;
    let newest = newest.and_then(|b| serde_json::from_str::<serde_json::Value>(&b).ok());
    let mix = newest
        .and_then(|v| v.get("mix").and_then(serde_json::Value::as_u64))
        .and_then(|n| u32::try_from(n).ok())
        .unwrap_or(0)
        + 1;
    let fact = ShopFact::Mix {
        mix,
        name,
        parts,
        parent,
        left,
        place,
    };
    let action = NewAction {
        draft,
        ..NewAction::at_once("mix", who.clone(), made, vec![Line::shop(What::Shop(fact))])
    };
    Ok((mix, w.append(&action, shared, stamp)?))
}

fn left_of(w: &Writer<'_>, parent: u32, measured: Option<Volume>) -> Result<PotLeft, LedgerError> {
    super::read::check_mix(&w.tx, parent)?;
    let pot = pot_level(&w.tx, parent)?;
    check_open(&w.tx, parent, &pot)?;
    match measured {
        Some(volume) if volume > pot.made => Err(LedgerError::Input(format!(
            "left {} is more than the {} that mix {parent} was made with; write 0 to {}",
            volume.trimmed(),
            pot.made.trimmed(),
            pot.made.trimmed()
        ))),
        Some(volume) => Ok(PotLeft {
            volume,
            measured: true,
        }),
        None => Ok(PotLeft {
            volume: Volume(pot.level.0.max(0)),
            measured: false,
        }),
    }
}

fn row_fault(
    w: &Writer<'_>,
    row: &PieceRow,
    earlier: &[PieceRow],
    at: Moment,
) -> Result<Option<String>, LedgerError> {
    let p = &row.piece;
    if let Err(why) = clean("serial", &p.serial, 30).and(clean("model", &p.model, 60)) {
        return Ok(Some(why));
    }
    let names = [
        ("serial", Some(&p.serial)),
        ("tag", p.tag.as_ref()),
        ("rack", row.rack.as_ref()),
    ];
    for (field, name) in names {
        if let Some(Err(why)) = name.map(|n| no_control(field, n)) {
            return Ok(Some(why));
        }
    }
    // Serials and tags are read at the same place, so that a name stands for one piece in both columns.
    for name in std::iter::once(&p.serial).chain(&p.tag) {
        if earlier
            .iter()
            .any(|e| e.piece.serial == *name || e.piece.tag.as_ref() == Some(name))
        {
            return Ok(Some(format!(
                "serial or tag {name} stands twice in the list"
            )));
        }
        let known =
            w.tx.prepare_cached("SELECT 1 FROM piece WHERE serial = ?1 OR tag = ?1")?
                .exists([name])?;
        if known {
            return Ok(Some(format!(
                "serial or tag {name} is known already; neither is ever used twice"
            )));
        }
        if let Some((owner, _)) = super::read::retired_owner(&w.tx, name)? {
            return Ok(Some(format!(
                "{name} is a retired tag, it belonged to {owner}; neither serial nor tag is ever used twice"
            )));
        }
    }
    let recipe = match w.book.recipe(&w.tx, &p.recipe, p.revision) {
        Ok(recipe) => recipe,
        Err(LedgerError::Input(why)) => return Ok(Some(why)),
        Err(other) => return Err(other),
    };
    if !recipe.kinds.contains(&p.kind) {
        use crate::shop::words::Word;
        let kinds: Vec<&str> = recipe.kinds.iter().map(|k| k.word()).collect();
        return Ok(Some(format!(
            "recipe {} is for {}, not for a {}",
            recipe.label(),
            kinds.join(", "),
            p.kind.word()
        )));
    }
    if let (Some(rack), Some(hook)) = (&row.rack, row.hook)
        && earlier
            .iter()
            .any(|e| e.rack.as_ref() == Some(rack) && e.hook == Some(hook))
    {
        return Ok(Some(format!(
            "hook {hook} of rack {rack} stands twice in the list"
        )));
    }
    if let (Some(rack), Some(hook)) = (&row.rack, row.hook)
        && let Some((there, _)) = super::read::members(&w.tx, rack, at)?
            .into_iter()
            .find(|(_, on)| *on == Some(hook))
    {
        let serial: String =
            w.tx.prepare_cached("SELECT serial FROM piece WHERE id = ?1")?
                .query_row([there.0], |r| r.get(0))?;
        return Ok(Some(format!(
            "hook {hook} of rack {rack} has {serial}; take another hook, or hang {serial} elsewhere first"
        )));
    }
    Ok(None)
}
