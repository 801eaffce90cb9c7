//! The tables of a month or year: figures, months, materials, lots, substances, roundings, uses, sheets, limits.
//!
//! *Invariants*: every total has a formula that leads to the uses and the figures of the data sheets; lines refer to
//! each other by our own numbers, never by a text, which a spreadsheet could take for a pattern. A mass is rounded
//! half-to-even for each use, lot and substance, in steps of which none leaves the 53 bits of a spreadsheet's number.
//!
//! *Not here*: how a table looks in a file.

use super::table::{Cell, Figure, Kind, Table, cell, column, here, letters, month, range, sum_ifs};
use super::{Papers, Period};
use crate::ledger::{CeilingRow, Ledger, LedgerError, Months, UseRow, UsedGroup};
use crate::reports::book::{self, BASIS, Of};
use crate::reports::sums::FROM_LOG_ALONE;
use crate::science::registry;
use crate::shop::calendar::Day;
use crate::shop::material::{Counted, Material, Totals, mass_of};
use crate::shop::words::Word;
use crate::units::{Mass, Volume};
use std::collections::BTreeMap;
use std::sync::Arc;

const SUMMARY: &str = "Summary";
const MONTHS: &str = "Months";
const MATERIALS: &str = "By material";
const LOTS: &str = "By lot";
const SUBSTANCES: &str = "By substance";
const MASSES: &str = "Masses";
const USES: &str = "Uses";
const SHEETS: &str = "Data sheets";
const LIMITS: &str = "Limits";

// Columns that other tables refer to, counted from 0.
mod in_uses {
    pub(super) const MONTH: usize = 0;
    pub(super) const LOT: usize = 1;
    pub(super) const VOLUME: usize = 10;
    pub(super) const COUNT: usize = 11;
    pub(super) const ALL: usize = 12;
}

// Columns that other tables refer to, counted from 0.
mod in_masses {
    pub(super) const MONTH: usize = 0;
    pub(super) const LOT: usize = 1;
    pub(super) const SUBSTANCE: usize = 3;
    pub(super) const VOLUME: usize = 5;
    pub(super) const COUNT: usize = 6;
    pub(super) const DENSITY: usize = 7;
    pub(super) const SHARE: usize = 8;
    pub(super) const LITRES: usize = 9;
    pub(super) const REST: usize = 10;
    pub(super) const PER_LITRE: usize = 11;
    pub(super) const PER_REST: usize = 12;
    pub(super) const MIDDLE: usize = 13;
    pub(super) const WHOLE: usize = 14;
    pub(super) const LEFT: usize = 15;
    pub(super) const ONE: usize = 16;
    pub(super) const ALL: usize = 17;
    pub(super) const VOC: usize = 18;
    pub(super) const HAP: usize = 19;
    pub(super) const EXEMPT: usize = 20;
    pub(super) const FIGURE: usize = 21;
}

// Columns that other tables refer to, counted from 0.
mod in_lots {
    pub(super) const MATERIAL: usize = 1;
    pub(super) const USES: usize = 5;
    pub(super) const VOLUME: usize = 6;
}

// Columns that other tables refer to, counted from 0.
mod in_substances {
    pub(super) const SHARE: usize = 8;
    pub(super) const VOC: usize = 9;
    pub(super) const HAP: usize = 10;
    pub(super) const EXEMPT: usize = 11;
    pub(super) const FIGURE: usize = 12;
}

// Columns that other tables refer to, counted from 0.
mod in_sheets {
    pub(super) const DENSITY: usize = 6;
}

// Columns that other tables refer to, counted from 0.
mod in_limits {
    pub(super) const VALUE: usize = 2;
}

// Half of one milligram, and of one and a half, in the last unit of the rounding: 10^-12 mg.
const HALF: &str = "500000000000";
const HALF_MORE: &str = "1500000000000";
const MILLION: &str = "1000000";

/// What a table's numbers stand for: lots, sheets, substances and figures that occur in the period.
struct Index<'a> {
    papers: &'a Papers,
    uses: Vec<UseLine>,
    grouped: bool,
    lots: Vec<(String, Arc<Material>)>,
    materials: Vec<String>,
    sheets: Vec<Arc<Material>>,
    // Number of the sheet and the substance.
    substances: Vec<(usize, Counted)>,
    figures: Vec<(String, String)>,
    masses: Vec<MassLine>,
}

