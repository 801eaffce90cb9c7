//! Every kept figure opens its worksheet: with the ledger's own inputs, and with the kept figure as its result.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::disallowed_methods,
    clippy::float_cmp,
    missing_docs,
    reason = "tests"
)]

use hangtime::ledger::{
    Ceiling, DeedRequest, DeedWhat, Included, Ledger, MixOrder, NewLot, NewShop, PieceRow, Stamp,
    Target, Who,
};
use hangtime::reports::book::Of;
use hangtime::reports::limits::NewLimit;
use hangtime::reports::workings::{self, Part, Working};
use hangtime::shop::climate::Sample;
use hangtime::shop::material::Pour;
use hangtime::shop::record::{BoothSeen, Fact, NewPiece, What};
use hangtime::shop::words::{Outlook, PieceKind, StepKind};
use hangtime::units::{
    Amount, Area, Film, Flow, Humidity, Mass, Moment, Pressure, Share, Span, Speed, System,
    Temperature, Volume, num,
};
use serde_json::Value;
use std::path::Path;
use tempfile::TempDir;

/// Mon 9 March 2026 06:00 in New York.
const START: Moment = Moment(1_773_050_400_000);
const LIMITS: &str = "\n[booth]\nhumidity_high = \"65 %\"\nspread_low = \"8 K diff\"\n";

struct Shop {
    folder: TempDir,
    ledger: Ledger,
}

fn who() -> Who {
    Who {
        person: "MK".into(),
        writer: "MK".into(),
        station: "booth-1".into(),
    }
}

fn stamp(at: Moment) -> Stamp {
    Stamp {
        written: at,
        clock: "demo",
        boot_ms: None,
    }
}

fn minutes(n: i64) -> Moment {
    START.plus(Span::minutes(n))
}

