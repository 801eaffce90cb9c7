//! Recipe and material files: what is read, and what is said of each fault.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    missing_docs,
    reason = "tests"
)]

mod mechanisms;
mod rehearsals;
mod solvent;

use hangtime::shop::faults::Fault;
use hangtime::shop::material::{Material, Totals, mix_figures};
use hangtime::shop::recipe::Recipe;
use hangtime::shop::words::StepKind;
use hangtime::shop::{material_file, recipe_file};
use hangtime::units::{Film, Mass, Share, Span, Temperature, Volume};
use proptest::prelude::*;

const G9: &str = include_str!("../../sample/recipes/g9.toml");
const CLR: &str = include_str!("../../sample/materials/clr.toml");

fn sample(folder: &str) -> Vec<(String, String)> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("sample")
        .join(folder);
    let mut files: Vec<(String, String)> = std::fs::read_dir(path)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (
                format!("{folder}/{name}"),
                std::fs::read_to_string(path).unwrap(),
            )
        })
        .collect();
    files.sort();
    files
}

fn lines(faults: &[Fault]) -> String {
    faults
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join("\n")
}

fn recipe(name: &str) -> Recipe {
    let (file, text) = sample("recipes")
        .into_iter()
        .find(|(file, _)| file.ends_with(&format!("/{name}.toml")))
        .unwrap();
    recipe_file::read(&file, &text).unwrap_or_else(|f| panic!("{}", lines(&f)))
}

fn material(name: &str) -> Material {
    let (file, text) = sample("materials")
        .into_iter()
        .find(|(file, _)| file.ends_with(&format!("/{name}.toml")))
        .unwrap();
    material_file::read(&file, &text).unwrap_or_else(|f| panic!("{}", lines(&f)))
}

/// The faults of G9 after one exchange, which must apply.
fn recipe_faults(old: &str, new: &str) -> Vec<Fault> {
    assert!(G9.contains(old), "the sample holds {old:?}");
    recipe_file::read("g9.toml", &G9.replacen(old, new, 1)).expect_err("the exchange makes a fault")
}

fn material_faults(old: &str, new: &str) -> Vec<Fault> {
    assert!(CLR.contains(old), "the sample holds {old:?}");
    material_file::read("clr.toml", &CLR.replacen(old, new, 1))
        .expect_err("the exchange makes a fault")
}

fn line_of(text: &str, part: &str) -> usize {
    text.lines().position(|l| l.contains(part)).unwrap() + 1
}

/// One fault and no other, as one line.
fn only(faults: &[Fault]) -> String {
    assert_eq!(faults.len(), 1, "{}", lines(faults));
    faults[0].to_string()
}

// --- the samples

#[test]
fn every_sample_file_reads() {
    let recipes = sample("recipes");
    let materials = sample("materials");
    assert_eq!((recipes.len(), materials.len()), (10, 15));
    for (file, text) in recipes {
        let read = recipe_file::read(&file, &text).unwrap_or_else(|f| panic!("{}", lines(&f)));
        assert_eq!(file, format!("recipes/{}.toml", read.code.to_lowercase()));
    }
    for (file, text) in materials {
        let read = material_file::read(&file, &text).unwrap_or_else(|f| panic!("{}", lines(&f)));
        assert_eq!(file, format!("materials/{}.toml", read.code.to_lowercase()));
    }
}

#[test]
fn the_body_recipe_plans_131_um_before_the_final_sand_and_111_um_finished() {
    let g9 = recipe("g9");
    assert_eq!(g9.label(), "G9 rev 3");
    assert_eq!(g9.planned_film(), Film(111_000));
    let until_final_sand = Recipe {
        steps: g9
            .steps
            .iter()
            .take_while(|s| s.kind != StepKind::FinalSand)
            .cloned()
            .collect(),
        ..g9.clone()
    };
    assert_eq!(until_final_sand.planned_film(), Film(131_000));
    assert_eq!(recipe("p9").planned_film(), Film(111_000));
    assert_eq!(recipe("n8").planned_film(), Film(78_000));
}