// A line of the uses: one of them, or those of a day that are alike.
struct UseLine {
    day: Day,
    lot: String,
    mix: Option<u32>,
    volume: i64,
    count: i64,
    single: Option<UseRow>,
}

impl UseLine {
    fn each(used: UseRow) -> Self {
        Self {
            day: used.day,
            lot: used.lot.clone(),
            mix: used.mix,
            volume: used.volume.0,
            count: 1,
            single: Some(used),
        }
    }

    fn alike((day, group): (Day, UsedGroup)) -> Self {
        Self {
            day,
            lot: group.lot,
            mix: group.mix,
            volume: group.volume.0,
            count: group.uses,
            single: None,
        }
    }
}

// Uses of one lot in one month that took the same volume, and one substance of them.
struct MassLine {
    month: String,
    lot: usize,
    substance: usize,
    volume: i64,
    count: i64,
    one: i64,
    // The first line of the same uses.
    first: usize,
}

impl Index<'_> {
    fn number<T: PartialEq>(list: &[T], wanted: &T) -> usize {
        list.iter().position(|one| one == wanted).unwrap_or(0)
    }

    fn sheet_of(&self, material: &Material) -> usize {
        self.sheets
            .iter()
            .position(|s| s.code == material.code && s.sheet == material.sheet)
            .unwrap_or(0)
    }

    fn figure_of(&self, cas: &str) -> usize {
        self.figures
            .iter()
            .position(|(c, _)| c == cas)
            .map_or(0, |at| at + 1)
    }

    // Our own numbers start at 1: no line has the number 0.
    fn no(at: usize) -> Cell {
        Cell::int(i64::try_from(at + 1).unwrap_or(0))
    }

    fn masses_range(&self, column: usize) -> String {
        range(MASSES, column, self.masses.len())
    }

    /// The sum of the masses on whose lines the columns equal something.
    fn mass_sum(&self, conditions: &[(usize, String)]) -> String {
        let conditions: Vec<_> = conditions
            .iter()
            .map(|(c, equals)| (self.masses_range(*c), equals.clone()))
            .collect();
        sum_ifs(&self.masses_range(in_masses::ALL), &conditions)
    }
}

/// Makes the tables.
pub(super) fn tables(
    ledger: &Ledger,
    papers: &Papers,
    months: &Months,
    most: usize,
) -> Result<Vec<Table>, LedgerError> {
    let index = index(ledger, papers, months, most)?;
    let limits = limits(papers, ledger);
    let months = months_table(&index);
    Ok(vec![
        summary(&index, &months),
        months,
        materials(&index),
        lots(&index),
        substances(&index),
        masses(&index),
        uses(&index, ledger),
        sheets(&index, ledger)?,
        limits,
        signatures(papers, ledger),
        changes(papers),
        notes(&index),
    ])
}

fn index<'a>(
    ledger: &Ledger,
    papers: &'a Papers,
    months: &Months,
    most: usize,
) -> Result<Index<'a>, LedgerError> {
    let grouped = ledger.count_uses(months)? > most;
    let uses: Vec<UseLine> = if grouped {
        let list = ledger.used_by_day(months)?;
        list.into_iter().map(UseLine::alike).collect()
    } else {
        let list = ledger.uses(months)?;
        list.into_iter().map(UseLine::each).collect()
    };
    let mut lots: BTreeMap<String, Arc<Material>> = BTreeMap::new();
    let mut counts: BTreeMap<(String, String, i64), i64> = BTreeMap::new();
    for used in &uses {
        if !lots.contains_key(&used.lot) {
            lots.insert(used.lot.clone(), ledger.lot_material(&used.lot)?);
        }
        *counts
            .entry((used.day.month(), used.lot.clone(), used.volume))
            .or_default() += used.count;
    }
    let mut lots: Vec<(String, Arc<Material>)> = lots.into_iter().collect();
    lots.sort_by(|a, b| (&a.1.code, &a.1.sheet, &a.0).cmp(&(&b.1.code, &b.1.sheet, &b.0)));
    let mut sheets: Vec<Arc<Material>> = lots.iter().map(|(_, m)| Arc::clone(m)).collect();
    sheets.dedup_by(|a, b| a.code == b.code && a.sheet == b.sheet);
    let mut materials: Vec<String> = sheets.iter().map(|m| m.code.clone()).collect();
    materials.dedup();
    let substances: Vec<(usize, Counted)> = sheets
        .iter()
        .enumerate()
        .flat_map(|(n, m)| m.counted().into_iter().map(move |c| (n, c)))
        .collect();
    let figures: BTreeMap<String, String> = papers
        .held
        .iter()
        .filter_map(|h| match &h.figure.of {
            Of::Substance(cas, name) => Some((cas.clone(), name.clone())),
            Of::Voc | Of::Hap => None,
        })
        .collect();
    let mut index = Index {
        papers,
        grouped,
        uses,
        lots,
        materials,
        sheets,
        substances,
        figures: figures.into_iter().collect(),
        masses: Vec::new(),
    };
    for ((month, lot, volume), count) in counts {
        let Some((n, (_, material))) = index
            .lots
            .iter()
            .enumerate()
            .find(|(_, (name, _))| *name == lot)
        else {
            continue;
        };
        let sheet = index.sheet_of(material);
        let first = index.masses.len();
        let of_sheet: Vec<MassLine> = index
            .substances
            .iter()
            .enumerate()
            .filter(|(_, (s, _))| *s == sheet)
            .map(|(s, (_, counted))| MassLine {
                month: month.clone(),
                lot: n,
                substance: s,
                volume,
                count,
                one: mass_of(Volume(volume), material.density, counted.share).0,
                first,
            })
            .collect();
        index.masses.extend(of_sheet);
    }
    Ok(index)
}

