//! Stock, pots, waste drums, and how the solvent book is kept.

use super::cautions::aside;
use super::deed::print_with;
use super::{Answer, Desk, Shop, Trouble, time_or};
use crate::ledger::{AtUse, Cup, PinDeed, StockRow};
use crate::reports::book::litres;
use crate::reports::stock as report;
use crate::reports::stored;
use crate::science::printed::{held_json, held_line};
use crate::shop::cautions::When as Use;
use crate::shop::stock::{Purpose, StockFact};
use crate::shop::text::shown;
use crate::shop::words::Word;
use crate::units::{Amount, Mass, Moment, Share, Span, System, Volume};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What lies where, counts, and uses that no coat tells of.
#[derive(Debug, clap::Args)]
pub(super) struct Stock {
    #[command(subcommand)]
    deed: Option<StockDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum StockDeed {
    /// A material or a lot was counted.
    Count {
        /// Material code, or a lot.
        what: String,
        /// How much was there, such as 180L.
        volume: String,
        /// The month that the count closes, as 2026-03; at the turn of a month that follows from the day.
        #[arg(long, value_name = "MONTH")]
        closes: Option<String>,
        /// How it was measured.
        #[arg(long)]
        note: Option<String>,
        #[command(flatten)]
        when: When,
    },
    /// Some of a lot was used without a coat: guns, floors, tests.
    Use {
        /// The lot.
        lot: String,
        /// How much, such as 0.4L.
        volume: String,
        /// What for: coating, thinning, cleaning, "left over" or "other use".
        #[arg(long = "for", default_value = "cleaning")]
        purpose: String,
        /// The booth that it was used in.
        #[arg(long)]
        booth: Option<String>,
        /// Where it lay; the store, if left out.
        #[arg(long)]
        place: Option<String>,
        /// In words.
        #[arg(long)]
        note: Option<String>,
        /// Say what would be saved and what is to be read before it; save nothing.
        #[arg(long)]
        preview: bool,
        #[command(flatten)]
        when: When,
    },
    /// Some of a lot was carried to another place.
    Carry {
        /// The lot.
        lot: String,
        /// How much.
        volume: String,
        /// Where it lies now.
        #[arg(long)]
        to: String,
        /// Where it lay; the store, if left out.
        #[arg(long)]
        from: Option<String>,
        #[command(flatten)]
        when: When,
    },
}

/// When it happened, where that is not now.
#[derive(Debug, clap::Args)]
pub(super) struct When {
    /// When; now, if left out.
    #[arg(long = "done", value_name = "TIME")]
    done: Option<String>,
}

impl When {
    /// The moment; a deed in the future is refused by the ledger.
    pub(super) fn at(&self, shop: &Shop, now: Moment) -> Result<Moment, Trouble> {
        time_or(&shop.calendar, self.done.as_deref(), now)
    }
}

pub(super) fn volume(text: &str) -> Result<Volume, Trouble> {
    Volume::read(text, None).map_err(|e| Trouble::Input(e.to_string()))
}

impl Stock {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let Some(deed) = self.deed else {
            return levels(desk, &shop);
        };
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        let system = desk.system();
        match deed {
            StockDeed::Count {
                what,
                volume: text,
                closes,
                note,
                when,
            } => {
                let volume = volume(&text)?;
                let at = when.at(&shop, stamp.written)?;
                let closes = closes.or_else(|| report::turn_of_month(&shop.calendar, at));
                let done = shop.ledger.count_stock(
                    &what,
                    volume,
                    closes.as_deref(),
                    note.as_deref(),
                    at,
                    &who,
                    &stamp,
                )?;
                let of = closes.as_ref().map_or_else(
                    || ", closes no month".to_owned(),
                    |m| format!(", closes {m}"),
                );
                let received = shop.ledger.received(&what, shop.calendar.day(at))?;
                let more = if volume > received {
                    format!(
                        "; only {} were ever received by then: count again, or enter the receipt",
                        litres(received, system)
                    )
                } else {
                    String::new()
                };
                let line = format!(
                    "{} of {} counted{of}{more}",
                    litres(volume, system),
                    shown(&what)
                );
                desk.saved(
                    &done,
                    &line,
                    json!({"closes": closes, "volume_ul": volume.0, "received_ul": received.0}),
                )
            }
            StockDeed::Use {
                lot,
                volume: text,
                purpose,
                booth,
                place,
                note,
                preview,
                when,
            } => {
                shop.ledger.takes_deeds()?;
                let volume = volume(&text)?;
                let at = when.at(&shop, stamp.written)?;
                let purpose = Purpose::typed(&purpose).ok_or_else(|| {
                    Trouble::Input(format!(
                        "for \"{}\" is not known; write one of {}",
                        shown(&purpose),
                        Purpose::choices()
                    ))
                })?;
                let moment = match purpose {
                    Purpose::Coating => Use::Spraying,
                    Purpose::Cleaning => Use::Cleaning,
                    _ => Use::Mixing,
                };
                shop.ledger.lot_material(&lot)?;
                let aside = aside(
                    &shop,
                    &AtUse {
                        when: moment,
                        cup: Cup::Lot(&lot),
                        booth: booth.as_deref(),
                        at,
                    },
                )?;
                if preview {
                    let line = format!(
                        "would save: {} of lot {} used for {}",
                        litres(volume, system),
                        shown(&lot),
                        purpose.word()
                    );
                    return print_with(
                        desk,
                        json!({"saved": false, "volume_ul": volume.0}),
                        vec![line],
                        aside,
                    )
                    .map(|()| 0);
                }
                let places = (place.as_deref(), booth.as_deref());
                let done = shop.ledger.issue(
                    &lot,
                    volume,
                    purpose,
                    places,
                    note.as_deref(),
                    at,
                    &who,
                    &stamp,
                )?;
                let totals = shop.ledger.action_totals(done.action)?;
                let line = format!(
                    "{} of lot {} used for {}, VOC {}",
                    litres(volume, system),
                    shown(&lot),
                    purpose.word(),
                    totals.voc.shown(system, 1)
                );
                let value = json!({
                    "saved": true, "action": done.action, "volume_ul": volume.0,
                    "solvent": crate::reports::entries::totals(&totals),
                });
                let line = format!("saved: {line} (action {})", done.action);
                print_with(desk, value, vec![line], aside)?;
                Ok(0)
            }
            StockDeed::Carry {
                lot,
                volume: text,
                to,
                from,
                when,
            } => {
                let volume = volume(&text)?;
                let at = when.at(&shop, stamp.written)?;
                let done =
                    shop.ledger
                        .carry(&lot, volume, from.as_deref(), &to, at, &who, &stamp)?;
                let line = format!(
                    "{} of lot {} carried to {}",
                    litres(volume, system),
                    shown(&lot),
                    shown(&to)
                );
                desk.saved(&done, &line, Value::Null)
            }
        }
    }
}