#[test]
fn the_body_recipe_has_the_steps_and_limits_of_the_shop() {
    let g9 = recipe("g9");
    let names: Vec<&str> = g9.steps.iter().map(|s| s.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "receive",
            "mask",
            "seal",
            "clear set 1",
            "level sand 1",
            "clear set 2",
            "level sand 2",
            "clear set 3",
            "cure",
            "final sand",
            "buff",
            "unmask",
            "inspect",
            "mate"
        ]
    );
    let set = &g9.steps[3];
    assert_eq!((set.count, set.per_day), (3, Some(3)));
    assert_eq!(set.after, Some(Span::minutes(60)));
    assert_eq!(set.between, Some(Span::minutes(90)));
    assert_eq!(set.scuff_after, Some(Span::hours(72)));
    assert_eq!((set.film, set.solids), (Film(15_000), Some(Share(125_000))));
    assert_eq!(g9.steps[4].after, Some(Span::hours(12)));
    assert_eq!(g9.steps[8].hours, Some(Span::hours(336)));
    assert_eq!(g9.steps[8].count, 0);
    assert_eq!(g9.steps[10].count, 3);
    assert_eq!((g9.film_low, g9.film_high), (Film(75_000), Film(130_000)));
    assert_eq!(g9.credit.unlogged_permille, 500);
    assert_eq!(g9.steps_of(Some("RW3"))[2].hours, Some(Span::hours(168)));
    let p9 = recipe("p9");
    assert_eq!(p9.steps[2].kind, StepKind::Fill);
    assert_eq!(p9.steps[3].after, Some(Span::hours(72)));
    let clears: u32 = recipe("n8")
        .steps
        .iter()
        .filter(|s| s.kind == StepKind::Clear)
        .map(|s| s.count)
        .sum();
    assert_eq!(clears, 6);
}

#[test]
fn the_credit_bands_meet_at_their_ends_without_a_gap() {
    let credit = recipe("g9").credit;
    for (mc, permille, alert) in [
        (15_999, 0, false),
        (16_000, 500, false),
        (19_999, 500, false),
        (20_000, 1_000, false),
        (32_000, 1_000, false),
        (32_001, 1_000, true),
    ] {
        let at = Temperature(mc);
        assert_eq!(credit.permille(at, None), Some(permille), "{mc}");
        assert_eq!(credit.band(at).is_some_and(|b| b.alert), alert, "{mc}");
    }
}

#[test]
fn a_stronger_retarder_rule_keeps_the_waits_of_the_weaker_one() {
    let g9 = recipe("g9");
    assert!(g9.retarder_rule(Share(20_000)).is_none());
    let weak = g9.retarder_rule(Share(20_001)).unwrap();
    assert_eq!(weak.between, Some(Span::minutes(120)));
    assert!(!weak.supervisor);
    let strong = g9.retarder_rule(Share(50_001)).unwrap();
    assert_eq!(strong.between, Some(Span::minutes(120)));
    assert_eq!(strong.dry, Some(Span::hours(24)));
    assert!(strong.supervisor);
}

#[test]
fn the_sample_materials_give_the_shop_s_figures_per_litre_and_per_mix() {
    let litre = Volume(1_000_000);
    for (name, voc, hap) in [
        ("clr", 561_200, 114_080),
        ("thn", 588_000, 168_000),
        ("rtd", 900_000, 0),
        ("slr", 640_800, 133_500),
    ] {
        let mut totals = Totals::default();
        totals.add(&material(name).masses(litre));
        assert_eq!((totals.voc, totals.hap), (Mass(voc), Mass(hap)), "{name}");
    }
    let (clr, thn, rtd) = (material("clr"), material("thn"), material("rtd"));
    let parts = [
        (&clr, Volume(3_000_000)),
        (&thn, Volume(1_000_000)),
        (&rtd, Volume(80_000)),
    ];
    let mix = mix_figures(parts);
    assert_eq!(mix.solids, Share(125_000));
    assert_eq!(mix.retarder, Share(19_608));
    let mut totals = Totals::default();
    for (part, volume) in parts {
        totals.add(&part.masses(volume));
    }
    assert_eq!((totals.voc, totals.hap), (Mass(2_343_600), Mass(510_240)));
}

