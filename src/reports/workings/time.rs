//! From when on the recipe allows the next step of a piece.
//!
//! The bounds are those of the rules, each with the worksheet of its wait or of its cure.

use super::{Kept, Working};
use crate::ledger::{Ledger, LedgerError, Seen};
use crate::reports::CHECK_BY_HAND;
use crate::science::worksheet::Origin;
use crate::shop::calendar::Calendar;
use crate::shop::climate::{Climate, CreditLeg, KnownBy, Tables};
use crate::shop::recipe::{Step, WHOLE};
use crate::shop::record::{Entry, Fact};
use crate::shop::rules::{Around, Deed, Ground, Objection, bounds, coat_waits, dry_slowed};
use crate::shop::standing::Site;
use crate::shop::words::{Outlook, Rule, StepKind, Word};
use crate::units::{Amount, Moment, Share, Span, Temperature, num};
use serde_json::json;

fn seconds(span: Span) -> f64 {
    num::float(span.0) / 1e3
}

/// The next ready time of a piece.
pub(super) fn ready(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let seen = ledger.piece(what, at)?;
    let calendar = ledger.calendar();
    let mut w = Working::new("ready", &seen.now.piece.serial);
    w.says.push(format!(
        "next: {}, {}",
        seen.view.next_on(),
        seen.view.outlook.word()
    ));
    let (Some(site), Some(step), Some(kind)) = (seen.site(), seen.step(), seen.view.kind) else {
        w.kept.push(Kept::unknown("ready from", "RFC 3339"));
        w.says
            .push("no step of its recipe is left, so no time is waited for".to_owned());
        return Ok(w);
    };
    w.kept.push(match seen.view.ready_at {
        Some(m) => Kept {
            name: "ready from".to_owned(),
            value: Some(json!(calendar.rfc3339(m))),
            unit: "RFC 3339",
            text: calendar.stamp(m),
        },
        None => Kept::unknown("ready from", "RFC 3339"),
    });
    if seen.view.outlook == Outlook::Ready {
        w.says.push(CHECK_BY_HAND.to_owned());
    }
    if seen.sites().count() > 1 {
        w.says.push(format!(
            "the slowest surface speaks for the piece: {}",
            seen.view.surface
        ));
    }
    let history = ledger.history(seen.now.id, at)?;
    let from = site.standing.last_wet.unwrap_or(at);
    let climate = ledger.climate(from, at)?;
    let tables = Tables::build(&climate, &seen.recipe.credit);
    let around = Around {
        solvent: seen.solvent.clone(),
        ..Around::default()
    };
    let ground = Ground {
        recipe: &seen.recipe,
        calendar: &calendar,
        air: &tables,
        around: &around,
    };
    let list = bounds(&seen.now, &site, &Deed::of(kind), at, &ground);
    let binding = list.iter().filter_map(|b| b.until).max();
    let place = Place {
        seen: &seen,
        site,
        step,
        history: &history,
        at,
        calendar: &calendar,
    };
    for b in &list {
        if b.until.is_some() && b.until == binding {
            w.says.push(format!("it binds: {}", words(b, &calendar)));
        } else {
            w.says.push(words(b, &calendar));
        }
        match b.rule {
            Rule::Interval => place.interval(&mut w, b),
            Rule::Dry => place.dry(&mut w, b),
            Rule::Rest => place.rest(&mut w, b),
            Rule::Cure => place.cure(&mut w, &tables, &climate),
            _ => {}
        }
    }
    if list.is_empty() {
        w.says.push(
            "nothing bounds it: it is ready from the end of the last deed, or from its first entry"
                .to_owned(),
        );
    }
    w.says
        .push("a time is rounded up to the minute, so that none is shown too early".to_owned());
    Ok(w)
}

fn words(b: &Objection, calendar: &Calendar) -> String {
    let until = b.until.map_or_else(
        || "time does not settle it".to_owned(),
        |u| format!("until {}", calendar.full(u)),
    );
    let sure = if b.provisional { ", provisional" } else { "" };
    format!("{}: {until}{sure} ({})", b.rule.word(), b.before)
}

