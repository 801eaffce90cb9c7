//! Random lives through the whole process: surfaces with schedules of their own, reworks, begun deeds, revisions, tags,
//! pairs, drop-fills, late entries and corrections among them.

use super::{START, shop, stamp, who};
use hangtime::ledger::{
    DeedRequest, DeedWhat, Included, Ledger, LedgerError, PieceRow, Seen, Target,
};
use hangtime::reports::piece_json::film_side;
use hangtime::shop::record::{CoatFact, CoatMore, EntrySeq, Fact, Finding, NewPiece, What, covers};
use hangtime::shop::words::{Defect, Fit, Outlook, PieceKind, Rub, Rule, StepKind, Verdict, Word};
use hangtime::units::{Area, Film, Moment, Share, Span};
use proptest::prelude::*;
use std::collections::BTreeSet;

/// A body with an unfilled top and a filled back, short enough that a random life comes round to its end.
const BODY: &str = r#"
[recipe]
code = "TS"
revision = 1
name = "Body, two schedules"
finish = "solvent release"
kinds = ["body"]
surfaces = ["top", "back"]
[film]
low = "5 um"
high = "60 um"
[[step]]
name = "receive"
kind = "receive"
[[step]]
name = "fill"
kind = "fill"
on = ["back"]
coats = 1
film = "0 um"
[[step]]
name = "colour"
kind = "colour"
on = ["top"]
coats = 1
film = "2 um"
[[step]]
name = "clear set 1"
kind = "clear"
coats = 2
after = "60 min"
between = "90 min"
per_day = 3
scuff_after = "72 h"
film = "15 um"
solids = "12.5 %"
[[step]]
name = "level sand 1"
kind = "level-sand"
after = "12 h"
removes = "10 um"
[[step]]
name = "drop-fill"
kind = "drop-fill"
coats = 1
between = "4 h"
dry = "24 h"
film = "0 um"
[[step]]
name = "cure"
kind = "cure"
hours = "24 h"
[[step]]
name = "final sand"
kind = "final-sand"
removes = "5 um"
[[step]]
name = "buff"
kind = "buff"
stages = 2
removes = "3 um"
[[step]]
name = "inspect"
kind = "inspect"
[[step]]
name = "mate"
kind = "mate"
[cure_credit]
unlogged = 1.0
[[cure_credit.band]]
from = "16.0 C"
credit = 1.0
[[rework]]
code = "LOCAL"
name = "One clear on the spot"
level = 1
defects = ["run", "through-clear"]
[[rework.step]]
name = "clear"
kind = "clear"
coats = 1
film = "15 um"
solids = "12.5 %"
[[rework.step]]
name = "level sand"
kind = "level-sand"
after = "12 h"
removes = "10 um"
[[rework]]
code = "STRIP"
name = "Down to the wood"
level = 4
defects = ["through-wood", "burn-through"]
bare = true
rejoin = "cure"
[[rework.step]]
name = "colour"
kind = "colour"
on = ["top"]
coats = 1
film = "2 um"
[[rework.step]]
name = "clear"
kind = "clear"
coats = 2
after = "60 min"
between = "90 min"
film = "15 um"
solids = "12.5 %"
[[rework.step]]
name = "level sand"
kind = "level-sand"
after = "12 h"
removes = "10 um"
"#;

