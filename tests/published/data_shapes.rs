//! Tables that serve as data: their shape, their units and where each value comes from.

use std::collections::BTreeSet;
use std::fs;

use hangtime::science::solvents::{SOLVENTS, Standing, find};

use crate::table::*;

#[test]
fn the_solvents_of_the_product_are_those_of_the_table() {
    let table = rows("solvents.csv");
    assert_eq!(table.len(), 37);
    // Water stands in the table for comparison only.
    assert_eq!(SOLVENTS.len(), 36);
    for row in table.iter().filter(|r| r["key"] != "water") {
        let solvent = find(&row["key"]).unwrap();
        assert_eq!(find(&row["cas"]).unwrap().key, row["key"]);
        assert_eq!(solvent.molar_mass_g, num(row, "mw_g_mol"));
        assert_eq!(solvent.density_25_kg_m3, num(row, "density25_kg_m3"));
        assert_eq!(solvent.boiling_c, num(row, "boiling_c"));
        assert_eq!(solvent.flash_c, row["flash_cc_c"].parse().ok());
        assert_eq!(
            solvent.vapour_ft3_gal_70f,
            num(row, "vapour_ft3_per_gal_70f")
        );
    }
}

#[test]
fn solvents_lie_in_the_ranges_of_solvents_and_units_are_what_their_columns_say() {
    for row in rows("solvents.csv") {
        let (m, d20, d25) = (
            num(&row, "mw_g_mol"),
            num(&row, "density20_kg_m3"),
            num(&row, "density25_kg_m3"),
        );
        assert!((18.0..200.0).contains(&m), "{}", row["key"]);
        assert!(
            (650.0..1_400.0).contains(&d25) && d25 < d20 && d20 - d25 < 10.0,
            "{}",
            row["key"]
        );
        // Two columns of vapour from one gas law: m3 for a litre at 25 C, ft3 for a gallon at 70 F. Between them the
        // gas shrinks by 1.3 % and the liquid by a little less.
        let per_litre = d25 / m * 8.314_462_618 * 298.15 / 101_325.0;
        near_rel(num(&row, "vapour_m3_per_l_25c"), per_litre, 1e-4);
        near_rel(
            num(&row, "vapour_ft3_per_gal_70f") * FT3 / GAL / 1_000.0,
            per_litre,
            0.013_1,
        );
        if row["key"] != "water" {
            let (low, high) = (num(&row, "lfl_lowest_source_pct"), num(&row, "lfl_pct"));
            assert!(low <= high && (0.5..8.0).contains(&low), "{}", row["key"]);
        }
    }
}

#[test]
fn every_value_has_a_provenance_and_the_remembered_ones_are_marked_in_the_product() {
    let table = rows("solvents_provenance.csv");
    assert_eq!(table.len(), 37);
    for row in table.iter().filter(|r| r["key"] != "water") {
        for (column, text) in row {
            assert!(!text.trim().is_empty(), "{} {column}", row["key"]);
        }
        let marked = find(&row["key"]).unwrap().from_memory;
        for (column, word) in [
            ("density", "density"),
            ("boiling", "boiling point"),
            ("flash", "flash point"),
        ] {
            assert_eq!(
                row[column].starts_with("memory"),
                marked.contains(word),
                "{} {column}",
                row["key"]
            );
        }
    }
}

#[test]
fn the_limits_of_the_product_are_those_of_the_sources() {
    for row in rows("solvents_lfl_sources.csv")
        .iter()
        .filter(|r| r["key"] != "water")
    {
        let solvent = find(&row["key"]).unwrap();
        let of = |word: &str| {
            solvent
                .limits
                .iter()
                .find(|l| l.source.contains(word))
                .map(|l| l.percent)
        };
        assert_eq!(
            of("IEC 60079"),
            row["iec_60079_20_1_2010_pct"].parse().ok(),
            "{}",
            row["key"]
        );
        assert_eq!(
            of("NFPA 497"),
            row["nfpa_497_2008_pct"].parse().ok(),
            "{}",
            row["key"]
        );
        assert_eq!(
            of("Wikidata"),
            row["wikidata_pct"].parse().ok(),
            "{}",
            row["key"]
        );
        assert!(!solvent.limits.is_empty(), "{}", row["key"]);
    }
    // The lowest read limit is the table's lowest, where anything was read at all.
    for row in rows("solvents.csv").iter().filter(|r| r["key"] != "water") {
        let solvent = find(&row["key"]).unwrap();
        let read = solvent
            .limits
            .iter()
            .filter(|l| l.standing != Standing::Memory)
            .map(|l| l.percent);
        let lowest = read.fold(f64::INFINITY, f64::min);
        if lowest.is_finite() {
            assert_eq!(lowest, num(row, "lfl_lowest_source_pct"), "{}", row["key"]);
        }
    }
}

