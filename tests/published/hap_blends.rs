//! Default organic HAP mass fractions for solvents and solvent blends, Table 3 of the US EPA's coating rules in 40 CFR 63,
//! and the lists of the federal example of a rule set: cited from stored excerpts.

use hangtime::science::solvents::Standing;
use hangtime::science::voc::HAPS;
use hangtime::shop::material::{Material, OTHER_VOLATILE};
use hangtime::shop::rule_set::{self, RuleSet, Tag};
use hangtime::shop::words::Word;
use hangtime::shop::{faults::Fault, material_file};
use hangtime::units::Volume;

// Name, CAS number and share as published.
const TABLE: [(&str, &str, &str); 22] = [
    ("toluene", "108-88-3", "1.0"),
    ("xylenes", "1330-20-7", "1.0"),
    ("hexane", "110-54-3", "0.5"),
    ("n-hexane", "110-54-3", "1.0"),
    ("ethylbenzene", "100-41-4", "1.0"),
    ("aliphatic 140", "", "0"),
    ("aromatic 100", "", "0.02"),
    ("aromatic 150", "", "0.09"),
    ("aromatic naphtha", "64742-95-6", "0.02"),
    ("aromatic solvent", "64742-94-5", "0.1"),
    ("exempt mineral spirits", "8032-32-4", "0"),
    ("ligroine (VM&P)", "8032-32-4", "0"),
    ("lactol spirits", "64742-89-6", "0.15"),
    ("low aromatic white spirit", "64742-82-1", "0"),
    ("mineral spirits", "64742-88-7", "0.01"),
    ("hydrotreated naphtha", "64742-48-9", "0"),
    ("hydrotreated light distillate", "64742-47-8", "0.001"),
    ("Stoddard solvent", "8052-41-3", "0.01"),
    ("super high-flash naphtha", "64742-95-6", "0.05"),
    ("VM&P naphtha", "64742-89-8", "0.06"),
    ("petroleum distillate mixture", "68477-31-6", "0.08"),
    ("straight-run mineral spirits", "8052-49-3", "0.01"),
];

fn sheet(part: &str) -> String {
    format!(
        "[material]\ncode = \"BLN\"\nname = \"a solvent\"\nkind = \"thinner\"\nsheet = \"1\"\nsheet_date = 2026-01-01\n\
         density = \"0.800 kg/L\"\nweight_solids = \"0 %\"\nvolume_solids = \"0 %\"\ndrying = \"none\"\n\
         [[contains]]\nname = \"a cut\"\n{part}\n"
    )
}

fn read(part: &str) -> Result<Material, Vec<Fault>> {
    material_file::read("bln.toml", &sheet(part))
}

#[test]
fn a_blend_counts_with_its_published_share_of_hap() {
    for (name, cas, share) in TABLE {
        let cas = if cas.is_empty() {
            String::new()
        } else {
            format!("cas = \"{cas}\"\n")
        };
        let material = read(&format!("{cas}share = \"40 %\"\nblend = \"{name}\"")).unwrap();
        let masses = material.masses(Volume(1_000_000));
        let sum = |counts: &dyn Fn(&hangtime::shop::material::Counted) -> bool| -> i64 {
            masses
                .iter()
                .filter(|(c, _)| counts(c))
                .map(|(_, m)| m.0)
                .sum()
        };
        // A litre holds 320 g of the blend.
        let wanted = 320_000.0 * share.parse::<f64>().unwrap();
        #[allow(clippy::as_conversions, clippy::cast_precision_loss, reason = "small")]
        let hap = sum(&|c| c.counts.hap) as f64;
        assert!((hap - wanted).abs() < 0.5, "{name}: {hap} for {wanted}");
        // All of it is VOC, and nothing is counted twice.
        assert_eq!(sum(&|c| c.cas != OTHER_VOLATILE), 320_000, "{name}");
        assert_eq!(sum(&|_| true), 800_000, "{name}");
    }
}

