//! The published figures and the stories once more, through the command line: what a person types is what is computed.

use hangtime::science::registry;
use hangtime::science::worksheet::Absent;
use hangtime::units::System;
use serde_json::Value;

use crate::registry::work;
use crate::table::near_rel;

fn ask(id: &str, pairs: &[&str], system: System) -> (i32, Value) {
    let pairs: Vec<String> = pairs.iter().map(|p| (*p).to_owned()).collect();
    let (code, out, err) = work(id, &pairs, true, system);
    assert!(code < 2, "{id}: {err}");
    (code, serde_json::from_str(&out).unwrap())
}

fn us(id: &str, pairs: &[&str]) -> (i32, Value) {
    ask(id, pairs, System::Us)
}

fn metric(id: &str, pairs: &[&str]) -> (i32, Value) {
    ask(id, pairs, System::Metric)
}

fn result(answer: &Value) -> f64 {
    answer["result"]["value"].as_f64().unwrap()
}

fn also(answer: &Value, name: &str) -> f64 {
    answer["also"]
        .as_array()
        .unwrap()
        .iter()
        .find(|f| f["name"] == name)
        .unwrap_or_else(|| panic!("no {name} in {}", answer["also"]))["value"]
        .as_f64()
        .unwrap()
}

fn sides(answer: &Value) -> Vec<(String, String)> {
    answer["held_against"]
        .as_array()
        .unwrap()
        .iter()
        .map(|h| {
            (
                h["limit"].as_str().unwrap().to_owned(),
                h["side"].as_str().unwrap().to_owned(),
            )
        })
        .collect()
}

fn texts(answer: &Value, list: &str) -> String {
    answer[list]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t.as_str().unwrap())
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn t01_to_t03_and_t48_toluene_by_the_rule() {
    let toluene = [
        "solvent=other",
        "vapour=30.4ft3",
        "liquid=1gal",
        "sheet-lel=1.4%",
    ];
    let (_, quarter) = us("lel-dilution", &[&toluene[..], &["rate=1gal/h"]].concat());
    near_rel(result(&quarter), 8_564.0, 0.001);
    assert_eq!(quarter["result"]["unit"], "ft3");
    near_rel(also(&quarter, "air flow at the rate"), 142.7, 0.001);
    assert!(texts(&quarter, "sources").contains("from memory, to be confirmed"));
    let (_, fifth) = us("lel-dilution", &[&toluene[..], &["target=20%"]].concat());
    near_rel(result(&fifth), 10_827.0, 0.001);
}

#[test]
fn the_lowest_limit_is_taken_and_all_known_ones_are_listed() {
    let (_, table) = metric("lel", &["solvent=toluene"]);
    near_rel(result(&table), 1.0, 1e-9);
    let words = texts(&table, "assumes");
    for known in [
        "1 % IEC",
        "1.1 % NFPA",
        "1.1 % NIOSH",
        "1.4 % 29 CFR 1910.94(c) Table G-11 (from memory, to be confirmed)",
    ] {
        assert!(words.contains(known), "{known} in {words}");
    }
    let (_, entered) = metric("lel", &["solvent=toluene", "sheet-lel=1.2%"]);
    near_rel(result(&entered), 1.2, 1e-9);
    assert!(texts(&entered, "assumes").contains("as entered"));
}

#[test]
fn a_room_of_fresh_work_says_what_it_cannot_know() {
    // 1.15 L with 83 % solvent taken as toluene in 60 m3: 0.9545 L make 0.21896 m3, 0.3649 % of the air.
    let (code, room) = metric(
        "room-vapour",
        &[
            "sprayed=1150mL",
            "volatile=83%",
            "room=60m3",
            "solvent=toluene",
            "limit=25%",
        ],
    );
    near_rel(result(&room), 36.49, 0.001);
    assert_eq!(code, 1);
    assert!(texts(&room, "cautions").contains(
        "if perfectly mixed; near the floor and the work it can be many times higher; a meter and a qualified person decide"
    ));
    assert!(texts(&room, "assumes").contains("all solvent of the last coats is given off at once"));
    // Aired with one change an hour for two hours: e to the minus two of it is left.
    let (_, later) = metric(
        "room-vapour",
        &[
            "sprayed=1150mL",
            "volatile=83%",
            "room=60m3",
            "solvent=toluene",
            "air-flow=60m3/h",
            "time=2h",
        ],
    );
    near_rel(
        also(&later, "share of the lower explosive limit after the time"),
        36.49 * (-2.0_f64).exp(),
        0.001,
    );
    // Given off over four hours without air it is as much in the end as at once.
    let (_, slow) = metric(
        "room-vapour",
        &[
            "sprayed=1150mL",
            "volatile=83%",
            "room=60m3",
            "solvent=toluene",
            "release=4h",
        ],
    );
    near_rel(result(&slow), 36.49, 0.001);
}

