//! Recipes and materials: the list, the text that it is searched for, and the sheet that Enter opens.

use crate::reports::sheets::{How, Pair, Said, beside};
use crate::screens::model::{Model, Note, Page};
use crate::units::Moment;

/// What a sheet is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A recipe's revision.
    Recipe,
    /// A material's data sheet.
    Material,
}

/// A lot of a material's sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lot {
    /// Its number.
    pub lot: String,
    /// Its shelf life in words.
    pub expiry: String,
    /// Whether there is still something of it, by the log.
    pub in_use: bool,
}

/// An adopted revision or sheet.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What it is of.
    pub kind: Kind,
    /// The shop's short code.
    pub code: String,
    /// Its revision, or the sheet's as printed on it.
    pub revision: String,
    /// The name that people read.
    pub name: String,
    /// How the film forms.
    pub drying: String,
    /// Date of a material's sheet.
    pub dated: Option<String>,
    /// Hazards of a material in words.
    pub hazards: Vec<String>,
    /// Lots of a material, bound to this sheet.
    pub lots: Vec<Lot>,
    /// The whole of it.
    pub lines: Vec<Said>,
}

impl Entry {
    /// `G9 rev 3`, `CLR sheet rev 4`.
    pub fn label(&self) -> String {
        match self.kind {
            Kind::Recipe => format!("{} rev {}", self.code, self.revision),
            Kind::Material => format!("{} sheet {}", self.code, self.revision),
        }
    }

    /// The lots of which there is still something.
    pub fn in_use(&self) -> impl Iterator<Item = &Lot> {
        self.lots.iter().filter(|l| l.in_use)
    }

    fn holds(&self, find: &str) -> bool {
        let texts = [&self.code, &self.revision, &self.name, &self.drying];
        let lots = self.lots.iter().map(|l| &l.lot);
        texts
            .into_iter()
            .chain(&self.hazards)
            .chain(lots)
            .any(|t| t.to_lowercase().contains(find))
            // Steps and substances are looked for, too: "which recipe asks for P800?"
            || self
                .lines
                .iter()
                .any(|l| l.text().to_lowercase().contains(find))
    }
}

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// Recipes by code, each from its newest revision to its oldest, and then materials.
    pub entries: Vec<Entry>,
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Data>,
    /// Line of the mark.
    pub mark: usize,
    /// The text that is looked for.
    pub find: String,
    /// Whether that text is being typed.
    pub finding: bool,
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            mark: 0,
            find: String::new(),
            finding: false,
        }
    }

    /// Every entry.
    pub fn entries(&self) -> &[Entry] {
        self.data.as_ref().map_or(&[], |d| &d.entries)
    }

    /// The entries that hold the text that is looked for.
    pub fn listed(&self) -> Vec<&Entry> {
        let find = self.find.trim().to_lowercase();
        self.entries()
            .iter()
            .filter(|e| find.is_empty() || e.holds(&find))
            .collect()
    }

    /// The entry under the mark.
    pub fn marked(&self) -> Option<&Entry> {
        self.listed().get(self.mark).copied()
    }

    /// The revisions of a code, newest first.
    pub fn revisions(&self, kind: Kind, code: &str) -> Vec<&Entry> {
        self.entries()
            .iter()
            .filter(|e| e.kind == kind && e.code == code)
            .collect()
    }

    /// One revision.
    pub fn find_entry(&self, kind: Kind, code: &str, revision: &str) -> Option<&Entry> {
        self.entries()
            .iter()
            .find(|e| e.kind == kind && e.code == code && e.revision == revision)
    }

    /// Leaves the mark on the list.
    pub fn arrange(&mut self) {
        self.mark = self.mark.min(self.listed().len().saturating_sub(1));
    }
}

/// A recipe or a data sheet that lies open, alone or beside another revision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheet {
    /// What it is of.
    pub kind: Kind,
    /// Its code.
    pub code: String,
    /// The revision that was opened.
    pub revision: String,
    /// The revision that it is held against.
    pub against: Option<String>,
    /// Whether lines that say the same are left out.
    pub differing: bool,
    /// First line shown.
    pub scroll: usize,
}

