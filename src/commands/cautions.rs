//! Cautions: those of a material or mix, those that are due at a deed, and writing down that one was read or who was told.
//!
//! *Invariants*: a caution blocks no deed. What is written down says that it was read, or who was told, and no more.
//!
//! *Not here*: which cautions there are (`shop::cautions`), which are due (`ledger`).

use super::deed::{Aside, exhaust_aside};
use super::{Answer, Desk, Shop, Trouble};
use crate::ledger::{AtUse, Cup, DeedRequest, DueCaution, Plan};
use crate::reports::cautions as words;
use crate::screens::view::answer_rows;
use crate::shop::cautions::{self, Caution as Text, Hazard, STANDING_LINE, When};
use crate::shop::material::Material;
use crate::shop::record::Fact;
use crate::shop::text::shown;
use crate::units::Moment;
use serde_json::{Value, json};
use std::sync::Arc;

/// The cautions that belong to a material or mix.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(super) struct Cautions {
    #[command(subcommand)]
    ask: Option<Asked>,
    /// Material code; all materials of a mix with --mix.
    material: Option<String>,
    /// A mix by its number.
    #[arg(long, conflicts_with = "material")]
    mix: Option<u32>,
    /// The moment of use: mixing, spraying, flash-off, curing, sanding, buffing, cleaning, storing, ...
    #[arg(long, default_value = "spraying")]
    when: String,
}

#[derive(Debug, clap::Subcommand)]
enum Asked {
    /// Those that were due at a deed of the last seven production days and that nobody read, and what was sprayed over
    /// another material in a booth with no cleaning on record.
    Waiting,
}

impl Cautions {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        if let Some(Asked::Waiting) = self.ask {
            return waiting(desk, &shop);
        }
        let when = read_when(&self.when)?;
        let mut materials: Vec<Arc<Material>> = Vec::new();
        if let Some(mix) = self.mix {
            let found = shop.ledger.mix_made(mix)?;
            for part in &found.parts {
                materials.push(shop.ledger.lot_material(&part.lot)?);
            }
        } else if let Some(code) = &self.material {
            materials.push(shop.ledger.newest_material(code)?);
        }
        let mut hazards: Vec<Hazard> = materials
            .iter()
            .flat_map(|m| &m.hazards)
            .filter_map(|h| Hazard::from_word(h))
            .collect();
        hazards.sort_unstable();
        hazards.dedup();
        let list = cautions::for_material(&hazards, when);
        let contacts = shop.ledger.contacts(shop.now)?;
        let mut lines = Vec::new();
        for m in &materials {
            lines.extend(m.cautions.iter().map(|c| {
                format!(
                    "{} (data sheet {} of {}): {c}",
                    m.code, m.sheet, m.sheet_date
                )
            }));
        }
        for c in &list {
            lines.extend(words::whole(c, &contacts, ""));
        }
        lines.push(STANDING_LINE.to_owned());
        if let (Some(mix), When::Mixing | When::Spraying) = (self.mix, when) {
            lines.push(format!("read? hangtime caution read all --mix {mix}"));
        }
        let value = json!({
            "when": when.word(),
            "hazards": hazards.iter().map(|h| h.word()).collect::<Vec<_>>(),
            "cautions": list.iter().map(|c| json!({
                "id": c.id, "text": c.text, "source": c.source, "ask": words::ask(c, &contacts),
            })).collect::<Vec<_>>(),
            "standing_line": STANDING_LINE,
        });
        desk.print(&value, &lines)?;
        Ok(0)
    }
}

fn read_when(text: &str) -> Result<When, Trouble> {
    When::from_word(text).ok_or_else(|| {
        let list: Vec<&str> = When::ALL.iter().map(|w| w.word()).collect();
        Trouble::Input(format!(
            "moment \"{}\" is not known; write one of {}",
            shown(text),
            list.join(", ")
        ))
    })
}

