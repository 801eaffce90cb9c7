//! The whole process besides coats and sandings: what a step records, deeds begun and ended apart, defects and reworks,
//! tags, pairs, racks, recipes that change under way, a stopped exhaust, and the printed card.

use crate::world::{World, holds, rules, texts};
use serde_json::{Value, json};

// A body whose top is a burst: colour is for the top alone. A top that is sanded to the wood goes back to its colour,
// gets set 2 again and joins the others at set 3.
const BURST: &str = r#"
[recipe]
code = "B1"
revision = 1
name = "Body with a burst"
finish = "solvent release"
kinds = ["body"]
surfaces = ["top", "back", "sides"]
tack_counts = false

[film]
low = "55 um"
high = "130 um"

[[step]]
name = "receive"
kind = "receive"

[[step]]
name = "mask"
kind = "mask"

[[step]]
name = "burst"
kind = "colour"
on = ["top"]
coats = 1
film = "5 um"

[[step]]
name = "seal"
kind = "seal"
coats = 2
after = "30 min"
between = "60 min"
film = "10 um"

[[step]]
name = "clear set 1"
kind = "clear"
coats = 3
after = "60 min"
between = "90 min"
per_day = 3
scuff_after = "72 h"
film = "15 um"

[[step]]
name = "level sand 1"
kind = "level-sand"
after = "12 h"
removes = "12 um"

[[step]]
name = "clear set 2"
kind = "clear"
coats = 3
between = "90 min"
per_day = 3
scuff_after = "72 h"
film = "15 um"

[[step]]
name = "level sand 2"
kind = "level-sand"
after = "12 h"
removes = "12 um"

[[step]]
name = "clear set 3"
kind = "clear"
coats = 3
between = "90 min"
per_day = 3
scuff_after = "72 h"
film = "15 um"

[[step]]
name = "cure"
kind = "cure"
hours = "336 h"

[[step]]
name = "final sand"
kind = "final-sand"
removes = "15 um"

[[step]]
name = "buff"
kind = "buff"
stages = 3
removes = "5 um"

[[step]]
name = "unmask"
kind = "unmask"

[[step]]
name = "inspect"
kind = "inspect"

[[step]]
name = "mate"
kind = "mate"

[cure_credit]
unlogged = 1.0

[[cure_credit.band]]
from = "16.0 C"
credit = 1.0

[[rework]]
code = "RW-C"
name = "Clears over a thin place"
level = 1
defects = ["through-clear", "burn-through", "run"]

[[rework.step]]
name = "clear"
kind = "clear"
coats = 2
between = "90 min"
film = "15 um"

[[rework]]
code = "RW-S"
name = "Clears over the surface"
level = 3
defects = ["run"]

[[rework.step]]
name = "clear"
kind = "clear"
coats = 3
between = "90 min"
film = "15 um"

[[rework]]
code = "RW-W"
name = "From the wood"
level = 4
defects = ["through-wood"]
bare = true
rejoin = "clear set 3"

[[rework.step]]
name = "burst"
kind = "colour"
on = ["top"]
coats = 1
film = "5 um"

[[rework.step]]
name = "clear set 2 again"
kind = "clear"
on = ["top"]
coats = 3
after = "60 min"
between = "90 min"
per_day = 3
film = "15 um"

[[rework.step]]
name = "level sand 2 again"
kind = "level-sand"
on = ["top"]
after = "12 h"
removes = "12 um"
"#;

/// A body of the recipe above on rack R7.
pub fn with_burst() -> World {
    let world = World::new();
    let file = world.file("b1.toml", BURST);
    world
        .at("2026-02-21 08:00")
        .run(&format!("recipe adopt '{}'", file.display()))
        .good();
    world.at("2026-03-08 09:00").run(
        "piece add B-0700 --kind body --model Arden --recipe B1 --area 0.40m2 --rack R7 --hook 1",
    ).good();
    world
}

// A page with its wrapped lines joined.
fn unwrapped(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

// Runs deeds at their times; none of them may raise a deviation.
fn play(world: &World, deeds: &[(&str, &str)]) {
    for (at, deed) in deeds {
        let saved = world.at(at).json(deed);
        assert_eq!(saved["saved"], true, "{at} {deed}: {saved}");
        assert_eq!(saved["deviations"], json!([]), "{at} {deed}");
    }
}

fn surface<'v>(card: &'v Value, name: &str) -> &'v Value {
    card["surfaces"]
        .as_array()
        .unwrap()
        .iter()
        .find(|s| s["surface"] == name)
        .unwrap()
}

// To level sand 2, done on all of it on Wed 11 Mar 07:00.
fn to_level_sand_2(world: &World) {
    play(
        world,
        &[
            (
                "2026-03-09 07:00",
                "receive B-0700 --grit P220 --moisture 7.2%",
            ),
            ("2026-03-09 07:10", "mask B-0700 --tape 'fine line'"),
            (
                "2026-03-09 08:00",
                "coat B-0700 --kind colour --batch C-31 --panel P-4 --judged KV",
            ),
            ("2026-03-09 09:30", "coat B-0700 --kind seal"),
            ("2026-03-09 10:35", "coat B-0700 --kind seal"),
            ("2026-03-09 12:00", "coat B-0700"),
            ("2026-03-09 13:35", "coat B-0700"),
            ("2026-03-09 15:10", "coat B-0700"),
            ("2026-03-10 07:00", "sand B-0700 --grit P400"),
            ("2026-03-10 08:00", "coat B-0700"),
            ("2026-03-10 09:35", "coat B-0700"),
            ("2026-03-10 11:10", "coat B-0700"),
            ("2026-03-11 07:00", "sand B-0700 --grit P400"),
        ],
    );
}

