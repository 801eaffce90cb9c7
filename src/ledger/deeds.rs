//! Deeds on pieces and racks: what would be saved, what speaks against it, and saving it.
//!
//! *Invariants*: the preview and the save make the same plan from the same state; a rack means its members when the
//! deed began, and the action stores the resolved list. The save refuses impossible data only. Where one part of a
//! rack has nothing against it, pieces with an objection of their own are left out unless they are named; where the
//! whole rack has the objection, the deed is the rack's and is saved with its deviations; but an objection that is grave
//! ([`Objection::grave`]: a cure that is not over, a step left out, far too early) leaves its piece out even then, so that a
//! wrong scan saves nothing.

use super::ahead::solvent_holds;
use super::append::{Line, NewAction, Saved, Stamp, Who, Writer, new_draft};
use super::book::{Airs, Book, MixTable};
use super::error::LedgerError;
use super::models::{Kept, around, deed_of};
use super::open::Ledger;
use super::read::{
    DeviationRow, Reach, Seen, around_next, check_mix, deviations_where, find_piece, load_piece,
    members, piece_entries, recipes_of, retired_owner, standing_after,
};
use super::stored::{COATS, Shared};
use crate::shop::calendar::Calendar;
use crate::shop::control::no_control;
use crate::shop::material::{Totals, split};
use crate::shop::outlook::{Asked, asked, next_words};
use crate::shop::recipe::{Recipe, WHOLE};
use crate::shop::record::{
    CoatFact, CoatMore, Entry, EntrySeq, Fact, PieceId, Sprayed, What, covers,
};
use crate::shop::rules::{Around, Deed, Ground, Objection, objections};
use crate::shop::standing::{PieceNow, Site};
use crate::shop::text::{clean, like, place_like, shown};
use crate::shop::words::{Reason, Rule, StepKind, Word};
use crate::units::{Amount, Film, Humidity, Moment, Span, Temperature, Volume};
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Whom a deed was done to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// A rack, or the hooks of it from the first to the second number.
    Rack(String, Option<(u32, u32)>),
    /// Pieces by serial, tag or last digits.
    Pieces(Vec<String>),
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DeedWhat {
    /// A coat or touch-up; `amount` is what left the pot for all pieces together.
    Coat {
        /// Which kind of coat; `None` takes what the recipe asks for next.
        kind: Option<StepKind>,
        /// A touch-up is no coat of the recipe.
        touch_up: bool,
        /// The mix in the cup.
        mix: Option<u32>,
        /// The lot in the cup, where it is sprayed as it comes from the can.
        lot: Option<String>,
        /// What left the pot.
        amount: Option<Volume>,
        /// Wet film readings.
        wet: Vec<Film>,
        /// A supervisor's initials.
        supervisor: Option<String>,
        /// What a fill, a colour or a drop-fill records besides.
        more: CoatMore,
    },
    /// A sanding; `None` takes what the recipe asks for next.
    Sand {
        /// Scuff, level sand or final sand.
        kind: Option<StepKind>,
        /// Film taken off.
        removed: Option<Film>,
        /// Grit with its scale.
        grit: Option<String>,
    },
    /// The beginning of a deed; `None` takes what the recipe asks for next.
    Begin {
        /// Which deed.
        kind: Option<StepKind>,
    },
    /// The end of the deed that was begun, with nothing more to say of it.
    End,
    /// The pieces hang on another rack from now on, each on the hook that it has.
    Rehang {
        /// The rack.
        rack: String,
    },
    /// Two pieces belong together from now on, and their former other halves have none.
    Pair {
        /// Why.
        why: String,
    },
    /// Any other deed of the recipe, or a fact about the piece.
    Other(Fact),
}

/// Which of the pieces with an objection of their own are taken along.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Included {
    /// None: they are left out and listed.
    #[default]
    None,
    /// All of them, each as a deviation.
    All,
    /// Those named.
    Named(Vec<String>),
}

/// A deed to be previewed or saved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeedRequest {
    /// Who and where.
    pub who: Who,
    /// Whom it was done to.
    pub target: Target,
    /// What was done.
    pub what: DeedWhat,
    /// When it began.
    pub began: Moment,
    /// When it ended.
    pub ended: Moment,
    /// Whether a deed that was begun on these pieces gives the start.
    pub begun_starts: bool,
    /// The surfaces, parted by commas; "whole" for those that the recipe has the deed for.
    pub surface: String,
    /// Pieces with an objection of their own.
    pub included: Included,
    /// Pieces of the rack that were not worked on.
    pub skipped: Vec<String>,
    /// The coat that the finisher saw as the next one.
    pub expects: Option<u32>,
    /// Said to be another coat, although it comes soon after the one before.
    pub another: bool,
    /// Reason for its deviations.
    pub reason: Option<Reason>,
    /// Note.
    pub note: Option<String>,
    /// Air temperature where it was done.
    pub temperature: Option<Temperature>,
    /// Relative humidity where it was done.
    pub humidity: Option<Humidity>,
    /// What was typed, with units.
    pub typed: Option<String>,
    /// Identity of the draft; empty for a new one.
    pub draft: String,
}

impl DeedRequest {
    /// A deed of one instant without any options.
    pub fn new(who: Who, target: Target, what: DeedWhat, at: Moment) -> Self {
        Self {
            who,
            target,
            what,
            began: at,
            ended: at,
            begun_starts: false,
            surface: WHOLE.to_owned(),
            included: Included::None,
            skipped: Vec::new(),
            expects: None,
            another: false,
            reason: None,
            note: None,
            temperature: None,
            humidity: None,
            typed: None,
            draft: new_draft(),
        }
    }
}

/// One piece in a plan.
#[derive(Debug, Clone)]
pub struct PlannedPiece {
    /// Its standing before the deed.
    pub now: PieceNow,
    /// Its hook when the deed began.
    pub hook: Option<u32>,
    /// The fact that would be recorded.
    pub fact: Fact,
    /// The surfaces that it would be recorded for.
    pub surface: String,
    /// The deed as the rules judge it; `None` for facts that no rule judges.
    pub deed: Option<Deed>,
    /// The deed in words, `clear 5 of 9`.
    pub words: String,
    /// Number of the coat that it would be.
    pub coat: Option<u32>,
    /// What speaks against it, the binding reason first.
    pub objections: Vec<Objection>,
    /// Why it cannot be done to this piece, although it can be to others.
    pub stays: Option<String>,
    /// Whether it would be saved.
    pub taken: bool,
}

impl PlannedPiece {
    /// Whether the deed wets it, or begins one that does.
    pub fn wets(&self) -> bool {
        match &self.fact {
            Fact::Begun { kind } => kind.wets(),
            _ => self.deed.as_ref().is_some_and(|d| d.kind.wets()),
        }
    }

    /// The booth that the deed is booked at, where it sprays: what the coat says, else the room in which the piece hangs.
    pub fn sprayed_in(&self) -> Option<&str> {
        let hangs = self.now.place().and_then(|s| s.room.as_deref());
        match &self.fact {
            Fact::Coat(coat) => coat.more.sprayed_in(hangs),
            _ => hangs,
        }
    }

    /// Why it would be left out, when it would.
    pub fn why_left(&self) -> String {
        let objections = self.objections.iter().map(|o| o.before.as_str());
        let why: Vec<&str> = self
            .stays
            .as_deref()
            .into_iter()
            .chain(objections)
            .collect();
        why.join("; ")
    }
}

/// What would be saved.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The pieces in hook order.
    pub pieces: Vec<PlannedPiece>,
    /// One line that repeats what will be saved.
    pub line: String,
    /// What to look at besides; it speaks against no piece and is no deviation.
    pub remarks: Vec<String>,
}

impl Plan {
    /// The reason that weighs most: a grave one before all others, else the binding one of the first piece that has one.
    pub fn worst(&self) -> Option<&Objection> {
        let all = || self.pieces.iter().flat_map(|p| &p.objections);
        all().find(|o| o.grave()).or_else(|| all().next())
    }

    /// The rooms in which something is sprayed by it.
    pub fn sprayed_in(&self) -> BTreeSet<Option<&str>> {
        self.taken()
            .filter(|p| p.wets())
            .map(PlannedPiece::sprayed_in)
            .collect()
    }

    /// How many of its pieces have something against the deed.
    pub fn against(&self) -> usize {
        let against = self.pieces.iter().filter(|p| !p.objections.is_empty());
        against.count()
    }

    /// The pieces that would be saved.
    pub fn taken(&self) -> impl Iterator<Item = &PlannedPiece> {
        self.pieces.iter().filter(|p| p.taken)
    }
}

/// A piece that was left out of a rack's deed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Its serial.
    pub serial: String,
    /// Its hook.
    pub hook: Option<u32>,
    /// Why.
    pub why: String,
}

/// A saved deed.
#[derive(Debug, Clone)]
pub struct Receipt {
    /// Its action and entries.
    pub saved: Saved,
    /// One line that says what was saved.
    pub line: String,
    /// Serials and hooks of the pieces.
    pub pieces: Vec<(String, Option<u32>)>,
    /// Pieces that were left out.
    pub left_out: Vec<LeftOut>,
    /// Deviations of this deed that are open.
    pub deviations: Vec<DeviationRow>,
    /// Solvent of this action.
    pub totals: Totals,
    /// What to look at besides.
    pub remarks: Vec<String>,
}

