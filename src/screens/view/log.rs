//! Logging a deed: the one line that would be saved, what speaks against it, and the receipt.

use super::facts;
use super::text::{Line, flow, line, run};
use crate::ledger::{Plan, PlannedPiece};
use crate::reports::booth::none_fits;
use crate::reports::together::together;
use crate::screens::figures::{code_key, skipping};
use crate::screens::model::{DeedKey, Done, Log, Model, Stage};
use crate::screens::msg::Preview;
use crate::screens::theme::Ink;
use crate::screens::update::members;
use crate::shop::record::Fact;
use crate::shop::text::shown;
use crate::shop::words::{Defect, Reason, Word};
use crate::units::Amount;
use std::collections::BTreeMap;

/// The page's lines at a width.
pub(super) fn lines(model: &Model, log: &Log, width: u16) -> Vec<Line> {
    let out = match &log.stage {
        Stage::Done(done) => receipt(done, width),
        Stage::Code => codes(log, width),
        _ if log.deed.is_none() => choose(model, log),
        _ => confirm(model, log),
    };
    out.iter().flat_map(|l| flow(l, width, 2)).collect()
}

fn choose(model: &Model, log: &Log) -> Vec<Line> {
    let mut out = vec![
        line(log.whom(), Ink::Strong),
        Vec::new(),
        line("What was done?", Ink::Strong),
    ];
    if log.minutes > 0 {
        out.push(line(
            format!("It ended {} min ago.", log.minutes),
            Ink::Late,
        ));
    }
    out.push(Vec::new());
    let mut next: BTreeMap<(String, &str), usize> = BTreeMap::new();
    if let crate::ledger::Target::Rack(rack, _) = &log.target {
        for seen in model.floor.on_rack(rack) {
            *next
                .entry((seen.view.next.clone(), seen.view.outlook.word()))
                .or_insert(0) += 1;
        }
    }
    for ((words, outlook), n) in next {
        out.push(line(format!("{n:>4}  next {words}, {outlook}"), Ink::Plain));
    }
    out.push(Vec::new());
    out.push(line(facts::READY, Ink::Faint));
    out
}

fn confirm(model: &Model, log: &Log) -> Vec<Line> {
    let Some(Preview {
        plan,
        cautions,
        booths,
        ..
    }) = log.shown.as_deref()
    else {
        return vec![line(
            format!("{}: asking the ledger ...", log.whom()),
            Ink::Faint,
        )];
    };
    let mut out = worst(plan);
    out.push(line(plan.line.clone(), Ink::Strong));
    out.extend(plan.remarks.iter().map(|r| line(r.clone(), Ink::Late)));
    out.push(Vec::new());
    if log.deed == Some(DeedKey::Coat) {
        let mixes = model.floor.data.as_ref().map(|d| d.mixes.as_slice());
        let mix = log
            .mix
            .and_then(|n| mixes.unwrap_or_default().iter().find(|m| m.mix == n));
        out.push(match mix {
            Some(m) => line(facts::mix(m, model.now, &model.shop), Ink::Plain),
            None => line(no_mix(model, log), Ink::Late),
        });
        out.extend(booth_line(plan, booths));
    }
    out.extend(cautions.iter().map(|l| line(l.trim_start(), Ink::Late)));
    let against: Vec<&PlannedPiece> = plan
        .pieces
        .iter()
        .filter(|p| !p.objections.is_empty())
        .collect();
    let skipped: Vec<String> = log
        .skipped
        .iter()
        .cloned()
        .chain(skipping(model, log))
        .collect();
    if against.is_empty() && skipped.is_empty() {
        out.push(line(
            "no recipe rule is broken, as far as it is logged; look at the pieces",
            Ink::Faint,
        ));
        return out;
    }
    out.push(Vec::new());
    if !against.is_empty() {
        out.push(line("reasons against it", Ink::Head));
        out.extend(groups(against.iter().map(|p| {
            let texts: Vec<&str> = p.objections.iter().map(|o| o.before.as_str()).collect();
            let said = (p.taken, texts.join("; "));
            (said, p.now.piece.serial.as_str(), p.hook)
        })));
    }
    for serial in &skipped {
        out.push(line(
            format!("{serial}: not worked on, left out"),
            Ink::Late,
        ));
    }
    if against.iter().any(|p| p.taken) {
        out.push(line(
            "what is included becomes a deviation; you are asked why afterwards",
            Ink::Late,
        ));
    }
    out
}

// What must be seen before Enter stands above the line that Enter saves, where no length of the list hides it: how many
// have something against them, the reason that weighs most, and that nothing is saved where all are left out.
fn worst(plan: &Plan) -> Vec<Line> {
    let Some(worst) = plan.worst() else {
        return Vec::new();
    };
    let (against, of) = (plan.against(), plan.pieces.len());
    let count = format!("against it: {against} of {of} pieces; {}", worst.before);
    if plan.taken().next().is_some() {
        return vec![line(count, Ink::Against)];
    }
    vec![
        line(format!("nothing is saved yet, {count}"), Ink::Against),
        line(
            "x, or the tag \"exceptions too\", includes them as deviations; Esc drops it",
            Ink::Late,
        ),
    ]
}