#[test]
fn a_burst_sanded_to_the_wood_goes_back_to_its_colour_and_the_sides_keep_their_film_and_clocks() {
    let world = with_burst();
    to_level_sand_2(&world);
    let card = world.at("2026-03-11 07:05").json("piece show B-0700");
    // 2 x 10 + 6 x 15 - 2 x 12 = 86 um, and 5 um of colour on the top.
    assert_eq!(surface(&card, "top")["film_um"], 91.0);
    assert_eq!(surface(&card, "sides")["film_um"], 86.0);

    let saved = world.at("2026-03-11 07:10").json(
        "defect B-0700 through-wood --surface top --place 'lower bout, treble side' --size 4mm",
    );
    assert_eq!(saved["saved"], true);
    let card = world.at("2026-03-11 07:10").json("piece show B-0700");
    assert_eq!(texts(&card["open_defects"], "defect"), ["through-wood"]);
    // The defect tells which rework it is.
    let saved = world.at("2026-03-11 07:15").json(
        "rework B-0700 --defect through-wood --surface top --why 'through to the wood at level sand 2'",
    );
    holds(saved["line"].as_str().unwrap(), &["rework RW-W on top"]);

    let card = world.at("2026-03-11 07:20").json("piece show B-0700");
    assert_eq!(card["open_defects"], json!([]));
    let (top, sides) = (surface(&card, "top"), surface(&card, "sides"));
    assert_eq!(
        (&top["rework"], &top["next"], &top["film_um"]),
        (&json!("RW-W"), &json!("burst"), &json!(0.0))
    );
    assert_eq!(
        (&sides["rework"], &sides["next"], &sides["film_um"]),
        (&json!(null), &json!("clear set 3"), &json!(86.0))
    );
    assert_eq!(sides["last_wet"], "2026-03-10T11:10:00.000-04:00");

    // Top and sides go on side by side, each by its own clock and its own count of the day.
    play(
        &world,
        &[
            (
                "2026-03-11 08:00",
                "coat B-0700 --kind colour --batch C-31 --panel P-4 --judged KV",
            ),
            (
                "2026-03-11 08:10",
                "coat B-0700 --kind clear --surface back,sides",
            ),
            ("2026-03-11 09:05", "coat B-0700 --kind clear --surface top"),
            (
                "2026-03-11 09:45",
                "coat B-0700 --kind clear --surface back,sides",
            ),
            ("2026-03-11 10:40", "coat B-0700 --kind clear --surface top"),
            (
                "2026-03-11 11:20",
                "coat B-0700 --kind clear --surface back,sides",
            ),
            ("2026-03-11 12:15", "coat B-0700 --kind clear --surface top"),
        ],
    );
    let card = world.at("2026-03-11 13:00").json("piece show B-0700");
    assert_eq!(surface(&card, "top")["film_um"], 50.0);
    assert_eq!(surface(&card, "sides")["film_um"], 131.0);
    assert_eq!(
        surface(&card, "sides")["last_wet"],
        "2026-03-11T11:20:00.000-04:00"
    );
    // The slowest surface speaks for the piece: 12 h after the top's last coat.
    assert_eq!(card["next_step"], "level-sand");
    assert_eq!(card["ready_at"], "2026-03-12T00:15:00.000-04:00");
    play(
        &world,
        &[
            ("2026-03-12 07:00", "sand B-0700 --kind level-sand"),
            ("2026-03-12 08:00", "coat B-0700"),
            ("2026-03-12 09:35", "coat B-0700"),
            ("2026-03-12 11:10", "coat B-0700"),
        ],
    );
    // Set 3 went on the top alone: the sides' cure was not restarted.
    let card = world.at("2026-03-12 12:00").json("piece show B-0700");
    let (top, sides) = (surface(&card, "top"), surface(&card, "sides"));
    assert_eq!(top["film_um"], 83.0);
    assert_eq!(top["rework"], json!(null));
    assert_eq!(sides["last_wet"], "2026-03-11T11:20:00.000-04:00");
    assert_eq!(
        (&top["finish_um"], &sides["finish_um"]),
        (&json!(63.0), &json!(111.0))
    );
    // 336 h: the sides on Wed 25 Mar 11:20, the top and with it the piece on Thu 26 Mar 11:10.
    let waiting = world.at("2026-03-25 12:00").json("piece show B-0700");
    assert_eq!(
        (&waiting["outlook"], &waiting["next"]),
        (&json!("waiting"), &json!("final sand"))
    );
    assert_eq!(waiting["ready_at"], "2026-03-26T11:10:00.000-04:00");
    let ready = world.at("2026-03-26 11:10").json("piece show B-0700");
    assert_eq!(ready["outlook"], "ready");
    // The first history is not erased.
    let page = world
        .at("2026-03-26 11:10")
        .run("piece show B-0700 --card")
        .good()
        .out;
    holds(
        &page,
        &[
            "level sand 2       Wed 11 Mar 07:00 MK (P400)",
            "REWORK RW-W for through-wood on top, opened Wed 11 Mar 07:15 MK",
            "clear set 2 again  1 Wed 11 Mar 09:05 MK, 2 10:40 MK, 3 12:15 MK",
            "defect: through-wood, at lower bout, treble side, 4.0 mm on top",
            "batch C-31, panel P-4, judged by KV",
        ],
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_rework_is_named_by_its_code_or_by_the_one_that_mends_the_defect() {
    let world = with_burst();
    to_level_sand_2(&world);
    let desk = world.at("2026-03-11 07:10");
    let refused = |words: &str, wanted: &[&str]| holds(&desk.run(words).refused(2), wanted);
    refused(
        "rework B-0700 --why x",
        &["which rework", "RW-C, RW-S, RW-W"],
    );
    refused(
        "rework B-0700 --defect run --why x",
        &["several", "RW-C, RW-S"],
    );
    refused(
        "rework B-0700 --defect blush --why x",
        &["no rework", "blush", "RW-C"],
    );
    refused(
        "rework B-0700 --defect scratch --why x",
        &["scratch", "through-wood"],
    );
    refused("rework B-0700 RW-9 --why x", &["RW-9", "RW-C, RW-S, RW-W"]);
    refused(
        "rework B-0700 RW-W --surface sides --why x",
        &["RW-W", "sides"],
    );
    refused(
        "rework B-0700 RW-W --surface neck --why x",
        &["neck", "top, back, sides"],
    );
    refused("rework B-0700 RW-C again --why x", &["one piece"]);
    assert_eq!(
        world.count("SELECT count(*) FROM entry WHERE kind = 'reworked/1'"),
        0
    );
    // What the save would refuse, the preview refuses, too.
    refused("rework B-0700 RW-9 --why x --preview", &["RW-9"]);
    let plan = desk.json("rework B-0700 RW-C --surface top --why 'thin edge' --preview");
    assert_eq!(plan["pieces"][0]["surface"], "top");
    desk.run("rework --rack R7 RW-C --surface top --why 'thin edge'")
        .good();
    let card = world.now().json("piece show B-0700");
    assert_eq!(texts(&card["reworks"], "rework"), ["RW-C"]);
}

#[test]
fn a_defect_is_written_down_and_mended_by_name() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R1", 101, 2);
    world.bring_to("B-0101", 1, "2026-03-10 09:00", "");
    let desk = world.at("2026-03-10 09:30");
    holds(
        &desk.run("defect B-0101 scratch").refused(2),
        &["scratch", "orange-peel"],
    );
    holds(
        &desk.run("defect B-0101 run --size 2kg").refused(2),
        &["size"],
    );
    holds(&desk.run("defect run").refused(2), &["which piece"]);
    holds(
        &desk.run("defect B-0101 run --surface neck").refused(2),
        &["neck"],
    );
    desk.run("defect B-0101 run --size 3mm --place 'lower side' --note 'let it harden 24 h'")
        .good();
    let card = desk.json("piece show B-0101");
    let flaw = card["open_defects"][0]["entry"].as_i64().unwrap();
    holds(
        &desk
            .run(&format!("mend B-0102 --flaw {flaw} --how 'blocked flat'"))
            .refused(2),
        &["no open defect of B-0102"],
    );
    holds(
        &desk
            .run("mend B-0101 --flaw 1 --how 'blocked flat'")
            .refused(2),
        &["entry 1", "piece show"],
    );
    let plain = desk.run("piece show B-0101").good().out;
    holds(&plain, &["open defect: run on whole at lower side"]);
    world
        .at("2026-03-11 09:30")
        .run(&format!("mend B-0101 --flaw {flaw} --how 'blocked flat'"))
        .good();
    let card = world.now().json("piece show B-0101");
    assert_eq!(card["open_defects"], json!([]));
    let page = world.now().run("piece show B-0101 --card").good().out;
    holds(
        &unwrapped(&page),
        &[
            "let it harden 24 h",
            "mended Wed 11 Mar 09:30 MK: blocked flat",
        ],
    );
    // A whole rack has fisheyes.
    let saved = world
        .at("2026-03-11 10:00")
        .json("defect fisheye --rack R1");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 2);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_lost_tag_is_replaced_and_the_old_one_stays_retired() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0420", "G9", "--tag T-88");
    world.piece("2026-03-05 07:00", "B-0421", "G9", "--tag T-89");
    let desk = world.at("2026-03-06 08:00");
    holds(
        &desk.run("tag B-0420 T-89 --why lost").refused(2),
        &["T-89", "B-0421"],
    );
    holds(&desk.run("tag B-0420 --why lost").refused(2), &["--none"]);
    holds(&desk.run("tag B-0420 T-91").refused(2), &["--why"]);
    let saved = desk.json("tag B-0420 T-91 --why 'lost in the spray'");
    assert_eq!(saved["line"], "B-0420 - tag T-91 - ended 08:00");
    assert_eq!(desk.json("piece show T-91")["serial"], "B-0420");

    // Later the old tag turns up on another piece: nothing is taken for B-0420 by it, and no other piece gets it.
    let later = world.at("2026-03-09 08:00");
    let said = later.run("coat T-88 --kind seal").refused(2);
    holds(&said, &["retired tag", "belonged to B-0420", "T-91"]);
    let said = later.run("tag B-0421 T-88 --why found").refused(2);
    holds(&said, &["T-88", "retired tag", "B-0420"]);
    let said = later
        .run("piece add B-0422 --kind body --model Arden --recipe G9 --area 0.4m2 --tag T-88")
        .refused(2);
    holds(&said, &["T-88"]);
    let card = later.json("piece show B-0420");
    assert_eq!(card["tag"], "T-91");
    assert_eq!(texts(&card["retired_tags"], "tag"), ["T-88"]);
    holds(
        &later.run("piece show B-0420 --card").good().out,
        &["tag T-91 (T-88 retired Fri 6 Mar 08:00: lost in the spray)"],
    );
    later.run("tag B-0420 --none --why 'goes to set-up'").good();
    assert_eq!(later.json("piece show B-0420")["tag"], json!(null));
    holds(
        &later.run("piece show T-91").refused(2),
        &["retired tag", "B-0420"],
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn fifteen_per_cent_of_thinner_is_asked_about_and_saved_in_volumes() {
    let world = World::new();
    let desk = world.at("2026-03-05 07:00");
    let said = desk
        .run("mix make M2 L-221=1.000L --thin T-9=15%")
        .refused(2);
    holds(
        &said,
        &[
            "of the mix or added",
            "of the mix 0.850 + 0.150",
            "added 1.000 + 0.150 = 13.0 % of mix",
        ],
    );
    let parts = |mix: u64| -> Vec<(String, i64)> {
        let all = world.now().json("mix list");
        let found = all
            .as_array()
            .unwrap()
            .iter()
            .find(|m| m["mix"] == mix)
            .unwrap();
        found["parts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|p| {
                (
                    p["lot"].as_str().unwrap().to_owned(),
                    p["volume_ul"].as_i64().unwrap(),
                )
            })
            .collect()
    };
    let pour = |lot: &str, ul: i64| (lot.to_owned(), ul);
    let said = desk
        .run("mix make M2 L-221 --thin T-9=15%-of-mix --makes 1.000L")
        .good();
    holds(&said.out, &["850", "150"]);
    assert_eq!(parts(2), [pour("L-221", 850_000), pour("T-9", 150_000)]);
    desk.run("mix make M3 L-221=1.000L --thin T-9=15%-added")
        .good();
    assert_eq!(parts(3), [pour("L-221", 1_000_000), pour("T-9", 150_000)]);
    // 15 % of the mix on a litre of lacquer is 17.6 % added.
    desk.run("mix make M4 L-221=1.000L --thin T-9=15%-of-mix")
        .good();
    assert_eq!(parts(4), [pour("L-221", 1_000_000), pour("T-9", 176_471)]);
    for (words, wanted) in [
        ("mix make M5 L-221 --thin T-9=15%-of-mix", "LOT=VOLUME"),
        ("mix make M5 L-221=1L --thin T-9=15%-of-pot", "-of-pot"),
        (
            "mix make M5 L-221=1L --thin T-9=15%-of-mix --thin R-1=2%-added",
            "one way",
        ),
        (
            "mix make M5 L-221=0.9L --thin T-9=15%-of-mix --makes 1L",
            "1.050 L",
        ),
        (
            "mix make M5 L-221 T-9 --thin R-1=2%-of-mix --makes 1L",
            "2 parts have no volume",
        ),
        ("mix make M5 L-221=1L --thin T-9=95%-of-mix", "T-9"),
        ("mix make M5 L-221=1L --thin X-1=15%-added", "X-1"),
    ] {
        holds(&desk.run(words).refused(2), &[wanted]);
    }
    assert_eq!(world.count("SELECT count(*) FROM mix"), 4);
    // Nothing but volumes is in the record.
    assert_eq!(
        world.count(
            "SELECT count(*) FROM entry WHERE kind = 'mix/1' AND body LIKE '%!%%' ESCAPE '!'"
        ),
        0
    );
}

#[test]
fn a_retarder_step_counts_from_the_figures_of_the_mix_that_was_made_by_per_cent() {
    let world = World::new();
    let desk = world.at("2026-03-05 07:00");
    // 4.76 % of the mix: longer waits; 5.21 %: a supervisor's name.
    desk.run("mix make slow L-221=3.00L T-9=1.00L --thin R-1=4.76%-of-mix")
        .good();
    desk.run("mix make slower L-221=3.00L T-9=1.00L --thin R-1=5.21%-of-mix")
        .good();
    world.piece("2026-03-05 07:00", "B-0117", "G9", "");
    world.piece("2026-03-05 07:00", "B-0118", "G9", "");
    world.bring_to("B-0117", 1, "2026-03-10 09:00", "--mix 2");
    assert_eq!(
        world.at("2026-03-10 09:10").json("piece show B-0117")["ready_at"],
        "2026-03-10T11:00:00.000-04:00"
    );
    world.bring_to("B-0118", 1, "2026-03-11 09:00", "--mix 1");
    let plan = world
        .at("2026-03-11 11:00")
        .json("coat B-0118 --mix 3 --preview");
    assert_eq!(rules(&plan["pieces"][0]["objections"]), ["retarder"]);
}

fn booth_rack(world: &World) {
    world
        .at("2026-02-21 08:00")
        .run("room declare 'booth 1'")
        .good();
    world.rack("2026-03-05 07:00", "R12", 201, 24);
}

#[test]
fn a_stopped_exhaust_is_unknown_until_the_booth_is_checked_and_what_was_wet_is_looked_at() {
    let world = World::new();
    booth_rack(&world);
    world.bring_to("--rack R12", 2, "2026-03-10 13:30", "");
    world.piece("2026-03-05 07:00", "B-0300", "G9", "--room 'booth 1'");
    world.bring_to("B-0300", 1, "2026-03-10 09:00", "");
    let desk = world.at("2026-03-10 14:30");
    holds(
        &desk
            .run("power-cut --booth 'booth 9' --from 14:05")
            .refused(2),
        &["booth 9", "booth 1"],
    );
    holds(
        &desk
            .run("power-cut --booth 'booth 1' --from 14:05 --to 13:00")
            .refused(2),
        &["stopped"],
    );
    holds(
        &desk
            .run("power-cut --booth 'booth 1' --from 15:30")
            .refused(2),
        &["15:30"],
    );
    let saved = desk.json("power-cut --booth 'booth 1' --from 14:05 --to 14:20");
    // The rack's coat ended at 13:30 and its wait is 90 min; B-0300 was sprayed five hours before.
    assert_eq!(saved["wet"].as_array().unwrap().len(), 24);
    assert!(!saved.to_string().contains("B-0300"), "{saved}");
    assert_eq!(saved["exhaust"], "unknown");
    let card = world.now().run("piece show B-0201 --card").good().out;
    holds(
        &card,
        &["look at it: wet when the exhaust of booth 1 stopped at 2026-03-10 14:05:00 EDT"],
    );
    let booths = world.at("2026-03-10 14:40").run("booths");
    assert_eq!(booths.code, 1);
    holds(
        &booths.out,
        &[
            "booth 1: no exhaust state is known since it stopped at 14:05",
            "check is due",
        ],
    );

    // Every coat there says so, before and after; it is recorded all the same.
    let plan = world
        .at("2026-03-10 15:05")
        .json("begin clear --rack R12 --preview");
    assert_eq!(plan["exhaust"]["state"], "unknown");
    let plan = world
        .at("2026-03-10 15:10")
        .json("coat --rack R12 --preview");
    assert_eq!(plan["exhaust"]["state"], "unknown");
    let said = world
        .at("2026-03-10 15:10")
        .run("coat --rack R12")
        .good()
        .out;
    holds(
        &said,
        &[
            "saved:",
            "no exhaust state is known since it stopped at 14:05",
            "booth check",
        ],
    );
    holds(
        &world
            .at("2026-03-10 15:20")
            .run("booth check 'booth 9'")
            .refused(2),
        &["booth 9", "booth 1"],
    );
    world
        .at("2026-03-10 15:20")
        .run("booth check 'booth 1' --note 'gauge 0.44, fan runs'")
        .good();
    let plan = world.at("2026-03-10 15:30").json("coat B-0300 --preview");
    assert_eq!(plan["exhaust"], json!(null));
    assert!(!world.now().run("booths").out.contains("no exhaust state"));
    // A check that is taken back was none; a question about an earlier moment sees what was known of it then.
    let check = world.count("SELECT max(seq) FROM entry WHERE kind = 'checked/1'");
    world
        .at("2026-03-10 15:40")
        .run(&format!("void {check} --why 'other booth'"))
        .good();
    holds(
        &world.now().run("booths").out,
        &["no exhaust state is known"],
    );
    assert!(
        !world
            .at("2026-03-10 14:00")
            .run("booths")
            .out
            .contains("no exhaust state")
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_begun_deed_is_shown_everywhere_until_it_is_ended_or_broken_off() {
    let world = World::new();
    booth_rack(&world);
    world.bring_to("--rack R12", 4, "2026-03-12 12:00", "");
    world
        .at("2026-03-12 13:00")
        .run("hold B-0224 --why 'glue spot'")
        .good();
    holds(
        &world.now().run("begun").good().out,
        &["no begun deed is open"],
    );
    // Who begins a deed is told what speaks against it, and a held piece is not begun.
    let plan = world
        .at("2026-03-12 13:20")
        .json("begin --rack R12 --preview");
    holds(&plan.to_string(), &["interval"]);
    let saved = world
        .at("2026-03-12 13:50")
        .person("AB")
        .json("begin --rack R12");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 23);
    assert_eq!(
        saved["line"],
        "Rack R12 - clear begun - 23 pieces - at 13:50"
    );
    assert_eq!(texts(&saved["left_out"], "serial"), ["B-0224"]);
    let said = world.at("2026-03-12 13:55").run("begin B-0201").refused(2);
    holds(&said, &["B-0201", "AB", "13:50", "break it off"]);

    let at = world.at("2026-03-12 14:00");
    let card = at.json("piece show B-0201");
    assert_eq!(card["outlook"], "in work");
    assert_eq!(card["begun"]["by"], "AB");
    holds(
        &at.run("floor").good().out,
        &["in work", "clear since 13:50 by AB"],
    );
    holds(
        &at.run("begun").good().out,
        &["R12: clear begun 13:50 by AB, not ended, hooks 1-23 (23 pieces)"],
    );
    let open = at.json("begun");
    assert_eq!(open[0]["since"], "2026-03-12T13:50:00.000-04:00");
    holds(
        &at.run("ready --for clear").good().out,
        &["R12 not ready; 24 pieces"],
    );

    // The fan trips after hook 17: the coat's own command ends those, at the start that was given with the beginning.
    let saved = world
        .at("2026-03-12 14:05")
        .person("AB")
        .json("coat --rack R12 --hooks 1-17");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 17);
    assert_eq!(saved["deviations"], json!([]));
    let entries = world.now().json("entries B-0201");
    let coat = entries.as_array().unwrap().last().unwrap();
    assert_eq!(coat["began"], "2026-03-12T13:50:00.000-04:00");
    assert_eq!(coat["ended"], "2026-03-12T14:05:00.000-04:00");
    holds(
        &world.now().run("begun").good().out,
        &["hooks 18-23 (6 pieces)"],
    );
    let rack = world.at("2026-03-12 14:06").json("rack show R12");
    assert_eq!(rack["mixed"], "mixed: 17 at 5, 7 at 4");
    assert_eq!(texts(&rack["open_deeds"], "deed"), ["clear"]);
    assert_eq!(texts(&rack["held"], "serial"), ["B-0224"]);
    // The rest was not sprayed; only what is begun is broken off.
    let saved = world
        .at("2026-03-12 14:10")
        .json("break-off --rack R12 --why 'fan tripped'");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 6);
    holds(
        &world.now().run("begun").good().out,
        &["no begun deed is open"],
    );
    holds(
        &world
            .at("2026-03-12 14:11")
            .run("end --rack R12")
            .refused(2),
        &["nothing is begun on rack R12"],
    );
    holds(
        &world.at("2026-03-12 14:11").run("end B-0201").refused(2),
        &["nothing is begun on B-0201"],
    );
    holds(
        &world
            .at("2026-03-12 14:11")
            .run("break-off B-0201 --why x")
            .refused(2),
        &["nothing is begun on B-0201"],
    );
    holds(
        &world
            .at("2026-03-12 14:11")
            .run("begin cure B-0218")
            .refused(2),
        &["cure"],
    );
    assert_eq!(world.clears("2026-03-12 14:12", "B-0217"), 5);
    assert_eq!(world.clears("2026-03-12 14:12", "B-0218"), 4);

    // A deed with nothing more to say of it is ended as it was begun.
    world
        .at("2026-03-12 14:20")
        .run("begin clear --rack R12 --hooks 18-20")
        .good();
    let saved = world.at("2026-03-12 14:30").json("end --rack R12");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 3);
    assert_eq!(world.clears("2026-03-12 14:31", "B-0218"), 5);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn white_wood_is_taken_in_beside_the_air_that_it_will_hang_in() {
    let world = World::new();
    world
        .at("2026-02-21 08:00")
        .run("room declare 'white room' --every 15m")
        .good();
    world.readings(
        "2026-03-05 07:00",
        "white room",
        "time,temperature,humidity\n2026-03-05 06:45,21.0,50\n2026-03-05 07:00,21.0,50\n",
    );
    for serial in ["B-0501", "B-0502", "B-0503"] {
        world.piece("2026-03-05 07:00", serial, "G9", "--room 'white room'");
    }
    let desk = world.at("2026-03-05 07:10");
    for (words, wanted) in [
        ("receive B-0501 --moisture 120%", "moisture"),
        ("receive B-0501 --verdict scrap", "take"),
        ("receive", "which piece"),
        ("receive B-0501 --rack R1", "not both"),
    ] {
        holds(&desk.run(words).refused(2), &[wanted]);
    }
    // Air of 21 C and 50 % brings wood to about 9.2 %.
    let said = desk
        .run("receive B-0501 --grit P220 --moisture 7.2% --moisture 9.4% --light-table 'no shadow' --preview")
        .good()
        .out;
    holds(
        &said,
        &[
            "would save",
            "brings wood to 9.2 %",
            "7.2 % (2.0 points below)",
            "9.4 % (0.2 points above)",
        ],
    );
    let saved = desk.json(
        "receive B-0501 --grit P220 --moisture 7.2% --moisture 7.5% --light-table 'no shadow'",
    );
    assert_eq!(saved["air"][0]["comes_to_percent"], 9.2);
    let entries = desk.json("entries B-0501");
    assert_eq!(
        entries.as_array().unwrap().last().unwrap()["what"],
        "received, P220, moisture 7.2 % 7.5 %, light table: no shadow"
    );
    // Held at receiving: it stays where it is and cannot be overlooked.
    desk.run("receive B-0502 --verdict hold").good();
    let card = desk.json("piece show B-0502");
    assert_eq!(card["outlook"], "held");
    assert_eq!(card["holds"], json!(["held at receiving"]));
    desk.run("receive B-0503 --verdict return").good();
    assert_eq!(
        desk.json("piece show B-0503")["holds"],
        json!(["goes back to the wood shop"])
    );
    assert_eq!(world.now().run("verify").code, 0);
}