// The three sums by formula, and as the ledger keeps them.
fn three(index: &Index<'_>, conditions: &[(usize, String)], totals: &Totals) -> [Cell; 3] {
    [
        (in_masses::VOC, totals.voc),
        (in_masses::HAP, totals.hap),
        (in_masses::EXEMPT, totals.exempt),
    ]
    .map(|(flag, mass)| {
        let mut all = conditions.to_vec();
        all.push((flag, "1".to_owned()));
        Cell::made(index.mass_sum(&all), mass.0)
    })
}

fn kg(from: &str, mass: Mass) -> Cell {
    Cell::Formula(
        format!("={from}/{MILLION}"),
        Figure {
            raw: mass.0,
            places: 6,
        },
    )
}

// The column of a figure in the list of months.
fn month_column(index: &Index<'_>, of: &Of) -> usize {
    match of {
        Of::Voc => 1,
        Of::Hap => 2,
        Of::Substance(cas, _) => 3 + index.figure_of(cas),
    }
}

fn summary(index: &Index<'_>, months: &Table) -> Table {
    let columns = vec![
        column("period", "Period", Kind::Text),
        column("figure", "Figure", Kind::Text),
        column("number", "CAS number", Kind::Text),
        column("mass_mg", "Mass, mg", Kind::Count),
        column("mass_kg", "Mass, kg", Kind::Decimal),
        column("limit_mg", "Limit, mg", Kind::Count),
        column("limit_typed", "Limit as entered", Kind::Text),
        column("left_mg", "Left to the limit, mg", Kind::Count),
        column("side", "Stands", Kind::Text),
        column("basis", "Basis", Kind::Text),
        column("source", "Source of the limit", Kind::Text),
        column("entered_by", "Entered by", Kind::Text),
    ];
    let listed: Vec<&str> = index
        .papers
        .months
        .iter()
        .map(|m| m.sums.month.as_str())
        .collect();
    let rows = index
        .papers
        .held
        .iter()
        .enumerate()
        .map(|(row, held)| {
            let f = &held.figure;
            let of = month_column(index, &f.of);
            let mass = if held.rolling {
                let all = listed
                    .iter()
                    .filter(|m| held.months.iter().any(|h| h == **m))
                    .count();
                debug_assert_eq!(all, listed.len());
                Cell::made(
                    format!("=SUM({})", range(MONTHS, of, months.rows.len())),
                    f.mass.0,
                )
            } else {
                let at = held
                    .months
                    .last()
                    .and_then(|m| listed.iter().position(|l| l == m))
                    .unwrap_or(0);
                Cell::made(format!("={}", cell(MONTHS, of, at)), f.mass.0)
            };
            let limit = f.limit.as_ref();
            let limit_at = limit.and_then(|l| {
                let all = &index.papers.limits;
                all.iter().position(|one| {
                    one.entry == l.entry && one.what == l.what && one.scope == l.scope
                })
            });
            let text =
                |of: fn(&CeilingRow) -> &str| limit.map_or(Cell::None, |l| Cell::text(of(l)));
            vec![
                Cell::text(held.words()),
                Cell::text(f.of.name()),
                match &f.of {
                    Of::Substance(cas, _) => Cell::text(cas),
                    Of::Voc | Of::Hap => Cell::None,
                },
                mass,
                kg(&here(3, row), f.mass),
                match (limit, limit_at) {
                    (Some(l), Some(at)) => {
                        Cell::made(format!("={}", cell(LIMITS, in_limits::VALUE, at)), l.value)
                    }
                    _ => Cell::None,
                },
                text(|l| &l.typed),
                f.margin().map_or(Cell::None, |left| {
                    Cell::made(format!("={}-{}", here(5, row), here(3, row)), left)
                }),
                Cell::text(f.side_word()),
                Cell::text(BASIS),
                text(|l| &l.source),
                text(|l| &l.person),
            ]
        })
        .collect();
    Table {
        key: "summary",
        title: SUMMARY,
        says: {
            let mut says = vec![FROM_LOG_ALONE.to_owned()];
            if !index.papers.unknown.is_empty() {
                says.push(index.papers.unknown.join("; "));
            }
            says
        },
        columns,
        rows,
        total: None,
    }
}

