//! The mean of what fresh work leaves in a room's air over eight hours, held against the exposure limits that the shop
//! entered: reckoned from the log, never measured.

use super::vapour::{Fresh, Size, course, fresh};
use super::{Kept, Working, computed, entries_words};
use crate::ledger::{CeilingRow, Ledger, LedgerError};
use crate::reports::limits::EXPOSURE;
use crate::science::measure::{NUMBER, PPM, figures};
use crate::science::solvents::{Solvent, find};
use crate::science::vapour::ROOM_CAUTION;
use crate::science::worksheet::{Bound, Held, Inputs, Origin};
use crate::shop::material::OTHER_VOLATILE;
use crate::shop::text::shown;
use crate::units::{Amount, Moment, Span, Volume, num};
use serde_json::json;
use std::collections::BTreeMap;

/// Over how long the mean is taken, as the limits are.
const SHIFT: Span = Span::hours(8);

/// The most values that the worksheet of the mean takes.
const MOST: usize = 100;

/// Where the vapour stands in the worksheet of a room.
const HIGHEST: &str = "vapour in the air at its highest";

/// Said with every such figure.
const CALCULATED: &str = "calculated from the coats that were logged and the air that was entered, measured by nobody: it does not say what anybody breathes; a measured sample, section 8 of the safety data sheet and an industrial hygienist decide";

