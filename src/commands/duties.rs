//! What comes round, what happened, and whom to ask.

use super::stock::{When, volume};
use super::{Answer, Desk, Shop, Trouble};
use crate::feeds::pieces_csv::read_date;
use crate::reports::checks::interval;
use crate::reports::duties as report;
use crate::shop::duty::{Duty as Deed, IncidentKind};
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Flow, Span};
use serde_json::{Value, json};

/// How long before its time a deed is called out, where nothing else is said (common practice, no source).
const AHEAD: Span = Span::hours(24 * 30);

fn span(text: &str) -> Result<Span, Trouble> {
    interval(text).map(Span).map_err(Trouble::Input)
}

fn date(text: Option<&String>) -> Result<Option<chrono::NaiveDate>, Trouble> {
    text.map(|t| read_date("date", t).map_err(Trouble::Input))
        .transpose()
}

/// Recurring checks and tasks; without a word, how each stands.
#[derive(Debug, clap::Args)]
pub(super) struct Duty {
    #[command(subcommand)]
    deed: Option<DutyDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum DutyDeed {
    /// Put a deed on the list, or change it.
    Set {
        /// What is done: "velocity survey", "respirator fit test", "waste can emptied", ...
        name: String,
        /// The booth, room, person or thing.
        #[arg(long = "of")]
        about: String,
        /// Longest interval, such as 365d or 24h.
        #[arg(long, required_unless_present = "in_use")]
        every: Option<String>,
        /// Longest time in use, such as 8h, for what is counted by hours.
        #[arg(long)]
        in_use: Option<String>,
        /// How long before its time it is called out; 30 days, or an eighth of the interval if that is less.
        #[arg(long)]
        ahead: Option<String>,
        /// What is asked when it is done; repeat for each.
        #[arg(long = "ask", value_name = "QUESTION")]
        asks: Vec<String>,
        /// Where the interval comes from.
        #[arg(long)]
        source: String,
    },
    /// Take a deed off the list; what was done stays in the record.
    End {
        /// Which.
        name: String,
        /// The booth, room, person or thing.
        #[arg(long = "of")]
        about: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
    /// It was done.
    Done {
        /// Which.
        name: String,
        /// The booth, room, person or thing.
        #[arg(long = "of")]
        about: String,
        /// What was found, as QUESTION=ANSWER; repeat for each.
        #[arg(long = "found", value_name = "QUESTION=ANSWER")]
        found: Vec<String>,
        /// In words.
        #[arg(long)]
        note: Option<String>,
        #[command(flatten)]
        when: When,
    },
    /// It was in use for some time.
    Used {
        /// Which.
        name: String,
        /// The person or thing.
        #[arg(long = "of")]
        about: String,
        /// How long, such as 1.5h.
        time: String,
        #[command(flatten)]
        when: When,
    },
}

impl Duty {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let Some(deed) = self.deed else {
            return list(desk, &shop);
        };
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        match deed {
            DutyDeed::Set {
                name,
                about,
                every,
                in_use,
                ahead,
                asks,
                source,
            } => {
                let every = every.as_deref().map(span).transpose()?;
                let in_use = in_use.as_deref().map(span).transpose()?;
                let ahead = match ahead {
                    Some(text) => span(&text)?,
                    None => Span(every.map_or(AHEAD.0, |e| AHEAD.0.min(e.0 / 8))),
                };
                let what = format!(
                    "{} of {} is on the list of recurring checks",
                    shown(&name),
                    shown(&about)
                );
                let duty = Deed {
                    name,
                    about,
                    every,
                    in_use,
                    ahead,
                    asks,
                    source,
                    ended: false,
                };
                let done = shop.ledger.set_duty(&duty, &who, &stamp)?;
                desk.saved(&done, &what, Value::Null)
            }
            DutyDeed::End { name, about, why } => {
                let what = format!("{} of {} is off the list", shown(&name), shown(&about));
                let duty = Deed {
                    name,
                    about,
                    every: None,
                    in_use: None,
                    ahead: Span(0),
                    asks: Vec::new(),
                    source: why,
                    ended: true,
                };
                let done = shop.ledger.set_duty(&duty, &who, &stamp)?;
                desk.saved(&done, &what, Value::Null)
            }
            DutyDeed::Done {
                name,
                about,
                found,
                note,
                when,
            } => {
                let answers = found
                    .iter()
                    .map(|f| {
                        f.split_once('=')
                            .map(|(a, b)| (a.trim().to_owned(), b.trim().to_owned()))
                            .ok_or_else(|| {
                                Trouble::Input(format!(
                                    "found \"{}\" is not understood; write QUESTION=ANSWER",
                                    shown(f)
                                ))
                            })
                    })
                    .collect::<Result<Vec<_>, _>>()?;
                let at = when.at(&shop, stamp.written)?;
                let done = shop.ledger.duty_done(
                    &name,
                    &about,
                    answers,
                    note.as_deref(),
                    at,
                    &who,
                    &stamp,
                )?;
                let what = format!("{} of {} done", shown(&name), shown(&about));
                desk.saved(&done, &what, Value::Null)
            }
            DutyDeed::Used {
                name,
                about,
                time,
                when,
            } => {
                let at = when.at(&shop, stamp.written)?;
                let done = shop
                    .ledger
                    .duty_used(&name, &about, span(&time)?, at, &who, &stamp)?;
                let rows = shop.ledger.duties(stamp.written)?;
                let now = rows
                    .iter()
                    .find(|r| r.duty.name == name && r.duty.about == about)
                    .map_or_else(String::new, |r| {
                        report::line(r, &shop.calendar, stamp.written)
                    });
                desk.saved(&done, &now, Value::Null)
            }
        }
    }
}

// Exit code 1 where something is overdue or was never done: somebody has to look.
fn list(desk: &mut Desk<'_>, shop: &Shop) -> Answer {
    let rows = shop.ledger.duties(shop.now)?;
    let code = u8::from(rows.iter().any(report::calls_for_attention));
    let mut lines: Vec<String> = rows
        .iter()
        .map(|r| report::line(r, &shop.calendar, shop.now))
        .collect();
    if lines.is_empty() {
        lines.push(
            "no recurring check or task is on the list; \"hangtime duty set\" puts it there"
                .to_owned(),
        );
    }
    let values: Vec<_> = rows
        .iter()
        .map(|r| report::json_of(r, &shop.calendar))
        .collect();
    desk.print(&values.into(), &lines)?;
    Ok(code)
}

/// Incidents, near misses, spills, fires and exposures, with what came of them.
#[derive(Debug, clap::Args)]
pub(super) struct Incident {
    #[command(subcommand)]
    deed: Option<IncidentDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum IncidentDeed {
    /// Something happened.
    Report {
        /// incident, "near miss", spill, fire or exposure.
        kind: String,
        /// What happened.
        text: String,
        /// Where.
        #[arg(long)]
        place: String,
        /// When it is to be looked at again, as 2026-04-01.
        #[arg(long, value_name = "DATE")]
        follow_up: Option<String>,
        #[command(flatten)]
        when: When,
    },
    /// What came of it.
    Follow {
        /// The entry that told of it.
        entry: i64,
        /// What was done or found.
        text: String,
        /// When it is to be looked at again.
        #[arg(long, value_name = "DATE", conflicts_with = "close")]
        next: Option<String>,
        /// Nothing more is to be done.
        #[arg(long)]
        close: bool,
    },
}

impl Incident {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let stamp = shop.stamp();
        match self.deed {
            Some(IncidentDeed::Report {
                kind,
                text,
                place,
                follow_up,
                when,
            }) => {
                let kind = IncidentKind::typed(&kind).ok_or_else(|| {
                    Trouble::Input(format!(
                        "kind \"{}\" is not known; write one of {}",
                        shown(&kind),
                        IncidentKind::choices()
                    ))
                })?;
                let follow_up = date(follow_up.as_ref())?;
                let who = desk.who(None)?;
                let at = when.at(&shop, stamp.written)?;
                let done = shop
                    .ledger
                    .record_incident(kind, &place, &text, follow_up, at, &who, &stamp)?;
                let what = format!(
                    "{} at {}, entry {}",
                    kind.word(),
                    shown(&place),
                    done.first.0
                );
                desk.saved(&done, &what, Value::Null)
            }
            Some(IncidentDeed::Follow {
                entry,
                text,
                next,
                close,
            }) => {
                let next = date(next.as_ref())?;
                let who = desk.who(None)?;
                let done =
                    shop.ledger
                        .follow_incident(entry, &text, (next, close), &who, &stamp)?;
                desk.saved(&done, &format!("what came of entry {entry}"), Value::Null)
            }
            None => {
                let rows = shop.ledger.incidents(shop.now)?;
                let today = shop.calendar.local(shop.now).date_naive();
                let late =
                    |i: &crate::ledger::IncidentRow| !i.closed && i.next.is_some_and(|d| d < today);
                let code = u8::from(rows.iter().any(late));
                let mut lines: Vec<String> = rows
                    .iter()
                    .flat_map(|i| report::incident_lines(i, &shop.calendar, shop.now))
                    .collect();
                if lines.is_empty() {
                    lines.push("no incident is recorded".to_owned());
                }
                let values: Vec<_> = rows
                    .iter()
                    .map(|i| report::incident_json(i, &shop.calendar, shop.now))
                    .collect();
                desk.print(&values.into(), &lines)?;
                Ok(code)
            }
        }
    }
}

/// Whom to ask: the ladder from the data sheet to the emergency services, as the shop fills it in.
#[derive(Debug, clap::Args)]
pub(super) struct Contact {
    #[command(subcommand)]
    deed: Option<ContactDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum ContactDeed {
    /// Fill in one step; an empty text takes it away.
    Set {
        /// The step: "safety lead", hygienist, "fire marshal", "air agency", ...
        role: String,
        /// Name and how to reach them.
        text: String,
    },
}

impl Contact {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        if let Some(ContactDeed::Set { role, text }) = self.deed {
            let who = desk.who(None)?;
            let stamp = shop.stamp();
            let done = shop.ledger.set_contact(&role, &text, &who, &stamp)?;
            return desk.saved(&done, &format!("to ask: {}", shown(&role)), Value::Null);
        }
        let rows = shop.ledger.contacts(shop.now)?;
        let mut lines: Vec<String> = rows.iter().map(report::contact_line).collect();
        if lines.is_empty() {
            lines.push(
                "nobody is filled in yet; \"hangtime contact set ROLE TEXT\" does it".to_owned(),
            );
        }
        lines.push(crate::shop::cautions::STANDING_LINE.to_owned());
        let values: Vec<_> = rows
            .iter()
            .map(|c| {
                json!({"role": c.role, "text": c.text, "by": c.person, "since": shop.calendar.rfc3339(c.at)})
            })
            .collect();
        desk.print(&values.into(), &lines)?;
        Ok(0)
    }
}

/// A room's size and the air that goes through it, with where the figures come from.
pub(super) fn room_air(
    desk: &mut Desk<'_>,
    room: &str,
    (size, flow): (Option<&String>, Option<&String>),
    source: &str,
) -> Answer {
    let mut shop = desk.shop()?;
    let size = size.map(|t| volume(t)).transpose()?;
    let flow = flow
        .map(|t| Flow::read(t, None))
        .transpose()
        .map_err(|e| Trouble::Input(e.to_string()))?;
    let who = desk.who(None)?;
    let stamp = shop.stamp();
    let done = shop
        .ledger
        .set_room_air(room, (size, flow), source, &who, &stamp)?;
    let rows = shop.ledger.room_airs(stamp.written)?;
    let what = rows
        .iter()
        .find(|r| r.room == room)
        .map_or_else(String::new, |r| {
            report::air_line(r, &shop.calendar, stamp.written)
        });
    desk.saved(&done, &what, Value::Null)
}
