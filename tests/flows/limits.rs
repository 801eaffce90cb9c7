//! What counts, the month from every side, and limits before they are reached, through the built program.

use crate::world::{Desk, World, holds, sample};
use serde_json::Value;

fn any(desk: &Desk<'_>, line: &str) -> (i32, Value) {
    let answer = desk.run(&format!("{line} --json"));
    let value = serde_json::from_str(&answer.out);
    (
        answer.code,
        value.unwrap_or_else(|_| panic!("{line}: {}", answer.err)),
    )
}

fn mg(value: &Value) -> i64 {
    value
        .as_i64()
        .unwrap_or_else(|| panic!("no figure: {value}"))
}

fn adopt(world: &World) {
    let desk = world.at("2026-03-01 08:00");
    desk.run("rules adopt --example us-federal").good();
    desk.run(&format!(
        "rules adopt '{}'",
        sample("rules/own-district.toml")
    ))
    .good();
}

// Ten litres of each of the two that hold acetone.
fn used() -> World {
    let world = World::new();
    adopt(&world);
    let desk = world.at("2026-03-10 08:00");
    desk.run("stock use L-221 10L --for coating --booth 'booth 1'")
        .good();
    desk.run("stock use T-9 10L --for cleaning").good();
    world
}

#[test]
fn a_substance_is_exempt_in_one_rule_set_and_counted_in_another() {
    let world = used();
    let desk = world.at("2026-03-10 09:00");
    // 561.2 and 588.0 g/L; acetone 0.15 x 920 + 0.30 x 840 = 138 + 252 g/L.
    let by = |rules: &str| desk.json(&format!("month 2026-03 --rules {rules}"))["totals"].clone();
    for rules in ["sheet", "US-FED"] {
        let totals = by(rules);
        assert_eq!(mg(&totals["voc_mg"]), 11_492_000, "{rules}");
        assert_eq!(mg(&totals["exempt_mg"]), 3_900_000, "{rules}");
        assert_eq!(mg(&totals["hap_mg"]), 2_820_800, "{rules}");
    }
    let own = by("OWN");
    assert_eq!(mg(&own["voc_mg"]), 11_492_000 + 3_900_000);
    assert_eq!(mg(&own["exempt_mg"]), 0);
    // Ethylbenzene is in no list of that set: 0.004 x 920 g/L less.
    assert_eq!(mg(&own["hap_mg"]), 2_820_800 - 36_800);
    holds(
        &desk.run("month 2026-03 --rules OWN").good().out,
        &[
            "by rule set OWN rev 1, in force from 2026-01-01",
            "67-64-1 acetone in CLR (sheet rev 4): the sheet calls it exempt, the rule set counts it as VOC",
            "100-41-4 ethylbenzene in CLR (sheet rev 4): the sheet calls it a HAP, the rule set does not list it",
        ],
    );
    let refused = desk.run("month 2026-03 --rules NIX").refused(2);
    holds(&refused, &["\"NIX\" is not adopted", "rules list"]);
    let refused = desk.run("month 2025-12 --rules OWN").refused(2);
    holds(
        &refused,
        &["in force from 2026-01-01", "2025-12-31 is before"],
    );
}