// What the newest entry of a piece says.
fn newest(world: &World, serial: &str) -> String {
    let entries = world.now().json(&format!("entries {serial}"));
    entries.as_array().unwrap().last().unwrap()["what"]
        .as_str()
        .unwrap()
        .to_owned()
}

#[test]
fn a_deed_of_which_no_more_is_said_is_the_same_fact_by_either_command() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0101", "G9", "");
    world.piece("2026-03-05 07:00", "B-0102", "G9", "");
    for (own, kind) in [
        ("receive", "receive"),
        ("mask", "mask"),
        ("buff", "buff"),
        ("inspect", "inspect"),
        ("coat --kind drop-fill", "drop-fill"),
    ] {
        world
            .at("2026-03-05 08:00")
            .run(&format!("{own} B-0101"))
            .good();
        world
            .at("2026-03-05 08:00")
            .run(&format!("done {kind} B-0102"))
            .good();
        assert_eq!(newest(&world, "B-0101"), newest(&world, "B-0102"), "{kind}");
    }
    let bodies = |serial: &str| {
        world.count(&format!(
            "SELECT count(DISTINCT kind || body) FROM entry WHERE piece IN (SELECT id FROM piece WHERE serial = '{serial}') AND kind NOT LIKE 'added%'"
        ))
    };
    assert_eq!(bodies("B-0101"), 5);
    assert_eq!(
        world.count("SELECT count(DISTINCT kind || body) FROM entry WHERE piece IS NOT NULL AND kind NOT LIKE 'added%'"),
        5
    );
}

