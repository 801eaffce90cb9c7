//! The solvent book's arithmetic: VOC on its several bases, HAP by species, averages, rolling sums, stock,
//! waste.
//!
//! *Invariants*: every VOC figure names its basis: of the material, less water and exempt solvent, for each volume of
//! solids, for each mass of solids. Exempt from VOC is not exempt from anything else. A month without a figure is
//! unknown, never zero. Limits are compared with the figure they declare.
//!
//! *Not here*: the kept totals of the ledger, which are sums of whole milligrams (see [`kept_mass`] for their one
//! rounding), mixing and thinning (see [`super::mix`]), and which rules bind a shop: air agency and permit decide.

mod sheets;

use uom::si::f64::{Mass, MassDensity, MolarMass, Pressure, Ratio, Volume};
use uom::si::mass::kilogram;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::molar_mass::kilogram_per_mole;
use uom::si::pressure::pascal;
use uom::si::ratio::{percent, ratio};
use uom::si::volume::cubic_meter;

use super::solvents::Standing;
use super::validity::{Against, Outside, Range, against, range};
use super::vapour;
use crate::units::{Amount, Density, Mass as KeptMass, Share, Volume as KeptVolume, num};

pub use sheets::SHEETS;

/// Kilograms in a cubic metre for one pound in a US gallon, exact ratio (119.826).
pub const LB_PER_GAL: f64 = 0.453_592_37 / 0.003_785_411_784;
/// Kilograms in a short ton, exact.
pub const SHORT_TON: f64 = 907.184_74;

const DENSITY: Range = range("density", "kg/m3", 300.0, 3_000.0, "a coating or a solvent");
const SHARE: Range = range("share by mass", "%", 0.0, 100.0, "a share of the whole");
const CONTENT: Range = range(
    "VOC content",
    "kg/m3",
    0.0,
    2_000.0,
    "no solvent is heavier",
);
const AMOUNT: Range = range("volume", "m3", 0.0, 100_000.0, "a book of one shop");
const MASS: Range = range("mass", "kg", 0.0, 1.0e9, "a book of one shop");

fn content(value: f64) -> MassDensity {
    MassDensity::new::<kilogram_per_cubic_meter>(value)
}

/// A coating as its data sheet describes it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coating {
    /// Density of the coating.
    pub density: MassDensity,
    /// Solids, share by mass.
    pub solids: Ratio,
    /// Water, share by mass.
    pub water: Ratio,
    /// Exempt solvent, share by mass.
    pub exempt: Ratio,
    /// Density of water, as the rule in question prints it (8.33 to 8.345 lb/gal).
    pub water_density: MassDensity,
    /// Density of the exempt solvent; not used when there is none.
    pub exempt_density: MassDensity,
}

struct Shares {
    density: f64,
    voc: f64,
    solids: f64,
    water_volume: f64,
    exempt_volume: f64,
}

impl Coating {
    fn shares(&self) -> Result<Shares, Outside> {
        const SUM: Range = range(
            "solids, water and exempt solvent together",
            "%",
            0.0,
            100.0,
            "parts of one coating",
        );
        const VOID: Range = range(
            "water and exempt solvent by volume",
            "%",
            0.0,
            99.9,
            "nothing would be left to divide by",
        );
        let density = DENSITY.hold(self.density.get::<kilogram_per_cubic_meter>())?;
        let solids = SHARE.hold(self.solids.get::<percent>())? / 100.0;
        let water = SHARE.hold(self.water.get::<percent>())? / 100.0;
        let exempt = SHARE.hold(self.exempt.get::<percent>())? / 100.0;
        SUM.hold((solids + water + exempt) * 100.0)?;
        let water_volume =
            water * density / DENSITY.hold(self.water_density.get::<kilogram_per_cubic_meter>())?;
        let exempt_volume = if exempt > 0.0 {
            exempt * density
                / DENSITY.hold(self.exempt_density.get::<kilogram_per_cubic_meter>())?
        } else {
            0.0
        };
        VOID.hold((water_volume + exempt_volume) * 100.0)?;
        Ok(Shares {
            density,
            // The shares may sum to a hair above one after a change of unit.
            voc: (1.0 - solids - water - exempt).max(0.0),
            solids,
            water_volume,
            exempt_volume,
        })
    }
}