impl Sheet {
    /// The revision in the left column, the one in the right one and their lines: the earlier one stands on the left.
    pub fn pairs<'s>(&self, state: &'s State) -> Option<(&'s Entry, &'s Entry, Vec<Pair>)> {
        let list = state.revisions(self.kind, &self.code);
        let at = |revision: &str| list.iter().position(|e| e.revision == revision);
        let (a, b) = (at(&self.revision)?, at(self.against.as_deref()?)?);
        let (before, after) = (list.get(a.max(b))?, list.get(a.min(b))?);
        // Lots lie on a shelf and stand on no sheet.
        let own = |e: &Entry| -> Vec<Said> {
            e.lines
                .iter()
                .filter(|l| !l.key.starts_with("lot"))
                .cloned()
                .collect()
        };
        let mut pairs = beside(&own(before), &own(after));
        if self.differing {
            pairs.retain(|p| p.how != How::Same);
        }
        Some((before, after, pairs))
    }
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    model.places.recipes.listed().len()
}

/// Opens what the mark lies on.
pub(in crate::screens) fn open(model: &mut Model) {
    if let Some(sheet) = sheet_at_mark(model) {
        model.stack.push(Page::Sheet(sheet));
    }
}

fn sheet_at_mark(model: &Model) -> Option<Sheet> {
    let entry = model.places.recipes.marked()?;
    Some(Sheet {
        kind: entry.kind,
        code: entry.code.clone(),
        revision: entry.revision.clone(),
        against: None,
        differing: false,
        scroll: 0,
    })
}

/// Puts another revision beside the one that is marked or open: the one before it, else the one after it. On a page
/// that compares already, goes back to the one revision.
pub(in crate::screens) fn compare(model: &mut Model) {
    let open = matches!(model.stack.last(), Some(Page::Sheet(_)));
    let sheet = match model.stack.last() {
        Some(Page::Sheet(sheet)) => Some(sheet.clone()),
        _ => sheet_at_mark(model),
    };
    let Some(mut sheet) = sheet else { return };
    sheet.scroll = 0;
    if sheet.against.take().is_none() {
        let list = model.places.recipes.revisions(sheet.kind, &sheet.code);
        let here = list.iter().position(|e| e.revision == sheet.revision);
        let other = here.and_then(|h| list.get(h + 1).or_else(|| list.get(h.checked_sub(1)?)));
        let Some(other) = other else {
            let text = format!(
                "{} has this one revision only; there is nothing to hold against it",
                sheet.code
            );
            model.note = Some(Note::Fault(text));
            return;
        };
        sheet.against = Some(other.revision.clone());
    }
    if open {
        model.stack.pop();
    }
    model.stack.push(Page::Sheet(sheet));
}

/// Holds an older or newer revision against the one that is open.
pub(in crate::screens) fn other(model: &mut Model, by: isize) {
    let Some(Page::Sheet(sheet)) = model.stack.last() else {
        return;
    };
    let Some(against) = &sheet.against else {
        return;
    };
    let list: Vec<String> = model
        .places
        .recipes
        .revisions(sheet.kind, &sheet.code)
        .into_iter()
        .filter(|e| e.revision != sheet.revision)
        .map(|e| e.revision.clone())
        .collect();
    let here = list.iter().position(|r| r == against).unwrap_or(0);
    let next = list.get(here.saturating_add_signed(by)).cloned();
    if let (Some(next), Some(Page::Sheet(sheet))) = (next, model.stack.last_mut()) {
        sheet.against = Some(next);
        sheet.scroll = 0;
    } else {
        let word = if by > 0 { "older" } else { "newer" };
        model.note = Some(Note::Fault(format!("no {word} revision is adopted")));
    }
}

/// Leaves out what says the same, or shows it again.
pub(in crate::screens) fn differing(model: &mut Model) {
    if let Some(Page::Sheet(sheet)) = model.stack.last_mut() {
        sheet.differing = !sheet.differing;
        sheet.scroll = 0;
    }
}