fn months_table(index: &Index<'_>) -> Table {
    let mut columns = vec![
        column("month", "Month", Kind::Month),
        column("voc_mg", "VOC, mg", Kind::Count),
        column("hap_mg", "HAP total, mg", Kind::Count),
        column("exempt_mg", "Exempt, mg", Kind::Count),
    ];
    for (cas, name) in &index.figures {
        columns.push(super::table::Column {
            key: format!("cas_{cas}_mg"),
            title: format!("{}, mg", crate::shop::text::shown(name)),
            kind: Kind::Count,
        });
    }
    columns.push(column("from", "Where it comes from", Kind::Text));
    let rows = index
        .papers
        .months
        .iter()
        .enumerate()
        .map(|(row, m)| {
            let of_month = (in_masses::MONTH, here(0, row));
            // Nothing that is recorded of a month before the record is not nothing that was used.
            let kept = |mass: Mass| {
                if m.before && mass.0 == 0 {
                    Cell::text("unknown")
                } else {
                    Cell::int(mass.0)
                }
            };
            let mut cells = vec![month(&m.sums.month)];
            let t = &m.sums.totals;
            cells.extend(if m.inside {
                three(index, std::slice::from_ref(&of_month), t)
            } else {
                [t.voc, t.hap, t.exempt].map(kept)
            });
            for (n, (cas, name)) in index.figures.iter().enumerate() {
                let mass = Of::Substance(cas.clone(), name.clone()).total(&m.sums);
                cells.push(if m.inside {
                    let figure = (in_masses::FIGURE, (n + 1).to_string());
                    Cell::made(index.mass_sum(&[of_month.clone(), figure]), mass.0)
                } else {
                    kept(mass)
                });
            }
            cells.push(Cell::text(match (m.inside, m.before) {
                (true, false) => "the uses in this paper",
                (true, true) => "the uses in this paper; the month lies before the record, the rest of it is unknown",
                (false, false) => "the ledger's sum; the paper of that month has its uses",
                (false, true) => "lies before the record: what was used is unknown",
            }));
            cells
        })
        .collect();
    let mut table = Table {
        key: "months",
        title: MONTHS,
        says: vec![
            "what is unknown is in no sum: a sum with an unknown month is the least that was used"
                .to_owned(),
        ],
        columns,
        rows,
        total: None,
    };
    let summed: Vec<usize> = (1..table.columns.len() - 1).collect();
    table.sum_up(&summed);
    table
}

