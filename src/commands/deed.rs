//! Deeds on pieces and racks.

use super::cautions::{coat_aside, room_aside};
use super::safety::room_like;
use super::shop::read_span;
use super::{Answer, Desk, Shop, Trouble, read_time};
use crate::ledger::{
    Conflict, DeedRequest, DeedWhat, Draft, Drafts, Included, Outcome, PinDeed, Plan, Receipt,
    Target, Who,
};
use crate::reports::entries;
use crate::reports::piece_json::reason as reason_json;
use crate::reports::together::{ranges, together};
use crate::shop::record::{CoatMore, Fact, Sprayed};
use crate::shop::words::{Reason, Rub, StepKind, Word};
use crate::units::{Amount, Film, Humidity, Moment, Temperature, Volume};
use serde_json::{Value, json};

/// Whom a deed was done to, and how.
#[derive(Debug, clap::Args)]
pub(super) struct Common {
    /// Pieces by serial, tag or last four digits.
    pieces: Vec<String>,
    #[command(flatten)]
    whom: Whom,
    #[command(flatten)]
    how: How,
}

/// A rack instead of pieces, which of its pieces, and which surfaces.
#[derive(Debug, clap::Args)]
pub(super) struct Whom {
    /// A whole rack.
    #[arg(long)]
    pub(super) rack: Option<String>,
    /// Only these hooks of the rack, such as 1-17.
    #[arg(long, requires = "rack")]
    hooks: Option<String>,
    /// Pieces of the rack that were not worked on.
    #[arg(long, value_name = "PIECE")]
    skip: Vec<String>,
    /// Include a piece that has a reason against it ("all" for every one), as a deviation.
    #[arg(long, value_name = "PIECE")]
    include: Vec<String>,
    /// One surface of the piece, or several parted by commas.
    #[arg(long, default_value = "whole")]
    surface: String,
}

/// When a deed was done, by whom, and whether it is only asked about.
#[derive(Debug, clap::Args)]
pub(super) struct How {
    /// When it began; a deed that was begun before gives its own start.
    #[arg(long, value_name = "TIME")]
    began: Option<String>,
    /// When it ended; now, if left out.
    #[arg(long, value_name = "TIME", conflicts_with = "ended_ago")]
    ended: Option<String>,
    /// How long ago it ended, such as 8m.
    #[arg(long, value_name = "SPAN")]
    ended_ago: Option<String>,
    /// Say what would be saved and the reasons against it; save nothing.
    #[arg(long)]
    pub(super) preview: bool,
    /// Reason for its deviations: a digit 1 to 9 or the word.
    #[arg(long)]
    reason: Option<String>,
    /// A note.
    #[arg(long)]
    note: Option<String>,
    /// Who did it, where that is not you.
    #[arg(long, value_name = "INITIALS")]
    by: Option<String>,
    /// Air temperature where it was done.
    #[arg(long, value_name = "TEMPERATURE")]
    air: Option<String>,
    /// Relative humidity where it was done.
    #[arg(long, value_name = "PERCENT")]
    humidity: Option<String>,
}

