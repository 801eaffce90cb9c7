//! Limits, the booth's face velocity and its checks.

use super::cautions::read_command;
use super::{Answer, Desk, Shop, Trouble, one_of, read_time, time_or};
use crate::ledger::{AtUse, Cup, PinDeed};
use crate::reports::book::Of;
use crate::reports::cautions as words;
use crate::reports::limits::{self, NewLimit};
use crate::reports::totals::Basis;
use crate::reports::{air, checks, content, thresholds};
use crate::shop::cautions::When;
use crate::shop::excursion::Outside;
use crate::shop::record::BoothSeen;
use crate::shop::text::{place_like, shown};
use crate::shop::words::Word;
use crate::units::{Amount, Pressure, Speed};
use serde_json::json;

/// Enter and list limits with their source.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Limit {
    /// Enter a limit: a booth's face velocity, filter rise or rounds of checks, a room's air, the solvent of a month or
    /// in a mix, an LEL, an exposure, what stands at a place, how long a drum may stand.
    Enter(Box<Enter>),
    /// List limits.
    List,
    /// Published thresholds as examples: entered by nobody, held against nothing.
    Examples,
    /// VOC in a volume of a mix or a material on its three bases, held against the limits on content.
    Content {
        /// Material code.
        #[arg(required_unless_present = "mix")]
        material: Option<String>,
        /// A mix by its number.
        #[arg(long, conflicts_with = "material")]
        mix: Option<u32>,
        /// Counts by this rule set, or "sheet"; without it by the shop's setting.
        #[arg(long, value_name = "CODE")]
        rules: Option<String>,
    },
}

/// A limit with its figure, basis and source.
#[derive(Debug, clap::Args)]
pub(super) struct Enter {
    /// The booth, or "all booths".
    #[arg(long, conflicts_with_all = ["of", "drum", "room", "of_content", "like", "lel_of", "stored", "exposure_of"])]
    booth: Option<String>,
    /// A waste drum, or "all drums": the value is how long it may stand at the most, such as 180d.
    #[arg(long, conflicts_with_all = ["of", "of_content", "like"])]
    drum: Option<String>,
    /// A material: the value is the lower explosive limit of its data sheet, such as 1.2%.
    #[arg(long, value_name = "MATERIAL", conflicts_with_all = ["of", "drum", "of_content", "like"])]
    lel_of: Option<String>,
    /// A place where liquids stand, or "all places": the value is the highest volume there, such as 200L.
    #[arg(long, value_name = "PLACE", conflicts_with_all = ["of", "drum", "of_content", "like", "lel_of"])]
    stored: Option<String>,
    /// A substance by CAS number or name: the value is its eight-hour exposure limit, such as 50ppm.
    #[arg(long, value_name = "SUBSTANCE", conflicts_with_all = ["of", "drum", "of_content", "like", "lel_of", "stored"])]
    exposure_of: Option<String>,
    /// The liquids that a cap on a place counts: "all liquids", "category 1", "categories 1 to 3", "categories 2 to 4" or "category 4".
    #[arg(long, requires = "stored", default_value = "all liquids")]
    class: String,
    /// A logged room: the value is a bound of its air, of the kind that --air names.
    #[arg(long, requires = "air", conflicts_with_all = ["drum", "of", "of_content", "like", "lel_of", "stored", "exposure_of"])]
    room: Option<String>,
    /// What the air of the room would be beyond the bound: 18C, 30C, 35%, 60%, "3 K diff" within an hour, or
    /// "8 K diff" above its dew point.
    #[arg(long, requires = "room", value_parser = one_of(["too cold", "too warm", "too dry", "too damp", "fast change", "near dew point"]))]
    air: Option<String>,
    /// The figure of the solvent book: VOC, HAP, or a substance by CAS number or name.
    #[arg(long)]
    of: Option<String>,
    /// VOC in a volume of a mix by its name, a material by its code, "all mixes" or "all materials".
    #[arg(long, value_name = "NAME", conflicts_with_all = ["of", "like"])]
    of_content: Option<String>,
    /// A published example, as "limit examples" lists them; the source is where the shop has it from.
    #[arg(long, value_name = "ID")]
    like: Option<String>,
    /// The figure with its unit: 100fpm of a face velocity, 24h of a check, 400kg of solvent, 680g/L of a content.
    #[arg(long, required_unless_present = "like", conflicts_with = "like")]
    value: Option<String>,
    /// What a face velocity is held against: average (if left out) or lowest; on which volume a content is calculated:
    /// material, "less exempt" (less water and exempt) or solids.
    #[arg(long, value_parser = one_of(["average", "lowest", "material", "less exempt", "solids"]))]
    basis: Option<String>,
    /// A share of a solvent limit at which a warning is given before, such as 80%; it can stand more than once.
    #[arg(long, value_name = "SHARE")]
    warn: Vec<String>,
    /// The rule set that this limit is counted by, where that is not the shop's own; "sheet" for the data sheets.
    #[arg(long, value_name = "CODE")]
    rules: Option<String>,
    /// The value is how often this is to be done in the booth at the longest.
    #[arg(long, requires = "booth", value_parser = one_of(["check", "survey"]))]
    every: Option<String>,
    /// The value is the rise of the filter gauge above its clean reading at which filters are changed.
    #[arg(long, requires = "booth", conflicts_with = "every")]
    filter_rise: bool,
    /// The value is the highest share of the lower explosive limit in the booth's exhaust, or in the room of that name.
    #[arg(long, requires = "booth", conflicts_with_all = ["every", "filter_rise"])]
    lel_share: bool,
    /// The period of a solvent limit: month, or twelve (the twelve months that end with a month).
    #[arg(long, default_value = "month", value_parser = one_of(["month", "twelve"]))]
    period: String,
    /// Where the figure comes from, such as "permit 12-34, condition 5"; no limit is entered without.
    #[arg(long)]
    source: Option<String>,
}

