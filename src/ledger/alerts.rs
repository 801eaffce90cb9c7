//! Who is told of what, who took note, and the change of shifts: entering and reading it.
//!
//! *Invariants*: what was said of one alert is found by its name alone, so that years of alerts cost nothing; telling
//! somebody is claimed in one write, so that two terminals never both do it.
//!
//! *Not here*: what raises an alert (`reports::lookout`), who is told now (`alerts`).

use super::append::{Line, NewAction, Saved, Stamp, Who};
use super::error::LedgerError;
use super::open::Ledger;
use super::read::EntryRow;
use super::stock::noted_in;
use super::stored::Shared;
use crate::shop::alert::{AlertFact, AlertKey, AlertRule, HandOverFact, Way};
use crate::shop::record::{ShopFact, What};
use crate::shop::text::{clean, shown};
use crate::units::{Moment, Span};
use rusqlite::{Connection, params};
use std::collections::BTreeMap;

/// The deed of telling somebody. No undo takes it back, and no terminal shows it as the last one of its people.
const TOLD: &str = "alert told";

/// The shortest time after which somebody is told again; less would be a siren and no word.
const SHORTEST_REPEAT: Span = Span::minutes(5);

/// After every moment that an entry can have.
const EVER: Moment = Moment(i64::MAX / 4);

/// How many changes of shifts are listed that somebody took: a week of three shifts.
const HAND_OVERS: i64 = 21;

/// A rule with who entered it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlertRuleRow {
    /// The rule.
    pub rule: AlertRule,
    /// Initials of who entered it.
    pub person: String,
    /// Since when.
    pub since: Moment,
}

/// Somebody was told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlertTold {
    /// Whom.
    pub to: String,
    /// By which way.
    pub way: Way,
    /// When.
    pub at: Moment,
    /// Why it did not reach them.
    pub fault: Option<String>,
}

/// What was said of an alert.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AlertMarks {
    /// Who took note, and when.
    pub seen: Vec<(String, Moment)>,
    /// Who does not want to hear of it until when.
    pub snoozed: Vec<(String, Moment)>,
    /// Who was told.
    pub told: Vec<AlertTold>,
}

/// Somebody who is about to be told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claim {
    /// Of what.
    pub key: AlertKey,
    /// Whom.
    pub to: String,
    /// By which way.
    pub way: Way,
    /// What was told before this moment does not count: the rule asks for it again.
    pub after: Option<Moment>,
}

/// A change of shifts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HandOverRow {
    /// The entry that gave it.
    pub entry: i64,
    /// Initials of who gave it.
    pub person: String,
    /// When.
    pub at: Moment,
    /// The page as it was printed.
    pub text: String,
    /// Number and hash of the newest action that it tells of.
    pub head: (i64, String),
    /// Who took it, and when.
    pub taken: Option<(String, Moment)>,
}

fn alert(row: EntryRow) -> Option<(AlertFact, EntryRow)> {
    match row.what.clone() {
        What::Shop(ShopFact::Alert(fact)) => Some((fact, row)),
        _ => None,
    }
}

fn marks(conn: &Connection, key: &AlertKey, at: Moment) -> Result<AlertMarks, LedgerError> {
    let mut out = AlertMarks::default();
    let rows = noted_in(conn, "alert", Some(&key.id()), at)?;
    for (fact, row) in rows.into_iter().filter_map(alert) {
        match fact {
            AlertFact::Seen(of) if of == *key => out.seen.push((row.person, row.ended)),
            AlertFact::Snoozed { key: of, until } if of == *key => {
                out.snoozed.push((row.person, until));
            }
            AlertFact::Told {
                key: of,
                to,
                way,
                fault,
            } if of == *key => out.told.push(AlertTold {
                to,
                way,
                at: row.ended,
                fault,
            }),
            _ => {}
        }
    }
    Ok(out)
}

impl AlertMarks {
    /// When somebody was told last by a way; a telling that did not reach them counts all the same: it is tried again
    /// only where the rule repeats.
    pub fn told(&self, to: &str, way: Way) -> Option<Moment> {
        let theirs = |t: &&AlertTold| t.to == to && t.way == way;
        self.told.iter().filter(theirs).map(|t| t.at).max()
    }
}

