//! Stock, top-ups, pots, counts and waste, through the built program: the stories of mixes, lots and months with their
//! numbers.

use crate::world::{Desk, World, holds};
use serde_json::Value;

fn materials<'v>(month: &'v Value, code: &str) -> &'v Value {
    month["by_stock"]["materials"]
        .as_array()
        .unwrap()
        .iter()
        .find(|m| m["material"] == code)
        .unwrap_or_else(|| panic!("{code} in {month}"))
}

// An answer as JSON, whatever its exit code.
fn any(desk: &Desk<'_>, line: &str) -> Value {
    let answer = desk.run(&format!("{line} --json"));
    serde_json::from_str(&answer.out).unwrap_or_else(|_| panic!("{line}: {}", answer.err))
}

fn verify(world: &World) -> String {
    world.now().json("verify")["differences"].to_string()
}

#[test]
fn a_top_up_blends_what_was_left_with_what_is_poured() {
    let world = World::new();
    world.piece("2026-03-08 07:00", "B-0101", "G9", "--hook 1");
    world
        .at("2026-03-08 07:05")
        .run("mix make M1 L-221=3.00L T-9=1.00L R-1=0.08L")
        .good();
    world.bring_to("B-0101", 2, "2026-03-10 09:55", "--mix 2 --amount 80mL");
    let desk = world.at("2026-03-10 10:00");
    // 4.08 L were made; two coats of 80 mL were logged, 3.92 L are left. M1 has 12.50 % solids: 0.17 x 3.00 / 4.08.
    let pot = desk.json("pot");
    assert_eq!(pot["open"][0]["level_ul"], 3_920_000);
    let made = desk.json("mix make splash T-9=0.98L --tops-up 2");
    assert_eq!(made["left_ul"], 3_920_000);
    assert_eq!(made["left_measured"], false);
    assert_eq!(made["volume_ul"], 4_900_000);
    // 3.92 L at 12.50 % in 4.90 L.
    assert_eq!(made["solids_ppm"], 100_000);
    // Nothing more comes from the old pot, and the stock gave what was poured.
    let refused = desk.run("mix make again T-9=0.10L --tops-up 2").refused(2);
    holds(&refused, &["mix 2 was topped up", "mix 3 now"]);
    let stock = desk.json("stock");
    let thinner = stock
        .as_array()
        .unwrap()
        .iter()
        .find(|m| m["material"] == "THN");
    assert_eq!(
        thinner.unwrap()["level_ul"],
        200_000_000 - 2_000_000 - 980_000
    );
    // What is sprayed from it carries the lots of both.
    let coat = world
        .at("2026-03-10 11:30")
        .json("coat B-0101 --kind clear --mix 3 --amount 49mL");
    let lots = world.text(
        "SELECT group_concat(lot || '=' || volume, ' ') FROM (SELECT lot, volume FROM used WHERE entry = (SELECT max(entry) FROM used) ORDER BY lot)",
    );
    // 3.92 L of M1 hold 2.882353 L L-221, 0.960784 L T-9 and 0.076863 L R-1; with 0.98 L T-9 and as 1 % of the pot that is
    // 28823.53, 19407.84 and 768.63 uL; the largest remainders round up until it is 49 mL.
    assert_eq!(lots, "L-221=28823 R-1=769 T-9=19408", "{coat}");
    assert_eq!(verify(&world), "[]");
}

#[test]
fn a_measured_left_over_is_taken_as_measured_and_a_top_up_can_be_taken_back() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    let refused = desk
        .run("mix make splash T-9=0.10L --tops-up 1 --left 5L")
        .refused(2);
    holds(
        &refused,
        &["left 5000 mL", "mix 1 was made with", "0 to 4080 mL"],
    );
    let made = desk.json("mix make splash T-9=1.00L --tops-up 1 --left 1.00L");
    assert_eq!(made["left_measured"], true);
    assert_eq!(made["volume_ul"], 2_000_000);
    assert_eq!(made["solids_ppm"], 62_500);
    desk.run("undo").good();
    holds(&desk.run("pot").good().out, &["1 older mix"]);
    assert_eq!(
        desk.json("mix make splash T-9=1.00L --tops-up 1")["volume_ul"],
        5_080_000
    );
}