impl Enter {
    fn names_what(&self) -> bool {
        let named = [
            &self.of,
            &self.of_content,
            &self.booth,
            &self.room,
            &self.drum,
            &self.stored,
            &self.lel_of,
            &self.exposure_of,
            &self.like,
        ];
        named.into_iter().any(Option::is_some)
    }
}

// The limit that the words of a command name.
struct Wanted<'a> {
    booth: Option<&'a str>,
    drum: Option<&'a str>,
    lel_of: Option<&'a str>,
    stored: Option<(&'a str, &'a str)>,
    exposure_of: Option<&'a str>,
    air: Option<(&'a str, Outside)>,
    of: Option<&'a str>,
    of_content: Option<&'a str>,
    like: Option<&'a str>,
    value: &'a str,
    basis: Option<&'a str>,
    every: Option<&'a str>,
    filter_rise: bool,
    lel_share: bool,
    twelve: bool,
}

impl Wanted<'_> {
    fn read(&self, shop: &Shop) -> Result<NewLimit, Trouble> {
        let of = self.of.map(|of| Of::read(&shop.ledger, of)).transpose()?;
        let limit = if let Some(id) = self.like {
            thresholds::find(id).and_then(|e| e.limit(of.as_ref()))
        } else if let Some(drum) = self.drum {
            NewLimit::drum(drum, self.value)
        } else if let Some(material) = self.lel_of {
            let found = shop.ledger.newest_material(material)?;
            NewLimit::sheet_lel(&found.code, self.value)
        } else if let Some((place, class)) = self.stored {
            NewLimit::stored(place, class, self.value)
        } else if let Some(substance) = self.exposure_of {
            NewLimit::exposure(&Of::read(&shop.ledger, substance)?, self.value)
        } else if let Some((room, kind)) = self.air {
            shop.ledger.room_interval(room)?;
            NewLimit::air(kind, room, self.value)
        } else if let Some(name) = self.of_content {
            match self.basis.and_then(Basis::from_word) {
                Some(basis) => NewLimit::content(name, basis, self.value),
                None => Err(format!(
                    "a limit on content says on which volume it is calculated; write --basis with one of {}",
                    Basis::choices()
                )),
            }
        } else if let Some(of) = &of {
            NewLimit::solvent(of, self.twelve, self.value)
        } else {
            self.of_booth(self.booth.unwrap_or_default())
        };
        limit.map_err(Trouble::Input)
    }

    fn of_booth(&self, booth: &str) -> Result<NewLimit, String> {
        if self.filter_rise {
            return NewLimit::rise(booth, self.value);
        }
        if self.lel_share {
            return NewLimit::lel_share(booth, self.value);
        }
        match self.every {
            Some("check") => NewLimit::every(checks::Kind::Check, booth, self.value),
            Some(_) => NewLimit::every(checks::Kind::Survey, booth, self.value),
            None => match self.basis.unwrap_or("average") {
                basis @ ("average" | "lowest") => NewLimit::face(booth, basis, self.value),
                other => Err(format!(
                    "basis \"{other}\" is one of a content; a face velocity is held as average or lowest"
                )),
            },
        }
    }
}