// --- all faults at once

#[test]
fn a_recipe_of_100_lines_with_ten_faults_gets_ten_faults_in_one_run() {
    let text = include_str!("ten_faults.toml");
    assert_eq!(text.lines().count(), 100);
    let faults = recipe_file::read("ten_faults.toml", text).unwrap_err();
    let expected = [
        (
            7,
            "recipe, finish",
            "solvent-release",
            "is not one of solvent release, oxidising",
        ),
        (
            28,
            "step \"seal\", between",
            "60",
            "has no unit, allowed is 1 min to 30 d",
        ),
        (35, "step \"clear set 1\", coats", "0", "is outside 1 to 30"),
        (
            46,
            "step \"level sand 1\"",
            "aftr",
            "is not a known key here",
        ),
        (
            49,
            "step \"clear set 2\", film",
            "",
            "where 0 um to 500 um is needed",
        ),
        (
            61,
            "step \"cure\", coats",
            "1",
            "does not belong to a cure step",
        ),
        (
            67,
            "step \"final sand\", removes",
            "15 kg",
            "has a unit that does not fit",
        ),
        (
            76,
            "step \"buff\", name",
            "buff",
            "is the name of an earlier step too",
        ),
        (80, "retarder 1, above", "200 %", "is outside 0 % to 50 %"),
        (
            92,
            "cure_credit, band 2, from",
            "19 C",
            "overlaps the band before it",
        ),
    ];
    let fixes = [
        "the nearest word is \"solvent release\"",
        "between = \"60 min\"",
        "write how many coats the set has",
        "the nearest known key is \"after\"",
        "write the dry film that one coat adds",
        "take the line out",
        "such as \"15 um\"",
        "give each step a name of its own",
        "write the share of the mix above which the rule applies",
        "put the bands in order, coldest first",
    ];
    assert_eq!(faults.len(), expected.len(), "{}", lines(&faults));
    for ((fault, (line, field, value, allowed)), fix) in faults.iter().zip(expected).zip(fixes) {
        assert_eq!(fault.file, "ten_faults.toml");
        assert_eq!((fault.line, fault.field.as_str()), (line, field), "{fault}");
        assert_eq!(fault.value, value, "{fault}");
        assert!(fault.allowed.starts_with(allowed), "{fault}");
        assert!(fault.fix.contains(fix), "{fault}");
    }
}

#[test]
fn a_fault_is_one_line_with_its_place_value_range_and_fix() {
    let faults = recipe_faults("coats = 3", "coats = 0");
    let line = line_of(G9, "coats = 3");
    // Zero coats also leave a thinner film; with a faulty step that is not held against the recipe.
    assert_eq!(
        only(&faults),
        format!(
            "g9.toml:{line}: step \"clear set 1\", coats: \"0\" is outside 1 to 30; \
             write how many coats the set has"
        )
    );
}

// --- one field

/// Exchanges in G9, and what the one fault says.
#[track_caller]
fn says(old: &str, new: &str, parts: &[&str]) {
    let text = only(&recipe_faults(old, new));
    for part in parts {
        assert!(text.contains(part), "{part:?} in {text:?}");
    }
}

#[track_caller]
fn says_of_material(old: &str, new: &str, parts: &[&str]) {
    let text = only(&material_faults(old, new));
    for part in parts {
        assert!(text.contains(part), "{part:?} in {text:?}");
    }
}

#[test]
fn a_date_is_read_as_people_write_it() {
    for written in ["\"03.11.2025\"", "\"3.11.2025\"", "\"2025-11-03\""] {
        let read = material_file::read("clr.toml", &CLR.replacen("2025-11-03", written, 1));
        let read = read.unwrap_or_else(|f| panic!("{}", lines(&f)));
        assert_eq!(read.sheet_date.to_string(), "2025-11-03", "{written}");
    }
    // Without its quotes it is no value at all.
    let text = lines(&material_faults("2025-11-03", "03.11.2025"));
    assert!(text.contains("double quotes"), "{text}");
}

