//! Mixes, and the solvent of an action and of a month.

use super::{Kept, Part, Working, entries_words, number};
use crate::ledger::{Ledger, LedgerError, UsedRow};
use crate::reports::sums::FROM_LOG;
use crate::science::worksheet::Origin;
use crate::shop::material::{BLEND_SOURCE, Counted, Material, Totals};
use crate::shop::words::MaterialKind;
use crate::units::{Amount, Density, Mass, Moment, Share, Volume, num};
use std::collections::BTreeMap;
use std::sync::Arc;

/// One substance of one data sheet, as it is worked out.
#[derive(Debug)]
struct Line {
    material: Arc<Material>,
    counted: Counted,
    // Volume of a use, with the lot and the entries that used so much.
    uses: BTreeMap<(String, i64), Vec<i64>>,
}

impl Line {
    fn name(&self) -> String {
        format!(
            "{} in {} (sheet {})",
            self.counted.name, self.material.code, self.material.sheet
        )
    }

    // A range counts at one end; which one, and of which range, belongs to the figure.
    fn share_words(&self) -> String {
        let counted = &self.counted;
        let blend_of = |p: &&crate::shop::material::Part| {
            p.blend
                .filter(|b| b.key() == counted.cas || (p.cas == counted.cas && b.hap.0 > 0))
        };
        if let Some((part, blend)) = self
            .material
            .parts
            .iter()
            .find_map(|p| blend_of(&p).map(|b| (p, b)))
        {
            return format!(
                "of {} {}, {} of which is HAP by default: {BLEND_SOURCE}",
                part.high.text(1),
                blend.name,
                blend.hap.text(1)
            );
        }
        let Some(part) = self.material.parts.iter().find(|p| p.cas == counted.cas) else {
            return "the volatile rest that it does not name".to_owned();
        };
        if part.low == part.high {
            return "as it states it".to_owned();
        }
        let end = if counted.share == part.high {
            "upper"
        } else {
            "lower"
        };
        format!(
            "the {end} end of {} to {}",
            part.low.text(1),
            part.high.text(1)
        )
    }

    fn counts_as(&self) -> &'static str {
        let c = self.counted.counts;
        match (c.exempt, c.water, c.hap) {
            (true, _, false) => "exempt",
            (true, _, true) => "exempt-hap",
            (_, true, false) => "water",
            (_, true, true) => "water-hap",
            (_, _, true) => "voc-hap",
            _ => "voc",
        }
    }
}

fn lines_of(ledger: &Ledger, used: &[UsedRow]) -> Result<Vec<Line>, LedgerError> {
    let mut lines: BTreeMap<(String, String, usize), Line> = BTreeMap::new();
    let mut lots: BTreeMap<&str, Arc<Material>> = BTreeMap::new();
    for row in used {
        if !lots.contains_key(row.lot.as_str()) {
            lots.insert(&row.lot, ledger.lot_material(&row.lot)?);
        }
        let Some(material) = lots.get(row.lot.as_str()) else {
            continue;
        };
        for (at, counted) in material.counted().into_iter().enumerate() {
            lines
                .entry((material.code.clone(), material.sheet.clone(), at))
                .or_insert_with(|| Line {
                    material: Arc::clone(material),
                    counted,
                    uses: BTreeMap::new(),
                })
                .uses
                .entry((row.lot.clone(), row.volume.0))
                .or_default()
                .push(row.entry.0);
        }
    }
    Ok(lines.into_values().collect())
}

