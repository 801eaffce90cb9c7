//! Two revisions of a recipe or a data sheet beside each other, and a sheet with its lots.

use super::world::{World, holds, sample};

#[test]
fn two_revisions_of_a_recipe_are_held_against_each_other_line_by_line() {
    let world = World::new();
    let desk = world.at("2026-03-09 07:00");
    let first = std::fs::read_to_string(sample("recipes/uv4.toml")).unwrap();
    let second = first
        .replace("revision = 1", "revision = 2")
        .replace("960 mJ/cm2", "980 mJ/cm2")
        .replace("name = \"scuff\"", "name = \"scuffing\"");
    for text in [&first, &second] {
        let file = world.file("uv4.toml", text);
        desk.run(&format!("recipe adopt '{}'", file.display()))
            .good();
    }
    let said = desk.run("recipe compare UV4 1").good().out;
    holds(
        &said,
        &[
            "UV4 rev 1 and UV4 rev 2: 3 changed, 2 new, 2 gone",
            "changed  UV4 rev 1: lamp 1 cure 960 mJ/cm2 under the lamp",
            "         UV4 rev 2: lamp 1 cure 980 mJ/cm2 under the lamp",
            "new      UV4 rev 2: scuffing scuff -5 um",
            "gone     UV4 rev 1: scuff -5 um",
        ],
    );
    assert!(!said.contains("final sand"), "{said}");
    let json = desk.json("recipe compare UV4 2 1");
    assert_eq!(json["before"], "UV4 rev 2");
    let lines = json["lines"].as_array().unwrap();
    let how = |about: &str| {
        let line = lines.iter().find(|l| l["about"] == about).unwrap();
        line["how"].as_str().unwrap().to_owned()
    };
    assert_eq!(how("step lamp 1"), "changed");
    assert_eq!(how("step scuffing"), "gone");
    assert_eq!(how("step final sand"), "same");
    // What the file's writer took from memory stands beside the figure, and the newest revision is the one shown.
    let shown = desk.run("recipe show UV4").good().out;
    holds(
        &shown,
        &[
            "UV4 rev 2",
            "980 mJ/cm2 under the lamp, peak 80 mW/cm2, (dose, peak: from memory, to be confirmed)",
            "the file says: Bodies under a finish that light cures",
        ],
    );
    let unknown = desk.run("recipe compare UV4 1 7").refused(2);
    holds(
        &unknown,
        &["recipe UV4 has no revision \"7\"; adopted are 1, 2"],
    );
    let unknown = desk.run("recipe show ZZ").refused(2);
    holds(
        &unknown,
        &["recipe \"ZZ\" is not adopted", "hangtime recipe list"],
    );
}

#[test]
fn a_recipe_shows_its_retarder_rules_and_what_a_coat_is_stated_for() {
    let world = World::new();
    let shown = world
        .at("2026-03-09 07:00")
        .run("recipe show G9 3")
        .good()
        .out;
    holds(
        &shown,
        &[
            "+15 um each at 12.5 % solids",
            "with more than 2.0 % retarder in the mix: 2 h between coats, 1 d 00 h before sanding",
            "with more than 5.0 % retarder in the mix: 2 h between coats, 1 d 00 h before sanding, a supervisor's name",
            "(unlogged: common practice, no source)",
        ],
    );
}

#[test]
fn a_material_shows_its_sheet_its_hazards_in_words_and_its_lots() {
    let world = World::new();
    let desk = world.at("2026-03-09 07:00");
    desk.run("lot receive L-299 CLR 5L --expires 2026-03-08")
        .good();
    desk.run("lot receive L-300 CLR 5L").good();
    let shown = desk.run("material show CLR").good().out;
    holds(
        &shown,
        &[
            "CLR sheet rev 4  Bench clear, gloss",
            "sheet dated 2025-11-03",
            "hazards: nitrocellulose, flammable liquid",
            "toluene                      108-88-3     10.0 %, VOC, HAP",
            "L-299          received 5000 mL, logged use 0 mL, SHELF LIFE ENDED 2026-03-08",
            "L-300          received 5000 mL, logged use 0 mL, shelf life unknown",
        ],
    );
    let json = desk.json("material show CLR 'rev 4'");
    assert_eq!(json["hazards"][0], "nitrocellulose");
    assert_eq!(
        json["lots"].as_array().unwrap().last().unwrap()["lot"],
        "L-300"
    );
    let text = std::fs::read_to_string(sample("materials/clr.toml"))
        .unwrap()
        .replace("rev 4", "rev 5")
        .replace("2025-11-03", "2026-02-01");
    let file = world.file("clr5.toml", &text);
    desk.run(&format!("material adopt '{}'", file.display()))
        .good();
    let said = desk.run("material compare CLR 'rev 4'").good().out;
    holds(
        &said,
        &[
            "CLR sheet rev 4 and CLR sheet rev 5: 1 changed, 12 same",
            "CLR sheet rev 5: sheet dated 2026-02-01",
        ],
    );
}

#[test]
fn without_a_terminal_and_a_ledger_the_screens_name_the_command_to_run() {
    let home = tempfile::tempdir().unwrap();
    for words in [vec![], vec!["screen".to_owned(), "booth".to_owned()]] {
        let said = super::world::run(home.path(), &words).refused(3);
        holds(
            &said,
            &[
                "the screens need a terminal",
                "hangtime open --name SHOP --zone ZONE --as INITIALS",
            ],
        );
    }
    let said =
        super::world::run(home.path(), &["screen".to_owned(), "attic".to_owned()]).refused(2);
    holds(
        &said,
        &["booth, floor, shift, solvent, air, recipes, wall, quality, plan"],
    );
}