#[test]
fn a_colour_a_filler_and_drops_record_what_they_need() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-1001", "P9", "");
    let desk = world.at("2026-03-09 08:00");
    holds(
        &desk.run("coat B-1001 --kind fill --rub sticky").refused(2),
        &["sticky", "powder, smear"],
    );
    holds(
        &desk
            .run("coat B-1001 --kind drop-fill --drops 0")
            .refused(2),
        &["drops 0"],
    );
    holds(
        &desk.run("coat B-1001 --kind buff").refused(2),
        &["buff", "drop-fill"],
    );
    holds(
        &desk
            .run("coat B-1001 --kind colour --judged 'K V'")
            .refused(2),
        &["judged"],
    );
    play(
        &world,
        &[
            ("2026-03-09 08:00", "receive B-1001"),
            ("2026-03-09 08:10", "mask B-1001"),
        ],
    );
    let saved = world
        .at("2026-03-09 10:00")
        .json("coat B-1001 --kind fill --rub smear");
    assert_eq!(rules(&saved["deviations"]), ["rub"]);
    assert_eq!(newest(&world, "B-1001"), "fill coat, rub test: smear");

    world.piece("2026-03-05 07:00", "B-0101", "G9", "");
    world.bring_to("B-0101", 9, "2026-03-12 12:00", "");
    let cured = |at: &str| world.at(at).json("piece show B-0101")["ready_at"].clone();
    let before = cured("2026-03-13 08:00");
    let said = world
        .at("2026-03-13 09:00")
        .json("coat B-0101 --kind drop-fill --drops 3 --place 'lower bout'");
    assert_eq!(
        said["line"],
        "B-0101 - drop-fill at lower bout, 3 drops - ended 09:00"
    );
    // Drops wet their spot and nothing else: the cure goes on.
    assert_eq!(cured("2026-03-13 10:00"), before);
    holds(
        &world.now().run("piece show B-0101 --card").good().out,
        &["drop-fill (not in the recipe) Fri 13 Mar 09:00 MK (at lower bout, 3 drops)"],
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_cure_under_a_lamp_records_its_dose() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0101", "G9", "");
    let desk = world.at("2026-03-09 08:00");
    for (words, wanted) in [
        ("light B-0101 --dose 960", "mJ/cm2"),
        ("light B-0101 --dose 960mW/cm2", "dose"),
        ("light B-0101 --peak 101W/cm2", "0 to 100"),
        ("light B-0101 --dose 1e3mJ/cm2", "dose"),
    ] {
        let said = desk.run(words);
        assert_eq!(said.code, 2, "{words}: {}{}", said.out, said.err);
        holds(&said.err, &[wanted]);
    }
    desk.run("light B-0101 --dose 960mJ/cm2 --peak 0.12W/cm2 --lamp 'lamp 2'")
        .good();
    assert_eq!(
        newest(&world, "B-0101"),
        "cured under light, 960 mJ/cm2, peak 120 mW/cm2, lamp lamp 2"
    );
}