#[test]
fn the_setting_counts_the_book_and_its_levels_and_the_record_stays_what_it_is() {
    let world = used();
    let desk = world.at("2026-03-10 09:00");
    let before = desk.json("month 2026-03 --from-log")["totals"].clone();
    let refused = desk.run("book set rules NIX --source x").refused(2);
    holds(&refused, &["\"NIX\" is not adopted"]);
    desk.run("book set rules OWN --source 'permit 12-34'")
        .good();
    let (_, book) = any(&desk, "month 2026-03 --book");
    assert_eq!(mg(&book["figures"][0]["mass_mg"]), 15_392_000);
    assert_eq!(
        mg(&book["twelve_months"]["figures"][0]["mass_mg"]),
        15_392_000
    );
    holds(&book["counted_by"].to_string(), &["rule set OWN rev 1"]);
    let (_, level) = any(&desk, "month 2026-03 --open VOC");
    assert_eq!(mg(&level["total_mg"]), 15_392_000);
    assert_eq!(level["missing_mg"], 0);
    let (_, level) = any(&desk, "month 2026-03 --open VOC --material THN --lot T-9");
    assert_eq!(mg(&level["total_mg"]), 8_400_000);
    assert_eq!(
        mg(&desk.json("month 2026-03")["totals"]["voc_mg"]),
        15_392_000
    );
    assert_eq!(desk.json("month 2026-03 --from-log")["totals"], before);
    assert_eq!(world.now().json("verify")["differences"].to_string(), "[]");
    // A limit with a set of its own is held by that.
    desk.run("limit enter --of VOC --value 12kg --rules US-FED --source 'permit 12-34'")
        .good();
    let (_, book) = any(&desk, "month 2026-03 --book");
    let figure = &book["figures"][0];
    assert_eq!(mg(&figure["mass_mg"]), 11_492_000);
    assert_eq!(figure["held_against"]["side"], "under");
    assert_eq!(figure["held_against"]["rules"], "US-FED");
    // What is signed names both.
    let page = world
        .at("2026-04-02 09:00")
        .run("month close 2026-03")
        .good();
    holds(
        &page.out,
        &[
            "VOC 15392.000 g",
            "the figures above are as the data sheets state it",
        ],
    );
}

#[test]
fn a_range_counts_at_the_end_that_its_class_calls_for() {
    let world = World::new();
    adopt(&world);
    let sheet = std::fs::read_to_string(sample("materials/thn.toml")).unwrap();
    let ranged = sheet
        .replace("code = \"THN\"", "code = \"RNG\"")
        .replace("share = \"30.0 %\"", "share = [\"25 %\", \"33 %\"]");
    let file = world.file("rng.toml", &ranged);
    let desk = world.at("2026-03-10 08:00");
    desk.run(&format!("material adopt '{}'", file.display()))
        .good();
    desk.run("lot receive G-1 RNG 20L").good();
    // Three uses of 33 mL: each is rounded by itself. 33 000 uL x 840 000 mg/L.
    for _ in 0..3 {
        desk.run("stock use G-1 33.333mL --for cleaning").good();
    }
    let by = |rules: &str| desk.json(&format!("month 2026-03 --rules {rules}"))["totals"].clone();
    // Exempt at its lower end, 25 %: 33.333 x 0.840 x 0.25 = 6.99993 -> 7.000 g; the rest of 75 % is VOC: toluene 20 %
    // 5.600 g (5.599944) and 55 % 15.400 g (15.399846), each to the milligram.
    let sheet = by("sheet");
    assert_eq!(mg(&sheet["exempt_mg"]), 3 * 7_000);
    assert_eq!(mg(&sheet["voc_mg"]), 3 * (5_600 + 15_400));
    // Counted at its upper end, 33 %: 9.239908 -> 9.240 g; 20 % 5.600 g; the rest of 47 % 13.159868 -> 13.160 g.
    let own = by("OWN");
    assert_eq!(mg(&own["exempt_mg"]), 0);
    assert_eq!(mg(&own["voc_mg"]), 3 * (9_240 + 5_600 + 13_160));
    let report = desk.json("month 2026-03 --by lot --rules OWN");
    assert_eq!(report["adds_up"], true);
}