/// The sum over all substances first, then every substance with its uses.
fn solvent(w: &mut Working, lines: &[Line], kept: &Totals) {
    for (name, mass) in [
        ("VOC", kept.voc),
        ("HAP", kept.hap),
        ("exempt from VOC", kept.exempt),
    ] {
        w.kept.push(Kept::amount(name, mass, "mg", 3));
    }
    if lines.is_empty() {
        w.says
            .push("no coat with a mix and an amount is logged in it".to_owned());
        return;
    }
    // The worksheets of the substances come first to be known, and are shown after their sum.
    let mut of_substances = Working::new(w.figure, "");
    let mut masses: Vec<(&Line, f64)> = Vec::new();
    for line in lines {
        let part = of_substances.part("substance-mass", line.name(), |i| {
            let note = |lot: &str, entries: &[i64]| {
                let mut origin = Origin::note(format!("{}, lot {lot}", entries_words(entries)));
                if let [one] = entries {
                    origin.entry = Some(*one);
                }
                origin
            };
            let rows = || line.uses.iter();
            let volumes: Vec<(f64, Origin)> = rows()
                .map(|((lot, ul), e)| (Volume(*ul).base(), note(lot, e)))
                .collect();
            let counts: Vec<(f64, Origin)> = rows()
                .map(|((lot, _), e)| (num::count(e.len()), note(lot, e)))
                .collect();
            i.fill_from("volume", &volumes)?;
            i.fill_from("uses", &counts)?;
            let sheet = format!("sheet {} of {}", line.material.sheet, line.material.code);
            i.fill_from(
                "density",
                &[(line.material.density.base(), Origin::note(&sheet))],
            )?;
            let share = Origin::note(format!("{sheet}, {}", line.share_words()));
            i.fill_from("share", &[(line.counted.share.base(), share)])
        });
        if let Some(part) = part {
            masses.push((line, part.answer.result.base));
        }
    }
    if let Some(sum) = summed(w, "sum over all substances", &masses) {
        agrees(w, "", &sum, kept);
    }
    let mut materials: Vec<&str> = lines.iter().map(|l| l.material.code.as_str()).collect();
    materials.dedup();
    if materials.len() > 1 {
        for material in materials {
            let of = masses.iter().filter(|(l, _)| l.material.code == material);
            let of: Vec<(&Line, f64)> = of.copied().collect();
            summed(w, &sum_of(material), &of);
        }
    }
    w.parts.append(&mut of_substances.parts);
    w.unknown.append(&mut of_substances.unknown);
    w.says.push(
        "each mass is rounded to whole milligrams once for each entry, lot and substance, half to even; totals are \
         sums of those masses"
            .to_owned(),
    );
}

fn sum_of(material: &str) -> String {
    format!("sum of {material}")
}

fn summed(w: &mut Working, title: &str, masses: &[(&Line, f64)]) -> Option<Part> {
    let rows = || masses.iter().map(|(line, _)| Origin::note(line.name()));
    let of_mass: Vec<(f64, Origin)> = masses.iter().map(|(_, m)| *m).zip(rows()).collect();
    let words: Vec<(&str, Origin)> = masses
        .iter()
        .map(|(line, _)| line.counts_as())
        .zip(rows())
        .collect();
    w.part("solvent-sum", title, |i| {
        i.fill_from("mass", &of_mass)?;
        i.fill_words("counts-as", &words)
    })
}

fn agrees(w: &mut Working, of: &str, sum: &Part, kept: &Totals) {
    w.agrees(&format!("VOC{of}"), sum.answer.result.base, kept.voc);
    for (name, mass) in [("HAP", kept.hap), ("exempt from VOC", kept.exempt)] {
        if let Some(f) = sum.answer.also.iter().find(|f| f.name == name) {
            w.agrees(&format!("{name}{of}"), f.base, mass);
        }
    }
}

/// VOC and HAP of one action.
pub(super) fn action(ledger: &Ledger, what: &str, _: Moment) -> Result<Working, LedgerError> {
    let seq = number("action", what)?;
    let (action, _) = ledger.action(seq)?;
    let mut w = Working::new("action", format!("{seq}, {}", action.deed));
    let lines = lines_of(ledger, &ledger.used_by_action(seq)?)?;
    solvent(&mut w, &lines, &ledger.action_totals(seq)?);
    Ok(w)
}

/// VOC and HAP of what one entry used.
pub(super) fn entry(ledger: &Ledger, what: &str, _: Moment) -> Result<Working, LedgerError> {
    of_entry(ledger, number("entry", what)?, None)
}

