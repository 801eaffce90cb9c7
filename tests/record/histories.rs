//! Random histories: legal and illegal deeds, late ones, corrections, moves, readings.

use super::{START, shop, stamp, who};
use hangtime::ledger::{DeedRequest, DeedWhat, Included, Ledger, LedgerError, Target};
use hangtime::reports::workings;
use hangtime::shop::climate::Sample;
use hangtime::shop::record::{Fact, What};
use hangtime::shop::words::StepKind;
use hangtime::units::{Film, Moment, Span, Temperature, Volume};
use proptest::prelude::*;
use rusqlite::Connection;

#[derive(Debug, Clone)]
enum Deed {
    RackCoat { amount_ml: i64, all: bool },
    Coat { piece: u32, mix: bool, ago_min: i64 },
    TouchUp { piece: u32 },
    Sand { piece: u32, kind: StepKind },
    Work { piece: u32, kind: StepKind },
    Gauge { piece: u32, um: i64 },
    Hold { piece: u32 },
    Lift { piece: u32 },
    Place { piece: u32, room: bool },
    Scrap { piece: u32 },
    Restore { piece: u32 },
    Void { back: i64 },
    Relocate { back: i64, piece: u32 },
    Amend { back: i64, ago_min: i64 },
    Undo,
    Readings { temperature_mc: i64, rows: i64 },
}

fn deed() -> impl Strategy<Value = Deed> {
    let piece = 1_u32..=3;
    let sand = prop::sample::select(vec![
        StepKind::LevelSand,
        StepKind::FinalSand,
        StepKind::Scuff,
    ]);
    let work = prop::sample::select(vec![
        StepKind::Receive,
        StepKind::Mask,
        StepKind::Buff,
        StepKind::Inspect,
    ]);
    prop_oneof![
        3 => (10_i64..400, any::<bool>()).prop_map(|(amount_ml, all)| Deed::RackCoat { amount_ml, all }),
        6 => (piece.clone(), any::<bool>(), 0_i64..3_000).prop_map(|(piece, mix, ago_min)| Deed::Coat { piece, mix, ago_min }),
        1 => piece.clone().prop_map(|piece| Deed::TouchUp { piece }),
        3 => (piece.clone(), sand).prop_map(|(piece, kind)| Deed::Sand { piece, kind }),
        2 => (piece.clone(), work).prop_map(|(piece, kind)| Deed::Work { piece, kind }),
        1 => (piece.clone(), 0_i64..200).prop_map(|(piece, um)| Deed::Gauge { piece, um }),
        1 => piece.clone().prop_map(|piece| Deed::Hold { piece }),
        1 => piece.clone().prop_map(|piece| Deed::Lift { piece }),
        1 => (piece.clone(), any::<bool>()).prop_map(|(piece, room)| Deed::Place { piece, room }),
        1 => piece.clone().prop_map(|piece| Deed::Scrap { piece }),
        1 => piece.clone().prop_map(|piece| Deed::Restore { piece }),
        3 => (0_i64..12).prop_map(|back| Deed::Void { back }),
        2 => (0_i64..12, piece).prop_map(|(back, piece)| Deed::Relocate { back, piece }),
        1 => (0_i64..12, 0_i64..3_000).prop_map(|(back, ago_min)| Deed::Amend { back, ago_min }),
        1 => Just(Deed::Undo),
        2 => (10_000_i64..30_000, 1_i64..40).prop_map(|(temperature_mc, rows)| Deed::Readings { temperature_mc, rows }),
    ]
}