#[test]
fn an_inspection_goes_place_by_place_and_is_not_made_by_who_buffed() {
    let world = with_burst();
    let desk = world.at("2026-03-09 08:00");
    for (finding, wanted) in [
        ("top,A,run", "3 fields"),
        ("neck,A,run,4mm,,rework", "neck"),
        ("top,D,run,4mm,,rework", "grade"),
        ("top,A,scratch,4mm,,rework", "scratch"),
        ("top,A,run,4 kg,,rework", "size"),
        ("top,A,run,4mm,,later", "later"),
    ] {
        let said = desk
            .run(&format!("inspect B-0700 --finding '{finding}'"))
            .refused(2);
        holds(&said, &[wanted]);
    }
    desk.person("AB")
        .run("buff B-0700 --wheel W1 --compound medium")
        .good();
    let saved = world
        .at("2026-03-09 09:00")
        .person("AB")
        .json("inspect B-0700 --light-box 'box 1' --finding 'top,A,run,4mm,by the cutaway,rework' --finding 'sides,B,none,,,take'");
    let found = rules(&saved["deviations"]);
    assert!(
        found.contains(&"own-work") && found.contains(&"finding"),
        "{found:?}"
    );
    assert_eq!(
        newest(&world, "B-0700"),
        "inspected, light box box 1, top (A) run, by the cutaway, 4.0 mm: rework, sides (B) no defect: take"
    );
    let card = world.now().json("piece show B-0700");
    assert_eq!(texts(&card["open_defects"], "defect"), ["run"]);
    // Another compound on the wheel is named before it is used.
    let plan = world
        .at("2026-03-09 10:00")
        .json("buff B-0700 --wheel W1 --compound fine --preview");
    assert!(
        rules(&plan["pieces"][0]["objections"]).contains(&"wheel"),
        "{plan}"
    );
}