#[test]
fn the_error_table_names_every_formula_of_the_saturation_table() {
    let errors = rows("dewpoint_formula_errors.csv");
    assert_eq!(errors.len(), 8);
    let header = rows("psat_reference.csv")[0]
        .keys()
        .cloned()
        .collect::<BTreeSet<_>>();
    for row in errors
        .iter()
        .filter(|r| !r["formula"].contains("psychrolib") && !r["formula"].contains("psat_only"))
    {
        assert!(header.contains(&row["formula"]), "{}", row["formula"]);
        assert!(num(row, "psat_max_err_pct_0_50C_vs_iapws95").abs() < 0.6);
    }
}

#[test]
fn the_logger_series_keep_their_traps() {
    let hourly = rows("ts_nycflights13_jfk_q1_hourly.csv");
    assert_eq!(hourly.len(), 2_155);
    assert_eq!(hourly.iter().filter(|r| r["pressure"] == "NA").count(), 223);
    assert!(
        hourly
            .iter()
            .all(|r| r["time_hour"].ends_with('Z') && r["origin"] == "JFK")
    );
    // Fahrenheit: a winter in New York.
    assert!(hourly.iter().all(|r| (0.0..80.0).contains(&num(r, "temp"))));

    let minutes = rows("ts_midc_20181018_1min.csv");
    assert_eq!(minutes.len(), 1_440);
    // Celsius and millibar.
    assert!(
        minutes
            .iter()
            .all(|r| (-20.0..45.0).contains(&num(r, "Air Temperature [deg C]")))
    );
    assert!(
        minutes
            .iter()
            .all(|r| (850.0..1_050.0).contains(&num(r, "Station Pressure [mBar]")))
    );

    let cold = rows("ts_surfrad_alamosa_20160101_1min.csv");
    assert_eq!(cold.len(), 1_440);
    assert!(
        cold.iter()
            .all(|r| (-23.0..=-3.0).contains(&num(r, "air_temp_c")))
    );
    assert!(
        cold.iter()
            .all(|r| (760.0..790.0).contains(&num(r, "pressure_hpa")))
    );
    assert!(
        cold.iter()
            .all(|r| ["0", "1", "2"].contains(&r["qc_temp"].as_str()))
    );
}

#[test]
fn the_hourly_series_dew_points_agree_with_the_product_in_the_middle_of_the_pack() {
    use hangtime::science::psychrometrics::{MAGNUS_WMO, magnus_dew_point};
    let mut apart: Vec<f64> = rows("ts_nycflights13_jfk_q1_hourly.csv")
        .iter()
        .filter_map(|r| {
            let (t, dew, rh) = (
                r["temp"].parse().ok()?,
                r["dewp"].parse().ok()?,
                r["humid"].parse().ok()?,
            );
            Some((in_c(magnus_dew_point(f(t), pct(rh), &MAGNUS_WMO).ok()?) - in_c(f(dew))).abs())
        })
        .collect();
    apart.sort_by(f64::total_cmp);
    // The whole file's median is 0.013_1 K; single rows of the source disagree with themselves by kelvins.
    assert!(apart[apart.len() / 2] < 0.02, "{}", apart[apart.len() / 2]);
}

#[test]
fn every_borrowed_series_has_its_licence_note() {
    let notes = fs::read_to_string(path("LICENSES.md")).unwrap();
    for entry in fs::read_dir(path("")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if name.starts_with("ts_") {
            assert!(notes.contains(&name), "{name}");
        }
    }
}
