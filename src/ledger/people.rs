//! People, their roles and their PINs.
//!
//! *Invariants*: who is in the shop in which role is a fact of the record; PIN hashes, tries and waits lie beside it, in
//! no export and in no backup. A try is counted before it is judged, so that ending the program half-way counts it as
//! wrong. A wait is measured by the machine's time since its start, never by the wall clock where the kernel tells,
//! and is at most [`LONGEST_WAIT`]: nobody is kept out for ever.
//!
//! *Not here*: access control. A PIN says who did it on a floor where people trust each other; whoever can write the
//! file can write the record.

use super::append::{Line, NewAction, Saved, Stamp, Who, Writer};
use super::error::LedgerError;
use super::open::Ledger;
use super::stored::{Shared, decode};
use crate::shop::record::{ShopFact, What};
use crate::shop::text::initials as clean_initials;
use crate::shop::words::{Role, Word};
use crate::units::{Moment, Span};
use argon2::password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash};
use argon2::{Algorithm, Argon2, Params, Version};
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeSet;

/// Wrong tries in a row that cost nothing: a tired hand mistypes.
const FREE_TRIES: u32 = 5;
/// The wait after the last free try; it doubles with each further one.
const FIRST_WAIT: Span = Span::seconds(30);
/// The longest wait (OWASP ASVS 5.0, 6.1.1, cited from a stored excerpt: a limit must not keep everybody out).
const LONGEST_WAIT: Span = Span::minutes(15);
/// Digits of a PIN (NIST SP 800-63B: a number chosen by the verifier has at least 6, cited from a stored excerpt).
const DIGITS: usize = 6;

/// A deed that asks for a PIN.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinDeed {
    /// Lifting a hold.
    Lift,
    /// A word on a deviation.
    Answer,
    /// Entering a limit.
    Limit,
    /// Changing the people list or somebody's PIN.
    People,
    /// Putting a piece on the recipe as it was really built.
    Swap,
    /// Closing a month.
    CloseMonth,
}

impl PinDeed {
    /// The deed in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Lift => "lifting a hold",
            Self::Answer => "answering a deviation",
            Self::Limit => "entering a limit",
            Self::People => "changing the people list",
            Self::Swap => "swapping what was built",
            Self::CloseMonth => "closing a month",
        }
    }

    /// Whose deed it is.
    pub const fn roles(self) -> &'static [Role] {
        match self {
            Self::Lift | Self::Answer | Self::People | Self::Swap => &[Role::Supervisor],
            Self::Limit | Self::CloseMonth => &[Role::Supervisor, Role::SafetyLead],
        }
    }
}

/// How a deed that asks for a PIN came to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinWord {
    /// The right PIN was given.
    Given,
    /// Nobody whose deed it is has a PIN yet, so none was asked for.
    NoneSet,
    /// Somebody whose deed it is chose a PIN, and none is left: no backup and no export carries one.
    NoneLeft,
}

impl PinWord {
    /// What is said of it beside the deed.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Given => "PIN given",
            Self::NoneSet => "no PIN is set",
            Self::NoneLeft => "no PIN is left since the ledger was recovered; choose new ones",
        }
    }
}

/// Somebody of the people list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonRow {
    /// Initials.
    pub initials: String,
    /// The role; `None` for somebody who left.
    pub role: Option<Role>,
    /// Since when.
    pub since: Moment,
    /// Whether a PIN is set.
    pub pin: bool,
}

/// A try of a PIN.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PinTry {
    /// Whose PIN.
    pub initials: String,
    /// At which terminal.
    pub station: String,
    /// For which deed.
    pub deed: String,
    /// When, by the wall clock.
    pub at: Moment,
    /// `right`, `wrong`, `too soon`, or `no PIN left` for a deed that was done without one that a recovery lost.
    pub outcome: String,
}

