//! Recipes and materials: the list, what it is searched for, a sheet, and two revisions side by side.

use crate::desk::{Desk, styles};
use crate::shop::{Bench, stamp, who};
use hangtime::screens::keys::Key;
use hangtime::screens::theme::{Form, Theme};

const SIZES: [(u16, u16); 4] = [(60, 16), (80, 24), (120, 40), (250, 70)];

/// The shop's morning with two revisions of G9 more and a later sheet of CLR.
fn desk() -> Desk {
    let (mut bench, now) = Bench::morning();
    let (w, s) = (who("MB"), stamp(now));
    let g9 = text("recipes/g9.toml");
    let four = g9
        .replace("revision = 3", "revision = 4")
        .replacen(
            "between = \"90 min\"",
            "between = \"100 min\" # from memory, to be confirmed",
            1,
        )
        .replace("name = \"unmask\"", "name = \"unmask and look\"");
    let five = four
        .replace("revision = 4", "revision = 5")
        .replace("hours = \"336 h\"", "hours = \"400 h\"");
    for recipe in [&four, &five] {
        bench
            .ledger
            .adopt_recipe("g9.toml", recipe, &w, &s)
            .unwrap();
    }
    let clr = text("materials/clr.toml")
        .replace("rev 4", "rev 5")
        .replace("2025-11-03", "2026-02-01");
    bench
        .ledger
        .adopt_material("clr.toml", &clr, &w, &s)
        .unwrap();
    let mut desk = Desk::sit(bench, now, Some("AB"));
    desk.key(Key::F(7));
    desk
}

fn text(file: &str) -> String {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample");
    std::fs::read_to_string(folder.join(file)).unwrap()
}

fn at_every_size(name: &str, mut desk: Desk) {
    for (columns, rows) in SIZES {
        desk.size(columns, rows);
        insta::assert_snapshot!(format!("{name}_{columns}x{rows}"), desk.snapshot());
    }
}

#[test]
fn the_list_reads_at_four_sizes() {
    at_every_size("recipes", desk());
}

#[test]
fn a_recipe_reads_at_four_sizes() {
    let mut desk = desk();
    desk.key(Key::Enter);
    at_every_size("recipe", desk);
}

#[test]
fn a_data_sheet_reads_at_four_sizes() {
    let mut desk = desk();
    desk.keys("/bench clear");
    desk.key(Key::Enter);
    desk.key(Key::Down);
    desk.key(Key::Enter);
    at_every_size("material", desk);
}

#[test]
fn two_revisions_read_at_four_sizes() {
    let mut desk = desk();
    desk.keys("c");
    desk.keys("[");
    at_every_size("beside", desk);
}

#[test]
fn the_list_counts_the_pieces_on_each_revision() {
    let mut desk = desk();
    let text = desk.text();
    let row = |begins: &str| {
        let found = text.lines().find(|l| l.contains(begins));
        found
            .unwrap_or_else(|| panic!("{begins}\n{text}"))
            .to_owned()
    };
    assert!(row("▸G9").contains("none"), "{text}");
    assert!(row(" 3     ").contains("18 pieces"), "{text}");
    assert!(row("N8 ").contains("12 pieces"), "{text}");
    // The date of a sheet gives way to its hazards, and stands where there is room for both.
    assert!(
        row("CLR").contains("nitrocellulose, flammable liquid"),
        "{text}"
    );
    desk.size(120, 40);
    let text = desk.text();
    let row = text.lines().find(|l| l.contains("CLR")).unwrap();
    assert!(row.contains("2026-02-01"), "{text}");
    assert!(row.contains("nitrocellulose, flammable liquid"), "{text}");
}

#[test]
fn the_list_is_searched_as_one_types_and_esc_drops_the_text() {
    let mut desk = desk();
    desk.keys("/tolu");
    let text = desk.text();
    assert!(text.contains("find: tolu_"), "{text}");
    assert!(text.contains("CLR") && !text.contains("G9 "), "{text}");
    desk.key(Key::Enter);
    assert!(
        desk.text().contains("find: tolu"),
        "the text stays in sight"
    );
    desk.key(Key::Esc);
    assert!(desk.text().contains("G9"), "{}", desk.text());
    desk.keys("/zzz");
    assert!(desk.text().contains("nothing holds this text"));
    desk.key(Key::Enter);
    desk.key(Key::Enter);
    assert!(desk.model.stack.is_empty(), "there is nothing to open");
    // A second Esc leaves the place.
    desk.key(Key::Esc);
    desk.key(Key::Esc);
    assert!(desk.text().contains("the floor"));
}