fn materials(index: &Index<'_>) -> Table {
    let rows = index
        .materials
        .iter()
        .enumerate()
        .map(|(row, code)| {
            let kept = index.papers.sums.materials.iter().find(|(m, ..)| m == code);
            let (volume, totals) = kept.map_or_else(Default::default, |(_, v, t)| (*v, *t));
            let of_lots = |column| {
                sum_ifs(
                    &range(LOTS, column, index.lots.len()),
                    &[(
                        range(LOTS, in_lots::MATERIAL, index.lots.len()),
                        here(0, row),
                    )],
                )
            };
            let mut cells = vec![
                Index::no(row),
                Cell::text(code),
                Cell::made(of_lots(in_lots::VOLUME), volume.0),
            ];
            for (n, mass) in [totals.voc, totals.hap, totals.exempt]
                .into_iter()
                .enumerate()
            {
                cells.push(Cell::made(of_lots(in_lots::VOLUME + 1 + n), mass.0));
            }
            cells.push(kg(&here(3, row), totals.voc));
            cells
        })
        .collect();
    let mut table = Table {
        key: "by-material",
        title: MATERIALS,
        says: Vec::new(),
        columns: vec![
            column("material_no", "Material no.", Kind::Number),
            column("material", "Material", Kind::Text),
            column("volume_ul", "Volume used, uL", Kind::Count),
            column("voc_mg", "VOC, mg", Kind::Count),
            column("hap_mg", "HAP total, mg", Kind::Count),
            column("exempt_mg", "Exempt, mg", Kind::Count),
            column("voc_kg", "VOC, kg", Kind::Decimal),
        ],
        rows,
        total: None,
    };
    table.sum_up(&[2, 3, 4, 5]);
    // A sum of kilograms is no sum of whole numbers, so it is made of the milligrams.
    let all = kg(&here(3, table.rows.len()), index.papers.sums.totals.voc);
    if let Some(cell) = table.total.iter_mut().flatten().nth(6) {
        *cell = all;
    }
    table
}

fn lots(index: &Index<'_>) -> Table {
    let rows = index
        .lots
        .iter()
        .enumerate()
        .map(|(row, (lot, material))| {
            let mut totals = Totals::default();
            for line in index.masses.iter().filter(|l| l.lot == row) {
                if let Some((_, counted)) = index.substances.get(line.substance) {
                    totals.add(&[(counted.clone(), Mass(line.one * line.count))]);
                }
            }
            let of_lot = index.uses.iter().filter(|u| u.lot == *lot);
            let (count, volume) = of_lot.fold((0, 0), |(uses, all), u| {
                (uses + u.count, all + u.volume * u.count)
            });
            let rows = index.uses.len();
            let of_uses = |column| {
                sum_ifs(
                    &range(USES, column, rows),
                    &[(range(USES, in_uses::LOT, rows), here(0, row))],
                )
            };
            let mut cells = vec![
                Index::no(row),
                Index::no(Index::number(&index.materials, &material.code)),
                Cell::text(&material.code),
                Cell::text(&material.sheet),
                Cell::text(lot),
                Cell::made(of_uses(in_uses::COUNT), count),
                Cell::made(of_uses(in_uses::ALL), volume),
            ];
            cells.extend(three(index, &[(in_masses::LOT, here(0, row))], &totals));
            cells
        })
        .collect();
    let mut table = Table {
        key: "by-lot",
        title: LOTS,
        says: Vec::new(),
        columns: vec![
            column("lot_no", "Lot no.", Kind::Number),
            column("material_no", "Material no.", Kind::Number),
            column("material", "Material", Kind::Text),
            column("sheet", "Data sheet", Kind::Text),
            column("lot", "Lot", Kind::Text),
            column("uses", "Uses", Kind::Count),
            column("volume_ul", "Volume used, uL", Kind::Count),
            column("voc_mg", "VOC, mg", Kind::Count),
            column("hap_mg", "HAP total, mg", Kind::Count),
            column("exempt_mg", "Exempt, mg", Kind::Count),
        ],
        rows,
        total: None,
    };
    table.sum_up(&[in_lots::USES, in_lots::VOLUME, 7, 8, 9]);
    table
}

