//! Entries with both times, and what became of them.

use crate::ledger::{DeviationRow, EntryRow, Receipt};
use crate::shop::calendar::Calendar;
use crate::shop::material::Totals;
use crate::shop::record::{CoatFact, Fact, Finding, ShopFact, Sprayed, What};
use crate::shop::text::shown;
use crate::shop::words::{StepKind, Verdict, Word};
use crate::units::{Amount, Mass, Moment, Span, System};
use chrono::{DateTime, FixedOffset};
use serde_json::{Value, json};

/// What an entry says, in words.
pub fn words(what: &What, system: System) -> String {
    match what {
        What::Piece(fact) => fact_words(fact, system),
        What::Shop(fact) => shop_words(fact),
        What::Void { why } => format!("taken back: {}", shown(why)),
        What::Answered { rule, word } => format!("answered {}: {}", rule.word(), shown(word)),
        What::Explained { reason } => format!("reason: {}", reason.word()),
    }
}

fn fact_words(fact: &Fact, system: System) -> String {
    match fact {
        Fact::Added(p) => format!(
            "taken in: {} {}, {} rev {}",
            p.kind.word(),
            shown(&p.model),
            p.recipe,
            p.revision
        ),
        Fact::Placed { rack, hook, room } => {
            let parts = [
                rack.as_ref().map(|r| format!("rack {}", shown(r))),
                hook.map(|h| format!("hook {h}")),
                room.as_ref().map(|r| shown(r)),
            ];
            format!(
                "hung at {}",
                parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
            )
        }
        Fact::Coat(c) => coat_words(c, system),
        Fact::Sanded {
            kind,
            removed,
            grit,
        } => {
            let mut text = Parts::new(kind.word());
            text.text("", grit.as_ref());
            text.say(removed.map(|f| format!("{} off", f.shown(system, 1))));
            text.0
        }
        Fact::Worked { kind } => kind.word().to_owned(),
        Fact::Gauged { film } => format!("film reading {}", film.shown(system, 1)),
        Fact::Held { why } => format!("hold: {}", shown(why)),
        Fact::Lifted { why } => format!("hold lifted: {}", shown(why)),
        Fact::Note { text } => format!("note: {}", shown(text)),
        Fact::Scrapped { why } => format!("scrapped: {}", shown(why)),
        Fact::Restored { why } => format!("back from scrap: {}", shown(why)),
        other => deed_words(other),
    }
}

fn coat_words(c: &CoatFact, system: System) -> String {
    let mut text = Parts::new(if c.touch_up {
        "touch-up"
    } else {
        c.kind.word()
    });
    if !c.touch_up && c.kind != StepKind::DropFill {
        text.0.push_str(" coat");
    }
    text.say(c.more.drops.map(|n| format!("{n} drops")));
    text.text("at ", c.more.place.as_ref());
    text.say(c.more.sprayed.as_ref().map(|s| match s {
        Sprayed::Booth(booth) => format!("sprayed in {}", shown(booth)),
        Sprayed::NoBooth => "booth not known".to_owned(),
    }));
    text.say(c.mix.map(|mix| format!("mix {mix}")));
    text.text("lot ", c.lot.as_ref());
    text.text("batch ", c.more.batch.as_ref());
    text.text("panel ", c.more.panel.as_ref());
    text.text("judged by ", c.more.judged.as_ref());
    text.say(c.more.rub.map(|r| format!("rub test: {}", r.word())));
    text.say(c.amount.map(|a| a.shown(system, 1)));
    let wet: Vec<String> = c.wet.iter().map(|f| f.shown(system, 0)).collect();
    text.say((!wet.is_empty()).then(|| format!("wet {}", wet.join(" "))));
    text.text("supervisor ", c.supervisor.as_ref());
    text.0
}