// Where a coat is booked that goes by the room in which it hangs, which no remark says; a shop without a booth is asked
// nothing. The foot of a small terminal has no room for the key.
fn booth_line(plan: &Plan, booths: &[String]) -> Option<Line> {
    let by_room = plan
        .pieces
        .iter()
        .all(|p| matches!(&p.fact, Fact::Coat(c) if c.more.sprayed.is_none()));
    if !by_room || booths.is_empty() {
        return None;
    }
    Some(match plan.sprayed_in().into_iter().flatten().next() {
        Some(room) => line(
            format!("sprayed in {}; b books another booth", shown(room)),
            Ink::Plain,
        ),
        None => line(
            "booked at no booth: no room is known; b books one",
            Ink::Late,
        ),
    })
}

// A coat without a mix: where none fits what is next, that is said first.
fn no_mix(model: &Model, log: &Log) -> String {
    let mixes = model.floor.data.as_ref().map(|d| d.mixes.as_slice());
    let none = none_fits(mixes.unwrap_or_default(), &members(model, &log.target));
    let none = none.map_or_else(String::new, |text| format!("{text}; "));
    format!("{none}no mix is named; the film is the recipe's figure")
}

// Pieces with the same reason are said together, by their hooks; a single one with its serial.
fn groups<'a>(list: impl Iterator<Item = ((bool, String), &'a str, Option<u32>)>) -> Vec<Line> {
    let mut out = Vec::new();
    for group in together(list) {
        let (serials, hooks) = (&group.serials, &group.hooks);
        let mut whom = match serials.as_slice() {
            [one] => (*one).to_owned(),
            many => format!("{} pieces", many.len()),
        };
        if hooks.len() == serials.len() {
            whom = format!("{whom}, {}", facts::hooks(hooks));
        } else if serials.len() > 1 {
            whom = format!("{whom}: {}", serials.join(" "));
        }
        let (taken, text) = group.said;
        out.push(vec![
            run(if taken { "included  " } else { "left out  " }, Ink::Late),
            run(format!("{whom}  "), Ink::Strong),
            run(text, Ink::Against),
        ]);
    }
    out
}

// Every defect beside its key, in columns.
fn codes(log: &Log, width: u16) -> Vec<Line> {
    let cells: Vec<String> = Defect::ALL
        .iter()
        .enumerate()
        .filter_map(|(n, d)| {
            code_key(n).map(|key| format!("{:<20}", format!("{key} {}", d.word())))
        })
        .collect();
    let across = usize::from((width.saturating_sub(2) / 20).max(1));
    let mut out = vec![
        line(log.whom(), Ink::Strong),
        Vec::new(),
        line("Which defect?", Ink::Strong),
        Vec::new(),
    ];
    for row in cells.chunks(across) {
        out.push(line(format!("  {}", row.concat()), Ink::Strong));
    }
    out
}

// The digits in columns, so that none is parted from its word.
fn why(width: u16) -> Vec<Line> {
    let cells: Vec<String> = Reason::ALL
        .iter()
        .map(|r| format!("{:<24}", format!("{} {}", r.digit(), r.asked())))
        .collect();
    let across = usize::from((width.saturating_sub(2) / 24).max(1));
    let mut out = vec![line("why?", Ink::Strong)];
    for row in cells.chunks(across) {
        out.push(line(format!("  {}", row.concat()), Ink::Strong));
    }
    out
}

fn receipt(done: &Done, width: u16) -> Vec<Line> {
    let r = &done.receipt;
    let mut out = Vec::new();
    if done.already {
        out.push(line(
            format!(
                "already saved as action {}; nothing was added",
                r.saved.action
            ),
            Ink::Strong,
        ));
    } else {
        out.push(line(format!("saved: {}", r.line), Ink::Strong));
        out.push(line(
            format!(
                "action {}, entries {} to {}",
                r.saved.action, r.saved.first.0, r.saved.last.0
            ),
            Ink::Faint,
        ));
    }
    out.extend(r.remarks.iter().map(|r| line(r.clone(), Ink::Late)));
    if r.totals.voc.0 > 0 {
        out.push(line(
            format!("VOC {}, HAP {}", r.totals.voc.text(1), r.totals.hap.text(1)),
            Ink::Plain,
        ));
    }
    out.extend(groups(r.left_out.iter().map(|l| {
        let said = (false, l.why.clone());
        (said, l.serial.as_str(), l.hook)
    })));
    if !r.deviations.is_empty() {
        out.push(Vec::new());
        out.push(line(
            format!("open deviations of this deed: {}", r.deviations.len()),
            Ink::Head,
        ));
        match done.reason {
            Some(reason) => out.push(line(format!("reason: {}", reason.word()), Ink::Plain)),
            None => out.extend(why(width)),
        }
        let mut texts: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for d in &r.deviations {
            texts.entry(&d.text).or_default().push(&d.serial);
        }
        for (text, serials) in texts {
            out.push(vec![
                run(text, Ink::Against),
                run(format!(": {}", serials.join(" ")), Ink::Plain),
            ]);
        }
    }
    out
}
