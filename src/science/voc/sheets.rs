//! The worksheets of the solvent book.

use uom::si::f64::{Mass, MassDensity, MolarMass, Pressure, Ratio, Volume};
use uom::si::molar_mass::gram_per_mole;
use uom::si::ratio::ratio;

use super::{
    Averaged, Basis, Coating, Generator, HAP_BLENDS, HAPS, OzoneArea, Volatile, WastePapers,
    averaging, bases_from_amounts, basis_for, composite_vapour_pressure, content_to_solids_basis,
    generator_category, hap_entry, hold_major_hap, kept_mass, major_voc, rolling_twelve,
    species_mass, stock_difference, thinner_hap_limit, used_by_stock, voc_less_water_and_exempt,
    voc_of_material, voc_per_mass_solids, voc_per_volume_solids, waste_credit,
};
use crate::science::measure::{
    CAN, CONTENT, CUP, DENSITY, GRAMS, MASS, Measure, NUMBER, PRESSURE, SHARE,
};
use crate::science::validity::Against;
use crate::science::worksheet::{Input, Inputs, Quantity, Refusal, Sheet, Worksheet};
use crate::units::{
    Amount, Density as KeptDensity, Dimension, Mass as KeptMass, Share as KeptShare, System,
    Volume as KeptVolume, num,
};

const TONS: Measure = Measure::new(Dimension::Mass, "t", "short ton");
const GRAM_MOLE: Measure = Measure::plain("g/mol");
const ASK_AGENCY: &str = "which rule binds, and on which basis, is for the air agency and the permit; ask the safety lead";
const ALL_GIVEN_OFF: &str =
    "all solvent is counted as given off; exempt from VOC is not exempt from anything else";
const YES_NO: &[&str] = &["yes", "no"];
const DISTRICTS: &str = "US state and district rules, cited from stored excerpts";

const fn share(name: &'static str, about: &'static str, example: &'static str) -> Input {
    Input::amount(name, about, SHARE, (0.0, 100.0), example)
}

const fn can(name: &'static str, about: &'static str, example: &'static str) -> Input {
    Input::amount(name, about, CAN, (0.0, 1_000_000.0), example)
}

const fn mass(name: &'static str, about: &'static str, example: &'static str) -> Input {
    Input::amount(name, about, MASS, (0.0, 10_000_000.0), example)
}

const fn content(name: &'static str, about: &'static str, example: &'static str) -> Input {
    Input::amount(name, about, CONTENT, (0.0, 2_000.0), example)
}

/// The CAS numbers of the table of hazardous air pollutants, in its order.
const HAP_WORDS: &[&str] = &[
    "108-88-3",
    "1330-20-7",
    "95-47-6",
    "108-38-3",
    "106-42-3",
    "100-41-4",
    "67-56-1",
    "108-10-1",
    "100-42-5",
    "50-00-0",
    "110-54-3",
    "91-20-3",
    "98-82-8",
    "84-74-2",
    "117-81-7",
    "78-59-1",
    "75-09-2",
    "127-18-4",
    "106-94-5",
    "78-93-3",
    "111-76-2",
    "105-60-2",
    "67-64-1",
    "141-78-6",
    "123-86-4",
    "110-19-0",
    "67-63-0",
    "64-17-5",
    "71-36-3",
    "78-83-1",
    "142-82-5",
    "110-43-0",
    "123-42-2",
    "108-94-1",
    "107-98-2",
];

/// The blends of the table of default shares, in its order.
const BLEND_WORDS: &[&str] = &[
    "toluene",
    "xylenes",
    "hexane",
    "n-hexane",
    "ethylbenzene",
    "aliphatic-140",
    "aromatic-100",
    "aromatic-150",
    "aromatic-naphtha",
    "aromatic-solvent",
    "exempt-mineral-spirits",
    "ligroine-vm-p",
    "lactol-spirits",
    "low-aromatic-white-spirit",
    "mineral-spirits",
    "hydrotreated-naphtha",
    "hydrotreated-light-distillate",
    "stoddard-solvent",
    "super-high-flash-naphtha",
    "vm-p-naphtha",
    "petroleum-distillate-mixture",
    "straight-run-mineral-spirits",
];