fn levels(desk: &mut Desk<'_>, shop: &Shop) -> Answer {
    let system = desk.system();
    let rows = shop.ledger.stock(Some(shop.calendar.day(shop.now)))?;
    let counts = shop.ledger.counts(shop.now)?;
    let mut by_material: BTreeMap<&str, Vec<&StockRow>> = BTreeMap::new();
    for row in &rows {
        by_material.entry(&row.material).or_default().push(row);
    }
    let mut lines = Vec::new();
    let mut values = Vec::new();
    let mut code = 0;
    for (material, rows) in by_material {
        let level = Volume(rows.iter().map(|r| r.level().0).sum());
        let counted = counts.iter().rev().find(|c| c.material == material);
        let mut line = format!("{material:<6} {:>12}", litres(level, system));
        if level.0 < 0 {
            code = 1;
            line.push_str("  below zero: count it or enter the receipt");
        }
        if let Some(c) = counted {
            line.push_str(&format!(
                "  last count {} on {}{}",
                litres(c.volume, system),
                c.day.date(),
                c.lot
                    .as_ref()
                    .map_or_else(String::new, |l| format!(", lot {} alone", shown(l)))
            ));
        }
        lines.push(line);
        for row in &rows {
            let below = if row.level().0 < 0 {
                "  below zero"
            } else {
                ""
            };
            lines.push(format!(
                "  {:<10} {:<14} {:>12}{below}",
                shown(&row.lot),
                shown(&row.place),
                litres(row.level(), system)
            ));
        }
        values.push(json!({
            "material": material, "level_ul": level.0, "below_zero": level.0 < 0,
            "last_count": counted.map(|c| json!({
                "entry": c.entry, "lot": c.lot, "volume_ul": c.volume.0, "day": c.day.date().to_string(), "closes": c.closes, "by": c.person,
            })),
            "lots": rows.iter().map(|r| json!({"lot": r.lot, "place": r.place, "level_ul": r.level().0})).collect::<Vec<_>>(),
        }));
    }
    if lines.is_empty() {
        lines.push("nothing was received yet; \"hangtime lot receive\" enters a lot".to_owned());
    }
    code = code.max(caps(shop, system, &mut lines, &mut values)?);
    desk.print(&values.into(), &lines)?;
    Ok(code)
}

