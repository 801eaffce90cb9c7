//! The solvent model of a recipe: it adds nothing to what is made to the recipe, and holds back what is not.

use super::rehearsals::{AsAssumed, NEW_YORK, at, entry, hours, stage};
use super::{lines, sample};
use hangtime::shop::climate::{Air, Credited, Stay};
use hangtime::shop::recipe::{Recipe, WHOLE};
use hangtime::shop::recipe_file;
use hangtime::shop::record::{Entry, EntrySeq, Fact};
use hangtime::shop::rehearse::{Rehearsal, Steady, new_piece, rehearse, rehearse_rework};
use hangtime::shop::shift::Shift;
use hangtime::shop::solvent::{Laid, SolventHold, hold, laid, statement};
use hangtime::shop::standing::Recipes;
use hangtime::shop::words::{Drying, StepKind};
use hangtime::units::{Film, Moment, Share, Span};
use proptest::prelude::*;
use std::sync::Arc;

const MODEL: &str = "\n[solvent]\nleft = \"10 %\"\nburn_in = \"15 um\"\n";

// The samples that lose solvent only and have a cure that waits, with the model switched on.
fn with_model() -> Vec<Arc<Recipe>> {
    sample("recipes")
        .into_iter()
        .map(|(file, text)| recipe_file::read(&file, &(text + MODEL)))
        .filter_map(Result::ok)
        .filter(|r| r.finish == Drying::SolventRelease)
        .map(Arc::new)
        .collect()
}

fn g9() -> Arc<Recipe> {
    with_model().into_iter().find(|r| r.code == "G9").unwrap()
}

// The entries of a rehearsed life as they would be written.
fn written(recipe: &Arc<Recipe>, from: Moment, life: &Rehearsal) -> Vec<Entry> {
    let piece = new_piece(recipe, from, &NEW_YORK).piece;
    let mut added = entry(0, from, WHOLE.to_owned(), StepKind::Receive);
    added.fact = Fact::Added(piece);
    let visits = life.visits.iter().enumerate().map(|(n, v)| {
        let on = if v.whole {
            WHOLE.to_owned()
        } else {
            v.surfaces.join(", ")
        };
        entry(n + 1, v.at, on, v.kind)
    });
    std::iter::once(added).chain(visits).collect()
}

// What lay on each surface when its cure began.
fn in_cure(recipe: &Arc<Recipe>, entries: &[Entry], cure: Span) -> Vec<(String, Vec<Laid>)> {
    let mut recipes = Recipes::default();
    recipes.add(Arc::clone(recipe));
    laid(entries, &recipes, &AsAssumed)
        .into_iter()
        .map(|(surface, list)| {
            let last = list.iter().rev().find(|l| l.wet).unwrap().at;
            let cured = last.plus(cure);
            (surface, list.into_iter().filter(|l| l.at < cured).collect())
        })
        .collect()
}

fn holds_of(
    recipe: &Arc<Recipe>,
    rework: Option<&str>,
    entries: &[Entry],
    air: &dyn Air,
) -> Vec<SolventHold> {
    let cure = recipe
        .steps_of(rework)
        .iter()
        .find(|s| s.kind == StepKind::Cure)
        .and_then(|s| s.hours)
        .unwrap();
    in_cure(recipe, entries, cure)
        .into_iter()
        .filter_map(|(surface, laid)| {
            let statement = statement(recipe, rework, &surface).unwrap();
            let model = recipe.solvent.unwrap();
            hold(&surface, &statement, model, cure, &laid, (&[], air))
        })
        .collect()
}