// Exit code 1 where something waits: somebody has to look.
fn waiting(desk: &mut Desk<'_>, shop: &Shop) -> Answer {
    let list = shop.ledger.cautions_waiting(shop.now)?;
    let contacts = shop.ledger.contacts(shop.now)?;
    let values: Vec<Value> = list
        .iter()
        .map(|w| {
            let mut value = words::json_of(&w.due, &contacts);
            if let Some(map) = value.as_object_mut() {
                map.insert("day".to_owned(), json!(w.day.date().to_string()));
                map.insert("due_at".to_owned(), json!(shop.calendar.rfc3339(w.at)));
            }
            value
        })
        .collect();
    let mut lines = words::waiting(&list, &contacts, &shop.calendar);
    lines.push(STANDING_LINE.to_owned());
    desk.print(&values.into(), &lines)?;
    Ok(u8::from(!list.is_empty()))
}

/// Write down that a caution was read, or who was told.
#[derive(Debug, clap::Args)]
pub(super) struct Caution {
    #[command(subcommand)]
    deed: CautionDeed,
}

#[derive(Debug, clap::Subcommand)]
enum CautionDeed {
    /// You read it. That is written down, and no more than that.
    Read {
        /// The caution, or "all" for those that are due and unread.
        id: String,
        /// The mix, lot or booth that it was about, as it was shown: "mix 7", "lot L-9", "booth 3".
        #[arg(long, required_unless_present_any = ["mix", "booth", "lot"])]
        about: Option<String>,
        /// With "all": those of a mix.
        #[arg(long, conflicts_with_all = ["about", "lot"])]
        mix: Option<u32>,
        /// With "all": those of a lot.
        #[arg(long, conflicts_with = "about")]
        lot: Option<String>,
        /// With "all": those of a booth, before the gun is used there.
        #[arg(long, conflicts_with = "about")]
        booth: Option<String>,
        /// With "all": the moment of use; mixing and spraying, if left out.
        #[arg(long, conflicts_with = "about")]
        when: Option<String>,
        /// Columns and lines of the page on which you read, as 80x20: only those that stand on it in full are shown and
        /// written down, and how many are left is said. All, if left out. The screens set it.
        #[arg(long, env = crate::screens::PAGE, value_name = "COLUMNSxLINES")]
        page: Option<Page>,
    },
    /// You told somebody of it. Whom is written down; what they said is not recorded.
    Told {
        /// The caution.
        id: String,
        /// The booth, mix or lot that it was about.
        #[arg(long)]
        about: String,
        /// Name or initials of who was told.
        #[arg(long)]
        whom: String,
    },
}

fn known(id: &str) -> Result<&'static Text, Trouble> {
    cautions::find(id).ok_or_else(|| {
        Trouble::Input(format!(
            "caution \"{}\" is not known; write it as it was shown, such as spraying-after-oil",
            shown(id)
        ))
    })
}

