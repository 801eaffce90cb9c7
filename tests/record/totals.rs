//! Sums of solvent under random histories of coats, issues, closed pots, top-ups, corrections and lots bound anew: what is
//! kept equals what the single uses give, from every side, to the last milligram.

use super::{START, shop, stamp, who};
use hangtime::ledger::{
    DeedRequest, DeedWhat, Included, Ledger, LedgerError, MixOrder, Months, Target,
};
use hangtime::reports::counting;
use hangtime::reports::totals::{self, By};
use hangtime::shop::material::Pour;
use hangtime::shop::record::CoatMore;
use hangtime::shop::rule_set;
use hangtime::shop::stock::Purpose;
use hangtime::shop::words::Word;
use hangtime::units::{Moment, Span, Volume};
use proptest::prelude::*;
use rusqlite::Connection;

#[derive(Debug, Clone)]
enum Deed {
    Coat {
        mix: u32,
        ul: Option<i64>,
    },
    Issue {
        lot: usize,
        ul: i64,
        purpose: usize,
        booth: bool,
    },
    Mix {
        ul: i64,
        tops_up: Option<u32>,
    },
    Close {
        mix: u32,
        ul: i64,
    },
    Void {
        back: i64,
    },
    Undo,
    Rebind {
        other: bool,
    },
    Wait {
        hours: i64,
    },
}

fn deed() -> impl Strategy<Value = Deed> {
    let mix = 1_u32..=4;
    prop_oneof![
        6 => (mix.clone(), prop::option::weighted(0.9, 1_i64..200_000)).prop_map(|(mix, ul)| Deed::Coat { mix, ul }),
        4 => (0_usize..3, 1_i64..90_000, 0_usize..5, any::<bool>())
            .prop_map(|(lot, ul, purpose, booth)| Deed::Issue { lot, ul, purpose, booth }),
        2 => (1_i64..2_000_000, prop::option::of(mix.clone())).prop_map(|(ul, tops_up)| Deed::Mix { ul, tops_up }),
        2 => (mix, 0_i64..500_000).prop_map(|(mix, ul)| Deed::Close { mix, ul }),
        3 => (0_i64..12).prop_map(|back| Deed::Void { back }),
        1 => Just(Deed::Undo),
        2 => any::<bool>().prop_map(|other| Deed::Rebind { other }),
        2 => (1_i64..200).prop_map(|hours| Deed::Wait { hours }),
    ]
}

const LOTS: [&str; 3] = ["L-221", "T-9", "R-1"];

// What is refused is refused: the record stays as it was, and that is what is held to its sums.
fn play(ledger: &mut Ledger, deed: &Deed, now: &mut Moment) -> Result<(), LedgerError> {
    *now = now.plus(Span::minutes(7));
    let (at, mk) = (stamp(*now), who("MK"));
    match deed {
        Deed::Coat { mix, ul } => {
            let what = DeedWhat::Coat {
                kind: None,
                touch_up: false,
                mix: Some(*mix),
                lot: None,
                amount: ul.map(Volume),
                wet: Vec::new(),
                supervisor: None,
                more: CoatMore::default(),
            };
            let mut request = DeedRequest::new(mk, Target::Rack("R1".into(), None), what, *now);
            request.another = true;
            request.included = Included::All;
            ledger.log(&request, &at).map(|_| ())
        }
        Deed::Issue {
            lot,
            ul,
            purpose,
            booth,
        } => ledger
            .issue(
                LOTS[*lot],
                Volume(*ul),
                Purpose::ALL[*purpose],
                (None, booth.then_some("booth 1")),
                None,
                *now,
                &mk,
                &at,
            )
            .map(|_| ()),
        Deed::Mix { ul, tops_up } => {
            let pour = |lot: &str, ul: i64| Pour {
                lot: lot.to_owned(),
                volume: Volume(ul),
            };
            let parts = vec![pour("L-221", *ul), pour("T-9", ul / 3 + 1)];
            let mut order = MixOrder::of("again", parts, *now);
            order.parent = *tops_up;
            ledger.make_mix(order, &mk, &at).map(|_| ())
        }
        Deed::Close { mix, ul } => ledger
            .close_pot(*mix, Some(Volume(*ul)), None, *now, &mk, &at)
            .map(|_| ()),
        Deed::Void { back } => {
            let newest = ledger.entries(None)?.last().map_or(0, |e| e.seq.0);
            ledger
                .void_entry(newest - back, "wrong", &mk, &at)
                .map(|_| ())
        }
        Deed::Undo => ledger.undo(None, false, &mk, &at).map(|_| ()),
        Deed::Rebind { other } => {
            let sheet = if *other { "rev 5" } else { "rev 4" };
            ledger
                .rebind_lot("L-221", sheet, "another sheet", &mk, &at)
                .map(|_| ())
        }
        Deed::Wait { hours } => {
            *now = now.plus(Span::hours(*hours));
            Ok(())
        }
    }
}

