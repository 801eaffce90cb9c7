//! Finishes that form their film in other ways: each recipe of the sample with its own clocks, played through the
//! commands and held to the figures of its file.

use super::world::{Desk, World, holds, rules, sample};

/// A shop with one more recipe and its materials, and a body on it that is masked.
fn shop(recipe: &str, materials: &[&str], lots: &[&str]) -> World {
    let world = World::new();
    let desk = world.at("2026-03-02 06:00");
    for material in materials {
        desk.run(&format!(
            "material adopt '{}'",
            sample(&format!("materials/{material}.toml"))
        ))
        .good();
    }
    desk.run(&format!(
        "recipe adopt '{}'",
        sample(&format!("recipes/{recipe}.toml"))
    ))
    .good();
    for lot in lots {
        desk.run(&format!("lot receive {lot}")).good();
    }
    world.piece("2026-03-02 07:00", "B-0701", &recipe.to_uppercase(), "");
    world
        .at("2026-03-02 07:10")
        .run("receive B-0701 --grit P220 --moisture 7%")
        .good();
    world.at("2026-03-02 07:20").run("mask B-0701").good();
    world
}

/// What speaks against a deed, by its rules, without saving it.
fn against(desk: &Desk<'_>, deed: &str) -> Vec<String> {
    let plan = desk.json(&format!("{deed} --preview"));
    rules(&plan["pieces"][0]["objections"])
        .into_iter()
        .map(str::to_owned)
        .collect()
}

fn before(desk: &Desk<'_>, deed: &str) -> String {
    desk.run(&format!("{deed} --preview")).good().out
}

const NONE: [&str; 0] = [];

#[test]
fn a_two_component_mix_stands_lives_and_is_over() {
    let world = shop("pu5", &["pur", "hdn"], &["P-1 PUR 20L", "H-1 HDN 5L"]);
    world
        .at("2026-03-02 08:00")
        .run("mix make 'two-part' P-1=0.80L H-1=0.20L")
        .good();
    let coat = "coat B-0701 --mix 2";
    // It stands ten minutes first, then may be used for four hours from the mixing.
    let early = world.at("2026-03-02 08:05");
    holds(&before(&early, coat), &["the mix stands until 08:10"]);
    assert_eq!(against(&world.at("2026-03-02 08:10"), coat), NONE);
    assert_eq!(against(&world.at("2026-03-02 12:00"), coat), NONE);
    let late = world.at("2026-03-02 12:01");
    assert_eq!(against(&late, coat), ["pot-life"]);
    holds(
        &before(&late, coat),
        &["the mix is 4 h 01 min old, its pot life is 4 h"],
    );
    // At 30 C with 50 kJ/mol four hours become 2.03 h (coatings reference, other mechanisms).
    let warm = format!("{coat} --air 30C");
    assert_eq!(against(&world.at("2026-03-02 10:01"), &warm), NONE);
    assert_eq!(against(&world.at("2026-03-02 10:02"), &warm), ["pot-life"]);
    // Too cold and too damp are said with their limits.
    let cold = world.at("2026-03-02 09:00");
    holds(
        &before(&cold, &format!("{coat} --air 14.9C --humidity 76")),
        &["air 14.9 C is below 15.0 C", "humidity 76 % is above 75 %"],
    );
    // A top-up makes nothing younger: the pot life counts from the first mixing.
    world
        .at("2026-03-02 11:00")
        .run("mix make 'two-part again' --tops-up 2 P-1=0.80L H-1=0.20L")
        .good();
    assert_eq!(
        against(&world.at("2026-03-02 12:01"), "coat B-0701 --mix 3"),
        ["pot-life"]
    );
}