fn substances(index: &Index<'_>) -> Table {
    let rows = index
        .substances
        .iter()
        .enumerate()
        .map(|(row, (sheet, counted))| {
            let material = index.sheets.get(*sheet);
            let code = material.map_or("", |m| &m.code);
            let revision = material.map_or("", |m| &m.sheet);
            let stated = material.and_then(|m| m.parts.iter().find(|p| p.cas == counted.cas));
            let kept = index.papers.sums.substances.iter().find(|s| {
                s.material == code && s.sheet == revision && s.substance.cas == counted.cas
            });
            let flag = |on: bool| Cell::int(i64::from(on));
            let c = counted.counts;
            vec![
                Index::no(row),
                Index::no(*sheet),
                Cell::text(code),
                Cell::text(revision),
                Cell::text(&counted.cas),
                Cell::text(&counted.name),
                stated.map_or(Cell::None, |p| Cell::int(p.low.0)),
                stated.map_or(Cell::None, |p| Cell::int(p.high.0)),
                Cell::int(counted.share.0),
                flag(!c.exempt && !c.water),
                flag(c.hap),
                flag(c.exempt),
                Cell::int(i64::try_from(index.figure_of(&counted.cas)).unwrap_or(0)),
                Cell::made(
                    index.mass_sum(&[(in_masses::SUBSTANCE, here(0, row))]),
                    kept.map_or(0, |s| s.mass.0),
                ),
            ]
        })
        .collect();
    let mut table = Table {
        key: "by-substance",
        title: SUBSTANCES,
        says: vec![
            "a range counts at its upper end, exempt substances and water at their lower end; what is volatile and not named counts as VOC".to_owned(),
            "1 in a column: the data sheet, as it was adopted, states that the substance counts there".to_owned(),
        ],
        columns: vec![
            column("substance_no", "Substance no.", Kind::Number),
            column("sheet_no", "Sheet no.", Kind::Number),
            column("material", "Material", Kind::Text),
            column("sheet", "Data sheet", Kind::Text),
            column("cas", "CAS number", Kind::Text),
            column("substance", "Substance", Kind::Text),
            column("low_ppm", "Stated from, ppm", Kind::Count),
            column("high_ppm", "Stated to, ppm", Kind::Count),
            column("share_ppm", "Counted, ppm by mass", Kind::Count),
            column("voc", "VOC", Kind::Number),
            column("hap", "HAP", Kind::Number),
            column("exempt", "Exempt", Kind::Number),
            column("figure_no", "Figure no.", Kind::Number),
            column("mass_mg", "Mass, mg", Kind::Count),
        ],
        rows,
        total: None,
    };
    table.sum_up(&[13]);
    table
}