#[test]
fn every_side_of_a_month_adds_up_to_its_total() {
    let world = used();
    world.rack("2026-03-11 07:00", "R12", 201, 3);
    let coat = "coat --rack R12 --mix 1 --amount 144mL --include all --reason later";
    world.at("2026-03-12 00:30").run(coat).good();
    let desk = world.at("2026-03-12 09:00");
    let kept = desk.json("month 2026-03")["totals"].clone();
    for by in [
        "day",
        "production-day",
        "material",
        "lot",
        "booth",
        "purpose",
        "substance",
    ] {
        for more in ["", " --twelve", " --rules OWN"] {
            let report = desk.json(&format!("month 2026-03 --by {by}{more}"));
            assert_eq!(report["adds_up"], true, "{by}{more}: {report}");
            let sum = |field: &str| -> i64 {
                let lines = report["lines"].as_array().unwrap();
                lines.iter().map(|l| mg(&l[field])).sum()
            };
            for field in ["voc_mg", "hap_mg", "exempt_mg"] {
                assert_eq!(sum(field), mg(&report["total"][field]), "{by}{more}");
            }
            if more.is_empty() {
                assert_eq!(sum("voc_mg"), mg(&kept["voc_mg"]), "{by}");
            }
        }
    }
    let keys = |by: &str| -> Vec<String> {
        let report = desk.json(&format!("month 2026-03 --by {by}"));
        let lines = report["lines"].as_array().unwrap().clone();
        lines
            .iter()
            .map(|l| l["key"].as_str().unwrap().to_owned())
            .collect()
    };
    // Half past midnight belongs to the production day before.
    assert_eq!(keys("day"), ["2026-03-10", "2026-03-12"]);
    assert_eq!(keys("production-day"), ["2026-03-10", "2026-03-11"]);
    assert_eq!(keys("booth"), ["booth 1", "unknown"]);
    assert_eq!(keys("purpose"), ["cleaning", "coating", "thinning"]);
    // CLR: 561.2 g/L of material, 680.0 less exempt; a solvent has no solids.
    let report = desk.json("month 2026-03 --by material");
    let clr = &report["lines"][0];
    assert_eq!(clr["key"], "CLR");
    let tenth = |v: &Value| (mg(v) + 50) / 100;
    assert_eq!(tenth(&clr["content_mg_l"]["material"]), 5_612);
    assert_eq!(tenth(&clr["content_mg_l"]["less exempt"]), 6_800);
    assert_eq!(report["lines"][2]["key"], "THN");
    assert_eq!(report["lines"][2]["content_mg_l"]["solids"], Value::Null);
    desk.run("month 2026-03 --twelve").refused(2);
}

#[test]
fn s56_a_limit_on_content_is_held_on_the_basis_that_it_declares() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    let (code, none) = any(&desk, "limit content --mix 1");
    assert_eq!(code, 0);
    assert_eq!(none["held_against"].as_array().unwrap().len(), 0);
    let refused = desk
        .run("limit enter --of-content M1 --value 680g/L --source 'district rule'")
        .refused(2);
    holds(&refused, &["material, less exempt, solids"]);
    desk.run(
        "limit enter --of-content M1 --value 680g/L --basis 'less exempt' --source 'district rule'",
    )
    .good();
    let (code, over) = any(&desk, "limit content --mix 1");
    assert_eq!(code, 1);
    // 574.4 g/L of material, 724.0 less water and exempt.
    let tenth = |v: &Value| (mg(v) + 50) / 100;
    assert_eq!(tenth(&over["content_mg_l"]["material"]), 5_744);
    assert_eq!(tenth(&over["content_mg_l"]["less exempt"]), 7_240);
    let held = &over["held_against"][0];
    assert_eq!(held["side"], "over");
    assert_eq!(held["basis"], "less exempt");
    holds(
        &desk.run("limit content --mix 1").out,
        &[
            "724.0 g/L less water and exempt; over the limit of 680g/L for M1, which declares the basis \"VOC in a volume less water and exempt\"",
        ],
    );
    // The same figure on the other basis is under it; it is the newest limit of this name that holds.
    desk.run(
        "limit enter --of-content M1 --value 680g/L --basis material --source 'district rule'",
    )
    .good();
    let (code, under) = any(&desk, "limit content --mix 1");
    assert_eq!(
        (code, &under["held_against"][0]["side"]),
        (0, &Value::from("under"))
    );
    // With acetone counted there is nothing to take off and more to count: 3009.6 g in 4.08 L.
    adopt(&world);
    let (_, own) = any(&desk, "limit content --mix 1 --rules OWN");
    assert_eq!(tenth(&own["content_mg_l"]["material"]), 7_376);
    assert_eq!(
        own["content_mg_l"]["material"],
        own["content_mg_l"]["less exempt"]
    );
    // The month's book says it of the mixes that were used.
    desk.run("limit enter --of-content 'all mixes' --value 680g/L --basis 'less exempt' --source 'district rule'")
        .good();
    world.rack("2026-03-11 07:00", "R12", 201, 3);
    world
        .at("2026-03-11 10:00")
        .run("coat --rack R12 --mix 1 --amount 144mL --include all --reason later")
        .good();
    let book = world.at("2026-03-11 11:00").run("month 2026-03 --book");
    assert_eq!(book.code, 1);
    holds(
        &book.out,
        &["mix 1 (M1): 724.0 g/L less water and exempt; over the limit of 680g/L for all mixes"],
    );
}

