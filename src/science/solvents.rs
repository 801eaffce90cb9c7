//! Solvents: what they weigh, when they boil, and every lower explosive limit that is known for them.
//!
//! Written by `tests/published/scripts/make_solvents_rs.py` from the tables in `tests/published/data`; change those, not this file.
//!
//! *Invariants*: every limit names its source and whether it was read or remembered; several limits for one solvent
//! stay side by side. A test holds each row against the tables.
//!
//! *Not here*: exposure limits. They are entered by the shop with their source.

/// Whether a value was read in a source, remembered, or entered by somebody.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Read in a stored excerpt.
    Cited,
    /// Read in an open data set.
    DataSet,
    /// From memory, to be confirmed.
    Memory,
    /// Entered by the shop.
    Entered,
}

impl Standing {
    /// How it is shown beside the value.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Cited => "cited from a stored excerpt",
            Self::DataSet => "cited from an open data set",
            Self::Memory => "from memory, to be confirmed",
            Self::Entered => "as entered",
        }
    }
}

/// One lower explosive limit with its source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// The limit in per cent of the air by volume.
    pub percent: f64,
    /// Where it comes from.
    pub source: &'static str,
    /// Whether it was read or remembered.
    pub standing: Standing,
}

struct Origin(&'static str, Standing);

impl Origin {
    const fn of(&self, percent: f64) -> Limit {
        Limit {
            percent,
            source: self.0,
            standing: self.1,
        }
    }
}

const IEC: Origin = Origin(
    "IEC 60079-20-1:2010, in an open data set",
    Standing::DataSet,
);
const NFPA: Origin = Origin("NFPA 497:2008, in an open data set", Standing::DataSet);
const WIKIDATA: Origin = Origin("Wikidata, in an open data set", Standing::DataSet);
const NIOSH: Origin = Origin(
    "NIOSH IDLH documentation, cited from a stored excerpt",
    Standing::Cited,
);
const G11_MEMORY: Origin = Origin(
    "29 CFR 1910.94(c) Table G-11 (from memory, to be confirmed)",
    Standing::Memory,
);
const PRACTICE_MEMORY: Origin = Origin(
    "data-sheet practice (from memory, to be confirmed)",
    Standing::Memory,
);

/// One solvent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solvent {
    /// The short name that is typed.
    pub key: &'static str,
    /// The name that is shown.
    pub name: &'static str,
    /// The CAS number.
    pub cas: &'static str,
    /// Molar mass, g/mol; typical for the two petroleum cuts.
    pub molar_mass_g: f64,
    /// Density of the liquid at 25 C, kg/m3.
    pub density_25_kg_m3: f64,
    /// Boiling point, C.
    pub boiling_c: f64,
    /// Closed-cup flash point, C.
    pub flash_c: Option<f64>,
    /// Which of these figures are from memory, to be confirmed; empty when none is.
    pub from_memory: &'static str,
    /// Vapour of a US gallon at 70 F and 1 atm, ft3, as an ideal gas.
    pub vapour_ft3_gal_70f: f64,
    /// Every lower explosive limit that is known.
    pub limits: &'static [Limit],
}

/// One row of Table G-11, from memory.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct G11Row {
    /// The CAS number.
    pub cas: &'static str,
    /// The generic name.
    pub name: &'static str,
    /// Vapour of a gallon at 70 F, ft3.
    pub vapour_ft3_gal: f64,
    /// The table's lower explosive limit, per cent by volume.
    pub lel_percent: f64,
    /// What is doubtful about the row; empty when nothing is.
    pub doubt: &'static str,
}

/// The solvent with this key or CAS number.
pub fn find(text: &str) -> Option<&'static Solvent> {
    SOLVENTS.iter().find(|s| s.key == text || s.cas == text)
}

/// The row of Table G-11 with this CAS number; from memory, to be confirmed.
pub fn g11(cas: &str) -> Option<&'static G11Row> {
    TABLE_G11.iter().find(|row| row.cas == cas)
}