// Words of the deeds of a whole process besides coats and sandings.
fn deed_words(fact: &Fact) -> String {
    match fact {
        Fact::Received {
            grit,
            moisture,
            light_table,
            verdict,
        } => {
            let mut text = Parts::new("received");
            text.text("", grit.as_ref());
            let spots: Vec<String> = moisture.iter().map(|m| m.text(1)).collect();
            text.say((!spots.is_empty()).then(|| format!("moisture {}", spots.join(" "))));
            text.text("light table: ", light_table.as_ref());
            text.say((*verdict != Verdict::Take).then(|| verdict.word().to_owned()));
            text.0
        }
        Fact::Masked { tape } => {
            let mut text = Parts::new("masked");
            text.text("", tape.as_ref());
            text.0
        }
        Fact::Buffed { wheel, compound } => {
            let mut text = Parts::new("buffed");
            text.text("compound ", compound.as_ref());
            text.text("wheel ", wheel.as_ref());
            text.0
        }
        Fact::Lit { dose, peak, lamp } => {
            let mut text = Parts::new("cured under light");
            text.say(dose.map(|d| format!("{} mJ/cm2", d / 1_000)));
            text.say(peak.map(|p| format!("peak {} mW/cm2", p / 1_000)));
            text.text("lamp ", lamp.as_ref());
            text.0
        }
        Fact::Inspected { light, findings } => {
            let mut text = Parts::new("inspected");
            text.text("light box ", light.as_ref());
            for f in findings {
                text.say(Some(finding_words(f)));
            }
            if findings.is_empty() {
                text.say(Some("no finding recorded".to_owned()));
            }
            text.0
        }
        Fact::Mated { with, fit, joint } => {
            let mut text = Parts::new("mated");
            text.0.push_str(&format!(" with {}", shown(with)));
            text.say(fit.map(|f| format!("trial fit {}", f.word())));
            text.text("", joint.as_ref());
            text.0
        }
        Fact::Begun { kind } => format!("{} begun", kind.word()),
        Fact::BrokenOff { why } => format!("broken off: {}", shown(why)),
        Fact::Flawed {
            defect,
            size_um,
            place,
            note,
        } => {
            let mut text = Parts::new(&format!("defect: {}", defect.word()));
            text.text("at ", place.as_ref());
            text.say(size_um.map(millimetres));
            text.text("", note.as_ref());
            text.0
        }
        Fact::Mended { flaw, how } => format!("defect of entry {} mended: {}", flaw.0, shown(how)),
        Fact::Reworked {
            rework,
            defect,
            why,
        } => {
            let mut text = Parts::new(&format!("rework {rework} opened"));
            text.say(defect.map(|d| format!("for {}", d.word())));
            text.text("", Some(why));
            text.0
        }
        Fact::Reassigned {
            recipe,
            revision,
            why,
        } => format!("moved to recipe {recipe} rev {revision}: {}", shown(why)),
        Fact::Tagged { tag, why } => {
            let tag = tag
                .as_ref()
                .map_or_else(|| "taken off".to_owned(), |t| shown(t));
            format!("tag {tag}: {}", shown(why))
        }
        Fact::Paired { pair, why } => pair.as_ref().map_or_else(
            || format!("no other half: {}", shown(why)),
            |m| format!("belongs to {}: {}", shown(m), shown(why)),
        ),
        _ => String::new(),
    }
}

fn finding_words(f: &Finding) -> String {
    let mut text = format!(
        "{} ({}) {}",
        shown(&f.surface),
        f.grade,
        f.defect.map_or("no defect", Word::word)
    );
    if let Some(place) = &f.place {
        text.push_str(&format!(", {}", shown(place)));
    }
    if let Some(size) = f.size_um {
        text.push_str(&format!(", {}", millimetres(size)));
    }
    text.push_str(&format!(": {}", f.verdict.word()));
    text
}

fn millimetres(um: i64) -> String {
    format!("{}.{} mm", um / 1_000, um % 1_000 / 100)
}

// A sentence that grows by what is known.
pub(super) struct Parts(pub(super) String);

impl Parts {
    pub(super) fn new(first: &str) -> Self {
        Self(first.to_owned())
    }

