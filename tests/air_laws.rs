//! Laws that the air, vapour and solvent figures keep whatever the numbers are.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::doc_markdown,
    missing_docs,
    unreachable_pub,
    dead_code,
    reason = "tests; the short ways to write quantities are shared and not all used here"
)]

use hangtime::science::{booth, exposure, psychrometrics, vapour, voc, wood};
use proptest::prelude::*;

#[path = "published/table.rs"]
mod table;
use table::*;

proptest! {
    #[test]
    fn the_dew_point_never_lies_above_the_air_and_gives_back_the_humidity(t in -35.0..55.0_f64, rh in 1.0..100.0_f64) {
        let dew = psychrometrics::dew_point(c(t), pct(rh)).unwrap();
        prop_assert!(in_c(dew) <= t + 1e-9);
        let back = in_pa(psychrometrics::saturation_pressure(dew).unwrap())
            / in_pa(psychrometrics::saturation_pressure(c(t)).unwrap());
        prop_assert!((back * 100.0 - rh).abs() < 1e-6, "{back}");
    }

    #[test]
    fn the_wet_bulb_lies_between_dew_point_and_air(t in 2.0..55.0_f64, rh in 1.0..100.0_f64, p in 62_000.0..108_000.0_f64) {
        let dew = in_c(psychrometrics::dew_point(c(t), pct(rh)).unwrap());
        let wet = in_c(psychrometrics::wet_bulb(c(t), pct(rh), pa(p)).unwrap());
        prop_assert!(dew - 1e-6 <= wet && wet <= t + 1e-6, "{dew} {wet} {t}");
    }

    #[test]
    fn damper_air_is_lighter_and_brings_wood_to_more_moisture(t in 0.0..40.0_f64, rh in 1.0..90.0_f64, more in 0.5..5.0_f64) {
        let density = |rh: f64| in_kg_m3(psychrometrics::moist_air_density(c(t), pct(rh), pa(101_325.0)).unwrap());
        prop_assert!(density(rh + more) < density(rh));
        let rest = |rh: f64| in_pct(wood::equilibrium_moisture(c(t), pct(rh)).unwrap());
        prop_assert!(rest(rh + more) > rest(rh));
    }

    #[test]
    fn damper_air_never_lifts_a_blush_rule(t in 5.0..45.0_f64, rh in 5.0..95.0_f64, more in 0.0..5.0_f64) {
        let limits = psychrometrics::BlushLimits {
            humidity: Some(pct(65.0)),
            spread: Some(kelvins(8.0)),
            piece_margin: None,
        };
        let before = psychrometrics::blush(c(t), pct(rh), None, &limits).unwrap().tripped;
        let after = psychrometrics::blush(c(t), pct(rh + more), None, &limits).unwrap().tripped;
        prop_assert!(before.iter().all(|rule| after.contains(rule)));
    }

    #[test]
    fn a_mixture_burns_between_its_parts(a in 0.5..10.0_f64, b in 0.5..10.0_f64, y in 0.01..0.99_f64) {
        let l = in_pct(vapour::mixture_lel(&[(share(y), pct(a)), (share(1.0 - y), pct(b))]).unwrap());
        prop_assert!(l >= a.min(b) - 1e-9 && l <= a.max(b) + 1e-9);
    }

    #[test]
    fn the_dilution_air_brings_the_vapour_to_the_target(v in 0.1..500.0_f64, lel in 0.5..10.0_f64, target in 1.0..100.0_f64) {
        let air = in_m3(vapour::dilution_exact(m3(v), pct(lel), pct(target)).unwrap());
        let got = v / (v + air) * 100.0 / lel * 100.0;
        prop_assert!((got - target).abs() < 1e-6 * target);
    }

    #[test]
    fn more_air_never_leaves_more_vapour(c0 in 0.0..2.0_f64, g in 0.0..0.01_f64, q in 0.0..3.0_f64, t in 0.0..3_000.0_f64) {
        let after = |q: f64| vapour::room_after(pct(c0), m3_s(g), m3_s(q), m3(60.0), minutes(t / 60.0)).map(in_share);
        if let (Ok(less), Ok(more)) = (after(q), after(q + 0.5)) {
            prop_assert!(more <= less + 1e-12);
        }
    }

    #[test]
    fn a_purge_time_undone_gives_the_end(c0 in 1.0..50.0_f64, fall in 1.1..1_000.0_f64, q in 0.1..10.0_f64) {
        let time = vapour::purge_time(m3(80.0), m3_s(q), pct(c0), pct(c0 / fall), share(1.0)).unwrap();
        let end = in_pct(vapour::room_after(pct(c0), m3_s(0.0), m3_s(q), m3(80.0), time).unwrap());
        prop_assert!((end - c0 / fall).abs() < 1e-9 * c0);
    }

    #[test]
    fn the_lowest_of_a_survey_is_never_above_its_average(readings in prop::collection::vec(1.0..300.0_f64, 1..40)) {
        let grid: Vec<_> = readings.iter().copied().map(fpm).collect();
        let survey = booth::face_survey(&grid, 9).unwrap();
        prop_assert!(survey.lowest <= survey.average * 1.000_000_1 && survey.average <= survey.highest * 1.000_000_1);
        prop_assert_eq!(survey.complete(), readings.len() >= 9);
    }

    #[test]
    fn less_water_and_exempt_is_never_below_the_material(d in 700.0..1_400.0_f64, solids in 0.0..60.0_f64, water in 0.0..25.0_f64, exempt in 0.0..14.0_f64) {
        let coating = voc::Coating {
            density: kg_m3(d),
            solids: pct(solids),
            water: pct(water),
            exempt: pct(exempt),
            water_density: kg_m3(998.2),
            exempt_density: kg_m3(790.0),
        };
        let material = in_kg_m3(voc::voc_of_material(&coating).unwrap());
        let less = in_kg_m3(voc::voc_less_water_and_exempt(&coating).unwrap());
        prop_assert!(less >= material - 1e-9);
    }

    #[test]
    fn the_average_of_eight_even_hours_is_what_was_there(x in 0.0..500.0_f64) {
        let got = in_ppm(exposure::time_weighted_average(&[(ppm(x), hours(3.0)), (ppm(x), hours(5.0))]).unwrap());
        prop_assert!((got - x).abs() < 1e-9 * x.max(1.0));
    }

    #[test]
    fn a_kept_mass_is_the_product_rounded_once(v in 0_i64..1_000_000_000, d in 300_000_i64..3_000_000, s in 0_i64..=1_000_000) {
        use hangtime::units::{Density, Share, Volume};
        let kept = voc::kept_mass(Volume(v), Density(d), Share(s)).unwrap().0;
        let exact = i128::from(v) * i128::from(d) * i128::from(s);
        let twice = (i128::from(kept) * 1_000_000_000_000 - exact) * 2;
        prop_assert!(twice.abs() <= 1_000_000_000_000);
    }
}
