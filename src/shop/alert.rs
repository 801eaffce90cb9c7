//! What is worth telling somebody, what the shop says about it, and who took note.
//!
//! *Invariants*: an alert is known by its kind, what it is about and since when, all three from the record, so that every
//! terminal means the same one; the shop's rules alone say who is told and by which way. Taking note is a word of one
//! person and ends nothing else.
//!
//! *Not here*: what raises an alert (`reports::lookout`), who is told now (`alerts`).

use super::calendar::Calendar;
use super::text::{clean, initials};
use super::words::{Role, Word, words};
use crate::units::{Moment, Span};
use chrono::Timelike;
use sha2::{Digest, Sha256};

words!(
    /// What an alert tells of.
    AlertKind {
        /// The recipe time of the next step is reached; check by hand.
        Ready = "ready",
        /// The time in which the next coat needs no scuff ends soon.
        Window = "window closing",
        /// The forecast misses the due date.
        Late = "late",
        /// It stands ready for longer than its recipe states.
        Queued = "queued",
        /// A room that is declared as logged has no reading that still stands.
        Silent = "room silent",
        /// A room's air is, or was within a day, beyond a bound of the shop or of a recipe of the pieces there.
        Air = "room air",
        /// A share of a limit is reached.
        Limit = "limit",
        /// A booth's check, survey or exhaust is to be looked at.
        Check = "check overdue",
        /// A deed that comes round is overdue.
        Duty = "duty overdue",
        /// A waste drum is to leave.
        Drum = "drum",
        /// The pot life of a mix ends or is over.
        Pot = "pot life",
        /// A filter gauge is at its mark, or reads too low.
        Mark = "filter mark",
        /// A handover was given and nobody took it.
        HandOver = "hand-over",
    }
);

impl AlertKind {
    /// What a notice is headed by: the word, but for a handover, which the record writes in another way than people read it.
    pub fn title(self) -> &'static str {
        match self {
            Self::HandOver => "handover",
            kind => kind.word(),
        }
    }

    /// The kind of a word as it is typed: the record's own, or the one that heads a notice.
    pub fn typed(text: &str) -> Option<Self> {
        let titled = || Self::ALL.iter().copied().find(|k| k.title() == text);
        Self::from_word(text).or_else(titled)
    }

    /// Whose work it is, where the shop says nothing else (common practice, no source).
    pub const fn role(self) -> Role {
        match self {
            Self::Ready | Self::Window | Self::Pot => Role::Finisher,
            Self::Late | Self::Queued | Self::Silent | Self::Air | Self::HandOver => {
                Role::Supervisor
            }
            Self::Limit | Self::Check | Self::Duty | Self::Drum | Self::Mark => Role::SafetyLead,
        }
    }
}

words!(
    /// By which way somebody is told.
    Way {
        /// A line with the terminal's bell on the screens of the person or station.
        Screen = "screen",
        /// A notice on the desktop of the machine on which the watch runs.
        Desktop = "desktop",
        /// The command that the watch was started with, which reads the alert as JSON on its standard input. The record
        /// never names it: who can write a record may not choose what another's machine runs.
        Command = "command",
    }
);

/// By what an alert is known.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AlertKey {
    /// What it tells of.
    pub kind: AlertKind,
    /// The rack, piece, room, booth, limit, drum, mix or deed, and which of its steps or marks.
    pub about: String,
    /// Since when: the moment in the record from which it follows.
    pub since: Moment,
}

impl AlertKey {
    /// The six letters and digits by which people name it. Two alerts may share them; entries hold the whole key.
    pub fn id(&self) -> String {
        let mut hash = Sha256::new();
        hash.update(self.kind.word());
        hash.update([0]);
        hash.update(&self.about);
        hash.update([0]);
        hash.update(self.since.0.to_string());
        let first = hash.finalize().into_iter().take(3);
        first.fold(String::new(), |mut id, byte| {
            id.push_str(&format!("{byte:02x}"));
            id
        })
    }
}

/// Whom a rule is for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum To {
    /// Everybody of a role in the people list.
    Role(Role),
    /// One person, by initials.
    Person(String),
    /// Whoever stands at a terminal.
    Station(String),
}

impl To {
    /// As it is read and printed: `supervisor`, `person MK`, `station booth-1`.
    pub fn words(&self) -> String {
        match self {
            Self::Role(role) => role.word().to_owned(),
            Self::Person(who) => format!("person {who}"),
            Self::Station(name) => format!("station {name}"),
        }
    }

    /// Reads what [`Self::words`] prints.
    ///
    /// # Errors
    /// What is allowed.
    pub fn read(text: &str) -> Result<Self, String> {
        let text = text.trim();
        if let Some(role) = Role::from_word(text) {
            return Ok(Self::Role(role));
        }
        if let Some(who) = text.strip_prefix("person ") {
            return Ok(Self::Person(initials("person", who)?));
        }
        if let Some(name) = text.strip_prefix("station ") {
            return Ok(Self::Station(clean("station", name, 40)?));
        }
        Err(format!(
            "\"{}\" is nobody to tell; write one of {}, \"person MK\" or \"station booth-1\"",
            super::text::shown(text),
            Role::choices()
        ))
    }
}

/// Hours of the day in which nobody is called, in minutes after midnight by the shop's clock; they may go over midnight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quiet {
    /// When they begin.
    pub from: u32,
    /// When they end.
    pub to: u32,
}

