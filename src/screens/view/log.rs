//! Logging a deed: the one line that would be saved, what speaks against it, and the receipt.

use super::facts;
use super::text::{Line, flow, line, run};
use crate::ledger::PlannedPiece;
use crate::screens::model::{DeedKey, Done, Log, Model, Stage};
use crate::screens::theme::Ink;
use crate::shop::words::{Reason, Word};
use crate::units::Amount;
use std::collections::BTreeMap;

/// The page's lines at a width.
pub(super) fn lines(model: &Model, log: &Log, width: u16) -> Vec<Line> {
    let out = match &log.stage {
        Stage::Done(done) => receipt(model, done),
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
    let Some(plan) = &log.plan else {
        return vec![line(
            format!("{}: asking the ledger ...", log.whom()),
            Ink::Faint,
        )];
    };
    let mut out = vec![line(plan.line.clone(), Ink::Strong), Vec::new()];
    if log.deed == Some(DeedKey::Coat) {
        let mixes = model.floor.data.as_ref().map(|d| d.mixes.as_slice());
        let mix = log
            .mix
            .and_then(|n| mixes.unwrap_or_default().iter().find(|m| m.mix == n));
        out.push(line(
            mix.map_or_else(
                || "no mix is named; the film is the recipe's figure".to_owned(),
                |m| facts::mix(m, model.now, &model.shop),
            ),
            Ink::Plain,
        ));
    }
    let (mixed, all): (Vec<&PlannedPiece>, usize) = (
        plan.pieces
            .iter()
            .filter(|p| !p.objections.is_empty())
            .collect(),
        plan.pieces.len(),
    );
    if mixed.is_empty() && log.skipped.is_empty() {
        out.push(line(
            "nothing in the recipe speaks against it; look at the pieces",
            Ink::Faint,
        ));
        return out;
    }
    out.push(Vec::new());
    out.extend(against(&mixed, all));
    for serial in &log.skipped {
        out.push(line(
            format!("{serial}: not worked on, left out"),
            Ink::Late,
        ));
    }
    if mixed.iter().any(|p| p.taken) {
        out.push(line(
            "saved as a deviation where it is taken along; you are asked why afterwards",
            Ink::Late,
        ));
    }
    out
}

// What speaks against it: said once where it is the same for the whole rack, else by hook.
fn against(pieces: &[&PlannedPiece], all: usize) -> Vec<Line> {
    let texts = |p: &PlannedPiece| -> Vec<String> {
        p.objections.iter().map(|o| o.before.clone()).collect()
    };
    let shared = pieces.first().map(|p| texts(p)).unwrap_or_default();
    let same =
        pieces.len() == all && all > 1 && pieces.iter().all(|p| p.taken && texts(p) == shared);
    if same {
        let mut out = vec![line(format!("against it, all {all} pieces:"), Ink::Head)];
        out.extend(
            shared
                .into_iter()
                .map(|t| line(format!("  {t}"), Ink::Against)),
        );
        return out;
    }
    let out_of = pieces.iter().filter(|p| !p.taken).count();
    let mut out = vec![line(
        format!(
            "against it: {} of {all} pieces, {out_of} left out",
            pieces.len()
        ),
        Ink::Head,
    )];
    for p in pieces {
        let hook = p.hook.map_or_else(String::new, |h| format!("hook {h} "));
        out.push(vec![
            run(format!("{hook}{}  ", p.now.piece.serial), Ink::Strong),
            run(
                if p.taken {
                    "taken along  "
                } else {
                    "left out  "
                },
                Ink::Late,
            ),
            run(texts(p).join("; "), Ink::Against),
        ]);
    }
    out
}

fn receipt(model: &Model, done: &Done) -> Vec<Line> {
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
    if r.totals.voc.0 > 0 {
        out.push(line(
            format!("VOC {}, HAP {}", r.totals.voc.text(1), r.totals.hap.text(1)),
            Ink::Plain,
        ));
    }
    for l in &r.left_out {
        let hook = l.hook.map_or_else(String::new, |h| format!("hook {h} "));
        out.push(line(
            format!("left out: {hook}{}  {}", l.serial, l.why),
            Ink::Late,
        ));
    }
    if !r.deviations.is_empty() {
        out.push(Vec::new());
        out.push(line(
            format!("open deviations of this deed: {}", r.deviations.len()),
            Ink::Head,
        ));
        match done.reason {
            Some(reason) => out.push(line(format!("reason: {}", reason.word()), Ink::Plain)),
            None => {
                let digits: Vec<String> = Reason::ALL
                    .iter()
                    .map(|r| format!("{} {}", r.digit(), r.word()))
                    .collect();
                out.push(line(format!("why?  {}", digits.join("   ")), Ink::Strong));
            }
        }
        for d in &r.deviations {
            out.push(vec![
                run(format!("{}  ", d.serial), Ink::Strong),
                run(d.text.clone(), Ink::Against),
            ]);
        }
    }
    let _ = model;
    out
}