/// The worksheets of the solvent book.
pub static SHEETS: &[Sheet] = &[
    Sheet {
        id: "voc",
        purpose: "VOC of a coating on every basis, and a limit on the basis that it declares",
        source: DISTRICTS,
        inputs: &[
            Input::amount(
                "density",
                "density of the coating",
                DENSITY,
                (0.3, 3.0),
                "0.92kg/L",
            ),
            share("solids", "solids by mass", "24%"),
            share("water", "water by mass", "0%").or("0%"),
            share("exempt", "exempt solvent by mass", "15%").or("0%"),
            Input::amount(
                "water-density",
                "density of water as the rule prints it",
                DENSITY,
                (0.95, 1.02),
                "0.998kg/L",
            )
            .or("0.998kg/L"),
            Input::amount(
                "exempt-density",
                "density of the exempt solvent",
                DENSITY,
                (0.3, 3.0),
                "0.79kg/L",
            )
            .or("0.79kg/L"),
            share("solids-volume", "solids by volume", "17%").or_unknown(),
            Input::word(
                "basis",
                "the basis that the limit declares",
                &[
                    "material",
                    "less-water-and-exempt",
                    "solids-volume",
                    "solids-mass",
                ],
                "less-water-and-exempt",
            )
            .or_unknown(),
            content("limit", "the limit, for a basis of volume", "680g/L").or_unknown(),
            Input::amount(
                "limit-mass",
                "the limit, for the basis of solids by mass",
                NUMBER,
                (0.0, 100.0),
                "1.8",
            )
            .or_unknown(),
        ],
        compute: voc_sheet,
    },
    Sheet {
        id: "voc-bases",
        purpose: "VOC on three bases from amounts instead of shares",
        source: "California district rules, cited from stored excerpts",
        inputs: &[
            mass("voc", "mass of VOC", "33.2lb"),
            can("material", "volume of the material", "100gal"),
            can("water", "water in it", "62.4gal").or("0L"),
            can("exempt", "exempt solvent in it", "0gal").or("0L"),
            can("solids", "solids in it", "33.06gal"),
        ],
        compute: bases_sheet,
    },
    Sheet {
        id: "voc-solids-basis",
        purpose: "A VOC content less water and exempt solvent, converted to the basis of solids",
        source: "Florida, Texas and Colorado rules, cited from stored excerpts",
        inputs: &[
            content("voc", "VOC less water and exempt solvent", "3lb/gal"),
            Input::amount(
                "voc-density",
                "density of the VOC; 7.36 lb/gal by convention",
                DENSITY,
                (0.3, 3.0),
                "7.36lb/gal",
            )
            .or("7.36lb/gal"),
        ],
        compute: solids_basis_sheet,
    },
    Sheet {
        id: "voc-vapour-pressure",
        purpose: "The composite vapour pressure of the VOC in a liquid",
        source: "US EPA aerospace calculation sheet and Maryland COMAR 26.11.19.02, cited from stored excerpts",
        inputs: &[
            Input::amount(
                "voc",
                "mass of each VOC part",
                GRAMS,
                (0.0, 1_000_000.0),
                "[80.5g,160.2g,79.2g]",
            )
            .list(1, 30),
            Input::amount(
                "molar-mass",
                "its molar mass, in the same order",
                GRAM_MOLE,
                (10.0, 500.0),
                "[72.1,100.2,32]",
            )
            .list(1, 30),
            Input::amount(
                "pressure",
                "its vapour pressure, in the same order",
                PRESSURE,
                (0.0, 200_000.0),
                "[9412.6Pa,1919.8Pa,12732.3Pa]",
            )
            .list(1, 30),
            Input::amount(
                "diluting",
                "mass of water and of each exempt part",
                GRAMS,
                (0.0, 1_000_000.0),
                "[500g,79.2g]",
            )
            .list(1, 30)
            .or_unknown(),
            Input::amount(
                "diluting-molar-mass",
                "its molar mass, in the same order",
                GRAM_MOLE,
                (10.0, 500.0),
                "[18,58.1]",
            )
            .list(1, 30)
            .or_unknown(),
        ],
        compute: pressure_sheet,
    },
    Sheet {
        id: "substance-mass",
        purpose: "Mass of one substance in the uses of a material, as the record keeps it",
        source: "house rule: volume x density x share, rounded once for each use (arithmetic)",
        inputs: &[
            Input::amount(
                "volume",
                "volume of a use; uses of the same volume may be given once",
                CUP,
                (0.0, 100_000_000.0),
                "[8.123 mL,8.124 mL]",
            )
            .list(1, 20_000),
            Input::count(
                "uses",
                "how many uses have that volume, in the same order",
                (1, 1_000_000),
                "[12,12]",
            )
            .or("1")
            .list(1, 20_000),
            Input::amount(
                "density",
                "density of the material",
                DENSITY,
                (0.3, 3.0),
                "0.92kg/L",
            ),
            share("share", "share of the substance by mass", "10%"),
        ],
        compute: substance_mass_sheet,
    },
    Sheet {
        id: "solvent-sum",
        purpose: "VOC, HAP and exempt solvent as sums of the masses of single substances",
        source: "addition (arithmetic); which substance counts as what is stated by its data sheet",
        inputs: &[
            Input::amount(
                "mass",
                "mass of each substance",
                GRAMS,
                (0.0, 1_000_000_000.0),
                "[120g,80g,16g]",
            )
            .list(1, 20_000),
            Input::word(
                "counts-as",
                "what it counts as, in the same order",
                COUNTED_AS,
                "[exempt,voc-hap,voc]",
            )
            .list(1, 20_000),
        ],
        compute: solvent_sum_sheet,
    },
    Sheet {
        id: "hap",
        purpose: "Hazardous air pollutants in a mass of material, by species",
        source: "Clean Air Act 112(b), entries cited from stored excerpts or from memory, to be confirmed, as shown for each",
        inputs: &[
            mass("material", "mass of the material", "0.92kg"),
            Input::word(
                "species",
                "a substance of its data sheet, by CAS number",
                HAP_WORDS,
                "108-88-3",
            )
            .list(1, 30)
            .or_unknown(),
            share("part", "its share by mass, in the same order", "10%")
                .list(1, 30)
                .or_unknown(),
            Input::word(
                "blend",
                "a solvent blend of which the sheet gives only the name",
                BLEND_WORDS,
                "vm-p-naphtha",
            )
            .list(1, 30)
            .or_unknown(),
            share("blend-part", "its share by mass, in the same order", "5%")
                .list(1, 30)
                .or_unknown(),
        ],
        compute: hap_sheet,
    },
    Sheet {
        id: "rolling-twelve",
        purpose: "The sum of a month and the eleven before it; partial until twelve are known",
        source: "definition in US permits and rules, cited from stored excerpts",
        inputs: &[
            mass(
                "month",
                "a month's mass, oldest first; write 0 for an unknown one and name it below",
                "[0kg,90kg,85kg,80kg,88kg,91kg,79kg,84kg,87kg,93kg,90kg,82kg,86kg]",
            )
            .list(1, 120),
            Input::count(
                "unknown",
                "which of them are unknown, 1 the oldest",
                (1, 120),
                "1",
            )
            .list(1, 120)
            .or_unknown(),
            mass(
                "limit",
                "the limit on the sum, with its source noted",
                "1500kg",
            )
            .or_unknown(),
        ],
        compute: rolling_sheet,
    },
    Sheet {
        id: "hap-average",
        purpose: "The month's average of volatile HAP for each mass of solids",
        source: "40 CFR 63.804(a)(1), equation 1, cited from a stored excerpt; the meaning of its symbols from memory, to be confirmed",
        inputs: &[
            mass(
                "solids",
                "solids of each finishing material used",
                "[100kg,60kg]",
            )
            .list(1, 100),
            Input::amount(
                "load",
                "volatile HAP for each mass of its solids, in the same order",
                NUMBER,
                (0.0, 1_000.0),
                "[1.1,0.7]",
            )
            .list(1, 100),
            mass("added", "solvent added", "[40kg]")
                .list(1, 100)
                .or_unknown(),
            share(
                "added-hap",
                "its share of volatile HAP, in the same order",
                "[5%]",
            )
            .list(1, 100)
            .or_unknown(),
            Input::amount(
                "limit",
                "the limit, with its source noted",
                NUMBER,
                (0.0, 100.0),
                "1",
            )
            .or_unknown(),
        ],
        compute: average_sheet,
    },
    Sheet {
        id: "thinner-hap",
        purpose: "The share of volatile HAP in a thinner held against the limit of an existing source",
        source: "40 CFR 63 Subpart JJ Table 3, existing sources, cited from a stored excerpt",
        inputs: &[
            share("hap", "volatile HAP in the thinner by mass", "4%"),
            Input::word(
                "made-on-site",
                "it thins a washcoat, basecoat or enamel made on site",
                YES_NO,
                "no",
            ),
        ],
        compute: thinner_hap_sheet,
    },
    Sheet {
        id: "stock-balance",
        purpose: "What was used up by stock, what that gives off, and how far the log is from it",
        source: "mass balance in air agencies' guides, cited from stored excerpts",
        inputs: &[
            can("opening", "counted at the start", "200L"),
            can("receipt", "what came in", "[400L]")
                .list(1, 200)
                .or("0L"),
            can("closing", "counted at the end", "180L"),
            can("returned", "returned or handed on", "0L").or("0L"),
            content("voc", "VOC of the material", "561.2g/L").or_unknown(),
            can("logged", "used by the log", "401.5L").or_unknown(),
            share("alarm", "share at which somebody looks into it", "5%").or_unknown(),
        ],
        compute: stock_sheet,
    },
    Sheet {
        id: "waste-credit",
        purpose: "What may be taken off a total for solvent shipped as waste, and what is missing for it",
        source: "air agencies' guides allow it where records show the content, cited from a stored excerpt",
        inputs: &[
            mass("gross", "the total before the credit", "612.4kg"),
            mass("waste", "mass of the waste shipped", "160kg"),
            share("voc", "its VOC share by analysis", "55%"),
            Input::word("site-allows", "the site takes waste credits", YES_NO, "yes").or("no"),
            Input::word("manifest", "the manifest number is on file", YES_NO, "yes").or("no"),
            Input::word("analysis", "the analysis is on file", YES_NO, "yes").or("no"),
        ],
        compute: credit_sheet,
    },
    Sheet {
        id: "waste-category",
        purpose: "The hazardous-waste generator category of a calendar month",
        source: "40 CFR 262.13, cited from stored excerpts",
        inputs: &[
            mass(
                "waste",
                "hazardous waste of the month that is not acute",
                "85kg",
            ),
            mass("acute", "acute hazardous waste of the month", "0kg").or("0kg"),
            mass("residue", "residue of acute spills of the month", "0kg").or("0kg"),
        ],
        compute: waste_sheet,
    },
    Sheet {
        id: "major-source",
        purpose: "A year's emission held against the thresholds of a major source",
        source: "US EPA pages on Title V and on nonattainment classification, cited from stored excerpts",
        inputs: &[
            Input::amount(
                "voc",
                "VOC of twelve months",
                TONS,
                (0.0, 100_000.0),
                "1.4t",
            ),
            Input::word(
                "area",
                "how the area stands on ozone",
                &[
                    "attainment-to-moderate",
                    "serious-or-transport",
                    "severe",
                    "extreme",
                ],
                "attainment-to-moderate",
            ),
            Input::amount(
                "hap",
                "the largest single HAP of twelve months",
                TONS,
                (0.0, 100_000.0),
                "0.2t",
            )
            .or_unknown(),
            Input::amount(
                "all-hap",
                "all HAP of twelve months",
                TONS,
                (0.0, 100_000.0),
                "0.3t",
            )
            .or_unknown(),
        ],
        compute: major_sheet,
    },
];

