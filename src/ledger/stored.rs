//! The shapes in which facts are stored, apart from the domain's own types so that either can change alone.
//!
//! The kind of an entry carries the version of its shape (`coat/1`). A new version gets a new name; an old one stays
//! readable for ever and has a golden text in the tests below.

use super::error::LedgerError;
use crate::shop::material::Pour;
use crate::shop::record::{
    BoothSeen, CoatFact, CoatMore, EntrySeq, Fact, Figure, Finding, NewPiece, PotLeft, ShopFact,
    SignedMonth, Sprayed, What,
};
use crate::shop::standing::{Begun, Branch, Flaw, PieceNow};
use crate::shop::words::{
    Defect, Fit, PieceKind, Reason, Role, Rub, Rule, StepKind, Verdict, Word,
};
use crate::units::{
    Area, Film, Humidity, Moment, Pressure, Share, Span, Speed, Temperature, Volume,
};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// What asks the record for coats, after the name of an entry's kind: every shape in which one is stored. Where a coat was
/// sprayed is [`super::booths::SPRAYED_IN`].
pub(super) const COATS: &str = "IN ('coat/1', 'coat/2', 'coat/3')";

macro_rules! shape {
    ($(#[$doc:meta])* $name:ident { $($field:ident : $type:ty),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Serialize, Deserialize)]
        #[serde(deny_unknown_fields)]
        struct $name { $(
            #[serde(default, skip_serializing_if = "empty")]
            $field: $type
        ),* }
    };
}

// Leaves out what says nothing, so that an entry stays short.
fn empty<T: Sparse>(value: &T) -> bool {
    value.is_nothing()
}
trait Sparse {
    fn is_nothing(&self) -> bool;
}
impl<T> Sparse for Option<T> {
    fn is_nothing(&self) -> bool {
        self.is_none()
    }
}
impl<T> Sparse for Vec<T> {
    fn is_nothing(&self) -> bool {
        self.is_empty()
    }
}
impl Sparse for String {
    fn is_nothing(&self) -> bool {
        self.is_empty()
    }
}
impl Sparse for bool {
    fn is_nothing(&self) -> bool {
        !*self
    }
}
impl Sparse for i64 {
    fn is_nothing(&self) -> bool {
        *self == 0
    }
}
impl Sparse for u32 {
    fn is_nothing(&self) -> bool {
        *self == 0
    }
}

mod alert;
mod duty;
mod logger;
mod stock;

shape!(AddedShape { serial: String, tag: Option<String>, kind: String, model: String, recipe: String, revision: u32, area_mm2: i64, due: Option<String>, mate: Option<String> });
shape!(PlacedShape { rack: Option<String>, hook: Option<u32>, room: Option<String> });
shape!(CoatShape { step: String, touch_up: bool, mix: Option<u32>, lot: Option<String>, ul: Option<i64>, wet_nm: Vec<i64>, supervisor: Option<String> });
shape!(CoatMoreShape { step: String, touch_up: bool, mix: Option<u32>, lot: Option<String>, ul: Option<i64>, wet_nm: Vec<i64>, supervisor: Option<String>, batch: Option<String>, panel: Option<String>, judged: Option<String>, rub: Option<String>, drops: Option<u32>, place: Option<String>, booth: Option<String> });
shape!(ReceivedShape { grit: Option<String>, moisture_ppm: Vec<i64>, light_table: Option<String>, verdict: String });
shape!(MaskedShape { tape: Option<String> });
shape!(BuffedShape { wheel: Option<String>, compound: Option<String> });
shape!(LitShape { uj_cm2: Option<i64>, uw_cm2: Option<i64>, lamp: Option<String> });
shape!(FindingShape { surface: String, grade: String, defect: Option<String>, size_um: Option<i64>, place: Option<String>, verdict: String });
shape!(InspectedShape { light: Option<String>, findings: Vec<FindingShape> });
shape!(MatedShape { with: String, fit: Option<String>, joint: Option<String> });
shape!(FlawedShape { defect: String, size_um: Option<i64>, place: Option<String>, note: Option<String> });
shape!(MendedShape {
    flaw: i64,
    how: String
});
shape!(ReworkedShape { rework: String, defect: Option<String>, why: String });
shape!(ReassignedShape {
    recipe: String,
    revision: u32,
    why: String
});
shape!(TaggedShape { tag: Option<String>, why: String });
shape!(PairedShape { mate: Option<String>, why: String });
shape!(SandedShape { step: String, nm: Option<i64>, grit: Option<String> });
shape!(StepShape { step: String });
shape!(GaugedShape { nm: i64 });
shape!(WhyShape { why: String });
shape!(OpenedShape {
    name: String,
    zone: String,
    day_start: u32,
    demo: bool
});
shape!(RoomShape { name: String, interval_ms: Option<i64>, forecast_permille: i64 });
shape!(MaterialShape {
    code: String,
    sheet: String,
    text: String
});
shape!(RecipeShape {
    code: String,
    revision: u32,
    text: String
});
shape!(LotShape { lot: String, material: String, sheet: String, ul: i64, expires: Option<String> });
shape!(LotShape2 { lot: String, material: String, sheet: String, ul: i64, expires: Option<String>, document: Option<String>, place: Option<String> });
shape!(MixShape { mix: u32, name: String, parts: Vec<(String, i64)>, parent: Option<u32> });
shape!(MixShape2 { mix: u32, name: String, parts: Vec<(String, i64)>, parent: Option<u32>, left_ul: Option<i64>, measured: bool, place: Option<String> });
shape!(CeilingShape {
    what: String,
    scope: String,
    value: i64,
    typed: String,
    basis: String,
    source: String
});
shape!(CeilingShape2 { what: String, scope: String, value: i64, typed: String, basis: String, source: String, warn: Vec<i64>, rules: Option<String> });
shape!(RulesShape {
    code: String,
    revision: String,
    text: String
});
shape!(BookSettingShape {
    name: String,
    value: String,
    source: String
});
shape!(SurveyShape { booth: String, um_s: Vec<i64>, wanted: u32, instrument: String });
shape!(OutageShape { booth: String, from: i64, to: Option<i64> });
shape!(CheckedShape { booth: String, note: Option<String> });
shape!(CheckedShape2 { booth: String, note: Option<String>, mpa: Option<i64>, new_filters: bool });
shape!(BackupsShape { every_ms: Option<i64>, folder: String, keep: u32, ledger: String });
shape!(ReboundShape {
    lot: String,
    sheet: String,
    why: String
});
shape!(LostShape {
    from: i64,
    to: i64,
    hash: String,
    why: String
});
shape!(FigureShape { material: String, sheet: Option<String>, cas: Option<String>, name: Option<String>, value: i64 });
shape!(SignedShape {
    month: String,
    revision: u32,
    text: String,
    json: String,
    figures: Vec<FigureShape>,
    actions: i64,
    head: String
});
shape!(ClimateShape {
    room: String,
    file: String,
    hash: String,
    rows: u32,
    from: i64,
    to: i64
});
shape!(PersonShape { initials: String, role: Option<String> });
shape!(PinShape {
    initials: String,
    reset: bool
});
shape!(ClockConfirmedShape { doubted: Vec<String> });
shape!(ClockCorrectedShape {
    from: i64,
    to: i64,
    by_ms: i64,
    why: String
});
shape!(AnsweredShape {
    rule: String,
    word: String
});
shape!(ExplainedShape { reason: String });

fn json<T: Serialize>(shape: &T) -> Result<String, LedgerError> {
    serde_json::to_string(shape)
        .map_err(|e| LedgerError::Damaged(format!("a fact cannot be written: {e}")))
}

fn why(kind: &'static str, why: &str) -> Result<(&'static str, String), LedgerError> {
    Ok((
        kind,
        json(&WhyShape {
            why: why.to_owned(),
        })?,
    ))
}

/// Kind and body of what an entry says.
pub(super) fn encode(what: &What) -> Result<(&'static str, String), LedgerError> {
    match what {
        What::Piece(fact) => encode_fact(fact),
        What::Shop(fact) => encode_shop(fact),
        What::Void { why: w } => why("void/1", w),
        What::Answered { rule, word } => Ok((
            "answered/1",
            json(&AnsweredShape {
                rule: rule.word().into(),
                word: word.clone(),
            })?,
        )),
        What::Explained { reason } => Ok((
            "explained/1",
            json(&ExplainedShape {
                reason: reason.word().into(),
            })?,
        )),
    }
}

fn encode_fact(fact: &Fact) -> Result<(&'static str, String), LedgerError> {
    match fact {
        Fact::Added(p) => Ok((
            "added/1",
            json(&AddedShape {
                serial: p.serial.clone(),
                tag: p.tag.clone(),
                kind: p.kind.word().into(),
                model: p.model.clone(),
                recipe: p.recipe.clone(),
                revision: p.revision,
                area_mm2: p.area.0,
                due: p.due.map(|d| d.to_string()),
                mate: p.pair.clone(),
            })?,
        )),
        Fact::Placed { rack, hook, room } => Ok((
            "placed/1",
            json(&PlacedShape {
                rack: rack.clone(),
                hook: *hook,
                room: room.clone(),
            })?,
        )),
        Fact::Coat(c) if !c.more.is_empty() => Ok((
            if c.more.sprayed.is_some() {
                "coat/3"
            } else {
                "coat/2"
            },
            json(&CoatMoreShape {
                step: c.kind.word().into(),
                touch_up: c.touch_up,
                mix: c.mix,
                lot: c.lot.clone(),
                ul: c.amount.map(|a| a.0),
                wet_nm: c.wet.iter().map(|f| f.0).collect(),
                supervisor: c.supervisor.clone(),
                batch: c.more.batch.clone(),
                panel: c.more.panel.clone(),
                judged: c.more.judged.clone(),
                rub: c.more.rub.map(text_of),
                drops: c.more.drops,
                place: c.more.place.clone(),
                booth: c.more.sprayed_in(None).map(str::to_owned),
            })?,
        )),
        Fact::Coat(c) => Ok((
            "coat/1",
            json(&CoatShape {
                step: c.kind.word().into(),
                touch_up: c.touch_up,
                mix: c.mix,
                lot: c.lot.clone(),
                ul: c.amount.map(|a| a.0),
                wet_nm: c.wet.iter().map(|f| f.0).collect(),
                supervisor: c.supervisor.clone(),
            })?,
        )),
        Fact::Sanded {
            kind,
            removed,
            grit,
        } => Ok((
            "sanded/1",
            json(&SandedShape {
                step: kind.word().into(),
                nm: removed.map(|f| f.0),
                grit: grit.clone(),
            })?,
        )),
        Fact::Worked { kind } => Ok((
            "worked/1",
            json(&StepShape {
                step: kind.word().into(),
            })?,
        )),
        Fact::Gauged { film } => Ok(("gauged/1", json(&GaugedShape { nm: film.0 })?)),
        Fact::Held { why: w } => why("held/1", w),
        Fact::Lifted { why: w } => why("lifted/1", w),
        Fact::Note { text } => why("note/1", text),
        Fact::Scrapped { why: w } => why("scrapped/1", w),
        Fact::Restored { why: w } => why("restored/1", w),
        Fact::BrokenOff { why: w } => why("broken-off/1", w),
        other => encode_more(other),
    }
}

fn text_of<W: Word>(word: W) -> String {
    word.word().to_owned()
}

// The deeds of a whole process besides coats and sandings.
fn encode_more(fact: &Fact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact.clone() {
        Fact::Received {
            grit,
            moisture,
            light_table,
            verdict,
        } => (
            "received/1",
            json(&ReceivedShape {
                grit,
                moisture_ppm: moisture.iter().map(|m| m.0).collect(),
                light_table,
                verdict: text_of(verdict),
            })?,
        ),
        Fact::Masked { tape } => ("masked/1", json(&MaskedShape { tape })?),
        Fact::Buffed { wheel, compound } => ("buffed/1", json(&BuffedShape { wheel, compound })?),
        Fact::Lit { dose, peak, lamp } => (
            "lit/1",
            json(&LitShape {
                uj_cm2: dose,
                uw_cm2: peak,
                lamp,
            })?,
        ),
        Fact::Inspected { light, findings } => (
            "inspected/1",
            json(&InspectedShape {
                light,
                findings: findings.into_iter().map(finding_shape).collect(),
            })?,
        ),
        Fact::Mated { with, fit, joint } => (
            "mated/1",
            json(&MatedShape {
                with,
                fit: fit.map(text_of),
                joint,
            })?,
        ),
        Fact::Begun { kind } => (
            "begun/1",
            json(&StepShape {
                step: text_of(kind),
            })?,
        ),
        Fact::Flawed {
            defect,
            size_um,
            place,
            note,
        } => (
            "flawed/1",
            json(&FlawedShape {
                defect: text_of(defect),
                size_um,
                place,
                note,
            })?,
        ),
        Fact::Mended { flaw, how } => ("mended/1", json(&MendedShape { flaw: flaw.0, how })?),
        Fact::Reworked {
            rework,
            defect,
            why,
        } => (
            "reworked/1",
            json(&ReworkedShape {
                rework,
                defect: defect.map(text_of),
                why,
            })?,
        ),
        Fact::Reassigned {
            recipe,
            revision,
            why,
        } => (
            "reassigned/1",
            json(&ReassignedShape {
                recipe,
                revision,
                why,
            })?,
        ),
        Fact::Tagged { tag, why } => ("tagged/1", json(&TaggedShape { tag, why })?),
        Fact::Paired { pair: mate, why } => ("paired/1", json(&PairedShape { mate, why })?),
        other => {
            return Err(LedgerError::Damaged(format!(
                "a fact has no stored shape: {other:?}"
            )));
        }
    })
}

