//! What recipes say of finishes that form their film in other ways: what is read, and what is said of each fault.

use super::{lines, only, recipe, sample};
use hangtime::shop::faults::Fault;
use hangtime::shop::recipe::{CreditLaw, Recipe};
use hangtime::shop::recipe_file;
use hangtime::shop::words::{Defect, StepKind};
use hangtime::units::{Film, Humidity, Share, Span, Temperature};

fn text(name: &str) -> String {
    let (_, text) = sample("recipes")
        .into_iter()
        .find(|(file, _)| file.ends_with(&format!("/{name}.toml")))
        .unwrap();
    text
}

fn exchanged(name: &str, old: &str, new: &str) -> Result<Recipe, Vec<Fault>> {
    let text = text(name);
    assert!(text.contains(old), "{name} holds {old:?}");
    recipe_file::read("sample.toml", &text.replacen(old, new, 1))
}

/// One exchange makes one fault, which says all of this.
#[track_caller]
fn says(name: &str, old: &str, new: &str, parts: &[&str]) {
    let said = only(&exchanged(name, old, new).expect_err("the exchange makes a fault"));
    for part in parts {
        assert!(said.contains(part), "{part:?} in {said:?}");
    }
}

#[test]
fn thirteen_faults_of_other_finishes_are_told_in_one_run() {
    let text = include_str!("other_finishes.toml");
    let faults = recipe_file::read("other_finishes.toml", text).unwrap_err();
    let expected = [
        (13, "film, cap", "9 mm", "is outside 1 um to 2000 um"),
        (
            16,
            "film, surface \"sides\", name",
            "sides",
            "is not one of the recipe's surfaces, top, back",
        ),
        (
            22,
            "reaction, pot_life_at",
            "20",
            "has no unit, allowed is 0 C to 50 C",
        ),
        (
            23,
            "reaction, activation_kj_mol",
            "500",
            "is outside 10 to 150",
        ),
        (
            24,
            "reaction, induction",
            "4 h",
            "is not shorter than the pot life, 4 h",
        ),
        (
            27,
            "booth, temperature_low",
            "30 C",
            "is not below temperature_high, 15 C",
        ),
        (
            29,
            "booth, film_forming",
            "10 C",
            "is for a waterborne finish, and this one is two-component",
        ),
        (
            34,
            "step \"receive\", moisture_low",
            "8 %",
            "is above moisture_high, 6 %",
        ),
        (
            42,
            "step \"clear\", rest_after",
            "4",
            "is not below coats, 4",
        ),
        (50, "step \"level sand\", grits", "320", "names no scale"),
        (
            55,
            "step \"lamp\", dose",
            "two-component",
            "is how the recipe's film forms, which no lamp cures",
        ),
        (
            61,
            "step \"buff\", compounds",
            "medium, fine",
            "are 2 for 3 stages",
        ),
        (
            65,
            "cure_credit, law",
            "arhenius",
            "is not one of bands, arrhenius, evaporation",
        ),
    ];
    let told: Vec<(usize, &str, &str)> = faults
        .iter()
        .map(|f| (f.line, f.field.as_str(), f.value.as_str()))
        .collect();
    let wanted: Vec<(usize, &str, &str)> =
        expected.iter().map(|(l, f, v, _)| (*l, *f, *v)).collect();
    assert_eq!(told, wanted, "{}", lines(&faults));
    for (fault, (.., why)) in faults.iter().zip(expected) {
        assert!(fault.allowed.contains(why), "{why:?} in {fault}");
        assert!(!fault.fix.is_empty(), "{fault}");
    }
}

#[test]
fn each_sample_gives_the_figures_of_its_file() {
    let pu5 = recipe("pu5");
    let reaction = pu5.reaction.unwrap();
    assert_eq!(reaction.pot_life, Span::hours(4));
    assert_eq!(reaction.activation, Some(50_000));
    assert_eq!(reaction.induction, Some(Span::minutes(10)));
    assert!(!pu5.finish.melts());
    let cv3 = recipe("cv3");
    assert_eq!(cv3.film_cap, Some(Film(76_000)));
    assert_eq!(cv3.booth.temperature_low, Some(Temperature(15_600)));
    let wb8 = recipe("wb8");
    assert_eq!(wb8.booth.film_forming, Some(Temperature(10_000)));
    assert_eq!(
        wb8.credit.law,
        CreditLaw::Evaporation {
            reference: Temperature(21_000),
            reference_humidity: Humidity(5_000),
            floor: Temperature(13_000),
            humidity_high: None,
        }
    );
    let sh12 = recipe("sh12");
    assert!(sh12.finish.melts());
    assert_eq!(sh12.steps[2].rest_after, Some((4, Span::hours(12))));
    let uv4 = recipe("uv4");
    let lamp = &uv4.steps[3];
    assert_eq!((lamp.dose, lamp.peak), (Some(960_000), Some(80_000)));
    assert_eq!(
        (lamp.kind, lamp.count, lamp.waits()),
        (StepKind::Cure, 1, false)
    );
    let buff = uv4.steps.iter().find(|s| s.kind == StepKind::Buff).unwrap();
    assert_eq!(buff.compounds, ["medium", "fine", "clean"]);
    let receive = &uv4.steps[0];
    assert_eq!(receive.moisture, Some((Share(60_000), Share(80_000))));
    assert_eq!(receive.grits.len(), 1);
}

