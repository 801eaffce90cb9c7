//! Printed tags: what is on the sheet, what is refused, and that a real reader reads it.

use super::world::{World, holds, texts};
use std::path::Path;
use std::process::Command;

fn shop() -> World {
    let world = World::new();
    world.rack("2026-03-10 07:00", "R12", 201, 3);
    world.piece("2026-03-10 07:00", "B-0301", "G9", "--tag T-88");
    world
}

#[test]
fn a_rack_is_printed_with_its_pieces_and_a_tagged_piece_with_its_tag() {
    let world = shop();
    let desk = world.at("2026-03-10 08:00");
    let made = desk.json("tags sheet.svg --rack R12 --piece B-0301 --mix 1");
    assert_eq!(
        texts(&made["tags"], "code"),
        ["HTMIX1", "R12", "B-0201", "B-0202", "B-0203", "T-88"]
    );
    let sheet = std::fs::read_to_string(world.home().join("sheet.svg")).unwrap();
    holds(&sheet, &["Rack R12", "body Arden, G9 rev 3", ">B-0301<"]);
    let controls = desk.json("tags controls.html --controls");
    let codes = texts(&controls["tags"], "code");
    for wanted in [
        "HTSAVE",
        "HTUNDO",
        "HTCOAT",
        "HTSAND",
        "HTAGO10",
        "HTFLAWRUN",
    ] {
        assert!(codes.contains(&wanted), "{wanted}: {codes:?}");
    }
    let whole = desk.json("tags floor.html --floor");
    assert_eq!(whole["tags"].as_array().unwrap().len(), 5);
}

#[test]
fn a_page_is_never_written_over_and_what_is_missing_is_named() {
    let world = shop();
    let desk = world.at("2026-03-10 08:00");
    desk.run("tags sheet.svg --rack R12").good();
    for (line, wanted) in [
        ("tags sheet.svg --rack R12", "exists already"),
        ("tags sheet.pdf --rack R12", "neither .html nor .svg"),
        ("tags other.svg", "no tag is asked for"),
        ("tags other.svg --rack R99", "rack \"R99\" has no pieces"),
        ("tags other.svg --mix 9", "mix 9 was not made"),
        ("tags none/other.svg --rack R12", "cannot be written"),
    ] {
        holds(&desk.run(line).refused(2), &[wanted]);
    }
    assert!(!world.home().join("other.svg").exists());
}

#[test]
fn no_piece_tag_or_rack_takes_the_name_of_a_control() {
    let world = shop();
    let desk = world.at("2026-03-10 08:00");
    let add = "piece add HTCOAT --kind body --model Arden --recipe G9 --area 0.4m2";
    holds(
        &desk.run(add).refused(2),
        &["serial \"HTCOAT\" is the control tag \"coat\""],
    );
    holds(
        &desk
            .run("tag B-0301 htsave --why 'lost in the spray'")
            .refused(2),
        &["tag \"htsave\" is the control tag"],
    );
    holds(
        &desk
            .run("move B-0301 --to-rack HTMIX12 --hook 1")
            .refused(2),
        &["rack \"HTMIX12\" is the control tag"],
    );
}

// What a real reader finds in a picture of the sheet; `None` where the programs are not here.
fn read(sheet: &Path) -> Option<Vec<String>> {
    let picture = sheet.with_extension("png");
    Command::new("rsvg-convert")
        .args(["-d", "300", "-p", "300", "-o"])
        .arg(&picture)
        .arg(sheet)
        .status()
        .ok()
        .filter(std::process::ExitStatus::success)?;
    let found = Command::new("zbarimg")
        .arg("-q")
        .arg(&picture)
        .output()
        .ok()?;
    let text = String::from_utf8(found.stdout).unwrap();
    Some(text.lines().map(str::to_owned).collect())
}

#[test]
#[allow(clippy::print_stderr, reason = "says that it was not run")]
fn a_real_reader_reads_every_bar_and_every_square() {
    let world = shop();
    let desk = world.at("2026-03-10 08:00");
    let made = desk.json("tags sheet.svg --rack R12 --piece B-0301 --mix 1");
    let Some(mut found) = read(&world.home().join("sheet.svg")) else {
        eprintln!("skipped: rsvg-convert and zbarimg are not both here to read a printed sheet");
        return;
    };
    let mut wanted: Vec<String> = texts(&made["tags"], "code")
        .into_iter()
        .flat_map(|code| [format!("CODE-128:{code}"), format!("QR-Code:{code}")])
        .collect();
    found.sort();
    wanted.sort();
    assert_eq!(found, wanted);
}

#[test]
fn a_picture_shows_the_page_and_saves_nothing() {
    let world = shop();
    let desk = world.at("2026-03-10 08:00");
    let head = desk.run("verify").good().out;
    desk.run("picture page.svg R12 c Enter --size 100x30")
        .good();
    let page = std::fs::read_to_string(world.home().join("page.svg")).unwrap();
    holds(
        &page,
        &[
            "Rack R12 - seal coat 1",
            "<svg",
            "width=\"900\" height=\"540\"",
        ],
    );
    assert_eq!(desk.run("verify").good().out, head);
    holds(
        &desk.run("last").good().out,
        &["last saved: B-0301 - take in"],
    );
    for (line, wanted) in [
        ("picture page.svg", "exists already"),
        ("picture other.svg --size 10x10", "outside 40x8 to 400x200"),
        (
            "picture other.svg --form sepia",
            "form \"sepia\" is not known",
        ),
    ] {
        holds(&desk.run(line).refused(2), &[wanted]);
    }
    // The same moment, the same bytes.
    desk.run("picture again.svg R12 c Enter --size 100x30")
        .good();
    let again = std::fs::read_to_string(world.home().join("again.svg")).unwrap();
    assert_eq!(again, page);
}
