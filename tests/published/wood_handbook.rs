//! Wood moisture against the Forest Products Laboratory's Wood Handbook, equation 4-5 and table 4-2 (cells from
//! memory, two of them seen); made by `scripts/s4_emc.py`.

use hangtime::science::wood::*;

use crate::table::*;

#[test]
fn all_180_points_of_both_forms_reproduce() {
    let rows = rows("emc_fixtures.csv");
    assert_eq!(rows.len(), 180);
    for row in &rows {
        let (t, rh) = (c(num(row, "t_c")), share(num(row, "rh")));
        near(
            in_pct(equilibrium_moisture(t, rh).unwrap()),
            num(row, "emc_celsius_form_pct"),
            1e-6,
        );
        near(
            in_pct(equilibrium_moisture_fahrenheit(t, rh).unwrap()),
            num(row, "emc_fahrenheit_form_pct"),
            1e-6,
        );
    }
}

#[test]
fn all_152_cells_of_the_table_agree_within_its_rounding() {
    let rows = rows("emc_table42_check.csv");
    assert_eq!(rows.len(), 152);
    for row in &rows {
        let got =
            in_pct(equilibrium_moisture(f(num(row, "t_f")), pct(num(row, "rh_pct"))).unwrap());
        near(got, num(row, "table_emc_pct"), 0.06);
        near(got, num(row, "eq_celsius_pct"), 5.1e-5);
    }
}

#[test]
fn em_01_to_05_rooms_reproduce() {
    for (rh, want, table) in [
        (30.0, 6.1717, 6.2),
        (50.0, 9.2463, 9.2),
        (65.0, 11.9638, 12.0),
    ] {
        let got = in_pct(equilibrium_moisture_fahrenheit(f(70.0), pct(rh)).unwrap());
        near(got, want, 1e-3);
        near(got, table, 0.1);
    }
    near(
        in_pct(equilibrium_moisture(c(21.0), pct(50.0)).unwrap()),
        9.2452,
        1e-3,
    );
    let hot = in_pct(equilibrium_moisture_fahrenheit(f(140.0), pct(55.0)).unwrap());
    near(hot, 8.3775, 1e-3);
    near(hot, 8.4, 0.05);
}

#[test]
fn perfectly_dry_air_gives_no_moisture_and_the_equation_s_blow_up_is_refused() {
    near(
        in_pct(equilibrium_moisture(c(20.0), pct(0.0)).unwrap()),
        0.0,
        1e-12,
    );
    let told = equilibrium_moisture(c(20.0), pct(99.0))
        .unwrap_err()
        .to_string();
    assert!(
        told.contains("relative humidity 99 % is outside 0 to 95 %"),
        "{told}"
    );
}

#[test]
fn mv_01_and_02_boards_move_as_published() {
    const INCH: f64 = 0.0254;
    let five = movement(metres(5.0 * INCH), share(0.001_29), pct(6.0), pct(9.0)).unwrap();
    near(in_metres(five) / INCH, 0.019_35, 1e-6);
    let half_top = movement(metres(0.2), share(0.001_65), pct(7.0), pct(10.0)).unwrap();
    near(in_metres(half_top) * 1_000.0, 0.99, 1e-9);
    let drying = movement(metres(0.2), share(0.001_65), pct(10.0), pct(7.0)).unwrap();
    assert!(in_metres(drying) < 0.0);
    assert!(movement(metres(0.2), share(0.001_65), pct(5.0), pct(9.0)).is_err());
}

#[test]
fn wood_that_is_wetter_than_the_room_shows_a_positive_gap() {
    near(
        in_pct(moisture_gap(pct(10.2452), c(21.0), pct(50.0)).unwrap()),
        1.0,
        1e-3,
    );
}
