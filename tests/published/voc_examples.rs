//! VOC on its bases against worked examples of district rules and trade guides, read in stored excerpts, and the solvent
//! book's own arithmetic. Two published examples that contain arithmetic errors are named in [`known_bad`].

use hangtime::science::mix;
use hangtime::science::validity::Against;
use hangtime::science::voc::{self, Basis, Coating, Generator, OzoneArea, Volatile, WastePapers};
use hangtime::units::{Density, Mass, Share, Volume};

use uom::si::f64::{MassDensity, Volume as Vol};

use crate::table::*;

fn coating(density: f64, solids: f64, water: f64, exempt: f64) -> Coating {
    Coating {
        density: lb_gal(density),
        solids: pct(solids),
        water: pct(water),
        exempt: pct(exempt),
        water_density: lb_gal(8.33),
        exempt_density: kg_m3(790.0),
    }
}

fn mixed(parts: &[(Vol, MassDensity)]) -> MassDensity {
    kg_m3(mix::blend(parts).unwrap())
}

#[test]
fn t13_a_waterborne_coating_on_both_bases() {
    let paint = coating(8.52, 20.8, 53.0, 0.0);
    near_rel(
        in_lb_gal(voc::voc_less_water_and_exempt(&paint).unwrap()),
        4.875,
        0.002,
    );
    near_rel(
        in_lb_gal(voc::voc_of_material(&paint).unwrap()),
        2.232,
        0.002,
    );
}

#[test]
fn t14_three_bases_from_amounts() {
    let bases =
        voc::bases_from_amounts(lb(33.2), gal(100.0), gal(62.4), gal(0.0), gal(33.06)).unwrap();
    near_rel(in_lb_gal(bases.material), 0.332, 0.001);
    near_rel(in_lb_gal(bases.less_water_and_exempt), 0.883, 0.001);
    near_rel(in_lb_gal(bases.solids), 1.004, 0.001);
}

#[test]
fn t15_a_thinned_enamel() {
    let got = mixed(&[(gal(1.0), lb_gal(2.5)), (gal(0.25), lb_gal(6.8))]);
    near_rel(in_lb_gal(got), 3.36, 0.001);
}

#[test]
fn t16_the_most_thinner_that_a_limit_leaves_room_for() {
    let coating = lb(15.9) / gal(5.0);
    let part = in_share(mix::thinner_up_to(coating, lb_gal(6.4), lb_gal(3.5)).unwrap());
    near_rel(5.0 * part / (1.0 - part), 0.552, 0.01);
    near(
        in_lb_gal(mixed(&[(gal(5.0), coating), (gal(0.5), lb_gal(6.4))])),
        3.47,
        0.005,
    );
    assert_eq!(
        mix::thinner_up_to(lb_gal(4.0), lb_gal(6.4), lb_gal(3.5)),
        None
    );
}

#[test]
fn t17_and_t18_the_solids_basis_of_published_tables() {
    let basis = |c: f64| in_lb_gal(voc::content_to_solids_basis(lb_gal(c), lb_gal(7.36)).unwrap());
    near_rel(basis(3.0), 5.064, 0.002);
    for (c, printed) in [
        (3.7, 7.4),
        (2.6, 4.0),
        (2.8, 4.5),
        (2.9, 4.8),
        (3.8, 7.9),
        (4.2, 9.8),
        (4.8, 13.8),
        (1.9, 2.6),
    ] {
        near(basis(c), printed, 0.06);
    }
    // The table prints 21.7 for 5.5, which is 21.76 cut off and not rounded: 0.063 away, beyond its 0.06. It is held
    // here as what it is.
    near(basis(5.5), 21.76, 0.005);
    near((basis(5.5) * 10.0).floor() / 10.0, 21.7, 1e-9);
}

#[test]
fn t19_without_water_and_exempt_solvent_both_bases_are_one() {
    for (density, solids) in [(7.58, 23.0), (7.9, 41.0), (8.2, 12.0)] {
        let plain = coating(density, solids, 0.0, 0.0);
        near_rel(
            in_kg_m3(voc::voc_less_water_and_exempt(&plain).unwrap()),
            in_kg_m3(voc::voc_of_material(&plain).unwrap()),
            1e-12,
        );
    }
}

#[test]
fn t20_below_a_pound_of_solids_a_gallon_the_material_counts() {
    assert_eq!(
        voc::basis_for(&coating(9.0, 10.0, 0.0, 0.0)).unwrap(),
        Basis::Material
    );
    assert_eq!(
        voc::basis_for(&coating(10.0, 10.0, 0.0, 0.0)).unwrap(),
        Basis::LessWaterAndExempt
    );
}

