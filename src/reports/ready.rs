//! What is ready now, and what by when: by rack, with the piece that blocks it.

use super::CHECK_BY_HAND;
use super::piece_json::{piece, reason};
use super::{average_day, clock};
use crate::ledger::{Seen, Spread};
use crate::shop::average_day::BASIS;
use crate::shop::calendar::Calendar;
use crate::shop::words::{Outlook, StepKind, Word};
use crate::units::Moment;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// The pieces of one rack that have the asked step next.
#[derive(Debug, Clone)]
pub struct RackReady<'a> {
    /// The rack; `None` for pieces without one.
    pub rack: Option<String>,
    /// The pieces, in hook order.
    pub pieces: Vec<&'a Seen>,
    /// When the latest of them is ready; `None` when one is held or unknown.
    pub ready_at: Option<Moment>,
    /// The piece that decides, when it alone or with few others holds the rest back.
    pub blocker: Option<&'a Seen>,
    /// How many pieces decide with it.
    pub blocking: usize,
    /// All of these, in hook order; none where they are the most of the rack.
    pub blockers: Vec<&'a Seen>,
    /// When the rack would be ready without the blocker, and how many pieces that is.
    pub without: Option<(Moment, usize)>,
}

impl RackReady<'_> {
    /// How many of its pieces are ready now.
    pub fn ready_now(&self) -> usize {
        self.pieces
            .iter()
            .filter(|s| s.view.outlook == Outlook::Ready)
            .count()
    }

    // The piece that is ready last, of all or of those that can be timed, where its time is still to come.
    fn last(&self) -> Option<&Seen> {
        let time = self.ready_at.or(self.without.map(|(m, _)| m))?;
        let mut pieces = self.pieces.iter();
        let waits = |s: &Seen| s.view.outlook == Outlook::Waiting;
        pieces
            .find(|s| waits(s) && s.view.ready_at == Some(time))
            .copied()
    }

    /// `R20 from 11:00; 23 of 24 from 09:10; blocked by B-0733`. The word *ready* stands only beside what is ready now;
    /// once all of it is, nothing is named as blocking.
    pub fn line(&self, at: Moment, calendar: &Calendar) -> String {
        let name = self.rack.as_deref().unwrap_or("no rack");
        format!("{name} {}", self.words(at, calendar))
    }

    /// The same without the rack's name, for a list that has it in a column.
    pub fn words(&self, at: Moment, calendar: &Calendar) -> String {
        let (n, ready) = (self.pieces.len(), self.ready_now());
        let pieces = format!("{n} piece{}", if n == 1 { "" } else { "s" });
        if let Some(text) = self.words_beside_held(at, calendar) {
            return text;
        }
        let mut text = match self.ready_at {
            Some(m) if ready == n => {
                format!("ready since {}; {pieces}", calendar.near(m, at))
            }
            Some(m) if ready > 0 => {
                format!("from {}; {ready} of {n} ready now", calendar.near(m, at))
            }
            Some(m) => {
                let part = match self.without {
                    Some((m, k)) => format!("{k} of {n} from {}", calendar.near(m, at)),
                    None => pieces,
                };
                format!("from {}; {part}", calendar.near(m, at))
            }
            // Of a rack that cannot be timed as a whole only what is known of a part is said: there is no room for more.
            None if ready > 0 => format!("{ready} of {n} ready"),
            None => match self.without {
                Some((m, k)) => format!("{k} of {n} from {}", calendar.near(m, at)),
                None => format!("not ready; {pieces}"),
            },
        };
        if ready < n
            && let Some(blocker) = self.blocker
        {
            text.push_str(&format!("; blocked by {}", blocker.now.piece.serial));
            if self.blocking > 1 {
                text.push_str(&format!(" and {} more", self.blocking - 1));
            }
            match (blocker.view.outlook, &blocker.now.begun) {
                (Outlook::Held, _) => text.push_str(" (held)"),
                (Outlook::InWork, Some(b)) => text.push_str(&format!(
                    " (in work since {} by {})",
                    calendar.near(b.at, at),
                    b.person
                )),
                _ => {}
            }
        }
        text + &self.doubts(ready < n)
    }

    // Where some are held and the others can be timed: when those are ready, and who is held.
    fn words_beside_held(&self, at: Moment, calendar: &Calendar) -> Option<String> {
        let held: Vec<&str> = self
            .pieces
            .iter()
            .filter(|s| s.view.outlook == Outlook::Held)
            .map(|s| s.now.piece.serial.as_str())
            .collect();
        let (n, ready) = (self.pieces.len(), self.ready_now());
        let others = n - held.len();
        let when = calendar.near(judged(&self.pieces).ready_at?, at);
        let held = match held.as_slice() {
            [] => return None,
            [one] => format!("{one} held"),
            [first, rest @ ..] => format!("{first} and {} more held", rest.len()),
        };
        let when = if ready == others {
            format!("ready since {when}; {others} of {n}")
        } else if ready > 0 {
            format!("from {when}; {others} of {n}, {ready} now")
        } else {
            format!("from {when}; {others} of {n}")
        };
        Some(format!("{when}; {held}") + &self.doubts(ready < others))
    }

    fn doubts(&self, waits: bool) -> String {
        let mut text = String::new();
        let doubted = self.pieces.iter().filter(|s| clock::held_back(s)).count();
        if doubted > 0 {
            text.push_str(&format!("; {doubted} with {}", clock::NOT_CONFIRMED));
        }
        if waits && self.pieces.iter().any(|s| s.view.provisional) {
            text.push_str("; provisional");
        }
        text
    }
}