/// What is said beside a deed, before it and after it.
#[derive(Debug, Default)]
pub(super) struct Aside {
    /// For people.
    pub(super) lines: Vec<String>,
    /// For machines: a key of the answer and its value.
    pub(super) values: Vec<(&'static str, Value)>,
}

/// Log a coat or a touch-up.
#[derive(Debug, clap::Args)]
pub(super) struct Coat {
    #[command(flatten)]
    common: Common,
    /// Kind of coat: wash, fill, colour, seal, clear, drop-fill; what the recipe asks for next, if left out.
    #[arg(long)]
    kind: Option<String>,
    /// A touch-up: it restarts the clocks and is no coat of the recipe.
    #[arg(long)]
    touch_up: bool,
    /// Number of the mix in the cup.
    #[arg(long)]
    mix: Option<u32>,
    /// The lot in the cup, where it is sprayed as it comes from the can.
    #[arg(long, conflicts_with = "mix")]
    lot: Option<String>,
    /// What left the pot for all pieces together.
    #[arg(long, value_name = "VOLUME")]
    amount: Option<String>,
    /// Wet film reading; may be given several times.
    #[arg(long, value_name = "FILM")]
    wet: Vec<String>,
    /// Supervisor whose word the mix needs.
    #[arg(long, value_name = "INITIALS")]
    supervisor: Option<String>,
    /// Batch of the colour.
    #[arg(long)]
    batch: Option<String>,
    /// The panel that the colour was held against.
    #[arg(long)]
    panel: Option<String>,
    /// Who judged the colour by that panel.
    #[arg(long, value_name = "INITIALS")]
    judged: Option<String>,
    /// The rub test on a filler: powder or smear.
    #[arg(long)]
    rub: Option<String>,
    /// Drops of a drop-fill.
    #[arg(long, value_name = "N")]
    drops: Option<u32>,
    /// Where on the surface the drops are.
    #[arg(long)]
    place: Option<String>,
    /// The booth in which it is sprayed; the one that the station is named after, else the room in which the piece hangs, if
    /// left out.
    #[arg(long)]
    booth: Option<String>,
    /// The coat that this is, as you saw it announced.
    #[arg(long = "coat", value_name = "N")]
    number: Option<u32>,
    /// Another coat, although it comes soon after the one before.
    #[arg(long)]
    another: bool,
}

/// Log a sanding.
#[derive(Debug, clap::Args)]
pub(super) struct Sand {
    #[command(flatten)]
    common: Common,
    /// scuff, level-sand or final-sand; what the recipe asks for next, if left out.
    #[arg(long)]
    kind: Option<String>,
    /// Film taken off, where it was measured.
    #[arg(long, value_name = "FILM")]
    removed: Option<String>,
    /// Grit with its scale, such as P400.
    #[arg(long)]
    grit: Option<String>,
}

/// Log another deed of the recipe.
#[derive(Debug, clap::Args)]
pub(super) struct Done {
    /// receive, mask, buff, unmask, inspect, mate, ...
    kind: String,
    #[command(flatten)]
    common: Common,
}

/// Hang pieces somewhere else.
#[derive(Debug, clap::Args)]
pub(super) struct Move {
    #[command(flatten)]
    common: Common,
    /// The rack to hang them on.
    #[arg(long, value_name = "RACK")]
    to_rack: Option<String>,
    /// The hook.
    #[arg(long, value_name = "N", value_parser = crate::shop::text::hook)]
    hook: Option<u32>,
    /// The room.
    #[arg(long, value_name = "ROOM")]
    room: Option<String>,
}

/// A deed with a reason.
#[derive(Debug, clap::Args)]
pub(super) struct Because {
    #[command(flatten)]
    common: Common,
    /// Why.
    #[arg(long)]
    why: String,
}

/// A note on a piece.
#[derive(Debug, clap::Args)]
pub(super) struct Note {
    #[command(flatten)]
    common: Common,
    /// The text of the note.
    #[arg(long, alias = "why")]
    text: String,
}

/// Which deed the reason belongs to.
#[derive(Debug, Clone, Copy)]
pub(super) enum Why {
    Hold,
    Lift,
    Scrap,
    Restore,
}

/// A film gauge reading.
#[derive(Debug, clap::Args)]
pub(super) struct Gauge {
    /// The film.
    film: String,
    #[command(flatten)]
    common: Common,
}

fn input(e: impl std::fmt::Display) -> Trouble {
    Trouble::Input(e.to_string())
}

/// Reads a reason by digit or word.
pub(super) fn read_reason(text: &str) -> Result<Reason, Trouble> {
    text.parse::<u8>()
        .ok()
        .and_then(Reason::from_digit)
        .or_else(|| Reason::typed(text))
        .ok_or_else(|| {
            let list: Vec<String> = Reason::ALL
                .iter()
                .map(|r| format!("{} {}", r.digit(), r.word()))
                .collect();
            Trouble::Input(format!(
                "reason \"{text}\" is not known; write one of {}",
                list.join(", ")
            ))
        })
}

/// Reads one of a closed list of words.
pub(super) fn read_word<W: Word>(field: &str, text: &str) -> Result<W, Trouble> {
    W::typed(text).ok_or_else(|| {
        Trouble::Input(format!(
            "{field} \"{}\" is not known; write one of {}",
            crate::shop::text::shown(text),
            W::choices()
        ))
    })
}

/// A text of at most `most` characters that may be kept.
pub(super) fn kept(
    field: &str,
    text: Option<&str>,
    most: usize,
) -> Result<Option<String>, Trouble> {
    text.map(|t| crate::shop::text::clean(field, t, most))
        .transpose()
        .map_err(Trouble::Input)
}

/// Grits as they are kept: as they were typed, each with its scale, for one number is two papers.
pub(super) fn read_grits(text: Option<&str>) -> Result<Option<String>, Trouble> {
    text.map(crate::shop::grit::kept)
        .transpose()
        .map_err(Trouble::Input)
}

pub(super) fn read_kind(text: &str, wanted: fn(StepKind) -> bool) -> Result<StepKind, Trouble> {
    StepKind::typed(text).filter(|k| wanted(*k)).ok_or_else(|| {
        let list: Vec<&str> = StepKind::ALL
            .iter()
            .filter(|k| wanted(**k))
            .map(|k| k.word())
            .collect();
        Trouble::Input(format!(
            "kind \"{text}\" is not known here; write one of {}",
            list.join(", ")
        ))
    })
}

pub(super) fn read_hooks(text: &str) -> Result<(u32, u32), Trouble> {
    crate::shop::text::hooks(text).map_err(Trouble::Input)
}

impl Whom {
    /// The rack, or the pieces that were named.
    pub(super) fn target(&self, pieces: &[String]) -> Result<Target, Trouble> {
        match &self.rack {
            Some(_) if !pieces.is_empty() => Err(Trouble::Input(format!(
                "\"{}\" and a rack: name the pieces or the rack, not both",
                crate::shop::text::shown(&pieces.join(" "))
            ))),
            Some(rack) => Ok(Target::Rack(
                rack.clone(),
                self.hooks.as_deref().map(read_hooks).transpose()?,
            )),
            None if pieces.is_empty() => Err(Trouble::Input(
                "which piece? write a serial, or --rack with a rack".to_owned(),
            )),
            None => Ok(Target::Pieces(pieces.to_vec())),
        }
    }

