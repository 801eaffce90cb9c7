//! Quality: the bars, what stands behind a line, the charts, at every size.

use crate::desk::{Desk, styles};
use crate::shop::{Bench, piece, rack, stamp, who};
use hangtime::ledger::DeedWhat;
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::model::Page;
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::places::Place;
use hangtime::screens::theme::{Form, Theme};
use hangtime::screens::update::{reload, update};
use hangtime::screens::view::view;
use hangtime::shop::record::{CoatMore, Fact, Finding};
use hangtime::shop::words::{Defect, PieceKind, StepKind, Verdict};
use hangtime::units::{Film, Moment, Volume};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

const SIZES: [(u16, u16); 4] = [(60, 16), (80, 24), (120, 40), (250, 70)];

fn flaw(defect: Defect, place: Option<&str>) -> DeedWhat {
    DeedWhat::Other(Fact::Flawed {
        defect,
        size_um: None,
        place: place.map(str::to_owned),
        note: None,
    })
}

fn look(defect: Option<Defect>, verdict: Verdict) -> DeedWhat {
    DeedWhat::Other(Fact::Inspected {
        light: None,
        findings: vec![Finding {
            surface: "whole".to_owned(),
            grade: 'A',
            defect,
            size_um: None,
            place: None,
            verdict,
        }],
    })
}

/// Twenty-two bodies; a clear coat on twenty-one of them, its film and amount up and down and once far up; six defects,
/// four inspections, a rework.
fn shop() -> (Bench, Moment) {
    let mut b = Bench::new();
    b.add(
        (PieceKind::Body, "B", 410, 22),
        ("Octave mandolin", "G9", 3),
        Some("R12"),
        "2026-03-09 10:00",
    );
    let clear = b.mix(
        "clear 3:1",
        &[("L-2207", 1_500), ("T-0931", 500)],
        "2026-03-10 07:00",
    );
    for n in 0..21_u32 {
        let (wet, amount) = match (n, n % 2) {
            (17, _) => (192, 60),
            (_, 0) => (112, 48),
            _ => (128, 50),
        };
        let what = DeedWhat::Coat {
            kind: Some(StepKind::Clear),
            touch_up: false,
            mix: Some(clear),
            lot: None,
            amount: Some(Volume(amount * 1_000)),
            wet: vec![Film(wet * 1_000)],
            supervisor: None,
            more: CoatMore::default(),
        };
        let (serial, at) = (
            format!("B{:04}", 410 + n),
            format!("2026-03-10 08:{:02}", 2 * n),
        );
        b.deed(piece(&serial), what, &at, if n < 12 { "AB" } else { "DP" });
    }
    for (serial, defect, place) in [
        ("B0411", Defect::Run, Some("by the cutaway")),
        ("B0412", Defect::Run, None),
        ("B0427", Defect::Run, None),
        ("B0414", Defect::Dirt, None),
        ("B0431", Defect::Ding, None),
    ] {
        b.deed(piece(serial), flaw(defect, place), "2026-03-11 09:00", "SK");
    }
    let rework = Fact::Reworked {
        rework: "RW3".to_owned(),
        defect: Some(Defect::Run),
        why: "too wet".to_owned(),
    };
    b.deed(
        piece("B0427"),
        DeedWhat::Other(rework),
        "2026-03-11 10:00",
        "MB",
    );
    for (serial, defect, verdict) in [
        ("B0410", None, Verdict::Take),
        ("B0411", Some(Defect::Run), Verdict::Rework),
        ("B0413", None, Verdict::Take),
        ("B0415", Some(Defect::Fisheye), Verdict::Hold),
    ] {
        b.deed(
            piece(serial),
            look(defect, verdict),
            "2026-03-12 09:00",
            "SK",
        );
    }
    let now = b.at("2026-03-12 12:00");
    (b, now)
}

fn sit() -> Desk {
    let (bench, now) = shop();
    let mut desk = Desk::sit(bench, now, Some("MB"));
    desk.key(Key::F(9));
    assert_eq!(desk.model.place, Place::Quality);
    desk
}