impl Ledger {
    fn alert_fact(
        &mut self,
        deed: &str,
        fact: AlertFact,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        self.shop_fact(deed, ShopFact::Alert(fact), stamp.written, who, stamp)
    }

    /// Enters a rule, changes the one of its name, or takes it off.
    pub fn set_alert_rule(
        &mut self,
        rule: &AlertRule,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let refuse = |why: String| Err(LedgerError::Input(why));
        let name = clean("name", &rule.name, 40).map_err(LedgerError::Input)?;
        if rule.ended {
            let rules = self.alert_rules(stamp.written)?;
            if !rules.iter().any(|r| r.rule.name == name) {
                let known: Vec<String> = rules.iter().map(|r| shown(&r.rule.name)).collect();
                return refuse(format!(
                    "no rule has the name \"{}\"; {}",
                    shown(&name),
                    if known.is_empty() {
                        "none is entered".to_owned()
                    } else {
                        format!("write one of {}", known.join(", "))
                    }
                ));
            }
        } else if rule.kinds.is_empty() {
            return refuse("a rule needs a kind of alert: write --for with its word".to_owned());
        }
        if let Some(repeat) = rule.repeat.filter(|r| *r < SHORTEST_REPEAT) {
            return refuse(format!(
                "again {} is shorter than {}; write --again 30m",
                repeat.words(),
                SHORTEST_REPEAT.words()
            ));
        }
        let fact = AlertFact::Rule(AlertRule {
            name,
            ..rule.clone()
        });
        self.alert_fact("alert rule", fact, who, stamp)
    }

    /// The rules that hold at a moment, by name.
    pub fn alert_rules(&self, at: Moment) -> Result<Vec<AlertRuleRow>, LedgerError> {
        let mut list = BTreeMap::new();
        for (fact, row) in self
            .noted("alert rule", None, at)?
            .into_iter()
            .filter_map(alert)
        {
            let AlertFact::Rule(rule) = fact else {
                continue;
            };
            if rule.ended {
                list.remove(&rule.name);
            } else {
                let new = AlertRuleRow {
                    person: row.person,
                    since: row.ended,
                    rule,
                };
                list.insert(new.rule.name.clone(), new);
            }
        }
        Ok(list.into_values().collect())
    }

    /// What was said of an alert by a moment.
    pub fn alert_marks(&self, key: &AlertKey, at: Moment) -> Result<AlertMarks, LedgerError> {
        marks(&self.conn, key, at)
    }

    /// Somebody takes note of alerts.
    pub fn alerts_seen(
        &mut self,
        keys: &[AlertKey],
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let facts = keys.iter().cloned().map(AlertFact::Seen);
        self.alert_lines("alert seen", facts.collect(), who, stamp)
    }

    /// Somebody does not want to hear of an alert until a moment ahead.
    pub fn snooze_alert(
        &mut self,
        key: &AlertKey,
        until: Moment,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        if until <= stamp.written {
            return Err(LedgerError::Input(
                "an alert is put off to a time ahead: write --for 30m".to_owned(),
            ));
        }
        let fact = AlertFact::Snoozed {
            key: key.clone(),
            until,
        };
        self.alert_fact("alert snooze", fact, who, stamp)
    }

    fn alert_lines(
        &mut self,
        deed: &str,
        facts: Vec<AlertFact>,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let lines = |facts: Vec<AlertFact>| {
            let what = |f| Line::shop(What::Shop(ShopFact::Alert(f)));
            facts.into_iter().map(what).collect()
        };
        let action = NewAction::at_once(deed, who.clone(), stamp.written, lines(facts));
        self.write(|w| w.append(&action, &Shared::default(), stamp))
    }