impl Quiet {
    /// Reads `22:00-06:00`.
    ///
    /// # Errors
    /// What is allowed.
    pub fn read(text: &str) -> Result<Self, String> {
        let clock = |part: &str| {
            let (hours, minutes) = part.trim().split_once(':')?;
            let (hours, minutes): (u32, u32) = (hours.parse().ok()?, minutes.parse().ok()?);
            (hours < 24 && minutes < 60).then_some(hours * 60 + minutes)
        };
        text.split_once('-')
            .and_then(|(from, to)| Some((clock(from)?, clock(to)?)))
            .filter(|(from, to)| from != to)
            .map(|(from, to)| Self { from, to })
            .ok_or_else(|| {
                format!(
                    "quiet hours \"{}\" are not understood: two different times from 00:00 to 23:59; write 22:00-06:00",
                    super::text::shown(text)
                )
            })
    }

    /// `22:00-06:00`.
    pub fn words(self) -> String {
        let clock = |m: u32| format!("{:02}:{:02}", m / 60, m % 60);
        format!("{}-{}", clock(self.from), clock(self.to))
    }

    /// Whether a moment lies in them; the end is out.
    pub fn holds(self, at: Moment, calendar: &Calendar) -> bool {
        let local = calendar.local(at);
        let minute = local.hour() * 60 + local.minute();
        if self.from < self.to {
            (self.from..self.to).contains(&minute)
        } else {
            minute >= self.from || minute < self.to
        }
    }
}

/// What the shop says about some kinds of alert.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlertRule {
    /// Its name; a rule of the same name takes its place.
    pub name: String,
    /// Which kinds.
    pub kinds: Vec<AlertKind>,
    /// Who is told; empty for the role that a kind is for.
    pub to: Vec<To>,
    /// By which way.
    pub way: Way,
    /// When nobody is called; what came up meanwhile is told afterwards, if it still holds.
    pub quiet: Option<Quiet>,
    /// After how long it is told again to somebody who took no note of it.
    pub repeat: Option<Span>,
    /// Whether it was taken off.
    pub ended: bool,
}

/// A fact about alerts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AlertFact {
    /// A rule was entered, changed or taken off.
    Rule(AlertRule),
    /// Somebody took note of an alert: the person of the action.
    Seen(AlertKey),
    /// Somebody does not want to hear of an alert until then.
    Snoozed {
        /// Which.
        key: AlertKey,
        /// Until when.
        until: Moment,
    },
    /// Somebody was told, or telling them did not work.
    Told {
        /// Of what.
        key: AlertKey,
        /// Whom: initials, or the station where nobody was named.
        to: String,
        /// By which way.
        way: Way,
        /// Why it did not reach them, where that is known.
        fault: Option<String>,
    },
}

/// A fact about the change of shifts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HandOverFact {
    /// The page was given to whoever comes next.
    Given {
        /// The page as it was printed.
        text: String,
        /// Number of the newest action that it tells of.
        action: i64,
        /// Hash of that action.
        head: String,
    },
    /// The person of the action took it.
    Taken {
        /// The entry that gave it.
        given: i64,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_handover_is_headed_and_typed_by_the_word_of_the_house() {
        assert_eq!(AlertKind::HandOver.title(), "handover");
        // What stands in the record stays as it is, and is typed as it was.
        assert_eq!(AlertKind::HandOver.word(), "hand-over");
        for text in ["handover", "hand-over"] {
            assert_eq!(AlertKind::typed(text), Some(AlertKind::HandOver), "{text}");
        }
        assert_eq!(AlertKind::typed("pot life"), Some(AlertKind::Pot));
        assert_eq!(AlertKind::typed("pots"), None);
    }

    fn key(about: &str, since: i64) -> AlertKey {
        AlertKey {
            kind: AlertKind::Ready,
            about: about.to_owned(),
            since: Moment(since),
        }
    }

    #[test]
    fn the_same_alert_has_the_same_name_everywhere_and_another_one_another() {
        // Worked by another hand: the three parts with a zero byte between them, through sha256sum.
        assert_eq!(key("R8", 1_000).id(), "dffde2");
        assert_ne!(key("R8", 1_000).id(), key("R8", 1_001).id());
        assert_ne!(key("R8", 1_000).id(), key("R9", 1_000).id());
    }

    #[test]
    fn quiet_hours_go_over_midnight_and_end_on_the_minute() {
        let calendar = Calendar::BARE;
        let at = |h: i64, m: i64| Moment(0).plus(Span::minutes(h * 60 + m));
        let night = Quiet::read("22:00-06:00").unwrap();
        assert!(night.holds(at(22, 0), &calendar) && night.holds(at(5, 59), &calendar));
        assert!(!night.holds(at(6, 0), &calendar) && !night.holds(at(21, 59), &calendar));
        let noon = Quiet::read("12:00-12:30").unwrap();
        assert!(noon.holds(at(12, 29), &calendar) && !noon.holds(at(12, 30), &calendar));
        assert_eq!(noon.words(), "12:00-12:30");
        for bad in ["", "22-6", "22:00-22:00", "24:00-06:00", "22:60-06:00"] {
            assert!(
                Quiet::read(bad).unwrap_err().contains("22:00-06:00"),
                "{bad}"
            );
        }
    }

    #[test]
    fn who_is_told_reads_as_it_is_written() {
        for to in ["supervisor", "safety lead", "person MK", "station booth-1"] {
            assert_eq!(To::read(to).unwrap().words(), to);
        }
        assert!(To::read("everybody").unwrap_err().contains("safety lead"));
    }
}
