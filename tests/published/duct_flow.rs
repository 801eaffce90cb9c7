//! Duct velocity and air density against published checkpoints of ventilation practice.

use hangtime::science::booth;

use crate::table::*;

#[test]
fn t37_a_quarter_inch_is_2002_fpm_and_an_inch_4005() {
    near_rel(
        in_fpm(booth::duct_velocity(inch_water(0.25), share(1.0)).unwrap()),
        2_002.5,
        0.000_1,
    );
    near_rel(
        in_fpm(booth::duct_velocity(inch_water(1.00), share(1.0)).unwrap()),
        4_005.0,
        0.000_1,
    );
}

#[test]
fn t38_air_at_100_c_weighs_0_946() {
    let hot = booth::density_at(kg_m3(1.204), c(20.0), c(100.0)).unwrap();
    near_rel(in_kg_m3(hot), 0.946, 0.001);
}

#[test]
fn in_thin_air_the_true_velocity_is_higher_by_8_per_cent_at_1500_metres() {
    let flat = in_fpm(booth::duct_velocity(inch_water(0.25), share(1.0)).unwrap());
    let high = in_fpm(booth::duct_velocity(inch_water(0.25), share(0.85)).unwrap());
    assert!(high > flat);
    near_rel(high / flat, 1.0847, 1e-4);
}

#[test]
fn the_two_forms_agree_within_a_tenth_of_a_per_cent_in_standard_air() {
    // 0.075 lb/ft3.
    let standard = kg_m3(0.075 * LB / FT3);
    let si = in_fpm(booth::pitot_velocity(inch_water(0.5), standard).unwrap());
    let us = in_fpm(booth::duct_velocity(inch_water(0.5), share(1.0)).unwrap());
    near_rel(si, us, 0.001);
}

#[test]
fn standard_air_has_a_density_factor_of_one() {
    let factor = booth::density_factor(f(70.0), pa(29.92 * 3_386.389)).unwrap();
    near(in_share(factor), 1.0, 0.001);
    let hot = booth::density_factor(c(100.0), pa(101_325.0)).unwrap();
    near(in_share(hot), 0.9459 / 1.2014, 0.002);
}

#[test]
fn a_traverse_is_the_mean_of_velocities_not_the_velocity_of_the_mean() {
    let readings = [inch_water(0.01), inch_water(0.25)];
    let mean = in_fpm(booth::duct_traverse(&readings, share(1.0)).unwrap());
    near(mean, f64::midpoint(400.5, 2_002.5), 1e-6);
    assert!(booth::duct_traverse(&[], share(1.0)).is_err());
    assert!(booth::duct_velocity(pa(-1.0), share(1.0)).is_err());
}
