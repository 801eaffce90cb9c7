//! The film of a piece and of one coat.
//!
//! The history is played through the same fold that keeps the standing; a worksheet then shows each step of it.

use super::{Kept, Working, number};
use crate::ledger::{Ledger, LedgerError, MixRow, Seen};
use crate::reports::entries;
use crate::reports::piece_json::{film_side, lies};
use crate::science::worksheet::Origin;
use crate::shop::material::{MixFigures, mix_figures};
use crate::shop::recipe::{Recipe, Step};
use crate::shop::record::{CoatFact, Entry, Fact, What, covers};
use crate::shop::standing::{Mixes, PieceNow, Recipes};
use crate::shop::words::Word;
use crate::units::{Amount, Film, Moment, System, Volume};
use std::collections::BTreeMap;

/// What can be in a cup: the mixes of the ledger by number, and its lots as they come from the can.
#[derive(Debug)]
pub(in crate::reports) struct Cups {
    mixes: BTreeMap<u32, MixRow>,
    lots: BTreeMap<String, MixFigures>,
}

impl Cups {
    // Only those that the history names: a piece's working costs what its own deeds cost, however old the shop is.
    pub(in crate::reports) fn of(ledger: &Ledger, history: &[Entry]) -> Result<Self, LedgerError> {
        let (mut mixes, mut lots) = (BTreeMap::new(), BTreeMap::new());
        for entry in history {
            let Fact::Coat(coat) = &entry.fact else {
                continue;
            };
            match (coat.mix, &coat.lot) {
                (Some(mix), _) if !mixes.contains_key(&mix) => {
                    if let Some(row) = ledger.mix(mix)? {
                        mixes.insert(mix, row);
                    }
                }
                (None, Some(lot)) if !lots.contains_key(lot) => {
                    let material = ledger.lot_material(lot)?;
                    let neat = mix_figures([(material.as_ref(), Volume(1_000_000))]);
                    lots.insert(lot.clone(), neat);
                }
                _ => {}
            }
        }
        Ok(Self { mixes, lots })
    }
}

impl Mixes for Cups {
    fn figures(&self, coat: &CoatFact) -> Option<MixFigures> {
        match (coat.mix, &coat.lot) {
            (Some(mix), _) => self.mixes.get(&mix).map(|m| MixFigures {
                volume: m.volume,
                solids: m.solids,
                retarder: m.retarder,
            }),
            (None, Some(lot)) => self.lots.get(lot).copied(),
            (None, None) => None,
        }
    }

    // The film does not ask how old the mix is.
    fn mixed(&self, _: &CoatFact) -> Option<Moment> {
        None
    }
}

/// What one entry did to the film of one surface.
#[derive(Debug, Clone)]
pub(in crate::reports) struct Played {
    /// The entry.
    pub(in crate::reports) entry: Entry,
    /// The step of the recipe that it was counted in.
    pub(in crate::reports) step: Option<Step>,
    // The recipe's name by then.
    recipe: String,
    /// The branch in which the surface stood before it.
    pub(in crate::reports) branch: u32,
    /// Film before it, in nm.
    pub(in crate::reports) before: i64,
    /// Film after it, in nm.
    pub(in crate::reports) after: i64,
}

/// Plays a history through the fold of the standing and notes what each entry did to the film of a surface, in the
/// branch in which the surface stood.
pub(in crate::reports) fn played(
    history: &[Entry],
    recipes: &Recipes,
    cups: &Cups,
    surface: &str,
) -> Vec<Played> {
    let mut now: Option<PieceNow> = None;
    let mut list = Vec::new();
    let film = |piece: &PieceNow| {
        let (branch, _) = piece.branch_of(surface);
        piece
            .surfaces
            .get(&(branch, surface.to_owned()))
            .map(|s| s.film_nm)
    };
    for entry in history {
        let Some(piece) = &mut now else {
            if let Fact::Added(added) = &entry.fact {
                now = recipes
                    .of(added)
                    .map(|recipe| PieceNow::taken_in(entry, added, recipe));
            }
            continue;
        };
        let Some(recipe) = recipes.of(&piece.piece).cloned() else {
            continue;
        };
        let touch_up = matches!(&entry.fact, Fact::Coat(c) if c.touch_up);
        let step = entry
            .fact
            .step_kind()
            .filter(|_| !touch_up)
            .and_then(|kind| {
                let site = piece.current(&recipe).find(|s| s.surface == surface)?;
                let step = site.standing.step_for(site.steps, kind)?;
                site.steps.get(step).cloned()
            });
        let (branch, _) = piece.branch_of(surface);
        let before = film(piece);
        piece.apply(entry, recipes, cups);
        let (Some(before), Some(after)) = (before, film(piece)) else {
            continue;
        };
        let says = covers(&entry.surface, surface)
            && matches!(
                entry.fact,
                Fact::Coat(_) | Fact::Sanded { .. } | Fact::Gauged { .. }
            );
        if says || before != after {
            list.push(Played {
                entry: entry.clone(),
                step,
                recipe: recipe.label(),
                branch,
                before,
                after,
            });
        }
    }
    list
}

