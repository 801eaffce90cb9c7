//! A piece's card: where it stands, what is next and why, its film, its days, its air, its lines of work, its deviations,
//! its history, and what to mention.

mod air;
mod days;
mod film;
mod work;

use super::facts;
use super::grid::beside;
use super::text::{Line, flow, line, run};
use crate::ledger::{EntryRow, Seen, Spread};
use crate::reports::{average_day, entries, piece_json};
use crate::screens::model::{Card, Model};
use crate::screens::msg::CardData;
use crate::screens::theme::Ink;
use crate::shop::cautions::STANDING_LINE;
use crate::shop::record::What;
use crate::shop::words::{Rule, Word};
use crate::units::{Film, Span};

/// An entry that was written more than this after its deed is marked. Logging within the hour is the normal way:
/// nobody logs with the gun in hand.
const LATE: Span = Span::hours(1);

/// The headings of the card's top.
const NEXT: &str = "next";
const STANDING: &str = "standing";

fn head(title: &str) -> [Line; 2] {
    [Vec::new(), line(title, Ink::Head)]
}

/// Where a piece stands and why, as the card and the floor's side show it.
pub(super) fn standing(seen: &Seen, spread: Option<&Spread>, model: &Model) -> Vec<Line> {
    let calendar = &model.shop.calendar;
    let system = model.shop.system;
    let at = model.at();
    let p = &seen.now.piece;
    let mut out = vec![vec![
        run(p.serial.clone(), Ink::Strong),
        run(format!("  {}  {}", p.kind.word(), p.model), Ink::Strong),
        run(
            format!("  recipe {} \"{}\"", seen.recipe.label(), seen.recipe.name),
            Ink::Plain,
        ),
    ]];
    let mut facts_of: Vec<String> = Vec::new();
    if let Some(tag) = &p.tag {
        facts_of.push(format!("tag {tag}"));
    }
    facts_of.push(p.due.map_or_else(
        || "no due date".to_owned(),
        |d| format!("due {}", d.format("%a %-d %b %Y")),
    ));
    facts_of.push(
        p.pair
            .as_ref()
            .map_or_else(|| "no pair named".to_owned(), |m| format!("pair with {m}")),
    );
    let place = seen.now.place().map(|s| {
        let parts = [
            s.rack.as_ref().map(|r| format!("rack {r}")),
            s.hook.map(|h| format!("hook {h}")),
            s.room.as_ref().map(|r| format!("room {r}")),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
    });
    facts_of.push(
        place
            .filter(|p| !p.is_empty())
            .unwrap_or_else(|| "place not known".to_owned()),
    );
    out.push(line(facts_of.join("  "), Ink::Plain));
    // What speaks against the next step says the hold as well; it is not said twice.
    let said = |why: &str| seen.view.reasons.iter().any(|r| r.before.contains(why));
    for (_, why) in seen.now.holds.iter().filter(|(_, why)| !said(why)) {
        out.push(line(format!("on hold: {why}"), Ink::Against));
    }
    out.extend(head(NEXT));
    let shape = model.shop.theme.shape(seen.view.outlook);
    out.push(vec![
        run(format!("{}  ", seen.view.next_on()), Ink::Strong),
        run(
            format!("{shape} {}", seen.view.outlook.word()),
            Ink::Outlook(seen.view.outlook),
        ),
        run(
            format!(
                "  from {}  left {}",
                facts::from(&seen.view, at, calendar),
                facts::left(seen.view.outlook, seen.view.ready_at, at)
            ),
            Ink::Plain,
        ),
    ]);
    out.push(line(facts::READY, Ink::Faint));
    if seen.view.provisional {
        out.push(line(
            "~ rests on a forecast, a gap in the readings or a slow assumption",
            Ink::Late,
        ));
    }
    out.extend(spread.map(|s| line(average_day::words(s, at, calendar), Ink::Plain)));
    let behind = piece_json::behind_words(seen, calendar);
    for text in piece_json::left_out_words(seen)
        .into_iter()
        .chain(behind)
        .chain(piece_json::queued_words(seen, model.at()))
    {
        out.push(line(text, Ink::Late));
    }
    for reason in &seen.view.reasons {
        out.push(line(format!("- {}", reason.before), Ink::Against));
    }
    out.extend(head(STANDING));
    for site in seen.sites() {
        let s = site.standing;
        let surface = site.rework.map_or_else(
            || site.surface.to_owned(),
            |code| format!("{}, rework {code}", site.surface),
        );
        let gauged = if s.gauged {
            "from a gauge"
        } else {
            "predicted"
        };
        let (low, high) = seen.recipe.band(site.surface);
        let finish = seen.now.finish_of(&seen.recipe, &site);
        let mut parts = vec![format!(
            "film {} {gauged}, {} at the end: {}",
            facts::film(Film(s.film_nm), system),
            facts::film(Film(finish), system),
            piece_json::lies(
                piece_json::side(seen, &site),
                &facts::film(low, system),
                &facts::film(high, system)
            )
        )];
        let mut kinds = Vec::new();
        for step in site.steps {
            if step.kind.wets() && !kinds.contains(&step.kind) {
                kinds.push(step.kind);
            }
        }
        for kind in kinds {
            parts.push(format!(
                "{} {} of {}",
                kind.word(),
                s.coats(site.steps, kind),
                site.planned(kind)
            ));
        }
        parts.push(s.last_wet.map_or_else(
            || "nothing wet yet".to_owned(),
            |t| format!("last wet {}", calendar.near(t, at)),
        ));
        if let Some((earned, wanted)) = seen.view.cure {
            parts.push(format!("cure {} of {}", earned.words(), wanted.words()));
        }
        out.push(vec![
            run(format!("{surface}: "), Ink::Strong),
            run(parts.join("; "), Ink::Plain),
        ]);
    }
    for flaw in &seen.now.flaws {
        let place = flaw.place.as_ref().map_or(String::new(), |p| {
            format!(" at {}", crate::shop::text::shown(p))
        });
        out.push(vec![run(
            format!(
                "open defect: {} on {}{place} (entry {})",
                flaw.defect.word(),
                flaw.surface,
                flaw.entry.0
            ),
            Ink::Against,
        )]);
    }
    if let Some(b) = &seen.now.begun {
        out.push(line(
            format!(
                "{} begun {} by {}, not ended",
                b.kind.word(),
                calendar.near(b.at, at),
                b.person
            ),
            Ink::Late,
        ));
    }
    out
}

fn entry(e: &EntryRow, model: &Model) -> Line {
    let calendar = &model.shop.calendar;
    let ink = if e.voided_by.is_some() {
        Ink::Struck
    } else {
        Ink::Plain
    };
    let mut out = vec![
        run(format!("{:>4}  ", e.seq.0), Ink::Faint),
        run(
            format!(
                "{}  {}",
                calendar.stamp(e.ended),
                entries::words(&e.what, model.shop.system)
            ),
            ink,
        ),
    ];
    if e.surface != crate::shop::recipe::WHOLE && !e.surface.is_empty() {
        out.push(run(format!(" ({})", e.surface), ink));
    }
    let by = if e.person == e.writer {
        format!("  {}", e.person)
    } else {
        format!("  {}, written by {}", e.person, e.writer)
    };
    out.push(run(by, Ink::Plain));
    out.push(run(
        format!("  written {}", calendar.near(e.written, e.ended)),
        Ink::Faint,
    ));
    if matches!(e.what, What::Piece(_)) && e.written.since(e.ended) > LATE {
        out.push(run("  written late", Ink::Late));
    }
    if let Some(c) = e.corrects {
        out.push(run(format!("  about entry {}", c.0), Ink::Faint));
    }
    if let Some(by) = e.voided_by {
        out.push(run(format!("  taken back by {}", by.0), Ink::Late));
    }
    out
}

// How one of the card's figures was made: the same lines as `hangtime working` prints, below the list of figures.
fn working(card: &Card, data: &CardData, model: &Model, width: u16) -> Vec<Line> {
    let mut list: Line = Vec::new();
    for (n, (name, _)) in data.workings.iter().enumerate() {
        let ink = if n == card.figure {
            Ink::Strong
        } else {
            Ink::Faint
        };
        let mark = if n == card.figure {
            model.shop.theme.mark()
        } else {
            " "
        };
        // The blanks within a name must not part it over two lines.
        let name = name.replace(' ', "\u{a0}");
        let mark = mark.replace(' ', "\u{a0}");
        list.push(run(format!("{mark}{}\u{a0}{name}  ", n + 1), ink));
    }
    let mut out = flow(&list, width, 0);
    for (text, _) in out.iter_mut().flatten() {
        *text = text.replace('\u{a0}', " ");
    }
    out.push(Vec::new());
    match data.workings.get(card.figure).map(|(_, shown)| shown) {
        Some(Ok(working)) => {
            for (i, text) in working.lines(model.shop.system).into_iter().enumerate() {
                let ink = if i == 0 { Ink::Strong } else { Ink::Plain };
                out.extend(flow(&line(text, ink), width, 4));
            }
        }
        Some(Err(why)) => out.extend(flow(&line(why.clone(), Ink::Faint), width, 2)),
        None => {}
    }
    out
}

/// At which of the card's lines its sections begin.
pub(super) fn sections(lines: &[Line]) -> Vec<usize> {
    let heads = lines
        .iter()
        .enumerate()
        .filter(|(_, l)| l.iter().any(|(_, ink)| *ink == Ink::Head))
        // What is next and where it stands is the card's top, to which the way back leads.
        .filter(|(_, l)| !matches!(l.first(), Some((t, _)) if t == NEXT || t == STANDING));
    heads.map(|(n, _)| n).collect()
}

/// From this width on two sections stand beside each other.
const WIDE: u16 = 116;

/// The card's lines at a width.
pub(super) fn lines(model: &Model, card: &Card, width: u16) -> Vec<Line> {
    let Some(data) = &card.data else {
        return vec![line(
            format!("{}: reading the ledger ...", card.serial),
            Ink::Faint,
        )];
    };
    if card.working {
        return working(card, data, model, width);
    }
    let flowed = |lines: Vec<Line>, width| -> Vec<Line> {
        lines.iter().flat_map(|l| flow(l, width, 2)).collect()
    };
    let mut top = standing(&data.seen, data.spread.as_ref(), model);
    top.extend(open_deviations(data));
    let film = |width| {
        let mut out = head("film after each deed").to_vec();
        out.extend(film::lines(&data.film, &data.seen, model, width));
        out
    };
    let days = |width| {
        let mut out = head("production days").to_vec();
        let wet = data.seen.site().and_then(|s| s.standing.last_wet);
        let cure = wet.filter(|_| data.seen.view.cure.is_some());
        out.extend(days::lines(&data.days, cure, model, width));
        out
    };
    let air = |width| {
        let mut out = head("air and credited hours since the last wet coat").to_vec();
        out.extend(air::lines(data.air.as_ref(), &data.seen, model, width));
        if data.seen.recipe.solvent.is_some() {
            out.extend(head("solvent still in the film"));
            if data.solvent.is_empty() {
                out.push(line(
                    "the recipe's model has no answer here: unknown",
                    Ink::Late,
                ));
            }
            out.extend(air::solvent(&data.solvent, &data.seen, model, width));
        }
        out
    };
    let mut out = if width >= WIDE {
        let left = width / 2 - 1;
        let right = width - left - 2;
        let mut all = beside(flowed(top, left), skip_blank(film(right)), left + 2);
        if left >= WIDE - 20 {
            all.push(Vec::new());
            let (days, air) = (skip_blank(days(left)), skip_blank(air(right)));
            all.extend(beside(days, air, left + 2));
        } else {
            all.extend(days(width));
            all.extend(air(width));
        }
        all
    } else {
        let mut all = flowed(top, width);
        all.extend(film(width));
        all.extend(days(width));
        all.extend(air(width));
        all
    };
    let defects = work::defects(&data.entries, &data.seen, model, width);
    if !defects.is_empty() {
        out.extend(head("defects"));
        out.extend(defects);
    }
    if !data.seen.now.branches.is_empty() {
        out.extend(head("lines of work"));
        out.extend(work::lines(&data.seen, model, width));
    }
    out.extend(flowed(record(data, model), width));
    out
}

fn skip_blank(mut lines: Vec<Line>) -> Vec<Line> {
    if lines.first().is_some_and(Vec::is_empty) {
        lines.remove(0);
    }
    lines
}

// Those that await a word stand with what is next: they are asked for before the film is looked at.
fn open_deviations(data: &CardData) -> Vec<Line> {
    data.deviations
        .iter()
        .filter(|d| d.moot.is_none() && d.answer.is_none())
        .map(|d| {
            line(
                format!("open deviation, entry {}: {}", d.entry.0, d.text),
                Ink::Against,
            )
        })
        .collect()
}

// The deviations, the entries and what is mentioned when it is sprayed.
fn record(data: &CardData, model: &Model) -> Vec<Line> {
    let mut out: Vec<Line> = head("deviations").to_vec();
    if data.deviations.is_empty() {
        out.push(line("none", Ink::Faint));
    }
    for d in &data.deviations {
        let (state, ink) = match (d.moot, d.answer) {
            (Some(by), _) => (format!("moot since action {by}"), Ink::Faint),
            (_, Some(by)) => (format!("answered by entry {by}"), Ink::Faint),
            (None, None) => ("open".to_owned(), Ink::Against),
        };
        let late = if d.rule == Rule::WrittenLate.word() {
            " (written late)"
        } else {
            ""
        };
        out.push(vec![
            run(
                format!("entry {}: {}{late}  ", d.entry.0, d.text),
                Ink::Plain,
            ),
            run(
                format!("reason: {}  ", d.reason.as_deref().unwrap_or("none yet")),
                Ink::Plain,
            ),
            run(state, ink),
        ]);
    }
    out.extend(head("history, by the time of writing"));
    out.extend(data.entries.iter().map(|e| entry(e, model)));
    if !data.cautions.is_empty() {
        out.extend(head("when it is sprayed"));
        for c in &data.cautions {
            out.push(line(format!("! {}", c.text), Ink::Plain));
            out.push(line(
                format!("  source: {}; ask: {}", c.source, c.ask),
                Ink::Faint,
            ));
        }
        out.push(line(STANDING_LINE, Ink::Strong));
    }
    out
}