#[derive(Debug, Clone)]
enum Turn {
    /// A deed of a kind on a piece and a surface, some minutes ago.
    Do(usize, StepKind, Option<&'static str>, i64),
    /// A fact on a piece and a surface.
    Say(usize, Option<&'static str>, Box<Fact>),
    /// The other half gets the mating, too.
    Mate(usize),
    /// The open deed is ended.
    End(usize),
    /// An open defect is mended, by its place in the list.
    Mend(usize),
    Void(i64),
    Relocate(i64, usize),
    Amend(i64, i64),
    Undo,
}

const SERIALS: [&str; 4] = ["B-0001", "B-0101", "N-0101", "B-0102"];

fn facts() -> impl Strategy<Value = Fact> {
    let why = || "because".to_owned();
    let defect = prop::sample::select(Defect::ALL.to_vec());
    let kind = prop::sample::select(vec![StepKind::Clear, StepKind::LevelSand, StepKind::Buff]);
    prop_oneof![
        (
            prop::sample::select(Verdict::ALL.to_vec()),
            40_000_i64..150_000
        )
            .prop_map(|(verdict, m)| {
                Fact::Received {
                    grit: Some("P220".into()),
                    moisture: vec![Share(m)],
                    light_table: None,
                    verdict,
                }
            }),
        Just(Fact::Masked {
            tape: Some("fine line".into())
        }),
        (1_u32..3, 1_u32..3).prop_map(|(wheel, compound)| Fact::Buffed {
            wheel: Some(format!("W{wheel}")),
            compound: Some(format!("C{compound}")),
        }),
        kind.prop_map(|kind| Fact::Begun { kind }),
        Just(Fact::BrokenOff { why: why() }),
        (defect.clone(), any::<bool>()).prop_map(move |(defect, placed)| Fact::Flawed {
            defect,
            size_um: Some(4_000),
            place: placed.then(|| "by the cutaway".to_owned()),
            note: None,
        }),
        (
            prop::sample::select(vec!["LOCAL", "STRIP", "RW3"]),
            prop::option::of(defect.clone())
        )
            .prop_map(move |(code, defect)| Fact::Reworked {
                rework: code.into(),
                defect,
                why: why()
            }),
        (prop::sample::select(vec![("TS", 1), ("TS", 2), ("G9", 3), ("N8", 1)])).prop_map(
            move |(code, revision)| {
                Fact::Reassigned {
                    recipe: code.into(),
                    revision,
                    why: why(),
                }
            }
        ),
        prop::option::of(1_u32..6).prop_map(move |n| Fact::Tagged {
            tag: n.map(|n| format!("T-{n}")),
            why: why()
        }),
        prop::option::of(0_usize..4).prop_map(move |n| Fact::Paired {
            pair: n.and_then(|n| SERIALS.get(n)).map(|s| (*s).to_owned()),
            why: why(),
        }),
        (defect, prop::sample::select(Verdict::ALL.to_vec())).prop_map(|(defect, verdict)| {
            Fact::Inspected {
                light: Some("box 1".into()),
                findings: vec![Finding {
                    surface: "top".into(),
                    grade: 'A',
                    defect: Some(defect),
                    size_um: None,
                    place: None,
                    verdict,
                }],
            }
        }),
        Just(Fact::Held { why: why() }),
        Just(Fact::Lifted { why: why() }),
        Just(Fact::Scrapped { why: why() }),
        Just(Fact::Restored { why: why() }),
        (5_i64..80).prop_map(|um| Fact::Gauged {
            film: Film(um * 1_000)
        }),
    ]
}

fn turn() -> impl Strategy<Value = Turn> {
    let piece = 0_usize..4;
    let surface = prop::option::of(prop::sample::select(vec!["top", "back", "top, back"]));
    let kind = prop::sample::select(vec![
        StepKind::Fill,
        StepKind::Colour,
        StepKind::Clear,
        StepKind::Clear,
        StepKind::LevelSand,
        StepKind::Scuff,
        StepKind::DropFill,
        StepKind::FinalSand,
        StepKind::Buff,
        StepKind::Receive,
    ]);
    let ago = prop_oneof![3 => Just(0_i64), 1 => 0_i64..4_000];
    prop_oneof![
        10 => (piece.clone(), kind, surface.clone(), ago).prop_map(|(p, k, s, a)| Turn::Do(p, k, s, a)),
        8 => (piece.clone(), surface, facts()).prop_map(|(p, s, f)| Turn::Say(p, s, Box::new(f))),
        1 => piece.clone().prop_map(Turn::Mate),
        1 => piece.clone().prop_map(Turn::End),
        1 => piece.clone().prop_map(Turn::Mend),
        2 => (0_i64..10).prop_map(Turn::Void),
        1 => (0_i64..10, piece).prop_map(|(back, p)| Turn::Relocate(back, p)),
        1 => (0_i64..10, 0_i64..3_000).prop_map(|(back, ago)| Turn::Amend(back, ago)),
        1 => Just(Turn::Undo),
    ]
}

fn coat(kind: StepKind) -> DeedWhat {
    let more = match kind {
        StepKind::DropFill => CoatMore {
            drops: Some(2),
            place: Some("lower bout".into()),
            ..CoatMore::default()
        },
        StepKind::Colour => CoatMore {
            batch: Some("C-1".into()),
            ..CoatMore::default()
        },
        StepKind::Fill => CoatMore {
            rub: Some(Rub::Smear),
            ..CoatMore::default()
        },
        _ => CoatMore::default(),
    };
    DeedWhat::Coat {
        kind: Some(kind),
        touch_up: false,
        mix: (kind == StepKind::Clear).then_some(1),
        lot: None,
        amount: None,
        wet: Vec::new(),
        supervisor: None,
        more,
    }
}

fn work(kind: StepKind) -> DeedWhat {
    if kind.wets() {
        coat(kind)
    } else if kind.sands() {
        DeedWhat::Sand {
            kind: Some(kind),
            removed: None,
            grit: None,
        }
    } else {
        DeedWhat::Other(Fact::Worked { kind })
    }
}

fn play(ledger: &mut Ledger, turn: &Turn, now: Moment) -> Result<(), LedgerError> {
    let (mk, at) = (who("MK"), stamp(now));
    let newest = |ledger: &Ledger| {
        ledger
            .entries(None)
            .map(|e| e.last().map_or(0, |e| e.seq.0))
    };
    let log =
        |ledger: &mut Ledger, piece: usize, surface: Option<&str>, what: DeedWhat, ago: i64| {
            let target = Target::Pieces(vec![SERIALS[piece].to_owned()]);
            let mut request =
                DeedRequest::new(mk.clone(), target, what, now.minus(Span::minutes(ago)));
            request.another = true;
            request.begun_starts = true;
            request.included = Included::All;
            if let Some(surface) = surface {
                surface.clone_into(&mut request.surface);
            }
            ledger.log(&request, &at).map(|_| ())
        };
    match turn {
        Turn::Do(piece, kind, surface, ago) => log(ledger, *piece, *surface, work(*kind), *ago),
        Turn::Say(piece, surface, fact) => log(
            ledger,
            *piece,
            *surface,
            DeedWhat::Other(fact.as_ref().clone()),
            0,
        ),
        Turn::Mate(piece) => {
            let fact = Fact::Mated {
                with: String::new(),
                fit: Some(Fit::Snug),
                joint: None,
            };
            log(ledger, *piece, None, DeedWhat::Other(fact), 0)
        }
        Turn::End(piece) => log(ledger, *piece, None, DeedWhat::End, 0),
        Turn::Mend(piece) => {
            let seen = ledger.piece(SERIALS[*piece], now)?;
            let flaw = seen.now.flaws.first().map_or(EntrySeq(1), |f| f.entry);
            let fact = Fact::Mended {
                flaw,
                how: "sanded out".into(),
            };
            log(ledger, *piece, None, DeedWhat::Other(fact), 0)
        }
        Turn::Void(back) => {
            let entry = newest(ledger)? - back;
            ledger.void_entry(entry, "wrong", &mk, &at).map(|_| ())
        }
        Turn::Relocate(back, piece) => {
            let entry = newest(ledger)? - back;
            ledger
                .move_entry(entry, SERIALS[*piece], "wrong piece", &mk, &at)
                .map(|_| ())
        }
        Turn::Amend(back, ago) => {
            let entry = newest(ledger)? - back;
            let then = now.minus(Span::minutes(*ago));
            ledger
                .amend_entry(entry, Some((then, then)), None, "wrong time", &mk, &at)
                .map(|_| ())
        }
        Turn::Undo => {
            // The mix that the shop was set up with is poured from in every turn; it stays.
            match ledger.undoable(&mk)?.filter(|a| a.written > START) {
                Some(last) => ledger.undo(Some(last.seq), false, &mk, &at).map(|_| ()),
                None => Ok(()),
            }
        }
    }
}

fn row(line: u64, serial: &str, kind: PieceKind, recipe: &str, pair: &str) -> PieceRow {
    PieceRow {
        line,
        piece: NewPiece {
            serial: serial.into(),
            tag: None,
            kind,
            model: "cittern".into(),
            recipe: recipe.into(),
            revision: 1,
            area: Area(240_000),
            due: None,
            pair: Some(pair.to_owned()).filter(|m| !m.is_empty()),
        },
        rack: Some("R2".into()),
        hook: u32::try_from(line).ok(),
        room: Some("cure room".into()),
    }
}

fn process_shop() -> super::Shop {
    let mut shop = shop(1);
    let (mk, at) = (who("MK"), stamp(START));
    shop.ledger.adopt_recipe("ts", BODY, &mk, &at).unwrap();
    let second = BODY
        .replace("revision = 1", "revision = 2")
        .replace("hours = \"24 h\"", "hours = \"48 h\"");
    shop.ledger.adopt_recipe("ts", &second, &mk, &at).unwrap();
    let rows = [
        row(1, "B-0101", PieceKind::Body, "TS", "N-0101"),
        row(2, "N-0101", PieceKind::Neck, "N8", "B-0101"),
        row(3, "B-0102", PieceKind::Body, "TS", ""),
    ];
    shop.ledger
        .add_pieces(&rows, START, &mk, &at)
        .unwrap()
        .unwrap();
    shop
}

// The waits of the test's own recipe, counted from the entries alone, without the fold.
fn minimums_hold(ledger: &Ledger, seen: &Seen, now: Moment) -> Result<(), TestCaseError> {
    if seen.view.outlook != Outlook::Ready || seen.now.piece.recipe != "TS" {
        return Ok(());
    }
    let history = ledger.history(seen.now.id, now).unwrap();
    let wet = |entry: &&hangtime::shop::record::Entry| {
        let spot = matches!(
            &entry.fact,
            Fact::Coat(CoatFact {
                kind: StepKind::DropFill,
                ..
            })
        );
        // Colour and filler are steps of one surface each, whatever surface the entry names.
        let there = match &entry.fact {
            Fact::Coat(c) if c.kind == StepKind::Fill && entry.surface == "whole" => {
                seen.view.surface == "back"
            }
            Fact::Coat(c) if c.kind == StepKind::Colour && entry.surface == "whole" => {
                seen.view.surface == "top"
            }
            _ => covers(&entry.surface, &seen.view.surface),
        };
        entry.fact.wets() && !spot && there
    };
    let last = history.iter().filter(wet).map(|e| e.ended).max();
    let shortest = match seen.view.kind {
        Some(StepKind::LevelSand) => Span::hours(12),
        Some(StepKind::Clear) => Span::minutes(60),
        Some(StepKind::FinalSand) => Span::hours(24),
        _ => Span(0),
    };
    // A clear in the local rework has no wait of its own.
    let local =
        seen.view.rework.as_deref() == Some("LOCAL") && seen.view.kind == Some(StepKind::Clear);
    if let (Some(last), false) = (last, local) {
        prop_assert!(
            now.since(last) >= shortest,
            "{} ready {} after its last wet coat",
            seen.view.next,
            now.since(last).words()
        );
    }
    Ok(())
}

// A deed of which only the verb is said is the one that the piece shows as next, on the surfaces that are asked for it;
// nothing speaks against it when the piece is ready, and something does when it must wait.
fn a_bare_deed_is_the_next_one(
    ledger: &Ledger,
    seen: &Seen,
    now: Moment,
) -> Result<(), TestCaseError> {
    let Some(kind) = seen.view.kind else {
        return Ok(());
    };
    let scuff = seen.view.reasons.iter().any(|o| o.rule == Rule::ScuffFirst);
    let what = if kind.wets() {
        match coat(kind) {
            DeedWhat::Coat {
                touch_up,
                mix,
                lot,
                amount,
                wet,
                supervisor,
                more,
                ..
            } => DeedWhat::Coat {
                kind: None,
                touch_up,
                mix,
                lot,
                amount,
                wet,
                supervisor,
                more,
            },
            other => other,
        }
    } else if kind.sands() {
        DeedWhat::Sand {
            kind: None,
            removed: None,
            grit: None,
        }
    } else {
        return Ok(());
    };
    let target = Target::Pieces(vec![seen.now.piece.serial.clone()]);
    let plan = ledger
        .preview(&DeedRequest::new(who("MK"), target, what, now))
        .unwrap();
    let planned = plan.pieces.first().unwrap();
    let expected = if scuff && kind.sands() {
        StepKind::Scuff
    } else {
        kind
    };
    prop_assert_eq!(
        planned.fact.step_kind(),
        Some(expected),
        "{}",
        seen.view.next
    );
    if expected == kind {
        prop_assert_eq!(&planned.surface, &seen.view.on, "{}", seen.view.next);
    }
    match seen.view.outlook {
        Outlook::Waiting => prop_assert!(!planned.objections.is_empty(), "{}", plan.line),
        Outlook::Ready if seen.view.on == seen.view.surface => {
            let early = planned
                .objections
                .iter()
                .find(|o| o.until.is_some_and(|u| u > now));
            prop_assert!(early.is_none(), "{}: {:?}", plan.line, early);
        }
        _ => {}
    }
    Ok(())
}

const MATES: [&str; 3] = ["B-0103", "B-0104", "B-0105"];

// Three bodies of one rack that are worked on in one action, or each in an action of its own at the same time.
struct Mates {
    shop: super::Shop,
    together: bool,
}

impl Mates {
    fn new(together: bool) -> Self {
        let mut shop = process_shop();
        let rows: Vec<PieceRow> = (11..)
            .zip(MATES)
            .map(|(line, serial)| row(line, serial, PieceKind::Body, "TS", ""))
            .collect();
        let (mk, at) = (who("MK"), stamp(START));
        shop.ledger
            .add_pieces(&rows, START, &mk, &at)
            .unwrap()
            .unwrap();
        Self { shop, together }
    }

    fn play(&mut self, turn: &Turn, now: Moment) -> Result<(), LedgerError> {
        let (piece, surface, what, ago) = match turn {
            Turn::Do(piece, kind, surface, ago) => (*piece, *surface, work(*kind), *ago),
            // What was begun begins the coat of its own piece only, and the rack's coat begins as one.
            Turn::Say(_, _, fact) if matches!(**fact, Fact::Begun { .. }) => return Ok(()),
            Turn::Say(piece, surface, fact) => {
                (*piece, *surface, DeedWhat::Other(fact.as_ref().clone()), 0)
            }
            Turn::End(piece) => (*piece, None, DeedWhat::End, 0),
            _ => return Ok(()),
        };
        // Now and then one of them goes its own way.
        let of: Vec<String> = match piece {
            0 => vec![MATES[0].to_owned()],
            _ => MATES.map(str::to_owned).to_vec(),
        };
        let each: Vec<Vec<String>> = if self.together {
            vec![of]
        } else {
            of.into_iter().map(|serial| vec![serial]).collect()
        };
        for serials in each {
            let target = Target::Pieces(serials);
            let then = now.minus(Span::minutes(ago));
            let mut request = DeedRequest::new(who("MK"), target, what.clone(), then);
            request.another = true;
            request.begun_starts = true;
            request.included = Included::All;
            if let Some(surface) = surface {
                surface.clone_into(&mut request.surface);
            }
            match self.shop.ledger.log(&request, &stamp(now)) {
                // A rack's deed leaves out whoever has no work to come; alone that is refused.
                Err(e) if !self.together && e.is_input() => {}
                done => drop(done?),
            }
        }
        Ok(())
    }

    // What was found against each, and whether it still holds.
    fn found(&self) -> BTreeSet<(String, String, String, bool)> {
        let all = self.shop.ledger.deviations(true).unwrap().into_iter();
        all.map(|d| (d.serial, d.rule, d.text, d.moot.is_some()))
            .collect()
    }
}

#[test]
fn a_tag_or_another_half_is_not_given_to_several_pieces_at_once() {
    let mut mates = Mates::new(true);
    let before = mates.shop.ledger.last_action(None).unwrap().unwrap().seq;
    let why = || "because".to_owned();
    let tag = Fact::Tagged {
        tag: Some("T-1".into()),
        why: why(),
    };
    let half = Fact::Paired {
        pair: Some("N-0101".into()),
        why: why(),
    };
    for (fact, wanted) in [(tag, "tag T-1"), (half, "other half N-0101")] {
        let refused = mates
            .play(&Turn::Say(1, None, Box::new(fact)), START)
            .unwrap_err();
        assert!(refused.is_input(), "{refused}");
        let wanted = format!("{wanted} cannot be of B-0103 and of B-0104; name one piece");
        assert_eq!(refused.to_string(), wanted);
    }
    assert_eq!(
        mates.shop.ledger.last_action(None).unwrap().unwrap().seq,
        before
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn a_rack_worked_in_one_action_is_judged_as_its_pieces_would_be_one_by_one(
        turns in prop::collection::vec((turn(), 1_i64..1_500), 1..40)
    ) {
        let (mut rack, mut alone) = (Mates::new(true), Mates::new(false));
        let mut now = START;
        for (turn, minutes) in &turns {
            now = now.plus(Span::minutes(*minutes));
            match rack.play(turn, now) {
                // What is refused of all is not tried on one.
                Err(refused) => prop_assert!(refused.is_input(), "{turn:?}: {refused}"),
                Ok(()) => alone.play(turn, now).map_err(|e| TestCaseError::fail(format!("{turn:?}: {e}")))?,
            }
            prop_assert_eq!(rack.found(), alone.found(), "{:?}", turn);
        }
        for serial in MATES {
            let [a, b] = [&rack, &alone].map(|m| m.shop.ledger.piece(serial, now));
            if let (Ok(a), Ok(b)) = (a, b) {
                prop_assert_eq!(&a.now.surfaces, &b.now.surfaces);
                prop_assert_eq!(&a.view, &b.view);
            }
        }
        let report = rack.shop.ledger.verify(None).unwrap();
        prop_assert_eq!(&report.differences, &Vec::<String>::new());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn a_whole_life_is_kept_as_it_is_rebuilt_and_nothing_is_hidden(
        turns in prop::collection::vec((turn(), 1_i64..1_500), 1..60)
    ) {
        let mut shop = process_shop();
        let mut now = START;
        for (turn, minutes) in &turns {
            now = now.plus(Span::minutes(*minutes));
            if let Err(refused) = play(&mut shop.ledger, turn, now) {
                prop_assert!(refused.is_input(), "{turn:?}: {refused}");
                // A reason is a sentence with a subject, not a bare word.
                prop_assert!(refused.to_string().split(' ').count() >= 4, "{turn:?}: {refused}");
            }
            for seen in shop.ledger.floor(now, None).unwrap() {
                // Judged among its rack mates or alone, it is judged alike.
                let alone = shop.ledger.piece(&seen.now.piece.serial, now).unwrap();
                assert_eq!((&seen.view, &seen.now), (&alone.view, &alone.now));
                minimums_hold(&shop.ledger, &seen, now)?;
                a_bare_deed_is_the_next_one(&shop.ledger, &seen, now)?;
                if seen.film_nm() < 0 {
                    prop_assert_eq!(film_side(&seen), "below nothing");
                    // What took more than was there is a deviation that somebody must answer.
                    let said = shop.ledger.deviations(true).unwrap();
                    let rule = Rule::FilmBelowNothing.word();
                    prop_assert!(said.iter().any(|d| d.rule == rule && d.serial == seen.now.piece.serial), "{}", seen.now.piece.serial);
                }
            }
        }
        let report = shop.ledger.verify(None).unwrap();
        prop_assert_eq!(&report.differences, &Vec::<String>::new());
        let kept = shop.ledger.floor(now, None).unwrap();
        let known = shop.ledger.floor(now, Some(now)).unwrap();
        for (a, b) in kept.iter().zip(&known) {
            prop_assert_eq!(&a.now, &b.now);
            prop_assert_eq!(&a.view, &b.view);
        }
        shop.ledger.rebuild().unwrap();
        let rebuilt = shop.ledger.floor(now, None).unwrap();
        prop_assert_eq!(kept.len(), rebuilt.len());
        for (a, b) in kept.iter().zip(&rebuilt) {
            prop_assert_eq!(&a.now, &b.now);
        }
        // A retired tag belongs to one piece, and no piece in process has it.
        let mut retired = BTreeSet::new();
        for serial in SERIALS {
            if let Ok(seen) = shop.ledger.piece(serial, now) {
                for tag in &seen.now.retired {
                    retired.insert((tag.tag.clone(), serial));
                }
            }
        }
        for seen in &kept {
            if let Some(tag) = &seen.now.piece.tag {
                let owners: Vec<_> = retired.iter().filter(|(t, _)| t == tag).collect();
                prop_assert!(owners.iter().all(|(_, s)| *s == seen.now.piece.serial), "{tag}");
            }
        }
        // Every deed that stands is still there to be read, with what was taken back marked.
        for row in shop.ledger.entries(None).unwrap() {
            if let What::Void { .. } = row.what {
                prop_assert!(row.corrects.is_some());
            }
        }
        drop(shop.folder);
    }
}
