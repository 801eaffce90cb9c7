//! The plan on the screens: its parts, what stands behind a line, when it is made anew, at every size.

use crate::counted::{Presses, stand_in_the_guide};
use crate::desk::Desk;
use crate::shop::{Bench, coat, piece, rack, stamp, who};
use hangtime::ledger::DeedWhat;
use hangtime::plan::Suppose;
use hangtime::plan::forecast::forecast;
use hangtime::reports::plan::{Footing, Part, Wanted, lines};
use hangtime::screens::keys::{Key, Mode};
use hangtime::screens::model::Page;
use hangtime::screens::msg::{Effect, Msg};
use hangtime::screens::places::Place;
use hangtime::screens::theme::{Form, Theme};
use hangtime::screens::update::update;
use hangtime::screens::view::view;
use hangtime::shop::duty::{Per, Station};
use hangtime::shop::record::Fact;
use hangtime::shop::words::{PieceKind, StepKind};
use hangtime::units::{Moment, Span};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

const SIZES: [(u16, u16); 4] = [(60, 16), (80, 24), (120, 40), (250, 70)];

/// The morning's small shop with two bodies more, whose coats are enough past deeds for a spread; a cure room of twenty
/// hooks, a bench and a booth; a pair.
fn shop() -> (Bench, Moment) {
    let (mut b, now) = Bench::morning();
    b.add(
        (PieceKind::Body, "B", 450, 2),
        ("Octave mandolin", "G9", 3),
        Some("R9"),
        "2026-03-09 10:20",
    );
    for kind in [StepKind::Receive, StepKind::Mask] {
        b.work(rack("R9"), kind, "2026-03-10 07:10", "PR");
    }
    for at in [
        "2026-03-10 07:20",
        "2026-03-10 08:25",
        "2026-03-10 10:00",
        "2026-03-10 11:40",
        "2026-03-10 13:20",
    ] {
        b.deed(rack("R9"), coat(None), at, "AB");
    }
    for (serial, other) in [("B0450", "N0205"), ("N0205", "B0450")] {
        let pair = Fact::Paired {
            pair: Some(other.to_owned()),
            why: "built so".to_owned(),
        };
        let what = DeedWhat::Other(pair);
        b.deed(piece(serial), what, "2026-03-11 09:00", "MB");
    }
    let early = stamp(b.at("2026-03-12 08:55"));
    let mb = who("MB");
    b.ledger
        .declare_room("cure room", Some(Span::minutes(15)), 1_000, &mb, &early)
        .unwrap();
    b.ledger
        .set_room_hooks("cure room", 20, "counted", &mb, &early)
        .unwrap();
    for (name, kinds, minutes, per) in [
        (
            "booth 1",
            vec![StepKind::Seal, StepKind::Clear],
            20,
            Per::Rack,
        ),
        (
            "bench",
            vec![StepKind::LevelSand, StepKind::FinalSand],
            9,
            Per::Piece,
        ),
    ] {
        let station = Station {
            name: name.to_owned(),
            kinds,
            people: 1,
            crew: None,
            took: Span::minutes(minutes),
            per,
            source: "timed".to_owned(),
            ended: false,
        };
        b.ledger.set_station(&station, &mb, &early).unwrap();
    }
    (b, now)
}

fn sit() -> Desk {
    let (bench, now) = shop();
    let mut desk = Desk::sit(bench, now, Some("MB"));
    desk.key(Key::F(10));
    assert_eq!(desk.model.place, Place::Plan);
    assert_eq!(desk.model.mode(), Mode::Plan);
    desk
}

fn at_four_sizes(name: &str, desk: &mut Desk) {
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("plan_{name}_{columns}x{rows}"), desk.snapshot());
    }
}

fn asks(effects: &[Effect]) -> Vec<Option<i64>> {
    effects
        .iter()
        .filter_map(|e| match e {
            Effect::LoadPlan { known, .. } => Some(*known),
            _ => None,
        })
        .collect()
}