/// What the worksheets of one piece at one moment share.
struct Place<'a> {
    seen: &'a Seen,
    site: Site<'a>,
    step: &'a Step,
    history: &'a [Entry],
    at: Moment,
    calendar: &'a Calendar,
}

impl Place<'_> {
    fn of_recipe(&self, what: &str) -> Origin {
        let recipe = self.seen.recipe.label();
        Origin::note(format!("recipe {recipe}, {}, {what}", self.step.name))
    }

    // The deed that a wait counts from.
    fn since(&self, moment: Moment, wets: bool) -> Origin {
        let found = self.history.iter().rev().find(|e| {
            let here = e.surface == WHOLE || e.surface == self.seen.view.surface;
            here && e.ended == moment
                && (!wets || e.fact.wets())
                && !matches!(e.fact, Fact::Note { .. })
        });
        let ended = format!("ended {}", self.calendar.full(moment));
        found.map_or_else(|| Origin::note(&ended), |e| Origin::entry(e.seq.0, &ended))
    }

    fn retarder(&self, share: Share) -> Origin {
        Origin::note(format!(
            "recipe {}, its rule for more than {} of retarder; the mix had {}",
            self.seen.recipe.label(),
            self.seen
                .recipe
                .retarder_rule(share)
                .map_or_else(|| "0 %".to_owned(), |r| r.above.text(1)),
            share.text(2)
        ))
    }

    fn wait(
        &self,
        w: &mut Working,
        title: &str,
        (start, wets): (Moment, bool),
        own: (Option<Span>, &str),
        slowed: (Option<Span>, Share),
        b: &Objection,
    ) {
        let part = w.part("wait", title, |i| {
            let recipe = self.of_recipe(own.1);
            i.fill_from(
                "recipe-wait",
                &[(seconds(own.0.unwrap_or_default()), recipe)],
            )?;
            if let Some(wait) = slowed.0 {
                i.fill_from("retarder-wait", &[(seconds(wait), self.retarder(slowed.1))])?;
            }
            let since = self.at.since(start);
            if since.0 >= 0 {
                i.fill_from("since", &[(seconds(since), self.since(start, wets))])?;
            }
            Ok(())
        });
        let Some(part) = part else { return };
        let worked = num::whole(part.answer.result.base * 1e3).map(|ms| start.plus(Span(ms)));
        if worked != b.until {
            w.unknown.push(format!(
                "{title}: the rule and the worksheet give different times; run \"hangtime verify\""
            ));
        }
    }

    fn interval(&self, w: &mut Working, b: &Objection) {
        let Some(wet) = self.site.standing.last_wet else {
            return;
        };
        let (own, slowed) = coat_waits(&self.site, self.step, &self.seen.recipe);
        self.wait(
            w,
            "wait between coats, from the end of the last wet one",
            (wet, true),
            (own, "its wait before a coat"),
            (slowed, self.site.standing.retarder_last),
            b,
        );
    }

    fn dry(&self, w: &mut Working, b: &Objection) {
        let Some(wet) = self.site.standing.last_wet else {
            return;
        };
        let slowed = dry_slowed(self.site.standing, self.step, &self.seen.recipe);
        self.wait(
            w,
            "drying, from the end of the last wet coat",
            (wet, true),
            (self.step.after, "its wait after the last wet coat"),
            (slowed, self.site.standing.retarder_set),
            b,
        );
    }

    fn rest(&self, w: &mut Working, b: &Objection) {
        let Some(deed) = self.site.standing.last_deed else {
            return;
        };
        self.wait(
            w,
            "rest, from the end of the last deed",
            (deed, false),
            (b.until.map(|u| u.since(deed)), "the rest before it"),
            (None, Share(0)),
            b,
        );
    }

    fn cure(&self, w: &mut Working, tables: &Tables, climate: &Climate) {
        let Some(wet) = self.site.standing.last_wet else {
            return;
        };
        let legs = tables.legs(&self.seen.now.stays, wet, self.at);
        let wanted = self.seen.view.cure.map(|(_, wanted)| wanted).or_else(|| {
            let site = self.seen.site()?;
            site.steps
                .iter()
                .filter(|s| s.kind == StepKind::Cure)
                .find_map(|s| s.hours)
        });
        if legs.is_empty() {
            w.says
                .push("the cure begins now: nothing is credited yet".to_owned());
            return;
        }
        let notes: Vec<Origin> = legs.iter().map(|l| self.leg_words(l, climate)).collect();
        let rows = || legs.iter().zip(&notes);
        let part = w.part("room-credit", "credited cure over its rooms", |i| {
            let hours: Vec<(f64, Origin)> = rows()
                .map(|(l, o)| (seconds(l.to.since(l.from)), o.clone()))
                .collect();
            let credit: Vec<(f64, Origin)> = rows()
                .map(|(l, o)| (num::float(l.permille) / 1e3, o.clone()))
                .collect();
            let known: Vec<(&str, Origin)> = rows()
                .map(|(l, o)| (l.known_by.word(), o.clone()))
                .collect();
            i.fill_from("hours", &hours)?;
            i.fill_from("credit", &credit)?;
            i.fill_words("known-by", &known)?;
            if let Some(wanted) = wanted {
                let recipe = Origin::note(format!("recipe {}, cure", self.seen.recipe.label()));
                i.fill_from("needed", &[(seconds(wanted), recipe)])?;
            }
            Ok(())
        });
        if let (Some(part), Some((earned, _))) = (part, self.seen.view.cure) {
            if num::whole(part.answer.result.base * 1e3) != Some(earned.0) {
                w.unknown.push(
                    "credited cure: the rule and the worksheet give different hours; run \"hangtime verify\""
                        .to_owned(),
                );
            }
            w.kept.push(Kept {
                name: "credited cure".to_owned(),
                value: Some(json!(earned.0)),
                unit: "ms",
                text: format!("{:.2} h", crate::reports::piece_json::hours(earned.0)),
            });
        }
        let lasted = |known_by| -> i64 {
            legs.iter()
                .filter(|l| l.known_by == known_by)
                .map(|l| l.to.since(l.from).0)
                .sum()
        };
        for (ms, why) in [
            (
                lasted(KnownBy::Gap),
                "are without readings; they earn nothing until the file arrives",
            ),
            (
                lasted(KnownBy::NoHumidity),
                "have readings without the humidity that the recipe counts by; they earn nothing",
            ),
        ] {
            if ms > 0 {
                w.unknown
                    .push(format!("{} of its cure {why}", Span(ms).words()));
            }
        }
    }

    fn leg_words(&self, leg: &CreditLeg, climate: &Climate) -> Origin {
        let room = leg.room.as_deref().unwrap_or("no room");
        let stretch = format!(
            "{room}, {} to {}",
            self.calendar.full(leg.from),
            self.calendar.full(leg.to)
        );
        let recipe = self.seen.recipe.label();
        Origin::note(match leg.known_by {
            KnownBy::Reading => {
                let temperatures: Vec<Temperature> = climate
                    .rooms
                    .get(room)
                    .map(|air| {
                        // The reading that stands when the stretch begins was taken before it.
                        let first = air
                            .samples
                            .partition_point(|s| s.at <= leg.from)
                            .saturating_sub(1);
                        let rest = air.samples.get(first..).unwrap_or_default().iter();
                        rest.take_while(|s| s.at < leg.to)
                            .map(|s| s.temperature)
                            .collect()
                    })
                    .unwrap_or_default();
                match (temperatures.iter().min(), temperatures.iter().max()) {
                    (Some(low), Some(high)) => format!(
                        "{stretch}: {} readings, {} to {}, credit of recipe {recipe}",
                        temperatures.len(),
                        low.text(1),
                        high.text(1)
                    ),
                    _ => stretch,
                }
            }
            KnownBy::Gap => format!("{stretch}: no readings, unknown"),
            KnownBy::NoHumidity => format!(
                "{stretch}: readings without the humidity that recipe {recipe} counts by, unknown"
            ),
            KnownBy::Assumed => {
                format!("{stretch}: room without readings, slow factor of recipe {recipe}, assumed")
            }
            KnownBy::Forecast => {
                format!("{stretch}: after the newest reading, declared rate of the room")
            }
        })
    }
}
