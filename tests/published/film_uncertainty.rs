//! Source: JCGM 100 first-order propagation with the Python package `uncertainties`, checked there by Monte Carlo
//! (`scripts/s8_uncertainty.py` made `data/film_uncertainty.csv` and `data/film_stack_uncertainty.csv`).
//! Tolerance: 1e-9 relative.

use hangtime::science::film::{Can, Coat, build};
use hangtime::science::worksheet::{Inputs, Quantity};
use hangtime::units::System;
use uom::si::f64::{Length, Ratio};

fn rows(text: &str) -> Vec<Vec<f64>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader
        .records()
        .map(|row| row.unwrap().iter().map(|x| x.parse().unwrap()).collect())
        .collect()
}

fn um(value: f64) -> Length {
    Length::of_base(value * 1e-6)
}

fn close(got: f64, want: f64, what: &str) {
    assert!(
        (got - want).abs() <= 1e-9 * want.abs().max(1e-3),
        "{what}: {got}, published {want}"
    );
}

fn can(vs: f64, u_vs: f64, r: f64, u_r: f64) -> Can {
    Can {
        solids: Ratio::of_base(vs),
        solids_u: Ratio::of_base(u_vs),
        added: Ratio::of_base(r),
        added_u: Ratio::of_base(u_r),
    }
}

#[test]
fn single_coats_carry_the_published_uncertainty_and_its_shares() {
    let rows = rows(include_str!("data/film_uncertainty.csv"));
    assert_eq!(rows.len(), 10);
    for row in rows {
        let id = format!("coat {}", row[0]);
        let coat = Coat {
            wet: um(row[1]),
            wet_u: um(row[2]),
            can: 0,
        };
        let built = build(&[can(row[3], row[4], row[5], row[6])], &[coat], &[]).unwrap();
        close(built.film.to_base() * 1e6, row[7], &id);
        close(built.u.to_base() * 1e6, row[8], &id);
        // The shares are printed with three decimals.
        let wet_share = (built.u_readings / built.u).to_base().powi(2) * 100.0;
        let rest_share = (built.u_shared / built.u).to_base().powi(2) * 100.0;
        assert!((wet_share - row[10]).abs() < 6e-4, "{id}");
        assert!((rest_share - row[11] - row[12]).abs() < 1.1e-3, "{id}");
        // The Monte Carlo run agrees with the first-order law within 1 % and its own three decimals.
        assert!(
            (built.u.to_base() * 1e6 - row[14]).abs() < 0.01 * row[14],
            "{id}"
        );
    }
}

#[test]
fn coats_of_one_can_share_its_error_and_coats_of_their_own_cans_do_not() {
    let rows = rows(include_str!("data/film_stack_uncertainty.csv"));
    assert_eq!(rows.len(), 6);
    for row in rows {
        let id = format!("stack {}", row[0]);
        let count: usize = format!("{}", row[1]).parse().unwrap();
        let one = can(row[4], row[5], row[6], row[7]);
        let coat = |can| Coat {
            wet: um(row[2]),
            wet_u: um(row[3]),
            can,
        };
        let shared = build(&[one], &vec![coat(0); count], &[]).unwrap();
        close(shared.film.to_base() * 1e6, row[8], &id);
        close(shared.u.to_base() * 1e6, row[9], &id);
        let own: Vec<Coat> = (0..count).map(coat).collect();
        let independent = build(&vec![one; count], &own, &[]).unwrap();
        close(independent.u.to_base() * 1e6, row[10], &id);
    }
}

#[test]
fn the_worksheet_gives_the_six_coat_case() {
    let sheet = hangtime::science::registry::find("film-ledger").unwrap();
    let pairs = [
        ("wet", "[100 um,100 um,100 um,100 um,100 um,100 um]"),
        ("wet-u", "5 um"),
        ("solids", "20 %"),
        ("solids-u", "1 %"),
        ("added", "50 %"),
        ("added-u", "5 %"),
    ];
    let answer = sheet
        .run(&Inputs::read(sheet, &pairs, System::Metric).unwrap())
        .unwrap();
    close(answer.result.base * 1e6, 80.0, "film");
    close(answer.also[0].base * 1e6, 5.077_182_071, "u");
}

#[test]
fn a_coat_of_an_unknown_can_is_refused_by_its_position() {
    let coat = Coat {
        wet: um(100.0),
        wet_u: um(5.0),
        can: 1,
    };
    assert_eq!(build(&[can(0.2, 0.01, 0.0, 0.0)], &[coat], &[]), Err(1));
}
