//! Deeds of which nobody says the kind or the surface: they are what the piece is asked for next.

use super::world::{World, holds, moment, rules, sample, texts};
use chrono::{DateTime, TimeDelta};
use serde_json::{Value, json};

/// A shop with one more recipe and a body on it.
fn shop(recipe: &str) -> World {
    let world = World::new();
    world
        .at("2026-03-02 06:00")
        .run(&format!(
            "recipe adopt '{}'",
            sample(&format!("recipes/{recipe}.toml"))
        ))
        .good();
    world.piece("2026-03-02 07:00", "B-0801", &recipe.to_uppercase(), "");
    world
}

/// The command that logs a deed of a kind without naming it.
fn bare(kind: &str) -> String {
    match kind {
        "wash" | "fill" | "colour" | "seal" | "clear" => "coat B-0801".to_owned(),
        "scuff" | "level-sand" | "final-sand" => "sand B-0801".to_owned(),
        // A cure that is a deed is one under a lamp.
        "cure" => "light B-0801 --dose 960mJ/cm2 --peak 80mW/cm2".to_owned(),
        other => format!("done {other} B-0801"),
    }
}

/// Plays a body by nothing but what the outlook asks for, each deed as soon as it may be done, up to its mating. Gives
/// each saved deed as `kind on surfaces`.
fn life(world: &World) -> Vec<String> {
    let mut at = moment("2026-03-02 07:10");
    let mut deeds = Vec::new();
    for _ in 0..60 {
        let now = at.format("%Y-%m-%d %H:%M").to_string();
        let seen = world.at(&now).json("piece show B-0801");
        let kind = seen["next_step"].as_str().unwrap_or_default();
        if kind == "mate" {
            return deeds;
        }
        let ready = seen["ready_at"].as_str().unwrap();
        let ready = DateTime::parse_from_rfc3339(ready).unwrap().naive_local();
        if ready > at {
            at = ready;
            continue;
        }
        let deed = bare(kind);
        // Whoever buffed it does not inspect it.
        let person = if kind == "inspect" { "GR" } else { "MK" };
        let desk = world.at(&now).person(person);
        let plan = desk.json(&format!("{deed} --preview"));
        let piece = &plan["pieces"][0];
        assert_eq!(piece["objections"], json!([]), "{now}: {deed}: {plan}");
        let saved = desk.json(&deed);
        assert_eq!(saved["deviations"], json!([]), "{now}: {deed}: {saved}");
        let on = piece["surface"].as_str().unwrap();
        deeds.push(format!("{kind} on {on}"));
        at += TimeDelta::minutes(5);
    }
    panic!("no end: {deeds:?}");
}

fn count(deeds: &[String], wanted: &str) -> usize {
    deeds.iter().filter(|d| *d == wanted).count()
}

fn against(plan: &Value) -> Vec<&str> {
    rules(&plan["pieces"][0]["objections"])
}

#[test]
fn a_coat_without_a_kind_is_the_one_that_the_piece_shows_as_next() {
    let world = shop("rx9");
    world
        .at("2026-03-02 07:10")
        .run("done receive B-0801")
        .good();
    world.at("2026-03-02 07:20").run("done mask B-0801").good();
    let wash = world.at("2026-03-02 08:00").json("coat B-0801");
    assert_eq!(
        wash["line"],
        "B-0801 - wash coat 1 on back, sides - ended 08:00"
    );
    let desk = world.at("2026-03-02 09:30");
    holds(
        &desk.run("piece show B-0801").good().out,
        &["next: fill 1 of 2 on back, sides  ready"],
    );
    let plan = desk.json("coat B-0801 --preview");
    assert_eq!(
        plan["line"],
        "B-0801 - fill coat 1 on back, sides - ended 09:30"
    );
    assert_eq!(against(&plan), Vec::<&str>::new());
    // What is begun without a kind is the same deed, and its end knows where it was begun.
    let begun = desk.json("begin B-0801");
    assert_eq!(
        begun["line"],
        "B-0801 - fill begun on back, sides - at 09:30"
    );
    let ended = world.at("2026-03-02 09:50").json("end B-0801");
    holds(
        ended["line"].as_str().unwrap(),
        &["fill coat 1 on back, sides"],
    );
    // The unfilled top may have its seal coat meanwhile: it is named, for the filled back speaks for the piece.
    let plan = world
        .at("2026-03-02 10:00")
        .json("coat B-0801 --kind seal --surface top --preview");
    assert_eq!(against(&plan), Vec::<&str>::new());
}

#[test]
fn the_end_of_a_deed_is_where_it_was_begun() {
    let world = shop("rx9");
    world
        .at("2026-03-02 07:10")
        .run("done receive B-0801")
        .good();
    world.at("2026-03-02 07:20").run("done mask B-0801").good();
    world
        .at("2026-03-02 08:00")
        .run("begin seal B-0801 --surface top")
        .good();
    let ended = world.at("2026-03-02 08:10").json("end B-0801");
    holds(ended["line"].as_str().unwrap(), &["seal coat 1 on top"]);
}

