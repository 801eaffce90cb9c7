//! The solvent vapour of a booth at the rate at which it was really sprayed.

use super::{Kept, Working, entries_words};
use crate::ledger::{Ledger, LedgerError, UsedRow};
use crate::science::measure::{LIQUID_FLOW, Quantity};
use crate::science::solvents::find;
use crate::science::worksheet::Origin;
use crate::shop::material::OTHER_VOLATILE;
use crate::units::{Amount, Mass, Moment, Span, System, Volume, num};
use serde_json::json;
use std::collections::BTreeMap;
use uom::si::f64::VolumeRate;

/// Coats that ended within this long before the moment tell the present rate.
const LATELY: Span = Span::hours(4);

/// What was sprayed in a booth lately.
#[derive(Debug, Default)]
struct Sprayed {
    entries: Vec<i64>,
    // All that was sprayed tells what it was made of.
    volume: i64,
    solids: i128,
    // Mass by CAS number, and the name.
    masses: BTreeMap<String, (String, i64)>,
    // What was sprayed in a time that is known tells the rate.
    timed: i64,
    length: Span,
    without: Vec<String>,
}

impl Sprayed {
    fn of(ledger: &Ledger, booth: &str, at: Moment) -> Result<Self, LedgerError> {
        let mut out = Self::default();
        for seq in ledger.coats_in(booth, at.minus(LATELY), at)? {
            let (action, _) = ledger.action(seq)?;
            let used = ledger.used_by_action(seq)?;
            let length = action.ended.since(action.began);
            if used.is_empty() {
                out.without.push(format!("action {seq} has no amount"));
            } else if length.0 <= 0 {
                out.without
                    .push(format!("action {seq} does not say when it began"));
            } else {
                out.timed += used.iter().map(|u| u.volume.0).sum::<i64>();
                out.length = Span(out.length.0 + length.0);
            }
            out.add(ledger, &used)?;
        }
        out.entries.sort_unstable();
        out.entries.dedup();
        Ok(out)
    }

    fn add(&mut self, ledger: &Ledger, used: &[UsedRow]) -> Result<(), LedgerError> {
        for row in used {
            let material = ledger.lot_material(&row.lot)?;
            self.entries.push(row.entry.0);
            self.volume += row.volume.0;
            self.solids += i128::from(row.volume.0) * i128::from(material.volume_solids.0);
            for (substance, Mass(mass)) in material.masses(row.volume) {
                if !substance.counts.water {
                    let kept = self.masses.entry(substance.cas);
                    kept.or_insert((substance.name, 0)).1 += mass;
                }
            }
        }
        Ok(())
    }

    // While the gun was at work.
    fn rate(&self) -> Option<VolumeRate> {
        let seconds = num::float(self.length.0) / 1e3;
        (self.timed > 0 && seconds > 0.0)
            .then(|| VolumeRate::of_base(Volume(self.timed).base() / seconds))
    }

    // Share of it by volume that is solvent, in hundredths of a percent.
    fn volatile(&self) -> f64 {
        let solids = i64::try_from(self.solids).map_or(0.0, num::float) / 1e6;
        let solids = solids / num::float(self.volume.max(1));
        ((1.0 - solids) * 1e4).round() / 1e2
    }
}

/// The share of the lower explosive limit in the exhaust of a booth at the rate of its last coats.
pub(super) fn lel(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let mut w = Working::new("lel", what);
    let calendar = ledger.calendar();
    w.kept
        .push(Kept::unknown("share of the lower explosive limit", "1"));
    let sprayed = Sprayed::of(ledger, what, at)?;
    let rate = sprayed.rate();
    w.kept.push(match rate {
        None => Kept::unknown("spray rate", "uL/min"),
        Some(rate) => Kept {
            name: "spray rate".to_owned(),
            value: num::whole((rate.to_base() * 60.0 * 1e9).round()).map(|v| json!(v)),
            unit: "uL/min",
            text: LIQUID_FLOW.text(rate.to_base(), System::Metric),
        },
    });
    w.says.push(
        "if perfectly mixed; near the floor and the work it can be many times higher; a meter and a qualified person decide"
            .to_owned(),
    );
    for without in &sprayed.without {
        w.unknown
            .push(format!("{without}, so it is not in the rate"));
    }
    if let Some(rate) = rate {
        let volatile = sprayed.volatile();
        w.says.push(format!(
            "while the gun was at work: {} in {}, {}; {volatile} % of it by volume is solvent",
            Volume(sprayed.timed).text(0),
            sprayed.length.words(),
            entries_words(&sprayed.entries)
        ));
        w.says.push(format!(
            "with the exhaust flow in hand: hangtime work exhaust-lel sprayed=\"{}\" volatile={volatile}% exhaust=FLOW, and the solvents as in the worksheet",
            LIQUID_FLOW.text(rate.to_base(), System::Metric)
        ));
    } else {
        w.unknown.push(format!(
            "no coat with an amount and a beginning was logged in {what} within {} before {}",
            LATELY.words(),
            calendar.stamp(at)
        ));
    }
    blend(&mut w, &sprayed);
    flow_unknown(&mut w, what);
    Ok(w)
}

// A survey keeps velocities; without the open area they are no flow.
fn flow_unknown(w: &mut Working, booth: &str) {
    w.unknown.push(format!(
        "the exhaust flow of {booth} is in no entry: a survey has velocities and no open area"
    ));
}

// The limit of what the sheets name, and how much they do not name.
fn blend(w: &mut Working, sprayed: &Sprayed) {
    let all: i64 = sprayed.masses.values().map(|(_, m)| *m).sum();
    let mut named: Vec<(&'static str, f64)> = Vec::new();
    let mut unnamed: Vec<(String, i64)> = Vec::new();
    for (cas, (name, mass)) in &sprayed.masses {
        match find(cas) {
            Some(s) => named.push((s.key, num::float(*mass) / s.density_25_kg_m3)),
            None => unnamed.push((name.clone(), *mass)),
        }
    }
    let share = |mass: i64| (num::float(mass) / num::float(all.max(1)) * 1e3).round() / 1e1;
    for (name, mass) in &unnamed {
        let what = if name == OTHER_VOLATILE {
            "is named on no sheet".to_owned()
        } else {
            format!("is {name}, which the table of solvents has not")
        };
        w.unknown.push(format!(
            "{} % of the solvent by mass {what}, so the limit of the whole is unknown",
            share(*mass)
        ));
    }
    let sum: f64 = named.iter().map(|(_, v)| v).sum();
    if sum <= 0.0 {
        return;
    }
    let origin = Origin::entry(
        sprayed.entries.first().copied().unwrap_or_default(),
        "its lots by their data sheets",
    );
    let words: Vec<(&str, Origin)> = named.iter().map(|(k, _)| (*k, origin.clone())).collect();
    let parts: Vec<(f64, Origin)> = named
        .iter()
        .map(|(_, v)| (v / sum, origin.clone()))
        .collect();
    let title = if unnamed.is_empty() {
        "the lower explosive limit of the solvent sprayed"
    } else {
        "the lower explosive limit of the named part alone"
    };
    w.part("lel", title, |i| {
        i.fill_words("solvent", &words)?;
        i.fill_from("part", &parts)
    });
}
