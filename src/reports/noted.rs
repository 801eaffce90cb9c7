//! Facts about stock, waste, loggers and what comes round, in words.

use super::entries::Parts;
use crate::shop::duty::DutyFact;
use crate::shop::hours::days_words;
use crate::shop::logger_file::LoggerFact;
use crate::shop::shift::Shift;
use crate::shop::stock::StockFact;
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Volume};

// A volume of stock: litres with two decimals, a little of it in mL.
fn litres(volume: Volume) -> String {
    super::book::litres(volume, crate::units::System::Metric)
}

/// A fact about stock or waste.
pub(super) fn stock(fact: &StockFact) -> String {
    match fact {
        StockFact::Delivered {
            lot,
            volume,
            document,
            ..
        } => {
            let mut text = Parts::new(&format!("more of lot {} received", shown(lot)));
            text.say(Some(litres(*volume)));
            text.text("", document.as_ref());
            text.0
        }
        StockFact::Issued {
            lot,
            volume,
            purpose,
            booth,
            note,
            ..
        } => {
            let mut text = Parts::new(&format!(
                "{} of lot {} used: {}",
                litres(*volume),
                shown(lot),
                purpose.word()
            ));
            text.text("", booth.as_ref());
            text.text("", note.as_ref());
            text.0
        }
        StockFact::Carried {
            lot,
            volume,
            from,
            to,
        } => format!(
            "{} of lot {} carried from {} to {}",
            litres(*volume),
            shown(lot),
            shown(from),
            shown(to)
        ),
        StockFact::Counted {
            material,
            lot,
            volume,
            closes,
            note,
        } => {
            let of = lot
                .as_ref()
                .map_or_else(String::new, |l| format!(", lot {}", shown(l)));
            let mut text = Parts::new(&format!("{} of {material}{of} counted", litres(*volume)));
            text.say(closes.as_ref().map(|m| format!("closes {}", shown(m))));
            text.text("", note.as_ref());
            text.0
        }
        StockFact::PotClosed { mix, left, drum } => {
            let mut text = Parts::new(&format!("pot of mix {mix} closed"));
            text.say(Some(format!("{} left", litres(*left))));
            text.text("into drum ", drum.as_ref());
            text.0
        }
        StockFact::DrumStarted {
            drum,
            contents,
            capacity,
            place,
        } => {
            let mut text = Parts::new(&format!("waste drum {} started", shown(drum)));
            text.text("", Some(contents));
            text.say(capacity.map(|v| format!("holds {}", litres(v))));
            text.text("", place.as_ref());
            text.0
        }
        StockFact::DrumFilled {
            drum,
            volume,
            mass,
            what,
        } => {
            let mut text = Parts::new(&format!("into drum {}: {}", shown(drum), shown(what)));
            text.say(volume.map(litres));
            text.say(mass.map(|m| m.text(0)));
            text.0
        }
        StockFact::DrumAnalysed {
            drum,
            voc,
            reference,
        } => format!(
            "drum {} analysed: {} VOC, {}",
            shown(drum),
            voc.text(1),
            shown(reference)
        ),
        StockFact::DrumShipped {
            drum,
            mass,
            manifest,
            carrier,
        } => {
            let mut text = Parts::new(&format!("drum {} left", shown(drum)));
            text.say(Some(mass.text(0)));
            text.text("manifest ", manifest.as_ref());
            text.text("with ", carrier.as_ref());
            text.0
        }
    }
}

/// A fact about a climate logger.
pub(super) fn logger(fact: &LoggerFact) -> String {
    match fact {
        LoggerFact::Adopted { code, revision, .. } => {
            format!("logger {} rev {} adopted", shown(code), shown(revision))
        }
        LoggerFact::Took {
            code,
            revision,
            room,
            file,
            sha256,
            lines,
            left_out,
            known,
            other,
        } => {
            let mut text = Parts::new(&format!(
                "file {} of logger {} rev {} for {}: {lines} lines",
                shown(file),
                shown(code),
                shown(revision),
                shown(room)
            ));
            let count = |n: &u32, what: &str| (*n > 0).then(|| format!("{n} {what}"));
            text.say(count(left_out, "left out"));
            text.say(count(known, "known already"));
            text.say(count(other, "of them otherwise"));
            text.text("SHA-256 ", Some(sha256));
            text.0
        }
    }
}

