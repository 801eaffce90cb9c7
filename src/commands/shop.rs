//! Starting a ledger, and what a shop enters beside its pieces: lots, mixes, rooms.

use super::cautions::aside;
use super::deed::print_with;
use super::{Answer, Desk, Shop, Trouble, read_file, read_time, time_or};
use crate::clock::Clock;
use crate::feeds::{climate_csv, pieces_csv};
use crate::ledger::{AtUse, Cup, Ledger, MixOrder, NewLot, NewShop, Stamp};
use crate::reports::{entries, excursions, loggers};
use crate::shop::calendar::{Calendar, Day};
use crate::shop::cautions::When;
use crate::shop::material::{Pour, Totals};
use crate::shop::thinning::{self, Of, PercentPart};
use crate::units::{Amount, Dimension, Moment, Share, Span, System, Volume, read};
use serde_json::json;
use std::path::PathBuf;

/// Hour at which the production day starts, where nobody says otherwise.
const DAY_START: u32 = 6;

/// Start a new ledger.
#[derive(Debug, clap::Args)]
pub(super) struct Open {
    /// The shop's name.
    #[arg(long)]
    name: String,
    /// The shop's named zone.
    #[arg(long, value_name = "ZONE")]
    zone: String,
    /// Hour at which the production day starts.
    #[arg(long, default_value_t = DAY_START)]
    day_start: u32,
    /// Make it a demo for ever: it takes its clock from --at.
    #[arg(long)]
    demo: bool,
}

impl Open {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let zone = self.zone.parse().map_err(|_| {
            Trouble::Input(format!(
                "zone \"{}\" is not known; write one such as America/New_York",
                self.zone
            ))
        })?;
        let calendar = Calendar {
            zone,
            day_start: self.day_start.min(23),
        };
        let system = Clock::system();
        let mut at = None;
        let clock = match (&desk.options.at, self.demo) {
            (Some(text), true) => {
                let given = read_time(&calendar, text, system.now())?;
                at = Some(given);
                Clock::starting_at(given)
            }
            (Some(_), false) => {
                return Err(Trouble::Input(
                    "--at is for questions and for a demo's clock; a real ledger takes the machine's time: leave --at out, or write --demo".to_owned(),
                ));
            }
            (None, true) => Clock::starting_at(system.now()),
            (None, false) => system,
        };
        let stamp = Stamp {
            written: at.unwrap_or_else(|| clock.now()),
            clock: if self.demo { "demo" } else { "system" },
            boot_ms: clock.boot_ms(),
        };
        let path = desk.path()?;
        let who = desk.who(None)?;
        let shop = NewShop {
            name: self.name,
            zone: self.zone,
            day_start: self.day_start,
            demo: self.demo,
        };
        let ledger = Ledger::create(&path, &shop, &who, &stamp)?;
        let line = format!(
            "ledger of {} opened at {}",
            ledger.name(),
            ledger.path().display()
        );
        desk.print(
            &json!({"ledger": ledger.path(), "shop": ledger.name(), "demo": ledger.demo()}),
            &[line],
        )?;
        Ok(0)
    }
}

/// Starts a ledger where the desk looks for it, as the first start asks for it: no demo, the usual production day.
pub(super) fn begin(desk: &Desk<'_>, name: &str, zone: &str) -> Result<(), Trouble> {
    let clock = Clock::system();
    let stamp = Stamp {
        written: clock.now(),
        clock: "system",
        boot_ms: clock.boot_ms(),
    };
    let shop = NewShop {
        name: name.to_owned(),
        zone: zone.to_owned(),
        day_start: DAY_START,
        demo: false,
    };
    Ledger::create(&desk.path()?, &shop, &desk.who(None)?, &stamp)?;
    Ok(())
}

