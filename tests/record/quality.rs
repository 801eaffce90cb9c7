//! Random coats, defects, inspections, reworks and corrections: whatever a defect is counted by, and however a period is
//! parted, the counts add up to the defects that the record holds.

use super::{START, shop, stamp, who};
use hangtime::ledger::{DeedRequest, DeedWhat, Included, Ledger, Period, Target};
use hangtime::reports::quality::{By, Quality};
use hangtime::shop::calendar::Day;
use hangtime::shop::record::{CoatMore, EntrySeq, Fact, Finding, What};
use hangtime::shop::words::{Defect, StepKind, Verdict};
use hangtime::units::{Moment, Span};
use proptest::prelude::*;
use std::collections::BTreeMap;

#[derive(Debug, Clone)]
enum Deed {
    Coat {
        person: &'static str,
        mix: bool,
    },
    Flaw {
        defect: Defect,
        place: bool,
    },
    Look {
        findings: Vec<(Option<Defect>, bool, Verdict)>,
    },
    Rework {
        defect: Option<Defect>,
    },
    Mend {
        back: usize,
    },
    Void {
        back: usize,
    },
}

fn deed() -> impl Strategy<Value = Deed> {
    let defect = || prop::sample::select(vec![Defect::Run, Defect::Fisheye, Defect::Dirt]);
    let verdict = prop::sample::select(vec![Verdict::Take, Verdict::Rework, Verdict::Hold]);
    let found = (prop::option::of(defect()), any::<bool>(), verdict);
    prop_oneof![
        4 => (prop::sample::select(vec!["MK", "DP"]), any::<bool>())
            .prop_map(|(person, mix)| Deed::Coat { person, mix }),
        4 => (defect(), any::<bool>()).prop_map(|(defect, place)| Deed::Flaw { defect, place }),
        2 => prop::collection::vec(found, 0..4).prop_map(|findings| Deed::Look { findings }),
        1 => prop::option::of(defect()).prop_map(|defect| Deed::Rework { defect }),
        1 => (0_usize..8).prop_map(|back| Deed::Mend { back }),
        1 => (0_usize..8).prop_map(|back| Deed::Void { back }),
    ]
}

fn spot(there: bool) -> Option<String> {
    there.then(|| "cutaway".to_owned())
}

fn play(ledger: &mut Ledger, deed: &Deed, serial: &str, now: Moment) {
    let flaws: Vec<EntrySeq> = ledger
        .entries(Some(serial))
        .unwrap()
        .into_iter()
        .filter(|e| e.voided_by.is_none())
        .filter(|e| matches!(&e.what, What::Piece(Fact::Flawed { .. })))
        .map(|e| e.seq)
        .collect();
    let chosen = |back: usize| flaws.iter().rev().nth(back).copied();
    let (person, what) = match deed {
        Deed::Coat { person, mix } => (
            *person,
            DeedWhat::Coat {
                kind: Some(StepKind::Clear),
                touch_up: false,
                mix: mix.then_some(1),
                lot: None,
                amount: None,
                wet: Vec::new(),
                supervisor: None,
                more: CoatMore::default(),
            },
        ),
        Deed::Flaw { defect, place } => (
            "MK",
            DeedWhat::Other(Fact::Flawed {
                defect: *defect,
                size_um: None,
                place: spot(*place),
                note: None,
            }),
        ),
        Deed::Look { findings } => {
            let findings = findings
                .iter()
                .map(|(defect, place, verdict)| Finding {
                    surface: "whole".to_owned(),
                    grade: 'A',
                    defect: *defect,
                    size_um: None,
                    place: spot(*place),
                    verdict: *verdict,
                })
                .collect();
            let light = None;
            ("LW", DeedWhat::Other(Fact::Inspected { light, findings }))
        }
        Deed::Rework { defect } => (
            "MK",
            DeedWhat::Other(Fact::Reworked {
                rework: "RW3".to_owned(),
                defect: *defect,
                why: "as seen".to_owned(),
            }),
        ),
        Deed::Mend { back } => {
            let Some(flaw) = chosen(*back) else { return };
            let how = "sanded out".to_owned();
            ("MK", DeedWhat::Other(Fact::Mended { flaw, how }))
        }
        Deed::Void { back } => {
            if let Some(flaw) = chosen(*back) {
                let _ = ledger.void_entry(flaw.0, "not there", &who("MK"), &stamp(now));
            }
            return;
        }
    };
    let target = Target::Pieces(vec![serial.to_owned()]);
    let mut request = DeedRequest::new(who(person), target, what, now);
    request.included = Included::All;
    request.another = true;
    // What is refused leaves nothing behind, and nothing to count.
    let _ = ledger.log(&request, &stamp(now));
}