/// The judgement on the pieces of a rack together.
#[derive(Debug, Clone, Copy)]
pub struct Judged<'a> {
    /// That of its latest piece; *held* when all of it is held.
    pub outlook: Outlook,
    /// When its latest piece is ready; `None` when that cannot be told.
    pub ready_at: Option<Moment>,
    /// The piece that it waits for; `None` when all of it is held.
    pub latest: Option<&'a Seen>,
}

/// How the pieces of a rack stand together: the latest speaks for them. A held piece is an exception that is listed beside it,
/// as a deed on the rack leaves it out, unless all of them are held.
pub fn judged<'a>(pieces: &[&'a Seen]) -> Judged<'a> {
    let moving = pieces.iter().filter(|s| s.view.outlook != Outlook::Held);
    let latest = moving.max_by_key(|s| lateness(s)).copied();
    Judged {
        outlook: latest.map_or(Outlook::Held, |s| s.view.outlook),
        ready_at: latest.and_then(|s| lateness(s).1),
        latest,
    }
}

// Pieces that cannot be timed come last of all.
fn lateness(seen: &Seen) -> (bool, Option<Moment>) {
    let timed = matches!(seen.view.outlook, Outlook::Ready | Outlook::Waiting);
    (!timed, if timed { seen.view.ready_at } else { None })
}

/// Groups the pieces whose next step is one of `kinds` by rack, the earliest rack first.
pub fn by_rack<'a>(floor: &'a [Seen], kinds: &[StepKind]) -> Vec<RackReady<'a>> {
    by_rack_of(floor, |s| s.view.deed().is_some_and(|k| kinds.contains(&k)))
}

/// Groups the pieces that are meant by rack, the earliest rack first.
pub fn by_rack_of(floor: &[Seen], meant: impl Fn(&Seen) -> bool) -> Vec<RackReady<'_>> {
    let mut racks: BTreeMap<(bool, Option<String>), Vec<&Seen>> = BTreeMap::new();
    for seen in floor.iter().filter(|s| meant(s)) {
        let rack = seen.now.place().and_then(|p| p.rack.clone());
        racks.entry((rack.is_none(), rack)).or_default().push(seen);
    }
    let mut out: Vec<RackReady<'_>> = racks
        .into_iter()
        .map(|((_, rack), pieces)| {
            let latest = pieces.iter().map(|s| lateness(s)).max();
            let ready_at = latest.filter(|(untimed, _)| !untimed).and_then(|(_, m)| m);
            let blockers: Vec<&&Seen> = pieces
                .iter()
                .filter(|s| Some(lateness(s)) == latest)
                .collect();
            let rest: Vec<&&Seen> = pieces
                .iter()
                .filter(|s| Some(lateness(s)) != latest)
                .collect();
            let without = rest
                .iter()
                .map(|s| lateness(s))
                .max()
                .filter(|(untimed, _)| !untimed)
                .and_then(|(_, m)| m)
                .map(|m| (m, rest.len()));
            let few = blockers.len() <= rest.len();
            RackReady {
                rack,
                ready_at,
                blocking: blockers.len(),
                blocker: if few {
                    blockers.first().map(|s| **s)
                } else {
                    None
                },
                without: if few { without } else { None },
                blockers: if few {
                    blockers.iter().map(|s| **s).collect()
                } else {
                    Vec::new()
                },
                pieces,
            }
        })
        .collect();
    out.sort_by(|a, b| {
        (a.ready_at.is_none(), a.ready_at, &a.rack).cmp(&(
            b.ready_at.is_none(),
            b.ready_at,
            &b.rack,
        ))
    });
    out
}

