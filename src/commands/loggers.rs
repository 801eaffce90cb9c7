//! Climate loggers: a guess at a file, descriptions that are adopted, files that are taken over, and readings by hand.

mod live;

use super::adopt::{self, faults, name, row_of};
use super::stock::When;
use super::{Answer, Desk, Shop, Trouble, one_of, read_file, read_text};
use crate::feeds::logger::file::{self, Understood};
use crate::feeds::logger::guess::{Said, guess};
use crate::ledger::{EntryRow, Ledger, LoggerFile};
use crate::reports::{excursions, loggers};
use crate::shop::climate::{Sample, holds_for};
use crate::shop::logger_file::{self, ClockZone, Degrees, FileShape, Logger as Described};
use crate::shop::text::{place_like, shown};
use crate::shop::words::Word;
use crate::units::{Amount, Humidity, Span, System, Temperature};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// How many readings a guess and a preview show.
const SHOWN: usize = 5;

/// Describe climate loggers and take over what they write and send.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Logger {
    /// Guess the description of a file and show how it would read. Nothing is adopted and nothing taken over.
    Guess {
        /// The file.
        file: PathBuf,
        /// The code to write into the description.
        #[arg(long)]
        code: Option<String>,
        /// The room whose air it reads.
        #[arg(long)]
        room: Option<String>,
        /// Where its clock runs: shop, UTC, an offset such as -05:00, or a named zone.
        #[arg(long, allow_hyphen_values = true)]
        zone: Option<String>,
        /// The unit of its temperatures.
        #[arg(long, value_parser = one_of(["C", "F", "K"]))]
        unit: Option<String>,
    },
    /// Check a description; every fault is named with its line, field, value and fix.
    Check {
        /// The description.
        file: PathBuf,
    },
    /// Adopt a description as a revision that never changes.
    Adopt {
        /// The description.
        file: PathBuf,
    },
    /// List adopted descriptions.
    List,
    /// Print an adopted description; without a revision the newest.
    Show {
        /// The logger's code.
        code: String,
        /// The revision.
        revision: Option<String>,
    },
    /// Take over files of a logger: each as a whole or not at all, and none of them twice.
    Take {
        /// The logger's code.
        code: String,
        /// The files.
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Say what would be taken over; take over nothing.
        #[arg(long)]
        preview: bool,
        /// Take over a file that was taken over before, by a newer description.
        #[arg(long)]
        again: bool,
    },
    /// Watch a folder and take over the files that loggers write into it, by the names in their descriptions. A file that
    /// still grows is left until it stops growing.
    Watch {
        /// The folder.
        folder: PathBuf,
        /// How often it is looked at.
        #[arg(long, value_name = "SPAN", default_value = "30s")]
        every: String,
        /// Look twice, take over what stopped growing, and end.
        #[arg(long)]
        once: bool,
    },
    /// Listen to the loggers that send their readings to a broker on this host, and keep one for each interval of its room.
    Listen {
        /// The broker's port.
        #[arg(long, default_value_t = 1883)]
        port: u16,
        /// End after this long.
        #[arg(long = "for", value_name = "SPAN")]
        span: Option<String>,
    },
}

impl Logger {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        match self {
            Self::Guess {
                file,
                code,
                room,
                zone,
                unit,
            } => {
                if let Some(zone) = zone.as_deref().filter(|z| ClockZone::read(z).is_none()) {
                    return Err(Trouble::Input(format!(
                        "zone \"{}\" is none; write shop, UTC, an offset such as -05:00, or a named zone",
                        shown(zone)
                    )));
                }
                let unit = unit.as_deref().and_then(Degrees::from_word);
                let said = Said {
                    code,
                    room,
                    zone,
                    unit,
                };
                return guessed(desk, &file, &said);
            }
            Self::Check { file } => {
                let found =
                    logger_file::read(&name(&file), &read_text(&file)?).map_err(|f| faults(&f))?;
                let line = format!(
                    "{}: logger {} reads well, for {}",
                    name(&file),
                    found.label(),
                    shown(&found.room)
                );
                desk.print(
                    &json!({"code": found.code, "revision": found.revision, "room": found.room, "faults": []}),
                    &[line],
                )?;
            }
            Self::Adopt { file } => adopt::adopt(desk, &file, Ledger::adopt_logger)?,
            Self::List => adopt::list(desk, Ledger::loggers, "revision", "rev")?,
            Self::Show { code, revision } => {
                let shop = desk.shop()?;
                let row = row_of(
                    &shop.ledger.loggers()?,
                    "logger",
                    &code,
                    revision.as_deref(),
                )?;
                let value = json!({"code": row.code, "revision": row.revision, "entry": row.entry, "text": row.text});
                let lines: Vec<String> = row.text.lines().map(str::to_owned).collect();
                desk.print(&value, &lines)?;
            }
            Self::Take {
                code,
                files,
                preview,
                again,
            } => {
                let mut shop = desk.shop()?;
                let row = row_of(&shop.ledger.loggers()?, "logger", &code, None)?;
                let logger = shop.ledger.logger(&row)?;
                let mut told = Vec::with_capacity(files.len());
                for path in &files {
                    told.push(take(desk, &mut shop, &logger, path, preview, again)?);
                }
                let value = told.iter().map(|t| t.value.clone()).collect();
                let lines: Vec<String> = told.into_iter().flat_map(|t| t.lines).collect();
                desk.print(&value, &lines)?;
            }
            Self::Watch {
                folder,
                every,
                once,
            } => return live::watch(desk, &folder, &every, once),
            Self::Listen { port, span } => return live::listen(desk, port, span.as_deref()),
        }
        Ok(0)
    }
}