fn finding_shape(f: Finding) -> FindingShape {
    FindingShape {
        surface: f.surface,
        grade: f.grade.to_string(),
        defect: f.defect.map(text_of),
        size_um: f.size_um,
        place: f.place,
        verdict: text_of(f.verdict),
    }
}

fn encode_shop(fact: &ShopFact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact.clone() {
        ShopFact::Opened {
            name,
            zone,
            day_start,
            demo,
        } => (
            "opened/1",
            json(&OpenedShape {
                name,
                zone,
                day_start,
                demo,
            })?,
        ),
        ShopFact::Room {
            name,
            interval,
            forecast_permille,
        } => (
            "room/1",
            json(&RoomShape {
                name,
                interval_ms: interval.map(|i| i.0),
                forecast_permille,
            })?,
        ),
        ShopFact::Material { code, sheet, text } => {
            ("material/1", json(&MaterialShape { code, sheet, text })?)
        }
        ShopFact::Recipe {
            code,
            revision,
            text,
        } => (
            "recipe/1",
            json(&RecipeShape {
                code,
                revision,
                text,
            })?,
        ),
        ShopFact::Lot {
            lot,
            material,
            sheet,
            volume,
            expires,
            document,
            place,
        } => {
            let expires = expires.map(|d| d.to_string());
            let ul = volume.0;
            // What says no more than the first version could is stored as it always was.
            if document.is_none() && place.is_none() {
                let shape = LotShape {
                    lot,
                    material,
                    sheet,
                    ul,
                    expires,
                };
                ("lot/1", json(&shape)?)
            } else {
                let shape = LotShape2 {
                    lot,
                    material,
                    sheet,
                    ul,
                    expires,
                    document,
                    place,
                };
                ("lot/2", json(&shape)?)
            }
        }
        ShopFact::Mix {
            mix,
            name,
            parts,
            parent,
            left,
            place,
        } => {
            let parts = parts.into_iter().map(|p| (p.lot, p.volume.0)).collect();
            if left.is_none() && place.is_none() {
                let shape = MixShape {
                    mix,
                    name,
                    parts,
                    parent,
                };
                ("mix/1", json(&shape)?)
            } else {
                let shape = MixShape2 {
                    mix,
                    name,
                    parts,
                    parent,
                    left_ul: left.map(|l| l.volume.0),
                    measured: left.is_some_and(|l| l.measured),
                    place,
                };
                ("mix/2", json(&shape)?)
            }
        }
        ShopFact::Ceiling {
            what,
            scope,
            value,
            typed,
            basis,
            source,
            warn,
            rules,
        } => {
            if warn.is_empty() && rules.is_none() {
                let shape = CeilingShape {
                    what,
                    scope,
                    value,
                    typed,
                    basis,
                    source,
                };
                ("ceiling/1", json(&shape)?)
            } else {
                let shape = CeilingShape2 {
                    what,
                    scope,
                    value,
                    typed,
                    basis,
                    source,
                    warn,
                    rules,
                };
                ("ceiling/2", json(&shape)?)
            }
        }
        ShopFact::Rules {
            code,
            revision,
            text,
        } => (
            "rules/1",
            json(&RulesShape {
                code,
                revision,
                text,
            })?,
        ),
        ShopFact::BookSetting {
            name,
            value,
            source,
        } => (
            "book-setting/1",
            json(&BookSettingShape {
                name,
                value,
                source,
            })?,
        ),
        ShopFact::Stock(fact) => stock::encode(fact)?,
        ShopFact::Duty(fact) => duty::encode(fact)?,
        ShopFact::Logger(fact) => logger::encode(fact)?,
        ShopFact::Alert(fact) => alert::encode(fact)?,
        ShopFact::HandOver(fact) => alert::encode_hand_over(fact)?,
        ShopFact::Survey {
            booth,
            readings,
            wanted,
            instrument,
        } => (
            "survey/1",
            json(&SurveyShape {
                booth,
                um_s: readings.iter().map(|r| r.0).collect(),
                wanted,
                instrument,
            })?,
        ),
        ShopFact::Lost {
            from,
            to,
            hash,
            why,
        } => (
            "lost/1",
            json(&LostShape {
                from,
                to,
                hash,
                why,
            })?,
        ),
        ShopFact::Rebound { lot, sheet, why } => {
            ("rebound/1", json(&ReboundShape { lot, sheet, why })?)
        }
        ShopFact::Outage { booth, from, to } => (
            "outage/1",
            json(&OutageShape {
                booth,
                from: from.0,
                to: to.map(|t| t.0),
            })?,
        ),
        ShopFact::Checked { booth, seen } => {
            let BoothSeen {
                note,
                gauge,
                new_filters,
            } = seen;
            // A check without a reading is stored as it always was.
            if gauge.is_none() && !new_filters {
                ("checked/1", json(&CheckedShape { booth, note })?)
            } else {
                let shape = CheckedShape2 {
                    booth,
                    note,
                    mpa: gauge.map(|p| p.0),
                    new_filters,
                };
                ("checked/2", json(&shape)?)
            }
        }
        ShopFact::Backups {
            every,
            folder,
            keep,
            ledger,
        } => (
            "backups/1",
            json(&BackupsShape {
                every_ms: every.map(|s| s.0),
                folder,
                keep,
                ledger,
            })?,
        ),
        ShopFact::Signed(s) => ("signed/1", json(&signed_shape(s))?),
        ShopFact::Person { initials, role } => (
            "person/1",
            json(&PersonShape {
                initials,
                role: role.map(|r| r.word().to_owned()),
            })?,
        ),
        ShopFact::Pin { initials, reset } => ("pin/1", json(&PinShape { initials, reset })?),
        ShopFact::ClockConfirmed { doubted } => {
            ("clock-confirmed/1", json(&ClockConfirmedShape { doubted })?)
        }
        ShopFact::ClockCorrected { from, to, by, why } => (
            "clock-corrected/1",
            json(&ClockCorrectedShape {
                from,
                to,
                by_ms: by.0,
                why,
            })?,
        ),
        ShopFact::Climate {
            room,
            file,
            hash,
            rows,
            from,
            to,
        } => (
            "climate/1",
            json(&ClimateShape {
                room,
                file,
                hash,
                rows,
                from: from.0,
                to: to.0,
            })?,
        ),
    })
}

