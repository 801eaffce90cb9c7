//! The second named dew-point method: Magnus with the constants of the WMO guide (Sonntag 1990).

use hangtime::science::psychrometrics::*;

use crate::table::*;

#[test]
fn dp_01_to_05_dew_points_with_the_wmo_constants() {
    for (t, rh, want) in [
        (21.0, 50.0, 10.1750),
        (21.0, 65.0, 14.1664),
        (25.0, 60.0, 16.6931),
        (20.0, 50.0, 9.2552),
        (15.0, 80.0, 11.5755),
    ] {
        near(
            in_c(magnus_dew_point(c(t), pct(rh), &MAGNUS_WMO).unwrap()),
            want,
            1e-3,
        );
    }
}

#[test]
fn dp_06_an_11_kelvin_spread_at_21_c_means_49_per_cent() {
    near(
        in_pct(humidity_at_spread(c(21.0), kelvins(11.111), &MAGNUS_WMO).unwrap()),
        49.05,
        0.01,
    );
}

#[test]
fn the_series_at_21_c_reproduces() {
    for (rh, want) in [
        (40.0, 6.88),
        (50.0, 10.18),
        (55.0, 11.61),
        (60.0, 12.94),
        (65.0, 14.17),
        (70.0, 15.32),
        (75.0, 16.40),
        (80.0, 17.42),
    ] {
        near(
            in_c(magnus_dew_point(c(21.0), pct(rh), &MAGNUS_WMO).unwrap()),
            want,
            0.005_1,
        );
    }
}

#[test]
fn the_saturation_pressures_equal_the_table() {
    for row in rows("psat_reference.csv") {
        let got = in_pa(magnus_saturation(c(num(&row, "t_c")), &MAGNUS_WMO).unwrap());
        near(got, num(&row, "sonntag_1990_wmo"), 5.1e-5);
    }
}

#[test]
fn the_two_methods_agree_as_near_as_the_error_table_says() {
    let table = rows("dewpoint_formula_errors.csv");
    let wmo = table
        .iter()
        .find(|r| r["formula"] == "sonntag_1990_wmo")
        .unwrap();
    let stated = num(wmo, "dew_max_err_K_vs_psychrolib_dewpoint_ge_0").abs();
    let mut worst = 0.0_f64;
    for t in 5..=40 {
        for step in 2..20 {
            let (air, rh) = (c(f64::from(t)), pct(f64::from(step) * 5.0));
            let house = in_c(dew_point(air, rh).unwrap());
            if house >= 0.0 {
                worst = worst
                    .max((in_c(magnus_dew_point(air, rh, &MAGNUS_WMO).unwrap()) - house).abs());
            }
        }
    }
    near(worst, stated, 5.1e-5);
}

#[test]
fn wb_01_18_c_and_65_per_cent_dry_a_waterborne_film_at_0_58_of_21_c_and_50() {
    let got = drying_power((c(18.0), pct(65.0)), (c(21.0), pct(50.0)), &MAGNUS_WMO).unwrap();
    near(in_share(got), 0.580_994, 1e-5);
}