    pub(super) fn say(&mut self, part: Option<String>) {
        if let Some(part) = part {
            self.0.push_str(", ");
            self.0.push_str(&part);
        }
    }

    pub(super) fn text(&mut self, lead: &str, part: Option<&String>) {
        self.say(part.map(|p| format!("{lead}{}", shown(p))));
    }
}

fn shop_words(fact: &ShopFact) -> String {
    match fact {
        ShopFact::Opened {
            name,
            zone,
            day_start,
            demo,
        } => format!(
            "ledger opened: {}, zone {zone}, production day from {day_start:02}:00{}",
            shown(name),
            if *demo { ", DEMO" } else { "" }
        ),
        ShopFact::Room { name, interval, .. } => match interval {
            Some(i) => format!(
                "room {} declared, readings every {}",
                shown(name),
                i.words()
            ),
            None => format!("room {} declared, no readings", shown(name)),
        },
        ShopFact::Material { code, sheet, .. } => format!("material {code}, sheet {sheet} adopted"),
        ShopFact::Recipe { code, revision, .. } => format!("recipe {code} rev {revision} adopted"),
        ShopFact::Lot {
            lot,
            material,
            sheet,
            volume,
            ..
        } => {
            format!(
                "lot {} of {material} received, {}, sheet {sheet}",
                shown(lot),
                volume.text(0)
            )
        }
        ShopFact::Mix {
            mix,
            name,
            parts,
            parent,
            left,
            ..
        } => {
            let parts: Vec<String> = parts
                .iter()
                .map(|p| format!("{} {}", shown(&p.lot), p.volume.text(0)))
                .collect();
            let mut text = format!("mix {mix} ({}) made: {}", shown(name), parts.join(" + "));
            if let (Some(parent), Some(left)) = (parent, left) {
                let how = if left.measured {
                    "measured"
                } else {
                    "by the log"
                };
                text.push_str(&format!(
                    " onto {} left of mix {parent}, {how}",
                    left.volume.text(0)
                ));
            }
            text
        }
        ShopFact::Ceiling {
            what,
            scope,
            typed,
            basis,
            source,
            ..
        } => format!(
            "limit {} for {}: {} ({}), source: {}",
            shown(what),
            shown(scope),
            shown(typed),
            shown(basis),
            shown(source)
        ),
        ShopFact::Survey {
            booth, readings, ..
        } => {
            format!(
                "face-velocity survey of {}, {} readings",
                shown(booth),
                readings.len()
            )
        }
        ShopFact::Outage { booth, to, .. } => format!(
            "exhaust of {} stopped{}",
            shown(booth),
            if to.is_some() {
                ""
            } else {
                ", not known when it ran again"
            }
        ),
        ShopFact::Checked { booth, seen } => {
            let mut text = Parts::new(&format!("{} checked", shown(booth)));
            text.say(seen.gauge.map(|p| format!("filter gauge {}", p.text(2))));
            text.say(seen.new_filters.then(|| "new filters".to_owned()));
            text.text("", seen.note.as_ref());
            text.0
        }
        ShopFact::Rebound { lot, sheet, why } => {
            format!("lot {} bound to sheet {sheet}: {}", shown(lot), shown(why))
        }
        ShopFact::Lost { from, to, why, .. } => format!(
            "went on without actions {from} to {to}, which were lost: {}",
            shown(why)
        ),
        ShopFact::Backups {
            every: Some(every),
            folder,
            keep,
            ..
        } => format!(
            "a backup every {} into {}, {keep} are kept",
            every.words(),
            shown(folder)
        ),
        ShopFact::Backups { every: None, .. } => "no more backups by themselves".to_owned(),
        ShopFact::Signed(s) => format!("month {} signed, revision {}", shown(&s.month), s.revision),
        ShopFact::Person { initials, role } => role.map_or_else(
            || format!("{initials} left"),
            |r| format!("{initials} is a {}", r.word()),
        ),
        ShopFact::Pin { initials, reset } => {
            if *reset {
                format!("PIN of {initials} taken away by the owner of the ledger's file")
            } else {
                format!("new PIN of {initials} chosen")
            }
        }
        ShopFact::ClockConfirmed { doubted } => {
            let mut text = "clock confirmed".to_owned();
            if !doubted.is_empty() {
                text.push_str(&format!(" ({})", shown(&doubted.join("; "))));
            }
            text
        }
        ShopFact::ClockCorrected { from, to, by, why } => format!(
            "clock of actions {from} to {to} corrected by {}: {}",
            signed(*by),
            shown(why)
        ),
        ShopFact::Rules { code, revision, .. } => {
            format!("rule set {} {} adopted", shown(code), shown(revision))
        }
        ShopFact::BookSetting {
            name,
            value,
            source,
        } => format!(
            "solvent book: {} is {}, source: {}",
            shown(name),
            shown(value),
            shown(source)
        ),
        ShopFact::Stock(fact) => super::noted::stock(fact),
        ShopFact::Duty(fact) => super::noted::duty(fact),
        ShopFact::Logger(fact) => super::noted::logger(fact),
        ShopFact::Alert(fact) => super::alerts::fact_words(fact),
        ShopFact::HandOver(fact) => super::hand_over::fact_words(fact),
        ShopFact::Climate {
            room, file, rows, ..
        } => {
            let readings = if *rows == 1 { "reading" } else { "readings" };
            format!("{rows} {readings} of {} from {}", shown(room), shown(file))
        }
    }
}