fn play(ledger: &mut Ledger, deed: &Deed, now: Moment) -> Result<(), LedgerError> {
    let at = stamp(now);
    let mk = who("MK");
    let serial = |n: u32| Target::Pieces(vec![format!("B-{n:04}")]);
    let newest = |ledger: &Ledger| {
        ledger
            .entries(None)
            .map(|e| e.last().map_or(0, |e| e.seq.0))
    };
    let coat = |mix: bool, amount: Option<i64>, touch_up: bool| DeedWhat::Coat {
        kind: None,
        touch_up,
        mix: mix.then_some(1),
        lot: None,
        amount: amount.map(|ml| Volume(ml * 1_000)),
        wet: Vec::new(),
        supervisor: None,
        more: hangtime::shop::record::CoatMore::default(),
    };
    let log = |ledger: &mut Ledger, target: Target, what: DeedWhat, ago: i64, all: bool| {
        let mut request = DeedRequest::new(mk.clone(), target, what, now.minus(Span::minutes(ago)));
        request.another = true;
        if all {
            request.included = Included::All;
        }
        ledger.log(&request, &at).map(|_| ())
    };
    match deed {
        Deed::RackCoat { amount_ml, all } => log(
            ledger,
            Target::Rack("R1".into(), None),
            coat(true, Some(*amount_ml), false),
            0,
            *all,
        ),
        Deed::Coat {
            piece,
            mix,
            ago_min,
        } => log(
            ledger,
            serial(*piece),
            coat(*mix, mix.then_some(48), false),
            *ago_min,
            false,
        ),
        Deed::TouchUp { piece } => log(ledger, serial(*piece), coat(false, None, true), 0, false),
        Deed::Sand { piece, kind } => {
            let what = DeedWhat::Sand {
                kind: Some(*kind),
                removed: None,
                grit: None,
            };
            log(ledger, serial(*piece), what, 0, false)
        }
        Deed::Work { piece, kind } => log(
            ledger,
            serial(*piece),
            DeedWhat::Other(Fact::Worked { kind: *kind }),
            0,
            false,
        ),
        Deed::Gauge { piece, um } => log(
            ledger,
            serial(*piece),
            DeedWhat::Other(Fact::Gauged {
                film: Film(um * 1_000),
            }),
            0,
            false,
        ),
        Deed::Hold { piece } => log(
            ledger,
            serial(*piece),
            DeedWhat::Other(Fact::Held { why: "look".into() }),
            0,
            false,
        ),
        Deed::Lift { piece } => log(
            ledger,
            serial(*piece),
            DeedWhat::Other(Fact::Lifted { why: "seen".into() }),
            0,
            false,
        ),
        Deed::Place { piece, room } => {
            let fact = Fact::Placed {
                rack: None,
                hook: None,
                room: Some(if *room { "cure room" } else { "shelf" }.into()),
            };
            log(ledger, serial(*piece), DeedWhat::Other(fact), 0, false)
        }
        Deed::Scrap { piece } => log(
            ledger,
            serial(*piece),
            DeedWhat::Other(Fact::Scrapped {
                why: "crack".into(),
            }),
            0,
            false,
        ),
        Deed::Restore { piece } => log(
            ledger,
            serial(*piece),
            DeedWhat::Other(Fact::Restored {
                why: "glued".into(),
            }),
            0,
            false,
        ),
        Deed::Void { back } => {
            let entry = newest(ledger)? - back;
            ledger.void_entry(entry, "wrong", &mk, &at).map(|_| ())
        }
        Deed::Relocate { back, piece } => {
            let entry = newest(ledger)? - back;
            ledger
                .move_entry(entry, &format!("B-{piece:04}"), "wrong body", &mk, &at)
                .map(|_| ())
        }
        Deed::Amend { back, ago_min } => {
            let entry = newest(ledger)? - back;
            let at_time = now.minus(Span::minutes(*ago_min));
            ledger
                .amend_entry(
                    entry,
                    Some((at_time, at_time)),
                    None,
                    "wrong time",
                    &mk,
                    &at,
                )
                .map(|_| ())
        }
        Deed::Undo => {
            let last = ledger.undoable(&mk)?.map(|a| a.seq);
            ledger.undo(last, false, &mk, &at).map(|_| ())
        }
        Deed::Readings {
            temperature_mc,
            rows,
        } => {
            let samples: Vec<Sample> = (0..*rows)
                .map(|i| Sample {
                    at: now.minus(Span::minutes(15 * (rows - i))),
                    temperature: Temperature(*temperature_mc),
                    humidity: None,
                })
                .collect();
            ledger
                .add_readings("cure room", "logger.csv", &samples, &mk, &at)
                .map(|_| ())
        }
    }
}