/// The solvents that the figures know, in the order of the source table.
pub static SOLVENTS: &[Solvent] = &[
    Solvent {
        key: "toluene",
        name: "toluene",
        cas: "108-88-3",
        molar_mass_g: 92.138,
        density_25_kg_m3: 863.9,
        boiling_c: 110.6,
        flash_c: Some(4.0),
        from_memory: "",
        vapour_ft3_gal_70f: 30.39,
        limits: &[
            IEC.of(1.0),
            NFPA.of(1.1),
            WIKIDATA.of(1.1),
            NIOSH.of(1.1),
            G11_MEMORY.of(1.4),
        ],
    },
    Solvent {
        key: "o_xylene",
        name: "o-xylene",
        cas: "95-47-6",
        molar_mass_g: 106.165,
        density_25_kg_m3: 875.9,
        boiling_c: 144.4,
        flash_c: Some(30.0),
        from_memory: "",
        vapour_ft3_gal_70f: 26.73,
        limits: &[IEC.of(1.0), WIKIDATA.of(0.9), G11_MEMORY.of(1.0)],
    },
    Solvent {
        key: "m_xylene",
        name: "m-xylene",
        cas: "108-38-3",
        molar_mass_g: 106.165,
        density_25_kg_m3: 860.2,
        boiling_c: 139.1,
        flash_c: Some(25.0),
        from_memory: "",
        vapour_ft3_gal_70f: 26.25,
        limits: &[IEC.of(1.0), WIKIDATA.of(1.1)],
    },
    Solvent {
        key: "p_xylene",
        name: "p-xylene",
        cas: "106-42-3",
        molar_mass_g: 106.165,
        density_25_kg_m3: 856.7,
        boiling_c: 138.3,
        flash_c: Some(25.0),
        from_memory: "",
        vapour_ft3_gal_70f: 26.15,
        limits: &[IEC.of(0.9), WIKIDATA.of(1.1)],
    },
    Solvent {
        key: "xylenes_mixed",
        name: "xylenes mixed isomers (usually with ethylbenzene)",
        cas: "1330-20-7",
        molar_mass_g: 106.165,
        density_25_kg_m3: 860.2,
        boiling_c: 139.0,
        flash_c: Some(25.0),
        from_memory: "density, boiling point",
        vapour_ft3_gal_70f: 26.27,
        limits: &[NFPA.of(0.9), NIOSH.of(0.9)],
    },
    Solvent {
        key: "ethylbenzene",
        name: "ethylbenzene",
        cas: "100-41-4",
        molar_mass_g: 106.165,
        density_25_kg_m3: 863.6,
        boiling_c: 136.2,
        flash_c: Some(15.0),
        from_memory: "",
        vapour_ft3_gal_70f: 26.36,
        limits: &[IEC.of(0.8), NFPA.of(0.8), WIKIDATA.of(0.8), NIOSH.of(0.8)],
    },
    Solvent {
        key: "n_butyl_acetate",
        name: "n-butyl acetate",
        cas: "123-86-4",
        molar_mass_g: 116.158,
        density_25_kg_m3: 875.9,
        boiling_c: 126.0,
        flash_c: Some(22.0),
        from_memory: "",
        vapour_ft3_gal_70f: 24.45,
        limits: &[
            IEC.of(1.2),
            NFPA.of(1.7),
            WIKIDATA.of(1.7),
            NIOSH.of(1.7),
            G11_MEMORY.of(1.7),
        ],
    },
    Solvent {
        key: "isobutyl_acetate",
        name: "isobutyl acetate",
        cas: "110-19-0",
        molar_mass_g: 116.158,
        density_25_kg_m3: 866.4,
        boiling_c: 116.9,
        flash_c: Some(18.0),
        from_memory: "density",
        vapour_ft3_gal_70f: 24.18,
        limits: &[NFPA.of(2.4), WIKIDATA.of(1.3), NIOSH.of(1.3)],
    },
    Solvent {
        key: "ethyl_acetate",
        name: "ethyl acetate",
        cas: "141-78-6",
        molar_mass_g: 88.105,
        density_25_kg_m3: 893.6,
        boiling_c: 77.1,
        flash_c: Some(-4.0),
        from_memory: "",
        vapour_ft3_gal_70f: 32.91,
        limits: &[
            IEC.of(2.0),
            NFPA.of(2.0),
            WIKIDATA.of(2.0),
            NIOSH.of(2.0),
            G11_MEMORY.of(2.5),
        ],
    },
    Solvent {
        key: "n_propyl_acetate",
        name: "n-propyl acetate",
        cas: "109-60-4",
        molar_mass_g: 102.132,
        density_25_kg_m3: 882.2,
        boiling_c: 101.0,
        flash_c: Some(10.0),
        from_memory: "",
        vapour_ft3_gal_70f: 28.01,
        limits: &[
            IEC.of(1.7),
            NFPA.of(1.7),
            WIKIDATA.of(1.7),
            G11_MEMORY.of(2.8),
        ],
    },
    Solvent {
        key: "methyl_acetate",
        name: "methyl acetate",
        cas: "79-20-9",
        molar_mass_g: 74.079,
        density_25_kg_m3: 928.0,
        boiling_c: 56.7,
        flash_c: Some(-10.0),
        from_memory: "",
        vapour_ft3_gal_70f: 40.66,
        limits: &[
            IEC.of(3.1),
            NFPA.of(3.1),
            WIKIDATA.of(3.1),
            G11_MEMORY.of(3.1),
        ],
    },
    Solvent {
        key: "t_butyl_acetate",
        name: "tert-butyl acetate",
        cas: "540-88-5",
        molar_mass_g: 116.158,
        density_25_kg_m3: 861.7,
        boiling_c: 97.9,
        flash_c: Some(1.0),
        from_memory: "density",
        vapour_ft3_gal_70f: 24.05,
        limits: &[IEC.of(1.3), NFPA.of(1.7), WIKIDATA.of(1.5), NIOSH.of(1.5)],
    },
    Solvent {
        key: "isopropanol",
        name: "isopropanol",
        cas: "67-63-0",
        molar_mass_g: 60.095,
        density_25_kg_m3: 781.8,
        boiling_c: 82.2,
        flash_c: Some(12.0),
        from_memory: "",
        vapour_ft3_gal_70f: 42.2,
        limits: &[
            IEC.of(2.0),
            NFPA.of(2.0),
            WIKIDATA.of(2.0),
            NIOSH.of(2.0),
            G11_MEMORY.of(2.0),
        ],
    },
    Solvent {
        key: "ethanol",
        name: "ethanol",
        cas: "64-17-5",
        molar_mass_g: 46.068,
        density_25_kg_m3: 785.9,
        boiling_c: 78.2,
        flash_c: Some(12.0),
        from_memory: "",
        vapour_ft3_gal_70f: 55.31,
        limits: &[
            IEC.of(3.1),
            NFPA.of(3.3),
            WIKIDATA.of(3.3),
            NIOSH.of(3.3),
            G11_MEMORY.of(4.3),
        ],
    },
    Solvent {
        key: "methanol",
        name: "methanol",
        cas: "67-56-1",
        molar_mass_g: 32.042,
        density_25_kg_m3: 789.6,
        boiling_c: 64.5,
        flash_c: Some(9.0),
        from_memory: "",
        vapour_ft3_gal_70f: 79.92,
        limits: &[
            IEC.of(6.0),
            NFPA.of(6.0),
            WIKIDATA.of(6.0),
            NIOSH.of(6.0),
            G11_MEMORY.of(7.3),
        ],
    },
    Solvent {
        key: "n_propanol",
        name: "1-propanol",
        cas: "71-23-8",
        molar_mass_g: 60.095,
        density_25_kg_m3: 799.5,
        boiling_c: 97.0,
        flash_c: Some(15.0),
        from_memory: "",
        vapour_ft3_gal_70f: 43.12,
        limits: &[
            IEC.of(2.1),
            NFPA.of(2.2),
            WIKIDATA.of(2.2),
            G11_MEMORY.of(2.1),
        ],
    },
    Solvent {
        key: "n_butanol",
        name: "1-butanol",
        cas: "71-36-3",
        molar_mass_g: 74.122,
        density_25_kg_m3: 804.0,
        boiling_c: 117.6,
        flash_c: Some(35.0),
        from_memory: "",
        vapour_ft3_gal_70f: 35.16,
        limits: &[
            IEC.of(1.4),
            NFPA.of(1.4),
            WIKIDATA.of(1.4),
            NIOSH.of(1.4),
            G11_MEMORY.of(1.4),
        ],
    },
    Solvent {
        key: "isobutanol",
        name: "isobutanol",
        cas: "78-83-1",
        molar_mass_g: 74.122,
        density_25_kg_m3: 798.3,
        boiling_c: 107.8,
        flash_c: Some(28.0),
        from_memory: "",
        vapour_ft3_gal_70f: 34.91,
        limits: &[IEC.of(1.4), NFPA.of(1.2), WIKIDATA.of(1.7), NIOSH.of(1.7)],
    },
    Solvent {
        key: "sec_butanol",
        name: "2-butanol",
        cas: "78-92-2",
        molar_mass_g: 74.122,
        density_25_kg_m3: 802.3,
        boiling_c: 99.4,
        flash_c: Some(24.0),
        from_memory: "",
        vapour_ft3_gal_70f: 35.1,
        limits: &[IEC.of(1.7), NFPA.of(1.7), WIKIDATA.of(1.7)],
    },
    Solvent {
        key: "acetone",
        name: "acetone",
        cas: "67-64-1",
        molar_mass_g: 58.079,
        density_25_kg_m3: 786.6,
        boiling_c: 56.1,
        flash_c: Some(-20.0),
        from_memory: "",
        vapour_ft3_gal_70f: 43.96,
        limits: &[
            IEC.of(2.5),
            NFPA.of(2.5),
            WIKIDATA.of(2.5),
            G11_MEMORY.of(2.6),
        ],
    },
    Solvent {
        key: "mek",
        name: "methyl ethyl ketone",
        cas: "78-93-3",
        molar_mass_g: 72.106,
        density_25_kg_m3: 799.5,
        boiling_c: 79.6,
        flash_c: Some(-10.0),
        from_memory: "",
        vapour_ft3_gal_70f: 35.98,
        limits: &[
            IEC.of(1.5),
            NFPA.of(1.4),
            WIKIDATA.of(1.4),
            G11_MEMORY.of(1.8),
        ],
    },
    Solvent {
        key: "mibk",
        name: "methyl isobutyl ketone",
        cas: "108-10-1",
        molar_mass_g: 100.159,
        density_25_kg_m3: 796.3,
        boiling_c: 115.7,
        flash_c: Some(16.0),
        from_memory: "",
        vapour_ft3_gal_70f: 25.77,
        limits: &[IEC.of(1.2), WIKIDATA.of(1.2), NIOSH.of(1.2)],
    },
    Solvent {
        key: "mak",
        name: "methyl n-amyl ketone (2-heptanone)",
        cas: "110-43-0",
        molar_mass_g: 114.185,
        density_25_kg_m3: 811.7,
        boiling_c: 151.0,
        flash_c: Some(39.0),
        from_memory: "",
        vapour_ft3_gal_70f: 23.04,
        limits: &[IEC.of(1.1), NFPA.of(1.1), WIKIDATA.of(1.1), NIOSH.of(1.1)],
    },
    Solvent {
        key: "cyclohexanone",
        name: "cyclohexanone",
        cas: "108-94-1",
        molar_mass_g: 98.143,
        density_25_kg_m3: 942.7,
        boiling_c: 155.4,
        flash_c: Some(43.0),
        from_memory: "",
        vapour_ft3_gal_70f: 31.12,
        limits: &[
            IEC.of(1.3),
            NFPA.of(1.1),
            WIKIDATA.of(1.1),
            NIOSH.of(1.1),
            G11_MEMORY.of(1.1),
        ],
    },
    Solvent {
        key: "diacetone_alcohol",
        name: "diacetone alcohol",
        cas: "123-42-2",
        molar_mass_g: 116.158,
        density_25_kg_m3: 933.5,
        boiling_c: 167.9,
        flash_c: Some(58.0),
        from_memory: "density",
        vapour_ft3_gal_70f: 26.05,
        limits: &[IEC.of(1.8), NFPA.of(1.8), WIKIDATA.of(1.8), NIOSH.of(1.8)],
    },
    Solvent {
        key: "n_hexane",
        name: "n-hexane",
        cas: "110-54-3",
        molar_mass_g: 86.175,
        density_25_kg_m3: 656.0,
        boiling_c: 68.7,
        flash_c: Some(-22.0),
        from_memory: "",
        vapour_ft3_gal_70f: 24.7,
        limits: &[IEC.of(1.0), NFPA.of(1.1), WIKIDATA.of(1.1)],
    },
    Solvent {
        key: "n_heptane",
        name: "n-heptane",
        cas: "142-82-5",
        molar_mass_g: 100.202,
        density_25_kg_m3: 681.5,
        boiling_c: 98.4,
        flash_c: Some(-7.0),
        from_memory: "",
        vapour_ft3_gal_70f: 22.06,
        limits: &[
            IEC.of(0.85),
            NFPA.of(1.0),
            WIKIDATA.of(1.05),
            NIOSH.of(1.05),
        ],
    },
    Solvent {
        key: "cyclohexane",
        name: "cyclohexane",
        cas: "110-82-7",
        molar_mass_g: 84.159,
        density_25_kg_m3: 773.1,
        boiling_c: 80.7,
        flash_c: Some(-17.0),
        from_memory: "",
        vapour_ft3_gal_70f: 29.79,
        limits: &[IEC.of(1.0), NFPA.of(1.3), WIKIDATA.of(1.3)],
    },
    Solvent {
        key: "vmp_naphtha",
        name: "VM&P naphtha (light aliphatic C7-C9)",
        cas: "8032-32-4",
        molar_mass_g: 115.0,
        density_25_kg_m3: 741.5,
        boiling_c: 125.0,
        flash_c: Some(7.0),
        from_memory: "molar mass, density, boiling point, flash point",
        vapour_ft3_gal_70f: 20.89,
        limits: &[WIKIDATA.of(1.2), G11_MEMORY.of(0.9)],
    },
    Solvent {
        key: "stoddard",
        name: "Stoddard solvent / mineral spirits",
        cas: "8052-41-3",
        molar_mass_g: 144.0,
        density_25_kg_m3: 776.3,
        boiling_c: 175.0,
        flash_c: Some(40.0),
        from_memory: "molar mass, density, boiling point, flash point",
        vapour_ft3_gal_70f: 17.47,
        limits: &[G11_MEMORY.of(1.1), PRACTICE_MEMORY.of(0.9)],
    },
    Solvent {
        key: "butoxyethanol",
        name: "2-butoxyethanol",
        cas: "111-76-2",
        molar_mass_g: 118.174,
        density_25_kg_m3: 896.5,
        boiling_c: 171.0,
        flash_c: Some(61.0),
        from_memory: "density",
        vapour_ft3_gal_70f: 24.59,
        limits: &[
            IEC.of(1.1),
            NFPA.of(1.1),
            WIKIDATA.of(1.1),
            NIOSH.of(1.1),
            G11_MEMORY.of(1.1),
        ],
    },
    Solvent {
        key: "pgmea",
        name: "PGMEA (1-methoxy-2-propyl acetate)",
        cas: "108-65-6",
        molar_mass_g: 132.158,
        density_25_kg_m3: 962.7,
        boiling_c: 146.0,
        flash_c: Some(42.0),
        from_memory: "density, flash point",
        vapour_ft3_gal_70f: 23.61,
        limits: &[PRACTICE_MEMORY.of(1.5)],
    },
    Solvent {
        key: "pm",
        name: "PM (1-methoxy-2-propanol)",
        cas: "107-98-2",
        molar_mass_g: 90.121,
        density_25_kg_m3: 915.9,
        boiling_c: 120.0,
        flash_c: Some(32.0),
        from_memory: "density, flash point",
        vapour_ft3_gal_70f: 32.95,
        limits: &[PRACTICE_MEMORY.of(1.6)],
    },
    Solvent {
        key: "eep",
        name: "ethyl 3-ethoxypropionate",
        cas: "763-69-9",
        molar_mass_g: 146.184,
        density_25_kg_m3: 944.4,
        boiling_c: 168.0,
        flash_c: Some(58.0),
        from_memory: "density, flash point",
        vapour_ft3_gal_70f: 20.94,
        limits: &[PRACTICE_MEMORY.of(1.05)],
    },
    Solvent {
        key: "pcbtf",
        name: "p-chlorobenzotrifluoride",
        cas: "98-56-6",
        molar_mass_g: 180.555,
        density_25_kg_m3: 1332.6,
        boiling_c: 138.5,
        flash_c: Some(43.0),
        from_memory: "density, flash point",
        vapour_ft3_gal_70f: 23.93,
        limits: &[PRACTICE_MEMORY.of(0.9)],
    },
    Solvent {
        key: "dmc",
        name: "dimethyl carbonate",
        cas: "616-38-6",
        molar_mass_g: 90.078,
        density_25_kg_m3: 1063.3,
        boiling_c: 90.1,
        flash_c: Some(17.0),
        from_memory: "flash point",
        vapour_ft3_gal_70f: 38.29,
        limits: &[PRACTICE_MEMORY.of(4.2)],
    },
];

