//! Decay and build-up of a vapour in a room against published tables, read in stored excerpts.

use hangtime::science::vapour;

use crate::table::*;

#[test]
fn t33_from_20_to_1_4_per_cent_takes_13_changes() {
    // The source multiplies the air by 0.20, which is a mixing factor K of 5. Two air changes a minute.
    let time = vapour::purge_time(
        m3(100.0),
        m3_s(200.0 / 60.0),
        pct(20.0),
        pct(1.4),
        share(5.0),
    )
    .unwrap();
    near_rel(in_min(time), 6.65, 0.001);
    near_rel(in_min(time) * 2.0, 13.30, 0.001);
}

#[test]
fn t34_a_half_life_of_1_4_hours_in_20_cubic_metres_is_9_9_an_hour() {
    near_rel(
        in_m3_h(vapour::flow_from_half_life(m3(20.0), hours(1.4)).unwrap()),
        9.90,
        0.001,
    );
}

#[test]
fn t35_the_build_up_table_reproduces() {
    for (changes, minutes_run, want) in [
        (0.5, 10.0, 0.1599),
        (1.0, 80.0, 0.7364),
        (2.0, 20.0, 0.2433),
        (4.0, 40.0, 0.2326),
        (8.0, 10.0, 0.0921),
    ] {
        // The table has one cubic metre and one cubic metre an hour of vapour; a thousandth of it here.
        let got = vapour::room_after(
            pct(0.0),
            m3_h(0.001),
            m3_h(changes),
            m3(1.0),
            minutes(minutes_run),
        )
        .unwrap();
        near(in_share(got) * 1_000.0, want, 5e-5);
    }
}

#[test]
fn a_room_without_air_keeps_all_and_fresh_work_goes_on() {
    let still = vapour::room_after(pct(0.1), m3_h(0.01), m3_h(0.0), m3(50.0), hours(2.0)).unwrap();
    near(in_share(still), 0.001 + 0.02 / 50.0, 1e-12);
    let aired = vapour::room_after(pct(0.1), m3_h(0.0), m3_h(50.0), m3(50.0), hours(1.0)).unwrap();
    near(in_share(aired), 0.001 * (-1.0_f64).exp(), 1e-12);
    let share_of_room = vapour::closed_room(m3(0.5), m3(50.0)).unwrap();
    near(in_pct(share_of_room), 1.0, 1e-12);
    assert!(vapour::closed_room(m3(51.0), m3(50.0)).is_err());
}

#[test]
fn a_purge_cannot_raise_a_concentration() {
    assert!(vapour::purge_time(m3(50.0), m3_s(1.0), pct(1.0), pct(2.0), share(1.0)).is_err());
    assert!(vapour::purge_time(m3(50.0), m3_s(1.0), pct(1.0), pct(0.0), share(1.0)).is_err());
}
