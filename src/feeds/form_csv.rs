//! Forms that were written on, as CSV with a header: the columns of the printed forms in any order, one line a deed.
//!
//! `form,line,deed,by,ended` are needed, and a `date` unless the times bear theirs. A deed is `coat`, `touch-up`,
//! `sanding`, `mix`, `booth check` or `defect`; a cell that does not go with its deed is refused, never passed over.

use super::pieces_csv::read_date;
use super::table::{self, Cells, Columns};
use crate::ledger::{
    DeedRequest, DeedWhat, Included, Keyed, KeyedCup, KeyedDeed, MixOrder, RowFault, Shared,
    Target, Who,
};
use crate::shop::calendar::Calendar;
use crate::shop::grit;
use crate::shop::material::Pour;
use crate::shop::record::{BoothSeen, CoatMore, Fact};
use crate::shop::text::{clean, hooks, initials, shown};
use crate::shop::words::{Defect, Reason, StepKind, Word};
use crate::units::{
    Amount, Dimension, Film, Humidity, Moment, Pressure, Temperature, Volume, find,
    read as read_number,
};

/// Columns that a list may have.
pub const COLUMNS: &[&str] = &[
    "form", "line", "deed", "rack", "hooks", "pieces", "skip", "include", "step", "mix", "lot",
    "amount", "wet", "grit", "name", "parts", "tops up", "left", "booth", "gauge", "defect",
    "place", "size", "date", "began", "ended", "by", "air", "humidity", "reason", "another",
    "note",
];
const NEEDED: &[&str] = &["form", "line", "deed", "by", "ended"];
/// Columns that go with every deed.
const ALWAYS: &[&str] = &[
    "form", "line", "deed", "date", "ended", "by", "reason", "note",
];
const ON_PIECES: &[&str] = &[
    "rack", "hooks", "pieces", "skip", "include", "began", "air", "humidity",
];

/// What the lines are read by.
#[derive(Debug, Clone, Copy)]
pub struct Desk<'a> {
    /// The shop's calendar.
    pub calendar: &'a Calendar,
    /// When they are keyed in.
    pub present: Moment,
    /// Initials of who keys them in.
    pub writer: &'a str,
    /// Where.
    pub station: &'a str,
    /// The shop's rooms.
    pub rooms: &'a [String],
}

/// Lines that come one by one, after their header.
#[derive(Debug)]
pub struct Lines(Columns);

impl Lines {
    /// Reads the header.
    ///
    /// # Errors
    /// Each column that is not known, missing, or stands twice.
    pub fn begin(header: &str) -> Result<Self, Vec<RowFault>> {
        let record =
            table::line(header.trim_start_matches('\u{feff}')).map_err(|why| vec![at(1, why)])?;
        Columns::of(&record, COLUMNS, NEEDED).map(Self)
    }

    /// Reads one line.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn read(&self, row: u64, text: &str, desk: &Desk<'_>) -> Result<Keyed, RowFault> {
        let record = table::line(text).map_err(|why| at(row, why))?;
        let cells = self.0.cells(row, &record)?;
        keyed(row, &cells, desk).map_err(|why| at(row, why))
    }
}

fn at(line: u64, why: String) -> RowFault {
    RowFault { line, why }
}

/// Reads a list. All lines are read, so that every refused one is reported at once.
///
/// # Errors
/// Each line that is refused, with the reason.
pub fn read(bytes: &[u8], desk: &Desk<'_>) -> Result<Vec<Keyed>, Vec<RowFault>> {
    table::read(bytes, COLUMNS, NEEDED, |row, cells| keyed(row, cells, desk))
}

// A cell, read; what is wrong names the column.
fn cell<T>(
    cells: &Cells<'_>,
    name: &str,
    read: impl FnOnce(&str) -> Result<T, String>,
) -> Result<Option<T>, String> {
    cells
        .get(name)
        .map(|text| read(text).map_err(|why| format!("column {name}: {why}")))
        .transpose()
}