#[test]
fn an_oily_open_pore_body_has_two_schedules_and_four_levels_of_rework() {
    let rx9 = recipe("rx9");
    let kinds = |surface: &str| -> Vec<StepKind> {
        rx9.route(None, surface).iter().map(|s| s.kind).collect()
    };
    assert!(!kinds("top").contains(&StepKind::Fill));
    assert!(kinds("back").contains(&StepKind::Fill));
    assert_eq!(kinds("back"), kinds("sides"));
    assert_eq!(rx9.band("top"), (Film(50_000), Film(80_000)));
    assert_eq!(rx9.band("back"), (Film(75_000), Film(130_000)));
    assert_eq!(rx9.planned_film_on("top"), Film(68_000));
    assert_eq!(rx9.planned_film_on("back"), Film(111_000));
    assert_eq!(rx9.planned_film(), Film(68_000));
    let spot = rx9
        .steps
        .iter()
        .find(|s| s.kind == StepKind::DropFill)
        .unwrap();
    assert_eq!(spot.dry, Some(Span::hours(48)));
    let levels: Vec<u8> = rx9.reworks.iter().map(|r| r.level).collect();
    assert_eq!(levels, [1, 2, 3, 4]);
    let strip = rx9.reworks.last().unwrap();
    assert!(strip.bare && strip.defects.contains(&Defect::ThroughWood));
    assert_eq!(strip.rejoin.as_deref(), Some("cure"));
}

#[test]
fn a_finish_other_than_nitrocellulose_can_be_reworked() {
    for name in ["pu5", "cv3", "wb8", "sh12", "ov5", "uv4"] {
        let recipe = recipe(name);
        let again = recipe.reworks.first().unwrap_or_else(|| panic!("{name}"));
        assert!(!again.defects.is_empty(), "{name}");
        // What does not melt into the film below holds by its scratches.
        let scuffs = again.steps.first().is_some_and(|s| s.kind.sands());
        assert!(recipe.finish.melts() || scuffs, "{name}");
    }
}

#[test]
fn a_lamp_cures_a_sealer_and_may_want_a_flash_first() {
    let sealed = exchanged(
        "uv4",
        "[[step]]\nname = \"clear set 1\"",
        "[[step]]\nname = \"seal\"\nkind = \"seal\"\ncoats = 1\nfilm = \"5 um\"\n\n[[step]]\nname = \"lamp 0\"\nkind = \"cure\"\n\
         dose = \"300 mJ/cm2\"\nafter = \"5 min\"\n\n[[step]]\nname = \"clear set 1\"",
    )
    .unwrap_or_else(|f| panic!("{}", lines(&f)));
    let lamp = &sealed.steps[3];
    assert_eq!(
        (lamp.dose, lamp.after),
        (Some(300_000), Some(Span::minutes(5)))
    );
    // A cure that waits still wants clear coats before it, and no flash.
    says(
        "pu5",
        "hours = \"72 h\"",
        "hours = \"72 h\"\nafter = \"5 min\"",
        &[
            "step \"cure\", after",
            "belongs to a cure under a lamp",
            "write a dose",
        ],
    );
}

#[test]
fn a_cure_has_hours_or_a_dose() {
    says(
        "uv4",
        "dose = \"960 mJ/cm2\"           # from memory, to be confirmed\npeak = \"80 mW/cm2\"            # from memory, to be confirmed\n\n[[step]]\nname = \"scuff\"",
        "\n[[step]]\nname = \"scuff\"",
        &[
            "step \"lamp 1\", hours",
            "or a dose under a lamp, is needed",
        ],
    );
    says(
        "uv4",
        "dose = \"960 mJ/cm2\"",
        "dose = \"960 mW/cm2\"",
        &["has a unit that does not fit", "mJ/cm2"],
    );
    says(
        "uv4",
        "dose = \"960 mJ/cm2\"",
        "dose = \"0.5 mJ/cm2\"",
        &["is outside 1 to 20000 mJ/cm2"],
    );
}

#[test]
fn a_pot_life_is_for_a_mix_that_reacts() {
    says(
        "pu5",
        "finish = \"two-component\"",
        "finish = \"oxidising\"",
        &[
            "reaction, pot_life",
            "is for a mix that reacts in the pot, and the finish is oxidising",
        ],
    );
}