fn at_four_sizes(name: &str, desk: &mut Desk) {
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("quality_{name}_{columns}x{rows}"), desk.snapshot());
    }
}

fn to_line(desk: &mut Desk, text: &str) {
    desk.size(250, 70);
    for _ in 0..40 {
        let marked = desk.text();
        let marked = marked.lines().find(|l| l.starts_with('▸'));
        if marked.is_some_and(|l| l.contains(text)) {
            return;
        }
        desk.key(Key::Down);
    }
    panic!("no line has {text}\n{}", desk.text());
}

#[test]
fn quality_reads_at_four_sizes() {
    let mut desk = sit();
    at_four_sizes("bars", &mut desk);
    to_line(&mut desk, "wet readings x solids");
    at_four_sizes("chart", &mut desk);
    desk.key(Key::Enter);
    at_four_sizes("points", &mut desk);
}

#[test]
fn tab_counts_the_same_defects_by_the_next_thing() {
    let mut desk = sit();
    let mut seen = Vec::new();
    for _ in 0..7 {
        let text = desk.text();
        let head = text.lines().find(|l| l.contains("defects by")).unwrap();
        let (by, count) = head.trim().split_once(": ").unwrap();
        assert!(count.starts_with('6'), "{head}");
        seen.push(by.trim_start_matches("defects by ").to_owned());
        desk.key(Key::Tab);
    }
    assert_eq!(
        seen,
        ["kind", "person", "mix", "lot", "booth", "recipe", "surface"]
    );
    desk.key(Key::BackTab);
    desk.key(Key::BackTab);
    assert!(
        desk.text().contains("defects by recipe: 6"),
        "{}",
        desk.text()
    );
    // By person: AB sprayed B0411, B0412, B0414 and B0415, DP B0427; nobody a coat on B0431.
    desk.size(250, 70);
    for _ in 0..3 {
        desk.key(Key::Tab);
    }
    let text = desk.text();
    for wanted in [
        "AB                        4",
        "DP                        1",
        "not known                 1",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn enter_opens_the_entries_behind_a_line_and_then_the_piece() {
    let mut desk = sit();
    let before = desk.text();
    desk.key(Key::Enter);
    let text = desk.text();
    assert!(text.contains("defect run, defects: 3"), "{text}");
    for serial in ["B0411", "B0412", "B0427"] {
        assert!(text.contains(&format!("{serial} run on whole")), "{text}");
    }
    desk.key(Key::Down);
    desk.key(Key::Enter);
    assert!(
        matches!(desk.model.stack.last(), Some(Page::Card(card)) if card.serial == "B0412"),
        "{}",
        desk.text()
    );
    desk.key(Key::Esc);
    assert_eq!(desk.text().lines().nth(2), text.lines().nth(2));
    desk.key(Key::Esc);
    assert_eq!(desk.text(), before);
    assert_eq!(desk.model.mode(), Mode::Quality);
    desk.key(Key::Esc);
    assert_eq!(desk.model.place, Place::Floor);
    desk.keys("gq");
    // What lay open is left with the place.
    desk.key(Key::Enter);
    assert!(desk.text().contains("defect run, defects: 3"));
    desk.key(Key::F(4));
    desk.key(Key::F(9));
    assert!(!desk.text().contains("defect run, defects: 3"));
    assert_eq!(desk.model.place, Place::Quality);
    to_line(&mut desk, "right first time: 2 of 4");
    desk.key(Key::Enter);
    let text = desk.text();
    for wanted in [
        "B0410: first inspection",
        "B0415: first inspection",
        "not known: something was held back",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn a_chart_names_its_point_outside_and_a_rack_opens_its_pieces() {
    // The piece in rework takes what its zone needs and is no part of the amounts.
    let (mut bench, _) = shop();
    let what = DeedWhat::Coat {
        kind: Some(StepKind::Clear),
        touch_up: false,
        mix: Some(1),
        lot: None,
        amount: Some(Volume(22 * 49_000)),
        wet: vec![Film(120_000)],
        supervisor: None,
        more: CoatMore::default(),
    };
    bench.deed(rack("R12"), what, "2026-03-12 11:00", "AB");
    let now = bench.at("2026-03-12 12:00");
    let mut desk = Desk::sit(bench, now, Some("MB"));
    desk.key(Key::F(9));
    to_line(&mut desk, "amount of a clear coat");
    let text = desk.text();
    for wanted in [
        "1 OUTSIDE",
        "60.00 mL, above the limits",
        "22 points, mean 49.41 mL",
        "◆ outside",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    desk.key(Key::Enter);
    desk.key(Key::Enter);
    let text = desk.text();
    assert!(
        text.contains("21 pieces") && text.contains("B0431") && !text.contains("B0427"),
        "{text}"
    );
    desk.key(Key::Enter);
    assert!(matches!(desk.model.stack.last(), Some(Page::Card(card)) if card.serial == "B0410"));
}

#[test]
fn what_others_write_asks_for_it_after_ten_minutes_and_what_is_done_here_at_once() {
    let mut desk = sit();
    let start = desk.model.now;
    let asks = |desk: &mut Desk, msg: Msg| {
        let effects = update(&mut desk.model, msg);
        assert!(
            effects
                .iter()
                .any(|e| matches!(e, Effect::LoadFloor { .. }))
        );
        let place = |e: &Effect| {
            matches!(
                e,
                Effect::LoadPlace {
                    place: Place::Quality,
                    ..
                }
            )
        };
        let found = effects.iter().any(place);
        desk.act(effects);
        found
    };
    assert!(!asks(&mut desk, Msg::Changed));
    let after = |minutes: i64| Msg::Now(Moment(start.0 + minutes * 60_000));
    assert!(!asks(&mut desk, after(9)));
    assert!(desk.text().contains("as of 12:00"), "{}", desk.text());
    assert!(asks(&mut desk, after(10)));
    assert!(desk.text().contains("as of 12:10"), "{}", desk.text());
    assert!(!asks(&mut desk, Msg::Changed));
    // A defect that is taken back here is gone at once.
    assert!(desk.text().contains("defects by kind: 6"));
    let mut ledger = desk.ledger();
    let defects = ledger.entries(Some("B0431")).unwrap();
    let last = defects.last().unwrap().seq.0;
    let (who, at) = (who("MB"), stamp(desk.model.now));
    ledger.void_entry(last, "another piece", &who, &at).unwrap();
    desk.tell(Msg::Changed);
    assert!(desk.text().contains("defects by kind: 6"));
    let effects = reload(&mut desk.model);
    desk.act(effects);
    assert!(desk.text().contains("defects by kind: 5"));
}

#[test]
fn without_colour_and_utf8_the_bars_and_charts_are_plain() {
    let mut desk = sit();
    to_line(&mut desk, "wet readings x solids");
    desk.model.shop.theme = Theme {
        form: Form::Plain,
        shapes: false,
    };
    let text = desk.text();
    assert!(text.is_ascii(), "{text}");
    assert!(!styles(&desk.buffer()).contains("g "), "a colour is left");
    for wanted in ["###", "o point  X outside  - mean  = limit", "> G9: film"] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn quality_is_drawn_at_every_size_also_where_nothing_is_recorded() {
    let (empty, _) = Bench::morning();
    let now = empty.at("2026-03-12 12:00");
    let mut none = Desk::sit(empty, now, Some("MB"));
    none.key(Key::F(9));
    let text = none.text();
    for wanted in [
        "no defect is recorded   30 days",
        "right first time: unknown",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
    let mut chart = sit();
    to_line(&mut chart, "wet readings x solids");
    let mut points = sit();
    to_line(&mut points, "wet readings x solids");
    points.key(Key::Enter);
    for (n, desk) in [none, sit(), chart, points].iter_mut().enumerate() {
        for columns in (0..=130).step_by(if n == 1 { 1 } else { 3 }) {
            for height in 0..=40 {
                let area = Rect::new(0, 0, columns, height);
                let mut buffer = Buffer::empty(area);
                view(&desk.model, desk.model.now, area, &mut buffer);
            }
        }
        desk.size(0, 0);
        desk.key(Key::PageDown);
        desk.key(Key::End);
        desk.key(Key::Home);
    }
}