/// Somebody else was quicker.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conflict {
    /// The coat that is already there.
    pub coat: u32,
    /// When it ended.
    pub at: Moment,
    /// Who did it.
    pub person: String,
    /// Where it was logged.
    pub station: String,
    /// Its action.
    pub action: i64,
}

/// What came of a save.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// It was saved.
    Saved(Receipt),
    /// The same deed was saved a moment ago at this station; nothing was added.
    Already(Receipt),
    /// It comes so soon that it may be the same coat: the answer is *the same* unless somebody says *another*.
    SameOrAnother(Conflict),
    /// The expected coat is already logged.
    Conflict(Conflict),
}

/// Two saves of one deed at one station within this time are one deed.
const DOUBLE: Span = Span::seconds(10);

/// And no further apart than this they were done: a line is made anew with the minute, and a scan may be read twice over it.
const ONE_DEED: Span = Span::minutes(2);

impl Ledger {
    /// What would be saved, and what speaks against it.
    pub fn preview(&self, request: &DeedRequest) -> Result<Plan, LedgerError> {
        let calendar = self.calendar();
        let request = settle(&self.conn, &self.book, &calendar, request)?;
        plan(&self.conn, &self.book, &calendar, &request)
    }

    /// Saves a deed. See [`Outcome`] for what can come of it.
    pub fn log(&mut self, request: &DeedRequest, stamp: &Stamp) -> Result<Outcome, LedgerError> {
        let outcome = self.write(|w| save(w, request, stamp))?;
        let (receipt, again) = match outcome {
            Outcome::Saved(r) => (r, false),
            Outcome::Already(r) => (r, true),
            other => return Ok(other),
        };
        let receipt = Receipt {
            totals: self.action_totals(receipt.saved.action)?,
            ..receipt
        };
        Ok(if again {
            Outcome::Already(receipt)
        } else {
            Outcome::Saved(receipt)
        })
    }
}

impl Ledger {
    /// A planned piece as it stands and as it would stand after the deed, both judged at one moment. What the deed
    /// puts into the film is left out: this is for facts that change the work to come.
    pub fn before_and_after(
        &self,
        request: &DeedRequest,
        planned: &PlannedPiece,
    ) -> Result<Option<(Seen, Seen)>, LedgerError> {
        let entry = as_entry(
            request,
            &self.calendar(),
            &planned.now,
            &planned.surface,
            &planned.fact,
        );
        let recipes = recipes_of(
            &self.conn,
            &self.book,
            Some(&planned.now),
            std::slice::from_ref(&entry),
        )?;
        let mut after = planned.now.clone();
        after.apply(&entry, &recipes, &MixTable::default());
        let before = self
            .judge(vec![Arc::new(planned.now.clone())], request.ended)?
            .pop();
        Ok(before.zip(self.judge(vec![Arc::new(after)], request.ended)?.pop()))
    }

    /// What an action saved, in one line such as `Rack R12 - clear coat 3 - 24 pieces - ended 09:31 - mix 7`, seen from `now`.
    pub fn line_of(&self, action: i64, now: Moment) -> Result<String, LedgerError> {
        let (row, entries) = self.action(action)?;
        let mut words = Vec::new();
        let mut serials = Vec::new();
        let mut cup = (None, None);
        let mut shares = Vec::new();
        for entry in &entries {
            let (Some((piece, serial)), What::Piece(fact)) = (&entry.piece, &entry.what) else {
                continue;
            };
            serials.push(serial.as_str());
            if let Fact::Coat(c) = fact {
                cup = (c.mix, c.lot.as_deref());
                shares.extend(c.amount.map(|a| a.0));
            }
            words.push(match fact {
                Fact::Coat(c) if !c.touch_up => {
                    let coat = self.coat_number(*piece, c.kind, entry.began, entry.seq)?;
                    format!("{} coat {coat}", c.kind.word())
                }
                fact => fact
                    .step_kind()
                    .map_or_else(|| row.deed.clone(), |kind| kind.word().to_owned()),
            });
        }
        words.sort_unstable();
        words.dedup();
        serials.sort_unstable();
        serials.dedup();
        if words.is_empty() {
            words.push(row.deed.clone());
        }
        let mut parts = Vec::new();
        match (&row.shared.rack, serials.as_slice()) {
            (Some(rack), _) => parts.push(format!("Rack {rack}")),
            (None, [one]) => parts.push((*one).to_owned()),
            _ => {}
        }
        parts.push(words.join(" / "));
        match serials.as_slice() {
            [] => {}
            [_] if row.shared.rack.is_none() => {}
            [_] => parts.push("1 piece".to_owned()),
            many => parts.push(format!("{} pieces", many.len())),
        }
        parts.push(format!("ended {}", self.calendar().near(row.ended, now)));
        parts.extend(cup_words(cup.0, cup.1, &shares));
        Ok(parts.join(" - "))
    }

