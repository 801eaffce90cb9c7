//! Questions: what is ready, what was saved, what a month came to.

use super::{Answer, Desk, Trouble, one_of, read_time};
use crate::ledger::{DraftFate, Drafts};
use crate::reports::together::together;
use crate::reports::{entries, ready, tally};
use crate::shop::words::{StepKind, Word};
use serde_json::json;

pub(super) use super::pieces::floor;

/// What is ready now, and what by when.
#[derive(Debug, clap::Args)]
pub(super) struct Ready {
    /// The step that is asked about: level-sand, final-sand, buff, clear, ...; may be given several times.
    #[arg(long = "for", value_name = "STEP", default_value = "level-sand")]
    steps: Vec<String>,
}

impl Ready {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let kinds = self
            .steps
            .iter()
            .map(|s| {
                StepKind::typed(s).ok_or_else(|| {
                    Trouble::Input(format!(
                        "step \"{s}\" is not known; write one of {}",
                        StepKind::choices()
                    ))
                })
            })
            .collect::<Result<Vec<_>, _>>()?;
        let shop = desk.shop()?;
        let known = desk.known_at(&shop)?;
        let mut floor = shop.ledger.floor(shop.now, known)?;
        desk.hold_back(&mut floor);
        let last = ready::last_of_each(&floor, &kinds);
        let spreads = shop.ledger.spreads(&last, shop.now)?;
        let answer = ready::answer(&floor, &kinds, &spreads, shop.now, &shop.calendar);
        let value = desk.with_clock(answer);
        let lines = ready::lines(&floor, &kinds, &spreads, shop.now, &shop.calendar);
        desk.print(&value, &lines)?;
        Ok(0)
    }
}

/// Deviations that are not answered yet.
#[derive(Debug, clap::Args)]
pub(super) struct Deviations {
    /// Answered and moot ones, too.
    #[arg(long)]
    all: bool,
    /// Count them by person, booth or recipe instead: open, answered, moot.
    #[arg(long, value_name = "WHAT", value_parser = one_of(["person", "booth", "recipe"]), conflicts_with = "all")]
    by: Option<String>,
    /// Count only those of deeds that began from this time on.
    #[arg(long, value_name = "TIME", requires = "by")]
    since: Option<String>,
    /// Count only those of deeds that began before this time.
    #[arg(long, value_name = "TIME", requires = "by")]
    until: Option<String>,
}

impl Deviations {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        if let Some(by) = &self.by {
            let time = |t: &Option<String>| {
                t.as_deref()
                    .map(|t| read_time(&shop.calendar, t, shop.now))
                    .transpose()
            };
            let (since, until) = (time(&self.since)?, time(&self.until)?);
            let grounds = shop.ledger.deviation_grounds()?;
            let asked = grounds
                .iter()
                .filter(|g| since.is_none_or(|s| g.at >= s) && until.is_none_or(|u| g.at < u));
            let (lines, value) = tally::deviations(asked, by);
            desk.print(&value, &lines)?;
            return Ok(0);
        }
        let list = shop.ledger.deviations(self.all)?;
        let mut lines: Vec<String> = list.iter().map(entries::deviation_line).collect();
        if lines.is_empty() {
            lines.push("no deviation recorded is left unanswered".to_owned());
        }
        desk.print(&list.iter().map(entries::deviation).collect(), &lines)?;
        Ok(0)
    }
}

/// Entries with who, when happened and when written.
#[derive(Debug, clap::Args)]
pub(super) struct Entries {
    /// Only those of one piece.
    piece: Option<String>,
}

impl Entries {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let list = match desk.known_at(&shop)? {
            Some(known) => shop.ledger.entries_known(self.piece.as_deref(), known)?,
            None => shop.ledger.entries(self.piece.as_deref())?,
        };
        let lines: Vec<String> = list
            .iter()
            .map(|e| entries::line(e, &shop.calendar, desk.system()))
            .collect();
        desk.print(
            &list
                .iter()
                .map(|e| entries::entry(e, &shop.calendar))
                .collect(),
            &lines,
        )?;
        Ok(0)
    }
}