fn must<T>(
    cells: &Cells<'_>,
    name: &str,
    read: impl FnOnce(&str) -> Result<T, String>,
) -> Result<T, String> {
    cell(cells, name, read)?
        .ok_or_else(|| format!("column {name} is empty; write what the form says"))
}

fn text(name: &'static str, most: usize) -> impl Fn(&str) -> Result<String, String> {
    move |t| clean(name, t, most)
}

fn word<W: Word>(t: &str) -> Result<W, String> {
    W::typed(t).ok_or_else(|| {
        format!(
            "\"{}\" is not known; write one of {}",
            shown(t),
            W::choices()
        )
    })
}

fn amount<A: Amount>(
    unit: &'static str,
    low: i64,
    high: i64,
) -> impl Fn(&str) -> Result<A, String> {
    move |t| A::read_within(t, Some(unit), low, high).map_err(|e| e.to_string())
}

fn list(t: &str) -> Vec<String> {
    t.split([' ', ';'])
        .filter(|p| !p.is_empty())
        .map(str::to_owned)
        .collect()
}

fn cup(t: &str) -> Result<KeyedCup, String> {
    let number = |t: &str| t.trim().parse::<u32>().ok();
    t.strip_prefix("line ")
        .map_or_else(
            || number(t).map(KeyedCup::Mix),
            |n| number(n).map(KeyedCup::Line),
        )
        .ok_or_else(|| {
            format!(
                "\"{}\" is no mix; write its number, or the line of its form as \"line 16\"",
                shown(t)
            )
        })
}

fn pours(t: &str) -> Result<Vec<Pour>, String> {
    list(t)
        .iter()
        .map(|part| {
            let (lot, volume) = part.split_once('=').ok_or_else(|| {
                format!(
                    "part \"{}\" is not understood; write LOT=VOLUME for each, such as L-221=1.50L",
                    shown(part)
                )
            })?;
            Ok(Pour {
                lot: clean("lot", lot, 30)?,
                volume: Volume::read_within(volume, None, 1, 1_000_000_000)
                    .map_err(|e| format!("part {}: {e}", shown(lot)))?,
            })
        })
        .collect()
}

fn size(t: &str) -> Result<i64, String> {
    read_number(t, Dimension::Length, find("mm", Dimension::Length))
        .map_err(|e| e.to_string())?
        .exact(6)
        .filter(|um| (1..=1_000_000).contains(um))
        .ok_or_else(|| {
            format!(
                "\"{}\" is outside 0.001 mm to 1 m; write such as 4mm",
                shown(t)
            )
        })
}

fn reason(t: &str) -> Result<Reason, String> {
    t.parse()
        .ok()
        .and_then(Reason::from_digit)
        .or_else(|| Reason::typed(t))
        .ok_or_else(|| {
            format!(
                "\"{}\" is not known; write a digit 1 to 9 or one of {}",
                shown(t),
                Reason::choices()
            )
        })
}

fn yes(t: &str) -> Result<bool, String> {
    match t {
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err(format!("\"{}\" is neither yes nor no", shown(t))),
    }
}

// When it began and ended. A time alone takes the line's date; an end that would lie before its start is of the night.
fn times(cells: &Cells<'_>, desk: &Desk<'_>) -> Result<(Moment, Moment), String> {
    let date = cell(cells, "date", |t| read_date("date", t))?;
    let alone = |t: &str| t.len() <= 5;
    let read = |t: &str, later: u64| {
        let day = date.and_then(|d| d.checked_add_days(chrono::Days::new(later)));
        let whole = match day {
            Some(day) if alone(t) => format!("{day} {t}"),
            None if alone(t) => {
                return Err(format!(
                    "\"{}\" has no day; write it into column date, as 2026-03-10",
                    shown(t)
                ));
            }
            _ => t.to_owned(),
        };
        desk.calendar
            .read(&whole, desk.present)
            .map_err(|e| e.to_string())
    };
    let mut ended = must(cells, "ended", |t| read(t, 0))?;
    let Some(began) = cell(cells, "began", |t| read(t, 0))? else {
        return Ok((ended, ended));
    };
    if ended < began && cells.get("ended").is_some_and(alone) {
        ended = must(cells, "ended", |t| read(t, 1))?;
    }
    Ok((began, ended))
}

