//! The air and wood rows of `coating_test_vectors.json`; its other rows are held by the coating module.

use hangtime::science::cooling::{VOLATILES, solvent_wet_bulb};
use hangtime::science::psychrometrics::{
    MAGNUS_WMO, drying_power, humidity_at_spread, magnus_dew_point,
};
use hangtime::science::wood::{equilibrium_moisture, equilibrium_moisture_fahrenheit, movement};
use serde_json::Value;

use crate::table::*;

// The figure of one row in the row's own unit; none for the rows of other subjects.
fn figure(id: &str, inputs: &Value) -> Option<f64> {
    let x = |name: &str| {
        inputs[name]
            .as_f64()
            .unwrap_or_else(|| panic!("{id} has no {name}"))
    };
    Some(match id {
        "WB-01" => in_share(
            drying_power(
                (c(x("T")), pct(x("RH"))),
                (c(x("Tref")), pct(x("RHref"))),
                &MAGNUS_WMO,
            )
            .unwrap(),
        ),
        "DP-RHlimit" => {
            in_pct(humidity_at_spread(c(x("T")), kelvins(x("margin")), &MAGNUS_WMO).unwrap())
        }
        "EMC-21C-50" => in_pct(equilibrium_moisture(c(x("TC")), pct(x("RH"))).unwrap()),
        "MV-01" => {
            let wide = metres(x("width_in") * 0.0254);
            let moved = movement(wide, share(x("coef")), pct(6.0), pct(6.0 + x("dMC"))).unwrap();
            in_metres(moved) / 0.0254
        }
        "MV-02" => {
            let wide = metres(x("width_mm") / 1_000.0);
            let moved = movement(wide, share(x("coef")), pct(6.0), pct(6.0 + x("dMC"))).unwrap();
            in_metres(moved) * 1_000.0
        }
        _ if id.starts_with("DP-") => {
            in_c(magnus_dew_point(c(x("T")), pct(x("RH")), &MAGNUS_WMO).unwrap())
        }
        _ if id.starts_with("EMC-") => {
            in_pct(equilibrium_moisture_fahrenheit(f(x("TF")), pct(x("RH"))).unwrap())
        }
        _ => {
            let key = id.strip_prefix("EV-")?.replace(['-', ' '], "_");
            let solvent = VOLATILES.iter().find(|v| v.key == key).unwrap();
            in_c(solvent_wet_bulb(solvent, c(x("T")), pct(0.0), share(0.0)).unwrap())
        }
    })
}

#[test]
fn all_17_rows_of_air_and_wood_hold_within_their_published_tolerance() {
    let all: Vec<Value> =
        serde_json::from_str(include_str!("data/coating_test_vectors.json")).unwrap();
    let mut held = 0;
    for case in &all {
        let id = case["id"].as_str().unwrap();
        if let Some(got) = figure(id, &case["inputs"]) {
            near(
                got,
                case["expected"].as_f64().unwrap(),
                case["tol"].as_f64().unwrap(),
            );
            held += 1;
        }
    }
    assert_eq!(held, 17);
}