fn read<T: DeserializeOwned>(kind: &str, body: &str) -> Result<T, LedgerError> {
    serde_json::from_str(body)
        .map_err(|e| LedgerError::Damaged(format!("an entry of kind {kind} cannot be read: {e}")))
}

fn word<W: Word>(kind: &str, text: &str) -> Result<W, LedgerError> {
    W::from_word(text).ok_or_else(|| {
        LedgerError::Damaged(format!(
            "an entry of kind {kind} holds the unknown word \"{text}\""
        ))
    })
}

fn date(kind: &str, text: Option<String>) -> Result<Option<chrono::NaiveDate>, LedgerError> {
    text.map(|t| {
        t.parse().map_err(|_| {
            LedgerError::Damaged(format!("an entry of kind {kind} holds the date \"{t}\""))
        })
    })
    .transpose()
}

/// What an entry says, from its kind and body.
pub(super) fn decode(kind: &str, body: &str) -> Result<What, LedgerError> {
    let reason = |body| read::<WhyShape>(kind, body).map(|s| s.why);
    Ok(match kind {
        "void/1" => What::Void { why: reason(body)? },
        "answered/1" => {
            let s: AnsweredShape = read(kind, body)?;
            What::Answered {
                rule: word::<Rule>(kind, &s.rule)?,
                word: s.word,
            }
        }
        "explained/1" => {
            let s: ExplainedShape = read(kind, body)?;
            What::Explained {
                reason: word::<Reason>(kind, &s.reason)?,
            }
        }
        "added/1" | "placed/1" | "coat/1" | "coat/2" | "coat/3" | "sanded/1" | "worked/1"
        | "gauged/1" => What::Piece(decode_fact(kind, body)?),
        "received/1" | "masked/1" | "buffed/1" | "lit/1" | "inspected/1" | "mated/1"
        | "begun/1" | "flawed/1" | "mended/1" | "reworked/1" | "reassigned/1" | "tagged/1"
        | "paired/1" => What::Piece(decode_more(kind, body)?),
        "broken-off/1" => What::Piece(Fact::BrokenOff { why: reason(body)? }),
        "held/1" => What::Piece(Fact::Held { why: reason(body)? }),
        "lifted/1" => What::Piece(Fact::Lifted { why: reason(body)? }),
        "note/1" => What::Piece(Fact::Note {
            text: reason(body)?,
        }),
        "scrapped/1" => What::Piece(Fact::Scrapped { why: reason(body)? }),
        "restored/1" => What::Piece(Fact::Restored { why: reason(body)? }),
        _ => What::Shop(decode_shop(kind, body)?),
    })
}