#[test]
fn t21_a_pound_a_gallon_is_119_826_grams_a_litre() {
    near_rel(in_kg_m3(lb_gal(1.0)), 119.826, 1e-5);
    assert!((in_kg_m3(lb_gal(1.0)) - 119.95).abs() > 0.1);
}

#[test]
fn t22_the_composite_vapour_pressure_of_the_aerospace_sheet() {
    const MMHG: f64 = 133.322_387_415;
    let part = |grams: f64, mmhg: f64, m: f64| Volatile {
        mass: kg(grams / 1_000.0),
        molar_mass: g_mol(m),
        pressure: pa(mmhg * MMHG),
    };
    let got = voc::composite_vapour_pressure(
        &[
            part(80.5, 70.6, 72.1),
            part(160.2, 14.4, 100.2),
            part(79.2, 95.5, 32.0),
        ],
        &[(kg(0.5), g_mol(18.0)), (kg(0.0792), g_mol(58.1))],
    )
    .unwrap();
    near_rel(in_pa(got) / MMHG, 9.85, 0.01);
    near(in_pa(got) / MMHG, 9.8, 0.06);
}

#[test]
fn known_bad() {
    // (a) A published example with 52 % water and 42 % solids takes 0.52 for the solids and prints 0.76 lb/gal;
    //     consistent arithmetic gives 0.92. (b) Three parts at 3.1 and one at 1.8 are printed as 2.75; it is 2.775.
    let mix = mixed(&[(gal(3.0), lb_gal(3.1)), (gal(1.0), lb_gal(1.8))]);
    near(in_lb_gal(mix), 2.775, 1e-9);
}

#[test]
fn the_three_products_and_the_mix_of_the_stories_reproduce() {
    let product = |density: f64, solids: f64, acetone: f64| Coating {
        density: kg_m3(density * 1_000.0),
        solids: pct(solids),
        water: pct(0.0),
        exempt: pct(acetone),
        water_density: kg_m3(998.2),
        exempt_density: kg_m3(790.0),
    };
    let clear = product(0.920, 24.0, 15.0);
    near(in_kg_m3(voc::voc_of_material(&clear).unwrap()), 561.2, 0.05);
    near(
        in_kg_m3(voc::voc_less_water_and_exempt(&clear).unwrap()),
        680.0,
        0.05,
    );
    near(
        in_lb_gal(voc::voc_of_material(&clear).unwrap()),
        4.68,
        0.005,
    );
    near(
        in_lb_gal(voc::voc_less_water_and_exempt(&clear).unwrap()),
        5.67,
        0.005,
    );
    near(
        in_kg_m3(voc::voc_of_material(&product(0.840, 0.0, 30.0)).unwrap()),
        588.0,
        0.05,
    );
    near(
        in_kg_m3(voc::voc_of_material(&product(0.890, 18.0, 10.0)).unwrap()),
        640.8,
        0.05,
    );
    let mix = mixed(&[
        (litre(3.0), kg_m3(561.2)),
        (litre(1.0), kg_m3(588.0)),
        (litre(0.08), kg_m3(900.0)),
    ]);
    near(in_kg_m3(mix), 574.4, 0.05);
    // HAP of the clear: toluene 10.0, xylenes 2.0, ethylbenzene 0.4 % by mass of 920 g in a litre.
    let hap: f64 = [10.0, 2.0, 0.4]
        .iter()
        .map(|w| in_kg(voc::species_mass(kg(0.920), pct(*w)).unwrap()))
        .sum();
    near(hap, 0.114_08, 1e-9);
    // Kept masses of the mix's parts: 2343.6 g VOC in 4.08 L.
    let kept = |ul: i64, mg_l: i64, ppm: i64| {
        voc::kept_mass(Volume(ul), Density(mg_l), Share(ppm)).unwrap()
    };
    let sum = kept(3_000_000, 920_000, 610_000).0
        + kept(1_000_000, 840_000, 700_000).0
        + kept(80_000, 900_000, 1_000_000).0;
    assert_eq!(sum, 2_343_600);
}

#[test]
fn a_kept_mass_rounds_half_to_even_once() {
    assert_eq!(
        voc::kept_mass(Volume(1), Density(500_000), Share(1_000_000)),
        Some(Mass(0))
    );
    assert_eq!(
        voc::kept_mass(Volume(3), Density(500_000), Share(1_000_000)),
        Some(Mass(2))
    );
    assert_eq!(
        voc::kept_mass(Volume(48_000), Density(920_000), Share(100_000)),
        Some(Mass(4_416))
    );
}

