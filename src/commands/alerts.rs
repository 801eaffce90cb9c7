//! Alerts: what is worth telling now, who took note, and the shop's rules for them.

use super::{Answer, Desk, Shop, Trouble};
use crate::alerts::Alert as Told;
use crate::reports::alerts as report;
use crate::reports::checks::interval;
use crate::reports::lookout::Lookout;
use crate::shop::alert::{AlertKey, AlertKind, AlertRule, Quiet, To, Way};
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::Span;
use serde_json::{Value, json};

/// What is worth telling somebody now; mark it as seen, put it off, or say who is told of what.
#[derive(Debug, clap::Args)]
pub(super) struct Alert {
    #[command(subcommand)]
    deed: Option<AlertDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum AlertDeed {
    /// Mark alerts as seen: you are not told of them again.
    Seen {
        /// Their names as they are listed, or "all".
        #[arg(required = true, value_name = "ID")]
        ids: Vec<String>,
    },
    /// Do not hear of an alert for some time.
    Snooze {
        /// Its name as it is listed.
        id: String,
        /// For how long, such as 30m or 2h.
        #[arg(long = "for", value_name = "TIME")]
        span: String,
    },
    /// The shop's rules: who is told of what, by which way.
    Rule {
        #[command(subcommand)]
        deed: Option<RuleDeed>,
    },
}

#[derive(Debug, clap::Subcommand)]
enum RuleDeed {
    /// Enter a rule, or change the one of this name.
    Set {
        /// Its name.
        name: String,
        /// A kind of alert, or "all"; repeat for each.
        #[arg(long = "for", value_name = "KIND", required = true)]
        kinds: Vec<String>,
        /// Who: finisher, supervisor, "safety lead", "person MK", "station booth-1"; repeat for each. Each kind's own
        /// role, if left out.
        #[arg(long, value_name = "WHO")]
        to: Vec<String>,
        /// By which way: screen, desktop or command. The last two are sent by "hangtime watch".
        #[arg(long, value_name = "WAY", default_value = "screen")]
        by: String,
        /// Hours in which nobody is called, such as 22:00-06:00.
        #[arg(long, value_name = "FROM-TO")]
        quiet: Option<String>,
        /// After how long it is told again to somebody who has not marked it as seen, such as 1h.
        #[arg(long, value_name = "TIME")]
        again: Option<String>,
    },
    /// Take a rule off.
    End {
        /// Its name.
        name: String,
    },
}

impl Alert {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        match self.deed {
            None => list(desk, &shop),
            Some(AlertDeed::Seen { ids }) => {
                let who = desk.who(None)?;
                let alerts = alerts(desk, &shop)?;
                let mut keys: Vec<AlertKey> = Vec::new();
                for id in &ids {
                    if id == "all" {
                        keys.extend(alerts.iter().map(|a| a.event.key.clone()));
                    } else {
                        keys.push(named(&alerts, id)?);
                    }
                }
                keys.sort();
                keys.dedup();
                keys.retain(|k| {
                    let alert = alerts.iter().find(|a| a.event.key == *k);
                    alert.is_none_or(|a| !a.seen_by(&who.person))
                });
                if keys.is_empty() {
                    let line = format!("{} has seen all of them before", who.person);
                    desk.print(&json!({"saved": false, "words": line}), &[line])?;
                    return Ok(0);
                }
                let stamp = shop.stamp();
                let done = shop.ledger.alerts_seen(&keys, &who, &stamp)?;
                let ids: Vec<String> = keys.iter().map(AlertKey::id).collect();
                let what = format!("{} has seen {}", who.person, ids.join(", "));
                desk.saved(&done, &what, json!({"alerts": ids}))
            }
            Some(AlertDeed::Snooze { id, span }) => {
                let span = interval(&span).map(Span).map_err(Trouble::Input)?;
                let who = desk.who(None)?;
                let key = named(&alerts(desk, &shop)?, &id)?;
                let stamp = shop.stamp();
                let until = stamp.written.plus(span);
                let done = shop.ledger.snooze_alert(&key, until, &who, &stamp)?;
                let near = shop.calendar.near(until, stamp.written);
                let what = format!("{} put {} off to {near}", who.person, key.id());
                desk.saved(&done, &what, Value::Null)
            }
            Some(AlertDeed::Rule { deed: None }) => rules(desk, &shop),
            Some(AlertDeed::Rule { deed: Some(deed) }) => {
                let rule = deed.rule()?;
                let who = desk.who(None)?;
                let stamp = shop.stamp();
                let done = shop.ledger.set_alert_rule(&rule, &who, &stamp)?;
                let name = shown(&rule.name);
                let what = if rule.ended {
                    format!("alert rule {name} is off")
                } else {
                    let rows = shop.ledger.alert_rules(stamp.written)?;
                    let row = rows.iter().find(|r| r.rule.name == rule.name.trim());
                    row.map_or(name, |r| {
                        report::rule_line(r, &shop.calendar, stamp.written)
                    })
                };
                desk.saved(&done, &what, Value::Null)
            }
        }
    }
}

