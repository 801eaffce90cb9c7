//! What is worth telling someone, and telling them once: events and the shop's rules -> who is told now, by which way.
//!
//! *Invariants*: nobody is told but by a rule of the shop; one event tells one person once by one way, on whatever
//! terminal, unless the rule repeats; who took note of it is not told again. Quiet hours hold calls back and lose none
//! that still holds afterwards.
//!
//! *Not here*: what raises an event (`reports::lookout`), the terminal's line (`screens`), the loop that sends
//! (`commands::watch`).

pub mod ways;

use crate::ledger::{AlertMarks, Claim};
use crate::shop::alert::{AlertKey, AlertRule, To, Way};
use crate::shop::calendar::Calendar;
use crate::shop::words::{Role, Word};
use crate::units::Moment;
use std::collections::BTreeSet;

/// Something that holds at a moment and that is worth telling.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// By what it is known.
    pub key: AlertKey,
    /// When it came up: by this the newest is shown first.
    pub at: Moment,
    /// In plain words.
    pub text: String,
}

/// An event with what was said of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alert {
    /// The event.
    pub event: Event,
    /// Who was told, who took note, who put it off.
    pub marks: AlertMarks,
}

impl Alert {
    /// Whether a person took note of it.
    pub fn seen_by(&self, person: &str) -> bool {
        self.marks.seen.iter().any(|(who, _)| who == person)
    }

    /// Until when a person does not want to hear of it, where that is still ahead.
    pub fn put_off_by(&self, person: &str, at: Moment) -> Option<Moment> {
        let theirs = self.marks.snoozed.iter().filter(|(who, _)| who == person);
        theirs
            .map(|(_, until)| *until)
            .next_back()
            .filter(|until| *until > at)
    }

    // Whether somebody need not hear of it now. A station is nobody by name: there any person's note counts.
    fn done_with(&self, to: &str, named: bool, at: Moment) -> bool {
        if named {
            self.seen_by(to) || self.put_off_by(to, at).is_some()
        } else {
            let off = self
                .marks
                .snoozed
                .last()
                .is_some_and(|(_, until)| *until > at);
            !self.marks.seen.is_empty() || off
        }
    }
}

/// Who looks at a screen.
#[derive(Debug, Clone, Copy)]
pub struct Listener<'a> {
    /// Initials; `None` while nobody said who they are.
    pub person: Option<&'a str>,
    /// The role in the people list.
    pub role: Option<Role>,
    /// The terminal.
    pub station: &'a str,
}

/// What a screen shows of an alert.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// By what it is known.
    pub key: AlertKey,
    /// In plain words.
    pub text: String,
    /// Whom to claim before the bell rings; `None` where they were told before, or quiet hours hold.
    pub ring: Option<Claim>,
}

// Whether a rule is for these initials in this role at this station; where only the station is meant, it is nobody by name.
fn is_for(rule: &AlertRule, key: &AlertKey, listener: &Listener<'_>) -> bool {
    let has = |wanted: Role| listener.person.is_some() && listener.role == Some(wanted);
    if rule.to.is_empty() {
        return has(key.kind.role());
    }
    rule.to.iter().any(|to| match to {
        To::Role(wanted) => has(*wanted),
        To::Person(who) => listener.person == Some(who),
        To::Station(name) => listener.station == name,
    })
}

// What was told before this moment is told again.
fn again_before(rule: &AlertRule, at: Moment) -> Option<Moment> {
    // Told exactly so long ago is long enough.
    rule.repeat.map(|every| Moment(at.minus(every).0 + 1))
}

// Whether somebody is to be told now by this rule; gives the claim.
fn claim(alert: &Alert, rule: &AlertRule, to: &str, at: Moment) -> Option<Claim> {
    let after = again_before(rule, at);
    let told = alert.marks.told(to, rule.way);
    told.is_none_or(|told| after.is_some_and(|after| told < after))
        .then(|| Claim {
            key: alert.event.key.clone(),
            to: to.to_owned(),
            way: rule.way,
            after,
        })
}

