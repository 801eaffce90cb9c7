//! The masses, one rounding a line.
//!
//! *Invariants*: half a milligram goes to the even neighbour, as in the record; no step leaves the whole numbers that a
//! spreadsheet holds exactly.
//!
//! *Not here*: the sums of them.

use super::{
    Index, MASSES, MILLION, MassLine, SHEETS, SUBSTANCES, USES, in_masses, in_sheets,
    in_substances, in_uses,
};
use crate::reports::papers::table::{
    Cell, Kind, Table, cell, column, here, letters, month, range, sum_ifs,
};

// Half of one milligram, and of one and a half, in the last unit of the rounding: 10^-12 mg.
const HALF: &str = "500000000000";
const HALF_MORE: &str = "1500000000000";
pub(super) fn masses(index: &Index<'_>) -> Table {
    use in_masses as m;
    let rows = index
        .masses
        .iter()
        .enumerate()
        .map(|(row, mass)| mass_row(index, row, mass))
        .collect();
    let c = letters;
    Table {
        key: "masses",
        title: MASSES,
        says: vec![
            format!(
                "one line for each month, lot, volume of a use and substance: volume x density x share / 10^12, rounded half to even for each use, then times the uses ({} to {})",
                c(m::LITRES),
                c(m::ONE)
            ),
            "the product is taken apart into litres and microlitres, milligrams and their millionths, so that every step is a whole number below 2^53".to_owned(),
            "a half goes to the even neighbour, which a spreadsheet's own rounding does not do".to_owned(),
        ],
        columns: vec![
            column("month", "Month", Kind::Month),
            column("lot_no", "Lot no.", Kind::Number),
            column("lot", "Lot", Kind::Text),
            column("substance_no", "Substance no.", Kind::Number),
            column("substance", "Substance", Kind::Text),
            column("volume_ul", "Volume of one use, uL", Kind::Count),
            column("uses", "Uses of that volume", Kind::Count),
            column("density_mg_l", "Density, mg/L", Kind::Count),
            column("share_ppm", "Share, ppm", Kind::Count),
            column("whole_l", "Whole litres", Kind::Count),
            column("rest_ul", "Rest, uL", Kind::Count),
            column("per_litre_mg", "mg in a litre, whole", Kind::Count),
            column("per_litre_rest", "mg in a litre, millionths", Kind::Count),
            column("cross", "Cross products, 10^-6 mg", Kind::Count),
            column("whole_mg", "Whole mg", Kind::Count),
            column("left", "What is left, 10^-12 mg", Kind::Count),
            column("mass_of_one_mg", "Mass of one use, mg", Kind::Count),
            column("mass_mg", "Mass of all, mg", Kind::Count),
            column("voc", "VOC", Kind::Number),
            column("hap", "HAP", Kind::Number),
            column("exempt", "Exempt", Kind::Number),
            column("figure_no", "Figure no.", Kind::Number),
        ],
        rows,
        total: None,
    }
}

// The steps of one rounding, each a whole number below 2^53: volume in litres and microlitres, mass of a litre in
// milligrams and millionths, their products.
struct Steps {
    litres: i64,
    rest: i64,
    per_litre: i64,
    per_rest: i64,
    cross: i64,
    whole: i64,
    left: i64,
}

impl Steps {
    const fn of(volume: i64, density: i64, share: i64) -> Self {
        const PART: i64 = 1_000_000;
        let (litres, rest) = (volume / PART, volume % PART);
        let (per_litre, per_rest) = (density * share / PART, density * share % PART);
        let cross = litres * per_rest + rest * per_litre;
        Self {
            litres,
            rest,
            per_litre,
            per_rest,
            cross,
            whole: litres * per_litre + cross / PART,
            left: cross % PART * PART + rest * per_rest,
        }
    }
}