#[test]
fn body_and_neck_are_mated_in_one_deed_on_both() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0601", "G9", "--pair N-0601");
    world.piece("2026-03-05 07:00", "N-0601", "N8", "--pair B-0601");
    world.piece("2026-03-05 07:00", "B-0602", "G9", "");
    let desk = world.at("2026-03-09 08:00");
    holds(
        &desk.run("mate B-0602").refused(2),
        &["B-0602", "no other half"],
    );
    holds(
        &desk.run("mate B-0601 N-0601 B-0602").refused(2),
        &["3 pieces"],
    );
    holds(
        &desk.run("mate B-0601 --fit wobbly").refused(2),
        &["wobbly", "snug, tight, loose"],
    );
    let plan = desk.json("mate B-0601 --fit tight --preview");
    assert!(
        rules(&plan["pieces"][0]["objections"]).contains(&"fit"),
        "{plan}"
    );
    let saved = desk.json("mate B-0601 --fit snug --joint bolted");
    assert_eq!(texts(&saved["pieces"], "serial"), ["B-0601", "N-0601"]);
    assert_eq!(
        newest(&world, "N-0601"),
        "mated with B-0601, trial fit snug, bolted"
    );
    assert_eq!(texts(&world.now().json("floor"), "serial"), ["B-0602"]);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn what_is_mated_hangs_on_its_rack_no_longer() {
    let world = World::new();
    world.piece(
        "2026-03-05 07:00",
        "B-0601",
        "G9",
        "--pair N-0601 --rack R1 --hook 1",
    );
    world.piece(
        "2026-03-05 07:00",
        "N-0601",
        "N8",
        "--pair B-0601 --rack R2 --hook 1",
    );
    world.at("2026-03-09 08:00").run("mate B-0601").good();
    // The hook is free, and a deed on the rack is about those that hang there now.
    world.piece("2026-03-09 09:00", "B-0602", "G9", "--rack R1 --hook 1");
    let plan = world
        .at("2026-03-09 10:00")
        .json("receive --rack R1 --preview");
    assert_eq!(texts(&plan["pieces"], "serial"), ["B-0602"]);
    // What is written later about the time before still means those that hung there then.
    let plan = world
        .at("2026-03-09 10:00")
        .json("receive --rack R1 --ended '2026-03-08 10:00' --preview");
    assert_eq!(texts(&plan["pieces"], "serial"), ["B-0601"]);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_swap_of_necks_is_one_deed_and_leaves_the_former_halves_without_one() {
    let world = World::new();
    for n in ["0601", "0602"] {
        world.piece(
            "2026-03-05 07:00",
            &format!("B-{n}"),
            "G9",
            &format!("--pair N-{n}"),
        );
        world.piece(
            "2026-03-05 07:00",
            &format!("N-{n}"),
            "N8",
            &format!("--pair B-{n}"),
        );
    }
    let desk = world.at("2026-03-09 08:00");
    holds(
        &desk.run("pair B-0601 B-0602 --why x").refused(2),
        &["body too"],
    );
    holds(
        &desk.run("pair B-0601 B-0601 --why x").refused(2),
        &["one body and one neck"],
    );
    holds(
        &desk.run("pair B-0601 N-0777 --why x").refused(2),
        &["N-0777"],
    );
    let saved = desk.json("pair B-0601 N-0602 --why 'built so'");
    assert_eq!(
        texts(&saved["pieces"], "serial"),
        ["B-0601", "N-0602", "N-0601", "B-0602"]
    );
    assert_eq!(
        saved["line"],
        "4 pieces - B-0601 and N-0602 belong together, N-0601 and B-0602 have no other half now - ended 08:00 EDT"
    );
    let pair = |serial: &str| world.now().json(&format!("piece show {serial}"))["pair"].clone();
    assert_eq!(
        (pair("B-0601"), pair("N-0602")),
        (json!("N-0602"), json!("B-0601"))
    );
    assert_eq!((pair("B-0602"), pair("N-0601")), (json!(null), json!(null)));
    let unpaired = world.now().json("unpaired");
    assert_eq!(texts(&unpaired, "serial"), ["B-0602", "N-0601"]);
    holds(unpaired[0]["why"].as_str().unwrap(), &["built so"]);
    // Undone, everybody has the half from before.
    world.at("2026-03-09 08:02").run("undo").good();
    assert_eq!(
        (pair("B-0601"), pair("N-0601")),
        (json!("N-0601"), json!("B-0601"))
    );
    assert_eq!(world.now().json("unpaired"), json!([]));
    let saved = world
        .at("2026-03-09 08:05")
        .json("pair B-0601 N-0602 --why 'built so'");
    // The two that are left belong together now, too.
    world
        .at("2026-03-09 08:10")
        .run("pair B-0602 N-0601 --why 'built so'")
        .good();
    assert_eq!(world.now().json("unpaired"), json!([]));
    let action = world.now().json(&format!("action {}", saved["action"]));
    assert_eq!(action["entries"].as_array().unwrap().len(), 4);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn pieces_go_over_to_a_new_revision_and_nothing_behind_them_changes() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 3);
    world.piece("2026-03-05 07:00", "N-0201", "N8", "--rack R12 --hook 4");
    world.bring_to("B-0201 B-0202 B-0203", 3, "2026-03-10 12:10", "");
    // Over the daily cap, and so marked.
    world.at("2026-03-10 15:40").run("coat B-0202").good();
    let text = std::fs::read_to_string(crate::world::sample("recipes/g9.toml")).unwrap();
    let text = text
        .replacen("revision = 3", "revision = 4", 1)
        .replacen("hours = \"336 h\"", "hours = \"400 h\"", 1)
        .replacen("after = \"12 h\"", "after = \"16 h\"", 1)
        .replacen("coats = 3", "coats = 4", 1);
    let file = world.file("g9-4.toml", &text);
    let desk = world.at("2026-03-10 16:00");
    desk.run(&format!("recipe adopt '{}'", file.display()))
        .good();
    for (words, wanted) in [
        ("reassign B-0201 G9 --why x", "revision"),
        ("reassign B-0201 G9 four --why x", "four"),
        ("reassign B-0201 G9 7 --why x", "7"),
        ("reassign B-0201 G9 3 --why x", "already"),
        ("reassign N-0201 G9 4 --why x", "not for a neck"),
        ("recipe in-flight G8", "G8"),
    ] {
        let said = desk.run(words).refused(2);
        holds(&said, &[wanted]);
    }
    let before = (
        desk.json("entries B-0202"),
        desk.json("deviations"),
        desk.json("piece show B-0202"),
    );
    let said = desk
        .run("reassign --rack R12 G9 4 --why 'thin film' --preview")
        .good()
        .out;
    holds(
        &said,
        &[
            "recipe G9 rev 4 is not for a neck; N-0201 stays on N8 rev 1 [left out]",
            "B-0201 goes over from G9 rev 3 to G9 rev 4",
            "until now: level sand 1",
            "from here: clear 4 of 10",
            "cure 336 h; film 111.0 um at the end",
            "cure 400 h; film 126.0 um at the end",
            "nothing behind changes",
        ],
    );
    let saved = desk.json("reassign --rack R12 G9 4 --why 'thin film'");
    assert_eq!(
        texts(&saved["pieces"], "serial"),
        ["B-0201", "B-0202", "B-0203"]
    );
    assert_eq!(texts(&saved["left_out"], "serial"), ["N-0201"]);
    assert_eq!(saved["from_here_on"][0]["after"]["next"], "clear 4 of 10");
    let after = desk.json("piece show B-0202");
    assert_eq!(after["recipe"], "G9 rev 4");
    assert_eq!(after["film"]["value"], before.2["film"]["value"]);
    assert_eq!(desk.json("deviations"), before.1);
    let entries = desk.json("entries B-0202");
    let (old, new) = (before.0.as_array().unwrap(), entries.as_array().unwrap());
    assert_eq!(&new[..old.len()], old.as_slice());
    // Four coats of set 1 were wanted now: B-0202 has them and is sanded 16 h after the last.
    assert_eq!(after["next"], "level sand 1");
    assert_eq!(after["ready_at"], "2026-03-11T07:40:00.000-04:00");
    world.piece("2026-03-10 16:10", "B-0204", "'G9 rev 3'", "");
    let flight = world.now().json("recipe in-flight G9");
    assert_eq!(flight[0]["revision"], 3);
    assert_eq!(texts(&flight[0]["pieces"], "serial"), ["B-0204"]);
    assert_eq!(
        texts(&flight[1]["pieces"], "serial"),
        ["B-0201", "B-0202", "B-0203"]
    );
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_rack_is_split_and_brought_together_again_in_one_deed_each() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R12", 201, 24);
    world.rack("2026-03-05 07:00", "R13", 301, 2);
    let desk = world.at("2026-03-06 08:00");
    let racks = desk.json("rack list");
    assert_eq!(texts(&racks, "rack"), ["R12", "R13"]);
    for (words, wanted) in [
        ("rack show R99", "R12, R13"),
        ("rack split R12 --to R12B", "--hooks"),
        ("rack split R12 --hooks 18-24 --to R12", "already"),
        ("rack split R12 --hooks 30-34 --to R12B", "hooks 30 to 34"),
        (
            "rack split R12 --pieces B-0301 --to R12B",
            "rack R13, not on rack R12",
        ),
        ("rack split R12 --hooks 18-24", "--to"),
        ("rack merge R99 --into R12", "R99"),
    ] {
        holds(&desk.run(words).refused(2), &[wanted]);
    }
    // R13 has its hooks 1 and 2; two of R12's pieces would hang there too.
    let said = desk.run("rack split R12 --hooks 1-3 --to R13").refused(2);
    holds(
        &said,
        &[
            "hook 1 has B-0301",
            "B-0201 would hang there too",
            "hook 2 has B-0302",
        ],
    );
    assert!(!said.contains("hook 3"), "{said}");

    let saved = desk.json("rack split R12 --hooks 18-24 --to R12B");
    assert_eq!(
        saved["line"],
        "Rack R12 hooks 18-24 - moved to new rack R12B, hooks kept - 7 pieces - ended 08:00"
    );
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 7);
    let show = desk.json("rack show R12B");
    assert_eq!(show["pieces"][0]["serial"], "B-0218");
    assert_eq!(show["pieces"][0]["hook"], 18);
    assert_eq!(show["rooms"], json!(["booth 1"]));
    let saved = world
        .at("2026-03-06 08:10")
        .json("rack split R12 --pieces B-0203 0204 --to R14");
    assert_eq!(texts(&saved["pieces"], "serial"), ["B-0203", "B-0204"]);
    let saved = world
        .at("2026-03-06 08:20")
        .json("rack merge R12B --into R12");
    assert_eq!(saved["pieces"].as_array().unwrap().len(), 7);
    let racks = world.now().json("rack list");
    assert_eq!(texts(&racks, "rack"), ["R12", "R13", "R14"]);
    assert_eq!(racks[0]["pieces"].as_array().unwrap().len(), 22);
    assert_eq!(world.now().run("verify").code, 0);
}