/// Receive and list lots.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Lot {
    /// Receive a lot; it is bound to the newest adopted sheet of its material.
    Receive {
        /// The lot's number.
        lot: String,
        /// Material code.
        material: String,
        /// Volume with its unit, such as 20L or "55 gal".
        volume: String,
        /// End of its shelf life, as 2026-09-30 or 30.09.2026.
        #[arg(long)]
        expires: Option<String>,
        /// Delivery note or invoice.
        #[arg(long)]
        document: Option<String>,
        /// Where it was put; the store, if left out.
        #[arg(long)]
        place: Option<String>,
        /// More of a lot that is there already.
        #[arg(long)]
        further: bool,
        /// When it came; now, if left out.
        #[arg(long, value_name = "TIME")]
        received: Option<String>,
    },
    /// Bind a lot to another sheet of its material: what was calculated with the old one follows.
    Rebind {
        /// The lot's number.
        lot: String,
        /// The sheet revision, as printed on it.
        sheet: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
    /// The pieces that carry a lot: every one that has a coat with it, from the can or in a mix.
    Pieces {
        /// The lot's number.
        lot: String,
    },
    /// List lots.
    List,
}

// Says what moved: the months whose solvent changed, before and after.
fn rebind(desk: &mut Desk<'_>, shop: &mut Shop, lot: &str, sheet: &str, why: &str) -> Answer {
    let months = shop.ledger.months_with(lot)?;
    let sums = |shop: &Shop| -> Result<Vec<Totals>, Trouble> {
        months
            .iter()
            .map(|m| Ok(shop.ledger.month(m)?.totals))
            .collect()
    };
    let before = sums(shop)?;
    let saved = shop
        .ledger
        .rebind_lot(lot, sheet, why, &desk.who(None)?, &shop.stamp())?;
    let after = sums(shop)?;
    let mut lines = vec![format!(
        "lot {lot} is bound to sheet {sheet} from now on; films and sums follow (action {})",
        saved.action
    )];
    let mut moved = Vec::new();
    for ((month, old), new) in months.iter().zip(&before).zip(&after) {
        lines.push(format!(
            "  {month}: VOC {} -> {}, HAP {} -> {}",
            entries::grams(old.voc),
            entries::grams(new.voc),
            entries::grams(old.hap),
            entries::grams(new.hap)
        ));
        moved.push(
            json!({"month": month, "before": entries::totals(old), "after": entries::totals(new)}),
        );
    }
    desk.print(
        &json!({"saved": true, "action": saved.action, "months": moved}),
        &lines,
    )?;
    Ok(0)
}

