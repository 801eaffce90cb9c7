//! Reading a material from its file: the figures of one data sheet.
//!
//! ```toml
//! [material]
//! code = "CLR"
//! name = "Clear lacquer, gloss"
//! kind = "lacquer"
//! sheet = "rev 4"
//! sheet_date = 2025-11-03
//! density = "0.920 kg/L"
//! weight_solids = "24.0 %"
//! volume_solids = "17.0 %"
//! flash_point = "-4 C"              # may be left out
//! drying = "solvent release"
//! hazards = ["nitrocellulose", "flammable liquid"]
//! cautions = ["The sheet's own short words."]
//!
//! [[contains]]
//! cas = "67-64-1"
//! name = "acetone"
//! share = ["10 %", "15 %"]          # or one share, "15.0 %"
//! exempt = true
//! density = "0.790 kg/L"
//!
//! [[contains]]
//! cas = "14808-60-7"
//! name = "quartz"
//! share = "2.0 %"
//! solid = true                      # does not evaporate; lies within the solids above
//!
//! [[contains]]                      # a blend of which the sheet names no parts
//! cas = "64742-95-6"                # left out where the table below gives the blend none
//! name = "light aromatic naphtha"
//! share = "12.0 %"
//! blend = "aromatic naphtha"        # counted with the default share of HAP of a published table
//! ```
//!
//! *Invariants*: a CAS number is taken only with its check digit; lower ends and solids together are at most the
//! whole; what is taken off a volume (exempt, water) has a density.
//!
//! *Not here*: opening files, lots, and what a hazard word warns of.

use super::cautions::Hazard;
use super::faults::{Fault, Limits, Need, Table, read_file};
use super::material::{Blend, Counts, Material, Part};
use super::words::{Drying, MaterialKind, Word};
use crate::units::{Amount, Density, Share};
use Need::{May, Must};

/// CAS number of water.
const WATER: &str = "7732-18-5";

/// The range of every field of a material, stated once.
pub mod limits {
    use super::{Amount, Density, Limits, Share};

    const fn row(
        field: &'static str,
        low: i64,
        high: i64,
        unit: &'static str,
        fix: &'static str,
    ) -> Limits {
        Limits {
            field,
            low,
            high,
            unit,
            fix,
        }
    }

    /// The shop's short code, in characters.
    pub const CODE: Limits = row("code", 1, 12, "", "write a short code such as \"CLR\"");
    /// The name on the can or of a substance, in characters.
    pub const NAME: Limits = row("name", 1, 60, "", "write the name in double quotes");
    /// Revision of the data sheet, in characters.
    pub const SHEET: Limits = row(
        "sheet",
        1,
        40,
        "",
        "write the revision as the data sheet prints it, in double quotes",
    );
    /// Density, in mg/L.
    pub const DENSITY: Limits = row(
        "density",
        Density::LOW,
        Density::HIGH,
        "kg/L",
        "write the density of the data sheet, such as \"0.920 kg/L\"",
    );
    /// Mass share that stays, in ppm.
    pub const WEIGHT_SOLIDS: Limits = row(
        "weight_solids",
        0,
        Share::HIGH,
        "%",
        "write the solids by weight, such as \"24.0 %\"",
    );
    /// Volume share that stays, in ppm.
    pub const VOLUME_SOLIDS: Limits = row(
        "volume_solids",
        0,
        Share::HIGH,
        "%",
        "write the solids by volume, such as \"17.0 %\"",
    );
    /// Flash point, in thousandths of a degree.
    pub const FLASH_POINT: Limits = row(
        "flash_point",
        -60_000,
        150_000,
        "C",
        "write the flash point of the data sheet, such as \"-4 C\"",
    );
    /// A hazard word, in characters.
    pub const HAZARDS: Limits = row(
        "hazards",
        1,
        40,
        "",
        "write the hazard words as [\"flammable liquid\"]",
    );
    /// A caution of the sheet, in characters.
    pub const CAUTIONS: Limits = row(
        "cautions",
        1,
        200,
        "",
        "write each caution of the sheet in at most 200 characters",
    );
    /// A CAS number, in characters.
    pub const CAS: Limits = row(
        "cas",
        7,
        12,
        "",
        "write the CAS number of the data sheet, such as \"67-64-1\"",
    );
    /// A solvent blend, in characters.
    pub const BLEND: Limits = row(
        "blend",
        1,
        40,
        "",
        "write the name of the blend as the table of defaults has it, such as \"aromatic 100\"",
    );
    /// Mass share of a substance, in ppm.
    pub const SHARE: Limits = row(
        "share",
        0,
        Share::HIGH,
        "%",
        "write the share by weight, such as \"15.0 %\", or its two ends as [\"10 %\", \"15 %\"]",
    );
}

/// Reads a material. `file_name` is what messages call the file.
///
/// # Errors
/// All faults of the file, in the order of their lines.
pub fn read(file_name: &str, text: &str) -> Result<Material, Vec<Fault>> {
    read_file(file_name, text, material)
}