fn target(cells: &Cells<'_>) -> Result<Target, String> {
    let on = cell(cells, "hooks", hooks)?;
    match (cell(cells, "rack", text("rack", 30))?, cells.get("pieces")) {
        (Some(rack), None) => Ok(Target::Rack(rack, on)),
        (None, Some(_)) if on.is_some() => {
            Err("column hooks: hooks go with a rack; write it into column rack".to_owned())
        }
        (None, Some(pieces)) => Ok(Target::Pieces(list(pieces))),
        (Some(rack), Some(_)) => Err(format!(
            "column rack: \"{}\" and pieces besides; write the rack or the pieces, not both",
            shown(&rack)
        )),
        (None, None) => {
            Err("columns rack and pieces are empty; write which it was done to".to_owned())
        }
    }
}

// Columns that a deed takes besides those of all.
fn takes(deed: &str) -> Option<&'static [&'static str]> {
    Some(match deed {
        "coat" | "touch-up" => &["step", "mix", "lot", "amount", "wet", "another"],
        "sanding" => &["step", "grit"],
        "mix" => &["name", "parts", "tops up", "left"],
        "booth check" => &["booth", "gauge"],
        "defect" => &["defect", "place", "size"],
        _ => return None,
    })
}

fn step(wanted: fn(StepKind) -> bool) -> impl Fn(&str) -> Result<StepKind, String> {
    move |t| {
        StepKind::typed(t).filter(|k| wanted(*k)).ok_or_else(|| {
            let all = StepKind::ALL.iter().filter(|k| wanted(**k));
            let list: Vec<&str> = all.map(|k| k.word()).collect();
            format!(
                "\"{}\" is not known here; write one of {}",
                shown(t),
                list.join(", ")
            )
        })
    }
}