/// After this much time between deed and writing an entry is marked as written late.
pub const LATE: Span = Span::minutes(30);

/// A span with its sign: `+3 h`, `-1 h`.
pub fn signed(span: Span) -> String {
    let sign = if span.0 < 0 { "" } else { "+" };
    format!("{sign}{}", span.words())
}

/// Times of an entry as the clock on the wall showed them when it was written. The zone's rules may have been changed since
/// then, also for the past; what was stored with the action stands.
struct AsStored<'a> {
    calendar: &'a Calendar,
    /// How much further from UTC the wall was then than today's rules say, in minutes.
    off: i32,
}

impl<'a> AsStored<'a> {
    fn of(row: &EntryRow, calendar: &'a Calendar) -> Self {
        let (began, stored) = row.offset;
        let off = stored.saturating_sub(calendar.offset_min(began));
        Self { calendar, off }
    }

    // By the stored offset, where it is not today's.
    fn fixed(&self, at: Moment, form: &str) -> Option<String> {
        if self.off == 0 {
            return None;
        }
        let seconds = self.calendar.offset_min(at).checked_add(self.off)?;
        let zone = FixedOffset::east_opt(seconds.checked_mul(60)?)?;
        let utc = DateTime::from_timestamp_millis(at.0)?;
        Some(utc.with_timezone(&zone).format(form).to_string())
    }

    fn rfc3339(&self, at: Moment) -> String {
        self.fixed(at, "%Y-%m-%dT%H:%M:%S%.3f%:z")
            .unwrap_or_else(|| self.calendar.rfc3339(at))
    }

    fn full(&self, at: Moment) -> String {
        self.fixed(at, "%Y-%m-%d %H:%M:%S %:z")
            .unwrap_or_else(|| self.calendar.full(at))
    }

    fn clock_seconds(&self, at: Moment) -> String {
        self.fixed(at, "%H:%M:%S")
            .unwrap_or_else(|| self.calendar.clock_seconds(at))
    }
}

/// An entry as JSON.
pub fn entry(row: &EntryRow, calendar: &Calendar) -> Value {
    let shown_as = AsStored::of(row, calendar);
    json!({
        "entry": row.seq.0,
        "action": row.action,
        "piece": row.piece.as_ref().map(|(_, s)| s.clone()),
        "surface": row.surface,
        "branch": row.branch,
        "what": words(&row.what, System::Metric),
        "began": shown_as.rfc3339(row.began),
        "ended": shown_as.rfc3339(row.ended),
        "day": row.day.date().to_string(),
        "written": shown_as.rfc3339(row.written),
        "by": row.person,
        "written_by": row.writer,
        "station": row.station,
        "corrects": row.corrects.map(|e| e.0),
        "taken_back_by": row.voided_by.map(|e| e.0),
        "in_people_list": !row.stranger,
        "clock": row.clock,
        "clock_off_ms": row.clock_off.map(|s| s.0),
    })
}

