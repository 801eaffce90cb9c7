//! The solvent vapour of a booth at the rate at which it was really sprayed, and of a room with fresh work in it.

use super::{Kept, Part, Working, computed, entries_words};
use crate::ledger::ALL_BOOTHS;
use crate::ledger::{CeilingRow, Ledger, LedgerError, RoomAirRow, UsedRow};
use crate::reports::limits::{LEL_SHARE, SHEET_LEL};
use crate::reports::vapours::percent;
use crate::science::measure::{AIR_FLOW, LIQUID_FLOW, Quantity, SHARE};
use crate::science::solvents::find;
use crate::science::vapour::{ROOM_CAUTION, room_after};
use crate::science::worksheet::{Bound, Held, Inputs, Origin, Refusal};
use crate::shop::material::OTHER_VOLATILE;
use crate::shop::text::shown;
use crate::units::{Amount, Flow, Mass, Moment, Share, Span, System, Volume, num};
use serde_json::json;
use std::collections::BTreeMap;
use uom::si::f64::{Ratio, Time, Volume as UomVolume, VolumeRate};

/// Over how long a room's vapour is shown.
const SHOWN: Span = Span::hours(24);

/// How far apart the points of a room's course stand.
const STEP: Span = Span::minutes(15);

/// What was sprayed, and what it was made of.
#[derive(Debug, Default)]
pub(super) struct Sprayed {
    /// The entries that used it.
    pub(super) entries: Vec<i64>,
    /// All that was sprayed tells what it was made of.
    pub(super) volume: i64,
    solids: i128,
    /// Mass by CAS number, and the name; water left out.
    pub(super) masses: BTreeMap<String, (String, i64)>,
    // Codes of the materials that have a volatile part.
    materials: Vec<String>,
    // What was sprayed in a time that is known tells the rate.
    timed: i64,
    length: Span,
    without: Vec<String>,
}

/// The solvents of what was sprayed as the worksheets take them.
pub(super) struct Named {
    words: Vec<(&'static str, Origin)>,
    parts: Vec<(f64, Origin)>,
    // Share of what was sprayed, by volume, that these are.
    volatile: f64,
    // The data sheets' limit, where it is the one to be used.
    sheet: Option<(f64, Origin)>,
    // What no table names, in words; none where all is named.
    without: Vec<String>,
}

impl Named {
    fn complete(&self) -> bool {
        self.without.is_empty()
    }

    fn fill(&self, inputs: &mut Inputs) -> Result<(), Refusal> {
        inputs.fill_words("solvent", &self.words)?;
        inputs.fill_from("part", &self.parts)?;
        if let Some(sheet) = &self.sheet {
            inputs.fill_from("sheet-lel", std::slice::from_ref(sheet))?;
        }
        Ok(())
    }

    /// Share of all that was sprayed, by volume, that one solvent is.
    pub(super) fn share(&self, key: &str) -> Option<f64> {
        let place = self.words.iter().position(|(k, _)| *k == key)?;
        Some(self.parts.get(place)?.0 * self.volatile)
    }

