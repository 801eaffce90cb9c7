//! Stored shapes of stock and waste.

use super::{LedgerError, empty, json, read, word};
use crate::shop::stock::{Purpose, StockFact};
use crate::shop::words::Word;
use crate::units::{Mass, Share, Volume};
use serde::{Deserialize, Serialize};

/// The kinds that are read here.
pub(super) const KINDS: &[&str] = &[
    "delivered/1",
    "issued/1",
    "carried/1",
    "counted/1",
    "pot-closed/1",
    "drum-started/1",
    "drum-filled/1",
    "drum-analysed/1",
    "drum-shipped/1",
];

shape!(DeliveredShape { lot: String, ul: i64, document: Option<String>, place: String });
shape!(IssuedShape { lot: String, ul: i64, purpose: String, place: String, booth: Option<String>, note: Option<String> });
shape!(CarriedShape {
    lot: String,
    ul: i64,
    from: String,
    to: String
});
shape!(CountedShape { material: String, lot: Option<String>, ul: i64, closes: Option<String>, note: Option<String> });
shape!(PotClosedShape { mix: u32, ul: i64, drum: Option<String> });
shape!(DrumStartedShape { drum: String, contents: String, ul: Option<i64>, place: Option<String> });
shape!(DrumFilledShape { drum: String, ul: Option<i64>, mg: Option<i64>, what: String });
shape!(DrumAnalysedShape {
    drum: String,
    voc_ppm: i64,
    reference: String
});
shape!(DrumShippedShape { drum: String, mg: i64, manifest: Option<String>, carrier: Option<String> });

pub(super) fn encode(fact: StockFact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact {
        StockFact::Delivered {
            lot,
            volume,
            document,
            place,
        } => (
            "delivered/1",
            json(&DeliveredShape {
                lot,
                ul: volume.0,
                document,
                place,
            })?,
        ),
        StockFact::Issued {
            lot,
            volume,
            purpose,
            place,
            booth,
            note,
        } => (
            "issued/1",
            json(&IssuedShape {
                lot,
                ul: volume.0,
                purpose: purpose.word().to_owned(),
                place,
                booth,
                note,
            })?,
        ),
        StockFact::Carried {
            lot,
            volume,
            from,
            to,
        } => (
            "carried/1",
            json(&CarriedShape {
                lot,
                ul: volume.0,
                from,
                to,
            })?,
        ),
        StockFact::Counted {
            material,
            lot,
            volume,
            closes,
            note,
        } => (
            "counted/1",
            json(&CountedShape {
                material,
                lot,
                ul: volume.0,
                closes,
                note,
            })?,
        ),
        StockFact::PotClosed { mix, left, drum } => (
            "pot-closed/1",
            json(&PotClosedShape {
                mix,
                ul: left.0,
                drum,
            })?,
        ),
        drum => encode_drum(drum)?,
    })
}

fn encode_drum(fact: StockFact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact {
        StockFact::DrumStarted {
            drum,
            contents,
            capacity,
            place,
        } => (
            "drum-started/1",
            json(&DrumStartedShape {
                drum,
                contents,
                ul: capacity.map(|v| v.0),
                place,
            })?,
        ),
        StockFact::DrumFilled {
            drum,
            volume,
            mass,
            what,
        } => (
            "drum-filled/1",
            json(&DrumFilledShape {
                drum,
                ul: volume.map(|v| v.0),
                mg: mass.map(|m| m.0),
                what,
            })?,
        ),
        StockFact::DrumAnalysed {
            drum,
            voc,
            reference,
        } => (
            "drum-analysed/1",
            json(&DrumAnalysedShape {
                drum,
                voc_ppm: voc.0,
                reference,
            })?,
        ),
        StockFact::DrumShipped {
            drum,
            mass,
            manifest,
            carrier,
        } => (
            "drum-shipped/1",
            json(&DrumShippedShape {
                drum,
                mg: mass.0,
                manifest,
                carrier,
            })?,
        ),
        other => {
            return Err(LedgerError::Damaged(format!(
                "{other:?} is no fact about a drum"
            )));
        }
    })
}

