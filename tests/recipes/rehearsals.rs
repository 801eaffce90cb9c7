//! The rest of a life by the recipe's own rules, held to figures that are worked out by hand from the recipe.

use super::{G9, recipe};
use hangtime::shop::calendar::Calendar;
use hangtime::shop::hours::Hours;
use hangtime::shop::material::MixFigures;
use hangtime::shop::recipe::{Recipe, WHOLE};
use hangtime::shop::recipe_file;
use hangtime::shop::record::{CoatFact, CoatMore, Entry, EntrySeq, Fact, PieceId};
use hangtime::shop::rehearse::{
    Rehearsal, Stage, Steady, Stopped, new_piece, rehearse, rehearse_rework,
};
use hangtime::shop::rules::{Around, Deed, Ground, OtherHalf, objections};
use hangtime::shop::shift::Shift;
use hangtime::shop::standing::{Mixes, PieceNow, Recipes};
use hangtime::shop::words::{Fit, Rule, StepKind};
use hangtime::units::{Moment, Span};
use proptest::prelude::*;
use std::sync::Arc;

pub(crate) const NEW_YORK: Calendar = Calendar {
    zone: chrono_tz::America::New_York,
    day_start: 6,
};

pub(crate) fn at(text: &str) -> Moment {
    NEW_YORK.read(text, Moment(0)).unwrap()
}

pub(crate) fn hours(shift: Shift) -> Hours {
    Hours::of(&NEW_YORK, &[shift])
}

pub(crate) fn stage<'a>(recipe: &'a Arc<Recipe>, hours: &'a Hours) -> Stage<'a> {
    Stage {
        recipe,
        calendar: &NEW_YORK,
        air: &Steady::FULL,
        hours,
        solvent: &[],
    }
}

fn played(recipe: Recipe, from: &str, shift: &Shift) -> Rehearsal {
    let recipe = Arc::new(recipe);
    let piece = new_piece(&recipe, at(from), &NEW_YORK);
    rehearse(&piece, at(from), &stage(&recipe, &hours(*shift))).unwrap()
}

// One line per deed: when, what, where it is not the whole piece.
fn diary(rehearsal: &Rehearsal) -> Vec<String> {
    rehearsal
        .visits
        .iter()
        .map(|v| {
            let on = if v.whole {
                String::new()
            } else {
                format!(" ({})", v.surfaces.join(", "))
            };
            format!("{} {}{on}", NEW_YORK.stamp(v.at), v.what)
        })
        .collect()
}

#[test]
fn a_body_of_g9_takes_four_working_days_and_seventeen_in_all() {
    let life = played(recipe("g9"), "2026-03-02 08:00", &Shift::COMMON);
    assert_eq!(
        diary(&life),
        [
            "Mon 2 Mar 08:00 receive",
            "Mon 2 Mar 08:00 mask",
            "Mon 2 Mar 08:00 seal 1 of 2",
            "Mon 2 Mar 09:00 seal 2 of 2",
            "Mon 2 Mar 10:00 clear 1 of 9",
            "Mon 2 Mar 11:30 clear 2 of 9",
            "Mon 2 Mar 13:00 clear 3 of 9",
            "Tue 3 Mar 07:00 level sand 1",
            "Tue 3 Mar 07:00 clear 4 of 9",
            "Tue 3 Mar 08:30 clear 5 of 9",
            "Tue 3 Mar 10:00 clear 6 of 9",
            "Wed 4 Mar 07:00 level sand 2",
            "Wed 4 Mar 07:00 clear 7 of 9",
            "Wed 4 Mar 08:30 clear 8 of 9",
            "Wed 4 Mar 10:00 clear 9 of 9",
            // 336 h later on a clock that was put forward.
            "Wed 18 Mar 11:00 final sand",
            "Wed 18 Mar 11:00 buff 1 of 3",
            "Wed 18 Mar 11:00 buff 2 of 3",
            "Wed 18 Mar 11:00 buff 3 of 3",
            "Wed 18 Mar 11:00 unmask",
            "Wed 18 Mar 11:00 inspect",
            "Wed 18 Mar 11:00 mate",
        ]
    );
    assert_eq!(life.before_final_nm, Some(131_000));
    assert_eq!(life.film_nm(), 111_000);
    assert_eq!(life.coats(), 11);
    assert_eq!(life.working_days(&NEW_YORK), 4);
    assert_eq!(life.calendar_days(&NEW_YORK), 17);
    assert_eq!(life.there(), Some(at("2026-03-18 11:00")));

    // What bound each deed, and from when the rules alone would have it.
    let of = |what: &str| life.visits.iter().find(|v| v.what == what).unwrap();
    assert_eq!(of("receive").bound, None);
    let bound = |what: &str| of(what).bound.clone().unwrap();
    assert_eq!(
        bound("clear 2 of 9"),
        (Rule::Interval, "90 min after the last coat".to_owned())
    );
    let sand = of("level sand 1");
    assert_eq!(sand.opens, at("2026-03-03 01:00"));
    assert_eq!(
        bound("level sand 1"),
        (Rule::Dry, "12 h after the last wet coat".to_owned())
    );
    assert_eq!(bound("final sand"), (Rule::Cure, "cure 336 h".to_owned()));
    assert_eq!(of("clear 9 of 9").number, 9);
    assert_eq!(of("clear 3 of 9").film_nm, 65_000);
    let waits: Vec<(&str, Span)> = life
        .waits(Span::hours(4))
        .map(|(v, wait)| (v.what.as_str(), wait))
        .collect();
    assert_eq!(
        waits,
        [
            ("level sand 1", Span::hours(18)),
            ("level sand 2", Span::hours(21)),
            ("final sand", Span::hours(336)),
        ]
    );
}

