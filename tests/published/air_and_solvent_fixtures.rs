//! Vapour, limits and dilution against `lel_fixtures.csv` and its companions, computed with chemicals 1.5.2 and thermo
//! 0.6.1; made by `scripts/s6_lel.py`.

use std::collections::HashMap;

use hangtime::science::{booth, exposure, vapour};
use uom::si::f64::Ratio;

use crate::table::*;

fn solvents() -> HashMap<String, Row> {
    rows("solvents.csv")
        .into_iter()
        .map(|r| (r["key"].clone(), r))
        .collect()
}

fn parts(solvents: &HashMap<String, Row>, blend: &[(&str, f64)], limit: &str) -> Vec<vapour::Part> {
    blend
        .iter()
        .map(|(key, v)| vapour::Part {
            share: share(*v),
            density: kg_m3(num(&solvents[*key], "density25_kg_m3")),
            molar_mass: g_mol(num(&solvents[*key], "mw_g_mol")),
            lel: pct(num(&solvents[*key], limit)),
        })
        .collect()
}

const THINNER: &[(&str, f64)] = &[
    ("toluene", 0.35),
    ("n_butyl_acetate", 0.20),
    ("acetone", 0.20),
    ("isopropanol", 0.10),
    ("mek", 0.10),
    ("butoxyethanol", 0.05),
];
const LACQUER: &[(&str, f64)] = &[
    ("toluene", 0.25),
    ("xylenes_mixed", 0.05),
    ("n_butyl_acetate", 0.30),
    ("isobutyl_acetate", 0.10),
    ("isopropanol", 0.10),
    ("n_butanol", 0.05),
    ("mek", 0.15),
];

fn toluene_per_litre() -> Ratio {
    let all = solvents();
    vapour::vapour_per_liquid(
        kg_m3(num(&all["toluene"], "density25_kg_m3")),
        g_mol(num(&all["toluene"], "mw_g_mol")),
        c(25.0),
        pa(101_325.0),
    )
    .unwrap()
}

// The figure of the product for one row of the table, in the row's unit.
fn figure(id: u32) -> f64 {
    let all = solvents();
    let (room, sea) = (c(25.0), pa(101_325.0));
    let thinner = vapour::blend(&parts(&all, THINNER, "lfl_pct"), room, sea).unwrap();
    // Heat of formation of toluene gas, 50.17 kJ/mol (CRC Handbook; within the row's 0.2 %).
    let toluene_heat = vapour::net_heat_of_combustion(7, 8, kj_mol(50.17)).unwrap();
    match id {
        1 => in_share(toluene_per_litre()) / 1_000.0,
        // Density at 70 F lies between the two of the table, 20 and 25 C.
        2 => {
            let (a, b) = (
                num(&all["toluene"], "density20_kg_m3"),
                num(&all["toluene"], "density25_kg_m3"),
            );
            let at = a + (b - a) * (1.111_111 / 5.0);
            let ratio = vapour::vapour_per_liquid(kg_m3(at), g_mol(92.138), f(70.0), sea).unwrap();
            in_share(ratio) * GAL / FT3
        }
        3 => {
            let ratio =
                vapour::vapour_per_liquid(kg_m3(786.6), g_mol(58.079), c(20.0), pa(95_000.0))
                    .unwrap();
            in_share(ratio) * 0.000_25
        }
        4 => in_l_mol(vapour::molar_volume(room, sea).unwrap()),
        5 => in_ft3(vapour::dilution_printed(ft3(30.4), pct(1.4)).unwrap()),
        6 => in_ft3(vapour::dilution_printed(ft3(30.39), pct(1.1)).unwrap()),
        // The row takes the vapour as the solvent table prints it, with five decimals.
        7 => {
            let printed = share(num(&all["toluene"], "vapour_m3_per_l_25c") * 1_000.0);
            in_m3_h(vapour::dilution_flow(m3_h(0.000_5), printed, pct(1.1), pct(25.0)).unwrap())
        }
        8 => in_pct(thinner.lel),
        9 => in_share(thinner.per_liquid) / 1_000.0,
        10 => in_pct(
            vapour::percent_of_lel(m3_h(0.000_3), thinner.per_liquid, m3_h(900.0), thinner.lel)
                .unwrap(),
        ),
        11 => in_pct(
            vapour::blend(&parts(&all, LACQUER, "lfl_pct"), room, sea)
                .unwrap()
                .lel,
        ),
        12 => in_pct(
            vapour::mixture_lel(&[
                (share(0.80), pct(5.0)),
                (share(0.15), pct(3.0)),
                (share(0.05), pct(2.1)),
            ])
            .unwrap(),
        ),
        13 => in_kcal_mol(toluene_heat),
        14 => in_pct(vapour::lel_at_temperature(pct(1.1), toluene_heat, c(60.0)).unwrap()),
        15 => in_pct(vapour::lel_at_temperature_simple(pct(1.1), c(60.0)).unwrap()),
        16 => in_pct(vapour::lel_at_temperature_simple(thinner.lel, c(40.0)).unwrap()),
        17 => {
            in_kg_m3(exposure::mass_concentration(ppm(200.0), g_mol(92.138), room, sea).unwrap())
                * 1.0e6
        }
        18 => {
            let vapour = m3_h(0.000_04 * in_share(toluene_per_litre()));
            in_ppm(exposure::steady_concentration(vapour, m3_h(500.0), share(3.0)).unwrap())
        }
        19 => in_share(
            exposure::mixture_index(&[
                (ppm(60.0), ppm(200.0)),
                (ppm(20.0), ppm(100.0)),
                (ppm(45.0), ppm(150.0)),
            ])
            .unwrap(),
        ),
        20 => in_m3_h(booth::face_flow(m2(2.4 * 2.1), m_s(0.51)).unwrap()),
        other => panic!("row {other} has no figure"),
    }
}