pub(super) fn decode(kind: &str, body: &str) -> Result<StockFact, LedgerError> {
    Ok(match kind {
        "delivered/1" => {
            let s: DeliveredShape = read(kind, body)?;
            StockFact::Delivered {
                lot: s.lot,
                volume: Volume(s.ul),
                document: s.document,
                place: s.place,
            }
        }
        "issued/1" => {
            let s: IssuedShape = read(kind, body)?;
            StockFact::Issued {
                lot: s.lot,
                volume: Volume(s.ul),
                purpose: word::<Purpose>(kind, &s.purpose)?,
                place: s.place,
                booth: s.booth,
                note: s.note,
            }
        }
        "carried/1" => {
            let s: CarriedShape = read(kind, body)?;
            StockFact::Carried {
                lot: s.lot,
                volume: Volume(s.ul),
                from: s.from,
                to: s.to,
            }
        }
        "counted/1" => {
            let s: CountedShape = read(kind, body)?;
            StockFact::Counted {
                material: s.material,
                lot: s.lot,
                volume: Volume(s.ul),
                closes: s.closes,
                note: s.note,
            }
        }
        "pot-closed/1" => {
            let s: PotClosedShape = read(kind, body)?;
            StockFact::PotClosed {
                mix: s.mix,
                left: Volume(s.ul),
                drum: s.drum,
            }
        }
        "drum-started/1" => {
            let s: DrumStartedShape = read(kind, body)?;
            StockFact::DrumStarted {
                drum: s.drum,
                contents: s.contents,
                capacity: s.ul.map(Volume),
                place: s.place,
            }
        }
        "drum-filled/1" => {
            let s: DrumFilledShape = read(kind, body)?;
            StockFact::DrumFilled {
                drum: s.drum,
                volume: s.ul.map(Volume),
                mass: s.mg.map(Mass),
                what: s.what,
            }
        }
        "drum-analysed/1" => {
            let s: DrumAnalysedShape = read(kind, body)?;
            StockFact::DrumAnalysed {
                drum: s.drum,
                voc: Share(s.voc_ppm),
                reference: s.reference,
            }
        }
        _ => {
            let s: DrumShippedShape = read(kind, body)?;
            StockFact::DrumShipped {
                drum: s.drum,
                mass: Mass(s.mg),
                manifest: s.manifest,
                carrier: s.carrier,
            }
        }
    })
}

/// Golden texts: what a ledger written by an earlier version holds. They are never edited.
#[cfg(test)]
pub(super) const GOLDEN: &[(&str, &str)] = &[
    (
        "delivered/1",
        r#"{"lot":"L-221","ul":20000000,"document":"note 118","place":"store"}"#,
    ),
    (
        "issued/1",
        r#"{"lot":"T-9","ul":400000,"purpose":"cleaning","place":"store","booth":"booth 1","note":"guns"}"#,
    ),
    (
        "carried/1",
        r#"{"lot":"T-9","ul":4000000,"from":"store","to":"mixing bench"}"#,
    ),
    (
        "counted/1",
        r#"{"material":"CLR","ul":180000000,"closes":"2026-03","note":"dip stick"}"#,
    ),
    (
        "counted/1",
        r#"{"material":"CLR","lot":"L-221","ul":12000000}"#,
    ),
    ("pot-closed/1", r#"{"mix":118,"ul":140000,"drum":"W-3"}"#),
    ("pot-closed/1", r#"{"mix":118}"#),
    (
        "drum-started/1",
        r#"{"drum":"W-3","contents":"spent thinner","ul":200000000,"place":"yard"}"#,
    ),
    (
        "drum-filled/1",
        r#"{"drum":"W-3","ul":400000,"what":"gun wash"}"#,
    ),
    (
        "drum-filled/1",
        r#"{"drum":"W-3","mg":1200000,"what":"rags"}"#,
    ),
    (
        "drum-analysed/1",
        r#"{"drum":"W-3","voc_ppm":550000,"reference":"A-77"}"#,
    ),
    (
        "drum-shipped/1",
        r#"{"drum":"W-3","mg":160000000,"manifest":"M-100","carrier":"waste contractor"}"#,
    ),
];