/// The exposure index of a room's air over the last eight hours, by the entered limits.
pub(super) fn exposure(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let mut w = Working::new("exposure", what);
    let limits = ledger.ceilings()?;
    w.says
        .extend([ROOM_CAUTION.to_owned(), CALCULATED.to_owned()]);
    let fresh = fresh(&mut w, ledger, what, at)?;
    let mut named: BTreeMap<&str, &str> = BTreeMap::new();
    for group in fresh.groups.values() {
        for (cas, (name, _)) in &group.masses {
            named.insert(cas, name);
        }
    }
    let mut counted: Vec<(&'static Solvent, &CeilingRow)> = Vec::new();
    let mut every_limit = true;
    for (cas, name) in named {
        let limit = limits.iter().find(|l| l.what == EXPOSURE && l.scope == cas);
        match (find(cas), limit) {
            (Some(solvent), Some(limit)) => counted.push((solvent, limit)),
            (Some(solvent), None) => {
                every_limit = false;
                w.says.push(format!(
                    "no exposure limit is entered for {} ({cas}), and none is a default; \"hangtime limit enter --exposure-of\" enters one",
                    solvent.name
                ));
            }
            (None, _) if name == OTHER_VOLATILE => w.unknown.push(
                "a part of the solvent is named on no sheet, so its concentration is unknown"
                    .to_owned(),
            ),
            (None, _) => w.unknown.push(format!(
                "the table of solvents has no {}, so its concentration is unknown",
                shown(name)
            )),
        }
    }
    let whole = w.unknown.is_empty();
    let mut means = Vec::new();
    if let Some(size) = &fresh.size {
        for (solvent, limit) in counted {
            let entered = ppb(limit.value);
            if let Some(mean) = mean(&mut w, solvent, &fresh, size, at, (limit, whole)) {
                let name = format!("{} over eight hours", solvent.name);
                w.kept.push(Kept {
                    value: Some(json!((mean * 1e6 * 1e3).round() / 1e3)).filter(|_| whole),
                    text: if whole {
                        ppm_text(mean)
                    } else {
                        format!("unknown, {} and more", ppm_text(mean))
                    },
                    ..Kept::unknown(&name, "ppm")
                });
                means.push((mean, entered, limit_origin(limit), solvent));
            }
        }
    }
    index(&mut w, &means, whole && every_limit);
    Ok(w)
}

fn ppb(value: i64) -> f64 {
    num::float(value) / 1e9
}

fn ppm_text(share: f64) -> String {
    format!("{} ppm", figures(share * 1e6, 3))
}

fn limit_origin(limit: &CeilingRow) -> Origin {
    let more = format!(
        "entered by {}, source: {}",
        shown(&limit.person),
        shown(&limit.source)
    );
    Origin::entry(limit.entry, &more)
}

// The eight-hour mean of one substance: each coat gives it off at once, the air takes it away.
fn mean(
    w: &mut Working,
    solvent: &'static Solvent,
    fresh: &Fresh,
    (volume, flow, air): &Size,
    at: Moment,
    (limit, whole): (&CeilingRow, bool),
) -> Option<f64> {
    let mut came = Vec::new();
    for (there, group) in &fresh.groups {
        let Some(share) = group.named(&[]).and_then(|n| n.share(solvent.key)) else {
            continue;
        };
        let first = group.entries.first().copied().unwrap_or_default();
        let said = format!(
            "{} of {}",
            Volume(group.volume).text(0),
            entries_words(&group.entries)
        );
        let part = w.part("room-vapour", format!("{} of {said}", solvent.name), |i| {
            let origin = Origin::entry(first, &said);
            i.fill_from("sprayed", &[(Volume(group.volume).base(), origin.clone())])?;
            let of_sheets = Origin::entry(first, "its lots by their data sheets");
            i.fill_from("volatile", &[(share.min(1.0), of_sheets.clone())])?;
            i.fill_words("solvent", &[(solvent.key, of_sheets)])?;
            i.fill_from("room", &[(volume.base(), air.clone())])?;
            i.fill_from("air-flow", &[(flow.base(), air.clone())])?;
            let elapsed = num::float(at.since(*there).0) / 1e3;
            i.fill_from("time", &[(elapsed, origin)])
        })?;
        let highest = part.answer.also.iter().find(|f| f.name == HIGHEST)?.base;
        came.push((*there, highest));
    }
    let course = course(&came, *volume, *flow, (at.minus(SHIFT), at));
    let parts = pieces(&course);
    let worked = |base: f64| (base, Origin::note("worked out above"));
    let part = w.part(
        "exposure-average",
        format!("{} over the last eight hours", solvent.name),
        |i| {
            let values: Vec<(f64, Origin)> = parts.iter().map(|(c, _)| worked(*c)).collect();
            let times: Vec<(f64, Origin)> = parts.iter().map(|(_, t)| worked(*t)).collect();
            i.fill_from("concentration", &values)?;
            i.fill_from("time", &times)?;
            // What is not whole may be more: it is held below, and only where it is over.
            if whole {
                i.fill_from("limit", &[(ppb(limit.value), limit_origin(limit))])?;
            }
            Ok(())
        },
    )?;
    let mean = part.answer.result.base;
    if !whole {
        let entered = ppb(limit.value);
        w.held_against.push(Held::new(
            &format!("the entered eight-hour limit of {}", solvent.name),
            Bound::AtMost,
            Some(mean).filter(|m| *m > entered),
            Some(entered),
            PPM,
        ));
    }
    Some(mean)
}

// From point to point with the value at its beginning: it only falls until the next coat comes, so that none is too low.
// What are too many are joined two by two, the higher value for both.
fn pieces(course: &[(Moment, f64)]) -> Vec<(f64, f64)> {
    let nexts = course.iter().skip(1);
    let mut parts: Vec<(f64, f64)> = course
        .iter()
        .zip(nexts)
        .map(|((at, value), (next, _))| (*value, num::float(next.since(*at).0) / 1e3))
        .collect();
    while parts.len() > MOST {
        parts = parts
            .chunks(2)
            .map(|two| {
                let highest = two.iter().map(|(c, _)| *c).fold(0.0, f64::max);
                (highest, two.iter().map(|(_, t)| *t).sum())
            })
            .collect();
    }
    parts
}

// The index of all that has a limit; of a part it is the least that the whole makes.
fn index(w: &mut Working, means: &[(f64, f64, Origin, &'static Solvent)], whole: bool) {
    const NAME: &str = "exposure index over eight hours";
    if means.is_empty() {
        w.kept.push(Kept::unknown(NAME, "1"));
        w.unknown.push(
            "the index: there is no substance with both a concentration and an entered limit"
                .to_owned(),
        );
        return;
    }
    let fill = |i: &mut Inputs| {
        let of = |(mean, _, _, s): &(f64, f64, Origin, &Solvent)| {
            (*mean, Origin::note(format!("{}, worked out above", s.name)))
        };
        let concentrations: Vec<(f64, Origin)> = means.iter().map(of).collect();
        let limits: Vec<(f64, Origin)> = means.iter().map(|(_, l, o, _)| (*l, o.clone())).collect();
        i.fill_from("concentration", &concentrations)?;
        i.fill_from("limit", &limits)
    };
    if whole {
        let part = w.part("exposure-mixture", "the index of all substances", fill);
        let index = part.map(|p| p.answer.result.base);
        w.kept.push(Kept {
            value: index.map(|i| json!((i * 1e6).round() / 1e6)),
            text: index.map_or_else(|| "unknown".to_owned(), |i| figures(i, 3)),
            ..Kept::unknown(NAME, "1")
        });
        return;
    }
    let found = computed("exposure-mixture", fill).map(|(_, answer)| answer.result.base);
    w.kept.push(Kept {
        text: found.as_ref().map_or_else(
            |_| "unknown".to_owned(),
            |i| format!("unknown, {} and more", figures(*i, 3)),
        ),
        ..Kept::unknown(NAME, "1")
    });
    w.unknown
        .push("the index of all substances: a limit or a concentration is missing".to_owned());
    w.held_against.push(Held::new(
        "the combined limit of the mixture",
        Bound::AtMost,
        found.ok().filter(|i| *i > 1.0),
        Some(NUMBER.base(1.0)),
        NUMBER,
    ));
}
