//! Defects, reworks, and what a piece belongs to: recipe, tag, other half.

use super::deed::{Aside, How, Whom, kept, read_word};
use super::process::read_size;
use super::{Answer, Desk, Shop, Trouble};
use crate::ledger::{DeedRequest, DeedWhat, PinDeed, Plan, Seen, Target};
use crate::reports::going_over;
use crate::shop::record::{EntrySeq, Fact};
use crate::shop::text::{clean, like, shown};
use crate::shop::words::{Defect, Word};
use crate::units::System;

/// Write down a defect.
#[derive(Debug, clap::Args)]
pub(super) struct Flaw {
    /// The pieces, then the defect: run, orange-peel, fisheye, through-clear, sink, ding, ...
    #[arg(required = true, value_name = "PIECE.. DEFECT")]
    words: Vec<String>,
    #[command(flatten)]
    whom: Whom,
    #[command(flatten)]
    how: How,
    /// Where on the surface.
    #[arg(long)]
    place: Option<String>,
    /// Size across, such as 4mm.
    #[arg(long)]
    size: Option<String>,
}

/// Say that a defect was mended without a rework.
#[derive(Debug, clap::Args)]
pub(super) struct Mend {
    /// The piece.
    piece: String,
    /// Number of the entry that saw the defect.
    #[arg(long, value_name = "ENTRY")]
    flaw: i64,
    /// How it was mended.
    #[arg(long = "how", value_name = "TEXT")]
    by_what: String,
    #[command(flatten)]
    how: How,
}

/// Open a rework: the surface goes on by the rework's own steps.
#[derive(Debug, clap::Args)]
pub(super) struct Rework {
    /// The piece, then the rework's code; with --rack the code alone. Without a code the defect tells which.
    #[arg(value_name = "PIECE CODE")]
    words: Vec<String>,
    #[command(flatten)]
    whom: Whom,
    #[command(flatten)]
    how: How,
    /// The defect that it mends.
    #[arg(long)]
    defect: Option<String>,
    /// Why.
    #[arg(long)]
    why: String,
}

/// Move pieces to another recipe or revision.
#[derive(Debug, clap::Args)]
pub(super) struct Reassign {
    /// The pieces, then the recipe and its revision; with --rack the recipe and its revision alone.
    #[arg(required = true, value_name = "PIECE.. RECIPE REV")]
    words: Vec<String>,
    #[command(flatten)]
    whom: Whom,
    #[command(flatten)]
    how: How,
    /// Why.
    #[arg(long)]
    why: String,
}

/// Replace a piece's tag; the old one is retired.
#[derive(Debug, clap::Args)]
pub(super) struct Tag {
    /// The piece.
    piece: String,
    /// Its new tag.
    #[arg(value_name = "TAG")]
    new: Option<String>,
    /// It has no tag from now on.
    #[arg(long, conflicts_with = "new")]
    none: bool,
    /// Why.
    #[arg(long)]
    why: String,
    #[command(flatten)]
    how: How,
}

/// Say that a body and a neck belong together from now on.
#[derive(Debug, clap::Args)]
pub(super) struct Pair {
    /// The body.
    body: String,
    /// The neck.
    neck: String,
    /// Why.
    #[arg(long)]
    why: String,
    #[command(flatten)]
    how: How,
}

fn why(text: &str) -> Result<String, Trouble> {
    clean("why", text, 500).map_err(Trouble::Input)
}

fn one(piece: &str) -> Target {
    Target::Pieces(vec![piece.to_owned()])
}

impl Flaw {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let Some((defect, pieces)) = self.words.split_last() else {
            return Err(Trouble::Input("which piece, and which defect?".to_owned()));
        };
        let shop = desk.shop()?;
        let target = self.whom.target(pieces)?;
        let fact = Fact::Flawed {
            defect: read_word::<Defect>("defect", defect)?,
            size_um: self.size.as_deref().map(read_size).transpose()?,
            place: kept("place", self.place.as_deref(), 60)?,
            note: kept("note", self.how.note(), 500)?,
        };
        let mut request = self
            .how
            .request(desk, &shop, target, DeedWhat::Other(fact))?;
        self.whom.fill(&mut request);
        self.how.go(desk, shop, &request)
    }
}

impl Mend {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let fact = Fact::Mended {
            flaw: EntrySeq(self.flaw),
            how: clean("how", &self.by_what, 200).map_err(Trouble::Input)?,
        };
        let request = self
            .how
            .request(desk, &shop, one(&self.piece), DeedWhat::Other(fact))?;
        self.how.go(desk, shop, &request)
    }
}

impl Rework {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let defect = self
            .defect
            .as_deref()
            .map(|d| read_word::<Defect>("defect", d))
            .transpose()?;
        let (pieces, code) = match (&self.whom.rack, self.words.as_slice()) {
            (Some(_), []) => (Vec::new(), None),
            (Some(_), [code]) => (Vec::new(), Some(code.clone())),
            (None, [piece]) => (vec![piece.clone()], None),
            (None, [piece, code]) => (vec![piece.clone()], Some(code.clone())),
            _ => {
                return Err(Trouble::Input(
                    "write one piece and the rework's code, or --rack and the code".to_owned(),
                ));
            }
        };
        let target = self.whom.target(&pieces)?;
        let rework = match code {
            Some(code) => code,
            None => which(&shop, &target, defect)?,
        };
        let fact = Fact::Reworked {
            rework,
            defect,
            why: why(&self.why)?,
        };
        let mut request = self
            .how
            .request(desk, &shop, target, DeedWhat::Other(fact))?;
        self.whom.fill(&mut request);
        self.how.go(desk, shop, &request)
    }
}

