//! Cooling of an evaporating film, as worked out by `scripts/coating/evap.py` with constants from memory; water is the
//! check against a figure that is known.

use hangtime::science::cooling::{VOLATILES, film_on_wood, solvent_wet_bulb};
use uom::si::f64::HeatFluxDensity;
use uom::si::heat_flux_density::watt_per_square_meter;

use crate::table::*;

fn wet_bulb(key: &str, saturation: f64, other: f64) -> f64 {
    let solvent = VOLATILES.iter().find(|v| v.key == key).unwrap();
    in_c(solvent_wet_bulb(solvent, c(21.0), pct(saturation), share(other)).unwrap())
}

#[test]
fn ev_01_the_wet_bulbs_in_dry_air_of_21_c() {
    for (key, want) in [
        ("acetone", -12.188_387_809_075_373),
        ("toluene", 9.855_326_780_665_925),
        ("n_butyl_acetate", 15.166_573_157_768_887),
    ] {
        near(wet_bulb(key, 0.0, 0.0), want, 1e-6);
    }
    for (key, want) in [
        ("acetone", -12.2),
        ("mek", -0.6),
        ("ethyl_acetate", -0.6),
        ("ethanol", 2.3),
        ("isopropanol", 5.3),
        ("toluene", 9.9),
        ("isobutyl_acetate", 13.4),
        ("n_butyl_acetate", 15.2),
    ] {
        near(wet_bulb(key, 0.0, 0.0), want, 0.051);
    }
    near(wet_bulb("acetone", 0.0, 1.0), -4.6, 0.051);
    near(wet_bulb("toluene", 0.0, 1.0), 14.0, 0.051);
    near(wet_bulb("water", 50.0, 0.0), 14.4, 0.051);
}

#[test]
fn water_by_this_balance_lies_near_the_psychrometric_wet_bulb() {
    use hangtime::science::psychrometrics;
    let known = in_c(psychrometrics::wet_bulb(c(21.0), pct(50.0), pa(101_325.0)).unwrap());
    near(wet_bulb("water", 50.0, 0.0), known, 0.5);
}

fn on_wood(grams: f64, seconds: f64, exchange: f64) -> f64 {
    let flux = HeatFluxDensity::new::<watt_per_square_meter>(grams / seconds * 390.0);
    in_k(film_on_wood(flux, minutes(seconds / 60.0), exchange, 268.33).unwrap())
}

#[test]
fn ev_02_twenty_grams_in_half_a_minute_cool_spruce_by_4_kelvin() {
    near(on_wood(20.0, 30.0, 20.0), 4.34, 0.02);
    for (exchange, want) in [(10.0, 5.1), (20.0, 4.3), (40.0, 3.4)] {
        near(on_wood(20.0, 30.0, exchange), want, 0.06);
    }
    for (exchange, want) in [(10.0, 5.0), (20.0, 4.1), (40.0, 3.0)] {
        near(on_wood(30.0, 60.0, exchange), want, 0.06);
    }
}

#[test]
fn long_times_run_into_the_steady_limit_without_a_jump() {
    let flux = HeatFluxDensity::new::<watt_per_square_meter>(260.0);
    // X passes 5 at 179 s for U = 100 and e = 268.33.
    let at = |s: f64| in_k(film_on_wood(flux, minutes(s / 60.0), 100.0, 268.33).unwrap());
    near(at(179.9), at(180.1), 1e-3);
    assert!(at(600.0) < 2.6 && at(600.0) > at(300.0));
}