    // Which coat of its kind an entry is on its piece: those that stand before it are counted, and itself.
    fn coat_number(
        &self,
        piece: PieceId,
        kind: StepKind,
        began: Moment,
        seq: EntrySeq,
    ) -> Result<i64, LedgerError> {
        Ok(self
            .conn
            .prepare_cached(
                &format!("SELECT count(*) + 1 FROM entry WHERE piece = ?1 AND kind {COATS}
                   AND json_extract(body, '$.step') = ?2 AND coalesce(json_extract(body, '$.touch_up'), 0) = 0
                   AND seq NOT IN (SELECT entry FROM void) AND (began, seq) < (?3, ?4)"),
            )?
            .query_row(params![piece.0, kind.word(), began.0, seq.0], |r| r.get(0))?)
    }
}

fn targets(
    conn: &Connection,
    request: &DeedRequest,
) -> Result<Vec<(PieceId, Option<u32>)>, LedgerError> {
    let mut found = match &request.target {
        Target::Pieces(list) => {
            let mut found = Vec::with_capacity(list.len());
            for text in list {
                let id = find_piece(conn, text)?;
                if !found.iter().any(|(f, _)| *f == id) {
                    found.push((id, None));
                }
            }
            found
        }
        Target::Rack(rack, hooks) => {
            let all = members(conn, rack, request.began)?;
            if all.is_empty() {
                return Err(LedgerError::Input(format!(
                    "rack \"{}\" has no pieces at that time; hang pieces on it with \"hangtime move\"",
                    crate::shop::text::shown(rack)
                )));
            }
            let on_hooks = |hook: Option<u32>| {
                hooks.is_none_or(|(first, last)| hook.is_some_and(|h| (first..=last).contains(&h)))
            };
            let wanted: Vec<_> = all
                .into_iter()
                .filter(|(_, hook)| on_hooks(*hook))
                .collect();
            // A deed is ended, or broken off, where it was begun: the rest of the rack has nothing to end.
            let ends = matches!(
                request.what,
                DeedWhat::End | DeedWhat::Other(Fact::BrokenOff { .. })
            );
            let wanted = if ends {
                let mut begun = Vec::new();
                for (id, hook) in wanted {
                    if load_piece(conn, id)?.is_some_and(|p| p.begun.is_some()) {
                        begun.push((id, hook));
                    }
                }
                if begun.is_empty() {
                    return Err(LedgerError::Input(format!(
                        "nothing is begun on rack {}; \"hangtime begun\" lists the open deeds",
                        crate::shop::text::shown(rack)
                    )));
                }
                begun
            } else {
                wanted
            };
            if let (true, Some((first, last))) = (wanted.is_empty(), hooks) {
                return Err(LedgerError::Input(format!(
                    "rack {rack} has no pieces on hooks {first} to {last}"
                )));
            }
            wanted
        }
    };
    if let (true, [(one, _)]) = (is_mating(&request.what), found.as_slice()) {
        // Who mates one half mates the other: it is one deed on both.
        let other: Option<i64> = conn
            .prepare_cached(
                "SELECT m.id FROM piece p JOIN piece m ON m.serial = p.mate WHERE p.id = ?1",
            )?
            .query_row([one.0], |r| r.get(0))
            .optional()?;
        found.extend(other.map(|id| (PieceId(id), None)));
    }
    if matches!(request.what, DeedWhat::Pair { .. }) {
        let [(one, _), (other, _)] = found.as_slice() else {
            return Err(LedgerError::Input(
                "a pair is one body and one neck; name both".to_owned(),
            ));
        };
        // What they belonged to until now is left without a half: that is part of the same swap.
        let former: Vec<i64> = conn
            .prepare_cached(
                "SELECT m.id FROM piece p JOIN piece m ON m.serial = p.mate
                 WHERE p.id IN (?1, ?2) AND m.mate = p.serial AND m.id NOT IN (?1, ?2) ORDER BY m.id",
            )?
            .query_map([one.0, other.0], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        found.extend(former.into_iter().map(|id| (PieceId(id), None)));
    }
    if is_mating(&request.what) && found.len() > 2 {
        return Err(LedgerError::Input(format!(
            "{} pieces cannot be mated in one deed; name one body and its neck",
            found.len()
        )));
    }
    let mut skipped = Vec::with_capacity(request.skipped.len());
    for text in &request.skipped {
        skipped.push(find_piece(conn, text)?);
    }
    Ok(found
        .into_iter()
        .filter(|(id, _)| !skipped.contains(id))
        .collect())
}

fn is_mating(what: &DeedWhat) -> bool {
    matches!(
        what,
        DeedWhat::Other(
            Fact::Mated { .. }
                | Fact::Worked {
                    kind: StepKind::Mate
                }
        )
    )
}

// The kinds among which the piece says which is meant, where a deed leaves its kind open.
fn open_kinds(what: &DeedWhat) -> Option<fn(StepKind) -> bool> {
    match what {
        DeedWhat::Coat {
            kind: None,
            touch_up: false,
            ..
        } => Some(|k| k.wets() && k != StepKind::DropFill),
        DeedWhat::Sand { kind: None, .. } => Some(StepKind::sands),
        DeedWhat::Begin { kind: None } => Some(|k| !k.waits() && k != StepKind::DropFill),
        _ => None,
    }
}

// What a piece is asked for among the kinds that a deed leaves open, as its outlook has it at that moment.
fn asked_for(
    conn: &Connection,
    book: &Book,
    (calendar, airs): (&Calendar, &Airs<'_>),
    (now, recipe): (&PieceNow, &Arc<Recipe>),
    request: &DeedRequest,
) -> Result<Option<Asked>, LedgerError> {
    let Some(wanted) = open_kinds(&request.what) else {
        return Ok(None);
    };
    let at = request.began;
    let air = airs.of(recipe);
    let mut around = around_next(conn, book, now, recipe, at)?;
    around.solvent = solvent_holds(conn, book, (now, recipe), at, &air)?;
    let ground = Ground {
        recipe,
        calendar,
        air: air.as_ref(),
        around: &around,
    };
    let asked = asked(now, at, &ground, wanted);
    air.fault()?;
    Ok(asked)
}

// The fact that a request means for one piece: an open kind takes what the piece is asked for next.
fn fact_for(
    request: &DeedRequest,
    now: &PieceNow,
    asked: Option<Asked>,
    serials: &[String],
) -> Result<Fact, LedgerError> {
    let asked = asked.map(|a| a.kind);
    Ok(match &request.what {
        DeedWhat::Coat {
            kind,
            touch_up,
            mix,
            lot,
            wet,
            supervisor,
            more,
            ..
        } => Fact::Coat(CoatFact {
            kind: kind.or(asked).unwrap_or(StepKind::Clear),
            touch_up: *touch_up,
            mix: *mix,
            lot: lot.clone(),
            amount: None,
            wet: wet.clone(),
            supervisor: supervisor.clone(),
            more: more.clone(),
        }),
        DeedWhat::Sand {
            kind,
            removed,
            grit,
        } => Fact::Sanded {
            kind: kind.or(asked).unwrap_or(StepKind::LevelSand),
            removed: *removed,
            grit: grit.clone(),
        },
        DeedWhat::Begin { kind } => Fact::Begun {
            kind: kind.or(asked).ok_or_else(|| {
                LedgerError::Input(format!(
                    "nothing is left to begin on {}; name the deed",
                    now.piece.serial
                ))
            })?,
        },
        DeedWhat::End => ended_fact(now)?,
        DeedWhat::Rehang { rack } => Fact::Placed {
            rack: Some(rack.clone()),
            hook: now.place().and_then(|p| p.hook),
            room: None,
        },
        DeedWhat::Pair { why } => Fact::Paired {
            // The first two are the new pair; whoever follows gave a half away.
            pair: match serials {
                [a, b, ..] if *a == now.piece.serial => Some(b.clone()),
                [a, b, ..] if *b == now.piece.serial => Some(a.clone()),
                _ => None,
            },
            why: why.clone(),
        },
        // Half a deed is no deed: each half records the other one.
        DeedWhat::Other(
            Fact::Mated { .. }
            | Fact::Worked {
                kind: StepKind::Mate,
            },
        ) => {
            let (fit, joint) = match &request.what {
                DeedWhat::Other(Fact::Mated { fit, joint, .. }) => (*fit, joint.clone()),
                _ => (None, None),
            };
            let other = serials.iter().find(|s| **s != now.piece.serial);
            Fact::Mated {
                with: other.or(now.piece.pair.as_ref()).cloned().ok_or_else(|| {
                    LedgerError::Input(format!(
                        "{} has no other half listed; name both pieces",
                        now.piece.serial
                    ))
                })?,
                fit,
                joint,
            }
        }
        // A deed of which no more is said than its kind is recorded as the fact of its kind.
        DeedWhat::Other(Fact::Worked { kind }) => Fact::plain(*kind),
        DeedWhat::Other(fact) => fact.clone(),
    })
}

// The deed that a begun one comes to, when nothing more is said of it.
fn ended_fact(now: &PieceNow) -> Result<Fact, LedgerError> {
    let begun = now
        .begun
        .as_ref()
        .ok_or_else(|| LedgerError::Input(format!("nothing is begun on {}", now.piece.serial)))?;
    Ok(Fact::plain(begun.kind))
}

// The rack that is meant: the one of that name, else the one that is called so but for capitals, where there is only one.
fn rack_like(conn: &Connection, rack: &str, at: Moment) -> Result<String, LedgerError> {
    if !members(conn, rack, at)?.is_empty() {
        return Ok(rack.to_owned());
    }
    let mut list = conn.prepare_cached(
        "SELECT DISTINCT rack FROM stay WHERE rack IS NOT NULL AND from_ms <= ?1 AND until_ms > ?1",
    )?;
    let racks: Vec<String> = list
        .query_map([at.0], |r| r.get(0))?
        .collect::<Result<_, _>>()?;
    let meant = like(racks.iter().map(String::as_str), rack);
    Ok(meant.unwrap_or(rack).to_owned())
}

// What a rack is asked for next by most of its pieces: a deed on a rack is one kind of deed, and the pieces that are not
// there yet, or are beyond it, are its exceptions.
pub(super) fn settle(
    conn: &Connection,
    book: &Book,
    calendar: &Calendar,
    request: &DeedRequest,
) -> Result<DeedRequest, LedgerError> {
    let mut settled = request.clone();
    if let Target::Rack(rack, _) = &mut settled.target {
        *rack = rack_like(conn, rack, request.began)?;
    }
    if let DeedWhat::Rehang { rack }
    | DeedWhat::Other(Fact::Placed {
        rack: Some(rack), ..
    }) = &mut settled.what
    {
        *rack = rack_like(conn, rack, request.began)?;
    }
    if let DeedWhat::Other(Fact::Placed {
        room: Some(room), ..
    }) = &mut settled.what
    {
        let rooms = super::booths::rooms(conn)?;
        if let Some(meant) = place_like(rooms.iter().map(String::as_str), room) {
            *room = meant.to_owned();
        }
    }
    if request.begun_starts {
        settled.began = begun_at(conn, &settled)?.unwrap_or(request.began);
    }
    let request = &settled.clone();
    if !matches!(request.target, Target::Rack(..)) || open_kinds(&request.what).is_none() {
        return Ok(settled);
    }
    let mut votes: BTreeMap<StepKind, usize> = BTreeMap::new();
    let airs = Airs::new(conn, book, request.began, i64::MAX);
    for (id, _) in targets(conn, request)? {
        let now = stood_at(conn, book, id, request.began)?;
        let recipe = book.recipe(conn, &now.piece.recipe, now.piece.revision)?;
        let asked = asked_for(conn, book, (calendar, &airs), (&now, &recipe), request)?;
        if let Some(asked) = asked.filter(|a| a.next && now.in_process()) {
            *votes.entry(asked.kind).or_insert(0) += 1;
        }
    }
    let most = votes
        .into_iter()
        .max_by_key(|(_, n)| *n)
        .map(|(kind, _)| kind);
    if let DeedWhat::Coat { kind, .. } | DeedWhat::Sand { kind, .. } | DeedWhat::Begin { kind } =
        &mut settled.what
    {
        *kind = most;
    }
    Ok(settled)
}

// When the open deed was begun that this one ends: it counts where it is the same kind of deed on all of the pieces.
fn begun_at(conn: &Connection, request: &DeedRequest) -> Result<Option<Moment>, LedgerError> {
    let ends = |kind: StepKind| match &request.what {
        DeedWhat::Coat { kind: named, .. } => kind.wets() && named.is_none_or(|n| n == kind),
        DeedWhat::Sand { kind: named, .. } => kind.sands() && named.is_none_or(|n| n == kind),
        DeedWhat::End => true,
        DeedWhat::Other(fact) => fact.step_kind() == Some(kind),
        DeedWhat::Begin { .. } | DeedWhat::Rehang { .. } | DeedWhat::Pair { .. } => false,
    };
    let mut first: Option<Moment> = None;
    for (id, _) in targets(conn, request)? {
        let begun = load_piece(conn, id)?.and_then(|p| p.begun);
        match begun.filter(|b| ends(b.kind) && b.at <= request.ended) {
            Some(begun) => first = Some(first.map_or(begun.at, |f| f.min(begun.at))),
            None => return Ok(None),
        }
    }
    Ok(first)
}

pub(super) fn plan(
    conn: &Connection,
    book: &Book,
    calendar: &Calendar,
    request: &DeedRequest,
) -> Result<Plan, LedgerError> {
    let mut mixes = MixTable::default();
    if let DeedWhat::Coat {
        mix: Some(mix),
        lot,
        ..
    } = &request.what
    {
        check_mix(conn, *mix)?;
        if lot.is_some() {
            return Err(LedgerError::Input(
                "a coat has one cup: name the mix or the lot".to_owned(),
            ));
        }
    }
    let fresh = new_rack(conn, &request.what)?;
    let mut pieces = Vec::new();
    let mut remarks = Vec::new();
    let mut found = Vec::new();
    for (id, hook) in targets(conn, request)? {
        found.push((stood_at(conn, book, id, request.began)?, hook));
    }
    let serials: Vec<String> = found
        .iter()
        .map(|(now, _)| now.piece.serial.clone())
        .collect();
    let airs = Airs::new(conn, book, request.began, i64::MAX);
    let booths = match &request.what {
        DeedWhat::Coat { .. } => super::booths::booth_names(conn)?,
        _ => BTreeSet::new(),
    };
    for (now, hook) in found {
        let recipe = book.recipe(conn, &now.piece.recipe, now.piece.revision)?;
        let asked = asked_for(conn, book, (calendar, &airs), (&now, &recipe), request)?;
        let mut fact = fact_for(request, &now, asked, &serials)?;
        if let Fact::Coat(coat) = &mut fact {
            let hangs = now.place().and_then(|s| s.room.as_deref());
            let station = &request.who.station;
            coat.more.sprayed = sprayed(coat.more.sprayed.take(), &booths, station, hangs);
        }
        let surface = surface_for(conn, request, &now, &recipe, &fact)?;
        if let Fact::Coat(coat) = &fact {
            mixes.add(conn, book, coat)?;
        }
        let entry = as_entry(request, calendar, &now, &surface, &fact);
        // Whoever begins a deed is told what speaks against it then, and not only at its end.
        let deed = match &fact {
            Fact::Begun { kind } => Some(Deed {
                person: request.who.person.clone(),
                ..Deed::of(*kind)
            }),
            _ => deed_of(&entry, &mixes),
        };
        let mut around = match &deed {
            Some(deed) => around(
                (conn, &Kept::in_tables()),
                book,
                &now,
                deed,
                (&entry, i64::MAX),
            )?,
            None => Around::default(),
        };
        let air = airs.of(&recipe);
        // An estimate warns before the deed; it marks nothing afterwards.
        if deed.as_ref().is_some_and(|d| !d.kind.wets()) {
            around.solvent = solvent_holds(conn, book, (&now, &recipe), request.began, &air)?;
        }
        let ground = Ground {
            recipe: &recipe,
            calendar,
            air: air.as_ref(),
            around: &around,
        };
        let objections = deed.as_ref().map_or_else(Vec::new, |d| {
            objections(&now, &surface, d, request.began, &ground)
        });
        air.fault()?;
        remarks.extend(far_reading(&now, &fact, &surface, &recipe));
        let (words, coat) = words_for(&now, &fact, &surface, &recipe, fresh);
        let hook = hook.or_else(|| now.place().and_then(|p| p.hook));
        pieces.push(PlannedPiece {
            now,
            hook,
            fact,
            surface,
            deed,
            words,
            coat,
            objections,
            stays: None,
            taken: true,
        });
    }
    choose(request, &mut pieces);
    for piece in &mut pieces {
        if let Fact::Reassigned {
            recipe, revision, ..
        } = &piece.fact
        {
            piece.stays = reassign_fault(conn, book, &piece.now, recipe, *revision)?;
            piece.taken &= piece.stays.is_none();
        }
    }
    let line = line_for(calendar, request, &pieces, fresh);
    remarks.extend(overdrawn(conn, request, &pieces)?);
    if let DeedWhat::Coat { .. } = &request.what {
        remarks.extend(no_exhaust_state(conn, calendar, request.ended)?);
        remarks.extend(where_sprayed(request, &pieces));
        remarks.extend(all_are_on(request, &pieces));
    }
    let plan = Plan {
        pieces,
        line,
        remarks,
    };
    for piece in plan.taken() {
        check_possible(conn, book, calendar, piece)?;
    }
    check_one_each(&plan)?;
    check_hooks(conn, &plan, request.began)?;
    Ok(plan)
}

// The surfaces that a request means on one piece: those named, else those on which the deed was begun, else those that are
// asked for it next.
fn surface_for(
    conn: &Connection,
    request: &DeedRequest,
    now: &PieceNow,
    recipe: &Recipe,
    fact: &Fact,
) -> Result<String, LedgerError> {
    if let Fact::Inspected { findings, .. } = fact {
        for f in findings {
            known_surface(&f.surface, recipe)?;
        }
    }
    if request.surface == WHOLE {
        let touch_up = matches!(fact, Fact::Coat(c) if c.touch_up);
        let begun = now.begun.as_ref();
        if let (true, Some(begun)) = (matches!(request.what, DeedWhat::End), begun) {
            let on: String = conn
                .prepare_cached("SELECT surface FROM entry WHERE seq = ?1")?
                .query_row([begun.entry.0], |r| r.get(0))?;
            if on != WHOLE {
                return Ok(on);
            }
        }
        let kind = match fact {
            Fact::Begun { kind } => Some(*kind),
            fact => fact.step_kind(),
        };
        return Ok(match kind {
            Some(kind) if !touch_up => now.meant(recipe, kind),
            _ => WHOLE.to_owned(),
        });
    }
    for named in request.surface.split(',').map(str::trim) {
        known_surface(named, recipe)?;
    }
    let names: Vec<&str> = request.surface.split(',').map(str::trim).collect();
    Ok(names.join(", "))
}

fn known_surface(named: &str, recipe: &Recipe) -> Result<(), LedgerError> {
    if named == WHOLE || recipe.surfaces.iter().any(|s| s == named) {
        return Ok(());
    }
    let mut known = vec![WHOLE];
    known.extend(
        recipe
            .surfaces
            .iter()
            .map(String::as_str)
            .filter(|s| *s != WHOLE),
    );
    Err(LedgerError::Input(format!(
        "surface \"{}\" is not one of recipe {}; write {}",
        crate::shop::text::shown(named),
        recipe.label(),
        known.join(", ")
    )))
}

// The entry that a deed would become, as far as the rules look at it.
fn as_entry(
    request: &DeedRequest,
    calendar: &Calendar,
    now: &PieceNow,
    surface: &str,
    fact: &Fact,
) -> Entry {
    Entry {
        seq: EntrySeq(i64::MAX),
        piece: now.id,
        surface: surface.to_owned(),
        branch: now.branch(),
        began: request.began,
        ended: request.ended,
        written: request.ended,
        day: calendar.day(request.began),
        person: request.who.person.clone(),
        air: request.temperature,
        humidity: request.humidity,
        fact: fact.clone(),
    }
}

// Where a piece stood when a deed began: what is logged late is planned as it is judged, from what was before it.
fn stood_at(
    conn: &Connection,
    book: &Book,
    id: PieceId,
    began: Moment,
) -> Result<PieceNow, LedgerError> {
    let kept = load_piece(conn, id)?
        .ok_or_else(|| LedgerError::Damaged(format!("piece {} is gone", id.0)))?;
    if kept.newest <= began {
        return Ok(kept);
    }
    let mut before = piece_entries(conn, id, Reach::ALL)?;
    before.retain(|e| e.began <= began || matches!(e.fact, Fact::Added(_)));
    Ok(standing_after(conn, book, &before)?.unwrap_or(kept))
}

fn words_for(
    now: &PieceNow,
    fact: &Fact,
    surface: &str,
    recipe: &Recipe,
    fresh: bool,
) -> (String, Option<u32>) {
    let site = now
        .current(recipe)
        .find(|s| covers(surface, s.surface))
        .or_else(|| now.current(recipe).next());
    let on = if surface == WHOLE {
        String::new()
    } else {
        format!(" on {surface}")
    };
    let place =
        |parts: [Option<String>; 3]| parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
    match (fact, site) {
        (Fact::Coat(c), _) if c.touch_up => (format!("touch-up{on}"), None),
        (Fact::Coat(c), Some(_)) if c.kind == StepKind::DropFill => {
            let drops = c.more.drops.unwrap_or(1);
            let at = c
                .more
                .place
                .as_ref()
                .map_or(String::new(), |p| format!(" at {p}"));
            let s = if drops == 1 { "" } else { "s" };
            (format!("drop-fill{on}{at}, {drops} drop{s}"), None)
        }
        (Fact::Coat(c), Some(s)) => {
            let coat = s.standing.coats(s.steps, c.kind) + 1;
            (format!("{} coat {coat}{on}", c.kind.word()), Some(coat))
        }
        (Fact::Placed { rack, hook, room }, _) => {
            let parts = [
                rack.as_ref().map(|r| format!("{} {r}", rack_word(fresh))),
                hook.map(|h| format!("hook {h}")),
                room.clone(),
            ];
            (format!("moved to {}", place(parts)), None)
        }
        (Fact::Gauged { film }, _) => (format!("film reading {}{on}", film.text(1)), None),
        (Fact::Held { .. }, _) => ("hold".to_owned(), None),
        (Fact::Lifted { .. }, _) => ("hold lifted".to_owned(), None),
        (Fact::Scrapped { .. }, _) => ("scrap".to_owned(), None),
        (Fact::Restored { .. }, _) => ("back from scrap".to_owned(), None),
        (Fact::Begun { kind }, _) => (format!("{} begun{on}", kind.word()), None),
        (Fact::BrokenOff { .. }, _) => ("broken off".to_owned(), None),
        (Fact::Flawed { defect, .. }, _) => (format!("{}{on}", defect.word()), None),
        (Fact::Mended { .. }, _) => ("mended".to_owned(), None),
        (Fact::Reworked { rework, .. }, _) => (format!("rework {rework}{on}"), None),
        (
            Fact::Reassigned {
                recipe, revision, ..
            },
            _,
        ) => (format!("moved to recipe {recipe} rev {revision}"), None),
        (Fact::Tagged { tag, .. }, _) => (
            tag.as_ref()
                .map_or_else(|| "tag taken off".to_owned(), |t| format!("tag {t}")),
            None,
        ),
        (Fact::Paired { pair, .. }, _) => (
            pair.as_ref()
                .map_or_else(|| "unpaired".to_owned(), |m| format!("belongs to {m}")),
            None,
        ),
        (Fact::Mated { with, .. }, _) => (format!("mated with {with}"), None),
        (fact, Some(s)) => match fact.step_kind() {
            Some(kind) => {
                let step = s.standing.step_for(s.steps, kind);
                let words = step.map_or_else(
                    || kind.word().to_owned(),
                    |i| next_words(s.standing, s.steps, i),
                );
                (format!("{words}{on}"), None)
            }
            None => ("note".to_owned(), None),
        },
        _ => ("note".to_owned(), None),
    }
}

// Which pieces of a rack are taken: see the module's invariants.
fn choose(request: &DeedRequest, pieces: &mut [PlannedPiece]) {
    if matches!(request.target, Target::Pieces(_)) {
        return;
    }
    let some_free = pieces.iter().any(|p| p.objections.is_empty());
    for piece in pieces {
        let own = !piece.objections.is_empty();
        let grave = piece.objections.iter().any(Objection::grave);
        let named = match &request.included {
            Included::All => true,
            Included::None => false,
            Included::Named(list) => list.iter().any(|n| {
                *n == piece.now.piece.serial || piece.now.piece.tag.as_deref() == Some(n.as_str())
            }),
        };
        piece.taken = named || !(grave || (own && some_free));
    }
}

// Where a coat is sprayed: where it was said, else in the booth that the station is named after, else where the piece hangs,
// where that is a booth. As long as the shop named no booth, every room counts as one; a room that is called a booth does
// always, so that a new one is asked for its check. What is the room all the same is left to it, and follows the piece.
fn sprayed(
    said: Option<Sprayed>,
    booths: &BTreeSet<String>,
    station: &str,
    hangs: Option<&str>,
) -> Option<Sprayed> {
    let named = |name: &str| place_like(booths.iter().map(String::as_str), name);
    let booth = match &said {
        Some(Sprayed::Booth(name)) => Some(named(name).unwrap_or(name)),
        Some(Sprayed::NoBooth) => return said,
        None => named(station),
    };
    let booth = booth.map(str::to_owned);
    match (booth, hangs) {
        (Some(booth), Some(room)) if booth == room => None,
        (Some(booth), _) => Some(Sprayed::Booth(booth)),
        (None, Some(room))
            if !booths.is_empty() && !booths.contains(room) && !called_booth(room) =>
        {
            Some(Sprayed::NoBooth)
        }
        (None, _) => None,
    }
}

fn called_booth(room: &str) -> bool {
    let mut words = room.split(|c: char| !c.is_alphabetic());
    words.any(|w| w.eq_ignore_ascii_case("booth"))
}

// What is said where a coat is not booked at the room in which the pieces hang, once for each booth and room.
fn where_sprayed(request: &DeedRequest, pieces: &[PlannedPiece]) -> Vec<String> {
    let named = matches!(&request.what, DeedWhat::Coat { more, .. } if more.sprayed.is_some());
    let texts = pieces.iter().filter_map(|p| {
        let Fact::Coat(coat) = &p.fact else {
            return None;
        };
        let hangs = p.now.place().and_then(|s| s.room.as_deref());
        let there = hangs.map_or_else(
            || "no room is known".to_owned(),
            |room| format!("hangs in {}", shown(room)),
        );
        Some(match coat.more.sprayed.as_ref()? {
            Sprayed::Booth(booth) if named => format!("sprayed in {} ({there})", shown(booth)),
            Sprayed::Booth(booth) => format!(
                "sprayed in {}, the booth of this station ({there}); --booth says another, or b on the screens",
                shown(booth)
            ),
            Sprayed::NoBooth => format!(
                "booked at no booth: {there}, which no check, survey or limit names as one; --booth says where it is sprayed, or b on the screens"
            ),
        })
    });
    let once: BTreeSet<String> = texts.collect();
    once.into_iter().collect()
}

// A reading further from the record's film than this many coats asks whether it is the right piece (ours, no source).
const FAR_COATS: i64 = 3;

// Where a gauge reads another film than the record has: a wrong piece, a wrong figure or a wrong log. It is only said.
fn far_reading(now: &PieceNow, fact: &Fact, surface: &str, recipe: &Recipe) -> Option<String> {
    let Fact::Gauged { film } = fact else {
        return None;
    };
    let named = |site: &Site<'_>| {
        surface == WHOLE || surface.split(',').any(|name| name.trim() == site.surface)
    };
    let far = |site: Site<'_>| {
        let wet = site.steps.iter().filter(|s| s.kind.wets());
        let coat = wet.map(|s| s.film.0).max().filter(|film| *film > 0)?;
        let off = film.0 - site.standing.film_nm;
        (off.abs() > FAR_COATS * coat).then_some((off, site.standing.film_nm, coat))
    };
    let (off, record, coat) = now
        .current(recipe)
        .filter(named)
        .filter_map(far)
        .max_by_key(|(off, ..)| off.abs())?;
    Some(format!(
        "{}: {} is {} {} the {} that the record has, more than {FAR_COATS} coats of {} (our own mark, no source): right piece?",
        shown(&now.piece.serial),
        film.text(1),
        Film(off.abs()).text(1),
        if off > 0 { "above" } else { "below" },
        Film(record).text(1),
        Film(coat).text(1)
    ))
}

// Where every piece has all its coats of the kind already: it may be the wrong rack, and is said in words.
fn all_are_on(request: &DeedRequest, pieces: &[PlannedPiece]) -> Option<String> {
    let extra = |p: &PlannedPiece| p.objections.iter().any(|o| o.rule == Rule::ExtraCoat);
    let Target::Rack(rack, _) = &request.target else {
        return None;
    };
    let kind = pieces.first()?.deed.as_ref()?.kind;
    pieces.iter().all(extra).then(|| {
        format!(
            "all {} coats are done on all {} pieces of rack {rack}: this is one more than the recipe has",
            kind.word(),
            pieces.len()
        )
    })
}

// Whether a deed hangs pieces on a rack on which nothing ever hung: it may be a slip of the finger, so it is said.
fn new_rack(conn: &Connection, what: &DeedWhat) -> Result<bool, LedgerError> {
    let (DeedWhat::Rehang { rack }
    | DeedWhat::Other(Fact::Placed {
        rack: Some(rack), ..
    })) = what
    else {
        return Ok(false);
    };
    let known = conn
        .prepare_cached("SELECT 1 FROM stay WHERE rack = ?1")?
        .exists([rack])?;
    Ok(!known)
}

const fn rack_word(fresh: bool) -> &'static str {
    if fresh { "new rack" } else { "rack" }
}

