//! A month's solvent from the log.

use super::entries::totals;
use crate::ledger::MonthSums;
use crate::units::{Amount, System};
use serde_json::{Value, json};

/// Says what the figures are and what they are not.
pub const FROM_LOG: &str = "from what was logged: coats, clean-up, left-over mix; what nobody logged and stock counts are not in it, and no limit is held against it";

/// The same where the figures are held against the limits that were entered.
pub const FROM_LOG_ALONE: &str = "from the log alone: coats, clean-up and left-over mix";

/// A month as JSON; masses in milligrams and volumes in microlitres, as they are kept.
pub fn month(sums: &MonthSums) -> Value {
    json!({
        "month": sums.month,
        "totals": totals(&sums.totals),
        "materials": sums.materials.iter().map(|(m, v, t)| json!({
            "material": m, "volume_ul": v.0, "totals": totals(t),
        })).collect::<Vec<_>>(),
        "substances": sums.substances.iter().map(|s| json!({
            "material": s.material, "sheet": s.sheet, "cas": s.substance.cas, "name": s.substance.name,
            "share_ppm": s.substance.share.0, "exempt": s.substance.counts.exempt,
            "hap": s.substance.counts.hap, "mass_mg": s.mass.0,
        })).collect::<Vec<_>>(),
        "note": FROM_LOG,
    })
}

/// A month as lines.
pub fn lines(sums: &MonthSums, system: System) -> Vec<String> {
    let t = &sums.totals;
    let mut out = vec![
        format!(
            "{}: VOC {}, HAP {}, exempt {}",
            sums.month,
            t.voc.shown(system, 1),
            t.hap.shown(system, 1),
            t.exempt.shown(system, 1)
        ),
        FROM_LOG.to_owned(),
    ];
    for (material, volume, t) in &sums.materials {
        out.push(format!(
            "  {material:<6} {:>12}  VOC {:>12}  HAP {:>12}",
            volume.shown(system, 1),
            t.voc.shown(system, 1),
            t.hap.shown(system, 1)
        ));
    }
    for s in sums.substances.iter().filter(|s| s.substance.counts.hap) {
        out.push(format!(
            "    {:<6} {:<22} {:<12} {:>12}",
            s.material,
            s.substance.name,
            s.substance.cas,
            s.mass.shown(system, 1)
        ));
    }
    out
}
