//! The page of a shift's end: what whoever comes next has to know, so that nothing rests on what was said at the door.
//!
//! *Invariants*: a figure is the one that its own command gives; what nobody logged, checked or read is said as unknown.
//! The page carries the number and hash of the newest action that it tells of, so that it can be held against the record.
//!
//! *Not here*: printing, and who took it (`Ledger::hand_overs`).

use super::booth::pot_left;
use super::checks::{self, Kind};
use super::day_list::{DayList, Facts, Part, Row};
use super::{CHECK_BY_HAND, book, duties, piece_json, stock};
use crate::alerts::Event;
use crate::ledger::{AtRisk, HandOverRow, Ledger, LedgerError, Seen};
use crate::shop::alert::{AlertKind, HandOverFact};
use crate::shop::calendar::Calendar;
use crate::shop::cautions::STANDING_LINE;
use crate::shop::text::shown;
use crate::shop::words::{Outlook, Word};
use crate::units::{Moment, Span, System};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// For how long after its last wet coat a rack is on the page: a day (ours, no source). What stands longer in its cure is
/// on the day's list.
const WET: Span = Span::hours(24);

/// A pot that was made longer ago than this is only counted (common practice, no source: a pot lasts days at the most).
const POT_DAYS: Span = Span::hours(24 * 7);

/// A deed that comes round as often as this is on the page also when it was done: the next shift asks about it.
const OFTEN: Span = Span::hours(48);

/// A part of the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Section {
    /// Its heading.
    pub name: &'static str,
    /// The key of its lines in JSON.
    pub key: &'static str,
    /// Its lines.
    pub lines: Vec<String>,
    /// What is said where there are none.
    pub nothing: &'static str,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// As of which moment.
    pub at: Moment,
    /// Its parts.
    pub sections: Vec<Section>,
    /// Number and hash of the newest action.
    pub head: (i64, String),
}

fn section(
    name: &'static str,
    key: &'static str,
    lines: Vec<String>,
    nothing: &'static str,
) -> Section {
    Section {
        name,
        key,
        lines,
        nothing,
    }
}

/// The page at a moment. `floor` are the pieces in process, `events` what the record has worth telling then.
pub fn page(
    ledger: &Ledger,
    floor: &[Seen],
    events: &[Event],
    at: Moment,
    system: System,
) -> Result<Page, LedgerError> {
    let calendar = ledger.calendar();
    let risk = AtRisk {
        looked_at: 0,
        pairs: Vec::new(),
    };
    let facts = Facts {
        floor,
        risk: &risk,
        deviations: &ledger.deviations(false)?,
        rooms: &[],
        hooks: &[],
        hours: (&ledger.working(at)?, ledger.shifts(at)?.1),
    };
    let list = DayList::of(&facts, at, &calendar);
    let rows = |part: Part| list.rows(part).iter().map(row_line).collect::<Vec<_>>();
    let half_done = list
        .rows(Part::HalfDone)
        .iter()
        .flat_map(|r| std::iter::once(row_line(r)).chain(r.more.iter().map(|m| format!("  {m}"))));
    let air = events
        .iter()
        .filter(|e| matches!(e.key.kind, AlertKind::Silent | AlertKind::Air));
    let given = ledger.hand_overs(at)?.into_iter();
    let incidents = ledger.incidents(at)?.into_iter().filter(|i| !i.closed);
    Ok(Page {
        at,
        head: ledger.head()?,
        sections: vec![
            section(
                "wet, with the time of the next step",
                "wet",
                wet(floor, at, &calendar),
                "no rack that was wet within the last 24 hours still waits",
            ),
            section(
                "open pots",
                "pots",
                pots(ledger, floor, at, system)?,
                "no pot of the last seven days is open",
            ),
            section("booths", "booths", booths(ledger, at)?, "no booth is known"),
            section(
                "recurring checks and tasks, waste drums",
                "comes_round",
                comes_round(ledger, at, system)?,
                "nothing on the list is overdue, unknown or near",
            ),
            section(
                "the air",
                "air",
                air.map(|e| e.text.clone()).collect(),
                "no room is silent, and none outside what the recipes there state, as far as it is logged",
            ),
            section("on hold", "held", rows(Part::Held), Part::Held.nothing()),
            section(
                "half-done",
                "half_done",
                half_done.collect(),
                Part::HalfDone.nothing(),
            ),
            section(
                "deviations not answered yet",
                "deviations",
                rows(Part::Deviations),
                Part::Deviations.nothing(),
            ),
            section(
                "incidents that are open",
                "incidents",
                incidents
                    .map(|i| {
                        format!(
                            "{} {}",
                            i.kind.word(),
                            duties::incident_words(&i, &calendar, at)
                        )
                    })
                    .collect(),
                "no incident is recorded as open",
            ),
            section(
                "handovers that nobody took",
                "not_taken",
                given
                    .filter(|h| h.taken.is_none())
                    .map(|h| row_of(&h, &calendar, at))
                    .collect(),
                "none",
            ),
        ],
    })
}

