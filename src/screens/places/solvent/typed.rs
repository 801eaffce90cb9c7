//! The deeds of the safety lead as they are typed: what is asked, and what the typed words are read as.
//!
//! *Invariants*: what cannot be read is said with an example of how it is written; nothing is taken over before it is read
//! whole.
//!
//! *Not here*: saving it (`store`), the page (`view`).

use crate::reports::book::{Of, Way};
use crate::reports::checks::Kind;
use crate::reports::limits::NewLimit;
use crate::screens::keys::Mode;
use crate::screens::model::{Asking, Shop};
use crate::shop::record::BoothSeen;
use crate::shop::text::shown;
use crate::units::{Amount, Mass, Pressure, System, UnitFault, Volume, date};
use chrono::NaiveDate;

/// A deed of the safety lead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Deed {
    /// A lot was received.
    Receipt,
    /// A material or a lot was counted.
    Count,
    /// Something went into a waste drum.
    Waste,
    /// A booth was checked.
    Check {
        /// The booth.
        booth: String,
    },
    /// A deed that comes round was done.
    Done {
        /// Which.
        name: String,
        /// What or whom it is about.
        about: String,
        /// What is asked at it.
        asks: Vec<String>,
    },
    /// What came of an incident.
    Follow {
        /// The entry that tells of it.
        entry: i64,
        /// What it was, in two words.
        what: String,
    },
    /// A limit of a month or of twelve.
    Limit {
        /// What it limits.
        of: Of,
        /// Of twelve months.
        twelve: bool,
    },
    /// How often a booth is looked at.
    Every {
        /// What is done there.
        kind: Kind,
        /// The booth.
        booth: String,
    },
    /// The month is signed: its page is shown.
    Sign(SignPage),
    /// What is shown is written to a file.
    Print {
        /// The month.
        month: String,
        /// How far down.
        way: Option<Way>,
    },
    /// The whole record is exported.
    Export,
}

/// The page of a month that is about to be signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignPage {
    /// The month.
    pub month: String,
    /// Newest action of the record that it was made from.
    pub action: i64,
    /// The page.
    pub lines: Vec<String>,
}

/// A deed that was read from what was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Wish {
    /// Receives a lot.
    Receive {
        /// The lot.
        lot: String,
        /// Material code.
        material: String,
        /// Volume received.
        volume: Volume,
        /// End of its shelf life.
        expires: Option<NaiveDate>,
    },
    /// Enters a count.
    Count {
        /// The material or the lot.
        what: String,
        /// How much is there.
        volume: Volume,
    },
    /// Puts something into a waste drum.
    Waste {
        /// The drum.
        drum: String,
        /// How much, by volume.
        volume: Option<Volume>,
        /// How much, by mass.
        mass: Option<Mass>,
        /// What it is.
        what: String,
    },
    /// Records a check of a booth.
    Check {
        /// The booth.
        booth: String,
        /// What was seen.
        seen: BoothSeen,
    },
    /// Records that a deed that comes round was done.
    Done {
        /// Which.
        name: String,
        /// What or whom it is about.
        about: String,
        /// What was asked and found.
        answers: Vec<(String, String)>,
        /// What else there is to say.
        note: Option<String>,
    },
    /// Writes down what came of an incident.
    Follow {
        /// The entry that tells of it.
        entry: i64,
        /// What came of it.
        text: String,
        /// When it is to be looked at again.
        next: Option<NaiveDate>,
        /// Whether nothing more is to be done.
        closed: bool,
    },
    /// Enters a limit.
    Limit {
        /// The limit.
        limit: NewLimit,
        /// Where it comes from.
        source: String,
    },
    /// Signs a month, when the record is still the one that was shown.
    Sign {
        /// The month.
        month: String,
        /// Newest action of the record that was shown.
        action: i64,
    },
    /// Writes a page to a file.
    Print {
        /// The month.
        month: String,
        /// How far down.
        way: Option<Way>,
        /// The file.
        file: String,
    },
    /// Exports the record.
    Export {
        /// The folder.
        folder: String,
    },
}

/// A deed as it is being typed.
#[derive(Debug, Clone)]
pub struct Form {
    /// What it is.
    pub deed: Deed,
    /// What was typed.
    pub typed: String,
    /// Whose deed it is.
    pub initials: String,
    /// The PIN.
    pub pin: String,
    /// Which part is being typed.
    pub asking: Asking,
    /// First line of the page that is shown.
    pub scroll: usize,
}

