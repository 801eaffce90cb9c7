//! What the figures rest on: data sheets, limits, signatures, what differs since, and notes.
//!
//! *Invariants*: a limit stands with its source, the person who entered it and since when.
//!
//! *Not here*: the substances of a data sheet (they stand with their masses).

use super::{Index, LIMITS, SHEETS};
use crate::ledger::{CeilingRow, Ledger, LedgerError};
use crate::reports::book::{self, BASIS};
use crate::reports::papers::table::{Cell, Kind, Table, column, here, month};
use crate::reports::papers::{Papers, Period};
use crate::reports::sums::FROM_LOG_ALONE;
use crate::science::registry;
use crate::shop::words::Word;

pub(super) fn sheets(index: &Index<'_>, ledger: &Ledger) -> Result<Table, LedgerError> {
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

pub(super) fn limits(papers: &Papers, ledger: &Ledger) -> Table {
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

pub(super) fn signatures(papers: &Papers, ledger: &Ledger) -> Table {
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

pub(super) fn changes(papers: &Papers) -> Table {
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

pub(super) fn notes(index: &Index<'_>) -> Table {
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
