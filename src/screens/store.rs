//! The ledger behind the screens: does their effects and answers with messages.
//!
//! *Invariants*: a draft is kept before its line can be saved and taken away after it; faults are answered in words and
//! end nothing.
//!
//! *Not here*: the thread that it runs on (`driver`).

use super::calls::Calls;
use super::load;
use super::model::WordOn;
use super::msg::{CardData, Effect, FloorData, Looked, Msg, Preview, Wanted};
use super::places::solvent::{SignPage, Wish};
use super::redo;
use crate::clock::Clock;
use crate::ledger::{
    ClockDoubt, Cup, DeedRequest, DeedWhat, Draft, DraftFate, Drafts, EntryRow, Fixed, Ledger,
    LedgerError, MixOrder, MonthNow, NewLot, Outcome, PinDeed, Seen, Stamp, Target, Who,
};
use crate::reports::book::{self, Way as Down};
use crate::reports::lookout::Lookout;
use crate::reports::stock as by_stock;
use crate::reports::workings::Working;
use crate::reports::{cautions, clock, going_over, life, months, paper, place, workings};
use crate::shop::alert::Way;
use crate::shop::cautions::{Hazard, When, for_material};
use crate::shop::record::{Fact, What};
use crate::shop::stock::StockFact;
use crate::shop::text::{shown, shown_lines};
use crate::shop::words::{Reason, Word};
use crate::units::{Amount, Moment, Span, System};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The ledger and all that is asked of it.
#[derive(Debug)]
pub struct Store {
    ledger: Ledger,
    clock: Clock,
    drafts: Drafts,
    lookout: Lookout,
    // The floor that was answered last, by the number of its query, and its moment.
    floor: Option<(u64, Moment, Arc<Vec<Seen>>)>,
    // What others and this terminal had written when the write-ahead file was folded.
    folded: Option<(Option<i64>, u64)>,
}

/// How far from the clock a moment may lie and still be the present one: a question waits a little for its turn.
const PRESENT: Span = Span::minutes(2);

/// How many mixes lie within reach of a key at the booth: days of them in the largest shop (ours, no source).
pub(super) const MIXES: u32 = 200;

fn said(fault: &LedgerError) -> String {
    fault.to_string().replace('\n', "; ")
}

/// The plan as of a moment, which is the present one or not, as the answer to a query.
pub(super) fn planned(
    ledger: &Ledger,
    ticket: u64,
    asked: (Moment, bool),
    known: Option<i64>,
) -> Msg {
    match load::plan(ledger, asked, known) {
        Ok(Some(data)) => Msg::Place(ticket, Ok(Box::new(data))),
        Ok(None) => Msg::PlanStands(ticket),
        Err(e) => Msg::Place(ticket, Err(said(&e))),
    }
}

impl Store {
    /// The store of a station.
    pub fn new(mut ledger: Ledger, clock: Clock, station: &str) -> Self {
        ledger.stays_open();
        let drafts = Drafts::of(ledger.path(), station);
        Self {
            ledger,
            clock,
            drafts,
            lookout: Lookout::default(),
            floor: None,
            folded: None,
        }
    }

    /// A number that changes when another process has written.
    pub fn version(&self) -> Option<i64> {
        self.ledger.data_version().ok()
    }

    /// Folds what was saved, when nobody waits for a save.
    pub fn rest(&mut self) {
        let written = (self.version(), self.ledger.rows_written());
        if self.folded != Some(written) {
            self.folded = Some(written);
            self.ledger.fold();
        }
    }

    /// The file that the ledger lies in.
    pub fn path(&self) -> PathBuf {
        self.ledger.path().to_path_buf()
    }

    /// Opens the ledger anew where a board that is only read has aged; what became of it, if so.
    pub fn renew(&mut self) -> Option<Msg> {
        if !self.ledger.aged() {
            return None;
        }
        // One that cannot be opened, because somebody is just writing it, is tried again at the next look.
        self.ledger = self.ledger.again().ok()?;
        Some(Msg::Changed)
    }