#[test]
fn the_samples_have_a_schedule_that_can_be_what_their_cure_says() {
    let recipes = with_model();
    let codes: Vec<&str> = recipes.iter().map(|r| r.code.as_str()).collect();
    assert_eq!(codes, ["G9", "N8", "P9", "RX9"]);
    for recipe in &recipes {
        for surface in &recipe.surfaces {
            let main = statement(recipe, None, surface).unwrap();
            // The film before the final sand: what the cure is about.
            let um = main.film().get::<uom::si::length::micrometer>();
            let wanted = match (recipe.code.as_str(), surface.as_str()) {
                ("N8", _) => 98.0,
                ("RX9", "top") => 84.0,
                _ => 131.0,
            };
            assert!(
                (um - wanted).abs() < 1e-9,
                "{} {surface}: {um}",
                recipe.code
            );
        }
    }
    assert!(statement(&g9(), Some("RW3"), WHOLE).is_some());
    // A rework without a cure of its own has no statement, nor has a recipe without the table.
    let rx9 = recipes.last().unwrap();
    assert!(statement(rx9, Some("CLEAR"), "top").is_none());
    let mut plain = (*g9()).clone();
    plain.solvent = None;
    assert!(statement(&Arc::new(plain), None, WHOLE).is_none());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_piece_that_is_made_to_its_recipe_gets_no_extra_hold(
        start_min in 0_i64..60 * 24 * 30,
        which in 0_usize..4,
        begin in 0_u32..18,
        length in 2_u32..6,
        always in any::<bool>(),
    ) {
        let recipe = &with_model()[which];
        let shift = if always {
            Shift::ALWAYS
        } else {
            Shift::read(&format!("{begin:02}:00-{:02}:00", begin + length), "mon-fri").unwrap()
        };
        let from = Moment(at("2026-01-05 00:00").0 + start_min * 60_000);
        let piece = new_piece(recipe, from, &NEW_YORK);
        let life = rehearse(&piece, from, &stage(recipe, &hours(shift))).unwrap();
        let held = holds_of(recipe, None, &written(recipe, from, &life), &Steady::FULL);
        prop_assert!(held.is_empty(), "{} {held:?}", recipe.code);
    }
}

#[test]
fn a_rework_to_recipe_on_a_piece_to_recipe_gets_no_extra_hold() {
    let recipe = g9();
    let from = at("2026-03-02 06:00");
    for shift in [Shift::COMMON, Shift::ALWAYS] {
        let there = hours(shift);
        let stage = stage(&recipe, &there);
        let piece = new_piece(&recipe, from, &NEW_YORK);
        let mut life = rehearse(&piece, from, &stage).unwrap();
        life.visits
            .retain(|v| !matches!(v.kind, StepKind::Inspect | StepKind::Mate));
        let opened = life.end().unwrap();
        let rework = rehearse_rework("RW3", opened, &stage).unwrap();
        let mut entries = written(&recipe, from, &life);
        let mut open = entry(100, opened, WHOLE.to_owned(), StepKind::Receive);
        open.fact = Fact::Reworked {
            rework: "RW3".to_owned(),
            defect: None,
            why: "run".to_owned(),
        };
        entries.push(open);
        entries.extend(written(&recipe, from, &rework).into_iter().skip(1));
        let held = holds_of(&recipe, Some("RW3"), &entries, &Steady::FULL);
        assert!(held.is_empty(), "{held:?}");
    }
}

// The life of a body of G9 by the common hours, and what the model says of it after a change.
fn changed(change: impl Fn(&mut Vec<Entry>), air: &dyn Air) -> Vec<SolventHold> {
    let recipe = g9();
    let from = at("2026-03-02 08:00");
    let piece = new_piece(&recipe, from, &NEW_YORK);
    let life = rehearse(&piece, from, &stage(&recipe, &hours(Shift::COMMON))).unwrap();
    let mut entries = written(&recipe, from, &life);
    change(&mut entries);
    holds_of(&recipe, None, &entries, air)
}

fn gauge(entries: &mut Vec<Entry>, film: Film) {
    let last = entries
        .iter()
        .rposition(|e| e.fact.wets())
        .map(|i| (i, entries[i].ended))
        .unwrap();
    let mut gauge = entry(200, last.1, WHOLE.to_owned(), StepKind::Receive);
    gauge.fact = Fact::Gauged { film };
    entries.insert(last.0 + 1, gauge);
}

#[test]
fn a_gauge_that_reads_more_holds_back_by_the_square_and_one_that_reads_less_shortens_nothing() {
    let thick = changed(|e| gauge(e, Film(196_500)), &Steady::FULL); // 1.5 x 131 um
    let [thick] = thick.as_slice() else {
        panic!("{thick:?}")
    };
    // 336 h x 2.25 by the square of the film; the stack may ask for more, and asks for no less.
    assert!(thick.needed >= Span::hours(756), "{thick:?}");
    assert!(thick.needed < Span::hours(840), "{thick:?}");
    assert_eq!(thick.recipe, Span::hours(336));
    assert!(thick.left > Share(100_000), "{thick:?}");
    assert_eq!(thick.own, Share(100_000));
    assert_eq!(changed(|e| gauge(e, Film(90_000)), &Steady::FULL), []);
}

