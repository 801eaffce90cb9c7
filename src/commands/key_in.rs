//! Forms that were written on during a power cut, keyed in when the ledger can be reached again.

use super::{Answer, Desk, Shop, Trouble, list_rows, read_file, talk};
use crate::feeds::form_csv::{self, Lines};
use crate::ledger::{Keyed, KeyedDone};
use crate::shop::text::shown;
use serde_json::{Value, json};
use std::io::BufRead as _;
use std::path::PathBuf;

/// Key in forms that were written on while the ledger could not be reached.
#[derive(Debug, clap::Args)]
pub(super) struct KeyIn {
    /// A list as CSV with the columns of the forms, one line a deed: all of it is saved, or nothing. Left out, lines are
    /// read one by one from standard input, the header first, and each is saved by itself.
    file: Option<PathBuf>,
    /// Say what would be saved; save nothing.
    #[arg(long)]
    preview: bool,
}

impl KeyIn {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let writer = desk.who(None)?.writer;
        let rooms = shop.ledger.rooms()?;
        let station = desk.options.station.clone();
        let calendar = shop.calendar;
        let reading = |present| form_csv::Desk {
            calendar: &calendar,
            present,
            writer: &writer,
            station: &station,
            rooms: &rooms,
        };
        let Some(file) = &self.file else {
            return self.lines(desk, &mut shop, &reading);
        };
        let name = file.display().to_string();
        let rows = form_csv::read(&read_file(file)?, &reading(shop.present()))
            .map_err(|f| Trouble::Rows(name.clone(), f))?;
        let done = self
            .save(desk, &mut shop, &rows)?
            .map_err(|f| Trouble::Rows(name.clone(), f))?;
        let again = done.iter().filter(|d| d.again).count();
        let new = done.len() - again;
        let lead = if self.preview { "would save" } else { "saved" };
        let mut lines = vec![format!(
            "{name}: {lead} {new} lines, {again} keyed in before"
        )];
        lines.extend(done.iter().flat_map(|d| self.words(d)));
        let value = json!({
            "saved": !self.preview, "new": new, "again": again,
            "lines": done.iter().map(|d| self.value(d)).collect::<Vec<_>>(),
        });
        desk.print(&value, &lines)?;
        Ok(0)
    }

    // Line by line, as they are typed: a line that is refused leaves the others as they are.
    fn lines<'d>(
        &self,
        desk: &mut Desk<'_>,
        shop: &mut Shop,
        reading: &impl Fn(crate::units::Moment) -> form_csv::Desk<'d>,
    ) -> Answer {
        const NAME: &str = "standard input";
        let mut columns: Option<Lines> = None;
        let mut code = 0;
        for (row, text) in (1_u64..).zip(std::io::stdin().lock().lines()) {
            let text = text.map_err(|e| Trouble::Input(format!("{NAME}:{row}: {e}")))?;
            if text.trim().is_empty() {
                continue;
            }
            let Some(columns) = &columns else {
                let begun = Lines::begin(&text);
                columns = Some(begun.map_err(|f| Trouble::Rows(NAME.to_owned(), f))?);
                continue;
            };
            let read = columns.read(row, &text, &reading(shop.present()));
            let done = match read {
                Ok(keyed) => self.save(desk, shop, &[keyed])?,
                Err(fault) => Err(vec![fault]),
            };
            match done {
                Ok(done) => {
                    for d in &done {
                        desk.print(&self.value(d), &self.words(d))?;
                    }
                    desk.out.flush()?;
                }
                Err(faults) => {
                    talk(&list_rows(NAME, &faults));
                    code = 2;
                }
            }
        }
        if columns.is_none() {
            return Err(Trouble::Input(format!(
                "{NAME} is empty; its first line names the columns: {}",
                form_csv::COLUMNS.join(", ")
            )));
        }
        Ok(code)
    }

    fn save(
        &self,
        desk: &Desk<'_>,
        shop: &mut Shop,
        rows: &[Keyed],
    ) -> Result<Result<Vec<KeyedDone>, Vec<crate::ledger::RowFault>>, Trouble> {
        for keyed in rows {
            desk.note_strangers(shop, &keyed.who)?;
        }
        let stamp = shop.stamp();
        Ok(shop.ledger.key_in(rows, !self.preview, &stamp)?)
    }

    fn words(&self, d: &KeyedDone) -> Vec<String> {
        let form = format!("form {} line {}", shown(&d.form), d.line);
        let said = match (d.again, self.preview) {
            (true, _) => format!(
                "{form}: {}, action {}; nothing was added",
                d.words, d.action
            ),
            (false, true) => format!("{form}: would save: {}", d.words),
            (false, false) => format!("{form}: saved: {} (action {})", d.words, d.action),
        };
        std::iter::once(said)
            .chain(d.remarks.iter().map(|r| format!("  {r}")))
            .collect()
    }

    fn value(&self, d: &KeyedDone) -> Value {
        let action = (d.again || !self.preview).then_some(d.action);
        json!({
            "form": d.form, "line": d.line, "again": d.again, "saved": !self.preview && !d.again,
            "action": action, "says": d.words, "remarks": d.remarks,
        })
    }
}