    fn title(&self, title: &str) -> String {
        if self.complete() {
            title.to_owned()
        } else {
            format!("{title}, the named part alone")
        }
    }
}

impl Sprayed {
    fn of(ledger: &Ledger, booth: &str, from: Moment, at: Moment) -> Result<Self, LedgerError> {
        let mut out = Self::default();
        for seq in ledger.coats_in(booth, from, at)? {
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
            if self.entries.last() != Some(&row.entry.0) {
                self.entries.push(row.entry.0);
            }
            self.volume += row.volume.0;
            self.solids += i128::from(row.volume.0) * i128::from(material.volume_solids.0);
            if material.volume_solids.0 < 1_000_000 && !self.materials.contains(&material.code) {
                self.materials.push(material.code.clone());
            }
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

    // Share of it by volume that is solvent.
    fn volatile(&self) -> f64 {
        let solids = i64::try_from(self.solids).map_or(0.0, num::float) / 1e6;
        1.0 - solids / num::float(self.volume.max(1))
    }

    // The solvents of the table in it, and what the table or the sheets do not name; none where nothing is named.
    pub(super) fn named(&self, limits: &[CeilingRow]) -> Option<Named> {
        let all: i64 = self.masses.values().map(|(_, m)| *m).sum();
        let mut named: Vec<(&'static str, f64)> = Vec::new();
        let mut without = Vec::new();
        for (cas, (name, mass)) in &self.masses {
            if let Some(solvent) = find(cas) {
                // Milligrams by kg/m3 are millilitres.
                named.push((solvent.key, num::float(*mass) / solvent.density_25_kg_m3));
            } else {
                let share = (num::float(*mass) / num::float(all.max(1)) * 1e3).round() / 1e1;
                let what = if name == OTHER_VOLATILE {
                    "is named on no sheet".to_owned()
                } else {
                    format!("is {}, which the table of solvents has not", shown(name))
                };
                without.push(format!("{share} % of the solvent by mass {what}"));
            }
        }
        let sum: f64 = named.iter().map(|(_, v)| v).sum();
        if sum <= 0.0 {
            return None;
        }
        let origin = Origin::entry(
            self.entries.first().copied().unwrap_or_default(),
            "its lots by their data sheets",
        );
        let volatile = if without.is_empty() {
            self.volatile()
        } else {
            (sum * 1e3 / num::float(self.volume.max(1))).min(self.volatile())
        };
        let mut out = Named {
            words: named.iter().map(|(k, _)| (*k, origin.clone())).collect(),
            parts: named
                .iter()
                .map(|(_, v)| (v / sum, origin.clone()))
                .collect(),
            volatile,
            sheet: None,
            without,
        };
        out.sheet = self.sheet_limit(limits, &out);
        Some(out)
    }

    // The data sheet's limit where somebody entered it. Of several materials the lowest; where only some have one entered,
    // it holds if it is below that of the table.
    fn sheet_limit(&self, limits: &[CeilingRow], named: &Named) -> Option<(f64, Origin)> {
        let of = |code: &String| {
            limits
                .iter()
                .find(|l| l.what == SHEET_LEL && l.scope == *code)
        };
        let lowest = self
            .materials
            .iter()
            .filter_map(of)
            .min_by_key(|l| l.value)?;
        let base = Share(lowest.value).base();
        if self.materials.iter().any(|code| of(code).is_none()) {
            let table = computed("lel", |i| named.fill(i)).ok()?.1.result.base;
            if table <= base {
                return None;
            }
        }
        let more = format!(
            "data sheet of {}, entered by {}, source: {}",
            lowest.scope, lowest.person, lowest.source
        );
        Some((base, Origin::entry(lowest.entry, &more)))
    }
}

// The limit that the shop entered for a booth or room, as the worksheets take it.
fn share_limit(place: &str, limits: &[CeilingRow]) -> Option<(f64, Origin)> {
    let of = |scope: &str| {
        limits
            .iter()
            .find(|l| l.what == LEL_SHARE && l.scope == scope)
    };
    let l = of(place).or_else(|| of(ALL_BOOTHS))?;
    let more = format!(
        "limit of {}, entered by {}, source: {}",
        l.scope, l.person, l.source
    );
    Some((Share(l.value).base(), Origin::entry(l.entry, &more)))
}

fn share_kept(name: String, base: Option<f64>) -> Kept {
    match base {
        Some(base) => Kept {
            name,
            value: num::whole((base * 1e6).round()).map(|v| json!(v)),
            unit: "ppm",
            text: SHARE.text(base, System::Metric),
        },
        None => Kept::unknown(&name, "ppm"),
    }
}

fn flow_kept(name: String, base: Option<f64>) -> Kept {
    match base {
        Some(base) => Kept {
            name,
            value: num::whole((base * 1e6).round()).map(|v| json!(v)),
            unit: "mL/s",
            text: AIR_FLOW.text(base, System::Metric),
        },
        None => Kept::unknown(&name, "mL/s"),
    }
}

fn air_origin(air: &RoomAirRow) -> Origin {
    let more = format!(
        "air of {}, entered by {}, source: {}",
        air.room, air.person, air.source
    );
    Origin::entry(air.entry, &more)
}

/// The share of the lower explosive limit in the exhaust of a booth at the rate of its last coats, and the flow that
/// would keep it at a quarter of that limit, or at the share that the shop entered.
pub(super) fn lel(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let mut w = Working::new("lel", what);
    let calendar = ledger.calendar();
    let limits = ledger.ceilings()?;
    let airs = ledger.room_airs(at)?;
    let air = airs.iter().find(|a| a.room == what);
    w.says.push(ROOM_CAUTION.to_owned());
    let hour = Sprayed::of(ledger, what, at.minus(Span::hours(1)), at)?;
    let day = Sprayed::of(ledger, what, calendar.day_begin(calendar.day(at)), at)?;
    let same = hour.entries == day.entries;
    let mut any = false;
    for (label, sprayed) in [("last hour", &hour), ("this production day", &day)] {
        if (label == "last hour" || !same) && (sprayed.volume > 0 || !sprayed.without.is_empty()) {
            any = true;
            window(&mut w, label, sprayed, air, &limits);
        }
    }
    if !any {
        w.kept.push(share_kept(
            "share of the lower explosive limit".to_owned(),
            None,
        ));
        w.kept.push(Kept::unknown("spray rate", "uL/min"));
        w.unknown.push(format!(
            "no coat with an amount and a beginning was logged in {} in this production day, by {}",
            shown(what),
            calendar.stamp(at)
        ));
    }
    let flow = air.and_then(|a| a.flow.map(|f| (a, f)));
    w.kept.push(flow_kept(
        "exhaust flow".to_owned(),
        flow.map(|(_, f)| f.base()),
    ));
    match flow {
        Some((a, _)) => w.says.push(format!(
            "exhaust flow: entry {}, entered by {}, source: {}",
            a.entry,
            a.person,
            shown(&a.source)
        )),
        None => w.unknown.push(format!(
            "the exhaust flow of {} is in no entry: a survey has velocities and no open area; \"hangtime room air\" enters it",
            shown(what)
        )),
    }
    Ok(w)
}

// What was sprayed since a moment: its rate, the flow it wants, and its share of the limit in the flow that is entered.
fn window(
    w: &mut Working,
    label: &str,
    sprayed: &Sprayed,
    air: Option<&RoomAirRow>,
    limits: &[CeilingRow],
) {
    for without in &sprayed.without {
        w.unknown
            .push(format!("{label}: {without}, so it is not in the rate"));
    }
    let share_name = format!("share of the lower explosive limit, {label}");
    let flow_name = format!("flow wanted, {label}");
    // The limit of what was sprayed is known without a rate, too.
    let named = sprayed.named(limits);
    match &named {
        None => w.unknown.push(format!(
            "{label}: no sheet of what was sprayed names a solvent of the table"
        )),
        Some(named) => {
            for without in &named.without {
                w.unknown.push(format!(
                    "{label}: {without}, so the limit and the share of the whole are unknown"
                ));
            }
            w.part(
                "lel",
                named.title(&format!(
                    "the lower explosive limit of the solvent sprayed, {label}"
                )),
                |i| named.fill(i),
            );
        }
    }
    let Some(rate) = sprayed.rate() else {
        w.kept.push(share_kept(share_name, None));
        w.kept
            .push(Kept::unknown(&format!("spray rate, {label}"), "uL/min"));
        w.unknown.push(format!(
            "no coat with an amount and a beginning was logged in the {label}"
        ));
        return;
    };
    let at_work = format!(
        "{} in {} while the gun was at work",
        Volume(sprayed.timed).text(0),
        sprayed.length.words()
    );
    let volatile = (sprayed.volatile() * 1e4).round() / 1e2;
    w.says.push(format!(
        "{label}: {at_work}, {}; {volatile} % of it by volume is solvent",
        entries_words(&sprayed.entries)
    ));
    let rate_kept = Kept {
        name: format!("spray rate, {label}"),
        value: num::whole((rate.to_base() * 60.0 * 1e9).round()).map(|v| json!(v)),
        unit: "uL/min",
        text: LIQUID_FLOW.text(rate.to_base(), System::Metric),
    };
    let Some(named) = named else {
        w.kept.extend([share_kept(share_name, None), rate_kept]);
        return;
    };
    let first = sprayed.entries.first().copied().unwrap_or_default();
    let solvent = rate.to_base() * named.volatile;
    let target = share_limit(&w.of, limits);
    let wanted = w.part(
        "lel-dilution",
        named.title(&format!("the flow that this rate wants, {label}")),
        |i| {
            named.fill(i)?;
            let more = format!("{at_work}, times the solvent's share");
            i.fill_from("rate", &[(solvent, Origin::entry(first, &more))])?;
            if let Some(target) = &target {
                i.fill_from("target", std::slice::from_ref(target))?;
            }
            Ok(())
        },
    );
    let also = |part: &Part, name: &str| {
        let found = part.answer.also.iter().find(|f| f.name == name);
        found.map(|f| f.base)
    };
    let wanted = wanted.and_then(|p| also(&p, "air flow at the rate"));
    let share = air
        .and_then(|a| a.flow.map(|f| (a, f)))
        .and_then(|(a, flow)| {
            w.part(
                "exhaust-lel",
                named.title(&format!("share of the lower explosive limit, {label}")),
                |i| {
                    let origin = Origin::entry(first, &at_work);
                    i.fill_from("sprayed", &[(rate.to_base(), origin.clone())])?;
                    i.fill_from("volatile", &[(named.volatile, origin)])?;
                    i.fill_from("exhaust", &[(flow.base(), air_origin(a))])?;
                    named.fill(i)?;
                    // A part of the whole is not held against the limit of the whole.
                    match &target {
                        Some(target) if named.complete() => {
                            i.fill_from("limit", std::slice::from_ref(target))
                        }
                        _ => Ok(()),
                    }
                },
            )
        });
    let share = share.map(|p| p.answer.result.base);
    if let (Some((limit, origin)), true) = (&target, share.is_none() || !named.complete()) {
        let figure = share.filter(|s| s > limit);
        let name = format!("{share_name} ({})", origin.note);
        w.held_against
            .push(Held::new(&name, Bound::AtMost, figure, Some(*limit), SHARE));
    }
    if !named.complete() {
        if let Some(base) = share {
            w.says.push(format!(
                "{label}: the named part alone makes {} of its lower explosive limit; the whole makes more",
                percent(base)
            ));
        }
        if let Some(base) = wanted {
            w.says.push(format!(
                "{label}: the named part alone wants {}; the whole wants more",
                AIR_FLOW.text(base, System::Metric)
            ));
        }
    }
    let known = |base: Option<f64>| base.filter(|_| named.complete());
    w.kept.extend([
        share_kept(share_name, known(share)),
        rate_kept,
        flow_kept(flow_name, known(wanted)),
    ]);
}

// Coats that came into a room at one moment.
struct Came {
    at: Moment,
    highest: f64,
    part: Part,
    complete: bool,
}

/// The size of a room as it was entered: volume, flow, and the entry.
pub(super) type Size = (Volume, Flow, Origin);

/// What came fresh into a room in the last two days, by the moment of its coming, and the room's size where it is known.
pub(super) struct Fresh {
    /// What came, by its moment.
    pub(super) groups: BTreeMap<Moment, Sprayed>,
    /// The room's size.
    pub(super) size: Option<Size>,
}

/// Reads it, and says what is unknown of it.
pub(super) fn fresh(
    w: &mut Working,
    ledger: &Ledger,
    what: &str,
    at: Moment,
) -> Result<Fresh, LedgerError> {
    let calendar = ledger.calendar();
    let airs = ledger.room_airs(at)?;
    let air = airs.iter().find(|a| a.room == what);
    // What came a day before the first point may still be there.
    let list = ledger.fresh_in(what, at.minus(Span(2 * SHOWN.0)), at)?;
    let mut groups: BTreeMap<Moment, Sprayed> = BTreeMap::new();
    for (there, entry) in &list {
        let group = groups.entry(*there).or_default();
        let used = ledger.used_by_entry(*entry)?;
        if used.is_empty() {
            group
                .without
                .push(format!("entry {entry} has no amount, so it is left out"));
        }
        group.add(ledger, &used)?;
    }
    for without in groups.values().flat_map(|g| &g.without) {
        w.unknown.push(without.clone());
    }
    let (volume, flow) = (air.and_then(|a| a.volume), air.and_then(|a| a.flow));
    for (known, word) in [(volume.is_some(), "volume"), (flow.is_some(), "air flow")] {
        if !known {
            w.unknown.push(format!(
                "the {word} of {} is in no entry; \"hangtime room air\" enters it",
                shown(what)
            ));
        }
    }
    if list.is_empty() {
        w.says.push(format!(
            "no coat was logged on what hung in {} in the two days before {}",
            shown(what),
            calendar.stamp(at)
        ));
    }
    let size = match (air, volume, flow) {
        (Some(air), Some(volume), Some(flow)) => Some((volume, flow, air_origin(air))),
        _ => None,
    };
    Ok(Fresh { groups, size })
}

/// The vapour that the fresh work of a room leaves in its air, now and over the last day: each coat gives off all its
/// solvent when it comes there, and the air that goes through the room takes it away.
pub(super) fn room(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let mut w = Working::new("vapour", what);
    let limits = ledger.ceilings()?;
    let now_name = "share of the lower explosive limit now".to_owned();
    let high_name = "highest share of the lower explosive limit in the last day".to_owned();
    w.says.push(ROOM_CAUTION.to_owned());
    let Fresh { groups, size } = fresh(&mut w, ledger, what, at)?;
    let Some(size) = size else {
        w.kept
            .extend([share_kept(now_name, None), share_kept(high_name, None)]);
        return Ok(w);
    };
    let mut came = Vec::new();
    let mut whole = w.unknown.is_empty();
    let mut without = BTreeMap::new();
    for (there, group) in &groups {
        match released(&mut w, &mut without, group, (*there, at), &size, &limits) {
            Some(part) => {
                whole &= part.complete;
                came.push(part);
            }
            None => whole &= group.volume == 0 && group.without.is_empty(),
        }
    }
    // One line for each reason, however many coats it holds for.
    for (why, mut entries) in without {
        entries.sort_unstable();
        w.unknown
            .push(format!("{}: {why}", entries_words(&entries)));
    }
    let left: f64 = came
        .iter()
        .filter_map(|c| c.part.answer.also.first().map(|f| f.base))
        .sum();
    let highest: Vec<(Moment, f64)> = came.iter().map(|c| (c.at, c.highest)).collect();
    let course = course(&highest, size.0, size.1, (at.minus(SHOWN), at));
    let high = course.iter().map(|(_, v)| *v).fold(left, f64::max);
    if !whole {
        w.says.push(format!(
            "the named and logged part alone makes {} now and made {} at the most; the whole makes more",
            percent(left),
            percent(high)
        ));
    }
    if let Some((limit, origin)) = share_limit(what, &limits) {
        // A part of it over the limit is over it, too.
        let figure = Some(high).filter(|high| whole || *high > limit);
        let name = format!("highest share of the last day ({})", origin.note);
        w.held_against
            .push(Held::new(&name, Bound::AtMost, figure, Some(limit), SHARE));
    }
    let known = |base: f64| Some(base).filter(|_| whole);
    w.kept.extend([
        share_kept(now_name, known(left)),
        share_kept(high_name, known(high)),
    ]);
    w.course = course
        .into_iter()
        .filter_map(|(m, v)| Some((m, num::whole((v * 1e6).round())?)))
        .collect();
    Ok(w)
}

// What one group of coats gives off at once, and what is left of it at the moment that is asked about.
fn released(
    w: &mut Working,
    without: &mut BTreeMap<String, Vec<i64>>,
    group: &Sprayed,
    (there, at): (Moment, Moment),
    (volume, flow, air): &(Volume, Flow, Origin),
    limits: &[CeilingRow],
) -> Option<Came> {
    if group.volume == 0 {
        return None;
    }
    let mut add = |why: String| {
        let kept: &mut Vec<i64> = without.entry(why).or_default();
        kept.extend(&group.entries);
    };
    let Some(named) = group.named(limits) else {
        add("no sheet names a solvent of the table".to_owned());
        return None;
    };
    for why in &named.without {
        add(format!("{why}, so the share of the whole is unknown"));
    }
    let first = group.entries.first().copied().unwrap_or_default();
    let said = format!(
        "{} of {}",
        Volume(group.volume).text(0),
        entries_words(&group.entries)
    );
    let part = w.part(
        "room-vapour",
        named.title(&format!("vapour of {said}")),
        |i| {
            let origin = Origin::entry(first, &said);
            i.fill_from("sprayed", &[(Volume(group.volume).base(), origin.clone())])?;
            i.fill_from("volatile", &[(named.volatile, origin.clone())])?;
            i.fill_from("room", &[(volume.base(), air.clone())])?;
            i.fill_from("air-flow", &[(flow.base(), air.clone())])?;
            let elapsed = num::float(at.since(there).0) / 1e3;
            i.fill_from("time", &[(elapsed, origin)])?;
            named.fill(i)?;
            Ok(())
        },
    )?;
    Some(Came {
        at: there,
        highest: part.answer.result.base,
        complete: named.complete(),
        part,
    })
}

/// The sum of what is left of each, every quarter of an hour and whenever something came.
pub(super) fn course(
    came: &[(Moment, f64)],
    volume: Volume,
    flow: Flow,
    (from, at): (Moment, Moment),
) -> Vec<(Moment, f64)> {
    let mut moments: Vec<Moment> = came.iter().map(|c| c.0).filter(|m| *m > from).collect();
    let mut m = from;
    while m < at {
        moments.push(m);
        m = m.plus(STEP);
    }
    moments.push(at);
    moments.sort_unstable();
    moments.dedup();
    let (air, room) = (
        VolumeRate::of_base(flow.base()),
        UomVolume::of_base(volume.base()),
    );
    let left = |(there, highest): &(Moment, f64), m: Moment| {
        let elapsed = Time::of_base(num::float(m.since(*there).0) / 1e3);
        // The decay is one factor, so that a share of the limit falls as the vapour does.
        room_after(
            Ratio::of_base(1.0),
            VolumeRate::of_base(0.0),
            air,
            room,
            elapsed,
        )
        .map_or(0.0, |r| r.to_base() * highest)
    };
    moments
        .into_iter()
        .map(|m| {
            let sum = came.iter().filter(|c| c.0 <= m).map(|c| left(c, m)).sum();
            (m, sum)
        })
        .collect()
}
