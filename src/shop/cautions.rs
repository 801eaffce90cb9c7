//! The cautions of the finish room: what to mention at the moment of use, where that comes from, and whom to ask.
//!
//! One static table. Screens, the command line, worksheets and the page `SAFETY.md` all read it, so that a caution has
//! one wording everywhere. A caution is orientation and never a clearance: acknowledging one records that it was
//! *read*, not that anything is permitted.
//!
//! *Invariants*: a text is at most two lines of [`LINE`] characters; every source carries [`STORED`] or [`MEMORY`];
//! every `ask` is made of rungs of [`LADDER`]; an id is never used twice.
//!
//! *Not here*: distances, quantities and exposure limits (they are the site's own figures, entered with their source),
//! and any statement about the state of a fan, an interlock or a room.

/// Said wherever cautions are shown.
pub const STANDING_LINE: &str =
    "Local fire code, the safety data sheet and licensed professionals decide. This log does not.";

/// The tag of a source that was read as a stored excerpt, which can be older than the text in force.
pub const STORED: &str = "cited from a stored excerpt";

/// The tag of a source that nobody has read for this table yet.
pub const MEMORY: &str = "from memory, to be confirmed";

/// The widest line of a caution, in characters: a text fits two of them, which is what a booth screen has room for.
pub const LINE: usize = 76;

/// Who decides, from the nearest to the furthest, with the question that each one answers. The site fills in names and
/// numbers for its own people.
pub const LADDER: &[(&str, &str)] = &[
    (
        "safety data sheet and product sheet",
        "what is in the can, what it does to people, how it burns",
    ),
    ("supervisor", "the site's own procedure"),
    (
        "safety lead",
        "the site plan, the caps and limits the site has entered, incidents",
    ),
    (
        "manufacturer's technical service",
        "mixing, storage and reactions of one product",
    ),
    (
        "industrial hygienist",
        "what people breathe and touch, masks and gloves",
    ),
    (
        "ventilation engineer",
        "air through booth, flash area and cure room",
    ),
    (
        "electrical engineer",
        "where electric equipment may stand, bonding and grounding",
    ),
    (
        "waste contractor",
        "drums, labels, what may share a container",
    ),
    (
        "fire marshal or local fire code official",
        "the fire code in force at this address",
    ),
    ("building official", "booths, ducts and rooms as built"),
    ("air agency", "solvent limits, records and permits"),
    ("labour inspectorate", "duties towards the people at work"),
    ("emergency services", "fire, injury, exposure"),
];

/// The moment at which a caution is worth saying.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum When {
    /// Opening cans, pouring, thinning.
    Mixing,
    /// The gun is in use.
    Spraying,
    /// Fresh work stands or hangs until it can be moved.
    FlashOff,
    /// Work hangs in the cure room.
    Curing,
    /// Sanding by hand or machine, dry or wet.
    Sanding,
    /// Wheels and pads.
    Buffing,
    /// Guns, pots, booth, filters, floor.
    Cleaning,
    /// The liquid store, the waste store.
    Storing,
    /// The last person leaves.
    EndOfShift,
    /// Something burns.
    Fire,
    /// Gauge, filters and air of a booth are looked at.
    BoothCheck,
}

impl When {
    /// Every moment, in the order of a day's work.
    pub const ALL: [Self; 11] = [
        Self::Mixing,
        Self::Spraying,
        Self::FlashOff,
        Self::Curing,
        Self::Sanding,
        Self::Buffing,
        Self::Cleaning,
        Self::Storing,
        Self::EndOfShift,
        Self::Fire,
        Self::BoothCheck,
    ];

    /// The moment as people read it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Mixing => "mixing",
            Self::Spraying => "spraying",
            Self::FlashOff => "flash-off",
            Self::Curing => "curing",
            Self::Sanding => "sanding",
            Self::Buffing => "buffing",
            Self::Cleaning => "cleaning",
            Self::Storing => "storing",
            Self::EndOfShift => "end of shift",
            Self::Fire => "fire",
            Self::BoothCheck => "booth check",
        }
    }

    /// The moment of a word, whatever its case; `None` when no moment is called so.
    pub fn from_word(word: &str) -> Option<Self> {
        find_by_word(&Self::ALL, Self::word, word)
    }
}

/// What a material, or the work done with it, brings along. Materials list these words in their files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Hazard {
    /// Lacquer, and its overspray, swarf and residue: a solid fuel that holds its own oxygen.
    Nitrocellulose,
    /// A liquid whose vapour can be lit at room temperature or a little above.
    FlammableLiquid,
    /// Oil, oil varnish, alkyd or oil filler: its rags and residue heat up by themselves.
    DryingOil,
    /// A coating hardened by an acid; it gives off formaldehyde.
    AcidCatalysed,
    /// A hardener that can bring on asthma.
    Isocyanate,
    /// An organic peroxide, as in the hardener of polyester.
    Peroxide,
    /// Fine dust of wood or film.
    Dust,
    /// Toluene, xylenes and their kin: they hold a static charge and act on the nerves.
    AromaticSolvent,
    /// A finish cured under a strong lamp: its light, and what is not cured yet.
    CuringLight,
}

impl Hazard {
    /// Every hazard.
    pub const ALL: [Self; 9] = [
        Self::Nitrocellulose,
        Self::FlammableLiquid,
        Self::DryingOil,
        Self::AcidCatalysed,
        Self::Isocyanate,
        Self::Peroxide,
        Self::Dust,
        Self::AromaticSolvent,
        Self::CuringLight,
    ];

    /// The hazard as a material file spells it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nitrocellulose => "nitrocellulose",
            Self::FlammableLiquid => "flammable liquid",
            Self::DryingOil => "drying oil",
            Self::AcidCatalysed => "acid catalyst",
            Self::Isocyanate => "isocyanate",
            Self::Peroxide => "peroxide",
            Self::Dust => "dust",
            Self::AromaticSolvent => "aromatic solvent",
            Self::CuringLight => "curing light",
        }
    }

    /// The hazard of a word, whatever its case; `None` when no hazard is called so, which a reader of files reports
    /// as an error: a hazard that was misspelled must not vanish.
    pub fn from_word(word: &str) -> Option<Self> {
        find_by_word(&Self::ALL, Self::word, word)
    }
}