#[test]
fn after_its_window_a_coat_that_does_not_melt_wants_a_scuff() {
    let world = shop("pu5", &["pur", "hdn"], &["P-1 PUR 20L", "H-1 HDN 5L"]);
    world
        .at("2026-03-02 08:00")
        .run("mix make a P-1=1L H-1=0.25L")
        .good();
    world
        .at("2026-03-02 08:30")
        .run("coat B-0701 --mix 2")
        .good();
    world
        .at("2026-03-02 10:30")
        .run("coat B-0701 --mix 2")
        .good();
    world
        .at("2026-03-03 10:00")
        .run("mix make b P-1=1L H-1=0.25L")
        .good();
    let coat = "coat B-0701 --mix 3";
    assert_eq!(against(&world.at("2026-03-03 10:30"), coat), NONE);
    assert_eq!(
        against(&world.at("2026-03-03 10:31"), coat),
        ["scuff-first"]
    );
    world
        .at("2026-03-03 10:40")
        .run("sand B-0701 --kind scuff --grit P320")
        .good();
    assert_eq!(against(&world.at("2026-03-03 10:50"), coat), NONE);
    let recipe = world.now().json("recipe show PU5 1");
    assert_eq!(recipe["melts"], false);
    assert_eq!(world.now().json("recipe show G9 3")["melts"], true);
}

#[test]
fn an_acid_catalysed_film_has_a_cap_of_three_mil() {
    let world = shop("cv3", &["cvl", "cat"], &["V-1 CVL 20L", "K-1 CAT 5L"]);
    world
        .at("2026-03-02 08:00")
        .run("mix make day V-1=1L K-1=0.1L")
        .good();
    for (at, deed) in [
        ("2026-03-02 08:10", "coat B-0701 --mix 2"),
        ("2026-03-02 10:10", "sand B-0701 --grit P320"),
        ("2026-03-02 10:30", "coat B-0701 --mix 2"),
        ("2026-03-02 11:30", "coat B-0701 --mix 2"),
    ] {
        let saved = world.at(at).json(deed);
        assert_eq!(saved["deviations"], serde_json::json!([]), "{deed}");
    }
    // What the can warns of is said where it is opened.
    let said = world.now().run("cautions CAT --when mixing").good().out;
    holds(&said, &["Acid hardener burns skin and eyes"]);
    // The mix has 26.8 % solids where the recipe is stated for 28 %: 23.9 um a coat, 68.8 um after the scuff; one more
    // makes 92.8, and 3 mil are 76.
    let more = world.at("2026-03-02 13:00");
    let text = before(&more, "coat B-0701 --mix 2 --another");
    holds(&text, &["film 92.8 um with this coat, more than 76.0 um"]);
    assert_eq!(
        against(&world.at("2026-03-02 16:01"), "coat B-0701 --mix 2"),
        ["extra-coat", "pot-life", "film-cap"]
    );
}

#[test]
fn a_waterborne_film_wants_warm_and_dry_air_and_its_hours_count_by_both() {
    let world = shop("wb8", &["wbl"], &["W-1 WBL 20L"]);
    let desk = world.at("2026-03-02 08:00");
    let cold = before(&desk, "coat B-0701 --lot W-1 --air 12.5C --humidity 70");
    holds(
        &cold,
        &[
            "air 12.5 C is below 15.6 C",
            "less than 3 K above 10.0 C, at which the film forms (3 K: from memory, to be confirmed)",
            "humidity 70 % is above 65 %",
        ],
    );
    desk.run("room declare 'cure room' --every 12h").good();
    desk.run("move B-0701 --room 'cure room'").good();
    let mut day = 2;
    for (n, hour) in (0..8).map(|n| (n, 9 + n % 4)) {
        if n == 4 {
            day = 3;
            world
                .at("2026-03-03 08:00")
                .run("sand B-0701 --grit P400")
                .good();
        }
        let at = format!("2026-03-0{day} {hour:02}:00");
        world.at(&at).run("coat B-0701 --lot W-1").good();
    }
    // Four days at 18 C and 65 %: an hour counts 0.580 of one at 21 C and 50 % (coatings reference: 0.581, rounded
    // down to thousandths here). From the last coat, Tue 3 Mar 12:00, to Sat 7 Mar 12:00 are 96 h: 55.68 h.
    let mut list = String::from("time,temperature,humidity\n");
    for date in ["02", "03", "04", "05", "06", "07"] {
        list.push_str(&format!(
            "2026-03-{date} 00:00,18.0,65\n2026-03-{date} 12:00,18.0,65\n"
        ));
    }
    world.readings("2026-03-07 12:00", "cure room", &list);
    let card = world.at("2026-03-07 12:00").json("piece show B-0701");
    assert_eq!(card["cure"]["wanted_h"], 240.0);
    assert_eq!(card["cure"]["credited_h"], 55.68);
}