/// One action and its entries.
#[derive(Debug, clap::Args)]
pub(super) struct Action {
    /// Its number.
    action: i64,
}

impl Action {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let (action, list) = shop.ledger.action(self.action)?;
        let totals = shop.ledger.action_totals(self.action)?;
        let mut lines = vec![format!(
            "action {}: {} by {} at {}, written {}",
            action.seq,
            action.deed,
            action.person,
            action.station,
            shop.calendar.full(action.written)
        )];
        lines.extend(
            list.iter()
                .map(|e| entries::line(e, &shop.calendar, desk.system())),
        );
        let left_out = action.shared.left_out.iter();
        for group in together(left_out.map(|(serial, why)| (why, serial.as_str(), None))) {
            lines.push(format!("  left out: {}: {}", group.whom(0), group.said));
        }
        if totals.voc.0 > 0 {
            lines.push(format!(
                "  VOC {}, HAP {}",
                entries::grams(totals.voc),
                entries::grams(totals.hap)
            ));
        }
        let value = json!({
            "action": action.seq, "deed": action.deed, "by": action.person, "written_by": action.writer,
            "station": action.station, "written": shop.calendar.rfc3339(action.written), "shared": action.shared,
            "solvent": entries::totals(&totals),
            "entries": list.iter().map(|e| entries::entry(e, &shop.calendar)).collect::<Vec<_>>(),
        });
        desk.print(&value, &lines)?;
        Ok(0)
    }
}

/// What was saved last at this station, and what was not.
pub(super) fn last(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let station = desk.options.station.clone();
    let drafts = Drafts::of(shop.ledger.path(), &station);
    let fate = drafts.fate(&shop.ledger)?;
    let (value, line) = match fate {
        Some(DraftFate::Saved(draft, action)) => (
            json!({"last_saved": {"action": action.seq, "line": draft.line}, "not_saved": null}),
            format!("last saved: {} (action {})", draft.line, action.seq),
        ),
        Some(DraftFate::NotSaved(draft)) => (
            json!({"last_saved": null, "not_saved": {"line": draft.line, "words": draft.words}}),
            format!(
                "not saved - re-enter? {}\n  hangtime {}",
                draft.line,
                quoted(&draft.words)
            ),
        ),
        None => match shop.ledger.last_action(Some(&station))? {
            Some(a) => {
                let line = shop.ledger.line_of(a.seq, shop.now)?;
                (
                    json!({
                        "last_saved": {
                            "action": a.seq, "line": line, "deed": a.deed, "ended": shop.calendar.rfc3339(a.ended),
                        },
                        "not_saved": null,
                    }),
                    format!("last saved: {line} (action {})", a.seq),
                )
            }
            None => (
                json!({"last_saved": null, "not_saved": null}),
                format!("nothing was saved at station {station} yet"),
            ),
        },
    };
    desk.print(&value, &[line])?;
    Ok(0)
}

// The words of a command as a shell reads them back.
fn quoted(words: &[String]) -> String {
    let plain = |c: char| c.is_alphanumeric() || "_-./:=@%+,".contains(c);
    let words: Vec<String> = words
        .iter()
        .map(|w| {
            if !w.is_empty() && w.chars().all(plain) {
                w.clone()
            } else {
                format!("'{}'", w.replace('\'', "'\\''"))
            }
        })
        .collect();
    words.join(" ")
}

/// Pieces whose other half is scrapped or missing.
pub(super) fn unpaired(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let list = shop.ledger.unpaired()?;
    let mut lines: Vec<String> = list.iter().map(|(s, why)| format!("{s}: {why}")).collect();
    if lines.is_empty() {
        lines.push("every piece in process that names its pair has it".to_owned());
    }
    desk.print(
        &list
            .iter()
            .map(|(s, why)| json!({"serial": s, "why": why}))
            .collect(),
        &lines,
    )?;
    Ok(0)
}
