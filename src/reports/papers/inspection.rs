//! Everything of some months in one folder, for a person who inspects: months as signed and as they stand, data sheets,
//! recipes, limits, checks, surveys, deviations with their answers, cautions, and the whole record.
//!
//! *Invariants*: all of it is one state of the record; the folder gets its name when all of it is on the disk, and takes
//! nobody's place. A signed page is in it to the letter. No name of a file comes from outside.
//!
//! *Not here*: any word on what an inspector should make of it.

use super::table::{Cell, Kind, Table, column};
use super::{MOST_ROWS, Papers, Period, page, papers, workbook};
use crate::ledger::{
    BoothSurvey, EntryRow, Ledger, LedgerError, ManifestFile, Months, SheetRow, sha256_hex,
};
use crate::reports::paper::NewFolder;
use crate::reports::tags::Paper;
use crate::reports::{air, entries, sums};
use crate::shop::calendar::Calendar;
use crate::shop::cautions::STANDING_LINE;
use crate::shop::record::{ShopFact, What};
use crate::shop::text::{shown, shown_lines};
use crate::units::{Amount, Moment, System};
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::Path;

/// The page of cautions as the project has it.
const CAUTIONS: &str = include_str!("../../../SAFETY.md");
const FORMAT: &str = "hangtime inspection 1";
const MANIFEST: &str = "manifest.json";

/// What is asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// The first month.
    pub from: String,
    /// The last one.
    pub to: String,
    /// The moment that it is about.
    pub at: Moment,
    /// The moment at which it is made.
    pub made: Moment,
    /// Units of the pages.
    pub system: System,
    /// Paper of the pages.
    pub paper: Paper,
}

/// What the folder holds.
#[derive(Debug, Clone, Serialize)]
pub struct Manifest {
    /// Form of the folder.
    pub format: &'static str,
    /// The shop.
    pub shop: String,
    /// Whether it is a demo.
    pub demo: bool,
    /// The first month.
    pub from: String,
    /// The last month.
    pub to: String,
    /// When it was made, RFC 3339.
    pub made: String,
    /// Number of the newest action.
    pub head_action: i64,
    /// Hash of the newest action.
    pub head: String,
    /// Every other file, with its length and SHA-256.
    pub files: Vec<ManifestFile>,
    /// Who decides.
    pub standing_line: &'static str,
}