/// VOC of the material: what a litre of the coating, as it is, gives off.
///
/// Symbols: `Dc` density, `Wn`, `Ww`, `We` mass shares of solids, water and exempt solvent. Valid for shares that sum
/// to at most 100 %.
/// Equation: `VOC = (1 - Wn - Ww - We) Dc`.
/// Source: US state and district rules, cited from stored excerpts; used for totals and fees.
/// It ignores what stays in the film as solvent; mass balance counts it as given off.
pub fn voc_of_material(coating: &Coating) -> Result<MassDensity, Outside> {
    let s = coating.shares()?;
    Ok(content(s.voc * s.density))
}

/// VOC less water and exempt solvent: the basis of most content limits in the US.
///
/// Symbols: as [`voc_of_material`], `Dw`, `De` densities of water and exempt solvent. Valid while water and exempt
/// solvent fill less than 99.9 % of the volume.
/// Equation: `VOC = (1 - Wn - Ww - We) Dc / (1 - Ww Dc / Dw - We Dc / De)`.
/// Source: California district rules and 40 CFR 59.104, cited from stored excerpts. It equals [`voc_of_material`] when
/// there is neither water nor exempt solvent. It ignores that volumes shrink a little on mixing.
pub fn voc_less_water_and_exempt(coating: &Coating) -> Result<MassDensity, Outside> {
    let s = coating.shares()?;
    Ok(content(
        s.voc * s.density / (1.0 - s.water_volume - s.exempt_volume),
    ))
}

/// VOC for each volume of solids.
///
/// Symbols: `Vn` volume share of solids. Valid for solids above 0.1 % by volume.
/// Equation: `(1 - Wn - Ww - We) Dc / Vn`. Source: 25 Pa. Code, cited from a stored excerpt.
pub fn voc_per_volume_solids(
    coating: &Coating,
    solids_volume: Ratio,
) -> Result<MassDensity, Outside> {
    const SOLIDS: Range = range("solids by volume", "%", 0.1, 100.0, "there must be solids");
    let s = coating.shares()?;
    Ok(content(
        s.voc * s.density / (SOLIDS.hold(solids_volume.get::<percent>())? / 100.0),
    ))
}

/// VOC for each mass of solids.
///
/// Symbols: `Wn` mass share of solids. Valid for solids above 0.1 % by mass. Equation: `(1 - Wn - Ww - We) / Wn`.
/// Source: Maryland COMAR 26.11.19.02, cited from a stored excerpt.
pub fn voc_per_mass_solids(coating: &Coating) -> Result<Ratio, Outside> {
    const SOLIDS: Range = range("solids by mass", "%", 0.1, 100.0, "there must be solids");
    let s = coating.shares()?;
    SOLIDS.hold(s.solids * 100.0)?;
    Ok(Ratio::new::<ratio>(s.voc / s.solids))
}

/// VOC for each volume of solids, converted from a content less water and exempt solvent.
///
/// Symbols: `C` content, `D` density of the VOC (7.36 lb/gal by convention). Valid for `C` below 99 % of `D`.
/// Equation: `S = C / (1 - C / D)`. Source: Florida, Texas and Colorado rules, cited from stored excerpts.
/// It ignores the solvents that are really in the coating: `D` is an assumed figure.
pub fn content_to_solids_basis(
    less_water: MassDensity,
    voc_density: MassDensity,
) -> Result<MassDensity, Outside> {
    const FILL: Range = range(
        "content divided by the density of the VOC",
        "1",
        0.0,
        0.99,
        "no solids would be left",
    );
    let c = CONTENT.hold(less_water.get::<kilogram_per_cubic_meter>())?;
    let d = DENSITY.hold(voc_density.get::<kilogram_per_cubic_meter>())?;
    Ok(content(c / (1.0 - FILL.hold(c / d)?)))
}

/// The three bases of VOC from measured amounts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bases {
    /// For each volume of the material.
    pub material: MassDensity,
    /// For each volume less water and exempt solvent.
    pub less_water_and_exempt: MassDensity,
    /// For each volume of solids.
    pub solids: MassDensity,
}