impl Ledger {
    /// The people list, those who left last.
    pub fn people(&self) -> Result<Vec<PersonRow>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT p.initials, p.role, p.since, n.initials IS NOT NULL FROM person p
             LEFT JOIN pin n ON n.initials = p.initials ORDER BY p.role IS NULL, p.initials",
        )?;
        let mut rows = list.query([])?;
        let mut out = Vec::new();
        while let Some(r) = rows.next()? {
            out.push(PersonRow {
                initials: r.get(0)?,
                role: role_word(r.get(1)?)?,
                since: Moment(r.get(2)?),
                pin: r.get(3)?,
            });
        }
        Ok(out)
    }

    /// Which of these initials are not in the people list. Nobody is, while the shop keeps no list: only the one who
    /// opened the ledger stands in it then.
    pub fn strangers<'a>(
        &self,
        initials: impl IntoIterator<Item = &'a str>,
    ) -> Result<BTreeSet<String>, LedgerError> {
        let listed: BTreeSet<String> = self.people()?.into_iter().map(|p| p.initials).collect();
        let kept: i64 =
            self.conn
                .query_row("SELECT count(*) FROM person WHERE entry > 1", [], |r| {
                    r.get(0)
                })?;
        if kept == 0 {
            return Ok(BTreeSet::new());
        }
        Ok(initials
            .into_iter()
            .filter(|i| !listed.contains(*i))
            .map(str::to_owned)
            .collect())
    }

    /// Adds somebody, changes a role, or lets somebody leave (`None`).
    pub fn employ(
        &mut self,
        initials: &str,
        role: Option<Role>,
        new: bool,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        let initials = clean_initials("initials", initials).map_err(LedgerError::Input)?;
        self.write(|w| {
            let held = listed(&w.tx, &initials)?;
            let refuse = |why: String| Err(LedgerError::Input(why));
            match held {
                Listed::As(held) if new => {
                    return refuse(format!(
                        "{initials} is in the people list already, as {}; change it with \"hangtime person role\"",
                        held.word()
                    ));
                }
                Listed::Never if !new => {
                    return refuse(format!(
                        "{initials} is not in the people list; add them with \"hangtime person add\""
                    ));
                }
                Listed::Left if !new => {
                    return refuse(format!(
                        "{initials} left; take them back with \"hangtime person add\""
                    ));
                }
                Listed::As(held) if role == Some(held) => {
                    return refuse(format!("{initials} is {} already", held.word()));
                }
                Listed::As(Role::Supervisor) if others(&w.tx, &initials)? == 0 => {
                    return refuse(format!(
                        "{initials} is the last supervisor; make somebody else one first, so that the shop keeps one"
                    ));
                }
                Listed::Never | Listed::Left | Listed::As(_) => {}
            }
            if role.is_none() {
                forget(&w.tx, &initials)?;
            }
            let fact = ShopFact::Person { initials, role };
            say(w, "person", fact, who, stamp)
        })
    }

    /// Whether [`Self::authorise`] will want the PIN of `person`: not while nobody whose deed it is has one. An error when
    /// others have one and `person` has none.
    pub fn asks_pin(&self, deed: PinDeed, person: &str) -> Result<bool, LedgerError> {
        let holders = holders(&self.conn, deed)?;
        if holders.is_empty() {
            return Ok(false);
        }
        if !holders.contains(person) {
            let list: Vec<&str> = holders.iter().map(String::as_str).collect();
            return Err(LedgerError::Input(format!(
                "{} asks for the PIN of {}, and {person} has none for it; give their initials and PIN",
                deed.words(),
                list.join(" or "),
            )));
        }
        Ok(true)
    }

    /// Holds the PIN that `who.person` gave against the one that is set. Where nobody whose deed it is has a PIN, the
    /// deed goes on and that is said. Every try is logged; wrong ones in a row make the next one wait.
    pub fn authorise(
        &mut self,
        deed: PinDeed,
        who: &Who,
        pin: Option<&str>,
        stamp: &Stamp,
    ) -> Result<PinWord, LedgerError> {
        self.may_save()?;
        if !self.asks_pin(deed, &who.person)? {
            let theirs = |role: &Role| deed.roles().contains(role);
            if !self.lost_pins()?.iter().any(|(_, role)| theirs(role)) {
                return Ok(PinWord::NoneSet);
            }
            // It keeps nobody out, and it is listed: whoever can recover a backup gets rid of every PIN by it.
            self.write(|w| log(w, deed, &who.person, &who.station, stamp, "no PIN left"))?;
            return Ok(PinWord::NoneLeft);
        }
        self.try_pin(deed, &who.person, &who.station, pin, stamp)?;
        Ok(PinWord::Given)
    }

    /// Chooses a PIN for somebody: the one given, or one that the program draws. It asks for that person's own PIN, or
    /// for a supervisor's.
    pub fn choose_pin(
        &mut self,
        initials: &str,
        chosen: Option<&str>,
        who: &Who,
        pin: Option<&str>,
        stamp: &Stamp,
    ) -> Result<String, LedgerError> {
        let initials = clean_initials("initials", initials).map_err(LedgerError::Input)?;
        if !matches!(listed(&self.conn, &initials)?, Listed::As(_)) {
            return Err(LedgerError::Input(format!(
                "{initials} is not in the people list; add them with \"hangtime person add\""
            )));
        }
        if who.person == initials && hash_of(&self.conn, &initials)?.is_some() {
            self.try_pin(PinDeed::People, &initials, &who.station, pin, stamp)?;
        } else {
            self.authorise(PinDeed::People, who, pin, stamp)?;
        }
        let new = match chosen {
            Some(text) => usable(text)?,
            None => drawn()?,
        };
        let hash = hasher()?
            .hash_password(new.as_bytes())
            .map_err(|e| LedgerError::Place(format!("the PIN cannot be kept: {e}")))?
            .to_string();
        self.write(|w| {
            w.tx.execute(
                "INSERT INTO pin (initials, hash) VALUES (?1, ?2) ON CONFLICT (initials) DO UPDATE SET hash = excluded.hash",
                params![initials, hash],
            )?;
            w.tx.execute("DELETE FROM pin_wait WHERE scope = 'person' AND name = ?1", [&initials])?;
            let fact = ShopFact::Pin { initials: initials.clone(), reset: false };
            say(w, "pin", fact, who, stamp)
        })?;
        Ok(new)
    }

    /// Takes somebody's PIN and its wait away. It asks for no PIN: it is the way back into a ledger whose PINs are
    /// forgotten. Only the owner of the ledger's file can do it, and the record says so.
    pub fn reset_pin(
        &mut self,
        initials: &str,
        who: &Who,
        stamp: &Stamp,
    ) -> Result<Saved, LedgerError> {
        self.may_save()?;
        let initials = clean_initials("initials", initials).map_err(LedgerError::Input)?;
        if !owns(self.path())? {
            return Err(LedgerError::Place(format!(
                "only the owner of {} (or root) can reset a PIN; run it as the owner",
                self.path().display()
            )));
        }
        self.write(|w| {
            if forget(&w.tx, &initials)? == 0 {
                return Err(LedgerError::Input(format!("{initials} has no PIN")));
            }
            let fact = ShopFact::Pin {
                initials,
                reset: true,
            };
            say(w, "pin", fact, who, stamp)
        })
    }

    /// Who chose a PIN by the record, did not lose it by name, and has none: a recovery or an import leaves it behind.
    pub fn lost_pins(&self) -> Result<Vec<(String, Role)>, LedgerError> {
        let mut chosen: BTreeSet<String> = BTreeSet::new();
        let mut list = self.conn.prepare_cached(
            "SELECT kind, body FROM entry WHERE kind IN ('pin/1', 'person/1') ORDER BY seq",
        )?;
        let mut rows = list.query([])?;
        while let Some(r) = rows.next()? {
            let (kind, body): (String, String) = (r.get(0)?, r.get(1)?);
            match decode(&kind, &body)? {
                What::Shop(ShopFact::Pin {
                    initials,
                    reset: false,
                }) => {
                    chosen.insert(initials);
                }
                What::Shop(
                    ShopFact::Pin { initials, .. }
                    | ShopFact::Person {
                        initials,
                        role: None,
                    },
                ) => {
                    chosen.remove(&initials);
                }
                _ => {}
            }
        }
        let gone = |p: PersonRow| Some((p.initials, p.role?));
        Ok(self
            .people()?
            .into_iter()
            .filter(|p| !p.pin && chosen.contains(&p.initials))
            .filter_map(gone)
            .collect())
    }

    /// The newest tries of PINs, newest first.
    pub fn pin_tries(&self, most: u32) -> Result<Vec<PinTry>, LedgerError> {
        let mut list = self.conn.prepare_cached(
            "SELECT initials, station, deed, at, outcome FROM pin_try ORDER BY seq DESC LIMIT ?1",
        )?;
        let rows = list.query_map([most], |r| {
            Ok(PinTry {
                initials: r.get(0)?,
                station: r.get(1)?,
                deed: r.get(2)?,
                at: Moment(r.get(3)?),
                outcome: r.get(4)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn try_pin(
        &mut self,
        deed: PinDeed,
        person: &str,
        station: &str,
        pin: Option<&str>,
        stamp: &Stamp,
    ) -> Result<(), LedgerError> {
        let Some(pin) = pin else {
            return Err(LedgerError::Input(format!(
                "{} asks for the PIN of {person}; give it with --pin or HANGTIME_PIN, or run this on a terminal, which asks for it",
                deed.words()
            )));
        };
        let scopes = [("person", person), ("station", station)];
        // Counted as wrong before it is judged: who ends the program in between has had the try.
        let (tried, hash, wait) = self.write(|w| {
            let mut left = Span(0);
            for (scope, name) in scopes {
                left = left.max(still(w, scope, name, stamp)?);
            }
            if left.0 > 0 {
                log(w, deed, person, station, stamp, "too soon")?;
                return Ok((None, None, left));
            }
            let mut wait = Span(0);
            for (scope, name) in scopes {
                wait = wait.max(count(w, scope, name, stamp)?);
            }
            let tried = log(w, deed, person, station, stamp, "wrong")?;
            Ok((Some(tried), hash_of(&w.tx, person)?, wait))
        })?;
        let Some(tried) = tried else {
            return Err(LedgerError::Input(format!(
                "too many wrong PINs; wait {} and try again",
                Span::seconds(wait.0.div_euclid(1_000) + 1).words()
            )));
        };
        let right = match hash.as_deref().map(PasswordHash::new) {
            Some(Ok(hash)) => hasher()?
                .verify_password(pin.trim().as_bytes(), &hash)
                .is_ok(),
            Some(Err(e)) => return Err(LedgerError::Damaged(format!("the PIN of {person}: {e}"))),
            None => false,
        };
        if !right {
            let then = if wait.0 > 0 {
                format!("the next try waits {}", wait.words())
            } else {
                "try again".to_owned()
            };
            return Err(LedgerError::Input(format!(
                "that is not the PIN of {person}; nothing was done, {then}"
            )));
        }
        self.write(|w| {
            w.tx.execute(
                "UPDATE pin_try SET outcome = 'right' WHERE seq = ?1",
                [tried],
            )?;
            for (scope, name) in scopes {
                w.tx.execute(
                    "DELETE FROM pin_wait WHERE scope = ?1 AND name = ?2",
                    [scope, name],
                )?;
            }
            Ok(())
        })
    }
}

fn role_word(text: Option<String>) -> Result<Option<Role>, LedgerError> {
    text.map(|t| {
        Role::from_word(&t)
            .ok_or_else(|| LedgerError::Damaged(format!("a person holds the unknown role \"{t}\"")))
    })
    .transpose()
}

// What the people list says of somebody.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Listed {
    Never,
    Left,
    As(Role),
}

fn listed(conn: &Connection, initials: &str) -> Result<Listed, LedgerError> {
    let role = conn
        .prepare_cached("SELECT role FROM person WHERE initials = ?1")?
        .query_row([initials], |r| r.get::<_, Option<String>>(0))
        .optional()?;
    Ok(match role {
        None => Listed::Never,
        Some(role) => role_word(role)?.map_or(Listed::Left, Listed::As),
    })
}

fn others(conn: &Connection, initials: &str) -> Result<i64, LedgerError> {
    Ok(conn.query_row(
        "SELECT count(*) FROM person WHERE role = ?1 AND initials <> ?2",
        [Role::Supervisor.word(), initials],
        |r| r.get(0),
    )?)
}

// Those whose deed it is and who have a PIN.
fn holders(conn: &Connection, deed: PinDeed) -> Result<BTreeSet<String>, LedgerError> {
    let mut list = conn.prepare_cached(
        "SELECT p.initials, p.role FROM person p JOIN pin n ON n.initials = p.initials WHERE p.role IS NOT NULL",
    )?;
    let mut rows = list.query([])?;
    let mut out = BTreeSet::new();
    while let Some(r) = rows.next()? {
        if role_word(r.get(1)?)?.is_some_and(|role| deed.roles().contains(&role)) {
            out.insert(r.get(0)?);
        }
    }
    Ok(out)
}

fn hash_of(conn: &Connection, initials: &str) -> Result<Option<String>, LedgerError> {
    Ok(conn
        .prepare_cached("SELECT hash FROM pin WHERE initials = ?1")?
        .query_row([initials], |r| r.get(0))
        .optional()?)
}

fn forget(conn: &Connection, initials: &str) -> Result<usize, LedgerError> {
    conn.execute(
        "DELETE FROM pin_wait WHERE scope = 'person' AND name = ?1",
        [initials],
    )?;
    Ok(conn.execute("DELETE FROM pin WHERE initials = ?1", [initials])?)
}

fn say(
    w: &Writer<'_>,
    deed: &str,
    fact: ShopFact,
    who: &Who,
    stamp: &Stamp,
) -> Result<Saved, LedgerError> {
    let lines = vec![Line::shop(What::Shop(fact))];
    let action = NewAction::at_once(deed, who.clone(), stamp.written, lines);
    w.append(&action, &Shared::default(), stamp)
}

fn log(
    w: &Writer<'_>,
    deed: PinDeed,
    person: &str,
    station: &str,
    stamp: &Stamp,
    outcome: &str,
) -> Result<i64, LedgerError> {
    w.tx.execute(
        "INSERT INTO pin_try (initials, station, deed, at, outcome) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![person, station, deed.words(), stamp.written.0, outcome],
    )?;
    Ok(w.tx.last_insert_rowid())
}

// What is left of a wait. After a restart of the machine all that is known to have gone by is the time since then; the
// wall clock counts only where the kernel does not tell.
fn still(w: &Writer<'_>, scope: &str, name: &str, stamp: &Stamp) -> Result<Span, LedgerError> {
    type Mark = (i64, Option<String>, Option<i64>, i64);
    let mark: Option<Mark> =
        w.tx.prepare_cached(
            "SELECT left_ms, boot, boot_ms, at FROM pin_wait WHERE scope = ?1 AND name = ?2",
        )?
        .query_row([scope, name], |r| {
            Ok((r.get(0)?, r.get(1)?, r.get(2)?, r.get(3)?))
        })
        .optional()?;
    let Some((left, boot, boot_ms, at)) = mark else {
        return Ok(Span(0));
    };
    let gone = match (boot_ms, stamp.boot_ms) {
        (Some(then), Some(now)) if boot.as_deref() == w.boot && now >= then => now - then,
        (Some(_), Some(now)) => now,
        _ => stamp.written.since(Moment(at)).0,
    };
    Ok(Span((left - gone.max(0)).max(0)))
}

// Counts a try as wrong and gives the wait that it makes.
fn count(w: &Writer<'_>, scope: &str, name: &str, stamp: &Stamp) -> Result<Span, LedgerError> {
    let held: Option<u32> =
        w.tx.prepare_cached("SELECT wrong FROM pin_wait WHERE scope = ?1 AND name = ?2")?
            .query_row([scope, name], |r| r.get(0))
            .optional()?;
    let wrong = held.unwrap_or(0).saturating_add(1);
    let wait = wait_after(wrong);
    w.tx.prepare_cached(
        "INSERT INTO pin_wait (scope, name, wrong, left_ms, boot, boot_ms, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
         ON CONFLICT (scope, name) DO UPDATE SET wrong = excluded.wrong, left_ms = excluded.left_ms,
             boot = excluded.boot, boot_ms = excluded.boot_ms, at = excluded.at",
    )?
    .execute(params![scope, name, wrong, wait.0, w.boot, stamp.boot_ms, stamp.written.0])?;
    Ok(wait)
}

fn wait_after(wrong: u32) -> Span {
    let Some(doublings) = wrong.checked_sub(FREE_TRIES) else {
        return Span(0);
    };
    let factor = 1_i64.checked_shl(doublings.min(20)).unwrap_or(i64::MAX);
    Span(FIRST_WAIT.0.saturating_mul(factor)).min(LONGEST_WAIT)
}

// Argon2id, 19 MiB, 2 passes of its memory, 1 lane (OWASP password storage, cited from a stored excerpt). It cannot
// protect six digits against somebody who holds the file: its permissions must.
fn hasher() -> Result<Argon2<'static>, LedgerError> {
    let cost = Params::new(19 * 1_024, 2, 1, None)
        .map_err(|e| LedgerError::Place(format!("the PIN's cost is refused: {e}")))?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, cost))
}