#[test]
fn the_plan_reads_at_four_sizes() {
    let mut desk = sit();
    for name in ["racks", "hooks", "late", "mates"] {
        at_four_sizes(name, &mut desk);
        desk.key(Key::Tab);
    }
    assert_eq!(desk.model.places.plan.part(), Part::Racks);
    desk.key(Key::BackTab);
    assert_eq!(desk.model.places.plan.part(), Part::Pairs);
}

#[test]
fn what_a_supervisor_asks_ahead_takes_three_keys_at_the_most() {
    let mut rows = Vec::new();
    let mut task = |task: &str, keys: &[Key], wanted: &str| {
        let (bench, now) = shop();
        let mut desk = Desk::sit(bench, now, Some("MB"));
        let mut presses = Presses::at(&mut desk);
        for key in keys {
            presses.key(*key);
        }
        rows.push(presses.row("supervisor, ahead", task));
        assert!(desk.text().contains(wanted), "{wanted}\n{}", desk.text());
    };
    let (plan, tab) = (Key::F(10), Key::Tab);
    task("what each rack reaches when", &[plan], "[racks 5]");
    task("hooks by day", &[plan, tab], "[hooks by day, 13 short]");
    task(
        "who misses their date",
        &[plan, tab, tab],
        "[miss their date 0]",
    );
    task(
        "halves that wait",
        &[plan, Key::BackTab],
        "[halves that wait 1]",
    );
    task("plan again", &[plan, Key::Char('r')], "planned as of");
    stand_in_the_guide("supervisor, ahead", &rows);
}

#[test]
fn the_page_says_what_the_command_says() {
    let mut desk = sit();
    desk.size(250, 70);
    let footing = Footing::read(&desk.ledger(), Wanted::default(), desk.model.at(), None).unwrap();
    let plan = forecast(&footing.scene(), &Suppose::default(), 14);
    let printed = lines(&plan, &footing.basis());
    let page = desk.model.places.plan.data.clone().unwrap().page;
    let said = |text: &str| printed.iter().any(|l| l.trim() == text);
    for text in page.sums.iter().chain(&page.said) {
        assert!(said(text), "{text}\n{printed:#?}");
    }
    let (_, racks) = &page.parts[0];
    assert!(racks.len() >= 4, "{racks:?}");
    let deeds: Vec<&String> = racks.iter().flat_map(|r| &r.more).collect();
    for deed in &deeds {
        assert!(said(deed), "{deed}\n{printed:#?}");
    }
    // And none is left out.
    let of_racks = printed
        .iter()
        .filter(|l| l.contains(" piece") && l.starts_with("  ") && l.contains(':'));
    let of_racks = of_racks.filter(|l| deeds.iter().any(|d| d.as_str() == l.trim()));
    assert_eq!(of_racks.count(), deeds.len());
}

#[test]
fn enter_opens_what_the_mark_lies_on_and_a_day_says_that_it_has_no_page() {
    let mut desk = sit();
    desk.key(Key::Enter);
    assert!(
        matches!(desk.model.stack.last(), Some(Page::Log(_) | Page::Card(_))),
        "{}",
        desk.text()
    );
    desk.key(Key::Esc);
    desk.key(Key::Tab);
    desk.key(Key::Enter);
    assert!(desk.note().contains("a day has no page"), "{}", desk.note());
    desk.key(Key::Esc);
    assert_eq!(desk.model.place, Place::Floor);
}

#[test]
fn a_plan_for_a_moment_that_is_typed_names_who_misses_their_date() {
    let mut desk = sit();
    // Nobody touched the floor for weeks: all that is due on 17 April misses it.
    desk.key(Key::Char('n'));
    desk.keys("2026-04-13 07:00");
    desk.key(Key::Enter);
    desk.key(Key::Tab);
    desk.key(Key::Tab);
    assert_eq!(desk.model.places.plan.part(), Part::Late);
    at_four_sizes("as_of_april", &mut desk);
    let rows = desk.model.places.plan.rows();
    assert!(rows.len() > 20, "{}", rows.len());
    assert!(
        rows.iter()
            .all(|r| r.against && r.more[0].starts_with("decided by ")),
        "{rows:?}"
    );
}

