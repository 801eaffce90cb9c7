//! The tables of a month or year: figures, months, materials, lots, substances, roundings, uses, sheets, limits.
//!
//! *Invariants*: every total has a formula that leads to the uses and the figures of the data sheets; lines refer to
//! each other by our own numbers, never by a text, which a spreadsheet could take for a pattern. A mass is rounded
//! half-to-even for each use, lot and substance, in steps of which none leaves the 53 bits of a spreadsheet's number.
//!
//! *Not here*: how a table looks in a file.

mod basis;
mod masses;

use basis::{changes, limits, notes, sheets, signatures};
use masses::masses;

use super::Papers;
use super::table::{Cell, Figure, Kind, Table, cell, column, here, month, range, sum_ifs};
use crate::ledger::{CeilingRow, Ledger, LedgerError, Months, UseRow, UsedGroup};
use crate::reports::book::{BASIS, Of};
use crate::reports::sums::FROM_LOG_ALONE;
use crate::shop::calendar::Day;
use crate::shop::material::{Counted, Material, Totals, mass_of};
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
                // The months that are listed are those of the twelve that have begun, or all of them.
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