fn find_by_word<T: Copy>(all: &[T], word_of: fn(T) -> &'static str, word: &str) -> Option<T> {
    all.iter()
        .copied()
        .find(|one| word_of(*one).eq_ignore_ascii_case(word.trim()))
}

/// One caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// A short name that never changes, for records of who has read it.
    pub id: &'static str,
    /// The moment of use.
    pub when: When,
    /// The hazard it speaks of; `None` when it holds whatever the material.
    pub about: Option<Hazard>,
    /// What is said: at most two lines of [`LINE`] characters.
    pub text: &'static str,
    /// Published sources with their paragraph, parted by `"; "`, each with its tag in brackets.
    pub source: &'static str,
    /// Whom to ask: rungs of [`LADDER`], the nearest first, parted by `", then "`.
    pub ask: &'static str,
}

impl Caution {
    /// The text in lines of at most [`LINE`] characters, broken between words.
    pub fn lines(&self) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for word in self.text.split_whitespace() {
            match lines.last_mut() {
                Some(line) if line.chars().count() + 1 + word.chars().count() <= LINE => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ => lines.push(word.to_owned()),
            }
        }
        lines
    }
}

/// Every caution.
pub fn all() -> &'static [Caution] {
    CAUTIONS
}

/// The caution of an id, as a record names it.
pub fn find(id: &str) -> Option<&'static Caution> {
    CAUTIONS.iter().find(|caution| caution.id == id)
}

/// The cautions worth saying at a moment about a material with these hazards, and those that hold for every material,
/// in the order of the table. Those of a [`Circumstance`] are left out: they are said where it is met with.
pub fn for_material(hazards: &[Hazard], when: When) -> Vec<&'static Caution> {
    CAUTIONS
        .iter()
        .filter(|caution| caution.when == when)
        .filter(|caution| caution.about.is_none_or(|about| hazards.contains(&about)))
        .filter(|caution| !Circumstance::ALL.iter().any(|c| c.id() == caution.id))
        .collect()
}

/// What the record shows at a deed, and what has a caution of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Circumstance {
    /// The shelf life of a lot is over.
    ExpiredLot,
    /// What is mixed hardens in the pot.
    HardensInThePot,
    /// The exhaust stopped and nobody has checked the booth since.
    ExhaustUnknown,
    /// No check of the booth is written down for the production day.
    NoCheck,
    /// Lacquer is sprayed where an acid catalysed finish or a peroxide was, with no cleaning on record in between.
    LacquerAfterHardener,
}

impl Circumstance {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::ExpiredLot,
        Self::HardensInThePot,
        Self::ExhaustUnknown,
        Self::NoCheck,
        Self::LacquerAfterHardener,
    ];

    const fn id(self) -> &'static str {
        match self {
            Self::ExpiredLot => "mixing-expired-lot",
            Self::HardensInThePot => "mixing-pot-life",
            Self::ExhaustUnknown => "spraying-exhaust-unknown",
            Self::NoCheck => "spraying-no-check",
            Self::LacquerAfterHardener => "spraying-after-hardener",
        }
    }

    /// Its caution; a test holds that each has one.
    pub fn caution(self) -> Option<&'static Caution> {
        find(self.id())
    }
}

/// Hazards of a mix that goes on reacting in the pot.
pub const HARDENING: [Hazard; 3] = [Hazard::AcidCatalysed, Hazard::Isocyanate, Hazard::Peroxide];

/// What may not lie under what in one booth: the hazard that is sprayed now, the one that was sprayed there before, and
/// the caution of the two. The residue of the first feeds a fire that the second starts, or the other way round.
pub const ONE_AFTER_ANOTHER: [(Hazard, Hazard, &str); 6] = [
    (
        Hazard::Nitrocellulose,
        Hazard::DryingOil,
        "spraying-after-oil",
    ),
    (
        Hazard::DryingOil,
        Hazard::Nitrocellulose,
        "spraying-after-lacquer",
    ),
    (
        Hazard::AcidCatalysed,
        Hazard::Nitrocellulose,
        "spraying-acid-residue",
    ),
    (
        Hazard::Peroxide,
        Hazard::Nitrocellulose,
        "spraying-peroxide-residue",
    ),
    (
        Hazard::Nitrocellulose,
        Hazard::AcidCatalysed,
        Circumstance::LacquerAfterHardener.id(),
    ),
    (
        Hazard::Nitrocellulose,
        Hazard::Peroxide,
        Circumstance::LacquerAfterHardener.id(),
    ),
];

/// The part of `SAFETY.md` that is made from [`LADDER`] and the table, so that page and program cannot part ways.
pub fn safety_page() -> String {
    let mut lines = vec![
        "## Whom to ask".to_owned(),
        String::new(),
        "| who | for what | name and number at this site |".to_owned(),
        "|---|---|---|".to_owned(),
    ];
    lines.extend(
        LADDER
            .iter()
            .map(|(who, what)| format!("| {who} | {what} | |")),
    );
    for when in When::ALL {
        lines.extend([
            String::new(),
            format!("## Moment: {}", when.word()),
            String::new(),
            "| about | caution | source | ask |".to_owned(),
            "|---|---|---|---|".to_owned(),
        ]);
        for caution in CAUTIONS.iter().filter(|caution| caution.when == when) {
            let about = caution.about.map_or("every material", Hazard::word);
            lines.push(format!(
                "| {about} | {} | {} | {} |",
                caution.text, caution.source, caution.ask
            ));
        }
    }
    lines.push(String::new());
    lines.join("\n")
}