#[test]
fn a_filler_waits_72_hours_and_a_weekend_lies_between_two_sets() {
    let life = played(recipe("p9"), "2026-03-02 08:00", &Shift::COMMON);
    let diary = diary(&life);
    assert_eq!(diary[2], "Mon 2 Mar 08:00 fill 1 of 1");
    assert_eq!(diary[3], "Thu 5 Mar 08:00 seal 1 of 2");
    assert_eq!(diary[8], "Fri 6 Mar 07:00 level sand 1");
    assert_eq!(diary[12], "Mon 9 Mar 07:00 EDT level sand 2");
    // No scuff: 68 h since the last coat are fewer than 72, and it was sanded.
    assert_eq!(diary[13], "Mon 9 Mar 07:00 EDT clear 7 of 9");
    assert_eq!(diary[16], "Mon 23 Mar 10:00 final sand");
    assert_eq!(life.film_nm(), 111_000);
    assert_eq!(life.coats(), 12);
}

#[test]
fn a_neck_of_n8_ends_with_78_um() {
    let life = played(recipe("n8"), "2026-03-02 08:00", &Shift::COMMON);
    assert_eq!(life.before_final_nm, Some(98_000));
    assert_eq!(life.film_nm(), 78_000);
    assert_eq!(life.coats(), 8);
    assert_eq!(life.there(), Some(at("2026-03-17 11:00")));
}

#[test]
fn a_rework_is_played_on_a_finished_film() {
    let recipe = Arc::new(recipe("g9"));
    let common = hours(Shift::COMMON);
    let stage = stage(&recipe, &common);
    let life = rehearse_rework("RW3", at("2026-03-02 08:00"), &stage).unwrap();
    assert_eq!(
        diary(&life),
        [
            "Mon 2 Mar 08:00 clear 1 of 3",
            "Mon 2 Mar 09:30 clear 2 of 3",
            "Mon 2 Mar 11:00 clear 3 of 3",
            "Tue 3 Mar 07:00 level sand",
            // 168 h after the last coat, over the clock change.
            "Mon 9 Mar 12:00 EDT final sand",
            "Mon 9 Mar 12:00 EDT buff 1 of 3",
            "Mon 9 Mar 12:00 EDT buff 2 of 3",
            "Mon 9 Mar 12:00 EDT buff 3 of 3",
        ]
    );
    assert!(
        life.visits
            .iter()
            .all(|v| v.rework.as_deref() == Some("RW3"))
    );
    assert_eq!(life.before_final_nm, Some(144_000)); // 111 + 3 x 15 - 12
    assert_eq!(life.film_nm(), 124_000);
    let none = rehearse_rework("RW9", at("2026-03-02 08:00"), &stage).unwrap_err();
    assert_eq!(
        none.to_string(),
        "G9 rev 3 has no rework \"RW9\"; it has RW3"
    );
}

#[test]
fn short_weeks_bring_a_scuff_before_the_next_coat() {
    // Tuesdays only: the second coat of a set comes 168 h after the first, beyond the 72 h of the recipe.
    let shift = Shift::read("07:00-08:00", "tue").unwrap();
    let life = played(recipe("g9"), "2026-03-03 07:00", &shift);
    let diary = diary(&life);
    assert_eq!(diary[3], "Tue 10 Mar 07:00 seal 2 of 2");
    assert_eq!(diary[4], "Tue 17 Mar 07:00 scuff");
    assert_eq!(diary[5], "Tue 17 Mar 07:00 clear 1 of 9");
    assert_eq!(diary[6], "Tue 24 Mar 07:00 scuff");
    assert_eq!(diary[7], "Tue 24 Mar 07:00 clear 2 of 9");
    assert_eq!(life.film_nm(), 111_000);
}