// What is kept in groups, and the same asked of the single uses and of the record.
const KEPT: [(&str, &str); 3] = [
    (
        "SELECT day, lot, mix, coat, purpose, volume, uses FROM day_use WHERE uses <> 0",
        "SELECT e.day, u.lot, coalesce(json_extract(e.body, '$.mix'), 0), e.kind LIKE 'coat/%', u.purpose, u.volume, count(*)
         FROM used u JOIN entry e ON e.seq = u.entry GROUP BY 1, 2, 3, 4, 5, 6",
    ),
    (
        "SELECT day, known, unknown FROM coat_day WHERE known <> 0 OR unknown <> 0",
        "SELECT day, count(*) FILTER (WHERE known), count(*) FILTER (WHERE NOT known)
         FROM (SELECT e.day, EXISTS (SELECT 1 FROM used u WHERE u.entry = e.seq) AS known FROM entry e
               WHERE e.kind LIKE 'coat/%' AND NOT EXISTS (SELECT 1 FROM void v WHERE v.entry = e.seq)) GROUP BY day",
    ),
    (
        "SELECT mix, drawn FROM mix",
        "SELECT mix, (SELECT coalesce(sum(json_extract(e.body, '$.ul')), 0) FROM entry e WHERE e.kind LIKE 'coat/%'
                        AND json_extract(e.body, '$.mix') = m.mix AND NOT EXISTS (SELECT 1 FROM void v WHERE v.entry = e.seq))
         FROM mix m",
    ),
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn kept_totals_equal_those_of_the_single_uses_from_every_side(deeds in prop::collection::vec(deed(), 1..40)) {
        let mut shop = shop(3);
        let ledger = &mut shop.ledger;
        let sample = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample");
        let clr = std::fs::read_to_string(sample.join("materials/clr.toml")).unwrap();
        let clr = clr
            .replace("sheet = \"rev 4\"", "sheet = \"rev 5\"")
            .replace("share = \"15.0 %\"", "share = [\"11.3 %\", \"17.1 %\"]")
            .replace("density = \"0.920 kg/L\"", "density = \"0.917 kg/L\"");
        ledger.adopt_material("clr", &clr, &who("MK"), &stamp(START)).unwrap();
        let own = std::fs::read_to_string(sample.join("rules/own-district.toml")).unwrap();
        let own = rule_set::read("own", &own).unwrap();
        let mut now = START;
        for deed in &deeds {
            let _ = play(ledger, deed, &mut now);
        }
        let last = ledger.calendar().day(now).month();
        let mut months = vec![Months::twelve(&last).unwrap()];
        for month in months[0].list().to_vec() {
            months.push(Months::one(&month).unwrap());
        }
        for months in &months {
            let kept = ledger.sums_of(months).unwrap();
            for by in By::ALL {
                let report = totals::report(ledger, months, *by, None).unwrap();
                prop_assert!(report.adds_up, "{by:?}: {report:?}");
                prop_assert_eq!(report.total.totals, kept.totals);
                // As another set counts it, a range at its other end: the sides still add up.
                let other = totals::report(ledger, months, *by, Some(&own)).unwrap();
                prop_assert!(other.adds_up, "{by:?}: {other:?}");
                let all = other.total.totals;
                prop_assert_eq!(all.exempt.0, 0);
                prop_assert!(all.voc.0 >= kept.totals.voc.0);
            }
            // The same sums, whether a sheet was only classed anew or counted anew.
            let sums = counting::sums(ledger, months, Some(&own)).unwrap();
            let voc: i64 = sums.substances.iter().filter(|s| !s.substance.counts.exempt).map(|s| s.mass.0).sum();
            prop_assert_eq!(voc, sums.totals.voc.0);
        }
        let conn = Connection::open(ledger.path()).unwrap();
        for (kept, record) in KEPT {
            for (one, other) in [(kept, record), (record, kept)] {
                let differ: i64 = conn
                    .query_row(&format!("SELECT count(*) FROM ({one} EXCEPT {other})"), [], |r| r.get(0))
                    .unwrap();
                prop_assert_eq!(differ, 0, "{} and not {}", one, other);
            }
        }
        let report = ledger.verify(None).unwrap();
        prop_assert!(report.differences.is_empty(), "{:?}", report.differences);
    }
}