fn mass_row(index: &Index<'_>, row: usize, mass: &MassLine) -> Vec<Cell> {
    use in_masses as m;
    let of = |column: usize| here(column, row);
    let rows = index.uses.len();
    let used = |column| range(USES, column, rows);
    let (lot, material) = index
        .lots
        .get(mass.lot)
        .map_or(("", None), |(lot, m)| (lot.as_str(), Some(m)));
    let density = material.map_or(0, |m| m.density.0);
    let sheet = material.map_or(0, |m| index.sheet_of(m));
    let counted = index.substances.get(mass.substance).map(|(_, c)| c);
    let share = counted.map_or(0, |c| c.share.0);
    let counts = counted.map(|c| c.counts).unwrap_or_default();
    let from_substance = |column| format!("={}", cell(SUBSTANCES, column, mass.substance));
    let step = Steps::of(mass.volume, density, share);
    let (density_at, share_at, volume_at) = (of(m::DENSITY), of(m::SHARE), of(m::VOLUME));
    let (litres, rest) = (of(m::LITRES), of(m::REST));
    let (per_litre, per_rest) = (of(m::PER_LITRE), of(m::PER_REST));
    let (cross, whole, left) = (of(m::MIDDLE), of(m::WHOLE), of(m::LEFT));
    let counted_uses = if mass.first == row {
        sum_ifs(
            &used(in_uses::COUNT),
            &[
                (used(in_uses::MONTH), of(m::MONTH)),
                (used(in_uses::LOT), of(m::LOT)),
                (used(in_uses::VOLUME), volume_at.clone()),
            ],
        )
    } else {
        format!("={}", here(m::COUNT, mass.first))
    };
    vec![
        month(&mass.month),
        Index::no(mass.lot),
        Cell::text(lot),
        Index::no(mass.substance),
        Cell::text(counted.map_or("", |c| &c.name)),
        Cell::int(mass.volume),
        Cell::made(counted_uses, mass.count),
        Cell::made(
            format!("={}", cell(SHEETS, in_sheets::DENSITY, sheet)),
            density,
        ),
        Cell::made(from_substance(in_substances::SHARE), share),
        Cell::made(format!("=INT({volume_at}/{MILLION})"), step.litres),
        Cell::made(format!("={volume_at}-{MILLION}*{litres}"), step.rest),
        Cell::made(
            format!("=INT({density_at}*{share_at}/{MILLION})"),
            step.per_litre,
        ),
        Cell::made(
            format!("={density_at}*{share_at}-{MILLION}*{per_litre}"),
            step.per_rest,
        ),
        Cell::made(
            format!("={litres}*{per_rest}+{rest}*{per_litre}"),
            step.cross,
        ),
        Cell::made(
            format!("={litres}*{per_litre}+INT({cross}/{MILLION})"),
            step.whole,
        ),
        Cell::made(
            format!("=({cross}-{MILLION}*INT({cross}/{MILLION}))*{MILLION}+{rest}*{per_rest}"),
            step.left,
        ),
        // What is left is below two milligrams: up by one above a half, by two above one and a half; a half exactly goes
        // to the even neighbour.
        Cell::made(
            format!(
                "={whole}+IF({left}>{HALF},1,0)+IF({left}>{HALF_MORE},1,0)+IF({left}={HALF},{whole}-2*INT({whole}/2),0)+IF({left}={HALF_MORE},1-({whole}-2*INT({whole}/2)),0)"
            ),
            mass.one,
        ),
        Cell::made(
            format!("={}*{}", of(m::ONE), of(m::COUNT)),
            mass.one * mass.count,
        ),
        Cell::made(
            from_substance(in_substances::VOC),
            i64::from(!counts.exempt && !counts.water),
        ),
        Cell::made(from_substance(in_substances::HAP), i64::from(counts.hap)),
        Cell::made(
            from_substance(in_substances::EXEMPT),
            i64::from(counts.exempt),
        ),
        Cell::made(
            from_substance(in_substances::FIGURE),
            i64::try_from(counted.map_or(0, |c| index.figure_of(&c.cas))).unwrap_or(0),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shop::material::mass_of;
    use crate::units::{Amount, Density, Share, Volume};
    use proptest::prelude::*;

    // As the workbook's formula has it.
    fn rounded(s: &Steps) -> i64 {
        let odd = s.whole % 2;
        let (half, more) = (HALF.parse().unwrap(), HALF_MORE.parse().unwrap());
        s.whole
            + i64::from(s.left > half)
            + i64::from(s.left > more)
            + if s.left == half { odd } else { 0 }
            + if s.left == more { 1 - odd } else { 0 }
    }

    fn held(volume: i64, density: i64, share: i64) {
        let steps = Steps::of(volume, density, share);
        let kept = mass_of(Volume(volume), Density(density), Share(share));
        assert_eq!(rounded(&steps), kept.0, "{volume} {density} {share}");
        // Differences of figures beyond some 14 digits are rounded away by spreadsheets.
        for step in [density * share, steps.cross, steps.whole, steps.left] {
            assert!(
                step < 100_000_000_000_000,
                "{volume} {density} {share}: {step}"
            );
        }
    }

    #[test]
    fn a_half_goes_to_the_even_neighbour() {
        for (volume, density, share, wanted) in [
            (48_001, 1_000_000, 500_000, 24_000),
            (48_003, 1_000_000, 500_000, 24_002),
            // More than one milligram is left, and a half.
            (960_000, 562_500, 375, 202),
            (1, 500_000, 1_000_000, 0),
            (3, 500_000, 1_000_000, 2),
        ] {
            let kept = mass_of(Volume(volume), Density(density), Share(share));
            assert_eq!(kept.0, wanted);
            held(volume, density, share);
        }
        held(Volume::HIGH, Density::HIGH, Share::HIGH);
        held(Volume::HIGH - 1, Density::HIGH - 1, Share::HIGH - 1);
    }

    proptest! {
        #[test]
        fn the_steps_round_as_the_record_does(
            volume in 0..=Volume::HIGH, density in Density::LOW..=Density::HIGH, share in 0..=Share::HIGH,
            small in 0..300_000_i64, coarse in 1..=20_i64,
        ) {
            held(volume, density, share);
            held(small, density, share);
            held(small, 500_000 + 250_000 * (coarse % 5), coarse * 50_000);
        }
    }
}
