//! The booth: what to spray next.
//!
//! What is next follows from the floor, which every place has; asked of the ledger besides are the booths with their
//! air and checks, and which pieces were touched up.

use crate::ledger::{ContactRow, DueCaution, Target};
use crate::reports::booth::{AirNow, CheckNow, Next, next};
use crate::screens::model::Model;
use crate::shop::record::PieceId;
use crate::shop::text::bare;
use crate::units::Moment;
use std::collections::BTreeMap;

/// A booth, as far as the ledger knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BoothNow {
    /// Its name.
    pub name: String,
    /// Its air.
    pub air: AirNow,
    /// Its check.
    pub check: CheckNow,
    /// What was remarked at the newest check, in words.
    pub remark: Option<String>,
}

/// What the ledger answered.
#[derive(Debug, Clone)]
pub struct Data {
    /// The moment that was asked for.
    pub at: Moment,
    /// The booths that a survey, a limit, a check or a stop names, by name.
    pub booths: Vec<BoothNow>,
    /// By booth, the cautions that are due there with the newest mix.
    pub due: BTreeMap<String, Vec<DueCaution>>,
    /// Whom to ask, where the shop filled it in.
    pub contacts: Vec<ContactRow>,
    /// Pieces that were touched up lately, with the end of the newest touch-up.
    pub touched: BTreeMap<PieceId, Moment>,
}

/// What it knows and where its mark lies.
#[derive(Debug, Clone, Default)]
pub struct State {
    /// The answer; `None` until the first one.
    pub data: Option<Data>,
    /// Line of the mark.
    pub mark: usize,
}

impl State {
    /// Before the first answer.
    pub const fn new() -> Self {
        Self {
            data: None,
            mark: 0,
        }
    }
}

impl Data {
    /// What is due at a booth and was read by nobody today, each once; what of the record asks for it comes first.
    pub fn unread(&self, booth: &str) -> Vec<&DueCaution> {
        let due = self.due.get(booth).map_or(&[][..], Vec::as_slice);
        let mut unread: Vec<&DueCaution> = Vec::new();
        for d in due.iter().filter(|d| d.read.is_none()) {
            let known = |k: &&DueCaution| k.caution.id == d.caution.id && k.about == d.about;
            if !unread.iter().any(known) {
                unread.push(d);
            }
        }
        unread.sort_by_key(|d| d.because.is_none());
        unread
    }

    /// The booth at which a terminal stands: the one that it is named after, else the first.
    pub fn at_station(&self, station: &str) -> Option<&BoothNow> {
        let wanted = bare(station);
        let named = self.booths.iter().find(|b| bare(&b.name) == wanted);
        named.or_else(|| self.booths.first())
    }
}

/// What is sprayed next.
pub(in crate::screens) fn rows(model: &Model) -> Vec<Next<'_>> {
    next(model.floor.seen())
}

/// How many lines its mark can lie on.
pub(super) fn lines(model: &Model) -> usize {
    rows(model).len()
}

/// The rack or piece that its mark lies on.
pub(super) fn marked(model: &Model) -> Option<Target> {
    let rows = rows(model);
    let last = rows.len().checked_sub(1)?;
    let row = rows.get(model.places.booth.mark.min(last))?;
    Some(match &row.rack {
        Some(rack) => Target::Rack(rack.clone(), None),
        None => Target::Pieces(vec![row.name()]),
    })
}