#[test]
fn a_share_of_a_limit_is_said_before_it_is_reached() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("limit enter --of VOC --value 10kg --warn 95% --warn 80% --source 'permit 12-34'")
        .good();
    holds(
        &desk.run("limit list").good().out,
        &["VOC of month: 10kg", "warned at 80 % and 95 %"],
    );
    let said = |litres: &str| {
        desk.run(&format!("stock use L-221 {litres} --for coating"))
            .good();
        let (_, book) = any(&desk, "month 2026-03 --book");
        let held = book["figures"][0]["held_against"].clone();
        (
            held["reached_permille"].clone(),
            desk.run("month 2026-03 --book").out,
        )
    };
    // 561.2 g/L: 14.255 L are 7 999 906 mg, a little under 80 %.
    let (reached, text) = said("14.255L");
    assert_eq!(reached, Value::Null);
    assert!(!text.contains("warning"), "{text}");
    let (reached, text) = said("0.001L");
    assert_eq!(reached, 800);
    holds(&text, &["under: 80 %", "warning: 80 % reached"]);
    let (reached, text) = said("3L");
    assert_eq!(reached, 950);
    holds(&text, &["warning: 95 % reached"]);
    let (_, text) = said("1L");
    assert!(
        text.contains("over: 103 %") && !text.contains("warning"),
        "{text}"
    );
    for (words, wanted) in [
        ("--of VOC --value 10kg --warn 120%", "0.1 % to 99.9 %"),
        (
            "--booth 'booth 1' --value 100fpm --warn 80%",
            "belongs to a limit of the solvent book",
        ),
        (
            "--of VOC --value 10kg --rules NIX",
            "\"NIX\" is not adopted",
        ),
    ] {
        let refused = desk
            .run(&format!("limit enter {words} --source x"))
            .refused(2);
        holds(&refused, &[wanted]);
    }
}