/// The same; with a lot only of what came from it.
pub(super) fn of_entry(
    ledger: &Ledger,
    seq: i64,
    lot: Option<&str>,
) -> Result<Working, LedgerError> {
    let row = ledger.entry(seq)?;
    let mut used = ledger.used_by_entry(seq)?;
    used.retain(|u| lot.is_none_or(|lot| u.lot == lot));
    let mut kept = Totals::default();
    let mut of = seq.to_string();
    if let Some(lot) = lot {
        of.push_str(&format!(", lot {}", crate::shop::text::shown(lot)));
    }
    let mut w = Working::new("use", of);
    for u in &used {
        let material = ledger.lot_material(&u.lot)?;
        kept.add(&material.masses(u.volume));
        w.says.push(format!(
            "{} of lot {}, bound to sheet {} of {} ({})",
            u.volume.text(3),
            u.lot,
            material.sheet,
            material.code,
            material.sheet_date
        ));
    }
    w.says.push(format!(
        "entry {seq} of action {}, by {}, written by {}",
        row.action, row.person, row.writer
    ));
    let lines = lines_of(ledger, &used)?;
    solvent(&mut w, &lines, &kept);
    Ok(w)
}

/// VOC and HAP of a month.
pub(super) fn month(ledger: &Ledger, what: &str, _: Moment) -> Result<Working, LedgerError> {
    let used = ledger.used_in_month(what)?;
    let sums = ledger.month(what)?;
    let mut w = Working::new("month", what);
    let lines = lines_of(ledger, &used)?;
    solvent(&mut w, &lines, &sums.totals);
    // The kept masses stand one by one, so each is held against its worksheet and not only their sum.
    for line in &lines {
        let kept = sums.substances.iter().find(|s| {
            s.material == line.material.code
                && s.sheet == line.material.sheet
                && s.substance.cas == line.counted.cas
        });
        let worked = w
            .parts
            .iter()
            .find(|p| p.title == line.name())
            .map(|p| p.answer.result.base);
        if let (Some(kept), Some(worked)) = (kept, worked) {
            w.agrees(&line.name(), worked, kept.mass);
        }
    }
    for (material, volume, totals) in &sums.materials {
        w.kept.push(Kept::amount(
            &format!("used of {material}"),
            *volume,
            "uL",
            3,
        ));
        w.kept.push(Kept::amount(
            &format!("VOC of {material}"),
            totals.voc,
            "mg",
            3,
        ));
        w.kept.push(Kept::amount(
            &format!("HAP of {material}"),
            totals.hap,
            "mg",
            3,
        ));
        let sum = w
            .parts
            .iter()
            .find(|p| p.title == sum_of(material))
            .cloned();
        if let Some(sum) = sum {
            agrees(&mut w, &format!(" of {material}"), &sum, totals);
        }
    }
    w.says.push(FROM_LOG.to_owned());
    Ok(w)
}