/// Whether a text is a CAS number with the right check digit: the digits before it, counted from the right and
/// weighted 1, 2, 3, ..., sum to it modulo 10.
pub fn is_cas(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let [first, second, check] = parts.as_slice() else {
        return false;
    };
    let digits = |t: &str| t.chars().all(|c| c.is_ascii_digit());
    if !(2..=7).contains(&first.len())
        || second.len() != 2
        || check.len() != 1
        || ![*first, *second, *check].into_iter().all(digits)
        || first.starts_with('0')
    {
        return false;
    }
    let sum: u32 = first
        .chars()
        .chain(second.chars())
        .rev()
        .zip(1_u32..)
        .filter_map(|(c, weight)| c.to_digit(10).map(|d| d * weight))
        .sum();
    check.parse() == Ok(sum % 10)
}

/// The stand-ins for faulty fields in here are never seen: a fault was reported for each.
fn material(root: &Table<'_>) -> Option<Material> {
    let head = root.table("material", Must);
    let parts = parts(&root.tables("contains", May));
    root.done();
    let head = head?;
    let code = head.code(&limits::CODE, Must);
    let name = head.text(&limits::NAME, Must);
    let kind = head.word::<MaterialKind>("kind", Must);
    let sheet = head.text(&limits::SHEET, Must);
    let sheet_date = head.date("sheet_date", Must);
    let density = head.amount::<Density>(&limits::DENSITY, Must);
    let weight_solids = head.amount::<Share>(&limits::WEIGHT_SOLIDS, Must);
    let volume_solids = head.amount::<Share>(&limits::VOLUME_SOLIDS, Must);
    let flash_point = head.amount(&limits::FLASH_POINT, May);
    let drying = head.word::<Drying>("drying", Must);
    let hazards = head.choices(&limits::HAZARDS, &Hazard::ALL.map(Hazard::word), May);
    let cautions = head.texts(&limits::CAUTIONS, May);
    head.done();
    if let (Some(weight), Some(volume)) = (weight_solids, volume_solids) {
        solids_fit(&head, kind, drying, weight, volume);
        let sum = |solid| -> i64 {
            let of_kind = parts.iter().filter(|p| p.solid == solid);
            of_kind.map(|p| p.low.0).sum()
        };
        let (named, solid) = (sum(false), sum(true));
        if solid > weight.0 {
            head.contradiction(
                "weight_solids",
                &weight.trimmed(),
                format!(
                    "is less than the lower ends of the solid substances below, {}",
                    Share(solid).trimmed()
                ),
                "compare the solids and each solid substance with the data sheet",
            );
        }
        if named + weight.0 > Share::HIGH {
            head.contradiction(
                "weight_solids",
                &weight.trimmed(),
                format!(
                    "and the lower ends of the shares below, {}, are more than 100 %",
                    Share(named).trimmed()
                ),
                "compare the solids and each share with the data sheet",
            );
        }
    }
    Some(Material {
        code: code?,
        name: name?,
        kind: kind?,
        sheet: sheet?,
        sheet_date: sheet_date?,
        density: density?,
        weight_solids: weight_solids?,
        volume_solids: volume_solids?,
        flash_point,
        drying: drying?,
        hazards,
        cautions,
        parts,
    })
}

/// Holds solids, kind and drying against each other.
fn solids_fit(
    head: &Table<'_>,
    kind: Option<MaterialKind>,
    drying: Option<Drying>,
    weight: Share,
    volume: Share,
) {
    let liquid = kind.filter(|k| {
        matches!(
            k,
            MaterialKind::Thinner | MaterialKind::Retarder | MaterialKind::Cleaner
        )
    });
    if let Some(kind) = liquid {
        for (field, solids) in [("weight_solids", weight), ("volume_solids", volume)] {
            if solids.0 > 0 {
                head.contradiction(
                    field,
                    &solids.trimmed(),
                    format!(
                        "is more than 0 %, and a {} leaves nothing behind",
                        kind.word()
                    ),
                    "write \"0 %\", or another kind",
                );
            }
        }
        if let Some(drying) = drying.filter(|d| *d != Drying::None) {
            head.contradiction(
                "drying",
                drying.word(),
                format!("makes a film, and a {} leaves none", kind.word()),
                "write drying = \"none\", or another kind",
            );
        }
        return;
    }
    if (weight.0 == 0) != (volume.0 == 0) {
        head.contradiction(
            "volume_solids",
            &volume.trimmed(),
            format!("does not go with {} of solids by weight", weight.trimmed()),
            "write both above 0 %, or both as \"0 %\"",
        );
    }
    if drying == Some(Drying::None) && volume.0 > 0 {
        head.contradiction(
            "drying",
            Drying::None.word(),
            format!("leaves no film, and the solids are {}", volume.trimmed()),
            "write how the film forms, or solids of \"0 %\"",
        );
    }
}