fn decode_fact(kind: &str, body: &str) -> Result<Fact, LedgerError> {
    Ok(match kind {
        "added/1" => {
            let s: AddedShape = read(kind, body)?;
            Fact::Added(NewPiece {
                serial: s.serial,
                tag: s.tag,
                kind: word::<PieceKind>(kind, &s.kind)?,
                model: s.model,
                recipe: s.recipe,
                revision: s.revision,
                area: Area(s.area_mm2),
                due: date(kind, s.due)?,
                pair: s.mate,
            })
        }
        "placed/1" => {
            let s: PlacedShape = read(kind, body)?;
            Fact::Placed {
                rack: s.rack,
                hook: s.hook,
                room: s.room,
            }
        }
        "coat/1" => {
            let s: CoatShape = read(kind, body)?;
            Fact::Coat(CoatFact {
                kind: word::<StepKind>(kind, &s.step)?,
                touch_up: s.touch_up,
                mix: s.mix,
                lot: s.lot,
                amount: s.ul.map(Volume),
                wet: s.wet_nm.into_iter().map(Film).collect(),
                supervisor: s.supervisor,
                more: CoatMore::default(),
            })
        }
        "coat/2" | "coat/3" => {
            let s: CoatMoreShape = read(kind, body)?;
            let sprayed = match (kind, s.booth) {
                ("coat/2", None) => None,
                ("coat/2", Some(_)) => {
                    return Err(LedgerError::Damaged(format!(
                        "an entry of kind {kind} cannot be read: it has a booth"
                    )));
                }
                (_, booth) => Some(booth.map_or(Sprayed::NoBooth, Sprayed::Booth)),
            };
            Fact::Coat(CoatFact {
                kind: word::<StepKind>(kind, &s.step)?,
                touch_up: s.touch_up,
                mix: s.mix,
                lot: s.lot,
                amount: s.ul.map(Volume),
                wet: s.wet_nm.into_iter().map(Film).collect(),
                supervisor: s.supervisor,
                more: CoatMore {
                    batch: s.batch,
                    panel: s.panel,
                    judged: s.judged,
                    rub: maybe_word::<Rub>(kind, s.rub)?,
                    drops: s.drops,
                    place: s.place,
                    sprayed,
                },
            })
        }
        "sanded/1" => {
            let s: SandedShape = read(kind, body)?;
            Fact::Sanded {
                kind: word::<StepKind>(kind, &s.step)?,
                removed: s.nm.map(Film),
                grit: s.grit,
            }
        }
        "gauged/1" => Fact::Gauged {
            film: Film(read::<GaugedShape>(kind, body)?.nm),
        },
        _ => Fact::Worked {
            kind: word::<StepKind>(kind, &read::<StepShape>(kind, body)?.step)?,
        },
    })
}