const IGNITION: &str =
    "29 CFR 1910.107(c)(2), read in California Title 8 section 5449 (cited from a stored excerpt)";
const ELECTRIC: &str = "29 CFR 1910.107(c)(6), read in California Title 8 section 5449 (cited from a stored excerpt); NFPA 70 Article 516 (from memory, to be confirmed)";
const GROUND: &str = "29 CFR 1910.107(c)(9) (from memory, to be confirmed)";
const FAN: &str = "29 CFR 1910.107(d), read in WAC 296-24-37007 (cited from a stored excerpt)";
const RECIRCULATED: &str = "29 CFR 1910.107(d)(9) (from memory, to be confirmed)";
const LIQUIDS: &str = "29 CFR 1910.107(e) (cited from a stored excerpt)";
const BONDING: &str = "29 CFR 1910.106(e)(6)(ii) and 1910.107(e)(9) (from memory, to be confirmed)";
const CABINET: &str = "29 CFR 1910.106(d)(3) (cited from a stored excerpt); California Title 8 section 5533 (cited from a stored excerpt)";
const FILTERS: &str =
    "29 CFR 1910.107(b)(5), read in California Title 8 section 5447 (cited from a stored excerpt)";
const AREA: &str = "29 CFR 1910.107(g)(1), read in WAC 296-24-37013 (cited from a stored excerpt)";
const RESIDUE: &str =
    "29 CFR 1910.107(g)(2), read in WAC 296-24-37013 (cited from a stored excerpt)";
const SCRAPINGS: &str =
    "29 CFR 1910.107(g)(3), read in WAC 296-24-37013 (cited from a stored excerpt)";
const CLOTHES: &str =
    "29 CFR 1910.107(g)(4), read in WAC 296-24-37013 (cited from a stored excerpt)";
const SOLVENT: &str =
    "29 CFR 1910.107(g)(5), read in WAC 296-24-37013 (cited from a stored excerpt)";
const ALTERNATE: &str = "29 CFR 1910.107(g)(6), read in WAC 296-24-37013 (cited from a stored excerpt); 34 Pa. Code 35.92 (cited from a stored excerpt)";
const SMOKING: &str =
    "29 CFR 1910.107(g)(7), read in WAC 296-24-37013 (cited from a stored excerpt)";
const HEAT_DRYING: &str =
    "29 CFR 1910.107(j), read in WAC 296-24-37019 (cited from a stored excerpt)";
const SPRINKLERS: &str = "29 CFR 1910.107(f)(3) (from memory, to be confirmed)";
const TWO_PART: &str = "29 CFR 1910.107(m) (from memory, to be confirmed)";
const MANIFOLD: &str =
    "model fire code, chapter 24, flammable finishes (cited from a stored excerpt)";
const FACE_VELOCITY: &str = "OSHA directive STD 01-05-010 (cited from a stored excerpt)";
const TWO_RULES: &str = "29 CFR 1910.94(c)(6)(i), read in WAC 296-62-11019 (cited from a stored excerpt); OSHA interpretation letter of 17 May 1976 on 29 CFR 1910.107(b)(5) (cited from a stored excerpt)";
const NITRO: &str = "NFPA 33, provisions for nitrocellulose residue (from memory, to be confirmed)";
const STATIC: &str = "NFPA 77, containers of flammable liquid (from memory, to be confirmed)";
const DUST_FIRE: &str = "NFPA 660, combustible dust (from memory, to be confirmed)";
const RESPIRATOR: &str =
    "29 CFR 1910.134(d)(3)(iii), (f) and (g)(1) (from memory, to be confirmed)";
const RESPIRATOR_CHOICE: &str = "29 CFR 1910.134(d)(1) (from memory, to be confirmed)";
const SKIN_EYES: &str = "29 CFR 1910.138(b) and 1910.151(c) (from memory, to be confirmed)";
const GUARD: &str = "29 CFR 1910.212(a)(1) (from memory, to be confirmed)";
const LAMP: &str = "29 CFR 1910.133(a) (from memory, to be confirmed)";
const FORMALDEHYDE: &str = "29 CFR 1910.1048 (from memory, to be confirmed)";
const ISOCYANATE: &str =
    "NIOSH publication 96-111, diisocyanate exposure (from memory, to be confirmed)";
const EMERGENCY_PLAN: &str = "29 CFR 1910.38 (from memory, to be confirmed)";
const EXTINGUISHER: &str = "29 CFR 1910.157(g) (from memory, to be confirmed)";
const WASTE: &str = "40 CFR 262.13 (cited from a stored excerpt); 40 CFR 262.16 and 262.17 (from memory, to be confirmed)";
const SDS_FIRST_AID: &str = "safety data sheet section 4, headed as in 29 CFR 1910.1200 Appendix D (from memory, to be confirmed)";
const SDS_FIRE_FIGHTING: &str = "safety data sheet section 5, headed as in 29 CFR 1910.1200 Appendix D (from memory, to be confirmed)";
const SDS_SPILL: &str = "safety data sheet section 6, headed as in 29 CFR 1910.1200 Appendix D (from memory, to be confirmed)";
const SDS_HANDLING: &str = "safety data sheet section 7, headed as in 29 CFR 1910.1200 Appendix D (from memory, to be confirmed)";
const SDS_EXPOSURE: &str = "safety data sheet section 8, headed as in 29 CFR 1910.1200 Appendix D (from memory, to be confirmed)";
const SDS_REACTIVITY: &str = "safety data sheet section 10, headed as in 29 CFR 1910.1200 Appendix D (from memory, to be confirmed)";

const ASK_SUPERVISOR: &str = "supervisor";
const ASK_SAFETY_LEAD: &str = "safety lead";
const ASK_SHEET: &str = "safety data sheet and product sheet, then safety lead";
const ASK_MAKER: &str =
    "safety data sheet and product sheet, then manufacturer's technical service";