/// The three bases of VOC from amounts instead of shares.
///
/// Symbols: `Ms` mass of VOC, `Vm` volume of material, `Vw` of water, `Ve` of exempt solvent, `Vn` of solids.
/// Valid while water and exempt solvent are less than the material.
/// Equation: `Ms / Vm`, `Ms / (Vm - Vw - Ve)`, `Ms / Vn`. Source: California district rules, cited from stored excerpts.
pub fn bases_from_amounts(
    voc: Mass,
    material: Volume,
    water: Volume,
    exempt: Volume,
    solids: Volume,
) -> Result<Bases, Outside> {
    const LEFT: Range = range(
        "material less water and exempt solvent",
        "m3",
        1.0e-9,
        100_000.0,
        "nothing would be left to divide by",
    );
    const SOLIDS: Range = range("solids", "m3", 1.0e-9, 100_000.0, "there must be solids");
    let mass = MASS.hold(voc.get::<kilogram>())?;
    let whole = LEFT.hold(material.get::<cubic_meter>())?;
    let void =
        AMOUNT.hold(water.get::<cubic_meter>())? + AMOUNT.hold(exempt.get::<cubic_meter>())?;
    Ok(Bases {
        material: content(mass / whole),
        less_water_and_exempt: content(mass / LEFT.hold(whole - void)?),
        solids: content(mass / SOLIDS.hold(solids.get::<cubic_meter>())?),
    })
}

/// Which basis a coating is judged on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// VOC of the material: low-solids coatings, below one pound of solids in a gallon.
    Material,
    /// VOC less water and exempt solvent: all others.
    LessWaterAndExempt,
}

/// The basis on which a content limit looks at a coating.
///
/// Symbols: `Wn Dc` solids in a volume. Rule: below 1 lb/gal (120 g/L) of solids the material counts.
/// Source: SCAQMD's notes on VOC calculation, cited from a stored excerpt. Other districts differ.
pub fn basis_for(coating: &Coating) -> Result<Basis, Outside> {
    let s = coating.shares()?;
    Ok(match against(s.solids * s.density, LB_PER_GAL) {
        Against::Under => Basis::Material,
        Against::At | Against::Over => Basis::LessWaterAndExempt,
    })
}

/// One volatile part for the composite vapour pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Volatile {
    /// Its mass.
    pub mass: Mass,
    /// Its molar mass.
    pub molar_mass: MolarMass,
    /// Its vapour pressure; only that of VOC parts counts.
    pub pressure: Pressure,
}

/// The composite partial pressure of the VOC in a liquid.
///
/// Symbols: `W` mass, `MW` molar mass, `VP` vapour pressure of each VOC part; water and exempt parts only dilute.
/// Equation: `PP = sum(Wi VPi / MWi) / (sum over all of W / MW)`.
/// Source: US EPA aerospace calculation sheet and Maryland COMAR 26.11.19.02, cited from stored excerpts.
/// It ignores that the liquid is no ideal solution.
pub fn composite_vapour_pressure(
    voc: &[Volatile],
    diluting: &[(Mass, MolarMass)],
) -> Result<Pressure, Outside> {
    const PRESSURE: Range = range(
        "vapour pressure",
        "Pa",
        0.0,
        200_000.0,
        "a solvent in a room",
    );
    const MOLES: Range = range("amount", "mol", 1.0e-9, 1.0e12, "something must be there");
    let mut moles = 0.0;
    let mut weighted = 0.0;
    let amount = |mass: Mass, molar: MolarMass| -> Result<f64, Outside> {
        let m = vapour::MOLAR_MASS.hold(molar.get::<kilogram_per_mole>() * 1_000.0)?;
        Ok(MASS.hold(mass.get::<kilogram>())? * 1_000.0 / m)
    };
    for part in voc {
        let n = amount(part.mass, part.molar_mass)?;
        moles += n;
        weighted += n * PRESSURE.hold(part.pressure.get::<pascal>())?;
    }
    for (mass, molar) in diluting {
        moles += amount(*mass, *molar)?;
    }
    Ok(Pressure::new::<pascal>(weighted / MOLES.hold(moles)?))
}

