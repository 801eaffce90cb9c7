//! Alerts, the shop's rules for them and who took note, as lines and JSON.
//!
//! *Not here*: what raises an alert (`lookout`), who is told (`crate::alerts`).

use crate::alerts::{Alert, Event, Sending};
use crate::ledger::AlertRuleRow;
use crate::shop::alert::{AlertFact, AlertKey, AlertRule, Quiet, To};
use crate::shop::calendar::Calendar;
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::Moment;
use serde_json::{Value, json};

/// What is said where alerts are listed and no rule is entered.
pub const NO_RULE: &str = "no rule is entered, so nobody is told of anything; \"hangtime alert rule set usual --for all\" shows each role its own on the screens";

/// The event as JSON.
pub fn event_json(event: &Event, calendar: &Calendar) -> Value {
    json!({
        "id": event.key.id(), "kind": event.key.kind.word(), "about": event.key.about,
        "role": event.key.kind.role().word(), "since": calendar.rfc3339(event.key.since),
        "at": calendar.rfc3339(event.at), "text": event.text,
    })
}

/// What a command of the shop's own reads.
pub fn sending_json(sending: &Sending, shop: &str, demo: bool, calendar: &Calendar) -> Value {
    let mut value = event_json(&sending.event, calendar);
    if let Some(map) = value.as_object_mut() {
        let to: Vec<&str> = sending.claims.iter().map(|c| c.to.as_str()).collect();
        map.insert("to".to_owned(), json!(to));
        map.insert("rule".to_owned(), json!(sending.rule));
        map.insert("shop".to_owned(), json!(shop));
        map.insert("demo".to_owned(), json!(demo));
    }
    value
}

/// An alert as JSON.
pub fn json_of(alert: &Alert, calendar: &Calendar) -> Value {
    let mut value = event_json(&alert.event, calendar);
    let time = |m: Moment| calendar.rfc3339(m);
    let marks = &alert.marks;
    if let Some(map) = value.as_object_mut() {
        let seen = marks.seen.iter();
        let seen = seen.map(|(who, at)| json!({"by": who, "at": time(*at)}));
        map.insert("seen".to_owned(), seen.collect());
        let off = marks.snoozed.iter();
        let off = off.map(|(who, until)| json!({"by": who, "until": time(*until)}));
        map.insert("put_off".to_owned(), off.collect());
        let told = marks.told.iter().map(
            |t| json!({"to": t.to, "way": t.way.word(), "at": time(t.at), "not_reached": t.fault}),
        );
        map.insert("told".to_owned(), told.collect());
    }
    value
}

/// An alert as a line, and who took note of it on a second one.
pub fn lines(alert: &Alert, calendar: &Calendar, at: Moment) -> Vec<String> {
    let key = &alert.event.key;
    let mut out = vec![format!(
        "{}  {:<14}  {:<11}  {}",
        key.id(),
        key.kind.word(),
        key.kind.role().word(),
        alert.event.text
    )];
    let near = |m: Moment| calendar.near(m, at);
    let marks = &alert.marks;
    let mut said: Vec<String> = Vec::new();
    for (who, when) in &marks.seen {
        said.push(format!("{} saw it {}", shown(who), near(*when)));
    }
    for (who, until) in marks.snoozed.iter().filter(|(_, until)| *until > at) {
        said.push(format!("{} put it off to {}", shown(who), near(*until)));
    }
    for told in &marks.told {
        said.push(match &told.fault {
            None => format!(
                "{} told {} by {}",
                shown(&told.to),
                near(told.at),
                told.way.word()
            ),
            Some(why) => format!(
                "{} not reached {} by {}: {}",
                shown(&told.to),
                near(told.at),
                told.way.word(),
                shown(why)
            ),
        });
    }
    if !said.is_empty() {
        out.push(format!("        {}", said.join("; ")));
    }
    out
}

// `night: room silent, room air; to supervisor, person MK; by command; quiet 22:00-06:00; again after 1 h`.
fn rule_words(rule: &AlertRule) -> String {
    let kinds: Vec<&str> = rule.kinds.iter().map(|k| k.title()).collect();
    let kinds = if kinds.len() == crate::shop::alert::AlertKind::ALL.len() {
        "all kinds".to_owned()
    } else {
        kinds.join(", ")
    };
    let to: Vec<String> = rule.to.iter().map(To::words).collect();
    let to = if to.is_empty() {
        "the role of each kind".to_owned()
    } else {
        shown(&to.join(", "))
    };
    let mut text = format!(
        "{}: {kinds}; to {to}; by {}",
        shown(&rule.name),
        rule.way.word()
    );
    if let Some(quiet) = rule.quiet {
        text.push_str(&format!("; quiet {}", quiet.words()));
    }
    if let Some(repeat) = rule.repeat {
        text.push_str(&format!("; again after {}", repeat.words()));
    }
    text
}

/// A rule as a line.
pub fn rule_line(row: &AlertRuleRow, calendar: &Calendar, at: Moment) -> String {
    format!(
        "{}; entered {} by {}",
        rule_words(&row.rule),
        calendar.near(row.since, at),
        shown(&row.person)
    )
}

/// A rule as JSON.
pub fn rule_json(row: &AlertRuleRow, calendar: &Calendar) -> Value {
    let rule = &row.rule;
    json!({
        "name": rule.name, "kinds": rule.kinds.iter().map(|k| k.word()).collect::<Vec<_>>(),
        "to": rule.to.iter().map(To::words).collect::<Vec<_>>(), "way": rule.way.word(),
        "quiet": rule.quiet.map(Quiet::words), "repeat_ms": rule.repeat.map(|s| s.0),
        "entered_by": row.person, "since": calendar.rfc3339(row.since),
    })
}

fn key_words(key: &AlertKey) -> String {
    format!("{} {} {}", key.id(), key.kind.word(), shown(&key.about))
}

/// A fact about alerts in words.
pub(super) fn fact_words(fact: &AlertFact) -> String {
    match fact {
        AlertFact::Rule(rule) if rule.ended => {
            format!("alert rule {} taken off", shown(&rule.name))
        }
        AlertFact::Rule(rule) => format!("alert rule {}", rule_words(rule)),
        AlertFact::Seen(key) => format!("marked alert {} as seen", key_words(key)),
        AlertFact::Snoozed { key, .. } => format!("put off alert {}", key_words(key)),
        AlertFact::Told {
            key,
            to,
            way,
            fault,
        } => {
            let told = format!(
                "{} told of alert {} by {}",
                shown(to),
                key_words(key),
                way.word()
            );
            match fault {
                None => told,
                Some(why) => format!("{told}: not reached, {}", shown(why)),
            }
        }
    }
}