// A PIN that somebody chose: six digits that are not among the first that anybody would try.
fn usable(text: &str) -> Result<String, LedgerError> {
    let text = text.trim();
    if text.chars().count() != DIGITS || !text.chars().all(|c| c.is_ascii_digit()) {
        return Err(LedgerError::Input(format!(
            "a PIN has {DIGITS} digits; choose others, or let the program choose with --new"
        )));
    }
    if common(text) {
        return Err(LedgerError::Input(
            "that PIN is among the first that anybody would try; choose another, or let the program choose with --new"
                .to_owned(),
        ));
    }
    Ok(text.to_owned())
}

// Paths over a keypad, which no rule below finds.
const KEYPAD: &[&str] = &[
    "147258", "147852", "159753", "159357", "258456", "321654", "357159", "456123", "456789",
    "654987", "741852", "753951", "789456", "852456", "963852", "987654", "123654", "142536",
    "102030", "908070",
];

fn common(pin: &str) -> bool {
    let digits: Vec<u32> = pin.chars().filter_map(|c| c.to_digit(10)).collect();
    let few = digits.iter().collect::<BTreeSet<_>>().len() < 4;
    let step = |w: &[u32]| match w {
        [a, b] => (10 + b - a) % 10,
        _ => 0,
    };
    let steps: BTreeSet<u32> = digits.windows(2).map(step).collect();
    // A year of birth or of the shop is the next guess.
    let year = pin.starts_with("19") || pin.starts_with("20");
    few || steps.len() == 1 || year || KEYPAD.contains(&pin)
}