fn row_line(row: &Row) -> String {
    let [one, two] = &row.lead;
    let parts: Vec<&str> = [one.as_str(), two.as_str(), row.text.as_str()]
        .into_iter()
        .filter(|t| !t.is_empty())
        .collect();
    shown(&parts.join("  "))
}

// The coats that a piece has by now, of the kind that was wet last: `clear 2`.
fn coat_of(seen: &Seen) -> Option<String> {
    let site = seen.site()?;
    let kind = site.standing.last_wet_kind?;
    let done = site.standing.coats(site.steps, kind);
    Some(format!("{} {done}", kind.word()))
}

fn wet(floor: &[Seen], at: Moment, calendar: &Calendar) -> Vec<String> {
    // What hangs together, has the same coats and waits for the same next step is one line.
    type Group<'a> = BTreeMap<(bool, String, String, String), Vec<&'a Seen>>;
    let mut groups: Group<'_> = BTreeMap::new();
    for seen in floor {
        let waits = matches!(seen.view.outlook, Outlook::Waiting | Outlook::Unknown);
        let fresh = seen.last_wet().is_some_and(|m| at.since(m) < WET);
        let Some(coat) = coat_of(seen).filter(|_| waits && fresh) else {
            continue;
        };
        let name = seen.rack().map_or_else(
            || (true, seen.now.piece.serial.clone()),
            |r| (false, r.to_owned()),
        );
        groups
            .entry((name.0, name.1, coat, seen.view.next.clone()))
            .or_default()
            .push(seen);
    }
    let mut timed: Vec<(Option<Moment>, String)> = groups
        .into_iter()
        .map(|((_, name, coat, next), pieces)| {
            let latest = pieces
                .iter()
                .max_by_key(|s| (s.view.ready_at.is_none(), s.view.ready_at));
            let ready_at = latest.and_then(|s| s.view.ready_at);
            let wet = pieces.iter().filter_map(|s| s.last_wet()).max();
            let when = latest
                .map(|s| piece_json::when(s, at, calendar))
                .filter(|w| !w.is_empty())
                .unwrap_or_else(|| "unknown when".to_owned());
            let n = pieces.len();
            let s = if n == 1 { "" } else { "s" };
            let since = wet.map_or_else(String::new, |m| {
                format!(" wet since {}", calendar.near(m, at))
            });
            let line = format!(
                "{}: {coat}{since}, {n} piece{s}; next {next} from {when}",
                shown(&name)
            );
            (ready_at, line)
        })
        .collect();
    timed.sort_by_key(|(m, _)| (m.is_none(), *m));
    timed.into_iter().map(|(_, line)| line).collect()
}

fn pots(
    ledger: &Ledger,
    floor: &[Seen],
    at: Moment,
    system: System,
) -> Result<Vec<String>, LedgerError> {
    let calendar = ledger.calendar();
    let (open, older) = ledger.open_pots(at.minus(POT_DAYS))?;
    let mut lines = Vec::new();
    for (mix, pot) in open {
        let row = ledger.mix_made(mix)?;
        if row.made > at {
            continue;
        }
        // A pot life is said where the piece that it fits states one; for the rest it is the age that tells.
        let life = floor.iter().find_map(|s| {
            let reaction = s.recipe.reaction.as_ref()?;
            let mut steps = s.recipe.steps.iter().filter(|st| st.kind.wets());
            let fits = steps.any(|st| crate::shop::rules::fits(&s.recipe, st, &row.kinds));
            fits.then(|| reaction.pot_life(None))
        });
        let life = match pot_left(life, row.mixed, at) {
            None => String::new(),
            Some(left) if left.0 <= 0 => ", its pot life is over".to_owned(),
            Some(left) => format!(", pot life {} more by the recipe", left.words()),
        };
        lines.push(format!(
            "mix {mix} {}: opened {}, {} old, {} of {} left by the log{life}",
            shown(&row.name),
            calendar.near(row.mixed, at),
            Span::minutes(at.since(row.mixed).0 / 60_000).words(),
            book::litres(pot.level, system),
            book::litres(pot.made, system)
        ));
    }
    if older > 0 {
        let s = if older == 1 { " was" } else { "es were" };
        lines.push(format!("{older} older mix{s} never closed"));
    }
    Ok(lines)
}