/// The pieces that speak for their racks, for whoever looks up the spread of their times.
pub fn last_of_each<'a>(floor: &'a [Seen], kinds: &[StepKind]) -> Vec<&'a Seen> {
    let racks = by_rack(floor, kinds);
    let last: BTreeSet<&str> = racks
        .iter()
        .filter_map(|r| Some(r.last()?.now.piece.serial.as_str()))
        .collect();
    let all = floor.iter();
    all.filter(|s| last.contains(s.now.piece.serial.as_str()))
        .collect()
}

/// What is known of the times to come, by the serial of the piece that speaks for a rack.
pub type Spreads = BTreeMap<String, Spread>;

/// The answer as JSON.
pub fn answer(
    floor: &[Seen],
    kinds: &[StepKind],
    spreads: &Spreads,
    at: Moment,
    calendar: &Calendar,
) -> Value {
    let racks = by_rack(floor, kinds);
    let ready: Vec<&str> = racks
        .iter()
        .flat_map(|r| &r.pieces)
        .filter(|s| s.view.outlook == Outlook::Ready)
        .map(|s| s.now.piece.serial.as_str())
        .collect();
    json!({
        "at": calendar.rfc3339(at),
        "steps": kinds.iter().map(|k| k.word()).collect::<Vec<_>>(),
        "ready_now": ready,
        "note": CHECK_BY_HAND,
        "racks": racks.iter().map(|r| json!({
            "rack": r.rack,
            "ready_at": r.ready_at.map(|m| calendar.rfc3339(m)),
            "ready_now": r.ready_now(),
            "pieces": r.pieces.iter().map(|s| piece(s, at, calendar)).collect::<Vec<_>>(),
            "blocked_by": r.blocker.map(|b| b.now.piece.serial.clone()),
            "blocked_why": r.blocker.map(|b| b.view.reasons.iter().map(|o| reason(o, calendar)).collect::<Vec<_>>()),
            "without_it": r.without.map(|(m, k)| json!({"ready_at": calendar.rfc3339(m), "pieces": k})),
            "mixed": mixed(&r.pieces),
            "average_day": r.last().and_then(|s| spreads.get(&s.now.piece.serial)).map(|s| average_day::json(s, calendar)),
            "line": r.line(at, calendar),
        })).collect::<Vec<_>>(),
    })
}

/// The answer as lines.
pub fn lines(
    floor: &[Seen],
    kinds: &[StepKind],
    spreads: &Spreads,
    at: Moment,
    calendar: &Calendar,
) -> Vec<String> {
    let racks = by_rack(floor, kinds);
    let total: usize = racks.iter().map(RackReady::ready_now).sum();
    let names: Vec<&str> = kinds.iter().map(|k| k.word()).collect();
    let mut out = vec![format!(
        "{}: {total} ready at {} ({CHECK_BY_HAND})",
        names.join(", "),
        calendar.stamp(at)
    )];
    out.extend(racks.iter().map(|r| {
        let mixed = mixed(&r.pieces).map_or(String::new(), |m| format!("; {m}"));
        let spread = r.last().and_then(|s| spreads.get(&s.now.piece.serial));
        let spread = spread.map_or(String::new(), |s| {
            format!("; {}", average_day::words(s, at, calendar))
        });
        format!("{}{mixed}{spread}", r.line(at, calendar))
    }));
    if spreads.values().any(|s| s.cases.is_some()) {
        out.push(format!("average day: {BASIS}"));
    }
    if racks.is_empty() {
        out.push(
            "no piece has this step next; \"hangtime floor\" shows what is next for each"
                .to_owned(),
        );
    }
    out
}

/// `mixed: 17 at 5, 7 at 4` when the pieces of a rack differ in clear coats, else `None`.
pub fn mixed(pieces: &[&Seen]) -> Option<String> {
    let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
    for seen in pieces {
        *counts
            .entry(super::piece_json::clear_coats(seen).0)
            .or_insert(0) += 1;
    }
    (counts.len() > 1).then(|| {
        let parts: Vec<String> = counts
            .iter()
            .rev()
            .map(|(coats, n)| format!("{n} at {coats}"))
            .collect();
        format!("mixed: {}", parts.join(", "))
    })
}