/// What a substance counts as: a VOC, exempt from VOC, or water, and whether it is a HAP besides.
const COUNTED_AS: &[&str] = &[
    "voc",
    "voc-hap",
    "exempt",
    "exempt-hap",
    "water",
    "water-hap",
];

fn grams(mass: i64) -> Mass {
    Mass::of_base(KeptMass(mass).base())
}

fn substance_mass_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let volumes: Vec<Volume> = inputs.list("volume")?;
    let mut uses: Vec<f64> = inputs.list("uses")?;
    if let ([one], true) = (uses.as_slice(), volumes.len() > 1) {
        uses = vec![*one; volumes.len()];
    }
    let density: MassDensity = inputs.get("density")?;
    let share: Ratio = inputs.get("share")?;
    let (kept_density, kept_share) = (
        KeptDensity::of_base(density.to_base()).unwrap_or_default(),
        KeptShare::of_base(share.to_base()).unwrap_or_default(),
    );
    let too_much = || Refusal::no_answer("volume", "", "a mass that the record can hold");
    let (mut sum, mut whole, mut count) = (0_i64, Volume::of_base(0.0), 0_i64);
    let mut steps = Vec::new();
    for (volume, uses) in pairs("uses", &volumes, &uses)? {
        let times = num::whole(uses).unwrap_or(0);
        let kept = KeptVolume::of_base(volume.to_base()).unwrap_or_default();
        let one = kept_mass(kept, kept_density, kept_share).ok_or_else(too_much)?;
        let all = one.0.checked_mul(times).ok_or_else(too_much)?;
        sum = sum.checked_add(all).ok_or_else(too_much)?;
        whole += volume * uses;
        count += times;
        steps.push((
            format!("{times} x {}", CUP.text(volume.to_base(), System::Metric)),
            all,
        ));
    }
    let straight: Mass = whole * density * share;
    let mut sheet = Worksheet::new("mass of the substance", grams(sum), GRAMS)
        .also("in one step, without rounding", straight, GRAMS)
        .also("volume of all uses", whole, CUP)
        .also("uses", num::float(count), NUMBER);
    for (what, mass) in steps {
        sheet = sheet.step(
            &what,
            "uses x (volume x density x share, rounded half to even to whole mg)",
            grams(mass),
            GRAMS,
        );
    }
    Ok(sheet
        .step("mass of the substance", "sum", grams(sum), GRAMS)
        .step(
            "in one step, without rounding",
            "volume of all uses x density x share",
            straight,
            GRAMS,
        )
        .assumes("each use is rounded by itself, so the kept mass and the mass in one step may differ by half a milligram for each use")
        .assumes(ALL_GIVEN_OFF))
}