fn keyed(row: u64, cells: &Cells<'_>, desk: &Desk<'_>) -> Result<Keyed, String> {
    let deed = must(cells, "deed", |t| Ok(t.to_lowercase()))?;
    let own = takes(&deed).ok_or_else(|| {
        format!(
            "column deed: \"{}\" is not known; write coat, touch-up, sanding, mix, booth check or defect",
            shown(&deed)
        )
    })?;
    let on_pieces = !matches!(deed.as_str(), "mix" | "booth check");
    let goes = |name: &&str| {
        ALWAYS.contains(name) || own.contains(name) || (on_pieces && ON_PIECES.contains(name))
    };
    if let Some(name) = COLUMNS
        .iter()
        .find(|name| !goes(name) && cells.get(name).is_some())
    {
        return Err(format!(
            "column {name}: \"{}\" does not go with {deed}; leave it empty",
            shown(cells.get(name).unwrap_or(""))
        ));
    }
    let form = must(cells, "form", text("form", 30))?;
    let line = must(cells, "line", |t| {
        t.parse::<u32>()
            .ok()
            .filter(|n| (1..=99_999).contains(n))
            .ok_or_else(|| format!("\"{}\" is outside 1 to 99999; write its number", shown(t)))
    })?;
    let who = Who {
        person: must(cells, "by", |t| initials("by", t))?,
        writer: desk.writer.to_owned(),
        station: desk.station.to_owned(),
    };
    let (began, ended) = times(cells, desk)?;
    let note = cell(cells, "note", text("note", 200))?;
    // Nobody chose to write it late: equipment stopped, and the note says which.
    let reason = cell(cells, "reason", reason)?.unwrap_or(Reason::Equipment);
    let noted = note.as_ref().map_or(String::new(), |n| format!(": {n}"));
    let noted = format!("power cut, form {form} line {line}{noted}");
    let said: Vec<String> = COLUMNS
        .iter()
        .filter(|name| !matches!(**name, "form" | "line"))
        .filter_map(|name| cells.get(name).map(|t| format!("{name}={}", shown(t))))
        .collect();
    let what = match deed.as_str() {
        "mix" => {
            let mut order = MixOrder::of(
                &must(cells, "name", text("name", 30))?,
                must(cells, "parts", pours)?,
                ended,
            );
            order.left = cell(cells, "left", amount("L", 0, 1_000_000_000))?;
            KeyedDeed::Mix(order, cell(cells, "tops up", cup)?)
        }
        "booth check" => KeyedDeed::Check {
            booth: must(cells, "booth", |t| {
                let known = desk.rooms.iter().any(|r| r == t);
                known.then(|| t.to_owned()).ok_or_else(|| {
                    format!(
                        "\"{}\" is no room that a piece hangs in or that was declared; write one of {}",
                        shown(t),
                        desk.rooms.join(", ")
                    )
                })
            })?,
            seen: BoothSeen {
                note,
                gauge: cell(cells, "gauge", |t| {
                    Pressure::read(t, None).map_err(|e| e.to_string())
                })?,
                new_filters: false,
            },
            at: ended,
        },
        _ => {
            let (what, cup) = on_pieces_what(&deed, cells, note)?;
            let mut request = DeedRequest::new(who.clone(), target(cells)?, what, ended);
            request.began = began;
            request.reason = Some(reason);
            request.note = Some(noted.clone());
            request.skipped = cells.get("skip").map_or_else(Vec::new, list);
            request.included = match cells.get("include") {
                None => Included::None,
                Some("all") => Included::All,
                Some(named) => Included::Named(list(named)),
            };
            request.another = cell(cells, "another", yes)?.unwrap_or(false);
            request.temperature = cell(cells, "air", |t| {
                Temperature::read(t, Some("C")).map_err(|e| e.to_string())
            })?;
            request.humidity = cell(cells, "humidity", |t| {
                Humidity::read(t, Some("%")).map_err(|e| e.to_string())
            })?;
            KeyedDeed::Deed(Box::new(request), cup)
        }
    };
    Ok(Keyed {
        row,
        form,
        line,
        who,
        said: said.join("; "),
        shared: Shared {
            reason: Some(reason.word().to_owned()),
            note: Some(noted),
            ..Shared::default()
        },
        deed: what,
    })
}

fn on_pieces_what(
    deed: &str,
    cells: &Cells<'_>,
    note: Option<String>,
) -> Result<(DeedWhat, Option<KeyedCup>), String> {
    Ok(match deed {
        "sanding" => (
            DeedWhat::Sand {
                kind: cell(cells, "step", step(StepKind::sands))?,
                removed: None,
                grit: cell(cells, "grit", grit::kept)?,
            },
            None,
        ),
        "defect" => (
            DeedWhat::Other(Fact::Flawed {
                defect: must(cells, "defect", word::<Defect>)?,
                size_um: cell(cells, "size", size)?,
                place: cell(cells, "place", text("place", 60))?,
                note,
            }),
            None,
        ),
        coat => {
            let wet = cells.get("wet").map_or_else(Vec::new, list);
            let read = amount::<Film>("um", 1_000, 1_000_000);
            let wet: Result<Vec<Film>, String> = wet.iter().map(|w| read(w)).collect();
            let what = DeedWhat::Coat {
                kind: cell(cells, "step", step(StepKind::wets))?,
                touch_up: coat == "touch-up",
                mix: None,
                lot: cell(cells, "lot", text("lot", 30))?,
                amount: cell(cells, "amount", amount("mL", 1, 200_000_000))?,
                wet: wet.map_err(|why| format!("column wet: {why}"))?,
                supervisor: None,
                more: CoatMore::default(),
            };
            (what, cell(cells, "mix", cup)?)
        }
    })
}