fn maybe_word<W: Word>(kind: &str, text: Option<String>) -> Result<Option<W>, LedgerError> {
    text.map(|t| word::<W>(kind, &t)).transpose()
}

fn decode_more(kind: &str, body: &str) -> Result<Fact, LedgerError> {
    Ok(match kind {
        "received/1" => {
            let s: ReceivedShape = read(kind, body)?;
            Fact::Received {
                grit: s.grit,
                moisture: s.moisture_ppm.into_iter().map(Share).collect(),
                light_table: s.light_table,
                verdict: word::<Verdict>(kind, &s.verdict)?,
            }
        }
        "masked/1" => Fact::Masked {
            tape: read::<MaskedShape>(kind, body)?.tape,
        },
        "buffed/1" => {
            let s: BuffedShape = read(kind, body)?;
            Fact::Buffed {
                wheel: s.wheel,
                compound: s.compound,
            }
        }
        "lit/1" => {
            let s: LitShape = read(kind, body)?;
            Fact::Lit {
                dose: s.uj_cm2,
                peak: s.uw_cm2,
                lamp: s.lamp,
            }
        }
        "inspected/1" => {
            let s: InspectedShape = read(kind, body)?;
            let findings = s
                .findings
                .into_iter()
                .map(|f| {
                    Ok(Finding {
                        surface: f.surface,
                        grade: f.grade.chars().next().unwrap_or('A'),
                        defect: maybe_word::<Defect>(kind, f.defect)?,
                        size_um: f.size_um,
                        place: f.place,
                        verdict: word::<Verdict>(kind, &f.verdict)?,
                    })
                })
                .collect::<Result<_, LedgerError>>()?;
            Fact::Inspected {
                light: s.light,
                findings,
            }
        }
        "mated/1" => {
            let s: MatedShape = read(kind, body)?;
            Fact::Mated {
                with: s.with,
                fit: maybe_word::<Fit>(kind, s.fit)?,
                joint: s.joint,
            }
        }
        "begun/1" => Fact::Begun {
            kind: word::<StepKind>(kind, &read::<StepShape>(kind, body)?.step)?,
        },
        "flawed/1" => {
            let s: FlawedShape = read(kind, body)?;
            Fact::Flawed {
                defect: word::<Defect>(kind, &s.defect)?,
                size_um: s.size_um,
                place: s.place,
                note: s.note,
            }
        }
        "mended/1" => {
            let s: MendedShape = read(kind, body)?;
            Fact::Mended {
                flaw: EntrySeq(s.flaw),
                how: s.how,
            }
        }
        "reworked/1" => {
            let s: ReworkedShape = read(kind, body)?;
            Fact::Reworked {
                rework: s.rework,
                defect: maybe_word::<Defect>(kind, s.defect)?,
                why: s.why,
            }
        }
        "reassigned/1" => {
            let s: ReassignedShape = read(kind, body)?;
            Fact::Reassigned {
                recipe: s.recipe,
                revision: s.revision,
                why: s.why,
            }
        }
        "tagged/1" => {
            let s: TaggedShape = read(kind, body)?;
            Fact::Tagged {
                tag: s.tag,
                why: s.why,
            }
        }
        _ => {
            let s: PairedShape = read(kind, body)?;
            Fact::Paired {
                pair: s.mate,
                why: s.why,
            }
        }
    })
}

// What the kept piece holds besides its columns.
shape!(BranchShape { rework: String, defect: Option<String>, at: i64 });
shape!(BegunShape {
    entry: i64,
    step: String,
    at: i64,
    person: String
});
shape!(FlawShape { entry: i64, defect: String, surface: String, place: Option<String> });
shape!(MoreShape { branches: Vec<BranchShape>, begun: Option<BegunShape>, taped: Option<i64>, buffed_by: Vec<String>, flaws: Vec<FlawShape> });

/// What the kept piece holds besides its columns, as text.
pub(super) fn encode_piece(now: &PieceNow) -> Result<String, LedgerError> {
    json(&MoreShape {
        branches: now
            .branches
            .iter()
            .map(|b| BranchShape {
                rework: b.rework.clone(),
                defect: b.defect.map(text_of),
                at: b.at.0,
            })
            .collect(),
        begun: now.begun.as_ref().map(|b| BegunShape {
            entry: b.entry.0,
            step: text_of(b.kind),
            at: b.at.0,
            person: b.person.clone(),
        }),
        taped: now.taped.map(|m| m.0),
        buffed_by: now.buffed_by.clone(),
        flaws: now
            .flaws
            .iter()
            .map(|f| FlawShape {
                entry: f.entry.0,
                defect: text_of(f.defect),
                surface: f.surface.clone(),
                place: f.place.clone(),
            })
            .collect(),
    })
}

/// What [`encode_piece`] keeps of a piece.
#[derive(Clone, Default)]
pub(super) struct PieceMore {
    branches: Vec<Branch>,
    begun: Option<Begun>,
    taped: Option<Moment>,
    buffed_by: Vec<String>,
    flaws: Vec<Flaw>,
}

impl PieceMore {
    /// Gives it to the piece.
    pub(super) fn give(self, now: &mut PieceNow) {
        now.branches = self.branches;
        now.begun = self.begun;
        now.taped = self.taped;
        now.buffed_by = self.buffed_by;
        now.flaws = self.flaws;
    }
}