// The first coat in each room on each production day, asked of the record itself.
const FIRST_COATS: &str = "SELECT s.room, e.day, min(e.began) FROM entry e
       JOIN stay s ON s.piece = e.piece AND s.from_ms <= e.began AND s.until_ms > e.began
     WHERE s.room IS NOT NULL AND e.began >= ?1 AND e.began <= ?2 AND e.kind LIKE 'coat/%'
       AND e.seq NOT IN (SELECT entry FROM void) GROUP BY e.day, s.room ORDER BY e.day, s.room";

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn what_is_kept_equals_what_is_rebuilt_and_nothing_is_ready_early(
        deeds in prop::collection::vec((deed(), 1_i64..900), 1..40)
    ) {
        let mut shop = shop(3);
        let mut now = START;
        for (deed, minutes) in &deeds {
            now = now.plus(Span::minutes(*minutes));
            // What is looked up on the way is what the next look goes on from.
            shop.ledger.floor(now, None).unwrap();
            if let Err(refused) = play(&mut shop.ledger, deed, now) {
                // A refusal is about what was asked and says so; nothing else may go wrong here.
                prop_assert!(refused.is_input(), "{deed:?}: {refused}");
                prop_assert!(!refused.to_string().is_empty());
            }
        }
        let report = shop.ledger.verify(None).unwrap();
        prop_assert_eq!(&report.differences, &Vec::<String>::new());
        let kept = shop.ledger.floor(now, None).unwrap();
        shop.ledger.rebuild().unwrap();
        let rebuilt = shop.ledger.floor(now, None).unwrap();
        prop_assert_eq!(kept.len(), rebuilt.len());
        for (a, b) in kept.iter().zip(&rebuilt) {
            prop_assert_eq!(&a.now, &b.now);
            prop_assert_eq!(&a.view, &b.view);
        }
        // Who has looked up nothing yet sees the same.
        let fresh = Ledger::open(shop.ledger.path()).unwrap().floor(now, None).unwrap();
        prop_assert_eq!(kept.len(), fresh.len());
        for (a, b) in kept.iter().zip(&fresh) {
            prop_assert_eq!(&a.view, &b.view);
        }
        for seen in &kept {
            if seen.view.kind == Some(StepKind::LevelSand) && seen.view.reasons.is_empty() {
                let wet = seen.last_wet().unwrap();
                prop_assert!(now.since(wet) >= Span::hours(12));
            }
        }
        // Every kept figure is the result of its worksheet, whatever came before.
        let mut asked: Vec<(&str, String)> = Vec::new();
        for seen in &kept {
            asked.push(("film", seen.now.piece.serial.clone()));
            asked.push(("ready", seen.now.piece.serial.clone()));
        }
        for row in shop.ledger.entries(None).unwrap() {
            if matches!(row.what, What::Piece(Fact::Coat(_))) && row.voided_by.is_none() {
                asked.push(("coat", row.seq.0.to_string()));
            }
        }
        asked.push(("month", "2026-03".to_owned()));
        asked.push(("action", shop.ledger.head().unwrap().0.to_string()));
        for (figure, of) in asked {
            let working = workings::show(&shop.ledger, figure, &of, now).unwrap();
            // Gaps of the readings are unknown, and nothing else is.
            for unknown in &working.unknown {
                prop_assert!(unknown.contains("without readings"), "{figure} {of}: {unknown}");
            }
        }
        // The same state through the long way: every entry folded anew as of now.
        let known = shop.ledger.floor(now, Some(now)).unwrap();
        for (a, b) in rebuilt.iter().zip(&known) {
            prop_assert_eq!(&a.now, &b.now);
        }
        // Nobody checked a booth, so each day with a coat in a room is told of, with its earliest coat.
        let conn = Connection::open(shop.ledger.path()).unwrap();
        for from in [START, now.minus(Span::hours(30))] {
            let told: Vec<(String, i32, i64)> = shop.ledger.missed_checks(from, now).unwrap()
                .into_iter().map(|m| (m.booth, m.day.0, m.began.0)).collect();
            let mut list = conn.prepare(FIRST_COATS).unwrap();
            let wanted: Vec<(String, i32, i64)> = list
                .query_map([from.0, now.0], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
                .unwrap().collect::<Result<_, _>>().unwrap();
            prop_assert_eq!(told, wanted);
        }
        drop(shop.folder);
    }
}

#[test]
fn a_month_is_the_sum_of_its_actions() {
    let mut shop = shop(3);
    let mut now = START;
    for amount in [1_100_001, 77_777, 500_000] {
        now = now.plus(Span::hours(8));
        let what = DeedWhat::Coat {
            kind: None,
            touch_up: false,
            mix: Some(1),
            lot: None,
            amount: Some(Volume(amount)),
            wet: Vec::new(),
            supervisor: None,
            more: hangtime::shop::record::CoatMore::default(),
        };
        let mut request = DeedRequest::new(who("MK"), Target::Rack("R1".into(), None), what, now);
        // It is the clear mix on a seal step: a rack takes that along when it is said.
        request.included = Included::All;
        shop.ledger.log(&request, &stamp(now)).unwrap();
    }
    shop.ledger
        .undo(None, false, &who("MK"), &stamp(now))
        .unwrap();
    let month = shop.ledger.month("2026-03").unwrap();
    let (newest, _) = shop.ledger.head().unwrap();
    let mut voc = 0;
    for action in 1..=newest {
        voc += shop.ledger.action_totals(action).unwrap().voc.0;
    }
    assert!(voc > 0);
    assert_eq!(month.totals.voc.0, voc);
    let used: i64 = shop.ledger.lots().unwrap().iter().map(|l| l.used.0).sum();
    assert_eq!(used, 1_100_001 + 77_777);
}