fn masses(index: &Index<'_>) -> Table {
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

fn uses(index: &Index<'_>, ledger: &Ledger) -> Table {
    let calendar = ledger.calendar();
    let grouped = index.grouped;
    let numbers: BTreeMap<&str, usize> = index
        .lots
        .iter()
        .enumerate()
        .map(|(n, (lot, _))| (lot.as_str(), n))
        .collect();
    let rows = index
        .uses
        .iter()
        .enumerate()
        .map(|(row, used)| {
            let lot = numbers.get(used.lot.as_str()).copied().unwrap_or(0);
            let material = index.lots.get(lot).map_or("", |(_, m)| &m.code);
            let single = |of: &dyn Fn(&UseRow) -> Cell| used.single.as_ref().map_or(Cell::None, of);
            vec![
                month(&used.day.month()),
                Index::no(lot),
                Cell::text(&used.lot),
                Cell::text(material),
                Cell::text(used.day.date().to_string()),
                single(&|u| Cell::int(u.entry)),
                single(&|u| Cell::text(calendar.full(u.ended))),
                single(&|u| Cell::text(&u.person)),
                single(&|u| u.serial.as_ref().map_or(Cell::None, Cell::text)),
                used.mix.map_or(Cell::None, |m| Cell::int(i64::from(m))),
                Cell::int(used.volume),
                Cell::int(used.count),
                Cell::made(
                    format!(
                        "={}*{}",
                        here(in_uses::VOLUME, row),
                        here(in_uses::COUNT, row)
                    ),
                    used.volume * used.count,
                ),
                single(&|u| Cell::int(u.action)),
            ]
        })
        .collect();
    let mut table = Table {
        key: "uses",
        title: USES,
        says: vec![if grouped {
            "too many for one sheet: uses of a day with the same lot, mix and volume stand on one line; each by itself is in the record's export".to_owned()
        } else {
            "every logged use that counts, one line for each entry and lot; what was taken back is not in it".to_owned()
        }],
        columns: vec![
            column("month", "Month", Kind::Month),
            column("lot_no", "Lot no.", Kind::Number),
            column("lot", "Lot", Kind::Text),
            column("material", "Material", Kind::Text),
            column("day", "Production day", Kind::Text),
            column("entry", "Entry", Kind::Number),
            column("happened", "Ended", Kind::Text),
            column("person", "Who", Kind::Text),
            column("piece", "Piece", Kind::Text),
            column("mix", "Mix", Kind::Number),
            column("volume_ul", "Volume of one use, uL", Kind::Count),
            column("uses", "Uses", Kind::Count),
            column("all_ul", "Volume of all, uL", Kind::Count),
            column("action", "Action", Kind::Number),
        ],
        rows,
        total: None,
    };
    table.sum_up(&[in_uses::COUNT, in_uses::ALL]);
    table
}

fn sheets(index: &Index<'_>, ledger: &Ledger) -> Result<Table, LedgerError> {
    let calendar = ledger.calendar();
    let adopted = ledger.materials()?;
    let mut rows = Vec::new();
    for (n, m) in index.sheets.iter().enumerate() {
        let row = adopted
            .iter()
            .find(|row| row.code == m.code && row.revision == m.sheet);
        let entry = row.map(|row| ledger.entry(row.entry)).transpose()?;
        rows.push(vec![
            Index::no(n),
            Cell::text(&m.code),
            Cell::text(&m.name),
            Cell::text(m.kind.word()),
            Cell::text(&m.sheet),
            Cell::text(m.sheet_date.to_string()),
            Cell::int(m.density.0),
            Cell::int(m.weight_solids.0),
            Cell::int(m.volume_solids.0),
            entry.as_ref().map_or(Cell::None, |e| Cell::text(&e.person)),
            entry
                .as_ref()
                .map_or(Cell::None, |e| Cell::text(calendar.full(e.written))),
            entry.as_ref().map_or(Cell::None, |e| Cell::int(e.seq.0)),
        ]);
    }
    Ok(Table {
        key: "data-sheets",
        title: SHEETS,
        says: vec!["the figures of each data sheet as the shop adopted it; its substances stand by substance".to_owned()],
        columns: vec![
            column("sheet_no", "Sheet no.", Kind::Number),
            column("material", "Material", Kind::Text),
            column("name", "Name", Kind::Text),
            column("kind", "Kind", Kind::Text),
            column("sheet", "Data sheet", Kind::Text),
            column("sheet_date", "Date of the sheet", Kind::Text),
            column("density_mg_l", "Density, mg/L", Kind::Count),
            column("weight_solids_ppm", "Solids by mass, ppm", Kind::Count),
            column("volume_solids_ppm", "Solids by volume, ppm", Kind::Count),
            column("adopted_by", "Adopted by", Kind::Text),
            column("adopted", "Adopted", Kind::Text),
            column("entry", "Entry", Kind::Number),
        ],
        rows,
        total: None,
    })
}

fn limits(papers: &Papers, ledger: &Ledger) -> Table {
    let calendar = ledger.calendar();
    let solvent = |l: &CeilingRow| [false, true].iter().any(|r| book::period(*r) == l.scope);
    let rows = papers
        .limits
        .iter()
        .map(|l| {
            vec![
                Cell::text(&l.what),
                Cell::text(&l.scope),
                if solvent(l) {
                    Cell::int(l.value)
                } else {
                    Cell::None
                },
                Cell::text(&l.typed),
                Cell::text(&l.basis),
                Cell::text(&l.source),
                Cell::text(&l.person),
                Cell::text(calendar.full(l.since)),
                Cell::int(l.entry),
            ]
        })
        .collect();
    Table {
        key: "limits",
        title: LIMITS,
        says: vec![
            "the limits that the shop entered, as they stand today; the program has none of its own".to_owned(),
        ],
        columns: vec![
            column("of", "Limit of", Kind::Text),
            column("scope", "Period or place", Kind::Text),
            column("value_mg", "Mass, mg", Kind::Count),
            column("typed", "As entered, with its unit", Kind::Text),
            column("basis", "Basis", Kind::Text),
            column("source", "Source", Kind::Text),
            column("entered_by", "Entered by", Kind::Text),
            column("since", "Since", Kind::Text),
            column("entry", "Entry", Kind::Number),
        ],
        rows,
        total: None,
    }
}

fn signatures(papers: &Papers, ledger: &Ledger) -> Table {
    let calendar = ledger.calendar();
    let mut rows = Vec::new();
    for now in &papers.signed {
        for s in &now.signatures {
            rows.push(vec![
                month(&now.sums.month),
                Cell::int(i64::from(s.signed.revision)),
                Cell::text(&s.person),
                Cell::text(calendar.full(s.at)),
                Cell::int(s.signed.actions),
                Cell::text(&s.signed.head),
            ]);
        }
    }
    Table {
        key: "signatures",
        title: "Signatures",
        says: vec![
            "this paper is made from the log as it stands; the page that was signed is kept to the letter and printed by \"hangtime month\"".to_owned(),
        ],
        columns: vec![
            column("month", "Month", Kind::Month),
            column("revision", "Revision", Kind::Number),
            column("signed_by", "Signed by", Kind::Text),
            column("signed", "Signed", Kind::Text),
            column("actions", "Newest action then", Kind::Number),
            column("head", "Head of the record then", Kind::Text),
        ],
        rows,
        total: None,
    }
}

fn changes(papers: &Papers) -> Table {
    let mut rows = Vec::new();
    for now in &papers.signed {
        for c in &now.changes {
            let row = rows.len();
            let (cas, name) = c
                .substance
                .as_ref()
                .map_or((Cell::None, "volume, uL"), |(cas, name)| {
                    (Cell::text(cas), name.as_str())
                });
            rows.push(vec![
                month(&now.sums.month),
                Cell::text(&c.material),
                c.sheet.as_ref().map_or(Cell::None, Cell::text),
                cas,
                Cell::text(name),
                Cell::int(c.was),
                Cell::int(c.is),
                Cell::made(format!("={}-{}", here(6, row), here(5, row)), c.is - c.was),
            ]);
        }
    }
    Table {
        key: "changes",
        title: "Changes",
        says: vec![
            "what differs today from the newest signature, in mg where it is a substance"
                .to_owned(),
        ],
        columns: vec![
            column("month", "Month", Kind::Month),
            column("material", "Material", Kind::Text),
            column("sheet", "Data sheet", Kind::Text),
            column("cas", "CAS number", Kind::Text),
            column("what", "What", Kind::Text),
            column("was", "Was signed", Kind::Count),
            column("is", "Is", Kind::Count),
            column("difference", "Difference", Kind::Count),
        ],
        rows,
        total: None,
    }
}

fn notes(index: &Index<'_>) -> Table {
    let papers = index.papers;
    let mut notes: Vec<(&str, String)> = Vec::new();
    if papers.head.demo {
        notes.push((
            "DEMO",
            "this record is a demo: shop, people and figures are invented".to_owned(),
        ));
    }
    notes.push(("figures", FROM_LOG_ALONE.to_owned()));
    notes.extend(papers.unknown.iter().map(|u| ("unknown", u.clone())));
    notes.push((
        "rounding",
        "mass of a substance in a use: volume in uL x density in mg/L x share in ppm / 10^12, rounded half to even once for each use, lot and substance; every total is a sum of those (house rule, arithmetic)".to_owned(),
    ));
    for id in ["substance-mass", "solvent-sum"] {
        if let Some(sheet) = registry::find(id) {
            notes.push(("source", format!("worksheet {id}: {}", sheet.source)));
        }
    }
    notes.push((
        "basis",
        format!("limits are held against: {BASIS}; which rule sets a limit stands with its source"),
    ));
    notes.push((
        "classes",
        "what counts as VOC, HAP or exempt is what each data sheet states, as it was adopted; the rules that bind the shop are the air agency's".to_owned(),
    ));
    notes.push((
        "formulas",
        "in the workbook every total is a formula that leads to the uses and the data sheets; the values that stand there before it is calculated are the ledger's".to_owned(),
    ));
    if index.grouped {
        notes.push((
            "uses",
            "uses of a day with the same lot, mix and volume stand on one line".to_owned(),
        ));
    }
    if let Period::Year(year) = &papers.period {
        notes.push((
            "year",
            format!("months of {year} that have begun; the twelve months end with its last"),
        ));
    }
    notes.push((
        "who decides",
        crate::shop::cautions::STANDING_LINE.to_owned(),
    ));
    Table {
        key: "notes",
        title: "Notes",
        says: Vec::new(),
        columns: vec![
            column("about", "About", Kind::Text),
            column("note", "Note", Kind::Text),
        ],
        rows: notes
            .into_iter()
            .map(|(about, note)| vec![Cell::text(about), Cell::text(note)])
            .collect(),
        total: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Amount, Density, Share};
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