    /// The options that hold for a rack's pieces and their surfaces.
    pub(super) fn fill(&self, request: &mut DeedRequest) {
        request.surface.clone_from(&self.surface);
        request.included = match self.include.as_slice() {
            [] => Included::None,
            list if list.iter().any(|i| i == "all") => Included::All,
            list => Included::Named(list.to_vec()),
        };
        request.skipped.clone_from(&self.skip);
    }
}

impl How {
    /// The note.
    pub(super) fn note(&self) -> Option<&str> {
        self.note.as_deref()
    }

    fn times(&self, shop: &Shop) -> Result<(Moment, Moment), Trouble> {
        let present = shop.present();
        let ended = match (&self.ended, &self.ended_ago) {
            (Some(t), _) => read_time(&shop.calendar, t, present)?,
            (None, Some(ago)) => present.minus(read_span(ago)?),
            (None, None) => present,
        };
        let began = self
            .began
            .as_deref()
            .map(|t| read_time(&shop.calendar, t, present))
            .transpose()?;
        Ok((began.unwrap_or(ended), ended))
    }

    /// A deed on a target.
    pub(super) fn request(
        &self,
        desk: &Desk<'_>,
        shop: &Shop,
        target: Target,
        what: DeedWhat,
    ) -> Result<DeedRequest, Trouble> {
        shop.ledger.takes_deeds()?;
        let (began, ended) = self.times(shop)?;
        // A preview saves nothing, so nobody has to say who they are.
        let who = match desk.who(self.by.as_deref()) {
            Err(_) if self.preview => Who {
                person: "-".to_owned(),
                writer: "-".to_owned(),
                station: desk.options.station.clone(),
            },
            who => who?,
        };
        let mut request = DeedRequest::new(who, target, what, ended);
        request.began = began;
        request.begun_starts = self.began.is_none();
        request.reason = self.reason.as_deref().map(read_reason).transpose()?;
        request.note.clone_from(&self.note);
        request.temperature = self
            .air
            .as_deref()
            .map(|t| Temperature::read(t, Some("C")))
            .transpose()
            .map_err(input)?;
        request.humidity = self
            .humidity
            .as_deref()
            .map(|t| Humidity::read(t, Some("%")))
            .transpose()
            .map_err(input)?;
        Ok(request)
    }