#[test]
fn a_daily_cap_sends_the_fourth_coat_to_the_next_morning() {
    let mut recipe = recipe("g9");
    let set = recipe.steps.iter().position(|s| s.name == "clear set 1");
    recipe.steps[set.unwrap()].count = 4;
    let life = played(recipe, "2026-03-02 07:00", &Shift::ALWAYS);
    let fourth = life
        .visits
        .iter()
        .find(|v| v.kind == StepKind::Clear && v.number == 4)
        .unwrap();
    assert_eq!(fourth.at, at("2026-03-03 06:00"));
    assert_eq!(
        fourth.bound,
        Some((Rule::DailyCap, "3 coats a production day".to_owned()))
    );
}

#[test]
fn what_no_time_settles_is_said_and_not_played() {
    let recipe = Arc::new(recipe("g9"));
    let from = at("2026-03-02 08:00");
    let mut piece = new_piece(&recipe, from, &NEW_YORK);
    piece.holds.push((EntrySeq(7), "dent".to_owned()));
    let told = rehearse(&piece, from, &stage(&recipe, &hours(Shift::COMMON))).unwrap_err();
    assert_eq!(told, Stopped::Standing("on hold: dent".to_owned()));

    let (common, always) = (hours(Shift::COMMON), hours(Shift::ALWAYS));
    let cold = Stage {
        air: &Steady { permille: 0 },
        ..stage(&recipe, &common)
    };
    let piece = new_piece(&recipe, from, &NEW_YORK);
    let told = rehearse(&piece, from, &cold).unwrap_err();
    assert!(matches!(told, Stopped::NotInSight { .. }), "{told}");

    let half = Stage {
        air: &Steady { permille: 500 },
        ..stage(&recipe, &always)
    };
    let life = rehearse(&piece, from, &half).unwrap();
    let wait = life.waits(Span::hours(300)).next().unwrap().1;
    assert_eq!(wait, Span::hours(672));
}

const TWO_SURFACES: &str = r#"
[recipe]
code = "T2"
revision = 1
name = "Top later than the back"
finish = "solvent release"
kinds = ["body"]
surfaces = ["top", "back"]
[film]
low = "0 um"
high = "500 um"
[[step]]
name = "receive"
kind = "receive"
[[step]]
name = "colour"
kind = "colour"
on = ["top"]
coats = 1
film = "2 um"
[[step]]
name = "clear"
kind = "clear"
coats = 2
after = "3 h"
between = "90 min"
film = "15 um"
[[step]]
name = "dry"
kind = "rest"
hours = "24 h"
[[step]]
name = "unmask"
kind = "unmask"
[[step]]
name = "mate"
kind = "mate"
"#;

#[test]
fn surfaces_go_on_each_in_its_own_line_and_meet_where_they_want_the_same() {
    let two = recipe_file::read("t2.toml", TWO_SURFACES).unwrap();
    let life = played(two, "2026-03-02 08:00", &Shift::ALWAYS);
    assert_eq!(
        diary(&life),
        [
            "Mon 2 Mar 08:00 receive",
            "Mon 2 Mar 08:00 colour 1 of 1 (top)",
            "Mon 2 Mar 08:00 clear 1 of 2 (back)",
            "Mon 2 Mar 09:30 clear 2 of 2 (back)",
            "Mon 2 Mar 11:00 clear 1 of 2 (top)",
            "Mon 2 Mar 12:30 clear 2 of 2 (top)",
            // The back alone could be unmasked from 09:30 on: the piece is, once.
            "Tue 3 Mar 12:30 unmask",
            "Tue 3 Mar 12:30 mate",
        ]
    );
    assert_eq!(
        life.films,
        [("top".to_owned(), 32_000), ("back".to_owned(), 30_000)]
    );
    // Without the colour both want each coat at one moment: one deed.
    let same = TWO_SURFACES.replace("on = [\"top\"]\n", "");
    let life = played(
        recipe_file::read("t2.toml", &same).unwrap(),
        "2026-03-02 08:00",
        &Shift::ALWAYS,
    );
    assert!(life.visits.iter().all(|v| v.whole));
    assert_eq!(life.coats(), 3);
}

pub(crate) struct AsAssumed;

impl Mixes for AsAssumed {
    fn figures(&self, _: &CoatFact) -> Option<MixFigures> {
        None
    }
    fn mixed(&self, _: &CoatFact) -> Option<Moment> {
        None
    }
}