fn list_limits(desk: &mut Desk<'_>, shop: &Shop) -> Result<(), Trouble> {
    let list = shop.ledger.ceilings()?;
    let lines: Vec<String> = list
        .iter()
        .map(|l| {
            format!(
                "{} of {}: {} on the {}{} (entered by {} on {}, source: {})",
                l.what,
                l.scope,
                l.typed,
                l.basis,
                limits::more(&l.warn, l.rules.as_deref()),
                l.person,
                shop.calendar.stamp(l.since),
                l.source
            )
        })
        .collect();
    let value = list
        .iter()
        .map(|l| {
            json!({
                "limit": l.what, "scope": l.scope, "value": l.value, "typed": l.typed, "basis": l.basis,
                "source": l.source, "entered_by": l.person, "since": shop.calendar.rfc3339(l.since),
                "warn_at_permille": l.warn, "rules": l.rules,
            })
        })
        .collect();
    desk.print(&value, &lines)
}

impl Limit {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        match self {
            Self::Enter(enter) => {
                if !enter.names_what() {
                    return Err(Trouble::Input(
                        "a limit of what? write one of --of, --of-content, --booth, --room, --drum, --stored, --lel-of, --exposure-of, --like".to_owned(),
                    ));
                }
                let source = enter.source.as_deref().ok_or_else(|| {
                    Trouble::Input(
                        "where does the figure come from? write it, such as --source \"permit 12-34, condition 5\""
                            .to_owned(),
                    )
                })?;
                let wanted = Wanted {
                    booth: enter.booth.as_deref(),
                    drum: enter.drum.as_deref(),
                    lel_of: enter.lel_of.as_deref(),
                    stored: enter.stored.as_deref().map(|p| (p, enter.class.as_str())),
                    exposure_of: enter.exposure_of.as_deref(),
                    air: enter
                        .room
                        .as_deref()
                        .zip(enter.air.as_deref().and_then(Outside::from_word)),
                    of: enter.of.as_deref(),
                    of_content: enter.of_content.as_deref(),
                    like: enter.like.as_deref(),
                    value: enter.value.as_deref().unwrap_or_default(),
                    basis: enter.basis.as_deref(),
                    every: enter.every.as_deref(),
                    filter_rise: enter.filter_rise,
                    lel_share: enter.lel_share,
                    twelve: enter.period == "twelve",
                };
                let limit = wanted
                    .read(&shop)?
                    .with(&enter.warn, enter.rules.as_deref())
                    .map_err(Trouble::Input)?;
                let who = desk.who(None)?;
                desk.authorise(&mut shop, PinDeed::Limit, &who)?;
                let stamp = shop.stamp();
                let saved = limit.enter(&mut shop.ledger, source, &who, &stamp)?;
                let line = format!("{}, source: {source}", limit.line());
                desk.print(&json!({"saved": true, "action": saved.action}), &[line])?;
            }
            Self::List => list_limits(desk, &shop)?,
            Self::Examples => {
                let all = thresholds::EXAMPLES;
                let mut lines = vec![thresholds::NOT_ENTERED.to_owned()];
                lines.extend(all.iter().map(|e| format!("  {}", e.line())));
                let list: Vec<_> = all.iter().map(thresholds::Example::json).collect();
                desk.print(
                    &json!({"examples": list, "note": thresholds::NOT_ENTERED}),
                    &lines,
                )?;
            }
            Self::Content {
                material,
                mix,
                rules,
            } => {
                let what = match mix {
                    Some(mix) => content::What::Mix(mix),
                    None => content::What::Material(material.unwrap_or_default()),
                };
                let found = content::contents(&shop.ledger, &what, rules.as_deref(), shop.now)?;
                desk.print(&found.json(), &found.lines(desk.system()))?;
                return Ok(u8::from(found.calls_for_attention()));
            }
        }
        Ok(0)
    }
}