impl Lot {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        match self {
            Self::Rebind { lot, sheet, why } => return rebind(desk, &mut shop, &lot, &sheet, &why),
            Self::Receive {
                lot,
                material,
                volume,
                expires,
                document,
                place,
                further,
                received,
            } => {
                let volume = Volume::read_within(&volume, None, 1, Volume::HIGH).map_err(input)?;
                let expires = expires
                    .map(|e| pieces_csv::read_date("expires", &e))
                    .transpose()
                    .map_err(Trouble::Input)?;
                let who = desk.who(None)?;
                let stamp = shop.stamp();
                let at = time_or(&shop.calendar, received.as_deref(), stamp.written)?;
                // By its code, whatever was typed; one that is not adopted is refused below.
                let found = shop.ledger.newest_material(&material);
                let material = found.map_or(material, |m| m.code.clone());
                let new = NewLot {
                    lot: lot.clone(),
                    material: material.clone(),
                    volume,
                    expires,
                    document,
                    place,
                    further,
                };
                let saved = shop.ledger.receive_lot(&new, at, &who, &stamp)?;
                let line = format!(
                    "lot {lot} of {material} received, {}",
                    volume.shown(desk.system(), 0)
                );
                desk.print(
                    &json!({"saved": true, "action": saved.action, "lot": lot}),
                    &[line],
                )?;
            }
            Self::Pieces { lot } => {
                let rows = shop.ledger.pieces_with_lot(&lot)?;
                let time = |m| shop.calendar.near(m, shop.now);
                let mut lines = vec![match rows.len() {
                    0 => format!("no piece carries lot {lot}, as far as coats are logged"),
                    1 => format!("1 piece carries lot {lot}"),
                    n => format!("{n} pieces carry lot {lot}"),
                }];
                lines.extend(rows.iter().map(|r| {
                    let s = if r.coats == 1 { "" } else { "s" };
                    let amount = r.volume.map_or_else(
                        || "amount not logged for all".to_owned(),
                        |v| v.shown(desk.system(), 0),
                    );
                    let when = if r.first == r.last {
                        time(r.first)
                    } else {
                        format!("{} to {}", time(r.first), time(r.last))
                    };
                    format!(
                        "  {:<10} {} coat{s}, {when}, {amount} of it",
                        r.serial, r.coats
                    )
                }));
                let value = json!({
                    "lot": lot,
                    "pieces": rows.iter().map(|r| json!({
                        "serial": r.serial, "coats": r.coats, "first": shop.calendar.rfc3339(r.first),
                        "last": shop.calendar.rfc3339(r.last), "volume_ul": r.volume.map(|v| v.0),
                    })).collect::<Vec<_>>(),
                });
                desk.print(&value, &lines)?;
            }
            Self::List => {
                let lots = shop.ledger.lots()?;
                let value = lots
                    .iter()
                    .map(|l| {
                        json!({
                            "lot": l.lot, "material": l.material, "sheet": l.sheet, "received_ul": l.volume.0,
                            "used_ul": l.used.0, "expires": l.expires.map(|d| d.date().to_string()),
                        })
                    })
                    .collect();
                let lines: Vec<String> = lots
                    .iter()
                    .map(|l| {
                        let ends = l
                            .expires
                            .map_or(String::new(), |d| format!(", shelf life ends {}", d.date()));
                        format!(
                            "{:<10} {:<6} sheet {:<6} received {:>12}, logged use {:>12}{ends}",
                            l.lot,
                            l.material,
                            l.sheet,
                            l.volume.shown(desk.system(), 0),
                            l.used.shown(desk.system(), 0)
                        )
                    })
                    .collect();
                desk.print(&value, &lines)?;
            }
        }
        Ok(0)
    }
}

fn input(e: impl std::fmt::Display) -> Trouble {
    Trouble::Input(e.to_string())
}

/// Make and list mixes.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Mix {
    /// Make a mix of lots: LOT=VOLUME for each part.
    Make {
        /// What people call it.
        name: String,
        /// Parts, such as L-221=3.00L; with --makes one lot without a volume fills the mix up.
        #[arg(required = true, value_name = "LOT=VOLUME")]
        parts: Vec<String>,
        /// A part by per cent, such as T-9=15%-of-mix or T-9=15%-added (of the parts that have a volume).
        #[arg(long, value_name = "LOT=PERCENT")]
        thin: Vec<String>,
        /// The volume of the whole mix.
        #[arg(long, value_name = "VOLUME")]
        makes: Option<String>,
        /// When it was made; now, if left out.
        #[arg(long, value_name = "TIME")]
        made: Option<String>,
        /// The mix that this one tops up.
        #[arg(long, value_name = "MIX")]
        tops_up: Option<u32>,
        /// What was measured to be left of that mix; what the log leaves of it, if left out.
        #[arg(long, value_name = "VOLUME", requires = "tops_up")]
        left: Option<String>,
        /// Where the lots lie; the store, if left out.
        #[arg(long, value_name = "PLACE")]
        from: Option<String>,
        /// Say what is to be read before it; save nothing.
        #[arg(long)]
        preview: bool,
        /// Although the shelf life of a lot is over; every piece that is sprayed with it is marked.
        #[arg(long)]
        anyway: bool,
    },
    /// List mixes, newest first.
    List,
}