fn solvent_sum_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let masses: Vec<Mass> = inputs.list("mass")?;
    let words = inputs.words("counts-as")?;
    let (mut voc, mut hap, mut exempt) = (0_i64, 0_i64, 0_i64);
    for (mass, word) in pairs("counts-as", &masses, &words)? {
        let mass = KeptMass::of_base(mass.to_base()).unwrap_or_default().0;
        let (kind, is_hap) = word
            .strip_suffix("-hap")
            .map_or((word, false), |kind| (kind, true));
        match kind {
            "voc" => voc += mass,
            "exempt" => exempt += mass,
            _ => {}
        }
        if is_hap {
            hap += mass;
        }
    }
    Ok(Worksheet::new("VOC", grams(voc), GRAMS)
        .also("HAP", grams(hap), GRAMS)
        .also("exempt from VOC", grams(exempt), GRAMS)
        .step("VOC", "sum of what counts as voc", grams(voc), GRAMS)
        .step(
            "HAP",
            "sum of what counts as hap, whether voc or exempt",
            grams(hap),
            GRAMS,
        )
        .step(
            "exempt from VOC",
            "sum of what counts as exempt",
            grams(exempt),
            GRAMS,
        )
        .assumes(ALL_GIVEN_OFF)
        .caution(ASK_AGENCY))
}

