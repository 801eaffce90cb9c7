//! A power cut: blank forms that the room goes on with, and keying them in when the power is back.

use super::world::{World, holds};

fn shop() -> World {
    let world = World::new();
    world.rack("2026-03-03 07:00", "R12", 201, 3);
    world.bring_to(
        "--rack R12",
        2,
        "2026-03-06 10:00",
        "--mix 1 --amount 144mL",
    );
    world
        .at("2026-03-06 10:05")
        .run("hold B-0203 --why '<dent> by the heel'")
        .good();
    world
}

#[test]
fn the_forms_have_a_number_on_every_line_and_say_what_was_next_on_each_hook_and_when() {
    let world = shop();
    let desk = world.at("2026-03-06 10:30");
    let made = desk.json("forms forms.html --rack R12");
    assert_eq!(made["form"], "F260306-1030");
    assert_eq!(made["sheets"], 5);
    let page = std::fs::read_to_string(world.home().join("forms.html")).unwrap();
    for title in [
        "Booth log",
        "Mix sheet",
        "Booth check",
        "Defect slip",
        "Rack R12",
    ] {
        holds(&page, &[&format!("<h1>DEMO {title}</h1>")]);
    }
    let last = made["lines"].as_u64().unwrap();
    for line in 1..=last {
        let cell = format!("<td class=\"n\">{line}</td>");
        assert_eq!(page.matches(&cell).count(), 1, "line {line}");
    }
    assert_eq!(page.matches("<td class=\"n\">").count() as u64, last);
    assert_eq!(page.matches("Form <b>F260306-1030</b>").count(), 5);
    // The next coat waits until 11:30, 90 min after the last; a held piece has no moment, and its text is no mark-up.
    holds(
        &page,
        &[
            "as of ",
            "clear 3 of 9",
            "11:30",
            "&lt;dent&gt;",
            "check by hand",
        ],
    );
    assert!(!page.contains("<dent>"));
    let held = page.lines().find(|l| l.contains("B-0203")).unwrap();
    assert!(!held.contains("11:30"), "{held}");
    // It needs nothing besides itself.
    for outside in ["http", "src=", "<link", "<script", "url("] {
        assert!(!page.contains(outside), "{outside}");
    }
    holds(
        &desk.run("forms forms.html").refused(2),
        &["exists already"],
    );
    holds(
        &desk.run("forms forms.txt").refused(2),
        &["does not end in .html"],
    );
    holds(
        &desk.run("forms other.html --rack R99").refused(2),
        &["rack \"R99\" has no pieces"],
    );
    assert_eq!(desk.json("forms blank.html")["sheets"], 4);
    assert_eq!(desk.json("forms floor.html --floor")["sheets"], 5);
}