#[test]
fn shellac_rests_overnight_after_every_fourth_coat() {
    let world = shop("sh12", &["shl"], &["S-1 SHL 10L"]);
    for hour in 8..12 {
        let saved = world
            .at(&format!("2026-03-02 {hour:02}:00"))
            .json("coat B-0701 --lot S-1");
        assert_eq!(saved["deviations"], serde_json::json!([]));
    }
    let coat = "coat B-0701 --lot S-1";
    assert_eq!(against(&world.at("2026-03-02 12:00"), coat), ["interval"]);
    holds(
        &before(&world.at("2026-03-02 12:00"), coat),
        &["earliest 23:00", "12 h after the last coat"],
    );
    assert_eq!(against(&world.at("2026-03-02 23:00"), coat), NONE);
    holds(
        &before(
            &world.at("2026-03-03 08:00"),
            &format!("{coat} --humidity 71"),
        ),
        &["humidity 71 % is above 70 %"],
    );
}

#[test]
fn an_oil_varnish_takes_one_coat_a_day() {
    let world = shop("ov5", &["ovn"], &["O-1 OVN 10L"]);
    world
        .at("2026-03-02 09:00")
        .run("coat B-0701 --lot O-1")
        .good();
    let coat = "coat B-0701 --lot O-1";
    assert_eq!(
        against(&world.at("2026-03-02 15:00"), coat),
        ["interval", "daily-cap"]
    );
    assert_eq!(against(&world.at("2026-03-03 09:00"), coat), NONE);
    assert_eq!(
        against(&world.at("2026-03-04 09:01"), coat),
        ["scuff-first"]
    );
    // Rags of it heat up by themselves: said where the material is asked about.
    let said = world.now().run("cautions OVN").good().out;
    holds(&said, &["heat up by themselves"]);
}

#[test]
fn a_cure_under_the_lamp_is_a_deed_with_a_dose() {
    let world = shop("uv4", &["uvl"], &["U-1 UVL 10L"]);
    world
        .at("2026-03-02 09:00")
        .run("coat B-0701 --lot U-1")
        .good();
    world
        .at("2026-03-02 09:05")
        .run("coat B-0701 --lot U-1")
        .good();
    let card = world.at("2026-03-02 09:06").json("piece show B-0701");
    assert_eq!(card["next"], "lamp 1");
    assert_eq!(card["outlook"], "ready");
    // Half the time under the lamp is half the dose: 80 mW/cm2 for 12 s are 960 mJ/cm2 (coatings reference).
    let short = world.at("2026-03-02 09:10");
    holds(
        &before(&short, "light B-0701 --dose 480mJ/cm2 --peak 80mW/cm2"),
        &["dose 480 mJ/cm2, recipe 960 mJ/cm2"],
    );
    // What was not measured is unknown, and no dose.
    holds(
        &before(&short, "light B-0701"),
        &[
            "dose unknown, recipe 960 mJ/cm2",
            "peak unknown, recipe 80 mW/cm2",
        ],
    );
    holds(
        &before(&short, "light B-0701 --dose 960mJ/cm2 --peak 60mW/cm2"),
        &["peak 60 mW/cm2, recipe 80 mW/cm2"],
    );
    let saved = short.json("light B-0701 --dose 960mJ/cm2 --peak 80mW/cm2 --lamp 'lamp A'");
    assert_eq!(saved["deviations"], serde_json::json!([]));
    let card = world.at("2026-03-02 09:12").json("piece show B-0701");
    assert_eq!(card["next"], "scuff");
    let said = world.now().run("cautions UVL --when curing").good().out;
    holds(&said, &["burns eyes and skin"]);
}

