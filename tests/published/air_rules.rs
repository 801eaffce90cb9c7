//! Hazardous air pollutants: Subpart JJ of 40 CFR 63, the list and its changes, default shares of blends, thresholds.

use hangtime::science::solvents::Standing;
use hangtime::science::validity::{Against, against};
use hangtime::science::voc::{self, Averaged, HAP_BLENDS};
use hangtime::science::{transfer, validity};

use crate::table::*;

#[test]
fn t23_the_averaging_equation() {
    // Constructed: no published example was found.
    let solids = |m: f64, load: f64| Averaged {
        solids: kg(m),
        hap_per_solids: share(load),
    };
    let got = voc::averaging(
        &[solids(100.0, 1.1), solids(60.0, 0.7)],
        &[(pct(5.0), kg(40.0))],
    )
    .unwrap();
    near(in_share(got), 0.9625, 1e-9);
    assert!(voc::averaging(&[], &[]).is_err());
}

#[test]
fn t24_a_thinner_of_4_per_cent_is_over_one_limit_and_under_the_other() {
    let side = |made_on_site| against(4.0, in_pct(voc::thinner_hap_limit(made_on_site)));
    assert_eq!(side(true), Against::Over);
    assert_eq!(side(false), Against::Under);
}

#[test]
fn t25_what_is_on_the_list_and_what_was_taken_off() {
    for (cas, listed) in [
        ("78-93-3", false),
        ("111-76-2", false),
        ("108-88-3", true),
        ("67-56-1", true),
        ("67-64-1", false),
    ] {
        assert_eq!(voc::hap_entry(cas).unwrap().listed, listed, "{cas}");
    }
    assert!(voc::hap_entry("78-93-3").unwrap().note.contains("2005"));
    assert_eq!(
        voc::hap_entry("67-64-1").unwrap().standing,
        Standing::Memory
    );
    assert_eq!(voc::hap_entry("7732-18-5"), None);
}

#[test]
fn t26_the_default_share_of_a_blend_goes_by_name_and_number() {
    let mass = |name, cas| {
        let row = voc::hap_blend(name, cas).unwrap();
        in_lb(voc::species_mass(lb(10.0), share(row.share)).unwrap())
    };
    near(mass(Some("VM&P naphtha"), "64742-89-8"), 0.6, 1e-9);
    near(mass(Some("ligroine (VM&P)"), "8032-32-4"), 0.0, 1e-12);
    near(mass(Some("aromatic naphtha"), "64742-95-6"), 0.2, 1e-9);
    near(
        mass(Some("super high-flash naphtha"), "64742-95-6"),
        0.5,
        1e-9,
    );
    // By number alone the highest share of that number counts.
    near(mass(None, "64742-95-6"), 0.5, 1e-9);
    near(mass(None, "110-54-3"), 10.0, 1e-9);
    assert_eq!(voc::hap_blend(None, "67-64-1"), None);
    assert_eq!(HAP_BLENDS.len(), 22);
}

#[test]
fn t28_ten_tons_of_one_is_reached_at_ten_and_25_of_all_is_not_at_24_9() {
    let held = voc::hold_major_hap(tons(10.0), tons(24.9)).unwrap();
    assert_eq!(held.single, validity::Against::At);
    assert_eq!(held.all, validity::Against::Under);
}

#[test]
fn t45_the_printed_transfer_efficiencies() {
    near(
        transfer::printed("air-atomised").unwrap().share,
        0.25,
        1e-12,
    );
    near(
        transfer::printed("manual electrostatic").unwrap().share,
        0.60,
        1e-12,
    );
    near(transfer::printed("HVLP").unwrap().share, 0.65, 1e-12);
    let trial = transfer::measured(kg(0.035), kg(0.5), pct(20.0)).unwrap();
    near(in_pct(trial), 35.0, 1e-9);
    assert!(transfer::measured(kg(0.2), kg(0.5), pct(20.0)).is_err());
}