fn pairs<A: Copy, B: Copy>(name: &str, first: &[A], second: &[B]) -> Result<Vec<(A, B)>, Refusal> {
    if first.len() == second.len() {
        Ok(first.iter().copied().zip(second.iter().copied()).collect())
    } else {
        Err(Refusal::no_answer(
            name,
            format!("with {} values", second.len()),
            format!("give {}, one for each", first.len()),
        ))
    }
}

fn yes(inputs: &Inputs, name: &str) -> Result<bool, Refusal> {
    Ok(inputs.word(name)? == "yes")
}

fn voc_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let coating = Coating {
        density: inputs.get("density")?,
        solids: inputs.get("solids")?,
        water: inputs.get("water")?,
        exempt: inputs.get("exempt")?,
        water_density: inputs.get("water-density")?,
        exempt_density: inputs.get("exempt-density")?,
    };
    let material = voc_of_material(&coating)?;
    let less = voc_less_water_and_exempt(&coating)?;
    let by_volume = match inputs.maybe::<Ratio>("solids-volume")? {
        Some(solids) => Some(voc_per_volume_solids(&coating, solids)?),
        None => None,
    };
    let by_mass = voc_per_mass_solids(&coating).ok().map(|r| r.get::<ratio>());
    let mut sheet = Worksheet::new("VOC of the material", material, CONTENT)
        .also("VOC less water and exempt solvent", less, CONTENT)
        .step(
            "VOC of the material",
            "(1 - Wn - Ww - We) Dc",
            material,
            CONTENT,
        )
        .step(
            "VOC less water and exempt solvent",
            "(1 - Wn - Ww - We) Dc / (1 - Ww Dc / Dw - We Dc / De)",
            less,
            CONTENT,
        );
    if let Some(figure) = by_volume {
        sheet = sheet
            .also("VOC for a volume of solids", figure, CONTENT)
            .step(
                "VOC for a volume of solids",
                "(1 - Wn - Ww - We) Dc / Vn",
                figure,
                CONTENT,
            );
    }
    if let Some(figure) = by_mass {
        sheet = sheet.also("VOC for a mass of solids", figure, NUMBER).step(
            "VOC for a mass of solids",
            "(1 - Wn - Ww - We) / Wn",
            figure,
            NUMBER,
        );
    }
    let limit: Option<MassDensity> = inputs.maybe("limit")?;
    let limit_mass: Option<f64> = inputs.maybe("limit-mass")?;
    sheet = match inputs.word("basis")? {
        "material" => sheet.at_most("limit, of the material", Some(material), limit, CONTENT),
        "less-water-and-exempt" => sheet.at_most(
            "limit, less water and exempt solvent",
            Some(less),
            limit,
            CONTENT,
        ),
        "solids-volume" => {
            sheet.at_most("limit, for a volume of solids", by_volume, limit, CONTENT)
        }
        "solids-mass" => sheet.at_most("limit, for a mass of solids", by_mass, limit_mass, NUMBER),
        _ if limit.is_some() || limit_mass.is_some() => {
            return Err(Refusal::no_answer(
                "basis",
                "left out",
                "say which basis the limit declares; the same coating has several figures",
            ));
        }
        _ => sheet,
    };
    let judged = match basis_for(&coating)? {
        Basis::Material => "low solids (below 1 lb/gal): content limits look at the material",
        Basis::LessWaterAndExempt => "content limits look at VOC less water and exempt solvent",
    };
    Ok(sheet
        .assumes(format!("{judged} (SCAQMD, cited from a stored excerpt)"))
        .assumes("totals and fees use the VOC of the material")
        .assumes(ALL_GIVEN_OFF)
        .caution(ASK_AGENCY))
}

fn bases_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let bases = bases_from_amounts(
        inputs.get("voc")?,
        inputs.get("material")?,
        inputs.get("water")?,
        inputs.get("exempt")?,
        inputs.get("solids")?,
    )?;
    Ok(
        Worksheet::new("VOC of the material", bases.material, CONTENT)
            .also(
                "VOC less water and exempt solvent",
                bases.less_water_and_exempt,
                CONTENT,
            )
            .also("VOC for a volume of solids", bases.solids, CONTENT)
            .step("of the material", "Ms / Vm", bases.material, CONTENT)
            .step(
                "less water and exempt solvent",
                "Ms / (Vm - Vw - Ve)",
                bases.less_water_and_exempt,
                CONTENT,
            )
            .step("for a volume of solids", "Ms / Vn", bases.solids, CONTENT)
            .assumes(ALL_GIVEN_OFF)
            .caution(ASK_AGENCY),
    )
}