    /// The ledger whose backup is due, and the moment; a fault in asking is a fault in writing it, and is said then.
    pub fn backup_due(&self) -> Option<(PathBuf, Moment)> {
        let now = self.clock.now();
        if self.ledger.may_save().is_err() {
            return None;
        }
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
                let answer = self.floor(ticket, at);
                Msg::Floor(ticket, answer.map(Box::new).map_err(|e| said(&e)))
            }
            Effect::LoadCalls { ticket } => {
                let kept = self.floor.as_ref().filter(|(of, ..)| *of == ticket);
                let (at, seen) = kept.map(|(_, at, seen)| (*at, Arc::clone(seen)))?;
                let answer = self.calls(&seen, at);
                Msg::Called(ticket, answer.map(Box::new).map_err(|e| said(&e)))
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
            Effect::LoadPlan {
                ticket,
                at,
                now,
                known,
            } => planned(&self.ledger, ticket, (at, now), known),
            Effect::LoadCard { ticket, serial, at } => Msg::Card(
                ticket,
                self.card(&serial, at).map(Box::new).map_err(|e| said(&e)),
            ),
            Effect::Preview { ticket, wanted } => {
                Msg::Previewed(ticket, self.preview(&wanted).map(Box::new))
            }
            Effect::Look {
                ticket,
                wanted,
                system,
            } => Msg::Looked(ticket, self.look(*wanted, system)),
            Effect::Do(wanted) => Msg::Did(self.save(&wanted).map(|o| said_of(&o))),
            Effect::WritePage { name, lines } => Msg::PageWritten(
                self.page(&name, &lines)
                    .map(|p| format!("written to be printed: {}", p.display())),
            ),
            Effect::Save(wanted) => Msg::Saved(self.save(&wanted)),
            Effect::LookUndo(who) => Msg::UndoLooked(
                self.ledger
                    .undoable(&who)
                    .and_then(|a| Ok((a.map(Box::new), self.ledger.undo_stays(&who)?)))
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
            Effect::LookPot { ticket, mix } => {
                Msg::Pot(ticket, self.ledger.pot_to_close(mix).map_err(|e| said(&e)))
            }
            Effect::ClosePot { who, mix, left } => {
                let stamp = self.stamp();
                let closed = self
                    .ledger
                    .close_pot(mix, left, None, stamp.written, &who, &stamp);
                Msg::Mixed(match closed {
                    Ok((_, rest)) => {
                        let how = if left.is_some() { "" } else { " by the log" };
                        Ok(format!(
                            "saved: pot of mix {mix} closed, {} left{how}",
                            rest.text(0)
                        ))
                    }
                    Err(e) => Err(said(&e)),
                })
            }
            Effect::Mix {
                who,
                name,
                parts,
                parent,
            } => {
                let stamp = self.stamp();
                let order = MixOrder {
                    parent,
                    ..MixOrder::of(&name, parts, stamp.written)
                };
                let made = self.ledger.make_mix(order, &who, &stamp);
                Msg::Mixed(match made {
                    Ok(mix) => Ok(self.mix_words(mix, &name)),
                    Err(e) => Err(said(&e)),
                })
            }
            Effect::OpenBook { ticket, at, ask } => {
                let at = if ask.present { self.clock.now() } else { at };
                let answer = load::book(&self.ledger, at, *ask);
                Msg::Place(ticket, answer.map(Box::new).map_err(|e| said(&e)))
            }
            Effect::LookSign {
                month,
                person,
                system,
            } => Msg::SignLooked(
                self.page_to_sign(
                    &month,
                    person.as_deref().unwrap_or("whoever signs it"),
                    &self.stamp(),
                    system,
                )
                .map(|(now, lines, _)| {
                    Box::new(SignPage {
                        month,
                        action: now.head.0,
                        lines,
                    })
                })
                .map_err(|e| said(&e)),
            ),
            Effect::Book {
                who,
                wish,
                pin,
                system,
            } => match self.book(&who, *wish, pin.as_deref(), system) {
                Ok(None) => Msg::PinAsked,
                Ok(Some(text)) => Msg::BookKept(Ok(text)),
                Err(e) => Msg::BookKept(Err(said(&e))),
            },
            Effect::Ring { who, claims } => {
                // A board that is only read rings for nobody: it cannot say that it did.
                if self.ledger.may_save().is_err() {
                    return None;
                }
                let stamp = self.stamp();
                match self.ledger.claim_alerts(&claims, &who, &stamp) {
                    Ok(free) if free.is_empty() => return None,
                    Ok(_) => Msg::Ring,
                    Err(e) => Msg::Fault(said(&e)),
                }
            }
            Effect::TakeNote { who, keys } => {
                let stamp = self.stamp();
                let saved = self.ledger.alerts_seen(&keys, &who, &stamp);
                let text = |_| {
                    format!(
                        "{} has seen it; no terminal shows it to you again",
                        who.person
                    )
                };
                Msg::Noted(saved.map(text).map_err(|e| said(&e)))
            }
            Effect::PutOff { who, key, span } => {
                let stamp = self.stamp();
                let until = stamp.written.plus(span);
                let saved = self.ledger.snooze_alert(&key, until, &who, &stamp);
                let near = self.ledger.calendar().near(until, stamp.written);
                let text = |_| {
                    format!(
                        "{} put it off to {near}; no terminal shows it to you until then",
                        who.person
                    )
                };
                Msg::Noted(saved.map(text).map_err(|e| said(&e)))
            }
            Effect::DropDraft => match self.drafts.clear() {
                Ok(()) => return None,
                Err(e) => Msg::Fault(said(&e)),
            },
            // Those of the driver: another process is none of the ledger's business.
            Effect::Run { .. } | Effect::StopRun | Effect::Bell | Effect::Quit => {
                return None;
            }
        })
    }

    fn floor(&mut self, ticket: u64, at: Moment) -> Result<FloorData, LedgerError> {
        let doubts = self.doubts()?;
        let mut seen = self.ledger.floor(at, None)?;
        clock::hold_back(&mut seen, &doubts);
        place::hold_back(&mut seen, self.ledger.read_only()?.as_ref());
        let seen = Arc::new(seen);
        self.floor = Some((ticket, at, Arc::clone(&seen)));
        Ok(FloorData {
            at,
            seen,
            doubted: clock::line(&doubts, &self.ledger.calendar()),
            place: place::lines(&self.ledger)?
                .into_iter()
                .map(|(_, text)| text)
                .collect(),
            deviations: self.ledger.open_deviations()?,
            mixes: self.ledger.newest_mixes(MIXES)?,
            shelf: self.ledger.on_the_shelves()?,
        })
    }

    // What is worth telling, where a rule asks the screens to tell it; another moment than the present calls nobody.
    fn calls(&mut self, seen: &[Seen], at: Moment) -> Result<Calls, LedgerError> {
        let now = self.clock.now();
        if at.since(now).0.abs() > PRESENT.0 {
            return Ok(Calls::NONE);
        }
        let rules = self.ledger.alert_rules(at)?.into_iter().map(|r| r.rule);
        let rules: Vec<_> = rules.filter(|r| r.way == Way::Screen).collect();
        if rules.is_empty() {
            return Ok(Calls::NONE);
        }
        let people = self.ledger.people()?.into_iter();
        Ok(Calls {
            alerts: self.lookout.alerts(&self.ledger, seen, at, at.max(now))?,
            rules,
            people: people.filter_map(|p| Some((p.initials, p.role?))).collect(),
        })
    }

    fn card(&self, serial: &str, at: Moment) -> Result<CardData, LedgerError> {
        let mut data = card_data(&self.ledger, serial, at)?;
        clock::hold_back([&mut data.seen], &self.doubts()?);
        place::hold_back([&mut data.seen], self.ledger.read_only()?.as_ref());
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

    // Writes a page beside the ledger and gives its file: `shop.ledger` and `day-list-..` make `shop.day-list-...txt`.
    fn page(&self, name: &str, lines: &[String]) -> Result<PathBuf, String> {
        let path = self.ledger.path().with_extension(format!("{name}.txt"));
        let text: String = lines.iter().map(|l| shown(l) + "\n").collect();
        match paper::replace(&path, &text) {
            Ok(()) => Ok(path),
            Err(e) => Err(format!(
                "the page was not written: {}: {e}; the command \"hangtime shift\" prints the same list",
                path.display()
            )),
        }
    }

    /// Does one effect that only asks; the others are left undone, and no draft is kept.
    pub fn only_look(&mut self, effect: Effect) -> Option<Msg> {
        match effect {
            Effect::Preview { ticket, wanted } => Some(Msg::Previewed(
                ticket,
                self.looked_at(&wanted).map(Box::new),
            )),
            Effect::LoadFloor { .. }
            | Effect::LoadCalls { .. }
            | Effect::LoadPlace { .. }
            | Effect::LoadPlan { .. }
            | Effect::LoadCard { .. }
            | Effect::OpenBook { .. }
            | Effect::LookPot { .. }
            | Effect::LookUndo(_) => self.answer(effect),
            _ => None,
        }
    }

    fn looked_at(&self, wanted: &Wanted) -> Result<Preview, String> {
        let request = wanted.request();
        let plan = self.ledger.preview(&request).map_err(|e| said(&e))?;
        let due = self
            .ledger
            .cautions_of(&request, &plan)
            .map_err(|e| said(&e))?;
        let contacts = if due.is_empty() {
            Vec::new()
        } else {
            self.ledger.contacts(request.ended).map_err(|e| said(&e))?
        };
        let booth = plan.sprayed_in().into_iter().flatten().next();
        let booths = match &request.what {
            DeedWhat::Coat { .. } => self.ledger.booths(request.ended).map_err(|e| said(&e))?,
            _ => BTreeSet::new(),
        };
        Ok(Preview {
            booths: booths.into_iter().collect(),
            cautions: cautions::beside(&due, &contacts, "r"),
            read: cautions::read_line(Cup::of(&request), booth),
            draft: request.draft.clone(),
            plan,
        })
    }

    fn preview(&self, wanted: &Wanted) -> Result<Preview, String> {
        let shown = self.looked_at(wanted)?;
        let draft = Draft {
            id: shown.draft.clone(),
            line: shown.plan.line.clone(),
            words: redo::words(wanted),
        };
        // A board that is only read says what would be saved, and keeps nothing: the save is refused.
        if self.ledger.may_save().is_ok() {
            self.drafts.keep(&draft).map_err(|e| said(&e))?;
        }
        Ok(shown)
    }

    // The same for the deed of a question, with what changes from here on where a piece goes over to another recipe.
    fn look(&self, mut wanted: Wanted, system: System) -> Result<Box<Looked>, String> {
        let Preview { plan, draft, .. } = self.preview(&wanted)?;
        let mut beside: Vec<String> = plan.pieces.iter().filter_map(|p| p.stays.clone()).collect();
        if plan.taken().next().is_none() {
            let _ = self.drafts.clear();
            return Err(beside.join("; "));
        }
        wanted.draft = Some(draft);
        // The line counts them: below it they stand by name.
        let named: Vec<String> = plan
            .taken()
            .map(
                |p| match (p.now.place().and_then(|s| s.rack.as_deref()), p.hook) {
                    (Some(rack), Some(hook)) => {
                        format!("{} ({rack} hook {hook})", p.now.piece.serial)
                    }
                    _ => p.now.piece.serial.clone(),
                },
            )
            .collect();
        if matches!(wanted.what, DeedWhat::Other(Fact::Reassigned { .. })) {
            let request = wanted.request();
            let mut changes = Vec::new();
            for piece in plan.taken() {
                let pair = self.ledger.before_and_after(&request, piece);
                changes.extend(pair.map_err(|e| said(&e))?);
            }
            let calendar = self.ledger.calendar();
            let lines = going_over::grouped(&changes, request.ended, &calendar, system);
            beside.extend(lines);
        } else if named.len() > 1 {
            beside.insert(0, named.join(", "));
        }
        Ok(Box::new(Looked {
            wanted,
            line: plan.line.clone(),
            beside,
        }))
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

    // Does a deed of the solvent book; `None` when the PIN is still to be asked for.
    fn book(
        &mut self,
        who: &Who,
        wish: Wish,
        pin: Option<&str>,
        system: System,
    ) -> Result<Option<String>, LedgerError> {
        let guarded = match wish {
            Wish::Limit { .. } => Some(PinDeed::Limit),
            Wish::Sign { .. } => Some(PinDeed::CloseMonth),
            _ => None,
        };
        if let Some(deed) = guarded
            && pin.is_none()
            && self.ledger.asks_pin(deed, &who.person)?
        {
            return Ok(None);
        }
        let stamp = self.stamp();
        // What cannot be signed asks for no PIN: the page is made first.
        let page = match &wish {
            Wish::Sign { month, action } => {
                let page = self.page_to_sign(month, &who.person, &stamp, system)?;
                if page.0.head.0 != *action {
                    // A signature is for the page that was shown: what was written since is looked at first.
                    return Err(LedgerError::Input(format!(
                        "something was written since the page of {month} was shown; nothing was signed. Esc, then look at it again"
                    )));
                }
                Some(page)
            }
            _ => None,
        };
        let given = guarded
            .map(|deed| self.ledger.authorise(deed, who, pin, &stamp))
            .transpose()?
            .map_or_else(String::new, |word| format!("; {}", word.words()));
        let text = match wish {
            Wish::Receive {
                lot,
                material,
                volume,
                expires,
            } => {
                let new = NewLot {
                    expires,
                    ..NewLot::of(&lot, &material, volume)
                };
                self.ledger.receive_lot(&new, stamp.written, who, &stamp)?;
                format!(
                    "lot {lot} of {material} received: {}",
                    book::litres(volume, system)
                )
            }
            Wish::Count { what, volume } => {
                let closes = by_stock::turn_of_month(&self.ledger.calendar(), stamp.written);
                self.ledger.count_stock(
                    &what,
                    volume,
                    closes.as_deref(),
                    None,
                    stamp.written,
                    who,
                    &stamp,
                )?;
                let of =
                    closes.map_or_else(|| "closes no month".to_owned(), |m| format!("closes {m}"));
                format!("{} of {what} counted, {of}", book::litres(volume, system))
            }
            Wish::Waste {
                drum,
                volume,
                mass,
                what,
            } => {
                let line = format!("into drum {drum}: {what}");
                let fact = StockFact::DrumFilled {
                    drum,
                    volume,
                    mass,
                    what,
                };
                self.ledger.record_drum(fact, stamp.written, who, &stamp)?;
                line
            }
            Wish::Check { booth, seen } => {
                self.ledger
                    .record_check(&booth, &seen, stamp.written, who, &stamp)?;
                format!("{booth} checked")
            }
            Wish::Done {
                name,
                about,
                answers,
                note,
            } => {
                let (at, note) = (stamp.written, note.as_deref());
                self.ledger
                    .duty_done(&name, &about, answers, note, at, who, &stamp)?;
                format!("{name} of {about} done")
            }
            Wish::Follow {
                entry,
                text,
                next,
                closed,
            } => {
                self.ledger
                    .follow_incident(entry, &text, (next, closed), who, &stamp)?;
                format!("written down: {text}")
            }
            Wish::Limit { limit, source } => {
                limit.enter(&mut self.ledger, &source, who, &stamp)?;
                format!("entered: {}", limit.line())
            }
            Wish::Sign { month, .. } => {
                if let Some((now, lines, value)) = page {
                    self.ledger
                        .sign_month(&now, lines.join("\n"), value, who, &stamp)?;
                }
                format!("{month} is signed by {}", who.person)
            }
            Wish::Print { month, way, file } => {
                let lines = self.printed(&month, way.as_ref(), system)?;
                let text = shown_lines(&(lines.join("\n") + "\n"));
                let place = paper::write_new(Path::new(&file), &text)
                    .map_err(|e| LedgerError::File(PathBuf::from(&file), e))?;
                format!("written to {}", place.display())
            }
            Wish::Export { folder } => {
                let made = self.ledger.calendar().rfc3339(stamp.written);
                let folder = PathBuf::from(folder);
                let manifest = self.ledger.export(&folder, &made)?;
                let place = std::path::absolute(&folder).unwrap_or(folder);
                format!(
                    "the record up to action {} is written to {}",
                    manifest.actions,
                    place.display()
                )
            }
        };
        Ok(Some(text + &given))
    }

    // What was made, with what was left of the one that it tops up.
    fn mix_words(&self, mix: u32, name: &str) -> String {
        let onto = self
            .ledger
            .mix(mix)
            .ok()
            .flatten()
            .and_then(|m| m.tops_up)
            .and_then(|(parent, left)| {
                left.map(|l| format!(" onto {} left of mix {parent} by the log", l.text(0)))
            });
        format!("saved: mix {mix} \"{name}\"{}", onto.unwrap_or_default())
    }

    // The month with its page as `person` would sign it, as lines and as JSON.
    fn page_to_sign(
        &self,
        month: &str,
        person: &str,
        stamp: &Stamp,
        system: System,
    ) -> Result<(MonthNow, Vec<String>, String), LedgerError> {
        let now = self.ledger.month_now(month)?;
        self.ledger.may_sign(&now, stamp.written)?;
        let calendar = self.ledger.calendar();
        let (lines, value) = months::page(&now, person, stamp.written, &calendar, system);
        Ok((now, lines, value.to_string()))
    }

    // What the place shows, as a page: a signed month as it was signed.
    fn printed(
        &self,
        month: &str,
        way: Option<&Down>,
        system: System,
    ) -> Result<Vec<String>, LedgerError> {
        let now = self.clock.now();
        let calendar = self.ledger.calendar();
        let mut lines = vec![format!(
            "{}{}, printed {}",
            if self.ledger.demo() { "DEMO  " } else { "" },
            self.ledger.name(),
            calendar.full(now)
        )];
        lines.push(String::new());
        if let Some(way) = way {
            lines.extend(book::open(&self.ledger, way, system)?.lines(system));
        } else {
            let book = book::book(&self.ledger, month, now)?;
            if let Some(signature) = book.now.newest() {
                lines.extend(signature.signed.text.lines().map(str::to_owned));
                lines.extend(months::open_revision(&book.now, &calendar, system));
                lines.push(String::new());
            }
            lines.extend(book.lines(&calendar, now, system));
        }
        let (action, head) = self.ledger.head()?;
        lines.push(String::new());
        lines.push(format!("head: action {action}, {head}"));
        lines.push(crate::shop::cautions::STANDING_LINE.to_owned());
        Ok(lines)
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
            .undo(Some(action), anyway, who, &stamp)
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

// What came of a deed that has no receipt of its own on the screen.
fn said_of(outcome: &Outcome) -> String {
    match outcome {
        Outcome::Saved(r) => {
            let mut text = format!("saved: {} (action {})", r.line, r.saved.action);
            if !r.left_out.is_empty() {
                text.push_str(&format!("; {} left out", r.left_out.len()));
            }
            text
        }
        Outcome::Already(r) => format!(
            "already saved a moment ago, action {}; nothing was added",
            r.saved.action
        ),
        Outcome::SameOrAnother(c) | Outcome::Conflict(c) => {
            format!(
                "coat {} was logged by {}; nothing was added",
                c.coat, c.person
            )
        }
    }
}

/// At how many moments the solvent that is left is asked for: one for each column of a wide chart.
const SOLVENT_POINTS: u16 = 100;

/// How many of its newest coats have a digit for their working: with film, ready time and air that makes nine.
const COATS: usize = 6;

// How the figures of a card were made: the film, the ready time, the air of its room, its newest coats.
fn card_workings(
    ledger: &Ledger,
    seen: &Seen,
    entries: &[EntryRow],
    at: Moment,
) -> Vec<(String, Result<Working, String>)> {
    let serial = &seen.now.piece.serial;
    let mut list = vec![
        ("film".to_owned(), "film", serial.clone()),
        ("ready time".to_owned(), "ready", serial.clone()),
    ];
    if let Some(room) = seen.now.place().and_then(|p| p.room.clone()) {
        list.push((format!("air of {room}"), "air", room));
    }
    let coats = entries.iter().rev().filter(|e| {
        let coat = matches!(&e.what, What::Piece(Fact::Coat(_)));
        coat && e.voided_by.is_none() && e.ended <= at
    });
    for e in coats.take(COATS) {
        let entry = e.seq.0;
        list.push((format!("coat, entry {entry}"), "coat", entry.to_string()));
    }
    list.into_iter()
        .map(|(name, figure, what)| {
            let shown = workings::show(ledger, figure, &what, at);
            (name, shown.map_err(|e| said(&e)))
        })
        .collect()
}

/// A piece's card from a ledger.
fn card_data(ledger: &Ledger, serial: &str, at: Moment) -> Result<CardData, LedgerError> {
    let seen = ledger.piece(serial, at)?;
    let exact = seen.now.piece.serial.clone();
    let mut hazards: Vec<Hazard> = Vec::new();
    if let Some(mix) = ledger.newest_mixes(1)?.first() {
        for part in &mix.parts {
            let material = ledger.lot_material(&part.lot)?;
            hazards.extend(material.hazards.iter().filter_map(|h| Hazard::from_word(h)));
        }
    }
    let deviations = ledger.deviations_of(seen.now.id)?;
    let entries = ledger.entries(Some(&exact))?;
    let site = seen.site();
    let cures = seen.view.cure.is_some();
    let cure = site.and_then(|s| s.standing.last_wet).filter(|_| cures);
    Ok(CardData {
        at,
        film: life::film(ledger, &seen, at)?,
        days: life::days(&entries, &ledger.calendar(), cure, at),
        air: life::air(ledger, &seen, at)?,
        solvent: ledger.solvent_left(&seen, at, SOLVENT_POINTS)?,
        spread: ledger.spreads(&[&seen], at)?.remove(&exact),
        workings: card_workings(ledger, &seen, &entries, at),
        entries,
        deviations,
        cautions: for_material(&hazards, When::Spraying),
        seen,
    })
}