#[test]
fn a_blend_counts_its_upper_end_and_a_part_of_a_ppm_as_a_whole_one() {
    let material = read("share = [\"10 %\", \"33.3333 %\"]\nblend = \"aromatic 150\"").unwrap();
    // 333 333 ppm x 0.09 = 29 999.97.
    let hap = material
        .counted()
        .into_iter()
        .find(|c| c.counts.hap)
        .unwrap();
    assert_eq!(hap.share.0, 30_000);
    assert_eq!(hap.cas, "HAP in aromatic 150");
}

#[test]
fn a_blend_is_read_strictly() {
    for (part, wanted) in [
        (
            "share = \"40 %\"\nblend = \"aromatic 200\"",
            "is not one of toluene",
        ),
        (
            "share = \"40 %\"\nblend = \"aromatic naphtha\"",
            "cas: nothing written",
        ),
        (
            "cas = \"64742-94-5\"\nshare = \"40 %\"\nblend = \"aromatic naphtha\"",
            "is not 64742-95-6",
        ),
        (
            "share = \"40 %\"\nblend = \"aromatic 100\"\nhap = true",
            "cannot stand beside",
        ),
        (
            "share = \"40 %\"\nblend = \"aromatic 100\"\nsolid = true",
            "cannot stand beside",
        ),
    ] {
        let faults = read(part).unwrap_err();
        let text: Vec<String> = faults.iter().map(ToString::to_string).collect();
        assert!(text.iter().any(|t| t.contains(wanted)), "{part}: {text:?}");
    }
    let given = read("cas = \"64742-95-6\"\nshare = \"40 %\"\nblend = \"aromatic 100\"").unwrap();
    assert_eq!(given.parts[0].cas, "64742-95-6");
    assert!(!given.parts[0].without_class());
    // The check digits of two published numbers do not fit; a sheet's own number goes, too.
    for cas in ["64742-89-6", "64742-89-8"] {
        let part = format!("cas = \"{cas}\"\nshare = \"40 %\"\nblend = \"lactol spirits\"");
        assert_eq!(read(&part).unwrap().parts[0].cas, cas);
    }
    assert!(read("cas = \"64742-89-5\"\nshare = \"40 %\"\nblend = \"lactol spirits\"").is_err());
}

fn federal() -> RuleSet {
    rule_set::read("us", include_str!("../../sample/rules/us-federal.toml")).unwrap()
}

#[test]
fn the_federal_example_lists_what_the_worksheet_of_haps_lists() {
    let set = federal();
    for entry in HAPS {
        let found = set.hap.iter().find(|l| l.cas == entry.cas);
        assert_eq!(found.is_some(), entry.listed, "{}", entry.name);
        if let Some(found) = found {
            let tag = if entry.standing == Standing::Cited {
                Tag::Cited
            } else {
                Tag::Memory
            };
            assert_eq!(found.tag, tag, "{}: {}", entry.name, found.tag.word());
        }
    }
}

#[test]
fn exempt_from_voc_is_not_exempt_from_hap() {
    let set = federal();
    // Perchloroethylene, methylene chloride and 1,1,1-trichloroethane stand in both lists; acetone only in one.
    for cas in ["127-18-4", "75-09-2", "71-55-6"] {
        let stands = |list: &[hangtime::shop::rule_set::Listed]| list.iter().any(|l| l.cas == cas);
        assert!(stands(&set.exempt) && stands(&set.hap), "{cas}");
    }
    let tag = |cas: &str| set.exempt.iter().find(|l| l.cas == cas).map(|l| l.tag);
    assert_eq!(tag("67-64-1"), Some(Tag::Cited));
    assert_eq!(tag("79-20-9"), Some(Tag::Memory));
    assert_eq!(tag("111-76-2"), None, "still VOC");
    let hap = |cas: &str| set.hap.iter().any(|l| l.cas == cas);
    assert!(!hap("78-93-3") && !hap("111-76-2"));
    assert_eq!(set.group("108-38-3"), Some("xylenes"));
}