/// What a screen shows its person, the newest first.
pub fn on_screen(
    alerts: &[Alert],
    rules: &[AlertRule],
    listener: &Listener<'_>,
    at: Moment,
    calendar: &Calendar,
) -> Vec<Line> {
    let station = To::Station(listener.station.to_owned()).words();
    let to = listener.person.unwrap_or(&station);
    let mut lines = Vec::new();
    for alert in alerts {
        if alert.done_with(to, listener.person.is_some(), at) {
            continue;
        }
        let mut theirs = rules
            .iter()
            .filter(|r| r.way == Way::Screen && r.kinds.contains(&alert.event.key.kind))
            .filter(|r| is_for(r, &alert.event.key, listener))
            .peekable();
        if theirs.peek().is_none() {
            continue;
        }
        let ring = theirs
            .filter(|r| !r.quiet.is_some_and(|q| q.holds(at, calendar)))
            .find_map(|r| claim(alert, r, to, at));
        lines.push((
            alert.event.at,
            Line {
                key: alert.event.key.clone(),
                text: alert.event.text.clone(),
                ring,
            },
        ));
    }
    lines.sort_by_key(|(at, _)| std::cmp::Reverse(*at));
    lines.into_iter().map(|(_, line)| line).collect()
}

/// Something to send.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sending {
    /// The event.
    pub event: Event,
    /// The rule that asks for it.
    pub rule: String,
    /// By which way.
    pub way: Way,
    /// Whom, and what to claim first.
    pub claims: Vec<Claim>,
}

/// What is to be sent now by the ways that need no screen. `people` are those of the list with their roles; a role that
/// nobody has is told by its own name.
pub fn to_send(
    alerts: &[Alert],
    rules: &[AlertRule],
    people: &[(String, Role)],
    at: Moment,
    calendar: &Calendar,
) -> Vec<Sending> {
    let mut out: Vec<Sending> = Vec::new();
    // Two rules that mean the same person by the same way tell them once.
    let mut meant: BTreeSet<(AlertKey, String, Way)> = BTreeSet::new();
    for rule in rules {
        let quiet = rule.quiet.is_some_and(|q| q.holds(at, calendar));
        if rule.way == Way::Screen || quiet {
            continue;
        }
        for alert in alerts {
            if !rule.kinds.contains(&alert.event.key.kind) {
                continue;
            }
            let claims: Vec<Claim> = recipients(rule, &alert.event.key, people)
                .into_iter()
                .filter(|(to, named)| !alert.done_with(to, *named, at))
                .filter_map(|(to, _)| claim(alert, rule, &to, at))
                .filter(|c| meant.insert((c.key.clone(), c.to.clone(), c.way)))
                .collect();
            if !claims.is_empty() {
                out.push(Sending {
                    event: alert.event.clone(),
                    rule: rule.name.clone(),
                    way: rule.way,
                    claims,
                });
            }
        }
    }
    out
}

// Whom a rule means for an alert, and whether that is a person by name.
fn recipients(
    rule: &AlertRule,
    key: &AlertKey,
    people: &[(String, Role)],
) -> BTreeSet<(String, bool)> {
    let own = [To::Role(key.kind.role())];
    let to = if rule.to.is_empty() {
        own.as_slice()
    } else {
        rule.to.as_slice()
    };
    let mut out = BTreeSet::new();
    for to in to {
        match to {
            To::Role(wanted) => {
                let theirs = people.iter().filter(|(_, r)| r == wanted);
                let theirs: Vec<(String, bool)> =
                    theirs.map(|(who, _)| (who.clone(), true)).collect();
                if theirs.is_empty() {
                    out.insert((wanted.word().to_owned(), false));
                }
                out.extend(theirs);
            }
            To::Person(who) => {
                out.insert((who.clone(), true));
            }
            To::Station(_) => {
                out.insert((to.words(), false));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests;