#[test]
fn a_number_without_a_unit_is_told_which_unit_to_write() {
    says(
        "removes = \"12 um\"",
        "removes = 12",
        &["removes = \"12 um\""],
    );
    says(
        "removes = \"12 um\"",
        "removes = \"12\"",
        &["\"12\" has no unit", "removes = \"12 um\""],
    );
    says(
        "hours = \"336 h\"",
        "hours = 336.0",
        &["hours = \"336.0 h\""],
    );
    says_of_material(
        "\"0.920 kg/L\"",
        "0.920",
        &["density = \"0.920 kg/L\"", "0.3 kg/L to 3 kg/L"],
    );
}

#[test]
fn a_value_of_another_kind_is_told_what_belongs_there() {
    says(
        "coats = 3",
        "coats = \"3\"",
        &["is text where a whole number belongs"],
    );
    says(
        "revision = 3",
        "revision = 3.5",
        &["is a decimal number where a whole number belongs"],
    );
    says(
        "tack_counts = false",
        "tack_counts = \"no\"",
        &["write true or false without quotes"],
    );
    says(
        "kinds = [\"body\"]",
        "kinds = \"body\"",
        &["is text where a list belongs"],
    );
    says("kinds = [\"body\"]", "kinds = []", &["is an empty list"]);
    says(
        "kinds = [\"body\"]",
        "kinds = [\"body\", \"nek\"]",
        &["\"nek\" is not one of", "nearest word is \"neck\""],
    );
    says(
        "kinds = [\"body\"]",
        "kinds = [\"body\", \"body\"]",
        &["stands here twice"],
    );
    says(
        "name = \"Body, closed pore\"",
        "name = \"a\\u001bb\"",
        &["\"ab\" holds a character that cannot be shown"],
    );
    says(
        "name = \"Body, closed pore\"",
        "name = \"  \"",
        &["where 1 to 60 characters are needed"],
    );
    says(
        "code = \"G9\"",
        "code = \"G 9\"",
        &["letters A to Z, digits and hyphens"],
    );
    says(
        "unlogged = 0.5",
        "unlogged = 0.55555",
        &["is outside 0 to 1 with three decimals"],
    );
    says(
        "unlogged = 0.5",
        "unlogged = nan",
        &["is outside 0 to 1 with three decimals"],
    );
    says(
        "[film]\nlow",
        "[[film]]\nlow",
        &["film", "is a list where one table belongs"],
    );
    says_of_material(
        "2025-11-03",
        "2025-11-03T10:00:00",
        &["is not a date", "2026-03-31"],
    );
    // Slashes are two dates; a thirteenth month is none. The field, the value and what is taken stand in each.
    says_of_material(
        "2025-11-03",
        "\"03/11/2025\"",
        &[
            "sheet_date",
            "03/11/2025",
            "has slashes",
            "2026-03-31",
            "31.03.2026",
        ],
    );
    says_of_material(
        "2025-11-03",
        "\"03.13.2025\"",
        &["sheet_date", "03.13.2025", "is not a date", "31.03.2026"],
    );
    says_of_material(
        "\"flammable liquid\"",
        "\"flammable\"",
        &["nearest word is \"flammable liquid\""],
    );
}

#[test]
fn an_unknown_key_names_the_nearest_known_one() {
    says(
        "per_day = 3",
        "perday = 3",
        &["\"perday\" is not a known key", "\"per_day\""],
    );
    says(
        "[cure_credit]",
        "[cure-credit]\n[cure_credit]",
        &["\"cure-credit\" is not a known key", "\"cure_credit\""],
    );
}

#[test]
fn a_key_that_is_near_to_none_gets_the_list() {
    says(
        "tack_counts",
        "zzzzzzzzzzz",
        &[
            "write one of code, revision, name, finish, kinds, surfaces, tack_counts, or take it out",
        ],
    );
}