#[test]
fn a_filled_spot_dries_before_it_is_levelled_and_the_cure_goes_on() {
    let world = shop(
        "rx9",
        &["opf", "dys"],
        &["F-1 OPF 4L", "S-1 SLR 10L", "D-1 DYS 1L"],
    );
    let coat = |at: &str, deed: &str| {
        let saved = world.at(at).json(deed);
        assert_eq!(saved["deviations"], serde_json::json!([]), "{at} {deed}");
    };
    coat("2026-03-02 08:00", "coat B-0701 --kind wash --lot S-1");
    coat("2026-03-02 09:00", "coat B-0701 --kind fill --lot F-1");
    coat("2026-03-03 09:00", "coat B-0701 --kind fill --lot F-1");
    // The top has no filler to wait for; the back waits three days after the second one.
    coat(
        "2026-03-02 10:00",
        "coat B-0701 --kind seal --surface top --lot S-1",
    );
    coat(
        "2026-03-02 11:00",
        "coat B-0701 --kind colour --lot D-1 --batch C-7 --panel P-2 --judged KV",
    );
    coat(
        "2026-03-06 09:00",
        "coat B-0701 --kind seal --surface back,sides --lot S-1 --rub powder",
    );
    coat(
        "2026-03-06 10:00",
        "coat B-0701 --kind seal --surface back,sides --lot S-1",
    );
    let card = world.at("2026-03-06 11:00").json("piece show B-0701");
    assert_eq!(card["next"], "clear 1 of 9");
    // The top was coloured four days ago and wants a scuff; the back does not.
    holds(
        &before(&world.at("2026-03-06 12:00"), "coat B-0701 --mix 1"),
        &["top: scuff first: 4 d 01 h since the last coat, more than 3 d 00 h"],
    );
    world
        .at("2026-03-06 11:00")
        .run("sand B-0701 --kind scuff --surface top --grit P400")
        .good();
    let mut day = 6;
    for set in 0..3 {
        for hour in ["12:00", "13:30", "15:00"] {
            coat(&format!("2026-03-{day:02} {hour}"), "coat B-0701 --mix 1");
        }
        day += 1;
        if set < 2 {
            coat(
                &format!("2026-03-{day:02} 09:00"),
                "sand B-0701 --grit P400",
            );
        }
    }
    // The last coat ended Sun 8 Mar 15:00; drops a week later wet their spot, not the piece.
    coat(
        "2026-03-16 09:00",
        "coat B-0701 --kind drop-fill --surface back --lot L-221 --drops 2 --place 'lower bout'",
    );
    let second = "coat B-0701 --kind drop-fill --surface back --lot L-221 --place 'lower bout'";
    assert_eq!(against(&world.at("2026-03-16 12:59"), second), ["interval"]);
    coat("2026-04-05 15:00", second);
    // A room without readings counts half: 336 h are reached after 28 days, Sun 5 Apr 15:00. The spot has 48 h to go.
    let sand = "sand B-0701 --kind final-sand --surface back --grit 'P800 P1500'";
    let early = world.at("2026-04-06 15:00");
    assert_eq!(against(&early, sand), ["spot-dry"]);
    holds(
        &before(&early, sand),
        &["drop-fill at lower bout dry from Tue 15:00, 1 d 00 h left"],
    );
    assert_eq!(against(&world.at("2026-04-07 15:00"), sand), NONE);
    // The film of each surface is its own: 10 + 90 - 16 on the top, 20 + 135 - 24 on the back.
    let sides = world.at("2026-04-07 15:00").json("piece show B-0701")["surfaces"].clone();
    let film: Vec<(&str, f64)> = sides
        .as_array()
        .unwrap()
        .iter()
        .map(|s| {
            (
                s["surface"].as_str().unwrap(),
                s["film_um"].as_f64().unwrap(),
            )
        })
        .collect();
    assert_eq!(film, [("top", 84.0), ("back", 131.0), ("sides", 131.0)]);
}