/// The mass of one substance in a volume of one lot, as the ledger keeps it.
///
/// Symbols: volume in uL, density in mg/L, share in ppm. Valid for all amounts of the record.
/// Equation: `uL mg/L ppm / 10^12`, rounded half to even, in 128 bit.
/// Source: the house's own rule; every kept VOC and HAP total is a sum of these, so that parts always add up.
/// It gives none only when the result does not fit the record.
pub fn kept_mass(volume: KeptVolume, density: Density, share: Share) -> Option<KeptMass> {
    let product = i128::from(volume.raw()) * i128::from(density.raw()) * i128::from(share.raw());
    let mass = num::round_half_even(product, 1_000_000_000_000);
    i64::try_from(mass).ok().map(KeptMass)
}

/// The volume that a mass of a substance fills, as a book takes it off: water, exempt solvent.
///
/// Symbols: mass in mg, density in mg/L. Equation: `mg 10^6 / (mg/L)` uL, rounded half to even, in 128 bit.
/// Source: definition. It ignores that volumes shrink a little on mixing. It gives none where the density is none.
pub fn kept_volume(mass: KeptMass, density: Density) -> Option<KeptVolume> {
    let density = i128::from(density.raw());
    if density <= 0 {
        return None;
    }
    let volume = num::round_half_even(i128::from(mass.raw()) * 1_000_000, density);
    i64::try_from(volume).ok().map(KeptVolume)
}

/// VOC content of kept amounts on any basis of [`bases_from_amounts`]: the volume says which.
///
/// Symbols: mass in mg, volume in uL (of the material, less water and exempt solvent, or of its solids).
/// Equation: `mg 10^6 / uL` in mg/L, rounded half to even, in 128 bit. Source: as [`bases_from_amounts`].
/// It gives none where no volume is left to divide by, or where the result does not fit the record.
pub fn kept_content(voc: KeptMass, volume: KeptVolume) -> Option<Density> {
    let volume = i128::from(volume.raw());
    if volume <= 0 {
        return None;
    }
    let content = num::round_half_even(i128::from(voc.raw()) * 1_000_000, volume);
    i64::try_from(content).ok().map(Density)
}

/// Whether a substance is on the list of hazardous air pollutants.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HapEntry {
    /// The CAS number.
    pub cas: &'static str,
    /// The name.
    pub name: &'static str,
    /// On the list of Clean Air Act 112(b) now.
    pub listed: bool,
    /// When and how that changed; empty when it did not.
    pub note: &'static str,
    /// Whether it was read or remembered.
    pub standing: Standing,
}

const fn hap(
    cas: &'static str,
    name: &'static str,
    listed: bool,
    note: &'static str,
    standing: Standing,
) -> HapEntry {
    HapEntry {
        cas,
        name,
        listed,
        note,
        standing,
    }
}