#[test]
fn a_missing_field_has_the_line_of_its_table() {
    let faults = recipe_faults("revision = 3\n", "");
    assert_eq!(
        only(&faults),
        "g9.toml:3: recipe, revision: nothing written where 1 to 9999 is needed; write the revision as a whole number from 1"
    );
    says(
        "hours = \"336 h\"\n",
        "",
        &[&format!(
            "g9.toml:{}: step \"cure\", hours: nothing written",
            line_of(G9, "name = \"cure\"") - 1
        )],
    );
}

#[test]
fn an_empty_file_misses_its_tables_and_says_so() {
    let faults = recipe_file::read("empty.toml", "").unwrap_err();
    let fields: Vec<&str> = faults.iter().map(|f| f.field.as_str()).collect();
    assert_eq!(fields, ["recipe", "film", "step"]);
    let faults = material_file::read("empty.toml", "").unwrap_err();
    assert!(only(&faults).contains("write the heading [material]"));
}

#[test]
fn syntax_faults_have_line_and_fix_and_hide_only_what_follows_from_them() {
    says(
        "hours = \"336 h\"",
        "hours = 336 h",
        &[
            &format!(
                "g9.toml:{}: syntax: \"hours = 336 h\" cannot be read",
                line_of(G9, "336 h")
            ),
            "write the value, texts and amounts in double quotes",
        ],
    );
    says(
        "revision = 3",
        "revision = 3\nrevision = 4",
        &["g9.toml:6: ", "duplicate key", "keep one of them"],
    );
    says(
        "[film]",
        "[film",
        &[
            "g9.toml:12: syntax",
            "write the heading as [film] or [[step]]",
        ],
    );
    // One heading of several with single brackets: the first one is named as what it is.
    let faults = recipe_faults("[[step]]", "[step]");
    assert_eq!(faults.len(), 2, "{}", lines(&faults));
    assert_eq!(faults[0].line, line_of(G9, "[[step]]"));
    assert!(
        faults[0]
            .allowed
            .contains("is a table where a row of tables belongs")
    );
    assert!(faults[1].fix.contains("is written [[step]] each time"));
    // A second, independent fault elsewhere is still told.
    let text =
        G9.replacen("hours = \"336 h\"", "hours =", 1)
            .replacen("coats = 3", "coats = 99", 1);
    let faults = recipe_file::read("g9.toml", &text).unwrap_err();
    assert_eq!(faults.len(), 2, "{}", lines(&faults));
    assert!(faults[0].to_string().contains("\"99\" is outside 1 to 30"));
    assert!(
        faults[1]
            .to_string()
            .contains("write the value, texts and amounts in double quotes")
    );
}

#[test]
fn a_file_that_is_far_too_long_is_not_read() {
    let text = "#".repeat(hangtime::shop::faults::LONGEST_FILE + 1);
    assert!(only(&recipe_file::read("x.toml", &text).unwrap_err()).contains("is longer than"));
}

// --- fields that do not fit together: recipe

#[test]
fn the_film_aim_runs_from_low_to_high() {
    says(
        "low = \"75 um\"",
        "low = \"175 um\"",
        &["film, low: \"175 um\" is above the upper end 130 um"],
    );
}

#[test]
fn a_step_that_wets_needs_coats_and_film() {
    says(
        "coats = 3\n",
        "",
        &["step \"clear set 1\", coats: nothing written"],
    );
    says(
        "film = \"15 um\"\n",
        "",
        &["step \"clear set 1\", film: nothing written"],
    );
}

#[test]
fn a_wait_needs_its_hours() {
    says(
        "hours = \"168 h\"\n",
        "",
        &["rework \"RW3\", step \"cure\", hours: nothing written"],
    );
}

#[test]
fn several_coats_need_a_wait_between_them() {
    says(
        "between = \"60 min\"\n",
        "",
        &[
            "step \"seal\", between: nothing written where a wait, with more than one coat, is needed",
        ],
    );
}

#[test]
fn step_names_are_unique_in_their_branch() {
    says(
        "\"clear set 2\"",
        "\"clear set 1\"",
        &["\"clear set 1\" is the name of an earlier step too"],
    );
    says(
        "name = \"level sand\"\n",
        "name = \"clear\"\n",
        &["rework \"RW3\", step \"clear\", name"],
    );
}

