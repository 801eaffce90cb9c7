//! Stored shapes of who is told of what, who took note, and the change of shifts.

use super::{LedgerError, empty, json, read, word};
use crate::shop::alert::{AlertFact, AlertKey, AlertKind, AlertRule, HandOverFact, Quiet, To, Way};
use crate::shop::words::Word;
use crate::units::{Moment, Span};
use serde::{Deserialize, Serialize};

/// The kinds that are read here.
pub(super) const KINDS: &[&str] = &[
    "alert-rule/1",
    "alert-seen/1",
    "alert-snoozed/1",
    "alert-told/1",
];

/// The kinds of a change of shifts.
pub(super) const HAND_OVERS: &[&str] = &["hand-over/1", "hand-over-taken/1"];

shape!(RuleShape { name: String, kinds: Vec<String>, to: Vec<String>, way: String, quiet: Vec<u32>, repeat_ms: Option<i64>, ended: bool });
shape!(SeenShape {
    kind: String,
    about: String,
    since: i64
});
shape!(SnoozedShape {
    kind: String,
    about: String,
    since: i64,
    until: i64
});
shape!(ToldShape { kind: String, about: String, since: i64, to: String, way: String, fault: Option<String> });
shape!(GivenShape {
    text: String,
    action: i64,
    head: String
});
shape!(TakenShape { given: i64 });

pub(super) fn encode(fact: AlertFact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact {
        AlertFact::Rule(rule) => (
            "alert-rule/1",
            json(&RuleShape {
                name: rule.name,
                kinds: rule.kinds.iter().map(|k| k.word().to_owned()).collect(),
                to: rule.to.iter().map(To::words).collect(),
                way: rule.way.word().to_owned(),
                quiet: rule.quiet.map_or_else(Vec::new, |q| vec![q.from, q.to]),
                repeat_ms: rule.repeat.map(|s| s.0),
                ended: rule.ended,
            })?,
        ),
        AlertFact::Seen(key) => (
            "alert-seen/1",
            json(&SeenShape {
                kind: key.kind.word().to_owned(),
                about: key.about,
                since: key.since.0,
            })?,
        ),
        AlertFact::Snoozed { key, until } => (
            "alert-snoozed/1",
            json(&SnoozedShape {
                kind: key.kind.word().to_owned(),
                about: key.about,
                since: key.since.0,
                until: until.0,
            })?,
        ),
        AlertFact::Told {
            key,
            to,
            way,
            fault,
        } => (
            "alert-told/1",
            json(&ToldShape {
                kind: key.kind.word().to_owned(),
                about: key.about,
                since: key.since.0,
                to,
                way: way.word().to_owned(),
                fault,
            })?,
        ),
    })
}

fn key(of: &str, kind: &str, about: String, since: i64) -> Result<AlertKey, LedgerError> {
    Ok(AlertKey {
        kind: word::<AlertKind>(of, kind)?,
        about,
        since: Moment(since),
    })
}

pub(super) fn decode(kind: &str, body: &str) -> Result<AlertFact, LedgerError> {
    Ok(match kind {
        "alert-rule/1" => {
            let s: RuleShape = read(kind, body)?;
            let damaged = |why: String| LedgerError::Damaged(format!("{kind}: {why}"));
            AlertFact::Rule(AlertRule {
                name: s.name,
                kinds: s
                    .kinds
                    .iter()
                    .map(|k| word::<AlertKind>(kind, k))
                    .collect::<Result<_, _>>()?,
                to: s
                    .to
                    .iter()
                    .map(|t| To::read(t).map_err(damaged))
                    .collect::<Result<_, _>>()?,
                way: word::<Way>(kind, &s.way)?,
                quiet: match s.quiet.as_slice() {
                    [from, to] => Some(Quiet {
                        from: *from,
                        to: *to,
                    }),
                    _ => None,
                },
                repeat: s.repeat_ms.map(Span),
                ended: s.ended,
            })
        }
        "alert-seen/1" => {
            let s: SeenShape = read(kind, body)?;
            AlertFact::Seen(key(kind, &s.kind, s.about, s.since)?)
        }
        "alert-snoozed/1" => {
            let s: SnoozedShape = read(kind, body)?;
            AlertFact::Snoozed {
                key: key(kind, &s.kind, s.about, s.since)?,
                until: Moment(s.until),
            }
        }
        _ => {
            let s: ToldShape = read(kind, body)?;
            AlertFact::Told {
                key: key(kind, &s.kind, s.about, s.since)?,
                to: s.to,
                way: word::<Way>(kind, &s.way)?,
                fault: s.fault,
            }
        }
    })
}

pub(super) fn encode_hand_over(fact: HandOverFact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact {
        HandOverFact::Given { text, action, head } => {
            ("hand-over/1", json(&GivenShape { text, action, head })?)
        }
        HandOverFact::Taken { given } => ("hand-over-taken/1", json(&TakenShape { given })?),
    })
}

pub(super) fn decode_hand_over(kind: &str, body: &str) -> Result<HandOverFact, LedgerError> {
    if kind == "hand-over/1" {
        let s: GivenShape = read(kind, body)?;
        return Ok(HandOverFact::Given {
            text: s.text,
            action: s.action,
            head: s.head,
        });
    }
    let s: TakenShape = read(kind, body)?;
    Ok(HandOverFact::Taken { given: s.given })
}

/// Golden texts: what a ledger written by an earlier version holds. They are never edited.
#[cfg(test)]
pub(super) const GOLDEN: &[(&str, &str)] = &[
    (
        "alert-rule/1",
        r#"{"name":"night","kinds":["room silent","room air"],"to":["supervisor","person MK","station booth-1"],"way":"command","quiet":[1320,360],"repeat_ms":3600000}"#,
    ),
    (
        "alert-rule/1",
        r#"{"name":"night","way":"screen","ended":true}"#,
    ),
    (
        "alert-seen/1",
        r#"{"kind":"ready","about":"R8 clear 3 of 9","since":1773169200000}"#,
    ),
    (
        "alert-snoozed/1",
        r#"{"kind":"pot life","about":"mix 1","since":1773169200000,"until":1773171000000}"#,
    ),
    (
        "alert-told/1",
        r#"{"kind":"hand-over","about":"entry 120","since":1773169200000,"to":"MK","way":"desktop"}"#,
    ),
    (
        "alert-told/1",
        r#"{"kind":"filter mark","about":"booth 1","since":1773169200000,"to":"SL","way":"command","fault":"it ended with 1"}"#,
    ),
    (
        "hand-over/1",
        r#"{"text":"hand-over\nwet: R8","action":310,"head":"00"}"#,
    ),
    ("hand-over-taken/1", r#"{"given":311}"#),
];