/// Reads back what [`encode_piece`] wrote.
pub(super) fn decode_piece(text: &str) -> Result<PieceMore, LedgerError> {
    const KIND: &str = "piece";
    let more: MoreShape = read(KIND, text)?;
    let branches = more
        .branches
        .into_iter()
        .map(|b| {
            Ok(Branch {
                rework: b.rework,
                defect: maybe_word(KIND, b.defect)?,
                at: Moment(b.at),
            })
        })
        .collect::<Result<_, LedgerError>>()?;
    let begun = more
        .begun
        .map(|b| {
            Ok::<_, LedgerError>(Begun {
                entry: EntrySeq(b.entry),
                kind: word(KIND, &b.step)?,
                at: Moment(b.at),
                person: b.person,
            })
        })
        .transpose()?;
    let flaws = more
        .flaws
        .into_iter()
        .map(|f| {
            Ok(Flaw {
                entry: EntrySeq(f.entry),
                defect: word(KIND, &f.defect)?,
                surface: f.surface,
                place: f.place,
            })
        })
        .collect::<Result<_, LedgerError>>()?;
    Ok(PieceMore {
        branches,
        begun,
        taped: more.taped.map(Moment),
        buffed_by: more.buffed_by,
        flaws,
    })
}

fn decode_shop(kind: &str, body: &str) -> Result<ShopFact, LedgerError> {
    Ok(match kind {
        "opened/1" => {
            let s: OpenedShape = read(kind, body)?;
            ShopFact::Opened {
                name: s.name,
                zone: s.zone,
                day_start: s.day_start,
                demo: s.demo,
            }
        }
        "room/1" => {
            let s: RoomShape = read(kind, body)?;
            ShopFact::Room {
                name: s.name,
                interval: s.interval_ms.map(Span),
                forecast_permille: s.forecast_permille,
            }
        }
        "material/1" => {
            let s: MaterialShape = read(kind, body)?;
            ShopFact::Material {
                code: s.code,
                sheet: s.sheet,
                text: s.text,
            }
        }
        "recipe/1" => {
            let s: RecipeShape = read(kind, body)?;
            ShopFact::Recipe {
                code: s.code,
                revision: s.revision,
                text: s.text,
            }
        }
        "lot/1" => {
            let s: LotShape = read(kind, body)?;
            ShopFact::Lot {
                lot: s.lot,
                material: s.material,
                sheet: s.sheet,
                volume: Volume(s.ul),
                expires: date(kind, s.expires)?,
                document: None,
                place: None,
            }
        }
        "lot/2" => {
            let s: LotShape2 = read(kind, body)?;
            ShopFact::Lot {
                lot: s.lot,
                material: s.material,
                sheet: s.sheet,
                volume: Volume(s.ul),
                expires: date(kind, s.expires)?,
                document: s.document,
                place: s.place,
            }
        }
        "mix/1" => {
            let s: MixShape = read(kind, body)?;
            ShopFact::Mix {
                mix: s.mix,
                name: s.name,
                parts: poured(s.parts),
                parent: s.parent,
                left: None,
                place: None,
            }
        }
        "mix/2" => {
            let s: MixShape2 = read(kind, body)?;
            let measured = s.measured;
            ShopFact::Mix {
                mix: s.mix,
                name: s.name,
                parts: poured(s.parts),
                parent: s.parent,
                left: s.left_ul.map(|ul| PotLeft {
                    volume: Volume(ul),
                    measured,
                }),
                place: s.place,
            }
        }
        "ceiling/1" => {
            let s: CeilingShape = read(kind, body)?;
            ShopFact::Ceiling {
                what: s.what,
                scope: s.scope,
                value: s.value,
                typed: s.typed,
                basis: s.basis,
                source: s.source,
                warn: Vec::new(),
                rules: None,
            }
        }
        "ceiling/2" => {
            let s: CeilingShape2 = read(kind, body)?;
            ShopFact::Ceiling {
                what: s.what,
                scope: s.scope,
                value: s.value,
                typed: s.typed,
                basis: s.basis,
                source: s.source,
                warn: s.warn,
                rules: s.rules,
            }
        }
        "rules/1" => {
            let s: RulesShape = read(kind, body)?;
            ShopFact::Rules {
                code: s.code,
                revision: s.revision,
                text: s.text,
            }
        }
        "book-setting/1" => {
            let s: BookSettingShape = read(kind, body)?;
            ShopFact::BookSetting {
                name: s.name,
                value: s.value,
                source: s.source,
            }
        }
        "survey/1" => {
            let s: SurveyShape = read(kind, body)?;
            ShopFact::Survey {
                booth: s.booth,
                readings: s.um_s.into_iter().map(Speed).collect(),
                wanted: s.wanted,
                instrument: s.instrument,
            }
        }
        "lost/1" => {
            let s: LostShape = read(kind, body)?;
            ShopFact::Lost {
                from: s.from,
                to: s.to,
                hash: s.hash,
                why: s.why,
            }
        }
        "rebound/1" => {
            let s: ReboundShape = read(kind, body)?;
            ShopFact::Rebound {
                lot: s.lot,
                sheet: s.sheet,
                why: s.why,
            }
        }
        "outage/1" => {
            let s: OutageShape = read(kind, body)?;
            ShopFact::Outage {
                booth: s.booth,
                from: Moment(s.from),
                to: s.to.map(Moment),
            }
        }
        "checked/1" => {
            let s: CheckedShape = read(kind, body)?;
            ShopFact::Checked {
                booth: s.booth,
                seen: BoothSeen {
                    note: s.note,
                    ..BoothSeen::default()
                },
            }
        }
        "checked/2" => {
            let s: CheckedShape2 = read(kind, body)?;
            ShopFact::Checked {
                booth: s.booth,
                seen: BoothSeen {
                    note: s.note,
                    gauge: s.mpa.map(Pressure),
                    new_filters: s.new_filters,
                },
            }
        }
        "backups/1" => {
            let s: BackupsShape = read(kind, body)?;
            ShopFact::Backups {
                every: s.every_ms.map(Span),
                folder: s.folder,
                keep: s.keep,
                ledger: s.ledger,
            }
        }
        "signed/1" => ShopFact::Signed(signed_month(read(kind, body)?)),
        "person/1" => {
            let s: PersonShape = read(kind, body)?;
            ShopFact::Person {
                initials: s.initials,
                role: s.role.map(|r| word::<Role>(kind, &r)).transpose()?,
            }
        }
        "pin/1" => {
            let s: PinShape = read(kind, body)?;
            ShopFact::Pin {
                initials: s.initials,
                reset: s.reset,
            }
        }
        "clock-confirmed/1" => ShopFact::ClockConfirmed {
            doubted: read::<ClockConfirmedShape>(kind, body)?.doubted,
        },
        "clock-corrected/1" => {
            let s: ClockCorrectedShape = read(kind, body)?;
            ShopFact::ClockCorrected {
                from: s.from,
                to: s.to,
                by: Span(s.by_ms),
                why: s.why,
            }
        }
        "climate/1" => {
            let s: ClimateShape = read(kind, body)?;
            ShopFact::Climate {
                room: s.room,
                file: s.file,
                hash: s.hash,
                rows: s.rows,
                from: Moment(s.from),
                to: Moment(s.to),
            }
        }
        kind if stock::KINDS.contains(&kind) => ShopFact::Stock(stock::decode(kind, body)?),
        kind if duty::KINDS.contains(&kind) => ShopFact::Duty(duty::decode(kind, body)?),
        kind if logger::KINDS.contains(&kind) => ShopFact::Logger(logger::decode(kind, body)?),
        kind if alert::KINDS.contains(&kind) => ShopFact::Alert(alert::decode(kind, body)?),
        kind if alert::HAND_OVERS.contains(&kind) => {
            ShopFact::HandOver(alert::decode_hand_over(kind, body)?)
        }
        other => {
            return Err(LedgerError::Damaged(format!(
                "an entry has the kind \"{other}\", which this version does not know; use the version that wrote it"
            )));
        }
    })
}

