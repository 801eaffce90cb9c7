//! Moist air against psychrolib 2.5.0 (ASHRAE Handbook of Fundamentals 2017, chapter 1) with its solver tolerance
//! lowered, and against IAPWS-95 and real-gas figures of CoolProp 8.0.0; made by `scripts/s3_psychro.py`.

use hangtime::science::psychrometrics::*;

use crate::table::*;

#[test]
fn all_216_points_of_moist_air_reproduce() {
    let rows = rows("psychro_fixtures.csv");
    assert_eq!(rows.len(), 216);
    for row in &rows {
        let (t, rh, p) = (
            c(num(row, "t_c")),
            share(num(row, "rh")),
            pa(num(row, "p_pa")),
        );
        // The file prints six decimals of a pascal, so its own rounding is added to the 1e-8.
        let vapour = num(row, "pv_pa");
        near(
            in_pa(vapour_pressure(t, rh).unwrap()),
            vapour,
            1e-8 * vapour + 5e-7,
        );
        near(
            in_c(dew_point(t, rh).unwrap()),
            num(row, "dewpoint_c"),
            1e-4,
        );
        let ratio = num(row, "humratio_kg_kg");
        // Nine decimals in the file: half of the last one is its rounding.
        near(
            in_share(humidity_ratio(t, rh, p).unwrap()),
            ratio,
            1e-6 * ratio + 5e-10,
        );
        near(
            in_c(wet_bulb(t, rh, p).unwrap()),
            num(row, "wetbulb_c"),
            1e-4,
        );
        near_rel(
            in_kg_m3(moist_air_density(t, rh, p).unwrap()),
            num(row, "moist_density_kg_m3"),
            1e-6,
        );
    }
}

#[test]
fn real_gas_figures_lie_as_near_as_the_docs_say() {
    for row in rows("psychro_fixtures.csv") {
        let (t, rh, p) = (
            c(num(&row, "t_c")),
            share(num(&row, "rh")),
            pa(num(&row, "p_pa")),
        );
        near(
            in_c(dew_point(t, rh).unwrap()),
            num(&row, "cp_dewpoint_c"),
            0.013_5,
        );
        near_rel(
            in_kg_m3(moist_air_density(t, rh, p).unwrap()),
            num(&row, "cp_density_kg_m3"),
            0.000_56,
        );
        let apart = num(&row, "cp_humratio_kg_kg") / in_share(humidity_ratio(t, rh, p).unwrap());
        assert!((1.003_5..1.005_4).contains(&apart), "{apart}");
    }
}

#[test]
fn saturation_pressure_equals_its_published_equation_and_lies_near_iapws_95() {
    let rows = rows("psat_reference.csv");
    assert_eq!(rows.len(), 50);
    for row in &rows {
        let got = in_pa(saturation_pressure(c(num(row, "t_c"))).unwrap());
        near(got, num(row, "hyland_wexler_pa"), 5.1e-5);
        near_rel(got, num(row, "iapws95_pa"), 0.000_225);
    }
}

#[test]
fn below_freezing_the_product_gives_frost_and_magnus_gives_dew() {
    // 5 C, 40 %: frost point -6.64 by psychrolib, -7.50 over water by a Magnus set.
    near(in_c(dew_point(c(5.0), pct(40.0)).unwrap()), -6.637, 1e-3);
    let over_water = Magnus {
        source: "Alduchov and Eskridge 1996",
        a: 6.1094,
        b: 17.625,
        c: 243.04,
    };
    near(
        in_c(magnus_dew_point(c(5.0), pct(40.0), &over_water).unwrap()),
        -7.50,
        0.005,
    );
}

#[test]
fn saturated_air_is_at_its_own_dew_point_and_wet_bulb() {
    for t in [1.0, 12.5, 21.0, 39.0] {
        near(in_c(dew_point(c(t), pct(100.0)).unwrap()), t, 1e-8);
        near(
            in_c(wet_bulb(c(t), pct(100.0), pa(101_325.0)).unwrap()),
            t,
            1e-8,
        );
    }
}

#[test]
fn air_outside_the_range_is_refused_by_name() {
    for (t, rh, word) in [
        (61.0, 50.0, "air temperature 61 C is outside -40 to 60 C"),
        (21.0, 0.0, "relative humidity 0 % is outside 0.1 to 100 %"),
        (
            21.0,
            140.0,
            "relative humidity 140 % is outside 0.1 to 100 %",
        ),
    ] {
        let told = dew_point(c(t), pct(rh)).unwrap_err().to_string();
        assert!(told.starts_with(word), "{told}");
    }
}

#[test]
fn s37_both_blush_rules_are_named_each_limit_is_optional_and_the_cold_piece_is_seen() {
    let limits = BlushLimits {
        humidity: Some(pct(65.0)),
        spread: Some(kelvins(8.0)),
        piece_margin: None,
    };
    let damp = blush(c(27.0), pct(70.0), None, &limits).unwrap();
    assert_eq!(damp.tripped, vec![BlushRule::Humidity, BlushRule::Spread]);
    near(in_c(damp.dew_point), 21.1, 0.05);
    near(in_k(damp.spread), 5.9, 0.05);

    let fair = blush(c(21.0), pct(50.0), None, &limits).unwrap();
    assert_eq!(fair.tripped, vec![]);
    assert_eq!(fair.held, 2);
    near(in_c(fair.dew_point), 10.2, 0.05);
    near(in_k(fair.spread), 10.8, 0.05);

    let wide = BlushLimits {
        spread: Some(kelvins(11.1)),
        ..BlushLimits::default()
    };
    assert_eq!(
        blush(c(21.0), pct(50.0), None, &wide).unwrap().tripped,
        vec![BlushRule::Spread]
    );

    let cold = blush(c(24.0), pct(55.0), Some(c(10.0)), &BlushLimits::default()).unwrap();
    assert_eq!(cold.tripped, vec![BlushRule::PieceBelowDewPoint]);
    near(in_c(cold.dew_point), 14.4, 0.05);

    let nothing = blush(c(27.0), pct(70.0), None, &BlushLimits::default()).unwrap();
    assert_eq!((nothing.tripped.len(), nothing.held), (0, 0));
}

#[test]
fn a_figure_at_its_limit_has_not_exceeded_it() {
    let at = BlushLimits {
        humidity: Some(pct(65.0)),
        ..BlushLimits::default()
    };
    assert_eq!(
        blush(c(21.0), pct(65.0), None, &at).unwrap().tripped,
        vec![]
    );
    assert_eq!(
        blush(c(21.0), pct(65.01), None, &at).unwrap().tripped,
        vec![BlushRule::Humidity]
    );
}
