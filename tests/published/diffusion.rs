//! Source: Crank's plane sheet in forty digits and a two-layer eigenvalue series, with a method of lines beside it
//! (`scripts/s5_diffusion.py` made the three CSV files). Tolerances: series 1e-9, a 200-cell implicit scheme 1e-3.

use hangtime::science::cure::{
    Stack, fourier_for, profile, retained, retained_with_air_resistance,
};
use hangtime::science::worksheet::Quantity;
use uom::si::diffusion_coefficient::square_meter_per_second;
use uom::si::f64::{DiffusionCoefficient, Length, Ratio, Time};

/// An independent solver: cells, backward Euler, sealed at the wood, dry at the surface.
///
/// On a uniform grid every mode decays too slowly, so it always errs on the side of more solvent left.
pub(crate) struct Cells {
    /// Solvent per dry film of each cell, from the wood up.
    pub(crate) u: Vec<f64>,
    /// Thickness of each cell.
    pub(crate) dz: Vec<f64>,
    /// Diffusion coefficient of each cell.
    pub(crate) d: Vec<f64>,
}

impl Cells {
    /// Conductance of each face, the wood's first: harmonic between cells, half a cell at the surface.
    fn faces(&self) -> Vec<f64> {
        let n = self.u.len();
        let half = |i: usize| self.dz[i] / 2.0 / self.d[i];
        let mut g = vec![0.0; n + 1];
        for (at, face) in g.iter_mut().enumerate().take(n).skip(1) {
            *face = 1.0 / (half(at - 1) + half(at));
        }
        g[n] = 1.0 / half(n - 1);
        g
    }

    /// One implicit step by the Thomas algorithm.
    pub(crate) fn step(&mut self, dt: f64) {
        let face = self.faces();
        let cells = self.u.len();
        let (mut upper, mut right) = (vec![0.0; cells], vec![0.0; cells]);
        for at in 0..cells {
            let held = self.dz[at] / dt;
            let (back, back_right) = if at > 0 {
                (-face[at] * upper[at - 1], -face[at] * right[at - 1])
            } else {
                (0.0, 0.0)
            };
            let pivot = held + face[at] + face[at + 1] - back;
            upper[at] = if at + 1 < cells {
                -face[at + 1] / pivot
            } else {
                0.0
            };
            right[at] = (self.u[at] * held - back_right) / pivot;
        }
        let mut above = 0.0;
        for at in (0..cells).rev() {
            above = right[at] - upper[at] * above;
            self.u[at] = above;
        }
    }

    /// Steps that grow from `dt` by half a percent up to `most`: a step of 2 % of the time gone by is already
    /// 0.001 wrong.
    pub(crate) fn advance(&mut self, time: f64, dt: f64, most: f64) {
        let (mut left, mut dt) = (time, dt);
        while left > 0.0 {
            let now = dt.min(left);
            self.step(now);
            left -= now;
            dt = (dt * 1.005).min(most);
        }
    }

    pub(crate) fn mass(&self) -> f64 {
        self.u.iter().zip(&self.dz).map(|(u, dz)| u * dz).sum()
    }

    pub(crate) fn film(&self) -> f64 {
        self.dz.iter().sum()
    }
}

fn rows(text: &str) -> Vec<csv::StringRecord> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.records().map(Result::unwrap).collect()
}

fn number(row: &csv::StringRecord, at: usize) -> f64 {
    row[at].parse().unwrap()
}

#[test]
fn the_plane_sheet_follows_crank_at_forty_points() {
    let rows = rows(include_str!("data/diffusion_slab.csv"));
    assert_eq!(rows.len(), 40);
    for row in &rows {
        let (fo, want) = (number(row, 0), number(row, 1));
        let got = retained(fo).to_base();
        assert!(
            (got - want).abs() < 1e-12,
            "Fo {fo}: {got}, published {want}"
        );
        // And back again.
        if want < 0.999 {
            let back = fourier_for(Ratio::of_base(want)).unwrap();
            assert!((back / fo - 1.0).abs() < 1e-9, "Fo {fo}: {back}");
        }
    }
    assert_eq!(fourier_for(Ratio::of_base(0.0)), None);
    assert_eq!(fourier_for(Ratio::of_base(1.0)), None);
}

#[test]
fn air_resistance_slows_the_sheet_as_published() {
    let rows = rows(include_str!("data/diffusion_slab_biot.csv"));
    assert_eq!(rows.len(), 32);
    for row in &rows {
        let (biot, fo, want) = (number(row, 0), number(row, 1), number(row, 2));
        let got = retained_with_air_resistance(biot, fo).to_base();
        assert!(
            (got - want).abs() < 1e-9,
            "Bi {biot} Fo {fo}: {got}, published {want}"
        );
    }
}