/// The hazardous air pollutants that matter in a finish room, and what is often taken for one. The list of the air
/// agency in force decides; a substance that is not here is unknown, not absent from the list.
pub static HAPS: &[HapEntry] = &[
    hap("108-88-3", "toluene", true, "", Standing::Cited),
    hap("1330-20-7", "xylenes", true, "", Standing::Cited),
    hap("95-47-6", "o-xylene", true, "", Standing::Cited),
    hap("108-38-3", "m-xylene", true, "", Standing::Cited),
    hap("106-42-3", "p-xylene", true, "", Standing::Cited),
    hap("100-41-4", "ethylbenzene", true, "", Standing::Cited),
    hap("67-56-1", "methanol", true, "", Standing::Cited),
    hap(
        "108-10-1",
        "methyl isobutyl ketone",
        true,
        "",
        Standing::Cited,
    ),
    hap("100-42-5", "styrene", true, "", Standing::Cited),
    hap("50-00-0", "formaldehyde", true, "", Standing::Cited),
    hap("110-54-3", "n-hexane", true, "", Standing::Memory),
    hap("91-20-3", "naphthalene", true, "", Standing::Memory),
    hap("98-82-8", "cumene", true, "", Standing::Memory),
    hap(
        "84-74-2",
        "dibutyl phthalate",
        true,
        "a plasticiser that hardly evaporates",
        Standing::Memory,
    ),
    hap(
        "117-81-7",
        "bis(2-ethylhexyl) phthalate",
        true,
        "a plasticiser that hardly evaporates",
        Standing::Memory,
    ),
    hap("78-59-1", "isophorone", true, "", Standing::Memory),
    hap(
        "75-09-2",
        "methylene chloride",
        true,
        "exempt from VOC all the same",
        Standing::Memory,
    ),
    hap(
        "127-18-4",
        "perchloroethylene",
        true,
        "exempt from VOC all the same",
        Standing::Memory,
    ),
    hap(
        "106-94-5",
        "1-bromopropane",
        true,
        "added 2022",
        Standing::Memory,
    ),
    hap(
        "78-93-3",
        "methyl ethyl ketone",
        false,
        "removed 19 December 2005, 70 FR 75047",
        Standing::Cited,
    ),
    hap(
        "111-76-2",
        "2-butoxyethanol",
        false,
        "removed 29 November 2004, 69 FR 69320; other glycol ethers of the ethylene series stay",
        Standing::Cited,
    ),
    hap(
        "105-60-2",
        "caprolactam",
        false,
        "removed 1996",
        Standing::Cited,
    ),
    hap("67-64-1", "acetone", false, "", Standing::Memory),
    hap("141-78-6", "ethyl acetate", false, "", Standing::Memory),
    hap("123-86-4", "n-butyl acetate", false, "", Standing::Memory),
    hap("110-19-0", "isobutyl acetate", false, "", Standing::Memory),
    hap("67-63-0", "isopropyl alcohol", false, "", Standing::Memory),
    hap("64-17-5", "ethyl alcohol", false, "", Standing::Memory),
    hap("71-36-3", "n-butyl alcohol", false, "", Standing::Memory),
    hap("78-83-1", "isobutyl alcohol", false, "", Standing::Memory),
    hap("142-82-5", "n-heptane", false, "", Standing::Memory),
    hap(
        "110-43-0",
        "methyl n-amyl ketone",
        false,
        "",
        Standing::Memory,
    ),
    hap("123-42-2", "diacetone alcohol", false, "", Standing::Memory),
    hap("108-94-1", "cyclohexanone", false, "", Standing::Memory),
    hap(
        "107-98-2",
        "propylene glycol methyl ether",
        false,
        "",
        Standing::Memory,
    ),
];

/// What the list says of a CAS number; none when the substance is not in the table, which means unknown.
pub fn hap_entry(cas: &str) -> Option<&'static HapEntry> {
    HAPS.iter().find(|entry| entry.cas == cas)
}

/// The default share of organic HAP in a solvent blend whose sheet gives only its name.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HapBlend {
    /// The generic name.
    pub name: &'static str,
    /// The CAS number; none for the three that have no one number.
    pub cas: Option<&'static str>,
    /// The share by mass.
    pub share: f64,
}

const fn blend(name: &'static str, cas: &'static str, share: f64) -> HapBlend {
    HapBlend {
        name,
        cas: Some(cas),
        share,
    }
}

const fn nameless(name: &'static str, share: f64) -> HapBlend {
    HapBlend {
        name,
        cas: None,
        share,
    }
}

/// Default organic-HAP mass fractions, "Table 3, default organic HAP mass fraction for solvents and solvent blends" of
/// the US EPA's coating rules in 40 CFR 63, cited from a stored excerpt. Name and CAS are matched together: one CAS
/// number stands for blends with different shares.
pub static HAP_BLENDS: &[HapBlend] = &[
    blend("toluene", "108-88-3", 1.0),
    blend("xylenes", "1330-20-7", 1.0),
    blend("hexane", "110-54-3", 0.5),
    blend("n-hexane", "110-54-3", 1.0),
    blend("ethylbenzene", "100-41-4", 1.0),
    nameless("aliphatic 140", 0.0),
    nameless("aromatic 100", 0.02),
    nameless("aromatic 150", 0.09),
    blend("aromatic naphtha", "64742-95-6", 0.02),
    blend("aromatic solvent", "64742-94-5", 0.1),
    blend("exempt mineral spirits", "8032-32-4", 0.0),
    blend("ligroine (VM&P)", "8032-32-4", 0.0),
    blend("lactol spirits", "64742-89-6", 0.15),
    blend("low aromatic white spirit", "64742-82-1", 0.0),
    blend("mineral spirits", "64742-88-7", 0.01),
    blend("hydrotreated naphtha", "64742-48-9", 0.0),
    blend("hydrotreated light distillate", "64742-47-8", 0.001),
    blend("Stoddard solvent", "8052-41-3", 0.01),
    blend("super high-flash naphtha", "64742-95-6", 0.05),
    blend("VM&P naphtha", "64742-89-8", 0.06),
    blend("petroleum distillate mixture", "68477-31-6", 0.08),
    blend("straight-run mineral spirits", "8052-49-3", 0.01),
];

