//! The deeds of a whole process besides coats and sandings, and deeds that are begun and ended apart.

use super::cautions::coat_aside;
use super::deed::{Aside, Common, How, Whom, kept, read_grits, read_kind, read_word};
use super::{Answer, Desk, Shop, Trouble, one_of};
use crate::ledger::{DeedRequest, DeedWhat, Plan};
use crate::reports::receiving;
use crate::shop::record::{Fact, Finding};
use crate::shop::text::shown;
use crate::shop::words::{Defect, Fit, StepKind, Verdict, Word};
use crate::units::{Amount, Dimension, Moment, Share, Span, System, find, read};

/// Take in white wood.
#[derive(Debug, clap::Args)]
pub(super) struct Receive {
    #[command(flatten)]
    common: Common,
    /// Final grit of the wood with its scale, such as P220.
    #[arg(long)]
    grit: Option<String>,
    /// Moisture content at one spot, such as 7.2%; may be given several times.
    #[arg(long, value_name = "PERCENT")]
    moisture: Vec<String>,
    /// What the light table showed on a top.
    #[arg(long, value_name = "TEXT")]
    light_table: Option<String>,
    /// What becomes of the piece: take, hold or return.
    #[arg(long, default_value = "take", value_parser = one_of(["take", "hold", "return"]))]
    verdict: String,
}

/// Log masking and hanging.
#[derive(Debug, clap::Args)]
pub(super) struct Mask {
    #[command(flatten)]
    common: Common,
    /// Kind of tape, and what it covers.
    #[arg(long, value_name = "TEXT")]
    tape: Option<String>,
}

/// Log one stage of buffing.
#[derive(Debug, clap::Args)]
pub(super) struct Buff {
    #[command(flatten)]
    common: Common,
    /// The wheel.
    #[arg(long)]
    wheel: Option<String>,
    /// The compound on it.
    #[arg(long)]
    compound: Option<String>,
}

/// Log a cure under a lamp.
#[derive(Debug, clap::Args)]
pub(super) struct Light {
    #[command(flatten)]
    common: Common,
    /// Dose on the film, such as 960mJ/cm2.
    #[arg(long, value_name = "DOSE")]
    dose: Option<String>,
    /// Peak irradiance, such as 120mW/cm2.
    #[arg(long, value_name = "IRRADIANCE")]
    peak: Option<String>,
    /// The lamp.
    #[arg(long)]
    lamp: Option<String>,
}

/// Log an inspection, place by place.
#[derive(Debug, clap::Args)]
pub(super) struct Inspect {
    #[command(flatten)]
    common: Common,
    /// The light box.
    #[arg(long)]
    light_box: Option<String>,
    /// What was found: "surface,grade,defect,size,place,verdict", such as "top,A,run,4mm,by the cutaway,rework".
    #[arg(long, value_name = "FINDING")]
    finding: Vec<String>,
}

/// Log that a body and its neck were joined.
#[derive(Debug, clap::Args)]
pub(super) struct Mate {
    #[command(flatten)]
    common: Common,
    /// The trial fit: snug, tight or loose.
    #[arg(long)]
    fit: Option<String>,
    /// How they are joined: glued, bolted, ...
    #[arg(long, value_name = "TEXT")]
    joint: Option<String>,
}

/// Say that a deed has begun.
#[derive(Debug, clap::Args)]
pub(super) struct Begin {
    /// The kind of deed, where it is not what the recipe asks for next; then the pieces.
    #[arg(value_name = "KIND or PIECE")]
    words: Vec<String>,
    #[command(flatten)]
    whom: Whom,
    #[command(flatten)]
    how: How,
}

/// Say that a begun deed is done, with nothing more to record of it.
#[derive(Debug, clap::Args)]
pub(super) struct End {
    #[command(flatten)]
    common: Common,
}

/// Say that a begun deed was broken off before it was done to these pieces.
#[derive(Debug, clap::Args)]
pub(super) struct BreakOff {
    #[command(flatten)]
    common: Common,
    /// Why.
    #[arg(long)]
    why: String,
}