// What stands at each place, held against the caps that the shop entered for it.
fn caps(
    shop: &Shop,
    system: System,
    lines: &mut Vec<String>,
    values: &mut Vec<Value>,
) -> Result<u8, Trouble> {
    let limits = shop.ledger.ceilings()?;
    let mut code = 0;
    for place in stored::places(&shop.ledger, &limits, shop.now)? {
        for held in place.held(&limits) {
            code = code.max(u8::from(held.calls_for_attention()));
            lines.push(held_line(&held, system));
            values.push(json!({
                "place": place.place, "held_against": held_json(&held, system),
            }));
        }
    }
    Ok(code)
}

/// The pots that are open, and closing them.
#[derive(Debug, clap::Args)]
pub(super) struct Pot {
    #[command(subcommand)]
    deed: Option<PotDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum PotDeed {
    /// Nothing more is taken from a mix.
    Close {
        /// The mix.
        mix: u32,
        /// What was left in it, as measured; what the log leaves, if left out.
        #[arg(long, value_name = "VOLUME")]
        left: Option<String>,
        /// The waste drum that it went into.
        #[arg(long)]
        drum: Option<String>,
        #[command(flatten)]
        when: When,
        /// Show what the log leaves and what would be counted, and save nothing.
        #[arg(long)]
        preview: bool,
    },
}

/// A pot that was made longer ago than this is only counted (common practice, no source: a pot lasts days at the most).
const POT_DAYS: Span = Span::hours(24 * 7);

impl Pot {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let system = desk.system();
        let Some(PotDeed::Close {
            mix,
            left,
            drum,
            when,
            preview,
        }) = self.deed
        else {
            return pots(desk, &shop);
        };
        let left = left.as_deref().map(volume).transpose()?;
        let stamp = shop.stamp();
        let at = when.at(&shop, stamp.written)?;
        let measured = left.is_some();
        let (pot, unknown) = shop.ledger.pot_to_close(mix)?;
        let words = report::left_words(&pot, unknown, system);
        if preview {
            let counts = left.unwrap_or(pot.left());
            pot.check_left(mix, counts)?;
            let into = drum.as_deref().map_or_else(
                || "into no drum that was named".to_owned(),
                |d| format!("into drum {}", shown(d)),
            );
            desk.print(
                &json!({
                    "saved": false, "mix": mix, "made_ul": pot.made.0, "sprayed_ul": pot.sprayed.0,
                    "level_ul": pot.level.0, "deeds_without_amount": unknown, "left_ul": counts.0,
                    "measured": measured, "drum": drum,
                }),
                &[
                    format!("pot of mix {mix}: {words}"),
                    format!(
                        "counts {} as left over in the month's book, {into}; --left says what is really there",
                        litres(counts, system)
                    ),
                    "nothing is saved yet".to_owned(),
                ],
            )?;
            return Ok(0);
        }
        let who = desk.who(None)?;
        let (done, left) = shop
            .ledger
            .close_pot(mix, left, drum.as_deref(), at, &who, &stamp)?;
        let how = if measured { "" } else { " by the log" };
        let into = drum.as_ref().map_or_else(
            || {
                if left.0 > 0 {
                    ", into no drum that was named".to_owned()
                } else {
                    String::new()
                }
            },
            |d| format!(", into drum {}", shown(d)),
        );
        let line = format!(
            "pot of mix {mix} closed, {} left{how}{into}",
            litres(left, system)
        );
        desk.saved(
            &done,
            &line,
            json!({"mix": mix, "left_ul": left.0, "measured": measured, "drum": drum}),
        )
    }
}