#[test]
fn the_exhaust_at_a_spray_rate_equals_the_fixture() {
    let (_, air) = metric(
        "exhaust-lel",
        &[
            "sprayed=5mL/min",
            "exhaust=900m3/h",
            "solvent=[toluene,n_butyl_acetate,acetone,isopropanol,mek,butoxyethanol]",
            "part=[35%,20%,20%,10%,10%,5%]",
            "sheet-lel=1.5260621%",
        ],
    );
    near_rel(result(&air), 0.549_756_29, 1e-4);
}

#[test]
fn t04_the_two_velocity_rules_are_held_apart_and_the_stricter_is_the_answer() {
    let (code, booth) = us(
        "booth-velocity-rules",
        &["velocity=80fpm", "crossdraft=40fpm", "size=large"],
    );
    near_rel(result(&booth), 100.0, 1e-9);
    assert_eq!(code, 1);
    assert_eq!(
        sides(&booth),
        [
            (
                "Table G-10, lowest of the range".to_owned(),
                "over".to_owned()
            ),
            (
                "the fire rule for dry-filter booths".to_owned(),
                "under".to_owned()
            ),
            (
                "crossdraft that the table's note allows".to_owned(),
                "under".to_owned()
            ),
        ]
    );
    assert!(texts(&booth, "cautions").contains("says nothing about what a person breathes"));
}

#[test]
fn s50_a_full_survey_is_under_its_limit_and_a_short_one_is_unknown() {
    let full = "reading=[104fpm,98fpm,101fpm,95fpm,92fpm,97fpm,88fpm,90fpm,99fpm]";
    let (code, nine) = us("face-survey", &[full, "limit=100fpm"]);
    near_rel(result(&nine), 96.0, 1e-9);
    near_rel(also(&nine, "lowest"), 88.0, 1e-9);
    assert_eq!((code, sides(&nine)[0].1.as_str()), (1, "under"));
    let eight = "reading=[104fpm,98fpm,101fpm,95fpm,92fpm,97fpm,88fpm,90fpm]";
    let (code, short) = us("face-survey", &[eight, "limit=80fpm"]);
    assert_eq!((code, sides(&short)[0].1.as_str()), (1, "unknown"));
    assert!(texts(&short, "cautions").contains("incomplete"));
    let (code, open) = us("face-survey", &[full]);
    assert_eq!((code, sides(&open)[0].1.as_str()), (0, "none_entered"));
}

#[test]
fn s37_the_blush_sheet_names_every_rule_that_is_exceeded() {
    let (code, damp) = metric(
        "blush",
        &["air=27C", "rh=70%", "rh-limit=65%", "spread-limit=8 K diff"],
    );
    assert_eq!(code, 1);
    let cautions = texts(&damp, "cautions");
    assert!(
        cautions.contains("relative humidity is exceeded")
            && cautions.contains("dew point than the limit")
    );
    let (code, fair) = metric(
        "blush",
        &["air=21C", "rh=50%", "rh-limit=65%", "spread-limit=8 K diff"],
    );
    assert_eq!(code, 0);
    near_rel(also(&fair, "limits exceeded") + 1.0, 1.0, 1e-12);
    let (code, cold) = metric("blush", &["air=24C", "rh=55%", "piece=10C"]);
    assert_eq!(code, 1);
    assert!(texts(&cold, "cautions").contains("piece colder than dew point"));
}

#[test]
fn s56_a_limit_says_on_which_basis_it_stands() {
    let clear = ["density=0.92kg/L", "solids=24%", "exempt=15%"];
    let (code, answer) = metric(
        "voc",
        &[&clear[..], &["limit=600g/L", "basis=less-water-and-exempt"]].concat(),
    );
    near_rel(result(&answer), 561.2, 1e-4);
    near_rel(
        also(&answer, "VOC less water and exempt solvent"),
        680.0,
        1e-4,
    );
    assert_eq!(code, 1);
    let (code, _) = metric(
        "voc",
        &[&clear[..], &["limit=600g/L", "basis=material"]].concat(),
    );
    assert_eq!(code, 0);
    let pairs: Vec<String> = ["density=0.92kg/L", "solids=24%", "limit=600g/L"]
        .map(str::to_owned)
        .into();
    let (code, _, err) = work("voc", &pairs, false, System::Metric);
    assert_eq!(code, 2);
    assert!(err.contains("basis"), "{err}");
}