/// A shop with the sample's materials, its body recipe with limits of the air, two mixes and three bodies on a rack.
fn shop() -> Shop {
    let folder = tempfile::tempdir().unwrap();
    let new = NewShop {
        name: "shop".into(),
        zone: "America/New_York".into(),
        day_start: 6,
        demo: true,
    };
    let (mk, at) = (who(), stamp(START));
    let mut ledger = Ledger::create(&folder.path().join("shop.ledger"), &new, &mk, &at).unwrap();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample");
    for name in ["clr", "thn", "rtd"] {
        let text = std::fs::read_to_string(sample.join(format!("materials/{name}.toml"))).unwrap();
        ledger.adopt_material(name, &text, &mk, &at).unwrap();
    }
    let recipe = std::fs::read_to_string(sample.join("recipes/g9.toml")).unwrap();
    ledger
        .adopt_recipe("g9", &(recipe + LIMITS), &mk, &at)
        .unwrap();
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
    for (name, retarder) in [("M1", 80_000), ("M2", 151_111)] {
        let parts = vec![
            pour("L-221", 3_000_000),
            pour("T-9", 1_000_000),
            pour("R-1", retarder),
        ];
        ledger
            .make_mix(MixOrder::of(name, parts, START), &mk, &at)
            .unwrap();
    }
    ledger
        .declare_room("cure room", Some(Span::minutes(15)), 1_000, &mk, &at)
        .unwrap();
    ledger.declare_room("loft", None, 1_000, &mk, &at).unwrap();
    let rows: Vec<PieceRow> = (1..=3)
        .map(|n| PieceRow {
            line: u64::from(n),
            piece: NewPiece {
                serial: format!("B-{n:04}"),
                tag: None,
                kind: PieceKind::Body,
                model: "cittern".into(),
                recipe: "G9".into(),
                revision: 3,
                // Areas that do not share an amount evenly.
                area: Area(240_000 + i64::from(n) * 7_001),
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

impl Shop {
    fn log(&mut self, target: Target, what: DeedWhat, at: Moment) {
        let mut request = DeedRequest::new(who(), target, what, at);
        request.another = true;
        request.included = Included::All;
        self.ledger.log(&request, &stamp(at)).unwrap();
    }

    fn coat(
        &mut self,
        target: Target,
        mix: Option<u32>,
        ul: Option<i64>,
        wet_um: &[i64],
        at: Moment,
    ) {
        let what = DeedWhat::Coat {
            kind: None,
            touch_up: false,
            mix,
            lot: None,
            amount: ul.map(Volume),
            wet: wet_um.iter().map(|um| Film(um * 1_000)).collect(),
            supervisor: None,
            more: hangtime::shop::record::CoatMore::default(),
        };
        self.log(target, what, at);
    }

    fn sand(&mut self, kind: StepKind, removed: Option<Film>, at: Moment) {
        let what = DeedWhat::Sand {
            kind: Some(kind),
            removed,
            grit: None,
        };
        self.log(one(), what, at);
    }

    fn show(&self, figure: &str, what: &str, at: Moment) -> Working {
        workings::show(&self.ledger, figure, what, at).unwrap()
    }

    /// All coats of the recipe on the rack, two level sandings between them; the end of the last coat.
    fn finished(&mut self) -> Moment {
        let mut at = START;
        for coat in 0..11 {
            at = at.plus(Span::hours(if [5, 8].contains(&coat) { 24 } else { 8 }));
            if [5, 8].contains(&coat) {
                let what = DeedWhat::Sand {
                    kind: Some(StepKind::LevelSand),
                    removed: None,
                    grit: None,
                };
                self.log(rack(), what, at.minus(Span::hours(1)));
            }
            self.coat(rack(), Some(1), Some(150_001), &[], at);
        }
        at
    }
}

fn rack() -> Target {
    Target::Rack("R1".into(), None)
}

fn one() -> Target {
    Target::Pieces(vec!["B-0001".into()])
}

fn sheet<'a>(working: &'a Working, id: &str) -> &'a Part {
    working
        .parts
        .iter()
        .find(|p| p.inputs.sheet().id == id)
        .unwrap_or_else(|| panic!("no {id}: {working:?}"))
}

fn also(part: &Part, name: &str) -> f64 {
    let found = part.answer.also.iter().find(|f| f.name == name);
    found.unwrap_or_else(|| panic!("no {name}")).base
}

fn raw(working: &Working, name: &str) -> i64 {
    let kept = working.kept.iter().find(|k| k.name == name).unwrap();
    kept.value.as_ref().unwrap().as_i64().unwrap()
}

fn notes(part: &Part) -> Vec<String> {
    let traced = part.inputs.traced();
    traced
        .into_iter()
        .filter_map(|(_, _, _, origin)| origin.map(|o| o.note.clone()))
        .collect()
}

#[test]
fn the_film_of_a_piece_is_the_sum_of_its_deeds_to_the_nanometre() {
    let mut shop = shop();
    let film = |shop: &Shop, at| shop.ledger.piece("B-0001", at).unwrap().film_nm();
    let agrees = |shop: &Shop, at| {
        let w = shop.show("film", "B-0001", at);
        let part = sheet(&w, "film-build").clone();
        assert_eq!(w.unknown, Vec::<String>::new());
        assert_eq!(
            Film::of_base(part.answer.result.base),
            Some(Film(film(shop, at)))
        );
        assert_eq!(raw(&w, "film"), film(shop, at));
        part
    };
    // By the recipe, by the solids of the mix, by wet readings; the mean of three does not come out even.
    shop.coat(one(), None, None, &[], minutes(10));
    shop.coat(one(), Some(1), None, &[], minutes(90));
    shop.coat(one(), Some(1), None, &[118, 122, 121], minutes(200));
    shop.coat(one(), Some(2), None, &[77], minutes(400));
    let part = agrees(&shop, minutes(500));
    assert_eq!(part.answer.steps.len(), 4);
    let said = notes(&part).join("\n");
    assert!(said.contains("3 wet readings and mix 1"), "{said}");
    assert!(said.contains("seal, recipe film"), "{said}");
    shop.coat(one(), Some(2), None, &[], minutes(2_000));
    shop.sand(StepKind::LevelSand, None, minutes(3_500));
    shop.sand(StepKind::LevelSand, Some(Film(7_777)), minutes(3_600));
    agrees(&shop, minutes(3_601));
    // The film of an earlier moment is that of the deeds by then.
    assert_eq!(agrees(&shop, minutes(500)).answer.steps.len(), 4);
    // A gauge reading replaces all before it, and the working says so.
    let before = film(&shop, minutes(3_650));
    shop.log(
        one(),
        DeedWhat::Other(Fact::Gauged { film: Film(41_300) }),
        minutes(3_700),
    );
    shop.coat(one(), Some(1), None, &[90], minutes(3_800));
    assert_ne!(before, 41_300);
    agrees(&shop, minutes(3_801));
    let w = shop.show("film", "B-0001", minutes(3_801));
    assert!(w.says.iter().any(|s| s.contains("gauge reading of entry")));
    // A coat that is taken back is in neither.
    let last = shop.ledger.entries(None).unwrap().last().unwrap().seq.0;
    shop.ledger
        .void_entry(last, "other piece", &who(), &stamp(minutes(3_900)))
        .unwrap();
    agrees(&shop, minutes(3_901));
    assert_eq!(film(&shop, minutes(3_901)), 41_300);
}

#[test]
fn more_taken_off_than_was_put_on_is_said_and_not_hidden() {
    let mut shop = shop();
    shop.coat(one(), None, None, &[], minutes(10));
    shop.sand(StepKind::Scuff, Some(Film(25_000)), minutes(900));
    let w = shop.show("film", "B-0001", minutes(1_000));
    assert_eq!(raw(&w, "film"), -15_000);
    let part = sheet(&w, "film-build");
    assert_eq!(Film::of_base(part.answer.result.base), Some(Film(-15_000)));
    assert!(part.answer.cautions[0].contains("more was taken off"));
}

#[test]
fn every_coat_opens_the_figures_that_its_film_rests_on() {
    let mut shop = shop();
    shop.coat(rack(), Some(1), Some(150_001), &[], minutes(10));
    shop.coat(one(), None, None, &[], minutes(90));
    shop.coat(one(), Some(1), None, &[118, 122, 121], minutes(200));
    shop.coat(one(), None, None, &[100], minutes(400));
    let at = minutes(500);
    let mut before = 0;
    let mut films = Vec::new();
    for row in shop.ledger.entries(Some("B-0001")).unwrap() {
        if !matches!(row.what, What::Piece(Fact::Coat(_))) {
            continue;
        }
        let after = shop.ledger.piece("B-0001", row.ended).unwrap().film_nm();
        let w = shop.show("coat", &row.seq.0.to_string(), at);
        let part = sheet(&w, "coat-film");
        assert_eq!(w.unknown, Vec::<String>::new());
        assert_eq!(
            Film::of_base(part.answer.result.base),
            Some(Film(after - before))
        );
        assert_eq!(raw(&w, "dry film"), after - before);
        films.push((after - before, notes(part).join("; ")));
        before = after;
    }
    // Mix 1 has 17 % x 3000 / 4080 = 12.5 % of solids; the recipe states 10 um at 13 %, and 15 um at 12.5 %.
    assert_eq!(films[0].0, 9_615);
    assert!(films[0].1.contains("mix 1"), "{films:?}");
    assert!(films[0].1.contains("recipe G9 rev 3, seal"), "{films:?}");
    assert_eq!(films[1].0, 10_000);
    // 120.333 um x 12.5 %, half to even.
    assert_eq!(films[2].0, 15_042);
    // No mix: the solids of the recipe's step.
    assert_eq!(films[3].0, 12_500);
    let refused = workings::show(&shop.ledger, "coat", "1", at).unwrap_err();
    assert!(refused.to_string().contains("is no coat"), "{refused}");
}

#[test]
fn a_mix_opens_its_solids_its_retarder_and_its_voc() {
    let shop = shop();
    for row in shop.ledger.mixes().unwrap() {
        let w = shop.show("mix", &row.mix.to_string(), START);
        assert_eq!(w.unknown, Vec::<String>::new());
        let part = sheet(&w, "mix-figures");
        assert_eq!(Share::of_base(part.answer.result.base), Some(row.solids));
        let retarder = also(part, "retarder as a share of the mix");
        assert_eq!(Share::of_base(retarder), Some(row.retarder));
        assert!(notes(part).iter().any(|n| n.contains("lot L-221")));
        // The published formula in one step, against the kept masses: within the rounding of their parts.
        let totals = shop.ledger.mix_totals(row.mix, row.volume).unwrap();
        let content = sheet(&w, "as-applied").answer.result.base;
        let milligrams = content * row.volume.base() * 1e6;
        let kept = totals.voc.base() * 1e6;
        assert!(
            (milligrams - kept).abs() <= 0.5 * 12.0,
            "{milligrams} {kept}"
        );
        assert!(also(sheet(&w, "voc-bases"), "VOC less water and exempt solvent") > content);
    }
    assert!(shop.ledger.mixes().unwrap()[0].retarder > Share(20_000));
}

fn sums(w: &Working) -> (Mass, Mass, Mass) {
    let part = sheet(w, "solvent-sum");
    let of = |base| Mass::of_base(base).unwrap();
    (
        of(part.answer.result.base),
        of(also(part, "HAP")),
        of(also(part, "exempt from VOC")),
    )
}

#[test]
fn an_action_and_a_month_open_every_substance_to_the_milligram() {
    let mut shop = shop();
    for n in 0..6 {
        shop.coat(
            rack(),
            Some(1 + n % 2),
            Some(147_003 + i64::from(n) * 11),
            &[],
            minutes(10 + 200 * i64::from(n)),
        );
    }
    // A coat of the month after, and one that is taken back.
    shop.coat(one(), Some(1), Some(60_007), &[], minutes(60 * 24 * 40));
    shop.coat(one(), Some(1), Some(55_005), &[], minutes(60 * 24 * 41));
    let at = minutes(60 * 24 * 42);
    let last = shop.ledger.last_action(None).unwrap().unwrap().seq;
    shop.ledger
        .void_action(last, "not sprayed", &who(), &stamp(at))
        .unwrap();
    for month in ["2026-03", "2026-04"] {
        let w = shop.show("month", month, at);
        assert_eq!(w.unknown, Vec::<String>::new());
        let kept = shop.ledger.month(month).unwrap();
        assert!(kept.totals.hap > Mass(0));
        assert_eq!(
            sums(&w),
            (kept.totals.voc, kept.totals.hap, kept.totals.exempt)
        );
        assert_eq!(raw(&w, "VOC"), kept.totals.voc.0);
        for (material, volume, totals) in &kept.materials {
            assert_eq!(raw(&w, &format!("VOC of {material}")), totals.voc.0);
            assert_eq!(raw(&w, &format!("used of {material}")), volume.0);
            let title = format!("sum of {material}");
            let part = w.parts.iter().find(|p| p.title == title).unwrap();
            assert_eq!(Mass::of_base(part.answer.result.base), Some(totals.voc));
            assert_eq!(Mass::of_base(also(part, "HAP")), Some(totals.hap));
        }
        assert!(!kept.substances.is_empty());
        for s in &kept.substances {
            let title = format!("{} in {} (sheet {})", s.substance.name, s.material, s.sheet);
            let part = w.parts.iter().find(|p| p.title == title).unwrap();
            assert_eq!(
                Mass::of_base(part.answer.result.base),
                Some(s.mass),
                "{title}"
            );
            let straight = also(part, "in one step, without rounding") * 1e6;
            let uses = also(part, "uses");
            assert!((straight - s.mass.base() * 1e6).abs() <= 0.5 * uses + 1e-6);
        }
    }
    let mut of_actions = (0, 0, 0);
    for seq in 1..=shop.ledger.last_action(None).unwrap().unwrap().seq {
        let kept = shop.ledger.action_totals(seq).unwrap();
        let w = shop.show("action", &seq.to_string(), at);
        assert_eq!(w.unknown, Vec::<String>::new());
        assert_eq!(raw(&w, "VOC"), kept.voc.0);
        if kept.voc > Mass(0) {
            assert_eq!(sums(&w), (kept.voc, kept.hap, kept.exempt));
        } else {
            assert!(w.parts.is_empty());
        }
        of_actions.0 += kept.voc.0;
        of_actions.1 += kept.hap.0;
        of_actions.2 += kept.exempt.0;
    }
    let (march, april) = (
        shop.ledger.month("2026-03").unwrap().totals,
        shop.ledger.month("2026-04").unwrap().totals,
    );
    assert_eq!(of_actions.0, march.voc.0 + april.voc.0);
    assert_eq!(of_actions.1, march.hap.0 + april.hap.0);
    assert!(workings::show(&shop.ledger, "month", "2026-3", at).is_err());
}

#[test]
fn a_ready_time_opens_the_wait_that_binds_it() {
    let mut shop = shop();
    shop.coat(one(), Some(1), None, &[], minutes(10));
    let at = minutes(30).plus(Span(12_345));
    let w = shop.show("ready", "B-0001", at);
    assert_eq!(w.unknown, Vec::<String>::new());
    let part = sheet(&w, "wait");
    let wait = Span::minutes(60);
    assert_eq!(part.answer.result.base, 3_600.0);
    let seen = shop.ledger.piece("B-0001", at).unwrap();
    assert_eq!(seen.view.ready_at, Some(minutes(10).plus(wait).minute_up()));
    assert_eq!(
        w.kept[0].value.as_ref().unwrap(),
        &Value::from(shop.ledger.calendar().rfc3339(seen.view.ready_at.unwrap()))
    );
    let said = notes(part).join("; ");
    assert!(said.contains("recipe G9 rev 3, seal"), "{said}");
    let coat = shop
        .ledger
        .entries(Some("B-0001"))
        .unwrap()
        .last()
        .unwrap()
        .seq
        .0;
    assert!(said.contains(&format!("entry {coat}, ended")), "{said}");
    // Mix 2 holds more than 2 % of retarder: its longer wait binds, and the rule is named.
    shop.coat(one(), Some(2), None, &[], minutes(100));
    let w = shop.show("ready", "B-0001", minutes(101));
    let part = sheet(&w, "wait");
    assert_eq!(part.answer.result.base, 7_200.0);
    let seen = shop.ledger.piece("B-0001", minutes(101)).unwrap();
    assert_eq!(seen.view.ready_at, Some(minutes(220)));
    assert!(notes(part).iter().any(|n| n.contains("more than 2.0 %")));
    let ready = shop.show("ready", "B-0001", minutes(500));
    assert!(
        ready
            .says
            .iter()
            .any(|s| s == "recipe time reached, check by hand")
    );
}

fn seconds(span: Span) -> f64 {
    num::float(span.0) / 1e3
}

fn readings(shop: &mut Shop, from: Moment, temperatures_mc: &[i64], humidity: Option<Humidity>) {
    let samples: Vec<Sample> = (0_i64..)
        .zip(temperatures_mc)
        .map(|(n, t)| Sample {
            at: from.plus(Span::minutes(15 * n)),
            temperature: Temperature(*t),
            humidity,
        })
        .collect();
    let written = samples.last().unwrap().at;
    shop.ledger
        .add_readings("cure room", "logger.csv", &samples, &who(), &stamp(written))
        .unwrap();
}

#[test]
fn a_cure_opens_every_stretch_of_its_rooms_to_the_millisecond() {
    let mut shop = shop();
    let last = shop.finished();
    let temperatures: Vec<i64> = (0..200).map(|n| 15_000 + (n * 37 % 90) * 100).collect();
    readings(&mut shop, last.minus(Span::hours(1)), &temperatures, None);
    let end = last.plus(Span::minutes(15 * 195)).plus(Span(777));
    let w = shop.show("ready", "B-0001", end);
    assert_eq!(w.unknown, Vec::<String>::new());
    let seen = shop.ledger.piece("B-0001", end).unwrap();
    let (earned, wanted) = seen.view.cure.unwrap();
    assert!(earned > Span(0) && earned < end.since(last));
    let part = sheet(&w, "room-credit");
    assert_eq!(part.answer.result.base, seconds(earned));
    assert_eq!(
        also(part, "credited hours still missing"),
        seconds(Span(wanted.0 - earned.0))
    );
    assert!(
        notes(part)
            .iter()
            .any(|n| n.contains("credit of recipe G9 rev 3"))
    );
}

#[test]
fn a_gap_of_readings_a_move_and_a_forecast_stay_what_they_are() {
    let mut shop = shop();
    let last = shop.finished();
    readings(
        &mut shop,
        last.minus(Span::minutes(30)),
        &[22_000; 20],
        None,
    );
    // Two hours without a file, then readings again.
    let again = last
        .minus(Span::minutes(30))
        .plus(Span::minutes(15 * 19 + 120));
    readings(&mut shop, again, &[18_000; 10], None);
    let moved = again.plus(Span::minutes(40));
    let place = Fact::Placed {
        rack: None,
        hook: None,
        room: Some("loft".into()),
    };
    shop.log(one(), DeedWhat::Other(place), moved);
    let back = moved.plus(Span::minutes(31));
    let place = Fact::Placed {
        rack: None,
        hook: None,
        room: Some("cure room".into()),
    };
    shop.log(one(), DeedWhat::Other(place), back);
    let at = again.plus(Span::hours(5));
    let w = shop.show("ready", "B-0001", at);
    let (earned, _) = shop.ledger.piece("B-0001", at).unwrap().view.cure.unwrap();
    let part = sheet(&w, "room-credit");
    assert_eq!(part.answer.result.base, seconds(earned));
    assert_eq!(
        also(part, "hours without readings in a logged room, not counted"),
        7_200.0
    );
    assert_eq!(
        also(part, "hours in a room without readings, assumed"),
        31.0 * 60.0
    );
    assert!(also(part, "hours after the newest reading, forecast") > 3_600.0);
    // The gap is unknown, and whoever asks is told to look.
    assert!(
        w.unknown.iter().any(|u| u.contains("without readings")),
        "{w:?}"
    );
    assert!(w.calls_for_attention());
}

#[test]
fn a_booth_without_a_full_survey_is_unknown_and_a_full_one_is_held() {
    let mut shop = shop();
    let mk = who();
    let none = shop.show("booth", "booth 1", START);
    assert!(none.kept[0].value.is_none() && none.kept[0].text == "unknown");
    assert!(none.parts.is_empty() && none.calls_for_attention());
    let speeds = |list: &[i64]| list.iter().map(|v| Speed(*v)).collect::<Vec<_>>();
    shop.ledger
        .record_survey(
            "booth 1",
            speeds(&[508_000, 500_000]),
            9,
            "vane 3",
            START,
            &mk,
            &stamp(START),
        )
        .unwrap();
    let part = shop.show("booth", "booth 1", START);
    assert!(part.kept[0].value.is_none() && part.calls_for_attention());
    shop.ledger
        .record_survey(
            "booth 1",
            speeds(&[508_000, 500_000, 512_000, 515_001]),
            4,
            "vane 3",
            START,
            &mk,
            &stamp(START),
        )
        .unwrap();
    let w = shop.show("booth", "booth 1", START);
    assert_eq!(raw(&w, "average"), 508_750);
    let side = |w: &Working| sheet(w, "face-survey").answer.held_against[0].side.word();
    assert_eq!(side(&w), "none_entered");
    let limit = |shop: &mut Shop, basis: &str| {
        shop.ledger
            .enter_limit(
                &Ceiling {
                    what: "face velocity".to_owned(),
                    scope: "booth 1".to_owned(),
                    value: 508_000,
                    typed: "100fpm".to_owned(),
                    basis: basis.to_owned(),
                    source: "site plan".to_owned(),
                    warn: Vec::new(),
                    rules: None,
                },
                &mk,
                &stamp(START),
            )
            .unwrap();
    };
    limit(&mut shop, "average");
    let w = shop.show("booth", "booth 1", START);
    assert_eq!(side(&w), "over");
    assert!(!w.calls_for_attention());
    limit(&mut shop, "lowest");
    let w = shop.show("booth", "booth 1", START);
    assert_eq!(side(&w), "under");
    assert!(w.calls_for_attention());
    assert!(w.says[0].contains("Below limit"), "{w:?}");
    let said = notes(sheet(&w, "face-survey")).join("; ");
    assert!(
        said.contains("vane 3") && said.contains("source: site plan"),
        "{said}"
    );
}

#[test]
fn a_room_without_a_fresh_reading_is_unknown_and_a_fresh_one_is_held_against_both_rules() {
    let mut shop = shop();
    let sides = |w: &Working| -> Vec<&'static str> {
        w.held_against.iter().map(|h| h.side.word()).collect()
    };
    for room in ["cure room", "loft"] {
        let w = shop.show("air", room, START);
        assert!(w.parts.is_empty() && w.calls_for_attention());
        assert!(
            w.kept
                .iter()
                .all(|k| k.value.is_none() && k.text == "unknown")
        );
    }
    assert_eq!(
        sides(&shop.show("air", "cure room", START)),
        ["unknown", "unknown"]
    );
    // A logger without humidity says nothing of dew.
    readings(&mut shop, START, &[21_000], None);
    let w = shop.show("air", "cure room", START);
    assert!(w.kept.iter().all(|k| k.value.is_none()) && w.unknown[0].contains("no humidity"));
    readings(
        &mut shop,
        minutes(15),
        &[21_000, 21_000],
        Some(Humidity(6_500)),
    );
    let w = shop.show("air", "cure room", minutes(30));
    assert_eq!(w.unknown, Vec::<String>::new());
    // 21 C at 65 %: a dew point of 14.2 C, 6.8 K below the air.
    let dew = sheet(&w, "dew-point");
    assert!((dew.answer.result.base - 14.2).abs() < 0.05);
    let blush = &sheet(&w, "blush").answer;
    assert_eq!(blush.held_against[0].side.word(), "at");
    assert_eq!(blush.held_against[1].side.word(), "under");
    assert!(w.calls_for_attention());
    assert!(
        notes(sheet(&w, "blush"))
            .iter()
            .any(|n| n == "recipe G9 rev 3, highest humidity")
    );
    // Half an hour after the newest reading it still stands for the air, a minute later it does not.
    assert!(
        shop.show("air", "cure room", minutes(60))
            .unknown
            .is_empty()
    );
    let old = shop.show("air", "cure room", minutes(61));
    assert!(old.unknown[0].contains("too old") && old.parts.is_empty());
    assert!(workings::show(&shop.ledger, "air", "attic", START).is_err());
}

// Three readings of the filter gauge of booth 1 and its mark.
fn gauge(shop: &mut Shop, last: Moment) {
    for (hours, pascal, new_filters) in [(48, 25, true), (24, 40, false), (0, 56, false)] {
        let seen = BoothSeen {
            note: None,
            gauge: Some(Pressure(pascal * 1_000)),
            new_filters,
        };
        let at = last.minus(Span::hours(hours));
        shop.ledger
            .record_check("booth 1", &seen, at, &who(), &stamp(last))
            .unwrap();
    }
    NewLimit::rise("booth 1", "100Pa")
        .unwrap()
        .enter(&mut shop.ledger, "filter paper", &who(), &stamp(last))
        .unwrap();
}

#[test]
fn the_json_keeps_the_contract_of_every_worksheet() {
    let mut shop = shop();
    let last = shop.finished();
    shop.ledger
        .record_survey(
            "booth 1",
            vec![Speed(508_000)],
            1,
            "vane 3",
            last,
            &who(),
            &stamp(last),
        )
        .unwrap();
    readings(&mut shop, last, &[21_000; 8], Some(Humidity(5_000)));
    let size = (Some(Volume(50_000_000_000)), Some(Flow(10_000)));
    shop.ledger
        .set_room_air("cure room", size, "plan", &who(), &stamp(last))
        .unwrap();
    gauge(&mut shop, last);
    let toluene = Of::read(&shop.ledger, "108-88-3").unwrap();
    NewLimit::exposure(&toluene, "50ppm")
        .unwrap()
        .enter(
            &mut shop.ledger,
            "a list of the state",
            &who(),
            &stamp(last),
        )
        .unwrap();
    let at = last.plus(Span::hours(2));
    let seen = shop.ledger.piece("B-0001", at).unwrap();
    assert_eq!(seen.view.outlook, Outlook::Waiting);
    let coat = shop
        .ledger
        .entries(Some("B-0001"))
        .unwrap()
        .last()
        .unwrap()
        .seq
        .0
        .to_string();
    let asked = [
        ("film", "B-0001"),
        ("coat", &coat),
        ("ready", "B-0001"),
        ("mix", "1"),
        ("action", "14"),
        ("use", &coat),
        ("month", "2026-03"),
        ("booth", "booth 1"),
        ("air", "cure room"),
        ("lel", "cure room"),
        ("gauge", "booth 1"),
        ("vapour", "cure room"),
        ("exposure", "cure room"),
        ("store", "store"),
    ];
    let names: Vec<&str> = workings::names().iter().map(|f| f.word).collect();
    assert_eq!(names, asked.map(|(figure, _)| figure));
    for (figure, what) in asked {
        // The last coat was sprayed in the production day before.
        let at = match figure {
            "lel" => last.plus(Span::minutes(30)),
            _ => at,
        };
        let w = shop.show(figure, what, at);
        assert!(!w.parts.is_empty(), "{figure}: {w:?}");
        for system in [System::Metric, System::Us] {
            let v = w.json(at, &shop.ledger.calendar(), system);
            assert_eq!(v["figure"], figure);
            for part in v["worksheets"].as_array().unwrap() {
                let sheet = &part["worksheet"];
                let mut keys: Vec<&str> = sheet
                    .as_object()
                    .unwrap()
                    .keys()
                    .map(String::as_str)
                    .collect();
                keys.sort_unstable();
                assert_eq!(
                    keys,
                    [
                        "also",
                        "assumes",
                        "cautions",
                        "held_against",
                        "id",
                        "inputs",
                        "result",
                        "sources",
                        "steps"
                    ]
                );
                let inputs = sheet["inputs"].as_array().unwrap();
                assert!(inputs.iter().any(|i| i["from"] == "ledger"), "{sheet}");
                for input in inputs {
                    assert!(input["value"].is_f64() || input["value"].is_string());
                    let from = input["from"].as_str().unwrap();
                    assert!(["default", "ledger"].contains(&from));
                    // Whatever stands in the ledger says where.
                    assert_eq!(from == "ledger", input["note"].is_string(), "{input}");
                    assert!(input.get("entry").is_none_or(Value::is_i64));
                }
            }
            let lines = w.lines(system).join("\n");
            assert!(lines.starts_with(&format!("{figure} of ")) && lines.contains("ledger, "));
        }
    }
    let refused = workings::show(&shop.ledger, "colour", "B-0001", at).unwrap_err();
    assert!(
        refused.to_string().contains("film, coat, ready"),
        "{refused}"
    );
}

#[test]
fn the_command_answers_with_the_exit_code_of_a_question() {
    let mut shop = shop();
    shop.coat(one(), Some(1), None, &[118], minutes(10));
    let path = shop.ledger.path().to_owned();
    drop(shop.ledger);
    let run = |words: &[&str]| {
        let out = assert_cmd::Command::cargo_bin("hangtime")
            .unwrap()
            .env_clear()
            .arg("--ledger")
            .arg(&path)
            .arg("working")
            .args(words)
            .output()
            .unwrap();
        let said = String::from_utf8(out.stdout).unwrap();
        (out.status.code().unwrap(), said)
    };
    let (code, said) = run(&[]);
    assert!(code == 0 && said.contains("month    MONTH"), "{said}");
    let (code, said) = run(&["film", "B-0001", "--json"]);
    let v: Value = serde_json::from_str(&said).unwrap();
    assert_eq!(code, 0);
    assert_eq!(v["worksheets"][0]["worksheet"]["id"], "film-build");
    assert_eq!(v["kept"][0]["unit"], "nm");
    let (code, said) = run(&["film", "B-0001", "--units", "us"]);
    assert!(code == 0 && said.contains("film build = 0.58"), "{said}");
    let (code, said) = run(&["booth", "booth 1"]);
    assert!(code == 1 && said.contains("average: unknown"), "{said}");
    assert_eq!(run(&["film"]).0, 2);
    assert_eq!(run(&["film", "B-9999"]).0, 2);
    drop(shop.folder);
}