#[test]
fn a_rack_says_what_is_mixed_held_and_blocks_it() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R20", 701, 3);
    world.bring_to("--rack R20", 3, "2026-03-10 12:10", "");
    world
        .at("2026-03-10 13:00")
        .run("coat B-0703 --touch-up")
        .good();
    let show = world.at("2026-03-10 13:10").run("rack show R20").good().out;
    holds(
        &show,
        &[
            "3 pieces, booth 1",
            "blocked by B-0703",
            "B-0701",
            "level sand 1",
        ],
    );
    world
        .at("2026-03-10 13:20")
        .run("hold B-0702 --why 'glue spot'")
        .good();
    let show = world.at("2026-03-10 13:30").run("rack show R20").good().out;
    holds(&show, &["held: hook 2 B-0702: glue spot", "1 held"]);
    holds(&world.now().run("rack list").good().out, &["R20", "1 held"]);
}

#[test]
fn deviations_are_counted_by_person_booth_and_recipe() {
    let world = World::new();
    world.rack("2026-03-05 07:00", "R1", 101, 2);
    world.piece("2026-03-05 07:00", "N-0101", "N8", "");
    world.bring_to("B-0101 B-0102", 1, "2026-03-10 09:00", "");
    world
        .at("2026-03-10 10:10")
        .person("AB")
        .run("coat B-0101 --another")
        .good();
    world
        .at("2026-03-10 10:10")
        .run("coat B-0102 --another")
        .good();
    world
        .at("2026-03-11 10:10")
        .run("coat N-0101 --kind clear")
        .good();
    let entry = world.now().json("deviations")[0]["entry"].clone();
    world
        .at("2026-03-11 11:00")
        .person("KV")
        .run(&format!("answer {entry} interval 'seen, goes on'"))
        .good();
    let by = |words: &str| world.now().json(&format!("deviations --by {words}"));
    let person = by("person");
    let ab = person
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["person"] == "AB")
        .unwrap();
    assert_eq!(
        (&ab["open"], &ab["answered"], &ab["moot"]),
        (&json!(0), &json!(1), &json!(0))
    );
    let booth = by("booth");
    assert!(texts(&booth, "booth").contains(&"booth 1"), "{booth}");
    assert!(texts(&booth, "booth").contains(&"not known"), "{booth}");
    let recipe = by("recipe");
    let g9 = recipe
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["recipe"] == "G9 rev 3")
        .unwrap();
    assert_eq!((&g9["open"], &g9["answered"]), (&json!(1), &json!(1)));
    assert_eq!(g9["rules"], json!({"interval": 2}));
    assert_eq!(
        texts(&by("recipe --since '2026-03-11 00:00'"), "recipe"),
        ["N8 rev 1"]
    );
    assert_eq!(
        texts(&by("recipe --until '2026-03-11 00:00'"), "recipe"),
        ["G9 rev 3"]
    );
    holds(
        &world.now().run("deviations --by mood").refused(2),
        &["person", "booth", "recipe"],
    );
    holds(
        &world.now().run("deviations --by recipe").good().out,
        &["1 open, 1 answered, 0 moot  (interval 2)"],
    );
}