#[test]
fn all_20_rows_of_the_vapour_table_reproduce_within_their_own_tolerance() {
    let rows = rows("lel_fixtures.csv");
    assert_eq!(rows.len(), 20);
    for row in &rows {
        let want = num(row, "value");
        let text = &row["tolerance"];
        let digits: f64 = text.split(' ').next().unwrap().parse().unwrap();
        let allowed = match text.split(' ').nth(1) {
            Some("rel") => digits * want.abs(),
            Some("%") => digits / 100.0 * want.abs(),
            _ => digits,
        };
        let got = figure(row["id"].parse().unwrap());
        assert!(
            (got - want).abs() <= allowed,
            "row {}: got {got}, table {want} +- {allowed}",
            row["id"]
        );
    }
}

#[test]
fn with_the_lowest_limits_the_thinner_burns_sooner() {
    let lowest = vapour::blend(
        &parts(&solvents(), THINNER, "lfl_lowest_source_pct"),
        c(25.0),
        pa(101_325.0),
    )
    .unwrap();
    near_rel(in_pct(lowest.lel), 1.3885, 1e-4);
}

#[test]
fn the_vapour_of_each_part_equals_the_detail_table() {
    let all = solvents();
    let detail = rows("lel_mixture_detail.csv");
    assert_eq!(detail.len(), THINNER.len() + LACQUER.len());
    for (name, blend) in [
        ("lacquer_thinner_example", THINNER),
        ("lacquer_solvents_example", LACQUER),
    ] {
        let got = vapour::blend(&parts(&all, blend, "lfl_pct"), c(25.0), pa(101_325.0)).unwrap();
        let rows: Vec<&Row> = detail.iter().filter(|r| r["mixture"] == name).collect();
        for ((row, y), (key, v)) in rows.iter().zip(&got.vapour_shares).zip(blend) {
            assert_eq!(row["component"], *key);
            assert_eq!(num(row, "volume_fraction"), *v);
            near(in_share(*y), num(row, "mole_fraction"), 1e-6);
        }
    }
}

#[test]
fn all_31_limits_at_temperature_reproduce_in_both_forms() {
    let rows = rows("lfl_temperature.csv");
    assert_eq!(rows.len(), 31);
    for row in &rows {
        let (lel, heat) = (
            pct(num(row, "lfl25_pct")),
            kcal_mol(num(row, "hc_net_gas_kcal_mol")),
        );
        near(
            in_pct(vapour::lel_at_temperature(lel, heat, c(40.0)).unwrap()),
            num(row, "lfl40_bw"),
            1e-4,
        );
        near(
            in_pct(vapour::lel_at_temperature(lel, heat, c(60.0)).unwrap()),
            num(row, "lfl60_bw"),
            1e-4,
        );
        near(
            in_pct(vapour::lel_at_temperature_simple(lel, c(60.0)).unwrap()),
            num(row, "lfl60_simple"),
            1e-4,
        );
    }
}