fn guessed(desk: &mut Desk<'_>, path: &Path, said: &Said) -> Answer {
    let bytes = read_file(path)?;
    // A guess needs no ledger; where there is one, its zone is the shop's.
    let calendar = if desk.path()?.exists() {
        desk.shop()?.calendar
    } else {
        crate::shop::calendar::Calendar::BARE
    };
    let rows = |f| Trouble::Rows(base(path), f);
    let found = guess(&bytes, said).map_err(|f| rows(vec![f]))?;
    let shape = shape_of(&found.as_if)?;
    let read = |hold| file::read(&bytes, &found.as_if, shape, &calendar, hold);
    // How long a reading stands is the room's; here it goes by the file's own step.
    let step = read(Span(i64::MAX)).map_err(rows)?.step;
    let understood = read(holds_for(step.unwrap_or_default())).map_err(rows)?;
    let mut lines: Vec<String> = found.toml.lines().map(str::to_owned).collect();
    lines.push(String::new());
    lines.push(format!("# {}, read so:", base(path)));
    let mut more = loggers::first_readings(&understood, SHOWN, &calendar);
    more.push(format!("  {}", totals(&understood)));
    more.extend(loggers::remarks(&understood.remarks));
    if found.open.is_empty() {
        more.push("  look through it, then: hangtime logger adopt FILE".to_owned());
    } else {
        more.push("  questions that the file does not answer; the readings above take the lines as they stand:".to_owned());
        more.extend(found.open.iter().map(|q| format!("    {q}")));
    }
    // All of it is one description: what is no line of it is a comment.
    lines.extend(more.iter().map(|l| format!("#{l}")));
    let value = json!({
        "toml": found.toml, "open": found.open,
        "first": understood.readings.iter().take(SHOWN).map(|(line, s)| json!({
            "line": line, "at": calendar.rfc3339(s.at), "temperature_mc": s.temperature.0,
            "humidity_cpct": s.humidity.map(|h| h.0),
        })).collect::<Vec<_>>(),
        "lines": understood.lines, "readings": understood.readings.len(),
        "step_ms": understood.step.map(|s| s.0), "remarks": loggers::remarks_json(&understood.remarks),
    });
    desk.print(&value, &lines)?;
    Ok(0)
}

fn totals(understood: &Understood) -> String {
    let step = understood
        .step
        .map_or_else(String::new, |s| format!(", one every {}", s.words()));
    format!(
        "{} lines, {} readings{step}, {} left out",
        understood.lines,
        understood.readings.len(),
        understood.left_out()
    )
}

fn base(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |n| n.to_string_lossy().into_owned(),
    )
}

fn shape_of(logger: &Described) -> Result<&FileShape, Trouble> {
    logger.file.as_ref().ok_or_else(|| {
        Trouble::Input(format!(
            "logger {} has no table [file]: it writes no files; adopt a description with one",
            logger.label()
        ))
    })
}

/// The one line that readings that came in are worth, where they made an excursion of the air or ended one.
pub(super) fn moved(
    shop: &Shop,
    room: &str,
    samples: &[Sample],
    system: System,
) -> Result<Option<String>, Trouble> {
    let each = samples.iter().map(|s| s.at);
    let Some(brought) = each.clone().min().zip(each.max()) else {
        return Ok(None);
    };
    let at = shop.present();
    let found = shop.ledger.excursions_by(room, brought, at)?;
    Ok(found.map(|found| excursions::told(&found, at, &shop.calendar, system)))
}

/// What is told of one file.
pub(super) struct Taken {
    pub(super) value: Value,
    pub(super) lines: Vec<String>,
}