#[test]
fn s26_negative_stock_is_recorded_and_the_receipt_clears_it() {
    let world = World::empty();
    let desk = world.at("2026-03-02 08:00");
    desk.run("open --name 'Bench and hook' --zone America/New_York --demo")
        .good();
    let thn = crate::world::sample("materials/thn.toml");
    desk.run(&format!("material adopt '{thn}'")).good();
    desk.run("lot receive T-9 THN 12.0L").good();
    world
        .at("2026-03-10 08:00")
        .run("mix make wash T-9=15.0L")
        .good();
    let at = world.at("2026-03-10 09:00");
    let answer = at.run("stock --json");
    assert_eq!(answer.code, 1);
    let stock: Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!(stock[0]["level_ul"], -3_000_000);
    holds(
        &at.run("stock").out,
        &["-3.00 L", "below zero: count it or enter the receipt"],
    );
    at.run("stock use T-9 0.10L").good();
    let stock = at.run("stock --json");
    holds(&stock.out, &["-3100000"]);
    at.run("undo").good();
    let book = any(&at, "month 2026-03 --book");
    assert!(
        book["provisional"]
            .to_string()
            .contains("lot T-9 is below zero"),
        "{book}"
    );
    // A 200 L receipt that came before is entered now.
    at.run(
        "lot receive T-9 THN 200L --further --received '2026-03-09 14:00' --document 'note 118'",
    )
    .good();
    let stock = at.json("stock");
    assert_eq!(stock[0]["level_ul"], 197_000_000);
    let again = any(&at, "month 2026-03 --book");
    assert!(
        !again["provisional"].to_string().contains("below zero"),
        "{again}"
    );
    // Both facts are in the history.
    let entries = at.run("entries").good().out;
    holds(
        &entries,
        &[
            "mix 1 (wash) made: T-9 15000 mL",
            "more of lot T-9 received",
        ],
    );
}

#[test]
fn s53_a_month_by_stock_stands_beside_the_log() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("lot receive L-300 CLR 400L").good();
    desk.run("stock count CLR 200L --closes 2026-02").good();
    for use_of in ["L-221 201.5L", "L-300 200L"] {
        desk.run(&format!(
            "stock use {use_of} --for coating --done '2026-03-10 07:30'"
        ))
        .good();
    }
    let month = any(&desk, "month 2026-03 --book");
    let clr = materials(&month, "CLR");
    assert_eq!(clr["by_stock_ul"], Value::Null, "not yet counted");
    assert!(
        month["provisional"]
            .to_string()
            .contains("no closing count of CLR")
    );
    // 200.0 + 400.0 - 180.0 = 420.0.
    world
        .at("2026-03-31 22:00")
        .run("stock count CLR 180L")
        .good();
    let later = world.at("2026-04-01 09:00");
    let month = any(&later, "month 2026-03 --book");
    let clr = materials(&month, "CLR");
    assert_eq!(clr["closing"][0]["volume_ul"], 180_000_000);
    assert_eq!(clr["by_stock_ul"], 420_000_000);
    assert_eq!(clr["logged_ul"], 401_500_000);
    assert_eq!(clr["difference_ul"], 18_500_000);
    // 561.2 g/L: 235.704 kg by stock; 401.5 L log 225.3218 kg.
    assert_eq!(clr["by_stock"]["voc_mg"], 235_704_000);
    assert_eq!(clr["by_log"]["voc_mg"], 225_321_800);
    let words = later.run("month 2026-03 --book").out;
    holds(
        &words,
        &[
            "420.00 L, VOC 235.70 kg; logged 401.50 L, VOC 225.32 kg; difference 18.50 L (4.4 %)",
            "official is the log",
        ],
    );
    assert!(!words.contains("look into it"), "{words}");
    // The shop's own mark calls it out, and its own setting makes the stock official.
    later
        .run("book set difference 4% --source 'site rule'")
        .good();
    holds(
        &later.run("month 2026-03 --book").out,
        &["more than the 4.0 % entered: look into it"],
    );
    let voc = |m: &Value| m["figures"][0]["mass_mg"].clone();
    assert_eq!(voc(&month), 225_321_800);
    later
        .run("book set official stock --source 'permit'")
        .good();
    let month = any(&later, "month 2026-03 --book");
    assert_eq!(voc(&month), 235_704_000);
    // Thinner was used and never counted: the figure is the least that is known, and the whole is unknown.
    later
        .run("stock use T-9 1L --done '2026-03-30 10:00'")
        .good();
    let month = any(&later, "month 2026-03 --book");
    assert_eq!(month["by_stock"]["by_stock"], Value::Null);
    assert_eq!(voc(&month), 235_704_000 + 588_000);
    // Toluene: 10 % of 920 g/L of the 420.0 L by stock, and 20 % of 840 g/L of the litre that was only logged.
    let toluene = month["figures"]
        .as_array()
        .unwrap()
        .iter()
        .find(|f| f["of"] == "108-88-3")
        .unwrap();
    assert_eq!(toluene["mass_mg"], 38_640_000 + 168_000);
    holds(
        &month["provisional"].to_string(),
        &["neither opening nor closing count of THN"],
    );
    assert_eq!(verify(&world), "[]");
}