fn line_for(
    calendar: &Calendar,
    request: &DeedRequest,
    pieces: &[PlannedPiece],
    fresh: bool,
) -> String {
    let taken: Vec<&PlannedPiece> = pieces.iter().filter(|p| p.taken).collect();
    let rehung = match &request.what {
        DeedWhat::Rehang { rack } => {
            Some(format!("moved to {} {rack}, hooks kept", rack_word(fresh)))
        }
        DeedWhat::Pair { .. } => Some(pair_words(&taken)),
        _ => None,
    };
    let mut words: Vec<&str> = match &rehung {
        Some(words) => vec![words],
        // Where none is taken, what it would have been is said all the same.
        None if taken.is_empty() => pieces.iter().map(|p| p.words.as_str()).collect(),
        None => taken.iter().map(|p| p.words.as_str()).collect(),
    };
    words.sort_unstable();
    words.dedup();
    let whom = match (&request.target, taken.as_slice()) {
        (Target::Rack(rack, None), _) => format!("Rack {rack}"),
        (Target::Rack(rack, Some((a, b))), _) => format!("Rack {rack} hooks {a}-{b}"),
        (Target::Pieces(_), [one]) => one.now.piece.serial.clone(),
        (Target::Pieces(_), many) => format!("{} pieces", many.len()),
    };
    let mut parts = vec![whom, words.join(" / ")];
    if matches!(request.target, Target::Rack(..)) {
        let s = if taken.len() == 1 { "" } else { "s" };
        parts.push(match taken.len() {
            0 => format!("none of {} pieces", pieces.len()),
            n => format!("{n} piece{s}"),
        });
    }
    // The start that a begun deed gave is said: nobody typed it just now.
    if request.begun_starts && request.began < request.ended {
        parts.push(format!(
            "begun {}",
            calendar.near(request.began, request.ended)
        ));
    }
    // What begins has not ended.
    let moment = if matches!(request.what, DeedWhat::Begin { .. }) {
        "at"
    } else {
        "ended"
    };
    parts.push(format!("{moment} {}", calendar.clock(request.ended)));
    if let DeedWhat::Coat {
        mix, lot, amount, ..
    } = &request.what
    {
        let areas: Vec<i64> = taken.iter().map(|p| p.now.piece.area.0).collect();
        let shares = amount.map_or_else(Vec::new, |a| split(a.0, &areas));
        parts.extend(cup_words(*mix, lot.as_deref(), &shares));
    }
    parts.join(" - ")
}