impl Form {
    /// What the keys mean.
    pub const fn mode(&self) -> Mode {
        match (self.asking, &self.deed) {
            (Asking::Pin, _) => Mode::Pin,
            (Asking::Word, Deed::Sign(_)) => Mode::Sign,
            (Asking::Word | Asking::Initials, _) => Mode::Book,
        }
    }

    /// What the typed characters go to.
    pub const fn field(&mut self) -> &mut String {
        match self.asking {
            Asking::Word => &mut self.typed,
            Asking::Initials => &mut self.initials,
            Asking::Pin => &mut self.pin,
        }
    }

    /// Reads what was typed; the text says what is still missing, or what is wrong with it.
    pub fn read(&self) -> Result<Wish, String> {
        let typed = self.typed.trim();
        match &self.deed {
            Deed::Receipt => receipt(typed),
            Deed::Count => counted(typed),
            Deed::Waste => wasted(typed),
            Deed::Check { booth } => Ok(Wish::Check {
                booth: booth.clone(),
                seen: seen_in(typed)?,
            }),
            Deed::Done { name, about, asks } => Ok(found(name, about, asks, typed)),
            Deed::Follow { entry, .. } => followed(*entry, typed),
            Deed::Limit { of, twelve } => {
                limit_of(typed, "400kg", |v| NewLimit::solvent(of, *twelve, v))
            }
            Deed::Every {
                kind: Kind::Gauge,
                booth,
            } => limit_of(typed, "0.40inwc", |v| NewLimit::rise(booth, v)),
            Deed::Every { kind, booth } => {
                limit_of(typed, "24h", |v| NewLimit::every(*kind, booth, v))
            }
            Deed::Sign(page) => Ok(Wish::Sign {
                month: page.month.clone(),
                action: page.action,
            }),
            Deed::Print { .. } | Deed::Export if typed.is_empty() => Err("a name".to_owned()),
            Deed::Print { month, way } => Ok(Wish::Print {
                month: month.clone(),
                way: way.clone(),
                file: typed.to_owned(),
            }),
            Deed::Export => Ok(Wish::Export {
                folder: typed.to_owned(),
            }),
        }
    }

    /// The question at the bottom, with what was typed and what would come of it.
    pub fn question(&self, shop: &Shop) -> String {
        match self.asking {
            Asking::Initials => return format!("whose deed? initials: {}_", self.initials),
            Asking::Pin => {
                return format!(
                    "PIN of {}? {}_",
                    self.initials,
                    "*".repeat(self.pin.chars().count())
                );
            }
            Asking::Word => {}
        }
        let asked = match &self.deed {
            Deed::Receipt => "receipt: lot, material, amount?".to_owned(),
            Deed::Count => "counted: material or lot, amount?".to_owned(),
            Deed::Waste => "into a waste drum: drum, amount, what?".to_owned(),
            Deed::Check { booth } => format!("{} checked; seen?", shown(booth)),
            Deed::Done { name, about, asks } => {
                let asked = if asks.is_empty() {
                    "anything to note?".to_owned()
                } else {
                    let asks: Vec<String> = asks.iter().map(|a| shown(a)).collect();
                    format!("{}?", asks.join(", "))
                };
                format!("{} of {} done; {asked}", shown(name), shown(about))
            }
            Deed::Follow { what, .. } => format!("{}: what came of it?", shown(what)),
            Deed::Limit { of, twelve } => format!(
                "limit of {} in {}: figure, source?",
                of.name(),
                if *twelve { "twelve months" } else { "a month" }
            ),
            Deed::Every { kind, booth } => {
                format!("{} of {} every: time, source?", kind.word(), shown(booth))
            }
            Deed::Sign(page) => return format!("sign {} as it stands above?", page.month),
            Deed::Print { .. } => "print to the new file?".to_owned(),
            Deed::Export => "export the record to the new folder?".to_owned(),
        };
        let hint = match (self.read(), &self.deed) {
            (_, Deed::Print { .. } | Deed::Export) => String::new(),
            (Ok(wish @ Wish::Check { .. }), _) => wish.words(shop),
            (Ok(wish), _) => format!("  = {}", wish.words(shop)),
            (Err(text), _) if self.typed.is_empty() => format!("  such as {text}"),
            (Err(text), _) => format!("  ! {text}"),
        };
        format!("{asked} {}_{hint}", self.typed)
    }
}

