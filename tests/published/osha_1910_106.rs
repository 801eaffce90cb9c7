//! 29 CFR 1910.106 and California Title 8, 5533: categories and amounts, read in stored excerpts.

use hangtime::science::storage::{self, Category, Heated, Held, Stock};
use hangtime::science::validity::Against;

use crate::table::*;

fn stock(one: f64, two: f64, three: f64, four: f64) -> Stock {
    Stock {
        one: gal(one),
        two: gal(two),
        three: gal(three),
        four: gal(four),
    }
}

fn over(held: &[Held]) -> bool {
    held.iter().any(|h| h.side == Against::Over)
}

#[test]
fn t39_categories_follow_flash_and_boiling_point() {
    for (flash, boiling, want) in [
        (55.0, Some(230.0), Some(Category::Two)),
        (80.0, None, Some(Category::Three)),
        (150.0, None, Some(Category::Four)),
        (200.0, None, None),
        (60.0, Some(95.0), Some(Category::One)),
        (73.4, None, Some(Category::Three)),
        (140.0, None, Some(Category::Three)),
        (199.4, None, Some(Category::Four)),
        (60.0, None, Some(Category::One)),
    ] {
        assert_eq!(
            storage::category(f(flash), boiling.map(f)).unwrap(),
            want,
            "{flash} F"
        );
    }
}

#[test]
fn t40_a_cabinet_holds_60_gallons_of_1_to_3_or_120_of_4() {
    assert!(!over(
        &storage::hold_cabinet(&stock(0.0, 60.0, 0.0, 0.0)).unwrap()
    ));
    assert!(over(
        &storage::hold_cabinet(&stock(0.0, 61.0, 0.0, 0.0)).unwrap()
    ));
    assert!(!over(
        &storage::hold_cabinet(&stock(0.0, 0.0, 0.0, 120.0)).unwrap()
    ));
}

#[test]
fn t41_california_counts_all_together_as_well() {
    assert!(!over(
        &storage::hold_cabinet_california(&stock(0.0, 0.0, 60.0, 60.0)).unwrap()
    ));
    assert!(over(
        &storage::hold_cabinet_california(&stock(0.0, 0.0, 61.0, 0.0)).unwrap()
    ));
    assert!(over(
        &storage::hold_cabinet_california(&stock(0.0, 0.0, 60.0, 61.0)).unwrap()
    ));
}

#[test]
fn t42_outside_a_cabinet_category_1_and_the_others_are_held_apart() {
    assert!(!over(
        &storage::hold_outside_cabinet(&stock(25.0, 0.0, 0.0, 0.0)).unwrap()
    ));
    assert!(over(
        &storage::hold_outside_cabinet(&stock(26.0, 0.0, 0.0, 0.0)).unwrap()
    ));
    assert!(!over(
        &storage::hold_outside_cabinet(&stock(25.0, 120.0, 0.0, 0.0)).unwrap()
    ));
}

#[test]
fn a_liquid_used_near_its_flash_point_counts_as_a_worse_one() {
    let heated = |flash, at| storage::category_when_heated(f(flash), f(at)).unwrap();
    assert_eq!(heated(120.0, 90.0), Heated::AsFlashBelow100F);
    assert_eq!(heated(120.0, 89.0), Heated::AsItIs);
    assert_eq!(heated(80.0, 80.0), Heated::AsItIs);
    assert_eq!(heated(150.0, 120.0), Heated::AsCategoryThree);
}