#[test]
fn a_recipe_shows_what_its_finish_asks_for() {
    let world = World::new();
    let desk = world.at("2026-03-02 06:00");
    let shown = |code: &str, revision: u32| {
        desk.run(&format!(
            "recipe adopt '{}'",
            sample(&format!("recipes/{}.toml", code.to_lowercase()))
        ))
        .good();
        desk.run(&format!("recipe show {code} {revision}"))
            .good()
            .out
    };
    holds(
        &shown("PU5", 1),
        &[
            "coats lie on each other",
            "pot life 4 h at 20 C, shorter in warmth, stands 10 min before use",
            "air of a coat: not below 15.0 C, at most 75 % humidity",
            "an hour of the cure counts whole at 21.0 C, less in the cold by Arrhenius' law with 55 kJ/mol, nothing \
             below 12.0 C; 0.5 in a room without readings",
            "P800 P1200 P1500 P2000",
            "moisture 6.0 % to 8.0 %",
        ],
    );
    holds(
        &shown("WB8", 1),
        &[
            "the film forms from 10.0 C on and wants 3.0 K diff more (from memory, to be confirmed)",
            "counts whole at 21.0 C and 50 %, less in colder or damper air as water leaves, nothing below 13.0 C",
        ],
    );
    holds(
        &shown("SH12", 1),
        &[
            "each coat melts into the one below",
            "12 h after every 4",
            "counts 0.5 from 16.0 C, 1 from 20.0 C",
        ],
    );
    holds(
        &shown("UV4", 1),
        &["960 mJ/cm2 under the lamp, peak 80 mW/cm2"],
    );
    holds(&shown("CV3", 1), &["never more than 76 um of film"]);
    holds(
        &shown("RX9", 1),
        &[
            "finished film on top 68 um planned, band 50 um to 80 um",
            "a spot dries 2 d 00 h",
            "rework WOOD",
            "1 from 20.0 C, 1 from 32.0 C with an alert",
            "then on with cure",
        ],
    );
    let json = desk.json("recipe show WB8 1");
    assert_eq!(json["booth"]["film_forming_mc"], 10_000);
    assert_eq!(json["cure_credit"]["law"]["name"], "evaporation");
    assert_eq!(json["cure_credit"]["law"]["reference_humidity_cpct"], 5_000);
    assert_eq!(json["steps"][0]["moisture_high_ppm"], 80_000);
    let bands = desk.json("recipe show SH12 1");
    assert_eq!(bands["cure_credit"]["law"]["bands"][0]["permille"], 500);
}

#[test]
fn a_lamp_waits_for_the_flash_that_the_recipe_asks_for() {
    let world = World::new();
    let desk = world.at("2026-03-02 06:00");
    let text = std::fs::read_to_string(sample("recipes/uv4.toml")).unwrap();
    let text = text.replacen(
        "name = \"lamp 1\"\nkind = \"cure\"\n",
        "name = \"lamp 1\"\nkind = \"cure\"\nafter = \"10 min\"\n",
        1,
    );
    assert!(text.contains("after = "));
    let file = world.file("flash.toml", &text);
    for command in [
        format!("material adopt '{}'", sample("materials/uvl.toml")),
        format!("recipe adopt '{}'", file.display()),
        "lot receive U-1 UVL 10L".to_owned(),
    ] {
        desk.run(&command).good();
    }
    world.piece("2026-03-02 07:00", "B-0701", "UV4", "");
    for (when, deed) in [
        (
            "2026-03-02 07:10",
            "receive B-0701 --grit P220 --moisture 7%",
        ),
        ("2026-03-02 07:20", "mask B-0701"),
        ("2026-03-02 09:00", "coat B-0701 --lot U-1"),
        ("2026-03-02 09:05", "coat B-0701 --lot U-1"),
    ] {
        world.at(when).run(deed).good();
    }
    let light = "light B-0701 --dose 960mJ/cm2 --peak 80mW/cm2";
    assert_eq!(against(&world.at("2026-03-02 09:14"), light), ["dry"]);
    assert_eq!(against(&world.at("2026-03-02 09:15"), light), NONE);
    let card = world.at("2026-03-02 09:08").json("piece show B-0701");
    assert_eq!(card["outlook"], "waiting");
}