fn pots(desk: &mut Desk<'_>, shop: &Shop) -> Answer {
    let system = desk.system();
    let since = Moment(shop.now.0 - POT_DAYS.0);
    let (open, older) = shop.ledger.open_pots(since)?;
    let mut lines = Vec::new();
    let mut values = Vec::new();
    for (mix, pot) in &open {
        let row = shop.ledger.mix_made(*mix)?;
        lines.push(format!(
            "mix {mix:<4} {:<14} made {}, {} of {} left by the log",
            shown(&row.name),
            shop.calendar.near(row.made, shop.now),
            litres(pot.level, system),
            litres(pot.made, system)
        ));
        values.push(json!({
            "mix": mix, "name": row.name, "made": shop.calendar.rfc3339(row.made), "made_ul": pot.made.0,
            "sprayed_ul": pot.sprayed.0, "level_ul": pot.level.0,
        }));
    }
    if open.is_empty() {
        lines.push("no pot of the last seven days is open".to_owned());
    }
    if older > 0 {
        let s = if older == 1 { " was" } else { "es were" };
        lines.push(format!(
            "{older} older mix{s} never closed; \"hangtime pot close MIX\" says what became of what was left"
        ));
    }
    desk.print(
        &json!({"open": values, "older_never_closed": older}),
        &lines,
    )?;
    Ok(0)
}

/// Waste drums and their clocks.
#[derive(Debug, clap::Args)]
pub(super) struct Drum {
    #[command(subcommand)]
    deed: Option<DrumDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum DrumDeed {
    /// Start a waste drum: its clock runs from then on.
    Start {
        /// Its name.
        drum: String,
        /// What goes in.
        #[arg(long)]
        contents: String,
        /// What it holds when full, such as 200L.
        #[arg(long)]
        holds: Option<String>,
        /// Where it stands.
        #[arg(long)]
        place: Option<String>,
        #[command(flatten)]
        when: When,
    },
    /// Something went into a drum.
    Fill {
        /// The drum.
        drum: String,
        /// What it was.
        what: String,
        /// How much, by volume.
        #[arg(long, required_unless_present = "mass")]
        volume: Option<String>,
        /// How much, by weight.
        #[arg(long)]
        mass: Option<String>,
        #[command(flatten)]
        when: When,
    },
    /// A drum's contents were analysed.
    Analyse {
        /// The drum.
        drum: String,
        /// Share of VOC by weight, such as 55%.
        #[arg(long)]
        voc: String,
        /// Reference of the analysis.
        #[arg(long)]
        reference: String,
        #[command(flatten)]
        when: When,
    },
    /// A drum left the shop.
    Ship {
        /// The drum.
        drum: String,
        /// Its contents by weight, such as 160kg.
        #[arg(long)]
        mass: String,
        /// Number of the manifest.
        #[arg(long)]
        manifest: Option<String>,
        /// Who took it.
        #[arg(long)]
        with: Option<String>,
        #[command(flatten)]
        when: When,
    },
}

impl Drum {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        let Some(deed) = self.deed else {
            return drums(desk, &shop);
        };
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        let weight = |t: &str| Mass::read(t, None).map_err(|e| Trouble::Input(e.to_string()));
        let (fact, at) = match deed {
            DrumDeed::Start {
                drum,
                contents,
                holds,
                place,
                when,
            } => {
                let holds = holds.as_deref().map(volume).transpose()?;
                let at = when.at(&shop, stamp.written)?;
                let done = shop.ledger.start_drum(
                    &drum,
                    &contents,
                    holds,
                    place.as_deref(),
                    at,
                    &who,
                    &stamp,
                )?;
                let limits = shop.ledger.ceilings()?;
                let mut what = format!("drum {} started", shown(&drum));
                if let Some(row) = shop.ledger.drum(&drum)? {
                    let clock = report::clock(&row, &limits, &shop.calendar, at);
                    what = report::drum_line(&row, &clock, &shop.calendar, desk.system());
                }
                return desk.saved(&done, &what, json!({"drum": drum}));
            }
            DrumDeed::Fill {
                drum,
                what,
                volume: by_volume,
                mass,
                when,
            } => (
                StockFact::DrumFilled {
                    drum,
                    volume: by_volume.as_deref().map(volume).transpose()?,
                    mass: mass.as_deref().map(weight).transpose()?,
                    what,
                },
                when.at(&shop, stamp.written)?,
            ),
            DrumDeed::Analyse {
                drum,
                voc,
                reference,
                when,
            } => (
                StockFact::DrumAnalysed {
                    drum,
                    voc: Share::read(&voc, Some("%")).map_err(|e| Trouble::Input(e.to_string()))?,
                    reference,
                },
                when.at(&shop, stamp.written)?,
            ),
            DrumDeed::Ship {
                drum,
                mass,
                manifest,
                with,
                when,
            } => (
                StockFact::DrumShipped {
                    drum,
                    mass: weight(&mass)?,
                    manifest,
                    carrier: with,
                },
                when.at(&shop, stamp.written)?,
            ),
        };
        let what = crate::reports::entries::words(
            &crate::shop::record::What::Shop(crate::shop::record::ShopFact::Stock(fact.clone())),
            desk.system(),
        );
        let done = shop.ledger.record_drum(fact, at, &who, &stamp)?;
        desk.saved(&done, &what, Value::Null)
    }
}