/// The default row for a blend, by name and CAS number together; with the CAS number alone the row with the highest
/// share, which is the cautious one.
pub fn hap_blend(name: Option<&str>, cas: &str) -> Option<&'static HapBlend> {
    let same = |row: &&HapBlend| row.cas == Some(cas);
    name.and_then(|name| {
        HAP_BLENDS
            .iter()
            .filter(same)
            .find(|row| row.name.eq_ignore_ascii_case(name))
    })
    .or_else(|| {
        HAP_BLENDS
            .iter()
            .filter(same)
            .max_by(|a, b| a.share.total_cmp(&b.share))
    })
}

/// The mass of a species in a mass of material.
///
/// Symbols: `m` mass, `w` share by mass. Equation: `m w`. Source: definition; the share from the data sheet, else from
/// [`HAP_BLENDS`]. It ignores what stays in the film: all of it is counted as given off.
pub fn species_mass(material: Mass, share: Ratio) -> Result<Mass, Outside> {
    let m = MASS.hold(material.get::<kilogram>())?;
    let w = SHARE.hold(share.get::<percent>())? / 100.0;
    Ok(Mass::new::<kilogram>(m * w))
}

/// The sum of a month and the eleven before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rolling {
    /// The sum of the known months of the window.
    pub sum: Mass,
    /// How many months of the window are known.
    pub known: usize,
    /// The window is not twelve known months: the sum is a part of the answer.
    pub partial: bool,
}

/// Rolling sums over twelve months, oldest first, one for each month.
///
/// Symbols: `m` mass of each month, none where the month is unknown. Equation: `sum` of the month and the preceding 11.
/// Source: definition in US permits and rules, cited from stored excerpts. A month that is unknown is not zero: its
/// windows are marked partial.
pub fn rolling_twelve(months: &[Option<Mass>]) -> Result<Vec<Rolling>, Outside> {
    let mut out = Vec::with_capacity(months.len());
    for end in 1..=months.len() {
        let window = months.get(end.saturating_sub(12)..end).unwrap_or_default();
        let (mut sum, mut known) = (0.0, 0);
        for mass in window.iter().flatten() {
            sum += MASS.hold(mass.get::<kilogram>())?;
            known += 1;
        }
        out.push(Rolling {
            sum: Mass::new::<kilogram>(sum),
            known,
            partial: known < 12,
        });
    }
    Ok(out)
}

/// One finishing material for the averaging equation: solids used and HAP for each mass of solids, as supplied.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Averaged {
    /// Mass of solids in the material used in the month.
    pub solids: Mass,
    /// Mass of volatile HAP for each mass of solids, as supplied.
    pub hap_per_solids: Ratio,
}

/// The month's average of volatile HAP for each mass of solids.
///
/// Symbols: `Mc` solids used, `Cc` HAP for each mass of solids, `W` solvent added with HAP share `S`.
/// Equation: `E = (sum(Mc Cc) + sum(S W)) / sum(Mc)`.
/// Source: 40 CFR 63.804(a)(1), equation 1, cited from a stored excerpt; the meaning of the symbols from memory, to be
/// confirmed. The rule is for major sources that make wood furniture; whether it binds a shop is for the air agency.
pub fn averaging(materials: &[Averaged], added: &[(Ratio, Mass)]) -> Result<Ratio, Outside> {
    const SOLIDS: Range = range(
        "solids of the month",
        "kg",
        1.0e-9,
        1.0e9,
        "there must be solids",
    );
    const LOAD: Range = range(
        "HAP for each mass of solids",
        "1",
        0.0,
        1_000.0,
        "a coating",
    );
    let (mut solids, mut load) = (0.0, 0.0);
    for material in materials {
        let m = MASS.hold(material.solids.get::<kilogram>())?;
        solids += m;
        load += m * LOAD.hold(material.hap_per_solids.get::<ratio>())?;
    }
    for (share, mass) in added {
        load += SHARE.hold(share.get::<percent>())? / 100.0 * MASS.hold(mass.get::<kilogram>())?;
    }
    Ok(Ratio::new::<ratio>(load / SOLIDS.hold(solids)?))
}

