//! The traps into which this arithmetic is known to fall, each as a test.

use hangtime::science::{booth, exposure, validity::Against, vapour, voc};

use crate::table::*;

#[test]
fn a_limit_typed_as_a_fraction_for_a_per_cent_is_refused() {
    // 1.4 % is 0.014 as a fraction; 0.014 % and 140 % are what a mix-up gives.
    assert!(vapour::dilution_printed(ft3(30.4), share(0.014)).is_ok());
    for wrong in [pct(0.014), share(1.4)] {
        let told = vapour::dilution_printed(ft3(30.4), wrong)
            .unwrap_err()
            .to_string();
        assert!(
            told.contains("lower explosive limit") && told.contains("0.3 to 40 %"),
            "{told}"
        );
    }
}

#[test]
fn air_is_counted_for_a_gallon_of_solvent_and_not_of_coating() {
    let air = vapour::dilution_printed(ft3(30.4), pct(1.4)).unwrap();
    // A gallon of a coating with 20 % solids by volume holds 0.8 gal of solvent.
    let coating = vapour::flow_for_rate(air, gal(1.0), gal_h(0.8)).unwrap();
    let solvent = vapour::flow_for_rate(air, gal(1.0), gal_h(1.0)).unwrap();
    near_rel(in_cfm(coating), in_cfm(solvent) * 0.8, 1e-12);
}

#[test]
fn the_printed_form_and_the_mass_balance_differ_by_one_per_cent_and_are_two_functions() {
    let printed = in_ft3(vapour::dilution_printed(ft3(30.4), pct(1.4)).unwrap());
    let exact = in_ft3(vapour::dilution_exact(ft3(30.4), pct(1.4), pct(25.0)).unwrap());
    near(exact, 8_655.0, 1.0);
    near_rel(exact / printed, 1.0107, 1e-4);
}

#[test]
fn a_multiplier_below_one_is_the_inverse_of_k_and_refused_as_k() {
    let told = vapour::purge_time(m3(100.0), m3_s(3.0), pct(20.0), pct(1.4), share(0.20))
        .unwrap_err()
        .to_string();
    assert!(
        told.contains("mixing factor K 0.2") && told.contains("inverse"),
        "{told}"
    );
    let told = exposure::steady_concentration(m3_h(0.01), m3_h(500.0), share(0.2))
        .unwrap_err()
        .to_string();
    assert!(told.contains("inverse"), "{told}");
}

#[test]
fn the_divisor_is_eight_hours_for_a_short_shift_and_a_long_one() {
    near(
        in_ppm(exposure::time_weighted_average(&[(ppm(180.0), hours(4.0))]).unwrap()),
        90.0,
        1e-9,
    );
    near(
        in_ppm(exposure::time_weighted_average(&[(ppm(100.0), hours(10.0))]).unwrap()),
        125.0,
        1e-9,
    );
}

#[test]
fn eighty_feet_a_minute_is_within_one_rule_and_below_the_other() {
    let held = booth::hold_g10(
        fpm(80.0),
        booth::Spraying::AirGuns,
        booth::BoothSize::Large,
        fpm(40.0),
    )
    .unwrap();
    assert_eq!(held.low, Some(Against::Over));
    assert!(fpm(80.0) < booth::dry_booth_velocity(false));
}

#[test]
fn in_hot_or_thin_air_the_uncorrected_velocity_is_too_low_and_never_too_high() {
    let plain = booth::duct_velocity(inch_water(0.4), share(1.0)).unwrap();
    for factor in [0.95, 0.85, 0.7] {
        assert!(booth::duct_velocity(inch_water(0.4), share(factor)).unwrap() > plain);
    }
}

#[test]
fn exempt_solvent_leaves_the_voc_and_changes_the_two_bases_differently() {
    let with = voc::Coating {
        density: kg_m3(920.0),
        solids: pct(24.0),
        water: pct(0.0),
        exempt: pct(15.0),
        water_density: kg_m3(998.0),
        exempt_density: kg_m3(790.0),
    };
    let material = in_kg_m3(voc::voc_of_material(&with).unwrap());
    let less = in_kg_m3(voc::voc_less_water_and_exempt(&with).unwrap());
    // A limit of 600 g/L is met on one basis and exceeded on the other: the limit must say which.
    assert!(material < 600.0 && less > 600.0);
}

#[test]
fn shares_above_the_whole_are_refused() {
    let wrong = voc::Coating {
        density: kg_m3(920.0),
        solids: pct(60.0),
        water: pct(50.0),
        exempt: pct(0.0),
        water_density: kg_m3(998.0),
        exempt_density: kg_m3(790.0),
    };
    let told = voc::voc_of_material(&wrong).unwrap_err().to_string();
    assert!(
        told.starts_with("solids, water and exempt solvent together 110 %"),
        "{told}"
    );
}

#[test]
fn a_tenfold_slip_in_a_pressure_reading_cannot_pass_as_a_length() {
    // A compile-time matter: the pitot tube's argument is a pressure. Out of scale is refused at run time.
    assert!(booth::duct_velocity(inch_water(25.0), share(1.0)).is_err());
}
