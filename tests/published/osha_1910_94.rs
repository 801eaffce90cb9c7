//! 29 CFR 1910.94(c): dilution to a quarter of the lower explosive limit (from memory; the worked example reproduces) and
//! the booth velocities of Table G-10 (read in an identical state rule).

use hangtime::science::booth::{self, BoothSize, Spraying};
use hangtime::science::solvents::{self, Standing, TABLE_G11};
use hangtime::science::validity::Against;
use hangtime::science::vapour;

use crate::table::*;

#[test]
fn t01_toluene_needs_8564_cubic_feet_a_gallon() {
    near_rel(
        in_ft3(vapour::dilution_printed(ft3(30.4), pct(1.4)).unwrap()),
        8_564.0,
        0.001,
    );
}

#[test]
fn t02_with_the_lower_limit_it_needs_10933() {
    near_rel(
        in_ft3(vapour::dilution_printed(ft3(30.4), pct(1.1)).unwrap()),
        10_933.0,
        0.001,
    );
}

#[test]
fn t03_a_gallon_an_hour_of_it_is_142_cfm() {
    let air = vapour::dilution_printed(ft3(30.4), pct(1.4)).unwrap();
    let flow = vapour::flow_for_rate(air, gal(1.0), gal_h(1.0)).unwrap();
    near_rel(in_cfm(flow), 142.7, 0.001);
}

#[test]
fn t04_80_fpm_is_within_one_rule_below_design_and_below_the_other_rule() {
    let held = booth::hold_g10(fpm(80.0), Spraying::AirGuns, BoothSize::Large, fpm(40.0)).unwrap();
    assert_eq!(held.low, Some(Against::Over));
    assert_eq!(held.design, Some(Against::Under));
    assert_eq!(held.high, Some(Against::Under));
    let row = held.row.unwrap();
    assert_eq!(
        (row.design_fpm, row.low_fpm, row.high_fpm),
        (100.0, 75.0, 125.0)
    );
    near(in_fpm(booth::dry_booth_velocity(false)), 100.0, 1e-9);
    let stricter = booth::stricter_velocity(held.row, true, false).unwrap();
    near(in_fpm(stricter), 100.0, 1e-9);
}

#[test]
fn t05_a_small_booth_with_crossdraft_80_takes_150_and_designs_for_200() {
    let held = booth::hold_g10(fpm(150.0), Spraying::AirGuns, BoothSize::Small, fpm(80.0)).unwrap();
    assert_eq!(held.low, Some(Against::At));
    assert_eq!(held.design, Some(Against::Under));
    // Here the table asks for more than the fire rule.
    near(
        in_fpm(booth::stricter_velocity(held.row, true, false).unwrap()),
        150.0,
        1e-9,
    );
}

#[test]
fn t06_a_crossdraft_of_101_is_flagged_and_100_is_not() {
    let over =
        booth::hold_g10(fpm(200.0), Spraying::AirGuns, BoothSize::Large, fpm(101.0)).unwrap();
    assert!(over.crossdraft_over);
    assert_eq!(over.row, None);
    let at = booth::hold_g10(fpm(200.0), Spraying::AirGuns, BoothSize::Large, fpm(100.0)).unwrap();
    assert!(!at.crossdraft_over);
    assert_eq!(at.high, Some(Against::Over));
}

#[test]
fn t48_a_fifth_of_the_limit_by_mass_balance_is_10827() {
    near_rel(
        in_ft3(vapour::dilution_exact(ft3(30.4), pct(1.4), pct(20.0)).unwrap()),
        10_827.0,
        0.001,
    );
}

#[test]
fn table_g10_spans_50_to_250_in_six_rows() {
    assert_eq!(booth::TABLE_G10.len(), 6);
    let low = booth::TABLE_G10
        .iter()
        .map(|r| r.low_fpm)
        .fold(f64::INFINITY, f64::min);
    let high = booth::TABLE_G10
        .iter()
        .map(|r| r.high_fpm)
        .fold(0.0, f64::max);
    assert_eq!((low, high), (50.0, 250.0));
}

#[test]
fn all_30_rows_of_table_g11_are_marked_as_from_memory_wherever_they_serve() {
    assert_eq!(TABLE_G11.len(), 30);
    for row in TABLE_G11 {
        // Eight times a figure of one decimal for a pint.
        let eighth = row.vapour_ft3_gal / 0.8;
        near(eighth, eighth.round(), 1e-9);
    }
    for solvent in solvents::SOLVENTS {
        for limit in solvent.limits {
            let remembered = limit.source.contains("from memory, to be confirmed");
            assert_eq!(
                limit.standing == Standing::Memory,
                remembered,
                "{}",
                solvent.key
            );
            if limit.source.contains("G-11") {
                assert!(remembered, "{}", solvent.key);
            }
        }
    }
}

#[test]
fn the_limit_is_the_data_sheet_s_if_entered_else_the_lowest_and_all_are_listed() {
    let toluene = solvents::find("toluene").unwrap();
    let lowest = vapour::choose_lel(None, Some(toluene)).unwrap().unwrap();
    near(in_pct(lowest.used), 1.0, 1e-12);
    assert!(lowest.from.contains("IEC 60079-20-1"), "{}", lowest.from);
    let values: Vec<f64> = lowest.known.iter().map(|l| l.percent).collect();
    assert_eq!(values, vec![1.0, 1.1, 1.1, 1.1, 1.4]);

    let sheet = vapour::choose_lel(Some(pct(1.2)), Some(toluene))
        .unwrap()
        .unwrap();
    near(in_pct(sheet.used), 1.2, 1e-12);
    assert_eq!(sheet.standing, Standing::Entered);
    assert_eq!(sheet.known.len(), 5);

    assert_eq!(vapour::choose_lel(None, None).unwrap(), None);
}

#[test]
fn the_printed_and_the_computed_vapour_of_table_g11_agree_as_the_crosscheck_says() {
    let rows = rows("osha_g11_crosscheck.csv");
    assert_eq!(rows.len(), 17);
    for row in &rows {
        let solvent = solvents::find(&row["key"]).unwrap();
        let printed = solvents::g11(solvent.cas).unwrap();
        assert_eq!(
            printed.vapour_ft3_gal,
            num(row, "g11_ft3_per_gal"),
            "{}",
            row["key"]
        );
        assert_eq!(
            printed.lel_percent,
            num(row, "g11_lfl_pct"),
            "{}",
            row["key"]
        );
        near(
            solvent.vapour_ft3_gal_70f,
            num(row, "computed_ft3_per_gal"),
            0.005_1,
        );
        let air = vapour::dilution_printed(ft3(printed.vapour_ft3_gal), pct(printed.lel_percent))
            .unwrap();
        near(
            in_ft3(air),
            num(row, "g11_dilution_ft3_per_gal_25pct_lel"),
            0.51,
        );
    }
}