fn equal(row: &csv::StringRecord) -> bool {
    (number(row, 2) - 1.0).abs() < 1e-12
}

/// A dry film of `1 - h` with a fresh coat of `h` on it, in a whole of 1 um with D = 1 um2/h.
fn fresh_on_dry(h: f64, modes: usize) -> Stack {
    let d = DiffusionCoefficient::new::<square_meter_per_second>(1e-12 / 3600.0);
    let mut stack = Stack::new(d, Length::of_base(0.0), modes);
    stack.coat(Length::of_base((1.0 - h) * 1e-6));
    stack.wait(Time::of_base(3600.0 * 1e4));
    stack.coat(Length::of_base(h * 1e-6));
    stack
}

#[test]
fn a_fresh_coat_on_a_dry_film_follows_the_two_layer_series() {
    let rows = rows(include_str!("data/diffusion_two_layer.csv"));
    let equal: Vec<_> = rows.iter().filter(|row| equal(row)).collect();
    assert_eq!(equal.len(), 40);
    for row in equal {
        let (h, t) = (number(row, 1), number(row, 3));
        let (want, want_below) = (number(row, 4), number(row, 5));
        let mut fine = fresh_on_dry(h, 160);
        fine.wait(Time::of_base(t * 3600.0));
        let got = fine.mean().unwrap().to_base() / h;
        let below = fine
            .below(Length::of_base((1.0 - h) * 1e-6))
            .unwrap()
            .to_base()
            / h;
        assert!(
            (got - want).abs() < 1e-9,
            "{} {t}: {got}, published {want}",
            &row[0]
        );
        assert!(
            (below - want_below).abs() < 1e-9,
            "{} {t}: {below}, published {want_below}",
            &row[0]
        );
        // The sixteen modes that are used meet the series once the first moments are over.
        if t >= 0.01 {
            let mut used = fresh_on_dry(h, hangtime::science::cure::MODES);
            used.wait(Time::of_base(t * 3600.0));
            let got = used.mean().unwrap().to_base() / h;
            assert!(
                (got - want).abs() < 1e-6,
                "{} {t}: {got}, published {want}",
                &row[0]
            );
        }
    }
}

#[test]
fn a_slower_old_layer_follows_the_two_layer_series_in_cells() {
    let rows = rows(include_str!("data/diffusion_two_layer.csv"));
    let slower: Vec<_> = rows.iter().filter(|row| !equal(row)).collect();
    assert_eq!(slower.len(), 40);
    let mut run: Option<(String, f64, Cells)> = None;
    for row in slower {
        let (h, d, t) = (number(row, 1), number(row, 2), number(row, 3));
        let old = |i: usize| (f64::from(u32::try_from(i).unwrap()) + 0.5) / 200.0 < 1.0 - h;
        // Rows of a case follow each other in time.
        let (case, now, mut cells) = run.take().filter(|r| r.0 == row[0]).unwrap_or_else(|| {
            let cells = Cells {
                u: (0..200).map(|i| if old(i) { 0.0 } else { 1.0 }).collect(),
                dz: vec![1.0 / 200.0; 200],
                d: (0..200).map(|i| if old(i) { d } else { 1.0 }).collect(),
            };
            (row[0].to_owned(), 0.0, cells)
        });
        cells.advance(t - now, 1e-7, 1e-3);
        let got = cells.mass() / h;
        let below: f64 = (0..200)
            .filter(|i| old(*i))
            .map(|i| cells.u[i] / 200.0)
            .sum::<f64>()
            / h;
        assert!(
            (got - number(row, 4)).abs() < 1e-3,
            "{} {t}: {got}",
            &row[0]
        );
        assert!(
            (below - number(row, 5)).abs() < 1e-3,
            "{} {t}: {below}",
            &row[0]
        );
        // In the end a slow old layer holds longer than the model with one coefficient says: the model does not
        // bound it, and a wait by the model is the least that such a film takes.
        let mut model = fresh_on_dry(h, 160);
        model.wait(Time::of_base(t * 3600.0));
        if t >= 1.0 {
            assert!(model.mean().unwrap().to_base() / h < got, "{} {t}", &row[0]);
        }
        run = Some((case, t, cells));
    }
}

/// A public polymer library's check value: D 1e-10 m2/s, 0.2 mm, 100 s; uptake and centre (cited from a stored
/// excerpt). Tolerance 1e-12.
#[test]
fn cu_06_and_cu_07_uptake_and_profile_of_a_public_library() {
    let fo = 1e-10 * 100.0 / 2e-4_f64.powi(2);
    assert!((1.0 - retained(fo).to_base() - 0.562_233_541_762_138).abs() < 1e-12);
    assert!((1.0 - profile(0.0, fo).to_base() - 0.314_554_233_109_647_9).abs() < 1e-12);
}