#[test]
fn s54_a_waste_credit_needs_its_setting_its_manifest_and_its_analysis() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("drum start W-3 --contents 'spent thinner' --holds 200L")
        .good();
    desk.run("drum fill W-3 'gun wash' --volume 12L").good();
    desk.run("stock use T-9 200L --for cleaning").good();
    world
        .at("2026-03-20 10:00")
        .run("drum ship W-3 --mass 160kg --with 'waste contractor'")
        .good();
    let at = world.at("2026-03-21 08:00");
    let waste = |at: &Desk<'_>| any(at, "month 2026-03 --book")["by_stock"]["waste"][0].clone();
    let gross = any(&at, "month 2026-03 --book")["figures"][0]["mass_mg"]
        .as_i64()
        .unwrap();
    // 200 L of thinner at 588.0 g/L.
    assert_eq!(gross, 117_600_000);
    let first = waste(&at);
    assert_eq!(first["credit_mg"], 0);
    assert_eq!(
        first["why_none"],
        "without the site's setting for waste credits, the manifest number, the reference of the analysis"
    );
    at.run("book set waste-credit on --source 'permit'").good();
    assert_eq!(
        waste(&at)["why_none"],
        "without the manifest number, the reference of the analysis"
    );
    at.run("drum analyse W-3 --voc 55% --reference A-77")
        .refused(2);
    // It was entered without its manifest: taken back, then entered with it.
    let shipped = world.count("SELECT seq FROM entry WHERE kind = 'drum-shipped/1'");
    at.run(&format!("void {shipped} --why 'no manifest'"))
        .good();
    let at = world.at("2026-03-21 09:00");
    at.run("drum analyse W-3 --voc 55% --reference A-77").good();
    at.run("drum ship W-3 --mass 160kg --manifest M-100 --done '2026-03-20 10:00'")
        .good();
    let last = waste(&at);
    // 160 kg x 55 % = 88.0 kg.
    assert_eq!(last["credit_mg"], 88_000_000);
    assert_eq!(last["why_none"], Value::Null);
    let net = any(&at, "month 2026-03 --book")["figures"][0]["mass_mg"]
        .as_i64()
        .unwrap();
    assert_eq!(net, gross - 88_000_000);
    holds(
        &at.run("drum fill W-3 more --volume 1L").refused(2),
        &["drum W-3 has left"],
    );
}

#[test]
fn s59_a_waste_drum_has_a_clock() {
    let world = World::new();
    world
        .at("2026-03-10 08:00")
        .run("drum start W-4 --contents 'spent thinner' --done '2026-03-09 09:00'")
        .good();
    let at = world.at("2026-03-10 08:30");
    assert_eq!(at.json("drum")[0]["state"], "none_entered");
    at.run("limit enter --drum 'all drums' --value 180d --source 'site permit'")
        .good();
    let drum = at.json("drum")[0].clone();
    // 9 March and 180 days: 5 September; said from 30 days before on.
    assert_eq!(drum["due"], "2026-09-05");
    assert_eq!(drum["warn_from"], "2026-08-06");
    assert_eq!(drum["state"], "under");
    let state = |day: &str| {
        let at = format!("{day} 12:00");
        let answer = world.at(&at).run("drum --json");
        let value: Value = serde_json::from_str(&answer.out).unwrap();
        (value[0]["state"].as_str().unwrap().to_owned(), answer.code)
    };
    assert_eq!(state("2026-08-05"), ("under".to_owned(), 0));
    assert_eq!(state("2026-08-06"), ("soon".to_owned(), 0));
    assert_eq!(state("2026-09-05"), ("soon".to_owned(), 0));
    assert_eq!(state("2026-09-06"), ("over".to_owned(), 1));
}

