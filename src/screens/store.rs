//! The ledger behind the screens: does their effects and answers with messages.
//!
//! *Invariants*: a draft is kept before its line can be saved and taken away after it; faults are answered in words and
//! end nothing.
//!
//! *Not here*: the thread that it runs on (`driver`).

use super::load;
use super::model::WordOn;
use super::msg::{CardData, Effect, FloorData, Msg, Shelf, Wanted};
use super::redo;
use crate::clock::Clock;
use crate::ledger::{
    ClockDoubt, DeedRequest, DeedWhat, Draft, DraftFate, Drafts, Fixed, Ledger, LedgerError,
    Outcome, PinDeed, Plan, Stamp, Target, Who,
};
use crate::reports::{clock, workings};
use crate::shop::cautions::{Hazard, When, for_material};
use crate::shop::record::Fact;
use crate::shop::words::{Reason, Word};
use crate::units::Moment;
use std::path::PathBuf;

/// The ledger and all that is asked of it.
#[derive(Debug)]
pub struct Store {
    ledger: Ledger,
    clock: Clock,
    drafts: Drafts,
}

fn said(fault: &LedgerError) -> String {
    fault.to_string().replace('\n', "; ")
}

impl Store {
    /// The store of a station.
    pub fn new(ledger: Ledger, clock: Clock, station: &str) -> Self {
        let drafts = Drafts::of(ledger.path(), station);
        Self {
            ledger,
            clock,
            drafts,
        }
    }

    /// A number that changes when another process has written.
    pub fn version(&self) -> Option<i64> {
        self.ledger.data_version().ok()
    }

    /// The ledger whose backup is due, and the moment; a fault in asking is a fault in writing it, and is said then.
    pub fn backup_due(&self) -> Option<(PathBuf, Moment)> {
        let now = self.clock.now();
        match self.ledger.backup_due(now) {
            Ok(None) => None,
            Ok(Some(_)) | Err(_) => Some((self.ledger.path().to_path_buf(), now)),
        }
    }

    /// What became of the draft that an earlier run left.
    pub fn fate(&self) -> Msg {
        match self.drafts.fate(&self.ledger) {
            Ok(None) => Msg::Fate(None),
            Ok(Some(fate)) => {
                if matches!(fate, DraftFate::Saved(..)) {
                    let _ = self.drafts.clear();
                }
                Msg::Fate(Some(Box::new(fate)))
            }
            Err(e) => Msg::Fault(said(&e)),
        }
    }

    /// Does one effect and says what came of it.
    pub fn answer(&mut self, effect: Effect) -> Option<Msg> {
        Some(match effect {
            Effect::LoadFloor { ticket, at } => {
                Msg::Floor(ticket, self.floor(at).map(Box::new).map_err(|e| said(&e)))
            }
            Effect::LoadPlace {
                ticket,
                place,
                at,
                system,
            } => Msg::Place(
                ticket,
                load::place(&self.ledger, place, at, system)
                    .map(Box::new)
                    .map_err(|e| said(&e)),
            ),
            Effect::LoadCard { ticket, serial, at } => Msg::Card(
                ticket,
                self.card(&serial, at).map(Box::new).map_err(|e| said(&e)),
            ),
            Effect::Preview { ticket, wanted } => Msg::Previewed(ticket, self.preview(&wanted)),
            Effect::Save(wanted) => Msg::Saved(self.save(&wanted)),
            Effect::LookUndo(who) => Msg::UndoLooked(
                self.ledger
                    .undoable(&who)
                    .map(|a| a.map(Box::new))
                    .map_err(|e| said(&e)),
            ),
            Effect::Undo {
                who,
                action,
                anyway,
            } => Msg::Undone(self.undo(&who, action, anyway)),
            Effect::Explain {
                who,
                entries,
                reason,
            } => Msg::Explained(self.explain(&who, &entries, reason)),
            Effect::Word { who, on, word, pin } => {
                match self.word(&who, on, word, pin.as_deref()) {
                    Ok(None) => Msg::PinAsked,
                    Ok(Some(text)) => Msg::WordKept(Ok(text)),
                    Err(e) => Msg::WordKept(Err(said(&e))),
                }
            }
            Effect::DropDraft => match self.drafts.clear() {
                Ok(()) => return None,
                Err(e) => Msg::Fault(said(&e)),
            },
            // Those of the driver: another process is none of the ledger's business.
            Effect::Run { .. } | Effect::StopRun | Effect::Quit => return None,
        })
    }

    fn floor(&self, at: Moment) -> Result<FloorData, LedgerError> {
        let doubts = self.doubts()?;
        let mut seen = self.ledger.floor(at, None)?;
        clock::hold_back(&mut seen, &doubts);
        Ok(FloorData {
            at,
            seen,
            doubted: clock::line(&doubts, &self.ledger.calendar()),
            deviations: self.ledger.deviations(false)?.len(),
            mixes: self.ledger.mixes()?,
            shelf: Shelf {
                recipes: self.ledger.recipes()?.len(),
                materials: self.ledger.materials()?.len(),
                lots: self.ledger.lots()?.len(),
            },
        })
    }