fn parts(tables: &[Table<'_>]) -> Vec<Part> {
    let mut list: Vec<Part> = Vec::new();
    for table in tables {
        let Some(part) = part(table) else { continue };
        if list.iter().any(|p| p.cas == part.cas) {
            table.contradiction(
                "cas",
                &part.cas,
                "stands in an earlier entry too".to_owned(),
                "write each substance once, with its whole share",
            );
        }
        list.push(part);
    }
    list
}

fn part(table: &Table<'_>) -> Option<Part> {
    let blend = blend(table);
    let cas = match blend {
        Some(Blend {
            cas: None, name, ..
        }) if !table.has("cas") => Some(name.to_owned()),
        _ => cas_or(table, blend.and_then(|b| b.cas)),
    };
    let name = table.text(&limits::NAME, Must);
    let share = share(table);
    let counts = Counts {
        exempt: table.flag("exempt"),
        water: table.flag("water"),
        hap: table.flag("hap"),
    };
    let solid = table.flag("solid");
    let density = table.amount::<Density>(&limits::DENSITY, May);
    table.done();
    if let Some(blend) = blend {
        blend_fits(table, blend, cas.as_deref(), counts, solid);
    }
    // A solid stands in no total, so nothing that a total asks for may be said of it.
    if solid && (counts.exempt || counts.water || counts.hap) {
        table.contradiction(
            "solid",
            "true",
            "cannot stand beside exempt, water or hap".to_owned(),
            "keep the one that is true; a solid that is a HAP is kept as hap, and then counts as VOC too",
        );
    }
    if (counts.exempt || counts.water) && !table.has("density") {
        table.missing(
            "density",
            "the density of an exempt substance or of water",
            "write the density of the substance itself, such as \"0.790 kg/L\"",
        );
    }
    if counts.water && (counts.exempt || counts.hap) {
        table.contradiction(
            "water",
            "true",
            "cannot stand beside exempt or hap".to_owned(),
            "keep the one that is true",
        );
    }
    if let Some(cas) = cas.as_deref()
        && counts.water != (cas == WATER)
    {
        table.contradiction(
            "cas",
            cas,
            if counts.water {
                format!("is not water, which is {WATER}")
            } else {
                "is water, and water is not said".to_owned()
            },
            if counts.water {
                "take water = true out, or write the CAS number of water"
            } else {
                "write water = true"
            },
        );
    }
    let (low, high) = share?;
    Some(Part {
        cas: cas?,
        name: name?,
        low,
        high,
        counts,
        solid,
        density,
        blend,
    })
}

fn blend(table: &Table<'_>) -> Option<Blend> {
    let text = table.text(&limits::BLEND, May)?;
    let found = Blend::all().find(|b| b.name.eq_ignore_ascii_case(&text));
    if found.is_none()
        && let Some(cell) = table.cell("blend")
    {
        let known: Vec<&str> = Blend::all().map(|b| b.name).collect();
        cell.not_listed(&text, &known);
    }
    found
}

// Name and CAS number are matched together: one number stands for blends with different shares. Where the check digit of
// the published number does not fit, the sheet's own number stands.
fn blend_fits(table: &Table<'_>, blend: Blend, cas: Option<&str>, counts: Counts, solid: bool) {
    if let (Some(cas), Some(own)) = (cas, blend.cas)
        && cas != own
        && is_cas(own)
    {
        table.contradiction(
            "cas",
            cas,
            format!("is not {}, which the table has for {}", own, blend.name),
            "write the CAS number of the table, or the blend that the sheet means",
        );
    }
    if counts.exempt || counts.water || counts.hap || solid {
        table.contradiction(
            "blend",
            blend.name,
            "cannot stand beside exempt, water, hap or solid".to_owned(),
            "keep the one that is true; the table says how much of a blend counts as HAP",
        );
    }
}

pub(super) fn cas(table: &Table<'_>) -> Option<String> {
    cas_or(table, None)
}

// Two numbers of the published table of blends have a check digit that does not fit: they are taken as published.
fn cas_or(table: &Table<'_>, published: Option<&str>) -> Option<String> {
    let text = table.text(&limits::CAS, Must)?;
    if is_cas(&text) || published == Some(text.as_str()) {
        return Some(text);
    }
    if let Some(cell) = table.cell("cas") {
        cell.fault(
            "is not a CAS number: its form or its check digit does not fit".to_owned(),
            "copy the number from the data sheet again, such as \"67-64-1\"",
        );
    }
    None
}

/// One share, or the two ends of a range.
fn share(table: &Table<'_>) -> Option<(Share, Share)> {
    let one = table.cell("share").filter(super::faults::Cell::is_list);
    let Some(cell) = one else {
        let share = table.amount::<Share>(&limits::SHARE, Must)?;
        return Some((share, share));
    };
    let ends: Vec<Option<Share>> = cell
        .list()
        .iter()
        .map(|end| end.amount::<Share>(&limits::SHARE))
        .collect();
    match ends.as_slice() {
        [Some(low), Some(high)] if low <= high => Some((*low, *high)),
        [Some(low), Some(high)] => {
            table.contradiction(
                "share",
                &format!("{} to {}", low.trimmed(), high.trimmed()),
                "runs from the higher end to the lower".to_owned(),
                "write the lower end first",
            );
            None
        }
        [] | [None, _] | [_, None] => None,
        _ => {
            cell.fault(
                format!("has {} ends where a range has two", ends.len()),
                limits::SHARE.fix,
            );
            None
        }
    }
}
