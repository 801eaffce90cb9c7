//! What is drawn: text and style of every page at four sizes, and every size without a panic.

use crate::desk::{Desk, rows, styles};
use hangtime::screens::keys::{Action, CHAPTERS, Key, Mode, TABLE, action};
use hangtime::screens::places::Place;
use hangtime::screens::theme::{Form, Theme};
use hangtime::screens::view::view;
use hangtime::shop::words::Word;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Color;

const SIZES: [(u16, u16); 4] = [(60, 16), (80, 24), (120, 40), (250, 70)];

/// The function key that leads to a place from anywhere.
fn key_of(place: Place) -> Key {
    (2..=12)
        .map(Key::F)
        .find(|key| action(Mode::Anywhere, *key) == Some(Action::Go(place)))
        .unwrap_or_else(|| panic!("no function key of Mode::Anywhere goes to {place:?}"))
}

fn at_four_sizes(name: &str, mut desk: Desk) {
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("{name}_{columns}x{rows}"), desk.snapshot());
    }
}

#[test]
fn the_floor_reads_at_four_sizes() {
    at_four_sizes("floor", Desk::morning());
}

#[test]
fn the_card_reads_at_four_sizes() {
    let mut desk = Desk::morning();
    desk.scan("B0412");
    at_four_sizes("card", desk);
}

#[test]
fn the_line_to_save_reads_at_four_sizes() {
    let mut desk = Desk::morning();
    desk.scan("R12");
    desk.keys("c");
    at_four_sizes("log", desk);
}

#[test]
fn the_help_page_reads_at_four_sizes() {
    let mut desk = Desk::morning();
    desk.keys("?");
    at_four_sizes("help", desk);
}

#[test]
fn a_receipt_with_deviations_asks_why() {
    let mut desk = Desk::morning();
    desk.scan("R12");
    desk.keys("cx");
    desk.key(Key::Enter);
    desk.keys("a");
    insta::assert_snapshot!("receipt_80x24", desk.snapshot());
}