impl Mix {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        match self {
            Self::Make {
                name,
                parts,
                thin,
                makes,
                made,
                tops_up,
                left,
                from,
                preview,
                anyway,
            } => {
                let parts = read_parts(&parts, &thin, makes.as_deref())?;
                let left = left
                    .map(|l| Volume::read(&l, None))
                    .transpose()
                    .map_err(input)?;
                shop.ledger.takes_deeds()?;
                let stamp = shop.stamp();
                let made = time_or(&shop.calendar, made.as_deref(), stamp.written)?;
                let expired = shop.ledger.expired_lots(&parts, made)?;
                if preview || (!expired.is_empty() && !anyway) {
                    return mix_asked(desk, &shop, &parts, &expired, made, preview);
                }
                let who = desk.who(None)?;
                let order = MixOrder {
                    name,
                    parts,
                    parent: tops_up,
                    left,
                    place: from,
                    made,
                };
                let mix = shop.ledger.make_mix(order, &who, &stamp)?;
                let found = shop.ledger.mix_made(mix)?;
                let mut lines = vec![mix_line(&found, desk.system())];
                let mut value = json!({
                    "saved": true, "mix": mix, "volume_ul": found.volume.0, "solids_ppm": found.solids.0,
                    "retarder_ppm": found.retarder.0,
                });
                if let (Some((parent, Some(rest))), Some(map)) =
                    (found.tops_up, value.as_object_mut())
                {
                    let how = if left.is_some() {
                        "as measured"
                    } else {
                        "as the log leaves it; --left says what was measured"
                    };
                    lines.push(format!(
                        "  with {} that was left of mix {parent}, {how}",
                        rest.shown(desk.system(), 0)
                    ));
                    map.insert("tops_up".to_owned(), json!(parent));
                    map.insert("left_ul".to_owned(), json!(rest.0));
                    map.insert("left_measured".to_owned(), json!(left.is_some()));
                }
                let of = AtUse {
                    when: When::Mixing,
                    cup: Cup::Mix(mix),
                    booth: None,
                    at: made,
                };
                print_with(desk, value, lines, aside(&shop, &of)?)?;
            }
            Self::List => {
                let mixes = shop.ledger.mixes()?;
                let mut list = Vec::with_capacity(mixes.len());
                for m in &mixes {
                    let totals = shop.ledger.mix_totals(m.mix, m.volume)?;
                    list.push(json!({
                        "mix": m.mix, "name": m.name, "made": shop.calendar.rfc3339(m.made), "volume_ul": m.volume.0,
                        "solids_ppm": m.solids.0, "retarder_ppm": m.retarder.0,
                        "voc_mg": totals.voc.0, "hap_mg": totals.hap.0,
                        "parts": m.parts.iter().map(|p| json!({"lot": p.lot, "volume_ul": p.volume.0})).collect::<Vec<_>>(),
                    }));
                }
                let lines: Vec<String> = mixes.iter().map(|m| mix_line(m, desk.system())).collect();
                desk.print(&list.into(), &lines)?;
            }
        }
        Ok(0)
    }
}

// What is to be read before a mix is made. A lot whose shelf life is over asks for a word: it is mixed with --anyway.
fn mix_asked(
    desk: &mut Desk<'_>,
    shop: &Shop,
    parts: &[Pour],
    expired: &[(String, Day)],
    made: Moment,
    preview: bool,
) -> Answer {
    let of = AtUse {
        when: When::Mixing,
        cup: Cup::Parts(parts),
        booth: None,
        at: made,
    };
    for part in parts {
        shop.ledger.lot_material(&part.lot)?;
    }
    let mut lines: Vec<String> = expired
        .iter()
        .map(|(lot, end)| format!("lot {lot}: shelf life ended {}", end.date()))
        .collect();
    lines.push(if preview {
        "a preview: nothing was saved".to_owned()
    } else {
        "nothing was saved; write --anyway if it is to be mixed: every piece that is sprayed with it is marked".to_owned()
    });
    let value = json!({
        "saved": false, "why": if preview { "preview" } else { "shelf_life" },
        "expired": expired.iter().map(|(lot, end)| json!({"lot": lot, "shelf_life_ended": end.date().to_string()}))
            .collect::<Vec<_>>(),
    });
    print_with(desk, value, lines, aside(shop, &of)?)?;
    Ok(if preview { 0 } else { 2 })
}