// The one rework of the pieces' recipe that mends a defect.
fn which(shop: &Shop, target: &Target, defect: Option<Defect>) -> Result<String, Trouble> {
    let text = match target {
        Target::Pieces(list) => list.first().cloned().unwrap_or_default(),
        Target::Rack(rack, _) => {
            let floor = shop.ledger.floor(shop.now, None)?;
            let meant = like(floor.iter().filter_map(Seen::rack), rack);
            floor
                .iter()
                .find(|s| meant.is_some() && s.rack() == meant)
                .map(|s| s.now.piece.serial.clone())
                .ok_or_else(|| {
                    Trouble::Input(format!("rack \"{}\" has no piece in process", shown(rack)))
                })?
        }
    };
    let recipe = shop.ledger.piece(&text, shop.now)?.recipe;
    let all: Vec<&str> = recipe.reworks.iter().map(|r| r.code.as_str()).collect();
    let known = if all.is_empty() {
        "none: the recipe has no rework".to_owned()
    } else {
        all.join(", ")
    };
    let Some(defect) = defect else {
        return Err(Trouble::Input(format!(
            "which rework of {}? write its code or --defect; it has {known}",
            recipe.label()
        )));
    };
    let fits: Vec<&str> = recipe
        .reworks
        .iter()
        .filter(|r| r.defects.contains(&defect))
        .map(|r| r.code.as_str())
        .collect();
    match fits.as_slice() {
        [code] => Ok((*code).to_owned()),
        [] => Err(Trouble::Input(format!(
            "no rework of {} is said to mend \"{}\"; write the code of one: {known}",
            recipe.label(),
            defect.word()
        ))),
        several => Err(Trouble::Input(format!(
            "several reworks of {} mend \"{}\": {}; write the code of one",
            recipe.label(),
            defect.word(),
            several.join(", ")
        ))),
    }
}

impl Reassign {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let [pieces @ .., recipe, revision] = self.words.as_slice() else {
            return Err(Trouble::Input(
                "write the pieces, the recipe's code and its revision".to_owned(),
            ));
        };
        let revision: u32 = revision.parse().map_err(|_| {
            Trouble::Input(format!(
                "revision \"{}\" is not a number; write such as: reassign B-0117 G9 4",
                shown(revision)
            ))
        })?;
        let shop = desk.shop()?;
        let fact = Fact::Reassigned {
            recipe: recipe.clone(),
            revision,
            why: why(&self.why)?,
        };
        let target = self.whom.target(pieces)?;
        let mut request = self
            .how
            .request(desk, &shop, target, DeedWhat::Other(fact))?;
        self.whom.fill(&mut request);
        let system = desk.system();
        self.how
            .go_with(desk, shop, &request, |shop, request, plan| {
                effect(shop, request, plan, system)
            })
    }
}

fn effect(
    shop: &Shop,
    request: &DeedRequest,
    plan: &Plan,
    system: System,
) -> Result<Aside, Trouble> {
    let mut changes = Vec::new();
    for piece in plan.taken() {
        if let Some(pair) = shop.ledger.before_and_after(request, piece)? {
            changes.push(pair);
        }
    }
    let (lines, value) = going_over::effect(&changes, request.ended, &shop.calendar, system);
    Ok(Aside {
        lines,
        values: vec![("from_here_on", value)],
    })
}

/// Which pieces in process are on which revision of a recipe.
pub(super) fn in_flight(desk: &mut Desk<'_>, code: &str) -> Answer {
    let shop = desk.shop()?;
    let known = shop.ledger.recipes()?.iter().any(|r| r.code == code);
    if !known {
        return Err(Trouble::Input(format!(
            "recipe \"{}\" is not adopted; \"hangtime recipe list\" lists them",
            shown(code)
        )));
    }
    let floor = shop.ledger.floor(shop.now, None)?;
    let (lines, value) = going_over::in_flight(&floor, code);
    desk.print(&value, &lines)?;
    Ok(0)
}

impl Tag {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        if self.new.is_none() && !self.none {
            return Err(Trouble::Input(
                "which tag? write the new one, or --none when it has none from now on".to_owned(),
            ));
        }
        let shop = desk.shop()?;
        let fact = Fact::Tagged {
            tag: kept("tag", self.new.as_deref(), 30)?,
            why: why(&self.why)?,
        };
        let request = self
            .how
            .request(desk, &shop, one(&self.piece), DeedWhat::Other(fact))?;
        self.how.go(desk, shop, &request)
    }
}

impl Pair {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let target = Target::Pieces(vec![self.body, self.neck]);
        let what = DeedWhat::Pair {
            why: why(&self.why)?,
        };
        let request = self.how.request(desk, &shop, target, what)?;
        if !self.how.preview {
            desk.authorise(&mut shop, PinDeed::Swap, &request.who)?;
        }
        self.how.go(desk, shop, &request)
    }
}
