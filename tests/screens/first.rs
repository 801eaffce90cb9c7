//! The first start: one question after the other, checked as one types, left and gone on with.

use crate::desk::rows;
use hangtime::screens::first::{Offer, Step, Task, Walk};
use hangtime::screens::keys::Key;
use hangtime::screens::theme::{Form, Theme};
use hangtime::screens::view::first;
use hangtime::shop::words::PieceKind;
use hangtime::units::Area;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

const DARK: Theme = Theme {
    form: Form::Dark,
    shapes: true,
};

fn walk() -> Walk {
    Walk::new(Some("America/New_York".to_owned()), None)
}

fn answer(walk: &mut Walk, text: &str) -> Option<Task> {
    for c in text.chars() {
        assert_eq!(walk.press(Key::Char(c)), None);
    }
    walk.press(Key::Enter)
}

fn offer(code: &str) -> Offer {
    Offer {
        code: code.to_owned(),
        revision: 3,
        name: "Body, closed pore".to_owned(),
        kind: PieceKind::Body,
    }
}

fn text(walk: &Walk, columns: u16, height: u16) -> String {
    let area = Rect::new(0, 0, columns, height);
    let mut buffer = Buffer::empty(area);
    first(walk, DARK, area, &mut buffer);
    let rows: Vec<String> = rows(&buffer)
        .iter()
        .map(|r| r.trim_end().to_owned())
        .collect();
    rows.join("\n")
}

/// A walk at the question for the recipe, the ledger begun.
fn begun() -> Walk {
    let mut walk = walk();
    assert_eq!(walk.press(Key::Enter), None);
    answer(&mut walk, "Two benches");
    answer(&mut walk, "");
    let task = answer(&mut walk, "MK").unwrap();
    assert_eq!(
        task,
        Task::Begin {
            name: "Two benches".to_owned(),
            zone: "America/New_York".to_owned(),
            person: "MK".to_owned(),
        }
    );
    assert_eq!(walk.done(&task, Vec::new()), None);
    walk
}

#[test]
fn a_new_shop_comes_to_its_first_piece_one_question_at_a_time() {
    let mut walk = begun();
    assert_eq!(walk.step, Step::Recipe);
    let task = answer(&mut walk, "").unwrap();
    assert_eq!(task, Task::AdoptSample);
    walk.done(&task, vec![offer("G9"), offer("P9")]);
    assert!(text(&walk, 80, 24).contains("every figure in them is invented"));
    answer(&mut walk, "U-0001");
    assert_eq!(walk.step, Step::Which);
    answer(&mut walk, "p9");
    answer(&mut walk, "Octave mandolin");
    let page = text(&walk, 80, 24);
    for wanted in [
        "Two benches",
        "G9 rev 3, P9 rev 3",
        "U-0001",
        "Octave mandolin",
        "9 of 9",
    ] {
        assert!(page.contains(wanted), "{wanted}\n{page}");
    }
    let task = answer(&mut walk, "0.3 m2").unwrap();
    assert_eq!(
        task,
        Task::AddPiece {
            serial: "U-0001".to_owned(),
            recipe: offer("P9"),
            model: "Octave mandolin".to_owned(),
            area: Area(300_000),
        }
    );
    assert_eq!(walk.done(&task, vec![offer("G9")]), Some(Task::Enter));
}

#[test]
fn every_answer_is_checked_as_it_is_typed() {
    let mut walk = walk();
    walk.press(Key::Enter);
    assert_eq!(answer(&mut walk, "  "), None);
    assert_eq!(walk.step, Step::Name, "an empty name is not taken");
    assert!(text(&walk, 80, 24).contains("! the name is empty"));
    answer(&mut walk, "Two benches");
    for c in "new_yo".chars() {
        walk.press(Key::Char(c));
    }
    assert!(text(&walk, 80, 24).contains("Enter takes America/New_York"));
    for _ in 0..6 {
        walk.press(Key::Backspace);
    }
    assert!(text(&walk, 80, 24).contains("the zone of this machine"));
    assert_eq!(answer(&mut walk, "zzz"), None);
    assert!(text(&walk, 80, 24).contains("no zone holds \"zzz\""));
    for _ in 0..3 {
        walk.press(Key::Backspace);
    }
    for c in "indiana".chars() {
        walk.press(Key::Char(c));
    }
    assert!(text(&walk, 80, 24).contains("zones hold that; type on"));
    walk.press(Key::Tab);
    assert_eq!(walk.press(Key::Enter), None);
    assert_eq!(walk.step, Step::Supervisor);
    assert_eq!(answer(&mut walk, "M K"), None);
    assert!(text(&walk, 80, 24).contains("is not taken; write one to eight letters"));
}