impl Caution {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        match self.deed {
            CautionDeed::Told { id, about, whom } => {
                let caution = known(&id)?;
                let done = shop
                    .ledger
                    .told_of_caution(caution.id, &about, &whom, &who, &stamp)?;
                desk.saved(
                    &done,
                    &format!(
                        "{} was told of {}, {}",
                        shown(&whom),
                        caution.id,
                        shown(&about)
                    ),
                    json!({"caution": caution.id, "about": about, "told": whom}),
                )
            }
            CautionDeed::Read {
                id,
                about,
                mix,
                lot,
                booth,
                when,
                page,
            } => {
                let moments = match when {
                    Some(when) => vec![read_when(&when)?],
                    None => vec![When::Mixing, When::Spraying],
                };
                let due = match about {
                    Some(about) if id != "all" => vec![(known(&id)?, about)],
                    Some(_) => {
                        return Err(Trouble::Input(
                            "\"all\" needs --mix, --lot or --booth instead of --about".to_owned(),
                        ));
                    }
                    None if id != "all" => {
                        return Err(Trouble::Input(format!(
                            "what was {} about? write --about \"mix 7\", \"lot L-9\" or \"booth 3\"",
                            shown(&id)
                        )));
                    }
                    None => {
                        let cup = match (mix, lot.as_deref()) {
                            (Some(mix), _) => Cup::Mix(shop.ledger.mix_made(mix)?.mix),
                            (None, Some(lot)) => {
                                shop.ledger.lot_material(lot)?;
                                Cup::Lot(lot)
                            }
                            (None, None) => Cup::Unknown,
                        };
                        unread(&shop, &moments, (cup, booth.as_deref()), stamp.written)?
                    }
                };
                if due.is_empty() {
                    desk.print(
                        &json!({"saved": false, "why": "nothing unread", "read": [], "left": 0}),
                        &["nothing that is due is unread today".to_owned()],
                    )?;
                    return Ok(0);
                }
                let contacts = shop.ledger.contacts(stamp.written)?;
                let texts: Vec<Vec<String>> = due
                    .iter()
                    .map(|(caution, about)| {
                        let mut lines = vec![format!("{}, {}:", caution.id, shown(about))];
                        lines.extend(words::whole(caution, &contacts, "  "));
                        lines
                    })
                    .collect();
                // JSON goes to a program, which has no page.
                let page = page.filter(|_| !desk.options.json);
                let above = desk.beside.borrow().doubted.clone();
                let count = page.map_or(due.len(), |p| p.holds(above.as_deref(), &texts));
                let (now, left) = due.split_at(count);
                let list: Vec<(String, String)> = now
                    .iter()
                    .map(|(c, about)| (c.id.to_owned(), about.clone()))
                    .collect();
                if list.is_empty() {
                    return Err(Trouble::Input(format!(
                        "the page is too small to show {} in full, so that nothing was written down as read; make it larger",
                        due.first().map_or("a caution", |(c, _)| c.id)
                    )));
                }
                let done = shop.ledger.read_cautions(&list, &who, &stamp)?;
                let mut lines: Vec<String> = texts.into_iter().take(count).flatten().collect();
                lines.extend(said_read(list.len(), left.len(), &who.person, done.action));
                desk.print(
                    &json!({
                        "saved": true, "action": done.action,
                        "read": list.iter().map(|(id, about)| json!({"id": id, "about": about})).collect::<Vec<_>>(),
                        "left": left.len(),
                    }),
                    &lines,
                )?;
                Ok(0)
            }
        }
    }
}

// What stands below the cautions that were shown.
fn said_read(read: usize, left: usize, person: &str, action: i64) -> Vec<String> {
    let s = if read == 1 { "" } else { "s" };
    let mut lines = vec![format!(
        "saved: {read} caution{s} read by {person} (action {action})"
    )];
    if left > 0 {
        let them = if left == 1 { "it" } else { "them" };
        lines.push(format!(
            "{left} more not shown and still unread: the same key or line again shows {them}"
        ));
    }
    lines.push(STANDING_LINE.to_owned());
    lines
}

/// A page that a person reads: its columns and its lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Page {
    columns: u16,
    lines: u16,
}

impl std::str::FromStr for Page {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let part = |t: &str| t.trim().parse::<u16>().ok().filter(|n| *n > 0);
        text.split_once('x')
            .and_then(|(columns, lines)| Some((part(columns)?, part(lines)?)))
            .map(|(columns, lines)| Self { columns, lines })
            .ok_or_else(|| {
                "columns and lines, each from 1 to 65535, are written as 80x20".to_owned()
            })
    }
}

impl Page {
    // How many texts, from the first on, stand on it in full. The first may push what is said below it off the page, as a
    // small page would hold none else; the others leave room for that.
    fn holds(self, above: Option<&str>, texts: &[Vec<String>]) -> usize {
        let rows = |lines: &[String]| -> usize {
            let each = lines.iter().map(|l| answer_rows(l, self.columns));
            each.sum()
        };
        let below = rows(&said_read(
            texts.len(),
            texts.len(),
            "MMMMMM",
            i64::from(u32::MAX),
        ));
        let mut used = above.map_or(0, |text| answer_rows(text, self.columns));
        let mut count = 0;
        for text in texts {
            used += rows(text);
            let needed = used + if count == 0 { 0 } else { below };
            if needed > usize::from(self.lines) {
                break;
            }
            count += 1;
        }
        count
    }
}