#[test]
fn a_law_counts_less_in_the_cold_and_suits_the_finish() {
    says(
        "ov5",
        "floor = \"10 C\"",
        "floor = \"21 C\"",
        &["cure_credit, floor", "is not below the reference, 21 C"],
    );
    says(
        "wb8",
        "floor = \"13 C\"",
        "floor = \"12.9 C\"",
        &["is below 13 C, the film-forming temperature and 3 K"],
    );
    let cold = text("wb8")
        .replacen("film_forming = \"10 C\"", "film_forming = \"24 C\"", 1)
        .replacen("floor = \"13 C\"", "floor = \"20 C\"", 1)
        .replacen("reference = \"21 C\"", "reference = \"30 C\"", 1);
    let faults = recipe_file::read("cold.toml", &cold).unwrap_err();
    let said: Vec<&str> = faults.iter().map(|f| f.allowed.as_str()).collect();
    assert_eq!(
        said,
        [
            "wants 27 C for a coat, more than temperature_high, 26.7 C",
            "is below 27 C, the film-forming temperature and 3 K"
        ],
        "{}",
        lines(&faults)
    );
}

#[test]
fn a_law_and_bands_do_not_stand_side_by_side() {
    says(
        "ov5",
        "unlogged = 0.5                # common practice, no source",
        "unlogged = 0.5\n[[cure_credit.band]]\nfrom = \"16 C\"\ncredit = 1.0",
        &[
            "cure_credit, band",
            "stand beside a law",
            "take the bands out",
        ],
    );
    says(
        "sh12",
        "[cure_credit]\nunlogged = 0.5                # common practice, no source\n",
        "[cure_credit]\nunlogged = 0.5\nreference = \"21 C\"\n",
        &["is not a known key here"],
    );
}

#[test]
fn a_misspelled_law_is_one_fault_whatever_else_stands_there() {
    says(
        "wb8",
        "law = \"evaporation\"",
        "law = \"evaporating\"",
        &[
            "cure_credit, law",
            "is not one of bands, arrhenius, evaporation",
        ],
    );
}

#[test]
fn evaporation_is_about_water() {
    let law = "law = \"evaporation\"\nreference_humidity = \"50 %\"";
    says(
        "ov5",
        "law = \"arrhenius\"\nreference = \"21 C\"\nactivation_kj_mol = 70.0      # from memory, to be confirmed",
        &format!("{law}\nreference = \"21 C\""),
        &["is about water that leaves, and the finish is oxidising"],
    );
}

#[test]
fn a_longer_rest_is_longer_and_comes_within_the_set() {
    says(
        "sh12",
        "rest = \"12 h\"",
        "rest = \"60 min\"",
        &["step \"body coats\", rest", "is not longer than between"],
    );
    says(
        "sh12",
        "rest = \"12 h\"\n",
        "",
        &[
            "step \"body coats\", rest",
            "rest_after stands alone: write rest too",
        ],
    );
}

#[test]
fn a_surface_has_one_film_of_its_own() {
    says(
        "rx9",
        "[[film.surface]]",
        "[[film.surface]]\nname = \"top\"\nlow = \"50 um\"\nhigh = \"80 um\"\n\n[[film.surface]]",
        &[
            "film, surface \"top\", name",
            "has a film of its own above already",
        ],
    );
    says(
        "rx9",
        "low = \"50 um\"\nhigh = \"80 um\"",
        "low = \"50 um\"\nhigh = \"60 um\"",
        &[
            "68 um",
            "is what the steps leave on top, outside the band of 50 um to 60 um",
        ],
    );
}

#[test]
fn the_film_never_passes_the_cap_on_the_way() {
    says(
        "cv3",
        "cap = \"76 um\"",
        "cap = \"70 um\"",
        &["step \"clear\", film", "72 um", "more than the cap 70 um"],
    );
}

#[test]
fn only_the_fourth_level_goes_down_to_the_wood() {
    says(
        "rx9",
        "level = 4",
        "level = 3",
        &[
            "rework \"WOOD\", bare",
            "takes the film off, and level 3 leaves it",
        ],
    );
    says(
        "rx9",
        "rejoin = \"cure\"",
        "rejoin = \"curing\"",
        &["rework \"WOOD\", rejoin", "is no step of the main line"],
    );
}

#[test]
fn grits_go_from_coarse_to_fine_across_both_scales() {
    says(
        "pu5",
        "grits = [\"P320\", \"P400\"]",
        "grits = [\"P1200\", \"CAMI 600\"]",
        &[
            "step \"level sand\", grits",
            "CAMI 600",
            "is coarser than the one before it",
        ],
    );
    let fine = exchanged(
        "pu5",
        "grits = [\"P320\", \"P400\"]",
        "grits = [\"CAMI 320\", \"P400\"]",
    )
    .unwrap_or_else(|f| panic!("{}", lines(&f)));
    let sand = fine.steps.iter().find(|s| s.kind == StepKind::LevelSand);
    let texts: Vec<String> = sand.unwrap().grits.iter().map(|g| g.text()).collect();
    assert_eq!(texts, ["CAMI 320", "P400"]);
}
