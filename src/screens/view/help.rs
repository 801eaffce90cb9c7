//! The help page, made from the table of keys.

use super::facts;
use super::text::{Line, flow, line, run};
use crate::screens::keys::{CHAPTERS, TABLE};
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use crate::shop::words::{Outlook, Word};

/// The page's lines at a width.
pub(super) fn lines(model: &Model, width: u16) -> Vec<Line> {
    let mut out = vec![
        line(
            "Scan or type a rack or a serial, c for a coat, Enter saves the line that is shown.",
            Ink::Strong,
        ),
        Vec::new(),
        line("outlooks", Ink::Head),
    ];
    for o in Outlook::ALL {
        let says = match o {
            Outlook::Ready => "the next step's recipe time is reached, check by hand",
            Outlook::Waiting => "the next step must wait; the reasons stand beside it",
            Outlook::InWork => "a deed has begun and is not ended",
            Outlook::Held => "on hold, scrapped or at the end of its schedule",
            Outlook::Unknown => "something needed is not known",
        };
        out.push(vec![
            run(
                format!("{} {:<9}", model.shop.theme.shape(*o), o.word()),
                Ink::Outlook(*o),
            ),
            run(says, Ink::Plain),
        ]);
    }
    let (full, band, empty, beyond) = model.shop.theme.bar();
    out.push(line(
        format!(
            "film {full} predicted build, {band} the rest of the wanted band, {empty} outside it, {beyond} above it; G a gauge reading; ~ a forecast"
        ),
        Ink::Plain,
    ));
    for (title, modes) in CHAPTERS {
        out.push(Vec::new());
        out.push(line(*title, Ink::Head));
        for b in TABLE
            .iter()
            .filter(|b| modes.contains(&b.mode) && !b.says.is_empty())
        {
            out.push(vec![
                run(format!("{:<10}", b.shown), Ink::Strong),
                run(b.says, Ink::Plain),
            ]);
        }
    }
    out.push(Vec::new());
    out.push(line(facts::READY, Ink::Plain));
    out.push(line(crate::shop::cautions::STANDING_LINE, Ink::Plain));
    // A sentence goes on under its beginning, beside the key.
    out.iter()
        .flat_map(|l| flow(l, width, if l.len() > 1 { 10 } else { 2 }))
        .collect()
}