#[test]
fn a_cure_has_a_clear_before_it() {
    let cure = "[[step]]\nname = \"early\"\nkind = \"cure\"\nhours = \"10 h\"\n\n";
    says(
        "[[step]]\nname = \"seal\"",
        &format!("{cure}[[step]]\nname = \"seal\""),
        &["step \"early\", kind: \"cure\" has no clear step before it"],
    );
}

#[test]
fn a_step_has_no_fields_of_another_kind() {
    says(
        "hours = \"336 h\"",
        "hours = \"336 h\"\ncoats = 2",
        &["\"2\" does not belong to a cure step, which takes after, hours, dose, peak"],
    );
    says(
        "kind = \"receive\"",
        "kind = \"receive\"\nafter = \"1 h\"",
        &["does not belong to a receive step, which takes grits, moisture_low, moisture_high"],
    );
    says(
        "stages = 3",
        "stages = 3\nfilm = \"5 um\"",
        &["does not belong to a buff step, which takes stages, after, queue, removes"],
    );
}

#[test]
fn no_step_takes_away_more_film_than_lies_there() {
    says(
        "removes = \"12 um\"",
        "removes = \"66 um\"",
        &[
            "step \"level sand 1\", removes: \"66 um\" is more than the 65 um that lie there by then",
        ],
    );
}

#[test]
fn the_film_that_the_steps_leave_lies_within_the_aim() {
    says(
        "high = \"130 um\"",
        "high = \"110 um\"",
        &["film: \"111 um\" is what the steps leave, outside the band of 75 um to 110 um"],
    );
}

#[test]
fn the_gap_that_asks_for_a_scuff_is_longer_than_the_waits() {
    let faults = recipe_faults("scuff_after = \"72 h\"", "scuff_after = \"1 h\"");
    let told: Vec<&str> = faults.iter().map(|f| f.allowed.as_str()).collect();
    assert_eq!(
        told,
        [
            "is not longer than between, 90 min",
            "is not longer than after, 60 min"
        ]
    );
}

#[test]
fn retarder_rules_rise_and_none_asks_for_less() {
    says(
        "above = \"5.0 %\"",
        "above = \"2.0 %\"",
        &["retarder 2, above: \"2 %\" is not above the rule before it, 2 %"],
    );
    says(
        "supervisor = true",
        "supervisor = true\ndry = \"12 h\"",
        &["\"12 h\" is shorter than the weaker rule asks for, 1 d 00 h"],
    );
    says(
        "supervisor = true",
        "supervisor = false",
        &["nothing written where at least one of them is needed"],
    );
}

#[test]
fn credit_bands_do_not_overlap() {
    says(
        "from = \"32.0 C\"",
        "from = \"31.9 C\"",
        &["band 3, from: \"31.9 C\" overlaps the band before it, which ends at 32 C"],
    );
    says(
        "from = \"32.0 C\"           # 32.0 C itself is in the band before\n",
        "",
        &["band 3, from: nothing written overlaps"],
    );
    says(
        "to = \"20.0 C\"\n",
        "",
        &["band 2, from: \"20 C\" overlaps the band before it, which has no upper end"],
    );
}

#[test]
fn a_credit_band_runs_from_cold_to_warm() {
    says(
        "from = \"16.0 C\"",
        "from = \"20.0 C\"",
        &["is not below the upper end 20 C"],
    );
    says(
        "alert = true",
        "alert = true\nto_included = true",
        &["names no upper end that could be included"],
    );
}

#[test]
fn a_recipe_with_a_cure_says_how_its_hours_count() {
    let (start, rest) = G9.split_once("# How an hour").unwrap();
    let (_, end) = rest.split_once("[[rework]]").unwrap();
    let text = format!("{start}[[rework]]{end}");
    let faults = recipe_file::read("g9.toml", &text).unwrap_err();
    assert!(only(&faults).contains("cure_credit: nothing written where a table is needed"));
}