impl Wish {
    fn words(&self, shop: &Shop) -> String {
        match self {
            Self::Receive {
                lot,
                material,
                volume,
                expires,
            } => {
                let until = expires.map_or_else(String::new, |d| format!(", until {d}"));
                format!(
                    "{} of {} as {}{until}",
                    crate::reports::book::litres(*volume, shop.system),
                    shown(material),
                    shown(lot)
                )
            }
            Self::Count { what, volume } => format!(
                "{} of {} are there",
                crate::reports::book::litres(*volume, shop.system),
                shown(what)
            ),
            Self::Waste {
                drum,
                volume,
                mass,
                what,
            } => format!(
                "{} {} into {}",
                amount_words(*volume, *mass, shop.system),
                shown(what),
                shown(drum)
            ),
            Self::Limit { limit, .. } => format!("{} in {}", shown(&limit.typed), limit.scope),
            Self::Check { seen, .. } => seen.gauge.map_or_else(
                || "  no gauge reading, such as 0.44inwc".to_owned(),
                |g| {
                    let new = if seen.new_filters {
                        ", new filters"
                    } else {
                        ""
                    };
                    format!("  = gauge {}{new}", g.text(2))
                },
            ),
            Self::Done { answers, note, .. } => {
                let found: Vec<String> = answers
                    .iter()
                    .map(|(asked, found)| format!("{}: {}", shown(asked), shown(found)))
                    .chain(note.as_deref().map(shown))
                    .collect();
                if found.is_empty() {
                    "done".to_owned()
                } else {
                    found.join("; ")
                }
            }
            Self::Follow {
                text, next, closed, ..
            } => {
                let again = match (next, closed) {
                    (_, true) => ", closed".to_owned(),
                    (Some(day), _) => format!(", again on {day}"),
                    (None, _) => String::new(),
                };
                format!("{}{again}", shown(text))
            }
            Self::Sign { .. } | Self::Print { .. } | Self::Export { .. } => String::new(),
        }
    }
}

// A reading of the gauge comes first, where there is one; "new filters" anywhere makes it the clean one.
//
// Errors: a number with a unit of pressure that is not read as the reading, because it is not the first word, is split,
// or lies outside the range; kept as words it would be lost from the gauge's line.
fn seen_in(typed: &str) -> Result<BoothSeen, String> {
    let (first, rest) = typed.split_once([' ', ',']).unwrap_or((typed, ""));
    let gauge = Pressure::read(first, None).ok();
    if gauge.is_none() && names_a_reading(typed) {
        return Err(
            "the gauge's reading comes first, as one word with its unit: 0.44inwc, then what was seen"
                .to_owned(),
        );
    }
    if gauge.is_none()
        && let Some(number) = names_a_bare_number(typed)
    {
        return Err(format!(
            "gauge {number} in which unit? write it first, such as {number}inwc or {number}Pa, then what was seen"
        ));
    }
    let note = if gauge.is_some() {
        rest.trim_start_matches([' ', ',']).trim()
    } else {
        typed
    };
    Ok(BoothSeen {
        new_filters: gauge.is_some() && note.contains("new filters"),
        gauge,
        note: (!note.is_empty()).then(|| note.to_owned()),
    })
}

// A number without a unit that can only be a reading: it comes first, or after the word for what was read.
fn names_a_bare_number(typed: &str) -> Option<&str> {
    let words: Vec<&str> = typed
        .split([' ', ',', ';', ':', '='])
        .filter(|w| !w.is_empty())
        .collect();
    let number = |w: &&str| w.parse::<f64>().is_ok();
    let first = words.first().copied().filter(number);
    first.or_else(|| {
        words.windows(2).find_map(|two| match two {
            [what, value]
                if matches!(
                    what.to_lowercase().as_str(),
                    "gauge" | "manometer" | "reading"
                ) =>
            {
                Some(*value).filter(number)
            }
            _ => None,
        })
    })
}

// Whether there is a number with a unit of pressure in it, as one word or as two. A value out of its range is one too.
fn names_a_reading(typed: &str) -> bool {
    let words: Vec<&str> = typed
        .split([' ', ',', ';'])
        .filter(|w| !w.is_empty())
        .collect();
    let reads = |text: &str| {
        matches!(
            Pressure::read(text, None),
            Ok(_) | Err(UnitFault::OutOfRange { .. })
        )
    };
    words.iter().any(|w| reads(w)) || words.windows(2).any(|two| reads(&two.concat()))
}