fn solids_basis_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let figure = content_to_solids_basis(inputs.get("voc")?, inputs.get("voc-density")?)?;
    Ok(
        Worksheet::new("VOC for a volume of solids", figure, CONTENT)
            .step(
                "VOC for a volume of solids",
                "C / (1 - C / D)",
                figure,
                CONTENT,
            )
            .assumes("the density of the VOC is a convention, not the one in the can")
            .caution(ASK_AGENCY),
    )
}

fn pressure_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let of_molar = |grams: f64| MolarMass::new::<gram_per_mole>(grams);
    let masses: Vec<Mass> = inputs.list("voc")?;
    let molar = pairs("molar-mass", &masses, &inputs.list::<f64>("molar-mass")?)?;
    let all = pairs("pressure", &molar, &inputs.list::<Pressure>("pressure")?)?;
    let parts: Vec<Volatile> = all
        .iter()
        .map(|((mass, molar), pressure)| Volatile {
            mass: *mass,
            molar_mass: of_molar(*molar),
            pressure: *pressure,
        })
        .collect();
    let diluting: Vec<(Mass, MolarMass)> = pairs(
        "diluting-molar-mass",
        &inputs.list::<Mass>("diluting")?,
        &inputs.list::<f64>("diluting-molar-mass")?,
    )?
    .iter()
    .map(|(mass, molar)| (*mass, of_molar(*molar)))
    .collect();
    let pressure = composite_vapour_pressure(&parts, &diluting)?;
    Ok(
        Worksheet::new("composite vapour pressure", pressure, PRESSURE)
            .step(
                "composite vapour pressure",
                "sum(Wi VPi / MWi) / sum(W / MW)",
                pressure,
                PRESSURE,
            )
            .assumes("an ideal solution; water and exempt parts only dilute"),
    )
}

fn hap_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let material: Mass = inputs.get("material")?;
    let species = pairs(
        "part",
        &inputs.words("species")?,
        &inputs.list::<Ratio>("part")?,
    )?;
    let blends = pairs(
        "blend-part",
        &inputs.words("blend")?,
        &inputs.list::<Ratio>("blend-part")?,
    )?;
    let mut total = Mass::default();
    let mut whole = Ratio::default();
    let mut sheet = Worksheet::new("all HAP", total, MASS);
    for (cas, part) in species {
        whole += part;
        let entry = hap_entry(cas)
            .ok_or_else(|| Refusal::no_answer("species", cas, "a substance of the table"))?;
        let counted = if entry.listed {
            species_mass(material, part)?
        } else {
            Mass::default()
        };
        total += counted;
        let standing = entry.standing.words();
        let note = if entry.note.is_empty() {
            standing.to_owned()
        } else {
            format!("{}; {standing}", entry.note)
        };
        sheet = sheet.also(entry.name, counted, MASS).assumes(format!(
            "{} ({}): {} ({note})",
            entry.name,
            entry.cas,
            if entry.listed {
                "on the list"
            } else {
                "not on the list"
            }
        ));
    }
    for (word, part) in blends {
        whole += part;
        let row = BLEND_WORDS
            .iter()
            .position(|known| *known == word)
            .and_then(|at| HAP_BLENDS.get(at))
            .ok_or_else(|| Refusal::no_answer("blend", word, "a blend of the table"))?;
        let counted = species_mass(material, part)? * Ratio::new::<ratio>(row.share);
        total += counted;
        sheet = sheet
            .also(&format!("HAP in {}", row.name), counted, MASS)
            .assumes(format!(
                "{} ({}): default share of organic HAP {} %, 40 CFR 63 Table 3, cited from a stored excerpt",
                row.name,
                row.cas.unwrap_or("no one CAS number"),
                (row.share * 1_000.0).round() / 10.0
            ));
    }
    if whole.get::<ratio>() > 1.0 + 1.0e-9 {
        return Err(Refusal::no_answer(
            "part",
            format!("sum {} %", (whole.get::<ratio>() * 1_000.0).round() / 10.0),
            "the parts of one material, at most 100 % together",
        ));
    }
    sheet.result.base = total.to_base();
    Ok(sheet
        .step("all HAP", "sum over species and blends of m w", total, MASS)
        .assumes(format!(
            "the table has {} substances; one that is not in it is unknown, not off the list",
            HAPS.len()
        ))
        .assumes(ALL_GIVEN_OFF)
        .caution(ASK_AGENCY))
}