// What left the cup, with its unit, and what came on each piece: `240 mL from mix 20, 10 mL a piece`.
fn cup_words(mix: Option<u32>, lot: Option<&str>, shares: &[i64]) -> Option<String> {
    let cup = match (mix, lot) {
        (Some(mix), _) => Some(format!("mix {mix}")),
        (None, Some(lot)) => Some(format!("lot {lot}")),
        (None, None) => None,
    };
    let whole = Volume(shares.iter().sum());
    let (Some(low), Some(high)) = (shares.iter().min(), shares.iter().max()) else {
        return cup;
    };
    let from = cup.map_or_else(String::new, |cup| format!(" from {cup}"));
    // A tenth of a millilitre is what people read; the record has the rest.
    let [low, high] = [*low, *high].map(|ul| Volume((ul + 50).div_euclid(100) * 100).trimmed());
    let each = match shares.len() {
        1 => String::new(),
        _ if low == high => format!(", {low} a piece"),
        _ => format!(", {low} to {high} a piece"),
    };
    Some(format!("{}{from}{each}", whole.trimmed()))
}

// Booths of whose exhaust nothing is known. All of them are named: at which one it is sprayed is not in the deed.
fn no_exhaust_state(
    conn: &Connection,
    calendar: &Calendar,
    at: Moment,
) -> Result<Vec<String>, LedgerError> {
    let stops = super::booths::exhaust_unknown(conn, at)?;
    Ok(stops
        .into_iter()
        .map(|s| {
            format!(
                "{}: no exhaust state is known since it stopped at {}; a booth check is due",
                s.booth,
                calendar.near(s.from, at)
            )
        })
        .collect())
}

