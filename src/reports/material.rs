//! A material by its data sheet as a person reads it, for the command line and the screens, and as JSON.
//!
//! *Not here*: reading the file (`shop::material_file`), what to do about a hazard (`shop::cautions`).

use super::sheets::{Part, Said};
use super::totals::content;
use crate::ledger::LotRow;
use crate::science::voc::kept_content;
use crate::shop::material::{BLEND_SOURCE, Material, OTHER_VOLATILE, Totals};
use crate::shop::remarks::remarks;
use crate::shop::words::Word;
use crate::units::{Amount, Density, Share, System, Volume};
use chrono::NaiveDate;
use serde_json::{Value, json};

/// A lot of the sheet, in words: what is left by the log, and its shelf life as seen from `today`.
pub fn lot(row: &LotRow, today: NaiveDate, system: System) -> Vec<String> {
    let mut details = vec![
        format!("received {}", row.volume.shown(system, 0)),
        format!("logged use {}", row.used.shown(system, 0)),
    ];
    details.push(expiry(row, today));
    details
}

/// The shelf life of a lot, as seen from `today`.
pub fn expiry(row: &LotRow, today: NaiveDate) -> String {
    match row.expires.map(crate::shop::calendar::Day::date) {
        None => "shelf life unknown".to_owned(),
        Some(end) if end < today => format!("SHELF LIFE ENDED {end}"),
        Some(end) => format!("shelf life ends {end}"),
    }
}

/// Whether there is still something of a lot, by the log.
pub const fn in_use(row: &LotRow) -> bool {
    row.used.0 < row.volume.0
}

/// The sheet's lines, with its lots as seen from `today`; `text` is the file as it was adopted.
pub fn lines(
    m: &Material,
    text: &str,
    lots: &[LotRow],
    today: NaiveDate,
    system: System,
) -> Vec<Said> {
    let fact = |key: &str, lead: &str, details: Vec<String>| {
        Said::new(Part::Fact, key, format!("  {lead}"), details)
    };
    let mut out = vec![
        Said::new(
            Part::Title,
            "material",
            format!("{} sheet {}  ", m.code, m.sheet),
            vec![format!(
                "{}  ({}, dries by {})",
                m.name,
                m.kind.word(),
                m.drying.word()
            )],
        ),
        fact("date", "sheet dated ", vec![m.sheet_date.to_string()]),
    ];
    let hazards = if m.hazards.is_empty() {
        vec!["the sheet names none".to_owned()]
    } else {
        m.hazards.clone()
    };
    out.push(fact("hazards", "hazards: ", hazards));
    for (n, caution) in m.cautions.iter().enumerate() {
        out.push(fact(
            &format!("caution {n}"),
            "the sheet says: ",
            vec![caution.clone()],
        ));
    }
    let flash = m.flash_point.map_or_else(
        || "flash point unknown".to_owned(),
        |t| format!("flash point {}", t.shown(system, 0)),
    );
    out.push(fact(
        "figures",
        "density ",
        vec![
            content(Some(m.density), system),
            format!("VOC {} as supplied", content(supplied(m), system)),
            format!("solids {} by weight", m.weight_solids.text(1)),
            format!("{} by volume", m.volume_solids.text(1)),
            flash,
        ],
    ));
    out.push(Said::new(
        Part::Head,
        "contains",
        "  contains, by weight",
        Vec::new(),
    ));
    for p in &m.parts {
        let mut details = vec![range(p.low, p.high)];
        if p.counts.water {
            details.push("water".to_owned());
        } else if p.solid {
            details.push("solid, not counted as VOC".to_owned());
        } else if p.counts.exempt {
            details.push("not counted as VOC".to_owned());
        } else {
            details.push("VOC".to_owned());
        }
        if p.counts.hap {
            details.push("HAP".to_owned());
        }
        if let Some(blend) = p.blend {
            details.push(format!(
                "{} of it counted as HAP, the default of {}: {BLEND_SOURCE}",
                blend.hap.text(1),
                blend.name
            ));
        }
        out.push(Said::new(
            Part::Item,
            format!("part {}", p.cas),
            format!("    {:<28} {:<12} ", p.name, p.cas),
            details,
        ));
    }
    if let Some(rest) = m.counted().iter().find(|c| c.cas == OTHER_VOLATILE) {
        out.push(Said::new(
            Part::Item,
            "part other",
            format!("    {:<28} {:<12} ", OTHER_VOLATILE, "-"),
            vec![
                rest.share.text(1),
                "VOC".to_owned(),
                "no substance is named for it".to_owned(),
            ],
        ));
    }
    if !lots.is_empty() {
        out.push(Said::new(Part::Head, "lots", "  lots", Vec::new()));
    }
    for row in lots {
        out.push(Said::new(
            Part::Item,
            format!("lot {}", row.lot),
            format!("    {:<14} ", row.lot),
            lot(row, today, system),
        ));
    }
    if let Some(first) = remarks(text).iter().find(|r| r.table.is_empty()) {
        out.push(Said::new(
            Part::Remark,
            "file",
            "  the file says: ",
            vec![first.words.clone()],
        ));
    }
    out
}

// VOC of a litre as it is supplied, by what counts on the sheet.
fn supplied(m: &Material) -> Option<Density> {
    let litre = Volume(1_000_000);
    let mut totals = Totals::default();
    totals.add(&m.masses(litre));
    kept_content(totals.voc, litre)
}

/// What is to be said of a sheet that reads well: each substance that counts as VOC because its class is not stated, each
/// blend that counts by a default.
pub fn remarks_on(m: &Material) -> Vec<String> {
    let mut out: Vec<String> = m
        .parts
        .iter()
        .filter(|p| p.without_class())
        .map(|p| {
            format!(
                "  {} {} counts as VOC because no class is stated; where it does not evaporate, write solid = true; where it is a blend of a table, write blend = \"...\"",
                p.cas, p.name
            )
        })
        .collect();
    out.extend(m.parts.iter().filter_map(|p| {
        let blend = p.blend?;
        Some(format!(
            "  {} {} counts as VOC, {} of it as HAP, the default of {}: {BLEND_SOURCE}",
            p.cas,
            p.name,
            blend.hap.text(1),
            blend.name
        ))
    }));
    out
}

fn range(low: Share, high: Share) -> String {
    if low == high {
        low.text(1)
    } else {
        format!("{} to {}", low.text(1), high.text(1))
    }
}

/// The sheet as JSON.
pub fn json(m: &Material, lots: &[LotRow]) -> Value {
    json!({
        "code": m.code, "name": m.name, "kind": m.kind.word(), "sheet": m.sheet,
        "sheet_date": m.sheet_date.to_string(), "drying": m.drying.word(),
        "density_mg_l": m.density.0, "weight_solids_ppm": m.weight_solids.0, "volume_solids_ppm": m.volume_solids.0,
        "flash_point_mc": m.flash_point.map(|t| t.0), "hazards": m.hazards, "cautions": m.cautions,
        "contains": m.parts.iter().map(|p| json!({
            "cas": p.cas, "name": p.name, "low_ppm": p.low.0, "high_ppm": p.high.0,
            "exempt": p.counts.exempt, "water": p.counts.water, "hap": p.counts.hap,
            "solid": p.solid, "blend": p.blend.map(|b| b.name), "blend_hap_ppm": p.blend.map(|b| b.hap.0),
        })).collect::<Vec<_>>(),
        "lots": lots.iter().map(|l| json!({
            "lot": l.lot, "received_ul": l.volume.0, "used_ul": l.used.0,
            "expires": l.expires.map(|d| d.date().to_string()),
        })).collect::<Vec<_>>(),
    })
}