    /// Claims who is to be told, in one write: gives those whom nobody else told meanwhile, and writes them down as told.
    pub fn claim_alerts(
        &mut self,
        claims: &[Claim],
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Vec<Claim>, LedgerError> {
        if claims.is_empty() {
            return Ok(Vec::new());
        }
        self.write(|w| {
            let mut free = Vec::new();
            for claim in claims {
                // Whatever was written counts: another terminal's clock may be a little ahead of this one's.
                let told = marks(&w.tx, &claim.key, EVER)?.told(&claim.to, claim.way);
                if told.is_none_or(|at| claim.after.is_some_and(|after| at < after)) {
                    free.push(claim.clone());
                }
            }
            if free.is_empty() {
                return Ok(free);
            }
            let line = |c: &Claim| {
                Line::shop(What::Shop(ShopFact::Alert(AlertFact::Told {
                    key: c.key.clone(),
                    to: c.to.clone(),
                    way: c.way,
                    fault: None,
                })))
            };
            let lines = free.iter().map(line).collect();
            let action = NewAction::at_once(TOLD, who.clone(), stamp.written, lines);
            w.append(&action, &Shared::default(), stamp)?;
            Ok(free)
        })
    }

    /// Writes down that a telling did not reach them, and why.
    pub fn alerts_not_told(
        &mut self,
        claims: &[Claim],
        fault: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let fault: String = shown(fault).chars().take(200).collect();
        let facts = claims.iter().map(|c| AlertFact::Told {
            key: c.key.clone(),
            to: c.to.clone(),
            way: c.way,
            fault: Some(fault.clone()),
        });
        self.alert_lines(TOLD, facts.collect(), who, stamp)
    }

    /// Gives the page of a shift's end to whoever comes next; it stays open until somebody takes it.
    pub fn give_hand_over(
        &mut self,
        text: String,
        (action, head): (i64, String),
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let fact = ShopFact::HandOver(HandOverFact::Given { text, action, head });
        self.shop_fact("hand-over", fact, stamp.written, who, stamp)
    }

    /// Takes a hand-over that was given and that nobody took yet.
    pub fn take_hand_over(
        &mut self,
        given: i64,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let refuse = |why: String| Err(LedgerError::Input(why));
        match self.hand_over(given, stamp.written)? {
            None => {
                return refuse(format!(
                    "entry {given} gives no handover; \"hangtime handover list\" names them"
                ));
            }
            Some(HandOverRow {
                taken: Some((by, _)),
                ..
            }) => return refuse(format!("{} took it already", shown(&by))),
            Some(row) if row.person == who.person => {
                return refuse(format!(
                    "{} gave it; whoever comes next takes it, under their own initials",
                    shown(&row.person)
                ));
            }
            Some(_) => {}
        }
        let fact = ShopFact::HandOver(HandOverFact::Taken { given });
        self.shop_fact("hand-over taken", fact, stamp.written, who, stamp)
    }

    fn hand_over(&self, given: i64, at: Moment) -> Result<Option<HandOverRow>, LedgerError> {
        Ok(self.hand_overs(at)?.into_iter().find(|r| r.entry == given))
    }

    /// The changes of shifts up to `at`, oldest first: all that nobody took, and the newest of the others.
    pub fn hand_overs(&self, at: Moment) -> Result<Vec<HandOverRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT entry FROM noted g WHERE topic = 'hand-over' AND at <= ?1
               AND (NOT EXISTS (SELECT 1 FROM noted t WHERE t.topic = 'hand-over taken'
                                  AND t.about = CAST(g.entry AS TEXT) AND t.at <= ?1)
                    OR entry IN (SELECT entry FROM noted WHERE topic = 'hand-over' AND at <= ?1
                                 ORDER BY at DESC, entry DESC LIMIT ?2))
             ORDER BY at, entry",
        )?;
        let given: Vec<i64> = list
            .query_map(params![at.0, HAND_OVERS], |r| r.get(0))?
            .collect::<Result<_, _>>()?;
        let mut out = Vec::new();
        for seq in given {
            let row = self.entry(seq)?;
            let What::Shop(ShopFact::HandOver(HandOverFact::Given { text, action, head })) =
                row.what
            else {
                continue;
            };
            let taken = self.noted("hand-over taken", Some(&row.seq.0.to_string()), at)?;
            out.push(HandOverRow {
                entry: row.seq.0,
                person: row.person,
                at: row.ended,
                text,
                head: (action, head),
                taken: taken.into_iter().next().map(|t| (t.person, t.ended)),
            });
        }
        Ok(out)
    }
}