// What is due at some moments of use, and that nobody read today.
fn unread(
    shop: &Shop,
    moments: &[When],
    (cup, booth): (Cup<'_>, Option<&str>),
    at: Moment,
) -> Result<Vec<(&'static Text, String)>, Trouble> {
    let mut list: Vec<(&'static Text, String)> = Vec::new();
    for when in moments.iter().copied() {
        if when == When::Mixing && cup == Cup::Unknown {
            continue;
        }
        let due = shop.ledger.cautions_due(&AtUse {
            when,
            cup,
            booth,
            at,
        })?;
        for d in due.into_iter().filter(|d| d.read.is_none()) {
            if !list
                .iter()
                .any(|(c, about)| c.id == d.caution.id && *about == d.about)
            {
                list.push((d.caution, d.about));
            }
        }
    }
    Ok(list)
}

/// The command that shows and writes down what is unread of a cup and a booth.
pub(super) fn read_command(cup: Cup<'_>, booth: Option<&str>) -> String {
    format!("hangtime {}", words::read_line(cup, booth))
}

/// What is said beside a use, as lines and as JSON.
pub(super) fn aside(shop: &Shop, of: &AtUse<'_>) -> Result<Aside, Trouble> {
    let due = shop.ledger.cautions_due(of)?;
    said(shop, &due, &read_command(of.cup, of.booth), of.at)
}

fn said(shop: &Shop, due: &[DueCaution], read: &str, at: Moment) -> Result<Aside, Trouble> {
    let contacts = shop.ledger.contacts(at)?;
    let values: Vec<Value> = due.iter().map(|d| words::json_of(d, &contacts)).collect();
    Ok(Aside {
        lines: words::beside(due, &contacts, read),
        values: vec![("cautions", values.into())],
    })
}

/// What is said beside a coat, and when one is begun: the exhaust of its booth, and the cautions of booth and cup.
pub(super) fn coat_aside(
    shop: &Shop,
    request: &DeedRequest,
    plan: &Plan,
) -> Result<Aside, Trouble> {
    let mut aside = exhaust_aside(shop, request, plan)?;
    let rooms = plan.sprayed_in();
    if rooms.is_empty() {
        return Ok(aside);
    }
    let due = shop.ledger.cautions_of(request, plan)?;
    let room = rooms.iter().flatten().next().copied();
    let read = read_command(Cup::of(request), room);
    let more = said(shop, &due, &read, request.ended)?;
    aside.lines.extend(more.lines);
    aside.values.extend(more.values);
    Ok(aside)
}

/// What is said when fresh work is hung into a room: vapour and heat there.
pub(super) fn room_aside(
    shop: &Shop,
    request: &DeedRequest,
    plan: &Plan,
) -> Result<Aside, Trouble> {
    // As the record will name it, and not as it was typed.
    let hung = plan.taken().find_map(|p| match &p.fact {
        Fact::Placed { room, .. } => room.as_ref(),
        _ => None,
    });
    let Some(room) = hung else {
        return Ok(Aside::default());
    };
    let fresh = plan.taken().find(|p| {
        let wet = p.now.surfaces.values().filter_map(|s| s.last_wet).max();
        wet.is_some_and(|wet| request.ended.since(wet) <= FRESH)
    });
    let Some(fresh) = fresh else {
        return Ok(Aside::default());
    };
    let coat = shop
        .ledger
        .entries(Some(&fresh.now.piece.serial))?
        .into_iter()
        .rev()
        .find_map(|e| match e.what {
            crate::shop::record::What::Piece(Fact::Coat(c)) if e.voided_by.is_none() => Some(c),
            _ => None,
        });
    let cup = match coat.as_ref().map(|c| (c.mix, c.lot.as_deref())) {
        Some((Some(mix), _)) => Cup::Mix(mix),
        Some((None, Some(lot))) => Cup::Lot(lot),
        _ => Cup::Unknown,
    };
    let due = shop.ledger.cautions_due(&AtUse {
        when: When::Curing,
        cup,
        booth: Some(room),
        at: request.ended,
    })?;
    let read = format!("{} --when curing", read_command(cup, Some(room)));
    said(shop, &due, &read, request.ended)
}

/// How long after its last wet coat a piece counts as fresh work (common practice, no source).
const FRESH: crate::units::Span = crate::units::Span::hours(24);
