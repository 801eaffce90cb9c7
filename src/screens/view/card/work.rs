//! The card's lines of work: the main line and its reworks side by side, and what became of each defect.

use super::super::text::{Line, flow, line, line_cells, run};
use crate::ledger::{EntryRow, Seen};
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use crate::shop::record::{EntrySeq, Fact, What};
use crate::shop::standing::Standing;
use crate::shop::text::shown;
use crate::shop::words::Word;

/// Least columns of one line of work.
const NARROW: u16 = 30;

/// The lines of work, where there is more than the main one.
pub(super) fn lines(seen: &Seen, model: &Model, width: u16) -> Vec<Line> {
    let now = &seen.now;
    let mut columns: Vec<Vec<Line>> = Vec::new();
    let Some(surface) = now.surfaces.keys().rev().map(|(_, s)| s.clone()).next() else {
        return Vec::new();
    };
    for number in 0..=now.newest_branch() {
        // Each rework by the first surface that is in it; the main line by the surface of the newest rework.
        let key = now
            .surfaces
            .keys()
            .find(|(n, s)| *n == number && (number > 0 || *s == surface));
        if let Some((key, standing)) = key.and_then(|k| now.surfaces.get_key_value(k)) {
            columns.push(column(number, &key.1, standing, seen, model));
        }
    }
    let each = usize::from(width / NARROW).max(1);
    let wide = width / u16::try_from(each.min(columns.len()).max(1)).unwrap_or(1);
    let mut out = Vec::new();
    for part in columns.chunks(each) {
        let rows = part.iter().map(Vec::len).max().unwrap_or(0);
        for row in 0..rows {
            let mut all: Line = Vec::new();
            for (n, column) in part.iter().enumerate() {
                let start = u16::try_from(n).unwrap_or(0) * wide;
                let gap = start.saturating_sub(line_cells(&all));
                all.push(run(" ".repeat(usize::from(gap)), Ink::Plain));
                for (text, ink) in column.get(row).into_iter().flatten() {
                    let room = (start + wide).saturating_sub(line_cells(&all) + 1);
                    let text = super::super::text::fit(text, room, model.shop.theme);
                    all.push(run(text, *ink));
                }
            }
            out.push(all);
        }
    }
    out
}

fn column(
    number: u32,
    surface: &str,
    standing: &Standing,
    seen: &Seen,
    model: &Model,
) -> Vec<Line> {
    let calendar = &model.shop.calendar;
    let code = seen.now.code_of(number);
    let mut out = vec![line(
        code.map_or_else(
            || format!("main line, {surface}"),
            |code| format!("rework {code}, {surface}"),
        ),
        Ink::Strong,
    )];
    let branch = usize::try_from(number)
        .ok()
        .and_then(|n| n.checked_sub(1))
        .and_then(|n| seen.now.branches.get(n));
    out.push(line(
        branch.map_or_else(String::new, |b| {
            let why = b
                .defect
                .map_or_else(String::new, |d| format!(" for {}", d.word()));
            format!("opened {}{why}", calendar.stamp(b.at))
        }),
        Ink::Faint,
    ));
    let steps = seen.recipe.route(code, surface);
    let next = standing.next(steps).filter(|_| standing.closed.is_none());
    let (here, _) = seen.now.branch_of(surface);
    for (n, step) in steps.iter().enumerate() {
        let marked = next == Some(n) && here == number;
        let mark = if marked { model.shop.theme.mark() } else { " " };
        let done = standing.done(n);
        let said = if step.waits() {
            step.name.clone()
        } else {
            format!("{} {done} of {}", step.name, step.count)
        };
        let ink = if marked {
            Ink::Strong
        } else if !step.waits() && done >= step.count {
            Ink::Faint
        } else {
            Ink::Plain
        };
        out.push(line(format!("{mark} {said}"), ink));
    }
    if let Some(closed) = standing.closed {
        out.push(line(
            format!("  closed {}", calendar.stamp(closed)),
            Ink::Faint,
        ));
    }
    out
}

/// Every defect that was seen, and what became of it.
pub(super) fn defects(entries: &[EntryRow], seen: &Seen, model: &Model, width: u16) -> Vec<Line> {
    let calendar = &model.shop.calendar;
    let mut out = Vec::new();
    for e in entries {
        let What::Piece(Fact::Flawed { defect, place, .. }) = &e.what else {
            continue;
        };
        let at = place
            .as_ref()
            .map_or_else(String::new, |p| format!(" at {}", shown(p)));
        let (fate, ink) = fate(e, entries, seen);
        let text = format!(
            "entry {}: {} on {}{at}, seen {} by {}: ",
            e.seq.0,
            defect.word(),
            shown(&e.surface),
            calendar.stamp(e.ended),
            e.person
        );
        let struck = if e.voided_by.is_some() {
            Ink::Struck
        } else {
            Ink::Plain
        };
        out.extend(flow(&[run(text, struck), run(fate, ink)], width, 2));
    }
    out
}

fn fate(e: &EntryRow, entries: &[EntryRow], seen: &Seen) -> (String, Ink) {
    if let Some(EntrySeq(by)) = e.voided_by {
        return (format!("taken back by {by}"), Ink::Late);
    }
    if seen.now.flaws.iter().any(|f| f.entry == e.seq) {
        return ("open".to_owned(), Ink::Against);
    }
    let live = || entries.iter().filter(|m| m.voided_by.is_none());
    for m in live() {
        if let What::Piece(Fact::Mended { flaw, how }) = &m.what
            && *flaw == e.seq
        {
            return (
                format!("mended by entry {}: {}", m.seq.0, shown(how)),
                Ink::Faint,
            );
        }
    }
    let rework = live().find_map(|m| match &m.what {
        What::Piece(Fact::Reworked { rework, .. }) if m.ended >= e.ended => Some(format!(
            "taken into rework {} by entry {}",
            shown(rework),
            m.seq.0
        )),
        _ => None,
    });
    (
        rework.unwrap_or_else(|| "no longer open".to_owned()),
        Ink::Faint,
    )
}