/// The limit on volatile HAP in a thinner, by what it thins, for an existing source.
///
/// Source: 40 CFR 63 Subpart JJ Table 3, existing sources, cited from a stored excerpt: 10.0 % by mass, 3.0 % where a
/// washcoat, basecoat or enamel is made on site. Whether the rule binds a shop is for the air agency.
pub fn thinner_hap_limit(made_on_site: bool) -> Ratio {
    Ratio::new::<percent>(if made_on_site { 3.0 } else { 10.0 })
}

/// What was used up by stock.
///
/// Symbols: opening and closing stock, receipts, returned or transferred. Valid for amounts of one shop.
/// Equation: `used = opening + receipts - closing - returned` (negative: a count or a receipt is missing).
/// Source: mass balance in air agencies' guides, cited from stored excerpts. It ignores spills unless they are entered.
pub fn used_by_stock(
    opening: Volume,
    receipts: Volume,
    closing: Volume,
    returned: Volume,
) -> Result<Volume, Outside> {
    let amount = |v: Volume| AMOUNT.hold(v.get::<cubic_meter>());
    Ok(Volume::new::<cubic_meter>(
        amount(opening)? + amount(receipts)? - amount(closing)? - amount(returned)?,
    ))
}

/// Stock against log: how far they are apart, and that as a share of the stock figure.
///
/// Symbols: `S` used by stock, `L` used by the log. Equation: `S - L`, `(S - L) / S`. Valid for stock use above zero.
/// Source: definition. The shop sets the share at which somebody looks into it.
pub fn stock_difference(by_stock: Volume, by_log: Volume) -> Result<(Volume, Ratio), Outside> {
    const STOCK: Range = range(
        "used by stock",
        "m3",
        1.0e-9,
        100_000.0,
        "something was used",
    );
    let s = STOCK.hold(by_stock.get::<cubic_meter>())?;
    let l = AMOUNT.hold(by_log.get::<cubic_meter>())?;
    Ok((
        Volume::new::<cubic_meter>(s - l),
        Ratio::new::<ratio>((s - l) / s),
    ))
}

/// What a credit for solvent that left as waste rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WastePapers {
    /// The site takes credits at all.
    pub site_allows: bool,
    /// The manifest's number is entered.
    pub manifest: bool,
    /// A reference to an analysis of the waste is entered.
    pub analysis: bool,
}

impl WastePapers {
    /// What a credit still wants.
    pub fn missing(self) -> Vec<&'static str> {
        [
            (self.site_allows, "the site's setting for waste credits"),
            (self.manifest, "the manifest number"),
            (self.analysis, "the reference of the analysis"),
        ]
        .into_iter()
        .filter_map(|(there, what)| (!there).then_some(what))
        .collect()
    }
}

/// The credit of a shipped mass as the record keeps it: `W w`, rounded half-to-even to the milligram. `None` when it cannot
/// be held.
pub fn kept_waste_credit(waste: KeptMass, share: Share) -> Option<KeptMass> {
    let product = i128::from(waste.raw()) * i128::from(share.raw());
    i64::try_from(num::round_half_even(product, 1_000_000))
        .ok()
        .map(KeptMass)
}

/// The mass that may be taken off the total for solvent shipped as waste, and what is missing for it.
#[derive(Debug, Clone, PartialEq)]
pub struct WasteCredit {
    /// The credit; zero when anything is missing.
    pub credit: Mass,
    /// The total less the credit.
    pub net: Mass,
    /// What is missing.
    pub missing: Vec<&'static str>,
}