const ASK_HYGIENIST: &str = "safety data sheet and product sheet, then industrial hygienist";
const ASK_AIR: &str = "safety lead, then industrial hygienist";
const ASK_VENTILATION: &str = "safety lead, then ventilation engineer";
const ASK_ELECTRICAL: &str =
    "safety lead, then electrical engineer, then fire marshal or local fire code official";
const ASK_FIRE_CODE: &str = "safety lead, then fire marshal or local fire code official";
const ASK_BUILDING: &str =
    "ventilation engineer, then fire marshal or local fire code official, then building official";
const ASK_WASTE_CONTRACTOR: &str = "safety lead, then waste contractor";
const ASK_EMERGENCY: &str = "emergency services";
const ASK_SITE_THEN_EMERGENCY: &str = "safety lead, then emergency services";

/// Every caution, by moment of use; within a moment the fire cautions of a hazard stand before the general ones.
static CAUTIONS: &[Caution] = &[
    Caution {
        id: "mixing-ignition",
        when: When::Mixing,
        about: Some(Hazard::FlammableLiquid),
        text: "Vapour is heavier than air and runs along the floor. No flame, spark or hot surface near open liquid.",
        source: IGNITION,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "mixing-bonding",
        when: When::Mixing,
        about: Some(Hazard::FlammableLiquid),
        text: "Pouring charges the liquid. Bond can to can and ground the drum before the first drop runs.",
        source: BONDING,
        ask: ASK_ELECTRICAL,
    },
    Caution {
        id: "mixing-place",
        when: When::Mixing,
        about: Some(Hazard::FlammableLiquid),
        text: "Mix in the mixing room, or in the spray area only while its ventilation runs.",
        source: LIQUIDS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "mixing-least-liquid",
        when: When::Mixing,
        about: Some(Hazard::FlammableLiquid),
        text: "Keep only the liquid that this work needs near the spray area. The site's own cap is the figure.",
        source: LIQUIDS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "mixing-nitrocellulose-rim",
        when: When::Mixing,
        about: Some(Hazard::Nitrocellulose),
        text: "Lacquer dried on rim, lid or stirrer lights easily, by friction too. Wipe it off wet; put the wipe into water.",
        source: NITRO,
        ask: ASK_SHEET,
    },
    Caution {
        id: "mixing-oil-apart",
        when: When::Mixing,
        about: Some(Hazard::DryingOil),
        text: "Oil rags heat up by themselves. Keep them in a lidded metal can, apart from lacquer residue; empty it at least each shift.",
        source: SCRAPINGS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "mixing-aromatic-static",
        when: When::Mixing,
        about: Some(Hazard::AromaticSolvent),
        text: "This thinner holds a charge after pouring. No plastic bucket; pour slowly, bonded, and wait before dipping.",
        source: STATIC,
        ask: ASK_ELECTRICAL,
    },
    Caution {
        id: "mixing-aromatic-breath",
        when: When::Mixing,
        about: Some(Hazard::AromaticSolvent),
        text: "Headache and sleepiness are signs of too much. Smell is no guide: people stop noticing it.",
        source: SDS_EXPOSURE,
        ask: ASK_HYGIENIST,
    },
    Caution {
        id: "mixing-acid-hardener",
        when: When::Mixing,
        about: Some(Hazard::AcidCatalysed),
        text: "Acid hardener burns skin and eyes and eats plain metal cans. Keep it away from nitrocellulose residue.",
        source: SDS_REACTIVITY,
        ask: ASK_MAKER,
    },
    Caution {
        id: "mixing-isocyanate",
        when: When::Mixing,
        about: Some(Hazard::Isocyanate),
        text: "Isocyanate can bring on asthma; a sensitised person reacts to traces. Ask before the can is opened.",
        source: ISOCYANATE,
        ask: ASK_HYGIENIST,
    },
    Caution {
        id: "mixing-peroxide",
        when: When::Mixing,
        about: Some(Hazard::Peroxide),
        text: "Never put peroxide and accelerator together: stir each into the resin separately. No rust, no metal dust.",
        source: TWO_PART,
        ask: ASK_MAKER,
    },
    Caution {
        id: "mixing-pot-life",
        when: When::Mixing,
        about: None,
        text: "A mix that hardens goes on hardening in cup, hose and can, and can grow hot. Write its time on the pot; ask about the rest.",
        source: SDS_REACTIVITY,
        ask: ASK_MAKER,
    },
    Caution {
        id: "mixing-expired-lot",
        when: When::Mixing,
        about: None,
        text: "The shelf life of this lot is over. Ask what old stock does before it goes into a pot or a gun.",
        source: SDS_HANDLING,
        ask: ASK_MAKER,
    },
    Caution {
        id: "mixing-skin-eyes",
        when: When::Mixing,
        about: None,
        text: "Wear gloves matched to this solvent, cover your eyes, keep the way to the eyewash free.",
        source: SKIN_EYES,
        ask: ASK_SHEET,
    },
    Caution {
        id: "spraying-after-oil",
        when: When::Spraying,
        about: Some(Hazard::Nitrocellulose),
        text: "Oil, varnish or alkyd was sprayed here? Clean all deposits out of booth and ducts before lacquer goes in.",
        source: ALTERNATE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "spraying-after-lacquer",
        when: When::Spraying,
        about: Some(Hazard::DryingOil),
        text: "Nitrocellulose was sprayed here? Clean all deposits out of booth and ducts before oil goes in; the mix can self-heat.",
        source: ALTERNATE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "spraying-oil-filters",
        when: When::Spraying,
        about: Some(Hazard::DryingOil),
        text: "Dry filters are not for coatings highly prone to self-heating. Ask before this one goes through them.",
        source: FILTERS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "spraying-acid-residue",
        when: When::Spraying,
        about: Some(Hazard::AcidCatalysed),
        text: "Acid catalysed overspray on lacquer residue can heat up. Clean booth and filters between the two.",
        source: ALTERNATE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "spraying-peroxide-residue",
        when: When::Spraying,
        about: Some(Hazard::Peroxide),
        text: "Peroxide overspray on lacquer dust can catch fire by itself. Ask about a separate booth before starting.",
        source: TWO_PART,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "spraying-after-hardener",
        when: When::Spraying,
        about: Some(Hazard::Nitrocellulose),
        text: "A catalysed finish or peroxide was sprayed here? Its residue can heat lacquer. Clean booth and filters first.",
        source: ALTERNATE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "spraying-exhaust-unknown",
        when: When::Spraying,
        about: None,
        text: "The exhaust stopped and no check is written down since. No exhaust state is known; look before the gun is used.",
        source: FAN,
        ask: ASK_SITE_THEN_EMERGENCY,
    },
    Caution {
        id: "spraying-no-check",
        when: When::Spraying,
        about: None,
        text: "No check of this booth is written down today. Fan, gauge and filters are unknown until somebody looks.",
        source: FILTERS,
        ask: ASK_SUPERVISOR,
    },
    Caution {
        id: "spraying-isocyanate-air",
        when: When::Spraying,
        about: Some(Hazard::Isocyanate),
        text: "A cartridge mask may not be enough against isocyanate. The hygienist names the air supply.",
        source: ISOCYANATE,
        ask: ASK_AIR,
    },
    Caution {
        id: "spraying-electric",
        when: When::Spraying,
        about: Some(Hazard::FlammableLiquid),
        text: "No phone, tablet, hand scanner or head lamp in the spray area while the gun is in use.",
        source: ELECTRIC,
        ask: ASK_ELECTRICAL,
    },
    Caution {
        id: "spraying-fan",
        when: When::Spraying,
        about: Some(Hazard::FlammableLiquid),
        text: "Keep the fan running while you spray, and afterwards until the vapour of work and residue is drawn off.",
        source: FAN,
        ask: ASK_VENTILATION,
    },
    Caution {
        id: "spraying-ground",
        when: When::Spraying,
        about: Some(Hazard::FlammableLiquid),
        text: "Spraying charges gun, hose and person. Ground booth, gun and racks; wear the footwear the site requires.",
        source: GROUND,
        ask: ASK_ELECTRICAL,
    },
    Caution {
        id: "spraying-smoking",
        when: When::Spraying,
        about: Some(Hazard::FlammableLiquid),
        text: "The no-smoking signs count for everyone who comes to the door.",
        source: SMOKING,
        ask: ASK_SAFETY_LEAD,
    },
    Caution {
        id: "spraying-place",
        when: When::Spraying,
        about: None,
        text: "Spray only where the site has set a spray area.",
        source: AREA,
        ask: ASK_SUPERVISOR,
    },
    Caution {
        id: "spraying-respirator",
        when: When::Spraying,
        about: None,
        text: "Use a mask that was fit tested on you, shave, change the cartridge by the schedule and never by smell.",
        source: RESPIRATOR,
        ask: ASK_AIR,
    },
    Caution {
        id: "flash-vapour",
        when: When::FlashOff,
        about: Some(Hazard::FlammableLiquid),
        text: "Fresh work gives off vapour for hours: treat its room as a solvent room, even with nobody in it. Keep its exhaust as the site requires.",
        source: FAN,
        ask: ASK_VENTILATION,
    },
    Caution {
        id: "flash-heat",
        when: When::FlashOff,
        about: Some(Hazard::FlammableLiquid),
        text: "No heater, lamp or hot air at wet work. Drying inside a spray booth has rules of its own.",
        source: HEAT_DRYING,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "flash-acid-eyes",
        when: When::FlashOff,
        about: Some(Hazard::AcidCatalysed),
        text: "Acid catalysed coats give off formaldehyde as they dry. When the eyes sting it is already late; ask for a measurement.",
        source: FORMALDEHYDE,
        ask: ASK_HYGIENIST,
    },
    Caution {
        id: "curing-vapour",
        when: When::Curing,
        about: Some(Hazard::FlammableLiquid),
        text: "The cure room goes on giving off solvent, most after fresh racks come in. Keep its exhaust as the site requires.",
        source: FAN,
        ask: ASK_VENTILATION,
    },
    Caution {
        id: "curing-heater",
        when: When::Curing,
        about: Some(Hazard::FlammableLiquid),
        text: "What may heat a room full of drying lacquer is a question for the people named here, not for the log.",
        source: HEAT_DRYING,
        ask: ASK_ELECTRICAL,
    },
    Caution {
        id: "curing-power-cut",
        when: When::Curing,
        about: Some(Hazard::FlammableLiquid),
        text: "Exhaust stopped with wet work inside: vapour builds up. Follow the site plan before anyone goes in.",
        source: EMERGENCY_PLAN,
        ask: ASK_SITE_THEN_EMERGENCY,
    },
    Caution {
        id: "curing-light-eyes",
        when: When::Curing,
        about: Some(Hazard::CuringLight),
        text: "The lamp's light burns eyes and skin, reflected light too. Ask first which shields and goggles suit its band.",
        source: LAMP,
        ask: ASK_MAKER,
    },
    Caution {
        id: "curing-light-skin",
        when: When::Curing,
        about: Some(Hazard::CuringLight),
        text: "What the lamp has not reached stays reactive and can sensitise the skin. Wear gloves until it is known cured.",
        source: SDS_EXPOSURE,
        ask: ASK_HYGIENIST,
    },
    Caution {
        id: "curing-formaldehyde",
        when: When::Curing,
        about: Some(Hazard::AcidCatalysed),
        text: "Acid catalysed coats go on giving off formaldehyde in the cure room. Ask for a measurement.",
        source: FORMALDEHYDE,
        ask: ASK_HYGIENIST,
    },
    Caution {
        id: "sanding-lacquer-swarf",
        when: When::Sanding,
        about: Some(Hazard::Nitrocellulose),
        text: "Lacquer swarf burns fiercely. Send it into a wood-dust collector only if that was built for it; no spark near it.",
        source: DUST_FIRE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "sanding-dust-cloud",
        when: When::Sanding,
        about: Some(Hazard::Dust),
        text: "Fine dust in the air or on a beam can explode. Collect it at the paper; never blow it down.",
        source: DUST_FIRE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "sanding-dust-breath",
        when: When::Sanding,
        about: Some(Hazard::Dust),
        text: "Some woods and old films poison or sensitise. Wear a mask chosen for this dust, and turn the collector on.",
        source: RESPIRATOR_CHOICE,
        ask: ASK_AIR,
    },
    Caution {
        id: "sanding-wet-rags",
        when: When::Sanding,
        about: Some(Hazard::FlammableLiquid),
        text: "Rags and slurry wet with spirits are flammable waste. Put them in a lidded metal can; empty it at least each shift.",
        source: SCRAPINGS,
        ask: ASK_WASTE_CONTRACTOR,
    },
    Caution {
        id: "sanding-oil-filler",
        when: When::Sanding,
        about: Some(Hazard::DryingOil),
        text: "Swarf and rags of oil filler heat up by themselves. Keep them in a lidded metal can, apart from lacquer swarf.",
        source: SCRAPINGS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "sanding-isocyanate",
        when: When::Sanding,
        about: Some(Hazard::Isocyanate),
        text: "A film that has not reacted fully gives isocyanate in its dust. Ask what mask this film needs.",
        source: ISOCYANATE,
        ask: ASK_HYGIENIST,
    },
    Caution {
        id: "buffing-lacquer-lint",
        when: When::Buffing,
        about: Some(Hazard::Nitrocellulose),
        text: "Cotton wheels make heat, static and lint loaded with lacquer. Empty the hood; keep nails and sparks off.",
        source: DUST_FIRE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "buffing-dust",
        when: When::Buffing,
        about: Some(Hazard::Dust),
        text: "Lint and dust behind the wheel feed a fire in the duct. Look inside before starting.",
        source: DUST_FIRE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "buffing-grab",
        when: When::Buffing,
        about: None,
        text: "A wheel that takes an edge throws the piece. Keep the guard on, wear no loose sleeves, stand to the side.",
        source: GUARD,
        ask: ASK_SUPERVISOR,
    },
    Caution {
        id: "cleaning-residue",
        when: When::Cleaning,
        about: Some(Hazard::Nitrocellulose),
        text: "Scrape with tools that make no spark, daily if necessary. Take scrapings out of the building at once.",
        source: RESIDUE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "cleaning-filters",
        when: When::Cleaning,
        about: Some(Hazard::Nitrocellulose),
        text: "Take used filters at once to a detached place, or put them under water in a metal can. A stack can heat up.",
        source: FILTERS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "cleaning-solvent",
        when: When::Cleaning,
        about: Some(Hazard::FlammableLiquid),
        text: "Choose the cleaning solvent by its flash point. Wash guns in the booth only with the fan on.",
        source: SOLVENT,
        ask: ASK_SHEET,
    },
    Caution {
        id: "cleaning-rags",
        when: When::Cleaning,
        about: Some(Hazard::FlammableLiquid),
        text: "Put solvent rags into the metal can and close the lid; empty the can at least daily or each shift.",
        source: SCRAPINGS,
        ask: ASK_SAFETY_LEAD,
    },
    Caution {
        id: "cleaning-after-oil",
        when: When::Cleaning,
        about: Some(Hazard::DryingOil),
        text: "Never let oil deposits and lacquer deposits share a bin, a scraper's tray or a vacuum.",
        source: ALTERNATE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "cleaning-acid",
        when: When::Cleaning,
        about: Some(Hazard::AcidCatalysed),
        text: "Acid catalysed residue and nitrocellulose in one bin can heat up. Keep two bins.",
        source: SDS_REACTIVITY,
        ask: ASK_WASTE_CONTRACTOR,
    },
    Caution {
        id: "cleaning-isocyanate",
        when: When::Cleaning,
        about: Some(Hazard::Isocyanate),
        text: "Isocyanate waste makes gas with water: a tight lid can burst. Ask how the waste is made harmless.",
        source: SDS_HANDLING,
        ask: ASK_WASTE_CONTRACTOR,
    },
    Caution {
        id: "cleaning-peroxide",
        when: When::Cleaning,
        about: Some(Hazard::Peroxide),
        text: "Take peroxide up with a damp mineral absorber, never with sawdust, cotton or lacquer wipes.",
        source: SDS_SPILL,
        ask: ASK_MAKER,
    },
    Caution {
        id: "cleaning-dust",
        when: When::Cleaning,
        about: Some(Hazard::Dust),
        text: "Take dust off beams, lights and ducts with a vacuum meant for it, never with compressed air.",
        source: DUST_FIRE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "storing-closed",
        when: When::Storing,
        about: Some(Hazard::FlammableLiquid),
        text: "Keep liquids in closed original containers, safety cans or piping; nothing open, nothing in glass.",
        source: LIQUIDS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "storing-caps",
        when: When::Storing,
        about: Some(Hazard::FlammableLiquid),
        text: "The site's own cap for cabinet and room is the figure. Local code is often stricter than federal text.",
        source: CABINET,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "storing-dry-lacquer",
        when: When::Storing,
        about: Some(Hazard::Nitrocellulose),
        text: "Dried-out nitrocellulose is the danger: keep lids tight and cans away from heat, report old and crusted cans.",
        source: SDS_HANDLING,
        ask: ASK_MAKER,
    },
    Caution {
        id: "storing-oil",
        when: When::Storing,
        about: Some(Hazard::DryingOil),
        text: "Store oil finishes, their rags and their filters apart from nitrocellulose and its waste.",
        source: ALTERNATE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "storing-acid",
        when: When::Storing,
        about: Some(Hazard::AcidCatalysed),
        text: "Store acid hardener apart from nitrocellulose, peroxide and plain metal.",
        source: SDS_REACTIVITY,
        ask: ASK_MAKER,
    },
    Caution {
        id: "storing-isocyanate",
        when: When::Storing,
        about: Some(Hazard::Isocyanate),
        text: "Keep isocyanate hardener dry: moisture makes gas in a closed can. Leave a swollen can shut and report it.",
        source: SDS_HANDLING,
        ask: ASK_MAKER,
    },
    Caution {
        id: "storing-peroxide",
        when: When::Storing,
        about: Some(Hazard::Peroxide),
        text: "Store peroxide cool and alone: no solvent, acid, metal or rag beside it. Mind the date on the can.",
        source: SDS_HANDLING,
        ask: ASK_MAKER,
    },
    Caution {
        id: "storing-waste",
        when: When::Storing,
        about: None,
        text: "Waste drum: put on label and start date, keep the lid shut, look at it each week. The class of the site follows the month's waste.",
        source: WASTE,
        ask: ASK_WASTE_CONTRACTOR,
    },
    Caution {
        id: "end-waste",
        when: When::EndOfShift,
        about: None,
        text: "Take rags, scrapings and used filters out of the building now, not tomorrow.",
        source: SCRAPINGS,
        ask: ASK_SAFETY_LEAD,
    },
    Caution {
        id: "end-clothes",
        when: When::EndOfShift,
        about: None,
        text: "Leave work clothes overnight in a metal locker, not on a hook.",
        source: CLOTHES,
        ask: ASK_SUPERVISOR,
    },
    Caution {
        id: "end-liquids",
        when: When::EndOfShift,
        about: Some(Hazard::FlammableLiquid),
        text: "Close or empty the pots, put the liquids back in the store, clean the guns.",
        source: LIQUIDS,
        ask: ASK_SUPERVISOR,
    },
    Caution {
        id: "end-fan",
        when: When::EndOfShift,
        about: Some(Hazard::FlammableLiquid),
        text: "The last racks go on giving off vapour after everyone has left. Who answers for the fan tonight?",
        source: FAN,
        ask: ASK_VENTILATION,
    },
    Caution {
        id: "end-oil-rags",
        when: When::EndOfShift,
        about: Some(Hazard::DryingOil),
        text: "Oil rags start their fires at night. Count them into the lidded metal can and out of the building.",
        source: SCRAPINGS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "end-lacquer-filters",
        when: When::EndOfShift,
        about: Some(Hazard::Nitrocellulose),
        text: "Loaded filters left in a booth overnight can heat up. Ask what the site does with them.",
        source: NITRO,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "fire-out",
        when: When::Fire,
        about: None,
        text: "Raise the alarm, get out, shut doors on the way, count the people, call the fire service. The site plan rules.",
        source: EMERGENCY_PLAN,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "fire-tell",
        when: When::Fire,
        about: Some(Hazard::Nitrocellulose),
        text: "Tell them: nitrocellulose lacquer, solvent, how much and where.",
        source: SDS_FIRE_FIGHTING,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "fire-tell-peroxide",
        when: When::Fire,
        about: Some(Hazard::Peroxide),
        text: "Tell them there is organic peroxide, and where it stands.",
        source: SDS_FIRE_FIGHTING,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "fire-tell-isocyanate",
        when: When::Fire,
        about: Some(Hazard::Isocyanate),
        text: "Tell them there is isocyanate: its smoke is poisonous.",
        source: SDS_FIRE_FIGHTING,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "fire-smothering",
        when: When::Fire,
        about: Some(Hazard::Nitrocellulose),
        text: "Nitrocellulose burns without air: smothering does not stop it. Water in quantity is the fire service's work.",
        source: SDS_FIRE_FIGHTING,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "fire-fumes",
        when: When::Fire,
        about: Some(Hazard::Nitrocellulose),
        text: "Fumes of burning lacquer can harm hours later. Take whoever breathed them to a doctor and have them watched for a day.",
        source: SDS_FIRST_AID,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "fire-extinguisher",
        when: When::Fire,
        about: None,
        text: "Use an extinguisher only if you are trained, on a small fire, with the way out behind you.",
        source: EXTINGUISHER,
        ask: ASK_SITE_THEN_EMERGENCY,
    },
    Caution {
        id: "fire-stay-out",
        when: When::Fire,
        about: None,
        text: "Do not go back in for a rack or for the log.",
        source: EMERGENCY_PLAN,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "fire-after",
        when: When::Fire,
        about: None,
        text: "Afterwards leave fans and residue as they are until the fire officer has spoken.",
        source: EMERGENCY_PLAN,
        ask: ASK_EMERGENCY,
    },
    Caution {
        id: "booth-not-health",
        when: When::BoothCheck,
        about: None,
        text: "Face velocity is a fire figure. It says nothing about what the sprayer breathes.",
        source: FACE_VELOCITY,
        ask: ASK_AIR,
    },
    Caution {
        id: "booth-two-rules",
        when: When::BoothCheck,
        about: None,
        text: "Two federal paragraphs give booth velocities, and local code may ask for more. Ask which figure holds here.",
        source: TWO_RULES,
        ask: ASK_BUILDING,
    },
    Caution {
        id: "booth-filters",
        when: When::BoothCheck,
        about: None,
        text: "The gauge shows the pressure drop only. Look at the filters after every period of use.",
        source: FILTERS,
        ask: ASK_VENTILATION,
    },
    Caution {
        id: "booth-recirculated",
        when: When::BoothCheck,
        about: Some(Hazard::FlammableLiquid),
        text: "Exhaust that comes back into booth or room brings its vapour along. Returning it has rules of its own: ask.",
        source: RECIRCULATED,
        ask: ASK_BUILDING,
    },
    Caution {
        id: "booth-sprinklers",
        when: When::BoothCheck,
        about: None,
        text: "Keep sprinkler heads free of deposits, daily if necessary; use covers only of the kind the site has named.",
        source: SPRINKLERS,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "booth-terminal",
        when: When::BoothCheck,
        about: None,
        text: "Where a screen, scanner, printer or charger may stand, a qualified person and the local authority decide.",
        source: ELECTRIC,
        ask: ASK_ELECTRICAL,
    },
    Caution {
        id: "booth-manifold",
        when: When::BoothCheck,
        about: Some(Hazard::Nitrocellulose),
        text: "Exhaust that joins another booth's duct is not for nitrocellulose.",
        source: MANIFOLD,
        ask: ASK_BUILDING,
    },
    Caution {
        id: "booth-hidden-residue",
        when: When::BoothCheck,
        about: Some(Hazard::Nitrocellulose),
        text: "Residue hides on fan blades, in ducts, in light fittings and behind the booth.",
        source: RESIDUE,
        ask: ASK_FIRE_CODE,
    },
    Caution {
        id: "booth-oil-change",
        when: When::BoothCheck,
        about: Some(Hazard::DryingOil),
        text: "Coating changed between oil and lacquer? Clean all deposits out of booth and ducts, and change or clean the filters, before the first coat.",
        source: ALTERNATE,
        ask: ASK_FIRE_CODE,
    },
];

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_caution_fits_two_lines_and_names_its_source_and_whom_to_ask() {
        let rungs: BTreeSet<&str> = LADDER.iter().map(|(who, _)| *who).collect();
        for caution in all() {
            let lines = caution.lines();
            assert!((1..=2).contains(&lines.len()), "{}", caution.id);
            assert!(
                lines.iter().all(|line| line.chars().count() <= LINE),
                "{}",
                caution.id
            );
            assert_eq!(lines.join(" "), caution.text, "{}", caution.id);
            for source in caution.source.split("; ") {
                let tagged = [STORED, MEMORY]
                    .iter()
                    .any(|tag| source.ends_with(&format!(" ({tag})")));
                assert!(tagged, "{}: {source}", caution.id);
            }
            for rung in caution.ask.split(", then ") {
                assert!(rungs.contains(rung), "{}: {rung}", caution.id);
            }
        }
    }

    #[test]
    fn no_id_is_used_twice_and_each_is_found_again() {
        let ids: BTreeSet<&str> = all().iter().map(|caution| caution.id).collect();
        assert_eq!(ids.len(), all().len());
        assert!(
            all()
                .iter()
                .all(|caution| find(caution.id) == Some(caution))
        );
        assert_eq!(find("no-such-caution"), None);
    }

    #[test]
    fn no_text_is_said_twice_at_one_moment() {
        let said: BTreeSet<(When, &str)> = all()
            .iter()
            .map(|caution| (caution.when, caution.text))
            .collect();
        assert_eq!(said.len(), all().len());
    }

    #[test]
    fn every_hazard_and_every_moment_has_a_caution() {
        for hazard in Hazard::ALL {
            assert!(
                all().iter().any(|caution| caution.about == Some(hazard)),
                "{}",
                hazard.word()
            );
        }
        for when in When::ALL {
            assert!(
                all().iter().any(|caution| caution.when == when),
                "{}",
                when.word()
            );
        }
    }

    #[test]
    fn the_table_keeps_the_order_of_the_day() {
        assert!(all().is_sorted_by_key(|caution| caution.when));
    }

    #[test]
    fn words_round_trip_whatever_their_case() {
        for hazard in Hazard::ALL {
            assert_eq!(Hazard::from_word(hazard.word()), Some(hazard));
            assert_eq!(
                Hazard::from_word(&format!(" {} ", hazard.word().to_uppercase())),
                Some(hazard)
            );
        }
        for when in When::ALL {
            assert_eq!(When::from_word(when.word()), Some(when));
        }
        assert_eq!(Hazard::from_word("nitrocelulose"), None);
        assert_eq!(Hazard::from_word(""), None);
    }

    #[test]
    fn a_material_hears_its_own_hazards_and_the_general_ones_only() {
        let lacquer = [Hazard::Nitrocellulose, Hazard::FlammableLiquid];
        let said = for_material(&lacquer, When::Spraying);
        assert!(
            said.iter()
                .any(|caution| caution.id == "spraying-after-oil")
        );
        assert!(
            said.iter()
                .any(|caution| caution.id == "spraying-respirator")
        );
        assert!(said.iter().all(|caution| caution.when == When::Spraying));
        assert!(
            said.iter()
                .all(|caution| caution.about != Some(Hazard::DryingOil))
        );

        let nothing_known = for_material(&[], When::Spraying);
        assert!(!nothing_known.is_empty());
        assert!(nothing_known.iter().all(|caution| caution.about.is_none()));
    }

    #[test]
    fn every_circumstance_and_every_order_of_two_has_its_caution() {
        for circumstance in Circumstance::ALL {
            let caution = circumstance.caution().unwrap();
            assert_eq!(caution.id, circumstance.id());
            // It is said where it is met with, and nowhere else.
            for hazard in Hazard::ALL {
                assert!(!for_material(&[hazard], caution.when).contains(&caution));
            }
        }
        for (now, before, id) in ONE_AFTER_ANOTHER {
            let caution = find(id).unwrap();
            assert_eq!(caution.when, When::Spraying);
            assert_eq!(caution.about, Some(now), "{id}");
            assert_ne!(now, before);
        }
    }

    #[test]
    fn no_figure_stands_in_a_text() {
        for caution in all() {
            assert!(
                !caution.text.contains(|sign: char| sign.is_ascii_digit()),
                "{}",
                caution.id
            );
        }
    }

    #[test]
    fn the_page_holds_every_caution_in_cells_that_stay_whole() {
        let page = safety_page();
        for caution in all() {
            for cell in [caution.text, caution.source, caution.ask] {
                assert!(page.contains(cell), "{}", caution.id);
                assert!(!cell.contains(['|', '\n', '\r']), "{}", caution.id);
            }
        }
    }
}