fn thinnest(seen: &Seen) -> Option<(String, i64)> {
    seen.sites()
        .map(|s| (s.surface.to_owned(), s.standing.film_nm))
        .min_by_key(|(_, film)| *film)
}

/// The film of a piece, surface by surface, the thinnest first.
pub(super) fn film(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let seen = ledger.piece(what, at)?;
    let history = ledger.history(seen.now.id, at)?;
    let cups = Cups::of(ledger, &history)?;
    let mut w = Working::new("film", &seen.now.piece.serial);
    let film = Film(seen.film_nm());
    w.kept.push(Kept::amount("film", film, "nm", 1));
    w.says.push(format!(
        "{} at the end if the rest goes by recipe: {} of recipe {}",
        Film(seen.finish_nm()).text(1),
        lies(
            film_side(&seen),
            &seen.band().0.text(0),
            &seen.band().1.text(0)
        ),
        seen.recipe.label()
    ));
    let recipes = ledger.recipes_of(&history)?;
    let mut surfaces: Vec<(String, i64)> = seen
        .sites()
        .map(|s| (s.surface.to_owned(), s.standing.film_nm))
        .collect();
    surfaces.sort_by_key(|(_, film)| *film);
    if let (Some((thin, _)), true) = (thinnest(&seen), surfaces.len() > 1) {
        w.says
            .push(format!("the thinnest surface speaks for the piece: {thin}"));
    }
    for (surface, kept) in surfaces {
        let list = played(&history, &recipes, &cups, &surface);
        if let Some(gauge) = list
            .iter()
            .rev()
            .find(|p| matches!(p.entry.fact, Fact::Gauged { .. }))
        {
            w.says.push(format!(
                "{surface}: it rests on the gauge reading of entry {}; what was before it no longer counts",
                gauge.entry.seq.0
            ));
        }
        let rows: Vec<(&'static str, f64, Origin)> = list.iter().map(row).collect();
        if rows.is_empty() {
            w.says
                .push(format!("{surface}: no coat is logged, so there is no film"));
            continue;
        }
        let words: Vec<(&str, Origin)> =
            rows.iter().map(|(word, _, o)| (*word, o.clone())).collect();
        let films: Vec<(f64, Origin)> =
            rows.iter().map(|(_, film, o)| (*film, o.clone())).collect();
        let part = w.part("film-build", format!("film of {surface}"), |i| {
            i.fill_words("deed", &words)?;
            i.fill_from("film", &films)
        });
        if let Some(part) = part {
            w.agrees(&surface, part.answer.result.base, Film(kept));
        }
    }
    Ok(w)
}

fn row(p: &Played) -> (&'static str, f64, Origin) {
    let step = p.step.as_ref();
    let more = match &p.entry.fact {
        Fact::Coat(c) => coat_words(c, step),
        Fact::Gauged { .. } => "gauge reading".to_owned(),
        Fact::Sanded { removed, .. } => {
            let by = if removed.is_some() {
                "as measured".to_owned()
            } else {
                format!("as recipe {} states it", p.recipe)
            };
            format!("{}, {by}", name(step))
        }
        Fact::Reworked { rework, .. } => format!("rework {rework}: the film comes off"),
        _ => format!("{}, as recipe {} states it", name(step), p.recipe),
    };
    let origin = Origin::entry(p.entry.seq.0, &more);
    let change = p.after - p.before;
    let (word, nm) = match &p.entry.fact {
        Fact::Gauged { film } => ("gauge", film.0),
        Fact::Sanded { .. } => ("takes", -change),
        _ if change < 0 => ("takes", -change),
        _ => ("adds", change),
    };
    (word, Film(nm).base(), origin)
}

fn name(step: Option<&Step>) -> &str {
    step.map_or("a deed outside the recipe", |s| s.name.as_str())
}

fn coat_words(coat: &CoatFact, step: Option<&Step>) -> String {
    let what = if coat.touch_up {
        "touch-up".to_owned()
    } else {
        step.map_or_else(|| coat.kind.word().to_owned(), |s| s.name.clone())
    };
    let readings = match coat.wet.len() {
        1 => "1 wet reading".to_owned(),
        n => format!("{n} wet readings"),
    };
    let by = match (coat.wet.len(), coat.mix) {
        (0, Some(mix)) => format!("recipe film for the solids of mix {mix}"),
        (0, None) => "recipe film".to_owned(),
        (_, Some(mix)) => format!("{readings} and mix {mix}"),
        (_, None) => format!("{readings} and the solids that the recipe assumes"),
    };
    format!("{what}, {by}")
}

/// The dry film of one coat.
pub(super) fn coat(ledger: &Ledger, what: &str, at: Moment) -> Result<Working, LedgerError> {
    let seq = number("entry", what)?;
    let row = ledger.entry(seq)?;
    let (What::Piece(Fact::Coat(coat)), Some((id, serial))) = (&row.what, &row.piece) else {
        return Err(LedgerError::Input(format!(
            "entry {seq} is no coat ({})",
            entries::words(&row.what, System::Metric)
        )));
    };
    if let Some(by) = row.voided_by {
        return Err(LedgerError::Input(format!(
            "entry {seq} was taken back by entry {}; it adds no film",
            by.0
        )));
    }
    let until = at.max(row.ended);
    let seen = ledger.piece(serial, until)?;
    let history = ledger.history(*id, until)?;
    let cups = Cups::of(ledger, &history)?;
    let mut w = Working::new("coat", format!("entry {seq}, {serial}"));
    let recipes = ledger.recipes_of(&history)?;
    let mut done: Vec<i64> = Vec::new();
    for (surface, p) in of_entry(&history, &seen, &recipes, &cups, seq) {
        let film = p.after - p.before;
        if done.contains(&film) {
            continue;
        }
        done.push(film);
        let film = Film(film);
        w.kept.push(Kept::amount("dry film", film, "nm", 3));
        let step = p.step.as_ref();
        let part = w.part(
            "coat-film",
            format!("{}, {surface}", coat_words(coat, step)),
            |i| coat_inputs(i, seq, coat, step, &seen.recipe, &cups),
        );
        if let Some(part) = part {
            w.agrees(&surface, part.answer.result.base, film);
        }
    }
    if w.kept.is_empty() {
        w.kept.push(Kept::unknown("dry film", "nm"));
        w.unknown
            .push("the entry is not in the branch in which work goes on".to_owned());
    }
    w.says.push(
        "a gauge reading of the whole film comes before a wet reading, a wet reading before the recipe's film"
            .to_owned(),
    );
    Ok(w)
}

fn of_entry(
    history: &[Entry],
    seen: &Seen,
    recipes: &Recipes,
    cups: &Cups,
    seq: i64,
) -> Vec<(String, Played)> {
    seen.sites()
        .filter_map(|s| {
            played(history, recipes, cups, s.surface)
                .into_iter()
                .find(|p| p.entry.seq.0 == seq)
                .map(|p| (s.surface.to_owned(), p))
        })
        .collect()
}

fn coat_inputs(
    inputs: &mut crate::science::worksheet::Inputs,
    seq: i64,
    coat: &CoatFact,
    step: Option<&Step>,
    recipe: &Recipe,
    cups: &Cups,
) -> Result<(), crate::science::worksheet::Refusal> {
    let of_step =
        |what: &str| Origin::note(format!("recipe {}, {}, {what}", recipe.label(), name(step)));
    if !coat.wet.is_empty() {
        let wet: Vec<(f64, Origin)> = coat
            .wet
            .iter()
            .map(|f| (f.base(), Origin::entry(seq, "wet reading")))
            .collect();
        inputs.fill_from("wet", &wet)?;
    }
    if let Some(mix) = coat.mix.and_then(|m| cups.mixes.get(&m)) {
        let origin = Origin::entry(mix.entry, &format!("mix {}", mix.mix));
        inputs.fill_from("solids", &[(mix.solids.base(), origin)])?;
    }
    if let Some(step) = step {
        inputs.fill_from(
            "recipe-film",
            &[(step.film.base(), of_step("film of a coat"))],
        )?;
        if let Some(solids) = step.solids {
            inputs.fill_from("recipe-solids", &[(solids.base(), of_step("solids"))])?;
        }
    }
    Ok(())
}