/// Record a booth's face velocity and hold it against its limit.
#[derive(Debug, clap::Args)]
pub(super) struct Survey {
    /// The booth.
    booth: String,
    /// Readings over the open face, such as 104 98 101; a bare number is in fpm.
    #[arg(required = true)]
    readings: Vec<String>,
    /// How many readings the grid has.
    #[arg(long, default_value_t = 9)]
    grid: u32,
    /// Instrument and its calibration date.
    #[arg(long)]
    instrument: String,
}

impl Survey {
    pub(super) fn run(mut self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        self.booth = room_like(&shop, &self.booth)?;
        let readings = self
            .readings
            .iter()
            .map(|r| Speed::read(r, Some("fpm")))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|e| Trouble::Input(e.to_string()))?;
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        shop.ledger.record_survey(
            &self.booth,
            readings,
            self.grid,
            &self.instrument,
            stamp.written,
            &who,
            &stamp,
        )?;
        print_surveys(desk, &shop, Some(&self.booth))
    }
}

/// Record a check of a booth.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Booth {
    /// The booth was looked at before spraying: fan, gauge, filters.
    Check {
        /// The booth, by the name of its room.
        booth: String,
        /// What was seen, such as "fan runs".
        #[arg(long)]
        note: Option<String>,
        /// Reading of the filter gauge with the fan running, such as 0.44inwc or 110Pa.
        #[arg(long)]
        gauge: Option<String>,
        /// New filters were put in: this reading is the clean one.
        #[arg(long, requires = "gauge")]
        new_filters: bool,
        /// When; now, if left out.
        #[arg(long, value_name = "TIME")]
        checked: Option<String>,
        /// Who did it, where that is not you.
        #[arg(long, value_name = "INITIALS")]
        by: Option<String>,
    },
    /// Booth, ducts and filters were freed of deposits: what was sprayed before lies there no more, by the record.
    Cleaned {
        /// The booth, by the name of its room.
        booth: String,
        /// What was done.
        #[arg(long)]
        note: Option<String>,
        /// When; now, if left out.
        #[arg(long, value_name = "TIME")]
        done: Option<String>,
        /// Who did it, where that is not you.
        #[arg(long, value_name = "INITIALS")]
        by: Option<String>,
    },
    // A booth is a room, and people look for its declaration here.
    #[command(hide = true)]
    Declare {
        #[arg(trailing_var_arg = true, allow_hyphen_values = true)]
        rest: Vec<String>,
    },
}

// Whoever looks at a booth, or has cleaned it, is told what to look for: by the hazards of the newest mix.
fn at_the_booth(
    shop: &Shop,
    booth: &str,
) -> Result<(Vec<serde_json::Value>, Vec<String>), Trouble> {
    let newest = shop.ledger.newest_mix()?;
    let cup = newest.map_or(Cup::Unknown, Cup::Mix);
    let read = format!("{} --when \"booth check\"", read_command(cup, Some(booth)));
    let due = shop.ledger.cautions_due(&AtUse {
        when: When::BoothCheck,
        cup,
        booth: Some(booth),
        at: shop.now,
    })?;
    let contacts = shop.ledger.contacts(shop.now)?;
    let values = due.iter().map(|d| words::json_of(d, &contacts)).collect();
    Ok((values, words::beside(&due, &contacts, &read)))
}