/// A fact about what comes round, or about what happened.
pub(super) fn duty(fact: &DutyFact) -> String {
    match fact {
        DutyFact::Duty(d) if d.ended => format!(
            "{} of {} taken off the list: {}",
            shown(&d.name),
            shown(&d.about),
            shown(&d.source)
        ),
        DutyFact::Duty(d) => {
            let mut text = Parts::new(&format!("{} of {}", shown(&d.name), shown(&d.about)));
            text.say(d.every.map(|s| format!("every {}", s.words())));
            text.say(d.in_use.map(|s| format!("after {} in use", s.words())));
            text.text("source: ", Some(&d.source));
            text.0
        }
        DutyFact::Done {
            name,
            about,
            answers,
            note,
        } => {
            let mut text = Parts::new(&format!("{} of {} done", shown(name), shown(about)));
            for (asked, found) in answers {
                text.say(Some(format!("{}: {}", shown(asked), shown(found))));
            }
            text.text("", note.as_ref());
            text.0
        }
        DutyFact::InUse { name, about, span } => format!(
            "{} of {}: {} in use",
            shown(name),
            shown(about),
            span.words()
        ),
        DutyFact::Incident {
            kind,
            place,
            text,
            follow_up,
        } => {
            let mut words = Parts::new(&format!(
                "{} at {}: {}",
                kind.word(),
                shown(place),
                shown(text)
            ));
            words.say(follow_up.map(|d| format!("to be looked at again {d}")));
            words.0
        }
        DutyFact::Followed {
            incident,
            text,
            next,
            closed,
        } => {
            let mut words = Parts::new(&format!("of entry {}: {}", incident.0, shown(text)));
            words.say(next.map(|d| format!("to be looked at again {d}")));
            words.say(closed.then(|| "nothing more to be done".to_owned()));
            words.0
        }
        DutyFact::Contact { role, text } => format!("to ask: {}: {}", shown(role), shown(text)),
        DutyFact::RoomAir {
            room,
            volume,
            flow,
            source,
        } => {
            let mut text = Parts::new(&format!("air of {}", shown(room)));
            text.say(volume.map(|v| format!("{} m3", v.0 / 1_000_000_000)));
            text.say(flow.map(|f| f.text(3)));
            text.text("source: ", Some(source));
            text.0
        }
        DutyFact::RoomHooks {
            room,
            hooks,
            source,
        } => {
            let mut text = Parts::new(&format!("hooks of {}: {hooks}", shown(room)));
            text.text("source: ", Some(source));
            text.0
        }
        DutyFact::Closed(c) if c.ended => format!(
            "worked after all on {}: {}",
            days_words(c.days),
            shown(&c.source)
        ),
        DutyFact::Closed(c) => {
            let mut text = Parts::new(&format!("closed on {}", days_words(c.days)));
            text.text("source: ", Some(&c.source));
            text.0
        }
        DutyFact::Hours(h) if h.shifts.is_empty() => {
            format!("working hours taken away: {}", shown(&h.source))
        }
        DutyFact::Hours(h) => {
            let shifts: Vec<String> = h.shifts.iter().map(Shift::words).collect();
            let mut text = Parts::new(&format!("working hours {}", shifts.join(" and ")));
            text.text("source: ", Some(&h.source));
            text.0
        }
        DutyFact::Station(s) if s.ended => format!(
            "station {} taken away: {}",
            shown(&s.name),
            shown(&s.source)
        ),
        DutyFact::Station(s) => {
            let mut text = Parts::new(&format!("station {}", shown(&s.name)));
            let kinds: Vec<&str> = s.kinds.iter().map(|k| k.word()).collect();
            text.say(Some(kinds.join(", ")));
            text.say(Some(super::plan::pace(s)));
            text.text("source: ", Some(&s.source));
            text.0
        }
        DutyFact::Crew(c) if c.ended => {
            format!("crew {} taken away: {}", shown(&c.name), shown(&c.source))
        }
        DutyFact::Crew(c) => {
            let mut text = Parts::new(&format!("crew {}", shown(&c.name)));
            text.say(Some(super::plan::people(c.people)));
            text.text("source: ", Some(&c.source));
            text.0
        }
        DutyFact::CautionRead { caution, about } => {
            format!("caution {} read, {}", shown(caution), shown(about))
        }
        DutyFact::Told {
            caution,
            about,
            whom,
        } => format!(
            "caution {}, {}: told {}",
            shown(caution),
            shown(about),
            shown(whom)
        ),
    }
}