// Whether more is logged from a mix than was made of it. What was topped up is one pot: the mix and those that it tops up.
fn overdrawn(
    conn: &Connection,
    request: &DeedRequest,
    pieces: &[PlannedPiece],
) -> Result<Option<String>, LedgerError> {
    let DeedWhat::Coat {
        mix: Some(mix),
        amount: Some(amount),
        ..
    } = &request.what
    else {
        return Ok(None);
    };
    if !pieces.iter().any(|p| p.taken) {
        return Ok(None);
    }
    let (made, used, mixes): (i64, i64, String) = conn
        .prepare_cached(
            "WITH RECURSIVE pot (mix, volume, drawn, parent, left_ul) AS (
               SELECT mix, volume, drawn, parent, left_ul FROM mix WHERE mix = ?1
               UNION
               SELECT m.mix, m.volume, m.drawn, m.parent, m.left_ul FROM pot JOIN mix m ON m.mix = pot.parent
                 WHERE pot.left_ul IS NULL)
             SELECT sum(volume), sum(drawn), group_concat(mix, ' and ' ORDER BY mix) FROM pot",
        )?
        .query_row([mix], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))?;
    let used = used.saturating_add(amount.0);
    Ok((used > made).then(|| {
        let (mix, was, it) = if mixes.contains(' ') {
            ("mixes", "were", "them")
        } else {
            ("mix", "was", "it")
        };
        format!(
            "{mix} {mixes} {was} made with {}, {} are logged from {it}",
            Volume(made).trimmed(),
            Volume(used).trimmed()
        )
    }))
}

// A pair in one sentence, with those that are left without a half.
fn pair_words(taken: &[&PlannedPiece]) -> String {
    let named = |with: bool| -> Vec<&str> {
        taken
            .iter()
            .filter(|p| matches!(&p.fact, Fact::Paired { pair, .. } if pair.is_some() == with))
            .map(|p| p.now.piece.serial.as_str())
            .collect()
    };
    let together = format!("{} belong together", named(true).join(" and "));
    match named(false).as_slice() {
        [] => together,
        [one] => format!("{together}, {one} has no other half now"),
        several => format!(
            "{together}, {} have no other half now",
            several.join(" and ")
        ),
    }
}

pub(super) fn save(
    w: &Writer<'_>,
    request: &DeedRequest,
    stamp: &Stamp,
) -> Result<Outcome, LedgerError> {
    if let Some(saved) = w.saved_before(&request.draft)? {
        return receipt(w, saved, String::new(), Vec::new()).map(Outcome::Already);
    }
    let request = &settle(&w.tx, w.book, &w.calendar, request)?;
    let plan = plan(&w.tx, w.book, &w.calendar, request)?;
    if plan.taken().next().is_none() {
        if let Some(stays) = plan.pieces.iter().find_map(|p| p.stays.clone()) {
            return Err(LedgerError::Input(stays));
        }
        let why = plan
            .pieces
            .first()
            .and_then(|p| p.objections.first())
            .map_or("", |o| o.before.as_str());
        return Err(LedgerError::Input(format!(
            "no piece is left to save ({why}); name the pieces to include with --include, or all of them with --include all"
        )));
    }
    super::clock::keep_order(w, request, &plan, stamp)?;
    if let Some(outcome) = doubled(w, request, &plan, stamp)? {
        return Ok(outcome);
    }
    let lines = lines(w, request, &plan)?;
    let left_out: Vec<LeftOut> = plan
        .pieces
        .iter()
        .filter(|p| !p.taken)
        .map(|p| LeftOut {
            serial: p.now.piece.serial.clone(),
            hook: p.hook,
            why: p.why_left(),
        })
        .collect();
    let note = request
        .note
        .as_deref()
        .map(|n| clean("note", n, 500))
        .transpose()
        .map_err(LedgerError::Input)?;
    let shared = Shared {
        v: 1,
        rack: match &request.target {
            Target::Rack(rack, _) => Some(rack.clone()),
            Target::Pieces(_) => None,
        },
        temperature_mc: request.temperature.map(|t| t.0),
        humidity_cpct: request.humidity.map(|h| h.0),
        reason: request.reason.map(|r| r.word().to_owned()),
        note,
        typed: request.typed.clone(),
        left_out: left_out
            .iter()
            .map(|l| (l.serial.clone(), l.why.clone()))
            .collect(),
    };
    let action = NewAction {
        draft: request.draft.clone(),
        deed: deed_word(&request.what).to_owned(),
        who: request.who.clone(),
        began: request.began,
        ended: request.ended,
        lines,
    };
    let saved = w.append(&action, &shared, stamp)?;
    let receipt = receipt(w, saved, plan.line, left_out)?;
    Ok(Outcome::Saved(Receipt {
        remarks: plan.remarks,
        ..receipt
    }))
}

fn deed_word(what: &DeedWhat) -> &'static str {
    match what {
        DeedWhat::Coat { touch_up: true, .. } => "touch-up",
        DeedWhat::Coat { .. } => "coat",
        DeedWhat::Sand { .. } => "sand",
        DeedWhat::Begin { .. } => "begin",
        DeedWhat::End => "end",
        DeedWhat::Rehang { .. } => "move",
        DeedWhat::Pair { .. } => "pair",
        DeedWhat::Other(fact) => match fact {
            Fact::Placed { .. } => "move",
            Fact::Held { .. } => "hold",
            Fact::Lifted { .. } => "lift",
            Fact::Scrapped { .. } => "scrap",
            Fact::Restored { .. } => "restore",
            Fact::Gauged { .. } => "gauge",
            Fact::Note { .. } => "note",
            Fact::BrokenOff { .. } => "break-off",
            Fact::Flawed { .. } => "defect",
            Fact::Mended { .. } => "mend",
            Fact::Reworked { .. } => "rework",
            Fact::Reassigned { .. } => "reassign",
            Fact::Tagged { .. } => "tag",
            Fact::Paired { .. } => "pair",
            Fact::Mated { .. } => "mate",
            _ => "work",
        },
    }
}