// The answers in the order in which they are asked, parted by commas; what is left over is a note.
fn found(name: &str, about: &str, asks: &[String], typed: &str) -> Wish {
    let mut parts = typed.splitn(asks.len() + 1, ',').map(str::trim);
    let answers = asks
        .iter()
        .map_while(|asked| Some((asked.clone(), parts.next()?.to_owned())))
        .filter(|(_, found)| !found.is_empty())
        .collect();
    let note: Vec<&str> = parts.filter(|p| !p.is_empty()).collect();
    Wish::Done {
        name: name.to_owned(),
        about: about.to_owned(),
        answers,
        note: (!note.is_empty()).then(|| note.join(", ")),
    }
}

// "tray put under", "tray put under, 2026-04-01", "tray put under, closed".
fn followed(entry: i64, typed: &str) -> Result<Wish, String> {
    if typed.is_empty() {
        return Err("tray put under, 2026-04-01; or: tray put under, closed".to_owned());
    }
    let (head, last) = typed
        .rsplit_once(',')
        .map_or((typed, ""), |(head, last)| (head, last.trim()));
    let next = date(last).ok();
    let closed = last == "closed";
    let text = if next.is_some() || closed {
        head
    } else {
        typed
    };
    Ok(Wish::Follow {
        entry,
        text: text.trim().to_owned(),
        next,
        closed,
    })
}

fn receipt(typed: &str) -> Result<Wish, String> {
    let mut words = typed.split_whitespace();
    let (Some(lot), Some(material)) = (words.next(), words.next()) else {
        return Err("L-250 CLR 20L 2027-01-31".to_owned());
    };
    let mut rest: Vec<&str> = words.collect();
    let expires = rest.last().and_then(|t| date(t).ok());
    if expires.is_some() {
        rest.pop();
    }
    if rest.is_empty() {
        return Err("the amount, such as 20L".to_owned());
    }
    // "20 L" and "20L" are both written on drums.
    let volume =
        Volume::read_within(&rest.concat(), None, 1, Volume::HIGH).map_err(|e| e.to_string())?;
    Ok(Wish::Receive {
        lot: lot.to_owned(),
        material: material.to_owned(),
        volume,
        expires,
    })
}

fn counted(typed: &str) -> Result<Wish, String> {
    let Some((what, amount)) = typed.split_once(char::is_whitespace) else {
        return Err("CLR 180L".to_owned());
    };
    let amount: String = amount.split_whitespace().collect();
    if amount.is_empty() {
        return Err("the amount, such as 180L".to_owned());
    }
    Ok(Wish::Count {
        what: what.to_owned(),
        volume: Volume::read(&amount, None).map_err(|e| e.to_string())?,
    })
}

// "W-3 12 L gun wash": the drum, how much with its unit as one word or two, and what it is.
fn wasted(typed: &str) -> Result<Wish, String> {
    let words: Vec<&str> = typed.split_whitespace().collect();
    let Some((drum, rest)) = words.split_first() else {
        return Err("W-3 12L gun wash".to_owned());
    };
    let read = |n: usize| {
        let text = rest.get(..n)?.concat();
        let volume = Volume::read_within(&text, None, 1, Volume::HIGH).ok();
        let mass = Mass::read_within(&text, None, 1, Mass::HIGH).ok();
        (volume.is_some() || mass.is_some()).then_some((volume, mass, n))
    };
    let Some((volume, mass, used)) = read(1).or_else(|| read(2)) else {
        return Err("the amount with its unit, such as 12L or 3kg".to_owned());
    };
    let what = rest.get(used..).unwrap_or_default().join(" ");
    if what.is_empty() {
        return Err("what it is, such as gun wash".to_owned());
    }
    Ok(Wish::Waste {
        drum: (*drum).to_owned(),
        volume,
        mass,
        what,
    })
}

fn amount_words(volume: Option<Volume>, mass: Option<Mass>, system: System) -> String {
    match (volume, mass) {
        (Some(v), _) => crate::reports::book::litres(v, system),
        (None, Some(m)) => crate::reports::book::mass(m, system),
        (None, None) => String::new(),
    }
}

fn limit_of(
    typed: &str,
    example: &str,
    read: impl Fn(&str) -> Result<NewLimit, String>,
) -> Result<Wish, String> {
    if typed.is_empty() {
        return Err(format!("{example}, permit 12-34"));
    }
    let (value, source) = typed.split_once(',').unwrap_or((typed, ""));
    let limit = read(value)?;
    let source = source.trim();
    if source.is_empty() {
        return Err("a comma, and where the figure comes from".to_owned());
    }
    Ok(Wish::Limit {
        limit,
        source: source.to_owned(),
    })
}