    /// Previews or saves a deed.
    pub(super) fn go(&self, desk: &mut Desk<'_>, shop: Shop, request: &DeedRequest) -> Answer {
        self.go_with(desk, shop, request, |_, _, _| Ok(Aside::default()))
    }

    /// The same with something to say beside it, before the deed and after it.
    pub(super) fn go_with(
        &self,
        desk: &mut Desk<'_>,
        mut shop: Shop,
        request: &DeedRequest,
        beside: impl FnOnce(&Shop, &DeedRequest, &Plan) -> Result<Aside, Trouble>,
    ) -> Answer {
        let plan = shop.ledger.preview(request)?;
        let aside = beside(&shop, request, &plan)?;
        if self.preview {
            let (value, lines) = preview(&plan, &shop);
            print_with(desk, value, lines, aside)?;
            return Ok(0);
        }
        shop.ledger.may_save()?;
        // Kept until the save is known to be done, so that a power cut can be told from a save.
        let drafts = Drafts::of(shop.ledger.path(), &request.who.station);
        let words = without_pin(std::env::args().skip(1));
        desk.note_strangers(&shop, &request.who)?;
        drafts.keep(&Draft {
            id: request.draft.clone(),
            line: plan.line.clone(),
            words,
        })?;
        let outcome = shop.ledger.log(request, &shop.stamp());
        let outcome = match outcome {
            Err(e) if e.is_input() => {
                drafts.clear()?;
                return Err(e.into());
            }
            other => other?,
        };
        drafts.clear()?;
        let (value, lines) = outcome_words(&outcome, &shop);
        print_with(desk, value, lines, aside)?;
        // Nothing was recorded until somebody says which of the two it is: a script must not take it for saved.
        Ok(match outcome {
            Outcome::Saved(_) | Outcome::Already(_) => 0,
            Outcome::SameOrAnother(_) | Outcome::Conflict(_) => 2,
        })
    }
}

impl Common {
    pub(super) fn request(
        &self,
        desk: &Desk<'_>,
        shop: &Shop,
        what: DeedWhat,
    ) -> Result<DeedRequest, Trouble> {
        let target = self.whom.target(&self.pieces)?;
        let mut request = self.how.request(desk, shop, target, what)?;
        self.whom.fill(&mut request);
        Ok(request)
    }

    pub(super) fn go(&self, desk: &mut Desk<'_>, shop: Shop, request: &DeedRequest) -> Answer {
        self.how.go(desk, shop, request)
    }