impl RuleDeed {
    fn rule(self) -> Result<AlertRule, Trouble> {
        let bare = |name: String| AlertRule {
            name,
            kinds: Vec::new(),
            to: Vec::new(),
            way: Way::Screen,
            quiet: None,
            repeat: None,
            ended: true,
        };
        let (name, kinds, to, by, quiet, again) = match self {
            Self::End { name } => return Ok(bare(name)),
            Self::Set {
                name,
                kinds,
                to,
                by,
                quiet,
                again,
            } => (name, kinds, to, by, quiet, again),
        };
        let mut list: Vec<AlertKind> = Vec::new();
        for text in &kinds {
            if text == "all" {
                list.extend(AlertKind::ALL);
                continue;
            }
            list.push(AlertKind::typed(text).ok_or_else(|| {
                Trouble::Input(format!(
                    "kind \"{}\" is not known; write all, or one of {}",
                    shown(text),
                    AlertKind::choices()
                ))
            })?);
        }
        list.sort_unstable();
        list.dedup();
        let way = Way::typed(&by).ok_or_else(|| {
            Trouble::Input(format!(
                "way \"{}\" is not known; write one of {}",
                shown(&by),
                Way::choices()
            ))
        })?;
        Ok(AlertRule {
            kinds: list,
            to: to
                .iter()
                .map(|t| To::read(t))
                .collect::<Result<_, _>>()
                .map_err(Trouble::Input)?,
            way,
            quiet: quiet
                .map(|q| Quiet::read(&q))
                .transpose()
                .map_err(Trouble::Input)?,
            repeat: again
                .map(|t| interval(&t).map(Span))
                .transpose()
                .map_err(Trouble::Input)?,
            ended: false,
            ..bare(name)
        })
    }
}

fn alerts(desk: &Desk<'_>, shop: &Shop) -> Result<Vec<Told>, Trouble> {
    let mut floor = shop.ledger.floor(shop.now, None)?;
    desk.hold_back(&mut floor);
    Ok(Lookout::default().alerts(&shop.ledger, &floor, shop.now, shop.now)?)
}

// The alert that a typed name means.
fn named(alerts: &[Told], id: &str) -> Result<AlertKey, Trouble> {
    let mut found = alerts.iter().filter(|a| a.event.key.id() == id);
    match (found.next(), found.next()) {
        (Some(one), None) => Ok(one.event.key.clone()),
        (Some(_), Some(_)) => Err(Trouble::Input(format!(
            "\"{}\" is the name of two alerts; mark all as seen, or one on the screens",
            shown(id)
        ))),
        (None, _) => Err(Trouble::Input(format!(
            "nothing that holds now has the name \"{}\"; \"hangtime alert\" lists what does",
            shown(id)
        ))),
    }
}

// Exit code 1 where something is overdue, at its limit, or a reading is missing: somebody has to look.
fn list(desk: &mut Desk<'_>, shop: &Shop) -> Answer {
    use AlertKind as K;
    let alerts = alerts(desk, shop)?;
    let rules = shop.ledger.alert_rules(shop.now)?;
    let mut lines: Vec<String> = alerts
        .iter()
        .flat_map(|a| report::lines(a, &shop.calendar, shop.now))
        .collect();
    if lines.is_empty() {
        lines.push("nothing to tell".to_owned());
    }
    if rules.is_empty() {
        lines.push(report::NO_RULE.to_owned());
    }
    let values: Vec<_> = alerts
        .iter()
        .map(|a| report::json_of(a, &shop.calendar))
        .collect();
    let value = desk.with_clock(json!({
        "at": shop.calendar.rfc3339(shop.now), "alerts": values,
        "rules": rules.iter().map(|r| report::rule_json(r, &shop.calendar)).collect::<Vec<_>>(),
    }));
    desk.print(&value, &lines)?;
    let look = |a: &Told| {
        matches!(a.event.key.kind, K::Silent | K::Check | K::Duty | K::Mark)
            || (a.event.key.kind == K::Limit && a.event.key.about.ends_with(" whole"))
    };
    Ok(u8::from(alerts.iter().any(look)))
}

fn rules(desk: &mut Desk<'_>, shop: &Shop) -> Answer {
    let rows = shop.ledger.alert_rules(shop.now)?;
    let mut lines: Vec<String> = rows
        .iter()
        .map(|r| report::rule_line(r, &shop.calendar, shop.now))
        .collect();
    if lines.is_empty() {
        lines.push(report::NO_RULE.to_owned());
    }
    let values: Vec<_> = rows
        .iter()
        .map(|r| report::rule_json(r, &shop.calendar))
        .collect();
    desk.print(&values.into(), &lines)?;
    Ok(0)
}