fn poured(parts: Vec<(String, i64)>) -> Vec<Pour> {
    let pour = |(lot, ul)| Pour {
        lot,
        volume: Volume(ul),
    };
    parts.into_iter().map(pour).collect()
}

fn signed_shape(s: SignedMonth) -> SignedShape {
    let figure = |f: Figure| {
        let (cas, name) = f.substance.unzip();
        FigureShape {
            material: f.material,
            sheet: f.sheet,
            cas,
            name,
            value: f.value,
        }
    };
    SignedShape {
        month: s.month,
        revision: s.revision,
        text: s.text,
        json: s.json,
        figures: s.figures.into_iter().map(figure).collect(),
        actions: s.actions,
        head: s.head,
    }
}

fn signed_month(s: SignedShape) -> SignedMonth {
    let figure = |f: FigureShape| Figure {
        material: f.material,
        sheet: f.sheet,
        substance: f.cas.zip(f.name),
        value: f.value,
    };
    SignedMonth {
        month: s.month,
        revision: s.revision,
        text: s.text,
        json: s.json,
        figures: s.figures.into_iter().map(figure).collect(),
        actions: s.actions,
        head: s.head,
    }
}

/// Facts that the entries of one action share.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shared {
    /// Version of this shape.
    pub v: u32,
    /// Rack that the deed was done to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rack: Option<String>,
    /// Air temperature, in thousandths of a degree.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_mc: Option<i64>,
    /// Relative humidity, in hundredths of a percent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub humidity_cpct: Option<i64>,
    /// Reason for its deviations.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Note.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// What was typed, with its units, where figures were typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub typed: Option<String>,
    /// Pieces of the rack that were left out, with the reason shown.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<(String, String)>,
}

impl Shared {
    /// Reads the facts of an action back.
    pub(super) fn read(text: &str) -> Result<Self, LedgerError> {
        serde_json::from_str(text)
            .map_err(|e| LedgerError::Damaged(format!("an action cannot be read: {e}")))
    }