#[test]
fn whole_is_not_one_of_several_surfaces() {
    says(
        "surfaces = [\"whole\"]",
        "surfaces = [\"top\", \"whole\"]",
        &["stands for all surfaces"],
    );
}

#[test]
fn surfaces_may_be_left_out() {
    let read =
        recipe_file::read("g9.toml", &G9.replacen("surfaces = [\"whole\"]\n", "", 1)).unwrap();
    assert_eq!(read, recipe("g9"));
}

#[test]
fn the_finish_of_a_recipe_leaves_a_film() {
    says(
        "finish = \"solvent release\"",
        "finish = \"none\"",
        &["is for thinners and cleaners"],
    );
}

#[test]
fn rework_codes_are_unique() {
    let (_, rework) = G9.split_once("[[rework]]").unwrap();
    let again = format!("{G9}\n[[rework]]{rework}");
    let faults = recipe_file::read("g9.toml", &again).unwrap_err();
    assert!(only(&faults).contains("\"RW3\" is the code of an earlier rework too"));
}

#[test]
fn booth_limits_are_read_with_their_units() {
    let booth = "[booth]\nhumidity_high = \"65 %\"\nspread_low = \"3 K diff\"\n\n[[rework]]";
    let read = recipe_file::read("g9.toml", &G9.replacen("[[rework]]", booth, 1)).unwrap();
    assert_eq!(read.booth.humidity_high.map(|h| h.0), Some(6_500));
    assert_eq!(read.booth.spread_low_mk, Some(3_000));
}

// --- fields that do not fit together: material

#[test]
fn a_cas_number_has_its_check_digit() {
    for cas in [
        "67-64-1",
        "108-88-3",
        "1330-20-7",
        "100-41-4",
        "7732-18-5",
        "64742-48-9",
    ] {
        assert!(material_file::is_cas(cas), "{cas}");
    }
    for cas in [
        "67-64-2",
        "108-83-8-3",
        "1330-2-7",
        "",
        "--",
        "007-64-1",
        "12345678-12-1",
        "67-64-x",
    ] {
        assert!(!material_file::is_cas(cas), "{cas}");
    }
    says_of_material(
        "67-64-1",
        "67-64-7",
        &["contains \"acetone\", cas: \"67-64-7\" is not a CAS number"],
    );
}

#[test]
fn shares_and_solids_are_at_most_the_whole() {
    says_of_material(
        "\"10.0 %\"",
        "\"58.7 %\"",
        &[
            "weight_solids: \"24 %\" and the lower ends of the shares below, 76.1 %, are more than 100 %",
        ],
    );
    // The upper ends may sum to more: they are not all true at once.
    let text = CLR.replacen("\"10.0 %\"", "[\"10 %\", \"70 %\"]", 1);
    let read = material_file::read("clr.toml", &text).unwrap();
    assert_eq!(
        (read.parts[1].low, read.parts[1].high),
        (Share(100_000), Share(700_000))
    );
}

#[test]
fn what_is_taken_off_a_volume_has_a_density() {
    says_of_material(
        "density = \"0.790 kg/L\"\n",
        "",
        &["contains \"acetone\", density: nothing written"],
    );
    says_of_material(
        "name = \"toluene\"",
        "name = \"toluene\"\nexempt = true",
        &["contains \"toluene\", density: nothing written"],
    );
}

#[test]
fn water_is_said_and_is_nothing_else() {
    says_of_material(
        "cas = \"108-88-3\"",
        "cas = \"7732-18-5\"",
        &["is water, and water is not said"],
    );
    let text = material_faults("exempt = true", "exempt = true\nwater = true");
    assert!(
        text.iter()
            .any(|f| f.allowed.contains("cannot stand beside exempt")),
        "{}",
        lines(&text)
    );
    assert!(
        text.iter()
            .any(|f| f.allowed.contains("is not water, which is 7732-18-5")),
        "{}",
        lines(&text)
    );
}

#[test]
fn a_thinner_leaves_nothing_behind() {
    let faults = material_faults("kind = \"lacquer\"", "kind = \"thinner\"");
    let fields: Vec<&str> = faults.iter().map(|f| f.field.as_str()).collect();
    assert_eq!(
        fields,
        [
            "material, weight_solids",
            "material, volume_solids",
            "material, drying"
        ]
    );
}