/// The credit for solvent shipped as waste.
///
/// Symbols: `G` gross total, `W` mass of waste, `w` VOC share by analysis. Valid for a credit up to the total.
/// Equation: `credit = W w`, `net = G - credit`; without setting, manifest and analysis the credit is zero.
/// Source: air agencies' guides allow it where records show the content, cited from a stored excerpt; the papers asked
/// for are the house's rule. It ignores what evaporated from the waste can before it was closed.
pub fn waste_credit(
    gross: Mass,
    waste: Mass,
    share: Ratio,
    papers: WastePapers,
) -> Result<WasteCredit, Outside> {
    let total = MASS.hold(gross.get::<kilogram>())?;
    let credit = MASS.hold(waste.get::<kilogram>())? * SHARE.hold(share.get::<percent>())? / 100.0;
    let missing = papers.missing();
    let credit = if missing.is_empty() { credit } else { 0.0 };
    let net = Range {
        name: "credit against the gross total",
        unit: "kg",
        low: 0.0,
        high: total,
        because: "no more can leave as waste than was used",
    }
    .hold(credit)
    .map(|credit| total - credit)?;
    Ok(WasteCredit {
        credit: Mass::new::<kilogram>(credit),
        net: Mass::new::<kilogram>(net),
        missing,
    })
}

/// Hazardous-waste generator categories of a calendar month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Generator {
    /// Very small quantity generator: at most 100 kg, and 1 kg acute.
    VerySmall,
    /// Small quantity generator: above 100 and below 1000 kg.
    Small,
    /// Large quantity generator: 1000 kg and above, or more than 1 kg acute, or more than 100 kg of acute residue.
    Large,
}

impl Generator {
    /// The abbreviation of the rule.
    pub const fn code(self) -> &'static str {
        match self {
            Self::VerySmall => "VSQG",
            Self::Small => "SQG",
            Self::Large => "LQG",
        }
    }
}

/// The generator category of a calendar month.
///
/// Symbols: masses of non-acute waste, acute waste and residue of acute spills in the month. Valid from 0.
/// Rule: 100 kg exactly is still very small, 1000 kg exactly is large; acute waste above 1 kg or its residue above
/// 100 kg is large. Source: 40 CFR 262.13, cited from stored excerpts. States can be stricter; episodic events are
/// not looked at.
pub fn generator_category(
    waste: Mass,
    acute: Mass,
    acute_residue: Mass,
) -> Result<Generator, Outside> {
    let waste = MASS.hold(waste.get::<kilogram>())?;
    let acute = MASS.hold(acute.get::<kilogram>())?;
    let residue = MASS.hold(acute_residue.get::<kilogram>())?;
    let large = against(waste, 1_000.0) != Against::Under
        || against(acute, 1.0) == Against::Over
        || against(residue, 100.0) == Against::Over;
    Ok(if large {
        Generator::Large
    } else if against(waste, 100.0) == Against::Over {
        Generator::Small
    } else {
        Generator::VerySmall
    })
}

/// How an area stands on ozone, which sets the VOC threshold of a major source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OzoneArea {
    /// In attainment, marginal or moderate.
    AttainmentToModerate,
    /// Serious, or within the ozone transport region.
    SeriousOrTransport,
    /// Severe.
    Severe,
    /// Extreme.
    Extreme,
}

/// The VOC threshold of a major source for a year.
///
/// Source: US EPA pages on Title V and on nonattainment classification, cited from stored excerpts: 100, 50, 25
/// and 10 short tons.
/// The **potential** to emit is what counts, not only what was emitted.
pub fn major_voc(area: OzoneArea) -> Mass {
    let tons = match area {
        OzoneArea::AttainmentToModerate => 100.0,
        OzoneArea::SeriousOrTransport => 50.0,
        OzoneArea::Severe => 25.0,
        OzoneArea::Extreme => 10.0,
    };
    Mass::new::<kilogram>(tons * SHORT_TON)
}

/// A year's HAP against the two thresholds of a major source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MajorHap {
    /// The largest single HAP against 10 short tons.
    pub single: Against,
    /// All HAP together against 25 short tons.
    pub all: Against,
}

/// Holds a year's HAP against the thresholds of a major source: 10 short tons of one, 25 of all; at counts as reached.
///
/// Source: US EPA page on Title V, cited from a stored excerpt. The **potential** to emit is what counts.
pub fn hold_major_hap(single: Mass, all: Mass) -> Result<MajorHap, Outside> {
    let one = MASS.hold(single.get::<kilogram>())?;
    let sum = MASS.hold(all.get::<kilogram>())?;
    Ok(MajorHap {
        single: against(one, 10.0 * SHORT_TON),
        all: against(sum, 25.0 * SHORT_TON),
    })
}
