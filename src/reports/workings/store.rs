//! What stands at a place: by category, against the shop's own caps, beside the published figures.

use super::{Kept, Working};
use crate::ledger::{Ledger, LedgerError};
use crate::reports::book::litres;
use crate::reports::stored::{Class, Known, Place, places};
use crate::science::measure::{CAN, Quantity};
use crate::science::storage::{
    Category, Held as Published, Stock, hold_cabinet, hold_cabinet_california, hold_outside_cabinet,
};
use crate::science::worksheet::Origin;
use crate::shop::text::shown;
use crate::units::{Amount, Moment, Span, System, Volume};
use serde_json::json;
use std::collections::BTreeSet;
use uom::si::f64::Volume as UomVolume;

/// What stands at a place by the record.
pub(super) fn store(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let mut w = Working::new("store", what);
    let limits = ledger.ceilings()?;
    let all = places(ledger, &limits, at)?;
    let Some(place) = all.iter().find(|p| p.place == what) else {
        let known: Vec<String> = all.iter().map(|p| shown(&p.place)).collect();
        return Err(LedgerError::Input(format!(
            "nothing stands at \"{}\" by the record, and no cap is entered for it; something stands at: {}",
            shown(what),
            if known.is_empty() {
                "no place".to_owned()
            } else {
                known.join(", ")
            }
        )));
    };
    for class in Class::ALL {
        w.kept.push(kept(place, class));
    }
    for liquid in &place.liquids {
        let amount = liquid.volume.map_or_else(
            || "an unknown amount".to_owned(),
            |v| litres(v, System::Metric),
        );
        let counted = match liquid.known {
            Known::By(flash, Some(Category::One)) => format!(
                "flash point {}, category 1 for want of a boiling point",
                flash.text(0)
            ),
            Known::By(flash, Some(c)) => {
                format!("flash point {}, category {}", flash.text(0), c.number())
            }
            Known::By(flash, None) => {
                format!("flash point {}, above the four categories", flash.text(0))
            }
            Known::Unknown => "category unknown".to_owned(),
        };
        w.says.push(format!("{}: {amount}, {counted}", liquid.name));
        if liquid.volume.is_none() {
            w.unknown.push(match liquid.lot {
                Some(_) => format!(
                    "{} is below zero by the record: count it or enter the receipt",
                    liquid.name
                ),
                None => format!(
                    "{} was filled by weight, so its volume is unknown",
                    liquid.name
                ),
            });
        }
        if liquid.known == Known::Unknown && liquid.volume != Some(Volume(0)) {
            w.unknown.push(match liquid.lot {
                Some(_) => format!(
                    "the sheet of {} states no flash point, so its category is unknown",
                    liquid.name
                ),
                None => format!("the category of what is in {} is unknown", liquid.name),
            });
        }
    }
    nowhere(ledger, &mut w, at)?;
    w.held_against = place.held(&limits);
    if w.held_against.is_empty() {
        w.says.push(format!(
            "no cap is entered for {}; \"hangtime limit enter --stored\" enters one",
            shown(what)
        ));
    }
    published(&mut w, place);
    categories(ledger, &mut w, place)?;
    Ok(w)
}

fn kept(place: &Place, class: Class) -> Kept {
    let volume = place.known(class);
    if place.whole(class) {
        return Kept {
            name: class.words().to_owned(),
            value: Some(json!(volume.0)),
            unit: "uL",
            text: litres(volume, System::Metric),
        };
    }
    Kept {
        text: format!("unknown, {} and more", litres(volume, System::Metric)),
        ..Kept::unknown(class.words(), "uL")
    }
}

// Pots and drums stand somewhere, and the record does not know where.
fn nowhere(ledger: &Ledger, w: &mut Working, at: Moment) -> Result<(), LedgerError> {
    let (pots, _) = ledger.open_pots(at.minus(Span::hours(24)))?;
    let levels = pots.iter().map(|(_, pot)| pot.level.0.max(0));
    let left = Volume(levels.sum());
    if left.0 > 0 {
        let s = if pots.len() == 1 { "" } else { "s" };
        w.says.push(format!(
            "{} in {} open pot{s} of the last day stand at no place in the record and are counted at none",
            litres(left, System::Metric),
            pots.len()
        ));
    }
    for drum in ledger.drums(at)? {
        if drum.shipped.is_none() && drum.place.is_none() {
            w.says.push(format!(
                "waste drum {} stands at no place in the record and is counted at none",
                shown(&drum.drum)
            ));
        }
    }
    Ok(())
}

// The published figures: nobody entered them, so that they stand beside and nothing is held against them.
fn published(w: &mut Working, place: &Place) {
    let of = |category| UomVolume::of_base(place.cubic_metres(category));
    let stock = Stock {
        one: of(Category::One),
        two: of(Category::Two),
        three: of(Category::Three),
        four: of(Category::Four),
    };
    let known = [hold_cabinet, hold_cabinet_california, hold_outside_cabinet];
    let rows: Vec<Published> = known
        .iter()
        .filter_map(|hold| hold(&stock).ok())
        .flatten()
        .collect();
    for row in rows {
        w.says.push(format!(
            "published example, not confirmed for this site and held against nothing: {} ({}) of {}, {} ({})",
            CAN.text(row.limit.to_base(), System::Metric),
            CAN.text(row.limit.to_base(), System::Us),
            row.what,
            row.source,
            row.standing.words()
        ));
    }
    w.says.push(
        "the local fire code is often stricter; the local fire code official and the insurer decide"
            .to_owned(),
    );
}

// How each material came to its category, by the sheet of its lots.
fn categories(ledger: &Ledger, w: &mut Working, place: &Place) -> Result<(), LedgerError> {
    let mut shown_before = BTreeSet::new();
    for lot in place.liquids.iter().filter_map(|l| l.lot.as_deref()) {
        let sheet = ledger.lot_material(lot)?;
        let Some(flash) = sheet.flash_point else {
            continue;
        };
        if !shown_before.insert((sheet.code.clone(), sheet.sheet.clone())) {
            continue;
        }
        w.part(
            "flammable-category",
            format!("the category of {}", shown(&sheet.code)),
            |i| {
                let more = format!("data sheet {} of {}", sheet.sheet, sheet.sheet_date);
                i.fill_from("flash", &[(flash.base(), Origin::note(more))])
            },
        );
    }
    Ok(())
}
