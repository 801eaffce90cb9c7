//! What leaves the house for a person who audits: workbook, CSV and page of a month or year, and the folder of an
//! inspection.

use super::tags::Sheet;
use super::{Answer, Desk, Shop, Trouble, write_new};
use crate::ledger::LedgerError;
use crate::reports::paper::NewFolder;
use crate::reports::papers::{MOST_ROWS, Papers, Period, inspection, page, papers, workbook, year};
use serde_json::{Value, json};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Files that a month or a year is written into.
#[derive(Debug, clap::Args)]
pub(super) struct Files {
    /// Writes a workbook with live formulas, a file that ends in .xlsx.
    #[arg(long, value_name = "FILE")]
    workbook: Option<PathBuf>,
    /// Writes its tables as CSV into a new folder.
    #[arg(long, value_name = "FOLDER")]
    csv: Option<PathBuf>,
    /// Writes a page to print with charts, a file that ends in .html.
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,
    /// Paper of the printer.
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    paper: Sheet,
}

impl Files {
    /// Whether any is asked for.
    pub(super) const fn any(&self) -> bool {
        self.workbook.is_some() || self.csv.is_some() || self.page.is_some()
    }

    /// Writes those that are asked for and prints the figures.
    pub(super) fn write(&self, desk: &mut Desk<'_>, shop: &Shop, period: &Period) -> Answer {
        for (file, end) in [(&self.workbook, "xlsx"), (&self.page, "html")] {
            let Some(file) = file else { continue };
            if file.extension().and_then(|e| e.to_str()) != Some(end) {
                return Err(Trouble::Input(format!(
                    "file {} does not end in .{end}; write a name that does",
                    file.display()
                )));
            }
        }
        let made = papers(&shop.ledger, period, (shop.now, shop.present()), MOST_ROWS)?;
        let mut written = Vec::new();
        if let Some(file) = &self.workbook {
            let bytes = workbook::workbook(&made, self.paper.paper()).map_err(Trouble::Input)?;
            write_new(file, bytes)?;
            written.push(file);
        }
        if let Some(folder) = &self.csv {
            csv(&made, folder).map_err(|e| of_folder(folder, e))?;
            written.push(folder);
        }
        if let Some(file) = &self.page {
            let text = page::page(&made, &shop.calendar, desk.system(), self.paper.paper());
            write_new(file, text)?;
            written.push(file);
        }
        let mut lines = made.lines(desk.system());
        lines.extend(written.iter().map(|f| format!("written: {}", f.display())));
        let mut value = made.json();
        if let Some(map) = value.as_object_mut() {
            map.insert("written".to_owned(), json!(written));
        }
        desk.print(&value, &lines)?;
        Ok(u8::from(made.calls_for_attention()))
    }
}

fn csv(made: &Papers, folder: &Path) -> std::io::Result<()> {
    let mut new = NewFolder::begin(folder)?;
    for (name, bytes) in made.csv()? {
        new.put(&name, bytes)?;
    }
    new.end()?;
    Ok(())
}

// A folder of that name is somebody's, and one that cannot be written names the field.
fn of_folder(folder: &Path, e: std::io::Error) -> Trouble {
    let refused = |why: String| Trouble::Input(format!("folder {} {why}", folder.display()));
    match e.kind() {
        ErrorKind::AlreadyExists => {
            refused("exists already and is not overwritten; give another folder".to_owned())
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => e.into(),
        _ => refused(format!("cannot be written: {e}")),
    }
}

/// A year's solvent from the log, month by month, as a workbook, CSV or a page.
#[derive(Debug, clap::Args)]
pub(super) struct Year {
    /// The year, as 2026.
    #[arg(value_name = "YEAR")]
    which: String,
    #[command(flatten)]
    files: Files,
}

impl Year {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let present = shop.calendar.day(shop.now).month();
        let period = year(&self.which, &present).map_err(Trouble::Input)?;
        self.files.write(desk, &shop, &period)
    }
}

/// Write everything of some months into a new folder, for a person who inspects.
#[derive(Debug, clap::Args)]
pub(super) struct Inspection {
    /// The first month, as 2026-01.
    #[arg(long, value_name = "MONTH")]
    from: String,
    /// The last month; the first, if left out.
    #[arg(long, value_name = "MONTH")]
    to: Option<String>,
    /// Paper of the printer.
    #[arg(long, value_name = "PAPER", default_value = "a4")]
    paper: Sheet,
    /// The folder to make; it must not exist.
    folder: PathBuf,
}

impl Inspection {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let to = self.to.as_ref().unwrap_or(&self.from);
        for month in [&self.from, to] {
            super::months::begun(desk, month)?;
        }
        let shop = desk.shop()?;
        let asked = inspection::Asked {
            from: self.from.clone(),
            to: to.clone(),
            at: shop.now,
            made: shop.present(),
            system: desk.system(),
            paper: self.paper.paper(),
        };
        let made = inspection::write(&shop.ledger, &asked, &self.folder).map_err(|e| match e {
            inspection::Fault::Ledger(e) => match e {
                LedgerError::File(_, e) => of_folder(&self.folder, e),
                e => e.into(),
            },
            inspection::Fault::Io(e) => of_folder(&self.folder, e),
            inspection::Fault::Other(e) => Trouble::System(e),
        })?;
        let lines = vec![
            format!(
                "written to {}: {} files, months {} to {}, head {}",
                self.folder.display(),
                made.files.len(),
                made.from,
                made.to,
                made.head
            ),
            "read README.txt in it first".to_owned(),
        ];
        let value: Value =
            serde_json::to_value(&made).map_err(|e| Trouble::System(e.to_string()))?;
        desk.print(&value, &lines)?;
        Ok(0)
    }
}