fn rolling_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let months: Vec<Mass> = inputs.list("month")?;
    let mut known: Vec<Option<Mass>> = months.iter().copied().map(Some).collect();
    for position in inputs.list::<f64>("unknown")? {
        let slot = num::whole(position)
            .and_then(|at| usize::try_from(at - 1).ok())
            .and_then(|at| known.get_mut(at))
            .ok_or_else(|| {
                Refusal::no_answer(
                    "unknown",
                    position.to_string(),
                    format!("1 to {}", months.len()),
                )
            })?;
        if slot.is_some_and(|mass| mass.to_base() != 0.0) {
            return Err(Refusal::no_answer(
                "unknown",
                position.to_string(),
                "a month with a figure is not unknown; write 0 for it",
            ));
        }
        *slot = None;
    }
    let sums = rolling_twelve(&known)?;
    let last = sums
        .last()
        .ok_or_else(|| Refusal::no_answer("month", "none", "at least one month"))?;
    // A part of a year stays under a limit for lack of months, so it is unknown to it unless it is over already.
    let limit: Option<Mass> = inputs.maybe("limit")?;
    let over_already = limit.is_some_and(|limit| last.sum > limit);
    let figure = (!last.partial || over_already).then_some(last.sum);
    let sheet = Worksheet::new("sum of the last twelve months", last.sum, MASS)
        .also("known months of the twelve", num::count(last.known), NUMBER)
        .step("sum", "the month and the eleven before it", last.sum, MASS)
        .at_most("the entered limit on twelve months", figure, limit, MASS)
        .caution(ASK_AGENCY);
    Ok(if last.partial {
        sheet.assumes("partial: fewer than twelve months are known; an unknown month is not zero")
    } else {
        sheet
    })
}

fn average_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let materials: Vec<Averaged> = pairs(
        "load",
        &inputs.list::<Mass>("solids")?,
        &inputs.list::<f64>("load")?,
    )?
    .iter()
    .map(|(solids, load)| Averaged {
        solids: *solids,
        hap_per_solids: Ratio::new::<ratio>(*load),
    })
    .collect();
    let added: Vec<(Ratio, Mass)> = pairs(
        "added-hap",
        &inputs.list::<Mass>("added")?,
        &inputs.list::<Ratio>("added-hap")?,
    )?
    .iter()
    .map(|(mass, share)| (*share, *mass))
    .collect();
    let average = averaging(&materials, &added)?.get::<ratio>();
    Ok(Worksheet::new("volatile HAP for a mass of solids", average, NUMBER)
        .step("average", "(sum(Mc Cc) + sum(S W)) / sum(Mc)", average, NUMBER)
        .at_most("the entered limit", Some(average), inputs.maybe("limit")?, NUMBER)
        .source("limits in Subpart JJ: 1.0 for an existing source (cited from a stored excerpt), 0.8 for a new one (from memory, to be confirmed)")
        .assumes("the rule is for major sources that make wood furniture; it may not bind this shop")
        .caution(ASK_AGENCY))
}

fn thinner_hap_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let hap: Ratio = inputs.get("hap")?;
    let limit = thinner_hap_limit(yes(inputs, "made-on-site")?);
    Ok(Worksheet::new("volatile HAP in the thinner", hap, SHARE)
        .step(
            "limit",
            "10.0 %, or 3.0 % where the coating is made on site",
            limit,
            SHARE,
        )
        .at_most("limit of an existing source", Some(hap), Some(limit), SHARE)
        .assumes(
            "the rule is for major sources that make wood furniture; it may not bind this shop",
        )
        .caution(ASK_AGENCY))
}

fn stock_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let receipts: Volume = inputs.list::<Volume>("receipt")?.into_iter().sum();
    let used = used_by_stock(
        inputs.get("opening")?,
        receipts,
        inputs.get("closing")?,
        inputs.get("returned")?,
    )?;
    let content: Option<MassDensity> = inputs.maybe("voc")?;
    let mut sheet = Worksheet::new("used by stock", used, CAN)
        .step(
            "used by stock",
            "opening + receipts - closing - returned",
            used,
            CAN,
        )
        .assumes(ALL_GIVEN_OFF);
    if let Some(content) = content {
        sheet = sheet.also("VOC by stock", used * content, MASS).step(
            "VOC by stock",
            "used VOC content",
            used * content,
            MASS,
        );
    }
    if used.to_base() < 0.0 {
        return Ok(sheet.caution(
            "more left than there was: a receipt or a count is missing; count again and ask the supervisor",
        ));
    }
    let alarm: Option<Ratio> = inputs.maybe("alarm")?;
    match inputs.maybe::<Volume>("logged")? {
        Some(logged) if used.to_base() > 0.0 => {
            let (difference, part) = stock_difference(used, logged)?;
            let size = if part.to_base() < 0.0 { -part } else { part };
            sheet = sheet
                .also("stock less log", difference, CAN)
                .also("stock less log, as a share of stock", part, SHARE)
                .step("difference", "(S - L) / S", part, SHARE)
                .at_most(
                    "share at which somebody looks into it",
                    Some(size),
                    alarm,
                    SHARE,
                );
            if let Some(content) = content {
                sheet = sheet.also("VOC by log", logged * content, MASS);
            }
        }
        _ => {
            sheet = sheet
                .at_most("share at which somebody looks into it", None, alarm, SHARE)
                .assumes("the log's figure is unknown, or nothing was used by stock");
        }
    }
    Ok(sheet.caution(ASK_AGENCY))
}