// Folds the visits anew, apart from the rehearsal, and asks the rules about each before it is done.
fn held_to_the_rules(recipe: &Arc<Recipe>, from: Moment, shift: &Shift, life: &Rehearsal) {
    let mut now = new_piece(recipe, from, &NEW_YORK);
    now.piece.pair = Some("N".to_owned());
    let around = Around {
        other: Some(OtherHalf {
            serial: "N".to_owned(),
            belongs_to: Some(now.piece.serial.clone()),
            batch: None,
            there: true,
            next: "mate".to_owned(),
        }),
        ..Around::default()
    };
    let mut recipes = Recipes::default();
    recipes.add(Arc::clone(recipe));
    let mut before = from;
    for (n, v) in life.visits.iter().enumerate() {
        assert!(v.at >= before && v.at >= v.opens, "{v:?} after {before:?}");
        assert_eq!(shift.next(v.at, &NEW_YORK), v.at, "{v:?} in working hours");
        before = v.at;
        let surface = if v.whole {
            WHOLE.to_owned()
        } else {
            v.surfaces.join(", ")
        };
        let mut deed = Deed::of(v.kind);
        deed.person = format!("P{n}");
        if v.kind == StepKind::Mate {
            deed.fit = Some(Fit::Snug);
        }
        let ground = Ground {
            recipe,
            calendar: &NEW_YORK,
            air: &Steady::FULL,
            around: &around,
        };
        let against = objections(&now, &surface, &deed, v.at, &ground);
        assert!(against.is_empty(), "{v:?}: {against:?}");
        assert!(v.against.is_empty(), "{v:?}");
        now.apply(&entry(n, v.at, surface, v.kind), &recipes, &AsAssumed);
    }
    let left: Vec<&str> = now
        .current(recipe)
        .filter(|s| s.standing.next(s.steps).is_some())
        .map(|s| s.surface)
        .collect();
    assert!(left.is_empty(), "nothing is left to do: {left:?}");
}

pub(crate) fn entry(n: usize, at: Moment, surface: String, kind: StepKind) -> Entry {
    let fact = if kind.wets() {
        Fact::Coat(CoatFact {
            kind,
            touch_up: false,
            mix: None,
            lot: None,
            amount: None,
            wet: Vec::new(),
            supervisor: None,
            more: CoatMore::default(),
        })
    } else if kind.sands() {
        Fact::Sanded {
            kind,
            removed: None,
            grit: None,
        }
    } else if kind == StepKind::Cure {
        Fact::Lit {
            dose: None,
            peak: None,
            lamp: None,
        }
    } else {
        Fact::Worked { kind }
    };
    Entry {
        seq: EntrySeq(i64::try_from(n).unwrap() + 1),
        piece: PieceId(0),
        surface,
        branch: 0,
        began: at,
        ended: at,
        written: at,
        day: NEW_YORK.day(at),
        person: format!("P{n}"),
        air: None,
        humidity: None,
        fact,
    }
}

#[derive(Debug, Clone)]
struct Set {
    coats: u32,
    between_min: u32,
    per_day: Option<u32>,
    scuff_h: Option<u32>,
    sand_h: Option<u32>,
    only: Option<usize>,
}

fn set() -> impl Strategy<Value = Set> {
    (
        1_u32..5,
        1_u32..400,
        prop::option::of(1_u32..4),
        prop::option::of(12_u32..100),
        prop::option::of(1_u32..40),
        prop::option::of(0_usize..2),
    )
        .prop_map(|(coats, between_min, per_day, scuff_h, sand_h, only)| Set {
            coats,
            between_min,
            per_day,
            scuff_h,
            sand_h,
            only,
        })
}