fn lines(w: &Writer<'_>, request: &DeedRequest, plan: &Plan) -> Result<Vec<Line>, LedgerError> {
    let taken: Vec<&PlannedPiece> = plan.taken().collect();
    let shares: Option<Vec<i64>> = match &request.what {
        DeedWhat::Coat {
            amount: Some(amount),
            ..
        } => {
            let areas: Vec<i64> = taken.iter().map(|p| p.now.piece.area.0).collect();
            Some(split(amount.0, &areas))
        }
        _ => None,
    };
    let mut lines = Vec::with_capacity(taken.len());
    for (i, piece) in taken.iter().enumerate() {
        let mut fact = piece.fact.clone();
        if let Fact::Coat(coat) = &mut fact {
            coat.amount = shares.as_ref().and_then(|s| s.get(i)).map(|ul| Volume(*ul));
        }
        let hangs = hangs_at(&piece.now, &fact);
        if let Fact::Placed { rack, hook, room } = &mut fact {
            // A piece that is hung on another rack goes to that rack's room.
            if let (Some(rack), None) = (rack.as_deref(), room.as_ref()) {
                *room = rack_room(w, rack, request.began)?;
            }
            let stays = piece.now.place().and_then(|p| p.room.clone());
            *room = room.take().or(stays);
            (*rack, *hook) = hangs;
        }
        let mut line = Line::piece(piece.now.id, piece.now.branch(), What::Piece(fact));
        line.surface.clone_from(&piece.surface);
        lines.push(line);
    }
    Ok(lines)
}

// What cannot be: everything else is recorded, whatever the rules say of it.
fn check_possible(
    conn: &Connection,
    book: &Book,
    calendar: &Calendar,
    piece: &PlannedPiece,
) -> Result<(), LedgerError> {
    let (now, fact) = (&piece.now, &piece.fact);
    let serial = &now.piece.serial;
    let refuse = |why: String| Err(LedgerError::Input(why));
    match fact {
        Fact::Lifted { .. } if now.holds.is_empty() => refuse(format!("{serial} is not on hold")),
        Fact::Restored { .. } if now.scrapped.is_none() => {
            refuse(format!("{serial} is not scrapped"))
        }
        Fact::BrokenOff { .. } if now.begun.is_none() => {
            refuse(format!("nothing is begun on {serial}"))
        }
        Fact::Begun { .. } => match &now.begun {
            Some(open) => refuse(format!(
                "{} was begun on {serial} by {} at {}; end it or break it off first",
                open.kind.word(),
                open.person,
                calendar.clock(open.at)
            )),
            None => Ok(()),
        },
        Fact::Mended { flaw, .. } if !now.flaws.iter().any(|f| f.entry == *flaw) => {
            refuse(format!(
                "entry {} is no open defect of {serial}; \"hangtime piece show {serial}\" lists them",
                flaw.0
            ))
        }
        Fact::Reworked { rework, .. } => check_rework(conn, book, now, &piece.surface, rework),
        Fact::Tagged { tag: Some(tag), .. } => check_tag(conn, now, tag),
        Fact::Paired {
            pair: Some(pair), ..
        } => check_pair(conn, now, pair),
        Fact::Placed {
            rack: Some(rack), ..
        } => no_control("rack", rack).map_err(LedgerError::Input),
        _ => Ok(()),
    }
}

// A tag hangs on one piece, and a half has one other half: several pieces of one deed cannot share them either.
fn check_one_each(plan: &Plan) -> Result<(), LedgerError> {
    let mut had: BTreeMap<(&str, &str), &str> = BTreeMap::new();
    for p in plan.taken() {
        let (what, name) = match &p.fact {
            Fact::Tagged { tag: Some(tag), .. } => ("tag", tag),
            Fact::Paired {
                pair: Some(pair), ..
            } => ("other half", pair),
            _ => continue,
        };
        let serial = p.now.piece.serial.as_str();
        if let Some(first) = had.insert((what, name), serial) {
            return Err(LedgerError::Input(format!(
                "{what} {} cannot be of {first} and of {serial}; name one piece",
                shown(name)
            )));
        }
    }
    Ok(())
}

// Two pieces do not hang on one hook, whichever way they came there. A piece that stays where it hangs is not asked.
fn check_hooks(conn: &Connection, plan: &Plan, at: Moment) -> Result<(), LedgerError> {
    let mut hung: Vec<(PieceId, &str, (String, u32))> = Vec::new();
    for p in plan.taken() {
        let place = p.now.place();
        if let (Some(rack), Some(hook)) = hangs_at(&p.now, &p.fact)
            && place.is_none_or(|s| s.rack.as_ref() != Some(&rack) || s.hook != Some(hook))
        {
            hung.push((p.now.id, &p.now.piece.serial, (rack, hook)));
        }
    }
    let mut members_of: BTreeMap<&str, Vec<(PieceId, Option<u32>)>> = BTreeMap::new();
    let mut clashes: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for (i, (id, serial, to)) in hung.iter().enumerate() {
        let (rack, hook) = (to.0.as_str(), to.1);
        if !members_of.contains_key(rack) {
            members_of.insert(rack, members(conn, rack, at)?);
        }
        let there = members_of.get(rack).into_iter().flatten();
        let there = there
            .filter(|(other, on)| other != id && *on == Some(hook))
            .find(|(other, _)| !hung.iter().any(|(mover, ..)| mover == other));
        let there: Option<String> = match there {
            Some((other, _)) => Some(
                conn.prepare_cached("SELECT serial FROM piece WHERE id = ?1")?
                    .query_row([other.0], |r| r.get(0))?,
            ),
            None => hung
                .iter()
                .take(i)
                .find(|(_, _, theirs)| theirs == to)
                .map(|(_, other, _)| (*other).to_owned()),
        };
        if let Some(there) = there {
            clashes.entry(rack).or_default().push(format!(
                "hook {hook} has {there}, and {serial} would hang there too"
            ));
        }
    }
    let Some((rack, first)) = clashes.first_key_value() else {
        return Ok(());
    };
    Err(LedgerError::Input(format!(
        "rack {rack}: {}; hang one of them elsewhere with \"hangtime move PIECE --hook N\" first",
        first.join("; ")
    )))
}

// The rack and hook on which a piece hangs after a move. A move names what changes: a rack that is rolled to another
// room keeps its hooks, and the hook of one rack means nothing on another.
fn hangs_at(now: &PieceNow, fact: &Fact) -> (Option<String>, Option<u32>) {
    let place = now.place();
    match fact {
        Fact::Placed {
            rack: None, hook, ..
        } => (
            place.and_then(|p| p.rack.clone()),
            hook.or(place.and_then(|p| p.hook)),
        ),
        Fact::Placed { rack, hook, .. } => (rack.clone(), *hook),
        _ => (None, None),
    }
}

fn check_rework(
    conn: &Connection,
    book: &Book,
    now: &PieceNow,
    surface: &str,
    code: &str,
) -> Result<(), LedgerError> {
    let recipe = book.recipe(conn, &now.piece.recipe, now.piece.revision)?;
    if recipe.rework(code).is_none() {
        let known: Vec<&str> = recipe.reworks.iter().map(|r| r.code.as_str()).collect();
        return Err(LedgerError::Input(format!(
            "rework \"{}\" is not one of recipe {}; write one of {}",
            crate::shop::text::shown(code),
            recipe.label(),
            if known.is_empty() {
                "none: the recipe has no rework".to_owned()
            } else {
                known.join(", ")
            }
        )));
    }
    let empty = now
        .current(&recipe)
        .filter(|s| covers(surface, s.surface))
        .any(|s| recipe.route(Some(code), s.surface).is_empty());
    if empty {
        return Err(LedgerError::Input(format!(
            "rework {code} has no step for {surface}; name the surfaces that it is for"
        )));
    }
    Ok(())
}

// Why a piece cannot go over to a recipe revision; `None` when it can.
fn reassign_fault(
    conn: &Connection,
    book: &Book,
    now: &PieceNow,
    code: &str,
    revision: u32,
) -> Result<Option<String>, LedgerError> {
    let serial = &now.piece.serial;
    if now.piece.recipe == code && now.piece.revision == revision {
        return Ok(Some(format!(
            "{serial} is on recipe {code} rev {revision} already"
        )));
    }
    if !now.in_process() {
        return Ok(Some(format!("{serial} has no work to come")));
    }
    let old = book.recipe(conn, &now.piece.recipe, now.piece.revision)?;
    let new = book.recipe(conn, code, revision)?;
    if !new.kinds.contains(&now.piece.kind) {
        return Ok(Some(format!(
            "recipe {} is not for a {}; {serial} stays on {}",
            new.label(),
            now.piece.kind.word(),
            old.label()
        )));
    }
    let open: Vec<&str> = now.current(&old).filter_map(|s| s.rework).collect();
    if let Some(missing) = open.iter().find(|c| new.rework(c).is_none()) {
        return Ok(Some(format!(
            "{serial} is in rework {missing}, which recipe {} does not have; finish the rework first",
            new.label()
        )));
    }
    Ok(None)
}