/// Solids, retarder and VOC of a mix.
pub(super) fn mix(ledger: &Ledger, what: &str, _: Moment) -> Result<Working, LedgerError> {
    let number = number("mix", what)?;
    let mix = u32::try_from(number)
        .map_err(|_| LedgerError::Input(format!("mix {number} was not made")))?;
    let found = ledger.mix_made(mix)?;
    let totals = ledger.mix_totals(found.mix, found.volume)?;
    let mut w = Working::new("mix", format!("{number}, {}", found.name));
    w.kept
        .push(Kept::amount("solids as sprayed", found.solids, "ppm", 4));
    w.kept
        .push(Kept::amount("retarder share", found.retarder, "ppm", 4));
    w.kept.push(Kept::amount("volume", found.volume, "uL", 3));
    w.kept
        .push(Kept::amount("VOC in all of it", totals.voc, "mg", 3));
    let mut parts: Vec<(Arc<Material>, Volume, String)> = Vec::new();
    for pour in &found.parts {
        parts.push((
            ledger.lot_material(&pour.lot)?,
            pour.volume,
            pour.lot.clone(),
        ));
    }
    let of = |f: &dyn Fn(&Material) -> f64, what: &str| -> Vec<(f64, Origin)> {
        let rows = parts.iter();
        rows.map(|(m, _, lot)| {
            let note = format!("{what} of {}, sheet {}, lot {lot}", m.code, m.sheet);
            (f(m), Origin::note(note))
        })
        .collect()
    };
    let volumes: Vec<(f64, Origin)> = parts
        .iter()
        .map(|(m, v, lot)| {
            let more = format!("{} of lot {lot}", m.code);
            (v.base(), Origin::entry(found.entry, &more))
        })
        .collect();
    let retarder: Vec<(&str, Origin)> = parts
        .iter()
        .map(|(m, ..)| {
            let word = if m.kind == MaterialKind::Retarder {
                "yes"
            } else {
                "no"
            };
            (word, Origin::note(format!("kind of {}", m.code)))
        })
        .collect();
    let figures = w.part("mix-figures", "solids and retarder", |i| {
        i.fill_from("volume", &volumes)?;
        i.fill_from("solids", &of(&|m| m.volume_solids.base(), "volume solids"))?;
        i.fill_words("retarder", &retarder)
    });
    if let Some(part) = figures {
        w.agrees("solids", part.answer.result.base, found.solids);
        let also = |name: &str| part.answer.also.iter().find(|f| f.name == name);
        if let Some(f) = also("retarder as a share of the mix") {
            w.agrees("retarder share", f.base, found.retarder);
        }
        if let Some(f) = also("volume of the mix") {
            w.agrees("volume", f.base, found.volume);
        }
    }
    w.beside(
        "as-applied",
        "VOC for each volume of the mix as sprayed",
        |i| {
            i.fill_from("volume", &volumes)?;
            i.fill_from("solids", &of(&|m| m.volume_solids.base(), "volume solids"))?;
            i.fill_from("voc", &of(&voc_content, "density x VOC share"))
        },
    );
    bases(&mut w, &parts, &totals, found.volume);
    w.says.push(
        "the masses are rounded to whole milligrams for each lot and substance, so VOC for each volume may differ from \
         them in its last digits"
            .to_owned(),
    );
    Ok(w)
}

fn voc_content(material: &Material) -> f64 {
    let share: i64 = material
        .counted()
        .iter()
        .filter(|c| !c.counts.exempt && !c.counts.water)
        .map(|c| c.share.0)
        .sum();
    material.density.base() * Share(share).base()
}

// VOC less water and exempt solvent needs the volumes of both, hence the densities that the data sheet states.
fn bases(
    w: &mut Working,
    parts: &[(Arc<Material>, Volume, String)],
    totals: &Totals,
    volume: Volume,
) {
    const TITLE: &str = "VOC on three bases, from the kept masses";
    let (mut water, mut exempt, mut solids) = (0.0, 0.0, 0.0);
    for (material, poured, _) in parts {
        solids += poured.base() * material.volume_solids.base();
        for part in &material.parts {
            if !part.counts.water && !part.counts.exempt {
                continue;
            }
            let Some(density) = part.density else {
                w.says.push(format!(
                    "not worked out: {TITLE}: sheet {} of {} states no density of {}",
                    material.sheet, material.code, part.name
                ));
                return;
            };
            let of_part = volume_of(*poured, material.density, part.low, density);
            if part.counts.water {
                water += of_part;
            } else {
                exempt += of_part;
            }
        }
    }
    let origin = |what: &str| Origin::note(format!("{what} of the parts, by their data sheets"));
    w.beside("voc-bases", TITLE, |i| {
        let kept = Origin::note("kept masses of its parts, summed");
        i.fill_from("voc", &[(Mass(totals.voc.0).base(), kept)])?;
        i.fill_from(
            "material",
            &[(volume.base(), Origin::note("volume of the mix"))],
        )?;
        i.fill_from("water", &[(water, origin("water"))])?;
        i.fill_from("exempt", &[(exempt, origin("exempt solvent"))])?;
        i.fill_from("solids", &[(solids, origin("solids"))])
    });
}

fn volume_of(poured: Volume, density: Density, share: Share, own: Density) -> f64 {
    poured.base() * density.base() * share.base() / own.base()
}