#[test]
fn solids_by_weight_and_by_volume_go_together() {
    says_of_material(
        "volume_solids = \"17.0 %\"",
        "volume_solids = \"0 %\"",
        &["does not go with 24 % of solids by weight"],
    );
    says_of_material(
        "drying = \"solvent release\"",
        "drying = \"none\"",
        &["leaves no film, and the solids are 17 %"],
    );
}

#[test]
fn a_substance_is_listed_once() {
    says_of_material(
        "100-41-4",
        "108-88-3",
        &["contains \"ethylbenzene\", cas: \"108-88-3\" stands in an earlier entry too"],
    );
}

#[test]
fn a_range_of_shares_has_two_ends_in_order() {
    says_of_material(
        "\"15.0 %\"",
        "[\"15 %\", \"10 %\"]",
        &["\"15 % to 10 %\" runs from the higher end"],
    );
    says_of_material(
        "\"15.0 %\"",
        "[\"10 %\", \"12 %\", \"15 %\"]",
        &["has 3 ends where a range has two"],
    );
}

// --- whatever the text holds

fn harmless(faults: &[Fault], file_lines: usize) {
    for fault in faults {
        assert!((1..=file_lines.max(1)).contains(&fault.line), "{fault:?}");
        let text = fault.to_string();
        assert!(!text.chars().any(char::is_control), "{fault:?}");
        assert!(
            !fault.fix.is_empty() && !fault.field.is_empty(),
            "{fault:?}"
        );
    }
}

fn read_both(text: &str) {
    let count = text.split('\n').count();
    match recipe_file::read("x.toml", text) {
        Ok(read) => assert!(!read.code.is_empty() && read.revision > 0 && !read.steps.is_empty()),
        Err(faults) => {
            assert!(!faults.is_empty());
            harmless(&faults, count);
        }
    }
    match material_file::read("x.toml", text) {
        Ok(read) => assert!(!read.code.is_empty() && read.density.0 > 0),
        Err(faults) => {
            assert!(!faults.is_empty());
            harmless(&faults, count);
        }
    }
}

/// Pieces that exchange meaning when they are put in a wrong place.
const SCRAPS: &[&str] = &[
    "",
    "\n",
    "[",
    "]",
    "[[step]]\n",
    "[film]\n",
    "\"",
    "\"\"\"",
    "'",
    "=",
    ",",
    "{",
    "}",
    ".",
    "#",
    "-1",
    "1e999",
    "99999999999999999999",
    "0x10",
    "nan",
    "true",
    "2025-02-30",
    "\u{1b}[2J",
    "\u{202e}",
    "\r",
    "\0",
    "\u{feff}",
    "\"1 um\"",
    "\"-4 mil\"",
    "\"999999999999999999 ft\"",
    "[\"1 %\", \"0 %\"]",
    "kind = \"clear\"\n",
    "name = 3\n",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn any_text_is_read_or_told_of(text in any::<String>()) {
        read_both(&text);
    }

    #[test]
    fn any_pile_of_scraps_is_read_or_told_of(
        picks in prop::collection::vec(0..SCRAPS.len(), 0..60),
    ) {
        let text: String = picks.iter().map(|n| SCRAPS[*n]).collect();
        read_both(&text);
    }

    #[test]
    fn a_damaged_sample_is_read_or_told_of(
        file in 0_usize..10,
        cuts in prop::collection::vec((any::<prop::sample::Index>(), 0_usize..12, 0..SCRAPS.len()), 1..6),
    ) {
        let mut files = sample("recipes");
        files.extend(sample("materials"));
        let mut text: Vec<char> = files[file % files.len()].1.chars().collect();
        for (at, length, scrap) in cuts {
            let at = at.index(text.len() + 1);
            let end = (at + length).min(text.len());
            text.splice(at..end, SCRAPS[scrap].chars());
        }
        read_both(&text.into_iter().collect::<String>());
    }
}