fn drawn() -> Result<String, LedgerError> {
    loop {
        let bytes = argon2::password_hash::try_generate_salt()
            .map_err(|e| LedgerError::Place(format!("the system gives no random numbers: {e}")))?;
        let number = bytes.iter().take(8).fold(0_u64, |n, b| {
            n.wrapping_mul(256).wrapping_add(u64::from(*b))
        });
        let pin = format!("{:06}", number % 1_000_000);
        if !common(&pin) {
            return Ok(pin);
        }
    }
}

// Whether this process runs as the owner of a file, or as root.
#[cfg(unix)]
fn owns(path: &std::path::Path) -> Result<bool, LedgerError> {
    use std::os::unix::fs::MetadataExt;
    let fault = |e| LedgerError::File(path.to_path_buf(), e);
    let owner = std::fs::metadata(path).map_err(fault)?.uid();
    // The owner of a file that was just made is whom this process runs as.
    let mut name = path.as_os_str().to_owned();
    name.push(format!(".owner-{}", std::process::id()));
    let probe = std::path::PathBuf::from(name);
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let us = options
        .open(&probe)
        .and_then(|f| f.metadata())
        .map(|m| m.uid());
    let _ = std::fs::remove_file(&probe);
    let us = us.map_err(|e| LedgerError::File(probe, e))?;
    Ok(us == owner || us == 0)
}