/// What can go wrong.
#[derive(Debug, thiserror::Error)]
pub enum Fault {
    /// The ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// The disk.
    #[error("{0}")]
    Io(#[from] std::io::Error),
    /// Anything else.
    #[error("{0}")]
    Other(String),
}

/// Writes the folder.
pub fn write(ledger: &Ledger, asked: &Asked, folder: &Path) -> Result<Manifest, Fault> {
    let mut new = NewFolder::begin(folder)?;
    let head = ledger.in_one_view(|| fill(ledger, asked, &mut new))?;
    let calendar = ledger.calendar();
    let made = calendar.rfc3339(asked.made);
    // The record is read by itself, so that it is the whole one; it must be the same.
    let record = ledger.export(&new.path("record"), &made)?;
    if (record.head_action, &record.head) != (head.0, &head.1) {
        return Err(LedgerError::Input(
            "another terminal wrote while the folder was filled; nothing was left of it. Write it again".to_owned(),
        )
        .into());
    }
    let manifest_of_record = std::fs::read(new.path("record").join(MANIFEST))?;
    new.also(record.files.into_iter().map(|f| ManifestFile {
        name: format!("record/{}", f.name),
        ..f
    }));
    new.also([ManifestFile {
        name: format!("record/{MANIFEST}"),
        bytes: u64::try_from(manifest_of_record.len()).unwrap_or(u64::MAX),
        sha256: sha256_hex(&manifest_of_record),
    }]);
    new.put("README.txt", readme(ledger, asked, &head))?;
    let mut files = new.files().to_vec();
    files.sort_by(|a, b| a.name.cmp(&b.name));
    let manifest = Manifest {
        format: FORMAT,
        shop: ledger.name().to_owned(),
        demo: ledger.demo(),
        from: asked.from.clone(),
        to: asked.to.clone(),
        made,
        head_action: head.0,
        head: head.1,
        files,
        standing_line: STANDING_LINE,
    };
    let text = serde_json::to_string_pretty(&manifest).map_err(|e| Fault::Other(e.to_string()))?;
    new.put(MANIFEST, format!("{text}\n"))?;
    new.end()?;
    Ok(manifest)
}

fn fill(ledger: &Ledger, asked: &Asked, new: &mut NewFolder) -> Result<(i64, String), Fault> {
    let months = Months::between(&asked.from, &asked.to)?;
    let calendar = ledger.calendar();
    let mut newest: Option<Papers> = None;
    for month in months.list() {
        let made = papers(
            ledger,
            &Period::Month(month.clone()),
            (asked.at, asked.made),
            MOST_ROWS,
        )?;
        of_month(&made, asked, &calendar, new)?;
        newest = Some(made);
    }
    if let Some(limits) = newest.as_ref().and_then(|p| p.table("limits")) {
        new.put("limits.csv", limits.csv()?)?;
    }
    let entered = ledger.limits_entered()?;
    new.put(
        "limits-entered.csv",
        entry_table(&entered, &calendar, |_| true).csv()?,
    )?;
    let until = months.last().to_owned();
    texts(ledger, &until, ("data-sheets", ledger.materials()?), new)?;
    texts(ledger, &until, ("recipes", ledger.recipes()?), new)?;
    let list = ledger.entries_of(&months)?;
    new.put(
        "entries.csv",
        entry_table(&list, &calendar, |_| true).csv()?,
    )?;
    let is_check = |row: &EntryRow| {
        matches!(
            &row.what,
            What::Shop(ShopFact::Checked { .. } | ShopFact::Outage { .. })
        )
    };
    new.put("checks.csv", entry_table(&list, &calendar, is_check).csv()?)?;
    new.put("surveys.csv", surveys(ledger, &list, &calendar)?.csv()?)?;
    new.put(
        "deviations.csv",
        deviations(ledger, &months, &calendar)?.csv()?,
    )?;
    new.put("cautions.md", CAUTIONS)?;
    Ok(ledger.head()?)
}

fn of_month(
    made: &Papers,
    asked: &Asked,
    calendar: &Calendar,
    new: &mut NewFolder,
) -> Result<(), Fault> {
    let month = made.period.name().to_owned();
    let file = |end: &str| format!("months/{month}/{month}{end}");
    let book = workbook::workbook(made, asked.paper).map_err(Fault::Other)?;
    new.put(&file(".xlsx"), book)?;
    new.put(
        &file(".html"),
        page::page(made, calendar, asked.system, asked.paper),
    )?;
    let demo = if made.head.demo { "DEMO\n" } else { "" };
    let now = &made.book.now;
    for s in &now.signatures {
        let name = format!("-signed-{}", s.signed.revision);
        new.put(&file(&format!("{name}.txt")), &s.signed.text)?;
        new.put(&file(&format!("{name}.json")), &s.signed.json)?;
    }
    // As it stands today; where it is signed and nothing has changed, the signed page says the same.
    let lines = shown_lines(&sums::lines(&now.sums, asked.system).join("\n"));
    let open = crate::reports::months::open_revision(now, calendar, asked.system).join("\n");
    new.put(
        &file("-by-the-log.txt"),
        format!("{demo}{lines}\n{}\n", shown_lines(&open)),
    )?;
    let json =
        serde_json::to_string_pretty(&made.json()).map_err(|e| Fault::Other(e.to_string()))?;
    new.put(&file("-by-the-log.json"), json)?;
    for (name, bytes) in made.csv()? {
        new.put(&format!("months/{month}/csv/{name}"), bytes)?;
    }
    Ok(())
}

// Adopted texts under their entry's number, and a list of them.
fn texts(
    ledger: &Ledger,
    until: &str,
    (folder, rows): (&'static str, Vec<SheetRow>),
    new: &mut NewFolder,
) -> Result<(), Fault> {
    let calendar = ledger.calendar();
    let mut list = Vec::new();
    for row in rows {
        let entry = ledger.entry(row.entry)?;
        if entry.day.month().as_str() > until {
            continue;
        }
        let file = format!("{folder}/entry-{}.toml", row.entry);
        new.put(&file, &row.text)?;
        list.push(vec![
            Cell::text(row.code),
            Cell::text(row.revision),
            Cell::text(&entry.person),
            Cell::text(calendar.full(entry.written)),
            Cell::int(row.entry),
            Cell::text(file),
        ]);
    }
    let table = plain(
        &["code", "revision", "adopted_by", "adopted", "entry", "file"],
        list,
    );
    new.put(&format!("{folder}.csv"), table.csv()?)?;
    Ok(())
}

// A table that is only written as CSV.
fn plain(columns: &[&str], rows: Vec<Vec<Cell>>) -> Table {
    Table {
        key: "",
        title: "",
        says: Vec::new(),
        columns: columns.iter().map(|c| column(c, c, Kind::Text)).collect(),
        rows,
        total: None,
    }
}

fn entry_table(
    list: &[EntryRow],
    calendar: &Calendar,
    wanted: impl Fn(&EntryRow) -> bool,
) -> Table {
    let rows = list
        .iter()
        .filter(|row| wanted(row))
        .map(|row| {
            let seq =
                |e: Option<crate::shop::record::EntrySeq>| e.map_or(Cell::None, |e| Cell::int(e.0));
            vec![
                Cell::int(row.seq.0),
                Cell::int(row.action),
                Cell::text(row.day.date().to_string()),
                Cell::text(calendar.rfc3339(row.began)),
                Cell::text(calendar.rfc3339(row.ended)),
                Cell::text(calendar.rfc3339(row.written)),
                Cell::text(&row.person),
                Cell::text(&row.writer),
                Cell::text(&row.station),
                row.piece
                    .as_ref()
                    .map_or(Cell::None, |(_, s)| Cell::text(s)),
                Cell::text(&row.surface),
                Cell::text(entries::words(&row.what, System::Metric)),
                seq(row.corrects),
                seq(row.voided_by),
            ]
        })
        .collect();
    plain(
        &[
            "entry",
            "action",
            "day",
            "began",
            "ended",
            "written",
            "who_did",
            "who_wrote",
            "station",
            "piece",
            "surface",
            "what",
            "corrects",
            "taken_back_by",
        ],
        rows,
    )
}

fn surveys(ledger: &Ledger, list: &[EntryRow], calendar: &Calendar) -> Result<Table, LedgerError> {
    let limits = ledger.ceilings()?;
    let mut rows = Vec::new();
    for row in list {
        let What::Shop(ShopFact::Survey {
            booth,
            readings,
            wanted,
            instrument,
        }) = &row.what
        else {
            continue;
        };
        let survey = BoothSurvey {
            booth: booth.clone(),
            at: row.ended,
            readings: readings.clone(),
            wanted: *wanted,
            instrument: instrument.clone(),
            entry: row.seq.0,
        };
        let all: Vec<String> = readings.iter().map(|r| r.text(0)).collect();
        rows.push(vec![
            Cell::int(row.seq.0),
            Cell::text(calendar.rfc3339(row.ended)),
            Cell::text(&row.person),
            Cell::text(booth),
            Cell::text(all.join(" ")),
            Cell::int(i64::from(*wanted)),
            Cell::text(instrument),
            Cell::text(air::held(&survey, &limits, calendar).words),
            row.voided_by.map_or(Cell::None, |e| Cell::int(e.0)),
        ]);
    }
    Ok(plain(
        &[
            "entry",
            "at",
            "who",
            "booth",
            "readings",
            "readings_wanted",
            "instrument",
            "held_against_the_limit_of_today",
            "taken_back_by",
        ],
        rows,
    ))
}

fn deviations(ledger: &Ledger, months: &Months, calendar: &Calendar) -> Result<Table, LedgerError> {
    let mut rows = Vec::new();
    for ground in ledger.deviation_grounds()? {
        if !months.list().contains(&calendar.day(ground.at).month()) {
            continue;
        }
        let d = &ground.row;
        let answer = d.answer.map(|e| ledger.entry(e)).transpose()?;
        let said = answer.as_ref();
        rows.push(vec![
            Cell::int(d.entry.0),
            Cell::text(calendar.rfc3339(ground.at)),
            Cell::text(&ground.person),
            Cell::text(&d.serial),
            Cell::text(&ground.recipe),
            ground.room.as_ref().map_or(Cell::None, Cell::text),
            Cell::text(&d.rule),
            Cell::text(&d.text),
            Cell::text(d.reason.as_deref().unwrap_or("not given yet")),
            Cell::text(match (d.moot, d.answer) {
                (Some(_), _) => "moot",
                (None, Some(_)) => "answered",
                (None, None) => "open",
            }),
            said.map_or(Cell::None, |e| {
                Cell::text(entries::words(&e.what, System::Metric))
            }),
            said.map_or(Cell::None, |e| Cell::text(&e.person)),
            said.map_or(Cell::None, |e| Cell::text(calendar.rfc3339(e.written))),
            d.answer.map_or(Cell::None, Cell::int),
            d.moot.map_or(Cell::None, Cell::int),
        ]);
    }
    Ok(plain(
        &[
            "entry",
            "began",
            "who",
            "piece",
            "recipe",
            "room",
            "rule",
            "what",
            "reason",
            "state",
            "answer",
            "answered_by",
            "answered",
            "answer_entry",
            "moot_since_action",
        ],
        rows,
    ))
}

fn readme(ledger: &Ledger, asked: &Asked, head: &(i64, String)) -> String {
    let demo = if ledger.demo() {
        "DEMO: shop, people and figures are invented.\n\n"
    } else {
        ""
    };
    let said: BTreeMap<&str, &str> = [
        ("months/YYYY-MM/*.html", "the month as a page to print: figures against the limits that the shop entered, two charts"),
        ("months/YYYY-MM/*.xlsx", "the same as a workbook; every total is a formula that leads to the single uses"),
        ("months/YYYY-MM/csv/", "the tables of the workbook as CSV"),
        ("months/YYYY-MM/*-signed-N.txt, .json", "the page as it was signed, to the letter; N is the revision. No such file: never signed"),
        ("months/YYYY-MM/*-by-the-log.txt, .json", "the month as it follows from the log today, and what differs from what was signed"),
        ("data-sheets.csv, data-sheets/", "the figures of each data sheet as the shop adopted it, until the end of these months"),
        ("recipes.csv, recipes/", "the same of each recipe revision"),
        ("limits-entered.csv", "every limit that was ever entered, in order: what held before the one of today"),
        ("limits.csv", "the limits that the shop entered, with source, person and date, as they stand today"),
        ("checks.csv", "booth checks and stops of the exhaust"),
        ("surveys.csv", "air speeds over the booths' open faces, held against the limit of today"),
        ("deviations.csv", "what was done outside its recipe, the reason given and the supervisor's answer"),
        ("entries.csv", "every entry of these months: who, what, when it happened and when it was written"),
        ("cautions.md", "the cautions that the program shows, with their sources and whom to ask"),
        ("record/", "the whole record from its first day; \"hangtime import record --ledger NEW\" reads it back"),
        ("manifest.json", "every file with its length and SHA-256; \"sha256sum FILE\" computes it again"),
    ]
    .into_iter()
    .collect();
    let mut out = format!(
        "{demo}{}\nmonths {} to {}, made {}\nhead of the record: action {}, {}\n\n{STANDING_LINE}\n\n",
        shown(ledger.name()),
        asked.from,
        asked.to,
        ledger.calendar().full(asked.made),
        head.0,
        head.1
    );
    out.push_str("What is in this folder\n\n");
    for (name, what) in said {
        out.push_str(&format!("{name}\n    {what}\n"));
    }
    out.push_str(
        "\nHow a figure was made: open the workbook of its month, sheet Summary, and follow the formula: Months, Masses, \
         Uses.\nAn entry's number leads to record/entries.csv, its action to record/actions.csv.\n\n\
         What this folder cannot show: what nobody logged. Figures are from logged coats; clean-up, unlogged thinner and \
         stock counts are not in them.\nThe hashes show that a file was changed after it was made; whether the record was \
         rewritten before, only a head\nthat was kept elsewhere shows.\n",
    );
    out
}