#[test]
fn s53_and_s54_the_month_by_stock_and_the_waste_credit() {
    let (code, month) = metric(
        "stock-balance",
        &[
            "opening=200L",
            "receipt=400L",
            "closing=180L",
            "voc=561.2g/L",
            "logged=401.5L",
            "alarm=5%",
        ],
    );
    assert_eq!(code, 0);
    near_rel(result(&month), 420.0, 1e-9);
    near_rel(also(&month, "VOC by stock"), 235.70, 1e-4);
    near_rel(also(&month, "VOC by log"), 225.32, 1e-4);
    near_rel(
        also(&month, "stock less log, as a share of stock"),
        4.405,
        1e-3,
    );
    let (_, credit) = metric(
        "waste-credit",
        &[
            "gross=612.4kg",
            "waste=160kg",
            "voc=55%",
            "site-allows=yes",
            "manifest=yes",
            "analysis=yes",
        ],
    );
    near_rel(result(&credit), 524.4, 1e-9);
    let (_, bare) = metric("waste-credit", &["gross=612.4kg", "waste=160kg", "voc=55%"]);
    near_rel(result(&bare), 612.4, 1e-9);
    assert!(texts(&bare, "assumes").contains("the manifest number is missing"));
}

#[test]
fn the_hap_sheet_lists_each_species_with_its_standing() {
    let (_, clear) = metric(
        "hap",
        &[
            "material=0.92kg",
            "species=[108-88-3,1330-20-7,100-41-4]",
            "part=[10%,2%,0.4%]",
        ],
    );
    near_rel(result(&clear), 0.114_08, 1e-9);
    near_rel(also(&clear, "toluene"), 0.092, 1e-9);
    let (_, off) = metric("hap", &["material=1kg", "species=78-93-3", "part=50%"]);
    near_rel(result(&off) + 1.0, 1.0, 1e-12);
    assert!(texts(&off, "assumes").contains("not on the list (removed 19 December 2005"));
    let (_, naphtha) = us(
        "hap",
        &["material=10lb", "blend=vm-p-naphtha", "blend-part=100%"],
    );
    near_rel(result(&naphtha), 0.6, 1e-9);
}

#[test]
fn a_partial_year_is_unknown_to_its_limit_unless_it_is_over_already() {
    let (code, short) = metric("rolling-twelve", &["month=[10kg,10kg]", "limit=1000kg"]);
    assert_eq!((code, sides(&short)[0].1.as_str()), (1, "unknown"));
    let (code, over) = metric("rolling-twelve", &["month=[600kg,600kg]", "limit=1000kg"]);
    assert_eq!((code, sides(&over)[0].1.as_str()), (1, "over"));
}

#[test]
fn no_exposure_limit_and_no_target_is_a_default() {
    for sheet in registry::all() {
        if !sheet.id.starts_with("exposure") && sheet.id != "dilution-for-health" {
            continue;
        }
        for input in sheet.inputs {
            if ["limit", "ceiling", "peak", "target"].contains(&input.name) {
                assert!(
                    !matches!(input.absent, Absent::Take(_)),
                    "{} {}",
                    sheet.id,
                    input.name
                );
            }
        }
    }
}

#[test]
fn whatever_a_sheet_says_it_never_gives_a_clearance() {
    const NEVER: &[&str] = &[
        "safe",
        "approved",
        "compliant",
        "cleared",
        "pass",
        "fail",
        "gate",
        "green",
        "guaranteed",
    ];
    let fixed = ["safety data sheet", "safety lead"];
    for sheet in registry::all() {
        let pairs: Vec<String> = sheet
            .inputs
            .iter()
            .map(|i| format!("{}={}", i.name, i.example))
            .collect();
        for json in [false, true] {
            for pairs in [&pairs[..], &[]] {
                let (_, out, _) = work(sheet.id, pairs, json, System::Metric);
                let mut text = out.to_lowercase();
                for phrase in fixed {
                    text = text.replace(phrase, "");
                }
                for word in text.split(|c: char| !c.is_alphabetic()) {
                    assert!(!NEVER.contains(&word), "{}: {word}", sheet.id);
                }
            }
        }
    }
}

#[test]
fn every_caution_names_whom_to_ask_or_what_decides() {
    let answers = [
        "ask",
        "safety lead",
        "decide",
        "try a scrap",
        "dew point",
        "is exceeded",
        "incomplete",
    ];
    for sheet in registry::all() {
        let pairs: Vec<String> = sheet
            .inputs
            .iter()
            .map(|i| format!("{}={}", i.name, i.example))
            .collect();
        let (_, out, _) = work(sheet.id, &pairs, true, System::Metric);
        let answer: Value = serde_json::from_str(&out).unwrap();
        for caution in answer["cautions"].as_array().unwrap() {
            let text = caution.as_str().unwrap();
            assert!(
                answers.iter().any(|a| text.contains(a)),
                "{}: {text}",
                sheet.id
            );
        }
    }
}