#[cfg(not(unix))]
fn owns(path: &std::path::Path) -> Result<bool, LedgerError> {
    let meta = std::fs::metadata(path).map_err(|e| LedgerError::File(path.to_path_buf(), e))?;
    Ok(!meta.permissions().readonly())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wait_doubles_from_half_a_minute_and_ends_at_a_quarter_of_an_hour() {
        let waits: Vec<i64> = (1..=12).map(|n| wait_after(n).0 / 1_000).collect();
        assert_eq!(waits, [0, 0, 0, 0, 30, 60, 120, 240, 480, 900, 900, 900]);
        assert_eq!(wait_after(u32::MAX), LONGEST_WAIT);
    }

    #[test]
    fn what_anybody_would_try_first_is_refused_and_the_program_never_draws_it() {
        for pin in [
            "123456", "000000", "121212", "890123", "654321", "112233", "198405", "147258",
        ] {
            assert!(common(pin), "{pin}");
            assert!(usable(pin).is_err());
        }
        for pin in ["12345", "1234567", "12345a", ""] {
            assert!(usable(pin).is_err(), "{pin}");
        }
        assert_eq!(usable(" 830472 ").unwrap(), "830472");
        let drawn: BTreeSet<String> = (0..50).map(|_| drawn().unwrap()).collect();
        assert!(drawn.len() > 45, "{drawn:?}");
        assert!(drawn.iter().all(|p| p.len() == 6 && !common(p)));
    }
}