// The check of the day and the gauge; a survey is no matter of a shift.
fn booths(ledger: &Ledger, at: Moment) -> Result<Vec<String>, LedgerError> {
    let calendar = ledger.calendar();
    let checks = checks::checks(ledger, at)?.into_iter();
    Ok(checks
        .filter(|c| c.kind != Kind::Survey)
        .map(|c| {
            let remark = c.remarked().map_or_else(String::new, |r| format!("; {r}"));
            format!("{}{remark}", c.line(&calendar, at))
        })
        .collect())
}

fn comes_round(ledger: &Ledger, at: Moment, system: System) -> Result<Vec<String>, LedgerError> {
    use crate::shop::duty::DutyState;
    let (calendar, limits) = (ledger.calendar(), ledger.ceilings()?);
    let mut lines: Vec<String> = ledger
        .duties(at)?
        .iter()
        .filter(|d| {
            let often = d.duty.every.is_some_and(|every| every <= OFTEN);
            d.standing.state != DutyState::Later || often
        })
        .map(|d| {
            format!(
                "{} of {}: {}",
                shown(&d.duty.name),
                shown(&d.duty.about),
                duties::state_words(d, &calendar, at)
            )
        })
        .collect();
    for drum in ledger.drums(at)? {
        let clock = stock::clock(&drum, &limits, &calendar, at);
        if matches!(clock.state, "over" | "soon") {
            lines.push(format!(
                "drum {}: {}",
                shown(&drum.drum),
                stock::drum_words(&drum, &clock, &calendar, system)
            ));
        }
    }
    Ok(lines)
}

impl Page {
    /// As a page to print.
    pub fn lines(&self, shop: &str, calendar: &Calendar) -> Vec<String> {
        let mut out = vec![
            format!("Handover of {} at {}", shown(shop), calendar.full(self.at)),
            format!("ready and \"from\": {CHECK_BY_HAND}"),
        ];
        for section in &self.sections {
            out.push(String::new());
            if section.lines.is_empty() {
                out.push(format!("{}: {}", section.name, section.nothing));
                continue;
            }
            out.push(format!("{}: {}", section.name, section.count()));
            out.extend(section.lines.iter().map(|l| format!("  {l}")));
        }
        out.push(String::new());
        out.push(format!("head: action {}, {}", self.head.0, self.head.1));
        out.push(STANDING_LINE.to_owned());
        out
    }

    /// As JSON.
    pub fn json(&self, calendar: &Calendar) -> Value {
        let mut value = json!({
            "at": calendar.rfc3339(self.at), "note": CHECK_BY_HAND,
            "head": {"action": self.head.0, "hash": self.head.1},
        });
        if let Some(map) = value.as_object_mut() {
            for section in &self.sections {
                map.insert(section.key.to_owned(), json!(section.lines));
            }
        }
        value
    }
}

impl Section {
    // Lines that belong to the one above them are no further thing.
    fn count(&self) -> usize {
        self.lines.iter().filter(|l| !l.starts_with("  ")).count()
    }
}

/// A hand-over that was given, as a line.
pub fn row_of(row: &HandOverRow, calendar: &Calendar, at: Moment) -> String {
    let taken = match &row.taken {
        None => "OPEN: nobody took it".to_owned(),
        Some((who, when)) => format!("taken {} by {}", calendar.near(*when, at), shown(who)),
    };
    format!(
        "entry {}, given {} by {}, up to action {}; {taken}",
        row.entry,
        calendar.near(row.at, at),
        shown(&row.person),
        row.head.0
    )
}

/// A hand-over that was given, as JSON.
pub fn row_json(row: &HandOverRow, calendar: &Calendar) -> Value {
    let taken = row.taken.as_ref();
    json!({
        "entry": row.entry, "by": row.person, "at": calendar.rfc3339(row.at), "text": row.text,
        "head": {"action": row.head.0, "hash": row.head.1}, "open": taken.is_none(),
        "taken": taken.map(|(who, when)| json!({"by": who, "at": calendar.rfc3339(*when)})),
    })
}

/// A fact about a change of shifts in words.
pub(super) fn fact_words(fact: &HandOverFact) -> String {
    match fact {
        HandOverFact::Given { action, head, .. } => {
            format!("handover given, up to action {action}, head {head}")
        }
        HandOverFact::Taken { given } => format!("handover of entry {given} taken"),
    }
}