/// An entry as a line.
pub fn line(row: &EntryRow, calendar: &Calendar, system: System) -> String {
    let shown_as = AsStored::of(row, calendar);
    let piece = row.piece.as_ref().map_or("-", |(_, s)| s.as_str());
    let on = match (row.surface.as_str(), row.branch) {
        ("" | "whole", 0) => String::new(),
        ("" | "whole", n) => format!("  [rework {n}]"),
        (surface, 0) => format!("  [{}]", shown(surface)),
        (surface, n) => format!("  [{}, rework {n}]", shown(surface)),
    };
    let mut text = format!(
        "{:>6}  {:<9} {}  {:<6} {}{on}",
        row.seq.0,
        piece,
        shown_as.full(row.ended),
        row.person,
        words(&row.what, system)
    );
    if row.written.since(row.ended) > LATE {
        text.push_str(&format!("  [written late: {}]", shown_as.full(row.written)));
    } else {
        text.push_str(&format!(
            "  [written {}]",
            shown_as.clock_seconds(row.written)
        ));
    }
    if row.writer != row.person {
        text.push_str(&format!("  [by {}]", row.writer));
    }
    if row.stranger {
        text.push_str("  [not in the people list]");
    }
    match row.clock_off {
        Some(off) => text.push_str(&format!(
            "  [clock corrected by {}: written {}]",
            signed(off),
            shown_as.full(row.written.plus(off))
        )),
        None if row.clock == "doubtful" => text.push_str("  [clock not confirmed]"),
        None => {}
    }
    if let Some(e) = row.corrects {
        text.push_str(&format!("  [corrects {}]", e.0));
    }
    if let Some(e) = row.voided_by {
        text.push_str(&format!("  [TAKEN BACK by {}]", e.0));
    }
    text
}

/// A deviation as JSON.
pub fn deviation(d: &DeviationRow) -> Value {
    json!({
        "entry": d.entry.0, "rule": d.rule, "piece": d.serial, "text": d.text, "reason": d.reason,
        "raised_by_action": d.raised, "moot_since_action": d.moot, "answered_by_entry": d.answer,
    })
}

/// A deviation as a line.
pub fn deviation_line(d: &DeviationRow) -> String {
    let state = match (d.moot, d.answer) {
        (Some(a), _) => format!("moot since action {a}"),
        (None, Some(e)) => format!("answered by entry {e}"),
        (None, None) => "open".to_owned(),
    };
    format!(
        "{:>6}  {:<9} {:<14} {}  (reason: {}; {state})",
        d.entry.0,
        d.serial,
        d.rule,
        d.text,
        d.reason.as_deref().unwrap_or("not given yet")
    )
}

/// A mass in grams with one decimal, for people.
pub fn grams(mass: Mass) -> String {
    mass.text(1)
}

/// Totals as JSON, in milligrams as they are kept.
pub fn totals(t: &Totals) -> Value {
    json!({"voc_mg": t.voc.0, "hap_mg": t.hap.0, "exempt_mg": t.exempt.0})
}

/// A receipt as JSON.
pub fn receipt(r: &Receipt, again: bool) -> Value {
    json!({
        "saved": true,
        "saved_before": again,
        "action": r.saved.action,
        "line": r.line,
        "pieces": r.pieces.iter().map(|(s, h)| json!({"serial": s, "hook": h})).collect::<Vec<_>>(),
        "left_out": r.left_out.iter().map(|l| json!({"serial": l.serial, "hook": l.hook, "why": l.why})).collect::<Vec<_>>(),
        "deviations": r.deviations.iter().map(deviation).collect::<Vec<_>>(),
        "solvent": totals(&r.totals),
        "remarks": r.remarks,
    })
}