fn credit_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let papers = WastePapers {
        site_allows: yes(inputs, "site-allows")?,
        manifest: yes(inputs, "manifest")?,
        analysis: yes(inputs, "analysis")?,
    };
    let found = waste_credit(
        inputs.get("gross")?,
        inputs.get("waste")?,
        inputs.get("voc")?,
        papers,
    )?;
    let mut sheet = Worksheet::new("total less the credit", found.net, MASS)
        .also("credit", found.credit, MASS)
        .step(
            "credit",
            "W w, or zero when a paper is missing",
            found.credit,
            MASS,
        )
        .step("net", "G - credit", found.net, MASS)
        .assumes("the waste can was closed: what evaporated from it was given off all the same")
        .caution(ASK_AGENCY);
    for missing in found.missing {
        sheet = sheet.assumes(format!("no credit: {missing} is missing"));
    }
    Ok(sheet)
}

fn waste_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let waste: Mass = inputs.get("waste")?;
    let found = generator_category(waste, inputs.get("acute")?, inputs.get("residue")?)?;
    let (step, number) = match found {
        Generator::VerySmall => ("at most 100 kg, 1 kg acute, 100 kg acute residue", 1.0),
        Generator::Small => ("above 100 and below 1000 kg", 2.0),
        Generator::Large => (
            "1000 kg and above, or above 1 kg acute, or above 100 kg acute residue",
            3.0,
        ),
    };
    let kilograms = Mass::of_base;
    Ok(
        Worksheet::new("category (1 VSQG, 2 SQG, 3 LQG)", number, NUMBER)
            .step(found.code(), step, number, NUMBER)
            .at_most(
                "100 kg, the most of a very small quantity generator",
                Some(waste),
                Some(kilograms(100.0)),
                MASS,
            )
            .at_most(
                "1000 kg, from which a generator is large",
                Some(waste),
                Some(kilograms(1_000.0)),
                MASS,
            )
            .assumes("a calendar month; states can be stricter; episodic events are not looked at")
            .caution("the waste contractor and the state agency decide; ask the safety lead"),
    )
}

fn major_sheet(inputs: &Inputs) -> Result<Worksheet, Refusal> {
    let voc: Mass = inputs.get("voc")?;
    let area = match inputs.word("area")? {
        "serious-or-transport" => OzoneArea::SeriousOrTransport,
        "severe" => OzoneArea::Severe,
        "extreme" => OzoneArea::Extreme,
        _ => OzoneArea::AttainmentToModerate,
    };
    let short_tons = |tons: f64| Mass::of_base(tons * super::SHORT_TON);
    let limit = major_voc(area);
    let (single, all): (Option<Mass>, Option<Mass>) =
        (inputs.maybe("hap")?, inputs.maybe("all-hap")?);
    let mut sheet = Worksheet::new("VOC of twelve months", voc, TONS)
        .step(
            "threshold",
            "100, 50, 25 or 10 short tons by area",
            limit,
            TONS,
        )
        .at_most(
            "VOC threshold of a major source; at it counts as reached",
            Some(voc),
            Some(limit),
            TONS,
        )
        .at_most(
            "threshold for one HAP; at it counts as reached",
            single,
            Some(short_tons(10.0)),
            TONS,
        )
        .at_most(
            "threshold for all HAP; at it counts as reached",
            all,
            Some(short_tons(25.0)),
            TONS,
        )
        .assumes("the potential to emit counts, not only what was given off")
        .caution(ASK_AGENCY);
    if let (Some(single), Some(all)) = (single, all) {
        let held = hold_major_hap(single, all)?;
        if held.single != Against::Under || held.all != Against::Under {
            sheet = sheet.caution("a HAP threshold of a major source is reached (US EPA, Title V); ask the air agency");
        }
    }
    Ok(sheet)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_words_of_the_inputs_are_the_rows_of_the_tables() {
        let numbers: Vec<&str> = HAPS.iter().map(|entry| entry.cas).collect();
        assert_eq!(HAP_WORDS, numbers);
        let slug = |name: &str| {
            name.to_lowercase()
                .split(|c: char| !c.is_ascii_alphanumeric())
                .filter(|part| !part.is_empty())
                .collect::<Vec<_>>()
                .join("-")
        };
        let names: Vec<String> = HAP_BLENDS.iter().map(|row| slug(row.name)).collect();
        assert_eq!(BLEND_WORDS, names);
    }
}
