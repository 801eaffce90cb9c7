//! 29 CFR 1910.1000(d): the regulation's own examples, read in a stored excerpt; limits stand here, never in the product.

use hangtime::science::exposure::{self, CeilingRule};
use hangtime::science::validity::Against;

use crate::table::*;

#[test]
fn t08_the_average_of_the_example_is_81_and_a_quarter() {
    let shift = [
        (ppm(150.0), hours(2.0)),
        (ppm(75.0), hours(2.0)),
        (ppm(50.0), hours(4.0)),
    ];
    near(
        in_ppm(exposure::time_weighted_average(&shift).unwrap()),
        81.25,
        1e-9,
    );
}

#[test]
fn t09_the_mixture_of_the_example_is_0_925() {
    let mix = [
        (ppm(500.0), ppm(1_000.0)),
        (ppm(45.0), ppm(200.0)),
        (ppm(40.0), ppm(200.0)),
    ];
    near(
        in_share(exposure::mixture_index(&mix).unwrap()),
        0.925,
        1e-9,
    );
}

#[test]
fn t10_one_more_part_brings_it_over_one() {
    let mix = [
        (ppm(500.0), ppm(1_000.0)),
        (ppm(45.0), ppm(200.0)),
        (ppm(40.0), ppm(200.0)),
        (ppm(30.0), ppm(200.0)),
    ];
    let index = in_share(exposure::mixture_index(&mix).unwrap());
    near(index, 1.075, 1e-9);
    assert!(index > 1.0);
}

#[test]
fn t11_four_hours_are_still_divided_by_eight() {
    near(
        in_ppm(exposure::time_weighted_average(&[(ppm(180.0), hours(4.0))]).unwrap()),
        90.0,
        1e-9,
    );
}

#[test]
fn t12_a_ceiling_may_be_exceeded_only_up_to_the_peak_and_only_for_its_time() {
    let rule = CeilingRule {
        ceiling: ppm(300.0),
        peak: Some(ppm(500.0)),
        peak_time: minutes(10.0),
    };
    let held = |c: f64, t: f64| exposure::hold_ceiling(&[(ppm(c), minutes(t))], &rule).unwrap();
    assert!(held(310.0, 11.0).over());
    assert!(held(510.0, 1.0).over());
    assert!(!held(310.0, 10.0).over());
    assert_eq!(held(310.0, 10.0).time, Against::At);
    assert!(!held(300.0, 400.0).over());
    let bare = CeilingRule { peak: None, ..rule };
    assert!(
        exposure::hold_ceiling(&[(ppm(301.0), minutes(0.1))], &bare)
            .unwrap()
            .over()
    );
    // Two stretches above the ceiling add up.
    let twice = [
        (ppm(310.0), minutes(6.0)),
        (ppm(100.0), minutes(60.0)),
        (ppm(320.0), minutes(5.0)),
    ];
    assert!(exposure::hold_ceiling(&twice, &rule).unwrap().over());
}

#[test]
fn t46_200_ppm_of_toluene_is_754_milligrams() {
    let got = exposure::mass_concentration_conventional(ppm(200.0), g_mol(92.14)).unwrap();
    near_rel(in_kg_m3(got) * 1.0e6, 753.7, 0.001);
}

#[test]
fn a_limit_of_zero_is_refused() {
    assert!(exposure::mixture_index(&[(ppm(1.0), ppm(0.0))]).is_err());
}