#[test]
fn it_is_made_anew_when_the_record_grew_and_on_a_key_and_not_more_often() {
    let mut desk = sit();
    let start = desk.model.now;
    let head = desk.ledger().head().unwrap().0;
    assert_eq!(desk.model.places.plan.data.as_ref().unwrap().head, head);
    let tell = |desk: &mut Desk, msg: Msg| {
        let effects = update(&mut desk.model, msg);
        let found = asks(&effects);
        desk.act(effects);
        found
    };
    let after = |seconds: i64| Msg::Now(Moment(start.0 + seconds * 1_000));
    // Others write: not again within a minute.
    assert_eq!(tell(&mut desk, Msg::Changed), []);
    // A minute later it is asked whether anything was written; nothing was, so that the old one stands.
    assert_eq!(tell(&mut desk, after(61)), [Some(head)]);
    let data = desk.model.places.plan.data.clone().unwrap();
    assert_eq!(data.at, start);
    assert!(!desk.model.places.plan.waits);
    // Something was written.
    let mut ledger = desk.ledger();
    let at = stamp(Moment(start.0 + 70_000));
    ledger
        .set_room_hooks("cure room", 40, "counted", &who("MB"), &at)
        .unwrap();
    assert_eq!(tell(&mut desk, after(130)), [Some(head)]);
    let data = desk.model.places.plan.data.clone().unwrap();
    assert_eq!(data.head, head + 1);
    assert_eq!(data.at, Moment(start.0 + 130_000));
    // By the key at once, whatever is known.
    assert_eq!(tell(&mut desk, Msg::Key(Key::Char('r'))), [None]);
    // While one is on its way no other is asked for, and that is said; a late answer to an older question is left alone.
    let effects = update(&mut desk.model, Msg::Key(Key::Char('r')));
    assert_eq!(asks(&effects), [None]);
    assert!(
        desk.text().contains("planning again ..."),
        "{}",
        desk.text()
    );
    assert_eq!(tell(&mut desk, after(400)), []);
    update(&mut desk.model, Msg::PlanStands(1));
    assert!(desk.model.places.plan.waits);
    desk.act(effects);
    assert!(!desk.model.places.plan.waits);
    assert!(!desk.text().contains("planning again"), "{}", desk.text());
    // For another moment it is another plan.
    let effects = update(&mut desk.model, Msg::Key(Key::Char('n')));
    desk.act(effects);
    desk.keys("tomorrow 07:00");
    assert_eq!(tell(&mut desk, Msg::Key(Key::Enter)), [None]);
}

#[test]
fn the_plan_reads_without_colour_and_shapes() {
    let mut desk = sit();
    desk.model.shop.theme = Theme {
        form: Form::Plain,
        shapes: false,
    };
    desk.key(Key::Tab);
    desk.size(80, 24);
    let text = desk.text();
    assert!(text.is_ascii(), "{text}");
    for wanted in ["[hooks by day", "short by", "!", "#", "> "] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn the_plan_is_drawn_at_every_size_also_where_nothing_is_to_plan() {
    let empty = Bench::new();
    let now = empty.at("2026-03-12 12:00");
    let mut none = Desk::sit(empty, now, Some("MB"));
    none.key(Key::F(10));
    assert!(
        none.text().contains("nothing is left to do"),
        "{}",
        none.text()
    );
    let mut desks = vec![none];
    for tabs in 0..4 {
        let mut desk = sit();
        (0..tabs).for_each(|_| desk.key(Key::Tab));
        desks.push(desk);
    }
    for desk in &mut desks {
        for columns in (0..=140).step_by(3) {
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