#[test]
fn coats_that_follow_too_soon_are_held_back() {
    // The nine clears of three days put half an hour apart, without a change of the film.
    let crowded = changed(
        |entries| {
            let last = entries.iter().rposition(|e| e.fact.wets()).unwrap();
            let end = entries[last].ended;
            let n = i64::try_from(last).unwrap();
            for (i, e) in entries.iter_mut().enumerate().take(last + 1).skip(1) {
                let back = n - i64::try_from(i).unwrap();
                e.began = end.minus(Span::minutes(31 * back));
                e.ended = e.began;
            }
            entries[0].began = end.minus(Span::hours(40));
        },
        &Steady::FULL,
    );
    assert_eq!(crowded.len(), 1);
    assert!(crowded[0].needed > Span::hours(336 + 12), "{crowded:?}");
}

// Air that was read and earned so much of each hour, or that nobody read.
#[derive(Debug)]
struct Room {
    permille: i64,
    read: bool,
}

impl Air for Room {
    fn credited(&self, stays: &[Stay], from: Moment, now: Moment, wanted: Span) -> Credited {
        let mut out = Steady {
            permille: self.permille,
        }
        .credited(stays, from, now, wanted);
        out.assumed = !self.read;
        out
    }
}

#[test]
fn cold_hours_between_the_coats_hold_back_and_hours_that_nobody_read_do_not() {
    let cold = Room {
        permille: 500,
        read: true,
    };
    // Waits between coats at half credit count as half as long, without any credit as none.
    let none = Room {
        permille: 0,
        read: true,
    };
    let (half, all) = (changed(|_| (), &cold), changed(|_| (), &none));
    assert!(all[0].needed > Span::hours(336 + 12), "{all:?}");
    assert!(half[0].needed > Span::hours(336 + 6), "{half:?}");
    assert!(half[0].needed < all[0].needed, "{half:?}");
    let unread = Room {
        permille: 500,
        read: false,
    };
    assert_eq!(changed(|_| (), &unread), []);
}

#[test]
fn the_reason_names_the_figures_and_that_it_is_an_estimate() {
    let hold = SolventHold {
        surface: WHOLE.to_owned(),
        since: Moment(0),
        needed: Span(Span::hours(374).0 - 1),
        recipe: Span::hours(336),
        left: Share(123_400),
        own: Share(100_000),
    };
    assert_eq!(
        hold.words(),
        "solvent: 12.3 % left at the recipe time, recipe's own 10.0 %: recipe time + 38 h, an estimate"
    );
    assert!(hold.is_of(WHOLE, Some(Moment(0))));
    assert!(
        !hold.is_of(WHOLE, Some(Moment(1))),
        "a new coat makes it void"
    );
}

#[test]
fn the_table_says_what_it_takes_and_where_it_does_not_belong() {
    let faults = |model: &str, recipe: &str| {
        let (file, text) = sample("recipes")
            .into_iter()
            .find(|(f, _)| f.ends_with(recipe))
            .unwrap();
        lines(&recipe_file::read(&file, &(text + model)).expect_err("a fault"))
    };
    let said = faults(
        "\n[solvent]\nleft = \"30 %\"\nburn_in = \"2 um\"\n",
        "/g9.toml",
    );
    assert!(
        said.contains("solvent, left: \"30 %\" is outside 5 % to 20 %"),
        "{said}"
    );
    assert!(
        said.contains("solvent, burn_in: \"2 um\" is outside 5 um to 30 um"),
        "{said}"
    );
    let said = faults(MODEL, "/wb8.toml");
    assert!(
        said.contains("does not dry by losing solvent alone"),
        "{said}"
    );
}

#[test]
fn an_entry_without_a_piece_before_it_lays_nothing() {
    let recipe = g9();
    let mut recipes = Recipes::default();
    recipes.add(recipe);
    let mut lone = entry(1, Moment(0), WHOLE.to_owned(), StepKind::Clear);
    lone.seq = EntrySeq(1);
    assert!(laid(&[lone], &recipes, &AsAssumed).is_empty());
}