#[test]
fn the_printed_card_reads_like_the_one_that_hangs_with_the_piece() {
    let world = World::new();
    world.piece(
        "2026-03-05 07:00",
        "B-0101",
        "G9",
        "--rack R1 --hook 1 --tag T-1 --pair N-0101 --due 2026-05-15",
    );
    let coupon = std::fs::read_to_string(crate::world::sample("recipes/g9.toml"))
        .unwrap()
        .replacen("code = \"G9\"", "code = \"W9\"", 1)
        .replacen("kinds = [\"body\"]", "kinds = [\"witness\"]", 1);
    let coupon = world.file("w9.toml", &coupon);
    let desk = world.at("2026-03-05 07:00");
    desk.run(&format!("recipe adopt '{}'", coupon.display()))
        .good();
    desk.run(
        "piece add W-01 --kind witness --model coupon --recipe W9 --area 0.01m2 --rack R1 --hook 2",
    )
    .good();
    world.bring_to("B-0101", 3, "2026-03-10 12:10", "");
    world
        .at("2026-03-10 15:40")
        .person("AB")
        .run("coat B-0101 --reason 2")
        .good();
    let entry = world.now().json("deviations")[0]["entry"].clone();
    world
        .at("2026-03-10 16:00")
        .person("KV")
        .run(&format!("answer {entry} daily-cap 'seen, goes on'"))
        .good();
    world.at("2026-03-10 16:10").run("gauge 62um W-01").good();
    // A coat on the wrong piece, taken back.
    world
        .at("2026-03-10 17:00")
        .run("coat B-0101 --another")
        .good();
    world.at("2026-03-10 17:01").run("undo").good();
    let page = world
        .at("2026-03-20 08:00")
        .run("piece show B-0101 --card")
        .good()
        .out;
    holds(
        &page,
        &[
            "CARD  B-0101  body Arden",
            "recipe G9 rev 3  Body, closed pore",
            "tag T-1",
            "pair N-0101    due 2026-05-15    hangs rack R1, hook 1",
            "clear set 1      1 Tue 10 Mar 09:00 MK, 2 10:35 MK, 3 12:10 MK",
            "clear set 2      1 Tue 10 Mar 15:40 AB",
            "level sand 1     -",
            "cure             -",
            "witness W-01 on this rack: 62 um (Tue 10 Mar 16:10), larger uncertainty",
            "[taken back] clear coat Tue 10 Mar 17:00 MK",
        ],
    );
    holds(
        &unwrapped(&page),
        &[
            "days: ordinary tape may leave glue after 7 days (common practice, no source)",
            "reason: due date): answered by KV: seen, goes on",
        ],
    );
    // One page: 60 lines, each of them as wide as paper.
    let lines: Vec<&str> = page.lines().collect();
    assert!(lines.len() <= 60, "{}", lines.len());
    assert!(lines.iter().all(|l| l.chars().count() <= 96), "{page}");
    // The machine's card stays as it is, with or without the page.
    assert_eq!(
        world
            .at("2026-03-20 08:00")
            .json("piece show B-0101 --card"),
        world.at("2026-03-20 08:00").json("piece show B-0101")
    );
    // In cure it says since when, what is credited and the recipe time.
    world.piece("2026-03-05 07:00", "B-0102", "G9", "");
    world.bring_to("B-0102", 9, "2026-03-16 12:00", "");
    let page = world
        .at("2026-03-17 12:00")
        .run("piece show B-0102 --card")
        .good()
        .out;
    holds(
        &page,
        &[
            "cure             in Mon 16 Mar 12:00, credited 12 of 336 h, recipe time",
            "check by hand",
        ],
    );
}

#[test]
fn a_seal_on_a_soft_filler_stays_on_the_card_to_the_inspection() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-1001", "P9", "");
    play(
        &world,
        &[
            ("2026-03-09 08:00", "receive B-1001"),
            ("2026-03-09 08:10", "mask B-1001"),
            ("2026-03-09 10:00", "coat B-1001 --kind fill --rub powder"),
        ],
    );
    // 72 h are wanted: Thu 10:00. On Wed 15:00 it is 19 h early.
    let saved = world.at("2026-03-11 15:00").json("coat B-1001 --kind seal");
    assert_eq!(texts(&saved["deviations"], "text"), ["19 h early"]);
    play(
        &world,
        &[
            ("2026-03-11 16:05", "coat B-1001 --kind seal"),
            ("2026-03-12 08:00", "coat B-1001"),
            ("2026-03-12 09:35", "coat B-1001"),
            ("2026-03-12 11:10", "coat B-1001"),
            ("2026-03-13 07:00", "sand B-1001"),
            ("2026-03-13 08:00", "coat B-1001"),
            ("2026-03-13 09:35", "coat B-1001"),
            ("2026-03-13 11:10", "coat B-1001"),
            ("2026-03-14 07:00", "sand B-1001"),
            ("2026-03-14 08:00", "coat B-1001"),
            ("2026-03-14 09:35", "coat B-1001"),
            ("2026-03-14 11:10", "coat B-1001"),
            // No room is known: every hour counts half, 336 h are reached on Sat 11 Apr 11:10.
            ("2026-04-13 07:00", "sand B-1001 --kind final-sand"),
            ("2026-04-13 09:00", "buff B-1001 --compound medium"),
            ("2026-04-13 09:30", "buff B-1001 --compound fine"),
            ("2026-04-13 10:00", "buff B-1001 --compound swirl"),
            ("2026-04-13 11:00", "done unmask B-1001"),
        ],
    );
    let saved = world
        .at("2026-04-13 12:00")
        .person("KV")
        .json("inspect B-1001 --light-box 'box 1'");
    assert_eq!(saved["deviations"], json!([]));
    let page = world
        .at("2026-04-13 13:00")
        .run("piece show B-1001 --card")
        .good()
        .out;
    holds(
        &page,
        &[
            "fill             Mon 9 Mar 10:00 EDT MK (rub test: powder)",
            "cure             in Sat 14 Mar 11:10, out Mon 13 Apr 07:00",
            "buff             1 Mon 13 Apr 09:00 MK (medium)",
            "inspect          Mon 13 Apr 12:00 KV (light box box 1)",
            "19 h early (reason not given yet): OPEN",
        ],
    );
    // With the tape off nothing is said of its age.
    assert!(!page.contains("tape on since"), "{page}");
    assert_eq!(world.now().run("verify").code, 0);
}