fn mix_line(m: &crate::ledger::MixRow, system: System) -> String {
    let parts: Vec<String> = m
        .parts
        .iter()
        .map(|p| format!("{} {}", p.lot, p.volume.shown(system, 0)))
        .collect();
    format!(
        "mix {} ({}): {}, {} solids by volume, {} retarder: {}",
        m.mix,
        m.name,
        m.volume.shown(system, 0),
        m.solids.text(2),
        m.retarder.text(2),
        parts.join(" + ")
    )
}

// The volumes of a mix: those that were typed, and those that follow from per cents. Only volumes are saved.
fn read_parts(
    parts: &[String],
    thin: &[String],
    makes: Option<&str>,
) -> Result<Vec<Pour>, Trouble> {
    let makes = makes
        .map(|m| Volume::read_within(m, None, 1, 1_000_000_000))
        .transpose()
        .map_err(|e| Trouble::Input(format!("makes: {e}")))?;
    let (stated, fills): (Vec<&String>, Vec<&String>) = parts.iter().partition(|p| p.contains('='));
    let stated = stated
        .into_iter()
        .map(|p| read_pour(p))
        .collect::<Result<Vec<_>, _>>()?;
    let fill = match (makes, fills.as_slice()) {
        (_, []) => None,
        (Some(_), [one]) => Some(one.trim()),
        (None, [one, ..]) => return read_pour(one).map(|p| vec![p]),
        (Some(_), many) => {
            return Err(Trouble::Input(format!(
                "{} parts have no volume; one part can fill the mix up, give the others theirs",
                many.len()
            )));
        }
    };
    let thin = thin
        .iter()
        .map(|t| read_percent(t))
        .collect::<Result<Vec<_>, _>>()?;
    thinning::parts(&stated, fill, &thin, makes).map_err(Trouble::Input)
}

// `T-9=15%-of-mix`, `T-9=15%-added`; a bare per cent is kept as such and refused with both meanings.
fn read_percent(text: &str) -> Result<PercentPart, Trouble> {
    let refuse = || {
        Trouble::Input(format!(
            "part \"{}\" is not understood; write LOT=PERCENT-of-mix or LOT=PERCENT-added, such as T-9=15%-of-mix",
            crate::shop::text::shown(text)
        ))
    };
    let (lot, share) = text.split_once('=').ok_or_else(refuse)?;
    let (share, of) = if let Some(share) = share.strip_suffix("-of-mix") {
        (share, Some(Of::Mix))
    } else if let Some(share) = share.strip_suffix("-added") {
        (share, Some(Of::Added))
    } else {
        (share, None)
    };
    let share = Share::read_within(share, Some("%"), 1, 900_000)
        .map_err(|e| Trouble::Input(format!("part {lot}: {e}")))?;
    Ok(PercentPart {
        lot: lot.trim().to_owned(),
        share,
        of,
    })
}

fn read_pour(text: &str) -> Result<Pour, Trouble> {
    let (lot, volume) = text.split_once('=').ok_or_else(|| {
        Trouble::Input(format!(
            "part \"{text}\" is not understood; write LOT=VOLUME, L-221=3.00L"
        ))
    })?;
    if let Some((share, _)) = volume.split_once('%') {
        let part = format!("{}={}", lot.trim(), share.trim());
        return Err(Trouble::Input(format!(
            "part {}: a per cent is no volume; write --thin {part}%-of-mix for that much of the finished mix, or --thin {part}%-added for that much on top of the parts that have a volume",
            crate::shop::text::shown(lot.trim())
        )));
    }
    let volume = Volume::read_within(volume, None, 1, 1_000_000_000)
        .map_err(|e| Trouble::Input(format!("part {lot}: {e}")))?;
    Ok(Pour {
        lot: lot.trim().to_owned(),
        volume,
    })
}