// A small recipe over two surfaces, some sets for one of them only.
fn small(sets: &[Set], rest_h: Option<u32>, cure_h: Option<u32>) -> Recipe {
    let mut text = String::from(
        "[recipe]\ncode = \"Q1\"\nrevision = 1\nname = \"small\"\nfinish = \"solvent release\"\nkinds = [\"body\"]\n\
         surfaces = [\"top\", \"back\"]\n[film]\nlow = \"0 um\"\nhigh = \"2000 um\"\n\
         [[step]]\nname = \"receive\"\nkind = \"receive\"\n",
    );
    let on = |only: Option<usize>| match only {
        Some(0) => "on = [\"top\"]\n",
        Some(_) => "on = [\"back\"]\n",
        None => "",
    };
    for (n, s) in sets.iter().enumerate() {
        let scuff_h = s.scuff_h.filter(|h| h * 60 > s.between_min);
        text.push_str(&format!(
            "[[step]]\nname = \"clear {n}\"\nkind = \"clear\"\ncoats = {}\nbetween = \"{} min\"\nfilm = \"15 um\"\n{}{}{}",
            s.coats,
            s.between_min,
            s.per_day.map_or(String::new(), |n| format!("per_day = {n}\n")),
            scuff_h.map_or(String::new(), |h| format!("scuff_after = \"{h} h\"\n")),
            on(s.only),
        ));
        if let Some(h) = s.sand_h {
            text.push_str(&format!(
                "[[step]]\nname = \"level {n}\"\nkind = \"level-sand\"\nafter = \"{h} h\"\nremoves = \"5 um\"\n{}",
                on(s.only)
            ));
        }
    }
    if let Some(h) = rest_h {
        text.push_str(&format!(
            "[[step]]\nname = \"rest\"\nkind = \"rest\"\nhours = \"{h} h\"\n"
        ));
    }
    if let Some(h) = cure_h {
        text.push_str(&format!(
            "[[step]]\nname = \"cure\"\nkind = \"cure\"\nhours = \"{h} h\"\n"
        ));
    }
    text.push_str(
        "[[step]]\nname = \"final\"\nkind = \"final-sand\"\nremoves = \"0 um\"\n\
         [[step]]\nname = \"buff\"\nkind = \"buff\"\nstages = 2\n\
         [[step]]\nname = \"inspect\"\nkind = \"inspect\"\n[[step]]\nname = \"mate\"\nkind = \"mate\"\n",
    );
    let credit = G9.split("[cure_credit]").nth(1).unwrap();
    let credit = credit.split("[[rework]]").next().unwrap();
    text.push_str(&format!("[cure_credit]{credit}"));
    recipe_file::read("q1.toml", &text).unwrap_or_else(|f| panic!("{text}\n{f:?}"))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_deed_of_a_rehearsed_life_lies_before_its_bounds(
        sets in prop::collection::vec(set(), 1..4),
        rest_h in prop::option::of(1_u32..60),
        cure_h in prop::option::of(1_u32..400),
        start_min in 0_i64..60 * 24 * 400,
        begin in 0_u32..20,
        length in 1_u32..5,
        days in prop::sample::select(vec!["mon-fri", "mon-sun", "tue", "sat,wed"]),
    ) {
        let recipe = Arc::new(small(&sets, rest_h, cure_h));
        let shift = Shift::read(&format!("{begin:02}:15-{:02}:00", begin + length), days).unwrap();
        let from = Moment(at("2026-01-05 00:00").0 + start_min * 60_000);
        let piece = new_piece(&recipe, from, &NEW_YORK);
        let life = rehearse(&piece, from, &stage(&recipe, &hours(shift))).unwrap();
        held_to_the_rules(&recipe, from, &shift, &life);
    }
}

#[test]
fn the_samples_go_through_their_lives_within_their_rules() {
    for (file, text) in super::sample("recipes") {
        let recipe = Arc::new(recipe_file::read(&file, &text).unwrap());
        let from = at("2026-03-02 08:00");
        let piece = new_piece(&recipe, from, &NEW_YORK);
        let life = rehearse(&piece, from, &stage(&recipe, &hours(Shift::COMMON))).unwrap();
        held_to_the_rules(&recipe, from, &Shift::COMMON, &life);
        for rework in &recipe.reworks {
            let life = rehearse_rework(&rework.code, from, &stage(&recipe, &hours(Shift::COMMON)))
                .unwrap();
            assert!(!life.visits.is_empty(), "{file} {}", rework.code);
        }
    }
}

#[test]
fn a_life_goes_on_from_where_a_piece_stands() {
    let recipe = Arc::new(recipe("g9"));
    let common = hours(Shift::COMMON);
    let stage = stage(&recipe, &common);
    let from = at("2026-03-02 08:00");
    let whole = rehearse(&new_piece(&recipe, from, &NEW_YORK), from, &stage).unwrap();
    let mut recipes = Recipes::default();
    recipes.add(Arc::clone(&recipe));
    let mut now: PieceNow = new_piece(&recipe, from, &NEW_YORK);
    for (n, v) in whole.visits.iter().enumerate() {
        let rest = rehearse(&now, v.at, &stage).unwrap();
        assert_eq!(diary(&rest), diary(&whole)[n..].to_vec(), "{}", v.what);
        now.apply(
            &entry(n, v.at, WHOLE.to_owned(), v.kind),
            &recipes,
            &AsAssumed,
        );
    }
    assert!(rehearse(&now, from, &stage).unwrap().visits.is_empty());
}