#[test]
fn a_forecast_says_when_a_limit_would_be_reached_at_the_present_rate() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    desk.run("stock use L-221 25L --for coating").good();
    desk.run("limit enter --of VOC --value 16kg --source 'permit 12-34'")
        .good();
    desk.run("limit enter --of VOC --period twelve --value 100kg --source 'permit 12-34'")
        .good();
    // The record began on 20 February: 17 whole production days to 9 March.
    let (_, book) = any(&desk, "month 2026-03 --book");
    assert_eq!(
        book["forecasts"][0]["unknown"],
        "the record holds 17 whole production days, 28 are needed"
    );
    let later = world.at("2026-03-24 09:00");
    let (_, book) = any(&later, "month 2026-03 --book");
    // 25 L x 561.2 g/L = 14.030 kg in 28 days, 0.501 kg a day; 1.970 kg are left: on the fourth day from now.
    let month = &book["forecasts"][1];
    assert_eq!(month["period"], "month");
    assert_eq!(month["rate"]["days"], 28);
    assert_eq!(month["rate"]["first"], "2026-02-24");
    assert_eq!(month["rate"]["last"], "2026-03-23");
    assert_eq!(mg(&month["rate"]["mass_mg"]), 14_030_000);
    assert_eq!(mg(&month["left_mg"]), 1_970_000);
    assert_eq!(month["reached_on"], "2026-03-28");
    assert_eq!(month["coats_left"], Value::Null, "no coat is logged");
    // 85.970 kg at that rate: 171.6 days. The months before the record can only bring it nearer.
    let twelve = &book["forecasts"][0];
    assert_eq!(twelve["reached_on"], "2026-09-12");
    assert_eq!(twelve["at_the_latest"], true);
    holds(
        &later.run("month 2026-03 --book").out,
        &[
            "VOC in the month, forecast: 0.50 kg a day (mean of the 28 production days 24 Feb 2026 to 23 Mar 2026): 16kg reached about 28 Mar 2026",
            "100kg reached 12 Sep 2026 at the latest, a part being unknown",
        ],
    );
    // Of a month that is over nothing is forecast.
    let (_, book) = any(&world.at("2026-04-24 09:00"), "month 2026-03 --book");
    assert_eq!(book["forecasts"].as_array().unwrap().len(), 0);
}

#[test]
fn a_forecast_counts_the_coats_that_are_left_at_the_logged_mean() {
    let world = World::new();
    world.rack("2026-03-11 07:00", "R12", 201, 3);
    let coat = |more: &str| format!("coat --rack R12 {more} --include all --reason later");
    let desk = world.at("2026-03-11 10:00");
    desk.run(&coat("--mix 1 --amount 144mL")).good();
    desk.run("limit enter --of VOC --value 1kg --source 'permit 12-34'")
        .good();
    let (_, book) = any(&world.at("2026-03-24 09:00"), "month 2026-03 --book");
    let month = &book["forecasts"][0];
    // Three coats of 27.57 g; 917.28 g are left, and 917.28 / 27.57 = 33.27.
    assert_eq!(month["rate"]["coats"], 3);
    assert_eq!(month["coats_left"], 33);
    assert_eq!(month["reached_on"], Value::Null);
    assert_eq!(month["looked_at_until"], "2026-03-31");
    // A coat of which nobody said how much leaves the rate unknown.
    world.at("2026-03-12 10:00").run(&coat("")).good();
    let (_, book) = any(&world.at("2026-03-24 09:00"), "month 2026-03 --book");
    assert_eq!(
        book["forecasts"][0]["unknown"],
        "coats without a known amount in the last 28 production days: 3"
    );
}

#[test]
fn published_thresholds_are_examples_until_the_shop_enters_one_with_its_own_source() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    let examples = desk.json("limit examples");
    let list = examples["examples"].as_array().unwrap();
    assert!(list.iter().all(|e| e["entered"] == false
        && !e["source"].as_str().unwrap().is_empty()
        && !e["tag"].as_str().unwrap().is_empty()));
    assert_eq!(desk.json("limit list").to_string(), "[]");
    let (_, book) = any(&desk, "month 2026-03 --book");
    assert_eq!(book["figures"][0]["held_against"]["side"], "none_entered");
    desk.run("limit enter --like major-voc").refused(2);
    desk.run("limit enter --like major-voc --value 3kg --source x")
        .refused(2);
    desk.run("limit enter --like major-voc --warn 80% --source 'permit 12-34, page 2'")
        .good();
    let limit = desk.json("limit list")[0].clone();
    // 200 000 lb.
    assert_eq!(mg(&limit["value"]), 90_718_474_000);
    assert_eq!(limit["scope"], "twelve months");
    assert_eq!(limit["source"], "permit 12-34, page 2");
    assert_eq!(limit["warn_at_permille"], serde_json::json!([800]));
    for (words, wanted) in [
        ("--like major-hap-one", "add --of with its CAS number"),
        ("--like area-volume-month", "shown only"),
        ("--like nix", "limit examples"),
    ] {
        let refused = desk
            .run(&format!("limit enter {words} --source x"))
            .refused(2);
        holds(&refused, &[wanted]);
    }
    desk.run("limit enter --like major-hap-one --of toluene --source 'permit 12-34'")
        .good();
    desk.run("limit enter --like district-clear-topcoat --source 'the rule as printed'")
        .good();
    let (code, held) = any(&desk, "limit content --mix 1");
    assert_eq!(code, 1);
    assert_eq!(held["held_against"][0]["side"], "over");
}

