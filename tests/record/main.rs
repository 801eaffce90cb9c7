//! The record through the library's door: whatever is logged, corrected or brought in late, what is kept equals what
//! is rebuilt, and the opening rules hold.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::as_conversions,
    clippy::disallowed_methods,
    missing_docs,
    reason = "tests"
)]

mod histories;
mod opening;
#[path = "../../benches/speed/plant.rs"]
#[allow(dead_code, unreachable_pub, reason = "the bench uses more of it")]
mod plant;
mod plants;
mod process;
mod quality;
#[path = "../support/shop.rs"]
#[allow(dead_code, unreachable_pub, reason = "the bench uses more of it")]
mod shop;
mod totals;
mod witness;

use hangtime::ledger::{Ledger, MixOrder, NewLot, NewShop, PieceRow, Stamp, Who};
use hangtime::shop::material::Pour;
use hangtime::shop::record::NewPiece;
use hangtime::shop::words::PieceKind;
use hangtime::units::{Area, Moment, Span, Volume};
use std::path::Path;
use tempfile::TempDir;

/// Mon 9 March 2026 06:00 in New York.
pub(crate) const START: Moment = Moment(1_773_050_400_000);

pub(crate) fn who(person: &str) -> Who {
    Who {
        person: person.to_owned(),
        writer: person.to_owned(),
        station: "booth-1".to_owned(),
    }
}

pub(crate) fn stamp(at: Moment) -> Stamp {
    Stamp {
        written: at,
        clock: "demo",
        boot_ms: None,
    }
}

/// A shop with the sample's recipes and materials, one mix and a rack R1 of bodies.
pub(crate) struct Shop {
    pub(crate) folder: TempDir,
    pub(crate) ledger: Ledger,
}

pub(crate) fn shop(bodies: u32) -> Shop {
    let folder = tempfile::tempdir().unwrap();
    let new = NewShop {
        name: "shop".into(),
        zone: "America/New_York".into(),
        day_start: 6,
        demo: true,
    };
    let path = folder.path().join("shop.ledger");
    let (mk, at) = (who("MK"), stamp(START));
    let mut ledger = Ledger::create(&path, &new, &mk, &at).unwrap();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample");
    for name in ["clr", "thn", "rtd", "slr"] {
        let text = std::fs::read_to_string(sample.join(format!("materials/{name}.toml"))).unwrap();
        ledger.adopt_material(name, &text, &mk, &at).unwrap();
    }
    for name in ["g9", "n8"] {
        let text = std::fs::read_to_string(sample.join(format!("recipes/{name}.toml"))).unwrap();
        ledger.adopt_recipe(name, &text, &mk, &at).unwrap();
    }
    for (lot, material) in [("L-221", "CLR"), ("T-9", "THN"), ("R-1", "RTD")] {
        ledger
            .receive_lot(
                &NewLot::of(lot, material, Volume(200_000_000)),
                START,
                &mk,
                &at,
            )
            .unwrap();
    }
    let pour = |lot: &str, ul| Pour {
        lot: lot.to_owned(),
        volume: Volume(ul),
    };
    let parts = vec![
        pour("L-221", 3_000_000),
        pour("T-9", 1_000_000),
        pour("R-1", 80_000),
    ];
    ledger
        .make_mix(MixOrder::of("M1", parts, START), &mk, &at)
        .unwrap();
    ledger
        .declare_room("cure room", Some(Span::minutes(15)), 1_000, &mk, &at)
        .unwrap();
    let rows: Vec<PieceRow> = (1..=bodies)
        .map(|n| PieceRow {
            line: u64::from(n),
            piece: NewPiece {
                serial: format!("B-{n:04}"),
                tag: None,
                kind: PieceKind::Body,
                model: "cittern".into(),
                recipe: "G9".into(),
                revision: 3,
                area: Area(240_000),
                due: None,
                pair: None,
            },
            rack: Some("R1".into()),
            hook: Some(n),
            room: Some("cure room".into()),
        })
        .collect();
    ledger.add_pieces(&rows, START, &mk, &at).unwrap().unwrap();
    Shop { folder, ledger }
}