impl Booth {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let (booth, note, gauge, new_filters, checked, by) = match self {
            Self::Check {
                booth,
                note,
                gauge,
                new_filters,
                checked,
                by,
            } => (booth, note, gauge, new_filters, checked, by),
            Self::Declare { rest } => {
                let name = rest.first().map_or("booth 1", String::as_str);
                return Err(Trouble::Input(format!(
                    "a booth is declared as a room: hangtime room declare \"{}\"",
                    shown(name)
                )));
            }
            Self::Cleaned {
                booth,
                note,
                done,
                by,
            } => {
                let mut shop = desk.shop()?;
                let booth = room_like(&shop, &booth)?;
                let who = desk.who(by.as_deref())?;
                let stamp = shop.stamp();
                let at = time_or(&shop.calendar, done.as_deref(), stamp.written)?;
                let saved = shop
                    .ledger
                    .booth_cleaned(&booth, note.as_deref(), at, &who, &stamp)?;
                let what = format!(
                    "{booth} cleaned at {}",
                    shop.calendar.near(at, stamp.written)
                );
                return desk.saved(&saved, &what, json!({"booth": booth}));
            }
        };
        let gauge = gauge
            .map(|g| Pressure::read(&g, None))
            .transpose()
            .map_err(|e| Trouble::Input(e.to_string()))?;
        let seen = BoothSeen {
            note,
            gauge,
            new_filters,
        };
        let mut shop = desk.shop()?;
        let booth = room_like(&shop, &booth)?;
        let who = desk.who(by.as_deref())?;
        let stamp = shop.stamp();
        let at = time_or(&shop.calendar, checked.as_deref(), stamp.written)?;
        let saved = shop.ledger.record_check(&booth, &seen, at, &who, &stamp)?;
        let (cautions, beside) = at_the_booth(&shop, &booth)?;
        let mut lines = vec![format!(
            "saved: {booth} checked at {} (action {})",
            shop.calendar.near(at, stamp.written),
            saved.action
        )];
        lines.extend(beside);
        desk.print(
            &json!({"saved": true, "action": saved.action, "booth": booth, "cautions": cautions}),
            &lines,
        )?;
        Ok(0)
    }
}

/// The room that is meant, however its name is written: `BOOTH-1` is `booth 1`.
pub(super) fn room_like(shop: &Shop, name: &str) -> Result<String, Trouble> {
    let rooms = shop.ledger.rooms()?;
    if let Some(room) = place_like(rooms.iter().map(String::as_str), name) {
        return Ok(room.to_owned());
    }
    // A check or a survey of a booth that no room is named after would end nothing that a coat there is told.
    Err(Trouble::Input(format!(
        "booth \"{}\" is no room that a piece hangs in or that was declared; write one of {}",
        crate::shop::text::shown(name),
        if rooms.is_empty() {
            "none: declare it with \"hangtime room declare\"".to_owned()
        } else {
            rooms.join(", ")
        }
    )))
}

/// Record that a booth's exhaust stopped.
#[derive(Debug, clap::Args)]
pub(super) struct PowerCut {
    /// The booth, by the name of its room.
    #[arg(long)]
    booth: String,
    /// When the exhaust stopped.
    #[arg(long, value_name = "TIME")]
    from: String,
    /// When it ran again, where that is known.
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
}