#[test]
fn a_closed_pot_counts_what_was_left_in_it_and_gives_no_more() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("mix make M1 L-221=3.00L T-9=1.00L R-1=0.08L")
        .good();
    desk.run("drum start W-3 --contents 'left-over lacquer'")
        .good();
    let closed = desk.json("pot close 2 --left 0.408L --drum W-3");
    assert_eq!(closed["left_ul"], 408_000);
    // A tenth of M1: 234.36 g VOC, 51.024 g HAP.
    let book = any(&desk, "month 2026-03");
    assert_eq!(book["totals"]["voc_mg"], 234_360);
    assert_eq!(book["totals"]["hap_mg"], 51_024);
    assert_eq!(desk.json("drum")[0]["volume_ul"], 408_000);
    holds(
        &desk.run("pot close 2").refused(2),
        &["the pot of mix 2 was closed by action"],
    );
    desk.run("undo").good();
    assert_eq!(any(&desk, "month 2026-03")["totals"]["voc_mg"], 0);
    assert_eq!(desk.json("pot")["open"][0]["level_ul"], 4_080_000);
    assert_eq!(verify(&world), "[]");
}

#[test]
fn before_a_pot_is_closed_it_is_said_what_the_log_leaves_and_what_it_does_not_know() {
    let world = World::new();
    world.piece("2026-03-10 07:00", "B-1", "G9", "");
    let desk = world.at("2026-03-10 08:00");
    desk.run("mix make M1 L-221=3.00L T-9=1.00L").good();
    desk.run("coat B-1 --kind seal --mix 2 --amount 240mL")
        .good();
    let preview = desk.run("pot close 2 --preview").good().out;
    holds(
        &preview,
        &[
            "4.00 L made, 0.24 L drawn by coats: 3.76 L left by the log",
            "counts 3.76 L as left over in the month's book, into no drum",
            "nothing is saved yet",
        ],
    );
    let later = world.at("2026-03-10 11:00");
    later.run("coat B-1 --kind seal --mix 2 --another").good();
    let plan = later.json("pot close 2 --left 2L --preview");
    assert_eq!(
        (
            &plan["level_ul"],
            &plan["left_ul"],
            &plan["deeds_without_amount"]
        ),
        (
            &serde_json::json!(3_760_000),
            &serde_json::json!(2_000_000),
            &serde_json::json!(1)
        )
    );
    holds(
        &later.run("pot close 2 --preview").good().out,
        &["1 deed from it has no amount, so that less is there"],
    );
    holds(
        &later.run("pot close 2 --left 5L --preview").refused(2),
        &["left 5000 mL is more than the 4000 mL"],
    );
    // Nothing was closed by looking; what is said is what the book counts.
    assert_eq!(later.json("pot close 2 --left 2L")["left_ul"], 2_000_000);
    assert_eq!(verify(&world), "[]");
}

#[test]
fn what_is_carried_lies_in_two_places_and_bad_words_are_named() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("stock carry T-9 4L --to 'mixing bench'").good();
    let stock = desk.json("stock");
    let thn = stock
        .as_array()
        .unwrap()
        .iter()
        .find(|m| m["material"] == "THN")
        .unwrap();
    let lots = thn["lots"].to_string();
    assert!(
        lots.contains(r#""place":"mixing bench""#) && lots.contains("4000000"),
        "{lots}"
    );
    assert_eq!(thn["level_ul"], 199_000_000);
    holds(
        &desk.run("stock carry T-9 4L --to store").refused(2),
        &["lies in store already"],
    );
    holds(
        &desk.run("stock use T-9 0L").refused(2),
        &["volume 0 is nothing"],
    );
    holds(
        &desk.run("stock use T-9 1L --for fun").refused(2),
        &["fun", "cleaning"],
    );
    holds(
        &desk.run("stock count NIX 1L").refused(2),
        &["NIX", "neither a material nor a lot"],
    );
    holds(
        &desk.run("drum fill W-9 x --volume 1L").refused(2),
        &["drum \"W-9\" was not started"],
    );
    desk.run("drum start W-3 --contents 'spent thinner'").good();
    for (deed, field) in [
        ("drum fill W-3 '' --volume 1L", "what is empty"),
        ("drum fill W-3 'gun\u{202e}wash' --volume 1L", "what holds"),
        ("drum analyse W-3 --voc 55% --reference ' '", "reference is"),
        ("drum ship W-3 --mass 1kg --manifest ''", "manifest is"),
        ("drum ship W-3 --mass 1kg --with 'a\u{7}b'", "carrier holds"),
    ] {
        holds(&desk.run(deed).refused(2), &[field]);
    }
    holds(
        &desk.run("book set official paper --source x").refused(2),
        &["log, stock"],
    );
}