    /// The air that was noted with the deed.
    pub fn air(&self) -> (Option<Temperature>, Option<Humidity>) {
        (
            self.temperature_mc.map(Temperature),
            self.humidity_cpct.map(Humidity),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Golden texts: what a ledger written by an earlier version holds. They are never edited.
    const GOLDEN: &[(&str, &str)] = &[
        (
            "added/1",
            r#"{"serial":"B-0117","kind":"body","model":"octave mandolin","recipe":"G9","revision":3,"area_mm2":240000,"due":"2026-05-15","mate":"N-0117"}"#,
        ),
        ("placed/1", r#"{"rack":"R12","hook":5,"room":"cure room"}"#),
        (
            "coat/1",
            r#"{"step":"clear","mix":118,"ul":48000,"wet_nm":[120000]}"#,
        ),
        (
            "coat/2",
            r#"{"step":"colour","mix":7,"batch":"C-31","panel":"P-4","judged":"KV"}"#,
        ),
        (
            "coat/2",
            r#"{"step":"drop-fill","lot":"L-221","drops":3,"place":"lower bout"}"#,
        ),
        ("coat/2", r#"{"step":"fill","lot":"F-2","rub":"powder"}"#),
        (
            "coat/3",
            r#"{"step":"clear","mix":118,"ul":48000,"booth":"booth 1"}"#,
        ),
        ("coat/3", r#"{"step":"seal","lot":"L-221"}"#),
        (
            "received/1",
            r#"{"grit":"P220","moisture_ppm":[72000,75000],"light_table":"no shadow","verdict":"take"}"#,
        ),
        ("masked/1", r#"{"tape":"fine line, pocket and footprint"}"#),
        ("buffed/1", r#"{"wheel":"W1","compound":"medium"}"#),
        (
            "lit/1",
            r#"{"uj_cm2":960000,"uw_cm2":80000,"lamp":"lamp 2"}"#,
        ),
        (
            "inspected/1",
            r#"{"light":"box 1","findings":[{"surface":"top","grade":"A","defect":"run","size_um":4000,"place":"by the cutaway","verdict":"rework"}]}"#,
        ),
        (
            "mated/1",
            r#"{"with":"N-0117","fit":"snug","joint":"bolted"}"#,
        ),
        ("begun/1", r#"{"step":"clear"}"#),
        ("broken-off/1", r#"{"why":"fan tripped"}"#),
        (
            "flawed/1",
            r#"{"defect":"through-clear","size_um":3000,"place":"arm bevel"}"#,
        ),
        ("mended/1", r#"{"flaw":12,"how":"sanded out"}"#),
        (
            "reworked/1",
            r#"{"rework":"RW3","defect":"burn-through","why":"edge of the horn"}"#,
        ),
        (
            "reassigned/1",
            r#"{"recipe":"G9","revision":4,"why":"longer cure"}"#,
        ),
        ("tagged/1", r#"{"tag":"T-91","why":"lost in the spray"}"#),
        ("paired/1", r#"{"mate":"N-0118","why":"as built"}"#),
        ("coat/1", r#"{"step":"clear","touch_up":true}"#),
        ("coat/1", r#"{"step":"seal","lot":"L-221","ul":30000}"#),
        (
            "sanded/1",
            r#"{"step":"level-sand","nm":12000,"grit":"P400"}"#,
        ),
        ("worked/1", r#"{"step":"buff"}"#),
        ("gauged/1", r#"{"nm":109000}"#),
        ("held/1", r#"{"why":"glue spot"}"#),
        ("void/1", r#"{"why":"wrong rack"}"#),
        (
            "answered/1",
            r#"{"rule":"daily-cap","word":"seen, goes on"}"#,
        ),
        ("explained/1", r#"{"reason":"due date"}"#),
        (
            "opened/1",
            r#"{"name":"shop","zone":"America/New_York","day_start":6,"demo":true}"#,
        ),
        (
            "room/1",
            r#"{"name":"cure room","interval_ms":900000,"forecast_permille":1000}"#,
        ),
        (
            "lot/1",
            r#"{"lot":"L-221","material":"CLR","sheet":"3","ul":20000000,"expires":"2026-09-30"}"#,
        ),
        (
            "mix/1",
            r#"{"mix":118,"name":"M1","parts":[["L-221",3000000],["T-9",1000000]]}"#,
        ),
        (
            "ceiling/1",
            r#"{"what":"face velocity","scope":"booth 1","value":508000,"typed":"100 fpm","basis":"average","source":"booth manual"}"#,
        ),
        (
            "lot/2",
            r#"{"lot":"L-240","material":"CLR","sheet":"3","ul":20000000,"document":"note 118","place":"booth store"}"#,
        ),
        (
            "mix/2",
            r#"{"mix":119,"name":"M1","parts":[["L-221",500000]],"parent":118,"left_ul":0}"#,
        ),
        (
            "mix/2",
            r#"{"mix":119,"name":"M1","parts":[["L-221",500000]],"parent":118,"left_ul":400000,"measured":true,"place":"booth store"}"#,
        ),
        (
            "ceiling/2",
            r#"{"what":"VOC","scope":"twelve months","value":900000000000,"typed":"900 kg","basis":"mass used","source":"permit","warn":[800,950],"rules":"US-FED"}"#,
        ),
        (
            "rules/1",
            r#"{"code":"US-FED","revision":"2026-01","text":"code = 1"}"#,
        ),
        (
            "book-setting/1",
            r#"{"name":"official","value":"stock","source":"permit"}"#,
        ),
        (
            "survey/1",
            r#"{"booth":"booth 1","um_s":[528320],"wanted":9,"instrument":"vane, calibrated 2026-01-10"}"#,
        ),
        (
            "lost/1",
            r#"{"from":120,"to":131,"hash":"00","why":"the disk was changed"}"#,
        ),
        (
            "rebound/1",
            r#"{"lot":"L-221","sheet":"rev 5","why":"the can carries rev 5"}"#,
        ),
        ("outage/1", r#"{"booth":"booth 1","from":1000,"to":2000}"#),
        (
            "checked/1",
            r#"{"booth":"booth 1","note":"gauge 0.44, fan runs"}"#,
        ),
        (
            "checked/2",
            r#"{"booth":"booth 1","note":"fan runs","mpa":24900,"new_filters":true}"#,
        ),
        ("person/1", r#"{"initials":"DP","role":"finisher"}"#),
        ("person/1", r#"{"initials":"DP"}"#),
        ("pin/1", r#"{"initials":"JD","reset":true}"#),
        (
            "clock-confirmed/1",
            r#"{"doubted":["now is 1 h before the newest entry"]}"#,
        ),
        (
            "clock-corrected/1",
            r#"{"from":12,"to":14,"by_ms":10800000,"why":"3 h slow"}"#,
        ),
        (
            "backups/1",
            r#"{"every_ms":86400000,"folder":"/mnt/stick","keep":14,"ledger":"/srv/shop.ledger"}"#,
        ),
        ("backups/1", "{}"),
        (
            "signed/1",
            r#"{"month":"2026-03","revision":1,"text":"a\nb","json":"{}","figures":[{"material":"CLR","value":5},{"material":"CLR","sheet":"2026-01","cas":"108-88-3","name":"toluene","value":7}],"actions":22,"head":"00"}"#,
        ),
        (
            "climate/1",
            r#"{"room":"cure room","file":"a.csv","hash":"00","rows":96,"from":1,"to":2}"#,
        ),
    ];

    #[test]
    fn golden_texts_read_and_write_back_to_the_letter() {
        let all = [
            GOLDEN,
            stock::GOLDEN,
            duty::GOLDEN,
            logger::GOLDEN,
            alert::GOLDEN,
        ];
        for (kind, body) in all.into_iter().flatten() {
            let what = decode(kind, body).unwrap();
            assert_eq!(encode(&what).unwrap(), (*kind, (*body).to_owned()));
        }
    }

    #[test]
    fn every_shape_of_a_coat_is_asked_for_by_the_one_list() {
        let mut asked: Vec<&str> = COATS.split('\'').filter(|k| k.contains('/')).collect();
        asked.sort_unstable();
        let golden = GOLDEN.iter().filter(|(kind, body)| {
            matches!(decode(kind, body).unwrap(), What::Piece(Fact::Coat(_)))
        });
        let mut stored: Vec<&str> = golden.map(|(kind, _)| *kind).collect();
        stored.sort_unstable();
        stored.dedup();
        assert_eq!(asked, stored);
    }

    #[test]
    fn only_the_newest_coat_says_its_booth() {
        let body = r#"{"step":"clear","place":"edge","booth":"booth 1"}"#;
        assert!(decode("coat/3", body).is_ok());
        for older in ["coat/1", "coat/2"] {
            let said = decode(older, body).unwrap_err().to_string();
            assert!(said.contains("cannot be read"), "{said}");
        }
    }

    #[test]
    fn an_unknown_kind_says_so() {
        let said = decode("coat/9", "{}").unwrap_err().to_string();
        assert!(said.contains("coat/9"), "{said}");
    }
}