impl PowerCut {
    pub(super) fn run(mut self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        self.booth = room_like(&shop, &self.booth)?;
        let who = desk.who(None)?;
        let stamp = shop.stamp();
        let time = |t: &str| read_time(&shop.calendar, t, stamp.written);
        let from = time(&self.from)?;
        let to = self.to.as_deref().map(time).transpose()?;
        let report = shop
            .ledger
            .record_outage(&self.booth, from, to, &who, &stamp)?;
        let near = |m| shop.calendar.near(m, stamp.written);
        let n = report.wet.len();
        let s = if n == 1 { "" } else { "s" };
        let mut lines = vec![format!(
            "saved: exhaust of {} stopped at {}, {n} wet piece{s} there to look at (action {})",
            self.booth,
            near(from),
            report.saved.action
        )];
        lines.extend(
            report
                .wet
                .iter()
                .map(|(serial, ended)| format!("  {serial}: last wet {}", near(*ended))),
        );
        lines.push(format!(
            "  no exhaust state is known in {}: a booth check is due before the next spray (hangtime booth check)",
            self.booth
        ));
        let value = json!({
            "saved": true, "action": report.saved.action, "booth": self.booth, "exhaust": "unknown",
            "from": shop.calendar.rfc3339(from), "to": to.map(|m| shop.calendar.rfc3339(m)),
            "wet": report.wet.iter().map(|(serial, ended)| json!({
                "serial": serial, "last_wet": shop.calendar.rfc3339(*ended),
            })).collect::<Vec<_>>(),
        });
        desk.print(&value, &lines)?;
        Ok(0)
    }
}

/// The newest survey of each booth, and the checks that are due.
pub(super) fn booths(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    print_surveys(desk, &shop, None)
}

// Exit code 1 when air is below its limit or the grid is incomplete: somebody has to look.
fn print_surveys(desk: &mut Desk<'_>, shop: &Shop, only: Option<&str>) -> Answer {
    let limits = shop.ledger.ceilings()?;
    let mut code = 0;
    let (mut values, mut lines) = (Vec::new(), Vec::new());
    for survey in shop
        .ledger
        .surveys()?
        .iter()
        .filter(|s| only.is_none_or(|b| b == s.booth))
    {
        let held = air::held(survey, &limits, &shop.calendar);
        if matches!(held.side, "under" | "unknown") {
            code = 1;
        }
        values.push(air::json_of(survey, &held, &shop.calendar));
        lines.push(held.words);
    }
    let surveyed = !lines.is_empty();
    for check in checks::checks(&shop.ledger, shop.now)?
        .iter()
        .filter(|c| only.is_none_or(|b| b == c.booth))
    {
        if matches!(
            check.state,
            checks::State::Overdue | checks::State::AtMark | checks::State::TooLow
        ) {
            code = 1;
        }
        values.push(check.json(&shop.calendar));
        lines.push(check.line(&shop.calendar, shop.now));
    }
    // Somebody has to go and look: a needed reading is missing.
    for stop in shop
        .ledger
        .exhaust_unknown(shop.now)?
        .iter()
        .filter(|s| only.is_none_or(|b| b == s.booth))
    {
        code = 1;
        values.push(json!({
            "booth": stop.booth, "exhaust": "unknown", "stopped": shop.calendar.rfc3339(stop.from),
            "ran_again": stop.to.map(|m| shop.calendar.rfc3339(m)), "check": "due",
        }));
        lines.push(format!(
            "{}: no exhaust state is known since it stopped at {}; a booth check is due",
            stop.booth,
            shop.calendar.near(stop.from, shop.now)
        ));
    }
    let since = checks::missed_since(&shop.calendar, shop.now)?;
    let mut missed = shop.ledger.missed_checks(since, shop.now)?;
    missed.retain(|m| only.is_none_or(|b| b == m.booth));
    // What was missed stays on the list; today's asks for somebody.
    if missed.iter().any(|m| m.day == shop.calendar.day(shop.now)) {
        code = 1;
    }
    if !missed.is_empty() {
        lines.extend(checks::missed_lines(&missed));
        let date = shop.calendar.day(since).date().format("%-d %b %Y");
        lines.push(format!(
            "  missed checks are listed from {date} on; each month's stand in its book"
        ));
    }
    values.extend(checks::missed_json(&missed, &shop.calendar));
    if !surveyed {
        lines.push("no survey is recorded: the face velocity of every booth is unknown".to_owned());
        code = 1;
    }
    desk.print(&values.into(), &lines)?;
    Ok(code)
}