impl Receive {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let moisture = self
            .moisture
            .iter()
            .map(|m| Share::read(m, Some("%")))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|e| Trouble::Input(format!("moisture: {e}")))?;
        let fact = Fact::Received {
            grit: read_grits(self.grit.as_deref())?,
            moisture: moisture.clone(),
            light_table: kept("light table", self.light_table.as_deref(), 200)?,
            verdict: read_word::<Verdict>("verdict", &self.verdict)?,
        };
        let mut request = self.common.request(desk, &shop, DeedWhat::Other(fact))?;
        request.typed = (!self.moisture.is_empty()).then(|| self.moisture.join("; "));
        let system = desk.system();
        self.common
            .go_with(desk, shop, &request, |shop, request, plan| {
                beside_the_air(shop, request, plan, &moisture, system)
            })
    }
}

// The wood beside the air of each logged room in which the pieces hang.
fn beside_the_air(
    shop: &Shop,
    request: &DeedRequest,
    plan: &Plan,
    moisture: &[Share],
    system: System,
) -> Result<Aside, Trouble> {
    let mut rooms: Vec<&str> = plan
        .taken()
        .filter_map(|p| p.now.place_at(request.began).or_else(|| p.now.place()))
        .filter_map(|s| s.room.as_deref())
        .collect();
    rooms.sort_unstable();
    rooms.dedup();
    let day_before: Moment = request.ended.minus(Span::hours(24));
    let climate = shop.ledger.climate(day_before, request.ended)?;
    let mut aside = Aside::default();
    let mut values = Vec::new();
    for (name, air) in &climate.rooms {
        if air.interval.is_none() || !rooms.contains(&name.as_str()) {
            continue;
        }
        let newest = air.samples.iter().rev().find(|s| s.at <= request.ended);
        let (line, value) = receiving::beside(
            name,
            newest,
            moisture,
            request.ended,
            &shop.calendar,
            system,
        );
        aside.lines.push(line);
        values.push(value);
    }
    aside.values.push(("air", values.into()));
    Ok(aside)
}

impl Mask {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let tape = kept("tape", self.tape.as_deref(), 120)?;
        other(desk, &self.common, Fact::Masked { tape })
    }
}

impl Buff {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let fact = Fact::Buffed {
            wheel: kept("wheel", self.wheel.as_deref(), 30)?,
            compound: kept("compound", self.compound.as_deref(), 30)?,
        };
        other(desk, &self.common, fact)
    }
}

impl Light {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let dose = self
            .dose
            .as_deref()
            .map(|t| read_per_area("dose", t, Dimension::Dose, "960mJ/cm2"))
            .transpose()?;
        let peak = self
            .peak
            .as_deref()
            .map(|t| read_per_area("peak", t, Dimension::Irradiance, "120mW/cm2"))
            .transpose()?;
        let fact = Fact::Lit {
            dose,
            peak,
            lamp: kept("lamp", self.lamp.as_deref(), 30)?,
        };
        other(desk, &self.common, fact)
    }
}

// A dose in uJ/cm2 or an irradiance in uW/cm2: 0 to 100 of the whole unit.
fn read_per_area(
    name: &str,
    text: &str,
    dimension: Dimension,
    example: &str,
) -> Result<i64, Trouble> {
    read(text, dimension, None)
        .map_err(|e| Trouble::Input(format!("{name}: {e}")))?
        .exact(2)
        .filter(|n| (0..=100_000_000).contains(n))
        .ok_or_else(|| {
            Trouble::Input(format!(
                "{name} \"{}\" is outside 0 to 100 in the whole unit; write such as {example}",
                shown(text)
            ))
        })
}

impl Inspect {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let findings = self
            .finding
            .iter()
            .map(|f| read_finding(f))
            .collect::<Result<Vec<_>, _>>()?;
        let light = kept("light box", self.light_box.as_deref(), 30)?;
        other(desk, &self.common, Fact::Inspected { light, findings })
    }
}