fn check_tag(conn: &Connection, now: &PieceNow, tag: &str) -> Result<(), LedgerError> {
    no_control("tag", tag).map_err(LedgerError::Input)?;
    if let Some((owner, _)) = retired_owner(conn, tag)? {
        return Err(LedgerError::Input(format!(
            "tag {tag} is a retired tag, it belonged to {owner}; a tag is never used twice, take another one"
        )));
    }
    let used: Option<String> = conn
        .prepare_cached("SELECT serial FROM piece WHERE (tag = ?1 OR serial = ?1) AND id <> ?2")?
        .query_row(params![tag, now.id.0], |r| r.get(0))
        .optional()?;
    match used {
        Some(owner) => Err(LedgerError::Input(format!(
            "tag {tag} is on {owner}; take another one"
        ))),
        None => Ok(()),
    }
}

fn check_pair(conn: &Connection, now: &PieceNow, pair: &str) -> Result<(), LedgerError> {
    if pair == now.piece.serial {
        return Err(LedgerError::Input(format!(
            "{pair} cannot be its own other half"
        )));
    }
    let kind: Option<String> = conn
        .prepare_cached("SELECT kind FROM piece WHERE serial = ?1")?
        .query_row([pair], |r| r.get(0))
        .optional()?;
    match kind {
        Some(kind) if kind == now.piece.kind.word() => Err(LedgerError::Input(format!(
            "{pair} is a {kind} too; a pair is one body and one neck"
        ))),
        Some(_) => Ok(()),
        None => Err(LedgerError::Input(format!(
            "no piece \"{}\"; take it in first",
            crate::shop::text::shown(pair)
        ))),
    }
}

fn rack_room(w: &Writer<'_>, rack: &str, at: Moment) -> Result<Option<String>, LedgerError> {
    Ok(w.tx
        .prepare_cached("SELECT room FROM stay WHERE rack = ?1 AND from_ms <= ?2 AND until_ms > ?2 AND room IS NOT NULL LIMIT 1")?
        .query_row(params![rack, at.0], |r| r.get(0))
        .optional()?)
}

// A coat that stands, as the checks for doubles need it.
struct Near {
    coat: Conflict,
    began: Moment,
    written: Moment,
    mix: Option<u32>,
    lot: Option<String>,
}

impl Near {
    // Whether it came out of another cup than this one; a cup that is not named can be the same.
    fn other_cup_than(&self, mix: Option<u32>, lot: Option<&str>) -> bool {
        let named = |mix: Option<u32>, lot: Option<&str>| mix.is_some() || lot.is_some();
        let (mine, theirs) = ((mix, lot), (self.mix, self.lot.as_deref()));
        named(mix, lot) && named(theirs.0, theirs.1) && mine != theirs
    }
}

// The standing coat of a kind on a piece that lies nearest in time, touch-ups left out. A seal that follows a filler
// is never the same coat.
fn nearest_coat(
    w: &Writer<'_>,
    piece: PieceId,
    kind: StepKind,
    began: Moment,
) -> Result<Option<Near>, LedgerError> {
    Ok(w.tx
        .prepare_cached(
            &format!("SELECT e.ended, a.person, a.station, a.seq, e.began, a.written,
                    json_extract(e.body, '$.mix'), json_extract(e.body, '$.lot') FROM entry e JOIN action a ON a.seq = e.action
             WHERE e.piece = ?1 AND e.kind {COATS} AND e.seq NOT IN (SELECT entry FROM void)
               AND json_extract(e.body, '$.step') = ?2
               AND coalesce(json_extract(e.body, '$.touch_up'), 0) = 0
             ORDER BY abs(e.began - ?3), e.seq DESC LIMIT 1"),
        )?
        .query_row(params![piece.0, kind.word(), began.0], |r| {
            Ok(Near {
                coat: Conflict { coat: 0, at: Moment(r.get(0)?), person: r.get(1)?, station: r.get(2)?, action: r.get(3)? },
                began: Moment(r.get(4)?),
                written: Moment(r.get(5)?),
                mix: r.get(6)?,
                lot: r.get(7)?,
            })
        })
        .optional()?)
}

// Double keys, double reads and a second finisher on the same piece.
fn doubled(
    w: &Writer<'_>,
    request: &DeedRequest,
    plan: &Plan,
    stamp: &Stamp,
) -> Result<Option<Outcome>, LedgerError> {
    let DeedWhat::Coat {
        touch_up: false,
        mix,
        lot,
        ..
    } = &request.what
    else {
        return Ok(None);
    };
    if request.another {
        return Ok(None);
    }
    let Some((first, deed)) = plan
        .taken()
        .next()
        .and_then(|p| Some((p, p.deed.as_ref()?)))
    else {
        return Ok(None);
    };
    let Some(near) = nearest_coat(w, first.now.id, deed.kind, request.began)? else {
        return Ok(None);
    };
    let next = first.coat.unwrap_or(1);
    // A deed that is logged late can be the coat that somebody else logged for a little later.
    let follows = near.began > request.began && follows_soon(w, request, first, deed.kind, &near)?;
    let same_station = near.coat.station == request.who.station;
    let other_cup = same_station && near.other_cup_than(*mix, lot.as_deref());
    let apart = request.began.since(near.began).0.abs();
    let at_once = stamp.written.since(near.written) <= DOUBLE && apart <= ONE_DEED.0;
    if same_station && !other_cup && at_once && same_pieces(w, near.coat.action, plan)? {
        return standing(w, near.coat.action)
            .and_then(|saved| receipt(w, saved, String::new(), Vec::new()))
            .map(|r| Some(Outcome::Already(r)));
    }
    let there = Conflict {
        coat: if near.began > request.began {
            next
        } else {
            next.saturating_sub(1)
        },
        ..near.coat
    };
    if let Some(expected) = request.expects {
        return Ok((expected < next || follows).then_some(Outcome::Conflict(there)));
    }
    // A rack's deed may be the same coat again only when it comes too soon for all of them: one piece that was touched
    // up and is taken along does not make it so.
    let soon = plan
        .taken()
        .all(|p| p.objections.iter().any(|o| o.rule == Rule::Interval));
    // One coat comes out of one cup: another cup is another coat, unless it is named in the same breath.
    let same = (soon || follows) && (at_once || !other_cup);
    Ok(same.then_some(if same_station {
        Outcome::SameOrAnother(there)
    } else {
        Outcome::Conflict(there)
    }))
}

// Whether a coat that began after this deed comes sooner after it than the recipe has coats follow each other.
fn follows_soon(
    w: &Writer<'_>,
    request: &DeedRequest,
    piece: &PlannedPiece,
    kind: StepKind,
    near: &Near,
) -> Result<bool, LedgerError> {
    let of = &piece.now.piece;
    let recipe = w.book.recipe(&w.tx, &of.recipe, of.revision)?;
    let between = recipe
        .steps
        .iter()
        .filter(|s| s.kind == kind)
        .filter_map(|s| s.between)
        .max();
    Ok(between.is_some_and(|wait| near.began.since(request.ended) < wait))
}

// An action as it was saved before.
fn standing(w: &Writer<'_>, action: i64) -> Result<Saved, LedgerError> {
    Ok(w.tx
        .prepare_cached("SELECT min(seq), max(seq) FROM entry WHERE action = ?1")?
        .query_row([action], |r| {
            Ok(Saved {
                action,
                first: EntrySeq(r.get(0)?),
                last: EntrySeq(r.get(1)?),
                again: true,
            })
        })?)
}

fn same_pieces(w: &Writer<'_>, action: i64, plan: &Plan) -> Result<bool, LedgerError> {
    let mut list =
        w.tx.prepare_cached("SELECT piece FROM entry WHERE action = ?1 AND piece IS NOT NULL")?;
    let before: Vec<i64> = list
        .query_map([action], |r| r.get(0))?
        .collect::<Result<_, _>>()?;
    Ok(plan.taken().all(|p| before.contains(&p.now.id.0)))
}

fn receipt(
    w: &Writer<'_>,
    saved: Saved,
    line: String,
    left_out: Vec<LeftOut>,
) -> Result<Receipt, LedgerError> {
    let mut list = w.tx.prepare_cached(
        "SELECT p.serial, s.hook FROM entry e JOIN piece p ON p.id = e.piece
         LEFT JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
         WHERE e.action = ?1 ORDER BY e.seq",
    )?;
    let pieces = list
        .query_map([saved.action], |r| Ok((r.get(0)?, r.get(1)?)))?
        .collect::<Result<Vec<(String, Option<u32>)>, _>>()?;
    let deviations = deviations_where(
        &w.tx,
        "JOIN entry e ON e.seq = d.entry WHERE e.action = ?1 AND d.moot IS NULL AND d.answer IS NULL ORDER BY d.entry, d.rule",
        &[saved.action],
    )?;
    Ok(Receipt {
        saved,
        line,
        pieces,
        left_out,
        deviations,
        totals: Totals::default(),
        remarks: Vec::new(),
    })
}