/// The short names, and `other` for a liquid that is not in the table: the words of an input.
pub static SOLVENT_WORDS: &[&str] = &[
    "toluene",
    "o_xylene",
    "m_xylene",
    "p_xylene",
    "xylenes_mixed",
    "ethylbenzene",
    "n_butyl_acetate",
    "isobutyl_acetate",
    "ethyl_acetate",
    "n_propyl_acetate",
    "methyl_acetate",
    "t_butyl_acetate",
    "isopropanol",
    "ethanol",
    "methanol",
    "n_propanol",
    "n_butanol",
    "isobutanol",
    "sec_butanol",
    "acetone",
    "mek",
    "mibk",
    "mak",
    "cyclohexanone",
    "diacetone_alcohol",
    "n_hexane",
    "n_heptane",
    "cyclohexane",
    "vmp_naphtha",
    "stoddard",
    "butoxyethanol",
    "pgmea",
    "pm",
    "eep",
    "pcbtf",
    "dmc",
    "other",
];

/// Table G-11 of 29 CFR 1910.94(c), all rows **from memory, to be confirmed**; historic trade names are replaced by
/// generic ones with their CAS number.
pub static TABLE_G11: &[G11Row] = &[
    G11Row {
        cas: "67-64-1",
        name: "acetone",
        vapour_ft3_gal: 44.0,
        lel_percent: 2.6,
        doubt: "",
    },
    G11Row {
        cas: "123-92-2",
        name: "isoamyl acetate",
        vapour_ft3_gal: 21.6,
        lel_percent: 1.0,
        doubt: "limit at 212 F",
    },
    G11Row {
        cas: "71-41-0",
        name: "n-amyl alcohol",
        vapour_ft3_gal: 29.6,
        lel_percent: 1.2,
        doubt: "",
    },
    G11Row {
        cas: "123-51-3",
        name: "isoamyl alcohol",
        vapour_ft3_gal: 29.6,
        lel_percent: 1.2,
        doubt: "",
    },
    G11Row {
        cas: "71-43-2",
        name: "benzene",
        vapour_ft3_gal: 36.8,
        lel_percent: 1.4,
        doubt: "limit at 212 F",
    },
    G11Row {
        cas: "123-86-4",
        name: "n-butyl acetate",
        vapour_ft3_gal: 24.8,
        lel_percent: 1.7,
        doubt: "",
    },
    G11Row {
        cas: "71-36-3",
        name: "n-butyl alcohol",
        vapour_ft3_gal: 35.2,
        lel_percent: 1.4,
        doubt: "",
    },
    G11Row {
        cas: "111-76-2",
        name: "2-butoxyethanol",
        vapour_ft3_gal: 24.8,
        lel_percent: 1.1,
        doubt: "",
    },
    G11Row {
        cas: "110-80-5",
        name: "2-ethoxyethanol",
        vapour_ft3_gal: 33.6,
        lel_percent: 1.8,
        doubt: "",
    },
    G11Row {
        cas: "111-15-9",
        name: "2-ethoxyethyl acetate",
        vapour_ft3_gal: 23.2,
        lel_percent: 1.7,
        doubt: "",
    },
    G11Row {
        cas: "108-94-1",
        name: "cyclohexanone",
        vapour_ft3_gal: 31.2,
        lel_percent: 1.1,
        doubt: "limit at 212 F",
    },
    G11Row {
        cas: "75-35-4",
        name: "1,1-dichloroethylene",
        vapour_ft3_gal: 42.4,
        lel_percent: 5.9,
        doubt: "5 % above what density and molar mass give",
    },
    G11Row {
        cas: "540-59-0",
        name: "1,2-dichloroethylene",
        vapour_ft3_gal: 42.4,
        lel_percent: 9.7,
        doubt: "",
    },
    G11Row {
        cas: "141-78-6",
        name: "ethyl acetate",
        vapour_ft3_gal: 32.8,
        lel_percent: 2.5,
        doubt: "",
    },
    G11Row {
        cas: "64-17-5",
        name: "ethyl alcohol",
        vapour_ft3_gal: 55.2,
        lel_percent: 4.3,
        doubt: "",
    },
    G11Row {
        cas: "97-64-3",
        name: "ethyl lactate",
        vapour_ft3_gal: 28.0,
        lel_percent: 1.5,
        doubt: "limit at 212 F",
    },
    G11Row {
        cas: "79-20-9",
        name: "methyl acetate",
        vapour_ft3_gal: 40.0,
        lel_percent: 3.1,
        doubt: "",
    },
    G11Row {
        cas: "67-56-1",
        name: "methyl alcohol",
        vapour_ft3_gal: 80.8,
        lel_percent: 7.3,
        doubt: "",
    },
    G11Row {
        cas: "109-86-4",
        name: "2-methoxyethanol",
        vapour_ft3_gal: 40.8,
        lel_percent: 2.5,
        doubt: "",
    },
    G11Row {
        cas: "78-93-3",
        name: "methyl ethyl ketone",
        vapour_ft3_gal: 36.0,
        lel_percent: 1.8,
        doubt: "",
    },
    G11Row {
        cas: "107-87-9",
        name: "methyl n-propyl ketone",
        vapour_ft3_gal: 30.4,
        lel_percent: 1.5,
        doubt: "",
    },
    G11Row {
        cas: "8032-32-4",
        name: "VM&P naphtha (76 degree)",
        vapour_ft3_gal: 22.4,
        lel_percent: 0.9,
        doubt: "a mixture: 7 % above what its molar mass gives",
    },
    G11Row {
        cas: "8052-41-3",
        name: "Stoddard solvent (naphtha, 100 F flash)",
        vapour_ft3_gal: 23.2,
        lel_percent: 1.1,
        doubt: "a mixture: a quarter above what its molar mass gives",
    },
    G11Row {
        cas: "109-60-4",
        name: "n-propyl acetate",
        vapour_ft3_gal: 27.2,
        lel_percent: 2.8,
        doubt: "doubtful: other sources give a lower limit",
    },
    G11Row {
        cas: "108-21-4",
        name: "isopropyl acetate",
        vapour_ft3_gal: 28.0,
        lel_percent: 1.1,
        doubt: "doubtful",
    },
    G11Row {
        cas: "71-23-8",
        name: "n-propyl alcohol",
        vapour_ft3_gal: 44.8,
        lel_percent: 2.1,
        doubt: "",
    },
    G11Row {
        cas: "67-63-0",
        name: "isopropyl alcohol",
        vapour_ft3_gal: 44.0,
        lel_percent: 2.0,
        doubt: "",
    },
    G11Row {
        cas: "108-88-3",
        name: "toluene",
        vapour_ft3_gal: 30.4,
        lel_percent: 1.4,
        doubt: "the rule's printed example",
    },
    G11Row {
        cas: "8006-64-2",
        name: "turpentine",
        vapour_ft3_gal: 20.8,
        lel_percent: 0.8,
        doubt: "",
    },
    G11Row {
        cas: "95-47-6",
        name: "o-xylene",
        vapour_ft3_gal: 26.4,
        lel_percent: 1.0,
        doubt: "",
    },
];