/// Takes over one file of a logger, or says what would be.
pub(super) fn take(
    desk: &Desk<'_>,
    shop: &mut Shop,
    logger: &Described,
    path: &Path,
    preview: bool,
    again: bool,
) -> Result<Taken, Trouble> {
    let shape = shape_of(logger)?;
    let bytes = read_file(path)?;
    let file_name = base(path);
    if let Some(before) = shop.ledger.took_file(&bytes)?.filter(|_| !again) {
        return Ok(taken_before(shop, &file_name, &before));
    }
    let hold = holds_for(shop.ledger.room_interval(&logger.room)?);
    let understood = file::read(&bytes, logger, shape, &shop.calendar, hold)
        .map_err(|f| Trouble::Rows(file_name.clone(), f))?;
    let samples = understood.samples();
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let mut value = json!({
        "file": file_name, "logger": logger.code, "revision": logger.revision, "room": logger.room,
        "saved": false, "lines": understood.lines, "left_out": understood.left_out(),
        "remarks": loggers::remarks_json(&understood.remarks),
    });
    let mut lines = Vec::new();
    if preview {
        lines.push(format!(
            "{file_name}: a preview, nothing was taken over: {}",
            totals(&understood)
        ));
        lines.extend(loggers::first_readings(&understood, SHOWN, &shop.calendar));
    } else {
        let who = desk.who(None)?;
        let file = LoggerFile {
            logger,
            room: &logger.room,
            name: &file_name,
            bytes: &bytes,
            samples: &samples,
            lines: count(usize::try_from(understood.lines).unwrap_or(usize::MAX)),
            left_out: count(understood.left_out()),
            again,
        };
        let stamp = shop.stamp();
        let Some(report) = shop.ledger.take_file(&file, &who, &stamp)? else {
            let before = shop.ledger.took_file(&bytes)?;
            let before = before
                .ok_or_else(|| Trouble::System("a file that was there is gone".to_owned()))?;
            return Ok(taken_before(shop, &file_name, &before));
        };
        lines.push(format!(
            "{file_name} of {}: {}; {}",
            shown(&logger.room),
            totals(&understood),
            loggers::brought(&report, &shop.calendar)
        ));
        if let Some(text) = moved(shop, &logger.room, &samples, desk.system())? {
            if let Some(map) = value.as_object_mut() {
                map.insert("moved".to_owned(), Value::from(text.clone()));
            }
            lines.push(text);
        }
        if let (Some(map), Value::Object(more)) = (
            value.as_object_mut(),
            loggers::brought_json(&report, &shop.calendar),
        ) {
            map.extend(more);
            map.insert("saved".to_owned(), Value::Bool(true));
        }
    }
    lines.extend(loggers::remarks(&understood.remarks));
    Ok(Taken { value, lines })
}

fn taken_before(shop: &Shop, file: &str, before: &EntryRow) -> Taken {
    let entry = before.seq.0;
    Taken {
        value: json!({"file": file, "saved": false, "taken_over_before": entry}),
        lines: vec![format!(
            "{file} was taken over before (entry {entry}, {}); nothing to do",
            shop.calendar.near(before.written, shop.now)
        )],
    }
}

/// Enter a reading of a room's air by hand.
#[derive(Debug, clap::Args)]
pub(super) struct Reading {
    /// The room.
    room: String,
    /// The temperature, such as 21.3C or 70F.
    #[arg(allow_hyphen_values = true)]
    temperature: String,
    /// The relative humidity, such as 45%.
    humidity: Option<String>,
    #[command(flatten)]
    when: When,
}

impl Reading {
    pub(super) fn run(mut self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let rooms = shop.ledger.rooms()?;
        if let Some(meant) = place_like(rooms.iter().map(String::as_str), &self.room) {
            self.room = meant.to_owned();
        }
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        let fault = |e: crate::units::UnitFault| Trouble::Input(e.to_string());
        let humidity = self.humidity.as_deref();
        let sample = Sample {
            at: self.when.at(&shop, stamp.written)?,
            temperature: Temperature::read(&self.temperature, None).map_err(fault)?,
            humidity: humidity
                .map(|h| Humidity::read(h, Some("%")))
                .transpose()
                .map_err(fault)?,
        };
        let report = shop
            .ledger
            .add_readings(&self.room, BY_HAND, &[sample], &who, &stamp)?;
        if !report.other.is_empty() {
            return Err(Trouble::Input(format!(
                "{} has another reading of {}, and that one stays; write another minute with --done",
                shown(&self.room),
                shop.calendar.near(sample.at, stamp.written)
            )));
        }
        let Some(saved) = report.saved else {
            desk.print(
                &json!({"saved": false, "known": true}),
                &["the record has this reading already".to_owned()],
            )?;
            return Ok(0);
        };
        let damp = sample.humidity.map_or_else(
            || ", humidity unknown".to_owned(),
            |h| format!(", {}", h.text(0)),
        );
        let what = format!(
            "{}: {}{damp} at {}",
            shown(&self.room),
            sample.temperature.shown(desk.system(), 1),
            shop.calendar.near(sample.at, stamp.written)
        );
        desk.saved(&saved, &what, Value::Null)
    }
}

/// What stands for the file of a reading that somebody entered.
const BY_HAND: &str = "by hand";