#[test]
fn a_rule_set_is_read_strictly_adopted_once_and_held_beside_another() {
    let world = World::new();
    let desk = world.at("2026-03-10 08:00");
    let bad = "[rules]\ncode = \"sheet\"\nrevision = \"1\"\nin_force = 2026-01-01\nsource = \"x\"\nwater = \"drunk\"\n\
               [[exempt]]\ncas = \"67-64-2\"\nname = \"acetone\"\n[[exempt]]\ncas = \"540-88-5\"\nname = \"a\"\n\
               [[counted]]\ncas = \"540-88-5\"\nname = \"a\"\ntag = \"sure\"\nwhy = \"x\"\n[[hap]]\ncas = \"108-88-3\"\n";
    let file = world.file("bad.toml", bad);
    let said = desk
        .run(&format!("rules check '{}'", file.display()))
        .refused(2);
    holds(
        &said,
        &[
            "bad.toml:6: rules, water: \"drunk\"",
            "taken off, kept in",
            "67-64-2",
            "check digit",
            "\"sure\"",
            "from memory, to be confirmed",
            "why",
            "hap 1, name: nothing written",
        ],
    );
    desk.run(&format!("rules adopt '{}'", file.display()))
        .refused(2);
    let good = desk.run("rules adopt --example own-district").good();
    holds(&good.out, &["own-district adopted"]);
    holds(
        &desk.run("rules adopt --example own-district").refused(2),
        &["OWN rev 1 is adopted already and never changes"],
    );
    let next = std::fs::read_to_string(sample("rules/own-district.toml"))
        .unwrap()
        .replace("revision = \"1\"", "revision = \"2\"")
        .replace("in_force = 2026-01-01", "in_force = 2026-04-01")
        .replace("cas = \"67-64-1\"", "cas = \"79-20-9\"")
        .replace("name = \"acetone\"", "name = \"methyl acetate\"");
    let file = world.file("own2.toml", &next);
    desk.run(&format!("rules adopt '{}'", file.display()))
        .good();
    let list = desk.json("rules list");
    assert_eq!(list.as_array().unwrap().len(), 2);
    assert_eq!(desk.json("rules show OWN")["revision"], "2");
    holds(
        &desk.run("rules show OWN 1").good().out,
        &[
            "rev 1",
            "in force from 2026-01-01",
            "counted as VOC",
            "acetone",
            "as entered by the shop",
        ],
    );
    holds(
        &desk.run("rules compare OWN 1 2").good().out,
        &["2026-01-01", "2026-04-01", "methyl acetate"],
    );
    // The revision that was in force in the month is the one that counts it.
    let march = desk.json("month 2026-03 --rules OWN");
    assert_eq!(march["rules"], "OWN rev 1");
    let april = world
        .at("2026-04-01 08:00")
        .json("month 2026-04 --rules OWN");
    assert_eq!(april["rules"], "OWN rev 2");
    assert_eq!(world.now().json("verify")["differences"].to_string(), "[]");
}
