//! 29 CFR 1910.107 and the model fire code, as read in identical state rules: velocity, filters, purge, shared exhaust,
//! alternating materials; and the survey's arithmetic.

use hangtime::science::booth::{self, Residue};
use hangtime::science::validity::{Against, against};

use crate::table::*;

#[test]
fn t07_electrostatic_spraying_is_held_against_60_fpm() {
    let limit = in_fpm(booth::dry_booth_velocity(true));
    near(limit, 60.0, 1e-9);
    assert_eq!(against(59.0, limit), Against::Under);
    assert_eq!(against(60.0, limit), Against::At);
}

#[test]
fn t36_the_purge_is_the_longer_of_four_changes_and_three_minutes() {
    let small = booth::fire_code_purge(ft3(392.0), cfm(4_900.0)).unwrap();
    near(in_min(small.four_changes), 0.32, 1e-9);
    near(in_min(small.time), 3.0, 1e-9);
    let large = booth::fire_code_purge(ft3(2_000.0), cfm(400.0)).unwrap();
    near(in_min(large.time), 20.0, 1e-9);
}

#[test]
fn t43_nitrocellulose_after_drying_oil_without_cleaning_is_seen() {
    assert!(booth::residues_meet(
        Residue::DryingOil,
        Residue::Nitrocellulose,
        false
    ));
    assert!(booth::residues_meet(
        Residue::Nitrocellulose,
        Residue::DryingOil,
        false
    ));
    assert!(!booth::residues_meet(
        Residue::DryingOil,
        Residue::Nitrocellulose,
        true
    ));
    assert!(!booth::residues_meet(
        Residue::Nitrocellulose,
        Residue::Nitrocellulose,
        false
    ));
}

#[test]
fn t44_two_booths_of_together_more_than_18_square_feet_or_nitrocellulose_are_flagged() {
    let two = booth::common_exhaust(&[ft2(9.0), ft2(9.1)], true, false).unwrap();
    assert_eq!(two.area, Against::Over);
    let at = booth::common_exhaust(&[ft2(9.0), ft2(9.0)], true, false).unwrap();
    assert_eq!(at.area, Against::At);
    assert!(
        booth::common_exhaust(&[ft2(4.0)], true, true)
            .unwrap()
            .nitrocellulose
    );
    assert!(
        booth::common_exhaust(&[ft2(4.0)], false, false)
            .unwrap()
            .different_materials
    );
}

#[test]
fn s50_nine_readings_average_96_and_eight_are_incomplete() {
    let readings: Vec<_> = [104.0, 98.0, 101.0, 95.0, 92.0, 97.0, 88.0, 90.0, 99.0]
        .map(fpm)
        .into();
    let survey = booth::face_survey(&readings, 9).unwrap();
    near(in_fpm(survey.average), 96.0, 1e-9);
    near(in_fpm(survey.lowest), 88.0, 1e-9);
    near(in_fpm(survey.highest), 104.0, 1e-9);
    near(in_share(survey.uniformity), 88.0 / 96.0, 1e-12);
    assert!(survey.complete());
    assert!(!booth::face_survey(&readings[..8], 9).unwrap().complete());
    assert!(booth::face_survey(&[], 9).is_err());
}

#[test]
fn a_face_of_three_by_two_point_four_metres_needs_7750_cfm_at_100_fpm() {
    let flow = booth::face_flow(m2(3.0 * 2.4), fpm(100.0)).unwrap();
    near(in_m3_s(flow), 3.66, 0.005);
    near(in_cfm(flow), 7_750.0, 0.5);
}

#[test]
fn the_handbook_s_flow_halves_above_150_square_feet() {
    let foot = 0.3048;
    near(
        in_cfm(booth::handbook_flow(metres(15.0 * foot), metres(10.0 * foot)).unwrap()),
        15_000.0,
        1e-6,
    );
    near(
        in_cfm(booth::handbook_flow(metres(16.0 * foot), metres(10.0 * foot)).unwrap()),
        8_000.0,
        1e-6,
    );
}

#[test]
fn the_filter_mark_counts_from_the_clean_reading_and_a_low_reading_is_flagged_too() {
    let clean = inch_water(0.10);
    let mark = booth::filter_mark(clean, inch_water(0.40)).unwrap();
    near(in_pa(mark), 0.50 * booth::INCH_WATER, 1e-9);
    let gauge = |v: f64| booth::hold_gauge(inch_water(v), clean, mark, None).unwrap();
    assert_eq!(
        (gauge(0.44).clean, gauge(0.44).mark),
        (Against::Over, Against::Under)
    );
    assert_eq!(gauge(0.50).mark, Against::At);
    assert_eq!(gauge(0.55).mark, Against::Over);
    assert_eq!(gauge(0.05).clean, Against::Under);
    assert_eq!(gauge(0.44).zero_off, None);
    let off = booth::hold_gauge(inch_water(0.2), clean, mark, Some(inch_water(0.03))).unwrap();
    assert_eq!(off.zero_off, Some(true));
}

#[test]
fn make_up_air_is_the_same_volume_as_the_exhaust() {
    let (part, missing) = booth::make_up(cfm(4_000.0), cfm(5_000.0)).unwrap();
    near(in_share(part), 0.8, 1e-12);
    near(in_cfm(missing), 1_000.0, 1e-6);
}