#[test]
fn a_file_of_ones_own_is_adopted_and_its_faults_leave_the_question_open() {
    let mut walk = begun();
    let task = answer(&mut walk, "my.toml").unwrap();
    assert_eq!(task, Task::AdoptRecipe("my.toml".to_owned()));
    walk.refused("my.toml:3: field code is missing\nmy.toml:9: unknown kind".to_owned());
    let page = text(&walk, 80, 24);
    assert!(page.contains("> my.toml_"), "what was typed stays\n{page}");
    assert!(page.contains("my.toml:9: unknown kind"), "{page}");
    let task = walk.press(Key::Enter).unwrap();
    walk.done(&task, vec![offer("A1")]);
    assert_eq!(walk.step, Step::Material);
    assert_eq!(answer(&mut walk, ""), None);
    answer(&mut walk, "1");
    assert_eq!(walk.step, Step::Model, "one recipe needs no choice");
}

#[test]
fn the_walk_is_left_with_esc_and_goes_on_where_the_ledger_stands() {
    let mut early = walk();
    early.press(Key::Enter);
    answer(&mut early, "Two benches");
    assert_eq!(early.press(Key::Esc), None);
    assert_eq!(
        (early.step, early.typed.as_str()),
        (Step::Name, "Two benches")
    );
    early.press(Key::Esc);
    assert_eq!(early.press(Key::Esc), Some(Task::Leave));
    assert_eq!(
        begun().press(Key::Esc),
        Some(Task::Enter),
        "on to the floor"
    );
    let again = |person: Option<&str>, offers| {
        Walk::again(
            "Two benches".to_owned(),
            "America/New_York".to_owned(),
            person.map(str::to_owned),
            offers,
        )
    };
    assert_eq!(again(Some("MK"), Vec::new()).step, Step::Recipe);
    assert_eq!(again(Some("MK"), vec![offer("G9")]).step, Step::Serial);
    // Nobody is written down under another's initials.
    let mut unknown = again(None, vec![offer("G9")]);
    assert!(text(&unknown, 80, 24).contains("Who goes on: your initials?"));
    let task = answer(&mut unknown, "PR").unwrap();
    assert_eq!(task, Task::GoOn("PR".to_owned()));
    unknown.done(&task, vec![offer("G9")]);
    assert_eq!(unknown.step, Step::Serial);
}

#[test]
fn the_walk_is_drawn_at_every_size() {
    let mut late = begun();
    late.done(&Task::AdoptSample, vec![offer("G9"), offer("P9")]);
    answer(&mut late, "U-0001");
    let mut refused = begun();
    refused.refused("a fault ".repeat(40));
    for walk in [walk(), begun(), late, refused] {
        for columns in 0..=100 {
            for height in 0..=30 {
                let page = text(&walk, columns, height);
                if columns >= 40 && height >= 8 {
                    let question: String = walk.asks().chars().take(20).collect();
                    assert!(page.contains(&question), "{columns}x{height}\n{page}");
                }
            }
        }
    }
}

#[test]
fn the_questions_are_counted_as_they_come_either_way() {
    for (file, offers) in [
        ("", vec![offer("G9"), offer("P9")]),
        ("my.toml", vec![offer("A1")]),
    ] {
        let mut walk = begun();
        let mut seen = vec![walk.place()];
        let task = answer(&mut walk, file).unwrap();
        walk.done(&task, offers);
        seen.push(walk.place());
        for text in ["1", "2", "3"] {
            let text = if walk.step == Step::Material {
                ""
            } else {
                text
            };
            let text = if walk.step == Step::Which { "" } else { text };
            assert_eq!(answer(&mut walk, text), None);
            seen.push(walk.place());
        }
        assert_eq!(seen, [(5, 9), (6, 9), (7, 9), (8, 9), (9, 9)], "{file}");
        assert_eq!(walk.step, Step::Area);
    }
}

#[test]
fn what_is_invented_is_said_with_the_question_and_the_way_back_with_the_model() {
    let mut walk = begun();
    let page = text(&walk, 180, 24);
    assert!(page.contains("every figure in them invented"), "{page}");
    assert!(page.contains("stays in the record"), "{page}");
    let task = answer(&mut walk, "").unwrap();
    walk.done(&task, vec![offer("G9")]);
    answer(&mut walk, "U-0001");
    assert_eq!(walk.step, Step::Model);
    let page = text(&walk, 180, 24);
    assert!(page.contains("Esc goes back"), "{page}");
}