/// Reads a span of time such as `90 min`, `8m` or `1.5h`, between 0 and 400 days.
pub(super) fn read_span(text: &str) -> Result<Span, Trouble> {
    let reading = read(
        text,
        Dimension::Time,
        crate::units::find("min", Dimension::Time),
    )
    .map_err(input)?;
    reading
        .exact(3)
        .filter(|ms| (0..=400 * 86_400_000).contains(ms))
        .map(Span)
        .ok_or_else(|| {
            Trouble::Input(format!(
                "span \"{text}\" is outside 0 min to 400 d; write a shorter one"
            ))
        })
}

/// Declare rooms and take over their readings.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Room {
    /// Declare a room: with --every it has readings, without it has none.
    Declare {
        /// Its name.
        name: String,
        /// Sampling interval of its logger.
        #[arg(long, value_name = "SPAN")]
        every: Option<String>,
        /// What an hour after the newest reading is expected to count, 0 to 1.
        #[arg(long, default_value = "1.0")]
        forecast: String,
    },
    /// Take over readings from a CSV file with the columns time, temperature, humidity.
    Readings {
        /// The room.
        name: String,
        /// The file.
        file: PathBuf,
    },
    /// Enter a room's size and the air that goes through it.
    Air {
        /// The room.
        name: String,
        /// Its volume, such as 36m3.
        #[arg(long, required_unless_present = "flow")]
        volume: Option<String>,
        /// The air that goes through it, such as 3.66m3/s or 7750cfm.
        #[arg(long)]
        flow: Option<String>,
        /// Where the figures come from.
        #[arg(long)]
        source: String,
    },
    /// Enter how many pieces can hang in a room.
    Hooks {
        /// The room.
        name: String,
        /// How many, such as 320.
        hooks: u32,
        /// Where the figure comes from.
        #[arg(long)]
        source: String,
    },
    /// The newest reading of each room.
    List,
    /// When the rooms' air was not as it should be, and in one line for each room how many pieces it delayed, how many
    /// lost their day, and how many now miss their date.
    Excursions {
        /// One room; all logged ones, if left out.
        name: Option<String>,
        /// From when on; three days ago, if left out.
        #[arg(long, value_name = "TIME")]
        since: Option<String>,
    },
}