    fn card(&self, serial: &str, at: Moment) -> Result<CardData, LedgerError> {
        let mut data = card_data(&self.ledger, serial, at)?;
        clock::hold_back([&mut data.seen], &self.doubts()?);
        Ok(data)
    }

    fn doubts(&self) -> Result<Vec<ClockDoubt>, LedgerError> {
        let facts = self
            .ledger
            .clock_facts(self.clock.now(), self.clock.boot_ms())?;
        Ok(facts.doubts)
    }

    fn stamp(&self) -> Stamp {
        self.ledger.stamp(self.clock.now(), self.clock.boot_ms())
    }

    fn preview(&self, wanted: &Wanted) -> Result<(Box<Plan>, String), String> {
        let request = wanted.request();
        let plan = self.ledger.preview(&request).map_err(|e| said(&e))?;
        let draft = Draft {
            id: request.draft.clone(),
            line: plan.line.clone(),
            words: redo::words(wanted),
        };
        self.drafts.keep(&draft).map_err(|e| said(&e))?;
        Ok((Box::new(plan), request.draft))
    }

    fn save(&mut self, wanted: &Wanted) -> Result<Box<Outcome>, String> {
        let stamp = self.stamp();
        let outcome = self
            .ledger
            .log(&wanted.request(), &stamp)
            .map_err(|e| said(&e))?;
        if matches!(outcome, Outcome::Saved(_) | Outcome::Already(_)) {
            // The action carries the draft's identity, so a draft that could not be taken away is known as saved.
            let _ = self.drafts.clear();
        }
        Ok(Box::new(outcome))
    }

    // Keeps a supervisor's word; `None` when the PIN is still to be asked for.
    fn word(
        &mut self,
        who: &Who,
        on: WordOn,
        word: String,
        pin: Option<&str>,
    ) -> Result<Option<String>, LedgerError> {
        let deed = match on {
            WordOn::Lift { .. } => PinDeed::Lift,
            WordOn::Answer { .. } => PinDeed::Answer,
        };
        if pin.is_none() && self.ledger.asks_pin(deed, &who.person)? {
            return Ok(None);
        }
        let stamp = self.stamp();
        let given = self.ledger.authorise(deed, who, pin, &stamp)?;
        let text = match on {
            WordOn::Lift { serial } => {
                let target = Target::Pieces(vec![serial.clone()]);
                let what = DeedWhat::Other(Fact::Lifted { why: word });
                let request = DeedRequest::new(who.clone(), target, what, stamp.written);
                self.ledger.log(&request, &stamp)?;
                format!("hold of {serial} lifted")
            }
            WordOn::Answer { entry, rule, .. } => {
                self.ledger.answer(entry, rule, &word, who, &stamp)?;
                format!("{} of entry {entry} answered", rule.word())
            }
        };
        Ok(Some(format!("{text}; {}", given.words())))
    }

    fn undo(&mut self, who: &Who, action: i64, anyway: bool) -> Result<Box<Fixed>, String> {
        let last = self.ledger.undoable(who).map_err(|e| said(&e))?;
        if last.map(|a| a.seq) != Some(action) {
            return Err(format!(
                "action {action} is no longer your last one at this station; look again with u"
            ));
        }
        let stamp = self.stamp();
        self.ledger
            .undo(anyway, who, &stamp)
            .map(Box::new)
            .map_err(|e| said(&e))
    }

    fn explain(&mut self, who: &Who, entries: &[i64], reason: Reason) -> Result<Reason, String> {
        let stamp = self.stamp();
        for entry in entries {
            self.ledger
                .explain(*entry, reason, who, &stamp)
                .map_err(|e| said(&e))?;
        }
        Ok(reason)
    }
}

/// A piece's card from a ledger.
fn card_data(ledger: &Ledger, serial: &str, at: Moment) -> Result<CardData, LedgerError> {
    let seen = ledger.piece(serial, at)?;
    let exact = seen.now.piece.serial.clone();
    let mut hazards: Vec<Hazard> = Vec::new();
    if let Some(mix) = ledger.mixes()?.first() {
        for part in &mix.parts {
            let material = ledger.lot_material(&part.lot)?;
            hazards.extend(material.hazards.iter().filter_map(|h| Hazard::from_word(h)));
        }
    }
    let deviations = ledger
        .deviations(true)?
        .into_iter()
        .filter(|d| d.serial == exact)
        .collect();
    let workings = ["film", "ready"]
        .iter()
        .map(|figure| workings::show(ledger, figure, &exact, at).map_err(|e| e.to_string()))
        .collect();
    Ok(CardData {
        at,
        workings,
        entries: ledger.entries(Some(&exact))?,
        deviations,
        cautions: for_material(&hazards, When::Spraying),
        seen,
    })
}
