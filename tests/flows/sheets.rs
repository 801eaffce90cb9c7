//! A data sheet that was the wrong one: the lot is bound to the right one, and everything reckoned with it follows.

use super::world::{World, holds, sample};

#[test]
fn a_lot_that_is_bound_to_another_sheet_moves_films_sums_and_the_signed_month() {
    let world = World::new();
    let desk = world.at("2026-03-09 07:00");
    // The same lacquer by a later sheet: 20 % volume solids where the first one says 17 %, and a little denser.
    let first = std::fs::read_to_string(sample("materials/clr.toml")).unwrap();
    let later = first
        .replace("rev 4", "rev 5")
        .replace("volume_solids = \"17.0 %\"", "volume_solids = \"20.0 %\"")
        .replace("density = \"0.920 kg/L\"", "density = \"0.940 kg/L\"");
    let file = world.file("clr5.toml", &later);
    desk.run(&format!("material adopt '{}'", file.display()))
        .good();
    // A lot is bound to the sheet that was in force at its receipt.
    let lots = desk.json("lot list");
    let bound = |lots: &serde_json::Value| {
        let all = lots.as_array().unwrap();
        let lot = all.iter().find(|l| l["lot"] == "L-221").unwrap();
        lot["sheet"].as_str().unwrap().to_owned()
    };
    assert_eq!(bound(&lots), "rev 4");
    world.piece("2026-03-09 07:05", "B-0801", "G9", "");
    world.bring_to("B-0801", 1, "2026-03-10 09:00", "--mix 1 --amount 48mL");
    let at = world.at("2026-04-01 10:00");
    // 20 um of sealer and a clear of 15 um, for the mix has the 12.5 % that the recipe assumes.
    let microns =
        |at: &super::world::Desk<'_>| at.json("piece show B-0801")["film"]["value"].clone();
    assert_eq!(microns(&at), 35.0);
    at.run("month close 2026-03").good();

    let moved = at.json("lot rebind L-221 'rev 5' --why 'the can carries rev 5'");
    // Of 48 mL the lacquer is 48 x 3.00 / 4.08 = 35.294 mL. Its VOC by the sheet is 24 % solids and 15 % acetone taken
    // off, 61 % of the mass: 35.294 x 0.920 x 0.61 = 19.807 g, then 35.294 x 0.940 x 0.61 = 20.238 g: 0.431 g more.
    let voc = |when: &str| moved["months"][0][when]["voc_mg"].as_i64().unwrap();
    let more = voc("after") - voc("before");
    assert!((430..=432).contains(&more), "{more}");
    // The mix has 3.00 x 20 / 4.08 = 14.706 % solids now: 15 x 14.706 / 12.5 = 17.6 um.
    assert_eq!(microns(&at), 37.6);
    assert_eq!(bound(&at.json("lot list")), "rev 5");
    assert_eq!(at.json("verify")["differences"], serde_json::json!([]));
    // The month that was signed stays as it was signed, and says that it has changed since.
    let said = at.run("month 2026-03");
    assert_eq!(said.code, 1, "{}{}", said.out, said.err);
    holds(
        &said.err,
        &["REVISION 2 IS NOT SIGNED", "CLR    toluene 108-88-3"],
    );
    let again = at.run("lot rebind L-221 'rev 5' --why twice").refused(2);
    holds(&again, &["bound to sheet rev 5 of CLR already"]);
    let unknown = at.run("lot rebind L-221 'rev 9' --why guess").refused(2);
    holds(
        &unknown,
        &["sheet \"rev 9\" of CLR is not adopted; write one of rev 4, rev 5"],
    );
}