impl Room {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        if let Self::Air {
            name,
            volume,
            flow,
            source,
        } = &self
        {
            let figures = (volume.as_ref(), flow.as_ref());
            return super::duties::room_air(desk, name, figures, source);
        }
        let mut shop = desk.shop()?;
        match self {
            Self::Air { .. } => {}
            Self::Hooks {
                name,
                hooks,
                source,
            } => {
                let who = desk.who(None)?;
                let stamp = shop.stamp();
                let ledger = &mut shop.ledger;
                let saved = ledger.set_room_hooks(&name, hooks, &source, &who, &stamp)?;
                let what = format!("{} has {hooks} hooks", crate::shop::text::shown(&name));
                return desk.saved(&saved, &what, json!({"room": name, "hooks": hooks}));
            }
            Self::Declare {
                name,
                every,
                forecast,
            } => {
                let every = every.map(|t| read_span(&t)).transpose()?;
                let forecast = read(
                    &forecast,
                    Dimension::Fraction,
                    crate::units::find("fraction", Dimension::Fraction),
                )
                .map_err(input)?
                .exact(3)
                .filter(|p| (0..=1_000).contains(p))
                .ok_or_else(|| Trouble::Input(format!("forecast {forecast} is outside 0 to 1")))?;
                let who = desk.who(None)?;
                let saved =
                    shop.ledger
                        .declare_room(&name, every, forecast, &who, &shop.stamp())?;
                desk.print(
                    &json!({"saved": true, "action": saved.action}),
                    &[format!("room {name} declared")],
                )?;
            }
            Self::Readings { name, file } => {
                let shown = file.file_name().map_or_else(
                    || file.display().to_string(),
                    |n| n.to_string_lossy().into_owned(),
                );
                let samples = climate_csv::read(&read_file(&file)?, &shop.calendar)
                    .map_err(|rows| Trouble::Rows(shown.clone(), rows))?;
                let who = desk.who(None)?;
                let report =
                    shop.ledger
                        .add_readings(&name, &shown, &samples, &who, &shop.stamp())?;
                let line = format!(
                    "readings of {name}: {}",
                    loggers::brought(&report, &shop.calendar)
                );
                let mut value = loggers::brought_json(&report, &shop.calendar);
                let mut lines = vec![line];
                if let Some(text) = super::loggers::moved(&shop, &name, &samples, desk.system())? {
                    if let Some(map) = value.as_object_mut() {
                        map.insert("moved".to_owned(), text.clone().into());
                    }
                    lines.push(text);
                }
                desk.print(&value, &lines)?;
            }
            Self::Excursions { name, since } => {
                let ago = shop.now.minus(Span::hours(72));
                let since = since.map_or(Ok(ago), |t| read_time(&shop.calendar, &t, shop.now))?;
                let found = shop.ledger.excursions(name.as_deref(), since, shop.now)?;
                if let Some(name) = name.filter(|_| found.is_empty()) {
                    shop.ledger.room_interval(&name)?;
                }
                let (at, calendar) = (shop.now, shop.calendar);
                let rests_on = excursions::rests_on(&shop.ledger.working_words(at)?);
                let mut lines: Vec<String> = found
                    .iter()
                    .flat_map(|r| excursions::lines(r, at, &calendar, desk.system()))
                    .collect();
                // A page without an excursion tells nothing of what was before.
                lines.push(format!(
                    "looked at since {}; \"--since\" looks further back",
                    calendar.stamp(since)
                ));
                lines.push(rests_on.clone());
                let rooms: Vec<_> = found
                    .iter()
                    .map(|r| excursions::json(r, &calendar))
                    .collect();
                desk.print(
                    &json!({"at": calendar.rfc3339(at), "since": calendar.rfc3339(since), "rests_on": rests_on, "rooms": rooms}),
                    &lines,
                )?;
                // A figure beyond its bound, or a reading that is missing, now.
                let lasts = found.iter().flat_map(|r| &r.list).any(|e| e.to.is_none());
                return Ok(u8::from(lasts));
            }
            Self::List => {
                let climate = shop
                    .ledger
                    .climate(shop.now.minus(Span::hours(24)), shop.now)?;
                let mut list = Vec::new();
                let mut lines = Vec::new();
                for (name, air) in &climate.rooms {
                    let newest = air.samples.last();
                    list.push(json!({
                        "room": name, "logged": air.interval.is_some(),
                        "newest": newest.map(|s| shop.calendar.rfc3339(s.at)),
                        "temperature_mc": newest.map(|s| s.temperature.0),
                        "humidity_cpct": newest.and_then(|s| s.humidity).map(|h| h.0),
                    }));
                    lines.push(room_line(
                        name,
                        air.interval.is_some(),
                        newest,
                        &shop.calendar,
                        shop.now,
                        desk.system(),
                    ));
                }
                desk.print(&list.into(), &lines)?;
            }
        }
        Ok(0)
    }
}

fn room_line(
    name: &str,
    logged: bool,
    newest: Option<&crate::shop::climate::Sample>,
    calendar: &Calendar,
    now: Moment,
    system: System,
) -> String {
    match (logged, newest) {
        (false, _) => format!("{name}: no readings (cure counted slow)"),
        (true, None) => format!("{name}: unknown, no reading in the last day"),
        (true, Some(s)) => format!(
            "{name}: {}{} at {}",
            s.temperature.shown(system, 1),
            s.humidity
                .map_or(String::new(), |h| format!(", {}", h.text(0))),
            calendar.near(s.at, now)
        ),
    }
}