    pub(super) fn go_with(
        &self,
        desk: &mut Desk<'_>,
        shop: Shop,
        request: &DeedRequest,
        beside: impl FnOnce(&Shop, &DeedRequest, &Plan) -> Result<Aside, Trouble>,
    ) -> Answer {
        self.how.go_with(desk, shop, request, beside)
    }
}

// The words of this command as they may be kept in a draft and shown again: a PIN is in neither.
fn without_pin(words: impl Iterator<Item = String>) -> Vec<String> {
    let mut out = Vec::new();
    let mut words = words.peekable();
    while let Some(word) = words.next() {
        if word == "--pin" {
            words.next();
        } else if !word.starts_with("--pin=") {
            out.push(word);
        }
    }
    out
}

/// Prints an answer with what is said beside it.
pub(super) fn print_with(
    desk: &mut Desk<'_>,
    mut value: Value,
    mut lines: Vec<String>,
    aside: Aside,
) -> Result<(), Trouble> {
    if let Some(map) = value.as_object_mut() {
        map.extend(aside.values.into_iter().map(|(k, v)| (k.to_owned(), v)));
    }
    lines.extend(aside.lines);
    desk.print(&value, &lines)
}

/// A booth whose exhaust stopped and that nobody has checked since: said with every coat that is laid there, and when
/// one is begun.
pub(super) fn exhaust_aside(
    shop: &Shop,
    request: &DeedRequest,
    plan: &Plan,
) -> Result<Aside, Trouble> {
    let mut aside = Aside::default();
    for stop in shop.ledger.exhaust_unknown(request.ended)? {
        let there = plan.pieces.iter().any(|p| {
            let room = p.sprayed_in();
            let wets = p.deed.as_ref().is_some_and(|d| d.kind.wets());
            wets && room == Some(stop.booth.as_str())
        });
        if there {
            aside.lines.push(format!(
                "  {}: no exhaust state is known since it stopped at {}; a booth check is due before the next spray (hangtime booth check)",
                stop.booth,
                shop.calendar.near(stop.from, request.ended)
            ));
            aside.values.push((
                "exhaust",
                json!({"booth": stop.booth, "state": "unknown", "stopped": shop.calendar.rfc3339(stop.from)}),
            ));
        }
    }
    Ok(aside)
}

fn preview(plan: &Plan, shop: &Shop) -> (Value, Vec<String>) {
    let lead = if plan.taken().next().is_some() {
        "would save"
    } else {
        "would save nothing"
    };
    let mut lines = vec![format!("{lead}: {}", plan.line)];
    lines.extend(plan.remarks.iter().map(|r| format!("  {r}")));
    let against = plan.pieces.iter().map(|p| {
        let objections: Vec<&str> = p.objections.iter().map(|o| o.before.as_str()).collect();
        let said = (p.taken, p.stays.as_deref(), objections);
        (said, p.now.piece.serial.as_str(), p.hook)
    });
    for group in together(against) {
        let (taken, stays, objections) = &group.said;
        if let Some(stays) = stays {
            lines.push(format!("{stays} [left out]"));
        }
        for (i, before) in objections.iter().enumerate() {
            let lead = if i == 0 {
                format!("{}: ", group.whom(plan.pieces.len()))
            } else {
                "    ".to_owned()
            };
            let tail = if *taken || i > 0 { "" } else { " [left out]" };
            lines.push(format!("{lead}{before}{tail}"));
        }
    }
    let value = json!({
        "line": plan.line,
        "remarks": plan.remarks,
        "pieces": plan.pieces.iter().map(|p| json!({
            "serial": p.now.piece.serial, "hook": p.hook, "deed": p.words, "coat": p.coat, "taken": p.taken,
            "surface": p.surface, "stays": p.stays,
            "objections": p.objections.iter().map(|o| reason_json(o, &shop.calendar)).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    });
    (value, lines)
}

fn outcome_words(outcome: &Outcome, shop: &Shop) -> (Value, Vec<String>) {
    match outcome {
        Outcome::Saved(r) => (entries::receipt(r, false), receipt_lines(r)),
        Outcome::Already(r) => (
            entries::receipt(r, true),
            vec![format!(
                "already saved a moment ago, action {}; nothing was added",
                r.saved.action
            )],
        ),
        Outcome::SameOrAnother(c) => (
            not_saved("same_or_another", c, shop),
            vec![format!(
                "coat {} was logged {} by {}; taken as the same one, nothing was added. Write --another if it is another coat",
                c.coat,
                shop.calendar.clock(c.at),
                c.person
            )],
        ),
        Outcome::Conflict(c) => (
            not_saved("conflict", c, shop),
            vec![format!(
                "coat {} already logged {} by {} at {}; nothing was added. Write --another if this is one more",
                c.coat,
                shop.calendar.clock(c.at),
                c.person,
                c.station
            )],
        ),
    }
}

fn not_saved(why: &str, c: &Conflict, shop: &Shop) -> Value {
    json!({
        "saved": false, "why": why, "coat": c.coat, "logged_at": shop.calendar.rfc3339(c.at), "by": c.person,
        "station": c.station, "action": c.action,
    })
}

fn receipt_lines(r: &Receipt) -> Vec<String> {
    let mut lines = vec![format!("saved: {} (action {})", r.line, r.saved.action)];
    lines.extend(r.remarks.iter().map(|r| format!("  {r}")));
    let left_out = r.left_out.iter();
    for group in together(left_out.map(|l| (&l.why, l.serial.as_str(), l.hook))) {
        // Where something was saved, it is never all of the rack that was left out.
        lines.push(format!("  left out: {}: {}", group.whom(0), group.said));
    }
    let hook_of = |serial: &str| {
        let piece = r.pieces.iter().find(|(s, _)| s == serial);
        piece.and_then(|(_, hook)| *hook)
    };
    let deviations = r.deviations.iter();
    for group in together(deviations.map(|d| (&d.text, d.serial.as_str(), hook_of(&d.serial)))) {
        let same = r.deviations.iter().filter(|d| d.text == *group.said);
        let entries: Vec<i64> = same.map(|d| d.entry.0).collect();
        let word = if entries.len() == 1 {
            "entry"
        } else {
            "entries"
        };
        lines.push(format!(
            "  deviation on {}: {} ({word} {})",
            group.whom(r.pieces.len()),
            group.said,
            ranges(&entries)
        ));
    }
    if let Some(open) = r.deviations.iter().find(|d| d.reason.is_none()) {
        let list: Vec<String> = Reason::ALL
            .iter()
            .map(|w| format!("{} {}", w.digit(), w.asked()))
            .collect();
        lines.push(format!(
            "  why? hangtime explain {} DIGIT: {}",
            open.entry.0,
            list.join(", ")
        ));
    }
    if r.totals.voc.0 > 0 {
        lines.push(format!(
            "  VOC {}, HAP {}",
            entries::grams(r.totals.voc),
            entries::grams(r.totals.hap)
        ));
    }
    lines
}

impl Coat {
    fn more(&self, booth: Option<String>) -> Result<CoatMore, Trouble> {
        let rub = self
            .rub
            .as_deref()
            .map(|r| read_word::<Rub>("rub test", r))
            .transpose()?;
        let drops = self
            .drops
            .map(|n| {
                if (1..=999).contains(&n) {
                    Ok(n)
                } else {
                    Err(Trouble::Input(format!(
                        "drops {n} are outside 1 to 999; write how many were set"
                    )))
                }
            })
            .transpose()?;
        let judged = self
            .judged
            .as_deref()
            .map(|j| crate::shop::text::initials("judged", j))
            .transpose()
            .map_err(Trouble::Input)?;
        Ok(CoatMore {
            batch: kept("batch", self.batch.as_deref(), 30)?,
            panel: kept("panel", self.panel.as_deref(), 30)?,
            judged,
            rub,
            drops,
            place: kept("place", self.place.as_deref(), 60)?,
            sprayed: booth.map(Sprayed::Booth),
        })
    }

    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let kind = self
            .kind
            .as_deref()
            .map(|k| read_kind(k, StepKind::wets))
            .transpose()?;
        let amount = self
            .amount
            .as_deref()
            .map(|a| Volume::read_within(a, Some("mL"), 1, 200_000_000))
            .transpose()
            .map_err(input)?;
        let wet = self
            .wet
            .iter()
            .map(|w| Film::read_within(w, Some("um"), 1_000, 1_000_000))
            .collect::<Result<Vec<_>, _>>()
            .map_err(input)?;
        let booth = self
            .booth
            .as_deref()
            .map(|booth| room_like(&shop, booth))
            .transpose()?;
        let what = DeedWhat::Coat {
            kind,
            touch_up: self.touch_up,
            mix: self.mix,
            lot: self.lot.clone(),
            amount,
            wet,
            supervisor: self.supervisor.clone(),
            more: self.more(booth)?,
        };
        let mut request = self.common.request(desk, &shop, what)?;
        request.expects = self.number;
        request.another = self.another;
        let typed: Vec<&str> = self
            .amount
            .as_deref()
            .into_iter()
            .chain(self.wet.iter().map(String::as_str))
            .collect();
        request.typed = (!typed.is_empty()).then(|| typed.join("; "));
        self.common.go_with(desk, shop, &request, coat_aside)
    }
}

impl Sand {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let kind = self
            .kind
            .as_deref()
            .map(|k| read_kind(k, StepKind::sands))
            .transpose()?;
        let removed = self
            .removed
            .as_deref()
            .map(|f| Film::read(f, Some("um")))
            .transpose()
            .map_err(input)?;
        let grit = read_grits(self.grit.as_deref())?;
        let what = DeedWhat::Sand {
            kind,
            removed,
            grit,
        };
        let request = self.common.request(desk, &shop, what)?;
        self.common.go(desk, shop, &request)
    }
}

impl Done {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let other =
            |k: StepKind| !k.sands() && !k.waits() && (!k.wets() || k == StepKind::DropFill);
        let kind = read_kind(&self.kind, other)?;
        let request = self
            .common
            .request(desk, &shop, DeedWhat::Other(Fact::Worked { kind }))?;
        self.common.go(desk, shop, &request)
    }
}

impl Move {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        if self.to_rack.is_none() && self.room.is_none() && self.hook.is_none() {
            return Err(Trouble::Input(
                "where to? write --to-rack, --hook or --room".to_owned(),
            ));
        }
        // Who names pieces and a rack wants them on it.
        if let Some(rack) = self
            .common
            .whom
            .rack
            .as_ref()
            .filter(|_| !self.common.pieces.is_empty())
        {
            return Err(Trouble::Input(format!(
                "--rack says whose pieces are moved; to hang these on it write --to-rack {}",
                crate::shop::text::shown(rack)
            )));
        }
        let text = |name: &str, t: &Option<String>| {
            t.as_deref()
                .map(|t| crate::shop::text::clean(name, t, 30))
                .transpose()
                .map_err(Trouble::Input)
        };
        let fact = Fact::Placed {
            rack: text("rack", &self.to_rack)?,
            hook: self.hook,
            room: text("room", &self.room)?,
        };
        let request = self.common.request(desk, &shop, DeedWhat::Other(fact))?;
        self.common.go_with(desk, shop, &request, room_aside)
    }
}