fn drums(desk: &mut Desk<'_>, shop: &Shop) -> Answer {
    let limits = shop.ledger.ceilings()?;
    let mut code = 0;
    let (mut lines, mut values) = (Vec::new(), Vec::new());
    for drum in shop.ledger.drums(shop.now)? {
        let clock = report::clock(&drum, &limits, &shop.calendar, shop.now);
        if clock.state == "over" {
            code = 1;
        }
        lines.push(report::drum_line(
            &drum,
            &clock,
            &shop.calendar,
            desk.system(),
        ));
        values.push(report::drum_json(&drum, &clock, &shop.calendar));
    }
    if lines.is_empty() {
        lines.push("no waste drum is recorded; \"hangtime drum start\" starts one".to_owned());
    }
    desk.print(&values.into(), &lines)?;
    Ok(code)
}

/// How the solvent book is kept.
#[derive(Debug, clap::Args)]
pub(super) struct BookSetting {
    #[command(subcommand)]
    deed: Option<BookDeed>,
}

#[derive(Debug, clap::Subcommand)]
enum BookDeed {
    /// Set how it is kept: official log|stock, waste-credit on|off, difference 5%, rules CODE|sheet.
    Set {
        /// official, waste-credit, difference or rules.
        name: String,
        /// What holds from now on.
        value: String,
        /// Where that comes from.
        #[arg(long)]
        source: String,
    },
}

impl BookSetting {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        if let Some(BookDeed::Set {
            name,
            value,
            source,
        }) = self.deed
        {
            let who = desk.who(None)?;
            desk.authorise(&mut shop, PinDeed::Limit, &who)?;
            let stamp = shop.stamp();
            let done = shop.ledger.set_book(&name, &value, &source, &who, &stamp)?;
            let line = format!("solvent book: {name} is {} from now on", shown(&value));
            return desk.saved(&done, &line, json!({"name": name, "value": value}));
        }
        let s = shop.ledger.book_settings()?;
        let on = if s.waste_credit { "on" } else { "off" };
        let difference = s
            .difference
            .map_or_else(|| "none entered".to_owned(), |d| d.text(1));
        let rules = s.rules.clone().unwrap_or_else(|| "sheet".to_owned());
        desk.print(
            &json!({
                "official": s.official.word(), "waste_credit": s.waste_credit,
                "difference_ppm": s.difference.map(|d| d.0), "rules": s.rules,
            }),
            &[
                format!("official: {} (which figures of a month are the shop's own)", s.official.word()),
                format!("waste-credit: {on}"),
                format!("difference: {difference} (between stock and log, at which it is called out)"),
                format!("rules: {rules} (what counts as VOC and HAP: as the data sheets state it, or a rule set)"),
            ],
        )?;
        Ok(0)
    }
}
