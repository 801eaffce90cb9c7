//! ACGIH Industrial Ventilation, dilution chapter: worked examples from memory; they reproduce to four digits, the page
//! was not read.

use hangtime::science::{exposure, vapour};

use crate::table::*;

#[test]
fn t32_the_dilution_examples_reproduce() {
    let flow = |pints: f64, gravity: f64, m: f64, limit: f64, k: f64| {
        in_cfm(
            exposure::dilution_for_health(
                pint_h(pints),
                share(gravity),
                g_mol(m),
                ppm(limit),
                share(k),
            )
            .unwrap(),
        )
    };
    let ketone = flow(2.0, 0.805, 72.1, 200.0, 4.0);
    let toluene = flow(2.0, 0.866, 92.13, 50.0, 5.0);
    near_rel(flow(1.5, 1.32, 133.4, 350.0, 5.0), 1_425.0, 0.001);
    near_rel(ketone, 3_000.0, 0.001);
    near_rel(toluene, 12_627.0, 0.001);
    near_rel(ketone + toluene, 15_627.0, 0.001);
}

#[test]
fn d5_the_fire_form_reproduces() {
    let flow = vapour::dilution_for_fire(
        pint_h(2.0),
        share(0.88),
        g_mol(106.0),
        pct(1.0),
        share(10.0),
        true,
    )
    .unwrap();
    near_rel(in_cfm(flow), 159.3, 0.001);
}
