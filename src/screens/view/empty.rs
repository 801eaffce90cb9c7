//! What to do next, where there is nothing to see: one or two lines with the command or key.
//!
//! *Invariants*: what is named here can be typed after `:` as it stands, once its capitals are filled in.

use super::text::{Line, line, run};
use crate::screens::model::Model;
use crate::screens::places::Place;
use crate::screens::theme::Ink;

fn hint(why: &str, key: &str, does: &str) -> Line {
    vec![
        run(format!("{why}  "), Ink::Plain),
        run(key, Ink::Strong),
        run(format!("  {does}"), Ink::Faint),
    ]
}

/// What the present place still needs before it has something to show; empty when nothing is missing.
pub(super) fn lines(model: &Model) -> Vec<Line> {
    let Some(data) = &model.floor.data else {
        return Vec::new();
    };
    let have = &data.shelf;
    let recipes = || {
        hint(
            "No recipe is adopted yet.",
            ":recipe adopt FILE",
            "adopts one",
        )
    };
    let materials = || {
        hint(
            "No material is adopted yet.",
            ":material adopt FILE",
            "adopts a data sheet",
        )
    };
    let mut out = Vec::new();
    match model.place {
        Place::Recipes => {
            if have.recipes == 0 {
                out.push(recipes());
            }
            if have.materials == 0 {
                out.push(materials());
            }
        }
        Place::Floor | Place::Booth | Place::Wall | Place::Shift | Place::Plan => {
            if have.recipes == 0 {
                out.push(recipes());
            }
            if data.seen.is_empty() {
                out.push(line("No piece is in process yet.", Ink::Plain));
                if have.recipes > 0 {
                    out.push(hint(
                        "  One:",
                        ":piece add SERIAL --kind body --model NAME --recipe CODE --area \"0.3 m2\"",
                        "",
                    ));
                    out.push(hint("  A list:", ":piece import FILE", ""));
                }
            }
        }
        Place::Solvent | Place::Air | Place::Quality => {}
    }
    out
}

/// What a coat still lacks, where pieces are there to be coated: said below the list.
pub(super) fn before_a_coat(model: &Model) -> Option<Line> {
    let data = model.floor.data.as_ref()?;
    let have = &data.shelf;
    if data.seen.is_empty() || !data.mixes.is_empty() {
        return None;
    }
    Some(if have.materials == 0 {
        hint(
            "No material yet:",
            ":material adopt FILE",
            "then lots and mixes",
        )
    } else if have.lots == 0 {
        hint(
            "No lot yet:",
            ":lot receive LOT MATERIAL 20L",
            "then a coat's film is known",
        )
    } else {
        hint(
            "No mix yet:",
            ":mix make NAME LOT=2L LOT=1L",
            "then a coat's film is known",
        )
    })
}