#[test]
fn a_sheet_opens_with_one_key_and_compares_with_a_second() {
    let mut desk = desk();
    desk.size(250, 70);
    desk.key(Key::Enter);
    let page = desk.text();
    for wanted in [
        "G9 rev 5  Body, closed pore",
        "in process on it: none",
        "(between: from memory, to be confirmed)",
        "400 h",
        "rework RW3 Three clears over the surface",
        "the file says: Bodies of octave mandolins",
    ] {
        assert!(page.contains(wanted), "{wanted}\n{page}");
    }
    desk.size(120, 60);
    desk.keys("c");
    let page = desk.text();
    assert!(page.contains("≠ changed"), "{page}");
    assert!(page.contains("336 h") && page.contains("400 h"), "{page}");
    assert!(page.contains("1 changed, 26 same"), "{page}");
    desk.keys("d");
    let page = desk.text();
    assert!(
        !page.contains("receive") && page.contains("400 h"),
        "{page}"
    );
    desk.keys("[");
    let page = desk.text();
    assert!(
        page.contains("G9 rev 3") && page.contains("- gone"),
        "{page}"
    );
    desk.keys("[");
    assert!(desk.text().contains("no older revision is adopted"));
    desk.keys("]");
    assert!(desk.text().contains("G9 rev 4"));
    desk.keys("c");
    assert!(desk.text().contains("G9 rev 5  Body"));
    desk.key(Key::Esc);
    // A code with one revision has nothing to be held against.
    desk.keys("/N8");
    desk.key(Key::Enter);
    desk.keys("c");
    assert!(
        desk.text().contains("N8 has this one revision only"),
        "{}",
        desk.text()
    );
}

#[test]
fn a_long_recipe_scrolls_to_its_end() {
    let mut desk = desk();
    desk.size(60, 16);
    desk.key(Key::Enter);
    assert!(!desk.text().contains("the file says"));
    desk.key(Key::End);
    assert!(desk.text().contains("um finished."), "{}", desk.text());
    desk.keys("c");
    desk.key(Key::End);
    assert!(desk.text().contains("0 below"), "{}", desk.text());
}

#[test]
fn what_differs_is_marked_without_colour_and_without_utf8() {
    let mut desk = desk();
    desk.model.shop.theme = Theme {
        form: Form::Plain,
        shapes: false,
    };
    desk.size(120, 60);
    desk.keys("c[");
    let page = desk.text();
    assert!(page.is_ascii(), "{page}");
    for wanted in ["! changed", "+ new", "- gone"] {
        assert!(page.contains(wanted), "{wanted}\n{page}");
    }
    assert!(!styles(&desk.buffer()).contains("g "), "a colour is left");
}

#[test]
fn an_empty_shelf_says_which_command_fills_it() {
    let folder = tempfile::tempdir().unwrap();
    let shop = hangtime::ledger::NewShop {
        name: "Two benches".to_owned(),
        zone: "America/New_York".to_owned(),
        day_start: 5,
        demo: true,
    };
    let now = hangtime::units::Moment(1_773_061_200_000);
    let path = folder.path().join("new.ledger");
    let ledger = hangtime::ledger::Ledger::create(&path, &shop, &who("MB"), &stamp(now)).unwrap();
    let mut desk = Desk::sit(Bench { ledger, folder }, now, Some("MB"));
    let floor = desk.text();
    assert!(floor.contains("No piece is in process yet."), "{floor}");
    assert!(floor.contains(":recipe adopt FILE"), "{floor}");
    desk.key(Key::F(7));
    let shelf = desk.text();
    for wanted in [":recipe adopt FILE", ":material adopt FILE"] {
        assert!(shelf.contains(wanted), "{wanted}\n{shelf}");
    }
}