// The defects of one piece by another hand: those that are open are met again and count once.
fn counted(ledger: &Ledger, serial: &str) -> Vec<(Day, Defect)> {
    let mut open: Vec<(i64, Defect, Option<String>)> = Vec::new();
    let mut out = Vec::new();
    for row in ledger.entries(Some(serial)).unwrap() {
        let What::Piece(fact) = &row.what else {
            continue;
        };
        if row.voided_by.is_some() {
            continue;
        }
        let met = |open: &[(i64, Defect, Option<String>)], d: Defect, place: &Option<String>| {
            open.iter()
                .any(|(_, o, p)| *o == d && (p.is_none() || place.is_none() || p == place))
        };
        let mut new = Vec::new();
        match fact {
            Fact::Flawed { defect, place, .. } => new.push((*defect, place.clone())),
            Fact::Inspected { findings, .. } => {
                for f in findings {
                    if let Some(defect) = f.defect
                        && !met(&open, defect, &f.place)
                    {
                        new.push((defect, f.place.clone()));
                    }
                }
            }
            Fact::Reworked { defect, .. } => {
                if let Some(defect) = defect
                    && !met(&open, *defect, &None)
                {
                    out.push((row.day, *defect));
                }
                open.retain(|(_, d, _)| defect.is_some_and(|wanted| wanted != *d));
            }
            Fact::Mended { flaw, .. } => open.retain(|(entry, ..)| *entry != flaw.0),
            _ => {}
        }
        for (defect, place) in new {
            out.push((row.day, defect));
            open.push((row.seq.0, defect, place));
        }
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn the_counts_add_up_to_the_defects_of_the_period(
        deeds in prop::collection::vec((deed(), 1_u32..=3, 30_i64..1_500), 1..40),
        cut in 0_i32..12,
    ) {
        let mut shop = shop(3);
        let mut now = START;
        for (deed, piece, minutes) in &deeds {
            now = now.plus(Span::minutes(*minutes));
            play(&mut shop.ledger, deed, &format!("B-{piece:04}"), now);
        }
        let calendar = shop.ledger.calendar();
        let (first, last) = (calendar.day(START), calendar.day(now));
        let ask = |from: Day, to: Day| {
            let period = Period::new(from, to).unwrap();
            Quality::of(&shop.ledger.quality(&period, now).unwrap())
        };
        let whole = ask(first, last);
        let mut wanted: BTreeMap<Defect, i64> = BTreeMap::new();
        let mut early = 0;
        let edge = Day((first.0 + cut).min(last.0));
        for n in 1..=3 {
            for (day, defect) in counted(&shop.ledger, &format!("B-{n:04}")) {
                *wanted.entry(defect).or_insert(0) += 1;
                early += usize::from(day <= edge);
            }
        }
        let total: i64 = wanted.values().sum();
        prop_assert_eq!(i64::try_from(whole.defects.len()).unwrap(), total);
        for by in By::ALL {
            let bars = whole.bars(by);
            prop_assert_eq!(bars.iter().map(|b| b.count).sum::<i64>(), total, "{:?}", by);
            let mut under: Vec<usize> = bars.iter().flat_map(|b| b.defects.clone()).collect();
            under.sort_unstable();
            prop_assert_eq!(under, (0..whole.defects.len()).collect::<Vec<_>>());
            prop_assert!(bars.windows(2).all(|w| w[0].count >= w[1].count));
            if let Some(bar) = bars.last() {
                prop_assert!((bar.so_far - 1.0).abs() < 1e-12);
            }
        }
        for bar in whole.bars(By::Defect) {
            let kind = wanted.iter().find(|(d, _)| Some(hangtime::shop::words::Word::word(**d)) == bar.key.as_deref());
            prop_assert_eq!(kind.map(|(_, n)| *n), Some(bar.count));
        }
        // Two periods that follow each other hold what the whole one holds.
        let before = ask(first, edge).defects.len();
        prop_assert_eq!(before, early);
        if edge < last {
            prop_assert_eq!(before + ask(edge.next(), last).defects.len(), whole.defects.len());
        }
        // No coat is behind a defect that was seen before it had ended.
        for defect in &whole.defects {
            if let Some(coat) = &defect.coat {
                prop_assert!(coat.at <= defect.seen.at);
            }
        }
    }
}