#[test]
fn s21_a_lot_that_changes_in_mid_coat_is_found_on_its_nine_bodies() {
    let world = World::new();
    world.rack("2026-03-06 07:00", "R12", 201, 24);
    world.bring_to("--rack R12", 1, "2026-03-10 07:00", "");
    let desk = world.at("2026-03-10 09:00");
    desk.run("lot receive L-233 CLR 20L").good();
    let serials = |lot: &str| -> Vec<String> {
        let pieces = world.now().json(&format!("lot pieces {lot}"))["pieces"].clone();
        let list = pieces.as_array().unwrap().iter();
        list.map(|p| p["serial"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(serials("L-233"), [""; 0]);
    desk.run("coat --rack R12 --hooks 1-15 --lot L-221 --amount 720mL --began 08:50")
        .good();
    let second = world.at("2026-03-10 09:10");
    second
        .run("coat --rack R12 --hooks 16-24 --lot L-233 --amount 432mL --began 09:02")
        .good();
    let nine: Vec<String> = (216..=224).map(|n| format!("B-0{n}")).collect();
    assert_eq!(serials("L-233"), nine);
    assert_eq!(serials("L-221").len(), 15);
    let row = world.now().json("lot pieces L-233")["pieces"][0].clone();
    assert_eq!(row["coats"], 1);
    assert_eq!(row["volume_ul"], 48_000);
    holds(
        &world.now().run("lot pieces L-233").good().out,
        &["9 pieces carry lot L-233", "B-0216", "48 mL of it"],
    );
    // In a mix, and without an amount, too; what is taken back carries nothing.
    let third = world.at("2026-03-10 10:50");
    third.run("mix make M9 L-233=0.9L T-9=0.1L").good();
    let made = third.json("mix list")[0]["mix"].clone();
    let coat = third.json(&format!("coat B-0201 --mix {made} --include B-0201"));
    assert!(serials("L-233").contains(&"B-0201".to_owned()));
    assert_eq!(
        world.now().json("lot pieces L-233")["pieces"][0]["volume_ul"],
        Value::Null
    );
    assert_eq!(coat["saved"], true);
    world.at("2026-03-10 10:55").run("undo").good();
    assert_eq!(serials("L-233"), nine);
    holds(&world.now().run("lot pieces L-999").refused(2), &["L-999"]);
}

#[test]
fn s27_gallons_are_taken_and_pounds_a_gallon_are_shown() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("lot receive L-300 CLR '55 gal'").good();
    desk.run("lot receive L-301 CLR '5 gal'").good();
    let lots = desk.json("lot list");
    let received = |lot: &str| {
        let list = lots.as_array().unwrap();
        let row = list.iter().find(|l| l["lot"] == lot).unwrap();
        row["received_ul"].as_i64().unwrap()
    };
    // 55 x 3.785411784 L and 5 x 3.785411784 L (the US gallon of 231 cubic inches, NIST SP 811).
    assert_eq!(received("L-300"), 208_197_648);
    assert_eq!(received("L-301"), 18_927_059);
    // CLR is 920 g/L with 61.0 % VOC by mass: 561.2 g/L.
    let us = desk.run("material show CLR --units us").good().out;
    holds(&us, &["7.68 lb/gal", "4.68 lb/gal"]);
}

#[test]
fn s57_from_the_month_down_to_who_counted_and_which_sheet_and_formula() {
    let world = World::new();
    let desk = world.at("2026-02-28 22:00");
    desk.run("stock count CLR 20L --closes 2026-02").good();
    let desk = world.at("2026-03-10 08:00");
    desk.run("lot receive L-300 CLR 400L --document 'note 4711'")
        .good();
    world.rack("2026-03-10 08:30", "R12", 201, 2);
    let desk = world.at("2026-03-10 09:00");
    desk.run("stock use L-221 1.5L --for coating").good();
    desk.run("stock use L-300 400L --for coating").good();
    let april = world.at("2026-04-01 09:00");
    april.run("stock count CLR 0L --closes 2026-03").good();
    // Month, material, opening count, receipt with its paper, closing count.
    let book = april.run("month 2026-03 --book").out;
    holds(
        &book,
        &[
            "opening 20.00 L counted by MK Sat 28 Feb 22:00, entry ",
            "receipt 400.00 L of lot L-300 by MK, note 4711, entry ",
            "closing 0.00 L counted by MK Wed 1 Apr 09:00, entry ",
            "420.00 L, VOC 235.70 kg; logged 401.50 L, VOC 225.32 kg",
        ],
    );
    // The same total, opened: material, lot, entry, the sheet that was in force and the formula with its numbers.
    let open = "month 2026-03 --open VOC";
    holds(
        &april.run(open).good().out,
        &["CLR", "225321.800 g", "sheet rev 4"],
    );
    let lots = april.run(&format!("{open} --material CLR")).good().out;
    holds(&lots, &["L-300"]);
    let down = format!("{open} --material CLR --lot L-300");
    let entry = world.count("SELECT entry FROM used WHERE lot = 'L-300'");
    holds(&april.run(&down).good().out, &[&entry.to_string()]);
    let working = april.run(&format!("{down} --entry {entry}")).good().out;
    holds(&working, &["sheet rev 4", "400", "224480"]);
    // And what changed since it was signed.
    april.run("month close 2026-03").good();
    let later = world.at("2026-04-02 09:00");
    later
        .run("stock use L-300 1L --for cleaning --done '2026-03-30 10:00'")
        .good();
    let history = later.run("month history 2026-03").good().out;
    holds(&history, &["signed", "MK"]);
    holds(
        &history,
        &[
            "REVISION 2 IS NOT SIGNED",
            "was  401500.0 mL, is  402500.0 mL",
        ],
    );
}

#[test]
fn a_month_that_nobody_names_is_the_one_that_runs() {
    let world = World::new();
    world.piece("2026-03-05 07:00", "B-0131", "G9", "");
    world.bring_to("B-0131", 1, "2026-03-10 07:00", "");
    let (at, later) = ("2026-03-10 12:00", "2026-04-02 12:00");
    let named = world.at(at).run("month 2026-03").good().out;
    assert_eq!(world.at(at).run("month").good().out, named);
    assert!(world.at(later).run("month").good().out.contains("2026-04"));
}

#[test]
fn what_is_left_of_a_mix_overnight_is_sprayed_from_the_same_number() {
    let world = World::new();
    world.piece("2026-03-06 07:00", "B-1", "G9", "");
    let help = world.at("2026-03-06 07:00").run("pot --help").good().out;
    let help: String = help.split_whitespace().collect::<Vec<_>>().join(" ");
    holds(
        &help,
        &["closed can", "needs no entry", "--tops-up", "pot close"],
    );
    let mix = "mix make M1 L-221=0.75L T-9=0.25L --made 14:00";
    world.at("2026-03-06 14:00").run(mix).good();
    world.bring_to("B-1", 1, "2026-03-06 15:00", "--mix 2 --amount 48mL");
    let left = |at| world.at(at).json("pot")["open"][0]["level_ul"].clone();
    let evening = left("2026-03-06 18:00");
    assert_eq!(left("2026-03-07 07:00"), evening);
    world
        .at("2026-03-07 07:30")
        .run("coat B-1 --kind clear --mix 2 --amount 48mL")
        .good();
    let more = evening.as_i64().unwrap() - 48_000;
    assert_eq!(left("2026-03-07 08:00").as_i64(), Some(more));
}

#[test]
fn a_count_of_more_than_was_ever_received_is_kept_and_said() {
    let world = World::new();
    let desk = || world.at("2026-03-07 08:00");
    let said = desk().run("stock count CLR 480L").good().out;
    holds(
        &said,
        &[
            "480.00 L of CLR counted",
            "only 400.00 L were ever received by then",
        ],
    );
    let said = desk().run("stock count L-221 400L").good().out;
    assert!(!said.contains("ever received"), "{said}");
    // A receipt that came after the count was not there.
    world
        .at("2026-03-09 08:00")
        .run("lot receive L-300 CLR 100L")
        .good();
    let late = world.at("2026-03-09 08:05");
    let said = late
        .run("stock count CLR 480L --done '2026-03-07 08:00'")
        .good()
        .out;
    holds(&said, &["ever received by then"]);
    let said = late.run("stock count CLR 480L").good().out;
    assert!(!said.contains("ever received"), "{said}");
}