#[test]
fn a_body_with_two_schedules_lives_by_deeds_without_a_kind() {
    let deeds = life(&shop("rx9"));
    for (wanted, times) in [
        ("wash on back, sides", 1),
        ("fill on back, sides", 2),
        ("colour on top", 1),
        ("clear on whole", 9),
        ("level-sand on whole", 2),
        ("final-sand on whole", 1),
        ("buff on whole", 3),
        ("inspect on whole", 1),
    ] {
        assert_eq!(count(&deeds, wanted), times, "{wanted}: {deeds:?}");
    }
    // Two seal coats for the back and the sides; the top had its one with the first of them.
    assert_eq!(count(&deeds, "seal on whole"), 1, "{deeds:?}");
    assert_eq!(count(&deeds, "seal on back, sides"), 1, "{deeds:?}");
}

#[test]
fn every_finish_of_the_sample_lives_by_deeds_without_a_kind() {
    for recipe in ["cv3", "ov5", "pu5", "sh12", "uv4", "wb8"] {
        let deeds = life(&shop(recipe));
        assert!(deeds.len() > 6, "{recipe}: {deeds:?}");
    }
}

#[test]
fn where_surfaces_are_asked_for_different_deeds_each_verb_finds_its_own() {
    let world = shop("rx9");
    life_to_first_set(&world);
    // The top is levelled and asked for its second set, the back and the sides are not.
    let desk = world.at("2026-03-09 08:00");
    desk.run("sand B-0801 --surface top").good();
    let coat = world.at("2026-03-09 09:00").json("coat B-0801 --preview");
    assert_eq!(
        coat["line"],
        "B-0801 - clear coat 4 on top - ended 09:00 EDT"
    );
    assert_eq!(against(&coat), Vec::<&str>::new());
    let named = world
        .at("2026-03-09 09:00")
        .json("coat B-0801 --kind clear --preview");
    assert_eq!(named["line"], coat["line"]);
    let sand = world.at("2026-03-09 09:00").json("sand B-0801 --preview");
    assert_eq!(
        sand["line"],
        "B-0801 - level sand 1 on back, sides - ended 09:00 EDT"
    );
    assert_eq!(against(&sand), Vec::<&str>::new());
    // Nobody is kept from saying that the whole body was sprayed: then the order is named.
    let whole = world
        .at("2026-03-09 09:00")
        .json("coat B-0801 --surface top,back,sides --preview");
    assert_eq!(against(&whole), ["order"]);
}

fn life_to_first_set(world: &World) {
    let deeds = [
        ("2026-03-02 07:10", "done receive B-0801"),
        ("2026-03-02 07:20", "done mask B-0801"),
        ("2026-03-02 08:00", "coat B-0801"),
        ("2026-03-02 09:30", "coat B-0801"),
        ("2026-03-03 09:30", "coat B-0801"),
        ("2026-03-06 09:30", "coat B-0801"),
        ("2026-03-06 10:30", "coat B-0801"),
        ("2026-03-06 11:30", "coat B-0801"),
        ("2026-03-08 08:00", "coat B-0801"),
        ("2026-03-08 09:30", "coat B-0801"),
        ("2026-03-08 11:00", "coat B-0801"),
    ];
    for (at, deed) in deeds {
        let saved = world.at(at).json(deed);
        assert_eq!(saved["deviations"], json!([]), "{at} {deed}: {saved}");
    }
}

#[test]
fn a_rack_votes_by_what_its_pieces_show() {
    let world = shop("rx9");
    let mut list = String::from("serial,kind,model,recipe,area,rack,hook,room\n");
    for hook in 1..=4 {
        list.push_str(&format!(
            "B-09{hook:02},body,Arden,RX9,0.40 m2,R7,{hook},booth 1\n"
        ));
    }
    let file = world.file("R7.csv", &list);
    world
        .at("2026-03-02 07:00")
        .run(&format!("piece import '{}'", file.display()))
        .good();
    world
        .at("2026-03-02 07:10")
        .run("done receive --rack R7")
        .good();
    world
        .at("2026-03-02 07:20")
        .run("done mask --rack R7")
        .good();
    world.at("2026-03-02 08:00").run("coat --rack R7").good();
    let plan = world
        .at("2026-03-02 09:30")
        .json("coat --rack R7 --preview");
    assert_eq!(
        plan["line"],
        "Rack R7 - fill coat 1 on back, sides - 4 pieces - ended 09:30"
    );
    assert_eq!(texts(&plan["pieces"], "surface"), ["back, sides"; 4]);
    assert!(
        plan["pieces"]
            .as_array()
            .unwrap()
            .iter()
            .all(|p| p["objections"] == json!([])),
        "{plan}"
    );
}

#[test]
fn what_must_be_scuffed_first_is_scuffed_by_a_bare_sanding() {
    let world = World::new();
    world.piece("2026-03-01 07:00", "B-0801", "G9", "");
    world.bring_to("B-0801", 1, "2026-03-05 10:00", "");
    let desk = world.at("2026-03-09 08:00");
    holds(
        &desk.run("piece show B-0801").good().out,
        &["scuff, then clear 2 of 9"],
    );
    let plan = desk.json("sand B-0801 --preview");
    assert_eq!(plan["line"], "B-0801 - scuff - ended 08:00 EDT");
    // It is not among those that can be coated: a coat would leave it out.
    let coat = desk.json("ready --for clear");
    assert!(!coat.to_string().contains("B-0801"), "{coat}");
    assert!(
        desk.json("ready --for scuff")
            .to_string()
            .contains("B-0801")
    );
    assert_eq!(against(&plan), Vec::<&str>::new());
}