#[test]
fn t29_a_rolling_sum_is_partial_until_twelve_months_are_known() {
    let mut months = vec![Some(tons(3.0))];
    months.extend(std::iter::repeat_n(Some(tons(1.0)), 12));
    let sums = voc::rolling_twelve(&months).unwrap();
    near(in_kg(sums[11].sum) / voc::SHORT_TON, 14.0, 1e-9);
    near(in_kg(sums[12].sum) / voc::SHORT_TON, 12.0, 1e-9);
    assert!(sums[..11].iter().all(|s| s.partial));
    assert!(!sums[11].partial && !sums[12].partial);
}

#[test]
fn a_missing_month_is_unknown_and_not_zero() {
    let mut months = vec![Some(tons(1.0)); 14];
    months[5] = None;
    let sums = voc::rolling_twelve(&months).unwrap();
    assert!(sums[13].partial);
    assert_eq!(sums[13].known, 11);
}

#[test]
fn t30_generator_categories_at_their_edges() {
    for (waste, want) in [
        (100.0, Generator::VerySmall),
        (100.1, Generator::Small),
        (999.9, Generator::Small),
        (1_000.0, Generator::Large),
    ] {
        assert_eq!(
            voc::generator_category(kg(waste), kg(0.0), kg(0.0)).unwrap(),
            want,
            "{waste}"
        );
    }
    assert_eq!(
        voc::generator_category(kg(1.0), kg(1.1), kg(0.0)).unwrap(),
        Generator::Large
    );
    assert_eq!(
        voc::generator_category(kg(1.0), kg(1.0), kg(100.0)).unwrap(),
        Generator::VerySmall
    );
}

#[test]
fn t31_a_balance_by_stock() {
    let used = voc::used_by_stock(gal(20.0), gal(55.0), gal(25.0), gal(5.0)).unwrap();
    near(in_gal(used), 45.0, 1e-9);
    let given_off = lb_gal(5.5) * used;
    near(in_lb(given_off), 247.5, 1e-9);
}

#[test]
fn s53_stock_and_log_differ_by_4_4_per_cent() {
    let used = voc::used_by_stock(litre(200.0), litre(400.0), litre(180.0), litre(0.0)).unwrap();
    let (difference, part) = voc::stock_difference(used, litre(401.5)).unwrap();
    near(in_m3(used) * 1_000.0, 420.0, 1e-9);
    near(in_m3(difference) * 1_000.0, 18.5, 1e-9);
    near(in_pct(part), 4.4, 0.05);
    near(in_kg(kg_m3(561.2) * used), 235.70, 0.005);
    near(in_kg(kg_m3(561.2) * litre(401.5)), 225.32, 0.005);
}

#[test]
fn s54_a_waste_credit_needs_its_papers() {
    let papers = WastePapers {
        site_allows: true,
        manifest: true,
        analysis: true,
    };
    let full = voc::waste_credit(kg(612.4), kg(160.0), pct(55.0), papers).unwrap();
    near(in_kg(full.credit), 88.0, 1e-9);
    near(in_kg(full.net), 524.4, 1e-9);
    let bare = voc::waste_credit(
        kg(612.4),
        kg(160.0),
        pct(55.0),
        WastePapers {
            analysis: false,
            ..papers
        },
    )
    .unwrap();
    near(in_kg(bare.credit), 0.0, 1e-12);
    near(in_kg(bare.net), 612.4, 1e-9);
    assert_eq!(bare.missing, vec!["the reference of the analysis"]);
    assert!(voc::waste_credit(kg(50.0), kg(160.0), pct(55.0), papers).is_err());
}

#[test]
fn t27_the_voc_threshold_follows_the_area() {
    use hangtime::science::validity::against;
    let limit = |area| in_kg(voc::major_voc(area)) / voc::SHORT_TON;
    assert_eq!(
        against(50.0, limit(OzoneArea::SeriousOrTransport)),
        Against::At
    );
    assert_eq!(
        against(49.9, limit(OzoneArea::SeriousOrTransport)),
        Against::Under
    );
    near(limit(OzoneArea::AttainmentToModerate), 100.0, 1e-9);
    near(limit(OzoneArea::Severe), 25.0, 1e-9);
    near(limit(OzoneArea::Extreme), 10.0, 1e-9);
}

#[test]
fn t47_a_gallon_of_26_1_per_cent_solids_covers_418_7_square_feet_at_one_mil() {
    // 231 / (144 * 0.001) * 0.261; the mil as a length of 25.4 um.
    let covers = hangtime::science::film::spreading(pct(26.1), metres(25.4e-6), share(1.0));
    let ft2_gal = covers.get::<uom::si::reciprocal_length::reciprocal_meter>() * GAL / 0.092_903_04;
    near_rel(ft2_gal, 418.7, 0.001);
}