#[test]
fn a_wide_floor_shows_the_marked_piece_beside_the_list() {
    let mut desk = Desk::morning();
    desk.size(250, 45);
    for _ in 0..3 {
        desk.key(Key::Down);
    }
    let text = desk.text();
    assert!(text.lines().all(|l| !l.contains('…')), "{text}");
    for wanted in ["recipe G9 rev 3", "last wet 09:00", "Parlour guitar"] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn without_colour_and_without_utf8_every_page_still_reads() {
    let mut desk = Desk::morning();
    desk.model.shop.theme = Theme {
        form: Form::Plain,
        shapes: false,
    };
    for keys in ["", "?"] {
        desk.keys(keys);
        let text = desk.text();
        assert!(text.is_ascii(), "{text}");
        assert!(!styles(&desk.buffer()).contains("g "), "a colour is left");
        for word in ["ready", "waiting", "held", "unknown"] {
            assert!(text.contains(word), "{word}\n{text}");
        }
    }
}

#[test]
fn each_form_of_the_theme_paints_what_it_says_and_keeps_every_word() {
    let mut desk = Desk::morning();
    let dark = desk.text();
    let grounds = [
        (Form::Dark, Color::Reset),
        (Form::Light, Color::Indexed(231)),
        (Form::Contrast, Color::Indexed(16)),
        (Form::Plain, Color::Reset),
    ];
    for (form, ground) in grounds {
        desk.model.shop.theme.form = form;
        for keys in ["", "?", "q"] {
            desk.keys(keys);
            if keys.is_empty() {
                assert_eq!(desk.text(), dark, "{form:?}");
            }
            let buffer = desk.buffer();
            let cell = buffer.cell((70, 20)).unwrap();
            assert_eq!(cell.bg, ground, "{form:?} {keys}");
        }
    }
    for (form, word) in Form::ALL {
        assert_eq!(Form::from_word(word), Some(form));
    }
    assert_eq!(Form::from_word("sepia"), None);
}

#[test]
fn whoever_reads_ready_also_reads_to_check_by_hand() {
    let mut desk = Desk::morning();
    for (columns, height) in SIZES {
        desk.size(columns, height);
        assert!(
            desk.text()
                .contains("ready: recipe time reached, check by hand")
        );
    }
}

#[test]
fn a_clock_that_nobody_confirmed_is_named_above_every_page() {
    let mut desk = Desk::morning();
    let words = "CLOCK NOT CONFIRMED: it stands 59 min before action 12 (hangtime clock)";
    desk.model.floor.data.as_mut().unwrap().doubted = Some(words.to_owned());
    for (columns, height) in [(80, 24), (40, 8)] {
        desk.size(columns, height);
        let text = desk.text();
        let second = text.lines().nth(1).unwrap();
        assert!(second.contains("CLOCK NOT CONFIRMED"), "{text}");
    }
    desk.size(80, 24);
    let before = desk.text();
    // Nothing of the floor is lost but its last line.
    assert!(
        before.contains("Rack R12") && before.contains("scan: _"),
        "{before}"
    );
    let doubted = desk.model.floor.data.as_ref().unwrap().doubted.clone();
    desk.scan("B0412");
    desk.model.floor.data.as_mut().unwrap().doubted = doubted;
    assert!(
        desk.text()
            .lines()
            .nth(1)
            .unwrap()
            .contains("CLOCK NOT CONFIRMED")
    );
    for columns in (0..=100).step_by(7) {
        for height in 0..=12 {
            desk.size(columns, height);
            desk.text();
        }
    }
}

#[test]
fn a_small_screen_says_that_it_is_too_small() {
    let mut desk = Desk::morning();
    desk.size(39, 12);
    assert_eq!(
        desk.text().lines().next(),
        Some("too small: 39x12, needs 40x8")
    );
}

#[test]
fn every_place_can_be_drawn_at_every_size() {
    for place in Place::ALL {
        let mut desk = Desk::morning();
        desk.key(key_of(*place));
        assert_eq!(desk.model.place, *place);
        for columns in (0..=260).step_by(20) {
            for height in (0..=70).step_by(5) {
                let area = Rect::new(0, 0, columns, height);
                let mut buffer = Buffer::empty(area);
                view(&desk.model, desk.model.now, area, &mut buffer);
                assert!(
                    columns < 40
                        || height < 8
                        || rows(&buffer).iter().any(|r| !r.trim().is_empty()),
                    "{place:?} is empty at {columns}x{height}"
                );
            }
        }
    }
}

#[test]
fn every_page_can_be_drawn_at_every_size() {
    let pages: &[fn(&mut Desk)] = &[
        |d| d.key(Key::F(2)),
        |d| d.key(Key::F(8)),
        |d| {
            d.key(Key::F(8));
            d.key(Key::Down);
        },
        |d| {
            d.key(Key::F(8));
            d.key(Key::Up);
        },
        |_| {},
        |d| d.scan("B0412"),
        |d| {
            d.scan("R12");
            d.keys("c");
        },
        |d| {
            d.scan("R12");
            d.keys("cx");
            d.key(Key::Enter);
            d.keys("a");
        },
        |d| d.keys("?"),
        |d| d.key(Key::F(4)),
        |d| d.keys("/zzz"),
        |d| d.keys("u"),
        |d| {
            d.scan("B0416");
            d.keys("l");
        },
        |d| {
            d.scan("R3");
            d.keys("cm12");
        },
        |d| {
            d.scan("R3");
            d.keys("ck7");
        },
        |d| {
            d.scan("R3");
            d.keys("ch5-9");
        },
        |d| {
            d.scan("B0412");
            d.keys("d");
        },
        |d| {
            d.scan("R3");
            d.keys("d4");
        },
        |d| {
            d.key(Key::F(2));
            d.keys("n5");
        },
        |d| {
            d.scan("R3");
            d.keys("hrun on all");
            d.key(Key::Enter);
        },
        |d| d.key(Key::F(6)),
        |d| {
            d.scan("N0207");
            d.keys("k4");
        },
        |d| d.key(Key::F(5)),
        |d| {
            d.key(Key::F(5));
            d.key(Key::Enter);
        },
        |d| {
            d.key(Key::F(5));
            d.keys("rL-1 CLR");
        },
        |d| d.key(Key::F(7)),
        |d| {
            d.key(Key::F(7));
            d.key(Key::Enter);
        },
        |d| {
            d.key(Key::F(7));
            d.keys("/clr");
        },
        |d| d.keys(":lift B0416 --pin 1234"),
        |d| d.key(Key::F(9)),
    ];
    for (n, page) in pages.iter().enumerate() {
        // Questions share a page that was swept in full; of those every seventh width is enough.
        let stride = if n < 9 { 1 } else { 7 };
        let mut desk = Desk::morning();
        page(&mut desk);
        for columns in (0..=100).step_by(stride) {
            for height in 0..=40 {
                let area = Rect::new(0, 0, columns, height);
                let mut buffer = Buffer::empty(area);
                view(&desk.model, desk.model.now, area, &mut buffer);
                // A screen that is large enough is never empty.
                if columns >= 40 && height >= 8 {
                    assert!(rows(&buffer).iter().any(|r| !r.trim().is_empty()));
                }
            }
        }
        desk.size(0, 0);
        desk.key(Key::PageDown);
        desk.key(Key::End);
    }
}

#[test]
fn the_key_of_a_place_leads_there_from_every_place_the_choice_of_places_and_the_help_page() {
    for place in Place::ALL {
        let key = key_of(*place);
        for mode in [Mode::Go, Mode::Help, place.mode()] {
            assert_eq!(
                action(mode, key),
                Some(Action::Go(*place)),
                "{key:?} in {mode:?}"
            );
        }
        assert!(
            TABLE.iter().any(|b| b.mode == Mode::Go
                && b.action == Action::Go(*place)
                && !b.word.is_empty()),
            "no letter of Mode::Go goes to {place:?}"
        );
    }
}

#[test]
fn no_key_has_two_meanings_and_every_key_is_on_the_help_page() {
    let mut desk = Desk::morning();
    desk.size(200, 400);
    desk.keys("?");
    let page = desk.text();
    for (i, b) in TABLE.iter().enumerate() {
        for other in &TABLE[i + 1..] {
            assert!(
                b.mode != other.mode || b.press != other.press,
                "{:?} {:?}",
                b.mode,
                b.press
            );
        }
        assert!(b.says.is_empty() || page.contains(b.says), "{}", b.says);
        assert!(
            CHAPTERS.iter().any(|(_, modes)| modes.contains(&b.mode)),
            "{:?} has no chapter",
            b.mode
        );
        assert_eq!(b.word.is_empty() && b.says.is_empty(), b.says.is_empty());
    }
    let modes: Vec<Mode> = CHAPTERS
        .iter()
        .flat_map(|(_, m)| m.iter().copied())
        .collect();
    for mode in modes {
        let way_out = hangtime::screens::keys::action(mode, Key::Interrupt);
        assert!(way_out.is_some(), "{mode:?} has no way out");
    }
}