impl Because {
    pub(super) fn run(self, desk: &mut Desk<'_>, kind: Why) -> Answer {
        let mut shop = desk.shop()?;
        let why = crate::shop::text::clean("why", &self.why, 500).map_err(Trouble::Input)?;
        let fact = match kind {
            Why::Hold => Fact::Held { why },
            Why::Lift => Fact::Lifted { why },
            Why::Scrap => Fact::Scrapped { why },
            Why::Restore => Fact::Restored { why },
        };
        let lifts = matches!(kind, Why::Lift);
        let request = self.common.request(desk, &shop, DeedWhat::Other(fact))?;
        if lifts && !self.common.how.preview {
            desk.authorise(&mut shop, PinDeed::Lift, &request.who)?;
        }
        self.common.go(desk, shop, &request)
    }
}

impl Note {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let text = crate::shop::text::clean("text", &self.text, 500).map_err(Trouble::Input)?;
        let what = DeedWhat::Other(Fact::Note { text });
        let request = self.common.request(desk, &shop, what)?;
        self.common.go(desk, shop, &request)
    }
}

impl Gauge {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let film = Film::read_within(&self.film, Some("um"), 0, 1_000_000).map_err(input)?;
        let mut request =
            self.common
                .request(desk, &shop, DeedWhat::Other(Fact::Gauged { film }))?;
        request.typed = Some(self.film.clone());
        self.common.go(desk, shop, &request)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_draft_keeps_the_words_of_its_command_without_the_pin() {
        let words = |line: &str| without_pin(line.split(' ').map(str::to_owned)).join(" ");
        assert_eq!(words("lift B-1 --pin 830472 --why x"), "lift B-1 --why x");
        assert_eq!(words("--pin=830472 lift B-1 --why x"), "lift B-1 --why x");
        assert_eq!(words("note B-1 --why --pinned"), "note B-1 --why --pinned");
    }
}