/// Reads a size across in um, such as 4mm; 0 to 1 m.
pub(super) fn read_size(text: &str) -> Result<i64, Trouble> {
    read(text, Dimension::Length, find("mm", Dimension::Length))
        .map_err(|e| Trouble::Input(format!("size: {e}")))?
        .exact(6)
        .filter(|um| (1..=1_000_000).contains(um))
        .ok_or_else(|| {
            Trouble::Input(format!(
                "size \"{}\" is outside 0.001 mm to 1 m; write such as 4mm",
                shown(text)
            ))
        })
}

fn read_finding(text: &str) -> Result<Finding, Trouble> {
    let fields: Vec<&str> = text.split(',').map(str::trim).collect();
    let [surface, grade, defect, size, place, verdict] = fields.as_slice() else {
        return Err(Trouble::Input(format!(
            "finding \"{}\" has {} fields; write six: surface,grade,defect,size,place,verdict, and leave one empty that is not known",
            shown(text),
            fields.len()
        )));
    };
    let some = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    let grade = match *grade {
        "A" => 'A',
        "B" => 'B',
        "C" => 'C',
        other => {
            return Err(Trouble::Input(format!(
                "grade \"{}\" is not known; write A, B or C",
                shown(other)
            )));
        }
    };
    Ok(Finding {
        surface: surface.to_string(),
        grade,
        defect: some(defect)
            .filter(|d| d != "none")
            .map(|d| read_word::<Defect>("defect", &d))
            .transpose()?,
        size_um: some(size).map(|s| read_size(&s)).transpose()?,
        place: kept("place", some(place).as_deref(), 60)?,
        verdict: read_word::<Verdict>("verdict", verdict)?,
    })
}

impl Mate {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let fit = self
            .fit
            .as_deref()
            .map(|f| read_word::<Fit>("fit", f))
            .transpose()?;
        let joint = kept("joint", self.joint.as_deref(), 60)?;
        // The other half is filled in for each half from the record.
        let fact = Fact::Mated {
            with: String::new(),
            fit,
            joint,
        };
        other(desk, &self.common, fact)
    }
}

impl Begin {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let named = self.words.first().and_then(|w| StepKind::typed(w));
        let kind = named
            .map(|k| read_kind(k.word(), |k| !k.waits()))
            .transpose()?;
        let pieces = self.words.get(usize::from(kind.is_some())..);
        let target = self.whom.target(pieces.unwrap_or_default())?;
        let mut request = self
            .how
            .request(desk, &shop, target, DeedWhat::Begin { kind })?;
        self.whom.fill(&mut request);
        self.how.go_with(desk, shop, &request, coat_aside)
    }
}

impl End {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let shop = desk.shop()?;
        let request = self.common.request(desk, &shop, DeedWhat::End)?;
        self.common.go(desk, shop, &request)
    }
}

impl BreakOff {
    pub(super) fn run(self, desk: &mut Desk<'_>) -> Answer {
        let why = crate::shop::text::clean("why", &self.why, 500).map_err(Trouble::Input)?;
        other(desk, &self.common, Fact::BrokenOff { why })
    }
}

fn other(desk: &mut Desk<'_>, common: &Common, fact: Fact) -> Answer {
    let shop = desk.shop()?;
    let request = common.request(desk, &shop, DeedWhat::Other(fact))?;
    common.go(desk, shop, &request)
}

/// The deeds that are begun and not ended.
pub(super) fn begun(desk: &mut Desk<'_>) -> Answer {
    let shop = desk.shop()?;
    let floor = shop.ledger.floor(shop.now, None)?;
    let open = crate::reports::racks::open_deeds(&floor);
    let value = open.iter().map(|o| o.json(&shop.calendar)).collect();
    let mut lines: Vec<String> = open
        .iter()
        .map(|o| o.line(shop.now, &shop.calendar))
        .collect();
    if lines.is_empty() {
        lines.push("no begun deed is open".to_owned());
    }
    desk.print(&value, &lines)?;
    Ok(0)
}
