//! Limits, the booth's face velocity, and cautions.

use super::{Answer, Desk, Trouble};
use crate::reports::air;
use crate::shop::cautions::{self, Hazard, STANDING_LINE, When};
use crate::units::{Amount, Speed};
use serde_json::json;

/// Enter and list limits with their source.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Limit {
    /// Enter a face-velocity limit of a booth.
    Enter {
        /// The booth, or "all booths".
        #[arg(long)]
        booth: String,
        /// The figure with its unit, such as 100fpm.
        #[arg(long)]
        value: String,
        /// What it is held against: average or lowest.
        #[arg(long, default_value = "average", value_parser = ["average", "lowest"])]
        basis: String,
        /// Where the figure comes from.
        #[arg(long)]
        source: String,
    },
    /// List limits.
    List,
}

impl Limit {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
        match self {
            Self::Enter {
                booth,
                value,
                basis,
                source,
            } => {
                let speed = Speed::read_within(&value, None, 1, Speed::HIGH)
                    .map_err(|e| Trouble::Input(e.to_string()))?;
                let who = desk.who(None)?;
                let saved = shop.ledger.enter_limit(
                    air::FACE_VELOCITY,
                    &booth,
                    speed.0,
                    &value,
                    &basis,
                    &source,
                    &who,
                    &shop.stamp(),
                )?;
                let line = format!(
                    "limit {} of {booth}: {value} on the {basis}, source: {source}",
                    air::FACE_VELOCITY
                );
                desk.print(&json!({"saved": true, "action": saved.action}), &[line])?;
            }
            Self::List => {
                let list = shop.ledger.ceilings()?;
                let lines: Vec<String> = list
                    .iter()
                    .map(|l| {
                        format!(
                            "{} of {}: {} on the {} (entered by {} on {}, source: {})",
                            l.what,
                            l.scope,
                            l.typed,
                            l.basis,
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
                        })
                    })
                    .collect();
                desk.print(&value, &lines)?;
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
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let mut shop = desk.shop()?;
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

/// The newest survey of each booth.
pub(super) fn booths(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    print_surveys(desk, &shop, None)
}

// Exit code 1 when air is below its limit or the grid is incomplete: somebody has to look.
fn print_surveys(desk: &mut Desk<'_>, shop: &super::Shop, only: Option<&str>) -> Answer {
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
    if lines.is_empty() {
        lines.push("no survey is recorded: the face velocity of every booth is unknown".to_owned());
        code = 1;
    }
    desk.print(&values.into(), &lines)?;
    Ok(code)
}

/// The cautions that belong to a material or mix.
#[derive(Debug, clap::Args)]
pub(super) struct Cautions {
    /// Material code; all materials of a mix with --mix.
    material: Option<String>,
    /// A mix by its number.
    #[arg(long, conflicts_with = "material")]
    mix: Option<u32>,
    /// The moment of use: mixing, spraying, flash-off, curing, sanding, buffing, cleaning, storing, ...
    #[arg(long, default_value = "spraying")]
    when: String,
}

impl Cautions {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let when = When::from_word(&self.when).ok_or_else(|| {
            let list: Vec<&str> = When::ALL.iter().map(|w| w.word()).collect();
            Trouble::Input(format!(
                "moment \"{}\" is not known; write one of {}",
                self.when,
                list.join(", ")
            ))
        })?;
        let shop = desk.shop()?;
        let mut materials = Vec::new();
        if let Some(mix) = self.mix {
            let found = shop.ledger.mixes()?.into_iter().find(|m| m.mix == mix);
            let found = found.ok_or_else(|| Trouble::Input(format!("mix {mix} was not made")))?;
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
            lines.extend(c.lines());
            lines.push(format!("    source: {}", c.source));
            lines.push(format!("    ask: {}", c.ask));
        }
        lines.push(STANDING_LINE.to_owned());
        let value = json!({
            "when": when.word(),
            "hazards": hazards.iter().map(|h| h.word()).collect::<Vec<_>>(),
            "cautions": list.iter().map(|c| json!({"id": c.id, "text": c.text, "source": c.source, "ask": c.ask})).collect::<Vec<_>>(),
            "standing_line": STANDING_LINE,
        });
        desk.print(&value, &lines)?;
        Ok(0)
    }
}
